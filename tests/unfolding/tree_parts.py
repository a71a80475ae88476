"""A part shaped as a tree, and its flat by construction. Shares no code with the unfolder.

A part is planned in the flat: plates joined by hinges, each hinge an interval [s0, s1] of a plate's straight side, with
local coordinates s along the side and v across it (v = 0 the first tangent line, v = allowance the second).
Windows are rectangles in (s, v), with round ends where they reach into a plate; one that spans the whole zone parts
a bend into segments. Millimetres and degrees; pieces are those of ``flatgen.core.flat_pattern``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Piece, Point, Way


@dataclass(frozen=True)
class Window:
    """An opening over a zone: s from ``start`` to ``end``, v from ``low`` to ``high``; ``rounded`` ends on plates."""

    start: float
    end: float
    low: float
    high: float
    rounded: bool


@dataclass(frozen=True)
class Relief:
    """A notch beside the end of a bend, cut into the plate that carries it."""

    width: float
    depth: float
    rounded: bool


@dataclass
class Hinge:
    """A bend on a side: ``origin`` is where s = 0 and v = 0."""

    origin: Point
    along: Point
    start: float
    end: float
    angle: float
    way: Way
    radius: float
    allowance: float
    windows: tuple[Window, ...] = ()
    reliefs: tuple[Relief | None, Relief | None] = (None, None)
    parent: Plate | None = None
    child: Plate | None = None

    @property
    def across(self) -> Point:
        return (self.along[1], -self.along[0])

    def at(self, s: float, v: float) -> Point:
        (ox, oy), (ax, ay), (nx, ny) = self.origin, self.along, self.across
        return (ox + s * ax + v * nx, oy + s * ay + v * ny)

    def parts(self, window: Window) -> bool:
        return window.low <= 0 and window.high >= self.allowance

    @property
    def spans(self) -> list[tuple[float, float]]:
        """The segments: where along the side the zone runs through from tangent line to tangent line."""
        gaps = [(w.start, w.end) for w in self.windows if self.parts(w)]
        edges = [self.start, *(x for gap in gaps for x in gap), self.end]
        return list(zip(edges[::2], edges[1::2], strict=True))


@dataclass
class Side:
    """A straight piece of a plate's free boundary, with the hinges on it in order."""

    start: Point
    end: Point
    hinges: list[Hinge] = field(default_factory=list)

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)


@dataclass
class Plate:
    """``path`` is its free boundary, counter-clockwise, from the near end of its own hinge to the far end."""

    path: list[Side | Arc]
    placed: np.ndarray
    base: Hinge | None = None
    holes: list[tuple[Piece, ...]] = field(default_factory=list)
    level: int = 0


@dataclass(frozen=True)
class TreeBend:
    angle: float
    way: Way
    inside_radius: float
    allowance: float
    segments: tuple[tuple[Line, Line, Line], ...]
    """Centre line and both tangent lines of each segment."""


@dataclass(frozen=True)
class TreeFlat:
    """What the unfolder must find, seen from the side that the part was built on."""

    thickness: float
    k: float
    outline: tuple[Piece, ...]
    openings: tuple[tuple[Piece, ...], ...]
    bends: tuple[TreeBend, ...]


class Pen:
    """Draws a chain of pieces."""

    def __init__(self, at: Point) -> None:
        self.at, self.pieces = at, []

    def to(self, *points: Point) -> None:
        for point in points:
            if math.dist(self.at, point) > 1e-9:
                self.pieces.append(Line(self.at, point))
                self.at = point

    def half_round(self, end: Point) -> None:
        """Half a circle, clockwise, to ``end``."""
        centre = ((self.at[0] + end[0]) / 2, (self.at[1] + end[1]) / 2)
        first = math.degrees(math.atan2(self.at[1] - centre[1], self.at[0] - centre[0]))
        self.pieces.append(Arc(centre, math.dist(self.at, end) / 2, first, -180.0))
        self.at = end

    def follow(self, piece: Arc) -> None:
        self.pieces.append(piece)
        self.at = piece.end


def allowance_of(angle: float, radius: float, thickness: float, k: float) -> float:
    """A pi/180 (r + K t) [mm]."""
    return angle * math.pi / 180 * (radius + k * thickness)


def _relief(pen: Pen, hinge: Hinge, first: bool) -> None:
    """From the side into the notch and to the end of the bend, or from there and out again."""
    relief = hinge.reliefs[0 if first else 1]
    if relief is None:
        pen.to(hinge.at(hinge.start if first else hinge.end, 0.0))
        return
    low = hinge.start - relief.width if first else hinge.end
    high = low + relief.width
    depth = -relief.depth
    pen.to(hinge.at(low, 0.0), hinge.at(low, depth))
    (pen.half_round if relief.rounded else pen.to)(hinge.at(high, depth))
    pen.to(hinge.at(high, 0.0))


def plate_outline(plate: Plate) -> tuple[Piece, ...]:
    """The boundary of one plate alone, notched where windows reach into it."""
    first = plate.path[0]
    pen = Pen(first.start)
    for part in plate.path:
        if isinstance(part, Arc):
            pen.follow(part)
            continue
        for hinge in part.hinges:
            _relief(pen, hinge, True)
            for w in (w for w in hinge.windows if w.low < 0):
                pen.to(hinge.at(w.start, 0.0), hinge.at(w.start, w.low))
                (pen.half_round if w.rounded else pen.to)(hinge.at(w.end, w.low))
                pen.to(hinge.at(w.end, 0.0))
            _relief(pen, hinge, False)
        pen.to(part.end)
    if plate.base is not None:
        base, v = plate.base, plate.base.allowance
        for w in (w for w in reversed(base.windows) if w.high > v):
            pen.to(base.at(w.end, v), base.at(w.end, w.high))
            (pen.half_round if w.rounded else pen.to)(base.at(w.start, w.high))
            pen.to(base.at(w.start, v))
        pen.to(first.start)
    return tuple(pen.pieces)


def _run(pen: Pen, plate: Plate) -> None:
    """Along a plate's free boundary, and around all that hangs on it."""
    for part in plate.path:
        if isinstance(part, Arc):
            pen.follow(part)
            continue
        for hinge in part.hinges:
            _relief(pen, hinge, True)
            pen.to(hinge.at(hinge.start, hinge.allowance))
            assert hinge.child is not None
            pen.to(hinge.child.path[0].start)
            _run(pen, hinge.child)
            pen.to(hinge.at(hinge.end, hinge.allowance), hinge.at(hinge.end, 0.0))
            _relief(pen, hinge, False)
        pen.to(part.end)


def joined(pieces: list[Piece]) -> tuple[Piece, ...]:
    """A closed chain with its collinear lines made one."""
    chain = list(pieces)
    n = 0
    while n < len(chain):
        one, two = chain[n - 1], chain[n]
        if isinstance(one, Line) and isinstance(two, Line) and len(chain) > 2 and _straight_on(one, two):
            chain[n - 1] = Line(one.start, two.end)
            del chain[n]
            n = max(0, n - 1)
        else:
            n += 1
    return tuple(chain)


def _straight_on(one: Line, two: Line) -> bool:
    (x0, y0), (x1, y1), (x2, y2) = one.start, one.end, two.end
    turn = (x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1)
    ahead = (x1 - x0) * (x2 - x1) + (y1 - y0) * (y2 - y1)
    return ahead > 0 and abs(turn) < 1e-9 * one.length * two.length


def _window_loop(hinge: Hinge, w: Window) -> tuple[Piece, ...]:
    pen = Pen(hinge.at(w.start, w.low))
    (pen.half_round if w.rounded and w.low < 0 else pen.to)(hinge.at(w.end, w.low))
    pen.to(hinge.at(w.end, w.high))
    (pen.half_round if w.rounded and w.high > hinge.allowance else pen.to)(hinge.at(w.start, w.high))
    pen.to(hinge.at(w.start, w.low))
    return joined(pen.pieces)


@dataclass
class Tree:
    """A grown part: plates with the root first, and its hinges."""

    thickness: float
    k: float
    plates: list[Plate]
    hinges: list[Hinge]

    def flat(self) -> TreeFlat:
        root = self.plates[0]
        pen = Pen(root.path[0].start)
        _run(pen, root)
        windows = [_window_loop(h, w) for h in self.hinges for w in h.windows]
        holes = [hole for plate in self.plates for hole in plate.holes]
        bends = tuple(_bend_of(h) for h in self.hinges)
        return TreeFlat(self.thickness, self.k, joined(pen.pieces), (*windows, *holes), bends)


def _bend_of(h: Hinge) -> TreeBend:
    def line(span: tuple[float, float], v: float) -> Line:
        return Line(h.at(span[0], v), h.at(span[1], v))

    segments = tuple((line(s, h.allowance / 2), line(s, 0.0), line(s, h.allowance)) for s in h.spans)
    return TreeBend(h.angle, h.way, h.radius, h.allowance, segments)


def swung(hinge: Hinge, thickness: float) -> np.ndarray:
    """Carries the flat beyond a hinge, from where it lies in the flat to where the bend brings it (4 x 4)."""
    (ox, oy), (nx, ny), up = hinge.origin, hinge.across, hinge.way == "up"
    c, s = math.cos(math.radians(hinge.angle)), math.sin(math.radians(hinge.angle)) * (1 if up else -1)
    z = thickness + hinge.radius if up else -hinge.radius
    n, a, e = np.array([nx, ny, 0.0]), np.array([*hinge.along, 0.0]), np.array([0.0, 0.0, 1.0])
    turn = np.outer(a, a) + np.outer(c * n + s * e, n) + np.outer(c * e - s * n, e)
    pivot = np.array([ox, oy, z])
    move = np.eye(4)
    move[:3, :3] = turn
    move[:3, 3] = pivot - turn @ (pivot + hinge.allowance * n)
    return move
