"""The formed solid of a definition with its openings and cuts, and the refusals where no one sound part is left."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Matrix, Triple
from flatgen.definition.model import Cut, Opening, Profile
from flatgen.definition.section import Trace, element_polygons, trace
from flatgen.definition.solid.bodies import (
    cut_tool,
    formed_solid,
    intersect,
    kernel_point,
    mend,
    prism,
    solids_of,
    subtract,
    volume_and_centre,
)
from flatgen.definition.solid.leg_faces import Hole, faces_of, leg_skins, outline_of, pierce, shadows
from flatgen.definition.solid.places import (
    LEAST_CONTACT,
    Layout,
    Spot,
    elements_of,
    item_name,
    leg_frame,
    place_openings_on_legs,
    point_in_frame,
    polygon_of,
)

MOST_NAMES = 5
CHIP = 1e-9
"""Volume of metal from which a cut counts as touching it [mm3]."""


@dataclass(frozen=True)
class Removal:
    """What one opening or cut takes away: kernel solids."""

    item: Opening | Cut
    chips: tuple[Any, ...]


@dataclass
class Stock:
    """The elements of the uncut part, each made once: ``outlines`` in the section plane [mm], ``runs`` solids."""

    profile: Profile
    section: Trace
    runs: dict[tuple[int, int], Any] = field(default_factory=dict)
    frames: dict[int, Matrix] = field(default_factory=dict)

    @cached_property
    def outlines(self) -> list[NDArray[np.float64]]:
        return [np.asarray(s.exterior.coords) for s in element_polygons(self.section, self.profile.thickness)]

    def frame(self, leg: int) -> Matrix:
        """The frame of a leg."""
        if leg not in self.frames:
            self.frames[leg] = leg_frame(self.section, leg)
        return self.frames[leg]

    def solids(self, numbers: Iterable[int]) -> list[Any]:
        """Elements as kernel solids, neighbours in one."""
        for run in (runs := _runs(numbers)):
            if run not in self.runs:
                self.runs[run] = formed_solid(self.section, self.profile.length, *run).wrapped
        return [self.runs[run] for run in runs]

    def outline(self, leg: int, element: int) -> NDArray[np.float64]:
        """Outline of an element as (across, above) in the frame of a leg [mm]."""
        place = self.frame(leg)
        shape: NDArray[np.float64] = (self.outlines[element] - place[[0, 2], 3]) @ place[[0, 2]][:, [0, 2]]
        return shape

    def other_elements(self, numbers: Iterable[int]) -> frozenset[int]:
        return frozenset(range(len(self.outlines))) - frozenset(numbers)


def _runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """First and last of each set of numbers that follow each other."""
    runs: list[tuple[int, int]] = []
    for n in sorted(numbers):
        if runs and runs[-1][1] == n - 1:
            runs[-1] = (runs[-1][0], n)
        else:
            runs.append((n, n))
    return runs


def build_solid(profile: Profile) -> tuple[Any, Trace]:
    """The formed solid of a definition with all openings and cuts, and the section that it was built from.

    :raises InputRefused: FG043 where an opening or a cut misses the metal, or they leave no one sound part.
    """
    import cadquery as cq

    section = trace(profile)
    whole = formed_solid(section, profile.length)
    if not profile.openings and not profile.cuts:
        return whole, section
    stock = Stock(profile, section)
    layout = place_openings_on_legs(profile, section)
    removals = _remove_cuts(stock, _missed_openings(stock, layout))
    removals += [_remove_opening(stock, s) for s in layout.spots if s.number not in layout.free]
    solid = _less_removals(stock, whole.wrapped, removals)
    solid, holes = _clear_holes(stock, solid, layout, bool(removals))
    return cq.Solid(pierce(solid, holes, profile.thickness) if holes else solid), section


def _missed_openings(stock: Stock, layout: Layout) -> list[Fault]:
    """Openings that meet no metal of their leg or the bends beside it, or none of a leg in ``through``."""
    faults = []
    for spot in layout.spots:
        if spot.number in layout.free:
            continue
        opening = stock.profile.openings[spot.number]
        shape = polygon_of(spot.loop)
        if not any(_meets(stock, spot, shape, e) for e in elements_of(stock.profile, [spot.leg])):
            faults.append(_opening_misses(stock.profile, opening, None))
        for leg in opening.through:
            if not opening.through_all and not _meets(stock, spot, shape, 2 * leg):
                faults.append(_opening_misses(stock.profile, opening, leg))
    return faults


def _meets(stock: Stock, spot: Spot, shape: Any, element: int) -> bool:
    """Whether the endless prism of an opening meets an element."""
    from shapely import box

    across = stock.outline(spot.leg, element)[:, 0]
    x0, x1 = float(across.min()), float(across.max())
    if spot.box[2] <= x0 or spot.box[0] >= x1:
        return False
    return bool(shape.intersection(box(x0, 0.0, x1, stock.profile.length)).area > LEAST_CONTACT)


def _remove_opening(stock: Stock, spot: Spot) -> Removal:
    opening = stock.profile.openings[spot.number]
    allowed = elements_of(stock.profile, (spot.leg, *opening.through))
    low, high = _heights(stock, spot, allowed)
    tool = prism(stock.frame(spot.leg), spot.loop, low, high)
    if _in_the_way(stock, spot, stock.other_elements(allowed), low, high):
        return Removal(opening, tuple(intersect(tool, stock.solids(allowed))))
    return Removal(opening, (tool,))


def _heights(stock: Stock, spot: Spot, allowed: Iterable[int]) -> tuple[float, float]:
    """From where to where the tool must run to pass all metal that it may take, half a thickness spare [mm]."""
    heights = [-stock.section.thickness, 0.0]
    for element in allowed:
        shape = stock.outline(spot.leg, element)
        if shape[:, 0].max() > spot.box[0] and shape[:, 0].min() < spot.box[2]:
            heights += [float(shape[:, 1].min()), float(shape[:, 1].max())]
    spare = stock.section.thickness / 2
    return min(heights) - spare, max(heights) + spare


def _in_the_way(stock: Stock, spot: Spot, others: Iterable[int], low: float, high: float) -> bool:
    """Whether the tool could touch an element that it may not."""
    from shapely import Polygon, box

    tool = box(spot.box[0], low, spot.box[2], high)
    return any(tool.intersects(Polygon(stock.outline(spot.leg, e))) for e in others)


def _remove_cuts(stock: Stock, faults: list[Fault]) -> list[Removal]:
    """What all cuts take away; raises with these faults and those of cuts that meet no metal."""
    outcomes = [_remove_cut(stock, cut) for cut in stock.profile.cuts]
    faults += [o for o in outcomes if isinstance(o, Fault)]
    if faults:
        raise InputRefused(*faults)
    return [o for o in outcomes if isinstance(o, Removal)]


def _remove_cut(stock: Stock, cut: Cut) -> Removal | Fault:
    profile, place = stock.profile, stock.frame(cut.place.leg)
    spot = point_in_frame(profile, stock.section, cut.place)
    points = np.vstack(stock.outlines)
    (x0, z0), (x1, z1) = points.min(axis=0), points.max(axis=0)
    low, high = (float(x0), 0.0, float(z0)), (float(x1), profile.length, float(z1))
    here = kernel_point(place, *spot, cut.above)
    at = (here.X(), here.Y(), here.Z())
    reach = 2 * (math.dist(at, low) + math.dist(low, high)) + cut.diameter
    tool = cut_tool(cut, place, spot, reach)
    if tool is None:
        return _no_such_side(profile, cut)
    legs = range(len(profile.legs)) if cut.legs is None else cut.legs
    allowed = elements_of(profile, legs)
    chips = intersect(tool, stock.solids(allowed))
    if math.fsum(volume_and_centre(c)[0] for c in chips) < CHIP:
        return _cut_misses(profile, cut, at, low, high)
    rest = stock.other_elements(allowed)
    clear = not rest or not intersect(tool, stock.solids(rest))
    return Removal(cut, (tool,) if clear else tuple(chips))


def _less_removals(stock: Stock, solid: Any, removals: Sequence[Removal]) -> Any:
    """A solid less what is taken away; refused where no one sound part is left."""
    chips = [c for r in removals for c in r.chips]
    if not chips:
        return solid
    result = subtract(solid, chips)
    if result is None:
        raise InputRefused(_unsound_solid(stock.profile, [r.item for r in removals]))
    pieces = solids_of(result)
    if not pieces:
        whole = [r.item for r in removals if not _pieces_left(solid, r.chips)]
        text = f"{_item_names(stock.profile, whole)} {_verb(whole, 'removes', 'remove')} the whole part"
        remedy = "look at the side that is removed and at the size of the tool"
        raise InputRefused(_fault(stock.profile, whole, text, remedy))
    if len(pieces) > 1:
        sizes = [volume_and_centre(s) for s in pieces]
        raise InputRefused(_in_pieces(stock.profile, _parting(solid, removals), sizes))
    mended = mend(pieces[0])
    if mended is None:
        raise InputRefused(_unsound_solid(stock.profile, [r.item for r in removals]))
    return mended


def _pieces_left(solid: Any, chips: Sequence[Any]) -> list[Any]:
    """The solids that are left of a solid less some chips; none where the kernel fails."""
    rest = subtract(solid, chips)
    return [] if rest is None else solids_of(rest)


def _parting(solid: Any, removals: Sequence[Removal]) -> list[Opening | Cut]:
    """The first opening or cut that parts the solid by itself, else all of them."""
    parting = (r.item for r in removals[:50] if len(_pieces_left(solid, r.chips)) > 1)
    first = next(parting, None)
    return [r.item for r in removals] if first is None else [first]


def _clear_holes(stock: Stock, solid: Any, layout: Layout, cut: bool) -> tuple[Any, list[Hole]]:
    """The holes that can be pierced, and the solid with those cut that a cut's walls come near to."""
    legs = _spots_by_leg(layout)
    faces, skins = _skins(stock, solid)
    if cut:
        crossed = [s for leg, spots in legs.items() for s in _crossed(stock, faces, skins[leg], leg, spots)]
        if crossed:
            solid = _less_removals(stock, solid, [_remove_opening(stock, s) for s in crossed])
            gone = {s.number for s in crossed}
            legs = {leg: [s for s in spots if s.number not in gone] for leg, spots in legs.items()}
            faces, skins = _skins(stock, solid)
        _require_elements(stock, faces, skins)
    holes = []
    for leg, spots in legs.items():
        place = stock.frame(leg)
        near, far = (_face_numbers(side, spots) for side in skins[leg])
        for spot, n, f in zip(spots, near, far, strict=True):
            if n >= 0 and f >= 0:
                clockwise = spot.loop if spot.loop.signed_area < 0 else spot.loop.reversed()
                holes.append(Hole(place, clockwise, n, f))
    return solid, holes


def _spots_by_leg(layout: Layout) -> dict[int, list[Spot]]:
    legs: dict[int, list[Spot]] = {}
    for spot in layout.spots:
        if spot.number in layout.free:
            legs.setdefault(spot.leg, []).append(spot)
    return legs


def _skins(stock: Stock, solid: Any) -> tuple[list[Any], list[tuple[dict[int, Any], dict[int, Any]]]]:
    """Outlines of all faces, and near and far faces of every leg."""
    faces = [outline_of(f) for f in faces_of(solid)]
    return faces, [leg_skins(faces, stock.section, leg) for leg in range(len(stock.section.legs))]


def _crossed(stock: Stock, faces: list[Any], skins: Any, leg: int, spots: list[Spot]) -> list[Spot]:
    """Openings that walls of cuts come near to, or that lie on one side only."""
    from shapely import STRtree, box

    boxes = box(*np.array([s.box for s in spots]).T)
    tree, hit = STRtree(boxes), set()
    for shadow in shadows(faces, stock.section, leg, {*skins[0], *skins[1]}):
        hit |= {int(n) for n in tree.query(shadow, predicate="intersects")}
    near, far = (_face_numbers(side, spots) for side in skins)
    hit |= {n for n in range(len(spots)) if (near[n] < 0) != (far[n] < 0)}
    return [spots[n] for n in sorted(hit)]


def _face_numbers(side: dict[int, Any], spots: list[Spot]) -> list[int]:
    """The face that holds the centre of each opening, or -1."""
    import shapely

    x, y = np.array([s.centre for s in spots]).reshape(-1, 2).T
    numbers = np.full(len(spots), -1)
    for number, shape in side.items():
        shapely.prepare(shape)
        numbers[shapely.contains_xy(shape, x, y)] = number
    return [int(n) for n in numbers]


def _require_elements(stock: Stock, faces: list[Any], skins: list[tuple[dict[int, Any], dict[int, Any]]]) -> None:
    """Refuse a part of which a leg or a bend is gone."""
    profile = stock.profile
    gone = [2 * leg for leg, (near, far) in enumerate(skins) if not near or not far]
    if not gone:
        gone = [2 * n + 1 for n in range(len(profile.bends)) if not _has_bend(stock, faces, n)]
    if gone:
        raise InputRefused(*(_element_gone(profile, e, _cuts_of(stock, e)) for e in gone))


def _has_bend(stock: Stock, faces: list[Any], bend: int) -> bool:
    """Whether a face of the solid lies on a bend's inside."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cylinder

    formed = stock.section.bends[bend]
    for outline in faces:
        surface = BRepAdaptor_Surface(outline.face)
        if surface.GetType() == GeomAbs_Cylinder:
            cylinder = surface.Cylinder()
            at = cylinder.Location()
            if math.dist((at.X(), at.Z()), formed.centre) < 1e-6 and cylinder.Radius() > formed.inside_radius - 1e-6:
                return True
    return False


def _cuts_of(stock: Stock, element: int) -> list[Opening | Cut]:
    """The cuts that take metal from an element; all openings and cuts where none does."""
    shapes = stock.solids([element])
    takers: list[Opening | Cut] = []
    for cut in stock.profile.cuts:
        removal = _remove_cut(stock, cut)
        if isinstance(removal, Removal) and any(intersect(chip, shapes) for chip in removal.chips):
            takers.append(cut)
    return takers or [*stock.profile.openings, *stock.profile.cuts]


def _item_names(profile: Profile, items: Sequence[Opening | Cut]) -> str:
    """Openings and cuts as messages list them, the first few by name."""
    texts = [item_name(profile, i) for i in items[:MOST_NAMES]]
    if len(items) > MOST_NAMES:
        texts.append(f"{len(items) - MOST_NAMES} more")
    return " and ".join(filter(None, (", ".join(texts[:-1]), texts[-1]))) if texts else "the openings and cuts"


def _fault(profile: Profile, items: Sequence[Opening | Cut], text: str, remedy: str) -> Fault:
    where = items[0].where if items and items[0].where else profile.path
    return Fault("FG043", where, text, remedy)


def _verb(items: Sequence[Opening | Cut], one: str, more: str) -> str:
    return one if len(items) == 1 else more


def _opening_misses(profile: Profile, opening: Opening, leg: int | None) -> Fault:
    """An opening that meets no metal of its leg, or none of a leg that it should go through."""
    own = profile.leg_text(opening.place.leg)
    if leg is None:
        text = f"{item_name(profile, opening)} touches no metal of {own} nor of the bends beside it"
        return _fault(profile, [opening], text, "look at what it is measured from, and on which side")
    text = f"{item_name(profile, opening)}, square to {own}, does not meet {profile.leg_text(leg)}, a leg of 'through'"
    return _fault(profile, [opening], text, "take that leg out of 'through', or move the opening")


def _cut_misses(profile: Profile, cut: Cut, at: Triple, low: Triple, high: Triple) -> Fault:
    span = ", ".join(f"{k} {a:.2f} to {b:.2f}" for k, a, b in zip("xyz", low, high, strict=True))
    stands = ", ".join(f"{k} {v:.2f}" for k, v in zip("xyz", at, strict=True))
    text = f"{item_name(profile, cut)} touches no metal: its tool stands at {stands} mm and the part spans {span} mm"
    if cut.legs is not None:
        text += f"; it may take metal from {', '.join(profile.leg_text(n) for n in cut.legs)} only"
    return _fault(profile, [cut], text, "look at what it is measured from, at its size and at the legs that it may cut")


def _no_such_side(profile: Profile, cut: Cut) -> Fault:
    """A plane that runs along the side which it is to remove."""
    text = f"{item_name(profile, cut)} is turned by {cut.turn:g} deg, so none of its sides is the {cut.remove}"
    sides = "left or right" if cut.remove in ("top", "bottom") else "top or bottom"
    return _fault(profile, [cut], text, f"say which side it removes: {sides}")


def _in_pieces(profile: Profile, items: Sequence[Opening | Cut], pieces: Sequence[tuple[float, Triple]]) -> Fault:
    """A part in pieces, each of them volume and centre."""
    volume, (x, y, z) = min(pieces)
    text = f"{_item_names(profile, items)} {_verb(items, 'parts', 'part')} it into {len(pieces)} pieces; the smallest,"
    text += f" of {volume:.4g} mm3, lies about x {x:.2f}, y {y:.2f}, z {z:.2f} mm"
    remedy = "leave metal between them, or cut the smaller piece off whole; one definition is one part"
    return _fault(profile, items, text, remedy)


def _element_gone(profile: Profile, element: int, items: Sequence[Opening | Cut]) -> Fault:
    """A leg or bend of which no flat or no curve is left."""
    what = profile.leg_text(element // 2) if element % 2 == 0 else f"bend {profile.bends[element // 2].label}"
    text = f"{_item_names(profile, items)} {_verb(items, 'leaves', 'leave')} nothing of {what}"
    return _fault(profile, items, text, "take it out of the section, or move what is cut")


def _unsound_solid(profile: Profile, items: Sequence[Opening | Cut]) -> Fault:
    text = f"no sound solid is left after {_item_names(profile, items)}"
    remedy = "something just touches an edge or another opening: move it, or change its size, by 0.01 mm or more"
    return _fault(profile, items, text, remedy)
