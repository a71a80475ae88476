"""The flat faces of each leg on a kernel solid, and openings pierced through them without a boolean.

skin      a flat face of a leg, near or far, as a polygon in the frame of the leg
shadow    what a face that is no skin of a leg covers of the leg's flat, seen along its normal: the hull of its
          edges, which holds a face on a plane or cylinder whole, since its straight lines end on its edges
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from flatgen.core.flat_pattern import Loop, Matrix
from flatgen.definition.section import Trace
from flatgen.definition.solid.bodies import kernel_direction, subshapes, wire_of
from flatgen.definition.solid.places import WEB, leg_frame

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry


NEAR = 1e-6
"""Two places of the formed part that lie closer are one [mm]."""
CHORD = 1e-3
"""Farthest that an edge may be from its chords [mm]."""
CHORDS = 16
MOST_CHORDS = 2000

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Outline:
    """A kernel face in points [mm]: one array per wire, and ``slack``, the most that an edge leaves its chords."""

    face: Any
    wires: tuple[Points, ...]
    slack: float


def outline_of(face: Any, chord: float = CHORD) -> Outline:
    """The wires of a kernel face as points along their edges, about ``chord`` [mm] from their chords."""
    from OCP.BRepTools import BRepTools_WireExplorer
    from OCP.TopAbs import TopAbs_WIRE
    from OCP.TopoDS import TopoDS

    wires, slack = [], 0.0
    for wire in subshapes(face, TopAbs_WIRE):
        walk, points = BRepTools_WireExplorer(TopoDS.Wire_s(wire), face), []
        while walk.More():
            added, loose = _edge_points(walk.Current(), chord)
            points.append(added)
            slack = max(slack, loose)
            walk.Next()
        if points:
            wires.append(np.vstack(points))
    return Outline(face, tuple(wires), slack)


def _edge_points(edge: Any, chord: float) -> tuple[Points, float]:
    """Points along an edge, its end left to the next one, and how far it leaves the chords between [mm]."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
    from OCP.TopAbs import TopAbs_REVERSED

    curve = BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    if edge.Orientation() == TopAbs_REVERSED:
        first, last = last, first
    if curve.GetType() == GeomAbs_Circle:
        return _circle_points(curve.Circle(), first, last, chord)

    def points(count: int) -> Points:
        items = (curve.Value(float(p)) for p in np.linspace(first, last, count + 1))
        return np.array([(p.X(), p.Y(), p.Z()) for p in items])

    if curve.GetType() == GeomAbs_Line:
        start = curve.Value(first)
        return np.array([(start.X(), start.Y(), start.Z())]), 0.0
    curve_points = points(CHORDS)
    slack = _leaving(curve_points)
    if slack > chord:
        curve_points = points(min(MOST_CHORDS, int(CHORDS * np.sqrt(slack / chord)) + 1))
        slack = _leaving(curve_points)
    return curve_points[:-1], slack


def _circle_points(circle: Any, first: float, last: float, chord: float) -> tuple[Points, float]:
    """Points along an arc, at least eight of a full circle, and its sagitta [mm]."""
    radius = circle.Radius()
    reach = min(math.pi / 4, 2 * math.acos(max(0.0, 1 - chord / radius)))
    count = min(MOST_CHORDS, max(1, math.ceil(abs(last - first) / reach)))
    centre, x, y = circle.Location(), circle.XAxis().Direction(), circle.YAxis().Direction()
    angles = np.linspace(first, last, count, endpoint=False)[:, None]
    at, u, v = (np.array((p.X(), p.Y(), p.Z())) for p in (centre, x, y))
    points: Points = at + radius * (np.cos(angles) * u + np.sin(angles) * v)
    return points, radius * (1 - math.cos((last - first) / count / 2))


def _leaving(points: Points) -> float:
    """How far a curve leaves its chords, from second differences [mm]."""
    return float(np.max(np.linalg.norm(points[2:] - 2 * points[1:-1] + points[:-2], axis=1))) / 8


def in_leg_frame(place: Matrix, points: Points) -> Points:
    """Points of the formed part in the frame of a leg."""
    local: Points = (points - place[:3, 3]) @ place[:3, :3]
    return local


def leg_skins(outlines: list[Outline], section: Trace, leg: int) -> tuple[dict[int, Polygon], dict[int, Polygon]]:
    """Near and far flat faces of a leg, by number in ``outlines``, as polygons across and along [mm]."""
    from shapely import Polygon

    place, wide = leg_frame(section, leg), section.legs[leg].length
    sides: tuple[dict[int, Polygon], dict[int, Polygon]] = ({}, {})
    for number, outline in enumerate(outlines):
        side = _side(outline, place, wide, section.thickness)
        if side is None:
            continue
        rings = [in_leg_frame(place, w)[:, :2] for w in outline.wires]
        shapes = sorted((Polygon(r) for r in rings if len(r) > 2), key=lambda s: -s.area)
        sides[side][number] = Polygon(shapes[0].exterior, [s.exterior for s in shapes[1:]])
    return sides


def _side(outline: Outline, place: Matrix, wide: float, thickness: float) -> int | None:
    """0 where a face lies on the near side of a leg's flat, 1 on the far side, None elsewhere."""
    if not outline.wires:
        return None
    points = in_leg_frame(place, outline.wires[0])
    heights = points[:, 2]
    middle = float(np.mean(points[:, 0]))
    if np.ptp(heights) > NEAR or not 0 < middle < wide:
        return None
    if points[:, 0].min() < -NEAR or points[:, 0].max() > wide + NEAR:
        return None
    for side, height in ((0, 0.0), (1, -thickness)):
        if abs(heights[0] - height) < NEAR:
            return side if facing(outline.face, place) == (1 if side == 0 else -1) else None
    return None


def facing(face: Any, place: Matrix) -> int:
    """1 where a flat face looks along the normal of a leg, -1 where against it, else 0."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Plane
    from OCP.TopAbs import TopAbs_REVERSED

    surface = BRepAdaptor_Surface(face)
    if surface.GetType() != GeomAbs_Plane:
        return 0
    plane = surface.Plane()
    axis = plane.Axis().Direction()
    share = float(np.dot((axis.X(), axis.Y(), axis.Z()), place[:3, 2]))
    if (face.Orientation() == TopAbs_REVERSED) == plane.Position().Direct():
        share = -share
    return round(share) if abs(share) > 1 - NEAR else 0


def shadows(outlines: list[Outline], section: Trace, leg: int, skins: set[int]) -> list[BaseGeometry]:
    """What all faces but its ``skins`` (numbers) cover of a leg's flat, grown by ``WEB`` and their slack."""
    from shapely import MultiPoint

    place, wide = leg_frame(section, leg), section.legs[leg].length
    covered = []
    for number, outline in enumerate(outlines):
        if number in skins or not outline.wires:
            continue
        points = in_leg_frame(place, np.vstack(outline.wires))
        (u0, _, w0), (u1, _, w1) = points.min(axis=0), points.max(axis=0)
        if w1 > NEAR - section.thickness and w0 < -NEAR and u1 > -WEB and u0 < wide + WEB:
            covered.append(MultiPoint(points[:, :2]).convex_hull.buffer(WEB + 2 * outline.slack))
    return covered


@dataclass(frozen=True)
class Hole:
    """A clockwise ``loop`` in the frame ``place`` of a leg, and the indices of the faces it goes through."""

    place: Matrix
    loop: Loop
    near: int
    far: int


def faces_of(solid: Any) -> list[Any]:
    """The kernel faces of a solid, looking outward."""
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopoDS import TopoDS

    return [TopoDS.Face_s(f) for f in subshapes(solid, TopAbs_FACE)]


def pierce(solid: Any, holes: Iterable[Hole], thickness: float) -> Any:
    """A solid with holes through its faces, which are counted as :func:`faces_of` lists them."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    faces = faces_of(solid)
    wires: dict[int, list[Any]] = {}
    walls: list[Any] = []
    for hole in holes:
        near, far, around = _bored(hole, thickness)
        wires.setdefault(hole.near, []).append(near)
        wires.setdefault(hole.far, []).append(far)
        walls += around
    for index, added in wires.items():
        faces[index] = _with_wires(faces[index], added)
    build, shell, result = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    build.MakeShell(shell)
    for face in (*faces, *walls):
        build.Add(shell, face)
    shell.Closed(True)
    build.MakeSolid(result)
    build.Add(result, shell)
    return result


def _bored(hole: Hole, thickness: float) -> tuple[Any, Any, list[Any]]:
    """Wire of the near face, wire of the far face, and walls that share their edges."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec
    from OCP.TopoDS import TopoDS

    near = wire_of(hole.place, hole.loop, 0.0)
    run = gp_Vec(kernel_direction(hole.place, (0.0, 0.0, 1.0))) * -thickness
    sweep = BRepPrimAPI_MakePrism(near, run)
    near = TopoDS.Wire_s(sweep.FirstShape())
    far = TopoDS.Wire_s(sweep.LastShape().Reversed())
    walls = faces_of(sweep.Shape())
    if _runs_with(walls, near):
        walls = [TopoDS.Face_s(w.Reversed()) for w in walls]
    return near, far, walls


def _runs_with(walls: list[Any], near: Any) -> bool:
    """Whether a wall uses an edge of the near wire the way the wire runs; two faces must use it both ways."""
    from OCP.TopAbs import TopAbs_EDGE

    first = subshapes(near, TopAbs_EDGE)[0]
    for edge in (e for wall in walls for e in subshapes(wall, TopAbs_EDGE)):
        if edge.IsSame(first):
            return bool(edge.Orientation() == first.Orientation())
    raise ValueError("a wall of an opening does not hold its edge")


def _with_wires(face: Any, added: list[Any]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED, TopAbs_WIRE
    from OCP.TopoDS import TopoDS

    build = BRep_Builder()
    forward = face.Oriented(TopAbs_FORWARD)
    result = forward.EmptyCopied()
    for wire in subshapes(forward, TopAbs_WIRE):
        build.Add(result, wire)
    flipped = face.Orientation() == TopAbs_REVERSED
    for wire in added:
        build.Add(result, wire.Reversed() if flipped else wire)
    return TopoDS.Face_s(result.Oriented(face.Orientation()))
