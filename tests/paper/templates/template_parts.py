"""Parts for the tests of templates: demo parts of the observatory, and flats made by hand with a part to go with them.

Sizes of the flats are of our own choosing (self), in millimetres.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

from flatgen.core.flat_pattern import FlatPattern, Loop
from tests.paper.drawing.drawn_samples import chain, circle

DEMOS = ("roof-rail", "switch-panel", "pier-saddle", "eave-angle", "ridge-strut", "pier-channel")


@dataclass(frozen=True)
class Plain:
    """What a template asks of a part."""

    name: str = "sample"
    title: str = "Sample strip"
    metal: Any = None
    metal_text: str = "sheet of the tests"
    thickness: float = 1.0
    fingerprint: str = "f" * 16
    source: Any = None

    def leg_name(self, leg: int) -> str | None:
        """None has a name."""

    def leg_text(self, leg: int) -> str:
        """By its number."""
        return f"leg {leg + 1}"


def random_flat(seed: int) -> FlatPattern:
    """Up to 16 bends and 200 openings, from a few centimetres to 4 m long and from 30 mm wide."""
    dice = random.Random(seed)
    count = dice.choice((0, 1, 2, 4, 8, 16))
    width = dice.choice((30.0, 60.0, 150.0, 400.0, 900.0))
    length = dice.choice((25.0, 120.0, 300.0, 800.0, 4000.0))
    shares = [dice.uniform(0.5, 3.0) for _ in range(count + 1)]
    allowance = width * 0.15 / max(count, 1)
    room = width - allowance * count
    flats = [room * s / sum(shares) for s in shares]
    openings: tuple[Loop, ...] = ()
    if dice.random() < 0.6:
        openings = _row(flats, allowance, length, dice.choice((1, 9, 200)))
    names = {n: f"leg {n + 1}" for n in range(0, count + 1, 2)}
    return chain(flats, [allowance] * count, length, openings, names)


def _row(flats: list[float], allowance: float, length: float, number: int) -> tuple[Loop, ...]:
    """Round openings in a grid on the widest leg."""
    index = max(range(len(flats)), key=flats.__getitem__)
    low = sum(flats[:index]) + allowance * index
    columns = max(1, min(number, int(flats[index] // 6.0)))
    rows = max(1, min(-(-number // columns), int(length // 6.0)))
    radius = 0.25 * min(flats[index] / columns, length / rows, 24.0)
    return tuple(
        circle(low + flats[index] * (c + 0.5) / columns, length * (r + 0.5) / rows, radius)
        for r in range(rows)
        for c in range(columns)
    )
