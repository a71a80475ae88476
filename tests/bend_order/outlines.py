"""Outlines of metal and brake in section, from lengths and measures alone: for the sampler.

Nothing of flatgen's shapes is used. See tests/order/sampled.py for what run and leaves mean. Millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flatgen.bend_order.chain import Chain
from flatgen.core.schedule import WhichSide
from flatgen.core.shop import Brake, ClampBar, Leaf, SetUp

Floats = NDArray[np.float64]

ARC = math.radians(1.5)
"""Chords that stand for curves, 0.0008 mm from a curve of 10 mm."""


@dataclass(frozen=True)
class Stage:
    """One stage: ``made`` as bits, bend k is bit k; ``top`` [deg]: largest angle of the leaf; ``setting`` [mm];
    ``endwise``: whether the part may leave along the bar."""

    chain: Chain
    brake: Brake
    setup: SetUp
    setting: float
    bend: int
    held: WhichSide
    made: int
    top: float
    endwise: bool

    @property
    def tangent(self) -> float:
        """x of the held tangent line [mm]."""
        return -(self.setting + self.setup.clamp.nose_radius + self.setup.offset)

    @property
    def angle(self) -> float:
        """Angle of the finished bend when it leaves the brake [rad]."""
        return math.radians(min(self.chain.angles[self.bend], self.top))

    def beside(self) -> int:
        """Leg that lies on the leaf."""
        return self.bend + 1 if self.held == "first" else self.bend

    def bends_on(self, which: WhichSide) -> list[int]:
        """Bends on one side of this one, the nearest first."""
        return list(range(self.bend))[::-1] if which == "first" else list(range(self.bend + 1, self.chain.bends))


@dataclass(frozen=True)
class Piece:
    """A leg, or a bend, of one side: ``outline`` and the same in convex ``quads`` (n, 4, 2) [mm]."""

    outline: Floats
    quads: Floats
    run: int
    leaves: int


def side_of(stage: Stage, which: WhichSide) -> list[Piece]:
    """Outlines on one side of the bend, s outward from its tangent line, y = 0 on the outer face, y up inside it."""
    chain, t = stage.chain, stage.chain.thickness
    at, way, run, leaves = np.zeros(2), 0.0, 0, 0
    near = stage.bend if which == "first" else stage.bend + 1
    found = []

    def flat(length: float) -> None:
        nonlocal at
        along = np.array([math.cos(way), math.sin(way)])
        up = np.array([-along[1], along[0]]) * t
        quad = np.array([at, at + along * length, at + along * length + up, at + up])
        found.append(Piece(quad, quad[None], run, leaves))
        at = at + along * length

    flat(chain.flats[near])
    for bend in stage.bends_on(which):
        beyond = bend if which == "first" else bend + 1
        if not stage.made >> bend & 1:
            flat(chain.allowances[bend])
            flat(chain.flats[beyond])
            continue
        turn = chain.ups[bend] * chain.ups[stage.bend]
        run, leaves = run + 1, leaves or turn
        up = np.array([-math.sin(way), math.cos(way)])
        r = chain.radii[bend]
        middle = at + up * (t + r if turn > 0 else -r)
        from_middle = -turn * up
        steps = np.linspace(0.0, math.radians(chain.angles[bend]), 2 + int(math.radians(chain.angles[bend]) / ARC))
        rays = np.stack([_turned(from_middle, turn * a) for a in steps])
        inner, outer = middle + rays * r, middle + rays * (r + t)
        quads = np.stack([inner[:-1], inner[1:], outer[1:], outer[:-1]], axis=1)
        found.append(Piece(np.concatenate([inner, outer[::-1]]), quads, run, leaves))
        at = (outer if turn > 0 else inner)[-1]
        way += turn * steps[-1]
        flat(chain.flats[beyond])
    return found


def _turned(v: Floats, a: float) -> Floats:
    return np.array([v[0] * math.cos(a) - v[1] * math.sin(a), v[0] * math.sin(a) + v[1] * math.cos(a)])


def _box(left: float, right: float, low: float, high: float) -> Floats:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def bed_of(brake: Brake) -> Floats:
    """Outline of the bed [mm]."""
    return _box(-brake.bed_depth, 0.0, -brake.bed_height, 0.0)


def bar_of(clamp: ClampBar, setting: float, t: float) -> Floats:
    """Outline of the clamped bar, its nose round [mm]."""
    nose, slope = clamp.nose_radius, math.radians(clamp.nose_angle)
    middle = np.array([-setting - nose, t + nose])
    end = math.pi / 2 - slope
    angles = np.linspace(-math.pi / 2, end, 2 + int((end + math.pi / 2) / ARC))
    arc = middle + nose * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    back, top = min(-setting - clamp.depth, float(middle[0])), t + clamp.height
    x, y = arc[-1]
    front = x - (top - y) / math.tan(slope)
    if front >= back:
        rest = [(front, top), (back, top), (back, t)]
    else:
        rest = [(back, y + (x - back) * math.tan(slope)), (back, t)]
    return np.concatenate([arc, np.array(rest)])


def leaf_of(leaf: Leaf, hinge: tuple[float, float]) -> list[Floats]:
    """Outlines of the leaf at rest, in the brake [mm]."""
    foot = np.array([hinge[0], -leaf.drop])
    own = [_box(0.0, leaf.face, -leaf.depth, 0.0)] + ([np.array(leaf.shape)] if leaf.shape else [])
    return [foot + o for o in own]
