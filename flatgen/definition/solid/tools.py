"""Tools as kernel solids: the prism of an opening, and the plane, round and box tools of cuts.

Each is built in the frame of its leg (across, along, above) and stands where the formed part has it. ``reach``
is a length that surely passes the whole part from the tool's place [mm].
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Matrix, Piece, Point
from flatgen.definition.cutouts import Cut, Opening
from flatgen.definition.outlines import opening_loop

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
