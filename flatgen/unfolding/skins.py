"""The two skins of a sheet: thickness, which faces belong to which side, and the partner of each.

A face belongs to the sheet if another face lies one thickness below it: planes with opposite normals,
cylinders on one axis. A skin is what can be reached from one such face over edges without a corner.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from flatgen.errors import Fault, InputRefused
from flatgen.unfolding.sheet import Cylinder, Face, Other, Plane, Shell, Vector

DISTANCE = 1e-6
"""Two lengths in a solid that differ by less are one [mm]."""
SMOOTH = 1e-7
"""1 - cos of the largest corner, at an edge, that still counts as smooth."""
FILLED = 0.1
"""How far 2 V / (skin area x thickness) may be from one when the thickness is looked for."""


@dataclass(frozen=True)
class Skins:
    """``sides`` are the faces of the two skins; ``partner`` leads from a face to the one opposite."""

    thickness: float
    sides: tuple[frozenset[int], frozenset[int]]
    partner: dict[int, int]

    def other(self, side: frozenset[int]) -> frozenset[int]:
        """The skin that is not this one."""
        return self.sides[1] if side == self.sides[0] else self.sides[0]


def find_skins(shell: Shell, thickness: float | None = None) -> Skins:
    """Thickness and skins of a sheet.

    Parameters
    ----------
    shell : Shell
    thickness : float, optional
        If it is known; else it is found [mm].

    Raises
    ------
    InputRefused
        FG040 where the solid is no sheet of one thickness, FG041 where a face of a skin has no partner.
    """
    gaps = _gaps(shell.faces)
    if thickness is None:
        thickness = _thickness(shell, gaps)
    pairs = [(i, j) for i, j, d in gaps if abs(d - thickness) < DISTANCE]
    paired = {i for pair in pairs for i in pair}
    planes = [i for i in paired if isinstance(shell.faces[i].surface, Plane)]
    if not planes:
        raise _no_sheet(f"no two flat faces stand {thickness:.4f} mm apart")
    start = max(planes, key=lambda i: shell.faces[i].area)
    near = _flood(shell, start, paired)
    partner = _partners(shell, pairs, near)
    far = _flood(shell, partner[start], paired)
    missing = {partner[i] for i in near} - far
    if missing:
        raise InputRefused(_lone(shell, min(missing), thickness))
    _through(shell, near, far)
    return Skins(thickness, (near, far), partner | {b: a for a, b in partner.items()})


def _through(shell: Shell, near: frozenset[int], far: frozenset[int]) -> None:
    """Walls lead from one skin to the other: no pockets, bosses or voids."""
    twins = shell.twins
    seen: set[int] = set(near | far)
    for start in range(len(shell.faces)):
        if start in seen:
            continue
        group, todo, met = {start}, [start], set()
        while todo:
            face = todo.pop()
            for half in (h for h in _edges_of(shell.faces[face]) if h in twins):
                other = shell.half_edges[twins[half]].face
                if other in near or other in far:
                    met.add(other in near)
                elif other not in group:
                    group.add(other)
                    todo.append(other)
        seen |= group
        if len(met) < 2:
            raise InputRefused(
                Fault(
                    "FG041",
                    describe(shell, min(group)),
                    "metal stands on the sheet or is taken out of it here, but not through it",
                    "leave bosses, pockets and engraving out of the part: a flat blank cannot show them",
                )
            )


def describe(shell: Shell, face: int) -> str:
    """A face for people: what it is and where its first corner lies."""
    surface = shell.faces[face].surface
    kind = surface.kind if isinstance(surface, Other) else type(surface).__name__.lower()
    x, y, z = shell.half_edges[shell.faces[face].wires[0][0]].curve.at(0.0)
    return f"face {face + 1} ({kind}, at x {x:.2f}, y {y:.2f}, z {z:.2f})"


def _gaps(faces: tuple[Face, ...]) -> list[tuple[int, int, float]]:
    """All pairs of opposite faces with metal between, and their distance [mm]."""
    found = []
    planes = [(i, f.surface) for i, f in enumerate(faces) if isinstance(f.surface, Plane)]
    if planes:
        normals = np.array([s.normal for _, s in planes])
        heights = np.array([s.origin for _, s in planes]) @ normals.T  # height of i's origin along normal of j
        opposite = np.argwhere(normals @ normals.T < -1 + SMOOTH)
        for a, b in opposite:
            gap = float(heights[a, a] - heights[b, a])
            if a < b and gap > DISTANCE:
                found.append((planes[a][0], planes[b][0], gap))
    return found + _rings(faces)


def _rings(faces: tuple[Face, ...]) -> list[tuple[int, int, float]]:
    """All pairs of a hollow cylinder in a larger full one about the same line, and their distance [mm]."""
    cylinders = [(i, f.surface) for i, f in enumerate(faces) if isinstance(f.surface, Cylinder)]
    outer = [(i, s) for i, s in cylinders if s.convex]
    if not outer:
        return []
    found = []
    origins, axes = np.array([s.origin for _, s in outer]), np.array([s.axis for _, s in outer])
    for i, inner in ((i, s) for i, s in cylinders if not s.convex):
        arms = origins - inner.origin
        off = np.linalg.norm(arms - np.outer(arms @ inner.axis, inner.axis), axis=1)
        for n in np.flatnonzero((np.abs(axes @ inner.axis) > 1 - SMOOTH) & (off < DISTANCE)):
            j, ring = outer[n]
            if ring.radius > inner.radius:
                found.append((i, j, ring.radius - inner.radius))
    return found


def same_axis(one: Cylinder, two: Cylinder) -> bool:
    """True where two cylinders turn about one line."""
    if 1 - abs(float(one.axis @ two.axis)) > SMOOTH:
        return False
    arm = two.origin - one.origin
    return bool(np.linalg.norm(arm - one.axis * (arm @ one.axis)) < DISTANCE)


def _thickness(shell: Shell, gaps: list[tuple[int, int, float]]) -> float:
    """The smallest distance whose faces account for the volume: 2 V = skin area x thickness."""
    tried = sorted({round(d, 6) for _, _, d in gaps})
    for d in tried:
        faces = {i for a, b, gap in gaps if abs(gap - d) < DISTANCE for i in (a, b)}
        skin = sum(shell.faces[i].area for i in faces)
        if abs(2 * shell.volume / (skin * d) - 1) < FILLED:
            exact = [gap for _, _, gap in gaps if abs(gap - d) < DISTANCE]
            return float(np.median(exact))
    raise _no_sheet("no distance between opposite faces accounts for its volume")


def _flood(shell: Shell, start: int, allowed: set[int]) -> frozenset[int]:
    """All allowed faces that can be reached over smooth edges."""
    twins = shell.twins
    seen, todo = {start}, [start]
    while todo:
        face = todo.pop()
        for half in _edges_of(shell.faces[face]):
            other = shell.half_edges[twins[half]].face if half in twins else face
            if other not in seen and other in allowed and is_smooth(shell, half, other):
                seen.add(other)
                todo.append(other)
    return frozenset(seen)


def _edges_of(face: Face) -> Iterable[int]:
    return (h for wire in face.wires for h in wire)


def is_smooth(shell: Shell, half: int, other: int) -> bool:
    """True where the two faces at an edge look the same way in its middle."""
    here = shell.half_edges[half]
    middle = here.curve.at(0.5)
    one, two = shell.normal_at(here.face, middle), shell.normal_at(other, middle)
    return bool(one @ two > 1 - SMOOTH)


def _partners(shell: Shell, pairs: list[tuple[int, int]], near: frozenset[int]) -> dict[int, int]:
    """The face opposite of each face of a skin: of several on one plane, the one that lies below it."""
    choices: dict[int, list[int]] = {i: [] for i in near}
    for a, b in pairs:
        for i, j in ((a, b), (b, a)):
            if i in near:
                choices[i].append(j)
    partner = {}
    for i, found in choices.items():
        if not found:
            raise InputRefused(_lone(shell, i, float("nan")))
        here = _middle(shell, i)
        partner[i] = min(found, key=lambda j: float(np.linalg.norm(_middle(shell, j) - here)))
    return partner


def _middle(shell: Shell, face: int) -> Vector:
    points = [shell.half_edges[h].curve.at(s) for h in shell.faces[face].wires[0] for s in (0.0, 0.5)]
    middle: Vector = np.mean(points, axis=0)
    return middle


def _lone(shell: Shell, face: int, thickness: float) -> Fault:
    return Fault(
        "FG041",
        describe(shell, face),
        f"it belongs to the sheet, but no face lies {thickness:.4f} mm behind it",
        "a sheet has two skins, one thickness apart everywhere",
    )


def _no_sheet(why: str) -> InputRefused:
    return InputRefused(
        Fault(
            "FG040",
            "the solid",
            f"it is not a sheet of one thickness: {why}",
            "pass a bent sheet of one thickness",
        )
    )
