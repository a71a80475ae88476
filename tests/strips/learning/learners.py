"""Processes that learn sample strips, to be killed while they do.

The real writing is one call of the system. A slowed learner writes a few bytes at a time and waits before each, as a
system does that is nearly full, so that a kill finds it in the middle of a line. On systems that can, each learner is a
copy of one process that has done its imports; elsewhere it is started anew.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.places import ROOT

LEARN = """
import json, os, sys, time
from pathlib import Path
sys.path.insert(0, {root!r})
from tests.paper.strip_sheets.strip_samples import sample
from flatgen.strips import log
def learn(asked):
    write = os.write
    def slow(descriptor, data):
        time.sleep(asked["pause"])
        return write(descriptor, bytes(data[: asked["piece"]]))
    if asked["piece"]:
        os.write = slow
    done = os.open(asked["done"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for seed in asked["seeds"]:
        log.append(Path(asked["log"]), [sample(seed)])
        write(done, f"{{seed}}\\n".encode())
"""
COPIES = """
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
    code = 99
    try:
        learn(asked)
        code = 0
    finally:
        os._exit(code)
"""
ANEW = """
print("ready", flush=True)
learn(json.loads(sys.argv[1]))
"""


def _script(end: str) -> str:
    return LEARN.format(root=str(ROOT)) + end


class Learners:
    """Starts learners; to be used in a ``with``."""

    def __enter__(self) -> Learners:
        self.parent = None
        if hasattr(os, "fork"):
            self.parent = _started(_script(COPIES))
        return self

    def __exit__(self, *_: object) -> None:
        if self.parent is not None:
            assert self.parent.stdin is not None
            assert self.parent.stdout is not None
            self.parent.stdin.close()
            self.parent.wait(30)
            self.parent.stdout.close()

    def started(self, log: Path, seeds: list[int], done: Path, *, piece: int = 0, pause: float = 0.0) -> Learner:
        """A learner at work."""
        asked = json.dumps({"log": str(log), "seeds": seeds, "done": str(done), "piece": piece, "pause": pause})
        if self.parent is None:
            return Anew(_started(_script(ANEW), asked))
        return Copy(self.parent, int(_said(self.parent, asked)))


class Learner:
    """A process at work."""

    def kill(self) -> None:
        """End it at once."""
        raise NotImplementedError

    def ended(self) -> int:
        """Its exit status, negative where it was killed by a signal."""
        raise NotImplementedError


class Copy(Learner):
    def __init__(self, parent: subprocess.Popen[str], number: int) -> None:
        self.parent, self.number = parent, number

    def kill(self) -> None:
        os.kill(self.number, signal.SIGKILL)

    def ended(self) -> int:
        return int(_said(self.parent, json.dumps({"wait": self.number})))


class Anew(Learner):
    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def kill(self) -> None:
        self.process.kill()

    def ended(self) -> int:
        status = self.process.wait(120)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                pipe.close()
        return status


def _started(script: str, *arguments: str) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", script, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    until = time.monotonic() + 120
    while process.stdout.readline().strip() != "ready":
        assert time.monotonic() < until
        assert process.poll() is None, "the learner did not start"
    return process


def _said(process: subprocess.Popen[str], line: str) -> str:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(line + "\n")
    process.stdin.flush()
    return process.stdout.readline()
