"""A part as the answer, the record and the drawings see it: :class:`Part`.

part       a definition (``definition.model.Profile``) or a part received as a solid (``unfolding.received.part``)
bend       joins two legs (``first``, ``second``, indices); its allowance is the length of metal it uses
leg        a flat part between bends; of a received part the panels of its flat, in their order

Millimetres and degrees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, Protocol

from flatgen.core.errors import Finding, Severity
from flatgen.core.flat_pattern import FlatPattern, Way
from flatgen.core.opening_rules import OpeningRules
from flatgen.core.units import in_mm_and_inch
from flatgen.metal.allowance import Allowance, Dimensions
from flatgen.metal.metals import Metal, radius_findings

AllowanceSource = Literal["given", "metal", "asked"]
LARGEST_ANGLE = 360.0
"""A hem is 180; what is rolled further has no more metal than one turn [deg]."""
FLAT_IN_THICKNESSES = 2.0
"""Flat that a nose can hold and a leaf can swing, in thicknesses: common practice, no source."""
EQUAL = 1e-6
"""Sizes that differ by less are equal [mm]."""


@dataclass(frozen=True)
class BendSpec:
    """A bend between the legs ``first`` and ``second``.

    ``angle`` [deg] is what the metal is turned through; ``inside_radius`` [mm] is that of the finished part.
    ``deduction`` [mm] is two setbacks less the allowance, the setbacks in ``deduction_dimensions``; None above 180
    deg. ``hold`` is the leg that the user wants under the clamp bar. ``allowance_source``: "given" in a definition,
    that of the "metal", or "asked" to be measured.
    """

    label: str
    angle: float
    way: Way
    inside_radius: float
    allowance: Allowance
    deduction: float | None
    deduction_dimensions: Dimensions
    first: int
    second: int
    where: str = ""
    hold: int | None = None
    allowance_source: AllowanceSource = "given"

    def __post_init__(self) -> None:
        if not 0 <= self.inside_radius < math.inf:
            raise ValueError(f"inside radius of {self.inside_radius}")
        if not 0 < self.allowance.length < math.inf:
            raise ValueError(f"allowance of {self.allowance.length}")
        if not 0 < self.angle <= LARGEST_ANGLE:
            raise ValueError(f"angle of {self.angle} deg")
        if self.way not in ("up", "down"):
            raise ValueError(f"way {self.way!r}")
        if self.hold not in (None, self.first, self.second):
            raise ValueError(f"leg {self.hold} is not of bend {self.label}")


@dataclass(frozen=True)
class Source:
    """Where a received part comes from: ``solid`` of so many ``solids`` of a ``file``, counted from 1.

    ``product`` is its name in the file, ``count`` how often the file places it, ``sha256`` that of the whole file,
    ``request`` the options it was unfolded with.
    """

    file: str
    sha256: str
    solid: int
    solids: int
    product: str
    count: int
    request: tuple[tuple[str, str | float | bool | None], ...] = ()

    @property
    def where(self) -> str:
        if self.solids == 1:
            return self.file
        return f"{self.file}: solid {self.solid}" + (f' "{self.product}"' if self.product else "")

    @property
    def text(self) -> str:
        """Where it comes from, in words."""
        of = f", solid {self.solid} of {self.solids}" if self.solids > 1 else ""
        return self.file.rpartition("/")[2] + of + (f", placed {self.count} times" if self.count > 1 else "")


@dataclass(frozen=True)
class Particulars:
    """What a title block says beside the numbers; empty where it is to be filled in by hand.

    ``grain``: rolled "along" the bends of the part or "across" them.
    """

    owner: str = ""
    number: str = ""
    revision: str = ""
    date: str = ""
    creator: str = ""
    grain: str = ""


class Part(Protocol):
    """What a definition and a received part have in common."""

    @property
    def name(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def metal(self) -> Metal | None: ...
    @property
    def metal_text(self) -> str: ...
    @property
    def thickness(self) -> float: ...
    @property
    def thickness_note(self) -> str: ...
    @property
    def dimensions(self) -> Dimensions: ...
    @property
    def bends(self) -> tuple[BendSpec, ...]: ...
    @property
    def order(self) -> tuple[str, ...] | None: ...
    @property
    def rules(self) -> OpeningRules: ...
    @property
    def fingerprint(self) -> str: ...
    @property
    def source(self) -> Source | None: ...
    @property
    def reference_legs(self) -> tuple[int, ...]: ...
    @property
    def particulars(self) -> Particulars: ...

    def leg_name(self, leg: int) -> str | None:
        """The user's name of a leg, or None."""

    def leg_text(self, leg: int) -> str:
        """A leg as messages call it."""

    def order_of(self, label: str) -> int | None:
        """Place of a bend in the user's order, from 1, or None without one."""


def bends_upright(flat: FlatPattern) -> bool:
    """Whether every bend line of a flat runs along y, so that its x alone says where it is."""
    return all(abs(b.centre[0][0] - b.centre[1][0]) <= EQUAL for b in flat.bends)


def near_direction(flat: FlatPattern) -> tuple[float, float, float]:
    """The unit vector along which the near face of the root leg looks in the formed part, rounded to 1e-9."""
    x, y, z = (round(float(c), 9) + 0.0 for c in flat.panels[flat.root].placed[:3, 2])
    return (x, y, z)


def near_face(flat: FlatPattern) -> str:
    """:func:`near_direction` in words: an axis of the file, else the vector."""
    vector = near_direction(flat)
    main = max(range(3), key=lambda n: abs(vector[n]))
    axis = f"{'-' if vector[main] < 0 else '+'}{'xyz'[main]}"
    text = axis if abs(vector[main]) == 1.0 else f"({', '.join(f'{round(c, 3) + 0.0:.3f}' for c in vector)})"
    return f"near face{f' of {leg_number(flat.root)}' if flat.bends else ''} looks along {text} of the file"


def leg_number(leg: int) -> str:
    """A leg without a name, counted from 1.

    >>> leg_number(2)
    'leg 3'
    """
    return f"leg {leg + 1}"


def bend_findings(metal: Metal | None, thickness: float, bends: Iterable[BendSpec]) -> tuple[Finding, ...]:
    """Findings of allowance methods and of the metal's minimum radius: FG101 to FG103, FG105, FG106.

    :param metal: without one there are no findings on radii
    :param thickness: of the sheet [mm]
    """
    findings: list[Finding] = []
    for bend in bends:
        of_bend = [Finding(r.code, r.severity, bend.where, r.text, r.remedy) for r in bend.allowance.remarks]
        if metal is not None:
            of_bend += radius_findings(metal, thickness, bend.inside_radius, bend.angle, bend.where)
        findings += [replace(f, text=f"bend {bend.label}: {f.text}") for f in of_bend]
    return tuple(findings)


def merge_alike_findings(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings with the same words for several bends made one with all their labels."""
    groups: dict[Finding, list[str]] = {}
    for item in findings:
        head, _, text = item.text.partition(": ")
        groups.setdefault(replace(item, text=text), []).append(head.removeprefix("bend "))
    return tuple(
        replace(item, text=f"bend{'s' if len(bends) > 1 else ''} {', '.join(bends)}: {item.text}")
        for item, bends in groups.items()
    )


def short_flat_findings(leg: str, flat: float, bend: str, thickness: float, where: str) -> tuple[Finding, ...]:
    """FG104 for an end leg: a note under two thicknesses of ``flat`` [mm], a caution under one; else nothing."""
    least = FLAT_IN_THICKNESSES * thickness
    if flat >= least - EQUAL:
        return ()
    text = (
        f"{leg} has {flat:.2f} mm of flat beside bend {bend}, less than 2 t = {in_mm_and_inch(least, thickness=True)} "
        "(common practice, no source; no brake is known)"
    )
    severity: Severity = "caution" if flat < thickness else "note"
    remedy = "lengthen the leg: a nose cannot hold it and a leaf cannot swing it without flat"
    return (Finding("FG104", severity, where, text, remedy),)
