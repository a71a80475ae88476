"""The report on strips: measured against expected, and what is left over by strip, by angle, by place along the brake.

Pages of ink on paper, upright, as the measuring card is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from flatgen import __version__
from flatgen.paper.drawing.ink import SMALL, Block, Ink
from flatgen.paper.drawing.papers import INCH, Paper
from flatgen.paper.drawing.words import clean
from flatgen.paper.drawing.wrapping import run
from flatgen.paper.pages.page_files import page_files
from flatgen.paper.pages.pages import GAPS, Break, paged, room
from flatgen.paper.pages.paragraphs import paragraphs
from flatgen.paper.pages.tables import Cell, table
from flatgen.paper.pages.title_block import TitleFacts
from flatgen.paper.shop_sheet import sheet_words
from flatgen.paper.shop_sheet.views import projection_symbol
from flatgen.paper.strip_sheets.plots import APART, FIGURES, Axis, axis, columns, plot, typical
from flatgen.strips.learning import patterns as words
from flatgen.strips.learning.misfit import Residual, residuals
from flatgen.strips.learning.model import Learned
from flatgen.strips.learning.patterns import Pattern, looked_for
from flatgen.strips.reading import StripReading

TALL = 48.0
"""Of a plot [mm]."""
BETWEEN = GAPS[0]
"""Between two plots in a row [mm]."""
LEAST = {"leg": 0.4, "angle": 2.0}
"""Shortest axes [mm, deg]."""
MOST_APART = 40
"""Strips with a line between them."""
FARTHEST = 8
"""Numbers that are named."""
Files = dict[str, bytes]


def report_pages(
    known: Learned,
    readings: Sequence[StripReading],
    found: Sequence[Pattern],
    paper: Paper,
    log: str,
    *,
    inches: bool = False,
) -> tuple[Ink, ...]:
    """The report.

    Parameters
    ----------
    known : Learned
        What the readings have taught, [-]
    readings : Sequence[StripReading]
        The same readings, [mm]
    found : Sequence[Pattern]
        What is not chance, [-]
    paper : Paper
        A sheet, used upright, [mm]
    log : str
        Name of the log, [-]
    inches : bool
        Inches first in the tables, [-]

    Returns
    -------
    tuple[Ink, ...]
        Plots on the first pages, tables behind them, [mm]
    """
    off = residuals(known, readings)
    wide, tall = room(paper, False)
    blocks: list[Block | Break] = [*_said(readings, found, wide, tall)]
    blocks += paragraphs("", [words.HOW], wide, tall)
    blocks += _plots(readings, off, wide)
    blocks += _farthest(off, wide, tall, inches)
    blocks += _strips(readings, wide, tall)
    blocks += paragraphs("", [words.CAUTION], wide, tall)
    facts = TitleFacts(
        title=words.TITLE.format(log=clean(log)),
        number=clean(log),
        document_type=words.TYPE,
        unit="in" if inches else "mm",
        program=sheet_words.PROGRAM.format(version=__version__),
    )
    return paged(blocks, paper, False, facts, projection_symbol("first"))


def report_files(pages: Sequence[Ink], paper: Paper, name: str) -> Files:
    """Pages as one PDF, and as one SVG each.

    Parameters
    ----------
    pages : Sequence[Ink]
        Of :func:`report_pages`, [mm]
    paper : Paper
        Theirs, [mm]
    name : str
        That file names begin with, [-]

    Returns
    -------
    dict[str, bytes]
        By file name, [-]
    """
    return page_files(pages, paper, f"{name}.report", name)


def _said(readings: Sequence[StripReading], found: Sequence[Pattern], wide: float, tall: float) -> tuple[Block, ...]:
    """What is not chance, in words."""
    texts = [f"{_capital(p.text)}. {_capital(p.remedy)}." for p in found]
    if all(p.share is None for p in found):
        tests = looked_for(readings)
        texts.insert(0, words.NOTHING.format(tests=tests) if tests else words.NOT_ASKED)
    return paragraphs(words.STANDS_OUT, [clean(t) for t in texts], wide, tall / 2)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _plots(readings: Sequence[StripReading], off: Sequence[Residual], wide: float) -> list[Block]:
    """Plots in the order of reading; two in a row where they are narrow."""
    half = (wide - BETWEEN) / 2
    legs, angles = ([r for r in off if r.what == sort] for sort in ("leg", "angle"))
    homes = _homes(readings, off)
    found: list[Block] = []
    if legs:
        found.append(_by_strip(words.LEGS_BY_STRIP, legs, homes, readings, wide))
    if angles:
        found.append(_by_strip(words.ANGLES_BY_STRIP, angles, homes, readings, wide))
        found.append(_by_angle(readings, angles, homes, half))
        found.append(_by_place(words.ANGLES_BY_PLACE, angles, half))
    if legs:
        found.append(_by_place(words.LEGS_BY_PLACE, legs, half))
        found.append(_against(words.LEGS_MEASURED, legs, half))
    if angles:
        found.append(_against(words.ANGLES_MEASURED, angles, half))
    return found


def _homes(readings: Sequence[StripReading], off: Sequence[Residual]) -> dict[int, int]:
    """Number of the strip, from 1, of each residual by its identity: they come in the order of the strips."""
    homes, strip, left = {}, 0, 0
    for residual in off:
        while left == 0:
            strip += 1
            left = _numbers(readings[strip - 1])
        homes[id(residual)] = strip
        left -= 1
    return homes


def _numbers(reading: StripReading) -> int:
    """Measured numbers that are learned from."""
    legs = sum(g.got is not None for g in reading.legs)
    bends = sum((b.radius is not None) + (b.set is not None and b.got is not None) for b in reading.bends)
    return legs + bends + (reading.blank_got is not None)


def _gap(residual: Residual) -> float:
    return residual.measured - residual.expected


def _upright(off: Sequence[Residual]) -> Axis:
    return axis(typical([_gap(r) for r in off]), LEAST[off[0].what], about_zero=True)


def _zero(level: Axis) -> tuple[tuple[float, float], ...]:
    return ((level.low, 0.0), (level.high, 0.0))


def _in_columns(off: Sequence[Residual], column: Sequence[int]) -> list[tuple[float, float]]:
    """Dots side by side within their columns."""
    count, seen = Counter(column), Counter[int]()
    spots = []
    for residual, n in zip(off, column, strict=True):
        seen[n] += 1
        spots.append((n - 0.5 + seen[n] / (count[n] + 1), _gap(residual)))
    return spots


def _by_strip(
    head: str, off: Sequence[Residual], homes: dict[int, int], readings: Sequence[StripReading], wide: float
) -> Block:
    """By name where all names have room, else by the number that the table of strips has."""
    names = [clean(r.name) for r in readings]
    if max(run(name, SMALL) for name in names) + APART > (wide - FIGURES) / len(names):
        names = [str(n) for n in range(1, len(names) + 1)]
    level = columns(names)
    spots = _in_columns(off, [homes[id(r)] for r in off])
    return plot(head, spots, level, _upright(off), wide, TALL, line=_zero(level), apart=len(names) <= MOST_APART)


def _by_angle(readings: Sequence[StripReading], off: Sequence[Residual], homes: dict[int, int], wide: float) -> Block:
    turned = [readings[homes[id(r)] - 1].bends[r.number].angle for r in off]
    level = axis([a + more for a in turned for more in (-5.0, 5.0)], 10.0)
    spots = [(a, _gap(r)) for a, r in zip(turned, off, strict=True)]
    return plot(words.ANGLES_BY_ANGLE, spots, level, _upright(off), wide, TALL, line=_zero(level))


def _by_place(head: str, off: Sequence[Residual], wide: float) -> Block:
    level = columns(words.PLACES[: 3 + any(r.place is None for r in off)])
    column = [words.PLACES.index(r.place or words.PLACES[-1]) + 1 for r in off]
    spots = _in_columns(off, column)
    return plot(head, spots, level, _upright(off), wide, TALL, line=_zero(level), apart=True)


def _against(head: str, off: Sequence[Residual], wide: float) -> Block:
    """Measured over expected, with the line on which both are one."""
    both = axis([v for r in off for v in (r.measured, r.expected)], 10.0)
    spots = [(r.expected, r.measured) for r in off]
    return plot(head, spots, both, both, wide, TALL, line=((both.low, both.low), (both.high, both.high)))


def _farthest(off: Sequence[Residual], wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    """The numbers to measure again first."""
    rows: list[tuple[Cell, ...]] = []
    for r in sorted(off, key=lambda r: -abs(r.share))[:FARTHEST]:
        name = words.OF_ROW[r.what].format(name=clean(r.name))
        measured, expected = (_number(r, value, inches) for value in (r.measured, r.expected))
        gap = f"{_gap(r):+.1f}°" if r.what == "angle" else f"{_gap(r):+.2f} mm"
        rows.append((clean(r.strip), name, measured, expected, gap, f"{abs(r.share):.1f}"))
    return table(words.HEADS_FARTHEST, rows, wide, tall, title=words.FARTHEST)


def _number(residual: Residual, value: float, inches: bool) -> str:
    """A length to 0.01 mm, finer than any is measured, or an angle."""
    if residual.what == "angle":
        return f"{value:.1f}°"
    return f"{value / INCH:.3f} in ({value:.2f} mm)" if inches else f"{value:.2f} mm"


def _strips(readings: Sequence[StripReading], wide: float, tall: float) -> tuple[Block, ...]:
    """Which number stands for which strip."""
    rows: list[tuple[Cell, ...]] = []
    for n, reading in enumerate(readings, start=1):
        places = dict.fromkeys(b.place or words.PLACES[-1] for b in reading.bends)
        legs = sum(g.got is not None for g in reading.legs)
        angles = sum(b.set is not None and b.got is not None for b in reading.bends)
        name, sheet, date = (clean(t) for t in (reading.name, reading.sheet, reading.date))
        rows.append((str(n), name, sheet, date, ", ".join(places), str(legs), str(angles)))
    return table(words.HEADS_STRIPS, rows, wide, tall, title=words.STRIPS)
