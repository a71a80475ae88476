"""From what was learned to a part that is yet to be bent: its finished legs, and whether to cut.

A part is written as a strip of which nothing is measured yet: its lines, held sides and sheet. Every leg comes with the
95 % interval that its finished size will lie in (with the scatter of this one piece), and apart from it the interval of
what is expected (without it), which further strips can narrow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from flatgen.strips.learning.apart import measured_in_full
from flatgen.strips.learning.model import Learned, springback_known
from flatgen.strips.learning.posterior import aligned, covariance_of, forecast, quantile
from flatgen.strips.learning.priors import angle_class, spread
from flatgen.strips.learning.rows import Array, Rows, rows_of, thickness_of
from flatgen.strips.reading import LegReading, StripReading

SHARE = 0.95
"""Share of an interval [-]."""
GOAL = 0.9
"""With such a chance that all legs meet their tolerance a blank is worth cutting: own choice, no source [-]."""
GAIN = 0.02
"""A strip that raises the chance by less is not worth bending: own choice, no source [-]."""
DRAWS = 8192
"""Points that a chance is counted on, each with its mirror image: good to 0.005 [-]."""
SLIGHT = 1e-4
"""Members of the mixture with less weight are left out of chances [-]."""


@dataclass(frozen=True)
class LegForecast:
    """A finished leg. ``value`` [mm]; ``low`` to ``high`` holds 95 % of finished pieces, ``expected_low`` to
    ``expected_high`` what is expected without the scatter of one piece; ``spread``, ``scatter`` [mm]: standard
    deviations of the finished leg and of its own scatter. ``held_ends``: at how many ends it is held.
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
class Teach:
    """What one further bend of this kind would do: ``gain`` is the share of the legs' uncertainty (mean square, scatter
    left out) that it takes away [-].
    """

    label: str
    angle: float
    held: str
    gain: float


@dataclass(frozen=True)
class Advice:
    """Cut the blank, or what else first. ``chance`` that all legs meet their tolerance on lines that are drawn with
    what is learned, ``chance_after`` the same with one more strip of this section bent and measured [-].
    """

    do: Literal["cut", "strip", "draw again"]
    text: str
    chance: float
    chance_after: float


@dataclass(frozen=True)
class Forecast:
    """A part as it will come out. ``chance`` [-] that all legs meet their tolerance on the lines as given; None where
    no leg has one. ``teach``: further bends, the one that would teach most first.
    """

    legs: tuple[LegForecast, ...]
    angles: tuple[AngleForecast, ...]
    chance: float | None
    teach: tuple[Teach, ...]
    advice: Advice | None


def with_leaf_angles(learned: Learned, plan: StripReading) -> StripReading:
    """A part with the leaf set so that each bend comes out at its angle, where ``set`` is not given.

    What deflection and twist take (``loss``) is left in: it is not the same along the part.

    :returns: with ``set`` [deg] at every bend
    """
    thickness, _ = thickness_of(plan, learned.prior)
    bends = []
    for bend in plan.bends:
        if bend.set is None:
            spring = springback_known(learned, plan.metal, plan.nominal, bend.inside_radius)
            over = spring.alpha * bend.angle + spring.beta * bend.arm / thickness
            bend = replace(bend, set=bend.angle + over)
        bends.append(bend)
    return replace(plan, bends=tuple(bends))


def predict(
    learned: Learned, plan: StripReading, tolerances: Sequence[float | None] = (), *, goal: float = GOAL
) -> Forecast:
    """A part's finished legs and angles, the chance that it is right, and what to do.

    :param plan: the part, written as a strip that is not measured yet; ``loss`` is what the part's own deflection and
        twist take of each angle where it is looked at, at mid length or at an end
    :param tolerances: each leg's, either way; None where a leg may be what it likes; empty for none [mm]
    :param goal: chance from which on a blank is worth cutting
    :raises ValueError: If there is a tolerance missing, or one that is not above 0.
    """
    if tolerances and len(tolerances) != len(plan.legs):
        raise ValueError(f"{len(tolerances)} tolerances for {len(plan.legs)} legs")
    if any(t is not None and not t > 0 for t in tolerances):
        raise ValueError(f"a tolerance is above 0, not {tolerances}")
    plan = with_leaf_angles(learned, plan)
    rows = rows_of(plan, learned.prior)
    legs = _legs(learned, plan, rows.of("leg"))
    angles = _angles(learned, plan, rows.of("angle"))
    teach = _further_bends(learned, plan, rows.of("leg"))
    if not tolerances or all(t is None for t in tolerances):
        return Forecast(legs, angles, None, teach, None)
    allowed = np.array([math.inf if t is None else t for t in tolerances])
    chance = _chance(learned, rows.of("leg"), np.array([leg.asked for leg in plan.legs]), allowed)
    return Forecast(legs, angles, chance, teach, _advice(learned, plan, rows.of("leg"), allowed, chance, goal))


def _pieces(learned: Learned, rows: Rows) -> tuple[Array, Array, Array]:
    """Means, covariance of what is expected, and of the scatter, per member; finished sizes, so nothing is measured."""
    means, known, noise = forecast(learned.posterior, rows, learned.prior)
    return means, known, noise - np.diag(rows.measuring)


def _legs(learned: Learned, plan: StripReading, rows: Rows) -> tuple[LegForecast, ...]:
    means, known, own = _pieces(learned, rows)
    weights = learned.posterior.weights
    inner, scatter = (np.einsum("gii->gi", c) for c in (known, own))
    values = weights @ means
    held = np.maximum(rows.placed, 0).sum(axis=1)
    found = []
    for n, leg in enumerate(plan.legs):
        wide, narrow = (
            _interval(weights, means[:, n], variance) for variance in (inner[:, n] + scatter[:, n], inner[:, n])
        )
        about = float(weights @ (means[:, n] - values[n]) ** 2)
        total = float(weights @ (inner[:, n] + scatter[:, n])) + about
        alone = math.sqrt(float(weights @ scatter[:, n]))
        found.append(
            LegForecast(
                leg.name, leg.asked, float(values[n]), *wide, *narrow, math.sqrt(total), alone, round(float(held[n]))
            )
        )
    return tuple(found)


def _angles(learned: Learned, plan: StripReading, rows: Rows) -> tuple[AngleForecast, ...]:
    means, known, own = _pieces(learned, rows)
    weights = learned.posterior.weights
    variance = np.einsum("gii->gi", known + own)
    found = []
    for n, bend in enumerate(plan.bends):
        low, high = _interval(weights, means[:, n], variance[:, n])
        leaf = bend.angle if bend.set is None else bend.set
        found.append(AngleForecast(bend.label, bend.angle, leaf, float(weights @ means[:, n]), low, high))
    return tuple(found)


def _interval(weights: Array, means: Array, variance: Array) -> tuple[float, float]:
    """Where 95 % of a mixture lies, as much beyond either end."""
    spreads = np.sqrt(np.maximum(variance, 1e-18))
    tail = (1 - SHARE) / 2
    return quantile(tail, weights, means, spreads), quantile(1 - tail, weights, means, spreads)


def _chance(learned: Learned, rows: Rows, centre: Array, allowed: Array) -> float:
    """Chance that all legs lie within what is allowed about a centre; counted on fixed points, so that it repeats."""
    means, known, own = _pieces(learned, rows)
    return _counted(learned.posterior.weights, means, known + own, centre, allowed)


def _counted(weights: Array, means: Array, covariances: Array, centre: Array, allowed: Array) -> float:
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

    rows: Rows
    slope: Array
    covariance: Array
    unknowns: tuple[tuple[str | float | None, ...], ...]

    def after(self, learned: Learned, strip: StripReading) -> Array:
        """Covariance of the legs expected, with one more strip measured in full."""
        rows = rows_of(measured_in_full(strip), learned.prior).seen
        seen, _ = aligned(rows, self.unknowns)
        noise = covariance_of(rows, np.array([learned.scatter]))[0]
        shared = self.covariance @ seen.T
        left = self.covariance - shared @ np.linalg.solve(seen @ shared + noise, shared.T)
        return np.asarray(self.slope @ left @ self.slope.T)

    @property
    def now(self) -> Array:
        return np.asarray(self.slope @ self.covariance @ self.slope.T)


def _level(learned: Learned, rows: Rows) -> _Level:
    posterior, prior = learned.posterior, learned.prior
    _, fresh = aligned(rows, posterior.unknowns)
    fresh = tuple(u for u in fresh if 0 < spread(prior, u) < math.inf)
    unknowns = posterior.unknowns + fresh
    size = len(posterior.unknowns)
    covariance = np.zeros((len(unknowns), len(unknowns)))
    covariance[:size, :size] = posterior.covariance
    width = float(posterior.weights @ posterior.members.width**2)
    covariance[size:, size:] = np.diag([spread(prior, u) ** 2 * width for u in fresh])
    return _Level(rows, aligned(rows, unknowns)[0], covariance, unknowns)


def _further_bends(learned: Learned, plan: StripReading, rows: Rows) -> tuple[Teach, ...]:
    """Each kind of bend of the part on a strip of its own, from the one that teaches most."""
    level = _level(learned, rows)
    now = float(np.trace(level.now))
    found: dict[tuple[float, float, str, str, float | None], Teach] = {}
    for n, bend in enumerate(plan.bends):
        key = (angle_class(bend.angle), bend.inside_radius, bend.held, bend.setup, bend.nose_setting)
        if key in found or now <= 0:
            continue
        left = float(np.trace(level.after(learned, _one_bend(plan, n))))
        found[key] = Teach(bend.label, bend.angle, bend.held, max(1 - left / now, 0.0))
    return tuple(sorted(found.values(), key=lambda t: -t.gain))


def _one_bend(plan: StripReading, number: int) -> StripReading:
    """A strip with one bend of a part, of the same sheet."""
    legs = tuple(LegReading(leg.name, leg.asked, leg.dimensions) for leg in plan.legs[number : number + 2])
    blank = math.fsum(leg.asked for leg in legs)
    return replace(plan, name=f"{plan.name} one bend", blank=blank, legs=legs, bends=(plan.bends[number],))


def _advice(learned: Learned, plan: StripReading, rows: Rows, allowed: Array, chance: float, goal: float) -> Advice:
    """What to do: lines that are off can be drawn again, uncertainty can be learned away, scatter cannot."""
    means, _known, own = _pieces(learned, rows)
    weights = learned.posterior.weights
    level = _level(learned, rows)
    scatter = np.einsum("g,gij->ij", weights, own)
    centre = weights @ means
    centred = _chance(learned, rows, centre, allowed)
    strip = replace(plan, name=f"{plan.name} again")
    one = np.ones(1)
    still = _counted(one, centre[None], (level.now + scatter)[None], centre, allowed)
    then = _counted(one, centre[None], (level.after(learned, strip) + scatter)[None], centre, allowed)
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
