"""What is learned from strips, put to use for a part: corrections to plan with, and how the part will come out.

A strip hardly springs the beams. What deflection and twist of leaf and bar take of the part's own angles is put back:
a leg is given at the ends of the part, where they take nothing, and where they take most. Loads are estimates, so the
interval reaches to half as much again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from flatgen.bend_order.plan import make_schedule, parse_held, parse_order
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.learned import ExpectedBend, ExpectedLeg, ExpectedPart, KnownBend
from flatgen.core.schedule import Crease, Schedule
from flatgen.core.shop import Shop
from flatgen.core.tolerances import linear_tolerance
from flatgen.definition.bends import NOT_MEASURED_REMEDY, NOT_MEASURED_TEXT
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.part import Part
from flatgen.definition.reader import read_profile
from flatgen.metal.allowance import StripAllowance
from flatgen.metal.bend_rule import MeasuredAllowance
from flatgen.metal.metals import Metal, load_metals
from flatgen.strips.cut import planned_reading
from flatgen.strips.learning.knowledge import (
    PASSES,
    ShopKnowledge,
    bend_corrections,
    disagreement,
    family_of,
    fixed_setups,
    knowledge_of,
    plan_agrees,
    shop_log,
    with_fixed_settings,
)
from flatgen.unfolding.received.part import ReceivedPart

if TYPE_CHECKING:
    from flatgen.strips.learning.model import Estimates
    from flatgen.strips.learning.predict import Forecast

FROM_STRIPS = "that of the strips"

PlanOptions = tuple[str, Mapping[str, int] | None, Sequence[str] | None]
"""Set-ups, legs to hold by label, order of bending."""

_P = TypeVar("_P", bound=Part)


@dataclass(frozen=True)
class Corrections:
    """What strips change about a part: the ``shop`` to plan with, ``bends`` by label, ``findings``.

    ``fixed``: set-ups whose nose setting is that of the strips; ``allowances`` by label, of bends like those of strips.
    """

    shop: Shop
    knowledge: ShopKnowledge
    bends: Mapping[str, KnownBend]
    findings: tuple[Finding, ...]
    fixed: frozenset[str]
    allowances: Mapping[str, StripAllowance]

    def correct_creases(self, creases: Sequence[Crease]) -> list[Crease]:
        """Creases with what is known of their bends."""
        return [replace(c, known=self.bends.get(c.label)) for c in creases]

    def complete(self, schedule: Schedule) -> Schedule:
        """A schedule that says where its nose setting is from."""
        fixed = schedule.setup.name in self.fixed
        return replace(schedule, setting_from=FROM_STRIPS if fixed else schedule.setting_from)


@dataclass(frozen=True)
class ProfileCorrections(Corrections):
    """Corrections of a definition; its ``profile`` is developed with measured allowances."""

    profile: Profile

    def complete(self, schedule: Schedule) -> Schedule:
        """A schedule with how the part will come out."""
        if not self.knowledge.readings:
            return schedule
        counts = self.knowledge.count_bends({family_of(self.profile, b) for b in self.profile.bends})
        expected = expect_part(self.profile, schedule, self.knowledge.estimates, counts)
        return replace(super().complete(schedule), expected=expected)


def corrections_for(
    path: Path,
    profile: Profile,
    metals: Mapping[str, Metal],
    shop: Shop | None,
    set_up: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> ProfileCorrections | None:
    """Corrections of a definition by the strips of a shop; None where there is no strip.

    :param profile: as it was read with no strip known, or for the radii that the brake gives
    :raises InputRefused: FG024 where a definition asks for an allowance that no strip gives
    """
    knowledge = knowledge_of(shop, metals)
    families = set() if knowledge is None else knowledge.families()
    require_corrections(profile, [b.label for b in profile.bends if family_of(profile, b) in families])
    if knowledge is None or shop is None or not profile.bends:
        return None
    as_written = {b.label: b.inside_radius for b in read_profile(path, metals, known={}).bends}
    radii = {b.label: b.inside_radius for b in profile.bends if b.inside_radius != as_written[b.label]}

    def develop_again(allowances: Mapping[str, StripAllowance]) -> tuple[Profile, Sequence[Crease]]:
        again = read_profile(path, metals, radii, allowances)
        return again, creases_of_profile(again, develop(again))

    creases = creases_of_profile(profile, develop(profile))
    plain, now = _correct(profile, creases, develop_again, shop, knowledge, (set_up, held, order))
    kept = tuple(f for f in profile.findings if f not in now.findings and f.code == "FG132")
    now = replace(now, fingerprint=profile.fingerprint, findings=(*now.findings, *kept))
    return ProfileCorrections(plain.shop, knowledge, plain.bends, plain.findings, plain.fixed, plain.allowances, now)


def require_corrections(profile: Profile, labels: Sequence[str]) -> None:
    """Refuse bends whose allowance is asked of strips that give none.

    :param labels: of the bends that strips give an allowance for
    :raises InputRefused: FG024, for each
    """
    lacking = [b for b in profile.bends if b.allowance_source == "asked" and b.label not in labels]
    faults = [Fault("FG024", b.where, NOT_MEASURED_TEXT.format(label=b.label), NOT_MEASURED_REMEDY) for b in lacking]
    if faults:
        raise InputRefused(*faults)


def corrections_for_received(
    part: Part, creases: Sequence[Crease], shop: Shop, options: PlanOptions
) -> Corrections | None:
    """Corrections of a received part, whose flat has to be unfolded with them; None where there is no strip."""
    if shop_log(shop) is None:
        return None
    own = {} if part.metal is None else {part.metal.name: part.metal}
    knowledge = knowledge_of(shop, load_metals() | own)
    if knowledge is None:
        return None
    return _correct(part, creases, lambda _: (part, creases), shop, knowledge, options)[0]


def _correct(
    part: _P,
    creases: Sequence[Crease],
    develop_again: Callable[[Mapping[str, StripAllowance]], tuple[_P, Sequence[Crease]]],
    shop: Shop,
    knowledge: ShopKnowledge,
    options: PlanOptions,
) -> tuple[Corrections, _P]:
    """Plan and develop in turn until set-ups and nose settings stay."""
    shop = replace(shop, learned=knowledge.digest)
    now, fixed, bends, allowances = part, shop, dict[str, KnownBend](), dict[str, StripAllowance]()
    findings: list[Finding] = []
    for turn in range(PASSES + 1):
        known = [replace(c, known=bends.get(c.label)) for c in creases]
        schedule = make_schedule(now, known, fixed, *options)
        if turn and plan_agrees(schedule, bends):
            break
        if turn == PASSES:
            findings.append(disagreement(part, schedule))
            break
        if not turn:
            fixed = with_fixed_settings(part, schedule, shop, knowledge)
        bends, allowances, findings = bend_corrections(part, schedule, fixed, knowledge)
        now, creases = develop_again(allowances)
    every = (*findings, *knowledge.findings)
    return Corrections(fixed, knowledge, bends, every, fixed_setups(shop, fixed), allowances), now


def measured_allowances(
    parts: Iterable[tuple[ReceivedPart, FlatPattern]], shop: Shop, set_up: str, hold: str, order: str
) -> tuple[MeasuredAllowance, ...]:
    """Allowances of received parts by strips, one for each kind of bend, to unfold them with.

    :param parts: as they were unfolded by their metal's own method
    :param set_up, hold, order: as an option of a command gives them
    """
    if shop_log(shop) is None:
        return ()
    allowances: dict[tuple[float, ...], MeasuredAllowance] = {}
    for part, flat in parts:
        if not flat.bends or part.metal is None:
            continue
        options = (set_up, parse_held(hold, part), parse_order(order))
        corrections = corrections_for_received(part, creases_of_flat(part, flat), shop, options)
        by_label = {} if corrections is None else corrections.allowances
        for bend in part.bends:
            if bend.label in by_label:
                own = by_label[bend.label].allowance(bend.angle, bend.inside_radius, part.thickness)
                kind = (part.thickness, bend.inside_radius, bend.angle)
                allowance = MeasuredAllowance(*kind, own.length, own.method, own.source)
                allowances.setdefault(tuple(round(v, 3) for v in kind), allowance)
    return tuple(allowances.values())


LOSS_FACTOR = 1.5
"""So many times the predicted loss of angle the interval reaches: own choice, loads are estimates."""

LEAST_DIFFERENCE = 0.02
"""A chance that is less by no more counts as the same: own choice."""

NOT_THE_BEAMS = (
    "A strip hardly springs the beams: what deflection and twist take of each angle is estimated from the loads and "
    "put back here, in the interval half as much again."
)
NO_BEAMS = (
    "What deflection and twist take is not known, since the shop file tells of no beams: legs are those of a strip."
)
NOT_THE_WIDTH = (
    "A strip is narrow: it is not held along its bend as a wide sheet is, and its legs may bear elsewhere on the leaf. "
    "What that changes in allowance and springback is not in the interval."
)
NOT_THE_SHEET = "Thickness is taken as bought, give or take 3 %, and the part as of another sheet than the strips."
MIDDLE_LESS = "; where deflection and twist take most, {chance}: shim the leaf there, or set it farther"


def expect_part(profile: Profile, schedule: Schedule, known: Estimates, counts: tuple[int, int]) -> ExpectedPart | None:
    """How a part will come out on the lines of its schedule; None for a part without a bend.

    :param profile: the part, a chain, developed as it will be cut
    :param counts: bends and strips of its metal, thickness and radii
    """
    from flatgen.strips.learning.predict import predict

    if not schedule.stages:
        return None
    plan = planned_reading(profile, schedule)
    general = [linear_tolerance(leg.length) for leg in profile.legs]
    tolerances = [None if t is None else t.value for t in general]
    end = predict(known, replace(plan, bends=tuple(replace(b, loss=0.0) for b in plan.bends)), tolerances)
    bent = tuple(replace(b, loss=LOSS_FACTOR * b.loss) for b in plan.bends)
    far = predict(known, replace(plan, bends=bent), tolerances) if any(b.loss for b in bent) else end
    do, advice, chance = _advice(end, far)
    beams = any(s.load is not None and s.load.loss is not None for s in schedule.stages)
    return ExpectedPart(
        legs=_legs(profile, tolerances, end, far),
        angles=_angles(profile, schedule, end, far),
        chance=chance,
        do=do,
        advice=advice,
        teach=tuple((t.label, t.gain) for t in end.teach),
        tolerance_source=next((t.source for t in general if t is not None), ""),
        bends=counts[0],
        strips=counts[1],
        words=(NOT_THE_BEAMS if beams else NO_BEAMS, NOT_THE_WIDTH, NOT_THE_SHEET),
    )


def _legs(
    profile: Profile, tolerances: Sequence[float | None], end: Forecast, far: Forecast
) -> tuple[ExpectedLeg, ...]:
    return tuple(
        ExpectedLeg(
            leg.name or profile.leg_text(n),
            leg.length,
            leg.dimensions,
            tolerance,
            one.value,
            one.value + (other.value - one.value) / LOSS_FACTOR,
            min(one.low, other.low),
            max(one.high, other.high),
        )
        for n, (leg, tolerance, one, other) in enumerate(zip(profile.legs, tolerances, end.legs, far.legs, strict=True))
    )


def _angles(profile: Profile, schedule: Schedule, end: Forecast, far: Forecast) -> tuple[ExpectedBend, ...]:
    losses = {s.crease.label: None if s.load is None else s.load.loss for s in schedule.stages}
    return tuple(
        ExpectedBend(
            spec.label,
            spec.angle,
            one.set,
            one.value,
            one.value + (other.value - one.value) / LOSS_FACTOR,
            min(one.low, other.low),
            max(one.high, other.high),
            losses[spec.label],
            spec.allowance.method,
        )
        for spec, one, other in zip(profile.bends, end.angles, far.angles, strict=True)
    )


def _advice(end: Forecast, far: Forecast) -> tuple[str, str, float | None]:
    """What to do, by what is to be learned; what deflection takes is no matter of strips."""
    if end.advice is None or end.chance is None or far.chance is None:
        return "", "", None
    chance = min(end.chance, far.chance)
    less = MIDDLE_LESS.format(chance=f"{100 * far.chance:.0f} %") if far.chance < end.chance - LEAST_DIFFERENCE else ""
    return end.advice.do, end.advice.text + less, chance
