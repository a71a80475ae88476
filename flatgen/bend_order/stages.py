"""All stages that a part could pass through on one set-up and setting: which are possible, and what each costs.

For each bend and held side a table over (bends made on the held side) x (bends made on the swung side): least
clearance, ways in and out, cost. Held against brake, swung against brake and held against swung are looked at apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatgen.bend_order import costs
from flatgen.bend_order.bodies import Bodies, Swing, bodies
from flatgen.bend_order.chain import Chain, Floats, Ints, Pieces, Tree, grow, joined
from flatgen.bend_order.checks import Gaps, Looker, held_gaps, swung_gaps
from flatgen.bend_order.costs import Formed
from flatgen.bend_order.gaps import Bools
from flatgen.bend_order.together import pair_gaps, spread
from flatgen.brake.springback import Strength
from flatgen.core.schedule import Which
from flatgen.core.shop import SetUp, Shop, Weights

SIDES: tuple[Which, Which] = ("first", "second")
NEVER = np.iinfo(np.int64).max // 8
LEAST_CAP = 0.1


@dataclass(frozen=True)
class Situation:
    """Chain, shop, set-up, setting [mm], bends on the set-up, metal, weights: what a stage depends on."""

    chain: Chain
    shop: Shop
    setup: SetUp
    setting: float
    bends: tuple[Formed, ...]
    strength: Strength | None
    weights: Weights

    @property
    def endwise(self) -> bool:
        """Whether a part can slide out along the bar: past an open end, or off fingers that leave as much room."""
        brake = self.shop.brake
        longest = max(c.extent for c in self.chain.creases)
        return any(brake.open_ends) or (bool(self.setup.fingers) and brake.length >= 2 * longest)

    def swing(self, bend: int, held: Which) -> Swing:
        """How the swung side of a bend moves."""
        chain, found = self.chain, self.bends[bend]
        crease, t, brake = chain.creases[bend], chain.thickness, self.shop.brake
        turn = math.radians(crease.angle)
        beside = chain.leg_beyond(bend, other(held), 0)
        return Swing(
            hinge=brake.hinge,
            drop=self.setup.leaf.drop,
            thickness=t,
            tangent=-(self.setting + self.setup.clamp.nose_radius + self.setup.offset),
            allowance=crease.allowance,
            neutral=crease.allowance / turn - crease.inside_radius,
            flat=chain.flats[beside],
            least=self.setup.clamp.nose_radius,
            top=math.radians(found.top),
            angle=min(turn, math.radians(found.top)),
            radius=crease.inside_radius,
            whole=turn,
        )


def other(which: Which) -> Which:
    """The side across a bend."""
    return "second" if which == "first" else "first"


@dataclass(frozen=True)
class Table:
    """One bend with one side held: arrays (sets held, sets swung). ``gap`` [mm] least clearance where under the cap;
    ``cost`` in thousandths, ``NEVER`` where it is not possible; ``in_endwise``, ``out_endwise``.
    """

    bend: int
    held: Which
    gap: Floats
    cost: Ints
    in_endwise: Bools
    out_endwise: Bools


def tables(situation: Situation, wanted: list[tuple[int, Which]]) -> dict[tuple[int, Which], Table]:
    """Tables of bends with a side held."""
    if not wanted:
        return {}
    chain = situation.chain
    look = Looker(chain.thickness / 2, max(situation.shop.safe_clearance, LEAST_CAP))
    swings = [situation.swing(b, h) for b, h in wanted]
    body = bodies(situation.shop.brake, situation.setup, situation.setting, chain.thickness)
    lift = situation.setup.clamp.lift
    held = _Side.of(chain, wanted, swung=False)
    swung = _Side.of(chain, wanted, swung=True)
    lies = held_gaps(look, held.pieces, body, swings, lift, held.alive)
    before, after = swung_gaps(look, swung.pieces, body, swings, lift, swung.alive)
    found = {}
    for n, (bend, which) in enumerate(wanted):
        sides = _sides(held, swung, n, lies, before, after)
        found[bend, which] = _table(situation, bend, which, n, sides, (held, swung), swings[n], look, body)
    return found


@dataclass(frozen=True)
class _Side:
    """Pieces of one side of each wanted bend, with their trees and where each begins."""

    pieces: Pieces
    trees: list[Tree]
    starts: list[int]

    @classmethod
    def of(cls, chain: Chain, wanted: list[tuple[int, Which]], *, swung: bool) -> _Side:
        parts, trees, starts, count = [], [], [], 0
        for n, (bend, held) in enumerate(wanted):
            pieces, tree = grow(chain, bend, other(held) if swung else held, n)
            parts.append(pieces)
            trees.append(tree)
            starts.append(count)
            count += len(pieces)
        return cls(joined(parts), trees, starts)

    def least(self, group: int, values: Floats) -> Floats:
        """By set of bends made, for one bend."""
        start = self.starts[group]
        return self.trees[group].least(values[start:])

    def alive(self, known: dict[str, Floats]) -> Bools:
        """Pieces that nothing nearer the bend, with the same bends made, brings into contact."""
        found = np.ones(len(self.pieces), bool)
        if not known:
            return found
        worst = np.minimum.reduce(list(known.values()))
        for start, tree in zip(self.starts, self.trees, strict=True):
            dead = np.zeros(1, bool)
            for k, leg in enumerate(tree.legs):
                size = 1 << k
                own = worst[start + leg : start + leg + size] <= 0
                if k:
                    dead = np.concatenate([dead, dead])
                    bow = slice(start + tree.curves[k], start + tree.curves[k] + size // 2)
                    found[bow] = ~dead[size // 2 :]
                    dead[size // 2 :] |= worst[bow] <= 0
                found[start + leg : start + leg + size] = ~dead
                dead = dead | own
        return found


@dataclass(frozen=True)
class _Sides:
    """Least values by set of bends made on the held side (``h``) and on the swung side (``b`` before, ``a`` after)."""

    h: dict[str, Floats]
    b: dict[str, Floats]
    a: dict[str, Floats]


def _sides(held: _Side, swung: _Side, n: int, lies: Gaps, before: Gaps, after: Gaps) -> _Sides:
    def all_of(side: _Side, gaps: Gaps) -> dict[str, Floats]:
        found = {name: side.least(n, v) for name, v in gaps.way.items()}
        rest = np.minimum.reduce([*gaps.rest.values()])
        return found | {"rest": side.least(n, rest), "low": -side.least(n, -gaps.low), "high": side.least(n, gaps.high)}

    return _Sides(all_of(held, lies), all_of(swung, before), all_of(swung, after))


def _table(
    situation: Situation,
    bend: int,
    which: Which,
    n: int,
    sides: _Sides,
    both: tuple[_Side, _Side],
    swing: Swing,
    look: Looker,
    body: Bodies,
) -> Table:
    h, b, a = sides.h, sides.b, sides.a
    held, swung = both
    possible = (np.asarray(h["rest"] > 0), np.asarray(np.minimum(b["rest"], a["rest"]) > 0))
    own_h = _own(held, n, possible[0])
    own_s = _own(swung, n, possible[1])
    ends = (_range(held, n), _range(swung, n))
    pieces = (held.pieces.take(np.arange(*ends[0])), swung.pieces.take(np.arange(*ends[1])))
    one, two, gap, _ = pair_gaps(*pieces, swing, look.half, look.cap, (own_h, own_s))
    apart = spread((held.trees[n], swung.trees[n]), (one, two, gap), (0, 0), (len(h["rest"]), len(b["rest"])))
    gap = np.minimum(np.minimum(h["rest"][:, None], np.minimum(b["rest"], a["rest"])[None, :]), apart)
    in_front, out_front = front(h, b, body), front(h, a, body)
    in_end, out_end = endwise(h, b, situation.endwise), endwise(h, a, situation.endwise)
    in_endwise, out_endwise = in_front <= 0, out_front <= 0
    gap = np.minimum(gap, np.where(in_endwise, in_end, in_front))
    gap = np.minimum(gap, np.where(out_endwise, out_end, out_front))
    cost = _cost(situation, bend, which, gap, in_endwise, out_endwise)
    return Table(bend, which, gap, cost, in_endwise, out_endwise)


@dataclass(frozen=True)
class Way:
    """A way to or from the front: "straight" or "drawn"; how much less than all the bar is lifted straight [mm]; room,
    and by how much the part is raised (sets held, sets swung) [mm].
    """

    how: str
    less: float
    room: Floats
    height: Floats


def ways(h: dict[str, Floats], s: dict[str, Floats], body: Bodies) -> list[Way]:
    """Room on each way to or from the front: bar lifted straight, by all of its travel or less, or the part drawn
    forward as it lifts; the part raised as need be, to the middle of its room or just over a leaf that stands proud.

    :param h, s: least values of the held and of the swung side, by name [mm]
    """
    low = h["low"][:, None]
    raised, over = low > 1e-9, low <= body.proud + 1e-9
    hooks = np.minimum(h["under"][:, None], s["under"][None, :])
    fewer = hooks
    if body.under_leaf_small is not None:
        fewer = np.minimum(h["under small"][:, None], s["under small"][None, :])
    found = []
    for name, less, held, swung, high in (
        *(("straight", less, h["straight"], s[f"straight {k}"], s[f"high {k}"]) for k, less in enumerate(body.short)),
        ("drawn", 0.0, h["drawn"], s["drawn"], s["high 0"]),
    ):
        top = np.minimum(h["high"][:, None] - less, high[None, :])
        middle = np.minimum((top - low) / 2, hooks)
        small = np.minimum(np.minimum(body.small - body.proud, top - body.small), fewer)
        less_raised = over & (small > middle)
        level = np.minimum(h["high"][:, None] - less, s["level"][None, :])
        room = np.where(raised, np.where(less_raised, small, middle), level)
        height = np.where(raised, np.where(less_raised, body.small, (low + top) / 2), 0.0)
        found.append(Way(name, less, np.minimum(room, np.minimum(held[:, None], swung[None, :])), height))
    if body.drawn_small is not None:
        small = np.minimum(np.minimum(body.small - body.proud, h["high"][:, None] - body.small), fewer)
        room = np.minimum(small, np.minimum(h["drawn"][:, None], s["drawn small"][None, :]))
        found.append(Way("drawn", 0.0, np.where(over, room, -1.0), np.full_like(room, body.small)))
    return found


def front(h: dict[str, Floats], s: dict[str, Floats], body: Bodies) -> Floats:
    """The most room of all ways to or from the front (sets held, sets swung) [mm]."""
    return np.asarray(np.maximum.reduce([way.room for way in ways(h, s, body)]))


def endwise(h: dict[str, Floats], s: dict[str, Floats], open_: bool) -> Floats:
    """Room on the way along the bar, less than nothing where no end is open [mm]."""
    found = np.minimum(h["eased"][:, None], s["eased"][None, :])
    return found if open_ else np.full_like(found, -1.0)


def _range(side: _Side, n: int) -> tuple[int, int]:
    end = side.starts[n + 1] if n + 1 < len(side.starts) else len(side.pieces)
    return side.starts[n], end


def _own(side: _Side, n: int, possible: Bools) -> Bools:
    """Pieces of one bend that belong to a possible set."""
    tree = side.trees[n]
    start, end = _range(side, n)
    found = np.zeros(end - start, bool)
    for k in range(len(tree.legs)):
        some: Bools = np.logical_or.reduce(possible.reshape(-1, 1 << k), axis=0)
        found[tree.legs[k] : tree.legs[k] + (1 << k)] = some
        if k:
            found[tree.curves[k] : tree.curves[k] + (1 << (k - 1))] = some[1 << (k - 1) :]
    return found


def _cost(situation: Situation, bend: int, which: Which, gap: Floats, in_endwise: Bools, out_endwise: Bools) -> Ints:
    chain, weights = situation.chain, situation.weights
    crease, found = chain.creases[bend], situation.bends[bend]
    flats = costs.of_flats(chain, bend, which, found, situation.setup, situation.shop, situation.strength, weights)
    cost = np.full(
        gap.shape,
        costs.of_the_bend(found, crease, situation.setting, chain.thickness, situation.shop, situation.setup, weights),
        np.int64,
    )
    cost += _by_first(flats.held, gap.shape[0])[:, None]
    swung = [NEVER if c is None else c for c in flats.swung]
    cost += np.where(np.arange(gap.shape[0]) > 0, round(weights.bent_edge * costs.UNIT), 0)[:, None]
    cost += round(weights.endwise * costs.UNIT) * (in_endwise.astype(np.int64) + out_endwise)
    cost += _of_gaps(gap, situation.shop.safe_clearance, weights)
    cost += _by_first(swung, gap.shape[1])[None, :]
    cost[np.asarray(np.logical_or(gap <= 0, cost >= NEVER))] = NEVER
    return cost


def _by_first(values: tuple[int, ...] | list[int], size: int) -> Ints:
    """For each set of bends the value of its first made one, the last value where none is made."""
    found = np.full(size, values[-1], np.int64)
    index = np.arange(size)
    for k in range(len(values) - 1):
        first = (index & ((1 << (k + 1)) - 1)) == (1 << k)
        found[first] = values[k]
    return found


def _of_gaps(gap: Floats, safe: float, weights: Weights) -> Ints:
    """:func:`flatgen.bend_order.costs.of_clearance` for arrays."""
    if safe <= 0:
        return np.zeros(gap.shape, np.int64)
    down = np.maximum(np.floor(np.clip(gap, 0.0, safe) / costs.FINE + 1e-6) * costs.FINE, 0.0)
    cost = np.round(weights.small_clearance * (1 - down / safe) * costs.UNIT).astype(np.int64)
    return np.where(gap >= safe, 0, cost)
