"""What the cut edges of a received sheet hide: metal that neither side shows, grooves that part it, hollows.

simple      a wall that reaches from skin to skin in one piece: its corners are those of the skins
odd         any other wall; its corners and the middles of its edges are carried into the flat, where they must lie
            within the thickness and on the drawn metal
silhouette  what is seen of a cut edge from one side, all of it: drawn with that skin where an odd wall reaches
            beyond what both skins show (counterbored from both faces, stepped edges)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Loop
from flatgen.unfolding.boundaries import Boundary
from flatgen.unfolding.develop import Chart, PanelChart, Trail, trail, trail_area
from flatgen.unfolding.faces import ring_of
from flatgen.unfolding.sheet import Cylinder, Other, Plane, Shell, Vector, edges_of, spots
from flatgen.unfolding.skins import Skins, describe
from flatgen.unfolding.wall_groups import Group, is_outer, is_tube

BEYOND = 0.02
"""Metal that lies farther than this outside of the drawn edge, or of the thickness, is not drawn right [mm]."""
BULGING = 0.1
"""A round wall whose axis lies flatter to the sheet than this may bulge between its edges."""
LEVEL = 1e-3
"""Heights that differ by less are one, when steps are looked for [mm]."""
Charts = tuple[Mapping[int, Chart], Mapping[int, Chart]]


@dataclass(frozen=True)
class OddWall:
    """An odd wall and the charts of the skin faces that it hangs on, by way of other walls if need be."""

    face: int
    group: Group
    charts: tuple[Chart, ...]


@dataclass(frozen=True)
class Judged:
    """Groups whose metal reaches beyond the drawn edge (with the worst wall and how far); how deep walls are hollow."""

    outside: tuple[tuple[Group, int, float], ...]
    hollow: tuple[tuple[float, int], ...]


def odd_walls(shell: Shell, skins: Skins, charts: Charts, groups: Iterable[Group]) -> list[OddWall]:
    """The odd walls of all groups that reach from skin to skin."""
    found = []
    for group in groups:
        if len(group.sides) < 2:
            continue
        odd = [f for f in sorted(group.faces) if not _simple(shell, skins, f)]
        if odd:
            homes = _homes(shell, charts, group)
            found += [OddWall(f, group, homes[f]) for f in odd]
    return found


def _simple(shell: Shell, skins: Skins, face: int) -> bool:
    surface = shell.faces[face].surface
    if len(shell.faces[face].wires) != 1 or isinstance(surface, Other):
        return False
    twins = shell.twins
    met = {shell.half_edges[twins[h]].face for h in edges_of(shell.faces[face]) if h in twins}
    if met.isdisjoint(skins.sides[0]) or met.isdisjoint(skins.sides[1]):
        return False
    if isinstance(surface, Plane):
        return True
    skin = next(f for f in sorted(met) if f in skins.sides[0] or f in skins.sides[1])
    return abs(float(surface.axis @ shell.normal_at(skin, shell.corner(face)))) > BULGING


def _homes(shell: Shell, charts: Charts, group: Group) -> dict[int, tuple[Chart, ...]]:
    """For every wall of a group the charts of the skin faces that it meets, or that the walls beside it do."""
    homes: dict[int, dict[int, Chart]] = {f: {} for f in group.faces}
    for half in (h for meets in group.meets for h in meets):
        face = shell.half_edges[half].face
        chart = charts[0].get(face) or charts[1][face]
        homes[shell.half_edges[shell.twins[half]].face][id(chart)] = chart
    beside = {
        f: {
            o
            for h in edges_of(shell.faces[f])
            if h in shell.twins and (o := shell.half_edges[shell.twins[h]].face) in homes
        }
        for f in group.faces
    }
    own = homes
    bare = [f for f in group.faces if not homes[f]]
    while bare:
        found = {f: {k: c for other in sorted(beside[f]) for k, c in homes[other].items()} for f in bare}
        homes = homes | {f: some for f, some in found.items() if some}
        left = [f for f in bare if not homes[f]]
        if len(left) == len(bare):
            break
        bare = left
    around = {  # a wall that runs on beside others lies before their legs too
        f: some | {k: c for other in sorted(beside[f]) for k, c in own[other].items()} for f, some in homes.items()
    }
    return {f: tuple(some.values()) for f, some in around.items()}


def judged(
    shell: Shell, walls: Sequence[OddWall], loops: Sequence[Loop], faces: Sequence[Sequence[Sequence[Trail]]], t: float
) -> Judged:
    """Where the odd walls lie in the flat.

    :param loops: what is drawn, in the plane of the layout, outline first.
    :param t: thickness [mm]
    :raises InputRefused: FG040, FG041 where a wall steps or stands out of the thickness.
    """
    import shapely

    looked_at = [(w, p := _witnesses(shell, w.face), [c.place(p) for c in w.charts]) for w in walls]
    boxes = _boxes([flat for _, _, flats in looked_at for flat in flats], t + 1.0)
    drawn = [np.array(lp.points(1e-3)) for n, lp in enumerate(loops) if n == 0 or _meets(lp.box(), boxes)]
    sheet = shapely.Polygon(drawn[0], drawn[1:])
    edge = Boundary(drawn)
    sides = [Boundary([ring_of(c) for c in chains if _meets(_box_of(c), boxes)]) for chains in faces]
    shapely.prepare(sheet)
    room = BEYOND + shell.slack.length
    outside: dict[int, tuple[Group, int, float]] = {}
    hollow = []
    every = np.vstack([flat for _, _, flats in looked_at for flat in flats])
    held = shapely.contains_xy(sheet, every[:, 0], every[:, 1])
    outs = np.where(held, 0.0, edge.distance(every))
    depths = np.where(held, np.minimum(*(s.distance(every) for s in sides)), 0.0)
    done = 0
    for wall, points, _ in looked_at:
        tube = is_tube(shell, wall.group)
        _require_level(shell, wall, t)
        rows = []
        for chart in wall.charts:
            high = _heights(chart, points, t)
            here = slice(done, done + len(points))
            done += len(points)
            over, apart, deep = np.maximum(-high, high - t), outs[here], depths[here]
            if tube:  # what stands out of the sheet is not the sheet's
                apart, deep, over = (np.where(over > -LEVEL, 0.0, v) for v in (apart, deep, 0.0 * over))
            rows.append((over, apart, deep))
        off, beyond, deep = (np.array(some) for some in zip(*rows, strict=True))
        best = np.argmin(np.maximum(off, beyond), axis=0)
        off, beyond, deep = (some[best, np.arange(len(points))] for some in (off, beyond, deep))
        if off.max() > room:
            raise _out_of_thickness(shell, wall, float(off.max()))
        if beyond.max() > room:
            known = outside.get(id(wall.group))
            if known is None or float(beyond.max()) > known[2]:
                outside[id(wall.group)] = (wall.group, wall.face, float(beyond.max()))
        elif not tube and float(deep.max()) > room and isinstance(shell.faces[wall.face].surface, Plane | Cylinder):
            hollow.append((float(deep.max()), wall.face))
    return Judged(tuple(outside.values()), tuple(hollow))


def _boxes(clouds: Sequence[Vector], room: float) -> Vector:
    """Extents (n, 4) of clouds of points, and some room [mm]."""
    return np.array([(*(c.min(axis=0) - room), *(c.max(axis=0) + room)) for c in clouds])


def _meets(box: tuple[float, float, float, float], boxes: Vector) -> bool:
    x0, y0, x1, y1 = box
    return bool(np.any((boxes[:, 0] <= x1) & (boxes[:, 2] >= x0) & (boxes[:, 1] <= y1) & (boxes[:, 3] >= y0)))


def _box_of(chain: Sequence[Trail]) -> tuple[float, float, float, float]:
    """Extents of a chain, curves by their middles and some room [mm]."""
    points = np.array([t.at(s) for t in chain for s in (0.0, 0.25, 0.5, 0.75)])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    room = 0.2 * max(x1 - x0, y1 - y0)
    return (float(x0 - room), float(y0 - room), float(x1 + room), float(y1 + room))


def _witnesses(shell: Shell, face: int) -> Vector:
    """Points on the edges of a wall and, where it is curved, inside of them."""
    shares = np.array((0.0, 0.25, 0.5, 0.75))
    rim = np.concatenate([spots(shell.half_edges[h].curve, shares) for h in edges_of(shell.faces[face])])
    surface = shell.faces[face].surface
    if isinstance(surface, Plane) or (isinstance(surface, Other) and (surface.foot is None or surface.kind == "cone")):
        return rim  # nothing of it lies beyond its edges
    middle = rim.mean(axis=0)
    inner = np.vstack(((rim[[0, len(rim) // 2]] + middle) / 2, middle))
    if isinstance(surface, Cylinder):
        arms = inner - surface.origin
        along = np.outer(arms @ surface.axis, surface.axis)
        reach = np.linalg.norm(arms - along, axis=1)[:, None]
        inner = surface.origin + along + (arms - along) * surface.radius / np.maximum(reach, 1e-9)
    else:
        assert surface.foot is not None
        inner = np.array([p for p in map(surface.foot, inner) if p is not None]).reshape(-1, 3)
    return np.vstack((rim, inner))


def _heights(chart: Chart, points: Vector, t: float) -> Vector:
    """How high points lie above the far face [mm]."""
    if isinstance(chart, PanelChart):
        found: Vector = points @ chart.inverse[2, :3] + chart.inverse[2, 3]
        return found
    joint = chart.step.joint  # type: ignore[attr-defined]
    arms = points - joint.origin
    reach = np.linalg.norm(arms - np.outer(arms @ joint.axis, joint.axis), axis=1) - joint.inside_radius
    found = t - reach if joint.up else reach
    return found


def _require_level(shell: Shell, wall: OddWall, t: float) -> None:
    """No flats between the sides of the sheet: a second thickness."""
    surface = shell.faces[wall.face].surface
    if not isinstance(surface, Plane) or not any(is_outer(shell, h) for m in wall.group.meets for h in m):
        return
    for chart in wall.charts:
        if not isinstance(chart, PanelChart) or abs(float(chart.inverse[2, :3] @ surface.normal)) < 1 - 1e-6:
            continue
        ring = shell.ring(shell.faces[wall.face].wires[shell.outer_wires[wall.face]])
        width = 2 * float(shell.rough_areas[wall.face]) / float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())
        height = float(_heights(chart, ring[:1], t)[0])
        where = describe(shell, wall.face)
        if width > t and LEVEL < height < t - LEVEL:
            left = max(height, t - height)
            text = f"the sheet is {t:.3f} mm thick elsewhere, and steps here to {left:.3f} mm, {width:.1f} mm wide"
            remedy = "a sheet has one thickness: leave steps and second layers out of the part"
            raise InputRefused(Fault("FG040", where, text, remedy))


def _out_of_thickness(shell: Shell, wall: OddWall, by: float) -> InputRefused:
    text = f"metal hangs on a cut edge here and stands {by:.3f} mm out of the sheet's thickness"
    remedy = "leave what is joined to the cut edge out of the part"
    return InputRefused(Fault("FG041", describe(shell, wall.face), text, remedy))


def refused_outside(shell: Shell, found: Judged) -> InputRefused:
    """What cannot be drawn: metal beyond what either side shows."""
    _, face, by = max(found.outside, key=lambda row: row[2])
    text = f"metal reaches {by:.3f} mm beyond what the two sides of the sheet show here"
    return InputRefused(
        Fault("FG041", describe(shell, face), text, "leave what is joined to the cut edge out of the part")
    )


def silhouette(
    shell: Shell, charts: Charts, groups: Iterable[Group], t: float
) -> tuple[dict[int, Chart], dict[int, Chart]]:
    """For both sides the walls of some groups that are seen from there, or edge-on, with the charts to draw them by."""
    found: tuple[dict[int, Chart], dict[int, Chart]] = ({}, {})
    for group in groups:
        for side in (0, 1):
            found[side].update(_seen(shell, charts[side], group, side, t))
    return found


def _touches_both(shell: Shell, group: Group, face: int) -> bool:
    """Whether a wall of a group reaches from skin to skin, so that it shows what they do."""
    met = [{shell.half_edges[shell.twins[h]].face for h in meets} for meets in group.meets]
    return face in met[0] and face in met[1]


def _seen(shell: Shell, charts: Mapping[int, Chart], group: Group, side: int, t: float) -> dict[int, Chart]:
    """The walls of a group that are seen from one side, or edge-on, reached from its skin."""
    twins = shell.twins
    seen: dict[int, Chart] = {}
    meets = (h for some in group.meets for h in some if shell.half_edges[h].face in charts)
    todo = [(shell.half_edges[twins[h]].face, charts[shell.half_edges[h].face]) for h in meets]
    while todo:
        face, chart = todo.pop(0)
        if face in seen or face not in group.faces or _touches_both(shell, group, face):
            continue
        halves = list(edges_of(shell.faces[face]))
        high = _heights(chart, _witnesses(shell, face), t)
        if max(-high.min(), high.max() - t) > BEYOND + shell.slack.length:
            continue  # stands out of the sheet: a tube about the opening
        view = math.fsum(trail_area(trail(chart, shell.half_edges[h].curve)) for h in halves)
        if (view if side == 0 else -view) < -1e-6 * t * t:
            continue
        seen[face] = chart
        todo += [(shell.half_edges[twins[h]].face, chart) for h in halves if h in twins]
    return seen
