"""Coordinates in tables (ISO 129-1 has them beside figures on the drawing): lines, openings, corners.

Narrow tables stand side by side, so that 200 openings fill few pages. Millimetres inside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Piece, Point
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.part import Part
from flatgen.openings.findings import Row
from flatgen.paper.drawing import words as drawing_words
from flatgen.paper.drawing.ink import Block, Ink
from flatgen.paper.pages.tables import table
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.ordinates import STRAIGHT, Unit, corners, figure, size_figure

BETWEEN = 8.0
"""Between tables that stand side by side [mm]."""
FEW = 8
"""So many rows stand under one another, whatever room there is beside them."""
NARROW = 60.0
"""Least width of a table that stands beside others [mm]."""


def numbered(rows: Sequence[Row]) -> tuple[int, ...]:
    """Indices of openings in the order in which they are numbered: by x, then by y.

    Parameters
    ----------
    rows : Sequence[Row]
        The openings, [mm]

    Returns
    -------
    tuple[int, ...]
        The first one carries number 1, [-]
    """
    places = [tuple(round(c, 3) for c in r.measured.centre) for r in rows]
    return tuple(sorted(range(len(rows)), key=lambda n: places[n]))


def has_corners(flat: FlatPattern) -> bool:
    """Whether the edge is anything else than a plain rectangle, so that its corners are listed."""
    return len(corners(flat)) != 4 or any(
        isinstance(p, Arc) or min(abs(p.end[k] - p.start[k]) for k in (0, 1)) > STRAIGHT for p in flat.outline
    )


def line_rows(part: Part, flat: FlatPattern, schedule: Schedule | None, unit: Unit) -> list[tuple[str, ...]]:
    """Cells of the lines: bends in the order of bending where there is a schedule.

    Parameters
    ----------
    part : Part
        For the names of its legs, [-]
    flat : FlatPattern
        The flat, [mm]
    schedule : Schedule | None
        Its sight lines, [mm]
    unit : "mm" | "in" | "in/64"
        What figures are told in, [-]

    Returns
    -------
    list[tuple[str, ...]]
        Under ``LINE_HEADS``, then ``SIGHT_HEADS`` with a schedule, [-]
    """
    bends = {b.label: b for b in flat.bends}
    if schedule is None:
        return [_bend(b, unit) for b in flat.bends]
    return [
        _bend(bends[s.crease.label], unit) + _sight(part, s, unit, schedule.checked)
        for s in schedule.stages
        if s.crease.label in bends
    ]


def opening_rows(flat: FlatPattern, rows: Sequence[Row], unit: Unit) -> list[tuple[str, ...]]:
    """Cells of the openings: number, x, y, shape and size, the user's name.

    Parameters
    ----------
    flat : FlatPattern
        The flat, [mm]
    rows : Sequence[Row]
        One for each of its openings, [mm]
    unit : "mm" | "in" | "in/64"
        What figures are told in, [-]

    Returns
    -------
    list[tuple[str, ...]]
        In the order of their numbers, [-]
    """
    found: list[tuple[str, ...]] = []
    for place, index in enumerate(numbered(rows), start=1):
        row = rows[index]
        x, y = (figure(c, unit) for c in row.measured.centre)
        wide, high = (size_figure(s, unit) for s in row.measured.size)
        said = words.size(row.measured.form, (wide, high), turn_of(flat.openings[index], row))
        name = drawing_words.harmless(row.known.name or "") if row.known else ""
        found.append((str(place), x, y, said, name))
    return found


def corner_rows(flat: FlatPattern, unit: Unit) -> list[tuple[str, ...]]:
    """Cells of the corners: number, x, y, and how the edge goes on from there.

    Parameters
    ----------
    flat : FlatPattern
        The flat, [mm]
    unit : "mm" | "in" | "in/64"
        What figures are told in, [-]

    Returns
    -------
    list[tuple[str, ...]]
        Counter-clockwise from the corner nearest to the datum corner, [-]
    """
    pieces = {p.start: p for p in flat.outline if p.length > STRAIGHT}
    return [
        (words.corner(n), figure(x, unit), figure(y, unit), _edge(pieces[x, y], unit))
        for n, (x, y) in enumerate(corners(flat), start=1)
    ]


def tables(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    rows: Sequence[Row],
    wide: float,
    tall: float,
    unit: Unit,
) -> tuple[Block, ...]:
    """All tables of a flat, each block at most ``wide`` x ``tall`` [mm]."""
    heads = words.LINE_HEADS + (words.SIGHT_HEADS if schedule else ())
    found = table(heads, line_rows(part, flat, schedule, unit), wide, tall, title=_title(words.LINES, unit))
    openings = opening_rows(flat, rows, unit)
    heads = (words.NO, words.X, words.Y, words.KIND, words.NAME)
    if not any(row[-1] for row in openings):
        openings, heads = [row[:-1] for row in openings], heads[:-1]
    found += _side_by_side(heads, openings, wide, tall, _title(words.OPENINGS, unit))
    if has_corners(flat):
        heads = (words.NO, words.X, words.Y, words.RADIUS)
        found += _side_by_side(heads, corner_rows(flat, unit), wide, tall, _title(words.CORNERS, unit))
    return found


def turn_of(loop: Loop, row: Row) -> float:
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


def _title(head: str, unit: Unit) -> str:
    return f"{head} ({words.SHORT[unit]})"


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


def _bend(bend: Bend, unit: Unit) -> tuple[str, ...]:
    way = drawing_words.UP if bend.way == "up" else drawing_words.DOWN
    first, second = (_line(*pair, unit) for pair in bend.tangents)
    label = drawing_words.harmless(bend.label) or drawing_words.NO_LETTER
    return (label, way, _line(*bend.centre, unit), f"{first}; {second}")


def _sight(part: Part, stage: Stage, unit: Unit, ordered: bool) -> tuple[str, ...]:
    crease = stage.crease
    leg = crease.side(stage.sight.held).leg
    held = drawing_words.harmless(part.leg_name(leg) or part.leg_text(leg))
    return (str(stage.number) if ordered else "–", _sight_line(stage, unit), f"{stage.sight.face} face", held)


def _sight_line(stage: Stage, unit: Unit) -> str:
    crease = stage.crease
    if crease.ends is None:
        raise ValueError(f"bend {crease.label} has no place on the flat")
    (x, y), (u, v) = crease.ends[0], crease.across
    shift = stage.sight.from_datum - (x * u + y * v)
    start, end = ((p[0] + shift * u, p[1] + shift * v) for p in crease.ends)
    return _line(start, end, unit)


def _line(start: Point, end: Point, unit: Unit) -> str:
    for axis in (0, 1):
        if abs(start[axis] - end[axis]) <= STRAIGHT:
            return words.at(axis, figure(start[axis], unit))
    a, b = ((figure(p[0], unit), figure(p[1], unit)) for p in (start, end))
    return words.between(a, b)


def _edge(piece: Piece, unit: Unit) -> str:
    if isinstance(piece, Line):
        return words.STRAIGHT
    x, y = piece.centre
    return words.arc(size_figure(piece.radius, unit), (figure(x, unit), figure(y, unit)), piece.sweep < 0)
