"""Beams, sections and load against worked figures, an independent frame solver and the kernel's own integrals.

Worked figures: computed and checked apart, the steel case (250 MPa, 1.5 mm, 600 mm) and the beams of 900 and 600 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss

from flatgen.brake import beams as sections
from flatgen.brake.beams import LineLoad, beam_response, patch_deflection, patch_moment
from flatgen.brake.load import load_findings, load_of, moment_per_length
from flatgen.brake.springback import Strength
from flatgen.core.shop import Beam, Section, Stand
from tests.brake.shops import BAR, beam, shop

E, G = 205_000.0, 79_000.0
STEEL = Strength(250.0, 250.0, 205_000.0, 0.3, "steel of the worked case")
PARTS = {
    "bar": (sections.bar_section(16, 80), [(0, 0, 16, 80)]),
    "angle": (sections.angle_section(50, 50, 6), [(0, 0, 50, 6), (0, 6, 6, 50)]),
    "unequal angle": (sections.angle_section(75, 50, 8), [(0, 0, 75, 8), (0, 8, 8, 50)]),
    "channel": (sections.channel_section(40, 80, 5), [(0, 0, 5, 80), (5, 0, 40, 5), (5, 75, 40, 80)]),
    "box": (sections.tube_section(60, 40, 4), [(0, 0, 60, 4), (0, 36, 60, 40), (0, 4, 4, 36), (56, 4, 60, 36)]),
}


def integrals(rectangles: list[tuple[float, float, float, float]]) -> tuple[float, float, float]:
    """Ix, Iy, |Ixy| about the centroid by Gauss's quadrature, exact for these polynomials."""
    nodes, weights = leggauss(3)
    points, masses = [], []
    for x0, y0, x1, y1 in rectangles:
        for u, a in zip(nodes, weights, strict=True):
            for v, b in zip(nodes, weights, strict=True):
                points.append(((x0 + x1 + u * (x1 - x0)) / 2, (y0 + y1 + v * (y1 - y0)) / 2))
                masses.append(a * b * (x1 - x0) * (y1 - y0) / 4)
    p, m = np.array(points), np.array(masses)
    p = p - (m @ p) / m.sum()
    return float(m @ p[:, 1] ** 2), float(m @ p[:, 0] ** 2), abs(float(m @ (p[:, 0] * p[:, 1])))


@pytest.mark.parametrize("name", PARTS)
def test_second_moments_against_numerical_integration(name: str) -> None:
    found, rectangles = PARTS[name]
    ix, iy, ixy = integrals(rectangles)
    assert found.ix == pytest.approx(ix, rel=1e-12)
    assert found.iy == pytest.approx(iy, rel=1e-12)
    assert abs(found.ixy) == pytest.approx(ixy, rel=1e-12, abs=1e-6)


@pytest.mark.parametrize("name", ["channel"])
def test_second_moments_against_the_kernel(name: str) -> None:
    """The modelling kernel's surface integrals about the centroid (open cascade, GProp)."""
    import cadquery as cq
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found, rectangles = PARTS[name]
    work = cq.Workplane()
    for x0, y0, x1, y1 in rectangles:
        work = work.union(cq.Workplane().box(x1 - x0, y1 - y0, 1, centered=False).translate((x0, y0, 0)))
    face = work.faces("<Z").val()
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face.wrapped, props)
    tensor = props.MatrixOfInertia()
    assert found.ix == pytest.approx(tensor.Value(1, 1), rel=1e-6)
    assert found.iy == pytest.approx(tensor.Value(2, 2), rel=1e-6)
    assert abs(found.ixy) == pytest.approx(abs(tensor.Value(1, 2)), rel=1e-6, abs=1e-3)


def prandtl(rectangles: list[tuple[float, float, float, float]], step: float) -> float:
    """Torsion constant by Prandtl's membrane on a grid: J = 2 integral of phi, laplace(phi) = -2; open sections."""
    from scipy.sparse import diags
    from scipy.sparse.linalg import spsolve

    wide = max(r[2] for r in rectangles)
    high = max(r[3] for r in rectangles)
    xs = np.arange(step, wide - step / 2, step)
    ys = np.arange(step, high - step / 2, step)
    gx, gy = np.meshgrid(xs, ys, indexing="ij")
    inside = np.zeros(gx.shape, dtype=bool)
    for x0, y0, x1, y1 in rectangles:  # closed on shared sides
        grow = [0.0 if side in (0.0, wide, high) else step / 10 for side in (x0, y0, x1, y1)]
        inside |= (gx > x0 - grow[0]) & (gx < x1 - step / 10) & (gy > y0 - grow[1]) & (gy < y1 - step / 10)
    number = -np.ones(gx.shape, dtype=int)
    number[inside] = np.arange(inside.sum())
    rows, cols = [], []
    for axis in (0, 1):
        a = number[:-1] if axis == 0 else number[:, :-1]
        b = number[1:] if axis == 0 else number[:, 1:]
        both = (a >= 0) & (b >= 0)
        rows += [a[both], b[both]]
        cols += [b[both], a[both]]
    size = int(inside.sum())
    from scipy.sparse import coo_matrix

    r, c = np.concatenate(rows), np.concatenate(cols)
    matrix = diags([4.0], [0], shape=(size, size)) - coo_matrix((np.ones(len(r)), (r, c)), shape=(size, size))
    phi = spsolve(matrix.tocsc(), np.full(size, 2 * step**2))
    return float(2 * phi.sum() * step**2)


@pytest.mark.parametrize(
    ("name", "step", "within"), [("bar", 1.0, 0.03), ("angle", 0.5, 0.06), ("unequal angle", 1.0, 0.08)]
)
def test_torsion_constant_against_the_membrane(name: str, step: float, within: float) -> None:
    """Handbook sums leave out the stiffer corner of an angle: within a few per cent, on the soft side or near it."""
    found, rectangles = PARTS[name]
    assert found.j == pytest.approx(prandtl(rectangles, step), rel=within)


@pytest.mark.parametrize(("width", "told"), [(900, 4.1673), (600, 3.6220), (300, 2.1094)])
def test_deflection_under_a_centred_patch(width: float, told: float) -> None:
    assert patch_deflection(20, width, 900, 205e3 * 2e5) == pytest.approx(told, abs=5e-5)


@pytest.mark.parametrize("built_in", [False, True])
@pytest.mark.parametrize("width", [150, 450, 900])
def test_beam_against_a_frame_solver(width: float, built_in: bool) -> None:
    """PyNite (direct stiffness method), deflection at mid span and the largest moment. Shear has no part in either."""
    Pynite = pytest.importorskip("Pynite", reason="the frame solver of the test extra is not installed")
    model = Pynite.FEModel3D()
    model.add_node("left", 0, 0, 0)
    model.add_node("middle", 450, 0, 0)
    model.add_node("right", 900, 0, 0)
    model.add_material("steel", E, G, 0.3, 7.85e-6)
    model.add_section("section", 1000, 2e5, 2e5, 1e5)
    for name, ends in (("one", ("left", "middle")), ("two", ("middle", "right"))):
        model.add_member(name, *ends, "steel", "section")
    for node in ("left", "right"):
        model.def_support(node, True, True, True, True, built_in, built_in)
    model.add_member_dist_load("one", "Fy", -20, -20, 450 - width / 2, 450)
    model.add_member_dist_load("two", "Fy", -20, -20, 0, width / 2)
    model.analyze(check_statics=False)
    deflection = -model.nodes["middle"].DY["Combo 1"]
    moments = [model.members[m].max_moment("Mz") for m in ("one", "two")]
    moments += [-model.members[m].min_moment("Mz") for m in ("one", "two")]
    assert patch_deflection(20, width, 900, E * 2e5, built_in=built_in) == pytest.approx(deflection, rel=1e-6)
    assert patch_moment(20, width, 900, built_in=built_in) == pytest.approx(max(moments), rel=1e-3)


@pytest.mark.parametrize(
    ("section", "mm", "degrees"),
    [
        (sections.bar_section(16, 80), 0.10, 0.28),
        (sections.angle_section(50, 50, 6), 0.78, 2.2),
        (sections.angle_section(75, 50, 8), None, 0.54),
    ],
    ids=["bar", "angle", "unequal"],
)
def test_deflection_and_loss_of_beams(section: Section, mm: float | None, degrees: float) -> None:
    """q 8.1 N/mm over a span of 600, a = 20. With Ix alone the angles would give 0.52 mm and 0.37 degrees: wrong."""
    ways = [LineLoad(0.0, 8.1), LineLoad(8.1, 0.0)]
    found = [beam_response(Beam(section, 600, E, G), 600, (way,), 0.0 if way.y else 90.0) for way in ways]
    given = [abs(b.deflection) for b in found if b is not None]
    lost = [math.degrees(d / 20) for d in given]
    assert min(abs(d - degrees) for d in lost) < 0.07 * degrees
    if mm is not None:
        assert min(abs(d - mm) for d in given) < 0.02 * max(mm, 0.5)


def test_an_angle_held_sideways_bends_with_ix_alone() -> None:
    section = sections.angle_section(50, 50, 6)
    held = beam_response(Beam(section, 600, E, G, sideways_held=True), 600, (LineLoad(0.0, 8.1),), 0.0)
    assert held is not None
    assert held.deflection == pytest.approx(0.52, rel=0.03)  # printed to two digits


@pytest.mark.parametrize(
    ("section", "degrees"),
    [
        (sections.angle_section(50, 50, 6), 3.1),
        (sections.angle_section(75, 50, 8), 1.06),
        (sections.bar_section(16, 80), 0.22),
    ],
    ids=["angle", "unequal", "bar"],
)
def test_twist_of_the_leaf_by_where_the_handle_sits(section: Section, degrees: float) -> None:
    """m L2 / (2 G J) with m = 162 N, L = 600, a handle at one end; a quarter of it at the middle or both ends."""
    own = shop()
    setup = replace(own.setups[0], leaf=replace(own.setups[0].leaf, beam=beam(section, 600)))
    for handles, share in (("one end", 1.0), ("middle", 0.25), ("both ends", 0.25)):
        brake = replace(own.brake, lever=replace(own.brake.lever, handles=handles))
        found = load_of(1.5, 600, 20, 0, 90, STEEL, brake, setup)
        assert found.twist == pytest.approx(share * degrees, rel=0.03)


@pytest.mark.parametrize(("arm", "q"), [(10, 16.2), (20, 8.1), (40, 4.1)])
def test_the_steel_case(arm: float, q: float) -> None:
    """250 MPa, 1.5 mm, 600 mm: m 162 N, torque 97 N m, 195 N at a lever of 500, the leaf weighing nothing."""
    own = shop()
    setup = replace(own.setups[0], leaf=replace(own.setups[0].leaf, mass=0.0))
    brake = replace(own.brake, lever=replace(own.brake.lever, length=500.0))
    found = load_of(1.5, 600, arm, 0, 90, STEEL, brake, setup)
    assert found.moment == pytest.approx(162, abs=0.5)
    assert found.torque == pytest.approx(97e3, rel=0.006)
    assert found.handle == pytest.approx(195, abs=0.5)
    assert found.line_load == pytest.approx(q, abs=0.06)


@pytest.mark.parametrize(("t", "yield_", "told"), [(1.6, 276, 204.0), (1.5, 280, 181.9)])
def test_plane_strain_moment(t: float, yield_: float, told: float) -> None:
    """6061-T6 and DC01: derived from Marciniak, Duncan, Hu, Mechanics of Sheet Metal Forming, eq. 6.21 and p. 88."""
    assert moment_per_length(t, Strength(yield_, yield_, 7e4, 0.33, "")) == pytest.approx(told, abs=0.05)


def test_torque_grows_by_the_setback_and_the_leaf() -> None:
    """m L (1 + SB/a) + W b cos 0: by hand for a = 20, SB = 5, 8 kg at 25 mm."""
    own = shop()
    found = load_of(1.5, 600, 20, 5, 90, STEEL, own.brake, own.setups[0])
    by_hand = 2 / math.sqrt(3) * 250 * 1.5**2 / 4 * 600 * 1.25 + 8 * 9.80665 * 25
    assert found.torque == pytest.approx(by_hand, rel=1e-4)
    assert found.handle_at == 0


def test_the_clamp_bar_is_pushed_backward_as_the_leaf_comes_up() -> None:
    """At a leaf angle of 90 the bar gives way along x under q alone: q / (E Iy) with Iy of the bar 60 x 40."""
    own = shop()
    found = load_of(1.5, 600, 20, 0, 90, STEEL, own.brake, own.setups[0])
    clamp = own.setups[0].clamp.beam
    assert clamp is not None
    by_hand = patch_deflection(found.line_load, 600, clamp.span, clamp.modulus * BAR.iy)
    assert found.deflection_clamp == pytest.approx(by_hand, rel=1e-9)


def told_of(**changes: object) -> dict[str, str]:
    own = shop()
    setup = replace(own.setups[0], **{k: v for k, v in changes.items() if k in ("leaf", "clamp")})
    brake = replace(own.brake, **{k: v for k, v in changes.items() if k not in ("leaf", "clamp", "thickness")})
    t = float(changes.get("thickness", 0.5))  # type: ignore[arg-type]
    load = load_of(t, 600, 20, 2, 90, STEEL, brake, setup)
    return {f.code: f"{f.text}; {f.remedy}" for f in load_findings("bend A", "x", load, brake, setup, 1.0, 95.0)}


def test_findings_name_what_is_passed_and_what_is_not_known() -> None:
    light = told_of()
    heavy = told_of(thickness=3.0)
    assert "FG135" not in light
    assert {"FG135", "FG136", "FG137"} <= set(heavy)
    assert "300 N" in heavy["FG135"]
    unknown = told_of(hinge_limit=None, clamp_limit=None)
    assert "not checked" in unknown["FG138"]


def test_a_longer_lever_is_named_only_where_all_limits_are_given_and_kept() -> None:
    """The owner's hinge, clamp bar and beams: one that is unknown, or passed, and no lever is spoken of."""
    wide = {"hinge_limit": 1e9, "clamp_limit": 1e9}
    own = shop().setups[0]
    assert own.leaf.beam is not None
    assert own.clamp.beam is not None

    def remedy(most: float | None, other: float | None, **limits: float | None) -> str:
        strong = {
            "leaf": replace(own.leaf, beam=replace(own.leaf.beam, stress_limit=most)),
            "clamp": replace(own.clamp, beam=replace(own.clamp.beam, stress_limit=other)),
        }
        return told_of(thickness=3.0, **strong, **{**wide, **limits})["FG135"].split(";", 1)[1]

    assert "lever" in remedy(1e9, 1e9)
    for never in (
        remedy(None, 1e9),
        remedy(1e9, None),
        remedy(1.0, 1e9),
        remedy(1e9, 1.0),
        remedy(1e9, 1e9, hinge_limit=None),
        remedy(1e9, 1e9, clamp_limit=None),
        remedy(1e9, 1e9, hinge_limit=1.0),
        remedy(1e9, 1e9, clamp_limit=1.0),
    ):
        assert "lever" not in never
        assert "clamp force" not in never


def test_bending_stress_of_a_bar() -> None:
    """q L2/8 c/I by hand, 8.1 N/mm over 600: M = 364,500 N mm; 80 high: I 682,667, c 40: 21.36 MPa; 16 high: I 27,307,
    c 8: 106.8 MPa."""
    bar = Beam(sections.bar_section(16, 80), 600, E, G)
    for push, told in ((LineLoad(0.0, 8.1), 21.357), (LineLoad(8.1, 0.0), 106.787)):
        found = beam_response(bar, 600, (push,), 0.0)
        assert found is not None
        assert found.stress == pytest.approx(told, rel=1e-4)


def test_bending_stress_of_an_angle_about_its_principal_axes() -> None:
    """Coded apart: the moment split along the principal axes of the tensor, at the corners of the section's box."""
    section = sections.angle_section(75, 50, 8)
    moment = 8.1 * 600**2 / 8
    values, vectors = np.linalg.eigh(np.array([[section.iy, section.ixy], [section.ixy, section.ix]]))
    load = vectors.T @ np.array([0.0, moment])  # along the principal directions; I against them: the same tensor
    corners = [np.array([a * section.far_x, b * section.far_y]) for a in (-1, 1) for b in (-1, 1)]
    by_hand = max(abs(float(np.sum(load / values * (vectors.T @ c)))) for c in corners)
    found = beam_response(Beam(section, 600, E, G), 600, (LineLoad(0.0, 8.1),), 0.0)
    assert found is not None
    assert found.stress == pytest.approx(by_hand, rel=1e-9)


def test_a_light_stand_may_tip() -> None:
    stand = Stand(8.0, 50.0, 40.0, 900.0, feet_behind=30.0)
    assert "FG143" in told_of(thickness=3.0, stand=stand)


def test_forces_on_hinge_and_clamp_bar_and_the_shim_by_hand() -> None:
    """m = 2/sqrt3 250 1.5^2/4 = 162.38 N. a = 20: q = 8.119 N/mm. Clamping 30 mm behind the nose: m/c = 5.413 N/mm.
    Clamp bar (8.119 + 5.413) 600 = 8119 N. One hinge: half of 8.119 600 and of 8 kg, 2435.7 + 39.2 N, and the handle:
    (162.38 600 + 8 9.80665 25)/600 = 165.65 N. The shim is what both beams give."""
    own = shop()
    found = load_of(1.5, 600, 20, 0, 90, STEEL, own.brake, own.setups[0])
    assert found.clamp_force == pytest.approx(8119.0, rel=1e-4)
    assert found.handle == pytest.approx(165.65, rel=1e-4)
    assert found.hinge_force == pytest.approx(2435.7 + 39.23 + 165.65, rel=1e-4)
    assert found.deflection_leaf is not None
    assert found.deflection_clamp is not None
    assert min(found.deflection_leaf, found.deflection_clamp) > 0
    assert found.shim == pytest.approx(found.deflection_leaf + found.deflection_clamp, rel=1e-12)
    assert found.loss == pytest.approx(math.degrees((found.shim or 0) / 20) + (found.twist or 0), rel=1e-12)
