"""Wall groups: what hangs on the two skins of a sheet, and whether it rises from them or goes down.

wall group    faces that are no skin and hang together
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatgen.unfolding.sheet import Cylinder, Other, Shell, cross, edges_of, heading
from flatgen.unfolding.skins import Skins


@dataclass(frozen=True)
class Group:
    """A wall group: its faces, and the skin's half-edges that it meets, for either side."""

    faces: frozenset[int]
    meets: tuple[tuple[int, ...], tuple[int, ...]]

    @property
    def sides(self) -> tuple[int, ...]:
        return tuple(n for n in (0, 1) if self.meets[n])


def wall_groups(shell: Shell, skins: Skins) -> list[Group]:
    """All wall groups."""
    twins = shell.twins
    near, far = skins.sides
    seen = set(near | far)
    groups = []
    for start in range(len(shell.faces)):
        if start in seen:
            continue
        faces, todo = {start}, [start]
        meets: tuple[list[int], list[int]] = ([], [])
        while todo:
            face = todo.pop()
            for half in (h for h in edges_of(shell.faces[face]) if h in twins):
                other = shell.half_edges[twins[half]].face
                if other in near or other in far:
                    meets[0 if other in near else 1].append(twins[half])
                elif other not in faces:
                    faces.add(other)
                    todo.append(other)
        seen |= faces
        groups.append(Group(frozenset(faces), (tuple(meets[0]), tuple(meets[1]))))
    return groups


def is_outer(shell: Shell, half: int) -> bool:
    """Whether a half-edge is on the outer wire of its face."""
    return half in shell.outer_halves


def rises(shell: Shell, half: int) -> bool:
    """Whether the wall at a skin's half-edge rises out of the sheet, instead of going down into the metal."""
    if half not in shell.rising:
        shell.rising[half] = _rises(shell, half)
    return shell.rising[half]


def _rises(shell: Shell, half: int) -> bool:
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    surface = shell.faces[there.face].surface
    if isinstance(surface, Other) and surface.kind.startswith("bspline"):  # a cut edge, mostly; its normal takes long
        return _curls_up(shell, half)
    middle = here.curve.at(0.5)
    into = cross(shell.normal_at(there.face, middle), heading(there.curve))
    size = math.sqrt(float(into @ into))
    lift = float(into @ shell.normal_at(here.face, middle)) / size if size else 0.0
    return lift > 0 if abs(lift) > 1e-3 else _curls_up(shell, half)


def _curls_up(shell: Shell, half: int) -> bool:
    """Of a wall that goes on smoothly, or is neither flat nor round: whether its own corners lie above the skin."""
    here, there = shell.half_edges[half], shell.half_edges[shell.twins[half]]
    points = np.vstack([shell.ring(w) for w in shell.faces[there.face].wires])
    surface = shell.faces[here.face].surface
    if isinstance(surface, Cylinder):
        arms = points - surface.origin
        arms = arms - np.outer(arms @ surface.axis, surface.axis)
        heights = (np.linalg.norm(arms, axis=1) - surface.radius) * (1.0 if surface.convex else -1.0)
    else:
        middle = here.curve.at(0.5)
        heights = (points - middle) @ shell.normal_at(here.face, middle)
    return float(np.mean(heights)) > 0


def is_tube(shell: Shell, group: Group) -> bool:
    """Whether a group stands on the sheet about an opening, all round."""
    return any(in_tube(shell, h) for meets in group.meets for h in meets if rises(shell, h))


def in_tube(shell: Shell, half: int) -> bool:
    wire = next(w for w in shell.faces[shell.half_edges[half].face].wires if half in w)
    return not is_outer(shell, half) and all(h in shell.twins and rises(shell, h) for h in wire)
