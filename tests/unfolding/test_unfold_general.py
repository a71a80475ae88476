"""The unfolder on solids that come from no definition: trees, orientation in space, start face, what it refuses."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import BendAllowance
from flatgen.unfolding import unfold
from flatgen.unfolding.read import read_shell
from flatgen.unfolding.skins import find_skins
from tests.places import PARTS

K = 0.44


def rule(axis: object, inside_radius: float, angle: float) -> BendAllowance:
    return BendAllowance(math.radians(angle) * (inside_radius + K * T), K, "K given")


T, R = 1.5, 2.0


def flanged(edges: str, flange: float = 12.0) -> Any:
    """A plate of 60 x 40 with flanges turned up by 90 on some of its edges (n, e, s, w), clear of the corners."""
    import cadquery as cq

    gap = 4.0
    body = cq.Workplane("XY").box(60, 40, T, centered=(True, True, False))
    for edge, (turn, reach, wide) in {
        "e": (0, 30, 40),
        "n": (90, 20, 60),
        "w": (180, 30, 40),
        "s": (270, 20, 60),
    }.items():
        if edge in edges:
            width = wide - 2 * gap
            profile = (
                cq.Workplane("XZ")
                .moveTo(0, 0)
                .radiusArc((R + T, R + T), -(R + T))
                .lineTo(R + T, R + T + flange)
                .lineTo(R, R + T + flange)
                .lineTo(R, R + T)
                .radiusArc((0, T), R)
                .close()
                .extrude(width / 2, both=True)
            )
            body = body.union(profile.translate((reach, 0, 0)).rotate((0, 0, 0), (0, 0, 1), turn))
    return body.val()


@pytest.mark.parametrize("edges", ["e", "en", "ew", "nesw", "nes"])
def test_flanges_on_any_edges_of_a_plate(edges: str) -> None:
    """By hand: each flange adds its allowance and its height to its side; area adds up from rectangles."""
    flat = unfold(flanged(edges), rule)
    allowance = math.pi / 2 * (R + K * T)
    add = allowance + 12.0
    wide, high = 60 + add * sum(e in edges for e in "ew"), 40 + add * sum(e in edges for e in "ns")
    area = 2400 + add * sum({"e": 32, "w": 32, "n": 52, "s": 52}[e] for e in edges)
    assert sorted((flat.width, flat.length)) == pytest.approx(sorted((wide, high)), abs=1e-6)
    assert flat.area == pytest.approx(area, rel=1e-9)
    assert len(flat.bends) == len(edges)
    assert {b.way for b in flat.bends} == {"up"}
    assert all(b.allowance == pytest.approx(allowance) for b in flat.bends)
    assert flat.outline.largest_gap < 1e-9


def corners(flat: Any) -> np.ndarray:
    return np.array(sorted((round(p.start[0], 5), round(p.start[1], 5)) for p in flat.outline))


@pytest.mark.parametrize("edges", ["en", "nes", "nesw"])
def test_result_does_not_depend_on_place_in_space(edges: str) -> None:
    import cadquery as cq

    solid = flanged(edges)
    expected = corners(unfold(solid, rule))
    for axis, angle in (((1, 0, 0), 90), ((1, 2, 3), 47), ((0, 1, 0), 180), ((3, -1, 2), 201)):
        turned = solid.rotate(cq.Vector(0, 0, 0), cq.Vector(*axis), angle).translate(cq.Vector(11, -7, 300))
        assert corners(unfold(turned, rule)) == pytest.approx(expected, abs=2e-5)


def test_mirrored_parts_give_mirrored_flats() -> None:
    """A part without symmetry and its mirror image: never the same flat turned."""
    import cadquery as cq

    solid = flanged("en").cut(cq.Workplane("XY").box(6, 5, 10).translate((-27, -12, 0)).val())
    flat, other = unfold(solid, rule), unfold(solid.mirror("YZ"), rule)
    assert flat.area == pytest.approx(other.area)
    one, two = corners(flat), corners(other)
    images = []
    for sx, sy in ((1, 1), (-1, -1), (-1, 1), (1, -1)):
        image = one * (sx, sy)
        image = image - image.min(axis=0)
        images.append(np.array(sorted(map(tuple, np.round(image, 4)))))
    near = [
        bool(i.shape == two.shape and np.allclose(i, np.array(sorted(map(tuple, np.round(two, 4)))), atol=1e-3))
        for i in images
    ]
    assert near[0] is False
    assert near[1] is False
    assert any(near[2:])


def test_round_openings_stay_round_and_windows_straight() -> None:
    import cadquery as cq

    tools = cq.Workplane("XY").circle(4).extrude(10).union(cq.Workplane("XY").box(8, 6, 10).translate((15, 0, 0)))
    flat = unfold(flanged("ew").cut(tools.val()), rule)
    assert sorted(o.area for o in flat.openings) == pytest.approx([48, math.pi * 16], rel=1e-9)
    assert all(o.signed_area < 0 for o in flat.openings)
    ring = next(o for o in flat.openings if len(o.pieces) == 1)
    assert ring.pieces[0].radius == pytest.approx(4, abs=1e-9)  # type: ignore[union-attr]


def test_one_bend_interrupted_by_a_slot_is_one_bend() -> None:
    import cadquery as cq

    slot = cq.Workplane("XY").box(12, 6, 12).translate((31, 3, 0)).val()
    flat = unfold(flanged("e").cut(slot), rule)
    assert len(flat.bends) == 1
    (bend,) = flat.bends
    assert len(bend.segments) == 2
    assert bend.length == pytest.approx(32 - 6, abs=1e-6)
    assert math.dist(*bend.centre) == pytest.approx(32, abs=1e-6)


def test_thickness_is_found() -> None:
    assert find_skins(read_shell(flanged("nesw"))).thickness == pytest.approx(T, abs=1e-9)


def test_what_is_no_sheet_is_refused() -> None:
    import cadquery as cq

    for solid, code in (
        (cq.Workplane("XY").sphere(5), "FG040"),
        (cq.Workplane("XY").circle(10).extrude(1).union(cq.Workplane("XY").circle(4).extrude(8)), "FG04"),
        (
            cq.Workplane("XY").box(1, 1, 1).union(cq.Workplane("XY").box(1, 1, 1).translate((5, 0, 0))),
            "FG040",
        ),
        (cq.Workplane("XY").box(40, 40, 20).faces(">Z").shell(-1.0), "FG04"),
    ):
        with pytest.raises(InputRefused) as refused:
            unfold(solid, rule)
        assert refused.value.faults[0].code.startswith(code)
        assert refused.value.faults[0].remedy


def test_a_flat_that_overlaps_itself_is_refused() -> None:
    """Two long flanges at a narrow inside corner would take the same metal of the sheet."""
    import cadquery as cq

    base = cq.Workplane("XY").polyline([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)]).close().extrude(T)
    section = (
        cq.Workplane("XZ")
        .moveTo(0, 0)
        .radiusArc((R + T, R + T), -(R + T))
        .lineTo(R + T, 30)
        .lineTo(R, 30)
        .lineTo(R, R + T)
        .radiusArc((0, T), R)
        .close()
        .extrude(12.5, both=True)
    )
    one = section.translate((20, 42, 0))
    two = section.rotate((0, 0, 0), (0, 0, 1), 90).translate((42, 20, 0))
    with pytest.raises(InputRefused) as refused:
        unfold(base.union(one).union(two).val(), rule)
    assert refused.value.faults[0].code == "FG042"


REAL = PARTS / "bendfm"


@pytest.mark.parametrize(
    ("part", "bends", "size", "flat_volume", "t"),
    [
        (0, 7, (649.3448, 459.5281), 921030.60, 5.52233),
        (1, 2, (437.6841, 297.8081), 271283.00, 3.13355),
        (2, 2, (406.2344, 256.7312), 164564.38, 2.07800),
        (3, 7, (715.3663, 357.8471), 490560.05, 3.25422),
    ],
)
def test_bendfm_parts(part: int, bends: int, size: tuple[float, float], flat_volume: float, t: float) -> None:
    """BenDFM data set (arXiv 2603.13102, MIT): folded STEP, developed by its authors with K = 0.45."""
    path = REAL / f"{part}.stp"
    if not path.exists():
        pytest.skip("the BenDFM parts are not beside this checkout")
    import cadquery as cq

    solid = cq.importers.importStep(str(path)).solids().val()
    thickness = find_skins(read_shell(solid)).thickness
    assert thickness == pytest.approx(t, abs=1e-4)

    def rule_045(axis: object, inside_radius: float, angle: float) -> BendAllowance:
        return BendAllowance(math.radians(angle) * (inside_radius + 0.45 * thickness), 0.45, "K given")

    flat = unfold(solid, rule_045)
    assert len(flat.bends) == bends
    assert sorted((flat.width, flat.length)) == pytest.approx(sorted(size), abs=0.01)
    assert flat.area == pytest.approx(flat_volume / thickness, rel=1e-6)


def test_a_face_holds_the_points_within_its_boundary_only() -> None:
    """A plate of 20 x 10 with a window of 4 x 4 in the middle."""
    import cadquery as cq

    shell = read_shell(cq.Workplane("XY").box(20, 10, 1).cut(cq.Workplane("XY").box(4, 4, 5)).val())
    top = next(n for n, f in enumerate(shell.faces) if f.area == pytest.approx(184) and shell.corner(n)[2] > 0)
    held = [
        shell.holds(top, np.array((x, y, 0.5))) for x, y in ((5, 1), (-9, 4.9), (0, 0), (1.9, -1.9), (11, 0), (0, 6))
    ]
    assert held == [True, True, False, False, False, False]


def test_a_solid_turned_inside_out_gives_the_same_flat() -> None:
    """As programs write mirrored parts: every face looks into the metal."""
    solid = flanged("en")
    one, two = unfold(solid, rule), unfold(solid.wrapped.Reversed(), rule)
    assert two.outline.area == pytest.approx(one.outline.area, rel=1e-12)
    assert (two.width, two.length) == pytest.approx((one.width, one.length), abs=1e-9)


@pytest.mark.parametrize("sweep", [1e-6, 1e-3, 0.5, 2.0, 90.0, 359.0, -1e-4, -120.0])
def test_area_under_flat_arcs_is_steady(sweep: float) -> None:
    """Chord and segment against the sector formula in 50 digits (the decimal module; derived)."""
    from decimal import Decimal, localcontext

    from flatgen.core.flat_pattern import Arc

    radius = 10.0 / math.radians(abs(sweep))
    arc = Arc((3.0, -radius + 2.0), radius, 80.0, sweep)
    with localcontext() as context:
        context.prec = 50
        s, x0, y0, x1, y1 = (Decimal(v) for v in (math.radians(sweep), *arc.start, *arc.end))
        term, sine, n = s, s, 1
        while abs(term) > Decimal(10) ** -45:
            n += 2
            term = -term * s * s / (n * (n - 1))
            sine += term
        true = (x0 * y1 - x1 * y0 + Decimal(radius) ** 2 * (s - sine)) / 2
    assert arc.area_term() == pytest.approx(float(true), rel=1e-9)
