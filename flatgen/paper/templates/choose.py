"""Which way a template lies on its paper: turned or not, the paper either way round, the fewest sheets."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from flatgen.core.flat_pattern import Point
from flatgen.paper.drawing.papers import Paper
from flatgen.paper.templates import words
from flatgen.paper.templates.about import Job, said
from flatgen.paper.templates.faces import Begun
from flatgen.paper.templates.furniture import MARGIN, SIDE, Band, frame_of
from flatgen.paper.templates.lettering import PAD
from flatgen.paper.templates.tiles import Box, Frame, Tiling, tiled

LONGEST = 5000.0
"""A page of PDF is at most 14400 units of 1/72 in long (ISO 32000-1, Annex C; memory): 5080 mm."""
LEAST_ROLL = 125.0
"""Shortest window on a roll, for the check bar along it [mm]."""
SHARES = (0.5, 0.25, 0.75, 0.0, 1.0)
"""Where sheets are tried to lie over the template."""
CLOSE = 2.0
"""A joint nearer than this to a line along it is hard to cut [mm]."""
HAIR = 1e-6


@dataclass(frozen=True)
class Way:
    """One way to lay a template on paper."""

    turned: bool
    frame: Frame
    band: Band
    tiling: Tiling

    @property
    def cost(self) -> tuple[int, float, bool, bool]:
        """Sheets, then paper, then turning."""
        number = len(self.tiling.tiles)
        return (number, round(number * self.frame.wide * self.frame.tall), self.turned, self.frame.landscape)


@dataclass(frozen=True)
class Shown:
    """What sheets are to show, as seen from the near face: its box, its shapes, the lettering beyond the blank, and
    the places of straight lines, upright and level [mm]."""

    box: Box
    whole: Any
    beyond: tuple[Any, ...]
    lines: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())


def blank_alone(job: Job, turned: bool) -> Shown:
    """The blank without anything beyond it, for a first guess.

    Parameters
    ----------
    job : Job
        What is asked for, [mm]
    turned : bool
        By 90 degrees, [-]

    Returns
    -------
    Shown
        In millimetres of the paper, [mm]
    """
    import shapely

    x0, y0, x1, y1 = job.flat.box
    points = [(y1 - y, x - x0) if turned else (x - x0, y - y0) for x, y in job.flat.outline.points(0.1)]
    wide, tall = (y1 - y0, x1 - x0) if turned else (x1 - x0, y1 - y0)
    return Shown((-PAD, -PAD, wide + PAD, tall + PAD), shapely.Polygon(points), ())


def shown(begun: Sequence[Begun]) -> Shown:
    """All that the sheets of a template show.

    Parameters
    ----------
    begun : Sequence[Begun]
        Its faces, [mm]

    Returns
    -------
    Shown
        As seen from the near face, [mm]
    """
    import shapely

    flat = begun[0].scene.subject.flat
    texts: list[Any] = []
    strokes: list[Any] = []
    for face in begun:
        mirror = face.face == "far"
        texts += [shapely.Polygon(_seen(t.box, flat.width, mirror)) for t in face.led.layout.texts]
        strokes += [shapely.LineString(_seen((s.start, s.end), flat.width, mirror)) for s in face.led.layout.strokes]
    metal, mirror = begun[0].scene.metal, begun[0].face == "far"
    if mirror:
        metal = shapely.transform(metal, lambda p: p * (-1.0, 1.0) + (flat.width, 0.0))
    whole = shapely.union_all([metal.buffer(PAD / 2), *(t.buffer(PAD) for t in texts), *strokes])
    x0, y0, x1, y1 = shapely.union_all([whole, shapely.box(*begun[0].scene.whole())]).bounds
    pairs = [_seen(pair, flat.width, mirror) for line in begun[0].scene.subject.lines for pair in line.stretches]
    upright = tuple(p[0] for p, q in pairs if abs(p[0] - q[0]) < HAIR)
    level = tuple(p[1] for p, q in pairs if abs(p[1] - q[1]) < HAIR)
    edges = ((0.0, flat.width), (0.0, flat.length))
    return Shown((x0, y0, x1, y1), whole, tuple(texts), ((*upright, *edges[0]), (*level, *edges[1])))


def _seen(points: Sequence[Point], width: float, mirror: bool) -> list[Point]:
    return [(width - x, y) if mirror else (x, y) for x, y in points]


def sheets_for(paper: Paper, box: Box) -> Iterator[tuple[float, float]]:
    """Sizes of a sheet: both ways round, or a roll with what is to stand on it.

    Parameters
    ----------
    paper : Paper
        In the printer, [mm]
    box : Box
        To be shown, [mm]

    Yields
    ------
    tuple[float, float]
        Wide and tall, of a roll the height to be shown, [mm]
    """
    if paper.long is None:
        yield paper.narrow, box[3] - box[1]
    else:
        yield from ((paper.narrow, paper.long), (paper.long, paper.narrow))


def way_of(job: Job, what: Shown, sheet: tuple[float, float], *, turned: bool, lost: Sequence[str] = ()) -> Way:
    """The fewest sheets of one size; one alone needs less text, so that is tried first.

    Parameters
    ----------
    job : Job
        What is asked for, [mm]
    what : Shown
        To be shown, [mm]
    sheet : tuple[float, float]
        From ``sheets_for``, [mm]
    turned : bool
        By 90 degrees, [-]
    lost : Sequence[str]
        Bends without a label, [-]

    Returns
    -------
    Way
        The sheet and its tiling, [mm]
    """
    box = what.box
    frame, band = _frame(job, sheet, several=False, turned=turned, lost=lost)
    if box[2] - box[0] <= frame.room[0] + HAIR and box[3] - box[1] <= frame.room[1] + HAIR:
        return Way(turned, frame, band, tiled(frame, box, what.whole))
    frame, band = _frame(job, sheet, several=True, turned=turned, lost=lost)
    _, tiling = min(_lain(frame, what), key=lambda pair: pair[0])
    return Way(turned, frame, band, tiling)


def _lain(frame: Frame, what: Shown) -> Iterator[tuple[tuple[int, int, int], Tiling]]:
    """Ways to lay sheets over a box, each with how many they are, and how much lettering or which lines joints meet."""
    for n, share in enumerate(itertools.product(SHARES, SHARES)):
        tiling = tiled(frame, what.box, what.whole, share)
        bad = _cut(tiling, what)
        yield (len(tiling.tiles), bad, n), tiling
        if not bad and len(tiling.tiles) == tiling.rows * tiling.columns:
            return


def _cut(tiling: Tiling, what: Shown) -> int:
    """Texts that no sheet shows whole, and lines that run along a joint."""
    import shapely

    bad = 0
    for axis in (0, 1):
        joints = {t.core[axis] for t in tiling.tiles} - {min(t.core[axis] for t in tiling.tiles)}
        bad += sum(abs(at - line) < CLOSE for at in joints for line in what.lines[axis])
    if what.beyond:
        windows = [shapely.box(*t.window) for t in tiling.tiles]
        bad += 10 * sum(not shapely.covers(windows, text).any() for text in what.beyond)
    return bad


def _frame(
    job: Job, sheet: tuple[float, float], *, several: bool, turned: bool, lost: Sequence[str]
) -> tuple[Frame, Band]:
    if job.paper is None:
        raise ValueError("a plotter has no sheets")
    text = said(job, several=several, turned=turned, lost=lost)
    place = words.longest_place(max(job.flat.width, job.flat.length)) if several else words.whole(8, 8)
    frame, band = frame_of(*sheet, job.title, text, place, mapped=several)
    if job.paper.long is None:
        tall = max(sheet[1], LEAST_ROLL) + frame.at[1] + MARGIN + SIDE
        frame, band = frame_of(sheet[0], min(tall, LONGEST), job.title, text, place, mapped=several)
    return frame, band
