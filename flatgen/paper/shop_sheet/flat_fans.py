"""Figures about a flat on paper: on each side a dimension line from the datum's edge, and kinked leaders to figures.

side       below, above, left, right of the blank's box; ``along`` runs with the box, ``out`` away from it, both in
           paper coordinates from the box's lower left corner
entry      one figure with the names that belong to it: where it begins on the blank, and where it wants to stand
slot       where it stands: as near as may be, in order, so that no two leaders cross

Running dimensioning from one origin after ISO 129-1 (memory): a circle at the origin, an arrowhead at each extension
line, or an oblique stroke where there is no room for one; figures at the ends of the extension lines. Millimetres.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from flatgen.core.flat_pattern import Point
from flatgen.paper.drawing import typeface
from flatgen.paper.drawing.ink import HEAD, SMALL, Ink
from flatgen.paper.drawing.leaders import spread
from flatgen.paper.pages.pens import EXTENSION

Name = Literal["below", "above", "left", "right"]
LEVEL = 6.0
"""From the blank's box to the dimension line."""
PITCH = 4.0
"""From figure to figure."""
CLEAR = 0.8
"""From the blank to its extension line."""
STRAIGHT, TAIL, BEFORE = 1.6, 1.2, 0.8
"""Of an extension line beyond the dimension line; of a leader before its figure; from there to the figure."""
STEEP = 0.45
"""Depth of a kink per largest shift in it."""
KINK = (3.0, 16.0)
"""Least and largest depth of a kink."""
ORIGIN = 1.0
"""Radius of the circle at the origin."""
STROKE = 0.8
"""Half of an oblique stroke in x and in y."""


@dataclass(frozen=True)
class Entry:
    """A figure: where it wants to stand, ``along``; where its extension line begins, ``out`` (under 0: within the
    box); over metal or not; its text; ``zero``: the origin itself."""

    along: float
    out: float
    through: bool
    text: str
    zero: bool = False


@dataclass(frozen=True)
class Side:
    """The figures of one side. ``wide`` and ``tall`` of the box; ``origin`` along; ``level`` of the dimension line."""

    name: Name
    wide: float
    tall: float
    origin: float
    entries: tuple[Entry, ...] = ()
    level: float = LEVEL
    slots: tuple[float, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "entries", tuple(sorted(self.entries, key=lambda e: e.along)))
        object.__setattr__(self, "slots", slots([e.along for e in self.entries], self.run))

    @property
    def run(self) -> float:
        """Extent of the box along the side."""
        return self.wide if self.name in ("below", "above") else self.tall

    @property
    def kink(self) -> float:
        """Depth of the zone in which leaders move aside; 0 where none does."""
        shift = max((abs(s - e.along) for s, e in zip(self.slots, self.entries, strict=True)), default=0.0)
        return 0.0 if shift < 0.05 else min(max(KINK[0], STEEP * shift), KINK[1])

    @property
    def beyond(self) -> float:
        """Where figures begin, ``out``."""
        return self.level + STRAIGHT + self.kink + TAIL + BEFORE

    @property
    def depth(self) -> float:
        """How far it reaches out, 0 without entries."""
        return self.beyond + max(width(e.text) for e in self.entries) if self.entries else 0.0

    @property
    def ends(self) -> tuple[float, float]:
        """How far it reaches along: that of the box at least."""
        places = [p for s in self.slots for p in (s - PITCH / 2, s + PITCH / 2)]
        return min([0.0, *places]), max([self.run, *places])

    def at(self, along: float, out: float) -> Point:
        """A place of this side on paper."""
        if self.name == "below":
            return (along, -out)
        if self.name == "above":
            return (along, self.tall + out)
        return (-out, along) if self.name == "left" else (self.wide + out, along)


def slots(wanted: Sequence[float], run: float) -> tuple[float, ...]:
    """Places for figures that want to stand at sorted places along a box of this ``run`` [mm].

    They stay beside the box where it is long enough for them, else they go as far beyond either end of it.

    >>> slots([0.0, 1.0, 30.0], 30.0)
    (0.0, 4.0, 30.0)
    """
    needed = PITCH * max(0, len(wanted) - 1)
    low, high = (0.0, run) if needed <= run else ((run - needed) / 2, (run + needed) / 2)
    free = spread(list(wanted), PITCH)
    # bounds move a least-squares spread by clipping it once the least distances are taken off
    return tuple(min(max(s - n * PITCH, low), high - needed) + n * PITCH for n, s in enumerate(free))


@functools.lru_cache(maxsize=4096)
def width(text: str) -> float:
    """How far a figure runs [mm]."""
    return typeface.width(text, SMALL)


def leader(side: Side, number: int) -> tuple[Point, ...]:
    """The leader of an entry from the dimension line on to its figure."""
    entry, slot = side.entries[number], side.slots[number]
    first, last = side.level + STRAIGHT, side.beyond - BEFORE
    points = [side.at(entry.along, side.level), side.at(slot, last)]
    if side.kink:
        points[1:1] = [side.at(entry.along, first), side.at(slot, first + side.kink)]
    return tuple(points)


def straight(side: Side, entry: Entry) -> tuple[Point, Point]:
    """The extension line of an entry from the blank to the dimension line."""
    begin = entry.out if entry.through else entry.out + CLEAR
    return side.at(entry.along, min(begin, side.level)), side.at(entry.along, side.level)


def draw(side: Side, ink: Ink) -> None:
    """Dimension line with its marks, leaders and figures; extension lines are drawn by whoever knows what they meet."""
    if not side.entries:
        return
    for number, entry in enumerate(side.entries):
        ink.lines.append((EXTENSION, leader(side, number), False))
        _figure(side, side.slots[number], entry.text, ink)
    ink.circles.append((EXTENSION, side.at(side.origin, side.level), ORIGIN))
    away = [e.along for e in side.entries if not e.zero]
    forward = 1.0 if side.origin < side.run / 2 else -1.0
    if forward < 0:
        away.reverse()
    if away and forward * (away[-1] - side.origin) > ORIGIN:
        ink.line(EXTENSION, side.at(side.origin + forward * ORIGIN, side.level), side.at(away[-1], side.level))
    before = side.origin + forward * ORIGIN
    for place in away:
        tip = side.at(place, side.level)
        if forward * (place - before) >= HEAD + STROKE:
            back = side.at(place - forward, side.level)
            ink.head(tip, (tip[0] - back[0], tip[1] - back[1]))
        else:
            ink.line(EXTENSION, (tip[0] - STROKE, tip[1] - STROKE), (tip[0] + STROKE, tip[1] + STROKE))
        before = place


def _figure(side: Side, slot: float, text: str, ink: Ink) -> None:
    """A figure in line with its leader, read from the bottom or from the right."""
    back = width(text) if side.name in ("below", "left") else 0.0
    x, y = side.at(slot, side.beyond + back)
    if side.name in ("below", "above"):
        ink.text(text, x + SMALL / 2, y, SMALL, 90.0)
    else:
        ink.text(text, x, y - SMALL / 2, SMALL)
