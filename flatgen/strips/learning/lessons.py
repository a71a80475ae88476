"""What the log of strips of a shop teaches, learned once for a command; nothing is loaded for a shop without a log."""

from __future__ import annotations

import hashlib
from collections.abc import Container, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from flatgen.core.errors import Finding
from flatgen.core.shop import Shop
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.metals import Metal

if TYPE_CHECKING:
    from flatgen.strips.learning.model import Learned
    from flatgen.strips.log import Log
    from flatgen.strips.reading import StripReading

Alike = tuple[str, float, float]
"""Metal, thickness and inside radius [mm]: what a strip must share with a bend to tell of its allowance."""


@dataclass(frozen=True)
class Lessons:
    """What the log of a shop teaches: ``name`` of its file, ``digest`` of its strips in force, the strips themselves,
    and damaged lines."""

    name: str
    digest: str
    learned: Learned
    readings: tuple[StripReading, ...]
    findings: tuple[Finding, ...]

    def kinds(self) -> set[Alike]:
        """Metals, thicknesses and radii of bends that strips told of."""
        return {(str(n[1]), float(str(n[2])), float(str(n[3]))) for n in self.learned.behind if n[0] == "allowance"}

    def counted(self, kinds: Container[Alike]) -> tuple[int, int]:
        """Bends of these metals, thicknesses and radii beside which a leg was measured, and the strips they are on."""
        each = [
            sum(
                (s.metal, round(s.nominal, 3), round(b.inside_radius, 3)) in kinds
                and (s.legs[n].got is not None or s.legs[n + 1].got is not None)
                for n, b in enumerate(s.bends)
            )
            for s in self.readings
        ]
        return sum(each), sum(n > 0 for n in each)

    def settings(self, kind: Alike, setup: str) -> list[float]:
        """Nose settings at which bends of a metal, thickness and radius were made on a set-up [mm]."""
        names = [n for n in self.learned.behind if n[0] == "allowance" and n[1:4] == kind and n[4] == setup]
        return sorted({float(str(n[5])) for n in names if n[5] is not None})


def log_of(shop: Shop) -> Log | None:
    """The log of strips of a shop, None where there is none or nothing in it.

    Parameters
    ----------
    shop : Shop
        The shop file as read, [-]

    Returns
    -------
    Log | None
        Its strips, [mm]

    Raises
    ------
    InputRefused
        FG001 where it cannot be read
    """
    if not shop.strips or not Path(shop.strips).exists():
        return None
    from flatgen.strips.log import read_log

    log = read_log(Path(shop.strips))
    return log if log.entries or log.damaged else None


def digest_of(log: Log | None) -> str:
    """Sixteen hexadecimal digits that change with the strips in force, whatever their order; empty without any.

    Parameters
    ----------
    log : Log | None
        The log, [-]

    Returns
    -------
    str
        The digits, [-]
    """
    if log is None or not log.entries:
        return ""
    return hashlib.sha256(" ".join(sorted(e.digest for e in log.entries)).encode()).hexdigest()[:16]


def lessons_of(shop: Shop | None, metals: Mapping[str, Metal]) -> Lessons | None:
    """What the log of a shop teaches, None where there is none; one with damaged lines alone teaches nothing.

    Parameters
    ----------
    shop : Shop | None
        The shop file as read, [-]
    metals : Mapping[str, Metal]
        Metals in force, [-]

    Returns
    -------
    Lessons | None
        What is learned, [mm]

    Raises
    ------
    InputRefused
        FG001 where the log cannot be read
    """
    log = None if shop is None else log_of(shop)
    if shop is None or log is None:
        return None
    from flatgen.strips.learning.model import learn
    from flatgen.strips.learning.prior_of import prior_for

    learned = learn(log.readings, prior_for(shop, metals))
    return Lessons(Path(shop.strips).name, digest_of(log), learned, log.readings, log.damaged)


def kind_of(part: Part, bend: BendSpec) -> Alike:
    """What a strip must share with a bend to tell of it: metal, thickness [mm], inside radius [mm].

    Parameters
    ----------
    part : Part
        The part, [mm]
    bend : BendSpec
        One of its bends, [mm]

    Returns
    -------
    Alike
        As the log names them, [mm]
    """
    return ("" if part.metal is None else part.metal.name, round(part.thickness, 3), round(bend.inside_radius, 3))
