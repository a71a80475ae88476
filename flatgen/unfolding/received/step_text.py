"""What can be said of a STEP file without the kernel: whether it is one at all (ISO 10303-21). No kernel here."""

from __future__ import annotations

import re
import stat
import unicodedata
from pathlib import Path

from flatgen.core.errors import Fault, InputRefused

LARGEST = 256
"""Of a file [MB]; the largest real part of ours has 1.2 MB, and the kernel needs about twenty times a file's size."""
LONGEST_NAME = 80  # of a name, in characters: longer ones are cut, they become file names and labels

_OPENING = re.compile(rb"ISO-10303-21\s*;")
_DATA = re.compile(rb"\bDATA\s*(?:\([^;]*\))?\s*;")
_DEFINITION = re.compile(rb"^section\s*=\s*\[", re.M)
_CLOSING = re.compile(rb"END-ISO-10303-21\s*;")
_AGAIN = "export it again as STEP (AP203, AP214 or AP242)"
_OTHERS = (
    (b"PK\x03\x04", "a ZIP archive", "unpack it, and give the STEP file in it"),
    (b"\x1f\x8b", "a gzip archive", "unpack it, and give the STEP file in it"),
    (b"<?xml", "an XML file", _AGAIN),
    (b"%PDF", "a PDF", "ask for the STEP file of the part"),
    (b"solid ", "a mesh of triangles (STL), perhaps", "ask for the STEP file of the part: a mesh has no bends"),
)


def check_text(path: Path) -> bytes:
    """The bytes of a file that is STEP by its outside, whole from its first keyword to its last.

    :raises InputRefused: FG001 where it cannot be read or is too large, FG050 where it is no STEP file or is cut off.
    """
    text = _content(path)

    def refuse(reason: str, remedy: str) -> InputRefused:
        return InputRefused(Fault("FG050", str(path), reason, remedy))

    if not text.strip(b"\0 \t\r\n"):
        raise refuse("the file is empty", _AGAIN)
    if not _OPENING.match(text, _beginning(text)):
        for start, kind, remedy in _OTHERS:
            if text.startswith(start):
                raise refuse(f"it is {kind}, not a STEP file", remedy)
        if path.suffix.lower() == ".toml" or _DEFINITION.search(text):
            raise refuse("it is a profile definition (TOML), not a STEP file", f"draw it: flatgen draw {path}")
        raise refuse("it does not begin with ISO-10303-21, as every STEP file does", _AGAIN)
    if not _DATA.search(text):
        raise refuse("it has no DATA section, where the geometry would be", _AGAIN)
    if not _CLOSING.search(text):
        raise refuse("it is cut off: END-ISO-10303-21 is missing at its end", "fetch or export it again")
    return text


def _beginning(text: bytes) -> int:
    """Where the first keyword stands, after a byte order mark, blanks and comments."""
    place = 3 if text.startswith(b"\xef\xbb\xbf") else 0
    while True:
        while text[place : place + 1].isspace():
            place += 1
        if not text.startswith(b"/*", place):
            return place
        end = text.find(b"*/", place + 2)
        if end < 0:
            return place
        place = end + 2


def _content(path: Path) -> bytes:
    try:
        str(path).encode("utf-8")
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):
            text = "it is a folder" if stat.S_ISDIR(about.st_mode) else "it is no regular file"
            raise InputRefused(Fault("FG001", str(path), text, "give the STEP file itself"))
        if about.st_size > LARGEST * 1_000_000:
            text = f"it has {about.st_size / 1e6:.0f} MB, more than the {LARGEST} MB that are read"
            raise InputRefused(Fault("FG001", str(path), text, "export the sheet-metal part alone"))
        return path.read_bytes()
    except UnicodeEncodeError as error:
        text = "its name is not UTF-8, and cannot be handed to the kernel"
        raise InputRefused(Fault("FG001", ascii(str(path)), text, "rename the file")) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputRefused(Fault("FG001", str(path), f"it cannot be read: {reason}", "check its name")) from error


_PAGES = {  # \S\ and \P.\ name the parts of ISO 8859 in the order of the letters
    letter: f"iso8859_{number}" for number, letter in enumerate("ABCDEFGHI", 1)
}
_ESCAPES = re.compile(
    r"\\X2\\((?:[0-9A-Fa-f]{4})*)\\X0\\|\\X4\\((?:[0-9A-Fa-f]{8})*)\\X0\\|\\X\\([0-9A-Fa-f]{2})"
    r"|\\P([A-I])\\|\\S\\(.)|(\\\\)",
    re.S,
)


def resolve_escapes(text: str) -> str:
    r"""Text of ISO 10303-21 with its escapes ``\X2\``, ``\X4\``, ``\X\``, ``\S\``, ``\P.\`` resolved; others stay.

    >>> resolve_escapes(r"Tr\X2\00E4\X0\ger")
    'Träger'
    """
    page = "iso8859_1"

    def resolved(found: re.Match[str]) -> str:
        nonlocal page
        two, four, one, letter, shifted, _ = found.groups()
        try:
            if two is not None:
                return bytes.fromhex(two).decode("utf-16-be")
            if four is not None:
                return bytes.fromhex(four).decode("utf-32-be")
            if one is not None:
                return chr(int(one, 16))
            if shifted is not None:
                return bytes([ord(shifted) + 128]).decode(page)
        except ValueError:
            return found.group()
        page = _PAGES[letter] if letter else page
        return "" if letter else "\\"

    return _ESCAPES.sub(resolved, text)


def _as_utf_8(text: str) -> str:
    try:
        return text.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return text


def clean_name(text: str) -> str:
    r"""A name from a file as it may be shown: decoded, one line, no control characters, ``LONGEST_NAME`` at most.

    Bytes that are read as ISO 8859-1 and are UTF-8 all the same are read again. What a file has in another code page
    says nowhere in which, and stays as it is.

    >>> clean_name("  left\x1b   bracket\n"), clean_name("Tr\u00c3\u00a4ger")
    ('left bracket', 'Träger')
    """
    text_of_name = unicodedata.normalize("NFC", resolve_escapes(_as_utf_8(text[: 20 * LONGEST_NAME])))
    shown = "".join(" " if c.isspace() else c for c in text_of_name if c.isspace() or unicodedata.category(c)[0] != "C")
    return " ".join(shown.split())[:LONGEST_NAME].strip()
