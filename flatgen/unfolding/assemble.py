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

from flatgen.errors import Fault, IdentityFailed
from flatgen.flat import Bend, FlatPattern, Line, Loop, Matrix, Panel, Point, Region, Segment
from flatgen.rule import Rule, Triple, View
from flatgen.unfolding.chart import ON_LINE, far_charts, near_charts
from flatgen.unfolding.develop import LaidJoint, Layout, lay_out
from flatgen.unfolding.edges import Edges, broken_edges
from flatgen.unfolding.faces import FITTED_WITHIN, OneFlat, loop_of, one_flat
from flatgen.unfolding.features import Group
from flatgen.unfolding.loops import clean_loop, rounded
from flatgen.unfolding.orient import directions, signature
from flatgen.unfolding.sheet import Plane, Shell
from flatgen.unfolding.skin import Skin, develop_skin
from flatgen.unfolding.skins import Skins
from flatgen.unfolding.tree import Tree, Zone, grow_tree

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
    near, far = (develop_skin(shell, c, edges.charts(n, c, shell), far=n == 1) for n, c in enumerate(charts))
    one = one_flat(near.loops(), far.loops())
    loops, gaps = one.loops, one.gaps
    differs = dict(gaps)
    bends = tuple(_bend(near, far, step) for step in layout.joints)
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
        fitted=FITTED_WITHIN if near.bowed or far.bowed else 0.0,
    )
    return Developed(flat, near, far, layout, start, one, edges)


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


def regions(skin: Skin, faces: frozenset[int]) -> list[Region]:
    """The pieces of sheet that some faces make, the largest first; edge by edge as the solid has them."""
    loops = [loop_of(trails, join=False) for trails in skin.loops(faces)]
    outlines = sorted((lp for lp in loops if lp.signed_area > 0), key=lambda lp: -lp.area)
    holes = [lp for lp in loops if lp.signed_area < 0]
    if len(outlines) == 1 or not holes:
        return [Region(o, tuple(holes)) for o in outlines]
    return _sorted_into(outlines, holes)


def _sorted_into(outlines: list[Loop], holes: list[Loop]) -> list[Region]:
    """Holes given to the outline that they lie in."""
    import shapely

    tree = shapely.STRtree([shapely.Polygon(o.points()) for o in outlines])
    inside: dict[int, list[Loop]] = {}
    for hole in holes:
        spot = shapely.Polygon(hole.points()).representative_point()
        home = tree.query(spot, predicate="within")
        inside.setdefault(int(home[0]) if len(home) else 0, []).append(hole)
    return [Region(o, tuple(inside.get(n, ()))) for n, o in enumerate(outlines)]


def _bend(near: Skin, far: Skin, step: LaidJoint) -> Bend:
    joint = step.joint
    segments = tuple(_segment(near, far, step, zone) for zone in joint.zones)
    axis = (_triple(joint.origin), _triple(step.axis))
    return Bend(
        first=step.first,
        second=step.second,
        angle=joint.angle,
        way="up" if joint.up else "down",
        inside_radius=joint.inside_radius,
        allowance=step.allowance.length,
        k=step.allowance.k,
        method=step.allowance.method,
        origin=step.origin,
        along=step.along,
        axis=axis,
        segments=tuple(
            sorted(segments, key=lambda s: min(p[0] * step.along[0] + p[1] * step.along[1] for p in s.centre))
        ),
    )


def _segment(near: Skin, far: Skin, step: LaidJoint, zone: Zone) -> Segment:
    """One piece of a bend. Its lines run as far as either face reaches, so that they end on the drawn edge."""
    region, *_ = regions(near, zone.faces)
    behind = _behind(far, step, zone, region)
    (ox, oy), (ax, ay), wide = step.origin, step.along, step.allowance.length

    def across(u: float) -> tuple[Point, Point]:
        spots = [s for loop in (region.outline, *behind) for s in _crossings(loop, step, u)]
        if not spots:
            spots = [(region.outline.pieces[0].start[0] - ox) * ax + (region.outline.pieces[0].start[1] - oy) * ay]
        low, high = min(spots), max(spots)
        return (
            (ox + ax * low + ay * u, oy + ay * low - ax * u),
            (ox + ax * high + ay * u, oy + ay * high - ax * u),
        )

    return Segment(region.outline, region.openings, across(wide / 2), (across(0.0), across(wide)))


def _behind(far: Skin, step: LaidJoint, zone: Zone, region: Region) -> list[Loop]:
    """Outlines of the far skin's patches of the same bend that lie before a near patch."""
    faces = far.zones.get(id(step), frozenset())
    outlines = [r.outline for r in regions(far, faces)]
    if len(step.joint.zones) == 1 or not outlines:
        return outlines
    import shapely

    here = shapely.Polygon(region.outline.points())
    shared = [here.intersection(shapely.Polygon(o.points())).area for o in outlines]
    return [o for o, area in zip(outlines, shared, strict=True) if area > 0]


def _crossings(loop: Loop, step: LaidJoint, u: float) -> list[float]:
    """Where along a bend a loop crosses the line ``u`` beyond its first tangent line [mm]."""
    (ox, oy), (ax, ay) = step.origin, step.along
    points = np.array(loop.points(1e-4)) - (ox, oy)
    s, w = points @ (ax, ay), points @ (ay, -ax) - u
    s1, w1 = np.roll(s, -1), np.roll(w, -1)
    met = w * w1 < 0
    met &= (np.abs(w) > ON_LINE) & (np.abs(w1) > ON_LINE)
    between = s[met] + (s1[met] - s[met]) * w[met] / (w[met] - w1[met])
    return [float(x) for x in (*s[np.abs(w) <= ON_LINE], *between)]


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
