"""Frame, title block and pages. ISO 5457:1999 and ISO 7200:2004 are quoted from memory, not read."""

from __future__ import annotations

import itertools
import random
from dataclasses import fields, replace
from typing import Any

import pytest

from flatgen.paper.drawing.ink import SHEETS, Block, Ink, ink_document, parse_paper
from flatgen.paper.drawing.text import safe_text
from flatgen.paper.drawing.writers import dxf_bytes
from flatgen.paper.pages import words as words
from flatgen.paper.pages.frame import FRAME, PENS, TABLE, TitleFacts, drawing_space, frame_ink, sheet_size, title_block
from flatgen.paper.pages.pages import Break, flow_pages, room
from tests.paper.overlaps import clashes
from tests.paper.pages.test_tables import HOSTILE, bare

SEEDS = [n if n < 30 else pytest.param(n, marks=pytest.mark.thorough) for n in range(300)]
PAPERS = [(name, landscape) for name in ("A4", "A3", "A2", "Letter", "Tabloid") for landscape in (True, False)]
FACTS = TitleFacts(
    "Roof rail, east side",
    "OBS-014-02",
    "Roll-off roof, two needed",
    "Shop sheet",
    revision="A",
    tolerance="ISO 2768-m",
    scale="1:2",
    unit="mm",
    program="flatgen 0.1.0",
    fingerprint="3f2a90c1d2",
)
DEMANDED = (words.OWNER, words.NUMBER, words.DATE, words.SHEET, words.TITLE, words.APPROVAL, words.CREATOR, words.KIND)
"""ISO 7200, table of identification, title and administrative fields: those that are obligatory."""


def symbol() -> Block:
    """Stands for the symbol of projection: a circle between two lines."""
    ink = Ink()
    ink.circles.append(("VISIBLE", (10.0, 5.0), 4.0))
    ink.line("CENTRE", (0.0, 5.0), (20.0, 5.0))
    ink.arcs.append(("VISIBLE", (10.0, 5.0), 2.0, 0.0, 180.0))
    return Block(ink, 20.0, 10.0)


def filled(name: str, wide: float, tall: float) -> Block:
    """A block that is told by its name."""
    ink = Ink()
    ink.box("SIZES", 0.0, 0.0, wide, tall)
    ink.text(name, 1.0, tall / 2.0 - 1.0)
    return Block(ink, wide, tall)


def boxes_of(ink: Ink) -> dict[str, tuple[float, float, float, float]]:
    """Blocks made by ``filled`` on a page, by name: left, low, right, high."""
    drawn = [p for pen, p, closed in ink.lines if pen == "SIZES" and closed]
    found = {}
    for text in ink.texts:
        if text.text.startswith("#"):
            x, y = text.at
            left, low, right, high = next(
                (p[0][0], p[0][1], p[2][0], p[2][1])
                for p in drawn
                if abs(p[0][0] + 1.0 - x) < 1e-6 and p[0][1] < y < p[2][1]
            )
            found[text.text] = (left, low, right, high)
    return found


def apart(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


# ISO 5457, table 1: trimmed sheet and drawing space, landscape but for A4
@pytest.mark.parametrize(
    ("name", "landscape", "size"),
    [
        ("A4", False, (180.0, 277.0)),
        ("A3", True, (390.0, 277.0)),
        ("A2", True, (564.0, 400.0)),
        ("A1", True, (811.0, 574.0)),
        ("A0", True, (1159.0, 821.0)),
    ],
)
def test_drawing_space(name: str, landscape: bool, size: tuple[float, float]) -> None:
    """ISO 5457, table 1 (from memory); the frame is 0.7 mm and lies on the drawing space (clause 4.2)."""
    left, low, right, high = drawing_space(parse_paper(name), landscape)
    assert (right - left, high - low) == size
    assert (left, low) == (20.0, 10.0)
    edge = next(p for pen, p, closed in frame_ink(parse_paper(name), landscape).lines if pen == FRAME and closed)
    assert (edge[0], edge[2]) == ((left, low), (right, high))
    assert PENS[FRAME].weight == 0.7


@pytest.mark.parametrize(("name", "landscape"), [*PAPERS, ("A1", True), ("A0", True), ("A0", False)])
def test_centring_marks(name: str, landscape: bool) -> None:
    """ISO 5457, clause 4.3 (from memory): four, at the ends of both axes of the trimmed sheet, within 1 mm, 0.7 mm."""
    paper = parse_paper(name)
    wide, tall = sheet_size(paper, landscape)
    marks = [p for pen, p, closed in frame_ink(paper, landscape).lines if pen == FRAME and not closed]
    assert len(marks) == 4
    upright = [p for p in marks if p[0][0] == p[1][0]]
    level = [p for p in marks if p[0][1] == p[1][1]]
    assert [p[0][0] for p in upright] == pytest.approx([wide / 2.0] * 2)
    assert [p[0][1] for p in level] == pytest.approx([tall / 2.0] * 2)
    assert sorted(p[0][1] < tall / 2.0 for p in upright) == [False, True]
    assert sorted(p[0][0] < wide / 2.0 for p in level) == [False, True]
    _, low, right, _ = drawing_space(paper, landscape)
    assert all(p[1][1] <= low or p[1][0] < right - 180.0 for p in upright if p[0][1] < low), "into the title block"
    assert all(0.0 < q < s for p in marks for point in p for q, s in zip(point, (wide, tall), strict=True))


@pytest.mark.parametrize(
    ("name", "across", "down"), [("A3", 8, "F"), ("A2", 12, "H"), ("A1", 16, "M"), ("A0", 24, "R")]
)
def test_grid_reference(name: str, across: int, down: str) -> None:
    """ISO 5457, clause 4.4 with its table (from memory): A3 8 x 6 fields, A2 12 x 8, A1 16 x 12, A0 24 x 16; letters
    downward without I and O, numbers from the left, on all sides, 3.5 mm; fields of 50 mm from the centring marks."""
    paper = parse_paper(name)
    wide, tall = sheet_size(paper, True)
    ink = frame_ink(paper, True)
    numbers = sorted((t for t in ink.texts if t.text.isdigit() and t.at[1] < 20.0), key=lambda t: t.at[0])
    letters = sorted((t for t in ink.texts if t.text.isalpha() and t.at[0] < 20.0), key=lambda t: -t.at[1])
    assert [t.text for t in numbers] == [str(n + 1) for n in range(across)]
    assert [t.text for t in letters] == [c for c in "ABCDEFGHIJKLMNOPQR" if c <= down and c not in "IO"]
    assert len(ink.texts) == 2 * (len(numbers) + len(letters))
    assert {t.height for t in ink.texts} == {3.5}
    ticks = [p for pen, p, closed in ink.lines if pen == TABLE and not closed]
    for p in ticks:
        axis, middle = (0, wide / 2.0) if p[0][0] == p[1][0] else (1, tall / 2.0)
        away = abs(p[0][axis] - middle) / 50.0
        assert away == pytest.approx(round(away))
        assert away > 0.5
    assert len(ticks) == 2 * (across - 2) + 2 * (len(letters) - 2)
    assert clashes(ink, (0.0, 0.0, wide, tall)) == []


@pytest.mark.parametrize("name", ["A4", "Letter"])
def test_small_paper_has_no_grid(name: str) -> None:
    """Brief: the grid reference from A3 on."""
    assert frame_ink(parse_paper(name), False).texts == []
    assert frame_ink(parse_paper("Tabloid"), True).texts != []


def test_a_roll_has_no_frame() -> None:
    with pytest.raises(ValueError, match="no sheet"):
        frame_ink(parse_paper("roll:610"), True)


@pytest.mark.parametrize("reduced", [False, True])
def test_title_block_has_what_is_demanded(reduced: bool) -> None:
    """ISO 7200 (from memory): at most 180 mm wide, the obligatory fields; what is to be written is 7 mm high or more
    (common practice, no source)."""
    block = title_block(FACTS, "A3", 2, 12, symbol(), reduced=reduced)
    assert block.wide == 180.0
    said = [t.text for t in block.ink.texts]
    assert all(caption in said for caption in DEMANDED)
    assert "2 / 12" in said
    assert "Roof rail, east side" in said
    signed = next(t for t in block.ink.texts if t.text == words.APPROVAL)
    under = max(p[0][1] for _, p, closed in block.ink.lines if not closed and p[0][1] == p[1][1] < signed.at[1])
    assert signed.at[1] - 0.3 * 2.5 - under >= 7.0
    if not reduced:
        assert all(t in said for t in ("ISO 2768-m", "1:2", "mm", "A3", "A", "Roll-off roof, two needed"))
        assert any("flatgen 0.1.0" in t and "3f2a90c1d2" in t for t in said)
    assert clashes(block.ink, (-0.4, -0.4, 180.4, block.tall + 0.4)) == []


def test_texts_of_recommended_length_stand_whole() -> None:
    """ISO 7200 (from memory): 25 letters of a title and of what supplements it, 16 of a number, 20 of a name, 30 of a
    document type, 10 of a date, 2 of a revision."""
    facts = TitleFacts(
        "Purlin bracket, left side",
        "OBS-2026-0014-02",
        "Roll-off roof observatory",
        "Shop sheet with bend schedule.",
        owner="Hill Top Observatory",
        creator="Somebody B. Someone.",
        approval="Anybody, Whoever II.",
        date="2026-11-26",
        revision="AB",
    )
    for reduced in (False, True):
        block = title_block(facts, "A4", 1, 1, symbol(), reduced=reduced)
        said = "".join(bare(t.text) for t in sorted(block.ink.texts, key=lambda t: (t.at[0], -t.at[1])))
        assert "…" not in said
        names = [f.name for f in fields(facts) if not (reduced and f.name in ("supplementary", "revision"))]
        assert all(bare(getattr(facts, name)) in said for name in names)


def test_a_title_of_two_lines_stands_whole() -> None:
    """By hand: 62 letters, with what supplements it and on later sheets."""
    facts = replace(FACTS, title="Pier channel with cable slots, north side of the roll-off roof")
    for reduced in (False, True):
        said = "".join(bare(t.text) for t in title_block(facts, "A4", 1, 1, symbol(), reduced=reduced).ink.texts)
        assert bare(facts.title) in said


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_texts_stay_in_their_fields(text: str) -> None:
    """shapely: no letter on another or on a line, nothing beyond the block."""
    facts = TitleFacts(**{f.name: text for f in fields(TitleFacts)})
    for reduced in (False, True):
        block = title_block(facts, text, 1, 1, symbol(), reduced=reduced)
        assert clashes(block.ink, (-0.4, -0.4, 180.4, block.tall + 0.4)) == []
        assert min(t.height for t in block.ink.texts) >= 2.5


@pytest.mark.parametrize("text", ["<b>&amp;", r"\PA\U+0041{\fArial}", "%%d %%u %%%", "50%°", "^I ^"])
def test_hostile_texts_are_not_taken_for_commands(text: str, tmp_path: Any) -> None:
    """GDAL's reader of DXF, which knows nothing of us: the letters that were asked for, blanks aside.

    It takes UTF-8 for Latin 1, so that no other letters are tried."""
    import pyogrio

    (page,) = flow_pages([], parse_paper("A4"), False, replace(FACTS, title=text), symbol())
    path = tmp_path / "page.dxf"
    path.write_bytes(dxf_bytes(ink_document(page, PENS, 210.0, 297.0)))
    meta, _, _, columns = pyogrio.raw.read(str(path), columns=["Text"])
    read = {bare(t) for t in columns[list(meta["fields"]).index("Text")] if t}
    assert bare(safe_text(text)) in read
    assert bare(text.replace("%", "")) == bare(safe_text(text).replace("%", ""))


def test_a_symbol_too_large_is_drawn_smaller() -> None:
    """By hand: ten times the size ends within the same field."""
    ink = Ink()
    ink.circles.append(("VISIBLE", (100.0, 50.0), 50.0))
    block = title_block(FACTS, "A4", 1, 1, Block(ink, 200.0, 100.0))
    ((_, centre, radius),) = block.ink.circles
    assert 3.0 < radius < 6.0
    assert centre[0] - radius > 155.0
    assert centre[0] + radius < 180.0
    assert clashes(block.ink) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_any_blocks_flow_in_order_over_nothing(seed: int) -> None:
    """By hand, from what is drawn: each block once, none over another, over the title block or beyond the frame; what
    is read next is below or to the right; sheets numbered; no more sheets than with one block under the other."""
    rng = random.Random(seed)
    name, landscape = PAPERS[seed % len(PAPERS)]
    paper = parse_paper(name)
    wide, tall = room(paper, landscape)
    blocks: list[Block | Break] = []
    for n in range(rng.choice([1, 3, 8, 25, 60])):
        if rng.random() < 0.1:
            blocks.append(Break())
        share = rng.choice([0.2, 0.45, 1.0])
        blocks.append(filled(f"#{n}", max(14.0, wide * share * rng.random()), max(6.0, tall * rng.random() ** 2)))
    facts = replace(FACTS, title=rng.choice(HOSTILE), number=rng.choice(HOSTILE))
    pages = flow_pages(blocks, paper, landscape, facts, symbol())
    seen: list[str] = []
    left, low, right, high = drawing_space(paper, landscape)
    for n, page in enumerate(pages):
        assert f"{n + 1} / {len(pages)}" in [t.text for t in page.texts]
        assert clashes(page, (0.0, 0.0, *sheet_size(paper, landscape))) == []
        title = next(p for pen, p, closed in page.lines if pen == FRAME and closed and p[2][1] < high - 50.0)
        assert title[1] == (pytest.approx(right), pytest.approx(low))
        taken = (title[0][0], title[0][1], title[2][0], title[2][1])
        found = boxes_of(page)
        for box in found.values():
            assert apart(box, taken)
            assert left + 5.0 <= box[0]
            assert box[2] <= right - 5.0
            assert low + 5.0 <= box[1]
            assert box[3] <= high - 5.0
        assert all(apart(a, b) for a, b in itertools.combinations(found.values(), 2))
        names = sorted(found, key=lambda k: int(k[1:]))
        for a, b in itertools.pairwise(names):
            assert found[b][3] <= found[a][1] or found[b][0] >= found[a][2]
        seen += names
    assert seen == [b.ink.texts[0].text for b in blocks if isinstance(b, Block)]
    assert len(pages) <= one_under_the_other(blocks, tall)


def one_under_the_other(blocks: list[Block | Break], tall: float) -> int:
    """Sheets that blocks in a single column fill, 4 mm apart, if no sheet has more room than the first."""
    count, left = 0, -1.0
    for block in blocks:
        if isinstance(block, Break):
            left = -1.0
        elif left >= block.tall + 4.0:
            left -= block.tall + 4.0
        else:
            count, left = count + 1, tall - block.tall
    return count


def test_two_that_fit_stand_side_by_side() -> None:
    """By hand: A3 has 390 mm: two blocks of 180 mm stand beside one another, two of 200 mm do not."""
    for wide, beside in ((180.0, True), (200.0, False)):
        (page,) = flow_pages(
            [filled("#0", wide, 60.0), filled("#1", wide, 60.0)], parse_paper("A3"), True, FACTS, symbol()
        )
        found = boxes_of(page)
        assert (found["#0"][3] == found["#1"][3]) is beside


def test_narrow_blocks_use_the_room_beside_the_title_block() -> None:
    """By hand: on A3 210 mm are left beside the title block."""
    (page,) = flow_pages(
        [filled("#0", 370.0, 215.0), filled("#1", 190.0, 30.0)], parse_paper("A3"), True, FACTS, symbol()
    )
    assert boxes_of(page)["#1"][1] < 51.0


def test_a_closer_fit_saves_a_leftover_sheet() -> None:
    """By hand: the room is ``tall``; two blocks that leave 5 mm between them stay on one sheet."""
    wide, tall = room(parse_paper("A4"), False)
    halves = [filled(f"#{n}", wide, (tall - 5.0) / 2.0) for n in range(2)]
    assert len(flow_pages(halves, parse_paper("A4"), False, FACTS, symbol())) == 1


def test_breaks_begin_sheets_and_empty_ones_are_left_out() -> None:
    """By hand."""
    one, two = filled("#0", 50.0, 20.0), filled("#1", 50.0, 20.0)
    pages = flow_pages([Break(), one, Break(), Break(), two, Break()], parse_paper("A4"), False, FACTS, symbol())
    assert [list(boxes_of(p)) for p in pages] == [["#0"], ["#1"]]
    assert len(flow_pages([], parse_paper("A4"), False, FACTS, symbol())) == 1


@pytest.mark.parametrize("more", [(1.0, 0.0), (0.0, 1.0)])
def test_a_block_larger_than_a_page_is_refused(more: tuple[float, float]) -> None:
    """Brief; the message names the block, its size and the room."""
    wide, tall = room(parse_paper("A4"), True, later=True)
    flow_pages([filled("#0", 50.0, 20.0), filled("#1", wide, tall)], parse_paper("A4"), True, FACTS, symbol())
    with pytest.raises(ValueError, match=r"block 2 of .* is larger than a page of A4"):
        flow_pages(
            [filled("#0", 50.0, 20.0), filled("#1", wide + more[0], tall + more[1])],
            parse_paper("A4"),
            True,
            FACTS,
            symbol(),
        )


def test_many_small_blocks_do_not_take_long() -> None:
    """A thousand blocks on the largest paper end."""
    blocks = [filled(f"#{n}", 14.0, 6.0) for n in range(1000)]
    pages = flow_pages(blocks, parse_paper("A0"), True, FACTS, symbol())
    assert sum(len(boxes_of(p)) for p in pages) == 1000


def test_every_paper_has_room() -> None:
    """By hand: at least 160 x 130 mm on every sheet of the shop."""
    for name in SHEETS:
        for landscape in (True, False):
            wide, tall = room(parse_paper(name), landscape)
            assert wide >= 160.0
            assert tall >= 130.0
