"""``draw`` with a shop file: held sides asked for, the flat as formed, and drawings that a changed brake makes old."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from flatgen.cli.app import app
from flatgen.core.errors import InputRefused
from flatgen.jobs.draw import draw
from flatgen.jobs.result import Options
from tests.cli.test_brake import SHOP
from tests.jobs.test_unfold_order import FOUR_LEGS
from tests.places import ROOT

LIGHT = ("bench", "json")


@pytest.fixture
def rail(tmp_path: Path) -> Path:
    for name in ("roof-rail.toml", "shop.toml"):
        (tmp_path / name).write_bytes((ROOT / "profiles" / name).read_bytes())
    return tmp_path / "roof-rail.toml"


def made(folder: Path) -> dict:  # type: ignore[type-arg]
    found = json.loads((folder / "roof-rail.json").read_text("utf-8"))
    assert isinstance(found, dict)
    return found


def test_another_held_side_moves_its_line_and_never_the_blank(rail: Path, tmp_path: Path) -> None:
    """BA - 2 (Rn + e) apart: BA of the record, nose 1.5, e 0."""
    one, two = tmp_path / "one", tmp_path / "two"
    draw(rail, one, Options(LIGHT, hold="B=web,D=right lip", order="A,B,C,D"))
    draw(rail, two, Options(LIGHT, hold="B=left side,D=right lip", order="B,A,C,D"))
    before, after = made(one), made(two)
    assert before["outline"] == after["outline"]
    assert before["blank"] == after["blank"]
    lines = [{s["bend"]: s["sight"]["from_datum"] for s in m["schedule"]["stages"]} for m in (before, after)]
    allowance = next(b["allowance"] for b in before["bends"] if b["label"] == "B")
    assert lines[0]["B"] - lines[1]["B"] == pytest.approx(allowance - 2 * 1.5, abs=1e-9)
    assert [s["bend"] for s in after["schedule"]["stages"]] == ["B", "A", "C", "D"]
    assert {k: v for k, v in lines[0].items() if k != "B"} == pytest.approx(
        {k: v for k, v in lines[1].items() if k != "B"}
    )


def test_the_flat_as_formed_is_another_blank_and_says_so(rail: Path, tmp_path: Path) -> None:
    """A nose of 4 mm cannot form 1/8 in: the blank follows the radius of the nose."""
    shop = rail.with_name("shop.toml")
    shop.write_text(shop.read_text("utf-8").replace("nose_radius = 1.5", "nose_radius = 4"), encoding="utf-8")
    drawn = draw(rail, tmp_path / "plain", Options(LIGHT))
    formed = draw(rail, tmp_path / "formed", Options(LIGHT, as_formed=True))
    assert any(f.code == "FG132" and f.severity == "caution" for f in drawn.findings)
    assert not any(f.code == "FG132" and f.severity == "caution" for f in formed.findings)
    assert any("in place of 3.175 mm" in f.text for f in formed.findings)
    assert formed.flat.width < drawn.flat.width


def test_what_needs_a_brake_is_refused_without_one(rail: Path, tmp_path: Path) -> None:
    rail.with_name("shop.toml").unlink()
    for options in (Options(LIGHT, hold="A=2"), Options(LIGHT, order="A"), Options(LIGHT, as_formed=True)):
        with pytest.raises(InputRefused, match="FG034"):
            draw(rail, tmp_path / "out", options)
    assert not (tmp_path / "out").exists()


def test_check_says_when_the_brake_was_changed_since(
    rail: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run = CliRunner().invoke
    assert run(app, ["draw", "roof-rail.toml", "--only", "bench,json"]).exit_code == 0
    assert "FG107" not in run(app, ["check", "roof-rail.toml"]).stdout
    shop = rail.with_name("shop.toml")
    shop.write_text(shop.read_text("utf-8").replace("nose_radius = 1.5", "nose_radius = 1.6"), encoding="utf-8")
    told = run(app, ["check", "roof-rail.toml"]).stdout
    assert "FG107" in told
    assert "shop.toml" in told


@pytest.mark.parametrize("order", ["", "B,C,A"])
def test_the_flat_carries_the_order_that_was_checked(tmp_path: Path, order: str) -> None:
    """In the record and in the text of the drawing: the user's own order, or else that of the schedule's stages."""
    import ezdxf

    (tmp_path / "part.toml").write_text(FOUR_LEGS, encoding="utf-8")
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    drawn = draw(tmp_path / "part.toml", tmp_path / "one", Options(("dxf", "json"), order=order))
    record = json.loads((tmp_path / "one" / "part.json").read_text("utf-8"))
    assert record["schedule"]["order"]["state"] == ("checked" if order else "best")
    stages = [s["bend"] for s in record["schedule"]["stages"]]
    assert stages == (order.split(",") if order else ["C", "B", "A"])  # by the search: see test_received_order
    told = {label: number for number, label in enumerate(stages, start=1)}
    assert {b["label"]: b["order"] for b in record["bends"]} == told
    texts = [e.plain_text() for e in ezdxf.readfile(drawn.files[0]).modelspace().query("TEXT")]
    for label, number in told.items():
        assert any(t.startswith(f"{label}  bend") and t.endswith(f"order {number}") for t in texts), (label, texts)
