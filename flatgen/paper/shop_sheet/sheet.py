"""The shop sheet put together: views, blank, schedule, stages with what to measure, proof, cautions, on framed pages.

Everything that one stage needs stands together: its picture, boxes to tick, what to measure and with which limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from flatgen import __version__
from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part
from flatgen.definition.solid.projection import Projected
from flatgen.openings.judge import Watched
from flatgen.paper.drawing.facts import cautions
from flatgen.paper.drawing.ink import SMALL, Block, Ink, Paper
from flatgen.paper.drawing.text import run
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.frame import EXTENSION, TABLE, TitleFacts, projection_symbol
from flatgen.paper.pages.pages import Break, paged, room
from flatgen.paper.pages.tables import BOX, Blank, Cell, paragraphs, table
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.flat_view import flat_blocks
from flatgen.paper.shop_sheet.measure import Measure, finished, measures
from flatgen.paper.shop_sheet.proof import proof_lines
from flatgen.paper.shop_sheet.rows import (
    TITLE,
    Table,
    expected_tables,
    finished_table,
    if_off,
    measure_table,
    schedule_rows,
    what_to_do,
)
from flatgen.paper.shop_sheet.views import views_block
from flatgen.paper.shop_sheet.words import SheetUnit
from flatgen.paper.stage_pictures.pictures import key_block, stage_block

if TYPE_CHECKING:
    from flatgen.paper.stage_pictures.pictures import StagePicture

STAGE_WIDE = 284.0
"""No stage is drawn wider [mm]."""
ABOVE_PICTURE = 27.0
"""Heading and scale bar of a stage [mm]."""
UNDER = 5.0
"""Between the picture of a stage and what is measured after it [mm]."""
LEAST_PICTURE = 45.0
SHARE = 0.55
"""Of a large page that views may take in height."""


@dataclass(frozen=True)
class Told:
    """What the sheet tells of: a part with its flat, its brake and all that was found; ``mass`` [kg] of the blank."""

    part: Part
    flat: FlatPattern
    schedule: Schedule | None
    findings: tuple[Finding, ...]
    watched: Watched
    projected: Projected | None
    pictures: tuple[StagePicture, ...] = ()
    mass: float | None = None


@dataclass(frozen=True)
class Manner:
    """How it is told: ``paper``, ``projection``, ``unit`` of sizes."""

    paper: Paper
    projection: Literal["first", "third"] = "first"
    unit: SheetUnit = "mm"

    @property
    def inches(self) -> bool:
        """Whether sizes are in inches first."""
        return self.unit != "mm"


def sheet_pages(told: Told, manner: Manner) -> tuple[Ink, ...]:
    """The pages of the sheet.

    :returns: each from the lower left corner of its paper [mm]
    """
    wide, tall = room(manner.paper, True)
    blocks: list[Block | Break] = []
    if told.projected is not None:
        high = max(min(tall, 136.0), SHARE * tall)
        blocks.append(views_block(told.projected, wide, high, projection=manner.projection, inches=manner.inches))
    flat = (told.part, told.flat, told.schedule, told.watched)
    blocks += flat_blocks(*flat, wide, tall, unit=manner.unit)
    blocks += _blank(told, manner, wide, tall)
    if told.schedule is not None and told.flat.bends:
        blocks += _bending(told, told.schedule, manner, wide, tall)
    elif told.flat.bends:
        blocks += paragraphs("", [words.NO_BRAKE], wide, tall)
    blocks += _proof(told, manner, wide, tall)
    lines = "bend lines" if told.schedule is None else "sight lines"
    said = [*cautions(told.part, told.flat, told.findings, lines), *([words.KICK] if told.flat.bends else [])]
    blocks += paragraphs(words.CAUTIONS, said, wide, tall, 2)
    return paged(blocks, manner.paper, True, _title(told, manner), projection_symbol(manner.projection))


def _title(told: Told, manner: Manner) -> TitleFacts:
    part, said, shop = told.part, told.part.particulars, ""
    if told.schedule is not None:
        shop = told.schedule.shop.fingerprint
        if told.schedule.shop.learned:
            shop += words.STRIPS.format(strips=told.schedule.shop.learned)
    prints = words.FINGERPRINTS if shop else words.FINGERPRINT
    return TitleFacts(
        title=part.title or part.name,
        number=said.number or part.name,
        supplementary=f"{part.metal_text}, {in_mm_and_inch(part.thickness, thickness=True, inch_first=manner.inches)}",
        document_type=words.TYPE,
        owner=said.owner,
        creator=said.creator,
        date=said.date,
        revision=said.revision,
        tolerance=words.TOLERANCE,
        scale=words.SCALE,
        unit=manner.unit[:2],
        program=words.PROGRAM.format(version=__version__),
        fingerprint=prints.format(part=part.fingerprint, shop=shop),
    )


def _blank(told: Told, manner: Manner, wide: float, tall: float) -> Iterator[Block]:
    """What is taken from the rack, with blanks for what is measured on it."""
    part, flat, inches = told.part, told.flat, manner.inches
    width, length = (in_mm_and_inch(v, inch_first=inches) for v in (flat.width, flat.length))
    grain = part.particulars.grain
    row: tuple[Cell, ...] = (
        part.metal_text,
        in_mm_and_inch(part.thickness, thickness=True, inch_first=inches),
        Blank("in" if inches else "mm"),
        f"{width} x {length}",
        words.area(flat.area),
        words.weight(told.mass),
        Blank(),
        words.GRAIN.format(grain=grain) if grain else words.NO_GRAIN,
    )
    yield from table(words.BLANK, [row], wide, tall, title=words.BLANK_HEAD)
    if grain:
        yield _grain(grain)


def _grain(grain: str) -> Block:
    """An arrow as the sheet was rolled, for the flat as it is drawn: across the bends runs from left to right."""
    ink, long = Ink(), 30.0
    if grain == "across":
        a, b = (0.0, 5.0), (long, 5.0)
    else:
        a, b = (5.0, 0.0), (5.0, long)
    ink.line(EXTENSION, a, b)
    way = (b[0] - a[0], b[1] - a[1])
    ink.head(b, way)
    ink.head(a, (-way[0], -way[1]))
    x, y = (long + 3.0, 5.0 - SMALL / 2) if grain == "across" else (10.0, long / 2)
    ink.text(words.GRAIN.format(grain=grain), x, y)
    return Block(ink, x + 45.0, 10.0 if grain == "across" else long)


def _bending(told: Told, schedule: Schedule, manner: Manner, wide: float, tall: float) -> Iterator[Block | Break]:
    """Schedule, stages, what is measured."""
    unit = manner.unit
    rows = schedule_rows(told.part, schedule, unit=unit)
    yield from table(rows.heads, rows.rows, wide, tall, title=words.SCHEDULE)
    yield from paragraphs("", rows.notes, wide, tall)
    found = measures(told.part, told.flat, schedule) if schedule.state != "refused" else ()
    if told.pictures:
        yield from _stages(told, found, manner, wide)
    elif found:
        every = measure_table(told.part, found, unit=unit)
        yield from table(every.heads, every.rows, wide, tall, title=words.ALL_MEASURES)
    if found:
        offsets = {round(m.offset, 6) for m in found}
        yield from paragraphs(words.IF_OFF, what_to_do(offsets, unit=unit), wide, tall, 2)
        done = finished_table(told.part, *finished(told.part, told.flat), unit=unit)
        yield from table(done.heads, done.rows, wide, tall, title=words.FINISHED)
        yield from paragraphs("", done.notes, wide, tall)
    for n, expected in enumerate(expected_tables(schedule, unit=unit)):
        yield from table(expected.heads, expected.rows, wide, tall, title="" if n else TITLE)
        yield from paragraphs("", expected.notes, wide, tall)


def _stages(told: Told, found: Sequence[Measure], manner: Manner, wide: float) -> Iterator[Block | Break]:
    """Each stage with its picture and what is measured after it; the key before the first."""
    tall = room(manner.paper, True, later=True)[1]
    wide = min(wide, STAGE_WIDE)
    after = {m.number: m for m in found}
    yield Break()
    key = key_block(wide)
    for n, picture in enumerate(told.pictures):
        item = after.get(picture.facts.number)
        under = [] if item is None else list(_after(told, item, manner, wide, tall))
        foot = None if item is None else _ticks()
        lead = [] if n else [key]
        left = tall - sum(b.tall + UNDER for b in (*lead, *under)) - ABOVE_PICTURE - (foot.tall if foot else 0.0)
        shown = stage_block(picture, wide, max(left, LEAST_PICTURE), foot)
        whole = _stacked([*lead, shown, *under], wide)
        if whole.tall <= tall:
            yield whole
        else:
            yield _stacked([*lead, shown], wide)
            yield from under


def _after(told: Told, item: Measure, manner: Manner, wide: float, tall: float) -> Iterator[Block]:
    """What is measured after one bend."""
    every: Table = measure_table(told.part, [item], unit=manner.unit)
    rows = [row[1:] for row in every.rows]
    yield from table(every.heads[1:], rows, wide, tall, title=words.MEASURE.format(label=clean(item.label)))
    yield from paragraphs("", if_off(told.part, item, unit=manner.unit), wide, tall)


def _ticks() -> Block:
    """Boxes to tick as a stage goes on, side by side."""
    ink, x = Ink(), 0.0
    for text in words.TICKS:
        ink.box(TABLE, x, 0.0, x + BOX, BOX)
        ink.text(text, x + BOX + 1.5, (BOX - SMALL) / 2)
        x += BOX + 1.5 + run(text, SMALL) + 6.0
    return Block(ink, x, BOX)


def _stacked(blocks: Iterable[Block], wide: float) -> Block:
    """Blocks under one another as one."""
    ink, y = Ink(), 0.0
    for n, block in enumerate(blocks):
        y -= block.tall + (UNDER if n else 0.0)
        ink.add(block.ink, 0.0, y)
    whole = Ink()
    whole.add(ink, 0.0, -y)
    return Block(whole, wide, -y)


def _proof(told: Told, manner: Manner, wide: float, tall: float) -> Iterator[Block]:
    rows = proof_lines(told.part, told.flat, inches=manner.inches)
    cells = [(r.head, r.terms, r.result, r.source) for r in rows]
    yield from table(words.PROOF, cells, wide, tall, title=words.PROOF_HEAD)
