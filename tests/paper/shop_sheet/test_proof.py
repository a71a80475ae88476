"""The proof line: what is printed adds up as printed, and it is the blank of handbooks and of the unfolded solid."""

from __future__ import annotations

import math
import random
import re
from decimal import Decimal

import pytest

from flatgen.core.flat_pattern import FlatPattern
from flatgen.definition.model import Profile
from flatgen.definition.part import Part
from flatgen.metal.allowance import setback
from flatgen.paper.shop_sheet.proof import ProofRow, proof_lines
from tests.paper.shop_sheet.sheet_parts import defined, random_part, random_tree, tray

TERM = re.compile(r"(?:^|(?P<sign>[+−]) )(?P<value>-?[0-9.]+) \(")


def sum_of(row: ProofRow) -> Decimal:
    """The printed terms, added as they stand."""
    signed = [(m["sign"], Decimal(m["value"])) for m in TERM.finditer(row.terms)]
    return sum((-v if s == "−" else v for s, v in signed), Decimal(0))


def worked_out(row: ProofRow) -> float:
    """A printed formula, on a calculator that knows tan and pi."""
    text = row.terms.replace("×", "*").replace("π", "math.pi").replace("−", "-")
    text = re.sub(r"tan ([0-9.]+)°", r"math.tan(math.radians(\1))", text)
    assert re.fullmatch(r"[0-9a-z.()+*/ -]+", text)
    return float(eval(text, {"math": math}))


def printed(row: ProofRow) -> Decimal:
    return Decimal(row.result.split()[0])


def require_printed(part: Part, flat: FlatPattern, inches: bool) -> tuple[ProofRow, ...]:
    """Sums are exact, formulas give their printed result, units are one."""
    rows = proof_lines(part, flat, inches=inches)
    for row in rows:
        assert row.result.split()[1] == ("in" if inches else "mm")
        if row.kind in ("developed", "leg"):
            assert sum_of(row) == printed(row)
        else:
            assert row.kind in ("allowance", "setback")
            assert f"{worked_out(row):.{4 if inches else 2}f}" == str(printed(row))
        assert row.source
    return rows


def test_u_channel_of_the_airframe_handbook() -> None:
    """FAA-H-8083-31 ch. 4, U-channel (seen): mould lines 1.00, 2.00, 1.00 in, flats 0.80, 1.60, 0.80, SB 0.20,
    BA 0.27 from its chart, total 3.74."""
    bend = '{ bend = 90, way = "up", allowance = "0.27 in" }'
    part, flat = defined(
        f"""metal = "2024-T3"
thickness = "0.040 in"
inside_radius = "0.16 in"
length = "5 in"
section = [{{ leg = "1 in", name = "a" }}, {bend}, {{ leg = "2 in", name = "b" }}, {bend}, {{ leg = "1 in" }}]
"""
    )
    rows = require_printed(part, flat, inches=True)
    first = rows[0]
    assert [Decimal(m["value"]) for m in TERM.finditer(first.terms)] == [
        Decimal(v) for v in ("0.8", "0.27", "1.6", "0.27", "0.8")
    ]
    assert printed(first) == Decimal("3.74")
    assert [r.result for r in rows if r.kind == "setback"] == ["0.2000 in"]
    assert [r.result for r in rows if r.kind == "leg"] == ["1.0000 in", "2.0000 in", "1.0000 in"]
    (allowance,) = [r for r in rows if r.kind == "allowance"]
    assert allowance.result == "0.2700 in"


def test_din_6935_example_of_the_table_book() -> None:
    """German metal-trade table book, bending page, example C (seen): opening angle 60, a 16, b 21, r 6, s 5,
    k 0.7 from the chart: v 5.77, L = 31.23 mm. Overall sizes; K is k/2."""
    part, flat = defined(
        """metal = "DC01"
units = "mm"
thickness = 5
inside_radius = 6
length = 40
dimensions = "overall"
section = [{ leg = 16 }, { bend = 120, way = "up", k = 0.35 }, { leg = 21 }]
"""
    )
    rows = require_printed(part, flat, inches=False)
    assert rows[0].result == "31.23 mm"
    assert [r.result for r in rows if r.kind == "leg"] == ["16.00 mm", "21.00 mm"]


def test_leg_shortened_by_a_cut_says_so() -> None:
    """By hand: a box from 6 mm inside the edge on to beyond it, over the whole length, leaves 24 of 30 mm."""
    part, flat = defined(
        """metal = "DC01"
units = "mm"
thickness = 1
inside_radius = 2
length = 50
section = [{ leg = 30 }, { bend = 90, way = "up", k = 0.5 }, { leg = 20 }]
[[cut]]
leg = 1
tool = "box"
across = 0
across_from = "left"
along = 25
size_across = 12
size_along = 80
"""
    )
    rows = require_printed(part, flat, inches=False)
    first = next(r for r in rows if r.kind == "leg")
    assert first.result == "24.00 mm"
    assert "30.00 mm" in first.source
    assert "6.00 mm" in first.source


def test_tray_has_a_line_across_each_way() -> None:
    """By hand: 20 + 4 + 100 + 4 + 20 = 148 across x, 20 + 4 + 60 + 4 + 20 = 108 across y; legs overall 20 + 3."""
    part, flat = tray()
    rows = proof_lines(part, flat)
    developed = [r for r in rows if r.kind == "developed"]
    assert [r.result for r in developed] == ["148.00 mm", "108.00 mm"]
    assert [sum_of(r) for r in developed] == [Decimal(148), Decimal(108)]
    assert developed[0].head != developed[1].head
    legs = sorted(float(printed(r)) for r in rows if r.kind == "leg")
    assert legs == [23.0, 23.0, 23.0, 23.0, 66.0, 106.0]


def test_a_part_without_bends_has_no_proof() -> None:
    part, flat = defined('metal = "DC01"\nunits = "mm"\nthickness = 1\nlength = 40\nsection = [{ leg = 30 }]\n')
    assert proof_lines(part, flat) == ()


def _check(seed: int) -> None:
    """Printed width is the unfolded solid's, legs are those of the definition, allowances those of the part."""
    part, flat = random_part(seed)
    for inches in (False, True):
        unit, half = (25.4, 0.00005) if inches else (1.0, 0.005)
        rows = require_printed(part, flat, inches)
        (developed,) = [r for r in rows if r.kind == "developed"]
        assert float(printed(developed)) * unit == pytest.approx(flat.width, abs=half * unit + 1e-6)
        legs = [float(printed(r)) * unit for r in rows if r.kind == "leg"]
        assert legs == pytest.approx([leg.length for leg in part.legs], abs=half * unit + 1e-6)
        _require_names(part, rows)
        told = {round(float(printed(r)), 4) for r in rows if r.kind == "allowance"}
        assert told == {round(b.allowance.length / unit, 4 if inches else 2) for b in part.bends}


def _require_names(part: Profile, rows: tuple[ProofRow, ...]) -> None:
    """Each bend is in exactly one row of an allowance, and its setback is that of its legs."""
    heads = [r.head.split(" ", 2)[2].split(", ") for r in rows if r.kind == "allowance"]
    labels = [label for head in heads for label in head]
    assert sorted(labels) == sorted(b.label for b in part.bends)
    sides = {
        round(setback(b.angle, b.inside_radius, part.thickness, part.legs[n].dimensions), 2)
        for b in part.bends
        for n in (b.first, b.second)
    }
    if rows[0].result.endswith("mm"):
        assert {round(float(printed(r)), 2) for r in rows if r.kind == "setback"} == sides


@pytest.mark.parametrize("seed", range(30))
def test_random_sections_add_up_as_printed(seed: int) -> None:
    _check(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 330))
def test_300_random_sections_add_up_as_printed(seed: int) -> None:
    _check(seed)


def _check_tree(seed: int) -> None:
    """Printed sums of a tree: each bend on a line, and each line the extent of its outer legs across their bends."""
    part, flat = random_tree(seed)
    rows = [r for r in require_printed(part, flat, inches=False) if r.kind == "developed"]
    for bend in flat.bends:
        assert any(bend.label in re.split(r"[ ,]+", r.head) for r in rows)
    for row in rows:
        labels = re.findall(r"\(([A-Z]+)\)", row.terms)
        chosen = [b for b in flat.bends if b.label in labels]
        (u, v), legs = chosen[0].across, {n for b in chosen for n in (b.first, b.second)}
        places = [x * u + y * v for n in legs for r in flat.panels[n].regions for x, y in r.outline.points(1e-3)]
        outer = re.findall(r"\(leg ([0-9]+)\)", row.terms)
        ends = [
            [x * u + y * v for r in flat.panels[int(n) - 1].regions for x, y in r.outline.points(1e-3)]
            for n in (outer[0], outer[-1])
        ]
        extent = max(max(e) for e in ends) - min(min(e) for e in ends)
        assert float(printed(row)) == pytest.approx(extent, abs=0.006)
        assert extent <= max(places) - min(places) + 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_random_trees_add_up_as_printed(seed: int) -> None:
    _check_tree(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(6, 60))
def test_more_random_trees_add_up_as_printed(seed: int) -> None:
    _check_tree(seed)


def test_a_wrong_term_is_seen() -> None:
    """The check of these tests can fail: any printed digit changed breaks the sum."""
    part, flat = random_part(3)
    row = proof_lines(part, flat)[0]
    rng = random.Random(1)
    places = [m.start("value") for m in TERM.finditer(row.terms)]
    at = rng.choice(places)
    digit = (int(row.terms[at]) + 1) % 10
    wrong = ProofRow(row.kind, row.head, f"{row.terms[:at]}{digit}{row.terms[at + 1 :]}", row.result, row.source)
    assert sum_of(row) == printed(row)
    assert sum_of(wrong) != printed(wrong)
