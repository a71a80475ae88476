"""The flat with ordinates as blocks of a page: the drawing, its caption with the key of lines, and its tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part
from flatgen.openings.judge import JudgedOpenings
from flatgen.paper.drawing import document
from flatgen.paper.drawing.bench import sight_lines
from flatgen.paper.drawing.ink import SMALL, Block, Ink
from flatgen.paper.drawing.text import ASCENT, DESCENT, LINE, safe_text, text_width, wrap_text
from flatgen.paper.drawing.words import KEY_FORMS
from flatgen.paper.pages.frame import CENTRE, EXTENSION
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_ink import (
    FORM,
    Stretch,
    break_extension_lines,
    centre_marks,
    draw_flat,
    place_numbers,
)
from flatgen.paper.shop_sheet.flat_layout import (
    BESIDE,
    COLUMN,
    KINDS_BY_LEVEL,
    LEVEL,
    UNDER,
    FlatContent,
    Layout,
    draw_side,
    extension_line,
    flat_content,
    layouts,
)
from flatgen.paper.shop_sheet.flat_placing import Placing, break_line
from flatgen.paper.shop_sheet.ordinates import corners, flat_tables, has_corners, opening_order
from flatgen.paper.shop_sheet.words import SheetUnit
from flatgen.paper.stage_pictures.view import Box

SAMPLE = 12.0
"""Length of a sample line in the key [mm]."""


def flat_blocks(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    openings: JudgedOpenings | None,
    wide: float,
    tall: float,
    *,
    unit: SheetUnit,
) -> tuple[Block, ...]:
    """The flat with its ordinates, and sight lines with a schedule; then its tables.

    :param wide, tall: most room of a block [mm]
    :raises ValueError: If the room is too small for any scale.
    """
    content = flat_content(part, flat, schedule, openings, unit)
    table_facts = (part, flat, schedule, content.rows, wide, tall, unit)
    candidates = layouts(content, wide, tall)
    for layout in candidates:
        block = drawing_block(content, layout, wide)
        if block.tall <= tall + 1e-6 and block.wide <= wide + 1e-6:
            return (block, *flat_tables(*table_facts))
    for layout in candidates:  # more words than a page has room for beside the drawing
        if not layout.beside:
            ink, caption = _draw(content, layout, wide)
            left, low, right, high = layout.box
            alone = _together(
                ink, ((wide - right - left) / 2, -low), Block(Ink(), 0.0, 0.0), (0.0, 0.0), wide, high - low
            )
            if max(alone.tall, caption.tall) <= tall:
                return (alone, caption, *flat_tables(*table_facts))
    raise ValueError(f"a flat of {flat.width:g} x {flat.length:g} mm finds no room in {wide:g} x {tall:g} mm")


def drawing_block(content: FlatContent, layout: Layout, wide: float) -> Block:
    """A drawing as it was laid out, with its caption."""
    column = COLUMN if layout.beside else wide
    ink, caption = _draw(content, layout, column)
    left, low, right, high = layout.box
    if layout.beside:
        room, tall = wide - COLUMN - BESIDE, max(high - low, caption.tall)
        return _together(
            ink, ((room - right - left) / 2, tall - high), caption, (wide - COLUMN, tall - caption.tall), wide, tall
        )
    tall = caption.tall + UNDER + high - low
    return _together(ink, ((wide - right - left) / 2, tall - high), caption, (0.0, 0.0), wide, tall)


def _draw(content: FlatContent, layout: Layout, column: float) -> tuple[Ink, Block]:
    """A drawing, from the blank's corner, and its caption in a column of this width [mm]."""
    flat, placing = content.flat, layout.placing
    ink = draw_flat(placing, flat, content.schedule)
    _datum(ink, placing)
    centre_marks(placing, flat, content.rows, ink)
    order = opening_order(content.rows)
    numbers, texts, lost = _numbers(content, placing, ink)
    through = [
        Stretch(*extension_line(side, entry), CENTRE if entry.through else EXTENSION)
        for side in layout.sides
        for entry in side.entries
    ]
    for part in break_extension_lines(through, texts):
        ink.line(part.pen, part.start, part.end)
    for side in layout.sides:
        draw_side(side, ink)
    ink.add(numbers, 0.0, 0.0)
    return ink, _caption(content, layout, order, lost, column)


def _together(ink: Ink, at: Point, caption: Block, beside: Point, wide: float, tall: float) -> Block:
    every = Ink()
    every.add(ink, *at)
    every.add(caption.ink, *beside)
    return Block(every, wide, tall)


def _numbers(content: FlatContent, placing: Placing, ink: Ink) -> tuple[Ink, list[Box], tuple[list[int], list[int]]]:
    """Numbers of openings and corners on the flat, their boxes, and the numbers that found no room."""
    numbers = []
    for place, index in enumerate(opening_order(content.rows), start=1):
        box = content.flat.openings[index].box()
        numbers.append((str(place), None if placing.cuts_away(box) else _paper_box(placing, box), True))
    count = len(numbers)
    listed = corners(content.flat) if has_corners(content.flat) else ()
    for place, (x, y) in enumerate(listed, start=1):
        spot = placing.point((x, y))
        numbers.append((words.corner_name(place), spot and (*spot, *spot), False))
    drawn, boxes, lost = place_numbers(placing, content.flat, numbers, ink, LEVEL - 2.0)
    return drawn, boxes, ([n + 1 for n in lost if n < count], [n + 1 - count for n in lost if n >= count])


def _paper_box(placing: Placing, box: Box) -> tuple[float, ...] | None:
    ends = [placing.point(p) for p in ((box[0], box[1]), (box[2], box[3]))]
    points = [p for p in ends if p is not None]
    if len(points) < 2:
        return None
    return (*(min(p[k] for p in points) for k in (0, 1)), *(max(p[k] for p in points) for k in (0, 1)))


def _datum(ink: Ink, placing: Placing) -> None:
    """A filled triangle outside of the datum corner."""
    y, down = (placing.tall, 1.0) if placing.turned else (0.0, -1.0)
    ink.solids.append(((-0.8, y + 0.8 * down), (-3.4, y + 0.8 * down), (-0.8, y + 3.4 * down)))


def _caption(
    content: FlatContent, layout: Layout, order: Sequence[int], lost: tuple[list[int], list[int]], wide: float
) -> Block:
    lines = [line for note in _notes(content, layout, order, lost) for line in wrap_text(safe_text(note), wide, SMALL)]
    samples, deep = _key(_key_rows(content, layout), wide)
    ink, pitch = Ink(), LINE * SMALL
    high = pitch * len(lines) + deep
    for n, line in enumerate(lines):
        ink.text(line, 0.0, high - n * pitch - ASCENT * SMALL)
    ink.add(samples, 0.0, 0.0)
    return Block(ink, wide, high)


def _notes(
    content: FlatContent, layout: Layout, order: Sequence[int], lost: tuple[list[int], list[int]]
) -> Iterator[str]:
    flat, placing, schedule = content.flat, layout.placing, content.schedule
    ordered = schedule is not None and schedule.checked
    yield words.heading(content.face, placing.scale, content.unit, ordered=ordered, cut=placing.cut)
    if placing.turned:
        yield words.TURNED
    if schedule is not None and flat.bends:
        yield words.SPLIT
        off = [line.stage.crease.label for line in sight_lines(flat, schedule) if not line.stretches]
        if off:
            yield words.off_blank_note(off)
    kinds = {m.kind for r in content.routes for m in r.ordinate.marks}
    plural = {"opening": "openings", "corner": "corners", "bend": "bend lines", "sight": "sight lines"}
    absent = [text for kind, text in plural.items() if kind in kinds and kind not in KINDS_BY_LEVEL[layout.level]]
    if "corners" in absent and not has_corners(flat):
        absent.remove("corners")
    if absent:
        yield words.tables_only_note(absent)
    if layout.crowded:
        yield words.crowded_note([(o.axis, o.figure) for o in layout.crowded])
    gone = [n for n, index in enumerate(order, start=1) if placing.cuts_away(flat.openings[index].box())]
    spots = corners(flat) if has_corners(flat) else ()
    gone_corners = [n for n, p in enumerate(spots, start=1) if placing.point(p) is None]
    if gone or gone_corners:
        yield words.cut_out_note(gone, gone_corners)
    if order or spots:
        yield words.numbers_note(openings=bool(order), corners=bool(spots))
    if any(lost):
        yield words.unnumbered_note(*lost)
    missing = _unlettered(content, layout)
    if missing:
        yield words.unlettered_note(missing)
    if any(r.measured.form == "other" for r in content.rows):
        yield words.TRUE


def _unlettered(content: FlatContent, layout: Layout) -> list[str]:
    """Lines whose figure is left out though there is room for figures of lines."""
    if "bend" not in KINDS_BY_LEVEL[layout.level]:
        return []
    lines = {(m.kind, m.name) for r in content.routes for m in r.ordinate.marks if m.kind in ("bend", "sight")}
    there = {(m.kind, m.name) for o in layout.drawn for m in o.marks}
    return [words.line_name(kind, name, None) for kind, name in sorted(lines - there)]


def _key_rows(content: FlatContent, layout: Layout) -> list[tuple[str, str]]:
    ways = {b.way for b in content.flat.bends}
    faces = {s.sight.face for s in content.schedule.stages} if content.schedule else set()
    axes = any(e.through for s in layout.sides for e in s.entries)
    rows = [
        ("datum", words.DATUM, True),
        (document.BEND_NEAR, words.KEY_NEAR, "up" in ways),
        (document.BEND_FAR, words.KEY_FAR, "down" in ways),
        (document.SIGHT_NEAR, words.KEY_SIGHT_NEAR, "near" in faces),
        (document.SIGHT_FAR, words.KEY_SIGHT_FAR, "far" in faces),
        (FORM, KEY_FORMS, bool(content.flat.forms)),
        (CENTRE, words.KEY_AXIS, axes),
        ("break", words.KEY_BREAK, layout.placing.cut),
    ]
    return [(pen, meaning) for pen, meaning, there in rows if there]


def _key(rows: Sequence[tuple[str, str]], wide: float) -> tuple[Ink, float]:
    """Samples of lines with what they mean, in rows that fit, and how deep they run [mm]."""
    ink, x, y, step, pitch = Ink(), 0.0, 0.0, 5.0, LINE * SMALL
    for pen, meaning in rows:
        lines = wrap_text(safe_text(meaning), wide - SAMPLE - 2.0, SMALL)
        run = SAMPLE + 2.0 + max(text_width(line, SMALL) for line in lines)
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
