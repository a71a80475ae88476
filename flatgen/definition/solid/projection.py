"""The views of a formed part: edges projected by the kernel, without openings that a view cannot show.

rim     a wire of an opening in a flat face; wall: a face inside the opening
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from flatgen.core.flat_pattern import Arc, FlatPattern, Triple
from flatgen.definition.solid.bodies import intersect, subshapes
from flatgen.definition.solid.view_lines import Polyline, Span, View, straight_stretches, view_from_edges

_Kinds: TypeAlias = tuple[tuple[Any, ...], tuple[Any, ...], tuple[Any, ...]]
BULGE, TURN = 0.05, 0.35
"""How far a chord of the triangulated part is from its curve [mm], and turns [rad], at most."""
DRAWN = 0.03
"""How far a chord of a drawn curve is from it at most [mm]."""
FEW = 40
"""Openings up to which a view is made from triangles."""
MOST_PICTURED = 300
"""Openings of flat faces that the picture shows."""
EDGE_ON = 1e-6
"""A face whose normal is square to the view by this is seen edge-on."""
DEEP = 1.5
"""What is deeper is no opening of a sheet [thicknesses]."""
LONG, PIECE = 5.0, 1.1
"""A part longer than so many widths of its section is shortened in the picture: two ends of so many widths each."""
CUT = 0.1
"""It is cut no nearer to the ends of a stretch that is the same all along than this share of it, or of the section."""
GAP = 0.4
"""White between the two ends, of the section's width."""
_DIRECTIONS: dict[str, tuple[Triple, Triple]] = {
    "end": ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0)),
    "top": ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
    "right": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    "left": ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    "picture": ((1.0, -1.0, 1.0), (1.0, 1.0, 0.0)),
}
"""Where the reader stands, and what is to the right, in the frame of the part."""


@dataclass(frozen=True)
class PartViews:
    """Views of a formed part.

    ``low`` and ``high`` are corners of the box about it in its frame [mm]. Left out are: openings in the picture
    (``bare``), a stretch of the part in the picture (``shortened``), openings in views along their leg (``edge_on``).
    """

    low: Triple
    high: Triple
    thickness: float
    end: View
    top: View
    right: View
    left: View
    picture: View
    bare: bool = False
    shortened: bool = False
    edge_on: bool = False

    @property
    def sizes(self) -> Triple:
        """Overall, along x, y and z [mm]."""
        x, y, z = (b - a for a, b in zip(self.low, self.high, strict=True))
        return x, y, z

    @property
    def straight(self) -> tuple[Span, ...]:
        """Where the part is the same all along y [mm]."""
        return straight_stretches(self.top, self.right)


def project_views(solid: Any, flat: FlatPattern) -> PartViews:
    """The views of the formed part ``solid``, which lies as its ``flat`` does: by the largest leg and longest bend."""
    from OCP.BRepLib import BRepLib

    shape = getattr(solid, "wrapped", solid)
    BRepLib.EncodeRegularity_s(shape)  # so that the kernel knows seams and smooth edges
    frame = _Frame(flat)
    low, high = frame.box(shape)
    views = {name: frame.view(name, shape) for name in ("end", "top", "right", "left")}
    across = max(high[0] - low[0], high[2] - low[2])
    stretches = straight_stretches(views["top"], views["right"])
    pictured = [shape]
    if high[1] - low[1] > LONG * across:
        pictured = frame.ends(shape, low, high, across, stretches) or [shape]
    bare = False
    if sum(_wires(s) for s in pictured) > 2 * MOST_PICTURED:
        pictured, bare = [without_openings(s, lambda _: True, DEEP * flat.thickness) for s in pictured], True
    picture = frame.view("picture", *pictured)
    return PartViews(
        low,
        high,
        flat.thickness,
        **views,
        picture=picture,
        bare=bare,
        shortened=len(pictured) > 1,
        edge_on=frame.left_out,
    )


class _Frame:
    """Directions of the part's frame among the kernel's axes."""

    def __init__(self, flat: FlatPattern) -> None:
        turn = flat.panels[flat.root].placed[:3, :3].round(12)
        self.axes: list[Triple] = [(float(c[0]), float(c[1]), float(c[2])) for c in turn.T]
        self.left_out = False
        self.deep = DEEP * flat.thickness

    def to_kernel(self, inside: Triple) -> Triple:
        """A direction of the frame as one of the kernel's."""
        x, y, z = (sum(inside[i] * self.axes[i][k] for i in range(3)) for k in range(3))
        return x, y, z

    def box(self, shape: Any) -> tuple[Triple, Triple]:
        """Corners of what a shape fills [mm]."""
        from OCP.Bnd import Bnd_Box
        from OCP.BRepBndLib import BRepBndLib
        from OCP.gp import gp_Trsf
        from OCP.TopLoc import TopLoc_Location

        turn = gp_Trsf()
        turn.SetValues(*(v for axis in self.axes for v in (*axis, 0.0)))
        box = Bnd_Box()
        BRepBndLib.AddOptimal_s(shape.Moved(TopLoc_Location(turn)), box, False, False)
        x0, y0, z0, x1, y1, z1 = (round(v, 6) + 0.0 for v in box.Get())
        return (x0, y0, z0), (x1, y1, z1)

    def view(self, name: str, *shapes: Any) -> View:
        """One of the views [mm]."""
        toward, right = (self.to_kernel(d) for d in _DIRECTIONS[name])

        def edge_on(normal: Triple) -> bool:
            x, y, z = toward
            return abs(normal[0] * x + normal[1] * y + normal[2] * z) < EDGE_ON

        shown = shapes if name == "picture" else [without_openings(s, edge_on, self.deep) for s in shapes]
        self.left_out |= any(s is not given for s, given in zip(shown, shapes, strict=True))
        many = sum(_wires(s) for s in shown) > 2 * FEW
        visible, hidden, smooth = (_exact if many else _triangulated)(shown, toward, right)
        kinds = (visible, () if name == "picture" else hidden, smooth)
        scale = math.sqrt(1.5) if name == "picture" else 1.0
        return view_from_edges(*([_scaled(p, scale) for part in parts for p in _pieces(part)] for parts in kinds))

    def ends(self, shape: Any, low: Triple, high: Triple, across: float, stretches: tuple[Span, ...]) -> list[Any]:
        """The two ends of a long part, the far one brought near, or nothing where they cannot be had."""
        from OCP.gp import gp_Trsf, gp_Vec
        from OCP.TopLoc import TopLoc_Location

        near, far = low[1] + PIECE * across, high[1] - PIECE * across
        off = [min(CUT * (b - a), CUT * across) for a, b in stretches]
        ones = [max(a + d, near) for (a, b), d in zip(stretches, off, strict=True) if b - d > near]
        twos = [min(b - d, far) for (a, b), d in zip(stretches, off, strict=True) if a + d < far]
        if not ones or not twos:
            return []
        one, two = min(ones), max(twos)
        nearer = two - one - GAP * across
        if nearer < across:
            return []
        pieces = [self._between(shape, low, high, *span) for span in ((low[1] - 1.0, one), (two, high[1] + 1.0))]
        if any(len(solids) != 1 for solids in pieces):
            return []
        move = gp_Trsf()
        move.SetTranslation(gp_Vec(*(-nearer * v for v in self.axes[1])))
        return [pieces[0][0], pieces[1][0].Moved(TopLoc_Location(move))]

    def _between(self, shape: Any, low: Triple, high: Triple, one: float, two: float) -> list[Any]:
        """What of a shape lies between two places along y."""
        from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
        from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

        corner = self.to_kernel((low[0] - 1.0, one, low[2] - 1.0))
        place = gp_Ax2(gp_Pnt(*corner), gp_Dir(*self.axes[2]), gp_Dir(*self.axes[0]))
        size = (high[0] - low[0] + 2.0, two - one, high[2] - low[2] + 2.0)
        return intersect(shape, [BRepPrimAPI_MakeBox(place, *size).Shape()])


def _scaled(piece: Polyline | Arc, scale: float) -> Polyline | Arc:
    if isinstance(piece, Arc):
        return Arc((piece.centre[0] * scale, piece.centre[1] * scale), piece.radius * scale, piece.first, piece.sweep)
    return Polyline(tuple((x * scale, y * scale) for x, y in piece.points))


def _projector(toward: Triple, right: Triple) -> Any:
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector

    return HLRAlgo_Projector(gp_Ax2(gp_Pnt(0.0, 0.0, 0.0), gp_Dir(*toward), gp_Dir(*right)))


def _triangulated(shapes: Sequence[Any], toward: Triple, right: Triple) -> _Kinds:
    """Visible, hidden and smooth edges of triangulated shapes, arcs in chords."""
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.HLRBRep import HLRBRep_PolyAlgo, HLRBRep_PolyHLRToShape

    work = HLRBRep_PolyAlgo()
    for shape in shapes:
        BRepMesh_IncrementalMesh(shape, BULGE, False, TURN)
        work.Load(shape)
    work.Projector(_projector(toward, right))
    work.Update()
    edges = HLRBRep_PolyHLRToShape()
    edges.Update(work)
    return _kinds(edges)


def _exact(shapes: Sequence[Any], toward: Triple, right: Triple) -> _Kinds:
    """Visible, hidden and smooth edges of shapes as they are."""
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    work = HLRBRep_Algo()
    for shape in shapes:
        work.Add(shape, 0)
    work.Projector(_projector(toward, right))
    work.Update()
    work.Hide()
    return _kinds(HLRBRep_HLRToShape(work))


def _kinds(edges: Any) -> _Kinds:
    """Projected edges by kind; hidden ones without a corner are left out."""
    visible = (edges.VCompound(), edges.OutLineVCompound())
    return visible, (edges.HCompound(), edges.OutLineHCompound()), (edges.Rg1LineVCompound(),)


def _pieces(compound: Any) -> Iterator[Polyline | Arc]:
    """Projected edges as lines, arcs and chords."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepLib import BRepLib
    from OCP.GCPnts import GCPnts_QuasiUniformDeflection
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopoDS import TopoDS

    if compound is None or compound.IsNull():
        return
    BRepLib.BuildCurves3d_s(compound)
    for edge in subshapes(compound, TopAbs_EDGE):
        curve = BRepAdaptor_Curve(TopoDS.Edge_s(edge))
        first, last = curve.FirstParameter(), curve.LastParameter()
        kind = curve.GetType()
        if kind == GeomAbs_Line:
            yield Polyline(tuple((p.X(), p.Y()) for p in (curve.Value(first), curve.Value(last))))
        elif kind == GeomAbs_Circle:
            yield _arc(curve, first, last)
        else:
            chords = GCPnts_QuasiUniformDeflection(curve, DRAWN)
            points = (chords.Value(n) for n in range(1, chords.NbPoints() + 1))
            yield Polyline(tuple((p.X(), p.Y()) for p in points))


def _arc(curve: Any, first: float, last: float) -> Arc:
    circle = curve.Circle()
    centre, start = circle.Location(), curve.Value(first)
    way = 1.0 if circle.Axis().Direction().Z() > 0 else -1.0
    begin = math.degrees(math.atan2(start.Y() - centre.Y(), start.X() - centre.X()))
    return Arc((centre.X(), centre.Y()), circle.Radius(), begin, way * math.degrees(last - first))


def _wires(shape: Any) -> int:
    """Wires inside faces: two for each opening."""
    from OCP.TopAbs import TopAbs_FACE, TopAbs_WIRE

    return sum(len(subshapes(face, TopAbs_WIRE)) - 1 for face in subshapes(shape, TopAbs_FACE))


class _Faces:
    """Faces, wires and edges of a shape by number."""

    def __init__(self, shape: Any) -> None:
        from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_WIRE
        from OCP.TopoDS import TopoDS
        from OCP.TopTools import TopTools_IndexedMapOfShape

        edges = TopTools_IndexedMapOfShape()
        self.faces = [TopoDS.Face_s(f) for f in subshapes(shape, TopAbs_FACE)]
        self.wires: list[list[tuple[Any, frozenset[int]]]] = []
        self.at: dict[int, set[tuple[int, int]]] = defaultdict(set)
        for number, face in enumerate(self.faces):
            wires = []
            for place, wire in enumerate(subshapes(face, TopAbs_WIRE)):
                own = frozenset(edges.Add(e) for e in subshapes(wire, TopAbs_EDGE))
                wires.append((TopoDS.Wire_s(wire), own))
                for edge in own:
                    self.at[edge].add((number, place))
            self.wires.append(wires)


def without_openings(shape: Any, chosen: Callable[[Triple], bool], deep: float) -> Any:
    """A shape without the openings whose rims both lie in flat faces of ``chosen`` normals; itself without any.

    :param deep: how far apart the two faces are at most [mm]
    """
    faces = _Faces(shape)
    flats = {n for n, wires in enumerate(faces.wires) if len(wires) > 1 and _flat(faces.faces[n], chosen)}
    if not flats:
        return shape
    outer = {n: _outer(faces, n) for n in flats}
    rims: set[tuple[int, int]] = set()
    walls: set[int] = set()
    for number in flats:
        for place in range(len(faces.wires[number])):
            if place != outer[number] and (number, place) not in rims:
                opening = _opening(faces, (number, place), outer)
                if opening is not None and _depth(faces, opening[0]) <= deep:
                    rims |= opening[0]
                    walls |= opening[1]
    return _rebuilt(faces, rims, walls) if rims else shape


def _opening(
    faces: _Faces, rim: tuple[int, int], outer: dict[int, int]
) -> tuple[set[tuple[int, int]], set[int]] | None:
    """Rims and walls of one opening, or None where it reaches anything else."""
    rims, walls, waiting = {rim}, set[int](), [rim]
    while waiting:
        number, place = waiting.pop()
        for edge in faces.wires[number][place][1]:
            for other in faces.at[edge] - {(number, place)}:
                if other[0] in outer:
                    if other[1] == outer[other[0]]:
                        return None
                    rims.add(other)
                elif other[0] not in walls:
                    walls.add(other[0])
                    waiting += [(other[0], n) for n in range(len(faces.wires[other[0]]))]
    bottoms = {n for n, _ in rims}
    return (rims, walls) if len(rims) == 2 and len(bottoms) == 2 else None


def _depth(faces: _Faces, rims: set[tuple[int, int]]) -> float:
    """How far the planes of two rims are apart [mm]."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface

    one, two = (BRepAdaptor_Surface(faces.faces[n], False).Plane() for n, _ in sorted(rims))
    return float(one.Distance(two.Location()))


def _rebuilt(faces: _Faces, rims: set[tuple[int, int]], walls: set[int]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell

    builder, shell = BRep_Builder(), TopoDS_Shell()
    builder.MakeShell(shell)
    holed = {n for n, _ in rims}
    for number, face in enumerate(faces.faces):
        if number in walls:
            continue
        if number in holed:
            bare = face.EmptyCopied()
            for place, (wire, _) in enumerate(faces.wires[number]):
                if (number, place) not in rims:
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


def _outer(faces: _Faces, number: int) -> int:
    """Which wire of a face is the one around it."""
    from OCP.BRepTools import BRepTools

    around = BRepTools.OuterWire_s(faces.faces[number])
    return next(place for place, (wire, _) in enumerate(faces.wires[number]) if wire.IsSame(around))
