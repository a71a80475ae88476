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
from typing import TYPE_CHECKING, Any, BinaryIO

from flatgen.core.errors import Fault, FlatgenError, InputRefused
from flatgen.unfolding.received.codec import decode, encode, plain
from flatgen.unfolding.received.request import Answer, Ask, Begun, Done, Opened, Ready, Received, Refused, Request

if TYPE_CHECKING:
    from flatgen.definition.solid.projection import Projected
    from flatgen.unfolding.received.step_solids import Solid

OUT_OF_MEMORY = 71
"""Exit status that says that there was no more memory."""
SHARE = 4.0
"""Computing time for each second by the clock that a piece of work may take, before the system ends the process."""
_AGAIN = "have it repaired and exported again in the program that made it"

Say = Callable[[Answer], None]


def main(memory: float = 0.0) -> None:
    """Answer until nobody asks any more.

    :param memory: that may be used beyond what the process needs without a file, 0 for no bound from within [MB]
    """
    say, asked = channels()
    load()
    bound_memory(memory)
    say(Ready())
    for ask in asked:
        answer(ask, say)


def channels() -> tuple[Say, Iterator[Ask]]:
    """How this process answers, and what it is asked; must be called before anything prints.

    :returns: what is said goes to the standard output as it was; that of everybody else goes nowhere
    """
    out, asked = os.fdopen(os.dup(1), "wb"), os.fdopen(os.dup(0), "rb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nothing, number)
    faulthandler.disable()  # a crash is told by the keeper
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a person's Ctrl-C is the keeper's to answer

    def say(answer: Answer) -> None:
        out.write(encode(answer, Answer) + b"\n")
        out.flush()

    return say, _heard(asked)


def _heard(channel: BinaryIO) -> Iterator[Ask]:
    """What is asked, heard in a thread, so that the process ends with its keeper even while at work."""
    lines: queue.Queue[bytes] = queue.Queue()

    def listen() -> None:
        for line in channel:
            lines.put(line)
        os._exit(0)

    threading.Thread(target=listen, daemon=True).start()
    while True:
        yield decode(lines.get(), Ask)


def load() -> None:
    """Load the kernel and all that unfolds, so that no file pays for it."""
    import OCP.STEPCAFControl
    import OCP.XCAFDoc  # noqa: F401


def bound_memory(memory: float) -> None:
    """Let the system refuse memory far beyond what this process holds now, where it can; no core is dumped.

    :param memory: that may be added, 0 for no bound [MB]
    """
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
    """Let the system end this process if it goes on computing after its keeper is gone, where it can.

    :param seconds: that the next piece of work may take by the clock [s]
    """
    if sys.platform == "win32":
        return
    import resource

    spent = resource.getrusage(resource.RUSAGE_SELF)
    limit = int(spent.ru_utime + spent.ru_stime + SHARE * seconds) + 2
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def answer(ask: Ask, say: Say) -> None:
    """Read one file and answer for each of its solids.

    :param ask: the file, and how it is to be unfolded
    :param say: takes each answer as soon as it is known
    """
    from flatgen.unfolding.received.step_solids import read_solids

    bound_computing(ask.seconds)
    try:
        solids = read_solids(Path(ask.path))
    except Exception as error:
        say(Refused(_faults(error, ask.path)))
        return
    say(Opened(tuple((s.name, s.count) for s in solids)))
    for number, solid in enumerate(solids, 1):
        if number not in ask.skip:
            bound_computing(ask.seconds)
            say(Begun(number))
            _answer_solid(solid, number, ask.request, say)
    say(Done())


def _answer_solid(solid: Solid, number: int, request: Request, say: Say) -> None:
    """Answer for one solid, whatever happens in it."""
    try:
        say(_unfolded(solid, number, request))
    except Exception as error:
        faults, status = _faults(error, "the solid"), getattr(error, "exit_status", 2)
        say(Received(number, solid.name, solid.count, faults=faults, exit_status=status))


def _unfolded(solid: Solid, number: int, request: Request) -> Received:
    from flatgen.definition.solid.step import step_text
    from flatgen.metal.bend_rule import rule_for
    from flatgen.unfolding.formed import Wish, unfold_formed

    if solid.fault:
        raise InputRefused(solid.fault)
    wish = Wish(request.near, request.inside_radius, request.skip_formed)
    made = unfold_formed(solid.shape, rule_for(request.metal, request.k, request.told), wish)
    step = step_text(made.shape, solid.name or f"solid {number}").encode("ascii") if request.step else b""
    views = _views(made) if request.views else None
    return Received(number, solid.name, solid.count, made.flat, findings=made.findings, step=step, views=views)


def _views(made: Any) -> Projected | None:
    """Views for the shop sheet: a part that the kernel cannot show can be cut and bent all the same."""
    from flatgen.definition.solid.projection import projected

    try:
        return projected(made.shape, made.flat)
    except MemoryError:
        raise
    except Exception:
        return None


def _faults(error: Exception, where: str) -> tuple[Fault, ...]:
    """What an exception says of a stranger's file."""
    if isinstance(error, FlatgenError):
        return error.faults
    kind = type(error).__name__
    if isinstance(error, MemoryError) or kind == "Standard_OutOfMemory":
        os._exit(OUT_OF_MEMORY)
    said = plain(" ".join(str(error).split()))[:200]
    if type(error).__module__.startswith("OCP"):
        return (Fault("FG051", where, f"the kernel cannot work with it ({kind}: {said})", _AGAIN),)
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "flatgen" in f.filename]
    place = f" at {Path(frames[-1].filename).stem}:{frames[-1].lineno}" if frames else ""
    return (Fault("FG050", where, f"its geometry is damaged, or beyond what is known ({kind}{place}: {said})", _AGAIN),)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.0)
