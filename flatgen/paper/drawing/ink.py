"""Paper to print on (sheets and rolls), and ink: lines and lettering on it, as an ezdxf document."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Point
from flatgen.core.units import NotALength, parse_length
from flatgen.paper.drawing import document
from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.text import Text, line_widths

INCH = 25.4
PRINTER_SCALES = (95.0, 105.0)
"""Lengths that a printer may make of 100, to be corrected; farther off something else is wrong [%]."""

SHEETS = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (8.5 * INCH, 11.0 * INCH),
    "Tabloid": (11.0 * INCH, 17.0 * INCH),
}
"""Narrow and long side [mm] (ISO 216: A4 210 x 297 mm; ASME Y14.1: Letter 8 1/2 x 11 in, Tabloid 11 x 17 in), from
memory."""
ROLL_WIDTHS = (150.0, 2000.0)
"""Least and greatest width of a roll [mm]."""


@dataclass(frozen=True)
class Paper:
    """``narrow`` and ``long`` side [mm]; ``long`` is None for a roll, which is cut to any length."""

    name: str
    narrow: float
    long: float | None


A4 = Paper("A4", *SHEETS["A4"])


def parse_paper(text: str, option: str = "--paper") -> Paper:
    """Paper by its name, or a roll by its width: ``A3``, ``Letter``, ``roll:610 mm``; a number alone is in millimetres.

    :raises InputRefused: FG005: no such paper, or an impossible roll

    >>> parse_paper("a4")
    Paper(name='A4', narrow=210.0, long=297.0)
    >>> parse_paper("roll:24 in").narrow
    609.6
    """
    text = text.strip()
    names = {name.casefold(): name for name in SHEETS}
    if text.casefold() in names:
        name = names[text.casefold()]
        return Paper(name, *SHEETS[name])
    kind, _, size = text.partition(":")
    if kind.strip().casefold() == "roll" and size.strip():
        return Paper(f"roll {size.strip()}", _roll(size.strip(), option), None)
    remedy = f"choose among {', '.join(SHEETS)}, or name a roll by its width, such as roll:610"
    raise InputRefused(Fault("FG005", option, f"no paper is called {text!r}", remedy))


def _roll(size: str, option: str) -> float:
    try:
        width = parse_length(size, default_unit="mm").value
    except NotALength as why:
        remedy = "write it as roll:610 or roll:24 in"
        raise InputRefused(Fault("FG005", option, f"width of a roll: {why.text}", remedy)) from why
    if not ROLL_WIDTHS[0] <= width <= ROLL_WIDTHS[1]:
        text = f"a roll of {width:g} mm is not between {ROLL_WIDTHS[0]:g} and {ROLL_WIDTHS[1]:g} mm"
        raise InputRefused(Fault("FG005", option, text, "give the width of the paper in the plotter"))
    return width


Points = tuple[Point, ...]
HEAD = 2.2
"""Length of an arrowhead [mm]."""
SMALL, LARGE = 2.5, 3.5
"""Heights of lettering [mm]."""
LETTERS = "LETTERS"
"""Layer of all lettering."""
LONG_DASHED, CHAIN = "INK_LONG_DASHED", "INK_CHAIN"
"""Long-dashed double-dotted, and long-dashed dotted, both narrow (ISO 128-2, lines 05 and 04; memory, not read)."""


@dataclass
class Ink:
    """Polylines (pen, points, closed), filled triangles, circles, arcs (pen, centre, radius, first angle, sweep) and
    texts; [mm], [deg].
    """

    lines: list[tuple[str, Points, bool]] = field(default_factory=list)
    solids: list[Points] = field(default_factory=list)
    circles: list[tuple[str, Point, float]] = field(default_factory=list)
    arcs: list[tuple[str, Point, float, float, float]] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    def add(self, other: Ink, dx: float, dy: float) -> None:
        """Add another ink, moved [mm]."""

        def moved(points: Points) -> Points:
            return tuple((x + dx, y + dy) for x, y in points)

        self.lines += [(pen, moved(points), closed) for pen, points, closed in other.lines]
        self.solids += [moved(points) for points in other.solids]
        self.circles += [(pen, (c[0] + dx, c[1] + dy), r) for pen, c, r in other.circles]
        self.arcs += [(pen, (c[0] + dx, c[1] + dy), *rest) for pen, c, *rest in other.arcs]  # type: ignore[misc]
        self.texts += [replace(t, at=(t.at[0] + dx, t.at[1] + dy)) for t in other.texts]

    def line(self, pen: str, *points: Point) -> None:
        """A polyline [mm]."""
        self.lines.append((pen, points, False))

    def box(self, pen: str, left: float, low: float, right: float, high: float) -> None:
        """A rectangle [mm]."""
        self.lines.append((pen, ((left, low), (right, low), (right, high), (left, high)), True))

    def text(self, text: str, x: float, y: float, height: float = SMALL, turn: float = 0.0) -> None:
        """A line of lettering from the left end of its baseline [mm]; ``turn`` [deg]."""
        self.texts.append(Text(text, (x, y), height, turn))

    def head(self, tip: Point, way: Point, long: float = HEAD) -> None:
        """A filled arrowhead along ``way``, ``long`` [mm]."""
        size = math.hypot(*way) or 1.0
        u, v = way[0] / size * long, way[1] / size * long
        side = 0.32
        self.solids.append(
            (tip, (tip[0] - u - side * v, tip[1] - v + side * u), (tip[0] - u + side * v, tip[1] - v - side * u))
        )


def ink_document(
    ink: Ink, pens: Mapping[str, Pen], wide: float, tall: float, *, solids: str = "SIZES", version: str = "R2010"
) -> Any:
    """Ink as a document at 1:1, on paper of ``wide`` x ``tall`` [mm]."""
    doc = _pen_document(pens, version)
    space = doc.modelspace()
    for pen, points, closed in ink.lines:
        if len(points) == 2:
            space.add_line(points[0], points[1], dxfattribs={"layer": pen})
        elif version == "R12":
            space.add_polyline2d(points, close=closed, dxfattribs={"layer": pen})
        else:
            space.add_lwpolyline(points, close=closed, dxfattribs={"layer": pen, "flags": 128 | closed})
    for pen, centre, radius in ink.circles:
        space.add_circle(centre, radius, dxfattribs={"layer": pen})
    for pen, centre, radius, first, sweep in ink.arcs:
        start, end = (first, first + sweep) if sweep > 0 else (first + sweep, first)
        space.add_arc(centre, radius, start % 360.0, end % 360.0, dxfattribs={"layer": pen})
    for a, b, c in ink.solids:
        space.add_solid([a, b, c, c], dxfattribs={"layer": solids})
    for text in ink.texts:
        attributes: dict[str, Any] = {"layer": LETTERS, "style": document.LETTERING, "insert": text.at}
        if text.turn:
            attributes["rotation"] = text.turn
        space.add_text(document.dxf_text(text.text, version), height=text.height, dxfattribs=attributes)
    document.set_view(doc, [(0.0, 0.0), (wide, tall)], 1.0)
    return doc


def _pen_document(pens: Mapping[str, Pen], version: str) -> Any:
    """A document with a layer for each pen and no entity."""
    doc = document.empty_document(version, SMALL, False, (document.LABELS,))
    widths = line_widths(SMALL)
    step = widths[1]
    dot = [-3 * step, step, -3 * step]
    doc.linetypes.add(
        LONG_DASHED, [35 * step, 24 * step, *dot, step, -3 * step],
        description="narrow long-dashed double-dotted ____ . . ____",
    )  # fmt: skip
    doc.linetypes.add(CHAIN, [31 * step, 24 * step, *dot], description="narrow long-dashed dotted ____ . ____")
    for name, pen in pens.items():
        layer = doc.layers.add(name, color=pen.number, linetype=pen.linetype)
        if version != "R12":
            weight = widths[0 if pen.wide else 1] if pen.weight is None else pen.weight
            layer.dxf.lineweight = round(100 * weight)
        if pen.shade is not None and version not in ("R12", "R2000"):
            layer.rgb = pen.shade
    return doc


@dataclass(frozen=True)
class Block:
    """Ink that is placed as one: ``wide`` x ``tall`` [mm], lower left corner at the origin."""

    ink: Ink
    wide: float
    tall: float
