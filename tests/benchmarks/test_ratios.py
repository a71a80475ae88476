"""Ratios of whole commands to the bare imports they cannot do without, measured in one run.

Off in the normal run; see DEVELOPERS.md. The figures are printed; nothing is asserted about time.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.places import ROOT

FLATGEN = [str(Path(sys.executable).with_name("flatgen"))]
RAIL = str(ROOT / "profiles" / "roof-rail.toml")


def pair(command: list[str], base: list[str], runs: int = 5) -> float:
    """Median of the ratio command / base, in turn."""
    ratios = []
    for n in range(runs + 1):
        one, two = (_seconds(c) for c in (command, base))
        if n:
            ratios.append(one / two)
    return statistics.median(ratios)


def _seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


@pytest.mark.parametrize("command", [["--help"], ["check", RAIL], ["metals"]], ids=lambda c: c[0])
def test_light_commands_against_the_kernel(command: list[str], benchmark: object) -> None:
    ratio = pair(FLATGEN + command, [sys.executable, "-c", "import cadquery"])
    print(f"\nflatgen {command[0]}: {ratio:.3f} of import cadquery (at most 0.25)")
    benchmark(lambda: None)  # type: ignore[operator]


@pytest.mark.parametrize("command", ["plan", "capacity"])
def test_plan_and_capacity_against_the_kernel(command: str, tmp_path: Path, benchmark: object) -> None:
    """A profile with four bends; the brake of the demo shop with its three set-ups, chart written."""
    shop = str(ROOT / "profiles" / "shop.toml")
    rest = [RAIL] if command == "plan" else ["--shop", shop, "--out", str(tmp_path)]
    ratio = pair([*FLATGEN, command, *rest], [sys.executable, "-c", "import cadquery"])
    print(f"\nflatgen {command}: {ratio:.3f} of import cadquery (at most 0.4)")
    benchmark(lambda: None)  # type: ignore[operator]


def test_draw_against_its_imports(tmp_path: Path, benchmark: object) -> None:
    command = [*FLATGEN, "draw", RAIL, "--only", "dxf,step,json,svg", "--out", str(tmp_path)]
    ratio = pair(command, [sys.executable, "-c", "import cadquery, ezdxf"])
    print(f"\nflatgen draw: {ratio:.3f} of import cadquery, ezdxf (at most 1.4)")
    benchmark(lambda: None)  # type: ignore[operator]


def test_fifty_profiles_against_one(tmp_path: Path, benchmark: object) -> None:
    many = []
    for n in range(50):
        many.append(str(tmp_path / f"rail-{n}.toml"))
        shutil.copy(RAIL, many[-1])
    out = ["--out", str(tmp_path / "out")]
    ratio = pair([*FLATGEN, "draw", *many, *out], [*FLATGEN, "draw", RAIL, *out], runs=2)
    print(f"\n50 profiles in one call: {ratio:.2f} of one profile (at most 8)")
    benchmark(lambda: None)  # type: ignore[operator]


HOLES = """metal = "5052-H32"
thickness = "1.6 mm"
inside_radius = "2 mm"
length = "{long} mm"
section = [{{ leg = "30 mm" }}, {{ bend = 90, way = "up" }}, {{ leg = "140 mm", name = "web" }}]
[[opening]]
leg = "web"
shape = "round"
diameter = "4 mm"
across = "20 mm"
along = "20 mm"
row_across = {{ count = 10, pitch = "11 mm" }}
row_along = {{ count = {rows}, pitch = "10 mm" }}
"""


def test_two_thousand_holes_against_one_thousand(tmp_path: Path, benchmark: object) -> None:
    """In one process, after imports; the whole road with all usual files."""
    from flatgen.jobs import draw as job

    paths = {}
    for count in (20, 1000, 2000):
        paths[count] = tmp_path / f"holes-{count}.toml"
        paths[count].write_text(HOLES.format(long=count + 40, rows=count // 10))
    job.draw(paths[20], tmp_path / "out")
    spent: dict[int, list[float]] = {1000: [], 2000: []}
    for _ in range(3):
        for count, times in spent.items():
            start = time.perf_counter()
            job.draw(paths[count], tmp_path / "out")
            times.append(time.perf_counter() - start)
    one, two = (statistics.median(spent[n]) for n in (1000, 2000))
    print(f"\n2,000 holes: {two / one:.2f} of 1,000 (at most 2.3); 1,000 take {one:.2f} s (at most 3)")
    benchmark(lambda: None)  # type: ignore[operator]
