"""The bend schedule of a part on a brake, what a user wants of it, and the radii that the brake would form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatgen.bend_order.decide import Decision, decide_order, handling_of
from flatgen.bend_order.judge import schedule_findings
from flatgen.brake import geometry
from flatgen.brake.creases import Placement
from flatgen.brake.load import load_of
from flatgen.brake.read_shop import find_setup
from flatgen.brake.springback import Strength, estimate_springback, loaded_radius, strength_of
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.schedule import Crease, Range, Schedule, Stage
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.part import Part

NO_LEG = -1
ANY = "any"
"""In place of a set-up's name: all that the shop has."""
SAME_SETTING = 0.1
"""Nose settings that differ by less are one to what strips told: nobody sets a bar finer [mm]."""
ROUNDS = 30
STILL = 1e-9
"""Radii that change by less have following [mm]."""


def parse_held(text: str, part: Part) -> dict[str, int]:
    """Legs to hold by label of the bend, from a text such as ``A=web,B=2``: by name or by number from 1.

    :returns: index of a leg, -1 where there is none of that name
    :raises InputRefused: FG005 where it cannot be read.
    """
    held: dict[str, int] = {}
    for item in (i.strip() for i in text.split(",")):
        if not item:
            continue
        label, sign, name = (piece.strip() for piece in item.rpartition("="))
        if not sign or not label or not name or label in held:
            fault = f"{item[:40]!r} does not say once which leg a bend is held by"
            raise InputRefused(Fault("FG005", "--hold", fault, "write for example --hold A=web,B=2"))
        held[label] = _leg(name, label, part)
    return held


def parse_order(text: str) -> tuple[str, ...] | None:
    """Labels in the order of bending from a text such as ``B,A``.

    >>> parse_order(" B, A"), parse_order("")
    (('B', 'A'), None)
    """
    return tuple(n.strip() for n in text.split(",")) if text.strip() else None


def _leg(name: str, label: str, part: Part) -> int:
    """The leg of a name, or else of a number; of several of one name that beside the bend."""
    legs = sorted({n for b in part.bends for n in (b.first, b.second)})
    beside = [n for b in part.bends if b.label == label for n in (b.first, b.second)]
    alike: list[int] = [n for n in (*beside, *legs) if part.leg_name(n) == name]
    if alike:
        return alike[0]
    return int(name) - 1 if name.isascii() and name.isdigit() and len(name) < 6 and int(name) - 1 in legs else NO_LEG


@dataclass(frozen=True)
class Plan:
    """A schedule and how it was decided."""

    schedule: Schedule
    decision: Decision


def setups_of(shop: Shop, names: str) -> tuple[SetUp, ...]:
    """Set-ups by name, such as ``plain, stiffened`` or ``any`` for all; the first of the shop where none is named.

    :raises InputRefused: FG033 for a name that there is not.
    """
    known = {s.name.casefold() for s in shop.setups}
    if names.strip().casefold() == ANY and ANY not in known:
        return shop.setups
    single = names.strip().casefold() in known or "," not in names
    setups = [find_setup(shop, n) for n in ([names] if single else [n for n in names.split(",") if n.strip()])]
    if names.strip() and not setups:
        raise InputRefused(Fault("FG033", shop.path, "no set-up is named", "leave --set-up out for the first one"))
    return tuple(dict.fromkeys(setups))


def make_schedule(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setup_name: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> Schedule:
    """The schedule of :func:`make_plan`."""
    return make_plan(part, creases, shop, setup_name, held, order).schedule


def make_plan(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setup_name: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> Plan:
    """The bend schedule of a part on a brake, and how its order was decided.

    :param setup_name: set-up to use, or several that may be changed for one another; the first where it is empty
    :param held: legs to hold, by label of the bend; goes before what the definition says
    :param order: labels in the order of bending; goes before that of the definition
    :returns: with findings FG130 to FG145
    :raises InputRefused: FG033: a set-up, a bend or a side that is not there; FG023: an order that does not name every
        bend once
    """
    setups = setups_of(shop, setup_name)
    creases = _with_holds(creases, held or {}, part)
    wanted = order if order is not None else part.order
    strength = strength_of(part.metal) if part.metal is not None else None
    decision = decide_order(part, creases, shop, setups, strength, wanted)
    steps = decision.steps
    bends = [_loaded_bend(step.placement, part.thickness, step.setup, shop, strength) for step in steps]
    setting, setting_from = _setting(bends, steps[0].setup) if steps else (None, "no bend asks for one")
    stages = []
    for n, (bend, step) in enumerate(zip(bends, steps, strict=True), start=1):
        own = setting if step.setting is None else step.setting
        own = None if setting is None and step.setup is steps[0].setup else own
        stage = _stage(n, bend, own, part.thickness, step.setup, shop, strength)
        stages.append(replace(stage, setup=step.setup, setting=own, handling=handling_of(part, steps, n - 1)))
    first = steps[0].setup if steps else setups[0]
    if len({(s.setup.name, s.setting) for s in stages if s.setup is not None}) > 1:
        setting, setting_from = stages[0].setting, "of the first bend; it changes, see each bend"
    schedule = Schedule(
        shop,
        first,
        setting,
        setting_from,
        tuple(stages),
        decision.order_from,
        state=decision.state,
        unchecked=decision.unchecked,
        setups=tuple(s.name for s in setups),
    )
    findings = schedule_findings(part, schedule, [s.placement for s in steps], strength)
    return Plan(replace(schedule, findings=findings), decision)


def _with_holds(creases: Sequence[Crease], held: Mapping[str, int], part: Part) -> list[Crease]:
    """Creases with the legs that the user wants held."""
    known = {c.label: c for c in creases}
    faults = []
    for label, leg in held.items():
        crease = known.get(label)
        if crease is None:
            text, remedy = f"no bend is called {label!r}", f"labels are {', '.join(known) or 'none'}"
            faults.append(Fault("FG033", "--hold", text, remedy))
        elif leg not in (crease.first.leg, crease.second.leg):
            sides = " and ".join(part.leg_text(s.leg) for s in (crease.first, crease.second))
            there = any(leg == s.leg for c in creases for s in (c.first, c.second))
            text = (
                f"{part.leg_text(leg)} is not beside bend {label}" if there else f"no such leg is beside bend {label}"
            )
            faults.append(Fault("FG033", "--hold", text, f"beside it are {sides}"))
    if faults:
        raise InputRefused(*faults)
    return [replace(c, hold=held[c.label]) if c.label in held else c for c in creases]


@dataclass(frozen=True)
class _LoadedBend:
    """A bend at full swing; ``needed`` and ``least`` settings [mm] are None where it has no corner there."""

    placement: Placement
    springback: Range | None
    angle: float
    radius: float
    needed: float | None
    least: float | None


def _loaded_bend(
    placement: Placement, thickness: float, setup: SetUp, shop: Shop, strength: Strength | None
) -> _LoadedBend:
    crease, clamp = placement.crease, setup.clamp
    arm = placement.arm(crease.angle, crease.inside_radius, thickness, setup, shop)
    known = crease.known.springback if crease.known is not None else None
    estimate = estimate_springback(crease.angle, crease.inside_radius, thickness, strength, arm, known)
    back = estimate.range if estimate else None
    angle = crease.angle + (estimate.own if estimate else 0.0)
    radius = loaded_radius(crease.angle, crease.inside_radius, thickness, angle)
    if angle > geometry.LARGEST_SWUNG:
        return _LoadedBend(placement, back, angle, radius, None, None)
    machine = (clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    needed = geometry.setting_for_radius(radius, thickness, angle, *machine)
    return _LoadedBend(placement, back, angle, radius, needed, geometry.least_setting(thickness, angle, *machine))


def _setting(bends: Sequence[_LoadedBend], setup: SetUp) -> tuple[float | None, str]:
    """One nose setting for the job, and where it comes from: never before the bed's edge, never crushing."""
    if setup.setting is not None:
        return setup.setting, f"that of set-up {setup.name}"
    needed = [
        (max(b.needed, b.least), b.placement.crease.label)
        for b in bends
        if b.needed is not None and b.least is not None
    ]
    if not needed:
        return None, "no bend that the leaf can make asks for one"
    most, label = max(needed)
    if most < 0:
        return 0.0, "at the bed's edge: every bend asks for less, and nobody pushes the nose past it"
    return most, f"the largest that a bend asks for ({label})"


def _stage(
    number: int,
    bend: _LoadedBend,
    setting: float | None,
    thickness: float,
    setup: SetUp,
    shop: Shop,
    strength: Strength | None,
) -> Stage:
    crease, nose, placement = bend.placement.crease, setup.clamp.nose_radius, bend.placement
    lines = [
        geometry.sight_line(crease, which, nose, _offset(crease, setup, setting))
        for which in (placement.held, placement.swung)
    ]
    back = bend.springback
    leaf = None if back is None else Range(crease.angle + back.low, crease.angle + back.high)
    arm = placement.arm(bend.angle, bend.radius, thickness, setup, shop)
    load = None
    if strength is not None and bend.needed is not None and crease.length > 0 and arm > 0:
        corner = (bend.radius + thickness) * geometry.half_tangent(bend.angle)
        top = min(leaf.high if leaf else bend.angle, geometry.LARGEST_SWUNG)
        load = load_of(thickness, crease.length, arm, corner, top, strength, shop.brake, setup)
    return Stage(
        number=number,
        crease=crease,
        sight=lines[0],
        other=lines[1],
        springback=bend.springback,
        leaf_angle=leaf,
        radius=_radius(bend, setting, thickness, setup, shop),
        needed=bend.needed,
        least=bend.least,
        load=load,
        loaded_angle=bend.angle,
        loaded_radius=bend.radius,
        arm=arm,
    )


def _offset(crease: Crease, setup: SetUp, setting: float | None) -> float:
    """E of a bend: what strips told of it on this set-up at this nose setting, else that of the set-up."""
    known = crease.known
    if known is None or known.setup != setup.name:
        return setup.offset
    if setting is None or known.nose_setting is None:
        return known.offset if setting is known.nose_setting else setup.offset
    return known.offset if abs(setting - known.nose_setting) < SAME_SETTING else setup.offset


def _radius(bend: _LoadedBend, setting: float | None, thickness: float, setup: SetUp, shop: Shop) -> Range | None:
    """Finished inside radius that the setting gives: of the nose, and of a circular bend."""
    if setting is None or bend.needed is None:
        return None
    nose, crease = setup.clamp.nose_radius, bend.placement.crease
    circular = geometry.radius_from_setting(setting, thickness, bend.angle, nose, shop.brake.hinge, setup.leaf.drop)
    both = (nose, max(nose, circular))
    return Range(*(geometry.finished_radius(r, thickness, bend.angle, crease.angle) for r in both))


def formed_radii(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setup_name: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> dict[str, float]:
    """Finished inside radii [mm] by label, of those bends only that come out with another radius than asked.

    Each is the nearest that the brake gives. The nose setting is that of the job as asked, and stays. Springback
    depends on the radius, so the two are worked out in turn until they rest.
    """
    first = make_schedule(part, creases, shop, setup_name, held, order)
    own = replace(first.setup, setting=first.setting)
    fixed = replace(shop, setups=tuple(own if s.name == own.name else s for s in shop.setups))
    wanted = {c.label: c.inside_radius for c in creases}
    radii = _nearest(first, wanted)
    for _ in range(ROUNDS):
        tried = [replace(c, inside_radius=radii.get(c.label, c.inside_radius)) for c in creases]
        following = _nearest(make_schedule(part, tried, fixed, own.name, held, order), wanted)
        still = all(abs(following.get(n, r) - radii.get(n, r)) < STILL for n, r in wanted.items())
        radii = following
        if still:
            break
    return radii


def _nearest(schedule: Schedule, wanted: Mapping[str, float]) -> dict[str, float]:
    radii = {}
    for stage in schedule.stages:
        radius, gives = wanted[stage.crease.label], stage.radius
        if gives is not None and not gives.low - STILL <= radius <= gives.high + STILL:
            radii[stage.crease.label] = gives.low if radius < gives.low else gives.high
    return radii
