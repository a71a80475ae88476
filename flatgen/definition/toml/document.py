"""From a path to the values in a TOML file, and the list of faults that grows on the way.

Everything that can be wrong with the file as such is said here: not there, too large, no text, broken
TOML. Foreign errors of the TOML reader end in this module.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.definition.limits import LARGEST_FILE
from flatgen.definition.toml import lines as places


@dataclass
class Notes:
    """Where keys stand in the file, and the faults found so far."""

    file: str
    lines: dict[places.Path, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def where(self, path: places.Path) -> str:
        """Place of a key, as messages show it."""
        return places.where(self.file, self.lines, path)

    def add(self, path: places.Path, code: str, text: str, remedy: str = "") -> None:
        """Note a fault at a key; what is quoted from the file stays on one line."""
        self.faults.append(Fault(code, self.where(path), _one_line(text), _one_line(remedy)))

    def refuse(self) -> InputRefused:
        """The error that carries all faults, those of one line once."""
        return InputRefused(*dict.fromkeys(self.faults))


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


def read_toml(path: FilePath, notes: Notes) -> dict[str, Any]:
    """Values of a TOML file; fills in the lines of its keys.

    Parameters
    ----------
    path : pathlib.Path
        The file, [-]
    notes : Notes
        Takes lines and faults, [-]

    Returns
    -------
    dict[str, Any]
        The values as they stand, [-]

    Raises
    ------
    InputRefused
        If the file cannot be read or is no TOML (FG001, FG002), with all that was noted before
    """
    text = _text(path, notes)
    if text is None:
        raise notes.refuse()
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        notes.faults.append(_broken(error, text, notes.file))
        raise notes.refuse() from None
    notes.lines.update(places.key_lines(text))
    return data


def _text(path: FilePath, notes: Notes) -> str | None:
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
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    if found:
        place = f"{file}:{found[1]}"
        message = message.replace(found[0], f"(column {found[2]})")
    elif "(at end of document)" in message:
        place = f"{file}:{text.count(chr(10)) + 1}"
    else:
        place = file
    shown = _one_line(message)[:200]
    remedy = 'look for a quote, bracket, comma or "=" that is missing there or just before'
    return Fault("FG002", place, f"broken TOML: {shown[:1].lower()}{shown[1:]}", remedy)
