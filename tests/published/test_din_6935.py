"""DIN 6935, as printed in a German metal-trade table book and in copies of the standard. Millimetres.

Formulas and example C: https://de.scribd.com/document/401383818 (seen). Example E: school text, p. 206,
https://blickinsbuch.westermann.de/978-3-7100-2443-6/208 (seen). Minimum radii, edition 1975-10:
https://de.scribd.com/document/74375167 (seen). Cross-check: EN 10025-2, cold-flanging grades,
https://ks-ratgeber.galvaswiss.ch/de/54-55 (seen).
"""

import math
from pathlib import Path

import pytest

from flatgen.metal.allowance import Din6935, GivenK, NotUsable, bend_deduction
from flatgen.metal.metals import Metal, load_metals


def deduction(opening: float, r: float, s: float) -> float:
    """v of the standard: legs are dimensioned overall where the opening angle is under 90."""
    k = Din6935().allowance(180 - opening, r, s).k
    return bend_deduction(180 - opening, r, s, k=k, dimensions="overall" if opening <= 90 else "mould-line")


def test_example_c_with_k_of_the_chart() -> None:
    """Example C: opening angle 60, a 16, b 21, r 6, s 5, k 0.7: v 5.77, L 31.23 (seen)."""
    k = GivenK(0.7 / 2).allowance(120, 6, 5).k
    v = bend_deduction(120, 6, 5, k=k, dimensions="overall")
    assert v == pytest.approx(5.77, abs=5e-3)
    assert 16 + 21 - v == pytest.approx(31.23, abs=5e-3)
    assert math.ceil(16 + 21 - v) == 32


def test_example_c_with_k_of_the_formula() -> None:
    """Example C: k by formula 0.689 (seen, cut off); v 5.823 (derived)."""
    assert 2 * Din6935().allowance(120, 6, 5).k == pytest.approx(0.689, abs=1e-3)
    assert deduction(60, 6, 5) == pytest.approx(5.823, abs=5e-4)


def test_example_e() -> None:
    """Example E, p. 206: legs 50/40/30, r 1, t 1, two bends: 116 mm (seen); full formula 116.16 (derived)."""
    blank = 50 + 40 + 30 - 2 * deduction(90, 1, 1)
    assert blank == pytest.approx(116.16, abs=5e-3)
    assert round(blank) == 116


@pytest.mark.parametrize(("r", "s", "printed"), [(1, 1, 1.9), (1.6, 1, 2.1), (2.5, 2, 4.0), (4, 2, 4.5), (6, 3, 6.7)])
def test_deductions_of_the_table_book(r: float, s: float, printed: float) -> None:
    """Deduction at 90 degrees, printed to 0.1 (memory)."""
    assert deduction(90, r, s) == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(
    ("opening", "r", "s", "derived"),
    [
        (90, 1, 1, 1.919), (90, 1.6, 1, 2.096), (90, 2, 2, 3.837), (90, 2.5, 2, 3.976), (90, 3, 3, 5.756),
        (90, 4, 2, 4.459), (90, 6, 3, 6.689), (90, 10, 4, 9.625),
        (135, 1, 1, 0.616), (135, 2, 2, 1.232), (135, 4, 2, 1.200), (135, 6, 3, 1.800),
    ],
)  # fmt: skip
def test_deductions_of_the_formula(opening: float, r: float, s: float, derived: float) -> None:
    """v worked out by hand from the printed formula (derived)."""
    assert deduction(opening, r, s) == pytest.approx(derived, abs=6e-4)


def test_opening_angle_at_which_the_deduction_changes_sign() -> None:
    """v is negative below 65 deg 24' 30" (seen); 180 - 360/pi = 65.4084 (derived), for r >> s."""
    r, s = 1e7, 1.0
    assert deduction(65 + 24.4 / 60, r, s) < 0 < deduction(65 + 24.6 / 60, r, s)
    assert deduction(65.4083, r, s) < 0 < deduction(65.4085, r, s)


def test_mid_line_from_five_times_the_thickness() -> None:
    """k = 1 for r/s above 5 (seen); up to 5 the formula holds, 0.9995 there (derived)."""
    assert 2 * Din6935().allowance(90, 5.001, 1).k == pytest.approx(1, abs=1e-12)
    assert 2 * Din6935().allowance(90, 5.0, 1).k == pytest.approx(0.65 + 0.5 * math.log10(5), abs=1e-12)
    assert 2 * Din6935().allowance(90, 5.0, 1).k < 1


def test_opening_angle_above_165_is_neglected() -> None:
    """Opening angle above 165: v = 0 (seen), so the blank is the sum of the legs to the mould line."""
    k = Din6935("zero").allowance(14, 2, 2).k
    assert bend_deduction(14, 2, 2, k=k) == pytest.approx(0, abs=1e-12)
    k = Din6935("zero").allowance(15, 2, 2).k
    assert bend_deduction(15, 2, 2, k=k) > 0.01


def test_no_k_for_sharp_bends() -> None:
    """k = 0.65 + 0.5 log10(r/s) goes to minus infinity at r = 0: refused below r/s 0.65 (rule of ours)."""
    with pytest.raises(NotUsable, match=r"0\.65"):
        Din6935().allowance(90, 0.6, 1)


COLUMNS = (1, 1.5, 2.5, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20)
ROW_390 = (1, 1.6, 2.5, 3, 5, 6, 8, 10, 12, 16, 20, 25, 28, 36, 40)


def by(metal: Metal, source: str, thickness: float, angle: float, *, along: bool = False) -> float | None:
    found = [f for f in metal.minimum_radius(thickness, angle, along=along) if f.source.name == source]
    return found[0].value if found else None


@pytest.mark.parametrize("name", ["DC01", "S235"])
@pytest.mark.parametrize(("thickness", "radius"), list(zip(COLUMNS, ROW_390, strict=True)))
def test_minimum_radii(name: str, thickness: float, radius: float) -> None:
    """Edition 1975-10, row Rm up to 390, across the rolling direction, bend angle up to 120 (seen)."""
    assert by(load_metals()[name], "din-6935", thickness, 90) == radius


@pytest.mark.parametrize(
    ("ultimate", "thickness", "radius"),
    [(390, 3.5, 5), (391, 3.5, 5), (490, 4.5, 8), (490, 0.8, 1.2), (630, 0.8, 1.6), (510, 20, 50)],
)
def test_minimum_radii_by_strength(tmp_path: Path, ultimate: int, thickness: float, radius: float) -> None:
    """Edition 1975-10, rows up to 390, 390 to 490, 490 to 640 N/mm2 (seen), for a steel of one's own."""
    own = tmp_path / "steels.toml"
    own.write_text(
        f'[metals.mine]\nfamily = "steel"\nultimate = {{ value = {ultimate}, unit = "MPa", kind = "minimum" }}\n'
    )
    assert by(load_metals(own)["mine"], "din-6935", thickness, 120) == radius


@pytest.mark.parametrize(("angle", "along"), [(121, False), (90, True), (121, True)])
def test_next_thicker_column(angle: float, along: bool) -> None:
    """Bend angle above 120 or along the rolling direction: next thicker column (seen)."""
    metal = load_metals()["DC01"]
    assert by(metal, "din-6935", 1.2, 120) == 1.6
    assert by(metal, "din-6935", 1.2, angle, along=along) == 2.5
    assert by(metal, "din-6935", 20, angle, along=along) is None


def test_two_independent_pages_agree_on_s235() -> None:
    """EN 10025-2, S235 across, 1-1.5 to 8-10 mm (seen), equals the first row of DIN 6935 cell by cell."""
    metal = load_metals()["S235"]
    for thickness, radius in zip(COLUMNS[1:10], ROW_390[1:10], strict=True):
        assert by(metal, "en-10025-2", thickness, 90) == by(metal, "din-6935", thickness, 90) == radius


@pytest.mark.parametrize(("thickness", "radius"), [(1.5, 1.6), (3, 3), (4, 6), (5, 8), (7, 12), (10, 20)])
def test_s235_along_the_rolling_direction(thickness: float, radius: float) -> None:
    """EN 10025-2, S235 along (seen)."""
    assert by(load_metals()["S235"], "en-10025-2", thickness, 90, along=True) == radius
