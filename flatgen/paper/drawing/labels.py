"""Labels of bend lines and names of legs: inside the part where there is room, else outside with a leader.

A label fits inside where its box, with a little air, lies in the sheet and touches no bend line, tangent line or
other label; where it keeps half its height from every opening, edge and form; and where its own bend line is the
nearest. All labels of a drawing have one height and one form where they can: of all heights down to a quarter of the
drawing's, and of both forms, the one with room for most labels is taken, the largest first.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal, TypeAlias

import numpy as np

from flatgen.core.flat_pattern import Bend, FlatPattern, Panel, Point
from flatgen.paper.drawing import words
from flatgen.paper.drawing.text import (
    HEIGHTS,
    Box,
    Layout,
    Stroke,
    Text,
    directions,
    lettering_height,
    reading_turn,
    text_box,
    text_width,
)

AIR = 0.25
"""Free room around a label, in heights."""
CLEAR = 0.6
"""From a label to an opening, an edge or a form, in heights: half a height beyond the width of their lines."""
NEARER = 0.3
"""A label is nearer to its own bend line than to any other by this, in heights."""
LEAST_SHARE = 0.25
"""Labels are at least this share of the drawing's lettering."""
LEAST_NUMBER = 0.5
"""Numbers of legs are at least this share of the drawing's lettering, or as high as the labels."""
PLACES = 17
"""Places along a bend line that are tried, on each side of it."""
LabelText: TypeAlias = Callable[[Bend, words.Form], str]
"""The text at the line of a bend, in its long or its short form."""


@dataclass(frozen=True)
class Ground:
    """Shapely's view of a flat: the sheet without its forms, and the lines that no lettering may touch."""

    sheet: Any
    filled: Any
    lines: Any
    centres: Any
    owners: Any

    @classmethod
    def of(cls, flat: FlatPattern) -> Ground:
        """Of a flat, prepared for many queries."""
        import shapely

        outline = flat.outline.points(0.02)
        sheet = shapely.Polygon(outline, [o.points(0.02) for o in flat.openings])
        filled = shapely.Polygon(outline)
        pairs: list[Any] = [pair for b in flat.bends for s in b.segments for pair in (s.centre, *s.tangents)]
        for form in flat.forms:
            sheet = shapely.difference(sheet, shapely.Polygon(form.points(0.02)))
        shapely.prepare(sheet)
        shapely.prepare(filled)
        centres = [(i, shapely.LineString(s.centre)) for i, b in enumerate(flat.bends) for s in b.segments]
        owners = np.array([i for i, _ in centres], dtype=int)
        lines = shapely.STRtree([shapely.LineString(p) for p in pairs])
        return cls(sheet, filled, lines, shapely.STRtree([c for _, c in centres]), owners)

    def free(self, boxes: Any, wide: Any = None) -> Any:
        """Which boxes touch no line and lie in the sheet, the latter with the ``wide`` boxes about them."""
        import shapely

        inside = shapely.contains_properly(self.sheet, boxes if wide is None else wide)
        touched = self.lines.query(boxes, predicate="intersects")[0] if len(self.lines) else []
        inside[np.asarray(touched, dtype=int)] = False
        return inside

    def own(self, bend: int, boxes: Any, air: float) -> Any:
        """Which boxes have the line of this bend nearer than any other, by ``air`` [mm]."""
        import shapely

        mine = shapely.MultiLineString([self.centres.geometries[i] for i in np.flatnonzero(self.owners == bend)])
        reach = shapely.distance(boxes, mine) + air
        near, lines = self.centres.query(boxes, predicate="dwithin", distance=reach)
        good = np.ones(len(boxes), dtype=bool)
        good[near[self.owners[lines] != bend]] = False
        return good


@dataclass(frozen=True)
class PlacedLabels:
    """Labels by index of their bends, and the form and the height [mm] of all of them."""

    texts: dict[int, Text]
    form: words.Form
    height: float


def bend_text(bend: Bend, form: words.Form, inches: bool) -> str:
    """The label of a bend."""
    return words.bend(bend.label, bend.way, bend.angle, bend.inside_radius, bend.order, form=form, inches=inches)


def place_labels(flat: FlatPattern, ground: Ground, height: float, text_of: LabelText) -> PlacedLabels:
    """Labels inside the part, in the form and height (at most ``height`` [mm]) with room for most."""
    least = max(HEIGHTS[1], height * LEAST_SHARE)
    heights = [h for h in reversed(HEIGHTS) if least <= h <= height]
    if height <= HEIGHTS[1]:
        heights.append(HEIGHTS[0])
    best = PlacedLabels({}, _form_outside(flat, height, text_of), height)
    for size in heights:
        for form in ("long", "short"):
            placed = _place_all(flat, ground, form, size, text_of)
            if len(placed.texts) > len(best.texts):
                best = placed
            if len(best.texts) == len(flat.bends):
                return best
    return best


def _form_outside(flat: FlatPattern, height: float, text_of: LabelText) -> words.Form:
    """The form where no label fits inside: long unless that would dwarf the blank."""
    longest = max((text_width(text_of(b, "long"), height) for b in flat.bends), default=0.0)
    return "long" if longest <= max(flat.width, flat.length) / 2 else "short"


def leg_names(
    flat: FlatPattern, ground: Ground, height: float, taken: list[Text], legs: tuple[str, ...] = ()
) -> list[Text]:
    """Names of legs that fit on their leg beside the ``taken`` labels, ``height`` [mm].

    Panels without a name have that of ``legs``, smaller where there is little room, none where too small to find.
    """
    import shapely

    blocked = [shapely.Polygon(t.box) for t in taken]
    texts: list[Text] = []
    for index, panel in enumerate(flat.panels):
        given = words.harmless(panel.name or "")
        name = given or (legs[index] if legs else "")
        least = LEAST_NUMBER * lettering_height(flat)
        smaller = [h for h in reversed(HEIGHTS) if least <= h < height] if not given else []
        for size in (height, *smaller) if name else ():
            text = _leg_name(flat, ground, index, name, size, blocked)
            if text is not None:
                texts.append(text)
                blocked.append(shapely.Polygon(text_box(text.at, text.turn, text.width, size, AIR * size)))
                break
    return texts


def _leg_name(
    flat: FlatPattern, ground: Ground, index: int, name: str, height: float, blocked: list[Any]
) -> Text | None:
    """A leg's name where it fits, or None."""
    import shapely

    panel, turn = flat.panels[index], _leg_turn(flat, index)
    region = shapely.Polygon(panel.outline.points(0.02))
    width = text_width(name, height)
    for at in _leg_starts(panel, turn, width, height):
        area, wide = (shapely.Polygon(text_box(at, turn, width, height, air * height)) for air in (AIR, CLEAR))
        if not region.contains(area) or not ground.free(np.array([area]), np.array([wide]))[0]:
            continue
        if not any(area.distance(other) < 0.8 * height for other in blocked):
            return Text(name, at, height, turn)
    return None


def _place_all(flat: FlatPattern, ground: Ground, form: words.Form, height: float, text_of: LabelText) -> PlacedLabels:
    import shapely

    texts: dict[int, Text] = {}
    taken: list[Any] = []
    for index, bend in enumerate(flat.bends):
        text = text_of(bend, form)
        width = text_width(text, height)
        turn = reading_turn(*bend.centre)
        places = _bend_starts(bend, turn, width, height)
        boxes, wide = (
            shapely.polygons(np.array([text_box(p, turn, width, height, air * height) for p in places]))
            for air in (AIR, CLEAR)
        )
        free = ground.free(boxes, wide)
        if free.any():
            free[free] = ground.own(index, boxes[free], NEARER * height)
        if taken and free.any():
            free &= ~shapely.intersects(boxes[:, None], np.array(taken)[None, :]).any(axis=1)
        if free.any():
            first = int(np.argmax(free))
            texts[index] = Text(text, places[first], height, turn)
            taken.append(boxes[first])
    return PlacedLabels(texts, form, height)


def _bend_starts(bend: Bend, turn: float, width: float, height: float) -> list[Point]:
    """Starts of baselines beside a bend line, the best first: middle before ends, above before below."""
    u, n = directions(turn)
    ends = [p[0] * u[0] + p[1] * u[1] for p in bend.centre]
    level = bend.centre[0][0] * n[0] + bend.centre[0][1] * n[1]
    reach = bend.allowance / 2.0
    above, below = (0.4 + AIR) * height, (1.2 + AIR) * height
    levels = [level + reach + above, level - reach - below]
    if reach > above + below:
        levels += [level + above, level - below]
    middle = (min(ends) + max(ends) - width) / 2.0
    room = max(0.0, abs(ends[1] - ends[0]) - width - 2 * AIR * height) / 2.0
    shifts = sorted((room * k / (PLACES // 2) for k in range(-(PLACES // 2), PLACES // 2 + 1)), key=abs)
    return [((middle + s) * u[0] + v * n[0], (middle + s) * u[1] + v * n[1]) for v in levels for s in shifts]


def _leg_turn(flat: FlatPattern, index: int) -> float:
    """The turn of a leg's name [deg]: along its longest bend, on a flat plate along its longer side."""
    own = [b for b in flat.bends if index in (b.first, b.second)]
    if own:
        return reading_turn(*max(own, key=lambda b: b.length).centre)
    return 0.0 if flat.width >= flat.length else 90.0


def _leg_starts(panel: Panel, turn: float, width: float, height: float) -> list[Point]:
    """Starts of baselines on a leg, from its middle outward."""
    u, n = directions(turn)
    points = panel.outline.points(0.1)
    along = [p[0] * u[0] + p[1] * u[1] for p in points]
    across = [p[0] * n[0] + p[1] * n[1] for p in points]
    spots = []
    for a in (0.5, 0.25, 0.75, 0.12, 0.88):
        for c in (0.5, 0.35, 0.65, 0.2, 0.8):
            s = min(along) + a * (max(along) - min(along)) - width / 2.0
            v = min(across) + c * (max(across) - min(across)) - height / 2.0
            spots.append((math.hypot(a - 0.5, c - 0.5), s, v))
    spots.sort(key=lambda spot: spot[0])
    return [(s * u[0] + v * n[0], s * u[1] + v * n[1]) for _, s, v in spots]


Edge = Literal["above", "below", "left", "right"]
START, LEVEL, TAIL, PITCH = 0.3, 0.7, 0.4, 1.75
"""In heights: outline to leader, box to where the fan begins, fan to label, label to label."""
SLOPE = 0.35
"""Rise of the fan per largest shift in it."""
SLANTS = (0.0, 15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 75.0, -75.0)


@dataclass(frozen=True)
class Ray:
    """The part of a leader inside the box: bend index, ends, and the edge where it leaves."""

    bend: int
    start: Point
    end: Point
    edge: Edge


@dataclass(frozen=True)
class OutsideLabels:
    """Labels with leaders, the edges that they stand at, and the bends without a way out."""

    layout: Layout
    edges: frozenset[Edge]
    lost: tuple[int, ...]


def lead_out(bends: dict[int, tuple[Bend, str]], box: Box, ground: Ground, height: float) -> OutsideLabels:
    """Place labels outside the ``box`` of a blank, with leaders, in lettering of ``height`` [mm]."""
    x0, y0, x1, y1 = box
    out = LEVEL * height
    wide = (x0 - out, y0 - out, x1 + out, y1 + out)
    rays: list[Ray] = []
    lines: list[Any] = []
    for index, (bend, _) in bends.items():
        way = _way_out(index, bend, wide, ground, height, lines)
        if way is not None:
            rays.append(way[0])
            lines.append(way[1])
    texts = {index: text for index, (_, text) in bends.items()}
    layout, reach = Layout(), wide
    kept: list[int] = []
    for edge in ("above", "below", "right", "left"):
        some = [r for r in rays if r.edge == edge]
        part, some = _without_crossings(some, texts, reach, height, edge, layout)
        layout += part
        kept += [r.bend for r in some]
        if edge == "below":
            reach = _side_box(wide, layout, height)
    edges = frozenset(r.edge for r in rays if r.bend in kept)
    return OutsideLabels(layout, edges, tuple(i for i in bends if i not in kept))


def spread(wanted: list[float], distance: float) -> list[float]:
    """Places nearest to the ``wanted`` ones, in their order, at least ``distance`` apart [mm].

    Two that want the same place 2 mm apart step aside by 1 mm each.

    >>> spread([5.0, 5.0, 20.0], 2.0)
    [4.0, 6.0, 20.0]
    """
    blocks: list[tuple[float, int]] = []
    for i, wish in enumerate(wanted):
        total, count = wish - i * distance, 1
        while blocks and blocks[-1][0] / blocks[-1][1] >= total / count:
            before, more = blocks.pop()
            total, count = total + before, count + more
        blocks.append((total, count))
    means = [total / count for total, count in blocks for _ in range(count)]
    return [m + i * distance for i, m in enumerate(means)]


def _way_out(
    index: int, bend: Bend, wide: Box, ground: Ground, height: float, taken: list[Any]
) -> tuple[Ray, Any] | None:
    """The first ray from an end of a bend line to the box that crosses nothing, straight ones first."""
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


def _ray(index: int, end: Point, way: float, wide: Box, height: float) -> Ray:
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
    rays: list[Ray], texts: dict[int, str], reach: Box, height: float, edge: Edge, before: Layout
) -> tuple[Layout, list[Ray]]:
    """The labels of one edge and their rays; rays in conflict with others go one at a time."""
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


def _fan(rays: list[Ray], texts: dict[int, str], reach: Box, height: float, edge: Edge) -> list[Layout]:
    """Leader and label of each ray, in their order along the edge."""
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
    """Strokes through all points, merged where straight."""
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
    back = 0.0 if sign > 0 else -text_width(text, height)
    gap = sign * TAIL * height
    if axis == 0:
        return Text(text, (slot + height / 2, end[1] + gap + back), height, 90.0)
    return Text(text, (end[0] + gap + back, slot - height / 2), height, 0.0)


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


def _side_box(wide: Box, layout: Layout, height: float) -> Box:
    """The box for labels at the left and right: beyond those above and below."""
    xs = [p[0] for p in layout.points()]
    if not xs:
        return wide
    return (min(wide[0], min(xs) - height), wide[1], max(wide[2], max(xs) + height), wide[3])
