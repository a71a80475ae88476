"""A page of lines and lettering as SVG text, in millimetres, y down; the same calls give the same bytes.

Lettering is drawn as outlines of the typeface that all drawings have (DejaVu Sans), so that it looks the same
everywhere and its room is known before it is set. A plotting library takes as long to load as all else that a chart
needs takes ten times over, and this is all of it that a chart uses.
"""

from __future__ import annotations

import functools
import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

Point = tuple[float, float]
Box = tuple[float, float, float, float]

FILE = "DejaVuSans.ttf"
CAPITAL = 0.729
"""Height of a capital of the typeface, of its em."""


@dataclass
class Page:
    """A page of ``width`` x ``height`` [mm]; ``title`` is what a reader for the blind says first."""

    width: float
    height: float
    title: str
    parts: list[str] = field(default_factory=list)
    letters: dict[str, str] = field(default_factory=dict)

    def line(
        self, points: Sequence[Point], width: float = 0.25, colour: str = "#222222", dashes: Sequence[float] = ()
    ) -> None:
        """A line through points, ``dashes`` on and off in turn [mm]."""
        run = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
        dashed = f' stroke-dasharray="{" ".join(f"{d:g}" for d in dashes)}"' if dashes else ""
        self.parts.append(
            f'<polyline points="{run}" fill="none" stroke="{colour}" stroke-width="{width:g}"'
            f' stroke-linejoin="round"{dashed}/>'
        )

    def shape(self, points: Sequence[Point], fill: str = "#ffffff", colour: str = "#222222") -> None:
        """A closed shape."""
        run = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
        self.parts.append(f'<polygon points="{run}" fill="{fill}" stroke="{colour}" stroke-width="0.3"/>')

    def text(self, x: float, y: float, text: str, height: float = 2.5, anchor: float = 0.0, *, up: bool = False) -> Box:
        """A text with capitals ``height`` [mm] high on the baseline at (x, y), ``anchor`` 0 at its start, 1 at its
        end; ``up`` turns it to read upward. Gives the room it takes."""
        size = height / CAPITAL / _face()[1]
        wide, places = 0.0, []
        for letter in text:
            name, path, advance = _glyph(letter)
            self.letters[name] = path
            places.append(f'<use href="#{name}" x="{wide / size:.0f}"/>')
            wide += advance * size
        turn = " rotate(-90)" if up else ""
        start = f"translate({x:.2f} {y:.2f}){turn} translate({-anchor * wide:.2f} 0) scale({size:.6f} {-size:.6f})"
        self.parts.append(
            f'<g aria-label="{escape(text, {chr(34): "&quot;"})}" transform="{start}">{"".join(places)}</g>'
        )
        if up:
            return (x - height, y - (1 - anchor) * wide, x, y + anchor * wide)
        return (x - anchor * wide, y - height, x + (1 - anchor) * wide, y)

    def svg(self) -> str:
        """The page as SVG text."""
        kept = "\n".join(f'<path id="{name}" d="{self.letters[name]}"/>' for name in sorted(self.letters))
        body = "\n".join(self.parts)
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width:g}mm" height="{self.height:g}mm"'
            f' viewBox="0 0 {self.width:g} {self.height:g}" role="img">\n<title>{escape(self.title)}</title>\n'
            f'<defs>\n{kept}\n</defs>\n<rect width="100%" height="100%" fill="#ffffff"/>\n{body}\n</svg>\n'
        )


def width_of(text: str, height: float = 2.5) -> float:
    """How far a text of capital ``height`` [mm] runs [mm]."""
    return sum(_glyph(letter)[2] for letter in text) * height / CAPITAL / _face()[1]


def apart(one: Box, other: Box, gap: float = 0.4) -> bool:
    """Whether two rooms (left, top, right, bottom) keep ``gap`` [mm] from one another."""
    return one[2] + gap <= other[0] or other[2] + gap <= one[0] or one[3] + gap <= other[1] or other[3] + gap <= one[1]


@functools.cache
def _face() -> tuple[Any, float]:
    """The typeface and the units of its em; found without loading the library that carries it."""
    from fontTools.ttLib import TTFont

    spec = importlib.util.find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        found = Path(folder) / "mpl-data" / "fonts" / "ttf" / FILE
        if found.is_file():
            font = TTFont(found, lazy=True)
            return font, float(font["head"].unitsPerEm)
    raise FileNotFoundError(f"{FILE} of the matplotlib package: install matplotlib again")


@functools.cache
def _glyph(letter: str) -> tuple[str, str, float]:
    """Name, outline and advance of a letter; a question mark where the typeface lacks it."""
    from fontTools.pens.svgPathPen import SVGPathPen

    font = _face()[0]
    glyphs, known = font.getGlyphSet(), font.getBestCmap()
    code = ord(letter) if ord(letter) in known else ord("?")
    pen = SVGPathPen(glyphs)
    glyphs[known[code]].draw(pen)
    return f"c{code}", pen.getCommands(), float(glyphs[known[code]].width)
