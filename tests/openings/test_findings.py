"""What is told of openings: one finding for those that are alike, with the worst and its numbers. By hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from flatgen.core.opening_rules import default_rules, read_rules
from flatgen.openings.findings import MOST_KINDS, DefinedOpening, OpeningRow, rule_findings
from flatgen.openings.measure import MeasuredOpening
from tests.conftest import Ran

PART = """metal = "6061-T6"
thickness = "1 mm"
inside_radius = "3 mm"
length = "200 mm"
section = [ { leg = "30 mm", name = "lip" }, { bend = 90, way = "up" }, { leg = "60 mm", name = "web" } ]
"""
HOLE = '[[opening]]\nleg = "web"\nshape = "round"\ndiameter = "6 mm"\nalong = "20 mm"\n'


def row(x: float, *, rivet: bool = False, entry: int = 0, edge: float = 9.0, tangent: float = 9.0) -> OpeningRow:
    known = DefinedOpening(0, "round", (4.0, 4.0), None, rivet, entry)
    return OpeningRow(
        MeasuredOpening("round", (x, 5.0), (4.0, 4.0), (0,), (), tangent, "A", edge, None, None), known, 'leg 1 "web"'
    )


def test_a_row_of_two_hundred_gives_one_finding_with_the_worst() -> None:
    rows = [row(float(n), tangent=1.9 - 0.001 * n) for n in range(200)]
    (one,) = rule_findings(rows, default_rules(), 1.0)
    assert (one.code, one.severity) == ("FG110", "caution")
    for part in ("200 openings alike", "1.701 mm", "(199.0, 5.0)", "2.000 mm", "bend A", "common practice, no source"):
        assert part in one.text
    assert "opening_to_tangent" in one.remedy


def test_exactly_the_limit_is_kept_and_off_is_off() -> None:
    assert rule_findings([row(0.0, tangent=2.0, edge=2.0)], default_rules(), 1.0) == ()
    off, _ = read_rules({"opening_to_tangent": "off"}, None)
    assert rule_findings([row(0.0, tangent=0.5)], off, 1.0) == ()


def test_rivets_by_their_own_rules() -> None:
    """d 4: centre to edge 2 + 5 = 7 under 8; centres 11 apart under 12; no rivet, no rule."""
    rivets = [row(0.0, rivet=True, edge=5.0), row(11.0, rivet=True, edge=5.0)]
    edge, spacing = rule_findings(rivets, default_rules(), 1.0)
    assert (edge.code, spacing.code) == ("FG113", "FG113")
    assert "7.000 mm" in edge.text
    assert "8.000 mm" in edge.text
    assert "11.000 mm" in spacing.text
    assert "12.000 mm" in spacing.text
    assert "AC 43.13" in spacing.text
    assert rule_findings([row(0.0, edge=5.0), row(11.0, edge=5.0)], default_rules(), 1.0) == ()


def test_many_kinds_are_bounded() -> None:
    found = rule_findings([row(float(n), edge=1.0 + n / 1000, entry=n) for n in range(500)], default_rules(), 1.0)
    assert len(found) == MOST_KINDS + 1
    assert f"{500 - MOST_KINDS} more openings" in found[-1].text


@pytest.mark.parametrize(
    ("keys", "code"),
    [
        ('across = "8 mm"', "FG110"),
        ('across_from = "right"\nacross = "4.5 mm"', "FG111"),
        ('across = "30 mm"\nrow_along = { count = 3, pitch = "7.5 mm" }', "FG112"),
        ('across = "30 mm"\nrivet = true\nrow_along = { count = 3, pitch = "17 mm" }', "FG113"),
    ],
)
def test_a_broken_rule_reaches_answer_drawing_json_and_exit_status(
    keys: str, code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[..., Ran]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text(PART + HOLE + keys + "\n")
    checked = run("check", "p.toml", "--json")
    drawn = run("draw", "p.toml", "--only", "dxf,json")
    assert (checked.exit_code, drawn.exit_code) == (1, 1)
    assert code in drawn.stdout
    answer, before = json.loads(Path("out/p/p.json").read_text("utf-8")), json.loads(checked.stdout)
    assert [f["code"] for f in answer["findings"]] == [code]
    assert [f["code"] for f in before["findings"]] == [code]
    assert answer["findings"][0]["text"].split(" (")[0] in Path("out/p/p.flat.dxf").read_text("utf-8").replace(
        "\n", " "
    )


def test_check_and_draw_measure_alike_and_json_has_every_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[..., Ran]
) -> None:
    """Hole of 6 at 20 from the mould line, setback 4: 20 - 4 - 3 to the tangent line; 20 along: 20 - 3 to the edge."""
    monkeypatch.chdir(tmp_path)
    row_keys = 'across = "20 mm"\nname = "vent"\nrow_along = { count = 3, last = "20 mm" }\n'
    Path("p.toml").write_text(PART + HOLE + row_keys)
    drawn, checked = (json.loads(run(*a, "--json").stdout) for a in (("draw", "p.toml"), ("check", "p.toml")))
    assert drawn["findings"] == checked["findings"] == []
    assert drawn["blank"]["area"] == pytest.approx(checked["blank"]["area"], rel=1e-9)
    one = min(drawn["openings"], key=lambda o: o["centre"][1])
    assert (one["shape"], one["diameter"], one["name"], one["entry"], one["number"]) == ("round", 6.0, "vent", 1, 1)
    assert one["legs"] == [{"number": 2, "name": "web"}]
    assert (one["bends"], one["tangent_of"]) == ([], "A")
    assert one["to_tangent"] == pytest.approx(13.0, abs=1e-6)
    assert one["to_edge"] == pytest.approx(17.0, abs=1e-6)  # along: 20 - 3
    assert one["to_opening"] == pytest.approx(80.0 - 6.0, abs=1e-6)
    by_place = [sorted(a["openings"], key=lambda o: o["centre"][1]) for a in (drawn, checked)]
    for a, b in zip(*by_place, strict=True):
        for key in ("centre", "to_tangent", "to_edge", "to_opening", "diameter"):
            assert a[key] == pytest.approx(b[key], abs=1e-6)
        assert [a[k] for k in ("legs", "number")] == [b[k] for k in ("legs", "number")]
    lip = drawn["legs"][0]
    assert lip["left"] == pytest.approx([0.0, 200.0], abs=1e-6)
    assert lip["right"] == pytest.approx([0.0, 200.0], abs=1e-6)


def test_check_says_what_it_could_not_judge(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[..., Ran]
) -> None:
    monkeypatch.chdir(tmp_path)
    cut = '[[cut]]\ntool = "plane"\nleg = "web"\nalong = "190 mm"\nremove = "top"\n'
    Path("p.toml").write_text(PART + HOLE + 'across = "3 mm"\n' + HOLE + 'across = "30 mm"\n' + cut)
    result = run("check", "p.toml", "--json")
    answer = json.loads(result.stdout)
    (note,) = answer["findings"]
    assert (result.exit_code, note["code"], note["severity"]) == (0, "FG116", "note")
    assert "1 opening over a bend" in note["text"]
    assert "1 cut" in note["text"]
    assert answer["blank"]["area"] is None
    assert [o["to_edge"] for o in answer["openings"]] == [None]
    drawn = run("draw", "p.toml", "--json", "--only", "json")
    codes = [f["code"] for f in json.loads(drawn.stdout)["findings"]]
    assert drawn.exit_code == 1
    assert "FG110" in codes
    assert "FG114" in codes
    assert "FG116" not in codes
