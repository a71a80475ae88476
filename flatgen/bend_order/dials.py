"""What can be turned on a set-up where there is no order: nose, bar, lift and leaf, each between sensible ends."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from flatgen.bend_order import costs as own
from flatgen.bend_order.best import Question
from flatgen.brake.held import face_left, least_swing
from flatgen.core.shop import SetUp

Kind = Literal[
    "order", "hold", "set-up", "leg", "nose radius", "nose angle", "leaf face", "bar depth", "bar height", "lift",
    "throat", "fingers", "open end", "join", "split",
]  # fmt: skip

STEP, FINE_STEP, TURN_STEP = 0.5, 0.25, 1.0
"""Grids of lengths, of nose radii [mm] and of angles [deg]."""
LEAST_BAR = 10.0
"""No clamp bar is thinner [mm]: own choice."""
LEAST_ANGLE = 20.0
"""No bar's nose is sharper [deg]: own choice."""


@dataclass(frozen=True)
class Dial:
    """A number of a set-up: what it is ``now`` and how ``far`` it is turned by ``step`` [mm], [deg]; in ``words``."""

    kind: Kind
    now: float
    far: float
    step: float
    change: Callable[[float], SetUp]
    words: str


def dials_of(question: Question, setup: SetUp) -> Iterator[Dial]:
    """What can be turned on a set-up, and how far: no larger radius than the bends have, no leaf too narrow to bear.

    Parameters
    ----------
    question : Question
        What has no order, [mm]
    setup : SetUp
        One of its set-ups, [mm]

    Returns
    -------
    Iterator[Dial]
        Each once for either way, [mm], [deg]
    """
    clamp, leaf, shop, chain = setup.clamp, setup.leaf, question.shop, question.chain
    bends = [own.formed(c, chain.thickness, setup, shop, question.strength) for c in chain.creases]
    left = min(face_left(b.angle, b.radius, chain.thickness, setup, shop.brake) for b in bends)

    def nose(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, nose_radius=value))

    def slope(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, nose_angle=value))

    def depth(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, depth=value, clamping_depth=min(value, clamp.clamping_depth)))

    def height(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, height=value))

    def lift(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, lift=value))

    radius, angle, thin = clamp.nose_radius, clamp.nose_angle, max(LEAST_BAR, 2 * clamp.nose_radius)
    for far in (min(FINE_STEP, radius), max(radius, *(b.radius for b in bends))):
        yield Dial("nose radius", radius, far, FINE_STEP, nose, "a nose radius of {} (it is {})")
    blunt = min(90.0, 180.0 - max(b.top for b in bends))
    for far in (min(LEAST_ANGLE, angle), max(blunt, angle)):
        yield Dial("nose angle", angle, far, TURN_STEP, slope, "a nose angle of {} (it is {})")
    narrow = min(leaf.face - left + least_swing(shop.brake, chain.thickness), leaf.face)
    yield Dial("leaf face", leaf.face, narrow, STEP, lambda v: narrower(setup, v),
                "a leaf face of {} or narrower (it is {})")  # fmt: skip
    yield Dial("bar depth", clamp.depth, min(thin, clamp.depth), STEP, depth,
                "a clamp bar {} deep or less (it is {})")  # fmt: skip
    yield Dial("bar height", clamp.height, min(thin, clamp.height), STEP, height,
                "a clamp bar {} high or less (it is {})")  # fmt: skip
    far = clamp.lift + clamp.height + sum(chain.flats)
    yield Dial("lift", clamp.lift, far, STEP, lift, "a clamp bar that lifts by {} (it lifts by {})")


def narrower(setup: SetUp, face: float) -> SetUp:
    """With the leaf cut down to a face, and what belongs to it."""
    kept = tuple((min(x, face), y) for x, y in setup.leaf.shape)
    shape = kept if any(x < face for x, _ in kept) else ()
    return replace(setup, leaf=replace(setup.leaf, face=face, shape=shape))
