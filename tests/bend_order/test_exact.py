"""The best order is the best: against all orders one by one, a search of another make, and a circuit model.

brute force   every order of the bends, each bend with every side, set-up and setting: all whole costs, the least taken
one stage     a stage looked at alone, see :mod:`tests.order.alone`
backward      Dijkstra's way from the finished part over (bends made, last stage), another state than the search has
circuit       CP-SAT: which stage follows which is a circuit, what is made before each is a variable

Expected numbers come from these four; none is written down.
"""

from __future__ import annotations

import heapq
import itertools
import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from flatgen.bend_order.chain import Chain, chain_of
from flatgen.bend_order.search import MOST_BENDS, Choice, Question, StageCosts, answer, sides_of
from flatgen.bend_order.stages import NEVER
from flatgen.core.shop import Weights
from tests.bend_order.alone import between, terms
from tests.bend_order.sections import creases_of, timed, trial
from tests.bend_order.whole_orders import UNIT, all_orders, asked, brute, by_bend, going, tiers, whole

ROUNDED = 5
"""Terms are rounded one by one to thousandths: nine of them are off by less than this together."""
SEEDS = tiers(25, 200)


@pytest.mark.parametrize("seed", SEEDS)
def test_stages_alone_cost_what_the_tables_say(seed: int) -> None:
    """Eight stages of each trial, by their own pieces and by a sum of terms made here."""
    found, rng = asked(seed), random.Random(seed)
    chain = found.question.chain
    for _ in range(8):
        choice = rng.choice(list(found.costs.of))
        made = rng.getrandbits(chain.bends) & ~(1 << choice.bend)
        situation = found.situations[choice.setup, choice.setting]
        own = terms(situation, choice, made, found.question.reference)
        cost = int(found.costs.of[choice][made])
        assert (own is None) == (cost >= NEVER), (choice, made)
        if own is not None:
            assert abs(sum(own.values()) * UNIT - cost) < ROUNDED, (choice, made, own, cost)


@pytest.mark.parametrize("seed", SEEDS)
def test_all_orders_and_sides(seed: int) -> None:
    found = asked(seed)
    question, best = found.question, found.best
    weights = question.shop.weights
    places = {(n, p, b) for n, s in enumerate(found.settings) for b, use in enumerate(s.use) for p in use}
    offered = {Choice(b, h, n, p) for n, p, b in places for h in sides_of(question.chain, b)}
    assert set(found.costs.of) == offered
    assert best.cost == brute(found.costs, weights)
    assert best.possible == bool(best.choices)
    if best.possible:
        assert sorted(c.bend for c in best.choices) == list(range(question.chain.bends))
        assert whole(found.costs, weights, best.choices) == best.cost


@pytest.mark.parametrize("seed", tiers(10, 60))
def test_a_given_order(seed: int) -> None:
    """Nothing but the sides, set-ups and settings is free."""
    free = asked(seed)
    weights, chain = free.question.shop.weights, free.question.chain
    order = tuple(random.Random(seed).sample(range(chain.bends), chain.bends))
    if free.best.possible and seed % 2:
        order = tuple(c.bend for c in free.best.choices)
    least = NEVER
    for axes, total in all_orders(free.costs, weights):
        if tuple(a[0].bend for a in axes) == order:
            least = int(total.min())
    assert answer(replace(free.question, order=order)).best.cost == least


def test_brute_force_adds_up() -> None:
    """Its arrays against one order at a time, in plain numbers."""
    found = next(a for a in map(asked, range(50)) if a.best.possible and a.question.chain.bends == 5)
    weights, rng = found.question.shop.weights, random.Random(1)
    seen = 0
    for axes, total in all_orders(found.costs, weights):
        place = tuple(rng.randrange(n) for n in total.shape)
        assert total[place] == whole(found.costs, weights, tuple(a[p] for a, p in zip(axes, place, strict=True)))
        seen += 1
    assert seen > 0


def test_every_term_of_the_cost_is_in_play() -> None:
    """In the best orders of 50 trials; and their terms add up to the cost that was found."""
    seen: Counter[str] = Counter()
    possible = 0
    for found in map(asked, range(50)):
        question, made, last, total = found.question, 0, None, 0.0
        possible += found.best.possible
        for choice in found.best.choices:
            situation = found.situations[choice.setup, choice.setting]
            own = terms(situation, choice, made, question.reference)
            assert own is not None
            total += sum(own.values()) + going(question.chain, question.shop.weights, last, choice) / UNIT
            seen.update(n for n, v in own.items() if v > 0)
            seen.update(between(question, last, choice))
            made, last = made | 1 << choice.bend, choice
        if found.best.possible:
            assert abs(total * UNIT - found.best.cost) < ROUNDED * question.chain.bends
    assert set(Weights.__dataclass_fields__) <= set(seen), seen
    assert 16 <= possible <= 40  # 50 trials: neither all nor none can be made


# --- backward from the finished part


def backward(costs: StageCosts, weights: Weights) -> tuple[int, set[frozenset[int]]]:
    """Least cost of all orders, and from which bends made the part can be finished."""
    every_bend = frozenset(range(costs.n))
    ways = by_bend(costs)
    bits = {b: 1 << b for b in every_bend}
    heap: list[tuple[int, int, frozenset[int], Choice | None]] = []
    number = itertools.count()
    for choice in costs.of:
        heapq.heappush(heap, (0, next(number), every_bend, choice))
    settled: dict[tuple[frozenset[int], Choice | None], int] = {}
    while heap:
        far, _, made, last = heapq.heappop(heap)
        if (made, last) in settled:
            continue
        settled[made, last] = far
        if last is None:
            continue
        earlier = made - {last.bend}
        stage = int(costs.of[last][sum(bits[b] for b in earlier)])
        if stage >= NEVER:
            continue
        before = [c for b in earlier for c in ways[b]] if earlier else [None]
        for one in before:
            if (earlier, one) not in settled:
                cost = far + stage + going(costs.chain, weights, one, last)
                heapq.heappush(heap, (cost, next(number), earlier, one))
    return settled.get((frozenset(), None), NEVER), {made for made, _ in settled}


@pytest.mark.parametrize("seed", tiers(4, 40))
def test_a_backward_search(seed: int) -> None:
    """Seven to ten bends, even seeds mostly to be made, odd seeds mostly not."""
    bends = 7 + seed % 4
    question = timed(bends, 1 + seed % 3 % 2, seed) if seed % 3 else trial(bends, seed)
    found = answer(question)
    cost, able = backward(found.costs, question.shop.weights)
    assert found.best.cost == cost
    told = {
        frozenset(b for b in range(bends) if made >> b & 1)
        for made in np.flatnonzero(found.best.togo.reshape(1 << bends, -1).min(axis=1) < NEVER)
    }
    assert told == able


# --- a circuit


def circuit(costs: StageCosts, weights: Weights) -> int:
    """Least cost of a circuit through one stage of every bend, in thousandths; NEVER where there is none."""
    from ortools.sat.python import cp_model

    model, n, ways = cp_model.CpModel(), costs.n, by_bend(costs)
    stages = [c for w in ways for c in w]
    taken = {c: model.new_bool_var("") for c in stages}
    rank = [model.new_int_var(0, n - 1, "") for _ in range(n)]
    model.add_all_different(rank)
    arcs, total = [(k + 1, k + 1, ~taken[c]) for k, c in enumerate(stages)], []
    for k, c in enumerate(stages):
        begins, ends = model.new_bool_var(""), model.new_bool_var("")
        arcs += [(0, k + 1, begins), (k + 1, 0, ends)]
        total.append(begins * going(costs.chain, weights, None, c))
        model.add(rank[c.bend] == 0).only_enforce_if(begins)
        for j, d in enumerate(stages):
            if c.bend != d.bend:
                follows = model.new_bool_var("")
                arcs.append((k + 1, j + 1, follows))
                total.append(follows * going(costs.chain, weights, c, d))
                model.add(rank[d.bend] == rank[c.bend] + 1).only_enforce_if(follows)
    model.add_circuit(arcs)
    for b in range(n):
        model.add_exactly_one(taken[c] for c in ways[b])
        others = [j for j in range(n) if j != b]
        earlier = {j: model.new_bool_var("") for j in others}
        for j in others:
            model.add(rank[j] < rank[b]).only_enforce_if(earlier[j])
            model.add(rank[j] > rank[b]).only_enforce_if(~earlier[j])
        rows = [
            [*(int(c == w) for w in ways[b]), *(made >> j & 1 for j in others), int(costs.of[c][made])]
            for c in ways[b]
            for made in range(1 << n)
            if costs.of[c][made] < NEVER
        ]
        if not rows:
            return NEVER
        cost = model.new_int_var(0, max(r[-1] for r in rows), "")
        model.add_allowed_assignments([*(taken[w] for w in ways[b]), *earlier.values(), cost], rows)
        total.append(cost)
    model.minimize(sum(total))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers, solver.parameters.random_seed = 1, 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else NEVER


@pytest.mark.parametrize("setups", [1, 2])
@pytest.mark.parametrize("seed", tiers(3, 20))
def test_a_circuit_model(seed: int, setups: int) -> None:
    pytest.importorskip("ortools")
    question = trial(3 + seed % 3, 1000 + seed, setups)
    found = answer(question)
    assert found.best.cost == circuit(found.costs, question.shop.weights)


# --- ties, and how many bends


def hat() -> Chain:
    """A hat that looks the same from both ends: every order has a mirrored one of the same cost."""
    return chain_of(creases_of([25, 40, 50, 40, 25], [-90, 90, 90, -90], [1.5] * 4, 1.0), 1.0)


def test_ties_are_broken_the_same_way_each_time() -> None:
    """Creases given in another order, and asked again, make no other plan."""
    question = replace(trial(4, 7, 2), chain=hat(), reference=frozenset(), strength=None)
    shop = replace(timed(4, 2, 0).shop, path="again")
    question = replace(question, shop=shop, setups=shop.setups)
    first = answer(question).best
    assert first.possible
    for seed in range(4):
        creases = list(question.chain.creases)
        random.Random(seed).shuffle(creases)
        assert answer(replace(question, chain=chain_of(creases, 1.0))).best.choices == first.choices


def test_of_equal_orders_the_first_preferred() -> None:
    """Nearest the edge first, then the first set-up and setting, then the side with more of the blank held: the
    documented preference, against the list of all the cheapest orders."""
    shop = timed(4, 1, 0).shop
    question = Question(hat(), shop, shop.setups, None)
    found = answer(question)
    reach = [min(c.first.reach, c.second.reach) for c in question.chain.creases]
    rank = {b: k for k, b in enumerate(sorted(range(4), key=lambda b: (round(reach[b], 3), b)))}
    sides = [list(sides_of(question.chain, b)) for b in range(4)]
    equal = [
        tuple(a[p] for a, p in zip(axes, place, strict=True))
        for axes, total in all_orders(found.costs, shop.weights)
        for place in map(tuple, np.argwhere(total == found.best.cost))
    ]
    assert len(equal) > 1
    keys = {tuple((rank[c.bend], c.setup, c.setting, sides[c.bend].index(c.held)) for c in o): o for o in equal}
    assert found.best.choices == keys[min(keys)]


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(2))
def test_as_many_bends_as_are_promised(seed: int) -> None:
    """An order that adds up for an even seed, the proof that there is none for an odd one."""
    question = timed(MOST_BENDS, 1, seed)
    best = answer(question)
    assert best.best.possible == (seed % 2 == 0)
    if best.best.possible:
        assert whole(best.costs, question.shop.weights, best.best.choices) == best.best.cost
