"""What a brake can bend, held against the load of a single bend: monotone, and at the length told the limit is met."""

from __future__ import annotations

from dataclasses import replace

import pytest

from flatgen.brake.capacity import LIMITS, Curve, Row, capacity_curves, chart_svg, limit_values, unchecked_limits
from flatgen.brake.load import load_of
from flatgen.cli.print_capacity import record
from flatgen.core.shop import Shop
from flatgen.metal.metals import load_metals
from tests.brake.shops import shop

METALS = load_metals()
CHOSEN = [METALS[n] for n in ("5052-H32", "DC01", "304")]
THICKNESSES = (0.5, 1.0, 1.5, 2.0, 3.0)
LENGTHWISE = ("effort", "angle", "leaf stress", "clamp stress", "clamp force", "hinge force")


@pytest.fixture(scope="module")
def curves() -> tuple[Curve, ...]:
    return capacity_curves(shop(), CHOSEN, thicknesses=THICKNESSES)


def worst(row: Row, curve: Curve, where: Shop, length: float) -> float:
    """The largest share of any limit that a bend of a length takes."""
    assert curve.strength is not None
    load = load_of(row.thickness, length, row.arm, row.setback, row.bent_to, curve.strength, where.brake, curve.setup)
    return max(has / may for has, may in limit_values(load, where, curve.setup).values())


def test_thicker_sheet_is_never_longer(curves: tuple[Curve, ...]) -> None:
    assert len(curves) == 2 * len(CHOSEN)
    for curve in curves:
        lengths = [r.length for r in curve.rows]
        assert lengths == sorted(lengths, reverse=True)
        assert [r.thickness for r in curve.rows] == list(THICKNESSES)


def test_at_the_length_told_its_limit_is_met_and_one_per_cent_more_breaks_it(curves: tuple[Curve, ...]) -> None:
    met = 0
    for curve in curves:
        for row in curve.rows:
            if row.limit in LENGTHWISE and row.length > 0:
                met += 1
                assert worst(row, curve, shop(), row.length) == pytest.approx(1.0, rel=1e-3)
                assert worst(row, curve, shop(), row.length * 1.01) > 1.0
    assert met >= 10


def test_a_stiffer_leaf_bends_no_less() -> None:
    own = shop()
    plain, stiff = own.setups[0], own.setups[1]
    assert plain.leaf.beam is not None
    assert stiff.leaf.beam is not None
    same = replace(plain, name="same but stiffer", leaf=replace(plain.leaf, beam=stiff.leaf.beam))
    found = capacity_curves(replace(own, setups=(plain, same)), CHOSEN, thicknesses=THICKNESSES)
    for before, after in zip(found[: len(CHOSEN)], found[len(CHOSEN) :], strict=True):
        for one, other in zip(before.rows, after.rows, strict=True):
            assert other.length >= one.length - 1e-6


def test_limits_that_are_not_known_are_named() -> None:
    own = shop(hinge_limit=None, clamp_limit=None)
    told = " ".join(unchecked_limits(own, own.setups[0]))
    assert "hinge" in told
    assert "clamp" in told


def test_record_and_chart_name_every_limit_that_holds(curves: tuple[Curve, ...]) -> None:
    found = record(shop(), curves)
    used = {r["limit"] for c in found["curves"] for r in c["rows"]}
    assert used <= set(LIMITS)
    assert len(used) >= 2
    drawn = chart_svg(shop(), curves)
    assert drawn == chart_svg(shop(), curves)
    assert drawn.count("<svg") == 1
    assert 'width="297mm"' in drawn


def test_a_metal_without_strength_has_no_rows() -> None:
    unknown = replace(METALS["DC01"], name="unknown", figures=())
    (curve, _) = capacity_curves(shop(), [unknown], thicknesses=(1.0,))
    assert curve.strength is None
    assert curve.rows == ()


def test_the_radius_is_no_smaller_than_the_metals_minimum() -> None:
    """5052-H34 at 1/16 in takes 1.5 t (Aluminum Design Manual 2005, Table 3-1): 2.38125 mm; the nose has 1.5."""
    (curve, _) = capacity_curves(shop(), [METALS["5052-H34"]], thicknesses=(1.5875,))
    assert curve.rows[0].inside_radius == pytest.approx(2.38125)
    assert any("2.38" in text for text in curve.rows[0].remarks)
