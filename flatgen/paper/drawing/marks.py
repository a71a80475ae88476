"""Centre marks of round openings: small upright crosses to punch at, narrow and continuous, inside the hole.

Crossing centre lines after ISO 128 (memory); a short continuous cross stands for them where an opening is too
small for dashes. They stay inside the opening, so that no label has to make way for them. Where there are
more than ``MOST``, which nobody punches by hand and which would be a grey field, none are drawn; nor in an
opening that a cross would fill.
"""

from __future__ import annotations

from flatgen.core.flat_pattern import Arc, FlatPattern, Loop, Point
from flatgen.paper.drawing.paper import Stroke, line_widths

MOST = 300
"""Round openings of a drawing with centre marks."""
SHARE = 0.6
"""Half a cross, of the radius, but no more than one height of lettering."""
LEAST = 3.0
"""Half a cross, in narrow lines."""


def centre_marks(flat: FlatPattern, height: float) -> tuple[Stroke, ...]:
    """Two strokes for each round opening.

    Parameters
    ----------
    flat : FlatPattern
        What is drawn, [mm]
    height : float
        Of the drawing's lettering, [mm]

    Returns
    -------
    tuple[Stroke, ...]
        The crosses, [mm]
    """
    circles = [c for c in map(_circle, flat.openings) if c is not None]
    if len(circles) > MOST:
        return ()
    found: list[Stroke] = []
    for (x, y), radius in circles:
        half = min(SHARE * radius, height)
        if half >= LEAST * line_widths(height)[1]:
            found += [Stroke((x - half, y), (x + half, y)), Stroke((x, y - half), (x, y + half))]
    return tuple(found)


def _circle(loop: Loop) -> tuple[Point, float] | None:
    """Centre and radius of a loop that is one circle."""
    only = loop.pieces[0]
    return (only.centre, only.radius) if len(loop.pieces) == 1 and isinstance(only, Arc) and only.full else None
