"""One process at a time at a file, on every system.

Where the system has no lock for the file (some network folders), a file beside it says that it is in use. One left
by a process that was killed is taken away after a while; if two processes then write at once, lines may be written
twice but never torn, and readers count a line once.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

WAIT = 30.0
"""How long to wait for another process [s]."""
STALE = 20.0
"""Age of a file beside the log after which its process is taken for dead [s]; a learning takes far less than one."""
BEYOND = 1 << 30
"""Where a byte is locked on systems that lock bytes: far behind the end, so that nobody is kept from reading."""
_PAUSE = 0.01
_HELD = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}


class Busy(OSError):
    """Another process holds the file."""


class NoLock(OSError):
    """The system has no lock for this file."""


@contextlib.contextmanager
def locked(descriptor: int, path: Path, wait: float | None = None, *, beside: bool = True) -> Iterator[None]:
    """Hold an open file for this process alone.

    Parameters
    ----------
    descriptor : int
        Of the open file, [-]
    path : pathlib.Path
        Its path, [-]
    wait : float | None
        The longest time to wait for it, the usual one where it is left out, [s]
    beside : bool
        Hold it by a file beside it where the system has no lock; else not at all, [-]

    Raises
    ------
    Busy
        If another process holds it all the time
    """
    until = time.monotonic() + (WAIT if wait is None else wait)
    try:
        _until(until, lambda: _take(descriptor))
    except NoLock:
        with _beside(path, until) if beside else contextlib.nullcontext():
            yield
        return
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            _release(descriptor)


def _until(until: float, take: Callable[[], bool]) -> None:
    """Try to take until it is there or the time is over."""
    while not take():
        if time.monotonic() >= until:
            raise Busy(errno.EAGAIN, "another process holds it")
        time.sleep(_PAUSE)


if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> bool:
        try:
            os.lseek(descriptor, BEYOND, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            if error.errno in _HELD:
                return False
            raise NoLock(error.errno, str(error)) from error
        return True

    def _release(descriptor: int) -> None:
        os.lseek(descriptor, BEYOND, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _take(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in _HELD:
                return False
            raise NoLock(error.errno, str(error)) from error
        return True

    def _release(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


@contextlib.contextmanager
def _beside(path: Path, until: float) -> Iterator[None]:
    """Hold a file by one beside it that only one process can make."""
    mark = path.with_name(f".{path.name[:80]}.lock")
    _until(until, lambda: _make(mark))
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            mark.unlink()


def _make(mark: Path) -> bool:
    try:
        os.close(os.open(mark, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        with contextlib.suppress(OSError):
            if mark.stat().st_mtime < time.time() - STALE:
                mark.unlink()
        return False
    except PermissionError:
        return False  # on Windows: the one before is being taken away
    return True
