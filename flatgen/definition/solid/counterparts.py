"""Names, letters, allowances and openings of a definition, found in its unfolded flat by *geometry*.

A leg is found by the plane and the range of its flat, a bend by its axis, an opening by where its axis passes the near
face. One that has no counterpart was cut away, or is a bug and stops the command. Also here: whether flat and closed
form agree, and findings on what openings and cuts took.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.core.errors import Fault, Finding, FlatgenError, IdentityFailed, InputRefused
from flatgen.core.flat_pattern import (
    AllowanceRule,
    Arc,
    Axis,
    Bend,
    BendAllowance,
    FlatPattern,
    Line,
    Loop,
    Matrix,
    Point,
    Triple,
    View,
)
from flatgen.definition.closed_form import DevelopedChain, develop, opening_centres
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec
from flatgen.definition.section import Trace
from flatgen.definition.solid.bodies import cut_tool, intersect, near_radius, subshapes, volume_and_centre
from flatgen.definition.solid.cutting import CHIP, Stock
from flatgen.definition.solid.leg_faces import NEAR, faces_of, facing, in_leg_frame, leg_skins, outline_of
from flatgen.definition.solid.places import (
    Layout,
    Spot,
    item_name,
    leg_frame,
    place_openings_on_legs,
    point_in_frame,
    polygon_of,
)

OVER = 1e-3
"""A panel may reach past its leg's tangent lines by so much [mm]."""
CELL = 1e-3
"""Centres of round openings are looked up in cells of this size [mm]; two openings are never so close."""
COARSE = 0.05
"""About how far edges are from their chords where a point of metal is looked for [mm]."""
AGREE = 1e-6
"""Closed form and solid may differ by so much [mm]."""
ON_LINE = 1e-6
"""An edge that lies closer to a tangent line lies on it [mm]."""
SHORT = 0.05
"""Shorter edges on a tangent line give no finding [mm]."""


@dataclass(frozen=True)
class OpeningInFlat:
    """Where an opening of the definition is in the flat.

    ``opening`` is its index in the profile, ``leg`` that of the leg, ``flat`` that of the loop in
    ``FlatPattern.openings``, or None where it runs into the outline or was cut away. ``centre``: where its axis passes
    the near face of the leg, or of a bend beside it, in the flat [mm].
    """

    opening: int
    leg: int
    flat: int | None
    centre: Point


def definition_view(solid: Any, section: Trace) -> View:
    """The side that a definition is seen from: a point of metal on the near face of its root leg, x across the legs.

    :raises IdentityFailed: FG903 where the root leg has no near face.
    """
    place = leg_frame(section, section.root)
    facing_up = [f for f in faces_of(solid.wrapped) if facing(f, place) == 1 and _in_plane(f, place)]
    if len(facing_up) == 1:  # the only one in its plane: any point of it will do
        x, y, z = _corner(facing_up[0])
        return View((x, y, z), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    outlines = [outline_of(f, COARSE) for f in facing_up]
    near, _ = leg_skins(outlines, section, section.root)
    if not near:
        raise IdentityFailed(Fault("FG903", "the solid", f"leg {section.root + 1} of the definition has no near face"))
    number = max(near, key=lambda n: near[n].area)
    metal = _point_inside(near[number], 2 * outlines[number].slack + NEAR)
    point = place[:3, :3] @ (*metal, 0.0) + place[:3, 3]
    return View((float(point[0]), float(point[1]), float(point[2])), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


def _in_plane(face: Any, place: Matrix) -> bool:
    """Whether a face that looks as a leg's near face does lies in its plane."""
    return bool(abs((np.asarray(_corner(face)) - place[:3, 3]) @ place[:3, 2]) < NEAR)


def _corner(face: Any) -> Triple:
    """A vertex of a face."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_VERTEX
    from OCP.TopoDS import TopoDS

    at = BRep_Tool.Pnt_s(TopoDS.Vertex_s(subshapes(face, TopAbs_VERTEX)[0]))
    return (at.X(), at.Y(), at.Z())


def _point_inside(shape: Any, clear: float) -> Point:
    """A point in a polygon, clear of its edges."""
    import shapely

    point = shape.representative_point()
    if shape.boundary.distance(point) < clear:
        point = shapely.Point(shapely.maximum_inscribed_circle(shape).coords[0])
    return (point.x, point.y)


def allowance_rule(profile: Profile, section: Trace) -> AllowanceRule:
    """The rule that gives each bend its own allowance, by its axis."""

    def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
        bend = profile.bends[_bend_at(section, axis)]
        return BendAllowance(bend.allowance.length, bend.allowance.k, bend.allowance.method)

    return rule


def attach_names(flat: FlatPattern, profile: Profile, section: Trace) -> FlatPattern:
    """The flat with the definition's leg names, bend labels and order attached.

    :raises InputRefused: FG043 where openings or cuts took away a leg or a bend of the definition.
    :raises IdentityFailed: FG903 where one has no counterpart although nothing was cut, or two have the same.
    """
    panel_numbers = [_panel_of(flat, profile, section, n) for n in range(len(section.legs))]
    order = [_bend_at(section, b.axis) for b in flat.bends]
    missing = sorted(set(range(len(profile.bends))) - set(order))
    if missing:
        raise _not_found(profile, f"bend {profile.bends[missing[0]].label}")
    if len(set(panel_numbers)) != len(flat.panels) or len(order) != len(profile.bends):
        raise IdentityFailed(Fault("FG903", profile.path, "two legs or bends of the definition share one in the solid"))
    panels = list(flat.panels)
    for leg, number in zip(profile.legs, panel_numbers, strict=True):
        panels[number] = replace(panels[number], name=leg.name)
    bends = []
    for spec_index, bend in sorted(zip(order, flat.bends, strict=True), key=lambda pair: pair[0]):
        spec = profile.bends[spec_index]
        _require_same_bend(profile, spec, bend.way, bend.angle, bend.inside_radius)
        bends.append(replace(bend, label=spec.label, order=profile.order_of(spec.label)))
    return replace(flat, panels=tuple(panels), bends=tuple(bends))


def _not_found(profile: Profile, what: str) -> FlatgenError:
    if profile.openings or profile.cuts:
        text = f"openings and cuts leave nothing of {what}"
        return InputRefused(Fault("FG043", profile.path, text, "take it out of the section, or move what is cut"))
    return IdentityFailed(Fault("FG903", profile.path, f"{what} of the definition has no counterpart in the solid"))


def _require_same_bend(profile: Profile, spec: BendSpec, way: str, angle: float, radius: float) -> None:
    if way != spec.way or abs(angle - spec.angle) > NEAR or abs(radius - spec.inside_radius) > NEAR:
        text = f"bend {spec.label} is {spec.way} {spec.angle:g} deg, r {spec.inside_radius:g} mm in the definition"
        text += f" and {way} {angle:g} deg, r {radius:g} mm in the solid"
        raise IdentityFailed(Fault("FG903", profile.path, text))


def _bend_at(section: Trace, axis: Axis) -> int:
    (x, _, z), direction = axis
    for n, bend in enumerate(section.bends):
        if math.dist(bend.centre, (x, z)) < NEAR and abs(abs(direction[1]) - 1) < NEAR:
            return n
    raise IdentityFailed(Fault("FG903", "the solid", f"no bend of the definition turns about x {x:.4f}, z {z:.4f} mm"))


def _panel_of(flat: FlatPattern, profile: Profile, section: Trace, leg: int) -> int:
    """The panel whose near face lies in the plane of a leg and between the ends of its flat."""
    place, wide = leg_frame(section, leg), section.legs[leg].length
    for n, panel in enumerate(flat.panels):
        move = np.linalg.inv(place) @ panel.placed
        if abs(move[2, 2] - 1) > NEAR or abs(move[2, 2] * flat.thickness + move[2, 3]) > NEAR:
            continue
        x0, y0, x1, y1 = panel.outline.box()
        corners = np.array([(x, y, flat.thickness, 1.0) for x in (x0, x1) for y in (y0, y1)])
        across = (corners @ move.T)[:, 0]
        inside = across.min() > -OVER and across.max() < wide + OVER
        if inside and 0 < across.mean() < wide:
            return n
    raise _not_found(profile, profile.leg_text(leg))


def openings_in_flat(flat: FlatPattern, profile: Profile, section: Trace) -> tuple[OpeningInFlat, ...]:
    """Where each opening of the definition is in the flat, in its order.

    After each opening there is one more per leg of ``through`` whose plane its axis is not parallel to.

    :raises IdentityFailed: FG903 where an opening on a leg's flat, which no cut can have touched, has no loop.
    """
    if not profile.openings:
        return ()
    layout = place_openings_on_legs(profile, section)
    charts = _Charts(flat, profile, section)
    rows = [(s.number, leg, xy) for s in layout.spots for leg, xy in _centres(charts, profile, s)]
    loops = _loops_around(flat.openings, np.array([xy for _, _, xy in rows]))
    places = tuple(OpeningInFlat(n, leg, loop, xy) for (n, leg, xy), loop in zip(rows, loops, strict=True))
    _require_whole(profile, layout, places)
    return places


class _Charts:
    """From the frame of a leg to the flat: one rigid move per leg, and the developing of bends beside it."""

    def __init__(self, flat: FlatPattern, profile: Profile, section: Trace) -> None:
        self.section = section
        self.frames = [leg_frame(section, n) for n in range(len(section.legs))]
        panels = [flat.panels[_panel_of(flat, profile, section, n)] for n in range(len(section.legs))]
        self.moves: list[Matrix] = [
            np.asarray(np.linalg.inv(p.placed) @ f, dtype=np.float64) for p, f in zip(panels, self.frames, strict=True)
        ]
        self.bends: dict[int, Bend] = {_bend_at(section, b.axis): b for b in flat.bends}

    def carry(self, leg: int, across: float, along: float) -> Point:
        """A point above a leg's near face or a bend beside it, carried down along the leg's normal, in the flat."""
        developed = self._developed(leg, across)
        x, y = (self.moves[leg] @ (developed, along, 0.0, 1.0))[:2]
        return (float(x), float(y))

    def _developed(self, leg: int, across: float) -> float:
        wide = self.section.legs[leg].length
        if 0 <= across <= wide:
            return across
        number, beyond, edge, sign = (leg - 1, -across, 0.0, -1.0) if across < 0 else (leg, across - wide, wide, 1.0)
        if number not in self.bends:
            return across
        bend = self.section.bends[number]
        radius = near_radius(bend, self.section.thickness)
        angle = math.degrees(math.asin(min(1.0, beyond / radius)))
        if beyond > radius or angle > bend.angle:
            return across
        return edge + sign * self.bends[number].allowance * angle / bend.angle


def _centres(charts: _Charts, profile: Profile, spot: Spot) -> Iterable[tuple[int, Point]]:
    yield spot.leg, charts.carry(spot.leg, *spot.centre)
    own = charts.frames[spot.leg]
    start = own[:3, :3] @ (*spot.centre, 0.0) + own[:3, 3]
    for leg in profile.openings[spot.number].through:
        other = charts.frames[leg]
        foot = in_leg_frame(other, start)
        run = own[:3, 2] @ other[:3, :3]
        if abs(run[2]) > NEAR:
            at = foot - run * (foot[2] / run[2])
            yield leg, charts.carry(leg, float(at[0]), float(at[1]))


def _loops_around(loops: tuple[Loop, ...], points: NDArray[np.float64]) -> list[int | None]:
    """For each point the number of the loop that it lies in, or None."""
    import shapely

    numbers: list[int | None] = [None] * len(points)
    round_ones = {_cell(p.centre): n for n, loop in enumerate(loops) for p in loop if isinstance(p, Arc) and p.full}
    for number, (x, y) in enumerate(points.tolist()):
        near = (round_ones.get(_cell((x + a, y + b))) for a in (-NEAR, NEAR) for b in (-NEAR, NEAR))
        numbers[number] = next((n for n in near if n is not None), None)
    rest = [n for n, loop in enumerate(numbers) if loop is None]
    if rest and loops:
        tree = shapely.STRtree([polygon_of(loop) for loop in loops])
        for point, loop in zip(*tree.query(shapely.points(points[rest]), predicate="within"), strict=True):
            numbers[rest[int(point)]] = int(loop)
    return numbers


def _cell(centre: Point) -> tuple[int, int]:
    return (math.floor(centre[0] / CELL), math.floor(centre[1] / CELL))


def _require_whole(profile: Profile, layout: Layout, places: tuple[OpeningInFlat, ...]) -> None:
    """An opening alone on its leg's flat, which no other tool may take metal from, must have its own loop."""
    every = any(c.legs is None for c in profile.cuts)
    touched = {leg for c in profile.cuts for leg in c.legs or ()} | {n for o in profile.openings for n in o.through}
    faults = [
        Fault("FG903", profile.path, f"{item_name(profile, profile.openings[h.opening])} has no loop in the flat")
        for h in places
        if h.opening in layout.free and h.flat is None and not every and h.leg not in touched
    ]
    if faults:
        raise IdentityFailed(*faults)


def require_agreement(profile: Profile, flat: FlatPattern, section: Trace, places: tuple[OpeningInFlat, ...]) -> None:
    """Compare flat and closed form: blank, tangent lines, and centres of openings that lie on their leg's flat.

    Of a part with cuts the blank can only be smaller.

    :raises IdentityFailed: FG900 with both numbers of each that disagrees.
    """
    chain = develop(profile)
    dx, dy = _uncut_corner(flat, chain, section.root)
    cut = bool(profile.cuts)
    sizes = (("width", chain.width, flat.width), ("length", profile.length, flat.length))
    rows = [(f"blank {w}", one, two) for w, one, two in sizes if not (cut and two < one)]
    rows += [] if cut else [("left edge of the blank", 0.0, dx), ("bottom edge of the blank", 0.0, dy)]
    for (low, high), bend in zip(chain.zones, flat.bends, strict=True):
        lines = sorted(line[0][0] - dx for line in bend.tangents)
        rows += [(f"first tangent line of bend {bend.label}", low, lines[0])]
        rows += [(f"second tangent line of bend {bend.label}", high, lines[1])]
    centres = opening_centres(profile)
    for place in places:
        opening, centre = profile.openings[place.opening], centres[place.opening]
        if place.leg == opening.place.leg and centre is not None:
            what = f"{opening.where}, number {opening.number + 1}: centre"
            rows += [
                (f"{what} in {axis}", centre[i], place.centre[i] - s) for i, axis, s in ((0, "x", dx), (1, "y", dy))
            ]
    faults = [
        Fault("FG900", profile.path, f"{what}: {one:.9f} mm by the closed form, {two:.9f} mm from the solid")
        for what, one, two in rows
        if not abs(one - two) <= AGREE
    ]
    if faults:
        raise IdentityFailed(*faults)


def _uncut_corner(flat: FlatPattern, chain: DevelopedChain, root: int) -> Point:
    """Where the lower left corner of the uncut blank lies in the flat; (0, 0) for a part without cuts [mm]."""
    start = chain.zones[root - 1][1] if root else 0.0
    inverse = np.linalg.inv(flat.panels[flat.root].placed)
    x, y = (inverse @ (0.0, 0.0, flat.thickness, 1.0))[:2]  # the root leg's left end, at the bottom of the part
    return (float(x) - start, float(y))


def clipped_findings(profile: Profile, flat: FlatPattern, places: Sequence[OpeningInFlat]) -> tuple[Finding, ...]:
    """FG109 for each ``[[opening]]`` that is cut off at the far tangent line of a bend beside its leg."""
    ends = [sorted(line[0][0] for line in b.tangents) for b in flat.bends]
    past: dict[tuple[int, int], list[int]] = {}
    for place in places:
        if place.flat is None:
            continue
        loop = flat.openings[place.flat]
        for bend, far in ((place.leg - 1, 0), (place.leg, 1)):
            if 0 <= bend < len(ends) and _ends_on(loop, ends[bend][far]):
                past.setdefault((profile.openings[place.opening].entry, bend), []).append(place.opening)
    return tuple(_clipped_finding(profile, flat.bends[bend], items) for (_, bend), items in past.items())


def _ends_on(loop: Loop, x: float) -> bool:
    return any(
        isinstance(p, Line) and p.length > SHORT and max(abs(p.start[0] - x), abs(p.end[0] - x)) < ON_LINE for p in loop
    )


def _clipped_finding(profile: Profile, bend: Bend, items: Sequence[int]) -> Finding:
    first = profile.openings[items[0]]
    many = f", and {len(items) - 1} more of its row," if len(items) > 1 else ""
    text = (
        f"{item_name(profile, first)}{many} reaches past bend {bend.label} and is cut off at its far tangent line: "
        "an opening takes metal of the legs that it names and of the bends beside these"
    )
    remedy = "name the leg beyond in through, or make the rest of it an opening of that leg, or a cut by a box"
    return Finding("FG109", "caution", first.where or profile.path, text, remedy)


def cut_findings(profile: Profile, section: Trace) -> tuple[Finding, ...]:
    """FG120 for each ``[[cut]]`` without ``legs`` that takes metal of other legs than its own."""
    free = [c for c in profile.cuts if c.legs is None]
    if not free:
        return ()
    stock = Stock(profile, section)
    points = np.vstack(stock.outlines)
    size = math.dist(points.min(axis=0), points.max(axis=0)) + profile.length
    notes = []
    for cut in free:
        spot = point_in_frame(profile, section, cut.place)
        reach = 4 * (size + math.hypot(*spot) + abs(cut.above)) + cut.diameter
        tool = cut_tool(cut, stock.frame(cut.place.leg), spot, reach)
        others = [] if tool is None else [n for n in range(len(profile.legs)) if n != cut.place.leg]
        met = [
            n
            for n in others
            if math.fsum(volume_and_centre(c)[0] for c in intersect(tool, stock.solids([2 * n]))) > CHIP
        ]
        if met:
            names = ", ".join(profile.leg_text(n) for n in met)
            text = f"{item_name(profile, cut)} takes metal of {names} too"
            notes.append(Finding("FG120", "note", cut.where or profile.path, text, "name the legs it is for in legs"))
    return tuple(notes)
