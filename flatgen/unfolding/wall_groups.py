"""Wall groups (faces that are no skin and hang together), and the cut edges that do not stand square to the sheet.

strip    a face of a cut edge that is seen from one side of the sheet: a bevel, a rounding
rim      the skin's half-edges along which a wall group meets it
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FaceDifference, FlatPattern, Matrix
from flatgen.unfolding.develop import Chart, Charts, chain_area, trail
from flatgen.unfolding.sheet import (
    CircularCurve,
    Cylinder,
    OtherSurface,
    Plane,
    Shell,
    chord_length,
    cross,
    heading,
    points_at,
)
from flatgen.unfolding.skins import Skins, describe


@dataclass(frozen=True)
class WallGroup:
    """Faces that hang together, and their rims on either side."""

    faces: frozenset[int]
    rims: tuple[tuple[int, ...], tuple[int, ...]]

    @property
    def sides(self) -> tuple[int, ...]:
        return tuple(n for n in (0, 1) if self.rims[n])

    @property
    def rim(self) -> tuple[int, ...]:
        return self.rims[0] + self.rims[1]


def wall_groups(shell: Shell, skins: Skins) -> list[WallGroup]:
    """All wall groups of a sheet."""
    near, far = skins.sides
    grouped = set(near | far)
    groups = []
    for start in range(len(shell.faces)):
        if start in grouped:
            continue
        faces, todo = {start}, [start]
        rims: tuple[list[int], list[int]] = ([], [])
        while todo:
            for half, other in shell.neighbours(todo.pop()):
                if other in near or other in far:
                    rims[0 if other in near else 1].append(shell.twins[half])
                elif other not in faces:
                    faces.add(other)
                    todo.append(other)
        grouped |= faces
        groups.append(WallGroup(frozenset(faces), (tuple(rims[0]), tuple(rims[1]))))
    return groups


def is_outer(shell: Shell, half: int) -> bool:
    """Whether a half-edge is on the outer wire of its face."""
    return half in shell.outer_halves


def rises(shell: Shell, half: int) -> bool:
    """Whether the wall at a skin's half-edge rises out of the sheet, instead of going down into the metal."""
    if half not in shell.rise_cache:
        shell.rise_cache[half] = _rises(shell, half)
    return shell.rise_cache[half]


def _rises(shell: Shell, half: int) -> bool:
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    surface = shell.surface(there.face)
    if isinstance(surface, OtherSurface) and surface.kind.startswith("bspline"):
        return _curls_up(shell, half)  # a cut edge, mostly; its normal takes long
    middle = here.curve.at(0.5)
    into = cross(shell.normal_at(there.face, middle), heading(there.curve))
    size = math.sqrt(float(into @ into))
    lift = float(into @ shell.normal_at(here.face, middle)) / size if size else 0.0
    return lift > 0 if abs(lift) > 1e-3 else _curls_up(shell, half)


def _curls_up(shell: Shell, half: int) -> bool:
    """Of a wall that goes on smoothly, or is neither flat nor round: whether its own corners lie above the skin."""
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    points = np.vstack([shell.ring(w) for w in shell.faces[there.face].wires])
    surface = shell.surface(here.face)
    if isinstance(surface, Cylinder):
        arms = points - surface.origin
        arms = arms - np.outer(arms @ surface.axis, surface.axis)
        heights = (np.linalg.norm(arms, axis=1) - surface.radius) * (1.0 if surface.convex else -1.0)
    else:
        middle = here.curve.at(0.5)
        heights = (points - middle) @ shell.normal_at(here.face, middle)
    return float(np.mean(heights)) > 0


def is_tube(shell: Shell, group: WallGroup) -> bool:
    """Whether a group stands on the sheet about an opening, all round."""
    return any(in_tube(shell, h) for h in group.rim if rises(shell, h))


def in_tube(shell: Shell, half: int) -> bool:
    """Whether a half-edge is on an inner wire about which the wall rises all round."""
    wire = next(w for w in shell.faces[shell.half_edges[half].face].wires if half in w)
    return not is_outer(shell, half) and all(h in shell.twins and rises(shell, h) for h in wire)


LEAST_VIEW = 1e-3
"""A face of a cut edge is seen from a side if its view has more than this share of thickness times length."""


@dataclass(frozen=True)
class Strip:
    """A strip on a side (0 near, 1 far): its face, the half-edges of the skin along it, and its width [mm]."""

    face: int
    side: int
    along: tuple[int, ...]
    width: float


@dataclass(frozen=True)
class BrokenEdge:
    """The strips of a cut edge; ``inner``: it is the edge of an opening."""

    strips: tuple[Strip, ...]
    inner: bool

    @property
    def on_both_sides(self) -> bool:
        return len({s.side for s in self.strips}) == 2


@dataclass(frozen=True)
class CutEdges:
    """All cut edges with strips; the rims of countersunk or stepped openings, and of those that tubes stand about.

    ``silhouettes`` are walls drawn with either skin; ``hollows`` are walls deep inside the metal: (depth [mm], face).
    """

    broken: tuple[BrokenEdge, ...] = ()
    countersinks: tuple[tuple[int, ...], ...] = ()
    tubes: tuple[tuple[int, ...], ...] = ()
    silhouettes: tuple[dict[int, Chart], dict[int, Chart]] = field(default_factory=lambda: ({}, {}))
    hollows: tuple[tuple[float, int], ...] = ()

    @property
    def square(self) -> bool:
        """Whether no cut edge has strips on both sides, a silhouette of its own, or a hollow."""
        return not (any(b.on_both_sides for b in self.broken) or any(self.silhouettes) or self.hollows)

    def charts(self, side: int, charts: Mapping[int, Chart], shell: Shell) -> dict[int, Chart]:
        some = (s for b in self.broken if b.on_both_sides for s in b.strips if s.side == side)
        return {s.face: charts[shell.half_edges[s.along[0]].face] for s in some} | self.silhouettes[side]


def find_cut_edges(shell: Shell, skins: Skins, charts: Charts, groups: Sequence[WallGroup]) -> CutEdges:
    """What is not square about the cut edges.

    :raises InputRefused: FG041 where an edge is rounded over its whole thickness: it is widest where no edge lies.
    """
    broken, countersinks, tubes = [], [], []
    for group in groups:
        if len(group.sides) < 2:
            continue
        if is_tube(shell, group):
            tubes.append(group.rim)
            continue
        if _is_countersink(shell, group):
            countersinks.append(group.rim)
            continue
        strips = [s for f in sorted(group.faces) for s in _strips(shell, f, charts, skins.thickness)]
        if strips:
            outer = any(is_outer(shell, h) for h in group.rim)
            broken.append(BrokenEdge(tuple(strips), not outer))
    return CutEdges(tuple(broken), tuple(countersinks), tuple(tubes))


def _is_countersink(shell: Shell, group: WallGroup) -> bool:
    """Whether the walls of an opening are round about one line and differ in width: a countersink, a counterbore."""
    if any(is_outer(shell, h) for h in group.rim) or len(group.faces) < 2:
        return _is_one_cone(shell, group)
    if any(rises(shell, side[0]) for side in group.rims):
        return False  # a hollow standoff
    first = shell.half_edges[group.rims[0][0]]
    normal = shell.normal_at(first.face, first.curve.at(0.5))
    stepped = False
    for face in group.faces:
        surface = shell.surface(face)
        if (isinstance(surface, OtherSurface) and surface.kind == "cone") or (
            isinstance(surface, Plane) and abs(float(surface.normal @ normal)) > 1 - 1e-6
        ):
            stepped = True
        elif not (isinstance(surface, Cylinder) and abs(float(surface.axis @ normal)) > 1 - 1e-6):
            return False
    widths = [_least_radius(shell, side) for side in group.rims]
    inmost = min(_least_radius(shell, shell.faces[f].half_edges) for f in group.faces)
    return stepped and abs(widths[0] - widths[1]) > 1e-3 and inmost > min(widths) - 1e-3


def _is_one_cone(shell: Shell, group: WallGroup) -> bool:
    inner = not any(is_outer(shell, h) for h in group.rim)
    kinds = [s.kind if isinstance(s := shell.surface(f), OtherSurface) else "" for f in group.faces]
    return inner and all(k == "cone" for k in kinds)


def _least_radius(shell: Shell, halves: Sequence[int]) -> float:
    curves = (shell.curve(h) for h in halves)
    return min((c.radius for c in curves if isinstance(c, CircularCurve)), default=math.inf)


def _strips(shell: Shell, face: int, charts: Charts, t: float) -> Iterator[Strip]:
    twins = shell.twins
    halves = [h for h in shell.faces[face].half_edges if h in twins]
    along = [[twins[h] for h in halves if shell.half_edges[twins[h]].face in side] for side in charts]
    if along[0] and along[1]:
        _require_not_round(shell, face, along)
        return
    for side in (0, 1):
        if not along[side]:
            continue
        own = {id(charts[side][shell.half_edges[h].face]) for h in along[side]}
        if len(own) > 1:
            continue
        chart = charts[side][shell.half_edges[along[side][0]].face]
        view = chain_area(trail(chart, curve) for curve in shell.curves(face))
        length = math.fsum(chord_length(shell.curve(h)) for h in along[side])
        visible = view if side == 0 else -view
        if LEAST_VIEW * t * length < visible < 1.5 * shell.rough_areas[face]:
            yield Strip(face, side, tuple(along[side]), abs(view) / length)


def _require_not_round(shell: Shell, face: int, along: Sequence[Sequence[int]]) -> None:
    surface = shell.surface(face)
    if isinstance(surface, Plane) or (isinstance(surface, OtherSurface) and surface.normal_near is None):
        return
    if all(any(shell.is_smooth(h, face) for h in side) for side in along):
        text = "this edge is rounded over the whole thickness: the sheet is widest where the model has no edge"
        remedy = "model it with a square edge, and round it after cutting"
        raise InputRefused(Fault("FG041", describe(shell, face), text, remedy))


def edge_findings(
    edges: CutEdges, flat: FlatPattern, shell: Shell, charts: Mapping[int, Chart], move: Matrix
) -> tuple[tuple[Finding, ...], FlatPattern]:
    """Findings on countersinks and broken edges; and the flat without the differences of faces that these explain."""
    findings = []
    both = [b for b in edges.broken if b.inner and b.on_both_sides]
    boxes = [_rim_box(rim, shell, charts, move) for rim in (*edges.countersinks, *edges.tubes)]
    opening_differences = tuple(
        (n, d) for n, d in flat.opening_differences if not any(_within(d, box) for box in boxes)
    )
    if edges.countersinks or both:
        count = len(edges.countersinks) + len(both)
        many = f"{count} openings are" if count > 1 else "an opening is"
        sizes = _sizes(edges.countersinks, shell)
        text = f"{many} countersunk or stepped, drawn as the through hole at its smallest{sizes}"
        findings.append(Finding("FG126", "note", "the solid", text, "sink it after cutting"))
    depth, face = max(edges.hollows, default=(0.0, 0))
    if depth > flat.thickness:
        where = describe(shell, face)
        text = f"what is sunk {depth:.1f} mm into the cut edge at {where} is left out of the flat"
        findings.append(Finding("FG122", "note", "the solid", text, "drill or mill it after cutting"))
    outline = flat.outline_difference
    broken = [b for b in edges.broken if b not in both]
    if broken:
        width = max(s.width for b in broken for s in b.strips)
        where = describe(shell, broken[0].strips[0].face)
        text = f"cut edges are bevelled or rounded by up to {width:.2f} mm ({where}); drawn at the widest"
        findings.append(Finding("FG127", "note", "the solid", text, "break the edges after cutting"))
        outline = None if outline is not None and outline.largest < 1.5 * width + 1e-3 else outline
    return tuple(findings), replace(flat, outline_difference=outline, opening_differences=opening_differences)


def _sizes(rims: Sequence[tuple[int, ...]], shell: Shell) -> str:
    """Diameters of round rims, smallest and largest."""
    kinds: dict[tuple[float, float], int] = {}
    for rim in rims:
        radii = [c.radius for h in rim if isinstance(c := shell.curve(h), CircularCurve)]
        if radii:
            kind = (round(2 * min(radii), 2), round(2 * max(radii), 2))
            kinds[kind] = kinds.get(kind, 0) + 1
    text = ", ".join(f"{n} x diameter {a:g} to {b:g} mm" for (a, b), n in kinds.items())
    return f": {text}" if text else ""


def _rim_box(
    rim: tuple[int, ...], shell: Shell, charts: Mapping[int, Chart], move: Matrix
) -> tuple[float, float, float, float]:
    """Extents, in the flat, of the rim of a countersink."""
    points = []
    for half in rim:
        chart = charts[shell.half_edges[half].face]
        points.append(chart.place(points_at(shell.curve(half), np.linspace(0.0, 1.0, 17))))
    moved = np.vstack(points) @ move[:2, :2].T + move[:2, 2]
    (x0, y0), (x1, y1) = moved.min(axis=0), moved.max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))


def _within(differing: FaceDifference, box: tuple[float, float, float, float]) -> bool:
    (x, y), (x0, y0, x1, y1) = differing.at, box
    return x0 - 1e-3 <= x <= x1 + 1e-3 and y0 - 1e-3 <= y <= y1 + 1e-3
