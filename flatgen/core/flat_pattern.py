"""A flat pattern (lines, arcs and loops, panels, bends), and what an unfolder is asked with (allowances, a view).

x and y are those of the flat [mm], angles in degrees. An axis and a view are in the coordinates of the formed part.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

Point: TypeAlias = tuple[float, float]
Triple: TypeAlias = tuple[float, float, float]
Matrix: TypeAlias = NDArray[np.float64]
Way = Literal["up", "down"]
Axis: TypeAlias = tuple[Triple, Triple]
"""A point on the axis of a bend, and its unit direction."""

_Move: TypeAlias = tuple[float, float, float, float, float, float]
"""A rigid move of the plane as plain numbers: its four directions, then its shift."""


@dataclass(frozen=True)
class Line:
    """Straight piece from ``start`` to ``end`` [mm]."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)

    def at(self, share: float) -> Point:
        """Point at a share 0..1 of the way [mm]."""
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share)

    def moved(self, move: Matrix) -> Line:
        return self._moved(_plain(move))

    def _moved(self, m: _Move) -> Line:
        return Line(_carried(m, self.start), _carried(m, self.end))

    def reversed(self) -> Line:
        return Line(self.end, self.start)

    def area_term(self) -> float:
        """Its share of the enclosed area by Green's theorem [mm2]."""
        return 0.5 * (self.start[0] * self.end[1] - self.end[0] * self.start[1])


@dataclass(frozen=True)
class Arc:
    """Circular piece: ``centre``, ``radius`` [mm], from angle ``first`` over ``sweep`` [deg], positive
    counter-clockwise; +360 or -360 is a full circle.
    """

    centre: Point
    radius: float
    first: float
    sweep: float

    @property
    def start(self) -> Point:
        return self.at(0.0)

    @property
    def end(self) -> Point:
        return self.at(1.0)

    @property
    def full(self) -> bool:
        return abs(abs(self.sweep) - 360.0) < 1e-9

    @property
    def length(self) -> float:
        return self.radius * math.radians(abs(self.sweep))

    def at(self, share: float) -> Point:
        """Point at a share 0..1 of the way [mm]."""
        angle = math.radians(self.first + self.sweep * share)
        return (self.centre[0] + self.radius * math.cos(angle), self.centre[1] + self.radius * math.sin(angle))

    def moved(self, move: Matrix) -> Arc:
        return self._moved(_plain(move))

    def _moved(self, m: _Move) -> Arc:
        turn = math.degrees(math.atan2(m[2], m[0]))
        if m[0] * m[3] - m[1] * m[2] > 0:
            return Arc(_carried(m, self.centre), self.radius, self.first + turn, self.sweep)
        return Arc(_carried(m, self.centre), self.radius, turn - self.first, -self.sweep)

    def reversed(self) -> Arc:
        return Arc(self.centre, self.radius, self.first + self.sweep, -self.sweep)

    def area_term(self) -> float:
        """Its share of the enclosed area by Green's theorem [mm2]."""
        s, (x0, y0), (x1, y1) = math.radians(self.sweep), self.start, self.end
        beyond = s - math.sin(s) if abs(s) > 0.02 else s**3 / 6 * (1 - s * s / 20 * (1 - s * s / 42))
        return 0.5 * (x0 * y1 - x1 * y0 + self.radius**2 * beyond)  # chord and segment: steady for flat arcs


Piece: TypeAlias = Line | Arc


@dataclass(frozen=True)
class Loop:
    """Closed chain of lines and arcs, each starting where the one before ends."""

    pieces: tuple[Piece, ...]

    def __post_init__(self) -> None:
        if not self.pieces:
            raise ValueError("an empty loop")

    def __iter__(self) -> Iterator[Piece]:
        return iter(self.pieces)

    @property
    def signed_area(self) -> float:
        """Positive counter-clockwise [mm2]."""
        return math.fsum(p.area_term() for p in self.pieces)

    @property
    def area(self) -> float:
        return abs(self.signed_area)

    @property
    def perimeter(self) -> float:
        return math.fsum(p.length for p in self.pieces)

    @property
    def largest_gap(self) -> float:
        """Largest distance from the end of a piece to the start of the next [mm]."""
        following = self.pieces[1:] + self.pieces[:1]
        return max(math.dist(a.end, b.start) for a, b in zip(self.pieces, following, strict=True))

    def moved(self, move: Matrix) -> Loop:
        m = _plain(move)
        loop = Loop(tuple(p._moved(m) for p in self.pieces))
        return loop if m[0] * m[3] - m[1] * m[2] > 0 else loop.reversed()

    def reversed(self) -> Loop:
        return Loop(tuple(p.reversed() for p in reversed(self.pieces)))

    def points(self, sagitta: float = 0.01) -> list[Point]:
        """Vertices, arcs in chords no farther than ``sagitta`` from the arc [mm]; not closed, at least three."""
        counts = [1 if isinstance(p, Line) else _chords(p, sagitta) for p in self.pieces]
        if sum(counts) < 3:  # smaller than the sagitta: a circle, a sliver of an arc and its chord, a line and back
            return [p.at(n / 8) for p in self.pieces for n in range(8)]
        vertices: list[Point] = []
        for piece, steps in zip(self.pieces, counts, strict=True):
            vertices += _stations(piece, steps) if isinstance(piece, Arc) else [piece.start]
        return vertices

    def box(self) -> tuple[float, float, float, float]:
        """Exact bounding box (x0, y0, x1, y1) [mm]."""
        extremes = [p.start for p in self.pieces]
        for piece in self.pieces:
            if isinstance(piece, Arc):
                extremes += [piece.at(s) for s in _quadrants(piece)]
        xs, ys = zip(*extremes, strict=True)
        return (min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True)
class Region:
    """A piece of sheet: its outline and the openings inside it."""

    outline: Loop
    openings: tuple[Loop, ...] = ()

    @property
    def area(self) -> float:
        """With the openings taken out [mm2]."""
        return self.outline.area - math.fsum(o.area for o in self.openings)

    def moved(self, move: Matrix) -> Region:
        return Region(self.outline.moved(move), tuple(o.moved(move) for o in self.openings))


@dataclass(frozen=True)
class Panel:
    """A flat part of the sheet; where its two faces differ, that of the near face.

    ``outline`` and ``openings``: its own region in the flat, the largest where slots or cuts part it; ``others``: the
    further pieces. ``placed`` (4 x 4) carries a point (x, y, z) of the flat to the formed part; z = 0 is the far face.
    ``name``: the user's. ``bare``: a line and back, of no area and without regions, where one curve follows another
    with no flat between or a rolled leg ends in its curve.
    """

    outline: Loop
    openings: tuple[Loop, ...]
    placed: Matrix
    name: str | None = None
    others: tuple[Region, ...] = ()
    bare: bool = False

    @property
    def regions(self) -> tuple[Region, ...]:
        """All its pieces, the largest first."""
        return () if self.bare else (Region(self.outline, self.openings), *self.others)


@dataclass(frozen=True)
class Segment:
    """One uninterrupted piece of a bend zone, with the bend line and the tangent lines across it."""

    zone: Loop
    openings: tuple[Loop, ...]
    centre: tuple[Point, Point]
    tangents: tuple[tuple[Point, Point], tuple[Point, Point]]


@dataclass(frozen=True)
class Bend:
    """A bend between the panels of index ``first`` and ``second``.

    ``origin`` lies on the tangent line of ``first``; ``along`` (unit) runs so that the zone and ``second`` lie to the
    *right* of it: across = (along.y, -along.x). ``allowance`` is the width of the zone, ``k`` = (allowance / angle in
    radians - inside_radius) / thickness. ``segments``: more than one where slots interrupt the bend. ``axis``: in the
    formed part.
    """

    first: int
    second: int
    angle: float
    way: Way
    inside_radius: float
    allowance: float
    k: float
    method: str
    origin: Point
    along: Point
    axis: Axis
    segments: tuple[Segment, ...]
    label: str = ""
    order: int | None = None

    @property
    def across(self) -> Point:
        return (self.along[1], -self.along[0])

    @property
    def centre(self) -> tuple[Point, Point]:
        """The bend line from one end to the other, through all segments that it crosses."""
        crossed = [s.centre for s in self.segments if math.dist(*s.centre) > 0]
        return _span(crossed or [s.centre for s in self.segments], self.along)

    @property
    def tangents(self) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
        """The two tangent lines, that of ``first`` first."""
        first, second = zip(*(s.tangents for s in self.segments), strict=True)
        return (_span(first, self.along), _span(second, self.along))

    @property
    def length(self) -> float:
        """Metal along the bend line, slots left out [mm]."""
        return math.fsum(math.dist(*s.centre) for s in self.segments)


@dataclass(frozen=True)
class FaceDifference:
    """By how much [mm] at most, and where, the two faces of the sheet do not end at one line."""

    largest: float
    at: Point


@dataclass(frozen=True)
class FlatPattern:
    """The blank: outline, openings, and the tree of panels and bends behind them.

    ``outline`` runs counter-clockwise, ``openings`` clockwise, collinear pieces joined into one. ``panels[root]`` is
    where the development began. Where the faces of the sheet differ, metal is left on (the larger outline, the
    smaller opening): ``outline_difference``, and ``opening_differences`` with the index of the opening.
    ``fitted`` [mm]: bound to which curves that are neither lines nor arcs are drawn, 0 without such. ``volume_outside``
    [mm3]: what the solid has more (or less) than its two faces bound, 0 for straight walls. ``forms``: outlines of
    stretched forms (dimples, louvres) that the flat leaves out: to be marked, never cut.
    """

    thickness: float
    outline: Loop
    openings: tuple[Loop, ...]
    panels: tuple[Panel, ...]
    bends: tuple[Bend, ...]
    root: int = 0
    outline_difference: FaceDifference | None = None
    opening_differences: tuple[tuple[int, FaceDifference], ...] = ()
    fitted: float = 0.0
    volume_outside: float = 0.0
    forms: tuple[Loop, ...] = ()

    def __post_init__(self) -> None:
        if len(self.bends) != len(self.panels) - 1:
            raise ValueError(f"{len(self.panels)} panels and {len(self.bends)} bends are no tree")

    @property
    def box(self) -> tuple[float, float, float, float]:
        return self.outline.box()

    @property
    def width(self) -> float:
        """Size of the blank in x [mm]."""
        return self.box[2] - self.box[0]

    @property
    def length(self) -> float:
        """Size of the blank in y [mm]."""
        return self.box[3] - self.box[1]

    @property
    def area(self) -> float:
        """Area with the openings taken out [mm2]."""
        return self.outline.area - math.fsum(o.area for o in self.openings)

    def moved(self, move: Matrix) -> FlatPattern:
        """Turned and shifted within its plane by a proper rigid move (3 x 3)."""
        lift = np.eye(4)
        lift[:2, :2], lift[:2, 3] = move[:2, :2], move[:2, 2]
        back: Matrix = np.asarray(np.linalg.inv(lift), dtype=np.float64)
        return replace(
            self,
            outline=self.outline.moved(move),
            openings=tuple(o.moved(move) for o in self.openings),
            panels=tuple(_moved_panel(p, move, back) for p in self.panels),
            bends=tuple(_moved_bend(b, move) for b in self.bends),
            outline_difference=_moved_difference(self.outline_difference, move) if self.outline_difference else None,
            opening_differences=tuple((n, _moved_difference(d, move)) for n, d in self.opening_differences),
            forms=tuple(f.moved(move) for f in self.forms),
        )

    def with_bends(self, bends: tuple[Bend, ...]) -> FlatPattern:
        return replace(self, bends=bends)


@dataclass(frozen=True)
class BendAllowance:
    """Developed ``length`` [mm] of one bend, its effective ``k``, and the method in words."""

    length: float
    k: float
    method: str


AllowanceRule: TypeAlias = Callable[[Axis, float, float], BendAllowance]
"""``rule(axis, inside_radius [mm], angle [deg])``: the allowance of one bend."""


@dataclass(frozen=True)
class View:
    """The near face holds ``point`` and looks along ``normal`` there; x of the flat runs along ``across``."""

    point: Triple
    normal: Triple
    across: Triple


def bend_letters(index: int) -> str:
    """Label of a bend by its index: A to Z, AA, AB, ...

    >>> [bend_letters(i) for i in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def leg_panels(flat: FlatPattern) -> list[int]:
    """Panels of the flat of a section, in the order of its legs: from left to right."""
    boxes = [[r.outline.box() for r in p.regions] for p in flat.panels]
    middles = [min(b[0] for b in some) + max(b[2] for b in some) for some in boxes]
    return sorted(range(len(middles)), key=lambda n: middles[n])


def _plain(move: Matrix) -> _Move:
    (a, b), (c, d) = move[:2, :2].tolist()
    x, y = move[:2, -1].tolist()
    return (a, b, c, d, x, y)


def _carried(m: _Move, point: Point) -> Point:
    x, y = point
    return (m[0] * x + m[1] * y + m[4], m[2] * x + m[3] * y + m[5])


def _apply(move: Matrix, point: Point) -> Point:
    return _carried(_plain(move), point)


def _moved_difference(difference: FaceDifference, move: Matrix) -> FaceDifference:
    return replace(difference, at=_apply(move, difference.at))


def _moved_panel(panel: Panel, move: Matrix, back: Matrix) -> Panel:
    return replace(
        panel,
        outline=panel.outline.moved(move),
        openings=tuple(o.moved(move) for o in panel.openings),
        placed=panel.placed @ back,
        others=tuple(r.moved(move) for r in panel.others),
    )


def _moved_bend(bend: Bend, move: Matrix) -> Bend:
    def ends(line: tuple[Point, Point]) -> tuple[Point, Point]:
        return (_apply(move, line[0]), _apply(move, line[1]))

    along = move[:2, :2] @ np.asarray(bend.along)
    segments = []
    for s in bend.segments:
        tangents = (ends(s.tangents[0]), ends(s.tangents[1]))
        segments.append(Segment(s.zone.moved(move), tuple(o.moved(move) for o in s.openings), ends(s.centre), tangents))
    direction = (float(along[0]), float(along[1]))
    return replace(bend, origin=_apply(move, bend.origin), along=direction, segments=tuple(segments))


def _stations(arc: Arc, steps: int) -> list[Point]:
    """Points of so many equal steps along an arc, its end left out."""
    (x, y), r = arc.centre, arc.radius
    first, step = math.radians(arc.first), math.radians(arc.sweep) / steps
    cos, sin = math.cos, math.sin
    return [(x + r * cos(first + i * step), y + r * sin(first + i * step)) for i in range(steps)]


def _chords(arc: Arc, sagitta: float) -> int:
    reach = 2 * math.acos(max(0.0, 1 - min(sagitta, arc.radius) / arc.radius))
    return max(1, math.ceil(math.radians(abs(arc.sweep)) / reach))


def _quadrants(arc: Arc) -> list[float]:
    low, high = sorted((arc.first, arc.first + arc.sweep))
    turns = range(math.ceil(low / 90), math.floor(high / 90) + 1)
    return [(q * 90 - arc.first) / arc.sweep for q in turns]


def _span(pieces: Iterable[tuple[Point, Point]], along: Point) -> tuple[Point, Point]:
    ends = [p for piece in pieces for p in piece]
    key = lambda p: p[0] * along[0] + p[1] * along[1]  # noqa: E731
    return (min(ends, key=key), max(ends, key=key))
