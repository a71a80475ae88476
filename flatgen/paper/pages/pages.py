"""Blocks flow into framed pages in the order of reading: down, and side by side where two fit.

row     blocks that begin at one height; a block may also stand under the last one of a row where the row is deep
        enough, so that what is read next is below or to the right
room    the drawing space less a clear border, above the title block; beside the title block narrow blocks go down to
        the lower border
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from flatgen.paper.drawing.ink import Block, Ink, Paper, ink_document
from flatgen.paper.pages.frame import (
    EXTENSION,
    FULL_TALL,
    MARK,
    PENS,
    REDUCED_TALL,
    STRIP,
    TITLE_WIDE,
    TitleFacts,
    frame,
    sides,
    space,
    title_block,
)

if TYPE_CHECKING:
    pass


CLEAR = MARK - STRIP + 1.0
"""From the frame to what is drawn, beyond the centring marks [mm]."""

GAPS = (8.0, 6.0, 4.0)
"""Between blocks; the largest with which no further page is needed [mm]."""

ABOVE_TITLE = 4.0
"""Between the title block and what is drawn [mm]."""

TRIES = 4000
"""So many places of blocks are looked at for a page."""

MOST = 300
"""Most blocks on a page."""


@dataclass(frozen=True)
class Break:
    """What follows begins a page."""


@dataclass(frozen=True)
class _Page:
    """Clear part of a page, and where the title block begins with its gap [mm]."""

    left: float
    low: float
    right: float
    high: float
    title_left: float
    title_high: float

    def takes(self, x: float, top: float, block: Block) -> bool:
        """Whether a block finds room with its upper left corner there."""
        over_title = x + block.wide > self.title_left
        low = self.title_high if over_title else self.low
        return x + block.wide <= self.right + 1e-6 and top - block.tall >= low - 1e-6


@dataclass(frozen=True)
class _Row:
    """The row that is being filled: its upper and lower side, and its last column: left, right and lower side [mm]."""

    high: float
    low: float
    left: float
    right: float
    column_low: float


@dataclass
class _Search:
    """The longest run of blocks found for a page, each with its upper left corner."""

    blocks: Sequence[Block]
    page: _Page
    gap: float
    best: tuple[tuple[float, float], ...] = ()
    left: int = field(default=TRIES)

    def go(self, row: _Row | None, placed: tuple[tuple[float, float], ...]) -> None:
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
                self.go(after, (*placed, (x, top)))

    def _places(self, row: _Row | None, block: Block) -> list[tuple[tuple[float, float], _Row]]:
        """Corners at which a block may stand, and the row after it."""
        page, gap, found = self.page, self.gap, []
        if row is not None:
            top = row.column_low - gap
            if top - block.tall >= row.low - 1e-6:
                right = max(row.right, row.left + block.wide)
                found.append(((row.left, top), replace(row, right=right, column_low=top - block.tall)))
            x, low = row.right + gap, row.high - block.tall
            found.append(((x, row.high), _Row(row.high, min(row.low, low), x, x + block.wide, low)))
        top = page.high if row is None else row.low - gap
        low = top - block.tall
        found.append(((page.left, top), _Row(top, low, page.left, page.left + block.wide, low)))
        return found


def room(paper: Paper, landscape: bool, *, later: bool = False) -> tuple[float, float]:
    """The largest block that every page takes over its full width, or every page but the first.

    :param later: of pages after the first, whose title block is lower
    :returns: width and height [mm]
    """
    page = _page(paper, landscape, REDUCED_TALL if later else FULL_TALL)
    return page.right - page.left, page.high - page.title_high


def paged(
    blocks: Sequence[Block | Break],
    paper: Paper,
    landscape: bool,
    facts: TitleFacts,
    symbol: Block,
    *,
    reduced: bool = False,
) -> tuple[Ink, ...]:
    """Blocks on framed pages with their title blocks, full on the first and reduced on the others.

    :param reduced: the title block reduced on the first page too
    :returns: one for each sheet, from the lower left corner of the paper [mm]
    :raises ValueError: For a first block larger than the room of the first page, another larger than that of the pages
        after it.
    """
    talls = (REDUCED_TALL if reduced else FULL_TALL, REDUCED_TALL)
    first, later = (_page(paper, landscape, tall) for tall in talls)
    _fit(blocks, first, later, paper, landscape)
    runs = _runs(blocks)
    tried = (_flowed(runs, first, later, gap) for gap in GAPS)
    best = min(tried, key=len)
    left, low, right, _ = space(paper, landscape)
    sheets = []
    for n, page in enumerate(best):
        ink = frame(paper, landscape)
        title = title_block(facts, paper.name, n + 1, len(best), symbol, reduced=reduced or n > 0)
        ink.add(title.ink, max(left, right - TITLE_WIDE), low)
        for block, x, top in page:
            ink.add(block.ink, x, top - block.tall)
        sheets.append(ink)
    return tuple(sheets)


def _fit(blocks: Sequence[Block | Break], first: _Page, later: _Page, paper: Paper, landscape: bool) -> None:
    """Refuse a block that no empty page takes; the first page is that of the first block."""
    for n, block in enumerate(b for b in blocks if isinstance(b, Block)):
        page = later if n else first
        if not page.takes(page.left, page.high, block):
            wide, tall = room(paper, landscape, later=n > 0)
            size = f"block {n + 1} of {block.wide:.1f} x {block.tall:.1f} mm"
            raise ValueError(f"{size} is larger than a page of {paper.name}, {wide:.1f} x {tall:.1f} mm")


def _page(paper: Paper, landscape: bool, title_tall: float) -> _Page:
    left, low, right, high = space(paper, landscape)
    title_left, title_high = right - TITLE_WIDE - ABOVE_TITLE, low + title_tall + ABOVE_TITLE
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


def _flowed(
    runs: Sequence[Sequence[Block]], first: _Page, later: _Page, gap: float
) -> list[list[tuple[Block, float, float]]]:
    """Each page's blocks with their upper left corners [mm]."""
    pages: list[list[tuple[Block, float, float]]] = []
    for run in runs:
        rest = list(run)
        while rest or not pages:
            search = _Search(rest[:MOST], later if pages else first, gap)
            search.go(None, ())
            pages.append([(b, *at) for b, at in zip(rest, search.best, strict=False)])
            if rest and not search.best:
                raise ValueError("a block finds no room on an empty page")
            rest = rest[len(search.best) :]
    return pages


def page_files(pages: Sequence[Ink], paper: Paper, stem: str, title: str) -> dict[str, bytes]:
    """Upright pages as a PDF and as SVG.

    :returns: ``STEM.pdf`` and ``STEM.svg``, or ``STEM-1.svg`` and so on of several pages
    """
    from flatgen.paper.drawing.recording import recorded
    from flatgen.paper.drawing.writers import PdfPage, pdf_bytes, svg_window

    shown = recorded(sheet_document(pages, paper, landscape=False))
    windows = [window(n, paper, False) for n in range(len(pages))]
    made = {f"{stem}.pdf": pdf_bytes([PdfPage(shown, w, w[2] - w[0], w[3] - w[1]) for w in windows], title)}
    for n, w in enumerate(windows, start=1):
        made[f"{stem}.svg" if len(windows) == 1 else f"{stem}-{n}.svg"] = svg_window(shown, w).encode()
    return made


BETWEEN = 20.0
"""Between the pages in the document [mm]."""


def sheet_document(pages: Sequence[Ink], paper: Paper, *, version: str = "R2010", landscape: bool = True) -> Any:
    """All pages side by side in one document at 1:1 of the paper.

    :param pages: of :func:`sheet_pages`
    :returns: where page n begins says :func:`window`
    """
    ink = Ink()
    for n, page in enumerate(pages):
        ink.add(page, window(n, paper, landscape)[0], 0.0)
    _, _, right, high = window(len(pages) - 1, paper, landscape)
    return ink_document(ink, PENS, right, high, solids=EXTENSION, version=version)


def window(number: int, paper: Paper, landscape: bool = True) -> tuple[float, float, float, float]:
    """Where a page stands in the document.

    :param number: from 0
    :returns: left, low, right, high [mm]
    """
    wide, tall = sides(paper, landscape)
    left = number * (wide + BETWEEN)
    return left, 0.0, left + wide, tall
