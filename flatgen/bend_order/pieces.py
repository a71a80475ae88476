"""Pieces of metal on one side of a bend, for every set of bends made there: capsules about the mid fibre.

The frame of a side: origin at the bend's tangent line on the outer face, s outward along its leg, y toward the inside
of the bend. So a bend of the same way as the one being made turns toward +y on either side of it.

variant    which of the bends before a piece are made: bit k is the k-th bend outward. A leg k bends out has 2^k
capsule    all points within ``reach`` of a segment; exact for legs, a bound for curves and for the last leg's edge,
           which :func:`finer` replaces by what is within ``SAGITTA`` of them
run        made bends before a piece: 0 the leg beside the bend and what is flat with it, 1 what leaves it, 2 the rest

Millimetres, radians within.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from flatgen.bend_order.chain import Chain
from flatgen.core.schedule import Which

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
LEG, CURVE, EDGE = 0, 1, 2
SAGITTA = 0.01
"""Chords that stand for a curve are this near to it, and the capsules cover it [mm]."""


@dataclass(frozen=True)
class Pieces:
    """``axis`` (n, 4) and ``reach`` (n,) of the capsules; ``kind``; ``curve`` (n, 5): centre, radius of the mid fibre,
    start, signed sweep; ``run``, and ``leaves``: way of the first made bend (+1 with the bend, -1 against it, 0 none);
    ``steps``: bends outward; ``group``: which side of which bend."""

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

    Parameters
    ----------
    chain : Chain
        The section, [mm]
    bend : int
        Which bend, [-]
    which : str
        Its side, [-]
    group : int
        Number of this side among all that are looked at together, [-]
    made : int | None
        One set of bends made, by bits outward; all sets where it is left out, [-]

    Returns
    -------
    tuple[Pieces, Tree]
        Pieces of leg k in blocks of 2^k, each followed by its curves; lengths in [mm]
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

    Parameters
    ----------
    pieces : Pieces
        Any, [mm]
    half : float
        Half the thickness, [mm]

    Returns
    -------
    tuple[Pieces, numpy.ndarray]
        Capsules that cover the metal, within 0.02 mm of it; their owners, [-]
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

    Parameters
    ----------
    pieces : Pieces
        Any, [mm]
    half : float
        Half the thickness, [mm]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray, numpy.ndarray]
        [mm]
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
