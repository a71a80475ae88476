"""Labels that find no room inside the part, led out beyond its outline.

A leader begins just outside of the outline at an end of its bend line, runs on along the bend line to the
edge of the blank's box, then fans out to its label. The labels of one edge stand side by side in the order
in which their leaders arrive, so that the fan cannot cross itself; their places are the least-squares ones
under a least distance (pool adjacent violators; Barlow et al., Statistical Inference under Order
Restrictions, 1972, memory). Labels above and below come first; those at the left and right begin beyond
them.

A leader that would cross the sheet or another leader is tried from the other end and at slanted directions; a
bend that finds none is listed in the notes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal, TypeAlias

from flatgen.core.flat_pattern import Bend, Point
from flatgen.paper.drawing import typeface
from flatgen.paper.drawing.labels import Ground
from flatgen.paper.drawing.paper import Layout, Stroke, Text

Frame: TypeAlias = tuple[float, float, float, float]
Edge = Literal["above", "below", "left", "right"]

START, LEVEL, TAIL, PITCH = 0.3, 0.7, 0.4, 1.75
"""In heights: outline to leader, box to where the fan begins, fan to label, label to label."""
SLOPE = 0.35
"""Rise of the fan per largest shift in it."""
SLANTS = (0.0, 15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 75.0, -75.0)


@dataclass(frozen=True)
class Ray:
    """The part of a leader inside of the box: bend index, where it begins and leaves, through which edge."""

    bend: int
    start: Point
    end: Point
    edge: Edge


@dataclass(frozen=True)
class LedOut:
    """Labels led out, which edges they stand at, and the bends that found no way."""

    layout: Layout
    edges: frozenset[Edge]
    lost: tuple[int, ...]


def lead_out(bends: dict[int, tuple[Bend, str]], frame: Frame, ground: Ground, height: float) -> LedOut:
    """Lead labels out of the ``frame`` (x0, y0, x1, y1) [mm] of a blank, lettering of ``height`` [mm]."""
    x0, y0, x1, y1 = frame
    out = LEVEL * height
    wide = (x0 - out, y0 - out, x1 + out, y1 + out)
    rays: list[Ray] = []
    lines: list[Any] = []
    for index, (bend, _) in bends.items():
        found = _way_out(index, bend, wide, ground, height, lines)
        if found is not None:
            rays.append(found[0])
            lines.append(found[1])
    texts = {index: text for index, (_, text) in bends.items()}
    layout, reach = Layout(), wide
    kept: list[int] = []
    for edge in ("above", "below", "right", "left"):
        some = [r for r in rays if r.edge == edge]
        part, some = _without_crossings(some, texts, reach, height, edge, layout)
        layout += part
        kept += [r.bend for r in some]
        if edge == "below":
            reach = _grown(wide, layout, height)
    edges = frozenset(r.edge for r in rays if r.bend in kept)
    return LedOut(layout, edges, tuple(i for i in bends if i not in kept))


def spread(wanted: list[float], distance: float) -> list[float]:
    """Places nearest to the ``wanted`` ones, in their order, with a least ``distance`` between them [mm].

    Two that want the same place 2 mm apart step aside by 1 mm each.

    >>> spread([5.0, 5.0, 20.0], 2.0)
    [4.0, 6.0, 20.0]
    """
    blocks: list[tuple[float, int]] = []
    for i, place in enumerate(wanted):
        total, count = place - i * distance, 1
        while blocks and blocks[-1][0] / blocks[-1][1] >= total / count:
            before, more = blocks.pop()
            total, count = total + before, count + more
        blocks.append((total, count))
    means = [total / count for total, count in blocks for _ in range(count)]
    return [m + i * distance for i, m in enumerate(means)]


def _way_out(
    index: int, bend: Bend, wide: Frame, ground: Ground, height: float, taken: list[Any]
) -> tuple[Ray, Any] | None:
    """The first way from an end of a bend line to the box that crosses nothing, straight ones first."""
    import shapely

    (ax, ay), (bx, by) = bend.centre
    turn = math.degrees(math.atan2(by - ay, bx - ax))
    ends = [((bx, by), turn), ((ax, ay), turn + 180.0)]
    ends.sort(key=lambda e: -round(math.sin(math.radians(e[1])) + 0.5 * math.cos(math.radians(e[1])), 6))
    for slant in SLANTS:
        for end, way in ends:
            ray = _ray(index, end, way + slant, wide, height)
            line = shapely.LineString((ray.start, ray.end))
            if ground.filled.intersects(line):
                continue
            if not taken or shapely.distance(line, taken).min() >= 0.1 * height:
                return ray, line
    return None


def _ray(index: int, end: Point, way: float, wide: Frame, height: float) -> Ray:
    cos, sin = math.cos(math.radians(way)), math.sin(math.radians(way))
    start = (end[0] + START * height * cos, end[1] + START * height * sin)
    x0, y0, x1, y1 = wide
    runs: list[tuple[float, Edge]] = []
    if sin > 1e-9:
        runs.append(((y1 - start[1]) / sin, "above"))
    if sin < -1e-9:
        runs.append(((y0 - start[1]) / sin, "below"))
    if cos > 1e-9:
        runs.append(((x1 - start[0]) / cos, "right"))
    if cos < -1e-9:
        runs.append(((x0 - start[0]) / cos, "left"))
    run, edge = min(runs)
    return Ray(index, start, (start[0] + run * cos, start[1] + run * sin), edge)


def _without_crossings(
    rays: list[Ray],
    texts: dict[int, str],
    reach: Frame,
    height: float,
    edge: Edge,
    before: Layout,
) -> tuple[Layout, list[Ray]]:
    """The labels of one edge; a ray whose leader or label meets those before is left out, one at a time."""
    while rays:
        parts = _fan(rays, texts, reach, height, edge)
        bad = _first_conflict(parts, before)
        if bad is None:
            whole = Layout()
            for part in parts:
                whole += part
            return whole, sorted(rays, key=_key(edge))
        rays = [r for i, r in enumerate(sorted(rays, key=_key(edge))) if i != bad]
    return Layout(), []


def _key(edge: Edge) -> Any:
    axis = 0 if edge in ("above", "below") else 1
    return lambda ray: ray.end[axis]


def _fan(rays: list[Ray], texts: dict[int, str], reach: Frame, height: float, edge: Edge) -> list[Layout]:
    """Leader and label of each ray, in the order in which they arrive at the edge."""
    axis = 0 if edge in ("above", "below") else 1
    rays = sorted(rays, key=_key(edge))
    wanted = [r.end[axis] for r in rays]
    slots = spread(wanted, PITCH * height)
    sign = 1.0 if edge in ("above", "right") else -1.0
    base = {"left": reach[0], "below": reach[1], "right": reach[2], "above": reach[3]}[edge]
    shift = max(abs(s - w) for s, w in zip(slots, wanted, strict=True))
    top = base + sign * max(height, SLOPE * shift)
    parts = []
    for ray, slot in zip(rays, slots, strict=True):
        at = ray.end[axis]
        bends = [_point(axis, at, base), _point(axis, slot, top), _point(axis, slot, top + sign * height / 2)]
        parts.append(Layout((_label(texts[ray.bend], axis, slot, bends[-1], sign, height),), _chain(ray, bends)))
    return parts


def _point(axis: int, along: float, out: float) -> Point:
    return (along, out) if axis == 0 else (out, along)


def _chain(ray: Ray, bends: list[Point]) -> tuple[Stroke, ...]:
    """Strokes through all points, those on one straight line joined."""
    chain: list[Point] = [ray.start]
    for point in (ray.end, *bends):
        if math.dist(point, chain[-1]) < 1e-9:
            continue
        if len(chain) > 1 and _straight(chain[-2], chain[-1], point):
            chain[-1] = point
        else:
            chain.append(point)
    return tuple(Stroke(a, b) for a, b in pairwise(chain))


def _straight(a: Point, b: Point, c: Point) -> bool:
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    return abs(cross) < 1e-9 * max(1.0, math.dist(a, b) * math.dist(b, c))


def _label(text: str, axis: int, slot: float, end: Point, sign: float, height: float) -> Text:
    run = 0.0 if sign > 0 else -typeface.width(text, height)
    gap = sign * TAIL * height
    if axis == 0:
        return Text(text, (slot + height / 2, end[1] + gap + run), height, 90.0)
    return Text(text, (end[0] + gap + run, slot - height / 2), height, 0.0)


def _first_conflict(parts: list[Layout], before: Layout) -> int | None:
    """Index of the first label whose leader or box meets another's, or None."""
    import shapely

    shapes = [shapely.Polygon(t.box) for t in before.texts]
    shapes += [shapely.LineString((s.start, s.end)) for s in before.strokes]
    owners = [-1] * len(shapes)
    for index, part in enumerate(parts):
        own = [shapely.Polygon(part.texts[0].box)]
        own.append(shapely.LineString([part.strokes[0].start, *(s.end for s in part.strokes)]))
        shapes += own
        owners += [index, index]
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    hits = [owners[b] for a, b in zip(first, second, strict=True) if owners[a] < owners[b]]
    return min(hits) if hits else None


def _grown(wide: Frame, layout: Layout, height: float) -> Frame:
    """The box for the labels at the left and right: beyond those above and below."""
    xs = [p[0] for p in layout.points()]
    if not xs:
        return wide
    return (min(wide[0], min(xs) - height), wide[1], max(wide[2], max(xs) + height), wide[3])
