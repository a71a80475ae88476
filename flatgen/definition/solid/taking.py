"""What openings and cuts took that their owner may not expect: said, so that no blank is spoiled by it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Bend, FlatPattern, Line, Loop
from flatgen.definition.crossing import elements
from flatgen.definition.model import Profile
from flatgen.definition.section import Trace
from flatgen.definition.solid.body import formed_solid
from flatgen.definition.solid.counterparts import OpeningHome
from flatgen.definition.solid.cutting import CHIP, Stock
from flatgen.definition.solid.kernel import mass, shared
from flatgen.definition.solid.places import called, spot_of
from flatgen.definition.solid.tools import cut_tool

ON_LINE = 1e-6
"""An edge that lies closer to a tangent line lies on it [mm]."""
SHORT = 0.05
"""Shorter edges on a tangent line are not told [mm]."""


def clipped_findings(profile: Profile, flat: FlatPattern, homes: Sequence[OpeningHome]) -> tuple[Finding, ...]:
    """A caution for each ``[[opening]]`` that is cut off at the far tangent line of a bend beside its leg.

    Parameters
    ----------
    profile : Profile
        The part, [-]
    flat : FlatPattern
        Its flat, named, bends along y, [mm]
    homes : Sequence[OpeningHome]
        Where its openings are, [mm]

    Returns
    -------
    tuple[Finding, ...]
        Cautions (FG109), [-]
    """
    ends = [sorted(line[0][0] for line in b.tangents) for b in flat.bends]
    past: dict[tuple[int, int], list[int]] = {}
    for home in homes:
        if home.flat is None:
            continue
        loop = flat.openings[home.flat]
        for bend, far in ((home.leg - 1, 0), (home.leg, 1)):
            if 0 <= bend < len(ends) and _ends_on(loop, ends[bend][far]):
                past.setdefault((profile.openings[home.opening].entry, bend), []).append(home.opening)
    return tuple(_clipped(profile, flat.bends[bend], items) for (_, bend), items in past.items())


def _ends_on(loop: Loop, x: float) -> bool:
    return any(
        isinstance(p, Line) and p.length > SHORT and max(abs(p.start[0] - x), abs(p.end[0] - x)) < ON_LINE for p in loop
    )


def _clipped(profile: Profile, bend: Bend, items: Sequence[int]) -> Finding:
    first = profile.openings[items[0]]
    many = f", and {len(items) - 1} more of its row," if len(items) > 1 else ""
    text = (
        f"{called(profile, first)}{many} reaches past bend {bend.label} and is cut off at its far tangent line: "
        "an opening takes metal of the legs that it names and of the bends beside these"
    )
    remedy = "name the leg beyond in through, or make the rest of it an opening of that leg, or a cut by a box"
    return Finding("FG109", "caution", first.where or profile.path, text, remedy)


def cut_findings(profile: Profile, found: Trace) -> tuple[Finding, ...]:
    """A note for each ``[[cut]]`` without ``legs`` that takes metal of other legs than its own.

    Parameters
    ----------
    profile : Profile
        The part, [-]
    found : Trace
        Its formed section, [mm]

    Returns
    -------
    tuple[Finding, ...]
        Notes (FG120), [-]
    """
    free = [c for c in profile.cuts if c.legs is None]
    if not free:
        return ()
    shapes = [np.asarray(s.exterior.coords) for s in elements(found, profile.thickness)]
    stock = Stock(profile, found, formed_solid(found, profile.length).wrapped, shapes)
    points = np.vstack(shapes)
    size = math.dist(points.min(axis=0), points.max(axis=0)) + profile.length
    told = []
    for cut in free:
        spot = spot_of(profile, found, cut.place)
        reach = 4 * (size + math.hypot(*spot) + abs(cut.above)) + cut.diameter
        tool = cut_tool(cut, stock.frame(cut.place.leg), spot, reach)
        met = [
            n
            for n in range(len(profile.legs))
            if n != cut.place.leg and tool is not None and _takes(stock, tool, 2 * n)
        ]
        if met:
            names = ", ".join(profile.leg_text(n) for n in met)
            text = f"{called(profile, cut)} takes metal of {names} too"
            told.append(Finding("FG120", "note", cut.where or profile.path, text, "name the legs it is for in legs"))
    return tuple(told)


def _takes(stock: Stock, tool: object, element: int) -> bool:
    return math.fsum(mass(c)[0] for c in shared(tool, stock.solids([element]))) > CHIP
