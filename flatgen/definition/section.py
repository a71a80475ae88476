"""The formed section in the x-z plane, found by walking it: a leg's flat, an arc, a leg's flat.

The walk runs along the sheet's mid-surface. The near face is on the left of the walking direction, so up
turns left about a centre on the left. How far a leg runs between its tangent points is found from the
faces themselves (where face lines meet, how far an arc reaches), not from a setback formula: the closed
form (:mod:`flatgen.definition.closed_form`) and this walk check each other.

Placed so that the root leg (the longest flat; the first of equals) runs along +x with its far face on
z = 0 and its left end at x = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from flatgen.core.flat_pattern import Point, Way
from flatgen.definition.closed_form import require_chain
from flatgen.definition.model import Leg, Profile
from flatgen.definition.part import BendSpec
from flatgen.metal.allowance import Dimensions

if TYPE_CHECKING:
    from shapely import Polygon


EQUAL_FLATS = 1e-6
"""Flats that differ by less are equal when the root is chosen [mm]."""


@dataclass(frozen=True)
class LegTrace:
    """A leg as it stands: ``start`` (x, z) at mid-surface, ``length`` of flat [mm], ``heading`` [deg]."""

    start: Point
    heading: float
    length: float

    @property
    def end(self) -> Point:
        return _ahead(self.start, self.heading, self.length)


@dataclass(frozen=True)
class BendTrace:
    """A bend as it stands: ``centre`` (x, z) [mm], ``heading`` at entry [deg], and what it is."""

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
        """Point on an arc about the centre, at a share 0..1 of the bend.

        :param share: 0 at entry, 1 at exit
        :param radius: distance from the centre [mm]
        :returns: (x, z) [mm]
        """
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

    :returns: legs and bends where they stand, [mm] and
    :raises InputRefused: If the part is not a chain (FG041)
    """
    require_chain(profile)
    thickness = profile.thickness
    runs = [_flat(leg, profile.bends_at(i), thickness) for i, leg in enumerate(profile.legs)]
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
    root = next(i for i, run in enumerate(runs) if run > max(runs) - EQUAL_FLATS)
    return _placed(Trace(thickness, tuple(legs), tuple(bends), root))


def limits(profile: Profile, found: Trace, leg: int, dimensions: Dimensions) -> tuple[float, float]:
    """Where a leg's left and right limits lie, along it from where its flat begins.

    A limit is the edge of the sheet or, at a bend, the line that the dimensions name.

    :returns: left and right limit [mm]
    """
    reach = [0.0, 0.0]
    for n, bend in ((0, leg - 1), (1, leg)):
        if 0 <= bend < len(profile.bends):
            reach[n] = _beyond_tangent(profile.bends[bend], profile.thickness, dimensions)
    return (-reach[0], found.legs[leg].length + reach[1])


def _placed(found: Trace) -> Trace:
    """Turned and moved so that the root leg lies along +x from x = 0, its far face on z = 0."""
    base = found.legs[found.root]
    turn = math.radians(-base.heading)
    cos, sin = math.cos(turn), math.sin(turn)

    def move(point: Point) -> Point:
        x, z = point[0] - base.start[0], point[1] - base.start[1]
        return (x * cos - z * sin, x * sin + z * cos + found.thickness / 2)

    legs = tuple(LegTrace(move(leg.start), leg.heading - base.heading, leg.length) for leg in found.legs)
    bends = tuple(
        BendTrace(move(b.centre), b.heading - base.heading, b.angle, b.way, b.inside_radius) for b in found.bends
    )
    return Trace(found.thickness, legs, bends, found.root)


def _flat(leg: Leg, bends: tuple[BendSpec, ...], thickness: float) -> float:
    return leg.length - math.fsum(_beyond_tangent(bend, thickness, leg.dimensions) for bend in bends)


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

    :param thickness: thickness [mm]
    :returns: up to ``MOST_PAIRS`` pairs, with their depth in [mm]; empty for a sound section
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

    :param thickness: thickness [mm]
    :returns: one per element, arcs in chords within ``SAGITTA``
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
