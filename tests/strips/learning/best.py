"""The best that can be known: the exact posterior with the true variances, coded apart from the model.

Everything that is random is put into one vector z; each number measured and each leg of the part follows from z by the
shops' own geometry. K has its true, even law from 0.33 to 0.50, taken on a fine grid; all else is Gaussian with the
spread that the shops are made with, the shop's own placement scatter too, which no workshop knows. Derivatives are
differences, taken anew about the posterior's mean until that rests, so no formula of the model is here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tests.strips.learning import learning_shops as shops

K_GRID = np.linspace(0.33, 0.50, 171)
MIDDLE = 0.415
SHARED = 4  # radius, offset, springback by angle, springback by arm; then batches
PASSES = 3


def best_legs(lesson: shops.Lesson, set_angles: tuple[float, ...]) -> np.ndarray:
    """Expected legs of the part, by the exact posterior [mm]."""
    shop = lesson.shop
    bends = len(shop.angles)
    batches = sorted({n // 2 for n in range(len(lesson.strips))} | {lesson.batch})
    shared = [0.1, 0.5, 0.015, 0.0027 * 85 * shop.t / 25.0] + [0.015] * len(batches)
    own = [shop.hand] * bends + [0.3] * bends + [0.1, 0.01]
    pieces = len(lesson.strips) + 1
    prior = np.array(shared + own * pieces) ** 2

    def columns(piece: int) -> np.ndarray:
        first = len(shared) + len(own) * piece
        return np.r_[0 : len(shared), first : first + len(own)]

    def numbers(piece: int, batch: int, t: float, leaf: tuple[float, ...]) -> Callable[[np.ndarray, float], np.ndarray]:
        def of(z: np.ndarray, k: float) -> np.ndarray:
            mine = z[len(shared) :]
            own_shop = replace(shop, r=shop.nominal_r + z[0], e=z[1], alpha=0.03 + z[2], beta=z[3])
            k = k + z[SHARED + batches.index(batch)]
            legs, angles = formed(own_shop, k, leaf, mine[:bends], mine[bends : 2 * bends], mine[-2], t + mine[-1])
            blank = shops.lines(shop)[0] + mine[-2]
            return np.concatenate([legs, angles, [own_shop.r] * bends, [blank]])

        return of

    got = [
        np.array([g.got for g in s.legs] + [b.got for b in s.bends] + [b.radius for b in s.bends] + [s.blank_got])
        for s in lesson.strips
    ]
    seen = [
        numbers(n, n // 2, float(s.thickness or 0), tuple(float(b.set or 0) for b in s.bends))
        for n, s in enumerate(lesson.strips)
    ]
    noise = np.tile([0.1] * (bends + 1) + [0.25] * bends + [0.1] * bends + [0.1], len(seen)) ** 2
    part = numbers(pieces - 1, lesson.batch, float(lesson.part.thickness or 0), set_angles)
    still = np.r_[0 : len(shared), len(prior) - 1]  # what of z is no scatter: the part's thickness is measured
    z, k = np.zeros(len(prior)), MIDDLE
    for _ in range(PASSES if seen else 0):
        z, k = posterior_mean(seen, got, columns, prior, noise, z, k)
    calm = np.zeros(len(prior))
    calm[still] = z[still]
    return part(calm[columns(pieces - 1)], k)[: bends + 1]


def posterior_mean(
    seen: list[Callable[[np.ndarray, float], np.ndarray]],
    got: list[np.ndarray],
    columns: Callable[[int], np.ndarray],
    prior: np.ndarray,
    noise: np.ndarray,
    z0: np.ndarray,
    k0: float,
) -> tuple[np.ndarray, float]:
    """Mean of z and of K, all made linear about z0 and k0."""
    rows, gaps, by_k = [], [], []
    for n, (f, y) in enumerate(zip(seen, got, strict=True)):
        at, slope, k_slope = linear(f, z0[columns(n)], k0)
        whole = np.zeros((len(y), len(prior)))
        whole[:, columns(n)] = slope
        rows.append(whole)
        gaps.append(y - at + slope @ z0[columns(n)])
        by_k.append(k_slope)
    h, gap, hk = np.concatenate(rows), np.concatenate(gaps), np.concatenate(by_k)
    steps = K_GRID - k0
    off = gap[:, None] - hk[:, None] * steps
    solved = np.linalg.solve((h * prior) @ h.T + np.diag(noise), off)
    level = -0.5 * (off * solved).sum(axis=0)
    weight = np.exp(level - level.max())
    weight /= weight.sum()
    return prior * (h.T @ (solved @ weight)), float(K_GRID @ weight)


def linear(
    f: Callable[[np.ndarray, float], np.ndarray], z: np.ndarray, k: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Value, slopes in z and in K, by central differences."""
    step = 1e-4
    slopes = [(f(z + step * unit, k) - f(z - step * unit, k)) / (2 * step) for unit in np.eye(len(z))]
    return f(z, k), np.column_stack(slopes), (f(z, k + step) - f(z, k - step)) / (2 * step)


def formed(
    shop: shops.Shop,
    k: float,
    leaf: tuple[float, ...],
    slip: np.ndarray,
    turn: np.ndarray,
    cut: float,
    true_t: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Legs and angles of a piece of thickness ``true_t`` on lines laid out for the shop's nominal one."""
    blank, sights = shops.lines(shop)
    blank += cut
    legs, angles, last, carried = [], [], 0.0, 0.0
    for n, side in enumerate(shop.held):
        swung = (leaf[n] - shop.beta * shop.arms[n] / true_t) / (1 + shop.alpha) + turn[n]
        arc = math.radians(swung) * (shop.r + k * true_t)
        tangent = sights[n] - shop.nose - shop.e + slip[n]
        start = tangent if side == "first" else blank - tangent - arc
        back = shops.tangent_setback(swung, shop.r, true_t, shop.ways)
        legs.append(carried + start - last + back)
        last, carried = start + arc, back
        angles.append(swung)
    legs.append(carried + blank - last)
    return np.array(legs), np.array(angles)
