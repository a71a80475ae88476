"""Labels that stand inside the part: one beside each bend line, and the names of legs.

A label fits where its box, with a little air, lies in the sheet and touches no bend line, no tangent line and
no other label; where it keeps half its height from every opening, edge and form; and where no other bend line
is as near to it as its own. All labels of a drawing have one height and one form where they can: of all heights
down to a quarter of the drawing's, and of both forms, that one is taken which finds room for the most labels,
the largest first. What still finds no room is led out (``leaders``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from flatgen.core.flat_pattern import Bend, FlatPattern, Panel, Point
from flatgen.paper.drawing import typeface, words
from flatgen.paper.drawing.paper import HEIGHTS, Text, box, directions, lettering_height, reading_turn

AIR = 0.25
"""Free room around a label, in heights."""
CLEAR = 0.6
"""From a label to an opening, an edge or a form, in heights: half a height beyond the width of their lines."""
NEARER = 0.3
"""A label is nearer to its own bend line than to any other by so much, in heights."""
LEAST_SHARE = 0.25
"""Labels are at least this share of the drawing's lettering."""
LEAST_NUMBER = 0.5
"""Numbers of legs are at least this share of the drawing's lettering, or as high as the labels."""
PLACES = 17
"""Places along a bend line that are tried, on each side of it."""


Label: TypeAlias = Callable[[Bend, words.Form], str]
"""What stands at the line of a bend, in its long or its short form."""


@dataclass(frozen=True)
class Ground:
    """The sheet without its forms, and the lines on it that no lettering may touch."""

    sheet: Any
    filled: Any
    lines: Any
    centres: Any
    owners: Any

    @classmethod
    def of(cls, flat: FlatPattern) -> Ground:
        """Shapely's view of a flat, prepared for many questions."""
        import shapely

        outline = flat.outline.points(0.02)
        sheet = shapely.Polygon(outline, [o.points(0.02) for o in flat.openings])
        filled = shapely.Polygon(outline)
        pairs: list[Any] = [pair for b in flat.bends for s in b.segments for pair in (s.centre, *s.tangents)]
        for form in flat.forms:
            sheet = shapely.difference(sheet, shapely.Polygon(form.points(0.02)))
        shapely.prepare(sheet)
        shapely.prepare(filled)
        centres = [(i, shapely.LineString(s.centre)) for i, b in enumerate(flat.bends) for s in b.segments]
        owners = np.array([i for i, _ in centres], dtype=int)
        lines = shapely.STRtree([shapely.LineString(p) for p in pairs])
        return cls(sheet, filled, lines, shapely.STRtree([c for _, c in centres]), owners)

    def free(self, boxes: Any, wide: Any = None) -> Any:
        """Which of an array of boxes touch no line and lie in the sheet, ``wide`` ones about them too."""
        import shapely

        inside = shapely.contains_properly(self.sheet, boxes if wide is None else wide)
        touched = self.lines.query(boxes, predicate="intersects")[0] if len(self.lines) else []
        inside[np.asarray(touched, dtype=int)] = False
        return inside

    def own(self, bend: int, boxes: Any, air: float) -> Any:
        """Which of an array of boxes have the line of this bend nearer than any other, by ``air`` [mm]."""
        import shapely

        mine = shapely.MultiLineString([self.centres.geometries[i] for i in np.flatnonzero(self.owners == bend)])
        reach = shapely.distance(boxes, mine) + air
        near, lines = self.centres.query(boxes, predicate="dwithin", distance=reach)
        good = np.ones(len(boxes), dtype=bool)
        good[near[self.owners[lines] != bend]] = False
        return good


@dataclass(frozen=True)
class Placed:
    """Labels of bends by index, the form and the height chosen for all of them [mm]."""

    texts: dict[int, Text]
    form: words.Form
    height: float


def bend_text(bend: Bend, form: words.Form, inches: bool) -> str:
    """What stands at a bend."""
    return words.bend(bend.label, bend.way, bend.angle, bend.inside_radius, bend.order, form=form, inches=inches)


def place(flat: FlatPattern, ground: Ground, height: float, text_of: Label) -> Placed:
    """Labels inside the part, in the height (at most ``height`` [mm]) and form that finds room for most."""
    least = max(HEIGHTS[1], height * LEAST_SHARE)
    heights = [h for h in reversed(HEIGHTS) if least <= h <= height]
    if height <= HEIGHTS[1]:
        heights.append(HEIGHTS[0])
    best = Placed({}, _form_outside(flat, height, text_of), height)
    for size in heights:
        for form in ("long", "short"):
            found = _placed(flat, ground, form, size, text_of)
            if len(found.texts) > len(best.texts):
                best = found
            if len(best.texts) == len(flat.bends):
                return best
    return best


def _form_outside(flat: FlatPattern, height: float, text_of: Label) -> words.Form:
    """The form where no label finds room inside: long unless that would dwarf the blank."""
    longest = max((typeface.width(text_of(b, "long"), height) for b in flat.bends), default=0.0)
    return "long" if longest <= max(flat.width, flat.length) / 2 else "short"


def names(
    flat: FlatPattern, ground: Ground, height: float, taken: list[Text], legs: tuple[str, ...] = ()
) -> list[Text]:
    """Names of legs that find room inside their leg beside the ``taken`` labels, ``height`` [mm].

    Where panels have none, ``legs`` are written on them, smaller where there is little room, and not where they
    would be too small to find.
    """
    import shapely

    blocked = [shapely.Polygon(t.box) for t in taken]
    found: list[Text] = []
    for index, panel in enumerate(flat.panels):
        given = words.harmless(panel.name or "")
        name = given or (legs[index] if legs else "")
        least = LEAST_NUMBER * lettering_height(flat)
        smaller = [h for h in reversed(HEIGHTS) if least <= h < height] if not given else []
        for size in (height, *smaller) if name else ():
            text = _named(flat, ground, index, name, size, blocked)
            if text is not None:
                found.append(text)
                blocked.append(shapely.Polygon(box(text.at, text.turn, text.width, size, AIR * size)))
                break
    return found


def _named(flat: FlatPattern, ground: Ground, index: int, name: str, height: float, blocked: list[Any]) -> Text | None:
    """A leg's name where it finds room, or None."""
    import shapely

    panel, turn = flat.panels[index], _turn_of(flat, index)
    region = shapely.Polygon(panel.outline.points(0.02))
    width = typeface.width(name, height)
    for at in _middles(panel, turn, width, height):
        area, wide = (shapely.Polygon(box(at, turn, width, height, air * height)) for air in (AIR, CLEAR))
        if not region.contains(area) or not ground.free(np.array([area]), np.array([wide]))[0]:
            continue
        if not any(area.distance(other) < 0.8 * height for other in blocked):
            return Text(name, at, height, turn)
    return None


def _placed(flat: FlatPattern, ground: Ground, form: words.Form, height: float, text_of: Label) -> Placed:
    import shapely

    texts: dict[int, Text] = {}
    taken: list[Any] = []
    for index, bend in enumerate(flat.bends):
        text = text_of(bend, form)
        width = typeface.width(text, height)
        turn = reading_turn(*bend.centre)
        places = _beside(bend, turn, width, height)
        boxes, wide = (
            shapely.polygons(np.array([box(p, turn, width, height, air * height) for p in places]))
            for air in (AIR, CLEAR)
        )
        free = ground.free(boxes, wide)
        if free.any():
            free[free] = ground.own(index, boxes[free], NEARER * height)
        if taken and free.any():
            free &= ~shapely.intersects(boxes[:, None], np.array(taken)[None, :]).any(axis=1)
        if free.any():
            first = int(np.argmax(free))
            texts[index] = Text(text, places[first], height, turn)
            taken.append(boxes[first])
    return Placed(texts, form, height)


def _beside(bend: Bend, turn: float, width: float, height: float) -> list[Point]:
    """Beginnings of baselines beside a bend line, the best first: middle before ends, above before below."""
    u, n = directions(turn)
    ends = [p[0] * u[0] + p[1] * u[1] for p in bend.centre]
    level = bend.centre[0][0] * n[0] + bend.centre[0][1] * n[1]
    reach = bend.allowance / 2.0
    above, below = (0.4 + AIR) * height, (1.2 + AIR) * height
    levels = [level + reach + above, level - reach - below]
    if reach > above + below:
        levels += [level + above, level - below]
    middle = (min(ends) + max(ends) - width) / 2.0
    room = max(0.0, abs(ends[1] - ends[0]) - width - 2 * AIR * height) / 2.0
    shifts = sorted((room * k / (PLACES // 2) for k in range(-(PLACES // 2), PLACES // 2 + 1)), key=abs)
    return [((middle + s) * u[0] + v * n[0], (middle + s) * u[1] + v * n[1]) for v in levels for s in shifts]


def _turn_of(flat: FlatPattern, index: int) -> float:
    """A leg's name runs along its longest bend, on a flat plate along its longer side."""
    own = [b for b in flat.bends if index in (b.first, b.second)]
    if own:
        return reading_turn(*max(own, key=lambda b: b.length).centre)
    return 0.0 if flat.width >= flat.length else 90.0


def _middles(panel: Panel, turn: float, width: float, height: float) -> list[Point]:
    """Beginnings of baselines on a leg, from its middle outward."""
    u, n = directions(turn)
    points = panel.outline.points(0.1)
    along = [p[0] * u[0] + p[1] * u[1] for p in points]
    across = [p[0] * n[0] + p[1] * n[1] for p in points]
    spots = []
    for a in (0.5, 0.25, 0.75, 0.12, 0.88):
        for c in (0.5, 0.35, 0.65, 0.2, 0.8):
            s = min(along) + a * (max(along) - min(along)) - width / 2.0
            v = min(across) + c * (max(across) - min(across)) - height / 2.0
            spots.append((math.hypot(a - 0.5, c - 0.5), s, v))
    spots.sort(key=lambda spot: spot[0])
    return [(s * u[0] + v * n[0], s * u[1] + v * n[1]) for _, s, v in spots]
