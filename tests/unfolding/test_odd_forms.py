"""Odd forms that other people's models have: each unfolds to what hand arithmetic gives, or is refused by name.

K = 0.44 throughout, BA = A (r + K t); every expected figure is worked out here from the sizes that the part was
built with (hand), never with flatgen.

Long, as it states one outcome for each form.
"""

from __future__ import annotations

import math
import re
from typing import Any, TypeAlias

import pytest

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Loop
from flatgen.metal.bend_rule import rule_for
from flatgen.unfolding.formed import FormedOptions, UnfoldedPart, unfold_formed
from tests.unfolding import odd_forms as forms

K = 0.44
Piece: TypeAlias = "float | tuple[float, float]"


def allowance(angle: float, r: float, t: float) -> float:
    return math.radians(abs(angle)) * (r + K * t)


def made(part: Any, wish: FormedOptions | None = None) -> UnfoldedPart:
    return unfold_formed(part, rule_for(None, K), wish)


def refused(part: Any, code: str, wish: FormedOptions | None = None) -> Fault:
    with pytest.raises(InputRefused) as stopped:
        made(part, wish)
    found = [f for f in stopped.value.faults if f.code == code]
    assert found, f"{code} is not among {stopped.value}"
    assert found[0].text
    assert found[0].remedy
    return found[0]


def codes(formed: UnfoldedPart) -> set[str]:
    return {f.code for f in formed.findings}


def names_place(fault: Fault, x: float, y: float, z: float, within: float) -> None:
    """Its message names a face, and a position not farther than ``within`` from where the trouble is."""
    place = re.search(r"face \d+ .*?x (-?[\d.]+), y (-?[\d.]+), z (-?[\d.]+)", f"{fault.where} {fault.text}")
    assert place is not None, str(fault)
    assert math.dist([float(c) for c in place.groups()], (x, y, z)) <= within, str(fault)


def is_strip(flat: FlatPattern, pieces: list[Piece], t: float, length: float, less: float = 0.0) -> None:
    """Flats [mm] and bends (angle, inside radius) in a row: size, area, and each bend line's place, angle and way."""
    at, expected = 0.0, []
    for piece in pieces:
        if isinstance(piece, tuple):
            use = allowance(*piece, t)
            expected.append((at + use / 2, abs(piece[0]), piece[1], use, piece[0] > 0))
            at += use
        else:
            at += piece
    assert flat.thickness == pytest.approx(t, abs=1e-6)
    assert (flat.width, flat.length) == pytest.approx((at, length), abs=1e-6)
    assert flat.area == pytest.approx(at * length - less, rel=1e-9)
    assert len(flat.panels) == len(flat.bends) + 1
    got = sorted((b.centre[0][0], b.angle, b.inside_radius, b.allowance, b.way == "up") for b in flat.bends)
    turned = sorted((at - x, *rest) for x, *rest in expected)
    choices = [[(x, a, r, u, up != flip) for x, a, r, u, up in some] for some in (expected, turned) for flip in (0, 1)]
    assert len(got) == len(expected)
    assert any(
        all(g[:4] == pytest.approx(c[:4], abs=1e-6) and g[4] == c[4] for g, c in zip(got, choice, strict=True))
        for choice in choices
    ), (got, expected)
    for bend in flat.bends:
        assert bend.centre[0][0] == pytest.approx(bend.centre[1][0], abs=1e-9)


ANGLE: list[Piece] = [60.0, (90.0, 2.0), 25.0]


def is_angle(flat: FlatPattern, less: float = 0.0, end: float = 60.0) -> None:
    is_strip(flat, [end, *ANGLE[1:]], 1.5, 70.0, less)


def is_circle(loop: Loop, radius: float, within: float = 1e-6) -> tuple[float, float]:
    """A full circle of a radius, whether in one piece or two; its centre."""
    arcs = [p for p in loop if isinstance(p, Arc)]
    assert len(arcs) == len(loop.pieces)
    assert all(a.radius == pytest.approx(radius, abs=within) for a in arcs)
    assert loop.area == pytest.approx(math.pi * radius**2, rel=1e-6)
    return arcs[0].centre


def from_ends(flat: FlatPattern, centre: tuple[float, float]) -> tuple[float, float]:
    """How far a point lies from the end of the 60 mm leg and from the nearer side of an angle piece."""
    line = flat.bends[0].centre[0][0]
    across = centre[0] if line > flat.width / 2 else flat.width - centre[0]
    return across, min(centre[1], flat.length - centre[1])


# bends


@pytest.mark.parametrize("angle", [90.0, 60.0])
def test_corner_sharp_on_both_faces_is_refused_and_says_how(angle: float) -> None:
    fault = refused(forms.sharp(angle), "FG046")
    assert "--inside-radius" in fault.remedy


@pytest.mark.parametrize("angle", [90.0, 60.0])
def test_corner_sharp_on_both_faces_is_rounded_as_asked(angle: float) -> None:
    """By hand: legs to the mould line less BD = 2 SB - BA, which are the flats that the part was drawn with."""
    formed = made(forms.sharp(angle), FormedOptions(inside_radius=1.5))
    back = 3.0 * math.tan(math.radians(angle / 2))
    deduction = 2 * back - allowance(angle, 1.5, 1.5)
    assert formed.flat.width == pytest.approx((40 + back) + (30 + back) - deduction, abs=1e-6)
    is_strip(formed.flat, [40.0, (angle, 1.5), 30.0], 1.5, 60.0)
    assert "FG124" in codes(formed)


@pytest.mark.parametrize("radius", [0.5, 4.0])
def test_a_sharp_corner_takes_another_radius(radius: float) -> None:
    """The mould lines stay where they were modelled: flats 40 and 30 with r 1.5 become longer or shorter."""
    formed = made(forms.sharp(90), FormedOptions(inside_radius=radius))
    is_strip(formed.flat, [41.5 - radius, (90, radius), 31.5 - radius], 1.5, 60.0)


def test_sharp_corners_of_opposite_ways() -> None:
    formed = made(forms.sharp_both_ways(), FormedOptions(inside_radius=1.5))
    is_strip(formed.flat, [40.0, (90.0, 1.5), 30.0, (-60.0, 1.5), 25.0], 1.5, 60.0)


def test_tray_without_any_radius() -> None:
    """With r 1.5 the tangents lie 3 inside of the mould lines: base 94 x 64 less four 5 x 5, walls of BA + 17."""
    refused(forms.sharp_tray(), "FG046")
    flat = made(forms.sharp_tray(), FormedOptions(inside_radius=1.5)).flat
    wall = allowance(90, 1.5, 1.5) + 17
    assert sorted((flat.width, flat.length)) == pytest.approx([64 + 2 * wall, 94 + 2 * wall], abs=1e-6)
    assert flat.area == pytest.approx(94 * 64 - 100 + 2 * (54 + 84) * wall, abs=1e-5)
    assert sorted(b.length for b in flat.bends) == pytest.approx([54, 54, 84, 84], abs=1e-6)
    assert {b.way for b in flat.bends} == {"up"}


def test_hollow_box_is_a_closed_loop() -> None:
    """Base and two walls in a ring at every corner: no sheet can be folded so without a seam."""
    fault = refused(forms.shelled_box(), "FG041", FormedOptions(inside_radius=1.5))
    assert "seam" in fault.remedy


def test_a_radius_too_large_for_its_legs_is_refused() -> None:
    """Legs of 31.5 inside, less 35: no flat is left."""
    refused(forms.sharp(90), "FG046", FormedOptions(inside_radius=35.0))


@pytest.mark.parametrize("r", [0.0, 0.5])
def test_outer_cylinder_about_a_sharp_inner_edge(r: float) -> None:
    """The outer face says what is bent: inside radius = outer radius - t."""
    formed = made(forms.inner_edge_sharp(r))
    is_strip(formed.flat, [40.0, (90.0, r), 30.0], 1.5, 60.0)


def test_inside_radius_of_two_microns() -> None:
    is_strip(made(forms.nearly_sharp()).flat, [40.0, (90.0, 0.002), 30.0], 1.5, 60.0)


@pytest.mark.parametrize("r", [0.05, 1.0])
def test_hem_of_180(r: float) -> None:
    is_strip(made(forms.hem(r)).flat, [50.0, (90.0, 2.0), 40.0, (180.0, r), 12.0], 1.0, 80.0)


def test_joggle() -> None:
    is_strip(made(forms.joggle()).flat, [40.0, (30.0, 1.0), 0.6, (-30.0, 1.0), 25.0], 1.0, 80.0)


def test_rolled_leg_that_ends_free() -> None:
    is_strip(made(forms.rolled()).flat, [60.0, (20.0, 200.0)], 1.0, 90.0)


def test_rolled_leg_whose_corners_are_rounded_in_plan() -> None:
    """Each face's developed width at angle a is that of the plan at x = 60 + R sin a; the larger is drawn."""
    formed = made(forms.rolled_and_rounded())
    flat = formed.flat
    total = 60.0 + allowance(20, 200, 1)
    assert (flat.width, flat.length) == pytest.approx((total, 90.0), abs=0.005)  # curves are drawn within 0.005 mm
    end, steps, area = 60 + 201 * math.sin(math.radians(20)), 200_000, 60.0 * 90
    for n in range(steps):
        a = math.radians(20) * (n + 0.5) / steps
        past = max(0.0, 60 + 200 * math.sin(a) - (end - forms.ROUND))  # the inner face reaches less far: it is wider
        lost = forms.ROUND - math.sqrt(forms.ROUND**2 - past**2)
        area += (90 - 2 * lost) * allowance(20, 200, 1) / steps
    assert flat.area == pytest.approx(area, rel=2e-5)
    assert [b.angle for b in flat.bends] == pytest.approx([20.0], abs=1e-6)
    assert flat.outline_difference is not None


@pytest.mark.parametrize("angle", [200.0, 270.0])
def test_curl_of_more_than_half_a_turn_is_refused_by_place(angle: float) -> None:
    """A bend turns through 180 deg at most; never a smaller angle drawn instead."""
    names_place(refused(forms.curl(angle), "FG041"), 40, 5, 30, 40)


def test_two_arcs_in_s_without_a_flat_between() -> None:
    is_strip(made(forms.two_arcs_s()).flat, [30.0, (45.0, 3.0), (-45.0, 3.0), 30.0], 1.5, 70.0)


def test_two_arcs_one_way_of_two_radii() -> None:
    is_strip(made(forms.two_arcs_one_way()).flat, [30.0, (45.0, 3.0), (45.0, 8.0), 30.0], 1.5, 70.0)


def test_bend_that_slots_interrupt() -> None:
    """Each slot is 8 by 6 + BA + 6; the bend line has three pieces, 20, 32 and 22 long."""
    flat = made(forms.slotted_bend()).flat
    slot = 8 * (12 + allowance(90, 2, 1.5))
    is_strip(flat, [40.0, (90.0, 2.0), 30.0], 1.5, 90.0, 2 * slot)
    assert [o.area for o in flat.openings] == pytest.approx([slot, slot], abs=1e-6)
    pieces = sorted(math.dist(*s.centre) for s in flat.bends[0].segments)
    assert pieces == pytest.approx([20.0, 22.0, 32.0], abs=1e-6)


def test_tray_with_notched_corners() -> None:
    """Base 100 x 70 less four squares of 6, walls of BA + 20 on what is left of its edges."""
    flat = made(forms.tray()).flat
    use = allowance(90, 2, 1.5)
    sizes = sorted((100 + 2 * (use + 20), 70 + 2 * (use + 20)))
    assert sorted((flat.width, flat.length)) == pytest.approx(sizes, abs=1e-6)
    assert flat.area == pytest.approx(100 * 70 - 4 * 36 + 2 * (88 + 58) * (use + 20), abs=1e-5)
    assert sorted(b.length for b in flat.bends) == pytest.approx([58, 58, 88, 88], abs=1e-6)
    assert len(flat.panels) == 5
    assert {b.way for b in flat.bends} == {"up"}
    assert len(flat.outline.pieces) == 12  # a cross: each wall is as wide as its edge between notches
    assert all(isinstance(p, Line) for p in flat.outline)


# on the sheet, and into it


@pytest.mark.parametrize("part", [forms.stud, forms.stud_on_far_side, forms.engraved])
def test_what_stands_on_the_sheet_or_is_sunk_into_it_is_left_out(part: Any) -> None:
    formed = made(part())
    is_angle(formed.flat)
    assert formed.flat.openings == ()
    assert "FG122" in codes(formed)


def test_bore_through_a_standoff_stays_a_hole() -> None:
    formed = made(forms.tube_with_bore())
    is_angle(formed.flat, math.pi * 4)
    (hole,) = formed.flat.openings
    assert from_ends(formed.flat, is_circle(hole, 2.0)) == pytest.approx((25.0, 30.0), abs=1e-6)
    assert codes(formed) == {"FG122"}


def test_boss_on_a_bend_is_refused_by_place() -> None:
    names_place(refused(forms.boss_on_bend(), "FG041"), 63.0, 0.5, 30.0, 8.0)


@pytest.mark.parametrize(
    "part", [forms.countersunk, forms.countersunk_through, forms.counterbored, forms.sunk_from_both_sides]
)
def test_sunk_hole_is_drawn_as_its_smaller_circle(part: Any) -> None:
    formed = made(part())
    is_angle(formed.flat, math.pi * 2.5**2)
    (hole,) = formed.flat.openings
    assert from_ends(formed.flat, is_circle(hole, 2.5)) == pytest.approx((25.0, 30.0), abs=1e-6)
    assert "FG126" in codes(formed)


def test_oblique_hole_leaves_the_metal_on() -> None:
    """What both faces leave open: two ellipses of half axes 3 / cos and 3, centres 0.75 apart (lens of two circles)."""
    formed = made(forms.oblique_hole())
    a, h = 3 * math.sqrt(1.25), 0.375 / (3 * math.sqrt(1.25))
    lens = a * 3 * (2 * math.acos(h) - 2 * h * math.sqrt(1 - h * h))
    (hole,) = formed.flat.openings
    assert hole.area == pytest.approx(lens, abs=0.005 * 20)  # curves are drawn within 0.005 mm, 20 round
    x0, y0, x1, y1 = hole.box()
    assert from_ends(formed.flat, ((x0 + x1) / 2, (y0 + y1) / 2)) == pytest.approx((25 + 0.375, 30.0), abs=0.01)
    assert [d.largest for _, d in formed.flat.opening_differences] == pytest.approx([0.75], abs=0.01)


# edges


@pytest.mark.parametrize("part", [forms.chamfered, forms.rounded_one_face, forms.rounded_both_faces])
def test_broken_edges_are_drawn_at_their_widest(part: Any) -> None:
    formed = made(part())
    is_angle(formed.flat)
    assert "FG127" in codes(formed)


def test_edge_of_full_round_is_drawn_at_its_widest_or_refused_by_face() -> None:
    try:
        formed = made(forms.full_round())
    except InputRefused as refusal:
        fault = next(f for f in refusal.faults if f.code in ("FG040", "FG041"))
        names_place(fault, 0.0, 0.75, 35.0, 36.0)
    else:
        is_angle(formed.flat, end=60.75)
        assert "FG127" in codes(formed)


def test_cut_edge_at_60_degrees_leaves_the_metal_on() -> None:
    """The outer face is longer by 1.5 / tan 60 = 0.866."""
    formed = made(forms.oblique())
    is_angle(formed.flat)
    assert formed.flat.outline_difference is not None
    assert formed.flat.outline_difference.largest == pytest.approx(1.5 / math.tan(math.radians(60)), abs=1e-6)


# pressed forms


@pytest.mark.parametrize("part", [forms.dimple, forms.dimple_with_rounded_rim, forms.louvre])
def test_pressed_form_is_refused_by_place(part: Any) -> None:
    fault = refused(part(), "FG041")
    assert "--skip-formed" in fault.remedy
    names_place(fault, 25.0, 0.75, 30.0, 15.0)


@pytest.mark.parametrize("part", [forms.dimple, forms.dimple_with_rounded_rim])
def test_dimple_is_left_out_and_marked(part: Any) -> None:
    """Rims by hand: sqrt(9^2 - 6^2) = 6.71 and sqrt(10^2 - 7.5^2) = 6.61; with rounded rims farther out."""
    formed = made(part(), FormedOptions(skip_formed=True))
    is_angle(formed.flat)
    assert formed.flat.openings == ()
    (rim,) = formed.flat.forms
    radius = math.sqrt(rim.area / math.pi)
    assert from_ends(formed.flat, is_circle(rim, radius, 1e-4)) == pytest.approx((25.0, 30.0), abs=1e-4)
    sharp = (math.sqrt(9**2 - 6**2), math.sqrt(10**2 - 7.5**2))
    if part is forms.dimple:
        assert min(abs(radius - s) for s in sharp) < 1e-6
    else:
        assert max(sharp) < radius < max(sharp) + 3
    assert "FG123" in codes(formed)


def test_louvre_is_left_out_and_marked() -> None:
    formed = made(forms.louvre(), FormedOptions(skip_formed=True))
    is_angle(formed.flat)
    assert formed.flat.openings == ()
    (rim,) = formed.flat.forms
    x0, y0, x1, y1 = rim.box()
    across, along = sorted((x1 - x0, y1 - y0), reverse=True)
    assert 13.2 < across < 14.3  # 2 x 6.61 to 2 x 7.14
    assert 6.6 < along < 7.2
    assert "FG123" in codes(formed)


def test_each_dimple_is_marked() -> None:
    formed = made(forms.two_dimples(), FormedOptions(skip_formed=True))
    is_angle(formed.flat)
    assert formed.flat.openings == ()
    centres = [is_circle(f, math.sqrt(f.area / math.pi)) for f in formed.flat.forms]
    assert [from_ends(formed.flat, c) for c in centres] == [pytest.approx((25.0, 20.0), abs=1e-6)] * 2
    assert math.dist(*centres) == pytest.approx(30.0, abs=1e-6)


# plates, no sheet, or closed


@pytest.mark.parametrize(
    ("part", "area"),
    [(forms.disc, 400.0), (forms.washer, 400.0 - 64.0), (lambda: forms.disc(0.3), 400.0)],
    ids=["disc", "washer", "chamfered"],
)
def test_round_plate(part: Any, area: float) -> None:
    formed = made(part())
    assert formed.flat.thickness == pytest.approx(2.0, abs=1e-9)
    assert (formed.flat.width, formed.flat.length) == pytest.approx((40.0, 40.0), abs=1e-6)
    assert formed.flat.area == pytest.approx(math.pi * area, rel=1e-9)
    assert formed.flat.bends == ()


def test_plate_of_two_thicknesses_is_refused() -> None:
    with pytest.raises(InputRefused) as stopped:
        made(forms.doubled(), FormedOptions(inside_radius=1.5))
    assert {f.code for f in stopped.value.faults} <= {"FG040", "FG041"}


def test_closed_tube_is_refused_and_says_where_to_cut() -> None:
    fault = refused(forms.tube(), "FG041")
    assert "closed loop" in fault.text
    assert "seam" in fault.remedy
    names_place(fault, 0, 0, 40, 60)


def test_tube_with_a_seam() -> None:
    """Four sides of 33 flat, the first parted by 0.2 in its middle."""
    flat = made(forms.tube_with_seam()).flat
    bend = (90.0, 2.0)
    is_strip(flat, [16.4, bend, 33.0, bend, 33.0, bend, 33.0, bend, 16.4], 1.5, 80.0)


@pytest.mark.parametrize("part", [forms.block, forms.bar, forms.ball, forms.gear, forms.pocketed_plate])
def test_what_is_no_sheet_is_refused(part: Any) -> None:
    refused(part(), "FG040")


# faults of models


def test_thickness_that_grows_by_4_microns_is_told() -> None:
    formed = made(forms.uneven(0.004))
    assert "FG121" in codes(formed)
    assert (formed.flat.width, formed.flat.length) == pytest.approx((70 + allowance(90, 2, 1.5), 60.0), abs=0.005)
    assert len(formed.flat.bends) == 1


def test_thickness_that_grows_by_a_fifth_is_refused() -> None:
    with pytest.raises(InputRefused) as stopped:
        made(forms.uneven(0.2))
    assert {f.code for f in stopped.value.faults} <= {"FG040", "FG041"}


def test_a_plane_2_microns_off_its_edges_is_taken() -> None:
    formed = made(forms.surface_off(0.002))
    assert (formed.flat.width, formed.flat.length) == pytest.approx((85 + allowance(90, 2, 1.5), 70.0), abs=0.005)
    assert formed.flat.thickness == pytest.approx(1.5, abs=0.0021)
    assert len(formed.flat.bends) == 1


def test_faces_off_by_2_microns_are_taken() -> None:
    formed = made(forms.off_by(0.002))
    assert (formed.flat.width, formed.flat.length) == pytest.approx((70 + allowance(90, 2, 1.5), 60.0), abs=0.005)
    assert len(formed.flat.bends) == 1
    assert formed.flat.bends[0].angle == pytest.approx(90, abs=0.1)


@pytest.mark.parametrize(
    "part",
    [
        forms.halves_along,
        forms.halves_across,
        lambda: forms.imprinted(on_bend=False),
        lambda: forms.imprinted(on_bend=True),
    ],
    ids=["along", "across", "on-panel", "on-bend"],
)
def test_faces_in_pieces_are_one(part: Any) -> None:
    flat = made(part()).flat
    is_angle(flat)
    assert len(flat.outline.pieces) == 4
    assert flat.openings == ()
    assert len(flat.bends[0].segments) == 1
    assert flat.bends[0].length == pytest.approx(70, abs=1e-6)


def test_flat_that_overlaps_itself_says_where_and_how_much() -> None:
    """Tabs 35..60 reach BA + 20 beyond the edges at 30: they share a square of BA + 15."""
    fault = refused(forms.overlapping(), "FG042")
    side = allowance(90, 1.5, 1.5) + 15
    figures = [float(n) for n in re.findall(r"\d+\.?\d*", fault.text)]
    assert any(n == pytest.approx(side**2, rel=0.01) for n in figures), str(fault)
    assert re.search(r"x -?\d+\.?\d*, y -?\d+\.?\d*", fault.where), str(fault)


def test_mirror_image_gives_the_mirror_image() -> None:
    """Seen from the inside, the corner that is cut lies on the other hand of the bend; turning does not help."""
    hands = []
    for part in (forms.handed(), forms.mirrored(forms.handed())):
        flat = made(part).flat
        is_angle(flat, 12 * 10 + math.pi * 9)
        (hole,) = flat.openings
        x, y = is_circle(hole, 3.0)
        assert from_ends(flat, (x, y)) == pytest.approx((20.0, 15.0), abs=1e-6)
        assert flat.bends[0].way == "up"
        hands.append((flat.bends[0].centre[0][0] > x) == (y > flat.length / 2))
    assert hands[0] != hands[1]
