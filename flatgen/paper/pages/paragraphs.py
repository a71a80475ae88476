"""Texts in columns, plain, numbered or with boxes to tick, in blocks that a page takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from flatgen.paper.drawing.ink import SMALL, Block, Ink
from flatgen.paper.drawing.wrapping import run, sound, wrapped
from flatgen.paper.pages import words as words
from flatgen.paper.pages.pens import TABLE
from flatgen.paper.pages.tables import ABOVE, BELOW, BOX, LEAST, PITCH, title_tall, titled

Marks = Literal["none", "numbers", "boxes"]
BETWEEN = 6.0
"""Between columns [mm]."""
APART = {"none": 1.5, "numbers": 1.5, "boxes": 2.8}
"""Between paragraphs [mm]."""
AFTER_MARK = 1.5
"""Between a number or a box and its text [mm]."""
STEP = 0.5
"""By which the height of columns is tried, so that they end alike [mm]."""


@dataclass(frozen=True)
class _Chunk:
    """A paragraph, or what of it a column takes; ``mark`` is its number or empty."""

    lines: tuple[str, ...]
    mark: str

    @property
    def tall(self) -> float:
        return ABOVE + BELOW + PITCH * (len(self.lines) - 1)


def paragraphs(
    head: str,
    texts: Sequence[str],
    wide: float,
    tall: float,
    columns: int = 1,
    *,
    marks: Marks = "none",
) -> tuple[Block, ...]:
    """Texts in columns under a head, read down the first column and then down the next.

    Parameters
    ----------
    head : str
        Over the texts, may be empty, [-]
    texts : Sequence[str]
        Paragraphs; empty ones are left out, [-]
    wide, tall : float
        Most room of a block, [mm]
    columns : int
        Side by side, [-]
    marks : Marks
        What stands before a paragraph, [-]

    Returns
    -------
    tuple[Block, ...]
        In order, none without texts, [mm]

    Raises
    ------
    ValueError
        For room that is too small for one line.
    """
    said = [t for t in map(sound, texts) if t]
    if not said:
        return ()
    over, again = sound(head), sound(words.continued(head))
    column = (wide - BETWEEN * (columns - 1)) / columns
    indent = _indent(len(said), marks)
    room = tall - max(title_tall(over, wide), title_tall(again, wide))
    if columns < 1 or column - indent < LEAST or room < ABOVE + BELOW:
        raise ValueError(f"{columns} columns of text do not fit into {wide:g} x {tall:g} mm")
    chunks = [c for n, t in enumerate(said) for c in _chunks(t, str(n + 1), column - indent, room)]
    blocks: list[Block] = []
    while chunks:
        filled = _even(chunks, columns, room, APART[marks])
        blocks.append(_drawn(over if not blocks else again, filled, wide, column, indent, marks))
        chunks = chunks[sum(len(c) for c in filled) :]
    return tuple(blocks)


def _indent(count: int, marks: Marks) -> float:
    widest = {"none": 0.0, "numbers": run("0" * len(str(count)), SMALL), "boxes": BOX}[marks]
    return widest + AFTER_MARK if widest else 0.0


def _chunks(text: str, mark: str, room: float, tall: float) -> list[_Chunk]:
    """A paragraph in one piece, or in pieces that a column takes [mm]."""
    lines = wrapped(text, room, SMALL)
    most = 1 + int((tall - ABOVE - BELOW) / PITCH + 1e-9)
    return [_Chunk(lines[k : k + most], mark if k == 0 else "") for k in range(0, len(lines), most)]


def _even(chunks: Sequence[_Chunk], columns: int, tall: float, apart: float) -> list[list[_Chunk]]:
    """As many as go into one block, its columns as short as they can be [mm]."""
    best = _filled(chunks, columns, tall, apart)
    low, high = 0, int(tall / STEP)
    while low < high:
        middle = (low + high) // 2
        tried = _filled(chunks, columns, STEP * middle, apart)
        if sum(map(len, tried)) < sum(map(len, best)):
            low = middle + 1
        else:
            high, best = middle, tried
    return best


def _filled(chunks: Sequence[_Chunk], columns: int, tall: float, apart: float) -> list[list[_Chunk]]:
    """Columns filled one after the other with whole chunks [mm]."""
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


def _drawn(head: str, filled: list[list[_Chunk]], wide: float, column: float, indent: float, marks: Marks) -> Block:
    """A block of columns."""
    apart = APART[marks]
    depth = max(sum(c.tall for c in cs) + apart * (len(cs) - 1) for cs in filled)
    whole, ink = depth + title_tall(head, wide), Ink()
    top = titled(ink, head, wide, whole)
    for n, chunks in enumerate(filled):
        x, y = n * (column + BETWEEN), top
        for chunk in chunks:
            _write(ink, chunk, x, y - ABOVE, indent, marks)
            y -= chunk.tall + apart
    return Block(ink, wide, whole)


def _write(ink: Ink, chunk: _Chunk, x: float, y: float, indent: float, marks: Marks) -> None:
    """A chunk from its first baseline down."""
    if chunk.mark and marks == "numbers":
        ink.text(chunk.mark, x + indent - AFTER_MARK - run(chunk.mark, SMALL), y)
    elif chunk.mark and marks == "boxes":
        low = y + SMALL / 2.0 - BOX / 2.0
        ink.box(TABLE, x, low, x + BOX, low + BOX)
    for line in chunk.lines:
        ink.text(line, x + indent, y)
        y -= PITCH
