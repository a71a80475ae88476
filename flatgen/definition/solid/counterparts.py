"""Names, letters, allowances and openings of a definition, found in its unfolded flat by *geometry*.

A leg is found by the plane and the range of its flat, a bend by its axis, an opening by where its axis passes
the near face. One that finds no counterpart was cut away, or is a bug and stops the command.
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
    Arc,
    Axis,
    Bend,
    BendAllowance,
    FlatPattern,
    Line,
    Loop,
    Matrix,
    Panel,
    Point,
    Rule,
    View,
)
from flatgen.definition.closed_form import develop, opening_centres
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec
from flatgen.definition.section import Trace, elements
from flatgen.definition.solid.bodies import cut_tool, formed_solid, mass, near_radius, shared
from flatgen.definition.solid.cutting import CHIP, Stock
from flatgen.definition.solid.leg_faces import NEAR, faces_of, local, looks, outline_of, skins_of
from flatgen.definition.solid.places import Layout, Spot, called, frame, lay_out, polygon_of, spot_of

OVER = 1e-3
"""A panel may reach past its leg's tangent lines by so much [mm]."""

CELL = 1e-3
"""Centres of round openings are looked up in cells of this size [mm]; two openings are never so close."""

COARSE = 0.05
"""About how far edges are from their chords where a point of metal is looked for [mm]."""


@dataclass(frozen=True)
class OpeningHome:
    """Where an opening of the definition is in the flat.

    ``opening`` is its index in the profile, ``leg`` that of the leg, ``flat`` that of the loop in
    ``FlatPattern.openings``, or None where it runs into the outline or was cut away. ``centre`` is its axis
    through the near face of the leg, or of a bend beside it, in the flat [mm].
    """

    opening: int
    leg: int
    flat: int | None
    centre: Point


def view_of(solid: Any, found: Trace) -> View:
    """How the definition is read: its near face, x from the first leg to the last.

    :returns: A point of metal on the near face of the root leg
    :raises IdentityFailed: FG903 where the root leg has no near face.
    """
    place = frame(found, found.root)
    looking = [f for f in faces_of(solid.wrapped) if looks(f, place) == 1 and _in_plane(f, place)]
    if len(looking) == 1:  # the only one in its plane: any point of it will do
        x, y, z = _corner(looking[0])
        return View((x, y, z), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    outlines = [outline_of(f, COARSE) for f in looking]
    near, _ = skins_of(outlines, found, found.root)
    if not near:
        raise IdentityFailed(Fault("FG903", "the solid", f"leg {found.root + 1} of the definition has no near face"))
    number = max(near, key=lambda n: near[n].area)
    spot = _metal(near[number], 2 * outlines[number].slack + NEAR)
    point = place[:3, :3] @ (*spot, 0.0) + place[:3, 3]
    return View((float(point[0]), float(point[1]), float(point[2])), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


def _in_plane(face: Any, place: Matrix) -> bool:
    """Whether a face that looks as a leg's near face does lies in its plane."""
    return bool(abs((np.asarray(_corner(face)) - place[:3, 3]) @ place[:3, 2]) < NEAR)


def _corner(face: Any) -> tuple[float, float, float]:
    """A vertex of a face."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_VERTEX
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    at = BRep_Tool.Pnt_s(TopoDS.Vertex_s(TopExp_Explorer(face, TopAbs_VERTEX).Current()))
    return (at.X(), at.Y(), at.Z())


def _metal(shape: Any, clear: float) -> Point:
    """A point in a polygon, clear of its edges."""
    import shapely

    point = shape.representative_point()
    if shape.boundary.distance(point) < clear:
        point = shapely.Point(shapely.maximum_inscribed_circle(shape).coords[0])
    return (point.x, point.y)


def rule_of(profile: Profile, found: Trace) -> Rule:
    """Each bend's own allowance, found by the axis of the bend."""

    def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
        bend = profile.bends[_bend_at(found, axis)]
        return BendAllowance(bend.allowance.length, bend.allowance.k, bend.allowance.method)

    return rule


def named(flat: FlatPattern, profile: Profile, found: Trace) -> FlatPattern:
    """The flat with the definition's leg names, bend labels and order attached.

    :raises InputRefused: FG043 where openings or cuts took away a leg or a bend of the definition.
    :raises IdentityFailed: FG903 where one has no counterpart although nothing was cut, or two have the same.
    """
    homes = [_panel_of(flat, profile, found, n) for n in range(len(found.legs))]
    order = [_bend_at(found, b.axis) for b in flat.bends]
    gone = sorted(set(range(len(profile.bends))) - set(order))
    if gone:
        raise _gone(profile, f"bend {profile.bends[gone[0]].label}")
    if len(set(homes)) != len(flat.panels) or len(order) != len(profile.bends):
        raise IdentityFailed(Fault("FG903", profile.path, "two legs or bends of the definition share one in the solid"))
    panels = list(flat.panels)
    for leg, home in zip(profile.legs, homes, strict=True):
        panels[home] = replace(panels[home], name=leg.name)
    bends = []
    for spec_index, bend in sorted(zip(order, flat.bends, strict=True), key=lambda pair: pair[0]):
        spec = profile.bends[spec_index]
        _same_bend(profile, spec, bend.way, bend.angle, bend.inside_radius)
        bends.append(replace(bend, label=spec.label, order=profile.order_of(spec.label)))
    return replace(flat, panels=tuple(panels), bends=tuple(bends))


def _gone(profile: Profile, what: str) -> FlatgenError:
    if profile.openings or profile.cuts:
        text = f"openings and cuts leave nothing of {what}"
        return InputRefused(Fault("FG043", profile.path, text, "take it out of the section, or move what is cut"))
    return IdentityFailed(Fault("FG903", profile.path, f"{what} of the definition has no counterpart in the solid"))


def _same_bend(profile: Profile, spec: BendSpec, way: str, angle: float, radius: float) -> None:
    if way != spec.way or abs(angle - spec.angle) > NEAR or abs(radius - spec.inside_radius) > NEAR:
        text = f"bend {spec.label} is {spec.way} {spec.angle:g} deg, r {spec.inside_radius:g} mm in the definition"
        text += f" and {way} {angle:g} deg, r {radius:g} mm in the solid"
        raise IdentityFailed(Fault("FG903", profile.path, text))


def _bend_at(found: Trace, axis: Axis) -> int:
    (x, _, z), direction = axis
    for n, bend in enumerate(found.bends):
        if math.dist(bend.centre, (x, z)) < NEAR and abs(abs(direction[1]) - 1) < NEAR:
            return n
    raise IdentityFailed(Fault("FG903", "the solid", f"no bend of the definition turns about x {x:.4f}, z {z:.4f} mm"))


def _panel_of(flat: FlatPattern, profile: Profile, found: Trace, leg: int) -> int:
    """The panel whose near face lies in the plane of a leg and between the ends of its flat."""
    place, wide = frame(found, leg), found.legs[leg].length
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
    raise _gone(profile, profile.leg_text(leg))


def opening_homes(flat: FlatPattern, profile: Profile, found: Trace) -> tuple[OpeningHome, ...]:
    """Where each opening of the definition is in the flat.

    One per opening and, after it, one per leg of ``through`` whose plane its axis is not parallel to.

    :returns: in the order of the definition [mm]
    :raises IdentityFailed: FG903 where an opening on a leg's flat, which no cut can have touched, has no loop.
    """
    if not profile.openings:
        return ()
    layout = lay_out(profile, found)
    charts = _Charts(flat, profile, found)
    rows = [(s.number, leg, xy) for s in layout.spots for leg, xy in _centres(charts, profile, s)]
    loops = _holding(flat.openings, np.array([xy for _, _, xy in rows]))
    homes = tuple(OpeningHome(n, leg, loop, xy) for (n, leg, xy), loop in zip(rows, loops, strict=True))
    _require_whole(profile, layout, homes)
    return homes


@dataclass
class _Charts:
    """From the frame of a leg to the flat: one rigid move per leg, and the developing of bends beside it."""

    flat: FlatPattern
    profile: Profile
    found: Trace

    def __post_init__(self) -> None:
        count = range(len(self.found.legs))
        self.frames = [frame(self.found, n) for n in count]
        panels: list[Panel] = [self.flat.panels[_panel_of(self.flat, self.profile, self.found, n)] for n in count]
        self.moves: list[Matrix] = [
            np.asarray(np.linalg.inv(p.placed) @ f, dtype=np.float64) for p, f in zip(panels, self.frames, strict=True)
        ]
        self.bends: dict[int, Bend] = {_bend_at(self.found, b.axis): b for b in self.flat.bends}

    def carry(self, leg: int, across: float, along: float) -> Point:
        """A point above a leg's near face or a bend beside it, carried down along the leg's normal, in the flat."""
        developed = self._developed(leg, across)
        x, y = (self.moves[leg] @ (developed, along, 0.0, 1.0))[:2]
        return (float(x), float(y))

    def _developed(self, leg: int, across: float) -> float:
        wide = self.found.legs[leg].length
        if 0 <= across <= wide:
            return across
        number, beyond, edge, sign = (leg - 1, -across, 0.0, -1.0) if across < 0 else (leg, across - wide, wide, 1.0)
        if number not in self.bends:
            return across
        bend = self.found.bends[number]
        radius = near_radius(bend, self.found.thickness)
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
        foot = local(other, start)
        run = own[:3, 2] @ other[:3, :3]
        if abs(run[2]) > NEAR:
            at = foot - run * (foot[2] / run[2])
            yield leg, charts.carry(leg, float(at[0]), float(at[1]))


def _holding(loops: tuple[Loop, ...], points: NDArray[np.float64]) -> list[int | None]:
    """For each point the loop that it lies in, or None."""
    import shapely

    home: list[int | None] = [None] * len(points)
    round_ones = {_cell(p.centre): n for n, loop in enumerate(loops) for p in loop if isinstance(p, Arc) and p.full}
    for number, (x, y) in enumerate(points.tolist()):
        near = (round_ones.get(_cell((x + a, y + b))) for a in (-NEAR, NEAR) for b in (-NEAR, NEAR))
        home[number] = next((n for n in near if n is not None), None)
    rest = [n for n, loop in enumerate(home) if loop is None]
    if rest and loops:
        tree = shapely.STRtree([polygon_of(loop) for loop in loops])
        for point, loop in zip(*tree.query(shapely.points(points[rest]), predicate="within"), strict=True):
            home[rest[int(point)]] = int(loop)
    return home


def _cell(centre: Point) -> tuple[int, int]:
    return (math.floor(centre[0] / CELL), math.floor(centre[1] / CELL))


def _require_whole(profile: Profile, layout: Layout, homes: tuple[OpeningHome, ...]) -> None:
    """An opening alone on its leg's flat, which no other tool may take metal from, must have its own loop."""
    every = any(c.legs is None for c in profile.cuts)
    touched = {leg for c in profile.cuts for leg in c.legs or ()} | {n for o in profile.openings for n in o.through}
    faults = [
        Fault("FG903", profile.path, f"{called(profile, profile.openings[h.opening])} has no loop in the flat")
        for h in homes
        if h.opening in layout.free and h.flat is None and not every and h.leg not in touched
    ]
    if faults:
        raise IdentityFailed(*faults)


AGREE = 1e-6
"""The two may differ by so much [mm]."""


def require_agreement(profile: Profile, flat: FlatPattern, found: Trace, homes: tuple[OpeningHome, ...]) -> None:
    """Blank, both tangent lines of every bend, and the centre of every opening that lies on its leg's flat.

    Of a part with cuts the blank can only be smaller.

    :param found: the formed section that its solid was built from
    :param homes: where its openings are [mm]
    :raises IdentityFailed: FG900 with both numbers of each that disagrees.
    """
    closed = develop(profile)
    dx, dy = shift(profile, flat, found)
    cut = bool(profile.cuts)
    rows = [(f"blank {w}", one, two) for w, one, two in _sizes(profile, flat) if not (cut and two < one)]
    rows += [] if cut else [("left edge of the blank", 0.0, dx), ("bottom edge of the blank", 0.0, dy)]
    for (low, high), bend in zip(closed.zones, flat.bends, strict=True):
        lines = sorted(line[0][0] - dx for line in bend.tangents)
        rows += [(f"first tangent line of bend {bend.label}", low, lines[0])]
        rows += [(f"second tangent line of bend {bend.label}", high, lines[1])]
    centres = opening_centres(profile)
    for home in homes:
        opening, centre = profile.openings[home.opening], centres[home.opening]
        if home.leg == opening.place.leg and centre is not None:
            what = f"{opening.where}, number {opening.number + 1}: centre"
            rows += [
                (f"{what} in {axis}", centre[i], home.centre[i] - s) for i, axis, s in ((0, "x", dx), (1, "y", dy))
            ]
    faults = [
        Fault("FG900", profile.path, f"{what}: {one:.9f} mm by the closed form, {two:.9f} mm from the solid")
        for what, one, two in rows
        if not abs(one - two) <= AGREE
    ]
    if faults:
        raise IdentityFailed(*faults)


def shift(profile: Profile, flat: FlatPattern, found: Trace) -> Point:
    """Where the lower left corner of the uncut blank lies in the flat [mm].

    :param flat: its flat, whose root panel is the root leg
    :param found: the formed section that its solid was built from
    :returns: (0, 0) for a part without cuts [mm]
    """
    closed = develop(profile)
    leg = found.root
    start = closed.zones[leg - 1][1] if leg else 0.0
    inverse = np.linalg.inv(flat.panels[flat.root].placed)
    x, y = (inverse @ (0.0, 0.0, flat.thickness, 1.0))[:2]  # the root leg's left end, at the bottom of the part
    return (float(x) - start, float(y))


def _sizes(profile: Profile, flat: FlatPattern) -> list[tuple[str, float, float]]:
    return [("width", develop(profile).width, flat.width), ("length", profile.length, flat.length)]


ON_LINE = 1e-6
"""An edge that lies closer to a tangent line lies on it [mm]."""

SHORT = 0.05
"""Shorter edges on a tangent line are not told [mm]."""


def clipped_findings(profile: Profile, flat: FlatPattern, homes: Sequence[OpeningHome]) -> tuple[Finding, ...]:
    """A caution for each ``[[opening]]`` that is cut off at the far tangent line of a bend beside its leg.

    :returns: cautions (FG109)
    """
    ends = [sorted(line[0][0] for line in b.tangents) for b in flat.bends]
    past: dict[tuple[int, int], list[int]] = {}
    for home in homes:
        if home.flat is None:
            continue
        loop = flat.openings[home.flat]
        for bend, far in ((home.leg - 1, 0), (home.leg, 1)):
            if 0 <= bend < len(ends) and _ends_on(loop, ends[bend][far]):
                past.setdefault((profile.openings[home.opening].entry, bend), []).append(home.opening)
    return tuple(_clipped(profile, flat.bends[bend], items) for (_, bend), items in past.items())


def _ends_on(loop: Loop, x: float) -> bool:
    return any(
        isinstance(p, Line) and p.length > SHORT and max(abs(p.start[0] - x), abs(p.end[0] - x)) < ON_LINE for p in loop
    )


def _clipped(profile: Profile, bend: Bend, items: Sequence[int]) -> Finding:
    first = profile.openings[items[0]]
    many = f", and {len(items) - 1} more of its row," if len(items) > 1 else ""
    text = (
        f"{called(profile, first)}{many} reaches past bend {bend.label} and is cut off at its far tangent line: "
        "an opening takes metal of the legs that it names and of the bends beside these"
    )
    remedy = "name the leg beyond in through, or make the rest of it an opening of that leg, or a cut by a box"
    return Finding("FG109", "caution", first.where or profile.path, text, remedy)


def cut_findings(profile: Profile, found: Trace) -> tuple[Finding, ...]:
    """A note for each ``[[cut]]`` without ``legs`` that takes metal of other legs than its own.

    :returns: notes (FG120)
    """
    free = [c for c in profile.cuts if c.legs is None]
    if not free:
        return ()
    shapes = [np.asarray(s.exterior.coords) for s in elements(found, profile.thickness)]
    stock = Stock(profile, found, formed_solid(found, profile.length).wrapped, shapes)
    points = np.vstack(shapes)
    size = math.dist(points.min(axis=0), points.max(axis=0)) + profile.length
    told = []
    for cut in free:
        spot = spot_of(profile, found, cut.place)
        reach = 4 * (size + math.hypot(*spot) + abs(cut.above)) + cut.diameter
        tool = cut_tool(cut, stock.frame(cut.place.leg), spot, reach)
        met = [
            n
            for n in range(len(profile.legs))
            if n != cut.place.leg and tool is not None and _takes(stock, tool, 2 * n)
        ]
        if met:
            names = ", ".join(profile.leg_text(n) for n in met)
            text = f"{called(profile, cut)} takes metal of {names} too"
            told.append(Finding("FG120", "note", cut.where or profile.path, text, "name the legs it is for in legs"))
    return tuple(told)


def _takes(stock: Stock, tool: object, element: int) -> bool:
    return math.fsum(mass(c)[0] for c in shared(tool, stock.solids([element]))) > CHIP
