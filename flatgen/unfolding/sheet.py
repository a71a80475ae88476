"""A solid as plain data: faces, half-edges and curves, without the kernel.

face        plane or cylinder (``Plane``, ``Cylinder``), or ``Other`` with a word for what it is
half-edge   one use of an edge by one face; walked so that the face lies on its left, seen from outside
skin        all faces of one side of the sheet; walls are the faces between the two skins

Millimetres; NumPy vectors of shape (3,). Filled by ``unfolding.read``, the only place that touches the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

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
class Other:
    """A surface that is neither; ``kind`` is a word for people.

    ``outward`` is its normal out of the metal nearest to a point, ``foot`` the place there if it is inside
    of the face; ``plain`` says whether it
    is a plane or a cylinder all the same, only written otherwise.
    """

    kind: str
    outward: Callable[[Vector], Vector] | None = None
    foot: Callable[[Vector], Vector | None] | None = None
    plain: Callable[[], Plane | Cylinder | None] | None = None


Surface: TypeAlias = Plane | Cylinder | Other


@dataclass(frozen=True)
class Straight:
    start: Vector
    end: Vector

    def at(self, share: float) -> Vector:
        return self.start + (self.end - self.start) * share


@dataclass(frozen=True)
class Circular:
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
class Free:
    """Any other curve: ``places`` takes shares (n,) 0..1 of its parameter range to points (n, 3).

    ``tolerance`` is how far the kernel lets it lie off its faces [mm].
    """

    kind: str
    places: Callable[[Vector], Vector]
    tolerance: float = 0.0

    def at(self, share: float) -> Vector:
        place: Vector = self.places(np.array([share]))[0]
        return place


Curve: TypeAlias = Straight | Circular | Free


def heading(curve: Curve) -> Vector:
    """A vector along a curve, as it is walked, in its middle."""
    if isinstance(curve, Straight):
        return curve.end - curve.start
    if isinstance(curve, Circular):
        half = 0.5 * curve.sweep
        return math.cos(half) * curve.v - math.sin(half) * curve.u
    before, after = curve.places(np.array((0.5 - 1e-4, 0.5 + 1e-4)))
    way: Vector = after - before
    return way


def turned_back(curve: Curve) -> Curve:
    """A curve walked the other way."""
    if isinstance(curve, Straight):
        return Straight(curve.end, curve.start)
    if isinstance(curve, Circular):
        c, s = math.cos(curve.sweep), math.sin(curve.sweep)
        return Circular(curve.centre, c * curve.u + s * curve.v, s * curve.u - c * curve.v, curve.radius, curve.sweep)
    places = curve.places
    return Free(curve.kind, lambda shares: places(1.0 - shares), curve.tolerance)


def spots(curve: Curve, shares: Vector) -> Vector:
    """Points of a curve at many shares at once.

    :param shares: (n,) 0..1
    """
    if isinstance(curve, Straight):
        found: Vector = curve.start + shares[:, None] * (curve.end - curve.start)
    elif isinstance(curve, Circular):
        angles = (curve.sweep * shares)[:, None]
        found = curve.centre + curve.radius * (np.cos(angles) * curve.u + np.sin(angles) * curve.v)
    else:
        found = curve.places(shares)
    return found


@dataclass(frozen=True)
class Slack:
    """How much a solid may be off and still be taken.

    ``length`` [mm]: two lengths that differ by less are one. ``smooth``: 1 - cos of the largest corner, at an edge,
    that counts as smooth. ``miss`` [mm]: how far the flat folded up again may lie from the solid.
    """

    length: float
    smooth: float
    miss: float


STRICT = Slack(1e-6, 1e-7, 1e-6)
"""Solids of our own."""
CLOSE = Slack(1e-5, 1e-7, 1e-3)
"""Solids of others: what files round, and kernels approximate."""
LOOSE = Slack(1e-2, 2e-5, 5e-2)
"""Solids of others that are a little off; that they are is told."""


@dataclass(frozen=True)
class HalfEdge:
    """``edge`` is shared by the two half-edges of an edge; ``following`` is the next one in the same wire."""

    edge: int
    face: int
    curve: Curve
    following: int


@dataclass(frozen=True)
class Face:
    """``wires`` hold half-edge indices in walking order; ``measured`` asks the kernel for the area [mm2].

    ``swept`` asks it for the volume [mm3] of the cone from a point to the face, positive where that looks away.
    """

    surface: Surface
    wires: tuple[tuple[int, ...], ...]
    measured: Callable[[], float]
    swept: Callable[[Vector], float] | None = None

    @cached_property
    def area(self) -> float:
        """The kernel's, asked for once: it is slow, and most faces are walls of openings [mm2]."""
        return self.measured()


@dataclass(frozen=True)
class Shell:
    """A solid's faces and half-edges, its volume [mm3], and how much it may be off.

    ``risen``: metal stands on the sheet about an opening, so that the volume is the sheet's and more.
    """

    faces: tuple[Face, ...]
    half_edges: tuple[HalfEdge, ...]
    volume: float
    slack: Slack = STRICT
    risen: bool = False

    @cached_property
    def twins(self) -> dict[int, int]:
        """From each half-edge to the other use of its edge."""
        uses: dict[int, list[int]] = {}
        for index, half in enumerate(self.half_edges):
            uses.setdefault(half.edge, []).append(index)
        pairs = [u for u in uses.values() if len(u) == 2]
        return {a: b for p in pairs for a, b in (p, p[::-1])}

    def changed(self, **changes: Any) -> Shell:
        """The same faces with another volume, slack or word on what has risen; what was worked out is kept."""
        other = replace(self, **changes)
        kept = ("twins", "outer_wires", "outer_halves", "area_vectors", "rough_areas", "rising")
        other.__dict__.update({name: self.__dict__[name] for name in kept if name in self.__dict__})
        return other

    @cached_property
    def rising(self) -> dict[int, bool]:
        """What was found of half-edges so far: whether the wall there rises out of the sheet."""
        return {}

    def recognised(self) -> Shell:
        """The shell with planes and cylinders that are written as other surfaces; itself where there are none."""
        faces = []
        for face in self.faces:
            surface = face.surface
            plain = surface.plain() if isinstance(surface, Other) and surface.plain is not None else None
            faces.append(replace(face, surface=plain) if plain is not None else face)
        changed = any(a is not b for a, b in zip(faces, self.faces, strict=True))
        return replace(self, faces=tuple(faces)) if changed else self

    def corner(self, face: int) -> Vector:
        """The first corner of a face."""
        return self.half_edges[self.faces[face].wires[0][0]].curve.at(0.0)

    def holds(self, face: int, point: Vector) -> bool:
        """True where a point of a flat face's plane lies within its boundary (curves in chords): even-odd rule."""
        normal = self.normal_at(face, point)
        u = np.cross(np.eye(3)[int(np.argmin(np.abs(normal)))], normal)
        v = np.cross(normal, u)
        shares = np.arange(16) / 16
        crossed = 0
        for wire in self.faces[face].wires:
            ring = np.vstack([spots(self.half_edges[h].curve, shares) for h in wire]) - point
            x0, y0 = ring @ u, ring @ v
            x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
            over = (y0 > 0) != (y1 > 0)
            drop = np.where(over, y0 - y1, 1.0)
            crossed += int(np.count_nonzero(over & (x0 + (x1 - x0) * y0 / drop > 0)))
        return crossed % 2 == 1

    def normal_at(self, face: int, point: Vector) -> Vector:
        """Unit normal out of the metal at a point on a plane or cylinder."""
        surface = self.faces[face].surface
        if isinstance(surface, Plane):
            return surface.normal
        if isinstance(surface, Cylinder):
            arm = point - surface.origin
            arm = arm - surface.axis * (arm @ surface.axis)
            unit: Vector = arm / math.sqrt(float(arm @ arm))
            return unit if surface.convex else -unit
        if surface.outward is not None:
            return surface.outward(point)
        raise ValueError(f"no normal on a {surface.kind}")

    def ring(self, wire: tuple[int, ...], steps: int = 8) -> Vector:
        """Points (n, 3) around a wire, curves in so many chords, not closed [mm]."""
        shares = np.arange(steps) / steps
        some = (self.half_edges[h].curve for h in wire)
        return np.concatenate([c.start[None] if isinstance(c, Straight) else spots(c, shares) for c in some])

    @cached_property
    def outer_wires(self) -> tuple[int, ...]:
        """For every face the number of the wire that reaches farthest."""
        found = []
        for face in self.faces:
            spans = [0.0] if len(face.wires) < 2 else [float(np.ptp(self.ring(w), axis=0).sum()) for w in face.wires]
            found.append(int(np.argmax(spans)))
        return tuple(found)

    @cached_property
    def outer_halves(self) -> frozenset[int]:
        """Half-edges on the outer wires of all faces."""
        pairs = zip(self.faces, self.outer_wires, strict=True)
        return frozenset(h for face, n in pairs if face.wires for h in face.wires[n])

    @cached_property
    def area_vectors(self) -> Vector:
        """Area vectors of all faces, by their edges alone (n, 3): other curves than circles in chords [mm2]."""
        known: dict[int, Vector] = {}
        areas = np.zeros((len(self.faces), 3))
        for n, half in enumerate(self.half_edges):
            if half.edge not in known:
                known[half.edge] = _turned_area(half.curve)
                areas[half.face] += known[half.edge]
            elif self.twins.get(n, n) < n:
                areas[half.face] -= known[half.edge]
            else:
                areas[half.face] += _turned_area(half.curve)
        return areas

    @cached_property
    def rough_areas(self) -> Vector:
        """Areas of all faces as if they were flat: exact for flat faces within lines and circles [mm2]."""
        sizes: Vector = np.sqrt((self.area_vectors * self.area_vectors).sum(axis=1))
        return sizes


def edges_of(face: Face) -> Iterable[int]:
    """Its half-edges."""
    return (h for wire in face.wires for h in wire)


def is_smooth(shell: Shell, half: int, other: int) -> bool:
    """True where the two faces at an edge look the same way in its middle."""
    here = shell.half_edges[half]
    middle = here.curve.at(0.5)
    one, two = shell.normal_at(here.face, middle), shell.normal_at(other, middle)
    return bool(one @ two > 1 - shell.slack.smooth)


def cross(a: Vector, b: Vector) -> Vector:
    """Cross product of two vectors (3,): much quicker for one pair than the general function."""
    (a0, a1, a2), (b0, b1, b2) = a.tolist(), b.tolist()
    return np.array((a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0))


def _turned_area(curve: Curve) -> Vector:
    """A curve's share of the area vector of a closed wire [mm2]: half the integral of place x step."""
    if isinstance(curve, Straight):
        return 0.5 * cross(curve.start, curve.end)
    if isinstance(curve, Circular):
        reach = curve.at(1.0) - curve.at(0.0)
        return 0.5 * (cross(curve.centre, reach) + curve.radius**2 * curve.sweep * cross(curve.u, curve.v))
    points = spots(curve, np.linspace(0.0, 1.0, 17))
    (x0, y0, z0), (x1, y1, z1) = points[:-1].T, points[1:].T
    return 0.5 * np.array((y0 @ z1 - z0 @ y1, z0 @ x1 - x0 @ z1, x0 @ y1 - y0 @ x1))
