"""What keeper and worker say to each other, one line each (see ``codec``). Plain data, no kernel.

keeper: Ask                    worker: Ready once, then for each Ask
                                       Refused                                  the file as such
                                       or Opened, (Begun, Received) ..., Done   its solids in their order
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from flatgen.core.errors import Fault
from flatgen.unfolding.received.request import Received, Request


@dataclass(frozen=True)
class Ask:
    """A file to be read: ``skip`` are solids that need no answer; ``seconds`` bounds each piece of work [s]."""

    path: str
    request: Request
    skip: tuple[int, ...]
    seconds: float


@dataclass(frozen=True)
class Ready:
    """The kernel is loaded; what follows is work on files."""


@dataclass(frozen=True)
class Opened:
    """The file is read: name and number of places of each solid."""

    solids: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Begun:
    """The work on one solid begins."""

    number: int


@dataclass(frozen=True)
class Refused:
    """The file as such cannot be used."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class Done:
    """All solids of the file are answered."""


Answer: TypeAlias = Ready | Opened | Begun | Received | Refused | Done
