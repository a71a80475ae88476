"""What was measured on a strip, as the log keeps it and the model learns from it. Holds no mathematics.

strip    a narrow piece with a part's own section, bent in the part's own order
reading  one strip: its thickness, its legs and bends as measured; what was not measured is None

Legs are told in the order of the section, each to the lines that ``dimensions`` names at its bends. Millimetres,
degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import Way
from flatgen.core.schedule import Which
from flatgen.metal.allowance import Dimensions, setback
from flatgen.strips import words as words

Place = Literal["left", "middle", "right"]
"""Where along the brake it was bent, seen by the worker."""


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
    held: Which
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


@dataclass(frozen=True)
class LegReading:
    """One leg: ``name`` as the form calls it, ``asked`` and ``got`` [mm], to which lines (``dimensions``)."""

    name: str
    asked: float
    dimensions: Dimensions
    got: float | None = None


@dataclass(frozen=True)
class StripReading:
    """One strip.

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


PLACES = 6
"""Decimals of a number."""


def flat_asked(reading: StripReading, place: int) -> float:
    """Flat of a leg as asked, between its tangent lines or edges.

    :returns: the leg less its setbacks; can be negative [mm]
    """
    leg = reading.legs[place]
    beside = reading.bends[max(place - 1, 0) : place + 1]
    return leg.asked - sum(setback(b.angle, b.inside_radius, reading.nominal, leg.dimensions) for b in beside)
