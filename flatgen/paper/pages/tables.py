"""Tables and columns of paragraphs, wrapped and in blocks that fit on a page, with room for pencil and tick."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from flatgen.paper.drawing.ink import LARGE, SMALL, Block, Ink
from flatgen.paper.drawing.text import ASCENT, LINE, lines_height, safe_text, text_width, wrap_text
from flatgen.paper.pages import words
from flatgen.paper.pages.frame import TABLE

PAD = 1.2
"""Between a line and lettering [mm]."""
ABOVE, BELOW = 1.5 * SMALL, 0.65 * SMALL
"""From the upper line of a row to its first baseline, from its last baseline to the lower line [mm]."""
PITCH = LINE * SMALL
"""From baseline to baseline [mm]."""
WRITE_TALL = 7.5
"""Least height of a row with room to write [mm]."""
PENCIL = 20.0
"""Width to write in, beside the unit [mm]."""
TIGHT = 16.0
"""The same where there is no room [mm]."""
BOX = 3.5
"""Side of a box to tick [mm]."""
LEAST = 9.0
"""Least width of a column: the widest letter and both pads [mm]."""
WORD = 45.0
"""A longer word may be broken, to leave room for other columns [mm]."""
HEAD_LINES = 6
"""Most lines of a column's head."""
WIDENED = 0.7
"""A table that fills this share of the width is widened to all of it."""
DOUBLE = 0.8
"""Between the two lines under the heads of the columns [mm]."""
HEAD_GAP = 1.8
"""Below a head [mm]."""
NUMBER = re.compile(r"[+\-\u2212\u00b1<>\u2264\u2265]?\s?\d+([.,]\d+)?\s?[°%]?")


@dataclass(frozen=True)
class Tick:
    """A cell with a box to tick and a text beside it."""

    text: str = ""


@dataclass(frozen=True)
class Blank:
    """A cell to write a measurement in, with its unit at the right."""

    unit: str = ""


Cell = str | Tick | Blank


@dataclass(frozen=True)
class _Row:
    """Cells with their lines; ``tall`` [mm]."""

    cells: tuple[Cell, ...]
    lines: tuple[tuple[str, ...], ...]
    tall: float

    @property
    def spare(self) -> float:
        """Height that lettering does not need [mm]."""
        return self.tall - _tall(max(len(x) for x in self.lines))


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    wide: float,
    tall: float,
    *,
    weights: Sequence[float] | None = None,
    title: str = "",
) -> tuple[Block, ...]:
    """A table in blocks that each repeat the heads; no blocks without rows.

    :param wide, tall: most room of a block [mm]
    :param weights: shares of the width; without them by content
    :raises ValueError: a row with another number of cells than heads, or no room for one line
    """
    if any(len(r) != len(heads) for r in rows):
        raise ValueError(f"a row has not the {len(heads)} cells that the table has heads")
    if not rows:
        return ()
    cells = [tuple(_safe_cell(c) for c in row) for row in rows]
    names = tuple(safe_text(h) for h in heads)
    title = safe_text(title)
    widths = _widths(names, cells, wide, weights, text_width(words.continued(title), LARGE))
    head = _head_row(names, widths)
    room = tall - head.tall - title_height(words.continued(title), sum(widths))
    blocks = _in_blocks([p for row in cells for p in _pieces(_row(row, widths), room)], room)
    right = _figure_columns(cells)
    titles = [title, *[words.continued(title)] * (len(blocks) - 1)]
    return tuple(_table_block(t, [head, *b], widths, right) for t, b in zip(titles, blocks, strict=True))


def _in_blocks(rows: Sequence[_Row], room: float) -> list[list[_Row]]:
    """Rows filled one after the other into ``room`` [mm]."""
    blocks: list[list[_Row]] = [[]]
    for row in rows:
        if blocks[-1] and sum(r.tall for r in blocks[-1]) + row.tall > room + 1e-9:
            blocks.append([])
        blocks[-1].append(row)
    return blocks


def _safe_cell(cell: Cell) -> Cell:
    if isinstance(cell, Tick):
        return Tick(safe_text(cell.text))
    return Blank(safe_text(cell.unit)) if isinstance(cell, Blank) else safe_text(cell)


def _needs(cell: Cell) -> tuple[float, float]:
    """Width of a cell in one line, and with each word on its own line [mm]."""
    if isinstance(cell, Blank):
        size = PENCIL + text_width(cell.unit, SMALL)
        return size + 2 * PAD, min(size, 1.5 * PENCIL) + 2 * PAD
    text, beside = (cell.text, BOX + PAD) if isinstance(cell, Tick) else (cell, 0.0)
    longest = min(WORD, max((text_width(w, SMALL) for w in text.split()), default=0.0))
    return text_width(text, SMALL) + beside + 2 * PAD + 0.1, longest + beside + 2 * PAD + 0.1


def _floor(cell: Cell) -> float:
    """Least width of a cell, with words broken [mm]."""
    if isinstance(cell, Blank):
        return TIGHT
    return LEAST + BOX + PAD if isinstance(cell, Tick) else LEAST


def _widths(
    heads: Sequence[str], rows: Sequence[Sequence[Cell]], wide: float, weights: Sequence[float] | None, title: float
) -> list[float]:
    """Widths of the columns [mm]."""
    count = len(heads)
    columns = [(h, *(row[k] for row in rows)) for k, h in enumerate(heads)]
    floors = [max(_floor(c) for c in column) for column in columns]
    if count == 0 or wide < sum(floors):
        raise ValueError(f"{count} columns that want {sum(floors):g} mm do not fit into {wide:g} mm")
    if weights is not None:
        if len(weights) != count or min(weights) <= 0.0:
            raise ValueError("weights are one positive number for each column")
        return _at_least([wide * w / sum(weights) for w in weights], floors)
    needs = [[_needs(c) for c in column] for column in columns]
    # a head may take two lines where its column needs less
    full = [
        max(*(n[0] for n in column[1:]), column[0][1], column[0][0] / 2.0, f)
        for column, f in zip(needs, floors, strict=True)
    ]
    least = [max(*(n[1] for n in column), f) for column, f in zip(needs, floors, strict=True)]
    whole, tight = sum(full), sum(least)
    if whole <= wide:
        target = wide if whole >= WIDENED * wide else min(wide, max(whole, title))
        spare = (target - whole) / count
        return [f + spare for f in full]
    if tight <= wide:
        wants = [sum(n[0] ** 4 for n in column) ** 0.2 for column in needs]
        return _shared(wants, least, full, wide)
    return _at_least([wide * a / tight for a in least], floors)


def _shared(wants: list[float], least: list[float], full: list[float], wide: float) -> list[float]:
    """Widths between ``least`` and ``full`` with a small sum of (text / width)^4, and so a small height [mm]."""
    low, high = 0.0, 2.0 * max(f / w for f, w in zip(full, wants, strict=True))
    widths = least
    for _ in range(60):
        middle = (low + high) / 2.0
        tried = [min(max(middle * w, a), b) for w, a, b in zip(wants, least, full, strict=True)]
        if sum(tried) <= wide:
            low, widths = middle, tried
        else:
            high = middle
    return widths


def _at_least(widths: list[float], floors: list[float]) -> list[float]:
    """Widths with the same sum, none below its floor [mm]."""
    lacking = sum(max(0.0, f - w) for w, f in zip(widths, floors, strict=True))
    over = sum(max(0.0, w - f) for w, f in zip(widths, floors, strict=True))
    share = lacking / over if over > 0.0 else 0.0
    return [f if w <= f else w - share * (w - f) for w, f in zip(widths, floors, strict=True)]


def _head_row(heads: Sequence[str], widths: Sequence[float]) -> _Row:
    lines = tuple(wrap_text(h, w - 2 * PAD, SMALL, HEAD_LINES) for h, w in zip(heads, widths, strict=True))
    return _Row(tuple(heads), lines, _tall(max(len(x) for x in lines)) + DOUBLE)


def _row(cells: tuple[Cell, ...], widths: Sequence[float]) -> _Row:
    lines, least = [], 0.0
    for cell, width in zip(cells, widths, strict=True):
        if isinstance(cell, Blank):
            lines.append(wrap_text(cell.unit, width - 2 * PAD, SMALL, 1))
            least = WRITE_TALL
            continue
        beside = BOX + PAD if isinstance(cell, Tick) else 0.0
        text = cell.text if isinstance(cell, Tick) else cell
        lines.append(wrap_text(text, width - beside - 2 * PAD, SMALL))
        least = max(least, BOX + 2 * PAD if beside else 0.0)
    return _Row(cells, tuple(lines), max(least, _tall(max(len(x) for x in lines))))


def _tall(lines: int) -> float:
    return ABOVE + BELOW + PITCH * max(0, lines - 1)


def _pieces(row: _Row, room: float) -> list[_Row]:
    """A row, or its pieces that each fit into ``room`` [mm]."""
    if row.tall <= room:
        return [row]
    most = 1 + int((room - ABOVE - BELOW) / PITCH) if room >= max(ABOVE + BELOW, WRITE_TALL) else 0
    if most < 1:
        raise ValueError(f"a table with its head and one row does not fit: {room:.1f} mm are left for the row")
    pieces, cells = [], row.cells
    for first in range(0, max(len(x) for x in row.lines), most):
        lines = tuple(x[first : first + most] for x in row.lines)
        least = _tall(max(len(x) for x in lines))
        pieces.append(_Row(cells, lines, max(least, WRITE_TALL) if any(isinstance(c, Blank) for c in cells) else least))
        cells = tuple("" for _ in cells)
    return pieces


def _figure_columns(rows: Sequence[Sequence[Cell]]) -> list[bool]:
    """Which columns have only figures, and are aligned right."""
    columns = zip(*rows, strict=True)
    texts = [[c for c in column if not (isinstance(c, str) and c in ("", "-", "–"))] for column in columns]
    return [bool(t) and all(isinstance(c, str) and NUMBER.fullmatch(c) is not None for c in t) for t in texts]


def title_height(title: str, wide: float) -> float:
    """Height of a title over a block of width ``wide``, with the gap below; 0 for an empty one [mm]."""
    lines = wrap_text(title, wide, LARGE, 2)
    return lines_height(len(lines), LARGE) + HEAD_GAP if lines else 0.0


def draw_title(ink: Ink, title: str, wide: float, high: float) -> float:
    """Draw a title over a block of width ``wide``, from the level ``high`` down to that returned [mm]."""
    lines = wrap_text(title, wide, LARGE, 2)
    for n, line in enumerate(lines):
        ink.text(line, 0.0, high - LARGE * ASCENT - n * LINE * LARGE, LARGE)
    return high - title_height(title, wide)


def _table_block(title: str, rows: Sequence[_Row], widths: Sequence[float], right: Sequence[bool]) -> Block:
    """Rows with their lines; the first row is the head, with a double line below."""
    ink, wide = Ink(), sum(widths)
    body = sum(r.tall for r in rows)
    whole = body + title_height(title, wide)
    top = y = draw_title(ink, title, wide, whole)
    for n, row in enumerate(rows):
        x = 0.0
        first = y - ABOVE - (0.0 if n == 0 else row.spare / 2.0)
        for k, width in enumerate(widths):
            at_right = isinstance(row.cells[k], Blank) or (right[k] and n > 0)
            _draw_cell(ink, row.cells[k], row.lines[k], x, first, width, at_right)
            x += width
        y -= row.tall
        if n < len(rows) - 1:
            ink.line(TABLE, (0.0, y), (wide, y))
        if n == 0:
            ink.line(TABLE, (0.0, y + DOUBLE), (wide, y + DOUBLE))
    ink.box(TABLE, 0.0, top - body, wide, top)
    x = 0.0
    for width in widths[:-1]:
        x += width
        ink.line(TABLE, (x, top - body), (x, top))
    return Block(ink, wide, whole)


def _draw_cell(ink: Ink, cell: Cell, lines: tuple[str, ...], x: float, y: float, wide: float, right: bool) -> None:
    """Draw a cell from x, its first baseline at y, aligned ``right`` or left."""
    left = x + PAD
    if isinstance(cell, Tick):
        low = y + SMALL / 2.0 - BOX / 2.0
        ink.box(TABLE, left, low, left + BOX, low + BOX)
        left += BOX + PAD
    for line in lines:
        ink.text(line, x + wide - PAD - text_width(line, SMALL) if right else left, y)
        y -= PITCH


Marks = Literal["none", "numbers", "boxes"]
BETWEEN = 6.0
"""Between columns [mm]."""
APART = {"none": 1.5, "numbers": 1.5, "boxes": 2.8}
"""Between paragraphs [mm]."""
AFTER_MARK = 1.5
"""Between a number or a box and its text [mm]."""
STEP = 0.5
"""Step of the heights that are tried for columns, so that they end alike [mm]."""


@dataclass(frozen=True)
class _Chunk:
    """A paragraph, or a part of it; ``mark`` is its number or empty."""

    lines: tuple[str, ...]
    mark: str

    @property
    def tall(self) -> float:
        return _tall(len(self.lines))


def paragraphs(
    head: str, texts: Sequence[str], wide: float, tall: float, columns: int = 1, *, marks: Marks = "none"
) -> tuple[Block, ...]:
    """Texts in columns under a head, without empty ones; no blocks without texts.

    :param wide, tall: most room of a block [mm]
    :raises ValueError: no room for one line
    """
    texts = [t for t in map(safe_text, texts) if t]
    if not texts:
        return ()
    first_head, later_head = safe_text(head), safe_text(words.continued(head))
    column = (wide - BETWEEN * (columns - 1)) / columns
    indent = _indent(len(texts), marks)
    room = tall - max(title_height(first_head, wide), title_height(later_head, wide))
    if columns < 1 or column - indent < LEAST or room < ABOVE + BELOW:
        raise ValueError(f"{columns} columns of text do not fit into {wide:g} x {tall:g} mm")
    chunks = [c for n, t in enumerate(texts) for c in _chunks(t, str(n + 1), column - indent, room)]
    blocks: list[Block] = []
    while chunks:
        filled = _balance(chunks, columns, room, APART[marks])
        title = later_head if blocks else first_head
        blocks.append(_column_block(title, filled, wide, column, indent, marks))
        chunks = chunks[sum(len(c) for c in filled) :]
    return tuple(blocks)


def _indent(count: int, marks: Marks) -> float:
    widest = {"none": 0.0, "numbers": text_width("0" * len(str(count)), SMALL), "boxes": BOX}[marks]
    return widest + AFTER_MARK if widest else 0.0


def _chunks(text: str, mark: str, room: float, tall: float) -> list[_Chunk]:
    """A paragraph, or its parts that each fit into a column of height ``tall`` [mm]."""
    lines = wrap_text(text, room, SMALL)
    most = 1 + int((tall - ABOVE - BELOW) / PITCH + 1e-9)
    return [_Chunk(lines[k : k + most], mark if k == 0 else "") for k in range(0, len(lines), most)]


def _balance(chunks: Sequence[_Chunk], columns: int, tall: float, apart: float) -> list[list[_Chunk]]:
    """The chunks of one block, as many as fit, in columns as short as can be [mm]."""
    best = _fill(chunks, columns, tall, apart)
    low, high = 0, int(tall / STEP)
    while low < high:
        middle = (low + high) // 2
        tried = _fill(chunks, columns, STEP * middle, apart)
        if sum(map(len, tried)) < sum(map(len, best)):
            low = middle + 1
        else:
            high, best = middle, tried
    return best


def _fill(chunks: Sequence[_Chunk], columns: int, tall: float, apart: float) -> list[list[_Chunk]]:
    """Columns filled one after the other [mm]."""
    filled: list[list[_Chunk]] = []
    left = 0.0
    for chunk in chunks:
        if filled and left >= chunk.tall + apart:
            filled[-1].append(chunk)
            left -= chunk.tall + apart
            continue
        if len(filled) == columns or chunk.tall > tall + 1e-9:
            break
        filled.append([chunk])
        left = tall - chunk.tall
    return filled


def _column_block(
    head: str, filled: list[list[_Chunk]], wide: float, column: float, indent: float, marks: Marks
) -> Block:
    apart = APART[marks]
    body = max(sum(c.tall for c in cs) + apart * (len(cs) - 1) for cs in filled)
    whole, ink = body + title_height(head, wide), Ink()
    top = draw_title(ink, head, wide, whole)
    for n, chunks in enumerate(filled):
        x, y = n * (column + BETWEEN), top
        for chunk in chunks:
            _write_chunk(ink, chunk, x, y - ABOVE, indent, marks)
            y -= chunk.tall + apart
    return Block(ink, wide, whole)


def _write_chunk(ink: Ink, chunk: _Chunk, x: float, y: float, indent: float, marks: Marks) -> None:
    """A chunk from its first baseline down."""
    if chunk.mark and marks == "numbers":
        ink.text(chunk.mark, x + indent - AFTER_MARK - text_width(chunk.mark, SMALL), y)
    elif chunk.mark and marks == "boxes":
        low = y + SMALL / 2.0 - BOX / 2.0
        ink.box(TABLE, x, low, x + BOX, low + BOX)
    for line in chunk.lines:
        ink.text(line, x + indent, y)
        y -= PITCH
