"""A part that was received as a solid, as answers, records and drawings ask for it: legs are the panels of its flat."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Bend, FlatPattern
from flatgen.core.opening_rules import OpeningRules, default_rules
from flatgen.definition.part import (
    EQUAL,
    AllowanceSource,
    BendSpec,
    Particulars,
    Source,
    bend_findings,
    leg_number,
    merge_alike_findings,
    short_flat_findings,
)
from flatgen.metal.allowance import Allowance, Dimensions, setback
from flatgen.metal.metals import Metal


@dataclass(frozen=True)
class ReceivedPart:
    """A part that came as a solid: a tree of legs and bends, found in its flat.

    ``metal`` is None where only ``k`` was given; ``title`` is the name of its product. Deductions are for legs
    dimensioned overall, which has an answer up to 180 deg. ``fingerprint`` changes with any number of the flat, with
    the file and with what was asked.
    """

    name: str
    title: str
    metal: Metal | None
    k: float | None
    thickness: float
    bends: tuple[BendSpec, ...]
    source: Source
    fingerprint: str
    findings: tuple[Finding, ...] = ()
    rules: OpeningRules = field(default_factory=default_rules)
    thickness_note: str = ""
    dimensions: Dimensions = "overall"
    order: tuple[str, ...] | None = None
    reference_legs: tuple[int, ...] = ()
    particulars: Particulars = field(default_factory=Particulars)

    @property
    def metal_text(self) -> str:
        if self.metal is None:
            return f"metal not given (K = {self.k:g})"
        return self.metal.name if self.k is None else f"{self.metal.name} (K = {self.k:g} given)"

    def leg_name(self, leg: int) -> str | None:
        return None

    def leg_text(self, leg: int) -> str:
        """``leg 3``, counted from 1 in the order of the flat's panels."""
        return leg_number(leg)

    def order_of(self, label: str) -> int | None:
        return None


def received_part(
    name: str, flat: FlatPattern, allowances: Iterable[Allowance], metal: Metal | None, k: float | None, source: Source
) -> ReceivedPart:
    """The part behind the flat of a received solid, with findings FG101 to FG106 by the shop rules."""
    bends = tuple(
        _spec(bend, allowance, flat.thickness, source.where, "given" if metal is None or k is not None else "metal")
        for bend, allowance in zip(flat.bends, allowances, strict=True)
    )
    findings = merge_alike_findings(bend_findings(metal, flat.thickness, bends)) + _short_flats(flat, source.where)
    print_ = _fingerprint(name, flat, metal, source)
    return ReceivedPart(name, source.product, metal, k, flat.thickness, bends, source, print_, findings)


def _spec(bend: Bend, allowance: Allowance, thickness: float, where: str, by: AllowanceSource) -> BendSpec:
    mode: Dimensions = "overall"
    sides = None if bend.angle > 180 else 2 * setback(bend.angle, bend.inside_radius, thickness, mode)
    return BendSpec(
        label=bend.label,
        angle=bend.angle,
        way=bend.way,
        inside_radius=bend.inside_radius,
        allowance=allowance,
        deduction=None if sides is None else sides - allowance.length,
        deduction_dimensions=mode,
        first=bend.first,
        second=bend.second,
        where=where,
        allowance_source=by,
    )


def _short_flats(flat: FlatPattern, where: str) -> tuple[Finding, ...]:
    """FG104 for legs with one bend, by how far their metal reaches from its tangent line."""
    findings: tuple[Finding, ...] = ()
    for index, panel in enumerate(flat.panels):
        beside = [b for b in flat.bends if index in (b.first, b.second)]
        if len(beside) == 1:
            bend = beside[0]
            (ox, oy), (cx, cy) = bend.origin, bend.across
            points = [p for r in panel.regions for p in r.outline.points(EQUAL * 1e3)]
            places = [(x - ox) * cx + (y - oy) * cy for x, y in points]
            reach = -min(places) if index == bend.first else max(places) - bend.allowance
            findings += short_flat_findings(leg_number(index), reach, bend.label, flat.thickness, where)
    return findings


def _fingerprint(name: str, flat: FlatPattern, metal: Metal | None, source: Source) -> str:
    """Sixteen hexadecimal digits of SHA-256 over the flat's numbers (to a millionth), the file and the request."""
    loops = [[(*_sixth(*p.start), *_sixth(*p.at(0.5))) for p in loop] for loop in (flat.outline, *flat.openings)]
    bends = [
        (b.label, b.way, *_sixth(b.angle, b.inside_radius, b.allowance, *b.centre[0], *b.centre[1])) for b in flat.bends
    ]
    head = (name, metal.name if metal else None, *_sixth(flat.thickness), source)
    return hashlib.sha256(repr((head, loops, bends)).encode("utf-8", "backslashreplace")).hexdigest()[:16]


def _sixth(*values: float) -> tuple[float, ...]:
    return tuple(round(v, 6) + 0.0 for v in values)
