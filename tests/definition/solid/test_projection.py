"""Views of formed parts: sizes and edges by hand, and what rays meet that are shot at a mesh of the part."""

from __future__ import annotations

import itertools
import math
import random
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from flatgen.core.flat_pattern import Arc
from flatgen.definition.reader import read_profile
from flatgen.definition.solid.projection import _DIRECTIONS, PartViews, project_views
from flatgen.definition.solid.view_lines import Polyline, View, straight_stretches, view_from_edges
from flatgen.jobs import draw as job
from flatgen.unfolding.received.codec import decode, encode
from tests.opened_sections import opened_part

PROFILES = sorted(p for p in Path("profiles").glob("*.toml") if p.stem != "shop")
AS_IT_STANDS: Any = SimpleNamespace(root=0, panels=(SimpleNamespace(placed=np.eye(4)),), thickness=2.0)
"""A flat for solids that were never unfolded: their axes are those of the kernel."""


def section(folder: Path, legs: tuple[float, ...], ways: tuple[str, ...], length: float, more: str = "") -> Any:
    """A section of right angles in sheet of 2 mm, inside radius 3 mm, overall sizes."""
    rows = [f'{{ leg = "{legs[0]} mm" }}']
    for n, (leg, way) in enumerate(zip(legs[1:], ways, strict=True), 1):
        rows += [f'{{ bend = 90, way = "{way}" }}', f'{{ leg = "{leg} mm", name = "leg {n}" }}']
    path = folder / "part.toml"
    path.write_text(
        f'metal = "DC01"\nthickness = "2 mm"\ninside_radius = "3 mm"\nlength = "{length} mm"\n'
        f'dimensions = "overall"\nsection = [{", ".join(rows)}]\n{more}',
        encoding="utf-8",
    )
    return job.develop_solid(read_profile(path))


def pairs(pieces: tuple[Polyline | Arc, ...]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Pieces as chords, of arcs every three degrees."""
    found = []
    for piece in pieces:
        if isinstance(piece, Arc):
            steps = max(2, round(abs(piece.sweep) / 3))
            points: Any = [piece.at(n / steps) for n in range(steps + 1)]
        else:
            points = piece.points
        found += list(itertools.pairwise(points))
    return found


def length_of(pieces: tuple[Polyline | Arc, ...]) -> float:
    return math.fsum(math.dist(a, b) for a, b in pairs(pieces))


def area_of(pieces: tuple[Polyline | Arc, ...]) -> float:
    """Area that lines bound."""
    from shapely import LineString, polygonize, unary_union

    whole = unary_union([LineString(p) for p in pairs(pieces)], grid_size=2e-4)
    cells = list(polygonize([whole]).geoms)
    return math.fsum(c.area for c in cells)


def test_hidden_edges_of_a_block_with_a_blind_pocket() -> None:
    """By hand: 40 x 30 x 20, a pocket 20 (x) by 10 (y from 10) and 8 deep from above. From the right three hidden
    edges, 8 + 10 + 8; from the front 8 + 20 + 8; from above the pocket's rim is seen and nothing is hidden."""
    import cadquery as cq

    block = cq.Workplane().box(40, 30, 20, centered=False)
    solid = block.cut(cq.Workplane().box(20, 10, 8, centered=False).translate((10, 10, 12))).val()
    found = project_views(solid, AS_IT_STANDS)
    assert found.sizes == pytest.approx((40, 30, 20), abs=1e-6)
    assert length_of(found.right.hidden) == pytest.approx(26, abs=1e-6)
    assert length_of(found.end.hidden) == pytest.approx(36, abs=1e-6)
    assert length_of(found.top.visible) == pytest.approx(140 + 60, abs=1e-6)
    assert found.top.hidden == ()
    assert found.left.box() == pytest.approx((-30, 0, 0, 20), abs=1e-6)
    ends = {tuple(round(v, 6) for p in pair for v in p) for pair in pairs(found.right.hidden)}
    assert {frozenset([e[:2], e[2:]]) for e in ends} == {
        frozenset([(10, 20), (10, 12)]), frozenset([(10, 12), (20, 12)]), frozenset([(20, 12), (20, 20)])
    }  # fmt: skip


def test_a_block_in_the_isometric_view() -> None:
    """By hand, ISO 5456-3 (from memory): nine edges of a cube of 10 are seen, each 10 long; its outline is a hexagon
    of sides 10, so sqrt(3) 10 wide and 20 high, of area 6 sqrt(3)/4 100; three faces share it."""
    import cadquery as cq

    picture = project_views(cq.Workplane().box(10, 10, 10).val(), AS_IT_STANDS).picture
    assert length_of(picture.visible) == pytest.approx(90, abs=1e-6)
    x0, y0, x1, y1 = picture.box()
    assert (x1 - x0, y1 - y0) == pytest.approx((10 * math.sqrt(3), 20), abs=1e-6)
    assert area_of(picture.visible) == pytest.approx(150 * math.sqrt(3), abs=0.01)


def test_a_tube_seen_from_three_sides() -> None:
    """By hand: tube of 30 outside, 26 inside, 50 long along y: two circles; from above 30 x 50, two lines hidden."""
    import cadquery as cq

    tube = cq.Workplane("XZ").circle(15).circle(13).extrude(-50).val()
    found = project_views(tube, AS_IT_STANDS)
    radii = sorted(p.radius for p in found.end.visible if isinstance(p, Arc) and p.full)
    assert radii == pytest.approx([13, 15], abs=1e-4)
    assert area_of(found.top.visible) == pytest.approx(30 * 50, rel=2e-3)
    assert length_of(found.top.hidden) == pytest.approx(2 * 50, rel=2e-2)


def test_section_of_an_angle(tmp_path: Path) -> None:
    """By hand: legs 30 and 50 overall, t 2, inside radius 3: flats 25 and 45, a quarter ring between radii 3 and 5;
    two arcs in the section; from above 50 x 120 and from the right 30 x 120 are filled."""
    made = section(tmp_path, (30, 50), ("up",), 120)
    found = project_views(made.solid, made.flat)
    assert sorted(found.sizes) == pytest.approx([30, 50, 120], abs=1e-6)
    assert area_of(found.end.visible) == pytest.approx(2 * (25 + 45) + math.pi / 4 * (25 - 9), abs=0.01)
    assert sorted(p.radius for p in found.end.visible if isinstance(p, Arc)) == pytest.approx([3, 5], abs=1e-4)
    assert {abs(round(p.sweep, 3)) for p in found.end.visible if isinstance(p, Arc)} == {90.0}
    assert area_of(found.top.visible) == pytest.approx(50 * 120, abs=1e-3)
    assert area_of(found.right.visible) == pytest.approx(30 * 120, abs=1e-3)
    assert length_of(found.top.smooth) + length_of(found.right.smooth) == pytest.approx(2 * 120, abs=1e-3)
    assert [v for span in found.straight for v in span] == pytest.approx([0, 120], abs=1e-6)


def test_straight_stretches_of_a_pierced_leg(tmp_path: Path) -> None:
    """By hand: a hole of 10 at 40 along leaves 0 to 35 and 45 to 200 alike."""
    hole = '[[opening]]\nleg = "leg 1"\nshape = "round"\ndiameter = "10 mm"\nacross = "20 mm"\nalong = "40 mm"\n'
    made = section(tmp_path, (30, 50), ("up",), 200, hole)
    found = project_views(made.solid, made.flat)
    assert found.edge_on
    assert [v for span in found.straight for v in span] == pytest.approx([0, 35, 45, 200], abs=0.01)
    assert [p.radius for p in found.top.visible if isinstance(p, Arc) and p.full] == pytest.approx([5.0], abs=1e-3)


def test_merging_by_hand() -> None:
    """A hidden line under a visible one goes, what lies beyond stays; a circle under a circle goes; a polygon stays."""
    circle, other = Arc((5, 5), 2, 0, 360), Arc((5, 5), 2, 30, -200)
    found = view_from_edges(
        [Polyline(((0, 0), (6, 0))), Polyline(((4, 0), (10, 0))), circle],
        [Polyline(((20, 0), (-5, 0))), other],
        [Polyline(((0, 0), (20, 0)))],
    )
    assert length_of(found.visible[:-1]) == pytest.approx(10)
    assert found.visible[-1] == circle
    assert length_of(found.hidden) == pytest.approx(15)
    assert found.smooth == ()
    octagon = tuple((math.cos(n * math.pi / 4) * 9, math.sin(n * math.pi / 4) * 9) for n in range(9))
    assert not any(isinstance(p, Arc) for p in view_from_edges([Polyline(octagon)]).visible)
    ring = tuple((math.cos(n * math.pi / 12) * 2, math.sin(n * math.pi / 12) * 2) for n in range(25))
    (arc,) = view_from_edges([Polyline(ring)]).visible
    assert isinstance(arc, Arc)
    assert arc.full
    assert arc.radius == pytest.approx(2)


LONG = {"switch-panel"}
"""Demo parts with so many openings that their rays take half a minute: in the thorough run."""


@pytest.mark.parametrize(
    "path",
    [pytest.param(p, marks=pytest.mark.thorough) if p.stem in LONG else p for p in PROFILES],
    ids=lambda p: p.stem,
)
def test_demo_parts(path: Path) -> None:
    made = job.develop_solid(read_profile(path))
    found = project_views(made.solid, made.flat)
    look(found, made.solid, random.Random(path.stem))
    assert decode(encode(found, PartViews), PartViews) == found


@pytest.mark.parametrize("seed", range(8))
def test_random_parts(seed: int, tmp_path: Path) -> None:
    made = opened_part(seed, tmp_path).made
    look(project_views(made.solid, made.flat), made.solid, random.Random(seed))


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(8, 120))
def test_random_parts_thoroughly(seed: int, tmp_path: Path) -> None:
    made = opened_part(seed, tmp_path).made
    look(project_views(made.solid, made.flat), made.solid, random.Random(seed))


class Mesh:
    """A fine mesh of a solid seen in one direction: what a ray from the reader meets first."""

    def __init__(self, solid: Any, name: str) -> None:
        import cadquery as cq

        shape = cq.Shape.cast(getattr(solid, "wrapped", solid)).copy()
        points, triangles = shape.tessellate(0.004, 0.06)
        toward, right = (np.array(d) / np.linalg.norm(d) for d in _DIRECTIONS[name])
        turn = np.array([right, np.cross(toward, right), toward])
        self.points = np.array([p.toTuple() for p in points]) @ turn.T
        self.corners = self.points[np.array(triangles)]
        a, b, c = (self.corners[:, n] for n in range(3))
        normals = np.cross(b - a, c - a)
        size = np.linalg.norm(normals, axis=1)
        keep = (size > 1e-12) & (np.abs(normals[:, 2]) > 1e-7 * size)
        self.corners, self.normals = self.corners[keep], (normals / np.maximum(size, 1e-300)[:, None])[keep]

    def first(self, at: Any) -> tuple[Any, Any]:
        """Depth (minus infinity where nothing is met) and normal at places (n x 2)."""
        depth, normal = np.full(len(at), -np.inf), np.zeros((len(at), 3))
        a, b, c = (self.corners[:, n, :2] for n in range(3))
        area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        for n, (x, y) in enumerate(at):
            u = ((x - a[:, 0]) * (c[:, 1] - a[:, 1]) - (y - a[:, 1]) * (c[:, 0] - a[:, 0])) / area
            v = ((b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (b[:, 1] - a[:, 1]) * (x - a[:, 0])) / area
            hit = np.flatnonzero((u >= 0) & (v >= 0) & (u + v <= 1))
            if len(hit):
                z = self.corners[hit, 0, 2]
                z = z + u[hit] * (self.corners[hit, 1, 2] - z) + v[hit] * (self.corners[hit, 2, 2] - z)
                best = int(np.argmax(z))
                depth[n], normal[n] = z[best], self.normals[hit[best]]
        return depth, normal

    def corner(self, one: Any, two: Any) -> Any:
        """Whether there is an edge between places: a step, a corner of more than 8 degrees, or the outline."""
        (d1, n1), (d2, n2) = self.first(one), self.first(two)
        lost = np.isinf(d1) != np.isinf(d2)
        with np.errstate(invalid="ignore", divide="ignore"):
            way = two - one
            slope = [-(n[:, 0] * way[:, 0] + n[:, 1] * way[:, 1]) / n[:, 2] for n in (n1, n2)]
            step = np.abs(d2 - d1 - (slope[0] + slope[1]) / 2)
            bent = np.sum(n1 * n2, axis=1) < math.cos(math.radians(8))
        both = ~np.isinf(d1) & ~np.isinf(d2)
        return lost | (both & (bent | (step > 0.02 + np.abs(slope[0] - slope[1]))))


def look(found: PartViews, solid: Any, rng: random.Random) -> None:
    """Box and views against the mesh: visible lines are edges, hidden ones are none, and no edge lacks its line."""
    for name in ("end", "top", "right", "left"):
        view, mesh = getattr(found, name), Mesh(solid, name)
        low, high = mesh.points[:, :2].min(axis=0), mesh.points[:, :2].max(axis=0)
        assert view.box() == pytest.approx((*low, *high), abs=0.06), name
        axes = {"end": (0, 2), "top": (0, 1), "right": (1, 2), "left": (1, 2)}[name]
        assert [found.sizes[a] for a in axes] == pytest.approx(high - low, abs=0.02), name
        seen_edges(view, mesh, rng, name)
        no_edge_lacks_a_line(view, mesh, rng, name)


def seen_edges(view: View, mesh: Mesh, rng: random.Random, name: str) -> None:
    """At places along lines, what lies on either side: corners beside visible ones, none beside hidden ones.

    Beside is 0.06 mm, for visible ones 0.03 or 0.15 mm too: an outline of a curve may be drawn 0.1 mm off, and of legs
    seen nearly edge-on both rims lie nearer than that. One place in 25 may lie where the mesh is as coarse as that.
    """
    visible = pairs(view.visible)
    for kind, pieces in (("visible", view.visible), ("hidden", view.hidden)):
        chords = [p for p in pairs(pieces) if math.dist(*p) > 0.4]
        places, across = [], []
        for a, b in rng.sample(chords, min(30, len(chords))):
            at = np.array(a) + rng.uniform(0.2, 0.8) * (np.array(b) - np.array(a))
            way = (np.array(b) - np.array(a)) / math.dist(a, b)
            if kind == "visible" or distance(at, visible) > 0.24:
                places.append(at)
                across.append((-way[1], way[0]))
        if places:
            at, off = np.array(places), np.array(across)
            met = mesh.corner(at - 0.06 * off, at + 0.06 * off)
            if kind == "visible":
                met |= mesh.corner(at - 0.03 * off, at + 0.03 * off) | mesh.corner(at - 0.15 * off, at + 0.15 * off)
            else:
                for n in np.flatnonzero(met):
                    met[n] = not curved(mesh, at[n] - 0.06 * off[n], at[n] + 0.06 * off[n])
            wrong = [tuple(p.round(3)) for p, m in zip(places, met, strict=True) if m != (kind == "visible")]
            assert len(wrong) <= max(1, 0.04 * len(places)), (name, kind, wrong)


def no_edge_lacks_a_line(view: View, mesh: Mesh, rng: random.Random, name: str) -> None:
    """Along lines across the view: wherever the mesh has a corner, a visible line is at hand."""
    x0, y0, x1, y1 = view.box()
    lines = pairs(view.visible)
    for _ in range(3):
        across = rng.random() < 0.5
        fixed = rng.uniform(y0, y1) if across else rng.uniform(x0, x1)
        steps = np.linspace((x0 if across else y0) - 1, (x1 if across else y1) + 1, 161)
        row = np.array([(s, fixed) if across else (fixed, s) for s in steps])
        met = np.flatnonzero(mesh.corner(row[:-1], row[1:]))
        step = steps[1] - steps[0]
        for n in met:
            middle = (row[n] + row[n + 1]) / 2
            assert distance(middle, lines) <= 0.5 * step + 0.06 or curved(mesh, row[n], row[n + 1]), (name, middle)


def curved(mesh: Mesh, one: Any, two: Any) -> bool:
    """Whether the corner between two places is none but a curve: looked at closely it goes away."""
    fine = np.linspace(one, two, 161)
    return not mesh.corner(fine[:-1], fine[1:]).any()


def distance(at: Any, lines: list[Any]) -> float:
    """From a place to the nearest line [mm]."""
    ends = np.array(lines)
    a, way = ends[:, 0], ends[:, 1] - ends[:, 0]
    share = np.clip(((at - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-18), 0, 1)
    return float(np.linalg.norm(a + share[:, None] * way - at, axis=1).min())


def test_the_order_of_edges_does_not_matter() -> None:
    """The kernel lists edges by where they lie in memory: the same view must come out."""
    ring = [(5 * math.cos(n * math.pi / 12), 5 * math.sin(n * math.pi / 12)) for n in range(25)]
    edges = [Polyline(pair) for pair in itertools.pairwise(ring)]
    edges += [
        Polyline(((0, 0), (9, 0))),
        Polyline(((3, 0), (12, 0))),
        Polyline(((12, 0), (12, 7))),
        Polyline(((12, 7), (0.1, 1 / 3))),
    ]
    first = view_from_edges(edges, edges[:9], edges[-2:])
    for seed in range(20):
        rng = random.Random(seed)
        mixed = [Polyline(e.points[:: rng.choice((1, -1))]) for e in rng.sample(edges, len(edges))]
        assert view_from_edges(mixed, edges[:9][::-1], edges[-2:]) == first


def test_no_lines_no_stretch() -> None:
    assert straight_stretches(View(), View()) == ()
