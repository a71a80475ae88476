"""The measuring card of a strip: its finished section, and tables of sheet, legs and bends to fill in.

A dimension line runs beside each leg, between the places where it is measured, on the first side and at the first
distance where it touches nothing. Legs without room for their number are listed. Millimetres on paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from flatgen.core.flat_pattern import Point
from flatgen.core.units import in_mm_and_inch
from flatgen.core.version import __version__
from flatgen.definition.model import Profile
from flatgen.definition.section import BendTrace, LegTrace, Trace, formed_limits, trace
from flatgen.paper.drawing.ink import LARGE, SMALL, Block, Ink, Paper
from flatgen.paper.drawing.text import ASCENT, DESCENT, Text, text_width
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.frame import EXTENSION, HIDDEN, VISIBLE, TitleFacts, projection_symbol
from flatgen.paper.pages.pages import flow_pages, room
from flatgen.paper.pages.tables import Blank, Cell, paragraphs, table
from flatgen.paper.shop_sheet import words as sheet_words
from flatgen.paper.strip_sheets.form_text import how_to_measure, tool_for
from flatgen.strips import words
from flatgen.strips.cut import Strip

SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
"""Of ISO 5455 (from memory)."""
MARGIN = 13.5
"""Room about the section for lines and numbers [mm]."""
OUT = (5.0, 9.0, 13.0)
"""Distances of a dimension line from its leg that are tried [mm]."""
CLEAR = 0.8
"""Between numbers and lines [mm]."""
ARC = (7.0, 9.5, 12.0, 5.0, 15.0)
"""Radii of the arc between two legs that are tried [mm]."""
CHORDS = 24
"""Of a bend."""
SHARES = (0.45, 0.36, 0.28, 0.24)
"""Of the page's height that the section may take: the largest with which all of it stands on one page."""


def card_pages(strip: Strip, paper: Paper, form: str, *, inches: bool = False) -> tuple[Ink, ...]:
    """The card: one page, more for strips of many bends.

    :param form: name of the form's file
    """
    candidates = (_pages(strip, paper, form, share, inches) for share in SHARES)
    return next((pages for pages in candidates if len(pages) == 1), _pages(strip, paper, form, SHARES[0], inches))


def _pages(strip: Strip, paper: Paper, form: str, share: float, inches: bool) -> tuple[Ink, ...]:
    wide, tall = room(paper, False, later=True)
    blocks: list[Block] = [*_section_blocks(strip, wide, share * tall), *_sheet_table(wide, tall, inches)]
    blocks += _leg_table(strip, wide, tall, inches)
    blocks += _bend_table(strip, wide, tall, inches)
    notes = [*(n.format(form=clean(form)) for n in words.CARD_NOTES), words.CARD_NOTE_PLACE]
    blocks += paragraphs("", notes, wide, tall, 2)
    profile = strip.profile
    facts = TitleFacts(
        title=words.CARD_TITLE.format(name=profile.title or profile.name),
        number=profile.name,
        supplementary=f"{profile.metal.name}, {in_mm_and_inch(profile.thickness, thickness=True, inch_first=inches)}",
        document_type=words.CARD_TYPE,
        scale=sheet_words.SCALE,
        unit="in" if inches else "mm",
        program=sheet_words.PROGRAM.format(version=__version__),
        fingerprint=sheet_words.FINGERPRINT.format(part=strip.reading.part),
    )
    return flow_pages(blocks, paper, False, facts, projection_symbol("first"), reduced=True)


def _section_blocks(strip: Strip, wide: float, tall: float) -> list[Block]:
    drawn, scale, lost = section_block(strip.profile, wide, tall)
    ratio = f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"
    head = Ink()
    head.text(words.CARD_SECTION.format(scale=ratio), 0.0, drawn.tall + 2.0, LARGE)
    head.add(drawn.ink, 0.0, 0.0)
    texts = [words.CARD_SIZES]
    if lost:
        texts.append(words.CARD_LEFT_OUT.format(legs=", ".join(map(str, lost))))
    return [Block(head, wide, drawn.tall + 2.0 + LARGE * ASCENT), *paragraphs("", texts, wide, tall)]


def _sheet_table(wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    unit = "in" if inches else "mm"
    row: tuple[Cell, ...] = (Blank(), Blank(), Blank(unit), Blank(unit))
    return table(words.CARD_HEADS_SHEET, [row], wide, tall, weights=(1, 1, 1, 1), title=words.CARD_SHEET)


def _leg_table(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    how = [how_to_measure(reading, n) for n in range(len(reading.legs))]
    lead = words.CALLIPER.partition("{")[0]
    alike = all(text.startswith(lead) for text in how)
    rows: list[tuple[Cell, ...]] = [
        (
            str(n + 1),
            clean(leg.name),
            text.removeprefix(lead) if alike else text,
            sheet_words.gauge_size(leg.asked, "in" if inches else "mm"),
            Blank(unit),
        )
        for n, (leg, text) in enumerate(zip(reading.legs, how, strict=True))
    ]
    return table(words.CARD_HEADS_LEGS, rows, wide, tall, title=words.CARD_LEGS_WITH if alike else words.CARD_LEGS)


def _bend_table(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    places = {label: n for n, label in enumerate(strip.order)}
    order = sorted(range(len(reading.bends)), key=lambda n: places.get(reading.bends[n].label, n))
    rows: list[tuple[Cell, ...]] = [
        (
            clean(reading.bends[n].label),
            f"{180.0 - reading.bends[n].angle:g}°",
            words.CARD_TOOLS[tool_for(reading, n)],
            Blank("°"),
            Blank("°"),
            Blank(unit),
            Blank(),
        )
        for n in order
    ]
    return table(words.CARD_HEADS_BENDS, rows, wide, tall, title=words.CARD_BENDS)


@dataclass
class _Occupied:
    """Areas in use on the card so far; ``letters`` are among ``areas``."""

    areas: list[Any] = field(default_factory=list)
    letters: list[Any] = field(default_factory=list)

    def free(self, area: Any) -> bool:
        return not any(area.intersects(a) for a in self.areas)


def section_block(profile: Profile, wide: float, tall: float) -> tuple[Block, float, tuple[int, ...]]:
    """The section with its measuring places.

    :param wide, tall: most room [mm]
    :returns: the drawing, its scale, and numbers of legs that found no room
    """
    section = trace(profile)
    outline = _outline_points(section)
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    size = (max(xs) - min(xs), max(ys) - min(ys))
    fitting = (s for s in SCALES if size[0] * s <= wide - 2 * MARGIN and size[1] * s <= tall - 2 * MARGIN)
    scale = next(fitting, SCALES[-1])
    high = size[1] * scale + 4 * MARGIN
    shift = ((wide - size[0] * scale) / 2 - min(xs) * scale, 2 * MARGIN - min(ys) * scale)

    def put(p: Point) -> Point:
        return (p[0] * scale + shift[0], p[1] * scale + shift[1])

    ink, occupied = Ink(), _Occupied()
    drawn = tuple(put(p) for p in outline)
    ink.lines.append((VISIBLE, drawn, True))
    occupied.areas.append(_polygon(drawn).buffer(CLEAR))
    lost = []
    for n, leg in enumerate(section.legs):
        ends = formed_limits(profile, section, n, profile.legs[n].dimensions)
        if not _draw_leg(ink, occupied, leg, ends, str(n + 1), scale, put, (wide, high)):
            lost.append(n + 1)
    order = sorted(range(len(section.bends)), key=lambda n: -section.bends[n].angle)
    for n in order:
        _draw_angle(ink, occupied, section, n, clean(profile.bends[n].label), put)
    return _trim(ink, occupied, wide), scale, tuple(lost)


def _trim(ink: Ink, occupied: _Occupied, wide: float) -> Block:
    from shapely import unary_union

    _, low, _, top = unary_union(occupied.areas).bounds
    moved = Ink()
    moved.add(ink, 0.0, 1.0 - low)
    return Block(moved, wide, top - low + 2.0)


def _polygon(points: Sequence[Point]) -> Any:
    from shapely import Polygon, make_valid

    return make_valid(Polygon(points))


def _outline_points(section: Trace) -> list[Point]:
    half = section.thickness / 2
    near, far = list(_face_points(section, half)), list(_face_points(section, -half))
    return [*near, *far[::-1]]


def _face_points(section: Trace, off: float) -> Iterator[Point]:
    """One face from the left edge on; ``off`` to the left of the walk is the near face."""
    for n, leg in enumerate(section.legs):
        yield _beside(leg, 0.0, off)
        yield _beside(leg, leg.length, off)
        if n < len(section.bends):
            bend = section.bends[n]
            radius = bend.inside_radius + section.thickness / 2 + (-off if bend.way == "up" else off)
            yield from (bend.at(k / CHORDS, max(radius, 0.0)) for k in range(1, CHORDS))


def _beside(leg: LegTrace, along: float, off: float) -> Point:
    """A place along a leg and to the left of it."""
    c, s = math.cos(math.radians(leg.heading)), math.sin(math.radians(leg.heading))
    return (leg.start[0] + along * c - off * s, leg.start[1] + along * s + off * c)


def _draw_leg(
    ink: Ink,
    occupied: _Occupied,
    leg: LegTrace,
    ends: tuple[float, float],
    number: str,
    scale: float,
    put: Any,
    room: tuple[float, float],
) -> bool:
    """A dimension line beside a leg with its number; False where there is no room for it."""
    from shapely import LineString, box

    limit = box(0.0, 0.0, *room)
    for away in OUT:
        for side in (1.0, -1.0):
            off = side * away / scale
            a, b = put(_beside(leg, ends[0], off)), put(_beside(leg, ends[1], off))
            line = LineString([a, b]).buffer(CLEAR)
            if not occupied.free(line) or not limit.contains(line):
                continue
            jaws = [_jaw(tip, put(_beside(leg, along, 0.0))) for tip, along in zip((a, b), ends, strict=True)]
            touching = [LineString(jaw).buffer(0.4) for jaw in jaws]
            if any(area.intersects(other) for area in touching for other in occupied.letters):
                continue
            text = _free_number(a, b, number, side, occupied, limit)
            if text is None:
                continue
            if any(area.intersects(_polygon(text.box)) for area in touching):
                continue
            _draw_dimension(ink, a, b, jaws)
            occupied.areas += [line, *touching]
            _put_letters(ink, occupied, text)
            return True
    return _number_alone(ink, occupied, put(_beside(leg, 0.0, 0.0)), put(_beside(leg, leg.length, 0.0)), number, limit)


def _number_alone(ink: Ink, occupied: _Occupied, a: Point, b: Point, number: str, limit: Any) -> bool:
    """The number of a leg close to it, where its dimension line has no room."""
    for side in (1.0, -1.0):
        text = _free_number(a, b, number, side, occupied, limit)
        if text is not None:
            _put_letters(ink, occupied, text)
            return True
    return False


def _put_letters(ink: Ink, occupied: _Occupied, text: Text) -> None:
    ink.texts.append(text)
    area = _polygon(text.box).buffer(CLEAR)
    occupied.areas.append(area)
    occupied.letters.append(area)


def _jaw(tip: Point, toward: Point) -> tuple[Point, Point]:
    """A short stroke at the end of a dimension line, from outside of it toward the metal."""
    long = math.dist(tip, toward)
    share = min(1.0, 3.0 / long) if long > 0 else 0.0
    inner = (tip[0] + share * (toward[0] - tip[0]), tip[1] + share * (toward[1] - tip[1]))
    return (tip[0] - 0.4 * (inner[0] - tip[0]), tip[1] - 0.4 * (inner[1] - tip[1])), inner


def _draw_dimension(ink: Ink, a: Point, b: Point, jaws: Sequence[tuple[Point, Point]]) -> None:
    ink.line(EXTENSION, a, b)
    way = (b[0] - a[0], b[1] - a[1])
    ink.head(b, way, min(2.2, math.hypot(*way) / 2.5))
    ink.head(a, (-way[0], -way[1]), min(2.2, math.hypot(*way) / 2.5))
    for jaw in jaws:
        ink.line(EXTENSION, *jaw)


def _free_number(a: Point, b: Point, number: str, side: float, occupied: _Occupied, limit: Any) -> Text | None:
    """The number of a leg beyond its dimension line, upright, where it is free."""
    size = math.dist(a, b) or 1.0
    normal = (-(b[1] - a[1]) / size * side, (b[0] - a[0]) / size * side)
    wide, tall = text_width(number, LARGE), LARGE * ASCENT + LARGE * DESCENT
    reach = abs(normal[0]) * wide / 2 + abs(normal[1]) * tall / 2 + 2 * CLEAR + 0.2
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.1, 0.9, -0.15, 1.15):
        for more in (0.0, 1.0, 4.0):
            x = a[0] + share * (b[0] - a[0]) + normal[0] * (reach + more)
            y = a[1] + share * (b[1] - a[1]) + normal[1] * (reach + more)
            text = Text(number, (x - wide / 2, y - LARGE / 2), LARGE)
            area = _polygon(text.box)
            if occupied.free(area) and limit.contains(area):
                return text
    return None


def _draw_angle(ink: Ink, occupied: _Occupied, section: Trace, number: int, label: str, put: Any) -> None:
    """An arc between the outer faces with the letter of the bend in a box; left out where there is no room at all."""
    bend = section.bends[number]
    centre = put(_corner(bend, section.thickness))
    turn = bend.turn
    first = bend.heading + 180.0
    sweep = -(180.0 - abs(turn)) if turn > 0 else 180.0 - abs(turn)
    middle = math.radians(first + sweep / 2)
    for out in (0.0, 4.0, 8.0, 12.0, 18.0, 26.0):
        for aside in (0.0, math.pi, 0.6, -0.6, math.pi + 0.7, math.pi - 0.7):
            way = middle + aside
            far = ARC[0] + 3.5 + out
            x, y = centre[0] + far * math.cos(way), centre[1] + far * math.sin(way)
            wide = text_width(label, SMALL)
            text = Text(label, (x - wide / 2, y - SMALL / 2), SMALL)
            area = _polygon(text.box).buffer(1.2, join_style="mitre")
            if occupied.free(area):
                left, low, right, high = area.bounds
                ink.texts.append(text)
                ink.box(EXTENSION, left + 0.2, low + 0.2, right - 0.2, high - 0.2)
                occupied.areas.append(area.buffer(CLEAR))
                _draw_arc(ink, occupied, centre, first, sweep)
                return


def _draw_arc(ink: Ink, occupied: _Occupied, centre: Point, first: float, sweep: float) -> None:
    """The arc of the protractor, dashed, if it is free."""
    from shapely import LineString

    for radius in ARC:
        turns = [math.radians(first + sweep * (0.2 + 0.6 * k / 16)) for k in range(17)]
        points = [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns]
        area = LineString(points).buffer(0.5)
        if abs(sweep) > 20.0 and occupied.free(area):
            ink.lines.append((HIDDEN, tuple(points), False))
            occupied.areas.append(area)
            return


def _corner(bend: BendTrace, thickness: float) -> Point:
    """Where the outer faces meet, or the outer face at the middle of a bend too sharp for that."""
    outer = bend.inside_radius + thickness
    half = math.radians(min(bend.angle, 120.0) / 2)
    return bend.at(0.5, outer / math.cos(half))
