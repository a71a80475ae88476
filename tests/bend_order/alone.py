"""One stage looked at alone: its pieces grown for its own set of bends, its cost summed term by term here.

The package fills whole tables for all sets of bends at once and adds whole thousandths; here nothing is shared between
stages, and terms are numbers with a name each.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from flatgen.bend_order.bodies import brake_bodies
from flatgen.bend_order.chain import Chain, Pieces, pieces_of_side
from flatgen.bend_order.checks import Gaps, Gauge, held_gaps, swung_gaps
from flatgen.bend_order.costs import FormedBend
from flatgen.bend_order.search import Choice, Question
from flatgen.bend_order.stages import Situation
from flatgen.bend_order.together import pair_gaps
from flatgen.brake import geometry
from flatgen.brake.creases import least_hold, least_swing, remaining_face
from flatgen.brake.load import load_of
from flatgen.core.schedule import WhichSide


def alone(situation: Situation, bend: int, held: WhichSide, made: int) -> tuple[float, bool, bool]:
    """Clearance of one stage [mm], and whether it goes in and comes out endwise: nothing but its own pieces."""
    chain, swing = situation.chain, situation.swing(bend, held)
    swung: WhichSide = "second" if held == "first" else "first"
    safe = situation.shop.safe_clearance
    look = Gauge(chain.thickness / 2, safe)
    body = brake_bodies(situation.shop.brake, situation.setup, situation.setting, chain.thickness)
    bits = [sum((made >> near & 1) << k for k, near in enumerate(chain.outward(bend, s))) for s in (held, swung)]
    lies_, goes = (pieces_of_side(chain, bend, s, 0, b)[0] for s, b in zip((held, swung), bits, strict=True))
    lift = situation.setup.clamp.lift
    lies = held_gaps(look, lies_, body, [swing], lift, every(lies_))
    before, after = swung_gaps(look, goes, body, [swing], lift, every(goes))
    pairs = pair_gaps(lies_, goes, swing, look.half, look.cap, (np.ones(len(lies_), bool), np.ones(len(goes), bool)))[2]
    gaps = [float(v.min()) for g in (lies, before, after) for v in g.rest.values()] + [float(v) for v in pairs]
    ways = [passing(lies, s, situation) for s in (before, after)]
    return min(*gaps, *(w[0] for w in ways)), ways[0][1], ways[1][1]


def every(pieces: Pieces) -> Callable[[dict[str, np.ndarray]], np.ndarray]:
    return lambda _: np.ones(len(pieces), bool)


CLEARED = 2.0
"""How far a part is raised over a leaf that stands proud [mm], as documented."""


def passing(lies: Gaps, goes: Gaps, situation: Situation) -> tuple[float, bool]:
    """Room from the front, else along the bar [mm]; and whether it is along the bar.

    The bar is lifted by all, half or a quarter of its way from the sheet up, or the part is drawn forward.
    """
    rise = max(situation.setup.clamp.lift - situation.chain.thickness, 0.0)
    raised, proud = max(float(lies.low.max()), 0.0), max(-situation.setup.leaf.drop, 0.0)
    little = min(proud + CLEARED, rise)
    best = -np.inf
    for place, (share, held, name) in enumerate(
        [
            (1.0, "straight", "straight 0"),
            (0.5, "straight", "straight 1"),
            (0.25, "straight", "straight 2"),
            (1.0, "drawn", "drawn"),
        ]
    ):
        less = rise * (1 - share)
        over = float(lies.high.min()) - less
        if raised > 1e-9:  # raised to the middle of its room, and nothing hooks under bed or leaf
            over = min(over, float(goes.way[f"high {place % 3}"].min()))
            highest = over
            over = min((over - raised) / 2, *(float(g.way["under"].min()) for g in (lies, goes)))
            if raised <= proud + 1e-9:  # or just over a leaf that stands proud of the bed
                hooks = min(float(g.way["under small"].min()) for g in (lies, goes))
                over = max(over, min(little - proud, highest - little, hooks))
        else:
            over = min(over, float(goes.way["level"].min()))
        best = max(best, min(over, float(lies.way[held].min()), float(goes.way[name].min())))
    if raised <= proud + 1e-9 and "drawn small" in goes.way:  # bar and part raised together over such a leaf
        hooks = min(float(g.way["under small"].min()) for g in (lies, goes))
        beside = min(float(lies.way["drawn"].min()), float(goes.way["drawn small"].min()))
        best = max(best, min(little - proud, float(lies.high.min()) - little, hooks, beside))
    if best > 0:
        return best, False
    eased = min(float(lies.way["eased"].min()), float(goes.way["eased"].min()))
    return (eased if situation.endwise else -1.0), True


def flat_beside(chain: Chain, bend: int, side: WhichSide, made: int) -> float:
    """From a bend's tangent line to the next bend that is made, or to the edge [mm]."""
    length = chain.flats[bend if side == "first" else bend + 1]
    for near in range(bend - 1, -1, -1) if side == "first" else range(bend + 1, chain.bends):
        if made >> near & 1:
            break
        length += chain.allowances[near] + chain.flats[near if side == "first" else near + 1]
    return length


def blank_beyond(chain: Chain, bend: int, held: WhichSide) -> float:
    """Share of the blank, without the bend's own zone, on the side that is swung: added up leg by leg."""
    left = math.fsum(chain.flats[: bend + 1]) + math.fsum(chain.allowances[:bend])
    right = math.fsum(chain.flats[bend + 1 :]) + math.fsum(chain.allowances[bend + 1 :])
    return (right if held == "first" else left) / (left + right)


def broken(situation: Situation, bend: int, held_flat: float, swung_flat: float) -> int:
    """How many rules of the shop a stage breaks."""
    chain, setup, shop = situation.chain, situation.setup, situation.shop
    found, t, asked_radius = situation.bends[bend], chain.thickness, chain.radii[bend]
    largest = min(setup.leaf.swing, 180 - setup.clamp.nose_angle, 179.0)
    rules = [
        found.angle > largest + 1e-6,
        found.radius < setup.clamp.nose_radius - 1e-6,
        held_flat < least_hold(shop.brake, t) - 1e-6,
        swung_flat < least_swing(shop.brake, t) - 1e-6,
        remaining_face(found.angle, found.radius, t, setup, shop.brake) < least_swing(shop.brake, t) - 1e-6,
    ]
    if found.needed is not None:
        machine = (setup.clamp.nose_radius, shop.brake.hinge, setup.leaf.drop)
        rules.append(situation.setting < geometry.least_setting(t, found.angle, *machine) - 1e-6)
        rules.append(asked_radius > formed_radius(situation, bend, found) + 1e-6)
    return sum(rules)


def formed_radius(situation: Situation, bend: int, found: FormedBend) -> float:
    """Largest inside radius that the setting gives, finished [mm]."""
    setup, t = situation.setup, situation.chain.thickness
    machine = (setup.clamp.nose_radius, situation.shop.brake.hinge, setup.leaf.drop)
    under_load = max(geometry.radius_from_setting(situation.setting, t, found.angle, *machine), setup.clamp.nose_radius)
    return (under_load + t / 2) * found.angle / situation.chain.angles[bend] - t / 2  # the mid fibre keeps its length


def terms(situation: Situation, choice: Choice, made: int, reference: frozenset[int]) -> dict[str, float] | None:
    """Cost of a stage by its terms; None where it cannot be."""
    chain, weights, bend = situation.chain, situation.weights, choice.bend
    gap, in_, out = alone(situation, bend, choice.held, made)
    first, second = (flat_beside(chain, bend, s, made) for s in ("first", "second"))
    held_flat, swung_flat = (first, second) if choice.held == "first" else (second, first)
    found, t, shop, setup = situation.bends[bend], chain.thickness, situation.shop, situation.setup
    arm = min(remaining_face(found.angle, found.radius, t, setup, shop.brake), swung_flat)
    if gap <= 0 or arm <= 0:
        return None
    held_leg, swung_leg = (bend, bend + 1) if choice.held == "first" else (bend + 1, bend)
    missed = chain.legs[swung_leg] in reference and chain.legs[held_leg] not in reference
    beyond = made >> (bend + 1) if choice.held == "second" else made & ((1 << bend) - 1)
    wide = found.needed is not None and formed_radius(situation, bend, found) > 1.25 * chain.radii[bend] + 0.1 * t
    effort = 0.0
    if situation.strength is not None and found.needed is not None:
        corner = (found.radius + t) * math.tan(math.radians(found.angle) / 2)
        length, arm = chain.creases[bend].length, max(arm, t / 2)
        load = load_of(t, length, arm, corner, found.top, situation.strength, shop.brake, setup)
        effort = load.handle / shop.brake.lever.effort
    near = max(0.0, 1 - math.floor(gap / 0.01 + 1e-6) * 0.01 / shop.safe_clearance)
    return {
        "bent_edge": weights.bent_edge * (beyond > 0),
        "reference_swung": weights.reference_swung * missed,
        "swung_blank": weights.swung_blank * blank_beyond(chain, bend, choice.held),
        "handle_force": weights.handle_force * effort,
        "small_clearance": weights.small_clearance * near,
        "endwise": weights.endwise * (in_ + out),
        "wide_radius": weights.wide_radius * wide,
        "broken_rule": weights.broken_rule * broken(situation, bend, held_flat, swung_flat),
    }


def between(question: Question, one: Choice | None, two: Choice) -> list[str]:
    """Names of what is charged between two stages."""
    if one is None:
        return ["set_up_change"] if two.setup else []
    ups = question.chain.ups
    found = ["flip"] if ups[one.bend] != ups[two.bend] else ["turn"] if one.held != two.held else []
    if one.setup != two.setup:
        return [*found, "set_up_change"]
    return [*found, "nose_change"] if one.setting != two.setting else found
