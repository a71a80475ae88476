"""What a stage costs beyond its collisions: loads, flats too short, radii not formed. Nothing here looks at shapes.

Costs are whole numbers of thousandths, so that sums do not depend on their order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.bend_order.chain import Chain
from flatgen.brake import geometry
from flatgen.brake.creases import face_left, least_hold, least_swing
from flatgen.brake.load import load_of
from flatgen.brake.springback import Strength, loaded_radius, opening
from flatgen.core.schedule import Crease, Which
from flatgen.core.shop import SetUp, Shop, Weights

UNIT = 1000
EQUAL = 1e-6
WIDE = 0.25
FINE = 0.01
"""Clearances are taken down to this step before they cost anything [mm]."""
SAME_SETTING = 0.01
"""Settings nearer than this are one: nobody sets a bar finer [mm]."""
ARM_LEAST = 0.5


@dataclass(frozen=True)
class Formed:
    """A bend on a set-up: ``angle`` [deg] and ``radius`` [mm] under load by the formula alone; settings [mm] that it
    asks for and under which it is crushed, None where it has no corner; ``top`` [deg]: largest angle of the leaf;
    ``by_hand``: whether the leaf cannot bend it all the way.
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


def formed(crease: Crease, thickness: float, setup: SetUp, shop: Shop, strength: Strength | None) -> Formed:
    """A bend on a set-up, whichever side is held.

    :param thickness: of the sheet [mm]
    :returns: with the leaf's largest angle: with all the springback that may be, as far as it can swing
    """
    arm = max(face_left(crease.angle, crease.inside_radius, thickness, setup, shop.brake), thickness)
    told = crease.known.springback if crease.known is not None else None
    back = opening(crease.angle, crease.inside_radius, thickness, strength, arm, told)
    low, high = (0.0, 0.0) if back is None else (back.own, back.range.high)
    most = largest_swing(setup)
    angle = crease.angle + low
    radius = loaded_radius(crease.angle, crease.inside_radius, thickness, angle)
    top = min(max(crease.angle + high, angle), most)
    if angle > geometry.LARGEST_SWUNG:
        return Formed(angle, radius, None, None, top, True)
    machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    needed = geometry.setting_for(radius, thickness, angle, *machine)
    least = geometry.least_setting(thickness, angle, *machine)
    return Formed(angle, radius, needed, least, top, angle > most + EQUAL)


def settings_of(
    bends: list[Formed], creases: tuple[Crease, ...], thickness: float, shop: Shop, setup: SetUp
) -> Settings:
    """Nose settings that a set-up may be used with, and which of them each bend may be made at.

    One setting serves the whole job: the largest that any bend asks for. A bend whose radius would come out much
    larger there may also be made at its own.
    """
    if setup.setting is not None:
        return Settings((setup.setting,), tuple((0,) for _ in bends))
    asked = [max(b.needed, b.least, 0.0) if b.needed is not None and b.least is not None else 0.0 for b in bends]
    most = max(asked)
    values, use = [most], []
    for bend, crease, own in zip(bends, creases, asked, strict=True):
        places = [0]
        if own < most - SAME_SETTING and wide(bend, crease, most, thickness, shop, setup):
            near = [n for n, v in enumerate(values) if abs(v - own) < SAME_SETTING and n]
            if not near:
                values.append(own)
            places.append(near[0] if near else len(values) - 1)
        use.append(tuple(places))
    return Settings(tuple(values), tuple(use))


@dataclass(frozen=True)
class Settings:
    """``values`` [mm], the job's first; ``use``: for each bend the places of those that it may be made at."""

    values: tuple[float, ...]
    use: tuple[tuple[int, ...], ...]


def wide(bend: Formed, crease: Crease, setting: float, thickness: float, shop: Shop, setup: SetUp) -> bool:
    """Whether a radius may come out much larger than asked at a setting."""
    if bend.needed is None:
        return False
    machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
    circular = geometry.radius_from(setting, thickness, bend.angle, *machine)
    most = geometry.finished_radius(max(circular, setup.clamp.nose_radius), thickness, bend.angle, crease.angle)
    return most > crease.inside_radius * (1 + WIDE) + 0.1 * thickness


def of_the_bend(
    bend: Formed, crease: Crease, setting: float, thickness: float, shop: Shop, setup: SetUp, weights: Weights
) -> int:
    """Cost that a bend has on a set-up whichever side is held: rules of radius and angle that it breaks."""
    broken = int(bend.by_hand) + int(bend.radius < setup.clamp.nose_radius - EQUAL)
    if bend.least is not None and bend.needed is not None:
        broken += int(setting < bend.least - EQUAL)
        machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
        circular = geometry.radius_from(setting, thickness, bend.angle, *machine)
        most = geometry.finished_radius(max(circular, setup.clamp.nose_radius), thickness, bend.angle, crease.angle)
        broken += int(crease.inside_radius > most + EQUAL)
    left = face_left(bend.angle, bend.radius, thickness, setup, shop.brake)
    broken += int(left < least_swing(shop.brake, thickness) - EQUAL)
    cost = broken * weights.broken_rule
    if wide(bend, crease, setting, thickness, shop, setup):
        cost += weights.wide_radius
    return round(cost * UNIT)


def runs(chain: Chain, bend: int, which: Which) -> list[float]:
    """Flat beside a bend when its first bent neighbour on that side is 0, 1, 2 ... bends out, and when none is [mm]."""
    found = [chain.flats[chain.leg_beyond(bend, which, 0)]]
    for k, near in enumerate(chain.outward(bend, which), start=1):
        found.append(found[-1] + chain.allowances[near] + chain.flats[chain.leg_beyond(bend, which, k)])
    return found


@dataclass(frozen=True)
class Flats:
    """Cost by the flats at hand: ``held`` and ``swung`` by how far out the first bent neighbour is; ``None`` where the
    leaf bears on nothing.
    """

    held: tuple[int, ...]
    swung: tuple[int | None, ...]


def of_flats(
    chain: Chain,
    bend: int,
    held: Which,
    found: Formed,
    setup: SetUp,
    shop: Shop,
    strength: Strength | None,
    weights: Weights,
) -> Flats:
    """Cost of short flats and of the handle's force."""
    crease, t = chain.creases[bend], chain.thickness
    swung: Which = "second" if held == "first" else "first"
    hold, swing = least_hold(shop.brake, t), least_swing(shop.brake, t)
    short = round(weights.broken_rule * UNIT)
    held_costs = [short if run < hold - EQUAL else 0 for run in runs(chain, bend, held)]
    left = face_left(found.angle, found.radius, t, setup, shop.brake)
    costs: list[int | None] = []
    for run in runs(chain, bend, swung):
        if min(run, left) <= 0:
            costs.append(None)
            continue
        cost = short if run < swing - EQUAL else 0
        arm = max(min(left, run), ARM_LEAST * t)
        if strength is not None and found.needed is not None and crease.length > 0:
            corner = (found.radius + t) * geometry.half_tangent(found.angle)
            load = load_of(t, crease.length, arm, corner, found.top, strength, shop.brake, setup)
            cost += round(weights.handle_force * load.handle / shop.brake.lever.effort * UNIT)
        costs.append(cost)
    return Flats(tuple(held_costs), tuple(costs))


def of_clearance(clearance: float, safe: float, weights: Weights) -> int:
    """Cost of coming nearer than the safe clearance: nothing at it, all of the weight at contact.

    :param clearance, safe: [mm]

    Half of the safe clearance is left, weight 10:

    >>> of_clearance(1.0, 2.0, Weights())
    5000
    """
    if clearance >= safe or safe <= 0:
        return 0
    down = math.floor(clearance / FINE + 1e-6) * FINE
    return round(weights.small_clearance * (1 - max(down, 0.0) / safe) * UNIT)
