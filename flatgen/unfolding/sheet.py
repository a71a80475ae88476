"""A solid as plain data, without the kernel: ``read`` fills it. Millimetres; NumPy vectors of shape (3,).

half-edge   one use of an edge by one face; walked so that the face lies on its left, seen from outside
skin        all faces of one side of the sheet; walls are the faces between the two skins
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from flatgen.core.flat_pattern import Triple

Vector: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class Plane:
    """``normal`` points out of the metal."""

    origin: Vector
    normal: Vector


@dataclass(frozen=True)
class Cylinder:
    """``convex``: the metal lies inside (the outer face of a bend)."""

    origin: Vector
    axis: Vector
    radius: float
    convex: bool


@dataclass(frozen=True)
class OtherSurface:
    """A surface that is neither; ``kind`` is a word for people.

    ``normal_near`` is the normal out of the metal nearest to a point, ``nearest_point`` the place there if it is inside
    the face; ``as_plain`` gives the plane or cylinder that it is all the same, only written otherwise.
    """

    kind: str
    normal_near: Callable[[Vector], Vector] | None = None
    nearest_point: Callable[[Vector], Vector | None] | None = None
    as_plain: Callable[[], Plane | Cylinder | None] | None = None


Surface: TypeAlias = Plane | Cylinder | OtherSurface


@dataclass(frozen=True)
class StraightCurve:
    """A straight edge."""

    start: Vector
    end: Vector

    def at(self, share: float) -> Vector:
        return self.start + (self.end - self.start) * share


@dataclass(frozen=True)
class CircularCurve:
    """Circle piece: ``centre + radius (cos a, sin a)`` in the directions ``u``, ``v``; a from 0 to ``sweep`` [rad]."""

    centre: Vector
    u: Vector
    v: Vector
    radius: float
    sweep: float

    def at(self, share: float) -> Vector:
        a = self.sweep * share
        return self.centre + self.radius * (math.cos(a) * self.u + math.sin(a) * self.v)


@dataclass(frozen=True)
class FreeCurve:
    """Any other curve: ``places`` takes shares (n,) 0..1 of its parameter range to points (n, 3).

    ``tolerance`` is how far the kernel lets it lie off its faces [mm].
    """

    places: Callable[[Vector], Vector]
    tolerance: float = 0.0

    def at(self, share: float) -> Vector:
        place: Vector = self.places(np.array([share]))[0]
        return place


Curve: TypeAlias = StraightCurve | CircularCurve | FreeCurve


def heading(curve: Curve) -> Vector:
    """A vector along a curve, as it is walked, in its middle."""
    if isinstance(curve, StraightCurve):
        return curve.end - curve.start
    if isinstance(curve, CircularCurve):
        half = 0.5 * curve.sweep
        return math.cos(half) * curve.v - math.sin(half) * curve.u
    before, after = curve.places(np.array((0.5 - 1e-4, 0.5 + 1e-4)))
    way: Vector = after - before
    return way


def reversed_curve(curve: Curve) -> Curve:
    """A curve walked the other way."""
    if isinstance(curve, StraightCurve):
        return StraightCurve(curve.end, curve.start)
    if isinstance(curve, CircularCurve):
        c, s = math.cos(curve.sweep), math.sin(curve.sweep)
        return CircularCurve(
            curve.centre, c * curve.u + s * curve.v, s * curve.u - c * curve.v, curve.radius, curve.sweep
        )
    places = curve.places
    return FreeCurve(lambda shares: places(1.0 - shares), curve.tolerance)


def points_at(curve: Curve, shares: Vector) -> Vector:
    """Points (n, 3) of a curve at shares (n,) 0..1 of its way."""
    if isinstance(curve, StraightCurve):
        points: Vector = curve.start + shares[:, None] * (curve.end - curve.start)
    elif isinstance(curve, CircularCurve):
        angles = (curve.sweep * shares)[:, None]
        points = curve.centre + curve.radius * (np.cos(angles) * curve.u + np.sin(angles) * curve.v)
    else:
        points = curve.places(shares)
    return points


def chord_length(curve: Curve) -> float:
    """Length of a curve in eight chords [mm]."""
    points = points_at(curve, np.linspace(0.0, 1.0, 9))
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


@dataclass(frozen=True)
class Slack:
    """How much a solid may be off and still be taken.

    ``length`` [mm]: two lengths that differ by less are one. ``smooth``: 1 - cos of the largest corner, at an edge,
    that counts as smooth. ``miss`` [mm]: how far the flat folded up again may lie from the solid.
    """

    length: float
    smooth: float
    miss: float


STRICT = Slack(1e-6, 1e-7, 1e-6)  # solids of our own
CLOSE = Slack(1e-5, 1e-7, 1e-3)  # solids of others: what files round, and kernels approximate
LOOSE = Slack(1e-2, 2e-5, 5e-2)  # solids of others that are a little off; that they are is told


@dataclass(frozen=True)
class HalfEdge:
    """``edge`` is shared by the two half-edges of an edge; ``following`` is the next one in the same wire."""

    edge: int
    face: int
    curve: Curve
    following: int


@dataclass(frozen=True)
class Face:
    """``wires`` hold half-edge indices in walking order; ``measure_area`` asks the kernel for the area [mm2].

    ``cone_volume`` asks it for the volume [mm3] of the cone from a point to the face, positive where that looks away.
    """

    surface: Surface
    wires: tuple[tuple[int, ...], ...]
    measure_area: Callable[[], float]
    cone_volume: Callable[[Vector], float] | None = None

    @property
    def half_edges(self) -> tuple[int, ...]:
        return tuple(h for wire in self.wires for h in wire)

    @cached_property
    def area(self) -> float:
        """Asked of the kernel once: it is slow, and most faces are walls of openings [mm2]."""
        return self.measure_area()

    def with_area(self, area: float) -> Face:
        return replace(self, measure_area=lambda: area)


@dataclass(frozen=True)
class Shell:
    """A solid's faces and half-edges, its volume [mm3], and how much it may be off.

    ``has_tubes``: metal stands on the sheet about an opening, so that the volume is the sheet's and more.
    """

    faces: tuple[Face, ...]
    half_edges: tuple[HalfEdge, ...]
    volume: float
    slack: Slack = STRICT
    has_tubes: bool = False

    @cached_property
    def twins(self) -> dict[int, int]:
        uses: dict[int, list[int]] = {}
        for index, half in enumerate(self.half_edges):
            uses.setdefault(half.edge, []).append(index)
        pairs = [u for u in uses.values() if len(u) == 2]
        return {a: b for p in pairs for a, b in (p, p[::-1])}

    def with_changes(self, **changes: Any) -> Shell:
        """The same faces with another volume, slack or ``has_tubes``; what was worked out is kept."""
        other = replace(self, **changes)
        kept = ("twins", "outer_wires", "outer_halves", "area_vectors", "rough_areas", "rise_cache")
        other.__dict__.update({name: self.__dict__[name] for name in kept if name in self.__dict__})
        return other

    @cached_property
    def rise_cache(self) -> dict[int, bool]:
        """Of half-edges judged so far: whether the wall there rises out of the sheet."""
        return {}

    def with_plain_surfaces(self) -> Shell:
        """The shell with planes and cylinders that are written as other surfaces; itself where there are none."""
        faces = []
        for face in self.faces:
            surface = face.surface
            plain = surface.as_plain() if isinstance(surface, OtherSurface) and surface.as_plain is not None else None
            faces.append(replace(face, surface=plain) if plain is not None else face)
        changed = any(a is not b for a, b in zip(faces, self.faces, strict=True))
        return replace(self, faces=tuple(faces)) if changed else self

    def neighbours(self, face: int) -> Iterator[tuple[int, int]]:
        """Each half-edge of a face whose edge has two uses, and the face beyond it."""
        twins = self.twins
        return ((h, self.half_edges[twins[h]].face) for h in self.faces[face].half_edges if h in twins)

    def beyond(self, half: int) -> int:
        """The face on the other side of an edge."""
        return self.half_edges[self.twins[half]].face

    def surface(self, face: int) -> Surface:
        return self.faces[face].surface

    def curve(self, half: int) -> Curve:
        return self.half_edges[half].curve

    def curves(self, face: int) -> list[Curve]:
        return [self.half_edges[h].curve for h in self.faces[face].half_edges]

    def largest(self, faces: Iterable[int]) -> int:
        """Of some faces the largest, by ``rough_areas``."""
        return max(faces, key=lambda f: float(self.rough_areas[f]))

    def corner(self, face: int) -> Vector:
        return self.half_edges[self.faces[face].wires[0][0]].curve.at(0.0)

    def holds(self, face: int, point: Vector) -> bool:
        """True where a point of a flat face's plane lies within its boundary (curves in chords): even-odd rule."""
        normal = self.normal_at(face, point)
        u = crosswise(normal)
        v = np.cross(normal, u)
        shares = np.arange(16) / 16
        crossings = 0
        for wire in self.faces[face].wires:
            ring = np.vstack([points_at(self.half_edges[h].curve, shares) for h in wire]) - point
            x0, y0 = ring @ u, ring @ v
            x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
            over = (y0 > 0) != (y1 > 0)
            drop = np.where(over, y0 - y1, 1.0)
            crossings += int(np.count_nonzero(over & (x0 + (x1 - x0) * y0 / drop > 0)))
        return crossings % 2 == 1

    def normal_at(self, face: int, point: Vector) -> Vector:
        surface = self.faces[face].surface
        if isinstance(surface, Plane):
            return surface.normal
        if isinstance(surface, Cylinder):
            arm = point - surface.origin
            arm = arm - surface.axis * (arm @ surface.axis)
            unit: Vector = arm / math.sqrt(float(arm @ arm))
            return unit if surface.convex else -unit
        if surface.normal_near is not None:
            return surface.normal_near(point)
        raise ValueError(f"no normal on a {surface.kind}")

    def is_smooth(self, half: int, other: int) -> bool:
        """True where the two faces at an edge look the same way in its middle."""
        here = self.half_edges[half]
        middle = here.curve.at(0.5)
        one, two = self.normal_at(here.face, middle), self.normal_at(other, middle)
        return bool(one @ two > 1 - self.slack.smooth)

    def ring(self, wire: tuple[int, ...], steps: int = 8) -> Vector:
        """Points (n, 3) around a wire, curves in so many chords, not closed [mm]."""
        shares = np.arange(steps) / steps
        some = (self.half_edges[h].curve for h in wire)
        return np.concatenate([c.start[None] if isinstance(c, StraightCurve) else points_at(c, shares) for c in some])

    @cached_property
    def outer_wires(self) -> tuple[int, ...]:
        """For every face the number of the wire that reaches farthest."""
        outer = []
        for face in self.faces:
            spans = [0.0] if len(face.wires) < 2 else [float(np.ptp(self.ring(w), axis=0).sum()) for w in face.wires]
            outer.append(int(np.argmax(spans)))
        return tuple(outer)

    @cached_property
    def outer_halves(self) -> frozenset[int]:
        pairs = zip(self.faces, self.outer_wires, strict=True)
        return frozenset(h for face, n in pairs if face.wires for h in face.wires[n])

    @cached_property
    def area_vectors(self) -> Vector:
        """Area vectors of all faces, by their edges alone (n, 3): other curves than circles in chords [mm2]."""
        vector_of_edge: dict[int, Vector] = {}
        areas = np.zeros((len(self.faces), 3))
        for n, half in enumerate(self.half_edges):
            if half.edge not in vector_of_edge:
                vector_of_edge[half.edge] = _area_vector(half.curve)
                areas[half.face] += vector_of_edge[half.edge]
            elif self.twins.get(n, n) < n:
                areas[half.face] -= vector_of_edge[half.edge]
            else:
                areas[half.face] += _area_vector(half.curve)
        return areas

    @cached_property
    def rough_areas(self) -> Vector:
        """Areas of all faces as if they were flat: exact for flat faces within lines and circles [mm2]."""
        sizes: Vector = np.sqrt((self.area_vectors * self.area_vectors).sum(axis=1))
        return sizes


def cross(a: Vector, b: Vector) -> Vector:
    """Cross product of two vectors (3,): much quicker for one pair than the general function."""
    (a0, a1, a2), (b0, b1, b2) = a.tolist(), b.tolist()
    return np.array((a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0))


def crosswise(normal: Vector) -> Vector:
    """A vector square to another, not of unit length."""
    return np.cross(np.eye(3)[int(np.argmin(np.abs(normal)))], normal)


def triple(vector: Vector) -> Triple:
    """A vector (3,) as plain numbers."""
    x, y, z = (float(c) for c in vector)
    return (x, y, z)


def _area_vector(curve: Curve) -> Vector:
    """A curve's share of the area vector of a closed wire [mm2]: half the integral of place x step."""
    if isinstance(curve, StraightCurve):
        return 0.5 * cross(curve.start, curve.end)
    if isinstance(curve, CircularCurve):
        reach = curve.at(1.0) - curve.at(0.0)
        return 0.5 * (cross(curve.centre, reach) + curve.radius**2 * curve.sweep * cross(curve.u, curve.v))
    points = points_at(curve, np.linspace(0.0, 1.0, 17))
    (x0, y0, z0), (x1, y1, z1) = points[:-1].T, points[1:].T
    return 0.5 * np.array((y0 @ z1 - z0 @ y1, z0 @ x1 - x0 @ z1, x0 @ y1 - y0 @ x1))
