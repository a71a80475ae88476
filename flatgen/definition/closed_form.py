"""The flat by arithmetic alone: the independent check of the unfolded solid.

.. math:: developed\\ length = \\sum legs - \\sum setbacks + \\sum allowances

This path knows no geometry beyond the setback formula; :mod:`flatgen.definition.section` knows no setback.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Loop, Point
from flatgen.definition.limits import EDGE
from flatgen.definition.model import AcrossFrom, AlongFrom, Opening, Profile, opening_loop, turned
from flatgen.metal.allowance import Dimensions, setback


@dataclass(frozen=True)
class Closed:
    """A developed chain, from its left edge at x = 0.

    ``flats`` [mm] are the legs between tangent lines, ``zones`` [mm] the x of the two tangent lines of
    each bend, ``width`` [mm] the developed length.
    """

    flats: tuple[float, ...]
    zones: tuple[tuple[float, float], ...]
    width: float


def flat_lengths(profile: Profile) -> tuple[float, ...]:
    """Each leg less the setbacks at its ends, each end by its own bend; can be negative.

    :returns: flat between tangent lines or edges, one per leg [mm]
    """
    return tuple(
        leg.length
        - math.fsum(setback(b.angle, b.inside_radius, profile.thickness, leg.dimensions) for b in profile.bends_at(i))
        for i, leg in enumerate(profile.legs)
    )


def develop(profile: Profile) -> Closed:
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
    return Closed(flats, tuple(zones), math.fsum(lengths))


def require_chain(profile: Profile) -> None:
    """Refuse a part whose legs branch.

    :raises InputRefused: If the part is not a chain (FG041)
    """
    if not profile.is_chain:
        text = "the legs branch, and only a section without branches can be developed yet"
        raise InputRefused(Fault("FG041", profile.path, text, "write the part as one section"))


@dataclass(frozen=True)
class Limits:
    """Between what a place on a leg is measured: the flat, and beyond its tangent lines the setbacks [mm].

    A setback is 0 where the leg ends with an edge of the part.
    """

    left: float
    flat: float
    right: float

    @property
    def width(self) -> float:
        """From limit to limit [mm]."""
        return self.left + self.flat + self.right


def leg_limits(profile: Profile, flat: float, leg: int, dimensions: Dimensions) -> Limits:
    """The limits of a leg of a chain, as ``dimensions`` draws them.

    :param flat: the leg's flat, of :func:`flat_lengths` [mm]
    """

    def at(bend: int) -> float:
        if not 0 <= bend < len(profile.bends):
            return 0.0
        spec = profile.bends[bend]
        return setback(spec.angle, spec.inside_radius, profile.thickness, dimensions)

    return Limits(at(leg - 1), flat, at(leg))


def measured(value: float, start: AcrossFrom | AlongFrom, width: float) -> float:
    """A size from one end of a width, from its other end, or from its middle, told from its left or bottom end.

    :param value: as written [mm]
    :param start: from where
    :param width: from limit to limit [mm]
    :returns: from the left or bottom limit [mm]

    >>> [measured(3.0, start, 10.0) for start in ("left", "right", "middle")]
    [3.0, 7.0, 8.0]
    """
    if start in ("left", "bottom"):
        return value
    return width - value if start in ("right", "top") else width / 2 + value


def opening_centre(profile: Profile, opening: Opening) -> Point | None:
    """Where the centre of an opening lies in the flat of the definition, its lower left corner at (0, 0).

    x = the flats and allowances left of the leg + the place from the leg's left limit - the setback there.

    :returns: the centre, None if it lies beyond a tangent line of its leg [mm]
    :raises InputRefused: If the part is not a chain (FG041)
    """
    return _centre(profile, develop(profile), opening)


def opening_centres(profile: Profile) -> tuple[Point | None, ...]:
    """:func:`opening_centre` of all openings of a part.

    :returns: one per opening [mm]
    """
    closed = develop(profile)
    return tuple(_centre(profile, closed, o) for o in profile.openings)


def flat_openings(profile: Profile) -> tuple[Loop | None, ...]:
    """The openings in the flat of the definition, as they are on the legs that they are placed on.

    What an opening takes out of further legs (``through``) is not among them.

    :returns: one outline per opening, clockwise; None where it reaches beyond a tangent line [mm]
    :raises InputRefused: If the part is not a chain (FG041)
    """
    closed = develop(profile)
    return tuple(_placed(profile, closed, o) for o in profile.openings)


def _centre(profile: Profile, closed: Closed, opening: Opening) -> Point | None:
    place = opening.place
    limits = leg_limits(profile, closed.flats[place.leg], place.leg, place.dimensions)
    on_flat = measured(place.across, place.across_from, limits.width) - limits.left
    if not -EDGE <= on_flat <= limits.flat + EDGE:
        return None
    return (_start(closed, place.leg) + on_flat, measured(place.along, place.along_from, profile.length))


def _placed(profile: Profile, closed: Closed, opening: Opening) -> Loop | None:
    centre = _centre(profile, closed, opening)
    if centre is None:
        return None
    loop = opening_loop(opening).moved(turned(0.0, *centre))
    x0, _, x1, _ = loop.box()
    start = _start(closed, opening.place.leg)
    on_flat = start - EDGE <= x0 and x1 <= start + closed.flats[opening.place.leg] + EDGE
    return loop if on_flat else None


def _start(closed: Closed, leg: int) -> float:
    return closed.zones[leg - 1][1] if leg else 0.0
