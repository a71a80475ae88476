"""Names that can be file names on Linux, macOS and Windows, and lead nowhere else.

Source of the reserved names and characters: Microsoft, "Naming Files, Paths, and Namespaces"
(learn.microsoft.com/windows/win32/fileio/naming-a-file), memory. This module imports nothing of ours.
"""

from __future__ import annotations

LONGEST_NAME = 100
"""Characters; leaves room for the endings that the written files get."""

_RESERVED = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{d}{n}" for d in ("com", "lpt") for n in "0123456789¹²³"
}
_FORBIDDEN = set('/\\:*?"<>|')


class NotAName(ValueError):
    """A text that cannot be a file name; ``text`` says why, ``remedy`` what to do."""

    def __init__(self, text: str, remedy: str = "rename it to letters, digits, '-' and '_'") -> None:
        self.text = text
        self.remedy = remedy
        super().__init__(f"{text}; {remedy}")


def safe_name(text: str) -> str:
    """The name itself, if files and a folder can be named after it everywhere.

    Parameters
    ----------
    text : str
        A name without folder, [-]

    Returns
    -------
    str
        The same name, [-]

    Raises
    ------
    NotAName
        If it is empty, too long, reserved, or has characters that lead elsewhere

    Examples
    --------
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
    if text.split(".")[0].rstrip().lower() in _RESERVED:
        raise NotAName(f'"{shown}" is the name of a device on Windows')
    return text
