"""Asks a worker process about a stranger's file, bounds it in time and memory, and replaces it when it dies.

A file can crash or hang the kernel; then the process with the kernel is gone and the solid is refused, nothing
more. The process is started with the first file, and kept for those that follow. No kernel here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from flatgen.core.errors import Fault, FlatgenError, InputRefused
from flatgen.unfolding.received.process import Death, Process
from flatgen.unfolding.received.request import (
    FileDone,
    FileOpened,
    FileRefused,
    FileRequest,
    ReceivedSolid,
    Request,
    SolidStarted,
    WorkerReady,
)
from flatgen.unfolding.received.step_text import LONGEST_NAME, check_text

WORKER = ("-m", "flatgen.unfolding.received.worker")
START_SECONDS = 120.0
"""For the worker to load the kernel [s]: 2 s on our machines, much more from a cold disk."""
READ_SECONDS = 120.0
"""For reading one file [s]: the largest of ours takes 0.5 s."""
SOLID_SECONDS = 120.0
"""For one solid [s]: the slowest of ours takes a few."""
MEMORY = 4000.0
"""That the worker may hold [MB]; 300 MB are the kernel's own."""
MOST_DEATHS = 3  # solids of one file on which the worker may die before the rest is not tried

_REMEDIES = {
    "time": "export the sheet-metal part alone, without what does not matter for its flat, or have it repaired",
    "memory": "export the sheet-metal part alone, without what does not matter for its flat, or have it repaired",
    "broke": "have it repaired and exported again in the program that made it",
}


@dataclass
class _State:
    """What is known of one file while it is worked on."""

    path: str
    solids: tuple[tuple[str, int], ...] | None = None
    answers: dict[int, ReceivedSolid] = field(default_factory=dict)
    deaths: int = 0

    def next_solid(self) -> int | None:
        numbers = range(1, len(self.solids or ()) + 1)
        return next((n for n in numbers if n not in self.answers), None)

    def refuse(self, number: int, text: str, remedy: str) -> None:
        assert self.solids is not None
        name, count = self.solids[number - 1]
        faults = (Fault("FG051", "the solid", text, remedy),)
        self.answers[number] = ReceivedSolid(number, name, count, faults=faults, exit_status=2)


class Keeper:
    """Keeps a worker for the files of one command; to be used in a ``with``, which ends the worker.

    :param reading, solid, starting: how long the worker may take for a file, for a solid, for its start [s]
    :param memory: that it may hold [MB]
    """

    def __init__(
        self,
        *,
        reading: float = READ_SECONDS,
        solid: float = SOLID_SECONDS,
        starting: float = START_SECONDS,
        memory: float = MEMORY,
        worker: Sequence[str] = WORKER,
    ) -> None:
        self._reading, self._solid, self._starting, self._memory = reading, solid, starting, memory
        self._worker = tuple(worker)
        self._process: Process | None = None

    def __enter__(self) -> Keeper:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        if self._process:
            self._process.kill()
        self._process = None

    def receive(self, path: Path | str, request: Request) -> list[ReceivedSolid]:
        """The solids of a STEP file, in its order, unfolded in the worker.

        :raises InputRefused: FG001, FG050, FG051: the file as such cannot be used.
        """
        check_text(Path(path))
        state = _State(str(path))
        try:
            while state.solids is None or state.next_solid():
                death = self._work(state, request)
                if not death:
                    break
                self.close()
                _blame(state, death)
        except FlatgenError:  # a refusal: the worker is well, or is closed already
            raise
        except BaseException:  # Ctrl-C too: what the worker says later is for nobody
            self.close()
            raise
        if self._process and self._process.memory_in_use() > self._memory / 2:
            self.close()  # the next file gets all of the memory
        return [state.answers[number] for number in sorted(state.answers)]

    def _work(self, state: _State, request: Request) -> Death | None:
        """Ask the worker for all that has no answer yet; why it died, if it did."""
        process = self._started(state)
        longest = max(self._reading, self._solid)
        whole_path = str(Path(state.path).absolute())
        process.ask(FileRequest(whole_path, request, tuple(state.answers), longest))
        reply = process.hear(self._reading)
        if isinstance(reply, FileRefused) and reply.faults and state.solids is None:
            raise InputRefused(*(replace(f, where=f.where.replace(whole_path, state.path, 1)) for f in reply.faults))
        if not isinstance(reply, FileOpened) or not _plausible(reply) or reply.solids != (state.solids or reply.solids):
            return _death(reply)
        state.solids = reply.solids
        while number := state.next_solid():
            reply = process.hear(self._solid)
            if reply != SolidStarted(number):
                return _death(reply)
            reply = process.hear(self._solid)
            if not isinstance(reply, ReceivedSolid) or not _fits(reply, number, state.solids):
                return _death(reply)
            state.answers[number] = reply
        reply = process.hear(self._solid)
        if reply != FileDone():
            self.close()  # all is answered: what it says instead is its own affair
        return None

    def _started(self, state: _State) -> Process:
        if self._process and self._process.alive():
            return self._process
        self.close()
        try:
            self._process = Process(self._worker, self._memory)
            reply = self._process.hear(self._starting)
        except OSError as error:
            reply = Death(f"the system says: {error.strerror or error}")
        if self._process is None or reply != WorkerReady():
            self.close()
            text = f"the process that reads STEP files could not be started: {_death(reply).what}"
            remedy = "see whether the command python -c 'import OCP' works; if not, install flatgen again"
            raise InputRefused(Fault("FG051", state.path, text, remedy))
        return self._process


def _plausible(reply: FileOpened) -> bool:
    return bool(reply.solids) and all(len(name) < 2 * LONGEST_NAME and count > 0 for name, count in reply.solids)


def _fits(reply: ReceivedSolid, number: int, solids: tuple[tuple[str, int], ...]) -> bool:
    named = (reply.number, reply.name, reply.count) == (number, *solids[number - 1])
    if reply.flat is None:
        return named and bool(reply.faults) and reply.exit_status in (2, 3)
    return named and not reply.faults and reply.exit_status == 0


def _death(reply: object) -> Death:
    """A worker that says what it must not say is as good as dead."""
    if isinstance(reply, Death):
        return reply
    return Death("the process that worked on it answered what was not asked")


def _blame(state: _State, death: Death) -> None:
    """A fault for the solid at which the worker died, or for the file where it had not been read."""
    remedy = _REMEDIES[death.kind]
    number = state.next_solid()
    if state.solids is None or number is None:
        raise InputRefused(Fault("FG051", state.path, f"reading it failed: {death.what}", remedy))
    state.refuse(number, death.what, remedy)
    state.deaths += 1
    if state.deaths < MOST_DEATHS:
        return
    while number := state.next_solid():
        state.refuse(number, f"it was not tried: {MOST_DEATHS} solids of this file failed before it", remedy)
