"""Whether a flat is the one expected, vertex by vertex, up to a turn and a shift in its plane.

The hand counts: seen from its other face a flat is a mirror image and its bends have the other way.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Matrix, Piece, Point, Way
from tests.unfolding.tree_parts import TreeBend, TreeFlat

WITHIN = 1e-6  # of every vertex, centre and radius [mm], of every angle [deg]
SHALLOW = 1000.0  # an arc of a larger radius [mm] is compared by its ends and middle: its centre is ill-defined

Found = list[tuple[float, str]]
Chain = tuple[Piece, ...]


def from_pattern(flat: FlatPattern, k: float) -> TreeFlat:
    """What an unfolder found, as plain as what is expected."""
    bends = tuple(
        TreeBend(
            b.angle,
            b.way,
            b.inside_radius,
            b.allowance,
            tuple((Line(*s.centre), Line(*s.tangents[0]), Line(*s.tangents[1])) for s in b.segments),
        )
        for b in flat.bends
    )
    return TreeFlat(flat.thickness, k, flat.outline.pieces, tuple(o.pieces for o in flat.openings), bends)


def other_face(flat: TreeFlat) -> TreeFlat:
    """The same flat looked at from its other face."""
    turned: dict[Way, Way] = {"up": "down", "down": "up"}
    mirrored = mirror_image(flat)
    return replace(mirrored, bends=tuple(replace(b, way=turned[b.way]) for b in mirrored.bends))


def mirror_image(flat: TreeFlat) -> TreeFlat:
    """The flat of the wrong hand: mirrored, each bend the same way."""
    move = np.diag([-1.0, 1.0, 1.0])

    def chain(pieces: Chain) -> Chain:
        return tuple(p.moved(move).reversed() for p in reversed(pieces))

    bends = tuple(
        replace(b, segments=tuple(tuple(line.moved(move) for line in s) for s in b.segments)) for b in flat.bends
    )
    return replace(flat, outline=chain(flat.outline), openings=tuple(map(chain, flat.openings)), bends=bends)


def up_width(flat: TreeFlat) -> float:
    """Width of up bends less that of down bends [mm]."""
    return math.fsum((1 if b.way == "up" else -1) * s[0].length for b in flat.bends for s in b.segments)


def as_seen(flat: TreeFlat) -> list[TreeFlat]:
    """The flat from the face that the house's rule calls near, from both where it cannot tell."""
    more = up_width(flat)
    return [f for f, m in ((flat, more), (other_face(flat), -more)) if m > -1e-6]


def worst(found: TreeFlat, expected: TreeFlat) -> tuple[float, str]:
    """The largest deviation [mm, deg] at the best turn and shift, and where; infinite where things are missing."""
    for what, a, b in counts(found, expected):
        if a != b:
            return (math.inf, f"{what}: {a}, expected {b}")
    best: tuple[float, str] = (math.inf, "no edge of the outline has its like")
    for move in _moves(found.outline, expected.outline):
        best = min(best, max(deviations(found, carried(expected, move))), key=lambda pair: pair[0])
        if best[0] < WITHIN:
            break
    return best


def carried(flat: TreeFlat, move: Matrix) -> TreeFlat:
    """Turned and shifted within its plane (3 x 3)."""

    def chain(pieces: Chain) -> Chain:
        return tuple(p.moved(move) for p in pieces)

    bends = tuple(
        replace(b, segments=tuple(tuple(line.moved(move) for line in s) for s in b.segments)) for b in flat.bends
    )
    return replace(flat, outline=chain(flat.outline), openings=tuple(map(chain, flat.openings)), bends=bends)


def counts(found: TreeFlat, expected: TreeFlat) -> list[tuple[str, object, object]]:
    def kinds(chain: Chain) -> tuple[int, int]:
        arcs = sum(isinstance(p, Arc) for p in chain)
        return (len(chain) - arcs, arcs)

    return [
        ("lines and arcs of the outline", kinds(found.outline), kinds(expected.outline)),
        ("openings", sorted(map(kinds, found.openings)), sorted(map(kinds, expected.openings))),
        ("bends", sorted(len(b.segments) for b in found.bends), sorted(len(b.segments) for b in expected.bends)),
    ]


def _moves(found: Chain, expected: Chain) -> list[Matrix]:
    """Moves that carry the expected longest edge onto a found one as long, made exact by all vertices."""
    longest = max((p for p in expected if isinstance(p, Line)), key=lambda p: p.length)
    vertices = np.array([p.start for p in expected])
    moves = []
    for n, piece in enumerate(found):
        if not isinstance(piece, Line) or abs(piece.length - longest.length) > 1e-3:
            continue
        shift = n - expected.index(longest)
        targets = np.array([found[(m + shift) % len(found)].start for m in range(len(expected))])
        moves.append(_best_move(vertices, targets))
    return moves


def _best_move(points: np.ndarray, targets: np.ndarray) -> Matrix:
    """Least squares over turns and shifts."""
    middle, aim = points.mean(axis=0), targets.mean(axis=0)
    p, q = points - middle, targets - aim
    angle = math.atan2(float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])), float(np.sum(p * q)))
    c, s = math.cos(angle), math.sin(angle)
    move = np.eye(3)
    move[:2, :2] = [[c, -s], [s, c]]
    move[:2, 2] = aim - move[:2, :2] @ middle
    return move


def deviations(found: TreeFlat, expected: TreeFlat) -> Found:
    deviations = [(abs(found.thickness - expected.thickness), "thickness")]
    deviations.append(chains_apart(found.outline, expected.outline, "outline"))
    rest = list(found.openings)
    for n, opening in enumerate(expected.openings):
        chosen = min(rest, key=lambda o: math.dist(_middle(o), _middle(opening)))
        rest.remove(chosen)
        deviations.append(chains_apart(chosen, opening, f"opening {n} at {_middle(opening)}"))
    others = list(found.bends)
    for n, bend in enumerate(expected.bends):
        alike = [b for b in others if len(b.segments) == len(bend.segments)]
        if not alike:
            return [(math.inf, f"bend {n}: segments")]
        chosen_bend = min(alike, key=lambda b: bends_apart(b, bend, n)[0])
        others.remove(chosen_bend)
        deviations.append(bends_apart(chosen_bend, bend, n))
    return deviations


def chains_apart(found: Chain, expected: Chain, what: str) -> tuple[float, str]:
    """The largest deviation of two closed chains, piece by piece, from the start that suits best."""
    if len(found) != len(expected):
        return (math.inf, f"{what}: {len(found)} pieces, expected {len(expected)}")
    best: tuple[float, str] = (math.inf, what)
    for shift in range(len(found)):
        if math.dist(found[shift].start, expected[0].start) > 0.1 and len(found) > 1:
            continue
        turned = found[shift:] + found[:shift]
        apart = max((_apart(a, b), n) for n, (a, b) in enumerate(zip(turned, expected, strict=True)))
        best = min(best, (apart[0], f"{what}, piece {apart[1]}: {expected[apart[1]]}"), key=lambda pair: pair[0])
    return best


def _apart(a: Piece, b: Piece) -> float:
    if isinstance(a, Arc) and isinstance(b, Arc):
        if a.full and b.full and a.sweep * b.sweep > 0:
            return max(math.dist(a.centre, b.centre), abs(a.radius - b.radius))
        if min(a.radius, b.radius) > SHALLOW:
            return max(_ends_apart(a, b), math.dist(a.at(0.5), b.at(0.5)))
        swept = abs(a.sweep - b.sweep) * math.pi / 180 * b.radius
        return max(math.dist(a.centre, b.centre), abs(a.radius - b.radius), swept, _ends_apart(a, b))
    if isinstance(a, Line) and isinstance(b, Line):
        return _ends_apart(a, b)
    return math.inf


def _ends_apart(a: Piece, b: Piece) -> float:
    return max(math.dist(a.start, b.start), math.dist(a.end, b.end))


def _middle(chain: Chain) -> Point:
    ends = [p.centre if isinstance(p, Arc) and p.full else p.at(0.5) for p in chain]
    return (sum(x for x, _ in ends) / len(ends), sum(y for _, y in ends) / len(ends))


def bends_apart(a: TreeBend, b: TreeBend, n: int) -> tuple[float, str]:
    """Angle, way, radius, allowance, and each segment's three lines; tangent lines may come in either order."""
    if a.way != b.way or len(a.segments) != len(b.segments):
        here, there = (f"{x.way}, {len(x.segments)} segments" for x in (a, b))
        return (math.inf, f"bend {n}: {here}, expected {there}")
    sizes = [abs(a.angle - b.angle), abs(a.inside_radius - b.inside_radius), abs(a.allowance - b.allowance)]
    rest, apart = list(a.segments), [(max(sizes), f"bend {n}: angle, radius, allowance {sizes}")]
    for segment in b.segments:
        chosen = min(rest, key=lambda s: _segments_apart(s, segment))
        rest.remove(chosen)
        apart.append((_segments_apart(chosen, segment), f"bend {n}: segment {segment}, found {chosen}"))
    return max(apart)


def _segments_apart(a: tuple[Line, Line, Line], b: tuple[Line, Line, Line]) -> float:
    straight = max(_lines_apart(a[1], b[1]), _lines_apart(a[2], b[2]))
    swapped = max(_lines_apart(a[1], b[2]), _lines_apart(a[2], b[1]))
    return max(_lines_apart(a[0], b[0]), min(straight, swapped))


def _lines_apart(a: Line, b: Line) -> float:
    return min(_ends_apart(a, b), _ends_apart(a.reversed(), b))
