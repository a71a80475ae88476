"""What the cut edges of a received sheet hide: metal that neither side shows, grooves that part it, hollows.

odd wall    one that does not reach from skin to skin in one piece: its own points must lie, carried into the flat,
            within the thickness and on the drawn metal
silhouette  all that is seen of a cut edge from one side, drawn with that skin where an odd wall reaches beyond both
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Loop
from flatgen.unfolding.boundaries import Boundary
from flatgen.unfolding.develop import Chains, Chart, Charts, PanelChart, Trail, chain_area, trail
from flatgen.unfolding.faces import ring_of
from flatgen.unfolding.sheet import Cylinder, OtherSurface, Plane, Shell, Vector, points_at
from flatgen.unfolding.skins import Skins, describe
from flatgen.unfolding.wall_groups import WallGroup, is_outer, is_tube

BEYOND = 0.02
"""Metal that lies farther than this outside of the drawn edge, or of the thickness, is not drawn right [mm]."""
BULGING = 0.1  # a round wall whose axis lies flatter to the sheet than this may bulge between its edges
LEVEL = 1e-3
"""Heights that differ by less are one, when steps are looked for [mm]."""

_REMEDY = "leave what is joined to the cut edge out of the part"


@dataclass(frozen=True)
class OddWall:
    """An odd wall and the charts of the skin faces that it hangs on, by way of other walls if need be."""

    face: int
    group: WallGroup
    charts: tuple[Chart, ...]


@dataclass(frozen=True)
class WallReport:
    """Groups whose metal reaches beyond the drawn edge (with the worst wall and how far); how deep walls are hollow."""

    outside: tuple[tuple[WallGroup, int, float], ...]
    hollows: tuple[tuple[float, int], ...]


def odd_walls(shell: Shell, skins: Skins, charts: Charts, groups: Iterable[WallGroup]) -> list[OddWall]:
    """The odd walls of all groups that reach from skin to skin."""
    walls = []
    for group in groups:
        if len(group.sides) < 2:
            continue
        odd = [f for f in sorted(group.faces) if not _simple(shell, skins, f)]
        if odd:
            homes = _charts_of_walls(shell, charts, group)
            walls += [OddWall(f, group, homes[f]) for f in odd]
    return walls


def _simple(shell: Shell, skins: Skins, face: int) -> bool:
    surface = shell.surface(face)
    if len(shell.faces[face].wires) != 1 or isinstance(surface, OtherSurface):
        return False
    neighbours = {other for _, other in shell.neighbours(face)}
    if neighbours.isdisjoint(skins.sides[0]) or neighbours.isdisjoint(skins.sides[1]):
        return False
    if isinstance(surface, Plane):
        return True
    skin = next(f for f in sorted(neighbours) if f in skins.sides[0] or f in skins.sides[1])
    return abs(float(surface.axis @ shell.normal_at(skin, shell.corner(face)))) > BULGING


def _charts_of_walls(shell: Shell, charts: Charts, group: WallGroup) -> dict[int, tuple[Chart, ...]]:
    """For every wall of a group the charts of the skin faces that it meets, or that the walls beside it do."""
    homes: dict[int, dict[int, Chart]] = {f: {} for f in group.faces}
    for half in group.rim:
        face = shell.half_edges[half].face
        chart = charts[0].get(face) or charts[1][face]
        homes[shell.beyond(half)][id(chart)] = chart
    beside = {f: {other for _, other in shell.neighbours(f) if other in homes} for f in group.faces}
    own = homes
    bare = [f for f in group.faces if not homes[f]]
    while bare:
        reached = {f: {k: c for other in sorted(beside[f]) for k, c in homes[other].items()} for f in bare}
        homes = homes | {f: some for f, some in reached.items() if some}
        still_bare = [f for f in bare if not homes[f]]
        if len(still_bare) == len(bare):
            break
        bare = still_bare
    around = {  # a wall that runs on beside others lies before their legs too
        f: some | {k: c for other in sorted(beside[f]) for k, c in own[other].items()} for f, some in homes.items()
    }
    return {f: tuple(some.values()) for f, some in around.items()}


def check_walls(
    shell: Shell, walls: Sequence[OddWall], loops: Sequence[Loop], faces: Sequence[Chains], t: float
) -> WallReport:
    """Where the odd walls lie in the flat.

    :param loops: what is drawn, in the plane of the layout, outline first
    :param t: thickness [mm]
    :raises InputRefused: FG040, FG041 where a wall steps or stands out of the thickness.
    """
    import shapely

    probes = [(w, p := _probe_points(shell, w.face), [c.place(p) for c in w.charts]) for w in walls]
    boxes = _boxes([flat for _, _, flats in probes for flat in flats], t + 1.0)
    rings = [np.array(lp.points(1e-3)) for n, lp in enumerate(loops) if n == 0 or _overlaps(lp.box(), boxes)]
    sheet = shapely.Polygon(rings[0], rings[1:])
    edge = Boundary(rings)
    sides = [Boundary([ring_of(c) for c in chains if _overlaps(_chain_box(c), boxes)]) for chains in faces]
    shapely.prepare(sheet)
    room = BEYOND + shell.slack.length
    outside: dict[int, tuple[WallGroup, int, float]] = {}
    hollow = []
    every = np.vstack([flat for _, _, flats in probes for flat in flats])
    on_sheet = shapely.contains_xy(sheet, every[:, 0], every[:, 1])
    outs = np.where(on_sheet, 0.0, edge.distance(every))
    depths = np.where(on_sheet, np.minimum(*(s.distance(every) for s in sides)), 0.0)
    done = 0
    for wall, points, _ in probes:
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
            raise _thickness_error(shell, wall, float(off.max()))
        if beyond.max() > room:
            worst = outside.get(id(wall.group))
            if worst is None or float(beyond.max()) > worst[2]:
                outside[id(wall.group)] = (wall.group, wall.face, float(beyond.max()))
        elif not tube and float(deep.max()) > room and isinstance(shell.surface(wall.face), Plane | Cylinder):
            hollow.append((float(deep.max()), wall.face))
    return WallReport(tuple(outside.values()), tuple(hollow))


def _boxes(clouds: Sequence[Vector], room: float) -> Vector:
    return np.array([(*(c.min(axis=0) - room), *(c.max(axis=0) + room)) for c in clouds])


def _overlaps(box: tuple[float, float, float, float], boxes: Vector) -> bool:
    x0, y0, x1, y1 = box
    return bool(np.any((boxes[:, 0] <= x1) & (boxes[:, 2] >= x0) & (boxes[:, 1] <= y1) & (boxes[:, 3] >= y0)))


def _chain_box(chain: Sequence[Trail]) -> tuple[float, float, float, float]:
    """Extents of a chain, curves by their middles and some room [mm]."""
    points = np.array([t.at(s) for t in chain for s in (0.0, 0.25, 0.5, 0.75)])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    room = 0.2 * max(x1 - x0, y1 - y0)
    return (float(x0 - room), float(y0 - room), float(x1 + room), float(y1 + room))


def _probe_points(shell: Shell, face: int) -> Vector:
    """Points on the edges of a wall and, where it is curved, inside of them."""
    shares = np.array((0.0, 0.25, 0.5, 0.75))
    rim = np.concatenate([points_at(curve, shares) for curve in shell.curves(face)])
    surface = shell.surface(face)
    if isinstance(surface, Plane) or (
        isinstance(surface, OtherSurface) and (surface.nearest_point is None or surface.kind == "cone")
    ):
        return rim  # nothing of it lies beyond its edges
    middle = rim.mean(axis=0)
    inner = np.vstack(((rim[[0, len(rim) // 2]] + middle) / 2, middle))
    if isinstance(surface, Cylinder):
        arms = inner - surface.origin
        along = np.outer(arms @ surface.axis, surface.axis)
        reach = np.linalg.norm(arms - along, axis=1)[:, None]
        inner = surface.origin + along + (arms - along) * surface.radius / np.maximum(reach, 1e-9)
    else:
        assert surface.nearest_point is not None
        inner = np.array([p for p in map(surface.nearest_point, inner) if p is not None]).reshape(-1, 3)
    return np.vstack((rim, inner))


def _heights(chart: Chart, points: Vector, t: float) -> Vector:
    """How high points lie above the far face [mm]."""
    if isinstance(chart, PanelChart):
        heights: Vector = points @ chart.inverse[2, :3] + chart.inverse[2, 3]
        return heights
    joint = chart.step.joint  # type: ignore[attr-defined]
    arms = points - joint.origin
    reach = np.linalg.norm(arms - np.outer(arms @ joint.axis, joint.axis), axis=1) - joint.inside_radius
    heights = t - reach if joint.up else reach
    return heights


def _require_level(shell: Shell, wall: OddWall, t: float) -> None:
    surface = shell.surface(wall.face)
    if not isinstance(surface, Plane) or not any(is_outer(shell, h) for h in wall.group.rim):
        return
    for chart in wall.charts:
        if not isinstance(chart, PanelChart) or abs(float(chart.inverse[2, :3] @ surface.normal)) < 1 - 1e-6:
            continue
        ring = shell.ring(shell.faces[wall.face].wires[shell.outer_wires[wall.face]])
        width = 2 * float(shell.rough_areas[wall.face]) / float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())
        height = float(_heights(chart, ring[:1], t)[0])
        where = describe(shell, wall.face)
        if width > t and LEVEL < height < t - LEVEL:
            thickness = max(height, t - height)
            text = f"the sheet is {t:.3f} mm thick elsewhere, and steps here to {thickness:.3f} mm, {width:.1f} mm wide"
            remedy = "a sheet has one thickness: leave steps and second layers out of the part"
            raise InputRefused(Fault("FG040", where, text, remedy))


def _thickness_error(shell: Shell, wall: OddWall, by: float) -> InputRefused:
    text = f"metal hangs on a cut edge here and stands {by:.3f} mm out of the sheet's thickness"
    return InputRefused(Fault("FG041", describe(shell, wall.face), text, _REMEDY))


def outside_error(shell: Shell, report: WallReport) -> InputRefused:
    """FG041: metal beyond what either side shows."""
    _, face, by = max(report.outside, key=lambda row: row[2])
    text = f"metal reaches {by:.3f} mm beyond what the two sides of the sheet show here"
    return InputRefused(Fault("FG041", describe(shell, face), text, _REMEDY))


def silhouette(
    shell: Shell, charts: Charts, groups: Iterable[WallGroup], t: float
) -> tuple[dict[int, Chart], dict[int, Chart]]:
    """For both sides the walls of some groups that are seen from there, or edge-on, with the charts to draw them by."""
    visible: tuple[dict[int, Chart], dict[int, Chart]] = ({}, {})
    for group in groups:
        for side in (0, 1):
            visible[side].update(_visible_walls(shell, charts[side], group, side, t))
    return visible


def _touches_both(shell: Shell, group: WallGroup, face: int) -> bool:
    """Whether a wall of a group reaches from skin to skin, so that it shows what they do."""
    faces_met = [{shell.beyond(h) for h in rim} for rim in group.rims]
    return face in faces_met[0] and face in faces_met[1]


def _visible_walls(
    shell: Shell, charts: Mapping[int, Chart], group: WallGroup, side: int, t: float
) -> dict[int, Chart]:
    """The walls of a group that are seen from one side, or edge-on, reached from its skin."""
    visible: dict[int, Chart] = {}
    rim = (h for h in group.rim if shell.half_edges[h].face in charts)
    todo = [(shell.beyond(h), charts[shell.half_edges[h].face]) for h in rim]
    while todo:
        face, chart = todo.pop(0)
        if face in visible or face not in group.faces or _touches_both(shell, group, face):
            continue
        high = _heights(chart, _probe_points(shell, face), t)
        if max(-high.min(), high.max() - t) > BEYOND + shell.slack.length:
            continue  # stands out of the sheet: a tube about the opening
        view = chain_area(trail(chart, curve) for curve in shell.curves(face))
        if (view if side == 0 else -view) < -1e-6 * t * t:
            continue
        visible[face] = chart
        todo += [(other, chart) for _, other in shell.neighbours(face)]
    return visible
