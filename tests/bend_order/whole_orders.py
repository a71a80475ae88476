"""Whole orders of bending one by one: what lies between two stages, what an order costs, the least of all.

Nothing here is the package's own search: sums and permutations alone.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from flatgen.bend_order.chain import Chain
from flatgen.bend_order.search import Answer, Choice, StageCosts, answer
from flatgen.bend_order.stages import NEVER
from flatgen.core.shop import Weights
from tests.bend_order.sections import trial

UNIT = 1000
ENTRIES = 300_000
"""Whole orders of one permutation that brute force holds at once."""


def tiers(usual: int, all_: int) -> list[object]:
    """Seeds: some in the normal run, all of them in the thorough one."""
    return [s if s < usual else pytest.param(s, marks=pytest.mark.thorough) for s in range(all_)]


@cache
def asked(seed: int) -> Answer:
    """Two to six bends; one set-up where two would make more orders than can be held."""
    bends = 2 + seed % 5
    found = answer(trial(bends, seed))
    if math.prod(len(c) for c in by_bend(found.costs)) > ENTRIES:
        found = answer(replace(found.question, setups=found.question.setups[:1]))
    return found


def by_bend(costs: StageCosts) -> list[list[Choice]]:
    """Stages that each bend may be made by."""
    return [[c for c in costs.of if c.bend == b] for b in range(costs.n)]


def going(chain: Chain, weights: Weights, one: Choice | None, two: Choice) -> int:
    """What lies between two stages, in thousandths: the brake changed, the part turned over or end for end."""
    if one is None:
        return round(weights.set_up_change * UNIT) if two.setup != 0 else 0
    cost = 0
    if chain.ups[one.bend] != chain.ups[two.bend]:
        cost += round(weights.flip * UNIT)
    elif one.held != two.held:
        cost += round(weights.turn * UNIT)
    if one.setup != two.setup:
        return cost + round(weights.set_up_change * UNIT)
    return cost + (round(weights.nose_change * UNIT) if one.setting != two.setting else 0)


def whole(costs: StageCosts, weights: Weights, order: tuple[Choice, ...]) -> int:
    """Cost of a whole order, stage after stage; at least NEVER where a stage cannot be."""
    made, last, cost = 0, None, 0
    for choice in order:
        cost += int(costs.of[choice][made]) + going(costs.chain, weights, last, choice)
        made, last = made | 1 << choice.bend, choice
    return cost


def all_orders(costs: StageCosts, weights: Weights) -> Iterator[tuple[list[list[Choice]], np.ndarray]]:
    """For each order of the bends the costs of all ways to take it: an axis for each place in the order.

    Stages that cannot be are left out of their axis: an order with one of them is none.
    """
    ways = by_bend(costs)
    step = {(a, b): going(costs.chain, weights, a, b) for a in costs.of for b in costs.of}
    for order in itertools.permutations(range(costs.n)):
        made, axes = 0, []
        for bend in order:
            axes.append([c for c in ways[bend] if costs.of[c][made] < NEVER])
            made |= 1 << bend
        if not all(axes):
            continue
        total = np.zeros([len(a) for a in axes], np.int64)
        made = 0
        for k, axis in enumerate(axes):
            own = [int(costs.of[c][made]) + (going(costs.chain, weights, None, c) if k == 0 else 0) for c in axis]
            total += np.array(own).reshape([-1 if j == k else 1 for j in range(len(axes))])
            if k:
                between = np.array([[step[a, b] for b in axis] for a in axes[k - 1]])
                total += between.reshape([len(axes[j]) if j in (k - 1, k) else 1 for j in range(len(axes))])
            made |= 1 << order[k]
        yield axes, total


def brute(costs: StageCosts, weights: Weights) -> int:
    """Least cost of all orders, NEVER where there is none."""
    return min((int(total.min()) for _, total in all_orders(costs, weights)), default=NEVER)
