"""Drawings of parts that were received: bends in several directions, numbered legs, forms, many cautions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely  # noqa: TID253

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern, Loop, Panel
from flatgen.definition.part import Source, bends_upright
from flatgen.metal.allowance import GivenK
from flatgen.metal.metals import load_metals
from flatgen.openings.judge import judge_part
from flatgen.paper.drawing import Notes, dxf_bytes, flat_document, labels, surround
from flatgen.paper.drawing import labels as leaders
from flatgen.paper.drawing import text as paper
from flatgen.paper.drawing.document import flat_layout
from flatgen.paper.drawing.facts import flat_notes
from flatgen.unfolding.received.part import ReceivedPart, received_part
from tests.paper.drawing.drawn_samples import NOTES, bend, chain, channel, circle, polygon, slot, tray

SOURCE = Source("parts/bracket.step", "0" * 64, 2, 3, "bracket", 4)


def part_of(flat: FlatPattern, metal: str | None = None) -> ReceivedPart:
    allowances = [GivenK(0.42).allowance(b.angle, b.inside_radius, flat.thickness) for b in flat.bends]
    return received_part("bracket", flat, allowances, load_metals()[metal] if metal else None, 0.42, SOURCE)


def formed() -> FlatPattern:
    """The tray with a dimple, a slotted form, and a hole between them."""
    return replace(tray(), openings=(circle(70.0, 40.0, 4.0),), forms=(circle(40.0, 40.0, 9.0), slot(105, 40, 9, 4)))


def test_forms_stand_on_a_layer_of_their_own_and_in_the_key() -> None:
    doc = flat_document(formed(), NOTES)
    drawn = doc.modelspace().query("*[layer=='FORMS']")
    assert sorted(e.dxftype() for e in drawn) == ["ARC", "ARC", "CIRCLE", "LINE", "LINE"]
    assert len(doc.modelspace().query("CIRCLE[layer=='OPENINGS']")) == 1
    looks = {n: doc.layers.get(n).dxf.linetype for n in ("OUTLINE", "OPENINGS", "BEND_NEAR", "BEND_FAR", "TANGENTS")}
    assert doc.layers.get("FORMS").dxf.linetype not in looks.values()
    texts = [e.plain_text() for e in doc.modelspace().query("TEXT")]
    assert [t for t in texts if "not to be cut" in t]
    auditor = doc.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_forms_are_in_no_file_for_cutting(version: str) -> None:
    doc = flat_document(formed(), NOTES, version=version, cut_only=True)
    assert {e.dxf.layer for e in doc.modelspace()} == {"OUTLINE", "OPENINGS"}
    assert not doc.layers.has_entry("FORMS")
    assert b"FORMS" not in dxf_bytes(doc)


def test_a_part_without_forms_has_no_such_layer() -> None:
    doc = flat_document(tray(), NOTES)
    assert not doc.layers.has_entry("FORMS")
    assert not any("not to be cut" in e.plain_text() for e in doc.modelspace().query("TEXT"))


def test_no_lettering_touches_a_form() -> None:
    """A form where the floor's number and the labels of bends would stand."""
    wide = replace(tray(), forms=(circle(80.0, 50.0, 6.0), circle(80.0, 6.0, 5.0), circle(30.0, 30.0, 20.0)))
    layout = flat_layout(wide, Notes("a", legs=tuple(f"leg {n + 1}" for n in range(6))))
    edges = [shapely.Polygon(f.points(0.02)).exterior for f in wide.forms]
    assert [t.text for t in layout.texts if any(shapely.Polygon(t.box).intersects(e) for e in edges)] == []


def test_lettering_keeps_half_its_height_from_edges_openings_and_forms() -> None:
    """Openings and forms all over the floor and beside its bends, which leave some places and not others."""
    flat = replace(
        tray(),
        openings=tuple(circle(x, y, 3.0) for x in (25.0, 55.0, 95.0, 130.0) for y in (14.0, 62.0, 90.0) if x + y < 200),
        forms=(circle(80.0, 40.0, 17.0),),
    )
    layout = flat_layout(flat, Notes("a", legs=tuple(f"leg {n + 1}" for n in range(6))))
    sheet = shapely.Polygon(flat.outline.points(0.02), [o.points(0.02) for o in flat.openings])
    form = shapely.Polygon(flat.forms[0].points(0.02))
    inside = [t for t in layout.texts if sheet.intersects(shapely.Polygon(t.box))]
    assert len(inside) > 5
    for text in inside:
        letters = shapely.Polygon(text.box)
        assert min(sheet.boundary.distance(letters), form.distance(letters)) >= 0.5 * text.height, text.text


def test_no_number_of_a_leg_stands_within_a_form() -> None:
    """A form as large as half the floor: its middle would be the place, and is none."""
    flat = replace(tray(), forms=(circle(70.0, 55.0, 40.0),))
    bare = replace(flat, panels=tuple(replace(p, name=None) for p in flat.panels))
    layout = flat_layout(bare, Notes("a", legs=tuple(f"leg {n + 1}" for n in range(6))))
    form = shapely.Polygon(flat.forms[0].points(0.02))
    assert [t.text for t in layout.texts if form.intersects(shapely.Polygon(t.box))] == []


def test_a_number_too_small_to_find_is_left_out() -> None:
    """Lettering of 10 mm on a blank of 600 mm, labels of 5 mm: a hem of 8 mm has room for 2.5 mm, and gets none."""
    flat = chain([8.0, 560.0], [4.0], 300.0)
    assert paper.lettering_height(flat) == 10.0
    found = labels.leg_names(flat, labels.Ground.of(flat), 5.0, [], ("leg 1", "leg 2"))
    assert [(t.text, t.height) for t in found] == [("leg 2", 5.0)]


def test_both_sizes_are_drawn_beyond_labels_that_are_led_out_on_all_sides() -> None:
    """A floor with narrow walls on all sides: the labels of the bends leave on every edge."""
    flat = rosette(18, 0.0)
    layout, both = _around(flat)
    assert both
    assert len(layout.arrows) == 4
    led = led_out(flat)
    assert led.edges == {"above", "below", "left", "right"}
    figures = [shapely.Polygon(t.box) for t in led.layout.texts]
    for stroke in layout.strokes:
        assert not any(shapely.LineString((stroke.start, stroke.end)).intersects(f) for f in figures)


def _around(flat: FlatPattern) -> tuple[paper.Layout, bool]:
    return surround.overall_sizes(flat, paper.lettering_height(flat), led_out(flat))


def led_out(flat: FlatPattern) -> leaders.OutsideLabels:
    """All labels of a flat led out, also those that would find room inside."""
    wanted = {i: (b, labels.bend_text(b, "short", False)) for i, b in enumerate(flat.bends)}
    return leaders.lead_out(wanted, flat.box, labels.Ground.of(flat), paper.lettering_height(flat))


def test_what_the_typeface_lacks_is_a_question_mark() -> None:
    texts = [t.text for t in flat_layout(tray(), Notes("Träger 折り曲げ Ω", ("部品 A",))).texts]
    assert {"Träger ???? Ω", "?? A"} <= set(texts)


def test_several_slots_and_rectangles_are_told_as_several() -> None:
    flat = replace(tray(), openings=(slot(40.0, 40.0, 5.0, 2.0), slot(80.0, 40.0, 5.0, 2.0), _square(110.0, 40.0)))
    part = part_of(flat)
    rows = judge_part(part, flat).rows
    assert "Openings: leg 1: 2 slots 14.0 x 4.0 mm, 1 rectangle 5.0 x 6.0 mm." in flat_notes(part, flat, (), rows).lines
    imperial = flat_notes(part, flat, (), rows, inches=True).lines
    assert "Openings: leg 1: 2 slots 0.551 x 0.157 in, 1 rectangle 0.197 x 0.236 in." in imperial


def _square(x: float, y: float) -> Loop:
    return polygon((x, y), (x, y + 6.0), (x + 5.0, y + 6.0), (x + 5.0, y))


def test_numbers_of_legs_stand_on_their_legs_smaller_where_room_is_little() -> None:
    flat = tray()
    legs = tuple(f"leg {n + 1}" for n in range(6))
    layout = flat_layout(flat, Notes("a", legs=legs))
    named = {t.text: t for t in layout.texts if t.text in {"floor", "wall 1"}}
    assert set(named) == {"floor", "wall 1"}  # a name goes before a number
    bare = replace(flat, panels=tuple(replace(p, name=None) for p in flat.panels))
    assert not [t for t in flat_layout(bare, Notes("a")).texts if t.text in legs]
    found = {t.text: t for t in flat_layout(bare, Notes("a", legs=legs)).texts if t.text in legs}
    assert set(found) == set(legs)
    for name, panel in zip(legs, bare.panels, strict=True):
        assert shapely.Polygon(panel.outline.points(0.02)).contains(shapely.Polygon(found[name].box))
    narrow = replace(bare, panels=(*bare.panels[:1], _narrow(bare.panels[1]), *bare.panels[2:]))
    small = {t.text: t.height for t in flat_layout(narrow, Notes("a", legs=legs)).texts if t.text in legs}
    assert small.get("leg 2", 0.0) < small["leg 1"]


def _narrow(panel: Panel) -> Panel:
    """The same leg with room for small lettering only: 7 mm wide."""
    x0, y0, _, y1 = panel.outline.box()
    return replace(panel, outline=polygon((x0, y0), (x0 + 7.0, y0), (x0 + 7.0, y1), (x0, y1)))


def test_bend_lines_are_told_from_the_edges_that_they_run_along() -> None:
    """The tray's bends: A, D (lying), B, E (rising) and the slanted C, by its construction."""
    flat = tray()
    lines = flat_notes(part_of(flat), flat, ()).lines
    told = {line.partition(":")[0]: line for line in lines}
    rising, lying, slanted = (
        told[f"{w}"]
        for w in (
            "Bend lines from the left edge",
            "Bend lines from the lower edge",
            "Slanted bend lines, from the lower left corner",
        )
    )
    by = {b.label: b for b in flat.bends}
    assert bends_upright(channel())
    assert not bends_upright(flat)
    for label, line, axis in (("A", lying, 1), ("D", lying, 1), ("B", rising, 0), ("E", rising, 0)):
        assert f"{label} {by[label].centre[0][axis]:g} mm (" in line
    (x0, y0), (x1, y1) = sorted(by["C"].centre)
    assert f"C ({_plain(x0)} mm, {_plain(y0)} mm) to ({_plain(x1)} mm, {_plain(y1)} mm)" in slanted


def _plain(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def test_a_received_part_says_where_it_comes_from_and_what_was_not_judged() -> None:
    flat = tray()
    bare = flat_notes(part_of(flat), flat, ())
    assert bare.title == "bracket: bracket"
    assert bare.lines[0].startswith("Metal not given (K = 0.42), thickness 1.000 mm")
    assert "From bracket.step, solid 2 of 3, placed 4 times." in bare.lines
    assert any("without a metal no least radius was checked" in c for c in bare.cautions)
    assert any("graphite" in c for c in bare.cautions)
    steel = flat_notes(part_of(flat, "DC01"), flat, ())
    assert steel.lines[0].startswith("DC01 (K = 0.42 given), thickness")
    assert any("whoever sent it" in c and "no least radius" not in c for c in steel.cautions)
    assert not any("graphite" in c for c in steel.cautions)


def test_of_many_cautions_alike_the_worst_stand_beside_the_blank() -> None:
    flat = tray()
    found = tuple(Finding("FG110", "caution", "", f"opening {n} is too near") for n in range(9))
    notes = flat_notes(part_of(flat), flat, (*found, Finding("FG111", "caution", "", "another one")))
    assert [c for c in notes.cautions if "too near" in c and "opening " in c][:3] == [
        f"opening {n} is too near." for n in range(3)
    ]
    assert any(c.startswith("6 more of this kind (an opening over a bend tangent line") for c in notes.cautions)
    assert "another one." in notes.cautions


def test_openings_of_a_tree_are_told_by_the_legs_that_they_lie_on() -> None:
    flat = replace(tray(), openings=(circle(60.0, 40.0, 3.0), circle(80.0, 40.0, 3.0), circle(80.0, -20.0, 2.0)))
    part = part_of(flat)
    lines = flat_notes(part, flat, (), judge_part(part, flat).rows).lines
    assert "Openings: leg 1: 2 round 6.000 mm (0.236 in); leg 2: 1 round 4.000 mm (0.157 in)." in lines


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0, 71.0])
def test_a_part_of_many_bends_finds_a_place_for_every_label(degrees: float) -> None:
    """A floor with 18 tabs around it, each with its bend, turned to any angle; every bend is told once."""
    flat = rosette(18, math.radians(degrees))
    layout = flat_layout(flat, NOTES)
    told = [t.text.split()[0] for t in layout.texts if " up 90°" in t.text or " bend up 90°" in t.text]
    assert sorted(told) == sorted(b.label for b in flat.bends)
    boxes = [shapely.Polygon(t.box) for t in layout.texts]
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert not [(layout.texts[a].text, layout.texts[b].text) for a, b in zip(first, second, strict=True) if a < b]


def rosette(count: int, turn: float) -> FlatPattern:
    """A regular floor of so many sides about its middle, with a tab of 25 mm on each."""
    reach, allowance, deep = 200.0, 4.0, 25.0
    half = reach * math.tan(math.pi / count) - 3.0
    rim, bends, panels = [], [], []
    corners = []
    for n in range(count):
        a = turn + 2 * math.pi * n / count
        out, along = (math.cos(a), math.sin(a)), (-math.sin(a), math.cos(a))

        def at(
            v: float, s: float, out: tuple[float, float] = out, along: tuple[float, float] = along
        ) -> tuple[float, float]:
            return (300.0 + v * out[0] + s * along[0], 300.0 + v * out[1] + s * along[1])

        low, high = at(reach, -half), at(reach, half)
        corners += [low, high]
        rim += [low, at(reach + allowance + deep, -half), at(reach + allowance + deep, half), high]
        tab = polygon(at(reach + allowance, -half), rim[-3], rim[-2], at(reach + allowance, half))
        panels.append(Panel(tab, (), np.eye(4)))
        line = (at(reach + allowance / 2, -half), at(reach + allowance / 2, half))
        bends.append(bend(line, allowance, label=chr(65 + n), second=n + 1))
    floor = Panel(polygon(*corners), (), np.eye(4))
    flat = FlatPattern(1.0, polygon(*rim), (), (floor, *panels), tuple(bends))
    shift = np.eye(3)
    shift[:2, 2] = (-flat.box[0], -flat.box[1])
    return flat.moved(shift)
