"""The checks that always run on an unfolded sheet: areas, volume, refold, drawn edge, overlap.

A miss is a bug of ours, never the user's fault; only a flat that covers itself, or holds no sheet, is refused.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, IdentityFailed, InputRefused
from flatgen.core.flat_pattern import FlatPattern, Line, Loop
from flatgen.core.fold import fold_panel, fold_zone, folded_volume, placements
from flatgen.unfolding.assemble import Development
from flatgen.unfolding.boundaries import Boundary, outside_distance
from flatgen.unfolding.develop import Bow, Chains, Chart, PanelChart, chain_area
from flatgen.unfolding.faces import FITTED_WITHIN, matching_chains, mended_polygon, ring_of
from flatgen.unfolding.regions import DevelopedSkin
from flatgen.unfolding.sheet import (
    CLOSE,
    LOOSE,
    STRICT,
    Cylinder,
    FreeCurve,
    OtherSurface,
    Shell,
    Slack,
    Vector,
    chord_length,
    points_at,
)

VOLUME = 1e-9  # largest relative difference between two computations of one volume, or of one area
LEAST_OVERLAP = 1e-4
"""Parts of a flat that cover each other by less only touch [mm2]."""
SLIVER = 0.005
"""Parts of a flat that cover each other by a strip narrower than this only touch [mm]."""
SQUARE_COSINE = 1e-7  # cosine between wall and skin up to which they stand square
VOLUME_BOUNDS = 1e-5  # how far a volume may pass bounds that are worked out on sampled edges, relative
RECEIVED_VOLUME_BOUNDS = 5e-5  # the same of received solids, whose cut edges are only nearly ruled
CURVED_AREA = 1e-6  # the same for areas within edges that the kernel itself only approximates


def check_identities(flat: FlatPattern, development: Development, shell: Shell) -> FlatPattern:
    """All checks.

    :returns: the flat, with ``volume_outside`` filled in where walls lean
    :raises IdentityFailed: FG901, FG902, FG904 with both numbers.
    :raises InputRefused: FG042 where the flat covers itself, FG040 where the volume is no sheet's.
    """
    missed = largest_miss(flat, development)
    if missed > shell.slack.miss:
        raise IdentityFailed(Fault("FG902", "the flat", f"folded up it misses the formed solid by {missed:.3g} mm"))
    off = _misfit(shell.slack, missed)
    for skin in (development.near, development.far):
        _check_areas(skin, shell, off)
    level = not (flat.outline_difference or flat.opening_differences or shell.has_tubes)
    if walls_square(development) and development.edges.square and level:
        _check_volume(flat, shell, off)
    else:
        flat = replace(flat, volume_outside=volume_outside(flat, development, shell, off))
        _check_sheet(flat, shell)
    _check_drawn(flat, development)
    _check_overlap(flat)
    return flat


def _misfit(slack: Slack, missed: float) -> float:
    """What faces of a solid may be off, as far as is known: nothing for ours, else about what was missed [mm]."""
    if slack is STRICT:
        return 0.0
    return slack.length if slack is not LOOSE else min(slack.length, 2 * missed + CLOSE.length)


def _check_areas(skin: DevelopedSkin, shell: Shell, misfit: float) -> None:
    for index, chart in skin.charts.items():
        if index in skin.strips:
            continue
        face = shell.faces[index]
        flat = abs(chain_area(skin.trails[h] for h in face.half_edges))
        radius = face.surface.radius if isinstance(face.surface, Cylinder) else math.inf
        expected = face.area * chart.stretch(radius)
        off = abs(flat - expected)
        if off > VOLUME * max(1.0, expected) and off > _area_room(skin, face.half_edges, expected, misfit):
            text = f"face {index + 1} has {flat:.6f} mm2 in the flat, {expected:.6f} mm2 by the solid"
            raise IdentityFailed(Fault("FG901", "the flat", text))


def _area_room(skin: DevelopedSkin, halves: Sequence[int], expected: float, misfit: float) -> float:
    """What a face's area may be off: rounding, the solid's own slack, and curves that are only nearly known [mm2]."""
    shell = skin.shell
    room = VOLUME * max(1.0, expected)
    if misfit:
        room += misfit * math.fsum(chord_length(shell.curve(h)) for h in halves)
    curved = [shell.curve(h) for h in halves if isinstance(skin.trails[h], Bow)]
    if curved:
        reach = math.fsum(chord_length(c) for c in curved)
        loose = max((c.tolerance for c in curved if isinstance(c, FreeCurve)), default=0.0)
        room = max(room, CURVED_AREA * max(1.0, expected) + 2 * loose * reach)
    return room


def _check_volume(flat: FlatPattern, shell: Shell, misfit: float) -> None:
    """Folded up the solid's volume, and V_formed - V_flat = (1/2 - K) t2 sum of (w dA), where walls stand square.

    A curve that is drawn as arcs may cost its bound times its length.
    """
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
            text = f"{what} it has {volume:.6f} mm3, the formed solid {shell.volume:.6f} mm3"
            raise IdentityFailed(Fault("FG901", "the flat", text))


def walls_square(development: Development) -> bool:
    """Whether every wall stands square to the sheet where it meets a skin."""
    shell = development.near.shell
    for skin in (development.near, development.far):
        for half in skin.trails:
            other = shell.beyond(half) if half in shell.twins else None
            if other is None or other in skin.charts:
                continue
            if isinstance(shell.surface(other), OtherSurface):
                return False
            middle = shell.curve(half).at(0.5)
            lean = float(shell.normal_at(other, middle) @ shell.normal_at(shell.half_edges[half].face, middle))
            if abs(lean) > SQUARE_COSINE:
                return False
    return True


def volume_outside(flat: FlatPattern, development: Development, shell: Shell, misfit: float) -> float:
    """By how much the solid's volume passes what its faces bound, where walls lean [mm3]; signed, 0 within bounds.

    A wall that runs straight from face to face keeps the volume between what both faces cover and what either
    does; a hollow or bulging one need not.
    """
    t, low, high = flat.thickness, 0.0, 0.0
    steps = {id(step): n for n, step in enumerate(development.layout.joints)}
    sides = [
        {_key(chart): skin.loops({shell.half_edges[h].face for h in halves}) for chart, halves in _by_chart(skin)}
        for skin in (development.near, development.far)
    ]
    for key in sides[0] | sides[1]:
        depth = t
        if key in steps:
            bend = flat.bends[steps[key]]
            depth = math.radians(bend.angle) / bend.allowance * (bend.inside_radius * t + t * t / 2)
        both, either = _shared(*(side.get(key, []) for side in sides))
        low += depth * both
        high += depth * either
    slack = (VOLUME_BOUNDS if shell.slack is STRICT else RECEIVED_VOLUME_BOUNDS) * high + misfit * flat.area
    if shell.has_tubes:
        high = math.inf
    if development.edges.hollows:
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


def _shared(near: Chains, far: Chains) -> tuple[float, float]:
    """Area that both faces of a panel or bend cover in the flat, and that either does [mm2]."""
    if len(near) == len(far) == len(matching_chains(near, far)):
        area = abs(chain_area(t for chain in near for t in chain))
        return area, area
    import shapely

    one, two = _region(near), _region(far)
    both = float(shapely.intersection(one, two).area)
    return both, one.area + two.area - both


def _region(chains: Chains) -> Any:
    import shapely

    sides: tuple[list[Any], list[Any]] = ([], [])
    for ring in (ring_of(c) for c in chains):
        x, y = ring.T
        turned = float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        sides[0 if turned > 0 else 1].append(ring)
    shells, holes = sides
    if len(shells) == 1:
        return mended_polygon(shapely.Polygon(shells[0], holes))
    return shapely.difference(
        *(shapely.union_all([mended_polygon(shapely.Polygon(r)) for r in some]) for some in sides)
    )


def largest_miss(flat: FlatPattern, development: Development) -> float:
    """How far from its place in the solid any end or middle of an edge of either skin comes to lie, folded up [mm]."""
    missed = 0.0
    placed = placements(flat)
    home = flat.panels[flat.root].placed
    steps = {id(step): n for n, step in enumerate(development.layout.joints)}
    for skin in (development.near, development.far):
        z = 0.0 if skin.far else flat.thickness
        for chart, halves in _by_chart(skin):
            plain, solid, loose = _witnesses(skin, halves)
            points = np.column_stack((_carried(plain, development.move), np.full(len(plain), z)))
            if isinstance(chart, PanelChart):
                folded = fold_panel(home @ placed[chart.panel], points)
                folded = np.vstack((folded, fold_panel(flat.panels[chart.panel].placed, points)))
                solid, loose = np.vstack((solid, solid)), np.concatenate((loose, loose))
            else:
                bend = flat.bends[steps[id(chart.step)]]  # type: ignore[attr-defined]
                folded = fold_zone(flat, bend, home @ placed[bend.first], points)
            missed = max(missed, float((np.linalg.norm(folded - solid, axis=1) - loose).max()))
    return missed


def _by_chart(skin: DevelopedSkin) -> Iterable[tuple[Chart, list[int]]]:
    groups: dict[int, tuple[Chart, list[int]]] = {}
    for face, chart in skin.charts.items():
        if face in skin.strips:
            continue
        halves = groups.setdefault(_key(chart), (chart, []))[1]
        halves += skin.shell.faces[face].half_edges
    return groups.values()


def _witnesses(skin: DevelopedSkin, halves: list[int]) -> tuple[Vector, Vector, Vector]:
    """Flat points (n, 2), their places in the solid (n, 3), and how loosely the kernel holds these (n,) [mm]."""
    curves = [skin.shell.curve(h) for h in halves]
    shares = np.array((0.0, 0.5))
    solid = np.vstack([points_at(c, shares) for c in curves])
    plain = np.array([skin.trails[h].at(s) for h in halves for s in (0.0, 0.5)])
    loose = np.repeat([c.tolerance if isinstance(c, FreeCurve) else 0.0 for c in curves], 2)
    return plain, solid, loose


def _carried(points: Vector, move: Vector) -> Vector:
    moved: Vector = points @ move[:2, :2].T + move[:2, 2]
    return moved


def _check_drawn(flat: FlatPattern, development: Development) -> None:
    """By area where lines and arcs of both faces are all; else by distance from both developed faces."""
    loops = (flat.outline, *flat.openings)
    slack = development.near.shell.slack
    drawn = math.fsum(abs(loops[n].signed_area) for n, _ in development.drawn.exact)
    exact = math.fsum(abs(chain_area(chain)) for _, chain in development.drawn.exact)
    room = VOLUME * max(exact, 1.0)
    if slack is not STRICT:
        room += slack.length * math.fsum(loops[n].perimeter for n, _ in development.drawn.exact)
    if abs(exact - drawn) > room:
        text = f"its drawn edges hold {drawn:.6f} mm2, its developed faces {exact:.6f} mm2"
        raise IdentityFailed(Fault("FG904", "the flat", text))
    if not development.drawn.rest:
        return
    exact_loops = {n for n, _ in development.drawn.exact}
    curved = [lp for n, lp in enumerate(loops) if n not in exact_loops]
    if not curved:  # openings of either face that the other one covers: nothing of them is drawn
        return
    rings = [_carried(ring_of(c), development.move) for c in development.drawn.rest]
    strayed = float(Boundary(rings).distance(np.vstack([_edge_spots(lp) for lp in curved])).max())
    points = [np.array(lp.points(1e-3)) for lp in curved]
    beyond = outside_distance(
        np.vstack(rings), None if 0 in exact_loops else points[0], points if 0 in exact_loops else points[1:]
    )
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
    overlapping = area(intersection(shapes[one], shapes[two])) > LEAST_OVERLAP if len(one) else np.zeros(0, dtype=bool)
    for a, b in zip(one[overlapping], two[overlapping], strict=True):
        first, second = (Polygon(loops[n][0].points(), [h.points() for h in loops[n][1]]) for n in (a, b))
        both = first.intersection(second)
        if both.area > LEAST_OVERLAP and not both.buffer(-SLIVER / 2).is_empty:
            x, y = both.representative_point().coords[0]
            text = f"two parts of it cover each other by {both.area:.3f} mm2"
            remedy = "shorten a flange or move a bend: one blank cannot have metal twice in one place"
            raise InputRefused(Fault("FG042", f"the flat, near x {x:.1f}, y {y:.1f}", text, remedy))
