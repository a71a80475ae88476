"""What strips told put to use for a part: figures worked out by hand from the simulated brake's own truth."""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import flatgen
from flatgen.brake.read_shop import read_shop
from flatgen.core.errors import InputRefused
from flatgen.core.shop import SetUp
from flatgen.definition.closed_form import develop
from flatgen.definition.reader import read_profile
from flatgen.jobs.check import check_definition
from flatgen.jobs.draw import metals_beside
from flatgen.jobs.plan import PlanResult, plan
from flatgen.jobs.result import Options
from flatgen.metal.allowance import method_named
from flatgen.metal.metals import load_metals
from flatgen.paper.shop_sheet.proof import proof_lines
from flatgen.paper.shop_sheet.rows import expected_tables
from flatgen.strips.learning.knowledge import knowledge_of
from flatgen.strips.learning.priors import prior_for
from flatgen.strips.log import append, read_log, withdraw
from tests.simulated_brake import HERE, RAIL, Truth, finished, furnish, learn_strips

EXACT = replace(Truth(), error=0.005, angle_error=0.02)
"""The same brake, measured twenty times as well: figures by hand are met closely."""
R, T = 3.175, 1.016
QUARTER = math.pi / 2


def planned(room: Path) -> PlanResult:
    return plan(room / RAIL, metals_beside(room / RAIL)[0])


def rail(**changes: str) -> str:
    """The definition with keys of its head added."""
    text = (HERE / RAIL).read_text("utf-8")
    return text.replace('dimensions = "mould-line"\n', 'dimensions = "mould-line"\n' + "".join(changes.values()))


@pytest.fixture(scope="module")
def taught_room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rail with four strips measured closely."""
    room = furnish(tmp_path_factory.mktemp("taught"))
    learn_strips(room, EXACT, 4)
    return room


def test_the_blank_keeps_the_radius_asked_for(taught_room: Path) -> None:
    """By hand, at 90 degrees: deduction = 2 (R + t) - (pi/2)(R + K t) of what is bent, t by micrometer; the drawing's
    setback is that of r 3.175 and t 1.016, so the allowance is 2 (3.175 + 1.016) - deduction."""
    deduction = 2 * (EXACT.radius + EXACT.thickness) - QUARTER * (EXACT.radius + EXACT.k * EXACT.thickness)
    found = planned(taught_room).profile
    for bend in found.bends:
        assert bend.inside_radius == R
        assert bend.allowance.length == pytest.approx(2 * (R + T) - deduction, abs=0.06)
        assert bend.allowance.method == "measured, from 16 bends on 4 strips"
    legs = 2 * 18 + 2 * 38.1 + 62
    assert develop(found).width == pytest.approx(legs - 4 * deduction, abs=0.2)


def test_lines_move_by_what_was_learned(taught_room: Path) -> None:
    """By hand: the held leg comes out long by (R + t) - (r + t) = 0.2 and 0.01 mm, its line takes that back:
    line = held flat + nose + e - 0.21."""
    made = planned(taught_room).schedule
    for stage in made.stages:
        held = stage.crease.side(stage.sight.held).reach
        expected = held + EXACT.nose + EXACT.offset - (EXACT.radius - R) - (EXACT.thickness - T)
        assert stage.sight.from_held_edge == pytest.approx(expected, abs=0.06)
        other = stage.crease.side(stage.other.held).reach
        line, edge = stage.other.from_held_edge, stage.sight.from_held_edge
        assert line - other == pytest.approx(edge - held, abs=1e-9)


def test_leaf_angles_are_those_of_this_sheet(taught_room: Path, tmp_path: Path) -> None:
    before = {s.crease.label: s for s in planned(furnish(tmp_path)).schedule.stages}
    for stage in planned(taught_room).schedule.stages:
        assert stage.leaf_angle is not None
        old = before[stage.crease.label].leaf_angle
        assert old is not None
        true = EXACT.leaf(90.0, stage.arm)
        assert stage.leaf_angle.low - 0.1 < true < stage.leaf_angle.high + 0.1
        assert stage.leaf_angle.high - stage.leaf_angle.low < 0.8 * (old.high - old.low)


def test_the_nose_stays_where_the_strips_had_it(taught_room: Path, tmp_path: Path) -> None:
    by_formula = planned(furnish(tmp_path)).schedule.setting
    made = planned(taught_room).schedule
    assert made.setting == pytest.approx(by_formula, abs=0.05)
    assert made.setting_from == "that of the strips"
    assert made.shop.learned == json_of(taught_room)["schedule"]["shop"]["strips"]


def json_of(room: Path) -> dict[str, Any]:
    flatgen.draw(room / RAIL, room / "out", Options(kinds=("json",)))
    found: dict[str, Any] = json.loads((room / "out" / "roof-rail.json").read_text("utf-8"))
    return found


def test_a_brake_that_springs_more_moves_the_nose_and_settles(tmp_path: Path) -> None:
    """Springback of 12 %: the setting asked for by hand, (R0 + t) tan(A0/2) - Rn with R0 = (r + t/2) 90/A0 - t/2, is
    that of the strips, or the plan's own where those would crush the sheet; either way lines are for it."""
    truth = replace(EXACT, share=0.12, bow=0.0)
    room = furnish(tmp_path)
    learn_strips(room, truth, 4)
    done = planned(room)
    assert not [f for f in done.findings if f.code in ("FG131", "FG158") and f.severity == "caution"]
    for stage in done.schedule.stages:
        known = stage.crease.known
        assert known is not None
        assert stage.setting == pytest.approx(known.nose_setting, abs=0.1)


@pytest.mark.parametrize("workshops", [4, pytest.param(12, marks=pytest.mark.thorough)])
def test_finished_legs_lie_in_their_intervals(tmp_path: Path, workshops: int) -> None:
    """Workshops with two strips each: of 60 legs without scatter at least 57 lie in the 95 % of pieces (of 20 at least
    19), and no interval is so wide that it says nothing (1.5 mm)."""
    rng, inside, count = np.random.default_rng(3), 0, 0
    for n in range(workshops):
        truth = Truth(
            k=float(rng.uniform(0.36, 0.48)),
            radius=R + float(rng.normal(0, 0.1)),
            thickness=T + float(rng.normal(0, 0.01)),
            offset=float(rng.normal(0, 0.5)),
            share=float(rng.uniform(0.02, 0.05)),
        )
        room = tmp_path / str(n)
        room.mkdir()
        learn_strips(furnish(room), truth, 2, seed=n)
        made = planned(room)
        expected = made.schedule.expected
        assert expected is not None
        assert (expected.bends, expected.strips) == (8, 2)
        arms = {s.crease.label: s.arm for s in made.schedule.stages}
        legs = finished(truth, json_of(room), arms)
        for leg, got in zip(expected.legs, legs, strict=True):
            inside += leg.low <= got <= leg.high
            count += 1
            assert 0.1 < leg.high - leg.low < 1.5
        assert expected.chance is not None
        assert 0 < expected.chance <= 1
        assert expected.do in ("cut", "strip")
    assert count == 5 * workshops
    assert inside >= 0.95 * count


def test_deflection_is_put_back(taught_room: Path) -> None:
    """By hand: with an angle less by d a swung end is shorter by d ((r + t) - (r + K t)) = d t (1 - K), a held one by
    d (r + t), the setback's growth at 90 degrees; all three as they truly are."""
    made = planned(taught_room).schedule
    assert made.expected is not None
    loss = {s.crease.label: math.radians(s.load.loss or 0.0) for s in made.stages if s.load is not None}
    held = {s.crease.label: s.crease.side(s.sight.held).leg for s in made.stages}
    assert min(loss.values()) > 0
    back = EXACT.radius + EXACT.thickness
    for n, leg in enumerate(made.expected.legs):
        ends = [label for k, label in enumerate("ABCD") if n in (k, k + 1)]
        shorter = sum(loss[e] * (back if held[e] == n else EXACT.thickness * (1 - EXACT.k)) for e in ends)
        assert leg.at_end - leg.at_middle == pytest.approx(shorter, rel=0.1)
    for bend in made.expected.angles:
        assert math.radians(bend.at_end - bend.at_middle) == pytest.approx(loss[bend.label], rel=0.1)
        assert bend.at_end == pytest.approx(90, abs=0.01)


def test_no_log_leaves_all_as_it_was_and_loads_nothing(tmp_path: Path) -> None:
    room = furnish(tmp_path)
    done = planned(room)
    assert done.schedule.expected is None
    assert done.schedule.shop.learned == ""
    plain = read_profile(room / RAIL, metals_beside(room / RAIL)[0])
    assert done.profile == plain
    assert "expected" not in json_of(room)["schedule"]
    text = (
        "import sys; from pathlib import Path; from flatgen.jobs.plan import plan; "
        f"from flatgen.jobs.draw import metals_beside; p = Path({str(room / RAIL)!r}); plan(p, metals_beside(p)[0]); "
        "print([m for m in sys.modules if m in ('flatgen.strips.learning.model', 'flatgen.strips.log', 'scipy')])"
    )
    ran = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_measured_is_refused_where_nothing_was(tmp_path: Path) -> None:
    room = furnish(tmp_path, rail(own='allowance = "Measured"\n'))
    for use in (lambda: planned(room), lambda: check_definition(room / RAIL, load_metals()), lambda: json_of(room)):
        with pytest.raises(InputRefused) as told:
            use()
        assert [f.code for f in told.value.faults] == ["FG024"] * 4
        assert "strip" in told.value.faults[0].remedy
        assert f"{RAIL}:" in told.value.faults[0].where
    with pytest.raises(InputRefused):
        read_profile(room / RAIL)


def test_measured_by_name_is_measured_by_default(taught_room: Path, tmp_path: Path) -> None:
    room = furnish(tmp_path, rail(own='allowance = "measured"\n'))
    append(Path(read_shop(room / "shop.toml").strips), read_log(taught_room / "strips.jsonl").readings)
    assert planned(room).profile.bends[0].allowance == planned(taught_room).profile.bends[0].allowance
    assert check_definition(room / RAIL, load_metals()).profile.bends[0].allowance_source == "asked"


@pytest.mark.parametrize("given", ["k = 0.4\n", 'method = "aviation"\n', 'allowance = "5.6 mm"\n'])
def test_what_is_given_stays_with_a_note(taught_room: Path, tmp_path: Path, given: str) -> None:
    room = furnish(tmp_path, rail(own=given))
    append(Path(read_shop(room / "shop.toml").strips), read_log(taught_room / "strips.jsonl").readings)
    done = planned(room)
    plain = read_profile(room / RAIL, load_metals())
    assert [b.allowance for b in done.profile.bends] == [b.allowance for b in plain.bends]
    notes = [f for f in done.findings if f.code == "FG158"]
    assert len(notes) == 4
    assert all(f.severity == "note" and "from 16 bends on 4 strips" in f.text for f in notes)


def test_another_radius_has_its_metals_way_and_the_brakes_offset(taught_room: Path, tmp_path: Path) -> None:
    """No strip told of r 2.5 mm; the offset is the brake's. By hand: line = held flat + nose + 0.7, give or take the
    radius that the strips cannot know."""
    text = (HERE / RAIL).read_text("utf-8").replace('"1/8 in"', '"2.5 mm"')
    shop = (HERE / "shop.toml").read_text("utf-8").replace('name = "plain"', 'name = "plain"\nsetting = "2.8 mm"')
    room = furnish(tmp_path, text)
    (room / "shop.toml").write_text(shop, "utf-8")
    append(Path(read_shop(room / "shop.toml").strips), read_log(taught_room / "strips.jsonl").readings)
    done = planned(room)
    assert {b.allowance.method for b in done.profile.bends} == {
        b.allowance.method for b in read_profile(room / RAIL, load_metals()).bends
    }
    for stage in done.schedule.stages:
        held = stage.crease.side(stage.sight.held).reach
        assert stage.sight.from_held_edge - held - EXACT.nose == pytest.approx(EXACT.offset, abs=0.15)
    assert done.schedule.expected is not None
    assert done.schedule.expected.bends == 0


def test_what_does_not_settle_is_told(taught_room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from flatgen.strips.learning import apply as measured

    monkeypatch.setattr(measured, "plan_agrees", lambda *_: False)
    told = [f for f in planned(taught_room).findings if f.code == "FG158"]
    assert [f.severity for f in told] == ["caution"]
    assert "after 2 developments" in told[0].text


def test_radii_that_the_brake_gives_and_strips(taught_room: Path, tmp_path: Path) -> None:
    """``--as-formed`` first, then strips: no strip has the radius of 1.8 mm that comes out in place of 1.2 mm."""
    room = furnish(tmp_path, (HERE / RAIL).read_text("utf-8").replace('"1/8 in"', '"1.2 mm"'))
    append(Path(read_shop(room / "shop.toml").strips), read_log(taught_room / "strips.jsonl").readings)
    done = plan(room / RAIL, load_metals(), re_formed=True)
    assert all(b.inside_radius > 1.3 for b in done.profile.bends)
    assert len([f for f in done.findings if f.code == "FG132" and "drawn with the inside radius" in f.text]) == 4
    assert done.schedule.expected is not None


def test_withdrawn_strips_teach_nothing(taught_room: Path, tmp_path: Path) -> None:
    room = furnish(tmp_path)
    log = Path(read_shop(room / "shop.toml").strips)
    added = append(log, read_log(taught_room / "strips.jsonl").readings).added
    for entry in added:
        withdraw(log, entry.digest, "the clamp slipped")
    assert planned(room).schedule.expected is None


def test_a_damaged_log_is_told(taught_room: Path, tmp_path: Path) -> None:
    room = furnish(tmp_path)
    lines = (taught_room / "strips.jsonl").read_bytes()
    (room / "strips.jsonl").write_bytes(lines + b"{no line}\n")
    assert [f.code for f in planned(room).findings if f.code == "FG150"] == ["FG150"]
    (room / "strips.jsonl").write_bytes(b"{no line}\n")
    alone = planned(room)
    assert [f.code for f in alone.findings if f.code == "FG150"] == ["FG150"]
    assert alone.schedule.expected is None
    assert [b.allowance for b in alone.profile.bends] == [b.allowance for b in read_profile(room / RAIL).bends]


def test_all_roads_have_one_blank(taught_room: Path) -> None:
    """The closed form of ``check`` and ``plan``, the unfolded solid of ``draw``, the sum of the proof line."""
    record = json_of(taught_room)
    short = check_definition(taught_room / RAIL, load_metals())
    assert develop(short.profile).width == pytest.approx(record["blank"]["width"], abs=1e-9)
    assert short.expected == planned(taught_room).schedule.expected
    assert record["bends"][0]["method"] == "measured, from 16 bends on 4 strips"
    drawn = flatgen.draw(taught_room / RAIL, taught_room / "out", Options(kinds=("json",)))
    rows = [r for r in proof_lines(drawn.part, drawn.flat) if r.kind == "allowance"]
    assert rows[0].source.startswith("measured, from 16 bends on 4 strips: strips of strips.jsonl, 95 % within ±0.")
    assert drawn.schedule is not None
    legs, bends = expected_tables(drawn.schedule)
    assert [row[0] for row in legs.rows] == ["left lip", "left side", "web", "right side", "right lip"]
    assert len(bends.rows) == 4
    assert expected_tables(replace(drawn.schedule, expected=None)) == ()


def test_a_received_part_has_its_lines_by_strips(taught_room: Path) -> None:
    from flatgen.jobs import unfold as incoming
    from flatgen.unfolding.received.request import Request

    flatgen.draw(taught_room / RAIL, taught_room / "out", Options(kinds=("step",)))
    metal = load_metals()["6061-T6"]
    with incoming.keeper() as keeper:
        found = incoming.receive(taught_room / "out" / "roof-rail.formed.step", Request(metal, step=False), keeper)
        taken = incoming.draw_received(found[0], taught_room / "got", Options(kinds=("json",)), taught_room)
    assert taken.schedule is not None
    for stage in taken.schedule.stages:
        held = stage.crease.side(stage.sight.held).reach
        expected = held + EXACT.nose + EXACT.offset - (EXACT.radius - R) - (EXACT.thickness - T)
        assert stage.sight.from_held_edge == pytest.approx(expected, abs=0.06)
    notes = [f for f in taken.findings if f.code == "FG158"]
    assert notes
    assert all("--k 0.4" in f.remedy for f in notes)
    (taught_room / "rail.step").write_bytes((taught_room / "out" / "roof-rail.formed.step").read_bytes())
    with incoming.keeper() as keeper:
        again = incoming.receive(taught_room / "rail.step", Request(metal, step=False), keeper, Options())
        better = incoming.draw_received(again[0], taught_room / "got", Options(kinds=("json",)), taught_room)
    assert isinstance(better, incoming.ReceivedResult)
    assert better.flat.width == pytest.approx(json_of(taught_room)["blank"]["width"], abs=1e-6)
    assert {b.allowance.method for b in better.received.bends} == {"measured, from 16 bends on 4 strips"}
    assert not [f for f in better.findings if f.code == "FG158"]


def test_the_prior_is_that_of_the_workshop() -> None:
    shop, metals = read_shop(HERE / "shop.toml"), load_metals()
    offset: SetUp = replace(shop.setups[0], offset=0.4)
    prior = prior_for(replace(shop, setups=(offset, *shop.setups[1:])), metals)
    assert prior.offsets == {"plain": 0.4, "stiffened": 0.0, "large nose": 0.0}
    name = metals["6061-T6"].default_method
    assert name is not None
    assert prior.methods["6061-T6"] == method_named(name)
    (alpha, wide), (beta, half) = prior.springback["6061-T6"]
    assert 0.01 < alpha < 0.06
    assert wide >= 0.015
    assert beta == half > 0


def test_thirty_strips_are_learned_in_no_time(taught_room: Path) -> None:
    """Under 0.3 s, as the task asks; the best of three, since other processes run too."""
    room_shop = read_shop(taught_room / "shop.toml")
    metals = load_metals()
    lessons = knowledge_of(room_shop, metals)
    assert lessons is not None
    from flatgen.strips.learning.model import learn

    many = [replace(lessons.readings[n % 4], name=f"strip {n}") for n in range(30)]
    prior = prior_for(room_shop, metals)
    best = math.inf
    for _ in range(3):
        begun = time.perf_counter()
        learn(many, prior)
        best = min(best, time.perf_counter() - begun)
    assert best < 0.3
