"""How much metal is left about the openings of a flat: to tangent lines, to the edge, to one another [mm].

An opening is its *core* grown by a *reach*: a circle is its centre and its radius, a slot the line between the centres
of its ends and half its width, a rounded rectangle the rectangle of its corners' centres and their radius, a polygon
itself and 0. Distances of cores less the reaches are exact. Any other shape is a polygon of chords, and distances are
less by the slack of its chords: never overstated, and true within 0.01 mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flatgen.core.flat_pattern import Arc, FlatPattern, Loop, Point

_SAGITTA = 0.002
"""Chords of curves lie within this of them [mm]."""
_SAME = 1e-6
"""Metal thinner than this is none [mm]."""
_EQUAL = 1e-9
"""Radii and places that differ by less are the same [mm]."""
_SQUARE = 1e-6
"""Corners of a rectangle are off by less [mm]."""

Form = Literal["round", "slot", "rectangle", "other"]
Array = NDArray[Any]


@dataclass(frozen=True)
class Surroundings:
    """Openings and what they are measured against; ``outline`` is None where the edge is not known.

    ``tangents`` are (bend, from, to), ``bands`` the corners of each bend's zone, its openings and notches not left
    out, ``legs`` the outlines of each flat part.
    """

    outline: Loop | None
    openings: tuple[Loop, ...]
    tangents: tuple[tuple[str, Point, Point], ...] = ()
    bands: tuple[tuple[str, tuple[Point, ...]], ...] = ()
    legs: tuple[tuple[Loop, ...], ...] = ()


@dataclass(frozen=True)
class MeasuredOpening:
    """One opening of a flat, lengths in [mm].

    ``form``: a rectangle may have its corners rounded alike. ``centre``: of form ``other`` the middle of its extents.
    ``size``: of a round one twice the diameter; of a slot or a rectangle its own, however it is turned, the side nearer
    to x first; of form ``other`` extents in x and y. ``legs``: indices of the flat parts that it takes metal from;
    ``bends``: labels of those it runs over. ``to_tangent``: metal to the nearest tangent line, of bend ``tangent_of``,
    0 if it reaches over it, None without bends; ``to_edge``: None where the edge is not known; ``to_opening``: to the
    ``nearest`` other opening (index), None where it is alone.
    """

    form: Form
    centre: Point
    size: tuple[float, float]
    legs: tuple[int, ...] = ()
    bends: tuple[str, ...] = ()
    to_tangent: float | None = None
    tangent_of: str | None = None
    to_edge: float | None = None
    to_opening: float | None = None
    nearest: int | None = None


def surroundings_of(flat: FlatPattern) -> Surroundings:
    """Those of a flat pattern; legs are its panels, in their order."""
    return Surroundings(
        flat.outline,
        flat.openings,
        tuple((b.label, *line) for b in flat.bends for s in b.segments for line in s.tangents if line[0] != line[1]),
        tuple((b.label, (*b.tangents[0], *reversed(b.tangents[1]))) for b in flat.bends),
        tuple(tuple(r.outline for r in p.regions) for p in flat.panels),
    )


def measure(surroundings: Surroundings) -> tuple[MeasuredOpening, ...]:
    """Measure every opening, in their order.

    A hole of 6 at (10, 12) in a sheet of 40 x 30: 10 - 3 = 7 to the left edge.

    >>> from flatgen.core.flat_pattern import Line
    >>> corners = [(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)]
    >>> sheet = Loop(tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1])))
    >>> measure(Surroundings(sheet, (Loop((Arc((10.0, 12.0), 3.0, 0.0, -360.0),)),)))[0].to_edge
    7.0
    """
    if not surroundings.openings:
        return ()
    shapes = _Shapes.of(surroundings.openings)
    tangents, owners = _to_tangents(surroundings, shapes)
    edges = _to_edge(surroundings.outline, shapes)
    webs, others = _to_openings(shapes)
    legs = _met(
        shapes, [(n, loop.points(_SAGITTA)) for n, loops in enumerate(surroundings.legs) for loop in loops], _SAME
    )
    bends = _met(shapes, list(enumerate(corners for _, corners in surroundings.bands)), -_SAME)
    rows = []
    for n, (form, centre, size) in enumerate(shapes.facts):
        over = tuple(surroundings.bands[b][0] for b in sorted(bends[n]))
        tangent = None if tangents is None else float(tangents[n])
        owner = None if tangents is None else owners[n]
        edge = None if edges is None else float(edges[n])
        web, other = (float(webs[n]), int(others[n])) if math.isfinite(webs[n]) else (None, None)
        rows.append(MeasuredOpening(form, centre, size, tuple(sorted(legs[n])), over, tangent, owner, edge, web, other))
    return tuple(rows)


def overlapping(loops: Sequence[Loop]) -> bool:
    """Whether any two openings take away the same metal."""
    if len(loops) < 2:
        return False
    import shapely

    shapes = _Shapes.of(loops)
    grown = shapes.reaches + shapes.slacks
    reach = grown + grown.max() + _SAME
    a, b = shapely.STRtree(shapes.cores).query(shapes.cores, predicate="dwithin", distance=reach)
    metal = shapely.distance(shapes.cores[a], shapes.cores[b]) - grown[a] - grown[b]
    return bool((metal[a != b] <= _SAME).any())


@dataclass(frozen=True)
class _Shapes:
    """Openings as cores with their reaches, the slack of chords, and form, centre and size of each."""

    cores: Array
    reaches: Array
    slacks: Array
    facts: tuple[tuple[Form, Point, tuple[float, float]], ...]

    @classmethod
    def of(cls, loops: Sequence[Loop]) -> _Shapes:
        import shapely

        cores, reaches, slacks, facts = [], [], [], []
        for loop in loops:
            points, reach, slack = _core(loop)
            make = (shapely.Point, shapely.LineString)[len(points) - 1] if len(points) <= 2 else shapely.Polygon
            cores.append(make(points[0] if len(points) == 1 else points))
            reaches.append(reach)
            slacks.append(slack)
            facts.append(_facts(loop, points, reach))
        return cls(np.array(cores, dtype=object), np.array(reaches), np.array(slacks), tuple(facts))

    def less(self, distances: Array, which: Array) -> Array:
        """Metal beyond the edge of openings whose cores are at some distances."""
        metal: Array = np.maximum(distances - self.reaches[which] - self.slacks[which], 0.0)
        return metal


def _facts(loop: Loop, points: list[Point], reach: float) -> tuple[Form, Point, tuple[float, float]]:
    """Form, centre and size of an opening, by the points of its core and its reach."""
    if len(points) <= 2 or _square(points):
        form: Form = "round" if len(points) == 1 else "slot" if len(points) == 2 else "rectangle"
        first, across = points[0], points[len(points) // 2]
        centre = ((first[0] + across[0]) / 2, (first[1] + across[1]) / 2)
        second = points[1 % len(points)]
        one, two = math.dist(first, second), math.dist(second, across)
        lies = abs(second[0] - first[0]) >= abs(second[1] - first[1])
        sides = (one, two) if lies else (two, one)
        return form, centre, (sides[0] + 2 * reach, sides[1] + 2 * reach)
    x0, y0, x1, y1 = loop.box()
    return "other", ((x0 + x1) / 2, (y0 + y1) / 2), (x1 - x0, y1 - y0)


def _square(points: list[Point]) -> bool:
    """Whether points are the corners of a rectangle: its diagonals have one middle and one length."""
    if len(points) != 4:
        return False
    a, b, c, d = points
    middles = math.hypot(a[0] + c[0] - b[0] - d[0], a[1] + c[1] - b[1] - d[1])
    return middles <= _SQUARE and abs(math.dist(a, c) - math.dist(b, d)) <= _SQUARE


def _core(loop: Loop) -> tuple[list[Point], float, float]:
    """Points of the core (one, two, or a polygon's), the reach, and the slack of chords."""
    arcs = [p for p in loop if isinstance(p, Arc)]
    if not arcs:
        return [p.start for p in loop], 0.0, 0.0
    reach = arcs[0].radius
    centres: list[Point] = []
    for arc in arcs:
        if not centres or math.dist(arc.centre, centres[-1]) > _EQUAL:
            centres.append(arc.centre)
    if len(centres) > 1 and math.dist(centres[0], centres[-1]) <= _EQUAL:
        centres.pop()
    turn = math.fsum(a.sweep for a in arcs)
    rounded = all(abs(a.radius - reach) <= _EQUAL and a.sweep * turn > 0 for a in arcs)
    if rounded and abs(abs(turn) - 360.0) < 1e-6 and _hugged(loop, centres, reach):
        return centres, reach, 0.0
    return loop.points(_SAGITTA), 0.0, _SAGITTA


def _hugged(loop: Loop, centres: list[Point], reach: float) -> bool:
    """Whether a loop is what lies within ``reach`` of the polygon of its arcs' centres: areas and perimeters tell."""
    sides = [math.dist(a, b) for a, b in zip(centres, centres[1:] + centres[:1], strict=True)]
    terms = (a[0] * b[1] - b[0] * a[1] for a, b in zip(centres, centres[1:] + centres[:1], strict=True))
    around = math.fsum(sides)
    area = abs(math.fsum(terms)) / 2 + around * reach + math.pi * reach * reach
    size = max(1.0, loop.perimeter)
    return (
        abs(loop.perimeter - around - 2 * math.pi * reach) <= _EQUAL * size
        and abs(loop.area - area) <= _EQUAL * size * size
    )


def _to_tangents(surroundings: Surroundings, shapes: _Shapes) -> tuple[Array | None, list[str]]:
    import shapely

    if not surroundings.tangents:
        return None, []
    tree = shapely.STRtree(shapely.linestrings(np.array([(a, b) for _, a, b in surroundings.tangents])))
    (which, lines), distances = tree.query_nearest(shapes.cores, return_distance=True, all_matches=False)
    metal, owners = np.zeros(len(shapes.cores)), [""] * len(shapes.cores)
    metal[which] = shapes.less(distances, which)
    for opening, line in zip(which, lines, strict=True):
        owners[int(opening)] = surroundings.tangents[int(line)][0]
    return metal, owners


def _to_edge(outline: Loop | None, shapes: _Shapes) -> Array | None:
    """To the pieces of an outline; from circles to arcs by their centres, all else by chords."""
    import shapely

    if outline is None:
        return None
    pieces = outline.pieces
    slacks = np.array([_SAGITTA if isinstance(p, Arc) else 0.0 for p in pieces])
    chords = [[*Loop((p,)).points(_SAGITTA), p.end] if isinstance(p, Arc) else [p.start, p.end] for p in pieces]
    tree = shapely.STRtree([shapely.LineString(points) for points in chords])
    (which, _), nearest = tree.query_nearest(shapes.cores, return_distance=True, all_matches=False)
    reach = np.zeros(len(shapes.cores))
    reach[which] = nearest + 2 * _SAGITTA
    which, near = tree.query(shapes.cores, predicate="dwithin", distance=reach)
    distances = shapely.distance(shapes.cores[which], tree.geometries[near]) - slacks[near]
    for row, (opening, piece) in enumerate(zip(which.tolist(), near.tolist(), strict=True)):
        arc = pieces[piece]
        if isinstance(arc, Arc) and shapes.facts[opening][0] == "round":
            distances[row] = _to_arc(shapes.facts[opening][1], arc)
    metal = np.full(len(shapes.cores), np.inf)
    np.minimum.at(metal, which, shapes.less(distances, which))
    return metal


def _to_arc(point: Point, arc: Arc) -> float:
    dx, dy = point[0] - arc.centre[0], point[1] - arc.centre[1]
    way = math.degrees(math.atan2(dy, dx))
    low = arc.first if arc.sweep > 0 else arc.first + arc.sweep
    if (way - low) % 360.0 <= abs(arc.sweep):
        return abs(math.hypot(dx, dy) - arc.radius)
    return min(math.dist(point, arc.start), math.dist(point, arc.end))


def _to_openings(shapes: _Shapes) -> tuple[Array, Array]:
    """Metal to the nearest other opening, infinite without one; those that overlap are one hole and not meant."""
    import shapely

    count = len(shapes.cores)
    best, other = np.full(count, np.inf), np.full(count, -1)
    if count < 2:
        return best, other
    tree = shapely.STRtree(shapes.cores)
    grown = shapes.reaches + shapes.slacks
    x0, y0, x1, y1 = (shapely.bounds(shapes.cores).T[i] for i in range(4))
    whole = math.hypot(x1.max() - x0.min(), y1.max() - y0.min()) + 2 * float(grown.max()) + 1.0
    radius = np.full(count, 0.0)
    (which, _), distances = tree.query_nearest(shapes.cores, exclusive=True, return_distance=True, all_matches=False)
    radius[which] = distances
    radius += grown.max() * 2 + _SAME
    open_ = np.arange(count)
    while len(open_):
        a, b = tree.query(shapes.cores[open_], predicate="dwithin", distance=radius[open_])
        a = open_[a]
        a, b = a[a != b], b[a != b]
        metal = shapely.distance(shapes.cores[a], shapes.cores[b]) - grown[a] - grown[b]
        a, b, metal = a[metal > _SAME], b[metal > _SAME], metal[metal > _SAME]
        order = np.lexsort((b, metal, a))
        first = order[np.unique(a[order], return_index=True)[1]]
        best[a[first]], other[a[first]] = metal[first], b[first]
        needed = np.minimum(best[open_] + grown[open_] + grown.max(), whole)
        left = needed > radius[open_]
        radius[open_] = np.where(np.isfinite(best[open_]), needed, np.minimum(4 * radius[open_] + 1.0, whole))
        open_ = open_[left]
    return best, other


def _met(shapes: _Shapes, areas: list[tuple[int, Sequence[Point]]], margin: float) -> list[set[int]]:
    """For each opening the numbers of the areas, grown by ``margin``, that it takes metal from."""
    import shapely

    met: list[set[int]] = [set() for _ in shapes.cores]
    if not areas:
        return met
    polygons = np.array([shapely.Polygon(points) for _, points in areas], dtype=object)
    if margin < 0:
        polygons = shapely.buffer(polygons, margin, join_style="mitre")
    numbers = [n for n, _ in areas]
    tree = shapely.STRtree(polygons)
    slack = shapes.slacks if margin > 0 else -shapes.slacks
    distances = np.maximum(shapes.reaches + slack + max(margin, 0.0), 0.0)
    for opening, area in tree.query(shapes.cores, predicate="dwithin", distance=distances).T.tolist():
        met[opening].add(numbers[area])
    return met
