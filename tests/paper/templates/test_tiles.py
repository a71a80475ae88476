"""Tiles by plane geometry: cover, overlap, register marks, diagonals."""

from __future__ import annotations

import math
import random

import pytest
import shapely  # noqa: TID253

from flatgen.core.flat_pattern import Line, Loop
from flatgen.paper.templates import tiles
from flatgen.paper.templates.tiles import OVERLAP, Frame, Tiling
from tests.paper.drawing.drawn_samples import polygon, tray


def metal_of(seed: int) -> tuple[shapely.Polygon, random.Random]:
    """A blank of a few corners with openings, from a hand's width to 2 m."""
    dice = random.Random(seed)
    reach = 10 ** dice.uniform(1.5, 3.3)
    aspect = dice.uniform(0.05, 1.0)
    turns = sorted(dice.uniform(0, 2 * math.pi) for _ in range(dice.randint(5, 14)))
    points = [(reach * math.cos(t) * dice.uniform(0.3, 1), aspect * reach * math.sin(t)) for t in turns]
    shape = shapely.Polygon(points).buffer(1.0)
    x0, y0, x1, y1 = shape.bounds
    hole = shapely.box(x0 + (x1 - x0) * 0.3, y0 + (y1 - y0) * 0.3, x0 + (x1 - x0) * 0.7, y0 + (y1 - y0) * 0.7)
    return (shape.difference(hole) if dice.random() < 0.4 else shape), dice


def laid(seed: int) -> tuple[Tiling, Frame, shapely.Polygon]:
    shape, dice = metal_of(seed)
    room = dice.choice(((176.0, 230.0), (263.0, 150.0), (263.0, 350.0), (380.0, 4900.0)))
    frame = Frame(room[0] + 40, room[1] + 70, (20.0, 50.0), room)
    share = (dice.random(), dice.random())
    return tiles.add_marks(tiles.tile_box(frame, shape.bounds, shape, share)), frame, shape


def check_cover(seed: int) -> None:
    tiling, frame, shape = laid(seed)
    cores = [shapely.box(*t.core) for t in tiling.tiles]
    windows = {(t.row, t.column): shapely.box(*t.window) for t in tiling.tiles}
    rest = shape.difference(shapely.union_all([c.buffer(1e-7) for c in cores]))
    assert rest.area < 1e-6
    assert sum(c.intersection(shape).area for c in cores) == pytest.approx(shape.area, rel=1e-9)
    assert all(c.intersects(shape) for c in cores), "an empty sheet"
    for tile in tiling.tiles:
        x0, y0, x1, y1 = tile.window
        assert (x1 - x0, y1 - y0) == pytest.approx(frame.room, abs=1e-6)
        assert windows[tile.row, tile.column].buffer(1e-6).covers(shapely.box(*tile.core))
        for edge, other in tiling.beside(tile).items():
            shared = windows[tile.row, tile.column].intersection(windows[other.row, other.column]).bounds
            deep = (shared[2] - shared[0]) if edge in ("left", "right") else (shared[3] - shared[1])
            assert deep == pytest.approx(OVERLAP, abs=1e-6)
            marks = [
                m for m in tiling.marks if shapely.Point(m).distance(shapely.LineString(tiles.joint(tile, edge))) < 1e-6
            ]
            both = [m for m in marks if _within(m, tile.window) and _within(m, other.window)]
            assert len(both) >= 2, "register marks of a joint stand on both sheets"


def _within(point: tuple[float, float], box: tuple[float, float, float, float]) -> bool:
    return box[0] < point[0] < box[2] and box[1] < point[1] < box[3]


@pytest.mark.parametrize("seed", range(30))
def test_sheets_cover_the_metal_once_and_overlap(seed: int) -> None:
    check_cover(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 300))
def test_sheets_cover_the_metal_once_and_overlap_all(seed: int) -> None:
    check_cover(seed)


@pytest.mark.parametrize("seed", range(30))
def test_far_sheets_are_the_near_ones_seen_from_behind(seed: int) -> None:
    """By hand: what lies at x on one face lies at width - x on the other."""
    tiling, _, _ = laid(seed)
    width = 123.0
    far = tiles.mirror(tiling, width)
    assert sorted((round(width - x, 6), round(y, 6)) for x, y in far.marks) == sorted(
        (round(x, 6), round(y, 6)) for x, y in tiling.marks
    )
    assert {(t.row, tiling.columns + 1 - t.column) for t in far.tiles} == {(t.row, t.column) for t in tiling.tiles}
    near = {(t.row, t.column): t for t in tiling.tiles}
    for tile in far.tiles:
        x0, y0, x1, y1 = near[tile.row, tiling.columns + 1 - tile.column].window
        assert tile.window == pytest.approx((width - x1, y0, width - x0, y1))


def test_a_sheet_within_a_large_opening_is_left_out() -> None:
    """By hand: a frame of 3 x 3 sheets whose middle one shows nothing."""
    frame = Frame(140.0, 140.0, (20.0, 20.0), (100.0, 100.0))
    shape = shapely.box(0, 0, 260, 260).difference(shapely.box(70, 70, 190, 190))
    tiling = tiles.tile_box(frame, shape.bounds, shape)
    assert (tiling.rows, tiling.columns, len(tiling.tiles)) == (3, 3, 8)
    assert (2, 2) not in {(t.row, t.column) for t in tiling.tiles}


def test_joints_lie_in_the_middle_of_overlaps() -> None:
    """By hand: windows of 100 mm from 0 and from 80 overlap from 80 to 100; the joint is at 90."""
    frame = Frame(140.0, 140.0, (20.0, 20.0), (100.0, 100.0))
    tiling = tiles.tile_box(frame, (0.0, 0.0, 180.0, 50.0), shapely.box(0, 0, 180, 50), (0.0, 0.0))
    first, second = tiling.tiles
    assert (first.window[2], second.window[0]) == (100.0, 80.0)
    assert first.core[2] == second.core[0] == 90.0


def test_register_marks_step_aside_for_lettering() -> None:
    frame = Frame(140.0, 240.0, (20.0, 20.0), (100.0, 200.0))
    tiling = tiles.tile_box(frame, (0.0, 0.0, 180.0, 200.0), shapely.box(0, 0, 180, 200), (0.0, 0.0))
    plain = tiles.add_marks(tiling).marks
    label = shapely.Point(plain[0]).buffer(5.0)
    moved = tiles.add_marks(tiling, label).marks
    assert shapely.Point(plain[0]).distance(label) == 0.0
    assert min(shapely.Point(m).distance(label) for m in moved) > tiles.MARK


def test_diagonals_by_hand() -> None:
    """A rectangle of 300 x 400: 500 mm both ways (3, 4, 5). A blank with its corners cut off has its own."""
    first, second = tiles.diagonals(polygon((0.0, 0.0), (300.0, 0.0), (300.0, 400.0), (0.0, 400.0)))
    assert math.dist(*first) == math.dist(*second) == 500.0
    outline = tray().outline
    ends = {p.start for p in outline if isinstance(p, Line)}
    for pair in tiles.diagonals(outline):
        assert set(pair) <= ends
        assert math.dist(*pair) > 0.8 * max(outline.box()[2] - outline.box()[0], outline.box()[3] - outline.box()[1])


def test_windows_narrower_than_their_overlap_are_refused() -> None:
    with pytest.raises(ValueError, match="overlap"):
        tiles.window_count(100.0, OVERLAP)


def test_round_blanks_have_diagonals_too() -> None:
    from flatgen.core.flat_pattern import Arc

    first, second = tiles.diagonals(Loop((Arc((50.0, 50.0), 50.0, 0.0, 360.0),)))
    assert math.dist(*first) == pytest.approx(100.0, abs=1.0)
    assert math.dist(*second) == pytest.approx(100.0, abs=1.0)
