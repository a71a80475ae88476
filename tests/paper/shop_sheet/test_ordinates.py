"""The flat with ordinates. Which places there are is worked out here from the flat alone, by ways of its own.

Corners come from the pieces of the edge, centres from bounding boxes of sampled edges, lines from the ends of bends and
from the schedule's own numbers. Figures are read back as exact fractions.
"""

from __future__ import annotations

import math
import random
import re
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Loop, leg_panels
from flatgen.jobs import draw as job
from flatgen.jobs.result import Options
from flatgen.openings.judge import judge_part
from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import Block, ink_document
from flatgen.paper.pages.frame import CENTRE, EXTENSION, PENS
from flatgen.paper.shop_sheet import flat_words as words
from flatgen.paper.shop_sheet.flat_layout import FlatContent, Layout, flat_content, layouts, leader
from flatgen.paper.shop_sheet.flat_view import SAMPLE, drawing_block, flat_blocks
from flatgen.paper.shop_sheet.ordinates import (
    corner_cells,
    corners,
    figure,
    has_corners,
    line_cells,
    opening_cells,
    size_figure,
)
from flatgen.paper.shop_sheet.words import SheetUnit
from tests.opened_sections import opened_part
from tests.paper.drawing.drawn_samples import SAMPLES, chain, circle, random_chain, slot
from tests.paper.overlaps import clashes
from tests.paper.shop_sheet.sheet_parts import random_part, tray

SEEDS = [n if n < 30 else pytest.param(n, marks=pytest.mark.thorough) for n in range(300)]
ROOMS = ((267.0, 150.0), (390.0, 220.0), (180.0, 200.0))
UNITS: tuple[SheetUnit, ...] = ("mm", "in", "in/64")
HALF = {
    "mm": Fraction(5, 100),
    "in": Fraction(5, 10000) * Fraction(254, 10),
    "in/64": Fraction(5, 10000) * Fraction(254, 10),
}
"""Half of the last digit [mm]."""
PROFILES = ("cable-tray", "eave-angle", "pier-channel", "pier-saddle", "ridge-strut", "roof-rail", "switch-panel")


@dataclass(frozen=True)
class Plain:
    """A part with no more than what the drawing asks of one."""

    source: None = None

    def leg_name(self, leg: int) -> str | None:
        return None

    def leg_text(self, leg: int) -> str:
        return f"leg {leg + 1}"


def read(text: str, unit: SheetUnit) -> Fraction:
    """A figure as an exact length [mm]."""
    if unit == "mm":
        return Fraction(text)
    if unit == "in":
        return Fraction(text) * Fraction(254, 10)
    found = re.fullmatch(r"(-?)(?:(\d+)(?: |$))?(?:(\d+/\d+))?(?: ?([+-]\d\.\d+))?", text)
    assert found, text
    sign = -1 if found[1] else 1
    inches = sign * (int(found[2] or 0) + Fraction(found[3] or 0)) + Fraction(found[4] or 0)
    return inches * Fraction(254, 10)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (0.0, "mm", "0"), (45.04, "mm", "45"), (45.06, "mm", "45.1"), (-0.01, "mm", "0"), (1270.0, "mm", "1270"),
        (25.4, "in", "1"), (82.25, "in", "3.238"), (12.7, "in", "0.5"),
        (25.4, "in/64", "1"), (12.7, "in/64", "1/2"), (4.7625, "in/64", "3/16"), (0.0, "in/64", "0"),
        (82.25, "in/64", "3 15/64 +0.004"), (1.0, "in/64", "3/64 -0.008"), (-12.7, "in/64", "-1/2"),
    ],
)  # fmt: skip
def test_figures_by_hand(value: float, unit: SheetUnit, said: str) -> None:
    """By hand: 1 mm = 0.03937 in, 3/64 = 0.046875, difference -0.0075; 82.25 mm = 3.23819 in = 3 15/64 + 0.0038."""
    assert figure(value, unit) == said


@pytest.mark.parametrize("unit", UNITS)
def test_figures_read_back_within_half_of_the_last_digit(unit: SheetUnit) -> None:
    dice = random.Random(f"figures {unit}")
    for _ in range(3000):
        value = dice.choice((dice.uniform(-40, 40), dice.uniform(0, 4000), dice.randint(0, 9000) * 25.4 / 64))
        assert abs(read(figure(value, unit), unit) - Fraction(value)) <= HALF[unit] + Fraction(1, 10**9)


def test_a_drill_is_told_to_a_thousandth() -> None:
    """A number 30 drill is 0.1285 in = 3.264 mm (drill tables, from memory)."""
    assert (size_figure(3.2639, "mm"), size_figure(3.2639, "in")) == ("3.264", "0.129")


@cache
def demo(name: str) -> job.DefinitionResult:
    """A demo profile, drawn with the schedule of the demo shop."""
    with tempfile.TemporaryDirectory() as folder:
        made = job.draw(Path("profiles") / f"{name}.toml", Path(folder), Options(kinds=("json",)))
    assert isinstance(made, job.DefinitionResult)
    return made


def worst(seed: int) -> FlatPattern:
    """Flats that are hard to draw: up to 16 bends, 200 openings, 4 m long, 30 mm wide, legs of 0.4 mm."""
    dice = random.Random(f"worst {seed}")
    bends = dice.choice((0, 1, 3, 8, 16))
    wide, long = dice.choice((30.0, 120.0, 700.0)), dice.choice((30.0, 300.0, 4000.0))
    allowances = [dice.uniform(0.3, 0.5) * wide / (bends + 1) for _ in range(bends)]
    flats = [dice.choice((0.4, dice.uniform(0.1, 0.5) * wide / (bends + 1))) for _ in range(bends + 1)]
    flats[0] = max(flats[0], 0.2 * wide)
    holes: list[Loop] = []
    columns, rows = dice.choice(((0, 0), (1, 3), (2, 10), (1, 40), (5, 40)))
    for i in range(columns):
        for j in range(rows):
            x = flats[0] * (i + 0.5) / columns + dice.choice((0.0, 0.4)) * 0.1
            y = long * (j + 0.5) / rows
            most = 0.35 * min(flats[0] / columns, long / rows)
            holes.append(circle(x, y, most) if dice.random() < 0.8 else slot(x, y, 0.5 * most, 0.4 * most))
    return chain(flats, allowances, long, tuple(holes))


def sample(seed: int, folder: Any) -> tuple[Any, FlatPattern, Any]:
    """A random part with its flat and openings."""
    kind = seed % 4
    if kind == 0:
        return Plain(), worst(seed), None
    if kind == 1:
        return Plain(), random_chain(seed), None
    if kind == 2:
        part, flat = random_part(seed)
        return part, flat, None
    made = opened_part(seed, folder)
    return made.profile, made.made.flat, judge_part(made.profile, made.made.flat, leg_panels(made.made.flat))


def best(shown: FlatContent, wide: float, tall: float) -> tuple[Layout, Block]:
    """The layout that is taken, with its drawing."""
    for laid in layouts(shown, wide, tall):
        block = drawing_block(shown, laid, wide)
        if block.tall <= tall + 1e-6:
            return laid, block
    raise AssertionError("no layout fits")


def centres(flat: FlatPattern) -> list[tuple[float, float]]:
    """Middles of the openings' extents, sampled."""
    import shapely

    boxes = [shapely.Polygon(o.points(1e-5)).bounds for o in flat.openings]
    return [((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in boxes]


def true_places(flat: FlatPattern, schedule: Any) -> dict[str, list[set[float]]]:
    """Places in x and in y by what they are of."""
    import shapely

    found: dict[str, list[set[float]]] = {k: [set(), set()] for k in ("corner", "bend", "sight", "opening")}
    for piece in flat.outline:
        if piece.length > 1e-6:
            for axis in (0, 1):
                found["corner"][axis].add(piece.start[axis])
    bounds = shapely.Polygon(flat.outline.points(1e-5)).bounds
    for axis in (0, 1):
        found["corner"][axis] |= {bounds[axis], bounds[axis + 2]}
    for bend in flat.bends:
        (x0, y0), (x1, y1) = bend.centre
        if abs(x0 - x1) > 1e-6:
            found["bend"][1] |= {y0, y1}
        if abs(y0 - y1) > 1e-6:
            found["bend"][0] |= {x0, x1}
    for stage in schedule.stages if schedule else ():
        assert stage.crease.across == pytest.approx((1.0, 0.0), abs=1e-9)
        found["sight"][0].add(stage.sight.from_datum)
    for x, y in centres(flat):
        found["opening"][0].add(x)
        found["opening"][1].add(y)
    return found


def figures_of(laid: Layout, unit: SheetUnit) -> list[list[Fraction]]:
    """Figures at the edges in x and in y, read back."""
    found: list[list[Fraction]] = [[], []]
    for side in laid.sides:
        axis = 0 if (side.name in ("below", "above")) != laid.placing.turned else 1
        found[axis] += [read(e.text.split("  ")[0], unit) for e in side.entries]
    return found


def near(value: float, some: Iterable[Fraction], unit: SheetUnit, slack: float = 2e-5) -> bool:
    return any(abs(Fraction(value) - f) <= HALF[unit] + Fraction(slack) for f in some)


def check_places(shown: FlatContent, laid: Layout, unit: SheetUnit) -> None:
    """What is drawn and tabled is what there is: nothing more, and nothing less without a word."""
    flat = shown.flat
    drawn, true = figures_of(laid, unit), true_places(flat, shown.schedule)
    every = [set().union(*(t[axis] for t in true.values())) for axis in (0, 1)]
    for axis in (0, 1):
        assert all(
            near(value, [f], unit) for f in drawn[axis] for value in [min(every[axis], key=lambda v: abs(v - f))]
        )
        assert len(set(drawn[axis])) == len(drawn[axis])  # each figure once
    rows = opening_cells(flat, shown.rows, unit)
    for axis in (0, 1):
        tabled = [read(row[1 + axis], unit) for row in rows]
        assert len(tabled) == len(flat.openings)
        assert all(near(c[axis], tabled, unit) for c in centres(flat))
    listed = [[read(row[1 + axis], unit) for row in corner_cells(flat, unit)] for axis in (0, 1)]
    crowded = [[read(o.figure, unit) for o in laid.crowded if o.axis == axis] for axis in (0, 1)]
    shown_kinds = {
        0: {"corner", "bend", "sight", "opening"},
        1: {"corner", "bend", "sight"},
        2: {"bend", "sight"},
        3: set(),
    }
    for kind, places in true.items():
        for axis in (0, 1):
            for value in places[axis]:
                there = near(value, drawn[axis], unit)
                if kind in shown_kinds[laid.level] and laid.placing.along(axis, value) is not None:
                    assert there or (kind in ("corner", "opening") and near(value, crowded[axis], unit)), (kind, value)
                if kind == "corner" and not there:
                    assert has_corners(flat)
                    assert near(value, listed[axis], unit)


def check_lines(laid: Layout, block: Block) -> None:
    """No leader crosses another, nor an extension line another; shapely's own predicates."""
    import shapely

    for side in laid.sides:
        fan = [shapely.LineString(leader(side, n)) for n in range(len(side.entries))]
        assert not any(a.intersects(b) for a, b in combinations(fan, 2))
    # dimension lines and the strokes on them meet extension lines by their nature; break lines have six points
    levels = {(round(side.level, 6), side.name) for side in laid.sides if side.entries}
    assert levels
    lines = [points for pen, points, _ in block.ink.lines if pen in (EXTENSION, CENTRE) and len(points) in (2, 4)]
    upright = [p for p in lines if len(p) == 2 and abs(p[0][0] - p[1][0]) < 1e-6]
    level = [p for p in lines if len(p) == 2 and abs(p[0][1] - p[1][1]) < 1e-6]
    figures = [t.text.isdigit() and not t.turn for t in block.ink.texts]  # they have no tails under their baseline
    texts = [
        shapely.box(*t.at, t.at[0] + t.width, t.at[1] + t.height) if low else shapely.Polygon(t.box)
        for t, low in zip(block.ink.texts, figures, strict=True)
    ]
    ends = [shapely.Point(p) for points in lines for p in (points[0], points[-1])]
    tree = shapely.STRtree(texts)
    hits = tree.query(ends, predicate="within").T
    assert [(ends[a].wkt, block.ink.texts[b]) for a, b in hits] == []
    marks = {tuple(p) for p in _dimension_lines(laid, upright + level)} | _crosses(lines)
    free = [shapely.LineString(p) for p in upright + level if tuple(p) not in marks]
    pairs = shapely.STRtree(free).query(free, predicate="crosses")
    assert [(free[a].wkt, free[b].wkt) for a, b in pairs.T] == []


def _dimension_lines(laid: Layout, lines: list[Any]) -> list[Any]:
    """Lines as long as the dimension line of a side, which is the longest that ends in its last ordinate."""
    lengths = set()
    for side in laid.sides:
        reach = [abs(e.along - side.origin) for e in side.entries]
        if reach:
            lengths.add(round(max(reach) - 1.0, 6))
    return [p for p in lines if round(math.dist(*p), 6) in lengths]


def _crosses(lines: list[Any]) -> set[Any]:
    """Centre marks: two lines with one middle."""
    by_middle: dict[Any, list[Any]] = {}
    for points in lines:
        if len(points) == 2:
            middle = tuple(round((a + b) / 2, 5) for a, b in zip(*points, strict=True))
            by_middle.setdefault(middle, []).append(tuple(points))
    return {p for some in by_middle.values() if len(some) > 1 for p in some}


def check_blocks(blocks: tuple[Block, ...], wide: float, tall: float) -> None:
    for block in blocks:
        assert block.wide <= wide + 1e-6
        assert block.tall <= tall + 1e-6
        assert clashes(block.ink, (-0.2, -0.2, block.wide + 0.2, block.tall + 0.2)) == []
        assert min(t.height for t in block.ink.texts) >= 2.5


@pytest.mark.parametrize("seed", SEEDS)
def test_random_parts(seed: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    part, flat, openings = sample(seed, tmp_path_factory.mktemp("parts"))
    unit, (wide, tall) = UNITS[seed // 4 % 3], ROOMS[seed // 12 % 3]
    shown = flat_content(part, flat, None, openings, unit)
    laid, block = best(shown, wide, tall)
    blocks = flat_blocks(part, flat, None, openings, wide, tall, unit=unit)
    assert blocks[0] == block
    check_places(shown, laid, unit)
    check_lines(laid, block)
    check_blocks(blocks, wide, tall)


@pytest.mark.parametrize("name", PROFILES)
def test_demo_parts_with_sight_lines(name: str) -> None:
    made = demo(name)
    for unit, (wide, tall) in zip(UNITS, ROOMS, strict=True):
        shown = flat_content(made.part, made.flat, made.schedule, made.openings, unit)
        laid, block = best(shown, wide, tall)
        check_places(shown, laid, unit)
        check_lines(laid, block)
        check_blocks(flat_blocks(made.part, made.flat, made.schedule, made.openings, wide, tall, unit=unit), wide, tall)


@pytest.mark.parametrize("name", PROFILES)
def test_sight_lines_and_bend_lines_never_lie_side_by_side(name: str) -> None:
    """Along each bend the two are apart by a twentieth of its length at least; the sight line carries triangles."""
    made = demo(name)
    shown = flat_content(made.part, made.flat, made.schedule, made.openings, "mm")
    laid, block = best(shown, 267.0, 150.0)
    axis = 0 if laid.placing.turned else 1  # bends of these parts run along y
    spans: dict[str, list[tuple[float, float]]] = {"bend": [], "sight": []}
    for pen, points, _ in block.ink.lines:
        kind = "bend" if pen.startswith("BEND") else "sight" if pen.startswith("SIGHT") else ""
        if (
            kind
            and abs(points[0][1 - axis] - points[-1][1 - axis]) < 1e-6
            and math.dist(*points) > 5.0
            and abs(math.dist(*points) - SAMPLE) > 1e-6
        ):
            low, high = sorted((points[0][axis], points[-1][axis]))
            spans[kind].append((low, high))
    assert spans["bend"]
    assert spans["sight"]
    overlap = [min(b[1], s[1]) - max(b[0], s[0]) for b in spans["bend"] for s in spans["sight"]]
    assert max(overlap) < 0
    lines = [p for pen, p, _ in block.ink.lines if pen.startswith("SIGHT")]
    slanted = [p for p in lines if min(abs(p[0][k] - p[1][k]) for k in (0, 1)) > 0.5]
    assert len(slanted) >= 2 * len(made.flat.bends)


def test_a_tree_has_figures_in_both_ways() -> None:
    """The tray by hand: bend lines at x 22, 126 and y 22, 86; corners at x 0, 24, 124, 148 and y 0, 24, 84, 108."""
    part, flat = tray()
    shown = flat_content(part, flat, None, None, "mm")
    laid, block = best(shown, 390.0, 220.0)
    assert [sorted(map(float, f)) for f in figures_of(laid, "mm")] == [
        [0.0, 22.0, 24.0, 124.0, 126.0, 148.0],
        [0.0, 22.0, 24.0, 84.0, 86.0, 108.0],
    ]
    said = [t.text for t in block.ink.texts]
    assert {"22  bend A", "126  bend B", "22  bend C", "86  bend D"} <= set(said)
    check_lines(laid, block)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_samples_by_hand(name: str) -> None:
    x, y, *_ = SAMPLES[name].box
    flat = SAMPLES[name].moved(np.array([[1.0, 0.0, -x], [0.0, 1.0, -y], [0.0, 0.0, 1.0]]))  # as flats of parts lie
    for wide, tall in ROOMS:
        shown = flat_content(Plain(), flat, None, None, "mm")
        laid, block = best(shown, wide, tall)
        check_places(shown, laid, "mm")
        check_lines(laid, block)
        check_blocks(flat_blocks(Plain(), flat, None, None, wide, tall, unit="mm"), wide, tall)


def test_scales_are_those_of_the_standard() -> None:
    """ISO 5455: enlargements 10:1, 5:1, 2:1, full size, reductions 1:2, 1:5, 1:10 and their tenths (from memory)."""
    scales = {10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100}
    for seed in range(20):
        shown = flat_content(Plain(), random_chain(seed), None, None, "mm")
        laid, block = best(shown, 267.0, 150.0)
        assert laid.placing.scale in scales
        told = f"{laid.placing.scale:g} : 1" if laid.placing.scale > 1 else f"1 : {1 / laid.placing.scale:g}"
        assert any(f"cale {told}" in t.text for t in block.ink.texts)


def test_true_size_on_paper() -> None:
    """Corners of the drawn edge measure the flat times the scale, and the datum corner is marked outside of it."""
    flat = chain([40.0, 30.0], [5.0], 60.0)
    shown = flat_content(Plain(), flat, None, None, "mm")
    laid, block = best(shown, 390.0, 220.0)
    points = [p for pen, line, _ in block.ink.lines if pen == document.OUTLINE for p in line]
    wide, tall = (max(p[k] for p in points) - min(p[k] for p in points) for k in (0, 1))
    sizes = (60.0, 75.0) if laid.placing.turned else (75.0, 60.0)
    assert (wide, tall) == pytest.approx([s * laid.placing.scale for s in sizes])
    corner = (min(p[0] for p in points), (max if laid.placing.turned else min)(p[1] for p in points))
    assert min(math.dist(corner, p) for p in block.ink.solids[0]) < 2.0


def test_what_is_cut_out_is_told() -> None:
    """A rail of 4 m with 200 holes, 30 wide: the holes that are not drawn are named, and all are in the table."""
    holes = tuple(circle(8.0, 10.0 + 20.0 * n, 2.0) for n in range(199))
    flat = chain([16.0, 10.0], [4.0], 4000.0, holes)
    shown = flat_content(Plain(), flat, None, None, "mm")
    laid, block = best(shown, 267.0, 150.0)
    assert laid.placing.anything
    circles = [c for pen, c, _ in block.ink.circles if pen == document.OPENINGS]
    text = " ".join(t.text for t in block.ink.texts)
    found = re.search(r"see the tables: openings (\d+) to (\d+)\.", text)
    assert found
    hidden = int(found[2]) - int(found[1]) + 1
    assert 0 < len(circles) <= 199 - hidden + 1
    cells = {t.text for b in flat_blocks(Plain(), flat, None, None, 267.0, 150.0, unit="mm")[1:] for t in b.ink.texts}
    assert {str(n) for n in range(1, 200)} <= cells
    assert {figure(10.0 + 20.0 * n, "mm") for n in range(199)} <= cells


def test_openings_in_words() -> None:
    """Slot of 42 x 12 by hand: half 15, radius 6; a turned square and a keyhole-like shape are told as such."""
    square = [(100.0, 20.0), (110.0, 30.0), (100.0, 40.0), (90.0, 30.0)]
    turned = Loop(tuple(Line(a, b) for a, b in zip(square[::-1], [*square[-2::-1], square[-1]], strict=True)))
    flat = chain([150.0], [], 60.0, (slot(40.0, 30.0, 15.0, 6.0), turned))
    shown = flat_content(Plain(), flat, None, None, "mm")
    slotted, square_row = opening_cells(flat, shown.rows, "mm")
    assert slotted[1:4] == ("40", "30", "slot 42 x 12")
    assert square_row[1:3] == ("100", "30")
    assert square_row[3] in ("rectangle 14.142 x 14.142, turned 45°", "rectangle 14.142 x 14.142, turned -45°")


def test_corners_go_round_the_edge_from_the_datum_corner() -> None:
    flat = SAMPLES["pierced"]
    found = corners(flat)
    assert len(found) == len(flat.outline.pieces)
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(found, found[1:] + found[:1], strict=True))
    assert area > 0  # counter-clockwise
    arcs = [row for row in corner_cells(flat, "mm") if row[3].startswith("arc R 15 about")]
    assert len(arcs) == sum(isinstance(p, Arc) for p in flat.outline)


def test_hostile_labels_are_letters_and_no_commands() -> None:
    flat = SAMPLES["channel"]
    bends = tuple(replace(b, label=said) for b, said in zip(flat.bends, ("%%d\\P<&>", "X" * 300), strict=True))
    blocks = flat_blocks(Plain(), flat.with_bends(bends), None, None, 267.0, 150.0, unit="in/64")
    check_blocks(blocks, 267.0, 150.0)
    said = " ".join(t.text for t in blocks[0].ink.texts)
    assert "% %d" in said
    ink_document(blocks[0].ink, PENS, 267.0, 150.0)


def test_too_little_room_is_refused() -> None:
    with pytest.raises(ValueError, match="finds no room"):
        flat_blocks(Plain(), SAMPLES["channel"], None, None, 40.0, 30.0, unit="mm")


def test_numbers_in_words() -> None:
    assert words.number_ranges([3, 1, 2, 9]) == "1 to 3, 9"


@pytest.mark.parametrize("name", ["roof-rail", "eave-angle", "switch-panel", "pier-saddle"])
@pytest.mark.parametrize("room", ROOMS)
def test_sight_lines_lie_where_the_schedule_says(name: str, room: tuple[float, float]) -> None:
    """Measured on paper from the corner of the drawn edge; the tips of triangles look to the side that is held."""
    made = demo(name)
    assert made.schedule
    laid, block = best(flat_content(made.part, made.flat, made.schedule, made.openings, "mm"), *room)
    turned, scale = laid.placing.turned, laid.placing.scale
    axis = 1 if turned else 0
    edge = [p[axis] for pen, points, _ in block.ink.lines if pen == document.OUTLINE for p in points]

    def x_of(point: tuple[float, float]) -> float:
        return (max(edge) - point[1] if turned else point[0] - min(edge)) / scale

    places = {round(s.sight.from_datum, 4): s for s in made.schedule.stages}
    straight, tips = set(), []
    for pen, points, _ in block.ink.lines:
        if pen.startswith("SIGHT"):
            ends = [round(x_of(p), 4) for p in points]
            level = abs(points[0][1 - axis] - points[1][1 - axis]) < 1e-6
            if ends[0] == ends[1] and not level and ends[0] in places:
                straight.add(ends[0])
                assert pen == f"SIGHT_{places[ends[0]].sight.face.upper()}"
            elif ends[0] != ends[1] and ends[0] in places:
                tips.append((places[ends[0]], ends[1] - ends[0]))
    assert straight == set(places)
    assert {s.number for s, _ in tips} == {s.number for s in made.schedule.stages}
    for stage, beyond in tips:
        assert (beyond < 0) == (stage.sight.held == "first")  # legs are counted from the left


@pytest.mark.parametrize("name", PROFILES)
def test_table_of_lines(name: str) -> None:
    """Bend line in the middle between the tangent lines, which are an allowance apart; sight line by the schedule."""
    made = demo(name)
    assert made.schedule
    for unit in UNITS:
        rows = line_cells(made.part, made.flat, made.schedule, unit)
        assert [row[0] for row in rows] == [s.crease.label for s in made.schedule.stages]
        for row, stage in zip(rows, made.schedule.stages, strict=True):
            bend = next(b for b in made.part.bends if b.label == row[0])
            middle, first, second, sight = (
                float(read(said.strip().removeprefix("x "), unit)) for said in (row[2], *row[3].split(";"), row[5])
            )
            slack = 2.1 * float(HALF[unit])
            assert abs(first - second) == pytest.approx(bend.allowance.length, abs=slack)
            assert (first + second) / 2 == pytest.approx(middle, abs=slack)
            assert sight == pytest.approx(stage.sight.from_datum, abs=float(HALF[unit]) * 1.001)
            assert row[1] == bend.way
            assert row[4] == (str(stage.number) if made.schedule.checked else "–")
            leg = bend.first if stage.sight.held == "first" else bend.second
            assert row[6:] == (f"{stage.sight.face} face", made.part.leg_name(leg) or made.part.leg_text(leg))


def test_a_sight_line_off_the_blank_is_told() -> None:
    made = demo("roof-rail")
    assert made.schedule
    first = made.schedule.stages[0]
    off = replace(first, sight=replace(first.sight, from_datum=-3.0))
    schedule = replace(made.schedule, stages=(off, *made.schedule.stages[1:]))
    blocks = flat_blocks(made.part, made.flat, schedule, made.openings, 267.0, 150.0, unit="mm")
    said = " ".join(t.text for t in blocks[0].ink.texts)
    assert f"sight line of bend {first.crease.label} lies off the blank" in said
    assert "x -3" in [t.text for t in blocks[1].ink.texts]
    check_blocks(blocks, 267.0, 150.0)


@pytest.mark.parametrize("turn", [0.0, 20.0, -30.0])
def test_turned_openings_are_told(turn: float) -> None:
    """A rectangle of 30 x 12 turned by hand: its side nearer to x is named first."""
    half = ((15.0, 6.0), (-15.0, 6.0), (-15.0, -6.0), (15.0, -6.0))
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    points = [(60 + x * cos - y * sin, 40 + x * sin + y * cos) for x, y in half][::-1]
    loop = Loop(tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)))
    flat = chain([120.0], [], 80.0, (loop,))
    row = opening_cells(flat, flat_content(Plain(), flat, None, None, "mm").rows, "mm")[0]
    assert row[:4] == ("1", "60", "40", "rectangle 30 x 12" + (f", turned {turn:g}°" if turn else ""))


@pytest.mark.parametrize("name", PROFILES)
def test_extension_lines_are_told_apart(name: str) -> None:
    """No two that the tables could carry are nearer than 1 mm on paper: two lines and a gap (a choice of ours)."""
    made = demo(name)
    shown = flat_content(made.part, made.flat, made.schedule, made.openings, "mm")
    for laid in layouts(shown, 267.0, 150.0)[:3]:
        for side in laid.sides:
            plain = [e.along for e in side.entries if "bend" not in e.text and "sight" not in e.text]
            every = [e.along for e in side.entries]
            ends = (0.0, side.run)
            near = [
                (a, b) for a in plain for b in every if a != b and abs(a - b) < 1.0 - 1e-9
                and min(abs(a - e) for e in ends) > 1e-6
            ]  # fmt: skip
            assert near == []


@pytest.mark.parametrize("name", ["switch-panel", "ridge-strut", "pier-saddle"])
def test_numbers_stand_at_the_openings_of_the_table(name: str) -> None:
    """The number in the table's row of a place is the one drawn nearest to that place; rows go by x, then y."""
    made = demo(name)
    shown = flat_content(made.part, made.flat, made.schedule, made.openings, "mm")
    laid, block = best(shown, 390.0, 220.0)
    rows = opening_cells(made.flat, shown.rows, "mm")
    places = [(float(row[1]), float(row[2])) for row in rows]
    assert places == sorted(places)
    assert [row[0] for row in rows] == [str(n) for n in range(1, len(rows) + 1)]
    edge = [p for pen, points, _ in block.ink.lines if pen == document.OUTLINE for p in points]
    left, low, high = min(p[0] for p in edge), min(p[1] for p in edge), max(p[1] for p in edge)

    def on_flat(x: float, y: float) -> tuple[float, float]:
        scale = laid.placing.scale
        return (
            ((high - y) / scale, (x - left) / scale) if laid.placing.turned else ((x - left) / scale, (y - low) / scale)
        )

    assert not laid.placing.cut
    figures = {e.text for side in laid.sides for e in side.entries}
    drawn = [t for t in block.ink.texts if t.text.isdigit() and not t.turn and t.text not in figures]
    assert drawn
    boxes = [o.box() for o in made.flat.openings]
    order = sorted(range(len(boxes)), key=lambda n: tuple(round(c, 3) for c in shown.rows[n].measured.centre))
    for text in drawn:
        middle = on_flat(text.at[0] + text.width / 2, text.at[1] + text.height / 2)
        gaps = [math.hypot(*(max(box[k] - middle[k], 0.0, middle[k] - box[2 + k]) for k in (0, 1))) for box in boxes]
        assert order[int(text.text) - 1] == gaps.index(min(gaps))
