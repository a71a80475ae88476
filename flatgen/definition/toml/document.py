"""A TOML file read with the line of each of its keys, and the faults noted at keys.

A key path is a tuple of names and of positions in arrays: ``("section", 2, "leg")``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from flatgen.core.errors import Fault, InputRefused

KeyPath: TypeAlias = tuple[str | int, ...]

LARGEST_FILE = 1_000_000
"""Bytes of one definition."""
MOST_FAULTS = 50
"""Faults of one table, or of all openings or all cuts, that are told one by one."""
LONGEST_TITLE = 200
"""Characters."""
_BARE_END = set(" \t\r\n=.]}\"'#,")
_VALUE_END = set(",]}#\r\n")


def key_lines(source: str) -> dict[KeyPath, int]:
    r"""Line of every key and array item of a TOML text, counted from 1; what it cannot follow has none.

    >>> key_lines('metal = "DC01"\nsection = [\n  { leg = "3 mm" },\n]')[("section", 0, "leg")]
    3
    """
    scan = _Scan(source)
    with suppress(IndexError, KeyError, ValueError, RecursionError):
        scan.document()  # a place is a courtesy: a fault is told without it
    return scan.lines


def key_place(file: str, lines: Mapping[KeyPath, int], path: KeyPath) -> str:
    """Place of a key as messages show it; without a line of its own, with that of the nearest key around it.

    >>> key_place("rail.toml", {("section", 2): 14}, ("section", 2, "leg"))
    'rail.toml:14: section[2].leg'
    >>> key_place("rail.toml", {}, ("metal",))
    'rail.toml: metal'
    """
    known = next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), None)
    head = file if known is None else f"{file}:{known}"
    return f"{head}: {key_text(path)}" if path else head


def key_text(path: KeyPath) -> str:
    """A key path as one text, ``section[2].leg``."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
            continue
        shown = "".join(c if c.isprintable() else "?" for c in part)[:60]
        text += f".{shown}" if text else shown
    return text


class _Scan:
    """One pass over a text that the standard reader has accepted; ``at`` is the position."""

    def __init__(self, source: str) -> None:
        self.text = source.replace("\r\n", "\n") + "\n"
        self.at = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}

    def document(self) -> None:
        table: KeyPath = ()
        while True:
            self.blank(newlines=True)
            if self.at >= len(self.text):
                return
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)

    def header(self) -> KeyPath:
        line, many = self.line, self.text.startswith("[[", self.at)
        self.step(2 if many else 1)
        names = self.key()
        self.step(2 if many else 1)
        path: KeyPath = ()
        for place, name in enumerate(names):
            path = (*path, name)
            self.lines.setdefault(path, line)
            if many and place == len(names) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
                self.lines.setdefault(path, line)
        return path

    def pair(self, table: KeyPath) -> None:
        line = self.line
        path = table
        for name in self.key():
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.step(1)  # the equals sign
        self.blank()
        self.value(path)

    def key(self) -> list[str]:
        names: list[str] = []
        while True:
            self.blank()
            if self.text[self.at] in "\"'":
                start = self.at
                self.string()
                names.append(str(tomllib.loads(f"k = {self.text[start : self.at]}")["k"]))
            else:
                start = self.at
                while self.text[self.at] not in _BARE_END:
                    self.step(1)
                names.append(self.text[start : self.at])
            self.blank()
            if self.text[self.at] != ".":
                return names
            self.step(1)

    def value(self, path: KeyPath) -> None:
        char = self.text[self.at]
        if char in "\"'":
            self.string()
        elif char == "[":
            self.array(path)
        elif char == "{":
            self.inline(path)
        else:
            while self.text[self.at] not in _VALUE_END:
                self.step(1)

    def array(self, path: KeyPath) -> None:
        for place, start in enumerate(self.items("]")):
            self.lines[(*path, place)] = self.line
            self.value((*path, place))
            if self.at == start:
                raise ValueError("not a value")

    def inline(self, path: KeyPath) -> None:
        for _ in self.items("}"):
            self.pair(path)

    def items(self, closing: str) -> Iterator[int]:
        """Where each item of a bracket begins; the caller steps over it."""
        self.step(1)
        while True:
            self.blank(newlines=True)
            char = self.text[self.at]
            if char == closing:
                self.step(1)
                return
            if char == ",":
                self.step(1)
            else:
                yield self.at

    def string(self) -> None:
        mark = self.text[self.at]
        if self.text.startswith(mark * 3, self.at):
            self.long_string(mark)
            return
        self.step(1)
        while self.text[self.at] != mark:
            self.step(2 if mark == '"' and self.text[self.at] == "\\" else 1)
        self.step(1)

    def long_string(self, mark: str) -> None:
        self.step(3)
        while not self.text.startswith(mark * 3, self.at):
            self.step(2 if mark == '"' and self.text[self.at] == "\\" else 1)
        while self.text[self.at] == mark:
            self.step(1)

    def blank(self, *, newlines: bool = False) -> None:
        """Skip spaces and, between items, line ends and comments."""
        while self.at < len(self.text):
            char = self.text[self.at]
            if char == "#" and newlines:
                end = self.text.find("\n", self.at)
                self.step(end - self.at)
            elif char in " \t" or (newlines and char in "\r\n"):
                self.step(1)
            else:
                return

    def step(self, count: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count


@dataclass
class FaultNotes:
    """Where keys stand in a file, and the faults noted so far."""

    file: str
    lines: dict[KeyPath, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def where(self, path: KeyPath) -> str:
        """Place of a key as messages show it."""
        return key_place(self.file, self.lines, path)

    def add(self, path: KeyPath, code: str, text: str, remedy: str = "") -> None:
        """Note a fault at a key; what is quoted from the file stays on one line."""
        self.faults.append(Fault(code, self.where(path), _one_line(text), _one_line(remedy)))

    def refuse(self) -> InputRefused:
        """The error that carries all faults, those of one line once."""
        return InputRefused(*dict.fromkeys(self.faults))


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


def read_toml(path: Path, notes: FaultNotes) -> dict[str, Any]:
    """Values of a TOML file; fills in the lines of its keys.

    :raises InputRefused: the file cannot be read or is no TOML (FG001, FG002), with all that was noted before.
    """
    text = _text(path, notes)
    if text is None:
        raise notes.refuse()
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        notes.faults.append(_broken(error, text, notes.file))
        raise notes.refuse() from None
    notes.lines.update(key_lines(text))
    return data


def _text(path: Path, notes: FaultNotes) -> str | None:
    limit = f"{LARGEST_FILE:,} bytes".replace(",", " ")
    try:
        if path.exists() and not path.is_file():
            notes.add((), "FG001", "this is a folder or a device, not a file", "give the path of a .toml file")
            return None
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        notes.add((), "FG001", f"cannot be read: {reason.lower()}", "check path and permissions")
        return None
    if len(raw) > LARGEST_FILE:
        notes.add((), "FG001", f"is larger than {limit}, the most that is read", "give a profile definition")
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        text = f"is not UTF-8 text (byte 0x{raw[error.start]:02x} in line {line})"
        notes.add((), "FG001", text, "save it as UTF-8 in a text editor")
        return None


def _broken(error: Exception, text: str, file: str) -> Fault:
    if isinstance(error, RecursionError):
        return Fault("FG002", file, "brackets are nested too deeply", "write the section as one plain list")
    message = str(error)
    position = re.search(r"\(at line (\d+), column (\d+)\)", message)
    if position:
        place = f"{file}:{position[1]}"
        message = message.replace(position[0], f"(column {position[2]})")
    elif "(at end of document)" in message:
        place = f"{file}:{text.count(chr(10)) + 1}"
    else:
        place = file
    shown = _one_line(message)[:200]
    remedy = 'look for a quote, bracket, comma or "=" that is missing there or just before'
    return Fault("FG002", place, f"broken TOML: {shown[:1].lower()}{shown[1:]}", remedy)
