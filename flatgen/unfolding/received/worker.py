"""The process that works on strangers' files: asked on its standard input, it answers line by line.

Run as ``python -m flatgen.unfolding.received.worker`` by ``keeper``, never by a person. Whatever the kernel prints goes
nowhere: the answers leave on a channel of their own. The process expects to be killed at any time.
"""

from __future__ import annotations

import contextlib
import faulthandler
import os
import queue
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, TypeAlias

from flatgen.core.errors import Fault, FlatgenError, InputRefused
from flatgen.unfolding.received.codec import decode, encode, printable
from flatgen.unfolding.received.request import (
    Answer,
    FileDone,
    FileOpened,
    FileRefused,
    FileRequest,
    ReceivedSolid,
    Request,
    SolidStarted,
    WorkerReady,
)

if TYPE_CHECKING:
    from flatgen.definition.solid.projection import PartViews
    from flatgen.unfolding.formed import UnfoldedPart
    from flatgen.unfolding.received.step_solids import Solid

OUT_OF_MEMORY = 71
"""Exit status that says that there was no more memory."""
COMPUTING_SHARE = 4.0
"""Computing time for each second by the clock that a piece of work may take, before the system ends the process."""
_AGAIN = "have it repaired and exported again in the program that made it"

Send: TypeAlias = Callable[[Answer], None]


def main(memory: float = 0.0) -> None:
    """Answer until nobody asks any more, with so much memory beyond what the process needs anyway [MB], 0 for any."""
    send, requests = channels()
    load()
    bound_memory(memory)
    send(WorkerReady())
    for request in requests:
        answer_request(request, send)


def channels() -> tuple[Send, Iterator[FileRequest]]:
    """How this process answers, and what it is asked; to be called before anything prints.

    Answers go to the standard output as it was; what anybody else prints goes nowhere.
    """
    out, channel = os.fdopen(os.dup(1), "wb"), os.fdopen(os.dup(0), "rb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nothing, number)
    faulthandler.disable()  # a crash is told by the keeper
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a person's Ctrl-C is the keeper's to answer

    def send(message: Answer) -> None:
        out.write(encode(message, Answer) + b"\n")
        out.flush()

    return send, _requests(channel)


def _requests(channel: BinaryIO) -> Iterator[FileRequest]:
    """What is asked, read in a thread, so that the process ends with its keeper even while at work."""
    lines: queue.Queue[bytes] = queue.Queue()

    def listen() -> None:
        for line in channel:
            lines.put(line)
        os._exit(0)

    threading.Thread(target=listen, daemon=True).start()
    while True:
        yield decode(lines.get(), FileRequest)


def load() -> None:
    """Load the kernel and all that unfolds, so that no file pays for it."""
    import OCP.STEPCAFControl
    import OCP.XCAFDoc  # noqa: F401


def bound_memory(memory: float) -> None:
    """Let the system refuse memory beyond what this process holds now [MB], 0 for any; no core is dumped."""
    if sys.platform == "win32":
        return
    import resource

    import psutil

    def limit(what: int, least: int) -> None:
        with contextlib.suppress(OSError, ValueError):  # not every system knows every limit
            resource.setrlimit(what, (least, resource.getrlimit(what)[1]))

    limit(resource.RLIMIT_CORE, 0)
    if memory > 0:
        limit(resource.RLIMIT_AS, psutil.Process().memory_info().vms + int(memory * 1e6))


def bound_computing(seconds: float) -> None:
    """Let the system end this process if it computes far longer than its next piece of work may take [s]."""
    if sys.platform == "win32":
        return
    import resource

    spent = resource.getrusage(resource.RUSAGE_SELF)
    limit = int(spent.ru_utime + spent.ru_stime + COMPUTING_SHARE * seconds) + 2
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def answer_request(request: FileRequest, send: Send) -> None:
    """Read one file and answer for each of its solids, as soon as each answer is known."""
    from flatgen.unfolding.received.step_solids import read_solids

    bound_computing(request.seconds)
    try:
        solids = read_solids(Path(request.path))
    except Exception as error:
        send(FileRefused(_faults(error, request.path)))
        return
    send(FileOpened(tuple((s.name, s.count) for s in solids)))
    for number, solid in enumerate(solids, 1):
        if number not in request.skip:
            bound_computing(request.seconds)
            send(SolidStarted(number))
            _answer_solid(solid, number, request.options, send)
    send(FileDone())


def _answer_solid(solid: Solid, number: int, request: Request, send: Send) -> None:
    try:
        send(_unfold(solid, number, request))
    except Exception as error:
        faults, status = _faults(error, "the solid"), getattr(error, "exit_status", 2)
        send(ReceivedSolid(number, solid.name, solid.count, faults=faults, exit_status=status))


def _unfold(solid: Solid, number: int, request: Request) -> ReceivedSolid:
    from flatgen.definition.solid.step import step_text
    from flatgen.metal.bend_rule import rule_for
    from flatgen.unfolding.formed import FormedOptions, unfold_formed

    if solid.fault:
        raise InputRefused(solid.fault)
    options = FormedOptions(request.near, request.inside_radius, request.skip_formed)
    part = unfold_formed(solid.shape, rule_for(request.metal, request.k, request.strip_allowances), options)
    step = step_text(part.shape, solid.name or f"solid {number}").encode("ascii") if request.step else b""
    views = _views(part) if request.views else None
    return ReceivedSolid(number, solid.name, solid.count, part.flat, findings=part.findings, step=step, views=views)


def _views(part: UnfoldedPart) -> PartViews | None:
    """Views for the shop sheet: a part that the kernel cannot show can be cut and bent all the same."""
    from flatgen.definition.solid.projection import project_views

    try:
        return project_views(part.shape, part.flat)
    except MemoryError:
        raise
    except Exception:
        return None


def _faults(error: Exception, where: str) -> tuple[Fault, ...]:
    if isinstance(error, FlatgenError):
        return error.faults
    kind = type(error).__name__
    if isinstance(error, MemoryError) or kind == "Standard_OutOfMemory":
        os._exit(OUT_OF_MEMORY)
    text = printable(" ".join(str(error).split()))[:200]
    if type(error).__module__.startswith("OCP"):
        return (Fault("FG051", where, f"the kernel cannot work with it ({kind}: {text})", _AGAIN),)
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "flatgen" in f.filename]
    place = f" at {Path(frames[-1].filename).stem}:{frames[-1].lineno}" if frames else ""
    return (Fault("FG050", where, f"its geometry is damaged, or beyond what is known ({kind}{place}: {text})", _AGAIN),)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.0)
