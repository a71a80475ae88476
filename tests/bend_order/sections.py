"""Random sections as creases, of kinds that mostly can and mostly cannot be made, and brakes to make them on.

kind       what a section looks like: its bends' angles and ways, and about how long its legs are
roomy      a brake of high lift, small bar and narrow leaf, that most sections of ``OPEN`` kinds pass
tight      the brake of :mod:`tests.brake.shops` with deeper bed and bar, that few sections pass

Own choice throughout; nobody's part and nobody's machine. Millimetres, degrees.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import fields, replace

from flatgen.bend_order.chain import Chain, chain_of
from flatgen.bend_order.search import Question
from flatgen.brake.springback import Strength
from flatgen.core.schedule import Crease, Side
from flatgen.core.shop import Brake, ClampBar, Leaf, Lever, SetUp, Shop, Weights
from tests.brake.shops import ANGLE, BAR, beam

K = 0.42
EXTENT = 500.0
OPEN = ("stairs", "corrugation", "arch", "hats", "zed")
SHUT = ("spiral", "closed", "cups", "any")
MILD_STEEL = Strength(yield_=235.0, ultimate=360.0, modulus=205_000.0, poisson=0.3)
"""Common structural steel, handbook values."""


def creases_of(
    flats: Sequence[float], turns: Sequence[float], radii: Sequence[float], thickness: float, extent: float = EXTENT
) -> tuple[Crease, ...]:
    """Bends between legs in a row; turns above 0 are bent up [deg]."""
    allowances = [math.radians(abs(a)) * (r + K * thickness) for a, r in zip(turns, radii, strict=True)]
    total, place, found = sum(flats) + sum(allowances), 0.0, []
    for k, (turn, radius, allowance) in enumerate(zip(turns, radii, allowances, strict=True)):
        low = place + flats[k]
        place = low + allowance
        found.append(
            Crease(
                label=f"B{k + 1}",
                angle=abs(turn),
                way="up" if turn > 0 else "down",
                inside_radius=radius,
                allowance=allowance,
                length=extent,
                extent=extent,
                first=Side(k, low, flats[k], low),
                second=Side(k + 1, place, flats[k + 1], total - place),
            )
        )
    return tuple(found)


def turns_of(kind: str, bends: int, rng: random.Random) -> list[float]:
    """Angles of a kind, above 0 up [deg]."""
    angle = rng.choice((30.0, 45.0, 60.0, 90.0))
    match kind:
        case "stairs":
            return [angle if k % 2 else -angle for k in range(bends)]
        case "corrugation":
            return [angle if k % 4 in (0, 3) else -angle for k in range(bends)]
        case "arch":
            return [rng.uniform(90.0, 170.0) / bends for _ in range(bends)]
        case "hats":
            return [min(angle, 60.0) if k % 4 in (1, 2) else -min(angle, 60.0) for k in range(bends)]
        case "zed":
            return [rng.choice((-1, 1)) * rng.choice((10.0, 15.0, 20.0)) for _ in range(bends)]
        case "spiral":
            return [90.0] * bends
        case "closed":
            return [rng.uniform(330.0, 400.0) / bends if bends > 3 else 118.0 for _ in range(bends)]
        case "cups":
            return [90.0 if k % 4 < 2 else -90.0 for k in range(bends)]
        case "any":
            return [rng.choice((-1, 1)) * rng.choice((45.0, 60.0, 90.0, 90.0, 120.0)) for _ in range(bends)]
    raise ValueError(kind)


def flats_of(kind: str, bends: int, rng: random.Random) -> list[float]:
    """Legs of a kind: long where there is to be room, of all lengths where not [mm]."""
    if kind in ("stairs", "corrugation", "hats"):
        return [rng.uniform(45.0, 75.0) for _ in range(bends + 1)]
    if kind in ("arch", "zed"):
        return [rng.uniform(20.0, 50.0) for _ in range(bends + 1)]
    if kind == "spiral":
        return [rng.uniform(14.0, 20.0) + 3.0 * k for k in range(bends + 1)]
    return [rng.uniform(12.0, 40.0) for _ in range(bends + 1)]


def section(kind: str, bends: int, rng: random.Random, *, radii: Sequence[float] = (1.5,), t: float = 1.0) -> Chain:
    """A section of a kind, seen from either of its ends and with either face up."""
    flats, turns = flats_of(kind, bends, rng), turns_of(kind, bends, rng)
    if rng.random() < 0.5:
        flats, turns = flats[::-1], turns[::-1]
    if rng.random() < 0.5:
        turns = [-a for a in turns]
    return chain_of(creases_of(flats, turns, [rng.choice(radii) for _ in turns], t), t)


def roomy(setups: int = 1, *, weights: Weights | None = None, settings: Sequence[float | None] = (None, None)) -> Shop:
    """High lift, small bar, narrow leaf, shallow bed; the second set-up has a wider nose and leaf."""
    clamps = (
        ClampBar(1.5, 40.0, 14.0, 22.0, 150.0, 15.0, beam(BAR)),
        ClampBar(3.0, 60.0, 30.0, 30.0, 110.0, 20.0, beam(BAR)),
    )
    leaves = (
        Leaf(16.0, 0.0, 10.0, 135.0, 8.0, 25.0, beam(ANGLE)),
        Leaf(36.0, 0.0, 12.0, 125.0, 10.0, 25.0, beam(ANGLE)),
    )
    made = tuple(
        SetUp(n, c, f, setting=s) for n, c, f, s in zip(("narrow", "wide"), clamps, leaves, settings, strict=True)
    )[:setups]
    brake = Brake(
        name="roomy brake",
        length=1000.0,
        throat=None,
        bed_depth=22.0,
        bed_height=60.0,
        hinge=(0.0, 0.0),
        open_ends=(True, True),
        lever=Lever(600.0, "both ends", 300.0),
        hinge_limit=8_000.0,
        clamp_limit=60_000.0,
        least_hold=6.0,
        least_swing=6.0,
    )
    return Shop("shop.toml", "Roomy", brake, made, weights=weights or Weights())


def tight(setups: int = 1, *, weights: Weights | None = None) -> Shop:
    """The same with a large bar, a deep bed, little lift, closed ends."""
    shop = roomy(setups, weights=weights)
    clamps = (
        replace(shop.setups[0].clamp, height=40.0, depth=60.0, lift=30.0, nose_angle=60.0),
        ClampBar(3.0, 70.0, 45.0, 70.0, 28.0, 30.0, beam(BAR)),
    )
    made = tuple(replace(s, clamp=c) for s, c in zip(shop.setups, clamps, strict=False))
    brake = replace(shop.brake, bed_depth=120.0, bed_height=100.0, open_ends=(False, False))
    return replace(shop, brake=brake, setups=made)


def timed(bends: int, setups: int, seed: int) -> Question:
    """What the benchmark asks: even seeds kinds that mostly can be made, odd seeds such as mostly cannot.

    Of each four seeds two have bends of two radii, which are made at nose settings of their own.
    """
    rng = random.Random(f"{bends} {seed}")
    kinds = OPEN if seed % 2 == 0 else SHUT
    kind = kinds[seed // 2 % len(kinds)]
    shop = tight(setups) if kind in ("closed", "cups", "any") else roomy(setups)
    chain = section(kind, bends, rng, radii=(1.5, 3.0) if seed % 4 > 1 else (1.5,))
    return Question(chain, shop, shop.setups, MILD_STEEL)


def trial(bends: int, seed: int, setups: int | None = None) -> Question:
    """A random question with every term of the cost in play: weights, legs that matter, clearance, throat, ends.

    Each fourth is one for which the nose may well be moved: radii far apart, no setting fixed, and a move counts
    little beside a radius that comes out wide.
    """
    rng = random.Random(f"trial {bends} {seed}")
    kind = rng.choice((*OPEN, *SHUT, "any"))
    count = setups or rng.choice((1, 2, 2))
    moved = seed % 4 == 3
    weights = weights_of(rng, moved)
    shop = (roomy if rng.random() < 0.8 else tight)(2, weights=weights)
    fixed = [replace(s, setting=rng.choice((None, None, 1.0, 3.0)), offset=rng.choice((0.0, 0.2))) for s in shop.setups]
    fixed[0] = replace(fixed[0], fingers=rng.choice(((), (100.0, 200.0, 300.0))))
    rng.shuffle(fixed)
    brake = replace(
        shop.brake,
        hinge=rng.choice(((0.0, 0.0), (0.3, -0.2))),
        throat=rng.choice((None, 120.0, 250.0)),
        open_ends=rng.choice(((True, False), (True, True), (False, False))),
        least_swing=rng.choice((6.0, 18.0)),
        least_hold=rng.choice((6.0, 20.0)),
    )
    safe = rng.choice((2.0, 8.0, 20.0))
    radii: tuple[float, ...] = rng.choice(((1.5,), (1.5, 4.0)))
    if moved:
        fixed, radii = [replace(s, setting=None) for s in fixed], (1.5, 6.0)
    shop = replace(shop, brake=brake, setups=tuple(fixed[:count]), safe_clearance=safe)
    chain = section(kind, bends, rng, radii=radii, t=rng.choice((0.7, 1.0, 1.5)))
    reference = frozenset(leg for leg in chain.legs if rng.random() < 0.4)
    return Question(chain, shop, shop.setups, rng.choice((None, MILD_STEEL, MILD_STEEL)), reference)


def weights_of(rng: random.Random, moved: bool) -> Weights:
    """Weights about the usual ones, now and then the usual ones or none at all for a term.

    ``moved``: moving the nose costs 0.3 to 3, a wide radius 3 to 10.
    """
    usual, names = Weights(), [f.name for f in fields(Weights)]
    drawn = {n: round(getattr(usual, n) * 10 ** rng.uniform(-1.5, 0.5), 3) for n in names}
    drawn["nose_change"] = round(drawn["nose_change"] * 10 ** rng.uniform(-1.5, 0.0), 3)
    drawn |= {n: 0.0 for n in names if rng.random() < 0.05}
    found = usual if rng.random() < 0.25 else Weights(**drawn)
    if not moved:
        return found
    nose, wide = round(0.3 * 10 ** rng.random(), 3), round(rng.uniform(3.0, 10.0), 3)
    return replace(found, nose_change=nose, wide_radius=wide)
