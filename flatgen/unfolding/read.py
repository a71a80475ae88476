"""From a kernel solid to plain data (``unfolding.sheet``). The only module of this room that touches the kernel."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from flatgen.errors import Fault, InputRefused
from flatgen.unfolding.recognise import plain_curve, plain_surface
from flatgen.unfolding.sheet import (
    STRICT,
    Circular,
    Curve,
    Cylinder,
    Face,
    Free,
    HalfEdge,
    Other,
    Plane,
    Shell,
    Slack,
    Straight,
    Surface,
    Vector,
    turned_back,
)

MEASURED = 1e-10
"""Relative error asked of the kernel for areas and volumes within curves that are neither lines nor circles."""
PLAIN_FACE, PLAIN_EDGE = 1e-3, 1e-5
"""How far a face may be from the plane or cylinder, an edge from the line or circle, that it is taken for [mm]. A face
that is neither cannot be unfolded; an edge that is neither is followed exactly."""


def read_shell(shape: Any, slack: Slack = STRICT) -> Shell:
    """Faces, half-edges and volume of one solid.

    Parameters
    ----------
    shape : cadquery Workplane or Shape, or a kernel shape
        Must hold exactly one solid.
    slack : Slack
        How much it may be off.

    Raises
    ------
    InputRefused
        FG040 where there is no solid, or more than one.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_SOLID
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    shape, volume = _outward(kernel_shape(shape))
    maps = {}
    for kind in (TopAbs_SOLID, TopAbs_FACE, TopAbs_EDGE):
        maps[kind] = TopTools_IndexedMapOfShape()
        TopExp.MapShapes_s(shape, kind, maps[kind])
    solids = maps[TopAbs_SOLID].Extent()
    if solids != 1:
        raise InputRefused(
            Fault("FG040", "the shape", f"it holds {solids} solids where one is needed", "pass one solid")
        )
    half_edges: list[HalfEdge] = []
    known: dict[int, Curve] = {}
    faces = [
        _read_face(maps[TopAbs_FACE].FindKey(i + 1), i, maps[TopAbs_EDGE], half_edges, known)
        for i in range(maps[TopAbs_FACE].Extent())
    ]
    if any(isinstance(h.curve, Free) for h in half_edges):
        props = GProp_GProps()
        BRepGProp.VolumeProperties_s(shape, props, MEASURED, False, False)
        volume = abs(props.Mass())
    return Shell(tuple(faces), tuple(half_edges), volume, slack)


def kernel_shape(shape: Any) -> Any:
    """What a cadquery object holds for the kernel."""
    if hasattr(shape, "vals") and hasattr(shape, "val"):  # a Workplane
        shape = shape.val()
    return getattr(shape, "wrapped", shape)


def kernel_solid(shape: Any) -> Any:
    """The one kernel solid that a shape holds, faces looking out; the shape itself where it holds not just one."""
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    shape = kernel_shape(shape)
    solids = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_SOLID, solids)
    return _outward(solids.FindKey(1))[0] if solids.Extent() == 1 else shape


def _outward(shape: Any) -> tuple[Any, float]:
    """A solid whose faces look out of the metal, and its volume; a mirrored one may have them the other way round."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    volume = float(props.Mass())
    return (shape.Reversed(), -volume) if volume < 0 else (shape, volume)


def _read_face(face: Any, index: int, edges: Any, half_edges: list[HalfEdge], known: dict[int, Curve]) -> Face:
    """Read one face and append its half-edges, the face to their left seen from outside; ``known`` has the curves."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepTools import BRepTools_WireExplorer
    from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED, TopAbs_WIRE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    face = TopoDS.Face_s(face)
    flipped = face.Orientation() == TopAbs_REVERSED
    forward = TopoDS.Face_s(face.Oriented(TopAbs_FORWARD))
    wires = []
    explorer = TopExp_Explorer(forward, TopAbs_WIRE)
    while explorer.More():
        walk = BRepTools_WireExplorer(TopoDS.Wire_s(explorer.Current()), forward)
        uses = []
        while walk.More():
            edge = walk.Current()
            if BRep_Tool.Degenerated_s(edge):  # the pole of a sphere, the tip of a cone: a point
                walk.Next()
                continue
            backward = (edge.Orientation() == TopAbs_REVERSED) != flipped
            number = edges.FindIndex(edge)
            if number not in known:
                known[number] = _read_curve(edge)
            uses.append((number, turned_back(known[number]) if backward else known[number]))
            walk.Next()
        if flipped:
            uses.reverse()
        first = len(half_edges)
        for n, (edge_id, curve) in enumerate(uses):
            half_edges.append(HalfEdge(edge_id, index, curve, first + (n + 1) % len(uses)))
        if uses:
            wires.append(tuple(range(first, first + len(uses))))
        explorer.Next()
    free = any(isinstance(half_edges[h].curve, Free) for wire in wires for h in wire)
    return Face(
        _read_surface(face, BRepAdaptor_Surface(face), flipped),
        tuple(wires),
        lambda: _area(face, free),
        lambda p: _swept(face, p),
    )


def _area(face: Any, free: bool) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    if free:
        BRepGProp.SurfaceProperties_s(face, props, MEASURED)
    else:
        BRepGProp.SurfaceProperties_s(face, props)
    return float(props.Mass())


def _swept(face: Any, point: Vector) -> float:
    """Volume of the cone from a point to a face, positive where the face looks away from it [mm3]."""
    from OCP.BRepGProp import BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
    from OCP.gp import gp_Pnt

    seen, apex = BRepGProp_Face(face), gp_Pnt(*(float(c) for c in point))
    return float(BRepGProp_Vinert(seen, BRepGProp_Domain(face), apex).Mass())


def _read_surface(face: Any, surface: Any, flipped: bool) -> Surface:
    from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Sphere, GeomAbs_Torus

    kind = surface.GetType()
    if kind == GeomAbs_Plane:
        position = surface.Plane().Position()
        normal = np.cross(_vector(position.XDirection()), _vector(position.YDirection()))
        return Plane(_vector(position.Location()), -normal if flipped else normal)
    if kind == GeomAbs_Cylinder:
        cylinder = surface.Cylinder()
        # the surface normal dU x dV points away from the axis exactly where the frame is right-handed
        outward = cylinder.Position().Direct() != flipped
        axis = cylinder.Axis()
        return Cylinder(_vector(axis.Location()), _vector(axis.Direction()), cylinder.Radius(), outward)
    if kind not in (GeomAbs_Cone, GeomAbs_Sphere, GeomAbs_Torus):
        found = plain_surface(face, PLAIN_FACE)
        if found is not None:
            return found[0]
    return Other(str(kind).rsplit("_", 1)[-1].lower(), lambda point: _outward_at(surface, flipped, point))


def _outward_at(surface: Any, flipped: bool, point: Vector) -> Vector:
    """Unit normal out of the metal where a surface comes nearest to a point; zero where it has none."""
    from OCP.Extrema import Extrema_ExtPS
    from OCP.gp import gp_Pnt, gp_Vec

    near = Extrema_ExtPS(gp_Pnt(*(float(c) for c in point)), surface, 1e-9, 1e-9)
    spots = [near.Point(n + 1).Parameter() for n in range(near.NbExt())] if near.IsDone() else []
    if not spots:
        return np.zeros(3)
    best = min(range(len(spots)), key=lambda n: near.SquareDistance(n + 1))
    u, v = spots[best]
    at, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, at, du, dv)
    normal = np.cross(_vector(du), _vector(dv))
    size = float(np.linalg.norm(normal))
    unit: Vector = normal / size if size > 0 else np.zeros(3)
    return -unit if flipped else unit


def _read_curve(edge: Any) -> Curve:
    """An edge's curve, along its own direction."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line

    curve = BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    if kind == GeomAbs_Line:
        return Straight(_vector(curve.Value(first)), _vector(curve.Value(last)))
    if kind == GeomAbs_Circle:
        circle = curve.Circle()
        x, y = _vector(circle.XAxis().Direction()), _vector(circle.YAxis().Direction())
        u = math.cos(first) * x + math.sin(first) * y
        v = -math.sin(first) * x + math.cos(first) * y
        return Circular(_vector(circle.Location()), u, v, circle.Radius(), last - first)
    plain = plain_curve(curve, PLAIN_EDGE)
    if plain is not None:
        return plain
    name = str(kind).rsplit("_", 1)[-1].lower()
    return Free(name, lambda share: _vector(curve.Value(first + (last - first) * share)), curve.Tolerance())


def _vector(item: Any) -> Vector:
    return np.array((item.X(), item.Y(), item.Z()))


def is_sound(shape: Any) -> bool:
    """Whether the kernel finds nothing wrong with a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(kernel_shape(shape)).IsValid())
