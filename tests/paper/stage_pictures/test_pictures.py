"""Pictures of stages: lettering clear of everything, line types that say what lines mean, true scale."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from flatgen.paper.drawing import recording as svg_paths
from flatgen.paper.drawing import text as paper
from flatgen.paper.drawing.ink import LONG_DASHED
from flatgen.paper.drawing.writers import dxf_bytes
from flatgen.paper.stage_pictures import words as stage_words
from flatgen.paper.stage_pictures.pictures import StagePicture, sheet_document, stage_document, svg_bytes
from flatgen.paper.stage_pictures.view import windows
from tests.paper.stage_pictures.stage_samples import PARTS, pictures, roomy

ALL = [(name, on) for name in PARTS for on in ("home", "roomy")]


@pytest.fixture(scope="module")
def drawn() -> dict[tuple[str, str], tuple[StagePicture, ...]]:
    """All samples on both brakes."""
    return {(n, b): pictures(n, roomy() if b == "roomy" else None) for n, b in ALL}


def boxes_of(doc: Any) -> list[tuple[str, Any]]:
    """Lettering with the rectangles of its letters [mm]."""
    from shapely import Polygon

    found = []
    for text in doc.modelspace().query("TEXT"):
        said = text.dxf.text.replace("%%d", "°").replace("^ ", "^")
        corners = paper.Text(said, tuple(text.dxf.insert)[:2], text.dxf.height).box
        found.append((said, Polygon(corners).buffer(-0.05)))
    return found


def lines_of(doc: Any) -> list[Any]:
    """All that is drawn besides lettering."""
    from shapely import LineString, Point, Polygon

    space, found = doc.modelspace(), []
    for line in space.query("LINE"):
        found.append(LineString([tuple(line.dxf.start)[:2], tuple(line.dxf.end)[:2]]))
    for poly in space.query("LWPOLYLINE"):
        points = [(p[0], p[1]) for p in poly.get_points()]
        found.append(LineString([*points, points[0]] if poly.closed else points))
    for ring in space.query("CIRCLE"):
        found.append(Point(tuple(ring.dxf.center)[:2]).buffer(ring.dxf.radius).exterior)
    for solid in space.query("SOLID"):
        found.append(Polygon([tuple(solid.dxf.vtx0)[:2], tuple(solid.dxf.vtx1)[:2], tuple(solid.dxf.vtx2)[:2]]))
    return found


@pytest.mark.parametrize("case", ALL)
def test_lettering_is_tall_enough_and_touches_nothing(case: tuple[str, str], drawn: dict[Any, Any]) -> None:
    """shapely: no letters on a line, an arrow, a hatching or on other letters; 2.5 mm and more (issue, ISO 3098)."""
    from shapely import STRtree

    for doc in [*(stage_document(p) for p in drawn[case]), sheet_document(drawn[case], "Roof")]:
        texts, lines = boxes_of(doc), lines_of(doc)
        assert min(t.dxf.height for t in doc.modelspace().query("TEXT")) >= 2.5
        tree = STRtree(lines)
        hit = {said for said, area in texts for k in tree.query(area, "intersects") if k is not None}
        assert not hit
        among = STRtree([a for _, a in texts])
        pairs = [
            (texts[i][0], texts[k][0]) for i, (_, a) in enumerate(texts) for k in among.query(a, "intersects") if k > i
        ]
        assert not pairs


@pytest.mark.parametrize("case", ALL)
def test_every_bend_has_its_letter_or_is_told_as_left_out(case: tuple[str, str], drawn: dict[Any, Any]) -> None:
    """By hand: each letter once in the moment before, with its mark; this bend in both moments."""
    for picture in drawn[case]:
        doc = stage_document(picture)
        said = Counter(t for t, _ in boxes_of(doc))
        for mark in picture.scene.before.marks:
            letter = stage_words.letter(mark.label, mark.state)
            key = 1 if letter in ("A", "(A)") else 0
            least = {"now": 2, "made": 2, "later": 1}[mark.state]
            told = any("no room in the picture" in t for t in said)
            assert told or least + (key if letter == "(A)" else 2 * key if mark.label == "A" else 0) == said[letter]


def test_line_types_say_what_lines_mean(drawn: dict[Any, Any]) -> None:
    """ISO 128-2: metal wide, lifted bar narrow dashed, what moves narrow long-dashed double-dotted."""
    doc = stage_document(drawn["hat", "home"][0])
    layers = {x.dxf.name: x for x in doc.layers}
    assert layers["METAL"].dxf.lineweight == 2 * layers["BRAKE"].dxf.lineweight
    assert (layers["LIFTED"].dxf.linetype, layers["MOVED"].dxf.linetype) == ("FLAT_DASHED", LONG_DASHED)
    used = Counter(e.dxf.layer for e in doc.modelspace())
    assert all(used[n] for n in ("METAL", "BRAKE", "HATCHING", "LIFTED", "MOVED", "SIZES", "LETTERS"))
    assert not doc.audit().errors


def test_the_sheet_has_every_stage_once(drawn: dict[Any, Any]) -> None:
    """By hand: one heading per stage, one key, the title."""
    stages = drawn["hat", "home"]
    said = Counter(t for t, _ in boxes_of(sheet_document(stages, "Rail hat")))
    assert [said[stage_words.title(p.facts)] for p in stages] == [1] * 4
    assert (said["Rail hat"], said[stage_words.BEFORE], said["brake, cut through"]) == (1, 4, 1)
    with pytest.raises(ValueError, match="without a stage"):
        sheet_document([])


def test_a_refused_stage_is_ringed_and_says_why(drawn: dict[Any, Any]) -> None:
    """A stage that cannot be, at the moment of touching: a ring, the reason, no way out."""
    picture = next(p for pictures in drawn.values() for p in pictures if p.facts.refused and p.scene.fails)
    doc = stage_document(picture)
    said = [t for t, _ in boxes_of(doc)]
    assert stage_words.TOUCHES in said
    assert any(t.startswith("Cannot be") for t in said)
    assert [e.dxf.layer for e in doc.modelspace().query("CIRCLE")].count("RING") == 1
    assert any(t.startswith("It fails here") for t in said)


def test_little_room_is_marked_by_words_and_a_ring(drawn: dict[Any, Any]) -> None:
    """Same picture with and without the mark: the value has "under 2", a ring and a caution only with it."""
    picture = next(p for p in drawn["hat", "home"] if p.facts.close)
    plain = replace(picture, facts=replace(picture.facts, close=False))
    for one, marked in ((picture, True), (plain, False)):
        doc = stage_document(one)
        said = [t for t, _ in boxes_of(doc)]
        assert ("RING" in [e.dxf.layer for e in doc.modelspace().query("CIRCLE")]) is marked
        assert any(t.endswith("mm, under 2") for t in said) is marked
        assert ("Caution:" in said) is marked


def test_a_wide_panel_is_cut_short_so_that_its_lips_stay_readable(drawn: dict[Any, Any]) -> None:
    """By hand: 600 mm at 1 : 1 would be six times as wide as the picture; its 10 mm lip is drawn 10 mm long or more."""
    doc = stage_document(drawn["panel", "home"][1])
    (told,) = [t for t, _ in boxes_of(doc) if "scale" in t]
    assert told == "20 mm, scale 1 : 1"
    assert doc.header["$EXTMAX"][0] < 300


def test_the_scale_bar_is_true(drawn: dict[Any, Any]) -> None:
    """By hand: length on paper x scale = what it says, for every picture."""
    for stages in drawn.values():
        for picture in stages:
            doc = stage_document(picture)
            (told,) = [t for t in doc.modelspace().query("TEXT") if "scale" in t.dxf.text]
            found = re.fullmatch(r"(\d+) mm, scale ([\d.]+) : ([\d.]+)", told.dxf.text)
            assert found
            size, one, two = (float(g) for g in found.groups())
            bar = told.dxf.insert.x - 3.0
            assert bar * two / one == pytest.approx(size, rel=0.01)


def test_a_leg_that_leans_is_not_cut() -> None:
    """By hand: 400 mm of metal at 45 degrees are 284 / 4 + 20 mm wide at 1 : 4; level they are cut at 1 : 1."""
    level = ((0.0, 0.0), (400.0, 0.0), (400.0, 1.0), (0.0, 1.0))
    lean = ((0.0, 0.0), (283.0, 283.0), (282.3, 283.7), (-0.7, 0.7))
    (flat,) = windows([(level, level)], 94.0, 100.0)
    (tilted,) = windows([(lean, lean)], 94.0, 100.0)
    assert len(flat.x.kept) == 2
    assert flat.scale == 1.0
    assert len(tilted.x.kept) == len(tilted.y.kept) == 1
    assert tilted.scale == pytest.approx(0.25)
    assert tilted.place((141.0, 141.0)) is not None
    assert flat.place((200.0, 0.5)) is None


def test_hatching_fills_what_is_cut_through_and_nothing_else() -> None:
    """shapely: lines 3 mm apart in a triangle: each inside, their length times 3 about its area (800 mm2)."""
    from shapely import LineString, Polygon

    triangle = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0))
    (window,) = windows([(triangle, triangle)], 200.0, 200.0)
    lines = window.hatching((triangle,), 1.0, 3.0)
    paper_triangle = Polygon([window.place(p) for p in triangle])
    assert all(paper_triangle.buffer(1e-6).contains(LineString(p)) for p in lines)
    total = sum(LineString(p).length for p in lines)
    assert total * 3.0 == pytest.approx(paper_triangle.area, rel=0.1)


def test_strange_names_stay_text(drawn: dict[Any, Any]) -> None:
    """By hand: codes are set apart, what is too long is shortened or wrapped, nothing leaves the column."""
    from shapely import box

    picture = drawn["zed", "home"][0]
    strange = replace(picture.facts, held="50%%d" + "W" * 200, swung="a\nb\\U+00B0", move="x" * 300, setup="Träger 折")
    doc = stage_document(replace(picture, facts=strange))
    said = [t.dxf.text for t in doc.modelspace().query("TEXT")]
    assert not any("%%%" in t or "50%%" in t or "\n" in t for t in said)
    wide = doc.header["$EXTMAX"][0]
    frame = box(-0.1, -0.1, wide + 0.1, doc.header["$EXTMAX"][1] + 0.1)
    assert all(frame.contains(a) for _, a in boxes_of(doc))
    assert not doc.audit().errors


def test_the_same_picture_gives_the_same_bytes(drawn: dict[Any, Any]) -> None:
    """Repeatable output; SVG page is the drawing with margins of 10 mm."""
    picture = drawn["zed", "home"][0]
    one, two = stage_document(picture), stage_document(pictures("zed")[0])
    assert svg_bytes(one) == svg_bytes(two)
    assert dxf_bytes(one) == dxf_bytes(two)
    head = svg_bytes(one)[:400].decode()
    found = re.search(r'width="([\d.]+)mm"', head)
    assert found
    assert float(found.group(1)) <= one.header["$EXTMAX"][0] + 20.5


def test_paths_are_those_of_the_library(drawn: dict[Any, Any]) -> None:
    """ezdxf: its own renderer writes the same paths, character for character."""
    from ezdxf.addons.drawing import Frontend, RenderContext, layout
    from ezdxf.addons.drawing.svg import SVGBackend

    doc = stage_document(drawn["zed", "home"][0])
    page = layout.Page(0, 0, layout.Units.mm)
    said = []
    for one in (SVGBackend(), svg_paths.svg_backend()):
        Frontend(RenderContext(doc), one).draw_layout(doc.modelspace())
        said.append(one.get_string(page))
    assert said[0] == said[1]
