"""Lettering of templates: nothing overlaps, everything is labelled and readable, strange text is shown as it is."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from dataclasses import replace
from typing import Any

import pytest
import shapely  # noqa: TID253

from flatgen.core.errors import InputRefused
from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.drawing.text import Text
from flatgen.paper.templates import words
from flatgen.paper.templates.furniture import MARGIN
from flatgen.paper.templates.template import Template, lay_out_template, template_pdf
from tests.demo_parts import demo_result as demo
from tests.paper.drawing.drawn_samples import SAMPLES, chain
from tests.paper.templates.template_parts import DEMOS, Plain, random_flat
from tests.places import PROFILES

LEAST = 2.5
HOSTILE = (
    "<b>&amp;</b> %%d %%100 \\P \\U+0041 {\\H9;x}",
    "Träger 折り曲げ \u202ereversed\u202c 🔩 \x07",
    "w" * 300,
    "%" * 60,
)


def texts_of(doc: Any) -> list[tuple[str, Any, float]]:
    """Text, the rectangle that it fills, and its height."""
    found = []
    for e in doc.modelspace().query("TEXT"):
        text = Text(e.plain_text(), (e.dxf.insert.x, e.dxf.insert.y), e.dxf.height, e.dxf.rotation)
        found.append((text.text, shapely.Polygon(text.box), text.height))
    return found


def lines_of(doc: Any, but: tuple[str, ...] = ()) -> list[Any]:
    found = [e for e in doc.modelspace().query("LINE") if e.dxf.layer not in but]
    return [shapely.LineString([(e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)]) for e in found]


def check(laid: Template) -> None:
    """Nothing overlaps, on the drawings of the faces and on the furniture."""
    for face in laid.faces:
        lettered = texts_of(face.doc)
        boxes = [b for _, b, _ in lettered]
        apart(lettered, boxes)
        assert min((h for *_, h in lettered), default=LEAST) >= LEAST - 1e-9
        tree = shapely.STRtree(boxes) if boxes else None
        for line in lines_of(face.doc):
            assert tree is None or not len(tree.query(line, predicate="intersects"))
        blank = shapely.Polygon(face.scene.subject.flat.outline.points(0.01))
        edges = [shapely.box(*t.window).exterior for t in face.tiling.tiles] if len(face.tiling.tiles) > 1 else []
        rings = [
            shapely.Point(e.dxf.center.x, e.dxf.center.y).buffer(e.dxf.radius)
            for e in face.doc.modelspace().query("CIRCLE[layer=='LABELS']")
        ]
        for box in boxes:
            assert not any(box.intersects(ring) for ring in rings), "on a register mark or a corner"
            assert not (blank.contains(box) and any(box.intersects(edge) for edge in edges)), "cut off on a sheet"
            assert any(shapely.box(*t.window).covers(box) for t in face.tiling.tiles), "cut off on every sheet"
        assert not face.lost
    common, *own = laid.furniture
    number = 0
    for face in laid.faces:
        for tile in face.tiling.tiles:
            inks = (common, own[number])
            number += 1
            texts = [(t.text, shapely.Polygon(t.box), t.height) for ink in inks for t in ink.texts]
            boxes = [b for _, b, _ in texts]
            apart(texts, boxes)
            inner = shapely.box(MARGIN, MARGIN, laid.frame.wide - MARGIN, laid.frame.tall - MARGIN)
            window = shapely.box(
                *laid.frame.at, laid.frame.at[0] + laid.frame.room[0], laid.frame.at[1] + laid.frame.room[1]
            )
            for text, box, height in texts:
                assert inner.buffer(1e-6).covers(box), text
                assert not window.buffer(-0.01).intersects(box), text
                assert height >= LEAST
            for ink in inks:
                for _, points, closed in ink.lines:
                    line = shapely.LineString([*points, points[0]] if closed else points)
                    assert not shapely.intersects(line, boxes).any()
                    assert inner.buffer(0.5).covers(line)
            assert tile in face.tiling.tiles


def apart(lettered: list[tuple[str, Any, float]], boxes: list[Any]) -> None:
    if not boxes:
        return
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert [(lettered[a][0], lettered[b][0]) for a, b in zip(first, second, strict=True) if a < b] == []


@pytest.mark.parametrize("faces", [("near",), ("near", "far"), ("far",)])
@pytest.mark.parametrize("paper", ["A4", "A3", "roll:300"])
@pytest.mark.parametrize("name", DEMOS)
def test_nothing_overlaps_on_demo_parts(name: str, paper: str, faces: Any) -> None:
    m = demo(name)
    check(lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper(paper), faces=faces))


@pytest.mark.parametrize("name", SAMPLES)
def test_nothing_overlaps_on_samples(name: str) -> None:
    check(lay_out_template(Plain(), SAMPLES[name], None, (), paper=parse_paper("Letter")))  # type: ignore[arg-type]


def check_random(seed: int) -> None:
    paper = ("A4", "Letter", "A3", "roll:150", "roll:914")[seed % 5]
    faces: Any = (("near",), ("near", "far"))[seed % 2]
    check(lay_out_template(Plain(), random_flat(seed), None, (), paper=parse_paper(paper), faces=faces))  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(30))
def test_nothing_overlaps_on_random_parts(seed: int) -> None:
    check_random(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 300))
def test_nothing_overlaps_on_random_parts_all(seed: int) -> None:
    check_random(seed)


@pytest.mark.parametrize("name", DEMOS)
def test_every_sheet_says_which_line_is_which(name: str) -> None:
    """Order, letter and face of every line on every sheet that shows 60 mm of it, and the held side somewhere."""
    m = demo(name)
    laid = lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"))
    face = laid.faces[0]
    lettered = texts_of(face.doc)
    assert m.schedule is not None
    for stage in m.schedule.stages:
        head = (str(stage.number), stage.crease.label)
        mine = [(t, b) for t, b, _ in lettered if tuple(t.replace("bend ", "").split()[:2]) == head]
        assert all(f" {stage.sight.face}" in text for text, _ in mine)
        leg = stage.crease.side(stage.sight.held).leg
        assert any(f"hold {m.part.leg_name(leg)}" in text for text, _ in mine)
        line = next(x for x in face.scene.subject.lines if x.bend.label == stage.crease.label)
        for tile in face.tiling.tiles:
            core = shapely.box(*tile.core)
            shown = sum(shapely.LineString(s).intersection(core).length for s in line.stretches)
            assert shown < 60 or any(core.covers(box) for _, box in mine)


def test_near_and_far_lines_differ_without_colour() -> None:
    m = demo("roof-rail")
    laid = lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"), faces=("near", "far"))
    near, far = laid.faces
    kinds = {layer: near.doc.layers.get(layer).dxf.linetype for layer in (document.SIGHT_NEAR, document.SIGHT_FAR)}
    assert kinds == {document.SIGHT_NEAR: document.CONTINUOUS, document.SIGHT_FAR: document.DASHED}
    assert {e.dxf.layer for e in far.doc.modelspace().query("LINE")} >= {document.SIGHT_FAR}
    assert document.SIGHT_NEAR not in {e.dxf.layer for e in far.doc.modelspace()}


def test_the_far_template_is_mirrored_and_its_lettering_is_not() -> None:
    """By hand: what lies at x on the near face lies at width - x on the far one; marks and corners too."""
    m = demo("roof-rail")
    laid = lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"), faces=("near", "far"))
    near, far = laid.faces
    width = near.scene.subject.flat.width
    for x, y in near.tiling.marks:
        assert any(abs(width - x - u) < 1e-6 and abs(y - v) < 1e-6 for u, v in far.tiling.marks)
    assert len(near.tiling.marks) == len(far.tiling.marks) > 0
    places = {f.scene.subject.face: sight_places(f.doc) for f in laid.faces}
    assert sorted(round(width - x, 6) for x in places["near"]) == sorted(round(x, 6) for x in places["far"])
    corners = [{t: b.centroid for t, b, _ in texts_of(f.doc) if t.startswith("corner")} for f in laid.faces]
    for letter in "abcd":
        one, other = (c[f"corner {letter}"] for c in corners)
        assert (one.x < width / 2) != (other.x < width / 2)
        assert abs(one.y - other.y) < 40
    assert len(far.tiling.tiles) == len(near.tiling.tiles)
    texts = {t for t, *_ in texts_of(far.doc)}
    assert any("left lip" in t for t in texts)
    assert all(e.dxf.get("text_generation_flag", 0) == 0 for e in far.doc.modelspace().query("TEXT"))


def sight_places(doc: Any) -> list[float]:
    return [e.dxf.start.x for e in doc.modelspace().query("LINE") if e.dxf.layer == document.SIGHT_FAR]


def test_a_face_without_lines_is_left_out() -> None:
    m = demo("pier-saddle")
    laid = lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"), faces=("near", "far"))
    assert [f.scene.subject.face for f in laid.faces] == ["near"]


def said(laid: Template) -> str:
    return " ".join(t.text for t in laid.furniture[0].texts).replace("\u00a0", " ")


def test_what_a_tiled_template_says() -> None:
    """By hand: 340 mm, the diagonal of 300 x 160 mm."""
    flat = chain([300.0], [], 160.0)
    laid = lay_out_template(Plain(), flat, None, (), paper=parse_paper("A4"))  # type: ignore[arg-type]
    assert len(laid.faces[0].tiling.tiles) > 1
    text = said(laid)
    assert "Read first: print at 100 %" in text
    for size in ("300 mm", "160 mm", "340 mm"):
        assert size in text
    assert "ordinates" not in text
    long = said(lay_out_template(Plain(), chain([60.0], [], 1100.0), None, (), paper=parse_paper("A4")))  # type: ignore[arg-type]
    assert "ordinates" in long
    inch = said(lay_out_template(Plain(), flat, None, (), paper=parse_paper("A4"), inches=True))  # type: ignore[arg-type]
    assert "11.811 in" in inch


def test_every_sheet_says_which_it_is_and_what_is_glued_where() -> None:
    laid = lay_out_template(Plain(), chain([330.0], [], 460.0), None, (), paper=parse_paper("A4"))  # type: ignore[arg-type]
    tiling = laid.faces[0].tiling
    for ink, tile in zip(laid.furniture[1:], tiling.tiles, strict=True):
        texts = [t.text for t in ink.texts]
        assert any(words.place(tile.row, tile.column) in t for t in texts)
        others = tiling.beside(tile)
        glued = [others[e] for e in ("right", "above") if e in others]
        assert sum("glue" in t for t in texts) == len(glued)
        for other in glued:
            assert any(f"row {other.row} column {other.column}" in t for t in texts)
        assert sum(t == words.CUT for t in texts) == sum(e in others for e in ("left", "below"))
        both = [*laid.furniture[0].lines, *ink.lines]
        assert sum(pen == "MAP" for pen, *_ in both) == len(tiling.tiles)
        assert sum(pen == "THIS_SHEET" for pen, *_ in ink.lines) == 1


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("paper", ["A4", "roll:150"])
def test_strange_text_is_shown_as_it_is(text: str, paper: str) -> None:
    flat = chain([40.0, 60.0, 30.0], [3.0, 3.0], 120.0, names={0: text, 1: text, 2: text})
    part = Plain(name=text, title=text, metal_text=text)
    check(laid := lay_out_template(part, flat, None, (), paper=parse_paper(paper)))  # type: ignore[arg-type]
    shown = "".join(t.text for t in laid.furniture[0].texts).replace(" ", "").replace("\u00a0", "")
    if text == "w" * 300:
        assert "wwwwwwww" in shown
        assert "…" in shown
    elif text.startswith("<b>"):
        for piece in ("<b>&amp;</b>", "%%d", "%%100", "\\P", "{\\H9;x}"):
            assert piece in shown
    assert "\x07" not in shown
    assert "\u202e" not in shown
    for face in laid.faces:
        assert not face.doc.audit().errors
    assert template_pdf(part, flat, None, (), paper=parse_paper(paper)).startswith(b"%PDF")  # type: ignore[arg-type]


def test_the_same_part_gives_the_same_bytes() -> None:
    m = demo("switch-panel")
    first, second = (template_pdf(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4")) for _ in range(2))
    assert first == second


def test_a_refused_order_is_told() -> None:
    m = demo("roof-rail")
    assert m.schedule is not None
    refused = replace(m.schedule, state="refused")
    laid = lay_out_template(m.part, m.flat, refused, m.findings, paper=parse_paper("A4"))
    assert "CANNOT be bent" in said(laid)
    assert "CANNOT" not in said(lay_out_template(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4")))


def test_works_where_no_typefaces_are_installed(tmp_path: Any) -> None:
    """A home without settings or caches, and no folder of typefaces that ezdxf could find."""
    script = textwrap.dedent(
        f"""
        import sys
        from pathlib import Path
        from flatgen.jobs import draw as job
        from flatgen.jobs.result import Options
        from flatgen.paper.drawing.ink import parse_paper
        options = Options(kinds=("json",))
        m = job.draw(Path({str(PROFILES / "roof-rail.toml")!r}), {str(tmp_path / "out")!r}, options)
        from flatgen.paper.templates.template import template_pdf
        from ezdxf.fonts import fonts
        assert len(fonts.font_manager._font_cache) <= 1
        data = template_pdf(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"))
        sys.stdout.buffer.write(data)
        """
    )
    empty = tmp_path / "home"
    empty.mkdir()
    places = {k: str(empty) for k in ("HOME", "XDG_DATA_HOME", "XDG_DATA_DIRS", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")}
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, env={**os.environ, **places}, check=False)
    assert ran.returncode == 0, ran.stderr.decode()
    m = demo("roof-rail")
    assert ran.stdout == template_pdf(m.part, m.flat, m.schedule, m.findings, paper=parse_paper("A4"))


def test_no_paper_is_told() -> None:
    with pytest.raises(InputRefused, match="FG005"):
        parse_paper("A9")
