"""How a part will come out by what strips told: each finished leg, the chance that all are right, what to do first.

A strip hardly springs the beams. What deflection and twist of leaf and bar take of the part's own angles is put back:
a leg is told at the ends of the part, where they take nothing, and where they take most. Loads are estimates, so the
interval reaches to half as much again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from flatgen.bend_order.plan import held_of, make_schedule, order_of
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.learned import Expected, ExpectedBend, ExpectedLeg, KnownBend
from flatgen.core.schedule import Crease, Schedule, Stage
from flatgen.core.shop import Shop
from flatgen.definition.bends import MEASURE_IT, NOT_MEASURED
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec, Part
from flatgen.definition.reader import read_profile
from flatgen.metal.allowance import Dimensions, Measured
from flatgen.metal.bend_rule import ToldAllowance
from flatgen.metal.metals import Metal, load_metals
from flatgen.strips.learning.knowledge import (
    PASSES,
    Lessons,
    kind_of,
    lessons_of,
    log_of,
    made_fast,
    made_fast_in,
    of_bends,
    settled,
    unsettled,
)
from flatgen.strips.reading import BendReading, LegReading, StripReading
from flatgen.unfolding.received.part import ReceivedPart

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

    :param profile: the part, a chain, developed as it will be cut
    :param counted: bends and strips of its metal, thickness and radii
    :returns: legs in [mm], bends in [deg]; None for a part without a bend or with legs that the model has no setback
        for
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

    :returns: with its lines, held sides and what deflection and twist are predicted to take
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


FROM_STRIPS = "that of the strips"

Wishes = tuple[str, Mapping[str, int] | None, Sequence[str] | None]
"""Set-ups, legs to hold by label, order of bending."""

Reread = Callable[[Mapping[str, Measured]], Profile]


@dataclass(frozen=True)
class Told:
    """What strips told of a part: the ``shop`` to plan with, ``bends`` by label, and what is to be said.

    ``fast``: set-ups whose nose setting is that of the strips; ``allowances`` by label, of bends like those of strips.
    """

    shop: Shop
    lessons: Lessons
    bends: Mapping[str, KnownBend]
    findings: tuple[Finding, ...]
    fast: frozenset[str]
    allowances: Mapping[str, Measured]

    def known(self, creases: Sequence[Crease]) -> list[Crease]:
        """Creases with what strips told of them [mm]."""
        return [replace(c, known=self.bends.get(c.label)) for c in creases]

    def finished(self, schedule: Schedule) -> Schedule:
        """A schedule that says where its nose setting is from [mm]."""
        fast = schedule.setup.name in self.fast
        return replace(schedule, setting_from=FROM_STRIPS if fast else schedule.setting_from)


@dataclass(frozen=True)
class Taught(Told):
    """A definition with what strips told: the ``profile`` is developed with measured allowances."""

    profile: Profile

    def finished(self, schedule: Schedule) -> Schedule:
        """A schedule with how the part will come out [mm]."""

        if not self.lessons.readings:
            return schedule
        counted = self.lessons.counted({kind_of(self.profile, b) for b in self.profile.bends})
        found: Expected | None = expected_of(self.profile, schedule, self.lessons.learned, counted)
        return replace(super().finished(schedule), expected=found)


def taught(
    path: Path,
    profile: Profile,
    metals: Mapping[str, Metal],
    shop: Shop | None,
    set_up: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> Taught | None:
    """A definition with what strips told of its bends; None where there is no strip.

    :param profile: as it was read with no strip known, or for the radii that the brake gives
    :raises InputRefused: FG024 where a definition asks for what no strip told
    """
    lessons = lessons_of(shop, metals)
    kinds = set() if lessons is None else lessons.kinds()
    require_told(profile, [b.label for b in profile.bends if kind_of(profile, b) in kinds])
    if lessons is None or shop is None or not profile.bends:
        return None
    plain = {b.label: b.inside_radius for b in read_profile(path, metals, known={}).bends}
    radii = {b.label: b.inside_radius for b in profile.bends if b.inside_radius != plain[b.label]}

    def reread(known: Mapping[str, Measured]) -> Profile:
        return read_profile(path, metals, radii, known)

    return _turned(profile, reread, replace(shop, learned=lessons.digest), lessons, (set_up, held, order))


def _turned(profile: Profile, reread: Reread, shop: Shop, lessons: Lessons, wishes: Wishes) -> Taught:
    """Plan and develop in turn until set-ups and nose settings stay."""
    now, bends, planned, found = profile, dict[str, KnownBend](), shop, dict[str, Measured]()
    told: list[Finding] = []
    for turn in range(PASSES + 1):
        creases = [replace(c, known=bends.get(c.label)) for c in creases_of_profile(now, develop(now))]
        schedule = make_schedule(now, creases, planned, *wishes)
        if turn and settled(schedule, bends):
            break
        if turn == PASSES:
            told.append(unsettled(profile, schedule))
            break
        if not turn:
            planned = made_fast(profile, schedule, shop, lessons)
        bends, found, told = of_bends(profile, schedule, planned, lessons)
        now = reread(found)
    kept = tuple(f for f in profile.findings if f not in now.findings and f.code == "FG132")
    now = replace(now, fingerprint=profile.fingerprint, findings=(*now.findings, *kept))
    return Taught(planned, lessons, bends, (*told, *lessons.findings), made_fast_in(shop, planned), found, now)


def require_told(profile: Profile, told: Sequence[str]) -> None:
    """Refuse bends whose allowance is asked of strips that told nothing of them.

    :param told: labels of the bends that strips told of
    :raises InputRefused: FG024, for each
    """
    lacking = [b for b in profile.bends if b.by == "asked" and b.label not in told]
    faults = [Fault("FG024", b.where, NOT_MEASURED.format(label=b.label), MEASURE_IT) for b in lacking]
    if faults:
        raise InputRefused(*faults)


def told_of_received(part: Part, creases: Sequence[Crease], shop: Shop, wishes: Wishes) -> Told | None:
    """What strips told of a part that was received; its flat has to be unfolded with what they told.

    :param wishes: set-ups, legs to hold, order of bending, as of :func:`taught`
    :returns: none where there is no strip
    """
    if log_of(shop) is None:
        return None
    own = {} if part.metal is None else {part.metal.name: part.metal}
    lessons = lessons_of(shop, load_metals() | own)
    if lessons is None:
        return None
    shop = replace(shop, learned=lessons.digest)
    planned, bends, found = shop, dict[str, KnownBend](), dict[str, Measured]()
    told: list[Finding] = []
    for turn in range(PASSES + 1):
        schedule = make_schedule(part, [replace(c, known=bends.get(c.label)) for c in creases], planned, *wishes)
        if turn and settled(schedule, bends):
            break
        if turn == PASSES:
            told.append(unsettled(part, schedule))
            break
        if not turn:
            planned = made_fast(part, schedule, shop, lessons)
        bends, found, told = of_bends(part, schedule, planned, lessons)
    return Told(planned, lessons, bends, (*told, *lessons.findings), made_fast_in(shop, planned), found)


def told_allowances(
    parts: Iterable[tuple[ReceivedPart, FlatPattern]], shop: Shop, set_up: str, hold: str, order: str
) -> tuple[ToldAllowance, ...]:
    """What strips told of the bends of received parts, to unfold them with.

    :param parts: parts as they were unfolded by their metal's own way [mm]
    :param set_up, hold, order: as an option of a command gives them
    :returns: one for each kind of bend that strips told of [mm]
    """
    if log_of(shop) is None:
        return ()
    found: dict[tuple[float, ...], ToldAllowance] = {}
    for part, flat in parts:
        if not flat.bends or part.metal is None:
            continue
        wishes = (set_up, held_of(hold, part), order_of(order))
        known = told_of_received(part, creases_of_flat(part, flat), shop, wishes)
        for bend in part.bends if known is not None else ():
            told = None if known is None else known.allowances.get(bend.label)
            if told is None:
                continue
            own = told.allowance(bend.angle, bend.inside_radius, part.thickness)
            kind = (part.thickness, bend.inside_radius, bend.angle)
            found.setdefault(tuple(round(v, 3) for v in kind), ToldAllowance(*kind, own.length, own.method, own.source))
    return tuple(found.values())
