"""What strips teach: from readings to allowances, offsets and springback, each with its spread and what is behind it.

The mathematics is in :mod:`posterior`; here its unknowns are put together to what a workshop asks for, every figure a
linear combination of unknowns, so that correlations are kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.core.learned import Entangled, KnownAllowance, KnownOffset, KnownSpringback
from flatgen.metal.allowance import Dimensions
from flatgen.strips.learning.apart import allowance_name, told_apart
from flatgen.strips.learning.posterior import Posterior, posterior_of
from flatgen.strips.learning.priors import (
    Kind,
    Prior,
    Unknown,
    angle_class,
    expected_k,
    kind_of,
    offset_key,
    spread,
    springback_expected,
)
from flatgen.strips.learning.rows import RADIAN, Array, half_tangent, rows_of
from flatgen.strips.reading import StripReading


@dataclass(frozen=True)
class Behind:
    """How many ``bends`` on how many ``strips`` told of something, ``radii`` of them with the radius measured."""

    bends: int = 0
    strips: int = 0
    radii: int = 0

    @property
    def words(self) -> str:
        """As an answer says it."""
        return f"{_count(self.bends, 'bend')} on {_count(self.strips, 'strip')}"


@dataclass(frozen=True)
class Learned:
    """All that strips have taught.

    ``allowances`` and ``offsets`` in the order of their first strip; ``covariance`` [mm2]: of the allowances' values
    and then the offsets', in that order. ``scatter`` [mm]: placement scatter of one bend, root mean square;
    ``scatter_low``, ``scatter_high`` [mm]: between what 95 % of its chance lies. ``behind``: by name of unknown.
    """

    prior: Prior
    posterior: Posterior
    allowances: tuple[KnownAllowance, ...]
    offsets: tuple[KnownOffset, ...]
    springbacks: tuple[KnownSpringback, ...]
    covariance: Array
    entangled: tuple[Entangled, ...]
    scatter: float
    scatter_low: float
    scatter_high: float
    strips: int
    told: frozenset[Unknown]
    behind: dict[Unknown, Behind]


def learn(readings: Sequence[StripReading], prior: Prior) -> Learned:
    """What strips teach.

    :param readings: strips as measured, in any order; numbers that were not measured are left out
    :returns: values and spreads, and what cannot be told
    """
    posterior = posterior_of([rows_of(s, prior).seen for s in readings], prior)
    told, entangled = told_apart(readings, prior)
    behind = _behind(readings)
    known = Learned(
        prior, posterior, (), (), (), np.zeros((0, 0)), entangled, *_scatter(posterior), len(readings), told, behind
    )
    allowances, offsets, springbacks = [], [], []
    vectors = []
    for name in behind:
        if name[0] == "allowance":
            kind, angle = _kind(name)
            allowances.append(allowance_known(known, kind, angle))
            vectors.append(_arc(known, kind, angle))
    for name in behind:
        if name[0] == "offset":
            offsets.append(_offset(known, name))
            vectors.append({name: 1.0})
        elif name[0] == "alpha":
            springbacks.append(springback_known(known, str(name[1]), float(str(name[2])), float(str(name[3]))))
    return Learned(
        prior,
        posterior,
        tuple(allowances),
        tuple(offsets),
        tuple(springbacks),
        combined(known, vectors)[1],
        entangled,
        known.scatter,
        known.scatter_low,
        known.scatter_high,
        len(readings),
        told,
        behind,
    )


def allowance_known(
    learned: Learned, kind: Kind, angle: float, dimensions: Dimensions = "mould-line"
) -> KnownAllowance:
    """Allowance of any kind of bend, by what strips of it and of its like have taught.

    Where no strip has such a bend the spread is that of the prior, narrowed by bends that share metal or set-up. The
    effect of one sheet is in no value: it differs from sheet to sheet by ``Prior.k_sheet``.

    :param kind: metal, thickness [mm], inside radius [mm], set-up, nose setting to its class [mm], see ``kind_of``
    :param angle: bend angle [deg]
    :param dimensions: how the drawing is dimensioned, for ``drawn``
    """
    metal, thickness, radius, setup, setting = kind
    k = expected_k(learned.prior, metal, radius, thickness)
    tangent, _ = half_tangent(angle, dimensions)
    swell = {("radius kind", *kind): 1.0, ("radius class", *kind, angle_class(angle)): 1.0}
    arc = _arc(learned, kind, angle)
    drawn = _sum(arc, swell, -2 * tangent)
    offset: dict[Unknown, float] = _sum({("offset", setup, setting): 1.0}, swell, -tangent)
    mean, covariance = combined(learned, [arc, swell, drawn, offset])
    straight = angle * RADIAN * (radius + k * thickness)
    sigma = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    behind = learned.behind.get(("allowance", *kind, angle_class(angle)), Behind())
    value, actual = straight + float(mean[0]), radius + float(mean[1])
    return KnownAllowance(
        metal=metal,
        thickness=thickness,
        inside_radius=radius,
        setup=setup,
        nose_setting=setting,
        angle=angle,
        value=value,
        spread=float(sigma[0]),
        k=(value / (angle * RADIAN) - actual) / thickness,
        radius=actual,
        radius_spread=float(sigma[1]),
        drawn=straight + float(mean[2]),
        drawn_spread=float(sigma[2]),
        drawn_offset=learned.prior.offsets.get(setup, 0.0) + float(mean[3]),
        drawn_offset_spread=float(sigma[3]),
        bends=behind.bends,
        strips=behind.strips,
        radii=behind.radii,
        told=("allowance", *kind, angle_class(angle)) in learned.told,
        source=_source(learned, metal, behind),
    )


def springback_known(learned: Learned, metal: str, thickness: float, inside_radius: float) -> KnownSpringback:
    """Springback of a metal at a thickness and radius.

    :param thickness: as bought [mm]
    :param inside_radius: as asked [mm]
    """
    alpha: Unknown = ("alpha", metal, round(thickness, 3), round(inside_radius, 3))
    beta: Unknown = ("beta", metal)
    (alpha_mean, _), (beta_mean, _) = springback_expected(learned.prior, metal)
    mean, covariance = combined(learned, [{alpha: 1.0}, {beta: 1.0}])
    behind = learned.behind.get(alpha, Behind())
    return KnownSpringback(
        metal=metal,
        thickness=thickness,
        inside_radius=inside_radius,
        alpha=alpha_mean + float(mean[0]),
        alpha_spread=math.sqrt(max(float(covariance[0, 0]), 0.0)),
        beta=beta_mean + float(mean[1]),
        beta_spread=math.sqrt(max(float(covariance[1, 1]), 0.0)),
        covariance=float(covariance[0, 1]),
        bends=behind.bends,
        strips=behind.strips,
        told=alpha in learned.told and beta in learned.told,
    )


def combined(learned: Learned, vectors: Sequence[dict[Unknown, float]]) -> tuple[Array, Array]:
    """Mean and covariance of linear combinations of unknowns; those that no strip met have their prior.

    :returns: in the units that factors and unknowns make
    """
    posterior = learned.posterior
    place = {u: n for n, u in enumerate(posterior.unknowns)}
    fresh = list(dict.fromkeys(u for v in vectors for u in v if u not in place))
    known, unmet = np.zeros((len(vectors), len(place))), np.zeros((len(vectors), len(fresh)))
    for row, vector in enumerate(vectors):
        for unknown, factor in vector.items():
            if unknown in place:
                known[row, place[unknown]] = factor
            else:
                unmet[row, fresh.index(unknown)] = factor
    # before any strip the width of the prior is not known either: its mean square holds
    width = float(posterior.weights @ posterior.members.width**2)
    before = np.array([spread(learned.prior, u) ** 2 * width for u in fresh])
    open_ = np.zeros((len(vectors), len(vectors))) if not fresh else (unmet * before) @ unmet.T
    return known @ posterior.mean, known @ posterior.covariance @ known.T + open_


def _arc(learned: Learned, kind: Kind, angle: float) -> dict[Unknown, float]:
    """Factors of the unknowns in the developed length of a bend."""
    turned, turn = angle * RADIAN, angle_class(angle)
    by_k = turned * kind[1]
    return {
        ("k metal", kind[0]): by_k,
        ("k kind", *kind): by_k,
        ("k class", *kind, turn): by_k,
        ("radius kind", *kind): turned,
        ("radius class", *kind, turn): turned,
    }


def _sum(one: dict[Unknown, float], other: dict[Unknown, float], factor: float) -> dict[Unknown, float]:
    """One combination and so many times another."""
    return {u: one.get(u, 0.0) + factor * other.get(u, 0.0) for u in {**one, **other}}


def _offset(learned: Learned, name: Unknown) -> KnownOffset:
    mean, covariance = combined(learned, [{name: 1.0}])
    behind, setup, setting = learned.behind[name], str(name[1]), name[2]
    return KnownOffset(
        setup,
        None if setting is None else float(setting),
        learned.prior.offsets.get(setup, 0.0) + float(mean[0]),
        math.sqrt(max(float(covariance[0, 0]), 0.0)),
        behind.bends,
        behind.strips,
        name in learned.told,
    )


def _kind(name: Unknown) -> tuple[Kind, float]:
    _, metal, thickness, radius, setup, setting, angle = name
    kind = (
        str(metal),
        float(str(thickness)),
        float(str(radius)),
        str(setup),
        None if setting is None else float(setting),
    )
    return kind, float(str(angle))


def _behind(readings: Iterable[StripReading]) -> dict[Unknown, Behind]:
    """Bends and strips behind each allowance, offset and springback."""
    found: dict[Unknown, list[tuple[int, bool]]] = {}
    for number, strip in enumerate(readings):
        for n, bend in enumerate(strip.bends):
            if strip.legs[n].got is not None or strip.legs[n + 1].got is not None:
                for name in (allowance_name(strip, bend), offset_key(bend)):
                    found.setdefault(name, []).append((number, bend.radius is not None))
            if bend.set is not None and bend.got is not None:
                alpha: Unknown = ("alpha", *kind_of(strip, bend)[:3])
                found.setdefault(alpha, []).append((number, bend.radius is not None))
    return {
        name: Behind(len(bends), len({number for number, _ in bends}), sum(radius for _, radius in bends))
        for name, bends in found.items()
    }


def _scatter(posterior: Posterior) -> tuple[float, float, float]:
    """Placement scatter, and between what 95 % of its chance lies [mm]."""
    order = np.argsort(posterior.members.scatter, kind="stable")
    values, share = posterior.members.scatter[order], np.cumsum(posterior.weights[order])
    low, high = (float(values[min(int(np.searchsorted(share, p)), len(values) - 1)]) for p in (0.025, 0.975))
    return posterior.scatter, low, high


def _source(learned: Learned, metal: str, behind: Behind) -> str:
    if behind.bends:
        return f"from {behind.words}"
    like = any(u[0] == "allowance" and u[1] == metal for u in learned.behind)
    return "from the handbook, moved by strips of other kinds of bend" if like else "from the handbook"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
