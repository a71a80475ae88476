"""From readings to estimates: allowances, offsets and springback, each with its spread and the evidence behind it.

The unknowns of :mod:`flatgen.strips.learning.posterior` are put together to what a workshop asks for: every figure is a
linear combination of unknowns, so that correlations are kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatgen.core.learned import Entanglement, KnownAllowance, KnownOffset, KnownSpringback
from flatgen.metal.allowance import Dimensions
from flatgen.strips.learning.apart import tell_apart
from flatgen.strips.learning.posterior import Posterior, posterior_of
from flatgen.strips.learning.priors import (
    Kind,
    Prior,
    Unknown,
    allowance_key,
    alpha_key,
    angle_class,
    expected_k,
    expected_springback,
    offset_key,
    prior_spread,
)
from flatgen.strips.learning.rows import RADIAN, Array, half_tangent, rows_of
from flatgen.strips.reading import StripReading, has_measured_leg


@dataclass(frozen=True)
class Evidence:
    """``bends`` on ``strips`` that a figure is from, ``radii`` of them with the radius measured."""

    bends: int = 0
    strips: int = 0
    radii: int = 0


@dataclass(frozen=True)
class Estimates:
    """All that is learned from strips.

    ``allowances`` and ``offsets`` in the order of their first strip; ``covariance`` [mm2]: of the allowances' values
    and then the offsets'. ``scatter`` [mm]: placement scatter of one bend, root mean square; 95 % of its chance lies
    from ``scatter_low`` to ``scatter_high`` [mm]. ``informed``: unknowns that the strips tell apart.
    """

    prior: Prior
    posterior: Posterior
    allowances: tuple[KnownAllowance, ...]
    offsets: tuple[KnownOffset, ...]
    springbacks: tuple[KnownSpringback, ...]
    covariance: Array
    entangled: tuple[Entanglement, ...]
    scatter: float
    scatter_low: float
    scatter_high: float
    strips: int
    informed: frozenset[Unknown]
    evidence: dict[Unknown, Evidence]


def learn(readings: Sequence[StripReading], prior: Prior) -> Estimates:
    """Values and spreads from strips as measured, in any order, and what they do not tell apart."""
    posterior = posterior_of([rows_of(s, prior).measured_rows for s in readings], prior)
    informed, entangled = tell_apart(readings, prior)
    evidence, scatter = _evidence(readings), _scatter(posterior)
    none = np.zeros((0, 0))
    known = Estimates(prior, posterior, (), (), (), none, entangled, *scatter, len(readings), informed, evidence)
    allowances = [u for u in evidence if u.sort == "allowance"]
    offsets = [u for u in evidence if u.sort == "offset"]
    vectors = [_arc(Kind(*u[1:6]), u.angle) for u in allowances] + [{u: 1.0} for u in offsets]
    return replace(
        known,
        allowances=tuple(allowance_estimate(known, Kind(*u[1:6]), u.angle) for u in allowances),
        offsets=tuple(_offset(known, u) for u in offsets),
        springbacks=tuple(
            springback_estimate(known, u.metal, u.thickness, u.inside_radius) for u in evidence if u.sort == "alpha"
        ),
        covariance=combine(known, vectors)[1],
    )


def allowance_estimate(
    known: Estimates, kind: Kind, angle: float, dimensions: Dimensions = "mould-line"
) -> KnownAllowance:
    """Allowance of any kind of bend.

    Where no strip has such a bend the spread is that of the prior, narrowed by bends that share metal or set-up. The
    effect of one sheet is in no value: it differs from sheet to sheet by ``Prior.k_sheet``.

    :param angle: bend angle [deg]
    :param dimensions: how the drawing is dimensioned, for ``drawn``
    """
    metal, thickness, radius, setup, setting = kind
    k = expected_k(known.prior, metal, radius, thickness)
    tangent, _ = half_tangent(angle, dimensions)
    swell = {Unknown("radius kind", *kind): 1.0, Unknown("radius class", *kind, angle_class(angle)): 1.0}
    arc = _arc(kind, angle)
    drawn = _sum(arc, swell, -2 * tangent)
    offset = _sum({Unknown("offset", setup=setup, nose_setting=setting): 1.0}, swell, -tangent)
    mean, covariance = combine(known, [arc, swell, drawn, offset])
    straight = angle * RADIAN * (radius + k * thickness)
    sigma = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    key = Unknown("allowance", *kind, angle_class(angle))
    evidence = known.evidence.get(key, Evidence())
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
        drawn_offset=known.prior.offsets.get(setup, 0.0) + float(mean[3]),
        drawn_offset_spread=float(sigma[3]),
        bends=evidence.bends,
        strips=evidence.strips,
        radii=evidence.radii,
        told=key in known.informed,
        source=_source(known, metal, evidence),
    )


def springback_estimate(known: Estimates, metal: str, thickness: float, inside_radius: float) -> KnownSpringback:
    """Springback of a metal at a thickness as bought and an inside radius as asked [mm]."""
    alpha = Unknown("alpha", metal, round(thickness, 3), round(inside_radius, 3))
    beta = Unknown("beta", metal)
    (alpha_mean, _), (beta_mean, _) = expected_springback(known.prior, metal)
    mean, covariance = combine(known, [{alpha: 1.0}, {beta: 1.0}])
    evidence = known.evidence.get(alpha, Evidence())
    return KnownSpringback(
        metal=metal,
        thickness=thickness,
        inside_radius=inside_radius,
        alpha=alpha_mean + float(mean[0]),
        alpha_spread=math.sqrt(max(float(covariance[0, 0]), 0.0)),
        beta=beta_mean + float(mean[1]),
        beta_spread=math.sqrt(max(float(covariance[1, 1]), 0.0)),
        covariance=float(covariance[0, 1]),
        bends=evidence.bends,
        strips=evidence.strips,
        told=alpha in known.informed and beta in known.informed,
    )


def combine(known: Estimates, vectors: Sequence[dict[Unknown, float]]) -> tuple[Array, Array]:
    """Mean and covariance of linear combinations of unknowns; those that no strip met have their prior."""
    posterior = known.posterior
    columns = {u: n for n, u in enumerate(posterior.unknowns)}
    fresh = list(dict.fromkeys(u for v in vectors for u in v if u not in columns))
    met, unmet = np.zeros((len(vectors), len(columns))), np.zeros((len(vectors), len(fresh)))
    for row, vector in enumerate(vectors):
        for unknown, factor in vector.items():
            if unknown in columns:
                met[row, columns[unknown]] = factor
            else:
                unmet[row, fresh.index(unknown)] = factor
    # before any strip the width of the prior is not known either: its mean square holds
    width = float(posterior.weights @ posterior.members.width**2)
    before = np.array([prior_spread(known.prior, u) ** 2 * width for u in fresh])
    open_ = np.zeros((len(vectors), len(vectors))) if not fresh else (unmet * before) @ unmet.T
    return met @ posterior.mean, met @ posterior.covariance @ met.T + open_


def _arc(kind: Kind, angle: float) -> dict[Unknown, float]:
    """Factors of the unknowns in the developed length of a bend."""
    radians, turn = angle * RADIAN, angle_class(angle)
    metal, thickness, *_ = kind
    by_k = radians * thickness
    return {
        Unknown("k metal", metal): by_k,
        Unknown("k kind", *kind): by_k,
        Unknown("k class", *kind, turn): by_k,
        Unknown("radius kind", *kind): radians,
        Unknown("radius class", *kind, turn): radians,
    }


def _sum(one: dict[Unknown, float], other: dict[Unknown, float], factor: float) -> dict[Unknown, float]:
    """One combination and so many times another."""
    return {u: one.get(u, 0.0) + factor * other.get(u, 0.0) for u in {**one, **other}}


def _offset(known: Estimates, unknown: Unknown) -> KnownOffset:
    mean, covariance = combine(known, [{unknown: 1.0}])
    evidence = known.evidence[unknown]
    return KnownOffset(
        unknown.setup,
        unknown.nose_setting,
        known.prior.offsets.get(unknown.setup, 0.0) + float(mean[0]),
        math.sqrt(max(float(covariance[0, 0]), 0.0)),
        evidence.bends,
        evidence.strips,
        unknown in known.informed,
    )


def _evidence(readings: Iterable[StripReading]) -> dict[Unknown, Evidence]:
    """Bends and strips behind each allowance, offset and springback."""
    uses: dict[Unknown, list[tuple[int, bool]]] = {}
    for number, strip in enumerate(readings):
        for n, bend in enumerate(strip.bends):
            use = number, bend.radius is not None
            if has_measured_leg(strip, n):
                uses.setdefault(allowance_key(strip, bend), []).append(use)
                uses.setdefault(offset_key(bend), []).append(use)
            if bend.has_both_angles:
                uses.setdefault(alpha_key(strip, bend), []).append(use)
    return {
        unknown: Evidence(len(bends), len({number for number, _ in bends}), sum(radius for _, radius in bends))
        for unknown, bends in uses.items()
    }


def _scatter(posterior: Posterior) -> tuple[float, float, float]:
    """Placement scatter, and between what 95 % of its chance lies [mm]."""
    order = np.argsort(posterior.members.scatter, kind="stable")
    values, share = posterior.members.scatter[order], np.cumsum(posterior.weights[order])
    low, high = (float(values[min(int(np.searchsorted(share, p)), len(values) - 1)]) for p in (0.025, 0.975))
    return posterior.scatter, low, high


def _source(known: Estimates, metal: str, evidence: Evidence) -> str:
    if evidence.bends:
        return f"from {_count(evidence.bends, 'bend')} on {_count(evidence.strips, 'strip')}"
    like = any(u.sort == "allowance" and u.metal == metal for u in known.evidence)
    return "from the handbook, moved by strips of other kinds of bend" if like else "from the handbook"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
