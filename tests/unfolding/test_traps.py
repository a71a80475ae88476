"""Traps: solids that an unfolder gets wrong without noticing, and ordinary ones that it is tempted to refuse.

A part is either unfolded to what hand arithmetic gives or refused by name; a flat that is neither is the one outcome
that is never allowed. Every expected figure is worked out here from the sizes that the part was built with (hand).
Plates lie on z = 0. K = 0.44.

Long, as each trap is one solid with its outcome.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.metal.bend_rule import rule_for
from flatgen.unfolding.formed import FormedOptions, UnfoldedPart, unfold_formed
from tests.unfolding import odd_forms as forms
from tests.unfolding.odd_forms import Turn, box, strip

K = 0.44
USE = math.radians(90) * (2 + K * 2)
"""What a square bend of 2 mm inside radius in 2 mm sheet uses [mm]."""
Spot = tuple[float, float]


def made(part: Any, wish: FormedOptions | None = None) -> UnfoldedPart:
    return unfold_formed(part, rule_for(None, K), wish)


def is_right(formed: UnfoldedPart, area: float, size: Sequence[float], openings: int | None = None) -> None:
    flat = formed.flat
    assert sorted((flat.width, flat.length)) == pytest.approx(sorted(size), abs=0.01)
    assert flat.area == pytest.approx(area, rel=2e-5)
    assert openings is None or len(flat.openings) == openings


def outcome(part: Any, wish: FormedOptions | None = None) -> UnfoldedPart | str:
    """What was made, or the text of the refusal.

    An identity that fails would be called a bug of ours, and these solids are sound: it is not caught here.
    """
    try:
        return made(part, wish)
    except InputRefused as refused:
        faults = refused.faults
    assert all(f.text and f.remedy for f in faults)
    return " ".join(str(f) for f in faults)


def right_or_refused(part: Any, area: float, size: Sequence[float], wish: FormedOptions | None = None) -> None:
    came = outcome(part, wish)
    if isinstance(came, UnfoldedPart):
        is_right(came, area, size)


def told(formed: UnfoldedPart) -> set[str]:
    return {f.code for f in formed.findings}


def plate(x: float, y: float, t: float) -> Any:
    return box((0, 0, 0), (x, y, t))


def post(x: float, y: float, radius: float, low: float, high: float) -> Any:
    import cadquery as cq

    return cq.Workplane(obj=cq.Solid.makeCylinder(radius, high - low, cq.Vector(x, y, low), cq.Vector(0, 0, 1)))


def cone(x: float, y: float, low: Spot, high: Spot) -> Any:
    """Between (height, radius) and (height, radius)."""
    import cadquery as cq

    rise = high[0] - low[0]
    return cq.Workplane(obj=cq.Solid.makeCone(low[1], high[1], rise, cq.Vector(x, y, low[0]), cq.Vector(0, 0, 1)))


def section(corners: Sequence[Spot], y0: float, y1: float) -> Any:
    """A prism along y of a section in x and z."""
    import cadquery as cq

    return cq.Workplane("XZ").polyline(list(corners)).close().extrude(y0 - y1).translate((0, y0, 0))


def holes(spots: Sequence[Spot], x: float, y: float, t: float) -> Any:
    import cadquery as cq

    return cq.Workplane().pushPoints(list(spots)).rect(x, y).extrude(t)


def sunk(part: Any, t: float) -> Any:
    """With a countersunk hole of 2 mm diameter at (20, 20): a leaning wall, as most real parts have somewhere."""
    return part.cut(post(20, 20, 1, -1, t + 1)).cut(cone(20, 20, (t - 1, 1), (t, 2)))


def tubed(part: Any) -> Any:
    """With a hollow standoff of 4 mm bore at (20, 20)."""
    return part.union(post(20, 20, 4, 1, 10)).cut(post(20, 20, 2, -1, 20))


def quarter(r: float, t: float, y0: float, y1: float, x: float) -> Any:
    """A bend up by 90 deg from x on, of a sheet that lies on z = 0."""
    import cadquery as cq

    s, z, big = math.sqrt(0.5), t + r, r + t
    path = cq.Workplane("XZ").moveTo(x, 0).threePointArc((x + big * s, z - big * s), (x + big, z)).lineTo(x + r, z)
    ring = path.threePointArc((x + r * s, z - r * s), (x, t)).close()
    return ring.extrude(y0 - y1).translate((0, y0, 0))


# metal that hangs on a cut edge and touches neither skin


def snap_off(scored: Sequence[Sequence[Spot]]) -> Any:
    """A plate of 100 x 100 x 2 and a tab of 20 x 10 on it, scored 5 mm before the plate."""
    part = plate(100, 100, 2).union(box((95, 40, 0), (120, 50, 2))).clean()
    for corners in scored:
        part = part.cut(section(corners, 39, 51))
    return part


VEES = [[(104.3, 2.0), (105.7, 2.0), (105.0, 1.3)], [(104.3, 0.0), (105.7, 0.0), (105.0, 0.7)]]
SQUARES = [
    [(104.5, 1.4), (105.5, 1.4), (105.5, 3.0), (104.5, 3.0)],
    [(104.5, -1.0), (105.5, -1.0), (105.5, 0.6), (104.5, 0.6)],
]


@pytest.mark.parametrize("scored", [VEES, SQUARES], ids=["vee", "square"])
def test_break_off_tab_scored_on_both_faces_is_not_lost(scored: Sequence[Sequence[Spot]]) -> None:
    right_or_refused(snap_off(scored), 10200, (120, 100))
    right_or_refused(sunk(snap_off(scored), 2.0), 10200 - math.pi, (120, 100))


@pytest.mark.parametrize("scored", [VEES[:1], SQUARES[:1]], ids=["vee", "square"])
def test_score_on_one_face_leaves_the_sheet_whole(scored: Sequence[Sequence[Spot]]) -> None:
    """The other face runs through, so nothing is in doubt."""
    is_right(made(snap_off(scored)), 10200, (120, 100))


def test_scribed_line_across_a_sheet_leaves_it_whole() -> None:
    is_right(made(plate(60, 60, 2).cut(box((-1, 29.75, 1.8), (61, 30.25, 3)))), 3600, (60, 60), 0)


def test_grooves_on_opposite_faces_do_not_part_the_sheet() -> None:
    part = plate(100, 5, 2).cut(box((45, -1, 1.5), (46, 6, 3))).cut(box((55, -1, -1), (56, 6, 0.5)))
    right_or_refused(part, 500, (100, 5))


def hanging(kind: str) -> tuple[Any, float]:
    """A plate of 100 x 60 x 2 with something on its cut edge at y = 60; how far the metal reaches [mm]."""
    import cadquery as cq

    if kind == "tongue":
        return plate(100, 60, 2).union(box((20, 59, 0.5), (30, 65, 1.5))), 65.0
    if kind == "pin":
        pin = cq.Solid.makeCylinder(0.8, 11, cq.Vector(30, 59, 1), cq.Vector(0, 1, 0))
        return plate(100, 60, 2).union(cq.Workplane(obj=pin)), 70.0
    if kind == "weld":
        bead = cq.Solid.makeCylinder(0.8, 100, cq.Vector(0, 60, 1), cq.Vector(1, 0, 0))
        return plate(100, 60, 2).union(cq.Workplane(obj=bead)), 60.8
    start = cq.Workplane("YZ").moveTo(0, 0).lineTo(60, 0)
    if kind == "two bevels":
        edge, far = start.lineTo(60.6, 0.2).lineTo(61, 0.7).lineTo(61, 1.3).lineTo(60.6, 1.8).lineTo(60, 2), 61.0
    elif kind == "arc":
        edge, far = start.threePointArc((60.8, 1), (60, 2)), 60.8
    else:
        edge, far = start.spline([(60.4, 0.5), (60.9, 1), (60.4, 1.5), (60, 2)], includeCurrent=True), 60.9
    return edge.lineTo(0, 2).close().extrude(100), far


@pytest.mark.parametrize("kind", ["tongue", "pin", "weld", "two bevels", "arc", "spline"])
@pytest.mark.parametrize("more", ["alone", "countersunk", "with a standoff"])
def test_metal_beyond_both_skins_is_drawn_or_refused(kind: str, more: str) -> None:
    """Found by the outline's size: the blank must reach as far as the metal does."""
    part, far = hanging(kind)
    part = {"alone": part, "countersunk": sunk(part, 2.0), "with a standoff": tubed(part)}[more]
    came = outcome(part)
    if isinstance(came, UnfoldedPart):
        assert min(came.flat.width, came.flat.length) == pytest.approx(far, abs=0.025)


def test_slug_that_hangs_on_a_thin_joint_is_not_lost() -> None:
    part = plate(100, 60, 2).cut(post(60, 30, 5, -1, 3)).union(post(60, 30, 4, 0, 2))
    part = sunk(part.union(box((54.5, 29, 0.5), (65.5, 31, 1.5))), 2.0)
    held = 2 * (math.sqrt(24) + 25 * math.asin(1 / 5) - math.sqrt(15) - 16 * math.asin(1 / 4))  # between the circles
    right_or_refused(part, 6000 - math.pi * 10 + held, (100, 60))


# openings that are narrowest inside of the sheet


def bored(kind: str) -> Any:
    """A plate of 60 x 60 x 6 with a through hole of 6 mm diameter at (35, 35), widened in some way."""
    part = plate(60, 60, 6).cut(post(35, 35, 3, -1, 7))
    if kind == "counterbored from both":
        return part.cut(post(35, 35, 5, -1, 2)).cut(post(35, 35, 5, 4, 7))
    if kind == "counterbored, far rim broken":
        return part.cut(post(35, 35, 5, 4, 7)).cut(cone(35, 35, (0, 3.5), (0.5, 3)))
    if kind == "bored and sunk, far rim broken":
        part = part.cut(post(35, 35, 5, 5, 7)).cut(cone(35, 35, (3, 3), (5, 5)))
        return part.cut(cone(35, 35, (0, 3.5), (0.5, 3)))
    if kind == "sunk from both in two steps":
        for outer, inner in (((0, 6), (1, 4)), ((1, 4), (2.5, 3))):
            part = part.cut(cone(35, 35, outer, inner)).cut(
                cone(35, 35, (6 - inner[0], inner[1]), (6 - outer[0], outer[1]))
            )
        return part
    return part.cut(post(35, 35, 4, 2.5, 3.5))


@pytest.mark.parametrize(
    "kind",
    [
        "counterbored from both",
        "counterbored, far rim broken",
        "bored and sunk, far rim broken",
        "sunk from both in two steps",
        "grooved inside",
    ],
)
def test_hole_is_drawn_at_its_narrowest(kind: str) -> None:
    is_right(made(bored(kind)), 3600 - math.pi * 9, (60, 60), 1)
    is_right(made(sunk(bored(kind), 6.0)), 3600 - math.pi * 10, (60, 60), 2)


def test_holes_that_meet_in_a_hollow_only_are_no_opening_and_no_crash() -> None:
    part = plate(100, 60, 6).cut(box((30, 20, 2), (70, 40, 4))).cut(post(40, 30, 3, -1, 3)).cut(post(60, 30, 3, 3, 7))
    right_or_refused(part, 6000, (100, 60))


def test_hole_drilled_into_a_cut_edge_leaves_the_outline() -> None:
    import cadquery as cq

    drill = cq.Workplane(obj=cq.Solid.makeCylinder(1.65, 20, cq.Vector(81, 30, 3), cq.Vector(1, 0, 0)))
    formed = made(plate(100, 60, 6).cut(drill))
    is_right(formed, 6000, (100, 60), 0)
    assert told(formed)


def test_nut_over_a_larger_hole_leaves_the_hole_of_the_sheet() -> None:
    """The sheet is cut to 8 mm; the nut that is put on it has a bore of 6 mm."""
    import cadquery as cq

    nut = cq.Workplane("XY").polygon(6, 14).extrude(5).translate((30, 30, 2)).cut(post(30, 30, 3, 1, 9))
    formed = made(plate(60, 60, 2).cut(post(30, 30, 4, -1, 3)).union(nut))
    is_right(formed, 3600 - math.pi * 16, (60, 60), 1)
    assert "FG122" in told(formed)


# forms, and what stands on the sheet


def test_plunged_hole_is_no_standoff() -> None:
    """Its collar is drawn out of the sheet: the hole to be cut is smaller than the one in the solid."""
    import cadquery as cq

    s = math.sqrt(0.5)
    ring = cq.Workplane("XZ").moveTo(9, 2).lineTo(8, 2).threePointArc((8 - 3 * s, -1 + 3 * s), (5, -1)).lineTo(5, -6)
    ring = ring.lineTo(7, -6).lineTo(7, -1).threePointArc((8 - s, -1 + s), (8, 0)).lineTo(9, 0).close()
    collar = ring.revolve(360, (0, 0, 0), (0, 1, 0)).translate((30, 30, 0))
    part = plate(60, 60, 2).cut(post(30, 30, 8, -1, 3)).union(collar)
    with pytest.raises(InputRefused):
        made(part)
    assert "FG123" in told(made(part, FormedOptions(skip_formed=True)))


def test_blind_standoff_is_no_pressed_form() -> None:
    """A boss on one face, bored from the other: full metal about the bore, so nothing was stretched."""
    part = plate(60, 60, 2).union(post(30, 30, 4, 1, 9)).cut(post(30, 30, 2, -1, 6))
    came = outcome(part)
    if isinstance(came, str):
        assert "stretched" not in came
    else:
        assert "FG122" in told(came)
        is_right(came, 3600 - math.pi * 4, (60, 60), 1)  # the bore goes through the sheet, if not through the boss


def test_hole_under_a_patch_is_not_lost() -> None:
    """The sheet is pierced; what covers the hole is put on after."""
    part = plate(100, 60, 2).cut(post(50, 30, 5, -1, 3)).union(box((35, 15, 2), (65, 45, 3)))
    right_or_refused(part, 6000 - math.pi * 25, (100, 60))
    right_or_refused(sunk(part, 2.0), 6000 - math.pi * 26, (100, 60))


@pytest.mark.parametrize("bore", [0.0, 2.0], ids=["solid posts", "hollow posts"])
def test_second_sheet_on_posts_is_not_dropped_without_its_size(bore: float) -> None:
    part = plate(100, 60, 2).union(box((0, 0, 20), (100, 60, 22)))
    for x, y in ((10, 10), (90, 50)):
        part = part.union(post(x, y, 4, 1, 21))
        part = part.cut(post(x, y, bore, -1, 30)) if bore else part
    came = outcome(part)
    if isinstance(came, UnfoldedPart):
        assert any(re.search(r"100\S* x 60", f.text) for f in came.findings), came.findings


def test_heavy_boss_does_not_hide_the_sheet() -> None:
    formed = made(plate(60, 60, 2).union(box((20, 20, 1), (30, 30, 15))))
    is_right(formed, 3600, (60, 60), 0)
    assert told(formed) == {"FG122"}


def test_flanges_beside_one_another_are_no_standoff() -> None:
    """One up and one down on one edge, without a gap between."""
    up = quarter(2, 2, 10, 30, 60).union(box((62, 10, 4), (64, 30, 20)))
    down = quarter(2, 2, 30, 50, 60).union(box((62, 30, 4), (64, 50, 20))).mirror("XY").translate((0, 0, 2))
    formed = made(plate(60, 60, 2).union(up).union(down))
    is_right(formed, 3600 + 40 * (16 + USE), (60, 76 + USE))
    assert sorted(b.way for b in formed.flat.bends) == ["down", "up"]
    assert "FG122" not in told(formed)


# walls that stand one thickness apart by chance


def test_vents_whose_webs_are_as_wide_as_the_sheet_is_thick() -> None:
    spots = [(10 + 5 * n, 30) for n in range(18)]
    is_right(made(plate(120, 60, 2).cut(holes(spots, 3, 40, 2))), 7200 - 18 * 120, (120, 60), 18)


@pytest.mark.parametrize("margin", [2.0, 9.0])
def test_square_perforation_whose_webs_are_as_wide_as_the_sheet_is_thick(margin: float) -> None:
    """Holes of 10 mm, 12 mm apart, in 2 mm sheet."""
    spots = [(12 * i + 5 + margin, 12 * j + 5 + margin) for i in range(6) for j in range(4)]
    x, y = 70 + 2 * margin, 46 + 2 * margin
    is_right(made(plate(x, y, 2).cut(holes(spots, 10, 10, 2))), x * y - 24 * 100, (x, y), 24)


def test_bent_part_with_such_vents() -> None:
    part = strip([100.0, Turn(90.0, 2.0), 40.0], 2.0, 60.0)
    for n in range(15):
        part = part.cut(box((10 + 5 * n, -1, 10), (13 + 5 * n, 3, 50)))
    formed = made(part)
    is_right(formed, (140 + USE) * 60 - 15 * 120, (140 + USE, 60), 15)
    assert len(formed.flat.bends) == 1


@pytest.mark.parametrize("width", [4.0, 6.0])
def test_narrow_strip_that_is_wider_than_thick_is_bent(width: float) -> None:
    """2 mm sheet; seen from the side it could be an L cut from plate, but one thicker than it is wide."""
    formed = made(strip([60.0, Turn(90.0, 2.0), 25.0], 2.0, width))
    is_right(formed, (85 + USE) * width, (85 + USE, width), 0)
    assert [b.angle for b in formed.flat.bends] == pytest.approx([90.0])


@pytest.mark.parametrize("wish", [None, FormedOptions(inside_radius=1.0)], ids=["plain", "with a radius"])
def test_narrow_frame_cut_from_plate_is_not_taken_for_a_bent_bar(wish: FormedOptions | None) -> None:
    """3 mm plate, a C of strips 2.5 mm wide: cut most likely, but it could be a bar bent twice."""
    part = plate(100, 80, 3).cut(box((2.5, 2.5, -1), (101, 77.5, 4)))
    right_or_refused(part, 100 * 80 - 97.5 * 75, (100, 80), wish)


@pytest.mark.parametrize("deep", [1.0, 2.0])
def test_pocket_whose_margins_are_as_wide_as_the_sheet_is_thick(deep: float) -> None:
    """3 mm sheet, pockets 3 mm within three edges of the first leg."""
    part = strip([60.0, Turn(90.0, 3.0), 50.0], 3.0, 60.0).cut(box((3, 3 - deep, 3), (30, 4, 57)))
    formed = made(part)
    wide = 110 + math.radians(90) * (3 + K * 3)
    is_right(formed, wide * 60, (wide, 60), 0)
    assert "FG122" in told(formed)


@pytest.mark.parametrize("share", [0.5, 0.7])
def test_pocket_over_most_of_a_plate_does_not_change_its_thickness(share: float) -> None:
    side = 60 * math.sqrt(share)
    low = (60 - side) / 2
    formed = made(plate(60, 60, 3).cut(box((low, low, 2), (low + side, low + side, 4))))
    assert formed.flat.thickness == pytest.approx(3.0, abs=1e-6)
    is_right(formed, 3600, (60, 60), 0)


# edges, surfaces, sizes


@pytest.mark.parametrize("y", [0.0, 2.0], ids=["outer", "inner"])
def test_rim_bevelled_over_a_bend_is_told_once(y: float) -> None:
    part = strip([60.0, Turn(90.0, 2.0), 25.0], 2.0, 40.0).val()
    rim = [e for e in part.Edges() if abs(e.Center().z - 40) < 1e-6 and abs(e.Center().y - y) < 1e-6]
    formed = made(part.chamfer(0.5, None, rim[:1]))
    is_right(formed, (85 + USE) * 40, (85 + USE, 40), 0)
    assert told(formed) == {"FG127"}


def test_all_edges_rounded() -> None:
    """0.4 mm on every edge: in plan the four corners lose (1 - pi / 4) 0.4^2 each at most."""
    right = (85 + USE) * 40
    came = outcome(strip([60.0, Turn(90.0, 2.0), 25.0], 2.0, 40.0).edges().fillet(0.4))
    if isinstance(came, str):
        assert "check the solid" not in came
    else:
        flat = came.flat
        assert sorted((flat.width, flat.length)) == pytest.approx(sorted((85 + USE, 40.0)), abs=0.01)
        assert right - 4 * 0.4**2 <= flat.area <= right + 1e-3


def test_tree_whose_surfaces_are_all_splines() -> None:
    """Holes and arcs in spline faces: the kernel's plain area of such a face is off by thousandths."""
    import cadquery as cq
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    from tests.unfolding.trees import grown_tree

    tree, solid = grown_tree(35)
    rule = rule_for(None, tree.k)
    splines = cq.Shape.cast(BRepBuilderAPI_NurbsConvert(solid.wrapped, True).Shape())
    plain, other = unfold_formed(solid, rule).flat, unfold_formed(splines, rule).flat
    assert other.area == pytest.approx(plain.area, rel=1e-7)
    assert len(other.bends) == len(plain.bends) == 5
    assert sorted(o.area for o in other.openings) == pytest.approx(sorted(o.area for o in plain.openings), rel=1e-6)


@pytest.mark.parametrize("kind", ["slit tube", "half pipe"])
def test_part_without_any_flat_is_not_called_a_block(kind: str) -> None:
    turns = [Turn(170.0, 30.0)] * (2 if kind == "slit tube" else 1)
    came = outcome(strip([*turns], 2.0, 40.0))
    if isinstance(came, str):
        assert "stout" not in came
    else:
        long = len(turns) * math.radians(170) * (30 + K * 2)
        assert came.flat.area == pytest.approx(40 * long, rel=1e-6)


def test_part_in_metres_read_as_millimetres_is_right_or_refused() -> None:
    """2 mm sheet becomes 0.002 mm: within the slack of everything."""
    part = strip([60.0, Turn(90.0, 2.0), 25.0], 2.0, 40.0).cut(forms.rod(20, 20, 4, -1, 3))
    area = ((85 + USE) * 40 - math.pi * 16) * 1e-6
    came = outcome(part.val().scale(1e-3))
    if isinstance(came, UnfoldedPart):
        assert came.flat.area == pytest.approx(area, rel=1e-4)
