"""A form as text, ready to fill: what was planned stands in it, what is to be measured is an empty text.

Its comments tell where calliper and protractor are put. What a reading has of measured numbers is written too, so that
a form can be written again from what was read.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Literal

from flatgen.core.units import Unit, in_mm_and_inch
from flatgen.paper.drawing.words import harmless
from flatgen.paper.shop_sheet.measure import CLOSED, LEAST_BLADE, LONGEST_CALLIPER, SQUARE, SQUARE_WITHIN
from flatgen.paper.shop_sheet.words import SPOT
from flatgen.strips import words as words
from flatgen.strips.reading import PLACES, BendReading, LegReading, StripReading, flat_asked

COLUMN = 34
"""Where comments begin."""


def form_text(readings: Sequence[StripReading], *, order: Sequence[str] = (), unit: Unit = "mm") -> str:
    """A form for strips.

    :param readings: as planned; whatever is measured already is filled in
    :param order: labels of the bends in the order of bending, for the comments
    :param unit: unit of plain numbers that are filled in
    """
    lines = [words.HEAD + f'units = "{unit}"']
    for reading in readings:
        lines += ["", "[[strip]]", *_head(reading)]
        for n, leg in enumerate(reading.legs):
            lines += ["", *_leg(reading, n, leg)]
            if n < len(reading.bends):
                lines += ["", *_bend(reading, n, reading.bends[n], order)]
    return "\n".join(lines) + "\n"


def _head(reading: StripReading) -> list[str]:
    filled = {
        "name": _text(reading.name),
        "sheet": _text(reading.sheet),
        "grain": _text(reading.grain),
        "date": _text(reading.date),
        "thickness": _size(reading.thickness),
        "blank_got": _size(reading.blank_got),
        "note": _text(reading.note),
    }
    cut = {
        "metal": _text(reading.metal),
        "nominal": _size(reading.nominal),
        "width": _size(reading.width),
        "blank": _size(reading.blank),
        "part": _text(reading.part),
        "shop": _text(reading.shop),
    }
    told = words.OF_STRIP | {
        key: f"{in_mm_and_inch(value, thickness=thin)}, {words.OF_STRIP[key]}"
        for key, value, thin in (
            ("nominal", reading.nominal, True),
            ("width", reading.width, False),
            ("blank", reading.blank, False),
        )
    }
    return [*_rows(filled, told), words.AS_CUT, *_rows(cut, told)]


def _leg(reading: StripReading, place: int, leg: LegReading) -> list[str]:
    told = {"got": words.OF_LEG["got"], "asked": in_mm_and_inch(leg.asked)}
    named = _rows({"name": _text(leg.name), "got": _size(leg.got)}, told)
    planned = _rows({"asked": _size(leg.asked), "dimensions": _text(leg.dimensions)}, told)
    head = words.FOR_LEG.format(leg=harmless(leg.name), how=how_to_measure(reading, place))
    return [head, "[[strip.leg]]", *named, words.AS_PLANNED, *planned]


def _bend(reading: StripReading, place: int, bend: BendReading, order: Sequence[str]) -> list[str]:
    sides = [reading.legs[place].name, reading.legs[place + 1].name]
    held, other = sides if bend.held == "first" else sides[::-1]
    filled = {
        "label": _text(bend.label),
        "sight": _size(bend.sight),
        "angle_set": _angle(bend.set),
        "angle_got": _angle(bend.got),
        "radius_got": _size(bend.radius),
        "place": _text(bend.place or ""),
    }
    planned = {
        "held": _text(held),
        "set_up": _text(bend.setup),
        "nose_radius": _size(bend.nose_radius),
        "nose_setting": _size(bend.nose_setting),
        "angle": _angle(bend.angle),
        "way": _text(bend.way),
        "inside_radius": _size(bend.inside_radius),
        "allowance": _size(bend.allowance),
        "arm": _size(bend.arm),
        "loss": _angle(bend.loss),
    }
    told = {key: text.format(held=harmless(held), other=harmless(other)) for key, text in words.OF_BEND.items()}
    if bend.sight is not None:
        told["sight"] = f"{in_mm_and_inch(bend.sight)}, {told['sight']}"
    number = words.ORDERED.format(number=order.index(bend.label) + 1) if bend.label in order else ""
    head = words.FOR_BEND.format(
        label=harmless(bend.label), way=bend.way, order=number, how=how_to_turn(reading, place)
    )
    return [head, "[[strip.bend]]", *_rows(filled, told), words.AS_PLANNED, *_rows(planned, told)]


def how_to_measure(reading: StripReading, place: int) -> str:
    """Where to put the calliper for a leg, in words.

    :returns: the tool, and from where to where
    """
    leg = reading.legs[place]
    start, end = _spot(reading, leg, place - 1, place - 1), _spot(reading, leg, place, place + 1)
    if "crossing" in (start[0], end[0]):
        tool = words.CARD
    elif "inside" in (start[0], end[0]):
        tool = words.INSIDE_JAWS
    else:
        tool = words.CALLIPER if leg.asked <= LONGEST_CALLIPER else words.RULE
    return tool.format(start=start[1], end=end[1])


def _spot(reading: StripReading, leg: LegReading, bend: int, other: int) -> tuple[str, str]:
    """Kind of a leg's end at a bend, the leg beyond which is ``other``, and its words."""
    if not 0 <= bend < len(reading.bends):
        return "edge", SPOT["edge"]
    spec = reading.bends[bend]
    label = harmless(spec.label)
    if leg.dimensions in ("inside", "inside-overall"):
        return "inside", words.INSIDE.format(label=label)
    if abs(spec.angle - SQUARE) <= SQUARE_WITHIN:
        kind = "face"
    else:
        kind = "outside" if spec.angle > SQUARE and leg.dimensions == "overall" else "crossing"
    return kind, SPOT[kind].format(leg=harmless(reading.legs[other].name), label=label)


def how_to_turn(reading: StripReading, place: int) -> str:
    """Where to put the protractor for a bend, in words.

    :returns: the tool, and where it goes
    """
    tools = {"protractor": words.PROTRACTOR, "card": words.CARD_ANGLE, "none": words.HEM}
    return tools[tool_for(reading, place)].format(opening=_plain(180.0 - reading.bends[place].angle, 1))


def tool_for(reading: StripReading, place: int) -> Literal["protractor", "card", "none"]:
    """What a bend's angle is measured with.

    :returns: A protractor, its end traced on card first, or nothing since it is closed
    """
    if reading.bends[place].angle > CLOSED:
        return "none"
    flats = [flat_asked(reading, n) for n in (place, place + 1)]
    return "protractor" if min(flats) >= LEAST_BLADE else "card"


def _rows(values: dict[str, str], told: dict[str, str]) -> list[str]:
    rows = []
    for key, value in values.items():
        row = f"{key} = {value}"
        rows.append(f"{row:<{COLUMN}}# {told[key]}" if told.get(key) else row)
    return rows


def _text(text: str) -> str:
    """A text of one line as TOML writes it."""
    plain = "".join(c if c.isprintable() else "?" for c in text)
    return json.dumps(plain, ensure_ascii=False)


def _size(value: float | None) -> str:
    return '""' if value is None else f'"{_plain(value, PLACES)} mm"'


def _angle(value: float | None) -> str:
    return '""' if value is None else _plain(value, PLACES)


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
