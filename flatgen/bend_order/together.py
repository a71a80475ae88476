"""Held metal against swung metal, for all sets of bends on either side of one bend at once.

Only the pieces that a cheap bound about the way of the swung side does not part are measured.
"""

from __future__ import annotations

import math

import numpy as np

from flatgen.bend_order.bodies import Swing, transform
from flatgen.bend_order.chain import LEG, Floats, Ints, Pieces, Tree, refine
from flatgen.bend_order.checks import CLEAR
from flatgen.bend_order.gaps import Bools, least_over, segment_distance

NEARLY = 178.0
"""A bend that is folded flat is looked at up to here [deg]."""


def pair_gaps(
    held: Pieces, swung: Pieces, swing: Swing, half: float, cap: float, wanted: tuple[Bools, Bools]
) -> tuple[Ints, Ints, Floats, Floats]:
    """Pairs of pieces that come nearer than the cap, their least clearance and its leaf angle.

    :param half: half the thickness [mm]
    :param cap: clearances above it are left out [mm]
    """
    still = held.axis * [-1, 1, -1, 1] + [swing.tangent, 0, swing.tangent, 0]
    one, other = _candidates(held, swung, still, swing, cap, wanted)
    gap, at = _measure(still[one], held.reach[one], swung.take(other), swing, cap)
    near = (gap < cap) & ((held.kind[one] != LEG) | (swung.kind[other] != LEG))
    index = np.flatnonzero(near)
    if len(index):
        fine_h, own_h = refine(held.take(one[index]), half)
        fine_s, own_s = refine(swung.take(other[index]), half)
        left, right = _matches(own_h, own_s, len(index))
        axis = fine_h.axis[left] * [-1, 1, -1, 1] + [swing.tangent, 0, swing.tangent, 0]
        exact, where = _measure(axis, fine_h.reach[left], fine_s.take(right), swing, cap)
        owner = index[own_h[left]]
        gap[index] = CLEAR
        np.minimum.at(gap, owner, exact)
        order = np.argsort(exact)[::-1]
        at[owner[order]] = where[order]
    kept = gap < cap
    return one[kept], other[kept], gap[kept], at[kept]


def _matches(one: Ints, other: Ints, count: int) -> tuple[Ints, Ints]:
    """All pairs of entries that have the same owner."""
    by_one, by_other = np.argsort(one, kind="stable"), np.argsort(other, kind="stable")
    many, most = np.bincount(one, minlength=count), np.bincount(other, minlength=count)
    pairs = many * most
    owner = np.repeat(np.arange(count), pairs)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(pairs) - pairs, pairs)
    left = (np.cumsum(many) - many)[owner] + place // most[owner]
    right = (np.cumsum(most) - most)[owner] + place % most[owner]
    return by_one[left], by_other[right]


def _measure(still: Floats, reach: Floats, moving: Pieces, swing: Swing, cap: float) -> tuple[Floats, Floats]:
    """Least clearance of pairs over the swing, as finished, and as bent on by hand; and its angle."""
    n = len(still)
    both = reach + moving.reach
    ax, ay, bx, by = moving.axis.T
    speed = np.maximum(np.hypot(ax, ay), np.hypot(bx, by)) + swing.greatest_speeds(_last_angle(swing))[0]

    def sample(which: Ints, theta: Floats) -> Floats:
        return np.asarray(
            segment_distance(still[which], transform(moving.axis[which], theta, *swing.place(theta))) - both[which]
        )

    gap, at = least_over(sample, np.full(n, _last_angle(swing)), speed, cap)
    x, y = swing.finished(whole=True)
    end = np.full(n, float(swing.whole))
    done = segment_distance(still, transform(moving.axis, end, np.full(n, x), np.full(n, y))) - both
    gap, at = np.minimum(gap, done), np.where(done < gap, end, at)
    begin, last = float(np.max(swing.angle)), float(np.max(swing.whole))
    if last <= begin + 1e-9:
        return gap, at

    def by_hand(which: Ints, more: Floats) -> Floats:
        angle = begin + more
        return np.asarray(
            segment_distance(still[which], transform(moving.axis[which], angle, *swing.by_hand(angle))) - both[which]
        )

    speed = np.maximum(np.hypot(ax, ay), np.hypot(bx, by)) + float(np.max(swing.radius)) + swing.thickness
    least, where = least_over(by_hand, np.full(n, last - begin), speed, cap)
    return np.minimum(gap, least), np.where(least < gap, begin + where, at)


def _last_angle(swing: Swing) -> float:
    """How far the swung side turns: with the leaf, and by hand from there; nearly flat where it is folded over."""
    return min(max(float(swing.top), float(swing.whole)), math.radians(NEARLY))


def _candidates(
    held: Pieces, swung: Pieces, still: Floats, swing: Swing, cap: float, wanted: tuple[Bools, Bools]
) -> tuple[Ints, Ints]:
    """Pairs that rings about the held tangent line, and the angles that they sweep, do not part."""
    x, y = swing.place(np.linspace(0.0, _last_angle(swing), 90))
    done = swing.finished(whole=True)
    shift = float(max(np.max(np.hypot(x - swing.tangent, y)), np.hypot(done[0] - swing.tangent, done[1]))) * 1.01
    margin = cap + shift
    near_h, far_h, from_h, to_h = _ring(still - [swing.tangent, 0, swing.tangent, 0], held.reach)
    near_s, far_s, from_s, to_s = _ring(swung.axis, swung.reach)
    to_s = to_s + max(_last_angle(swing), float(swing.whole))
    slack = np.arcsin(np.minimum(margin / np.maximum(near_s - margin, 1e-9), 1.0))
    from_s, to_s = from_s - slack - 0.01, to_s + slack + 0.01
    rows = np.flatnonzero(wanted[0])
    columns = np.flatnonzero(wanted[1])
    ones, others = [], []
    step = max(1, 2_000_000 // max(len(columns), 1))
    for start in range(0, len(rows), step):
        r = rows[start : start + step, None]
        c = columns[None, :]
        meet = (near_h[r] <= far_s[c] + margin) & (near_s[c] - margin <= far_h[r])
        meet &= (held.bends_made[r] > 0) | (swung.bends_made[c] > 0)
        apart = np.ones(meet.shape, bool)
        for k in (-1, 0, 1, 2):
            turn = 2 * math.pi * k
            apart &= (to_h[r] + turn < from_s[c]) | (from_h[r] + turn > to_s[c])
        meet &= ~apart | (near_s[c] <= 2 * margin)
        i, j = np.nonzero(meet)
        ones.append(rows[start : start + step][i])
        others.append(columns[j])
    if not ones:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    return np.concatenate(ones), np.concatenate(others)


def _ring(axis: Floats, reach: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Nearest and farthest from the origin, and the angles between which each piece is seen from there."""
    ax, ay, bx, by = axis.T
    dx, dy = bx - ax, by - ay
    along = np.clip(-(ax * dx + ay * dy) / np.maximum(dx * dx + dy * dy, 1e-300), 0.0, 1.0)
    near = np.hypot(ax + along * dx, ay + along * dy)
    far = np.maximum(np.hypot(ax, ay), np.hypot(bx, by)) + reach
    one = np.arctan2(ay, ax)
    turn = np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
    wide = np.where(near > reach, np.arcsin(np.minimum(reach / np.maximum(near, 1e-12), 1.0)), math.pi)
    return np.maximum(near - reach, 0.0), far, np.minimum(one, one + turn) - wide, np.maximum(one, one + turn) + wide


def spread(trees: tuple[Tree, Tree], pairs: tuple[Ints, Ints, Floats], sizes: tuple[int, int]) -> Floats:
    """For each set of bends held and each set swung the least clearance of their pieces."""
    least = np.full(sizes, CLEAR)
    one, other, gap = pairs
    if not len(one):
        return least
    step_h, set_h = _places(trees[0], one)
    step_s, set_s = _places(trees[1], other)
    key = step_h * 64 + step_s
    for value in np.unique(key):
        chosen = key == value
        a, b = int(value) // 64, int(value) % 64
        small = np.full((1 << a, 1 << b), CLEAR)
        np.minimum.at(small, (set_h[chosen], set_s[chosen]), gap[chosen])
        view = least.reshape(sizes[0] >> a, 1 << a, sizes[1] >> b, 1 << b)
        np.minimum(view, small[None, :, None, :], out=view)
    return least


def _places(tree: Tree, index: Ints) -> tuple[Ints, Ints]:
    """How many bends out each piece lies, and for which set of them."""
    starts, sets = [], []
    for k in range(len(tree.legs)):
        starts.append(tree.legs[k])
        sets.append((k, 0))
        if k:
            starts.append(tree.curves[k])
            sets.append((k, 1 << (k - 1)))
    order = np.searchsorted(np.array(starts), index, side="right") - 1
    table = np.array(sets)
    return table[order, 0], index - np.array(starts)[order] + table[order, 1]
