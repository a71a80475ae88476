"""Parts to come, doubts and residuals: against tables, scipy's normal laws, and cases worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats  # noqa: TID253  the independent solver

from flatgen.strips.learning.apart import find_entanglements
from flatgen.strips.learning.misfit import find_doubts, residuals
from flatgen.strips.learning.model import learn
from flatgen.strips.learning.posterior import chance_below, forecast, quantile
from flatgen.strips.learning.predict import predict, with_leaf_angles
from flatgen.strips.learning.priors import Prior
from flatgen.strips.learning.rows import rows_of
from flatgen.strips.reading import LegReading
from tests.paper.strip_sheets.strip_samples import sample
from tests.strips.learning import learning_shops as shops
from tests.strips.learning.by_hand import EXACT, bend, strip


def test_finished_legs_of_the_design() -> None:
    """Design, sight line: finished mould-line length less the distance from edge to sight line is t for the held leg
    and 2r + t - BA for the swung one (matching nose, 90 degrees, e = 0). t 1, r 2, K 0.42: 1 and 5 - 3.80133."""
    plan = strip([bend("A", got=None, sight=32.0)], [None, None], blank=70.0)
    learned = learn([], Prior(**EXACT))
    held, swung = predict(learned, plan).legs
    assert held.value == pytest.approx(33.0, abs=1e-9)
    assert swung.value == pytest.approx(70 - 32 + 5 - math.pi / 2 * 2.42, abs=1e-9)
    assert (held.held_ends, swung.held_ends) == (1, 0)
    other = predict(learned, replace(plan, bends=(replace(plan.bends[0], held="second", sight=38.0),))).legs
    assert [leg.value for leg in other] == pytest.approx([32 + 5 - math.pi / 2 * 2.42, 39.0], abs=1e-9)


def test_a_mixture_of_normal_laws_has_these_limits() -> None:
    """Against scipy.stats.norm, and a root of its mixture."""
    weights, means, sigma = np.array([0.7, 0.3]), np.array([0.0, 1.0]), np.array([1.0, 3.0])
    limit = quantile(0.975, weights, means, sigma)
    assert float(weights @ stats.norm(means, sigma).cdf(limit)) == pytest.approx(0.975, abs=1e-6)
    expected = float(weights @ stats.norm(means, sigma).cdf(-2.0))
    assert chance_below(-2.0, weights, means, sigma) == pytest.approx(expected, abs=1e-12)


def test_chance_that_all_legs_are_right() -> None:
    """One bend, held leg normal with sd s: delta on one leg, -delta on the other; both inside +-0.2 together is
    P(|delta| < 0.2) = 2 Phi(0.2/0.1) - 1 = 0.9545 (tables of the normal law)."""
    plan = strip([bend("A", got=None, set=90.0)], [None, None])
    learned = learn([], Prior(**EXACT, k_metal=0.0, offset=0.0, scatters=(0.1,)))
    target = predict(learned, plan)
    right = replace(
        plan, legs=tuple(replace(g, asked=leg.value) for g, leg in zip(plan.legs, target.legs, strict=True))
    )
    told = predict(learned, right, (0.2, 0.2))
    assert told.chance == pytest.approx(0.9545, abs=0.006)
    assert predict(learned, right, (0.2, None)).chance == pytest.approx(0.9545, abs=0.006)
    assert predict(learned, right, (None, None)).chance is None
    low, high = target.legs[0].low, target.legs[0].high
    assert (low - target.legs[0].value, high - target.legs[0].value) == pytest.approx((-0.196, 0.196), abs=1e-3)
    assert target.legs[0].expected_high - target.legs[0].expected_low < 1e-6


def test_chance_with_legs_that_lean_on_one_another() -> None:
    """A real posterior's chance against scipy's integral of the multivariate normal law, one scatter."""
    lesson = shops.lesson(3, 2)
    prior = Prior(scatters=(0.1,), wide_chance=0.0)
    learned = learn(lesson.strips, prior)
    plan = with_leaf_angles(learned, lesson.part)
    told = predict(learned, plan, [0.3] * len(plan.legs))
    rows = rows_of(plan, prior).of("leg")
    means, known, own = forecast(learned.posterior, rows, prior)
    whole = (known + own)[0] - np.diag(rows.measuring)
    centre = np.array([leg.asked for leg in plan.legs])
    law = stats.multivariate_normal(means[0], whole, allow_singular=True, seed=1)
    assert told.chance == pytest.approx(law.cdf(centre + 0.3, lower_limit=centre - 0.3), abs=0.01)


def test_unmeasured_part_on_another_sheet_is_less_sure() -> None:
    lesson = shops.lesson(4, 8)
    learned = learn(lesson.strips, Prior())
    same = predict(learned, replace(lesson.part, sheet="batch 3"))
    new = predict(learned, replace(lesson.part, sheet="batch 77"))
    for one, other in zip(same.legs, new.legs, strict=True):
        if one.held_ends < 2:
            assert other.high - other.low > one.high - one.low - 1e-5


def test_advice_and_what_teaches_most() -> None:
    """Tolerances so wide that all is right, so tight that scatter alone spoils it, and lines that are off."""
    lesson = shops.lesson(12, 1)
    learned = learn(lesson.strips, Prior())
    target = predict(learned, lesson.part)
    redrawn = replace(
        lesson.part,
        legs=tuple(replace(g, asked=leg.value) for g, leg in zip(lesson.part.legs, target.legs, strict=True)),
    )
    count = len(redrawn.legs)
    wide = predict(learned, redrawn, [3.0] * count)
    assert wide.chance == pytest.approx(1.0, abs=0.01)
    assert wide.advice is not None
    assert wide.advice.do == "cut"
    tight = predict(learned, redrawn, [0.01] * count)
    assert tight.chance is not None
    assert tight.chance < 0.05
    assert tight.advice is not None
    assert "strips teach hardly more" in tight.advice.text
    off = replace(redrawn, legs=tuple(replace(g, asked=g.asked + 1.5) for g in redrawn.legs))
    assert (predict(learned, off, [0.8] * count).advice or wide.advice).do == "draw again"
    assert [t.gain for t in wide.teach] == sorted((t.gain for t in wide.teach), reverse=True)
    assert all(0 <= t.gain < 1 for t in wide.teach)
    with pytest.raises(ValueError, match="tolerances for"):
        predict(learned, redrawn, [0.1])
    with pytest.raises(ValueError, match="above 0"):
        predict(learned, redrawn, [0.0] * count)


def test_what_one_bend_teaches_comes_true() -> None:
    """The gain told of a bend against learning from it in earnest, with one scatter: the spread does not hang on the
    numbers measured, so both must be one."""
    lesson = shops.lesson(12, 2)
    prior = Prior(scatters=(0.1,), wide_chance=0.0)
    learned = learn(lesson.strips, prior)
    plan = with_leaf_angles(learned, lesson.part)
    first = predict(learned, plan)
    told = first.teach[0]
    n = [b.label for b in plan.bends].index(told.label)
    b = plan.bends[n]
    legs = tuple(LegReading(f"x{i}", g.asked, g.dimensions, g.asked) for i, g in enumerate(plan.legs[n : n + 2]))
    blank = legs[0].asked + legs[1].asked
    done = replace(
        plan,
        name="further",
        legs=legs,
        bends=(replace(b, got=b.angle, radius=b.inside_radius),),
        blank=blank,
        blank_got=blank,
    )
    after = predict(learn([*lesson.strips, done], prior), plan)

    def unsure(legs_: Any) -> float:
        return sum((leg.expected_high - leg.expected_low) ** 2 for leg in legs_)

    assert 1 - unsure(after.legs) / unsure(first.legs) == pytest.approx(told.gain, abs=0.01)


def test_residuals_name_each_number() -> None:
    """Measured numbers come back as they were; of 20 shops about nineteen residuals in twenty are under two spreads."""
    shares = []
    for seed in range(20):
        strips = shops.lesson(seed, 3).strips
        found = residuals(learn(strips, Prior()), strips)
        shares += [r.share for r in found if r.what == "leg"]
        legs = [r for r in found if r.what == "leg" and r.strip == strips[1].name]
        assert [r.measured for r in legs] == [g.got for g in strips[1].legs]
    assert 0.90 < np.mean(np.abs(shares) < 1.96) < 0.985
    assert 0.8 < np.std(shares) < 1.15


def test_an_expected_value_is_named() -> None:
    """A leg read 2 mm too long in one of four strips: named, with what was expected within 0.5 mm of the truth."""
    lesson = shops.lesson(1, 4)
    one = lesson.strips[2]
    legs = (replace(one.legs[0], got=(one.legs[0].got or 0) + 2.0), *one.legs[1:])
    found = find_doubts((*lesson.strips[:2], replace(one, legs=legs), lesson.strips[3]), Prior())
    assert (found[0].strip, found[0].what, found[0].name) == (one.name, "leg", one.legs[0].name)
    assert found[0].expected[0] == pytest.approx(one.legs[0].got, abs=0.5)
    assert f"expected {found[0].expected[0]:.2f} mm" in found[0].text
    assert found[0].remedy == "measure it again"


def test_two_faults_are_both_found() -> None:
    lesson = shops.lesson(1, 4)
    strips = list(lesson.strips)
    for number in (1, 3):
        one = strips[number]
        strips[number] = replace(one, legs=(replace(one.legs[0], got=(one.legs[0].got or 0) + 2.0), *one.legs[1:]))
    assert {"strip 1", "strip 3"} <= {d.strip for d in find_doubts(strips, Prior())}


@pytest.mark.parametrize("seed", [n if n < 40 else pytest.param(n, marks=pytest.mark.thorough) for n in range(1000)])
def test_odd_readings_are_no_trouble(seed: int) -> None:
    """Strips with numbers left out or far from what was asked: no exception, no warning, every figure is a number."""
    strips = [replace(sample(seed * 7 + n), name=f"odd {n}") for n in range(1 + seed % 4)]
    learned = learn(strips, Prior())
    told = predict(learned, strips[0], [0.5] * len(strips[0].legs))
    figures = [a.value for a in learned.allowances] + [a.spread for a in learned.allowances]
    figures += [x for leg in told.legs for x in (leg.value, leg.low, leg.high, leg.spread)]
    assert np.all(np.isfinite(figures))
    assert all(leg.low <= leg.value <= leg.high or leg.spread > 1 for leg in told.legs)
    assert told.chance is not None
    assert 0 <= told.chance <= 1
    for doubt in find_doubts(strips, Prior()):
        assert np.isfinite(doubt.off)
        assert doubt.text.startswith(doubt.strip)
    for entangled in (*learned.entangled, *find_entanglements(strips[0], Prior())):
        assert entangled.text
        assert entangled.remedy
