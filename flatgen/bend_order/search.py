"""The best order over all orders, sides, set-ups and settings: the shortest path over states, backward from the end.

A state is the set of bends made, the part's orientation, set-up and nose setting. What a stage costs depends on these
alone, so the result is exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.bend_order.chain import Chain, Ints
from flatgen.bend_order.costs import UNIT, Settings, form_bend, nose_settings
from flatgen.bend_order.stages import NEVER, SIDES, Situation, StageTable, stage_tables
from flatgen.brake.creases import inward_rank, other_side
from flatgen.brake.springback import Strength
from flatgen.core.schedule import WhichSide
from flatgen.core.shop import SetUp, Shop, Weights

ORIENTATIONS = 4


@dataclass(frozen=True)
class Choice:
    """One stage of an order; numbers of set-up and setting."""

    bend: int
    held: WhichSide
    setup: int
    setting: int


@dataclass(frozen=True)
class BestOrder:
    """The best order and its cost in thousandths; no choices where there is none. ``togo``: least cost of finishing, by
    bends made, orientation, set-up and setting.
    """

    choices: tuple[Choice, ...]
    cost: int
    togo: Ints

    @property
    def possible(self) -> bool:
        """Whether there is one."""
        return self.cost < NEVER


def orientation_of(chain: Chain, bend: int, held: WhichSide) -> int:
    """How a part lies: bit 0 which face is up (1 far), bit 1 which end is toward the worker (1 the first)."""
    return (0 if chain.ups[bend] > 0 else 1) | (0 if held == "first" else 2)


def move_costs(weights: Weights) -> Ints:
    """Cost of going from one orientation to another: over (either way) or end for end, in thousandths."""
    flip, turn = round(weights.flip * UNIT), round(weights.turn * UNIT)
    costs = np.zeros((ORIENTATIONS, ORIENTATIONS), np.int64)
    for a in range(ORIENTATIONS):
        for b in range(ORIENTATIONS):
            costs[a, b] = 0 if a == b else flip if (a ^ b) & 1 else turn
    return costs


class StageCosts:
    """Cost of each bend with a side held, on a set-up and setting, by the set of bends made before it."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.n = chain.bends
        self.sets = np.arange(1 << self.n)
        self.of: dict[Choice, Ints] = {}

    def add(self, table: StageTable, setup: int, setting: int, extra: int = 0) -> None:
        """Put a table in, at an extra cost."""
        held, swung = self.split(table.bend, table.held)
        cost = table.cost[held, swung]
        cost = np.where(cost >= NEVER, NEVER, cost + extra)
        cost[(self.sets >> table.bend) & 1 == 1] = NEVER
        self.of[Choice(table.bend, table.held, setup, setting)] = cost

    def split(self, bend: int, held: WhichSide) -> tuple[Ints, Ints]:
        """Sets of bends made on the held and on the swung side, outward, for every set of all bends."""
        above = self.sets >> (bend + 1)
        below = np.zeros_like(self.sets)
        for k in range(bend):
            below |= ((self.sets >> (bend - 1 - k)) & 1) << k
        return (below, above) if held == "first" else (above, below)


def best_order(
    costs: StageCosts, setups: int, settings: int, weights: Weights, prefer: list[int], begin: int = 0
) -> BestOrder:
    """The cheapest way to make all bends.

    :param setups, settings: how many set-ups there are, and the most settings of one
    :param prefer: bends in the order in which equal ones are taken
    :param begin: set-up that the brake has at the beginning
    """
    n, going = costs.n, move_costs(weights)
    change, nose = round(weights.set_up_change * UNIT), round(weights.nose_change * UNIT)
    togo = np.full((1 << n, ORIENTATIONS, setups, settings), NEVER, np.int64)
    togo[-1] = 0
    count = np.array([int(s).bit_count() for s in costs.sets])
    by_bend: dict[int, list[Choice]] = {}
    for choice in costs.of:
        by_bend.setdefault(choice.bend, []).append(choice)
    for made in range(n - 1, -1, -1):
        layer = costs.sets[count == made]
        ahead = np.full((len(layer), ORIENTATIONS, setups, settings), NEVER, np.int64)  # best of going on so
        for bend, choices in by_bend.items():
            open_ = np.flatnonzero((layer >> bend) & 1 == 0)
            here = layer[open_]
            for c in choices:
                orientation = orientation_of(costs.chain, bend, c.held)
                value = np.minimum(costs.of[c][here] + togo[here | (1 << bend), orientation, c.setup, c.setting], NEVER)
                place = ahead[:, orientation, c.setup, c.setting]
                place[open_] = np.minimum(place[open_], value)
        togo[layer] = _cost_to_go(ahead, going, change, nose)
    start = min((_cost_from_start(costs, togo, c, begin, change) for c in costs.of), default=NEVER)
    if start >= NEVER:
        return BestOrder((), NEVER, togo)
    return BestOrder(_walk(costs, togo, weights, prefer, begin), start, togo)


def _cost_to_go(ahead: Ints, going: Ints, change: int, nose: int) -> Ints:
    """Least cost from each orientation, set-up and setting, given that of going on in each."""
    moved = np.min(ahead[:, None, :, :, :] + going[None, :, :, None, None], axis=2)
    least = np.minimum(moved, moved.min(axis=3, keepdims=True) + nose)
    for setup in range(moved.shape[2]):
        others = np.delete(moved, setup, axis=2)
        if others.shape[2]:
            elsewhere = others.min(axis=(2, 3))[:, :, None] + change
            np.minimum(least[:, :, setup], elsewhere, out=least[:, :, setup])
    return np.asarray(np.minimum(least, NEVER))


def _cost_from_start(costs: StageCosts, togo: Ints, c: Choice, begin: int, change: int) -> int:
    value = int(costs.of[c][0] + togo[1 << c.bend, orientation_of(costs.chain, c.bend, c.held), c.setup, c.setting])
    return value + (change if c.setup != begin else 0)


def step_cost(chain: Chain, weights: Weights, last: Choice | None, choice: Choice, begin: int = 0) -> int:
    """Cost of going from the last stage to another, or from the brake's first set-up where there is none before it."""
    change, nose = round(weights.set_up_change * UNIT), round(weights.nose_change * UNIT)
    if last is None:
        return change if choice.setup != begin else 0
    then, now = (orientation_of(chain, c.bend, c.held) for c in (last, choice))
    move = int(move_costs(weights)[then, now])
    if last.setup != choice.setup:
        return move + change
    return move + (nose if last.setting != choice.setting else 0)


def _walk(costs: StageCosts, togo: Ints, weights: Weights, prefer: list[int], begin: int) -> tuple[Choice, ...]:
    """One of the best orders: of equal choices the one that comes first in ``prefer``."""
    rank = {b: k for k, b in enumerate(prefer)}
    ordered = sorted(costs.of, key=lambda c: (rank[c.bend], c.setup, c.setting))
    made, last, choices = 0, None, []
    while made != len(costs.sets) - 1:
        best, chosen = NEVER, None
        for c in ordered:
            if made >> c.bend & 1:
                continue
            orientation = orientation_of(costs.chain, c.bend, c.held)
            value = int(costs.of[c][made] + togo[made | 1 << c.bend, orientation, c.setup, c.setting])
            value += step_cost(costs.chain, weights, last, c, begin)
            if value < best:
                best, chosen = value, c
        if chosen is None:
            raise AssertionError("the way back from the end was lost")
        choices.append(chosen)
        made, last = made | 1 << chosen.bend, chosen
    return tuple(choices)


TINY = 1e-9
MOST_BENDS = 16
"""Bends of a chain whose orders are all looked at."""


@dataclass(frozen=True)
class Question:
    """A chain to be bent on some set-ups of a shop; ``reference``: legs whose dimension matters; ``order``: bends in
    the only order to be looked at, None for all.
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
    best: BestOrder
    costs: StageCosts
    situations: Mapping[tuple[int, int], Situation]
    settings: tuple[Settings, ...]


def answer(question: Question) -> Answer:
    """Search the best order."""
    chain, shop, weights = question.chain, question.shop, question.shop.weights
    costs, situations, settings = StageCosts(chain), {}, []
    for number, setup in enumerate(question.setups):
        bends = [form_bend(c, chain.thickness, setup, shop, question.strength) for c in chain.creases]
        use = nose_settings(bends, chain.creases, chain.thickness, shop, setup)
        settings.append(use)
        for place, value in enumerate(use.values):
            situation = Situation(chain, shop, setup, value, tuple(bends), question.strength, weights)
            situations[number, place] = situation
            wanted = [(b, h) for b in range(chain.bends) if place in use.use[b] for h in sides_of(chain, b)]
            for (bend, held), table in stage_tables(situation, wanted).items():
                costs.add(table, number, place, side_cost(question, bend, held))
    if question.order is not None:
        _keep_only(costs, question.order)
    prefer = sorted(range(chain.bends), key=lambda b: (inward_rank(chain.creases[b]), b))
    most = max(len(s.values) for s in settings)
    best = best_order(costs, len(question.setups), most, weights, prefer)
    return Answer(question, best, costs, situations, tuple(settings))


def sides_of(chain: Chain, bend: int) -> Sequence[WhichSide]:
    """Sides that may be held, that with more of the blank first: both, or the one that the user wants."""
    crease = chain.creases[bend]
    forced = [s for s in SIDES if crease.hold is not None and crease.side(s).leg == crease.hold]
    return forced or sorted(SIDES, key=lambda s: (-round(crease.side(s).reach, 3), s))


def side_cost(question: Question, bend: int, held: WhichSide) -> int:
    """Cost of the held side in thousandths: a leg whose dimension matters is swung, much of the blank is."""
    weights, crease = question.shop.weights, question.chain.creases[bend]
    share = crease.side(other_side(held)).reach / max(crease.first.reach + crease.second.reach, TINY)
    missed = crease.side(other_side(held)).leg in question.reference and crease.side(held).leg not in question.reference
    return round((weights.reference_swung * missed + weights.swung_blank * share) * UNIT)


def _keep_only(costs: StageCosts, order: Sequence[int]) -> None:
    """Leave nothing but one order."""
    made = 0
    for bend in order:
        for choice, cost in costs.of.items():
            if choice.bend == bend:
                kept = cost[made]
                cost[:] = NEVER
                cost[made] = kept
        made |= 1 << bend
