"""Whether anything on paper touches what it must not: letters on letters, letters on lines, ink beyond a limit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.ink import Ink
from flatgen.paper.pages.frame import PENS

LETTERS_BEYOND = 0.05
"""Letters may come so much nearer than their boxes say, which carry brackets and accents that most have not [mm]."""
Limits = tuple[float, float, float, float]


def clashes(ink: Ink, within: Limits | None = None, pens: Mapping[str, Pen] = PENS) -> list[str]:
    """Every pair of letters that overlap, letters on ink, and what leaves ``within`` (left, low, right, high) [mm]."""
    from shapely import STRtree, box

    texts = [(t.text, _area(t)) for t in ink.texts]
    found = []
    tree = STRtree([a for _, a in texts])
    for n, (said, area) in enumerate(texts):
        hits = (int(k) for k in tree.query(area, "intersects"))
        found += [f"{said!r} on {texts[k][0]!r}" for k in hits if k > n]
    drawn = strokes(ink, pens)
    tree = STRtree([a for _, a in drawn])
    for said, area in texts:
        found += [f"{said!r} on {drawn[int(k)][0]}" for k in tree.query(area, "intersects")]
    if within is not None:
        limit = box(*within).buffer(1e-6)
        found += [f"{name} beyond {within}" for name, a in [*texts, *drawn] if not limit.covers(a)]
    return found


def strokes(ink: Ink, pens: Mapping[str, Pen] = PENS) -> list[tuple[str, Any]]:
    """All but letters as areas, lines with their width on paper, each with a name."""
    from shapely import LineString, Point, Polygon

    found = []
    for pen, points, closed in ink.lines:
        line = LineString([*points, points[0]] if closed else points)
        found.append((f"{pen} {points[0]} {points[-1]}", line.buffer(half_width(pens[pen]), cap_style="flat")))
    for pen, centre, radius in ink.circles:
        ring = Point(centre).buffer(radius, 64).exterior
        found.append((f"{pen} circle {centre}", ring.buffer(half_width(pens[pen]))))
    for pen, centre, radius, first, sweep in ink.arcs:
        turns = [math.radians(first + sweep * k / 64) for k in range(65)]
        line = LineString([(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns])
        found.append((f"{pen} arc {centre}", line.buffer(half_width(pens[pen]))))
    return found + [(f"arrow {s[0]}", Polygon(s)) for s in ink.solids]


def half_width(pen: Pen) -> float:
    """Half of a line's width on paper [mm]: wide 0.5 and narrow 0.25 with lettering of 2.5 (ISO 128-2, from memory)."""
    return (pen.weight if pen.weight is not None else 0.5 if pen.wide else 0.25) / 2.0


def _area(text: Any) -> Any:
    """What letters fill; figures and most capitals reach from the baseline to their height and no farther."""
    from shapely import Polygon, box

    if not text.turn and set(text.text) <= set("0123456789ABCDEFGHIKLMNOPRSTUVWXYZ"):
        (x, y), beyond = text.at, LETTERS_BEYOND
        return box(x, y, x + text.width, y + text.height).buffer(-beyond)
    return Polygon(text.box).buffer(-LETTERS_BEYOND)
