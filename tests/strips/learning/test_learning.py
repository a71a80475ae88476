"""What strips teach in made-up workshops (:mod:`shops`), beside the best that can be known (:mod:`best`).

Limits are the task's. The thorough run takes 1,000 shops for each number of strips, the normal one 100: there a share
near 0.95 counted on about 400 legs, of which those of one part lean on one another, has a standard error of 0.015, one
near 0.05 of 100 shops a standard error of 0.02; limits on shares are 0.03 wider there.
``python -m tests.strips.learning.learning_shops 1000`` prints the whole table.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatgen.strips.learning.model import learn
from flatgen.strips.learning.predict import predict, with_leaf_angles
from flatgen.strips.learning.priors import Prior
from tests.strips.learning import learning_shops as shops
from tests.strips.learning.best import best_legs, formed
from tests.strips.learning.scores import PRIOR, alarms, rms, score

COUNTS = [100, pytest.param(1000, marks=pytest.mark.thorough)]
SLACK = {100: 0.03, 1000: 0.0}
"""On shares, of counting on so few shops; see the head."""


@pytest.mark.parametrize("strips", range(1, 9))
@pytest.mark.parametrize("count", COUNTS)
def test_intervals_hold_and_strips_teach(count: int, strips: int) -> None:
    """Task, 1: 93 to 97 % of finished legs in their 95 % intervals; RMS against what is expected at most 0.45 of the
    handbook's after one strip, 0.30 after four; within 10 % of the best."""
    found = score(strips, range(count))
    assert 0.93 - SLACK[count] <= found.cover <= 0.97 + SLACK[count]
    assert 0.93 - SLACK[count] <= float(found.expected_inside.mean()) <= 0.97 + SLACK[count]
    assert found.to_handbook <= (0.45 if strips < 4 else 0.30)
    assert found.to_best <= 1.10
    for ends in (0, 1, 2):
        apart = found.only(ends)
        assert apart.to_handbook <= (0.45 if strips < 4 else 0.30), ends
        assert len(apart.model) > count / 4


FEW_STRIPS = [(n, 100) for n in range(1, 5)] + [
    pytest.param(n, c, marks=pytest.mark.thorough) for n in range(1, 9) for c in (100, 1000) if n > 4 or c > 100
]
"""Up to four strips in the normal run: with more, faults are found more easily, and each shop takes longer."""


@pytest.mark.parametrize(("strips", "count"), FEW_STRIPS)
def test_faults_of_a_millimetre_are_flagged(strips: int, count: int) -> None:
    """Task, 2: one bend off by 1 mm is flagged in at least 90 % of cases, a whole strip likewise once one clean strip
    is known, with false alarms under 5 %. A leg that was read wrongly looks like metal and offset while there is one
    strip only (0.88 of 1,000 shops); from the second on it is held to the same."""
    found = alarms(strips, range(count))
    assert found.false < 0.05 + SLACK[count]
    assert found.bend >= 0.90
    if strips > 1:
        assert found.leg >= 0.90
        assert found.strip >= 0.90
        assert found.bend_by_name >= 0.85


def with_k(lesson: shops.Lesson, k: float) -> shops.Lesson:
    """The same workshop and chances, with another K; strips of three bends are bent anew."""
    rng = np.random.default_rng([lesson.seed, 31])
    shop = replace(
        lesson.shop,
        t=2.0,
        nominal_r=4.0,
        nose=4.0,
        r=4.0 + rng.normal(0, 0.1),
        k=k,
        batch_k=tuple(k + x for x in rng.normal(0, 0.015, 6)),
        angles=(90.0, 90.0, 120.0),
        legs=(45.0, 60.0, 60.0, 45.0),
        held=("second", "first", "first"),
        arms=(20.0, 20.0, 25.0),
    )
    leaf = tuple(a * 1.03 for a in shop.angles)
    strips = tuple(
        shops.written(shop, n, 0, shops.bend_it(shop, 0, leaf, rng), leaf, rng) for n in range(len(lesson.strips))
    )
    return replace(lesson, shop=shop, strips=strips, part=shops.unmeasured(strips[0], "part", 0, shop.t), batch=0)


@pytest.mark.parametrize("k", [0.20, 0.62])
@pytest.mark.parametrize("count", [60, pytest.param(600, marks=pytest.mark.thorough)])
def test_six_bends_overcome_a_wrong_prior(count: int, k: float) -> None:
    """Task, 2: K outside the prior's bulk. Two strips of three bends, t 2, r 4: expected K is (0.4005 + 0.41)/2 = 0.405
    with a spread of 0.05, so 0.20 and 0.62 lie four spreads away. Overcome: errors as small as those of workshops whose
    K is as expected (within a quarter), and the truth in the intervals."""
    errors: dict[float, list[float]] = {k: [], 0.405: []}
    inside = []
    for seed in range(count):
        for true in errors:
            lesson = with_k(shops.lesson(seed, 2), true)
            learned = learn(lesson.strips, PRIOR)
            plan = with_leaf_angles(learned, lesson.part)
            made = lesson.make_part(tuple(float(b.set or 0) for b in plan.bends))
            legs = predict(learned, plan).legs
            errors[true] += [leg.value - x for leg, x in zip(legs, made.expected, strict=True)]
            if true == k:
                inside += [leg.low <= x <= leg.high for leg, x in zip(legs, made.legs, strict=True)]
    assert rms(np.array(errors[k])) <= 1.25 * rms(np.array(errors[0.405]))
    assert np.mean(inside) >= 0.93 - (0.03 if count < 100 else 0.0)


def test_simulator_and_best_share_their_geometry_only() -> None:
    """Simulator and best give one piece, each by its own program; flats and arcs add up to the blank."""
    for seed in range(20):
        lesson = shops.lesson(seed, 1)
        shop, leaf = lesson.shop, tuple(float(b.set or 0) for b in lesson.strips[0].bends)
        zero = np.zeros(len(leaf))
        made = shops.bend_it(replace(shop, hand=0.0), 0, leaf, np.random.default_rng(0))
        legs, angles = formed(shop, shop.batch_k[0], leaf, zero, zero, 0.0, shop.t)
        assert legs == pytest.approx(made.expected, abs=1e-9)
        arcs = sum(np.radians(a) * (shop.r + shop.batch_k[0] * shop.t) for a in angles)
        backs = sum(2 * shops.tangent_setback(a, shop.r, shop.t, shop.ways) for a in angles)
        assert legs.sum() - backs + arcs == pytest.approx(shops.lines(shop)[0], abs=1e-9)


def test_the_best_without_strips_is_the_middle_of_what_can_be() -> None:
    """No strip: legs for K in the middle of 0.33 to 0.50, no offset, the radius asked for."""
    lesson = shops.lesson(3, 0)
    shop = replace(lesson.shop, r=lesson.shop.nominal_r, e=0.0, alpha=0.03, beta=0.0)
    zero = np.zeros(len(shop.angles))
    leaf = lesson.exact_angles
    legs, _ = formed(shop, 0.415, leaf, zero, zero, 0.0, float(lesson.part.thickness or 0))
    assert best_legs(lesson, leaf) == pytest.approx(legs, abs=1e-9)


def test_a_shop_without_placement_scatter_is_hit_after_four_strips() -> None:
    """Task, 5, its numbers alone: no placement scatter, four strips; most legs within 0.15 mm of what is expected."""
    off = []
    for seed in range(20):
        lesson = shops.lesson(seed, 4)
        quiet = replace(lesson.shop, hand=0.0)
        rng = np.random.default_rng([seed, 8])
        leaf = tuple(a * 1.03 for a in quiet.angles)
        strips = tuple(shops.written(quiet, n, 0, shops.bend_it(quiet, 0, leaf, rng), leaf, rng) for n in range(4))
        learned = learn(strips, Prior())
        plan = with_leaf_angles(learned, shops.unmeasured(strips[0], "part", 0, quiet.t))
        made = shops.bend_it(quiet, 0, tuple(float(b.set or 0) for b in plan.bends), rng)
        off += [leg.value - x for leg, x in zip(predict(learned, plan).legs, made.expected, strict=True)]
    assert np.mean(np.abs(off) < 0.15) > 0.95
