"""Figures of a metal with their sources: strengths and the like, minimum inside radii, gauge numbers; key paths.

mark     "seen" (read in the source), "memory" (not read), "derived" (arithmetic from a seen figure),
         "given" (a user's own table)
kind     typical, minimum, maximum, nominal: never mixed, a minimum is no typical value
"""

from __future__ import annotations

import difflib
import functools
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from flatgen.metal.allowance import SLACK, NotUsable

Reading = Literal["nominal", "up to", "this only"]
Direction = Literal["any", "across", "along"]

TABLE_FAULT = "FG031"
"""Code of faults in a metal table."""
INCH = 25.4
"""[mm]"""
_NOMINAL_SHARE = 0.025
"""A sheet this share over a nominal column still belongs to it."""
_LENGTHS = {"in": INCH, "mm": 1.0}
_STRESS = {"MPa": 1.0, "N/mm2": 1.0, "GPa": 1000.0, "ksi": 6.894757293, "Msi": 6894.757293}
UNITS: dict[str, dict[str, float]] = {
    "density": {"kg/m3": 1.0, "g/cm3": 1000.0, "lb/in3": 27679.904710},
    "modulus": _STRESS,
    "poisson": {"": 1.0},
    "yield": _STRESS,
    "ultimate": _STRESS,
}
HOUSE_UNITS = {"density": "kg/m3", "modulus": "MPa", "poisson": "", "yield": "MPa", "ultimate": "MPa"}


@dataclass(frozen=True)
class Source:
    """Where a figure was read; ``where``: page, table."""

    name: str
    title: str
    where: str = ""
    url: str = ""

    def __str__(self) -> str:
        return f"{self.title}, {self.where}" if self.where else self.title


@dataclass(frozen=True)
class Figure:
    """One figure of a metal: ``value`` in the unit of ``HOUSE_UNITS``, ``printed`` as the source has it.

    It holds for thicknesses above ``over`` up to ``to`` [mm], where the source says so.
    """

    quantity: str
    value: float
    printed: str
    kind: str
    source: Source
    mark: str
    over: float | None = None
    to: float | None = None
    note: str = ""

    @property
    def unit(self) -> str:
        """Unit of ``value``."""
        return HOUSE_UNITS[self.quantity]

    def holds_for(self, thickness: float) -> bool:
        """Whether it is printed for this thickness [mm]."""
        above = self.over is None or thickness > self.over
        return above and (self.to is None or thickness <= self.to)


@dataclass(frozen=True)
class RadiusFigure:
    """A minimum inside radius for one sheet, from one table: ``value`` [mm] is the radius to keep.

    ``smaller`` [mm]: the small end of a printed range, else the same; ``read``: which cell, and how it was read.
    """

    value: float
    smaller: float
    source: Source
    mark: str
    read: str


@dataclass(frozen=True)
class RadiusTable:
    """A row of a printed table: ``columns`` [thickness_unit], ``radii`` as (low, high) [unit].

    ``printed_for`` is the largest bend angle that the table speaks of [deg].
    """

    source: Source
    mark: str
    unit: Literal["t", "in", "mm"]
    thickness_unit: Literal["in", "mm"]
    columns: tuple[float, ...]
    radii: tuple[tuple[float, float], ...]
    reading: Reading = "nominal"
    direction: Direction = "any"
    printed_for: float | None = None
    step_up: bool = False

    def __post_init__(self) -> None:
        if len(self.columns) != len(self.radii) or not self.columns:
            raise ValueError(f"{len(self.columns)} columns and {len(self.radii)} radii")
        if any(a >= b for a, b in zip(self.columns, self.columns[1:], strict=False)):
            raise ValueError("columns do not grow")

    def figure(self, thickness: float, angle: float, *, along: bool = False) -> RadiusFigure | None:
        """The figure for a sheet [mm] and a bend [deg], or None where the table has none.

        :param along: whether the bend runs along the rolling direction
        """
        if (self.direction == "along" and not along) or (self.direction == "across" and along and not self.step_up):
            return None
        index = self._column(thickness)
        beyond = self.printed_for is not None and angle > self.printed_for + SLACK
        stepped = self.step_up and (beyond or along)
        if index is None or index + stepped >= len(self.columns):
            return None
        low, high = self.radii[index + stepped]
        scale = {"t": thickness, "in": INCH, "mm": 1.0}[self.unit]
        return RadiusFigure(
            value=high * scale,
            smaller=low * scale,
            source=self.source,
            mark=self.mark,
            read=self._words(index, stepped=stepped, beyond=beyond, thickness=thickness),
        )

    def _column(self, thickness: float) -> int | None:
        size = thickness / (INCH if self.thickness_unit == "in" else 1.0)
        slack = SLACK if self.reading == "up to" else _NOMINAL_SHARE
        for index, column in enumerate(self.columns):
            if size <= column * (1 + slack):
                near = size >= column * (1 - slack)
                return index if near or self.reading != "this only" else None
        return None

    def _words(self, index: int, *, stepped: bool, beyond: bool, thickness: float) -> str:
        low, high = self.radii[index + stepped]
        cell = f"{high:g} {self.unit}" if low == high else f"{low:g} to {high:g} {self.unit}, larger used"
        column = self.columns[index + stepped]
        up_to = "up to " if self.reading == "up to" else ""
        words = [f"{cell}, column {up_to}{column:g} {self.thickness_unit}"]
        size = thickness / (INCH if self.thickness_unit == "in" else 1.0)
        if stepped:
            reason = f"above {self.printed_for:g} degrees" if beyond else "along the rolling direction"
            words.append(f"next thicker column for a bend {reason}")
        elif self.reading == "nominal" and size < column * (1 - _NOMINAL_SHARE):
            words.append("next thicker column")
        if beyond and not self.step_up:
            words.append(f"printed for bends up to {self.printed_for:g} degrees")
        return ", ".join(words)


@dataclass(frozen=True)
class GaugeSystem:
    """A gauge system: ``thickness`` [mm], and the name of source and mark, by number."""

    name: str
    title: str
    thickness: dict[int, float]
    sources: dict[int, tuple[str, str]]


@functools.lru_cache(maxsize=1)
def gauge_systems() -> dict[str, GaugeSystem]:
    """The gauge systems known, by name.

    >>> gauge_systems()["swg"].title
    'Imperial standard wire gauge'
    """
    text = (Path(__file__).parent / "data" / "gauges.toml").read_text(encoding="utf-8")
    by_name = {}
    for name, system in tomllib.loads(text)["systems"].items():
        scale = _LENGTHS[system["unit"]]
        thickness: dict[int, float] = {}
        sources: dict[int, tuple[str, str]] = {}
        for part in system["parts"]:
            for number, value in part["thickness"].items():
                thickness[int(number)] = value * scale
                sources[int(number)] = (part["source"], part["mark"])
        by_name[name] = GaugeSystem(name, system["title"], dict(sorted(thickness.items())), sources)
    return by_name


def gauge_thickness(system: str, number: int) -> float:
    """Thickness of a gauge number [mm].

    :param system: as in ``Metal.gauge_system``
    :raises NotUsable: there is no such system, or it has no such number.

    15 U.S.C. 206: 20 gauge is 0.0375 in.

    >>> gauge_thickness("us-standard", 20)
    0.9525
    """
    systems = gauge_systems()
    if system not in systems:
        near = difflib.get_close_matches(system, systems, n=1)
        hint = f'did you mean "{near[0]}"? ' if near else ""
        raise NotUsable(f'no gauge system is called "{system}"', f"{hint}known are: {', '.join(systems)}")
    known = systems[system]
    if number not in known.thickness:
        numbers = ", ".join(str(n) for n in known.thickness)
        text = f"{known.title} has no number {number} here: it has {numbers}"
        raise NotUsable(text, "give the thickness in mm or in")
    return known.thickness[number]


def key_path(parts: Iterable[str | int]) -> str:
    """Keys as one would write them.

    >>> key_path(["metals", "6061-T6", "yield", 0, "unit"])
    'metals."6061-T6".yield[0].unit'
    """
    words = ""
    for part in parts:
        if isinstance(part, int):
            words += f"[{part}]"
            continue
        word = part if re.fullmatch(r"\w+", part) else f'"{part}"'
        words += f".{word}" if words else word
    return words
