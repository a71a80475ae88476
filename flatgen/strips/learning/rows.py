"""The bends of a strip in arrays: how each is held, the angle at which all is worked out, setbacks and their growth.

Beside :mod:`rows`, which makes equations of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.metal.allowance import Dimensions
from flatgen.strips.learning.priors import (
    Prior,
    Unknown,
    angle_class,
    expected_k,
    kind_of,
    offset_key,
    springback_expected,
)
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

    :returns: by micrometer where it was measured, else as bought; its standard deviation [mm]
    """
    if strip.thickness is not None:
        return strip.thickness, prior.thickness_error
    return strip.nominal, prior.unmeasured * strip.nominal


def bends_of(strip: StripReading, prior: Prior, thickness: float) -> Bent:
    """Bends of a strip in arrays.

    :param thickness: of its sheet [mm]
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

    :param held: +1 where the first side is held, -1 where the second

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

    :param held: +1 where the first side is held, -1 where the second
    :returns: legs by bends, 1 where the leg is swung at this bend

    >>> swung_ends(np.array([1.0, -1.0])).tolist()
    [[0.0, 0.0], [1.0, 1.0], [0.0, 0.0]]
    """
    return np.clip(-placing(held), 0.0, 1.0)


def blank_share(held: Array) -> Array:
    """How each leg grows with the blank.

    :param held: +1 where the first side is held, -1 where the second
    :returns: one figure per leg, their sum is 1

    >>> blank_share(np.array([1.0, -1.0])).tolist()
    [0.0, 1.0, 0.0]
    """
    far: Array = np.concatenate([[0.0], held < 0, [1.0]]).astype(float)
    return np.asarray(far[1:] - far[:-1])


def flats(strip: StripReading, bent: Bent, prior: Prior) -> Array:
    """Each leg between its tangent lines, with nothing off what is expected.

    :returns: one figure per leg [mm]
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

    :param thickness: of its sheet [mm]
    :returns: legs by bends: setback [mm]; its growth with the angle [mm/deg], the radius, the thickness
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

    :param angle: bend angle [deg]
    :returns: the tangent, and its growth per degree [1/deg]

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


FINEST = 1e-6
"""No number is taken to be measured better than this [mm, deg]."""


@dataclass(frozen=True)
class Rows:
    """Linear equations of one strip: measured = expected + slope u + placed delta + noise.

    ``names`` of rows: ("leg", n), ("radius", n), ("angle", n), ("blank", 0); ``measured`` is nan where it was not.
    ``slope``: rows by ``unknowns``; ``placed``: rows by bends [-]; ``noise``: covariance of the rest, rows by rows;
    ``measuring``: that part of its diagonal that comes from measuring alone. Lengths [mm], angles [deg].
    """

    names: tuple[tuple[str, int], ...]
    unknowns: tuple[Unknown, ...]
    expected: Array
    measured: Array
    slope: Array
    placed: Array
    noise: Array
    measuring: Array

    def only(self, kept: NDArray[Any]) -> Rows:
        """Some of the rows: ``kept`` is a mask or indices [-]."""
        index = np.flatnonzero(kept) if kept.dtype == bool else kept
        return replace(
            self,
            names=tuple(self.names[i] for i in index),
            expected=self.expected[index],
            measured=self.measured[index],
            slope=self.slope[index],
            placed=self.placed[index],
            noise=self.noise[np.ix_(index, index)],
            measuring=self.measuring[index],
        )

    def of(self, *sorts: str) -> Rows:
        """Rows of some sorts: "leg", "radius", "angle", "blank" [-]."""
        return self.only(np.array([sort in sorts for sort, _ in self.names]))

    @property
    def seen(self) -> Rows:
        """Rows that were measured."""
        return self.only(~np.isnan(self.measured))


@dataclass(frozen=True)
class Growth:
    """How legs grow, legs by bends: with the angle [mm/deg], the radius [-], K [mm], the thickness of the sheet [-]."""

    angle: Array
    radius: Array
    k: Array
    thickness: Array


def rows_of(strip: StripReading, prior: Prior) -> Rows:
    """All equations of a strip, those of numbers that were not measured too.

    :param strip: the strip, or a part to be bent written as one
    """
    thickness, _ = thickness_of(strip, prior)
    bent = bends_of(strip, prior, thickness)
    placed, used = placing(bent.held), -swung_ends(bent.held)
    back, back_angle, back_radius, back_thickness = setbacks(strip, bent, thickness)
    growth = Growth(
        used * (bent.radius + bent.k * thickness) * RADIAN + back_angle,
        used * bent.turned + back_radius,
        used * bent.turned * thickness,
        used * bent.turned * bent.k + back_thickness,
    )
    legs = flats(strip, bent, prior) + back.sum(axis=1) + growth.angle @ (bent.mean - bent.angle)
    unknowns, slope = _slopes(strip, bent, placed, growth)
    noise, measuring = _noise(strip, bent, placed, growth, prior)
    whole = np.zeros((len(slope), len(strip.bends)))
    whole[: len(strip.legs)] = placed
    each = range(len(strip.bends))
    names = [("leg", n) for n in range(len(strip.legs))] + [(s, n) for s in ("radius", "angle") for n in each]
    expected = np.concatenate([legs, bent.radius, bent.mean, [strip.blank]])
    return Rows((*names, ("blank", 0)), unknowns, expected, _measured(strip), slope, whole, noise, measuring)


def _slopes(strip: StripReading, bent: Bent, placed: Array, growth: Growth) -> tuple[tuple[Unknown, ...], Array]:
    """Unknowns of a strip, and what one unit of each does to every row."""
    bends, legs = len(strip.bends), len(strip.legs)
    none, one = np.zeros((bends, bends)), np.eye(bends)
    sprung, arm = bent.angle * bent.sprung, bent.arm * bent.sprung
    blocks = {
        "k": np.concatenate([growth.k, none, none]),
        "radius": np.concatenate([growth.radius, one, none]),
        "offset": np.concatenate([-placed, none, none]),
        "alpha": np.concatenate([-growth.angle * sprung, none, -np.diag(sprung)]),
        "beta": np.concatenate([-growth.angle * arm, none, -np.diag(arm)]),
    }
    found: dict[Unknown, int] = {}
    met = [(n, found.setdefault(u, len(found)), str(u[0]).split()[0]) for n, u in _met(strip)]
    slope = np.zeros((legs + 2 * bends + 1, len(found)))
    for bend, column, sort in met:
        slope[:-1, column] += blocks[sort][:, bend]
    return tuple(found), slope


def _met(strip: StripReading) -> list[tuple[int, Unknown]]:
    """Which bend meets which unknown."""
    met: list[tuple[int, Unknown]] = []
    for n, bend in enumerate(strip.bends):
        kind, turned = kind_of(strip, bend), angle_class(bend.angle)
        sheet: Unknown = ("k sheet", strip.metal, strip.nominal, strip.sheet, "" if strip.sheet else strip.name)
        unknowns: tuple[Unknown, ...] = (
            ("k metal", strip.metal),
            ("k kind", *kind),
            ("k class", *kind, turned),
            sheet,
            ("radius kind", *kind),
            ("radius class", *kind, turned),
            offset_key(bend),
            ("alpha", *kind[:3]),
            ("beta", strip.metal),
        )
        met += [(n, u) for u in unknowns]
    return met


def _noise(strip: StripReading, bent: Bent, placed: Array, growth: Growth, prior: Prior) -> tuple[Array, Array]:
    """Covariance of all that is not learned, and measuring's share of its diagonal."""
    bends, legs = len(strip.bends), len(strip.legs)
    rough = np.zeros((legs + 2 * bends + 1, bends + 2))  # of angles, of the thickness, of the blank
    rough[:legs, :bends] = growth.angle * bent.loose
    rough[legs + bends : legs + 2 * bends, :bends] = np.diag(bent.loose)
    rough[:legs, bends] = growth.thickness.sum(axis=1) * thickness_of(strip, prior)[1]
    rough[:legs, bends + 1] = blank_share(bent.held) * prior.cut
    rough[-1, bends + 1] = prior.cut
    noise = rough @ rough.T
    unmarked = np.array([0.0 if b.sight is not None else prior.unmarked for b in strip.bends])
    noise[:legs, :legs] += (placed * unmarked**2) @ placed.T
    errors = [prior.length_error] * legs + [prior.radius_error] * bends + [prior.angle_error] * bends
    measuring = np.maximum([*errors, prior.length_error], FINEST) ** 2
    return noise + np.diag(measuring), measuring


def _measured(strip: StripReading) -> Array:
    """Numbers as measured, nan where they were not."""
    numbers = [leg.got for leg in strip.legs] + [b.radius for b in strip.bends]
    numbers += [b.got if b.set is not None else None for b in strip.bends] + [strip.blank_got]
    return np.array([math.nan if n is None else n for n in numbers])
