"""HPGL/2 read back by a decoder of our own: true scale, pens, and jobs that are wider than the plotter.

Encoded polylines (PE) after the HPGL/2 reference: numbers of base 32 in seven bits, the sign in the lowest bit, digits
of 63 to 94, the last of 95 to 126; ``<`` pen up, ``=`` absolute, ``>`` fractional bits; one unit is 1/40 mm (memory).
"""

from __future__ import annotations

import math
import re
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.paper.drawing import document
from flatgen.paper.templates.template import EDGE_PEN, FAR_PEN, MARGIN, NEAR_PEN, PEN_OF, template_plt
from tests.demo_parts import demo_result as demo
from tests.paper.drawing.drawn_samples import SAMPLES, chain
from tests.paper.templates.template_parts import DEMOS, Plain

UNIT = 40.0
Point = tuple[float, float]


def number(data: bytes, at: int) -> tuple[int, int]:
    """A number of a PE command and where the next one begins."""
    value = shift = 0
    while True:
        byte = data[at]
        at += 1
        last = byte >= 95
        value += (byte - (95 if last else 63)) << shift
        shift += 5
        if last:
            return (-(value >> 1) if value & 1 else value >> 1), at


def decoded(body: bytes) -> list[Point]:
    """Places of a PE command in units."""
    assert body[:1] == b"7"
    at, bits, found, absolute = 1, 0, [(0.0, 0.0)], False
    while at < len(body):
        if body[at : at + 1] == b">":
            bits, at = number(body, at + 1)
        elif body[at : at + 1] == b"<":
            at += 1
        elif body[at : at + 1] == b"=":
            absolute, at = True, at + 1
        else:
            x, at = number(body, at)
            y, at = number(body, at)
            base = (0.0, 0.0) if absolute else found[-1]
            absolute = False
            found.append((base[0] + x / 2**bits, base[1] + y / 2**bits))
    return found[1:]


def strokes(data: bytes) -> list[tuple[int, list[Point]]]:
    """Pen and places [mm] of all that is drawn; curves by their ends and control places."""
    pen, here, found = 0, (0.0, 0.0), []
    for command in re.findall(rb"PE[^;]*|[A-Z]{2}[^;A-Z]*", data):
        name, body = command[:2], command[2:]
        if name == b"SP":
            pen = int(body)
        elif name == b"PE":
            found.append((pen, [(x / UNIT, y / UNIT) for x, y in decoded(body)]))
        elif name == b"PA" and body.strip():
            here = tuple(map(float, body.split(b",")))  # type: ignore[assignment]
            found.append((pen, [(here[0] / UNIT, here[1] / UNIT)]))
        elif name in (b"PR", b"BR"):
            values = list(map(float, body.split(b",")))
            places = list(zip(values[::2], values[1::2], strict=True))
            step = 3 if name == b"BR" else 1
            for k in range(0, len(places), step):
                ends = [(here[0] + x, here[1] + y) for x, y in places[k : k + step]]
                found[-1][1].extend((x / UNIT, y / UNIT) for x, y in ends)
                here = ends[-1]
    return found


def plot(flat: Any, width: float | None = None) -> list[tuple[int, list[Point]]]:
    return strokes(template_plt(Plain(), flat, None, (), plotter_width=width))  # type: ignore[arg-type]


def box(drawn: list[tuple[int, list[Point]]], pen: int) -> tuple[float, float, float, float]:
    points = [p for which, places in drawn for p in places if which == pen]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("name", SAMPLES)
def test_true_scale(name: str) -> None:
    """The blank is as wide and long as it is, within a unit."""
    flat = SAMPLES[name]
    x0, y0, x1, y1 = box(plot(flat), EDGE_PEN)
    assert sorted((x1 - x0, y1 - y0)) == pytest.approx(sorted((flat.width, flat.length)), abs=1 / UNIT)


@pytest.mark.parametrize("name", DEMOS)
def test_every_vertex_is_where_it_belongs(name: str) -> None:
    """Places of the outline relative to its corner, however the flat is turned, within half a unit each way."""
    m = demo(name)
    drawn = strokes(template_plt(m.part, m.flat, m.schedule, m.findings))
    x0, y0, x1, _ = box(drawn, EDGE_PEN)
    edges = [p for pen, places in drawn for p in places if pen == EDGE_PEN]
    turned = abs((x1 - x0) - m.flat.width) > 0.1
    low = m.flat.box
    for x, y in (p.start for p in m.flat.outline):
        u, v = (low[3] - y, x - low[0]) if turned else (x - low[0], y - low[1])
        assert min(math.dist((u + x0, v + y0), e) for e in edges) < 1.0 / UNIT


def test_pens_go_by_what_they_draw() -> None:
    m = demo("roof-rail")
    drawn = strokes(template_plt(m.part, m.flat, m.schedule, m.findings))
    assert m.schedule is not None
    faces = [s.sight.face for s in m.schedule.stages]
    lines = {pen: {round(p[1], 2) for which, places in drawn for p in places if which == pen} for pen in (2, 3)}
    assert len(lines[NEAR_PEN]) == faces.count("near")
    assert len(lines[FAR_PEN]) == faces.count("far")
    near, far = (sum(which == pen for which, _ in drawn) for pen in (NEAR_PEN, FAR_PEN))
    assert far > 20 * near, "lines for the far face are dashed"
    assert set(PEN_OF) >= {document.OUTLINE, document.OPENINGS, document.LABELS, document.TANGENTS, document.FORMS}


def test_check_bars() -> None:
    """Both bars by hand: 101.6 mm long."""
    drawn = plot(chain([60.0], [], 90.0))
    long = [places for _, places in drawn if len(places) == 2 and math.dist(*places) == pytest.approx(101.6, abs=0.03)]
    ways = {abs(a[0] - b[0]) > 1.0 for a, b in long}
    assert ways == {True, False}


def test_large_arcs_are_round() -> None:
    """A hole of 300 mm: places of its curves lie on the circle within a unit."""
    from tests.paper.drawing.drawn_samples import circle

    flat = chain([500.0], [], 400.0, (circle(250.0, 200.0, 150.0),))
    data = template_plt(Plain(), flat, None, ())  # type: ignore[arg-type]
    ends = [
        places[k]
        for pen, places in strokes(data)
        if pen == EDGE_PEN
        for k in range(0, len(places), 3)
        if len(places) > 3
    ]
    x0, y0, x1, y1 = box(plot(flat), EDGE_PEN)
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    assert len(ends) > 12
    assert all(abs(math.dist(centre, p) - 150.0) < 1.5 / UNIT for p in ends)


@pytest.mark.parametrize("width", [330.0, 610.0, 914.0])
def test_what_is_drawn_stays_within_the_plotter(width: float) -> None:
    m = demo("roof-rail")
    data = template_plt(m.part, m.flat, m.schedule, m.findings, plotter_width=width)
    long, wide = map(float, re.search(rb"PS([0-9]+),([0-9]+);", data).groups())  # type: ignore[union-attr]
    assert wide / UNIT <= width
    points = [p for _, places in strokes(data)[:-1] for p in places]
    assert min(min(p) for p in points) >= MARGIN - 0.5
    assert max(p[1] for p in points) <= wide / UNIT - MARGIN + 0.5
    assert max(p[0] for p in points) <= long / UNIT - MARGIN + 0.5


def test_a_job_wider_than_the_plotter_is_told() -> None:
    flat = chain([700.0], [], 900.0)
    with pytest.raises(InputRefused) as refused:
        template_plt(Plain(), flat, None, (), plotter_width=610.0)  # type: ignore[arg-type]
    text = str(refused.value)
    assert "FG012" in text
    assert "610 mm" in text
    assert "PDF" in text
    assert template_plt(Plain(), flat, None, (), plotter_width=914.0)  # type: ignore[arg-type]


def test_the_same_part_gives_the_same_bytes() -> None:
    m = demo("roof-rail")
    first, second = (template_plt(m.part, m.flat, m.schedule, m.findings) for _ in range(2))
    assert first == second
    assert all(byte < 128 for byte in first), "seven bits"
