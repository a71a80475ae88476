"""The bend tree of a sheet: panels, bend zones, and how they hang together.

patch   faces of the near skin that touch and lie on one plane or one cylinder
zone    a patch on a cylinder that joins two planes
panel   patches on one plane that move as one: those that meet the same side of one zone, and those that lie
        beyond coaxial zones from one panel (slots and reliefs part a leg; it stays one leg)
joint   all zones on one axis between the same two panels: one bend, in one or more segments
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.errors import Fault, InputRefused
from flatgen.unfolding.sheet import Cylinder, Plane, Shell, Vector
from flatgen.unfolding.skins import DISTANCE, Skins, describe, is_smooth, same_axis

NOISE = 10
"""Decimals to which angles [deg] and radii [mm] of a solid are read."""


@dataclass(frozen=True)
class Zone:
    """``links`` are the half-edges, on this zone's side, along which it meets a panel: (panel, half-edge)."""

    faces: frozenset[int]
    links: tuple[tuple[int, int], ...]

    @property
    def ends(self) -> tuple[int, ...]:
        return tuple(sorted({panel for panel, _ in self.links}))


@dataclass(frozen=True)
class Joint:
    """A bend of the formed part, seen from its near skin.

    ``up``: the inside of the bend is on the near skin; ``length`` is metal along the axis [mm].
    """

    panels: tuple[int, int]
    zones: tuple[Zone, ...]
    up: bool
    inside_radius: float
    angle: float
    length: float
    origin: Vector
    axis: Vector

    @property
    def whole(self) -> Zone:
        """A zone that meets both panels."""
        return next(z for z in self.zones if len(z.ends) == 2)


@dataclass(frozen=True)
class Tree:
    """Panels (sets of faces) and the joints between them, for one choice of near skin."""

    near: frozenset[int]
    panels: tuple[frozenset[int], ...]
    joints: tuple[Joint, ...]
    root: int

    def joints_of(self, panel: int) -> list[Joint]:
        return [j for j in self.joints if panel in j.panels]


def grow_tree(shell: Shell, skins: Skins, near: frozenset[int]) -> Tree:
    """Panels and joints of the near skin.

    Raises
    ------
    InputRefused
        FG041 where bends form a closed loop, or a bend does not join two flat panels.
    """
    patches = _patches(shell, near)
    flats = [p for p in patches if isinstance(shell.faces[min(p)].surface, Plane)]
    home = {face: n for n, patch in enumerate(flats) for face in patch}
    zones = [_zone(shell, p, home) for p in patches if isinstance(shell.faces[min(p)].surface, Cylinder)]
    panels, zones = _panels(shell, flats, zones)
    joints = _joints(shell, skins, zones)
    if len(joints) != len(panels) - 1:
        raise InputRefused(_loop(shell, joints, len(panels)))
    area = [math.fsum(shell.faces[f].area for f in p) for p in panels]
    return Tree(near, panels, joints, max(range(len(panels)), key=lambda n: (round(area[n], 6), -n)))


def _patches(shell: Shell, near: frozenset[int]) -> list[frozenset[int]]:
    """Faces joined with their neighbours on the same surface."""
    twins = shell.twins
    seen: set[int] = set()
    found = []
    for start in sorted(near):
        if start in seen:
            continue
        group, todo = {start}, [start]
        while todo:
            face = todo.pop()
            for half in (h for wire in shell.faces[face].wires for h in wire if h in twins):
                other = shell.half_edges[twins[half]].face
                if other in near and other not in group and one_surface(shell, face, other):
                    group.add(other)
                    todo.append(other)
        seen |= group
        found.append(frozenset(group))
    return found


def one_surface(shell: Shell, one: int, two: int) -> bool:
    """True where two faces lie on one plane, or on one cylinder, and look the same way."""
    a, b = shell.faces[one].surface, shell.faces[two].surface
    if isinstance(a, Plane) and isinstance(b, Plane):
        return bool(a.normal @ b.normal > 1 - 1e-9 and abs((b.origin - a.origin) @ a.normal) < DISTANCE)
    if isinstance(a, Cylinder) and isinstance(b, Cylinder):
        return same_axis(a, b) and abs(a.radius - b.radius) < DISTANCE and a.convex == b.convex
    return False


def _zone(shell: Shell, group: frozenset[int], home: dict[int, int]) -> Zone:
    twins = shell.twins
    links = []
    for face in sorted(group):
        for half in (h for wire in shell.faces[face].wires for h in wire if h in twins):
            other = shell.half_edges[twins[half]].face
            if other in home and is_smooth(shell, half, other):
                links.append((home[other], half))
    return Zone(group, tuple(links))


def _panels(
    shell: Shell, flats: list[frozenset[int]], zones: list[Zone]
) -> tuple[tuple[frozenset[int], ...], list[Zone]]:
    """Flat patches joined to panels, and the zones with their links led to these."""
    planes = _classes([min(p) for p in flats], lambda a, b: one_surface(shell, a, b))
    axes = _classes([min(z.faces) for z in zones], lambda a, b: one_surface(shell, a, b))
    one = _Sets(len(flats))
    sides: dict[tuple[int, ...], list[dict[int, int]]] = {}
    for zone, axis in zip(zones, axes, strict=True):
        side: dict[int, int] = {}  # plane -> a patch on it that this zone meets
        for patch, _ in zone.links:
            one.join(side.setdefault(planes[patch], patch), patch)
        if len(side) > 2 or not side:
            raise _meets(shell, zone, len(side))
        sides.setdefault((axis, *sorted(side)), []).append(side)
    changed = True
    while changed:
        changed = False
        for alike in sides.values():
            for place, side in enumerate(alike):
                for other in alike[:place]:
                    together = [one.root(side[p]) == one.root(other[p]) for p in side]
                    if any(together) and not all(together):
                        changed = True
                        for p in side:
                            one.join(side[p], other[p])
    roots = sorted({one.root(n) for n in range(len(flats))})
    number = {root: n for n, root in enumerate(roots)}
    panels = tuple(frozenset(f for n, p in enumerate(flats) if one.root(n) == root for f in p) for root in roots)
    return panels, [Zone(z.faces, tuple((number[one.root(p)], h) for p, h in z.links)) for z in zones]


class _Sets:
    """Disjoint sets of 0..n-1."""

    def __init__(self, count: int) -> None:
        self.parent = list(range(count))

    def root(self, n: int) -> int:
        while self.parent[n] != n:
            self.parent[n] = n = self.parent[self.parent[n]]
        return n

    def join(self, a: int, b: int) -> None:
        low, high = sorted((self.root(a), self.root(b)))
        self.parent[high] = low


def _classes(items: Sequence[int], alike: object) -> list[int]:
    """A class number for every item; equal where ``alike`` holds with the first of the class."""
    assert callable(alike)
    firsts: list[int] = []
    found = []
    for item in items:
        n = next((n for n, first in enumerate(firsts) if alike(first, item)), len(firsts))
        if n == len(firsts):
            firsts.append(item)
        found.append(n)
    return found


def _meets(shell: Shell, zone: Zone, count: int) -> InputRefused:
    return InputRefused(
        Fault(
            "FG041",
            describe(shell, min(zone.faces)),
            f"this bend meets {count} flat panels where a bend joins two",
            "leave a flat on both sides of every bend",
        )
    )


def _joints(shell: Shell, skins: Skins, zones: Iterable[Zone]) -> tuple[Joint, ...]:
    """Zones on one axis between the same panels, joined; one that meets a single panel goes with its like."""
    found: list[list[Zone]] = []
    for zone in sorted(zones, key=lambda z: -len(z.ends)):
        for others in found:
            held = set(zone.ends) <= set(others[0].ends)
            if held and one_surface(shell, min(others[0].faces), min(zone.faces)):
                others.append(zone)
                break
        else:
            if len(zone.ends) != 2:
                raise _meets(shell, zone, len(zone.ends))
            found.append([zone])
    return tuple(_joint(shell, skins, tuple(z)) for z in found)


def _joint(shell: Shell, skins: Skins, zones: tuple[Zone, ...]) -> Joint:
    cylinder = shell.faces[min(zones[0].faces)].surface
    assert isinstance(cylinder, Cylinder)
    inner = cylinder.radius if not cylinder.convex else cylinder.radius - skins.thickness
    ends = zones[0].ends
    points = [next(shell.half_edges[h].curve.at(0.5) for p, h in zones[0].links if p == end) for end in ends]
    middle = _middle_of(shell, zones[0], cylinder)
    length = 0.0
    for zone in zones:
        along = [shell.half_edges[h].curve.at(s) @ cylinder.axis for _, h in zone.links for s in (0.0, 1.0)]
        length += float(max(along) - min(along))
    return Joint(
        panels=(ends[0], ends[1]),
        zones=zones,
        up=not cylinder.convex,
        inside_radius=round(inner, NOISE),
        angle=round(math.degrees(_turned(cylinder, points[0], middle) + _turned(cylinder, middle, points[1])), NOISE),
        length=length,
        origin=cylinder.origin,
        axis=cylinder.axis,
    )


def _middle_of(shell: Shell, zone: Zone, cylinder: Cylinder) -> Vector:
    """A point on the cylinder's inside of a zone, between its two links, by the directions of its corners."""
    arms = []
    for half in (h for f in zone.faces for wire in shell.faces[f].wires for h in wire):
        arm = shell.half_edges[half].curve.at(0.5) - cylinder.origin
        arms.append(arm - cylinder.axis * (arm @ cylinder.axis))
    total: Vector = cylinder.origin + np.sum(arms, axis=0)
    return total


def _turned(cylinder: Cylinder, one: Vector, two: Vector) -> float:
    """Angle between two points about an axis, 0..pi [rad]."""
    a, b = ((p - cylinder.origin) - cylinder.axis * ((p - cylinder.origin) @ cylinder.axis) for p in (one, two))
    return math.atan2(float(np.linalg.norm(np.cross(a, b))), float(a @ b))


def _loop(shell: Shell, joints: tuple[Joint, ...], panels: int) -> Fault:
    face = min(min(z.faces) for j in joints for z in j.zones) if joints else 0
    if len(joints) < panels - 1:
        text, remedy = f"{panels} flat panels hang on {len(joints)} bends only", "join all panels by bends"
    else:
        text = f"{panels} flat panels are joined by {len(joints)} bends: a closed loop, which no flat sheet can make"
        remedy = "cut a seam through one of the bends or panels of the loop"
    return Fault("FG041", describe(shell, face), text, remedy)
