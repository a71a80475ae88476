"""Files written whole or not at all, and names that files can have on every system.

All files of one call are written under temporary names and moved into place when all are complete. A run that is
killed leaves its temporary files; a later run into that folder removes those older than an hour.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import time
from collections.abc import Mapping
from pathlib import Path

from flatgen.core.errors import Fault, InputRefused

STALE_AGE = 3600.0
"""Age of a temporary file after which the run that wrote it is taken for dead [s]."""

LONGEST_NAME = 100
"""Characters; leaves room for the endings that the written files get."""

_STAGED = re.compile(r"\.[0-9a-f]{8}-\d+\.part")
_RESERVED = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{d}{n}" for d in ("com", "lpt") for n in "0123456789¹²³"
}
_FORBIDDEN = set('/\\:*?"<>|')


def write_all(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write several files into a folder, created if need be.

    :raises InputRefused: FG007 where the system refuses; nothing of this call is left behind.
    """
    new_folders = [f for f in (folder, *folder.parents) if not f.exists()]
    staged: dict[Path, Path] = {}
    mark = secrets.token_hex(4)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _sweep(folder)
        for number, (name, data) in enumerate(contents.items()):
            temporary = folder / f".{mark}-{number}.part"
            staged[temporary] = folder / name
            with temporary.open("wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        for final in staged.values():
            if final.is_dir():
                raise IsADirectoryError(21, "there is a folder of that name", str(final))
        for temporary, final in staged.items():
            os.replace(temporary, final)
    except OSError as error:
        _clear(staged, new_folders)
        raise InputRefused(_refusal(folder, error)) from error
    except BaseException:
        _clear(staged, new_folders)
        raise
    return tuple(staged.values())


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet.

    :raises InputRefused: FG007 where it is there already, or the system refuses.
    """
    temporary = path.with_name(f".{path.name[:80]}.{secrets.token_hex(4)}.part")
    try:
        if path.exists() or path.is_symlink():
            raise FileExistsError(17, "it is there already, and is not overwritten", str(path))
        with temporary.open("xb") as stream:
            stream.write(data)
        _place_new(temporary, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise InputRefused(_refusal(path, error)) from error


def _place_new(temporary: Path, path: Path) -> None:
    """Rename a finished file; a hard link, where the file system has them, never overwrites."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except (OSError, AttributeError, NotImplementedError):
        os.rename(temporary, path)
    else:
        temporary.unlink()


def _sweep(folder: Path) -> None:
    """Remove old temporary files; younger ones may belong to a run at work."""
    oldest = time.time() - STALE_AGE
    for path in list(folder.iterdir()):
        if _STAGED.fullmatch(path.name):
            with contextlib.suppress(OSError):
                if path.lstat().st_mtime < oldest:
                    path.unlink()


def _clear(staged: Mapping[Path, Path], new_folders: list[Path]) -> None:
    for temporary in staged:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    for folder in new_folders:
        with contextlib.suppress(OSError):
            folder.rmdir()


def _refusal(place: Path, error: OSError) -> Fault:
    reason = error.strerror or str(error)
    where = str(error.filename or place)
    if isinstance(error, FileExistsError) and error.errno == 17 and "already" in reason:
        return Fault("FG007", str(place), reason, "choose another name, or move the file away first")
    return Fault(
        "FG007", where, f"it cannot be written: {reason}", "choose another folder with --out, or free the place"
    )


class NotAName(ValueError):
    """A text cannot be a file name: why, and what to do."""

    def __init__(self, text: str, remedy: str = "rename it to letters, digits, '-' and '_'") -> None:
        self.text = text
        self.remedy = remedy
        super().__init__(f"{text}; {remedy}")


def safe_name(text: str) -> str:
    """The name itself, if files and a folder can have it on every system.

    :raises NotAName: it is empty, too long, reserved, or has characters that lead elsewhere.

    >>> safe_name("roof-rail")
    'roof-rail'
    """
    shown = "".join(c if c.isprintable() else "?" for c in text)[:LONGEST_NAME]
    if not text.strip() or set(text) == {"."}:
        raise NotAName(f'"{shown}" is no name')
    if len(text) > LONGEST_NAME or len(text.encode("utf-8", "surrogatepass")) > 2 * LONGEST_NAME:
        raise NotAName(f'"{shown[:20]}…" has {len(text)} characters, more than {LONGEST_NAME}', "shorten it")
    bad = sorted({c for c in text if c in _FORBIDDEN or not (c.isprintable() or c == " ")})
    if bad:
        which = " ".join(c if c.isprintable() else f"U+{ord(c):04X}" for c in bad)
        raise NotAName(f'"{shown}" has characters that no file name may have ({which})')
    if text[0] == " " or text[-1] in ". ":
        raise NotAName(f'"{shown}" begins or ends with a space, or ends with a full stop')
    if text[0] in "-.":
        raise NotAName(f'"{shown}" begins with "{text[0]}": it would be hidden, or read as an option')
    if text.split(".", maxsplit=1)[0].rstrip().lower() in _RESERVED:
        raise NotAName(f'"{shown}" is the name of a device on Windows')
    return text
