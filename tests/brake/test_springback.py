"""Springback against worked figures: teaching notebooks after Marciniak, Duncan, Hu; tables for five metals."""

from __future__ import annotations

import math

import pytest

from flatgen.brake.springback import NoSpringback, Strength, loaded_radius, springback, strength_of
from flatgen.metal.metals import load_metals

ALUMINIUM = 0.33
CASES = {
    "5052-H32": (Strength(193, 228, 70_300, ALUMINIUM, ""), (1.2, 2.0, 3.6, 7.0)),
    "6061-T6": (Strength(276, 310, 68_900, ALUMINIUM, ""), (1.7, 2.9, 5.3, 10.6)),
    "2024-T3": (Strength(345, 483, 73_100, ALUMINIUM, ""), (2.0, 3.4, 6.3, 12.7)),
    "mild steel": (Strength(250, 400, 200_000, 0.3, ""), (0.5, 0.9, 1.6, 3.1)),
    "304 annealed": (Strength(205, 515, 193_000, 0.3, ""), (0.45, 0.76, 1.4, 2.6)),
}


def finished_for(strength: Strength, loaded: float) -> float:
    """Finished radius of a bend whose loaded radius is given, t = 1: coded apart, by the formula as printed."""
    stress = 2 / math.sqrt(3) * strength.yield_
    x = stress * (loaded + 0.5) / (strength.modulus / (1 - strength.poisson**2))
    return (loaded + 0.5) / (1 - 3 * x + 4 * x**3) - 0.5


@pytest.mark.parametrize("metal", CASES)
@pytest.mark.parametrize("place", range(4))
def test_extra_degrees_for_a_finished_square_corner(metal: str, place: int) -> None:
    """At a loaded R0/t of 1, 2, 4, 8; printed to a tenth, or to two digits."""
    strength, told = CASES[metal]
    finished = finished_for(strength, 2.0**place)
    assert springback(90, finished, 1.0, strength, None).low == pytest.approx(told[place], rel=0.04, abs=0.06)


@pytest.mark.parametrize(("metal", "told"), [("5052-H32", 6.5), ("6061-T6", 9.5), ("2024-T3", 11.1)])
def test_at_a_finished_radius_of_eight_thicknesses(metal: str, told: float) -> None:
    found = springback(90, 8.0, 1.0, CASES[metal][0], None)
    assert found.low == found.high == pytest.approx(told, abs=0.1)


def test_strip_rolled_to_a_tube() -> None:
    """E 70 GPa, nu 0.3, 250 MPa, t 1.2, a 40 mm strip: rho 6.37 loaded, 21.5 of 360 degrees, rho 6.77 after (seen)."""
    strength = Strength(250, 250, 70_000, 0.3, "")
    kept = 360 - 21.5
    found = springback(kept, 6.77 - 0.6, 1.2, strength, None)
    assert found.low == pytest.approx(21.5, abs=0.15)
    assert loaded_radius(kept, 6.77 - 0.6, 1.2, kept + found.low) + 0.6 == pytest.approx(6.37, abs=0.01)


def test_bow_of_the_swung_leg() -> None:
    """(S/E')(a/t) rad: by hand for 6061-T6, a = 20, t = 1: 2/sqrt3 276 / (68900/(1 - 0.33^2)) 20 = 0.0824 rad."""
    found = springback(90, 2.0, 1.0, CASES["6061-T6"][0], 20.0)
    assert found.high - found.low == pytest.approx(math.degrees(0.08244), rel=1e-3)


def test_length_of_the_arc_is_kept() -> None:
    for angle, r, t in ((90, 3, 1), (45, 8, 2), (120, 1, 0.8)):
        back = springback(angle, r, t, CASES["2024-T3"][0], None).low
        loaded = loaded_radius(angle, r, t, angle + back)
        assert (loaded + t / 2) * (angle + back) == pytest.approx((r + t / 2) * angle, rel=1e-12)
        assert loaded < r


def test_a_sheet_that_stays_elastic_has_no_answer() -> None:
    with pytest.raises(NoSpringback):
        springback(10, 500.0, 0.5, CASES["2024-T3"][0], None)


def test_strengths_of_the_tables() -> None:
    """Typical figures go before least ones: 6061-T6 276 and 310 MPa (data sheets, seen)."""
    found = strength_of(load_metals()["6061-T6"])
    assert found is not None
    assert (found.yield_, found.ultimate) == pytest.approx((276, 310), rel=0.02)
    assert found.poisson == pytest.approx(0.33)
