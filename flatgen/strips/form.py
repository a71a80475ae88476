"""Forms of test strips: their tables and keys, the limits of each number, and how they are read.

An empty text is a number that was not measured. The limits hold for forms and for the log alike: outside of them a
number is a slip, or no model can use it.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator
from pydantic_core import PydanticCustomError

from flatgen.core.errors import Finding
from flatgen.core.schedule import WhichSide
from flatgen.core.units import NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition import limits as bounds
from flatgen.definition.shapes import Mode, dimension_mode
from flatgen.definition.toml.document import FaultNotes, KeyPath, read_toml
from flatgen.definition.toml.shape import KeyHelp, Quantity, fit_shape, quoted_value, title_text
from flatgen.metal.allowance import setback
from flatgen.strips import words
from flatgen.strips.questions import questions
from flatgen.strips.reading import BendReading, LegReading, StripReading

MOST_STRIPS = 200
"""Of one form."""

MOST_BENDS = 100
"""Of one strip."""

MOST_LOSS = 45.0
"""Of an angle, to deflection and twist [deg]."""
MOST_SETTING = 200.0
"""Of the nose behind the bed's edge, and of the leaf's face beyond a tangent line [mm]."""

_SIZE = (bounds.LEAST_SIZE, bounds.LARGEST_SIZE)
_ANGLE = (bounds.LEAST_ANGLE, bounds.LARGEST_ANGLE)
_RADIUS = (0.0, bounds.LARGEST_RADIUS)
_THICKNESS = (bounds.LEAST_THICKNESS, bounds.LARGEST_THICKNESS)
LIMITS: dict[str, tuple[float, float]] = {
    "strip.nominal": _THICKNESS,
    "strip.thickness": _THICKNESS,
    "strip.width": _SIZE,
    "strip.blank": _SIZE,
    "strip.blank_got": _SIZE,
    "leg.asked": _SIZE,
    "leg.got": _SIZE,
    "bend.angle": _ANGLE,
    "bend.inside_radius": _RADIUS,
    "bend.allowance": (bounds.LEAST_FLAT, bounds.LARGEST_SIZE),
    "bend.nose_radius": _RADIUS,
    "bend.nose_setting": (-MOST_SETTING, MOST_SETTING),
    "bend.arm": (0.0, bounds.LARGEST_SIZE),
    "bend.sight": (0.0, bounds.LARGEST_SIZE),
    "bend.set": (bounds.LEAST_ANGLE, bounds.LARGEST_ANGLE + MOST_LOSS),
    "bend.got": _ANGLE,
    "bend.radius": _RADIUS,
    "bend.loss": (-MOST_LOSS, MOST_LOSS),
}
"""Least and largest value of each number of a reading [mm or deg]."""

_BEND_AS_ASKED = ("angle", "inside_radius", "allowance", "nose_radius", "arm")
_REQUIRED = {"strip": ("nominal", "width", "blank"), "leg": ("asked",), "bend": _BEND_AS_ASKED}
_ANGLES = {"bend.angle", "bend.set", "bend.got", "bend.loss"}
_SIGNED = {"bend.loss", "bend.nose_setting"}


def limit_name(kind: type, field: str) -> str:
    """The name in :data:`LIMITS`, such as ``bend.set``, of a field of a type of :mod:`flatgen.strips.reading`."""
    return f"{kind.__name__.removesuffix('Reading').lower()}.{field}"


def _date(value: Any) -> str:
    if isinstance(value, datetime.date):
        return value.isoformat()
    return title_text(value)


def _choice(*options: str) -> PlainValidator:
    def check(value: Any) -> str | None:
        choice = value.strip().lower() if isinstance(value, str) else value
        if choice in (None, ""):
            return None
        if choice not in options:
            raise PydanticCustomError("written", "one of " + ", ".join(f'"{o}"' for o in options))
        return str(choice)

    return PlainValidator(check)


Text = Annotated[Any, PlainValidator(title_text)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class FormShape(_Shape):
    """Top of the file."""

    units: Literal["mm", "in"] | None = None
    strip: Annotated[list[Any], Field(min_length=1, max_length=MOST_STRIPS)]


class StripShape(_Shape):
    """A table ``[[strip]]``."""

    name: Text
    metal: Text
    nominal: Quantity
    thickness: Quantity = None
    width: Quantity
    blank: Quantity
    blank_got: Quantity = None
    sheet: Text = ""
    grain: Annotated[Any, _choice("along", "across")] = None
    date: Annotated[Any, PlainValidator(_date)] = ""
    note: Text = ""
    part: Text = ""
    shop: Text = ""
    leg: Annotated[list[Any], Field(min_length=1)]
    bend: Annotated[list[Any], Field(min_length=1)]


class LegShape(_Shape):
    """A table ``[[strip.leg]]``."""

    name: Text
    asked: Quantity
    dimensions: Mode = "overall"
    got: Quantity = None


class BendShape(_Shape):
    """A table ``[[strip.bend]]``."""

    label: Text
    angle: Quantity
    way: Literal["up", "down"]
    inside_radius: Quantity
    allowance: Quantity
    held: Text
    set_up: Text
    nose_radius: Quantity
    nose_setting: Quantity = None
    arm: Quantity
    loss: Quantity = None
    sight: Quantity = None
    place: Annotated[Any, _choice("left", "middle", "right")] = None
    angle_set: Quantity = None
    angle_got: Quantity = None
    radius_got: Quantity = None


WORDS = KeyHelp(words.REMEDIES, (words.OTHER_NAMES,), words.SEE, {"dimensions": dimension_mode})
"""Remedies and other names of the keys of a form."""


@dataclass(frozen=True)
class Form:
    """Strips as a form has them, and what is to be asked about their numbers."""

    readings: tuple[StripReading, ...]
    findings: tuple[Finding, ...] = ()


def read_form(path: str | Path) -> Form:
    """Read a form.

    :raises InputRefused: If it cannot be used; carries every fault
    """
    path = Path(path)
    notes = FaultNotes("".join(c if c.isprintable() else "?" for c in str(path)))
    data = read_toml(path, notes)
    top = fit_shape(FormShape, data, notes, (), WORDS)
    raw = top.get("strip")
    strips = [_strip(_Table(item, ("strip", n), top.get("units"), notes)) for n, item in enumerate(raw or ())]
    _check_unique("strip", [s.name if s else None for s in strips], ("strip",), notes)
    if notes.faults:
        raise notes.refuse()
    readings = tuple(s for s in strips if s is not None)
    findings = [
        question
        for n, reading in enumerate(readings)
        for question in questions(reading, lambda *keys, n=n: notes.where(("strip", n, *keys)))
    ]
    return Form(readings, tuple(findings))


@dataclass(frozen=True)
class _Table:
    """One table as it stands, its place, and the unit of its plain numbers."""

    raw: Any
    path: KeyPath
    unit: Unit | None
    notes: FaultNotes = field(compare=False)

    def values(self, model: type) -> dict[str, Any] | None:
        """Its values as far as they fit, None where it is no table."""
        if isinstance(self.raw, dict):
            return fit_shape(model, self.raw, self.notes, self.path, WORDS)
        text = f"{quoted_value(self.raw)} is no table"
        self.notes.add(self.path, "FG005", text, words.REMEDIES[str(self.path[-2])])
        return None

    def children(self, key: str, tables: Sequence[Any]) -> list[_Table]:
        """Tables below one of its keys."""
        return [replace(self, raw=raw, path=(*self.path, key, n)) for n, raw in enumerate(tables)]

    def note(self, key: str, code: str, text: str, remedy: str) -> None:
        """Note a fault at one of its keys."""
        self.notes.add((*self.path, key), code, text, remedy)


def _strip(table: _Table) -> StripReading | None:
    values = table.values(StripShape)
    if values is None:
        return None
    faults_before = len(table.notes.faults)
    lists = [values.get(key) for key in ("leg", "bend")]
    legs_raw, bends_raw = ([*tables] if isinstance(tables, list) else [] for tables in lists)
    if len(bends_raw) > MOST_BENDS or len(legs_raw) > MOST_BENDS + 1:
        text = words.TOO_MANY.format(count=max(len(bends_raw), len(legs_raw)), what="legs or bends", most=MOST_BENDS)
        table.notes.add(table.path, words.IMPOSSIBLE, text, words.SPLIT_FORM)
        return None
    number = _numbers(table, values, "strip")
    strip: dict[str, Any] = {key: number(key, key) for key in ("nominal", "thickness", "width", "blank", "blank_got")}
    legs = [_leg(child) for child in table.children("leg", legs_raw)]
    names = [leg.name if leg else None for leg in legs]
    bends = [_bend(child, names[n : n + 2]) for n, child in enumerate(table.children("bend", bends_raw))]
    if legs_raw and bends_raw and len(legs_raw) != len(bends_raw) + 1:
        table.note("leg", "FG020", words.NO_CHAIN.format(legs=len(legs_raw), bends=len(bends_raw)), words.CHAIN)
    _check_unique("leg", names, (*table.path, "leg"), table.notes)
    _check_unique("bend", [b.label if b else None for b in bends], (*table.path, "bend"), table.notes)
    strip |= {key: _required_name(table, values, key) for key in ("name", "metal")}
    if len(table.notes.faults) > faults_before or "ill" in values:
        return None
    strip |= {key: str(values[key] or "").strip() for key in ("sheet", "grain", "date", "note", "part", "shop")}
    reading = StripReading(legs=tuple(x for x in legs if x), bends=tuple(b for b in bends if b), **strip)
    _check_lines(reading, table)
    return reading


def _leg(table: _Table) -> LegReading | None:
    values = table.values(LegShape)
    if values is None:
        return None
    number = _numbers(table, values, "leg")
    asked, got = number("asked", "asked"), number("got", "got")
    name = _required_name(table, values, "name")
    return LegReading(name, math.nan if asked is None else asked, values.get("dimensions") or "overall", got)


def _bend(table: _Table, beside: list[str | None]) -> BendReading | None:
    """The reading of a bend between two legs, by their names."""
    values = table.values(BendShape)
    if values is None:
        return None
    number = _numbers(table, values, "bend")
    numbers: dict[str, Any] = {key: number(key, key) for key in _BEND_AS_ASKED}
    numbers = {key: math.nan if value is None else value for key, value in numbers.items()}
    numbers |= {key: number(key, key) for key in ("nose_setting", "sight")}
    measured = (("angle_set", "set"), ("angle_got", "got"), ("radius_got", "radius"))
    numbers |= {name: number(key, name) for key, name in measured}
    label = _required_name(table, values, "label")
    held = _held_side(table, values, beside, label)
    return BendReading(
        label=label,
        way=values.get("way", "up"),
        held=held,
        setup=_required_name(table, values, "set_up"),
        place=values.get("place"),
        loss=number("loss", "loss") or 0.0,
        **numbers,
    )


def _held_side(table: _Table, values: dict[str, Any], beside: list[str | None], label: str) -> WhichSide:
    name = values.get("held")
    if not isinstance(name, str) or None in beside or len(beside) < 2:
        return "first"  # a fault is noted already
    if name.strip() in beside:
        return "first" if name.strip() == beside[0] else "second"
    one, other = (quoted_value(leg) for leg in beside)
    text = words.NOT_BESIDE.format(name=quoted_value(name), label=label)
    table.note("held", "FG033", text, words.BESIDE.format(one=one, other=other))
    return "first"


def _required_name(table: _Table, values: dict[str, Any], key: str) -> str:
    name = values.get(key)
    if not isinstance(name, str):
        return ""  # a fault is noted already
    if not name.strip():
        table.note(key, "FG005", f"{quoted_value(name)} is no name", words.REMEDIES["name"])
    return name.strip()


def _check_unique(what: str, names: list[str | None], path: KeyPath, notes: FaultNotes) -> None:
    for n, name in enumerate(names):
        if name and name in names[:n]:
            text = words.TWICE.format(what=what, name=quoted_value(name))
            notes.add((*path, n), "FG023", text, words.OWN_NAME)


def _numbers(table: _Table, values: dict[str, Any], kind: str) -> Callable[[str, str], float | None]:
    """Reads the number of a key, whose limits have a name of their own; None where none is written or it is ill."""

    def number(key: str, name: str) -> float | None:
        raw, limits = values.get(key), f"{kind}.{name}"
        if raw is None or (isinstance(raw, str) and not raw.strip()):
            if raw is not None and key in _REQUIRED[kind]:
                table.note(key, "FG004", words.EMPTY, words.SEE)
            return None
        try:
            if limits in _ANGLES:
                value = parse_angle(raw, signed=limits in _SIGNED)
            else:
                value = parse_length(raw, default_unit=table.unit, signed=limits in _SIGNED).value
        except NotALength as error:
            table.note(key, error.code, error.text, error.remedy)
            return None
        return _within(table, key, value, limits)

    return number


def _within(table: _Table, key: str, value: float, limits: str) -> float | None:
    least, most = LIMITS[limits]
    if least <= value <= most:
        return value + 0.0

    def shown(number: float) -> str:
        return f"{number:g} deg" if limits in _ANGLES else in_mm_and_inch(number, thickness=True)

    rule = words.LESS.format(limit=shown(least)) if value < least else words.MORE.format(limit=shown(most))
    table.note(key, words.IMPOSSIBLE, words.OUT_OF_RANGE.format(found=shown(value), rule=rule), words.MEASURE_AGAIN)
    return None


def _check_lines(strip: StripReading, table: _Table) -> None:
    """A leg cannot be dimensioned to a line that its bend does not have."""
    for n, leg in enumerate(strip.legs):
        for bend in strip.bends[max(n - 1, 0) : n + 1]:
            try:
                setback(bend.angle, bend.inside_radius, strip.nominal, leg.dimensions)
                setback(bend.got or bend.angle, bend.inside_radius, strip.nominal, leg.dimensions)
            except ValueError:
                text = words.NO_LINE_TO.format(angle=bend.got or bend.angle, mode=leg.dimensions)
                table.notes.add((*table.path, "leg", n, "dimensions"), words.IMPOSSIBLE, text, words.OVERALL)
