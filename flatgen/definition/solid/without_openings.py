"""A kernel shape without openings that a view cannot show: fewer edges to hide. Used by ``projection`` only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

Triple = tuple[float, float, float]


class _Faces:
    """Faces, wires and edges of a shape by number."""

    def __init__(self, shape: Any) -> None:
        from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_WIRE
        from OCP.TopoDS import TopoDS
        from OCP.TopTools import TopTools_IndexedMapOfShape

        edges = TopTools_IndexedMapOfShape()
        self.faces = [TopoDS.Face_s(f) for f in _explored(shape, TopAbs_FACE)]
        self.wires: list[list[tuple[Any, frozenset[int]]]] = []
        self.at: dict[int, set[tuple[int, int]]] = defaultdict(set)
        for number, face in enumerate(self.faces):
            wires = []
            for place, wire in enumerate(_explored(face, TopAbs_WIRE)):
                own = frozenset(edges.Add(e) for e in _explored(wire, TopAbs_EDGE))
                wires.append((TopoDS.Wire_s(wire), own))
                for edge in own:
                    self.at[edge].add((number, place))
            self.wires.append(wires)


def without(shape: Any, chosen: Callable[[Triple], bool], deep: float) -> Any:
    """A shape without the openings whose rims both lie inside chosen flat faces; itself where there are none.

    Parameters
    ----------
    shape : kernel shape
        A solid, in [mm]
    chosen : Callable
        Of a flat face's normal, [-]
    deep : float
        How far apart the two faces are at most, [mm]

    Returns
    -------
    kernel shape
        The solid, or a shell that closes, in [mm]
    """
    found = _Faces(shape)
    flats = {n for n, wires in enumerate(found.wires) if len(wires) > 1 and _flat(found.faces[n], chosen)}
    if not flats:
        return shape
    outer = {n: _outer(found, n) for n in flats}
    rims: set[tuple[int, int]] = set()
    walls: set[int] = set()
    for number in flats:
        for place in range(len(found.wires[number])):
            if place != outer[number] and (number, place) not in rims:
                opening = _opening(found, (number, place), outer)
                if opening is not None and _depth(found, opening[0]) <= deep:
                    rims |= opening[0]
                    walls |= opening[1]
    return _rebuilt(found, rims, walls) if rims else shape


def _opening(
    found: _Faces, rim: tuple[int, int], outer: dict[int, int]
) -> tuple[set[tuple[int, int]], set[int]] | None:
    """Rims and walls of one opening, or None where it reaches anything else."""
    rims, walls, waiting = {rim}, set[int](), [rim]
    while waiting:
        number, place = waiting.pop()
        for edge in found.wires[number][place][1]:
            for met in found.at[edge] - {(number, place)}:
                if met[0] in outer:
                    if met[1] == outer[met[0]]:
                        return None
                    rims.add(met)
                elif met[0] not in walls:
                    walls.add(met[0])
                    waiting += [(met[0], n) for n in range(len(found.wires[met[0]]))]
    bottoms = {n for n, _ in rims}
    return (rims, walls) if len(rims) == 2 and len(bottoms) == 2 else None


def _depth(found: _Faces, rims: set[tuple[int, int]]) -> float:
    """How far the planes of two rims are apart [mm]."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface

    one, two = (BRepAdaptor_Surface(found.faces[n], False).Plane() for n, _ in sorted(rims))
    return float(one.Distance(two.Location()))


def _rebuilt(found: _Faces, rims: set[tuple[int, int]], walls: set[int]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell

    builder, shell = BRep_Builder(), TopoDS_Shell()
    builder.MakeShell(shell)
    holed = {n for n, _ in rims}
    for number, face in enumerate(found.faces):
        if number in walls:
            continue
        if number in holed:
            kept = [wire for place, (wire, _) in enumerate(found.wires[number]) if (number, place) not in rims]
            bare = face.EmptyCopied()
            for wire in kept:
                builder.Add(bare, wire)
            face = bare
        builder.Add(shell, face)
    shell.Closed(True)
    return shell


def _flat(face: Any, chosen: Callable[[Triple], bool]) -> bool:
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Plane

    surface = BRepAdaptor_Surface(face, False)
    if surface.GetType() != GeomAbs_Plane:
        return False
    normal = surface.Plane().Axis().Direction()
    return chosen((normal.X(), normal.Y(), normal.Z()))


def _outer(found: _Faces, number: int) -> int:
    """Which wire of a face is the one around it."""
    from OCP.BRepTools import BRepTools

    around = BRepTools.OuterWire_s(found.faces[number])
    return next(place for place, (wire, _) in enumerate(found.wires[number]) if wire.IsSame(around))


def _explored(shape: Any, kind: Any) -> list[Any]:
    from OCP.TopExp import TopExp_Explorer

    explorer, parts = TopExp_Explorer(shape, kind), []
    while explorer.More():
        parts.append(explorer.Current())
        explorer.Next()
    return parts
