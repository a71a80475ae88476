"""Strips cut for parts: the same section, lines and order, narrow.

A strip is compared with its part by the closed form, which is checked elsewhere against the unfolded solid; sizes of
single cases are worked out by hand beside them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from flatgen.bend_order.plan import make_plan
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.brake.read_shop import read_shop
from flatgen.core.errors import InputRefused
from flatgen.core.schedule import Schedule
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.part import Part, Source
from flatgen.definition.reader import read_profile
from flatgen.metal.metals import load_metals
from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips import words as strip_words
from flatgen.strips.cut import Strip, cut_strip, usual_width
from flatgen.strips.form import read_form
from flatgen.strips.questions import questions
from flatgen.unfolding.received.part import ReceivedPart, received_part
from tests.brake.shops import shop as home_made
from tests.places import PROFILES
from tests.sections import random_section

DEMOS = sorted(p.stem for p in PROFILES.glob("*.toml") if p.stem != "shop")
WIDTH = 40.0


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


def planned(part: Profile, shop: Shop | None = None, setup: str = "", order: tuple[str, ...] | None = None) -> Schedule:
    creases = creases_of_profile(part, develop(part))
    return make_plan(part, creases, shop or read_shop(PROFILES / "shop.toml"), setup, None, order).schedule


@cache
def demo(name: str) -> tuple[Profile, Schedule]:
    part = read_profile(PROFILES / f"{name}.toml")
    return part, planned(part)


def told(strip: Strip, code: str) -> list[str]:
    return [f.text for f in strip.findings if f.code == code]


def check_same(part: Part, schedule: Schedule, strip: Strip, blank: float) -> None:
    """Section, lines, order, held sides, set-up and setting are those of the part."""
    assert strip.profile.length == WIDTH
    assert (strip.profile.openings, strip.profile.cuts) == ((), ())
    assert develop(strip.profile).width == pytest.approx(blank, abs=1e-9)
    stages = {s.crease.label: s for s in schedule.stages}
    assert [s.crease.label for s in strip.plan.schedule.stages] == [s.crease.label for s in schedule.stages]
    for own in strip.plan.schedule.stages:
        asked = stages[own.crease.label]
        assert own.sight.held == asked.sight.held
        assert own.sight.face == asked.sight.face
        assert own.sight.from_held_edge == pytest.approx(asked.sight.from_held_edge, abs=1e-6)
        assert own.sight.from_datum == pytest.approx(asked.sight.from_datum, abs=1e-6)
        assert own.arm == pytest.approx(asked.arm, abs=1e-6)
        assert own.crease.way == asked.crease.way
    assert told(strip, strip_words.CUT_DOWN) == []


@pytest.mark.parametrize("name", DEMOS)
def test_the_strip_of_a_demo_is_its_section(name: str, tmp_path: Path) -> None:
    part, schedule = demo(name)
    strip = cut_strip(part, schedule, WIDTH)
    check_same(part, schedule, strip, develop(part).width)
    reading = strip.reading
    assert (reading.metal, reading.nominal, reading.part) == (
        part.metal.name,
        round(part.thickness, 6),
        part.fingerprint,
    )
    assert (reading.shop, reading.thickness, reading.blank_got) == (schedule.shop.fingerprint, None, None)
    assert all(b.set is b.got is b.radius is None for b in reading.bends)
    assert len({leg.name for leg in reading.legs}) == len(reading.legs)
    path = tmp_path / "form.toml"
    path.write_text(form_text([reading], order=strip.order), encoding="utf-8")
    assert read_form(path).readings == (reading,)
    assert questions(reading) == ()


@pytest.mark.parametrize("seed", both(100))
def test_the_strip_of_any_section(seed: int, tmp_path: Path) -> None:
    part = random_section(seed, tmp_path, most=5)
    schedule = planned(part, home_made())
    strip = cut_strip(part, schedule, WIDTH)
    check_same(part, schedule, strip, develop(part).width)
    assert questions(strip.reading) == ()


@pytest.mark.parametrize("seed", both(100))
def test_a_single_bend_of_any_section(seed: int, tmp_path: Path) -> None:
    """On the part's own setting, borne in the same place: the leaf reaches no farther than the strip does."""
    part = random_section(seed, tmp_path, most=5)
    schedule = planned(part, home_made())
    for stage in schedule.stages:
        strip = cut_strip(part, schedule, WIDTH, (stage.crease.label,))
        (own,) = strip.plan.schedule.stages
        assert own.sight.held == stage.sight.held
        assert own.arm == pytest.approx(stage.arm, abs=1e-6)
        assert strip.reading.bends[0].nose_setting == pytest.approx(stage.setting or schedule.setting, abs=1e-6)
        assert questions(strip.reading) == ()


def test_legs_are_told_overall() -> None:
    """Eave angle, t 0.8128 mm: a lip of 16 mm inside a bend of 45 with r 2 is longer outside by t tan 22.5 = 0.3367;
    the roof leg of 70 mm between 60 (r 2) and 90 is told to mould lines, which overall is the same."""
    part, schedule = demo("eave-angle")
    legs = cut_strip(part, schedule, WIDTH).reading.legs
    assert [leg.dimensions for leg in legs] == ["overall"] * 4
    assert legs[3].asked == pytest.approx(16 + 0.8128 * math.tan(math.radians(22.5)), abs=1e-6)
    assert legs[1].asked == pytest.approx(70.0, abs=1e-6)
    assert [leg.name for leg in legs] == ["stiffener", "roof leg", "wall leg", "drip lip"]


@pytest.mark.parametrize("name", DEMOS)
def test_a_single_bend_is_bent_as_on_the_part(name: str) -> None:
    """The leaf bears where it bears on the part, the line lies as far from the tangent line, on the same face."""
    part, schedule = demo(name)
    for stage in schedule.stages:
        label = stage.crease.label
        strip = cut_strip(part, schedule, WIDTH, (label,))
        (own,) = strip.plan.schedule.stages
        assert strip.order == (label,)
        assert len(strip.profile.legs) == 2
        assert own.arm == pytest.approx(stage.arm, abs=1e-6)
        assert own.sight.held == stage.sight.held
        lines = [s.sight.from_datum - s.crease.side(s.sight.held).tangent for s in (own, stage)]
        assert lines[0] == pytest.approx(lines[1], abs=1e-9)
        assert own.crease.allowance == stage.crease.allowance
        assert strip.reading.bends[0].sight == pytest.approx(own.sight.from_held_edge, abs=1e-6)
        assert questions(strip.reading) == ()


def test_a_leg_with_a_bend_made_before_keeps_the_flat_that_is_left() -> None:
    """Roof rail: its lips A and D are bent first, so a side has the flat between two bends, by hand
    38.1 - 2 (3.175 + 1.016) = 29.718 mm; on the strip it ends there: 29.718 + 4.191 = 33.909 overall."""
    part, schedule = demo("roof-rail")
    assert [s.crease.label for s in schedule.stages] == ["A", "D", "B", "C"]
    strip = cut_strip(part, schedule, WIDTH, ("C", "B"))
    assert strip.order == ("B", "C")
    assert [leg.asked for leg in strip.reading.legs] == pytest.approx([33.909, 62.0, 33.909], abs=1e-6)
    assert [leg.name for leg in strip.reading.legs] == ["left side", "web", "right side"]
    assert [text.split(" is cut off ")[0] for text in told(strip, strip_words.CUT_DOWN)] == ["left side", "right side"]


def test_a_leg_with_a_bend_still_to_be_made_is_cut_where_it_can_be_held_and_swung() -> None:
    """Pier channel, its first bend alone: behind it lies the whole web, 120.5 mm between the bends, and more. The clamp
    bar is 50 mm deep, the leaf's face 26 mm wide: 50 mm of flat, with a setback of 4 + 3 mm 57 mm overall."""
    part, schedule = demo("pier-channel")
    first = schedule.stages[0].crease.label
    strip = cut_strip(part, schedule, WIDTH, (first,))
    inner = strip.reading.legs[1 if first == "A" else 0]
    assert (inner.name, inner.asked) == ("web", 57.0)
    assert "50.0 mm" in told(strip, strip_words.CUT_DOWN)[0]


def test_bends_between_stay_on_the_strip() -> None:
    part, schedule = demo("cable-tray")
    strip = cut_strip(part, schedule, WIDTH, ("C", "F"))
    assert sorted(strip.order) == ["C", "D", "E", "F"]
    order = [s.crease.label for s in schedule.stages]
    assert list(strip.order) == [label for label in order if label in strip.order]
    between = [text for text in told(strip, strip_words.CUT_DOWN) if "lies between" in text]
    assert [text.split()[1] for text in between] == ["D", "E"]
    ends = strip.reading.legs[0].name, strip.reading.legs[-1].name
    assert ends == ("left side", "right edge")
    assert strip.reading.legs[-1].asked == pytest.approx(9.525, abs=1e-6), "3/8 in, the part's own end"


def test_a_narrow_strip_is_told() -> None:
    """Ten thicknesses of 3 mm are 30 mm."""
    part, schedule = demo("pier-channel")
    assert told(cut_strip(part, schedule, 30.0), strip_words.NARROW) == []
    strip = cut_strip(part, schedule, 29.9)
    assert "29.9 mm (1.177 in) wide is less than 30.0 mm" in told(strip, strip_words.NARROW)[0]
    assert [f.severity for f in strip.findings if f.code == strip_words.NARROW] == ["caution"]
    assert any("at least 30.0 mm" in f.remedy for f in strip.findings)


@pytest.mark.parametrize(("thickness", "width"), [(0.5, 25.0), (2.5, 25.0), (2.51, 30.0), (3.0, 30.0), (6.0, 60.0)])
def test_the_usual_width_is_never_narrow(thickness: float, width: float) -> None:
    assert usual_width(thickness) == width


@pytest.mark.parametrize(
    ("width", "only", "where", "told"),
    [
        (25.0, ("Z",), "--only-bends", "'Z' is no bend"),
        (25.0, ("A", "A"), "--only-bends", "named twice"),
        (0.0, (), "--width", "not above 0"),
        (math.nan, (), "--width", "not above 0"),
        (1e9, (), "--width", "not above 0"),
    ],
)
def test_what_cannot_be_asked(width: float, only: tuple[str, ...], where: str, told: str) -> None:
    part, schedule = demo("roof-rail")
    with pytest.raises(InputRefused) as refused:
        cut_strip(part, schedule, width, only)
    fault = refused.value.faults[0]
    assert (fault.where, told in fault.text, bool(fault.remedy)) == (where, True, True)
    with pytest.raises(InputRefused) as refused:
        cut_strip(part, schedule, 0.0, ("Y", "Z"))
    assert len(refused.value.faults) == 3


def test_a_part_without_bends_or_with_bends_that_cross_has_no_strip() -> None:
    part, schedule = demo("roof-rail")
    with pytest.raises(InputRefused, match="nothing to learn"):
        cut_strip(part, replace(schedule, stages=()), WIDTH)
    turned = replace(schedule.stages[1], crease=replace(schedule.stages[1].crease, across=(0.0, 1.0)))
    crossed = replace(schedule, stages=(schedule.stages[0], turned, *schedule.stages[2:]))
    with pytest.raises(InputRefused, match="not parallel"):
        cut_strip(part, crossed, WIDTH)


def test_legs_of_one_name_are_told_apart() -> None:
    part, _ = demo("roof-rail")
    legs = tuple(replace(leg, name="side") for leg in part.legs)
    part = replace(part, legs=legs, fingerprint="")
    strip = cut_strip(part, planned(part), WIDTH)
    assert [leg.name for leg in strip.reading.legs] == [f"side ({n})" for n in range(1, 6)]


def test_the_strip_is_bent_on_the_set_up_and_setting_of_the_part() -> None:
    """A setting that the plan of the part chose is not chosen anew for a few of its bends."""
    part, schedule = demo("eave-angle")
    strip = cut_strip(part, schedule, WIDTH, ("drip",))
    alone = planned(replace(strip.profile, order=None))
    assert schedule.setting is not None
    assert strip.reading.bends[0].nose_setting == pytest.approx(schedule.setting, abs=1e-6)
    assert alone.setting != pytest.approx(schedule.setting, abs=0.5), "else this test shows nothing"
    stiff = planned(part, setup="stiffened")
    other = cut_strip(part, stiff, WIDTH)
    assert {b.setup for b in other.reading.bends} == {"stiffened"}


def test_several_set_ups_stay_those_of_the_part() -> None:
    """Bends on two bars: what the strip's own plan would do otherwise is told."""
    part, _ = demo("roof-rail")
    shop = home_made()
    schedule = planned(part, shop, "any")
    stages = list(schedule.stages)
    last = stages[-1]
    other = next(s for s in shop.setups if s.name != (last.setup or schedule.setup).name)
    assert isinstance(other, SetUp)
    mixed = replace(schedule, stages=(*stages[:-1], replace(last, setup=other, setting=3.0)))
    strip = cut_strip(part, mixed, WIDTH)
    label = last.crease.label
    own = next(b for b in strip.reading.bends if b.label == label)
    told_of = [t for t in told(strip, strip_words.CUT_DOWN) if t.startswith(f"bend {label} is made")]
    assert own.setup == other.name or told_of
    (alone,) = cut_strip(part, mixed, WIDTH, (label,)).reading.bends
    assert (alone.setup, alone.nose_radius, alone.nose_setting) == (other.name, other.clamp.nose_radius, 3.0)


def received(part: Profile) -> tuple[ReceivedPart, Schedule]:
    """The part as if it had come as a solid."""
    from flatgen.jobs.draw import develop_solid

    flat = develop_solid(part).flat
    source = Source("rail.step", "0" * 64, 1, 1, "rail", 1)
    came = received_part("rail", flat, [b.allowance for b in part.bends], part.metal, None, source)
    return came, make_plan(came, creases_of_flat(came, flat), read_shop(PROFILES / "shop.toml")).schedule


def test_a_received_part_has_a_strip_too(tmp_path: Path) -> None:
    part, own = demo("roof-rail")
    came, schedule = received(part)
    strip = cut_strip(came, schedule, WIDTH)
    check_same(came, schedule, strip, develop(part).width)
    mine = cut_strip(part, own, WIDTH).reading
    assert [leg.asked for leg in strip.reading.legs] == pytest.approx([leg.asked for leg in mine.legs], abs=1e-5)
    assert [b.way for b in strip.reading.bends] == [b.way for b in mine.bends]
    assert len({leg.name for leg in strip.reading.legs}) == 5
    path = tmp_path / "form.toml"
    path.write_text(form_text([strip.reading]), encoding="utf-8")
    assert read_form(path).readings == (strip.reading,)
    with pytest.raises(InputRefused, match="metal is not known") as refused:
        cut_strip(replace(came, metal=None, k=0.42), schedule, WIDTH)
    assert refused.value.faults[0].remedy == strip_words.GIVE_METAL


def test_a_strip_goes_through_the_writers(tmp_path: Path) -> None:
    """The solid of the strip is built and unfolded; both roads to its flat agree, or this raises."""
    from flatgen.jobs.draw import DefinitionResult, develop_solid, with_schedule
    from flatgen.jobs.outputs import write
    from flatgen.jobs.result import Options
    from flatgen.openings.judge import judge_flat

    part, schedule = demo("roof-rail")
    strip = cut_strip(part, schedule, WIDTH, ("B", "C"))
    made = develop_solid(strip.profile)
    watched = judge_flat(strip.profile, made.flat, made.homes)
    drawn = DefinitionResult(
        made.flat, strip.findings, profile=strip.profile, solid=made.solid, homes=made.homes, openings=watched
    )
    drawn = with_schedule(drawn, strip.plan.schedule.shop, Options())
    assert drawn.schedule is not None
    assert [s.sight.held for s in drawn.schedule.stages] == [s.sight.held for s in strip.plan.schedule.stages]
    assert [s.crease.label for s in drawn.schedule.stages] == list(strip.order)
    files = write(drawn, tmp_path, Options(kinds=("flat.dxf", "json"))).files
    assert all(f.stat().st_size > 500 for f in files)
    assert made.flat.width == pytest.approx(develop(strip.profile).width, abs=1e-6)


def test_the_metals_are_found_by_the_name_in_the_form() -> None:
    part, schedule = demo("purlin")
    assert cut_strip(part, schedule, WIDTH).reading.metal in load_metals()
