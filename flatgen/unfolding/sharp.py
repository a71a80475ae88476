"""Corners that are modelled without a bend's two round faces.

lone     only the outer face is round: the inner one is put in, its radius less by the thickness, down to nothing
sharp    both edges are sharp: asked for with a radius, the kernel rounds both
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.read import shapes_of
from flatgen.unfolding.sheet import (
    CircularCurve,
    Curve,
    Cylinder,
    Face,
    HalfEdge,
    Plane,
    Shell,
    StraightCurve,
    Vector,
    cross,
)
from flatgen.unfolding.skins import Pairing, place_text, smooth_region

LEAST_RADIUS = 1e-6
"""A zero inside radius is given so much, which no drawing shows, so that its zone has two sides [mm]."""
NEXT_TO_NONE = 0.1  # an inside radius under this share of the thickness is next to none
SHARPEST, FLATTEST = 175.0, 2.0
"""A corner of two flats that turns between these is a bend to be [deg]."""


@dataclass(frozen=True)
class Corner:
    """A sharp corner: its edges on the inside and on the outside, the angle turned [deg], and a place."""

    inner: tuple[int, ...]
    outer: tuple[int, ...]
    angle: float
    place: Vector


def nearly_sharp_faces(shell: Shell, pairing: Pairing, thickness: float) -> list[int]:
    """Numbers of the round faces of bends that have an outer face only, or next to no inside radius."""
    numbers = set(_lone_rounds(shell, pairing, thickness))
    paired = pairing.paired_faces(thickness)
    for face in pairing.cylinders:
        surface = shell.surface(face)
        assert isinstance(surface, Cylinder)
        inner = surface.radius - (thickness if surface.convex else 0.0)
        if face in paired and inner < NEXT_TO_NONE * thickness and _joins_two_flats(shell, face, paired):
            numbers.add(face)
    return sorted(numbers)


def _joins_two_flats(shell: Shell, face: int, paired: set[int]) -> bool:
    """Whether a round face joins two flats that do not lie one on the other, as those of a hem do."""
    normals = [s.normal for s in _smooth_flats(shell, face, paired)]
    return len(normals) > 1 and min(float(normals[0] @ n) for n in normals) > math.cos(math.radians(SHARPEST))


def lone_radii(shell: Shell, pairing: Pairing, thickness: float) -> list[float]:
    """Inside radii of bends that have an outer face only [mm]."""
    lone = _lone_rounds(shell, pairing, thickness)
    if not lone:
        return []
    edges = _concave_corners(shell, pairing.paired_faces(thickness))
    cylinders = [c for half, twin in edges if (c := _lone_cylinder_at(shell, half, twin, lone, thickness)) is not None]
    return [max(0.0, c.radius - thickness) for c in cylinders]


def with_inner_faces(shell: Shell, pairing: Pairing, thickness: float) -> Shell:
    """The shell with the inner round faces put in where a bend has only its outer one."""
    paired = pairing.paired_faces(thickness)
    lone = _lone_rounds(shell, pairing, thickness)
    if not lone:
        return shell
    faces, halves, volume = list(shell.faces), list(shell.half_edges), shell.volume
    edge = 1 + max(h.edge for h in halves)
    for half, twin in _concave_corners(shell, paired):
        cylinder = _lone_cylinder_at(shell, half, twin, lone, thickness)
        if cylinder is not None:
            _insert_face(faces, halves, (half, twin), cylinder, max(cylinder.radius - thickness, LEAST_RADIUS), edge)
            edge += 4
            line, half_angle = shell.curve(half), math.radians(abs(_corner_angle(shell, half, twin))) / 2
            inner = cylinder.radius - thickness
            volume += (math.tan(half_angle) - half_angle) * inner**2 * _line_length(line)  # metal in the corner
    return replace(shell, faces=tuple(faces), half_edges=tuple(halves), volume=volume)


def _lone_rounds(shell: Shell, pairing: Pairing, thickness: float) -> dict[int, Cylinder]:
    """Convex round faces that join flats of the sheet and have no inner face."""
    paired = pairing.paired_faces(thickness)
    return {
        i: s
        for i in pairing.cylinders
        if isinstance(s := shell.surface(i), Cylinder)
        and s.convex
        and i not in paired
        and s.radius > thickness - shell.slack.length
        and _smooth_flats(shell, i, paired)
    }


def _smooth_flats(shell: Shell, face: int, paired: set[int]) -> list[Plane]:
    """Surfaces of the flats of the sheet that a face meets smoothly."""
    return [
        s
        for half, other in shell.neighbours(face)
        if other in paired and isinstance(s := shell.surface(other), Plane) and shell.is_smooth(half, other)
    ]


def _concave_corners(shell: Shell, paired: set[int]) -> list[tuple[int, int]]:
    return [pair for pair in _corners(shell, paired) if _corner_angle(shell, *pair) < 0]


def _corners(shell: Shell, paired: set[int]) -> list[tuple[int, int]]:
    """Straight edges between two flats of the sheet that meet in a corner."""
    pairs = []
    for half, twin in shell.twins.items():
        if half > twin or not isinstance(shell.curve(half), StraightCurve):
            continue
        one, two = shell.half_edges[half].face, shell.half_edges[twin].face
        flat = all(f in paired and isinstance(shell.surface(f), Plane) for f in (one, two))
        if flat and one != two and FLATTEST < abs(_corner_angle(shell, half, twin)) < SHARPEST:
            pairs.append((half, twin))
    return pairs


def _corner_angle(shell: Shell, half: int, twin: int) -> float:
    """Angle between the flats at an edge [deg]: positive where the metal's corner is convex."""
    curve = shell.curve(half)
    one, two = (shell.normal_at(shell.half_edges[h].face, curve.at(0.5)) for h in (half, twin))
    along = curve.at(1.0) - curve.at(0.0)
    angle = math.degrees(math.atan2(float(np.linalg.norm(cross(one, two))), float(one @ two)))
    return angle if float(cross(one, two) @ along) > 0 else -angle


def _lone_cylinder_at(
    shell: Shell, half: int, twin: int, lone: dict[int, Cylinder], thickness: float
) -> Cylinder | None:
    """The round outer face whose axis a concave edge lies on, or as near to as its radius asks."""
    curve = shell.curve(half)
    assert isinstance(curve, StraightCurve)
    along = (curve.end - curve.start) / np.linalg.norm(curve.end - curve.start)
    for cylinder in lone.values():
        if 1 - abs(float(along @ cylinder.axis)) > shell.slack.smooth:
            continue
        inner = cylinder.radius - thickness
        off = [
            abs(float((cylinder.origin - curve.start) @ shell.normal_at(shell.half_edges[h].face, curve.start)) - inner)
            for h in (half, twin)
        ]
        if max(off) < shell.slack.length:
            return cylinder
    return None


def _insert_face(
    faces: list[Face], halves: list[HalfEdge], pair: tuple[int, int], outer: Cylinder, radius: float, edge: int
) -> None:
    """Put a round face between two flats at their common edge, and draw both flats back to its tangent lines."""
    number = len(faces)
    lines: list[StraightCurve] = []
    for half in pair:
        here = halves[half]
        surface, curve = faces[here.face].surface, here.curve
        assert isinstance(surface, Plane)
        assert isinstance(curve, StraightCurve)
        foot = outer.origin - surface.normal * float((outer.origin - surface.origin) @ surface.normal)
        shift = foot - curve.start
        shift = shift - outer.axis * float(shift @ outer.axis)
        moved = _on_axis(StraightCurve(curve.start + shift, curve.end + shift), outer, surface, radius)
        lines.append(moved)
        _shorten_neighbours(halves, half, moved)
        inward = cross(surface.normal, curve.end - curve.start)  # into the face, by the edge's length
        lost = float(shift @ inward) * (1 + float(np.linalg.norm(moved.end - moved.start)) / _line_length(curve)) / 2
        faces[here.face] = faces[here.face].with_area(faces[here.face].area - lost)
        halves[half] = replace(halves[half], curve=moved)
    first = len(halves)
    ends = _arc(lines[0].start, lines[1].end, outer, radius), _arc(lines[1].start, lines[0].end, outer, radius)
    curves: tuple[Curve, ...] = (
        StraightCurve(lines[0].end, lines[0].start),
        ends[0],
        StraightCurve(lines[1].end, lines[1].start),
        ends[1],
    )
    ids = (edge, edge + 1, edge + 2, edge + 3)
    for n, curve in enumerate(curves):
        halves.append(HalfEdge(ids[n], number, curve, first + (n + 1) % 4))
    for half, new in zip(pair, (ids[0], ids[2]), strict=True):
        halves[half] = replace(halves[half], edge=new)
    cylinder = Cylinder(outer.origin, outer.axis, radius, False)
    area = radius * abs(ends[0].sweep) * _line_length(lines[0])
    faces.append(Face(cylinder, (tuple(range(first, first + 4)),), lambda: area))


def _line_length(line: Curve) -> float:
    return float(np.linalg.norm(line.at(1.0) - line.at(0.0)))


def _on_axis(line: StraightCurve, outer: Cylinder, flat: Plane, radius: float) -> StraightCurve:
    feet = [outer.origin + outer.axis * float((p - outer.origin) @ outer.axis) for p in (line.start, line.end)]
    return StraightCurve(*(f - flat.normal * radius for f in feet))


def _arc(start: Vector, end: Vector, outer: Cylinder, radius: float) -> CircularCurve:
    centre = outer.origin + outer.axis * float((start - outer.origin) @ outer.axis)
    u, w = (start - centre) / radius, (end - centre) / radius
    w = w - outer.axis * float(w @ outer.axis)
    side = cross(outer.axis, u)
    angle = math.atan2(float(w @ side), float(w @ u))
    v = side if angle > 0 else -side
    return CircularCurve(centre, u, v, radius, abs(angle))


def _shorten_neighbours(halves: list[HalfEdge], half: int, moved: StraightCurve) -> None:
    """Straight neighbours of an edge that moved within its flat end where it now ends."""
    before = next(n for n, h in enumerate(halves) if h.following == half and h.face == halves[half].face)
    after = halves[half].following
    for index, corner, at_end in ((before, moved.start, True), (after, moved.end, False)):
        curve = halves[index].curve
        if isinstance(curve, StraightCurve):
            line = StraightCurve(curve.start, corner) if at_end else StraightCurve(corner, curve.end)
            halves[index] = replace(halves[index], curve=line)


_EdgesByFaces: TypeAlias = dict[tuple[frozenset[int], frozenset[int]], tuple[set[int], set[int], float, Vector]]
"""By the faces inside and outside of a corner: its edges there, its angle [deg], a place."""


def sharp_corners(shell: Shell, pairing: Pairing, thickness: float) -> list[Corner]:
    """Corners with two sharp edges, one thickness apart, on the two sides of the sheet."""
    paired = pairing.paired_faces(thickness)
    convex = [p for p in _corners(shell, paired) if _corner_angle(shell, *p) > 0]
    by_faces: dict[frozenset[int], list[tuple[int, int]]] = {}
    for half, twin in convex:
        key = frozenset((shell.half_edges[half].face, shell.half_edges[twin].face))
        by_faces.setdefault(key, []).append((half, twin))
    edges_by_faces: _EdgesByFaces = {}
    for half, twin in _concave_corners(shell, paired):
        one, two = shell.half_edges[half].face, shell.half_edges[twin].face
        for other in pairing.opposite(one, thickness):
            for third in pairing.opposite(two, thickness):
                outer = by_faces.get(frozenset((other, third)), [])
                if outer:
                    curve = shell.curve(half)
                    key2 = (frozenset((one, two)), frozenset((other, third)))
                    blank = (set[int](), set[int](), abs(_corner_angle(shell, half, twin)), curve.at(0.5))
                    row = edges_by_faces.setdefault(key2, blank)
                    row[0].add(shell.half_edges[half].edge)
                    row[1].update(shell.half_edges[h].edge for h, _ in outer)
    return _corners_of_sheet(shell, pairing, thickness, edges_by_faces)


def _corners_of_sheet(shell: Shell, pairing: Pairing, thickness: float, edges_by_faces: _EdgesByFaces) -> list[Corner]:
    """Corners that hang on the largest flat, over other corners if need be: not those of walls one thickness apart."""
    if not edges_by_faces:
        return []
    allowed = pairing.paired_faces(thickness)
    start = shell.largest(i for i in pairing.planes if i in allowed)
    other = shell.largest(pairing.opposite(start, thickness))
    reached_faces = smooth_region(shell, start, allowed) | smooth_region(shell, other, allowed)
    waiting, corners = dict(edges_by_faces), []
    while reached := [key for key in waiting if not reached_faces.isdisjoint(key[0] | key[1])]:
        for key in reached:
            a, b, angle, place = waiting.pop(key)
            corners.append(Corner(tuple(sorted(a)), tuple(sorted(b)), angle, place))
            reached_faces |= frozenset[int]().union(*(smooth_region(shell, f, allowed) for f in key[0] | key[1]))
    return corners


def round_corners(shape: Any, corners: Sequence[Corner], radius: float, thickness: float) -> Any:
    """A solid whose sharp corners are bends: outside sizes stay, the inside gets ``radius`` [mm].

    :param corners: with the numbers of their edges as ``read_shell`` counts them
    :raises InputRefused: FG046 where the kernel cannot round them.
    """
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    edges = shapes_of(shape, TopAbs_EDGE)
    for inner, size in ((True, radius), (False, radius + thickness)):
        if size <= 0.0:
            continue
        try:
            maker = BRepFilletAPI_MakeFillet(shape)
            for corner in corners:
                for number in corner.inner if inner else corner.outer:
                    maker.Add(size, TopoDS.Edge_s(edges.FindKey(number)))
            maker.Build()
            done = maker.IsDone() and TopExp_Explorer(maker.Shape(), TopAbs_SOLID).More()
        except Exception as error:  # the kernel's own kinds of failure
            raise _fillet_error(corners, radius) from error
        if not done:
            raise _fillet_error(corners, radius)
        if inner:
            edges = _edges_after(maker, edges, corners)
        shape = maker.Shape()
    return TopExp_Explorer(shape, TopAbs_SOLID).Current()


def remove_faces(shape: Any, faces: Sequence[int]) -> Any:
    """A solid without some round faces: the flats beside them meet in sharp edges.

    :raises InputRefused: FG046 where the kernel cannot.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Defeaturing
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    faces_of_shape = shapes_of(shape, TopAbs_FACE)
    maker = BRepAlgoAPI_Defeaturing()
    maker.SetShape(shape)
    for face in faces:
        maker.AddFaceToRemove(faces_of_shape.FindKey(face + 1))
    maker.Build()
    explorer = TopExp_Explorer(maker.Shape(), TopAbs_SOLID) if maker.IsDone() else None
    if explorer is None or not explorer.More():
        text = f"{len(faces)} round faces next to sharp corners cannot be taken away to give them another radius"
        remedy = "leave --inside-radius out: the bends are then taken as they are modelled"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    return explorer.Current()


def _edges_after(maker: Any, edges: Any, corners: Sequence[Corner]) -> Any:
    """The edges as they are after a first rounding, under their old numbers."""
    from OCP.TopTools import TopTools_IndexedMapOfShape

    edges_now = TopTools_IndexedMapOfShape()
    wanted = {n for c in corners for n in c.outer}
    for number in range(1, edges.Extent() + 1):
        edge = edges.FindKey(number)
        if number in wanted:
            after = maker.Modified(edge)
            edge = after.First() if after.Extent() else edge
        edges_now.Add(edge)
    return edges_now


def _fillet_error(corners: Sequence[Corner], radius: float) -> InputRefused:
    text = (
        f"no inside radius of {radius:.3f} mm fits here: an edge, opening or other corner lies too near, "
        "or one of the two legs runs on beside the corner without a relief"
    )
    remedy = "model this corner with its bend, inner and outer radius, and a relief beside it"
    return InputRefused(Fault("FG046", f"the corner at {place_text(corners[0].place)}", text, remedy))
