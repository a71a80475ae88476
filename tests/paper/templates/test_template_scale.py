"""True scale, measured on pages rendered at 300 dots per inch: check bars, and the edge of blanks across joints."""

from __future__ import annotations

import functools
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.templates.furniture import BAR_BAND, LEFT, MARGIN
from flatgen.paper.templates.template import Template, lay_out_template, template_pages, template_pdf
from flatgen.paper.templates.tiles import Tile
from tests.demo_parts import demo_result as demo
from tests.paper.drawing.drawn_samples import chain
from tests.paper.templates.rasters import Pages
from tests.paper.templates.template_parts import Plain

PAPERS = ("A4", "Letter", "A3", "roll:150")
TRUE = 0.1
"""What the issue allows [mm]."""


@functools.cache
def blank() -> FlatPattern:
    """A plain rectangle of 330 x 460 mm, no bend, larger than all of the papers (self)."""
    return chain([330.0], [], 460.0)


@functools.cache
def made(paper: str, scale: tuple[float, float] = (100.0, 100.0)) -> tuple[Template, Pages]:
    asked = {"paper": parse_paper(paper)}
    laid = lay_out_template(Plain(), blank(), None, (), **asked)  # type: ignore[arg-type]
    data = template_pdf(Plain(), blank(), None, (), **asked, printer_scale=scale)  # type: ignore[arg-type]
    return laid, Pages(data)


def spot(laid: Template, tile: Tile, x: float, y: float) -> tuple[float, float]:
    """Where a place of the template ought to lie on its page [mm]."""
    at, window = laid.frame.at, tile.window
    return (at[0] + x - window[0], at[1] + y - window[1])


@pytest.mark.parametrize("paper", PAPERS)
def test_check_bars_measure_what_they_say(paper: str) -> None:
    """100 mm and 4 in = 101.6 mm, on every page, both ways."""
    laid, seen = made(paper)
    across, up = MARGIN + 2.0, MARGIN + LEFT / 2 - 1.0
    low = laid.frame.at[1] + 1.0
    assert len(seen.ink) > 1
    for page in range(len(seen.ink)):
        level = MARGIN + BAR_BAND / 2
        zero = seen.line(page, (across, level + 2), "x")
        assert seen.line(page, (across + 100, level + 2), "x") - zero == pytest.approx(100.0, abs=TRUE)
        assert seen.line(page, (across + 101.6, level - 2), "x") - zero == pytest.approx(101.6, abs=TRUE)
        zero = seen.line(page, (up - 2, low), "y", 0.8)
        assert seen.line(page, (up - 2, low + 100), "y", 0.6) - zero == pytest.approx(100.0, abs=TRUE)
        assert seen.line(page, (up + 2, low + 101.6), "y", 0.6) - zero == pytest.approx(101.6, abs=TRUE)


@pytest.mark.parametrize("paper", PAPERS)
def test_ten_outline_points_across_joints(paper: str) -> None:
    """Points of the edge on every page that shows them, and the same from a register mark that both pages of a joint
    show: what the mark joins is as wide and as long as the blank."""
    laid, seen = made(paper)
    face = laid.faces[0]
    flat = face.scene.subject.flat
    found = 0
    for page, tile in enumerate(face.tiling.tiles):
        for x, y, along in edge_places(flat, tile):
            at = spot(laid, tile, x, y)
            measured = seen.line(page, at, along)
            assert measured == pytest.approx(at[0 if along == "x" else 1], abs=TRUE)
            found += 1
    assert found >= 10


def edge_places(flat: FlatPattern, tile: Tile) -> list[tuple[float, float, Any]]:
    """Places of the blank's edge well within a window, away from its corners and joints."""
    x0, y0, x1, y1 = tile.window
    found: list[tuple[float, float, Any]] = []
    for x in (0.0, flat.width):
        if x0 + 0.6 < x < x1 - 0.6:
            found += [(x, y, "x") for k in range(1, 24) if y0 + 12 < (y := flat.length * k / 24) < y1 - 12]
    for y in (0.0, flat.length):
        if y0 + 0.6 < y < y1 - 0.6:
            found += [(x, y, "y") for k in range(1, 24) if x0 + 12 < (x := flat.width * k / 24) < x1 - 12]
    corners = [(x, y) for x in (0.0, flat.width) for y in (0.0, flat.length)]
    return [f for f in found if all(abs(f[0] - c[0]) + abs(f[1] - c[1]) > 10 for c in corners)]


@pytest.mark.parametrize("paper", PAPERS)
def test_what_register_marks_join_is_the_blank(paper: str) -> None:
    """From one edge to a mark on one page, from the same mark to the next on the next page, and so on: the size."""
    laid, seen = made(paper)
    tiling, flat = laid.faces[0].tiling, laid.faces[0].scene.subject.flat
    joined = 0
    for axis, size, begin, end in ((0, flat.width, "left", "right"), (1, flat.length, "below", "above")):
        lines: dict[int, list[tuple[int, Tile]]] = {}
        for page, tile in enumerate(tiling.tiles):
            lines.setdefault(tile.row if axis == 0 else tile.column, []).append((page, tile))
        for row in lines.values():
            total = 0.0
            for page, tile in row:
                first, last = (joint_or_edge(laid, seen, page, tile, axis, e) for e in (begin, end))
                total += last - first
            joined += len(row) > 1
            assert total == pytest.approx(size, abs=TRUE)
    assert joined


def joint_or_edge(laid: Template, seen: Pages, page: int, tile: Tile, axis: int, edge: Any) -> float:
    """Where a page shows the register mark of a joint, or else the edge of the blank, along an axis [mm]."""
    tiling, flat = laid.faces[0].tiling, laid.faces[0].scene.subject.flat
    way = "xy"[axis]
    if edge in tiling.beside(tile):
        at = tile.core[axis + (2 if edge in ("right", "above") else 0)]
        x, y = next(m for m in tiling.marks if inside(m, tile) and abs(m[axis] - at) < 1e-6)
        beside = (x, y + 3.4) if axis == 0 else (x + 3.4, y)
        return seen.line(page, spot(laid, tile, *beside), way, thick=0.1)  # type: ignore[arg-type]
    at = {"left": 0.0, "below": 0.0, "right": flat.width, "above": flat.length}[edge]
    x, y = next((x, y) for x, y, along in edge_places(flat, tile) if along == way and (x, y)[axis] == at)
    return seen.line(page, spot(laid, tile, x, y), way)  # type: ignore[arg-type]


def inside(mark: tuple[float, float], tile: Tile) -> bool:
    x0, y0, x1, y1 = tile.window
    return x0 < mark[0] < x1 and y0 < mark[1] < y1


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_a_printer_that_is_off_is_corrected(paper: str) -> None:
    """A printer that makes 100.3 of 100 along the narrow side and 99.8 along the other: what it is sent is smaller by
    1.003 and larger by 1 / 0.998, so that the paper shows the truth."""
    scale = (100.3, 99.8)
    laid, seen = made(paper, scale)
    sides = scale[::-1] if laid.frame.landscape else scale
    assert seen.sizes[0] == pytest.approx((laid.frame.wide, laid.frame.tall), abs=1e-3)
    low, left = laid.frame.at[1] + 1.0, MARGIN + LEFT / 2 - 1.0
    level, begin = MARGIN + BAR_BAND / 2, MARGIN + 2.0

    def place(x: float, y: float) -> tuple[float, float]:
        w, h = laid.frame.wide / 2, laid.frame.tall / 2
        return (w + (x - w) * 100 / sides[0], h + (y - h) * 100 / sides[1])

    for page in range(len(seen.ink)):
        zero, end = (seen.line(page, place(begin + s, level + 2), "x") for s in (0, 100))
        assert (end - zero) * sides[0] / 100 == pytest.approx(100.0, abs=TRUE)
        zero, end = (seen.line(page, place(left - 2, low + s), "y", 0.6) for s in (0, 100))
        assert (end - zero) * sides[1] / 100 == pytest.approx(100.0, abs=TRUE)
    tiles = laid.faces[0].tiling.tiles
    for page, tile in enumerate(tiles):
        for x, y, along in edge_places(laid.faces[0].scene.subject.flat, tile)[:4]:
            at = place(*spot(laid, tile, x, y))
            assert seen.line(page, at, along) == pytest.approx(at[0 if along == "x" else 1], abs=TRUE)


def test_a_scale_that_no_printer_has_is_refused() -> None:
    with pytest.raises(InputRefused, match="FG005") as refused:
        template_pdf(Plain(), blank(), None, (), paper=parse_paper("A4"), printer_scale=(100.0, 10.0))  # type: ignore[arg-type]
    assert "10 of 100 in y" in str(refused.value)
    with pytest.raises(InputRefused):
        template_pdf(Plain(), blank(), None, (), paper=parse_paper("A4"), printer_scale=(float("nan"), 100.0))  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "Tabloid", "roll:610"])
@pytest.mark.parametrize("name", ["roof-rail", "switch-panel"])
def test_pages_have_the_size_of_the_paper(name: str, paper: str) -> None:
    m = demo(name)
    size = parse_paper(paper)
    laid = lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=size)
    for page in template_pages(laid):
        if size.long is None:
            assert page.wide == size.narrow
        else:
            assert sorted((page.wide, page.tall)) == [size.narrow, size.long]


def test_fewest_sheets() -> None:
    """By hand: 330 x 460 mm fits on one sheet of A2 (420 x 594 mm); a strip of 150 x 250 mm on one of A4; one of
    250 x 150 mm on one of A4 if turned or the paper is; a roll takes a strip as long as a page can be."""
    cases = (
        ("A2", chain([330.0], [], 460.0), 1),
        ("A4", chain([150.0], [], 220.0), 1),
        ("A4", chain([220.0], [], 130.0), 1),
    )
    for paper, flat, number in (
        *cases,
        ("roll:150", chain([40.0], [], 4000.0), 1),
        ("roll:150", chain([4000.0], [], 40.0), 1),
    ):
        laid = lay_out_template(Plain(), flat, None, (), paper=parse_paper(paper))  # type: ignore[arg-type]
        assert len(laid.faces[0].tiling.tiles) == number
