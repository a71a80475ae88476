"""A flat pattern folded to any set of bend angles, without the kernel.

While a bend opens and closes, the neutral fibre keeps its length (the allowance): at an angle a [rad] the inside
radius is ``allowance / a - k t``. Frames: x, y of the flat, z = 0 far face, z = t near face. Points are (n, 3) [mm].
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from flatgen.core.flat_pattern import Bend, FlatPattern, Matrix

Points = NDArray[np.float64]


def _hinge_move(bend: Bend, thickness: float, angle: float) -> Matrix:
    """Rigid move (4 x 4) of the far side of a bend, from the flat to an ``angle`` [deg] of 0 or more."""
    across = np.array((*bend.across, 0.0))
    flattened = np.eye(4)
    if angle <= 0.0:
        return flattened
    flattened[:3, 3] = -bend.allowance * across
    return _turn(bend, thickness, angle) @ flattened


def placements(flat: FlatPattern, angles: Mapping[str, float] | None = None) -> tuple[Matrix, ...]:
    """Where each panel goes (4 x 4, from the flat), the root panel staying in place.

    :param angles: by label of the bend [deg]; bends that are not named stand at their own angle.
    """
    placed: list[Matrix | None] = [None] * len(flat.panels)
    placed[flat.root] = np.eye(4)
    waiting = list(flat.bends)
    while waiting:
        later = []
        for bend in waiting:
            start = placed[bend.first]
            if start is None:
                later.append(bend)
            else:
                angle = (angles or {}).get(bend.label, bend.angle)
                placed[bend.second] = start @ _hinge_move(bend, flat.thickness, angle)
        if len(later) == len(waiting):
            raise ValueError("bends that do not hang on the root panel")
        waiting = later
    return tuple(p for p in placed if p is not None)


def fold_panel(placed: Matrix, points: Points) -> Points:
    """Points of the flat carried by a placement (4 x 4)."""
    return points @ placed[:3, :3].T + placed[:3, 3]


def fold_zone(flat: FlatPattern, bend: Bend, placed: Matrix, points: Points, angle: float | None = None) -> Points:
    """Points of a bend zone, rolled about the bend's axis.

    :param placed: placement (4 x 4) of the bend's first panel
    :param angle: [deg], 0 or more; the bend's own where it is left out
    """
    angle = bend.angle if angle is None else angle
    across = np.array((*bend.across, 0.0))
    travel = (points - np.array((*bend.origin, 0.0))) @ across
    if angle <= 0.0:
        return fold_panel(placed, points)
    centre, axis, sign = _axis(bend, flat.thickness, angle)
    arms = points - np.outer(travel, across) - centre
    turned = sign * math.radians(angle) * travel / bend.allowance
    sideways = np.cross(axis, arms)
    rise = np.outer(arms @ axis, axis)
    rolled = centre + rise + np.cos(turned)[:, None] * (arms - rise) + np.sin(turned)[:, None] * sideways
    return fold_panel(placed, rolled)


def folded_volume(flat: FlatPattern) -> float:
    """Volume of the formed part, from the flat alone (walls square to the sheet) [mm3].

    A bend's zone of area S is a share S / allowance x angle of a ring between r and r + t.
    """
    t = flat.thickness
    panels = math.fsum(r.area for p in flat.panels for r in p.regions)
    total = panels * t
    for bend in flat.bends:
        area = math.fsum(s.zone.area - math.fsum(o.area for o in s.openings) for s in bend.segments)
        ring = bend.inside_radius * t + t * t / 2
        total += area / bend.allowance * math.radians(bend.angle) * ring
    return total


def _axis(bend: Bend, thickness: float, angle: float) -> tuple[Points, Points, float]:
    """Point, direction and sense of turning of the axis of a bend that stands at an angle [deg]."""
    radius = bend.allowance / math.radians(angle) - bend.k * thickness
    up = bend.way == "up"
    centre = np.array((*bend.origin, thickness + radius if up else -radius))
    return centre, np.array((*bend.along, 0.0)), -1.0 if up else 1.0  # right-handed about ``along``: across goes down


def _turn(bend: Bend, thickness: float, angle: float) -> Matrix:
    """Rotation by ``angle`` [deg] about the axis of a bend that stands at it."""
    centre, axis, sign = _axis(bend, thickness, angle)
    a = sign * math.radians(angle)
    skew = np.array(((0, -axis[2], axis[1]), (axis[2], 0, -axis[0]), (-axis[1], axis[0], 0)))
    rotation = np.eye(3) + math.sin(a) * skew + (1 - math.cos(a)) * skew @ skew
    move = np.eye(4)
    move[:3, :3] = rotation
    move[:3, 3] = centre - rotation @ centre
    return move
