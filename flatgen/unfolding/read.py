"""One solid of the kernel as a :class:`Shell`; volumes and areas, by hand where that is exact, else by the kernel."""

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
    CircularCurve,
    Curve,
    Cylinder,
    Face,
    FreeCurve,
    HalfEdge,
    OtherSurface,
    Plane,
    Shell,
    Slack,
    StraightCurve,
    Surface,
    Vector,
    cross,
    reversed_curve,
)

KERNEL_PRECISION = 1e-10
"""Relative error asked of the kernel for areas and volumes within curves that are neither lines nor circles."""
FACE_TOLERANCE, EDGE_TOLERANCE = 1e-3, 1e-5
"""How far a face may be from the plane or cylinder, an edge from the line or circle, that it is taken for [mm]. A face
that is neither cannot be unfolded; an edge that is neither is followed exactly."""
OWN_EDGE_TOLERANCE = 1e-9
"""The same of edges of our own solids, whose areas are checked to nine digits [mm]."""


def read_shell(shape: Any, slack: Slack = STRICT) -> Shell:
    """Faces, half-edges and volume of one solid.

    :raises InputRefused: FG040 where there is no solid, or more than one.
    """
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_SOLID

    shape = kernel_shape(shape)
    solids, faces, edges = (shapes_of(shape, kind) for kind in (TopAbs_SOLID, TopAbs_FACE, TopAbs_EDGE))
    if solids.Extent() != 1:
        text = f"it holds {solids.Extent()} solids where one is needed"
        raise InputRefused(Fault("FG040", "the shape", text, "pass one solid"))
    tolerance = OWN_EDGE_TOLERANCE if slack is STRICT else EDGE_TOLERANCE
    half_edges: list[HalfEdge] = []
    curves: dict[int, Curve] = {}
    every = (_read_face(faces.FindKey(i + 1), i, edges, half_edges, curves, tolerance) for i in range(faces.Extent()))
    shell = Shell(tuple(every), tuple(half_edges), 0.0, slack)
    volume = shell_volume(shell)
    if volume < 0:  # faces look into the metal, as those of a mirrored solid may
        return read_shell(shape.Reversed(), slack)
    return shell.with_changes(volume=volume)


def shapes_of(shape: Any, kind: Any) -> Any:
    """The kernel's numbered map, from 1, of the faces, edges or solids of a shape."""
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    shapes = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, shapes)
    return shapes


def kernel_shape(shape: Any) -> Any:
    """What a cadquery object holds for the kernel."""
    if hasattr(shape, "vals") and hasattr(shape, "val"):  # a Workplane
        shape = shape.val()
    return getattr(shape, "wrapped", shape)


def kernel_solid(shape: Any) -> Any:
    """The one kernel solid that a shape holds; the shape itself where it holds not just one."""
    from OCP.TopAbs import TopAbs_SOLID

    shape = kernel_shape(shape)
    solids = shapes_of(shape, TopAbs_SOLID)
    return solids.FindKey(1) if solids.Extent() == 1 else shape


@cache
def _kernel() -> SimpleNamespace:
    """The kernel's names that every face and edge needs, imported once."""
    names = {
        "BRep": ("BRep_Tool",),
        "BRepAdaptor": ("BRepAdaptor_Curve", "BRepAdaptor_Surface"),
        "BRepTools": ("BRepTools_WireExplorer",),
        "GeomAbs": tuple(f"GeomAbs_{n}" for n in ("Circle", "Cone", "Cylinder", "Line", "Plane", "Sphere", "Torus")),
        "TopAbs": ("TopAbs_FORWARD", "TopAbs_REVERSED", "TopAbs_WIRE"),
        "TopExp": ("TopExp_Explorer",),
        "TopoDS": ("TopoDS",),
    }
    items = {}
    for module, wanted in names.items():
        library = import_module(f"OCP.{module}")
        items.update({name: getattr(library, name) for name in wanted})
    return SimpleNamespace(**items)


def _read_face(
    face: Any, index: int, edges: Any, half_edges: list[HalfEdge], curves: dict[int, Curve], tolerance: float
) -> Face:
    """Read one face; its half-edges are appended, the face to their left seen from outside, and its edges' curves."""
    kernel = _kernel()
    topo_ds = kernel.TopoDS
    face = topo_ds.Face_s(face)
    flipped = face.Orientation() == kernel.TopAbs_REVERSED
    forward = topo_ds.Face_s(face.Oriented(kernel.TopAbs_FORWARD))
    wires, free = [], False
    explorer = kernel.TopExp_Explorer(forward, kernel.TopAbs_WIRE)
    while explorer.More():
        walk = kernel.BRepTools_WireExplorer(topo_ds.Wire_s(explorer.Current()), forward)
        uses = []
        while walk.More():
            edge = walk.Current()
            if kernel.BRep_Tool.Degenerated_s(edge):  # the pole of a sphere, the tip of a cone: a point
                walk.Next()
                continue
            backward = (edge.Orientation() == kernel.TopAbs_REVERSED) != flipped
            number = edges.FindIndex(edge)
            if number not in curves:
                curves[number] = _read_curve(edge, tolerance)
            curve = curves[number]
            free = free or isinstance(curve, FreeCurve)
            uses.append((number, reversed_curve(curve) if backward else curve))
            walk.Next()
        if flipped:
            uses.reverse()
        first = len(half_edges)
        for n, (edge_id, curve) in enumerate(uses):
            half_edges.append(HalfEdge(edge_id, index, curve, first + (n + 1) % len(uses)))
        if uses:
            wires.append(tuple(range(first, first + len(uses))))
        explorer.Next()
    surface = _read_surface(face, kernel.BRepAdaptor_Surface(face), flipped)
    fine = free and not isinstance(surface, OtherSurface)
    return Face(
        surface,
        tuple(wires),
        lambda: _area(face, free or isinstance(surface, OtherSurface)),
        lambda apex: _cone_by_kernel(face, apex, fine),
    )


def _area(face: Any, free: bool) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    if free:
        BRepGProp.SurfaceProperties_s(face, props, KERNEL_PRECISION)
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
    plain = None if kind in own else _plain_form(face)
    near = _NearestPoint(face, surface, flipped)
    return OtherSurface(str(kind).rsplit("_", 1)[-1].lower(), near.normal, near.within, plain)


def _plain_form(face: Any) -> Callable[[], Plane | Cylinder | None]:
    """Looks, when called, for the plane or cylinder that a face is, only written otherwise."""

    def look() -> Plane | Cylinder | None:
        form = plain_surface(face, FACE_TOLERANCE)
        return None if form is None else form[0]

    return look


class _NearestPoint:
    """Where a face comes nearest to points; the search is set up with the first one."""

    def __init__(self, face: Any, surface: Any, flipped: bool) -> None:
        self.face, self.surface, self.flipped = face, surface, flipped
        self.search: Any = None
        self.classifier: Any = None

    def _parameters(self, point: Vector) -> list[tuple[float, float]]:
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

    def normal(self, point: Vector) -> Vector:
        """The unit normal out of the metal there; zero where there is no such place."""
        from OCP.gp import gp_Pnt, gp_Vec

        places = self._parameters(point)
        if not places:
            return np.zeros(3)
        at, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
        self.surface.D1(*places[0], at, du, dv)
        normal = cross(_vector(du), _vector(dv))
        size = float(np.linalg.norm(normal))
        unit: Vector = normal / size if size > 0 else np.zeros(3)
        return -unit if self.flipped else unit

    def within(self, point: Vector) -> Vector | None:
        """The nearest place inside of the face's edges; None where there is none."""
        from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
        from OCP.gp import gp_Pnt2d
        from OCP.TopAbs import TopAbs_IN

        if self.classifier is None:
            self.classifier = BRepTopAdaptor_FClass2d(self.face, 1e-7)
        for u, v in self._parameters(point):
            if self.classifier.Perform(gp_Pnt2d(u, v)) == TopAbs_IN:
                return _vector(self.surface.Value(u, v))
        return None


def _read_curve(edge: Any, tolerance: float) -> Curve:
    kernel = _kernel()
    curve = kernel.BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    if kind == kernel.GeomAbs_Line:
        return StraightCurve(_vector(curve.Value(first)), _vector(curve.Value(last)))
    if kind == kernel.GeomAbs_Circle:
        circle = curve.Circle()
        x, y = _vector(circle.XAxis().Direction()), _vector(circle.YAxis().Direction())
        u = math.cos(first) * x + math.sin(first) * y
        v = -math.sin(first) * x + math.cos(first) * y
        return CircularCurve(_vector(circle.Location()), u, v, circle.Radius(), last - first)
    plain = plain_curve(curve, tolerance)
    if plain is not None:
        return plain
    return FreeCurve(_places_of(curve, first, last), curve.Tolerance())


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
            points: Vector = centre + np.outer(np.cos(angles), x) + np.outer(np.sin(angles), y)
            return points

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
        points: Vector = lifted[:, :3] / lifted[:, 3:]
        return points

    return places


def _vector(item: Any) -> Vector:
    return np.array((item.X(), item.Y(), item.Z()))


def shell_volume(shell: Shell) -> float:
    """Volume of a shell by all its faces' cones [mm3], negative where they look inward."""
    apex = shell.curve(0).at(0.0) if shell.half_edges else np.zeros(3)
    return math.fsum(cone_volume(shell, n, apex) for n in range(len(shell.faces)))


def cone_volume(shell: Shell, number: int, apex: Vector) -> float:
    """Volume of the cone from a point to a face [mm3], positive where the face looks away from the point.

    By hand for flat faces within lines and circles, and round ones within lines along and circles about their axis; of
    all else, and of our own solids, by the kernel.
    """
    face = shell.faces[number]
    assert face.cone_volume is not None
    if shell.slack is STRICT or isinstance(face.surface, OtherSurface):
        return face.cone_volume(apex)
    curves = shell.curves(number)
    if any(isinstance(c, FreeCurve) for c in curves):
        return face.cone_volume(apex)
    if isinstance(face.surface, Plane):
        height = float((shell.corner(number) - apex) @ face.surface.normal)
        return height * float(shell.rough_areas[number]) / 3
    area = cylinder_area(face.surface, curves)
    if area is None:
        return face.cone_volume(apex)
    side = face.surface.radius if face.surface.convex else -face.surface.radius
    return (side * area + float((face.surface.origin - apex) @ shell.area_vectors[number])) / 3


def cylinder_area(surface: Cylinder, curves: Sequence[Curve]) -> float | None:
    """Area of a round face within lines along its axis and circles about it [mm2]; None where others bound it."""
    total = 0.0
    for curve in curves:
        if isinstance(curve, CircularCurve):
            arm = curve.centre - surface.origin
            high = float(arm @ surface.axis)
            turn = float(cross(curve.u, curve.v) @ surface.axis)
            if float(np.linalg.norm(arm - high * surface.axis)) > 1e-7 or abs(turn) < 1 - 1e-12:
                return None
            total += surface.radius * high * math.copysign(curve.sweep, turn)
        elif isinstance(curve, StraightCurve):
            along = curve.end - curve.start
            if float(np.linalg.norm(along - surface.axis * (along @ surface.axis))) > 1e-7:
                return None
    return abs(total)


def _cone_by_kernel(face: Any, apex: Vector, fine: bool) -> float:
    """The same by the kernel; ``fine``: within curves that it integrates only nearly unless a precision is given."""
    from OCP.BRepGProp import BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
    from OCP.gp import gp_Pnt

    arguments = (BRepGProp_Face(face), BRepGProp_Domain(face), gp_Pnt(*(float(c) for c in apex)))
    return float((BRepGProp_Vinert(*arguments, KERNEL_PRECISION) if fine else BRepGProp_Vinert(*arguments)).Mass())


def is_sound(shape: Any) -> bool:
    """Whether the kernel finds nothing wrong with a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(kernel_shape(shape)).IsValid())
