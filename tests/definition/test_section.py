"""Closed form, walked section and crossings. Expected numbers by hand; the two paths against each other."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from flatgen.core.errors import InputRefused
from flatgen.definition.closed_form import develop, flat_lengths
from flatgen.definition.model import Leg, Profile
from flatgen.definition.part import BendSpec
from flatgen.definition.reader import read_profile
from flatgen.definition.section import MOST_PAIRS, Trace, crossings, trace
from flatgen.metal.allowance import Dimensions, GivenK, Method, method_named
from flatgen.metal.metals import Metal, load_metals
from tests.places import ROOT

METAL: Metal = load_metals()["DC01"]
MODES: tuple[Dimensions, ...] = ("mould-line", "inside", "overall", "inside-overall")


def _part(
    legs: list[tuple[float, Dimensions]], bends: list[tuple[float, Any, float]], t: float, method: Method
) -> Profile:
    specs = tuple(
        BendSpec(f"b{i}", angle, way, radius, method.allowance(angle, radius, t), 0.0, "mould-line", i, i + 1)
        for i, (angle, way, radius) in enumerate(bends)
    )
    made = tuple(Leg(None, length, mode) for length, mode in legs)
    return Profile("part", "part.toml", METAL, t, "", 100.0, "mould-line", made, specs)


def _chain(*legs: float, angle: float = 90.0, ways: str = "", r: float = 2.0, t: float = 1.0) -> Profile:
    """Legs to the mould line, one kind of bend; ways as letters u and d."""
    ways = ways or "u" * (len(legs) - 1)
    bends = [(angle, "up" if w == "u" else "down", r) for w in ways]
    return _part([(leg, "mould-line") for leg in legs], bends, t, GivenK(0.5))


def test_u_channel_of_the_airframe_handbook() -> None:
    """FAA-H-8083-31 ch. 4: T .040, R .16, mould lines 1.00/2.00/1.00 in; derived 3.7581 by the formula."""
    inch = 25.4
    legs: list[tuple[float, Dimensions]] = [
        (1.0 * inch, "mould-line"),
        (2.0 * inch, "mould-line"),
        (1.0 * inch, "mould-line"),
    ]
    part = _part(legs, [(90, "up", 0.16 * inch)] * 2, 0.04 * inch, method_named("aviation"))
    found = develop(part)
    assert [f / inch for f in found.flats] == pytest.approx([0.8, 1.6, 0.8])
    assert found.width / inch == pytest.approx(3.7581, abs=5e-5)
    assert found.zones[0][0] == pytest.approx(0.8 * inch)
    assert found.zones[0][1] - found.zones[0][0] == pytest.approx(0.27907 * inch, abs=1e-3)


def test_din_example_of_the_table_book() -> None:
    """DIN 6935 example: opening angle 60, legs 16 and 21, r 6, s 5; v 5.823 with k by formula: 31.177."""
    part = _part([(16, "overall"), (21, "overall")], [(120, "up", 6)], 5, method_named("din-6935"))
    assert develop(part).width == pytest.approx(31.177, abs=1e-3)


def test_a_leg_may_be_dimensioned_its_own_way() -> None:
    """r 2, t 1, 90 degrees: setback 3 to the mould line, 2 to the inside."""
    part = _part(
        [(20, "mould-line"), (30, "inside"), (20, "overall")],
        [(90, "up", 2), (90, "down", 2)],
        1,
        GivenK(0.5),
    )
    assert flat_lengths(part) == pytest.approx((17, 26, 17))


def test_channel_where_it_stands() -> None:
    """Legs 20/30/20, r 2, t 1: web flat 24 on z 0.5; left centre (0, 3), leg on x -2.5, z 20 to 3."""
    found = trace(_chain(20, 30, 20))
    assert found.root == 1
    left, web, right = found.legs
    assert (web.start, web.heading, web.length) == (pytest.approx((0, 0.5)), 0, pytest.approx(24))
    assert left.start == pytest.approx((-2.5, 20))
    assert left.end == pytest.approx((-2.5, 3))
    assert left.heading == -90
    assert right.start == pytest.approx((26.5, 3))
    assert right.end == pytest.approx((26.5, 20))
    assert [b.centre for b in found.bends] == [pytest.approx((0, 3)), pytest.approx((24, 3))]
    assert found.bends[0].at(0.5, 2.0) == pytest.approx((-math.sqrt(2), 3 - math.sqrt(2)))


def test_down_bend_hangs_below_the_far_face() -> None:
    """Root 30, then down: centre at z = -2, the leg hangs at x = flat 27 + 2.5."""
    found = trace(_chain(30, 20, ways="d"))
    assert found.bends[0].centre == pytest.approx((27, -2))
    assert found.legs[1].end == pytest.approx((29.5, -19))


def test_root_is_the_first_of_equal_legs() -> None:
    assert trace(_chain(30, 33, 30, ways="ud")).root == 0
    assert trace(_chain(40, 20, 40, ways="ud")).root == 0


def test_branching_legs_are_refused() -> None:
    part = _chain(20, 30, 20)
    tree = replace(part, bends=(part.bends[0], replace(part.bends[1], first=0)), fingerprint="")
    for path in (develop, trace):
        with pytest.raises(InputRefused, match="FG041"):
            path(tree)


def _box(gap: float) -> Profile:
    """40 x 30 box: the last side ends ``gap`` above the first leg."""
    return _chain(40, 30, 40, 30 - 1 - gap)


@pytest.mark.parametrize(("gap", "pairs"), [(1.0, 0), (0.01, 0), (0.0011, 0), (0.0005, 1), (0.0, 1), (-0.5, 1)])
def test_box_that_nearly_closes(gap: float, pairs: int) -> None:
    part = _box(gap)
    found = crossings(trace(part), part.thickness)
    assert len(found) == pairs
    if pairs:
        assert (found[0].first, found[0].second) == (0, 6)
        assert found[0].depth == pytest.approx(max(-gap, 0), abs=1e-6)


def test_leg_that_meets_a_bend_names_the_bend() -> None:
    """The tail comes down at x -1.5 to -0.5 on the first bend, whose inside is at z 1.677 there."""
    touching = _chain(4, 30, 30, 28.5, 28.6)
    (found,) = crossings(trace(touching), 1.0)
    assert (found.first, found.second) == (1, 8)
    assert 0.1 < found.depth < 0.3
    assert crossings(trace(_chain(4, 30, 30, 28.5, 28.3)), 1.0) == ()


def test_two_legs_of_one_bend_never_meet() -> None:
    """Inside radius 0.001 and a shallow or a very sharp bend: faces within 0.001, yet a sound part."""
    for angle in (20.0, 90.0, 170.0):
        part = _chain(20, 30, 20, angle=angle, ways="ud", r=0.001)
        assert crossings(trace(part), 1.0) == ()


def test_500_legs_are_quick() -> None:
    part = _chain(*([20.0] * 500), ways="ud" * 249 + "u")
    start = time.perf_counter()
    assert crossings(trace(part), 1.0) == ()
    assert time.perf_counter() - start < 5
    spiral = _chain(*([20.0] * 500), angle=45)
    assert len(crossings(trace(spiral), 1.0)) == MOST_PAIRS
    assert time.perf_counter() - start < 10


@st.composite
def _parts(draw: st.DrawFn) -> Profile:
    count = draw(st.integers(1, 12))
    t = draw(st.floats(0.3, 4))
    bends = [
        (draw(st.floats(3, 165)), draw(st.sampled_from(["up", "down"])), draw(st.floats(0.3, 8))) for _ in range(count)
    ]
    legs = [(draw(st.floats(5, 300)), draw(st.sampled_from(MODES))) for _ in range(count + 1)]
    part = _part(legs, bends, t, GivenK(draw(st.floats(0.3, 0.5))))
    assume(min(flat_lengths(part)) > 0.01)
    return part


@settings(derandomize=True, max_examples=60, deadline=None)
@given(_parts())
def test_closed_form_and_walk_agree(part: Profile) -> None:
    closed, walked = develop(part), trace(part)
    assert [leg.length for leg in walked.legs] == pytest.approx(list(closed.flats), abs=1e-9)
    arcs = math.fsum(b.allowance.length for b in part.bends)
    assert closed.width == pytest.approx(math.fsum(leg.length for leg in walked.legs) + arcs, abs=1e-9)
    _joins(walked, part.thickness)
    root = walked.legs[walked.root]
    assert root.start == pytest.approx((0, part.thickness / 2))
    assert root.heading == 0


def _joins(found: Trace, thickness: float) -> None:
    """Each bend begins where its leg ends and ends where the next begins, on both faces alike."""
    for bend, before, after in zip(found.bends, found.legs, found.legs[1:], strict=False):
        middle = bend.inside_radius + thickness / 2
        assert bend.at(0.0, middle) == pytest.approx(before.end, abs=1e-9)
        assert bend.at(1.0, middle) == pytest.approx(after.start, abs=1e-9)
        assert after.heading - before.heading == pytest.approx(bend.turn)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("angle", [1e-4, 1.0, 45.0, 90.0, 90.000001, 120.0, 179.0])
def test_setback_by_formula_and_by_faces(mode: Dimensions, angle: float) -> None:
    size = 50 + 2000 * math.tan(math.radians(angle / 2))
    part = _part([(size, mode), (size, mode)], [(angle, "down", 300)], 20, GivenK(0.4))
    assert [leg.length for leg in trace(part).legs] == pytest.approx(list(flat_lengths(part)), abs=1e-7)


def test_demo_parts_walk_without_crossing() -> None:
    for path in sorted(p for p in (ROOT / "profiles").glob("*.toml") if p.name != "shop.toml"):
        part = read_profile(path)
        assert crossings(trace(part), part.thickness) == ()
