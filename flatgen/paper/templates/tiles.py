"""Tiles: sheets of paper that overlap to cover a box, their joints and register marks, and diagonals to measure.

window    what a sheet shows of the template; windows of neighbours overlap
joint     the middle line of an overlap: one sheet is cut there and laid on the glue edge of the other
core      what a sheet shows once all are taped: the cores cover the template once
mark      a register mark on a joint, half of it on each sheet once taped

Rows are counted from the top, columns from the left, both from 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from flatgen.core.flat_pattern import Line, Loop, Point
from flatgen.paper.drawing.labels import Edge
from flatgen.paper.drawing.text import Box

EDGES: tuple[tuple[Edge, int, int], ...] = (("left", 0, -1), ("right", 0, 1), ("above", -1, 0), ("below", 1, 0))
OVERLAP = 20.0
"""How far neighbours overlap [mm]; half of it is the glue edge."""
MARK = 4.0
"""Half of a register mark [mm]."""
MARKS_AT = (0.2, 0.8)
"""Wanted places of register marks along a joint, as shares of its length."""
HAIR = 1e-9


@dataclass(frozen=True)
class Frame:
    """A sheet of ``wide`` x ``tall`` [mm] with its window, ``room`` [mm], from the place ``at`` on the sheet [mm]."""

    wide: float
    tall: float
    at: Point
    room: tuple[float, float]

    @property
    def landscape(self) -> bool:
        return self.wide > self.tall


@dataclass(frozen=True)
class Tile:
    """One sheet: its row and column, window and core [mm]."""

    row: int
    column: int
    window: Box
    core: Box


@dataclass(frozen=True)
class Tiling:
    """The sheets of a template that show metal, row by row, and the register marks [mm]."""

    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    marks: tuple[Point, ...] = ()

    def beside(self, tile: Tile) -> dict[Edge, Tile]:
        """The neighbours of a sheet, by the edge that they lie at."""
        known = {(t.row, t.column): t for t in self.tiles}
        neighbours = {edge: known.get((tile.row + down, tile.column + right)) for edge, down, right in EDGES}
        return {edge: t for edge, t in neighbours.items() if t is not None}

    def edges(self) -> tuple[tuple[Point, Point], ...]:
        """Edges of all windows where sheets meet, and the joints [mm]."""
        lines = []
        for tile in self.tiles:
            x0, y0, x1, y1 = tile.window
            for edge in self.beside(tile):
                along: dict[Edge, tuple[Point, Point]] = {
                    "left": ((x0, y0), (x0, y1)),
                    "right": ((x1, y0), (x1, y1)),
                    "above": ((x0, y1), (x1, y1)),
                    "below": ((x0, y0), (x1, y0)),
                }
                lines += [along[edge], joint(tile, edge)]
        return tuple(dict.fromkeys(lines))


def joint(tile: Tile, edge: Edge) -> tuple[Point, Point]:
    """The joint of a sheet at one of its edges, as long as its window [mm]."""
    (x0, y0, x1, y1), (left, low, right, high) = tile.window, tile.core
    if edge in ("left", "right"):
        x = left if edge == "left" else right
        return (x, y0), (x, y1)
    y = low if edge == "below" else high
    return (x0, y), (x1, y)


def window_count(size: float, room: float, overlap: float = OVERLAP) -> int:
    """How many windows of length ``room`` with this ``overlap`` cover a length ``size`` [mm].

    Two windows of 100 mm that overlap by 20 mm cover 180 mm.

    >>> window_count(180.0, 100.0), window_count(180.1, 100.0)
    (2, 3)
    """
    if room <= overlap:
        raise ValueError(f"windows of {room} mm that overlap by {overlap} mm")
    return max(1, math.ceil((size - overlap) / (room - overlap) - HAIR)) if size > room else 1


def window_spans(
    low: float, high: float, room: float, share: float, overlap: float = OVERLAP
) -> list[tuple[float, float]]:
    """Windows of length ``room`` along one axis, that cover ``low`` to ``high`` [mm].

    :param share: of the excess length that goes before ``low``, 0 to 1

    >>> window_spans(0.0, 170.0, 100.0, 0.5)
    [(-5.0, 95.0), (75.0, 175.0)]
    """
    number = window_count(high - low, room, overlap)
    over = number * room - (number - 1) * overlap - (high - low)
    first = low - share * over
    starts = [first + k * (room - overlap) for k in range(number)]
    return [(a, a + room) for a in starts]


def _cores(windows: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Windows up to the middle of each overlap."""
    middles = [(before[1] + after[0]) / 2 for before, after in pairwise(windows)]
    return list(zip([windows[0][0], *middles], [*middles, windows[-1][1]], strict=True))


def tile_box(
    frame: Frame, box: Box, metal: Any, share: tuple[float, float] = (0.5, 0.5), overlap: float = OVERLAP
) -> Tiling:
    """Sheets that cover a box, without those whose core shows no metal.

    :param metal: a geometry of shapely
    :param share: of the excess length that goes before the first sheet, across and up
    """
    import shapely

    across = window_spans(box[0], box[2], frame.room[0], share[0], overlap)
    upward = window_spans(box[1], box[3], frame.room[1], share[1], overlap)
    cells = [
        (len(upward) - r, c + 1, (x[0], y[0], x[1], y[1]), (u[0], v[0], u[1], v[1]))
        for r, (y, v) in enumerate(zip(upward, _cores(upward), strict=True))
        for c, (x, u) in enumerate(zip(across, _cores(across), strict=True))
    ]
    shapely.prepare(metal)
    used = shapely.intersects(metal, [shapely.box(*core) for *_, core in cells])
    tiles = [Tile(*cell) for cell, use in zip(cells, used.tolist(), strict=True) if use]
    return Tiling(len(upward), len(across), tuple(sorted(tiles, key=lambda t: (t.row, t.column))))


def add_marks(tiling: Tiling, avoid: Any = None) -> Tiling:
    """Put register marks on every joint, clear of ``avoid``, a geometry of shapely, where they can."""
    marks: list[Point] = []
    for tile in tiling.tiles:
        for edge, other in tiling.beside(tile).items():
            if edge in ("left", "above"):
                continue
            upright = edge == "right"
            k = 1 if upright else 0
            low, high = max(tile.core[k], other.core[k]), min(tile.core[k + 2], other.core[k + 2])
            at = tile.core[2] if upright else tile.core[1]
            places = _clear_places(low, high, at, upright, avoid)
            marks += [(at, s) if upright else (s, at) for s in places]
    return replace(tiling, marks=tuple(marks))


def _clear_places(low: float, high: float, at: float, upright: bool, avoid: Any) -> list[float]:
    """Two places along a joint."""
    import shapely

    size, clear = high - low, []
    for wanted in MARKS_AT:
        shifts = sorted((k * 0.02 for k in range(-7, 8)), key=abs)
        places = [low + (wanted + shift) * size for shift in shifts]
        if avoid is None:
            clear.append(places[0])
            continue
        spots = shapely.points([(at, s) if upright else (s, at) for s in places])
        room = shapely.distance(spots, avoid).tolist()
        free = [s for s, r in zip(places, room, strict=True) if r > 1.5 * MARK]
        clear.append(free[0] if free else places[max(range(len(places)), key=room.__getitem__)])
    return clear


def mirror(tiling: Tiling, width: float) -> Tiling:
    """The same sheets seen from the other face: x becomes ``width`` - x [mm], columns count from the left again."""

    def mirrored(box: Box) -> Box:
        return (width - box[2], box[1], width - box[0], box[3])

    tiles = [Tile(t.row, tiling.columns + 1 - t.column, mirrored(t.window), mirrored(t.core)) for t in tiling.tiles]
    marks = tuple((width - x, y) for x, y in tiling.marks)
    return replace(tiling, tiles=tuple(sorted(tiles, key=lambda t: (t.row, t.column))), marks=marks)


def diagonals(outline: Loop) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """Two long diagonals of an outline, to measure once sheets are taped: one rising to the right, one falling [mm].

    >>> square = ((0.0, 0.0), (3.0, 0.0), (3.0, 4.0), (0.0, 4.0))
    >>> first, second = diagonals(Loop(tuple(Line(square[k - 1], square[k]) for k in range(4))))
    >>> first, second
    (((0.0, 0.0), (3.0, 4.0)), ((0.0, 4.0), (3.0, 0.0)))
    """
    x0, y0, x1, y1 = outline.box()
    wide, tall = max(x1 - x0, HAIR), max(y1 - y0, HAIR)
    corners = [p.start for p in outline if isinstance(p, Line)] + [p.end for p in outline if isinstance(p, Line)]
    corners = corners or outline.points(0.1)

    def farthest(right: float, up: float) -> Point:
        return max(corners, key=lambda p: (round(right * p[0] / wide + up * p[1] / tall, 9), p))

    return (farthest(-1, -1), farthest(1, 1)), (farthest(-1, 1), farthest(1, -1))
