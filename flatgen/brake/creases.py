"""The bends of a blank as the brake sees them: from a definition by arithmetic alone, or from any flat.

The first side of a crease is the left one (the lower one where the bend runs across). A definition's creases are
the same both ways; a test says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from flatgen.brake import geometry
from flatgen.core.flat_pattern import Bend, FlatPattern, Point, legs_of
from flatgen.core.schedule import Crease, Side, Which
from flatgen.core.shop import Brake, SetUp, Shop
from flatgen.definition.closed_form import Closed
from flatgen.definition.model import Profile
from flatgen.definition.part import Part

SQUARE = 1e-9
"""A direction whose other component is smaller runs along an axis."""

FINE = 0.001
"""Arcs of an outline are followed as closely as this [mm]."""


def creases_of_profile(profile: Profile, closed: Closed) -> tuple[Crease, ...]:
    """Creases of a chain by arithmetic; cuts are not seen.

    :returns: in the order of its bends [mm]
    """
    found = []
    for n, (bend, (low, high)) in enumerate(zip(profile.bends, closed.zones, strict=True)):
        first = Side(n, low, closed.flats[n], low)
        second = Side(n + 1, high, closed.flats[n + 1], closed.width - high)
        found.append(
            Crease(
                label=bend.label,
                angle=bend.angle,
                way=bend.way,
                inside_radius=bend.inside_radius,
                allowance=bend.allowance.length,
                length=profile.length,
                extent=profile.length,
                first=first,
                second=second,
                hold=bend.hold,
                where=bend.where,
            )
        )
    return tuple(found)


def creases_of_flat(part: Part, flat: FlatPattern) -> tuple[Crease, ...]:
    """Creases of any flat, trees too, from where its metal lies.

    :param part: the part of the flat; gives labels and legs to hold
    :param flat: its bends in the order of the part's
    :returns: in the order of the flat's bends [mm]
    """
    panels = legs_of(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    leg_of = {panel: leg for leg, panel in enumerate(panels)}
    metal = [[p for r in panel.regions for p in r.outline.points(FINE)] for panel in flat.panels]
    found = []
    for bend, spec in zip(flat.bends, part.bends, strict=True):
        crease = _crease(flat, bend, leg_of, metal)
        found.append(replace(crease, label=spec.label, hold=spec.hold, where=spec.where))
    return tuple(found)


def _crease(flat: FlatPattern, bend: Bend, leg_of: dict[int, int], metal: list[list[Point]]) -> Crease:
    x, y = bend.across
    turned = x < -SQUARE or (abs(x) <= SQUARE and y < 0)  # the first side is the left one, else the lower
    across = (-x, -y) if turned else (x, y)
    left, right = (bend.second, bend.first) if turned else (bend.first, bend.second)
    low = _along(bend.origin, across) - (bend.allowance if turned else 0.0)
    high = low + bend.allowance
    behind = _beyond(flat, bend, left)
    sides = []
    for panel, group, tangent, sign in (
        (left, behind, low, -1.0),
        (right, set(range(len(flat.panels))) - behind, high, 1.0),
    ):
        own = _farthest(metal[panel], across, sign, tangent)
        whole = _farthest((p for n in group for p in metal[n]), across, sign, tangent)
        sides.append(Side(leg_of[panel], tangent, own, whole))
    start, end = bend.centre
    extent = abs(_along(end, bend.along) - _along(start, bend.along))
    return Crease(
        label=bend.label,
        angle=bend.angle,
        way=bend.way,
        inside_radius=bend.inside_radius,
        allowance=bend.allowance,
        length=bend.length,
        extent=extent,
        first=sides[0],
        second=sides[1],
        across=across,
        ends=bend.centre,
        datum=_datum(across),
    )


def _datum(across: Point) -> str:
    if abs(across[1]) <= SQUARE:
        return "left edge"
    return "lower edge" if abs(across[0]) <= SQUARE else "lower left corner"


def _along(point: Point, way: Point) -> float:
    return point[0] * way[0] + point[1] * way[1]


def _farthest(points: Iterable[Point], across: Point, sign: float, tangent: float) -> float:
    """How far metal reaches beyond a tangent line; 0 where a bare panel has none."""
    return max((sign * (_along(p, across) - tangent) for p in points), default=0.0)


def _beyond(flat: FlatPattern, bend: Bend, start: int) -> set[int]:
    """Panels on one side of a bend."""
    found, todo = {start}, [start]
    while todo:
        here = todo.pop()
        for other in flat.bends:
            if other is not bend and here in (other.first, other.second):
                there = other.second if other.first == here else other.first
                if there not in found:
                    found.add(there)
                    todo.append(there)
    return found


LEAST_FLAT = 2.0
"""Flat to hold or to swing where the shop file says no other, in thicknesses: common practice, no source."""

LEAST_ARM = 0.5
"""Where the face ends nearer, a load is worked out for a bearing this far from the tangent line, in thicknesses."""

PARALLEL = 1e-6


def told_apart(size: float) -> float:
    """A size for sorting: what differs by a rounding error is equal, neat sizes too.

    :param size: any [mm]
    :returns: to a micron, from an odd origin [mm]

    >>> told_apart(0.0005 - 1e-13) == told_apart(0.0005 + 1e-13)
    True
    """
    return round(size + 0.000_137, 3)


@dataclass(frozen=True)
class Lay:
    """How a crease lies in the brake: the side held, why, and the flats [mm] of both sides at that moment.

    ``reference`` is the leg beside it whose dimension matters and that is swung all the same, None where there is
    none.
    """

    crease: Crease
    held: Which
    why: str
    held_flat: float
    swung_flat: float
    reference: int | None = None

    @property
    def swung(self) -> Which:
        return "second" if self.held == "first" else "first"

    def arm(self, angle: float, radius: float, thickness: float, setup: SetUp, shop: Shop) -> float:
        """From the swung tangent line to where the leaf bears: the leg's edge or the leaf's, whichever is nearer.

        :param angle, radius: of the bend at full swing, [deg] [mm]
        :param thickness: of the sheet [mm]
        :returns: at least half a thickness, and no more than the flat that is there [mm]
        """
        nearest = min(face_left(angle, radius, thickness, setup, shop.brake), self.swung_flat)
        return max(nearest, LEAST_ARM * thickness)


def face_left(angle: float, radius: float, thickness: float, setup: SetUp, brake: Brake) -> float:
    """From the swung tangent line to the outer edge of the leaf's face, negative where beyond.

    :param angle, radius: of the bend at full swing, [deg] [mm]
    :param thickness: of the sheet [mm]
    :returns: along the face [mm]
    """
    angle = min(angle, geometry.LARGEST_SWUNG)
    corner = geometry.on_leaf(brake.hinge, setup.leaf.drop, angle)
    return setup.leaf.face - corner - (radius + thickness) * geometry.half_tangent(angle)


def least_hold(brake: Brake, thickness: float) -> float:
    """Least flat under the nose.

    :param thickness: of the sheet [mm]
    :returns: the user's, else two thicknesses [mm]
    """
    return LEAST_FLAT * thickness if brake.least_hold is None else brake.least_hold


def least_swing(brake: Brake, thickness: float) -> float:
    """Least flat on the leaf.

    :param thickness: of the sheet [mm]
    :returns: the user's, else two thicknesses [mm]
    """
    return LEAST_FLAT * thickness if brake.least_swing is None else brake.least_swing


def held_sides(part: Part, ordered: Sequence[Crease], shop: Shop, setup: SetUp) -> tuple[Lay, ...]:
    """The held side of each bend, in the order of bending.

    :param part: the part; gives the legs whose dimension matters
    :param ordered: its bends in the order of bending
    :returns: one per bend [mm]
    """
    wanted = set(part.reference_legs)
    lays = []
    for n, crease in enumerate(ordered):
        flat_of: dict[Which, float] = {
            "first": _clear(crease, "first", ordered[n + 1 :]),
            "second": _clear(crease, "second", ordered[n + 1 :]),
        }
        held, why = _choice(crease, flat_of, wanted, part.thickness, shop, setup)
        swung: Which = "second" if held == "first" else "first"
        missed = crease.side(swung).leg in wanted and crease.side(held).leg not in wanted
        lays.append(Lay(crease, held, why, flat_of[held], flat_of[swung], crease.side(swung).leg if missed else None))
    return tuple(lays)


def _choice(
    crease: Crease, flat_of: dict[Which, float], wanted: set[int], thickness: float, shop: Shop, setup: SetUp
) -> tuple[Which, str]:
    both: tuple[Which, Which] = ("first", "second")
    forced = [w for w in both if crease.side(w).leg == crease.hold]
    if forced:
        return forced[0], "as asked"
    can: list[Which] = [w for w in both if _can_hold(crease, w, flat_of, thickness, shop, setup)]
    matters = [w for w in can if crease.side(w).leg in wanted]
    if len(matters) == 1:
        return matters[0], "its dimension matters"
    among = can or list(both)
    best = max(among, key=lambda w: (told_apart(crease.side(w).reach), w == "first"))
    return best, "more of the blank lies on it" if len(among) == 2 else "the other side cannot be held"


def _can_hold(
    crease: Crease, held: Which, flat_of: dict[Which, float], thickness: float, shop: Shop, setup: SetUp
) -> bool:
    swung: Which = "second" if held == "first" else "first"
    brake = shop.brake
    fits = brake.throat is None or crease.side(held).reach + setup.clamp.nose_radius <= brake.throat
    holds = flat_of[held] >= least_hold(brake, thickness)
    return fits and holds and flat_of[swung] >= least_swing(brake, thickness)


def _clear(crease: Crease, which: Which, later: Sequence[Crease]) -> float:
    """Flat beyond a tangent line while the later bends are not made: on through their zones."""
    side = crease.side(which)
    onward = [c for c in later if c is not crease and _parallel(c, crease)]
    beyond = [c for c in onward if _nearer(c, which).leg == side.leg and _farther_out(c, crease, which)]
    if len(beyond) != 1:
        return side.flat
    return side.flat + beyond[0].allowance + _clear(beyond[0], which, later)


def _nearer(crease: Crease, which: Which) -> Side:
    """The side of a further crease that one comes to first, going outward to ``which`` side."""
    return crease.second if which == "first" else crease.first


def _parallel(one: Crease, other: Crease) -> bool:
    return abs(abs(one.across[0] * other.across[0] + one.across[1] * other.across[1]) - 1) < PARALLEL


def _farther_out(one: Crease, other: Crease, which: Which) -> bool:
    if which == "first":
        return one.second.tangent <= other.first.tangent
    return one.first.tangent >= other.second.tangent
