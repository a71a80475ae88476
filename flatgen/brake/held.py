"""Which side of each bend lies under the clamp bar, and how much flat both sides have at that moment.

A side can be held if its flat takes the nose and the blank behind it finds room in the throat; it can be swung if
its flat reaches onto the leaf. Of two that can, the one with more of the blank is held: it lies quiet on the bed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flatgen.brake import geometry
from flatgen.core.schedule import Crease, Side, Which
from flatgen.core.shop import Brake, SetUp, Shop
from flatgen.definition.part import Part

LEAST_FLAT = 2.0
"""Flat to hold or to swing where the shop file says no other, in thicknesses: common practice, no source."""
LEAST_ARM = 0.5
"""Where the face ends nearer, a load is worked out for a bearing this far from the tangent line, in thicknesses."""
PARALLEL = 1e-6


def told_apart(size: float) -> float:
    """A size for sorting: what differs by a rounding error is equal, neat sizes too.

    Parameters
    ----------
    size : float
        Any, [mm]

    Returns
    -------
    float
        To a micron, from an odd origin, [mm]

    Examples
    --------
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

        Parameters
        ----------
        angle, radius : float
            Of the bend at full swing, [deg], [mm]
        thickness : float
            Of the sheet, [mm]
        setup : SetUp
            The set-up, [mm]
        shop : Shop
            The brake, [mm]

        Returns
        -------
        float
            At least half a thickness, and no more than the flat that is there, [mm]
        """
        nearest = min(face_left(angle, radius, thickness, setup, shop.brake), self.swung_flat)
        return max(nearest, LEAST_ARM * thickness)


def face_left(angle: float, radius: float, thickness: float, setup: SetUp, brake: Brake) -> float:
    """From the swung tangent line to the outer edge of the leaf's face, negative where beyond.

    Parameters
    ----------
    angle, radius : float
        Of the bend at full swing, [deg], [mm]
    thickness : float
        Of the sheet, [mm]
    setup : SetUp
        The set-up, [mm]
    brake : Brake
        The brake, [mm]

    Returns
    -------
    float
        Along the face, [mm]
    """
    angle = min(angle, geometry.LARGEST_SWUNG)
    corner = geometry.on_leaf(brake.hinge, setup.leaf.drop, angle)
    return setup.leaf.face - corner - (radius + thickness) * geometry.half_tangent(angle)


def least_hold(brake: Brake, thickness: float) -> float:
    """Least flat under the nose.

    Parameters
    ----------
    brake : Brake
        The brake, [mm]
    thickness : float
        Of the sheet, [mm]

    Returns
    -------
    float
        The user's, else two thicknesses, [mm]
    """
    return LEAST_FLAT * thickness if brake.least_hold is None else brake.least_hold


def least_swing(brake: Brake, thickness: float) -> float:
    """Least flat on the leaf.

    Parameters
    ----------
    brake : Brake
        The brake, [mm]
    thickness : float
        Of the sheet, [mm]

    Returns
    -------
    float
        The user's, else two thicknesses, [mm]
    """
    return LEAST_FLAT * thickness if brake.least_swing is None else brake.least_swing


def held_sides(part: Part, ordered: Sequence[Crease], shop: Shop, setup: SetUp) -> tuple[Lay, ...]:
    """The held side of each bend, in the order of bending.

    Parameters
    ----------
    part : Part
        The part; gives the legs whose dimension matters, [-]
    ordered : Sequence[Crease]
        Its bends in the order of bending, [mm]
    shop : Shop
        The brake, [mm]
    setup : SetUp
        The set-up, [mm]

    Returns
    -------
    tuple[Lay, ...]
        One per bend, [mm]
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
    """Flat beyond a tangent line while the later bends are not made: on through their zones.

    Where bends are not parallel only the leg beside the bend counts.
    """
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
