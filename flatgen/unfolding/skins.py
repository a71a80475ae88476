"""Faces that lie on one plane or one axis, found by sorting: time grows as n log n with their number."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.sheet import Cylinder, Free, Other, Plane, Shell, Vector, edges_of, is_smooth, spots

Labels = NDArray[np.intp]


def classes(rows: Vector, tolerances: Vector) -> Labels:
    """A class number for every row; rows that differ by less than the tolerance in every column are of one class.

    :param rows: (n, k)
    """
    count = len(rows)
    labels = np.zeros(count, dtype=np.intp)
    if count == 0:
        return labels
    before = 0
    while (found := int(labels.max()) + 1) > before:
        before = found
        for column, tolerance in zip(rows.T, tolerances, strict=True):
            order = np.lexsort((column, labels))
            apart = np.diff(labels[order]) != 0
            apart |= np.diff(column[order]) > tolerance
            labels[order] = np.concatenate(([0], np.cumsum(apart)))
    return labels


def line_rows(origins: Vector, directions: Vector) -> Vector:
    """What two lines in space that are one agree in, whichever way they run: (n, 9).

    :param origins, directions: (n, 3), directions of unit length
    """
    along = (origins * directions).sum(axis=1)[:, None]
    feet = origins - directions * along
    products = directions[:, :, None] * directions[:, None, :]
    i, j = np.triu_indices(3)
    rows: Vector = np.hstack((feet, products[:, i, j]))
    return rows


def plane_rows(origins: Vector, normals: Vector) -> Vector:
    """What two planes that are one, and look the same way, agree in: (n, 4)."""
    rows: Vector = np.hstack((normals, (origins * normals).sum(axis=1)[:, None]))
    return rows


Flags: TypeAlias = NDArray[np.bool_]

FILLED = 0.1
"""How far 2 V / (skin area x thickness) may be from one when the thickness is looked for."""

STOUT = 0.4
"""A sheet is thinner than this share of the root of its area."""

LEAST, MOST, HALF = 0.7, 2.5, 0.5
"""Where bosses are heavy, or much is missing: shares of the volume, and of all area, that still make a sheet."""

WIDE = 1.4
"""A strip is wider than thick by so much, by its skin's area against that of its edges."""

THINNEST, THICKEST = 0.02, 60.0
"""Sheets are no thinner and no thicker [mm]."""

TRIED = 6
"""So many of the largest flat faces are asked for the metal behind them."""


@dataclass(frozen=True)
class Tried:
    """A distance that was tried as thickness: its share of the volume, its skin [mm2], and the flat faces of that."""

    share: float
    distance: float
    skin: float
    flats: tuple[int, ...]

    @property
    def accounts(self) -> bool:
        return abs(self.share - 1) < FILLED

    @property
    def thin(self) -> bool:
        return self.distance < STOUT * math.sqrt(self.skin / 2)


class Pairing:
    """The faces of a shell by family, height and side."""

    def __init__(self, shell: Shell) -> None:
        self.shell = shell
        surfaces = [f.surface for f in shell.faces]
        self.planes = [i for i, s in enumerate(surfaces) if isinstance(s, Plane)]
        self.cylinders = [i for i, s in enumerate(surfaces) if isinstance(s, Cylinder)]
        flat, turned = _flat_places(shell, self.planes), _round_places(shell, self.cylinders)
        turned[0][:] += int(flat[0].max(initial=-1)) + 1
        family, height, side = (np.concatenate(p) for p in zip(flat, turned, strict=True))
        self.faces = np.array(self.planes + self.cylinders, dtype=int)
        self._row = {int(face): n for n, face in enumerate(self.faces)}
        self._family = family
        span = 4.0 * float(np.ptp(height)) + 100.0 if len(height) else 1.0
        self._value = family * span + (height - height.min(initial=0.0))
        self._side = side
        self._sorted = {s: self._order(s) for s in (False, True)}

    def _order(self, side: bool) -> tuple[Labels, Vector]:
        rows = np.flatnonzero(self._side == side)
        order = rows[np.argsort(self._value[rows], kind="stable")]
        return order, self._value[order]

    def opposite(self, face: int, thickness: float) -> list[int]:
        """Faces one thickness behind a face [mm]."""
        row = self._row[face]
        rows, values = self._sorted[not self._side[row]]
        wanted = self._value[row] + (-thickness if self._side[row] else thickness)
        slack = self.shell.slack.length
        low, high = np.searchsorted(values, (wanted - slack, wanted + slack))
        return [int(self.faces[r]) for r in rows[low:high]]

    def paired(self, thickness: float) -> set[int]:
        """All faces that have one opposite [mm]."""
        slack = self.shell.slack.length
        found: set[int] = set()
        for side, step in ((True, -thickness), (False, thickness)):
            rows, values = self._sorted[side]
            _, others = self._sorted[not side]
            low = np.searchsorted(others, values + step - slack)
            high = np.searchsorted(others, values + step + slack)
            found |= {int(f) for f in self.faces[rows[high > low]]}
        return found

    def thickness(self) -> float:
        """The likeliest of ``thicknesses`` [mm]."""
        return next(self.thicknesses())

    def thicknesses(self) -> Iterator[float]:
        """Distances between opposite faces that may be the thickness [mm], the likeliest first.

        One accounts for the volume: 2 V = skin area x thickness; or, where much stands on the sheet or is taken out
        of it, for enough of it.

        :raises InputRefused: FG040 where there is none.
        """
        total = sum(float(a) for a in self.shell.rough_areas)
        tried: list[Tried] = []
        for distance in self._distances():
            row = self._tried(distance)
            if row.accounts and row.thin and row.skin > WIDE * (total - row.skin):
                yield self._sheet(row)
                return
            tried.append(row)
        level = [r for r in tried if r.accounts and r.thin]
        if len(level) > 1:
            some = " or ".join(f"{r.distance:.2f}" for r in level[:3])
            raise no_sheet(f"it is hardly wider than thick, and may be {some} mm thick: a bar rather than a sheet")
        if level:
            yield self._sheet(level[0])
            return
        rough = [r for r in tried if r.thin and LEAST < r.share < MOST and r.skin > HALF * total]
        if not rough:
            raise no_sheet(self._round_only(total) or _why(tried))
        for row in rough:
            yield self._sheet(row)

    def _tried(self, distance: float) -> Tried:
        faces = self.paired(distance)
        flats = [i for i in faces if isinstance(self.shell.faces[i].surface, Plane)]
        skin = sum(float(self.shell.rough_areas[i]) for i in flats)
        skin += sum(self.shell.faces[i].area for i in faces if isinstance(self.shell.faces[i].surface, Cylinder))
        if skin and 2 * self.shell.volume < (1 - FILLED) * skin * distance:  # walls may stand as far apart
            skin = self._reached(distance, set(faces), flats)
        share = 2 * self.shell.volume / (skin * distance) if skin else math.inf
        return Tried(share, distance, skin, tuple(flats))

    def _round_only(self, total: float) -> str:
        """Told of rolled parts without a flat: their round sides make up most of what there is."""
        areas = [self.shell.faces[i].area for i in self.cylinders]
        if sum(areas) < HALF * (sum(areas) + total - sum(float(self.shell.rough_areas[i]) for i in self.cylinders)):
            return ""
        return "most of it is round, and no flat was found that it could be unfolded from"

    def _reached(self, distance: float, faces: set[int], flats: list[int]) -> float:
        """Area of the faces that hang together smoothly with the largest flat one and that opposite it [mm2]."""
        areas = self.shell.rough_areas
        start = max(flats, key=lambda i: float(areas[i]))
        other = max(self.opposite(start, distance), key=lambda i: float(areas[i]))
        held = flood(self.shell, start, faces) | flood(self.shell, other, faces)
        round_ones = (i for i in held if isinstance(self.shell.faces[i].surface, Cylinder))
        flat = sum(float(areas[i]) for i in held if isinstance(self.shell.faces[i].surface, Plane))
        return flat + sum(self.shell.faces[i].area for i in round_ones)

    def _sheet(self, row: Tried) -> float:
        found = self._measured(row.distance, row.flats)
        if not THINNEST < found < THICKEST:
            raise no_sheet(
                f"it would be {found:.4g} mm thick, not between {THINNEST:g} and {THICKEST:g} mm: is the unit right?"
            )
        return found

    def _measured(self, thickness: float, flats: Sequence[int]) -> float:
        """The thickness at the largest flat face, where ``thickness`` is it nearly."""
        face = max(flats, key=lambda i: float(self.shell.rough_areas[i]))
        row = self._row[face]
        other = max(self.opposite(face, thickness), key=lambda i: float(self.shell.rough_areas[i]))
        return abs(float(self._value[row] - self._value[self._row[other]]))

    def _distances(self) -> Iterator[float]:
        """Distances behind the largest flat faces, from the smallest."""
        areas = self.shell.rough_areas
        found: list[float] = []
        for face in sorted(self.planes, key=lambda i: -float(areas[i]))[:TRIED]:
            row = self._row[face]
            rows, values = self._sorted[not self._side[row]]
            away = (self._value[row] - values) * (1.0 if self._side[row] else -1.0)
            alike = (self._family[rows] == self._family[row]) & (away > self.shell.slack.length)
            found += [float(d) for d in away[alike]]
        distances = np.unique(np.round(found, 9))
        yield from (float(d) for d, gap in zip(distances, np.diff(distances, prepend=-1.0), strict=True) if gap > 1e-8)


def _flat_places(shell: Shell, planes: list[int]) -> tuple[Labels, Vector, Flags]:
    """Family, height and side of planes."""
    normals = np.array([shell.faces[i].surface.normal for i in planes]).reshape(-1, 3)  # type: ignore[union-attr]
    corner = float(np.sqrt(2 * shell.slack.smooth))
    family = classes(line_rows(np.zeros_like(normals), normals)[:, 3:], np.full(6, corner))
    _, first = np.unique(family, return_index=True)
    direction = normals[first[family]] if len(planes) else normals
    corners = np.array([shell.corner(i) for i in planes]).reshape(-1, 3)
    return family, (corners * direction).sum(axis=1), (normals * direction).sum(axis=1) > 0


def _round_places(shell: Shell, cylinders: list[int]) -> tuple[Labels, Vector, Flags]:
    """Family, radius and side of cylinders."""
    some = [s for i in cylinders if isinstance(s := shell.faces[i].surface, Cylinder)]
    origins, axes = (np.array(v).reshape(-1, 3) for v in ([s.origin for s in some], [s.axis for s in some]))
    corner = float(np.sqrt(2 * shell.slack.smooth))
    family = classes(line_rows(origins, axes), np.array([2 * shell.slack.length] * 3 + [corner] * 6))
    return family, np.array([s.radius for s in some]), np.array([s.convex for s in some], dtype=bool)


def flood(shell: Shell, start: int, allowed: set[int]) -> frozenset[int]:
    """All allowed faces that can be reached over smooth edges."""
    twins = shell.twins
    seen, todo = {start}, [start]
    while todo:
        face = todo.pop()
        for half in edges_of(shell.faces[face]):
            other = shell.half_edges[twins[half]].face if half in twins else face
            if other not in seen and other in allowed and is_smooth(shell, half, other):
                seen.add(other)
                todo.append(other)
    return frozenset(seen)


def _why(tried: list[Tried]) -> str:
    """What is wrong with the distance that comes nearest to being a thickness."""
    some = [r for r in tried if 0 < r.share < math.inf]
    if not some:
        return "no two flat faces stand opposite one another with metal between"
    row = min(some, key=lambda r: abs(math.log(r.share)))
    if row.accounts:
        return f"it is {row.distance:.2f} mm thick with sides of {row.skin / 2:.0f} mm2, as stout as a block"
    return (
        f"its faces {row.distance:.3f} mm apart account for {100 / row.share:.0f} % of its volume; no distance between "
        "opposite flat faces accounts for all of it"
    )


def no_sheet(why: str) -> InputRefused:
    """A solid that is no sheet."""
    return InputRefused(
        Fault(
            "FG040",
            "the solid",
            f"it is not a sheet of one thickness: {why}",
            "pass a bent sheet of one thickness",
        )
    )


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

    :param thickness: if it is known; else it is found [mm]
    :param shunned: faces that belong to stretched forms and not to a skin.
    :raises InputRefused: FG040 where the solid is no sheet of one thickness, FG041 where a face of a skin has no
        partner.
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


OFF = 1e-3
"""Edges farther from their faces, or from one another where they should meet, contradict them [mm]."""

AREA = 1e-6
"""Areas within edges, and of the face by the kernel, that differ by a larger share contradict one another."""

REMEDY = "let the program that made it check and mend the solid, and write the file again"


def contradiction(shell: Shell) -> Fault | None:
    """The first contradiction between faces and edges that is found, or None.

    :returns: FG044, naming the face.
    """
    for number in range(len(shell.faces)):
        said = _off_surface(shell, number) or _open(shell, number) or _other_area(shell, number)
        if said:
            return Fault("FG044", describe(shell, number), said, REMEDY)
    return None


def _off_surface(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    surface = face.surface
    if not isinstance(surface, Plane | Cylinder):
        return ""
    shares = np.array((0.0, 0.37, 0.5, 0.81))
    points = np.concatenate([spots(shell.half_edges[h].curve, shares) for wire in face.wires for h in wire])
    arms = points - surface.origin
    if isinstance(surface, Plane):
        off: Vector = np.abs(arms @ surface.normal)
    else:
        off = np.abs(np.linalg.norm(arms - np.outer(arms @ surface.axis, surface.axis), axis=1) - surface.radius)
    return f"an edge of it lies {off.max():.3f} mm off the face" if off.max() > OFF else ""


def _open(shell: Shell, number: int) -> str:
    for half in (h for wire in shell.faces[number].wires for h in wire):
        here = shell.half_edges[half]
        gap = float(np.linalg.norm(here.curve.at(1.0) - shell.half_edges[here.following].curve.at(0.0)))
        if gap > OFF:
            return f"its edges do not meet: a gap of {gap:.3f} mm"
    return ""


def _other_area(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    curves = [shell.half_edges[h].curve for wire in face.wires for h in wire]
    if not isinstance(face.surface, Plane) or any(isinstance(c, Free) for c in curves):
        return ""
    within = float(shell.rough_areas[number])
    if abs(within - face.area) > AREA * max(face.area, 1.0):
        return f"its edges enclose {within:.3f} mm2, the face has {face.area:.3f} mm2"
    return ""
