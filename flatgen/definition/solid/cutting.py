"""What is said where an opening or a cut leaves no one sound part (FG043). No geometry."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Loop, Matrix
from flatgen.definition.model import Cut, Opening, Profile
from flatgen.definition.section import Trace, elements, trace
from flatgen.definition.solid.bodies import cut_tool, formed_solid, less, mass, mended, point, prism, shared, solids_of
from flatgen.definition.solid.leg_faces import Hole, faces_of, outline_of, pierced, shadows, skins_of
from flatgen.definition.solid.places import (
    MET,
    Layout,
    Spot,
    called,
    elements_of,
    frame,
    lay_out,
    polygon_of,
    spot_of,
)

Triple = tuple[float, float, float]

MOST_NAMES = 5


def names(profile: Profile, items: Sequence[Opening | Cut]) -> str:
    """Openings and cuts as messages list them, the first few by name."""
    told = [called(profile, i) for i in items[:MOST_NAMES]]
    if len(items) > MOST_NAMES:
        told.append(f"{len(items) - MOST_NAMES} more")
    return " and ".join(filter(None, (", ".join(told[:-1]), told[-1]))) if told else "the openings and cuts"


def _fault(profile: Profile, items: Sequence[Opening | Cut], text: str, remedy: str) -> Fault:
    where = items[0].where if items and items[0].where else profile.path
    return Fault("FG043", where, text, remedy)


def _is_are(items: Sequence[Opening | Cut], one: str, more: str) -> str:
    return one if len(items) == 1 else more


def missed_by_opening(profile: Profile, opening: Opening, leg: int | None) -> Fault:
    """An opening that meets no metal of its leg, or none of a leg that it should go through."""
    own = profile.leg_text(opening.place.leg)
    if leg is None:
        text = f"{called(profile, opening)} touches no metal of {own} nor of the bends beside it"
        return _fault(profile, [opening], text, "look at what it is measured from, and on which side")
    text = f"{called(profile, opening)}, square to {own}, does not meet {profile.leg_text(leg)}, a leg of 'through'"
    return _fault(profile, [opening], text, "take that leg out of 'through', or move the opening")


def missed_by_cut(profile: Profile, cut: Cut, at: Triple, low: Triple, high: Triple) -> Fault:
    """A cut that meets no metal."""
    span = ", ".join(f"{k} {a:.2f} to {b:.2f}" for k, a, b in zip("xyz", low, high, strict=True))
    stands = ", ".join(f"{k} {v:.2f}" for k, v in zip("xyz", at, strict=True))
    text = f"{called(profile, cut)} touches no metal: its tool stands at {stands} mm and the part spans {span} mm"
    if cut.legs is not None:
        text += f"; it may take metal from {', '.join(profile.leg_text(n) for n in cut.legs)} only"
    return _fault(profile, [cut], text, "look at what it is measured from, at its size and at the legs that it may cut")


def no_way(profile: Profile, cut: Cut) -> Fault:
    """A plane that runs along the side which it is to remove."""
    text = f"{called(profile, cut)} is turned by {cut.turn:g} deg, so none of its sides is the {cut.remove}"
    sides = "left or right" if cut.remove in ("top", "bottom") else "top or bottom"
    return _fault(profile, [cut], text, f"say which side it removes: {sides}")


def nothing_left(profile: Profile, items: Sequence[Opening | Cut]) -> Fault:
    """A part of which all is taken away."""
    text = f"{names(profile, items)} {_is_are(items, 'removes', 'remove')} the whole part"
    return _fault(profile, items, text, "look at the side that is removed and at the size of the tool")


def apart(profile: Profile, items: Sequence[Opening | Cut], pieces: Sequence[tuple[float, Triple]]) -> Fault:
    """A part in pieces, each of them volume and centre."""
    volume, (x, y, z) = min(pieces)
    text = f"{names(profile, items)} {_is_are(items, 'parts', 'part')} it into {len(pieces)} pieces; the smallest,"
    text += f" of {volume:.4g} mm3, lies about x {x:.2f}, y {y:.2f}, z {z:.2f} mm"
    remedy = "leave metal between them, or cut the smaller piece off whole; one definition is one part"
    return _fault(profile, items, text, remedy)


def absent(profile: Profile, element: int, items: Sequence[Opening | Cut]) -> Fault:
    """A leg or bend of which no flat or no curve is left."""
    what = profile.leg_text(element // 2) if element % 2 == 0 else f"bend {profile.bends[element // 2].label}"
    text = f"{names(profile, items)} {_is_are(items, 'leaves', 'leave')} nothing of {what}"
    return _fault(profile, items, text, "take it out of the section, or move what is cut")


def unsound(profile: Profile, items: Sequence[Opening | Cut]) -> Fault:
    """A solid that the kernel could not make."""
    text = f"no sound solid is left after {names(profile, items)}"
    remedy = "something just touches an edge or another opening: move it, or change its size, by 0.01 mm or more"
    return _fault(profile, items, text, remedy)


CHIP = 1e-9
"""Volume of metal from which a cut counts as touching it [mm3]."""


@dataclass(frozen=True)
class Taken:
    """What one opening or cut takes away, as kernel solids."""

    item: Opening | Cut
    chips: tuple[Any, ...]


@dataclass
class Stock:
    """The uncut part and its elements, made once: ``outlines`` are the elements in the section plane [mm]."""

    profile: Profile
    found: Trace
    whole: Any
    outlines: list[NDArray[np.float64]]
    runs: dict[tuple[int, int], Any] = field(default_factory=dict)
    frames: dict[int, Matrix] = field(default_factory=dict)

    def frame(self, leg: int) -> Matrix:
        """The frame of a leg."""
        if leg not in self.frames:
            self.frames[leg] = frame(self.found, leg)
        return self.frames[leg]

    def solids(self, numbers: Iterable[int]) -> list[Any]:
        """Elements as kernel solids, neighbours in one."""
        made = []
        for run in runs_of(numbers):
            if run not in self.runs:
                self.runs[run] = formed_solid(self.found, self.profile.length, *run).wrapped
            made.append(self.runs[run])
        return made

    def seen(self, leg: int, element: int) -> NDArray[np.float64]:
        """Outline of an element as (across, above) in the frame of a leg [mm]."""
        place = self.frame(leg)
        shape: NDArray[np.float64] = (self.outlines[element] - place[[0, 2], 3]) @ place[[0, 2]][:, [0, 2]]
        return shape

    def rest(self, numbers: Iterable[int]) -> frozenset[int]:
        """All other elements."""
        return frozenset(range(len(self.outlines))) - frozenset(numbers)


def runs_of(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """First and last of each set of numbers that follow each other."""
    runs: list[tuple[int, int]] = []
    for n in sorted(numbers):
        if runs and runs[-1][1] == n - 1:
            runs[-1] = (runs[-1][0], n)
        else:
            runs.append((n, n))
    return runs


def cut_out(profile: Profile, found: Trace) -> Any:
    """The formed part with all its openings and cuts.

    :raises InputRefused: FG043 where an opening or a cut misses the metal, or they leave no one sound part.
    """
    import cadquery as cq

    whole = formed_solid(found, profile.length)
    if not profile.openings and not profile.cuts:
        return whole
    shapes = [np.asarray(s.exterior.coords) for s in elements(found, profile.thickness)]
    stock = Stock(profile, found, whole.wrapped, shapes)
    layout = lay_out(profile, found)
    taken = _cuts_taken(stock, _missed_openings(stock, layout))
    taken += [_opening_taken(stock, s) for s in layout.spots if s.number not in layout.free]
    solid = _taken_off(stock, stock.whole, taken)
    solid, holes = _clear_holes(stock, solid, layout, bool(taken))
    return cq.Solid(pierced(solid, holes, profile.thickness) if holes else solid)


def _missed_openings(stock: Stock, layout: Layout) -> list[Fault]:
    """Openings that meet no metal of their leg or the bends beside it, or none of a leg in ``through``."""
    faults = []
    for spot in layout.spots:
        if spot.number in layout.free:
            continue
        opening = stock.profile.openings[spot.number]
        shape = polygon_of(spot.loop)
        if not any(_met(stock, spot, shape, e) for e in elements_of(stock.profile, [spot.leg])):
            faults.append(missed_by_opening(stock.profile, opening, None))
        for leg in opening.through:
            if not opening.through_all and not _met(stock, spot, shape, 2 * leg):
                faults.append(missed_by_opening(stock.profile, opening, leg))
    return faults


def _met(stock: Stock, spot: Spot, shape: Any, element: int) -> bool:
    """Whether the endless prism of an opening meets an element."""
    from shapely import box

    across = stock.seen(spot.leg, element)[:, 0]
    x0, x1 = float(across.min()), float(across.max())
    if spot.box[2] <= x0 or spot.box[0] >= x1:
        return False
    return bool(shape.intersection(box(x0, 0.0, x1, stock.profile.length)).area > MET)


def _opening_taken(stock: Stock, spot: Spot) -> Taken:
    opening = stock.profile.openings[spot.number]
    allowed = elements_of(stock.profile, (spot.leg, *opening.through))
    low, high = _heights(stock, spot, allowed)
    tool = prism(stock.frame(spot.leg), spot.loop, low, high)
    if _in_the_way(stock, spot, stock.rest(allowed), low, high):
        return Taken(opening, tuple(shared(tool, stock.solids(allowed))))
    return Taken(opening, (tool,))


def _heights(stock: Stock, spot: Spot, allowed: Iterable[int]) -> tuple[float, float]:
    """From where to where the tool must run to pass all metal that it may take, half a thickness spare [mm]."""
    heights = [-stock.found.thickness, 0.0]
    for element in allowed:
        shape = stock.seen(spot.leg, element)
        if shape[:, 0].max() > spot.box[0] and shape[:, 0].min() < spot.box[2]:
            heights += [float(shape[:, 1].min()), float(shape[:, 1].max())]
    spare = stock.found.thickness / 2
    return min(heights) - spare, max(heights) + spare


def _in_the_way(stock: Stock, spot: Spot, others: Iterable[int], low: float, high: float) -> bool:
    """Whether the tool could touch an element that it may not."""
    from shapely import Polygon, box

    tool = box(spot.box[0], low, spot.box[2], high)
    return any(tool.intersects(Polygon(stock.seen(spot.leg, e))) for e in others)


def _cuts_taken(stock: Stock, faults: list[Fault]) -> list[Taken]:
    """The chips of all cuts; raises with these faults and those of cuts that meet no metal."""
    taken = []
    for cut in stock.profile.cuts:
        made = _cut_taken(stock, cut)
        if isinstance(made, Fault):
            faults.append(made)
        else:
            taken.append(made)
    if faults:
        raise InputRefused(*faults)
    return taken


def _cut_taken(stock: Stock, cut: Cut) -> Taken | Fault:
    profile, place = stock.profile, stock.frame(cut.place.leg)
    spot = spot_of(profile, stock.found, cut.place)
    low, high = _box(stock)
    here = point(place, *spot, cut.above)
    at = (here.X(), here.Y(), here.Z())
    reach = 2 * (math.dist(at, low) + math.dist(low, high)) + cut.diameter
    tool = cut_tool(cut, place, spot, reach)
    if tool is None:
        return no_way(profile, cut)
    legs = range(len(profile.legs)) if cut.legs is None else cut.legs
    allowed = elements_of(profile, legs)
    chips = shared(tool, stock.solids(allowed))
    if math.fsum(mass(c)[0] for c in chips) < CHIP:
        return missed_by_cut(profile, cut, at, low, high)
    rest = stock.rest(allowed)
    clear = not rest or not shared(tool, stock.solids(rest))
    return Taken(cut, (tool,) if clear else tuple(chips))


def _box(stock: Stock) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Two corners of the box about the part [mm]."""
    points = np.vstack(stock.outlines)
    (x0, z0), (x1, z1) = points.min(axis=0), points.max(axis=0)
    return (float(x0), 0.0, float(z0)), (float(x1), stock.profile.length, float(z1))


def _taken_off(stock: Stock, solid: Any, taken: Sequence[Taken]) -> Any:
    """A solid less what is taken; refused where no one sound part is left."""
    chips = [c for t in taken for c in t.chips]
    if not chips:
        return solid
    result = less(solid, chips)
    if result is None:
        raise InputRefused(unsound(stock.profile, [t.item for t in taken]))
    left = solids_of(result)
    if not left:
        raise InputRefused(nothing_left(stock.profile, [t.item for t in taken if not less_any(solid, t.chips)]))
    if len(left) > 1:
        raise InputRefused(apart(stock.profile, _parting(solid, taken), [mass(s) for s in left]))
    made = mended(left[0])
    if made is None:
        raise InputRefused(unsound(stock.profile, [t.item for t in taken]))
    return made


def less_any(solid: Any, chips: Sequence[Any]) -> bool:
    """Whether anything is left of a solid less some chips."""
    rest = less(solid, chips)
    return rest is not None and bool(solids_of(rest))


def _parting(solid: Any, taken: Sequence[Taken]) -> list[Opening | Cut]:
    """The first opening or cut that parts the solid by itself, else all of them."""
    for one in taken[:50]:
        rest = less(solid, one.chips)
        if rest is not None and len(solids_of(rest)) > 1:
            return [one.item]
    return [t.item for t in taken]


def _clear_holes(stock: Stock, solid: Any, layout: Layout, cut: bool) -> tuple[Any, list[Hole]]:
    """The holes that can be pierced, and the solid with those cut that a cut's walls come near to."""
    legs = _spots_by_leg(layout)
    faces, skins = _skins(stock, solid)
    if cut:
        crossed = [s for leg, spots in legs.items() for s in _crossed(stock, faces, skins[leg], leg, spots)]
        if crossed:
            solid = _taken_off(stock, solid, [_opening_taken(stock, s) for s in crossed])
            gone = {s.number for s in crossed}
            legs = {leg: [s for s in spots if s.number not in gone] for leg, spots in legs.items()}
            faces, skins = _skins(stock, solid)
        _require_all(stock, faces, skins)
    holes = []
    for leg, spots in legs.items():
        place = stock.frame(leg)
        near, far = (_homes(side, spots) for side in skins[leg])
        holes += [_hole(place, s.loop, n, f) for s, n, f in zip(spots, near, far, strict=True) if n >= 0 and f >= 0]
    return solid, holes


def _hole(place: Matrix, loop: Loop, near: int, far: int) -> Hole:
    return Hole(place, loop if loop.signed_area < 0 else loop.reversed(), near, far)


def _spots_by_leg(layout: Layout) -> dict[int, list[Spot]]:
    legs: dict[int, list[Spot]] = {}
    for spot in layout.spots:
        if spot.number in layout.free:
            legs.setdefault(spot.leg, []).append(spot)
    return legs


def _skins(stock: Stock, solid: Any) -> tuple[list[Any], list[tuple[dict[int, Any], dict[int, Any]]]]:
    """Outlines of all faces, and near and far faces of every leg."""
    faces = [outline_of(f) for f in faces_of(solid)]
    return faces, [skins_of(faces, stock.found, leg) for leg in range(len(stock.found.legs))]


def _crossed(stock: Stock, faces: list[Any], skins: Any, leg: int, spots: list[Spot]) -> list[Spot]:
    """Openings that walls of cuts come near to, or that lie on one side only."""
    from shapely import STRtree, box

    boxes = box(*np.array([s.box for s in spots]).T)
    tree, hit = STRtree(boxes), set()
    for shadow in shadows(faces, stock.found, leg, {*skins[0], *skins[1]}):
        hit |= {int(n) for n in tree.query(shadow, predicate="intersects")}
    near, far = (_homes(side, spots) for side in skins)
    hit |= {n for n in range(len(spots)) if (near[n] < 0) != (far[n] < 0)}
    return [spots[n] for n in sorted(hit)]


def _homes(side: dict[int, Any], spots: list[Spot]) -> list[int]:
    """The face that holds the centre of each opening, or -1."""
    import shapely

    x, y = np.array([s.centre for s in spots]).reshape(-1, 2).T
    home = np.full(len(spots), -1)
    for number, shape in side.items():
        shapely.prepare(shape)
        home[shapely.contains_xy(shape, x, y)] = number
    return [int(n) for n in home]


def _require_all(stock: Stock, faces: list[Any], skins: list[tuple[dict[int, Any], dict[int, Any]]]) -> None:
    """Refuses a part of which a leg or a bend is gone."""
    profile = stock.profile
    gone = [2 * leg for leg, (near, far) in enumerate(skins) if not near or not far]
    if not gone:
        gone = [2 * n + 1 for n in range(len(profile.bends)) if not _bent(stock, faces, n)]
    if gone:
        raise InputRefused(*(absent(profile, e, _takers(stock, e)) for e in gone))


def _bent(stock: Stock, faces: list[Any], bend: int) -> bool:
    """Whether a face of the solid lies on a bend's inside."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cylinder

    wanted = stock.found.bends[bend]
    for outline in faces:
        surface = BRepAdaptor_Surface(outline.face)
        if surface.GetType() == GeomAbs_Cylinder:
            cylinder = surface.Cylinder()
            at = cylinder.Location()
            if math.dist((at.X(), at.Z()), wanted.centre) < 1e-6 and cylinder.Radius() > wanted.inside_radius - 1e-6:
                return True
    return False


def _takers(stock: Stock, element: int) -> list[Opening | Cut]:
    """The cuts that take metal from an element; all openings and cuts where none does."""
    shapes = stock.solids([element])
    found: list[Opening | Cut] = []
    for cut in stock.profile.cuts:
        made = _cut_taken(stock, cut)
        if isinstance(made, Taken) and any(shared(chip, shapes) for chip in made.chips):
            found.append(cut)
    return found or [*stock.profile.openings, *stock.profile.cuts]


def build(profile: Profile) -> tuple[Any, Trace]:
    """The formed solid of a definition with all openings and cuts made, and the trace that it was built from.

    :raises InputRefused: FG043 where openings and cuts miss the metal, or leave no one sound part.
    """
    found = trace(profile)
    return cut_out(profile, found), found
