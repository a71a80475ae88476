"""Amounts of a shop file as people write them: lengths, angles, forces, masses, stresses, moments of sections.

Numbers are read by :mod:`flatgen.core.units`; here stand the units of what is no length. A force and a mass are told
apart: a scale reads kilograms or pounds, a spring balance newtons or pounds-force, and a file says which.

:class:`Table` reads the values of one table. What cannot be used is noted and given as NaN: comparisons with it are
false, so that later checks stay silent, and nothing is made of it because the file is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic import BaseModel

from flatgen.brake.shop_shapes import WORDS
from flatgen.core.units import NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition.toml.document import Notes, Path
from flatgen.definition.toml.shape import shape, shown

Kind = Literal["force", "mass", "stress", "second moment"]

POUND = 0.45359237
"""[kg], exact: international yard and pound agreement of 1959 (memory)."""
GRAVITY = 9.80665
"""Standard fall [m/s2], exact by definition, CGPM 1901 (memory); what makes a kgf of a kg."""
INCH = 25.4
_PSI = POUND * GRAVITY / INCH**2

UNITS: dict[Kind, dict[str, float]] = {
    "force": {"n": 1.0, "kn": 1000.0, "dan": 10.0, "kgf": GRAVITY, "kp": GRAVITY, "lbf": POUND * GRAVITY},
    "mass": {"kg": 1.0, "g": 0.001, "lb": POUND, "lbs": POUND},
    "stress": {"mpa": 1.0, "n/mm2": 1.0, "gpa": 1000.0, "psi": _PSI, "ksi": 1000.0 * _PSI},
    "second moment": {"mm4": 1.0, "cm4": 1e4, "in4": INCH**4},
}
"""Units, folded to small letters: to newtons, kilograms, megapascals and mm4 (derived from the figures above)."""
_WRITE: dict[Kind, str] = {
    "force": '"200 N", "20 kgf" or "45 lbf"',
    "mass": '"18 kg" or "40 lb"',
    "stress": '"160 MPa" or "23 ksi"',
    "second moment": '"25000 mm4", "2.5 cm4" or "0.06 in4"',
}
_SYMBOL: dict[Kind, str] = {"force": "N", "mass": "kg", "stress": "MPa", "second moment": "mm4"}
_HINTS: dict[tuple[str, str], str] = {
    ("force", "mass"): 'a mass is no force: what a scale shows as kg pulls in kgf, as "{n} kgf", and lb pulls in lbf',
    ("mass", "force"): "a force is no mass: give what a scale shows, kg or lb",
    ("stress", "force"): "a force is no stress: divide it by the area that carries it",
}
_LENGTHS = frozenset({"mm", "cm", "m", "in", "inch", "inches", "ft", "foot", "feet"})
_AMOUNT = re.compile(r"(?P<number>[-0-9][-0-9\s./,⁄½¼¾⅛⅜⅝⅞]*?)\s*(?P<unit>[a-zA-Z][a-zA-Z0-9/²⁴^]*)?")
LONGEST = 60


def amount(raw: Any, kind: Kind, unit: Unit | None = None) -> float:
    """A force, a mass, a stress or a second moment of area.

    Parameters
    ----------
    raw : Any
        What stands in the file, [-]
    kind : Kind
        What is asked for, [-]
    unit : Unit | None
        Unit of plain lengths, from which that of a second moment follows, [-]

    Returns
    -------
    float
        In [N], [kg], [MPa] or [mm4]

    Raises
    ------
    NotALength
        If it cannot be read, has no unit or that of something else; with code, text and remedy

    Examples
    --------
    By hand: 20 x 9.80665 = 196.133 N; 40 x 0.45359237 = 18.1437 kg; 23 ksi x 6.894757 = 158.58 MPa.

    >>> amount("20 kgf", "force"), amount("40 lb", "mass"), amount("23 ksi", "stress")
    (196.133, 18.1437, 158.5794)
    """
    text = raw.strip() if isinstance(raw, str) else raw
    found = None
    if isinstance(text, str):
        found = _AMOUNT.fullmatch(text.replace("−", "-")) if len(text) <= LONGEST else None
        if found is None:
            raise NotALength("FG005", f"{shown(raw)} is no {kind}", f"write for example {_WRITE[kind]}")
    mark = found["unit"] if found else None
    number = parse_length(found["number"] if found else text, default_unit="mm", signed=True).value
    if mark is None:
        if kind != "second moment" or unit is None:
            text = f"{shown(raw)} has no unit"
            raise NotALength("FG010", text, f'write "{number:g} {_SYMBOL[kind]}", if that is what it is')
        mark = f"{unit}4"
    return number * _factor(mark, kind, raw, number)


def _factor(mark: str, kind: Kind, raw: Any, number: float) -> float:
    folded = mark.lower().replace("²", "2").replace("⁴", "4").replace("^", "")
    if folded in UNITS[kind]:
        return UNITS[kind][folded]
    other = next((k for k, units in UNITS.items() if folded in units), "length" if folded in _LENGTHS else None)
    if other is None:
        known = ", ".join(UNITS[kind])
        raise NotALength("FG010", f'{shown(raw)} has the unknown unit "{mark}"', f"units of a {kind} are {known}")
    hint = _HINTS.get((kind, other), f"write for example {_WRITE[kind]}").replace("{n}", f"{number:g}")
    raise NotALength("FG010", f"{shown(raw)} is a {other} where a {kind} is asked for", hint)


@dataclass(frozen=True)
class Table:
    """Values of one table of the file, where it stands, and the unit of its plain lengths."""

    values: Mapping[str, Any]
    path: Path
    unit: Unit | None
    notes: Notes = field(compare=False)

    def at(self, *keys: str | int) -> Path:
        """Path of a key below this table."""
        return (*self.path, *keys)

    def given(self, key: str) -> bool:
        """Whether the file gives this key, well or ill."""
        return self.values.get(key) is not None or key in self.values.get("ill", ())

    def wrong(self, key: str, text: str, remedy: str, code: str = "FG032") -> None:
        """Note a fault at a key."""
        self.notes.add(self.at(key), code, text, remedy)

    def below(self, key: str, model: type[BaseModel]) -> Table:
        """A table below this one; empty where it is missing, which is told already."""
        raw, path = self.values.get(key), self.at(key)
        values = shape(model, raw, self.notes, path, WORDS) if isinstance(raw, dict) else {}
        return Table(values, path, self.unit, self.notes)

    def size(self, key: str, least: float, most: float, *, above: bool = False) -> float:
        """A length from ``least`` to ``most`` [mm], or above ``least``; negative ones where ``least`` is."""
        return self.size_at((key,), self.values.get(key), least, most, above=above)

    def size_at(self, keys: Path, raw: Any, least: float, most: float, *, above: bool = False) -> float:
        """The same for a value below a key, as of a list."""
        if raw is None:
            return math.nan  # missing: told already
        try:
            found = parse_length(raw, default_unit=self.unit, signed=True).value
        except NotALength as error:
            self.notes.add(self.at(*keys), error.code, error.text, error.remedy)
            return math.nan
        return self._within(keys, found, (least, most), above, lambda v: in_mm_and_inch(v, thickness=True))

    def angle(self, key: str, least: float, most: float) -> float:
        """An angle above ``least`` and up to ``most`` [deg]."""
        raw = self.values.get(key)
        if raw is None:
            return math.nan
        try:
            found = parse_angle(raw, signed=True)
        except NotALength as error:
            self.notes.add(self.at(key), error.code, error.text, error.remedy)
            return math.nan
        return self._within((key,), found, (least, most), True, lambda v: f"{v:g} deg")

    def amount(self, key: str, kind: Kind, most: float, *, least: float = 0.0, above: bool = True) -> float:
        """A force [N], mass [kg], stress [MPa] or second moment [mm4] above ``least`` and up to ``most``."""
        raw = self.values.get(key)
        if raw is None:
            return math.nan
        try:
            found = amount(raw, kind, self.unit)
        except NotALength as error:
            self.notes.add(self.at(key), error.code, error.text, error.remedy)
            return math.nan
        return self._within((key,), found, (least, most), above, lambda v: f"{v:g} {_SYMBOL[kind]}")

    def _within(self, keys: Path, found: float, limits: tuple[float, float], above: bool, told: Any) -> float:
        least, most = limits
        if found < least or (above and found == least):
            rule = f"not above {told(least)}" if above else f"less than {told(least)}, the least"
        elif found > most:
            rule = f"more than {told(most)}, the most"
        else:
            return found + 0.0  # no minus before a zero
        self.notes.add(self.at(*keys), "FG032", f"{told(found)} is {rule}", "measure it again, and check its unit")
        return math.nan
