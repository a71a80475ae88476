"""The bend schedule's rows: what they say is what the stages have, and they fit a table of 267 mm."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.core.schedule import Handling, Schedule
from flatgen.definition.closed_form import develop
from flatgen.definition.part import Part
from flatgen.definition.reader import read_profile
from flatgen.paper.pages.tables import table
from flatgen.paper.shop_sheet.rows import Table, schedule_table
from tests.brake.shops import shop
from tests.paper.shop_sheet.sheet_parts import random_part, tray
from tests.places import PROFILES

WIDE, TALL = 267.0, 180.0
UNITS = ("mm", "in", "in/64")


def planned(seed: int) -> tuple[Part, Schedule]:
    part, flat = random_part(seed)
    return part, make_schedule(part, creases_of_flat(part, flat), shop())


def inches(text: str) -> float:
    """A figure in inches: decimal, or a whole number and a fraction and what is to be added."""
    return float(sum(Fraction(part.replace("−", "-")) for part in text.split()))


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("seed", range(6))
def test_cells_are_the_stage(seed: int, unit: Any) -> None:
    """Read back: 0.05 mm or 0.0005 in from the truth at most; faces, sides, order as they are."""
    part, plan = planned(seed)
    size, half = (1.0, 0.0501) if unit == "mm" else (25.4, 0.000501)
    read = float if unit == "mm" else inches
    rows = schedule_table(part, plan, unit=unit).rows
    for row, stage in zip(rows, plan.stages, strict=True):
        cells = [str(cell) for cell in row]
        crease, sight = stage.crease, stage.sight
        assert cells[:3] == [str(stage.number), crease.label, crease.way]
        assert float(cells[3].rstrip("°")) == pytest.approx(crease.angle, abs=0.0501)
        assert cells[7] == part.leg_name(crease.side(sight.held).leg)
        assert cells[8] == sight.face
        assert read(cells[9]) == pytest.approx(sight.from_held_edge / size, abs=half)
        assert read(cells[10]) == pytest.approx(sight.from_datum / size, abs=half)
        if stage.setting is not None:
            assert float(cells[11]) * size == pytest.approx(stage.setting, abs=0.0128)
        if stage.load is not None:
            assert float(cells[13]) * (1 if unit == "mm" else 4.4482216) == pytest.approx(stage.load.handle, abs=2.3)


def test_what_is_not_checked_says_so() -> None:
    """No metal figures, no load, no handling: never a number."""
    part, plan = planned(2)
    bare = replace(plan.stages[0], springback=None, leaf_angle=None, radius=None, load=None, handling=None)
    bare = replace(bare, setting=None)
    made = schedule_table(part, replace(plan, stages=(bare,), setting=None, state="unchecked", unchecked="no chain"))
    (row,) = made.rows
    assert [row[n] for n in (4, 6, 11, 13, 14)] == [*["not checked"] * 2, "not known", *["not checked"] * 2]
    assert "NOT checked" in made.notes[0]
    assert "no chain" in made.notes[0]


def test_refused_order_is_a_caution() -> None:
    """The purlin of the demo profiles cannot be bent from its edges inward on the demo brake (self)."""
    from flatgen.brake.read_shop import read_shop

    part = read_profile(PROFILES / "purlin.toml")
    plan = make_schedule(part, creases_of_profile(part, develop(part)), read_shop(PROFILES / "shop.toml"))
    made = schedule_table(part, plan)
    assert made.notes[0].startswith("Caution")
    assert "CANNOT" in made.notes[0]
    assert any(row[-1] == "CONTACT" for row in made.rows)
    assert any(note.startswith("Caution: stage") for note in made.notes[1:])


def test_little_room_is_marked() -> None:
    part, plan = planned(1)
    near = Handling("near", "first", "", "straight", "straight", 0.0, 0.0, 1.25, "leaf", True, True)
    stages = (replace(plan.stages[0], handling=near), *plan.stages[1:])
    made = schedule_table(part, replace(plan, stages=stages, state="best"))
    assert str(made.rows[0][-1]) == "1.2 !"
    assert any("safe 2.0 mm" in note for note in made.notes)
    assert any("ended by hand" in note for note in made.notes)


@pytest.mark.parametrize("unit", UNITS)
def test_rows_fit_a_page(unit: Any) -> None:
    """A table of A4 lying holds them, with names as long and odd as users write them."""
    for seed in (1, 4, 7):
        part, plan = planned(seed)
        odd = tuple(replace(leg, name=f"{n} <very> %%d {{long}} " + "W" * 60) for n, leg in enumerate(part.legs))
        made = schedule_table(replace(part, legs=odd), plan, unit=unit)  # type: ignore[type-var]
        assert all(len(str(cell)) <= 30 for row in made.rows for cell in row)
        blocks = table(made.heads, made.rows, WIDE, TALL)
        assert all(block.wide <= WIDE + 1e-6 for block in blocks)


def test_bends_across_are_measured_from_the_lower_edge() -> None:
    """A tray's bends have two datums: each cell names its own."""
    part, flat = tray()
    plan = make_schedule(part, creases_of_flat(part, flat), shop())
    made = schedule_table(part, plan)
    assert {str(row[10]).partition(", ")[2] for row in made.rows} == {"left edge", "lower edge"}
    assert "datum edge" in made.heads[10]


def test_a_table_with_a_short_row_is_refused() -> None:
    with pytest.raises(ValueError, match="heads"):
        Table(("a", "b"), (("1",),))
