"""A beam of the brake under a part: a centred patch of even line load, over sections that may bend askew.

push     line load on a beam [N/mm], with its components along the section's x and y (see ``machine.Section``)
patch    the length of the part, in the middle of the beam's span

Second moments act as a tensor: a section whose ixy is not 0 (an angle) that is loaded along y alone bends along y by
Ix - Ixy2/Iy, and along x besides, unless it is held sideways. Closed forms for the whole span as in any book on
strength of materials; those for the centred patch are derived and checked against a solver in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.core.shop import Beam, Section


def patch_deflection(line_load: float, width: float, span: float, stiffness: float, *, built_in: bool = False) -> float:
    r"""Deflection at mid span under a centred patch of even line load.

    .. math:: \delta = \frac{q w (8 L^3 - 4 L w^2 + w^3)}{384 E I}
              \quad\text{built in: } \frac{q w (2 L^3 - 2 L w^2 + w^3)}{384 E I}

    Parameters
    ----------
    line_load : float
        q, [N/mm]
    width : float
        Of the patch, 0 to span, [mm]
    span : float
        Between the supports, > 0, [mm]
    stiffness : float
        E I, > 0, [N mm2]
    built_in : bool
        Whether the ends are held against turning, [-]

    Returns
    -------
    float
        Deflection at mid span, [mm]

    Raises
    ------
    ValueError
        If the patch is wider than the span, or an argument is out of range.

    Examples
    --------
    E 205000 MPa, I 200000 mm4, span 900 mm, 20 N/mm over the middle 600 mm.

    >>> patch_deflection(20, 600, 900, 205e3 * 2e5)
    3.6220
    """
    if not 0 <= width <= span or span <= 0 or stiffness <= 0:
        raise ValueError(f"no beam: patch {width:g}, span {span:g}, stiffness {stiffness:g}")
    cubes = (2 if built_in else 8) * span**3 - (2 if built_in else 4) * span * width**2 + width**3
    return line_load * width * cubes / (384 * stiffness)


def patch_moment(line_load: float, width: float, span: float, *, built_in: bool = False) -> float:
    r"""Largest bending moment of a beam under a centred patch of even line load, without its sign.

    .. math:: M = q w (2 L - w) / 8 \quad\text{built in: less at mid span by, and at the ends, } q w (3L^2 - w^2)/(24 L)

    Parameters
    ----------
    line_load, width, span, built_in
        As in :func:`patch_deflection`

    Returns
    -------
    float
        Moment, [N mm]

    Examples
    --------
    By hand, q L2/8 and q L2/12.

    >>> patch_moment(1, 12, 12), patch_moment(1, 12, 12, built_in=True)
    (18.0, 12.0)
    """
    middle = line_load * width * (2 * span - width) / 8
    if not built_in:
        return abs(middle)
    end = line_load * width * (3 * span**2 - width**2) / (24 * span)
    return max(abs(end), abs(middle - end))


@dataclass(frozen=True)
class Push:
    """Line load on a beam [N/mm], along the section's ``x`` and ``y``."""

    x: float
    y: float


@dataclass(frozen=True)
class Bent:
    """``deflection`` [mm] at mid span under the last push, square to the leaf; ``stress`` [MPa] at most of all."""

    deflection: float
    stress: float


def _curved(section: Section, push: Push, *, held: bool) -> tuple[float, float]:
    """Load divided by second moments, along x and y: by the tensor of both, so that an angle bends askew."""
    ixy = 0.0 if held else section.ixy
    size = section.ix * section.iy - ixy**2
    if size <= 0 or section.ix <= 0:
        raise ValueError(f"no section: ix {section.ix:g}, iy {section.iy:g}, ixy {ixy:g}")
    return (section.ix * push.x - ixy * push.y) / size, (section.iy * push.y - ixy * push.x) / size


def bent(beam: Beam | None, length: float, pushes: tuple[Push, ...], leaf_angle: float) -> Bent | None:
    """A beam under a centred patch; the stress is that of the corner of its box, at most what the section has."""
    if beam is None:
        return None
    width, section = min(length, beam.span), beam.section
    moment = patch_moment(1.0, width, beam.span, built_in=beam.built_in)
    curved = [_curved(section, push, held=beam.sideways_held) for push in pushes]
    stress = max(moment * (abs(x) * section.far_x + abs(y) * section.far_y) for x, y in curved)
    x, y = curved[-1]
    th = math.radians(leaf_angle)
    square = y * math.cos(th) - x * math.sin(th)
    deflection = patch_deflection(square, width, beam.span, beam.modulus, built_in=beam.built_in)
    return Bent(deflection, stress)
