"""From estimates to a part that is yet to be bent: its finished legs, and whether to cut.

A part is written as a strip of which nothing is measured yet. Every leg comes with the 95 % interval of its finished
size, and with that of what is expected, without the scatter of one piece: further strips can narrow the second.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from flatgen.strips.learning.apart import fill_in_measurements
from flatgen.strips.learning.model import Estimates, springback_estimate
from flatgen.strips.learning.posterior import align_slopes, covariance_of, forecast, quantile
from flatgen.strips.learning.priors import Unknown, angle_class, prior_spread
from flatgen.strips.learning.rows import Array, Rows, rows_of, thickness_of
from flatgen.strips.reading import LegReading, StripReading

SHARE = 0.95
"""Of an interval."""
GOAL = 0.9
"""With such a chance that all legs meet their tolerance a blank is worth cutting: own choice, no source."""
GAIN = 0.02
"""A strip that raises the chance by less is not worth bending: own choice, no source."""
DRAWS = 8192
"""Points that a chance is counted on, each with its mirror image: good to 0.005."""
SLIGHT = 1e-4
"""Members of the mixture with less weight are left out of chances."""


@dataclass(frozen=True)
class LegForecast:
    """A finished leg [mm]. 95 % of finished pieces lie from ``low`` to ``high``; what is expected, without the scatter
    of one piece, from ``expected_low`` to ``expected_high``. ``spread``, ``scatter``: standard deviations of both
    together and of one piece. ``held_ends``: at how many ends it is held.
    """

    name: str
    asked: float
    value: float
    low: float
    high: float
    expected_low: float
    expected_high: float
    spread: float
    scatter: float
    held_ends: int


@dataclass(frozen=True)
class AngleForecast:
    """A finished bend: the leaf ``set`` to this, its angle ``value`` and between what 95 % lie [deg]."""

    label: str
    asked: float
    set: float
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class TeachingGain:
    """What one further bend of this kind would do: ``gain`` is the share of the legs' uncertainty (mean square, scatter
    left out) that it takes away.
    """

    label: str
    angle: float
    held: str
    gain: float


@dataclass(frozen=True)
class Advice:
    """Cut the blank, or what else first. ``chance`` that all legs meet their tolerance on lines that are drawn with
    what is learned, ``chance_after`` the same with one more strip of this section bent and measured.
    """

    do: Literal["cut", "strip", "draw again"]
    text: str
    chance: float
    chance_after: float


@dataclass(frozen=True)
class Forecast:
    """A part as it will come out: ``chance`` that all legs meet their tolerance on the lines as given, None where no
    leg has one; ``teach``: further bends, the one that would teach most first.
    """

    legs: tuple[LegForecast, ...]
    angles: tuple[AngleForecast, ...]
    chance: float | None
    teach: tuple[TeachingGain, ...]
    advice: Advice | None


def with_leaf_angles(known: Estimates, plan: StripReading) -> StripReading:
    """A part with the leaf set so that each bend comes out at its angle, where ``set`` is not given.

    What deflection and twist take (``loss``) is left in: it is not the same along the part.
    """
    thickness, _ = thickness_of(plan, known.prior)
    bends = []
    for bend in plan.bends:
        if bend.set is None:
            spring = springback_estimate(known, plan.metal, plan.nominal, bend.inside_radius)
            over = spring.alpha * bend.angle + spring.beta * bend.arm / thickness
            bend = replace(bend, set=bend.angle + over)
        bends.append(bend)
    return replace(plan, bends=tuple(bends))


def predict(
    known: Estimates, plan: StripReading, tolerances: Sequence[float | None] = (), *, goal: float = GOAL
) -> Forecast:
    """A part's finished legs and angles, the chance that it is right, and what to do.

    :param plan: ``loss`` is what the part's own deflection and twist take of each angle where it is looked at, at mid
        length or at an end
    :param tolerances: each leg's, either way [mm]; None where a leg may be what it likes; empty for none
    :param goal: chance from which on a blank is worth cutting
    :raises ValueError: If there is a tolerance missing, or one that is not above 0.
    """
    if tolerances and len(tolerances) != len(plan.legs):
        raise ValueError(f"{len(tolerances)} tolerances for {len(plan.legs)} legs")
    if any(t is not None and not t > 0 for t in tolerances):
        raise ValueError(f"a tolerance is above 0, not {tolerances}")
    plan = with_leaf_angles(known, plan)
    rows = rows_of(plan, known.prior)
    leg_rows = rows.of("leg")
    legs = _legs(known, plan, leg_rows)
    angles = _angles(known, plan, rows.of("angle"))
    teach = _further_bends(known, plan, leg_rows)
    if not tolerances or all(t is None for t in tolerances):
        return Forecast(legs, angles, None, teach, None)
    allowed = np.array([math.inf if t is None else t for t in tolerances])
    chance = _chance(known, leg_rows, np.array([leg.asked for leg in plan.legs]), allowed)
    return Forecast(legs, angles, chance, teach, _advice(known, plan, leg_rows, allowed, chance, goal))


def _pieces(known: Estimates, rows: Rows) -> tuple[Array, Array, Array]:
    """Means, covariance of what is expected, and of the scatter, per member; finished sizes, so nothing is measured."""
    means, inner, noise = forecast(known.posterior, rows, known.prior)
    return means, inner, noise - np.diag(rows.measuring)


def _legs(known: Estimates, plan: StripReading, rows: Rows) -> tuple[LegForecast, ...]:
    means, *covariances = _pieces(known, rows)
    weights = known.posterior.weights
    inner, scatter = (np.einsum("gii->gi", c) for c in covariances)
    values = weights @ means
    held = np.maximum(rows.placed, 0).sum(axis=1)
    legs = []
    for n, leg in enumerate(plan.legs):
        both = inner[:, n] + scatter[:, n]
        wide, narrow = (_interval(weights, means[:, n], variance) for variance in (both, inner[:, n]))
        about = float(weights @ (means[:, n] - values[n]) ** 2)
        total, own = math.sqrt(float(weights @ both) + about), math.sqrt(float(weights @ scatter[:, n]))
        ends = round(float(held[n]))
        legs.append(LegForecast(leg.name, leg.asked, float(values[n]), *wide, *narrow, total, own, ends))
    return tuple(legs)


def _angles(known: Estimates, plan: StripReading, rows: Rows) -> tuple[AngleForecast, ...]:
    means, inner, own = _pieces(known, rows)
    weights = known.posterior.weights
    variance = np.einsum("gii->gi", inner + own)
    angles = []
    for n, bend in enumerate(plan.bends):
        low, high = _interval(weights, means[:, n], variance[:, n])
        leaf = bend.angle if bend.set is None else bend.set
        angles.append(AngleForecast(bend.label, bend.angle, leaf, float(weights @ means[:, n]), low, high))
    return tuple(angles)


def _interval(weights: Array, means: Array, variance: Array) -> tuple[float, float]:
    """Where 95 % of a mixture lies, as much beyond either end."""
    spreads = np.sqrt(np.maximum(variance, 1e-18))
    tail = (1 - SHARE) / 2
    return quantile(tail, weights, means, spreads), quantile(1 - tail, weights, means, spreads)


def _chance(known: Estimates, rows: Rows, centre: Array, allowed: Array) -> float:
    """Chance that all legs lie within what is allowed about a centre."""
    means, inner, own = _pieces(known, rows)
    return _count_chance(known.posterior.weights, means, inner + own, centre, allowed)


def _count_chance(weights: Array, means: Array, covariances: Array, centre: Array, allowed: Array) -> float:
    """Counted on fixed points, so that it repeats."""
    kept = np.flatnonzero(weights > SLIGHT)
    draws = np.random.default_rng(1).standard_normal((DRAWS // 2, means.shape[1]))
    draws = np.concatenate([draws, -draws])
    chance = 0.0
    for member in kept:
        values, ways = np.linalg.eigh(covariances[member])
        at = means[member] + draws @ (ways * np.sqrt(np.maximum(values, 0.0))).T
        chance += weights[member] * float(np.mean(np.all(np.abs(at - centre) <= allowed, axis=1)))
    return float(chance / weights[kept].sum())


@dataclass(frozen=True)
class _Level:
    """Mean covariance of unknowns, those too that no strip has met, to see what a further strip would do to it."""

    slope: Array
    covariance: Array
    unknowns: tuple[Unknown, ...]

    def after(self, known: Estimates, strip: StripReading) -> Array:
        """Covariance of the legs expected, with one more strip measured in full."""
        rows = rows_of(fill_in_measurements(strip), known.prior).measured_rows
        slope, _ = align_slopes(rows, self.unknowns)
        noise = covariance_of(rows, np.array([known.scatter]))[0]
        shared = self.covariance @ slope.T
        left = self.covariance - shared @ np.linalg.solve(slope @ shared + noise, shared.T)
        return np.asarray(self.slope @ left @ self.slope.T)

    @property
    def now(self) -> Array:
        return np.asarray(self.slope @ self.covariance @ self.slope.T)


def _level(known: Estimates, rows: Rows) -> _Level:
    posterior, prior = known.posterior, known.prior
    _, fresh = align_slopes(rows, posterior.unknowns)
    fresh = tuple(u for u in fresh if 0 < prior_spread(prior, u) < math.inf)
    unknowns = posterior.unknowns + fresh
    size = len(posterior.unknowns)
    covariance = np.zeros((len(unknowns), len(unknowns)))
    covariance[:size, :size] = posterior.covariance
    width = float(posterior.weights @ posterior.members.width**2)
    covariance[size:, size:] = np.diag([prior_spread(prior, u) ** 2 * width for u in fresh])
    return _Level(align_slopes(rows, unknowns)[0], covariance, unknowns)


def _further_bends(known: Estimates, plan: StripReading, rows: Rows) -> tuple[TeachingGain, ...]:
    """Each kind of bend of the part on a strip of its own, from the one that teaches most."""
    level = _level(known, rows)
    now = float(np.trace(level.now))
    gains: dict[tuple[float, float, str, str, float | None], TeachingGain] = {}
    for n, bend in enumerate(plan.bends):
        key = (angle_class(bend.angle), bend.inside_radius, bend.held, bend.setup, bend.nose_setting)
        if key in gains or now <= 0:
            continue
        left = float(np.trace(level.after(known, _one_bend(plan, n))))
        gains[key] = TeachingGain(bend.label, bend.angle, bend.held, max(1 - left / now, 0.0))
    return tuple(sorted(gains.values(), key=lambda t: -t.gain))


def _one_bend(plan: StripReading, number: int) -> StripReading:
    """A strip with one bend of a part, of the same sheet."""
    legs = tuple(LegReading(leg.name, leg.asked, leg.dimensions) for leg in plan.legs[number : number + 2])
    blank = math.fsum(leg.asked for leg in legs)
    return replace(plan, name=f"{plan.name} one bend", blank=blank, legs=legs, bends=(plan.bends[number],))


def _advice(known: Estimates, plan: StripReading, rows: Rows, allowed: Array, chance: float, goal: float) -> Advice:
    """What to do: lines that are off can be drawn again, uncertainty can be learned away, scatter cannot."""
    means, _, own = _pieces(known, rows)
    weights = known.posterior.weights
    level = _level(known, rows)
    scatter = np.einsum("g,gij->ij", weights, own)
    centre = weights @ means
    centred = _chance(known, rows, centre, allowed)
    strip = replace(plan, name=f"{plan.name} again")
    one = np.ones(1)
    still = _count_chance(one, centre[None], (level.now + scatter)[None], centre, allowed)
    then = _count_chance(one, centre[None], (level.after(known, strip) + scatter)[None], centre, allowed)
    after = min(centred + max(then - still, 0.0), 1.0)
    if chance < centred - 2 * GAIN and chance < goal:
        text = (
            f"these lines are not those that the strips ask for: all legs are right with a chance of {_percent(chance)}"
        )
        return Advice("draw again", f"{text}; drawn again, of {_percent(centred)}", centred, after)
    if centred >= goal:
        text = f"cut the blank: all legs meet their tolerance with a chance of {_percent(centred)}"
        return Advice("cut", text, centred, after)
    if after - centred >= GAIN:
        text = f"bend another strip: all legs meet their tolerance with a chance of {_percent(centred)}"
        return Advice("strip", f"{text}; one more strip would make it about {_percent(after)}", centred, after)
    text = f"all legs meet their tolerance with a chance of {_percent(centred)}, and strips teach hardly more"
    return Advice("cut", f"{text}: what is left is how steadily each bend is placed and swung", centred, after)


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %"
