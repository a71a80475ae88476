"""Where openings and cuts stand on the formed part, from the walked section alone.

frame    of a leg: x across it from where its flat begins, y along the part from its bottom end, z above its
         near face; carries points to the formed part
spot     one opening in the frame of its leg: its centre and its loop there
free     an opening that lies wholly on its leg's flat and clear of every other opening and edge

No kernel here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import Loop, Matrix, Point
from flatgen.definition.model import Cut, Opening, Place, Profile, opening_loop
from flatgen.definition.section import Trace, formed_limits

if TYPE_CHECKING:
    from shapely import Polygon

WEB = 1e-3
"""Openings and edges that leave less metal between them than this leave none that can be cut [mm]."""
FINE = 1e-5
"""Farthest that an arc may be from its chords where the web between two openings is measured [mm]."""
LEAST_CONTACT = 1e-9
"""Area of metal under a tool from which it counts as met [mm2]."""


@dataclass(frozen=True)
class Spot:
    """An opening (``number`` in the profile) on ``leg``: ``centre`` and clockwise ``loop`` in its frame [mm]."""

    number: int
    leg: int
    centre: Point
    loop: Loop
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Layout:
    """All openings; ``free`` are the numbers of those that lie clear, ``fused`` the groups that overlap."""

    spots: tuple[Spot, ...]
    free: frozenset[int]
    fused: tuple[tuple[int, ...], ...]


def leg_frame(section: Trace, leg: int) -> Matrix:
    """The frame of a leg (4 x 4): carries (across, along, above) to the formed part."""
    item = section.legs[leg]
    a = math.radians(item.heading)
    across, above = np.array((math.cos(a), 0.0, math.sin(a))), np.array((-math.sin(a), 0.0, math.cos(a)))
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2] = across, (0.0, 1.0, 0.0), above
    frame[:3, 3] = np.array((item.start[0], 0.0, item.start[1])) + above * section.thickness / 2
    return frame


def point_in_frame(profile: Profile, section: Trace, place: Place) -> Point:
    """A place in the frame of its leg [mm]."""
    return _from_limits(place, formed_limits(profile, section, place.leg, place.dimensions), profile.length)


def _from_limits(place: Place, ends: tuple[float, float], length: float) -> Point:
    low, high = ends
    across = {"left": low + place.across, "right": high - place.across, "middle": (low + high) / 2 + place.across}
    along = {"bottom": place.along, "top": length - place.along, "middle": length / 2 + place.along}
    return (across[place.across_from], along[place.along_from])


def elements_of(profile: Profile, legs: Iterable[int]) -> frozenset[int]:
    """Elements of the section: the legs and the bends beside them."""
    last = 2 * len(profile.bends)
    return frozenset(e for leg in legs for e in (2 * leg - 1, 2 * leg, 2 * leg + 1) if 0 <= e <= last)


def item_name(profile: Profile, item: Opening | Cut) -> str:
    """What messages call an opening or a cut: ``opening 2 "vent", number 3 of its row``, counted from 1."""
    kind = "opening" if isinstance(item, Opening) else "cut"
    name = f' "{item.name}"' if item.name else ""
    row = ""
    if isinstance(item, Opening):
        of_row = item.number > 0 or sum(1 for o in profile.openings if o.entry == item.entry) > 1
        row = f", number {item.number + 1} of its row" if of_row else ""
    return f"{kind} {item.entry + 1}{name}{row}"


def place_openings_on_legs(profile: Profile, section: Trace) -> Layout:
    """Every opening on its leg, and which lie clear of all others.

    :raises InputRefused: FG043 where two openings touch or leave a web below ``WEB``, or one leaves such a web to an
        end or an edge.
    """
    spots = _spots(profile, section)
    faults, joined = _pairs(profile, spots)
    faults += [f for spot in spots for f in _thin_edges(profile, section, spot)]
    if faults:
        raise InputRefused(*faults)
    alone = {n for pair in joined for n in pair}
    free = {s.number for s in spots if s.number not in alone and _on_flat(profile, section, s)}
    return Layout(spots, frozenset(free), _groups(joined))


def overlap_findings(profile: Profile, section: Trace) -> tuple[Finding, ...]:
    """FG108 for each set of openings that overlap and so are one hole.

    :raises InputRefused: FG043 as :func:`place_openings_on_legs`.
    """
    alike: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
    for group in place_openings_on_legs(profile, section).fused:
        alike.setdefault(tuple(profile.openings[n].entry for n in group), []).append(group)
    notes = []
    for groups in alike.values():
        items = [profile.openings[n] for n in groups[0]]
        names = [item_name(profile, o) for o in items]
        text = f"{', '.join(names[:-1])} and {names[-1]} overlap and are one hole"
        text += f", and so at {len(groups) - 1} more places" if len(groups) > 1 else ""
        notes.append(Finding("FG108", "note", items[-1].where or profile.path, text))
    return tuple(notes)


def _spots(profile: Profile, section: Trace) -> tuple[Spot, ...]:
    shapes: dict[tuple[object, ...], tuple[Loop, tuple[float, float, float, float]]] = {}
    ends: dict[tuple[int, str], tuple[float, float]] = {}
    spots = []
    for number, o in enumerate(profile.openings):
        key = (o.shape, o.size_across, o.size_along, o.corner_radius, o.turn)
        if key not in shapes:
            loop = opening_loop(o)
            shapes[key] = (loop, loop.box())
        line = (o.place.leg, o.place.dimensions)
        if line not in ends:
            ends[line] = formed_limits(profile, section, o.place.leg, o.place.dimensions)
        loop, (x0, y0, x1, y1) = shapes[key]
        x, y = _from_limits(o.place, ends[line], profile.length)
        move = np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
        spots.append(Spot(number, o.place.leg, (x, y), loop.moved(move), (x0 + x, y0 + y, x1 + x, y1 + y)))
    return tuple(spots)


def _on_flat(profile: Profile, section: Trace, spot: Spot) -> bool:
    """Whether it stays off the ends and tangent lines of its leg, and goes through no other."""
    x0, y0, x1, y1 = spot.box
    wide, high = section.legs[spot.leg].length, profile.length
    inside = x0 > WEB and y0 > WEB and x1 < wide - WEB and y1 < high - WEB
    return inside and not profile.openings[spot.number].through


def _thin_edges(profile: Profile, section: Trace, spot: Spot) -> list[Fault]:
    """Ends of the part and edges of the sheet that an opening touches, or all but touches, from inside."""
    x0, y0, x1, y1 = spot.box
    gaps = [(y0, "the bottom end"), (profile.length - y1, "the top end")]
    if spot.leg == 0:
        gaps.append((x0, "the left edge"))
    if spot.leg == len(section.legs) - 1:
        gaps.append((section.legs[spot.leg].length - x1, "the right edge"))
    opening = profile.openings[spot.number]
    remedy = "move it off the edge, or let it run out over the edge"
    return [
        Fault("FG043", opening.where or profile.path, f"{item_name(profile, opening)} {_web_text(gap)} {what}", remedy)
        for gap, what in gaps
        if abs(gap) < WEB
    ]


def _web_text(gap: float) -> str:
    return f"leaves a web of {gap:.4f} mm to" if gap > 1e-6 else "touches"


def _pairs(profile: Profile, spots: tuple[Spot, ...]) -> tuple[list[Fault], list[tuple[int, int]]]:
    """Openings of one leg that touch (faults), and those that overlap."""
    faults: list[Fault] = []
    joined: list[tuple[int, int]] = []
    legs: dict[int, list[Spot]] = {}
    for spot in spots:
        legs.setdefault(spot.leg, []).append(spot)
    for mates in legs.values():
        fine: dict[int, Any] = {}
        for a, b in _close_boxes(mates):
            gap, overlap = _gap(mates[a], mates[b], fine)
            if overlap:
                joined.append((mates[a].number, mates[b].number))
            elif gap < WEB:
                one, two = (profile.openings[mates[n].number] for n in (a, b))
                text = f"{item_name(profile, two)} {_web_text(gap)} {item_name(profile, one)}"
                remedy = f"leave a web between them of more than {WEB:g} mm, or let them overlap"
                faults.append(Fault("FG043", two.where or profile.path, text, remedy))
    return faults, joined


def _close_boxes(spots: list[Spot]) -> list[tuple[int, int]]:
    if len(spots) < 2:
        return []
    from shapely import STRtree, box

    grown = np.array([s.box for s in spots]) + np.array((-WEB, -WEB, WEB, WEB))
    boxes = box(*grown.T)
    left, right = STRtree(boxes).query(boxes, predicate="intersects")
    return sorted((int(a), int(b)) for a, b in zip(left, right, strict=True) if a < b)


def _gap(one: Spot, two: Spot, fine: dict[int, Any]) -> tuple[float, bool]:
    """Metal between two openings [mm], and whether they overlap by more than a touch."""
    import shapely

    if len(one.loop.pieces) == len(two.loop.pieces) == 1:
        r, s = ((b[2] - b[0]) / 2 for b in (one.box, two.box))
        gap = math.dist(one.centre, two.centre) - r - s
        return (gap, gap <= -WEB)
    shapes = []
    for spot in (one, two):
        if spot.number not in fine:
            fine[spot.number] = polygon_of(spot.loop, FINE)
        shapes.append(fine[spot.number])
    gap = float(shapely.distance(*shapes))
    if gap > 0:
        return (gap, False)
    return (0.0, bool(shapely.intersects(shapes[0].buffer(-WEB), shapes[1])))


def polygon_of(loop: Loop, sagitta: float = 0.01) -> Polygon:
    """A loop as a polygon with its arcs in chords within ``sagitta`` [mm]."""
    from shapely import Polygon

    return Polygon(loop.points(sagitta))


def _groups(pairs: list[tuple[int, int]]) -> tuple[tuple[int, ...], ...]:
    """Connected sets of what is joined in pairs, each sorted."""
    home: dict[int, set[int]] = {}
    for a, b in pairs:
        together = home.get(a, {a}) | home.get(b, {b})
        for n in together:
            home[n] = together
    return tuple(sorted({tuple(sorted(group)) for group in home.values()}))
