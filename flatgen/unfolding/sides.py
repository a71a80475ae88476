"""Which side of a received part is near: as wished, or by the rules of the house."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.assemble import upward_trees
from flatgen.unfolding.sheet import Cylinder, Face, Plane, Shell, Vector
from flatgen.unfolding.skins import Skins
from flatgen.unfolding.tree import Tree, grow_tree

Place: TypeAlias = tuple[Vector, Face]
WAYS = {a: np.array(v) for a, v in (("x", (1.0, 0.0, 0.0)), ("y", (0.0, 1.0, 0.0)), ("z", (0.0, 0.0, 1.0)))}
EDGE_ON = math.sin(math.radians(1.0))
"""A flat whose normal leans less toward a direction stands edge-on to it."""


def sides_wished(shell: Shell, skins: Skins, near: str, place: Place | None) -> list[Tree]:
    """The trees to choose from: one for each side that may be near.

    Parameters
    ----------
    shell, skins : the sheet
    near : str
        ``auto``, a direction such as ``+x``, or the number of a face.
    place : Place or None
        Of the face of that number, see ``place_of``.

    Raises
    ------
    InputRefused
        FG045 where there is no such side.
    """
    if near == "auto":
        return upward_trees(shell, skins)
    trees = [grow_tree(shell, skins, side) for side in skins.sides]
    if near[:1] in "+-" and near[1:] in WAYS:
        return [_looking(shell, trees, WAYS[near[1:]] * (1.0 if near[0] == "+" else -1.0), near)]
    found = [t for t in trees if place is not None and any(_holds(shell, f, place) for f in t.near)]
    if not found:
        raise InputRefused(_no_side(shell, near, place))
    return found[:1]


def place_of(shell: Shell, near: str) -> Place | None:
    """Where the face of a number lies, and its surface: its number changes when corners are rounded."""
    number = int(near) - 1 if near.isascii() and near.isdigit() else -1
    return (shell.corner(number), shell.faces[number]) if 0 <= number < len(shell.faces) else None


def _holds(shell: Shell, face: int, place: Place) -> bool:
    """Whether a face is that which lay at a place, or what is left of it."""
    point, known = place
    surface, other = shell.faces[face].surface, known.surface
    if isinstance(surface, Plane) and isinstance(other, Plane):
        level = abs(float((point - surface.origin) @ surface.normal)) < shell.slack.length
        return level and float(surface.normal @ other.normal) > 1 - shell.slack.smooth
    if not (isinstance(surface, Cylinder) and isinstance(other, Cylinder)):
        return False
    alike = abs(surface.radius - other.radius) < shell.slack.length and surface.convex == other.convex
    off = np.cross(surface.origin - other.origin, other.axis)
    return alike and float(np.linalg.norm(off)) < shell.slack.length


def _looking(shell: Shell, trees: list[Tree], way: Vector, near: str) -> Tree:
    """The side whose largest flat that does not stand edge-on looks along a direction."""
    tree = trees[0]
    sizes = [float(sum(shell.rough_areas[f] for f in panel)) for panel in tree.panels]
    for number in sorted(range(len(sizes)), key=lambda n: -sizes[n]):
        lean = float(tree.planes[number].normal @ way)
        if tree.panels[number] and abs(lean) > EDGE_ON:
            return trees[0] if lean > 0 else trees[1]
    text = f"no flat of the part looks along {near} or away from it: all stand edge-on"
    raise InputRefused(Fault("FG045", "--near", text, "name another direction, or a face of the side to look at"))


def _no_side(shell: Shell, near: str, place: Place | None) -> Fault:
    if place is not None:
        text = f"face {near} of the file is one of a cut edge, not of a side of the sheet"
    else:
        text = f"{near} is none of auto, +x, -x, +y, -y, +z, -z, or the number of a face from 1 to {len(shell.faces)}"
    return Fault("FG045", "--near", text, "name a direction, or a face of the side to look at")
