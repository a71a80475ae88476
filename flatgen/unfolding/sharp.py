"""Corners that are modelled without a bend's two round faces.

lone     the outer face is round, the inner one is a sharp edge on (or near) its axis: the inside radius is the outer
         one less the thickness, down to nothing. The inner faces that are missing are put in.
sharp    both edges are sharp: nothing says to what radius the metal will be bent. Asked for with a radius, the
         kernel rounds both.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.sheet import (
    Circular,
    Curve,
    Cylinder,
    Face,
    HalfEdge,
    Plane,
    Shell,
    Straight,
    Vector,
    cross,
    edges_of,
    is_smooth,
)
from flatgen.unfolding.skins import Pairing, flood

LEAST = 1e-6
"""A zero inside radius is given so much, which no drawing shows, so that its zone has two sides [mm]."""

NEARLY = 0.1
"""An inside radius under this share of the thickness is next to none."""

SHARPEST, FLATTEST = 175.0, 2.0
"""A corner of two flats that turns between these is a bend to be [deg]."""


@dataclass(frozen=True)
class Corner:
    """A sharp corner: its edges on the inside and on the outside, the angle turned [deg], and a place."""

    inner: tuple[int, ...]
    outer: tuple[int, ...]
    angle: float
    place: Vector


def nearly_sharp(shell: Shell, pairing: Pairing, thickness: float) -> list[int]:
    """Round faces of bends that have an outer face only, or next to no inside radius: numbers of faces."""
    found = {i for i, _ in _lone(shell, pairing, thickness)}
    paired = pairing.paired(thickness)
    for face in pairing.cylinders:
        surface = shell.faces[face].surface
        assert isinstance(surface, Cylinder)
        inner = surface.radius - (thickness if surface.convex else 0.0)
        if face in paired and inner < NEARLY * thickness and _turns(shell, face, paired):
            found.add(face)
    return sorted(found)


def _turns(shell: Shell, face: int, paired: set[int]) -> bool:
    """Whether a round face joins two flats that do not lie one on the other, as those of a hem do."""
    normals = [
        s.normal
        for h in edges_of(shell.faces[face])
        if h in shell.twins
        and (other := shell.half_edges[shell.twins[h]].face) in paired
        and isinstance(s := shell.faces[other].surface, Plane)
        and is_smooth(shell, h, other)
    ]
    return len(normals) > 1 and min(float(normals[0] @ n) for n in normals) > math.cos(math.radians(SHARPEST))


def lone_radii(shell: Shell, pairing: Pairing, thickness: float) -> list[float]:
    """Inside radii of bends that have an outer face only [mm]."""
    lone = _lone(shell, pairing, thickness)
    if not lone:
        return []
    edges = _concave(shell, pairing.paired(thickness))
    found = [c for half, twin in edges if (c := _its_cylinder(shell, half, twin, lone, thickness)) is not None]
    return [max(0.0, c.radius - thickness) for c in found]


def with_inner_faces(shell: Shell, pairing: Pairing, thickness: float) -> Shell:
    """The shell with the inner round faces put in where a bend has only its outer one."""
    paired = pairing.paired(thickness)
    lone = _lone(shell, pairing, thickness)
    if not lone:
        return shell
    faces, halves, volume = list(shell.faces), list(shell.half_edges), shell.volume
    edge = 1 + max(h.edge for h in halves)
    for half, twin in _concave(shell, paired):
        cylinder = _its_cylinder(shell, half, twin, lone, thickness)
        if cylinder is not None:
            _put_in(faces, halves, (half, twin), cylinder, max(cylinder.radius - thickness, LEAST), edge)
            edge += 4
            line, half_angle = shell.half_edges[half].curve, math.radians(abs(_turn(shell, half, twin))) / 2
            inner = cylinder.radius - thickness
            volume += (math.tan(half_angle) - half_angle) * inner**2 * _size(line)  # metal in the corner
    return replace(shell, faces=tuple(faces), half_edges=tuple(halves), volume=volume)


def _lone(shell: Shell, pairing: Pairing, thickness: float) -> list[tuple[int, Cylinder]]:
    """Convex round faces that join flats of the sheet and have no inner face."""
    paired = pairing.paired(thickness)
    return [
        (i, s)
        for i in pairing.cylinders
        if isinstance(s := shell.faces[i].surface, Cylinder)
        and s.convex
        and i not in paired
        and s.radius > thickness - shell.slack.length
        and _smooth_flats(shell, i, paired) >= 1
    ]


def _smooth_flats(shell: Shell, face: int, paired: set[int]) -> int:
    found = set()
    for half in edges_of(shell.faces[face]):
        other = shell.half_edges[shell.twins[half]].face if half in shell.twins else face
        if other in paired and isinstance(shell.faces[other].surface, Plane) and is_smooth(shell, half, other):
            found.add(other)
    return len(found)


def _concave(shell: Shell, paired: set[int]) -> list[tuple[int, int]]:
    """Straight edges between two flats of the sheet that turn toward each other."""
    return [pair for pair in _corners(shell, paired) if _turn(shell, *pair) < 0]


def _corners(shell: Shell, paired: set[int]) -> list[tuple[int, int]]:
    """Straight edges between two flats of the sheet that meet in a corner."""
    found = []
    for half, twin in shell.twins.items():
        if half > twin or not isinstance(shell.half_edges[half].curve, Straight):
            continue
        one, two = shell.half_edges[half].face, shell.half_edges[twin].face
        flat = all(f in paired and isinstance(shell.faces[f].surface, Plane) for f in (one, two))
        if flat and one != two and FLATTEST < abs(_turn(shell, half, twin)) < SHARPEST:
            found.append((half, twin))
    return found


def _turn(shell: Shell, half: int, twin: int) -> float:
    """Angle between the flats at an edge [deg]: positive where the metal's corner is convex."""
    curve = shell.half_edges[half].curve
    one, two = (shell.normal_at(shell.half_edges[h].face, curve.at(0.5)) for h in (half, twin))
    along = curve.at(1.0) - curve.at(0.0)
    angle = math.degrees(math.atan2(float(np.linalg.norm(cross(one, two))), float(one @ two)))
    return angle if float(cross(one, two) @ along) > 0 else -angle


def _its_cylinder(
    shell: Shell, half: int, twin: int, lone: list[tuple[int, Cylinder]], thickness: float
) -> Cylinder | None:
    """The round outer face whose axis a concave edge lies on, or as near to as its radius asks."""
    curve = shell.half_edges[half].curve
    assert isinstance(curve, Straight)
    along = (curve.end - curve.start) / np.linalg.norm(curve.end - curve.start)
    for _, cylinder in lone:
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


def _put_in(
    faces: list[Face], halves: list[HalfEdge], pair: tuple[int, int], outer: Cylinder, radius: float, edge: int
) -> None:
    """Put a round face between two flats at their common edge, and draw both flats back to its tangent lines."""
    number = len(faces)
    lines: list[Straight] = []
    for half in pair:
        here = halves[half]
        surface, curve = faces[here.face].surface, here.curve
        assert isinstance(surface, Plane)
        assert isinstance(curve, Straight)
        foot = outer.origin - surface.normal * float((outer.origin - surface.origin) @ surface.normal)
        shift = foot - curve.start
        shift = shift - outer.axis * float(shift @ outer.axis)
        moved = Straight(curve.start + shift, curve.end + shift)
        moved = _on_axis(moved, outer, surface, radius)
        lines.append(moved)
        _draw_back(halves, half, moved)
        inward = cross(surface.normal, curve.end - curve.start)  # into the face, by the edge's length
        lost = float(shift @ inward) * (1 + float(np.linalg.norm(moved.end - moved.start)) / _size(curve)) / 2
        faces[here.face] = replace(faces[here.face], measured=_constant(faces[here.face].area - lost))
        halves[half] = replace(halves[half], curve=moved)
    first = len(halves)
    ends = _arcs(lines, outer, radius)
    curves: tuple[Curve, ...] = (
        Straight(lines[0].end, lines[0].start),
        ends[0],
        Straight(lines[1].end, lines[1].start),
        ends[1],
    )
    ids = (edge, edge + 1, edge + 2, edge + 3)
    for n, curve in enumerate(curves):
        halves.append(HalfEdge(ids[n], number, curve, first + (n + 1) % 4))
    for half, new in zip(pair, (ids[0], ids[2]), strict=True):
        halves[half] = replace(halves[half], edge=new)
    cylinder = Cylinder(outer.origin, outer.axis, radius, False)
    area = radius * abs(ends[0].sweep) * _size(lines[0])
    faces.append(Face(cylinder, (tuple(range(first, first + 4)),), _constant(area)))


def _size(line: Curve) -> float:
    return float(np.linalg.norm(line.at(1.0) - line.at(0.0)))


def _constant(value: float) -> Callable[[], float]:
    return lambda: value


def _on_axis(line: Straight, outer: Cylinder, flat: Plane, radius: float) -> Straight:
    """A tangent line as the round face has it, at its radius from the axis."""
    feet = [outer.origin + outer.axis * float((p - outer.origin) @ outer.axis) for p in (line.start, line.end)]
    return Straight(*(f - flat.normal * radius for f in feet))


def _arcs(lines: list[Straight], outer: Cylinder, radius: float) -> tuple[Circular, Circular]:
    """The ends of the round face: from the start of the first line over to the second's end, and back."""
    return _arc(lines[0].start, lines[1].end, outer, radius), _arc(lines[1].start, lines[0].end, outer, radius)


def _arc(start: Vector, end: Vector, outer: Cylinder, radius: float) -> Circular:
    centre = outer.origin + outer.axis * float((start - outer.origin) @ outer.axis)
    u, w = (start - centre) / radius, (end - centre) / radius
    w = w - outer.axis * float(w @ outer.axis)
    side = cross(outer.axis, u)
    angle = math.atan2(float(w @ side), float(w @ u))
    v = side if angle > 0 else -side
    return Circular(centre, u, v, radius, abs(angle))


def _draw_back(halves: list[HalfEdge], half: int, moved: Straight) -> None:
    """Straight neighbours of an edge that moved within its flat end where it now ends."""
    before = next(n for n, h in enumerate(halves) if h.following == half and h.face == halves[half].face)
    after = halves[half].following
    for index, corner, at_end in ((before, moved.start, True), (after, moved.end, False)):
        curve = halves[index].curve
        if isinstance(curve, Straight):
            line = Straight(curve.start, corner) if at_end else Straight(corner, curve.end)
            halves[index] = replace(halves[index], curve=line)


def sharp_corners(shell: Shell, pairing: Pairing, thickness: float) -> list[Corner]:
    """Corners with two sharp edges, one thickness apart, on the two sides of the sheet."""
    paired = pairing.paired(thickness)
    convex = [p for p in _corners(shell, paired) if _turn(shell, *p) > 0]
    by_faces: dict[frozenset[int], list[tuple[int, int]]] = {}
    for half, twin in convex:
        key = frozenset((shell.half_edges[half].face, shell.half_edges[twin].face))
        by_faces.setdefault(key, []).append((half, twin))
    found: dict[tuple[frozenset[int], frozenset[int]], tuple[set[int], set[int], float, Vector]] = {}
    for half, twin in _concave(shell, paired):
        one, two = shell.half_edges[half].face, shell.half_edges[twin].face
        for other in pairing.opposite(one, thickness):
            for third in pairing.opposite(two, thickness):
                outer = by_faces.get(frozenset((other, third)), [])
                if outer:
                    curve = shell.half_edges[half].curve
                    key2 = (frozenset((one, two)), frozenset((other, third)))
                    blank = (set[int](), set[int](), abs(_turn(shell, half, twin)), curve.at(0.5))
                    row = found.setdefault(key2, blank)
                    row[0].add(shell.half_edges[half].edge)
                    row[1].update(shell.half_edges[h].edge for h, _ in outer)
    return _of_the_sheet(shell, pairing, thickness, found)


def _of_the_sheet(
    shell: Shell,
    pairing: Pairing,
    thickness: float,
    found: dict[tuple[frozenset[int], frozenset[int]], tuple[set[int], set[int], float, Vector]],
) -> list[Corner]:
    """Corners that hang on the largest flat, over other corners if need be: not those of walls one thickness apart."""
    if not found:
        return []
    allowed = pairing.paired(thickness)
    flats = [i for i in pairing.planes if i in allowed]
    start = max(flats, key=lambda i: float(shell.rough_areas[i]))
    other = max(pairing.opposite(start, thickness), key=lambda i: float(shell.rough_areas[i]))
    held = flood(shell, start, allowed) | flood(shell, other, allowed)
    waiting, corners = dict(found), []
    while reached := [key for key in waiting if not held.isdisjoint(key[0] | key[1])]:
        for key in reached:
            a, b, angle, place = waiting.pop(key)
            corners.append(Corner(tuple(sorted(a)), tuple(sorted(b)), angle, place))
            held |= frozenset[int]().union(*(flood(shell, f, allowed) for f in key[0] | key[1]))
    return corners


def rounded(shape: Any, corners: Sequence[Corner], radius: float, thickness: float) -> Any:
    """A solid whose sharp corners are bends: outside sizes stay, the inside gets ``radius`` [mm].

    :param corners: with the numbers of their edges as ``read_shell`` counts them.
    :param radius, thickness: float [mm]
    :raises InputRefused: FG046 where the kernel cannot round them.
    """
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_SOLID
    from OCP.TopExp import TopExp, TopExp_Explorer
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedMapOfShape

    edges = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_EDGE, edges)
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
            raise _failed(corners, radius) from error
        if not done:
            raise _failed(corners, radius)
        if inner:
            edges = _followed(maker, edges, corners)
        shape = maker.Shape()
    return TopExp_Explorer(shape, TopAbs_SOLID).Current()


def sharpened(shape: Any, faces: Sequence[int]) -> Any:
    """A solid without some round faces: the flats beside them meet in sharp edges.

    :raises InputRefused: FG046 where the kernel cannot.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Defeaturing
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
    from OCP.TopExp import TopExp, TopExp_Explorer
    from OCP.TopTools import TopTools_IndexedMapOfShape

    known = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_FACE, known)
    maker = BRepAlgoAPI_Defeaturing()
    maker.SetShape(shape)
    for face in faces:
        maker.AddFaceToRemove(known.FindKey(face + 1))
    maker.Build()
    found = TopExp_Explorer(maker.Shape(), TopAbs_SOLID) if maker.IsDone() else None
    if found is None or not found.More():
        text = f"{len(faces)} round faces next to sharp corners cannot be taken away to give them another radius"
        remedy = "leave --inside-radius out: the bends are then taken as they are modelled"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    return found.Current()


def _followed(maker: Any, edges: Any, corners: Sequence[Corner]) -> Any:
    """The edges as they are after a first rounding, under their old numbers."""
    from OCP.TopTools import TopTools_IndexedMapOfShape

    found = TopTools_IndexedMapOfShape()
    wanted = {n for c in corners for n in c.outer}
    for number in range(1, edges.Extent() + 1):
        edge = edges.FindKey(number)
        if number in wanted:
            after = maker.Modified(edge)
            edge = after.First() if after.Extent() else edge
        found.Add(edge)
    return found


def _failed(corners: Sequence[Corner], radius: float) -> InputRefused:
    place = ", ".join(f"{axis} {c:.2f}" for axis, c in zip("xyz", corners[0].place, strict=True))
    return InputRefused(
        Fault(
            "FG046",
            f"the corner at {place}",
            f"no inside radius of {radius:.3f} mm fits here: an edge, opening or other corner lies too near, "
            "or one of the two legs runs on beside the corner without a relief",
            "model this corner with its bend, inner and outer radius, and a relief beside it",
        )
    )
