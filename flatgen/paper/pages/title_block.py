"""Title block after ISO 7200:2004 (from memory): 180 mm wide, at the lower right corner of the drawing space.

The fields that ISO 7200 demands (legal owner, identification number, date of issue, sheet number, title, approval
person, creator, document type) stand in every title block; the full one adds supplementary title, revision, general
tolerance after ISO 2768, scale, unit, paper, projection and what made the sheet. A field without text is room to write
in, at least 7 mm high.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from flatgen.paper.drawing.ink import LARGE, SMALL, Block, Ink
from flatgen.paper.drawing.paper import ASCENT, DESCENT
from flatgen.paper.drawing.wrapping import LINE, depth, fitted, shortened, sound
from flatgen.paper.pages import words as words
from flatgen.paper.pages.frame import TITLE_WIDE
from flatgen.paper.pages.pens import FRAME, TABLE

LARGEST = 5.0
"""Lettering of the title [mm]."""
PAD = 1.2
"""Between a line and lettering [mm]."""
CAPTION = 0.5 + depth(1, SMALL)
"""From the upper line of a field to the lower end of its caption [mm]."""
NARROW_ROW = 10.0
SIGNED_ROW = 11.5
TITLE_ROW, SHORT_TITLE_ROW = 17.2, 14.0
LAST_ROW = 5.4
"""Heights of the rows [mm]."""
FULL_TALL = SIGNED_ROW + TITLE_ROW + NARROW_ROW + LAST_ROW
REDUCED_TALL = SIGNED_ROW + SHORT_TITLE_ROW


@dataclass(frozen=True)
class TitleFacts:
    """What the title block says; an empty text is left for the pen. ``scale`` such as ``1:2``, ``unit`` such as ``mm``,
    ``tolerance`` such as ``ISO 2768-m``, ``program`` with its version, ``fingerprint`` of what was drawn from."""

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

    def sound(self) -> TitleFacts:
        """The same, made harmless."""
        return TitleFacts(**{f.name: sound(getattr(self, f.name)) for f in fields(self)})


@dataclass(frozen=True)
class _Field:
    """``wide`` [mm]; ``second`` stands below in small lettering; ``heights`` from the largest [mm]."""

    caption: str
    text: str
    wide: float
    heights: tuple[float, ...] = (LARGE, SMALL)
    second: str = ""


def title_block(
    facts: TitleFacts, paper: str, sheet: int, sheets: int, symbol: Block, *, reduced: bool = False
) -> Block:
    """Title block of one sheet.

    Parameters
    ----------
    facts : TitleFacts
        What it says, of any length, [-]
    paper : str
        Size of the paper by name, [-]
    sheet, sheets : int
        Number of this sheet and of all, [-]
    symbol : Block
        Of the method of projection, [mm]
    reduced : bool
        Only what ISO 7200 demands, for sheets after the first, [-]

    Returns
    -------
    Block
        Of the full width, its lower right corner goes to that of the drawing space, [mm]
    """
    facts = facts.sound()
    number = words.sheet(sheet, sheets)
    rows = _reduced_rows(facts, number) if reduced else _full_rows(facts, sound(paper), number)
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
                _place(ink, symbol, x, high - row, field.wide, row)
            else:
                _write(ink, field, x, high, row)
            x += field.wide
        high -= row
    return Block(ink, TITLE_WIDE, tall)


def _signed(facts: TitleFacts) -> tuple[float, list[_Field]]:
    return SIGNED_ROW, [
        _Field(words.OWNER, facts.owner, 50.0),
        _Field(words.CREATOR, facts.creator, 48.0),
        _Field(words.APPROVAL, facts.approval, 48.0),
        _Field(words.DATE, facts.date, 34.0),
    ]


def _full_rows(facts: TitleFacts, paper: str, number: str) -> list[tuple[float, list[_Field]]]:
    """Rows from the top with their fields from the left."""
    made = words.program(facts.program, facts.fingerprint)
    return [
        _signed(facts),
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
        (LAST_ROW, [_Field("", made, TITLE_WIDE, (SMALL,))]),
    ]


def _reduced_rows(facts: TitleFacts, number: str) -> list[tuple[float, list[_Field]]]:
    return [
        _signed(facts),
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


def _write(ink: Ink, field: _Field, x: float, high: float, row: float) -> None:
    """Caption and text of a field whose upper left corner is at (x, high)."""
    room = field.wide - 2.0 * PAD
    free = row - (CAPTION if field.caption else 0.0)
    if field.caption:
        ink.text(shortened(field.caption, room, SMALL), x + PAD, high - 0.5 - SMALL * ASCENT)
    low = high - row
    if field.second:
        ink.text(shortened(field.second, room, SMALL), x + PAD, low + 0.6 + SMALL * DESCENT)
        low += 0.6 + depth(1, SMALL)
        free -= 0.6 + depth(1, SMALL)
    lines, height = fitted(field.text, room, free - 1.0, field.heights)
    y = low + (free + depth(len(lines), height)) / 2.0 - height * ASCENT
    for line in lines:
        ink.text(line, x + PAD, y, height)
        y -= LINE * height


def _place(ink: Ink, symbol: Block, x: float, low: float, wide: float, tall: float) -> None:
    """The symbol in the middle of its field, drawn smaller where it is too large."""
    size = min(1.0, (wide - 2.0 * PAD) / symbol.wide, (tall - 2.0 * PAD) / symbol.tall)
    ink.add(_scaled(symbol.ink, size), x + (wide - size * symbol.wide) / 2.0, low + (tall - size * symbol.tall) / 2.0)


def _scaled(ink: Ink, size: float) -> Ink:
    """Lines of a symbol; lettering has no place in it."""

    def of(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((size * a, size * b) for a, b in points)

    return Ink(
        lines=[(pen, of(points), closed) for pen, points, closed in ink.lines],
        solids=[of(points) for points in ink.solids],
        circles=[(pen, of((c,))[0], size * r) for pen, c, r in ink.circles],
        arcs=[(pen, of((c,))[0], size * r, first, sweep) for pen, c, r, first, sweep in ink.arcs],
    )
