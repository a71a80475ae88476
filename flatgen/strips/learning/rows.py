"""From a strip to linear equations: what each measured number says of the unknowns.

Walking the blank from its first edge, a bend with its first side held has its tangent lines at

    first = sight - Rn - e + delta            second = first + BA

and one with its second side held the same from the blank's other edge. A leg is the flat between tangent lines and the
setbacks at its ends, taken at the angle that was got:

    leg = first[j] - second[j-1] + SB[j-1] + SB[j]        BA = A (r + K t)        A = A0 - loss - alpha A - beta a / t

delta is the placement scatter: +delta on one leg, -delta on its neighbour. All else that is not learned (scatter of
the angle, thickness, cutting, measuring) makes noise that legs share where they share its cause. Angle, radius,
thickness and K differ so little from their expected values that products of differences are left out: 0.3 degrees
with 0.1 mm make 0.5 micrometres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.strips.learning.bent import (
    RADIAN,
    Array,
    Bent,
    bends_of,
    blank_share,
    flats,
    placing,
    setbacks,
    swung_ends,
    thickness_of,
)
from flatgen.strips.learning.priors import Prior, Unknown, angle_class, kind_of, offset_key
from flatgen.strips.reading import StripReading

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

    Parameters
    ----------
    strip : StripReading
        The strip, or a part to be bent written as one, [mm]
    prior : Prior
        What is known before, [-]

    Returns
    -------
    Rows
        Legs, radii, angles and the blank, [mm]
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
    """Which bend meets which unknown. A strip whose sheet is not named is of a sheet of its own."""
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
    """Numbers as measured, nan where they were not. An angle says nothing of springback without the leaf's."""
    numbers = [leg.got for leg in strip.legs] + [b.radius for b in strip.bends]
    numbers += [b.got if b.set is not None else None for b in strip.bends] + [strip.blank_got]
    return np.array([math.nan if n is None else n for n in numbers])
