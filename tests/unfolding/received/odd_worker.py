"""A worker that does as a comment in the file says: hangs, crashes, balloons, forges. Run by a keeper under test.

The comment is JSON: ``reading`` and ``solids`` are words, see ``do``.
"""

from __future__ import annotations

import ctypes
import json
import os
import pickle
import re
import sys
import time
from pathlib import Path

CHANNEL = os.dup(1)

from flatgen.core.errors import Fault  # noqa: E402
from flatgen.unfolding.received.codec import encode  # noqa: E402
from flatgen.unfolding.received.request import (  # noqa: E402
    Answer,
    FileDone,
    FileOpened,
    ReceivedSolid,
    SolidStarted,
    WorkerReady,
)
from flatgen.unfolding.received.worker import bound_memory, channels  # noqa: E402


class Forged:
    """Runs a command in whoever unpickles it."""

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, (os.environ["FORGED"],)


def said(data: bytes) -> None:
    os.write(CHANNEL, data)


def do(word: str) -> None:
    """One way to misbehave; ``good`` does nothing."""
    if word == "hang":
        while True:
            time.sleep(1)
    elif word == "spin":  # in native code that lets no other thread run
        re.match(r"(a+)+$", "a" * 80 + "b")
    elif word == "abort":
        os.abort()
    elif word == "overrun":
        ctypes.string_at(1)
    elif word == "leave":
        os._exit(5)
    elif word == "balloon":
        held = []
        while True:
            held.append(b"x" * 10_000_000)
            time.sleep(0.002)
    elif word == "one piece":
        try:
            bytearray(10**11)
        except MemoryError:
            os._exit(71)
    elif word == "pickle":
        said(pickle.dumps(Forged()) + b"\n")
    elif word == "noise":
        said(b"\xff\xfe{{{\n")
    elif word == "deep":
        said(b"[" * 500_000 + b"\n")
    elif word == "other":
        said(b'["Path",["."]]\n')
    elif word == "bare":
        said(b'["ReceivedSolid",[1,"",1,null,[],[],"",0,null]]\n')
    elif word == "endless":
        while True:
            said(b"1" * 1_000_000)
    elif word == "flood":
        while True:
            said(encode(SolidStarted(1), Answer) + b"\n")
    elif word != "good":
        raise ValueError(word)


def main() -> None:
    say, asked = channels()
    bound_memory(float(sys.argv[1]))
    if os.environ.get("ODD_START"):
        do(os.environ["ODD_START"])
    say(WorkerReady())
    for ask in asked:
        plan = json.loads(re.search(r"/\*(.*?)\*/", Path(ask.path).read_text("utf-8"), re.S)[1])  # type: ignore[index]
        do(plan.get("reading", "good"))
        say(FileOpened(tuple((f"part {n + 1}", 1) for n in range(len(plan["solids"])))))
        for number, word in enumerate(plan["solids"], 1):
            if number in ask.skip:
                continue
            say(SolidStarted(number))
            do(word)
            fault = Fault("FG040", "the solid", f"worked on by {os.getpid()}")
            say(ReceivedSolid(number, f"part {number}", faults=(fault,), exit_status=2))
        say(FileDone())


if __name__ == "__main__":
    main()
