"""``hold`` and ``reference`` of a definition: which leg lies under the clamp bar. Neither changes the blank."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatgen.core.errors import InputRefused
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.metal.metals import load_metals

METALS = load_metals()
TEXT = """units = "mm"
metal = "DC01"
thickness = 1
length = 300
inside_radius = 2
section = [
  {{ leg = 20, name = "lip"{lip} }},
  {{ bend = 90, way = "up"{bend} }},
  {{ leg = 60, name = "web"{web} }},
  {{ bend = 90, way = "up" }},
  {{ leg = 20, name = "lip" }},
]
"""


def read(folder: Path, *, lip: str = "", bend: str = "", web: str = "") -> Profile:
    path = folder / "part.toml"
    path.write_text(TEXT.format(lip=lip, bend=bend, web=web), encoding="utf-8")
    return read_profile(path, METALS)


def test_left_out_they_say_nothing(tmp_path: Path) -> None:
    part = read(tmp_path)
    assert part.reference_legs == ()
    assert [b.hold for b in part.bends] == [None, None]


@pytest.mark.parametrize(("written", "leg"), [('"web"', 1), ("2", 1), ("1", 0), ('"lip"', 0)])
def test_a_leg_is_held_by_name_or_number(tmp_path: Path, written: str, leg: int) -> None:
    assert read(tmp_path, bend=f", hold = {written}").bends[0].hold == leg


@pytest.mark.parametrize("written", ['"side"', "3", "0", "-1", '""'])
def test_a_leg_that_is_not_beside_the_bend_is_refused(tmp_path: Path, written: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, bend=f", hold = {written}")
    (fault,) = refused.value.faults
    assert fault.code == "FG023"
    assert "part.toml:8" in fault.where
    assert "hold = " in fault.remedy


@pytest.mark.parametrize("written", ["true", "[1]", "1.5", "{}"])
def test_what_is_no_leg_is_refused(tmp_path: Path, written: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, bend=f", hold = {written}")
    assert refused.value.faults[0].code == "FG005"


def test_the_leg_whose_dimension_matters(tmp_path: Path) -> None:
    assert read(tmp_path, web=", reference = true").reference_legs == (1,)
    assert read(tmp_path, web=", reference = false").reference_legs == ()
    with pytest.raises(InputRefused):
        read(tmp_path, web=', reference = "yes"')


def test_the_blank_and_its_allowances_stay(tmp_path: Path) -> None:
    plain = read(tmp_path)
    asked = read(tmp_path, bend=", hold = 2", lip=", reference = true")
    assert develop(asked) == develop(plain)
    assert [b.allowance for b in asked.bends] == [b.allowance for b in plain.bends]
