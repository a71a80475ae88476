"""The formed section extruded along +y, whole or some elements of it (leg 0, bend 1, leg 2, ...)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Matrix, Piece, Point
from flatgen.definition.model import Cut, Opening, opening_loop
from flatgen.definition.section import BendTrace, LegTrace, Trace


def formed_solid(found: Trace, length: float, first: int = 0, last: int | None = None) -> Any:
    """The formed part, or the elements ``first`` to ``last`` of it, as a CadQuery solid.

    :param length: along the bends [mm]
    :param first, last: elements at both ends; all of them by default
    """
    import cadquery as cq

    last = 2 * len(found.bends) if last is None else last
    near = [_edge(cq, found, element, 1.0) for element in range(first, last + 1)]
    far = [_edge(cq, found, element, -1.0) for element in range(first, last + 1)]
    ends = [cq.Edge.makeLine(a.startPoint(), b.startPoint()) for a, b in ((near[0], far[0]),)]
    ends += [cq.Edge.makeLine(a.endPoint(), b.endPoint()) for a, b in ((near[-1], far[-1]),)]
    wire = cq.Wire.assembleEdges([*near, ends[1], *reversed(far), ends[0]])
    return cq.Solid.extrudeLinear(cq.Face.makeFromWires(wire), cq.Vector(0.0, length, 0.0))


def _edge(cq: Any, found: Trace, element: int, sign: float) -> Any:
    """The near (+1) or far (-1) side of a leg or a bend."""
    if element % 2 == 0:
        leg = found.legs[element // 2]
        ends = (beside(leg, share, sign * found.thickness / 2) for share in (0.0, 1.0))
        return cq.Edge.makeLine(*(cq.Vector(x, 0.0, z) for x, z in ends))
    bend = found.bends[element // 2]
    radius = near_radius(bend, found.thickness) if sign > 0 else near_radius(bend, found.thickness, far=True)
    return _arc(cq, bend, radius)


def near_radius(bend: BendTrace, thickness: float, *, far: bool = False) -> float:
    """Radius of a bend on its near face, or on its far one.

    :param thickness: thickness [mm]
    :returns: its radius there [mm]
    """
    inside = (bend.way == "up") != far
    return bend.inside_radius + (0.0 if inside else thickness)


def _arc(cq: Any, bend: BendTrace, radius: float) -> Any:
    points = (bend.at(share, radius) for share in (0.0, 0.5, 1.0))
    return cq.Edge.makeThreePointArc(*(cq.Vector(x, 0.0, z) for x, z in points))


def beside(leg: LegTrace, share: float, offset: float) -> Point:
    """A point at a share of a leg, ``offset`` to the left of its mid-surface.

    :param share: 0 where it begins, 1 where it ends
    :param offset: toward the near side [mm]
    :returns: (x, z) [mm]
    """
    a = math.radians(leg.heading)
    x, z = leg.start
    run = leg.length * share
    return (x + run * math.cos(a) - offset * math.sin(a), z + run * math.sin(a) + offset * math.cos(a))


SIDES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, -1.0), "top": (0.0, 1.0)}

LEVEL = 1e-9
"""A plane whose normal has less than this share toward a side does not part the leg toward it [-]."""


def point(place: Matrix, across: float, along: float, above: float) -> Any:
    """A point of a leg's frame as a kernel point of the formed part [mm]."""
    from OCP.gp import gp_Pnt

    return gp_Pnt(*(float(v) for v in place[:3, :3] @ (across, along, above) + place[:3, 3]))


def direction(place: Matrix, vector: tuple[float, float, float]) -> Any:
    """A direction of a leg's frame as a kernel direction of the formed part."""
    from OCP.gp import gp_Dir

    return gp_Dir(*(float(v) for v in place[:3, :3] @ vector))


def wire_of(place: Matrix, loop: Loop, above: float) -> Any:
    """A loop of a leg's frame as a kernel wire at a height [mm], running as the loop runs."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeVertex, BRepBuilderAPI_MakeWire

    make = BRepBuilderAPI_MakeWire()
    if len(loop.pieces) == 1:
        make.Add(BRepBuilderAPI_MakeEdge(_curve(place, loop.pieces[0], above)).Edge())
        return make.Wire()
    corners = [BRepBuilderAPI_MakeVertex(point(place, *p.start, above)).Vertex() for p in loop.pieces]
    for n, piece in enumerate(loop.pieces):
        ends = corners[n], corners[(n + 1) % len(corners)]
        make.Add(BRepBuilderAPI_MakeEdge(_curve(place, piece, above), *ends).Edge())
    return make.Wire()


def _curve(place: Matrix, piece: Piece, above: float) -> Any:
    """The circle or line under a piece, running as the piece runs and starting where it starts."""
    from OCP.gp import gp_Ax2, gp_Circ, gp_Lin

    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        return gp_Lin(point(place, x0, y0, above), direction(place, (x1 - x0, y1 - y0, 0.0)))
    assert isinstance(piece, Arc)
    first = math.radians(piece.first)
    up = direction(place, (0.0, 0.0, math.copysign(1.0, piece.sweep)))
    start = direction(place, (math.cos(first), math.sin(first), 0.0))
    return gp_Circ(gp_Ax2(point(place, *piece.centre, above), up, start), piece.radius)


def prism(place: Matrix, loop: Loop, low: float, high: float) -> Any:
    """The prism of a loop along a leg's normal, between two heights [mm]."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec

    counter = loop if loop.signed_area > 0 else loop.reversed()
    face = BRepBuilderAPI_MakeFace(wire_of(place, counter, low), True).Face()
    run = gp_Vec(direction(place, (0.0, 0.0, 1.0))) * (high - low)
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
    axes = gp_Ax2(point(place, *spot, cut.above), direction(place, normal), direction(place, line))
    corner = gp_Pnt(*(getattr(axes.Location(), k)() for k in ("X", "Y", "Z")))
    for way in (axes.XDirection(), axes.YDirection()):
        corner.Translate(gp_Vec(way) * -reach)
    axes.SetLocation(corner)
    return BRepPrimAPI_MakeBox(axes, 2 * reach, 2 * reach, reach).Shape()


def axis_of(cut: Cut) -> tuple[float, float, float]:
    """Direction of a round tool's axis in the frame of its leg (across, along, above)."""
    turn, tilt = math.radians(cut.turn), math.radians(cut.tilt)
    flat, lift = math.cos(tilt), math.sin(tilt)
    across, along, above = {
        "across": (flat, 0.0, lift),
        "along": (0.0, flat, lift),
        "normal": (0.0, lift, flat),
    }[cut.axis]
    c, s = math.cos(turn), math.sin(turn)
    return (across * c - along * s, across * s + along * c, above)


def _cylinder(cut: Cut, place: Matrix, spot: Point, reach: float) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Vec

    axis = direction(place, axis_of(cut))
    start = point(place, *spot, cut.above)
    start.Translate(gp_Vec(axis) * -reach)
    return BRepPrimAPI_MakeCylinder(gp_Ax2(start, axis), cut.diameter / 2, 2 * reach).Shape()


SAME_VOLUME = 1e-6
"""Merging faces must not change the volume by a larger share than this [-]."""

MOST_WIRES = 300
"""With more wires the kernel's check of wires against each other, which takes their square, is left out."""


def solids_of(shape: Any) -> list[Any]:
    """The solids in a kernel shape."""
    from OCP.TopAbs import TopAbs_SOLID

    return _parts(shape, TopAbs_SOLID)


def _parts(shape: Any, kind: Any) -> list[Any]:
    from OCP.TopExp import TopExp_Explorer

    explorer, parts = TopExp_Explorer(shape, kind), []
    while explorer.More():
        parts.append(explorer.Current())
        explorer.Next()
    return parts


def mass(shape: Any) -> tuple[float, tuple[float, float, float]]:
    """Volume [mm3] and centre of mass [mm] of a kernel shape."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    centre = props.CentreOfMass()
    return props.Mass(), (centre.X(), centre.Y(), centre.Z())


def sound(shape: Any) -> bool:
    """Whether the kernel's check passes a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_WIRE

    return bool(BRepCheck_Analyzer(shape, len(_parts(shape, TopAbs_WIRE)) <= MOST_WIRES).IsValid())


def _operate(operation: Any, one: Sequence[Any], others: Sequence[Any]) -> Any:
    """A boolean of the kernel, or None where it fails."""
    from OCP.TopTools import TopTools_ListOfShape

    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    for shape in one:
        arguments.Append(shape)
    for shape in others:
        tools.Append(shape)
    operation.SetArguments(arguments)
    operation.SetTools(tools)
    operation.SetNonDestructive(True)
    operation.Build()
    return operation.Shape() if operation.IsDone() else None


def less(shape: Any, tools: Sequence[Any]) -> Any:
    """A kernel shape less all tools, or None where the kernel fails."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    return _operate(BRepAlgoAPI_Cut(), [shape], tools)


def shared(shape: Any, others: Sequence[Any]) -> list[Any]:
    """The solids that a kernel shape has in common with others."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    found = []
    for other in others:
        common = _operate(BRepAlgoAPI_Common(), [shape], [other])
        found += [] if common is None else solids_of(common)
    return found


def mended(solid: Any) -> Any | None:
    """A sound solid of one that may have faces in needless pieces, or None where it cannot be mended."""
    from OCP.ShapeFix import ShapeFix_Shape

    volume, _ = mass(solid)
    if not sound(solid):
        fix = ShapeFix_Shape(solid)
        fix.Perform()
        solids = solids_of(fix.Shape())
        if len(solids) != 1 or not sound(solids[0]) or abs(mass(solids[0])[0] / volume - 1) > 1e-6:
            return None
        solid = solids[0]
    merged = _merged(solid)
    if merged is None or abs(mass(merged)[0] / volume - 1) > SAME_VOLUME or not sound(merged):
        return solid
    return merged


def _merged(solid: Any) -> Any | None:
    """Faces on one surface and edges on one curve joined."""
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    merge = ShapeUpgrade_UnifySameDomain(solid, True, True, False)
    merge.Build()
    solids = solids_of(merge.Shape())
    return solids[0] if len(solids) == 1 else None
