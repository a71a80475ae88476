"""Curves that are neither lines nor arcs, as a chain of arcs and lines that stays close to them.

A run of points is split at its middle until the arc through its ends and its middle point passes all points
between closely enough. Every end of a piece lies on the curve.
"""

from __future__ import annotations

import math

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Piece, Point
from flatgen.unfolding.chart import off_chord
from flatgen.unfolding.sheet import Vector

FITTED = 0.005
"""An arc that stands for a curve stays this close to it [mm]."""
STRAIGHT = 5e-4
"""Points that bulge less over their chord are drawn as a line [mm]."""


def fitted(points: Vector, tolerance: float = FITTED) -> list[Piece]:
    """Arcs and lines through points (n, 2) that lie densely on a curve.

    Parameters
    ----------
    points : (n, 2), n >= 2 [mm]
    tolerance : float
        Largest distance of a point from its piece [mm].
    """
    points = points[np.r_[True, np.hypot(*np.diff(points, axis=0).T) > 1e-9]]
    if len(points) < 2:
        return []
    way = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    found: list[Piece] = []
    todo = [(0, len(points) - 1)]
    while todo:
        low, high = todo.pop()
        middle = int(np.searchsorted(way, (way[low] + way[high]) / 2))
        middle = min(max(middle, low + 1), high - 1)
        piece = _piece(points[low : high + 1], middle - low, tolerance)
        if piece is not None:
            found.append(piece)
        else:
            todo += [(middle, high), (low, middle)]
    return found


def _piece(points: Vector, middle: int, tolerance: float) -> Piece | None:
    """One piece through the first, middle and last of some points, if it passes the others closely."""
    a, b = _point(points[0]), _point(points[-1])
    if len(points) == 2:
        return Line(a, b)
    chord = math.dist(a, b)
    if chord < 1e-9:
        return None
    off = off_chord(np.tile(points[0], (len(points), 1)), np.tile(points[-1], (len(points), 1)), points)
    if np.abs(off).max() < STRAIGHT:
        return Line(a, b)
    arc = arc_through(a, _point(points[middle]), b)
    if arc is None or abs(arc.sweep) > 180:
        return None
    reach = np.hypot(points[:, 0] - arc.centre[0], points[:, 1] - arc.centre[1])
    return arc if np.abs(reach - arc.radius).max() < tolerance else None


def arc_through(a: Point, m: Point, b: Point) -> Arc | None:
    """The arc from ``a`` over ``m`` to ``b``, or None where they lie on one line."""
    ux, uy, vx, vy = m[0] - a[0], m[1] - a[1], b[0] - a[0], b[1] - a[1]
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-12 * max(1.0, math.hypot(ux, uy) * math.hypot(vx, vy)):
        return None
    u2, v2 = ux * ux + uy * uy, vx * vx + vy * vy
    cx, cy = (vy * u2 - uy * v2) / (2 * cross), (ux * v2 - vx * u2) / (2 * cross)
    first = math.degrees(math.atan2(-cy, -cx))
    last = math.degrees(math.atan2(vy - cy, vx - cx))
    sweep = (last - first) % 360.0 if cross > 0 else -((first - last) % 360.0)
    return Arc((a[0] + cx, a[1] + cy), math.hypot(cx, cy), first, sweep)


def _point(row: Vector) -> Point:
    return (float(row[0]), float(row[1]))
