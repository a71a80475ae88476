"""Strips for tests, made up here; sizes by hand, no brake is behind them."""

from __future__ import annotations

import math
import random

from flatgen.strips.reading import BendReading, LegReading, StripReading

QUARTER = math.pi / 2


def angle_strip(name: str = "angle 1", **changes: object) -> StripReading:
    """Two legs of 30 and 40 mm overall at 90 degrees, t 1, r 2, K 0.4.

    By hand: allowance (pi/2)(2 + 0.4) = 3.769911, setback 3, blank 30 + 40 - 6 + 3.769911 = 67.769911; the first leg
    is held, its line lies 30 - 3 + 1.5 = 28.5 from its edge.
    """
    legs = (LegReading("short leg", 30.0, "overall"), LegReading("long leg", 40.0, "overall"))
    bend = BendReading("A", 90.0, "up", 2.0, round(QUARTER * 2.4, 6), "first", "plain", 1.5, 2.5, arm=20.0, sight=28.5)
    values: dict[str, object] = {
        "name": name,
        "metal": "6061-T6",
        "nominal": 1.0,
        "thickness": None,
        "width": 25.0,
        "blank": round(64.0 + QUARTER * 2.4, 6),
        "blank_got": None,
        "legs": legs,
        "bends": (bend,),
    }
    return StripReading(**(values | changes))  # type: ignore[arg-type]


def sample(seed: int) -> StripReading:
    """A strip of one to six bends with numbers measured or left out, from a seed; to 1e-6 as forms write them."""
    rng = random.Random(seed)

    def number(low: float, high: float) -> float:
        return round(rng.uniform(low, high), rng.choice((0, 1, 3, 6))) + 0.0

    def maybe(low: float, high: float) -> float | None:
        return number(low, high) if rng.random() < 0.6 else None

    count = rng.randint(1, 6)
    legs = tuple(
        LegReading(
            f"leg {n}" + rng.choice(("", "é", " Ω", "名", '"')),
            number(10, 200),
            rng.choice(("overall", "inside-overall")),
            maybe(10, 200),
        )
        for n in range(count + 1)
    )
    bends = tuple(
        BendReading(
            "ABCDEF"[n],
            number(5, 175),
            rng.choice(("up", "down")),
            number(0, 5),
            number(1, 10),
            rng.choice(("first", "second")),
            rng.choice(("plain", "stiffened")),
            number(0.5, 3),
            maybe(-1, 9),
            number(2, 60),
            sight=maybe(5, 200),
            place=rng.choice((None, "left", "middle", "right")),
            set=maybe(5, 180),
            got=maybe(5, 175),
            radius=maybe(0.5, 6),
            loss=rng.choice((0.0, number(-1, 1))),
        )
        for n in range(count)
    )
    return StripReading(
        name=f"strip {seed}",
        metal=rng.choice(("6061-T6", "DC01")),
        nominal=number(0.5, 3),
        thickness=maybe(0.5, 3),
        width=number(10, 40),
        blank=number(50, 900),
        blank_got=maybe(50, 900),
        legs=legs,
        bends=bends,
        sheet=rng.choice(("", "batch 7")),
        grain=rng.choice(("", "along", "across")),
        date=rng.choice(("", "2026-05-01")),
        note=rng.choice(("", "slipped a little", 'clamp \\ "tight" #2')),
        part="0123456789abcdef",
        shop="fedcba9876543210",
    )
