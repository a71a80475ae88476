"""A part as a chain: legs in a row with a bend between each and the next, seen along its bends.

leg        0 to n, from the first edge to the second; flats between tangent lines
bend       0 to n - 1; bend k joins leg k and leg k + 1
outward    away from a bend, on its first or its second side

Millimetres; angles in degrees.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from flatgen.core.schedule import Crease, Which

PARALLEL = 1e-6

SAME = 1e-4
"""Places of one leg that differ by less are one [mm]."""


@dataclass(frozen=True)
class Chain:
    """Section of a part: ``flats`` [mm] of its legs; ``angles`` [deg], ``ups`` (+1 up, -1 down), ``radii`` and
    ``allowances`` [mm] of its bends; ``legs``: numbers of its legs; ``creases``: its bends as the brake sees them.
    """

    thickness: float
    flats: tuple[float, ...]
    angles: tuple[float, ...]
    ups: tuple[int, ...]
    radii: tuple[float, ...]
    allowances: tuple[float, ...]
    legs: tuple[int, ...]
    creases: tuple[Crease, ...]

    @property
    def bends(self) -> int:
        """How many bends it has."""
        return len(self.angles)

    def outward(self, bend: int, which: Which) -> tuple[int, ...]:
        """Bends beyond a bend on one side of it, the nearest first."""
        return tuple(range(bend - 1, -1, -1)) if which == "first" else tuple(range(bend + 1, self.bends))

    def leg_beyond(self, bend: int, which: Which, steps: int) -> int:
        """Leg of a bend's side, ``steps`` bends farther out."""
        return bend - steps if which == "first" else bend + 1 + steps


class NoChain(ValueError):
    """The bends do not follow one another in a row; the text says why."""


def chain_of(creases: Sequence[Crease], thickness: float) -> Chain:
    """The chain that creases make.

    :param creases: all bends of a part, in any order
    :param thickness: of the sheet [mm]
    :returns: with its bends from the first edge to the second
    :raises NoChain: If bends are not parallel, or more than two meet one leg.
    """
    if not creases:
        raise NoChain("it has no bend")
    way = creases[0].across
    for crease in creases:
        if abs(abs(way[0] * crease.across[0] + way[1] * crease.across[1]) - 1) > PARALLEL:
            raise NoChain(f"bends {creases[0].label} and {crease.label} are not parallel")
    ordered = sorted(creases, key=lambda c: c.first.tangent)
    for one, other in itertools.pairwise(ordered):
        if one.second.leg != other.first.leg:
            raise NoChain(f"bends {one.label} and {other.label} do not follow each other in a row")
        if abs(one.second.tangent + one.second.flat - other.first.tangent) > SAME:
            raise NoChain(f"the leg between bends {one.label} and {other.label} reaches beyond one of them")
    legs = (ordered[0].first.leg, *(c.second.leg for c in ordered))
    if len(set(legs)) != len(legs):
        raise NoChain("a leg is met twice")
    return Chain(
        thickness=thickness,
        flats=(ordered[0].first.flat, *(c.second.flat for c in ordered)),
        angles=tuple(c.angle for c in ordered),
        ups=tuple(1 if c.way == "up" else -1 for c in ordered),
        radii=tuple(c.inside_radius for c in ordered),
        allowances=tuple(c.allowance for c in ordered),
        legs=legs,
        creases=tuple(ordered),
    )


def with_leg(chain: Chain, leg: int, flat: float) -> Chain:
    """A chain with one leg of another length.

    :param flat: its new flat between tangent lines or edge [mm]
    """
    more = flat - chain.flats[leg]
    found = []
    for n, crease in enumerate(chain.creases):
        one, other = crease.first, crease.second
        if leg <= n:
            one = replace(one, tangent=one.tangent + more, reach=one.reach + more)
            other = replace(other, tangent=other.tangent + more)
        else:
            other = replace(other, reach=other.reach + more)
        if leg == n:
            one = replace(one, flat=flat)
        if leg == n + 1:
            other = replace(other, flat=flat)
        found.append(replace(crease, first=one, second=other))
    return chain_of(found, chain.thickness)


def piece_of(chain: Chain, kept: range, flats: Sequence[float]) -> Chain:
    """Only some bends of a chain, in a row, with the legs beside them.

    :param flats: flats of all legs, those that are cut with what is left of them [mm]
    """
    width = flats[kept[0]]
    blank = sum(flats[kept[0] : kept[-1] + 2]) + sum(chain.allowances[n] for n in kept)
    found: list[Crease] = []
    for n in kept:
        crease, high = chain.creases[n], width + chain.allowances[n]
        one = replace(crease.first, flat=flats[n], tangent=width, reach=width)
        other = replace(crease.second, flat=flats[n + 1], tangent=high, reach=blank - high)
        found.append(replace(crease, first=one, second=other))
        width = high + flats[n + 1]
    return chain_of(found, chain.thickness)


Floats = NDArray[np.float64]

Ints = NDArray[np.int64]

LEG, CURVE, EDGE = 0, 1, 2

SAGITTA = 0.01
"""Chords that stand for a curve are this near to it, and the capsules cover it [mm]."""


@dataclass(frozen=True)
class Pieces:
    """``axis`` (n, 4) and ``reach`` (n,) of the capsules; ``kind``; ``curve`` (n, 5): centre, radius of the mid fibre,
    start, signed sweep; ``run``, and ``leaves``: way of the first made bend (+1 with the bend, -1 against it, 0 none);
    ``steps``: bends outward; ``group``: which side of which bend.
    """

    axis: Floats
    reach: Floats
    kind: Ints
    curve: Floats
    run: Ints
    leaves: Ints
    steps: Ints
    group: Ints

    def __len__(self) -> int:
        return len(self.reach)

    def take(self, chosen: NDArray[np.bool_] | Ints) -> Pieces:
        """Some of them."""
        return Pieces(*(getattr(self, f.name)[chosen] for f in fields(self)))


@dataclass(frozen=True)
class Tree:
    """Where the pieces of one side stand among all: ``legs[k]``, ``curves[k]`` are the first of 2^k and of 2^(k-1)."""

    legs: tuple[int, ...]
    curves: tuple[int, ...]

    def least(self, values: Floats) -> Floats:
        """For each set of bends made on this side the least value of its pieces."""
        found = values[self.legs[0] : self.legs[0] + 1].copy()
        for k in range(1, len(self.legs)):
            half = len(found)
            found = np.concatenate([found, found])
            np.minimum(found, values[self.legs[k] : self.legs[k] + 2 * half], out=found)
            np.minimum(found[half:], values[self.curves[k] : self.curves[k] + half], out=found[half:])
        return found


def joined(parts: list[Pieces]) -> Pieces:
    """All pieces in one."""
    return Pieces(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Pieces)))


def grow(chain: Chain, bend: int, which: Which, group: int, made: int | None = None) -> tuple[Pieces, Tree]:
    """Pieces on one side of a bend.

    :param group: number of this side among all that are looked at together
    :param made: one set of bends made, by bits outward; all sets where it is left out
    :returns: pieces of leg k in blocks of 2^k, each followed by its curves; lengths in [mm]
    """
    half = chain.thickness / 2
    x, y, turn = np.zeros(1), np.full(1, half), np.zeros(1)
    run, leaves = np.zeros(1, np.int64), np.zeros(1, np.int64)
    outward = chain.outward(bend, which)
    parts, legs, curves, count = [], [], [-1], 0
    for k in range(len(outward) + 1):
        if k:
            near = outward[k - 1]
            sign = chain.ups[near] * chain.ups[bend]
            rho, angle = chain.radii[near] + half, math.radians(chain.angles[near])
            cx, cy = x - rho * sign * np.sin(turn), y + rho * sign * np.cos(turn)
            start = np.arctan2(y - cy, x - cx)
            turned = turn + sign * angle
            mx, my = cx + rho * sign * np.sin(turned), cy - rho * sign * np.cos(turned)
            bound = half + rho * (1 - math.cos(min(angle, math.pi) / 2))
            whole = np.stack([cx, cy, np.full_like(cx, rho), start, np.full_like(cx, sign * angle)], axis=1)
            away = np.where(leaves == 0, sign, leaves)
            bow = _block(np.stack([x, y, mx, my], axis=1), bound, CURVE, whole, run + 1, away, k, group)
            x, y, turn = np.concatenate([x, mx]), np.concatenate([y, my]), np.concatenate([turn, turned])
            run, leaves = np.concatenate([run, run + 1]), np.concatenate([leaves, away])
            flat = np.repeat([chain.allowances[near], 0.0], len(x) // 2)
            if made is not None:
                kept = slice(1, 2) if made >> (k - 1) & 1 else slice(0, 1)
                x, y, turn, run, leaves, flat = x[kept], y[kept], turn[kept], run[kept], leaves[kept], flat[kept]
                bow = bow.take(np.arange(len(bow))[: made >> (k - 1) & 1])
        else:
            flat = np.zeros(1)
        length = flat + chain.flats[chain.leg_beyond(bend, which, k)]
        ex, ey = x + length * np.cos(turn), y + length * np.sin(turn)
        kind = EDGE if k == len(outward) else LEG
        own = _block(np.stack([x, y, ex, ey], axis=1), half, kind, np.zeros((len(x), 5)), run, leaves, k, group)
        parts.append(own)
        legs.append(count)
        count += len(own)
        if k:
            parts.append(bow)
            curves.append(count)
            count += len(bow)
        x, y = ex, ey
    return joined(parts), Tree(tuple(legs), tuple(curves))


def _block(
    axis: Floats, reach: float, kind: int, curve: Floats, run: Ints, leaves: Ints, steps: int, group: int
) -> Pieces:
    n = len(axis)
    return Pieces(axis, np.full(n, reach), np.full(n, kind), curve, run, leaves, np.full(n, steps), np.full(n, group))


def finer(pieces: Pieces, half: float) -> tuple[Pieces, Ints]:
    """Curves as chords, last legs as their two faces and their edge; and which piece each belongs to.

    :param half: half the thickness [mm]
    :returns: capsules that cover the metal, within 0.02 mm of it; their owners
    """
    n = np.arange(len(pieces))
    legs = n[pieces.kind == LEG]
    first = n[(pieces.kind == CURVE) & (pieces.run == 1)]  # both faces: a round end would reach back over its leg
    inner, inner_of = _chords(pieces, first, 0.0, -half)
    outer, outer_of = _chords(pieces, first, 0.0, half)
    bows, bow_of = _chords(pieces, n[(pieces.kind == CURVE) & (pieces.run != 1)], half, 0.0)
    edges, edge_of = _edges(pieces, n[pieces.kind == EDGE], half)
    owners = np.concatenate([legs, inner_of, outer_of, bow_of, edge_of])
    return joined([pieces.take(legs), inner, outer, bows, edges]), owners


def _chords(pieces: Pieces, chosen: Ints, half: float, aside: float) -> tuple[Pieces, Ints]:
    """Chords of curves ``aside`` of the mid fibre, outward; ``half`` what they carry on either side."""
    cx, cy, rho, start, sweep = pieces.curve[chosen].T
    rho = rho + aside
    one = 2 * np.arccos(1 - np.minimum(SAGITTA / np.maximum(rho, SAGITTA), 1.0))
    counts = np.ceil(np.abs(sweep) / one - 1e-9).astype(np.int64).clip(1)
    owner = np.repeat(chosen, counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    cx, cy, rho, start, sweep, counts = (np.repeat(v, counts) for v in (cx, cy, rho, start, sweep, counts))
    a, b = start + sweep * place / counts, start + sweep * (place + 1) / counts
    axis = np.stack([cx + rho * np.cos(a), cy + rho * np.sin(a), cx + rho * np.cos(b), cy + rho * np.sin(b)], axis=1)
    own = pieces.take(owner)
    return _with(own, axis, half + rho * (1 - np.cos(sweep / counts / 2))), owner


def _edges(pieces: Pieces, chosen: Ints, half: float) -> tuple[Pieces, Ints]:
    ax, ay, bx, by = pieces.axis[chosen].T
    long = np.maximum(np.hypot(bx - ax, by - ay), 1e-12)
    nx, ny = -(by - ay) / long * half, (bx - ax) / long * half
    faces = [
        np.stack([ax + nx, ay + ny, bx + nx, by + ny], axis=1),
        np.stack([ax - nx, ay - ny, bx - nx, by - ny], axis=1),
        np.stack([bx + nx, by + ny, bx - nx, by - ny], axis=1),
    ]
    owner = np.tile(chosen, 3)
    return _with(pieces.take(owner), np.concatenate(faces), np.zeros(len(owner))), owner


def _with(pieces: Pieces, axis: Floats, reach: Floats) -> Pieces:
    return Pieces(axis, reach, pieces.kind, pieces.curve, pieces.run, pieces.leaves, pieces.steps, pieces.group)


def extents(pieces: Pieces, half: float) -> tuple[Floats, Floats, Floats]:
    """Farthest s outward, lowest and highest y of the metal of each piece in its own frame.

    :param half: half the thickness [mm]
    :returns: [mm]
    """
    ax, ay, bx, by = pieces.axis.T
    long = np.maximum(np.hypot(bx - ax, by - ay), 1e-12)
    side_x, side_y = np.abs(by - ay) / long * half, np.abs(bx - ax) / long * half
    far = np.maximum(ax, bx) + side_x
    low, high = np.minimum(ay, by) - side_y, np.maximum(ay, by) + side_y
    bows = pieces.kind == CURVE
    if bows.any():
        cx, cy, rho, start, sweep = pieces.curve[bows].T
        begin, end = np.minimum(start, start + sweep), np.maximum(start, start + sweep)
        outer = rho + half

        def top(way: float, middle: Floats) -> Floats:
            """Farthest in a direction: at an end of the curve, or where it passes that direction."""
            passes = np.ceil((begin - way) / (2 * np.pi)) * 2 * np.pi + way <= end
            best = np.full(len(rho), -np.inf)
            for a in (begin, end):
                for r in (rho - half, outer):
                    best = np.maximum(best, r * np.cos(a - way))
            return np.where(passes, outer, best) + middle

        far, low, high = far.copy(), low.copy(), high.copy()
        far[bows], high[bows], low[bows] = top(0.0, cx), top(np.pi / 2, cy), -top(-np.pi / 2, -cy)
    return far, low, high
