"""Wall groups: what hangs on the two skins of a sheet, and whether it rises from them or goes down.

wall group    faces that are no skin and hang together
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import Differing, FlatPattern, Matrix
from flatgen.unfolding.develop import Chart, trail, trail_area
from flatgen.unfolding.sheet import Circular, Cylinder, Other, Plane, Shell, cross, edges_of, heading, is_smooth, spots
from flatgen.unfolding.skins import Skins, describe


@dataclass(frozen=True)
class Group:
    """A wall group: its faces, and the skin's half-edges that it meets, for either side."""

    faces: frozenset[int]
    meets: tuple[tuple[int, ...], tuple[int, ...]]

    @property
    def sides(self) -> tuple[int, ...]:
        return tuple(n for n in (0, 1) if self.meets[n])


def wall_groups(shell: Shell, skins: Skins) -> list[Group]:
    """All wall groups."""
    twins = shell.twins
    near, far = skins.sides
    seen = set(near | far)
    groups = []
    for start in range(len(shell.faces)):
        if start in seen:
            continue
        faces, todo = {start}, [start]
        meets: tuple[list[int], list[int]] = ([], [])
        while todo:
            face = todo.pop()
            for half in (h for h in edges_of(shell.faces[face]) if h in twins):
                other = shell.half_edges[twins[half]].face
                if other in near or other in far:
                    meets[0 if other in near else 1].append(twins[half])
                elif other not in faces:
                    faces.add(other)
                    todo.append(other)
        seen |= faces
        groups.append(Group(frozenset(faces), (tuple(meets[0]), tuple(meets[1]))))
    return groups


def is_outer(shell: Shell, half: int) -> bool:
    """Whether a half-edge is on the outer wire of its face."""
    return half in shell.outer_halves


def rises(shell: Shell, half: int) -> bool:
    """Whether the wall at a skin's half-edge rises out of the sheet, instead of going down into the metal."""
    if half not in shell.rising:
        shell.rising[half] = _rises(shell, half)
    return shell.rising[half]


def _rises(shell: Shell, half: int) -> bool:
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    surface = shell.faces[there.face].surface
    if isinstance(surface, Other) and surface.kind.startswith("bspline"):  # a cut edge, mostly; its normal takes long
        return _curls_up(shell, half)
    middle = here.curve.at(0.5)
    into = cross(shell.normal_at(there.face, middle), heading(there.curve))
    size = math.sqrt(float(into @ into))
    lift = float(into @ shell.normal_at(here.face, middle)) / size if size else 0.0
    return lift > 0 if abs(lift) > 1e-3 else _curls_up(shell, half)


def _curls_up(shell: Shell, half: int) -> bool:
    """Of a wall that goes on smoothly, or is neither flat nor round: whether its own corners lie above the skin."""
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    points = np.vstack([shell.ring(w) for w in shell.faces[there.face].wires])
    surface = shell.faces[here.face].surface
    if isinstance(surface, Cylinder):
        arms = points - surface.origin
        arms = arms - np.outer(arms @ surface.axis, surface.axis)
        heights = (np.linalg.norm(arms, axis=1) - surface.radius) * (1.0 if surface.convex else -1.0)
    else:
        middle = here.curve.at(0.5)
        heights = (points - middle) @ shell.normal_at(here.face, middle)
    return float(np.mean(heights)) > 0


def is_tube(shell: Shell, group: Group) -> bool:
    """Whether a group stands on the sheet about an opening, all round."""
    return any(in_tube(shell, h) for meets in group.meets for h in meets if rises(shell, h))


def in_tube(shell: Shell, half: int) -> bool:
    wire = next(w for w in shell.faces[shell.half_edges[half].face].wires if half in w)
    return not is_outer(shell, half) and all(h in shell.twins and rises(shell, h) for h in wire)


SEEN = 1e-3
"""A face of a cut edge is seen from a side if its view has more than this share of thickness times length."""


@dataclass(frozen=True)
class Strip:
    """A strip on a side (0 near, 1 far): its face, the half-edges of the skin along it, and its width [mm]."""

    face: int
    side: int
    along: tuple[int, ...]
    width: float


@dataclass(frozen=True)
class Broken:
    """The strips of a cut edge; ``inner``: it is the edge of an opening."""

    strips: tuple[Strip, ...]
    inner: bool

    @property
    def both(self) -> bool:
        return len({s.side for s in self.strips}) == 2


@dataclass(frozen=True)
class Edges:
    """All cut edges with strips, and the rims (half-edges) of openings that are countersunk or
    stepped, and of those that tubes stand about.

    ``seen`` are walls drawn with either skin as a silhouette; ``hollow`` walls lie deep inside the metal.
    """

    broken: tuple[Broken, ...] = ()
    sunk: tuple[tuple[int, ...], ...] = ()
    tubes: tuple[tuple[int, ...], ...] = ()
    seen: tuple[dict[int, Chart], dict[int, Chart]] = field(default_factory=lambda: ({}, {}))
    hollow: tuple[tuple[float, int], ...] = ()

    @property
    def square(self) -> bool:
        """Whether no cut edge has strips on both sides, a silhouette of its own, or a hollow."""
        return not (any(b.both for b in self.broken) or any(self.seen) or self.hollow)

    def charts(self, side: int, charts: Mapping[int, Chart], shell: Shell) -> dict[int, Chart]:
        """Charts of the strips to be drawn with a skin."""
        some = (s for b in self.broken if b.both for s in b.strips if s.side == side)
        return {s.face: charts[shell.half_edges[s.along[0]].face] for s in some} | self.seen[side]


def broken_edges(
    shell: Shell, skins: Skins, near: Mapping[int, Chart], far: Mapping[int, Chart], groups: Sequence[Group]
) -> Edges:
    """Cut edges with strips.

    :raises InputRefused: FG041 where an edge is rounded over its whole thickness: it is widest where no edge lies.
    """
    found, sunk, tubes = [], [], []
    for group in groups:
        if len(group.sides) < 2:
            continue
        if is_tube(shell, group):
            tubes.append((*group.meets[0], *group.meets[1]))
            continue
        if _is_sunk(shell, group):
            sunk.append((*group.meets[0], *group.meets[1]))
            continue
        strips = [s for f in sorted(group.faces) for s in _strips(shell, f, (near, far), skins.thickness)]
        if strips:
            meets = {h for side in group.meets for h in side}
            outer = any(is_outer(shell, h) for h in meets)
            found.append(Broken(tuple(strips), not outer))
    return Edges(tuple(found), tuple(sunk), tuple(tubes))


def _is_sunk(shell: Shell, group: Group) -> bool:
    """Whether the walls of an opening are round about one line and differ in width: a countersink, a counterbore."""
    if any(is_outer(shell, h) for side in group.meets for h in side) or len(group.faces) < 2:
        return _one_cone(shell, group)
    if any(rises(shell, side[0]) for side in group.meets):
        return False  # a hollow standoff
    normal = shell.normal_at(
        shell.half_edges[group.meets[0][0]].face, shell.half_edges[group.meets[0][0]].curve.at(0.5)
    )
    stepped = False
    for face in group.faces:
        surface = shell.faces[face].surface
        if (isinstance(surface, Other) and surface.kind == "cone") or (
            isinstance(surface, Plane) and abs(float(surface.normal @ normal)) > 1 - 1e-6
        ):
            stepped = True
        elif not (isinstance(surface, Cylinder) and abs(float(surface.axis @ normal)) > 1 - 1e-6):
            return False
    widths = [_least_radius(shell, side) for side in group.meets]
    inmost = min(_least_radius(shell, tuple(edges_of(shell.faces[f]))) for f in group.faces)
    return stepped and abs(widths[0] - widths[1]) > 1e-3 and inmost > min(widths) - 1e-3


def _one_cone(shell: Shell, group: Group) -> bool:
    inner = not any(is_outer(shell, h) for side in group.meets for h in side)
    kinds = [s.kind if isinstance(s := shell.faces[f].surface, Other) else "" for f in group.faces]
    return inner and all(k == "cone" for k in kinds)


def _least_radius(shell: Shell, halves: Sequence[int]) -> float:
    """Radius of the smallest circle among some edges [mm]."""
    curves = (shell.half_edges[h].curve for h in halves)
    return min((c.radius for c in curves if isinstance(c, Circular)), default=math.inf)


def _strips(
    shell: Shell, face: int, charts: tuple[Mapping[int, Chart], Mapping[int, Chart]], t: float
) -> Iterator[Strip]:
    twins = shell.twins
    halves = [h for h in edges_of(shell.faces[face]) if h in twins]
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
        view = math.fsum(trail_area(trail(chart, shell.half_edges[h].curve)) for h in edges_of(shell.faces[face]))
        length = math.fsum(_length(shell, h) for h in along[side])
        seen = view if side == 0 else -view
        if SEEN * t * length < seen < 1.5 * shell.rough_areas[face]:
            yield Strip(face, side, tuple(along[side]), abs(view) / length)


def _length(shell: Shell, half: int) -> float:
    points = spots(shell.half_edges[half].curve, np.linspace(0.0, 1.0, 9))
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _require_not_round(shell: Shell, face: int, along: Sequence[Sequence[int]]) -> None:
    surface = shell.faces[face].surface
    if isinstance(surface, Plane) or (isinstance(surface, Other) and surface.outward is None):
        return
    if all(any(is_smooth(shell, h, face) for h in side) for side in along):
        raise InputRefused(
            Fault(
                "FG041",
                describe(shell, face),
                "this edge is rounded over the whole thickness: the sheet is widest where the model has no edge",
                "model it with a square edge, and round it after cutting",
            )
        )


def told_of(
    edges: Edges, flat: FlatPattern, shell: Shell, charts: Mapping[int, Chart], move: Matrix
) -> tuple[tuple[Finding, ...], FlatPattern]:
    """Findings on countersinks and broken edges; and the flat without telling the same again as differing faces."""
    found = []
    kept = flat.openings_differ
    both = [b for b in edges.broken if b.inner and b.both]
    boxes = [_box(rim, shell, charts, move) for rim in (*edges.sunk, *edges.tubes)]
    kept = tuple((n, d) for n, d in kept if not any(_within(d, box) for box in boxes))
    if edges.sunk or both:
        count = len(edges.sunk) + len(both)
        many = f"{count} openings are" if count > 1 else "an opening is"
        sizes = _sizes(edges.sunk, shell)
        text = f"{many} countersunk or stepped, drawn as the through hole at its smallest{sizes}"
        found.append(Finding("FG126", "note", "the solid", text, "sink it after cutting"))
    depth, face = max(edges.hollow, default=(0.0, 0))
    if depth > flat.thickness:
        where = describe(shell, face)
        text = f"what is sunk {depth:.1f} mm into the cut edge at {where} is left out of the flat"
        found.append(Finding("FG122", "note", "the solid", text, "drill or mill it after cutting"))
    outline = flat.outline_differs
    broken = [b for b in edges.broken if b not in both]
    if broken:
        width = max(s.width for b in broken for s in b.strips)
        where = describe(shell, broken[0].strips[0].face)
        text = f"cut edges are bevelled or rounded by up to {width:.2f} mm ({where}); drawn at the widest"
        found.append(Finding("FG127", "note", "the solid", text, "break the edges after cutting"))
        outline = None if outline is not None and outline.largest < 1.5 * width + 1e-3 else outline
    return tuple(found), replace(flat, outline_differs=outline, openings_differ=kept)


def _sizes(rims: Sequence[tuple[int, ...]], shell: Shell) -> str:
    """Diameters of round rims, smallest and largest."""
    kinds: dict[tuple[float, float], int] = {}
    for rim in rims:
        radii = [c.radius for h in rim if isinstance(c := shell.half_edges[h].curve, Circular)]
        if radii:
            kind = (round(2 * min(radii), 2), round(2 * max(radii), 2))
            kinds[kind] = kinds.get(kind, 0) + 1
    told = ", ".join(f"{n} x diameter {a:g} to {b:g} mm" for (a, b), n in kinds.items())
    return f": {told}" if told else ""


def _box(
    rim: tuple[int, ...], shell: Shell, charts: Mapping[int, Chart], move: Matrix
) -> tuple[float, float, float, float]:
    """Extents, in the flat, of the rim of a countersink."""
    points = []
    for half in rim:
        chart = charts[shell.half_edges[half].face]
        points.append(chart.place(spots(shell.half_edges[half].curve, np.linspace(0.0, 1.0, 17))))
    moved = np.vstack(points) @ move[:2, :2].T + move[:2, 2]
    (x0, y0), (x1, y1) = moved.min(axis=0), moved.max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))


def _within(differing: Differing, box: tuple[float, float, float, float]) -> bool:
    (x, y), (x0, y0, x1, y1) = differing.at, box
    return x0 - 1e-3 <= x <= x1 + 1e-3 and y0 - 1e-3 <= y <= y1 + 1e-3
