"""Time to unfold received parts: against the kernel's reading of the same STEP, and by the number of faces.

Off in the normal run; see DEVELOPERS.md. The figures are printed; nothing is asserted about time. Least of several
runs in turn, so that other work on the machine counts little.
"""

from __future__ import annotations

import math
import statistics
import time
from pathlib import Path
from typing import Any

import pytest

from flatgen.core.errors import FlatgenError
from flatgen.metal.bend_rule import rule_for
from flatgen.unfolding.formed import FormedOptions, unfold_formed
from tests.places import PARTS

REAL = PARTS / "real"
RUNS = 5
K = 0.44


def read(path: Path) -> Any:
    """What the kernel alone does: read the file, and transfer its shapes."""
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    reader.ReadFile(str(path))
    reader.TransferRoots()
    return reader.OneShape()


def solids(shape: Any) -> list[Any]:
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    found, explorer = [], TopExp_Explorer(shape, TopAbs_SOLID)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def seconds(act: Any) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def unfolded(shape: Any) -> None:
    unfold_formed(shape, rule_for(None, K), FormedOptions(skip_formed=True))


@pytest.mark.skipif(not REAL.is_dir(), reason="the real parts are not beside this clone")
def test_unfolding_against_reading(benchmark: object) -> None:
    ratios = {}
    for path in sorted(REAL.glob("*.step")):
        solid = solids(read(path))[-1]
        try:
            unfolded(solid)
        except FlatgenError:
            continue  # refused, as the table of real parts says
        reading = min(seconds(lambda path=path: read(path)) for _ in range(RUNS))  # type: ignore[misc]
        unfolding = min(seconds(lambda solid=solid: unfolded(solid)) for _ in range(RUNS))  # type: ignore[misc]
        ratios[path.stem] = unfolding / reading
    for name, ratio in sorted(ratios.items(), key=lambda pair: pair[1]):
        print(f"\n{ratio:.2f}  {name}", end="")
    middle, worst = statistics.median(ratios.values()), max(ratios.values())
    print(f"\nunfolding / reading: median {middle:.2f} (at most 1), worst {worst:.2f} (below 3)")
    benchmark(lambda: None)  # type: ignore[operator]


def slotted(count: int) -> Any:
    """A vent panel: so many slots of four faces each."""
    import cadquery as cq

    across = 20
    rows = math.ceil(count / across)
    slots = [(12.0 * (n % across) + 8, 6.0 * (n // across) + 6) for n in range(count)]
    inner = [cq.Workplane("XY").center(x, y).slot2D(6, 2).wires().val() for x, y in slots]
    outer = cq.Workplane("XY").rect(12.0 * across + 16, 6.0 * rows + 12, centered=False).wires().val()
    return cq.Solid.extrudeLinear(outer, inner, cq.Vector(0, 0, 1))


def combed(count: int) -> Any:
    """A rail with so many tabs bent up along one edge, of nine faces each."""
    import cadquery as cq

    r, t = 1.0, 1.0
    s, c = math.sin(math.pi / 4), 1 - math.cos(math.pi / 4)
    profile = cq.Workplane("YZ").moveTo(0, 0).lineTo(20, 0)
    profile = profile.threePointArc((20 + (r + t) * s, (r + t) * c), (20 + r + t, r + t))
    profile = profile.lineTo(20 + r + t, 10).lineTo(20 + r, 10).lineTo(20 + r, r + t)
    profile = profile.threePointArc((20 + r * s, t + r * c), (20, t)).lineTo(0, t).close()
    gaps = [cq.Solid.makeBox(2, 30, 30, cq.Vector(6 * n + 4, 15, -1)) for n in range(count - 1)]
    return profile.extrude(6.0 * count).val().cut(*gaps)


@pytest.mark.parametrize(("part", "each"), [(slotted, 4), (combed, 9)], ids=["slots", "tabs"])
def test_growth_with_faces(part: Any, each: int, benchmark: object) -> None:
    """No faster than n log n: the last column falls or stays."""
    for faces in (100, 1000, 4000):
        solid = part(faces // each)
        count = len(solid.Faces())
        spent = min(seconds(lambda solid=solid: unfolded(solid)) for _ in range(2))  # type: ignore[misc]
        print(
            f"\n{count:5d} faces: {spent:.3f} s, {1e6 * spent / (count * math.log(count)):.1f} us per n log n", end=""
        )
    benchmark(lambda: None)  # type: ignore[operator]
