"""Ordinates of a flat from its datum corner, the figures that say them, and tables of lines, openings and corners.

mark       a corner of the edge, an end of the blank, a line, the centre of an opening: with the spots it is seen at
ordinate   a distance from the datum corner in x (axis 0) or in y (axis 1), with all marks that share its figure
figure     a distance as text in one unit: 0.1 mm, 0.001 in, or the nearest 1/64 in with the rest in 0.001 in
route      which way an ordinate leaves the blank to its figure: without crossing metal where that can be

The datum corner is the lower left corner of the blank's box. Millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Piece, Point
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.part import Part
from flatgen.openings.findings import OpeningRow
from flatgen.openings.judge import JudgedOpenings
from flatgen.openings.measure import measure, surroundings_of
from flatgen.paper.drawing import words as drawing_words
from flatgen.paper.drawing.bench import sight_lines
from flatgen.paper.drawing.ink import Block, Ink
from flatgen.paper.drawing.on_metal import Metal
from flatgen.paper.drawing.words import MM_PER_INCH
from flatgen.paper.pages.tables import table
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.words import SheetUnit, plain
from flatgen.paper.stage_pictures.view import Box

Kind = Literal["corner", "bend", "sight", "opening"]
Axis = Literal[0, 1]
STRAIGHT_WITHIN = 1e-6
"""Lines that lean by less stand upright or level [mm]."""
INSIDE = 1e-3
"""A way that cuts deeper into the metal crosses it [mm]."""
BETWEEN = 8.0
"""Between tables that stand side by side [mm]."""
FEW = 8
"""So many rows stand under one another, whatever room there is beside them."""
NARROW = 60.0
"""Least width of a table that stands beside others [mm]."""


@dataclass(frozen=True)
class Mark:
    """What has a place: ``axes`` in which it has an ordinate, ``spots`` where it is seen [mm]; ``name`` of a line."""

    kind: Kind
    axes: tuple[Axis, ...]
    spots: tuple[Point, ...]
    name: str = ""


@dataclass(frozen=True)
class Ordinate:
    """A distance from the datum corner [mm], its ``figure``, and the ``marks`` that it belongs to."""

    axis: Axis
    value: float
    figure: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Route:
    """How an ordinate leaves the blank: from ``spot`` [mm] toward the ``low`` side (that of the datum corner) or away
    from it; ``through``: over metal.
    """

    ordinate: Ordinate
    spot: Point
    low: bool
    through: bool


def figure(value: float, unit: SheetUnit) -> str:
    """A distance [mm] as text: to 0.1 mm or 0.001 in, or the nearest 1/64 in with what is to be added in 0.001 in.

    By hand: 82.25 mm = 3.23819 in; 15/64 = 0.234375, and 3.23819 - 3.234375 = 0.0038.

    >>> figure(82.25, "in/64"), figure(82.25, "in"), figure(82.04, "mm")
    ('3 15/64 +0.004', '3.238', '82')
    """
    if unit == "mm":
        return plain(value, 1)
    if unit == "in":
        return plain(value / MM_PER_INCH, 3)
    inches = value / MM_PER_INCH
    steps = round(inches * 64)
    rest = f"{inches - steps / 64:+.3f}"
    whole, part = divmod(abs(steps), 64)
    share = Fraction(part, 64)
    nearest = " ".join(s for s in (str(whole) if whole or not part else "", str(share) if part else "") if s)
    return f"{'-' if steps < 0 else ''}{nearest}{'' if float(rest) == 0 else f' {rest}'}"


def size_figure(value: float, unit: SheetUnit) -> str:
    """The size of an opening [mm] as text: to 0.001 mm since a drill is chosen by it, in inches as any figure.

    >>> size_figure(20.5, "mm"), size_figure(4.7625, "in/64")
    ('20.5', '3/16')
    """
    return plain(value, 3) if unit == "mm" else figure(value, unit)


def opening_rows(flat: FlatPattern, judged: JudgedOpenings | None) -> tuple[OpeningRow, ...]:
    """The measured openings of a flat in its order; taken from ``judged`` where that has them all."""
    if judged is not None and len(judged.rows) == len(flat.openings):
        return judged.rows
    return tuple(OpeningRow(m) for m in measure(surroundings_of(flat)))


def flat_marks(flat: FlatPattern, schedule: Schedule | None, rows: Sequence[OpeningRow]) -> tuple[Mark, ...]:
    """All that is given a place: corners and ends of the edge, lines, centres of openings."""
    marks = [Mark("corner", (0, 1), (p,)) for p in corners(flat)]
    marks += [Mark("corner", axes, (p,)) for axes, p in _ends(flat)]
    metal = Metal(flat)
    for bend in flat.bends:
        pairs = [pair for s in bend.segments for pair in metal.stretches(*s.centre)]
        marks += line_marks("bend", bend.label, pairs or [bend.centre])
    for line in sight_lines(flat, schedule) if schedule else ():
        marks += line_marks("sight", line.stage.crease.label, line.stretches)
    return (*marks, *(Mark("opening", (0, 1), (r.measured.centre,)) for r in rows))


def corners(flat: FlatPattern) -> tuple[Point, ...]:
    """Where pieces of the edge meet, counter-clockwise from the one nearest to the datum corner [mm]."""
    points = [p.start for p in flat.outline if p.length > STRAIGHT_WITHIN]
    first = min(range(len(points)), key=lambda n: (round(math.hypot(*points[n]), 6), points[n]))
    return (*points[first:], *points[:first])


def line_marks(kind: Kind, name: str, pairs: Iterable[tuple[Point, Point]]) -> list[Mark]:
    """Marks of a line: one ordinate where it is upright or level, else those of both its ends."""
    spots = tuple(p for pair in pairs for p in pair)
    if not spots:
        return []
    (x0, y0), (x1, y1) = (min(p[k] for p in spots) for k in (0, 1)), (max(p[k] for p in spots) for k in (0, 1))
    if x1 - x0 <= STRAIGHT_WITHIN:
        return [Mark(kind, (0,), ((x0, y0), (x0, y1)), name)]
    if y1 - y0 <= STRAIGHT_WITHIN:
        return [Mark(kind, (1,), ((x0, y0), (x1, y0)), name)]
    return [Mark(kind, (0, 1), (spot,), name) for spot in (min(spots), max(spots))]


def _ends(flat: FlatPattern) -> list[tuple[tuple[Axis, ...], Point]]:
    """The blank's four extremes, where the edge is round there and no corner shows them; the datum corner's own."""
    x0, y0, x1, y1 = flat.box
    points = flat.outline.points(1e-4)
    sides: list[tuple[Axis, float]] = [(0, x0), (0, x1), (1, y0), (1, y1)]
    ends: list[tuple[tuple[Axis, ...], Point]] = []
    for axis, value in sides:
        near = min(points, key=lambda p: abs(p[axis] - value))
        ends.append(((axis,), (value, near[1]) if axis == 0 else (near[0], value)))
    return ends


def group_ordinates(marks: Iterable[Mark], unit: SheetUnit) -> tuple[Ordinate, ...]:
    """Distances of marks, each figure once: those in x, then those in y, from the datum corner outward."""
    groups: dict[tuple[Axis, str], list[tuple[float, Mark]]] = {}
    for mark in marks:
        for axis in mark.axes:
            value = mark.spots[0][axis]
            groups.setdefault((axis, figure(value, unit)), []).append((value, mark))
    ordinates = [
        Ordinate(axis, min(some, key=lambda one: one[0])[0], text, tuple(m for _, m in some))
        for (axis, text), some in groups.items()
    ]
    return tuple(sorted(ordinates, key=lambda o: (o.axis, o.value)))


def find_routes(flat: FlatPattern, ordinates: Iterable[Ordinate], *, split: bool) -> tuple[Route, ...]:
    """How each ordinate leaves the blank.

    :param split: ordinates of bend lines alone leave on the side away from the datum corner
    """
    import shapely

    core = shapely.Polygon(flat.outline.points(0.01)).buffer(-INSIDE)
    shapely.prepare(core)
    return tuple(_route(o, core, flat.box, split) for o in ordinates)


def _route(ordinate: Ordinate, core: Any, box: Box, split: bool) -> Route:
    import shapely

    other = 1 - ordinate.axis
    firm = [p for m in ordinate.marks if m.kind != "opening" for p in m.spots]
    away = split and all(m.kind == "bend" for m in ordinate.marks)
    for low in (False, True) if away else (True, False):
        if firm:
            spot = (min if low else max)(firm, key=lambda p: p[other])
            edge = box[other] if low else box[2 + other]
            end = (spot[0], edge) if ordinate.axis == 0 else (edge, spot[1])
            if not core.intersects(shapely.LineString((spot, end))):
                return Route(ordinate, spot, low, False)
    spots = firm or [p for m in ordinate.marks for p in m.spots]
    return Route(ordinate, (max if away else min)(spots, key=lambda p: p[other]), not away, True)


def opening_order(rows: Sequence[OpeningRow]) -> tuple[int, ...]:
    """Indices of openings in the order in which they are numbered from 1: by x, then by y."""
    places = [tuple(round(c, 3) for c in r.measured.centre) for r in rows]
    return tuple(sorted(range(len(rows)), key=lambda n: places[n]))


def has_corners(flat: FlatPattern) -> bool:
    """Whether corners are listed: the edge is no plain rectangle."""
    return len(corners(flat)) != 4 or any(
        isinstance(p, Arc) or min(abs(p.end[k] - p.start[k]) for k in (0, 1)) > STRAIGHT_WITHIN for p in flat.outline
    )


def flat_tables(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    rows: Sequence[OpeningRow],
    wide: float,
    tall: float,
    unit: SheetUnit,
) -> tuple[Block, ...]:
    """All tables of a flat, each block at most ``wide`` x ``tall`` [mm]."""
    heads = words.LINE_HEADS + (words.SIGHT_HEADS if schedule else ())
    blocks = table(heads, line_cells(part, flat, schedule, unit), wide, tall, title=f"{words.LINES} ({unit[:2]})")
    openings = opening_cells(flat, rows, unit)
    heads = (words.NO, words.X, words.Y, words.KIND, words.NAME)
    if not any(row[-1] for row in openings):
        openings, heads = [row[:-1] for row in openings], heads[:-1]
    blocks += _side_by_side(heads, openings, wide, tall, f"{words.OPENINGS} ({unit[:2]})")
    if has_corners(flat):
        heads = (words.NO, words.X, words.Y, words.RADIUS)
        blocks += _side_by_side(heads, corner_cells(flat, unit), wide, tall, f"{words.CORNERS} ({unit[:2]})")
    return blocks


def _side_by_side(
    heads: Sequence[str], rows: Sequence[tuple[str, ...]], wide: float, tall: float, title: str
) -> tuple[Block, ...]:
    """A table whose blocks stand side by side where there is room, evenly filled."""
    if not rows:
        return ()
    one = table(heads, rows, wide, tall, title=title)
    if len(rows) <= FEW:
        return one
    for count in range(max(1, int((wide + BETWEEN) / (NARROW + BETWEEN))), 1, -1):
        share = (wide - (count - 1) * BETWEEN) / count
        narrow = table(heads, rows, share, tall, title=title)
        fit = sum(b.tall for b in narrow) <= 1.25 * sum(b.tall for b in one) + 40.0  # few cells are wrapped
        if fit and max(b.wide for b in narrow) <= share + 1e-6:
            break
    else:
        return one
    if len(narrow) <= count:
        least = max(tall / 4, sum(b.tall for b in narrow) / count)
        for low in (least * (1 + 0.1 * k) for k in range(20)):
            if low >= tall:
                break
            try:
                lower = table(heads, rows, share, low, title=title)
            except ValueError:  # lower than its head and a row
                continue
            if len(lower) <= count:
                narrow = lower
                break
    return tuple(_beside(narrow[n : n + count]) for n in range(0, len(narrow), count))


def _beside(blocks: Sequence[Block]) -> Block:
    ink, x, tall = Ink(), 0.0, max(b.tall for b in blocks)
    for block in blocks:
        ink.add(block.ink, x, tall - block.tall)
        x += block.wide + BETWEEN
    return Block(ink, x - BETWEEN, tall)


def line_cells(part: Part, flat: FlatPattern, schedule: Schedule | None, unit: SheetUnit) -> list[tuple[str, ...]]:
    """Cells of the lines, under ``LINE_HEADS``; with a schedule in its order, ``SIGHT_HEADS`` after them."""
    bends = {b.label: b for b in flat.bends}
    if schedule is None:
        return [_bend_cells(b, unit) for b in flat.bends]
    return [
        _bend_cells(bends[s.crease.label], unit) + _sight_cells(part, s, unit, schedule.checked)
        for s in schedule.stages
        if s.crease.label in bends
    ]


def _bend_cells(bend: Bend, unit: SheetUnit) -> tuple[str, ...]:
    way = drawing_words.UP if bend.way == "up" else drawing_words.DOWN
    first, second = (_line_place(*pair, unit) for pair in bend.tangents)
    label = drawing_words.harmless(bend.label) or drawing_words.NO_LETTER
    return (label, way, _line_place(*bend.centre, unit), f"{first}; {second}")


def _sight_cells(part: Part, stage: Stage, unit: SheetUnit, ordered: bool) -> tuple[str, ...]:
    crease = stage.crease
    leg = crease.side(stage.sight.held).leg
    held = drawing_words.harmless(part.leg_name(leg) or part.leg_text(leg))
    return (str(stage.number) if ordered else "–", _sight_line_place(stage, unit), f"{stage.sight.face} face", held)


def _sight_line_place(stage: Stage, unit: SheetUnit) -> str:
    crease = stage.crease
    if crease.ends is None:
        raise ValueError(f"bend {crease.label} has no place on the flat")
    (x, y), (u, v) = crease.ends[0], crease.across
    shift = stage.sight.from_datum - (x * u + y * v)
    start, end = ((p[0] + shift * u, p[1] + shift * v) for p in crease.ends)
    return _line_place(start, end, unit)


def _line_place(start: Point, end: Point, unit: SheetUnit) -> str:
    for axis in (0, 1):
        if abs(start[axis] - end[axis]) <= STRAIGHT_WITHIN:
            return words.straight_place(axis, figure(start[axis], unit))
    a, b = ((figure(p[0], unit), figure(p[1], unit)) for p in (start, end))
    return words.slanted_place(a, b)


def opening_cells(flat: FlatPattern, rows: Sequence[OpeningRow], unit: SheetUnit) -> list[tuple[str, ...]]:
    """Cells of the openings: number, x, y, shape and size, the user's name."""
    cells: list[tuple[str, ...]] = []
    for place, index in enumerate(opening_order(rows), start=1):
        row = rows[index]
        x, y = (figure(c, unit) for c in row.measured.centre)
        wide, high = (size_figure(s, unit) for s in row.measured.size)
        size = words.shape_and_size(row.measured.form, (wide, high), opening_turn(flat.openings[index], row))
        name = drawing_words.harmless(row.known.name or "") if row.known else ""
        cells.append((str(place), x, y, size, name))
    return cells


def opening_turn(loop: Loop, row: OpeningRow) -> float:
    """How far the side of a slot or a rectangle that is named first is turned from x, -45 to 45 [deg]."""
    if row.measured.form not in ("slot", "rectangle"):
        return 0.0
    lines = [p for p in loop if isinstance(p, Line)]
    if not lines:
        return 0.0
    longest = max(lines, key=lambda p: p.length)
    way = math.degrees(math.atan2(longest.end[1] - longest.start[1], longest.end[0] - longest.start[0]))
    turned = (way + 45.0) % 90.0 - 45.0
    return 0.0 if abs(turned) < 1e-6 else turned


def corner_cells(flat: FlatPattern, unit: SheetUnit) -> list[tuple[str, ...]]:
    """Cells of the corners: number, x, y, and how the edge goes on from there."""
    pieces = {p.start: p for p in flat.outline if p.length > STRAIGHT_WITHIN}
    return [
        (words.corner_name(n), figure(x, unit), figure(y, unit), _edge_text(pieces[x, y], unit))
        for n, (x, y) in enumerate(corners(flat), start=1)
    ]


def _edge_text(piece: Piece, unit: SheetUnit) -> str:
    if isinstance(piece, Line):
        return words.STRAIGHT
    x, y = piece.centre
    return words.arc(size_figure(piece.radius, unit), (figure(x, unit), figure(y, unit)), piece.sweep < 0)
