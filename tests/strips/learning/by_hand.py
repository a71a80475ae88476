"""Strips written by hand for the tests of the model: one metal, 1 mm thick, all bends of inside radius 2."""

from __future__ import annotations

import math
from typing import Any

from flatgen.metal.allowance import GivenK
from flatgen.strips.reading import BendReading, LegReading, StripReading

METAL = "trial sheet"
EXACT: dict[str, Any] = {
    "methods": {METAL: GivenK(0.42)},
    "trust": 1.0,
    "k_kind": 0.0,
    "k_class": 0.0,
    "k_sheet": 0.0,
    "radius_kind": 0.0,
    "radius_class": 0.0,
    "alpha": (0.0, 0.0),
    "beta": (0.0, 0.0),
    "thickness_error": 0.0,
    "angle_error": 0.0,
    "angle_scatter": 0.0,
    "cut": 0.0,
    "wide_chance": 0.0,
}
"""Nothing uncertain but K, offset, placement and measured legs: what is left is ordinary least squares."""


def bend(label: str, angle: float = 90.0, held: str = "first", **changes: Any) -> BendReading:
    """A bend of inside radius 2 on a matching nose, set and got as asked."""
    values: dict[str, Any] = {
        "label": label,
        "angle": angle,
        "way": "up",
        "inside_radius": 2.0,
        "allowance": math.radians(angle) * 2.42,
        "held": held,
        "setup": "bar",
        "nose_radius": 2.0,
        "nose_setting": 1.0,
        "arm": 20.0,
        "sight": 30.0,
        "got": angle,
    }
    return BendReading(**(values | changes))


def strip(bends: list[BendReading], got: list[float | None], name: str = "one", **changes: Any) -> StripReading:
    """A strip 1 mm thick; legs to the mould line."""
    legs = tuple(LegReading(f"leg {n + 1}", 40.0, "mould-line", g) for n, g in enumerate(got))
    values: dict[str, Any] = {
        "metal": METAL,
        "nominal": 1.0,
        "thickness": 1.0,
        "width": 25.0,
        "blank": 100.0,
        "blank_got": None,
        "sheet": "s",
    }
    return StripReading(name=name, legs=legs, bends=tuple(bends), **(values | changes))
