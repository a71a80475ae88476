"""Sheet gauges: the thickness behind a gauge number, in the system that a metal is sold by.

A number means nothing without its system: 20 gauge is 0.0359 in as steel sheet, 0.0375 in by the statute
that stainless follows, 0.0320 in as aluminium. This module imports only ``figure`` and ``allowance``.
"""

from __future__ import annotations

import difflib
import functools
import tomllib
from dataclasses import dataclass
from pathlib import Path

from flatgen.metal.allowance import NotUsable
from flatgen.metal.figures import INCH

_UNITS = {"in": INCH, "mm": 1.0}


@dataclass(frozen=True)
class GaugeSystem:
    """A gauge system: ``thickness`` [mm], and the name of source and mark, by number."""

    name: str
    title: str
    thickness: dict[int, float]
    sources: dict[int, tuple[str, str]]


@functools.lru_cache(maxsize=1)
def gauge_systems() -> dict[str, GaugeSystem]:
    """The gauge systems known, by name.

    Returns
    -------
    dict
        Systems by name, thicknesses in [mm]

    Examples
    --------
    >>> gauge_systems()["swg"].title
    'Imperial standard wire gauge'
    """
    text = (Path(__file__).parent / "data" / "gauges.toml").read_text(encoding="utf-8")
    found = {}
    for name, system in tomllib.loads(text)["systems"].items():
        scale = _UNITS[system["unit"]]
        thickness: dict[int, float] = {}
        sources: dict[int, tuple[str, str]] = {}
        for part in system["parts"]:
            for number, value in part["thickness"].items():
                thickness[int(number)] = value * scale
                sources[int(number)] = (part["source"], part["mark"])
        found[name] = GaugeSystem(name, system["title"], dict(sorted(thickness.items())), sources)
    return found


def gauge_thickness(system: str, number: int) -> float:
    """Thickness of a gauge number.

    Parameters
    ----------
    system : str
        Name of the gauge system, as in ``Metal.gauge_system``, [-]
    number : int
        Gauge number, [-]

    Returns
    -------
    float
        Thickness, [mm]

    Raises
    ------
    NotUsable
        If there is no such system, or it has no such number.

    Examples
    --------
    15 U.S.C. 206: 20 gauge is 0.0375 in.

    >>> gauge_thickness("us-standard", 20)
    0.9525
    """
    systems = gauge_systems()
    if system not in systems:
        near = difflib.get_close_matches(system, systems, n=1)
        hint = f'did you mean "{near[0]}"? ' if near else ""
        raise NotUsable(f'no gauge system is called "{system}"', f"{hint}known are: {', '.join(systems)}")
    known = systems[system]
    if number not in known.thickness:
        numbers = ", ".join(str(n) for n in known.thickness)
        raise NotUsable(
            f"{known.title} has no number {number} here: it has {numbers}",
            "give the thickness in mm or in",
        )
    return known.thickness[number]
