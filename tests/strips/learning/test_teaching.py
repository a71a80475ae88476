"""Teaching strips: what they are for is told by the model's own null space, and by an independent count of unknowns.

Independent check, by plane geometry: with a line at s from the edge on the held side, the held leg of one bend is
s - e and its setback, the swung leg what the blank leaves of it less the allowance. The rank of the matrix of legs by
(allowance, offset) is counted by numpy.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from flatgen.jobs.draw import metals_beside
from flatgen.jobs.plan import plan
from flatgen.strips.cut import cut_strip
from flatgen.strips.learning.priors import prior_for
from flatgen.strips.learning.teaching import entanglements_of, teaching_strips
from tests.places import PROFILES

ROOT = PROFILES
ONE_HELD = """
metal = "DC01"
thickness = "1 mm"
inside_radius = "1.5 mm"
length = "200 mm"
section = [{ leg = "40 mm" }, { bend = 90, way = "up" }, { leg = "60 mm" }]
"""


@pytest.mark.parametrize("name", ["roof-rail", "pier-channel", "eave-angle", "cable-tray"])
def test_every_kind_of_bend_of_a_demo_has_a_teaching_strip(name: str) -> None:
    path = ROOT / f"{name}.toml"
    metals, _ = metals_beside(path)
    done = plan(path, metals)
    prior = prior_for(done.schedule.shop, metals)
    found = teaching_strips(done.profile, done.schedule, 25.0, prior)
    kinds = {(round(b.angle / 5.0), b.inside_radius) for b in done.profile.bends}
    assert len(found) >= len(kinds)
    for lesson in found:
        assert lesson.strip is not None, lesson.findings
        assert not any(e.angles for e in entanglements_of(lesson.strip, prior))
        assert lesson.strip.plan.schedule.state != "refused"
        held = [b.held for b in lesson.strip.reading.bends]
        assert held == ["second", "first"]  # the middle leg is under the bar at both
        like = next(b for b in done.profile.bends if b.label == lesson.label)
        assert all((b.angle, b.inside_radius) == (like.angle, like.inside_radius) for b in lesson.strip.reading.bends)


def test_a_single_bend_is_a_poor_strip_and_its_teaching_strip_is_not(tmp_path: Path) -> None:
    """One bend, both legs measured: held leg = s - e + SB, swung leg = blank - s - BA + SB + e; rank 2 of legs by
    (BA, e) too, so that it tells both; without the swung leg measured it would not. The count is by numpy."""
    (tmp_path / "p.toml").write_text(ONE_HELD, "utf-8")
    (tmp_path / "shop.toml").write_text((ROOT / "shop.toml").read_text("utf-8"), "utf-8")
    metals, _ = metals_beside(tmp_path / "p.toml")
    done = plan(tmp_path / "p.toml", metals)
    strip = cut_strip(done.profile, done.schedule, 25.0)
    prior = prior_for(done.schedule.shop, metals)
    legs = np.array([[0.0, -1.0], [-1.0, 1.0]])  # by hand: held and swung leg by (BA, e)
    assert (np.linalg.matrix_rank(legs) == 2) == (not any(e.angles for e in entanglements_of(strip, prior)))
