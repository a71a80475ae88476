"""The best order over all orders, sides, set-ups and settings: the shortest path over states, backward from the end.

state      bends made; face up and end toward the worker; set-up and nose setting. What a stage looks like depends on
           the set of bends made alone; what it costs also on how the part and the brake stand: all of it is in the
           state, so the result is exact. Whether the part is slid on or laid in anew follows from the same: it is slid
           on where face, end, set-up and setting stay.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.bend_order import costs as own
from flatgen.bend_order.chain import Chain, Ints
from flatgen.bend_order.costs import UNIT, Settings
from flatgen.bend_order.stages import NEVER, SIDES, Situation, Table, other, tables
from flatgen.brake.springback import Strength
from flatgen.core.schedule import Which
from flatgen.core.shop import SetUp, Shop, Weights

LAYS = 4


@dataclass(frozen=True)
class Choice:
    """One stage of an order: which bend, which side held, number of the set-up and of its setting."""

    bend: int
    held: Which
    setup: int
    setting: int


@dataclass(frozen=True)
class Best:
    """The best order and its cost in thousandths; no choices where there is none. ``togo``: least cost of
    finishing, by bends made, lay, set-up and setting.
    """

    choices: tuple[Choice, ...]
    cost: int
    togo: Ints

    @property
    def possible(self) -> bool:
        """Whether there is an order."""
        return self.cost < NEVER


def lay_of(chain: Chain, bend: int, held: Which) -> int:
    """How a part lies: bit 0 which face is up (1 far), bit 1 which end is toward the worker (1 the first)."""
    return (0 if chain.ups[bend] > 0 else 1) | (0 if held == "first" else 2)


def moves(weights: Weights) -> Ints:
    """Cost of going from one lay to another: over (either way) or end for end, in thousandths."""
    flip, turn = round(weights.flip * UNIT), round(weights.turn * UNIT)
    found = np.zeros((LAYS, LAYS), np.int64)
    for a in range(LAYS):
        for b in range(LAYS):
            found[a, b] = 0 if a == b else flip if (a ^ b) & 1 else turn
    return found


class Costs:
    """Cost of each bend with a side held, on a set-up and setting, by the set of bends made before it."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.n = chain.bends
        self.sets = np.arange(1 << self.n)
        self.of: dict[Choice, Ints] = {}

    def add(self, table: Table, setup: int, setting: int, extra: int = 0) -> None:
        """Put a table in."""
        held, swung = self.split(table.bend, table.held)
        cost = table.cost[held, swung]
        cost = np.where(cost >= NEVER, NEVER, cost + extra)
        cost[(self.sets >> table.bend) & 1 == 1] = NEVER
        self.of[Choice(table.bend, table.held, setup, setting)] = cost

    def split(self, bend: int, held: Which) -> tuple[Ints, Ints]:
        """Sets of bends made on the held and on the swung side, outward, for every set of all bends."""
        above = self.sets >> (bend + 1)
        below = np.zeros_like(self.sets)
        for k in range(bend):
            below |= ((self.sets >> (bend - 1 - k)) & 1) << k
        return (below, above) if held == "first" else (above, below)


def best_order(costs: Costs, setups: int, settings: int, weights: Weights, prefer: list[int], begin: int = 0) -> Best:
    """The cheapest way to make all bends.

    :param setups, settings: how many set-ups there are, and the most settings of one
    :param weights: what going from stage to stage costs
    :param prefer: bends in the order in which equal ones are taken
    :param begin: set-up that the brake has at the beginning
    :returns: the order, or that there is none
    """
    n, going = costs.n, moves(weights)
    change, nose = round(weights.set_up_change * UNIT), round(weights.nose_change * UNIT)
    togo = np.full((1 << n, LAYS, setups, settings), NEVER, np.int64)
    togo[-1] = 0
    count = np.array([int(s).bit_count() for s in costs.sets])
    by_bend: dict[int, list[Choice]] = {}
    for choice in costs.of:
        by_bend.setdefault(choice.bend, []).append(choice)
    for made in range(n - 1, -1, -1):
        layer = costs.sets[count == made]
        ahead = np.full((len(layer), LAYS, setups, settings), NEVER, np.int64)  # best of going on with such a lay
        for bend, choices in by_bend.items():
            open_ = np.flatnonzero((layer >> bend) & 1 == 0)
            here = layer[open_]
            for c in choices:
                lay = lay_of(costs.chain, bend, c.held)
                value = np.minimum(costs.of[c][here] + togo[here | (1 << bend), lay, c.setup, c.setting], NEVER)
                place = ahead[:, lay, c.setup, c.setting]
                place[open_] = np.minimum(place[open_], value)
        togo[layer] = _left(ahead, going, change, nose)
    start = _left_from_start(costs, togo, begin, change)
    if start is None:
        return Best((), NEVER, togo)
    return Best(_walk(costs, togo, weights, prefer, begin), start, togo)


def _left(ahead: Ints, going: Ints, change: int, nose: int) -> Ints:
    """Least cost from each lay, set-up and setting, given that of going on in each."""
    by_lay = np.min(ahead[:, None, :, :, :] + going[None, :, :, None, None], axis=2)
    found = np.minimum(by_lay, by_lay.min(axis=3, keepdims=True) + nose)
    for setup in range(by_lay.shape[2]):
        others = np.delete(by_lay, setup, axis=2)
        if others.shape[2]:
            elsewhere = others.min(axis=(2, 3))[:, :, None] + change
            np.minimum(found[:, :, setup], elsewhere, out=found[:, :, setup])
    return np.asarray(np.minimum(found, NEVER))


def _first(costs: Costs, togo: Ints, c: Choice, begin: int, change: int) -> int:
    value = int(costs.of[c][0] + togo[1 << c.bend, lay_of(costs.chain, c.bend, c.held), c.setup, c.setting])
    return value + (change if c.setup != begin else 0)


def _left_from_start(costs: Costs, togo: Ints, begin: int, change: int) -> int | None:
    best = min((_first(costs, togo, c, begin, change) for c in costs.of), default=NEVER)
    return None if best >= NEVER else best


def step_cost(chain: Chain, weights: Weights, one: Choice | None, other: Choice, begin: int = 0) -> int:
    """Cost of going from one stage to another; from the beginning where there is none before it.

    :param begin: set-up of the brake at the beginning
    """
    change, nose = round(weights.set_up_change * UNIT), round(weights.nose_change * UNIT)
    if one is None:
        return change if other.setup != begin else 0
    lay = moves(weights)[lay_of(chain, one.bend, one.held), lay_of(chain, other.bend, other.held)]
    if one.setup != other.setup:
        return int(lay) + change
    return int(lay) + (nose if one.setting != other.setting else 0)


def _walk(costs: Costs, togo: Ints, weights: Weights, prefer: list[int], begin: int) -> tuple[Choice, ...]:
    """One of the best orders: of equal choices the one that comes first in ``prefer``."""
    rank = {b: k for k, b in enumerate(prefer)}
    ordered = sorted(costs.of, key=lambda c: (rank[c.bend], c.setup, c.setting))
    made, last, found = 0, None, []
    while made != len(costs.sets) - 1:
        best, chosen = NEVER, None
        for c in ordered:
            if made >> c.bend & 1:
                continue
            lay = lay_of(costs.chain, c.bend, c.held)
            value = int(costs.of[c][made] + togo[made | 1 << c.bend, lay, c.setup, c.setting])
            value += step_cost(costs.chain, weights, last, c, begin)
            if value < best:
                best, chosen = value, c
        if chosen is None:
            raise AssertionError("the way back from the end was lost")
        found.append(chosen)
        made, last = made | 1 << chosen.bend, chosen
    return tuple(found)


TINY = 1e-9

MOST = 16
"""Bends of a chain whose orders are all looked at."""


@dataclass(frozen=True)
class Question:
    """What is asked: a chain on a shop with some of its set-ups; ``reference``: legs that matter; ``order``:
    bends in the only order to be looked at, None for all.
    """

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
    """The best order."""
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
