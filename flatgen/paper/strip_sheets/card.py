"""The measuring card of a strip: where to put calliper and protractor, a box for each number, one page where it can be.

Its numbers and letters are those of the form that is filled in from it.
"""

from __future__ import annotations

from flatgen import __version__
from flatgen.core.units import in_mm_and_inch
from flatgen.paper.drawing.ink import LARGE, Block, Ink
from flatgen.paper.drawing.paper import ASCENT
from flatgen.paper.drawing.papers import Paper
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.pages import paged, room
from flatgen.paper.pages.paragraphs import paragraphs
from flatgen.paper.pages.tables import Blank, Cell, table
from flatgen.paper.pages.title_block import TitleFacts
from flatgen.paper.shop_sheet import sheet_words
from flatgen.paper.shop_sheet import words as sizes
from flatgen.paper.shop_sheet.views import projection_symbol
from flatgen.paper.strip_sheets.card_section import section_block
from flatgen.paper.strip_sheets.form_text import how_to_measure, tool_for
from flatgen.strips import words as words
from flatgen.strips.cut import Strip

SHARES = (0.45, 0.36, 0.28, 0.24)
"""Of the page's height that the section may take: the largest with which all of it stands on one page."""


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
    tried = (_pages(strip, paper, form, share, inches) for share in SHARES)
    return next((pages for pages in tried if len(pages) == 1), _pages(strip, paper, form, SHARES[0], inches))


def _pages(strip: Strip, paper: Paper, form: str, share: float, inches: bool) -> tuple[Ink, ...]:
    wide, tall = room(paper, False, later=True)
    blocks: list[Block] = [*_section(strip, wide, share * tall), *_sheet(wide, tall, inches)]
    blocks += _legs(strip, wide, tall, inches)
    blocks += _bends(strip, wide, tall, inches)
    notes = [*(n.format(form=clean(form)) for n in words.CARD_NOTES), words.CARD_NOTE_PLACE]
    blocks += paragraphs("", notes, wide, tall, 2)
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
    return paged(blocks, paper, False, facts, projection_symbol("first"), reduced=True)


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


def _sheet(wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    unit = "in" if inches else "mm"
    row: tuple[Cell, ...] = (Blank(), Blank(), Blank(unit), Blank(unit))
    return table(words.CARD_HEADS_SHEET, [row], wide, tall, weights=(1, 1, 1, 1), title=words.CARD_SHEET)


def _legs(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    said = [how_to_measure(reading, n) for n in range(len(reading.legs))]
    lead = words.CALLIPER.partition("{")[0]
    alike = all(text.startswith(lead) for text in said)
    rows: list[tuple[Cell, ...]] = [
        (
            str(n + 1),
            clean(leg.name),
            text.removeprefix(lead) if alike else text,
            sizes.fine(leg.asked, "in" if inches else "mm"),
            Blank(unit),
        )
        for n, (leg, text) in enumerate(zip(reading.legs, said, strict=True))
    ]
    return table(words.CARD_HEADS_LEGS, rows, wide, tall, title=words.CARD_LEGS_WITH if alike else words.CARD_LEGS)


def _bends(strip: Strip, wide: float, tall: float, inches: bool) -> tuple[Block, ...]:
    reading, unit = strip.reading, "in" if inches else "mm"
    places = {label: n for n, label in enumerate(strip.order)}
    order = sorted(range(len(reading.bends)), key=lambda n: places.get(reading.bends[n].label, n))
    rows: list[tuple[Cell, ...]] = [
        (
            clean(reading.bends[n].label),
            f"{180.0 - reading.bends[n].angle:g}°",
            words.CARD_TOOLS[tool_for(reading, n)],
            Blank("°"),
            Blank("°"),
            Blank(unit),
            Blank(),
        )
        for n in order
    ]
    return table(words.CARD_HEADS_BENDS, rows, wide, tall, title=words.CARD_BENDS)
