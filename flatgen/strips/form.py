"""The shape of a form: which tables and keys there are, and between what limits each number lies.

Numbers stay as written here; :mod:`flatgen.strips.form` resolves them. An empty text is a number that was not measured.
The limits hold for forms and for the log alike: outside of them a number is a slip, or no model can use it.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator
from pydantic_core import PydanticCustomError

from flatgen.core.errors import Finding
from flatgen.core.schedule import Which
from flatgen.core.units import NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition import limits as bounds
from flatgen.definition.shapes import Mode, dimension_mode
from flatgen.definition.toml.document import Notes, read_toml
from flatgen.definition.toml.document import Path as KeyPath
from flatgen.definition.toml.shape import Quantity, Words, shape, shown, title_text
from flatgen.metal.allowance import setback
from flatgen.strips import words as words
from flatgen.strips.questions import questions
from flatgen.strips.reading import BendReading, LegReading, StripReading

MOST_STRIPS = 200
"""Of one form."""

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


def limit_name(kind: type, field: str) -> str:
    """The name in :data:`LIMITS` of a field of one of the types of :mod:`flatgen.strips.reading`.

    :returns: such as ``bend.set``
    """
    return f"{kind.__name__.removesuffix('Reading').lower()}.{field}"


def _date(value: Any) -> str:
    if isinstance(value, datetime.date):
        return value.isoformat()
    return title_text(value)


def _choice(*options: str) -> PlainValidator:
    def check(value: Any) -> str | None:
        spoken = value.strip().lower() if isinstance(value, str) else value
        if spoken in (None, ""):
            return None
        if spoken not in options:
            raise PydanticCustomError("written", "one of " + ", ".join(f'"{o}"' for o in options))
        return str(spoken)

    return PlainValidator(check)


Text = Annotated[Any, PlainValidator(title_text)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class FormShape(_Shape):
    """Top of the file."""

    units: Literal["mm", "in"] | None = None
    strip: Annotated[list[Any], Field(min_length=1, max_length=MOST_STRIPS)]


class StripShape(_Shape):
    """``[[strip]]``"""

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
    """``[[strip.leg]]``"""

    name: Text
    asked: Quantity
    dimensions: Mode = "overall"
    got: Quantity = None


class BendShape(_Shape):
    """``[[strip.bend]]``"""

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


WORDS = Words(words.REMEDIES, (words.OTHER_NAMES,), words.SEE, {"dimensions": dimension_mode})
"""Remedies and other names of the keys of a form."""

MOST_BENDS = 100
"""Of one strip."""


@dataclass(frozen=True)
class Form:
    """Strips as a form has them, [mm] and [deg], and what is to be asked about their numbers."""

    readings: tuple[StripReading, ...]
    findings: tuple[Finding, ...] = ()


def read_form(path: str | Path) -> Form:
    """Read a form.

    :returns: its strips, sizes in [mm], angles in [deg], and its questions
    :raises InputRefused: If it cannot be used; carries every fault that was found
    """
    path = Path(path)
    notes = Notes("".join(c if c.isprintable() else "?" for c in str(path)))
    data = read_toml(path, notes)
    top = shape(FormShape, data, notes, (), WORDS)
    raw = top.get("strip")
    strips = [_strip(_Table(item, ("strip", n), top.get("units"), notes)) for n, item in enumerate(raw or ())]
    _own_names("strip", [s.name if s else None for s in strips], ("strip",), notes)
    if notes.faults:
        raise notes.refuse()
    good = tuple(s for s in strips if s is not None)
    found = [
        question
        for n, reading in enumerate(good)
        for question in questions(reading, lambda *keys, n=n: notes.where(("strip", n, *keys)))
    ]
    return Form(good, tuple(found))


@dataclass(frozen=True)
class _Table:
    """One table as it stands, its place, and the unit of its plain numbers."""

    raw: Any
    path: KeyPath
    unit: Unit | None
    notes: Notes = field(compare=False)

    def shaped(self, model: type) -> dict[str, Any] | None:
        """Its values as far as they fit, None where it is no table."""
        if isinstance(self.raw, dict):
            return shape(model, self.raw, self.notes, self.path, WORDS)
        text = f"{shown(self.raw)} is no table"
        self.notes.add(self.path, "FG005", text, words.REMEDIES[str(self.path[-2])])
        return None


def _strip(table: _Table) -> StripReading | None:
    values = table.shaped(StripShape)
    if values is None:
        return None
    sound = len(table.notes.faults)
    lists = [values.get(key) for key in ("leg", "bend")]
    legs_raw, bends_raw = ([*found] if isinstance(found, list) else [] for found in lists)
    if len(bends_raw) > MOST_BENDS or len(legs_raw) > MOST_BENDS + 1:
        text = words.TOO_MANY.format(count=max(len(bends_raw), len(legs_raw)), what="legs or bends", most=MOST_BENDS)
        table.notes.add(table.path, words.IMPOSSIBLE, text, words.SPLIT_FORM)
        return None
    number = _numbers(table, values, "strip")
    strip: dict[str, Any] = {key: number(key, key) for key in ("nominal", "thickness", "width", "blank", "blank_got")}
    legs = [_leg(_Table(r, (*table.path, "leg", n), table.unit, table.notes)) for n, r in enumerate(legs_raw)]
    names = [leg.name if leg else None for leg in legs]
    bends = [
        _bend(_Table(r, (*table.path, "bend", n), table.unit, table.notes), names, n) for n, r in enumerate(bends_raw)
    ]
    if legs_raw and bends_raw and len(legs_raw) != len(bends_raw) + 1:
        text = words.NO_CHAIN.format(legs=len(legs_raw), bends=len(bends_raw))
        table.notes.add((*table.path, "leg"), "FG020", text, words.CHAIN)
    _own_names("leg", names, (*table.path, "leg"), table.notes)
    _own_names("bend", [b.label if b else None for b in bends], (*table.path, "bend"), table.notes)
    strip |= {key: _named(table, values, key) for key in ("name", "metal")}
    if len(table.notes.faults) > sound or "ill" in values:
        return None
    texts: dict[str, Any] = {
        key: str(values[key] or "").strip() for key in ("sheet", "grain", "date", "note", "part", "shop")
    }
    made = StripReading(legs=tuple(x for x in legs if x), bends=tuple(b for b in bends if b), **strip, **texts)
    _sound_lines(made, table)
    return made


def _leg(table: _Table) -> LegReading | None:
    values = table.shaped(LegShape)
    if values is None:
        return None
    number = _numbers(table, values, "leg")
    asked, got = number("asked", "asked"), number("got", "got")
    name = _named(table, values, "name")
    return LegReading(name, math.nan if asked is None else asked, values.get("dimensions") or "overall", got)


def _bend(table: _Table, names: list[str | None], place: int) -> BendReading | None:
    values = table.shaped(BendShape)
    if values is None:
        return None
    number = _numbers(table, values, "bend")
    asked: dict[str, Any] = {
        key: number(key, key) for key in ("angle", "inside_radius", "allowance", "nose_radius", "arm")
    }
    asked = {key: math.nan if value is None else value for key, value in asked.items()}
    done: dict[str, Any] = {key: number(key, key) for key in ("nose_setting", "sight")}
    got: dict[str, Any] = {
        new: number(key, new) for key, new in (("angle_set", "set"), ("angle_got", "got"), ("radius_got", "radius"))
    }
    label = _named(table, values, "label")
    held = _held(table, values, names[place : place + 2], label)
    return BendReading(
        label=label,
        way=values.get("way", "up"),
        held=held,
        setup=_named(table, values, "set_up"),
        place=values.get("place"),
        loss=number("loss", "loss") or 0.0,
        **asked,
        **done,
        **got,
    )


def _held(table: _Table, values: dict[str, Any], beside: list[str | None], label: str) -> Which:
    said = values.get("held")
    if not isinstance(said, str) or None in beside or len(beside) < 2:
        return "first"  # told already
    if said.strip() in beside:
        return "first" if said.strip() == beside[0] else "second"
    one, other = (shown(name) for name in beside)
    text = words.NOT_BESIDE.format(name=shown(said), label=label)
    table.notes.add((*table.path, "held"), "FG033", text, words.BESIDE.format(one=one, other=other))
    return "first"


def _named(table: _Table, values: dict[str, Any], key: str) -> str:
    """A name that must not be empty."""
    said = values.get(key)
    if not isinstance(said, str):
        return ""  # told already
    if not said.strip():
        table.notes.add((*table.path, key), "FG005", f"{shown(said)} is no name", words.REMEDIES["name"])
    return said.strip()


def _own_names(what: str, names: list[str | None], path: KeyPath, notes: Notes) -> None:
    for n, name in enumerate(names):
        if name and name in names[:n]:
            text = words.TWICE.format(what=what, name=shown(name))
            notes.add((*path, n), "FG023", text, words.OWN_NAME)


_ANGLES = {"bend.angle", "bend.set", "bend.got", "bend.loss"}

_SIGNED = {"bend.loss", "bend.nose_setting"}


def _numbers(table: _Table, values: dict[str, Any], kind: str) -> Callable[[str, str], float | None]:
    """Reads the number of a key, whose limits have a name of their own; None where none is written or it is ill."""

    def number(key: str, name: str) -> float | None:
        raw, limits = values.get(key), f"{kind}.{name}"
        if raw is None or (isinstance(raw, str) and not raw.strip()):
            if raw is not None and key in _MUST[kind]:
                table.notes.add((*table.path, key), "FG004", words.EMPTY, words.SEE)
            return None
        try:
            if limits in _ANGLES:
                found = parse_angle(raw, signed=limits in _SIGNED)
            else:
                found = parse_length(raw, default_unit=table.unit, signed=limits in _SIGNED).value
        except NotALength as error:
            table.notes.add((*table.path, key), error.code, error.text, error.remedy)
            return None
        return _within(table, key, found, limits)

    return number


_MUST = {
    "strip": {"nominal", "width", "blank"},
    "leg": {"asked"},
    "bend": {"angle", "inside_radius", "allowance", "nose_radius", "arm"},
}


def _within(table: _Table, key: str, found: float, limits: str) -> float | None:
    least, most = LIMITS[limits]
    if least <= found <= most:
        return found + 0.0
    told: Callable[[float], str] = (
        (lambda v: f"{v:g} deg") if limits in _ANGLES else (lambda v: in_mm_and_inch(v, thickness=True))
    )
    rule = words.LESS.format(limit=told(least)) if found < least else words.MORE.format(limit=told(most))
    text = words.OUT_OF_RANGE.format(found=told(found), rule=rule)
    table.notes.add((*table.path, key), words.IMPOSSIBLE, text, words.MEASURE_AGAIN)
    return None


def _sound_lines(strip: StripReading, table: _Table) -> None:
    """A leg cannot be told to a line that its bend does not have."""
    for n, leg in enumerate(strip.legs):
        for bend in strip.bends[max(n - 1, 0) : n + 1]:
            try:
                setback(bend.angle, bend.inside_radius, strip.nominal, leg.dimensions)
                setback(bend.got or bend.angle, bend.inside_radius, strip.nominal, leg.dimensions)
            except ValueError:
                text = words.NO_LINE_TO.format(angle=bend.got or bend.angle, mode=leg.dimensions)
                table.notes.add((*table.path, "leg", n, "dimensions"), words.IMPOSSIBLE, text, words.OVERALL)
