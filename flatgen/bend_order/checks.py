"""What the metal on each side of a bend has to clear, and by how much it does: for any pieces at once.

held       lies still: bed, clamped bar, wall of the throat, the leaf as it swings; and on its way, the lifted bar
swung      moves with the leaf: bar, bed, leaf; then, finished, the leaf as it goes back; and on its way

A piece that leaves the clamped leg, or the leg on the leaf, runs away from the body that this leg lies on: bed or
bar for the held side, the leaf for the swung one. It is not measured against that one. The leg beside the bend is
measured against none: it is where it ought to be (``top`` of a swing ends before the bar's sloping front).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from flatgen.bend_order.bodies import Bodies, Swing, to_leaf_frame, transform
from flatgen.bend_order.chain import LEG, Floats, Ints, Pieces, extents, refine
from flatgen.bend_order.gaps import Body, Bools, box_distance, distance, least_over
from flatgen.core.flat_pattern import Point

CLEAR = np.inf
Motion = Callable[[Ints, Floats], Floats]
"""Axes of some pieces at leaf angles."""
Alive = Callable[[dict[str, Floats]], Bools]
"""Which pieces still matter when some clearances are known."""


def lift_key(name: Literal["straight", "high"], share: int) -> str:
    """Key of a clearance for a bar lifted straight by one of the ``SHARES`` of its travel."""
    return f"{name} {share}"


@dataclass(frozen=True)
class Gaps:
    """Clearances of pieces [mm]: ``rest`` by name of the check, ``way`` by name; ``low``, ``high`` [mm]: how high the
    part must, and may, be raised to pass; ``at``: leaf angle [rad] of the least clearance of each check that moves.
    """

    rest: dict[str, Floats]
    way: dict[str, Floats]
    low: Floats
    high: Floats
    at: dict[str, Floats] = field(default_factory=dict)


@dataclass(frozen=True)
class Gauge:
    """Measures pieces up to a ``cap`` [mm]; ``half``: half the thickness [mm]."""

    half: float
    cap: float

    def still(self, pieces: Pieces, frame: Callable[[Pieces], Floats], body: Body, chosen: Bools) -> Floats:
        """Clearance of pieces that lie still; a value above the cap may be too small, but is above the cap."""
        return self.placed(pieces, frame(pieces), frame, body, chosen)

    def placed(
        self, pieces: Pieces, axis: Floats, frame: Callable[[Pieces], Floats], body: Body, chosen: Bools
    ) -> Floats:
        """The same, of pieces whose ``axis`` in the frame is known."""
        gap = np.full(len(pieces), CLEAR)
        index = np.flatnonzero(chosen)
        if not len(index):
            return gap
        apart = box_distance(axis[index], body) - pieces.reach[index]
        gap[index] = apart
        index = index[apart <= self.cap]
        gap[index] = distance(axis[index], body) - pieces.reach[index]
        index = index[(gap[index] < self.cap) & (pieces.kind[index] != LEG)]
        if not len(index):
            return gap
        fine, owner = refine(pieces.take(index), self.half)
        exact = np.full(len(index), CLEAR)
        np.minimum.at(exact, owner, distance(frame(fine), body) - fine.reach)
        gap[index] = exact
        return gap

    def moving(
        self,
        pieces: Pieces,
        frame: Callable[[Pieces], Motion],
        body: Body,
        chosen: Bools,
        top: Floats,
        speed: Callable[[Pieces], Floats],
    ) -> tuple[Floats, Floats]:
        """Least clearance over a motion, and the leaf angle of it."""
        gap, at = np.full(len(pieces), CLEAR), np.zeros(len(pieces))

        def measure(some: Pieces) -> tuple[Floats, Floats]:
            moved = frame(some)

            def sample(which: Ints, theta: Floats) -> Floats:
                return np.asarray(distance(moved(which, theta), body) - some.reach[which])

            return least_over(sample, top[some.group], speed(some), self.cap)

        index = np.flatnonzero(chosen)
        if not len(index):
            return gap, at
        some = pieces.take(index)
        gap[index], at[index] = measure(some)
        index = index[(gap[index] < self.cap) & (some.kind != LEG)]
        if not len(index):
            return gap, at
        fine, owner = refine(pieces.take(index), self.half)
        values, where = measure(fine)
        order = np.argsort(values)[::-1]
        gap[index] = CLEAR
        np.minimum.at(gap, index[owner], values)
        at[index[owner[order]]] = where[order]
        return gap, at


def held_gaps(gauge: Gauge, pieces: Pieces, body: Bodies, swings: list[Swing], lift: float, alive: Alive) -> Gaps:
    """Clearances of the held side; ``lift`` of the bar [mm]."""
    first, tops = swings[0], np.array([float(s.top) for s in swings])
    beyond = pieces.bends_made > 0
    up, down = pieces.rising, pieces.falling

    def frame(some: Pieces) -> Floats:
        return np.asarray(some.axis * [-1, 1, -1, 1] + [body.tangent, 0, body.tangent, 0])

    def in_leaf(some: Pieces) -> Motion:
        return _in_leaf_frame(first, frame(some))

    def speed(some: Pieces) -> Floats:
        return _farthest(frame(some), first.hinge)

    axis = frame(pieces)

    def still_of(body: Body, chosen: Bools) -> Floats:
        return gauge.placed(pieces, axis, frame, body, chosen)

    far, low, high = extents(pieces, gauge.half)
    rest = {} if body.back is None else {"throat": body.tangent - far - body.back}
    rest["bed"] = still_of(body.bed, beyond & ~up & alive(rest))
    rest["clamp bar"] = still_of(body.bar, beyond & ~down & alive(rest))
    still = alive(rest)
    rest["leaf"], at = gauge.moving(pieces, in_leaf, body.leaf, beyond & still, tops, speed)
    bar = beyond & ~down & still
    way = {"straight": still_of(body.straight[0], bar)}
    way["eased"] = still_of(body.eased, bar & (way["straight"] < gauge.cap))
    hooks = still_of(body.under_bed, beyond & ~up & still)
    way["under"], most = _hook_limits(hooks, body.bed_low, high)
    if body.under_bed_small is not None:
        hooks = still_of(body.under_bed_small, beyond & ~up & still & (way["under"] < gauge.cap))
        way["under small"] = _hook_limits(hooks, body.bed_low, high)[0]
    way["drawn"] = np.full(len(pieces), -1.0) if body.drawn is None else still_of(body.drawn, bar)
    return Gaps(rest, way, np.maximum(body.proud - low, 0.0), np.minimum(lift - high, most), {"leaf": at})


def _hook_limits(gap: Floats, bottom: float, high: Floats) -> tuple[Floats, Floats]:
    """Metal below a body limits how high the part may be raised; metal beside it has to clear it on the way up."""
    below = (gap <= 0) & (high <= bottom)
    return np.where(below, CLEAR, gap), np.where(below, bottom - high, CLEAR)


def swung_gaps(
    gauge: Gauge, pieces: Pieces, body: Bodies, swings: list[Swing], lift: float, alive: Alive
) -> tuple[Gaps, Gaps]:
    """Clearances of the swung side: over all of the swing, with its way in; and finished, with its way out."""
    first, tops = swings[0], np.array([float(s.top) for s in swings])
    beyond = pieces.bends_made > 0
    off_leaf = beyond & ~pieces.rising
    off_bar = beyond & ~pieces.falling
    swung_speeds, leaf_speeds = (np.array(v) for v in zip(*(s.greatest_speeds() for s in swings), strict=True))
    angles = np.array([float(s.angle) for s in swings])

    def frame(some: Pieces) -> Motion:
        own = _swings_of(swings, some.group)
        return lambda which, theta: transform(some.axis[which], theta, *own(which).place(theta))

    def in_leaf(some: Pieces) -> Motion:
        own = _swings_of(swings, some.group)

        def moved(which: Ints, theta: Floats) -> Floats:
            u, v = own(which).on_leaf(theta)
            return np.asarray(some.axis[which] + np.stack([u, v, u, v], axis=1))

        return moved

    def speed(some: Pieces) -> Floats:
        return np.asarray(_farthest(some.axis, (0.0, 0.0)) + swung_speeds[some.group])

    def flat(some: Pieces) -> Floats:
        return frame(some)(np.arange(len(some)), np.zeros(len(some)))

    def done(some: Pieces) -> Floats:
        own = _swings_of(swings, some.group)(np.arange(len(some)))
        return transform(some.axis, angles[some.group], *own.finished())

    def going_back(some: Pieces) -> Motion:
        return _in_leaf_frame(first, done(some))

    def from_hinge(some: Pieces) -> Floats:
        return _farthest(done(some), first.hinge)

    still = alive({})
    rest, at = {}, {}
    rest["leaf"], at["leaf"] = gauge.moving(
        pieces, in_leaf, body.leaf, off_leaf & still, tops, lambda some: leaf_speeds[some.group]
    )
    still = alive(rest)
    rest["clamp bar"], at["clamp bar"] = gauge.moving(pieces, frame, body.bar, off_bar & still, tops, speed)
    still = alive(rest)
    rest["bed"], at["bed"] = gauge.moving(pieces, frame, body.bed, beyond & still, tops, speed)
    still = alive(rest)
    after: dict[str, Floats] = {}
    back, where = gauge.moving(pieces, going_back, body.leaf, off_leaf & still, np.minimum(angles, tops), from_hinge)
    after["leaf going back"] = back
    still = alive(rest | after)
    after["clamp bar"] = gauge.still(pieces, done, body.bar, off_bar & still)
    after["bed"] = gauge.still(pieces, done, body.bed, beyond & still)
    in_ = _passage_gaps(gauge, pieces, flat, body, beyond & still, lift, leans=np.zeros(len(swings), bool))
    leans = angles > np.pi / 2 + 1e-9
    out = _passage_gaps(gauge, pieces, done, body, beyond & still, lift, leans=leans)
    return replace(in_, rest=rest, at=at), replace(out, rest=after, at={"leaf going back": where})


def _passage_gaps(
    gauge: Gauge,
    pieces: Pieces,
    frame: Callable[[Pieces], Floats],
    body: Bodies,
    chosen: Bools,
    lift: float,
    leans: Bools,
) -> Gaps:
    """The way of the swung side past the bar; ``leans``: groups whose leg leans back over a bar lifted straight."""
    n = len(pieces)
    off_bar = chosen & ~pieces.falling
    off_leaf = chosen & ~pieces.rising
    axis = frame(pieces)

    def still(body: Body, chosen: Bools) -> Floats:
        return gauge.placed(pieces, axis, frame, body, chosen)

    straight = {}
    whole = still(body.straight[0], off_bar)
    near = off_bar & (whole < gauge.cap)  # what the bar sweeps as it is lifted less is part of that
    for k, (passed, lifted) in enumerate(zip(body.straight, body.lifted, strict=True)):
        gap = still(lifted, off_bar & ((whole > 0) if k == 0 else True))
        gap = np.minimum(gap, whole if k == 0 else still(passed, near & (gap > 0)))
        gap[(pieces.bends_made == 0) & leans[pieces.group]] = -1.0
        straight[lift_key("straight", k)] = gap
    drawn = np.full(n, -1.0)
    if body.drawn is not None and body.lifted_drawn is not None:
        drawn = still(body.drawn, off_bar)
        drawn = np.minimum(drawn, still(body.lifted_drawn, off_bar & (drawn > 0)))
    ax, ay, bx, by = axis.T
    low, high = np.minimum(ay, by) - pieces.reach, np.maximum(ay, by) + pieces.reach
    hooks, most = _hook_limits(still(body.under_leaf, off_leaf), body.leaf_low, high)
    way = {"drawn": drawn, "eased": still(body.eased, near), "under": hooks, "level": still(body.level_leaf, off_leaf)}
    if body.drawn_small is not None and body.drawn is not None:
        small = still(body.drawn, off_bar)
        way["drawn small"] = np.minimum(small, still(body.drawn_small, off_bar & (small > 0)))
    if body.under_leaf_small is not None:
        small = still(body.under_leaf_small, off_leaf & (hooks < gauge.cap))
        way["under small"] = _hook_limits(small, body.leaf_low, high)[0]
    way |= straight
    in_front = np.minimum(ax, bx) - pieces.reach >= body.front
    for k, less in enumerate(body.short):
        passes = ~off_bar | in_front | (low >= body.nose_level - less)
        way[lift_key("high", k)] = np.minimum(np.where(passes, CLEAR, lift - less - high), most)
    return Gaps({}, way, np.zeros(n), way[lift_key("high", 0)])


def _farthest(axis: Floats, point: Point) -> Floats:
    """Farthest end of each segment from a point."""
    ax, ay, bx, by = axis.T
    x, y = point
    return np.asarray(np.maximum(np.hypot(ax - x, ay - y), np.hypot(bx - x, by - y)))


def _in_leaf_frame(swing: Swing, axis: Floats) -> Motion:
    """Segments that lie still in the brake, in the frame of the leaf."""

    def moved(which: Ints, theta: Floats) -> Floats:
        ax, ay, bx, by = axis[which].T
        one, other = (
            to_leaf_frame(swing.hinge, swing.drop, ax, ay, theta),
            to_leaf_frame(swing.hinge, swing.drop, bx, by, theta),
        )
        return np.stack([*one, *other], axis=1)

    return moved


def _swings_of(swings: list[Swing], group: Ints) -> Callable[[Ints], Swing]:
    """The swings of some pieces, as one with arrays."""
    first = swings[0]
    if len(swings) == 1:
        return lambda which: first
    names = ("allowance", "neutral", "flat", "top", "angle", "radius")
    table: dict[str, Any] = {n: np.array([getattr(s, n) for s in swings])[group] for n in names}
    return lambda which: replace(first, **{n: v[which] for n, v in table.items()})
