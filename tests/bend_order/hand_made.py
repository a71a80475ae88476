"""Sections and brakes made by hand for the trade's usual cases: 1 mm sheet, inside radius 1.5 mm, square bends.

The nose of 1.5 mm stands one thickness back (setting 1 mm): the held tangent line lies 2.5 mm behind the bed's edge,
the outer faces of a finished square bend meet on the bed's edge, and the front of the bar, 45 degrees, runs along
x + y = 1.5 sqrt 2 - 2.5 + (1 + 1.5) = 2.12 mm.
"""

from __future__ import annotations

import math

from flatgen.bend_order.chain import Chain, chain_of
from flatgen.bend_order.explain import Inspection, inspect_stage, refusal_text
from flatgen.bend_order.search import Answer, Question, answer
from flatgen.core.flat_pattern import Way
from flatgen.core.schedule import Crease, Side
from flatgen.core.shop import Brake, ClampBar, Leaf, Lever, SetUp, Shop

RADIUS, THICKNESS = 1.5, 1.0
LEVER = Lever(600.0, "both ends", 300.0)


def section(flats: list[float], ways: str, *, angle: float = 90.0, length: float = 300.0) -> Chain:
    """A chain of flats [mm] with a bend of one angle between each and the next; ``ways``: ``u`` up, ``d`` down."""
    allowance = math.radians(angle) * (RADIUS + 0.42 * THICKNESS)
    whole, x, found = sum(flats) + len(ways) * allowance, 0.0, []
    for n, way in enumerate(ways):
        low = x + flats[n]
        x = low + allowance
        first, second = Side(n, low, flats[n], low), Side(n + 1, x, flats[n + 1], whole - x)
        turn: Way = "up" if way == "u" else "down"
        found.append(Crease("ABCDEFGH"[n], angle, turn, RADIUS, allowance, length, length, first, second))
    return chain_of(found, THICKNESS)


def set_up(
    name: str = "usual", *, face: float = 30.0, height: float = 40.0, depth: float = 60.0, lift: float = 25.0
) -> SetUp:
    """A bar with a nose of 1.5 mm, 45 degrees, and a leaf whose face lies level with the bed."""
    return SetUp(name, ClampBar(1.5, 45.0, height, depth, lift, 30.0), Leaf(face, 0.0, 60.0, 135.0, 8.0, 25.0))


def shop_of(
    *setups: SetUp, ends: bool = True, length: float = 1000.0, throat: float | None = None, bed: float = 120.0
) -> Shop:
    """A brake with its hinge on the bed's edge; ``ends``: whether both are open."""
    brake = Brake("hand-made", length, throat, bed, 100.0, (0.0, 0.0), (ends, ends), LEVER)
    return Shop("shop.toml", "Hand-made brake", brake, setups or (set_up(),))


def planned(chain: Chain, shop: Shop, *setups: SetUp) -> Answer:
    """The best order with some of the shop's set-ups, its first where none is named."""
    return answer(Question(chain, shop, setups or shop.setups[:1], None))


def order_of(found: Answer) -> str:
    """Labels in their order."""
    return "".join(found.question.chain.creases[c.bend].label for c in found.best.choices)


def looks(found: Answer) -> list[Inspection]:
    """The stages of the best order, looked at."""
    made, seen = 0, []
    for choice in found.best.choices:
        seen.append(inspect_stage(found.situations[choice.setup, choice.setting], choice.bend, choice.held, made))
        made |= 1 << choice.bend
    return seen


def refusals(found: Answer, bend: str, made: str) -> str:
    """Why a bend cannot be made once others are: both sides held, all set-ups; empty where one can."""
    chain = found.question.chain
    names = [c.label for c in chain.creases]
    bits = sum(1 << names.index(label) for label in made)
    said = []
    for choice in found.costs.of:
        if names[choice.bend] == bend:
            look = inspect_stage(found.situations[choice.setup, choice.setting], choice.bend, choice.held, bits)
            if not look.refused:
                return ""
            said.append(refusal_text(look, lambda leg: f"leg {leg + 1}"))
    return "; ".join(said)
