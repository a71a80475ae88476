"""A flat on paper: scale, upright or turned by a quarter, its length cut short between break lines.

kept       a stretch of the flat along the axis that is cut, and where it begins on paper
left out   what lies between two kept stretches: nothing but straight parallel lines where that can be

The datum corner lies at the lower left, or at the upper left where the flat is turned clockwise. Scales are those
of ISO 5455. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Loop, Piece, Point
from flatgen.definition.solid.view_lines import Span
from flatgen.paper.drawing.ink import Ink
from flatgen.paper.stage_pictures.view import Box

SCALES = (10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100)
"""ISO 5455, memory: those that a shop sheet uses."""
GAP = 6.0
"""Between two kept stretches on paper [mm]."""
AROUND = 4.0
"""Kept about whatever is not a straight parallel line, on paper [mm]."""
ZIGZAG = 1.6
"""Half the height of the zigzag of a break line [mm]."""
CHORDS = 0.02
"""Arcs that a cut parts are drawn in chords, no farther from them on paper [mm]."""


@dataclass(frozen=True)
class Placing:
    """Where the points of a flat lie on paper [mm].

    ``kept``: (from, to, where it begins on paper) along the flat's ``axis``. ``anything``: more than straight parallel
    lines may be left out.
    """

    scale: float
    turned: bool
    size: tuple[float, float]
    axis: int
    kept: tuple[tuple[float, float, float], ...]
    anything: bool = False

    @property
    def wide(self) -> float:
        """Width on paper [mm]."""
        return self.reach(1 if self.turned else 0)

    @property
    def tall(self) -> float:
        """Height on paper [mm]."""
        return self.reach(0 if self.turned else 1)

    @property
    def cut(self) -> bool:
        """Whether stretches are left out."""
        return len(self.kept) > 1

    def reach(self, axis: int) -> float:
        """Extent of a flat axis on paper [mm]."""
        low, high, start = self.kept[-1]
        return start + (high - low) * self.scale if axis == self.axis else self.size[axis] * self.scale

    def along(self, axis: int, value: float) -> float | None:
        """Distance on paper from the datum corner of a distance on the flat [mm]; None where it is left out."""
        if axis != self.axis:
            return value * self.scale
        first, last = self.kept[0], self.kept[-1]
        for low, high, start in self.kept:
            if (low <= value or low == first[0]) and (value <= high or high == last[1]):
                return start + (value - low) * self.scale
        return None

    def point(self, point: Point) -> Point | None:
        """A point of the flat on paper [mm]; None where it is left out."""
        x, y = self.along(0, point[0]), self.along(1, point[1])
        if x is None or y is None:
            return None
        return (y, self.tall - x) if self.turned else (x, y)

    def way(self, way: Point) -> Point:
        """A direction of the flat as it lies on paper."""
        return (way[1], -way[0]) if self.turned else way

    def stretches(self, start: Point, end: Point) -> list[tuple[Point, Point]]:
        """What of a line of the flat is kept, on paper [mm]."""
        parts = []
        line, a, b = Line(start, end), start[self.axis], end[self.axis]
        for low, high, begin in self.kept:
            shares = (0.0, 1.0)
            if self.cut and abs(b - a) > 1e-9:
                one, two = sorted(((low - a) / (b - a), (high - a) / (b - a)))
                shares = (max(0.0, one), min(1.0, two))
            elif self.cut and not low <= a <= high:
                continue
            if shares[1] - shares[0] > 1e-9:
                ends = [self._within(line.at(s), low, begin) for s in shares]
                parts.append((ends[0], ends[1]))
        return parts

    def _within(self, point: Point, low: float, begin: float) -> Point:
        x, y = (
            begin + (v - low) * self.scale if k == self.axis else v * self.scale
            for k, v in enumerate(point)
        )  # fmt: skip
        return (y, self.tall - x) if self.turned else (x, y)

    def draw(self, loop: Loop, pen: str, ink: Ink) -> None:
        for piece in loop:
            if isinstance(piece, Arc) and not self.cuts_away(_extent(piece)):
                centre = self._within(piece.centre, *self._of(piece))
                first = piece.first - (90.0 if self.turned else 0.0)
                if piece.full:
                    ink.circles.append((pen, centre, piece.radius * self.scale))
                else:
                    ink.arcs.append((pen, centre, piece.radius * self.scale, first, piece.sweep))
            else:
                for a, b in self._parts(piece):
                    ink.lines.append((pen, (a, b), False))

    def _of(self, piece: Piece) -> tuple[float, float]:
        """Where the kept stretch about a piece begins, on the flat and on paper."""
        middle = piece.at(0.5)[self.axis]
        low, _, begin = next(k for k in self.kept if k[0] - 1e-6 <= middle <= k[1] + 1e-6)
        return low, begin

    def _parts(self, piece: Piece) -> list[tuple[Point, Point]]:
        if isinstance(piece, Line):
            return self.stretches(piece.start, piece.end)
        steps = max(8, round(piece.length * self.scale / 0.5))
        points = [piece.at(n / steps) for n in range(steps + 1)]
        return [part for a, b in pairwise(points) for part in self.stretches(a, b)]

    def cuts_away(self, box: Box) -> bool:
        """Whether some of a box of the flat is not drawn."""
        low, high = box[self.axis], box[2 + self.axis]
        return self.cut and not any(k[0] - 1e-6 <= low and high <= k[1] + 1e-6 for k in self.kept)

    def breaks(self) -> list[tuple[Point, Point]]:
        """Break lines across the part, on paper [mm]: two where a stretch is left out."""
        across = self.size[1 - self.axis] * self.scale
        lines: list[tuple[Point, Point]] = []
        for (low, high, begin), (_, _, following) in pairwise(self.kept):
            for at in (begin + (high - low) * self.scale, following):
                ends = ((-2.5, at), (across + 2.5, at)) if self.axis == 1 else ((at, -2.5), (at, across + 2.5))
                lines.append(tuple((y, self.tall - x) if self.turned else (x, y) for x, y in ends))  # type: ignore[arg-type]
        return lines


def place_whole(size: tuple[float, float], scale: float, turned: bool) -> Placing:
    """A flat of this size [mm] with nothing left out."""
    axis = 1 if size[1] >= size[0] else 0
    return Placing(scale, turned, size, axis, ((0.0, size[axis], 0.0),))


def place_shortened(flat: FlatPattern, plain: Placing, room: float, *, anything: bool) -> Placing | None:
    """A flat whose longer side is cut short to ``room`` on paper [mm].

    Only straight parallel lines are left out, or ``anything`` in the middle; None where that is not enough.
    """
    scale, long = plain.scale, plain.size[plain.axis]
    excess = long * scale - room
    if excess <= 0:
        return plain
    if anything:
        ends = (room - GAP) / scale
        if ends * scale < 4 * AROUND:
            return None
        return replace(_leave_out(plain, [(0.6 * ends, long - 0.4 * ends)]), anything=True)
    left: list[Span] = []
    for low, high in sorted(_gaps_along(flat, plain.axis, long, AROUND / scale), key=lambda s: s[0] - s[1]):
        spare = (high - low) * scale - GAP
        if excess <= 1e-9 or spare <= 0:
            break
        cut = min(spare, excess)
        middle, half = (low + high) / 2, (cut + GAP) / scale / 2
        left.append((middle - half, middle + half))
        excess -= cut
    return _leave_out(plain, sorted(left)) if excess <= 1e-9 else None


def _leave_out(plain: Placing, left: Sequence[Span]) -> Placing:
    kept, at, begin = [], 0.0, 0.0
    for low, high in (*left, (plain.size[plain.axis], 0.0)):
        kept.append((at, low, begin))
        begin += (low - at) * plain.scale + GAP
        at = high
    return Placing(plain.scale, plain.turned, plain.size, plain.axis, tuple(kept))


def _gaps_along(flat: FlatPattern, axis: int, long: float, around: float) -> list[Span]:
    """Stretches along an axis where there are straight lines along it and nothing else [mm]."""
    at = 0.0
    gaps = []
    for low, high in sorted((low - around, high + around) for low, high in _spans_in_use(flat, axis)):
        if low > at:
            gaps.append((at, min(low, long)))
        at = max(at, high)
    return [s for s in [*gaps, (at, long)] if s[1] > s[0]]


def _spans_in_use(flat: FlatPattern, axis: int) -> Iterable[Span]:
    for piece in flat.outline:
        box = _extent(piece)
        if isinstance(piece, Line) and abs(box[3 - axis] - box[1 - axis]) <= 1e-6:
            yield from ((p[axis], p[axis]) for p in (piece.start, piece.end))
        else:
            yield (box[axis], box[2 + axis])
    for loop in (*flat.openings, *flat.forms):
        box = loop.box()
        yield (box[axis], box[2 + axis])
    for bend in flat.bends:
        for segment in bend.segments:
            a, b = segment.centre
            low, high = sorted((a[axis], b[axis]))
            yield from ((low, high),) if abs(a[1 - axis] - b[1 - axis]) > 1e-6 else ((low, low), (high, high))


def _extent(piece: Piece) -> Box:
    """Bounding box of an open piece."""
    return Loop((piece, Line(piece.end, piece.start))).box()


def break_line(start: Point, end: Point) -> tuple[Point, ...]:
    """A narrow line with one zigzag in its middle (ISO 128-2, line 01.1 with zigzags; memory)."""
    size = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
    u = ((end[0] - start[0]) / size, (end[1] - start[1]) / size)
    middle = size / 2
    bumps = ((-1.2, 0.0), (-0.5, ZIGZAG), (0.5, -ZIGZAG), (1.2, 0.0))
    places = ((0.0, 0.0), *((middle + s, v) for s, v in bumps), (size, 0.0))
    return tuple((start[0] + s * u[0] - v * u[1], start[1] + s * u[1] + v * u[0]) for s, v in places)
