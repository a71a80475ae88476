"""Openings made without a boolean: wires added to the two skin faces of a leg, and walls between them.

Only for openings that lie wholly on one near and one far face, clear of everything else; then the solid that
results is exact, and its making takes time in proportion to the number of openings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from flatgen.core.flat_pattern import Loop, Matrix
from flatgen.definition.solid.tools import direction, wire_of


@dataclass(frozen=True)
class Hole:
    """A clockwise ``loop`` in the frame ``place`` of a leg, and the indices of the faces it goes through."""

    place: Matrix
    loop: Loop
    near: int
    far: int


def faces_of(solid: Any) -> list[Any]:
    """The kernel faces of a solid, looking outward."""
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    explorer, faces = TopExp_Explorer(solid, TopAbs_FACE), []
    while explorer.More():
        faces.append(TopoDS.Face_s(explorer.Current()))
        explorer.Next()
    return faces


def pierced(solid: Any, holes: Iterable[Hole], thickness: float) -> Any:
    """A solid with holes through its faces.

    Parameters
    ----------
    solid : Any
        A kernel solid, [mm]
    holes : Iterable[Hole]
        Faces are counted as ``faces_of`` lists them, [mm]
    thickness : float
        Thickness, [mm]

    Returns
    -------
    Any
        A kernel solid, [mm]
    """
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    faces = faces_of(solid)
    wires: dict[int, list[Any]] = {}
    walls: list[Any] = []
    for hole in holes:
        near, far, around = _bored(hole, thickness)
        wires.setdefault(hole.near, []).append(near)
        wires.setdefault(hole.far, []).append(far)
        walls += around
    for index, added in wires.items():
        faces[index] = _with_wires(faces[index], added)
    build, shell, made = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    build.MakeShell(shell)
    for face in (*faces, *walls):
        build.Add(shell, face)
    shell.Closed(True)
    build.MakeSolid(made)
    build.Add(made, shell)
    return made


def _bored(hole: Hole, thickness: float) -> tuple[Any, Any, list[Any]]:
    """Wire of the near face, wire of the far face, and walls that share their edges."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Vec
    from OCP.TopoDS import TopoDS

    near = wire_of(hole.place, hole.loop, 0.0)
    run = gp_Vec(direction(hole.place, (0.0, 0.0, 1.0))) * -thickness
    sweep = BRepPrimAPI_MakePrism(near, run)
    near = TopoDS.Wire_s(sweep.FirstShape())
    far = TopoDS.Wire_s(sweep.LastShape().Reversed())
    walls = faces_of(sweep.Shape())
    if _runs_with(walls, near):
        walls = [TopoDS.Face_s(w.Reversed()) for w in walls]
    return near, far, walls


def _runs_with(walls: list[Any], near: Any) -> bool:
    """Whether a wall uses an edge of the near wire the way the wire runs; two faces must use it both ways."""
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer

    edge = TopExp_Explorer(near, TopAbs_EDGE).Current()
    for wall in walls:
        explorer = TopExp_Explorer(wall, TopAbs_EDGE)
        while explorer.More():
            if explorer.Current().IsSame(edge):
                return bool(explorer.Current().Orientation() == edge.Orientation())
            explorer.Next()
    raise ValueError("a wall of an opening does not hold its edge")


def _with_wires(face: Any, added: list[Any]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopAbs import TopAbs_FORWARD, TopAbs_REVERSED, TopAbs_WIRE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    build = BRep_Builder()
    forward = face.Oriented(TopAbs_FORWARD)
    made = forward.EmptyCopied()
    explorer = TopExp_Explorer(forward, TopAbs_WIRE)
    while explorer.More():
        build.Add(made, explorer.Current())
        explorer.Next()
    flipped = face.Orientation() == TopAbs_REVERSED
    for wire in added:
        build.Add(made, wire.Reversed() if flipped else wire)
    return TopoDS.Face_s(made.Oriented(face.Orientation()))
