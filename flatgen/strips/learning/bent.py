"""The bends of a strip in arrays: how each is held, the angle at which all is worked out, setbacks and their growth.

Beside :mod:`rows`, which makes equations of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flatgen.metal.allowance import Dimensions
from flatgen.strips.learning.priors import Prior, expected_k, springback_expected
from flatgen.strips.reading import BendReading, StripReading

Array = NDArray[np.float64]

RADIAN = math.pi / 180
LEAST, LARGEST = 0.05, 179.0
"""Angles are kept between these while setbacks to a mould line are worked out [deg]."""
CORNER = 0.5
"""So near 90 degrees a leg dimensioned overall grows with the angle by a part of either of its formulas [deg]."""


@dataclass(frozen=True)
class Bent:
    """One figure per bend.

    ``held``: +1 first side, -1 second; ``angle`` [deg] at which all is worked out; ``mean`` [deg]: expected from the
    leaf; ``loose`` [deg]: spread of the angle about it; ``sprung``: whether the leaf angle is known; ``k`` [-];
    ``radius``, ``allowance`` [mm]; ``arm`` [-]: a / t.
    """

    held: Array
    angle: Array
    mean: Array
    loose: Array
    sprung: Array
    k: Array
    radius: Array
    allowance: Array
    arm: Array

    @property
    def turned(self) -> Array:
        """The angle in radians."""
        return np.asarray(self.angle * RADIAN)


def thickness_of(strip: StripReading, prior: Prior) -> tuple[float, float]:
    """Thickness of a strip and how well it is known.

    Parameters
    ----------
    strip : StripReading
        The strip, [mm]
    prior : Prior
        What is known before, [-]

    Returns
    -------
    tuple[float, float]
        By micrometer where it was measured, else as bought; its standard deviation, [mm]
    """
    if strip.thickness is not None:
        return strip.thickness, prior.thickness_error
    return strip.nominal, prior.unmeasured * strip.nominal


def bends_of(strip: StripReading, prior: Prior, thickness: float) -> Bent:
    """Bends of a strip in arrays.

    Parameters
    ----------
    strip : StripReading
        The strip, [mm]
    prior : Prior
        What is known before, [-]
    thickness : float
        Of its sheet, [mm]

    Returns
    -------
    Bent
        See there, [mm]
    """
    found = np.array([_bend(strip, bend, prior, thickness) for bend in strip.bends], dtype=float).reshape(-1, 9)
    return Bent(*found.T)


def _bend(strip: StripReading, bend: BendReading, prior: Prior, thickness: float) -> tuple[float, ...]:
    (alpha, _), (beta, _) = springback_expected(prior, strip.metal)
    at = bend.got if bend.got is not None else bend.angle - bend.loss
    at = min(max(at, LEAST), LARGEST if bend.angle < 180 else 180.0)
    if bend.set is not None:
        mean = bend.set - bend.loss - alpha * at - beta * bend.arm / thickness
        loose = prior.angle_scatter
    else:
        mean, loose = at, prior.unset if bend.got is None else prior.angle_error
    k = expected_k(prior, strip.metal, bend.inside_radius, strip.nominal)
    allowance = at * RADIAN * (bend.inside_radius + k * thickness)
    held, sprung = 1.0 if bend.held == "first" else -1.0, float(bend.set is not None)
    return held, at, mean, loose, sprung, k, bend.inside_radius, allowance, bend.arm / thickness


def placing(held: Array) -> Array:
    """What a bend's placement does to each leg: it adds to the held one what it takes from the other.

    Parameters
    ----------
    held : Array
        +1 where the first side is held, -1 where the second, [-]

    Returns
    -------
    Array
        Legs by bends, [-]

    Examples
    --------
    >>> placing(np.array([1.0, -1.0])).tolist()
    [[1.0, 0.0], [-1.0, -1.0], [0.0, 1.0]]
    """
    bends = len(held)
    found = np.zeros((bends + 1, bends))
    index = np.arange(bends)
    found[index, index] = held
    found[index + 1, index] = -held
    return found


def swung_ends(held: Array) -> Array:
    """Which ends of legs are swung: their bend's allowance comes off the leg.

    Parameters
    ----------
    held : Array
        +1 where the first side is held, -1 where the second, [-]

    Returns
    -------
    Array
        Legs by bends, 1 where the leg is swung at this bend, [-]

    Examples
    --------
    >>> swung_ends(np.array([1.0, -1.0])).tolist()
    [[0.0, 0.0], [1.0, 1.0], [0.0, 0.0]]
    """
    return np.clip(-placing(held), 0.0, 1.0)


def blank_share(held: Array) -> Array:
    """How each leg grows with the blank.

    Parameters
    ----------
    held : Array
        +1 where the first side is held, -1 where the second, [-]

    Returns
    -------
    Array
        One figure per leg, their sum is 1, [-]

    Examples
    --------
    >>> blank_share(np.array([1.0, -1.0])).tolist()
    [0.0, 1.0, 0.0]
    """
    far: Array = np.concatenate([[0.0], held < 0, [1.0]]).astype(float)
    return np.asarray(far[1:] - far[:-1])


def flats(strip: StripReading, bent: Bent, prior: Prior) -> Array:
    """Each leg between its tangent lines, with nothing off what is expected.

    Parameters
    ----------
    strip : StripReading
        The strip, [mm]
    bent : Bent
        Its bends, [mm]
    prior : Prior
        What is known before, [-]

    Returns
    -------
    Array
        One figure per leg, [mm]
    """
    first, second = [], []
    planned = _planned(strip)
    for bend, plan, arc in zip(strip.bends, planned, bent.allowance.tolist(), strict=True):
        offset = prior.offsets.get(bend.setup, 0.0)
        tangent = plan if bend.sight is None else bend.sight - bend.nose_radius - offset
        start = tangent if bend.held == "first" else strip.blank - tangent - arc
        first.append(start)
        second.append(start + arc)
    found: Array = np.array([*first, strip.blank]) - np.array([0.0, *second])
    return found


def _planned(strip: StripReading) -> list[float]:
    """Where held tangent lines stand from the held edge if the blank was laid out as asked [mm]."""
    lengths = []
    for n, leg in enumerate(strip.legs):
        beside = [b for i, b in enumerate(strip.bends) if i in (n - 1, n)]
        backs = (_asked_setback(b, strip.nominal, leg.dimensions) for b in beside)
        lengths.append(leg.asked - math.fsum(backs))
    found = []
    for n, bend in enumerate(strip.bends):
        legs, others = (
            (lengths[: n + 1], strip.bends[:n])
            if bend.held == "first"
            else (
                lengths[n + 1 :],
                strip.bends[n + 1 :],
            )
        )
        found.append(math.fsum(legs) + math.fsum(o.allowance for o in others))
    return found


def _asked_setback(bend: BendReading, thickness: float, dimensions: Dimensions) -> float:
    outer = 0.0 if dimensions in ("inside", "inside-overall") else thickness
    return (bend.inside_radius + outer) * half_tangent(bend.angle, dimensions)[0]


def setbacks(strip: StripReading, bent: Bent, thickness: float) -> tuple[Array, Array, Array, Array]:
    """Setbacks of legs at their bends, and how they grow.

    Parameters
    ----------
    strip : StripReading
        The strip, [mm]
    bent : Bent
        Its bends, [mm]
    thickness : float
        Of its sheet, [mm]

    Returns
    -------
    tuple[Array, Array, Array, Array]
        Legs by bends: setback [mm]; its growth with the angle [mm/deg], the radius [-], the thickness [-]
    """
    shape = (len(strip.legs), len(strip.bends))
    back, by_angle, by_radius, by_thickness = (np.zeros(shape) for _ in range(4))
    for n in range(len(strip.bends)):
        for leg in (n, n + 1):
            dimensions = strip.legs[leg].dimensions
            outer = 0.0 if dimensions in ("inside", "inside-overall") else 1.0
            length = float(bent.radius[n]) + outer * thickness
            tangent, growth = half_tangent(float(bent.angle[n]), dimensions)
            back[leg, n], by_angle[leg, n] = length * tangent, length * growth
            by_radius[leg, n], by_thickness[leg, n] = tangent, outer * tangent
    return back, by_angle, by_radius, by_thickness


def half_tangent(angle: float, dimensions: Dimensions) -> tuple[float, float]:
    """tan of half the angle, or of 45 degrees where a leg is told overall; and how it grows.

    Parameters
    ----------
    angle : float
        Bend angle, [deg]
    dimensions : Dimensions
        How the leg is dimensioned, [-]

    Returns
    -------
    tuple[float, float]
        The tangent [-], and its growth per degree [1/deg]

    Examples
    --------
    By hand: tan 30, and (1 + tan2 30) / 2 per radian.

    >>> half_tangent(60.0, "mould-line")
    (0.57735, 0.011636)
    >>> half_tangent(120.0, "overall")
    (1.0, 0.0)
    """
    overall = dimensions in ("overall", "inside-overall")
    tangent = math.tan((min(angle, 90.0) if overall else min(angle, LARGEST)) * RADIAN / 2)
    share = min(max(0.5 + (90.0 - angle) / (2 * CORNER), 0.0), 1.0) if overall else 1.0
    return tangent, share * (1 + tangent**2) * RADIAN / 2
