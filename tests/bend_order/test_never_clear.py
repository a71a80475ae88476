"""The fast check of a stage against dense sampling: never clear where sampling finds contact, and hardly ever wary.

Every expected number is measured by tests/order/sampled.py, which shares no shapes with the package: outlines by
shapely, the leaf's angle each 0.25 degrees and finer where need be. Brakes, sections and stages are random; nobody's.
Most stages are led near to contact, where a mistake would show: one leg is lengthened until the stage is refused.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from functools import cache

import pytest

from flatgen.bend_order import costs
from flatgen.bend_order.chain import Chain, chain_of
from flatgen.bend_order.search import StageCosts
from flatgen.bend_order.stages import SIDES, Situation, stage_tables
from flatgen.brake.springback import Strength
from flatgen.core.schedule import Crease, Side, WhichSide
from flatgen.core.shop import Brake, ClampBar, Leaf, Lever, SetUp, Shop
from tests.bend_order.outlines import Stage
from tests.bend_order.sampled import sampled

NEUTRAL = 0.42
"""K: common practice, no source; any would do."""
STEEL = Strength(250.0, 360.0, 205_000.0, 0.3)
"""Round numbers of mild steel: common practice, no source."""
TINY = 0.002
"""Outlines of arcs, 0.0005 mm, and the sampling's own step, 0.001 mm."""
WARY = 0.05
"""What the fast check may refuse beyond the safe clearance [mm]: the issue."""
SEEDS = [n if n < 30 else pytest.param(n, marks=pytest.mark.thorough) for n in range(300)]


def brake_of(rng: random.Random) -> Shop:
    """A brake of random measures."""
    nose = rng.choice([0.5, 1.0, 1.5, 3.0])
    clamp = ClampBar(
        nose, rng.uniform(30, 80), rng.uniform(15, 60), rng.uniform(20, 90), rng.choice([6.0, 15.0, 30.0, 60.0]), 20.0
    )
    face, depth = rng.choice([10.0, 20.0, 40.0, 60.0]), rng.choice([6.0, 8.0, 40.0, 60.0])
    drop = rng.choice([0.0, 0.0, rng.uniform(0, 4), rng.uniform(-1.5, 0)])
    shape = rng.choice(
        [
            (),
            (),
            ((0.0, -depth), (8.0, -depth), (8.0, -depth - 30), (0.0, -depth - 30)),
            ((5.0, -depth), (face + 15, -depth), (face + 15, -depth - 10), (5.0, -depth - 10)),
        ]
    )
    leaf = Leaf(face, drop, depth, rng.uniform(100, 140), 8.0, 25.0, None, shape)
    setting = rng.choice([None, None, rng.uniform(0, 6)])
    setup = SetUp("only", clamp, leaf, setting, rng.choice([0.0, rng.uniform(-0.4, 0.4)]))
    hinge = rng.choice([(0.0, 0.0), (rng.uniform(-3, 5), rng.uniform(-3, 3))])
    brake = Brake(
        name="random",
        length=1000.0,
        throat=rng.choice([None, None, rng.uniform(40, 200)]),
        bed_depth=rng.choice([25.0, 60.0, 120.0]),
        bed_height=rng.choice([10.0, 40.0, 100.0]),
        hinge=hinge,
        open_ends=(rng.random() < 0.3, False),
        lever=Lever(600.0, "both ends", 300.0),
    )
    return Shop("shop.toml", "random", brake, (setup,), safe_clearance=rng.choice([0.05, 2.0, 3.0, 4.0]))


def section_of(rng: random.Random) -> Chain:
    """A section of 2 to 8 bends of random lengths, angles, ways and radii."""
    n, t = rng.choice([2, 2, 3, 3, 3, 4, 4, 5, 6, 8]), rng.choice([0.5, 0.8, 1.0, 1.5, 2.0, 3.0])
    flats = [rng.uniform(6, 70) for _ in range(n + 1)]
    angles = [rng.choice([90.0, 90.0, rng.uniform(20, 130)]) for _ in range(n)]
    radii = [rng.uniform(0.5, 3) * max(t, 0.8) for _ in range(n)]
    ups = [rng.random() < 0.6 for _ in range(n)]
    return chain_by(flats, angles, radii, ups, t)


def chain_by(flats: list[float], angles: list[float], radii: list[float], ups: list[bool], t: float) -> Chain:
    """A chain from its lengths."""
    allowances = [math.radians(a) * (r + NEUTRAL * t) for a, r in zip(angles, radii, strict=True)]
    total, x, found = sum(flats) + sum(allowances), 0.0, []
    for k, a in enumerate(angles):
        low = x + flats[k]
        x = low + allowances[k]
        found.append(
            Crease(
                label=chr(65 + k),
                angle=a,
                way="up" if ups[k] else "down",
                inside_radius=radii[k],
                allowance=allowances[k],
                length=500.0,
                extent=500.0,
                first=Side(k, low, flats[k], low),
                second=Side(k + 1, x, flats[k + 1], total - x),
            )
        )
    return chain_of(found, t)


@dataclass(frozen=True)
class Case:
    """A stage with all that it depends on."""

    situation: Situation
    bend: int
    held: WhichSide
    made: int

    def table(self) -> tuple[float, bool, bool]:
        """What the fast check says: clearance [mm], in and out endwise."""
        table = stage_tables(self.situation, [(self.bend, self.held)])[self.bend, self.held]
        held, swung = StageCosts(self.situation.chain).split(self.bend, self.held)
        at = held[self.made], swung[self.made]
        return float(table.gap[at]), bool(table.in_endwise[at]), bool(table.out_endwise[at])

    def stage(self) -> Stage:
        """The same for the sampler."""
        s = self.situation
        return Stage(
            s.chain,
            s.shop.brake,
            s.setup,
            s.setting,
            self.bend,
            self.held,
            self.made,
            s.bends[self.bend].top,
            s.shop.brake.open_ends[0],
        )

    def longer(self, leg: int, length: float) -> Case:
        """The same with one leg of another length."""
        c = self.situation.chain
        flats = [length if k == leg else f for k, f in enumerate(c.flats)]
        chain = chain_by(flats, list(c.angles), list(c.radii), [u > 0 for u in c.ups], c.thickness)
        return replace(self, situation=replace(self.situation, chain=chain))


@cache
def case_of(seed: int) -> Case:
    """A stage, most often one near to contact: with little room, or with a leg of a length next to that which fails."""
    rng = random.Random(seed)
    for _ in range(5):
        case, found = _drawn_lots(rng, seed % 10)
        if found:
            break
    return case


def _drawn_lots(rng: random.Random, way: int) -> tuple[Case, bool]:
    """A stage, and whether it is what was looked for."""
    shop, chain = brake_of(rng), section_of(rng)
    setup = shop.setups[0]
    strength = rng.choice([None, STEEL])
    bends = [costs.form_bend(c, chain.thickness, setup, shop, strength) for c in chain.creases]
    setting = rng.choice(costs.nose_settings(bends, chain.creases, chain.thickness, shop, setup).values)
    situation = Situation(chain, shop, setup, setting, tuple(bends), strength, shop.weights)
    if way < 3:
        return _little_room(rng, situation)
    bend = rng.randrange(chain.bends)
    made = rng.randrange(1, 1 << chain.bends) & ~(1 << bend)
    case = Case(situation, bend, rng.choice(SIDES), made)
    return (case, True) if way == 9 else _at_contact(rng, case)


def _little_room(rng: random.Random, situation: Situation) -> tuple[Case, bool]:
    """Of all stages of one bend one with less room than is safe, where there is one."""
    bend, held = rng.randrange(situation.chain.bends), rng.choice(SIDES)
    table = stage_tables(situation, [(bend, held)])[bend, held]
    split = StageCosts(situation.chain).split(bend, held)
    sets = [s for s in range(1 << situation.chain.bends) if not s >> bend & 1]
    gaps = {s: float(table.gap[split[0][s], split[1][s]]) for s in sets}
    little = [s for s in sets if 0 < gaps[s] < situation.shop.safe_clearance - 0.03]
    return Case(situation, bend, held, rng.choice(little or sets)), bool(little)


def _at_contact(rng: random.Random, case: Case) -> tuple[Case, bool]:
    """The same with one leg so long that it is next to contact, where there is such a length."""
    for leg in rng.sample(range(case.situation.chain.bends + 1), 2):
        lengths = [3.0, 8.0, 20.0, 35.0, 60.0, 100.0]
        rooms = [case.longer(leg, length).table()[0] > 0 for length in lengths]
        changes = [k for k in range(5) if rooms[k] != rooms[k + 1]]
        if not changes:
            continue
        k = rng.choice(changes)
        low, high = lengths[k], lengths[k + 1]
        for _ in range(9):
            middle = (low + high) / 2
            low, high = (middle, high) if (case.longer(leg, middle).table()[0] > 0) == rooms[k] else (low, middle)
        off = rng.choice([-1, 1]) * rng.choice([0.0, 0.05, 0.5, 2.0]) * rng.random()
        return case.longer(leg, max(2.0, low + off)), True
    return case, False


def judge(case: Case) -> tuple[list[str], float, float]:
    """What is wrong, clearance of the fast check, and of the sampling [mm]."""
    gap, in_endwise, out_endwise = case.table()
    safe = case.situation.shop.safe_clearance
    cap = max(safe, 0.1)
    found = sampled(case.stage(), cap + 1)
    ways = {k: found.pop(k) for k in ("in front", "in endwise", "out front", "out endwise")}
    rest = min(found.values())
    wrong = []
    if gap > 0:
        way_in = ways["in endwise" if in_endwise else "in front"]
        way_out = ways["out endwise" if out_endwise else "out front"]
        true = min(rest, way_in, way_out)
        if true <= 0:
            wrong.append("clear, but sampling finds contact")
        elif gap > true + TINY:
            wrong.append("more room than sampling finds")
        elif gap < cap and gap < true - 0.06:
            wrong.append("less room than sampling finds")
    else:
        way_in, way_out = max(ways["in front"], ways["in endwise"]), max(ways["out front"], ways["out endwise"])
        true = min(rest, way_in, way_out)
        if true >= safe + WARY:
            wrong.append("refused, but there is room")
    return wrong, gap, true


@pytest.mark.parametrize("seed", SEEDS)
def test_the_fast_check_against_sampling(seed: int) -> None:
    """Never clear where sampling finds contact; refused where it finds room only within the margin (the issue)."""
    wrong, gap, true = judge(case_of(seed))
    assert not wrong, f"{wrong[0]}: {gap:.3f} mm by the fast check, {true:.3f} mm by sampling"


def usual(
    flats: list[float],
    angles: list[float],
    ups: str,
    bend: int,
    made: int,
    leaf: Leaf,
    *,
    clamp: ClampBar | None = None,
    hinge: float = 0.0,
    setting: float = 1.0,
) -> Case:
    """A stage of 1 mm metal, inside radii 1.5, first side held; ``ups``: u or d for each bend; ``hinge``: its x.

    An end of the brake is open where the bar is another one."""
    chain = chain_by(flats, angles, [1.5] * len(angles), [u == "u" for u in ups], 1.0)
    setup = SetUp("only", clamp or ClampBar(1.5, 45.0, 40.0, 60.0, 25.0, 30.0), leaf, setting)
    lever = Lever(600.0, "both ends", 300.0)
    brake = Brake("usual", 1000.0, None, 120.0, 100.0, (hinge, 0.0), (clamp is not None, False), lever)
    shop = Shop("shop.toml", "usual", brake, (setup,))
    bends = [costs.form_bend(c, 1.0, setup, shop, None) for c in chain.creases]
    return Case(Situation(chain, shop, setup, setting, tuple(bends), None, shop.weights), bend, "first", made)


def low_leaf(depth: float = 6.0, swing: float = 135.0, shape: tuple[tuple[float, float], ...] = ()) -> Leaf:
    """A leaf with a face of 40 mm."""
    return Leaf(40.0, 0.0, depth, swing, 8.0, 25.0, None, shape)


POCKET = ((0.0, -30.0), (60.0, -30.0), (60.0, -10.0), (55.0, -10.0), (55.0, -29.0), (0.0, -29.0))
SHORT_BAR = ClampBar(1.5, 45.0, 20.0, 25.0, 100.0, 20.0)
HARD = {
    # a return leg just under the tip of a leaf whose hinge stands 8 mm before the bed: caught as the part is raised
    "hook under the leaf": usual(
        [15, 140, 52, 12, 8.6], [90, 30, 90, 90], "dudd", 1, 0b1101, low_leaf(), hinge=8.0, setting=-5.0
    ),
    # a leaf whose lower flange has an upstand: the lip stands in the pocket and does not slide out level
    "pocket in the leaf": usual([60, 43, 12], [30, 90], "ud", 0, 0b10, low_leaf(30.0, shape=POCKET)),
    # the leaf ends at 100, the last 30 degrees are done by hand: then the legs meet
    "legs that meet by hand": usual([85, 58, 105], [90, 130], "uu", 1, 0b01, low_leaf(swing=100.0), clamp=SHORT_BAR),
}
STEEP_BAR = ClampBar(1.5, 90.0, 20.0, 25.0, 100.0, 20.0)
ROOMY = {
    # a lid over the bar, which all of its lift would touch, and a lip behind it, which a quarter would not pass
    "lid over the bar": usual([45, 80, 82, 40], [90, 90, 90], "uuu", 1, 0b101, low_leaf(), clamp=STEEP_BAR),
    # a lip that begins above the clamped bar, but not above the lifted one, and leans back beside its sloping front
    "lip above the bar": usual([60, 64, 41], [90, 45], "uu", 0, 0b10, low_leaf()),
    # a lip 5 mm behind the bed, a leg that leans back over the bar: raised with the bar first, then drawn forward
    "lip behind the bed": usual([15, 122.5, 30], [90, 120], "du", 1, 0b01, low_leaf()),
}


@pytest.mark.parametrize("name", HARD)
def test_contacts_that_are_easily_missed(name: str) -> None:
    """Ways and ends of a stage where contact is easily overlooked; sampling says that there is contact."""
    wrong, gap, true = judge(HARD[name])
    assert true <= 0, f"not the stage that was meant: {true:.3f} mm of room by sampling"
    assert not wrong, f"{wrong[0]}: {gap:.3f} mm by the fast check, contact by sampling"


@pytest.mark.parametrize("name", ROOMY)
def test_room_that_is_easily_missed(name: str) -> None:
    """Ways with room by sampling, which the fast check has to see."""
    wrong, gap, true = judge(ROOMY[name])
    assert true > 1.5, f"not the stage that was meant: {true:.3f} mm of room by sampling"
    assert not wrong, f"{wrong[0]}: {gap:.3f} mm by the fast check, {true:.3f} mm by sampling"
    assert ROOMY[name].table()[1:] == (False, False), "there is room from the front"


def test_most_stages_are_near_contact() -> None:
    """The test above would prove little far from contact: of 10 stages at least 4 have 0 to 3 mm of room, or come
    into contact when one leg is made a little longer or shorter."""
    near = 0
    for seed in range(10):
        case = case_of(seed)
        found = [case, *(case.longer(k, f + d) for k, f in enumerate(case.situation.chain.flats) for d in (-2.0, 2.0))]
        gaps = [c.table()[0] for c in found]
        near += 0 < gaps[0] < 3 or len({g > 0 for g in gaps}) > 1
    assert near >= 4
