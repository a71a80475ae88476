"""Brake and sheet drawn in section from the numbers of a schedule alone, coded apart from the brake's formulas.

No setback, no half-angle tangent: the bend's centre is where lines parallel to the sheet's outer faces cross, the leaf
is the face at rest turned about the hinge, corners are crossings of drawn lines. What a sight line, a setting or an
allowance gets wrong shows as a face that is not where it has to be.

Origin at the bed's front edge, x toward the worker, y up, y = 0 on the bed's top; the held leg lies at 0 <= y <= t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.core.schedule import Schedule, Side, Stage

FAR = 5000.0
"""Half the length of lines drawn as if without end [mm]."""
CHORDS = 3000
"""Chords in a drawn arc: for 20 mm and 120 degrees they lie within 1e-6 of it."""


@dataclass(frozen=True)
class Bent:
    """A sheet with one bend, drawn: its ``sheet`` (polygon), the swung outer and the inner arc's line, its corner.

    ``edge`` and ``tangent`` are the x of the held edge and of the held tangent line; ``corner`` is where the outer
    faces cross; ``held``, ``swung`` [mm]: from the corner to the two edges; ``to_held``, ``to_swung``: to the tangents.
    """

    sheet: Any
    outer: Any
    inner: Any
    edge: float
    tangent: float
    corner: tuple[float, float]
    held: float
    swung: float
    to_held: float
    to_swung: float
    arc: float


@dataclass(frozen=True)
class Brake:
    """The tool's parts that meet the sheet: nose ``centre``, ``radius``, ``front`` (x), and the leaf's face (line)."""

    centre: tuple[float, float]
    radius: float
    front: float
    face: Any


def sides(stage: Stage) -> tuple[Side, Side]:
    """Held and swung side of a stage."""
    pair = (stage.crease.first, stage.crease.second)
    return pair if stage.sight.held == "first" else pair[::-1]


def brake(schedule: Schedule, angle: float, thickness: float) -> Brake:
    """Nose and leaf at a leaf angle [deg]; the nose rests on a sheet of that thickness [mm]."""
    from shapely import LineString
    from shapely.affinity import rotate

    assert schedule.setting is not None
    (x, _), radius = schedule.shop.brake.hinge, schedule.setup.clamp.nose_radius
    rest = LineString([(x - FAR, -schedule.setup.leaf.drop), (x + FAR, -schedule.setup.leaf.drop)])
    face = rotate(rest, angle, origin=schedule.shop.brake.hinge)
    return Brake((-schedule.setting - radius, thickness + radius), radius, -schedule.setting, face)


def bent(edge: float, flat: float, beyond: float, thickness: float, radius: float, angle: float) -> Bent:
    """A sheet lying on the bed, bent up: ``flat`` [mm] from its edge to the held tangent line, ``beyond`` it swings."""
    from shapely import LineString, Point, Polygon

    tangent = edge + flat
    centre = (tangent, thickness + radius)
    turn = math.radians(angle)
    away = (math.cos(turn), math.sin(turn))

    steps = np.linspace(0.0, turn, CHORDS + 1)
    sines, cosines = np.sin(steps), np.cos(steps)

    def arc(size: float) -> NDArray[np.float64]:
        return np.column_stack((centre[0] + size * sines, centre[1] - size * cosines))

    def after(point: Sequence[float], far: float) -> tuple[float, float]:
        return (point[0] + far * away[0], point[1] + far * away[1])

    outer, inner = arc(radius + thickness), arc(radius)
    swung = [tuple(outer[-1]), after(outer[-1], beyond)]
    ends = [swung[1], after(inner[-1], beyond)]
    around = np.vstack(([(edge, 0.0)], outer, ends, inner[::-1], [(edge, thickness)]))
    drawn = LineString([after(outer[-1], -FAR), after(outer[-1], FAR)])
    crossing = drawn.intersection(LineString([(-FAR, 0.0), (FAR, 0.0)]))
    corner = (crossing.x, crossing.y)
    return Bent(
        sheet=Polygon(around),
        outer=LineString(swung),
        inner=LineString(inner),
        edge=edge,
        tangent=tangent,
        corner=corner,
        held=Point(corner).distance(Point(edge, 0.0)),
        swung=Point(corner).distance(Point(swung[1])),
        to_held=Point(corner).distance(Point(tangent, 0.0)),
        to_swung=Point(corner).distance(Point(swung[0])),
        arc=LineString(arc(radius + thickness / 2)).length,
    )


def loaded(schedule: Schedule, stage: Stage, thickness: float) -> Bent:
    """The sheet at full swing, its sight line under the nose's front, bent to what the setting is said to give."""
    assert schedule.setting is not None
    assert stage.radius is not None
    held, swung = sides(stage)
    crease, angle = stage.crease, stage.loaded_angle
    kept = (stage.radius.high + thickness / 2) * crease.angle  # arc at mid thickness, over pi/180
    edge = -schedule.setting - stage.sight.from_held_edge
    return bent(edge, held.reach, swung.reach, thickness, kept / angle - thickness / 2, angle)


def released(stage: Stage, lying: Bent, thickness: float) -> Bent:
    """The same sheet let go: its held tangent line stays, angle and radius are those asked for."""
    held, swung = sides(stage)
    crease = stage.crease
    return bent(lying.edge, held.reach, swung.reach, thickness, crease.inside_radius, crease.angle)


def bearing(schedule: Schedule, stage: Stage, thickness: float, radius: float) -> float:
    """x of the held tangent line of a sheet that lies on the bed and on the leaf's face at full swing.

    Its bend's centre is radius + thickness from either face: where their parallels cross.
    """
    from shapely import LineString
    from shapely.affinity import translate

    size, turn = radius + thickness, math.radians(stage.loaded_angle)
    face = brake(schedule, stage.loaded_angle, thickness).face
    inside = translate(face, -size * math.sin(turn), size * math.cos(turn))
    level = LineString([(-FAR, size), (FAR, size)])
    return float(inside.intersection(level).x)
