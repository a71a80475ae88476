"""Input that nobody should trust, one kind each: refused with where, numbers and remedy, or drawn harmlessly."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
import unicodedata
import xml.etree.ElementTree as Xml
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.untrusted.mutants import HEAD
from tests.untrusted.whole_files import ENDS, files_in, why_not_whole

Run = Callable[..., Ran]
HANG = 30.0
ROUND = '[[opening]]\nleg = "web"\nshape = "round"\ndiameter = 5\nacross = 30\nalong = 60\n'
PLANE = '[[cut]]\ntool = "plane"\nleg = "web"\nacross_from = "middle"\n'
BOX = '[[cut]]\ntool = "box"\nleg = "web"\n'


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(here: Path, run: Run, text: str, *said: str) -> None:
    """Exit status 2, these words in the answer, nothing written, and no hang."""
    (here / "p.toml").write_text(text, "utf-8")
    begin = time.process_time()
    result = run("draw", "p.toml")
    assert time.process_time() - begin < HANG
    assert result.exit_code == 2, result.stderr
    for words in said:
        assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert all("\n  " in f"\n{line}" or "[FG" in line for line in result.stderr.splitlines() if line)
    assert [p.name for p in files_in(here)] == ["p.toml"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ROUND + "row_along = { count = 1000000000, pitch = 0.01 }\n", ("FG026", "5000", "opening[0]")),
        ("[[opening]]\n" * 60_000, ("FG026", "60000", "5000")),
        (PLANE * 10_000, ("FG026", "10000 [[cut]]", "100")),
    ],
    ids=["a billion holes", "60,000 tables", "10,000 cuts"],
)
def test_too_many(text: str, said: tuple[str, ...], here: Path, run: Run) -> None:
    refused(here, run, HEAD + text, *said)


def test_ten_thousand_legs(here: Path, run: Run) -> None:
    walk = ', { bend = 1, way = "up" }, '.join(["{ leg = 9 }"] * 10_000)
    head = HEAD.split("section")[0]
    refused(here, run, f"{head}section = [{walk}]\n", "FG012", "19999 items", "500 legs")


def test_a_hundred_megabytes_are_not_read(here: Path, run: Run) -> None:
    """The file is sparse where the system has such; little more than the bound is read of it."""
    with (here / "p.toml").open("wb") as stream:
        stream.write(HEAD.encode())
        stream.truncate(100_000_000)
    begin = time.process_time()
    result = run("draw", "p.toml")
    assert time.process_time() - begin < HANG
    assert (result.exit_code, "FG001" in result.stderr, "1 000 000 bytes" in result.stderr) == (2, True, True)
    assert not (here / "out").exists()


@pytest.mark.parametrize("nest", ["[" * 50_000, "{ a = " * 20_000, "[" * 9_000 + "]" * 9_000])
def test_deep_nesting(nest: str, here: Path, run: Run) -> None:
    refused(here, run, HEAD + f"title2 = {nest}\n", "[FG0")


@pytest.mark.parametrize("number", ["1e308", "-1e308", "nan", "inf", "-inf", "1e-320", "-0.0", "9" * 5000, "1e309"])
@pytest.mark.parametrize("key", ["length = 120", "diameter = 5", "along = 60", "inside_radius = 2", "bend = 90"])
def test_numbers_at_the_edges(key: str, number: str, here: Path, run: Run) -> None:
    name = key.split(" = ")[0]
    text = (HEAD + ROUND).replace(key, f"{name} = {number}", 1)
    refused(here, run, text, "[FG0")


HARMFUL = [
    "%%d%%c",
    "\\\\P \\\\U+0041 {\\\\H9;x}",
    "<script>alert(1)</script>",
    "]]>&amp;",
    "../../x",
    "a'b\\\"c",
    "שלום 😀",
]


@pytest.mark.parametrize("name", HARMFUL)
def test_names_arrive_harmless(name: str, here: Path, run: Run) -> None:
    """In title, leg, opening and cut: whole files that hold no code of a DXF reader and no element of SVG."""
    import ezdxf

    cut = PLANE + f'along = 110\nremove = "top"\nname = "{name}"\n'
    text = HEAD.replace('"Rail"', f'"{name}"').replace('name = "foot"', f'name = "{name}"')
    (here / "p.toml").write_text(text + ROUND + f'name = "{name}"\n' + cut, "utf-8")
    result = run("draw", "p.toml")
    assert result.exit_code in (0, 1), result.stderr
    assert [why_not_whole(here / f"out/p/p{end}") for end in ENDS] == [""] * len(ENDS)
    for entity in ezdxf.readfile(here / "out/p/p.flat.dxf").modelspace().query("TEXT MTEXT"):
        shown = entity.text if entity.dxftype() == "MTEXT" else entity.dxf.text
        assert "%%" not in re.sub(r"(?<=\d)%%d", "", shown)  # the degree sign of our own labels
        assert "\\U+" not in shown
    tags = {e.tag.rpartition("}")[2].lower() for e in Xml.parse(here / "out/p/p.flat.svg").iter()}
    assert "script" not in tags
    assert {p.name for p in files_in(here)} == {"p.toml", *(f"p{end}" for end in ENDS)}


@pytest.mark.parametrize("sign", ["\\u001b[31m", "\\u202E", "\\u0007", "\\u2066", "\\u200B", "\\r", "\\u0085"])
@pytest.mark.parametrize("key", ['"Rail"', '"foot"', '"hinge"', "new"])
def test_no_sign_that_steers_a_terminal_is_printed(key: str, sign: str, here: Path, run: Run) -> None:
    """Refused or drawn, in words and as JSON: nothing printed is a control or turns the direction of writing."""
    text = HEAD + ROUND + ('name = "new"\n' if key == "new" else "")
    (here / "p.toml").write_text(text.replace(key, f'"x{sign}y"').replace('"new"', f'"x{sign}y"'), "utf-8")
    for told in (run("check", "p.toml"), run("check", "p.toml", "--json")):
        assert told.exit_code in (0, 1, 2)
        printed = (told.stdout + told.stderr).replace("\n", "")
        assert [c for c in printed if unicodedata.category(c) in ("Cc", "Cf")] == []


def test_a_terminal_without_the_signs(here: Path) -> None:
    """Signs that the output's encoding lacks do not end a run; JSON stays JSON."""
    (here / "p.toml").write_text(HEAD.replace("Rail", "שלום 😀"), "utf-8")
    script = "from flatgen.cli import main; main()"
    surroundings = {**os.environ, "PYTHONIOENCODING": "ascii:strict", "PYTHONUTF8": "0"}
    for more in ([], ["--json"]):
        command = [sys.executable, "-c", script, "check", "p.toml", *more]
        done = subprocess.run(command, cwd=here, env=surroundings, capture_output=True, timeout=120, check=False)
        assert done.returncode in (0, 1), done.stderr
    assert json.loads(done.stdout)["title"] == "שלום 😀"


@pytest.mark.parametrize("step", range(4))
def test_a_disk_that_fills(step: int, here: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of the four files in turn finds no room, half written: nothing is left, and the reason is told."""
    (here / "p.toml").write_text(HEAD, "utf-8")
    opened, plain = [], Path.open

    def open_full(self: Path, mode: str = "r", *given: object, **named: object) -> object:
        stream = plain(self, mode, *given, **named)  # type: ignore[call-overload]
        if self.suffix == ".part":
            opened.append(self)
            if len(opened) == step + 1:
                stream.write(b"half")
                stream.close()
                raise OSError(28, "No space left on device", str(self))
        return stream

    monkeypatch.setattr(Path, "open", open_full)
    result = run("draw", "p.toml")
    assert (result.exit_code, len(opened)) == (2, step + 1)
    assert "FG007" in result.stderr
    assert "No space left" in result.stderr
    assert [p.name for p in files_in(here)] == ["p.toml"]
    assert not (here / "out").exists()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (ROUND.replace("across = 30", "across = 300"), ("FG025", "opening[0]", "240.0 mm")),
        (ROUND.replace("along = 60", "along = 119"), ("FG025", "opening[0]")),
        (PLANE + 'along = 0\nremove = "top"\n', ("FG043", "cut[0]")),
        (BOX + "size_across = 900\nsize_along = 20\nacross = 30\nalong = 60\n", ("FG043", "cut[0]")),
    ],
    ids=["off its leg", "over the end", "all is removed", "two pieces"],
)
def test_parts_that_cannot_be(text: str, said: tuple[str, ...], here: Path, run: Run) -> None:
    refused(here, run, HEAD + text, *said)


def test_openings_that_overlap_are_one_hole_and_said(here: Path, run: Run) -> None:
    (here / "p.toml").write_text(HEAD + ROUND + ROUND.replace("along = 60", "along = 62"), "utf-8")
    result = run("draw", "p.toml")
    assert result.exit_code in (0, 1), result.stderr
    assert "FG108" in result.stdout


def test_a_bend_of_no_angle_is_refused(here: Path, run: Run) -> None:
    """Found by mutation: an allowance of its own let an angle pass that the kernel cannot draw."""
    refused(here, run, HEAD.replace("bend = 90", 'allowance = "5 mm", bend = 1e-9', 1), "FG013", "0.05")


def test_no_room_for_temporary_files(here: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    import tempfile

    def full(*given: object, **named: object) -> object:
        raise OSError(28, "No space left on device")

    (here / "p.toml").write_text(HEAD, "utf-8")
    monkeypatch.setattr(tempfile, "TemporaryDirectory", full)
    result = run("draw", "p.toml")
    assert (result.exit_code, "FG007" in result.stderr, "No space" in result.stderr) == (2, True, True)
    assert not (here / "out").exists()
