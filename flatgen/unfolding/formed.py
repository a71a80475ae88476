"""A formed part that somebody else modelled: what is asked of it, second chances for small faults, and its flat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatgen.errors import Fault, Finding, FlatgenError, InputRefused
from flatgen.flat import FlatPattern, Loop
from flatgen.rule import Rule
from flatgen.unfolding.assemble import Developed, develop_sides, upward_trees
from flatgen.unfolding.chart import trail
from flatgen.unfolding.edges import told_of
from flatgen.unfolding.faces import loop_of
from flatgen.unfolding.features import clear
from flatgen.unfolding.identities import check_identities, largest_miss
from flatgen.unfolding.orient import counted
from flatgen.unfolding.pairing import Pairing
from flatgen.unfolding.read import is_sound, kernel_solid, read_shell
from flatgen.unfolding.rounding import rounded, sharpened
from flatgen.unfolding.sharp import Corner, nearly_sharp, sharp_corners, with_inner_faces
from flatgen.unfolding.sheet import CLOSE, LOOSE, Plane, Shell, Slack, Vector
from flatgen.unfolding.skins import Skins, describe, find_skins
from flatgen.unfolding.sound import REMEDY, contradiction
from flatgen.unfolding.tree import Tree, grow_tree

WAYS = {a: np.array(v) for a, v in (("x", (1.0, 0.0, 0.0)), ("y", (0.0, 1.0, 0.0)), ("z", (0.0, 0.0, 1.0)))}
TOLD = 1e-3
"""Refolded within this of the solid, nothing is said of it [mm]."""


@dataclass(frozen=True)
class Wish:
    """How a part is to be unfolded.

    ``near`` is ``auto``, a direction (``+x``, ``-x``, ...) that the near face looks along, or the number of a face
    as messages call it. ``inside_radius`` [mm] is what corners modelled sharp will be bent to. ``skip_formed``
    unfolds the sheet around stretched forms instead of refusing them.
    """

    near: str = "auto"
    inside_radius: float | None = None
    skip_formed: bool = False


@dataclass(frozen=True)
class Formed:
    """The lettered flat, what is to be told of it, and the kernel's shape that it was made from."""

    flat: FlatPattern
    findings: tuple[Finding, ...]
    shape: Any


def unfold_formed(shape: Any, rule_for: Callable[[float], Rule], wish: Wish | None = None) -> Formed:
    """Unfold one solid that somebody else modelled.

    Parameters
    ----------
    shape : cadquery Workplane or Shape, or a kernel shape
        One solid.
    rule_for : callable
        The rule of allowances for the thickness that was found [mm].
    wish : Wish, optional

    Raises
    ------
    InputRefused
        FG040 to FG042, FG044 to FG046: no sheet, not developable, a flat that overlaps itself, faulty geometry.
    IdentityFailed
        FG901 to FG904: flat and solid disagree, a bug.
    """
    wish = wish or Wish()
    shape = kernel_solid(shape)
    shell = read_shell(shape, CLOSE)
    try:
        return _unfolded(shell, shape, rule_for, wish)
    except FlatgenError as error:
        return _once_more(shell, shape, rule_for, wish, error)


def _once_more(shell: Shell, shape: Any, rule_for: Callable[[float], Rule], wish: Wish, first: FlatgenError) -> Formed:
    """Second chances: surfaces that are planes or cylinders written otherwise, then small faults."""
    plain = shell.recognised()
    tries = [] if plain is shell else [plain]
    errors = [first]
    for attempt in (*tries, plain.changed(slack=LOOSE)):
        try:
            return _unfolded(attempt, shape, rule_for, wish)
        except FlatgenError as error:
            errors.append(error)
    refusals = [e for e in errors[-2::-1] if isinstance(e, InputRefused)] or errors[-1:]
    if isinstance(refusals[0], InputRefused):
        raise refusals[0]
    fault = contradiction(plain)
    if fault is None and is_sound(shape):
        raise refusals[0]
    raise InputRefused(fault or _faulty(refusals[0].faults[0]))


def _faulty(fault: Fault) -> Fault:
    text = f"the kernel finds it faulty, and its flat disagrees with it: {fault.text}"
    return Fault("FG044", "the solid", text, REMEDY)


def _unfolded(shell: Shell, shape: Any, rule_for: Callable[[float], Rule], wish: Wish) -> Formed:
    pairing = Pairing(shell)
    thickness = pairing.thickness()
    almost = nearly_sharp(shell, pairing, thickness) if wish.inside_radius is not None else []
    if almost:
        shape = sharpened(shape, almost)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    corners = sharp_corners(shell, pairing, thickness)
    told: tuple[Finding, ...] = ()
    if corners:
        shape, told = _rounded(shape, corners, wish.inside_radius, thickness)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    shell = with_inner_faces(shell, pairing, thickness)
    skins = find_skins(shell, thickness)
    try:
        cleared = clear(shell, skins, own=False, skip_formed=wish.skip_formed)
    except InputRefused:
        grow_tree(shell, skins, skins.sides[0])  # a closed loop of bends is the better reason
        raise
    shell = cleared.shell
    made = develop_sides(shell, skins, _sides(shell, skins, wish.near), rule_for(thickness), cleared.groups)
    flat = check_identities(made.flat, made, shell)
    flat = replace(flat, forms=tuple(_marked_loop(made, wire) for wire in cleared.marked))
    broken, flat = told_of(made.edges, flat, shell, made.near.charts | made.far.charts, made.move)
    findings = told + broken + cleared.findings + _a_little_off(shell.slack, flat, made)
    return Formed(counted(flat), findings, shape)


def _rounded(
    shape: Any, corners: Sequence[Corner], radius: float | None, thickness: float
) -> tuple[Any, tuple[Finding, ...]]:
    """The solid with its sharp corners rounded as asked.

    Raises
    ------
    InputRefused
        FG046 where no radius was asked for, or the kernel cannot.
    """
    place = ", ".join(f"{axis} {c:.2f}" for axis, c in zip("xyz", corners[0].place, strict=True))
    many = f"{len(corners)} corners are" if len(corners) > 1 else "a corner is"
    if radius is None:
        text = f"{many} modelled sharp inside and outside, the first of {corners[0].angle:.1f} deg at {place}"
        remedy = "say with --inside-radius what radius it will be bent to: the file does not"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    text = f"{many} modelled sharp; bent to an inside radius of {radius:g} mm, outside sizes kept"
    finding = Finding("FG124", "note", "the solid", text, "check that the drawing's sizes are those to the outside")
    return rounded(shape, corners, radius, thickness), (finding,)


def _a_little_off(slack: Slack, flat: FlatPattern, made: Developed) -> tuple[Finding, ...]:
    missed = largest_miss(flat, made) if slack is LOOSE else 0.0
    if missed < TOLD:
        return ()
    text = f"faces of the solid are a little off: the flat folded up again lies within {missed:.3f} mm of it"
    return (Finding("FG121", "note", "the solid", text, f"faces may be off by {slack.length:g} mm, no more"),)


def _marked_loop(made: Developed, wire: tuple[int, ...]) -> Loop:
    """The outline of a form on a skin's face, in the flat, counter-clockwise."""
    shell = made.near.shell
    face = shell.half_edges[wire[0]].face
    chart = made.near.charts.get(face) or made.far.charts[face]
    loop = loop_of([trail(chart, shell.half_edges[h].curve) for h in wire]).moved(made.move)
    return loop if loop.signed_area > 0 else loop.reversed()


def _sides(shell: Shell, skins: Skins, near: str) -> list[Tree]:
    """The trees to choose from: one for each side that may be near.

    Raises
    ------
    InputRefused
        FG045 where there is no such side.
    """
    if near == "auto":
        return upward_trees(shell, skins)
    trees = [grow_tree(shell, skins, side) for side in skins.sides]
    if near[:1] in "+-" and near[1:] in WAYS:
        return [_looking(trees, WAYS[near[1:]] * (1.0 if near[0] == "+" else -1.0), near)]
    number = int(near) - 1 if near.isascii() and near.isdigit() else -1
    found = [t for t in trees if number in t.near]
    if not found:
        raise InputRefused(_no_side(shell, number, near))
    return found


def _looking(trees: list[Tree], way: Vector, near: str) -> Tree:
    """The side whose largest flat that does not stand edge-on looks along a direction."""
    tree = trees[0]
    for plane in [tree.planes[tree.root], *tree.planes]:
        lean = float(plane.normal @ way)
        if abs(lean) > 1e-6:
            return trees[0] if lean > 0 else trees[1]
    text = f"no flat of the part looks along {near} or away from it: all stand edge-on"
    raise InputRefused(Fault("FG045", "--near", text, "name another direction, or a face of the side to look at"))


def _no_side(shell: Shell, number: int, near: str) -> Fault:
    if 0 <= number < len(shell.faces):
        kind = "flat face" if isinstance(shell.faces[number].surface, Plane) else "face"
        text = f"{describe(shell, number)} is a {kind} of a cut edge, not of a side of the sheet"
    else:
        text = f"{near} is none of auto, +x, -x, +y, -y, +z, -z, or the number of a face from 1 to {len(shell.faces)}"
    return Fault("FG045", "--near", text, "name a direction, or a face of the side to look at")
