"""Closed boundaries in the plane: how far points lie from them, loops without noise, arcs fitted to curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Piece, Point
from flatgen.unfolding.develop import chord_distances
from flatgen.unfolding.sheet import Vector


class Boundary:
    """Closed rings of points (n, 2) [mm], not closed, to be measured to by a search tree of their edges."""

    def __init__(self, rings: Sequence[Vector]) -> None:
        import shapely

        self._tree: Any = None
        if not rings:
            return
        pairs = [np.stack((r, np.roll(r, -1, axis=0)), axis=1) for r in rings]
        self._tree = shapely.STRtree(shapely.linestrings(np.concatenate(pairs)))

    def distance(self, points: Vector) -> Vector:
        """Distance of points (n, 2) from the nearest edge (n,) [mm]; infinite where there are no edges."""
        import shapely

        if self._tree is None:
            return np.full(len(points), np.inf)
        _, distances = self._tree.query_nearest(shapely.points(points), all_matches=False, return_distance=True)
        found: Vector = distances
        return found


def outside_distance(points: Vector, shell: Vector | None, holes: Sequence[Vector]) -> float:
    """How far the outermost of some points (n, 2) lies outside a region, 0 where none does [mm].

    Without a ``shell`` the region reaches as far as the points do, about the holes.
    """
    import shapely

    if shell is None:
        shell = frame_about(points, 1.0)
    region = shapely.Polygon(shell, holes)
    shapely.prepare(region)
    beyond = points[~shapely.contains_xy(region, points[:, 0], points[:, 1])]
    if not len(beyond):
        return 0.0
    return float(Boundary([shell, *holes]).distance(beyond).max())


def frame_about(points: Vector, room: float) -> Vector:
    """Corners (4, 2) of the box about points (n, 2), with some room on every side [mm]."""
    (x0, y0), (x1, y1) = points.min(axis=0) - room, points.max(axis=0) + room
    return np.array(((x0, y0), (x1, y0), (x1, y1), (x0, y1)))


DIGITS = 9
"""Coordinates are rounded to so many decimals [mm], which takes the kernel's last-digit noise away."""


def clean_loop(chain: list[Piece], *, join: bool = True) -> Loop:
    """A closed loop without noise: ends that meet, nothing of no length, collinear neighbours in one."""
    pieces = [_rounded_piece(p) for p in chain]
    pieces = [p for p in pieces if p.length > 10.0**-DIGITS]
    if not join:
        return Loop(tuple(_with_exact_ends(pieces)))
    joined: list[Piece] = []
    for piece in pieces:
        if joined and (both := _join_pieces(joined[-1], piece)):
            joined[-1] = both
        else:
            joined.append(piece)
    if len(joined) > 1 and (both := _join_pieces(joined[-1], joined[0])):
        joined = [both, *joined[1:-1]]
    return Loop(tuple(_with_exact_ends(joined)))


def _rounded_piece(piece: Piece) -> Piece:
    if isinstance(piece, Line):
        return Line(rounded_point(piece.start), rounded_point(piece.end))
    return Arc(rounded_point(piece.centre), round(piece.radius, DIGITS), round(piece.first, DIGITS + 2), piece.sweep)


def rounded_point(point: Point) -> Point:
    """A point to ``DIGITS`` decimals."""
    return (round(point[0], DIGITS) + 0.0, round(point[1], DIGITS) + 0.0)


def _join_pieces(one: Piece, two: Piece) -> Piece | None:
    if isinstance(one, Line) and isinstance(two, Line):
        a = np.subtract(one.end, one.start)
        b = np.subtract(two.end, two.start)
        off = abs(float(a[0] * b[1] - a[1] * b[0])) / (one.length + two.length)
        return Line(one.start, two.end) if off < 1e-8 and float(a @ b) > 0 else None
    if isinstance(one, Arc) and isinstance(two, Arc) and one.sweep * two.sweep > 0:
        same = math.dist(one.centre, two.centre) < 1e-8 and abs(one.radius - two.radius) < 1e-8
        if same and abs(one.sweep + two.sweep) < 360 + 1e-9:
            return replace(one, sweep=one.sweep + two.sweep)
    return None


def _with_exact_ends(pieces: list[Piece]) -> list[Piece]:
    """Lines take the exact end of the piece before them and the exact start of the one after."""
    exact = []
    for n, piece in enumerate(pieces):
        before, after = pieces[n - 1], pieces[(n + 1) % len(pieces)]
        if isinstance(piece, Line) and len(pieces) > 1:
            piece = Line(before.end, after.start if isinstance(after, Arc) else piece.end)
        exact.append(piece)
    return exact


ARC_TOLERANCE = 0.005
"""An arc that stands for a curve stays this close to it [mm]."""
STRAIGHT = 5e-4
"""Points that bulge less over their chord are drawn as a line [mm]."""


def fit_pieces(points: Vector) -> list[Piece]:
    """Arcs and lines through points (n, 2) that lie densely on a curve."""
    points = points[np.r_[True, np.hypot(*np.diff(points, axis=0).T) > 1e-9]]
    if len(points) < 2:
        return []
    way = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    pieces: list[Piece] = []
    todo = [(0, len(points) - 1)]
    while todo:
        low, high = todo.pop()
        middle = int(np.searchsorted(way, (way[low] + way[high]) / 2))
        middle = min(max(middle, low + 1), high - 1)
        piece = _piece(points[low : high + 1], middle - low)
        if piece is not None:
            pieces.append(piece)
        else:
            todo += [(middle, high), (low, middle)]
    return pieces


def _piece(points: Vector, middle: int) -> Piece | None:
    """One piece through the first, middle and last of some points, if it passes the others closely."""
    a, b = _point(points[0]), _point(points[-1])
    if len(points) == 2:
        return Line(a, b)
    chord = math.dist(a, b)
    if chord < 1e-9:
        return None
    off = chord_distances(np.tile(points[0], (len(points), 1)), np.tile(points[-1], (len(points), 1)), points)
    if np.abs(off).max() < STRAIGHT:
        return Line(a, b)
    arc = arc_through(a, _point(points[middle]), b)
    if arc is None or abs(arc.sweep) > 180:
        return None
    reach = np.hypot(points[:, 0] - arc.centre[0], points[:, 1] - arc.centre[1])
    return arc if np.abs(reach - arc.radius).max() < ARC_TOLERANCE else None


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
