"""The flat itself on paper: edge, openings, bend and sight lines, break lines, extension lines, numbers.

With a schedule the two kinds of line share a bend: the sight line runs from the side of the figures over most of the
metal, the bend line stands at the other end only, so that one is never drawn on the other. Small triangles stand on
a sight line, on the side that is held. Millimetres on paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.openings.findings import OpeningRow
from flatgen.paper.drawing import document
from flatgen.paper.drawing.bench import Pair, sight_lines
from flatgen.paper.drawing.ink import SMALL, Ink
from flatgen.paper.drawing.on_metal import Metal
from flatgen.paper.drawing.text import ASCENT, DESCENT, text_width
from flatgen.paper.pages.frame import CENTRE, EXTENSION
from flatgen.paper.shop_sheet.flat_placing import Placing, break_line
from flatgen.paper.stage_pictures.view import Box

SIGHT_SHARE, BEND_SHARE = 0.7, 0.25
"""Of the metal along a bend: what its sight line takes from the one end, its bend line from the other."""
FORM = "MOVED"
"""Outlines of stretched forms: long-dashed double-dotted, as all outlines before or after forming."""
TRIANGLE = (1.0, 1.8)
"""Half the base and the height of a triangle on a sight line."""
APART = 22.0
"""From triangle to triangle."""
CROSS, LEAST_CROSS = 1.0, 0.8
"""How far a centre mark reaches beyond its opening; least half of it."""
MOST_CROSSES = 300
"""Centres that are marked; more would be a grey field."""
OWN = 0.6
"""From an opening or a corner to its number."""
PAD = 0.4
"""From lettering to the middle of a line."""
NEARER = 0.4
"""A number is nearer to its own opening than to any other by so much."""
GAP = 0.7
"""Kept free about what breaks an extension line."""
LEAST = 0.5
"""Shorter pieces of an extension line are not drawn."""


@dataclass(frozen=True)
class Stretch:
    """An upright or level piece of an extension line, with its pen."""

    start: Point
    end: Point
    pen: str

    @property
    def upright(self) -> bool:
        """Whether it runs along y of the paper."""
        return abs(self.start[0] - self.end[0]) < 1e-9


def draw_flat(placing: Placing, flat: FlatPattern, schedule: Schedule | None) -> Ink:
    """Edge, openings, lines and break lines, from the lower left corner of the blank's box."""
    ink = Ink()
    placing.draw(flat.outline, document.OUTLINE, ink)
    for opening in flat.openings:
        placing.draw(opening, document.OPENINGS, ink)
    for form in flat.forms:
        placing.draw(form, FORM, ink)
    metal = Metal(flat)
    for bend in flat.bends:
        pairs = [pair for s in bend.segments for pair in metal.stretches(*s.centre)]
        pen = document.BEND_NEAR if bend.way == "up" else document.BEND_FAR
        kept = _stretches_on_paper(placing, pairs)
        for start, end in _share(kept, 1.0 - BEND_SHARE, 1.0) if schedule else kept:
            ink.line(pen, start, end)
    for line in sight_lines(flat, schedule) if schedule else ():
        pen = document.SIGHT_NEAR if line.stage.sight.face == "near" else document.SIGHT_FAR
        u, v = line.stage.crease.across
        held = placing.way((-u, -v) if line.stage.sight.held == "first" else (u, v))
        for pair in _share(_stretches_on_paper(placing, list(line.stretches)), 0.0, SIGHT_SHARE):
            ink.line(pen, *pair)
            _triangles(ink, pen, pair, held)
    for start, end in placing.breaks():
        ink.lines.append((EXTENSION, break_line(start, end), False))
    return ink


def centre_marks(placing: Placing, flat: FlatPattern, rows: Sequence[OpeningRow], ink: Ink) -> None:
    """Upright crosses in openings, a little beyond their edge where there is room."""
    if len(rows) > MOST_CROSSES:
        return
    for row, loop in zip(rows, flat.openings, strict=True):
        box, spot = loop.box(), placing.point(row.measured.centre)
        if spot is None or placing.cuts_away(box):
            continue
        web = row.measured.to_opening
        beyond = CROSS if web is None else min(CROSS, 0.3 * web * placing.scale)
        half = min(min(box[2] - box[0], box[3] - box[1]) / 2 * placing.scale + beyond, 4.0)
        if half >= LEAST_CROSS:
            ink.line(CENTRE, (spot[0] - half, spot[1]), (spot[0] + half, spot[1]))
            ink.line(CENTRE, (spot[0], spot[1] - half), (spot[0], spot[1] + half))


def _stretches_on_paper(placing: Placing, pairs: list[Pair]) -> list[Pair]:
    """Stretches of a line on paper, from its lower or left end."""
    if not pairs:
        return []
    spans = [max(p[k] for pair in pairs for p in pair) - min(p[k] for pair in pairs for p in pair) for k in (0, 1)]
    axis = 0 if spans[0] > spans[1] else 1  # a line that is upright but for rounding runs along y

    def place(point: Point) -> float:
        return point[axis]

    ordered = sorted(((min(p, key=place), max(p, key=place)) for p in pairs), key=lambda p: p[0][axis])
    return [part for pair in ordered for part in placing.stretches(*pair)]


def _share(pairs: list[Pair], low: float, high: float) -> list[Pair]:
    """What of stretches in a row lies between two shares of their whole length."""
    whole = sum(math.dist(*p) for p in pairs)
    parts, at = [], 0.0
    for a, b in pairs:
        size = math.dist(a, b)
        first, last = (min(max((s * whole - at) / size, 0.0), 1.0) if size else 0.0 for s in (low, high))
        if last - first > 1e-9:
            ends = [(a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s) for s in (first, last)]
            parts.append((ends[0], ends[1]))
        at += size
    return parts


def _triangles(ink: Ink, pen: str, pair: Pair, held: Point) -> None:
    """Triangles on a stretch of a sight line, their tips toward the held side."""
    size = math.dist(*pair)
    base, tall = TRIANGLE
    if size < 2 * base:
        return
    u = ((pair[1][0] - pair[0][0]) / size, (pair[1][1] - pair[0][1]) / size)
    count = max(1, round(size / APART))
    for n in range(count):
        s = size * (n + 0.5) / count
        x, y = pair[0][0] + s * u[0], pair[0][1] + s * u[1]
        corners = (
            (x - base * u[0], y - base * u[1]),
            (x + base * u[0], y + base * u[1]),
            (x + tall * held[0], y + tall * held[1]),
        )
        for side in ((0, 1), (1, 2), (2, 0)):  # each begins with a dash of its own, whole
            ink.line(pen, *(corners[k] for k in side))


def break_extension_lines(stretches: Iterable[Stretch], texts: Sequence[Box]) -> list[Stretch]:
    """Extension lines with gaps: level ones where they meet upright ones, both at lettering.

    :param texts: boxes of lettering
    """
    every = list(stretches)
    upright = [part for s in every if s.upright for part in _pieces_between(s, texts, [])]
    level = [part for s in every if not s.upright for part in _pieces_between(s, texts, upright)]
    return upright + level


def _pieces_between(stretch: Stretch, texts: Sequence[Box], others: list[Stretch]) -> list[Stretch]:
    axis = 1 if stretch.upright else 0
    at = stretch.start[1 - axis]
    low, high = sorted((stretch.start[axis], stretch.end[axis]))
    holes = [
        (b[axis] - GAP / 2, b[2 + axis] + GAP / 2) for b in texts if b[1 - axis] - GAP / 2 < at < b[3 - axis] + GAP / 2
    ]
    for other in others:
        place, (one, two) = other.start[axis], sorted((other.start[1 - axis], other.end[1 - axis]))
        if one - GAP / 2 < at < two + GAP / 2:
            holes.append((place - GAP, place + GAP))
    kept, begin = [], low
    for first, last in sorted(holes):
        if first > begin:
            kept.append((begin, min(first, high)))
        begin = max(begin, last)
    kept.append((begin, high))
    ends = [(a, b) for a, b in kept if b - a >= LEAST]
    return [
        Stretch((at, a), (at, b), stretch.pen) if stretch.upright else Stretch((a, at), (b, at), stretch.pen)
        for a, b in ends
    ]


def place_numbers(
    placing: Placing, flat: FlatPattern, numbers: Sequence[tuple[str, Any, bool]], drawn: Ink, reach: float
) -> tuple[Ink, list[Box], list[int]]:
    """Numbers beside openings and corners, where they are in nobody's way.

    :param numbers: with the box of what each belongs to, None where that is not drawn; and whether it may stand inside
    :param reach: how far a number may stand outside of the blank's box [mm]
    :returns: lettering, its boxes, and the places in ``numbers`` that found no room
    """
    import shapely

    ink = Ink()
    boxes: list[Box] = []
    lost: list[int] = []
    lines = shapely.STRtree(_shapes(drawn))
    owners = [n for n, one in enumerate(numbers) if one[1] is not None]
    others = shapely.STRtree([shapely.box(*numbers[n][1]) for n in owners])
    for n, (text, box, inside) in enumerate(numbers):
        if box is None:
            continue
        width = text_width(text, SMALL)
        spots = _spots(box, width, inside)
        low, high = (0.0, SMALL) if text.isdigit() else (-DESCENT * SMALL, ASCENT * SMALL)
        room = np.array([(x, y + low, x + width, y + high) for x, y in spots])
        areas = shapely.box(*(room + PAD * np.array([-1.0, -1.0, 1.0, 1.0])).T)
        bad = set(lines.query(areas, predicate="intersects")[0].tolist())
        own = shapely.box(*box)
        gaps = shapely.distance(areas, own) + NEARER  # from edge to edge of what is meant
        near, which = others.query(areas, predicate="dwithin", distance=gaps)
        bad |= {a for a, b in zip(near.tolist(), which.tolist(), strict=True) if owners[b] != n}
        bad |= {
            k
            for k, (x0, y0, x1, y1) in enumerate(room.tolist())
            if x0 < -reach or y0 < -reach or x1 > placing.wide + reach or y1 > placing.tall + reach
            or any(x0 < r + 0.4 and x1 > le - 0.4 and y0 < h + 0.4 and y1 > lo - 0.4 for le, lo, r, h in boxes)
        }  # fmt: skip
        free = [k for k in range(len(spots)) if k not in bad]
        if free:
            ink.text(text, *spots[free[0]])
            x0, y0, x1, y1 = room[free[0]].tolist()
            boxes.append((x0, y0, x1, y1))
        else:
            lost.append(n)
    return ink, boxes, lost


def _spots(box: Box, width: float, inside: bool) -> list[Point]:
    """Places of a number about a box, or in it, the best first."""
    x0, y0, x1, y1 = box
    low, high = y0 - OWN - ASCENT * SMALL, y1 + OWN + DESCENT * SMALL
    left, right, middle = x0 - OWN - width, x1 + OWN, (x0 + x1 - width) / 2
    level = (y0 + y1 - SMALL) / 2
    spots = [
        (right, high - OWN), (right, low + OWN), (left, high - OWN), (left, low + OWN), (right, level + 2.2),
        (right, level - 2.2), (left, level + 2.2), (left, level - 2.2), (right, level), (left, level),
        (middle, high), (middle, low), (x1 - width, high), (x0, high), (x1 - width, low), (x0, low),
    ]  # fmt: skip
    if inside and x1 - x0 > 2 * width + 6 and y1 - y0 > 12:
        spots.insert(0, ((x0 + x1) / 2 + 1.2, (y0 + y1) / 2 + 1.2 + DESCENT * SMALL))
    return spots


def _shapes(ink: Ink) -> list[Any]:
    import shapely

    shapes = [shapely.LineString([*points, points[0]] if closed else points) for _, points, closed in ink.lines]
    shapes += [shapely.Polygon(points) for points in ink.solids]
    shapes += [shapely.Point(c).buffer(r, quad_segs=16).exterior for _, c, r in ink.circles]
    for _, (x, y), radius, first, sweep in ink.arcs:
        turns = [math.radians(first + sweep * k / 16) for k in range(17)]
        shapes.append(shapely.LineString([(x + radius * math.cos(a), y + radius * math.sin(a)) for a in turns]))
    return shapes
