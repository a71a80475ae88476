"""One skin of a sheet, developed: its faces with their charts, every edge's trail, and the loops around them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flatgen.unfolding.chart import Bow, Chart, Trail, ZoneChart, trail
from flatgen.unfolding.sheet import Shell

TOUCH = 0.02
"""Two uses of one edge that develop farther apart are two edges [mm]."""


@dataclass(frozen=True)
class Skin:
    """``charts`` has every face of the skin; ``trails`` every half-edge of these, as it is walked.

    ``strips`` are faces of cut edges that are drawn with the skin; they have charts too.
    """

    shell: Shell
    charts: dict[int, Chart]
    trails: dict[int, Trail]
    far: bool
    strips: frozenset[int] = frozenset()

    def loops(self, faces: Iterable[int] | None = None) -> list[list[Trail]]:
        """Boundary of some faces, or of the skin, as seen from the near side: outlines counter-clockwise.

        The walk goes straight across edges over which the faces hang together, so that each chain follows the
        region's own boundary even where edges meet in one point.
        """
        chosen = sorted(self.charts if faces is None else faces)
        held = set(chosen)
        shell, twins = self.shell, self.shell.twins
        halves = [h for f in chosen for wire in shell.faces[f].wires for h in wire]
        inner = {h for h in halves if h in twins and shell.half_edges[twins[h]].face in held and self._meets(h)}
        found, used = [], set()
        for start in halves:
            if start in used or start in inner:
                continue
            chain: list[Trail] = []
            half = start
            while half not in used:
                used.add(half)
                chain.append(self.trails[half])
                half = shell.half_edges[half].following
                while half in inner:
                    half = shell.half_edges[twins[half]].following
            found.append([turned_round(t) for t in reversed(chain)] if self.far else chain)
        return found

    def _meets(self, half: int) -> bool:
        """Whether the two uses of an edge lie on one another in the flat, as they do not where two legs touch."""
        other = self.shell.twins[half]
        if self.charts[self.shell.half_edges[half].face] is self.charts[self.shell.half_edges[other].face]:
            return True
        a, b = self.trails[half], self.trails[other]
        reach = TOUCH + self.shell.slack.length
        return math.dist(a.start, b.end) < reach and math.dist(a.end, b.start) < reach

    @cached_property
    def zones(self) -> dict[int, frozenset[int]]:
        """Faces of each bend, by the identity of its place in the layout, without strips."""
        found: dict[int, set[int]] = {}
        for face, chart in self.charts.items():
            if isinstance(chart, ZoneChart) and face not in self.strips:
                found.setdefault(id(chart.step), set()).add(face)
        return {step: frozenset(faces) for step, faces in found.items()}

    @property
    def bowed(self) -> bool:
        """Whether any edge is neither line nor arc in the flat."""
        return any(isinstance(t, Bow) for t in self.trails.values())


def develop_skin(shell: Shell, charts: dict[int, Chart], strips: dict[int, Chart], *, far: bool) -> Skin:
    """Develop every edge of a skin, and of the strips that are drawn with it."""
    charts = charts | strips
    trails = {
        h: trail(chart, shell.half_edges[h].curve)
        for face, chart in charts.items()
        for wire in shell.faces[face].wires
        for h in wire
    }
    return Skin(shell, charts, trails, far, frozenset(strips))


def turned_round(one: Trail) -> Trail:
    """A trail walked the other way."""
    if isinstance(one, Bow):
        places = one.places
        return Bow(lambda shares: places(1.0 - np.asarray(shares)))
    return one.reversed()
