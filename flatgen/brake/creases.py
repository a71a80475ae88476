"""The bends of a blank as the brake sees them, from a definition by arithmetic or from any flat; and their held sides.

The first side of a crease is the left one (the lower one where the bend runs across).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from flatgen.brake import geometry
from flatgen.core.flat_pattern import Bend, FlatPattern, Point, leg_panels
from flatgen.core.schedule import Crease, Side, WhichSide
from flatgen.core.shop import Brake, SetUp, Shop
from flatgen.definition.closed_form import DevelopedChain
from flatgen.definition.model import Profile
from flatgen.definition.part import Part

SQUARE = 1e-9
"""A direction whose other component is smaller runs along an axis."""
PARALLEL = 1e-6
FINE = 0.001
"""Arcs of an outline are followed as closely as this [mm]."""
LEAST_FLAT = 2.0
"""Flat to hold or to swing where the shop file says no other, in thicknesses: common practice, no source."""
LEAST_ARM = 0.5
"""Where the face ends nearer, a load is worked out for a bearing this far from the tangent line, in thicknesses."""


def creases_of_profile(profile: Profile, closed: DevelopedChain) -> tuple[Crease, ...]:
    """Creases of a chain by arithmetic, in the order of its bends; cuts are not seen."""
    creases = []
    for n, (bend, (low, high)) in enumerate(zip(profile.bends, closed.zones, strict=True)):
        first = Side(n, low, closed.flats[n], low)
        second = Side(n + 1, high, closed.flats[n + 1], closed.width - high)
        creases.append(
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
    return tuple(creases)


def creases_of_flat(part: Part, flat: FlatPattern) -> tuple[Crease, ...]:
    """Creases of any flat, trees too, from where its metal lies, in the order of its bends, which is the part's."""
    panels = leg_panels(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    leg_of = {panel: leg for leg, panel in enumerate(panels)}
    metal = [[p for r in panel.regions for p in r.outline.points(FINE)] for panel in flat.panels]
    creases = []
    for bend, spec in zip(flat.bends, part.bends, strict=True):
        crease = _crease(flat, bend, leg_of, metal)
        creases.append(replace(crease, label=spec.label, hold=spec.hold, where=spec.where))
    return tuple(creases)


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
    reached, todo = {start}, [start]
    while todo:
        here = todo.pop()
        for other in flat.bends:
            if other is not bend and here in (other.first, other.second):
                there = other.second if other.first == here else other.first
                if there not in reached:
                    reached.add(there)
                    todo.append(there)
    return reached


def sorting_size(size: float) -> float:
    """A size [mm] for sorting, to a micron from an odd origin: what differs by a rounding error is equal.

    >>> sorting_size(0.0005 - 1e-13) == sorting_size(0.0005 + 1e-13)
    True
    """
    return round(size + 0.000_137, 3)


def inward_rank(crease: Crease) -> float:
    """For sorting bends from the edges of the blank inward [mm]."""
    return sorting_size(min(crease.first.reach, crease.second.reach))


def other_side(which: WhichSide) -> WhichSide:
    """The side across a bend."""
    return "second" if which == "first" else "first"


@dataclass(frozen=True)
class Placement:
    """How a crease lies in the brake: the side held, why, and the flats [mm] of both sides at that moment.

    ``reference``: the leg beside it whose dimension matters and that is swung all the same.
    """

    crease: Crease
    held: WhichSide
    why: str
    held_flat: float
    swung_flat: float
    reference: int | None = None

    @property
    def swung(self) -> WhichSide:
        return other_side(self.held)

    def arm(self, angle: float, radius: float, thickness: float, setup: SetUp, shop: Shop) -> float:
        """From the swung tangent line to where the leaf bears, at least half a thickness [mm].

        :param angle, radius: of the bend at full swing, [deg] [mm]
        """
        nearest = min(remaining_face(angle, radius, thickness, setup, shop.brake), self.swung_flat)
        return max(nearest, LEAST_ARM * thickness)


def remaining_face(angle: float, radius: float, thickness: float, setup: SetUp, brake: Brake) -> float:
    """From the swung tangent line to the outer edge of the leaf's face, negative where beyond [mm].

    :param angle, radius: of the bend at full swing, [deg] [mm]
    """
    angle = min(angle, geometry.LARGEST_SWUNG)
    corner = geometry.corner_on_leaf(brake.hinge, setup.leaf.drop, angle)
    return setup.leaf.face - corner - (radius + thickness) * geometry.half_tangent(angle)


def least_hold(brake: Brake, thickness: float) -> float:
    """Least flat under the nose: the user's, else two thicknesses [mm]."""
    return LEAST_FLAT * thickness if brake.least_hold is None else brake.least_hold


def least_swing(brake: Brake, thickness: float) -> float:
    """Least flat on the leaf: the user's, else two thicknesses [mm]."""
    return LEAST_FLAT * thickness if brake.least_swing is None else brake.least_swing


def place_creases(part: Part, ordered: Sequence[Crease], shop: Shop, setup: SetUp) -> tuple[Placement, ...]:
    """The held side of each bend, when they are bent in this order."""
    wanted = set(part.reference_legs)
    placements = []
    for n, crease in enumerate(ordered):
        flat_of: dict[WhichSide, float] = {
            "first": _free_flat(crease, "first", ordered[n + 1 :]),
            "second": _free_flat(crease, "second", ordered[n + 1 :]),
        }
        held, why = _choose_side(crease, flat_of, wanted, part.thickness, shop, setup)
        swung = other_side(held)
        missed = crease.side(swung).leg in wanted and crease.side(held).leg not in wanted
        placements.append(
            Placement(crease, held, why, flat_of[held], flat_of[swung], crease.side(swung).leg if missed else None)
        )
    return tuple(placements)


def _choose_side(
    crease: Crease, flat_of: dict[WhichSide, float], wanted: set[int], thickness: float, shop: Shop, setup: SetUp
) -> tuple[WhichSide, str]:
    both: tuple[WhichSide, WhichSide] = ("first", "second")
    forced = [w for w in both if crease.side(w).leg == crease.hold]
    if forced:
        return forced[0], "as asked"
    can: list[WhichSide] = [w for w in both if _can_hold(crease, w, flat_of, thickness, shop, setup)]
    matters = [w for w in can if crease.side(w).leg in wanted]
    if len(matters) == 1:
        return matters[0], "its dimension matters"
    among = can or list(both)
    best = max(among, key=lambda w: (sorting_size(crease.side(w).reach), w == "first"))
    return best, "more of the blank lies on it" if len(among) == 2 else "the other side cannot be held"


def _can_hold(
    crease: Crease, held: WhichSide, flat_of: dict[WhichSide, float], thickness: float, shop: Shop, setup: SetUp
) -> bool:
    brake = shop.brake
    fits = brake.throat is None or crease.side(held).reach + setup.clamp.nose_radius <= brake.throat
    holds = flat_of[held] >= least_hold(brake, thickness)
    return fits and holds and flat_of[other_side(held)] >= least_swing(brake, thickness)


def _free_flat(crease: Crease, which: WhichSide, later: Sequence[Crease]) -> float:
    """Flat beyond a tangent line while the later bends are not made: on through their zones."""
    side = crease.side(which)
    onward = [c for c in later if c is not crease and parallel(c, crease)]
    beyond = [c for c in onward if _nearer(c, which).leg == side.leg and _farther_out(c, crease, which)]
    if len(beyond) != 1:
        return side.flat
    return side.flat + beyond[0].allowance + _free_flat(beyond[0], which, later)


def _nearer(crease: Crease, which: WhichSide) -> Side:
    """The side of a further crease that one comes to first, going outward to ``which`` side."""
    return crease.second if which == "first" else crease.first


def parallel(one: Crease, other: Crease) -> bool:
    """Whether two creases run the same way, or the opposite one."""
    return abs(abs(one.across[0] * other.across[0] + one.across[1] * other.across[1]) - 1) < PARALLEL


def _farther_out(one: Crease, other: Crease, which: WhichSide) -> bool:
    if which == "first":
        return one.second.tangent <= other.first.tangent
    return one.first.tangent >= other.second.tangent
