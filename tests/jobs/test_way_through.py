"""The way through, once: draw by the handbook, bend four strips, learn, draw again, and bend the part.

The brake is simulated (``simulated_brake``) with a K, a radius, an offset and a springback of its own; it shares no
code with the model. What it bends is measured with an error of 0.1 mm and 0.25 degrees (fixed seed), and each bend is
placed without scatter.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import flatgen
from flatgen.definition.reader import read_profile
from flatgen.jobs.check import outdated_findings
from flatgen.jobs.draw import metals_beside
from flatgen.jobs.plan import plan
from flatgen.jobs.result import Options
from tests.simulated_brake import RAIL, Truth, finished, furnish, learn_strips

KINDS = Options(kinds=("flat", "json"))


def errors(room: Path, truth: Truth) -> list[float]:
    """How far each finished leg is off when the part is drawn now, and bent on its lines."""
    flatgen.draw(room / RAIL, room / "out", KINDS)
    record: dict[str, Any] = json.loads((room / "out" / "roof-rail.json").read_text("utf-8"))
    table, _ = metals_beside(room / RAIL)
    arms = {s.crease.label: s.arm for s in plan(room / RAIL, table).schedule.stages}
    legs = finished(truth, record, arms)
    return [got - leg["length"] for got, leg in zip(legs, record["legs"], strict=True)]


def old(room: Path) -> list[str]:
    table, _ = metals_beside(room / RAIL)
    return [f.code for f in outdated_findings(read_profile(room / RAIL, table), room / "out")]


@pytest.mark.parametrize(
    "truth",
    [Truth(), Truth(k=0.34, radius=3.05, offset=-0.5, share=0.05, bow=0.02), Truth(k=0.46, radius=3.3, offset=0.6)],
)
def test_from_the_handbook_to_a_part_that_is_right(tmp_path: Path, truth: Truth) -> None:
    room = furnish(tmp_path)
    assert max(map(abs, errors(room, truth))) > 0.3
    assert not old(room)
    learn_strips(room, truth, 4)
    assert old(room) == ["FG107"]
    after = errors(room, truth)
    assert max(map(abs, after)) < 0.15, after
    assert not old(room)
