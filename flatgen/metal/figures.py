"""A figure of a metal and where it comes from.

figure   a value in house units with the unit, kind, source and mark under which it was printed
mark     "seen" (read in the source), "memory" (not read), "derived" (arithmetic from a seen figure),
         "given" (a user's own table)
kind     typical, minimum, maximum, nominal: never mixed, a minimum is no typical value

House units: density kg/m3, stress and modulus MPa, lengths mm. This module imports nothing of ours.
"""

from __future__ import annotations

from dataclasses import dataclass

INCH = 25.4  # [mm]
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
    """Where a figure was read: ``title``, ``where`` (page, table), ``url``."""

    name: str
    title: str
    where: str = ""
    url: str = ""

    def __str__(self) -> str:
        return f"{self.title}, {self.where}" if self.where else self.title


@dataclass(frozen=True)
class Figure:
    """One figure of a metal.

    ``quantity`` is a key of ``UNITS``; ``value`` is in house units, ``printed`` as the source has it;
    it holds for thicknesses above ``over`` up to ``to`` [mm], where the source says so.
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
        """House unit of ``value``."""
        return HOUSE_UNITS[self.quantity]

    def holds_for(self, thickness: float) -> bool:
        """Whether it is printed for this thickness [mm]."""
        above = self.over is None or thickness > self.over
        return above and (self.to is None or thickness <= self.to)
