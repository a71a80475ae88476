"""The road from definition to flat on random sections: two computations of every number, and a sabotage of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatgen.core.errors import IdentityFailed
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.fold import folded_volume, placements
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.solid import counterparts as agreement
from flatgen.jobs import draw as job
from tests.places import PROFILES
from tests.sections import random_section

THOROUGH = 500


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


@pytest.mark.parametrize("seed", both(THOROUGH))
def test_closed_form_solid_and_refold_agree(seed: int, tmp_path: Path) -> None:
    """Two paths coded apart: arithmetic on legs, and the unfolded solid; then the flat folded up again."""
    profile = random_section(seed, tmp_path)
    made = job.develop_solid(profile)
    flat, solid = made.flat, made.solid
    closed = develop(profile)
    assert flat.width == pytest.approx(closed.width, abs=1e-6)
    assert flat.length == pytest.approx(profile.length, abs=1e-6)
    for bend, zone in zip(flat.bends, closed.zones, strict=True):
        assert sorted(line[0][0] for line in bend.tangents) == pytest.approx(zone, abs=1e-6)
    assert folded_volume(flat) == pytest.approx(solid.Volume(), rel=1e-9)
    assert farthest_from(solid, refold_points(flat)[:: 3 + len(flat.bends)]) < 1e-6


def refold_points(flat: FlatPattern) -> np.ndarray:
    """Corners and middles of all edges of the flat's panels and zones, both faces, folded up: (n, 3) [mm]."""
    from flatgen.core.fold import fold_panel, fold_zone, placements

    placed, home = placements(flat), flat.panels[flat.root].placed

    def both_faces(loops: list[object]) -> np.ndarray:
        spots = [p.at(s) for loop in loops for p in loop for s in (0.0, 0.5)]  # type: ignore[attr-defined]
        return np.array([(x, y, z) for x, y in spots for z in (0.0, flat.thickness)])

    found = [
        fold_panel(home @ where, both_faces([lp for r in panel.regions for lp in (r.outline, *r.openings)]))
        for panel, where in zip(flat.panels, placed, strict=True)
    ]
    for bend in flat.bends:
        for part in bend.segments:
            found.append(fold_zone(flat, bend, home @ placed[bend.first], both_faces([part.zone, *part.openings])))
    return np.vstack(found)


def farthest_from(solid: object, points: np.ndarray) -> float:
    """Distance of the worst point to the solid's skin, by the kernel's own extrema search [mm]."""
    import cadquery as cq
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape

    shell = solid.Shells()[0]  # type: ignore[attr-defined]
    worst = 0.0
    for point in points:
        vertex = cq.Vertex.makeVertex(*(float(c) for c in point))
        worst = max(worst, BRepExtrema_DistShapeShape(vertex.wrapped, shell.wrapped).Value())
    return worst


@pytest.mark.parametrize("seed", both(THOROUGH))
def test_points_inside_the_flat_fold_onto_the_skins(seed: int, tmp_path: Path) -> None:
    """Random points of panels and zones, on both faces, against the section worked out apart: radii about the axes."""
    from flatgen.core.fold import fold_zone

    profile = random_section(seed, tmp_path)
    flat = job.develop_solid(profile).flat
    home = flat.panels[flat.root].placed
    placed = placements(flat)
    rng = np.random.default_rng(seed)
    for bend in flat.bends:
        low, _, high, _ = bend.segments[0].zone.box()
        x, y = rng.uniform(low, high, 5), rng.uniform(0, flat.length, 5)
        near = np.column_stack((x, y, np.full(5, flat.thickness)))
        folded = fold_zone(flat, bend, home @ placed[bend.first], near)
        (cx, _, cz), _ = bend.axis
        radius = bend.inside_radius + (0 if bend.way == "up" else flat.thickness)
        assert np.hypot(folded[:, 0] - cx, folded[:, 2] - cz) == pytest.approx(np.full(5, radius), abs=1e-6)
        assert folded[:, 1] == pytest.approx(y, abs=1e-6)


def profile_of(tmp_path: Path, name: str = "purlin") -> Path:
    source = PROFILES / f"{name}.toml"
    path = tmp_path / source.name
    path.write_bytes(source.read_bytes())
    return path


def longer_leg(profile: Profile) -> Profile:
    legs = (replace(profile.legs[0], length=profile.legs[0].length + 1e-4), *profile.legs[1:])
    return replace(profile, legs=legs)


def larger_allowance(profile: Profile) -> Profile:
    first = profile.bends[0]
    allowance = replace(first.allowance, length=first.allowance.length + 1e-5)
    return replace(profile, bends=(replace(first, allowance=allowance), *profile.bends[1:]))


@pytest.mark.parametrize("corrupt", [longer_leg, larger_allowance])
def test_a_corrupted_closed_form_stops_the_command(
    corrupt: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: object
) -> None:
    """One of two paths is made wrong: a leg by 0.1 um, an allowance by 0.01 um; exit status 3, nothing written."""
    monkeypatch.setattr(agreement, "develop", lambda profile: develop(corrupt(profile)))  # type: ignore[operator]
    result = run("draw", str(profile_of(tmp_path)), "--out", str(tmp_path / "out"))  # type: ignore[operator]
    assert result.exit_code == 3
    assert "FG900" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_corrupted_solid_stops_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: object) -> None:
    """The solid is built from a section with one leg 0.1 um too long."""
    from flatgen.definition.section import trace
    from flatgen.definition.solid import cutting as solid

    true_trace = trace
    monkeypatch.setattr(solid, "trace", lambda profile: true_trace(longer_leg(profile)))
    result = run("draw", str(profile_of(tmp_path)), "--out", str(tmp_path / "out"))  # type: ignore[operator]
    assert result.exit_code == 3
    assert not (tmp_path / "out").exists()


def test_a_bend_of_the_wrong_sign_stops_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: object
) -> None:
    """The solid has one bend turned the other way."""
    from flatgen.definition.section import trace
    from flatgen.definition.solid import cutting as solid

    true_trace = trace

    def turned(profile: Profile) -> object:
        first = profile.bends[0]
        other = replace(first, way="down" if first.way == "up" else "up")
        return true_trace(replace(profile, bends=(other, *profile.bends[1:])))

    monkeypatch.setattr(solid, "trace", turned)
    result = run("draw", str(profile_of(tmp_path)), "--out", str(tmp_path / "out"))  # type: ignore[operator]
    assert result.exit_code == 3
    assert "FG903" in result.stderr


@pytest.mark.parametrize("share", [1e-6, -1e-6])
def test_the_volume_identity_notices_a_wrong_k(share: float, tmp_path: Path) -> None:
    """A flat whose allowance does not belong to its K does not have the solid's volume."""

    check, flat = _checked(3, tmp_path)
    check(flat)
    bend = replace(flat.bends[0], k=flat.bends[0].k * (1 + 1e4 * share))
    with pytest.raises(IdentityFailed, match="FG90"):
        check(flat.with_bends((bend, *flat.bends[1:])))


def _checked(seed: int, folder: Path) -> tuple[Callable[[FlatPattern], None], FlatPattern]:
    """The checks of a random section's solid, and the flat that passes them."""
    from flatgen.definition.solid.counterparts import allowance_rule, definition_view
    from flatgen.definition.solid.cutting import build_solid
    from flatgen.unfolding.assemble import develop as develop_shell
    from flatgen.unfolding.identities import check_identities
    from flatgen.unfolding.read import read_shell
    from flatgen.unfolding.skins import find_skins

    profile = random_section(seed, folder)
    solid, found = build_solid(profile)
    shell = read_shell(solid)
    skins = find_skins(shell, profile.thickness)
    made = develop_shell(shell, skins, allowance_rule(profile, found), definition_view(solid, found))
    return lambda flat: check_identities(flat, made, shell), made.flat


def test_refold_notices_a_wrong_radius_or_way(tmp_path: Path) -> None:
    check, flat = _checked(5, tmp_path)

    def broken(**change: object) -> FlatPattern:
        return flat.with_bends((replace(flat.bends[0], **change), *flat.bends[1:]))  # type: ignore[arg-type]

    other = "down" if flat.bends[0].way == "up" else "up"
    for wrong in (broken(way=other), broken(angle=flat.bends[0].angle + 1e-4)):
        with pytest.raises(IdentityFailed, match="FG90"):
            check(wrong)


def test_the_flat_plate_is_a_part_too(tmp_path: Path) -> None:
    path = tmp_path / "plate.toml"
    path.write_text('metal = "DC01"\nthickness = "1 mm"\nlength = "50 mm"\nsection = [{ leg = "20 mm" }]\n')
    drawn = job.draw(path, tmp_path / "out")
    assert (drawn.flat.width, drawn.flat.length, drawn.flat.area) == pytest.approx((20, 50, 1000), abs=1e-9)
    assert drawn.exit_status == 0


def test_faa_channel_through_the_solid(tmp_path: Path) -> None:
    """FAA-H-8083-31 ch. 4 (seen in excerpts): .040 sheet, R .16, mould lines 1.00/2.00/1.00 in.

    With its BA of .27: total 3.74 in, flats .80/1.60/.80.
    """
    path = tmp_path / "u.toml"
    path.write_text(
        'metal = "2024-T3"\nthickness = "0.040 in"\ninside_radius = "0.16 in"\nlength = "3 in"\n'
        'allowance = "0.27 in"\nsection = [{ leg = "1.00 in" }, { bend = 90, way = "up" }, { leg = "2.00 in" },\n'
        '{ bend = 90, way = "up" }, { leg = "1.00 in" }]\n'
    )
    drawn = job.draw(path, tmp_path / "out")
    assert drawn.flat.width / 25.4 == pytest.approx(3.74, abs=1e-9)
    assert [leg["flat"] / 25.4 for leg in drawn.record()["legs"]] == pytest.approx([0.80, 1.60, 0.80], abs=1e-9)


def test_a_leg_turned_over_in_the_plane_of_the_root_does_not_turn_the_flat(tmp_path: Path) -> None:
    """Up, up, up, down brings a leg back to the root's level, far face up: the near face stays the walk's left."""
    legs = ("60", "20", "90", "20", "200")
    ways = ("up", "up", "up", "down")
    rows = [f'{{ leg = "{legs[0]} mm" }}']
    for way, leg in zip(ways, legs[1:], strict=True):
        rows += [f'{{ bend = 90, way = "{way}" }}', f'{{ leg = "{leg} mm" }}']
    path = tmp_path / "hook.toml"
    head = 'metal = "DC01"\nthickness = "1 mm"\ninside_radius = "2 mm"\nlength = "50 mm"\n'
    path.write_text(f"{head}section = [{', '.join(rows)}]\n")
    drawn = job.draw(path, tmp_path / "out")
    assert [b.way for b in drawn.flat.bends] == list(ways)
    levels = [round(p.placed[2, 3], 6) for p in (drawn.flat.panels[0], drawn.flat.panels[-1])]
    assert len(set(levels)) == 2  # far faces: one at 0, the turned one at t
