"""FAA-H-8083-31, Aviation Maintenance Technician Handbook, Airframe Vol. 1, ch. 4. Inches, as printed.

Read at http://www.flight-mechanic.com/layout-and-forming-part-two/ and part-three. The 0.27 of the
U-channel is a chart value of two digits; the formula with R .16 gives 0.279, so the total is 3.758.
"""

import pytest

from flatgen.metal.allowance import Aviation, GivenAllowance, bend_deduction, effective_k, setback
from flatgen.metal.metals import load_metals

T, R = 0.040, 0.16
MOULD_LINES = (1.00, 2.00, 1.00)


def test_setback_of_the_u_channel() -> None:
    """Part two, U-channel: SB = R + T = 0.20 at 90 degrees (seen)."""
    assert setback(90, R, T) == pytest.approx(0.20, abs=1e-12)


def test_flats_of_the_u_channel() -> None:
    """Part two, U-channel: flats 0.80, 1.60, 0.80 from mould lines 1.00, 2.00, 1.00 (seen)."""
    side = setback(90, R, T)
    first, middle, last = MOULD_LINES
    assert (first - side, middle - 2 * side, last - side) == pytest.approx((0.80, 1.60, 0.80), abs=1e-12)


def test_total_developed_width_with_the_allowance_of_the_chart() -> None:
    """Part three, U-channel: BA 0.27 (chart, two digits) gives a total of 3.74 (seen)."""
    allowance = GivenAllowance(0.27).allowance(90, R, T)
    total = sum(MOULD_LINES) - 2 * bend_deduction(90, R, T, k=allowance.k)
    assert total == pytest.approx(3.74, abs=1e-9)


def test_total_developed_width_by_formula() -> None:
    """Part three, U-channel: 3.74 (seen) within 0.02, its chart is rounded; by formula 3.7581."""
    allowance = Aviation().allowance(90, R, T)
    total = sum(MOULD_LINES) - 2 * bend_deduction(90, R, T, k=allowance.k)
    assert total == pytest.approx(3.7581, abs=5e-5)
    assert total == pytest.approx(3.74, abs=0.02)
    assert total < sum(MOULD_LINES) == 4.00


def test_chart_cell_per_degree() -> None:
    """Part three, BA chart, T .040, R .156 (5/32): 0.003034 per degree (seen); R 5/32 meets it to 2e-6."""
    assert Aviation().allowance(1, 0.15625, T).length == pytest.approx(0.003034, abs=2e-6)
    assert Aviation().allowance(90, 0.15625, T).length == pytest.approx(0.27306, abs=2e-4)


@pytest.mark.parametrize(
    ("radius", "at_90", "per_degree"),
    [
        (1 / 32, 0.062, 0.000693),
        (1 / 16, 0.113, 0.001251),
        (3 / 32, 0.161, 0.001792),
        (1 / 8, 0.210, 0.002333),
    ],
)
def test_other_cells_of_the_chart(radius: float, at_90: float, per_degree: float) -> None:
    """BA chart, row T .020 (memory, so within 2 % only; nothing rests on it)."""
    assert Aviation().allowance(1, radius, 0.020).length == pytest.approx(per_degree, rel=0.02)
    assert Aviation().allowance(90, radius, 0.020).length == pytest.approx(at_90, rel=0.02)


def test_k_that_the_formula_implies() -> None:
    """0.0078 / 0.01743 = 0.4475 (derived from the printed formula); 0.4469 against an exact pi/180."""
    length = Aviation().allowance(90, 1e-9, 1.0).length
    assert effective_k(length, 90, 0.0, 1.0) == pytest.approx(0.4469, abs=1e-4)
    flat, round_ = (Aviation().allowance(1, r, t).length for r, t in ((0, 1), (1, 1e-9)))
    assert flat / round_ == pytest.approx(0.4475, abs=5e-5)


def test_setback_chart_example() -> None:
    """Setback chart, example R + T = 0.183 (seen); at 50 degrees 0.085 (memory, derived 0.0853)."""
    assert setback(90, 0.143, 0.040) == pytest.approx(0.183, abs=1e-12)
    assert setback(50, 0.143, 0.040) == pytest.approx(0.085, abs=5e-4)


def test_minimum_radius_of_the_example() -> None:
    """Fig. 4-125 as used in the example: 2024-T3, .040, 0.16 in (seen)."""
    figures = load_metals()["2024-T3"].minimum_radius(T * 25.4, 90)
    (handbook,) = [f for f in figures if f.source.name == "faa-31"]
    assert handbook.value == pytest.approx(0.16 * 25.4)
    assert handbook.mark == "seen"
