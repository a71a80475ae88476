"""Forms that are pressed out of a sheet: dimples, louvres, collars. They stretch it, and no flat unfolds from them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatgen.unfolding.groups import Group, is_outer, rises
from flatgen.unfolding.sheet import Cylinder, Other, Plane, Shell, is_smooth
from flatgen.unfolding.skins import same_axis


def is_form(shell: Shell, group: Group) -> bool:
    """Whether a group that reaches both skins is a form that is cut open, such as a louvre."""
    for meets in group.meets:
        if any(is_outer(shell, h) for h in meets):
            continue
        if len({rises(shell, h) for h in meets}) == 2:
            return True
    return _is_collar(shell, group)


def _is_collar(shell: Shell, group: Group) -> bool:
    """Whether a tube is drawn out of the sheet: the metal flows into it round on the other side."""
    if not all(group.meets) or any(is_outer(shell, h) for meets in group.meets for h in meets):
        return False
    for one, two in (group.meets, group.meets[::-1]):
        if all(rises(shell, h) for h in one):
            return all(is_smooth(shell, h, shell.half_edges[shell.twins[h]].face) for h in two)
    return False


def facing_forms(shell: Shell, lone: Sequence[Group], thickness: float) -> list[list[Group]]:
    """Pairs of one-sided groups that lie before one another: one rises, the other goes down."""
    above = [g for g in lone if g.sides == (0,)]
    below = [g for g in lone if g.sides == (1,)]
    found, used = [], set()
    for one in above:
        for two in below:
            if id(two) in used or rises(shell, one.meets[0][0]) == rises(shell, two.meets[1][0]):
                continue
            if _one_thickness(shell, one, two, thickness) and _before(shell, one.meets[0], two.meets[1]):
                used.add(id(two))
                found.append([one, two])
                break
    return found


def _one_thickness(shell: Shell, one: Group, two: Group, thickness: float) -> bool:
    """Whether two groups are one thickness apart, as what is pressed out of a sheet is, or are free forms both.

    By their flats that look away from each other, where there are any; else by their round faces.
    """
    sides = [[shell.faces[f].surface for f in sorted(g.faces)] for g in (one, two)]
    if all(any(isinstance(s, Other) and s.kind != "cone" for s in side) for side in sides):
        return True
    flats = [
        abs(float((b.origin - a.origin) @ a.normal))
        for a in sides[0]
        for b in sides[1]
        if isinstance(a, Plane) and isinstance(b, Plane) and a.normal @ b.normal < -1 + 1e-6
    ]
    rounds = [
        abs(a.radius - b.radius)
        for a in sides[0]
        for b in sides[1]
        if isinstance(a, Cylinder) and isinstance(b, Cylinder) and same_axis(a, b, shell)
    ]
    return any(abs(gap - thickness) < 0.05 * thickness for gap in flats or rounds)


def _before(shell: Shell, one: Sequence[int], two: Sequence[int]) -> bool:
    """Whether two rims lie before one another, seen along the skin's normal."""
    import shapely

    normal = shell.normal_at(shell.half_edges[one[0]].face, shell.half_edges[one[0]].curve.at(0.5))
    u = np.cross(np.eye(3)[int(np.argmin(np.abs(normal)))], normal)
    basis = np.column_stack((u, np.cross(normal, u)))
    rims = [shapely.MultiPoint(shell.ring(tuple(r)) @ basis).convex_hull for r in (one, two)]
    heights = [float(np.mean(shell.ring(tuple(r)) @ normal)) for r in (one, two)]
    near_enough = abs(heights[0] - heights[1]) < 2 * math.sqrt(max(r.area for r in rims)) + 1.0
    return bool(near_enough and rims[0].intersection(rims[1]).area > 0.05 * min(r.area for r in rims))
