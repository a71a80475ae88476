"""Forms of strips: read, resolved to numbers and judged. All faults of a form are collected and raised at once.

The walk: file, shape of its tables, each strip with its legs and bends, then names and numbers that only the whole
strip shows. Numbers that can be but contradict one another are questioned (:mod:`flatgen.strips.questions`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flatgen.core.errors import Finding
from flatgen.core.schedule import Which
from flatgen.core.units import NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition.toml.document import Notes, read_toml
from flatgen.definition.toml.document import Path as KeyPath
from flatgen.definition.toml.shape import shape, shown
from flatgen.metal.allowance import setback
from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips import form_shapes as shapes
from flatgen.strips import words as words
from flatgen.strips.questions import questions
from flatgen.strips.reading import BendReading, LegReading, StripReading

__all__ = ["Form", "form_text", "questions", "read_form"]

MOST_BENDS = 100
"""Of one strip."""


@dataclass(frozen=True)
class Form:
    """Strips as a form has them, [mm] and [deg], and what is to be asked about their numbers."""

    readings: tuple[StripReading, ...]
    findings: tuple[Finding, ...] = ()


def read_form(path: str | Path) -> Form:
    """Read a form.

    Parameters
    ----------
    path : str | pathlib.Path
        The TOML file, [-]

    Returns
    -------
    Form
        Its strips, sizes in [mm], angles in [deg], and its questions

    Raises
    ------
    InputRefused
        If it cannot be used; carries every fault that was found
    """
    path = Path(path)
    notes = Notes("".join(c if c.isprintable() else "?" for c in str(path)))
    data = read_toml(path, notes)
    top = shape(shapes.FormShape, data, notes, (), shapes.WORDS)
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
            return shape(model, self.raw, self.notes, self.path, shapes.WORDS)
        text = f"{shown(self.raw)} is no table"
        self.notes.add(self.path, "FG005", text, words.REMEDIES[str(self.path[-2])])
        return None


def _strip(table: _Table) -> StripReading | None:
    values = table.shaped(shapes.StripShape)
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
    values = table.shaped(shapes.LegShape)
    if values is None:
        return None
    number = _numbers(table, values, "leg")
    asked, got = number("asked", "asked"), number("got", "got")
    name = _named(table, values, "name")
    return LegReading(name, math.nan if asked is None else asked, values.get("dimensions") or "overall", got)


def _bend(table: _Table, names: list[str | None], place: int) -> BendReading | None:
    values = table.shaped(shapes.BendShape)
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
    least, most = shapes.LIMITS[limits]
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
