"""What is known from the log of strips of a shop, and what it changes about the bends of a part.

Nothing is loaded for a shop without a log.
"""

from __future__ import annotations

import hashlib
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from flatgen.bend_order.costs import form_bend
from flatgen.bend_order.plan import SAME_SETTING
from flatgen.brake.springback import strength_of
from flatgen.core.errors import Finding
from flatgen.core.learned import KnownAllowance, KnownBend
from flatgen.core.schedule import Crease, Schedule
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.allowance import Allowance, NotUsable, StripAllowance
from flatgen.metal.metals import Metal
from flatgen.strips.cut import place_of
from flatgen.strips.learning.priors import Kind, prior_for, setting_class
from flatgen.strips.reading import StripReading, has_measured_leg

if TYPE_CHECKING:
    from flatgen.strips.learning.model import Estimates
    from flatgen.strips.log import Log

BendFamily = tuple[str, float, float]
"""Metal, thickness and inside radius [mm]: what a strip must share with a bend to give its allowance."""

PASSES = 2
"""How often a part is developed anew; each time its set-ups and nose settings may come out otherwise."""

NEAR_SETTING = 0.5
"""Nose settings that differ by no more are bent alike: the radius follows by no more than that [mm]. Own choice."""
NORMAL_95 = 1.96


@dataclass(frozen=True)
class ShopKnowledge:
    """What is known from the log of a shop: ``name`` of its file, ``digest`` of its strips in force, the strips
    themselves, and ``findings`` on damaged lines.
    """

    name: str
    digest: str
    estimates: Estimates
    readings: tuple[StripReading, ...]
    findings: tuple[Finding, ...]

    def families(self) -> set[BendFamily]:
        """Families of bends with an allowance."""
        return {u[1:4] for u in self.estimates.evidence if u.sort == "allowance"}

    def count_bends(self, families: Container[BendFamily]) -> tuple[int, int]:
        """Bends of these families beside which a leg was measured, and the strips they are on."""
        counts = [
            sum(
                (s.metal, round(s.nominal, 3), round(b.inside_radius, 3)) in families and has_measured_leg(s, n)
                for n, b in enumerate(s.bends)
            )
            for s in self.readings
        ]
        return sum(counts), sum(n > 0 for n in counts)

    def nose_settings(self, family: BendFamily, setup: str) -> list[float]:
        """Nose settings at which bends of a family were made on a set-up [mm]."""
        bends = [u for u in self.estimates.evidence if u.sort == "allowance" and (u[1:4], u.setup) == (family, setup)]
        return sorted({u.nose_setting for u in bends if u.nose_setting is not None})


def shop_log(shop: Shop) -> Log | None:
    """The log of strips of a shop, None where there is none or nothing in it.

    :raises InputRefused: FG001 where it cannot be read
    """
    if not shop.strips or not Path(shop.strips).exists():
        return None
    from flatgen.strips.log import read_log

    log = read_log(Path(shop.strips))
    return log if log.entries or log.damaged else None


def log_digest(log: Log | None) -> str:
    """Sixteen hexadecimal digits that change with the strips in force, whatever their order; empty without any."""
    if log is None or not log.entries:
        return ""
    return hashlib.sha256(" ".join(sorted(e.digest for e in log.entries)).encode()).hexdigest()[:16]


def knowledge_of(shop: Shop | None, metals: Mapping[str, Metal]) -> ShopKnowledge | None:
    """What is known from the log of a shop, None where there is none; from damaged lines alone nothing is.

    :raises InputRefused: FG001 where the log cannot be read
    """
    log = None if shop is None else shop_log(shop)
    if shop is None or log is None:
        return None
    from flatgen.strips.learning.model import learn

    estimates = learn(log.readings, prior_for(shop, metals))
    return ShopKnowledge(Path(shop.strips).name, log_digest(log), estimates, log.readings, log.damaged)


def family_of(part: Part, bend: BendSpec) -> BendFamily:
    """The family of a bend."""
    return ("" if part.metal is None else part.metal.name, round(part.thickness, 3), round(bend.inside_radius, 3))


def plan_agrees(schedule: Schedule, bends: Mapping[str, KnownBend]) -> bool:
    """Whether a plan makes each bend on the set-up and at the nose setting that ``bends`` are for."""
    for stage in schedule.stages:
        known = bends[stage.crease.label]
        setup, setting = (stage.setup or schedule.setup).name, stage.setting
        if setup != known.setup or (setting is None) != (known.nose_setting is None):
            return False
        if setting is not None and known.nose_setting is not None and abs(setting - known.nose_setting) >= SAME_SETTING:
            return False
    return True


def disagreement(part: Part, schedule: Schedule) -> Finding:
    """The caution FG158 that set-ups or nose settings have not come to rest."""
    places = ", ".join(
        f"{s.crease.label} {(s.setup or schedule.setup).name}"
        + ("" if s.setting is None else f" at {s.setting:.2f} mm")
        for s in schedule.stages
    )
    text = (
        f"set-ups and nose settings still change after {PASSES} developments with what strips told ({places}): "
        "lines and blank may be for another setting than the plan has"
    )
    remedy = "name the set-up with --set-up and give it a setting in the shop file"
    return Finding("FG158", "caution", place_of(part), text, remedy)


def with_fixed_settings(part: Part, schedule: Schedule, shop: Shop, knowledge: ShopKnowledge) -> Shop:
    """The shop with set-ups that have no nose setting of their own fixed at one that strips were bent at.

    What was learned holds there. Only where the plan's own are near, one for a set-up, and where nothing is crushed.
    """
    specs = {b.label: b for b in part.bends}
    setups = []
    for setup in shop.setups:
        stages = [s for s in schedule.stages if (s.setup or schedule.setup).name == setup.name]
        planned = {s.setting for s in stages}
        one = next(iter(planned)) if len(planned) == 1 else None
        if setup.setting is not None or one is None:
            setups.append(setup)
            continue
        near = [
            v
            for s in stages
            for v in knowledge.nose_settings(family_of(part, specs[s.crease.label]), setup.name)
            if abs(v - one) <= NEAR_SETTING and v >= _least(part, [t.crease for t in stages], setup, shop, knowledge)
        ]
        setups.append(replace(setup, setting=min(near, key=lambda v: abs(v - one))) if near else setup)
    return replace(shop, setups=tuple(setups))


def fixed_setups(shop: Shop, fixed: Shop) -> frozenset[str]:
    """Set-ups that :func:`with_fixed_settings` fixed."""
    return frozenset(o.name for o, n in zip(shop.setups, fixed.setups, strict=True) if o.setting != n.setting)


def _least(part: Part, creases: Sequence[Crease], setup: SetUp, shop: Shop, knowledge: ShopKnowledge) -> float:
    """Least nose setting with the springback of the strips [mm]."""
    strength = None if part.metal is None else strength_of(part.metal)
    settings = []
    for crease in creases:
        known = _bend(part, crease, setup.name, None, knowledge)
        least = form_bend(replace(crease, known=known), part.thickness, setup, shop, strength).least
        settings.append(0.0 if least is None else least)
    return max(settings, default=0.0)


def _bend(part: Part, crease: Crease, setup: str, setting: float | None, knowledge: ShopKnowledge) -> KnownBend:
    from flatgen.strips.learning.model import springback_estimate

    known = _allowance(part, crease, setup, setting, knowledge)
    back = springback_estimate(knowledge.estimates, known.metal, known.thickness, known.inside_radius)
    off = NORMAL_95 * known.radius_spread
    radius = (known.radius - off, known.radius + off) if known.radii else None
    return KnownBend(setup, setting, known.drawn_offset, known.nose_setting, back if back.bends else None, radius)


def _allowance(
    part: Part, crease: Crease, setup: str, setting: float | None, knowledge: ShopKnowledge
) -> KnownAllowance:
    from flatgen.strips.learning.model import allowance_estimate

    spec = next(b for b in part.bends if b.label == crease.label)
    family = family_of(part, spec)
    kind = Kind(*family, setup, _nearest(knowledge.nose_settings(family, setup), setting))
    return allowance_estimate(knowledge.estimates, kind, spec.angle, part.dimensions)


def _nearest(settings: Sequence[float], setting: float | None) -> float | None:
    """The setting that strips were bent at and that a planned one is near to, else its own class [mm]."""
    if setting is None:
        return None
    near = [v for v in settings if abs(v - setting) <= NEAR_SETTING]
    return min(near, key=lambda v: abs(v - setting)) if near else setting_class(setting)


def bend_corrections(
    part: Part, schedule: Schedule, shop: Shop, knowledge: ShopKnowledge
) -> tuple[dict[str, KnownBend], dict[str, StripAllowance], list[Finding]]:
    """What is known of each bend where the plan makes it.

    :returns: bends by label; allowances by label, of bends like those of strips and not given otherwise; findings
    """
    specs = {b.label: b for b in part.bends}
    fixed = {s.name: s.setting for s in shop.setups}
    families = knowledge.families()
    bends: dict[str, KnownBend] = {}
    allowances: dict[str, StripAllowance] = {}
    findings = []
    for stage in schedule.stages:
        crease, setup = stage.crease, (stage.setup or schedule.setup).name
        setting = stage.setting if fixed.get(setup) is None else fixed[setup]
        bends[crease.label] = _bend(part, crease, setup, setting, knowledge)
        spec = specs[crease.label]
        if family_of(part, spec) not in families:
            continue
        known = _allowance(part, crease, setup, setting, knowledge)
        method = StripAllowance(known.drawn, _evidence(known, part, spec, knowledge), _source(known, knowledge))
        try:
            usable = method.allowance(spec.angle, spec.inside_radius, part.thickness)
        except NotUsable as error:
            text = f"bend {spec.label}: {error.text}; not used"
            findings.append(Finding("FG158", "note", spec.where, text, error.remedy))
            continue
        other = part.source is not None and spec.allowance.method != usable.method
        if spec.allowance_source == "given" or other:
            findings.append(_other_figure(part, spec, known, usable))
        if spec.allowance_source != "given":
            allowances[spec.label] = method
            if known.nose_setting is not None and setting is not None:
                findings += _other_setting(spec, known.nose_setting, setting)
    return bends, allowances, findings


def _evidence(known: KnownAllowance, part: Part, spec: BendSpec, knowledge: ShopKnowledge) -> str:
    if known.bends:
        return known.source
    bends, strips = knowledge.count_bends({family_of(part, spec)})
    several = "s" if strips > 1 else ""
    return f"from {bends} bend{'s' if bends > 1 else ''} of another angle or set-up on {strips} strip{several}"


def _source(known: KnownAllowance, knowledge: ShopKnowledge) -> str:
    partly = "" if known.told else "; strips do not tell it apart from the offset, the handbook does"
    interval = f"95 % within ±{NORMAL_95 * known.drawn_spread:.2f} mm"
    return f"strips of {knowledge.name}, {interval}, for the radius asked{partly}"


def _other_figure(part: Part, spec: BendSpec, known: KnownAllowance, usable: Allowance) -> Finding:
    own, spread = spec.allowance, NORMAL_95 * known.drawn_spread
    text = (
        f"bend {spec.label}: its allowance is {own.length:.2f} mm ({own.method}); {usable.method} it is "
        f"{known.drawn:.2f} ±{spread:.2f} mm"
    )
    remedy = 'leave the other figure out, or write allowance = "measured"'
    if part.source is not None:
        remedy = f"leave K out where one was given; what strips told is --k {usable.k:.3f} for this bend"
    return Finding("FG158", "note", spec.where, text, remedy)


def _other_setting(spec: BendSpec, strips_setting: float, setting: float) -> list[Finding]:
    if abs(setting - strips_setting) < SAME_SETTING:
        return []
    text = (
        f"bend {spec.label}: strips were bent with the nose at {strips_setting:.2f} mm, the plan has {setting:.2f} mm"
    )
    remedy = "bend a strip at the plan's setting, or set the nose as they had it"
    return [Finding("FG158", "note", spec.where, text, remedy)]
