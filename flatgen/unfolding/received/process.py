"""One worker process seen from its keeper: started, asked, heard within bounds, killed. No kernel here.

The process may be in the hands of a hostile file: what it says is read as ``request.Answer`` or not at all, its length
is bounded, and it holds no pipe but its own two.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import subprocess
import sys
import threading
import time
import weakref
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from flatgen.unfolding.received.codec import CodecError, decode, encode
from flatgen.unfolding.received.request import Answer, FileRequest
from flatgen.unfolding.received.worker import OUT_OF_MEMORY

LONGEST_LINE = 64
"""Of an answer [MB]; that of a part with 4,000 faces has some 5 MB."""
LOOK_INTERVAL = 0.05
"""How often the memory of the process is looked at [s]."""
KERNEL_MEMORY = 1000.0
"""Memory that the system may add on top of the bound before it refuses more [MB]: the keeper's look comes first."""


@dataclass(frozen=True)
class Death:
    """Why a worker says no more: what happened, and whether more time or more memory might have helped."""

    what: str
    kind: str = "broke"


class Process:
    """A worker process, which may hold so much memory [MB].

    :raises OSError: where the system cannot start it.
    """

    def __init__(self, worker: Sequence[str], memory: float) -> None:
        self.memory = memory
        command = [sys.executable, "-P", *worker, repr(memory + KERNEL_MEMORY)]
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=_environment(),
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._lines: queue.Queue[bytes] = queue.Queue(maxsize=4)
        self._end = weakref.finalize(self, _kill, self._process, self._lines)
        assert self._process.stdout is not None
        listener = threading.Thread(target=_listen, args=(self._process.stdout, self._lines), daemon=True)
        listener.start()

    def ask(self, request: FileRequest) -> None:
        """Ask; whether anybody hears it, the answers will show."""
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):
            self._process.stdin.write(encode(request, FileRequest) + b"\n")
            self._process.stdin.flush()

    def hear(self, seconds: float) -> Answer | Death:
        """The next answer, waited for at most so long [s]; or why there is none, the process being dead then."""
        until = time.monotonic() + seconds
        while True:
            try:
                line = self._lines.get(timeout=max(0.0, min(LOOK_INTERVAL, until - time.monotonic())))
            except queue.Empty:
                death = self._too_much(until, seconds)
                if death:
                    self.kill()
                    return death
                continue
            if not line:
                self._lines.put(b"")  # for _kill, which waits for the end
                return self._ended()
            try:
                return decode(line, Answer)  # type: ignore[arg-type]
            except CodecError:
                self.kill()
                return Death("the process that worked on it sent what is no answer")

    def alive(self) -> bool:
        return self._process.poll() is None

    def memory_in_use(self) -> float:
        import psutil

        try:
            return float(psutil.Process(self._process.pid).memory_info().rss) / 1e6
        except psutil.Error:
            return 0.0

    def kill(self) -> None:
        self._end()

    def _too_much(self, until: float, seconds: float) -> Death | None:
        if time.monotonic() >= until:
            return Death(f"it took more than {seconds:g} s", "time")
        if self.memory_in_use() > self.memory:
            return self._no_memory()
        return None

    def _no_memory(self) -> Death:
        return Death(f"it took more than {self.memory:g} MB of memory", "memory")

    def _ended(self) -> Death:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(5.0)
        status = self._process.poll()
        self.kill()
        if status == OUT_OF_MEMORY:
            return self._no_memory()
        return Death(f"it broke the kernel: the process that worked on it {_ending(status)}")


def _ending(status: int | None) -> str:
    """How a process ended, in words; Windows tells crashes as large statuses."""
    if status is None:
        return "closed its channel"
    if status >= 0:
        return f"ended with status {status if status < 2**16 else hex(status)}"
    with contextlib.suppress(ValueError):
        return f"was ended by signal {signal.Signals(-status).name}"
    return f"was ended by signal {-status}"


def _environment() -> dict[str, str]:
    """Ours, so that an editable or a user's own installation is found, and quiet; the same flatgen as this one."""
    environment = dict(os.environ)
    for name in ("PYTHONFAULTHANDLER", "PYTHONINSPECT", "PYTHONSTARTUP", "PYTHONWARNINGS", "PYTHONBREAKPOINT"):
        environment.pop(name, None)
    home = Path(__file__).resolve().parents[3]
    if not {"site-packages", "dist-packages"} & set(home.parts):
        environment["PYTHONPATH"] = os.pathsep.join(filter(None, (str(home), environment.get("PYTHONPATH", ""))))
    return environment


def _listen(channel: BinaryIO, lines: queue.Queue[bytes]) -> None:
    """Hand on line by line; an empty one is the end."""
    try:
        while line := channel.readline(LONGEST_LINE * 1_000_000):
            lines.put(line)
    except (OSError, ValueError):
        pass
    lines.put(b"")


def _kill(process: subprocess.Popen[bytes], lines: queue.Queue[bytes]) -> None:
    """End a process and let go of its channels; what it still had to say is thrown away."""
    process.kill()
    with contextlib.suppress(queue.Empty, subprocess.TimeoutExpired):
        while lines.get(timeout=1.0):
            pass
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(5.0)
    for channel in (process.stdin, process.stdout):
        with contextlib.suppress(OSError, AttributeError, ValueError):
            channel.close()  # type: ignore[union-attr]
