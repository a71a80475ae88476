"""The formed section extruded along +y, whole or some elements of it (leg 0, bend 1, leg 2, ...)."""

from __future__ import annotations

import math
from typing import Any

from flatgen.core.flat_pattern import Point
from flatgen.definition.section import BendTrace, LegTrace, Trace


def formed_solid(found: Trace, length: float, first: int = 0, last: int | None = None) -> Any:
    """The formed part, or the elements ``first`` to ``last`` of it, as a CadQuery solid.

    Parameters
    ----------
    found : Trace
        The formed section, [mm]
    length : float
        Along the bends, [mm]
    first, last : int
        Elements at both ends; all of them by default, [-]

    Returns
    -------
    Any
        A cadquery Solid, [mm]
    """
    import cadquery as cq

    last = 2 * len(found.bends) if last is None else last
    near = [_edge(cq, found, element, 1.0) for element in range(first, last + 1)]
    far = [_edge(cq, found, element, -1.0) for element in range(first, last + 1)]
    ends = [cq.Edge.makeLine(a.startPoint(), b.startPoint()) for a, b in ((near[0], far[0]),)]
    ends += [cq.Edge.makeLine(a.endPoint(), b.endPoint()) for a, b in ((near[-1], far[-1]),)]
    wire = cq.Wire.assembleEdges([*near, ends[1], *reversed(far), ends[0]])
    return cq.Solid.extrudeLinear(cq.Face.makeFromWires(wire), cq.Vector(0.0, length, 0.0))


def _edge(cq: Any, found: Trace, element: int, sign: float) -> Any:
    """The near (+1) or far (-1) side of a leg or a bend."""
    if element % 2 == 0:
        leg = found.legs[element // 2]
        ends = (beside(leg, share, sign * found.thickness / 2) for share in (0.0, 1.0))
        return cq.Edge.makeLine(*(cq.Vector(x, 0.0, z) for x, z in ends))
    bend = found.bends[element // 2]
    radius = near_radius(bend, found.thickness) if sign > 0 else near_radius(bend, found.thickness, far=True)
    return _arc(cq, bend, radius)


def near_radius(bend: BendTrace, thickness: float, *, far: bool = False) -> float:
    """Radius of a bend on its near face, or on its far one.

    Parameters
    ----------
    bend : BendTrace
        The bend, [mm]
    thickness : float
        Thickness, [mm]
    far : bool
        Whether the far face is meant, [-]

    Returns
    -------
    float
        Its radius there, [mm]
    """
    inside = (bend.way == "up") != far
    return bend.inside_radius + (0.0 if inside else thickness)


def _arc(cq: Any, bend: BendTrace, radius: float) -> Any:
    points = (bend.at(share, radius) for share in (0.0, 0.5, 1.0))
    return cq.Edge.makeThreePointArc(*(cq.Vector(x, 0.0, z) for x, z in points))


def beside(leg: LegTrace, share: float, offset: float) -> Point:
    """A point at a share of a leg, ``offset`` to the left of its mid-surface.

    Parameters
    ----------
    leg : LegTrace
        The leg, [mm]
    share : float
        0 where it begins, 1 where it ends, [-]
    offset : float
        Toward the near side, [mm]

    Returns
    -------
    Point
        (x, z), [mm]
    """
    a = math.radians(leg.heading)
    x, z = leg.start
    run = leg.length * share
    return (x + run * math.cos(a) - offset * math.sin(a), z + run * math.sin(a) + offset * math.cos(a))
