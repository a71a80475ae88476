"""The best order over all orders, sides, set-ups and settings: the shortest path over states, backward from the end.

state      bends made; face up and end toward the worker; set-up and nose setting. What a stage looks like depends on
           the set of bends made alone; what it costs also on how the part and the brake stand: all of it is in the
           state, so the result is exact. Whether the part is slid on or laid in anew follows from the same: it is slid
           on where face, end, set-up and setting stay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatgen.bend_order.chain import Chain
from flatgen.bend_order.costs import UNIT
from flatgen.bend_order.pieces import Ints
from flatgen.bend_order.stages import NEVER, Table
from flatgen.core.schedule import Which
from flatgen.core.shop import Weights

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
    finishing, by bends made, lay, set-up and setting."""

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

    Parameters
    ----------
    costs : Costs
        What each stage costs, [-]
    setups, settings : int
        How many set-ups there are, and the most settings of one, [-]
    weights : Weights
        What going from stage to stage costs, [-]
    prefer : list[int]
        Bends in the order in which equal ones are taken, [-]
    begin : int
        Set-up that the brake has at the beginning, [-]

    Returns
    -------
    Best
        The order, or that there is none
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

    Parameters
    ----------
    chain : Chain
        The section, [-]
    weights : Weights
        What counts, [-]
    one : Choice | None
        The stage before, [-]
    other : Choice
        The stage, [-]
    begin : int
        Set-up of the brake at the beginning, [-]

    Returns
    -------
    int
        In thousandths, [-]
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
