"""The flat with ordinates from one datum corner, at a scale of ISO 5455, and the tables that go with it.

Nothing is left out without a word. Millimetres.
"""

from __future__ import annotations

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part
from flatgen.openings.judge import Watched
from flatgen.paper.drawing.ink import Block, Ink
from flatgen.paper.pages.pens import CENTRE, EXTENSION
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_fans import LEVEL, draw, straight
from flatgen.paper.shop_sheet.flat_ink import Stretch, broken, centre_marks, draw_flat, place_numbers
from flatgen.paper.shop_sheet.flat_layout import BESIDE, COLUMN, UNDER, Laid, Shown, layouts, shown_of
from flatgen.paper.shop_sheet.flat_legend import under as words_of
from flatgen.paper.shop_sheet.flat_placing import Placing
from flatgen.paper.shop_sheet.flat_tables import has_corners, numbered, tables
from flatgen.paper.shop_sheet.ordinates import Unit, corners


def flat_blocks(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    watched: Watched | None,
    wide: float,
    tall: float,
    *,
    unit: Unit,
) -> tuple[Block, ...]:
    """The flat with its ordinates, then its tables.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule | None
        Made for the flat; its sight lines are drawn, [mm]
    watched : Watched | None
        Its openings, [mm]
    wide, tall : float
        Most room of a block, [mm]
    unit : "mm" | "in" | "in/64"
        What figures are told in, [-]

    Returns
    -------
    tuple[Block, ...]
        The drawing first, [mm]

    Raises
    ------
    ValueError
        For room that is too small for any scale.
    """
    shown = shown_of(part, flat, schedule, watched, unit)
    listed = (part, flat, schedule, shown.rows, wide, tall, unit)
    tried = layouts(shown, wide, tall)
    for laid in tried:
        block = drawing(shown, laid, wide)
        if block.tall <= tall + 1e-6 and block.wide <= wide + 1e-6:
            return (block, *tables(*listed))
    for laid in tried:  # more words than a page has room for beside the drawing
        if not laid.beside:
            ink, under = _drawn(shown, laid, wide)
            left, low, right, high = laid.box
            alone = _together(
                ink, ((wide - right - left) / 2, -low), Block(Ink(), 0.0, 0.0), (0.0, 0.0), wide, high - low
            )
            if max(alone.tall, under.tall) <= tall:
                return (alone, under, *tables(*listed))
    raise ValueError(f"a flat of {flat.width:g} x {flat.length:g} mm finds no room in {wide:g} x {tall:g} mm")


def drawing(shown: Shown, laid: Laid, wide: float) -> Block:
    """A drawing as it was laid out, with the words under it."""
    column = COLUMN if laid.beside else wide
    ink, under = _drawn(shown, laid, column)
    left, low, right, high = laid.box
    if laid.beside:
        room, tall = wide - COLUMN - BESIDE, max(high - low, under.tall)
        return _together(
            ink, ((room - right - left) / 2, tall - high), under, (wide - COLUMN, tall - under.tall), wide, tall
        )
    tall = under.tall + UNDER + high - low
    return _together(ink, ((wide - right - left) / 2, tall - high), under, (0.0, 0.0), wide, tall)


def _drawn(shown: Shown, laid: Laid, column: float) -> tuple[Ink, Block]:
    """A drawing, from the blank's corner, and its words in a column [mm]."""
    flat, placing = shown.flat, laid.placing
    ink = draw_flat(placing, flat, shown.schedule)
    _datum(ink, placing)
    centre_marks(placing, flat, shown.rows, ink)
    order = numbered(shown.rows)
    said, texts, lost = _numbers(shown, placing, ink)
    through = [
        Stretch(*straight(side, entry), CENTRE if entry.through else EXTENSION)
        for side in laid.sides
        for entry in side.entries
    ]
    for part in broken(through, texts):
        ink.line(part.pen, part.start, part.end)
    for side in laid.sides:
        draw(side, ink)
    ink.add(said, 0.0, 0.0)
    return ink, words_of(shown, laid, order, lost, column)


def _together(ink: Ink, at: Point, under: Block, beside: Point, wide: float, tall: float) -> Block:
    """A drawing and its words, each with its place."""
    every = Ink()
    every.add(ink, *at)
    every.add(under.ink, *beside)
    return Block(every, wide, tall)


def _numbers(
    shown: Shown, placing: Placing, ink: Ink
) -> tuple[Ink, list[tuple[float, float, float, float]], tuple[list[int], list[int]]]:
    """Numbers of openings and corners on the flat, their boxes, and the numbers that found no room."""
    said = []
    for place, index in enumerate(numbered(shown.rows), start=1):
        box = shown.flat.openings[index].box()
        said.append((str(place), None if placing.left_out(box) else _paper_box(placing, box), True))
    count = len(said)
    listed = corners(shown.flat) if has_corners(shown.flat) else ()
    for place, (x, y) in enumerate(listed, start=1):
        spot = placing.point((x, y))
        said.append((words.corner(place), spot and (*spot, *spot), False))
    drawn, boxes, lost = place_numbers(placing, shown.flat, said, ink, LEVEL - 2.0)
    return drawn, boxes, ([n + 1 for n in lost if n < count], [n + 1 - count for n in lost if n >= count])


def _paper_box(placing: Placing, box: tuple[float, float, float, float]) -> tuple[float, ...] | None:
    ends = [placing.point(p) for p in ((box[0], box[1]), (box[2], box[3]))]
    points = [p for p in ends if p is not None]
    if len(points) < 2:
        return None
    return (*(min(p[k] for p in points) for k in (0, 1)), *(max(p[k] for p in points) for k in (0, 1)))


def _datum(ink: Ink, placing: Placing) -> None:
    """A filled triangle outside of the datum corner."""
    y, down = (placing.tall, 1.0) if placing.turned else (0.0, -1.0)
    ink.solids.append(((-0.8, y + 0.8 * down), (-3.4, y + 0.8 * down), (-0.8, y + 3.4 * down)))
