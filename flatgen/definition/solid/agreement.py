"""The closed form against the unfolded solid: two computations of the blank, of every line and of every opening.

The closed form lies with the lower left corner of the *uncut* blank at (0, 0), the flat with that of what is
left of it; the shift between the two comes from where the root leg lies in the formed part.
"""

from __future__ import annotations

import numpy as np

from flatgen.core.errors import Fault, IdentityFailed
from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.definition.closed_form import develop, opening_centres
from flatgen.definition.model import Profile
from flatgen.definition.section import Trace
from flatgen.definition.solid.counterparts import OpeningHome

AGREE = 1e-6
"""The two may differ by so much [mm]."""


def require_agreement(profile: Profile, flat: FlatPattern, found: Trace, homes: tuple[OpeningHome, ...]) -> None:
    """Blank, both tangent lines of every bend, and the centre of every opening that lies on its leg's flat.

    Of a part with cuts the blank can only be smaller.

    Parameters
    ----------
    profile : Profile
        The part, sizes in [mm]
    flat : FlatPattern
        Its flat, named, [mm]
    found : Trace
        The formed section that its solid was built from, [mm]
    homes : tuple[OpeningHome, ...]
        Where its openings are, [mm]

    Raises
    ------
    IdentityFailed
        FG900 with both numbers of each that disagrees.
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

    Parameters
    ----------
    profile : Profile
        The part, sizes in [mm]
    flat : FlatPattern
        Its flat, whose root panel is the root leg, [mm]
    found : Trace
        The formed section that its solid was built from, [mm]

    Returns
    -------
    Point
        (0, 0) for a part without cuts, [mm]
    """
    closed = develop(profile)
    leg = found.root
    start = closed.zones[leg - 1][1] if leg else 0.0
    inverse = np.linalg.inv(flat.panels[flat.root].placed)
    x, y = (inverse @ (0.0, 0.0, flat.thickness, 1.0))[:2]  # the root leg's left end, at the bottom of the part
    return (float(x) - start, float(y))


def _sizes(profile: Profile, flat: FlatPattern) -> list[tuple[str, float, float]]:
    return [("width", develop(profile).width, flat.width), ("length", profile.length, flat.length)]
