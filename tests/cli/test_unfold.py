"""``flatgen unfold`` and ``flatgen.unfold`` as a person meets them; what the kernel finds is tested elsewhere.

One file, as all of it is the one command.
"""

from __future__ import annotations

import json
import math
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import flatgen
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.definition.part import Source
from flatgen.jobs import draw as job
from flatgen.jobs import unfold as incoming
from flatgen.jobs.result import Options
from flatgen.metal.allowance import GivenK
from flatgen.metal.bend_rule import allowance_of, rule_for
from flatgen.metal.metals import load_metals
from flatgen.unfolding.received.part import received_part
from flatgen.unfolding.received.request import ReceivedSolid, Request
from tests.conftest import Ran
from tests.paper.drawing.drawn_samples import bend, circle, polygon, tray
from tests.places import ROOT

Run = Callable[..., Ran]
DEMOS = ROOT / "profiles"
NOT_A_SHEET = (Fault("FG040", "the solid", "it is not a sheet of one thickness"),)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


class Stand:
    """Stands in for the keeper: hands out what a test has prepared, and keeps what it was asked."""

    answers: dict[str, list[ReceivedSolid]]
    asked: list[Request]

    def __enter__(self) -> Stand:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def receive(self, path: Path, request: Request) -> list[ReceivedSolid]:
        self.asked.append(request)
        return self.answers[path.name]


@pytest.fixture
def stand(monkeypatch: pytest.MonkeyPatch, here: Path) -> Callable[..., type[Stand]]:
    def prepare(**files: list[ReceivedSolid]) -> type[Stand]:
        Stand.answers = {f"{stem}.step": solids for stem, solids in files.items()}
        Stand.asked = []
        for name in Stand.answers:
            (here / name).write_text("a file that only the stand-in reads")
        monkeypatch.setattr("flatgen.unfolding.received.keeper.Keeper", Stand)
        return Stand

    return prepare


def sheet(number: int = 1, name: str = "", flat: FlatPattern | None = None, **more: Any) -> ReceivedSolid:
    return ReceivedSolid(number, name, flat=flat or tray(), step=b"ISO-10303-21;", **more)


def test_what_draw_has_written_unfolds_to_the_same_blank(here: Path, run: Run) -> None:
    """The demo's own STEP, metal and so allowance as in the definition; 1e-6 mm."""
    drawn = json.loads(run("draw", str(DEMOS / "pier-channel.toml"), "--json").stdout)
    step = next(f for f in drawn["files"] if f.endswith(".step"))
    result = run("unfold", step, "--metal", drawn["metal"].lower(), "--out", "again", "--json")
    assert result.stderr == ""
    again = json.loads(result.stdout)
    sizes = [sorted((a["blank"]["width"], a["blank"]["length"])) for a in (drawn, again)]
    assert sizes[1] == pytest.approx(sizes[0], abs=1e-6)
    for key in ("area", "mass"):
        assert again["blank"][key] == pytest.approx(drawn["blank"][key], rel=1e-9)
    for key in ("angle", "inside_radius", "k", "allowance"):
        values = [sorted(b[key] for b in a["bends"]) for a in (drawn, again)]
        assert values[1] == pytest.approx(values[0], abs=1e-6)
    assert len(again["openings"]) == len(drawn["openings"])
    assert set(drawn) <= set(again)
    assert set(drawn["bends"][0]) <= set(again["bends"][0])
    assert (again["metal"], again["k"], again["dimensions"]) == (drawn["metal"], None, "overall")
    source = again["source"]
    assert (source["file"], source["solid"], source["solids"], source["count"]) == (step, 1, 1, 1)
    assert len(source["sha256"]) == 64
    assert source["request"]["near"] == "auto"
    name = "pier-channel.formed"
    ends = ("flat.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json")
    assert written(here / "again") == {f"{name}/{name}.{end}" for end in ends}
    assert json.loads((here / f"again/{name}/{name}.json").read_text("utf-8")) == again
    assert re.fullmatch("[0-9a-f]{16}", again["fingerprint"])


def test_the_command_itself_never_loads_the_kernel(here: Path) -> None:
    job.draw(DEMOS / "eave-angle.toml", here, Options(("step",)))
    code = (
        "import sys; sys.argv = ['flatgen', 'unfold', 'eave-angle.formed.step', '--k', '0.42', '--also', 'cut']\n"
        "from flatgen.cli import main\n"
        "try: main()\nexcept SystemExit as end: print('STATUS', end.code)\n"
        "print('KERNEL', sorted({'cadquery', 'OCP', 'vtkmodules'} & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "KERNEL []" in out
    assert re.search(r"STATUS [01]\b", out)
    assert (here / "out/eave-angle.formed/eave-angle.formed.cut.dxf").is_file()


def test_without_metal_and_k_it_says_what_is_on_offer_before_anything_is_opened(here: Path) -> None:
    code = (
        "import sys; sys.argv = ['flatgen', 'unfold', 'not-there.step']\n"
        "from flatgen.cli import main\n"
        "try: main()\nexcept SystemExit as end: print('STATUS', end.code)\n"
        "print('HEAVY', sorted({'cadquery', 'OCP', 'ezdxf', 'matplotlib', 'shapely'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "STATUS 2" in done.stdout
    assert "HEAVY []" in done.stdout
    assert "[FG052]" in done.stderr
    for word in ("--metal", "6061-T6", "DC01", "--k", "0.33 to 0.48", "Machinery's Handbook"):
        assert word in done.stderr
    assert written(here) == set()


REFUSED = {
    "k above 1": (["--k", "1.2"], "FG024"),
    "k below 0": (["--k", "-0.1"], "FG024"),
    "k no number": (["--k", "soft"], "FG005"),
    "k nan": (["--k", "nan"], "FG024"),
    "k with a comma": (["--k", "0,42"], "FG011"),
    "metal": (["--metal", "cheese"], "FG030"),
    "near": (["--k", "0.4", "--near", "up"], "FG005"),
    "near a face of no number": (["--k", "0.4", "--near", "0"], "FG005"),
    "radius without unit": (["--k", "0.4", "--inside-radius", "3"], "FG010"),
    "radius of nothing": (["--k", "0.4", "--inside-radius", "0 mm"], "FG012"),
    "radius too large": (["--k", "0.4", "--inside-radius", "6 m"], "FG012"),
    "kind": (["--k", "0.4", "--only", "pdfx"], "FG005"),
    "version": (["--k", "0.4", "--dxf-version", "R13"], "FG005"),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_what_cannot_be_asked_is_refused_before_reading(kind: str, stand: Any, run: Run, here: Path) -> None:
    asked = stand(part=[sheet()]).asked
    arguments, code = REFUSED[kind]
    result = run("unfold", "part.step", *arguments)
    assert result.exit_code == 2
    assert f"[{code}" in result.stderr.splitlines()[0]
    assert len(result.stderr.splitlines()[1]) > 10
    assert asked == []
    assert written(here) == {"part.step"}


def test_all_that_is_wrong_with_the_options_is_said_at_once(run: Run, stand: Any) -> None:
    stand(part=[sheet()])
    said = run("unfold", "part.step", "--k", "2", "--near", "up", "--inside-radius", "x").stderr
    assert [c for c in ("--k:", "--near:", "--inside-radius:") if c not in said] == []


def test_what_is_asked_reaches_the_unfolder(stand: Any, run: Run) -> None:
    asked = stand(part=[sheet()]).asked
    more = ("--near", "-X", "--inside-radius", "1/8 in", "--skip-formed", "--only", "json")
    run("unfold", "part.step", "--metal", "6061-t6", "--k", "0.42", *more)
    metal = load_metals()["6061-T6"]
    assert asked == [Request(metal, 0.42, "-x", pytest.approx(3.175), True, False)]


def test_solids_that_are_no_sheet_are_set_aside_by_name(stand: Any, run: Run, here: Path) -> None:
    solids = [
        ReceivedSolid(1, "rivet nut M4", 5, faults=NOT_A_SHEET, exit_status=2),
        sheet(2, "side plate", count=2),
        ReceivedSolid(3, "", faults=NOT_A_SHEET, exit_status=2),
    ]
    stand(cart=solids)
    result = run("unfold", "cart.step", "--k", "0.42", "--json", "--only", "json")
    assert result.exit_code == 0, result
    answer = json.loads(result.stdout)
    assert (answer["name"], answer["title"]) == ("cart-2-side-plate", "side plate")
    assert (answer["source"]["solid"], answer["source"]["solids"], answer["source"]["count"]) == (2, 3, 2)
    aside = [f for f in answer["findings"] if f["code"] == "FG125"]
    assert [f["severity"] for f in aside] == ["note"]
    assert '"rivet nut M4" (placed 5 times), solid 3' in aside[0]["text"]
    assert {w for w in written(here) if "out" in w} == {"out/cart-2-side-plate/cart-2-side-plate.json"}
    printed = run("unfold", "cart.step", "--k", "0.42", "--only", "json").stdout
    assert "cart.step, solid 2 of 3, placed 2 times" in printed


def test_a_file_without_any_sheet_is_refused_with_all_reasons(stand: Any, run: Run, here: Path) -> None:
    other = (Fault("FG040", "face 7", "it stands alone", "look there"),)
    solids = [
        ReceivedSolid(1, "nut", faults=NOT_A_SHEET, exit_status=2),
        ReceivedSolid(2, "bar", faults=other, exit_status=2),
    ]
    stand(cart=solids)
    result = run("unfold", "cart.step", "--k", "0.42")
    assert result.exit_code == 2
    assert 'cart.step: solid 1 "nut": it is not a sheet' in result.stderr
    assert 'cart.step: solid 2 "bar": face 7: it stands alone' in result.stderr
    assert written(here) == {"cart.step"}
    assert json.loads(run("unfold", "cart.step", "--k", "0.42", "--json").stdout)["exit_status"] == 2


def test_a_sheet_that_is_refused_does_not_stop_the_others(stand: Any, run: Run, here: Path) -> None:
    form = (Fault("FG041", "face 3", "a dimple", "skip it"),)
    bug = (Fault("FG901", "the flat", "volumes disagree"),)
    solids = [
        sheet(1, "a"),
        ReceivedSolid(2, "b", faults=form, exit_status=2),
        sheet(3, "c"),
        ReceivedSolid(4, "d", faults=bug, exit_status=3),
    ]
    stand(cart=solids, other=[sheet()])
    result = run("unfold", "cart.step", "other.step", "--k", "0.42", "--json", "--only", "json")
    rows = json.loads(result.stdout)
    assert [r["name"] for r in rows] == ["cart-1-a", "cart-2-b", "cart-3-c", "cart-4-d", "other"]
    assert [r.get("exit_status") for r in rows] == [None, 2, None, 3, None]
    assert rows[1]["refused"][0]["where"] == 'cart.step: solid 2 "b": face 3'
    assert result.exit_code == 3
    assert {w for w in written(here) if w.startswith("out")} == {
        f"out/{n}/{n}.json" for n in ("cart-1-a", "cart-3-c", "other")
    }


def test_files_of_one_name_do_not_write_over_each_other(stand: Any, run: Run, here: Path) -> None:
    stand(part=[sheet()])
    (here / "more").mkdir()
    (here / "more/part.step").write_text("the same name")
    result = run("unfold", "part.step", "more/part.step", "--k", "0.42", "--only", "json")
    assert result.exit_code == 2
    assert "[FG008]" in result.stderr
    assert "unfold it in a call of its own" in result.stderr
    assert (here / "out/part/part.json").is_file()


def test_a_file_named_as_a_solid_of_another_is_told_which(stand: Any, run: Run, here: Path) -> None:
    stand(cart=[sheet(1), sheet(2)])
    Stand.answers["cart-1.step"] = [sheet()]
    (here / "cart-1.step").write_text("a file that only the stand-in reads")
    said = run("unfold", "cart.step", "cart-1.step", "--k", "0.42", "--only", "json").stderr
    assert said.startswith("cart-1.step: its files would be named cart-1, as those of cart.step: solid 1 are")


def test_files_of_a_part_are_whole_or_not_there(
    stand: Any, run: Run, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand(cart=[sheet(1, "a"), sheet(2, "b")])
    calls: list[int] = []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 7:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    result = run("unfold", "cart.step", "--k", "0.42")
    assert result.exit_code == 2
    assert "No space left" in result.stderr
    ends = ("flat.dxf", "formed.step", "flat.svg", "layout.pdf", "sheet.pdf", "json")
    assert {w for w in written(here) if w.startswith("out")} == {f"out/cart-1-a/cart-1-a.{end}" for end in ends}


def test_a_fault_of_our_own_in_one_solid_loses_no_other(
    stand: Any, run: Run, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand(cart=[sheet(1, "a"), sheet(2, "b")])
    once = incoming.draw_received

    def broken(taken: incoming.ReceivedResult, *more: Any) -> incoming.ReceivedResult:
        if taken.name == "cart-1-a":
            raise RuntimeError("a bug")
        return once(taken, *more)

    monkeypatch.setattr(incoming, "draw_received", broken)
    result = run("unfold", "cart.step", "--k", "0.42", "--only", "json")
    assert (result.exit_code, "a bug" in result.stderr, "Traceback" in result.stderr) == (3, True, False)
    assert (here / "out/cart-2-b/cart-2-b.json").is_file()


@pytest.mark.parametrize(
    ("stem", "product", "solids", "name"),
    [
        ("Base plate", "x", 1, "Base plate"),
        ("cart", "left/right: 50 %", 2, "cart-1-left-right-50"),
        ("cart", "../evil", 2, "cart-1-evil"),
        ("cart", "", 2, "cart-1"),
        ("cart", "部品", 2, "cart-1"),
        ("cart", "plate " * 9, 2, "cart-1-plate-plate-plate-plate-plate-plate-plat"),
        ("con", "", 1, "part-con"),
        ("-x..", "", 1, "x"),
        ("...", "", 1, "part-"),
        ("a" * 150, "", 1, "a" * 100),
        ("a" * 150, "plate", 2, "a" * 92 + "-1-plate"),
        ("Träger", "Blech\u202e\n für 50 %", 2, "Träger-1-Blech-fur-50"),
    ],
)
def test_names_of_files_are_safe(stem: str, product: str, solids: int, name: str) -> None:
    from flatgen.core.files import safe_name

    found = incoming._name(Path(f"{stem}.step"), ReceivedSolid(1, product), solids)
    assert found == name
    assert safe_name(found) == found


def test_bends_in_all_directions_are_told_by_their_ends(stand: Any, run: Run) -> None:
    stand(part=[sheet()])
    printed = run("unfold", "part.step", "--k", "0.42", "--only", "json").stdout
    assert re.search(r"^  metal +not given \(K = 0.42\), 1.000 mm", printed, re.M)
    assert re.search(r"A +\(\d+\.\d, -?\d+\.\d\) to \(\d+\.\d, -?\d+\.\d\) mm +down +90°", printed)


def test_legs_and_bends_of_a_tree_are_joined_by_number(stand: Any, run: Run) -> None:
    stand(part=[sheet()])
    answer = json.loads(run("unfold", "part.step", "--k", "0.42", "--only", "json", "--json").stdout)
    assert [b["legs"] for b in answer["bends"]] == [[1, n] for n in range(2, 7)]
    assert len(answer["legs"]) == 6
    assert all(leg["regions"] for leg in answer["legs"])
    assert answer["metal"] is None
    assert (answer["k"], answer["blank"]["mass"]) == (0.42, None)
    b = answer["bends"][0]
    # tray(): radius 2 in 1 mm, allowance 4: overall setback 3 tan 45, twice, less the allowance
    assert (b["deduction"], b["deduction_dimensions"]) == (pytest.approx(2.0), "overall")
    assert b["segments"] == [b["centre"]]


def test_the_metals_least_radius_is_watched_once_for_bends_alike(stand: Any, run: Run) -> None:
    stand(part=[sheet()])
    metal = ("--metal", "2024-T3", "--only", "json", "--json")
    result = run("unfold", "part.step", *metal)
    answer = json.loads(result.stdout)
    told = [f for f in answer["findings"] if f["code"] in ("FG101", "FG102")]
    assert len(told) == 1
    assert told[0]["text"].startswith("bends A, B, C, D, E: inside radius 2 mm")
    assert result.exit_code == int(told[0]["severity"] == "caution")
    assert answer["blank"]["mass"] == pytest.approx(answer["blank"]["area"] * 1.0 * 2780e-9, rel=0.01)
    plain = json.loads(run("unfold", "part.step", "--k", "0.42", "--only", "json", "--json").stdout)
    assert not [f for f in plain["findings"] if f["code"] in ("FG101", "FG102", "FG103")]


def test_legs_with_little_flat_are_told(stand: Any, run: Run) -> None:
    """Walls of 1.5 mm in sheet of 1 mm: under 2 t, over 1 t."""
    stand(part=[sheet(flat=tray(reach=1.5))])
    answer = json.loads(run("unfold", "part.step", "--k", "0.42", "--only", "json", "--json").stdout)
    told = [f for f in answer["findings"] if f["code"] == "FG104"]
    assert {f["severity"] for f in told} == {"note"}
    assert len(told) == 5
    assert "leg 2 has 1.50 mm of flat beside bend A" in told[0]["text"]


def test_openings_of_a_tree_are_watched_and_no_rules_are_offered(stand: Any, run: Run) -> None:
    flat = replace(tray(), openings=(circle(60.0, 3.0, 2.0),))
    stand(part=[sheet(flat=flat)])
    result = run("unfold", "part.step", "--k", "0.42", "--only", "json", "--json")
    answer = json.loads(result.stdout)
    assert result.exit_code == 1
    told = next(f for f in answer["findings"] if f["code"] == "FG110")
    # the hole's edge is 1 mm from the tangent line at y = 0, where 2 t = 2 mm are asked
    assert "on leg 1 (at (60.0, 3.0) mm of the flat) has 1.000 mm" in told["text"]
    assert "[rules]" not in told["remedy"]
    assert [o["legs"] for o in answer["openings"]] == [[{"number": 1, "name": None}]]


def test_what_unfolding_tells_comes_with_the_part(stand: Any, run: Run) -> None:
    stand(part=[sheet(findings=(Finding("FG126", "note", "face 4", "2 countersinks"),))])
    assert "note: face 4: 2 countersinks [FG126]" in run("unfold", "part.step", "--k", "0.4", "--only", "json").stdout


PLACES = {
    "+z": ((0, 0, 1), "near face of leg 1 looks along +z of the file"),
    "-y": ((0, -1, 0), "near face of leg 1 looks along -y of the file"),
    "slanted": ((0.6, 0, -0.8), "near face of leg 1 looks along (0.600, 0.000, -0.800) of the file"),
}


@pytest.mark.parametrize("way", PLACES)
def test_which_side_of_the_formed_part_is_near_is_told(way: str, stand: Any, run: Run) -> None:
    """The third column of the root's placement is the normal of the near face."""
    vector, text = PLACES[way]
    placed = np.eye(4)
    placed[:3, 2] = vector
    flat = tray()
    stand(part=[sheet(flat=replace(flat, panels=(replace(flat.panels[0], placed=placed), *flat.panels[1:])))])
    call = ("unfold", "part.step", "--k", "0.42", "--only", "json,dxf")
    answer = json.loads(run(*call, "--json").stdout)
    assert answer["near_face"] == {"leg": 1, "direction": pytest.approx(list(vector))}
    assert f"  side    {text}" in run(*call).stdout
    drawn = Path("out/part/part.flat.dxf").read_text("utf-8")
    assert text[1:-20] in drawn


def test_a_drawing_in_inches_has_them_first_in_its_notes(stand: Any, run: Run) -> None:
    """By hand: tray() is 1 mm thick, and 40 of its 1 mm holes' diameter is 2 mm, 0.079 in."""
    stand(part=[sheet(flat=replace(tray(), openings=(circle(60.0, 40.0, 1.0),)))])
    call = ("unfold", "part.step", "--k", "0.42", "--only", "dxf")
    run(*call, "--inches")
    imperial = Path("out/part/part.flat.dxf").read_text("utf-8")
    run(*call)
    metric = Path("out/part/part.flat.dxf").read_text("utf-8")
    for inch, mm in (("0.039 in", "1.000 mm"), ("0.079 in", "2.000 mm")):
        assert (f"{inch} ({mm})" in imperial, f"{mm} ({inch})" in imperial) == (True, False)
        assert (f"{inch} ({mm})" in metric, f"{mm} ({inch})" in metric) == (False, True)


@pytest.mark.parametrize("command", ["draw", "check"])
def test_a_step_file_where_a_definition_belongs_points_to_unfold(command: str, run: Run, here: Path) -> None:
    (here / "angle.step").write_text("ISO-10303-21;\nHEADER;\n")
    result = run(command, "angle.step")
    assert result.exit_code == 2
    assert "it is a STEP file" in result.stderr
    assert "flatgen unfold angle.step" in result.stderr
    assert "[FG002]" in result.stderr
    (here / "broken.toml").write_text("metal = ")
    assert "flatgen unfold" not in run(command, "broken.toml").stderr


def test_a_definition_where_a_step_file_belongs_points_to_draw(run: Run, here: Path) -> None:
    for name in ("rail.toml", "rail.step"):
        (here / name).write_bytes((DEMOS / "roof-rail.toml").read_bytes())
        result = run("unfold", name, "--k", "0.42")
        assert (result.exit_code, "[FG050]" in result.stderr) == (2, True)
        assert f"draw it: flatgen draw {name}" in result.stderr


def test_fingerprints_follow_file_request_and_flat() -> None:
    source = Source("a.step", "0" * 64, 1, 1, "", 1, (("near", "auto"),))
    flat = tray()
    allowances = [GivenK(0.42).allowance(b.angle, b.inside_radius, 1.0) for b in flat.bends]

    def mark(name: str = "a", flat: FlatPattern = flat, source: Source = source) -> str:
        return received_part(name, flat, allowances, None, 0.42, source).fingerprint

    turned = replace(flat, bends=(replace(flat.bends[0], way="up"), *flat.bends[1:]))
    others = [
        mark("b"),
        mark(flat=turned),
        mark(flat=replace(flat, openings=(circle(60, 50, 2),))),
        mark(source=replace(source, sha256="1" * 64)),
        mark(source=replace(source, request=(("near", "+x"),))),
    ]
    assert mark() == mark()
    assert len({mark(), *others}) == 6


def test_metal_rolled_past_half_a_turn_has_an_allowance_and_no_deduction() -> None:
    """By hand: 270 degrees at r 10, t 1, K 0.5 is 1.5 pi 10.5."""
    third = bend(((10.0, 0.0), (10.0, 50.0)), 49.48, angle=270.0, radius=10.0)
    plate = polygon((0.0, 0.0), (5.0, 0.0), (5.0, 50.0), (0.0, 50.0))
    flat = replace(tray(), bends=(third,), panels=tray().panels[:2], outline=plate)
    found = allowance_of(None, 0.5, 1.0, 10.0, 270.0)
    assert found.length == pytest.approx(1.5 * math.pi * 10.5)
    part = received_part("a", flat, [found], None, 0.5, Source("a.step", "", 1, 1, "", 1))
    assert part.bends[0].deduction is None
    hem = allowance_of(None, 0.5, 1.0, 0.0, 180.0)
    assert hem.length == pytest.approx(math.pi / 2)


def test_a_metal_without_a_method_and_a_bend_past_a_method_are_refused() -> None:
    metals = load_metals()
    with pytest.raises(InputRefused, match="FG052"):
        rule_for(None, None)
    with pytest.raises(InputRefused, match="FG024"):
        rule_for(replace(metals["DC01"], default_method=None), None)
    rule = rule_for(metals["DC01"], None)(2.0)
    with pytest.raises(InputRefused, match=r"DIN 6935 has no k for r/s = 0.05.* \[FG024\]"):
        rule(((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), 0.1, 90.0)


@pytest.fixture(scope="module")
def angle() -> Any:
    """The eave angle's solid."""
    from flatgen.definition.reader import read_profile
    from flatgen.definition.solid.cutting import build_solid

    return build_solid(read_profile(DEMOS / "eave-angle.toml"))[0]


def test_the_library_takes_any_object_of_one_solid(angle: Any) -> None:
    import cadquery as cq

    width = flatgen.unfold(angle, k=0.42).width
    compound = cq.Compound.makeCompound([angle])
    for one in (
        compound,
        angle.wrapped,
        compound.wrapped,
        cq.Workplane(obj=angle),
        cq.Workplane(obj=compound),
        cq.Workplane(obj=angle).faces(">Z"),
        cq.Assembly(cq.Workplane(obj=angle), loc=cq.Location((5, 6, 7))),
    ):
        assert flatgen.unfold(one, k=0.42).width == pytest.approx(width, abs=1e-6)
    flat = flatgen.unfold(angle, metal="6061-T6")
    assert [b.label for b in flat.bends] == ["A", "B", "C"]
    assert flat.bends[0].method == "aviation formula"


def test_the_library_refuses_what_is_not_one_solid(angle: Any) -> None:
    import cadquery as cq

    two = cq.Compound.makeCompound([angle, angle.moved(cq.Location((500, 0, 0)))])
    with pytest.raises(InputRefused, match=r"it holds 2 solids(?s:.*)one by one"):
        flatgen.unfold(two, k=0.42)
    with pytest.raises(InputRefused, match="it holds no solids"):
        flatgen.unfold(cq.Workplane().rect(1, 2), k=0.42)
    with pytest.raises(TypeError, match="not str"):
        flatgen.unfold("part.step", k=0.42)
    with pytest.raises(InputRefused, match="FG052"):
        flatgen.unfold(angle)
    with pytest.raises(InputRefused, match="FG024"):
        flatgen.unfold(angle, k=-1)
    with pytest.raises(InputRefused, match="FG030"):
        flatgen.unfold(angle, metal="cheese")
    with pytest.raises(InputRefused, match="FG005"):
        flatgen.unfold(angle, k=0.42, near="up")
    with pytest.raises(InputRefused, match="FG012"):
        flatgen.unfold(angle, k=0.42, inside_radius=-1)


UNUSABLE = {
    "metal a number": ({"metal": 5}, "metal: 5 is no name of a metal [FG005]"),
    "k a text": ({"k": "0.42"}, "k: '0.42' is no number [FG005]"),
    "k a switch": ({"k": True}, "k: True is no number [FG005]"),
    "k not a number": ({"k": float("nan")}, "k: K = nan is not between 0 and 1"),
    "near nothing": ({"k": 0.42, "near": None}, "near: 'None' is no side to look from [FG005]"),
    "radius a switch": ({"k": 0.42, "inside_radius": True}, "inside_radius: True is no length [FG005]"),
    "radius without unit": ({"k": 0.42, "inside_radius": "3"}, "inside_radius: "),
    "radius infinite": ({"k": 0.42, "inside_radius": math.inf}, "inside_radius: inf mm is not between"),
    "skip a text": ({"k": 0.42, "skip_formed": "no"}, "skip_formed: 'no' is neither True nor False [FG005]"),
}


@pytest.mark.parametrize("kind", UNUSABLE)
def test_the_library_says_in_words_what_it_cannot_use(kind: str) -> None:
    """Before it looks at the part; nothing in it names an option of the command."""
    arguments, text = UNUSABLE[kind]
    with pytest.raises(InputRefused) as refused:
        flatgen.unfold(None, **arguments)
    assert str(refused.value).startswith(text)
    assert "--" not in str(refused.value)
    assert refused.value.faults[0].remedy


def test_the_library_takes_numbers_of_any_kind_and_lengths_with_a_unit(angle: Any) -> None:
    flat = flatgen.unfold(angle, k=np.float32(0.5), inside_radius="1/8 in")
    assert flat.bends[0].k == pytest.approx(0.5)
    assert flatgen.unfold(angle, k=1, metal=load_metals()["DC01"]).bends[0].k == pytest.approx(1.0)


def test_the_library_tells_what_the_command_tells(angle: Any) -> None:
    """At K = 0.5 in a metal whose least radius is larger than that of the eave angle's bends."""
    told = flatgen.unfold_told(angle, metal="7075-T6", k=0.5)
    assert told.flat.width == pytest.approx(flatgen.unfold(angle, k=0.5).width, abs=1e-9)
    least = [f for f in told.findings if f.code in ("FG101", "FG102")]
    assert least
    assert re.search(r"under the least for 7075-T6, [\d.]+ mm \([\d.]+ in\) thick[:,] ", least[0].text)
    assert flatgen.unfold_told(angle, k=0.5).findings == tuple(
        f for f in told.findings if f.code not in ("FG101", "FG102")
    )


def test_all_that_the_package_offers_is_listed() -> None:
    assert set(flatgen.__all__) <= set(dir(flatgen))
    assert all(getattr(flatgen, name) for name in flatgen.__all__)


def test_the_readme_example_of_unfolding_a_solid_runs() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    example = next(e for e in re.findall(r"```python\n(.*?)```", readme, re.S) if "flatgen.unfold(" in e)
    printed: list[Any] = []
    exec(example, {"print": lambda *a: printed.extend(a)})
    # two legs of 40 and 30 mm outside, t 2, r 3: 70 less 2 (3 + 2) and pi/2 (3 + 0.42 * 2) more
    assert printed[0] == pytest.approx(70 - 10 + math.pi / 2 * (3 + 0.42 * 2), abs=0.01)
    assert printed[1] == ["A"]
    # the same at the aviation formula's allowance, (0.01743 R + 0.0078 T) per degree, 50 mm long
    assert printed[2] == pytest.approx(50 * (60 + 90 * (0.01743 * 3 + 0.0078 * 2)), abs=0.01)
    assert isinstance(printed[3], list)
