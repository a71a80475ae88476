"""Where labels and leaders stand, judged by shapely from the texts and lines in the document."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely  # noqa: TID253

from flatgen.core.flat_pattern import FlatPattern
from flatgen.definition.part import bends_upright
from flatgen.paper.drawing import Notes, flat_document, labels, surround
from flatgen.paper.drawing import labels as leaders
from flatgen.paper.drawing import text as paper
from flatgen.paper.drawing.document import flat_layout
from tests.paper.drawing.drawn_samples import (
    NOTES,
    SAMPLES,
    bend,
    chain,
    channel,
    dense,
    polygon,
    random_chain,
    tiny,
    tray,
)

CASES = {**SAMPLES, **{f"random {seed}": random_chain(seed) for seed in range(30)}}


def boxes(doc: Any) -> list[tuple[str, Any, float]]:
    """Content, box and direction of every text in a document."""
    found = []
    for e in doc.modelspace().query("TEXT"):
        text, at = e.plain_text(), (e.dxf.insert.x, e.dxf.insert.y)
        corners = paper.Text(text, at, e.dxf.height, e.dxf.rotation).box
        found.append((text, shapely.Polygon(corners), e.dxf.rotation))
    return found


def strokes(doc: Any) -> list[Any]:
    found = doc.modelspace().query("LINE[layer=='LABELS']")
    return [shapely.LineString([(e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)]) for e in found]


@pytest.mark.parametrize("name", CASES)
def test_no_lettering_touches_a_cut_a_bend_or_other_lettering(name: str) -> None:
    flat = CASES[name]
    doc = flat_document(flat, NOTES)
    outline = shapely.Polygon(flat.outline.points(0.02))
    sheet = shapely.Polygon(outline.exterior, [o.points(0.02) for o in flat.openings])
    lines = [shapely.LineString(p) for b in flat.bends for s in b.segments for p in (s.centre, *s.tangents)]
    lettered = boxes(doc)
    for text, box, turn in lettered:
        assert sheet.contains_properly(box) or outline.disjoint(box), text
        assert not any(box.intersects(line) for line in lines), text
        assert -90 < turn <= 90 + 1e-6, text
    areas = [box for _, box, _ in lettered]
    first, second = shapely.STRtree(areas).query(areas, predicate="intersects")
    assert [(lettered[a][0], lettered[b][0]) for a, b in zip(first, second, strict=True) if a < b] == []
    holes = [shapely.Polygon(o.points(0.02)) for o in flat.openings]
    for stroke in strokes(doc):
        assert outline.disjoint(stroke) or any(hole.contains_properly(stroke) for hole in holes)
        assert not any(box.intersects(stroke) for box in areas)


@pytest.mark.parametrize("name", CASES)
def test_every_bend_has_its_label_nearest_to_its_own_line(name: str) -> None:
    flat = CASES[name]
    doc = flat_document(flat, NOTES)
    outline = shapely.Polygon(flat.outline.points(0.02))
    lines = [shapely.LineString(b.centre) for b in flat.bends]
    for index, b in enumerate(flat.bends):
        side = b.way
        mine = [(t, box) for t, box, _ in boxes(doc) if t.split()[0] == b.label and f" {side} " in t]
        assert len(mine) == 1, b.label
        text, box = mine[0]
        assert f"{b.angle:g}°" in text
        if outline.contains(box):
            nearest = min(range(len(lines)), key=lambda i: lines[i].distance(box))
            assert nearest == index


@pytest.mark.parametrize("name", CASES)
def test_leaders_begin_at_their_bend_and_never_cross(name: str) -> None:
    flat = CASES[name]
    ground_height = paper.lettering_height(flat)
    led = led_out(flat)
    assert led.lost == ()
    assert len(led.layout.texts) == len(flat.bends)
    if not flat.bends:
        return
    runs = [shapely.LineString([s.start, s.end]) for s in led.layout.strokes]
    first, second = shapely.STRtree(runs).query(runs, predicate="crosses")
    assert len(first) == 0, (first, second)
    ends = [shapely.Point(p) for b in flat.bends for p in b.centre]
    starts = [s.start for s in led.layout.strokes]
    for start in starts:
        joint = any(start == s.end for s in led.layout.strokes)
        near = min(p.distance(shapely.Point(start)) for p in ends)
        assert joint or 0.0 < near < 0.5 * ground_height


def led_out(flat: FlatPattern) -> leaders.OutsideLabels:
    """All labels of a flat led out, also those that would find room inside."""
    wanted = {i: (b, labels.bend_text(b, "short", False)) for i, b in enumerate(flat.bends)}
    return leaders.lead_out(wanted, flat.box, labels.Ground.of(flat), paper.lettering_height(flat))


def test_a_bend_in_a_closed_pocket_is_listed_with_its_ends() -> None:
    """A ring of sheet around a bend: no leader can leave, so the notes say where the bend line lies."""
    short = bend(((50.0, 40.0), (50.0, 44.0)), 1.0, label="Q")
    outline = polygon((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
    hole = polygon((48.0, 38.0), (48.0, 46.0), (52.0, 46.0), (52.0, 38.0))
    flat = FlatPattern(1.0, outline, (hole,), chain([2.0, 2.0], [1.0], 4.0).panels, (short,))
    said = [t.text for t in flat_layout(flat, NOTES).texts]
    assert [t for t in said if t.startswith("Q") and "from (50 mm, 40 mm)" in t]


def test_dense_bends_are_led_out_in_order_and_evenly() -> None:
    led = led_out(dense())
    places = [t.at[0] for t in sorted(led.layout.texts, key=lambda t: t.text.split()[0])]
    steps = [b - a for a, b in pairwise(places)]
    assert min(steps) == pytest.approx(max(steps))
    assert min(steps) >= 1.6 * led.layout.texts[0].height


def test_spread_is_the_least_squares_answer() -> None:
    """Against a search by hand: 0, 1, 9 with distance 2 -> -0.5, 1.5, 9."""
    assert leaders.spread([0.0, 1.0, 9.0], 2.0) == pytest.approx([-0.5, 1.5, 9.0])
    assert leaders.spread([0.0, 0.0, 0.0], 3.0) == pytest.approx([-3.0, 0.0, 3.0])
    assert leaders.spread([], 3.0) == []


def test_all_labels_of_a_channel_stand_inside_in_one_form_and_height() -> None:
    flat = channel()
    doc = flat_document(flat, NOTES)
    found = [e for e in doc.modelspace().query("TEXT") if "bend up" in e.plain_text() or "bend down" in e.plain_text()]
    inside = [e for e in found if "radius" in e.plain_text()]
    assert [e.plain_text()[0] for e in inside] == ["A", "B"]
    assert len({e.dxf.height for e in inside}) == 1
    assert {"lip", "web", "flange"} <= {t for t, _, _ in boxes(doc)}
    assert any("order 2" in e.plain_text() for e in inside)


def test_a_tree_turned_to_any_angle_keeps_its_labels_off_the_lines() -> None:
    for degrees in (7.0, 33.0, 90.0, 151.0):
        a = math.radians(degrees)
        move = np.array([[math.cos(a), -math.sin(a), 0], [math.sin(a), math.cos(a), 0], [0, 0, 1.0]])
        flat = turned(tray(8.0), move)
        outline = shapely.Polygon(flat.outline.points(0.02))
        doc = flat_document(flat, NOTES)
        lines = [shapely.LineString(p) for b in flat.bends for p in (b.centre, *b.tangents)]
        for text, box, _ in boxes(doc):
            assert outline.contains_properly(box) or outline.disjoint(box), text
            assert not any(box.intersects(line) for line in lines), text
        assert not any(outline.intersects(s) for s in strokes(doc))


def turned(flat: FlatPattern, move: Any) -> FlatPattern:
    """A flat turned about the origin, then set back so that its box begins at (0, 0)."""
    x0, y0, _, _ = flat.outline.moved(move).box()
    move = move.copy()
    move[:2, 2] = (-x0, -y0)

    def at(p: Any) -> Any:
        x, y = move[:2, :2] @ p + move[:2, 2]
        return (float(x), float(y))

    bends = tuple(
        bend((at(b.centre[0]), at(b.centre[1])), b.allowance, label=b.label, way=b.way, second=b.second)
        for b in flat.bends
    )
    panels = tuple(type(p)(p.outline.moved(move), (), p.placed, p.name) for p in flat.panels)
    return FlatPattern(1.0, flat.outline.moved(move), (), panels, bends)


def test_notes_are_whole_and_left_aligned_below_everything() -> None:
    notes = Notes("A title", ("word " * 60 + "end",), ("mind the leaf",))
    flat = tiny()
    layout = flat_layout(flat, notes)
    title = next(t for t in layout.texts if t.text == "A title")
    below = [t for t in layout.texts if t.at[1] < title.at[1] and t.at[0] == title.at[0]]
    assert " ".join(t.text for t in below).count("word") == 60
    assert any(t.text == "Caution: mind the leaf" for t in below)
    assert all(t.height < title.height for t in below)
    others = [t for t in layout.texts if t not in below and t is not title and t.at[0] == title.at[0]]
    assert all(t.at[1] > title.at[1] for t in others)


@pytest.mark.parametrize("name", CASES)
def test_dimension_lines_and_leaders_keep_clear_of_each_other(name: str) -> None:
    flat = CASES[name]
    led = led_out(flat)
    layout, both = surround.overall_sizes(flat, paper.lettering_height(flat), led)
    assert len(layout.texts) == (2 if both else len(layout.arrows) // 2)
    figures = [shapely.Polygon(t.box) for t in led.layout.texts]
    leading = [shapely.LineString((s.start, s.end)) for s in led.layout.strokes]
    for n, stroke in enumerate(layout.strokes):
        ours = shapely.LineString((stroke.start, stroke.end))
        assert not any(ours.intersects(f) for f in figures)
        extension = n % 3 < 2  # of a tree one may cross a leader, where nothing else finds room
        assert (extension and not bends_upright(flat)) or not any(ours.intersects(s) for s in leading)


def test_sizes_without_a_free_edge_go_into_the_notes() -> None:
    led = leaders.OutsideLabels(paper.Layout(), frozenset(("below", "above")), ())
    layout, both = surround.overall_sizes(channel(), 5.0, led)
    assert not both
    assert [t.text for t in layout.texts] == ["320 mm (12.598 in)"]
    doc = flat_document(SAMPLES["flat dense"], NOTES)
    said = [t for t, _, _ in boxes(doc)]
    assert any("10 mm (0.394 in)" in t for t in said)


def test_ground_refuses_what_lies_on_a_line_an_opening_or_the_edge() -> None:
    """The pierced flat: bend A at x = 62 (tangent lines 60, 64), a hole of radius 8 about (20, 100)."""
    ground = labels.Ground.of(SAMPLES["pierced"])
    asked = {
        "clear": (30.0, 20.0, 50.0, 30.0),
        "on the bend line": (61.0, 20.0, 63.0, 30.0),
        "on a tangent line": (63.0, 20.0, 70.0, 30.0),
        "in the hole": (18.0, 98.0, 22.0, 102.0),
        "over the edge": (-1.0, 50.0, 5.0, 60.0),
        "in the cut corner": (0.5, 0.5, 3.0, 3.0),
    }
    free = ground.free(np.array([shapely.box(*corners) for corners in asked.values()]))
    assert dict(zip(asked, free.tolist(), strict=True)) == {name: name == "clear" for name in asked}
