"""The bend tree of a sheet: panels, bend zones, and how they hang together.

patch   faces of the near skin that touch and lie on one plane or one cylinder
zone    a patch on a cylinder that joins two planes
panel   patches on one plane that move as one: those that meet the same side of one zone, and those beyond coaxial
        zones from one panel; a panel without faces is the edge between two curves, or at a rolled leg's free end
joint   all zones on one axis between the same two panels: one bend, in one or more segments
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.sheet import Cylinder, Plane, Shell, StraightCurve, Vector, cross, points_at
from flatgen.unfolding.skins import Skins, class_labels, describe, line_rows, plane_rows, same_axis

DIGITS = 10
"""Decimals to which angles [deg] and radii [mm] of a solid are read."""
ROUND = 300.0
"""Points turned farther than this lie a little behind the first, by rounding [deg]."""
NO_RADIUS = 2e-6
"""Inside radii up to here are none: a zero radius is given a zone of a millionth of a millimetre [mm]."""


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

    ``up``: the inside of the bend is on the near skin; ``length`` is metal along the axis [mm]; ``tips`` are points
    of the near skin on the tangent lines, for the two panels.
    """

    panels: tuple[int, int]
    zones: tuple[Zone, ...]
    up: bool
    inside_radius: float
    angle: float
    length: float
    origin: Vector
    axis: Vector
    tips: tuple[Vector, Vector]

    def tip(self, panel: int) -> Vector:
        return self.tips[self.panels.index(panel)]


@dataclass(frozen=True)
class Tree:
    """Panels (sets of faces, with their planes) and the joints between them, for one choice of near skin."""

    near: frozenset[int]
    panels: tuple[frozenset[int], ...]
    planes: tuple[Plane, ...]
    joints: tuple[Joint, ...]
    root: int

    def joints_of(self, panel: int) -> list[Joint]:
        return [j for j in self.joints if panel in j.panels]


def grow_tree(shell: Shell, skins: Skins, near: frozenset[int]) -> Tree:
    """Panels and joints of the near skin.

    :raises InputRefused: FG041 where bends form a closed loop, or a bend does not join two flat panels.
    """
    patches = _patches(shell, near)
    flats = [_Flat(p, _plane(shell, p)) for p in patches if isinstance(shell.surface(min(p)), Plane)]
    home = {face: n for n, flat in enumerate(flats) for face in flat.faces}
    curved = [p for p in patches if isinstance(shell.surface(min(p)), Cylinder)]
    zones = [_zone(shell, p, home) for p in curved]
    zones = _with_edge_panels(shell, zones, flats)
    panels, planes, zones = _panels(shell, flats, zones)
    joints, planes = _joints(shell, skins, zones, planes)
    panels += (frozenset[int](),) * (len(planes) - len(panels))
    if len(joints) != len(panels) - 1:
        raise InputRefused(_loop_fault(shell, joints, len(panels)))
    area = [math.fsum(shell.faces[f].area for f in p) for p in panels]
    return Tree(near, panels, planes, joints, max(range(len(panels)), key=lambda n: (round(area[n], 6), -n)))


@dataclass(frozen=True)
class _Flat:
    """A flat patch, or an edge between two curves: then without faces."""

    faces: frozenset[int]
    plane: Plane


def _plane(shell: Shell, patch: frozenset[int]) -> Plane:
    surface = shell.surface(shell.largest(patch))
    assert isinstance(surface, Plane)
    return surface


def _with_edge_panels(shell: Shell, zones: list[Zone], flats: list[_Flat]) -> list[Zone]:
    """Zones that follow each other smoothly, linked by edges, which are added to ``flats``."""
    of = {face: n for n, zone in enumerate(zones) for face in zone.faces}
    panel_of_edge: dict[int, int] = {}
    links: dict[int, list[tuple[int, int]]] = {}
    for n, zone in enumerate(zones):
        for half, beyond in (pair for f in zone.faces for pair in shell.neighbours(f)):
            if of.get(beyond, n) == n or not shell.is_smooth(half, beyond):
                continue
            edge = shell.half_edges[half].edge
            if edge not in panel_of_edge:
                panel_of_edge[edge] = len(flats)
                middle = shell.curve(half).at(0.5)
                flats.append(_Flat(frozenset(), Plane(middle, shell.normal_at(shell.half_edges[half].face, middle))))
            links.setdefault(n, []).append((panel_of_edge[edge], half))
    return [Zone(z.faces, z.links + tuple(links.get(n, ()))) for n, z in enumerate(zones)]


def _patches(shell: Shell, near: frozenset[int]) -> list[frozenset[int]]:
    """Faces joined with their neighbours on the same surface."""
    reached: set[int] = set()
    patches = []
    for start in sorted(near):
        if start in reached:
            continue
        group, todo = {start}, [start]
        while todo:
            face = todo.pop()
            for _, other in shell.neighbours(face):
                if other in near and other not in group and same_surface(shell, face, other):
                    group.add(other)
                    todo.append(other)
        reached |= group
        patches.append(frozenset(group))
    return patches


def same_surface(shell: Shell, one: int, two: int) -> bool:
    """True where two faces lie on one plane, or on one cylinder, and look the same way."""
    a, b = shell.surface(one), shell.surface(two)
    if isinstance(a, Plane) and isinstance(b, Plane):
        flat = a.normal @ b.normal > 1 - min(shell.slack.smooth, 1e-2 * shell.slack.length)
        return bool(flat and abs((b.origin - a.origin) @ a.normal) < shell.slack.length)
    if isinstance(a, Cylinder) and isinstance(b, Cylinder):
        return same_axis(a, b, shell) and abs(a.radius - b.radius) < shell.slack.length and a.convex == b.convex
    return False


def _zone(shell: Shell, group: frozenset[int], home: dict[int, int]) -> Zone:
    links = (
        (home[other], half)
        for face in sorted(group)
        for half, other in shell.neighbours(face)
        if other in home and shell.is_smooth(half, other)
    )
    return Zone(group, tuple(links))


def _panels(
    shell: Shell, flats: list[_Flat], zones: list[Zone]
) -> tuple[tuple[frozenset[int], ...], tuple[Plane, ...], list[Zone]]:
    """Flat patches joined to panels with their planes, and the zones with their links led to these."""
    planes = _plane_classes(shell, flats)
    axes = _axis_classes(shell, zones)
    sets = _DisjointSets(len(flats))
    sides: dict[tuple[int, ...], list[dict[int, int]]] = {}
    for zone, axis in zip(zones, axes, strict=True):
        side: dict[int, int] = {}  # plane -> a patch on it that this zone meets
        for patch, _ in zone.links:
            sets.join(side.setdefault(planes[patch], patch), patch)
        if len(side) > 2 or not side:
            raise _panel_count_error(shell, zone, len(side))
        sides.setdefault((axis, *sorted(side)), []).append(side)
    while True in [_join_sides(sets, alike) for alike in sides.values()]:
        pass
    roots = sorted({sets.root(n) for n in range(len(flats))})
    number = {root: n for n, root in enumerate(roots)}
    faces: list[set[int]] = [set() for _ in roots]
    for n, flat in enumerate(flats):
        faces[number[sets.root(n)]] |= flat.faces
    panels = tuple(frozenset(f) for f in faces)
    flat_planes = tuple(_plane(shell, p) if p else flats[r].plane for p, r in zip(panels, roots, strict=True))
    return panels, flat_planes, [Zone(z.faces, tuple((number[sets.root(p)], h) for p, h in z.links)) for z in zones]


def _join_sides(sets: _DisjointSets, alike: list[dict[int, int]]) -> bool:
    """Join what zones on one axis between two planes have in common; whether anything was joined."""
    changed = False
    known: dict[tuple[int, int], dict[int, int]] = {}
    for side in alike:
        for plane, patch in side.items():
            other = known.setdefault((plane, sets.root(patch)), side)
            if other is not side and any(sets.root(side[p]) != sets.root(other[p]) for p in side):
                changed = True
                for p in side:
                    sets.join(side[p], other[p])
    return changed


def _plane_classes(shell: Shell, flats: list[_Flat]) -> list[int]:
    rows = plane_rows(
        np.array([f.plane.origin for f in flats]).reshape(-1, 3),
        np.array([f.plane.normal for f in flats]).reshape(-1, 3),
    )
    turn = math.sqrt(2 * shell.slack.smooth)
    return [int(n) for n in class_labels(rows, np.array([turn] * 3 + [2 * shell.slack.length]))]


def _axis_classes(shell: Shell, zones: list[Zone]) -> list[int]:
    """A number for every zone; of one cylinder, seen from one side, one number."""
    some = [s for z in zones if isinstance(s := shell.surface(min(z.faces)), Cylinder)]
    lines = line_rows(
        np.array([s.origin for s in some]).reshape(-1, 3), np.array([s.axis for s in some]).reshape(-1, 3)
    )
    own = np.array([(s.radius, 1e3 * s.convex) for s in some]).reshape(-1, 2)
    turn, length = math.sqrt(2 * shell.slack.smooth), 2 * shell.slack.length
    return [int(n) for n in class_labels(np.hstack((lines, own)), np.array([length] * 3 + [turn] * 6 + [length, 1.0]))]


class _DisjointSets:
    def __init__(self, count: int) -> None:
        self.parent = list(range(count))

    def root(self, n: int) -> int:
        while self.parent[n] != n:
            self.parent[n] = n = self.parent[self.parent[n]]
        return n

    def join(self, a: int, b: int) -> None:
        low, high = sorted((self.root(a), self.root(b)))
        self.parent[high] = low


def _panel_count_error(shell: Shell, zone: Zone, count: int) -> InputRefused:
    text = f"this curve meets {count} flat panels where a bend joins two"
    remedy = "a sheet needs a flat on at least one side of every curve"
    return InputRefused(Fault("FG041", describe(shell, min(zone.faces)), text, remedy))


def _joints(
    shell: Shell, skins: Skins, zones: Iterable[Zone], planes: tuple[Plane, ...]
) -> tuple[tuple[Joint, ...], tuple[Plane, ...]]:
    """Zones on one axis between the same panels, joined; one that meets a single panel goes with its like."""
    groups_of_end: dict[int, list[list[Zone]]] = {}
    zones = sorted(zones, key=lambda z: -len(z.ends))
    for zone in zones:
        groups = [g for end in zone.ends for g in groups_of_end.get(end, ())]
        for others in groups:
            within = set(zone.ends) <= set(others[0].ends)
            if within and same_surface(shell, min(others[0].faces), min(zone.faces)):
                others.append(zone)
                break
        else:
            group = [zone]
            for end in zone.ends:
                groups_of_end.setdefault(end, []).append(group)
    unique = {id(g): g for groups in groups_of_end.values() for g in groups}
    joints = []
    for some in unique.values():
        joint = _joint(shell, skins, tuple(some), len(planes))
        joints.append(joint)
        if joint.panels[1] == len(planes):
            tip = joint.tips[1]
            planes += (Plane(tip, shell.normal_at(min(joint.zones[0].faces), tip)),)
    return tuple(joints), planes


def _joint(shell: Shell, skins: Skins, zones: tuple[Zone, ...], spare: int) -> Joint:
    """A bend of some zones; ``spare`` is the number of the edge at its end if it has a free one."""
    cylinder = shell.surface(min(zones[0].faces))
    assert isinstance(cylinder, Cylinder)
    inner = cylinder.radius if not cylinder.convex else cylinder.radius - skins.thickness
    ends = zones[0].ends if len(zones[0].ends) == 2 else (zones[0].ends[0], spare)
    first = next(shell.curve(h).at(0.5) for p, h in zones[0].links if p == ends[0])
    last = next((shell.curve(h).at(0.5) for p, h in zones[0].links if p == ends[1]), None)
    last, angle = _far_tip(shell, zones if last is None else zones[:1], cylinder, first, last)
    if angle > 180.0 + 1e-6:
        where = describe(shell, min(zones[0].faces))
        text = f"the metal is turned through {angle:.1f} deg here, more than half a turn"
        raise InputRefused(Fault("FG041", where, text, "one bend turns through 180 deg at most"))
    return Joint(
        panels=(ends[0], ends[1]),
        zones=zones,
        up=not cylinder.convex,
        inside_radius=0.0 if abs(inner) < NO_RADIUS else round(inner, DIGITS),
        angle=round(angle, DIGITS),
        length=_length(shell, zones, cylinder),
        origin=cylinder.origin,
        axis=cylinder.axis,
        tips=(first, last),
    )


def _length(shell: Shell, zones: tuple[Zone, ...], cylinder: Cylinder) -> float:
    """Metal along the axis where zones meet panels [mm]."""
    length = 0.0
    for zone in zones:
        along = [shell.curve(h).at(s) @ cylinder.axis for _, h in zone.links for s in (0.0, 1.0)]
        length += float(max(along) - min(along))
    return length


def _far_tip(
    shell: Shell, zones: tuple[Zone, ...], cylinder: Cylinder, first: Vector, last: Vector | None
) -> tuple[Vector, float]:
    """The other tip of a bend, where it is not known the point turned farthest, and the angle to it [deg]."""
    shares = np.linspace(0.0, 1.0, 33)
    curves = [c for z in zones for f in z.faces for c in shell.curves(f)]
    lines = [c.at(0.5)[None] for c in curves if isinstance(c, StraightCurve)]
    points = np.concatenate(lines + [points_at(c, shares) for c in curves if not isinstance(c, StraightCurve)])
    ways = [_angles(cylinder, first, points, sense) for sense in (1.0, -1.0)]
    sense = 1.0 if ways[0].mean() < ways[1].mean() else -1.0
    angles = min(ways, key=lambda some: float(some.mean()))
    tip = points[int(np.argmax(np.where(angles > ROUND, 0.0, angles)))] if last is None else last
    return tip, float(_angles(cylinder, first, tip[None], sense)[0])


def _angles(cylinder: Cylinder, first: Vector, points: Vector, sense: float) -> Vector:
    """How far points (n, 3) are turned from one about an axis, 0 to 360 [deg]."""
    start = first - cylinder.origin
    start = start - cylinder.axis * (start @ cylinder.axis)
    side = sense * cross(cylinder.axis, start)
    arms = points - cylinder.origin
    angles = np.degrees(np.arctan2(arms @ side, arms @ start)) % 360.0
    turned: Vector = np.where(angles > 360.0 - 1e-6, 0.0, angles)
    return turned


def _loop_fault(shell: Shell, joints: tuple[Joint, ...], panels: int) -> Fault:
    face = min(min(z.faces) for j in joints for z in j.zones) if joints else 0
    if len(joints) < panels - 1:
        text, remedy = f"{panels} flat panels hang on {len(joints)} bends only", "join all panels by bends"
    else:
        text = f"{panels} flat panels are joined by {len(joints)} bends: a closed loop, which no flat sheet can make"
        remedy = "cut a seam through one of the bends or panels of the loop"
    return Fault("FG041", describe(shell, face), text, remedy)
