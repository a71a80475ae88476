"""From the creases of a blank to its bend schedule on one set-up of a brake.

    order -> held side of each bend -> leaf angle and radius under load -> one nose setting -> stages, findings

The order is the user's, or the plain one from the edges inward; it is not checked against the brake here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatgen.brake import geometry
from flatgen.brake.held import Lay, held_sides, told_apart
from flatgen.brake.load import load_of
from flatgen.brake.machine import SetUp, Shop
from flatgen.brake.read_shop import setup_named
from flatgen.brake.schedule import Crease, Range, Schedule, Stage
from flatgen.brake.springback import NoSpringback, Strength, loaded_radius, springback, strength_of
from flatgen.errors import Fault, InputRefused
from flatgen.order.judge import judged
from flatgen.part import Part

INWARD = "from the edges inward"
GIVEN = "as given"


def make_schedule(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setup_name: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> Schedule:
    """The bend schedule of a part on a brake.

    Parameters
    ----------
    part : Part
        The part, [-]
    creases : Sequence[Crease]
        Its bends as the brake sees them, [mm]
    shop : Shop
        The brake, [mm]
    setup_name : str
        Set-up to use; the first where it is empty, [-]
    held : Mapping[str, int] | None
        Legs to hold, by label of the bend; goes before what the definition says, [-]
    order : Sequence[str] | None
        Order of bending by labels; goes before that of the definition, [-]

    Returns
    -------
    Schedule
        Its stages, with findings FG130 to FG143, [-]

    Raises
    ------
    InputRefused
        FG033: a set-up, a bend or a side that is not there; FG023: an order that does not name every bend once
    """
    setup = setup_named(shop, setup_name) if setup_name else shop.setups[0]
    creases = _forced(creases, held or {}, part)
    given = order if order is not None else part.order
    ordered = _ordered(creases, given)
    strength = strength_of(part.metal) if part.metal is not None else None
    lays = held_sides(part, ordered, shop, setup)
    bends = [_bent(lay, part.thickness, setup, shop, strength) for lay in lays]
    setting, told = _setting(bends, setup)
    stages = tuple(
        _stage(n, bend, setting, part.thickness, setup, shop, strength) for n, bend in enumerate(bends, start=1)
    )
    schedule = Schedule(shop, setup, setting, told, stages, GIVEN if given is not None else INWARD)
    return replace(schedule, findings=judged(part, schedule, lays, strength))


def _forced(creases: Sequence[Crease], held: Mapping[str, int], part: Part) -> list[Crease]:
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


def _ordered(creases: Sequence[Crease], order: Sequence[str] | None) -> list[Crease]:
    if order is None:
        return sorted(creases, key=lambda c: (told_apart(min(c.first.reach, c.second.reach)), creases.index(c)))
    known = {c.label: c for c in creases}
    if sorted(order) != sorted(known):
        text = f"the order {', '.join(order) or 'of no bends'} does not name every bend once"
        raise InputRefused(Fault("FG023", "order of bending", text, f"bends are {', '.join(known) or 'none'}"))
    return [known[label] for label in order]


@dataclass(frozen=True)
class _Bent:
    """A bend at full swing; ``needed`` and ``least`` settings are None where it has no corner there."""

    lay: Lay
    springback: Range | None
    angle: float
    radius: float
    needed: float | None
    least: float | None


def _bent(lay: Lay, thickness: float, setup: SetUp, shop: Shop, strength: Strength | None) -> _Bent:
    crease, clamp = lay.crease, setup.clamp
    back: Range | None = None
    arm = lay.arm(crease.angle, crease.inside_radius, thickness, setup, shop)
    if strength is not None:
        try:
            back = springback(crease.angle, crease.inside_radius, thickness, strength, arm)
        except NoSpringback:
            back = None
    angle = crease.angle + (back.low if back else 0.0)
    radius = loaded_radius(crease.angle, crease.inside_radius, thickness, angle)
    if angle > geometry.LARGEST_SWUNG:
        return _Bent(lay, back, angle, radius, None, None)
    machine = (clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    needed = geometry.setting_for(radius, thickness, angle, *machine)
    return _Bent(lay, back, angle, radius, needed, geometry.least_setting(thickness, angle, *machine))


def _setting(bends: Sequence[_Bent], setup: SetUp) -> tuple[float | None, str]:
    """One nose setting for the job, and where it comes from: never before the bed's edge, never crushing."""
    if setup.setting is not None:
        return setup.setting, f"that of set-up {setup.name}"
    asked = [
        (max(b.needed, b.least), b.lay.crease.label) for b in bends if b.needed is not None and b.least is not None
    ]
    if not asked:
        return None, "no bend that the leaf can make asks for one"
    most, label = max(asked)
    if most < 0:
        return 0.0, "at the bed's edge: every bend asks for less, and nobody pushes the nose past it"
    return most, f"the largest that a bend asks for ({label})"


def _stage(
    number: int,
    bend: _Bent,
    setting: float | None,
    thickness: float,
    setup: SetUp,
    shop: Shop,
    strength: Strength | None,
) -> Stage:
    crease, nose, lay = bend.lay.crease, setup.clamp.nose_radius, bend.lay
    lines = [geometry.sight(crease, which, nose, setup.offset) for which in (lay.held, lay.swung)]
    back = bend.springback
    leaf = None if back is None else Range(crease.angle + back.low, crease.angle + back.high)
    arm = lay.arm(bend.angle, bend.radius, thickness, setup, shop)
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


def _radius(bend: _Bent, setting: float | None, thickness: float, setup: SetUp, shop: Shop) -> Range | None:
    """Finished inside radius that the setting gives: of the nose, and of a circular bend."""
    if setting is None or bend.needed is None:
        return None
    nose, crease = setup.clamp.nose_radius, bend.lay.crease
    circular = geometry.radius_from(setting, thickness, bend.angle, nose, shop.brake.hinge, setup.leaf.drop)
    both = (nose, max(nose, circular))
    return Range(*(geometry.finished_radius(r, thickness, bend.angle, crease.angle) for r in both))
