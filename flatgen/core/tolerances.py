"""General tolerances after ISO 2768-1: what a size may be off where its drawing says nothing else.

Classes: f (fine), m (medium), c (coarse), v (very coarse). The figures stand in ``tolerances.toml`` beside this
module, with a mark: "seen" (read in a reproduction of the standard). Millimetres and degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

ToleranceClass = Literal["f", "m", "c", "v"]
_NOISE_DECIMALS = 6
"""Decimals of a size [mm] beyond which it is noise of the arithmetic: 30 mm is not over 30."""
_CLASSES = ("f", "m", "c", "v")


@dataclass(frozen=True)
class Tolerance:
    """Plus or minus ``value`` [mm or deg], with the ``source`` of the figure and its ``mark``."""

    value: float
    source: str
    mark: str


def linear_tolerance(size: float, tolerance_class: ToleranceClass = "m") -> Tolerance | None:
    """What a linear size may be off.

    :param size: nominal [mm]
    :returns: None where the standard has none: under 0.5 mm, above 4 m, class v up to 3 mm, class f above 2 m
    :raises ValueError: the size is not above 0, or there is no such class.

    ISO 2768-1, table 1: 30 mm is "over 6 up to 30", 30.1 mm is over 30.

    >>> linear_tolerance(30.0).value, linear_tolerance(30.1).value
    (0.2, 0.3)
    """
    return _look_up("linear", size, tolerance_class, 1.0)


def angular_tolerance(leg: float, tolerance_class: ToleranceClass = "m") -> Tolerance | None:
    """What an angle may be off.

    :param leg: length of the shorter leg of the angle [mm]; the standard has a tolerance for every length
    :raises ValueError: the length is not above 0, or there is no such class.

    ISO 2768-1, table 3: 30 minutes for a leg over 10 up to 50 mm.

    >>> angular_tolerance(18.0).value
    0.5
    """
    return _look_up("angular", leg, tolerance_class, 1 / 60)


def _look_up(kind: str, size: float, tolerance_class: str, unit: float) -> Tolerance | None:
    if not 0 < size < math.inf:
        raise ValueError(f"a size of {size}")
    if tolerance_class not in _CLASSES:
        raise ValueError(f"no tolerance class {tolerance_class}")
    table = _table()
    rows, size = table[kind], round(size, _NOISE_DECIMALS)
    if size < rows[0]["over"]:
        return None
    for row in rows:
        if size <= row.get("to", math.inf):
            if tolerance_class not in row:
                return None
            source = f"{table['source']['title']}, {table['source'][kind]}"
            return Tolerance(row[tolerance_class] * unit, source, table["mark"][kind])
    return None


@cache
def _table() -> Any:
    import tomllib
    from pathlib import Path

    return tomllib.loads(Path(__file__).with_name("tolerances.toml").read_text("utf-8"))
