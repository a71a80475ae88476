"""Planes, cylinders, lines and circles in other words: found to 1e-9 where exact, and only within the tolerance.

Deviations are made by hand: control points moved by a known amount, circles of a known sagitta, cones and ellipses
of a known difference.

Long, as faces and edges are made and found in one place.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from flatgen.core.flat_pattern import FlatPattern
from flatgen.metal.bend_rule import rule_for
from flatgen.unfolding.formed import unfold_formed
from flatgen.unfolding.recognise import plain_curve, plain_surface
from flatgen.unfolding.sheet import CircularCurve, Cylinder, Plane, StraightCurve, Vector
from tests.unfolding import odd_forms as forms

WITHIN = 1e-4


def nurbs(part: Any) -> Any:
    """Every surface and curve of a part as rational B-splines, exactly."""
    import cadquery as cq
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return cq.Workplane(obj=cq.Shape.cast(BRepBuilderAPI_NurbsConvert(part.val().wrapped, True).Shape()))


def approximated(part: Any, off: float) -> Any:
    """Every surface and curve of a part as polynomial B-splines within a distance [mm]."""
    import cadquery as cq
    from OCP.GeomAbs import GeomAbs_C1
    from OCP.ShapeCustom import ShapeCustom, ShapeCustom_RestrictionParameters

    how = ShapeCustom_RestrictionParameters()
    shape = ShapeCustom.BSplineRestriction_s(
        nurbs(part).val().wrapped, off, off, 5, 200, GeomAbs_C1, GeomAbs_C1, True, True, how
    )
    return cq.Workplane(obj=cq.Shape.cast(shape))


def outward(face: Any, point: Vector) -> Vector:
    """The kernel's own normal out of the metal."""
    import cadquery as cq

    normal = face.normalAt(cq.Vector(*point))
    return np.array(normal.toTuple())


def patch(points: list[list[tuple[float, float, float]]]) -> Any:
    """A face through a grid of points, as the kernel approximates it (within 1e-9)."""
    import cadquery as cq

    rows = [[cq.Vector(*p) for p in row] for row in points]
    return cq.Face.makeSplineApprox(rows, tol=1e-9, minDeg=3, maxDeg=8)


def adaptor(edge: Any) -> Any:
    from OCP.BRepAdaptor import BRepAdaptor_Curve

    return BRepAdaptor_Curve(edge.wrapped)


def curve(geometry: Any, first: float | None = None, last: float | None = None) -> Any:
    from OCP.GeomAdaptor import GeomAdaptor_Curve

    return GeomAdaptor_Curve(geometry) if first is None else GeomAdaptor_Curve(geometry, first, last)


def spline_through(points: Vector) -> Any:
    import cadquery as cq

    return adaptor(cq.Edge.makeSpline([cq.Vector(*p) for p in points]))


def turned(part: Any) -> Any:
    return part.rotate((0, 0, 0), (1, 2, 3), 37).translate((300, -200, 77))


PARTS = {
    "angle": forms.angle_piece,
    "hem": lambda: forms.hem(0.05),
    "bore": forms.tube_with_bore,
    "roll": forms.rolled,
    "tube": forms.tube,
}


@pytest.mark.parametrize("name", PARTS)
def test_every_face_of_a_converted_part_is_found_exactly(name: str) -> None:
    """Faces of the part as drawn against those of the part in B-splines, in the same order."""
    plain = turned(PARTS[name]())
    for drawn, given in zip(plain.faces().vals(), nurbs(plain).faces().vals(), strict=True):
        found = plain_surface(given.wrapped, WITHIN)
        assert found is not None
        surface, off = found
        assert off < 1e-9
        if drawn.geomType() == "PLANE":
            assert isinstance(surface, Plane)
            centre = np.array(drawn.Center().toTuple())
            assert surface.normal == pytest.approx(outward(drawn, centre), abs=1e-9)
            assert (surface.origin - centre) @ surface.normal == pytest.approx(0, abs=1e-9)
        else:
            assert isinstance(surface, Cylinder)
            one = drawn._geomAdaptor().Cylinder()
            axis = np.array([getattr(one.Axis().Direction(), c)() for c in "XYZ"])
            foot = np.array([getattr(one.Axis().Location(), c)() for c in "XYZ"])
            assert surface.radius == pytest.approx(one.Radius(), abs=1e-9)
            assert abs(surface.axis @ axis) == pytest.approx(1, abs=1e-12)
            assert np.linalg.norm(np.cross(surface.origin - foot, axis)) == pytest.approx(0, abs=1e-9)
            spot = np.array(drawn.positionAt(*_middle(drawn)).toTuple())
            arm = spot - foot - axis * ((spot - foot) @ axis)
            assert surface.convex == (arm @ outward(drawn, spot) > 0)


def _middle(face: Any) -> tuple[float, float]:
    u0, u1, v0, v1 = face._uvBounds()
    return ((u0 + u1) / 2, (v0 + v1) / 2)


@pytest.mark.parametrize("name", PARTS)
def test_mirrored_and_reversed_parts_look_outward(name: str) -> None:
    """A point a little outward of each face, by what was found, lies outside of the metal; one inward inside."""
    import cadquery as cq

    part = nurbs(turned(PARTS[name]()).mirror("XY"))
    solid = part.solids().val()
    for face in solid.Faces():
        found = plain_surface(face.wrapped, WITHIN)
        assert found is not None
        surface, _ = found
        spot = np.array(face.positionAt(*_middle(face)).toTuple())
        if isinstance(surface, Plane):
            normal = surface.normal
        else:
            arm = spot - surface.origin
            arm -= surface.axis * (arm @ surface.axis)
            normal = arm / np.linalg.norm(arm) * (1 if surface.convex else -1)
        assert normal == pytest.approx(outward(face, spot), abs=1e-7)
        if face.distance(cq.Vertex.makeVertex(*spot)) < 1e-6:  # the middle of a bent end lies off it
            assert solid.isInside(cq.Vector(*(spot - 1e-3 * normal)), 1e-6)
            assert not solid.isInside(cq.Vector(*(spot + 1e-3 * normal)), 1e-6)


def test_cylinders_of_extrusion_and_revolution() -> None:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.Geom import (
        Geom_Circle,
        Geom_Line,
        Geom_RectangularTrimmedSurface,
        Geom_SurfaceOfLinearExtrusion,
        Geom_SurfaceOfRevolution,
    )
    from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt

    up = gp_Dir(0, 0, 1)
    pulled = Geom_SurfaceOfLinearExtrusion(Geom_Circle(gp_Ax2(gp_Pnt(3, 4, 5), up), 7.5), up)
    spun = Geom_SurfaceOfRevolution(Geom_Line(gp_Pnt(10.5, 4, 0), up), gp_Ax1(gp_Pnt(3, 4, 0), up))
    for surface in (pulled, spun):
        trimmed = Geom_RectangularTrimmedSurface(surface, 0.1, 1.4, -4.0, 9.0)
        found = plain_surface(BRepBuilderAPI_MakeFace(trimmed, 1e-9).Face(), WITHIN)
        assert found is not None
        assert isinstance(found[0], Cylinder)
        assert found[0].radius == pytest.approx(7.5, abs=1e-9)
        assert found[1] < 1e-9


def test_planes_of_offset_revolution_and_bezier() -> None:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.Geom import (
        Geom_BezierSurface,
        Geom_Line,
        Geom_OffsetSurface,
        Geom_Plane,
        Geom_SurfaceOfRevolution,
    )
    from OCP.gp import gp_Ax1, gp_Ax3, gp_Dir, gp_Pnt
    from OCP.TColgp import TColgp_Array2OfPnt

    up = gp_Dir(0, 0, 1)
    flat = Geom_OffsetSurface(Geom_Plane(gp_Ax3(gp_Pnt(0, 0, 2), up)), 1.5)
    spun = Geom_SurfaceOfRevolution(Geom_Line(gp_Pnt(0, 0, 3.5), gp_Dir(1, 0, 0)), gp_Ax1(gp_Pnt(0, 0, 0), up))
    poles = TColgp_Array2OfPnt(1, 2, 1, 2)
    for n, (x, y) in enumerate(((0, 0), (0, 10), (10, 0), (10, 10))):
        poles.SetValue(n // 2 + 1, n % 2 + 1, gp_Pnt(x, y, 3.5))
    sheets = [(flat, (0.0, 5.0, -3.0, 4.0)), (spun, (0.1, 1.4, 2.0, 9.0)), (Geom_BezierSurface(poles), ())]
    for surface, bounds in sheets:
        found = plain_surface(BRepBuilderAPI_MakeFace(surface, *bounds, 1e-9).Face(), WITHIN)
        assert found is not None
        assert isinstance(found[0], Plane)
        assert abs(found[0].normal[2]) == pytest.approx(1, abs=1e-12)
        assert found[0].origin[2] == pytest.approx(3.5, abs=1e-9)


def test_plane_off_by_a_known_amount() -> None:
    """z = h sin(2 pi x / 40) over 40 x 30: within h of a plane, and hardly less (least squares tilts it by h / 4)."""
    for h, fits in ((0.5e-4, True), (3e-4, False)):
        rows = [
            [(x, y, h * math.sin(2 * math.pi * x / 40)) for y in np.linspace(0, 30, 7)] for x in np.linspace(0, 40, 33)
        ]
        found = plain_surface(patch(rows).wrapped, WITHIN)
        assert (found is not None) == fits
        if found is not None:
            assert isinstance(found[0], Plane)
            assert 0.4 * h < found[1] < 1.1 * h


def test_cylinder_off_by_a_known_amount() -> None:
    """A cone whose radius runs from 5 - h to 5 + h is within h of a cylinder of 5."""
    for h, fits in ((0.8e-4, True), (3e-3, False)):
        rows = []
        for a in np.linspace(0.2, 1.8, 25):
            radii = [(z, 5 + h * (z / 10 - 1)) for z in np.linspace(0, 20, 9)]
            rows.append([(r * math.cos(a), r * math.sin(a), z) for z, r in radii])
        found = plain_surface(patch(rows).wrapped, WITHIN)
        assert (found is not None) == fits
        if found is not None:
            surface, off = found
            assert isinstance(surface, Cylinder)
            assert surface.radius == pytest.approx(5, abs=h)
            assert off < h


def test_bump_in_the_middle_of_a_face_is_seen() -> None:
    """0.01 mm high over 3 of 60 mm, between the samples of a face of few spans."""
    xs, ys = np.linspace(0, 60, 61), np.linspace(0, 40, 41)
    rows = [[(x, y, 0.01 * math.exp(-((x - 27) ** 2 + (y - 23) ** 2) / 4)) for y in ys] for x in xs]
    assert plain_surface(patch(rows).wrapped, 1e-3) is None


def test_shallow_bend_is_not_taken_for_a_plane() -> None:
    """R 200 over 0.2 degrees: its sagitta is 0.0003 mm, within tolerance of a plane, yet it is a cylinder."""
    part = nurbs(forms.strip([30.0, forms.Turn(0.2, 200.0), 30.0], 1.0, 20.0))
    radii = [
        found[0].radius
        for face in part.faces().vals()
        if (found := plain_surface(face.wrapped, 1e-3)) is not None and isinstance(found[0], Cylinder)
    ]
    assert sorted(radii) == pytest.approx([200.0, 201.0], abs=1e-4)


def test_what_is_neither_is_none() -> None:
    import cadquery as cq

    ball = nurbs(forms.ball()).faces().vals()
    cone = nurbs(cq.Workplane(obj=cq.Solid.makeCone(5, 8, 10))).faces().vals()
    ring = nurbs(cq.Workplane(obj=cq.Solid.makeTorus(20, 3))).faces().vals()
    assert plain_surface(ball[0].wrapped, WITHIN) is None
    assert plain_surface(ring[0].wrapped, WITHIN) is None
    assert sum(plain_surface(f.wrapped, WITHIN) is None for f in cone) == 1


def test_only_the_face_itself_is_judged() -> None:
    """A sheet of 20 x 20 whose far quarter rises to a corner; the triangle before it is flat, its box is not."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
    from OCP.BRepLib import BRepLib
    from OCP.GCE2d import GCE2d_MakeSegment
    from OCP.Geom import Geom_BSplineSurface
    from OCP.gp import gp_Pnt, gp_Pnt2d
    from OCP.TColgp import TColgp_Array2OfPnt
    from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

    poles = TColgp_Array2OfPnt(1, 3, 1, 3)
    knots, counts = TColStd_Array1OfReal(1, 3), TColStd_Array1OfInteger(1, 3)
    for n, count in enumerate((2, 1, 2)):
        knots.SetValue(n + 1, n)
        counts.SetValue(n + 1, count)
        for m in range(3):
            poles.SetValue(n + 1, m + 1, gp_Pnt(10 * n, 10 * m, 5 if n == m == 2 else 0))
    sheet = Geom_BSplineSurface(poles, knots, knots, counts, counts, 1, 1)
    corners = [gp_Pnt2d(u, v) for u, v in ((0, 0), (2, 0), (0, 2))]
    around = BRepBuilderAPI_MakeWire()
    for one, two in zip(corners, corners[1:] + corners[:1], strict=True):
        around.Add(BRepBuilderAPI_MakeEdge(GCE2d_MakeSegment(one, two).Value(), sheet).Edge())
    half = BRepBuilderAPI_MakeFace(sheet, around.Wire()).Face()
    BRepLib.BuildCurves3d_s(half)
    found = plain_surface(half, WITHIN)
    assert found is not None
    assert isinstance(found[0], Plane)
    assert found[0].normal == pytest.approx((0, 0, 1), abs=1e-12)
    assert plain_surface(BRepBuilderAPI_MakeFace(sheet, 1e-9).Face(), WITHIN) is None


# curves


def test_every_edge_of_a_converted_part_is_found_exactly() -> None:
    """Ends, quarter points and direction as the edge is walked."""
    part = turned(forms.tube_with_bore())
    seen = set()
    for edge in nurbs(part).edges().vals():
        given = adaptor(edge)
        found = plain_curve(given, WITHIN)
        assert found is not None
        seen.add(type(found))
        first, last = given.FirstParameter(), given.LastParameter()
        for share in (0.0, 1.0):
            end = given.Value(first + (last - first) * share)
            assert found.at(share) == pytest.approx((end.X(), end.Y(), end.Z()), abs=1e-9)
        early = given.Value(first + (last - first) * 0.1)
        spots = [np.array((early.X(), early.Y(), early.Z())) - found.at(s) for s in np.linspace(0, 1, 2001)]
        nearest = min(range(2001), key=lambda n: float(np.linalg.norm(spots[n])))
        assert nearest < 700
        assert np.linalg.norm(spots[nearest]) < 0.02
    assert seen == {StraightCurve, CircularCurve}


@pytest.mark.parametrize("sweep", [1e-2, 0.5, math.pi / 2, math.pi, 5.0, 6.2])
@pytest.mark.parametrize("way", [1, -1])
def test_arcs_of_any_sweep_either_way(sweep: float, way: int) -> None:
    from OCP.Geom import Geom_Circle, Geom_TrimmedCurve
    from OCP.GeomConvert import GeomConvert
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    circle = Geom_Circle(gp_Ax2(gp_Pnt(30, -20, 11), gp_Dir(1, 2, 3)), 12.5)
    spline = GeomConvert.CurveToBSplineCurve_s(Geom_TrimmedCurve(circle, 0.3, 0.3 + sweep))
    if way < 0:
        spline.Reverse()
    found = plain_curve(curve(spline), WITHIN)
    assert isinstance(found, CircularCurve)
    assert found.radius == pytest.approx(12.5, abs=1e-7)
    assert found.sweep == pytest.approx(sweep, abs=1e-8)
    assert found.centre == pytest.approx((30, -20, 11), abs=1e-7)
    for share in (0.0, 0.5, 1.0):
        angle = 0.3 + sweep * (share if way > 0 else 1 - share)
        spot = circle.Value(angle)
        assert found.at(share) == pytest.approx((spot.X(), spot.Y(), spot.Z()), abs=1e-8)


def test_full_circle_starts_where_the_edge_does() -> None:
    from OCP.Geom import Geom_Circle
    from OCP.GeomConvert import GeomConvert
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    circle = Geom_Circle(gp_Ax2(gp_Pnt(3, 2, 1), gp_Dir(0, 1, 1)), 4.0)
    found = plain_curve(curve(GeomConvert.CurveToBSplineCurve_s(circle)), WITHIN)
    assert isinstance(found, CircularCurve)
    assert found.sweep == pytest.approx(2 * math.pi, abs=1e-12)
    for share in (0.0, 0.25, 0.75):
        spot = circle.Value(2 * math.pi * share)
        assert found.at(share) == pytest.approx((spot.X(), spot.Y(), spot.Z()), abs=1e-9)


@pytest.mark.parametrize(("more", "fits"), [(0.0, True), (1e-4, True), (1e-3, False)])
def test_ellipse_that_is_a_circle(more: float, fits: bool) -> None:
    """Half axes 6 and 6 + more lie within more / 2 of a circle of 6 + more / 2."""
    from OCP.Geom import Geom_Ellipse
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    ellipse = Geom_Ellipse(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), 6 + more, 6)
    found = plain_curve(curve(ellipse, 0.0, 2 * math.pi), WITHIN)
    assert (found is not None) == fits
    if found is not None:
        assert isinstance(found, CircularCurve)
        assert found.radius == pytest.approx(6 + more / 2, abs=1e-9)


@pytest.mark.parametrize(("sagitta", "kind"), [(0.0, StraightCurve), (5e-5, CircularCurve), (5e-3, CircularCurve)])
def test_line_and_shallow_arc_are_told_apart(sagitta: float, kind: type) -> None:
    """20 long: a radius of 20^2 / 8 s, or none."""
    x = np.linspace(-10, 10, 11)
    if sagitta:
        radius = 50 / sagitta + sagitta / 2
        points = np.column_stack((x, np.sqrt(radius**2 - x**2) - radius, 0 * x))
    else:
        points = np.column_stack((x, 2 * x, 0 * x + 1))
    found = plain_curve(spline_through(points), WITHIN)
    assert isinstance(found, kind)
    if isinstance(found, CircularCurve):
        assert found.radius == pytest.approx(radius, rel=1e-3)


def test_wavy_line_within_tolerance_and_beyond() -> None:
    """No arc fits a wave of two crests: a line within its height, or nothing."""
    x = np.linspace(0, 40, 81)
    for height, fits in ((0.8e-4, True), (2e-4, False)):
        points = np.column_stack((x, height * np.sin(x / 40 * 4 * math.pi), 0 * x))
        found = plain_curve(spline_through(points), WITHIN)
        assert isinstance(found, StraightCurve) == fits
        assert (found is None) != fits


def test_curve_that_turns_back_or_leaves_its_plane_is_none() -> None:
    from OCP.Geom import Geom_BezierCurve
    from OCP.gp import gp_Pnt
    from OCP.TColgp import TColgp_Array1OfPnt

    poles = TColgp_Array1OfPnt(1, 3)
    for n, x in enumerate((0, 10, 1)):
        poles.SetValue(n + 1, gp_Pnt(x, 0, 0))
    assert plain_curve(curve(Geom_BezierCurve(poles)), WITHIN) is None
    a = np.linspace(0, 2, 21)
    helix = np.column_stack((5 * np.cos(a), 5 * np.sin(a), 0.01 * a * a))
    assert plain_curve(spline_through(helix), WITHIN) is None


def test_edge_of_no_length_is_none() -> None:
    """The poles of a ball, where its edge is a point."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    for ball in (forms.ball(), nurbs(forms.ball())):
        walk, tips = TopExp_Explorer(ball.val().wrapped, TopAbs_EDGE), []
        while walk.More():
            edge = TopoDS.Edge_s(walk.Current())
            tips += [edge] if BRep_Tool.Degenerated_s(edge) else []
            walk.Next()
        assert tips
        assert all(plain_curve(BRepAdaptor_Curve(e), WITHIN) is None for e in tips)


def test_recognising_is_fast() -> None:
    """Bounds ten times what was measured (a face 0.6 to 1 ms, an edge 0.1 to 0.4 ms), for machines under load."""
    part = nurbs(forms.angle_piece())
    faces, edges = part.faces().vals(), [adaptor(e) for e in part.edges().vals()]
    spent = []
    for _ in range(3):
        begun = time.process_time()
        for face in faces:
            plain_surface(face.wrapped, WITHIN)
        middle = time.process_time()
        for edge in edges:
            plain_curve(edge, WITHIN)
        spent.append(((middle - begun) / len(faces), (time.process_time() - middle) / len(edges)))
    assert min(s[0] for s in spent) < 0.010
    assert min(s[1] for s in spent) < 0.004


# the whole road


@pytest.mark.parametrize("part", [forms.angle_piece, forms.joggle, forms.tray, forms.slotted_bend, forms.handed])
def test_converted_part_unfolds_to_the_same_flat(part: Any) -> None:
    flats = [unfold_formed(p, rule_for(None, 0.44)).flat for p in (turned(part()), turned(nurbs(part())))]
    one, two = flats
    assert (one.width, one.length, one.area) == pytest.approx((two.width, two.length, two.area), abs=1e-6)
    for values in (_corners, _bend_lines):
        assert values(one) == pytest.approx(values(two), abs=1e-6)
    assert one.outline_difference is None
    assert two.outline_difference is None


@pytest.mark.parametrize("off", [1e-6, 1e-4, 1e-3])
@pytest.mark.parametrize("part", [forms.angle_piece, forms.tray])
def test_approximated_part_unfolds_to_nearly_the_same_flat(part: Any, off: float) -> None:
    """Polynomials instead of rationals, asked to be within ``off``: round faces come out 4e-9 to 3e-6 mm off."""
    plain = turned(part())
    flat, other = (unfold_formed(p, rule_for(None, 0.44)).flat for p in (plain, approximated(plain, off)))
    assert _corners(other) == pytest.approx(_corners(flat), abs=1e-4)
    assert _bend_lines(other) == pytest.approx(_bend_lines(flat), abs=1e-3)


def _corners(flat: FlatPattern) -> Vector:
    return _in_order([p.start for loop in (flat.outline, *flat.openings) for p in loop])


def _bend_lines(flat: FlatPattern) -> Vector:
    rows = []
    for bend in flat.bends:
        ends = _in_order(list(bend.centre)).ravel()
        rows.append((*ends, bend.angle, bend.inside_radius, bend.allowance))
    return _in_order(rows)


def _in_order(rows: Sequence[tuple[float, ...]]) -> Vector:
    """Sorted in steps coarser than noise, values untouched."""
    return np.array(sorted(rows, key=lambda row: [round(x / 0.003) for x in row]))
