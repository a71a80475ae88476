"""Where a flat and the figures about it lie on paper: all layouts, the best first.

On each side of the flat runs a dimension line from the datum's edge, with kinked leaders to figures.

side       below, above, left, right of the blank's box; ``along`` runs with the box, ``out`` away from it, both in
           paper coordinates from the box's lower left corner
entry      one figure with the names that belong to it: where it begins on the blank, and where it wants to stand
slot       where it stands: as near to there as may be, in order, so that no two leaders cross

Running dimensioning from one origin after ISO 129-1 (memory): a circle at the origin, an arrowhead at each extension
line, or an oblique stroke where there is no room for one; figures at the ends of the extension lines. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part, near_face
from flatgen.openings.findings import OpeningRow
from flatgen.openings.judge import JudgedOpenings
from flatgen.paper.drawing.ink import HEAD, SMALL, Ink
from flatgen.paper.drawing.labels import spread
from flatgen.paper.drawing.text import LINE, safe_text, text_width
from flatgen.paper.pages.frame import EXTENSION
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_placing import SCALES, Placing, place_shortened, place_whole
from flatgen.paper.shop_sheet.ordinates import Ordinate, Route, find_routes, flat_marks, group_ordinates, opening_rows
from flatgen.paper.shop_sheet.words import SheetUnit
from flatgen.paper.stage_pictures.view import Box

SideName = Literal["below", "above", "left", "right"]
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
ENOUGH = (25.0, 60.0)
"""Least and most room across the part on paper that is asked for [mm]."""
EACH = 6.0
"""Asked for by each figure across the part [mm]."""
LEGIBLE = 25.0
"""Less across the part on paper is worth leaving out whatever lies in its middle [mm]."""
MOST_IN_FIGURES = 60
"""Openings with figures at the edges; the figures of more are for the table alone."""
KINDS_BY_LEVEL: tuple[tuple[str, ...], ...] = (
    ("corner", "bend", "sight", "opening"), ("corner", "bend", "sight"), ("bend", "sight"), (),
)  # fmt: skip
"""Marks with figures at the edges, by how little room there is; the ends of the blank always have theirs."""
WORTH = (1.0, 0.9, 0.7, 0.2)
"""What a drawing is worth with the figures of ``KINDS_BY_LEVEL``."""
CUT_WORTH, LOSS_WORTH = 0.9, 0.35
"""What it is worth cut short, and with marks in the stretch that is left out."""
CROWDED = 1.0
"""Extension lines of corners and openings nearer to another on paper are not drawn [mm]."""
UNDER, BESIDE = 3.0, 8.0
"""From the drawing to the words under it or beside it [mm]."""
COLUMN = 82.0
"""Width of the words beside it [mm]."""


@dataclass(frozen=True)
class Entry:
    """A figure that wants to stand at ``along``; its extension line begins at ``out``, under 0 within the box.

    ``through``: that line runs over metal; ``zero``: the origin itself.
    """

    along: float
    out: float
    through: bool
    text: str
    zero: bool = False


@dataclass(frozen=True)
class Side:
    """The figures of one side. ``wide`` and ``tall`` of the box; ``origin`` along; ``level`` of the dimension line."""

    name: SideName
    wide: float
    tall: float
    origin: float
    entries: tuple[Entry, ...] = ()
    level: float = LEVEL
    slots: tuple[float, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "entries", tuple(sorted(self.entries, key=lambda e: e.along)))
        object.__setattr__(self, "slots", place_slots([e.along for e in self.entries], self.run))

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
        return self.beyond + max(text_width(e.text, SMALL) for e in self.entries) if self.entries else 0.0

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


def place_slots(wanted: Sequence[float], run: float) -> tuple[float, ...]:
    """Places for figures that want to stand at sorted places along a box of this ``run`` [mm].

    They stay beside the box where it is long enough for them, else they go as far beyond either end of it.

    >>> place_slots([0.0, 1.0, 30.0], 30.0)
    (0.0, 4.0, 30.0)
    """
    needed = PITCH * max(0, len(wanted) - 1)
    low, high = (0.0, run) if needed <= run else ((run - needed) / 2, (run + needed) / 2)
    free = spread(list(wanted), PITCH)
    # bounds move a least-squares spread by clipping it once the least distances are taken off
    return tuple(min(max(s - n * PITCH, low), high - needed) + n * PITCH for n, s in enumerate(free))


def leader(side: Side, number: int) -> tuple[Point, ...]:
    """The leader of an entry from the dimension line on to its figure."""
    entry, slot = side.entries[number], side.slots[number]
    first, last = side.level + STRAIGHT, side.beyond - BEFORE
    points = [side.at(entry.along, side.level), side.at(slot, last)]
    if side.kink:
        points[1:1] = [side.at(entry.along, first), side.at(slot, first + side.kink)]
    return tuple(points)


def extension_line(side: Side, entry: Entry) -> tuple[Point, Point]:
    """The extension line of an entry from the blank to the dimension line."""
    begin = entry.out if entry.through else entry.out + CLEAR
    return side.at(entry.along, min(begin, side.level)), side.at(entry.along, side.level)


def draw_side(side: Side, ink: Ink) -> None:
    """Dimension line with its marks, leaders and figures; without extension lines."""
    if not side.entries:
        return
    for number, entry in enumerate(side.entries):
        ink.lines.append((EXTENSION, leader(side, number), False))
        _draw_figure(side, side.slots[number], entry.text, ink)
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


def _draw_figure(side: Side, slot: float, text: str, ink: Ink) -> None:
    """A figure in line with its leader, read from the bottom or from the right."""
    back = text_width(text, SMALL) if side.name in ("below", "left") else 0.0
    x, y = side.at(slot, side.beyond + back)
    if side.name in ("below", "above"):
        ink.text(text, x + SMALL / 2, y, SMALL, 90.0)
    else:
        ink.text(text, x, y - SMALL / 2, SMALL)


@dataclass(frozen=True)
class FlatContent:
    """What is drawn: the flat with its schedule, openings, ways to figures, and the unit.

    ``size`` of the flat [mm]; ``routes`` of lines and ends come before those that the tables have anyway.
    """

    flat: FlatPattern
    size: tuple[float, float]
    schedule: Schedule | None
    rows: tuple[OpeningRow, ...]
    routes: tuple[Route, ...]
    unit: SheetUnit
    face: str

    def order(self, label: str) -> int | None:
        """Place of a bend in an order that was checked."""
        if self.schedule is None or not self.schedule.checked:
            return None
        return next((s.number for s in self.schedule.stages if s.crease.label == label), None)


@dataclass(frozen=True)
class Layout:
    """A drawing as it is laid out: its place on paper, and the figures on each side.

    ``level`` is the place in ``KINDS_BY_LEVEL``; ``box`` [mm] is about all of it, from the blank's corner; ``beside``:
    the caption stands in a column at its right. ``crowded`` are ordinates in tables alone for want of room;
    ``lines_lost``: a line lies in the stretch that is left out.
    """

    placing: Placing
    level: int
    sides: tuple[Side, ...]
    drawn: tuple[Ordinate, ...]
    crowded: tuple[Ordinate, ...]
    box: Box
    beside: bool = False
    lines_lost: bool = False

    def worth(self, enough: float) -> float:
        """How good a drawing it is: room across the part [mm], up to ``enough``, less what is lost."""
        placing = self.placing
        across = min(placing.size[1 - placing.axis] * placing.scale, enough)
        return across * WORTH[self.level] * (LOSS_WORTH if placing.anything else CUT_WORTH if placing.cut else 1.0)


def flat_content(
    part: Part, flat: FlatPattern, schedule: Schedule | None, openings: JudgedOpenings | None, unit: SheetUnit
) -> FlatContent:
    """What a drawing shows, before it is laid out."""
    rows = opening_rows(flat, openings)
    ordinates = group_ordinates(flat_marks(flat, schedule, rows), unit)
    face = words.NEAR_FACE if part.source is None else f"{words.NEAR_FACE}: {near_face(flat)}"
    size = (flat.width, flat.length)
    every = find_routes(flat, ordinates, split=schedule is not None)
    routes = sorted(every, key=lambda r: _in_tables(size, r.ordinate))
    return FlatContent(flat, size, schedule, rows, tuple(routes), unit, face)


def layouts(content: FlatContent, wide: float, tall: float) -> list[Layout]:
    """All ways to lay a drawing out in a room of this size [mm], the best first."""
    narrow = 1 if content.size[0] > content.size[1] else 0
    figures = sum(r.ordinate.axis == narrow for r in content.routes)
    enough = min(max(ENOUGH[0], EACH * figures), ENOUGH[1])
    candidates = [*_candidates(content, wide, tall - UNDER - 4 * LINE * SMALL)]
    if wide > 2 * COLUMN:
        candidates += [replace(one, beside=True) for one in _candidates(content, wide - COLUMN - BESIDE, tall)]

    def order(layout: Layout) -> tuple[float, ...]:
        placing = layout.placing
        most = sum(high - low for low, high, _ in placing.kept) if placing.anything else placing.scale
        return (-round(layout.worth(enough), 6), -most, placing.turned, layout.beside)

    return sorted(candidates, key=order)


def _candidates(content: FlatContent, wide: float, tall: float) -> Iterator[Layout]:
    first = 1 if len(content.rows) > MOST_IN_FIGURES else 0
    kinds = {m.kind for r in content.routes for m in r.ordinate.marks}
    for level in range(first, len(KINDS_BY_LEVEL)):
        if level > first and not kinds & (set(KINDS_BY_LEVEL[level - 1]) - set(KINDS_BY_LEVEL[level])):
            continue
        for turned in (False, True):
            for scale in SCALES:
                layout = _lay_out(content, place_whole(content.size, scale, turned), level)
                if _fits(layout, wide, tall):
                    yield layout
                    break
                yield from _with_length_cut(content, layout, wide, tall)


def _fits(layout: Layout, wide: float, tall: float) -> bool:
    left, low, right, high = layout.box
    return right - left <= wide and high - low <= tall


def _with_length_cut(content: FlatContent, layout: Layout, wide: float, tall: float) -> Iterator[Layout]:
    """The same scale with the length cut short, where that makes it fit."""
    placing = layout.placing
    level = placing.axis == (1 if placing.turned else 0)
    left, low, right, high = layout.box
    across = high - low <= tall if level else right - left <= wide
    if not across:
        return
    room = placing.reach(placing.axis) - ((right - left - wide) if level else (high - low - tall)) - 0.1
    narrow = placing.size[1 - placing.axis]
    for anything in (False, True) if narrow * placing.scale >= LEGIBLE else (False,):
        cut = place_shortened(content.flat, placing, room, anything=anything) if room > 0 else None
        if cut is not None:
            again = _lay_out(content, cut, layout.level)
            if _fits(again, wide, tall) and not (anything and again.lines_lost):
                yield again
                return


def _lay_out(content: FlatContent, placing: Placing, level: int) -> Layout:
    entries: dict[SideName, list[Entry]] = {}
    drawn, crowded, lost = [], [], False
    for route in content.routes:
        ordinate = route.ordinate
        listed, placed = _in_tables(content.size, ordinate), _entry(content, placing, route, level)
        if placed is None:
            lost |= not listed and placing.along(ordinate.axis, ordinate.value) is None
            continue
        name, entry = placed
        others = entries.setdefault(name, [])
        if listed and any(abs(e.along - entry.along) < CROWDED for e in others):
            crowded.append(ordinate)
        else:
            others.append(entry)
            drawn.append(ordinate)

    def side(name: SideName) -> Side:
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
    return Layout(placing, level, (left, right, below, above), tuple(drawn), tuple(crowded), box, lines_lost=lost)


def _in_tables(size: tuple[float, float], ordinate: Ordinate) -> bool:
    """Whether the tables have an ordinate anyway: it is of corners or openings alone, and no end of the blank."""
    ends = (0.0, size[ordinate.axis])
    lines = any(m.kind in ("bend", "sight") for m in ordinate.marks)
    return not lines and min(abs(ordinate.value - e) for e in ends) >= 1e-6


def _entry(content: FlatContent, placing: Placing, route: Route, level: int) -> tuple[SideName, Entry] | None:
    """The side and the entry of an ordinate; None where it is for the tables, or left out."""
    ordinate = route.ordinate
    axis, size = ordinate.axis, placing.size
    if not any(m.kind in KINDS_BY_LEVEL[level] for m in ordinate.marks):
        ends = any(m.kind == "corner" for m in ordinate.marks)
        if not (ends and min(abs(ordinate.value), abs(ordinate.value - size[axis])) < 1e-6):
            return None
    along = placing.along(axis, route.spot[axis])
    if along is None:
        return None
    over = placing.along(1 - axis, route.spot[1 - axis])
    out = 0.0 if over is None else -over if route.low else over - placing.reach(1 - axis)
    names: tuple[SideName, SideName] = ("below", "above") if axis == 0 else ("left", "right")
    if placing.turned:
        names = ("left", "right") if axis == 0 else ("above", "below")
        along = placing.tall - along if axis == 0 else along
    lines = [m for m in ordinate.marks if m.kind in ("bend", "sight") and m.kind in KINDS_BY_LEVEL[level]]
    texts = dict.fromkeys(words.line_name(m.kind, m.name, content.order(m.name)) for m in lines)
    text = words.entry(ordinate.figure, [safe_text(one) for one in texts])
    entry = Entry(along, out, route.through and over is not None, text, abs(ordinate.value) < 1e-6)
    return names[0 if route.low else 1], entry
