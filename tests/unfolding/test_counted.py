"""In what order a received flat counts its parts, and that it stays one tree from its first panel."""

from __future__ import annotations

import math
from typing import Any

import pytest

from flatgen.errors import InputRefused
from flatgen.flat import FlatPattern
from flatgen.fold import placements
from flatgen.metal.chosen import rule_for
from flatgen.unfolding.formed import Wish, unfold_formed
from flatgen.unfolding.orient import counted, turned

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
    return unfold_formed(part, rule_for(None, K), Wish()).flat


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
    assert counted(flat).bends == flat.bends
    again = counted(flat.with_bends(tuple(turned(b) for b in flat.bends)))
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
