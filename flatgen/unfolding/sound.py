"""Whether the faces and edges of a solid agree with one another: a stranger's file may be damaged in its numbers only.

Asked when a check fails, to tell a fault of the file from a fault of ours.
"""

from __future__ import annotations

import numpy as np

from flatgen.core.errors import Fault
from flatgen.unfolding.sheet import Cylinder, Free, Plane, Shell, Vector, spots
from flatgen.unfolding.skins import describe

OFF = 1e-3
"""Edges farther from their faces, or from one another where they should meet, contradict them [mm]."""
AREA = 1e-6
"""Areas within edges, and of the face by the kernel, that differ by a larger share contradict one another."""
REMEDY = "let the program that made it check and mend the solid, and write the file again"


def contradiction(shell: Shell) -> Fault | None:
    """The first contradiction between faces and edges that is found, or None.

    Parameters
    ----------
    shell : Shell

    Returns
    -------
    Fault or None
        FG044, naming the face.
    """
    for number in range(len(shell.faces)):
        said = _off_surface(shell, number) or _open(shell, number) or _other_area(shell, number)
        if said:
            return Fault("FG044", describe(shell, number), said, REMEDY)
    return None


def _off_surface(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    surface = face.surface
    if not isinstance(surface, Plane | Cylinder):
        return ""
    shares = np.array((0.0, 0.37, 0.5, 0.81))
    points = np.concatenate([spots(shell.half_edges[h].curve, shares) for wire in face.wires for h in wire])
    arms = points - surface.origin
    if isinstance(surface, Plane):
        off: Vector = np.abs(arms @ surface.normal)
    else:
        off = np.abs(np.linalg.norm(arms - np.outer(arms @ surface.axis, surface.axis), axis=1) - surface.radius)
    return f"an edge of it lies {off.max():.3f} mm off the face" if off.max() > OFF else ""


def _open(shell: Shell, number: int) -> str:
    for half in (h for wire in shell.faces[number].wires for h in wire):
        here = shell.half_edges[half]
        gap = float(np.linalg.norm(here.curve.at(1.0) - shell.half_edges[here.following].curve.at(0.0)))
        if gap > OFF:
            return f"its edges do not meet: a gap of {gap:.3f} mm"
    return ""


def _other_area(shell: Shell, number: int) -> str:
    face = shell.faces[number]
    curves = [shell.half_edges[h].curve for wire in face.wires for h in wire]
    if not isinstance(face.surface, Plane) or any(isinstance(c, Free) for c in curves):
        return ""
    within = float(shell.rough_areas[number])
    if abs(within - face.area) > AREA * max(face.area, 1.0):
        return f"its edges enclose {within:.3f} mm2, the face has {face.area:.3f} mm2"
    return ""
