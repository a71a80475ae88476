"""Words of the views of the formed part."""

from __future__ import annotations

from flatgen.paper.pages.frame import Projection

PICTURE = "Pictorial view, not to scale"
PICTURE_SHORT = "Pictorial view of both ends, not to scale"
BARE = "Pictorial view: openings left out."
NO_PICTURE = "No room for a pictorial view."
MERGED = "Hidden edges and bend tangent lines nearer than 0.7 mm on paper to another line are left out."
EDGE_ON = "Openings are left out where their leg is seen edge-on."
BROKEN = "Length broken: the part is the same along what is cut out."
DETAIL = "A"


def scale(ratio: float) -> str:
    """A scale after ISO 5455.

    >>> scale(0.2), scale(1.0), scale(5.0)
    ('1:5', '1:1', '5:1')
    """
    return f"{round(ratio)}:1" if ratio > 1.0 else f"1:{round(1.0 / ratio)}"


def heading(ratio: float) -> str:
    """What stands over the views, with their scale."""
    return f"Formed part, scale {scale(ratio)}"


def detail(ratio: float) -> str:
    """What stands over a view at a scale of its own."""
    return f"{DETAIL} ({scale(ratio)})"


def projection_note(projection: Projection, *, inches: bool) -> str:
    """Method of projection, and what the sizes are."""
    unit = "inches" if inches else "millimetres"
    return f"{projection.capitalize()}-angle projection. Overall sizes of the formed part in {unit}."
