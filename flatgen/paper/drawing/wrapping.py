"""Strangers' text in a given room: made harmless, broken into lines, shortened with an ellipsis.

All functions but :func:`sound` want text that went through it. They measure with the one typeface.
"""

from __future__ import annotations

import functools
import unicodedata
from collections.abc import Sequence

from flatgen.paper.drawing import typeface, words
from flatgen.paper.drawing.paper import ASCENT, DESCENT

LINE = 1.8
"""From one line of lettering to the next, in heights: no letter with two accents meets one with a tail under it."""
DOTS = "…"


def sound(text: str) -> str:
    """A text on one line that no reader of a drawing takes for a command, of any length.

    Parameters
    ----------
    text : str
        Anything, [-]

    Returns
    -------
    str
        Letters of the typeface, single blanks between words, [-]

    Examples
    --------
    >>> sound(" 50%%d" + chr(10) + "deep %° 折")
    '50% %d deep % ° ?'
    """
    # a percent sign before the code of the degree sign would spoil that code
    tame = words.clean(unicodedata.normalize("NFC", text)).replace("%°", "% °")
    return " ".join(typeface.drawable(tame).split())


@functools.lru_cache(maxsize=16384)
def run(text: str, height: float) -> float:
    """How far a text runs.

    Parameters
    ----------
    text : str
        One line, [-]
    height : float
        Of its capitals, [mm]

    Returns
    -------
    float
        [mm]
    """
    return typeface.width(text, height) if text else 0.0


def wrapped(text: str, room: float, height: float, most: int | None = None) -> tuple[str, ...]:
    """A text in lines, broken at blanks, and within a word that is longer than a line.

    Parameters
    ----------
    text : str
        Sound, [-]
    room : float
        Length of a line, at least that of the widest letter, [mm]
    height : float
        Of capitals, [mm]
    most : int, optional
        Lines; what is over gives way to an ellipsis, [-]

    Returns
    -------
    tuple[str, ...]
        None for an empty text, [-]
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if run(longer, height) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        rest = word
        while run(rest, height) > room and len(rest) > 1:
            cut = _fitting(rest, room, height)
            lines.append(rest[:cut])
            rest = rest[cut:]
        line = rest
        if most is not None and len(lines) > most:
            break
    lines += [line] if line else []
    if most is None or len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], shortened(lines[most - 1] + DOTS, room, height))


def shortened(text: str, room: float, height: float) -> str:
    """A text on one line, its end an ellipsis where it is too long.

    Parameters
    ----------
    text : str
        Sound, [-]
    room : float
        Length of the line, [mm]
    height : float
        Of capitals, [mm]

    Returns
    -------
    str
        [-]
    """
    if run(text, height) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = run(text[:middle].rstrip() + DOTS, height) <= room
        low, high = (middle, high) if fits else (low, middle - 1)
    return text[:low].rstrip() + DOTS


def fitted(text: str, room: float, tall: float, heights: Sequence[float]) -> tuple[tuple[str, ...], float]:
    """A text in the largest lettering in which all of it fits, else in the smallest and shortened.

    Parameters
    ----------
    text : str
        Sound, [-]
    room : float
        Length of a line, [mm]
    tall : float
        Of all lines together, [mm]
    heights : Sequence[float]
        From the largest, [mm]

    Returns
    -------
    tuple[tuple[str, ...], float]
        Lines and their height, [mm]
    """
    for height in heights:
        lines = wrapped(text, room, height)
        if depth(len(lines), height) <= tall:
            return lines, height
    height = heights[-1]
    return wrapped(text, room, height, max(1, 1 + int((tall / height - ASCENT - DESCENT) / LINE))), height


def depth(lines: int, height: float) -> float:
    """How much room lines take, from above the first to below the last.

    Parameters
    ----------
    lines : int
        How many, [-]
    height : float
        Of capitals, [mm]

    Returns
    -------
    float
        [mm]
    """
    return height * (ASCENT + DESCENT + LINE * (lines - 1)) if lines else 0.0


def _fitting(word: str, room: float, height: float) -> int:
    """How many characters of a word fit, at least one; a letter keeps the marks that stand on it."""
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if run(word[:middle], height) <= room else (low, middle - 1)
    cut = low
    while cut > 1 and unicodedata.combining(word[cut]):
        cut -= 1
    return cut if not unicodedata.combining(word[cut]) else low
