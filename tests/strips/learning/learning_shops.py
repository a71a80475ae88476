"""Workshops made up by chance, to see what strips teach. Knows nothing of the model, and shares no figure with it.

Every shop has a sheet, a K, a radius, an offset, a springback and a hand of its own; what it bends comes out exactly
by plane geometry, nothing linearised. Run as ``python -m tests.strips.learning.learning_shops`` it prints the table (an
argument says how many shops, 100 if none).

Figures from the task: t 0.5 to 3 mm, r/t 1 to 4, true radius off by sd 0.1 mm, K 0.33 to 0.50, offset sd 0.5 mm,
springback 3 % give or take half of it, angle scatter 0.3 degrees, placement sd 0 to 0.2 mm, batch sd of K 0.015,
measuring 0.1 mm and 0.25 degrees, 2 to 4 bends of 45, 90 and 120 degrees. Own choices: flats of 25 to 70 mm; two
strips of a batch; micrometer 0.01 mm; blanks cut to 0.1 mm, as they are measured; half of the shops dimension to the
mould line, half overall; up to 0.3 of the springback comes from the bow of the swung leg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from flatgen.strips.reading import BendReading, LegReading, StripReading

Ways = Literal["mould-line", "overall"]


@dataclass(frozen=True)
class Shop:
    """The truth of one workshop and the section that it bends."""

    t: float
    nominal_r: float
    r: float
    k: float
    batch_k: tuple[float, ...]
    e: float
    alpha: float
    beta: float
    hand: float
    nose: float
    angles: tuple[float, ...]
    legs: tuple[float, ...]
    held: tuple[str, ...]
    arms: tuple[float, ...]
    ways: Ways
    spring: float


@dataclass(frozen=True)
class Made:
    """A piece as it came out: legs and angles, and the same had nothing scattered."""

    legs: np.ndarray
    angles: np.ndarray
    expected: np.ndarray


def tangent_setback(angle: float, r: float, t: float, ways: Ways) -> float:
    """From the corner of the outer faces (or the outer tangent) to where the curve begins [mm]."""
    turned = min(angle, 90.0) if ways == "overall" else angle
    return (r + t) * math.sin(math.radians(turned) / 2) / math.cos(math.radians(turned) / 2)


def handbook_k(r: float, t: float) -> float:
    """DIN 6935 as printed: k = 0.65 + 0.5 log10(r/s), K = k/2; above r/s 5 the middle."""
    return 0.5 if r / t > 5 else (0.65 + math.log(r / t) / math.log(10) / 2) / 2


def handbook_arc(angle: float, r: float, t: float) -> float:
    return math.pi * angle / 180 * (r + handbook_k(r, t) * t)


def new_shop(rng: np.random.Generator) -> Shop:
    t = rng.uniform(0.5, 3.0)
    nominal = t * rng.uniform(1.0, 4.0)
    k = rng.uniform(0.33, 0.50)
    bends = int(rng.integers(2, 5))
    angles = tuple(float(a) for a in rng.choice([45.0, 90.0, 120.0], bends))
    arms = tuple(float(a) for a in rng.uniform(10, 40, bends))
    spring = max(rng.normal(0.03, 0.015), 0.0)
    by_arm = rng.uniform(0, 0.3) * spring
    return Shop(
        t=t,
        nominal_r=nominal,
        r=nominal + rng.normal(0, 0.1),
        k=k,
        batch_k=tuple(k + x for x in rng.normal(0, 0.015, 6)),
        e=rng.normal(0, 0.5),
        alpha=spring - by_arm,
        beta=by_arm * 85.0 * t / 25.0,
        hand=rng.uniform(0, 0.2),
        nose=nominal,
        angles=angles,
        legs=tuple(float(x) for x in rng.uniform(25, 70, bends + 1) + 2 * (nominal + t)),
        held=tuple(str(h) for h in rng.choice(["first", "second"], bends)),
        arms=arms,
        ways="overall" if rng.random() < 0.5 else "mould-line",
        spring=spring,
    )


def lines(shop: Shop) -> tuple[float, tuple[float, ...]]:
    """Blank and sight lines, each from the held edge, by the handbook."""
    flats = list(shop.legs)
    for n, angle in enumerate(shop.angles):
        back = tangent_setback(angle, shop.nominal_r, shop.t, shop.ways)
        flats[n] -= back
        flats[n + 1] -= back
    arcs = [handbook_arc(a, shop.nominal_r, shop.t) for a in shop.angles]
    blank = sum(flats) + sum(arcs)
    sights, walked = [], 0.0
    for n, side in enumerate(shop.held):
        walked += flats[n]
        here = walked if side == "first" else blank - walked - arcs[n]
        sights.append(here + shop.nose)
        walked += arcs[n]
    return blank, tuple(sights)


def bend_it(
    shop: Shop, batch: int, set_angles: tuple[float, ...], rng: np.random.Generator, slipped: np.ndarray | None = None
) -> Made:
    """Bend one blank; ``slipped`` [mm]: what each bend is off by beyond the shop's hand."""
    slip = rng.normal(0, 1, len(shop.angles)) * shop.hand
    slip = slip if slipped is None else slip + slipped
    turn = rng.normal(0, 0.3, len(shop.angles))
    short = rng.normal(0, 0.1)
    still = np.zeros(len(shop.angles))
    legs, angles = _formed(shop, shop.batch_k[batch], set_angles, slip, turn, short)
    expected, _ = _formed(shop, shop.batch_k[batch], set_angles, still, still, 0.0)
    return Made(legs, angles, expected)


def _formed(
    shop: Shop, k: float, set_angles: tuple[float, ...], slip: np.ndarray, turn: np.ndarray, short: float
) -> tuple[np.ndarray, np.ndarray]:
    blank, sights = lines(shop)
    blank += short
    legs, angles, here = [], [], 0.0
    carried = 0.0
    for n, side in enumerate(shop.held):
        swung = (set_angles[n] - shop.beta * shop.arms[n] / shop.t) / (1 + shop.alpha) + turn[n]
        arc = math.radians(swung) * (shop.r + k * shop.t)
        tangent = sights[n] - shop.nose - shop.e + slip[n]
        start = tangent if side == "first" else blank - tangent - arc
        back = tangent_setback(swung, shop.r, shop.t, shop.ways)
        legs.append(carried + (start - here) + back)
        here, carried = start + arc, back
        angles.append(swung)
    legs.append(carried + blank - here)
    return np.array(legs), np.array(angles)


def written(
    shop: Shop, number: int, batch: int, made: Made, set_angles: tuple[float, ...], rng: np.random.Generator
) -> StripReading:
    """What the worker writes down of a piece."""
    blank, sights = lines(shop)
    # blanks are measured once more, from the truth: the legs add up to it
    arcs = sum(math.radians(a) * (shop.r + shop.batch_k[batch] * shop.t) for a in made.angles)
    backs = sum(2 * tangent_setback(a, shop.r, shop.t, shop.ways) for a in made.angles)
    true_blank = made.legs.sum() - backs + arcs
    bends = tuple(
        BendReading(
            label=chr(65 + n),
            angle=angle,
            way="up",
            inside_radius=shop.nominal_r,
            allowance=handbook_arc(angle, shop.nominal_r, shop.t),
            held="first" if shop.held[n] == "first" else "second",
            setup="bar",
            nose_radius=shop.nose,
            nose_setting=shop.t,
            arm=shop.arms[n],
            sight=sights[n],
            set=set_angles[n],
            got=float(made.angles[n] + rng.normal(0, 0.25)),
            radius=max(float(shop.r + rng.normal(0, 0.1)), 0.01),
        )
        for n, angle in enumerate(shop.angles)
    )
    legs = tuple(
        LegReading(f"leg {n + 1}", asked, shop.ways, float(got + rng.normal(0, 0.1)))
        for n, (asked, got) in enumerate(zip(shop.legs, made.legs, strict=True))
    )
    return StripReading(
        name=f"strip {number}",
        metal="trial sheet",
        nominal=shop.t,
        thickness=shop.t + rng.normal(0, 0.01),
        width=40.0,
        blank=blank,
        blank_got=float(true_blank + rng.normal(0, 0.1)),
        legs=legs,
        bends=bends,
        sheet=f"batch {batch}",
    )


def unmeasured(reading: StripReading, name: str, batch: int, sheet_t: float) -> StripReading:
    """A part to come, written as a strip of which only the lines and the sheet are known."""
    return replace(
        reading,
        name=name,
        thickness=sheet_t,
        blank_got=None,
        sheet=f"batch {batch}",
        legs=tuple(replace(leg, got=None) for leg in reading.legs),
        bends=tuple(replace(b, set=None, got=None, radius=None) for b in reading.bends),
    )


@dataclass(frozen=True)
class Lesson:
    """A shop, its strips as measured, a part to come on a sheet of batch ``batch``, and the chance that makes it."""

    shop: Shop
    strips: tuple[StripReading, ...]
    part: StripReading
    batch: int
    seed: int

    def make_part(self, set_angles: tuple[float, ...]) -> Made:
        """Bend the real part, the leaf swung to these angles [deg]."""
        return bend_it(self.shop, self.batch, set_angles, np.random.default_rng([self.seed, 99]))

    @property
    def exact_angles(self) -> tuple[float, ...]:
        """Leaf angles that give the asked ones, had nothing scattered [deg]."""
        s = self.shop
        return tuple(a * (1 + s.alpha) + s.beta * arm / s.t for a, arm in zip(s.angles, s.arms, strict=True))


def lesson(seed: int, strips: int) -> Lesson:
    """One shop with so many strips, two of a batch, and a real part on a sheet of the last batch or of another."""
    rng = np.random.default_rng([seed, 77])
    shop = new_shop(rng)
    leaf = tuple(a * 1.03 for a in shop.angles)
    same = rng.random() < 0.5
    sheet_t = shop.t + rng.normal(0, 0.01)
    readings = []
    for n in range(max(strips, 1)):
        made = bend_it(shop, n // 2, leaf, rng)
        readings.append(written(shop, n, n // 2, made, leaf, rng))
    batch = (strips - 1) // 2 if same and strips else 5
    part = unmeasured(readings[0], "part", batch, sheet_t)
    return Lesson(shop, tuple(readings[:strips]), part, batch, seed)


def held_ends(shop: Shop) -> list[int]:
    """For each leg at how many of its ends it is held; an edge of the part is no end."""
    found = [0] * len(shop.legs)
    for n, side in enumerate(shop.held):
        found[n if side == "first" else n + 1] += 1
    return found


if __name__ == "__main__":
    import sys

    from tests.strips.learning.scores import print_table

    print_table(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
