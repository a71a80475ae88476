"""How well the model does in made-up workshops, beside the handbook and beside the best that can be known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatgen.strips.learning.misfit import Doubt, find_doubts
from flatgen.strips.learning.model import learn
from flatgen.strips.learning.predict import predict, with_leaf_angles
from flatgen.strips.learning.priors import Prior
from flatgen.strips.reading import StripReading
from tests.strips.learning import learning_shops as shops
from tests.strips.learning.best import best_legs

PRIOR = Prior()


@dataclass(frozen=True)
class Score:
    """Errors of all legs against what is expected [mm]: by the handbook, the model, the best; whether the finished leg,
    and what is expected, lay in their intervals; how wide those were [mm]; at how many ends the leg was held."""

    handbook: np.ndarray
    model: np.ndarray
    best: np.ndarray
    inside: np.ndarray
    expected_inside: np.ndarray
    width: np.ndarray
    held: np.ndarray

    def only(self, ends: int) -> Score:
        kept = self.held == ends
        return Score(*(getattr(self, name)[kept] for name in self.__dataclass_fields__))

    @property
    def to_handbook(self) -> float:
        return rms(self.model) / rms(self.handbook)

    @property
    def to_best(self) -> float:
        return rms(self.model) / rms(self.best)

    @property
    def cover(self) -> float:
        return float(self.inside.mean())


def rms(errors: np.ndarray) -> float:
    return float(np.sqrt(np.mean(errors**2)))


def score(strips: int, seeds: range) -> Score:
    """Legs of one real part in each of so many shops, after so many strips."""
    rows: list[list[tuple[float, ...]]] = []
    for seed in seeds:
        lesson = shops.lesson(seed, strips)
        learned = learn(lesson.strips, PRIOR)
        plan = with_leaf_angles(learned, lesson.part)
        leaf = tuple(float(b.set or 0) for b in plan.bends)
        made = lesson.make_part(leaf)
        handbook = np.array(lesson.shop.legs) - lesson.make_part(lesson.exact_angles).expected
        best = best_legs(lesson, leaf)
        for n, leg in enumerate(predict(learned, plan).legs):
            finished, expected = made.legs[n], made.expected[n]
            rows.append(
                (
                    handbook[n],
                    leg.value - expected,
                    best[n] - expected,
                    leg.low <= finished <= leg.high,
                    leg.expected_low <= expected <= leg.expected_high,
                    leg.high - leg.low,
                    leg.held_ends,
                )
            )
    return Score(*np.array(rows, dtype=float).T)


@dataclass(frozen=True)
class Alarms:
    """Shares of shops: ``false`` alarms; faults of 1 mm at a bend, a leg, a strip that were flagged in the right strip;
    and the bend or leg by its own name."""

    false: float
    bend: float
    leg: float
    strip: float
    bend_by_name: float
    leg_by_name: float


def alarms(strips: int, seeds: range) -> Alarms:
    """One fault of 1 mm in each of so many shops; the first strip is known to be clean where a whole strip is off."""
    counts = np.zeros(6)
    for seed in seeds:
        lesson, rng = shops.lesson(seed, strips), np.random.default_rng([seed, 5])
        counts[0] += bool(find_doubts(lesson.strips, PRIOR))
        strip, size = int(rng.integers(strips)), float(rng.choice([-1.0, 1.0]))
        bend = int(rng.integers(len(lesson.shop.angles)))
        found = find_doubts(shifted(lesson.strips, strip, size, bends=(bend,)), PRIOR)
        counts[1] += _named(found, f"strip {strip}")
        counts[4] += _named(found, f"strip {strip}", "bend", chr(65 + bend))
        leg = int(rng.integers(len(lesson.shop.legs)))
        found = find_doubts(shifted(lesson.strips, strip, size, leg=leg), PRIOR)
        counts[2] += _named(found, f"strip {strip}")
        counts[5] += _named(found, f"strip {strip}", "leg", f"leg {leg + 1}")
        if strips > 1:
            strip = int(rng.integers(1, strips))
            every = tuple(range(len(lesson.shop.angles)))
            found = find_doubts(shifted(lesson.strips, strip, size, bends=every), PRIOR, clean=("strip 0",))
            counts[3] += _named(found, f"strip {strip}")
    return Alarms(*(counts / len(seeds)))


def shifted(
    strips: tuple[StripReading, ...], number: int, size: float, *, bends: tuple[int, ...] = (), leg: int | None = None
) -> tuple[StripReading, ...]:
    """Readings as they would be with some bends of a strip, or one leg's reading, off by so much [mm]."""
    strip = strips[number]
    got = [float(g.got or 0) for g in strip.legs]
    for n in bends:
        ends = (n, n + 1) if strip.bends[n].held == "first" else (n + 1, n)
        got[ends[0]] += size
        got[ends[1]] -= size
    if leg is not None:
        got[leg] += size
    changed = replace(strip, legs=tuple(replace(g, got=x) for g, x in zip(strip.legs, got, strict=True)))
    return (*strips[:number], changed, *strips[number + 1 :])


def _named(found: tuple[Doubt, ...], strip: str, what: str = "", name: str = "") -> bool:
    return any(d.strip == strip and (not what or (d.what == what and d.name == name)) for d in found)


def print_table(count: int) -> None:
    """The table for so many shops."""
    print(f"{count} made-up workshops for each number of strips; legs of one real part in each")
    print("strips  held at  legs  RMS handbook  model   best   model/handbook  model/best  95 % holds  expected  width")
    for strips in range(1, 9):
        whole = score(strips, range(count))
        for ends in (None, 2, 1, 0):
            s = whole if ends is None else whole.only(ends)
            name = {None: "all", 2: "both ends", 1: "one end", 0: "none"}[ends]
            print(
                f"{strips:6}  {name:9} {len(s.model):5}  {rms(s.handbook):10.3f}  {rms(s.model):7.3f}"
                f"  {rms(s.best):6.3f}  {s.to_handbook:12.3f}  {s.to_best:12.3f}  {100 * s.cover:8.1f} %"
                f"  {100 * float(s.expected_inside.mean()):6.1f} %  {float(s.width.mean()):5.2f}",
                flush=True,
            )
    print("\nfaults of 1 mm: share of workshops in which the strip is flagged (bend or leg by its own name)")
    print("strips  false alarms      bend           leg          whole strip")
    for strips in range(1, 9):
        a = alarms(strips, range(count))
        whole_strip = f"{100 * a.strip:6.1f} %" if strips > 1 else "     none"
        print(
            f"{strips:6}  {100 * a.false:8.1f} %  {100 * a.bend:6.1f} % ({100 * a.bend_by_name:.1f} %)"
            f"  {100 * a.leg:6.1f} % ({100 * a.leg_by_name:.1f} %)  {whole_strip}",
            flush=True,
        )
