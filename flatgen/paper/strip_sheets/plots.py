"""Plots of what was measured on strips, as ink on paper: dots over numbered axes. Knows nothing of strips.

Millimetres on paper. A value beyond its axis is a triangle at the edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flatgen.paper.drawing.ink import LARGE, SMALL, Block, Ink
from flatgen.paper.drawing.paper import ASCENT
from flatgen.paper.drawing.wrapping import run, shortened
from flatgen.paper.pages.pens import CENTRE, EXTENSION, TABLE, VISIBLE

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


@dataclass(frozen=True)
class Axis:
    """From ``low`` to ``high``; figures at ``marks``, each with what it says."""

    low: float
    high: float
    marks: tuple[tuple[float, str], ...]

    def share(self, value: float) -> float:
        """Where a value lies, 0 at the low end and 1 at the high one [-]."""
        return (value - self.low) / (self.high - self.low)


def axis(values: Sequence[float], least: float, most: int = 6, *, about_zero: bool = False) -> Axis:
    """An axis that holds values, with round figures at steps of 1, 2 or 5.

    Parameters
    ----------
    values : Sequence[float]
        To be shown, [-]
    least : float
        Shortest axis, in the unit of the values, [-]
    most : int
        Most steps, [-]
    about_zero : bool
        As far below 0 as above, [-]

    Returns
    -------
    Axis
        In the unit of the values, [-]

    Examples
    --------
    >>> [said for _, said in axis([-0.31, 0.12], 0.2, about_zero=True).marks]
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
    """The next of 1, 2, 5, 10 times a power of ten.

    >>> _step(0.13), _step(21.0)
    (0.2, 50.0)
    """
    unit = 10.0 ** math.floor(math.log10(size) + FINE)
    return next(unit * n for n in (1, 2, 5, 10) if unit * n >= size * (1 - FINE))


def columns(names: Sequence[str]) -> Axis:
    """An axis of columns from 0.5 on, each of width 1.

    Parameters
    ----------
    names : Sequence[str]
        Under the columns, [-]

    Returns
    -------
    Axis
        With the middle of the n-th column at n, from 1, [-]
    """
    return Axis(0.5, len(names) + 0.5, tuple((n, name) for n, name in enumerate(names, start=1)))


def typical(values: Sequence[float], times: float = 6.0) -> list[float]:
    """Values without those that lie many times farther from 0 than the middle one: for an axis that stays readable.

    Parameters
    ----------
    values : Sequence[float]
        All, [-]
    times : float
        How many times farther, [-]

    Returns
    -------
    list[float]
        Those within, [-]
    """
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

    Parameters
    ----------
    head : str
        Over the plot: what it shows, with its unit, [-]
    spots : Sequence[tuple[float, float]]
        Where the dots lie, in the units of the axes, [-]
    level, upright : Axis
        Axes, [-]
    wide, tall : float
        Of the block, [mm]
    line : Sequence[tuple[float, float]]
        A line to compare with, in the units of the axes, [-]
    apart : bool
        With a line between columns, [-]

    Returns
    -------
    Block
        The plot, [mm]
    """
    left, right, low, high = FIGURES, wide - 1.5, BELOW, tall - ABOVE
    ink = Ink()
    ink.text(shortened(head, wide, SMALL), 0.0, tall - SMALL * ASCENT)
    ink.box(TABLE, left, low, right, high)

    def at(x: float, y: float) -> tuple[float, float]:
        return left + level.share(x) * (right - left), low + upright.share(y) * (high - low)

    for value, said in upright.marks:
        y = at(level.low, value)[1]
        ink.line(EXTENSION, (left - TICK, y), (left, y))
        ink.text(said, left - TICK - 0.8 - run(said, SMALL), y - SMALL / 2)
    _level(ink, level, left, right, low)
    if line:
        ink.line(CENTRE, *(at(*p) for p in line))
    if apart:
        for n in range(1, len(level.marks)):
            x = at(n + 0.5, upright.low)[0]
            ink.line(EXTENSION, (x, low), (x, high))
    for x, y in spots:
        _dot(ink, *at(x, y), low, high)
    return Block(ink, wide, tall)


def _level(ink: Ink, level: Axis, left: float, right: float, low: float) -> None:
    """Figures under the plot, as many as have room."""
    room = (right - left) / max(len(level.marks), 1)
    widest = max((run(said, SMALL) for _, said in level.marks), default=0.0) + APART
    every = max(1, math.ceil(widest / room)) if level.marks else 1
    for value, said in level.marks[::every]:
        x = left + level.share(value) * (right - left)
        ink.line(EXTENSION, (x, low - TICK), (x, low))
        ink.text(said, x - run(said, SMALL) / 2, low - TICK - 0.8 - SMALL * ASCENT)


def _dot(ink: Ink, x: float, y: float, low: float, high: float) -> None:
    if low <= y <= high:
        ink.circles.append((VISIBLE, (x, y), DOT))
        return
    edge, way = (high, 1.0) if y > high else (low, -1.0)
    ink.head((x, edge - way * 0.3), (0.0, way), 2.0)
