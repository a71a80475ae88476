"""Sizes to measure at each stage: by hand, and on the flat folded up to that stage.

The fold (``flatgen.core.fold``) knows no setback: outer faces and curves are followed as points in space.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_flat
from flatgen.core.flat_pattern import Bend, FlatPattern, leg_panels
from flatgen.core.fold import fold_panel, fold_zone, placements
from flatgen.core.schedule import Schedule
from flatgen.core.tolerances import linear_tolerance
from flatgen.definition.model import Profile
from flatgen.definition.part import Part
from flatgen.paper.pages.tables import Blank
from flatgen.paper.shop_sheet.measure import LengthCheck, Spot, StageChecks, finished_checks, stage_checks
from flatgen.paper.shop_sheet.rows import finished_table, measure_table, remaining_corrections
from tests.brake.shops import shop
from tests.paper.shop_sheet.sheet_parts import defined, hemmed, random_part, random_tree, tray

STEPS = 4001
CHANNEL = """metal = "DC01"
units = "mm"
thickness = 1
inside_radius = 2
length = 200
section = [
  { leg = 30, name = "left" }, { bend = 90, way = "up", k = 0.5 }, { leg = 60, name = "web" },
  { bend = 90, way = "WAY", k = 0.5 }, { leg = 25, name = "right" },
]
"""
BA = math.pi / 2 * 2.5
"""Allowance of the channel's bends by hand: neutral fibre at 2 + 0.5 x 1 mm."""


def scheduled(part: Part, flat: FlatPattern, order: list[str] | None = None) -> Schedule:
    """On a brake of the tests, in any order; what is measured does not ask whether it can be bent."""
    creases = creases_of_flat(part, flat)
    return make_schedule(part, creases, shop(), order=order or [c.label for c in creases])


def of_leg(found: StageChecks, part: Profile, name: str) -> LengthCheck:
    return next(c for c in found.lengths if part.leg_name(c.leg) == name)


@pytest.mark.parametrize("way", ["up", "down"])
def test_channel_by_hand(way: str) -> None:
    """After A: flange 30 over the outside; from its outer face over the flat web 54, BA, flat 22 and SB 3:
    79 + BA. After B: web 60 outside, or to the outer faces of either side where it is bent the other way, and 25.
    Limits: 30 is in 6 to 30, 0.2; 60 in 30 to 120, 0.3; angle by the leg of 25 or 30: 30 minutes (ISO 2768-1)."""
    part, flat = defined(CHANNEL.replace("WAY", way))
    first, second = stage_checks(part, flat, scheduled(part, flat))
    left, web = of_leg(first, part, "left"), of_leg(first, part, "web")
    assert left.size is not None
    assert web.size is not None
    assert (left.size.expected, left.size.tolerance) == pytest.approx((30.0, 0.2), abs=1e-6)
    assert (web.size.expected, web.size.tolerance) == pytest.approx((79.0 + BA, 0.3), abs=1e-6)
    assert (left.finished, left.over_flat, web.finished, web.over_flat) == (True, False, False, True)
    assert (left.end.kind, web.end.kind, web.start.kind) == ("edge", "edge", "face")
    assert first.angle.angle.tolerance == pytest.approx(0.5)
    assert (left.rest.next, left.rest.free, web.rest.next, web.rest.free) == ("", True, "B", True)
    assert part.leg_name(web.rest.takes) == "right"
    web, right = of_leg(second, part, "web"), of_leg(second, part, "right")
    assert web.size is not None
    assert right.size is not None
    assert (web.size.expected, right.size.expected) == pytest.approx((60.0, 25.0), abs=1e-6)
    assert (web.end.kind, web.end.label, web.finished, web.rest.free) == ("face", "A", True, False)


def test_line_marked_afresh_by_hand() -> None:
    """After A, with the web held at B and a nose of 1.5 mm, e 0: B's line lies SB + flat + Rn = 3 + 54 + 1.5
    from the outer face of the left flange."""
    part, flat = defined(CHANNEL.replace("WAY", "up"))
    creases = creases_of_flat(part, flat)
    plan = make_schedule(part, creases, shop(), order=["A", "B"], held={"A": 1, "B": 1})
    web = of_leg(stage_checks(part, flat, plan)[0], part, "web")
    assert plan.setup.clamp.nose_radius == 1.5
    assert web.rest.line == pytest.approx(58.5, abs=1e-6)


def test_tray_by_hand() -> None:
    """Rims of flat 20, SB 3, floor 100 x 60: after A its rim 23, and 3 + 100 + 4 + 20 to the edge of rim B;
    after B 106 over both; C and D alike with 60."""
    part, flat = tray()
    found = stage_checks(part, flat, scheduled(part, flat, ["A", "B", "C", "D"]))
    sizes = [sorted(c.size.expected for c in m.lengths if c.size) for m in found]
    assert sizes == [pytest.approx(s) for s in ([23, 127], [23, 106], [23, 87], [23, 66])]
    assert [len(m.lengths) for m in found] == [2] * 4


def test_hem_by_hand() -> None:
    """A hem is measured by its height 2 (r + t) = 4, its leg of flat 10 by 10 + r + t = 12 over the outside."""
    part, flat = hemmed()
    (hem,) = stage_checks(part, flat, scheduled(part, flat))
    assert hem.angle.height is not None
    assert hem.angle.height.expected == pytest.approx(4.0)
    assert sorted(c.size.expected for c in hem.lengths if c.size) == pytest.approx([12.0, 42.0])
    assert {c.start.kind for c in hem.lengths} == {"outside"}


def test_shallow_bend_is_measured_by_its_angle_alone() -> None:
    """No length is made up where traced faces have no sharp crossing."""
    part, flat = defined(CHANNEL.replace("bend = 90", "bend = 10").replace("WAY", "up"))
    found = stage_checks(part, flat, scheduled(part, flat))
    assert {(c.size, c.how) for m in found for c in m.lengths} == {(None, "shallow")}
    assert all(m.angle.angle.expected == pytest.approx(10.0) for m in found)


# on the folded flat


def _line_of(flat: FlatPattern, bend: Bend, side: int, frame: Any, placed: Any) -> Any:
    """Two points on the outer face of a panel beside a bend, across it, in the frame of another panel."""
    z = 0.0 if bend.way == "up" else flat.thickness
    origin, across = np.array((*bend.origin, z)), np.array((*bend.across, 0.0))
    if side == bend.first:
        points = np.array((origin, origin - across))
    else:
        points = np.array((origin + bend.allowance * across, origin + (bend.allowance + 1) * across))
    return fold_panel(frame, fold_panel(placed[side], points))


def _spot(flat: FlatPattern, spot: Spot, panel: int, toward: int, frame: Any, placed: Any, way: Any) -> float:
    """Place of a spot along ``way`` in a panel's own frame: ``toward`` is 1 where the leg lies on from it."""
    bend = next(b for b in flat.bends if b.label == spot.label)
    other = bend.second if spot.leg == bend.second else bend.first
    z = 0.0 if bend.way == "up" else flat.thickness
    if spot.kind == "crossing":
        one, two = _line_of(flat, bend, other, frame, placed)
        share = (z - one[2]) / (two[2] - one[2])
        return float((one + share * (two - one)) @ way)
    steps = np.linspace(0.0, bend.allowance, STEPS)[:, None]
    points = np.array((*bend.origin, z)) + steps * np.array((*bend.across, 0.0))
    rolled = fold_panel(frame, fold_zone(flat, bend, placed[bend.first], points)) @ way
    return float(rolled.min() if toward > 0 else rolled.max())


def _measured(
    flat: FlatPattern, panels: list[int], check: LengthCheck, label: str, made: set[str]
) -> tuple[float, Any]:
    """The size of a check on the flat folded up to a stage, and the place of its start in the leg's frame."""
    angles = {b.label: b.angle if b.label in made else 0.0 for b in flat.bends}
    placed = placements(flat, angles)
    panel = panels[check.leg]
    frame = np.linalg.inv(placed[panel])
    bend = next(b for b in flat.bends if b.label == label)
    toward = 1 if panel == bend.second else -1
    way = np.array((*bend.across, 0.0))

    def panel_spot(spot: Spot, side: int) -> float:
        known = Spot(spot.kind, spot.label, panels[spot.leg] if spot.leg is not None else None)
        return _spot(flat, known, panel, side, frame, placed, way)

    start = panel_spot(check.start, toward)
    if check.end.kind == "edge":
        level = [n for n, p in enumerate(placed) if np.allclose(frame @ p, np.eye(4), atol=1e-9)]
        corners = np.array([(*p, 0.0) for n in level for p in flat.panels[n].outline.points(1e-3)])
        end = float(max(toward * (corners @ way)) * toward)
    else:
        end = panel_spot(check.end, -toward)
    return toward * (end - start), (start, way)


def _require_folded(part: Part, flat: FlatPattern, plan: Schedule) -> int:
    panels = leg_panels(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    made: set[str] = set()
    count = 0
    for found, stage in zip(stage_checks(part, flat, plan), plan.stages, strict=True):
        made.add(found.label)
        for check in found.lengths:
            if check.size is None:
                continue
            value, (start, way) = _measured(flat, panels, check, found.label, made)
            assert check.size.expected == pytest.approx(value, abs=1e-4)
            assert check.finished != check.over_flat
            count += 1
            if check.rest.line is not None:
                later = next(s for s in plan.stages if s.crease.label == check.rest.next)
                across = np.array((*later.crease.across, 0.0))
                away = abs(later.sight.from_datum - start * float(way @ across))
                assert check.rest.line == pytest.approx(away, abs=1e-4)
        assert stage.crease.label == found.label
    return count


def _check(seed: int) -> None:
    """Any order: every size is that of the folded part; of finished legs the limits are those of their size."""
    part, flat = random_part(seed)
    labels = [b.label for b in part.bends]
    order = sorted(labels, key=lambda label: (hash_of(label, seed), label))
    plan = scheduled(part, flat, order)
    count = _require_folded(part, flat, plan)
    assert count or any(b.angle < 15 for b in part.bends)
    for found in stage_checks(part, flat, plan):
        for check in found.lengths:
            if check.size is not None and check.finished:
                allowed = linear_tolerance(check.size.expected)
                assert check.size.tolerance == (allowed.value if allowed else None)


def hash_of(label: str, seed: int) -> int:
    """An order that is the same on every run."""
    return sum(ord(c) for c in label) * 7919 * (seed + 1) % 1009


@pytest.mark.parametrize("seed", range(30))
def test_sizes_are_those_of_the_folded_part(seed: int) -> None:
    _check(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 330))
def test_sizes_of_300_parts_are_those_of_the_folded_part(seed: int) -> None:
    _check(seed)


@pytest.mark.parametrize("order", ["ABCD", "DCBA", "CADB"])
def test_sizes_of_the_tray_are_those_of_the_folded_part(order: str) -> None:
    part, flat = tray()
    assert _require_folded(part, flat, scheduled(part, flat, list(order))) == 8


@pytest.mark.parametrize("seed", range(6))
def test_sizes_of_trees_are_those_of_the_folded_part(seed: int) -> None:
    part, flat = random_tree(seed)
    _require_folded(part, flat, scheduled(part, flat))


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(6, 60))
def test_sizes_of_more_trees_are_those_of_the_folded_part(seed: int) -> None:
    part, flat = random_tree(seed)
    _require_folded(part, flat, scheduled(part, flat))


@pytest.mark.parametrize("unit", ["mm", "in", "in/64"])
def test_printed_limits_lie_within_the_true_ones(unit: str) -> None:
    """Rounded inward, never empty; the cell to write in is blank; a sentence for each side at each stage."""
    size, half = (1.0, 0.051) if unit == "mm" else (25.4, 0.00051)
    for seed in range(8):
        part, flat = random_part(seed)
        found = stage_checks(part, flat, scheduled(part, flat))
        rows = iter(measure_table(part, found, unit=unit).rows)  # type: ignore[arg-type]
        for item in found:
            assert isinstance(next(rows)[-1], Blank)
            assert len(remaining_corrections(part, item, unit=unit)) >= 2  # type: ignore[arg-type]
            for check in item.lengths:
                *_, shown, least, most, blank = next(rows)
                if check.size is None:
                    continue
                assert isinstance(blank, Blank)
                assert float(str(shown).split()[0]) == pytest.approx(check.size.expected / size, abs=half)
                if check.size.least is None or check.size.most is None:
                    continue
                low, high = float(str(least)) * size, float(str(most)) * size
                assert check.size.least - 1e-6 <= low <= high <= check.size.most + 1e-6
        assert next(rows, None) is None


def test_finished_part_has_each_leg_once() -> None:
    """Five legs and four bends of a hat by hand: nine rows."""
    part, flat = defined(
        """metal = "DC01"
units = "mm"
thickness = 1
inside_radius = 1
length = 50
section = [
  { leg = 15 }, { bend = 90, way = "down" }, { leg = 20 }, { bend = 90, way = "up" }, { leg = 40 },
  { bend = 90, way = "up" }, { leg = 20 }, { bend = 90, way = "down" }, { leg = 15 },
]
"""
    )
    angles, lengths = finished_checks(part, flat)
    assert [c.size.expected for c in lengths if c.size] == pytest.approx([15, 20, 40, 20, 15])
    assert len(finished_table(part, angles, lengths).rows) == 9
