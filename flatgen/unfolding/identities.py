"""The checks that always run on an unfolded sheet. A miss is a bug of ours, never the user's fault.

area        every face of both skins has in the flat the area that it has in the solid
volume      the flat folded up has the solid's volume; and V_formed - V_flat = (1/2 - K) t2 sum of (w dA);
            where every wall stands square to the sheet
refold      ends and middles of all edges of both skins lie where folding the flat up puts them
drawn       the drawn edge is the developed edge of either face, and no metal of either lies outside of it
overlap     the flat does not cover itself (this one is the part's fault, and refused)
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, IdentityFailed, InputRefused
from flatgen.core.flat_pattern import FlatPattern, Line, Loop
from flatgen.core.fold import fold_panel, fold_zone, folded_volume, placements
from flatgen.unfolding.assemble import Developed
from flatgen.unfolding.boundaries import Boundary, outside
from flatgen.unfolding.develop import Bow, Chart, PanelChart, Trail, trail_area
from flatgen.unfolding.faces import FITTED_WITHIN, alike, areal, ring_of
from flatgen.unfolding.regions import Skin
from flatgen.unfolding.sheet import CLOSE, LOOSE, STRICT, Circular, Cylinder, Free, Other, Shell, Slack, Vector, spots

VOLUME = 1e-9
"""Largest relative difference between two computations of one volume, or of one area."""
SHARED = 1e-4
"""Parts of a flat that cover each other by less only touch [mm2]."""
SLIVER = 0.005
"""Parts of a flat that cover each other by a strip narrower than this only touch [mm]."""
SQUARE = 1e-7
"""Cosine between wall and skin up to which they stand square."""
BOUNDS = 1e-5
"""How far a volume may pass bounds that are worked out on sampled edges, relative."""
RECEIVED = 5e-5
"""The same of received solids, whose cut edges are only nearly ruled."""
CURVED = 1e-6
"""The same for areas within edges that the kernel itself only approximates."""


def check_identities(flat: FlatPattern, made: Developed, shell: Shell) -> FlatPattern:
    """All of them.

    :param made: both skins that it was made from.
    :returns: the flat, with ``volume_outside`` filled in where walls lean.
    :raises IdentityFailed: FG901, FG902, FG904 with both numbers.
    :raises InputRefused: FG042 where the flat covers itself.
    """
    missed = largest_miss(flat, made)
    if missed > shell.slack.miss:
        raise IdentityFailed(Fault("FG902", "the flat", f"folded up it misses the formed solid by {missed:.3g} mm"))
    off = _misfit(shell.slack, missed)
    for skin in (made.near, made.far):
        _check_areas(skin, shell, off)
    level = not (flat.outline_differs or flat.openings_differ or shell.risen)
    if walls_square(made) and made.edges.square and level:
        _check_volume(flat, shell, off)
    else:
        flat = replace(flat, volume_outside=volume_outside(flat, made, shell, off))
        _check_sheet(flat, shell)
    _check_drawn(flat, made)
    _check_overlap(flat)
    return flat


def _misfit(slack: Slack, missed: float) -> float:
    """What faces of a solid may be off, as far as is known: nothing for ours, else about what was missed [mm]."""
    if slack is STRICT:
        return 0.0
    return slack.length if slack is not LOOSE else min(slack.length, 2 * missed + CLOSE.length)


def _check_areas(skin: Skin, shell: Shell, misfit: float) -> None:
    for index, chart in skin.charts.items():
        if index in skin.strips:
            continue
        face = shell.faces[index]
        halves = [h for wire in face.wires for h in wire]
        flat = abs(math.fsum(trail_area(skin.trails[h]) for h in halves))
        radius = face.surface.radius if isinstance(face.surface, Cylinder) else math.inf
        expected = face.area * chart.stretch(radius)
        off = abs(flat - expected)
        if off > VOLUME * max(1.0, expected) and off > _area_room(skin, halves, expected, misfit):
            text = f"face {index + 1} has {flat:.6f} mm2 in the flat, {expected:.6f} mm2 by the solid"
            raise IdentityFailed(Fault("FG901", "the flat", text))


def _area_room(skin: Skin, halves: list[int], expected: float, misfit: float) -> float:
    """What a face's area may be off beyond rounding: the solid's own slack, and curves that are only nearly known."""
    shell = skin.shell
    room = VOLUME * max(1.0, expected)
    if misfit:
        room += misfit * math.fsum(_run(shell.half_edges[h].curve) for h in halves)
    curved = [shell.half_edges[h].curve for h in halves if isinstance(skin.trails[h], Bow)]
    if curved:
        reach = math.fsum(_run(c) for c in curved)
        loose = max((c.tolerance for c in curved if isinstance(c, Free)), default=0.0)
        room = max(room, CURVED * max(1.0, expected) + 2 * loose * reach)
    return room


def _run(curve: Circular | Free | object) -> float:
    points = spots(curve, np.linspace(0.0, 1.0, 9))  # type: ignore[arg-type]
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _check_volume(flat: FlatPattern, shell: Shell, misfit: float) -> None:
    """A curve that is drawn as arcs may cost its bound times its length."""
    t = flat.thickness
    loops = (flat.outline, *flat.openings)
    slack = VOLUME * shell.volume + flat.fitted * t * math.fsum(lp.perimeter for lp in loops)
    slack += misfit * (2 * flat.area + t * math.fsum(lp.perimeter for lp in loops))
    turned = 0.0
    for bend in flat.bends:
        zone = math.fsum(s.zone.area - math.fsum(o.area for o in s.openings) for s in bend.segments)
        turned += (0.5 - bend.k) * t * t * zone * math.radians(bend.angle) / bend.allowance
    for what, volume in (("folded up", folded_volume(flat)), ("by its allowances", flat.area * t + turned)):
        if abs(volume - shell.volume) > slack:
            raise IdentityFailed(
                Fault(
                    "FG901",
                    "the flat",
                    f"{what} it has {volume:.6f} mm3, the formed solid {shell.volume:.6f} mm3",
                )
            )


def walls_square(made: Developed) -> bool:
    """Whether every wall stands square to the sheet where it meets a skin."""
    shell = made.near.shell
    for skin in (made.near, made.far):
        for half in skin.trails:
            other = shell.half_edges[shell.twins[half]].face if half in shell.twins else None
            if other is None or other in skin.charts:
                continue
            if isinstance(shell.faces[other].surface, Other):
                return False
            middle = shell.half_edges[half].curve.at(0.5)
            lean = float(shell.normal_at(other, middle) @ shell.normal_at(shell.half_edges[half].face, middle))
            if abs(lean) > SQUARE:
                return False
    return True


def volume_outside(flat: FlatPattern, made: Developed, shell: Shell, misfit: float) -> float:
    """By how much the solid's volume passes what its faces bound, where walls lean [mm3]; signed, 0 within bounds.

    A wall that runs straight from face to face keeps the volume between what both faces cover and what either
    does; a hollow or bulging one need not.
    """
    t, low, high = flat.thickness, 0.0, 0.0
    steps = {id(step): n for n, step in enumerate(made.layout.joints)}
    sides = [dict(_chains_by_chart(skin)) for skin in (made.near, made.far)]
    for key in sides[0] | sides[1]:
        depth = t
        if key in steps:
            bend = flat.bends[steps[key]]
            depth = math.radians(bend.angle) / bend.allowance * (bend.inside_radius * t + t * t / 2)
        both, either = _shared(*(side.get(key, []) for side in sides))
        low += depth * both
        high += depth * either
    slack = (BOUNDS if shell.slack is STRICT else RECEIVED) * high + misfit * flat.area
    if shell.risen:
        high = math.inf
    if made.edges.hollow:
        low = 0.0
    return min(0.0, shell.volume - low + slack) + max(0.0, shell.volume - high - slack)


def _check_sheet(flat: FlatPattern, shell: Shell) -> None:
    """A wall may bulge or be hollow by half a square thickness along its edge, no more."""
    room = 0.5 * flat.thickness**2 * math.fsum(lp.perimeter for lp in (flat.outline, *flat.openings))
    if abs(flat.volume_outside) > room:
        word = "more" if flat.volume_outside > 0 else "less"
        text = (
            f"its volume of {shell.volume:.2f} mm3 is {abs(flat.volume_outside):.2f} mm3 {word} than a sheet "
            f"{flat.thickness:.4g} mm thick between its two faces can have"
        )
        raise InputRefused(Fault("FG040", "the solid", text, "pass a bent sheet of one thickness"))


def _key(chart: Chart) -> int:
    return -1 - chart.panel if isinstance(chart, PanelChart) else id(chart.step)  # type: ignore[attr-defined]


def _chains_by_chart(skin: Skin) -> Iterable[tuple[int, list[list[Trail]]]]:
    for chart, halves in _by_chart(skin):
        yield _key(chart), skin.loops({skin.shell.half_edges[h].face for h in halves})


def _shared(near: list[list[Trail]], far: list[list[Trail]]) -> tuple[float, float]:
    """Area that both faces of a panel or bend cover in the flat, and that either does [mm2]."""
    if len(near) == len(far) == len(alike(near, far)):
        area = abs(math.fsum(trail_area(t) for chain in near for t in chain))
        return area, area
    import shapely

    one, two = _region(near), _region(far)
    both = float(shapely.intersection(one, two).area)
    return both, one.area + two.area - both


def _region(chains: list[list[Trail]]) -> Any:
    """What closed chains enclose, in the plane of the layout."""
    import shapely

    sides: tuple[list[Any], list[Any]] = ([], [])
    for ring in (ring_of(c) for c in chains):
        x, y = ring.T
        turned = float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        sides[0 if turned > 0 else 1].append(ring)
    shells, holes = sides
    if len(shells) == 1:
        return areal(shapely.Polygon(shells[0], holes))
    return shapely.difference(*(shapely.union_all([areal(shapely.Polygon(r)) for r in some]) for some in sides))


def largest_miss(flat: FlatPattern, made: Developed) -> float:
    """How far from its place in the solid any end or middle of an edge of either skin comes to lie, folded up [mm]."""
    missed = 0.0
    placed = placements(flat)
    home = flat.panels[flat.root].placed
    steps = {id(step): n for n, step in enumerate(made.layout.joints)}
    for skin in (made.near, made.far):
        z = 0.0 if skin.far else flat.thickness
        for chart, halves in _by_chart(skin):
            plain, solid, loose = _witnesses(skin, halves)
            points = np.column_stack((_carried(plain, made.move), np.full(len(plain), z)))
            if isinstance(chart, PanelChart):
                folded = fold_panel(home @ placed[chart.panel], points)
                folded = np.vstack((folded, fold_panel(flat.panels[chart.panel].placed, points)))
                solid, loose = np.vstack((solid, solid)), np.concatenate((loose, loose))
            else:
                bend = flat.bends[steps[id(chart.step)]]  # type: ignore[attr-defined]
                folded = fold_zone(flat, bend, home @ placed[bend.first], points)
            missed = max(missed, float((np.linalg.norm(folded - solid, axis=1) - loose).max()))
    return missed


def _by_chart(skin: Skin) -> Iterable[tuple[Chart, list[int]]]:
    groups: dict[int, tuple[Chart, list[int]]] = {}
    for face, chart in skin.charts.items():
        if face in skin.strips:
            continue
        halves = groups.setdefault(_key(chart), (chart, []))[1]
        halves += [h for wire in skin.shell.faces[face].wires for h in wire]
    return groups.values()


def _witnesses(skin: Skin, halves: list[int]) -> tuple[Vector, Vector, Vector]:
    """Flat points (n, 2), their places in the solid (n, 3), and how loosely the kernel holds these (n,) [mm]."""
    curves = [skin.shell.half_edges[h].curve for h in halves]
    shares = np.array((0.0, 0.5))
    solid = np.vstack([spots(c, shares) for c in curves])
    plain = np.array([skin.trails[h].at(s) for h in halves for s in (0.0, 0.5)])
    loose = np.repeat([c.tolerance if isinstance(c, Free) else 0.0 for c in curves], 2)
    return plain, solid, loose


def _carried(points: Vector, move: Vector) -> Vector:
    moved: Vector = points @ move[:2, :2].T + move[:2, 2]
    return moved


def _check_drawn(flat: FlatPattern, made: Developed) -> None:
    """By area where lines and arcs of both faces are all; else by distance from both developed faces."""
    loops = (flat.outline, *flat.openings)
    slack = made.near.shell.slack
    drawn = math.fsum(abs(loops[n].signed_area) for n, _ in made.one.exact)
    exact = math.fsum(abs(math.fsum(trail_area(t) for t in chain)) for _, chain in made.one.exact)
    room = VOLUME * max(exact, 1.0)
    if slack is not STRICT:
        room += slack.length * math.fsum(loops[n].perimeter for n, _ in made.one.exact)
    if abs(exact - drawn) > room:
        text = f"its drawn edges hold {drawn:.6f} mm2, its developed faces {exact:.6f} mm2"
        raise IdentityFailed(Fault("FG904", "the flat", text))
    if not made.one.rest:
        return
    held = {n for n, _ in made.one.exact}
    curved = [lp for n, lp in enumerate(loops) if n not in held]
    if not curved:  # openings of either face that the other one covers: nothing of them is drawn
        return
    rings = [_carried(ring_of(c), made.move) for c in made.one.rest]
    strayed = float(Boundary(rings).distance(np.vstack([_edge_spots(lp) for lp in curved])).max())
    points = [np.array(lp.points(1e-3)) for lp in curved]
    beyond = outside(np.vstack(rings), None if 0 in held else points[0], points if 0 in held else points[1:])
    if max(strayed, beyond) > FITTED_WITHIN + slack.length:
        text = (
            f"its drawn edge strays {strayed:.4f} mm from both faces' edges, and leaves metal {beyond:.4f} mm outside"
        )
        raise IdentityFailed(Fault("FG904", "the flat", text))


def _edge_spots(loop: Loop) -> Vector:
    shares = (0.0, 0.25, 0.5, 0.75)
    return np.array([p.at(s) for p in loop for s in (shares[:1] if isinstance(p, Line) else shares)])


def _check_overlap(flat: FlatPattern) -> None:
    """By outlines first; openings are taken out only of those that reach into each other."""
    from shapely import Polygon, STRtree, area, intersection

    loops = [(r.outline, r.openings) for p in flat.panels if not p.bare for r in p.regions]
    loops += [(s.zone, s.openings) for b in flat.bends for s in b.segments]
    shapes = np.array([Polygon(o.points()) for o, _ in loops], dtype=object)
    one, two = STRtree(shapes).query(shapes, predicate="intersects")
    one, two = one[one < two], two[one < two]
    met = area(intersection(shapes[one], shapes[two])) > SHARED if len(one) else np.zeros(0, dtype=bool)
    for a, b in zip(one[met], two[met], strict=True):
        first, second = (Polygon(loops[n][0].points(), [h.points() for h in loops[n][1]]) for n in (a, b))
        both = first.intersection(second)
        if both.area > SHARED and not both.buffer(-SLIVER / 2).is_empty:
            x, y = both.representative_point().coords[0]
            raise InputRefused(
                Fault(
                    "FG042",
                    f"the flat, near x {x:.1f}, y {y:.1f}",
                    f"two parts of it cover each other by {both.area:.3f} mm2",
                    "shorten a flange or move a bend: one blank cannot have metal twice in one place",
                )
            )
