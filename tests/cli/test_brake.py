"""``flatgen plan`` and the shop in ``draw``: what is printed and written, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran

Run = Callable[..., Ran]

PART = """metal = "5052-H32"
thickness = "1 mm"
inside_radius = "3 mm"
length = "100 mm"
section = [
  { leg = "30 mm", name = "lip" },
  { bend = 90, way = "down" },
  { leg = "60 mm", name = "web" },
  { bend = 90, way = "up" },
  { leg = "40 mm" },
]
"""
SHOP = """title = "Brake of the tests"
[brake]
length = "1000 mm"
throat = "open"
bed_depth = "120 mm"
bed_height = "100 mm"
open_ends = "both"
[brake.hinge]
forward = "0 mm"
up = "0 mm"
[clamp_bar]
nose_radius = "1.5 mm"
nose_angle = 45
height = "40 mm"
depth = "60 mm"
lift = "25 mm"
clamping_depth = "30 mm"
[leaf]
face = "40 mm"
drop = "0 mm"
depth = "60 mm"
swing = 135
weight = "8 kg"
weight_arm = "25 mm"
[lever]
length = "600 mm"
handles = "both ends"
effort = "300 N"
[[set_up]]
name = "plain"
[[set_up]]
name = "round nose"
nose_radius = "3 mm"
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "part.toml").write_text(PART, encoding="utf-8")
    return tmp_path


@pytest.fixture
def bench(here: Path) -> Path:
    (here / "shop.toml").write_text(SHOP, encoding="utf-8")
    return here


def test_plan_needs_a_shop(run: Run, here: Path) -> None:
    ran = run("plan", "part.toml")
    assert ran.exit_code == 2
    assert "FG034" in ran.stderr
    assert "flatgen start --shop" in ran.stderr


def test_plan_prints_and_draws_its_stages(run: Run, bench: Path) -> None:
    ran = run("plan", "part.toml", "--no-pictures")
    assert ran.exit_code == 0, ran.stderr
    for text in ("Brake of the tests", "set-up plain", "far face", "near face", "web", "estimate", "Hands clear"):
        assert text in ran.stdout
    assert not (bench / "out").exists()
    ran = run("plan", "part.toml", "--json")
    files = json.loads(ran.stdout)["files"]
    assert [f.rpartition("/")[2] for f in files] == ["stage-01-A.svg", "stage-02-B.svg", "all-stages.svg"]
    assert all((bench / f).read_text("utf-8").startswith("<?xml") for f in files)


def test_plan_says_how_each_stage_is_handled(run: Run, bench: Path) -> None:
    """A Z of one down and one up bend: the sheet is turned over once (common practice, no source)."""
    answer = json.loads(run("plan", "part.toml", "--no-pictures", "--json").stdout)["schedule"]
    assert answer["order"]["state"] == "best"
    assert answer["order_checked"] is True
    first, second = (s["handling"] for s in answer["stages"])
    assert first["move"] == "lay the sheet in, far face up"
    assert second["move"].startswith("turn it over")
    assert first["clearance"] > 0
    assert second["refused"] == ""


def test_why_a_bend_does_not_come_earlier(run: Run, bench: Path) -> None:
    wide = SHOP.replace('face = "40 mm"', 'face = "60 mm"')
    (bench / "wide.toml").write_text(wide, encoding="utf-8")
    ran = run("plan", "part.toml", "--shop", "wide.toml", "--why", "B")
    assert ran.exit_code == 1
    for text in ("why bend B does not come earlier", "lip would lie in the bed", "FG144", "a leaf face of", "no order"):
        assert text in ran.stdout
    names = {p.name for p in (bench / "out" / "part" / "stages").iterdir()}
    assert "why-B-01-B.svg" in names
    ran = run("plan", "part.toml", "--why", "Z")
    assert ran.exit_code == 2
    assert "[FG033]" in ran.stderr


def test_an_order_of_the_users_is_checked(run: Run, bench: Path) -> None:
    wide = SHOP.replace('face = "40 mm"', 'face = "60 mm"')
    (bench / "wide.toml").write_text(wide, encoding="utf-8")
    ran = run("plan", "part.toml", "--shop", "wide.toml", "--order", "A,B", "--no-pictures")
    assert ran.exit_code == 1
    assert "this order of bending cannot be" in ran.stdout
    good = json.loads(run("plan", "part.toml", "--order", "B,A", "--no-pictures", "--json").stdout)["schedule"]
    assert good["order"]["state"] == "checked"


def test_held_side_and_order(run: Run, bench: Path) -> None:
    """By hand: the line moves from tangent + nose to the other tangent - nose, the blank stays."""
    plain = json.loads(run("plan", "part.toml", "--hold", "A=web", "--json").stdout)["schedule"]["stages"]
    other = json.loads(run("plan", "part.toml", "--hold", "A=1", "--order", "B,A", "--json").stdout)["schedule"][
        "stages"
    ]
    assert [s["bend"] for s in other] == ["B", "A"]
    a, b = next(s for s in plain if s["bend"] == "A"), other[1]
    assert a["sight"]["held"] == {"number": 2, "name": "web"}
    assert b["sight"] == a["other"]
    assert b["other"] == a["sight"]
    assert b["sight"]["from_datum"] == pytest.approx(30 - 4 + 1.5, abs=1e-9)
    assert b["sight"]["face"] == "far"


def test_set_up_moves_the_line_by_its_nose(run: Run, bench: Path) -> None:
    ran = [json.loads(run("plan", "part.toml", *more, "--json").stdout) for more in ((), ("--set-up", "round nose"))]
    first, second = (r["schedule"]["stages"][0]["sight"]["from_held_edge"] for r in ran)
    assert second - first == pytest.approx(1.5, abs=1e-9)


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--hold", "A"), "FG005"),
        (("--hold", "Z=web"), "FG033"),
        (("--hold", "A=5"), "FG033"),
        (("--hold", "A=3"), "FG033"),
        (("--order", "A"), "FG023"),
        (("--set-up", "none"), "FG033"),
        (("--shop", "missing.toml"), "FG001"),
    ],
)
def test_what_cannot_be_asked(run: Run, bench: Path, options: tuple[str, ...], code: str) -> None:
    ran = run("plan", "part.toml", *options)
    assert ran.exit_code == 2
    assert f"[{code}]" in ran.stderr


def test_draw_writes_the_bench_drawing(run: Run, bench: Path) -> None:
    ran = run("draw", "part.toml")
    assert ran.exit_code == 0, ran.stderr
    folder = bench / "out" / "part"
    assert {p.name for p in folder.iterdir()} == {
        f"part.{end}" for end in ("flat.dxf", "bench.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json")
    }
    record = json.loads((folder / "part.json").read_text("utf-8"))
    assert [s["bend"] for s in record["schedule"]["stages"]]
    assert record["schedule"]["shop"]["fingerprint"] in (folder / "part.bench.dxf").read_text("utf-8")
    text = (folder / "part.flat.dxf").read_text("utf-8")
    assert "part.bench.dxf" in text
    assert "no brake is known" not in text


def test_plan_agrees_with_draw(run: Run, bench: Path) -> None:
    planned = json.loads(run("plan", "part.toml", "--json").stdout)["schedule"]["stages"]
    drawn = json.loads(run("draw", "part.toml", "--json").stdout)["schedule"]["stages"]
    for one, two in zip(planned, drawn, strict=True):
        assert one["sight"]["from_datum"] == pytest.approx(two["sight"]["from_datum"], abs=1e-6)
        assert one["sight"]["held"] == two["sight"]["held"]


def test_draw_without_a_shop_knows_no_brake(run: Run, here: Path) -> None:
    assert run("draw", "part.toml", "--only", "dxf,json").exit_code == 0
    folder = here / "out" / "part"
    assert json.loads((folder / "part.json").read_text("utf-8"))["schedule"] is None
    assert "no brake is known" in (folder / "part.flat.dxf").read_text("utf-8")
    ran = run("draw", "part.toml", "--only", "bench")
    assert ran.exit_code == 2
    assert "FG034" in ran.stderr


def test_start_writes_a_shop_file_once(run: Run, here: Path) -> None:
    ran = run("start", "--shop")
    assert ran.exit_code == 0, ran.stderr
    assert "flatgen plan" in ran.stdout
    assert run("start", "--shop").exit_code == 2
    assert run("plan", "part.toml").exit_code in (0, 1)


@pytest.mark.parametrize("label", ["a/b", "../x", "a:b*?", "<&%"])
def test_labels_of_any_kind_make_sound_file_names(run: Run, bench: Path, label: str) -> None:
    """What a label may hold and a file's name may not becomes a hyphen; nothing is written elsewhere."""
    text = PART.replace("{ bend = 90, way", f'{{ bend = 90, label = "{label}", way', 1)
    (bench / "part.toml").write_text(text, encoding="utf-8")
    ran = run("plan", "part.toml", "--why", label)
    assert ran.exit_code == 0, ran.stderr
    names = {p.name for p in (bench / "out" / "part" / "stages").iterdir()}
    assert len(names) == 3
    assert all(set(n) <= set("abcdefghijklmnopqrstuvwxyzAB0123456789-.") for n in names)
    assert {p.name for p in bench.iterdir()} == {"part.toml", "shop.toml", "out"}


def test_a_wide_panel_lies_still_while_its_lips_are_swung(run: Run, bench: Path) -> None:
    """Nobody holds a lip of 12 mm and swings a panel of 600: it is turned instead (common practice, no source)."""
    text = PART.replace("30 mm", "12 mm").replace("60 mm", "600 mm").replace("40 mm", "12 mm").replace("down", "up")
    (bench / "part.toml").write_text(text, encoding="utf-8")
    stages = json.loads(run("plan", "part.toml", "--no-pictures", "--json").stdout)["schedule"]["stages"]
    assert [s["sight"]["held"]["name"] for s in stages] == ["web", "web"]
    assert "round flat" in stages[1]["handling"]["move"]


def test_no_set_up_is_named(run: Run, bench: Path) -> None:
    ran = run("plan", "part.toml", "--set-up", ",")
    assert ran.exit_code == 2
    assert "[FG033]" in ran.stderr
