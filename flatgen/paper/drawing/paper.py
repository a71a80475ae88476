"""What is laid out on a drawing before any file format: texts and strokes, and the sizes that go together.

text        one line of lettering: where its baseline begins, its capital height, the way it runs
stroke      a straight narrow line that belongs to the lettering (leader, dimension line, key)
arrow       a filled arrowhead: tip and the two corners behind it

Heights are those of ISO 3098-1 (series 1.8 2.5 3.5 5 7 10 14 20 mm), line widths those of ISO 128-2 (wide and
narrow as 2 : 1, series of square root of two); memory, not read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.paper.drawing import typeface

HEIGHTS = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0)
WIDE_LINES = (0.5, 0.7, 1.0, 1.4, 2.0)
WIDE_SHARE = 1.0 / 6.0
"""Wide line per height of lettering, by eye: wide and narrow tell apart on a screen."""
LINES_OF_LETTERING = 60.0
"""So many heights of lettering go into the longer side of a blank: readable when fitted to a screen."""

ASCENT, DESCENT = 1.1, 0.3
"""How far letters reach above and below their baseline, in capital heights (DejaVu Sans: brackets, p, g)."""

Kind = Literal["plain", "wide", "near", "far", "tangent", "form", "sight near", "sight far"]


@dataclass(frozen=True)
class Text:
    """One line of lettering: baseline from ``at`` [mm], capital ``height`` [mm], at ``turn`` [deg]."""

    text: str
    at: Point
    height: float
    turn: float = 0.0

    @property
    def width(self) -> float:
        """How far it runs [mm]."""
        return typeface.width(self.text, self.height)

    @property
    def box(self) -> tuple[Point, Point, Point, Point]:
        """Corners of the rectangle that it fills, counter-clockwise [mm]."""
        return box(self.at, self.turn, self.width, self.height, 0.0)


@dataclass(frozen=True)
class Stroke:
    """A straight line of the lettering from ``start`` to ``end`` [mm]; not plain in the key only."""

    start: Point
    end: Point
    kind: Kind = "plain"


@dataclass(frozen=True)
class Arrow:
    """A filled arrowhead, tip first [mm]."""

    corners: tuple[Point, Point, Point]


@dataclass(frozen=True)
class Layout:
    """All that stands on a drawing besides the part itself."""

    texts: tuple[Text, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    arrows: tuple[Arrow, ...] = ()

    def __add__(self, other: Layout) -> Layout:
        return Layout(self.texts + other.texts, self.strokes + other.strokes, self.arrows + other.arrows)

    def points(self) -> list[Point]:
        """Every corner that it reaches [mm]."""
        found = [p for t in self.texts for p in t.box]
        found += [p for s in self.strokes for p in (s.start, s.end)]
        return found + [p for a in self.arrows for p in a.corners]


def lettering_height(flat: FlatPattern) -> float:
    """Height of the lettering for a blank of this size, at least 2.5 [mm]."""
    wanted = max(flat.width, flat.length) / LINES_OF_LETTERING
    return min(HEIGHTS[1:], key=lambda h: abs(math.log(h / max(wanted, 1e-9))))


def line_widths(height: float) -> tuple[float, float]:
    """Wide and narrow line for lettering of ``height`` [mm] -> [mm]."""
    wide = min(WIDE_LINES, key=lambda w: abs(math.log(w / (height * WIDE_SHARE))))
    return wide, wide / 2.0


def box(at: Point, turn: float, width: float, height: float, margin: float) -> tuple[Point, Point, Point, Point]:
    """Corners of a line of lettering with a margin around it, all [mm], ``turn`` [deg]."""
    u, n = directions(turn)
    low, high = -DESCENT * height - margin, ASCENT * height + margin
    places = ((-margin, low), (width + margin, low), (width + margin, high), (-margin, high))
    a, b, c, d = ((at[0] + s * u[0] + v * n[0], at[1] + s * u[1] + v * n[1]) for s, v in places)
    return (a, b, c, d)


def directions(turn: float) -> tuple[Point, Point]:
    """Unit vectors along and upward of lettering that runs at ``turn`` [deg]; exact at right angles."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    cos, sin = (float(round(v)) if abs(v - round(v)) < 1e-12 else v for v in (cos, sin))
    return (cos, sin), (-sin, cos)


def reading_turn(start: Point, end: Point) -> float:
    """Angle at which lettering along a line reads from the bottom or from the right, -90 < turn <= 90 [deg].

    >>> reading_turn((0, 10), (0, 0)), reading_turn((10, 0), (0, 0))
    (90.0, 0.0)
    """
    turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    while turn > 90.0 + 1e-6:
        turn -= 180.0
    while turn <= -90.0 + 1e-6:
        turn += 180.0
    return turn + 0.0
