"""The report of a log of strips: patterns in words, plots of dots over numbered axes, tables. Millimetres on paper.

A value beyond its axis is a triangle at the edge of the plot.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from flatgen.core.version import __version__
from flatgen.paper.drawing.ink import INCH, LARGE, SMALL, Block, Ink, Paper
from flatgen.paper.drawing.text import ASCENT, shorten, text_width
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.frame import CENTRE, EXTENSION, TABLE, VISIBLE, TitleFacts, projection_symbol
from flatgen.paper.pages.pages import GAPS, Break, flow_pages, page_files, room
from flatgen.paper.pages.tables import Cell, paragraphs, table
from flatgen.paper.shop_sheet import words as sheet_words
from flatgen.paper.stage_pictures.words import capitalise
from flatgen.strips.learning import patterns as words
from flatgen.strips.learning.misfit import Residual, residuals
from flatgen.strips.learning.model import Estimates
from flatgen.strips.learning.patterns import Pattern, count_tests
from flatgen.strips.reading import StripReading

DOT = 0.45
"""Radius of the ring of a dot [mm]."""
FIGURES = 12.0
"""Room at the left for the figures of the upright axis [mm]."""
BELOW = 7.0
"""Room under the level axis for its figures [mm]."""
ABOVE = 3.0 + LARGE * ASCENT
"""Room over a plot for its head [mm]."""
APART = 2.0
"""Between figures of the level axis at least [mm]."""
TICK = 1.2
"""Length of a tick [mm]."""
FINE = 1e-9
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


@dataclass(frozen=True)
class Axis:
    """From ``low`` to ``high``, with figures at ``marks``."""

    low: float
    high: float
    marks: tuple[tuple[float, str], ...]

    def share(self, value: float) -> float:
        """Where a value lies, 0 at the low end and 1 at the high one."""
        return (value - self.low) / (self.high - self.low)


def report_pages(
    known: Estimates,
    readings: Sequence[StripReading],
    patterns: Sequence[Pattern],
    paper: Paper,
    log: str,
    *,
    inches: bool = False,
) -> tuple[Ink, ...]:
    """The report: plots on the first pages, tables behind them."""
    off = residuals(known, readings)
    wide, tall = room(paper, False)
    blocks: list[Block | Break] = [*_findings(readings, patterns, wide, tall)]
    blocks += paragraphs("", [words.HOW], wide, tall)
    blocks += _plots(readings, off, wide)
    blocks += _farthest_table(off, wide, tall, inches)
    blocks += _strip_table(readings, wide, tall)
    blocks += paragraphs("", [words.CAUTION], wide, tall)
    facts = TitleFacts(
        title=words.TITLE.format(log=clean(log)),
        number=clean(log),
        document_type=words.TYPE,
        unit="in" if inches else "mm",
        program=sheet_words.PROGRAM.format(version=__version__),
    )
    return flow_pages(blocks, paper, False, facts, projection_symbol("first"))


def report_files(pages: Sequence[Ink], paper: Paper, name: str) -> dict[str, bytes]:
    """Pages as one PDF, and as one SVG each."""
    return page_files(pages, paper, f"{name}.report", name)


def _findings(
    readings: Sequence[StripReading], patterns: Sequence[Pattern], wide: float, tall: float
) -> tuple[Block, ...]:
    texts = [f"{capitalise(p.text)}. {capitalise(p.remedy)}." for p in patterns]
    if all(p.share is None for p in patterns):
        tests = count_tests(readings)
        texts.insert(0, words.NOTHING.format(tests=tests) if tests else words.NOT_ASKED)
    return paragraphs(words.STANDS_OUT, [clean(t) for t in texts], wide, tall / 2)


def _plots(readings: Sequence[StripReading], off: Sequence[Residual], wide: float) -> list[Block]:
    """Plots in the order of reading; two in a row where they are narrow."""
    half = (wide - BETWEEN) / 2
    legs, angles = ([r for r in off if r.what == sort] for sort in ("leg", "angle"))
    numbers = _strip_numbers(readings, off)
    blocks: list[Block] = []
    if legs:
        blocks.append(_by_strip(words.LEGS_BY_STRIP, legs, numbers, readings, wide))
    if angles:
        blocks.append(_by_strip(words.ANGLES_BY_STRIP, angles, numbers, readings, wide))
        blocks.append(_by_angle(readings, angles, numbers, half))
        blocks.append(_by_place(words.ANGLES_BY_PLACE, angles, half))
    if legs:
        blocks.append(_by_place(words.LEGS_BY_PLACE, legs, half))
        blocks.append(_measured_over_expected(words.LEGS_MEASURED, legs, half))
    if angles:
        blocks.append(_measured_over_expected(words.ANGLES_MEASURED, angles, half))
    return blocks


def _strip_numbers(readings: Sequence[StripReading], off: Sequence[Residual]) -> dict[int, int]:
    """Number of the strip, from 1, of each residual by its identity: they come in the order of the strips."""
    numbers, strip, left = {}, 0, 0
    for residual in off:
        while left == 0:
            strip += 1
            left = _measured_count(readings[strip - 1])
        numbers[id(residual)] = strip
        left -= 1
    return numbers


def _measured_count(reading: StripReading) -> int:
    legs = sum(g.got is not None for g in reading.legs)
    bends = sum((b.radius is not None) + (b.set is not None and b.got is not None) for b in reading.bends)
    return legs + bends + (reading.blank_got is not None)


def _by_strip(
    head: str, off: Sequence[Residual], numbers: dict[int, int], readings: Sequence[StripReading], wide: float
) -> Block:
    """By name where all names have room, else by the number that the table of strips has."""
    names = [clean(r.name) for r in readings]
    if max(text_width(name, SMALL) for name in names) + APART > (wide - FIGURES) / len(names):
        names = [str(n) for n in range(1, len(names) + 1)]
    level = columns(names)
    spots = _in_columns(off, [numbers[id(r)] for r in off])
    return plot(head, spots, level, _gap_axis(off), wide, TALL, line=_zero_line(level), apart=len(names) <= MOST_APART)


def _by_angle(readings: Sequence[StripReading], off: Sequence[Residual], numbers: dict[int, int], wide: float) -> Block:
    turned = [readings[numbers[id(r)] - 1].bends[r.number].angle for r in off]
    level = axis([a + more for a in turned for more in (-5.0, 5.0)], 10.0)
    spots = [(a, _gap(r)) for a, r in zip(turned, off, strict=True)]
    return plot(words.ANGLES_BY_ANGLE, spots, level, _gap_axis(off), wide, TALL, line=_zero_line(level))


def _by_place(head: str, off: Sequence[Residual], wide: float) -> Block:
    level = columns(words.PLACES[: 3 + any(r.place is None for r in off)])
    column = [words.PLACES.index(r.place or words.PLACES[-1]) + 1 for r in off]
    spots = _in_columns(off, column)
    return plot(head, spots, level, _gap_axis(off), wide, TALL, line=_zero_line(level), apart=True)


def _measured_over_expected(head: str, off: Sequence[Residual], wide: float) -> Block:
    """Measured over expected, with the line on which both are one."""
    both = axis([v for r in off for v in (r.measured, r.expected)], 10.0)
    spots = [(r.expected, r.measured) for r in off]
    return plot(head, spots, both, both, wide, TALL, line=((both.low, both.low), (both.high, both.high)))


def _in_columns(off: Sequence[Residual], column: Sequence[int]) -> list[tuple[float, float]]:
    count, seen = Counter(column), Counter[int]()
    spots = []
    for residual, n in zip(off, column, strict=True):
        seen[n] += 1
        spots.append((n - 0.5 + seen[n] / (count[n] + 1), _gap(residual)))
    return spots


def _gap(residual: Residual) -> float:
    return residual.measured - residual.expected


def _gap_axis(off: Sequence[Residual]) -> Axis:
    return axis(without_outliers([_gap(r) for r in off]), LEAST[off[0].what], about_zero=True)


def _zero_line(level: Axis) -> tuple[tuple[float, float], ...]:
    return ((level.low, 0.0), (level.high, 0.0))


def _farthest_table(off: Sequence[Residual], wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    """The numbers to measure again first."""
    rows: list[tuple[Cell, ...]] = []
    for r in sorted(off, key=lambda r: -abs(r.share))[:FARTHEST]:
        name = words.OF_ROW[r.what].format(name=clean(r.name))
        measured, expected = (_figure(r, value, inches) for value in (r.measured, r.expected))
        gap = f"{_gap(r):+.1f}°" if r.what == "angle" else f"{_gap(r):+.2f} mm"
        rows.append((clean(r.strip), name, measured, expected, gap, f"{abs(r.share):.1f}"))
    return table(words.HEADS_FARTHEST, rows, wide, tall, title=words.FARTHEST)


def _figure(residual: Residual, value: float, inches: bool) -> str:
    """A length to 0.01 mm, finer than any is measured, or an angle."""
    if residual.what == "angle":
        return f"{value:.1f}°"
    return f"{value / INCH:.3f} in ({value:.2f} mm)" if inches else f"{value:.2f} mm"


def _strip_table(readings: Sequence[StripReading], wide: float, tall: float) -> tuple[Block, ...]:
    """Which number stands for which strip."""
    rows: list[tuple[Cell, ...]] = []
    for n, reading in enumerate(readings, start=1):
        places = dict.fromkeys(b.place or words.PLACES[-1] for b in reading.bends)
        legs = sum(g.got is not None for g in reading.legs)
        angles = sum(b.set is not None and b.got is not None for b in reading.bends)
        name, sheet, date = (clean(t) for t in (reading.name, reading.sheet, reading.date))
        rows.append((str(n), name, sheet, date, ", ".join(places), str(legs), str(angles)))
    return table(words.HEADS_STRIPS, rows, wide, tall, title=words.STRIPS)


def axis(values: Sequence[float], least: float, most: int = 6, *, about_zero: bool = False) -> Axis:
    """An axis that holds values, with round figures at steps of 1, 2 or 5.

    :param least: shortest axis, in the unit of the values
    :param about_zero: as far below 0 as above

    >>> [text for _, text in axis([-0.31, 0.12], 0.2, about_zero=True).marks]
    ['-0.4', '-0.2', '0', '0.2', '0.4']
    """
    low, high = min(values, default=0.0), max(values, default=0.0)
    if about_zero:
        high = max(abs(low), abs(high), least / 2)
        low = -high
    spare = max(least - (high - low), 0.0) / 2
    low, high = low - spare, high + spare
    step = _step((high - low) / most)
    first, last = math.floor(low / step + FINE), math.ceil(high / step - FINE)
    places = max(0, -math.floor(math.log10(step) + FINE))
    marks = tuple((n * step, f"{n * step:.{places}f}" if n else "0") for n in range(first, last + 1))
    return Axis(first * step, last * step, marks)


def _step(size: float) -> float:
    """The next of 1, 2, 5, 10 times a power of ten."""
    unit = 10.0 ** math.floor(math.log10(size) + FINE)
    return next(unit * n for n in (1, 2, 5, 10) if unit * n >= size * (1 - FINE))


def columns(names: Sequence[str]) -> Axis:
    """An axis of columns, each of width 1; the middle of the first one is at 1."""
    return Axis(0.5, len(names) + 0.5, tuple((n, name) for n, name in enumerate(names, start=1)))


def without_outliers(values: Sequence[float], times: float = 6.0) -> list[float]:
    """Values that lie no more than some times as far from 0 as the median, for an axis that stays readable."""
    if not values:
        return []
    middle = sorted(abs(v) for v in values)[len(values) // 2]
    return [v for v in values if abs(v) <= times * middle + FINE]


def plot(
    head: str,
    spots: Sequence[tuple[float, float]],
    level: Axis,
    upright: Axis,
    wide: float,
    tall: float,
    *,
    line: Sequence[tuple[float, float]] = (),
    apart: bool = False,
) -> Block:
    """Dots in a frame.

    :param spots: where the dots lie, in the units of the axes
    :param line: to compare with, in the units of the axes
    :param apart: lines between columns
    """
    left, right, low, high = FIGURES, wide - 1.5, BELOW, tall - ABOVE
    ink = Ink()
    ink.text(shorten(head, wide, SMALL), 0.0, tall - SMALL * ASCENT)
    ink.box(TABLE, left, low, right, high)

    def at(x: float, y: float) -> tuple[float, float]:
        return left + level.share(x) * (right - left), low + upright.share(y) * (high - low)

    for value, text in upright.marks:
        y = at(level.low, value)[1]
        ink.line(EXTENSION, (left - TICK, y), (left, y))
        ink.text(text, left - TICK - 0.8 - text_width(text, SMALL), y - SMALL / 2)
    _draw_level_axis(ink, level, left, right, low)
    if line:
        ink.line(CENTRE, *(at(*p) for p in line))
    if apart:
        for n in range(1, len(level.marks)):
            x = at(n + 0.5, upright.low)[0]
            ink.line(EXTENSION, (x, low), (x, high))
    for x, y in spots:
        _draw_dot(ink, *at(x, y), low, high)
    return Block(ink, wide, tall)


def _draw_level_axis(ink: Ink, level: Axis, left: float, right: float, low: float) -> None:
    """Figures under the plot, as many as have room."""
    room = (right - left) / max(len(level.marks), 1)
    widest = max((text_width(text, SMALL) for _, text in level.marks), default=0.0) + APART
    every = max(1, math.ceil(widest / room)) if level.marks else 1
    for value, text in level.marks[::every]:
        x = left + level.share(value) * (right - left)
        ink.line(EXTENSION, (x, low - TICK), (x, low))
        ink.text(text, x - text_width(text, SMALL) / 2, low - TICK - 0.8 - SMALL * ASCENT)


def _draw_dot(ink: Ink, x: float, y: float, low: float, high: float) -> None:
    if low <= y <= high:
        ink.circles.append((VISIBLE, (x, y), DOT))
        return
    edge, way = (high, 1.0) if y > high else (low, -1.0)
    ink.head((x, edge - way * 0.3), (0.0, way), 2.0)
