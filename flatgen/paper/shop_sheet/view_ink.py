"""One view on paper: its lines at a scale, its overall sizes, break lines, and how much paper it takes.

Lines after ISO 128 (visible edges wide, hidden ones narrow and dashed, smooth ones narrow and not touching others,
break lines narrow with zigzags, 0.7 mm at least between parallel lines), sizes after ISO 129-1 (narrow lines, filled
arrowheads, figures above the line, read from below or from the right); both from memory.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import Arc, Point
from flatgen.definition.solid.view_lines import Polyline, Span, View
from flatgen.paper.drawing import words
from flatgen.paper.drawing.ink import HEAD, SMALL, Ink
from flatgen.paper.drawing.text import text_box, text_width
from flatgen.paper.pages.frame import EXTENSION, HIDDEN, VISIBLE
from flatgen.paper.stage_pictures.view import Axis, Box, Window

Side = Literal["above", "below", "left", "right"]
SMOOTH = EXTENSION
"""Smooth edges are narrow continuous lines, as dimension lines are."""
NEAREST = 0.7
"""Between parallel lines on paper at least [mm]."""
SQUARE = 5.0
"""Side of the squares by which lines are found [mm]."""
OUT, BEYOND, CLEAR = 9.0, 1.5, 1.0
"""A dimension line from the outline, extension lines beyond it, and their gap at the outline [mm]."""
SHORT_OF = 1.0
"""A smooth edge ends before other lines by this [mm]."""
PAD = 1e-4
"""Around what a view shows, so that no line is lost for rounding [mm]."""


@dataclass(frozen=True)
class PlacedView:
    """A view on paper, the lower left corner of its outline at the origin; ``merged``: lines were left out."""

    ink: Ink
    wide: float
    tall: float
    merged: bool = False

    @property
    def reach(self) -> Box:
        """What it takes up with its sizes [mm]."""
        return extents(self.ink)


def size_text(size: float, *, inches: bool) -> str:
    """A size [mm] without its unit.

    >>> size_text(640.04, inches=False), size_text(25.4, inches=True)
    ('640', '1')
    """
    return words.length(size, inches=inches).split()[0]


def place_view(view: View, box: Box, scale: float, kept: Sequence[Span] = (), *, fine: bool = False) -> PlacedView:
    """A view at a scale: what of it lies in a box; of its length the ``kept`` stretches, if there are any."""
    spans = kept or ((box[0], box[2]),)
    padded = [[a, b] for a, b in spans]
    padded[0][0] -= PAD
    padded[-1][1] += PAD
    window = Window(Axis(tuple((a, b) for a, b in padded), scale), Axis(((box[1] - PAD, box[3] + PAD),), scale))
    ink, merged = Ink(), False
    visible, hidden, smooth = (_on_paper(pieces, window) for pieces in (view.visible, view.hidden, view.smooth))
    index = _LineIndex(visible)
    for piece in visible:
        _draw(ink, SMOOTH if fine else VISIBLE, piece)
    for pen, pieces in ((HIDDEN, hidden), (SMOOTH, smooth)):
        for piece in pieces:
            for part in _parts(piece):
                if index.near(part):
                    merged = True
                else:
                    index.add(part)
                    _draw(ink, pen, _shortened(part) if pen == SMOOTH else part)
    _breaks(ink, window)
    moved = Ink()
    moved.add(ink, -PAD * scale, -PAD * scale)
    return PlacedView(moved, window.x.size - 2 * PAD * scale, window.y.size - 2 * PAD * scale, merged)


def _on_paper(pieces: Iterable[Polyline | Arc], window: Window) -> list[Polyline | Arc]:
    drawn: list[Polyline | Arc] = []
    for piece in pieces:
        if isinstance(piece, Polyline):
            drawn += [Polyline(points) for points in window.polylines(piece.points, closed=False)]
            continue
        centre = window.place(piece.centre) if len(window.x.kept) == 1 else None
        if centre is None and len(window.x.kept) == 1:
            (a, _), (c, _) = window.x.kept[0], window.y.kept[0]
            centre = ((piece.centre[0] - a) * window.scale, (piece.centre[1] - c) * window.scale)
        if centre is not None:
            drawn.append(Arc(centre, piece.radius * window.scale, piece.first, piece.sweep))
            continue
        steps = max(4, math.ceil(abs(piece.sweep) / 6.0))
        chords = [piece.at(n / steps) for n in range(steps + 1)]
        drawn += [Polyline(points) for points in window.polylines(chords, closed=False)]
    return drawn


class _LineIndex:
    """Lines on paper by the squares that they lie in, to find what runs beside one."""

    def __init__(self, pieces: Iterable[Polyline | Arc]) -> None:
        self.lines: dict[tuple[int, int], list[tuple[Point, Point]]] = defaultdict(list)
        self.arcs: dict[tuple[int, int], list[Arc]] = defaultdict(list)
        for piece in pieces:
            for part in _parts(piece):
                self.add(part)

    def add(self, part: Polyline | Arc) -> None:
        if isinstance(part, Arc):
            self.arcs[_square(part.centre)].append(part)
            return
        pair = (part.points[0], part.points[-1])
        for square in _squares(*pair):
            self.lines[square].append(pair)

    def near(self, part: Polyline | Arc) -> bool:
        """Whether a line runs beside others, nearer than is drawn, over all of its length."""
        if isinstance(part, Arc):
            return any(
                math.dist(part.centre, a.centre) < NEAREST and abs(part.radius - a.radius) < NEAREST
                for square in _neighbours(_square(part.centre))
                for a in self.arcs.get(square, ())
            )
        start, end = part.points[0], part.points[-1]
        if math.dist(start, end) < NEAREST:
            return True
        about = {square for own in _squares(start, end) for square in _neighbours(own)}
        return _covered(start, end, {pair for square in about for pair in self.lines.get(square, ())})


def _covered(start: Point, end: Point, lines: Iterable[tuple[Point, Point]]) -> bool:
    """Whether lines beside it leave nothing of a line."""
    (x0, y0), long = start, math.dist(start, end)
    u, v = (end[0] - x0) / long, (end[1] - y0) / long
    spans: list[Span] = []
    for pair in lines:
        if max(abs(u * (y - y0) - v * (x - x0)) for x, y in pair) < NEAREST - 1e-6:
            one, two = sorted(u * (x - x0) + v * (y - y0) for x, y in pair)
            spans.append((one - NEAREST, two + NEAREST))
    at = 0.0
    for low, high in sorted(spans):
        if low > at:
            break
        at = max(at, high)
    return at >= long


def _square(point: Point) -> tuple[int, int]:
    return math.floor(point[0] / SQUARE), math.floor(point[1] / SQUARE)


def _neighbours(square: tuple[int, int]) -> list[tuple[int, int]]:
    return [(square[0] + i, square[1] + k) for i in (-1, 0, 1) for k in (-1, 0, 1)]


def _squares(start: Point, end: Point) -> set[tuple[int, int]]:
    """Squares along a line; with those about them they hold all that is near."""
    steps = max(1, math.ceil(math.dist(start, end) / SQUARE))
    shares = [n / steps for n in range(steps + 1)]
    return {_square((start[0] + (end[0] - start[0]) * s, start[1] + (end[1] - start[1]) * s)) for s in shares}


def _parts(piece: Polyline | Arc) -> list[Polyline | Arc]:
    """A piece as single lines, or the arc that it is."""
    return [piece] if isinstance(piece, Arc) else [Polyline(pair) for pair in itertools.pairwise(piece.points)]


def _shortened(part: Polyline | Arc) -> Polyline | Arc:
    if isinstance(part, Arc):
        return part
    (x0, y0), (x1, y1) = part.points[0], part.points[-1]
    long = math.hypot(x1 - x0, y1 - y0)
    off = min(SHORT_OF, long / 4) / long
    dx, dy = (x1 - x0) * off, (y1 - y0) * off
    return Polyline(((x0 + dx, y0 + dy), (x1 - dx, y1 - dy)))


def _draw(ink: Ink, pen: str, piece: Polyline | Arc) -> None:
    if isinstance(piece, Polyline):
        closed = len(piece.points) > 3 and math.dist(piece.points[0], piece.points[-1]) < 1e-3
        ink.lines.append((pen, piece.points[:-1] if closed else piece.points, closed))
    elif piece.full:
        ink.circles.append((pen, piece.centre, piece.radius))
    else:
        ink.arcs.append((pen, piece.centre, piece.radius, piece.first, piece.sweep))


def _breaks(ink: Ink, window: Window) -> None:
    """Break lines at both ends of every stretch that is cut out."""
    low, high = -2.5, window.y.size + 2.5
    middle, half, out = window.y.size / 2, 1.2, 1.0
    ends = zip(window.x.starts, window.x.kept, strict=True)
    edges = [(start, start + (b - a) * window.scale) for start, (a, b) in ends]
    for (_, x0), (x1, _) in itertools.pairwise(edges):
        for x in (x0, x1):
            zigzag = (
                (x, middle - half),
                (x - out, middle - half / 2),
                (x + out, middle + half / 2),
                (x, middle + half),
            )
            ink.line(EXTENSION, (x, low), *zigzag, (x, high))


def draw_dimension(view: PlacedView, side: Side, size: float, *, inches: bool) -> None:
    """Draw the overall size [mm] of a view along one of its sides into its ink."""
    across = side in ("above", "below")
    span = view.wide if across else view.tall
    near, far = (view.tall if across else view.wide, 1.0) if side in ("above", "right") else (0.0, -1.0)
    at = near + far * OUT

    def point(along: float, out: float) -> Point:
        return (along, out) if across else (out, along)

    text = size_text(size, inches=inches)
    width = text_width(text, SMALL)
    ink = view.ink
    for along in (0.0, span):
        ink.line(EXTENSION, point(along, near + far * CLEAR), point(along, at + far * BEYOND))
    inside = span >= 2 * HEAD + 1.5
    fits = inside and width <= span - 1.0
    tail = 0.0 if inside else 2.5 * HEAD
    ways = (-1.0, 1.0) if inside else (1.0, -1.0)
    first, last = -tail, span + tail
    if not fits:
        last = max(last, span + HEAD + 1.0) + width + 1.0
    ink.line(EXTENSION, point(first, at), point(last, at))
    for along, way in zip((0.0, span), ways, strict=True):
        ink.head(point(along, at), point(way, 0.0))
    start = (span - width) / 2 if fits else last - width - 0.5
    above = SMALL * 0.62  # clear of arrowheads
    if across:
        ink.text(text, start, at + above)
    else:
        ink.text(text, at - above, start, turn=90.0)


def extents(ink: Ink) -> Box:
    """What all ink fills [mm]; lettering with room below and above its letters."""
    points = [p for _, line, _ in ink.lines for p in line] + [p for solid in ink.solids for p in solid]
    for _, (x, y), r in ink.circles:
        points += [(x - r, y - r), (x + r, y + r)]
    for _, centre, r, first, sweep in ink.arcs:
        x0, y0, x1, y1 = View(visible=(Arc(centre, r, first, sweep),)).box()
        points += [(x0, y0), (x1, y1)]
    for text in ink.texts:
        points += text_box(text.at, text.turn, text.width, text.height, 0.0)
    if not points:
        return (0.0, 0.0, 0.0, 0.0)
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)
