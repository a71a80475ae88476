"""The commands of test strips from a person's side: cut, filled in, learned, drawn again; and what goes wrong.

What a strip comes out as is simulated by plane geometry (``simulated_brake``), which shares no code with the model.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips.form import read_form
from flatgen.strips.log import read_log
from tests.conftest import Ran
from tests.places import PROFILES
from tests.simulated_brake import Truth, written

Run = Callable[..., Ran]
STRIP = "out/roof-rail-strip/roof-rail-strip"
TRUTH = Truth()


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the rail, the channel and the shop; no log yet."""
    for name in ("roof-rail", "pier-channel", "shop"):
        shutil.copy(PROFILES / f"{name}.toml", tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def fill(path: Path, number: int = 1, **changes: object) -> None:
    """A form as a worker would fill it in, from a strip of its own metal and brake."""
    (reading,) = read_form(path).readings
    done = replace(written(TRUTH, reading, number, np.random.default_rng(number)), **changes)  # type: ignore[arg-type]
    path.write_text(form_text([done]), "utf-8")


def test_a_strip_has_the_files_of_any_part_a_form_and_a_card(run: Run, bench: Path) -> None:
    ran = run("strip", "roof-rail.toml")
    assert ran.exit_code == 0, ran.stderr
    ends = ("flat.dxf", "bench.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json")
    wanted = {f"roof-rail-strip.{end}" for end in (*ends, "form.toml", "card.pdf", "card.svg")}
    assert {p.name for p in (bench / "out/roof-rail-strip").iterdir()} == wanted
    record = json.loads((bench / f"{STRIP}.json").read_text("utf-8"))
    part = json.loads(run("draw", "roof-rail.toml", "--only", "json", "--json").stdout)
    assert record["blank"]["width"] == pytest.approx(part["blank"]["width"])
    assert record["blank"]["length"] == 25.0
    own, its = ([s["bend"] for s in r["schedule"]["stages"]] for r in (record, part))
    assert own == its
    lines = [{s["bend"]: s["sight"]["from_held_edge"] for s in r["schedule"]["stages"]} for r in (record, part)]
    assert lines[0] == pytest.approx(lines[1])
    assert {Path(f).name for f in record["files"]} == wanted
    assert f"flatgen learn {STRIP}.form.toml" in ran.stdout


def test_a_form_that_was_filled_in_is_never_written_over(run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    again = run("strip", "roof-rail.toml", "--only", "json")
    assert again.exit_code == 0
    assert not (bench / f"{STRIP}.form-2.toml").exists()
    fill(bench / f"{STRIP}.form.toml")
    before = (bench / f"{STRIP}.form.toml").read_bytes()
    ran = run("strip", "roof-rail.toml", "--only", "json")
    assert ran.exit_code == 0
    assert (bench / f"{STRIP}.form.toml").read_bytes() == before
    assert (bench / f"{STRIP}.form-2.toml").exists()
    assert "form-2.toml" in ran.stdout


def test_some_bends_a_width_and_a_narrow_strip(run: Run, bench: Path) -> None:
    ran = run("strip", "roof-rail.toml", "--only-bends", "A,B", "--width", "1 1/4 in", "--only", "json", "--json")
    assert ran.exit_code == 0, ran.stderr
    record = json.loads(ran.stdout)
    assert [b["label"] for b in record["bends"]] == ["A", "B"]
    assert record["blank"]["length"] == pytest.approx(31.75)
    narrow = run("strip", "roof-rail.toml", "--width", "6 mm", "--only", "json")
    assert narrow.exit_code == 1
    assert "FG154" in narrow.stdout
    for options, code in (
        (("--width", "wide"), "FG010"),
        (("--width", "-3 mm"), "FG012"),
        (("--only-bends", "Z"), "FG033"),
        (("--shop", "none.toml"), "FG001"),
        (("--paper", "A9"), "FG005"),
        (("--only", "films"), "FG005"),
    ):
        refused = run("strip", "roof-rail.toml", *options)
        assert refused.exit_code == 2
        assert f"[{code}]" in refused.stderr


def test_a_strip_needs_a_brake_and_bends(run: Run, bench: Path) -> None:
    (bench / "shop.toml").unlink()
    ran = run("strip", "roof-rail.toml")
    assert ran.exit_code == 2
    assert "[FG034]" in ran.stderr
    assert not (bench / "out").exists()


def test_a_teaching_strip(run: Run, bench: Path) -> None:
    ran = run("strip", "roof-rail.toml", "--teaching", "--only", "json")
    assert ran.exit_code == 0, ran.stderr
    record = json.loads((bench / "out/roof-rail-teaching/roof-rail-teaching.json").read_text("utf-8"))
    assert len(record["bends"]) == 2
    assert {s["sight"]["held"]["number"] for s in record["schedule"]["stages"]} == {2}
    assert record["strip"]["of"] == "roof-rail"


def test_a_strip_of_a_received_part(run: Run, bench: Path) -> None:
    assert run("draw", "pier-channel.toml", "--only", "step").exit_code in (0, 1)
    step = "out/pier-channel/pier-channel.formed.step"
    ran = run("strip", step, "--metal", "5052-H32", "--shop", "shop.toml", "--only", "json", "--json")
    assert ran.exit_code in (0, 1), ran.stderr
    record = json.loads(ran.stdout)
    assert record["strip"]["of"] == "pier-channel.formed"
    assert Path(record["strip"]["form"]).exists()
    without = run("strip", step, "--k", "0.42", "--shop", "shop.toml")
    assert without.exit_code == 2
    assert "[FG157]" in without.stderr


def test_the_whole_way(run: Run, bench: Path) -> None:
    """Cut, fill in, learn, ask, learn again, take back: the log keeps all, and draw follows it."""
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    form = bench / f"{STRIP}.form.toml"
    fill(form)
    ran = run("learn", str(form))
    assert ran.exit_code == 0, ran.stderr
    assert "added   roof-rail 1" in ran.stdout
    assert "from 4 bends on 1 strip" in ran.stdout
    again = json.loads(run("learn", str(form), "--json").stdout)
    assert again["added"] == []
    assert len(again["known_before"]) == 1
    assert len(read_log(bench / "strips.jsonl").entries) == 1
    known = json.loads(run("learned", "--json").stdout)
    assert [s["name"] for s in known["strips"]] == ["roof-rail 1 1"]
    (allowance,) = known["allowances"]
    # by plane geometry: the allowance of the simulated metal for the radius asked, to within the interval
    true = np.pi / 2 * (TRUTH.radius + TRUTH.k * TRUTH.thickness)
    drawn = true + 2 * (3.175 + 1.016 - TRUTH.radius - TRUTH.thickness)
    assert abs(allowance["drawn"] - drawn) < 3 * allowance["drawn_spread"]
    told = run("learned")
    assert told.exit_code == 0
    assert "from 4 bends on 1 strip" in told.stdout
    drawn_part = json.loads(run("draw", "roof-rail.toml", "--only", "json", "--json").stdout)
    assert all("4 bends on 1 strip" in b["method"] for b in drawn_part["bends"])
    digest = known["strips"][0]["digest"]
    assert run("learn", "--withdraw", digest).exit_code == 2
    back = run("learn", "--withdraw", digest[:8], "--why", "wrong sheet", "--shop", "shop.toml")
    assert back.exit_code == 0, back.stderr
    assert "taken back" in back.stdout
    assert json.loads(run("learned", "--json").stdout)["strips"] == []
    assert json.loads(run("learned", "--json").stdout)["withdrawn"][0]["why"] == "wrong sheet"


def test_a_second_strip_follows_the_first(run: Run, bench: Path) -> None:
    """Bent as the part will be bent: its lines move with what the first one told, and nothing is cautioned."""
    first = json.loads(run("strip", "roof-rail.toml", "--only", "json", "--json").stdout)
    fill(bench / f"{STRIP}.form.toml")
    assert run("learn", f"{STRIP}.form.toml").exit_code == 0
    ran = run("strip", "roof-rail.toml", "--only", "json", "--json")
    assert ran.exit_code == 0, ran.stdout
    part = json.loads(run("draw", "roof-rail.toml", "--only", "json", "--json").stdout)
    lines = [
        {s["bend"]: s["sight"]["from_held_edge"] for s in r["schedule"]["stages"]}
        for r in (json.loads(ran.stdout), part, first)
    ]
    assert lines[0] == pytest.approx(lines[1])
    assert lines[0] != pytest.approx(lines[2], abs=0.1)


def test_the_report(run: Run, bench: Path) -> None:
    refused = run("learned", "--report")
    assert refused.exit_code == 2
    assert "[FG157]" in refused.stderr
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    fill(bench / f"{STRIP}.form.toml")
    assert run("learn", f"{STRIP}.form.toml").exit_code == 0
    ran = run("learned", "--report", "--json")
    assert ran.exit_code == 0, ran.stderr
    told = json.loads(ran.stdout)
    assert all((bench / f).exists() for f in told["files"])
    assert any("left" in p["remedy"] for p in told["patterns"])
    assert "[FG005]" in run("learned", "--report", "--paper", "roll:300").stderr


def test_contradictions_are_asked_about_and_added_only_on_demand(run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    form = bench / f"{STRIP}.form.toml"
    fill(form)
    text = form.read_text("utf-8")
    (reading,) = read_form(form).readings
    web = reading.legs[2].got
    assert web is not None
    form.write_text(text.replace(f'got = "{web:g} mm"', 'got = "80 mm"'), "utf-8")
    asked = run("learn", str(form))
    assert asked.exit_code == 2
    assert "[FG153]" in asked.stderr
    assert "--as-measured" in asked.stderr
    assert not (bench / "strips.jsonl").exists()
    taken = run("learn", str(form), "--as-measured")
    assert taken.exit_code == 1
    assert "FG153" in taken.stdout
    assert len(read_log(bench / "strips.jsonl").entries) == 1


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (('got = "18', 'got = "-18'), "FG012"),
        (('metal = "6061-T6"', 'metal = "unobtainium"'), "FG152"),
        (('units = "mm"', 'units = "furlong"'), "FG0"),
        (("[[strip]]", "[[strap]]"), "FG0"),
    ],
)
def test_forms_that_cannot_be(change: tuple[str, str], code: str, run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    form = bench / f"{STRIP}.form.toml"
    fill(form, legs=replace_first(form))
    form.write_text(form.read_text("utf-8").replace(*change), "utf-8")
    ran = run("learn", str(form))
    assert ran.exit_code == 2
    assert code in ran.stderr
    assert "Traceback" not in ran.stderr
    assert not (bench / "strips.jsonl").exists()


def replace_first(form: Path) -> tuple[object, ...]:
    """Legs with the first one measured as 18.1 mm, the others as asked."""
    (reading,) = read_form(form).readings
    return tuple(replace(g, got=18.1 if n == 0 else g.asked) for n, g in enumerate(reading.legs))


def test_an_empty_form_teaches_nothing(run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    ran = run("learn", f"{STRIP}.form.toml")
    assert ran.exit_code == 2
    assert "nothing was measured" in ran.stderr
    assert run("learn").exit_code == 2
    assert run("learned").exit_code == 0


def test_a_damaged_log_is_told_and_the_rest_is_used(run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    fill(bench / f"{STRIP}.form.toml")
    assert run("learn", f"{STRIP}.form.toml").exit_code == 0
    log = bench / "strips.jsonl"
    log.write_bytes(b"not a line\n" + log.read_bytes())
    ran = run("learned")
    assert ran.exit_code == 1
    assert "FG150" in ran.stdout
    assert "from 4 bends on 1 strip" in ran.stdout


def test_a_strip_of_a_metal_that_is_no_longer_known(run: Run, bench: Path) -> None:
    assert run("strip", "roof-rail.toml", "--only", "json").exit_code == 0
    fill(bench / f"{STRIP}.form.toml")
    assert run("learn", f"{STRIP}.form.toml").exit_code == 0
    log = bench / "strips.jsonl"
    from flatgen.strips.log_lines import format_line

    (entry,) = read_log(log).entries
    log.write_bytes(format_line(replace(entry.reading, metal="gone")))
    ran = run("learned")
    assert ran.exit_code == 1
    assert "gone" in ran.stdout
    assert run("draw", "roof-rail.toml", "--only", "json").exit_code == 0


HOSTILE = "<b>&amp; %%d \\P {x} 折板"


def test_hostile_names_go_the_whole_way(run: Run, bench: Path) -> None:
    text = (bench / "roof-rail.toml").read_text("utf-8")
    spelled = HOSTILE.replace("\\", "\\\\")
    (bench / "roof-rail.toml").write_text(text.replace('"left lip"', f'"{spelled}"'), "utf-8")
    ran = run("strip", "roof-rail.toml")
    assert ran.exit_code == 0, ran.stderr
    form = bench / f"{STRIP}.form.toml"
    (reading,) = read_form(form).readings
    assert reading.legs[0].name == HOSTILE
    fill(form)
    assert run("learn", str(form)).exit_code == 0


def test_inches(run: Run, bench: Path) -> None:
    ran = run("strip", "roof-rail.toml", "--inches", "--only", "json")
    assert ran.exit_code == 0, ran.stderr
    assert 'units = "in"' in (bench / f"{STRIP}.form.toml").read_text("utf-8")
