"""AC 43.13-1B ch. 4, Table 4-7 (K-chart), page 4-15: K = tan(N/2), so SB = K (R + T).

Read at https://www.landseaskyspace.com/ac4313/p4-15.html (seen). The table cuts off instead of rounding, so a
value may lie one unit of its last digit below the true one. Three values are misprints.
"""

import pytest

from flatgen.metal.allowance import setback

CHART = {
    5: "0.0436", 10: "0.0874", 15: "0.1316", 20: "0.1763", 25: "0.2216",
    30: "0.2679", 40: "0.3639", 45: "0.4142", 50: "0.4663", 60: "0.5773",
    75: "0.7673", 80: "0.8391", 90: "1.000", 100: "1.191", 110: "1.428",
    120: "1.732", 130: "2.144", 135: "2.414", 150: "3.732", 170: "11.43",
}  # fmt: skip
MISPRINTS = {86: ("0.9324", "0.9325"), 159: ("5.399", "5.3955"), 176: ("26.63", "28.64")}


def unit_of_last_digit(text: str) -> float:
    return float(10 ** -len(text.partition(".")[2]))


@pytest.mark.parametrize(("angle", "printed"), CHART.items())
def test_chart(angle: int, printed: str) -> None:
    """Table 4-7, page 4-15 (seen), to one unit in the last digit: R + T = 1 makes the setback K itself."""
    assert setback(angle, r=0.75, t=0.25) == pytest.approx(float(printed), abs=unit_of_last_digit(printed))


@pytest.mark.parametrize(("angle", "printed", "true"), [(n, p, t) for n, (p, t) in MISPRINTS.items()])
def test_misprints(angle: int, printed: str, true: str) -> None:
    """Table 4-7, page 4-15: N = 86, 159 and 176 are misprints (seen): the true values differ."""
    ours = setback(angle, r=0.75, t=0.25)
    assert ours == pytest.approx(float(true), abs=unit_of_last_digit(true) / 2)
    assert abs(ours - float(printed)) > unit_of_last_digit(printed) / 2


@pytest.mark.parametrize("angle", [159, 176])
def test_gross_misprints_lie_beyond_any_rounding(angle: int) -> None:
    """N = 159 (5.399 for 5.3955) and N = 176 (26.63 for 28.64) are off by more than cutting off explains."""
    printed = MISPRINTS[angle][0]
    assert abs(setback(angle, r=0.75, t=0.25) - float(printed)) > unit_of_last_digit(printed)


def test_minimum_radius_that_a_builder_took_from_the_circular() -> None:
    """.025 in 2024-T3, 1/16 in; R 1/4 at 90 degrees: BA .413 (seen second-hand); mid-plane .4123.

    https://garaggioaviation.com/2014/11/23/ac-43-13/
    """
    from flatgen.metal.allowance import bend_allowance
    from flatgen.metal.metals import load_metals

    assert bend_allowance(90, 0.25, 0.025, k=0.5) == pytest.approx(0.413, abs=1e-3)
    figures = load_metals()["2024-T3"].minimum_radius(0.025 * 25.4, 90)
    (circular,) = [f for f in figures if f.source.name == "ac43-builder"]
    assert circular.value == pytest.approx(25.4 / 16)
