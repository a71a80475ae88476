"""What is written under or beside the flat with ordinates: what it is, what it leaves out, what its lines mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part
from flatgen.openings.judge import Watched
from flatgen.paper.drawing import document
from flatgen.paper.drawing.bench import sight_lines
from flatgen.paper.drawing.ink import SMALL, Block, Ink
from flatgen.paper.drawing.text import ASCENT, DESCENT, LINE, sound, wrapped
from flatgen.paper.drawing.words import KEY_FORMS
from flatgen.paper.pages.frame import CENTRE, EXTENSION
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_ink import FORM, Stretch, broken, centre_marks, draw_flat, place_numbers
from flatgen.paper.shop_sheet.flat_layout import (
    BESIDE,
    COLUMN,
    KINDS,
    LEVEL,
    UNDER,
    Laid,
    Shown,
    draw,
    layouts,
    shown_of,
    straight,
    width,
)
from flatgen.paper.shop_sheet.flat_placing import Placing, break_line
from flatgen.paper.shop_sheet.ordinates import Unit, corners, has_corners, numbered, tables

SAMPLE = 12.0
"""Length of a sample line in the key [mm]."""


def under(shown: Shown, laid: Laid, order: Sequence[int], lost: tuple[list[int], list[int]], wide: float) -> Block:
    """What the drawing is, what it leaves out, and what its lines mean."""
    lines = [line for said in _said(shown, laid, order, lost) for line in wrapped(sound(said), wide, SMALL)]
    samples, deep = _key(_key_rows(shown, laid), wide)
    ink, pitch = Ink(), LINE * SMALL
    high = pitch * len(lines) + deep
    for n, line in enumerate(lines):
        ink.text(line, 0.0, high - n * pitch - ASCENT * SMALL)
    ink.add(samples, 0.0, 0.0)
    return Block(ink, wide, high)


def _said(shown: Shown, laid: Laid, order: Sequence[int], lost: tuple[list[int], list[int]]) -> Iterator[str]:
    flat, placing, schedule = shown.flat, laid.placing, shown.schedule
    ordered = schedule is not None and schedule.checked
    yield words.heading(shown.face, placing.scale, shown.unit, ordered=ordered, cut=placing.cut)
    if placing.turned:
        yield words.TURNED
    if schedule is not None and flat.bends:
        yield words.SPLIT
        off = [line.stage.crease.label for line in sight_lines(flat, schedule) if not line.stretches]
        if off:
            yield words.off_blank(off)
    kinds = {m.kind for r in shown.routes for m in r.ordinate.marks}
    plural = {"opening": "openings", "corner": "corners", "bend": "bend lines", "sight": "sight lines"}
    absent = [plural[k] for k in ("opening", "corner", "bend", "sight") if k in kinds and k not in KINDS[laid.level]]
    if "corners" in absent and not has_corners(flat):
        absent.remove("corners")
    if absent:
        yield words.in_table(absent)
    if laid.crowded:
        yield words.crowded([(o.axis, o.figure) for o in laid.crowded])
    gone = [n for n, index in enumerate(order, start=1) if placing.left_out(flat.openings[index].box())]
    spots = corners(flat) if has_corners(flat) else ()
    gone_corners = [n for n, p in enumerate(spots, start=1) if placing.point(p) is None]
    if gone or gone_corners:
        yield words.left_out(gone, gone_corners)
    if order or spots:
        yield words.numbers(openings=bool(order), corners=bool(spots))
    if any(lost):
        yield words.unnumbered(*lost)
    missing = _unlettered(shown, laid)
    if missing:
        yield words.unlettered(missing)
    if any(r.measured.form == "other" for r in shown.rows):
        yield words.TRUE


def _unlettered(shown: Shown, laid: Laid) -> list[str]:
    """Lines whose figure is left out though there is room for figures of lines."""
    if "bend" not in KINDS[laid.level]:
        return []
    lines = {(m.kind, m.name) for r in shown.routes for m in r.ordinate.marks if m.kind in ("bend", "sight")}
    there = {(m.kind, m.name) for o in laid.drawn for m in o.marks}
    return [words.name(kind, name, None) for kind, name in sorted(lines - there)]


def _key_rows(shown: Shown, laid: Laid) -> list[tuple[str, str]]:
    ways = {b.way for b in shown.flat.bends}
    faces = {s.sight.face for s in shown.schedule.stages} if shown.schedule else set()
    axes = any(e.through for s in laid.sides for e in s.entries)
    rows = [
        ("datum", words.DATUM, True),
        (document.BEND_NEAR, words.KEY_NEAR, "up" in ways),
        (document.BEND_FAR, words.KEY_FAR, "down" in ways),
        (document.SIGHT_NEAR, words.KEY_SIGHT_NEAR, "near" in faces),
        (document.SIGHT_FAR, words.KEY_SIGHT_FAR, "far" in faces),
        (FORM, KEY_FORMS, bool(shown.flat.forms)),
        (CENTRE, words.KEY_AXIS, axes),
        ("break", words.KEY_BREAK, laid.placing.cut),
    ]
    return [(pen, said) for pen, said, there in rows if there]


def _key(rows: Sequence[tuple[str, str]], wide: float) -> tuple[Ink, float]:
    """Samples of lines with what they mean, in rows that fit, and how deep they run [mm]."""
    ink, x, y, step, pitch = Ink(), 0.0, 0.0, 5.0, LINE * SMALL
    for pen, said in rows:
        lines = wrapped(sound(said), wide - SAMPLE - 2.0, SMALL)
        run = SAMPLE + 2.0 + max(width(line) for line in lines)
        if x and (x + run > wide or len(lines) > 1):
            x, y = 0.0, y - step
        _sample(ink, pen, (x, y + SMALL / 2))
        for n, line in enumerate(lines):
            ink.text(line, x + SAMPLE + 2.0, y - n * pitch)
        y -= (len(lines) - 1) * pitch
        x += run + 6.0
    moved = Ink()
    moved.add(ink, 0.0, DESCENT * SMALL - y)
    return moved, step - y


def _sample(ink: Ink, pen: str, at: Point) -> None:
    x, y = at
    if pen == "datum":
        ink.solids.append(((x + SAMPLE, y + 1.3), (x + SAMPLE - 2.6, y + 1.3), (x + SAMPLE, y - 1.3)))
    elif pen == "break":
        ink.lines.append((EXTENSION, break_line((x, y), (x + SAMPLE, y)), False))
    else:
        ink.line(pen, (x, y), (x + SAMPLE, y))
        if pen in (document.SIGHT_NEAR, document.SIGHT_FAR):
            ink.line(pen, (x + 5.0, y), (x + 6.0, y + 1.8))
            ink.line(pen, (x + 6.0, y + 1.8), (x + 7.0, y))


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

    :param schedule: made for the flat; its sight lines are drawn
    :param wide, tall: most room of a block [mm]
    :returns: the drawing first [mm]
    :raises ValueError: For room that is too small for any scale.
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
    return ink, under(shown, laid, order, lost, column)


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
