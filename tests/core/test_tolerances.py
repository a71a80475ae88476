"""General tolerances: the printed tables of ISO 2768-1, typed again from another reproduction than the data's."""

from __future__ import annotations

import pytest

from flatgen.core.tolerances import angular_tolerance, linear_tolerance

LINEAR = """
f .05 .05 .1 .15 .2 .3 .5 -
m .1 .1 .2 .3 .5 .8 1.2 2
c .2 .3 .5 .8 1.2 2 3 4
v - .5 1 1.5 2.5 4 6 8
"""
"""ISO 2768-1, table 1 (seen): 0.5 up to 3, over 3 up to 6, 30, 120, 400, 1000, 2000, 4000 mm; plus or minus, mm."""
TO = (3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0)
ANGULAR = {"f": (60, 30, 20, 10, 5), "m": (60, 30, 20, 10, 5), "c": (90, 60, 30, 15, 10), "v": (180, 120, 60, 30, 20)}
"""ISO 2768-1, table 3 (seen): shorter leg up to 10, over 10 up to 50, 120, 400, over 400 mm; minutes."""
LEGS = (10.0, 50.0, 120.0, 400.0, 5000.0)


@pytest.mark.parametrize("row", LINEAR.split("\n")[1:-1])
def test_linear_table(row: str) -> None:
    """Every cell at its upper limit and just above its lower one."""
    grade, *cells = row.split()
    low = 0.5
    for to, cell in zip(TO, cells, strict=True):
        for size in (low + 1e-5, (low + to) / 2, to, to + 1e-9):
            found = linear_tolerance(size, grade)  # type: ignore[arg-type]
            if cell == "-":
                assert found is None
            else:
                assert found is not None
                assert found.value == pytest.approx(float(cell), abs=1e-12)
                assert "2768" in found.source
                assert found.mark == "seen"
        low = to


@pytest.mark.parametrize("grade", list(ANGULAR))
def test_angular_table(grade: str) -> None:
    """Every cell at its upper limit and just above its lower one."""
    low = 0.0
    for to, minutes in zip(LEGS, ANGULAR[grade], strict=True):
        for leg in (low + 1e-5, to, to + 1e-9):
            found = angular_tolerance(leg, grade)  # type: ignore[arg-type]
            assert found is not None
            assert found.value * 60 == pytest.approx(minutes, abs=1e-9)
        low = to


def test_sizes_beyond_the_table() -> None:
    """ISO 2768-1: under 0.5 mm limits stand beside the size itself, above 4 m there are none (seen)."""
    assert linear_tolerance(0.49) is None
    assert linear_tolerance(0.5) is not None
    assert linear_tolerance(4000.1) is None


@pytest.mark.parametrize("size", [0.0, -1.0, float("inf"), float("nan")])
def test_what_is_no_size_is_refused(size: float) -> None:
    with pytest.raises(ValueError, match="size"):
        linear_tolerance(size)
    with pytest.raises(ValueError, match="class"):
        linear_tolerance(10.0, "x")  # type: ignore[arg-type]
