"""What was measured against what is expected by all that was learned, number by number: for a person to judge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.strips.learning.model import Learned
from flatgen.strips.learning.posterior import aligned, covariance_of
from flatgen.strips.learning.rows import rows_of
from flatgen.strips.reading import Place, StripReading


@dataclass(frozen=True)
class Residual:
    """A measured number and what is expected of it.

    ``what`` ("leg", "radius", "angle", "blank"), its ``number`` in the strip and its ``name``; ``measured``,
    ``expected`` [mm, deg for angles]; ``spread``: how far such a residual lies from 0 as a rule, so that ``share`` =
    (measured - expected) / spread [-] stays under 2 in nineteen of twenty. ``place`` along the brake of the bend (of a
    leg: where the bends at its ends agree), None where not written down.
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


def residuals(learned: Learned, readings: Sequence[StripReading]) -> tuple[Residual, ...]:
    """Measured numbers of the strips that were learned from, each beside what is expected of it now.

    Parameters
    ----------
    learned : Learned
        What the readings have taught, [-]
    readings : Sequence[StripReading]
        The same readings, [mm]

    Returns
    -------
    tuple[Residual, ...]
        In the order of the strips, legs first, [mm]
    """
    posterior = learned.posterior
    found = []
    for strip in readings:
        rows = rows_of(strip, learned.prior).seen
        slope, _ = aligned(rows, posterior.unknowns)
        noise = np.einsum("g,gij->ij", posterior.weights, covariance_of(rows, posterior.members.scatter))
        variance = np.diag(noise - slope @ posterior.covariance @ slope.T)  # what the number itself has taught is in it
        expected = rows.expected + slope @ posterior.mean
        for row, (what, n) in enumerate(rows.names):
            found.append(
                Residual(
                    strip.name,
                    strip.sheet,
                    what,
                    n,
                    _name(strip, what, n),
                    _place(strip, what, n),
                    float(rows.measured[row]),
                    float(expected[row]),
                    float(np.sqrt(max(variance[row], 0.0))),
                )
            )
    return tuple(found)


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
