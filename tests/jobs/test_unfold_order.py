"""A part that came as STEP and is a chain gets the order of bending that its definition gets.

Expected numbers are those of the definition: its creases come from arithmetic, those of the received part from the
metal of its unfolded solid, which may lie mirrored, with labels from its other end.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.test_brake import SHOP
from tests.conftest import Ran

Run = Callable[..., Ran]
FOUR_LEGS = """metal = "5052-H32"
thickness = "1 mm"
inside_radius = "3 mm"
length = "100 mm"
section = [
  { leg = "30 mm", name = "lip" },
  { bend = 90, way = "down" },
  { leg = "60 mm", name = "web" },
  { bend = 90, way = "up" },
  { leg = "45 mm" },
  { bend = 30, way = "up", inside_radius = "4 mm" },
  { leg = "25 mm" },
]
"""
STAGE = ("way", "angle", "needed", "least", "radius_formed", "setting")
HANDLING = ("into", "out", "clearance", "close", "by_hand", "refused")


@pytest.fixture
def step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> str:
    """The formed part as ``draw`` writes it, beside a shop file."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "part.toml").write_text(FOUR_LEGS, encoding="utf-8")
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    assert run("draw", "part.toml", "--only", "step").exit_code in (0, 1)
    return "out/part/part.formed.step"


def schedule(run: Run, *call: str) -> dict[str, Any]:
    ran = run(*call, "--shop", "shop.toml", "--json")
    assert ran.exit_code in (0, 1), ran.stderr
    found = json.loads(ran.stdout)["schedule"]
    assert isinstance(found, dict)
    return found


def numbers(stage: dict[str, Any]) -> dict[str, Any]:
    """All of a stage that does not depend on which end the blank is measured from, or on which face is called near."""
    found = {key: stage[key] for key in STAGE} | {key: stage["handling"][key] for key in HANDLING}
    low, high = found.pop("radius_formed")
    lines = {f"{line} from the held edge": stage[line]["from_held_edge"] for line in ("sight", "other")}
    return found | lines | {"least radius": low, "largest radius": high}


def same(one: dict[str, Any], two: dict[str, Any]) -> bool:
    """Equal to 1e-6 mm or degrees."""
    return one.keys() == two.keys() and all(
        v == pytest.approx(two[k], abs=1e-6) if isinstance(v, float) else v == two[k] for k, v in one.items()
    )


def test_a_received_chain_gets_the_order_of_its_definition(step: str, run: Run) -> None:
    """Searched, not from the edges inward; stage by stage the same bend, held side, line, setting and clearance."""
    defined = schedule(run, "plan", "part.toml", "--no-pictures")
    received = schedule(run, "unfold", step, "--metal", "5052-H32", "--only", "json")
    for one in (defined, received):
        assert one["order"]["state"] == "best"
        assert one["order_checked"] is True
    assert received["setting"] == pytest.approx(defined["setting"], abs=1e-6)
    stages = [[numbers(s) for s in one["stages"]] for one in (defined, received)]
    assert len(stages[0]) == len(stages[1]) == 3
    for mine, theirs in zip(*stages, strict=True):
        assert same(mine, theirs), (mine, theirs)
    turned = [["turn it over" in s["handling"]["move"] for s in one["stages"]] for one in (defined, received)]
    assert turned[0] == turned[1]
    assert sum(turned[0]) == 1  # one way up and two bends the other way: turned over once


def test_an_order_of_the_users_is_checked_on_a_received_chain(step: str, run: Run) -> None:
    """The same bends in the order given, each still with its best side."""
    call = ("unfold", step, "--metal", "5052-H32", "--only", "json")
    labels = [s["bend"] for s in schedule(run, *call)["stages"]]
    given = schedule(run, *call, "--order", ",".join(reversed(labels)))
    assert given["order"]["state"] in ("checked", "refused")
    assert [s["bend"] for s in given["stages"]] == labels[::-1]
    again = schedule(run, *call, "--order", ",".join(labels))
    assert again["order"]["state"] == "checked"
