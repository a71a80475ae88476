"""How radius tables are read, and what a bend is told."""

import pytest

from flatgen.metal.allowance import NotUsable
from flatgen.metal.figures import Direction, RadiusTable, Reading, Source, gauge_thickness
from flatgen.metal.metals import Metal, find_metal, load_metals, radius_findings

A, B = Source("a", "Table A"), Source("b", "Table B")


def table(
    source: Source = A,
    *,
    reading: Reading = "nominal",
    direction: Direction = "any",
    step_up: bool = False,
    radii: tuple[tuple[float, float], ...] = ((1, 1), (1, 2), (3, 3)),
) -> RadiusTable:
    return RadiusTable(source, "seen", "t", "mm", (1.0, 2.0, 4.0), radii, reading, direction, 90, step_up)


@pytest.mark.parametrize(
    ("reading", "thickness", "times"),
    [
        ("nominal", 0.5, 1), ("nominal", 1.0, 1), ("nominal", 1.024, 1), ("nominal", 1.03, 2),
        ("nominal", 4.09, 3),
        ("nominal", 4.2, None), ("up to", 1.0, 1), ("up to", 1.01, 2), ("up to", 4.0, 3),
        ("up to", 4.01, None),
        ("this only", 2.0, 2), ("this only", 1.5, None), ("this only", 4.02, 3), ("this only", 0.9, None),
    ],
)  # fmt: skip
def test_columns(reading: Reading, thickness: float, times: float | None) -> None:
    """Between two columns the next thicker one; beyond the thickest none."""
    found = table(reading=reading).figure(thickness, 90)
    assert (found and found.value) == (times and pytest.approx(times * thickness))


def test_range_keeps_the_smaller_figure() -> None:
    found = table().figure(2.0, 90)
    assert found is not None
    assert (found.value, found.smaller) == (4.0, 2.0)
    assert "1 to 2 t, larger used" in found.read


@pytest.mark.parametrize(
    ("direction", "step_up", "along", "angle", "times"),
    [
        ("across", False, False, 90, 1), ("across", False, True, 90, None), ("across", True, True, 90, 2),
        ("across", True, False, 91, 2), ("across", True, False, 90, 1), ("along", False, False, 90, None),
        ("along", False, True, 90, 1), ("any", False, True, 120, 1),
    ],
)  # fmt: skip
def test_rolling_direction(direction: Direction, step_up: bool, along: bool, angle: float, times: float | None) -> None:
    found = table(direction=direction, step_up=step_up).figure(1.0, angle, along=along)
    assert (found and found.value) == times


def test_sharper_than_printed_is_said() -> None:
    sharper, square = table().figure(1.0, 100), table().figure(1.0, 90)
    assert sharper is not None
    assert square is not None
    assert "printed for bends up to 90 degrees" in sharper.read
    assert "printed for" not in square.read


@pytest.mark.parametrize("columns", [(), (1.0, 2.0), (2.0, 1.0, 3.0)])
def test_table_that_is_none(columns: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="columns"):
        RadiusTable(A, "seen", "t", "mm", columns, ((1, 1), (1, 1), (1, 1)))


METAL = Metal("X", "steel", radius_tables=(table(B, radii=((0, 0), (1, 1), (1, 1))), table(A)))


@pytest.mark.parametrize(
    ("radius", "code", "severity"),
    [
        (5.0, None, ""), (4.0, None, ""), (3.99, "FG102", "note"), (3.8, "FG102", "note"),
        (3.79, "FG101", "caution"), (0.0, "FG101", "caution"),
    ],
)  # fmt: skip
def test_findings(radius: float, code: str | None, severity: str) -> None:
    """t = 2, safest 2 t = 4 mm: a note down to 0.1 t under it, then a caution; it names both sources."""
    findings = radius_findings(METAL, 2.0, radius, 90, "part.toml:3: section[1]")
    if code is None:
        assert findings == ()
        return
    (finding,) = findings
    assert (finding.code, finding.severity, finding.where) == (code, severity, "part.toml:3: section[1]")
    for words in (
        "4 mm (0.157 in) by Table A",
        "column 2 mm",
        "sources disagree: 2 mm (0.079 in) by Table B",
    ):
        assert words in finding.text
    assert "4 mm or more" in finding.remedy


def test_sources_that_agree_are_not_named_twice() -> None:
    metal = Metal("X", "steel", radius_tables=(table(A), table(B)))
    (finding,) = radius_findings(metal, 2.0, 1.0, 90, "x")
    assert "disagree" not in finding.text
    assert [f.source for f in metal.minimum_radius(2.0, 90)] == [A, B]


def test_unknown_is_said() -> None:
    (finding,) = radius_findings(load_metals()["304"], 10.0, 1.0, 90, "x")
    assert (finding.code, finding.severity) == ("FG103", "note")
    (finding,) = radius_findings(METAL, 5.0, 50.0, 90, "x")
    assert finding.code == "FG103"


def test_safest_source_first() -> None:
    """6061-T6, .032 in: process specification .120 in, trade table .06, 1 t and 1.5 t from the others."""
    figures = load_metals()["6061-T6"].minimum_radius(0.032 * 25.4, 90)
    assert [f.source.name for f in figures] == ["process-spec", "trade-inch", "tme", "aa-6061"]
    assert figures[0].value == pytest.approx(0.120 * 25.4)


@pytest.mark.parametrize(
    ("text", "name"),
    [("6061-t6", "6061-T6"), ("6061 T6", "6061-T6"), ("4130 Normalised", "4130-N"), ("s235jr", "S235"),
     ("5052o", "5052-O")],
)  # fmt: skip
def test_metal_as_people_write_it(text: str, name: str) -> None:
    assert find_metal(load_metals(), text).name == name


@pytest.mark.parametrize(
    ("text", "near"),
    [("6061-T5", "6061-T6"), ("6061", "6061-O or 6061-T4 or 6061-T6"), ("5025-H32", "5052-H32"),
     ("", "known are: 6061-O")],
)  # fmt: skip
def test_unknown_metal(text: str, near: str) -> None:
    with pytest.raises(NotUsable, match="no metal is called") as refused:
        find_metal(load_metals(), text)
    assert near in refused.value.remedy


def test_gauge_that_is_none() -> None:
    with pytest.raises(NotUsable, match="number 99") as refused:
        gauge_thickness("brown-sharpe", 99)
    assert refused.value.remedy
    with pytest.raises(NotUsable, match="brown-sharp") as refused:
        gauge_thickness("brown-sharp", 20)
    assert 'did you mean "brown-sharpe"' in refused.value.remedy
