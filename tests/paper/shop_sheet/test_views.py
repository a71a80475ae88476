"""Views on paper: arrangement by geometry, sizes said, nothing over anything else, nothing outside its room."""

from __future__ import annotations

import itertools
import math
import random
from pathlib import Path
from typing import Any

import pytest

from flatgen.core.flat_pattern import Arc
from flatgen.definition.reader import read_profile
from flatgen.definition.solid.projection import PartViews, project_views
from flatgen.jobs import draw as job
from flatgen.paper.drawing.ink import Block
from flatgen.paper.pages.frame import HIDDEN, VISIBLE, projection_symbol
from flatgen.paper.shop_sheet.view_ink import extents
from flatgen.paper.shop_sheet.view_words import scale
from flatgen.paper.shop_sheet.views import SCALES, views_block

PROFILES = sorted(p for p in Path("profiles").glob("*.toml") if p.stem != "shop")
Box = tuple[float, float, float, float]


def angle(
    folder: Path, web: float, leg: float, length: float, t: float = 2.0, r: float = 3.0, more: str = ""
) -> PartViews:
    """A channel whose left flange is half as high as its right one."""
    path = folder / "part.toml"
    path.write_text(
        f'metal = "DC01"\nthickness = "{t} mm"\ninside_radius = "{r} mm"\nlength = "{length} mm"\n'
        f'dimensions = "overall"\nsection = [{{ leg = "{leg / 2} mm" }}, {{ bend = 90, way = "up" }}, '
        f'{{ leg = "{web} mm", name = "web" }}, {{ bend = 90, way = "up" }}, {{ leg = "{leg} mm" }}]\n{more}',
        encoding="utf-8",
    )
    made = job.develop_solid(read_profile(path))
    return project_views(made.solid, made.flat)


def outlines(block: Block) -> list[Box]:
    """Boxes of what is drawn in wide lines, joined where they meet; each is a view."""
    boxes: list[Box] = [
        (min(x for x, _ in p), min(y for _, y in p), max(x for x, _ in p), max(y for _, y in p))
        for pen, p, _ in block.ink.lines
        if pen == VISIBLE
    ]
    boxes += [(c[0] - r, c[1] - r, c[0] + r, c[1] + r) for pen, c, r in block.ink.circles if pen == VISIBLE]
    for pen, c, r, first, sweep in block.ink.arcs:
        if pen == VISIBLE:
            arc = [Arc(c, r, first, sweep).at(n / 8) for n in range(9)]
            boxes.append(
                (min(x for x, _ in arc), min(y for _, y in arc), max(x for x, _ in arc), max(y for _, y in arc))
            )
    while True:
        for a, b in itertools.combinations(boxes, 2):
            if a[0] <= b[2] + 0.1 and b[0] <= a[2] + 0.1 and a[1] <= b[3] + 0.1 and b[1] <= a[3] + 0.1:
                boxes = [c for c in boxes if c not in (a, b)]
                boxes.append((min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3])))
                break
        else:
            return boxes


def size(box: Box) -> tuple[float, float]:
    return round(box[2] - box[0], 2), round(box[3] - box[1], 2)


@pytest.mark.parametrize("projection", ["first", "third"])
def test_arrangement_of_a_short_part(projection: Any, tmp_path: Path) -> None:
    """ISO 5456-2 (memory): first angle, the view from above below the front view, the view from the left at its right;
    third angle, the view from above above, the view from the right at its right. Sizes by hand at 1:1: web 60, right
    flange 40, length 50. From the left the lower flange stands before the higher: no edge of it is hidden; from the
    right the lower one is behind: its upper edge at 20 is hidden."""
    block = views_block(angle(tmp_path, 60, 40, 50), 390, 220, projection=projection)
    assert block.ink.texts[-2].text.startswith("Formed part, scale 1:1")
    views = outlines(block)
    front = next(b for b in views if size(b) == (60, 40))
    top = next(b for b in views if size(b) == (60, 50))
    side = next(b for b in views if size(b) == (50, 40))
    assert top[0] == pytest.approx(front[0], abs=0.01)
    assert side[1] == pytest.approx(front[1], abs=0.01)
    assert side[0] > front[2]
    assert (top[1] > front[3]) == (projection == "third")
    assert (top[3] < front[1]) == (projection == "first")
    heights = [
        round(p[0][1] - side[1], 2)
        for pen, p, _ in block.ink.lines
        if pen == HIDDEN and side[0] - 0.1 <= p[0][0] <= side[2] + 0.1 and p[0][1] == pytest.approx(p[1][1])
        and side[1] <= p[0][1] <= side[3]
    ]  # fmt: skip
    assert (20.0 in heights) == (projection == "third")


@pytest.mark.parametrize("projection", ["first", "third"])
def test_arrangement_of_a_long_part(projection: Any, tmp_path: Path) -> None:
    """As above with the length lying: section (view from the left) at the right in first, at the left in third angle.
    At 1:2 by hand: length 400 is 200, web 60 is 30, flange 40 is 20."""
    block = views_block(angle(tmp_path, 60, 40, 400), 390, 220, projection=projection)
    views = outlines(block)
    front = next(b for b in views if size(b) == (200, 20))
    top = next(b for b in views if size(b) == (200, 30))
    section = next(b for b in views if size(b) == (30, 20))
    assert top[0] == pytest.approx(front[0], abs=0.01)
    assert section[1] == pytest.approx(front[1], abs=0.01)
    assert (section[0] > front[2], top[3] < front[1]) == ((True, True) if projection == "first" else (False, False))
    assert (section[2] < front[0], top[1] > front[3]) == ((False, False) if projection == "first" else (True, True))


def test_no_hidden_line_beside_a_visible_one(tmp_path: Path) -> None:
    """ISO 128 (memory): 0.7 mm at least between parallel lines. Sheet of 1 mm at 1:2 leaves 0.5 mm between the far face
    of the web, hidden, and the lower edge: no dashed line there, on neither side of the break, and that is told."""
    block = views_block(angle(tmp_path, 90, 40, 1500, 1.0, 3.0), 267, 150, projection="first")
    assert "Formed part, scale 1:2" in [t.text for t in block.ink.texts]
    assert any("nearer than 0.7 mm" in t.text for t in block.ink.texts)
    level = {p[0][1] for pen, p, _ in block.ink.lines if pen == VISIBLE and p[0][1] == pytest.approx(p[1][1])}
    dashed = [p[0][1] for pen, p, _ in block.ink.lines if pen == HIDDEN and p[0][1] == pytest.approx(p[1][1])]
    assert all(abs(y - other) >= 0.7 - 1e-6 for y in dashed for other in level)


def test_overall_sizes_are_said(tmp_path: Path) -> None:
    """By hand: 60, 40, 400 mm; 2.362, 1.575, 15.748 in (divided by 25.4)."""
    part = angle(tmp_path, 60, 40, 400)
    said = {t.text for t in views_block(part, 267, 150, projection="first").ink.texts}
    assert {"60", "40", "400"} <= said
    said = {t.text for t in views_block(part, 267, 150, projection="first", inches=True).ink.texts}
    assert {"2.362", "1.575", "15.748"} <= said


def test_a_long_rail_is_broken_and_stays_readable(tmp_path: Path) -> None:
    """4 m by 30 mm on A4: at one scale the section would be 1.5 mm wide (1:20). It is drawn at 1:1, the length broken,
    and 4000 is said."""
    block = views_block(angle(tmp_path, 30, 12, 4000, 1.0, 1.5), 267, 150, projection="first")
    texts = [t.text for t in block.ink.texts]
    assert "Formed part, scale 1:1" in texts
    assert "4000" in texts
    assert any("Length broken" in t for t in texts)
    assert (30.0, 12.0) in [size(b) for b in outlines(block)]


def test_a_long_pierced_rail_has_its_section_beside(tmp_path: Path) -> None:
    """Openings every 22 mm leave nothing to cut out: 4 m at 1:20, the section at a scale of its own with its sizes."""
    hole = (
        '[[opening]]\nleg = "web"\nshape = "round"\ndiameter = "5 mm"\nacross = "0 mm"\nacross_from = "middle"\n'
        'along = "20 mm"\nrow_along = { count = 180, pitch = "22 mm" }\n'
    )
    block = views_block(angle(tmp_path, 30, 12, 4000, 1.0, 1.5, hole), 267, 150, projection="first")
    texts = [t.text for t in block.ink.texts]
    assert {"Formed part, scale 1:20", "A", "A (1:1)", "30", "12", "4000"} <= set(texts)
    assert (30.0, 12.0) in [size(b) for b in outlines(block)]


@pytest.mark.parametrize("room", [(267.0, 150.0), (390.0, 220.0), (180.0, 120.0)])
@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_demo_parts_find_room(path: Path, room: tuple[float, float]) -> None:
    made = job.develop_solid(read_profile(path))
    part = project_views(made.solid, made.flat)
    for projection, inches in itertools.product(("first", "third"), (False, True)):
        clear(views_block(part, *room, projection=projection, inches=inches), *room)  # type: ignore[arg-type]


def random_part(seed: int, folder: Path) -> tuple[PartViews, float, float]:
    """Tiny, long, narrow and wide parts, and a room."""
    rng = random.Random(f"views {seed}")
    t = rng.choice([0.4, 0.5, 1.0, 2.0, 4.0])
    least = 5 * t
    web, leg = (least * math.exp(rng.uniform(0.2, math.log(900 / least))) for _ in range(2))
    leg = min(2 * leg, 600.0) + least
    length = math.exp(rng.uniform(math.log(4), math.log(4000)))
    more = ""
    if rng.random() < 0.5 and web > 8 * t + 6 and length > 12:
        count = max(1, min(30, int((length - 6) / 8)))
        more = (
            '[[opening]]\nleg = "web"\nshape = "round"\ndiameter = "2 mm"\nacross = "0 mm"\nacross_from = "middle"\n'
            f'along = "4 mm"\nrow_along = {{ count = {count}, pitch = "{(length - 8) / max(count - 1, 1):.3f} mm" }}\n'
        )
    part = angle(folder, round(web, 1), round(leg, 1), round(length, 1), t, t, more)
    return part, rng.uniform(170, 500), rng.uniform(110, 300)


@pytest.mark.parametrize("seed", range(30))
def test_random_parts_find_room(seed: int, tmp_path: Path) -> None:
    part, wide, tall = random_part(seed, tmp_path)
    clear(views_block(part, wide, tall, projection="third" if seed % 2 else "first", inches=seed % 3 == 0), wide, tall)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 300))
def test_random_parts_find_room_thoroughly(seed: int, tmp_path: Path) -> None:
    part, wide, tall = random_part(seed, tmp_path)
    clear(views_block(part, wide, tall, projection="third" if seed % 2 else "first", inches=seed % 3 == 0), wide, tall)


def clear(block: Block, wide: float, tall: float) -> None:
    """Lettering of 2.5 mm at least, over no line and no other lettering; all of it in the block, that in the room."""
    from shapely import LineString, Point, Polygon, box

    ink = block.ink
    x0, y0, x1, y1 = extents(ink)
    assert x0 >= -1e-6
    assert y0 >= -1e-6
    assert x1 <= block.wide + 1e-6 <= wide + 2e-6
    assert y1 <= block.tall + 1e-6 <= tall + 2e-6
    assert all(t.height >= 2.5 for t in ink.texts)
    said = [(t.text, Polygon(t.box)) for t in ink.texts]
    for (one, a), (two, b) in itertools.combinations(said, 2):
        assert not a.intersects(b), (one, two)
    lines = [LineString([*p, p[0]] if closed else p) for _, p, closed in ink.lines]
    lines += [Point(c).buffer(r).boundary for _, c, r in ink.circles]
    lines += [Polygon(p).boundary for p in ink.solids]
    for _, (x, y), r, first, sweep in ink.arcs:
        turns = [math.radians(first + sweep * n / 12) for n in range(13)]
        lines.append(LineString([(x + r * math.cos(a), y + r * math.sin(a)) for a in turns]))
    for text, shape in said:
        for line in lines:
            assert not line.intersects(shape.buffer(-0.05)), (text, line.wkt[:80])
    views = [box(*b) for b in outlines(block)]
    for a, b in itertools.combinations(views, 2):
        assert not a.intersects(b)


def test_scales_are_those_of_the_standard() -> None:
    """ISO 5455 (memory): 1, 2 and 5 times powers of ten, as reduction 1:x and enlargement x:1."""
    said = [scale(s) for s in SCALES]
    assert {"50:1", "20:1", "10:1", "5:1", "2:1", "1:1", "1:2", "1:5", "1:10", "1:20", "1:50", "1:100"} <= set(said)
    for text in said:
        a, b = (int(v) for v in text.split(":"))
        assert min(a, b) == 1
        assert str(max(a, b)).strip("0") in ("1", "2", "5")


@pytest.mark.parametrize("projection", ["first", "third"])
def test_symbol(projection: Any) -> None:
    """ISO 5456-2 (memory): a truncated cone whose narrow end is at the left, and what is seen from there, two circles:
    at the right of it in first, at its left in third angle. Both ends are as wide as the circles."""
    block = projection_symbol(projection)
    ((_, cone, closed),) = [line for line in block.ink.lines if line[0] == VISIBLE]
    (small, large) = sorted(r for _, _, r in block.ink.circles)
    left, right = min(x for x, _ in cone), max(x for x, _ in cone)
    ends = {x: [y for a, y in cone if a == x] for x in (left, right)}
    assert closed
    assert max(ends[left]) - min(ends[left]) == pytest.approx(2 * small)
    assert max(ends[right]) - min(ends[right]) == pytest.approx(2 * large)
    ((_, centre, _), _) = block.ink.circles
    assert (centre[0] - large > right) == (projection == "first")
    assert (centre[0] + large < left) == (projection == "third")
    x0, y0, x1, y1 = extents(block.ink)
    assert (x0, y0, x1, y1) == pytest.approx((0, 0, block.wide, block.tall))


def test_no_room_at_all(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no room"):
        views_block(angle(tmp_path, 60, 40, 50), 30, 20, projection="first")
