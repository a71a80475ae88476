"""Tiles: how a box is laid on sheets of paper that overlap, where they are joined, and what to measure afterwards.

window    what a sheet shows of the template; windows of neighbours overlap
joint     the line in the middle of an overlap: one sheet is cut there and laid on the other, whose overlap beyond
          the joint is the glue edge
core      what a sheet shows once all are taped: the cores cover the template once
mark      a register mark on a joint, half of it on each sheet once taped

Plane geometry only, millimetres. Rows are counted from the top, columns from the left, both from 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal, TypeAlias

from flatgen.core.flat_pattern import Line, Loop, Point

Box: TypeAlias = tuple[float, float, float, float]
Edge = Literal["left", "right", "above", "below"]
EDGES: tuple[tuple[Edge, int, int], ...] = (("left", 0, -1), ("right", 0, 1), ("above", -1, 0), ("below", 1, 0))
OVERLAP = 20.0
"""How far neighbours overlap [mm]; half of it is the glue edge."""
MARK = 4.0
"""Half of a register mark [mm]."""
MARKS_AT = (0.2, 0.8)
"""Where register marks are wanted along a joint, of its length."""
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
        """Wider than tall."""
        return self.wide > self.tall


@dataclass(frozen=True)
class Tile:
    """One sheet: its place among the others, what it shows, and what is its own once taped [mm]."""

    row: int
    column: int
    window: Box
    core: Box


@dataclass(frozen=True)
class Tiling:
    """All sheets of a template, in order of reading, those without metal left out, and the register marks [mm]."""

    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    marks: tuple[Point, ...] = ()

    def beside(self, tile: Tile) -> dict[Edge, Tile]:
        """The neighbours of a sheet that there are.

        :returns: by the edge that they lie at
        """
        known = {(t.row, t.column): t for t in self.tiles}
        found = {edge: known.get((tile.row + down, tile.column + right)) for edge, down, right in EDGES}
        return {edge: t for edge, t in found.items() if t is not None}

    def edges(self) -> tuple[tuple[Point, Point], ...]:
        """Edges of all windows where sheets meet, and the joints, as lines [mm]."""
        found = []
        for tile in self.tiles:
            x0, y0, x1, y1 = tile.window
            for edge in self.beside(tile):
                along: dict[Edge, tuple[Point, Point]] = {
                    "left": ((x0, y0), (x0, y1)),
                    "right": ((x1, y0), (x1, y1)),
                    "above": ((x0, y1), (x1, y1)),
                    "below": ((x0, y0), (x1, y0)),
                }
                found += [along[edge], joint(tile, edge)]
        return tuple(dict.fromkeys(found))


def joint(tile: Tile, edge: Edge) -> tuple[Point, Point]:
    """The joint of a sheet at one of its edges, as long as its window.

    :returns: its ends [mm]
    """
    (x0, y0, x1, y1), (left, low, right, high) = tile.window, tile.core
    if edge in ("left", "right"):
        x = left if edge == "left" else right
        return (x, y0), (x, y1)
    y = low if edge == "below" else high
    return (x0, y), (x1, y)


def count(size: float, room: float, overlap: float = OVERLAP) -> int:
    """How many windows cover a length.

    :param size, room: the length, and that of a window [mm]
    :param overlap: of neighbours, less than ``room`` [mm]
    :returns: at least 1

    Two windows of 100 mm that overlap by 20 mm cover 180 mm.

    >>> count(180.0, 100.0), count(180.1, 100.0)
    (2, 3)
    """
    if room <= overlap:
        raise ValueError(f"windows of {room} mm that overlap by {overlap} mm")
    return max(1, math.ceil((size - overlap) / (room - overlap) - HAIR)) if size > room else 1


def spans(low: float, high: float, room: float, share: float, overlap: float = OVERLAP) -> list[tuple[float, float]]:
    """Windows along one axis, with what is left over put before the first one by a share.

    :param low, high: what they cover [mm]
    :param room, overlap: of a window, and of neighbours [mm]
    :param share: 0 to 1

    >>> spans(0.0, 170.0, 100.0, 0.5)
    [(-5.0, 95.0), (75.0, 175.0)]
    """
    number = count(high - low, room, overlap)
    over = number * room - (number - 1) * overlap - (high - low)
    first = low - share * over
    starts = [first + k * (room - overlap) for k in range(number)]
    return [(a, a + room) for a in starts]


def _cores(windows: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Windows up to the middle of each overlap."""
    middles = [(before[1] + after[0]) / 2 for before, after in pairwise(windows)]
    return list(zip([windows[0][0], *middles], [*middles, windows[-1][1]], strict=True))


def tiled(
    frame: Frame, box: Box, metal: Any, share: tuple[float, float] = (0.5, 0.5), overlap: float = OVERLAP
) -> Tiling:
    """Sheets for a box, those left out whose core shows nothing.

    :param box: what is to be covered [mm]
    :param metal: what is to be shown, a geometry of shapely
    :param share: what is left over goes before the first sheet by this, across and up
    :param overlap: of neighbours [mm]
    """
    import shapely

    across = spans(box[0], box[2], frame.room[0], share[0], overlap)
    upward = spans(box[1], box[3], frame.room[1], share[1], overlap)
    cells = [
        (len(upward) - r, c + 1, (x[0], y[0], x[1], y[1]), (u[0], v[0], u[1], v[1]))
        for r, (y, v) in enumerate(zip(upward, _cores(upward), strict=True))
        for c, (x, u) in enumerate(zip(across, _cores(across), strict=True))
    ]
    shapely.prepare(metal)
    shown = shapely.intersects(metal, [shapely.box(*core) for *_, core in cells])
    tiles = [Tile(*cell) for cell, seen in zip(cells, shown.tolist(), strict=True) if seen]
    return Tiling(len(upward), len(across), tuple(sorted(tiles, key=lambda t: (t.row, t.column))))


def with_marks(tiling: Tiling, avoid: Any = None) -> Tiling:
    """Register marks on every joint, where they meet least of what they are to avoid.

    :param avoid: A geometry of shapely, or None
    """
    found: list[Point] = []
    for tile in tiling.tiles:
        for edge, other in tiling.beside(tile).items():
            if edge in ("left", "above"):
                continue
            upright = edge == "right"
            k = 1 if upright else 0
            low, high = max(tile.core[k], other.core[k]), min(tile.core[k + 2], other.core[k + 2])
            at = tile.core[2] if upright else tile.core[1]
            places = _clear_places(low, high, at, upright, avoid)
            found += [(at, s) if upright else (s, at) for s in places]
    return replace(tiling, marks=tuple(found))


def _clear_places(low: float, high: float, at: float, upright: bool, avoid: Any) -> list[float]:
    """Two places along a joint."""
    import shapely

    size, found = high - low, []
    for wanted in MARKS_AT:
        shifts = sorted((k * 0.02 for k in range(-7, 8)), key=abs)
        places = [low + (wanted + shift) * size for shift in shifts]
        if avoid is None:
            found.append(places[0])
            continue
        spots = shapely.points([(at, s) if upright else (s, at) for s in places])
        room = shapely.distance(spots, avoid).tolist()
        free = [s for s, r in zip(places, room, strict=True) if r > 1.5 * MARK]
        found.append(free[0] if free else places[max(range(len(places)), key=room.__getitem__)])
    return found


def mirrored(tiling: Tiling, width: float) -> Tiling:
    """The same sheets seen from the other face: left is right.

    :param tiling: as seen from the near face
    :param width: of the blank: what lies at x comes to lie at ``width`` - x [mm]
    :returns: columns counted from the left again
    """

    def turned(box: Box) -> Box:
        return (width - box[2], box[1], width - box[0], box[3])

    tiles = [Tile(t.row, tiling.columns + 1 - t.column, turned(t.window), turned(t.core)) for t in tiling.tiles]
    marks = tuple((width - x, y) for x, y in tiling.marks)
    return replace(tiling, tiles=tuple(sorted(tiles, key=lambda t: (t.row, t.column))), marks=marks)


def diagonals(outline: Loop) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """Two long diagonals from corner to corner of an outline, to measure once sheets are taped.

    :returns: corners of the first, rising to the right, and of the second, falling [mm]

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
