"""What a stage costs beyond its collisions: loads, flats too short, radii not formed; and the nose settings to try.

Costs are whole numbers of thousandths, so that sums do not depend on their order.
"""

from __future__ import annotations

from dataclasses import dataclass

from flatgen.bend_order.chain import Chain
from flatgen.brake import geometry
from flatgen.brake.creases import LEAST_ARM, least_hold, least_swing, other_side, remaining_face
from flatgen.brake.load import load_of
from flatgen.brake.springback import Strength, estimate_springback, loaded_radius
from flatgen.core.schedule import Crease, WhichSide
from flatgen.core.shop import SetUp, Shop, Weights

UNIT = 1000
EQUAL = 1e-6
WIDE = 0.25
"""A radius that may come out larger by more than this share (and a tenth of a thickness) is told: own choice."""
FINE = 0.01
"""Clearances are taken down to this step before they cost anything [mm]."""
SAME_SETTING = 0.01
"""Settings nearer than this are one: nobody sets a bar finer [mm]."""


@dataclass(frozen=True)
class FormedBend:
    """A bend on a set-up: ``angle`` [deg] and ``radius`` [mm] under load by the formula alone; settings [mm] ``needed``
    and ``least``, under which it is crushed, None where it has no corner; ``top`` [deg]: angle of the leaf with all the
    springback that may be, as far as it can swing; ``by_hand``: whether the leaf cannot bend it all the way.
    """

    angle: float
    radius: float
    needed: float | None
    least: float | None
    top: float
    by_hand: bool


def largest_swing(setup: SetUp) -> float:
    """How far the leaf can swing: its own limit, or where the bar's sloping front ends it [deg]."""
    return min(setup.leaf.swing, 180.0 - setup.clamp.nose_angle, geometry.LARGEST_SWUNG)


def form_bend(crease: Crease, thickness: float, setup: SetUp, shop: Shop, strength: Strength | None) -> FormedBend:
    """A bend on a set-up, whichever side is held."""
    arm = max(remaining_face(crease.angle, crease.inside_radius, thickness, setup, shop.brake), thickness)
    known = crease.known.springback if crease.known is not None else None
    back = estimate_springback(crease.angle, crease.inside_radius, thickness, strength, arm, known)
    low, high = (0.0, 0.0) if back is None else (back.own, back.range.high)
    most = largest_swing(setup)
    angle = crease.angle + low
    radius = loaded_radius(crease.angle, crease.inside_radius, thickness, angle)
    top = min(max(crease.angle + high, angle), most)
    if angle > geometry.LARGEST_SWUNG:
        return FormedBend(angle, radius, None, None, top, True)
    machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    needed = geometry.setting_for_radius(radius, thickness, angle, *machine)
    least = geometry.least_setting(thickness, angle, *machine)
    return FormedBend(angle, radius, needed, least, top, angle > most + EQUAL)


@dataclass(frozen=True)
class Settings:
    """``values`` [mm], the job's first; ``use``: for each bend the places of those that it may be made at."""

    values: tuple[float, ...]
    use: tuple[tuple[int, ...], ...]


def nose_settings(
    bends: list[FormedBend], creases: tuple[Crease, ...], thickness: float, shop: Shop, setup: SetUp
) -> Settings:
    """Nose settings that a set-up may be used with, and which of them each bend may be made at.

    One setting serves the whole job: the largest that any bend asks for. A bend whose radius would come out much
    larger there may also be made at its own.
    """
    if setup.setting is not None:
        return Settings((setup.setting,), tuple((0,) for _ in bends))
    needed = [max(b.needed, b.least, 0.0) if b.needed is not None and b.least is not None else 0.0 for b in bends]
    most = max(needed)
    values, use = [most], []
    for bend, crease, own in zip(bends, creases, needed, strict=True):
        places = [0]
        if own < most - SAME_SETTING and radius_is_wide(bend, crease, most, thickness, shop, setup):
            near = [n for n, v in enumerate(values) if abs(v - own) < SAME_SETTING and n]
            if not near:
                values.append(own)
            places.append(near[0] if near else len(values) - 1)
        use.append(tuple(places))
    return Settings(tuple(values), tuple(use))


def radius_is_wide(
    bend: FormedBend, crease: Crease, setting: float, thickness: float, shop: Shop, setup: SetUp
) -> bool:
    """Whether a radius may come out much larger than asked at a setting."""
    if bend.needed is None:
        return False
    most = _largest_radius(bend, crease, setting, thickness, shop, setup)
    return most > crease.inside_radius * (1 + WIDE) + 0.1 * thickness


def _largest_radius(
    bend: FormedBend, crease: Crease, setting: float, thickness: float, shop: Shop, setup: SetUp
) -> float:
    """Finished radius of a circular bend at a setting."""
    machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    circular = geometry.radius_from_setting(setting, thickness, bend.angle, *machine)
    return geometry.finished_radius(max(circular, setup.clamp.nose_radius), thickness, bend.angle, crease.angle)


def bend_cost(
    bend: FormedBend, crease: Crease, setting: float, thickness: float, shop: Shop, setup: SetUp, weights: Weights
) -> int:
    """Cost that a bend has on a set-up whichever side is held: rules of radius and angle that it breaks."""
    broken = int(bend.by_hand) + int(bend.radius < setup.clamp.nose_radius - EQUAL)
    if bend.least is not None and bend.needed is not None:
        broken += int(setting < bend.least - EQUAL)
        most = _largest_radius(bend, crease, setting, thickness, shop, setup)
        broken += int(crease.inside_radius > most + EQUAL)
    left = remaining_face(bend.angle, bend.radius, thickness, setup, shop.brake)
    broken += int(left < least_swing(shop.brake, thickness) - EQUAL)
    cost = broken * weights.broken_rule
    if radius_is_wide(bend, crease, setting, thickness, shop, setup):
        cost += weights.wide_radius
    return round(cost * UNIT)


def flat_runs(chain: Chain, bend: int, which: WhichSide) -> list[float]:
    """Flat beside a bend when its first bent neighbour on that side is 0, 1, 2 ... bends out, and when none is [mm]."""
    flats = [chain.flats[chain.leg_beyond(bend, which, 0)]]
    for k, near in enumerate(chain.outward(bend, which), start=1):
        flats.append(flats[-1] + chain.allowances[near] + chain.flats[chain.leg_beyond(bend, which, k)])
    return flats


@dataclass(frozen=True)
class FlatCosts:
    """By how far out the first bent neighbour on a side is; None where the leaf bears on nothing."""

    held: tuple[int, ...]
    swung: tuple[int | None, ...]


def flat_costs(
    chain: Chain,
    bend: int,
    held: WhichSide,
    formed: FormedBend,
    setup: SetUp,
    shop: Shop,
    strength: Strength | None,
    weights: Weights,
) -> FlatCosts:
    """Cost of short flats and of the handle's force."""
    crease, t = chain.creases[bend], chain.thickness
    hold, swing = least_hold(shop.brake, t), least_swing(shop.brake, t)
    short = round(weights.broken_rule * UNIT)
    held_costs = [short if run < hold - EQUAL else 0 for run in flat_runs(chain, bend, held)]
    left = remaining_face(formed.angle, formed.radius, t, setup, shop.brake)
    costs: list[int | None] = []
    for run in flat_runs(chain, bend, other_side(held)):
        if min(run, left) <= 0:
            costs.append(None)
            continue
        cost = short if run < swing - EQUAL else 0
        arm = max(min(left, run), LEAST_ARM * t)
        if strength is not None and formed.needed is not None and crease.length > 0:
            corner = (formed.radius + t) * geometry.half_tangent(formed.angle)
            load = load_of(t, crease.length, arm, corner, formed.top, strength, shop.brake, setup)
            cost += round(weights.handle_force * load.handle / shop.brake.lever.effort * UNIT)
        costs.append(cost)
    return FlatCosts(tuple(held_costs), tuple(costs))
