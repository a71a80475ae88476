"""What the log of strips of a shop teaches, learned once for a command; nothing is loaded for a shop without a log."""

from __future__ import annotations

import hashlib
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from flatgen.bend_order.costs import formed
from flatgen.bend_order.plan import SAME_SETTING
from flatgen.brake.springback import strength_of
from flatgen.core.errors import Finding
from flatgen.core.learned import KnownAllowance, KnownBend
from flatgen.core.schedule import Crease, Schedule
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.allowance import Allowance, Measured, NotUsable
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
    and damaged lines.
    """

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

    :raises InputRefused: FG001 where it cannot be read
    """
    if not shop.strips or not Path(shop.strips).exists():
        return None
    from flatgen.strips.log import read_log

    log = read_log(Path(shop.strips))
    return log if log.entries or log.damaged else None


def digest_of(log: Log | None) -> str:
    """Sixteen hexadecimal digits that change with the strips in force, whatever their order; empty without any."""
    if log is None or not log.entries:
        return ""
    return hashlib.sha256(" ".join(sorted(e.digest for e in log.entries)).encode()).hexdigest()[:16]


def lessons_of(shop: Shop | None, metals: Mapping[str, Metal]) -> Lessons | None:
    """What the log of a shop teaches, None where there is none; one with damaged lines alone teaches nothing.

    :raises InputRefused: FG001 where the log cannot be read
    """
    log = None if shop is None else log_of(shop)
    if shop is None or log is None:
        return None
    from flatgen.strips.learning.model import learn
    from flatgen.strips.learning.priors import prior_for

    learned = learn(log.readings, prior_for(shop, metals))
    return Lessons(Path(shop.strips).name, digest_of(log), learned, log.readings, log.damaged)


def kind_of(part: Part, bend: BendSpec) -> Alike:
    """What a strip must share with a bend to tell of it: metal, thickness [mm], inside radius [mm]."""
    return ("" if part.metal is None else part.metal.name, round(part.thickness, 3), round(bend.inside_radius, 3))


PASSES = 2
"""How often a part is developed anew; each time its set-ups and nose settings may come out otherwise."""

NEAR = 0.5
"""Nose settings that differ by no more are bent alike: the radius follows by no more than that [mm]. Own choice."""

NORMAL_95 = 1.96


def made_fast_in(shop: Shop, planned: Shop) -> frozenset[str]:
    """Set-ups whose nose setting was made fast.

    :param planned: of :func:`made_fast`
    """
    return frozenset(o.name for o, n in zip(shop.setups, planned.setups, strict=True) if o.setting != n.setting)


def settled(schedule: Schedule, bends: Mapping[str, KnownBend]) -> bool:
    """Whether a plan makes each bend where it was asked what strips told.

    :returns: true where set-ups and nose settings are those
    """
    for stage in schedule.stages:
        known = bends[stage.crease.label]
        setup, setting = (stage.setup or schedule.setup).name, stage.setting
        if setup != known.setup or (setting is None) != (known.nose_setting is None):
            return False
        if setting is not None and known.nose_setting is not None and abs(setting - known.nose_setting) >= SAME_SETTING:
            return False
    return True


def unsettled(part: Part, schedule: Schedule) -> Finding:
    """That set-ups or nose settings have not come to rest.

    :returns: A caution, FG158
    """
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
    return Finding("FG158", "caution", _place(part), text, remedy)


def made_fast(part: Part, schedule: Schedule, shop: Shop, lessons: Lessons) -> Shop:
    """The shop with the nose settings that the strips were bent at, since what was learned holds there.

    Only where the plan's own are near, one for a set-up, and where nothing is crushed.

    :returns: with settings of set-ups that have none of their own
    """
    setups = []
    for setup in shop.setups:
        stages = [s for s in schedule.stages if (s.setup or schedule.setup).name == setup.name]
        asked = {s.setting for s in stages}
        one = next(iter(asked)) if len(asked) == 1 else None
        if setup.setting is not None or one is None:
            setups.append(setup)
            continue
        specs = {b.label: b for b in part.bends}
        near = [
            v
            for s in stages
            for v in lessons.settings(kind_of(part, specs[s.crease.label]), setup.name)
            if abs(v - one) <= NEAR and v >= _least(part, [t.crease for t in stages], setup, shop, lessons)
        ]
        setups.append(replace(setup, setting=min(near, key=lambda v: abs(v - one))) if near else setup)
    return replace(shop, setups=tuple(setups))


def _least(part: Part, creases: Sequence[Crease], setup: SetUp, shop: Shop, lessons: Lessons) -> float:
    """Least nose setting with the springback that strips told [mm]."""
    strength = None if part.metal is None else strength_of(part.metal)
    found = []
    for crease in creases:
        told = _bend(part, crease, setup.name, None, lessons)
        least = formed(replace(crease, known=told), part.thickness, setup, shop, strength).least
        found.append(0.0 if least is None else least)
    return max(found, default=0.0)


def _bend(part: Part, crease: Crease, setup: str, setting: float | None, lessons: Lessons) -> KnownBend:
    from flatgen.strips.learning.model import springback_known

    known = _allowance(part, crease, setup, setting, lessons)
    back = springback_known(lessons.learned, known.metal, known.thickness, known.inside_radius)
    off = NORMAL_95 * known.radius_spread
    radius = (known.radius - off, known.radius + off) if known.radii else None
    return KnownBend(setup, setting, known.drawn_offset, known.nose_setting, back if back.bends else None, radius)


def _allowance(part: Part, crease: Crease, setup: str, setting: float | None, lessons: Lessons) -> KnownAllowance:
    from flatgen.strips.learning.model import allowance_known

    spec = next(b for b in part.bends if b.label == crease.label)
    at = _nearest(lessons.settings(kind_of(part, spec), setup), setting)
    return allowance_known(lessons.learned, (*kind_of(part, spec), setup, at), spec.angle, part.dimensions)


def _nearest(settings: Sequence[float], setting: float | None) -> float | None:
    """The setting that strips were bent at and that a planned one is near to, else its own class [mm]."""
    from flatgen.strips.learning.priors import SETTING_CLASS

    if setting is None:
        return None
    near = [v for v in settings if abs(v - setting) <= NEAR]
    return (
        min(near, key=lambda v: abs(v - setting)) if near else round(round(setting / SETTING_CLASS) * SETTING_CLASS, 6)
    )


def of_bends(
    part: Part, schedule: Schedule, shop: Shop, lessons: Lessons
) -> tuple[dict[str, KnownBend], dict[str, Measured], list[Finding]]:
    """What strips told of each bend where the plan makes it; allowances only of bends like theirs.

    :returns: by label, the second of bends whose allowance is not given otherwise, and what is to be said [mm]
    """
    specs = {b.label: b for b in part.bends}
    fast = {s.name: s.setting for s in shop.setups}
    kinds = lessons.kinds()
    bends: dict[str, KnownBend] = {}
    found: dict[str, Measured] = {}
    told = []
    for stage in schedule.stages:
        crease, setup = stage.crease, (stage.setup or schedule.setup).name
        setting = stage.setting if fast.get(setup) is None else fast[setup]
        bends[crease.label] = _bend(part, crease, setup, setting, lessons)
        spec = specs[crease.label]
        if kind_of(part, spec) not in kinds:
            continue
        known = _allowance(part, crease, setup, setting, lessons)
        method = Measured(known.drawn, _behind(known, part, spec, lessons), _source(known, lessons))
        try:
            usable = method.allowance(spec.angle, spec.inside_radius, part.thickness)
        except NotUsable as error:
            told.append(
                Finding("FG158", "note", spec.where, f"bend {spec.label}: {error.text}; not used", error.remedy)
            )
            continue
        other = part.source is not None and spec.allowance.method != usable.method
        if spec.by == "given" or other:
            told.append(_given(part, spec, known, usable))
        if spec.by != "given":
            found[spec.label] = method
            if known.nose_setting is not None and setting is not None:
                told += _elsewhere(spec, known.nose_setting, setting)
    return bends, found, told


def _behind(known: KnownAllowance, part: Part, spec: BendSpec, lessons: Lessons) -> str:
    if known.bends:
        return known.source
    bends, strips = lessons.counted({kind_of(part, spec)})
    several = "s" if strips > 1 else ""
    return f"from {bends} bend{'s' if bends > 1 else ''} of another angle or set-up on {strips} strip{several}"


def _source(known: KnownAllowance, lessons: Lessons) -> str:
    partly = "" if known.told else "; strips do not tell it apart from the offset, the handbook does"
    return (
        f"strips of {lessons.name}, 95 % within ±{NORMAL_95 * known.drawn_spread:.2f} mm, for the radius asked{partly}"
    )


def _given(part: Part, spec: BendSpec, known: KnownAllowance, usable: Allowance) -> Finding:
    own, spread = spec.allowance, NORMAL_95 * known.drawn_spread
    text = (
        f"bend {spec.label}: its allowance is {own.length:.2f} mm ({own.method}); {usable.method} it is "
        f"{known.drawn:.2f} ±{spread:.2f} mm"
    )
    remedy = 'leave the other figure out, or write allowance = "measured"'
    if part.source is not None:
        remedy = f"leave K out where one was given; what strips told is --k {usable.k:.3f} for this bend"
    return Finding("FG158", "note", spec.where, text, remedy)


def _place(part: Part) -> str:
    return part.path if isinstance(part, Profile) else part.source.where if part.source else part.name


def _elsewhere(spec: BendSpec, taught_at: float, setting: float) -> list[Finding]:
    if abs(setting - taught_at) < SAME_SETTING:
        return []
    text = f"bend {spec.label}: strips were bent with the nose at {taught_at:.2f} mm, the plan has {setting:.2f} mm"
    return [
        Finding("FG158", "note", spec.where, text, "bend a strip at the plan's setting, or set the nose as they had it")
    ]
