"""From linear equations and a prior to what is known: Gaussian for each placement scatter, and a mixture of these.

For one placement scatter s and one width w of the prior all is linear and Gaussian, in closed form:

    R = noise + s2 D D'       L = L0 / w2 + sum H' R^-1 H       m = L^-1 sum H' R^-1 y
    log p(y | s, w) = -1/2 (sum log|R| + sum y' R^-1 y - m' L m + log|L| - log|L0 / w2|)

How probable each s and w are after the strips is their weight before times that; nothing is sampled. A flat prior
has precision 0 and leaves its constant out; an unknown that is known exactly (spread 0) is left out altogether.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.strips.learning.priors import Prior, Unknown, prior_spread
from flatgen.strips.learning.rows import Array, Rows

FAINT = 1e-9
"""Members of a mixture with less weight are left out of intervals and chances."""


@dataclass(frozen=True)
class Members:
    """The mixture before any strip: placement ``scatter`` [mm], ``width`` of the prior, logarithm of the ``weight``."""

    scatter: Array
    width: Array
    weight: Array


@dataclass(frozen=True)
class Posterior:
    """What is known of the unknowns, one Gaussian per member.

    ``weights`` add up to 1; ``means``: members by unknowns; ``covariances``: members by unknowns by unknowns.
    """

    unknowns: tuple[Unknown, ...]
    members: Members
    weights: Array
    means: Array
    covariances: Array

    @property
    def mean(self) -> Array:
        """Of the mixture."""
        return np.asarray(self.weights @ self.means)

    @property
    def covariance(self) -> Array:
        """Of the mixture."""
        apart = self.means - self.mean
        inner = np.einsum("g,gij->ij", self.weights, self.covariances)
        return np.asarray(inner + np.einsum("g,gi,gj->ij", self.weights, apart, apart))

    @property
    def scatter(self) -> float:
        """Placement scatter: root of its mean square [mm]."""
        return float(np.sqrt(self.weights @ self.members.scatter**2))


def members_of(prior: Prior) -> Members:
    """Placement scatters and widths of the prior, each pair with its weight before any strip."""
    scatter = np.array(sorted(prior.scatters))
    if len(scatter) > 1:
        share = np.gradient(scatter) * np.exp(-0.5 * (scatter / prior.scatter_scale) ** 2)
    else:
        share = np.ones(1)
    share = np.log(np.maximum(share / share.sum(), 1e-300))
    widths = [(1.0, 1 - prior.wide_chance)]
    if prior.wide_chance > 0 and prior.wide > 1:
        widths.append((prior.wide, prior.wide_chance))
    return Members(
        np.tile(scatter, len(widths)),
        np.repeat([w for w, _ in widths], len(scatter)),
        np.concatenate([share + math.log(chance) for _, chance in widths]),
    )


def covariance_of(rows: Rows, scatter: Array) -> Array:
    """R of a strip for each placement ``scatter`` [mm]: members by rows by rows."""
    return np.asarray(rows.noise + scatter[:, None, None] ** 2 * (rows.placed @ rows.placed.T))


def align_slopes(rows: Rows, unknowns: Sequence[Unknown]) -> tuple[Array, tuple[Unknown, ...]]:
    """Slopes of a strip's rows in a given order of unknowns, and its unknowns that are not among them."""
    place = {u: n for n, u in enumerate(unknowns)}
    slope = np.zeros((len(rows.names), len(unknowns)))
    for n, unknown in enumerate(rows.unknowns):
        if unknown in place:
            slope[:, place[unknown]] = rows.slope[:, n]
    return slope, tuple(u for u in rows.unknowns if u not in place)


def posterior_of(strips: Sequence[Rows], prior: Prior) -> Posterior:
    """What is known after the rows that were measured, one set per strip."""
    every = dict.fromkeys(u for rows in strips for u in rows.unknowns)
    unknowns = tuple(u for u in every if prior_spread(prior, u) > 0)
    members = members_of(prior)
    scatters, inverse = np.unique(members.scatter, return_inverse=True)
    size = len(unknowns)
    precision, pull = np.zeros((len(scatters), size, size)), np.zeros((len(scatters), size))
    fit = np.zeros(len(scatters))
    for rows in strips:
        slope, _ = align_slopes(rows, unknowns)
        gap = rows.measured - rows.expected
        covariance = covariance_of(rows, scatters)
        solved = np.linalg.solve(
            covariance, np.broadcast_to(np.column_stack([slope, gap]), (len(scatters), *slope.shape[:1], size + 1))
        )
        precision += slope.T @ solved[..., :-1]
        pull += solved[..., -1] @ slope
        fit += solved[..., -1] @ gap + np.linalg.slogdet(covariance)[1]
    return _mixed(unknowns, members, prior, precision[inverse], pull[inverse], fit[inverse])


def _mixed(
    unknowns: tuple[Unknown, ...], members: Members, prior: Prior, precision: Array, pull: Array, fit: Array
) -> Posterior:
    """The mixture, from strips (information form) and prior."""
    before = np.array([1 / prior_spread(prior, u) ** 2 for u in unknowns])  # 1 / inf is 0: flat
    base = before / members.width[:, None] ** 2
    precision = precision + base[:, :, None] * np.eye(len(unknowns))
    covariances = _inverse(precision)
    means = np.einsum("gij,gj->gi", covariances, pull)
    if len(unknowns):
        free = before > 0
        prior_term = np.log(base[:, free]).sum(axis=1)
        fit = fit - np.einsum("gi,gi->g", means, pull) + np.linalg.slogdet(precision)[1] - prior_term
    level = members.weight - 0.5 * fit
    weights = np.exp(level - level.max())
    return Posterior(unknowns, members, weights / weights.sum(), means, covariances)


def _inverse(precision: Array) -> Array:
    """Inverses, scaled first since unknowns have unlike units; what no row and no prior fixes stays at its mean."""
    if not precision.shape[-1]:
        return precision
    scale = np.sqrt(np.maximum(np.einsum("gii->gi", precision), 1e-300))
    scaled = precision / scale[:, :, None] / scale[:, None, :]
    try:
        inverse = np.linalg.inv(scaled)
        if not np.all(np.isfinite(inverse)) or np.abs(inverse).max() > 1e12:
            inverse = np.linalg.pinv(scaled, rcond=1e-10, hermitian=True)
    except np.linalg.LinAlgError:
        inverse = np.linalg.pinv(scaled, rcond=1e-10, hermitian=True)
    return np.asarray(inverse / scale[:, :, None] / scale[:, None, :])


def forecast(posterior: Posterior, rows: Rows, prior: Prior) -> tuple[Array, Array, Array]:
    """Means of rows to come, and their covariance with and without their own scatter, for each member.

    :param rows: rows to come; the noise in them is the scatter
    :returns: means (members by rows) [mm]; covariance of what is expected, and of the scatter alone [mm2]
    """
    slope, fresh = align_slopes(rows, posterior.unknowns)
    means = rows.expected + posterior.means @ slope.T
    known = slope @ posterior.covariances @ slope.T
    if fresh:
        column = {u: n for n, u in enumerate(rows.unknowns)}
        unmet = [u for u in fresh if 0 < prior_spread(prior, u) < math.inf]
        extra = rows.slope[:, [column[u] for u in unmet]] * np.array([prior_spread(prior, u) for u in unmet])
        known = known + posterior.members.width[:, None, None] ** 2 * (extra @ extra.T)
    return means, known, covariance_of(rows, posterior.members.scatter)


def chance_below(limit: float, weights: Array, means: Array, spreads: Array) -> float:
    """Chance, 0 to 1, that a number that follows a mixture of Gaussians lies below a limit.

    :param spreads: standard deviations of the members, > 0 [mm]

    Tables of the normal law: 0.975 lie below 1.960 standard deviations.

    >>> chance_below(1.959964, np.ones(1), np.zeros(1), np.ones(1))
    0.975
    """
    parts = (limit - means) / (spreads * math.sqrt(2))
    return float(sum(w * math.erfc(-p) / 2 for w, p in zip(weights.tolist(), parts.tolist(), strict=True)))


def quantile(share: float, weights: Array, means: Array, spreads: Array) -> float:
    """The limit [mm] below which a share, 0 to 1, of a mixture of Gaussians lies, to 1e-6.

    :param spreads: standard deviations of the members, > 0 [mm]

    >>> quantile(0.975, np.ones(1), np.zeros(1), np.ones(1))
    1.95996
    """
    kept = weights > FAINT
    weights, means, spreads = weights[kept] / weights[kept].sum(), means[kept], spreads[kept]
    low, high = float((means - 9 * spreads).min()), float((means + 9 * spreads).max())
    while high - low > 1e-6:
        middle = (low + high) / 2
        if chance_below(middle, weights, means, spreads) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2
