"""Runs of ``draw`` that are killed, and two at once: every file with a final name is whole."""

from __future__ import annotations

import json
import os
import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from flatgen.core.files import STALE_AGE, write_all
from tests.untrusted.killed_runs import PARTS, Runs, runs, write_parts
from tests.untrusted.whole_files import ENDS, files_in, parts_in, why_not_whole

THOROUGH, EACH = 20, 15
"""Batches and kills in each: 300 in the thorough run, 30 in the normal one."""
PAUSE = 0.01
"""Before and after each step of writing [s]."""
LONGEST = 120.0
"""A run that takes longer hangs [s]."""


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


def finished(folder: Path) -> list[Path]:
    """Files with a final name."""
    return [p for p in files_in(folder) if not p.name.endswith(".part")]


def wanted(folder: Path) -> set[Path]:
    """All files of all parts."""
    return {folder / f"part{n}/part{n}{end}" for n in range(PARTS) for end in ENDS}


@pytest.fixture(scope="module", name="runs")
def _runs() -> Iterator[Runs]:
    with runs() as made:
        yield made


@pytest.mark.parametrize("seed", both(THOROUGH))
def test_what_a_killed_run_leaves_is_whole(
    seed: int, runs: Runs, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Killed at random moments of the work, again and again into one folder; a later run ends well."""
    draw, out = random.Random(seed), tmp_path / "out"
    names = write_parts(tmp_path, 100, "first")
    begin = time.perf_counter()
    _, said = runs.started(tmp_path, names, PAUSE).ended(LONGEST)
    span = time.perf_counter() - begin
    assert set(finished(out)) == wanted(out), said
    hit, staged, known = 0, 0, dict[Path, bytes]()
    for number in range(EACH):
        write_parts(tmp_path, 110 + number, "again")
        run = runs.started(tmp_path, names, PAUSE)
        time.sleep(draw.uniform(0.1, 0.95) * span)
        run.kill()
        hit += run.ended(LONGEST)[0] not in (0, 1, 2, 3)
        staged += bool(parts_in(out))
        assert set(finished(out)) == wanted(out), "the files of the first run stay until others take their names"
        changed = {p: p.read_bytes() for p in finished(out)}
        changed = {p: b for p, b in changed.items() if b != known.get(p)}
        assert [w for w in map(why_not_whole, changed) if w] == []
        known |= changed
    record_property("killed at work", hit)
    record_property("kills after which staged files lay there", staged)
    assert hit > EACH // 2, "kills that come after the work prove nothing"
    status, said = runs.started(tmp_path, names, 0.0).ended(LONGEST)
    assert status in (0, 1), said
    assert {json.loads(p.read_bytes())["fingerprint"] for p in out.rglob("*.json")} == _fingerprints(tmp_path, names)


def _fingerprints(folder: Path, names: list[str]) -> set[str]:
    from flatgen.definition.reader import read_profile

    return {read_profile(folder / name).fingerprint for name in names}


@pytest.mark.parametrize("trial", both(10))
def test_two_runs_into_one_folder(trial: int, runs: Runs, tmp_path: Path) -> None:
    """Two definitions of the same names, drawn at once: whole files of the one or the other."""
    first, second = tmp_path / "one", tmp_path / "two"
    names = write_parts(first, 100, "one")
    write_parts(second, 140 + trial, "two")
    out = tmp_path / "out"
    ended = [run.ended(LONGEST) for run in [runs.started(folder, names, PAUSE, out) for folder in (first, second)]]
    assert [status in (0, 1) for status, _ in ended] == [True, True], ended
    assert set(files_in(out)) == wanted(out)
    assert [w for w in map(why_not_whole, files_in(out)) if w] == []


def test_what_killed_runs_left_does_not_pile_up(tmp_path: Path) -> None:
    """Staged files of long ago go, young ones stay for the run that may be at work, and nobody else's are touched."""
    old, young, other = (tmp_path / n for n in (".0123abcd-0.part", ".0123abcd-1.part", "mine.part"))
    for path in (old, young, other):
        path.write_text("half")
    past = time.time() - STALE_AGE - 60
    for path in (old, other):
        os.utime(path, (past, past))
    write_all(tmp_path, {"a.json": b"{}"})
    assert {p.name for p in files_in(tmp_path)} == {young.name, other.name, "a.json"}
