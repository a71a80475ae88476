"""The bends of a blank as the brake sees them: from a definition by arithmetic alone, or from any flat.

The first side of a crease is the left one (the lower one where the bend runs across). A definition's creases are
the same both ways; a test says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from flatgen.core.flat_pattern import Bend, FlatPattern, Point, legs_of
from flatgen.core.schedule import Crease, Side
from flatgen.definition.closed_form import Closed
from flatgen.definition.model import Profile
from flatgen.definition.part import Part

SQUARE = 1e-9
"""A direction whose other component is smaller runs along an axis."""
FINE = 0.001
"""Arcs of an outline are followed as closely as this [mm]."""


def creases_of_profile(profile: Profile, closed: Closed) -> tuple[Crease, ...]:
    """Creases of a chain by arithmetic; cuts are not seen.

    Parameters
    ----------
    profile : Profile
        The part, a chain, [mm]
    closed : Closed
        Its development, [mm]

    Returns
    -------
    tuple[Crease, ...]
        In the order of its bends, [mm]
    """
    found = []
    for n, (bend, (low, high)) in enumerate(zip(profile.bends, closed.zones, strict=True)):
        first = Side(n, low, closed.flats[n], low)
        second = Side(n + 1, high, closed.flats[n + 1], closed.width - high)
        found.append(
            Crease(
                label=bend.label,
                angle=bend.angle,
                way=bend.way,
                inside_radius=bend.inside_radius,
                allowance=bend.allowance.length,
                length=profile.length,
                extent=profile.length,
                first=first,
                second=second,
                hold=bend.hold,
                where=bend.where,
            )
        )
    return tuple(found)


def creases_of_flat(part: Part, flat: FlatPattern) -> tuple[Crease, ...]:
    """Creases of any flat, trees too, from where its metal lies.

    Parameters
    ----------
    part : Part
        The part of the flat; gives labels and legs to hold, [-]
    flat : FlatPattern
        Its bends in the order of the part's, [mm]

    Returns
    -------
    tuple[Crease, ...]
        In the order of the flat's bends, [mm]
    """
    panels = legs_of(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    leg_of = {panel: leg for leg, panel in enumerate(panels)}
    metal = [[p for r in panel.regions for p in r.outline.points(FINE)] for panel in flat.panels]
    found = []
    for bend, spec in zip(flat.bends, part.bends, strict=True):
        crease = _crease(flat, bend, leg_of, metal)
        found.append(replace(crease, label=spec.label, hold=spec.hold, where=spec.where))
    return tuple(found)


def _crease(flat: FlatPattern, bend: Bend, leg_of: dict[int, int], metal: list[list[Point]]) -> Crease:
    x, y = bend.across
    turned = x < -SQUARE or (abs(x) <= SQUARE and y < 0)  # the first side is the left one, else the lower
    across = (-x, -y) if turned else (x, y)
    left, right = (bend.second, bend.first) if turned else (bend.first, bend.second)
    low = _along(bend.origin, across) - (bend.allowance if turned else 0.0)
    high = low + bend.allowance
    behind = _beyond(flat, bend, left)
    sides = []
    for panel, group, tangent, sign in (
        (left, behind, low, -1.0),
        (right, set(range(len(flat.panels))) - behind, high, 1.0),
    ):
        own = _farthest(metal[panel], across, sign, tangent)
        whole = _farthest((p for n in group for p in metal[n]), across, sign, tangent)
        sides.append(Side(leg_of[panel], tangent, own, whole))
    start, end = bend.centre
    extent = abs(_along(end, bend.along) - _along(start, bend.along))
    return Crease(
        label=bend.label,
        angle=bend.angle,
        way=bend.way,
        inside_radius=bend.inside_radius,
        allowance=bend.allowance,
        length=bend.length,
        extent=extent,
        first=sides[0],
        second=sides[1],
        across=across,
        ends=bend.centre,
        datum=_datum(across),
    )


def _datum(across: Point) -> str:
    if abs(across[1]) <= SQUARE:
        return "left edge"
    return "lower edge" if abs(across[0]) <= SQUARE else "lower left corner"


def _along(point: Point, way: Point) -> float:
    return point[0] * way[0] + point[1] * way[1]


def _farthest(points: Iterable[Point], across: Point, sign: float, tangent: float) -> float:
    """How far metal reaches beyond a tangent line; 0 where a bare panel has none."""
    return max((sign * (_along(p, across) - tangent) for p in points), default=0.0)


def _beyond(flat: FlatPattern, bend: Bend, start: int) -> set[int]:
    """Panels on one side of a bend."""
    found, todo = {start}, [start]
    while todo:
        here = todo.pop()
        for other in flat.bends:
            if other is not bend and here in (other.first, other.second):
                there = other.second if other.first == here else other.first
                if there not in found:
                    found.add(there)
                    todo.append(there)
    return found
