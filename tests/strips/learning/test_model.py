"""The model of test strips against least squares by scipy, normal laws by scipy, and cases worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import linalg, stats  # noqa: TID253  the independent solver

from flatgen.metal.allowance import GivenK
from flatgen.strips.learning.apart import find_entanglements
from flatgen.strips.learning.model import Estimates, allowance_estimate, learn, springback_estimate
from flatgen.strips.learning.priors import Prior, kind_of
from flatgen.strips.reading import BendReading, StripReading
from tests.strips.learning import learning_shops as shops
from tests.strips.learning.by_hand import EXACT, METAL, bend, strip


def drawn(strips: int, seed: int) -> list[StripReading]:
    """Strips with random sections, sight lines, held sides and legs; some legs not measured."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(strips):
        count = int(rng.integers(1, 5))
        bends = [
            bend(
                chr(65 + n),
                float(a := rng.choice([45.0, 90.0, 120.0])),
                str(rng.choice(["first", "second"])),
                sight=float(rng.uniform(20, 80)),
                got=float(a + rng.normal(0, 1)),
                set=float(a * 1.03 + rng.normal(0, 0.2)),
                radius=float(rng.normal(2, 0.1)),
            )
            for n in range(count)
        ]
        legs = [float(rng.uniform(20, 60)) if n == 0 or rng.random() < 0.8 else None for n in range(count + 1)]
        found.append(strip(bends, legs, f"strip {number}", blank=float(rng.uniform(90, 200)), blank_got=150.0))
    return found


def by_hand(strips: list[StripReading], scatter: float, error: float) -> tuple[np.ndarray, np.ndarray]:
    """K and e by generalised least squares: legs written out from plane geometry, solved by scipy.

    A bend with its first side held has its tangent lines at sight - Rn - e and BA farther; one with its second side
    held at the same from the far end of the blank. BA = A (r + K t). Whitened by the Cholesky factor of the covariance
    in which a bend's misplacement adds to its held leg and is taken from the other.
    """
    rows, values = [], []
    for s in strips:
        starts, stops = [], []  # each as (constant, factor of K, factor of e)
        for b in s.bends:
            turned = math.radians(b.got or 0.0)
            arc = np.array([turned * b.inside_radius, turned * 1.0, 0.0])
            line = np.array([(b.sight or 0.0) - b.nose_radius, 0.0, -1.0])
            start = line if b.held == "first" else np.array([s.blank, 0, 0]) - line - arc
            starts.append(start)
            stops.append(start + arc)
        starts.append(np.array([s.blank, 0.0, 0.0]))
        stops.insert(0, np.zeros(3))
        slips = np.zeros((len(s.legs), len(s.bends)))
        for n, b in enumerate(s.bends):
            slips[n, n], slips[n + 1, n] = (1, -1) if b.held == "first" else (-1, 1)
        measured, factors, kept = [], [], []
        for n, leg in enumerate(s.legs):
            if leg.got is None:
                continue
            back = sum(
                (b.inside_radius + 1.0) * math.tan(math.radians(b.got or 0.0) / 2)
                for i, b in enumerate(s.bends)
                if i in (n - 1, n)
            )
            flat = starts[n] - stops[n]
            measured.append(leg.got - flat[0] - back)
            factors.append(flat[1:])
            kept.append(n)
        noise = scatter**2 * (slips @ slips.T)[np.ix_(kept, kept)] + error**2 * np.eye(len(kept))
        factor = linalg.cholesky(noise, lower=True)
        rows.append(linalg.solve_triangular(factor, np.array(factors), lower=True))
        values.append(linalg.solve_triangular(factor, np.array(measured), lower=True))
    matrix, right = np.concatenate(rows), np.concatenate(values)
    return linalg.lstsq(matrix, right)[0], np.linalg.inv(matrix.T @ matrix)


@pytest.mark.parametrize("seed", range(20))
def test_with_a_flat_prior_it_is_least_squares(seed: int) -> None:
    """Against scipy.linalg.lstsq on whitened rows written out in this file: equal to 1e-9 (the task's figure)."""
    strips = drawn(4, seed)
    strips = [replace(s, bends=tuple(replace(b, set=None, radius=None) for b in s.bends)) for s in strips]
    scatter = 0.02 + 0.02 * seed
    prior = Prior(**EXACT, k_metal=math.inf, offset=math.inf, scatters=(scatter,), length_error=0.1)
    learned = learn(strips, prior)
    (k, e), covariance = by_hand(strips, scatter, 0.1)
    unknowns = {str(u[0]): n for n, u in enumerate(learned.posterior.unknowns)}
    order = [unknowns["k metal"], unknowns["offset"]]
    assert learned.posterior.mean[order] + [0.42, 0.0] == pytest.approx([k, e], abs=1e-9)
    assert learned.posterior.covariance[np.ix_(order, order)] == pytest.approx(covariance, abs=1e-9)
    assert learned.offsets[0].value == pytest.approx(e, abs=1e-9)
    assert learned.allowances[0].k == pytest.approx(k, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_springback_with_a_flat_prior_is_least_squares(seed: int) -> None:
    """A0 - A = alpha A + beta a/t over many bends, by scipy.linalg.lstsq; the angle's error is the same for all."""
    rng = np.random.default_rng(seed)
    bends = [
        bend("A", a, arm=float(arm), set=a * 1.04 + 0.1 * arm, got=float(a + rng.normal(0, 0.3)))
        for a, arm in zip([45.0, 90.0, 120.0, 90.0], rng.uniform(10, 40, 4), strict=True)
    ]
    strips = [strip([b], [None, None], f"s{n}") for n, b in enumerate(bends)]
    free = EXACT | {"alpha": (0.0, math.inf), "beta": (0.0, math.inf), "angle_scatter": 0.3, "angle_error": 0.25}
    known = springback_estimate(learn(strips, Prior(**free, scatters=(0.1,))), METAL, 1.0, 2.0)
    matrix = np.array([[b.got, b.arm] for b in bends], dtype=float)
    right = np.array([(b.set or 0) - (b.got or 0) for b in bends])
    assert [known.alpha, known.beta] == pytest.approx(linalg.lstsq(matrix, right)[0], abs=1e-9)
    assert known.bends == 4
    assert known.told


def test_what_deflection_took_is_no_springback() -> None:
    """By hand: set 95, got 90, of which 2 degrees were lost to the beams: alpha = 3/90, not 5/90."""
    free = EXACT | {"alpha": (0.0, math.inf), "angle_scatter": 0.3, "angle_error": 0.25}
    learned = learn([strip([bend("A", set=95.0, got=90.0, loss=2.0)], [None, None])], Prior(**free, scatters=(0.1,)))
    assert learned.springbacks[0].alpha == pytest.approx(3 / 90, abs=1e-9)


def spreads(strips: list[StripReading]) -> tuple[float, float]:
    """Standard deviations of BA and e with all else known, legs read to 0.1 mm, no placement scatter."""
    prior = Prior(**EXACT, k_metal=math.inf, offset=math.inf, scatters=(0.0,), length_error=0.1)
    learned = learn(strips, prior)
    return learned.allowances[0].spread, learned.offsets[0].spread


def test_a_teaching_strip_tells_more() -> None:
    """References, mechanics section 4 (seen): one-bend strip, sd of BA 0.14, of e 0.10 mm; two bends with the middle
    leg held at both, 0.087 and 0.050. By hand: sqrt(2)/10, 1/10; sqrt(3)/20, 1/20."""
    assert spreads([strip([bend("A")], [38.0, 60.0])]) == pytest.approx((math.sqrt(0.02), 0.1), abs=1e-9)
    both = strip([bend("A", held="second"), bend("B", held="first")], [30.0, 40.0, 30.0])
    assert spreads([both]) == pytest.approx((math.sqrt(0.03) / 2, 0.05), abs=1e-9)


def test_an_unnoticed_radius_reads_as_a_small_k() -> None:
    """References, mechanics section 4: an unnoticed radius of 1.5 for 1 reads as K = 0.28 (t 1, true K 0.42).

    By hand, one 90 degree bend: BA = (pi/2)(1.5 + 0.42), SB 2.5; drawn with SB 2 the blank asks for BA - 1.
    """
    arc = math.pi / 2 * 1.92
    a = bend("A", inside_radius=1.0, nose_radius=1.0, sight=31.0)
    legs: list[float | None] = [30.0 + 2.5, 100 - 30 - arc + 2.5]
    prior = Prior(**EXACT, k_metal=math.inf, offset=math.inf, scatters=(0.01,))
    assert learn([strip([a], legs)], prior).allowances[0].k == pytest.approx(0.28, abs=0.005)
    measured = strip([replace(a, radius=1.5)], legs)
    free = replace(prior, radius_kind=math.inf, radius_error=1e-6)
    known = learn([measured], free).allowances[0]
    assert known.k == pytest.approx(0.42, abs=1e-4)
    assert known.value == pytest.approx(arc, abs=1e-4)
    assert known.drawn == pytest.approx(arc - 1.0, abs=1e-4)  # what makes the blank right at the radius that was drawn
    assert known.drawn_offset == pytest.approx(-0.5, abs=1e-4)  # the held leg is 0.5 longer than drawn


def stacked(strips: list[StripReading], prior: Prior, scatter: float, width: float) -> float:
    """Logarithm of the evidence, by one multivariate normal over all legs of all strips with K and e integrated out."""
    means, covariances = [], []
    zero, step = {}, {}
    for name, k, e in (("base", 0.42, 0.0), ("k", 1.42, 0.0), ("e", 0.42, 1.0)):
        zero[name] = np.concatenate([_legs(s, k, e) for s in strips])
    step = np.column_stack([zero["k"] - zero["base"], zero["e"] - zero["base"]])
    for s in strips:
        slips = np.zeros((len(s.legs), len(s.bends)))
        for n, b in enumerate(s.bends):
            slips[n, n], slips[n + 1, n] = (1, -1) if b.held == "first" else (-1, 1)
        covariances.append(scatter**2 * slips @ slips.T + prior.length_error**2 * np.eye(len(s.legs)))
        means.append([leg.got for leg in s.legs])
    prior_spread = width * np.array([prior.k_metal, prior.offset])
    whole = linalg.block_diag(*covariances) + (step * prior_spread**2) @ step.T
    return float(stats.multivariate_normal(zero["base"], whole).logpdf(np.concatenate(means)))


def _legs(s: StripReading, k: float, e: float) -> np.ndarray:
    starts, stops = [], [0.0]
    for b in s.bends:
        arc = math.radians(b.got or 0) * (b.inside_radius + k)
        line = (b.sight or 0) - b.nose_radius - e
        start = line if b.held == "first" else s.blank - line - arc
        starts.append(start)
        stops.append(start + arc)
    starts.append(s.blank)
    legs = np.array(starts) - np.array(stops)
    for n, b in enumerate(s.bends):
        back = (b.inside_radius + 1) * math.tan(math.radians(b.got or 0) / 2)
        legs[n] += back
        legs[n + 1] += back
    return np.asarray(legs)


@pytest.mark.parametrize("seed", range(5))
def test_scatter_and_width_are_weighed_by_the_exact_evidence(seed: int) -> None:
    """Weights of the members against scipy.stats.multivariate_normal over all legs at once."""
    rng = np.random.default_rng(seed)
    strips = []
    for s in drawn(3, seed):
        bends = tuple(replace(b, set=None, radius=None) for b in s.bends)
        clean = replace(s, bends=bends, blank_got=None)
        legs = _legs(clean, 0.44, 0.2) + rng.normal(0, 0.15, len(s.legs))
        strips.append(replace(clean, legs=tuple(replace(g, got=float(x)) for g, x in zip(s.legs, legs, strict=True))))
    scatters = (0.02, 0.1, 0.3)
    exact = EXACT | {"wide_chance": 0.2, "wide": 3.0}
    prior = Prior(**exact, k_metal=0.05, offset=0.5, scatters=scatters)
    posterior = learn(strips, prior).posterior
    pairs = list(zip(posterior.members.scatter, posterior.members.width, posterior.members.weight, strict=True))
    level = np.array([stacked(strips, prior, s, w) + before for s, w, before in pairs])
    weights = np.exp(level - level.max())
    assert posterior.weights == pytest.approx(weights / weights.sum(), abs=1e-9)


@pytest.mark.parametrize(
    ("bends", "legs", "says"),
    [
        # design, learning: these sections are deficient
        ([bend("A"), bend("B", 45.0, "second")], [38.0, 40.0, 38.0], "90 deg"),
        ([bend("A"), bend("B")], [None, 40.0, None], "the offset of bar"),
    ],
)
def test_strips_that_cannot_tell(bends: list[BendReading], legs: list[float | None], says: str) -> None:
    """Design, learning: bends of different kind with a leg between that is swung at both ends, or end legs left
    unmeasured with all bends held the same way, are deficient."""
    learned = learn([strip(bends, legs)], Prior())
    assert len(learned.entangled) == 1
    assert any(says in u for u in learned.entangled[0].unknowns)
    assert learned.entangled[0].remedy
    if says == "90 deg":
        assert sorted(learned.entangled[0].angles) == [45.0, 90.0]
        assert not any(a.told for a in learned.allowances)
        assert learned.offsets[0].told
        assert "two bends of" in learned.entangled[0].remedy
    else:
        assert learned.allowances[0].told
        assert not learned.offsets[0].told


def test_a_teaching_strip_frees_what_was_entangled() -> None:
    """The same with two bends of 90 degrees and the leg between them held at both: nothing is entangled any more."""
    poor = strip([bend("A"), bend("B", 45.0, "second")], [38.0, 40.0, 38.0])
    teaching = strip([bend("A", held="second"), bend("B", held="first")], [30.0, 40.0, 30.0], "teaching")
    assert learn([poor, teaching], Prior()).entangled == ()
    assert all(a.told for a in learn([poor, teaching], Prior()).allowances)


def test_a_poor_section_is_named_before_it_is_bent() -> None:
    poor = strip([bend("A", got=None), bend("B", 45.0, "second", got=None)], [None] * 3)
    assert any("cannot tell apart" in e.text for e in find_entanglements(poor, Prior()))
    alike = [bend("A", held="second", got=None), bend("B", held="first", got=None, arm=30.0)]
    assert find_entanglements(strip(alike, [None] * 3), Prior()) == ()


def test_alpha_and_beta_of_like_bends_are_not_told_apart() -> None:
    """By hand: two bends of 90 degrees with the same arm give one sum of alpha and beta."""
    like = strip([bend("A", set=93.0), bend("B", set=93.0)], [38.0, 40.0, 38.0])
    learned = learn([like], Prior())
    assert not learned.springbacks[0].told
    assert "springback" in learned.entangled[-1].text or "springback" in learned.entangled[-1].unknowns[0]
    apart = strip([bend("A", set=93.0), bend("B", set=95.0, arm=35.0)], [38.0, 40.0, 38.0])
    assert learn([apart], Prior()).springbacks[0].told


def test_sums_still_tell_where_sight_lines_were_not_written_down() -> None:
    """The sum of both legs holds BA whatever the line was, by hand BA = blank + 2 SB - sum; e it does not."""
    arc = math.pi / 2 * 2.46
    prior = Prior(**EXACT, k_metal=math.inf, scatters=(0.1,), unmarked=1000.0)
    learned = learn([strip([bend("A", sight=None)], [40.0, 100 + 6 - arc - 40.0])], prior)
    assert learned.allowances[0].value == pytest.approx(arc, abs=1e-6)
    assert learned.allowances[0].told
    assert not learned.offsets[0].told


def test_order_and_missing_numbers() -> None:
    """The answer does not hang on the order of strips; a strip of which nothing was measured changes nothing."""
    strips = list(shops.lesson(5, 4).strips)
    one, other = learn(strips, Prior()), learn(strips[::-1], Prior())
    kind = kind_of(strips[0], strips[0].bends[0])
    assert allowance_estimate(one, kind, 90.0).value == pytest.approx(
        allowance_estimate(other, kind, 90.0).value, abs=1e-9
    )
    empty = replace(shops.lesson(5, 1).part, name="empty")
    more = learn([*strips, empty], Prior())
    assert allowance_estimate(more, kind, 90.0).value == pytest.approx(
        allowance_estimate(one, kind, 90.0).value, abs=1e-9
    )
    assert [a.bends for a in more.allowances] == [a.bends for a in one.allowances]


def test_without_strips_it_is_the_handbook() -> None:
    """No strip: K expected, spread of the prior (with its wide part: 0.9 + 0.1 * 9 = 1.8 times the variance)."""
    prior = Prior(methods={METAL: GivenK(0.42)}, trust=1.0)
    known = allowance_estimate(learn([], prior), (METAL, 1.0, 2.0, "bar", 1.0), 90.0)
    assert known.value == pytest.approx(math.pi / 2 * 2.42, abs=1e-9)
    k_part = prior.k_metal**2 + prior.k_kind**2 + prior.k_class**2
    variance = 1.8 * (math.pi / 2) ** 2 * (k_part + prior.radius_kind**2 + prior.radius_class**2)
    assert known.spread == pytest.approx(math.sqrt(variance), abs=1e-9)
    assert (known.bends, known.source, known.told) == (0, "from the handbook", False)


def test_what_is_behind_a_figure() -> None:
    strips = shops.lesson(8, 3).strips
    learned = learn(strips, Prior())
    for known in learned.allowances:
        alike = [b for s in strips for b in s.bends if b.angle == known.angle]
        assert (known.bends, known.strips, known.radii) == (len(alike), 3, len(alike))
        assert known.source == f"from {len(alike)} bends on 3 strips"
    count = len(learned.allowances) + len(learned.offsets)
    assert learned.covariance.shape == (count, count)
    spreads_ = [a.spread for a in learned.allowances] + [o.spread for o in learned.offsets]
    assert np.sqrt(np.diag(learned.covariance)) == pytest.approx(spreads_, abs=1e-12)
    assert np.all(np.linalg.eigvalsh(learned.covariance) > 0)


def test_strips_of_another_kind_help() -> None:
    """A metal's K is shared: bends of 1 mm narrow what is known of 2 mm, but not so much as its own do."""
    strips = shops.lesson(2, 4).strips
    other = ("trial sheet", 9.0, 9.0, "bar", 9.0)
    before, after = (allowance_estimate(learn(s, Prior()), other, 90.0) for s in ((), strips))
    own = learn(strips, Prior()).allowances[0]
    assert after.spread < before.spread
    assert own.spread < after.spread
    assert "moved by strips" in after.source


def test_a_setting_that_is_one_in_the_workshop_is_one_here() -> None:
    """1.00 and 1.02 mm are the same nose setting, 1.5 is another."""
    settings = (1.0, 1.02, 1.5)
    strips = [strip([bend("A", nose_setting=s)], [38.0, 60.0], f"s{s}") for s in settings]
    learned: Estimates = learn(strips, Prior())
    assert [(o.nose_setting, o.bends) for o in learned.offsets] == [(1.0, 2), (1.5, 1)]


def test_a_prior_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="scatter"):
        Prior(scatters=())
    with pytest.raises(ValueError, match="wide"):
        Prior(wide=0.5)
