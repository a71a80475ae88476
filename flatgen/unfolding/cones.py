"""Volume of the cone from a point to a face: what a face has to do with the volume of its solid. Touches the kernel.

By hand where that is exact and quick; else by the kernel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from flatgen.unfolding.sheet import (
    STRICT,
    Circular,
    Curve,
    Cylinder,
    Free,
    Other,
    Plane,
    Shell,
    Straight,
    Vector,
    cross,
)

MEASURED = 1e-10
"""Relative error asked of the kernel for areas and volumes within curves that are neither lines nor circles."""


def volume(shell: Shell) -> float:
    """Volume of a shell by all its faces' cones [mm3], negative where they look inward."""
    apex = shell.half_edges[0].curve.at(0.0) if shell.half_edges else np.zeros(3)
    return math.fsum(cone(shell, n, apex) for n in range(len(shell.faces)))


def cone(shell: Shell, number: int, apex: Vector) -> float:
    """Volume of the cone from a point to a face [mm3], positive where the face looks away from it.

    Of flat faces within lines and circles, and of round ones within lines along and circles about their axis, by
    hand; of all else, and of our own solids, by the kernel.
    """
    face = shell.faces[number]
    assert face.swept is not None
    if shell.slack is STRICT or isinstance(face.surface, Other):
        return face.swept(apex)
    curves = [shell.half_edges[h].curve for wire in face.wires for h in wire]
    if any(isinstance(c, Free) for c in curves):
        return face.swept(apex)
    if isinstance(face.surface, Plane):
        height = float((shell.corner(number) - apex) @ face.surface.normal)
        return height * float(shell.rough_areas[number]) / 3
    area = round_area(face.surface, curves)
    if area is None:
        return face.swept(apex)
    side = face.surface.radius if face.surface.convex else -face.surface.radius
    return (side * area + float((face.surface.origin - apex) @ shell.area_vectors[number])) / 3


def round_area(surface: Cylinder, curves: Sequence[Curve]) -> float | None:
    """Area of a round face within lines along its axis and circles about it [mm2]; None where others bound it."""
    total = 0.0
    for curve in curves:
        if isinstance(curve, Circular):
            arm = curve.centre - surface.origin
            high = float(arm @ surface.axis)
            turn = float(cross(curve.u, curve.v) @ surface.axis)
            if float(np.linalg.norm(arm - high * surface.axis)) > 1e-7 or abs(turn) < 1 - 1e-12:
                return None
            total += surface.radius * high * math.copysign(curve.sweep, turn)
        elif isinstance(curve, Straight):
            along = curve.end - curve.start
            if float(np.linalg.norm(along - surface.axis * (along @ surface.axis))) > 1e-7:
                return None
    return abs(total)


def cone_by_kernel(face: Any, apex: Vector, fine: bool) -> float:
    """The same by the kernel; ``fine``: the face is within curves that it integrates only nearly unless told so."""
    from OCP.BRepGProp import BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
    from OCP.gp import gp_Pnt

    asked = (BRepGProp_Face(face), BRepGProp_Domain(face), gp_Pnt(*(float(c) for c in apex)))
    return float((BRepGProp_Vinert(*asked, MEASURED) if fine else BRepGProp_Vinert(*asked)).Mass())
