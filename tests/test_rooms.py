"""The rooms of the package: each imports only from rooms before it, and no modules import one another in a circle."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from graphlib import CycleError, TopologicalSorter

import grimp
import pytest

from tests.places import ROOT

ROOMS = (
    "core",
    "metal",
    "definition.toml",
    "definition",
    "definition.solid",
    "unfolding",
    "unfolding.received",
    "openings",
    "brake",
    "bend_order",
    "strips",
    "strips.learning",
    "paper.drawing",
    "paper.templates",
    "paper.stage_pictures",
    "paper.pages",
    "paper.shop_sheet",
    "paper.strip_sheets",
    "jobs",
    "cli",
)
"""In the order of the road; DEVELOPERS.md says what each holds."""
FREE = {"", "__main__"}
"""Modules at the top: what ``import flatgen`` gives, and ``python -m flatgen``."""
APART = (("unfolding", "definition"), ("brake", "unfolding"), ("bend_order", "unfolding"), ("strips", "unfolding"))
"""Rooms that do not know another although it stands before them: a solid is unfolded without a definition, a brake
asks nothing of a solid."""

Imports = dict[str, set[str]]


@pytest.fixture(scope="module")
def imports() -> Imports:
    """Module to the modules that it imports, inside functions too; names below ``flatgen``."""
    graph = grimp.build_graph("flatgen", cache_dir=None)
    names = {m: m.removeprefix("flatgen").removeprefix(".") for m in graph.modules}
    return {names[m]: {names[d] for d in graph.find_modules_directly_imported_by(m)} for m in graph.modules}


def room_of(module: str) -> str:
    """The innermost room that a module stands in."""
    return max((r for r in ROOMS if f"{module}.".startswith(f"{r}.")), key=len, default="")


def backward(imports: Imports) -> list[str]:
    """Imports from a later room, and those between rooms that are to stand apart."""
    wrong = []
    for module, others in sorted(imports.items()):
        here = room_of(module)
        for other in sorted(others):
            there = room_of(other)
            if module in FREE or here == there:
                continue
            outside = other in FREE or not there
            if outside or ROOMS.index(there) > ROOMS.index(here) or (here, there) in APART:
                wrong.append(f"{module} imports {other or 'flatgen'}")
    return wrong


def circle(imports: Imports) -> list[str]:
    """Modules that import one another in a circle; empty where there is none."""
    try:
        tuple(TopologicalSorter({m: o for m, o in imports.items() if m not in FREE}).static_order())
    except CycleError as error:
        return list(error.args[1])
    return []


def test_every_module_stands_in_a_room(imports: Imports) -> None:
    packages = {"paper"}
    assert {m for m in imports if not room_of(m)} == FREE | packages
    tops = {p.stem for p in (ROOT / "flatgen").iterdir() if p.suffix == ".py" or (p / "__init__.py").is_file()}
    assert tops - {"__init__", "__main__"} == {r.split(".")[0] for r in ROOMS}
    assert len(tops) <= 13


def test_a_room_imports_only_from_rooms_before_it(imports: Imports) -> None:
    assert backward(imports) == []


def test_no_circle(imports: Imports) -> None:
    assert circle(imports) == []


@pytest.mark.parametrize(
    ("module", "other"),
    [
        ("core.units", "metal.allowance"),
        ("definition.toml.document", "definition.limits"),
        ("strips.log", "strips.learning.model"),
        ("paper.drawing.ink", "paper.pages.frame"),
        ("jobs.draw", "cli.app"),
        ("unfolding.read", "definition.model"),
        ("metal.tables", ""),
    ],
)
def test_a_planted_violation_is_found(imports: Imports, module: str, other: str) -> None:
    assert module in imports
    assert other in imports
    assert f"{module} imports {other or 'flatgen'}" in backward({**imports, module: imports[module] | {other}})


def test_a_planted_circle_is_found(imports: Imports) -> None:
    module, other = "core.units", "core.files"
    planted = {module: imports[module] | {other}, other: imports[other] | {module}}
    assert set(circle({**imports, **planted})) == {module, other}


def heights(imports: Imports, rooms: Sequence[str], room: Callable[[str], str]) -> dict[str, int]:
    """The floor that each room stands on: one above the highest that it imports from."""
    below: Imports = {r: set() for r in rooms}
    for module, others in imports.items():
        if module not in FREE and room(module):
            below[room(module)] |= {room(o) for o in others} - {room(module), ""}
    height: dict[str, int] = {}
    for name in rooms:
        height[name] = 1 + max((height[o] for o in below[name]), default=0)
    return height


def test_how_high_the_house_is(imports: Imports) -> None:
    tops = tuple(dict.fromkeys(r.split(".")[0] for r in ROOMS))
    assert max(heights(imports, tops, lambda m: room_of(m).split(".")[0]).values()) <= 10
    assert max(heights(imports, ROOMS, room_of).values()) <= 12


def test_the_developers_page_is_true() -> None:
    """Its rooms are these, and every module, folder and file that it names is there."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = re.findall(r"^\| `([a-z_/]+)/` \|", text, re.M)
    assert tuple(t.replace("/", ".") for t in table) == ROOMS
    named = set(re.findall(r"`((?:[a-z_]+/)+[A-Za-z_]*(?:\.[a-z]+)?)`", text))
    missing = [n for n in named if not ((ROOT / n).exists() or (ROOT / "flatgen" / n).exists())]
    assert len(named) > 40
    assert missing == []
    assert text.count("\n") < 250
