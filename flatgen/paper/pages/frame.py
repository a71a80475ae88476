"""Frame of a sheet after ISO 5457:1999, from memory: borders, centring marks, grid reference.

border          20 mm at the left for filing, 10 mm elsewhere
frame           0.7 mm, limits the drawing space
centring marks  on both axes of the paper, from the grid reference border 10 mm inward
grid reference  fields of 50 mm counted from the centring marks, corner fields take what is left; letters without
                I and O from top to bottom, numbers from left to right; A3 and larger, a strip of 5 mm about the frame

The sizes of ISO 216 and ASME Y14.1 are those of trimmed paper, which is what a home printer holds, so that there are
no trimming marks. The same rules serve Letter and Tabloid.
"""

from __future__ import annotations

import itertools

from flatgen.paper.drawing.ink import LARGE, Ink
from flatgen.paper.drawing.papers import Paper
from flatgen.paper.drawing.wrapping import run
from flatgen.paper.pages.pens import FRAME, TABLE

FILING, BORDER = 20.0, 10.0
STRIP = 5.0
"""Width of the grid reference about the frame [mm]."""
MARK = 10.0
"""Length of a centring mark [mm]."""
FIELD = 50.0
"""Of the grid reference [mm]."""
GRID_FROM = 420.0
"""Long side of the smallest paper with a grid reference [mm]."""
TITLE_WIDE = 180.0
"""Of the title block at the lower right corner, which the lower centring mark does not enter [mm] (ISO 7200)."""
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


def sides(paper: Paper, landscape: bool) -> tuple[float, float]:
    """Width and height of a sheet.

    Parameters
    ----------
    paper : Paper
        A sheet, [mm]
    landscape : bool
        Long side level, [-]

    Returns
    -------
    tuple[float, float]
        [mm]

    Raises
    ------
    ValueError
        For a roll, which has no frame.
    """
    if paper.long is None:
        raise ValueError(f"{paper.name} is no sheet")
    return (paper.long, paper.narrow) if landscape else (paper.narrow, paper.long)


def space(paper: Paper, landscape: bool) -> tuple[float, float, float, float]:
    """Drawing space: the frame's left, low, right and high side.

    Parameters
    ----------
    paper : Paper
        A sheet, [mm]
    landscape : bool
        Long side level, [-]

    Returns
    -------
    tuple[float, float, float, float]
        From the lower left corner of the paper, [mm]

    Examples
    --------
    ISO 5457: the drawing space of A3 is 390 x 277 mm.

    >>> from flatgen.paper.drawing.papers import paper_of
    >>> space(paper_of("A3"), True)
    (20.0, 10.0, 410.0, 287.0)
    """
    wide, tall = sides(paper, landscape)
    return FILING, BORDER, wide - BORDER, tall - BORDER


def frame(paper: Paper, landscape: bool) -> Ink:
    """Frame, centring marks and grid reference of a sheet.

    Parameters
    ----------
    paper : Paper
        A sheet, [mm]
    landscape : bool
        Long side level, [-]

    Returns
    -------
    Ink
        From the lower left corner of the paper, [mm]
    """
    wide, tall = sides(paper, landscape)
    left, low, right, high = space(paper, landscape)
    ink = Ink()
    ink.box(FRAME, left, low, right, high)
    x, y = wide / 2.0, tall / 2.0
    under_title = x > right - TITLE_WIDE - MARK
    ink.line(FRAME, (x, low - STRIP), (x, low if under_title else low - STRIP + MARK))
    ink.line(FRAME, (x, high + STRIP), (x, high + STRIP - MARK))
    ink.line(FRAME, (left - STRIP, y), (left - STRIP + MARK, y))
    ink.line(FRAME, (right + STRIP, y), (right + STRIP - MARK, y))
    if paper.long is not None and paper.long >= GRID_FROM:
        _grid(ink, wide, tall)
    return ink


def fields(side: float) -> int:
    """How many fields of the grid reference lie along a side of the paper.

    Parameters
    ----------
    side : float
        [mm]

    Returns
    -------
    int
        Even, [-]

    Examples
    --------
    ISO 5457, table: A3 has 8 x 6 fields, A0 24 x 16.

    >>> fields(420.0), fields(297.0), fields(1189.0), fields(841.0)
    (8, 6, 24, 16)
    """
    return 2 * max(1, round((side / 2.0 - BORDER) / FIELD))


def _grid(ink: Ink, wide: float, tall: float) -> None:
    """The strip about the frame with its fields."""
    left, low, right, high = FILING, BORDER, wide - BORDER, tall - BORDER
    ink.box(TABLE, left - STRIP, low - STRIP, right + STRIP, high + STRIP)
    across, up = _edges(wide, left, right), _edges(tall, low, high)
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


def _edges(side: float, first: float, last: float) -> list[float]:
    """Limits of the fields along a side of the paper, from frame line to frame line."""
    half = fields(side) // 2
    inner = [side / 2.0 + FIELD * k for k in range(1 - half, half)]
    return [first, *inner, last]


def _centred(ink: Ink, said: str, x: float, y: float) -> None:
    ink.text(said, x - run(said, LARGE) / 2.0, y - LARGE / 2.0, LARGE)
