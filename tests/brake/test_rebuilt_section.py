"""A section of brake and sheet, drawn from a schedule's numbers, has every face where it must be, to 1e-6 mm."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import Point
from flatgen.core.schedule import Schedule, Stage
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.metal.metals import load_metals
from tests.brake.rebuilt import bearing, bent, brake, loaded, released, sides
from tests.brake.shops import shop

CLOSE = 1e-6
METALS = ("6061-T6", "5052-H32", "DC01", "304")


KNOWN = load_metals()


@dataclass(frozen=True)
class Case:
    """Sheet, legs to the mould line and bends (angle, radius, way) of a part; hinge, drop and nose of a brake."""

    metal: str
    thickness: float
    k: float
    legs: tuple[float, ...]
    bends: tuple[tuple[float, float, str], ...]
    hinge: Point = (0.0, 0.0)
    drop: float = 0.0
    nose: float = 1.0
    offset: float = 0.0

    def part(self, folder: Path) -> Profile:
        rows = [f"{{ leg = {self.legs[0]!r} }}"]
        for (angle, radius, way), leg in zip(self.bends, self.legs[1:], strict=True):
            rows.append(f'{{ bend = {angle!r}, way = "{way}", inside_radius = {radius!r}, k = {self.k!r} }}')
            rows.append(f"{{ leg = {leg!r} }}")
        head = f'units = "mm"\nmetal = "{self.metal}"\nthickness = {self.thickness!r}\nlength = 300\n'
        path = folder / "case.toml"
        section = ",\n".join(rows)
        path.write_text(f'{head}dimensions = "mould-line"\nsection = [\n{section}\n]\n', encoding="utf-8")
        return read_profile(path, KNOWN)

    def shop(self, setting: float | None = None) -> Shop:
        usual = shop()
        setup = usual.setups[0]
        clamp, leaf = replace(setup.clamp, nose_radius=self.nose), replace(setup.leaf, drop=self.drop, swing=175.0)
        setup = replace(setup, clamp=clamp, leaf=leaf, setting=setting, offset=self.offset)
        return replace(usual, brake=replace(usual.brake, hinge=self.hinge), setups=(setup,))


def one_bend(angle: float, radius: float, thickness: float, hinge: Point, drop: float, nose: float) -> Case:
    setback = (radius + thickness) * math.tan(math.radians(angle) / 2)
    return Case("6061-T6", thickness, 0.42, (setback + 31, setback + 22), ((angle, radius, "up"),), hinge, drop, nose)


def planned(case: Case, part: Profile, held: Sequence[int] = (), setting: float | None = None) -> Schedule:
    creases = creases_of_profile(part, develop(part))
    wanted = {c.label: leg for c, leg in zip(creases, held, strict=False)}
    return make_schedule(part, creases, case.shop(setting), held=wanted)


def at_its_setting(case: Case, part: Profile, label: str, held: Sequence[int] = ()) -> tuple[Schedule, Stage]:
    """The schedule with the nose where this bend alone would have it, and the bend's stage."""
    first = {s.crease.label: s for s in planned(case, part, held).stages}[label]
    assert first.needed is not None
    schedule = planned(case, part, held, first.needed)
    return schedule, {s.crease.label: s for s in schedule.stages}[label]


def require_section(schedule: Schedule, stage: Stage, thickness: float) -> None:
    """At full swing: sheet on the leaf's face, nose front on the sight line, nose on the sheet and not in it."""
    from shapely import Point as Spot

    tool, sheet = brake(schedule, stage.loaded_angle, thickness), loaded(schedule, stage, thickness)
    for end in sheet.outer.coords:
        assert tool.face.distance(Spot(end)) < CLOSE
    tangent = bearing(schedule, stage, thickness, formed(stage, thickness))
    assert tool.front - (tangent - sides(stage)[0].reach) == pytest.approx(stage.sight.from_held_edge, abs=CLOSE)
    assert sheet.sheet.distance(Spot(tool.centre)) == pytest.approx(tool.radius, abs=CLOSE)


def formed(stage: Stage, thickness: float) -> float:
    """Inside radius under load of the largest radius that the schedule says the setting gives: its arc is kept."""
    assert stage.radius is not None
    return (stage.radius.high + thickness / 2) * stage.crease.angle / stage.loaded_angle - thickness / 2


def require_dimensions(part: Profile, stages: Sequence[tuple[Schedule, Stage]]) -> None:
    """After release every leg has its dimension to the mould line, summed from the drawn ends and its flat."""
    ends = dict.fromkeys(range(len(part.legs)), 0.0)
    flats: dict[int, float] = {}
    for schedule, stage in stages:
        lying = loaded(schedule, stage, part.thickness)
        free = released(stage, lying, part.thickness)
        assert free.arc == pytest.approx(lying.arc, abs=CLOSE)  # what bent stays bent: angle and radius belong together
        for side, far in zip(sides(stage), (free.to_held, free.to_swung), strict=True):
            ends[side.leg] += far
            flats[side.leg] = side.flat
    for leg, wanted in enumerate(part.legs):
        assert flats[leg] + ends[leg] == pytest.approx(wanted.length, abs=CLOSE)


HINGES = ((0.0, 0.0), (0.3, 0.5), (-1.2, -0.4), (0.8, 2.0))
BENDS = ((90.0, 3.0, 1.0), (45.0, 2.0, 1.0), (120.0, 2.0, 1.5), (15.0, 4.0, 0.8))


@pytest.mark.parametrize(("angle", "radius", "thickness"), BENDS)
@pytest.mark.parametrize("hinge", HINGES)
@pytest.mark.parametrize("drop", [0.0, 0.4, -0.3])
def test_grid_of_noses_hinges_and_drops(
    angle: float, radius: float, thickness: float, hinge: Point, drop: float, tmp_path: Path
) -> None:
    """Matching nose and smaller ones, both sides held: the section closes and the finished legs are the part's."""
    matching = one_bend(angle, radius, thickness, hinge, drop, 1.0)
    part = matching.part(tmp_path)
    under_load = planned(matching, part).stages[0].loaded_radius
    for nose, leg in itertools.product((under_load, under_load / 2), (0, 1)):
        case = replace(matching, nose=nose)
        schedule, stage = at_its_setting(case, part, "A", [leg])
        assert sides(stage)[0].leg == leg
        require_section(schedule, stage, thickness)
        require_dimensions(part, [(schedule, stage)])


@pytest.mark.parametrize(("angle", "radius", "thickness"), BENDS)
def test_a_matching_nose_touches_the_bend_all_along(
    angle: float, radius: float, thickness: float, tmp_path: Path
) -> None:
    """Every point of the inner arc is one nose radius from the nose's centre; with a smaller nose only the first."""
    case = one_bend(angle, radius, thickness, (0.3, 0.5), 0.4, 1.0)
    part = case.part(tmp_path)
    under_load = planned(case, part).stages[0].loaded_radius
    for nose, touching in ((under_load, True), (under_load * 0.7, False)):
        schedule, stage = at_its_setting(replace(case, nose=nose), part, "A")
        x, y = brake(schedule, stage.loaded_angle, thickness).centre
        gaps = [math.dist((x, y), p) - nose for p in loaded(schedule, stage, thickness).inner.coords]
        assert gaps[0] == pytest.approx(0, abs=CLOSE)
        assert min(gaps) > -CLOSE
        assert (max(gaps) < CLOSE) == touching


@pytest.mark.parametrize("further", [0.0, 0.35, 2.5])
def test_any_setting_from_the_least_on_forms_the_radius_that_it_is_said_to(further: float, tmp_path: Path) -> None:
    """Set back farther than asked, a larger radius is drawn, and the sheet lies on the leaf again."""
    case = one_bend(90, 3, 1, (0.3, 0.5), 0.4, 2.0)
    part = case.part(tmp_path)
    least = planned(case, part).stages[0].least
    assert least is not None
    schedule = planned(case, part, setting=least + further)
    stage = schedule.stages[0]
    require_section(schedule, stage, 1)
    slope = math.degrees(math.radians(stage.loaded_angle)) / 90  # of finished to loaded radius: the arc is kept
    grown = further / math.tan(math.radians(stage.loaded_angle / 2)) * slope
    assert stage.radius is not None
    assert stage.radius.high - stage.radius.low == pytest.approx(grown, abs=CLOSE)


@pytest.mark.parametrize(("angle", "radius", "thickness"), BENDS)
def test_least_setting_is_where_the_nose_meets_the_sheet(
    angle: float, radius: float, thickness: float, tmp_path: Path
) -> None:
    """A circle between bed and leaf's face, its tangent under the nose's centre: free of the nose from ``least`` on."""
    from shapely import Point as Spot

    case = one_bend(angle, radius, thickness, (0.3, 0.5), 0.4, 1.7)
    part = case.part(tmp_path)
    stage = planned(case, part).stages[0]
    assert stage.least is not None
    for change, free in ((-0.01, False), (0.0, True), (0.2, True)):
        schedule = planned(case, part, setting=stage.least + change)
        tool = brake(schedule, stage.loaded_angle, thickness)
        # the circle's radius from the drawing alone: it grows with the setting until the faces are tangent to it
        low, high = 0.01, 200.0
        for _ in range(80):
            middle = (low + high) / 2
            low, high = (
                (middle, high) if bearing(schedule, stage, thickness, middle) > tool.centre[0] else (low, middle)
            )
        sheet = bent(tool.centre[0] - 30, 30, 20, thickness, low, stage.loaded_angle).sheet
        assert (sheet.distance(Spot(tool.centre)) > tool.radius - CLOSE) == free
        crushed = [f for f in schedule.findings if f.code == "FG131"]
        assert bool(crushed) != free


@pytest.mark.parametrize("offset", [0.35, -0.2])
@pytest.mark.parametrize("leg", [0, 1])
def test_an_offset_moves_the_sheet_and_nothing_else(offset: float, leg: int, tmp_path: Path) -> None:
    """e is the brake's: its true tangent line lies e nearer the held edge than the nose's centre.

    So with the sight line under the nose's front the held tangent line stands e behind the nose's centre, setting,
    leaf angle and the finished legs (which follow from the tangent lines) stay as without it.
    """
    case = one_bend(90, 3, 1, (0.3, 0.5), 0.4, 2.0)
    part = case.part(tmp_path)
    with_it, without = (at_its_setting(c, part, "A", [leg]) for c in (replace(case, offset=offset), case))
    tool = brake(with_it[0], with_it[1].loaded_angle, 1)
    assert tool.centre[0] - loaded(*with_it, 1).tangent == pytest.approx(offset, abs=CLOSE)
    assert with_it[0].setting == without[0].setting
    assert with_it[1].leaf_angle == without[1].leaf_angle
    require_dimensions(part, [with_it])


@pytest.mark.parametrize("reach", [(0, 1, 2), (1, 2, 3), (0, 2, 2), (1, 1, 3)])
def test_all_legs_of_a_part_of_several_bends(reach: tuple[int, int, int], tmp_path: Path) -> None:
    """Bends both ways, each stage drawn by itself: held from any side, the legs come out to their mould lines."""
    bends = ((90.0, 2.0, "up"), (60.0, 3.0, "down"), (110.0, 2.5, "up"))
    case = Case("5052-H32", 1.2, 0.4, (25.0, 60.0, 55.0, 30.0), bends, (0.2, 0.3), 0.3, 1.5)
    part = case.part(tmp_path)
    drawn = [at_its_setting(case, part, label, reach) for label in "ABC"]
    assert tuple(sides(stage)[0].leg for _, stage in drawn) == reach
    for schedule, stage in drawn:
        require_section(schedule, stage, part.thickness)
    require_dimensions(part, drawn)


def random_case(rng: random.Random) -> Case:
    thickness = rng.choice((0.5, 0.8128, 1.0, 1.6, 3.0))
    bends = tuple(
        (rng.uniform(5, 140), thickness * rng.uniform(0.8, 5), rng.choice(("up", "down")))
        for _ in range(rng.randint(1, 3))
    )
    room = [(r + thickness) * math.tan(math.radians(a / 2)) for a, r, _ in bends]
    legs = tuple(a + b + rng.uniform(60, 90) for a, b in zip([0.0, *room], [*room, 0.0], strict=True))
    hinge = (rng.uniform(-2, 2), rng.uniform(-2, 2))
    nose = thickness * rng.uniform(0.1, 0.6)
    return Case(rng.choice(METALS), thickness, rng.uniform(0.3, 0.5), legs, bends, hinge, rng.uniform(-0.5, 1.5), nose)


@pytest.mark.parametrize("seed", [*range(25), *(pytest.param(n, marks=pytest.mark.thorough) for n in range(25, 300))])
def test_random_parts_and_brakes(seed: int, tmp_path: Path) -> None:
    """One to three bends, any metal, hinge, drop and nose: every stage closes, every leg has its dimension."""
    rng = random.Random(5000 + seed)
    for _ in range(20):  # until one whose legs do not run through each other
        case = random_case(rng)
        try:
            part = case.part(tmp_path)
        except InputRefused:
            continue
        break
    held = [n + rng.randint(0, 1) for n in range(len(case.bends))]
    drawn = [at_its_setting(case, part, c.label, held) for c in part.bends]
    for schedule, stage in drawn:
        require_section(schedule, stage, case.thickness)
    require_dimensions(part, drawn)
