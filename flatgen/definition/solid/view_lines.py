"""Lines of a view as plain data: what lies on one another drawn once, chords of a circle made an arc again.

view       what is seen of a part in one direction, on a plane: visible and hidden edges, and smooth ones (where a
           curve begins without a corner: the tangent lines of bends)
rank       0 visible, 1 hidden, 2 smooth: a lower one goes before a higher one (order of precedence after ISO 128,
           from memory; smooth edges come last: they stand for no corner)

No kernel. Millimetres of the part, degrees.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from flatgen.core.flat_pattern import Arc, Point

Span = tuple[float, float]
PLACES = 6
"""Decimals of what comes out [mm, deg]."""
SAME = 1e-3
"""Ends that are nearer than this are one [mm]."""
OFF = 0.004
"""Parallel lines that are nearer than this are one [mm]."""
TURN = 2e-5
"""Lines whose directions differ by less are parallel [rad]."""
FIT = 1e-3
"""Chords become an arc that misses their ends by no more than this: they end on the circle itself [mm]."""
ONE = 5e-3
"""Circles whose radii and centres differ by less are one [mm]."""
EVEN = 0.98
"""Chords of an arc turn alike: the least by no less than this share of the most."""
LEAST_CHORDS = 3
"""So many chords at least become an arc."""
STEEPEST, BULGE = 0.42, 0.12
"""A chord of an arc turns by no more than this [rad], and the arc bulges over it by no more than that [mm]: a polygon
stays one."""


@dataclass(frozen=True)
class Polyline:
    """A polyline through ``points`` [mm]."""

    points: tuple[Point, ...]


@dataclass(frozen=True)
class View:
    """Edges of one view [mm]: each is a polyline or an arc of a circle."""

    visible: tuple[Polyline | Arc, ...] = ()
    hidden: tuple[Polyline | Arc, ...] = ()
    smooth: tuple[Polyline | Arc, ...] = ()

    def turned(self) -> View:
        """The same turned by a right angle clockwise: x becomes -y."""
        return View(*(tuple(_turned(p) for p in pieces) for pieces in (self.visible, self.hidden, self.smooth)))

    def box(self) -> tuple[float, float, float, float]:
        """What all its lines fill (x0, y0, x1, y1) [mm]."""
        points = [
            p for pieces in (self.visible, self.hidden, self.smooth) for piece in pieces for p in extreme_points(piece)
        ]
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


def _turned(piece: Polyline | Arc) -> Polyline | Arc:
    if isinstance(piece, Arc):
        return Arc((piece.centre[1], -piece.centre[0]), piece.radius, piece.first - 90.0, piece.sweep)
    return Polyline(tuple((y, -x) for x, y in piece.points))


def extreme_points(piece: Polyline | Arc) -> list[Point]:
    """Points between which all of a piece lies: its ends and corners, and where an arc is farthest out [mm]."""
    if isinstance(piece, Polyline):
        return list(piece.points)
    low, high = sorted((piece.first, piece.first + piece.sweep))
    turns = range(math.ceil(low / 90.0), math.floor(high / 90.0) + 1)
    (x, y), r = piece.centre, piece.radius
    sides = [(x + r, y), (x, y + r), (x - r, y), (x, y - r)]
    return [piece.start, piece.end, *(sides[q % 4] for q in turns)]


def view_from_edges(
    visible: Iterable[Polyline | Arc], hidden: Iterable[Polyline | Arc] = (), smooth: Iterable[Polyline | Arc] = ()
) -> View:
    """A view of edges in any order and number: chords made arcs, lines joined at their ends, each drawn once.

    Where edges of two kinds lie on one another the one of the lower rank is left.
    """
    lines_of: dict[int, list[tuple[float, float, Span]]] = {}
    arcs_of: dict[int, list[tuple[Point, float, Span]]] = {}
    for rank, kind in enumerate((visible, hidden, smooth)):
        lines_of[rank], arcs_of[rank] = [], []
        for piece in _with_arcs(kind):
            if isinstance(piece, Arc):
                arcs_of[rank] += [(piece.centre, piece.radius, span) for span in _spans_of(piece)]
            else:
                lines_of[rank] += [_line_key(a, b) for a, b in itertools.pairwise(piece.points)]
    lines, arcs = _lines_once(lines_of), _arcs_once(arcs_of)
    merged: list[tuple[Polyline | Arc, ...]] = [(*_polylines(lines[rank]), *arcs[rank]) for rank in range(3)]
    return View(*merged)


def straight_stretches(top: View, side: View) -> tuple[Span, ...]:
    """Where a part is the same all along y [mm], in order: there both views hold lines along y only.

    :param top: seen from above: x to the right, y upward
    :param side: seen from the right: y to the right, z upward
    """
    filled: list[Span] = []
    for axis, view in ((1, top), (0, side)):
        for piece in (*view.visible, *view.hidden, *view.smooth):
            if isinstance(piece, Arc):
                ys = [p[axis] for p in extreme_points(piece)]
                filled.append((min(ys), max(ys)))
                continue
            for a, b in itertools.pairwise(piece.points):
                low, high = sorted((a[axis], b[axis]))
                along = abs(a[1 - axis] - b[1 - axis]) < SAME
                filled += [(low, low), (high, high)] if along else [(low, high)]
    if not filled:
        return ()
    return tuple((a[1], b[0]) for a, b in itertools.pairwise(_union(filled)))


def _with_arcs(pieces: Iterable[Polyline | Arc]) -> Iterator[Polyline | Arc]:
    """Pieces with chains of chords made arcs."""
    known: set[tuple[tuple[int, int], tuple[int, int]]] = set()
    chords: list[tuple[Point, Point]] = []
    for piece in pieces:
        if isinstance(piece, Arc):
            yield piece
            continue
        for a, b in itertools.pairwise(piece.points):
            one, two = _cell(a), _cell(b)
            key = (one, two) if one < two else (two, one)
            if one != two and key not in known:
                known.add(key)
                chords.append((a, b) if one < two else (b, a))
    for chain in _chains(sorted(chords)):
        yield from _arcs_in(chain)


def _chains(segments: Sequence[tuple[Point, Point]]) -> Iterator[list[Point]]:
    """Segments joined at ends where just two meet."""
    keys = [(_cell(a), _cell(b)) for a, b in segments]
    at: dict[tuple[int, int], list[int]] = defaultdict(list)
    for number, ends in enumerate(keys):
        for end in ends:
            at[end].append(number)
    used = [False] * len(segments)

    def walk(number: int, first: int) -> list[Point]:
        chain, key = [segments[number][first]], keys[number][first]
        while True:
            used[number] = True
            last = 1 if keys[number][0] == key else 0
            chain.append(segments[number][last])
            key = keys[number][last]
            after = [n for n in at[key] if not used[n]]
            if len(at[key]) != 2 or not after:
                return chain
            number = after[0]

    for number, ends in enumerate(keys):
        for first in (0, 1):
            if not used[number] and len(at[ends[first]]) != 2:
                yield walk(number, first)
    for number in range(len(segments)):
        if not used[number]:
            yield walk(number, 0)


def _arcs_in(chain: list[Point]) -> Iterator[Polyline | Arc]:
    """A chain as lines, and arcs where its chords are those of a circle."""
    start, run = 0, [chain[0]]
    while start < len(chain) - 1:
        end, arc = _longest_arc(chain, start)
        if arc is None:
            run.append(chain[start + 1])
            start += 1
            continue
        if len(run) > 1:
            yield Polyline(tuple(run))
        yield arc
        start, run = end, [chain[end]]
    if len(run) > 1:
        yield Polyline(tuple(run))


def _longest_arc(chain: list[Point], start: int) -> tuple[int, Arc | None]:
    """The longest arc from a point of a chain on, and where it ends."""
    end, best = start + LEAST_CHORDS, None
    while end < len(chain):
        arc = _arc_through(chain[start : end + 1])
        if arc is None:
            break
        best, reached = arc, end
        end += 1
    return (reached, best) if best is not None else (start, None)


def _arc_through(points: list[Point]) -> Arc | None:
    """The arc whose chords a polyline is, or None."""
    closed = math.dist(points[0], points[-1]) < SAME
    count = len(points) - 1
    second, third = (count // 3, 2 * count // 3) if closed else (count // 2, -1)
    circle = _circle(points[0], points[second], points[third])
    if circle is None:
        return None
    (x, y), radius = circle
    if any(abs(math.hypot(p[0] - x, p[1] - y) - radius) > FIT for p in points):
        return None
    angles = [math.atan2(p[1] - y, p[0] - x) for p in points]
    steps = [math.remainder(b - a, math.tau) for a, b in itertools.pairwise(angles)]
    steepest = max(map(abs, steps))
    if (
        steepest > STEEPEST
        or min(map(abs, steps)) < EVEN * steepest
        or min(steps) * max(steps) <= 0
        or radius * (1 - math.cos(steepest / 2)) > BULGE
    ):
        return None
    sweep = math.copysign(360.0, steps[0]) if closed else math.degrees(math.fsum(steps))
    if abs(sweep) > 360.0:
        return None
    return Arc((x, y), radius, math.degrees(angles[0]), sweep)


def _circle(a: Point, b: Point, c: Point) -> tuple[Point, float] | None:
    """Centre and radius of the circle through three points."""
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    twice = 2.0 * (bx * cy - by * cx)
    one, two = bx * bx + by * by, cx * cx + cy * cy
    if abs(twice) < 1e-6 * max(one, two):
        return None
    x, y = (cy * one - by * two) / twice, (bx * two - cx * one) / twice
    return (a[0] + x, a[1] + y), math.hypot(x, y)


def _line_key(a: Point, b: Point) -> tuple[float, float, Span]:
    """Direction 0 <= turn < pi [rad], distance from the origin, and from where to where along it."""
    turn = math.atan2(b[1] - a[1], b[0] - a[0]) % math.pi
    if turn > math.pi - TURN:
        turn = 0.0
    cos, sin = math.cos(turn), math.sin(turn)
    one, two = cos * a[0] + sin * a[1], cos * b[0] + sin * b[1]
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return turn, cos * middle[1] - sin * middle[0], (min(one, two), max(one, two))


def _lines_once(lines_of: dict[int, list[tuple[float, float, Span]]]) -> list[list[tuple[Point, Point]]]:
    """Lines of each rank, less what lies on lines of a lower one."""
    lines_by_rank: list[list[tuple[Point, Point]]] = [[], [], []]
    rows = sorted((turn, off, rank, span) for rank, lines in lines_of.items() for turn, off, span in lines)
    for alike in _clusters(rows, 0, TURN):
        for group in _clusters(sorted(alike, key=lambda e: e[1]), 1, OFF):
            turn, off = (group[len(group) // 2][i] for i in (0, 1))
            cos, sin = math.cos(turn), math.sin(turn)
            for rank, spans in enumerate(_spans_by_rank([(rank, span) for _, _, rank, span in group])):
                for span in spans:
                    ends = [(cos * s - sin * off, sin * s + cos * off) for s in span]
                    lines_by_rank[rank].append((ends[0], ends[1]))
    return lines_by_rank


def _spans_of(arc: Arc) -> list[Span]:
    """An arc as spans of angles within one turn [deg]."""
    low, high = sorted((arc.first, arc.first + arc.sweep))
    if high - low >= 360.0 - 1e-9:
        return [(0.0, 360.0)]
    start = low % 360.0
    end = start + high - low
    return [(start, end)] if end <= 360.0 else [(start, 360.0), (0.0, end - 360.0)]


def _arcs_once(arcs_of: dict[int, list[tuple[Point, float, Span]]]) -> list[list[Arc]]:
    """Arcs of each rank, less what lies on arcs of a lower one."""
    arcs_by_rank: list[list[Arc]] = [[], [], []]
    rows = sorted((r, x, y, rank, span) for rank, arcs in arcs_of.items() for (x, y), r, span in arcs)
    for alike in _clusters(rows, 0, ONE):
        for in_column in _clusters(sorted(alike, key=lambda e: e[1]), 1, ONE):
            for group in _clusters(sorted(in_column, key=lambda e: e[2]), 2, ONE):
                r, x, y = (group[0][i] for i in range(3))
                ranked = _spans_by_rank([(rank, span) for *_, rank, span in group], math.degrees(SAME / max(r, SAME)))
                for rank, spans in enumerate(ranked):
                    places = [(round(a, PLACES), round(b - a, PLACES)) for a, b in _over_zero(spans)]
                    arcs_by_rank[rank] += [Arc(_rounded((x, y)), round(r, PLACES), a, b) for a, b in places]
    return [sorted(arcs, key=lambda a: (a.centre, a.radius, a.first)) for arcs in arcs_by_rank]


def _over_zero(spans: list[Span]) -> list[Span]:
    """Spans of angles, with one that goes on over 0 degrees in one."""
    if len(spans) > 1 and spans[0][0] < 1e-9 and spans[-1][1] > 360.0 - 1e-9:
        return [*spans[1:-1], (spans[-1][0], spans[0][1] + 360.0)]
    return spans


def _clusters(items: list, of: int, apart: float) -> Iterator[list]:  # type: ignore[type-arg]
    """Sorted entries, parted where their ``of``-th value leaps."""
    group = items[:1]
    for before, item in itertools.pairwise(items):
        if item[of] - before[of] > apart:
            yield group
            group = []
        group.append(item)
    if group:
        yield group


def _spans_by_rank(items: list[tuple[int, Span]], least: float = SAME) -> list[list[Span]]:
    """Spans of each rank, less those of lower ones."""
    by_rank: list[list[Span]] = []
    covered: list[Span] = []
    for rank in range(3):
        own = _union([span for r, span in items if r == rank])
        by_rank.append([s for span in own for s in _uncovered(span, covered) if s[1] - s[0] > least])
        covered = _union([*covered, *own])
    return by_rank


def _union(spans: Iterable[Span]) -> list[Span]:
    """Spans that touch or lap joined."""
    joined: list[Span] = []
    for low, high in sorted(spans):
        if joined and low <= joined[-1][1] + SAME:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def _uncovered(span: Span, covered: list[Span]) -> Iterator[Span]:
    """What of a span others leave."""
    low, high = span
    for a, b in covered:
        if b <= low or a >= high:
            continue
        if a > low:
            yield low, a
        low = max(low, b)
    if high > low:
        yield low, high


def _polylines(segments: list[tuple[Point, Point]]) -> list[Polyline]:
    chains = _chains(sorted((_rounded(min(pair)), _rounded(max(pair))) for pair in segments))
    return [Polyline(tuple(chain)) for chain in chains]


def _rounded(point: Point) -> Point:
    return round(point[0], PLACES) + 0.0, round(point[1], PLACES) + 0.0


def _cell(point: Point) -> tuple[int, int]:
    return round(point[0] / SAME), round(point[1] / SAME)
