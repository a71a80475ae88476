"""Findings of a schedule on a part whose sizes are worked by hand: what cannot be held, swung, reached, or is tight.

Two bends A and B of 90 degrees: t 1, r 2, K 0.42, so SB = 3 and BA = pi/2 2.42 = 3.8013; legs 13, 26, 60 to the mould
line have flats of 10, 20 and 57. Blank 10 + 3.8013 + 20 + 3.8013 + 57 = 94.6027.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from flatgen.bend_order.plan import make_schedule
from flatgen.brake import geometry
from flatgen.brake.creases import creases_of_profile, place_creases, remaining_face
from flatgen.brake.read_shop import read_shop
from flatgen.core.errors import Finding
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.metal.metals import load_metals
from tests.brake.shops import shop
from tests.places import ROOT

METALS = load_metals()
BA = math.pi / 2 * 2.42
TEXT = """units = "mm"
metal = "DC01"
thickness = 1
length = 300
inside_radius = 2
k = 0.42
section = [
  { leg = 13, name = "lip" }, { bend = 90, way = "up" },
  { leg = 26, name = "side" }, { bend = 90, way = "up" },
  { leg = 60, name = "web" },
]
"""


@pytest.fixture(scope="module")
def part(tmp_path_factory: pytest.TempPathFactory) -> Profile:
    path = tmp_path_factory.mktemp("part") / "part.toml"
    path.write_text(TEXT, encoding="utf-8")
    return read_profile(path, METALS)


def told(part: Profile, where: Shop, held: Mapping[str, int] | None = None) -> list[Finding]:
    return list(make_schedule(part, creases_of_profile(part, develop(part)), where, held=held).findings)


def of(found: list[Finding], code: str, *words: str) -> Finding:
    (one,) = [f for f in found if f.code == code and all(w in f.text for w in words)]
    return one


def machine(**changes: object) -> Shop:
    own = shop()
    return replace(own, brake=replace(own.brake, **changes))


def leaf(**changes: object) -> Shop:
    own = shop()
    setup = own.setups[0]
    return replace(own, setups=(replace(setup, leaf=replace(setup.leaf, **changes)),))


def test_a_usual_brake_has_nothing_of_this_to_say(part: Profile) -> None:
    assert not {f.code for f in told(part, shop())} & {"FG130", "FG131", "FG133", "FG134", "FG139"}


def test_flat_runs_on_through_bends_that_are_not_made_yet(part: Profile) -> None:
    """A first, then B: B swings the side, 20. B first: the side, the zone of A and the lip, 20 + 3.8013 + 10."""
    creases = {c.label: c for c in creases_of_profile(part, develop(part))}
    own = shop()
    inward = place_creases(part, [creases["A"], creases["B"]], own, own.setups[0])
    outward = place_creases(part, [creases["B"], creases["A"]], own, own.setups[0])
    assert [lay.crease.side(lay.held).leg for lay in (*inward, *outward)] == [1, 2, 2, 1]
    assert inward[0].held_flat == pytest.approx(20 + BA + 57)
    assert (inward[1].swung_flat, inward[1].held_flat) == pytest.approx((20, 57))
    assert (outward[0].swung_flat, outward[0].held_flat) == pytest.approx((20 + BA + 10, 57))
    assert (outward[1].swung_flat, outward[1].held_flat) == pytest.approx((10, 20))


def test_a_leg_too_short_to_swing_or_to_hold(part: Profile) -> None:
    swung = of(told(part, machine(least_swing=12.0), {"A": 1}), "FG130", "bend A", "on the leaf")
    assert (swung.severity, "10.00 mm" in swung.text, "12.00 mm" in swung.text) == ("caution", True, True)
    held = of(told(part, machine(least_hold=12.0), {"A": 0}), "FG130", "bend A", "under the nose")
    assert (held.severity, "10.00 mm" in held.text, "12.00 mm" in held.text) == ("caution", True, True)


def test_the_other_side_is_held_where_the_first_cannot_be(part: Profile) -> None:
    """The lip of 10 cannot be swung on a leaf that asks for 12, but it can be held: then the side swings."""
    creases = creases_of_profile(part, develop(part))
    stages = make_schedule(part, creases, machine(least_swing=12.0)).stages
    assert {s.crease.label: s.crease.side(s.sight.held).leg for s in stages} == {"A": 0, "B": 2}


def test_a_face_too_narrow(part: Profile) -> None:
    """R0 is under 2 and A0 over 90: the setback is about 3, a face of 4 leaves about 1 mm, less than 2 t."""
    one = of(told(part, leaf(face=4.0)), "FG130", "face of 4.0 mm")
    assert one.severity == "caution"
    assert "wider face" in one.remedy


def test_a_leaf_that_does_not_swing_far_enough(part: Profile) -> None:
    short = of(told(part, leaf(swing=80.0)), "FG133")
    assert (short.severity, "its largest is 80" in short.text) == ("caution", True)
    low = make_schedule(part, creases_of_profile(part, develop(part)), shop()).stages[0].loaded_angle
    assert of(told(part, leaf(swing=low + 0.05)), "FG133", "bend A:").severity == "note"


def test_a_part_longer_than_the_brake_or_deeper_than_its_throat(part: Profile) -> None:
    """Bend A with the side held: 20 + 3.8013 + 57 = 80.8013 of blank behind its tangent line, and the nose's 1.5."""
    long = of(told(part, machine(length=250.0)), "FG134", "300.0 mm")
    assert (long.severity, "250.0 mm" in long.text) == ("caution", True)
    deep = of(told(part, machine(throat=70.0), {"A": 1}), "FG134", "bend A:")
    assert (deep.severity, "82.3 mm" in deep.text, "70.0 mm" in deep.text) == ("caution", True, True)


def test_a_reference_leg_that_cannot_be_held_is_told(part: Profile) -> None:
    legs = (replace(part.legs[0], reference=True), *part.legs[1:])
    one = of(told(replace(part, legs=legs), machine(least_hold=12.0)), "FG139")
    assert (one.severity, '"lip"' in one.text) == ("note", True)


def test_room_on_the_face_where_the_hinge_is_off_the_corner() -> None:
    """Hinge (0.3, 0.5), drop 0.4, 60 degrees. The foot of the axis on the face lies 0.9 from it, at
    (0.3 + 0.9 sin 60, 0.5 - 0.9 cos 60) = (1.07942, 0.05); the corner at (1.05056, 0) is, along (cos 60, sin 60),
    -0.02887 0.5 - 0.05 0.86603 = -0.05774 from it. A face of 40 and a setback of (2 + 1) tan 30 = 1.73205 leave
    40 + 0.05774 - 1.73205."""
    assert geometry.corner_on_leaf((0.3, 0.5), 0.4, 60) == pytest.approx(-0.05774, abs=1e-5)
    own = leaf(drop=0.4)
    brake = replace(own.brake, hinge=(0.3, 0.5))
    assert remaining_face(60, 2, 1, own.setups[0], brake) == pytest.approx(40 + 0.05774 - 1.73205, abs=1e-5)


@pytest.mark.parametrize(
    ("corner", "sign"), [("top rear", 1), ("top front", -1), ("bottom rear", -1), ("bottom front", 1)]
)
def test_which_way_an_angle_of_the_shop_file_stands(tmp_path: Path, corner: str, sign: int) -> None:
    """The legs leave the corner: from the top rear one runs to the front at the top, one down at the rear, so metal
    lies where x and y have one sign: ixy > 0. Loaded upward it gives way sideways too, and which way depends on it."""
    text = (ROOT / "flatgen" / "brake" / "start_shop.toml").read_text("utf-8")
    assert '"top rear"' in text
    path = tmp_path / "shop.toml"
    path.write_text(text.replace('corner = "top rear"', f'corner = "{corner}"'), encoding="utf-8")
    beam = read_shop(path).setups[0].leaf.beam
    assert beam is not None
    assert beam.section.ixy * sign > 0


@pytest.mark.parametrize(("web", "wider"), [("rear", "ix"), ("front", "ix"), ("top", "iy"), ("bottom", "iy")])
def test_which_way_a_channel_of_the_shop_file_stands(tmp_path: Path, web: str, wider: str) -> None:
    """Square outside, 60 x 60 x 8: an upright web with both flanges far from the middle is stiffer against loads up
    and down (ix), a level one against loads sideways (iy)."""
    text = (ROOT / "flatgen" / "brake" / "start_shop.toml").read_text("utf-8")
    text = text.replace('section = "angle" ', 'section = "channel" ').replace('corner = "top rear"', f'web = "{web}"')
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    beam = read_shop(path).setups[0].leaf.beam
    assert beam is not None
    assert (beam.section.ix > beam.section.iy) == (wider == "ix")
    assert beam.section.ixy == 0


def test_a_metal_whose_strength_is_not_known_gets_its_lines_and_no_leaf_angle(part: Profile) -> None:
    """Lines need nose and allowance only: the same as with strengths. All else is told as not checked."""
    creases = creases_of_profile(part, develop(part))
    unknown = replace(part, metal=replace(part.metal, figures=()))
    known, bare = make_schedule(part, creases, shop()), make_schedule(unknown, creases, shop())
    assert [s.sight for s in bare.stages] == [s.sight for s in known.stages]
    assert all(s.springback is None and s.leaf_angle is None and s.load is None for s in bare.stages)
    one = of(list(bare.findings), "FG138", "springback and load were not checked")
    assert "DC01" in one.text
    assert not any("springback and load were not checked" in f.text for f in known.findings)
