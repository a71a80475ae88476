"""Lines across a flat, broken at openings and notches where there is no metal, and centre marks of round openings.

Lines are cut with lines and arcs in closed form: their ends lie exactly on the edges.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Loop, Piece, Point
from flatgen.paper.drawing.text import Stroke, line_widths

NEAR = 0.003
"""Closer to metal than this counts as metal [mm]; chords stay within 0.002 mm of their arcs."""
LEAST = 1e-6
"""Shorter stretches do not count [mm]."""


class Metal:
    """The metal of a flat, prepared for many lines [mm]."""

    def __init__(self, flat: FlatPattern) -> None:
        import shapely

        loops = (flat.outline, *flat.openings)
        rings = [loop.points(0.002) for loop in loops]
        self.pieces: list[Piece] = [p for loop in loops for p in loop]
        boxes = [_box(p) for p in self.pieces]
        self.tree: Any = shapely.STRtree(shapely.box(*zip(*boxes, strict=True)))
        self.sheet: Any = shapely.Polygon(rings[0])
        self.openings: Any = shapely.STRtree([shapely.Polygon(r) for r in rings[1:]])
        shapely.prepare(self.sheet)

    def stretches(self, start: Point, end: Point) -> list[tuple[Point, Point]]:
        """The stretches of a line [mm] that lie on metal, in order."""
        import shapely

        size = math.dist(start, end)
        if size <= LEAST:
            return []
        line = shapely.LineString([start, end])
        near = self.tree.query(line, predicate="dwithin", distance=LEAST)
        cuts = sorted(s for n in near.tolist() for s in _crossings(start, end, self.pieces[n]))
        shares = [0.0]
        for s in (*cuts, 1.0):
            if s - shares[-1] > LEAST / size:
                shares.append(s)
        if 1.0 - shares[-1] <= LEAST / size:
            shares[-1] = 1.0
        whole = Line(start, end)
        kept: list[list[float]] = []
        for low, high in pairwise(shares):
            if not self._contains(whole.at((low + high) / 2)):
                continue
            if kept and kept[-1][1] == low:
                kept[-1][1] = high
            else:
                kept.append([low, high])
        return [(whole.at(low), whole.at(high) if high < 1.0 else end) for low, high in kept]

    def _contains(self, point: Point) -> bool:
        import shapely

        spot = shapely.Point(point)
        if not shapely.dwithin(self.sheet, spot, NEAR):
            return False
        holes = self.openings.query(spot, predicate="within")
        return all(self.openings.geometries[n].exterior.distance(spot) <= NEAR for n in holes.tolist())


def _box(piece: Piece) -> tuple[float, float, float, float]:
    """A box about a piece, roomy for an arc."""
    if isinstance(piece, Arc):
        (x, y), r = piece.centre, piece.radius
        return (x - r, y - r, x + r, y + r)
    (x0, y0), (x1, y1) = piece.start, piece.end
    return (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def _crossings(start: Point, end: Point, piece: Piece) -> list[float]:
    """Where a line meets a piece, as shares 0..1 of its length."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    if isinstance(piece, Line):
        ex, ey = piece.end[0] - piece.start[0], piece.end[1] - piece.start[1]
        cross = dx * ey - dy * ex
        px, py = piece.start[0] - start[0], piece.start[1] - start[1]
        if abs(cross) < 1e-12 * math.hypot(dx, dy) * math.hypot(ex, ey):
            if abs(px * dy - py * dx) > LEAST * math.hypot(dx, dy):
                return []
            size = dx * dx + dy * dy
            ends = [(px * dx + py * dy) / size, ((px + ex) * dx + (py + ey) * dy) / size]
            return [s for s in ends if 0 < s < 1]
        share, other = (px * ey - py * ex) / cross, (px * dy - py * dx) / cross
        slack = LEAST / max(math.hypot(ex, ey), LEAST)
        return [share] if 0 < share < 1 and -slack <= other <= 1 + slack else []
    fx, fy = start[0] - piece.centre[0], start[1] - piece.centre[1]
    a, b, c = dx * dx + dy * dy, fx * dx + fy * dy, fx * fx + fy * fy - piece.radius * piece.radius
    root = b * b - a * c
    if root <= 0:
        return []
    shares = [(-b - math.sqrt(root)) / a, (-b + math.sqrt(root)) / a]
    return [s for s in shares if 0 < s < 1 and _on(piece, (fx + s * dx, fy + s * dy))]


def _on(arc: Arc, spot: Point) -> bool:
    """Whether an arc has a point of its circle, given from its centre."""
    low = arc.first if arc.sweep > 0 else arc.first + arc.sweep
    slack = math.degrees(LEAST / arc.radius)
    return (math.degrees(math.atan2(spot[1], spot[0])) - low + slack) % 360.0 <= abs(arc.sweep) + 2 * slack


MOST_CIRCLES = 300
"""With more round openings a drawing has no centre marks."""
SHARE = 0.6
"""Half a cross per radius; at most one height of lettering."""
LEAST_MARKED = 3.0
"""Least half cross, in widths of narrow lines."""


def centre_marks(flat: FlatPattern, height: float) -> tuple[Stroke, ...]:
    """A cross of two strokes for each round opening [mm]; ``height`` of the drawing's lettering [mm]."""
    circles = [c for c in map(_circle, flat.openings) if c is not None]
    if len(circles) > MOST_CIRCLES:
        return ()
    strokes: list[Stroke] = []
    for (x, y), radius in circles:
        half = min(SHARE * radius, height)
        if half >= LEAST_MARKED * line_widths(height)[1]:
            strokes += [Stroke((x - half, y), (x + half, y)), Stroke((x, y - half), (x, y + half))]
    return tuple(strokes)


def _circle(loop: Loop) -> tuple[Point, float] | None:
    """Centre and radius of a loop that is one circle."""
    only = loop.pieces[0]
    return (only.centre, only.radius) if len(loop.pieces) == 1 and isinstance(only, Arc) and only.full else None
