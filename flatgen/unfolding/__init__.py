"""From a formed solid to a flat pattern. Knows nothing of profile definitions.

read        kernel solid -> plain data             recognise   B-splines that are planes, cylinders, lines, circles
pairing     faces opposite one another             skins       thickness, the two sides
features    bosses, pockets, forms                 tree        panels, bend zones, joints
develop     frames, exact development of edges     assemble    loops, FlatPattern, its orientation
identities  the checks that always run             formed      parts of others: second chances, letters
"""

from __future__ import annotations

from typing import Any

from flatgen.core.flat_pattern import Axis, BendAllowance, FlatPattern, Rule, View
from flatgen.unfolding.assemble import develop
from flatgen.unfolding.features import clear
from flatgen.unfolding.identities import check_identities
from flatgen.unfolding.read import read_shell
from flatgen.unfolding.skins import find_skins

__all__ = ["Axis", "BendAllowance", "Rule", "View", "unfold"]


def unfold(solid: Any, rule: Rule, *, thickness: float | None = None, view: View | None = None) -> FlatPattern:
    """The flat pattern of one formed solid of our own, checked against it.

    :param solid: cadquery Workplane or Shape, or a kernel shape
    :param rule: ``rule(axis, inside_radius [mm], angle [deg])`` gives each bend's allowance.
    :param thickness: found where it is not given [mm]
    :param view: which side is near, and where x runs; else the rules of the house decide.
    :raises InputRefused: FG040 to FG042: no sheet, not developable, or a flat that overlaps itself.
    :raises IdentityFailed: FG901 to FG903: flat and solid disagree, a bug.
    """
    shell = read_shell(solid)
    skins = find_skins(shell, thickness)
    made = develop(clear(shell, skins, own=True).shell, skins, rule, view)
    return check_identities(made.flat, made, made.near.shell)
