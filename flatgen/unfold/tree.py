"""The bend tree of a sheet: panels, bend zones, and how they hang together.

panel   faces of the near skin that lie in one plane and touch
zone    faces of the near skin on one cylinder that touch; it joins two panels
joint   all zones on one axis between the same two panels: one bend, in one or more segments
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatgen.errors import Fault, InputRefused
from flatgen.unfold.sheet import Cylinder, Plane, Shell, Vector
from flatgen.unfold.skins import DISTANCE, Skins, describe, is_smooth, same_axis

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
    twins = shell.twins
    groups = _groups(shell, near, twins)
    panels = tuple(g for g in groups if isinstance(shell.faces[min(g)].surface, Plane))
    home = {face: n for n, panel in enumerate(panels) for face in panel}
    zones = []
    for group in groups:
        if isinstance(shell.faces[min(group)].surface, Cylinder):
            zones.append(_zone(shell, group, home, twins))
    joints = _joints(shell, skins, zones)
    if len(joints) != len(panels) - 1:
        raise InputRefused(_loop(shell, joints, len(panels)))
    area = [math.fsum(shell.faces[f].area for f in p) for p in panels]
    return Tree(near, panels, joints, max(range(len(panels)), key=lambda n: (round(area[n], 6), -n)))


def _groups(shell: Shell, near: frozenset[int], twins: dict[int, int]) -> list[frozenset[int]]:
    """Faces joined with their neighbours on the same surface."""
    seen: set[int] = set()
    found = []
    for start in sorted(near):
        if start in seen:
            continue
        group, todo = {start}, [start]
        while todo:
            face = todo.pop()
            for half in (h for wire in shell.faces[face].wires for h in wire):
                other = shell.half_edges[twins[half]].face
                if other in near and other not in group and _one_surface(shell, face, other):
                    group.add(other)
                    todo.append(other)
        seen |= group
        found.append(frozenset(group))
    return found


def _one_surface(shell: Shell, one: int, two: int) -> bool:
    a, b = shell.faces[one].surface, shell.faces[two].surface
    if isinstance(a, Plane) and isinstance(b, Plane):
        return bool(a.normal @ b.normal > 1 - 1e-9 and abs((b.origin - a.origin) @ a.normal) < DISTANCE)
    if isinstance(a, Cylinder) and isinstance(b, Cylinder):
        return same_axis(a, b) and abs(a.radius - b.radius) < DISTANCE and a.convex == b.convex
    return False


def _zone(shell: Shell, group: frozenset[int], home: dict[int, int], twins: dict[int, int]) -> Zone:
    links = []
    for face in sorted(group):
        for half in (h for wire in shell.faces[face].wires for h in wire):
            other = shell.half_edges[twins[half]].face
            if other in home and is_smooth(shell, half, other):
                links.append((home[other], half))
    zone = Zone(group, tuple(links))
    if len(zone.ends) != 2:
        raise InputRefused(
            Fault(
                "FG041",
                describe(shell, min(group)),
                f"this bend meets {len(zone.ends)} flat panels where a bend joins two",
                "leave a flat on both sides of every bend",
            )
        )
    return zone


def _joints(shell: Shell, skins: Skins, zones: list[Zone]) -> tuple[Joint, ...]:
    """Zones on one axis between the same panels, joined."""
    found: list[list[Zone]] = []
    for zone in zones:
        for others in found:
            if others[0].ends == zone.ends and same_axis(_cylinder(shell, others[0]), _cylinder(shell, zone)):
                others.append(zone)
                break
        else:
            found.append([zone])
    return tuple(_joint(shell, skins, tuple(z)) for z in found)


def _cylinder(shell: Shell, zone: Zone) -> Cylinder:
    surface = shell.faces[min(zone.faces)].surface
    assert isinstance(surface, Cylinder)
    return surface


def _joint(shell: Shell, skins: Skins, zones: tuple[Zone, ...]) -> Joint:
    cylinder = _cylinder(shell, zones[0])
    inner = cylinder.radius if not cylinder.convex else cylinder.radius - skins.thickness
    ends = zones[0].ends
    points = [next(shell.half_edges[h].curve.at(0.5) for p, h in zones[0].links if p == end) for end in ends]
    middle = _middle_of(shell, zones[0])
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


def _middle_of(shell: Shell, zone: Zone) -> Vector:
    """A point on the cylinder's inside of a zone, between its two links, by the directions of its corners."""
    cylinder = _cylinder(shell, zone)
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
