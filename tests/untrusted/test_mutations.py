"""Definitions with seeded slips, through the real command: refused or drawn, and nothing in between."""

from __future__ import annotations

import collections
import faulthandler
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.untrusted.mutants import CUTS, OWN, bases, mutated
from tests.untrusted.whole_files import ENDS, files_in, why_not_whole

THOROUGH, EACH = 100, 20
"""Batches and definitions in each: 2,000 in the thorough run, 200 in the normal one."""
LONGEST = 10.0
"""Of one definition [s], by the clock or by this process' own computing time, whichever is less."""
STUCK = 300.0
"""After this long in one definition [s] the process ends itself, with the stack on standard error."""

Run = Callable[..., object]


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


@pytest.fixture
def watchdog() -> Iterator[Callable[[], None]]:
    """Ends a process that hangs where no Python signal is heard, on every system."""
    stream = sys.__stderr__

    def again() -> None:
        faulthandler.dump_traceback_later(STUCK, exit=True, file=stream)

    yield again
    faulthandler.cancel_dump_traceback_later()


def definition(seed: int, number: int) -> bytes:
    """The mutated definition of one batch and number: the same on every machine."""
    draw = random.Random(seed * 1000 + number)
    known = bases()
    return mutated(known[(seed * EACH + number) % len(known)], draw)


def verdict(case: Path, result: object, spent: float) -> str:
    """What a run left that it must not; empty where all is well."""
    code, said = result.exit_code, result.stdout + result.stderr  # type: ignore[attr-defined]
    if code not in (0, 1, 2):
        return f"exit status {code}: {said[-600:]}"
    if "Traceback (most" in said:
        return f"a traceback: {said[-600:]}"
    if spent > LONGEST:
        return f"{spent:.1f} s"
    left = {p.relative_to(case).as_posix() for p in files_in(case)}
    wanted = {"p.toml"} | ({f"out/p/p{end}" for end in ENDS} if code < 2 else set())
    if left != wanted:
        return f"exit status {code}, files {sorted(left ^ wanted)}"
    if code == 2 and ("[FG" not in said or (case / "out").exists()):
        return f"refused without a code, or a folder is left: {said[-600:]}"
    return "; ".join(filter(None, (why_not_whole(p) for p in files_in(case / "out"))))


@pytest.mark.parametrize("seed", both(THOROUGH))
def test_mutated_definitions_are_refused_or_drawn_whole(
    seed: int,
    tmp_path: Path,
    run: Run,
    watchdog: Callable[[], None],
    monkeypatch: pytest.MonkeyPatch,
    record_property: Callable[[str, object], None],
) -> None:
    """The slips of one batch; what fails stays in its folder, and its number builds it again."""
    wrong: list[str] = []
    counts: collections.Counter[int] = collections.Counter()
    slowest = 0.0
    for number in range(EACH):
        case = tmp_path / str(number)
        case.mkdir()
        (case / "p.toml").write_bytes(definition(seed, number))
        monkeypatch.chdir(case)
        watchdog()
        clock, own = time.perf_counter(), time.process_time()
        result = run("draw", "p.toml")
        spent = min(time.perf_counter() - clock, time.process_time() - own)
        counts[result.exit_code] += 1  # type: ignore[attr-defined]
        slowest = max(slowest, spent)
        said = verdict(case, result, spent)
        if said:
            wrong.append(f"definition({seed}, {number}): {said}")
    record_property("statuses", dict(counts))
    record_property("slowest", round(slowest, 2))
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("text", OWN, ids=range(len(OWN)))
def test_what_is_mutated_is_sound(text: str, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mutation of what is refused anyhow would test little."""
    (tmp_path / "p.toml").write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    result = run("draw", "p.toml")
    assert result.exit_code in (0, 1), result.stderr  # type: ignore[attr-defined]
    assert not verdict(tmp_path, result, 0.0)


def test_what_is_mutated_uses_every_key() -> None:
    """Keys of openings, cuts and rules, as the package lists them."""
    import tomllib

    from flatgen.core.opening_rules import default_table
    from flatgen.definition.shapes import CutShape, OpeningShape

    read = [tomllib.loads(text) for text in OWN]
    for key, known in (("opening", OpeningShape.model_fields), ("cut", CutShape.model_fields)):
        used = {k for part in read for entry in part.get(key, ()) for k in entry}
        assert used == set(known)
    assert {k for part in read for k in part.get("rules", ())} == set(default_table())
    assert CUTS in OWN[1]


def test_the_verdict_sees_what_is_wrong(tmp_path: Path) -> None:
    """Each thing that a run must not leave is told."""
    from tests.conftest import Ran

    (tmp_path / "p.toml").write_text("")
    assert verdict(tmp_path, Ran(2, "", "p.toml: x [FG001]"), 0.0) == ""
    assert "exit status 3" in verdict(tmp_path, Ran(3, "", ""), 0.0)
    assert "traceback" in verdict(tmp_path, Ran(2, "", "Traceback (most recent call last)"), 0.0)
    assert "11.0 s" in verdict(tmp_path, Ran(2, "", "[FG001]"), 11.0)
    assert "files" in verdict(tmp_path, Ran(0, "", ""), 0.0)
    (tmp_path / "out/p").mkdir(parents=True)
    assert "folder" in verdict(tmp_path, Ran(2, "", "[FG001]"), 0.0)
    for end in ENDS:
        (tmp_path / f"out/p/p{end}").write_text("half")
    told = verdict(tmp_path, Ran(0, "", ""), 0.0)
    assert all(f"p{end}" in told for end in ENDS)
    (tmp_path / "out/p/.1.part").write_text("")
    assert ".1.part" in verdict(tmp_path, Ran(0, "", ""), 0.0)
