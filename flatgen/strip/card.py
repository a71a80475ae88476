"""The measuring card of a strip: where to put calliper and protractor, a box for each number, one page where it can be.

Its numbers and letters are those of the form that is filled in from it.
"""

from __future__ import annotations

from collections.abc import Sequence

from flatgen import __version__
from flatgen.drawing.ink import LARGE, Block, Ink
from flatgen.drawing.paper import ASCENT
from flatgen.drawing.papers import Paper
from flatgen.drawing.words import clean
from flatgen.sheet import sheet_words
from flatgen.sheet.pages import paged, room
from flatgen.sheet.paragraphs import paragraphs
from flatgen.sheet.tables import Blank, Cell, table
from flatgen.sheet.title_block import TitleFacts
from flatgen.sheet.views import projection_symbol
from flatgen.strip import strip_words as words
from flatgen.strip.card_section import section_block
from flatgen.strip.cut import Strip
from flatgen.strip.form_text import how_to_measure, how_to_turn
from flatgen.units import in_mm_and_inch

SHARE = 0.42
"""Of the page's height that the section may take."""


def card_pages(strip: Strip, paper: Paper, form: str, *, inches: bool = False) -> tuple[Ink, ...]:
    """The card.

    Parameters
    ----------
    strip : Strip
        What was cut, [mm]
    paper : Paper
        A sheet, used upright, [mm]
    form : str
        Name of the form's file, [-]
    inches : bool
        Inches first, [-]

    Returns
    -------
    tuple[Ink, ...]
        One page, more for strips of many bends, [mm]
    """
    wide, tall = room(paper, False)
    blocks: list[Block] = [*_section(strip, wide, SHARE * tall), *_sheet(strip, wide, tall, inches)]
    blocks += _legs(strip, wide, tall, inches)
    blocks += _bends(strip, wide, tall, inches)
    notes = [*(n.format(form=clean(form)) for n in words.CARD_NOTES), words.CARD_NOTE_PLACE]
    blocks += paragraphs("", notes, wide, tall)
    profile = strip.profile
    facts = TitleFacts(
        title=words.CARD_TITLE.format(name=profile.title or profile.name),
        number=profile.name,
        supplementary=f"{profile.metal.name}, {in_mm_and_inch(profile.thickness, thickness=True, inch_first=inches)}",
        document_type=words.CARD_TYPE,
        scale=sheet_words.SCALE,
        unit="in" if inches else "mm",
        program=sheet_words.PROGRAM.format(version=__version__),
        fingerprint=sheet_words.FINGERPRINT.format(part=strip.reading.part),
    )
    return paged(blocks, paper, False, facts, projection_symbol("first"))


def _section(strip: Strip, wide: float, tall: float) -> list[Block]:
    drawn, scale, lost = section_block(strip.profile, wide, tall)
    said = f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"
    head = Ink()
    head.text(words.CARD_SECTION.format(scale=said), 0.0, drawn.tall + 2.0, LARGE)
    head.add(drawn.ink, 0.0, 0.0)
    texts = [words.CARD_SIZES]
    if lost:
        texts.append(words.CARD_LEFT_OUT.format(legs=", ".join(map(str, lost))))
    return [Block(head, wide, drawn.tall + 2.0 + LARGE * ASCENT), *paragraphs("", texts, wide, tall)]


def _table(
    heads: Sequence[str], rows: Sequence[tuple[Cell, ...]], wide: float, tall: float, title: str
) -> tuple[Block, ...]:
    return table(heads, rows, wide, tall, title=title)


def _sheet(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    unit = "in" if inches else "mm"
    row: tuple[Cell, ...] = (Blank(), Blank(), Blank(unit), Blank(unit))
    return _table(words.CARD_HEADS_SHEET, [row], wide, tall, words.CARD_SHEET)


def _legs(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    rows: list[tuple[Cell, ...]] = [
        (
            str(n + 1),
            clean(leg.name),
            how_to_measure(reading, n),
            in_mm_and_inch(leg.asked, inch_first=inches),
            Blank(unit),
        )
        for n, leg in enumerate(reading.legs)
    ]
    return _table(words.CARD_HEADS_LEGS, rows, wide, tall, words.CARD_LEGS)


def _bends(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    places = {label: n for n, label in enumerate(strip.order)}
    order = sorted(range(len(reading.bends)), key=lambda n: places.get(reading.bends[n].label, n))
    rows: list[tuple[Cell, ...]] = [
        (clean(reading.bends[n].label), how_to_turn(reading, n), Blank("°"), Blank("°"), Blank(unit), Blank())
        for n in order
    ]
    return _table(words.CARD_HEADS_BENDS, rows, wide, tall, words.CARD_BENDS)
