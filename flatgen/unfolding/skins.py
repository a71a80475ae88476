"""The two skins of a sheet: thickness, and which faces belong to which side.

A face belongs to the sheet if another face lies one thickness below it: planes with opposite normals,
cylinders on one axis. A skin is what can be reached from one such face over edges without a corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.pairing import Pairing, flood, no_sheet
from flatgen.unfolding.sheet import Cylinder, Other, Plane, Shell, Vector, edges_of, is_smooth


@dataclass(frozen=True)
class Skins:
    """``sides`` are the faces of the two skins."""

    thickness: float
    sides: tuple[frozenset[int], frozenset[int]]

    def other(self, side: frozenset[int]) -> frozenset[int]:
        """The skin that is not this one."""
        return self.sides[1] if side == self.sides[0] else self.sides[0]


def find_skins(shell: Shell, thickness: float | None = None, *, shunned: frozenset[int] = frozenset()) -> Skins:
    """Thickness and skins of a sheet.

    Parameters
    ----------
    shell : Shell
    thickness : float, optional
        If it is known; else it is found [mm].
    shunned : frozenset of int
        Faces that belong to stretched forms and not to a skin.

    Raises
    ------
    InputRefused
        FG040 where the solid is no sheet of one thickness, FG041 where a face of a skin has no partner.
    """
    pairing = Pairing(shell)
    if thickness is None:
        thickness = pairing.thickness()
    paired = pairing.paired(thickness) - shunned
    planes = [i for i in pairing.planes if i in paired]
    if not planes:
        raise no_sheet(f"no two flat faces stand {thickness:.4f} mm apart")
    start = max(planes, key=lambda i: float(shell.rough_areas[i]))
    near = flood(shell, start, paired)
    far = flood(shell, largest_before(shell, start, pairing.opposite(start, thickness)), paired)
    if near & far:
        raise InputRefused(
            Fault(
                "FG041",
                describe(shell, min(near & far)),
                "the two sides of the sheet run into one another here without an edge between them",
                "give the sheet square edges",
            )
        )
    for face in sorted(near):
        if far.isdisjoint(pairing.opposite(face, thickness)):
            raise InputRefused(_lone(shell, face, thickness))
    return Skins(thickness, (near, far))


def describe(shell: Shell, face: int) -> str:
    """A face for people: what it is and where its first corner lies."""
    surface = shell.faces[face].surface
    kind = surface.kind if isinstance(surface, Other) else type(surface).__name__.lower()
    x, y, z = (round(float(c), 2) + 0.0 for c in shell.corner(face))
    return f"face {face + 1} ({kind}, at x {x:.2f}, y {y:.2f}, z {z:.2f})"


def same_axis(one: Cylinder, two: Cylinder, shell: Shell) -> bool:
    """True where two cylinders turn about one line."""
    if 1 - abs(float(one.axis @ two.axis)) > shell.slack.smooth:
        return False
    arm = two.origin - one.origin
    return bool(np.linalg.norm(arm - one.axis * (arm @ one.axis)) < shell.slack.length)


def largest_before(shell: Shell, face: int, others: Sequence[int]) -> int:
    """Of some faces parallel to one the largest that lies before it; the largest of all where none does."""
    low, high = _span(shell, face)
    before = []
    for other in others:
        start, end = _span(shell, other)
        if np.all(np.minimum(high, end) - np.maximum(low, start) > -2 * np.linalg.norm(high - low) * 1e-3 - 10.0):
            shared = np.minimum(high, end) - np.maximum(low, start)
            before.append((float(np.prod(np.sort(np.maximum(shared, 1e-9))[-2:])), other))
    return max(before)[1] if before else max(others, key=lambda i: float(shell.rough_areas[i]))


def _span(shell: Shell, face: int) -> tuple[Vector, Vector]:
    """Lowest and highest coordinates of a face."""
    points = np.vstack([shell.ring(w) for w in shell.faces[face].wires])
    return points.min(axis=0), points.max(axis=0)


def behind(shell: Shell, skins: Skins, face: int) -> int:
    """The face of the other skin that lies behind a flat face."""
    surface = shell.faces[face].surface
    assert isinstance(surface, Plane)
    side = skins.sides[0] if face in skins.sides[0] else skins.sides[1]
    point = shell.corner(face) - skins.thickness * surface.normal
    found = []
    for other in skins.other(side):
        below = shell.faces[other].surface
        if (
            isinstance(below, Plane)
            and below.normal @ surface.normal < -1 + shell.slack.smooth
            and abs((shell.corner(other) - point) @ surface.normal) < shell.slack.length
        ):
            found.append(other)
    if not found:
        raise InputRefused(_lone(shell, face, skins.thickness))
    return largest_before(shell, face, found)


def _lone(shell: Shell, face: int, thickness: float) -> Fault:
    return Fault(
        "FG041",
        describe(shell, face),
        f"it belongs to the sheet, but no face of its other side lies {thickness:.4f} mm behind it",
        "a sheet has two skins, one thickness apart everywhere",
    )


__all__ = ["Skins", "behind", "describe", "edges_of", "find_skins", "is_smooth", "largest_before", "same_axis"]
