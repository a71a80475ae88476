"""The keeper against workers that hang, crash, balloon and forge; the real worker against the same work in place."""

from __future__ import annotations

import dataclasses
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

import numpy as np
import psutil
import pytest

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.received import codec
from flatgen.unfolding.received.codec import CodecError, decode, encode
from flatgen.unfolding.received.keeper import MOST_DEATHS, Keeper
from flatgen.unfolding.received.request import Answer, FileRequest, ReceivedSolid, Request, SolidStarted
from tests.unfolding.received.step_files import angle, bolt, developed, write, write_assembly

ODD = (str(Path(__file__).parent / "odd_worker.py"),)
SECONDS, MEMORY = 2.0, 400.0
"""Bounds for odd workers [s], [MB]."""
K = Request(k=0.4)

Plan = Callable[..., Path]


@pytest.fixture
def keeper() -> Iterator[Keeper]:
    with Keeper(worker=ODD, reading=SECONDS, solid=SECONDS, starting=30.0, memory=MEMORY) as made:
        yield made


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    """A file that tells the odd worker what to do."""

    def make(*solids: str, reading: str = "good", name: str = "plan.step") -> Path:
        path = tmp_path / name
        said = json.dumps({"solids": solids, "reading": reading})
        path.write_text(f"ISO-10303-21;\n/*{said}*/\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n")
        return path

    return make


def codes(answers: list[ReceivedSolid]) -> list[str]:
    return [f.code for a in answers for f in a.faults]


def worker_of(answer: ReceivedSolid) -> int:
    """The process that an odd worker's answer came from."""
    return int(answer.faults[0].text.split()[-1])


DEADLY = {
    "hang": "it took more than 2 s",
    "spin": "it took more than 2 s",
    "abort": "it broke the kernel: the process that worked on it ",
    "overrun": "it broke the kernel: the process that worked on it ",
    "leave": "ended with status 5",
    "balloon": "it took more than 400 MB of memory",
    "one piece": "it took more than 400 MB of memory",
    "pickle": "sent what is no answer",
    "noise": "sent what is no answer",
    "deep": "sent what is no answer",
    "other": "sent what is no answer",
    "bare": "answered what was not asked",
    "endless": "sent what is no answer",
    "flood": "answered what was not asked",
}


@pytest.mark.parametrize("word", DEADLY)
def test_a_death_is_the_fault_of_one_solid(
    word: str, keeper: Keeper, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The solids before and after it are answered, by two workers; nothing that was forged is carried out."""
    monkeypatch.setenv("FORGED", str(tmp_path / "forged"))
    began = time.monotonic()
    answers = keeper.receive(plan("good", word, "good"), K)
    assert time.monotonic() - began < 15
    assert [a.number for a in answers] == [1, 2, 3]
    assert codes(answers) == ["FG040", "FG051", "FG040"]
    (fault,) = answers[1].faults
    assert DEADLY[word] in fault.text
    assert fault.remedy
    assert answers[1].exit_status == 2
    assert worker_of(answers[0]) != worker_of(answers[2])
    assert not psutil.pid_exists(worker_of(answers[0]))
    assert not (tmp_path / "forged").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals are a thing of Unix")
@pytest.mark.parametrize(("word", "name"), [("abort", "SIGABRT"), ("overrun", "SIGSEGV")])
def test_a_crash_names_its_signal(word: str, name: str, keeper: Keeper, plan: Plan) -> None:
    (answer,) = keeper.receive(plan(word), K)
    assert f"was ended by signal {name}" in answer.faults[0].text


@pytest.mark.parametrize("word", ["hang", "abort", "pickle", "balloon"])
def test_a_death_while_reading_is_the_fault_of_the_file(
    word: str, keeper: Keeper, plan: Plan, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """And the next file is read by a new worker."""
    monkeypatch.setenv("FORGED", str(tmp_path / "forged"))
    path = plan("good", reading=word)
    with pytest.raises(InputRefused, match="reading it failed") as refused:
        keeper.receive(path, K)
    (fault,) = refused.value.faults
    assert (fault.code, fault.where) == ("FG051", str(path))
    assert DEADLY[word] in fault.text
    assert codes(keeper.receive(plan("good"), K)) == ["FG040"]


def test_one_worker_serves_several_files(keeper: Keeper, plan: Plan) -> None:
    first = keeper.receive(plan("good", "good"), K)
    second = keeper.receive(plan("good", name="ein Träger, Ø 8.step"), K)
    assert len({worker_of(a) for a in first + second}) == 1


def test_a_worker_that_died_between_files_is_replaced(keeper: Keeper, plan: Plan) -> None:
    (first,) = keeper.receive(plan("good"), K)
    process = psutil.Process(worker_of(first))
    process.kill()
    process.wait(5)
    (second,) = keeper.receive(plan("good"), K)
    assert worker_of(second) != worker_of(first)
    assert codes([second]) == ["FG040"]


def test_after_some_deaths_the_rest_is_not_tried(keeper: Keeper, plan: Plan) -> None:
    answers = keeper.receive(plan("good", *["leave"] * (MOST_DEATHS + 2), "good"), K)
    assert codes(answers) == ["FG040", *["FG051"] * (MOST_DEATHS + 3)]
    assert "status 5" in answers[MOST_DEATHS].faults[0].text
    assert f"not tried: {MOST_DEATHS} solids" in answers[MOST_DEATHS + 1].faults[0].text


@pytest.mark.parametrize("word", ["leave", "noise", "flood"])
def test_a_worker_that_cannot_start_is_told(
    word: str, keeper: Keeper, plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ODD_START", word)
    with pytest.raises(InputRefused, match="could not be started") as refused:
        keeper.receive(plan("good"), K)
    assert "import OCP" in refused.value.faults[0].remedy


def test_what_is_no_step_file_starts_no_worker(tmp_path: Path) -> None:
    with Keeper(worker=("-c", "raise SystemExit")) as keeper, pytest.raises(InputRefused, match="FG001"):
        keeper.receive(tmp_path / "none.step", K)


def test_the_end_of_the_context_ends_the_worker(plan: Plan) -> None:
    with Keeper(worker=ODD) as keeper:
        (answer,) = keeper.receive(plan("good"), K)
        assert psutil.pid_exists(worker_of(answer))
    assert not psutil.pid_exists(worker_of(answer))


def test_a_worker_holds_no_pipe_of_others(keeper: Keeper, plan: Plan) -> None:
    """The end of a pipe that somebody else waits for, left inheritable."""
    reading, writing = os.pipe()
    os.set_inheritable(writing, True)
    keeper.receive(plan("good"), K)
    os.close(writing)
    assert os.read(reading, 1) == b""
    os.close(reading)


def test_modules_beside_the_file_are_not_run(
    keeper: Keeper, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that came from elsewhere may hold a module of a usual name."""
    for name in ("numpy", "json", "psutil", "flatgen"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit(9)")
    monkeypatch.chdir(tmp_path)
    assert codes(keeper.receive(plan("good").name, K)) == ["FG040"]


SCRIPT = """
import signal
import sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job ignores it
from flatgen.unfolding.received.keeper import Keeper
from flatgen.unfolding.received.request import Request
with Keeper(worker=(sys.argv[1],)) as keeper:
    print(keeper.receive(sys.argv[2], Request(k=0.4))[0].faults[0].text.split()[-1], flush=True)
    keeper.receive(sys.argv[3], Request(k=0.4))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are a thing of Unix")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_the_worker_ends_with_its_keeper(how: int, plan: Plan) -> None:
    """Ctrl-C, and a keeper that is killed; each while the worker is at work."""
    command = [sys.executable, "-c", SCRIPT, *ODD, str(plan("good")), str(plan("hang", name="b.step"))]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as run:
        assert run.stdout is not None
        worker = psutil.Process(int(run.stdout.readline()))
        time.sleep(0.3)
        assert worker.is_running()
        run.send_signal(how)
        run.wait(10)
    gone, alive = psutil.wait_procs([worker], 10)
    assert gone
    assert not alive


def test_the_keeper_needs_no_kernel() -> None:
    loaded = "print({m.split('.')[0] for m in sys.modules} & {'OCP', 'cadquery'})"
    code = f"import sys, flatgen.unfolding.received.keeper; {loaded}"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "set()"


# the codec


def test_all_of_a_request_and_an_answer_can_be_written(tmp_path: Path) -> None:
    """Every metal of the tables, and every field of an answer, come back as they were."""
    from flatgen.metal.metals import load_metals

    for metal in load_metals().values():
        asked = FileRequest(str(tmp_path), Request(metal, 0.4, "+x", 2.0, True, False), (1, 2), 3.0)
        assert decode(encode(asked, FileRequest), FileRequest) == asked
    for kind in get_args(Answer):
        codec._converters(kind)  # raises where a field has a type that there is no way for
    with pytest.raises(CodecError, match="no way"):
        codec._converters(set[int])


def same(one: Any, other: Any) -> bool:
    """Whether two answers are equal to the last bit, matrices included."""
    if isinstance(one, np.ndarray):
        return bool(np.array_equal(one, other))
    if dataclasses.is_dataclass(one):
        fields = dataclasses.fields(one)
        return type(one) is type(other) and all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}",
        b'["SolidStarted",[1,2]]',
        b'["SolidStarted",[]]',
        b'["SolidStarted",[1.0]]',
        b'["SolidStarted",[true]]',
        b'["SolidStarted",["1"]]',
        b'["SolidStarted",[1e999]]',
        b'["SolidStarted",[' + b"9" * 5000 + b"]]",
        b'["SolidStarted",[9007199254740993]]',
        b'["Fault",["FG040","","",""]]',
        b'["FileRefused",[[["FG000","x","y","z"]]]]',
        b'["FileOpened",[[["a",NaN]]]]',
        b'["builtins.eval",["1"]]',
        b'["ReceivedSolid",[1,"",1,[NaN,[],[],[],[],0,null,[],0,0,[]],[],[],"",0]]',
        b"\x80\x04\x95",
    ],
)
def test_what_is_no_answer_is_refused(line: bytes) -> None:
    with pytest.raises(CodecError):
        decode(line, Answer)  # type: ignore[arg-type]


def test_what_is_not_plain_is_not_written() -> None:
    for bad in (SolidStarted("1"), SolidStarted(True), Unknown(1)):  # type: ignore[arg-type]
        with pytest.raises(CodecError):
            encode(bad, Answer)
    with pytest.raises(CodecError):
        encode(Request(k=float("nan")), Request)


@dataclasses.dataclass(frozen=True)
class Unknown:
    number: int


def test_texts_cannot_steer_a_terminal() -> None:
    sent = Fault("FG050", "a\x1b[31m", "b\nc\u202e", "\x07")
    assert decode(encode(sent, Fault), Fault) == Fault("FG050", "a?[31m", "b\nc?", "?")


# the real worker


@pytest.fixture(scope="module")
def real() -> Iterator[Keeper]:
    with Keeper(reading=60.0, solid=60.0) as made:
        yield made


def test_the_real_worker_unfolds(real: Keeper, tmp_path: Path) -> None:
    """Size of the blank by hand; a bolt is set aside, and both are named."""
    path = write_assembly(tmp_path / "ein Träger, groß.step", [("Träger", angle(), 3), ("bolt", bolt(), 2)])
    answers = real.receive(path, K)
    assert [(a.name, a.count, a.exit_status) for a in answers] == [("Träger", 3, 0), ("bolt", 2, 2)]
    assert codes(answers) == ["FG040"]
    flat = answers[0].flat
    assert flat is not None
    assert sorted((flat.width, flat.length)) == pytest.approx(sorted((40.0, developed(0.4))), abs=1e-6)


def test_the_worker_answers_what_is_found_in_place(
    real: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last bit."""
    from flatgen.unfolding.received import worker

    path = write(tmp_path / "a.step", angle())
    said: list[Any] = []
    monkeypatch.setattr(worker, "bound_computing", lambda seconds: None)  # this process is not to be ended
    worker.answer_request(FileRequest(str(path), K, (), 60.0), said.append)
    (in_place,) = [s for s in said if isinstance(s, ReceivedSolid)]
    (kept,) = real.receive(path, K)
    assert kept.flat is not None
    assert same(kept, in_place)


def test_a_refused_file_keeps_the_worker(real: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """To start it again takes longer than most files."""
    real.receive(write(tmp_path / "a.step", angle()), K)
    before = real._process
    path = tmp_path / "b.step"
    path.write_text("ISO-10303-21;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputRefused, match="FG050") as refused:
        real.receive("b.step", K)
    assert refused.value.faults[0].where == "b.step"  # as it was given
    assert real._process is before
    assert before is not None
    assert before.alive()


def test_the_step_of_the_formed_part(real: Keeper, tmp_path: Path) -> None:
    """In mm, of the same volume, whatever the unit of the file; none where none is wanted."""
    import cadquery as cq

    path = write(tmp_path / "a.step", angle(), unit="INCH")
    (answer,) = real.receive(path, K)
    again = tmp_path / "again.step"
    again.write_bytes(answer.step)
    assert b"SI_UNIT(.MILLI.,.METRE.)" in answer.step
    solid = cq.importers.importStep(str(again)).val()
    assert solid.isValid()
    assert solid.Volume() == pytest.approx(angle().Volume(), rel=1e-9)
    assert real.receive(path, dataclasses.replace(K, step=False))[0].step == b""


def test_without_metal_and_k_the_worker_refuses(real: Keeper, tmp_path: Path) -> None:
    (answer,) = real.receive(write(tmp_path / "a.step", angle()), Request())
    assert codes([answer]) == ["FG052"]


def test_what_goes_wrong_in_one_solid_is_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An exception that nobody foresaw, and one of the kernel: a fault with its kind and no traceback."""
    from OCP.Standard import Standard_Failure

    from flatgen.unfolding import formed
    from flatgen.unfolding.received import worker

    raised: list[Exception] = [IndexError("list index\x1b out of range"), Standard_Failure("no pole")]
    whole = formed.unfold_formed

    def failing(*given: Any) -> Any:
        if raised:
            raise raised.pop(0)
        return whole(*given)

    monkeypatch.setattr(formed, "unfold_formed", failing)
    monkeypatch.setattr(worker, "bound_computing", lambda seconds: None)
    said: list[Any] = []
    path = write(tmp_path / "a.step", angle(), bolt(), angle(50))
    worker.answer_request(FileRequest(str(path), K, (), 60.0), said.append)
    answers = [s for s in said if isinstance(s, ReceivedSolid)]
    assert codes(answers) == ["FG050", "FG051"]
    assert "IndexError" in answers[0].faults[0].text
    assert "\x1b" not in answers[0].faults[0].text
    assert "Standard_Failure" in answers[1].faults[0].text
    assert answers[2].flat is not None
