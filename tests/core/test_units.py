"""Lengths and angles as people write them; expected values by hand, in fractions of 25.4 mm."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatgen.core.errors import CODES
from flatgen.core.units import LONGEST_TEXT, NotALength, in_mm_and_inch, parse_angle, parse_length

STEADY = settings(derandomize=True, max_examples=150, deadline=None)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("23 mm", 23.0),
        ("23mm", 23.0),
        ("  23  MM ", 23.0),
        ("2.3 cm", 23.0),
        ("1 m", 1000.0),
        ("0.040 in", 1.016),
        ('.04"', 1.016),
        ("5. mm", 5.0),
        ("5/8 in", 15.875),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("1 - 1/2 in", 38.1),
        ("1–1/2 in", 38.1),
        ("1½ in", 38.1),
        ("1 ½ in", 38.1),
        ("½ in", 12.7),
        ("1⅝″", 41.275),
        ("1 1⁄2 in", 38.1),
        ("11/2 in", 139.7),
        ("4'2\"", 1270.0),
        ("4' 2 1/2\"", 1282.7),
        ("4'-2\"", 1270.0),
        ("4’2”", 1270.0),
        ("4′ 2½″", 1282.7),
        ("4 ft 2 in", 1270.0),
        ("4 feet 2 inches", 1270.0),
        ("4'", 1219.2),
        ("2 ft", 609.6),
        ("1/2 ft", 152.4),
        ("3''", 76.2),
        ("1\u00a01/2\u202fin", 38.1),
        ("0 mm", 0.0),
    ],
)
def test_forms_of_a_length(text: str, expected: float) -> None:
    found = parse_length(text)
    assert found.value == pytest.approx(expected, rel=1e-15, abs=0)
    assert found.note == ""


@pytest.mark.parametrize(
    ("raw", "unit", "expected"),
    [
        (1.5, "mm", 1.5),
        (40, "mm", 40.0),
        ("40", "mm", 40.0),
        (0.04, "in", 1.016),
        ("1 1/2", "in", 38.1),
        ("3 cm", "in", 30.0),
    ],
)
def test_bare_number_takes_the_unit_of_the_file(raw: str | float, unit: str, expected: float) -> None:
    assert parse_length(raw, default_unit=unit).value == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "code", "part"),
    [
        ("23", "FG010", "no unit"),
        (23, "FG010", "no unit"),
        ("23,5 mm", "FG011", "decimal comma"),
        ("1,000 mm", "FG011", "decimal comma"),
        ("1,234,567 mm", "FG011", "decimal comma"),
        (",5 in", "FG011", "decimal comma"),
        ("1/0 in", "FG010", "divides by zero"),
        ("1 1/0 in", "FG010", "divides by zero"),
        ("1 5/2 in", "FG010", "not under 1"),
        ("4'14\"", "FG010", "12 inches or more"),
        ("4'2", "FG010", "follows the feet"),
        ("1e3 mm", "FG010", ""),
        ("1_000 mm", "FG010", ""),
        ("0x10 mm", "FG010", ""),
        ("+5 mm", "FG010", ""),
        ("1 2 mm", "FG010", ""),
        ("1.5 1/2 in", "FG010", ""),
        ("1/2/3 in", "FG010", ""),
        ("½½ in", "FG010", ""),
        ("5 in 3 mm", "FG010", ""),
        ("five mm", "FG010", ""),
        ("", "FG010", ""),
        ("mm", "FG010", ""),
        ("inf mm", "FG010", ""),
        ("5 furlong", "FG010", "unknown unit"),
        ("٣ mm", "FG010", "arabic-indic"),
        ("５ mm", "FG010", "fullwidth"),
        ("5 µm", "FG010", "micro"),
        ("² mm", "FG010", "superscript"),
        ("1" * 300 + " mm", "FG010", "characters"),
        ("9" * 30 + " mm", "FG012", "beyond"),
        ("-5 mm", "FG012", "negative"),
        ("−5 mm", "FG012", "negative"),
        (10**400, "FG012", ""),
        (float("inf"), "FG012", "finite"),
        (float("nan"), "FG012", "finite"),
        (True, "FG005", "no number"),
        (None, "FG005", "no number"),
        ("20 ga", "FG010", "gauge"),
    ],
)  # fmt: skip
def test_what_is_no_length(text: object, code: str, part: str) -> None:
    with pytest.raises(NotALength) as caught:
        parse_length(text)  # type: ignore[arg-type]
    assert caught.value.code == code
    assert code in CODES
    assert part in caught.value.text
    assert caught.value.remedy
    assert len(str(caught.value)) < 300


def test_decimal_comma_is_told_what_to_write() -> None:
    with pytest.raises(NotALength, match=r'write "23\.5 mm"'):
        parse_length("23,5 mm")
    with pytest.raises(NotALength, match=r'"1000 mm" if the comma'):
        parse_length("1,000 mm")


def test_minus_only_where_it_is_asked_for() -> None:
    assert parse_length("-0.3 mm", signed=True).value == pytest.approx(-0.3)
    assert parse_length(-0.3, signed=True, default_unit="mm").value == pytest.approx(-0.3)


def test_gauge_is_looked_up_and_told() -> None:
    """20 gauge of steel sheet is 0.0359 in (manufacturers' standard); SWG 20 is 0.036 in."""
    asked: list[tuple[str | None, int]] = []

    def look_up(system: str | None, number: int) -> tuple[float, str]:
        asked.append((system, number))
        return (0.0359 * 25.4, "steel") if system is None else (0.036 * 25.4, system)

    found = parse_length("20 ga", gauge=look_up)
    assert found.value == pytest.approx(0.91186)
    assert found.note == "20 ga is 0.912 mm (0.036 in) by steel"
    assert parse_length("20swg", gauge=look_up).value == pytest.approx(0.9144)
    assert asked == [(None, 20), ("swg", 20)]


@pytest.mark.parametrize(
    ("raw", "expected"),
    [(90, 90.0), (22.5, 22.5), ("90", 90.0), ("90 deg", 90.0), ("90°", 90.0), ("22 1/2 deg", 22.5)],
)
def test_forms_of_an_angle(raw: str | float, expected: float) -> None:
    assert parse_angle(raw) == expected


@pytest.mark.parametrize(
    "raw", ["1.57 rad", "-90", -90, "90,5", "right", True, float("nan"), "", "1e2", "9" * 99, 10**50]
)
def test_what_is_no_angle(raw: object) -> None:
    with pytest.raises(NotALength) as caught:
        parse_angle(raw)  # type: ignore[arg-type]
    assert caught.value.code in CODES
    assert caught.value.remedy


def test_both_units_for_the_bench() -> None:
    assert in_mm_and_inch(163.447) == "163.4 mm (6.435 in)"
    assert in_mm_and_inch(0.8128, thickness=True) == "0.813 mm (0.032 in)"


@STEADY
@given(st.integers(0, 10**6), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))
def test_fractions_of_an_inch_come_back_exactly(over: int, under: int) -> None:
    whole, rest = divmod(over, under)
    texts = {f"{over}/{under} in", f"{whole} {rest}/{under} in", f'{whole}-{rest}/{under}"'}
    exact = float(Fraction(over, under) * Fraction(254, 10))
    assert {parse_length(t).value for t in texts} == {exact}


@STEADY
@given(st.decimals(0, 10**6, places=4, allow_nan=False))
def test_decimals_come_back_exactly(value: object) -> None:
    assert parse_length(f"{value} mm").value == float(Fraction(str(value)))


@STEADY
@given(st.integers(0, 99), st.integers(0, 11), st.integers(0, 15))
def test_feet_and_inches_agree_with_inches(feet: int, inches: int, sixteenths: int) -> None:
    both = parse_length(f"{feet}' {inches} {sixteenths}/16\"").value
    assert both == parse_length(f"{(feet * 12 + inches) * 16 + sixteenths}/16 in").value


@STEADY
@given(st.text(max_size=2 * LONGEST_TEXT))
def test_any_text_is_a_length_or_refused_with_a_remedy(text: str) -> None:
    refused = None
    try:
        assert 0 <= parse_length(text).value < float("inf")
    except NotALength as error:
        refused = error
    assert refused is None or (refused.remedy and refused.code in CODES)
