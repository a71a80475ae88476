"""Runs of ``draw`` in a process of their own, slowed where files are written, to be killed there.

A run begins where its imports are done, so that the time of a kill falls into the work. Imports take longer than the
work: on Linux one process does them once and each run is a copy of it; elsewhere each run does them anew.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from abc import ABC, abstractmethod
from pathlib import Path
from types import TracebackType
from typing import Any

PARTS = 2
PART = """title = "{title}"
units = "mm"
metal = "DC01"
thickness = 1.5
inside_radius = 2
length = {length}
section = [{{ leg = 20 }}, {{ bend = 90, way = "up" }}, {{ leg = 30, name = "web" }}]
[[opening]]
leg = "web"
shape = "round"
diameter = 5
across = 15
along = 20
"""

SLOWED = """
import json, os, sys, time
import cadquery, ezdxf, matplotlib, shapely
import flatgen.core.files, flatgen.jobs.draw
from flatgen import cli
def slow(function, pause):
    def call(*given, **named):
        time.sleep(pause)
        made = function(*given, **named)
        time.sleep(pause)
        return made
    return call
def begin(pause, arguments):
    os.replace, os.fsync = slow(os.replace, pause), slow(os.fsync, pause)
    sys.argv = ["flatgen", *arguments]
    print("ready", flush=True)
    cli.main()
"""
ANEW = SLOWED + "begin(float(sys.argv[1]), sys.argv[2:])"
COPIES = (
    SLOWED
    + """
print("ready", flush=True)
for line in sys.stdin:
    asked = json.loads(line)
    if "wait" in asked:
        print(os.waitstatus_to_exitcode(os.waitpid(asked["wait"], 0)[1]), flush=True)
        continue
    child = os.fork()
    if child:
        print(child, flush=True)
        continue
    os.chdir(asked["folder"])
    log = os.open(asked["log"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for end in (1, 2):
        os.dup2(log, end)
    code = 99
    try:
        begin(asked["pause"], asked["arguments"])
    except SystemExit as ended:
        code = ended.code or 0
    except BaseException:
        import traceback
        traceback.print_exc()
    finally:
        sys.stdout.flush(), sys.stderr.flush()
        os._exit(code)
"""
)


def write_parts(folder: Path, length: int, title: str) -> list[str]:
    """Definitions of one state; their files' names, to be given to ``draw``."""
    folder.mkdir(parents=True, exist_ok=True)
    names = [f"part{number}.toml" for number in range(PARTS)]
    for name in names:
        (folder / name).write_text(PART.format(length=length, title=title), "utf-8")
    return names


class Run(ABC):
    """A run that has begun."""

    @abstractmethod
    def kill(self) -> None:
        """End it at once, wherever it is."""

    @abstractmethod
    def ended(self, longest: float) -> tuple[int, str]:
        """Its exit status, and what it said; waits no longer than this [s]."""


class Runs(ABC):
    """Starts runs; to be used in a ``with``."""

    def __enter__(self) -> Runs:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None) -> None:
        return None

    @abstractmethod
    def started(self, folder: Path, names: list[str], pause: float, out: Path | None = None) -> Run:
        """A run that begins to draw; ``pause`` [s] before and after each step of writing."""


def arguments(folder: Path, names: list[str], out: Path | None) -> list[str]:
    return ["draw", *names, "--out", str(out or folder / "out")]


def runs() -> Runs:
    """The way that this system offers."""
    return Copies() if sys.platform == "linux" else Anew()


class Anew(Runs):
    """Each run imports all that it needs."""

    def started(self, folder: Path, names: list[str], pause: float, out: Path | None = None) -> Run:
        command = [sys.executable, "-c", ANEW, str(pause), *arguments(folder, names, out)]
        return _Anew(command, folder)


class _Anew(Run):
    def __init__(self, command: list[str], folder: Path) -> None:
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(
            command, cwd=folder, stdout=pipe, stderr=subprocess.STDOUT, text=True, encoding="utf-8", errors="replace"
        )
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        assert said.startswith("ready"), said + self.process.stdout.read()

    def kill(self) -> None:
        self.process.kill()

    def ended(self, longest: float) -> tuple[int, str]:
        said, _ = self.process.communicate(timeout=longest)
        return self.process.returncode, said


class Copies(Runs):
    """Each run is a copy of one process that has imported all."""

    def __init__(self) -> None:
        pipe = subprocess.PIPE
        self.count = 0
        self.process = subprocess.Popen([sys.executable, "-c", COPIES], stdin=pipe, stdout=pipe, text=True)
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None) -> None:
        self.process.communicate(timeout=30)

    def asked(self, **what: Any) -> int:
        """Its answer, a number."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(what) + "\n")
        self.process.stdin.flush()
        return int(self.process.stdout.readline())

    def started(self, folder: Path, names: list[str], pause: float, out: Path | None = None) -> Run:
        self.count += 1
        log = folder / f"said-{self.count}.txt"
        child = self.asked(folder=str(folder), log=str(log), pause=pause, arguments=arguments(folder, names, out))
        return _Copy(self, child, log)


class _Copy(Run):
    """It keeps its number until its end has been asked for, so that no other process is hit."""

    def __init__(self, of: Copies, number: int, log: Path) -> None:
        self.of, self.number, self.log = of, number, log

    def kill(self) -> None:
        os.kill(self.number, signal.SIGKILL)

    def ended(self, longest: float) -> tuple[int, str]:
        late = signal.SIGKILL
        end = time.monotonic() + longest
        while not _over(self.number):
            if time.monotonic() > end:
                os.kill(self.number, late)
                self.of.asked(wait=self.number)
                raise AssertionError(f"it hangs: {self.log.read_text('utf-8', errors='replace')}")
            time.sleep(0.005)
        return self.of.asked(wait=self.number), self.log.read_text("utf-8", errors="replace")


def _over(number: int) -> bool:
    """Whether a process has ended and only its exit status is left."""
    import psutil

    return psutil.Process(number).status() == psutil.STATUS_ZOMBIE
