"""Time to find the best order of bending, or to prove that there is none, by the number of bends.

Off in the normal run; see DEVELOPERS.md. Everything is imported, and one small question asked, before the clock runs.
Figures are printed: median and worst, how many sections can be made, growth per bend. About time nothing is asserted;
that at least 40 % can and 40 % cannot be made is, for the times would mean little otherwise.
"""

from __future__ import annotations

import statistics
import time

import pytest

from flatgen.bend_order.search import answer
from tests.bend_order.sections import timed

COUNTS = {6: 20, 8: 20, 10: 20, 12: 10, 14: 10, 16: 10}
"""Sections of each number of bends."""
WITHIN = {10: 1.0, 12: 3.0, 16: 60.0}
"""What the worst is to be [s]."""


def measured(bends: int, setups: int) -> tuple[list[float], list[float], int]:
    """Seconds of each section by the clock and of the processor, and how many can be made."""
    seconds, processor, possible = [], [], 0
    for seed in range(COUNTS[bends]):
        question = timed(bends, setups, seed)
        start, begun = time.perf_counter(), time.process_time()
        possible += answer(question).best.possible
        seconds.append(time.perf_counter() - start)
        processor.append(time.process_time() - begun)
    return seconds, processor, possible


@pytest.mark.parametrize("setups", [1, 2])
def test_time_of_the_best_order(setups: int, benchmark: object) -> None:
    benchmark(lambda: answer(timed(3, setups, 0)))  # type: ignore[operator]
    before: tuple[int, float] | None = None
    print(f"\nset-ups: {setups}")
    for bends, count in COUNTS.items():
        seconds, processor, possible = measured(bends, setups)
        median = statistics.median(seconds)
        growth = "" if before is None else f", {(median / before[1]) ** (1 / (bends - before[0])):.2f} times per bend"
        limit = f" (within {WITHIN[bends]:g} s)" if bends in WITHIN else ""
        print(
            f"{bends:2d} bends: median {median:.2f} s, worst {max(seconds):.2f} s{limit}; "
            f"processor {statistics.median(processor):.2f} and {max(processor):.2f} s; "
            f"{possible} of {count} can be made{growth}",
            flush=True,
        )
        assert 0.4 * count <= possible <= 0.6 * count
        before = bends, median
