"""Parts with odd forms for a roll-off-roof observatory: rails, purlins, trays, a pier's channel.

Every part starts with a leg on the x axis: 0 <= y <= t, z along the bends. ``strip`` walks a section from there;
what is drilled, sunk or pressed goes into that first leg, straight along y.

Long, as one function stands for each form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeAlias

Spot: TypeAlias = tuple[float, float]


@dataclass(frozen=True)
class Turn:
    """A bend by ``angle`` [deg], left positive; ``r`` inside radius. A sharp side goes on straight to a corner."""

    angle: float
    r: float
    sharp_inside: bool = False
    sharp_outside: bool = False


Step: TypeAlias = "float | Turn"


class _Path:
    """One side of a section: corners and arcs."""

    def __init__(self, start: Spot) -> None:
        self.items: list[tuple[str, Spot, Spot]] = [("start", start, start)]

    def line(self, to: Spot) -> None:
        self.items.append(("line", to, to))

    def arc(self, middle: Spot, to: Spot) -> None:
        self.items.append(("arc", middle, to))

    def corner(self, at: Spot) -> None:
        if self.items[-1][0] == "line":
            self.items.pop()
        self.line(at)

    @property
    def end(self) -> Spot:
        return self.items[-1][2]


def _ahead(at: Spot, heading: float, far: float) -> Spot:
    return (at[0] + far * math.cos(heading), at[1] + far * math.sin(heading))


def sides(steps: list[Step], t: float) -> tuple[_Path, _Path]:
    """The right and the left side of a section, left lies ``t`` to the left."""
    heading = 0.0
    at: Spot = (0.0, 0.0)
    right, left = _Path(at), _Path((0.0, t))
    for step in steps:
        if isinstance(step, Turn):
            at, heading = _turned(step, at, heading, t, right, left)
        else:
            at = _ahead(at, heading, step)
            right.line(at)
            left.line(_ahead(at, heading + math.pi / 2, t))
    return right, left


def _turned(turn: Turn, at: Spot, heading: float, t: float, right: _Path, left: _Path) -> tuple[Spot, float]:
    hand = 1.0 if turn.angle > 0 else -1.0
    a = math.radians(abs(turn.angle))
    reach = turn.r + t if hand > 0 else turn.r  # from the right side to the axis
    centre = _ahead(at, heading + hand * math.pi / 2, reach)
    out = heading - hand * math.pi / 2  # from the axis to where the bend starts
    for path, own in ((right, reach), (left, turn.r if hand > 0 else turn.r + t)):
        inside = own == turn.r
        if (turn.sharp_inside and inside) or (turn.sharp_outside and not inside):
            path.corner(_ahead(centre, out + hand * a / 2, own / math.cos(a / 2)))
        elif own > 0:
            path.arc(_ahead(centre, out + hand * a / 2, own), _ahead(centre, out + hand * a, own))
    return _ahead(centre, out + hand * a, reach), heading + hand * a


def extruded(right: _Path, left: _Path, length: float, start: float = 0.0) -> Any:
    """The solid between two sides, z from ``start`` over ``length``."""
    import cadquery as cq

    edges = []
    for path in (right, left):
        here = path.items[0][2]
        for kind, middle, to in path.items[1:]:
            points = [cq.Vector(x, y, start) for x, y in (here, middle, to)]
            edges.append(
                cq.Edge.makeThreePointArc(*points) if kind == "arc" else cq.Edge.makeLine(points[0], points[2])
            )
            here = to
    for one, two in ((right.items[0][2], left.items[0][2]), (right.end, left.end)):
        edges.append(cq.Edge.makeLine(cq.Vector(*one, start), cq.Vector(*two, start)))
    wire = cq.Wire.assembleEdges(cq.Wire.combine(edges)[0].Edges())
    return cq.Workplane(obj=cq.Solid.extrudeLinear(wire, [], cq.Vector(0, 0, length)))


def strip(steps: list[Step], t: float, length: float) -> Any:
    """A section of flats [mm] and turns, extruded."""
    return extruded(*sides(steps, t), length)


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Any:
    import cadquery as cq

    size = [b - a for a, b in zip(low, high, strict=True)]
    return cq.Workplane(obj=cq.Solid.makeBox(*size, cq.Vector(*low)))


def rod(x: float, z: float, radius: float, low: float, high: float) -> Any:
    """A cylinder along y."""
    import cadquery as cq

    solid = cq.Solid.makeCylinder(radius, high - low, cq.Vector(x, low, z), cq.Vector(0, 1, 0))
    return cq.Workplane(obj=solid)


def funnel(x: float, z: float, low: tuple[float, float], high: tuple[float, float]) -> Any:
    """A cone along y between (height, radius) and (height, radius)."""
    import cadquery as cq

    rise = high[0] - low[0]
    solid = cq.Solid.makeCone(low[1], high[1], rise, cq.Vector(x, low[0], z), cq.Vector(0, 1, 0))
    return cq.Workplane(obj=solid)


# the bends


def sharp(angle: float, r: float = 1.5, t: float = 1.5) -> Any:
    """Rail bracket with a corner sharp on both faces; flats 40 and 30 up to the tangents of radius ``r``."""
    return strip([40.0, Turn(angle, r, True, True), 30.0], t, 60.0)


def sharp_both_ways() -> Any:
    """Two sharp corners of opposite ways; flats up to the tangents of radius 1.5."""
    return strip([40.0, Turn(90, 1.5, True, True), 30.0, Turn(-60, 1.5, True, True), 25.0], 1.5, 60.0)


def sharp_tray() -> Any:
    """A tray without any radius: 100 x 70 x 20 outside, corners notched 8 square, t 1.5."""
    t, notch = 1.5, 8.0
    part = box((0, 0, 0), (100, 20, 70)).cut(box((t, t, t), (100 - t, 21, 70 - t)))
    for x in (0, 100 - notch):
        for z in (0, 70 - notch):
            part = part.cut(box((x, -1, z), (x + notch, 21, z + notch)))
    return part


def shelled_box() -> Any:
    """The same without notches: a hollow box, as quickly modelled, whose walls hang together at the corners."""
    return box((0, 0, 0), (100, 20, 70)).cut(box((1.5, 1.5, 1.5), (98.5, 21, 68.5)))


def inner_edge_sharp(r: float, t: float = 1.5) -> Any:
    """A rounded outer face of radius r + t about an inner corner."""
    return strip([40.0, Turn(90, r, sharp_inside=True), 30.0], t, 60.0)


def nearly_sharp() -> Any:
    return strip([40.0, Turn(90, 0.002), 30.0], 1.5, 60.0)


def hem(r: float) -> Any:
    """Edge of a weather cover: a leg folded back on another."""
    return strip([50.0, Turn(90, 2.0), 40.0, Turn(180, r), 12.0], 1.0, 80.0)


def joggle() -> Any:
    """Overlap of two roof sheets, set off by one thickness and a bit."""
    return strip([40.0, Turn(30, 1.0), 0.6, Turn(-30, 1.0), 25.0], 1.0, 80.0)


def rolled() -> Any:
    """Cover of the roof's ridge: a flat, then a leg rolled to 200 mm that ends free."""
    return strip([60.0, Turn(20, 200.0)], 1.0, 90.0)


ROUND = 10.0
"""Corner radius of ``rolled_and_rounded``, in plan."""


def rolled_and_rounded() -> Any:
    """The same, its free corners rounded as seen along y."""
    part = rolled()
    end = 60.0 + 201.0 * math.sin(math.radians(20))
    for z, side in ((0.0, 1.0), (90.0, -1.0)):
        low, high = sorted((z, z + side * ROUND))
        corner = box((end - ROUND, -5, low), (end + 5, 40, high))
        part = part.cut(corner.cut(rod(end - ROUND, z + side * ROUND, ROUND, -6, 41)))
    return part


def curl(angle: float) -> Any:
    """Edge curled about a wire: more than half a turn."""
    return strip([40.0, Turn(angle, 4.0)], 1.0, 60.0)


def two_arcs_s() -> Any:
    """Drip edge: two arcs of opposite ways, one tangent line between them."""
    return strip([30.0, Turn(45, 3.0), Turn(-45, 3.0), 30.0], 1.5, 70.0)


def two_arcs_one_way() -> Any:
    """Gutter: two arcs the same way, of two radii."""
    return strip([30.0, Turn(45, 3.0), Turn(45, 8.0), 30.0], 1.5, 70.0)


def slotted_bend() -> Any:
    """A purlin whose bend two slots interrupt: 8 wide along it, 6 past the tangent on either leg."""
    part = strip([40.0, Turn(90, 2.0), 30.0], 1.5, 90.0)
    for z in (20.0, 60.0):
        on_base = box((34, -1, z), (40, 2.5, z + 8))
        corner = box((40, -1, z), (50, 3.5, z + 8))
        on_leg = box((41.5, 3.5, z), (44.5, 9.5, z + 8))
        part = part.cut(on_base.union(corner).union(on_leg))
    return part


def tray() -> Any:
    """Battery tray: base 100 x 70 between tangents, corners notched 6 square, four walls of 20 flat (t 1.5, r 2)."""
    wide, deep, notch, t = 100.0, 70.0, 6.0, 1.5
    base = box((0, 0, 0), (wide, t, deep))
    for x in (0, wide - notch):
        for z in (0, deep - notch):
            base = base.cut(box((x, -1, z), (x + notch, t + 1, z + notch)))
    part = base
    for turn, long, at in ((0, deep, wide / 2), (90, wide, deep / 2), (180, deep, wide / 2), (270, wide, deep / 2)):
        wall = strip([1.0, Turn(90, 2.0), 20.0], t, long - 2 * notch)
        wall = wall.translate((at - 1.0, 0, -long / 2 + notch)).rotate((0, 0, 0), (0, 1, 0), turn)
        part = part.union(wall.translate((wide / 2, 0, deep / 2)), clean=True)
    return part


def angle_piece() -> Any:
    """Plain angle that many forms are put on: 60 and 25 flat, t 1.5, r 2, 70 long."""
    return strip([60.0, Turn(90, 2.0), 25.0], 1.5, 70.0)


# what stands on it, or is taken out of it


def stud() -> Any:
    return angle_piece().union(rod(25, 30, 4, 1.0, 9))


def tube_with_bore() -> Any:
    return angle_piece().union(rod(25, 30, 4, 1.0, 9)).cut(rod(25, 30, 2, -1, 10))


def stud_on_far_side() -> Any:
    return angle_piece().union(rod(25, 30, 4, -8, 0.5))


def engraved() -> Any:
    """The word PIER, 0.2 deep, as strokes that do not cross the sheet."""
    import cadquery as cq

    word = cq.Workplane("XZ", origin=(25, 1.3, 30)).text("PIER", 10, -1)
    return angle_piece().cut(word)


def boss_on_bend() -> Any:
    import cadquery as cq

    block = cq.Workplane("XY").box(6, 6, 10).rotate((0, 0, 0), (0, 0, 1), 45).translate((63, 0.5, 30))
    return angle_piece().union(block)


def countersunk() -> Any:
    """Hole of 5, countersunk 90 deg to 7 on the inside."""
    return angle_piece().cut(rod(25, 30, 2.5, -1, 3)).cut(funnel(25, 30, (0.5, 2.5), (2.0, 4.0)))


def countersunk_through() -> Any:
    """A 90 deg cone through the whole sheet: 5 on the outside, 8 on the inside."""
    return angle_piece().cut(funnel(25, 30, (-0.5, 2.0), (2.0, 4.5)))


def counterbored() -> Any:
    return angle_piece().cut(rod(25, 30, 2.5, -1, 3)).cut(rod(25, 30, 5, 0.8, 3))


def sunk_from_both_sides() -> Any:
    """Hole of 5, countersunk 90 deg to 6.2 on either face."""
    hole = rod(25, 30, 2.5, -1, 3)
    return angle_piece().cut(hole).cut(funnel(25, 30, (0.9, 2.5), (1.5, 3.1))).cut(funnel(25, 30, (0, 3.1), (0.6, 2.5)))


def oblique_hole() -> Any:
    """Hole of 6 drilled at a slant of 1 to 2 from square."""
    import cadquery as cq

    drill = cq.Solid.makeCylinder(3, 20, cq.Vector(25 - 4, -8, 30), cq.Vector(0.5, 1, 0))
    return angle_piece().cut(cq.Workplane(obj=drill))


# edges that are not square


def _rim(part: Any, inside: bool) -> Any:
    """The edges of one skin of an angle piece that lie at z = 0 or z = 70, or at an end."""
    import cadquery as cq

    reach = 0.0 if inside else 1.5

    def on_skin(edge: Any) -> bool:
        spot = edge.positionAt(0.5)
        x, y = spot.x, spot.y
        centre = (60.0, 3.5)
        if x <= 60.0:
            off = abs(y - (1.5 - reach))
        elif y >= 3.5:
            off = abs(x - (62.0 + reach))
        else:
            off = abs(math.hypot(x - centre[0], y - centre[1]) - (2.0 + reach))
        at_rim = min(abs(spot.z), abs(spot.z - 70), abs(x), abs(y - 28.5)) < 1e-6
        return off < 1e-6 and at_rim

    return part.newObject([e for e in part.edges().vals() if isinstance(e, cq.Edge) and on_skin(e)])


def chamfered() -> Any:
    return _rim(angle_piece(), inside=True).chamfer(0.3)


def rounded_one_face() -> Any:
    return _rim(angle_piece(), inside=False).fillet(0.3)


def rounded_both_faces() -> Any:
    return _rim(_rim(angle_piece(), inside=False).fillet(0.3), inside=True).fillet(0.3)


def full_round() -> Any:
    """The free end of the first leg rounded to half a thickness."""
    end = rod(0, 0, 0.75, 0, 70).rotate((0, 0, 0), (1, 0, 0), 90).translate((0, 0.75, 0))
    return angle_piece().union(end)


def oblique() -> Any:
    """The free end of the first leg cut at 60 deg to the sheet: 1.5 / tan 60 longer on the outside."""
    import cadquery as cq

    wedge = cq.Workplane("XY").polyline([(0, 0), (1.5 / math.tan(math.radians(60)), 1.5), (0, 1.5)]).close()
    return angle_piece().cut(wedge.extrude(70))


# pressed forms

DOME = (-6.0, 9.0, 10.0)
"""Height of the centre, inside and outside radius of the pressed domes."""


def _ball(radius: float) -> Any:
    import cadquery as cq

    return cq.Workplane("XY").sphere(radius).rotate((0, 0, 0), (1, 0, 0), 90).translate((25, DOME[0], 30))


def dimple() -> Any:
    return _dented(angle_piece())


def _dented(part: Any, z: float = 0.0) -> Any:
    raised = _ball(DOME[2]).intersect(box((0, 0.5, 0), (60, 20, 70))).translate((0, 0, z))
    return part.union(raised).cut(_ball(DOME[1]).translate((0, 0, z)))


def two_dimples() -> Any:
    """At z 20 and z 50."""
    return _dented(_dented(angle_piece(), -10), 20)


def dimple_with_rounded_rim() -> Any:
    """The same with its rims rounded, 1 on the inside and 2 on the outside: tori."""
    import cadquery as cq

    part = dimple()
    for height, radius in ((1.5, 1.0), (0.0, 2.0)):
        rims = [
            e
            for e in part.edges().vals()
            if isinstance(e, cq.Edge) and e.geomType() == "CIRCLE" and abs(e.Center().y - height) < 1e-6
        ]
        part = part.newObject([e for e in rims if abs(e.Center().x - 25) < 1e-6]).fillet(radius)
    return part


def louvre() -> Any:
    """Half of the dome: a hood open toward +z."""
    half = box((0, -30, 0), (60, 30, 30))
    raised = _ball(DOME[2]).intersect(box((0, 0.5, 0), (60, 20, 30)))
    return angle_piece().union(raised).cut(_ball(DOME[1]).intersect(half))


# plates


def disc(broken: float = 0.0) -> Any:
    """Cover of the pier's head: a round plate of 40, 2 thick; its edges chamfered or not."""
    plate = rod(0, 0, 20, 0, 2)
    return plate.edges().chamfer(broken) if broken else plate


def washer() -> Any:
    return rod(0, 0, 20, 0, 2).cut(rod(0, 0, 8, -1, 3))


# closed, or no sheet at all


def tube() -> Any:
    """Square tube for the pier, 40 over the flats, t 1.5, r 2."""
    import cadquery as cq

    outer = cq.Workplane("XY").rect(40, 40).extrude(80).edges("|Z").fillet(3.5)
    return outer.cut(cq.Workplane("XY").rect(37, 37).extrude(80).edges("|Z").fillet(2.0))


def tube_with_seam() -> Any:
    """The same with a seam of 0.2 in the middle of one side."""
    return tube().cut(box((-0.1, 15, -1), (0.1, 25, 81)))


def block() -> Any:
    return box((0, 0, 0), (60, 40, 30))


def bar() -> Any:
    return rod(0, 0, 10, 0, 60)


def ball() -> Any:
    import cadquery as cq

    return cq.Workplane("XY").sphere(25)


def gear() -> Any:
    """Pinion of the roof drive: 12 teeth, 30 thick."""
    import cadquery as cq

    points = []
    for n in range(12):
        for turn, radius in ((0, 16), (9, 16), (12, 20), (18, 20)):
            a = math.radians(30 * n + turn)
            points.append((radius * math.cos(a), radius * math.sin(a)))
    return cq.Workplane("XY").polyline(points).close().extrude(30).cut(cq.Workplane("XY").circle(4).extrude(30))


def pocketed_plate() -> Any:
    """A milled plate: 80 x 60 x 20 with a pocket of 60 x 40, 14 deep."""
    return box((0, 0, 0), (80, 20, 60)).cut(box((10, 6, 10), (70, 21, 50)))


# faults of models


def doubled() -> Any:
    """A plate of 1.5 with a second layer of 1.5 on a third of it: of two thicknesses."""
    return box((0, 0, 0), (60, 1.5, 70)).union(box((0, 1.5, 0), (20, 3, 70)))


def uneven(amount: float) -> Any:
    """An angle whose second leg grows by ``amount`` in thickness toward its end."""
    right, left = sides([40.0, Turn(90, 2.0), 30.0], 1.5)
    x, y = right.end
    right.items[-1] = ("line", (x + amount, y), (x + amount, y))
    return extruded(right, left, 60.0)


def off_by(amount: float) -> Any:
    """An angle whose outer faces beyond the bend lie off by a little, so that nothing is tangent there."""
    right, left = sides([40.0, Turn(90, 2.0), 30.0], 1.5)
    kind, middle, (x, y) = right.items[-2]
    right.items[-2] = (kind, middle, (x + amount, y + amount))
    x, y = right.end
    right.items[-1] = ("line", (x + amount, y), (x + amount, y))
    return extruded(right, left, 60.0)


def surface_off(amount: float) -> Any:
    """The angle with its leg's outer plane moved out by a little, while its edges stay where they were."""
    import cadquery as cq
    from OCP.BRep import BRep_Builder, BRep_Tool
    from OCP.gp import gp_Vec
    from OCP.TopLoc import TopLoc_Location

    solid = angle_piece().val().copy()
    face = next(f for f in solid.Faces() if f.geomType() == "PLANE" and f.normalAt().x > 0.9)
    moved = BRep_Tool.Surface_s(face.wrapped).Translated(gp_Vec(amount, 0, 0))
    builder = BRep_Builder()
    builder.UpdateFace(face.wrapped, moved, TopLoc_Location(), 2 * amount)
    for edge in face.Edges():
        builder.UpdateEdge(edge.wrapped, 2 * amount)
    for corner in face.Vertices():
        builder.UpdateVertex(corner.wrapped, 2 * amount)
    return cq.Workplane(obj=solid)


def halves_along() -> Any:
    """The angle in two halves along the bend, fused with their seams left."""
    one, two = angle_piece().cut(box((-1, -1, 31), (99, 99, 99))), angle_piece().cut(box((-1, -1, -1), (99, 99, 31)))
    return one.union(two, clean=False)


def halves_across() -> Any:
    """The angle in two halves that meet in the middle of the bend, fused with their seam left."""
    side = box((0, -99, -1), (99, 99, 99)).rotate((0, 0, 0), (0, 0, 1), -45).translate((60, 3.5, 0))
    return angle_piece().cut(side).union(angle_piece().intersect(side), clean=False)


def imprinted(on_bend: bool) -> Any:
    """The angle with a closed line drawn on one face, which parts that face in two."""
    import cadquery as cq
    from OCP.BRepFeat import BRepFeat_SplitShape

    solid = angle_piece().val()
    if on_bend:
        face = next(f for f in solid.Faces() if f.geomType() == "CYLINDER" and f.Area() < 70 * 2.5 * math.pi / 2)
        # straight across the bend, square to its axis
        edge = cq.Edge.makeCircle(2.0, cq.Vector(60, 3.5, 25), cq.Vector(0, 0, 1), 270, 360)
        wire = cq.Wire.assembleEdges([edge])
    else:
        tops = [f for f in solid.Faces() if f.geomType() == "PLANE" and f.normalAt().y > 0.9]
        face = max(tops, key=lambda f: f.Area())
        wire = cq.Wire.assembleEdges([cq.Edge.makeCircle(6, cq.Vector(25, 1.5, 30), cq.Vector(0, 1, 0))])
    split = BRepFeat_SplitShape(solid.wrapped)
    split.Add(wire.wrapped, face.wrapped)
    split.Build()
    return cq.Workplane(obj=cq.Shape.cast(split.Shape()))


def overlapping() -> Any:
    """An L-shaped base with two tabs on its inner edges that want the same metal (t 1.5, r 1.5, tabs 20 flat)."""
    part = box((0, 0, 0), (60, 1.5, 30)).union(box((0, 0, 0), (30, 1.5, 60)))
    tab = strip([1.0, Turn(90, 1.5), 20.0], 1.5, 25.0)
    one = tab.translate((29, 0, 35))
    two = tab.rotate((0, 0, 0), (0, 1, 0), -90).translate((60, 0, 29))
    return part.union(one).union(two)


def handed() -> Any:
    """An angle with one hole and one corner cut, that differs from its mirror image."""
    return angle_piece().cut(rod(20, 15, 3, -1, 3)).cut(box((-1, -1, 60), (12, 3, 71)))


def mirrored(part: Any) -> Any:
    return part.mirror("XY")
