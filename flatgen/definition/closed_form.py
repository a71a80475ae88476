r"""The flat by arithmetic alone: the independent check of the unfolded solid.

.. math:: developed\ length = \sum legs - \sum setbacks + \sum allowances

No geometry beyond the setback formula; :mod:`flatgen.definition.section` uses no setback.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Loop, Point
from flatgen.definition.limits import EDGE
from flatgen.definition.model import AcrossFrom, AlongFrom, Opening, Profile, opening_loop, rigid_move
from flatgen.metal.allowance import Dimensions, setback


@dataclass(frozen=True)
class DevelopedChain:
    """A developed chain, from its left edge at x = 0 [mm].

    ``flats``: the legs between tangent lines; ``zones``: x of the two tangent lines of each bend; ``width``: the
    developed length.
    """

    flats: tuple[float, ...]
    zones: tuple[tuple[float, float], ...]
    width: float


def flat_lengths(profile: Profile) -> tuple[float, ...]:
    """Each leg [mm] less the setbacks at its ends, each end by its own bend; can be negative."""
    return tuple(
        leg.length
        - math.fsum(setback(b.angle, b.inside_radius, profile.thickness, leg.dimensions) for b in profile.bends_at(i))
        for i, leg in enumerate(profile.legs)
    )


def develop(profile: Profile) -> DevelopedChain:
    """Develop a chain by arithmetic.

    :raises InputRefused: If the part is not a chain (FG041)
    """
    require_chain(profile)
    flats = flat_lengths(profile)
    zones: list[tuple[float, float]] = []
    lengths = [flats[0]]
    for bend, flat in zip(profile.bends, flats[1:], strict=True):
        start = math.fsum(lengths)
        lengths += [bend.allowance.length, flat]
        zones.append((start, start + bend.allowance.length))
    return DevelopedChain(flats, tuple(zones), math.fsum(lengths))


def require_chain(profile: Profile) -> None:
    """Refuse a part whose legs branch.

    :raises InputRefused: If the part is not a chain (FG041)
    """
    if not profile.is_chain:
        text = "the legs branch, and only a section without branches can be developed yet"
        raise InputRefused(Fault("FG041", profile.path, text, "write the part as one section"))


@dataclass(frozen=True)
class LegLimits:
    """What a place on a leg is measured in [mm]: its flat, and left and right of it the setbacks, 0 at an edge."""

    left: float
    flat: float
    right: float

    @property
    def width(self) -> float:
        """From limit to limit [mm]."""
        return self.left + self.flat + self.right


def leg_limits(profile: Profile, flat: float, leg: int, dimensions: Dimensions) -> LegLimits:
    """The limits of a leg of a chain, as ``dimensions`` draws them; ``flat`` is its flat [mm]."""
    beside = (profile.bends[n] if 0 <= n < len(profile.bends) else None for n in (leg - 1, leg))
    left, right = (setback(b.angle, b.inside_radius, profile.thickness, dimensions) if b else 0.0 for b in beside)
    return LegLimits(left, flat, right)


def from_low_end(value: float, start: AcrossFrom | AlongFrom, width: float) -> float:
    """A size from ``start`` as a size from the left or bottom limit [mm].

    :param width: from limit to limit [mm]

    >>> [from_low_end(3.0, start, 10.0) for start in ("left", "right", "middle")]
    [3.0, 7.0, 8.0]
    """
    if start in ("left", "bottom"):
        return value
    return width - value if start in ("right", "top") else width / 2 + value


def opening_centre(profile: Profile, opening: Opening, chain: DevelopedChain | None = None) -> Point | None:
    """Where the centre of an opening lies in the flat, whose lower left corner is (0, 0) [mm].

    x = the flats and allowances left of the leg + the place from the leg's left limit - the setback there.

    :param chain: the part developed, where that is at hand
    :returns: None if it lies beyond a tangent line of its leg
    :raises InputRefused: If the part is not a chain (FG041)
    """
    chain, place = chain or develop(profile), opening.place
    limits = leg_limits(profile, chain.flats[place.leg], place.leg, place.dimensions)
    on_flat = from_low_end(place.across, place.across_from, limits.width) - limits.left
    if not -EDGE <= on_flat <= limits.flat + EDGE:
        return None
    return (_start(chain, place.leg) + on_flat, from_low_end(place.along, place.along_from, profile.length))


def opening_centres(profile: Profile) -> tuple[Point | None, ...]:
    """:func:`opening_centre` of each opening of a part [mm]."""
    chain = develop(profile)
    return tuple(opening_centre(profile, o, chain) for o in profile.openings)


def flat_openings(profile: Profile) -> tuple[Loop | None, ...]:
    """The outline of each opening in the flat, clockwise [mm]; None where it reaches beyond a tangent line.

    What an opening takes out of further legs (``through``) is not among them.

    :raises InputRefused: If the part is not a chain (FG041)
    """
    chain = develop(profile)
    return tuple(_placed(profile, chain, o) for o in profile.openings)


def _placed(profile: Profile, chain: DevelopedChain, opening: Opening) -> Loop | None:
    centre = opening_centre(profile, opening, chain)
    if centre is None:
        return None
    loop = opening_loop(opening).moved(rigid_move(0.0, *centre))
    x0, _, x1, _ = loop.box()
    start = _start(chain, opening.place.leg)
    on_flat = start - EDGE <= x0 and x1 <= start + chain.flats[opening.place.leg] + EDGE
    return loop if on_flat else None


def _start(chain: DevelopedChain, leg: int) -> float:
    return chain.zones[leg - 1][1] if leg else 0.0
