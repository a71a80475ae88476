"""The strip of a part: the same section, lines and order, narrow; or some of its bends with what lies beside them.

A strip is a definition of its own, without openings and cuts, with order of bending and held sides of the part. On the
form its legs are overall sizes, which can be measured from outside. A leg that ends with an edge only on the strip is
as long as the part has flat there when the bend is made, so that the leaf bears in the same place, and no longer than
what lies under the clamp bar or on the leaf.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

from flatgen.bend_order.chain import Chain, NoChain, chain_of
from flatgen.bend_order.costs import flat_runs
from flatgen.bend_order.plan import ANY, Plan, make_plan
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.schedule import Schedule, Stage, WhichSide
from flatgen.core.shop import Shop
from flatgen.core.units import in_mm_and_inch
from flatgen.definition import limits as bounds
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Leg, Profile
from flatgen.definition.part import BendSpec, Part, bend_findings, short_flat_findings
from flatgen.metal.allowance import Dimensions, setback
from flatgen.strips import words
from flatgen.strips.reading import PLACES, BendReading, LegReading, StripReading

LEAST_WIDTH = 10.0
"""Width of a strip along its bends, in thicknesses: common practice, no source."""
USUAL_WIDTH = 25.0
"""Width where none is asked for and that is not too narrow [mm]: common practice, no source."""
WIDTH_STEP = 5.0
OVERALL: Dimensions = "overall"
_R = TypeVar("_R", BendReading, LegReading, StripReading)
SAME = 1e-6
"""Sizes that differ by less are equal [mm]."""


@dataclass(frozen=True)
class Strip:
    """A strip to cut: a definition of its own, its plan, and what a form begins with.

    ``order``: labels of its bends in the order of bending; ``findings`` beyond those of the plan.
    """

    profile: Profile
    plan: Plan
    reading: StripReading
    order: tuple[str, ...]
    findings: tuple[Finding, ...]


def usual_width(thickness: float) -> float:
    """Width of strips where none is asked for: 25 mm, or ten thicknesses rounded up to 5 mm where that is more [mm].

    >>> usual_width(1.0), usual_width(3.1)
    (25.0, 35.0)
    """
    return max(USUAL_WIDTH, math.ceil(LEAST_WIDTH * thickness / WIDTH_STEP - SAME) * WIDTH_STEP)


def cut_strip(part: Part, schedule: Schedule, width: float, only: Sequence[str] = ()) -> Strip:
    """The strip of a part.

    :param width: along its bends [mm]
    :param only: labels of the bends that it has, with those between them; all where it is empty
    :raises InputRefused: If no strip can be cut of this part, or not so; all faults at once
    """
    chain, wanted = _check_request(part, schedule, width, only)
    low, high = min(wanted), max(wanted)
    kept = range(low, high + 1)
    findings = [
        Finding(words.CUT_DOWN, "note", place_of(part), words.BETWEEN.format(label=chain.creases[n].label), words.FEWER)
        for n in kept
        if n not in wanted
    ]
    legs = list(_legs(part, chain, kept))
    ends: tuple[tuple[int, WhichSide], ...] = ((low, "first"), (high, "second"))
    for n, which in ends:
        if n != (0 if which == "first" else chain.bends - 1):
            end = 0 if which == "first" else -1
            legs[end], finding = _cut_leg(part, schedule, chain, legs[end], n, which)
            findings.append(finding)
    profile, order = _definition(part, schedule, chain, kept, legs, width)
    stages = [s for s in schedule.stages if s.crease.label in order]
    known = {s.crease.label: s.crease.known for s in stages}
    creases = [replace(c, known=known[c.label]) for c in creases_of_profile(profile, develop(profile))]
    plan = make_plan(profile, creases, _with_settings(stages, schedule), _setup_names(stages, schedule), None, order)
    findings += [*_width_findings(part, width), *_plan_findings(part, schedule, plan.schedule), *profile.findings]
    reading = _reading(part, profile, plan.schedule)
    return Strip(profile, plan, reading, order, tuple(dict.fromkeys(findings)))


def _check_request(part: Part, schedule: Schedule, width: float, only: Sequence[str]) -> tuple[Chain, list[int]]:
    """The section as a chain, and the places in it of the bends asked for."""
    faults = []
    creases = [s.crease for s in schedule.stages]
    if not bounds.LEAST_SIZE <= width <= bounds.LARGEST_SIZE:
        text = words.WIDTH.format(width=in_mm_and_inch(width), most=in_mm_and_inch(bounds.LARGEST_SIZE))
        faults.append(Fault("FG012", "--width", text, words.GIVE_WIDTH))
    if part.metal is None:
        faults.append(Fault(words.NO_STRIP, place_of(part), words.NO_METAL, words.GIVE_METAL))
    labels = [c.label for c in creases]
    for n, name in enumerate(only):
        if name not in labels:
            remedy = words.BENDS_ARE.format(labels=", ".join(sorted(labels)))
            faults.append(Fault("FG033", "--only-bends", words.NO_BEND.format(name=name[:40]), remedy))
        elif name in only[:n]:
            faults.append(Fault("FG033", "--only-bends", words.BEND_TWICE.format(name=name), words.NAME_ONCE))
    for crease in creases:
        if crease.angle > bounds.LARGEST_ANGLE:
            text = words.HEMMED.format(label=crease.label)
            faults.append(Fault(words.NO_STRIP, place_of(part), text, words.SOME_BENDS))
    try:
        chain = chain_of(creases, part.thickness)
    except NoChain as why:
        text = words.NOT_IN_A_ROW.format(why=why) if creases else words.NO_BENDS
        raise InputRefused(*faults, Fault(words.NO_STRIP, place_of(part), text, words.SOME_BENDS)) from None
    if faults:
        raise InputRefused(*faults)
    return chain, [n for n, c in enumerate(chain.creases) if c.label in only or not only]


def _legs(part: Part, chain: Chain, kept: range) -> tuple[Leg, ...]:
    """Legs of the strip as the part has them: as in its definition, else overall."""
    legs = []
    names = _names(part, [chain.legs[n] for n in range(kept[0], kept[-1] + 2)])
    for n, name in zip(range(kept[0], kept[-1] + 2), names, strict=True):
        own = part.legs[chain.legs[n]] if isinstance(part, Profile) else None
        ends = [k for k in (n - 1, n) if k in kept]
        if own is not None and len(ends) == sum(0 <= k < chain.bends for k in (n - 1, n)):
            legs.append(replace(own, name=name))
        else:
            back = sum(_setback(chain, k) for k in ends)
            legs.append(Leg(name, chain.flats[n] + back, OVERALL, own.where if own else place_of(part)))
    return tuple(legs)


def _names(part: Part, legs: Sequence[int]) -> list[str]:
    """What the form calls legs; those of one name are told apart by their numbers."""
    named = [part.leg_name(leg) or part.leg_text(leg) for leg in legs]
    return [name if named.count(name) == 1 else f"{name} ({leg + 1})" for name, leg in zip(named, legs, strict=True)]


def _cut_leg(
    part: Part, schedule: Schedule, chain: Chain, leg: Leg, bend: int, which: WhichSide
) -> tuple[Leg, Finding]:
    """An end leg that has a further bend on the part: how long it is on the strip."""
    places = {s.crease.label: n for n, s in enumerate(schedule.stages)}
    label = chain.creases[bend].label
    stage = schedule.stages[places[label]]
    outward = chain.outward(bend, which)
    unbent = next((k for k, n in enumerate(outward) if places[chain.creases[n].label] < places[label]), len(outward))
    run = flat_runs(chain, bend, which)[unbent]
    setup = stage.setup or schedule.setup
    useful = max(setup.clamp.depth, setup.leaf.face, LEAST_WIDTH * part.thickness)
    back = _setback(chain, bend)
    size = math.ceil(useful + back - SAME) if run > useful else run + back
    text = words.LEG_CUT.format(leg=leg.name, flat=in_mm_and_inch(size - back), label=label)
    finding = Finding(words.CUT_DOWN, "note", leg.where or place_of(part), text, words.REMEASURE)
    return replace(leg, length=size), finding


def _setback(chain: Chain, bend: int) -> float:
    return setback(chain.angles[bend], chain.radii[bend], chain.thickness, OVERALL)


def _definition(
    part: Part, schedule: Schedule, chain: Chain, kept: range, legs: Sequence[Leg], width: float
) -> tuple[Profile, tuple[str, ...]]:
    """The strip as a definition, and its bends in the order of bending."""
    specs = {b.label: b for b in part.bends}
    held = {s.crease.label: s.sight.held for s in schedule.stages}
    bends: list[BendSpec] = []
    for n, bend in enumerate(kept):
        crease = chain.creases[bend]
        hold = n if held[crease.label] == "first" else n + 1
        bends.append(replace(specs[crease.label], first=n, second=n + 1, way=crease.way, hold=hold))
    order = tuple(s.crease.label for s in schedule.stages if s.crease.label in {b.label for b in bends})
    if part.metal is None:
        raise ValueError("a strip of no metal")
    profile = Profile(
        name=words.NAME.format(part=part.name),
        path=place_of(part),
        metal=part.metal,
        thickness=part.thickness,
        thickness_note=part.thickness_note,
        length=width,
        dimensions=part.dimensions,
        legs=tuple(legs),
        bends=tuple(bends),
        order=order,
        title=words.TITLE.format(part=part.title or part.name),
        rules=part.rules,
        particulars=part.particulars,
    )
    flats = develop(profile).flats
    findings = bend_findings(profile.metal, profile.thickness, profile.bends)
    for leg, beside in ((0, bends[0]), (len(legs) - 1, bends[-1])):
        name, where = profile.leg_text(leg), legs[leg].where
        findings += short_flat_findings(name, flats[leg], beside.label, profile.thickness, where)
    return replace(profile, findings=findings), order


def _with_settings(stages: Sequence[Stage], schedule: Schedule) -> Shop:
    """The shop with the nose settings that these bends have on the part, fixed where it is one for a set-up."""
    settings: dict[str, set[float | None]] = {}
    for stage in stages:
        settings.setdefault((stage.setup or schedule.setup).name, set()).add(nose_setting(stage, schedule))
    one = {name: next(iter(values)) for name, values in settings.items() if len(values) == 1}
    setups = (s if s.setting is not None else replace(s, setting=one.get(s.name)) for s in schedule.shop.setups)
    return replace(schedule.shop, setups=tuple(setups))


def _setup_names(stages: Sequence[Stage], schedule: Schedule) -> str:
    """Set-ups of these bends, that of the first one first, as a plan is asked for them."""
    used = dict.fromkeys((s.setup or schedule.setup).name for s in stages)
    return next(iter(used)) if len(used) == 1 else ANY if len(used) == len(schedule.shop.setups) else ", ".join(used)


def _width_findings(part: Part, width: float) -> list[Finding]:
    least = LEAST_WIDTH * part.thickness
    if width >= least - SAME:
        return []
    text = words.TOO_NARROW.format(
        width=in_mm_and_inch(width),
        least=in_mm_and_inch(least),
        thickness=in_mm_and_inch(part.thickness, thickness=True),
    )
    remedy = words.WIDER.format(least=in_mm_and_inch(math.ceil(least - SAME)))
    return [Finding(words.NARROW, "caution", place_of(part), text, remedy)]


def _plan_findings(part: Part, schedule: Schedule, own: Schedule) -> list[Finding]:
    """Where the strip is bent on another set-up or setting than the part, so that it teaches something else."""
    findings = []
    stages = {s.crease.label: s for s in schedule.stages}
    for stage in own.stages:
        label, part_stage = stage.crease.label, stages[stage.crease.label]
        own_setup, part_setup = (stage.setup or own.setup).name, (part_stage.setup or schedule.setup).name
        one, other = nose_setting(stage, own), nose_setting(part_stage, schedule)
        if own_setup != part_setup:
            text = words.OTHER_SET_UP.format(label=label, own=own_setup, part=part_setup)
            remedy = words.SAME_SET_UP
        elif one is not None and other is not None and abs(one - other) > SAME:
            text = words.OTHER_SETTING.format(label=label, own=in_mm_and_inch(one), part=in_mm_and_inch(other))
            remedy = words.SAME_SETTING
        else:
            continue
        findings.append(Finding(words.CUT_DOWN, "caution", place_of(part), text, remedy))
    return findings


def nose_setting(stage: Stage, schedule: Schedule) -> float | None:
    """The nose setting of a stage, else that of its schedule; None where it is not known [mm]."""
    return schedule.setting if stage.setting is None else stage.setting


def _reading(part: Part, profile: Profile, schedule: Schedule) -> StripReading:
    """What a form begins with: all that is planned, nothing measured, each leg as an overall size."""
    planned, flats = planned_reading(profile, schedule), develop(profile).flats
    stages = {s.crease.label: s for s in schedule.stages}
    legs = []
    for n, (leg, flat) in enumerate(zip(planned.legs, flats, strict=True)):
        back = sum(setback(b.angle, b.inside_radius, profile.thickness, OVERALL) for b in profile.bends_at(n))
        legs.append(_rounded(LegReading(leg.name, flat + back, OVERALL)))
    bends = (replace(b, nose_setting=nose_setting(stages[b.label], schedule)) for b in planned.bends)
    return replace(
        _rounded(planned),
        name=words.FIRST_NAME.format(part=part.name),
        legs=tuple(legs),
        bends=tuple(_rounded(b) for b in bends),
        grain=part.particulars.grain,
        part=part.fingerprint,
        shop=schedule.shop.fingerprint,
    )


def _rounded(reading: _R) -> _R:
    """A reading with its numbers as finely as a form writes them."""
    values = {f.name: getattr(reading, f.name) for f in fields(reading)}
    numbers: dict[str, Any] = {k: round(v, PLACES) + 0.0 for k, v in values.items() if isinstance(v, (int, float))}
    return replace(reading, **numbers)


def planned_reading(profile: Profile, schedule: Schedule) -> StripReading:
    """A part to be bent, written as a strip of which nothing is measured, with its lines, held sides and losses."""
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
    setup, known = stage.setup or schedule.setup, stage.crease.known
    return BendReading(
        label=bend.label,
        angle=bend.angle,
        way=bend.way,
        inside_radius=bend.inside_radius,
        allowance=bend.allowance.length,
        held=stage.sight.held,
        setup=setup.name,
        nose_radius=setup.clamp.nose_radius,
        nose_setting=stage.setting if known is None else known.strips_setting,
        arm=stage.arm,
        sight=stage.sight.from_held_edge,
        loss=stage.load.loss if stage.load is not None and stage.load.loss is not None else 0.0,
    )


def place_of(part: Part) -> str:
    """Where messages place a part as a whole."""
    return part.path if isinstance(part, Profile) else part.source.where if part.source else part.name
