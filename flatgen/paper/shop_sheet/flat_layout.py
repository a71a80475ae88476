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
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part, near_face
from flatgen.openings.findings import Row
from flatgen.openings.judge import Watched
from flatgen.paper.drawing import text as typeface
from flatgen.paper.drawing.ink import HEAD, SMALL, Ink
from flatgen.paper.drawing.labels import spread
from flatgen.paper.drawing.text import LINE, sound
from flatgen.paper.pages.frame import EXTENSION
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_placing import SCALES, Placing, shortened, whole
from flatgen.paper.shop_sheet.ordinates import Ordinate, Route, Unit, marks_of, ordinates_of, routes_of, rows_of

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
    box); over metal or not; its text; ``zero``: the origin itself.
    """

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


ENOUGH = (25.0, 60.0)
"""Least and most room across the part on paper that is asked for [mm]."""

EACH = 6.0
"""Asked for by each figure across the part [mm]."""

LEGIBLE = 25.0
"""Less across the part on paper is worth leaving out whatever lies in its middle [mm]."""

MOST_IN_FIGURES = 60
"""Openings with figures at the edges; the figures of more are for the table alone."""

KINDS: tuple[tuple[str, ...], ...] = (
    ("corner", "bend", "sight", "opening"), ("corner", "bend", "sight"), ("bend", "sight"), (),
)  # fmt: skip
"""Marks with figures at the edges, by how little room there is; the ends of the blank always have theirs."""

WORTH = (1.0, 0.9, 0.7, 0.2)
"""What a drawing is worth with the figures of ``KINDS``."""

CUT, LEFT_OUT = 0.9, 0.35
"""What it is worth cut short, and with marks in the stretch that is left out."""

CROWDED = 1.0
"""Extension lines of corners and openings nearer to another on paper are not drawn [mm]."""

UNDER, BESIDE = 3.0, 8.0
"""From the drawing to the words under it or beside it [mm]."""

COLUMN = 82.0
"""Width of the words beside it [mm]."""


@dataclass(frozen=True)
class Shown:
    """What is drawn: the flat with its schedule, openings, ways to figures, and the unit.

    ``size`` of the flat [mm]; ``routes`` of lines and ends come before those that the tables have anyway.
    """

    flat: FlatPattern
    size: tuple[float, float]
    schedule: Schedule | None
    rows: tuple[Row, ...]
    routes: tuple[Route, ...]
    unit: Unit
    face: str

    def order(self, label: str) -> int | None:
        """Place of a bend in an order that was checked."""
        if self.schedule is None or not self.schedule.checked:
            return None
        return next((s.number for s in self.schedule.stages if s.crease.label == label), None)


@dataclass(frozen=True)
class Laid:
    """A drawing as it is laid out: its place on paper, the figures on each side, and what is in tables alone.

    ``level`` is the place in ``KINDS``; ``box`` (left, low, right, high) [mm] about all of it from the blank's corner;
    ``beside``: words stand in a column at its right. ``crowded`` are ordinates in tables alone for want of room;
    ``lines_lost``: a line lies in the stretch that is left out.
    """

    placing: Placing
    level: int
    sides: tuple[Side, ...]
    drawn: tuple[Ordinate, ...]
    crowded: tuple[Ordinate, ...]
    box: tuple[float, float, float, float]
    beside: bool = False
    lines_lost: bool = False

    def worth(self, enough: float) -> float:
        """How good a drawing it is: room across the part [mm], up to ``enough``, less what is lost."""
        placing = self.placing
        across = min(placing.size[1 - placing.axis] * placing.scale, enough)
        return across * WORTH[self.level] * (LEFT_OUT if placing.anything else CUT if placing.cut else 1.0)


def shown_of(part: Part, flat: FlatPattern, schedule: Schedule | None, watched: Watched | None, unit: Unit) -> Shown:
    """What a drawing shows, before it is laid out; the arguments are those of ``flat_blocks``."""
    rows = rows_of(flat, watched)
    made = ordinates_of(marks_of(flat, schedule, rows), unit)
    face = words.NEAR_FACE if part.source is None else f"{words.NEAR_FACE}: {near_face(flat)}"
    size = (flat.width, flat.length)
    routes = routes_of(flat, made, split=schedule is not None)
    return Shown(flat, size, schedule, rows, tuple(sorted(routes, key=lambda r: _listed(size, r.ordinate))), unit, face)


def layouts(shown: Shown, wide: float, tall: float) -> list[Laid]:
    """All ways to lay a drawing out in a room [mm], the best first."""
    narrow = 1 if shown.size[0] > shown.size[1] else 0
    figures = sum(r.ordinate.axis == narrow for r in shown.routes)
    enough = min(max(ENOUGH[0], EACH * figures), ENOUGH[1])
    found = [*_tried(shown, wide, tall - UNDER - 4 * LINE * SMALL)]
    if wide > 2 * COLUMN:
        found += [replace(one, beside=True) for one in _tried(shown, wide - COLUMN - BESIDE, tall)]

    def order(laid: Laid) -> tuple[float, ...]:
        placing = laid.placing
        most = sum(high - low for low, high, _ in placing.kept) if placing.anything else placing.scale
        return (-round(laid.worth(enough), 6), -most, placing.turned, laid.beside)

    return sorted(found, key=order)


def _tried(shown: Shown, wide: float, tall: float) -> Iterator[Laid]:
    first = 1 if len(shown.rows) > MOST_IN_FIGURES else 0
    kinds = {m.kind for r in shown.routes for m in r.ordinate.marks}
    for level in range(first, len(KINDS)):
        if level > first and not kinds & (set(KINDS[level - 1]) - set(KINDS[level])):
            continue
        for turned in (False, True):
            for scale in SCALES:
                laid = _laid(shown, whole(shown.size, scale, turned), level)
                if _fits(laid, wide, tall):
                    yield laid
                    break
                yield from _cut_short(shown, laid, wide, tall)


def _fits(laid: Laid, wide: float, tall: float) -> bool:
    left, low, right, high = laid.box
    return right - left <= wide and high - low <= tall


def _cut_short(shown: Shown, laid: Laid, wide: float, tall: float) -> Iterator[Laid]:
    """The same scale with the length cut short, where that makes it fit."""
    placing = laid.placing
    level = placing.axis == (1 if placing.turned else 0)
    left, low, right, high = laid.box
    across = high - low <= tall if level else right - left <= wide
    if not across:
        return
    room = placing.reach(placing.axis) - ((right - left - wide) if level else (high - low - tall)) - 0.1
    narrow = placing.size[1 - placing.axis]
    for anything in (False, True) if narrow * placing.scale >= LEGIBLE else (False,):
        made = shortened(shown.flat, placing, room, anything=anything) if room > 0 else None
        if made is not None:
            once = _laid(shown, made, laid.level)
            if _fits(once, wide, tall) and not (anything and once.lines_lost):
                yield once
                return


def _laid(shown: Shown, placing: Placing, level: int) -> Laid:
    """Figures about a flat that lies so on paper."""
    entries: dict[Name, list[Entry]] = {}
    drawn, crowded, lost = [], [], False
    for route in shown.routes:
        made = _entry(shown, placing, route, level)
        if made is None:
            lost |= placing.along(route.ordinate.axis, route.ordinate.value) is None and not _listed(
                shown.size, route.ordinate
            )
            continue
        some = entries.setdefault(made[0], [])
        if _listed(shown.size, route.ordinate) and any(abs(e.along - made[1].along) < CROWDED for e in some):
            crowded.append(route.ordinate)
        else:
            some.append(made[1])
            drawn.append(route.ordinate)

    def side(name: Name) -> Side:
        origin = placing.tall if placing.turned and name in ("left", "right") else 0.0
        return Side(name, placing.wide, placing.tall, origin, tuple(entries.get(name, ())))

    left, right, below, above = side("left"), side("right"), side("below"), side("above")
    low = min(left.ends[0], right.ends[0])
    high = max(left.ends[1], right.ends[1])
    below = replace(below, level=max(LEVEL, 2.0 - low))
    above = replace(above, level=max(LEVEL, high - placing.tall + 2.0))
    box = (
        min(-max(left.depth, LEVEL), below.ends[0], above.ends[0]),
        min(-max(below.depth, LEVEL), low),
        max(placing.wide + max(right.depth, LEVEL), below.ends[1], above.ends[1]),
        max(placing.tall + max(above.depth, LEVEL), high),
    )
    return Laid(placing, level, (left, right, below, above), tuple(drawn), tuple(crowded), box, lines_lost=lost)


def _listed(size: tuple[float, float], ordinate: Ordinate) -> bool:
    """Whether an ordinate is of corners or openings alone, which the tables have, and no end of the blank."""
    ends = (0.0, size[ordinate.axis])
    lines = any(m.kind in ("bend", "sight") for m in ordinate.marks)
    return not lines and min(abs(ordinate.value - e) for e in ends) >= 1e-6


def _entry(shown: Shown, placing: Placing, route: Route, level: int) -> tuple[Name, Entry] | None:
    """The side and the entry of an ordinate; None where it is for the tables, or left out."""
    ordinate = route.ordinate
    axis, size = ordinate.axis, placing.size
    if not any(m.kind in KINDS[level] for m in ordinate.marks):
        ends = any(m.kind == "corner" for m in ordinate.marks)
        if not (ends and min(abs(ordinate.value), abs(ordinate.value - size[axis])) < 1e-6):
            return None
    along = placing.along(axis, route.spot[axis])
    if along is None:
        return None
    over = placing.along(1 - axis, route.spot[1 - axis])
    out = 0.0 if over is None else -over if route.low else over - placing.reach(1 - axis)
    names: tuple[Name, Name] = ("below", "above") if axis == 0 else ("left", "right")
    if placing.turned:
        names = ("left", "right") if axis == 0 else ("above", "below")
        along = placing.tall - along if axis == 0 else along
    lines = [m for m in ordinate.marks if m.kind in ("bend", "sight") and m.kind in KINDS[level]]
    said = dict.fromkeys(words.name(m.kind, m.name, shown.order(m.name)) for m in lines)
    text = words.entry(ordinate.figure, [sound(one) for one in said])
    entry = Entry(along, out, route.through and over is not None, text, abs(ordinate.value) < 1e-6)
    return names[0 if route.low else 1], entry
