"""Scenes of stages: outlines against plane geometry by hand, shapely, and the clearances of a look."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from flatgen.bend_order.chain import Chain, chain_of
from flatgen.bend_order.costs import form_bend
from flatgen.bend_order.explain import Inspection, Passage, inspect_stage
from flatgen.bend_order.scene import Points, Scene, scene_of
from flatgen.bend_order.stages import SIDES, Situation
from flatgen.core.schedule import WhichSide
from flatgen.core.shop import Leaf
from tests.bend_order.sections import OPEN, SHUT, creases_of, roomy, section
from tests.brake.shops import shop

SEEN = 0.03
"""Chords of the scene and capsules of the checks stray by 0.02 and 0.01 mm."""


def situation(chain: Chain, on: str = "home") -> Situation:
    """A chain on the first set-up of a brake, no metal known."""
    brake = shop() if on == "home" else roomy()
    setup = brake.setups[0]
    bends = tuple(form_bend(c, chain.thickness, setup, brake, None) for c in chain.creases)
    return Situation(chain, brake, setup, 1.0, bends, None, brake.weights)


def channel() -> Chain:
    """Legs 20, 40, 30 mm, two bends up 90 degrees, 1 mm sheet, inside radius 1.5 mm."""
    return chain_of(creases_of((20.0, 40.0, 30.0), (90.0, 90.0), (1.5, 1.5), 1.0), 1.0)


def area(outline: Points) -> float:
    """Of a closed outline, by the shoelace formula, whether it crosses itself or not."""
    pairs = zip(outline, (*outline[1:], outline[0]), strict=True)
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2


def test_the_flat_sheet_lies_where_the_sight_line_puts_it() -> None:
    """By hand: held tangent line at -(setting + 1.5); 20 mm before it, 40 + 30 + two allowances beyond; 0 to t high."""
    case = situation(channel())
    scene = scene_of(case, 0, "first", 0)
    xs, ys = zip(*scene.before.outline, strict=True)
    tangent = -(case.setting + 1.5)
    allowance = math.pi / 2 * (1.5 + 0.42)
    assert min(xs) == pytest.approx(tangent - 20.0)
    assert max(xs) == pytest.approx(tangent + 70.0 + 2 * allowance)
    assert (min(ys), max(ys)) == pytest.approx((0.0, 1.0))
    assert scene.line == pytest.approx((-case.setting, 1.0))


def test_a_finished_channel_stands_where_plane_geometry_says() -> None:
    """By hand: bend 2 made before; outer face of leg 2 r + t beyond the tangent line; its top 2 (r + t) + 40 high;
    leg 3 leans back over it by 30 + r + t."""
    case = situation(channel())
    scene = scene_of(case, 0, "first", 0b10)
    xs, ys = zip(*scene.after.outline, strict=True)
    tangent = -(case.setting + 1.5)
    assert max(xs) == pytest.approx(tangent + 2.5)
    assert max(ys) == pytest.approx(45.0)
    top = [p for p in scene.after.outline if p[1] > 43.9]
    assert min(p[0] for p in top) == pytest.approx(tangent - 30.0)
    assert scene.after.swung == pytest.approx((tangent + 2.0, 22.5))


def test_bends_are_told_as_made_now_and_to_come() -> None:
    """By hand: of A, B, C with A made, B is bent now."""
    chain = chain_of(creases_of((20.0, 40.0, 40.0, 20.0), (90.0, -90.0, 90.0), (1.5,) * 3, 1.0), 1.0)
    scene = scene_of(situation(chain), 1, "second", 0b001)
    for metal in (scene.before, scene.after):
        assert {m.label: m.state for m in metal.marks} == {"B1": "made", "B2": "now", "B3": "later"}
        assert all(math.hypot(*m.away) == pytest.approx(1.0) for m in metal.marks)
        assert {n for n, _ in metal.middles} == set(chain.legs)


def test_letters_stand_outside_of_the_curve_and_on_the_metal() -> None:
    """shapely: the place of each bend is in the sheet, half a thickness from its outline."""
    from shapely import Point, Polygon

    chain = chain_of(creases_of((20.0, 40.0, 40.0, 20.0), (90.0, -60.0, 45.0), (1.5,) * 3, 1.0), 1.0)
    scene = scene_of(situation(chain), 1, "first", 0b101)
    for metal in (scene.before, scene.after):
        edge = Polygon(metal.outline).exterior
        for mark in metal.marks:
            assert Polygon(metal.outline).contains(Point(mark.at))
            assert edge.distance(Point(mark.at)) == pytest.approx(0.5, abs=SEEN)


def test_leaf_and_bar_of_the_brake_of_the_tests() -> None:
    """By hand: hinge in the corner, face 40, depth 60: at 90 degrees the face stands on x = 0 from 0 to 40 high and the
    leaf reaches 60 toward the worker; the bar is 40 high above the sheet and 60 deep; it lifts by 25."""
    from shapely import Polygon

    case = situation(channel())
    scene = scene_of(case, 0, "first", 0)
    assert scene.top == pytest.approx(90.0)
    ((left, low, right, high),) = (Polygon(leaf).bounds for leaf in scene.leaf_up)
    assert (left, low, right, high) == pytest.approx((0.0, 0.0, 60.0, 40.0), abs=1e-9)
    assert Polygon(scene.leaf[0]).bounds == pytest.approx((0.0, -60.0, 40.0, 0.0))
    assert Polygon(scene.bar).bounds == pytest.approx((-case.setting - 60.0, 1.0, -case.setting, 41.0), abs=0.02)
    assert Polygon(scene.lifted).bounds[1] == pytest.approx(26.0)


def test_the_nose_is_round() -> None:
    """By hand: the point of the nose at half past four is 1.5 mm from its centre, setting + 1.5 behind the edge."""
    from shapely import Point, Polygon

    case = situation(channel())
    bar = Polygon(scene_of(case, 0, "first", 0).bar)
    centre = Point(-case.setting - 1.5, 2.5)
    inner, outer = centre.buffer(1.5 - SEEN), centre.buffer(1.5 + 1e-6)
    assert bar.buffer(1e-6).contains(inner)
    below = bar.intersection(Polygon([(-case.setting - 1.5, 0.0), (9.0, 0.0), (9.0, 2.5), (-case.setting - 1.5, 2.5)]))
    assert outer.buffer(1e-3).contains(below)


def test_an_outline_of_the_leaf_is_joined_to_its_face() -> None:
    """By hand: a rib 10 x 20 that hangs 5 mm into the face's box of 40 x 60 makes 2400 + 10 x 15."""
    case = situation(channel())
    rib = ((10.0, -75.0), (20.0, -75.0), (20.0, -55.0), (10.0, -55.0))
    setup = replace(case.setup, leaf=replace(case.setup.leaf, shape=rib))
    assert isinstance(setup.leaf, Leaf)
    scene = scene_of(replace(case, setup=setup), 0, "first", 0)
    assert sum(area(o) for o in scene.leaf) == pytest.approx(2400.0 + 150.0)
    assert sum(area(o) for o in scene.leaf_up) == pytest.approx(2550.0)


def metal_area(chain: Chain, made: int) -> float:
    """Closed form: legs and unmade bends are strips, each made bend is a piece of a ring."""
    t, found = chain.thickness, sum(chain.flats) * chain.thickness
    for k in range(chain.bends):
        r, turn = chain.radii[k], math.radians(chain.angles[k])
        found += turn * ((r + t) ** 2 - r**2) / 2 if made >> k & 1 else chain.allowances[k] * t
    return found


def sweep_of_areas(count: int) -> None:
    rng = random.Random("areas")
    for _ in range(count):
        chain = section(rng.choice((*OPEN, *SHUT)), rng.randint(1, 6), rng, t=rng.choice((0.7, 1.5)))
        case = situation(chain, rng.choice(("home", "roomy")))
        bend, held = rng.randrange(chain.bends), rng.choice(SIDES)
        made = rng.randrange(1 << chain.bends) & ~(1 << bend)
        scene = scene_of(case, bend, held, made)
        room = 0.002 * metal_area(chain, made) + 0.01
        assert area(scene.before.outline) == pytest.approx(metal_area(chain, made), abs=room)
        if case.bends[bend].top >= chain.angles[bend]:
            assert area(scene.after.outline) == pytest.approx(metal_area(chain, made | 1 << bend), abs=room)


def test_no_metal_is_won_or_lost() -> None:
    """Closed form against the shoelace formula, chords within 0.2 %."""
    sweep_of_areas(20)


@pytest.mark.thorough
def test_no_metal_is_won_or_lost_in_many() -> None:
    """The same for 200 sections."""
    sweep_of_areas(200)


def looked(count: int) -> list[tuple[Situation, Scene, Inspection]]:
    """Random stages with what was seen of them."""
    rng, found = random.Random("looks"), []
    while len(found) < count:
        chain = section(rng.choice((*OPEN, *SHUT)), rng.randint(1, 5), rng)
        case = situation(chain, rng.choice(("home", "roomy")))
        bend = rng.randrange(chain.bends)
        held: WhichSide = rng.choice(SIDES)
        made = rng.randrange(1 << chain.bends) & ~(1 << bend)
        look = inspect_stage(case, bend, held, made)
        found.append((case, scene_of(case, bend, held, made, look), look))
    return found


def sweep_of_places(count: int) -> None:
    from shapely import Point, Polygon

    seen = 0
    for _, scene, _ in looked(count):
        near = scene.nearest
        if near is None or near.gap <= 0 or near.name not in ("bed", "clamp bar"):
            continue
        seen += 1
        metal = near.part or (scene.before if near.belongs == "before" else scene.after).outline
        body = Polygon(scene.bed if near.name == "bed" else scene.bar)
        assert Polygon(metal).distance(Point(near.points[0])) < 2 * SEEN
        assert body.exterior.distance(Point(near.points[1])) < 2 * SEEN
        assert math.dist(*near.points) == pytest.approx(near.gap, abs=2 * SEEN)
    assert seen > count / 10


def test_nearest_points_lie_on_the_outlines() -> None:
    """shapely: the two points lie on metal and brake as drawn, the clearance apart.

    Where a curve begins in a leg that lies on the body, the point is in the sheet.
    """
    sweep_of_places(40)


@pytest.mark.thorough
def test_nearest_points_lie_on_the_outlines_in_many() -> None:
    """The same for 300 stages."""
    sweep_of_places(300)


def test_a_stage_that_fails_on_the_way_is_shown_as_it_touches() -> None:
    """shapely: metal and what it meets are in contact in the picture, and the leaf stands at that angle."""
    from shapely import LineString, Polygon

    seen = 0
    for _, scene, _ in looked(150):
        if not scene.fails or scene.nearest is None:
            continue
        seen += 1
        assert scene.top == pytest.approx(scene.nearest.angle)
        bodies = {"bed": (scene.bed,), "clamp bar": (scene.bar,), "leaf": scene.leaf_up}.get(scene.nearest.name)
        if bodies is not None:
            ring = LineString([*scene.after.outline, scene.after.outline[0]])
            assert min(ring.distance(Polygon(b)) for b in bodies) < 2 * SEEN
    assert seen > 3


def test_where_a_part_is_stuck() -> None:
    """By hand: no way out, leg 3 in the way: its middle, after the bend."""
    case = situation(channel())
    look = inspect_stage(case, 0, "first", 0b10)
    stuck = replace(look, out=Passage("", -1.0, 0.0, -1.0, -1.0, case.chain.legs[2]), checks=())
    scene = scene_of(case, 0, "first", 0b10, stuck)
    assert scene.stuck is not None
    assert scene.stuck[0] == "after"
    assert scene.stuck[1] == dict(scene.after.middles)[case.chain.legs[2]]
    assert scene_of(case, 0, "first", 0b10).stuck is None
