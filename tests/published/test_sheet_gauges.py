"""Sheet gauges: 15 U.S.C. 206, the Manufacturers' Standard, galvanized, Brown and Sharpe, imperial."""

import pytest

from flatgen.metal.figures import gauge_systems, gauge_thickness

INCH = 25.4
POUNDS = {10: 5.625, 11: 5, 12: 4.375, 14: 3.125, 16: 2.5, 18: 2, 20: 1.5, 22: 1.25, 24: 1, 26: 0.75}


@pytest.mark.parametrize(
    ("number", "inches"),
    [(10, 0.140625), (11, 0.125), (12, 0.109375), (16, 0.0625), (20, 0.0375), (24, 0.025), (26, 0.01875)],
)
def test_statute(number: int, inches: float) -> None:
    """15 U.S.C. 206 (seen), fractions of an inch."""
    assert gauge_thickness("us-standard", number) == pytest.approx(inches * INCH, abs=1e-9)


@pytest.mark.parametrize(("number", "pounds"), POUNDS.items())
def test_manufacturers_standard_by_weight(number: int, pounds: float) -> None:
    """Manufacturers' Standard = lb/ft2 of 15 U.S.C. 206 / 41.82 (seen), printed to 4 places."""
    assert gauge_thickness("manufacturers-standard", number) / INCH == pytest.approx(pounds / 41.82, abs=5.1e-5)


@pytest.mark.parametrize(("number", "inches"), [(10, 0.1345), (16, 0.0598), (20, 0.0359), (28, 0.0149)])
def test_manufacturers_standard_as_printed(number: int, inches: float) -> None:
    """https://greaseralley.com/2010/12/09/sheet-metal-gauge-chart/ (seen)."""
    assert gauge_thickness("manufacturers-standard", number) == pytest.approx(inches * INCH, abs=1e-9)


@pytest.mark.parametrize(("number", "inches"), [(10, 0.1382), (16, 0.0635), (20, 0.0396), (28, 0.0187)])
def test_galvanized_as_printed(number: int, inches: float) -> None:
    """https://greaseralley.com/2010/12/09/sheet-metal-gauge-chart/ (seen)."""
    assert gauge_thickness("galvanized", number) == pytest.approx(inches * INCH, abs=1e-9)


@pytest.mark.parametrize("number", [10, 11, 12, 14, 16, 18, 20, 22, 24, 26, 28])
def test_printed_brown_and_sharpe_by_formula(number: int) -> None:
    """Brown and Sharpe = .005 x 92^((36 - n)/39) in (general fact) against the printed 4 places (seen)."""
    assert gauge_systems()["brown-sharpe"].sources[number] == ("gauge-chart", "seen")
    formula = 0.005 * 92 ** ((36 - number) / 39)
    assert gauge_thickness("brown-sharpe", number) / INCH == pytest.approx(formula, abs=5.1e-5)


@pytest.mark.parametrize(("number", "inches"), [(10, 0.1019), (16, 0.0508), (20, 0.0320), (28, 0.0126)])
def test_brown_and_sharpe_as_printed(number: int, inches: float) -> None:
    """https://greaseralley.com/2010/12/09/sheet-metal-gauge-chart/ (seen)."""
    assert gauge_thickness("brown-sharpe", number) == pytest.approx(inches * INCH, abs=1e-9)


@pytest.mark.parametrize(("number", "inches"), [(10, 0.128), (16, 0.064), (20, 0.036), (24, 0.022)])
def test_imperial_wire_gauge(number: int, inches: float) -> None:
    """Imperial standard wire gauge (memory)."""
    assert gauge_thickness("swg", number) == pytest.approx(inches * INCH, abs=1e-9)
