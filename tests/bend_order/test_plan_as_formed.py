"""The flat for the radius that a brake gives: by hand where the metal does not spring back, else by its own rule."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import InputRefused
from flatgen.core.schedule import Schedule
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.reader import read_profile
from flatgen.jobs.draw import as_formed
from flatgen.metal.metals import load_metals
from tests.brake.shops import shop

METALS = load_metals()
HEAD = 'units = "mm"\nmetal = "6061-T6"\nthickness = 1\nlength = 300\ninside_radius = 2\n{head}'
SECTION = 'section = [\n{{ leg = 40, name = "left" }},\n{{ bend = 90, way = "up"{bend} }},\n{{ leg = 60 }},\n]\n'


def definition(folder: Path, head: str = "", bend: str = "") -> Path:
    path = folder / "angle.toml"
    path.write_text(HEAD.format(head=head) + SECTION.format(bend=bend), encoding="utf-8")
    return path


def with_nose(radius: float, setting: float | None = None) -> Shop:
    own = shop()
    setup = own.setups[0]
    return replace(own, setups=(replace(setup, clamp=replace(setup.clamp, nose_radius=radius), setting=setting),))


def test_a_nose_too_large_gives_its_own_radius_and_the_blank_follows(tmp_path: Path) -> None:
    """Release keeps the arc at mid thickness: (r + 0.5) 90 = (Rn + 0.5) A0, and the springback of the finished r gives
    that A0. K = 0.42: each mm of radius changes a 90 degree deduction by 2 - pi/2."""
    path = definition(tmp_path, "k = 0.42\n")
    asked = read_profile(path, METALS)
    formed, fast = as_formed(path, asked, METALS, with_nose(4.0))
    radius = formed.bends[0].inside_radius
    schedule = planned_with(path, fast, radius)
    assert (radius + 0.5) * 90 == pytest.approx((4.0 + 0.5) * schedule.stages[0].loaded_angle, abs=1e-6)
    assert radius > 4.0
    grown = develop(asked).width - develop(formed).width
    assert grown == pytest.approx((2 - 3.141592653589793 / 2) * (radius - 2), abs=1e-9)
    assert any(f.code == "FG132" and "in place of 2 mm" in f.text for f in formed.findings)


def planned_with(path: Path, fast: Shop, radius: float) -> Schedule:
    part = read_profile(path, METALS, {"A": radius})
    schedule = make_schedule(part, creases_of_profile(part, develop(part)), fast)
    gives = schedule.stages[0].radius
    assert gives is not None
    assert gives.low - 1e-6 <= radius <= gives.high + 1e-6
    return schedule


def test_a_setting_too_small_gives_the_smaller_radius(tmp_path: Path) -> None:
    """Nose 1, setting 1: no more than a nose's worth of radius at 90, so the asked 2 comes down, not under the nose."""
    path = definition(tmp_path, "k = 0.42\n")
    formed, _ = as_formed(path, read_profile(path, METALS), METALS, with_nose(1.0, 1.2))
    assert 1.0 < formed.bends[0].inside_radius < 2.0


def test_a_radius_within_reach_stays(tmp_path: Path) -> None:
    path = definition(tmp_path)
    formed, _ = as_formed(path, read_profile(path, METALS), METALS, with_nose(1.5))
    assert formed.bends[0].inside_radius == 2.0
    assert formed.fingerprint == read_profile(path, METALS).fingerprint


@pytest.mark.parametrize(
    ("head", "bend"), [("deduction = 3.5\n", ""), ("", ', deduction = "3.5 mm"'), ("", ", allowance = 4")]
)
def test_a_deduction_for_another_radius_is_refused(tmp_path: Path, head: str, bend: str) -> None:
    path = definition(tmp_path, head, bend)
    with pytest.raises(InputRefused) as refused:
        as_formed(path, read_profile(path, METALS), METALS, with_nose(4.0))
    assert [f.code for f in refused.value.faults] == ["FG024"]
    assert "2 mm" in str(refused.value)
