"""From a formed solid to a flat pattern. Knows nothing of profile definitions.

sheet         a solid as plain data               read        kernel solid -> that data
recognise     B-splines that are planes, cylinders, lines, circles
skins         thickness, the two sides            tree        panels, bend zones, joints
develop       frames, exact development of edges  boundaries  distances to loops, arcs fitted to curves
wall_groups   what hangs on the skins, cut edges  walls       metal that cut edges hide
features      bosses, pockets, forms              sharp       corners modelled without a radius
faces         both sides as one drawn flat        regions     panels and bends of a developed skin
assemble      FlatPattern, its orientation        identities  the checks that always run
formed        parts of others: second chances, letters; files from others are in ``received``
"""

from __future__ import annotations

from typing import Any

from flatgen.core.flat_pattern import AllowanceRule, Axis, BendAllowance, FlatPattern, View

__all__ = ["AllowanceRule", "Axis", "BendAllowance", "View", "unfold"]


def unfold(solid: Any, rule: AllowanceRule, *, thickness: float | None = None, view: View | None = None) -> FlatPattern:
    """The flat pattern of one formed solid of our own, checked against it.

    :param solid: cadquery Workplane or Shape, or a kernel shape
    :param rule: ``rule(axis, inside_radius [mm], angle [deg])`` gives each bend's allowance
    :param thickness: found where it is not given [mm]
    :param view: which side is near, and where x runs; else as the shape prefers
    :raises InputRefused: FG040 to FG042: no sheet, not developable, or a flat that overlaps itself.
    :raises IdentityFailed: FG901 to FG903: flat and solid disagree, a bug.
    """
    from flatgen.unfolding.assemble import develop
    from flatgen.unfolding.features import clear_features
    from flatgen.unfolding.identities import check_identities
    from flatgen.unfolding.read import read_shell
    from flatgen.unfolding.skins import find_skins

    shell = read_shell(solid)
    skins = find_skins(shell, thickness)
    development = develop(clear_features(shell, skins, own=True).shell, skins, rule, view)
    return check_identities(development.flat, development, development.near.shell)
