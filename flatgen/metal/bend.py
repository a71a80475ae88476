"""The closed forms of one bend: setback, bend allowance, bend deduction, K.

A        bend angle, the angle that the metal is turned through [deg]
r, t     inside radius and thickness [mm]
SB       setback, from mould line (or from where the drawing dimensions to) to tangent line, along the leg
BA       bend allowance, developed length of the curve along the neutral fibre
BD       bend deduction, 2 SB - BA
K        distance of the neutral fibre from the inside face, as a share of the thickness

A wrong argument is ``ValueError``: it comes from code. This module imports nothing of ours.
"""

from __future__ import annotations

import math
from typing import Literal

Dimensions = Literal["mould-line", "inside", "overall", "inside-overall"]


def setback(angle: float, r: float, t: float, dimensions: Dimensions = "mould-line") -> float:
    r"""Setback of one bend, from where the leg is dimensioned to down to the tangent line.

    .. math:: SB = (r + t) \tan(A/2)

    to the mould line; ``inside`` has r in place of r + t; the ``overall`` ones have min(A, 90) in place
    of A, since above 90 degrees drawings dimension to the outer (or inner) tangent.

    Parameters
    ----------
    angle : float
        Bend angle, 0 < angle <= 180, and < 180 unless an overall way to dimension, [deg]
    r : float
        Inside radius, >= 0, [mm]
    t : float
        Thickness, > 0, [mm]
    dimensions : str
        How the leg is dimensioned, [-]

    Returns
    -------
    float
        Setback, [mm]

    Raises
    ------
    ValueError
        If the angle has no mould line, or an argument is out of range.

    Examples
    --------
    FAA-H-8083-31 ch. 4, U-channel: R .16, T .040 in, 90 degrees, SB 0.20 in; tan 45 is 1.

    >>> setback(90, r=0.16, t=0.040)
    0.2
    >>> setback(120, r=1, t=1, dimensions="overall")
    2.0
    """
    check_bend(angle, r, t)
    if dimensions in ("overall", "inside-overall"):
        half = math.radians(min(angle, 90.0)) / 2
    elif angle < 180:
        half = math.radians(angle) / 2
    else:
        raise ValueError("a bend of 180 degrees has no mould line: dimension it overall")
    return (r if dimensions in ("inside", "inside-overall") else r + t) * math.tan(half)


def bend_allowance(angle: float, r: float, t: float, *, k: float) -> float:
    r"""Length of flat sheet that one bend uses, along the neutral fibre.

    .. math:: BA = \frac{\pi A}{180} (r + K t)

    Parameters
    ----------
    angle : float
        Bend angle, 0 < angle <= 180, [deg]
    r : float
        Inside radius, >= 0, [mm]
    t : float
        Thickness, > 0, [mm]
    k : float
        Place of the neutral fibre from the inside face, as a share of t, [-]

    Returns
    -------
    float
        Bend allowance, [mm]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Examples
    --------
    By hand, 90 degrees, neutral fibre at mid thickness: (pi/2)(3 + 0.5*2) = 2 pi.

    >>> bend_allowance(90, r=3, t=2, k=0.5)
    6.283185307
    """
    check_bend(angle, r, t)
    return math.radians(angle) * (r + k * t)


def bend_deduction(angle: float, r: float, t: float, *, k: float, dimensions: Dimensions = "mould-line") -> float:
    r"""What the blank is shorter than the sum of its legs, for one bend.

    .. math:: BD = 2 SB - BA

    Parameters
    ----------
    angle : float
        Bend angle, 0 < angle <= 180, [deg]
    r : float
        Inside radius, >= 0, [mm]
    t : float
        Thickness, > 0, [mm]
    k : float
        Place of the neutral fibre from the inside face, as a share of t, [-]
    dimensions : str
        How the legs are dimensioned, [-]

    Returns
    -------
    float
        Bend deduction; negative where the blank is longer than its legs, [mm]

    Raises
    ------
    ValueError
        If the angle has no mould line, or an argument is out of range.

    Examples
    --------
    By hand, 90 degrees, r = 3, t = 2, mid thickness: 2 * 5 - 2 pi.

    >>> bend_deduction(90, r=3, t=2, k=0.5)
    3.716814693
    """
    return 2 * setback(angle, r, t, dimensions) - bend_allowance(angle, r, t, k=k)


def effective_k(length: float, angle: float, r: float, t: float) -> float:
    """K that gives a bend allowance: (BA / A - r) / t, A in radians.

    Parameters
    ----------
    length : float
        Bend allowance, [mm]
    angle : float
        Bend angle, 0 < angle <= 180, [deg]
    r : float
        Inside radius, >= 0, [mm]
    t : float
        Thickness, > 0, [mm]

    Returns
    -------
    float
        Effective K, [-]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Examples
    --------
    >>> effective_k(math.tau, angle=90, r=3, t=2)
    0.5
    """
    check_bend(angle, r, t)
    return (length / math.radians(angle) - r) / t


def check_bend(angle: float, r: float, t: float) -> None:
    """Refuse arguments that are no bend: 0 < A <= 180 [deg], r >= 0 [mm], t > 0 [mm].

    Parameters
    ----------
    angle : float
        Bend angle, [deg]
    r : float
        Inside radius, [mm]
    t : float
        Thickness, [mm]

    Raises
    ------
    ValueError
        If one is out of range.
    """
    if not 0 < angle <= 180:
        raise ValueError(f"bend angle {angle} is not above 0 and up to 180")
    if not (0 <= r < math.inf and 0 < t < math.inf):
        raise ValueError(f"inside radius {r} or thickness {t} out of range")
