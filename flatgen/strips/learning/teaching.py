"""Teaching strips: two bends of one kind, the leg between them held at both; its legs give the allowance."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from flatgen.bend_order.plan import make_plan
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import Finding
from flatgen.core.learned import Entanglement
from flatgen.core.schedule import Schedule, Stage
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Leg, Profile
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.allowance import setback
from flatgen.strips import words
from flatgen.strips.cut import LEAST_WIDTH, Strip, cut_strip, nose_setting
from flatgen.strips.learning.apart import find_entanglements
from flatgen.strips.learning.priors import Prior, angle_class

LABELS = ("A", "B")

SECOND_END = 1.6
"""Second free leg against the first, in flats: own choice."""

MIDDLES = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
"""Flats of the middle leg that are tried, in the first one's."""


@dataclass(frozen=True)
class TeachingStrip:
    """A teaching strip, or why there is none, for the bend ``label`` of the part."""

    label: str
    strip: Strip | None
    findings: tuple[Finding, ...] = ()


def entanglements_of(strip: Strip, prior: Prior) -> tuple[Entanglement, ...]:
    """What a strip cannot tell apart, however well it is measured; allowances and offsets first."""
    return tuple(sorted(find_entanglements(strip.reading, prior), key=lambda e: not e.angles))


def teaching_strips(part: Part, schedule: Schedule, width: float, prior: Prior) -> tuple[TeachingStrip, ...]:
    """A teaching strip ``width`` [mm] wide for each kind of bend of a part, the commonest first."""
    specs = {b.label: b for b in part.bends}
    kinds: dict[tuple[float, float, str, float | None], list[Stage]] = {}
    for stage in schedule.stages:
        spec, setup = specs[stage.crease.label], stage.setup or schedule.setup
        key = (angle_class(spec.angle), spec.inside_radius, setup.name, nose_setting(stage, schedule))
        kinds.setdefault(key, []).append(stage)
    commonest = sorted(kinds.values(), key=lambda stages: -len(stages))
    return tuple(
        _strip(part, schedule, specs[stages[0].crease.label], stages, width, prior, "" if n == 0 else f"-{n + 1}")
        for n, stages in enumerate(commonest)
    )


def _strip(
    part: Part, schedule: Schedule, spec: BendSpec, stages: Sequence[Stage], width: float, prior: Prior, tail: str
) -> TeachingStrip:
    """The shortest strip that is possible on the brake and tells everything apart."""
    setup, setting = stages[0].setup or schedule.setup, nose_setting(stages[0], schedule)
    shop = _with_setting(schedule.shop, setup, setting)
    for profile in _candidates(part, spec, setup, stages, width, tail):
        creases = creases_of_profile(profile, develop(profile))
        plan = make_plan(profile, creases, shop, setup.name)
        if plan.schedule.state == "refused":
            continue
        strip = cut_strip(profile, plan.schedule, width)
        if strip.plan.schedule.state == "refused" or any(e.angles for e in find_entanglements(strip.reading, prior)):
            continue
        reading = replace(strip.reading, name=words.FIRST_NAME.format(part=profile.name), part=part.fingerprint)
        named = replace(strip.profile, name=profile.name, title=profile.title)
        return TeachingStrip(spec.label, replace(strip, profile=named, reading=reading))
    text = words.NO_LESSON.format(label=spec.label)
    return TeachingStrip(spec.label, None, (Finding(words.CUT_DOWN, "note", part.name, text, words.OTHER_LESSON),))


def _candidates(
    part: Part, spec: BendSpec, setup: SetUp, stages: Sequence[Stage], width: float, tail: str
) -> Iterator[Profile]:
    """Definitions to try, the middle leg longer from one to the next."""
    if part.metal is None:
        return
    t = part.thickness
    first = math.ceil(max(min(s.arm for s in stages), LEAST_WIDTH * t, 2.0 * setup.clamp.nose_radius))
    back = setback(spec.angle, spec.inside_radius, t, "overall")
    least = max(first, math.ceil(setup.clamp.nose_radius + LEAST_WIDTH * t))
    middles = [least * share for share in MIDDLES]
    middles += [setup.clamp.depth + back + 10.0 * k for k in (1, 3, 6)]
    name = words.TEACHING_NAME.format(part=part.name) + tail
    for middle in sorted(math.ceil(m) for m in middles):
        flats = (first, middle, math.ceil(SECOND_END * first))
        legs = tuple(
            Leg(leg_name, flat + back * (1 if n != 1 else 2), "overall")
            for n, (leg_name, flat) in enumerate(zip(words.TEACHING_LEGS, flats, strict=True))
        )
        bends = tuple(
            replace(spec, label=label, way="up", first=n, second=n + 1, hold=1, allowance_source="given", where="")
            for n, label in enumerate(LABELS)
        )
        yield Profile(
            name=name,
            path=part.name,
            metal=part.metal,
            thickness=t,
            thickness_note="",
            length=width,
            dimensions=part.dimensions,
            legs=legs,
            bends=bends,
            title=words.TEACHING_TITLE.format(label=spec.label, part=part.title or part.name),
        )


def _with_setting(shop: Shop, setup: SetUp, setting: float | None) -> Shop:
    """The shop with the nose where it stands for the part."""
    if setup.setting is not None or setting is None:
        return shop
    setups = tuple(replace(s, setting=setting) if s.name == setup.name else s for s in shop.setups)
    return replace(shop, setups=setups)
