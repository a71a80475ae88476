"""Lettering of all drawings: the one typeface, texts and strokes with their places, and the breaking of lines."""

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
from typing import Any, Literal, TypeAlias

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.paper.drawing import words

FONT_FILE = "DejaVuSans.ttf"
LACKING_FROM = "\u0180"
"""The typeface has all that is printable before this character."""


@functools.cache
def font_path() -> Path:
    """The file of the typeface, found without importing matplotlib.

    :raises FileNotFoundError: the matplotlib package is missing, or lacks it
    """
    spec = importlib.util.find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        path = Path(folder) / "mpl-data" / "fonts" / "ttf" / FONT_FILE
        if path.is_file():
            return path
    raise FileNotFoundError(f"{FONT_FILE} of the matplotlib package: install matplotlib again")


@functools.cache
def load_fonts() -> Any:
    """The module of typefaces of ezdxf, with a list of one: DejaVu Sans of the matplotlib package.

    ezdxf, when first imported, scans the machine for typefaces and keeps a list in the user's home; a drawing must not
    depend on that. Call this before anything else that imports ezdxf (CadQuery does).
    """
    faces = [[str(font_path()), "DejaVu Sans", "Book", 400, 5]]
    known = json.dumps({"version": 2, "font-faces": faces})
    if "ezdxf" not in sys.modules:
        _import_with(known)
    from ezdxf.fonts import fonts

    fonts.font_manager.clear()
    fonts.font_manager.loads(known)
    return fonts


@functools.lru_cache(maxsize=16384)
def text_width(text: str, height: float) -> float:
    """How far a text of capital ``height`` [mm] runs [mm]."""
    return float(_face().text_width(text)) * height if text else 0.0


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
    with reader.TTFont(font_path(), lazy=True) as font:
        return frozenset(font.getBestCmap())


@functools.cache
def _face() -> Any:
    return load_fonts().make_font(FONT_FILE, 1.0)


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
Box: TypeAlias = tuple[float, float, float, float]
"""Left, low, right, high [mm]."""
Kind = Literal["plain", "wide", "near", "far", "tangent", "form", "sight near", "sight far"]


@dataclass(frozen=True)
class Text:
    """One line of lettering: start ``at`` of its baseline [mm], capital ``height`` [mm], ``turn`` [deg]."""

    text: str
    at: Point
    height: float
    turn: float = 0.0

    @property
    def width(self) -> float:
        """How far it runs [mm]."""
        return text_width(self.text, self.height)

    @property
    def box(self) -> tuple[Point, Point, Point, Point]:
        """Corners of the rectangle around it, counter-clockwise [mm]."""
        return text_box(self.at, self.turn, self.width, self.height, 0.0)


@dataclass(frozen=True)
class Stroke:
    """A straight line [mm]; only the key has other kinds than plain."""

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
        """Corners of all texts, strokes and arrows [mm]."""
        points = [p for t in self.texts for p in t.box]
        points += [p for s in self.strokes for p in (s.start, s.end)]
        return points + [p for a in self.arrows for p in a.corners]


def lettering_height(flat: FlatPattern) -> float:
    """Height of the lettering for a blank, at least 2.5 [mm]."""
    wanted = max(flat.width, flat.length) / LINES_OF_LETTERING
    return min(HEIGHTS[1:], key=lambda h: abs(math.log(h / max(wanted, 1e-9))))


def line_widths(height: float) -> tuple[float, float]:
    """Wide and narrow line for lettering of ``height`` [mm]."""
    wide = min(WIDE_LINES, key=lambda w: abs(math.log(w / (height * WIDE_SHARE))))
    return wide, wide / 2.0


def text_box(at: Point, turn: float, width: float, height: float, margin: float) -> tuple[Point, Point, Point, Point]:
    """Corners of a line of lettering with a margin [mm]; ``turn`` [deg]."""
    u, n = directions(turn)
    low, high = -DESCENT * height - margin, ASCENT * height + margin
    places = ((-margin, low), (width + margin, low), (width + margin, high), (-margin, high))
    a, b, c, d = ((at[0] + s * u[0] + v * n[0], at[1] + s * u[1] + v * n[1]) for s, v in places)
    return (a, b, c, d)


def directions(turn: float) -> tuple[Point, Point]:
    """Unit vectors along and up from lettering at ``turn`` [deg]; exact at right angles."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    cos, sin = (float(round(v)) if abs(v - round(v)) < 1e-12 else v for v in (cos, sin))
    return (cos, sin), (-sin, cos)


def reading_turn(start: Point, end: Point) -> float:
    """Angle of lettering along a line, to read from the bottom or the right: -90 < turn <= 90 [deg].

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
"""Line pitch in heights: no letter with two accents meets one with a tail above it."""
DOTS = "…"


def safe_text(text: str) -> str:
    """A text on one line, without DXF commands, in letters of the typeface, with single blanks.

    >>> safe_text(" 50%%d" + chr(10) + "deep %° 折")
    '50% %d deep % ° ?'
    """
    # a percent sign before the code of the degree sign would spoil that code
    cleaned = words.clean(unicodedata.normalize("NFC", text)).replace("%°", "% °")
    return " ".join(drawable(cleaned).split())


def wrap_text(text: str, room: float, height: float, most: int | None = None) -> tuple[str, ...]:
    """A text in lines, broken at blanks, and within a word that is longer than a line; none for an empty text.

    :param room: length of a line, at least the widest letter [mm]
    :param height: of capitals [mm]
    :param most: lines; an ellipsis stands for the rest
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if text_width(longer, height) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        rest = word
        while text_width(rest, height) > room and len(rest) > 1:
            cut = _fitting(rest, room, height)
            lines.append(rest[:cut])
            rest = rest[cut:]
        line = rest
        if most is not None and len(lines) > most:
            break
    lines += [line] if line else []
    if most is None or len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], shorten(lines[most - 1] + DOTS, room, height))


def shorten(text: str, room: float, height: float) -> str:
    """A text on one line of length ``room`` [mm], cut off with an ellipsis; ``height`` of capitals [mm]."""
    if text_width(text, height) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(text[:middle].rstrip() + DOTS, height) <= room
        low, high = (middle, high) if fits else (low, middle - 1)
    return text[:low].rstrip() + DOTS


def fit_text(text: str, room: float, tall: float, heights: Sequence[float]) -> tuple[tuple[str, ...], float]:
    """A text in the largest lettering in which all of it fits, else in the smallest and shortened.

    :param room, tall: length of a line, height of all lines [mm]
    :param heights: of capitals, largest first [mm]
    :returns: lines and the height taken [mm]
    """
    for height in heights:
        lines = wrap_text(text, room, height)
        if lines_height(len(lines), height) <= tall:
            return lines, height
    height = heights[-1]
    return wrap_text(text, room, height, max(1, 1 + int((tall / height - ASCENT - DESCENT) / LINE))), height


def lines_height(lines: int, height: float) -> float:
    """From above the first of some lines to below the last, for capitals of ``height`` [mm]."""
    return height * (ASCENT + DESCENT + LINE * (lines - 1)) if lines else 0.0


def _fitting(word: str, room: float, height: float) -> int:
    """How many characters of a word fit, at least one; a letter keeps its combining marks."""
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if text_width(word[:middle], height) <= room else (low, middle - 1)
    cut = low
    while cut > 1 and unicodedata.combining(word[cut]):
        cut -= 1
    return cut if not unicodedata.combining(word[cut]) else low
