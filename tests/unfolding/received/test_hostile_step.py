"""STEP files with seeded slips, through the keeper and through the real command: refused or unfolded, nothing else."""

from __future__ import annotations

import collections
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from flatgen.core.errors import FlatgenError
from flatgen.unfolding.received.keeper import Keeper
from flatgen.unfolding.received.request import ReceivedSolid, Request
from tests.conftest import Ran
from tests.unfolding.received.step_mutants import REAL, SLIPS, mutant, own, real
from tests.untrusted.whole_files import ENDS, files_in, why_not_whole

BATCHES, EACH = 100, 20
"""2,000 files in the thorough run, 200 in the normal one."""
READING, SOLID, MEMORY = 2.0, 2.5, 1500.0
"""Bounds for these small files [s], [MB]; where the machine is slow, a sound one may be refused as well."""
LONGEST = 60.0
"""For one file [s], with some deaths and the starts of new workers in it."""
UNFORESEEN = "its geometry is damaged, or beyond what is known"


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    return [s if s < count // 10 else pytest.param(s, marks=pytest.mark.thorough) for s in range(count)]


def file_of(batch: int, number: int) -> tuple[bytes, str]:
    """The mutated file of a batch: odd batches from the real parts, if they are there."""
    known = real() if batch % 2 and REAL.is_dir() else own()
    return mutant(known, batch * EACH + number)


@pytest.fixture(scope="module")
def keeper() -> Iterator[Keeper]:
    with Keeper(reading=READING, solid=SOLID, memory=MEMORY) as made:
        yield made


def verdict(answers: list[ReceivedSolid], spent: float) -> str:
    """What is wrong with the answers to one file; empty where all is well."""
    for one in answers:
        told = "; ".join(f"{f.code} {f.where}: {f.text}" for f in one.faults)
        if one.exit_status not in (0, 2) or "FG999" in told:
            return f"solid {one.number}, exit status {one.exit_status}: {told}"
        if "Traceback" in told or (one.flat is None) == (one.exit_status == 0):
            return f"solid {one.number}: {told or 'neither flat nor faults'}"
    return f"{spent:.1f} s" if spent > LONGEST else ""


@pytest.mark.parametrize("batch", both(BATCHES))
def test_mutated_files_are_refused_or_unfolded(
    batch: int, keeper: Keeper, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """What fails is named by batch and number, which build it again with ``file_of``."""
    wrong: list[str] = []
    counts: collections.Counter[str] = collections.Counter()
    slowest = 0.0
    for number in range(EACH):
        content, slips = file_of(batch, number)
        path = tmp_path / f"{number}.step"
        path.write_bytes(content)
        clock = time.perf_counter()
        try:
            answers = keeper.receive(path, Request(k=0.42, step=number % 5 == 0))
        except FlatgenError as error:
            counts.update(f.code for f in error.faults)
            said = f"exit status {error.exit_status}: {error}" if error.exit_status != 2 else ""
            said += "a traceback" if "Traceback" in str(error) else ""
        else:
            counts.update(a.faults[0].code if a.faults else "flat" for a in answers)
            counts["unforeseen"] += sum(UNFORESEEN in f.text for a in answers for f in a.faults)
            said = verdict(answers, time.perf_counter() - clock)
        slowest = max(slowest, time.perf_counter() - clock)
        if said:
            wrong.append(f"file_of({batch}, {number}) ({slips}): {said}")
    record_property("answers", dict(counts))
    record_property("slowest", round(slowest, 1))
    assert not wrong, "\n".join(wrong)


def test_what_is_mutated_is_sound(tmp_path: Path) -> None:
    """A slip in what is refused anyhow would test little."""
    with Keeper() as keeper:
        for number, content in enumerate(own()):
            path = tmp_path / f"{number}.step"
            path.write_bytes(content)
            answers = keeper.receive(path, Request(k=0.42))
            assert answers[0].flat is not None, answers[0].faults


def test_every_slip_changes_something() -> None:
    """And each is drawn in the normal run."""
    drawn = {name for n in range(BATCHES * EACH // 10) for name in mutant(own(), n)[1].split(" + ")}
    assert drawn == {slip.__name__ for slip in SLIPS}
    changed = [mutant(own(), n)[0] != own()[n % len(own())] for n in range(200)]
    assert sum(changed) > 180
    assert mutant(own(), 7) == mutant(own(), 7)


def test_the_verdict_sees_what_is_wrong() -> None:
    from flatgen.core.errors import Fault

    refused = ReceivedSolid(1, "", faults=(Fault("FG040", "the solid", "x"),), exit_status=2)
    assert verdict([refused], 1.0) == ""
    assert "61.0 s" in verdict([refused], 61.0)
    assert "exit status 3" in verdict([ReceivedSolid(1, "", faults=(Fault("FG901", "x", "y"),), exit_status=3)], 1.0)
    assert "FG999" in verdict([ReceivedSolid(1, "", faults=(Fault("FG999", "x", "y"),), exit_status=2)], 1.0)
    assert "neither" in verdict([ReceivedSolid(1, "")], 1.0)


COMMAND = 30
"""Files for the real command, in one call."""


@pytest.mark.parametrize("batch", [0, 1])
def test_the_command_leaves_whole_parts_or_none(
    batch: int, run: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each file is drawn whole in its own folder, or refused with a code, and nothing of it is left."""
    from flatgen.jobs import unfold as incoming

    monkeypatch.setattr(incoming, "keeper", lambda: Keeper(reading=READING, solid=SOLID, memory=MEMORY))
    monkeypatch.chdir(tmp_path)
    names = []
    for number in range(COMMAND // 2):
        content, _ = file_of(batch, number)
        names.append(f"p{number}.step")
        (tmp_path / names[-1]).write_bytes(content)
    result = run("unfold", *names, "--k", "0.42", "--json")
    assert result.exit_code in (0, 1, 2), result.stderr
    assert "Traceback" not in result.stdout + result.stderr
    answers = json.loads(result.stdout)
    assert len(answers) >= len(names)
    drawn = {Path(f).parent for a in answers for f in a.get("files", ())}
    assert drawn == {p.parent.relative_to(tmp_path) for p in files_in(tmp_path / "out")}
    for folder in drawn:
        assert {p.name for p in files_in(tmp_path / folder)} == {folder.name + end for end in ENDS}
    assert not [said for said in map(why_not_whole, files_in(tmp_path / "out")) if said]
    assert len(drawn) > 3
