"""Parts that other people modelled, from STEP files beside the repository: each right, or refused with a reason.

Expected values: flats that the authors published, unfolded STEP files beside the folded ones, and, where there is
neither, developed sizes derived by hand from the files' own planes (shown at each). Right means size, bend lines
and opening centres to 0.05 mm, outline area to 0.03 %.
"""

from __future__ import annotations

import json
import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import FlatPattern
from tests.unfolding import flats_alike
from tests.unfolding.flats_of_authors import (
    BENDFM,
    K_OF,
    REAL,
    Outlines,
    compare,
    compared,
    flat_of_largest_face,
    largest_face,
    outlines_of,
    solids_of,
    unfolded,
)

pytestmark = pytest.mark.skipif(not REAL.is_dir(), reason="the real parts do not stand beside this repository")

K = 0.44  # for parts whose authors state none: our choice, used on both sides
QUARTER = math.pi / 2

BENDS = {  # bend axes, uninterrupted pieces of bend lines (as drawn by the authors), by the index of the parts
    "openamr_front_panel": 4,
    "openamr_side_panel": 16,
    "openamr_cover_hem": 10,
    "openamr_base_tray": 10,
    "openamr_wheel_bracket_outer": 2,
    "openamr_motor_bracket": 4,
    "openamr_center_bracket": 16,
    "openamr_support": 4,
    "rover6_central_bracket": 6,
    "rover6_front_rear_bracket": 9,
    "rover6_side_panel_flat0bends": 0,
    "rover6_wheel_support_bracket": 4,
    "kirigami_v0_bed": 7,
    "opencellular_oc2g_plate_flat0bends": 0,
    "pdu_lid_short": 2,
    "ocp_pcie_bracket_v2": 3,
}

NO_LINES = {"ocp_pcie_bracket_v2"}
"""Parts whose authors drew no bend lines in their flat."""


@cache
def _flat(part: str, k: float = K, **wish: Any) -> FlatPattern:
    (solid,) = solids_of(REAL / f"{part}.step")
    flat: FlatPattern = unfolded(solid, k, **wish).flat
    return flat


def _size(flat: FlatPattern) -> tuple[float, float]:
    """Larger size first."""
    return (max(flat.width, flat.length), min(flat.width, flat.length))


def _is_bent(flat: FlatPattern, *bends: tuple[float, float]) -> None:
    """Angles and inside radii of all bends are these."""
    found = sorted((b.angle, b.inside_radius) for b in flat.bends)
    assert found == [pytest.approx(b, abs=2e-3) for b in sorted(bends)]


# -- flats that the authors published --------------------------------------------------------------------------------


@pytest.mark.parametrize("part", K_OF)
def test_flat_is_that_of_the_authors(part: str) -> None:
    c = compared(part)
    assert c.ours == pytest.approx(c.theirs, abs=0.05)
    assert c.area == pytest.approx(0.0, abs=0.03)
    assert c.centre <= 0.05
    if part not in NO_LINES:
        assert c.line <= 0.05
        assert c.right
    assert len(_flat(part, K_OF[part]).bends) == BENDS[part]


def test_every_real_part_is_in_the_table() -> None:
    """A part that is added beside the repository must get its expected outcome here."""
    text = Path(__file__).read_text(encoding="utf-8")
    assert {p.stem for p in REAL.glob("*.step")} == {n for n in re.findall(r"\b[a-z0-9_]+\b", text) if _is_part(n)}
    assert {p.name.removesuffix(".flat.json") for p in REAL.glob("*.flat.json")} == set(K_OF)


def _is_part(name: str) -> bool:
    return (REAL / f"{name}.step").is_file()


def test_comparison_with_the_authors_can_fail() -> None:
    part = "openamr_motor_bracket"
    assert compared(part).right
    wrong = compare(part, outlines_of(_flat(part, 0.40)), _authors(part))
    assert not wrong.right
    assert wrong.size > 0.4  # 4 bends x 90 degrees x 2 mm x 0.07 = 0.88 mm, over both sides
    moved = outlines_of(_flat(part, K_OF[part]))
    (x, y), *others = moved.centres
    spoiled = type(moved)(moved.outline, ((x + 0.3, y), *others), moved.lines)
    assert not compare(part, spoiled, _authors(part)).right
    fewer = type(moved)(moved.outline, moved.centres, moved.lines[1:])
    assert not compare(part, fewer, _authors(part)).right


def _authors(part: str) -> Any:
    from tests.unfolding.flats_of_authors import authors_flat

    return authors_flat(part)


# -- mirrored pairs --------------------------------------------------------------------------------------------------

PAIRS = [("openamr_support", "openamr_support_mirrored", 0.47), ("opencellular_bracket_r", "opencellular_bracket_l", K)]


@pytest.mark.parametrize(("one", "other", "k"), PAIRS)
def test_mirrored_part_gives_the_mirror_image(one: str, other: str, k: float) -> None:
    here, there = (outlines_of(_flat(part, k)) for part in (one, other))
    same, mirror = (compare(one, here, there, (m,)) for m in (False, True))
    assert mirror.right
    assert mirror.edge < 0.01
    assert max(same.edge, same.line, same.centre) > 0.3


@pytest.mark.parametrize(("one", "other", "k"), PAIRS)
def test_mirrored_part_keeps_the_ways_of_its_bends(one: str, other: str, k: float) -> None:
    """A mirror swaps neither inside nor outside: the same face is near, each bend has its way."""
    here, there = (flats_alike.from_pattern(_flat(part, k), k) for part in (one, other))
    wanted = flats_alike.as_seen(flats_alike.mirror_image(here))
    assert min(flats_alike.worst(there, w)[0] for w in wanted) < 5e-3
    for unwanted in (here, flats_alike.other_face(flats_alike.mirror_image(here)), flats_alike.other_face(here)):
        assert unwanted in wanted or flats_alike.worst(there, unwanted)[0] > 0.05


# -- several solids --------------------------------------------------------------------------------------------------


def test_sheet_is_picked_from_six_solids() -> None:
    flats, refused = [], []
    for solid in solids_of(REAL / "openamr_support_assembly_6solids.step"):
        try:
            flats.append(unfolded(solid, 0.47).flat)
        except InputRefused as error:
            refused.append(error.faults[0].code)
    assert refused == ["FG040"] * 5
    assert len(flats) == 1
    alone = compare("assembly", outlines_of(flats[0]), _authors("openamr_support"))
    assert alone.right


# -- without a flat: developed by hand -------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["opencellular_bracket_l", "opencellular_bracket_r"])
def test_bracket_has_the_size_derived_from_its_planes(part: str) -> None:
    """Legs 10.7899 and 19.6967 mm beyond the tangent lines, ri 4.7752, t 3, 121.92 long."""
    flat = _flat(part)
    around = 10.7899 + QUARTER * (4.7752 + K * 3) + 19.6967
    assert _size(flat) == pytest.approx((121.92, around), abs=0.002)
    _is_bent(flat, (90.0, 4.7752))


def test_support_frame_has_the_size_derived_from_its_planes() -> None:
    """Flange, bend, web, bend, flange one way; web, bend, foot the other way; the inner edge of one bend is sharp.

    All from the text of the file: web between x = 0 and 1.5, flanges at y = -1.5 / 0 and 40 / 41.5 up to x = 10,
    foot at z = 0 / 1.5 up to x = 21, web up to z = 150; inside radius 0.002, outside 1.502.
    """
    planes = _planes(REAL / "ender3_support_frame.step")
    across, up, out = (sorted({abs(at) for n, at in planes if abs(n[axis]) > 0.999}) for axis in (1, 2, 0))
    assert {0.0, 1.5, 40.0, 41.5} <= {round(v, 6) for v in across}
    assert {0.0, 1.5, 150.0} <= {round(v, 6) for v in up}
    assert {0.0, 1.5, 10.0, 21.0} <= {round(v, 6) for v in out}
    t, r = 1.5, 0.002
    allowance = QUARTER * (r + K * t)
    flange, web, height, foot = 10 - t - r, 40 - 2 * r, 150 - t - r, 21 - t - r
    wide, high = 2 * (flange + allowance) + web, height + allowance + foot
    flat = _flat("ender3_support_frame")
    assert _size(flat) == pytest.approx((high, wide), abs=0.005)
    _is_bent(flat, *[(90.0, r)] * 3)
    # three slots, the round window, two holes in the foot
    assert len(flat.openings) == 6


def _planes(path: Path) -> list[tuple[tuple[float, ...], float]]:
    """Normal and distance from the origin of every plane, from the text of a STEP file."""
    text = re.sub(r"\s+", "", path.read_text(encoding="latin-1"))
    number = {n: (kind, rest) for n, kind, rest in re.findall(r"#(\d+)=([A-Z0-9_]+)\((.*?)\);", text)}

    def triple(key: str) -> tuple[float, ...]:
        return tuple(float(v) for v in re.findall(r"\(([-+.,\dE]+)\)", number[key][1])[0].split(","))

    found = []
    for kind, rest in number.values():
        if kind == "PLANE":
            point, normal, *_ = re.findall(r"#(\d+)", number[re.findall(r"#(\d+)", rest)[0]][1])
            found.append((triple(normal), math.fsum(a * b for a, b in zip(triple(point), triple(normal), strict=True))))
    assert len(found) == len(re.findall(r"=PLANE\(", text)) > 0
    return found


def test_enclosure_has_the_size_derived_from_its_planes() -> None:
    """Base from x = -82.5 to the bend at 62.5, wall 36.9268 high, lip 13.4634; the other wall 38.4634 high.

    t 0.8, ri 0.7366. Along the second wall the part reaches from the bend at z = -56.5 to z = 96.5.
    """
    flat = _flat("ender3_enclosure_bottom")
    t, r = 0.8, 0.7366
    allowance = QUARTER * (r + K * t)
    wall, lip = 39.2 - 2 * r - 2 * t + t, 62.5 - t - r - 47.5
    one = 82.5 + 62.5 - t - r + allowance + wall + allowance + lip
    other = 39.2 - r + allowance + 96.5 + 56.5 - t - r
    assert _size(flat) == pytest.approx((one, other), abs=0.05)
    _is_bent(flat, *[(90.0, r)] * 3)


@pytest.mark.parametrize(
    ("part", "solid", "code", "face"),
    [
        ("framework_hinge_l_assembly", 0, "FG041", "270.0 deg"),  # a knuckle curled through three quarters of a turn
        ("oxygen_3mm_8solids", 2, "FG044", "a gap of 0.002 mm"),  # a plate that is sound; the unfolder's own limit
        ("picogus_bracket", 0, "FG046", "corner"),  # sharp inside, round outside, notches flush with the corner
    ],
)
def test_what_is_not_taken_yet_is_refused_with_its_place(part: str, solid: int, code: str, face: str) -> None:
    with pytest.raises(InputRefused) as refused:
        unfolded(solids_of(REAL / f"{part}.step")[solid], K)
    (fault,) = refused.value.faults
    assert fault.code == code
    assert face in fault.text


def test_sharp_motor_bracket_cannot_be_rounded_and_says_where() -> None:
    """Its base runs on beside the corner (x 24.8 to 27.7, 0.5 over the flange): bent, metal would be there twice."""
    with pytest.raises(InputRefused) as refused:
        _flat("ender3_e_motor_bracket_sharp", inside_radius=2.5)
    (fault,) = refused.value.faults
    assert fault.code == "FG046"
    assert "y 41.03, z -29.40" in fault.where


def test_sharp_lcd_support_has_the_size_derived_from_its_planes() -> None:
    """Inner faces meet at (43, -2), 65 degrees, t 2; legs 43 and 133.7111 - (43, -2) . (0.42262, -0.90631)."""
    r, t, angle = 2.0, 2.0, math.radians(65)
    flat = _flat("ender3_lcd_support_sharp", inside_radius=r)
    leg = 133.7111 - (43 * math.cos(angle) + 2 * math.sin(angle))
    around = 43 + leg - 2 * r * math.tan(angle / 2) + angle * (r + K * t)
    assert _size(flat) == pytest.approx((around, 102.0), abs=0.05)
    _is_bent(flat, (65.0, r))


@pytest.mark.parametrize("part", ["ender3_e_motor_bracket_sharp"])
def test_sharp_corner_without_a_radius_asks_for_one(part: str) -> None:
    with pytest.raises(InputRefused) as refused:
        _flat(part)
    assert {f.code for f in refused.value.faults} == {"FG046"}
    assert "inside" in refused.value.faults[0].remedy


def test_wedge_is_refused_for_its_dimples_naming_a_face() -> None:
    with pytest.raises(InputRefused) as refused:
        _flat("opencellular_wedge")
    assert {f.code for f in refused.value.faults} == {"FG041"}
    assert re.search(r"face \d+", str(refused.value))


def test_wedge_around_its_dimples_has_the_size_derived_from_its_planes() -> None:
    """Strips lean by 5.018247 degrees: each is laid out along its edge's own directions, out and down.

    Per edge, out from the middle line: tangent line at 31.6822, allowance, 3.03 flat, allowance, lip of 9.45; down
    from 33.0067 to 154.4032. Base from z = -29.584 to -151.04. Corners of the lips rounded by R10.2 and R6.4.
    """
    flat = _flat("opencellular_wedge", skip_formed=True)
    lean, tangent, top, end = math.radians(5.018247), 31.6822, 33.0067, 154.4032
    edge = tangent + 2 * QUARTER * (3 + K * 3) + 3.03 + 9.45

    def at(out: float, down: float) -> tuple[float, float]:
        return (out * math.cos(lean) + down * math.sin(lean), out * math.sin(lean) - down * math.cos(lean))

    def corner(out: float, down: float, first: float, radius: float) -> list[tuple[float, float]]:
        turns = [math.radians(first + a) for a in range(91)]
        return [at(out + radius * math.cos(a), down - radius * math.sin(a)) for a in turns]

    begin = ((tangent - -29.584 * math.sin(lean)) / math.cos(lean), -29.584)
    rounds = corner(edge - 6.4, end - 6.4, -90, 6.4) + corner(edge - 10.2, top + 10.2, 0, 10.2)
    right = [at(tangent, end), *rounds, at(tangent, top), begin]
    assert right[0][1] == pytest.approx(-151.04, abs=0.001)
    outline = right + [(-x, z) for x, z in reversed(right)]
    expected = Outlines(tuple(outline), ((0.0, -114.75), (0.0, -78.46)), ())
    ours = outlines_of(flat)
    c = compare("wedge", ours, expected)
    assert c.size < 0.05
    assert c.edge < 0.05
    assert c.centre < 0.05
    assert c.area == pytest.approx(0.0, abs=0.03)
    _is_bent(flat, *[(90.0, 3.0)] * 4)
    assert sorted(f.box()[2] - f.box()[0] for f in flat.forms) == pytest.approx([23.9, 23.9], abs=0.2)


# -- folded and unfolded STEP of one data set ------------------------------------------------------------------------

BOXES = {0: (649.3448, 459.5281), 1: (437.6841, 297.8081), 2: (406.2344, 256.7312), 3: (715.3663, 357.8471)}


@cache
def _bendfm(number: int) -> tuple[FlatPattern, Any]:
    (folded,) = solids_of(BENDFM / f"{number}.stp")
    (flat,) = solids_of(BENDFM / f"{number}_unfolded.stp")
    return unfolded(folded, 0.45).flat, flat


@pytest.mark.skipif(not BENDFM.is_dir(), reason="the data set does not stand beside this repository")
@pytest.mark.parametrize("number", range(4))
def test_flat_is_the_unfolded_solid_of_the_data_set(number: int) -> None:
    """K = 0.45; box to 0.01 mm, area (volume of the unfolded solid / t) and perimeter of its largest face, bends."""
    ours, solid = _bendfm(number)
    outline = flat_of_largest_face(solid)
    c = compare(f"bendfm {number}", outlines_of(ours), outline)
    thickness = float(_labels(number)["sheet_thickness"])
    assert ours.thickness == pytest.approx(thickness, abs=1e-5)
    assert c.size < 0.01
    assert c.edge < 0.01
    assert ours.area == pytest.approx(solid.Volume() / thickness, rel=1e-6)
    perimeter = math.fsum(e.Length() for e in largest_face(solid).outerWire().Edges())
    assert ours.outline.perimeter == pytest.approx(perimeter, rel=1e-5)
    assert len(ours.bends) == _labels(number)["total_bends"]


@pytest.mark.skipif(not BENDFM.is_dir(), reason="the data set does not stand beside this repository")
@pytest.mark.parametrize("number", range(4))
def test_box_of_the_data_set(number: int) -> None:
    """The box of the unfolded solid as it lies in its file, ours turned alike."""
    ours, solid = _bendfm(number)
    box = solid.BoundingBox()
    sizes = sorted((box.xlen, box.ylen, box.zlen))[1:]
    assert tuple(reversed(sizes)) == pytest.approx(BOXES[number], abs=1e-3)
    assert _size(ours) == pytest.approx(BOXES[number], abs=0.01)


@cache
def _labels(number: int) -> dict[str, float]:
    labels: dict[str, float] = json.loads((BENDFM / f"{number}_labels.json").read_text(encoding="utf-8"))
    return labels
