"""The pages of the shop sheet: views, blank, schedule, stages with what to measure, proof line, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.core.version import __version__
from flatgen.definition.part import Part
from flatgen.definition.solid.projection import PartViews
from flatgen.openings.judge import JudgedOpenings
from flatgen.paper.drawing.facts import cautions
from flatgen.paper.drawing.ink import SMALL, Block, Ink, Paper
from flatgen.paper.drawing.text import text_width
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.frame import EXTENSION, TABLE, Projection, TitleFacts, projection_symbol
from flatgen.paper.pages.pages import Break, flow_pages, room
from flatgen.paper.pages.tables import BOX, Blank, Cell, paragraphs, table
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.flat_view import flat_blocks
from flatgen.paper.shop_sheet.measure import StageChecks, finished_checks, stage_checks
from flatgen.paper.shop_sheet.proof import proof_lines
from flatgen.paper.shop_sheet.rows import (
    expected_tables,
    finished_table,
    measure_table,
    measuring_rules,
    remaining_corrections,
    schedule_table,
)
from flatgen.paper.shop_sheet.views import views_block
from flatgen.paper.shop_sheet.words import SheetUnit
from flatgen.paper.stage_pictures.pictures import StagePicture, key_block, stage_block

STAGE_WIDE = 284.0
"""No stage is drawn wider [mm]."""
HEADING = 27.0
"""Heading and scale bar of a stage [mm]."""
GAP_UNDER = 5.0
"""Between the picture of a stage and what is measured after it [mm]."""
LEAST_PICTURE = 45.0
VIEWS_SHARE = 0.55
"""Of a large page that views may take in height."""


@dataclass(frozen=True)
class SheetContent:
    """What the sheet shows of a part; ``projected`` are its views, ``mass`` is that of the blank [kg]."""

    part: Part
    flat: FlatPattern
    schedule: Schedule | None
    findings: tuple[Finding, ...]
    openings: JudgedOpenings
    projected: PartViews | None
    pictures: tuple[StagePicture, ...] = ()
    mass: float | None = None


@dataclass(frozen=True)
class SheetStyle:
    """Paper, projection, and unit of sizes."""

    paper: Paper
    projection: Projection = "first"
    unit: SheetUnit = "mm"

    @property
    def inches(self) -> bool:
        return self.unit != "mm"


def sheet_pages(content: SheetContent, style: SheetStyle) -> tuple[Ink, ...]:
    """The pages of the sheet, each from the lower left corner of its paper [mm]."""
    wide, tall = room(style.paper, True)
    blocks: list[Block | Break] = []
    if content.projected is not None:
        high = max(min(tall, 136.0), VIEWS_SHARE * tall)
        blocks.append(views_block(content.projected, wide, high, projection=style.projection, inches=style.inches))
    blocks += flat_blocks(content.part, content.flat, content.schedule, content.openings, wide, tall, unit=style.unit)
    blocks += _blank_tables(content, style, wide, tall)
    if content.schedule is not None and content.flat.bends:
        blocks += _bending_blocks(content, content.schedule, style, wide, tall)
    elif content.flat.bends:
        blocks += paragraphs("", [words.NO_BRAKE], wide, tall)
    proof = [
        (r.head, r.terms, r.result, r.source) for r in proof_lines(content.part, content.flat, inches=style.inches)
    ]
    blocks += table(words.PROOF, proof, wide, tall, title=words.PROOF_HEAD)
    lines = "bend lines" if content.schedule is None else "sight lines"
    notes = [
        *cautions(content.part, content.flat, content.findings, lines),
        *([words.KICK] if content.flat.bends else []),
    ]
    blocks += paragraphs(words.CAUTIONS, notes, wide, tall, 2)
    return flow_pages(blocks, style.paper, True, _title_facts(content, style), projection_symbol(style.projection))


def _title_facts(content: SheetContent, style: SheetStyle) -> TitleFacts:
    part, particulars, shop = content.part, content.part.particulars, ""
    if content.schedule is not None:
        shop = content.schedule.shop.fingerprint
        if content.schedule.shop.learned:
            shop += words.STRIPS.format(strips=content.schedule.shop.learned)
    prints = words.FINGERPRINTS if shop else words.FINGERPRINT
    return TitleFacts(
        title=part.title or part.name,
        number=particulars.number or part.name,
        supplementary=f"{part.metal_text}, {in_mm_and_inch(part.thickness, thickness=True, inch_first=style.inches)}",
        document_type=words.TYPE,
        owner=particulars.owner,
        creator=particulars.creator,
        date=particulars.date,
        revision=particulars.revision,
        tolerance=words.TOLERANCE,
        scale=words.SCALE,
        unit=style.unit[:2],
        program=words.PROGRAM.format(version=__version__),
        fingerprint=prints.format(part=part.fingerprint, shop=shop),
    )


def _blank_tables(content: SheetContent, style: SheetStyle, wide: float, tall: float) -> Iterator[Block]:
    """The sheet as it comes from the rack, with fields for what is measured on it."""
    part, flat, inches = content.part, content.flat, style.inches
    width, length = (in_mm_and_inch(v, inch_first=inches) for v in (flat.width, flat.length))
    grain = part.particulars.grain
    row: tuple[Cell, ...] = (
        part.metal_text,
        in_mm_and_inch(part.thickness, thickness=True, inch_first=inches),
        Blank("in" if inches else "mm"),
        f"{width} x {length}",
        words.area(flat.area),
        words.weight(content.mass),
        Blank(),
        words.GRAIN.format(grain=grain) if grain else words.NO_GRAIN,
    )
    yield from table(words.BLANK, [row], wide, tall, title=words.BLANK_HEAD)
    if grain:
        yield _grain_arrow(grain)


def _grain_arrow(grain: str) -> Block:
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


def _bending_blocks(
    content: SheetContent, schedule: Schedule, style: SheetStyle, wide: float, tall: float
) -> Iterator[Block | Break]:
    unit = style.unit
    bends = schedule_table(content.part, schedule, unit=unit)
    yield from table(bends.heads, bends.rows, wide, tall, title=words.SCHEDULE)
    yield from paragraphs("", bends.notes, wide, tall)
    stages = stage_checks(content.part, content.flat, schedule) if schedule.state != "refused" else ()
    if content.pictures:
        yield from _stage_blocks(content, stages, style, wide)
    elif stages:
        every = measure_table(content.part, stages, unit=unit)
        yield from table(every.heads, every.rows, wide, tall, title=words.ALL_MEASURES)
    if stages:
        offsets = {round(m.offset, 6) for m in stages}
        yield from paragraphs(words.IF_OFF, measuring_rules(offsets, unit=unit), wide, tall, 2)
        sizes = finished_table(content.part, *finished_checks(content.part, content.flat), unit=unit)
        yield from table(sizes.heads, sizes.rows, wide, tall, title=words.FINISHED)
    for n, expected in enumerate(expected_tables(schedule, unit=unit)):
        yield from table(expected.heads, expected.rows, wide, tall, title="" if n else words.EXPECTED)
        yield from paragraphs("", expected.notes, wide, tall)


def _stage_blocks(
    content: SheetContent, checks: Sequence[StageChecks], style: SheetStyle, wide: float
) -> Iterator[Block | Break]:
    """Each stage with its picture and what is measured after it; the key before the first."""
    tall = room(style.paper, True, later=True)[1]
    wide = min(wide, STAGE_WIDE)
    by_number = {m.number: m for m in checks}
    yield Break()
    key = key_block(wide)
    for n, picture in enumerate(content.pictures):
        check = by_number.get(picture.facts.number)
        under = [] if check is None else list(_checks_after(content, check, style, wide, tall))
        foot = None if check is None else _tick_boxes()
        lead = [] if n else [key]
        left = tall - sum(b.tall + GAP_UNDER for b in (*lead, *under)) - HEADING - (foot.tall if foot else 0.0)
        drawn = stage_block(picture, wide, max(left, LEAST_PICTURE), foot)
        whole = _stack([*lead, drawn, *under], wide)
        if whole.tall <= tall:
            yield whole
        else:
            yield _stack([*lead, drawn], wide)
            yield from under


def _checks_after(
    content: SheetContent, item: StageChecks, style: SheetStyle, wide: float, tall: float
) -> Iterator[Block]:
    checks = measure_table(content.part, [item], unit=style.unit)
    rows = [row[1:] for row in checks.rows]
    yield from table(checks.heads[1:], rows, wide, tall, title=words.MEASURE.format(label=clean(item.label)))
    yield from paragraphs("", remaining_corrections(content.part, item, unit=style.unit), wide, tall)


def _tick_boxes() -> Block:
    ink, x = Ink(), 0.0
    for text in words.TICKS:
        ink.box(TABLE, x, 0.0, x + BOX, BOX)
        ink.text(text, x + BOX + 1.5, (BOX - SMALL) / 2)
        x += BOX + 1.5 + text_width(text, SMALL) + 6.0
    return Block(ink, x, BOX)


def _stack(blocks: Iterable[Block], wide: float) -> Block:
    ink, y = Ink(), 0.0
    for n, block in enumerate(blocks):
        y -= block.tall + (GAP_UNDER if n else 0.0)
        ink.add(block.ink, 0.0, y)
    whole = Ink()
    whole.add(ink, 0.0, -y)
    return Block(whole, wide, -y)
