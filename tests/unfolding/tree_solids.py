"""Formed solids of grown trees: plates as prisms, bends as turned rectangles, all fused into one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Piece
from tests.unfolding.tree_parts import Hinge, Plate, Tree, plate_outline


def formed_solid(tree: Tree) -> Any | None:
    """One sound solid of the whole part, or None where it runs into itself."""
    pieces = [plate_solid(p, tree.thickness) for p in tree.plates]
    for hinge in tree.hinges:
        pieces += zone_solids(hinge, tree.thickness)
    volume = math.fsum(p.Volume() for p in pieces)
    whole = pieces[0].fuse(*pieces[1:]).clean()
    solids = whole.Solids()
    if len(solids) != 1 or not solids[0].isValid() or abs(solids[0].Volume() / volume - 1) > 1e-9:
        return None
    return solids[0]


def plate_solid(plate: Plate, thickness: float) -> Any:
    import cadquery as cq

    face = cq.Face.makeFromWires(_wire(plate_outline(plate)), [_wire(h) for h in plate.holes])
    return placed(cq.Solid.extrudeLinear(face, cq.Vector(0, 0, thickness)), plate.placed)


def zone_solids(hinge: Hinge, thickness: float) -> list[Any]:
    """The pieces of a bend: rectangles of the sheet turned about its axis, windows left out."""
    cells: list[tuple[float, float, float, float]] = []
    at, wide = hinge.start, hinge.allowance
    for w in hinge.windows:
        cells.append((at, w.start, 0.0, wide))
        cells += [(w.start, w.end, 0.0, w.low)] if w.low > 0 else []
        cells += [(w.start, w.end, w.high, wide)] if w.high < wide else []
        at = w.end
    cells.append((at, hinge.end, 0.0, wide))
    return [_turned_cell(hinge, thickness, *cell) for cell in cells]


def _turned_cell(hinge: Hinge, thickness: float, start: float, end: float, low: float, high: float) -> Any:
    import cadquery as cq

    (x0, y0), (x1, y1) = hinge.at(start, 0.0), hinge.at(end, 0.0)
    z = thickness + hinge.radius if hinge.way == "up" else -hinge.radius
    corners = [(x0, y0, 0.0), (x1, y1, 0.0), (x1, y1, thickness), (x0, y0, thickness)]
    face = cq.Face.makeFromWires(cq.Wire.makePolygon([cq.Vector(*c) for c in corners], close=True))
    sign = 1.0 if hinge.way == "up" else -1.0
    per_mm = hinge.angle / hinge.allowance * sign
    (ax, ay), foot = hinge.along, cq.Vector(x0, y0, z)
    # along = (0, 1) has across = (1, 0); a positive turn about it carries x to -z: so an up bend turns negatively
    begun = face.rotate(foot, foot + cq.Vector(ax, ay, 0), -per_mm * low) if low > 0 else face
    solid = cq.Solid.revolve(begun, -per_mm * (high - low), foot, foot + cq.Vector(ax, ay, 0))
    assert hinge.parent is not None
    return placed(solid, hinge.parent.placed)


def placed(shape: Any, move: np.ndarray) -> Any:
    """A shape carried by a rigid move (4 x 4)."""
    import cadquery as cq
    from OCP.gp import gp_Trsf

    carried = gp_Trsf()
    carried.SetValues(*(float(v) for v in move[:3].flatten()))
    return shape.moved(cq.Location(carried))


def _wire(pieces: tuple[Piece, ...]) -> Any:
    import cadquery as cq

    edges = []
    for piece in pieces:
        if not isinstance(piece, Arc):
            edges.append(cq.Edge.makeLine(cq.Vector(*piece.start), cq.Vector(*piece.end)))
        elif piece.full:
            edges.append(cq.Edge.makeCircle(piece.radius, cq.Vector(*piece.centre)))
        else:
            through = (cq.Vector(*piece.at(share)) for share in (0.0, 0.5, 1.0))
            edges.append(cq.Edge.makeThreePointArc(*through))
    return cq.Wire.assembleEdges(edges)
