"""The one typeface of all drawings, and how wide a text runs in it.

ezdxf looks for typefaces on the whole machine when it is first imported, and keeps a list in the user's
home. A drawing must not depend on what a machine has, so ezdxf is imported only through :func:`lettering`,
which hands it a list of one: the DejaVu Sans that the matplotlib package carries. Nothing is scanned or
written outside of a temporary folder. Import it before anything else that imports ezdxf (CadQuery does).
"""

from __future__ import annotations

import functools
import importlib
import importlib.util
import json
import math
import os
import sys
import tempfile
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.paper.drawing import words

FILE = "DejaVuSans.ttf"

LACKING_FROM = "\u0180"
"""The typeface has all that is printable before this character."""


@functools.cache
def font_file() -> Path:
    """Where the typeface lies, found without importing matplotlib.

    :raises FileNotFoundError: If the matplotlib package is not there, or lacks the file.
    """
    spec = importlib.util.find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        found = Path(folder) / "mpl-data" / "fonts" / "ttf" / FILE
        if found.is_file():
            return found
    raise FileNotFoundError(f"{FILE} of the matplotlib package: install matplotlib again")


@functools.cache
def lettering() -> Any:
    """ezdxf's module of typefaces, knowing ours and no other."""
    faces = [[str(font_file()), "DejaVu Sans", "Book", 400, 5]]
    known = json.dumps({"version": 2, "font-faces": faces})
    if "ezdxf" not in sys.modules:
        _import_with(known)
    from ezdxf.fonts import fonts

    fonts.font_manager.clear()
    fonts.font_manager.loads(known)
    return fonts


def width(text: str, height: float) -> float:
    """How far a text of capital ``height`` [mm] runs [mm]."""
    return float(_face().text_width(text)) * height


def drawable(text: str) -> str:
    """A text with a question mark for every character that the typeface lacks.

    >>> drawable("Träger 折")
    'Träger ?'
    """
    if all(c < LACKING_FROM for c in text):
        return text
    return "".join(c if c < LACKING_FROM or ord(c) in _characters() else "?" for c in text)


@functools.cache
def _characters() -> frozenset[int]:
    reader = importlib.import_module("fontTools.ttLib")
    with reader.TTFont(font_file(), lazy=True) as font:
        return frozenset(font.getBestCmap())


@functools.cache
def _face() -> Any:
    return lettering().make_font(FILE, 1.0)


def _import_with(known: str) -> None:
    """Import ezdxf with our list of typefaces, and without settings from a home that may not be readable."""
    variables = ("XDG_CACHE_HOME", "XDG_CONFIG_HOME")
    before = {v: os.environ.get(v) for v in variables}
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "ezdxf"
        place.mkdir()
        (place / "font_manager_cache.json").write_text(known, encoding="utf-8")
        os.environ.update(dict.fromkeys(variables, folder))
        try:
            importlib.import_module("ezdxf")
        finally:
            for variable, value in before.items():
                if value is None:
                    del os.environ[variable]
                else:
                    os.environ[variable] = value


HEIGHTS = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0)

WIDE_LINES = (0.5, 0.7, 1.0, 1.4, 2.0)

WIDE_SHARE = 1.0 / 6.0
"""Wide line per height of lettering, by eye: wide and narrow tell apart on a screen."""

LINES_OF_LETTERING = 60.0
"""So many heights of lettering go into the longer side of a blank: readable when fitted to a screen."""

ASCENT, DESCENT = 1.1, 0.3
"""How far letters reach above and below their baseline, in capital heights (DejaVu Sans: brackets, p, g)."""

Kind = Literal["plain", "wide", "near", "far", "tangent", "form", "sight near", "sight far"]


@dataclass(frozen=True)
class Text:
    """One line of lettering: baseline from ``at`` [mm], capital ``height`` [mm], at ``turn`` [deg]."""

    text: str
    at: Point
    height: float
    turn: float = 0.0

    @property
    def width(self) -> float:
        """How far it runs [mm]."""
        return width(self.text, self.height)

    @property
    def box(self) -> tuple[Point, Point, Point, Point]:
        """Corners of the rectangle that it fills, counter-clockwise [mm]."""
        return box(self.at, self.turn, self.width, self.height, 0.0)


@dataclass(frozen=True)
class Stroke:
    """A straight line of the lettering from ``start`` to ``end`` [mm]; not plain in the key only."""

    start: Point
    end: Point
    kind: Kind = "plain"


@dataclass(frozen=True)
class Arrow:
    """A filled arrowhead, tip first [mm]."""

    corners: tuple[Point, Point, Point]


@dataclass(frozen=True)
class Layout:
    """All that stands on a drawing besides the part itself."""

    texts: tuple[Text, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    arrows: tuple[Arrow, ...] = ()

    def __add__(self, other: Layout) -> Layout:
        return Layout(self.texts + other.texts, self.strokes + other.strokes, self.arrows + other.arrows)

    def points(self) -> list[Point]:
        """Every corner that it reaches [mm]."""
        found = [p for t in self.texts for p in t.box]
        found += [p for s in self.strokes for p in (s.start, s.end)]
        return found + [p for a in self.arrows for p in a.corners]


def lettering_height(flat: FlatPattern) -> float:
    """Height of the lettering for a blank of this size, at least 2.5 [mm]."""
    wanted = max(flat.width, flat.length) / LINES_OF_LETTERING
    return min(HEIGHTS[1:], key=lambda h: abs(math.log(h / max(wanted, 1e-9))))


def line_widths(height: float) -> tuple[float, float]:
    """Wide and narrow line for lettering of ``height`` [mm] -> [mm]."""
    wide = min(WIDE_LINES, key=lambda w: abs(math.log(w / (height * WIDE_SHARE))))
    return wide, wide / 2.0


def box(at: Point, turn: float, width: float, height: float, margin: float) -> tuple[Point, Point, Point, Point]:
    """Corners of a line of lettering with a margin around it, all [mm], ``turn`` [deg]."""
    u, n = directions(turn)
    low, high = -DESCENT * height - margin, ASCENT * height + margin
    places = ((-margin, low), (width + margin, low), (width + margin, high), (-margin, high))
    a, b, c, d = ((at[0] + s * u[0] + v * n[0], at[1] + s * u[1] + v * n[1]) for s, v in places)
    return (a, b, c, d)


def directions(turn: float) -> tuple[Point, Point]:
    """Unit vectors along and upward of lettering that runs at ``turn`` [deg]; exact at right angles."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    cos, sin = (float(round(v)) if abs(v - round(v)) < 1e-12 else v for v in (cos, sin))
    return (cos, sin), (-sin, cos)


def reading_turn(start: Point, end: Point) -> float:
    """Angle at which lettering along a line reads from the bottom or from the right, -90 < turn <= 90 [deg].

    >>> reading_turn((0, 10), (0, 0)), reading_turn((10, 0), (0, 0))
    (90.0, 0.0)
    """
    turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    while turn > 90.0 + 1e-6:
        turn -= 180.0
    while turn <= -90.0 + 1e-6:
        turn += 180.0
    return turn + 0.0


LINE = 1.8
"""From one line of lettering to the next, in heights: no letter with two accents meets one with a tail under it."""

DOTS = "…"


def sound(text: str) -> str:
    """A text on one line that no reader of a drawing takes for a command, of any length.

    :returns: letters of the typeface, single blanks between words

    >>> sound(" 50%%d" + chr(10) + "deep %° 折")
    '50% %d deep % ° ?'
    """
    # a percent sign before the code of the degree sign would spoil that code
    tame = words.clean(unicodedata.normalize("NFC", text)).replace("%°", "% °")
    return " ".join(drawable(tame).split())


@functools.lru_cache(maxsize=16384)
def run(text: str, height: float) -> float:
    """How far a text runs.

    :param height: of its capitals [mm]
    :returns: [mm]
    """
    return width(text, height) if text else 0.0


def wrapped(text: str, room: float, height: float, most: int | None = None) -> tuple[str, ...]:
    """A text in lines, broken at blanks, and within a word that is longer than a line.

    :param room: length of a line, at least that of the widest letter [mm]
    :param height: of capitals [mm]
    :param most: lines; what is over gives way to an ellipsis
    :returns: none for an empty text
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

    :param room: length of the line [mm]
    :param height: of capitals [mm]
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

    :param room: length of a line [mm]
    :param tall: of all lines together [mm]
    :param heights: from the largest [mm]
    :returns: lines and their height [mm]
    """
    for height in heights:
        lines = wrapped(text, room, height)
        if depth(len(lines), height) <= tall:
            return lines, height
    height = heights[-1]
    return wrapped(text, room, height, max(1, 1 + int((tall / height - ASCENT - DESCENT) / LINE))), height


def depth(lines: int, height: float) -> float:
    """How much room lines take, from above the first to below the last.

    :param height: of capitals [mm]
    :returns: [mm]
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
