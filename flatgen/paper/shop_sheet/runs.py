"""How far metal runs across a flat, from one bend to where somebody can put a jaw or a rule: to the next bend that is
made, or to a free edge. For any tree of legs, while some bends are made and others are still flat.

run        the straight way across a leg, and on over bends that are not made, on one side of a bend
stop       the made bend that ends a run; a run without one ends with a free edge

Millimetres. All places are those of the flat, where what is not bent lies as it is.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

from flatgen.brake.creases import creases_of_flat
from flatgen.core.flat_pattern import FlatPattern, Line, Point, legs_of
from flatgen.core.schedule import Crease, Which
from flatgen.definition.model import Profile
from flatgen.definition.part import Part

PARALLEL = 1e-9
"""Bends whose directions differ by less run alike."""
SAME = 1e-3
"""Places that differ by less are one [mm]."""
EVEN = 0.8
"""Share of a bend's extent over which an edge must run beside it to be called straight there."""


@dataclass(frozen=True)
class Runs:
    """A flat whose runs are asked for: its bends, in their order, and points of the metal of each leg [mm]."""

    creases: tuple[Crease, ...]
    metal: tuple[tuple[Point, ...], ...]

    def crease(self, label: str) -> Crease:
        """Bend of a label."""
        return next(c for c in self.creases if c.label == label)


@dataclass(frozen=True)
class Run:
    """``length`` [mm] from a bend's tangent line to ``stop``'s, or to a free edge where that is None.

    ``even`` is False where the edge does not run beside the bend, so that the run is the longest place. ``chain`` are
    the bends straight across that are crossed, none of them made; ``last`` is the leg behind them.
    """

    length: float
    stop: Crease | None
    even: bool
    chain: tuple[Crease, ...]
    last: int


def runs_of(part: Part, flat: FlatPattern) -> Runs:
    """What the runs of a flat are found from.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]

    Returns
    -------
    Runs
        Legs counted as the part counts them, [mm]
    """
    panels = legs_of(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    metal = []
    for panel in panels:
        loops = [r.outline for r in flat.panels[panel].regions]
        corners = [p for loop in loops for p in loop.points(SAME)]
        metal.append((*corners, *(p.at(0.5) for loop in loops for p in loop if isinstance(p, Line))))
    return Runs(creases_of_flat(part, flat), tuple(metal))


def run(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> Run | None:
    """The run on one side of a bend.

    Parameters
    ----------
    runs : Runs
        Of the flat, [mm]
    crease : Crease
        The bend, [mm]
    which : Which
        Its side, [-]
    made : Set[str]
        Labels of the bends that are made, [-]

    Returns
    -------
    Run | None
        None where neither a free edge nor a parallel bend ends it, [mm]
    """
    legs = _together(runs, crease, which, made)
    stops = [c for c in runs.creases if c.label in made and _end_beside(crease, c, which, legs)]
    tangent = crease.side(which).tangent
    sign = 1.0 if which == "second" else -1.0
    if stops:
        stop = max(stops, key=lambda c: (round(_overlap(crease, c), 3), -abs(_near(c, which) - tangent)))
        return Run(max(sign * (_near(stop, which) - tangent), 0.0), stop, True, *_chain(runs, crease, which, made))
    walls = [c for c in runs.creases if c.label in made and c is not crease and {c.first.leg, c.second.leg} & legs]
    return _to_edge(runs, crease, which, made, legs, walls)


def following(runs: Runs, crease: Crease, which: Which, leg: int) -> Crease | None:
    """The bend at the other end of a leg, straight across from a bend.

    Parameters
    ----------
    runs : Runs
        Of the flat, [mm]
    crease : Crease
        The bend, [mm]
    which : Which
        The side that the leg lies on, [-]
    leg : int
        Index of the leg, [-]

    Returns
    -------
    Crease | None
        Of several the one that overlaps most; None where the leg ends without a bend, [mm]
    """
    found = [c for c in runs.creases if _end_beside(crease, c, which, {leg})]
    return max(found, key=lambda c: round(_overlap(crease, c), 3), default=None)


def _to_edge(
    runs: Runs, crease: Crease, which: Which, made: Set[str], legs: Set[int], walls: list[Crease]
) -> Run | None:
    """Run to the farthest metal, if that is a free edge."""
    (u, v), sign, tangent = crease.across, 1.0 if which == "second" else -1.0, crease.side(which).tangent
    places = [(sign * (p[0] * u + p[1] * v - tangent), p) for leg in legs for p in runs.metal[leg]]
    if not places:
        return Run(0.0, None, True, *_chain(runs, crease, which, made))
    most = max(place for place, _ in places)
    there = [p for place, p in places if place > most - SAME]
    if all(any(_on_tangent(w, p) for w in walls) for p in there):
        return None
    alongs = [p[1] * u - p[0] * v for p in there]
    even = max(alongs) - min(alongs) >= EVEN * crease.extent
    return Run(max(most, 0.0), None, even, *_chain(runs, crease, which, made))


def _together(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> set[int]:
    """Legs that still lie in one plane with the leg on one side of a bend."""
    found = {crease.side(which).leg}
    todo = list(found)
    while todo:
        here = todo.pop()
        for other in runs.creases:
            ends = {other.first.leg, other.second.leg}
            if other is not crease and other.label not in made and here in ends:
                todo += ends - found
                found |= ends
    return found


def _chain(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> tuple[tuple[Crease, ...], int]:
    """Bends straight across that are not made, up to one that is, and the leg behind the last."""
    leg, found = crease.side(which).leg, []
    here = following(runs, crease, which, leg)
    while here is not None and here.label not in made:
        found.append(here)
        leg = here.side(which).leg
        here = following(runs, here, which, leg)
    return tuple(found), leg


def _end_beside(crease: Crease, other: Crease, which: Which, legs: Set[int]) -> bool:
    """Whether another bend runs beside one, on that side, at the end of one of some legs."""
    if other is crease or _turned(crease, other):
        return False
    near = other.first if which == "second" else other.second
    beyond = (near.tangent - crease.side(which).tangent) * (1.0 if which == "second" else -1.0)
    return near.leg in legs and beyond >= -SAME and _overlap(crease, other) > SAME


def _near(crease: Crease, which: Which) -> float:
    """Tangent line of a bend that looks back, where it is come upon on the way to a side."""
    return (crease.first if which == "second" else crease.second).tangent


def _turned(one: Crease, other: Crease) -> bool:
    return one.across[0] * other.across[0] + one.across[1] * other.across[1] < 1 - PARALLEL


def _overlap(one: Crease, other: Crease) -> float:
    """How far two bends that run alike lie beside one another; without a flat all of it."""
    if one.ends is None or other.ends is None:
        return min(one.extent, other.extent)
    u, v = one.across
    spans = [sorted(y * u - x * v for x, y in c.ends) for c in (one, other) if c.ends is not None]
    return min(s[1] for s in spans) - max(s[0] for s in spans)


def _on_tangent(wall: Crease, point: Point) -> bool:
    """Whether a point lies on a tangent line of a bend."""
    if wall.ends is None:
        return False
    (u, v), (x, y) = wall.across, point
    away = x * u + y * v
    along = sorted(q * u - p * v for p, q in wall.ends)
    beside = along[0] - SAME <= y * u - x * v <= along[1] + SAME
    return beside and min(abs(away - wall.first.tangent), abs(away - wall.second.tangent)) < SAME
