"""Thickness and skins of a sheet: its faces are grouped by plane and axis, and paired with those opposite."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.sheet import Cylinder, FreeCurve, OtherSurface, Plane, Shell, Vector, points_at

Labels: TypeAlias = NDArray[np.intp]
Flags: TypeAlias = NDArray[np.bool_]

VOLUME_MISS = 0.1  # how far 2 V / (skin area x thickness) may be from one when the thickness is looked for
LARGEST_STOUTNESS = 0.4  # a sheet is thinner than this share of the root of its area
LEAST_SHARE, MOST_SHARE, SKIN_SHARE = 0.7, 2.5, 0.5
"""Where bosses are heavy, or much is missing: shares of the volume, and of all area, that still make a sheet."""
LEAST_WIDTH = 1.4  # a strip is wider than thick by so much, by its skin's area against that of its edges
THINNEST, THICKEST = 0.02, 60.0
"""Sheets are no thinner and no thicker [mm]."""
FACES_TRIED = 6  # so many of the largest flat faces are asked for the metal behind them
EDGE_MISS = 1e-3
"""Edges farther from their faces, or from one another where they should meet, contradict them [mm]."""
AREA_MISS = 1e-6
"""Areas within edges, and of the face by the kernel, that differ by a larger share contradict one another."""
REMEDY = "let the program that made it check and mend the solid, and write the file again"


def class_labels(rows: Vector, tolerances: Vector) -> Labels:
    """A class number for every row (n, k); rows of one class differ in every column by less than its tolerance."""
    count = len(rows)
    labels = np.zeros(count, dtype=np.intp)
    if count == 0:
        return labels
    count_before = 0
    while (count_now := int(labels.max()) + 1) > count_before:
        count_before = count_now
        for column, tolerance in zip(rows.T, tolerances, strict=True):
            order = np.lexsort((column, labels))
            apart = np.diff(labels[order]) != 0
            apart |= np.diff(column[order]) > tolerance
            labels[order] = np.concatenate(([0], np.cumsum(apart)))
    return labels


def line_rows(origins: Vector, directions: Vector) -> Vector:
    """What two lines in space that are one agree in, whichever way they run: (n, 9); directions of unit length."""
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


@dataclass(frozen=True)
class Candidate:
    """A distance that was tried as thickness: its share of the volume, its skin [mm2], and the flat faces of that."""

    share: float
    distance: float
    skin: float
    flats: tuple[int, ...]

    @property
    def fills_volume(self) -> bool:
        return abs(self.share - 1) < VOLUME_MISS

    @property
    def thin(self) -> bool:
        return self.distance < LARGEST_STOUTNESS * math.sqrt(self.skin / 2)


class Pairing:
    """The faces of a shell by family, height and side."""

    def __init__(self, shell: Shell) -> None:
        self.shell = shell
        surfaces = [f.surface for f in shell.faces]
        self.planes = [i for i, s in enumerate(surfaces) if isinstance(s, Plane)]
        self.cylinders = [i for i, s in enumerate(surfaces) if isinstance(s, Cylinder)]
        flat, curved = _plane_places(shell, self.planes), _cylinder_places(shell, self.cylinders)
        curved[0][:] += int(flat[0].max(initial=-1)) + 1
        family, height, side = (np.concatenate(p) for p in zip(flat, curved, strict=True))
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
        height = self._value[row] + (-thickness if self._side[row] else thickness)
        slack = self.shell.slack.length
        low, high = np.searchsorted(values, (height - slack, height + slack))
        return [int(self.faces[r]) for r in rows[low:high]]

    def paired_faces(self, thickness: float) -> set[int]:
        """All faces that have one opposite, one thickness away [mm]."""
        slack = self.shell.slack.length
        paired: set[int] = set()
        for side, step in ((True, -thickness), (False, thickness)):
            rows, values = self._sorted[side]
            _, others = self._sorted[not side]
            low = np.searchsorted(others, values + step - slack)
            high = np.searchsorted(others, values + step + slack)
            paired |= {int(f) for f in self.faces[rows[high > low]]}
        return paired

    def thicknesses(self) -> Iterator[float]:
        """Distances between opposite faces that may be the thickness [mm], the likeliest first.

        One accounts for the volume: 2 V = skin area x thickness; or, where much stands on the sheet or is taken out
        of it, for enough of it.

        :raises InputRefused: FG040 where there is none.
        """
        total = sum(float(a) for a in self.shell.rough_areas)
        candidates: list[Candidate] = []
        for distance in self._distances():
            candidate = self._candidate(distance)
            if candidate.fills_volume and candidate.thin and candidate.skin > LEAST_WIDTH * (total - candidate.skin):
                yield self._exact(candidate)
                return
            candidates.append(candidate)
        stout = [c for c in candidates if c.fills_volume and c.thin]
        if len(stout) > 1:
            some = " or ".join(f"{c.distance:.2f}" for c in stout[:3])
            why = f"it is hardly wider than thick, and may be {some} mm thick: a bar rather than a sheet"
            raise no_sheet_error(why)
        if stout:
            yield self._exact(stout[0])
            return
        rough = [c for c in candidates if c.thin and LEAST_SHARE < c.share < MOST_SHARE and c.skin > SKIN_SHARE * total]
        if not rough:
            raise no_sheet_error(self._why_rolled(total) or _why_no_candidate(candidates))
        for candidate in rough:
            yield self._exact(candidate)

    def _candidate(self, distance: float) -> Candidate:
        areas = self.shell.rough_areas
        faces = self.paired_faces(distance)
        flats = [i for i in faces if isinstance(self.shell.surface(i), Plane)]
        skin = sum(float(areas[i]) for i in flats)
        skin += sum(self.shell.faces[i].area for i in faces if isinstance(self.shell.surface(i), Cylinder))
        if skin and 2 * self.shell.volume < (1 - VOLUME_MISS) * skin * distance:  # walls may stand as far apart
            skin = self._hanging_area(distance, faces, flats)
        share = 2 * self.shell.volume / (skin * distance) if skin else math.inf
        return Candidate(share, distance, skin, tuple(flats))

    def _why_rolled(self, total: float) -> str:
        """Of rolled parts without a flat, whose round sides make up most of what there is."""
        areas = [self.shell.faces[i].area for i in self.cylinders]
        rough = sum(float(self.shell.rough_areas[i]) for i in self.cylinders)
        if sum(areas) < SKIN_SHARE * (sum(areas) + total - rough):
            return ""
        return "most of it is round, and no flat was found that it could be unfolded from"

    def _hanging_area(self, distance: float, faces: set[int], flats: list[int]) -> float:
        """Area of the faces that hang together smoothly with the largest flat one and that opposite it [mm2]."""
        areas = self.shell.rough_areas
        start = self.shell.largest(flats)
        other = self.shell.largest(self.opposite(start, distance))
        hanging = smooth_region(self.shell, start, faces) | smooth_region(self.shell, other, faces)
        curved = (i for i in hanging if isinstance(self.shell.surface(i), Cylinder))
        flat = sum(float(areas[i]) for i in hanging if isinstance(self.shell.surface(i), Plane))
        return flat + sum(self.shell.faces[i].area for i in curved)

    def _exact(self, candidate: Candidate) -> float:
        """The thickness at the largest flat face, which a candidate is nearly [mm]."""
        face = self.shell.largest(candidate.flats)
        other = self.shell.largest(self.opposite(face, candidate.distance))
        thickness = abs(float(self._value[self._row[face]] - self._value[self._row[other]]))
        if not THINNEST < thickness < THICKEST:
            limits = f"{THINNEST:g} and {THICKEST:g} mm"
            raise no_sheet_error(f"it would be {thickness:.4g} mm thick, not between {limits}: is the unit right?")
        return thickness

    def _distances(self) -> Iterator[float]:
        """Distances behind the largest flat faces, from the smallest."""
        areas = self.shell.rough_areas
        behind: list[float] = []
        for face in sorted(self.planes, key=lambda i: -float(areas[i]))[:FACES_TRIED]:
            row = self._row[face]
            rows, values = self._sorted[not self._side[row]]
            away = (self._value[row] - values) * (1.0 if self._side[row] else -1.0)
            alike = (self._family[rows] == self._family[row]) & (away > self.shell.slack.length)
            behind += [float(d) for d in away[alike]]
        distances = np.unique(np.round(behind, 9))
        yield from (float(d) for d, gap in zip(distances, np.diff(distances, prepend=-1.0), strict=True) if gap > 1e-8)


def _plane_places(shell: Shell, planes: list[int]) -> tuple[Labels, Vector, Flags]:
    """Family, height and side of planes."""
    normals = np.array([shell.surface(i).normal for i in planes]).reshape(-1, 3)  # type: ignore[union-attr]
    corner = float(np.sqrt(2 * shell.slack.smooth))
    family = class_labels(line_rows(np.zeros_like(normals), normals)[:, 3:], np.full(6, corner))
    _, first = np.unique(family, return_index=True)
    direction = normals[first[family]] if len(planes) else normals
    corners = np.array([shell.corner(i) for i in planes]).reshape(-1, 3)
    return family, (corners * direction).sum(axis=1), (normals * direction).sum(axis=1) > 0


def _cylinder_places(shell: Shell, cylinders: list[int]) -> tuple[Labels, Vector, Flags]:
    """Family, radius and side of cylinders."""
    some = [s for i in cylinders if isinstance(s := shell.surface(i), Cylinder)]
    origins, axes = (np.array(v).reshape(-1, 3) for v in ([s.origin for s in some], [s.axis for s in some]))
    corner = float(np.sqrt(2 * shell.slack.smooth))
    family = class_labels(line_rows(origins, axes), np.array([2 * shell.slack.length] * 3 + [corner] * 6))
    return family, np.array([s.radius for s in some]), np.array([s.convex for s in some], dtype=bool)


def smooth_region(shell: Shell, start: int, allowed: set[int]) -> frozenset[int]:
    """All allowed faces that can be reached over smooth edges."""
    reached, todo = {start}, [start]
    while todo:
        for half, other in shell.neighbours(todo.pop()):
            if other not in reached and other in allowed and shell.is_smooth(half, other):
                reached.add(other)
                todo.append(other)
    return frozenset(reached)


def _why_no_candidate(candidates: list[Candidate]) -> str:
    possible = [r for r in candidates if 0 < r.share < math.inf]
    if not possible:
        return "no two flat faces stand opposite one another with metal between"
    nearest = min(possible, key=lambda r: abs(math.log(r.share)))
    if nearest.fills_volume:
        return f"it is {nearest.distance:.2f} mm thick with sides of {nearest.skin / 2:.0f} mm2, as stout as a block"
    return (
        f"its faces {nearest.distance:.3f} mm apart account for {100 / nearest.share:.0f} % of its volume; "
        "no distance between opposite flat faces accounts for all of it"
    )


def no_sheet_error(why: str) -> InputRefused:
    """FG040: a solid that is no sheet."""
    text = f"it is not a sheet of one thickness: {why}"
    return InputRefused(Fault("FG040", "the solid", text, "pass a bent sheet of one thickness"))


@dataclass(frozen=True)
class Skins:
    """``sides`` are the faces of the two skins."""

    thickness: float
    sides: tuple[frozenset[int], frozenset[int]]

    def other(self, side: frozenset[int]) -> frozenset[int]:
        return self.sides[1] if side == self.sides[0] else self.sides[0]


def find_skins(shell: Shell, thickness: float | None = None) -> Skins:
    """Thickness and skins of a sheet; its thickness is found where it is not given [mm].

    :raises InputRefused: FG040: no sheet of one thickness; FG041: a face of a skin has no partner.
    """
    pairing = Pairing(shell)
    if thickness is None:
        thickness = next(pairing.thicknesses())
    paired = pairing.paired_faces(thickness)
    planes = [i for i in pairing.planes if i in paired]
    if not planes:
        raise no_sheet_error(f"no two flat faces stand {thickness:.4f} mm apart")
    start = shell.largest(planes)
    near = smooth_region(shell, start, paired)
    far = smooth_region(shell, largest_facing(shell, start, pairing.opposite(start, thickness)), paired)
    if near & far:
        text = "the two sides of the sheet run into one another here without an edge between them"
        where = describe(shell, min(near & far))
        raise InputRefused(Fault("FG041", where, text, "give the sheet square edges"))
    for face in sorted(near):
        if far.isdisjoint(pairing.opposite(face, thickness)):
            raise InputRefused(_lone_face_fault(shell, face, thickness))
    return Skins(thickness, (near, far))


def describe(shell: Shell, face: int) -> str:
    """A face for people: what it is and where its first corner lies."""
    surface = shell.surface(face)
    kind = surface.kind if isinstance(surface, OtherSurface) else type(surface).__name__.lower()
    x, y, z = (round(float(c), 2) + 0.0 for c in shell.corner(face))
    return f"face {face + 1} ({kind}, at x {x:.2f}, y {y:.2f}, z {z:.2f})"


def place_text(point: Vector) -> str:
    """A place for people, such as ``x 1.00, y 2.00, z 0.00``."""
    return ", ".join(f"{axis} {c:.2f}" for axis, c in zip("xyz", point, strict=True))


def same_axis(one: Cylinder, two: Cylinder, shell: Shell) -> bool:
    """True where two cylinders turn about one line."""
    if 1 - abs(float(one.axis @ two.axis)) > shell.slack.smooth:
        return False
    arm = two.origin - one.origin
    return bool(np.linalg.norm(arm - one.axis * (arm @ one.axis)) < shell.slack.length)


def largest_facing(shell: Shell, face: int, others: Sequence[int]) -> int:
    """Of some faces parallel to one the largest that lies before it; the largest of all where none does."""
    low, high = _box(shell, face)
    before = []
    for other in others:
        start, end = _box(shell, other)
        if np.all(np.minimum(high, end) - np.maximum(low, start) > -2 * np.linalg.norm(high - low) * 1e-3 - 10.0):
            shared = np.minimum(high, end) - np.maximum(low, start)
            before.append((float(np.prod(np.sort(np.maximum(shared, 1e-9))[-2:])), other))
    return max(before)[1] if before else shell.largest(others)


def _box(shell: Shell, face: int) -> tuple[Vector, Vector]:
    points = np.vstack([shell.ring(w) for w in shell.faces[face].wires])
    return points.min(axis=0), points.max(axis=0)


def face_behind(shell: Shell, skins: Skins, face: int) -> int:
    """The face of the other skin that lies behind a flat face."""
    surface = shell.surface(face)
    assert isinstance(surface, Plane)
    side = skins.sides[0] if face in skins.sides[0] else skins.sides[1]
    point = shell.corner(face) - skins.thickness * surface.normal
    facing = []
    for other in skins.other(side):
        below = shell.surface(other)
        if (
            isinstance(below, Plane)
            and below.normal @ surface.normal < -1 + shell.slack.smooth
            and abs((shell.corner(other) - point) @ surface.normal) < shell.slack.length
        ):
            facing.append(other)
    if not facing:
        raise InputRefused(_lone_face_fault(shell, face, skins.thickness))
    return largest_facing(shell, face, facing)


def _lone_face_fault(shell: Shell, face: int, thickness: float) -> Fault:
    text = f"it belongs to the sheet, but no face of its other side lies {thickness:.4f} mm behind it"
    return Fault("FG041", describe(shell, face), text, "a sheet has two skins, one thickness apart everywhere")


def contradiction(shell: Shell) -> Fault | None:
    """The first contradiction between faces and edges that is found: FG044, naming the face; or None."""
    for number in range(len(shell.faces)):
        text = _edge_off_surface(shell, number) or _open_wire(shell, number) or _contradicting_area(shell, number)
        if text:
            return Fault("FG044", describe(shell, number), text, REMEDY)
    return None


def _edge_off_surface(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    surface = face.surface
    if not isinstance(surface, Plane | Cylinder):
        return ""
    shares = np.array((0.0, 0.37, 0.5, 0.81))
    points = np.concatenate([points_at(curve, shares) for curve in shell.curves(number)])
    arms = points - surface.origin
    if isinstance(surface, Plane):
        off: Vector = np.abs(arms @ surface.normal)
    else:
        off = np.abs(np.linalg.norm(arms - np.outer(arms @ surface.axis, surface.axis), axis=1) - surface.radius)
    return f"an edge of it lies {off.max():.3f} mm off the face" if off.max() > EDGE_MISS else ""


def _open_wire(shell: Shell, number: int) -> str:
    for half in shell.faces[number].half_edges:
        here = shell.half_edges[half]
        gap = float(np.linalg.norm(here.curve.at(1.0) - shell.curve(here.following).at(0.0)))
        if gap > EDGE_MISS:
            return f"its edges do not meet: a gap of {gap:.3f} mm"
    return ""


def _contradicting_area(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    if not isinstance(face.surface, Plane) or any(isinstance(c, FreeCurve) for c in shell.curves(number)):
        return ""
    within = float(shell.rough_areas[number])
    if abs(within - face.area) > AREA_MISS * max(face.area, 1.0):
        return f"its edges enclose {within:.3f} mm2, the face has {face.area:.3f} mm2"
    return ""
