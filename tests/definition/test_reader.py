"""Profile definitions: what is read from them, and what is said to wrong ones. Expected numbers by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.files import NotAName, safe_name
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.definition.toml.document import LARGEST_FILE
from flatgen.metal.metals import load_metals
from tests.places import ROOT

GOOD = """\
metal = "6061-T6"
thickness = "0.040 in"
inside_radius = "1/8 in"
length = "640 mm"
dimensions = "mould-line"
section = [
  { leg = "18 mm", name = "lip" },
  { bend = 90, way = "down" },
  { leg = "40 mm" },
  { bend = 45, way = "up", inside_radius = "4 mm" },
  { leg = "60 mm" },
]
"""


def _read(folder: Path, text: str, name: str = "part.toml") -> Profile:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_profile(path)


def _faults(folder: Path, text: str | bytes, name: str = "part.toml") -> tuple[Fault, ...]:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputRefused) as caught:
        read_profile(path)
    assert all(f.remedy for f in caught.value.faults)
    assert all(f.where.startswith(str(path)) for f in caught.value.faults)
    return caught.value.faults


def test_a_good_file(tmp_path: Path) -> None:
    part = _read(tmp_path, GOOD)
    assert (part.name, part.metal.name, part.length) == ("part", "6061-T6", 640.0)
    assert part.thickness == pytest.approx(1.016)
    assert [leg.length for leg in part.legs] == [18.0, 40.0, 60.0]
    assert [leg.name for leg in part.legs] == ["lip", None, None]
    assert [(b.label, b.angle, b.way, b.inside_radius) for b in part.bends] == [
        ("A", 90.0, "down", 3.175),
        ("B", 45.0, "up", 4.0),
    ]
    assert part.bends[0].where == f"{tmp_path / 'part.toml'}:8: section[1].bend"
    assert part.findings == ()
    assert part.order is None
    assert part.is_chain


@pytest.mark.parametrize(
    ("old", "new", "code", "line", "said"),
    [
        ('metal = "6061-T6"', 'metal = "6061-T9"', "FG030", 1, "6061-T9"),
        ('metal = "6061-T6"', "metal = 6061", "FG005", 1, "6061 is not a valid string"),
        ('metal = "6061-T6"\n', "", "FG004", None, "metal: this key is missing"),
        ('metal = "6061-T6"', 'metall = "x"\nmetal = "6061-T6"', "FG003", 1, 'did you mean "metal"'),
        ("length =", "lenght =", "FG003", 4, 'did you mean "length"'),
        ("length =", "lenght =", "FG004", None, "length: this key is missing"),
        ("inside_radius = \"1/8 in\"\n", "", "FG004", None, "no value of its own at A"),
        ('"0.040 in"', '"0,040 in"', "FG011", 2, 'write "0.040 in"'),
        ('"0.040 in"', '"0.040"', "FG010", 2, "no unit"),
        ('"0.040 in"', "0.040", "FG010", 2, "no unit"),
        ('"0.040 in"', "true", "FG005", 2, "true is not a number"),
        ('"0.040 in"', "inf", "FG012", 2, "not finite"),
        ('"0.040 in"', "nan", "FG012", 2, "not finite"),
        ('"0.040 in"', '"0.04 mm"', "FG012", 2, "0.050 mm (0.002 in)"),
        ('"0.040 in"', '"40 mm"', "FG012", 2, "25.000 mm (0.984 in)"),
        ('"0.040 in"', '"99 ga"', "FG014", 2, "99"),
        ('"1/8 in"', '"0 mm"', "FG012", 3, "0.001 mm"),
        ('"1/8 in"', '"6 m"', "FG012", 3, "5000.0 mm"),
        ('"640 mm"', '"-640 mm"', "FG012", 4, "negative"),
        ('"640 mm"', '"60 m"', "FG012", 4, "50000.0 mm"),
        ('"640 mm"', '"20 ga"', "FG010", 4, "only a thickness"),
        ('"mould-line"', '"outside"', "FG005", 5, '"inside-overall"'),
        ('leg = "18 mm"', 'leg = "18,5 mm"', "FG011", 7, "section[0].leg"),
        ('leg = "18 mm"', "leg = 18", "FG010", 7, "no unit"),
        ('leg = "18 mm"', "leg = []", "FG005", 7, "an empty list is not a number"),
        ('leg = "18 mm"', 'leg = "4 mm"', "FG021", 7, "4.191 mm at bend A"),
        ('leg = "40 mm"', 'leg = "6 mm"', "FG021", 9, "4.191 mm at bend A and 2.078 mm at bend B"),
        ('name = "lip"', 'nmae = "lip"', "FG003", 7, 'did you mean "name"'),
        ("bend = 90", "bend = 180", "FG013", 8, "hem"),
        ("bend = 90", "bend = 0", "FG013", 8, "from 0.05 to below 180"),
        ("bend = 90", "bend = -90", "FG013", 8, 'way = "down"'),
        ("bend = 90", "bend = 1e300", "FG013", 8, ""),
        ("bend = 90", 'bend = "90,5"', "FG011", 8, "90.5"),
        ("bend = 90", "bend = 0.001", "FG013", 8, "from 0.05 to below 180"),
        ('way = "down"', 'way = "left"', "FG005", 8, "'up' or 'down'"),
        (', way = "down"', "", "FG004", 8, 'way = "up"'),
        ('way = "down"', 'way = "down", radius = "3 mm"', "FG003", 8, 'did you mean "inside_radius"'),
        ('way = "down"', 'way = "down", k = 1.2', "FG024", 8, "not between 0 and 1"),
        ('way = "down"', 'way = "down", k = true', "FG005", 8, "0.42"),
        ('way = "down"', 'way = "down", k = 0.4, deduction = "1 mm"', "FG024", 8, "k and deduction"),
        ('way = "down"', 'way = "down", deduction = "9 mm"', "FG024", 8, "bend A"),
        ('way = "down"', 'way = "down", allowance = "0 mm"', "FG012", 8, ""),
        ('way = "down"', 'way = "down", method = "guess"', "FG024", 8, "aviation"),
        ('way = "down"', 'way = "down", deduction_to = "inside"', "FG024", 8, "no deduction"),
        ('way = "down"', 'way = "down", label = "B"', "FG023", 10, "another's label"),
        ('way = "down"', 'way = "down", label = "a label too long"', "FG023", 8, "1 to 12"),
        ('way = "down"', 'way = "down", label = ""', "FG023", 8, "1 to 12"),
        ('length = "640 mm"', 'length = "640 mm"\nallowance = "5 mm"', "FG024", 5, "bends that differ"),
        ('length = "640 mm"', 'length = "640 mm"\nk = 0.4\nmethod = "aviation"', "FG024", 6, "k and method"),
        ('length = "640 mm"', 'length = "640 mm"\norder = ["A"]', "FG023", 5, "B missing"),
        ('length = "640 mm"', 'length = "640 mm"\norder = ["A", "B", "A"]', "FG023", 5, "named twice"),
        ('length = "640 mm"', 'length = "640 mm"\norder = ["A", "C"]', "FG023", 5, "labels are A, B"),
        ('length = "640 mm"', 'length = "640 mm"\norder = "A"', "FG005", 5, ""),
        ('length = "640 mm"', 'length = "640 mm"\nunits = "cm"', "FG005", 5, "'mm' or 'in'"),
        ('  { leg = "40 mm" },\n', "", "FG020", 9, "two bends follow"),
        ('  { bend = 90, way = "down" },\n', "", "FG020", 8, "two legs follow"),
        ('  { leg = "60 mm" },\n', "", "FG020", 10, "ends with a bend"),
        ('  { leg = "18 mm", name = "lip" },\n', "", "FG020", 7, "begins with a bend"),
        ('{ leg = "40 mm" }', '{ leg = "40 mm", bend = 90 }', "FG020", 9, "both"),
        ('{ leg = "40 mm" }', '{ length = "40 mm" }', "FG020", 9, "neither"),
        ('{ leg = "40 mm" }', "40", "FG005", 9, "neither"),
        ("section = [", "section = [[", "FG002", 13, "broken TOML"),
        ('"0.040 in"', '"0.040 in', "FG002", 2, "broken TOML"),
        ('"640 mm"', "9" * 5000, "FG002", None, "broken TOML"),
    ],
)  # fmt: skip
def test_wrong_input(tmp_path: Path, old: str, new: str, code: str, line: int | None, said: str) -> None:
    assert GOOD.count(old) >= 1
    faults = [f for f in _faults(tmp_path, GOOD.replace(old, new, 1)) if f.code == code]
    assert faults
    assert any(said in str(f) for f in faults)
    head = f"part.toml:{line}" if line else "part.toml"
    assert any(head in f.where for f in faults)
    assert line is not None or not any(re.search(r"toml:\d", f.where) for f in faults)


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("6061-T6", "cheese").replace('"640 mm"', '"640"').replace("bend = 45", "bend = 200")
    text = text.replace('"18 mm"', '"18,5 mm"').replace("0.040 in", "")
    found = _faults(tmp_path, text)
    assert sorted(f.code for f in found) == ["FG010", "FG010", "FG011", "FG013", "FG030"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"a = 1\nb = '\x80'", "in line 2"),
        (b"#" * (LARGEST_FILE + 1), "larger than"),
    ],
)
def test_what_is_no_text(tmp_path: Path, content: bytes, said: str) -> None:
    (fault,) = _faults(tmp_path, content)
    assert fault.code == "FG001"
    assert said in fault.text


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputRefused) as caught:
            read_profile(path)
        assert caught.value.faults[-1].code == "FG001"


def test_brackets_nested_too_deeply(tmp_path: Path) -> None:
    (fault,) = _faults(tmp_path, "a = " + "[" * 50_000 + "]" * 50_000)
    assert fault.code == "FG002"


def test_empty_file_and_byte_order_mark(tmp_path: Path) -> None:
    assert {f.code for f in _faults(tmp_path, "")} == {"FG004"}
    assert len(_faults(tmp_path, "")) == 4
    path = tmp_path / "bom.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_profile(path).fingerprint != ""


def test_too_many_legs(tmp_path: Path) -> None:
    items = '{ leg = "50 mm" }, { bend = 1, way = "up" }, ' * 500 + '{ leg = "50 mm" }'
    text = GOOD[: GOOD.index("section")] + f"section = [{items}]"
    (fault,) = _faults(tmp_path, text)
    assert fault.code == "FG012"
    assert "500 legs" in fault.text


@pytest.mark.parametrize(
    "name",
    ["CON", "nul.flat", "Lpt1", "a:b", "a/b", "..", ".", "", "   ", "a ", "a.", " a", "-a", ".a",
     "a\nb", "a\u202eb", "x" * 101, "a\\b", "a\0b"],
)  # fmt: skip
def test_names_that_lead_elsewhere(name: str) -> None:
    with pytest.raises(NotAName) as caught:
        safe_name(name)
    assert caught.value.remedy


@pytest.mark.parametrize("name", ["roof-rail", "roof rail", "Träger_2.1", "console", "com"])
def test_names_that_are_names(name: str) -> None:
    assert safe_name(name) == name


def test_file_name_is_judged(tmp_path: Path) -> None:
    assert "FG006" in {f.code for f in _faults(tmp_path, GOOD, "con.toml")}


def test_allowance_is_taken_from_the_nearest_level(tmp_path: Path) -> None:
    """K .4 at the head, allowance 5 mm at A, deduction 1.5 mm at A: 2 (3.175 + 1.016) - 1.5 = 6.882."""
    text = GOOD.replace('length = "640 mm"', 'length = "640 mm"\nk = 0.4')
    assert [b.allowance.k for b in _read(tmp_path, text).bends] == pytest.approx([0.4, 0.4])
    own = text.replace('way = "down"', 'way = "down", allowance = "5 mm"')
    first, second = _read(tmp_path, own).bends
    assert first.allowance.length == 5.0
    assert first.deduction == pytest.approx(2 * 4.191 - 5)
    assert second.allowance.k == pytest.approx(0.4)
    taken = text.replace('way = "down"', 'way = "down", deduction = "1.5 mm"')
    first, _ = _read(tmp_path, taken).bends
    assert first.allowance.length == pytest.approx(6.882)
    assert first.deduction == pytest.approx(1.5)
    assert first.deduction_dimensions == "mould-line"


def test_deduction_states_its_own_way_to_dimension(tmp_path: Path) -> None:
    """To the inside: 2 x 3.175 - BD = BA, with BD -0.2: 6.55."""
    way = 'way = "down", deduction = "-0.2 mm", deduction_to = "inside"'
    first, _ = _read(tmp_path, GOOD.replace('way = "down"', way)).bends
    assert first.allowance.length == pytest.approx(6.55)
    assert (first.deduction, first.deduction_dimensions) == (pytest.approx(-0.2), "inside")


def test_labels_order_and_gauge(tmp_path: Path) -> None:
    text = GOOD.replace('way = "down"', 'way = "down", label = "hinge"').replace("0.040 in", "18 ga")
    part = _read(tmp_path, text.replace("dimensions", 'order = ["B", "hinge"]\ndimensions'))
    assert part.order == ("B", "hinge")
    assert (part.order_of("B"), part.order_of("hinge")) == (1, 2)
    assert part.thickness == pytest.approx(0.0403 * 25.4, abs=0.001)
    assert "brown-sharpe" in part.thickness_note


def test_plain_plate_needs_no_radius(tmp_path: Path) -> None:
    text = 'metal = "DC01"\nthickness = 2\nlength = 100\nunits = "mm"\nsection = [{ leg = 50 }]\n'
    assert develop(_read(tmp_path, text)).width == 50.0


def test_short_end_leg_is_noted(tmp_path: Path) -> None:
    """Leg 6 mm less setback 4.191: 1.809 mm of flat, under 2 x 1.016."""
    (finding,) = _read(tmp_path, GOOD.replace('"18 mm"', '"6 mm"')).findings
    assert (finding.code, finding.severity) == ("FG104", "note")
    assert "1.81 mm" in finding.text


def test_radius_under_the_minimum_is_a_finding(tmp_path: Path) -> None:
    found = _read(tmp_path, GOOD.replace("6061-T6", "2024-T3").replace('"1/8 in"', '"0.5 mm"')).findings
    assert "FG101" in {f.code for f in found}
    assert any("bend A" in f.text for f in found)


def test_bends_without_a_metals_method(tmp_path: Path) -> None:
    bare = {name: replace(m, default_method=None) for name, m in load_metals().items()}
    path = tmp_path / "part.toml"
    path.write_text(GOOD)
    with pytest.raises(InputRefused) as caught:
        read_profile(path, bare)
    assert [f.code for f in caught.value.faults] == ["FG024", "FG024"]


def test_fingerprint_follows_numbers_not_comments(tmp_path: Path) -> None:
    first = _read(tmp_path, GOOD)
    assert _read(tmp_path, "# hello\n" + GOOD).fingerprint == first.fingerprint
    assert _read(tmp_path, GOOD.replace("18 mm", "1.8 cm")).fingerprint == first.fingerprint
    assert _read(tmp_path, GOOD.replace("18 mm", "18.1 mm")).fingerprint != first.fingerprint
    assert _read(tmp_path, GOOD.replace("bend = 45", "bend = 45.5")).fingerprint != first.fingerprint


def test_legs_that_run_through_each_other_are_refused(tmp_path: Path) -> None:
    items = ', { bend = 90, way = "up" }, '.join(
        ["{ leg = 40 }", "{ leg = 30 }", "{ leg = 30 }", '{ leg = 60, name = "tail" }']
    )
    text = f'metal = "DC01"\nunits = "mm"\nthickness = 1\ninside_radius = 2\nlength = 9\nsection = [{items}]\n'
    (fault,) = _faults(tmp_path, text)
    assert fault.code == "FG022"
    assert "leg 1" in fault.text
    assert 'leg 4 "tail"' in fault.text
    assert "1.00 mm deep" in fault.text


DEMOS = sorted(p for p in (ROOT / "profiles").glob("*.toml") if p.name != "shop.toml")


def test_there_are_five_demo_parts() -> None:
    assert len(DEMOS) >= 5


@pytest.mark.parametrize("path", [*DEMOS, ROOT / "flatgen" / "definition" / "start.toml"], ids=lambda p: p.stem)
def test_demo_parts_have_no_findings(path: Path) -> None:
    part = read_profile(path)
    assert part.findings == ()
    assert part.bends
    assert part.title


ODD = st.sampled_from(
    ["0", "-1", "1e400", "nan", "-inf", "9" * 400, "true", "[]", "{}", '""', '"x\\n"', "[1]", '"5 mm"',
     "1979-05-27", "0.5", '"up"', '"inside"', '"aviation"', '["A"]', "[[]]", '{ "a\\n" = 1 }', '"\\u0000"',
     "90", '"1/0 in"'],
)  # fmt: skip
PLACES = re.findall(r"(?<== )(?:\"[^\"]*\"|[0-9]+)", GOOD)
EXTRA = [
    "k",
    "method",
    "allowance",
    "deduction",
    "deduction_to",
    "units",
    "order",
    "title",
    "section",
    "label",
    '"\\n"',
]


@settings(
    derandomize=True,
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(st.tuples(st.integers(0, len(PLACES) - 1), ODD), max_size=3),
    st.dictionaries(st.sampled_from(EXTRA), ODD),
)
def test_odd_values_are_read_or_refused_in_plain_lines(
    tmp_path: Path, changes: list[tuple[int, str]], extra: dict[str, str]
) -> None:
    text = GOOD
    for place, value in changes:
        text = text.replace(PLACES[place], value, 1)
    lines = "".join(f"{k} = {v}\n" for k, v in extra.items() if k not in ("section", "label"))
    items = ", ".join(f"{k} = {v}" for k, v in extra.items() if k in ("k", "allowance", "deduction", "label"))
    text = lines + (text.replace('way = "down"', f'way = "down", {items}', 1) if items else text)
    path = tmp_path / "odd.toml"
    path.write_text(text)
    refused: tuple[Fault, ...] = ()
    try:
        assert len(read_profile(path).legs) == 3
    except InputRefused as error:
        refused = error.faults
    assert all((f.where + f.text + f.remedy).isprintable() and f.remedy and len(f.text) < 400 for f in refused)
