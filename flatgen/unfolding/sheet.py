"""A solid as plain data: faces, half-edges and curves, without the kernel.

face        plane or cylinder (``Plane``, ``Cylinder``), or ``Other`` with a word for what it is
half-edge   one use of an edge by one face; walked so that the face lies on its left, seen from outside
skin        all faces of one side of the sheet; walls are the faces between the two skins

Millimetres; NumPy vectors of shape (3,). Filled by ``unfolding.read``, the only place that touches the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

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
    """A surface that is neither; ``kind`` is a word for people."""

    kind: str


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
    """Any other curve, by a function of the share 0..1 of its parameter range.

    ``tolerance`` is how far the kernel lets it lie off its faces [mm].
    """

    kind: str
    at: Callable[[float], Vector]
    tolerance: float = 0.0


Curve: TypeAlias = Straight | Circular | Free


def turned_back(curve: Curve) -> Curve:
    """A curve walked the other way."""
    if isinstance(curve, Straight):
        return Straight(curve.end, curve.start)
    if isinstance(curve, Circular):
        c, s = math.cos(curve.sweep), math.sin(curve.sweep)
        return Circular(curve.centre, c * curve.u + s * curve.v, s * curve.u - c * curve.v, curve.radius, curve.sweep)
    at = curve.at
    return Free(curve.kind, lambda share: at(1.0 - share), curve.tolerance)


def spots(curve: Curve, shares: Vector) -> Vector:
    """Points of a curve at many shares at once.

    Parameters
    ----------
    curve : Curve
    shares : (n,) 0..1

    Returns
    -------
    (n, 3) [mm]
    """
    if isinstance(curve, Straight):
        found: Vector = curve.start + np.outer(shares, curve.end - curve.start)
    elif isinstance(curve, Circular):
        angles = curve.sweep * shares
        found = curve.centre + curve.radius * (np.outer(np.cos(angles), curve.u) + np.outer(np.sin(angles), curve.v))
    else:
        found = np.array([curve.at(float(s)) for s in shares])
    return found


@dataclass(frozen=True)
class HalfEdge:
    """``edge`` is shared by the two half-edges of an edge; ``following`` is the next one in the same wire."""

    edge: int
    face: int
    curve: Curve
    following: int


@dataclass(frozen=True)
class Face:
    """``wires`` hold half-edge indices in walking order; ``measured`` asks the kernel for the area [mm2]."""

    surface: Surface
    wires: tuple[tuple[int, ...], ...]
    measured: Callable[[], float]

    @cached_property
    def area(self) -> float:
        """The kernel's, asked for once: it is slow, and most faces are walls of openings [mm2]."""
        return self.measured()


@dataclass(frozen=True)
class Shell:
    """A solid's faces and half-edges, and its volume [mm3]."""

    faces: tuple[Face, ...]
    half_edges: tuple[HalfEdge, ...]
    volume: float

    @cached_property
    def twins(self) -> dict[int, int]:
        """From each half-edge to the other use of its edge."""
        uses: dict[int, list[int]] = {}
        for index, half in enumerate(self.half_edges):
            uses.setdefault(half.edge, []).append(index)
        pairs = [u for u in uses.values() if len(u) == 2]
        return {a: b for p in pairs for a, b in (p, p[::-1])}

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
            unit: Vector = arm / np.linalg.norm(arm)
            return unit if surface.convex else -unit
        raise ValueError(f"no normal on a {surface.kind}")
