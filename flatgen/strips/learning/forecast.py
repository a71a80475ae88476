"""How a part will come out by what strips told: each finished leg, the chance that all are right, what to do first.

A strip hardly springs the beams. What deflection and twist of leaf and bar take of the part's own angles is put back:
a leg is told at the ends of the part, where they take nothing, and where they take most. Loads are estimates, so the
interval reaches to half as much again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from flatgen.core.learned import Expected, ExpectedBend, ExpectedLeg
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec
from flatgen.metal.allowance import Dimensions
from flatgen.strips.reading import BendReading, LegReading, StripReading

if TYPE_CHECKING:
    from flatgen.core.tolerances import Tolerance
    from flatgen.strips.learning.model import Learned
    from flatgen.strips.learning.predict import Advice, Forecast

HALF_AGAIN = 1.5
"""So many times the predicted loss of angle the interval reaches [-]: own choice, loads are estimates."""
MATTERS = 0.02
"""A chance that is less by no more is not told apart [-]: own choice."""
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


def expected_of(profile: Profile, schedule: Schedule, learned: Learned, counted: tuple[int, int]) -> Expected | None:
    """How a part will come out on the lines of its schedule.

    Parameters
    ----------
    profile : Profile
        The part, a chain, developed as it will be cut, [mm]
    schedule : Schedule
        Its stages, [mm]
    learned : Learned
        What strips told, [mm]
    counted : tuple[int, int]
        Bends and strips of its metal, thickness and radii, [-]

    Returns
    -------
    Expected | None
        Legs in [mm], bends in [deg]; None for a part without a bend or with legs that the model has no setback for
    """
    from flatgen.strips.learning.predict import predict

    if not schedule.stages:
        return None
    plan = planned_reading(profile, schedule)
    found = [_tolerance(leg.length) for leg in profile.legs]
    tolerances = [None if t is None else t.value for t in found]
    end = predict(learned, replace(plan, bends=tuple(replace(b, loss=0.0) for b in plan.bends)), tolerances)
    bent = tuple(replace(b, loss=HALF_AGAIN * b.loss) for b in plan.bends)
    far = predict(learned, replace(plan, bends=bent), tolerances) if any(b.loss for b in bent) else end
    do, advice, chance = _advice(end, far)
    return Expected(
        legs=_legs(profile, tolerances, end, far),
        angles=_angles(profile, schedule, end, far),
        chance=chance,
        do=do,
        advice=advice,
        teach=tuple((t.label, t.gain) for t in end.teach),
        tolerance_source=next((t.source for t in found if t is not None), ""),
        bends=counted[0],
        strips=counted[1],
        words=_words(schedule),
    )


def planned_reading(profile: Profile, schedule: Schedule) -> StripReading:
    """A part to be bent, written as a strip of which nothing is measured.

    Parameters
    ----------
    profile : Profile
        The part, [mm]
    schedule : Schedule
        Its stages, [mm]

    Returns
    -------
    StripReading
        With its lines, held sides and what deflection and twist are predicted to take, [mm]
    """
    from flatgen.definition.closed_form import develop

    stages = {s.crease.label: s for s in schedule.stages}
    legs = (
        LegReading(leg.name or profile.leg_text(n), leg.length, leg.dimensions) for n, leg in enumerate(profile.legs)
    )
    return StripReading(
        name=f"part {profile.name}",
        metal=profile.metal.name,
        nominal=profile.thickness,
        thickness=None,
        width=profile.length,
        blank=develop(profile).width,
        blank_got=None,
        legs=tuple(legs),
        bends=tuple(_bend(b, stages[b.label], schedule) for b in profile.bends),
    )


def _bend(bend: BendSpec, stage: Stage, schedule: Schedule) -> BendReading:
    setup = stage.setup or schedule.setup
    known = stage.crease.known
    return BendReading(
        label=bend.label,
        angle=bend.angle,
        way=bend.way,
        inside_radius=bend.inside_radius,
        allowance=bend.allowance.length,
        held=stage.sight.held,
        setup=setup.name,
        nose_radius=setup.clamp.nose_radius,
        nose_setting=stage.setting if known is None else known.told_at,
        arm=stage.arm,
        sight=stage.sight.from_held_edge,
        loss=stage.load.loss if stage.load is not None and stage.load.loss is not None else 0.0,
    )


def _tolerance(size: float) -> Tolerance | None:
    from flatgen.core.tolerances import linear

    return linear(size)


def _legs(
    profile: Profile, tolerances: Sequence[float | None], end: Forecast, far: Forecast
) -> tuple[ExpectedLeg, ...]:
    return tuple(
        ExpectedLeg(
            leg.name or profile.leg_text(n),
            leg.length,
            _mode(leg.dimensions),
            tolerance,
            one.value,
            one.value + (other.value - one.value) / HALF_AGAIN,
            min(one.low, other.low),
            max(one.high, other.high),
        )
        for n, (leg, tolerance, one, other) in enumerate(zip(profile.legs, tolerances, end.legs, far.legs, strict=True))
    )


def _mode(dimensions: Dimensions) -> str:
    return dimensions


def _angles(profile: Profile, schedule: Schedule, end: Forecast, far: Forecast) -> tuple[ExpectedBend, ...]:
    stages = {s.crease.label: s for s in schedule.stages}
    found = []
    for spec, one, other in zip(profile.bends, end.angles, far.angles, strict=True):
        load = stages[spec.label].load
        found.append(
            ExpectedBend(
                spec.label,
                spec.angle,
                one.set,
                one.value,
                one.value + (other.value - one.value) / HALF_AGAIN,
                min(one.low, other.low),
                max(one.high, other.high),
                None if load is None else load.loss,
                spec.allowance.method,
            )
        )
    return tuple(found)


def _advice(end: Forecast, far: Forecast) -> tuple[str, str, float | None]:
    """What to do, by what is to be learned; what deflection takes is no matter of strips."""
    told: Advice | None = end.advice
    if told is None or end.chance is None or far.chance is None:
        return "", "", None
    chance = min(end.chance, far.chance)
    less = MIDDLE_LESS.format(chance=f"{100 * far.chance:.0f} %") if far.chance < end.chance - MATTERS else ""
    return told.do, told.text + less, chance


def _words(schedule: Schedule) -> tuple[str, ...]:
    known = any(s.load is not None and s.load.loss is not None for s in schedule.stages)
    return (NOT_THE_BEAMS if known else NO_BEAMS, NOT_THE_WIDTH, NOT_THE_SHEET)
