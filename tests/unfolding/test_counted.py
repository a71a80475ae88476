"""In what order a received flat counts its parts, and that it stays one tree from its first panel."""

from __future__ import annotations

import math
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.fold import placements
from flatgen.metal.bend_rule import rule_for
from flatgen.unfolding.assemble import in_standard_order, reversed_bend
from flatgen.unfolding.formed import FormedOptions, unfold_formed

K = 0.42


def zed(leg: float, web: float, r: float = 2.0, t: float = 1.5, wide: float = 30.0) -> Any:
    """A section of leg, bend, web, bend the other way, leg; flats [mm]."""
    import cadquery as cq

    s, c = math.sin(math.pi / 4), math.cos(math.pi / 4)
    profile = cq.Workplane("XZ").moveTo(0, 0).lineTo(leg, 0)
    profile = profile.threePointArc((leg + (r + t) * s, (r + t) * (1 - c)), (leg + r + t, r + t))
    profile = profile.lineTo(leg + r + t, r + t + web)
    x, z = leg + r + t + r, r + t + web
    profile = (
        profile.threePointArc((x - r * c, z + r * s), (x, z + r)).lineTo(x + leg, z + r).lineTo(x + leg, z + r + t)
    )
    profile = profile.lineTo(x, z + r + t)
    profile = profile.threePointArc((x - (r + t) * c, z + (r + t) * s), (x - r - t, z)).lineTo(x - r - t, r + t)
    profile = profile.threePointArc((leg + r * s, t + r * (1 - c)), (leg, t)).lineTo(0, t).close()
    return profile.extrude(wide)


def unfolded(part: Any) -> FlatPattern:
    return unfold_formed(part, rule_for(None, K), FormedOptions()).flat


@pytest.mark.parametrize(("leg", "web"), [(30.0, 12.0), (12.0, 30.0)])
def test_bends_lead_away_from_the_first_panel(leg: float, web: float) -> None:
    """With the largest panel at an end as in the middle; and the flat can be folded from there."""
    flat = unfolded(zed(leg, web))
    reached = {0}
    waiting = list(flat.bends)
    while waiting:
        ready = [b for b in waiting if b.first in reached and b.second not in reached]
        assert ready, "a bend that leads the wrong way"
        reached |= {b.second for b in ready}
        waiting = [b for b in waiting if b not in ready]
    assert reached == {0, 1, 2}
    assert len(placements(flat)) == 3
    assert [b.label for b in flat.bends] == ["A", "B"]
    areas = [p.outline.area for p in flat.panels]
    assert areas[0] == pytest.approx(max(areas))


def test_counting_again_and_from_the_other_end_changes_nothing() -> None:
    """Bends turned to lead from the other panel are turned back."""
    flat = unfolded(zed(30.0, 12.0))
    assert in_standard_order(flat).bends == flat.bends
    again = in_standard_order(flat.with_bends(tuple(reversed_bend(b) for b in flat.bends)))
    for one, two in zip(again.bends, flat.bends, strict=True):
        assert (one.first, one.second, one.label, one.way) == (two.first, two.second, two.label, two.way)
        assert one.origin == pytest.approx(two.origin, abs=1e-9)
        assert one.along == pytest.approx(two.along, abs=1e-12)
        assert [p for line in one.tangents for q in line for p in q] == pytest.approx(
            [p for line in two.tangents for q in line for p in q], abs=1e-9
        )


def test_bar_as_wide_as_it_is_thick_is_refused() -> None:
    """Bent from strip or cut from plate: the same solid, so no answer."""
    with pytest.raises(InputRefused) as refused:
        unfolded(zed(30.0, 12.0, t=2.0, wide=2.0))
    assert {f.code for f in refused.value.faults} == {"FG040"}
    assert "bar" in str(refused.value)


def test_pin_on_a_cut_edge_is_seen_although_two_legs_touch() -> None:
    """A wall that ends one leg and rises from another is no tube: it must not take the look at heights away."""
    import cadquery as cq

    r, t = 2.0, 2.0
    s, c = math.sin(math.pi / 4), 1 - math.cos(math.pi / 4)
    profile = cq.Workplane("YZ").moveTo(0, 0).lineTo(40, 0)
    profile = profile.threePointArc((40 + (r + t) * s, (r + t) * c), (40 + r + t, r + t)).lineTo(40 + r + t, 20)
    profile = profile.lineTo(40 + r, 20).lineTo(40 + r, r + t).threePointArc((40 + r * s, t + r * c), (40, t))
    angle = profile.lineTo(0, t).close().extrude(40)
    ear = cq.Workplane(obj=cq.Solid.makeBox(20, 41.5, t, cq.Vector(40, 0, 0)))
    part = angle.union(ear)  # runs on beside the bend, without a gap
    assert unfolded(part).width > 0
    pin = cq.Workplane(obj=cq.Solid.makeCylinder(0.5, 6, cq.Vector(-5, 20, 1), cq.Vector(1, 0, 0)))
    with pytest.raises(InputRefused) as refused:
        unfolded(part.union(pin))
    assert {f.code for f in refused.value.faults} == {"FG041"}


def test_near_by_the_number_of_a_face_also_where_corners_are_rounded() -> None:
    """Faces keep the file's numbers: the near face looks the way that the face of the number does."""
    import cadquery as cq
    import numpy as np

    section = cq.Workplane("YZ").lineTo(40, 0).lineTo(40, 25).lineTo(38, 25).lineTo(38, 2).lineTo(0, 2).close()
    part = section.extrude(30).val()
    sides = edges = 0
    for number, face in enumerate(part.Faces(), 1):
        wish = FormedOptions(near=str(number), inside_radius=3.0)
        looks = np.array(face.normalAt().toTuple())
        if face.Area() < 200:  # ends of the legs, and the two ends of the section
            edges += 1
            with pytest.raises(InputRefused, match="FG045"):
                unfold_formed(part, rule_for(None, K), wish)
            continue
        sides += 1
        flat = unfold_formed(part, rule_for(None, K), wish).flat
        assert any(np.allclose(p.placed[:3, 2], looks, atol=1e-9) for p in flat.panels)
        inside = face.Center().y < 39 and face.Center().z > 1  # the two faces that the corner encloses
        assert flat.bends[0].way == ("up" if inside else "down")
    assert (sides, edges) == (4, 4)


def test_rim_about_a_standoff_is_not_told_to_be_filed() -> None:
    """The bore is right as it is: what stands about it is told (FG122), not that two faces differ (FG114)."""
    import cadquery as cq

    plate = (
        cq.Workplane("XY").rect(60, 40).extrude(2).union(cq.Workplane("XY").workplane(offset=1).circle(5).extrude(8))
    )
    formed = unfold_formed(plate.cut(cq.Workplane("XY").circle(2).extrude(20)), rule_for(None, K), FormedOptions())
    assert [f.code for f in formed.findings] == ["FG122"]
    assert formed.flat.opening_differences == ()
    assert formed.flat.openings[0].area == pytest.approx(4 * math.pi, rel=1e-9)
