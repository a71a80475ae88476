"""What a plan may move and what it may not: held side, order and set-up move lines, never the blank.

Random sections are those of ``sections.py``; every expectation is *derived* from the flat of the definition.
"""

from __future__ import annotations

import random
import tempfile
from dataclasses import astuple, replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.core.errors import InputRefused
from flatgen.core.schedule import Crease, Schedule, Stage
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from tests.brake.shops import shop
from tests.places import PROFILES
from tests.sections import random_section

USUAL = ("eave-angle", "roof-rail", "purlin")
MORE = tuple(sorted(p.stem for p in PROFILES.glob("*.toml") if p.stem not in (*USUAL, "shop")))
CLOSE = 1e-6
SEEDS = st.integers(0, 400)


@cache
def _part(seed: int) -> Profile:
    with tempfile.TemporaryDirectory() as folder:
        return random_section(seed, Path(folder), most=6)


def _creases(part: Profile) -> tuple[Crease, ...]:
    return creases_of_profile(part, develop(part))


def _blank(crease: Crease) -> tuple[object, ...]:
    """All of a crease that belongs to the blank: everything but what the user wants held."""
    return astuple(replace(crease, hold=None))


def _by_label(schedule: Schedule) -> dict[str, Stage]:
    return {s.crease.label: s for s in schedule.stages}


def _require_blank(part: Profile, schedule: Schedule) -> None:
    """Creases are those of the part, and each stage's two lines measure out its blank from both edges."""
    creases, width = {c.label: c for c in _creases(part)}, develop(part).width
    stages = _by_label(schedule)
    assert stages.keys() == creases.keys()
    for label, stage in stages.items():
        assert _blank(stage.crease) == _blank(creases[label])
        for line in (stage.sight, stage.other):
            edge = line.from_datum if line.held == "first" else width - line.from_datum
            assert line.from_held_edge == pytest.approx(edge, abs=CLOSE)


@given(SEEDS, st.randoms(use_true_random=False))
@settings(max_examples=5)
def test_held_side_moves_the_line_by_allowance_less_twice_nose_and_offset(seed: int, rng: random.Random) -> None:
    """The other leg held: sight and other change places, all else of the blank stays."""
    part, usual = _part(seed), shop()
    creases = _creases(part)
    legs = {c.label: rng.choice((c.first.leg, c.second.leg)) for c in creases}
    swapped = {c.label: c.first.leg + c.second.leg - legs[c.label] for c in creases}
    one, two = (make_schedule(part, creases, usual, held=h) for h in (legs, swapped))
    reach = one.setup.clamp.nose_radius + one.setup.offset
    for schedule in (one, two):
        _require_blank(part, schedule)
    for label, stage in _by_label(one).items():
        other = _by_label(two)[label]
        assert stage.crease.side(stage.sight.held).leg == legs[label]
        assert other.crease.side(other.sight.held).leg == swapped[label]
        assert (stage.sight, stage.other) == (other.other, other.sight)
        far, near = sorted((stage.sight, stage.other), key=lambda s: s.held == "first")
        moved = stage.crease.allowance - 2 * reach
        assert far.from_datum - near.from_datum == pytest.approx(moved, abs=CLOSE)


@given(SEEDS, st.randoms(use_true_random=False))
@settings(max_examples=5)
def test_order_moves_nothing_while_the_held_sides_are_kept(seed: int, rng: random.Random) -> None:
    """Any order: the stages come in it, numbered from 1, with the same lines for the same held sides."""
    part, usual = _part(seed), shop()
    creases = _creases(part)
    plain = make_schedule(part, creases, usual)
    order = [c.label for c in creases]
    rng.shuffle(order)
    held = {s.crease.label: s.crease.side(s.sight.held).leg for s in plain.stages}
    other = make_schedule(part, creases, usual, held=held, order=order)
    assert [s.crease.label for s in other.stages] == order
    assert [s.number for s in other.stages] == list(range(1, len(order) + 1))
    assert {n: s.sight for n, s in _by_label(other).items()} == {n: s.sight for n, s in _by_label(plain).items()}
    _require_blank(part, make_schedule(part, creases, usual, order=order))


@given(SEEDS)
@settings(max_examples=5)
def test_set_up_and_stiffener_move_lines_by_the_nose_alone(seed: int) -> None:
    """Another nose moves each line by the difference of the radii, a stiffer leaf by nothing; the blank stays."""
    part, usual = _part(seed), shop()
    creases = _creases(part)
    plain, stiffened = usual.setups
    legs = {c.label: c.first.leg for c in creases}
    bolted = replace(plain, name="bolted", leaf=replace(stiffened.leaf))
    three = replace(usual, setups=(plain, stiffened, bolted))
    one, nose, leaf = (
        make_schedule(part, creases, three, name, held=legs) for name in ("plain", "stiffened", "bolted")
    )
    further = stiffened.clamp.nose_radius - plain.clamp.nose_radius
    assert further > 0
    for schedule in (one, nose, leaf):
        _require_blank(part, schedule)
    for label, stage in _by_label(one).items():
        assert _by_label(leaf)[label].sight == stage.sight
        moved = _by_label(nose)[label].sight.from_held_edge - stage.sight.from_held_edge
        assert moved == pytest.approx(further, abs=CLOSE)


def _with_setting(usual: Shop, setting: float) -> Shop:
    return replace(usual, setups=(replace(usual.setups[0], setting=setting),))


@given(SEEDS, st.floats(0.05, 10.0))
@settings(max_examples=5)
def test_nose_setting_changes_the_radius_formed_and_says_so(seed: int, further: float) -> None:
    """The nose farther back: no line moves, each circular radius grows; far enough from the asked one it is FG132.

    The caution or note names the bend wherever the range leaves the asked radius by more than half of it and half a
    thickness.
    """
    part, usual = _part(seed), shop()
    creases = _creases(part)
    start = make_schedule(part, creases, usual)
    if start.setting is None:
        return
    one = make_schedule(part, creases, _with_setting(usual, start.setting))
    two = make_schedule(part, creases, _with_setting(usual, start.setting + further))
    assert (one.setting, two.setting) == (start.setting, start.setting + further)
    _require_blank(part, two)
    told = " ".join(f.text for f in two.findings if f.code == "FG132")
    for label, stage in _by_label(one).items():
        other = _by_label(two)[label]
        assert (stage.sight, stage.needed, stage.least) == (other.sight, other.needed, other.least)
        if stage.radius is None or other.radius is None:
            assert stage.radius is other.radius is None
            continue
        assert other.radius.high > stage.radius.high
        asked = stage.crease.inside_radius
        if other.radius.high > 1.5 * asked + part.thickness / 2:
            assert f"bend {label}:" in told


@given(SEEDS, st.floats(0.05, 3.0))
@settings(max_examples=5)
def test_a_setting_under_the_least_is_said_to_crush(seed: int, nearer: float) -> None:
    """A caution FG131 for each bend whose least setting lies above the one in force, and for no other."""
    part, usual = _part(seed), shop()
    creases = _creases(part)
    least = [s.least for s in make_schedule(part, creases, usual).stages if s.least is not None]
    if not least:
        return
    schedule = make_schedule(part, creases, _with_setting(usual, max(least) - nearer))
    crushed = {s.crease.label for s in schedule.stages if s.least is not None and s.least > max(least) - nearer + CLOSE}
    told = [f for f in schedule.findings if f.code == "FG131" and "crush" in f.text]
    heads = [f.text.partition(":")[0].removeprefix("bends ").removeprefix("bend ") for f in told]
    assert {label for head in heads for label in head.split(", ")} == crushed != set()
    assert all(f.severity == "caution" for f in told)


@given(SEEDS, st.randoms(use_true_random=False))
@settings(max_examples=5)
def test_a_reference_leg_is_held_or_said_to_be_swung(seed: int, rng: random.Random) -> None:
    """It is swung only with FG139, one for each such bend; the order decides which side is held."""
    part = _part(seed)
    chosen = rng.randrange(len(part.legs))
    legs = tuple(replace(leg, reference=n == chosen) for n, leg in enumerate(part.legs))
    part = replace(part, legs=legs)
    assert part.reference_legs == (chosen,)
    schedule = make_schedule(part, _creases(part), shop())
    swung = []
    for stage in schedule.stages:
        crease = stage.crease
        if chosen not in (crease.first.leg, crease.second.leg):
            continue
        if crease.side(stage.sight.held).leg != chosen:
            swung.append(crease.label)
    told = [f for f in schedule.findings if f.code == "FG139"]
    assert len(told) == len(swung)
    assert all(any(f"bend {label}:" in f.text for f in told) for label in swung)


@given(SEEDS, st.randoms(use_true_random=False))
@settings(max_examples=5)
def test_hold_of_the_definition_forces_the_side_and_an_option_goes_before_it(seed: int, rng: random.Random) -> None:
    """Whatever else speaks against it, a reference leg too."""
    part = _part(seed)
    wanted = {b.label: rng.choice((b.first, b.second)) for b in part.bends}
    legs = tuple(replace(leg, reference=True) for leg in part.legs)
    part = replace(part, legs=legs, bends=tuple(replace(b, hold=wanted[b.label]) for b in part.bends))
    creases = _creases(part)
    for stage in make_schedule(part, creases, shop()).stages:
        assert stage.crease.side(stage.sight.held).leg == wanted[stage.crease.label]
    other = {b.label: b.first + b.second - wanted[b.label] for b in part.bends}
    for stage in make_schedule(part, creases, shop(), held=other).stages:
        assert stage.crease.side(stage.sight.held).leg == other[stage.crease.label]


@given(SEEDS)
@settings(max_examples=5)
def test_the_face_is_that_of_the_way(seed: int) -> None:
    """Up bends are lined on the near face, down bends on the far one, whichever side is held."""
    part = _part(seed)
    ways = {b.label: b.way for b in part.bends}
    for stage in make_schedule(part, _creases(part), shop()).stages:
        face = "near" if ways[stage.crease.label] == "up" else "far"
        assert (stage.sight.face, stage.other.face) == (face, face)


def test_what_is_not_there_is_refused() -> None:
    """A bend, a leg that is not beside it, a set-up: FG033. An order that leaves one out or has one twice: FG023."""
    part = _part(3)
    creases = _creases(part)
    labels = [c.label for c in creases]
    far = len(part.legs) + 1
    with pytest.raises(InputRefused, match="FG033"):
        make_schedule(part, creases, shop(), held={"no such": 0})
    with pytest.raises(InputRefused, match="FG033"):
        make_schedule(part, creases, shop(), held={labels[0]: far})
    with pytest.raises(InputRefused, match="FG033"):
        make_schedule(part, creases, shop(), "no such")
    for order in (labels[1:], [*labels, labels[0]]):
        with pytest.raises(InputRefused, match="FG023"):
            make_schedule(part, creases, shop(), order=order)


@pytest.mark.parametrize("name", [*USUAL, *(pytest.param(n, marks=pytest.mark.thorough) for n in MORE)])
def test_plan_of_the_definition_is_the_plan_of_its_unfolded_flat(name: str) -> None:
    """Two roads to the creases: arithmetic alone, and the metal of the flat that the solid was unfolded to.

    They agree in all but what only a flat knows: the two ends of each bend, and metal along it less openings.
    """
    from flatgen.jobs.draw import develop_solid

    part = read_profile(PROFILES / f"{name}.toml")
    flat = develop_solid(part).flat
    plain, found = _creases(part), creases_of_flat(part, flat)
    assert [c.label for c in plain] == [c.label for c in found]
    cut = bool(part.openings or part.cuts)
    for one, two in zip(plain, found, strict=True):
        assert (one.way, one.datum, one.hold, one.where) == (two.way, two.datum, two.hold, two.where)
        same = ("angle", "inside_radius", "allowance")
        assert [getattr(one, k) for k in same] == pytest.approx([getattr(two, k) for k in same], abs=CLOSE)
        if not part.cuts:
            for side in ("first", "second"):
                assert astuple(one.side(side)) == pytest.approx(astuple(two.side(side)), abs=CLOSE)
        assert two.extent <= one.extent + CLOSE
        if not cut:
            assert (two.length, two.extent) == pytest.approx((one.length, one.extent), abs=CLOSE)
    if cut:
        return
    by_sum, by_flat = (make_schedule(part, c, shop()) for c in (plain, found))
    assert by_sum.setting == pytest.approx(by_flat.setting, abs=CLOSE)
    assert {(f.code, f.where) for f in by_sum.findings} == {(f.code, f.where) for f in by_flat.findings}
    for one_stage, two_stage in zip(by_sum.stages, by_flat.stages, strict=True):
        assert one_stage.crease.label == two_stage.crease.label
        for line, other in ((one_stage.sight, two_stage.sight), (one_stage.other, two_stage.other)):
            assert (line.held, line.face) == (other.held, other.face)
            assert (line.from_datum, line.from_held_edge) == pytest.approx(
                (other.from_datum, other.from_held_edge), abs=CLOSE
            )
