"""From a chain and a shop to the best order of bending, or to the proof that there is none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flatgen.bend_order import costs as own
from flatgen.bend_order.chain import Chain
from flatgen.bend_order.costs import UNIT, Settings
from flatgen.bend_order.search import Best, Costs, best_order
from flatgen.bend_order.stages import NEVER, SIDES, Situation, other, tables
from flatgen.brake.springback import Strength
from flatgen.core.schedule import Which
from flatgen.core.shop import SetUp, Shop

TINY = 1e-9
MOST = 16
"""Bends of a chain whose orders are all looked at."""


@dataclass(frozen=True)
class Question:
    """What is asked: a chain on a shop with some of its set-ups; ``reference``: legs that matter; ``order``:
    bends in the only order to be looked at, None for all."""

    chain: Chain
    shop: Shop
    setups: tuple[SetUp, ...]
    strength: Strength | None
    reference: frozenset[int] = frozenset()
    order: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Answer:
    """The best order with all that it was chosen from; ``situations[setup, setting]``."""

    question: Question
    best: Best
    costs: Costs
    situations: Mapping[tuple[int, int], Situation]
    settings: tuple[Settings, ...]


def answer(question: Question) -> Answer:
    """The best order.

    Parameters
    ----------
    question : Question
        What is asked, [mm]

    Returns
    -------
    Answer
        With the order or without
    """
    chain, shop, weights = question.chain, question.shop, question.shop.weights
    found, situations, settings = Costs(chain), {}, []
    for number, setup in enumerate(question.setups):
        bends = [own.formed(c, chain.thickness, setup, shop, question.strength) for c in chain.creases]
        use = own.settings_of(bends, chain.creases, chain.thickness, shop, setup)
        settings.append(use)
        for place, value in enumerate(use.values):
            situation = Situation(chain, shop, setup, value, tuple(bends), question.strength, weights)
            situations[number, place] = situation
            wanted = [(b, h) for b in range(chain.bends) if place in use.use[b] for h in sides_of(chain, b)]
            for (bend, held), table in tables(situation, wanted).items():
                found.add(table, number, place, side_cost(question, bend, held))
    if question.order is not None:
        _only(found, question.order)
    prefer = sorted(range(chain.bends), key=lambda b: (_reach(chain, b), b))
    most = max(len(s.values) for s in settings)
    best = best_order(found, len(question.setups), most, weights, prefer)
    return Answer(question, best, found, situations, tuple(settings))


def sides_of(chain: Chain, bend: int) -> Sequence[Which]:
    """Sides that may be held, that with more of the blank first: both, or the one that the user wants."""
    crease = chain.creases[bend]
    forced = [s for s in SIDES if crease.hold is not None and crease.side(s).leg == crease.hold]
    return forced or sorted(SIDES, key=lambda s: (-round(crease.side(s).reach, 3), s))


def side_cost(question: Question, bend: int, held: Which) -> int:
    """Cost of the side that is held, whatever is bent: a leg whose dimension matters is swung, much of the blank is.

    In thousandths.
    """
    weights, crease = question.shop.weights, question.chain.creases[bend]
    share = crease.side(other(held)).reach / max(crease.first.reach + crease.second.reach, TINY)
    missed = crease.side(other(held)).leg in question.reference and crease.side(held).leg not in question.reference
    return round((weights.reference_swung * missed + weights.swung_blank * share) * UNIT)


def _only(found: Costs, order: Sequence[int]) -> None:
    """Leave nothing but one order."""
    made = 0
    for bend in order:
        for choice, cost in found.of.items():
            if choice.bend == bend:
                kept = cost[made]
                cost[:] = NEVER
                cost[made] = kept
        made |= 1 << bend


def _reach(chain: Chain, bend: int) -> float:
    crease = chain.creases[bend]
    return round(min(crease.first.reach, crease.second.reach) + 0.000_137, 3)
