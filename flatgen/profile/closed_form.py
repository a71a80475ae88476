"""The flat by arithmetic alone: the independent check of the unfolded solid.

.. math:: developed\\ length = \\sum legs - \\sum setbacks + \\sum allowances

This path knows no geometry beyond the setback formula; :mod:`flatgen.profile.trace` knows no setback.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.errors import Fault, InputRefused
from flatgen.metal.allowance import setback
from flatgen.profile.model import Profile


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

    Parameters
    ----------
    profile : Profile
        The part, [-]

    Returns
    -------
    tuple[float, ...]
        Flat between tangent lines or edges, one per leg, [mm]
    """
    return tuple(
        leg.length
        - math.fsum(setback(b.angle, b.inside_radius, profile.thickness, leg.dimensions) for b in profile.bends_at(i))
        for i, leg in enumerate(profile.legs)
    )


def develop(profile: Profile) -> Closed:
    """Develop a chain by arithmetic.

    Parameters
    ----------
    profile : Profile
        The part, [-]

    Returns
    -------
    Closed
        Flats, tangent lines and width, [mm]

    Raises
    ------
    InputRefused
        If the part is not a chain (FG041)
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

    Parameters
    ----------
    profile : Profile
        The part, [-]

    Raises
    ------
    InputRefused
        If the part is not a chain (FG041)
    """
    if not profile.is_chain:
        text = "the legs branch, and only a section without branches can be developed yet"
        raise InputRefused(Fault("FG041", profile.path, text, "write the part as one section"))
