"""Minimum inside radii as tables print them, and how a table is read.

A table has columns by thickness and one radius per column, in multiples of the thickness, in inches or in
millimetres. How it is read:

nominal     columns are nominal thicknesses: a sheet up to 2.5 % over a column belongs to it (rows in
            fractions of an inch stand for the gauge sizes: .016 for 1/64, .032 for 1/32, .064 for 1/16)
up to       columns are upper limits
this only   one cell of an example: holds for that sheet alone
step up     a thickness between two columns takes the next thicker one, the larger radius; beyond the
            thickest column the table has no figure. DIN 6935 also takes the next thicker column for bend
            angles above 120 or bends along the rolling direction.
range       where a range is printed the larger figure is used, the smaller is kept

This module imports only ``figure``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from flatgen.metal.figures import INCH, Source

Reading = Literal["nominal", "up to", "this only"]
Direction = Literal["any", "across", "along"]

NOMINAL = 0.025  # a sheet this share over a nominal column still belongs to it
SLACK = 1e-9  # of rounding


@dataclass(frozen=True)
class RadiusFigure:
    """A minimum inside radius for one sheet, from one table.

    ``value`` is the radius to keep [mm], ``smaller`` the small end of a printed range [mm] (else the same),
    ``read`` says in words which cell it is and how it was read.
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
        """The figure for a sheet and a bend, or None where the table has none.

        Parameters
        ----------
        thickness : float
            Thickness of the sheet, > 0, [mm]
        angle : float
            Bend angle, [deg]
        along : bool
            Whether the bend runs along the rolling direction, [-]

        Returns
        -------
        RadiusFigure or None
            The figure with the way in which it was read, [mm]
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
        slack = SLACK if self.reading == "up to" else NOMINAL
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
        elif self.reading == "nominal" and size < column * (1 - NOMINAL):
            words.append("next thicker column")
        if beyond and not self.step_up:
            words.append(f"printed for bends up to {self.printed_for:g} degrees")
        return ", ".join(words)
