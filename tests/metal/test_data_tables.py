"""The data tables of the package: a source and a mark beside each figure, and the shape asked of a user's."""

import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import flatgen.metal.metals as metals_module
from flatgen.metal.allowance import METHODS
from flatgen.metal.figures import UNITS, gauge_systems
from flatgen.metal.metals import load_metals
from flatgen.metal.schema import check_tables

DATA = Path(metals_module.__file__).parent / "data"
FILES = {path.name: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(DATA.glob("*.toml"))}
SOURCES = FILES["sources.toml"]["sources"]
ASKED = [
    "6061-O", "6061-T4", "6061-T6", "2024-O", "2024-T3", "5052-O", "5052-H32", "5052-H34", "3003-O",
    "3003-H14",
    "1100-O", "1100-H14", "7075-T6", "DC01", "S235", "4130-N", "304", "316",
]  # fmt: skip


def numbers(tree: Any, place: str, holder: dict[str, Any] | None) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every number with the nearest table around it that names a source."""
    if isinstance(tree, dict):
        holder = tree if "source" in tree else holder
        for key, value in tree.items():
            yield from numbers(value, f"{place}.{key}", holder)
    elif isinstance(tree, list):
        for index, value in enumerate(tree):
            yield from numbers(value, f"{place}[{index}]", holder)
    elif isinstance(tree, int | float) and not isinstance(tree, bool):
        yield place, holder or {}


@pytest.mark.parametrize("file", [name for name in FILES if name != "sources.toml"])
def test_every_figure_has_source_and_mark(file: str) -> None:
    found = list(numbers(FILES[file], file, None))
    assert len(found) > 50
    bare = [place for place, holder in found if holder.get("source") not in SOURCES]
    unmarked = [place for place, holder in found if holder.get("mark") not in ("seen", "memory", "derived")]
    assert bare == []
    assert unmarked == []


def test_the_walk_sees_a_bare_figure() -> None:
    """The test above can fail: a figure without a source is found."""
    assert [h for _, h in numbers({"metals": {"x": {"yield": [{"value": 3}]}}}, "x", None)] == [{}]


def test_memory_is_marked_as_memory() -> None:
    """The source "from memory" and the mark "memory" go together."""
    for file, tree in FILES.items():
        for place, holder in numbers(tree, file, None):
            assert (holder["source"] == "from-memory") == (holder["mark"] == "memory"), place


def test_every_source_is_used_and_told() -> None:
    used = {h["source"] for f, tree in FILES.items() for _, h in numbers(tree, f, None)}
    assert used == set(SOURCES)
    assert all(s["title"] and s["where"] for s in SOURCES.values())
    assert [n for n, s in SOURCES.items() if not s.get("url", "").startswith("http")] == [
        "brown-sharpe-formula",
        "from-memory",
    ]


@pytest.mark.parametrize("file", ["sources.toml", "metals.toml", "radii.toml"])
def test_our_tables_have_the_shape_asked_of_a_users(file: str) -> None:
    assert check_tables(FILES[file], file)[1] == ()


def test_the_metals_asked_for() -> None:
    metals = load_metals()
    assert list(metals) == ASKED
    for metal in metals.values():
        assert metal.density is not None
        assert 2600 < metal.density < 8100
        assert metal.default_method in METHODS
        assert metal.gauge_system is None or metal.gauge_system in gauge_systems()
        for quantity in UNITS:
            assert metal.name == "7075-T6" or metal.figures_of(quantity)


def test_figures_are_plausible() -> None:
    """A slip of a unit or a digit would show: ranges of each quantity over all metals, house units."""
    ranges = {"density": (2600, 8100), "modulus": (68000, 215000), "poisson": (0.25, 0.35)}
    ranges |= {"yield": (30, 560), "ultimate": (80, 700)}
    for metal in load_metals().values():
        for figure in metal.figures:
            low, high = ranges[figure.quantity]
            assert low < figure.value < high, (metal.name, figure)


def test_typical_strength_is_above_minimum() -> None:
    for metal in load_metals().values():
        for quantity in ("yield", "ultimate"):
            for typical in metal.figures_of(quantity, "typical"):
                for least in metal.figures_of(quantity, "minimum"):
                    assert typical.value > least.value, (metal.name, quantity)


def test_gauges_fall() -> None:
    for system in gauge_systems().values():
        sizes = list(system.thickness.values())
        assert len(sizes) >= 11
        assert all(a > b for a, b in pairwise(sizes)), system.name


def test_unknown_quantity() -> None:
    with pytest.raises(ValueError, match="no quantity"):
        load_metals()["304"].figures_of("hardness")
