"""What every page has: the pens of its layers, frame with grid reference, title block, symbol of projection.

Colour only repeats what line type and width say.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, fields
from typing import Literal

from flatgen.paper.drawing import document
from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.ink import CHAIN, LARGE, SMALL, Block, Ink, Paper
from flatgen.paper.drawing.text import (
    ASCENT,
    DESCENT,
    LINE,
    Box,
    fit_text,
    lines_height,
    safe_text,
    shorten,
    text_width,
)
from flatgen.paper.pages import words
from flatgen.paper.stage_pictures.pictures import PENS as STAGE_PENS

FRAME, TABLE = "FRAME", "TABLE"
"""Frame of the drawing space; lines of tables, title block and boxes to write in."""
VISIBLE, HIDDEN, CENTRE = "VISIBLE", "HIDDEN", "CENTRE"
"""Visible and hidden edges of the formed part; axes of symmetry and centres."""
EXTENSION = "SIZES"
"""Dimension, extension and leader lines with their arrowheads."""

PENS = {
    **STAGE_PENS,
    FRAME: Pen(weight=0.7),
    TABLE: Pen(),
    VISIBLE: Pen(wide=True),
    HIDDEN: Pen(document.DASHED),
    CENTRE: Pen(CHAIN),
    **{name: pen for name, pen in document.PENS.items() if name != document.LABELS},
}

FILING, BORDER = 20.0, 10.0
"""Margins of the drawing space: at the left, to file the sheet, and at the other sides [mm]."""
STRIP = 5.0
"""Width of the grid reference about the frame [mm]."""
MARK = 10.0
"""Length of a centring mark [mm]."""
FIELD = 50.0
"""Length of a field of the grid reference [mm]."""
GRID_FROM = 420.0
"""Long side of the smallest paper with a grid reference [mm]."""
TITLE_WIDE = 180.0
"""Width of the title block at the lower right corner [mm] (ISO 7200)."""
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
Projection = Literal["first", "third"]
"""First or third angle projection."""


def sheet_size(paper: Paper, landscape: bool) -> tuple[float, float]:
    """Width and height of a sheet [mm].

    :raises ValueError: a roll, which has no frame
    """
    if paper.long is None:
        raise ValueError(f"{paper.name} is no sheet")
    return (paper.long, paper.narrow) if landscape else (paper.narrow, paper.long)


def drawing_space(paper: Paper, landscape: bool) -> Box:
    """Drawing space: left, low, right and high side of the frame on the paper [mm].

    ISO 5457: the drawing space of A3 is 390 x 277 mm.

    >>> from flatgen.paper.drawing.ink import parse_paper
    >>> drawing_space(parse_paper("A3"), True)
    (20.0, 10.0, 410.0, 287.0)
    """
    wide, tall = sheet_size(paper, landscape)
    return FILING, BORDER, wide - BORDER, tall - BORDER


def frame_ink(paper: Paper, landscape: bool) -> Ink:
    """Frame, centring marks and grid reference of a sheet; the lower mark does not enter the title block."""
    wide, tall = sheet_size(paper, landscape)
    left, low, right, high = drawing_space(paper, landscape)
    ink = Ink()
    ink.box(FRAME, left, low, right, high)
    x, y = wide / 2.0, tall / 2.0
    under_title = x > right - TITLE_WIDE - MARK
    ink.line(FRAME, (x, low - STRIP), (x, low if under_title else low - STRIP + MARK))
    ink.line(FRAME, (x, high + STRIP), (x, high + STRIP - MARK))
    ink.line(FRAME, (left - STRIP, y), (left - STRIP + MARK, y))
    ink.line(FRAME, (right + STRIP, y), (right + STRIP - MARK, y))
    if paper.long is not None and paper.long >= GRID_FROM:
        _draw_grid(ink, wide, tall)
    return ink


def grid_fields(side: float) -> int:
    """Fields of the grid reference along a ``side`` of the paper [mm].

    ISO 5457, table: A3 has 8 x 6 fields, A0 24 x 16.

    >>> grid_fields(420.0), grid_fields(297.0), grid_fields(1189.0), grid_fields(841.0)
    (8, 6, 24, 16)
    """
    return 2 * max(1, round((side / 2.0 - BORDER) / FIELD))


def _draw_grid(ink: Ink, wide: float, tall: float) -> None:
    left, low, right, high = FILING, BORDER, wide - BORDER, tall - BORDER
    ink.box(TABLE, left - STRIP, low - STRIP, right + STRIP, high + STRIP)
    across, up = _field_limits(wide, left, right), _field_limits(tall, low, high)
    for x in across[1:-1]:
        if x != wide / 2.0:
            ink.line(TABLE, (x, low - STRIP), (x, low))
            ink.line(TABLE, (x, high), (x, high + STRIP))
    for y in up[1:-1]:
        if y != tall / 2.0:
            ink.line(TABLE, (left - STRIP, y), (left, y))
            ink.line(TABLE, (right, y), (right + STRIP, y))
    for n, (a, b) in enumerate(itertools.pairwise(across)):
        for y in (low - STRIP / 2.0, high + STRIP / 2.0):
            _centred(ink, str(n + 1), (a + b) / 2.0, y)
    for n, (b, a) in enumerate(itertools.pairwise(up[::-1])):
        for x in (left - STRIP / 2.0, right + STRIP / 2.0):
            _centred(ink, LETTERS[n], x, (a + b) / 2.0)


def _field_limits(side: float, first: float, last: float) -> list[float]:
    """Limits of the fields along a side of the paper, from frame line to frame line."""
    half = grid_fields(side) // 2
    inner = [side / 2.0 + FIELD * k for k in range(1 - half, half)]
    return [first, *inner, last]


def _centred(ink: Ink, text: str, x: float, y: float) -> None:
    ink.text(text, x - text_width(text, LARGE) / 2.0, y - LARGE / 2.0, LARGE)


LARGEST = 5.0
"""Lettering of the title [mm]."""
PAD = 1.2
"""Between a line and lettering [mm]."""
CAPTION = 0.5 + lines_height(1, SMALL)
"""From the upper line of a field to the lower end of its caption [mm]."""
SIGNATURE_ROW, TITLE_ROW, SHORT_TITLE_ROW, NARROW_ROW, LAST_ROW = 11.5, 17.2, 14.0, 10.0, 5.4
"""Heights of the rows [mm]."""
FULL_TALL = SIGNATURE_ROW + TITLE_ROW + NARROW_ROW + LAST_ROW
REDUCED_TALL = SIGNATURE_ROW + SHORT_TITLE_ROW
"""Heights of the title blocks [mm]."""


@dataclass(frozen=True)
class TitleFacts:
    """Texts of the title block; empty ones are filled in by hand. ``scale`` such as ``1:2``, ``unit`` such as ``mm``,
    ``tolerance`` such as ``ISO 2768-m``, ``program`` with its version, ``fingerprint`` of the part.
    """

    title: str
    number: str = ""
    supplementary: str = ""
    document_type: str = ""
    owner: str = ""
    creator: str = ""
    approval: str = ""
    date: str = ""
    revision: str = ""
    tolerance: str = ""
    scale: str = ""
    unit: str = ""
    program: str = ""
    fingerprint: str = ""

    def safe(self) -> TitleFacts:
        """The same in :func:`safe_text`."""
        return TitleFacts(**{f.name: safe_text(getattr(self, f.name)) for f in fields(self)})


@dataclass(frozen=True)
class _Field:
    """A field of the title block: ``wide`` [mm], ``heights`` of letters, largest first [mm], small ``second`` text."""

    caption: str
    text: str
    wide: float
    heights: tuple[float, ...] = (LARGE, SMALL)
    second: str = ""


def title_block(
    facts: TitleFacts, paper: str, sheet: int, sheets: int, symbol: Block, *, reduced: bool = False
) -> Block:
    """Title block of sheet number ``sheet`` of ``sheets``.

    :param reduced: only what ISO 7200 demands, for sheets after the first
    """
    facts = facts.safe()
    number = words.sheet(sheet, sheets)
    rows = _reduced_rows(facts, number) if reduced else _full_rows(facts, safe_text(paper), number)
    tall = sum(t for t, _ in rows)
    ink, high = Ink(), tall
    ink.box(FRAME, 0.0, 0.0, TITLE_WIDE, tall)
    for n, (row, row_fields) in enumerate(rows):
        x = 0.0
        if n:
            ink.line(TABLE, (0.0, high), (TITLE_WIDE, high))
        for field in row_fields:
            if x > 0.0:
                ink.line(TABLE, (x, high - row), (x, high))
            if field.caption == words.PROJECTION:
                _draw_symbol(ink, symbol, x, high - row, field.wide, row)
            else:
                _write_field(ink, field, x, high, row)
            x += field.wide
        high -= row
    return Block(ink, TITLE_WIDE, tall)


def _signature_row(facts: TitleFacts) -> tuple[float, list[_Field]]:
    return SIGNATURE_ROW, [
        _Field(words.OWNER, facts.owner, 50.0),
        _Field(words.CREATOR, facts.creator, 48.0),
        _Field(words.APPROVAL, facts.approval, 48.0),
        _Field(words.DATE, facts.date, 34.0),
    ]


def _full_rows(facts: TitleFacts, paper: str, number: str) -> list[tuple[float, list[_Field]]]:
    """Rows from the top with their fields from the left."""
    program = words.program(facts.program, facts.fingerprint)
    return [
        _signature_row(facts),
        (
            TITLE_ROW,
            [
                _Field(words.KIND, facts.document_type, 36.0),
                _Field(words.TITLE, facts.title, 77.0, (LARGEST, LARGE, SMALL), facts.supplementary),
                _Field(words.NUMBER, facts.number, 42.0),
                _Field(words.PROJECTION, "", 25.0),
            ],
        ),
        (
            NARROW_ROW,
            [
                _Field(words.TOLERANCE, facts.tolerance, 46.0),
                _Field(words.SCALE, facts.scale, 28.0),
                _Field(words.UNIT, facts.unit, 22.0),
                _Field(words.PAPER, paper, 20.0),
                _Field(words.REVISION, facts.revision, 22.0),
                _Field(words.SHEET, number, 42.0),
            ],
        ),
        (LAST_ROW, [_Field("", program, TITLE_WIDE, (SMALL,))]),
    ]


def _reduced_rows(facts: TitleFacts, number: str) -> list[tuple[float, list[_Field]]]:
    return [
        _signature_row(facts),
        (
            SHORT_TITLE_ROW,
            [
                _Field(words.KIND, facts.document_type, 36.0),
                _Field(words.TITLE, facts.title, 80.0),
                _Field(words.NUMBER, facts.number, 42.0),
                _Field(words.SHEET, number, 22.0),
            ],
        ),
    ]


def _write_field(ink: Ink, field: _Field, x: float, high: float, row: float) -> None:
    """Caption and text of a field whose upper left corner is at (x, high)."""
    room = field.wide - 2.0 * PAD
    free = row - (CAPTION if field.caption else 0.0)
    if field.caption:
        ink.text(shorten(field.caption, room, SMALL), x + PAD, high - 0.5 - SMALL * ASCENT)
    low = high - row
    if field.second:
        ink.text(shorten(field.second, room, SMALL), x + PAD, low + 0.6 + SMALL * DESCENT)
        low += 0.6 + lines_height(1, SMALL)
        free -= 0.6 + lines_height(1, SMALL)
    lines, height = fit_text(field.text, room, free - 1.0, field.heights)
    y = low + (free + lines_height(len(lines), height)) / 2.0 - height * ASCENT
    for line in lines:
        ink.text(line, x + PAD, y, height)
        y -= LINE * height


def _draw_symbol(ink: Ink, symbol: Block, x: float, low: float, wide: float, tall: float) -> None:
    """The symbol in the middle of its field, scaled down where it is too large."""
    size = min(1.0, (wide - 2.0 * PAD) / symbol.wide, (tall - 2.0 * PAD) / symbol.tall)
    ink.add(_scaled(symbol.ink, size), x + (wide - size * symbol.wide) / 2.0, low + (tall - size * symbol.tall) / 2.0)


def _scaled(ink: Ink, size: float) -> Ink:
    """Lines of a symbol, without lettering."""

    def scaled(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((size * a, size * b) for a, b in points)

    return Ink(
        lines=[(pen, scaled(points), closed) for pen, points, closed in ink.lines],
        solids=[scaled(points) for points in ink.solids],
        circles=[(pen, scaled((c,))[0], size * r) for pen, c, r in ink.circles],
        arcs=[(pen, scaled((c,))[0], size * r, first, sweep) for pen, c, r, first, sweep in ink.arcs],
    )


def projection_symbol(kind: Projection, height: float = LARGE) -> Block:
    """The truncated cone in two views that stands for first or third angle projection.

    After ISO 5456-2 and ISO 128-30, from memory: diameters of one and two heights of lettering, length two heights.

    :param height: of lettering beside it [mm]
    """
    h, over = height, 0.35 * height
    ink = Ink()
    tall = 2 * h + 2 * over
    middle = tall / 2
    cone, rings = (over, 3 * h + 3 * over) if kind == "first" else (2 * h + 3 * over + h, over)
    ink.lines.append(
        (
            VISIBLE,
            ((cone, middle - h / 2), (cone + 2 * h, middle - h), (cone + 2 * h, middle + h), (cone, middle + h / 2)),
            True,
        )
    )
    ink.line(CENTRE, (cone - over, middle), (cone + 2 * h + over, middle))
    centre = (rings + h, middle)
    for radius in (h / 2, h):
        ink.circles.append((VISIBLE, centre, radius))
    ink.line(CENTRE, (centre[0] - h - over, middle), (centre[0] + h + over, middle))
    ink.line(CENTRE, (centre[0], middle - h - over), (centre[0], middle + h + over))
    return Block(ink, 5 * h + 4 * over, tall)
