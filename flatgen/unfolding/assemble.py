"""From a layout to a :class:`FlatPattern`: loops closed and cleaned, and turned the way a reader expects.

A ``View`` says which side is near and which way x runs. Without one the rules of the house decide: the near
face is the one with more width of up bends, x runs across the longest bend, and what is still undecided is
decided by the shape itself (the smallest list of corner coordinates), never by the order of faces in a file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatgen.core.errors import Fault, IdentityFailed
from flatgen.core.flat_pattern import Bend, FlatPattern, Line, Loop, Matrix, Panel, Point, Rule, Triple, View
from flatgen.unfolding.chart import ON_LINE, Bow, far_charts, near_charts
from flatgen.unfolding.develop import Layout, lay_out
from flatgen.unfolding.edges import Edges, broken_edges
from flatgen.unfolding.faces import FITTED_WITHIN, OneFlat, one_flat
from flatgen.unfolding.groups import Group
from flatgen.unfolding.loops import clean_loop, rounded
from flatgen.unfolding.orient import directions, signature
from flatgen.unfolding.sheet import Plane, Shell
from flatgen.unfolding.skin import Skin, develop_skin
from flatgen.unfolding.skins import Skins
from flatgen.unfolding.tree import Tree, grow_tree
from flatgen.unfolding.walls import Charts, Judged, OddWall, judged, odd_walls, refused_outside, silhouette
from flatgen.unfolding.zones import bend_of, regions

DECIDED = 1.2
"""One side has more width of up bends for certain if it has so many times the other's, as measured on one skin."""


@dataclass(frozen=True)
class Developed:
    """A flat pattern with what it was made from: both skins, their loops, the strips of cut edges.

    Loops of ``one`` are in the order of the flat's: its outline, then its openings.
    """

    flat: FlatPattern
    near: Skin
    far: Skin
    layout: Layout
    start: int
    one: OneFlat
    edges: Edges = field(default_factory=Edges)

    @property
    def move(self) -> Matrix:
        """From the plane of ``layout`` to that of the flat."""
        carried = np.linalg.inv(self.flat.panels[self.start].placed) @ self.layout.frames[self.start]
        move = np.eye(3)
        move[:2, :2], move[:2, 2] = carried[:2, :2], carried[:2, 3]
        return move


def develop(shell: Shell, skins: Skins, rule: Rule, view: View | None) -> Developed:
    """Develop a sheet, as seen by ``view`` or by the rules of the house.

    Raises
    ------
    InputRefused
        FG041, FG042 where the sheet cannot be developed.
    """
    if view is not None:
        tree, start = _tree_of_view(shell, skins, view)
        made = _develop(shell, skins, tree, rule, start)
        x = np.linalg.inv(made.flat.panels[start].placed)[:3, :3] @ np.asarray(view.across)
        return replace(made, flat=_to_corner(made.flat.moved(_rotation(-math.atan2(x[1], x[0])))))
    return develop_sides(shell, skins, upward_trees(shell, skins), rule)


def upward_trees(shell: Shell, skins: Skins) -> list[Tree]:
    """The tree of the side with more width of up bends; both where they have alike."""
    one = grow_tree(shell, skins, skins.sides[0])
    up, down = (math.fsum(j.length for j in one.joints if j.up == way) for way in (True, False))
    if up > DECIDED * down:
        return [one]
    two = grow_tree(shell, skins, skins.sides[1])
    if down > DECIDED * up:
        return [two]
    width = [round(math.fsum(j.length for j in t.joints if j.up), 3) for t in (one, two)]
    return [t for t, w in zip((one, two), width, strict=True) if w == max(width)]


def develop_sides(
    shell: Shell, skins: Skins, trees: Sequence[Tree], rule: Rule, groups: Sequence[Group] = ()
) -> Developed:
    """Develop a sheet as seen from one of some sides, whichever the shape prefers; x by the rules of the house."""
    sides = [_develop(shell, skins, t, rule, t.root, groups) for t in trees]
    turned = [(m, a) for m in sides for a in directions(m.flat)]
    made, angle = min(turned, key=lambda pair: signature(pair[0].flat, pair[1])) if len(turned) > 1 else turned[0]
    return replace(made, flat=_to_corner(made.flat.moved(_rotation(-angle))))


def _tree_of_view(shell: Shell, skins: Skins, view: View) -> tuple[Tree, int]:
    point, normal = np.asarray(view.point), np.asarray(view.normal)
    found = [
        (side, face)
        for side in skins.sides
        for face in side
        if _looks(shell, face, normal) and abs((point - shell.corner(face)) @ normal) < shell.slack.length
    ]
    for side, face in found:
        if len(found) == 1 or shell.holds(face, point):
            tree = grow_tree(shell, skins, side)
            return tree, next(n for n, p in enumerate(tree.panels) if face in p)
    raise IdentityFailed(
        Fault("FG903", "view", f"no face of the sheet holds {view.point} and looks along {view.normal}")
    )


def _looks(shell: Shell, face: int, normal: Matrix) -> bool:
    surface = shell.faces[face].surface
    return bool(isinstance(surface, Plane) and surface.normal @ normal > 1 - 1e-9)


def _develop(shell: Shell, skins: Skins, tree: Tree, rule: Rule, start: int, groups: Sequence[Group] = ()) -> Developed:
    layout = lay_out(shell, tree, skins.thickness, rule, start)
    charts = near_charts(tree, layout), far_charts(shell, skins, tree, layout)
    edges = broken_edges(shell, skins, *charts, groups)
    near, far, one = _drawn(shell, charts, edges)
    walls = odd_walls(shell, skins, charts, groups)
    if walls:
        found = _judged(shell, walls, near, far, one, skins.thickness)
        if found.outside:
            seen = silhouette(shell, charts, [g for g, _, _ in found.outside], skins.thickness)
            edges = replace(edges, seen=seen)
            near, far, one = _drawn(shell, charts, edges)
            found = _judged(shell, walls, near, far, one, skins.thickness)
            if found.outside:
                raise refused_outside(shell, found)
        edges = replace(edges, hollow=_truly_hollow(found, groups, edges, near.strips | far.strips))
    loops, gaps = one.loops, one.gaps
    differs = dict(gaps)
    bends = tuple(bend_of(near, far, step) for step in layout.joints)
    placed = zip(tree.panels, layout.frames, strict=True)
    flat = FlatPattern(
        thickness=skins.thickness,
        outline=loops[0],
        openings=loops[1:],
        panels=tuple(_panel(near, f, frame, n, bends) for n, (f, frame) in enumerate(placed)),
        bends=bends,
        root=start,
        outline_differs=differs.get(0),
        openings_differ=tuple((n - 1, gap) for n, gap in gaps if n > 0),
        fitted=FITTED_WITHIN if any(isinstance(t, Bow) for c in one.rest for t in c) else 0.0,
    )
    return Developed(flat, near, far, layout, start, one, edges)


def _drawn(shell: Shell, charts: Charts, edges: Edges) -> tuple[Skin, Skin, OneFlat]:
    """Both skins, developed, and what is drawn of them."""
    near, far = (develop_skin(shell, dict(c), edges.charts(n, c, shell), far=n == 1) for n, c in enumerate(charts))
    return near, far, one_flat(near.loops(), far.loops())


def _truly_hollow(
    found: Judged, groups: Sequence[Group], edges: Edges, strips: frozenset[int]
) -> tuple[tuple[float, int], ...]:
    """Hollow walls without those of bevelled and rounded edges, which lie inside of what is drawn at its widest."""
    bevelled = strips | {s.face for b in edges.broken for s in b.strips}
    level = frozenset[int]().union(*(g.faces for g in groups if g.faces.isdisjoint(bevelled)))
    return tuple((depth, face) for depth, face in found.hollow if face in level)


def _judged(shell: Shell, walls: Sequence[OddWall], near: Skin, far: Skin, one: OneFlat, thickness: float) -> Judged:
    return judged(shell, walls, one.loops, (near.loops(), far.loops()), thickness)


def _panel(near: Skin, faces: frozenset[int], frame: Matrix, number: int, bends: tuple[Bend, ...]) -> Panel:
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


def _rotation(angle: float) -> Matrix:
    c, s = math.cos(angle), math.sin(angle)
    return np.array(((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)))


def _to_corner(flat: FlatPattern) -> FlatPattern:
    x, y, _, _ = flat.box
    shift = np.eye(3)
    shift[:2, 2] = (-x, -y)
    moved = flat.moved(shift)
    tidy = replace(
        moved,
        outline=clean_loop(list(moved.outline)),
        openings=tuple(clean_loop(list(o)) for o in moved.openings),
    )
    return replace(tidy, bends=tuple(_tidy_bend(b) for b in tidy.bends))


def _tidy_bend(bend: Bend) -> Bend:
    def ends(line: tuple[Point, Point]) -> tuple[Point, Point]:
        return (rounded(line[0]), rounded(line[1]))

    segments = tuple(
        replace(s, centre=ends(s.centre), tangents=(ends(s.tangents[0]), ends(s.tangents[1]))) for s in bend.segments
    )
    return replace(bend, segments=segments)


def _triple(vector: Matrix) -> Triple:
    x, y, z = (float(c) for c in vector)
    return (x, y, z)
