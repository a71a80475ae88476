"""Kernel solids: the section extruded along +y, tools of openings and cuts, and booleans, volumes and checks.

Elements are counted along the section: leg 0, bend 1, leg 2, ...
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Matrix, Piece, Point
from flatgen.definition.model import Cut, Opening, opening_loop
from flatgen.definition.section import BendTrace, LegTrace, Trace

SIDES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, -1.0), "top": (0.0, 1.0)}
LEVEL = 1e-9
"""A plane whose normal has less than this share toward a side does not part the leg toward it."""
SAME_VOLUME = 1e-6
"""Mending a solid must not change its volume by a larger share than this."""
MOST_WIRES = 300
"""With more wires the kernel's check of wires against each other, which takes their square, is left out."""


def formed_solid(section: Trace, length: float, first: int = 0, last: int | None = None) -> Any:
    """The formed part of a ``length`` [mm], or its elements ``first`` to ``last``, as a CadQuery solid."""
    import cadquery as cq

    last = 2 * len(section.bends) if last is None else last
    near = [_edge(cq, section, element, 1.0) for element in range(first, last + 1)]
    far = [_edge(cq, section, element, -1.0) for element in range(first, last + 1)]
    left = cq.Edge.makeLine(near[0].startPoint(), far[0].startPoint())
    right = cq.Edge.makeLine(near[-1].endPoint(), far[-1].endPoint())
    wire = cq.Wire.assembleEdges([*near, right, *reversed(far), left])
    return cq.Solid.extrudeLinear(cq.Face.makeFromWires(wire), cq.Vector(0.0, length, 0.0))


def _edge(cq: Any, section: Trace, element: int, sign: float) -> Any:
    """The near (+1) or far (-1) side of a leg or a bend."""
    if element % 2 == 0:
        leg = section.legs[element // 2]
        ends = (_point_beside(leg, share, sign * section.thickness / 2) for share in (0.0, 1.0))
        return cq.Edge.makeLine(*(cq.Vector(x, 0.0, z) for x, z in ends))
    bend = section.bends[element // 2]
    radius = near_radius(bend, section.thickness, far=sign < 0)
    points = (bend.at(share, radius) for share in (0.0, 0.5, 1.0))
    return cq.Edge.makeThreePointArc(*(cq.Vector(x, 0.0, z) for x, z in points))


def near_radius(bend: BendTrace, thickness: float, *, far: bool = False) -> float:
    """Radius of a bend on its near face, or on its far one [mm]."""
    inside = (bend.way == "up") != far
    return bend.inside_radius + (0.0 if inside else thickness)


def _point_beside(leg: LegTrace, share: float, offset: float) -> Point:
    """A point (x, z) at a share 0 to 1 of a leg, ``offset`` from its mid-surface toward the near side [mm]."""
    a = math.radians(leg.heading)
    x, z = leg.start
    run = leg.length * share
    return (x + run * math.cos(a) - offset * math.sin(a), z + run * math.sin(a) + offset * math.cos(a))


def kernel_point(place: Matrix, across: float, along: float, above: float) -> Any:
    """A point of a leg's frame as a kernel point of the formed part [mm]."""
    from OCP.gp import gp_Pnt

    return gp_Pnt(*(float(v) for v in place[:3, :3] @ (across, along, above) + place[:3, 3]))


def kernel_direction(place: Matrix, vector: tuple[float, float, float]) -> Any:
    """The same for a direction."""
    from OCP.gp import gp_Dir

    return gp_Dir(*(float(v) for v in place[:3, :3] @ vector))


def wire_of(place: Matrix, loop: Loop, above: float) -> Any:
    """A loop of a leg's frame as a kernel wire at a height [mm], running as the loop runs."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeVertex, BRepBuilderAPI_MakeWire

    make = BRepBuilderAPI_MakeWire()
    if len(loop.pieces) == 1:
        make.Add(BRepBuilderAPI_MakeEdge(_curve(place, loop.pieces[0], above)).Edge())
        return make.Wire()
    corners = [BRepBuilderAPI_MakeVertex(kernel_point(place, *p.start, above)).Vertex() for p in loop.pieces]
    for n, piece in enumerate(loop.pieces):
        ends = corners[n], corners[(n + 1) % len(corners)]
        make.Add(BRepBuilderAPI_MakeEdge(_curve(place, piece, above), *ends).Edge())
    return make.Wire()


def _curve(place: Matrix, piece: Piece, above: float) -> Any:
    """The circle or line under a piece, running as the piece runs and starting where it starts."""
    from OCP.gp import gp_Ax2, gp_Circ, gp_Lin

    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        return gp_Lin(kernel_point(place, x0, y0, above), kernel_direction(place, (x1 - x0, y1 - y0, 0.0)))
    assert isinstance(piece, Arc)
    first = math.radians(piece.first)
    up = kernel_direction(place, (0.0, 0.0, math.copysign(1.0, piece.sweep)))
    start = kernel_direction(place, (math.cos(first), math.sin(first), 0.0))
    return gp_Circ(gp_Ax2(kernel_point(place, *piece.centre, above), up, start), piece.radius)


def prism(place: Matrix, loop: Loop, low: float, high: float) -> Any:
    """The prism of a loop along a leg's normal, between two heights [mm]."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec

    counter = loop if loop.signed_area > 0 else loop.reversed()
    face = BRepBuilderAPI_MakeFace(wire_of(place, counter, low), True).Face()
    run = gp_Vec(kernel_direction(place, (0.0, 0.0, 1.0))) * (high - low)
    return BRepPrimAPI_MakePrism(face, run).Shape()


def cut_tool(cut: Cut, place: Matrix, spot: Point, reach: float) -> Any | None:
    """The solid that a cut takes away, or None where its plane does not part the leg toward ``remove``."""
    if cut.tool == "plane":
        return _half_space(cut, place, spot, reach)
    if cut.tool == "round":
        return _cylinder(cut, place, spot, reach)
    shape = Opening(
        cut.place, "rectangle", cut.size_across, cut.size_along, corner_radius=cut.corner_radius, turn=cut.turn
    )
    move = np.array([[1.0, 0.0, spot[0]], [0.0, 1.0, spot[1]], [0.0, 0.0, 1.0]])
    half = reach if cut.size_above is None else cut.size_above / 2
    return prism(place, opening_loop(shape).moved(move), cut.above - half, cut.above + half)


def _half_space(cut: Cut, place: Matrix, spot: Point, reach: float) -> Any | None:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Ax2, gp_Pnt, gp_Vec

    turn, tilt = math.radians(cut.turn), math.radians(cut.tilt)
    across, along = -math.sin(turn), math.cos(turn)
    side = SIDES[cut.remove]
    toward = across * side[0] + along * side[1]
    if abs(toward) < LEVEL:
        return None
    sign = math.copysign(1.0, toward)
    normal = (sign * across * math.cos(tilt), sign * along * math.cos(tilt), sign * math.sin(tilt))
    line = (math.cos(turn), math.sin(turn), 0.0)
    axes = gp_Ax2(kernel_point(place, *spot, cut.above), kernel_direction(place, normal), kernel_direction(place, line))
    corner = gp_Pnt(axes.Location().XYZ())
    for way in (axes.XDirection(), axes.YDirection()):
        corner.Translate(gp_Vec(way) * -reach)
    axes.SetLocation(corner)
    return BRepPrimAPI_MakeBox(axes, 2 * reach, 2 * reach, reach).Shape()


def _tool_axis(cut: Cut) -> tuple[float, float, float]:
    """Direction of a round tool's axis in the frame of its leg (across, along, above)."""
    turn, tilt = math.radians(cut.turn), math.radians(cut.tilt)
    flat, lift = math.cos(tilt), math.sin(tilt)
    across, along, above = {"across": (flat, 0.0, lift), "along": (0.0, flat, lift), "normal": (0.0, lift, flat)}[
        cut.axis
    ]
    c, s = math.cos(turn), math.sin(turn)
    return (across * c - along * s, across * s + along * c, above)


def _cylinder(cut: Cut, place: Matrix, spot: Point, reach: float) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Vec

    axis = kernel_direction(place, _tool_axis(cut))
    start = kernel_point(place, *spot, cut.above)
    start.Translate(gp_Vec(axis) * -reach)
    return BRepPrimAPI_MakeCylinder(gp_Ax2(start, axis), cut.diameter / 2, 2 * reach).Shape()


def solids_of(shape: Any) -> list[Any]:
    """The solids in a kernel shape."""
    from OCP.TopAbs import TopAbs_SOLID

    return subshapes(shape, TopAbs_SOLID)


def subshapes(shape: Any, kind: Any) -> list[Any]:
    """The parts of one kind (``TopAbs``) in a kernel shape, in its order."""
    from OCP.TopExp import TopExp_Explorer

    explorer, parts = TopExp_Explorer(shape, kind), []
    while explorer.More():
        parts.append(explorer.Current())
        explorer.Next()
    return parts


def volume_and_centre(shape: Any) -> tuple[float, tuple[float, float, float]]:
    """Volume [mm3] and centre of mass [mm] of a kernel shape."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    centre = props.CentreOfMass()
    return props.Mass(), (centre.X(), centre.Y(), centre.Z())


def is_sound(shape: Any) -> bool:
    """Whether the kernel's check passes a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_WIRE

    return bool(BRepCheck_Analyzer(shape, len(subshapes(shape, TopAbs_WIRE)) <= MOST_WIRES).IsValid())


def _operate(operation: Any, shapes: Sequence[Any], others: Sequence[Any]) -> Any:
    """A boolean of the kernel, or None where it fails."""
    from OCP.TopTools import TopTools_ListOfShape

    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    for shape in shapes:
        arguments.Append(shape)
    for shape in others:
        tools.Append(shape)
    operation.SetArguments(arguments)
    operation.SetTools(tools)
    operation.SetNonDestructive(True)
    operation.Build()
    return operation.Shape() if operation.IsDone() else None


def subtract(shape: Any, tools: Sequence[Any]) -> Any:
    """A kernel shape less all tools, or None where the kernel fails."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    return _operate(BRepAlgoAPI_Cut(), [shape], tools)


def intersect(shape: Any, others: Sequence[Any]) -> list[Any]:
    """The solids that a kernel shape has in common with others."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    solids = []
    for other in others:
        common = _operate(BRepAlgoAPI_Common(), [shape], [other])
        solids += [] if common is None else solids_of(common)
    return solids


def mend(solid: Any) -> Any | None:
    """A sound solid of one that may have faces in needless pieces, or None."""
    from OCP.ShapeFix import ShapeFix_Shape
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    volume, _ = volume_and_centre(solid)
    if not is_sound(solid):
        fix = ShapeFix_Shape(solid)
        fix.Perform()
        solids = solids_of(fix.Shape())
        if (
            len(solids) != 1
            or not is_sound(solids[0])
            or abs(volume_and_centre(solids[0])[0] / volume - 1) > SAME_VOLUME
        ):
            return None
        solid = solids[0]
    merge = ShapeUpgrade_UnifySameDomain(solid, True, True, False)  # faces on one surface, edges on one curve
    merge.Build()
    solids = solids_of(merge.Shape())
    if len(solids) != 1 or abs(volume_and_centre(solids[0])[0] / volume - 1) > SAME_VOLUME or not is_sound(solids[0]):
        return solid
    return solids[0]
