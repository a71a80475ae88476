"""Blocks on framed pages in the order of reading, down and side by side where two fit; documents and files of pages.

row     blocks that begin at one height; where the row is deep enough, a block may also stand under its last one
room    the drawing space less a clear border, above the title block; beside the title block narrow blocks go down to
        the lower border
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from flatgen.paper.drawing.ink import Block, Ink, Paper, ink_document
from flatgen.paper.drawing.text import Box
from flatgen.paper.pages import frame
from flatgen.paper.pages.frame import TitleFacts, drawing_space, frame_ink, sheet_size, title_block

CLEAR = frame.MARK - frame.STRIP + 1.0
"""From the frame to the blocks, beyond the centring marks [mm]."""
GAPS = (8.0, 6.0, 4.0)
"""Between blocks; the largest that needs no further page is taken [mm]."""
ABOVE_TITLE = 4.0
"""Between the title block and the blocks [mm]."""
TRIES = 4000
"""Most places of blocks that are tried for a page."""
MOST = 300
"""Most blocks on a page."""
BETWEEN = 20.0
"""Between pages in their document [mm]."""


@dataclass(frozen=True)
class Break:
    """Begins a new page."""


@dataclass(frozen=True)
class _Page:
    """Clear part of a page, and left and upper side of the title block with its gap [mm]."""

    left: float
    low: float
    right: float
    high: float
    title_left: float
    title_high: float

    def takes(self, x: float, top: float, block: Block) -> bool:
        """Whether a block fits with its upper left corner there."""
        over_title = x + block.wide > self.title_left
        low = self.title_high if over_title else self.low
        return x + block.wide <= self.right + 1e-6 and top - block.tall >= low - 1e-6


@dataclass(frozen=True)
class _Row:
    """The row to be filled: upper and lower side, and left, right and lower side of its last column [mm]."""

    high: float
    low: float
    left: float
    right: float
    column_low: float


@dataclass
class _Search:
    """A search for the most blocks on a page; ``best``: their upper left corners."""

    blocks: Sequence[Block]
    page: _Page
    gap: float
    best: tuple[tuple[float, float], ...] = ()
    left: int = field(default=TRIES)

    def extend(self, row: _Row | None, placed: tuple[tuple[float, float], ...]) -> None:
        """Place the next block in every way, the closest first."""
        if len(placed) > len(self.best):
            self.best = placed
        if len(placed) == len(self.blocks) or self.left <= 0:
            return
        block = self.blocks[len(placed)]
        for (x, top), after in self._places(row, block):
            if len(self.best) == len(self.blocks):
                return
            if self.page.takes(x, top, block):
                self.left -= 1
                self.extend(after, (*placed, (x, top)))

    def _places(self, row: _Row | None, block: Block) -> list[tuple[tuple[float, float], _Row]]:
        """Corners for a block, each with the row after it."""
        page, gap, places = self.page, self.gap, []
        if row is not None:
            top = row.column_low - gap
            if top - block.tall >= row.low - 1e-6:
                right = max(row.right, row.left + block.wide)
                places.append(((row.left, top), replace(row, right=right, column_low=top - block.tall)))
            x, low = row.right + gap, row.high - block.tall
            places.append(((x, row.high), _Row(row.high, min(row.low, low), x, x + block.wide, low)))
        top = page.high if row is None else row.low - gap
        low = top - block.tall
        places.append(((page.left, top), _Row(top, low, page.left, page.left + block.wide, low)))
        return places


def room(paper: Paper, landscape: bool, *, later: bool = False) -> tuple[float, float]:
    """Width and height of the largest block of full width on every page [mm].

    :param later: on every page but the first, whose title block is higher
    """
    page = _page(paper, landscape, frame.REDUCED_TALL if later else frame.FULL_TALL)
    return page.right - page.left, page.high - page.title_high


def flow_pages(
    blocks: Sequence[Block | Break],
    paper: Paper,
    landscape: bool,
    facts: TitleFacts,
    symbol: Block,
    *,
    reduced: bool = False,
) -> tuple[Ink, ...]:
    """Pages with frame, blocks and title block, which is full on the first page and reduced on the others.

    :param reduced: the title block reduced on the first page too
    :raises ValueError: a block larger than the room of its page, the first page for the first block, else a later one
    """
    talls = (frame.REDUCED_TALL if reduced else frame.FULL_TALL, frame.REDUCED_TALL)
    first, later = (_page(paper, landscape, tall) for tall in talls)
    _check_sizes(blocks, first, later, paper, landscape)
    runs = _runs(blocks)
    best = min((_flow(runs, first, later, gap) for gap in GAPS), key=len)
    left, low, right, _ = drawing_space(paper, landscape)
    sheets = []
    for n, page in enumerate(best):
        ink = frame_ink(paper, landscape)
        title = title_block(facts, paper.name, n + 1, len(best), symbol, reduced=reduced or n > 0)
        ink.add(title.ink, max(left, right - frame.TITLE_WIDE), low)
        for block, x, top in page:
            ink.add(block.ink, x, top - block.tall)
        sheets.append(ink)
    return tuple(sheets)


def _check_sizes(blocks: Sequence[Block | Break], first: _Page, later: _Page, paper: Paper, landscape: bool) -> None:
    """Refuse a block that no empty page takes; the first page is that of the first block."""
    for n, block in enumerate(b for b in blocks if isinstance(b, Block)):
        page = later if n else first
        if not page.takes(page.left, page.high, block):
            wide, tall = room(paper, landscape, later=n > 0)
            size = f"block {n + 1} of {block.wide:.1f} x {block.tall:.1f} mm"
            raise ValueError(f"{size} is larger than a page of {paper.name}, {wide:.1f} x {tall:.1f} mm")


def _page(paper: Paper, landscape: bool, title_tall: float) -> _Page:
    left, low, right, high = drawing_space(paper, landscape)
    title_left, title_high = right - frame.TITLE_WIDE - ABOVE_TITLE, low + title_tall + ABOVE_TITLE
    return _Page(left + CLEAR, low + CLEAR, right - CLEAR, high - CLEAR, title_left, title_high)


def _runs(blocks: Sequence[Block | Break]) -> list[list[Block]]:
    """What stands between breaks."""
    runs: list[list[Block]] = [[]]
    for block in blocks:
        if isinstance(block, Break):
            runs.append([])
        else:
            runs[-1].append(block)
    return [r for r in runs if r] or [[]]


def _flow(
    runs: Sequence[Sequence[Block]], first: _Page, later: _Page, gap: float
) -> list[list[tuple[Block, float, float]]]:
    """Each page's blocks with their upper left corners [mm]."""
    pages: list[list[tuple[Block, float, float]]] = []
    for run in runs:
        rest = list(run)
        while rest or not pages:
            search = _Search(rest[:MOST], later if pages else first, gap)
            search.extend(None, ())
            pages.append([(b, *at) for b, at in zip(rest, search.best, strict=False)])
            if rest and not search.best:
                raise ValueError("a block finds no room on an empty page")
            rest = rest[len(search.best) :]
    return pages


def page_files(pages: Sequence[Ink], paper: Paper, stem: str, title: str) -> dict[str, bytes]:
    """Upright pages as ``STEM.pdf`` and ``STEM.svg``, several as ``STEM-1.svg`` and so on."""
    from flatgen.paper.drawing.recording import record_drawing
    from flatgen.paper.drawing.writers import PdfPage, pdf_bytes, svg_window

    recording = record_drawing(sheet_document(pages, paper, landscape=False))
    windows = [page_window(n, paper, False) for n in range(len(pages))]
    files = {f"{stem}.pdf": pdf_bytes([PdfPage(recording, w, w[2] - w[0], w[3] - w[1]) for w in windows], title)}
    for n, w in enumerate(windows, start=1):
        files[f"{stem}.svg" if len(windows) == 1 else f"{stem}-{n}.svg"] = svg_window(recording, w).encode()
    return files


def sheet_document(pages: Sequence[Ink], paper: Paper, *, version: str = "R2010", landscape: bool = True) -> Any:
    """All pages side by side in one document at 1:1, see :func:`page_window`."""
    ink = Ink()
    for n, page in enumerate(pages):
        ink.add(page, page_window(n, paper, landscape)[0], 0.0)
    _, _, right, high = page_window(len(pages) - 1, paper, landscape)
    return ink_document(ink, frame.PENS, right, high, solids=frame.EXTENSION, version=version)


def page_window(number: int, paper: Paper, landscape: bool = True) -> Box:
    """The window of a page in the document [mm]; ``number`` from 0."""
    wide, tall = sheet_size(paper, landscape)
    left = number * (wide + BETWEEN)
    return left, 0.0, left + wide, tall
