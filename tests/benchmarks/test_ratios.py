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

ROOT = Path(__file__).parents[2]
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
