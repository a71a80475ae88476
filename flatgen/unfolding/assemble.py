"""The flat pattern from both skins; which way it lies and how its parts are counted follows its geometry alone.

x runs across the longest bend, of a plate across its longest edge; of several such ways the one with the smallest list
of places. Panels count from the largest, bends from left to right; loops begin at their lowest left corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from flatgen.core.errors import Fault, IdentityFailed, InputRefused
from flatgen.core.flat_pattern import (
    AllowanceRule,
    Arc,
    Bend,
    FlatPattern,
    Line,
    Loop,
    Matrix,
    Panel,
    Point,
    Segment,
    View,
    bend_letters,
)
from flatgen.unfolding.boundaries import clean_loop, rounded_point
from flatgen.unfolding.develop import ON_LINE, Bow, Charts, Layout, far_charts, lay_out, near_charts
from flatgen.unfolding.faces import FITTED_WITHIN, DrawnFlat, draw_flat
from flatgen.unfolding.regions import DevelopedSkin, bend_of, develop_skin, regions
from flatgen.unfolding.sheet import Cylinder, Face, Plane, Shell, Vector
from flatgen.unfolding.skins import Skins
from flatgen.unfolding.tree import Tree, grow_tree
from flatgen.unfolding.wall_groups import CutEdges, WallGroup, find_cut_edges
from flatgen.unfolding.walls import WallReport, check_walls, odd_walls, outside_error, silhouette

PLACE_DIGITS = 4
"""Decimals [mm] to which places are compared."""


def x_directions(flat: FlatPattern) -> list[float]:
    """Angles of possible x directions [rad]: across the longest bends; of a plate, across its longest edges."""
    if flat.bends:
        longest = max(b.length for b in flat.bends)
        lines = [b.across for b in flat.bends if b.length > longest - 1e-5]
    else:
        edges = [p for p in flat.outline if isinstance(p, Line)]
        longest = max((p.length for p in edges), default=0.0)
        chosen = [p for p in edges if p.length > longest - 1e-5]
        lines = [(p.end[1] - p.start[1], p.start[0] - p.end[0]) for p in chosen] or [(1.0, 0.0)]
    angles = {round(math.atan2(y, x) % math.pi, 6) % round(math.pi, 6): math.atan2(y, x) % math.pi for x, y in lines}
    return [a + turn for _, a in sorted(angles.items()) for turn in (0.0, math.pi)]


def signature(flat: FlatPattern, angle: float) -> list[tuple[float, float, float]]:
    """The places of a flat's lines, corners and ways, seen along an x direction at an angle [rad]."""
    bends = [(*p, 1.0 if b.way == "up" else 2.0) for b in flat.bends for s in b.segments for p in s.centre]
    marks = [(*p.at(share), 0.0) for o in (flat.outline, *flat.openings) for p in o for share in (0.0, 0.5)]
    places = np.array(bends + marks)
    c, s = math.cos(angle), math.sin(angle)
    shown = places[:, :2] @ np.array(((c, -s), (s, c)))
    shown = np.round(shown - shown.min(axis=0), PLACE_DIGITS) + 0.0
    order = np.lexsort((places[:, 2], shown[:, 1], shown[:, 0]))
    return [(float(x), float(y), float(w)) for (x, y), w in zip(shown[order], places[order, 2], strict=True)]


def in_standard_order(flat: FlatPattern) -> FlatPattern:
    """The same flat with panels, bends, openings and corners in the standard order, and bends lettered."""
    order = sorted(range(len(flat.panels)), key=lambda n: _panel_key(flat, n))
    number = {old: new for new, old in enumerate(order)}
    bends = [replace(b, first=number[b.first], second=number[b.second]) for b in flat.bends]
    bends = _led_from_root(bends, len(order))
    bends.sort(key=_bend_key)
    openings = [(from_lowest_corner(o), n) for n, o in enumerate(flat.openings)]
    openings.sort(key=lambda pair: _loop_key(pair[0]))
    place = {old: new for new, (_, old) in enumerate(openings)}
    return replace(
        flat,
        outline=from_lowest_corner(flat.outline),
        openings=tuple(o for o, _ in openings),
        panels=tuple(flat.panels[n] for n in order),
        bends=tuple(replace(b, label=bend_letters(n)) for n, b in enumerate(bends)),
        root=0,
        opening_differences=tuple(
            sorted(((place[n], d) for n, d in flat.opening_differences), key=lambda pair: pair[0])
        ),
    )


def _led_from_root(bends: list[Bend], count: int) -> list[Bend]:
    reached, led_bends, waiting = {0}, [], list(bends)
    while waiting:
        ready = [b for b in waiting if b.first in reached or b.second in reached]
        for bend in ready:
            led = bend if bend.first in reached else reversed_bend(bend)
            reached.add(led.second)
            led_bends.append(led)
        waiting = [b for b in waiting if b not in ready]
        if not ready:
            raise ValueError(f"bends that do not hang together: {len(reached)} of {count} panels")
    return led_bends


def reversed_bend(bend: Bend) -> Bend:
    """The same bend seen from its other panel."""
    (ox, oy), (ax, ay), wide = bend.origin, bend.along, bend.allowance
    point, axis = bend.axis
    return replace(
        bend,
        first=bend.second,
        second=bend.first,
        origin=(ox + ay * wide, oy - ax * wide),
        along=(-ax, -ay),
        axis=(point, (-axis[0], -axis[1], -axis[2])),
        segments=tuple(_turned_segment(s) for s in reversed(bend.segments)),
    )


def _turned_segment(segment: Segment) -> Segment:
    (a, b), (c, d) = segment.tangents
    return replace(segment, centre=segment.centre[::-1], tangents=((d, c), (b, a)))


def from_lowest_corner(loop: Loop) -> Loop:
    """A loop that begins at its lowest left corner; a full circle at its right."""
    pieces = loop.pieces
    if len(pieces) == 1:
        only = pieces[0]
        return Loop((replace(only, first=0.0),)) if isinstance(only, Arc) and only.full else loop
    start = min(range(len(pieces)), key=lambda n: _place(pieces[n].start))
    return Loop(pieces[start:] + pieces[:start])


def _place(point: Point) -> tuple[float, float]:
    return (round(point[0], PLACE_DIGITS) + 0.0, round(point[1], PLACE_DIGITS) + 0.0)


def _loop_key(loop: Loop) -> tuple[float, ...]:
    x0, y0, x1, y1 = loop.box()
    return (*_place((x0, y0)), *_place((x1, y1)), round(loop.area, PLACE_DIGITS))


def _bend_key(bend: Bend) -> tuple[float, ...]:
    (x0, y0), (x1, y1) = bend.centre
    low, high = sorted((_place((x0, y0)), _place((x1, y1))))
    return (round((x0 + x1) / 2, PLACE_DIGITS) + 0.0, round((y0 + y1) / 2, PLACE_DIGITS) + 0.0, *low, *high)


def _panel_key(flat: FlatPattern, number: int) -> tuple[float, ...]:
    panel = flat.panels[number]
    area = math.fsum(r.area for r in panel.regions)
    x0, y0, x1, y1 = panel.outline.box()
    return (-round(area, PLACE_DIGITS), *_place((x0, y0)), *_place((x1, y1)))


CLEARLY_MORE = 1.2
"""One side has more width of up bends for certain if it has so many times the other's, as measured on one skin."""


@dataclass(frozen=True)
class Development:
    """A flat pattern with what it was made from: both skins, their drawn loops, the cut edges.

    Loops of ``drawn`` are in the order of the flat's: its outline, then its openings.
    """

    flat: FlatPattern
    near: DevelopedSkin
    far: DevelopedSkin
    layout: Layout
    start: int
    drawn: DrawnFlat
    edges: CutEdges

    @property
    def move(self) -> Matrix:
        """From the plane of ``layout`` to that of the flat."""
        carried = np.linalg.inv(self.flat.panels[self.start].placed) @ self.layout.frames[self.start]
        move = np.eye(3)
        move[:2, :2], move[:2, 2] = carried[:2, :2], carried[:2, 3]
        return move


def develop(shell: Shell, skins: Skins, rule: AllowanceRule, view: View | None) -> Development:
    """Develop a sheet, as seen by ``view`` or else as the shape prefers.

    :raises InputRefused: FG041, FG042 where the sheet cannot be developed.
    """
    if view is not None:
        tree, start = _tree_of_view(shell, skins, view)
        development = _develop(shell, skins, tree, rule, start)
        x = np.linalg.inv(development.flat.panels[start].placed)[:3, :3] @ np.asarray(view.across)
        return replace(development, flat=_turned_to_corner(development.flat, -math.atan2(x[1], x[0])))
    return develop_sides(shell, skins, upward_trees(shell, skins), rule)


def upward_trees(shell: Shell, skins: Skins) -> list[Tree]:
    """The tree of the side with more width of up bends; both where they have alike."""
    one = grow_tree(shell, skins, skins.sides[0])
    up, down = (math.fsum(j.length for j in one.joints if j.up == way) for way in (True, False))
    if up > CLEARLY_MORE * down:
        return [one]
    two = grow_tree(shell, skins, skins.sides[1])
    if down > CLEARLY_MORE * up:
        return [two]
    width = [round(math.fsum(j.length for j in t.joints if j.up), 3) for t in (one, two)]
    return [t for t, w in zip((one, two), width, strict=True) if w == max(width)]


def develop_sides(
    shell: Shell, skins: Skins, trees: Sequence[Tree], rule: AllowanceRule, groups: Sequence[WallGroup] = ()
) -> Development:
    """Develop a sheet as seen from one of some sides, whichever the shape prefers."""
    sides = [_develop(shell, skins, t, rule, t.root, groups) for t in trees]
    views = [(side, angle) for side in sides for angle in x_directions(side.flat)]
    best = min(views, key=lambda view: signature(view[0].flat, view[1])) if len(views) > 1 else views[0]
    return replace(best[0], flat=_turned_to_corner(best[0].flat, -best[1]))


def _tree_of_view(shell: Shell, skins: Skins, view: View) -> tuple[Tree, int]:
    point, normal = np.asarray(view.point), np.asarray(view.normal)
    candidates = [
        (side, face)
        for side in skins.sides
        for face in side
        if isinstance(surface := shell.surface(face), Plane)
        and surface.normal @ normal > 1 - 1e-9
        and abs((point - shell.corner(face)) @ normal) < shell.slack.length
    ]
    for side, face in candidates:
        if len(candidates) == 1 or shell.holds(face, point):
            tree = grow_tree(shell, skins, side)
            return tree, next(n for n, p in enumerate(tree.panels) if face in p)
    text = f"no face of the sheet holds {view.point} and looks along {view.normal}"
    raise IdentityFailed(Fault("FG903", "view", text))


def _develop(
    shell: Shell, skins: Skins, tree: Tree, rule: AllowanceRule, start: int, groups: Sequence[WallGroup] = ()
) -> Development:
    layout = lay_out(shell, tree, skins.thickness, rule, start)
    charts = near_charts(tree, layout), far_charts(shell, skins, tree, layout)
    edges = find_cut_edges(shell, skins, charts, groups)
    near, far, drawn = _draw(shell, charts, edges)
    walls = odd_walls(shell, skins, charts, groups)
    if walls:
        report = check_walls(shell, walls, drawn.loops, (near.loops(), far.loops()), skins.thickness)
        if report.outside:
            seen = silhouette(shell, charts, [g for g, _, _ in report.outside], skins.thickness)
            edges = replace(edges, silhouettes=seen)
            near, far, drawn = _draw(shell, charts, edges)
            report = check_walls(shell, walls, drawn.loops, (near.loops(), far.loops()), skins.thickness)
            if report.outside:
                raise outside_error(shell, report)
        edges = replace(edges, hollows=_hollows_of_square_edges(report, groups, edges, near.strips | far.strips))
    bends = tuple(bend_of(near, far, step) for step in layout.joints)
    placed = zip(tree.panels, layout.frames, strict=True)
    flat = FlatPattern(
        thickness=skins.thickness,
        outline=drawn.loops[0],
        openings=drawn.loops[1:],
        panels=tuple(_panel(near, f, frame, n, bends) for n, (f, frame) in enumerate(placed)),
        bends=bends,
        root=start,
        outline_difference=dict(drawn.gaps).get(0),
        opening_differences=tuple((n - 1, gap) for n, gap in drawn.gaps if n > 0),
        fitted=FITTED_WITHIN if any(isinstance(t, Bow) for c in drawn.rest for t in c) else 0.0,
    )
    return Development(flat, near, far, layout, start, drawn, edges)


def _draw(shell: Shell, charts: Charts, edges: CutEdges) -> tuple[DevelopedSkin, DevelopedSkin, DrawnFlat]:
    near, far = (develop_skin(shell, dict(c), edges.charts(n, c, shell), far=n == 1) for n, c in enumerate(charts))
    return near, far, draw_flat(near.loops(), far.loops())


def _hollows_of_square_edges(
    report: WallReport, groups: Sequence[WallGroup], edges: CutEdges, strips: frozenset[int]
) -> tuple[tuple[float, int], ...]:
    """Hollow walls without those of bevelled and rounded edges, which lie inside of what is drawn at its widest."""
    bevelled = strips | {s.face for b in edges.broken for s in b.strips}
    level = frozenset[int]().union(*(g.faces for g in groups if g.faces.isdisjoint(bevelled)))
    return tuple((depth, face) for depth, face in report.hollows if face in level)


def _panel(near: DevelopedSkin, faces: frozenset[int], frame: Matrix, number: int, bends: tuple[Bend, ...]) -> Panel:
    if not faces:  # an edge: where a bend ends that leads to it
        start, end = next(
            line for b in bends for n, line in zip((b.first, b.second), b.tangents, strict=True) if n == number
        )
        if math.dist(start, end) < ON_LINE:
            bend = next(b for b in bends if number in (b.first, b.second))
            (x, y), (ax, ay) = start, bend.along
            end = (x + ax * 1e-3, y + ay * 1e-3)
        return Panel(Loop((Line(start, end), Line(end, start))), (), frame, bare=True)
    first, *others = regions(near, faces)
    return Panel(first.outline, first.openings, frame, None, tuple(others))


def _turned_to_corner(flat: FlatPattern, angle: float) -> FlatPattern:
    """A flat turned by an angle [rad] and shifted so that its box begins at zero."""
    c, s = math.cos(angle), math.sin(angle)
    turned = flat.moved(np.array(((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0))))
    x, y, _, _ = turned.box
    shift = np.eye(3)
    shift[:2, 2] = (-x, -y)
    moved = turned.moved(shift)
    tidy = replace(
        moved, outline=clean_loop(list(moved.outline)), openings=tuple(clean_loop(list(o)) for o in moved.openings)
    )
    return replace(tidy, bends=tuple(_tidy_bend(b) for b in tidy.bends))


def _tidy_bend(bend: Bend) -> Bend:
    def ends(line: tuple[Point, Point]) -> tuple[Point, Point]:
        return (rounded_point(line[0]), rounded_point(line[1]))

    segments = tuple(
        replace(s, centre=ends(s.centre), tangents=(ends(s.tangents[0]), ends(s.tangents[1]))) for s in bend.segments
    )
    return replace(bend, segments=segments)


Place: TypeAlias = tuple[Vector, Face]

WAYS = dict(zip("xyz", np.eye(3), strict=True))

EDGE_ON = math.sin(math.radians(1.0))  # a flat whose normal leans less toward a direction stands edge-on to it


def trees_seen_from(shell: Shell, skins: Skins, near: str, place: Place | None) -> list[Tree]:
    """The trees to choose from: one for each side that may be near.

    :param near: ``auto``, a direction such as ``+x``, or the number of the face at ``place``
    :raises InputRefused: FG045 where there is no such side.
    """
    if near == "auto":
        return upward_trees(shell, skins)
    trees = [grow_tree(shell, skins, side) for side in skins.sides]
    if near[:1] in "+-" and near[1:] in WAYS:
        return [_looking(shell, trees, WAYS[near[1:]] * (1.0 if near[0] == "+" else -1.0), near)]
    holding = [t for t in trees if place is not None and any(_holds(shell, f, place) for f in t.near)]
    if not holding:
        raise InputRefused(_no_side(shell, near, place))
    return holding[:1]


def numbered_face(shell: Shell, near: str) -> Place | None:
    """The face of a number, and where it lies: its number changes when corners are rounded."""
    number = int(near) - 1 if near.isascii() and near.isdigit() else -1
    return (shell.corner(number), shell.faces[number]) if 0 <= number < len(shell.faces) else None


def _holds(shell: Shell, face: int, place: Place) -> bool:
    """Whether a face is that which lay at a place, or what is left of it."""
    point, former = place
    surface, other = shell.surface(face), former.surface
    if isinstance(surface, Plane) and isinstance(other, Plane):
        level = abs(float((point - surface.origin) @ surface.normal)) < shell.slack.length
        return level and float(surface.normal @ other.normal) > 1 - shell.slack.smooth
    if not (isinstance(surface, Cylinder) and isinstance(other, Cylinder)):
        return False
    alike = abs(surface.radius - other.radius) < shell.slack.length and surface.convex == other.convex
    off = np.cross(surface.origin - other.origin, other.axis)
    return alike and float(np.linalg.norm(off)) < shell.slack.length


def _looking(shell: Shell, trees: list[Tree], way: Vector, near: str) -> Tree:
    """The side whose largest flat that does not stand edge-on looks along a direction."""
    tree = trees[0]
    sizes = [float(sum(shell.rough_areas[f] for f in panel)) for panel in tree.panels]
    for number in sorted(range(len(sizes)), key=lambda n: -sizes[n]):
        lean = float(tree.planes[number].normal @ way)
        if tree.panels[number] and abs(lean) > EDGE_ON:
            return trees[0] if lean > 0 else trees[1]
    text = f"no flat of the part looks along {near} or away from it: all stand edge-on"
    raise InputRefused(Fault("FG045", "--near", text, "name another direction, or a face of the side to look at"))


def _no_side(shell: Shell, near: str, place: Place | None) -> Fault:
    if place is not None:
        text = f"face {near} of the file is one of a cut edge, not of a side of the sheet"
    else:
        text = f"{near} is none of auto, +x, -x, +y, -y, +z, -z, or the number of a face from 1 to {len(shell.faces)}"
    return Fault("FG045", "--near", text, "name a direction, or a face of the side to look at")
