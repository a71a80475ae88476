"""Distances [mm] between segments (n, 4) and bodies, in arrays; and the least distance over a motion, bounded.

Over a motion the distance is sampled and the samples are trusted no farther than the metal can move between them
(branch and bound with the greatest speed): the result is never above the truth, and below it by at most ``TOLERANCE``
wherever it is under the cap.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.bend_order.chain import Floats, Ints
from flatgen.core.flat_pattern import Point

Bools = NDArray[np.bool_]
TOLERANCE = 0.02
"""[mm]"""
BLOCK = 2048
FIRST_STEPS = 8


@dataclass(frozen=True)
class Body:
    """Simple polygons, filled: corners (m, 2) each; and capsules: (x1, y1, x2, y2, radius) [mm]."""

    polygons: tuple[Floats, ...]
    capsules: tuple[tuple[float, float, float, float, float], ...] = field(default=())


def distance(axis: Floats, body: Body) -> Floats:
    """From each segment to a body, 0 where they meet."""
    least = np.empty(len(axis))  # nothing to measure is no loop
    for start in range(0, len(axis), BLOCK):
        part = axis[start : start + BLOCK]
        best = np.full(len(part), np.inf)
        for polygon in body.polygons:
            np.minimum(best, _to_polygon(part, polygon), out=best)
        for x1, y1, x2, y2, radius in body.capsules:
            other = np.broadcast_to(np.array([x1, y1, x2, y2]), part.shape)
            np.minimum(best, np.maximum(segment_distance(part, other) - radius, 0.0), out=best)
        least[start : start + BLOCK] = best
    return least


def box_distance(axis: Floats, body: Body) -> Floats:
    """From the box about each segment to the box about a body: never more than the distance."""
    corners = [np.stack([p.min(axis=0), p.max(axis=0)]) for p in body.polygons]
    corners += [
        np.array([[min(x1, x2) - r, min(y1, y2) - r], [max(x1, x2) + r, max(y1, y2) + r]])
        for x1, y1, x2, y2, r in body.capsules
    ]
    low, high = np.min([c[0] for c in corners], axis=0), np.max([c[1] for c in corners], axis=0)
    ax, ay, bx, by = axis.T
    x = np.maximum(low[0] - np.maximum(ax, bx), np.minimum(ax, bx) - high[0])
    y = np.maximum(low[1] - np.maximum(ay, by), np.minimum(ay, by) - high[1])
    return np.asarray(np.hypot(np.maximum(x, 0.0), np.maximum(y, 0.0)))


def segment_distance(one: Floats, other: Floats) -> Floats:
    """From segment to segment, pair by pair, 0 where they cross."""
    ax, ay, bx, by = one.T
    px, py, qx, qy = other.T
    least = _to_segment(ax, ay, px, py, qx, qy)
    np.minimum(least, _to_segment(bx, by, px, py, qx, qy), out=least)
    np.minimum(least, _to_segment(px, py, ax, ay, bx, by), out=least)
    np.minimum(least, _to_segment(qx, qy, ax, ay, bx, by), out=least)
    least[_cross(ax, ay, bx, by, px, py, qx, qy)] = 0.0
    return np.asarray(np.sqrt(least))


def _to_polygon(axis: Floats, polygon: Floats) -> Floats:
    ax, ay, bx, by = np.ascontiguousarray(axis.T)[:, :, None]
    p, q = polygon[None, :, :], np.roll(polygon, -1, axis=0)[None, :, :]
    px, py, qx, qy = p[..., 0], p[..., 1], q[..., 0], q[..., 1]
    best = _to_segment(px, py, ax, ay, bx, by)
    np.minimum(best, _to_segment(ax, ay, px, py, qx, qy), out=best)
    np.minimum(best, _to_segment(bx, by, px, py, qx, qy), out=best)
    least = best.min(axis=1)
    rise = np.where(qy == py, 1.0, qy - py)
    above = py > ay
    inside = np.logical_xor.reduce((above != (qy > ay)) & (ax < px + (ay - py) * ((qx - px) / rise)), axis=1)
    near = np.flatnonzero(~inside & (least <= _squared(ax, ay, bx, by)))
    least[inside] = 0.0
    if len(near):
        meets = _cross(ax[near], ay[near], bx[near], by[near], px, py, qx, qy)
        least[near[meets.any(axis=1)]] = 0.0
    return np.asarray(np.sqrt(least))


def _squared(ax: Floats, ay: Floats, bx: Floats, by: Floats) -> Floats:
    """Square of each segment's length: where it crosses an edge, one of its ends is nearer to the edge than that."""
    return np.asarray(((bx - ax) ** 2 + (by - ay) ** 2)[:, 0])


def _to_segment(px: Any, py: Any, ax: Any, ay: Any, bx: Any, by: Any) -> Floats:
    """Square of the distance from points to segments; either side may be single numbers."""
    dx, dy = bx - ax, by - ay
    ex, ey = px - ax, py - ay
    along = ex * dx  # a new array of the full shape: so are ex and ey
    along += ey * dy
    along /= np.maximum(dx * dx + dy * dy, 1e-300)
    np.maximum(along, 0.0, out=along)
    np.minimum(along, 1.0, out=along)
    ex -= along * dx
    ey -= along * dy
    ex *= ex
    ey *= ey
    ex += ey
    return np.asarray(ex)


def _cross(ax: Any, ay: Any, bx: Any, by: Any, px: Any, py: Any, qx: Any, qy: Any) -> Bools:
    """Whether segments cross properly."""
    ex, ey, dx, dy = qx - px, qy - py, bx - ax, by - ay
    one = (ex * (ay - py) - ey * (ax - px)) * (ex * (by - py) - ey * (bx - px))
    other = (dx * (py - ay) - dy * (px - ax)) * (dx * (qy - ay) - dy * (qx - ax))
    return np.asarray((one < 0) & (other < 0))


Sampler = Callable[[Ints, Floats], Floats]


def least_over(sample: Sampler, top: Floats, speed: Floats, cap: float) -> tuple[Floats, Floats]:
    """Least value of functions of an angle from 0 to ``top``, never above the truth.

    :param sample: ``sample(which, angles)``: values of some of the functions
    :param top: (n,) where each ends [rad]
    :param speed: (n,) how fast each can change at most [mm/rad]
    :param cap: values above it need not be told apart [mm]
    :returns: least values, at most the cap [mm]; and where the lowest sample was [rad]
    """
    n = len(top)
    best, where = np.full(n, np.inf), np.zeros(n)
    if n == 0:
        return best, where
    grid = np.linspace(0.0, 1.0, FIRST_STEPS + 1)
    values = np.empty((FIRST_STEPS + 1, n))
    which = np.arange(n)
    for k, part in enumerate(grid):
        values[k] = sample(which, top * part)
        lower = values[k] < best
        best[lower], where[lower] = values[k][lower], (top * part)[lower]
    index = np.tile(which, FIRST_STEPS)
    low = np.concatenate([top * p for p in grid[:-1]])
    high = np.concatenate([top * p for p in grid[1:]])
    at_low, at_high = values[:-1].ravel(), values[1:].ravel()
    while True:
        bound = (at_low + at_high - speed[index] * (high - low)) / 2
        wanted = np.minimum(best[index] - TOLERANCE, cap)
        open_ = (bound < wanted) & (best[index] > 0)
        if not open_.any():
            break
        index, low, high, at_low, at_high = (v[open_] for v in (index, low, high, at_low, at_high))
        middle = (low + high) / 2
        got = sample(index, middle)
        order = np.argsort(got)[::-1]  # the lowest is written last
        lower = got[order] < best[index[order]]
        best[index[order][lower]], where[index[order][lower]] = got[order][lower], middle[order][lower]
        index = np.concatenate([index, index])
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
        at_low, at_high = np.concatenate([at_low, got]), np.concatenate([got, at_high])
    return np.where(best > 0, np.minimum(best - TOLERANCE, cap), best), where


def hull(points: Floats) -> Floats:
    """Corners of the convex hull of a few points (m, 2), counter-clockwise."""
    ordered = sorted({(float(x), float(y)) for x, y in points})

    def half(run: list[Point]) -> list[Point]:
        kept: list[Point] = []
        for p in run:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], p) <= 0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
