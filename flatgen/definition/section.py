"""The formed section in the x-z plane, found by walking it (leg, bend, leg, ...), and where it crosses itself.

The walk runs along the sheet's mid-surface with the near face on its left, so up turns left. A leg's flat follows
from where the lines of its faces meet, not from a setback formula: the closed form
(:mod:`flatgen.definition.closed_form`) and this walk check each other.

The root leg (the longest flat; the first of equals) runs along +x with its far face on z = 0 and its left end at
x = 0. Elements are counted along the section: leg 0, bend 1, leg 2, ...
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from flatgen.core.flat_pattern import Point, Way
from flatgen.definition.closed_form import require_chain
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec
from flatgen.metal.allowance import Dimensions

if TYPE_CHECKING:
    from shapely import Polygon

SAME_FLAT = 1e-6
"""Flats that differ by less are equal when the root is chosen [mm]."""
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
class LegTrace:
    """A formed leg: ``start`` (x, z) at mid-surface, ``length`` of flat [mm], ``heading`` [deg]."""

    start: Point
    heading: float
    length: float

    @property
    def end(self) -> Point:
        return _ahead(self.start, self.heading, self.length)


@dataclass(frozen=True)
class BendTrace:
    """A formed bend: ``centre`` (x, z) [mm], ``heading`` where the walk enters it [deg]."""

    centre: Point
    heading: float
    angle: float
    way: Way
    inside_radius: float

    @property
    def turn(self) -> float:
        """Change of heading, positive to the left [deg]."""
        return self.angle if self.way == "up" else -self.angle

    def at(self, share: float, radius: float) -> Point:
        """Point (x, z) at a ``radius`` from the centre [mm], ``share`` 0 at entry to 1 at exit."""
        side = -90.0 if self.way == "up" else 90.0
        return _ahead(self.centre, self.heading + side + self.turn * share, radius)


@dataclass(frozen=True)
class Trace:
    """The formed section; ``legs[root]`` lies along +x."""

    thickness: float
    legs: tuple[LegTrace, ...]
    bends: tuple[BendTrace, ...]
    root: int


def trace(profile: Profile) -> Trace:
    """Walk the formed section of a chain.

    :raises InputRefused: If the part is not a chain (FG041)
    """
    require_chain(profile)
    thickness = profile.thickness
    runs = [
        leg.length - math.fsum(_beyond_tangent(bend, thickness, leg.dimensions) for bend in profile.bends_at(i))
        for i, leg in enumerate(profile.legs)
    ]
    point, heading = (0.0, 0.0), 0.0
    legs = [LegTrace(point, heading, runs[0])]
    bends: list[BendTrace] = []
    for bend, run in zip(profile.bends, runs[1:], strict=True):
        point = legs[-1].end
        side = 90.0 if bend.way == "up" else -90.0
        middle = bend.inside_radius + thickness / 2
        centre = _ahead(point, heading + side, middle)
        bends.append(BendTrace(centre, heading, bend.angle, bend.way, bend.inside_radius))
        heading += bends[-1].turn
        legs.append(LegTrace(bends[-1].at(1.0, middle), heading, run))
    root = next(i for i, run in enumerate(runs) if run > max(runs) - SAME_FLAT)
    return _placed(Trace(thickness, tuple(legs), tuple(bends), root))


def formed_limits(profile: Profile, section: Trace, leg: int, dimensions: Dimensions) -> tuple[float, float]:
    """Left and right limit of a leg, along it from where its flat begins [mm].

    A limit is the edge of the sheet or, at a bend, the line that the dimensions name.
    """
    reach = [0.0, 0.0]
    for n, bend in ((0, leg - 1), (1, leg)):
        if 0 <= bend < len(profile.bends):
            reach[n] = _beyond_tangent(profile.bends[bend], profile.thickness, dimensions)
    return (-reach[0], section.legs[leg].length + reach[1])


def _placed(section: Trace) -> Trace:
    """Turned and moved so that the root leg lies along +x from x = 0, its far face on z = 0."""
    base = section.legs[section.root]
    turn = math.radians(-base.heading)
    cos, sin = math.cos(turn), math.sin(turn)

    def move(point: Point) -> Point:
        x, z = point[0] - base.start[0], point[1] - base.start[1]
        return (x * cos - z * sin, x * sin + z * cos + section.thickness / 2)

    legs = tuple(LegTrace(move(leg.start), leg.heading - base.heading, leg.length) for leg in section.legs)
    bends = tuple(
        BendTrace(move(b.centre), b.heading - base.heading, b.angle, b.way, b.inside_radius) for b in section.bends
    )
    return Trace(section.thickness, legs, bends, section.root)


def _beyond_tangent(bend: BendSpec, thickness: float, dimensions: Dimensions) -> float:
    """How far the leg's dimension reaches past the tangent line, along the leg [mm]."""
    inner, outer = bend.inside_radius, bend.inside_radius + thickness
    radius = inner if dimensions.startswith("inside") else outer
    if dimensions in ("overall", "inside-overall") and bend.angle > 90.0:
        return max(radius * math.sin(math.radians(a)) for a in (90.0, bend.angle))
    chord = 2 * radius * math.sin(math.radians(bend.angle / 2))
    across = np.array(_ahead((0.0, 0.0), bend.angle / 2, chord))
    onward = np.array(_ahead((0.0, 0.0), bend.angle, 1.0))
    steps = np.linalg.solve(np.column_stack(([1.0, 0.0], onward)), across)
    return float(steps[0])


def _ahead(point: Point, heading: float, distance: float) -> Point:
    angle = math.radians(heading)
    return (point[0] + distance * math.cos(angle), point[1] + distance * math.sin(angle))


@dataclass(frozen=True)
class Crossing:
    """Two elements, by place in the section, and how deep they overlap, or 0 [mm]."""

    first: int
    second: int
    depth: float


def crossings(section: Trace, thickness: float) -> tuple[Crossing, ...]:
    """Up to ``MOST_PAIRS`` legs and bends that overlap or touch, those of two legs first, the deepest first.

    A bend is named only where no two legs beside it are the ones that meet.
    """
    if len(section.legs) < 3:
        return ()
    from shapely import STRtree

    shapes = element_polygons(section, thickness)
    left, right = STRtree(shapes).query(shapes, predicate="dwithin", distance=TOUCH)
    pairs = [(int(a), int(b)) for a, b in zip(left, right, strict=True) if b - a > CLOSEST_KIN]
    of_legs = {(a, b) for a, b in pairs if a % 2 == b % 2 == 0}
    near = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)]  # elements beside those that meet
    others = [(a, b) for a, b in pairs if not any((a + i, b + j) in of_legs for i, j in near)]
    measured = (sorted(of_legs) + sorted(others))[:MOST_PAIRS]
    depths = [Crossing(a, b, _depth(shapes[a], shapes[b])) for a, b in measured]
    return tuple(sorted(depths, key=lambda c: ((c.first, c.second) not in of_legs, -c.depth, c.first, c.second)))


def element_polygons(section: Trace, thickness: float) -> list[Polygon]:
    """Each element as a polygon in the section plane, its arcs in chords within ``SAGITTA``."""
    shapes = [_leg(section.legs[0], thickness)]
    for bend, leg in zip(section.bends, section.legs[1:], strict=True):
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
