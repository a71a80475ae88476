"""The commands as a person meets them: exit status, words, files whole or not there."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from flatgen.core.errors import CODES
from tests.conftest import Ran
from tests.places import PROFILES, ROOT

Run = Callable[..., Ran]
DEMOS = sorted(p for p in (PROFILES).glob("*.toml") if p.name != "shop.toml")

GOOD = """metal = "6061-T6"
thickness = "0.040 in"
inside_radius = "1/8 in"
length = "100 mm"
section = [
  { leg = "18 mm", name = "lip" },
  { bend = 90, way = "down" },
  { leg = "40 mm" },
]
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written(folder: Path) -> set[str]:
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()}


TOLD = {
    "ridge-strut": ("FG115", "FG117", "FG120"),
    "pier-saddle": ("FG115", "FG117", "FG120"),
    "switch-panel": ("FG108",),
}
"""What slanting cuts and keyholes are told, on the demos that have them."""
BRAKE = ("FG130", "FG132", "FG133", "FG138", "FG139", "FG141", "FG142", "FG146")
"""What the demo brake may note of them; its cautions are seen in the exit status."""
CAUTIONED = {
    "cable-tray": {"FG136"},
    "pier-channel": {"FG136", "FG137"},
    "purlin": {"FG135", "FG136", "FG137", "FG144"},
}
"""Long parts with lips of a few millimetres, and thick ones, which ask more of the demo brake than it has; and a hat
whose crown is narrower than its clamp bar: it says so."""


@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.stem)
def test_demo_profiles_draw_with_what_is_known_of_them(demo: Path, here: Path, run: Run) -> None:
    result = run("draw", str(demo), "--json")
    answer = json.loads(result.stdout)
    cautioned = CAUTIONED.get(demo.stem, set())
    assert (result.exit_code, result.stderr) == (int(bool(cautioned)), "")
    assert {f["code"] for f in answer["findings"] if f["severity"] == "caution"} == cautioned
    assert {f["code"] for f in answer["findings"] if f["severity"] == "note"} <= {*TOLD.get(demo.stem, ()), *BRAKE}
    ends = {"flat.dxf", "bench.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json"}
    assert written(here) == {f"out/{demo.stem}/{demo.stem}.{end}" for end in ends}
    assert json.loads((here / f"out/{demo.stem}/{demo.stem}.json").read_text("utf-8")) == answer
    assert sorted(answer["files"]) == sorted(written(here))


def test_there_are_five_demo_profiles() -> None:
    assert len(DEMOS) >= 5


def test_start_then_draw_then_check(here: Path, run: Run) -> None:
    assert run("start", "shelf").exit_code == 0
    text = (here / "shelf.toml").read_text("utf-8")
    again = run("start", "shelf")
    assert again.exit_code == 2
    assert "FG007" in again.stderr
    assert (here / "shelf.toml").read_text("utf-8") == text
    assert run("check", "shelf.toml").exit_code == 0
    assert written(here) == {"shelf.toml"}
    drawn = run("draw", "shelf.toml")
    assert drawn.exit_code == 0
    for word in ("blank", "mm", "in)", "allowance", "wrote", "shelf.flat.dxf"):
        assert word in drawn.stdout


@pytest.mark.parametrize("name", ["../up", "a/b", "CON", "nul.toml", "", ".", "..", "a\tb", "x" * 200, "end ", "a:b"])
def test_start_refuses_names_that_are_no_file_names(name: str, here: Path, run: Run) -> None:
    result = run("start", name)
    assert result.exit_code == 2
    assert "FG006" in result.stderr
    assert written(here) == set()


def test_json_has_the_keys_that_other_programs_rely_on(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(GOOD)
    answer = json.loads(run("draw", "p.toml", "--json", "--only", "json").stdout)
    assert answer["units"]["length"] == "mm"
    assert answer["units"]["angle"] == "deg"
    assert answer["units"]["mass"] == "kg"
    assert (answer["name"], answer["metal"], answer["thickness"]) == ("p", "6061-T6", pytest.approx(1.016))
    bend = answer["bends"][0]
    for key in (
        "label",
        "order",
        "angle",
        "way",
        "inside_radius",
        "k",
        "allowance",
        "deduction",
        "centre",
        "tangents",
    ):
        assert key in bend
    blank = answer["blank"]
    # aviation formula by hand: 90 (0.01743 R + 0.0078 T) inch, R 1/8, T .040; setback R + T
    allowance = 90 * (0.01743 * 0.125 + 0.0078 * 0.040) * 25.4
    assert bend["allowance"] == pytest.approx(allowance, abs=1e-9)
    assert bend["deduction"] == pytest.approx(2 * (0.165 * 25.4) - allowance, abs=1e-9)
    assert blank["width"] == pytest.approx(58 - bend["deduction"], abs=1e-6)
    assert blank["area"] == pytest.approx(blank["width"] * 100, rel=1e-9)
    assert blank["mass"] == pytest.approx(blank["area"] * 1.016 * 2700e-9, rel=0.01)  # 2.70 kg/dm3
    first = 18 - 0.165 * 25.4
    assert bend["tangents"][0] == [pytest.approx([first, 0], abs=1e-6), pytest.approx([first, 100], abs=1e-6)]
    assert bend["centre"][0][0] == pytest.approx(first + allowance / 2, abs=1e-6)
    assert bend["way"] == "down"


def test_a_radius_under_the_minimum_is_drawn_and_marked(here: Path, run: Run) -> None:
    (here / "tight.toml").write_text(GOOD.replace("1/8 in", "0.3 mm"))
    result = run("draw", "tight.toml", "--also", "cut")
    assert result.exit_code == 1
    assert "FG101" in result.stdout
    answer = json.loads((here / "out/tight/tight.json").read_text())
    assert {f["severity"] for f in answer["findings"]} == {"caution"}
    from ezdxf import readfile

    texts = " ".join(e.dxf.text for e in readfile(here / "out/tight/tight.flat.dxf").modelspace().query("TEXT"))
    assert "Caution: bend A: inside radius 0.3 mm" in texts
    assert "under the least for 6061-T6" in texts
    cut = readfile(here / "out/tight/tight.cut.dxf")
    assert {e.dxf.layer for e in cut.modelspace()} == {"OUTLINE"}
    assert run("check", "tight.toml").exit_code == 1


def test_check_says_when_drawings_are_out_of_date(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(GOOD)
    run("draw", "p.toml")
    assert "FG107" not in run("check", "p.toml").stdout
    (here / "p.toml").write_text(GOOD.replace("18 mm", "18.1 mm"))
    changed = run("check", "p.toml")
    assert changed.exit_code == 0
    assert "FG107" in changed.stdout
    (here / "out/p/p.json").write_text("[1, 2")
    assert "FG107" not in run("check", "p.toml").stdout


def test_what_is_said_of_several_bends_stands_on_the_drawing_once(here: Path, run: Run) -> None:
    from ezdxf import readfile

    more = '{ leg = "40 mm" },\n  { bend = 90, way = "up" },\n  { leg = "30 mm" },\n]'
    (here / "tight.toml").write_text(GOOD.replace("1/8 in", "0.3 mm").replace('{ leg = "40 mm" },\n]', more))
    assert run("draw", "tight.toml").exit_code == 1
    texts = " ".join(e.dxf.text for e in readfile(here / "out/tight/tight.flat.dxf").modelspace().query("TEXT"))
    assert texts.count("Caution: bends A, B: inside radius 0.3 mm") == 1
    assert texts.count("inside radius 0.3 mm (") == 1


def test_several_profiles_one_failure_does_not_stop_the_others(here: Path, run: Run) -> None:
    (here / "a.toml").write_text(GOOD)
    (here / "b.toml").write_text(GOOD.replace("6061-T6", "unobtainium"))
    (here / "c.toml").write_text(GOOD.replace("1/8 in", "0.3 mm"))
    (here / "other").mkdir()
    (here / "other/a.toml").write_text(GOOD)
    result = run("draw", "a.toml", "b.toml", "c.toml", "other/a.toml", "--json", "--only", "json")
    assert result.exit_code == 2
    rows = json.loads(result.stdout)
    assert [r["name"] for r in rows] == ["a", "b", "c", "a"]
    assert rows[1]["refused"][0]["code"] == "FG030"
    assert rows[3]["refused"][0]["code"] == "FG008"
    assert {w for w in written(here) if w.startswith("out")} == {"out/a/a.json", "out/c/c.json"}


def test_only_and_also_choose_the_files(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(GOOD)
    assert run("draw", "p.toml", "--only", "step,cut", "--also", "png").exit_code == 0
    assert written(here / "out/p") == {"p.formed.step", "p.cut.dxf", "p.flat.png"}
    wrong = run("draw", "p.toml", "--only", "pdfx", "--out", "elsewhere")
    assert wrong.exit_code == 2
    assert "choose among" in wrong.stderr
    assert not (here / "elsewhere").exists()


def test_dxf_versions_and_inches(here: Path, run: Run) -> None:
    import ezdxf

    (here / "p.toml").write_text(GOOD)
    for version, mark in (("R12", "AC1009"), ("R2018", "AC1032")):
        assert run("draw", "p.toml", "--only", "dxf", "--dxf-version", version, "--inches").exit_code == 0
        document = ezdxf.readfile(here / "out/p/p.flat.dxf")
        assert document.dxfversion == mark
        xs = [p.x for e in document.modelspace().query('LINE[layer=="OUTLINE"]') for p in (e.dxf.start, e.dxf.end)]
        assert max(xs) * 25.4 == pytest.approx(55.31, abs=0.01)
    assert run("draw", "p.toml", "--dxf-version", "R13").exit_code == 2


WRONG = {
    "broken": (GOOD + "section = [", "FG002"),
    "unknown key": (GOOD + 'inside_radios = "1 mm"\n', "FG003"),
    "missing key": (GOOD.replace('length = "100 mm"\n', ""), "FG004"),
    "no unit": (GOOD.replace("18 mm", "18"), "FG010"),
    "decimal comma": (GOOD.replace("18 mm", "18,5 mm"), "FG011"),
    "angle 0": (GOOD.replace("= 90", "= 0"), "FG013"),
    "angle 180": (GOOD.replace("= 90", "= 180"), "FG013"),
    "angle nan": (GOOD.replace("= 90", "= nan"), "FG013"),
    "angle word": (GOOD.replace("= 90", '= "square"'), "FG013"),
    "zero": (GOOD.replace("18 mm", "0 mm"), "FG012"),
    "negative": (GOOD.replace("18 mm", "-18 mm"), "FG012"),
    "absurd": (GOOD.replace("100 mm", "1000000000 m"), "FG012"),
    "infinite": (GOOD.replace('"100 mm"', "inf"), "FG01"),
    "short leg": (GOOD.replace("18 mm", "3 mm"), "FG021"),
    "metal": (GOOD.replace("6061-T6", "6061-T66"), "FG030"),
    "order": (GOOD + 'order = ["A", "A"]\n', "FG023"),
    "two bends in a row": (GOOD.replace('{ leg = "40 mm" }', '{ bend = 90, way = "up" }'), "FG020"),
    "deep": ("a = " + "[" * 5000, "FG002"),
}


@pytest.mark.parametrize("kind", WRONG)
@pytest.mark.parametrize("command", ["check", "draw"])
def test_wrong_input_is_refused_in_the_house_form(kind: str, command: str, here: Path, run: Run) -> None:
    text, code = WRONG[kind]
    (here / "p.toml").write_text(text)
    result = run(command, "p.toml")
    assert result.exit_code == 2, result
    first, remedy = result.stderr.splitlines()[:2]
    assert first.startswith("p.toml")
    assert re.search(rf"\[{code}", first)
    assert remedy.startswith("  ")
    assert len(remedy) > 10
    assert written(here) == {"p.toml"}


def test_unknown_key_names_the_nearest(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(GOOD + 'inside_radios = "1 mm"\n')
    assert "inside_radius" in run("check", "p.toml").stderr
    assert "p.toml:10" in run("check", "p.toml").stderr


def test_legs_that_run_through_each_other(here: Path, run: Run) -> None:
    bend = '{ bend = 90, way = "up" },'
    legs = ['{ leg = "60 mm" },', '{ leg = "20 mm" },', '{ leg = "30 mm" },', '{ leg = "40 mm" }']
    section = f"section = [{legs[0]} {bend} {legs[1]} {bend} {legs[2]} {bend} {legs[3]}]\n"
    (here / "p.toml").write_text(GOOD.split("section")[0] + section)
    result = run("draw", "p.toml")
    assert result.exit_code == 2
    assert "FG022" in result.stderr


def test_not_a_text_not_there_a_folder(here: Path, run: Run) -> None:
    (here / "p.toml").write_bytes(bytes(range(256)) * 4)
    (here / "d.toml").mkdir()
    for name in ("p.toml", "missing.toml", "d.toml"):
        result = run("draw", name)
        assert result.exit_code == 2
        assert "FG001" in result.stderr
    assert not (here / "out").exists()


def test_a_part_with_the_longest_name_gets_all_its_files(here: Path, run: Run) -> None:
    """Names differ only at their far end: no two files may share a place while they are written."""
    name = "n" * 100
    (here / f"{name}.toml").write_text(GOOD)
    assert run("draw", f"{name}.toml").exit_code == 0
    ends = ("flat.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json")
    assert written(here / "out") == {f"{name}/{name}.{end}" for end in ends}
    assert json.loads((here / f"out/{name}/{name}.json").read_text("utf-8"))["name"] == name
    assert (here / f"out/{name}/{name}.formed.step").read_text().startswith("ISO-10303-21")


def test_a_folder_that_cannot_be_written(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(GOOD)
    (here / "blocked").write_text("a file stands where the folder should be")
    result = run("draw", "p.toml", "--out", "blocked")
    assert result.exit_code == 2
    assert "FG007" in result.stderr
    assert written(here) == {"p.toml", "blocked"}


def test_a_failing_disk_leaves_nothing(here: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "p.toml").write_text(GOOD)
    calls = []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 3:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    result = run("draw", "p.toml")
    assert result.exit_code == 2
    assert "No space left" in result.stderr
    assert written(here) == {"p.toml"}
    assert not (here / "out").exists()


def test_a_fault_of_our_own_is_no_traceback(here: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from flatgen.jobs import draw as job

    def broken(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(job, "develop_solid", broken)
    (here / "p.toml").write_text(GOOD)
    result = run("draw", "p.toml")
    assert result.exit_code == 3
    assert "Traceback" not in result.stderr
    assert "a bug" in result.stderr


def test_metals_list_and_sheet(here: Path, run: Run) -> None:
    listed = run("metals")
    assert listed.exit_code == 0
    for metal in ("6061-T6", "2024-T3", "DC01", "S235", "316"):
        assert metal in listed.stdout
    sheet = run("metals", "6061-t6")
    assert "Tool and Manufacturing Engineers Handbook" in sheet.stdout
    assert run("metals", "cheese").exit_code == 2
    assert json.loads(run("metals", "DC01", "--json").stdout)[0]["name"] == "DC01"


def test_a_users_metal_table_beside_the_profile(here: Path, run: Run) -> None:
    (here / "metals.toml").write_text('[metals."shop steel"]\nlike = "DC01"\n')
    (here / "p.toml").write_text(GOOD.replace("6061-T6", "shop steel"))
    result = run("check", "p.toml")
    assert result.exit_code == 0, result
    assert "metals.toml" in result.stdout


def test_light_commands_import_nothing_heavy(here: Path) -> None:
    import subprocess

    (here / "p.toml").write_text(GOOD)
    for arguments in (["--help"], ["check", "p.toml"], ["metals"], ["unfold", "p.step"]):
        code = (
            f"import sys; sys.argv = ['flatgen', *{arguments!r}]\n"
            "from flatgen.cli import main\n"
            "try: main()\nexcept SystemExit: pass\n"
            "print('HEAVY', sorted({'cadquery', 'OCP', 'ezdxf', 'matplotlib', 'vtkmodules'} & set(sys.modules)))"
        )
        out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
        assert "HEAVY []" in out


def test_settings_in_the_home_do_not_reach_the_drawing(here: Path) -> None:
    """A library's settings file in the user's home that cannot be parsed (or read) is not looked at."""
    import subprocess

    (here / "home/.config/ezdxf").mkdir(parents=True)
    (here / "home/.config/ezdxf/ezdxf.ini").write_text("no settings at all")
    (here / "p.toml").write_text(GOOD)
    code = "import sys; sys.argv = ['flatgen', 'draw', 'p.toml', '--only', 'dxf']; from flatgen.cli import main; main()"
    home = {k: v for k, v in os.environ.items() if not k.startswith("XDG_")} | {"HOME": str(here / "home")}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=home)
    assert (done.returncode, done.stderr) == (0, "")


def test_every_code_in_use_is_listed_and_every_listed_code_in_the_readme() -> None:
    root = ROOT
    used = {c for p in (root / "flatgen").rglob("*.py") for c in re.findall(r"FG\d{3}", p.read_text("utf-8"))}
    assert used == set(CODES)
    readme = (root / "README.md").read_text("utf-8")
    assert [c for c in CODES if c not in readme] == []
