"""Teaching strips: two bends of one kind, the leg between them held at both; its legs tell the allowance."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from flatgen.bend_order.plan import make_plan
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import Finding
from flatgen.core.learned import Entangled
from flatgen.core.schedule import Schedule, Stage
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Leg, Profile
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.allowance import setback
from flatgen.strips import words as words
from flatgen.strips.cut import LEAST_WIDTH, Strip, nose_setting, strip_of
from flatgen.strips.learning.apart import deficient
from flatgen.strips.learning.priors import Prior, angle_class

LABELS = ("A", "B")

LONGER = 1.6
"""Second free leg against the first, in flats [-]: own choice."""

MIDDLES = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
"""Flats of the middle leg that are tried, in the first one's."""


@dataclass(frozen=True)
class Lesson:
    """A teaching strip, or why there is none, for the bend of the part that it is like."""

    label: str
    strip: Strip | None
    findings: tuple[Finding, ...] = ()


def entangled_of(strip: Strip, prior: Prior) -> tuple[Entangled, ...]:
    """What a strip cannot tell apart, however well it is measured.

    :returns: allowances and offsets that legs cannot tell apart first
    """
    return tuple(sorted(deficient(strip.reading, prior), key=lambda e: not e.angles))


def lessons(part: Part, schedule: Schedule, width: float, prior: Prior) -> tuple[Lesson, ...]:
    """A teaching strip for each kind of bend of a part, the commonest first.

    :param width: of the strips [mm]
    :returns: one for each metal, radius, angle class, set-up and nose setting [mm]
    """
    specs = {b.label: b for b in part.bends}
    kinds: dict[tuple[float, float, str, float | None], list[Stage]] = {}
    for stage in schedule.stages:
        spec, setup = specs[stage.crease.label], stage.setup or schedule.setup
        key = (angle_class(spec.angle), spec.inside_radius, setup.name, nose_setting(stage, schedule))
        kinds.setdefault(key, []).append(stage)
    found = sorted(kinds.values(), key=lambda stages: -len(stages))
    return tuple(
        _lesson(part, schedule, specs[stages[0].crease.label], stages, width, prior, "" if n == 0 else f"-{n + 1}")
        for n, stages in enumerate(found)
    )


def _lesson(
    part: Part, schedule: Schedule, spec: BendSpec, stages: Sequence[Stage], width: float, prior: Prior, tail: str
) -> Lesson:
    """The shortest strip that is possible on the brake and tells everything apart."""
    setup, setting = stages[0].setup or schedule.setup, nose_setting(stages[0], schedule)
    shop = _made_fast(schedule.shop, setup, setting)
    for profile in _tried(part, spec, setup, stages, width, tail):
        creases = creases_of_profile(profile, develop(profile))
        plan = make_plan(profile, creases, shop, setup.name)
        if plan.schedule.state == "refused":
            continue
        strip = strip_of(profile, plan.schedule, width)
        if strip.plan.schedule.state == "refused" or any(e.angles for e in deficient(strip.reading, prior)):
            continue
        reading = replace(strip.reading, name=words.FIRST_NAME.format(part=profile.name), part=part.fingerprint)
        named = replace(strip.profile, name=profile.name, title=profile.title)
        return Lesson(spec.label, replace(strip, profile=named, reading=reading))
    text = words.NO_LESSON.format(label=spec.label)
    return Lesson(spec.label, None, (Finding(words.CUT_DOWN, "note", part.name, text, words.OTHER_LESSON),))


def _tried(
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
        flats = (first, middle, math.ceil(LONGER * first))
        legs = tuple(
            Leg(said, flat + back * (1 if n != 1 else 2), "overall")
            for n, (said, flat) in enumerate(zip(words.TEACHING_LEGS, flats, strict=True))
        )
        bends = tuple(
            replace(spec, label=label, way="up", first=n, second=n + 1, hold=1, by="given", where="")
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


def _made_fast(shop: Shop, setup: SetUp, setting: float | None) -> Shop:
    """The shop with the nose where it stands for the part."""
    if setup.setting is not None or setting is None:
        return shop
    setups = tuple(replace(s, setting=setting) if s.name == setup.name else s for s in shop.setups)
    return replace(shop, setups=setups)
