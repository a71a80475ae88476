"""A part as a chain: legs in a row with a bend between each and the next, seen along its bends.

leg        0 to n, from the first edge to the second; flats between tangent lines
bend       0 to n - 1; bend k joins leg k and leg k + 1
outward    away from a bend, on its first or its second side

Millimetres; angles in degrees.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from flatgen.core.schedule import Crease, Which

PARALLEL = 1e-6
SAME = 1e-4
"""Places of one leg that differ by less are one [mm]."""


@dataclass(frozen=True)
class Chain:
    """Section of a part: ``flats`` [mm] of its legs; ``angles`` [deg], ``ups`` (+1 up, -1 down), ``radii`` and
    ``allowances`` [mm] of its bends; ``legs``: numbers of its legs; ``creases``: its bends as the brake sees them."""

    thickness: float
    flats: tuple[float, ...]
    angles: tuple[float, ...]
    ups: tuple[int, ...]
    radii: tuple[float, ...]
    allowances: tuple[float, ...]
    legs: tuple[int, ...]
    creases: tuple[Crease, ...]

    @property
    def bends(self) -> int:
        """How many bends it has."""
        return len(self.angles)

    def outward(self, bend: int, which: Which) -> tuple[int, ...]:
        """Bends beyond a bend on one side of it, the nearest first."""
        return tuple(range(bend - 1, -1, -1)) if which == "first" else tuple(range(bend + 1, self.bends))

    def leg_beyond(self, bend: int, which: Which, steps: int) -> int:
        """Leg of a bend's side, ``steps`` bends farther out."""
        return bend - steps if which == "first" else bend + 1 + steps


class NoChain(ValueError):
    """The bends do not follow one another in a row; the text says why."""


def chain_of(creases: Sequence[Crease], thickness: float) -> Chain:
    """The chain that creases make.

    Parameters
    ----------
    creases : Sequence[Crease]
        All bends of a part, in any order, [mm]
    thickness : float
        Of the sheet, [mm]

    Returns
    -------
    Chain
        With its bends from the first edge to the second, [mm]

    Raises
    ------
    NoChain
        If bends are not parallel, or more than two meet one leg.
    """
    if not creases:
        raise NoChain("it has no bend")
    way = creases[0].across
    for crease in creases:
        if abs(abs(way[0] * crease.across[0] + way[1] * crease.across[1]) - 1) > PARALLEL:
            raise NoChain(f"bends {creases[0].label} and {crease.label} are not parallel")
    ordered = sorted(creases, key=lambda c: c.first.tangent)
    for one, other in itertools.pairwise(ordered):
        if one.second.leg != other.first.leg:
            raise NoChain(f"bends {one.label} and {other.label} do not follow each other in a row")
        if abs(one.second.tangent + one.second.flat - other.first.tangent) > SAME:
            raise NoChain(f"the leg between bends {one.label} and {other.label} reaches beyond one of them")
    legs = (ordered[0].first.leg, *(c.second.leg for c in ordered))
    if len(set(legs)) != len(legs):
        raise NoChain("a leg is met twice")
    return Chain(
        thickness=thickness,
        flats=(ordered[0].first.flat, *(c.second.flat for c in ordered)),
        angles=tuple(c.angle for c in ordered),
        ups=tuple(1 if c.way == "up" else -1 for c in ordered),
        radii=tuple(c.inside_radius for c in ordered),
        allowances=tuple(c.allowance for c in ordered),
        legs=legs,
        creases=tuple(ordered),
    )
