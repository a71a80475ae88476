"""What was measured on a strip, as the log keeps it and the model learns from it [mm, deg].

strip    a narrow piece with a part's own section, bent in the part's own order
reading  one strip: its thickness, its legs and bends as measured; what was not measured is None
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import Way
from flatgen.core.schedule import WhichSide
from flatgen.metal.allowance import Dimensions, setback

Place = Literal["left", "middle", "right"]
"""Where along the brake it was bent, seen by the worker."""

PLACES = 6
"""Decimals of a number."""


@dataclass(frozen=True)
class BendReading:
    """One bend of a strip.

    As asked: ``angle`` [deg], ``way``, ``inside_radius`` [mm], the ``allowance`` [mm] that the blank was cut for.
    As done: ``held`` side, ``setup`` by name with its ``nose_radius`` and ``nose_setting`` [mm], ``sight`` [mm]: the
    distance of the line as marked from the blank's edge on the held side; ``arm`` [mm]: from the swung tangent line to
    where the leaf bore; ``loss`` [deg]: what deflection and twist were predicted to take of the angle, taken out before
    anything is learned. As measured: ``set`` and ``got`` [deg] at the leaf and of the finished bend, ``radius`` [mm].
    """

    label: str
    angle: float
    way: Way
    inside_radius: float
    allowance: float
    held: WhichSide
    setup: str
    nose_radius: float
    nose_setting: float | None
    arm: float
    sight: float | None = None
    place: Place | None = None
    set: float | None = None
    got: float | None = None
    radius: float | None = None
    loss: float = 0.0

    @property
    def has_both_angles(self) -> bool:
        """Whether leaf angle and finished angle were measured."""
        return self.set is not None and self.got is not None


@dataclass(frozen=True)
class LegReading:
    """One leg: ``name`` as the form calls it, ``asked`` and ``got`` [mm] to the lines that ``dimensions`` names."""

    name: str
    asked: float
    dimensions: Dimensions
    got: float | None = None


@dataclass(frozen=True)
class StripReading:
    """One strip, its legs in the order of the section.

    ``thickness`` by micrometer, ``nominal`` as bought; ``width`` along the bends; ``blank``: the developed length that
    was cut, ``blank_got`` as measured [mm]; ``sheet``: which sheet or batch; ``grain`` along or across the
    bends; ``part`` and ``shop``: fingerprints of what it was made from.
    """

    name: str
    metal: str
    nominal: float
    thickness: float | None
    width: float
    blank: float
    blank_got: float | None
    legs: tuple[LegReading, ...]
    bends: tuple[BendReading, ...]
    sheet: str = ""
    grain: str = ""
    date: str = ""
    note: str = ""
    part: str = ""
    shop: str = ""

    def __post_init__(self) -> None:
        if len(self.legs) != len(self.bends) + 1:
            raise ValueError(f"{len(self.legs)} legs and {len(self.bends)} bends are no chain")


def has_measured_leg(reading: StripReading, bend: int) -> bool:
    """Whether a leg beside the bend of this number was measured."""
    return reading.legs[bend].got is not None or reading.legs[bend + 1].got is not None


def planned_flat(reading: StripReading, place: int) -> float:
    """Flat of a leg as asked, between its tangent lines or edges: the leg less its setbacks; can be negative [mm]."""
    leg = reading.legs[place]
    beside = reading.bends[max(place - 1, 0) : place + 1]
    return leg.asked - sum(setback(b.angle, b.inside_radius, reading.nominal, leg.dimensions) for b in beside)
