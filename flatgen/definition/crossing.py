"""Legs and bends that run through or touch each other when the part is formed.

Elements are counted along the section as in the file: leg 0, bend 1, leg 2, ... Elements that are one or
two apart cannot meet: a bend below 180 turns its two legs away from each other, and the two bends of a leg
stay on their own sides of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from flatgen.definition.section import BendTrace, LegTrace, Trace

if TYPE_CHECKING:
    from shapely import Polygon

TOUCH = 0.001
"""Elements closer than this touch [mm]."""

SAGITTA = 0.0001
"""Farthest that an arc may be from its chords [mm]."""

MOST_CHORDS = 4000
MOST_PAIRS = 100
"""Pairs that are measured and returned; a coil of many turns has thousands."""

CLOSEST_KIN = 2
"""Elements this many places apart, or fewer, are not compared."""


@dataclass(frozen=True)
class Crossing:
    """Two elements, by place in the section, and how deep they overlap, or 0 [mm]."""

    first: int
    second: int
    depth: float


def crossings(formed: Trace, thickness: float) -> tuple[Crossing, ...]:
    """Pairs of legs and bends that overlap or touch, those of two legs first, the deepest first.

    A bend is named only where no two legs beside it are the ones that meet.

    Parameters
    ----------
    formed : Trace
        The formed section, [mm]
    thickness : float
        Thickness, [mm]

    Returns
    -------
    tuple[Crossing, ...]
        Up to ``MOST_PAIRS`` pairs, with their depth in [mm]; empty for a sound section
    """
    if len(formed.legs) < 3:
        return ()
    from shapely import STRtree

    shapes = elements(formed, thickness)
    left, right = STRtree(shapes).query(shapes, predicate="dwithin", distance=TOUCH)
    pairs = [(int(a), int(b)) for a, b in zip(left, right, strict=True) if b - a > CLOSEST_KIN]
    of_legs = {(a, b) for a, b in pairs if a % 2 == b % 2 == 0}
    others = [pair for pair in pairs if pair not in of_legs and not _near_any(pair, of_legs)]
    told = (sorted(of_legs) + sorted(others))[:MOST_PAIRS]
    found = [Crossing(a, b, _depth(shapes[a], shapes[b])) for a, b in told]
    return tuple(sorted(found, key=lambda c: ((c.first, c.second) not in of_legs, -c.depth, c.first, c.second)))


def _near_any(pair: tuple[int, int], pairs: set[tuple[int, int]]) -> bool:
    near = (-1, 0, 1)
    return any((pair[0] + i, pair[1] + j) in pairs for i in near for j in near)


def elements(formed: Trace, thickness: float) -> list[Polygon]:
    """Legs and bends as polygons in the section plane, in the order of the file.

    Parameters
    ----------
    formed : Trace
        The formed section, [mm]
    thickness : float
        Thickness, [mm]

    Returns
    -------
    list[Polygon]
        One per element, arcs in chords within ``SAGITTA``, [mm]
    """
    shapes = [_leg(formed.legs[0], thickness)]
    for bend, leg in zip(formed.bends, formed.legs[1:], strict=True):
        shapes += [_bend(bend, thickness), _leg(leg, thickness)]
    return shapes


def _leg(leg: LegTrace, thickness: float) -> Polygon:
    from shapely import Polygon

    turn = math.radians(leg.heading)
    dx, dz = -math.sin(turn) * thickness / 2, math.cos(turn) * thickness / 2
    (x0, z0), (x1, z1) = leg.start, leg.end
    return Polygon([(x0 - dx, z0 - dz), (x1 - dx, z1 - dz), (x1 + dx, z1 + dz), (x0 + dx, z0 + dz)])


def _bend(bend: BendTrace, thickness: float) -> Polygon:
    from shapely import Polygon

    outer = bend.inside_radius + thickness
    reach = 2 * math.acos(1 - SAGITTA / outer)
    chords = min(MOST_CHORDS, max(2, math.ceil(math.radians(bend.angle) / reach)))
    shares = [i / chords for i in range(chords + 1)]
    inner_points = [bend.at(s, bend.inside_radius) for s in reversed(shares)]
    return Polygon([bend.at(s, outer) for s in shares] + inner_points)


def _depth(first: Polygon, second: Polygon) -> float:
    """The shorter side of the smallest rectangle about what both cover [mm]."""
    shared = first.intersection(second)
    if shared.area <= 0:
        return 0.0
    ring = shared.minimum_rotated_rectangle
    corners = list(ring.exterior.coords) if ring.geom_type == "Polygon" else []
    return min((math.dist(a, b) for a, b in pairwise(corners)), default=0.0)
