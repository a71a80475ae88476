"""The log of a shop: read, added to, withdrawn from, by one process at a time on every system.

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
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.strips import words
from flatgen.strips.log_lines import DIGITS, DamagedLine, Withdrawal, format_line, read_line, reading_digest
from flatgen.strips.reading import StripReading

WAIT = 30.0
"""How long to wait for another process [s]."""
STALE = 20.0
"""Age of a file beside the log after which its process is taken for dead [s]; a learning takes far less than one."""

READ_WAIT = 2.0
"""How long a reader waits for a writer before it reads all the same [s]."""

BEYOND = 1 << 30
"""Where a byte is locked on systems that lock bytes: far behind the end, so that nobody is kept from reading."""

LARGEST_LOG = 50_000_000
"""Bytes of a log."""
LEAST_DIGITS = 4
MOST_SHOWN = 5
_PAUSE = 0.01
_HELD = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}
_BINARY = getattr(os, "O_BINARY", 0)
_T = TypeVar("_T")


class Busy(OSError):
    """Another process holds the file."""


class NoLock(OSError):
    """The system has no lock for this file."""


@contextlib.contextmanager
def lock_file(descriptor: int, path: Path, wait: float | None = None, *, beside: bool = True) -> Iterator[None]:
    """Hold an open file for this process alone.

    :param wait: the longest time to wait for it [s]
    :param beside: hold it by a file beside it where the system has no lock; else not at all
    :raises Busy: If another process holds it all the time
    """
    end = time.monotonic() + (WAIT if wait is None else wait)
    try:
        _retry(lambda: _take(descriptor), end)
    except NoLock:
        with _mark_file(path, end) if beside else contextlib.nullcontext():
            yield
        return
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            _release(descriptor)


def _retry(take: Callable[[], bool], end: float) -> None:
    """Try to take until it succeeds or the time is over."""
    while not take():
        if time.monotonic() >= end:
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
def _mark_file(path: Path, end: float) -> Iterator[None]:
    """Hold a file by one beside it that only one process can make."""
    mark = path.with_name(f".{path.name[:80]}.lock")
    _retry(lambda: _make(mark), end)
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


@dataclass(frozen=True)
class Entry:
    """A strip of the log, its digest, and the first line that it stands in, from 1."""

    digest: str
    reading: StripReading
    line: int


@dataclass(frozen=True)
class WithdrawnEntry:
    """An entry that was withdrawn, why, and in which line."""

    entry: Entry
    why: str
    line: int


@dataclass(frozen=True)
class Log:
    """A log: ``entries`` in force; ``damaged`` lines and withdrawals of nothing; ``withdrawn`` entries."""

    entries: tuple[Entry, ...] = ()
    damaged: tuple[Finding, ...] = ()
    withdrawn: tuple[WithdrawnEntry, ...] = ()

    @property
    def readings(self) -> tuple[StripReading, ...]:
        """The strips to learn from."""
        return tuple(e.reading for e in self.entries)


@dataclass(frozen=True)
class Addition:
    """Entries ``added`` to a log, those ``known`` before, and what is to be asked about either."""

    added: tuple[Entry, ...]
    known: tuple[Entry, ...]
    findings: tuple[Finding, ...] = ()


def read_log(path: Path) -> Log:
    """Read a log; one that is not there yet is empty.

    :raises InputRefused: FG001 where it cannot be read at all
    """
    with _refuse_errors(path, "read", "FG001"):
        _check_kind(path)
        try:
            descriptor = os.open(path, os.O_RDONLY | _BINARY)
        except FileNotFoundError:
            return Log()
        try:
            with contextlib.ExitStack() as stack:
                with contextlib.suppress(Busy):
                    stack.enter_context(lock_file(descriptor, path, READ_WAIT, beside=False))
                return _parsed(_content(descriptor, path), path)
        finally:
            os.close(descriptor)


def append(path: Path, readings: Sequence[StripReading]) -> Addition:
    """Add strips to a log, which is made if need be; those that it has are not added again.

    :raises InputRefused: FG001 or FG007 where it cannot be read or written; nothing was added
    """
    lines = [(reading_digest(r), r, format_line(r)) for r in readings]

    def add(log: Log, count: int) -> tuple[Addition, bytes]:
        before = {e.digest: e for e in log.entries}
        gone = {w.entry.digest: w for w in log.withdrawn}
        added: dict[str, Entry] = {}
        known: dict[str, Entry] = {}
        for digest, reading, _ in lines:
            if digest in gone or digest in before or digest in added:
                there = gone[digest].entry if digest in gone else before.get(digest)
                known.setdefault(digest, there or added[digest])
            else:
                added[digest] = Entry(digest, reading, count + len(added) + 1)
        findings = [_withdrawn_note(path, gone[d]) for d in known if d in gone]
        findings += [f for e in added.values() for f in _same_name_findings(path, e, log)]
        new = {digest: line for digest, _, line in lines if digest in added}
        return Addition(tuple(added.values()), tuple(known.values()), tuple(findings)), b"".join(new.values())

    return _change(path, add)


def withdraw(path: Path, digest: str, why: str) -> Entry:
    """Withdraw a strip: it stays in the log and is learned from no more.

    :param digest: of the strip, or its first digits, four at least
    :returns: the strip; where it was withdrawn before, nothing was added
    :raises InputRefused: Where no strip or more than one begins so, or the log cannot be read or written
    """
    start = digest.strip().lower()
    if not LEAST_DIGITS <= len(start) <= DIGITS:
        text = words.SHORT_SO.format(digest=_quoted(digest), least=LEAST_DIGITS)
        raise InputRefused(Fault(words.NO_ENTRY, str(path), text, words.SHOW))
    reason = "".join(c if c.isprintable() else " " for c in why).strip()[:200]

    def take_out(log: Log, count: int) -> tuple[Entry, bytes]:
        every = {e.digest: e for e in (*log.entries, *(w.entry for w in log.withdrawn))}
        matches = [e for d, e in every.items() if d.startswith(start)]
        if len(matches) != 1:
            which = ", ".join(f"{e.digest} ({e.reading.name}, line {e.line})" for e in matches[:MOST_SHOWN])
            text = words.SEVERAL_SO if matches else words.NONE_SO
            text = text.format(digest=_quoted(digest), count=len(matches), which=which)
            raise InputRefused(Fault(words.NO_ENTRY, str(path), text, words.SHOW))
        new = b"" if matches[0] not in log.entries else format_line(Withdrawal(matches[0].digest, reason))
        return matches[0], new

    return _change(path, take_out, make=False)


def _change(path: Path, work: Callable[[Log, int], tuple[_T, bytes]], *, make: bool = True) -> _T:
    """Add the lines that ``work`` returns for the log and its count of lines: one process at a time."""
    with _refuse_errors(path, "written", "FG007"):
        _check_kind(path)
        fresh = not path.exists()
        descriptor = os.open(path, os.O_RDWR | os.O_APPEND | _BINARY | (os.O_CREAT if make else 0), 0o666)
        try:
            with lock_file(descriptor, path):
                content = _content(descriptor, path)
                count = content.count(b"\n") + (not _ended(content))
                answer, lines = work(_parsed(content, path), count)
                if lines:
                    _write_lines(descriptor, content, lines)
        finally:
            os.close(descriptor)
        if fresh:
            _sync_folder(path.parent)
        return answer


def _ended(content: bytes) -> bool:
    return not content or content.endswith(b"\n")


def _write_lines(descriptor: int, content: bytes, lines: bytes) -> None:
    """Write lines behind the end, in one call where the system takes them so; all of them or none."""
    left = memoryview(lines if _ended(content) else b"\n" + lines)
    try:
        while left:
            left = left[os.write(descriptor, left) :]
        os.fsync(descriptor)
    except BaseException:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, len(content))
        raise


def _sync_folder(folder: Path) -> None:
    """See that the name of a new file is on the disk too, where the system can."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _content(descriptor: int, path: Path) -> bytes:
    os.lseek(descriptor, 0, os.SEEK_SET)
    pieces, size = [], 0
    while piece := os.read(descriptor, 1 << 20):
        pieces.append(piece)
        size += len(piece)
        if size > LARGEST_LOG:
            text = words.TOO_LARGE.format(most=f"{LARGEST_LOG:,}".replace(",", " "))
            raise InputRefused(Fault("FG001", _quoted(str(path)), text, words.SPLIT_LOG))
    return b"".join(pieces)


def _parsed(content: bytes, path: Path) -> Log:
    """All lines that can be used, and a finding for each that cannot."""
    entries: dict[str, Entry] = {}
    gone: dict[str, tuple[str, int]] = {}
    damaged: list[Finding] = []
    lines = content.split(b"\n")
    for number, line in enumerate(lines, start=1):
        if not line.strip(b" \t\r\xef\xbb\xbf"):
            continue
        try:
            digest, entry = read_line(line.rstrip(b"\r"))
        except DamagedLine as why:
            text = words.TORN if number == len(lines) else words.LEFT_OUT.format(why=why)
            damaged.append(Finding(words.DAMAGED_LINE, "caution", _place(path, number), _quoted(text), words.MEND))
            continue
        if isinstance(entry, Withdrawal):
            gone.setdefault(entry.of, (entry.why, number))
        else:
            entries.setdefault(digest, Entry(digest, entry, number))
    for digest, (_, number) in gone.items():
        if digest not in entries:
            text = words.NOTHING_WITHDRAWN.format(digest=_quoted(digest))
            damaged.append(Finding(words.DAMAGED_LINE, "caution", _place(path, number), text, words.MERGED))
    withdrawn = tuple(WithdrawnEntry(entries[d], why, line) for d, (why, line) in gone.items() if d in entries)
    return Log(tuple(e for e in entries.values() if e.digest not in gone), tuple(damaged), withdrawn)


def _same_name_findings(path: Path, entry: Entry, log: Log) -> list[Finding]:
    """A strip of the same name and part with other numbers may be the same piece of metal."""
    key, where = (entry.reading.name, entry.reading.part), f"{_quoted(str(path))}: {_quoted(entry.reading.name)}"
    alike = [other for other in log.entries if (other.reading.name, other.reading.part) == key]
    texts = [words.SAME_NAME.format(digest=other.digest, line=other.line) for other in alike]
    return [Finding(words.AGAIN, "caution", where, text, words.WITHDRAW_ONE) for text in texts]


def _withdrawn_note(path: Path, gone: WithdrawnEntry) -> Finding:
    where = f"{_place(path, gone.line)}: {_quoted(gone.entry.reading.name)}"
    return Finding(words.AGAIN, "note", where, words.STAYS_OUT.format(why=_quoted(gone.why)), words.NEW_NAME)


def _place(path: Path, line: int) -> str:
    return f"{_quoted(str(path))}:{line}"


def _quoted(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)[:400]


def _check_kind(path: Path) -> None:
    """A folder, a pipe or a device is no log: opening one may hang."""
    if path.exists() and not path.is_file():
        raise InputRefused(Fault("FG001", _quoted(str(path)), words.NOT_A_FILE, words.OTHER_LOG))


@contextlib.contextmanager
def _refuse_errors(path: Path, done: str, code: str) -> Iterator[None]:
    """Errors of the system as refusals."""
    try:
        yield
    except Busy as error:
        raise InputRefused(Fault("FG007", _quoted(str(path)), words.BUSY, words.WAIT)) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        text = words.CANNOT.format(done=done, why=_quoted(why.lower()))
        raise InputRefused(Fault(code, _quoted(str(path)), text, words.FREE)) from error
