"""README, "From strip to part", run word for word: its commands in their order, its numbers written into its form."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.places import ROOT

FORM = "out/roof-rail-strip/roof-rail-strip.form.toml"


def section() -> str:
    text = (ROOT / "README.md").read_text("utf-8")
    found = re.search(r"^## From strip to part\n(.*?)^## ", text, re.S | re.M)
    assert found is not None
    return found[1]


def blocks(kind: str) -> list[str]:
    found = re.findall(rf"^ *```{kind}\n(.*?)^ *```", section(), re.S | re.M)
    return [re.sub(r"^   ", "", block, flags=re.M) for block in found]


def filled_in(form: str, numbers: str) -> str:
    """The form with each line of the README's block in place of its own of that key, table by table."""
    wanted: list[dict[str, str]] = []
    for line in numbers.splitlines():
        if line.startswith("[["):
            wanted.append({"": line.strip()})
        elif " = " in line:
            key, _, value = line.partition(" = ")
            wanted[-1][key] = value
    tables = re.split(r"(?m)^(?=\[\[)", form)
    for table in wanted:
        head = table.pop("")
        own = next(k for k in ("name", "label", "sheet") if k in table)
        at = [
            n
            for n, text in enumerate(tables)
            if text.startswith(head) and (own == "sheet" or f"\n{own} = {table[own]}" in text)
        ]
        assert len(at) == 1, (head, table)
        for key, value in table.items():
            tables[at[0]], count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", tables[at[0]])
            assert count == 1, key
    return "".join(tables)


def test_word_for_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Callable[..., Ran]) -> None:
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles", ignore=shutil.ignore_patterns("*.jsonl"))
    monkeypatch.chdir(tmp_path)
    commands = [shlex.split(line)[1:] for block in blocks("sh") for line in block.splitlines() if line.strip()]
    assert [c[0] for c in commands] == ["strip", "learn", "learned", "draw"]
    (numbers,) = blocks("toml")
    before = json.loads(run("draw", "profiles/roof-rail.toml", "--only", "json", "--json").stdout)
    said = {}
    for command in commands:
        if command[0] == "learn":
            form = tmp_path / FORM
            form.write_text(filled_in(form.read_text("utf-8"), numbers), "utf-8")
        ran = run(*command)
        assert (ran.exit_code, ran.stderr) == (0, ""), command
        said[command[0]] = ran.stdout
    assert "roof-rail-strip.card.pdf" in said["strip"]
    assert "from 4 bends on 1 strip" in said["learned"]
    assert (tmp_path / "out/learned.report.pdf").read_bytes().startswith(b"%PDF")
    assert "measured, from 4 bends on 1 strip" in said["draw"]
    after = json.loads((tmp_path / "out/roof-rail/roof-rail.json").read_text("utf-8"))
    assert after["blank"]["width"] != pytest.approx(before["blank"]["width"], abs=0.05)
    assert after["schedule"]["expected"]["legs"]
    assert "chance" in said["draw"]
