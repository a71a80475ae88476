"""Volume of the cone from a point to a face: what a face has to do with the volume of its solid. Touches the kernel.

By hand where that is exact and quick; else by the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from importlib import import_module
from types import SimpleNamespace
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, InputRefused
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
    cross,
    turned_back,
)

MEASURED = 1e-10
"""Relative error asked of the kernel for areas and volumes within curves that are neither lines nor circles."""


def volume(shell: Shell) -> float:
    """Volume of a shell by all its faces' cones [mm3], negative where they look inward."""
    apex = shell.half_edges[0].curve.at(0.0) if shell.half_edges else np.zeros(3)
    return math.fsum(cone(shell, n, apex) for n in range(len(shell.faces)))


def cone(shell: Shell, number: int, apex: Vector) -> float:
    """Volume of the cone from a point to a face [mm3], positive where the face looks away from it.

    Of flat faces within lines and circles, and of round ones within lines along and circles about their axis, by
    hand; of all else, and of our own solids, by the kernel.
    """
    face = shell.faces[number]
    assert face.swept is not None
    if shell.slack is STRICT or isinstance(face.surface, Other):
        return face.swept(apex)
    curves = [shell.half_edges[h].curve for wire in face.wires for h in wire]
    if any(isinstance(c, Free) for c in curves):
        return face.swept(apex)
    if isinstance(face.surface, Plane):
        height = float((shell.corner(number) - apex) @ face.surface.normal)
        return height * float(shell.rough_areas[number]) / 3
    area = round_area(face.surface, curves)
    if area is None:
        return face.swept(apex)
    side = face.surface.radius if face.surface.convex else -face.surface.radius
    return (side * area + float((face.surface.origin - apex) @ shell.area_vectors[number])) / 3


def round_area(surface: Cylinder, curves: Sequence[Curve]) -> float | None:
    """Area of a round face within lines along its axis and circles about it [mm2]; None where others bound it."""
    total = 0.0
    for curve in curves:
        if isinstance(curve, Circular):
            arm = curve.centre - surface.origin
            high = float(arm @ surface.axis)
            turn = float(cross(curve.u, curve.v) @ surface.axis)
            if float(np.linalg.norm(arm - high * surface.axis)) > 1e-7 or abs(turn) < 1 - 1e-12:
                return None
            total += surface.radius * high * math.copysign(curve.sweep, turn)
        elif isinstance(curve, Straight):
            along = curve.end - curve.start
            if float(np.linalg.norm(along - surface.axis * (along @ surface.axis))) > 1e-7:
                return None
    return abs(total)


def cone_by_kernel(face: Any, apex: Vector, fine: bool) -> float:
    """The same by the kernel; ``fine``: the face is within curves that it integrates only nearly unless told so."""
    from OCP.BRepGProp import BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
    from OCP.gp import gp_Pnt

    asked = (BRepGProp_Face(face), BRepGProp_Domain(face), gp_Pnt(*(float(c) for c in apex)))
    return float((BRepGProp_Vinert(*asked, MEASURED) if fine else BRepGProp_Vinert(*asked)).Mass())


PLAIN_FACE, PLAIN_EDGE = 1e-3, 1e-5
"""How far a face may be from the plane or cylinder, an edge from the line or circle, that it is taken for [mm]. A face
that is neither cannot be unfolded; an edge that is neither is followed exactly."""

OWN_EDGE = 1e-9
"""The same of edges of our own solids, whose areas are checked to nine digits [mm]."""


def read_shell(shape: Any, slack: Slack = STRICT) -> Shell:
    """Faces, half-edges and volume of one solid.

    :raises InputRefused: FG040 where there is no solid, or more than one.
    """
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_SOLID
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    shape = kernel_shape(shape)
    maps = {}
    for kind in (TopAbs_SOLID, TopAbs_FACE, TopAbs_EDGE):
        maps[kind] = TopTools_IndexedMapOfShape()
        TopExp.MapShapes_s(shape, kind, maps[kind])
    solids = maps[TopAbs_SOLID].Extent()
    if solids != 1:
        raise InputRefused(
            Fault("FG040", "the shape", f"it holds {solids} solids where one is needed", "pass one solid")
        )
    faces, half_edges = _read_all(maps[TopAbs_FACE], maps[TopAbs_EDGE], OWN_EDGE if slack is STRICT else PLAIN_EDGE)
    shell = Shell(faces, half_edges, 0.0, slack)
    found = volume(shell)
    if found < 0:  # faces look into the metal, as those of a mirrored solid may
        return read_shell(shape.Reversed(), slack)
    return shell.changed(volume=found)


def _read_all(faces: Any, edges: Any, plain: float) -> tuple[tuple[Face, ...], tuple[HalfEdge, ...]]:
    half_edges: list[HalfEdge] = []
    known: dict[int, Curve] = {}
    found = tuple(_read_face(faces.FindKey(i + 1), i, edges, half_edges, known, plain) for i in range(faces.Extent()))
    return found, tuple(half_edges)


def kernel_shape(shape: Any) -> Any:
    """What a cadquery object holds for the kernel."""
    if hasattr(shape, "vals") and hasattr(shape, "val"):  # a Workplane
        shape = shape.val()
    return getattr(shape, "wrapped", shape)


def kernel_solid(shape: Any) -> Any:
    """The one kernel solid that a shape holds; the shape itself where it holds not just one."""
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    shape = kernel_shape(shape)
    solids = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_SOLID, solids)
    return solids.FindKey(1) if solids.Extent() == 1 else shape


@cache
def _kernel() -> SimpleNamespace:
    """What is asked of the kernel for every face and edge, imported once."""
    names = {
        "BRep": ("BRep_Tool",),
        "BRepAdaptor": ("BRepAdaptor_Curve", "BRepAdaptor_Surface"),
        "BRepTools": ("BRepTools_WireExplorer",),
        "GeomAbs": tuple(f"GeomAbs_{n}" for n in ("Circle", "Cone", "Cylinder", "Line", "Plane", "Sphere", "Torus")),
        "TopAbs": ("TopAbs_FORWARD", "TopAbs_REVERSED", "TopAbs_WIRE"),
        "TopExp": ("TopExp_Explorer",),
        "TopoDS": ("TopoDS",),
    }
    found = {}
    for module, some in names.items():
        room = import_module(f"OCP.{module}")
        found.update({name: getattr(room, name) for name in some})
    return SimpleNamespace(**found)


def _read_face(
    face: Any, index: int, edges: Any, half_edges: list[HalfEdge], known: dict[int, Curve], plain: float
) -> Face:
    """Read one face and append its half-edges, the face to their left seen from outside; ``known`` has the curves."""
    kernel = _kernel()
    TopoDS, BRep_Tool = kernel.TopoDS, kernel.BRep_Tool
    TopAbs_REVERSED = kernel.TopAbs_REVERSED
    face = TopoDS.Face_s(face)
    flipped = face.Orientation() == TopAbs_REVERSED
    forward = TopoDS.Face_s(face.Oriented(kernel.TopAbs_FORWARD))
    wires, free = [], False
    explorer = kernel.TopExp_Explorer(forward, kernel.TopAbs_WIRE)
    while explorer.More():
        walk = kernel.BRepTools_WireExplorer(TopoDS.Wire_s(explorer.Current()), forward)
        uses = []
        while walk.More():
            edge = walk.Current()
            if BRep_Tool.Degenerated_s(edge):  # the pole of a sphere, the tip of a cone: a point
                walk.Next()
                continue
            backward = (edge.Orientation() == TopAbs_REVERSED) != flipped
            number = edges.FindIndex(edge)
            if number not in known:
                known[number] = _read_curve(edge, plain)
            curve = known[number]
            free = free or isinstance(curve, Free)
            uses.append((number, turned_back(curve) if backward else curve))
            walk.Next()
        if flipped:
            uses.reverse()
        first = len(half_edges)
        for n, (edge_id, curve) in enumerate(uses):
            half_edges.append(HalfEdge(edge_id, index, curve, first + (n + 1) % len(uses)))
        if uses:
            wires.append(tuple(range(first, first + len(uses))))
        explorer.Next()
    found = _read_surface(face, kernel.BRepAdaptor_Surface(face), flipped)
    fine = free and not isinstance(found, Other)
    return Face(
        found,
        tuple(wires),
        lambda: _area(face, free or isinstance(found, Other)),
        lambda apex: cone_by_kernel(face, apex, fine),
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


def _read_surface(face: Any, surface: Any, flipped: bool) -> Surface:
    kernel = _kernel()
    kind = surface.GetType()
    if kind == kernel.GeomAbs_Plane:
        position = surface.Plane().Position()
        normal = cross(_vector(position.XDirection()), _vector(position.YDirection()))
        return Plane(_vector(position.Location()), -normal if flipped else normal)
    if kind == kernel.GeomAbs_Cylinder:
        cylinder = surface.Cylinder()
        # the surface normal dU x dV points away from the axis exactly where the frame is right-handed
        outward = cylinder.Position().Direct() != flipped
        axis = cylinder.Axis()
        return Cylinder(_vector(axis.Location()), _vector(axis.Direction()), cylinder.Radius(), outward)
    own = (kernel.GeomAbs_Cone, kernel.GeomAbs_Sphere, kernel.GeomAbs_Torus)
    plain = None if kind in own else _plainly(face)
    near = _Nearest(face, surface, flipped)
    return Other(
        str(kind).rsplit("_", 1)[-1].lower(),
        lambda point: near.at(point)[1],
        near.within,
        plain,
    )


def _plainly(face: Any) -> Callable[[], Plane | Cylinder | None]:
    """Asks, when it is wanted, whether a face is a plane or a cylinder only written otherwise."""

    def ask() -> Plane | Cylinder | None:
        found = plain_surface(face, PLAIN_FACE)
        return None if found is None else found[0]

    return ask


class _Nearest:
    """Where a face comes nearest to points; the search is set up once, when it is first asked."""

    def __init__(self, face: Any, surface: Any, flipped: bool) -> None:
        self.face, self.surface, self.flipped = face, surface, flipped
        self.search: Any = None
        self.held: Any = None

    def _found(self, point: Vector) -> list[tuple[float, float]]:
        """Parameters of the places on the surface where its distance is least or most, the nearest first."""
        from OCP.Extrema import Extrema_ExtPS
        from OCP.gp import gp_Pnt

        s = self.surface
        if self.search is None:
            self.search = Extrema_ExtPS()
            ends = (s.FirstUParameter(), s.LastUParameter(), s.FirstVParameter(), s.LastVParameter())
            self.search.Initialize(s, *ends, 1e-9, 1e-9)
        near = self.search
        near.Perform(gp_Pnt(*(float(c) for c in point)))
        count = near.NbExt() if near.IsDone() else 0
        order = sorted(range(1, count + 1), key=near.SquareDistance)
        return [near.Point(n).Parameter() for n in order]

    def at(self, point: Vector) -> tuple[Vector, Vector]:
        """The place, and the unit normal out of the metal there; the point itself and zero where there is none."""
        from OCP.gp import gp_Pnt, gp_Vec

        found = self._found(point)
        if not found:
            return point, np.zeros(3)
        at, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
        self.surface.D1(*found[0], at, du, dv)
        normal = cross(_vector(du), _vector(dv))
        size = float(np.linalg.norm(normal))
        unit: Vector = normal / size if size > 0 else np.zeros(3)
        return _vector(at), -unit if self.flipped else unit

    def within(self, point: Vector) -> Vector | None:
        """The nearest place inside of the face's edges; None where there is none."""
        from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
        from OCP.gp import gp_Pnt2d
        from OCP.TopAbs import TopAbs_IN

        if self.held is None:
            self.held = BRepTopAdaptor_FClass2d(self.face, 1e-7)
        for u, v in self._found(point):
            if self.held.Perform(gp_Pnt2d(u, v)) == TopAbs_IN:
                return _vector(self.surface.Value(u, v))
        return None


def _read_curve(edge: Any, tolerance: float) -> Curve:
    """An edge's curve, along its own direction."""
    kernel = _kernel()
    curve = kernel.BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    if kind == kernel.GeomAbs_Line:
        return Straight(_vector(curve.Value(first)), _vector(curve.Value(last)))
    if kind == kernel.GeomAbs_Circle:
        circle = curve.Circle()
        x, y = _vector(circle.XAxis().Direction()), _vector(circle.YAxis().Direction())
        u = math.cos(first) * x + math.sin(first) * y
        v = -math.sin(first) * x + math.cos(first) * y
        return Circular(_vector(circle.Location()), u, v, circle.Radius(), last - first)
    plain = plain_curve(curve, tolerance)
    if plain is not None:
        return plain
    return Free(str(kind).rsplit("_", 1)[-1].lower(), _places_of(curve, first, last), curve.Tolerance())


def _places_of(curve: Any, first: float, last: float) -> Callable[[Vector], Vector]:
    """A curve as a function of shares of its range, many at once: a spline is worked out without the kernel."""
    from OCP.GeomAbs import GeomAbs_BSplineCurve, GeomAbs_Ellipse

    kind = curve.GetType()
    if kind == GeomAbs_BSplineCurve:
        return _spline_places(curve.BSpline(), first, last)
    if kind == GeomAbs_Ellipse:
        ellipse = curve.Ellipse()
        centre = _vector(ellipse.Location())
        x = ellipse.MajorRadius() * _vector(ellipse.XAxis().Direction())
        y = ellipse.MinorRadius() * _vector(ellipse.YAxis().Direction())

        def around(shares: Vector) -> Vector:
            angles = first + (last - first) * shares
            found: Vector = centre + np.outer(np.cos(angles), x) + np.outer(np.sin(angles), y)
            return found

        return around
    return lambda shares: np.array([_vector(curve.Value(first + (last - first) * s)) for s in shares.tolist()])


def _spline_places(spline: Any, first: float, last: float) -> Callable[[Vector], Vector]:
    """The same of a B-spline, rational or not, periodic or not."""
    from OCP.Geom import Geom_BSplineCurve
    from scipy.interpolate import BSpline

    if spline.IsPeriodic():
        spline = Geom_BSplineCurve.DownCast_s(spline.Copy())
        spline.SetNotPeriodic()
    count = spline.NbPoles()
    weights = np.array([spline.Weight(n + 1) for n in range(count)])
    poles = np.array([_vector(spline.Pole(n + 1)) for n in range(count)])
    knots = [spline.Knot(n + 1) for n in range(spline.NbKnots()) for _ in range(spline.Multiplicity(n + 1))]
    curve = BSpline(np.array(knots), np.column_stack((poles * weights[:, None], weights)), spline.Degree())

    def places(shares: Vector) -> Vector:
        lifted = curve(first + (last - first) * shares)
        found: Vector = lifted[:, :3] / lifted[:, 3:]
        return found

    return places


def _vector(item: Any) -> Vector:
    return np.array((item.X(), item.Y(), item.Z()))


def is_sound(shape: Any) -> bool:
    """Whether the kernel finds nothing wrong with a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(kernel_shape(shape)).IsValid())
