"""The formed solid with openings and cuts: volumes by closed forms and by integration coded apart, refusals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flatgen.core.errors import InputRefused
from flatgen.definition.model import Cut, Opening, Place, Profile
from flatgen.definition.reader import read_profile
from flatgen.definition.section import trace
from flatgen.definition.solid.counterparts import allowance_rule, attach_names, definition_view, openings_in_flat
from flatgen.definition.solid.cutting import build_solid
from flatgen.definition.solid.places import overlap_findings
from flatgen.jobs import draw as job

WEB, FLANGE, R, T, LENGTH = 60.0, 30.0, 3.0, 1.5, 200.0
FLAT = WEB - 2 * (R + T)
"""Flat of the web of the channel: mould-line 60 less two setbacks of r + t at right angles, by hand."""
CHANNEL = f"""metal = "DC01"
units = "mm"
thickness = {T}
inside_radius = {R}
length = {LENGTH}
section = [{{ leg = {FLANGE}, name = "left" }}, {{ bend = 90, way = "up" }}, {{ leg = {WEB}, name = "web" }},
  {{ bend = 90, way = "up" }}, {{ leg = {FLANGE}, name = "right" }}]
"""
Make = Callable[..., Profile]


@pytest.fixture
def channel(tmp_path: Path) -> Make:
    def make(openings: tuple[Opening, ...] = (), cuts: tuple[Cut, ...] = (), text: str = CHANNEL) -> Profile:
        path = tmp_path / "channel.toml"
        path.write_text(text, encoding="utf-8")
        row = tuple(replace(o, entry=n) for n, o in enumerate(openings))
        return replace(read_profile(path), openings=row, cuts=cuts, fingerprint="")

    return make


def at(across: float, along: float, leg: int = 1, **more: Any) -> Place:
    """A place measured from the left mould line and the bottom end."""
    return replace(Place(leg, across, "left", along, "bottom", "mould-line"), **more)


def round_hole(across: float, along: float, diameter: float, leg: int = 1, **more: Any) -> Opening:
    return Opening(at(across, along, leg), "round", diameter, diameter, **more)


def sound(solid: Any) -> bool:
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(solid.wrapped).IsValid())


def section_area() -> float:
    """By hand: flats of both flanges and the web, two quarter rings."""
    return T * (2 * (FLANGE - R - T) + FLAT) + 2 * math.pi / 4 * ((R + T) ** 2 - R**2)


def taken(profile: Profile) -> float:
    """Volume that openings and cuts took, of a solid that is sound, integrated until it settles [mm3]."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    solid, _ = build_solid(profile)
    assert sound(solid)
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid.wrapped, props, 1e-10, False, False)
    return section_area() * LENGTH - float(props.Mass())


def refused(profile: Profile) -> str:
    with pytest.raises(InputRefused) as caught:
        build_solid(profile)
    assert {f.code for f in caught.value.faults} == {"FG043"}
    assert all(f.remedy for f in caught.value.faults)
    return str(caught.value)


def test_clear_openings_of_each_shape_take_their_area_times_the_thickness(channel: Make) -> None:
    slot = Opening(at(30, 60), "slot", 20.0, 6.0, turn=30.0)
    window = Opening(at(30, 100), "rectangle", 20.0, 12.0, corner_radius=2.0, turn=-20.0)
    sharp = Opening(at(15, 100, leg=2), "rectangle", 5.0, 8.0)
    area = math.pi * 16 + (14 * 6 + math.pi * 9) + (20 * 12 - (4 - math.pi) * 4) + 40
    profile = channel((round_hole(30, 20, 8), slot, window, sharp))
    assert taken(profile) == pytest.approx(area * T, rel=1e-9)


def test_clear_openings_reach_the_flat_where_a_hand_formula_puts_them(channel: Make) -> None:
    """Flat x = flange flat + allowance + mould-line place - setback; the far flange one bend farther."""
    profile = channel((round_hole(20, 40, 8), round_hole(12, 70, 5, leg=2), round_hole(11, 90, 4, leg=0)))
    flat = job.develop_solid(profile).flat
    allowance = profile.bends[0].allowance.length
    first = FLANGE - R - T + allowance
    expected = [(first + 20 - R - T, 40), (first + FLAT + allowance + 12 - R - T, 70), (11, 90)]
    homes = openings_in_flat(flat, profile, trace(profile))
    assert len(flat.openings) == 3
    for home, (x, y), d in zip(homes, expected, (8, 5, 4), strict=True):
        assert home.centre == pytest.approx((x, y), abs=1e-6)
        assert home.flat is not None
        (arc,) = flat.openings[home.flat].pieces
        assert arc.centre == pytest.approx((x, y), abs=1e-6)  # type: ignore[union-attr]
        assert arc.radius == pytest.approx(d / 2, abs=1e-9)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("across_from", "along_from", "dimensions", "expected"),
    [
        ("left", "bottom", "mould-line", (20 - R - T, 30)),
        ("right", "top", "mould-line", (FLAT - (20 - R - T), LENGTH - 30)),
        ("left", "bottom", "inside", (20 - R, 30)),
        ("right", "middle", "inside-overall", (FLAT - (20 - R), LENGTH / 2 + 30)),
        ("middle", "middle", "overall", (FLAT / 2 + 20, LENGTH / 2 + 30)),
    ],
)
def test_places_are_measured_from_the_line_that_is_named(
    channel: Make, across_from: Any, along_from: Any, dimensions: Any, expected: tuple[float, float]
) -> None:
    from flatgen.definition.solid.places import point_in_frame

    profile = channel()
    place = Place(1, 20.0, across_from, 30.0, along_from, dimensions)
    assert point_in_frame(profile, trace(profile), place) == pytest.approx(expected, abs=1e-9)


def test_overlapping_openings_are_one_hole_and_said_so(channel: Make) -> None:
    """Two circles of r 5, 6 apart: the lens is 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2)."""
    lens = 2 * 25 * math.acos(0.6) - 3 * math.sqrt(100 - 36)
    profile = channel((round_hole(30, 50, 10), round_hole(30, 56, 10), round_hole(30, 90, 10)))
    assert taken(profile) == pytest.approx((3 * math.pi * 25 - lens) * T, rel=1e-7)
    (note,) = overlap_findings(profile, trace(profile))
    assert note.code == "FG108"
    assert "opening 1 and opening 2 overlap" in note.text
    flat = job.develop_solid(profile).flat
    one, two, three = openings_in_flat(flat, profile, trace(profile))
    assert one.flat == two.flat != three.flat
    assert None not in (one.flat, three.flat)


@pytest.mark.parametrize(("gap", "word"), [(0.0, "touches"), (5e-4, "web of 0.0005 mm"), (-5e-4, "touches")])
def test_openings_that_just_touch_are_refused_by_both_names(channel: Make, gap: float, word: str) -> None:
    said = refused(channel((round_hole(30, 50, 10), round_hole(30, 60 + gap, 10))))
    assert word in said
    assert "opening 1" in said
    assert "opening 2" in said


def test_slots_that_just_touch_are_refused_and_a_web_is_not(channel: Make) -> None:
    def pair(gap: float) -> Profile:
        slot = Opening(at(30, 50), "slot", 20.0, 6.0, turn=90.0)
        return channel((slot, Opening(at(30, 75 + gap), "rectangle", 8.0, 30.0)))

    assert "opening 2" in refused(pair(0.0))
    assert taken(pair(0.002)) == pytest.approx((14 * 6 + math.pi * 9 + 240) * T, rel=1e-9)


def test_an_opening_that_touches_the_end_is_refused_and_one_over_it_is_a_notch(channel: Make) -> None:
    assert "the bottom end" in refused(channel((round_hole(30, 5, 10),)))
    assert "the left edge" in refused(channel((round_hole(5, 50, 10, leg=0),)))
    profile = channel((round_hole(30, 0, 10),))
    assert taken(profile) == pytest.approx(math.pi * 25 / 2 * T, rel=1e-7)
    flat = job.develop_solid(profile).flat
    assert openings_in_flat(flat, profile, trace(profile))[0].flat is None


def test_an_opening_across_a_bend_takes_web_and_bend_but_no_flange(channel: Make) -> None:
    """A square window from 10 mm on the web's flat to beyond the flange's outer face takes the whole corner."""
    width = 40.0
    window = Opening(at(R + T, 100), "rectangle", 20.0, width)  # about the tangent line, 10 each way
    corner = math.pi / 4 * ((R + T) ** 2 - R**2)
    assert taken(channel((window,))) == pytest.approx((10 * T + corner) * width, rel=1e-7)


def test_a_round_hole_about_a_tangent_line_by_integration(channel: Make) -> None:
    """The half over the bend is integrated across: chord times the bend's height along the web's normal."""
    radius = 2.0
    profile = channel((round_hole(R + T, 100, 2 * radius),))
    x, w = np.polynomial.legendre.leggauss(200)
    angle = (x + 1) * math.pi / 4
    u, weight = radius * np.sin(angle), w * math.pi / 4 * radius * np.cos(angle)
    height = np.sqrt((R + T) ** 2 - u**2) - np.sqrt(np.maximum(R**2 - u**2, 0.0))
    half = float(np.sum(weight * 2 * np.sqrt(radius**2 - u**2) * height))
    assert taken(profile) == pytest.approx(math.pi * radius**2 / 2 * T + half, rel=1e-7)


def test_a_hole_drilled_through_both_flanges(channel: Make) -> None:
    hole = round_hole(12, 100, 8, leg=0, through=(2,))
    profile = channel((hole,))
    assert taken(profile) == pytest.approx(2 * math.pi * 16 * T, rel=1e-9)
    assert taken(channel((replace(hole, through=()),))) == pytest.approx(math.pi * 16 * T, rel=1e-9)
    flat = job.develop_solid(profile).flat
    homes = openings_in_flat(flat, profile, trace(profile))
    assert [(h.opening, h.leg) for h in homes] == [(0, 0), (0, 2)]
    assert homes[0].centre == pytest.approx((12, 100), abs=1e-6)
    assert homes[1].centre == pytest.approx((flat.width - 12, 100), abs=1e-6)
    assert None not in {h.flat for h in homes}


def test_a_leg_that_is_not_met_is_refused(channel: Make) -> None:
    said = refused(channel((round_hole(30, 100, 8, through=(2,)),)))
    assert "does not meet leg 3" in said


def test_a_plane_across_the_channel_shortens_it(channel: Make) -> None:
    cut = Cut(at(0, 150), "plane", remove="top")
    assert taken(channel(cuts=(cut,))) == pytest.approx(section_area() * 50, rel=1e-9)
    assert taken(channel(cuts=(replace(cut, remove="bottom"),))) == pytest.approx(section_area() * 150, rel=1e-9)


def test_a_mitre_across_the_channel_by_integration(channel: Make) -> None:
    """Turned by 45 degrees about a place off the middle: the plane's height over the section is integrated.

    The plane stands at along = 120 + (across - 20); strips across of the web's flat, of the quarter rings, of
    the flanges. By symmetry the mean of across is 30.
    """
    cut = Cut(at(20, 120), "plane", turn=45.0, remove="top")
    x, w = np.polynomial.legendre.leggauss(40)

    def strip(low: float, high: float, thickness: Callable[[Any], Any]) -> float:
        across = (low + high) / 2 + x * (high - low) / 2
        return float(np.sum(w * (high - low) / 2 * thickness(across) * (LENGTH - 120 - (across - 20))))

    def ring(centre: float, side: float) -> float:
        r, a = np.meshgrid(R + (x + 1) * T / 2, (x + 1) * math.pi / 4)
        weight = np.outer(w * math.pi / 4, w * T / 2) * r
        return float(np.sum(weight * (LENGTH - 120 - (centre + side * r * np.sin(a) - 20))))

    leg = FLANGE - R - T
    total = strip(R + T, WEB - R - T, lambda u: np.full_like(u, T))
    total += strip(0.0, T, lambda u: np.full_like(u, leg)) + strip(WEB - T, WEB, lambda u: np.full_like(u, leg))
    total += ring(R + T, -1.0) + ring(WEB - R - T, 1.0)
    assert taken(channel(cuts=(cut,))) == pytest.approx(total, rel=1e-9)


def test_a_tilted_plane_by_first_moment(channel: Make) -> None:
    """A plane leaning by 30 degrees: along = 140 - above tan 30, so it takes area (60 + mean above tan 30)."""
    cut = Cut(at(WEB / 2, 140), "plane", tilt=30.0, remove="top")
    flange = FLANGE - R - T
    ring = math.pi / 4 * ((R + T) ** 2 - R**2)
    below = 2 / 3 * ((R + T) ** 3 - R**3) / ((R + T) ** 2 - R**2) * 2 / math.pi * math.sqrt(2) * math.cos(math.pi / 4)
    parts = [(FLAT * T, -T / 2), (2 * flange * T, R + flange / 2), (2 * ring, R - below)]
    mean = sum(a * h for a, h in parts) / section_area()
    expected = section_area() * (60 + mean * math.tan(math.radians(30)))
    assert taken(channel(cuts=(cut,))) == pytest.approx(expected, rel=1e-8)


def test_round_and_box_tools_on_the_web_only(channel: Make) -> None:
    lying = Cut(at(20, LENGTH), "round", axis="normal", diameter=16.0, legs=(1,))
    assert taken(channel(cuts=(lying,))) == pytest.approx(math.pi * 64 / 2 * T, rel=1e-7)
    box = Cut(at(30, 100), "box", size_across=10.0, size_along=20.0, corner_radius=3.0)
    assert taken(channel(cuts=(box,))) == pytest.approx((200 - (4 - math.pi) * 9) * T, rel=1e-9)


def test_a_round_tool_through_both_flanges_or_through_one(channel: Make) -> None:
    cope = Cut(at(WEB / 2, LENGTH), "round", above=15.0, axis="across", diameter=10.0)
    half = math.pi * 25 / 2 * T
    assert taken(channel(cuts=(cope,))) == pytest.approx(2 * half, rel=1e-7)
    assert taken(channel(cuts=(replace(cope, legs=(2,)),))) == pytest.approx(half, rel=1e-7)


def test_a_round_tool_at_45_degrees_makes_half_ellipses(channel: Make) -> None:
    cope = Cut(at(WEB / 2, LENGTH), "round", above=15.0, axis="across", turn=45.0, diameter=10.0)
    profile = channel(cuts=(replace(cope, place=at(WEB / 2, 100)),))
    assert taken(profile) == pytest.approx(2 * math.pi * 25 * math.sqrt(2) * T, rel=1e-6)


def test_a_box_of_limited_height_leaves_the_flange_tips(channel: Make) -> None:
    notch = Cut(at(WEB / 2, 100), "box", size_across=100.0, size_along=20.0, above=15.0, size_above=10.0)
    assert taken(channel(cuts=(notch,))) == pytest.approx(2 * 10 * 20 * T, rel=1e-9)


def test_holes_near_a_mitre_are_cut_with_it_and_far_ones_pierced(channel: Make) -> None:
    """Holes wholly in the part that goes vanish, those on the line are halved, the others are whole."""
    cut = Cut(at(WEB / 2, 140), "plane", remove="top")
    holes = tuple(round_hole(30, y, 8) for y in (20.0, 60.0, 140.0, 170.0))
    profile = channel(holes, (cut,))
    assert taken(profile) == pytest.approx(section_area() * 60 + 2.5 * math.pi * 16 * T, rel=1e-9)
    flat, _ = _unfolded(profile)
    assert [h.flat is not None for h in openings_in_flat(flat, profile, trace(profile))] == [True, True, False, False]


def _unfolded(profile: Profile) -> tuple[Any, Any]:
    from flatgen.unfolding import unfold

    solid, found = build_solid(profile)
    view = definition_view(solid, found)
    flat = unfold(solid, allowance_rule(profile, found), thickness=profile.thickness, view=view)
    return attach_names(flat, profile, found), solid


def test_a_cut_that_misses_says_where_it_stands_and_where_the_part_is(channel: Make) -> None:
    said = refused(channel(cuts=(Cut(at(30, 300), "round", diameter=10.0, name="cope", where="f.toml:9: cut[0]"),)))
    assert said.startswith('f.toml:9: cut[0]: cut 1 "cope" touches no metal')
    assert "y 300.00" in said
    assert "y 0.00 to 200.00" in said


def test_an_opening_off_the_metal_is_refused_and_all_faults_come_at_once(channel: Make) -> None:
    cut = Cut(at(30, 300), "round", diameter=10.0)
    said = refused(channel((round_hole(30, 300, 8), round_hole(-50, 100, 8)), (cut,)))
    assert "opening 1 touches no metal" in said
    assert "opening 2 touches no metal" in said
    assert "cut 1 touches no metal" in said


def test_removing_everything_is_refused(channel: Make) -> None:
    said = refused(channel(cuts=(Cut(at(0, -1), "plane", remove="top", name="off"),)))
    assert 'cut 1 "off" removes the whole part' in said


def test_two_pieces_are_refused_with_the_smaller_one(channel: Make) -> None:
    saw = Cut(at(30, 180), "box", size_across=200.0, size_along=2.0)
    trim = Cut(at(30, 0), "box", size_across=5.0, size_along=5.0, entry=1)
    said = refused(channel(cuts=(trim, saw)))
    assert "cut 1 parts it into 2 pieces" in said
    assert f"{section_area() * 19:.4g} mm3" in said
    assert "y 190.50" in said


def test_a_leg_or_bend_that_is_cut_away_is_named(channel: Make) -> None:
    off = Cut(at(WEB - R - T, 100), "plane", turn=90.0, remove="right", name="rip")
    said = refused(channel(cuts=(replace(off, place=at(WEB - R, 100)),)))
    assert 'cut 1 "rip" leaves nothing of leg 3 "right"' in said


def test_a_plane_along_the_side_that_it_is_to_remove_is_refused(channel: Make) -> None:
    assert "say which side" in refused(channel(cuts=(Cut(at(30, 100), "plane", remove="right"),)))


def test_names_are_found_although_the_middles_of_legs_are_holes(channel: Make) -> None:
    middle = Place(1, 0.0, "middle", 0.0, "middle", "mould-line")
    holes = tuple(Opening(replace(middle, leg=n), "round", 16.0, 16.0) for n in range(3))
    flat = job.develop_solid(channel(holes)).flat
    assert [p.name for p in sorted(flat.panels, key=lambda p: p.outline.box()[0])] == ["left", "web", "right"]
    assert len(flat.openings) == 3


def test_legs_in_one_plane_keep_their_names_and_openings(channel: Make) -> None:
    """Left and right of a top-hat lie in one plane; holes of different size tell them apart."""
    text = CHANNEL.split("section")[0] + (
        'section = [{ leg = 30, name = "a" }, { bend = 90, way = "up" }, { leg = 25 }, { bend = 90, way = "down" },\n'
        '  { leg = 60, name = "b" }, { bend = 90, way = "down" }, { leg = 25 }, { bend = 90, way = "up" },\n'
        '  { leg = 30, name = "c" }]\n'
    )
    profile = channel((round_hole(12, 50, 6, leg=0), round_hole(18, 50, 9, leg=4)), text=text)
    flat = job.develop_solid(profile).flat
    names = [p.name for p in sorted(flat.panels, key=lambda p: p.outline.box()[0])]
    assert names == ["a", None, "b", None, "c"]
    homes = openings_in_flat(flat, profile, trace(profile))
    radii = [flat.openings[h.flat].pieces[0].radius for h in homes if h.flat is not None]  # type: ignore[union-attr]
    assert radii == pytest.approx([3, 4.5], abs=1e-9)


def test_many_clear_holes_are_exact(channel: Make) -> None:
    holes = tuple(round_hole(12 + 8 * (n % 5), 8 + 8 * (n // 5), 4.0) for n in range(100))
    profile = channel(holes)
    assert taken(profile) == pytest.approx(100 * math.pi * 4 * T, rel=1e-9)


def test_the_view_point_is_no_hole_although_holes_crowd_the_middle(channel: Make) -> None:
    holes = tuple(round_hole(11 + 9.5 * (n % 5), 8 + 9.2 * (n // 5), 9.0) for n in range(100))
    profile = channel(holes)
    solid, found = build_solid(profile)
    x, y, z = definition_view(solid, found).point
    assert z == pytest.approx(T, abs=1e-9)
    centres = [(11 + 9.5 * (n % 5) - R - T, 8 + 9.2 * (n // 5)) for n in range(100)]
    assert min(math.dist((x, y), c) for c in centres) > 4.5
    assert -1e-9 < x < FLAT + 1e-9
    assert -1e-9 < y < LENGTH + 1e-9


def test_an_opening_past_a_bend_is_cut_off_there_and_said(tmp_path: Path) -> None:
    """Square to the web, 10 mm beyond its limit: it ends at the far tangent line, and a caution says so."""
    path = tmp_path / "p.toml"
    head = (
        'metal = "DC01"\nthickness = "1.5 mm"\ninside_radius = "2 mm"\nlength = "100 mm"\nsection = ['
        '{ leg = "40 mm" }, { bend = 90, way = "up" }, { leg = "60 mm", name = "web" }]\n'
    )
    hole = '[[opening]]\nleg = "web"\nshape = "slot"\nsize_across = "30 mm"\nsize_along = "10 mm"\nalong = "50 mm"\n'
    for across, said in (("5 mm", True), ("30 mm", False)):
        path.write_text(head + hole + f'across = "{across}"\n')
        made = job.develop_solid(read_profile(path))
        assert ("FG109" in {f.code for f in made.findings}) == said
    path.write_text(head + hole + 'across = "5 mm"\nthrough = [1]\n')
    assert "FG109" not in {f.code for f in job.develop_solid(read_profile(path)).findings}


def test_a_row_that_leaves_a_rest_says_so(tmp_path: Path) -> None:
    """By hand: from 20 at a pitch of 30 in 100 mm, at least 15 from the end: 20, 50, 80; 20 mm are left."""
    path = tmp_path / "p.toml"
    path.write_text(
        'metal = "DC01"\nthickness = "1.5 mm"\ninside_radius = "2 mm"\nlength = "100 mm"\n'
        'section = [{ leg = "40 mm" }]\n[[opening]]\nleg = 1\nshape = "round"\n'
        'diameter = "5 mm"\nacross = "20 mm"\nalong = "20 mm"\nrow_along = { pitch = "30 mm", last = "15 mm" }\n'
    )
    profile = read_profile(path)
    told = [f for f in profile.findings if f.code == "FG119"]
    assert len(profile.openings) == 3
    assert len(told) == 1
    assert "20.0 mm" in told[0].text


def test_what_else_a_cut_takes_is_said(tmp_path: Path) -> None:
    """A box on the foot of an angle folded over it by 135 also meets the face; with ``legs`` it does not."""
    path = tmp_path / "p.toml"
    head = (
        'metal = "DC01"\nthickness = "1.5 mm"\ninside_radius = "2 mm"\nlength = "100 mm"\ndimensions = "overall"\n'
        'section = [{ leg = "60 mm" }, { bend = 135, way = "up" }, { leg = "80 mm", name = "face" }]\n'
    )
    box = '[[cut]]\ntool = "box"\nleg = 1\n'
    box += 'across = "20 mm"\nalong = "0 mm"\nsize_across = "20 mm"\nsize_along = "20 mm"\n'
    for legs, said in (("", ['cut 1 takes metal of leg 2 "face" too']), ("legs = [1]\n", [])):
        path.write_text(head + box + legs)
        assert [f.text for f in job.develop_solid(read_profile(path)).findings if f.code == "FG120"] == said


def test_through_all_means_all_that_it_meets(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_text(
        'metal = "DC01"\nthickness = "1.5 mm"\ninside_radius = "2 mm"\nlength = "100 mm"\n'
        'section = [{ leg = "40 mm" }, '
        '{ bend = 90, way = "up" }, { leg = "60 mm" }, { bend = 90, way = "up" }, { leg = "40 mm" }]\n'
        '[[opening]]\nleg = 1\nshape = "round"\ndiameter = "6 mm"\nacross = "15 mm"\nalong = "50 mm"\nthrough = "all"\n'
    )
    made = job.develop_solid(read_profile(path))
    assert [o.area for o in made.flat.openings] == pytest.approx([math.pi * 9] * 2, rel=1e-9)
