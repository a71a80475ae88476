"""All stages that a part could pass through on one set-up and setting: which are possible, and what each costs.

For each bend and held side a table over (bends made on the held side) x (bends made on the swung side): least
clearance, ways in and out, cost. Held against brake, swung against brake and held against swung are measured apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatgen.bend_order import costs
from flatgen.bend_order.bodies import Bodies, Swing, brake_bodies
from flatgen.bend_order.chain import Chain, Floats, Ints, Pieces, Tree, concatenate, pieces_of_side
from flatgen.bend_order.checks import Gaps, Gauge, held_gaps, lift_key, swung_gaps
from flatgen.bend_order.costs import FormedBend
from flatgen.bend_order.gaps import Bools
from flatgen.bend_order.together import pair_gaps, spread
from flatgen.brake.creases import other_side
from flatgen.brake.springback import Strength
from flatgen.core.schedule import WhichSide
from flatgen.core.shop import SetUp, Shop, Weights

SIDES: tuple[WhichSide, WhichSide] = ("first", "second")
NEVER = np.iinfo(np.int64).max // 8
LEAST_CAP = 0.1


@dataclass(frozen=True)
class Situation:
    """What a stage depends on, but for the bends made; ``setting`` [mm]."""

    chain: Chain
    shop: Shop
    setup: SetUp
    setting: float
    bends: tuple[FormedBend, ...]
    strength: Strength | None
    weights: Weights

    @property
    def endwise(self) -> bool:
        """Whether a part can slide out along the bar: past an open end, or off fingers that leave as much room."""
        brake = self.shop.brake
        longest = max(c.extent for c in self.chain.creases)
        return any(brake.open_ends) or (bool(self.setup.fingers) and brake.length >= 2 * longest)

    def swing(self, bend: int, held: WhichSide) -> Swing:
        """How the swung side of a bend moves."""
        chain, formed = self.chain, self.bends[bend]
        crease, t, brake = chain.creases[bend], chain.thickness, self.shop.brake
        turn = math.radians(crease.angle)
        beside = chain.leg_beyond(bend, other_side(held), 0)
        return Swing(
            hinge=brake.hinge,
            drop=self.setup.leaf.drop,
            thickness=t,
            tangent=-(self.setting + self.setup.clamp.nose_radius + self.setup.offset),
            allowance=crease.allowance,
            neutral=crease.allowance / turn - crease.inside_radius,
            flat=chain.flats[beside],
            least=self.setup.clamp.nose_radius,
            top=math.radians(formed.top),
            angle=min(turn, math.radians(formed.top)),
            radius=crease.inside_radius,
            whole=turn,
        )


@dataclass(frozen=True)
class StageTable:
    """One bend with one side held: arrays (sets held, sets swung). ``gap`` [mm]: least clearance where under the cap;
    ``cost`` in thousandths, ``NEVER`` where it is not possible.
    """

    bend: int
    held: WhichSide
    gap: Floats
    cost: Ints
    in_endwise: Bools
    out_endwise: Bools


def stage_tables(situation: Situation, wanted: list[tuple[int, WhichSide]]) -> dict[tuple[int, WhichSide], StageTable]:
    """Tables of bends, each with a side held."""
    if not wanted:
        return {}
    chain = situation.chain
    gauge = Gauge(chain.thickness / 2, max(situation.shop.safe_clearance, LEAST_CAP))
    swings = [situation.swing(b, h) for b, h in wanted]
    body = brake_bodies(situation.shop.brake, situation.setup, situation.setting, chain.thickness)
    lift = situation.setup.clamp.lift
    held = _Side.of(chain, wanted, swung=False)
    swung = _Side.of(chain, wanted, swung=True)
    lies = held_gaps(gauge, held.pieces, body, swings, lift, held.alive)
    before, after = swung_gaps(gauge, swung.pieces, body, swings, lift, swung.alive)
    tables = {}
    for n, (bend, which) in enumerate(wanted):
        least = _least_values(held, n, lies), _least_values(swung, n, before), _least_values(swung, n, after)
        tables[bend, which] = _table(situation, bend, which, n, least, (held, swung), swings[n], gauge, body)
    return tables


@dataclass(frozen=True)
class _Side:
    """Pieces of one side of each wanted bend, with their trees and where each begins."""

    pieces: Pieces
    trees: list[Tree]
    starts: list[int]

    @classmethod
    def of(cls, chain: Chain, wanted: list[tuple[int, WhichSide]], *, swung: bool) -> _Side:
        parts, trees, starts, count = [], [], [], 0
        for n, (bend, held) in enumerate(wanted):
            pieces, tree = pieces_of_side(chain, bend, other_side(held) if swung else held, n)
            parts.append(pieces)
            trees.append(tree)
            starts.append(count)
            count += len(pieces)
        return cls(concatenate(parts), trees, starts)

    def least(self, group: int, values: Floats) -> Floats:
        """By set of bends made, for one bend."""
        return self.trees[group].least(values[self.starts[group] :])

    def ends(self, group: int) -> tuple[int, int]:
        """Where the pieces of one bend begin and end."""
        end = self.starts[group + 1] if group + 1 < len(self.starts) else len(self.pieces)
        return self.starts[group], end

    def alive(self, known: dict[str, Floats]) -> Bools:
        """Pieces that nothing nearer the bend, with the same bends made, brings into contact."""
        alive = np.ones(len(self.pieces), bool)
        if not known:
            return alive
        worst = np.minimum.reduce(list(known.values()))
        for start, tree in zip(self.starts, self.trees, strict=True):
            dead = np.zeros(1, bool)
            for k, leg in enumerate(tree.legs):
                size = 1 << k
                own = worst[start + leg : start + leg + size] <= 0
                if k:
                    dead = np.concatenate([dead, dead])
                    bow = slice(start + tree.curves[k], start + tree.curves[k] + size // 2)
                    alive[bow] = ~dead[size // 2 :]
                    dead[size // 2 :] |= worst[bow] <= 0
                alive[start + leg : start + leg + size] = ~dead
                dead = dead | own
        return alive


Values = dict[str, Floats]
"""Least values of one side by name, for each set of bends made on it."""


def _least_values(side: _Side, n: int, gaps: Gaps) -> Values:
    least = {name: side.least(n, v) for name, v in gaps.way.items()}
    rest = np.minimum.reduce([*gaps.rest.values()])
    return least | {"rest": side.least(n, rest), "low": -side.least(n, -gaps.low), "high": side.least(n, gaps.high)}


def _table(
    situation: Situation,
    bend: int,
    which: WhichSide,
    n: int,
    least: tuple[Values, Values, Values],
    sides: tuple[_Side, _Side],
    swing: Swing,
    gauge: Gauge,
    body: Bodies,
) -> StageTable:
    h, b, a = least  # held; swung, before and after
    held, swung = sides
    possible = (np.asarray(h["rest"] > 0), np.asarray(np.minimum(b["rest"], a["rest"]) > 0))
    chosen = (_of_possible(held, n, possible[0]), _of_possible(swung, n, possible[1]))
    pieces = (held.pieces.take(np.arange(*held.ends(n))), swung.pieces.take(np.arange(*swung.ends(n))))
    one, two, gap, _ = pair_gaps(*pieces, swing, gauge.half, gauge.cap, chosen)
    apart = spread((held.trees[n], swung.trees[n]), (one, two, gap), (len(h["rest"]), len(b["rest"])))
    gap = np.minimum(np.minimum(h["rest"][:, None], np.minimum(b["rest"], a["rest"])[None, :]), apart)
    in_front, out_front = front_room(h, b, body), front_room(h, a, body)
    in_end, out_end = endwise_room(h, b, situation.endwise), endwise_room(h, a, situation.endwise)
    in_endwise, out_endwise = in_front <= 0, out_front <= 0
    gap = np.minimum(gap, np.where(in_endwise, in_end, in_front))
    gap = np.minimum(gap, np.where(out_endwise, out_end, out_front))
    cost = _cost(situation, bend, which, gap, in_endwise, out_endwise)
    return StageTable(bend, which, gap, cost, in_endwise, out_endwise)


@dataclass(frozen=True)
class Way:
    """A way to or from the front: ``how`` ("straight" or "drawn"); how much ``less`` than all the bar is lifted
    straight; ``room``, and by what ``height`` the part is raised (sets held, sets swung) [mm].
    """

    how: str
    less: float
    room: Floats
    height: Floats


def ways(h: Values, s: Values, body: Bodies) -> list[Way]:
    """Room on each way to or from the front: bar lifted straight, by all of its travel or less, or the part drawn
    forward as it lifts; the part raised as need be, to the middle of its room or just over a leaf that stands proud.
    """
    low = h["low"][:, None]
    raised, over = low > 1e-9, low <= body.proud + 1e-9
    hooks = np.minimum(h["under"][:, None], s["under"][None, :])
    fewer = hooks
    if body.under_leaf_small is not None:
        fewer = np.minimum(h["under small"][:, None], s["under small"][None, :])
    all_ways = []
    for name, less, held, swung, high in (
        *(
            ("straight", less, h["straight"], s[lift_key("straight", k)], s[lift_key("high", k)])
            for k, less in enumerate(body.short)
        ),
        ("drawn", 0.0, h["drawn"], s["drawn"], s[lift_key("high", 0)]),
    ):
        top = np.minimum(h["high"][:, None] - less, high[None, :])
        middle = np.minimum((top - low) / 2, hooks)
        small = np.minimum(np.minimum(body.small - body.proud, top - body.small), fewer)
        less_raised = over & (small > middle)
        level = np.minimum(h["high"][:, None] - less, s["level"][None, :])
        room = np.where(raised, np.where(less_raised, small, middle), level)
        height = np.where(raised, np.where(less_raised, body.small, (low + top) / 2), 0.0)
        all_ways.append(Way(name, less, np.minimum(room, np.minimum(held[:, None], swung[None, :])), height))
    if body.drawn_small is not None:
        small = np.minimum(np.minimum(body.small - body.proud, h["high"][:, None] - body.small), fewer)
        room = np.minimum(small, np.minimum(h["drawn"][:, None], s["drawn small"][None, :]))
        all_ways.append(Way("drawn", 0.0, np.where(over, room, -1.0), np.full_like(room, body.small)))
    return all_ways


def front_room(h: Values, s: Values, body: Bodies) -> Floats:
    """The most room of all ways to or from the front (sets held, sets swung) [mm]."""
    return np.asarray(np.maximum.reduce([way.room for way in ways(h, s, body)]))


def endwise_room(h: Values, s: Values, open_: bool) -> Floats:
    """Room on the way along the bar, negative where no end is open [mm]."""
    room = np.minimum(h["eased"][:, None], s["eased"][None, :])
    return room if open_ else np.full_like(room, -1.0)


def _of_possible(side: _Side, n: int, possible: Bools) -> Bools:
    """Pieces of one bend that belong to a possible set."""
    tree = side.trees[n]
    start, end = side.ends(n)
    chosen = np.zeros(end - start, bool)
    for k in range(len(tree.legs)):
        some: Bools = np.logical_or.reduce(possible.reshape(-1, 1 << k), axis=0)
        chosen[tree.legs[k] : tree.legs[k] + (1 << k)] = some
        if k:
            chosen[tree.curves[k] : tree.curves[k] + (1 << (k - 1))] = some[1 << (k - 1) :]
    return chosen


def _cost(
    situation: Situation, bend: int, which: WhichSide, gap: Floats, in_endwise: Bools, out_endwise: Bools
) -> Ints:
    chain, weights = situation.chain, situation.weights
    formed, shop, setup = situation.bends[bend], situation.shop, situation.setup
    flats = costs.flat_costs(chain, bend, which, formed, setup, shop, situation.strength, weights)
    own = costs.bend_cost(formed, chain.creases[bend], situation.setting, chain.thickness, shop, setup, weights)
    cost = np.full(gap.shape, own, np.int64)
    cost += _by_first(flats.held, gap.shape[0])[:, None]
    swung = [NEVER if c is None else c for c in flats.swung]
    cost += np.where(np.arange(gap.shape[0]) > 0, round(weights.bent_edge * costs.UNIT), 0)[:, None]
    cost += round(weights.endwise * costs.UNIT) * (in_endwise.astype(np.int64) + out_endwise)
    cost += _clearance_cost(gap, shop.safe_clearance, weights)
    cost += _by_first(swung, gap.shape[1])[None, :]
    cost[np.asarray(np.logical_or(gap <= 0, cost >= NEVER))] = NEVER
    return cost


def _by_first(values: tuple[int, ...] | list[int], size: int) -> Ints:
    """For each set of bends the value of its first made one, the last value where none is made."""
    by_set = np.full(size, values[-1], np.int64)
    index = np.arange(size)
    for k in range(len(values) - 1):
        first = (index & ((1 << (k + 1)) - 1)) == (1 << k)
        by_set[first] = values[k]
    return by_set


def _clearance_cost(gap: Floats, safe: float, weights: Weights) -> Ints:
    """Of coming nearer than the safe clearance: nothing at it, all of the weight at contact.

    Half of the safe clearance is left, weight 10:

    >>> _clearance_cost(np.array([1.0]), 2.0, Weights())
    array([5000])
    """
    if safe <= 0:
        return np.zeros(gap.shape, np.int64)
    down = np.maximum(np.floor(np.clip(gap, 0.0, safe) / costs.FINE + 1e-6) * costs.FINE, 0.0)
    cost = np.round(weights.small_clearance * (1 - down / safe) * costs.UNIT).astype(np.int64)
    return np.where(gap >= safe, 0, cost)
