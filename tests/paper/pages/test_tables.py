"""Tables and texts in blocks: nothing lost, nothing over anything, room to write in."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest

from flatgen.paper.drawing.ink import Block
from flatgen.paper.drawing.text import safe_text, shorten, text_width, wrap_text
from flatgen.paper.pages.frame import TABLE
from flatgen.paper.pages.tables import Blank, Cell, Tick, paragraphs, table
from tests.paper.overlaps import clashes

SEEDS = [n if n < 30 else pytest.param(n, marks=pytest.mark.thorough) for n in range(300)]
HOSTILE = (
    "",
    "<script>&amp;</script>",
    "%%d%%c%%p 50%°",
    r"\P{\fArial;x} \U+0041 \M+1A1A1",
    "^I^J ^",
    "Träger für Öffnung, Ẳ Ỗ Ģ ې",
    "折り曲げ 板金",
    "W" * 200,
    "word " * 300,
    "a\nb\tc\x00d\u202ee\ud800",
    "Z\u0301\u0302\u0303\u0304" * 40,
    "‱" * 30,
)


def lines_of(block: Block) -> list[str]:
    """Lettering from the top, and from the left in a row."""
    return [t.text for t in sorted(block.ink.texts, key=lambda t: (-round(t.at[1], 3), t.at[0]))]


def bare(text: str) -> str:
    """Without blanks, which come and go where a line breaks."""
    return "".join(text.split())


def cells_of(block: Block) -> list[list[str]]:
    """What stands between the lines of a block, read with nothing but the drawn lines: rows of cells without blanks."""
    ups = sorted({round(p[0][0], 6) for _, p, c in block.ink.lines if not c and p[0][0] == p[1][0]})
    levels = sorted({round(p[0][1], 6) for _, p, c in block.ink.lines if not c and p[0][1] == p[1][1]}, reverse=True)
    whole = max((p for _, p, closed in block.ink.lines if closed), key=lambda p: p[2][0] - p[0][0])
    across, down = [whole[0][0], *ups, whole[2][0]], [whole[2][1], *levels, whole[0][1]]
    rows = []
    for high, low in itertools.pairwise(down):
        if high - low < 1.0:
            continue  # the double line
        row = []
        for left, right in itertools.pairwise(across):
            inside = [t for t in block.ink.texts if left <= t.at[0] < right and low <= t.at[1] < high]
            row.append("".join(bare(t.text) for t in sorted(inside, key=lambda t: -t.at[1])))
        rows.append(row)
    return rows


def anything(rng: random.Random) -> Cell:
    """A cell of any kind."""
    kind = rng.random()
    if kind < 0.1:
        return Blank(rng.choice(["mm", "in", ""]))
    if kind < 0.2:
        return Tick(rng.choice(["", "ok", "bend made and measured, both ends"]))
    if kind < 0.5:
        return f"{rng.uniform(0, 4000):.1f}"
    if kind < 0.6:
        return rng.choice(HOSTILE)
    return " ".join(
        rng.choice(["bend", "A", "hold", "flange", "left", "of", "the", "line,"]) for _ in range(rng.randint(1, 12))
    )


def said_in(cell: Cell) -> str:
    return cell.text if isinstance(cell, Tick) else cell.unit if isinstance(cell, Blank) else cell


@pytest.mark.parametrize("seed", SEEDS)
def test_any_table_is_whole_and_clear(seed: int) -> None:
    """shapely: no letter on a letter or a line, all within the block. What is read between the drawn lines is what was
    asked for, cell by cell, in order."""
    rng = random.Random(seed)
    columns, count = rng.randint(1, 9), 200 if seed % 5 == 0 else rng.choice([1, 2, 5, 20, 40])
    wide, tall = rng.uniform(columns * 16.0, max(columns * 16.0, 390.0)), rng.uniform(60.0, 260.0)
    heads = [rng.choice(["Bend", "Angle [°]", "Sight line from the held edge [mm]", "", "%%d"]) for _ in range(columns)]
    rows = [[anything(rng) for _ in range(columns)] for _ in range(count)]
    weights = [rng.uniform(0.5, 3.0) for _ in range(columns)] if seed % 3 == 0 else None
    blocks = table(heads, rows, wide, tall, weights=weights, title=rng.choice(["", "Bends in order"]))
    read: list[list[str]] = []
    for block in blocks:
        assert block.wide <= wide + 1e-6
        assert block.tall <= tall + 1e-6
        assert clashes(block.ink, (-0.2, -0.2, block.wide + 0.2, block.tall + 0.2)) == []
        assert min((t.height for t in block.ink.texts), default=2.5) >= 2.5
        first, *others = cells_of(block)
        assert first[0].startswith(bare(safe_text(heads[0]))[:4])
        read += others
    wanted = ["".join(bare(safe_text(said_in(c))) for c in column) for column in zip(*rows, strict=True)]
    for k, column in enumerate(wanted):
        assert "".join(r[k] for r in read) == column


def test_rows_stay_whole_unless_one_is_deeper_than_a_block() -> None:
    """By hand: rows of one line each, in blocks of 40 mm; every block but the last has room for no further row."""
    blocks = table(("n", "word"), [(str(n), "rail") for n in range(50)], 100.0, 40.0)
    rows = [cells_of(b)[1:] for b in blocks]
    assert [r[0] for r in itertools.chain(*rows)] == [str(n) for n in range(50)]
    row = 2.5 * (1.5 + 0.65)
    assert all(b.tall + row > 40.0 for b in blocks[:-1])
    assert len({len(r) for r in rows[:-1]}) == 1


def test_a_row_deeper_than_a_block_goes_on_without_a_second_box() -> None:
    """By hand: one box to tick, all words in order."""
    text = " ".join(f"word{n}" for n in range(120))
    blocks = table(("Step", "Done"), [(text, Tick("yes"))], 60.0, 60.0)
    assert len(blocks) > 1
    boxes = [p for b in blocks for _, p, closed in b.ink.lines if closed and p[2][0] - p[0][0] < 10.0]
    assert len(boxes) == 1
    assert "".join(cells_of(b)[1][0] for b in blocks) == bare(text)


def test_room_to_write_in_is_seven_millimetres_high() -> None:
    """Brief: a blank at least 7 mm high; common practice, no source."""
    (block,) = table(("Bend", "Measured"), [("A", Blank("mm")), ("B", Blank())], 120.0, 60.0)
    levels = sorted({p[0][1] for _, p, closed in block.ink.lines if not closed and p[0][1] == p[1][1]})
    assert min(b - a for a, b in itertools.pairwise([0.0, *levels[:2]])) >= 7.0
    left = next(p[0][0] for _, p, closed in block.ink.lines if not closed and p[0][0] == p[1][0])
    unit = next(t for t in block.ink.texts if t.text == "mm")
    assert unit.at[0] - left >= 18.0


def test_a_unit_longer_than_its_cell_gives_way() -> None:
    """shapely: nothing on anything."""
    (block,) = table(("Bend", "Measured"), [("A", Blank("degrees of the protractor on the leaf"))], 60.0, 60.0)
    assert clashes(block.ink) == []
    assert any(t.text.endswith("…") for t in block.ink.texts)


def test_boxes_to_tick_are_squares_that_a_pencil_hits() -> None:
    """By hand: one box of 3.5 x 3.5 mm for each tick, beside its words."""
    (block,) = table(("Step", "Done"), [("Deburr", Tick("yes")), ("Bend", Tick())], 120.0, 60.0)
    boxes = [p for pen, p, closed in block.ink.lines if closed and pen == TABLE and p[2][0] - p[0][0] < 10.0]
    assert [(p[2][0] - p[0][0], p[2][1] - p[0][1]) for p in boxes] == [pytest.approx((3.5, 3.5))] * 2
    said = next(t for t in block.ink.texts if t.text == "yes")
    assert said.at[0] > boxes[0][2][0] + 1.0


def test_weights_share_the_width() -> None:
    """By hand: 1 : 3 of 100 mm are 25 and 75 mm."""
    (block,) = table(("a", "b"), [("1", "2")], 100.0, 60.0, weights=(1.0, 3.0))
    assert [p[0][0] for _, p, c in block.ink.lines if not c and p[0][0] == p[1][0]] == pytest.approx([25.0])
    assert block.wide == pytest.approx(100.0)


def test_columns_follow_their_content() -> None:
    """By hand: all on one line where the room is enough; else the wordy column gets more than the short one, and the
    short one stays on one line."""
    rows = [("A", "hold the web, the wide leg with the slots, under the clamp bar " * 2)] * 4
    (roomy,) = table(("Bend", "What to do"), rows, 390.0, 100.0)
    assert len(cells_of(roomy)) == 5
    assert len(roomy.ink.texts) == 10
    (narrow,) = table(("Bend", "What to do"), rows, 80.0, 200.0)
    edge = next(p[0][0] for _, p, c in narrow.ink.lines if not c and p[0][0] == p[1][0])
    assert edge < 15.0
    assert narrow.wide == pytest.approx(80.0)


def test_one_endless_word_leaves_room_to_the_others() -> None:
    """By hand: the column beside it breaks no word."""
    (block,) = table(("Part", "What to do"), [("W" * 200, "hold the web under the bar")], 100.0, 200.0)
    edge = next(p[0][0] for _, p, c in block.ink.lines if not c and p[0][0] == p[1][0])
    beside = [w for t in block.ink.texts if t.at[0] > edge for w in t.text.split()]
    assert sorted(beside) == sorted(["What", "to", "do", "hold", "the", "web", "under", "the", "bar"])
    assert clashes(block.ink) == []


def test_short_tables_are_no_wider_than_they_need() -> None:
    """By hand: two columns of a letter each do not fill 390 mm."""
    (block,) = table(("a", "b"), [("1", "x")], 390.0, 60.0)
    assert block.wide < 60.0


def test_columns_of_figures_stand_at_the_right() -> None:
    """By hand: the ends of 7.5 and 1250.0 are on one line; words begin on one line."""
    (block,) = table(("Size", "Leg"), [("7.5", "web"), ("1250.0", "rim")], 120.0, 60.0)
    ends = [t.at[0] + text_width(t.text, 2.5) for t in block.ink.texts if t.text in ("7.5", "1250.0")]
    starts = [t.at[0] for t in block.ink.texts if t.text in ("web", "rim")]
    assert ends[0] == pytest.approx(ends[1])
    assert starts[0] == pytest.approx(starts[1])


def test_every_block_says_that_it_goes_on() -> None:
    """By hand."""
    blocks = table(("n",), [(str(n),) for n in range(60)], 60.0, 60.0, title="Openings")
    assert lines_of(blocks[0])[0] == "Openings"
    assert {lines_of(b)[0] for b in blocks[1:]} == {"Openings (continued)"}


@pytest.mark.parametrize(
    ("heads", "rows", "wide", "tall", "said"),
    [
        (("a", "b"), [("1",)], 100.0, 100.0, "cells"),
        (tuple("abcdefghij"), [tuple("abcdefghij")], 60.0, 100.0, "do not fit"),
        (("a",), [("1",)], 60.0, 8.0, "left for the row"),
    ],
)
def test_a_table_that_cannot_be_is_refused(heads: Any, rows: Any, wide: float, tall: float, said: str) -> None:
    """Brief: a wrong argument from code is a ValueError."""
    with pytest.raises(ValueError, match=said):
        table(heads, rows, wide, tall)


def test_nothing_gives_no_block() -> None:
    """By hand."""
    assert table(("a",), [], 60.0, 60.0) == ()
    assert paragraphs("Cautions", ["", "  "], 60.0, 60.0) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_any_text_is_whole_and_clear(seed: int) -> None:
    """shapely: no letter on another, all within the block. Read down the columns, every word is there, in order."""
    rng = random.Random(1000 + seed)
    columns, marks = rng.randint(1, 3), rng.choice(["none", "numbers", "boxes"])
    wide, tall = rng.uniform(columns * 40.0, 390.0), rng.uniform(30.0, 240.0)
    texts = [said_in(anything(rng)) for _ in range(rng.randint(1, 40))]
    blocks = paragraphs(rng.choice(["", "Cautions"]), texts, wide, tall, columns, marks=marks)
    pitch, read = (wide + 6.0) / columns, ""
    for block in blocks:
        assert block.tall <= tall + 1e-6
        assert clashes(block.ink, (-0.2, -0.2, block.wide + 0.2, block.tall + 0.2)) == []
        body = [t for t in block.ink.texts if t.height == 2.5]
        in_column = [[t for t in body if int((t.at[0] + 1.0) / pitch) == k] for k in range(columns)]
        for column in in_column:
            indent = max((t.at[0] for t in column), default=0.0)
            words = [t for t in column if marks != "numbers" or t.at[0] > indent - 1e-6]
            read += "".join(bare(t.text) for t in sorted(words, key=lambda t: -t.at[1]))
    assert read == "".join(bare(safe_text(t)) for t in texts)


def test_columns_end_alike() -> None:
    """By hand: six texts of one line in two columns are three and three, and in three columns two each."""
    texts = [f"line {n}" for n in range(6)]
    for columns in (2, 3):
        (block,) = paragraphs("", texts, 200.0, 200.0, columns)
        lefts = [t.at[0] for t in block.ink.texts]
        assert [lefts.count(x) for x in sorted(set(lefts))] == [6 // columns] * columns


def test_numbers_count_the_texts() -> None:
    """By hand: 1 to 12 in order, their ends on one line."""
    (block,) = paragraphs("Steps", ["bend"] * 12, 100.0, 200.0, marks="numbers")
    numbers = [t for t in block.ink.texts if t.text.isdigit()]
    assert [t.text for t in numbers] == [str(n) for n in range(1, 13)]
    assert numbers[0].at[0] + text_width("1", 2.5) == pytest.approx(numbers[11].at[0] + text_width("12", 2.5))


@pytest.mark.parametrize("text", HOSTILE)
def test_lines_are_never_longer_than_their_room(text: str) -> None:
    """Widths as the typeface measures them."""
    for room in (8.0, 40.0, 176.0):
        lines = wrap_text(safe_text(text), room, 2.5)
        assert bare("".join(lines)) == bare(safe_text(text))
        assert all(text_width(x, 2.5) <= room for x in lines)
        assert text_width(shorten(safe_text(text), room, 2.5), 2.5) <= room
        few = wrap_text(safe_text(text), room, 2.5, 2)
        assert len(few) <= 2
        assert (few == lines) or few[-1].endswith("…")
