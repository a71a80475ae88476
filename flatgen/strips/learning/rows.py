"""The bends of a strip in arrays, and its linear equations: what each number measured on it says of the unknowns.

row     one equation: a leg, a radius, an angle or the blank
growth  how a leg changes with the angle, the radius, K or the thickness
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.metal.allowance import Dimensions
from flatgen.strips.learning.priors import (
    Prior,
    Unknown,
    alpha_key,
    angle_class,
    expected_k,
    expected_springback,
    kind_of,
    offset_key,
)
from flatgen.strips.reading import BendReading, StripReading

Array = NDArray[np.float64]

RADIAN = math.pi / 180

LEAST_ANGLE, LARGEST_ANGLE = 0.05, 179.0
"""Angles are kept between these while setbacks to a mould line are worked out [deg]."""
CORNER = 0.5
"""So near 90 degrees a leg dimensioned overall grows with the angle by a part of either of its formulas [deg]."""


@dataclass(frozen=True)
class BendArrays:
    """One figure per bend.

    ``held``: +1 first side, -1 second; ``angle`` [deg] at which all is worked out; ``mean`` [deg]: expected from the
    leaf; ``mean_spread`` [deg] of the angle about it; ``leaf_known``: 1 where the leaf angle is known, else 0;
    ``radius``, ``allowance`` [mm]; ``arm``: a / t.
    """

    held: Array
    angle: Array
    mean: Array
    mean_spread: Array
    leaf_known: Array
    k: Array
    radius: Array
    allowance: Array
    arm: Array

    @property
    def radians(self) -> Array:
        """The angle."""
        return np.asarray(self.angle * RADIAN)


def thickness_of(strip: StripReading, prior: Prior) -> tuple[float, float]:
    """Thickness of a strip as measured, else as bought, and its standard deviation [mm]."""
    if strip.thickness is not None:
        return strip.thickness, prior.thickness_error
    return strip.nominal, prior.unmeasured * strip.nominal


def bend_arrays(strip: StripReading, prior: Prior, thickness: float) -> BendArrays:
    """Bends of a strip in arrays; ``thickness`` [mm] of its sheet."""
    figures = np.array([_bend(strip, bend, prior, thickness) for bend in strip.bends], dtype=float).reshape(-1, 9)
    return BendArrays(*figures.T)


def _bend(strip: StripReading, bend: BendReading, prior: Prior, thickness: float) -> tuple[float, ...]:
    (alpha, _), (beta, _) = expected_springback(prior, strip.metal)
    at = bend.got if bend.got is not None else bend.angle - bend.loss
    at = min(max(at, LEAST_ANGLE), LARGEST_ANGLE if bend.angle < 180 else 180.0)
    if bend.set is not None:
        mean = bend.set - bend.loss - alpha * at - beta * bend.arm / thickness
        spread = prior.angle_scatter
    else:
        mean, spread = at, prior.unset if bend.got is None else prior.angle_error
    k = expected_k(prior, strip.metal, bend.inside_radius, strip.nominal)
    allowance = at * RADIAN * (bend.inside_radius + k * thickness)
    held, leaf_known = 1.0 if bend.held == "first" else -1.0, float(bend.set is not None)
    return held, at, mean, spread, leaf_known, k, bend.inside_radius, allowance, bend.arm / thickness


def placement(held: Array) -> Array:
    """What a bend's placement does to each leg: it adds to the held one what it takes from the other.

    :param held: +1 where the first side is held, -1 where the second
    :returns: legs by bends

    >>> placement(np.array([1.0, -1.0])).tolist()
    [[1.0, 0.0], [-1.0, -1.0], [0.0, 1.0]]
    """
    bends = len(held)
    matrix = np.zeros((bends + 1, bends))
    index = np.arange(bends)
    matrix[index, index] = held
    matrix[index + 1, index] = -held
    return matrix


def swung_ends(held: Array) -> Array:
    """Legs by bends, 1 where the leg is swung at this bend: its allowance comes off the leg.

    >>> swung_ends(np.array([1.0, -1.0])).tolist()
    [[0.0, 0.0], [1.0, 1.0], [0.0, 0.0]]
    """
    return np.clip(-placement(held), 0.0, 1.0)


def blank_share(held: Array) -> Array:
    """How each leg grows with the blank: one figure per leg, their sum is 1.

    >>> blank_share(np.array([1.0, -1.0])).tolist()
    [0.0, 1.0, 0.0]
    """
    far: Array = np.concatenate([[0.0], held < 0, [1.0]]).astype(float)
    return np.asarray(far[1:] - far[:-1])


def flat_lengths(strip: StripReading, bent: BendArrays, prior: Prior) -> Array:
    """Each leg between its tangent lines, with nothing off what is expected [mm]."""
    first, second = [], []
    for bend, planned, arc in zip(strip.bends, _planned_tangents(strip), bent.allowance.tolist(), strict=True):
        offset = prior.offsets.get(bend.setup, 0.0)
        tangent = planned if bend.sight is None else bend.sight - bend.nose_radius - offset
        start = tangent if bend.held == "first" else strip.blank - tangent - arc
        first.append(start)
        second.append(start + arc)
    lengths: Array = np.array([*first, strip.blank]) - np.array([0.0, *second])
    return lengths


def _planned_tangents(strip: StripReading) -> list[float]:
    """Where held tangent lines stand from the held edge if the blank was laid out as asked [mm]."""
    lengths = []
    for n, leg in enumerate(strip.legs):
        backs = (_asked_setback(b, strip.nominal, leg.dimensions) for b in strip.bends[max(n - 1, 0) : n + 1])
        lengths.append(leg.asked - math.fsum(backs))
    tangents = []
    for n, bend in enumerate(strip.bends):
        between = slice(None, n) if bend.held == "first" else slice(n + 1, None)
        legs = lengths[: n + 1] if bend.held == "first" else lengths[n + 1 :]
        tangents.append(math.fsum(legs) + math.fsum(b.allowance for b in strip.bends[between]))
    return tangents


def _asked_setback(bend: BendReading, thickness: float, dimensions: Dimensions) -> float:
    outer = 0.0 if dimensions in ("inside", "inside-overall") else thickness
    return (bend.inside_radius + outer) * half_tangent(bend.angle, dimensions)[0]


def setbacks(strip: StripReading, bent: BendArrays, thickness: float) -> tuple[Array, Array, Array, Array]:
    """Legs by bends: setback [mm]; its growth with the angle [mm/deg], the radius, the thickness."""
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
    """Tangent of half the bend angle [deg], of 45 degrees where a leg is dimensioned overall, and its growth [1/deg].

    By hand: tan 30, and (1 + tan2 30) / 2 per radian.

    >>> half_tangent(60.0, "mould-line")
    (0.57735, 0.011636)
    >>> half_tangent(120.0, "overall")
    (1.0, 0.0)
    """
    overall = dimensions in ("overall", "inside-overall")
    tangent = math.tan((min(angle, 90.0) if overall else min(angle, LARGEST_ANGLE)) * RADIAN / 2)
    share = min(max(0.5 + (90.0 - angle) / (2 * CORNER), 0.0), 1.0) if overall else 1.0
    return tangent, share * (1 + tangent**2) * RADIAN / 2


FINEST = 1e-6
"""No number is taken to be measured better than this [mm, deg]."""


@dataclass(frozen=True)
class Rows:
    """Linear equations of one strip: measured = expected + slope u + placed delta + noise.

    ``names`` of rows: ("leg", n), ("radius", n), ("angle", n), ("blank", 0); ``measured`` is nan where it was not.
    ``slope``: rows by ``unknowns``; ``placed``: rows by bends; ``noise``: covariance of the rest, rows by rows;
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

    def select(self, kept: NDArray[Any]) -> Rows:
        """Some of the rows: ``kept`` is a mask or indices."""
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
        """Rows of some sorts: "leg", "radius", "angle", "blank"."""
        return self.select(np.array([sort in sorts for sort, _ in self.names]))

    @property
    def measured_rows(self) -> Rows:
        """Rows that were measured."""
        return self.select(~np.isnan(self.measured))


@dataclass(frozen=True)
class Growth:
    """How legs grow, legs by bends: with the angle [mm/deg], the radius, K [mm], the thickness of the sheet."""

    angle: Array
    radius: Array
    k: Array
    thickness: Array


def rows_of(strip: StripReading, prior: Prior) -> Rows:
    """All equations of a strip (or a part written as one), those of numbers that were not measured too."""
    thickness, _ = thickness_of(strip, prior)
    bent = bend_arrays(strip, prior, thickness)
    placed, used = placement(bent.held), -swung_ends(bent.held)
    back, back_angle, back_radius, back_thickness = setbacks(strip, bent, thickness)
    growth = Growth(
        used * (bent.radius + bent.k * thickness) * RADIAN + back_angle,
        used * bent.radians + back_radius,
        used * bent.radians * thickness,
        used * bent.radians * bent.k + back_thickness,
    )
    legs = flat_lengths(strip, bent, prior) + back.sum(axis=1) + growth.angle @ (bent.mean - bent.angle)
    unknowns, slope = _slopes(strip, bent, placed, growth)
    noise, measuring = _noise(strip, bent, placed, growth, prior)
    placed_rows = np.zeros((len(slope), len(strip.bends)))
    placed_rows[: len(strip.legs)] = placed
    each = range(len(strip.bends))
    names = [("leg", n) for n in range(len(strip.legs))] + [(s, n) for s in ("radius", "angle") for n in each]
    expected = np.concatenate([legs, bent.radius, bent.mean, [strip.blank]])
    return Rows((*names, ("blank", 0)), unknowns, expected, _measured(strip), slope, placed_rows, noise, measuring)


def _slopes(strip: StripReading, bent: BendArrays, placed: Array, growth: Growth) -> tuple[tuple[Unknown, ...], Array]:
    """Unknowns of a strip, and what one unit of each does to every row."""
    bends, legs = len(strip.bends), len(strip.legs)
    none, one = np.zeros((bends, bends)), np.eye(bends)
    angle, arm = bent.angle * bent.leaf_known, bent.arm * bent.leaf_known
    blocks = {
        "k": np.concatenate([growth.k, none, none]),
        "radius": np.concatenate([growth.radius, one, none]),
        "offset": np.concatenate([-placed, none, none]),
        "alpha": np.concatenate([-growth.angle * angle, none, -np.diag(angle)]),
        "beta": np.concatenate([-growth.angle * arm, none, -np.diag(arm)]),
    }
    columns: dict[Unknown, int] = {}
    terms = [(n, columns.setdefault(u, len(columns)), u.sort.split()[0]) for n, u in _unknowns_by_bend(strip)]
    slope = np.zeros((legs + 2 * bends + 1, len(columns)))
    for bend, column, sort in terms:
        slope[:-1, column] += blocks[sort][:, bend]
    return tuple(columns), slope


def _unknowns_by_bend(strip: StripReading) -> Iterator[tuple[int, Unknown]]:
    for n, bend in enumerate(strip.bends):
        kind, angle = kind_of(strip, bend), angle_class(bend.angle)
        yield n, Unknown("k metal", strip.metal)
        yield n, Unknown("k kind", *kind)
        yield n, Unknown("k class", *kind, angle)
        own = "" if strip.sheet else strip.name
        yield n, Unknown("k sheet", strip.metal, strip.nominal, sheet=strip.sheet, strip=own)
        yield n, Unknown("radius kind", *kind)
        yield n, Unknown("radius class", *kind, angle)
        yield n, offset_key(bend)
        yield n, alpha_key(strip, bend)
        yield n, Unknown("beta", strip.metal)


def _noise(strip: StripReading, bent: BendArrays, placed: Array, growth: Growth, prior: Prior) -> tuple[Array, Array]:
    """Covariance of all that is not learned, and measuring's share of its diagonal."""
    bends, legs = len(strip.bends), len(strip.legs)
    rough = np.zeros((legs + 2 * bends + 1, bends + 2))  # of angles, of the thickness, of the blank
    rough[:legs, :bends] = growth.angle * bent.mean_spread
    rough[legs + bends : legs + 2 * bends, :bends] = np.diag(bent.mean_spread)
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
