"""The form of a strip as TOML text: planned sizes are filled in, what is to be measured is an empty text.

Comments say where calliper and protractor go. Measured numbers of a reading are written too, so that a form can be
written again from what was read.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Literal

from flatgen.core.units import Unit, in_mm_and_inch
from flatgen.paper.drawing.words import harmless
from flatgen.paper.shop_sheet.measure import CLOSED, LEAST_BLADE, LONGEST_CALLIPER, SQUARE, SQUARE_WITHIN
from flatgen.paper.shop_sheet.words import SPOT, plain
from flatgen.strips import words
from flatgen.strips.reading import PLACES, BendReading, LegReading, StripReading, planned_flat

COLUMN = 34
"""Where comments begin."""


def form_text(readings: Sequence[StripReading], *, order: Sequence[str] = (), unit: Unit = "mm") -> str:
    """A form for strips.

    :param order: labels of the bends in the order of bending, for the comments
    :param unit: unit of plain numbers that are filled in
    """
    lines = [words.HEAD + f'units = "{unit}"']
    for reading in readings:
        lines += ["", "[[strip]]", *_strip_lines(reading)]
        for n, leg in enumerate(reading.legs):
            lines += ["", *_leg_lines(reading, n, leg)]
            if n < len(reading.bends):
                lines += ["", *_bend_lines(reading, n, reading.bends[n], order)]
    return "\n".join(lines) + "\n"


def _strip_lines(reading: StripReading) -> list[str]:
    filled = {
        "name": _toml_text(reading.name),
        "sheet": _toml_text(reading.sheet),
        "grain": _toml_text(reading.grain),
        "date": _toml_text(reading.date),
        "thickness": _toml_length(reading.thickness),
        "blank_got": _toml_length(reading.blank_got),
        "note": _toml_text(reading.note),
    }
    cut = {
        "metal": _toml_text(reading.metal),
        "nominal": _toml_length(reading.nominal),
        "width": _toml_length(reading.width),
        "blank": _toml_length(reading.blank),
        "part": _toml_text(reading.part),
        "shop": _toml_text(reading.shop),
    }
    comments = words.OF_STRIP | {
        key: f"{in_mm_and_inch(value, thickness=thin)}, {words.OF_STRIP[key]}"
        for key, value, thin in (
            ("nominal", reading.nominal, True),
            ("width", reading.width, False),
            ("blank", reading.blank, False),
        )
    }
    return [*_rows(filled, comments), words.AS_CUT, *_rows(cut, comments)]


def _leg_lines(reading: StripReading, place: int, leg: LegReading) -> list[str]:
    comments = {"got": words.OF_LEG["got"], "asked": in_mm_and_inch(leg.asked)}
    named = _rows({"name": _toml_text(leg.name), "got": _toml_length(leg.got)}, comments)
    planned = _rows({"asked": _toml_length(leg.asked), "dimensions": _toml_text(leg.dimensions)}, comments)
    head = words.FOR_LEG.format(leg=harmless(leg.name), how=how_to_measure(reading, place))
    return [head, "[[strip.leg]]", *named, words.AS_PLANNED, *planned]


def _bend_lines(reading: StripReading, place: int, bend: BendReading, order: Sequence[str]) -> list[str]:
    sides = [reading.legs[place].name, reading.legs[place + 1].name]
    held, other = sides if bend.held == "first" else sides[::-1]
    filled = {
        "label": _toml_text(bend.label),
        "sight": _toml_length(bend.sight),
        "angle_set": _toml_angle(bend.set),
        "angle_got": _toml_angle(bend.got),
        "radius_got": _toml_length(bend.radius),
        "place": _toml_text(bend.place or ""),
    }
    planned = {
        "held": _toml_text(held),
        "set_up": _toml_text(bend.setup),
        "nose_radius": _toml_length(bend.nose_radius),
        "nose_setting": _toml_length(bend.nose_setting),
        "angle": _toml_angle(bend.angle),
        "way": _toml_text(bend.way),
        "inside_radius": _toml_length(bend.inside_radius),
        "allowance": _toml_length(bend.allowance),
        "arm": _toml_length(bend.arm),
        "loss": _toml_angle(bend.loss),
    }
    comments = {key: text.format(held=harmless(held), other=harmless(other)) for key, text in words.OF_BEND.items()}
    if bend.sight is not None:
        comments["sight"] = f"{in_mm_and_inch(bend.sight)}, {comments['sight']}"
    number = words.ORDERED.format(number=order.index(bend.label) + 1) if bend.label in order else ""
    head = words.FOR_BEND.format(
        label=harmless(bend.label), way=bend.way, order=number, how=how_to_turn(reading, place)
    )
    return [head, "[[strip.bend]]", *_rows(filled, comments), words.AS_PLANNED, *_rows(planned, comments)]


def how_to_measure(reading: StripReading, place: int) -> str:
    """What to measure a leg with, from where to where."""
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
    """What to measure the angle of a bend with, and where."""
    tools = {"protractor": words.PROTRACTOR, "card": words.CARD_ANGLE, "none": words.HEM}
    return tools[tool_for(reading, place)].format(opening=plain(180.0 - reading.bends[place].angle, 1))


def tool_for(reading: StripReading, place: int) -> Literal["protractor", "card", "none"]:
    """What a bend's angle is measured with; none where the bend is closed."""
    if reading.bends[place].angle > CLOSED:
        return "none"
    flats = [planned_flat(reading, n) for n in (place, place + 1)]
    return "protractor" if min(flats) >= LEAST_BLADE else "card"


def _rows(values: dict[str, str], comments: dict[str, str]) -> list[str]:
    rows = []
    for key, value in values.items():
        row = f"{key} = {value}"
        rows.append(f"{row:<{COLUMN}}# {comments[key]}" if comments.get(key) else row)
    return rows


def _toml_text(text: str) -> str:
    return json.dumps("".join(c if c.isprintable() else "?" for c in text), ensure_ascii=False)


def _toml_length(value: float | None) -> str:
    return '""' if value is None else f'"{plain(value, PLACES)} mm"'


def _toml_angle(value: float | None) -> str:
    return '""' if value is None else plain(value, PLACES)
