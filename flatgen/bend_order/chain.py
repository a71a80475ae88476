"""A part as a chain: legs in a row with a bend between each and the next; changed chains; and its metal in pieces.

leg        0 to n, from the first edge to the second; flats between tangent lines
bend       0 to n - 1; bend k joins leg k and leg k + 1
outward    away from a bend, on its first or its second side
piece      a capsule (axis and reach) in the frame of one side of a bend: x outward along its leg, y to the inside of
           the bend; one for each leg or curve and each set of bends made between it and the bend
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from flatgen.brake.creases import parallel
from flatgen.core.schedule import Crease, WhichSide

SAME = 1e-4
"""Places of one leg that differ by less are one [mm]."""


@dataclass(frozen=True)
class Chain:
    """``thickness`` [mm]; ``flats`` [mm] and numbers of its ``legs``; ``angles`` [deg], ``ups`` (+1 up, -1 down),
    ``radii`` and ``allowances`` [mm] of its bends; and these as ``creases``.
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
        """How many there are."""
        return len(self.angles)

    def outward(self, bend: int, which: WhichSide) -> tuple[int, ...]:
        """Bends beyond a bend on one side of it, the nearest first."""
        return tuple(range(bend - 1, -1, -1)) if which == "first" else tuple(range(bend + 1, self.bends))

    def first_made(self, bend: int, which: WhichSide, made: int) -> int:
        """How many bends out the first one of a set is; how many there are if none is."""
        outward = self.outward(bend, which)
        return next((k for k, near in enumerate(outward) if made >> near & 1), len(outward))

    def leg_beyond(self, bend: int, which: WhichSide, steps: int) -> int:
        """Leg of a bend's side, ``steps`` bends farther out."""
        return bend - steps if which == "first" else bend + 1 + steps


class NoChain(ValueError):
    """The bends do not follow one another in a row; the text says why."""


def chain_of(creases: Sequence[Crease], thickness: float) -> Chain:
    """The chain that all creases of a part make, given in any order.

    :raises NoChain: If bends are not parallel, or more than two meet one leg.
    """
    if not creases:
        raise NoChain("it has no bend")
    for crease in creases:
        if not parallel(creases[0], crease):
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
    """A chain with one leg of another flat [mm]."""
    more = flat - chain.flats[leg]
    creases = []
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
        creases.append(replace(crease, first=one, second=other))
    return chain_of(creases, chain.thickness)


def subchain(chain: Chain, kept: range, flats: Sequence[float]) -> Chain:
    """Some bends of a chain, in a row, with the legs beside them; ``flats`` [mm] of all its legs as they are cut."""
    width = flats[kept[0]]
    blank = sum(flats[kept[0] : kept[-1] + 2]) + sum(chain.allowances[n] for n in kept)
    creases: list[Crease] = []
    for n in kept:
        crease, high = chain.creases[n], width + chain.allowances[n]
        one = replace(crease.first, flat=flats[n], tangent=width, reach=width)
        other = replace(crease.second, flat=flats[n + 1], tangent=high, reach=blank - high)
        creases.append(replace(crease, first=one, second=other))
        width = high + flats[n + 1]
    return chain_of(creases, chain.thickness)


Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
LEG, CURVE, EDGE = 0, 1, 2
SAGITTA = 0.01
"""Chords that stand for a curve are this near to it, and the capsules cover it [mm]."""


@dataclass(frozen=True)
class Pieces:
    """``axis`` (n, 4) and ``reach`` (n,) of the capsules; ``kind``; ``curve`` (n, 5): centre, radius of the mid fibre,
    start, signed sweep; ``bends_made`` before it, and ``first_turn``: way of the first of these (+1 with the bend, -1
    against it, 0 none); ``steps``: bends outward; ``group``: which side of which bend.
    """

    axis: Floats
    reach: Floats
    kind: Ints
    curve: Floats
    bends_made: Ints
    first_turn: Ints
    steps: Ints
    group: Ints

    def __len__(self) -> int:
        return len(self.reach)

    @property
    def rising(self) -> NDArray[np.bool_]:
        """Behind one made bend alone, which turns as the bend does."""
        return np.asarray((self.bends_made == 1) & (self.first_turn > 0))

    @property
    def falling(self) -> NDArray[np.bool_]:
        """Behind one made bend alone, which turns the other way."""
        return np.asarray((self.bends_made == 1) & (self.first_turn < 0))

    def take(self, chosen: NDArray[np.bool_] | Ints) -> Pieces:
        """Some of them, by mask or index."""
        return Pieces(*(getattr(self, f.name)[chosen] for f in fields(self)))


@dataclass(frozen=True)
class Tree:
    """Where the pieces of one side stand among all: ``legs[k]``, ``curves[k]`` are the first of 2^k and of 2^(k-1)."""

    legs: tuple[int, ...]
    curves: tuple[int, ...]

    def least(self, values: Floats) -> Floats:
        """For each set of bends made on this side the least value of its pieces."""
        least = values[self.legs[0] : self.legs[0] + 1].copy()
        for k in range(1, len(self.legs)):
            half = len(least)
            least = np.concatenate([least, least])
            np.minimum(least, values[self.legs[k] : self.legs[k] + 2 * half], out=least)
            np.minimum(least[half:], values[self.curves[k] : self.curves[k] + half], out=least[half:])
        return least


def concatenate(parts: list[Pieces]) -> Pieces:
    """All pieces in one."""
    return Pieces(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Pieces)))


def pieces_of_side(
    chain: Chain, bend: int, which: WhichSide, group: int, made: int | None = None
) -> tuple[Pieces, Tree]:
    """Pieces on one side of a bend: of leg k in blocks of 2^k, each followed by its curves.

    :param group: number of this side among all that are measured together
    :param made: one set of bends made, by bits outward; None for all sets
    """
    half = chain.thickness / 2
    x, y, turn = np.zeros(1), np.full(1, half), np.zeros(1)
    bends_made, first_turn = np.zeros(1, np.int64), np.zeros(1, np.int64)
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
            away = np.where(first_turn == 0, sign, first_turn)
            bow = _block(np.stack([x, y, mx, my], axis=1), bound, CURVE, whole, bends_made + 1, away, k, group)
            x, y, turn = np.concatenate([x, mx]), np.concatenate([y, my]), np.concatenate([turn, turned])
            bends_made, first_turn = np.concatenate([bends_made, bends_made + 1]), np.concatenate([first_turn, away])
            flat = np.repeat([chain.allowances[near], 0.0], len(x) // 2)
            if made is not None:
                kept = slice(1, 2) if made >> (k - 1) & 1 else slice(0, 1)
                x, y, turn, bends_made, first_turn, flat = (
                    x[kept],
                    y[kept],
                    turn[kept],
                    bends_made[kept],
                    first_turn[kept],
                    flat[kept],
                )
                bow = bow.take(np.arange(len(bow))[: made >> (k - 1) & 1])
        else:
            flat = np.zeros(1)
        length = flat + chain.flats[chain.leg_beyond(bend, which, k)]
        ex, ey = x + length * np.cos(turn), y + length * np.sin(turn)
        kind = EDGE if k == len(outward) else LEG
        own = _block(
            np.stack([x, y, ex, ey], axis=1), half, kind, np.zeros((len(x), 5)), bends_made, first_turn, k, group
        )
        parts.append(own)
        legs.append(count)
        count += len(own)
        if k:
            parts.append(bow)
            curves.append(count)
            count += len(bow)
        x, y = ex, ey
    return concatenate(parts), Tree(tuple(legs), tuple(curves))


def _block(
    axis: Floats, reach: float, kind: int, curve: Floats, bends_made: Ints, first_turn: Ints, steps: int, group: int
) -> Pieces:
    n = len(axis)
    return Pieces(
        axis, np.full(n, reach), np.full(n, kind), curve, bends_made, first_turn, np.full(n, steps), np.full(n, group)
    )


def refine(pieces: Pieces, half: float) -> tuple[Pieces, Ints]:
    """Curves as chords, last legs as their two faces and their edge, within 0.02 mm of the metal; and their owners."""
    n = np.arange(len(pieces))
    legs = n[pieces.kind == LEG]
    first = n[
        (pieces.kind == CURVE) & (pieces.bends_made == 1)
    ]  # both faces: a round end would reach back over its leg
    inner, inner_of = _chords(pieces, first, 0.0, -half)
    outer, outer_of = _chords(pieces, first, 0.0, half)
    bows, bow_of = _chords(pieces, n[(pieces.kind == CURVE) & (pieces.bends_made != 1)], half, 0.0)
    edges, edge_of = _edges(pieces, n[pieces.kind == EDGE], half)
    owners = np.concatenate([legs, inner_of, outer_of, bow_of, edge_of])
    return concatenate([pieces.take(legs), inner, outer, bows, edges]), owners


def _chords(pieces: Pieces, chosen: Ints, half: float, aside: float) -> tuple[Pieces, Ints]:
    """Chords of curves ``aside`` of the mid fibre, outward; ``half``: what they carry on either side."""
    cx, cy, rho, start, sweep = pieces.curve[chosen].T
    rho = rho + aside
    one = 2 * np.arccos(1 - np.minimum(SAGITTA / np.maximum(rho, SAGITTA), 1.0))
    counts = np.ceil(np.abs(sweep) / one - 1e-9).astype(np.int64).clip(1)
    owner = np.repeat(chosen, counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    cx, cy, rho, start, sweep, counts = (np.repeat(v, counts) for v in (cx, cy, rho, start, sweep, counts))
    a, b = start + sweep * place / counts, start + sweep * (place + 1) / counts
    axis = np.stack([cx + rho * np.cos(a), cy + rho * np.sin(a), cx + rho * np.cos(b), cy + rho * np.sin(b)], axis=1)
    return replace(pieces.take(owner), axis=axis, reach=half + rho * (1 - np.cos(sweep / counts / 2))), owner


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
    return replace(pieces.take(owner), axis=np.concatenate(faces), reach=np.zeros(len(owner))), owner


def extents(pieces: Pieces, half: float) -> tuple[Floats, Floats, Floats]:
    """Farthest x, lowest and highest y of the metal of each piece in its own frame [mm]."""
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
