"""Bend lines and tangent lines stop at openings and notches, exactly; marks of round openings. By hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from flatgen.core.flat_pattern import FlatPattern
from flatgen.paper.drawing.document import flat_document
from flatgen.paper.drawing.on_metal import MOST_CIRCLES
from flatgen.paper.drawing.words import KEY_CENTRES
from tests.paper.drawing.drawn_samples import NOTES, chain, circle, polygon, slot


def lines(doc: Any, layer: str) -> list[tuple[float, ...]]:
    found = doc.modelspace().query(f"LINE[layer=='{layer}']")
    return sorted((e.dxf.start.x, e.dxf.start.y, e.dxf.end.x, e.dxf.end.y) for e in found)


def test_a_bend_line_stops_at_an_opening_and_a_tangent_line_too() -> None:
    """Zone from 40 to 46, bend line at 43; a circle of radius 5 about (42, 50)."""
    doc = flat_document(chain([40.0, 60.0], [6.0], 100.0, (circle(42.0, 50.0, 5.0),)), NOTES)
    half = math.sqrt(24.0)
    assert lines(doc, "BEND_NEAR") == [pytest.approx((43, 0, 43, 50 - half)), pytest.approx((43, 50 + half, 43, 100))]
    low, high = math.sqrt(21.0), 3.0
    assert lines(doc, "TANGENTS") == [
        pytest.approx(line, abs=1e-9)
        for line in [
            (40, 0, 40, 50 - low), (40, 50 + low, 40, 100), (46, 0, 46, 50 - high), (46, 50 + high, 46, 100),
        ]
    ]  # fmt: skip


def test_a_slot_along_the_bend_and_a_notch() -> None:
    plain = chain([40.0, 60.0], [6.0], 100.0, (slot(43.0, 30.0, 10.0, 2.0),))
    notched = replace(
        plain, outline=polygon((0, 0), (106, 0), (106, 100), (44, 100), (44, 90), (35, 90), (35, 100), (0, 100))
    )
    doc = flat_document(notched, NOTES)
    assert lines(doc, "BEND_NEAR") == [pytest.approx((43, 0, 43, 28)), pytest.approx((43, 32, 43, 90))]
    assert [round(y, 6) for *_, y in lines(doc, "TANGENTS")] == [28, 90, 28, 100]


def test_an_opening_that_swallows_a_line_leaves_none_and_an_edge_on_it_leaves_it() -> None:
    gone = chain([40.0, 60.0], [6.0], 100.0, (polygon((42, 0.5), (42, 99.5), (44, 99.5), (44, 0.5)),))
    assert [round(a[3] - a[1], 6) for a in lines(flat_document(gone, NOTES), "BEND_NEAR")] == [0.5, 0.5]
    beside = chain([40.0, 60.0], [6.0], 100.0, (polygon((30, 20), (30, 40), (40, 40), (40, 20)),))
    assert [a[1::2] for a in lines(flat_document(beside, NOTES), "TANGENTS")] == [(0.0, 100.0), (0.0, 100.0)]


def grid(count: int) -> FlatPattern:
    return chain([400.0], [], 400.0, tuple(circle(10 + n % 40 * 9.5, 10 + n // 40 * 9.5, 3.0) for n in range(count)))


def test_round_openings_have_centre_marks_until_they_are_too_many() -> None:
    few, many = (flat_document(grid(n), NOTES) for n in (7, MOST_CIRCLES + 1))
    inside = [line for line in lines(few, "LABELS") if line[0] < 80 and 0 < line[1] < 14 and line[3] < 14]
    assert len(inside) == 14
    assert {(round((a + c) / 2, 6), round((b + d) / 2, 6)) for a, b, c, d in inside} == {
        (10 + n * 9.5, 10.0) for n in range(7)
    }
    texts = [{e.dxf.text for e in doc.modelspace().query("TEXT")} for doc in (few, many)]
    assert KEY_CENTRES in texts[0]
    assert KEY_CENTRES not in texts[1]
