"""Doubts: which number, bend or strip does not fit the rest, and by how much; and the residuals of all numbers.

A fault is a shift along a known direction: a leg read wrongly moves itself, a bend placed wrongly moves its two legs by
+ and -, a strip laid in wrongly moves all its bends alike (toward their held edges, or along the blank). For each
direction d, with a shift of unknown size (normal, spread f), the readings are so many times as probable as without:

    B = sum over members: weight (1 + f2 q)^-1/2 exp(u2 f2 / (2 (1 + f2 q)))     u = d' S^-1 y     q = d' S^-1 d

S is the covariance of all readings, with unknowns, placement scatter and noise in it. It is doubted where B times the
chance of such a fault before is above 1. The worst is taken first; then the rest is looked at again with that shift
free. A hand that scatters more than usual, or a metal beyond all handbooks, is no excuse here: the prior of doubts has
neither.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from flatgen.strips.learning.model import Estimates
from flatgen.strips.learning.posterior import Posterior, align_slopes, covariance_of, posterior_of
from flatgen.strips.learning.priors import Prior
from flatgen.strips.learning.rows import Array, Rows, rows_of
from flatgen.strips.reading import Place, StripReading

FAULT_SPREAD = 1.5
"""Spread of a fault: slips by a division of a rule, a wrong edge, a wrong line [mm]."""

EXPECTED_FAULTS = 0.8
"""Faults expected before, shared out among all that the readings could have: chosen so that in made-up workshops fewer
than one set of clean readings in twenty is doubted."""

USUAL_SCATTER = 0.2
"""Placement scatter of a usual hand goes up to this: common practice, no source [mm]."""

MOST_DOUBTS = 6
"""With more doubts the readings as a whole are in doubt."""

Suspect = Literal["bend", "leg", "radius", "blank", "strip"]


@dataclass(frozen=True)
class Doubt:
    """Something that does not fit: ``off`` [mm] by how much, with its ``spread``; ``odds`` that it is a fault.

    ``what`` names the sort, ``name`` the bend, leg or strip. ``measured`` and ``expected`` [mm] hold for the legs (the
    radius, the blank) in ``where``, in their order.
    """

    strip: str
    what: Suspect
    name: str
    off: float
    spread: float
    odds: float
    where: tuple[str, ...]
    measured: tuple[float, ...]
    expected: tuple[float, ...]
    text: str
    remedy: str


@dataclass(frozen=True)
class _Fault:
    """A direction in the rows of one strip."""

    strip: int
    what: Suspect
    name: str
    way: Array


def find_doubts(readings: Sequence[StripReading], prior: Prior, clean: Collection[str] = ()) -> tuple[Doubt, ...]:
    """Bends, legs and strips that do not fit the rest, the worst first.

    One strip alone cannot be off as a whole: its offset takes the shift. From the second one on it can.

    :param clean: names of strips that are known to be laid in rightly, so that of two that differ the other one is off
    """
    usual = tuple(s for s in prior.scatters if s <= USUAL_SCATTER) or (min(prior.scatters),)
    prior = replace(prior, scatters=usual, wide_chance=0.0)
    strips = [rows_of(s, prior).measured_rows for s in readings]
    faults = [f for n, rows in enumerate(strips) for f in _faults(readings, n, rows, clean)]
    doubts: list[Doubt] = []
    while faults and len(doubts) < MOST_DOUBTS:
        posterior = posterior_of(strips, prior)
        judgements = [_judge(fault, strips[fault.strip], posterior) for fault in faults]
        levels = [level + math.log(EXPECTED_FAULTS / len(faults)) for level, _, _ in judgements]
        worst = int(np.argmax(levels))
        if levels[worst] <= 0:
            break
        fault, (_, off, spread), odds = faults[worst], judgements[worst], math.exp(min(levels[worst], 99))
        rows = strips[fault.strip]
        doubts.append(_doubt(readings[fault.strip], rows, fault, off, spread, odds))
        # from here on the size of this fault is part of the noise
        free = (10 * FAULT_SPREAD) ** 2 * np.outer(fault.way, fault.way)
        strips[fault.strip] = replace(rows, noise=rows.noise + free)
        faults = [f for f in faults if f is not fault]
    return tuple(doubts)


def _faults(readings: Sequence[StripReading], number: int, rows: Rows, clean: Collection[str]) -> list[_Fault]:
    """All single faults that the measured rows of a strip could show."""
    strip = readings[number]
    faults = []
    single: dict[str, Suspect] = {"leg": "leg", "radius": "radius", "blank": "blank"}
    for row, (sort, n) in enumerate(rows.names):
        if sort in single:
            faults.append(_Fault(number, single[sort], _name(strip, sort, n), np.eye(len(rows.names))[row]))
    for n, bend in enumerate(strip.bends):
        if np.count_nonzero(rows.placed[:, n]) > 1:
            faults.append(_Fault(number, "bend", bend.label, rows.placed[:, n]))
    if len(readings) > 1 and len(strip.bends) > 1 and strip.name not in clean:
        held = np.array([1.0 if b.held == "first" else -1.0 for b in strip.bends])
        alike = rows.placed.sum(axis=1)
        along = rows.placed @ held
        for way in (alike,) if abs(held.sum()) == len(held) else (alike, along):
            if np.any(way):
                faults.append(_Fault(number, "strip", strip.name, way))
    return faults


def _judge(fault: _Fault, rows: Rows, posterior: Posterior) -> tuple[float, float, float]:
    """Log B of a fault, its size and the spread of that."""
    slope, _ = align_slopes(rows, posterior.unknowns)
    covariance = covariance_of(rows, posterior.members.scatter)
    gap = (rows.measured - rows.expected)[None] - posterior.means @ slope.T
    ways = np.broadcast_to(fault.way[:, None], (len(covariance), len(fault.way), 1))
    solved = np.linalg.solve(covariance, ways)[..., 0]
    pull = np.einsum("gr,gr->g", solved, gap)
    by_unknowns = solved @ slope
    sharp = solved @ fault.way - np.einsum("gi,gij,gj->g", by_unknowns, posterior.covariances, by_unknowns)
    sharp = np.maximum(sharp, 1e-12)
    wide = 1 + FAULT_SPREAD**2 * sharp
    level = np.log(np.maximum(posterior.weights, 1e-300)) + (pull * FAULT_SPREAD) ** 2 / (2 * wide) - np.log(wide) / 2
    top = float(level.max())
    share = np.exp(level - top)
    total = float(share.sum())
    share = share / total
    sizes, variances = FAULT_SPREAD**2 * pull / wide, FAULT_SPREAD**2 / wide
    size = float(share @ sizes)
    return top + math.log(total), size, math.sqrt(float(share @ (variances + (sizes - size) ** 2)))


def _doubt(strip: StripReading, rows: Rows, fault: _Fault, off: float, spread: float, odds: float) -> Doubt:
    """A doubt with what was expected, in words."""
    moved = [n for n in range(len(rows.names)) if abs(fault.way[n]) > 1e-9]
    where = tuple(_row_name(strip, *rows.names[n]) for n in moved)
    measured = tuple(float(rows.measured[n]) for n in moved)
    expected = tuple(m - off * float(fault.way[n]) for m, n in zip(measured, moved, strict=True))
    pairs = ", ".join(
        f"{name} measured {m:.2f} mm, expected {e:.2f} mm" for name, m, e in zip(where, measured, expected, strict=True)
    )
    size = f"{abs(off):.2f} mm (give or take {1.96 * spread:.2f})"
    if fault.what == "bend":
        toward = "shorter" if off < 0 else "longer"
        text = f"bend {fault.name} lies {size} off its line, its held leg {toward}: {pairs}"
        remedy = "look at its sight line and the side that was held, and measure both legs again"
    elif fault.what == "strip":
        text = f"all bends of the strip lie {size} off their lines: {pairs}"
        remedy = (
            "look at the edge that its lines were measured from, and whether the nose was moved; or withdraw the strip"
        )
    else:
        text = f"{pairs}: {size} off"
        remedy = "measure it again"
    name, text = fault.name or strip.name, f"{strip.name}: {text}"
    return Doubt(strip.name, fault.what, name, off, spread, odds, where, measured, expected, text, remedy)


def _row_name(strip: StripReading, what: str, number: int) -> str:
    name = _name(strip, what, number)
    return f"radius of bend {name}" if what == "radius" else name


@dataclass(frozen=True)
class Residual:
    """A measured number and what is expected of it.

    ``what`` ("leg", "radius", "angle", "blank"), its ``number`` in the strip and its ``name``; ``measured``,
    ``expected`` [mm, deg for angles]; ``spread``: how far such a residual lies from 0 as a rule, so that ``share``
    stays under 2 in nineteen of twenty. ``place`` along the brake of the bend (of a leg: where the bends at its ends
    agree), None where not written down.
    """

    strip: str
    sheet: str
    what: str
    number: int
    name: str
    place: Place | None
    measured: float
    expected: float
    spread: float

    @property
    def share(self) -> float:
        return (self.measured - self.expected) / self.spread if self.spread > 0 else 0.0


def residuals(known: Estimates, readings: Sequence[StripReading]) -> tuple[Residual, ...]:
    """Measured numbers of the strips that were learned from, in their order, beside what is expected of them now."""
    posterior = known.posterior
    numbers = []
    for strip in readings:
        rows = rows_of(strip, known.prior).measured_rows
        slope, _ = align_slopes(rows, posterior.unknowns)
        noise = np.einsum("g,gij->ij", posterior.weights, covariance_of(rows, posterior.members.scatter))
        variance = np.diag(noise - slope @ posterior.covariance @ slope.T)  # what the number itself has taught is in it
        expected = rows.expected + slope @ posterior.mean
        for row, (what, n) in enumerate(rows.names):
            name, place = _name(strip, what, n), _place(strip, what, n)
            figures = rows.measured[row], expected[row], np.sqrt(max(variance[row], 0.0))
            numbers.append(Residual(strip.name, strip.sheet, what, n, name, place, *(float(f) for f in figures)))
    return tuple(numbers)


def _name(strip: StripReading, what: str, number: int) -> str:
    if what == "leg":
        return strip.legs[number].name
    return "blank" if what == "blank" else strip.bends[number].label


def _place(strip: StripReading, what: str, number: int) -> Place | None:
    if what == "blank":
        return None
    beside = strip.bends[max(number - 1, 0) : number + 1] if what == "leg" else (strip.bends[number],)
    places = {b.place for b in beside}
    return places.pop() if len(places) == 1 else None
