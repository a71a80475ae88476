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
from typing import Any

import numpy as np

from flatgen.bend_order.bodies import Bodies, Swing, to_leaf, turned
from flatgen.bend_order.chain import LEG, Floats, Ints, Pieces, extents, finer
from flatgen.bend_order.gaps import Body, Bools, boxes_apart, distance, least_over

CLEAR = np.inf
Motion = Callable[[Ints, Floats], Floats]
"""Axes of some pieces at leaf angles."""


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
class Looker:
    """Measures pieces up to a ``cap`` [mm]; ``half`` the thickness [mm]."""

    half: float
    cap: float

    def still(self, pieces: Pieces, frame: Callable[[Pieces], Floats], body: Body, chosen: Bools) -> Floats:
        """Clearance of pieces that lie still; above the cap it may be less than it is, and is above the cap."""
        return self.placed(pieces, frame(pieces), frame, body, chosen)

    def placed(
        self, pieces: Pieces, axis: Floats, frame: Callable[[Pieces], Floats], body: Body, chosen: Bools
    ) -> Floats:
        """The same, of pieces whose ``axis`` in the frame is known."""
        found = np.full(len(pieces), CLEAR)
        index = np.flatnonzero(chosen)
        if not len(index):
            return found
        apart = boxes_apart(axis[index], body) - pieces.reach[index]
        found[index] = apart
        index = index[apart <= self.cap]
        found[index] = distance(axis[index], body) - pieces.reach[index]
        index = index[(found[index] < self.cap) & (pieces.kind[index] != LEG)]
        if not len(index):
            return found
        fine, owner = finer(pieces.take(index), self.half)
        exact = np.full(len(index), CLEAR)
        np.minimum.at(exact, owner, distance(frame(fine), body) - fine.reach)
        found[index] = exact
        return found

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
        found, at = np.full(len(pieces), CLEAR), np.zeros(len(pieces))

        def measured(some: Pieces) -> tuple[Floats, Floats]:
            moved = frame(some)

            def sample(which: Ints, theta: Floats) -> Floats:
                return np.asarray(distance(moved(which, theta), body) - some.reach[which])

            return least_over(sample, top[some.group], speed(some), self.cap)

        index = np.flatnonzero(chosen)
        if not len(index):
            return found, at
        some = pieces.take(index)
        found[index], at[index] = measured(some)
        index = index[(found[index] < self.cap) & (some.kind != LEG)]
        if not len(index):
            return found, at
        fine, owner = finer(pieces.take(index), self.half)
        values, where = measured(fine)
        order = np.argsort(values)[::-1]
        found[index] = CLEAR
        np.minimum.at(found, index[owner], values)
        at[index[owner[order]]] = where[order]
        return found, at


def held_gaps(look: Looker, pieces: Pieces, body: Bodies, swings: list[Swing], lift: float, alive: Alive) -> Gaps:
    """Of the held side.

    :param lift: of the bar [mm]
    :param alive: which pieces still matter when some values are known
    """
    first, tops = swings[0], np.array([float(s.top) for s in swings])
    beyond = pieces.run > 0
    up, down = (pieces.run == 1) & (pieces.leaves > 0), (pieces.run == 1) & (pieces.leaves < 0)

    def frame(some: Pieces) -> Floats:
        return np.asarray(some.axis * [-1, 1, -1, 1] + [body.tangent, 0, body.tangent, 0])

    def in_leaf(some: Pieces) -> Motion:
        return _seen_by_leaf(first, frame(some))

    def speed(some: Pieces) -> Floats:
        ax, ay, bx, by = frame(some).T
        hx, hy = first.hinge
        return np.asarray(np.maximum(np.hypot(ax - hx, ay - hy), np.hypot(bx - hx, by - hy)))

    axis = frame(pieces)

    def still_of(body: Body, chosen: Bools) -> Floats:
        return look.placed(pieces, axis, frame, body, chosen)

    far, low, high = extents(pieces, look.half)
    rest = {} if body.back is None else {"throat": body.tangent - far - body.back}
    rest["bed"] = still_of(body.bed, beyond & ~up & alive(rest))
    rest["clamp bar"] = still_of(body.bar, beyond & ~down & alive(rest))
    still = alive(rest)
    rest["leaf"], at = look.moving(pieces, in_leaf, body.leaf, beyond & still, tops, speed)
    bar = beyond & ~down & still
    way = {"straight": still_of(body.straight[0], bar)}
    way["eased"] = still_of(body.eased, bar & (way["straight"] < look.cap))
    hooks = still_of(body.under_bed, beyond & ~up & still)
    way["under"], most = _hooked(hooks, body.bed_low, high)
    if body.under_bed_small is not None:
        hooks = still_of(body.under_bed_small, beyond & ~up & still & (way["under"] < look.cap))
        way["under small"] = _hooked(hooks, body.bed_low, high)[0]
    way["drawn"] = np.full(len(pieces), -1.0) if body.drawn is None else still_of(body.drawn, bar)
    return Gaps(rest, way, np.maximum(body.proud - low, 0.0), np.minimum(lift - high, most), {"leaf": at})


def _hooked(gap: Floats, bottom: float, high: Floats) -> tuple[Floats, Floats]:
    """Metal below a body limits how high the part may be raised; metal beside it has to clear it on the way up."""
    below = (gap <= 0) & (high <= bottom)
    return np.where(below, CLEAR, gap), np.where(below, bottom - high, CLEAR)


def swung_gaps(
    look: Looker, pieces: Pieces, body: Bodies, swings: list[Swing], lift: float, alive: Alive
) -> tuple[Gaps, Gaps]:
    """Of the swung side: with all of the swing, and its way in; and finished, with its way out.

    :param lift: of the bar [mm]
    :param alive: which pieces still matter when some values are known
    :returns: before and after, for each piece [mm]
    """
    first, tops = swings[0], np.array([float(s.top) for s in swings])
    beyond = pieces.run > 0
    off_leaf = beyond & ~((pieces.run == 1) & (pieces.leaves > 0))
    off_bar = beyond & ~((pieces.run == 1) & (pieces.leaves < 0))
    slides, on_leaf = (np.array(v) for v in zip(*(s.slides() for s in swings), strict=True))
    angles = np.array([float(s.angle) for s in swings])

    def frame(some: Pieces) -> Motion:
        own = _of(swings, some.group)
        return lambda which, theta: turned(some.axis[which], theta, *own(which).place(theta))

    def in_leaf(some: Pieces) -> Motion:
        own = _of(swings, some.group)

        def moved(which: Ints, theta: Floats) -> Floats:
            u, v = own(which).on_leaf(theta)
            return np.asarray(some.axis[which] + np.stack([u, v, u, v], axis=1))

        return moved

    def speed(some: Pieces) -> Floats:
        return np.asarray(_size(some) + slides[some.group])

    def flat(some: Pieces) -> Floats:
        return frame(some)(np.arange(len(some)), np.zeros(len(some)))

    def done(some: Pieces) -> Floats:
        own = _of(swings, some.group)(np.arange(len(some)))
        return turned(some.axis, angles[some.group], *own.finished())

    def going_back(some: Pieces) -> Motion:
        return _seen_by_leaf(first, done(some))

    def far_from_hinge(some: Pieces) -> Floats:
        ax, ay, bx, by = done(some).T
        hx, hy = first.hinge
        return np.asarray(np.maximum(np.hypot(ax - hx, ay - hy), np.hypot(bx - hx, by - hy)))

    still = alive({})
    rest, at = {}, {}
    rest["leaf"], at["leaf"] = look.moving(
        pieces, in_leaf, body.leaf, off_leaf & still, tops, lambda some: on_leaf[some.group]
    )
    still = alive(rest)
    rest["clamp bar"], at["clamp bar"] = look.moving(pieces, frame, body.bar, off_bar & still, tops, speed)
    still = alive(rest)
    rest["bed"], at["bed"] = look.moving(pieces, frame, body.bed, beyond & still, tops, speed)
    still = alive(rest)
    after: dict[str, Floats] = {}
    back, where = look.moving(pieces, going_back, body.leaf, off_leaf & still, np.minimum(angles, tops), far_from_hinge)
    after["leaf going back"] = back
    still = alive(rest | after)
    after["clamp bar"] = look.still(pieces, done, body.bar, off_bar & still)
    after["bed"] = look.still(pieces, done, body.bed, beyond & still)
    in_ = _passing(look, pieces, flat, body, beyond & still, lift, leans=np.zeros(len(swings), bool))
    leans = angles > np.pi / 2 + 1e-9
    out = _passing(look, pieces, done, body, beyond & still, lift, leans=leans)
    return replace(in_, rest=rest, at=at), replace(out, rest=after, at={"leaf going back": where})


def _passing(
    look: Looker,
    pieces: Pieces,
    frame: Callable[[Pieces], Floats],
    body: Bodies,
    chosen: Bools,
    lift: float,
    leans: Bools,
) -> Gaps:
    """The way of the swung side past the bar; ``leans``: groups whose leg leans back over a bar lifted straight."""
    n = len(pieces)
    off_bar = chosen & ~((pieces.run == 1) & (pieces.leaves < 0))
    off_leaf = chosen & ~((pieces.run == 1) & (pieces.leaves > 0))
    axis = frame(pieces)

    def still(body: Body, chosen: Bools) -> Floats:
        return look.placed(pieces, axis, frame, body, chosen)

    straight = {}
    whole = still(body.straight[0], off_bar)
    near = off_bar & (whole < look.cap)  # what the bar sweeps as it is lifted less is part of that
    for k, (passed, lifted) in enumerate(zip(body.straight, body.lifted, strict=True)):
        gap = still(lifted, off_bar & ((whole > 0) if k == 0 else True))
        gap = np.minimum(gap, whole if k == 0 else still(passed, near & (gap > 0)))
        gap[(pieces.run == 0) & leans[pieces.group]] = -1.0
        straight[f"straight {k}"] = gap
    drawn = np.full(n, -1.0)
    if body.drawn is not None and body.lifted_drawn is not None:
        drawn = still(body.drawn, off_bar)
        drawn = np.minimum(drawn, still(body.lifted_drawn, off_bar & (drawn > 0)))
    ax, ay, bx, by = axis.T
    low, high = np.minimum(ay, by) - pieces.reach, np.maximum(ay, by) + pieces.reach
    hooks, most = _hooked(still(body.under_leaf, off_leaf), body.leaf_low, high)
    way = {
        "drawn": drawn,
        "eased": still(body.eased, near),
        "under": hooks,
        "level": still(body.level_leaf, off_leaf),
    }
    if body.drawn_small is not None and body.drawn is not None:
        small = still(body.drawn, off_bar)
        way["drawn small"] = np.minimum(small, still(body.drawn_small, off_bar & (small > 0)))
    if body.under_leaf_small is not None:
        small = still(body.under_leaf_small, off_leaf & (hooks < look.cap))
        way["under small"] = _hooked(small, body.leaf_low, high)[0]
    way |= straight
    in_front = np.minimum(ax, bx) - pieces.reach >= body.front
    for k, less in enumerate(body.short):
        passes = ~off_bar | in_front | (low >= body.nose_level - less)
        way[f"high {k}"] = np.minimum(np.where(passes, CLEAR, lift - less - high), most)
    return Gaps({}, way, np.zeros(n), way["high 0"])


Alive = Callable[[dict[str, Floats]], Bools]


def _size(pieces: Pieces) -> Floats:
    ax, ay, bx, by = pieces.axis.T
    return np.asarray(np.maximum(np.hypot(ax, ay), np.hypot(bx, by)))


def _seen_by_leaf(swing: Swing, axis: Floats) -> Motion:
    """Segments that lie still in the brake, in the frame of the leaf."""

    def moved(which: Ints, theta: Floats) -> Floats:
        ax, ay, bx, by = axis[which].T
        one, other = to_leaf(swing.hinge, swing.drop, ax, ay, theta), to_leaf(swing.hinge, swing.drop, bx, by, theta)
        return np.stack([*one, *other], axis=1)

    return moved


def _of(swings: list[Swing], group: Ints) -> Callable[[Ints], Swing]:
    """The swings of some of the pieces, as one with arrays."""
    first = swings[0]
    if len(swings) == 1:
        return lambda which: first
    names = ("allowance", "neutral", "flat", "top", "angle", "radius")
    table: dict[str, Any] = {n: np.array([getattr(s, n) for s in swings])[group] for n in names}
    return lambda which: replace(first, **{n: v[which] for n, v in table.items()})
