"""One skin of a sheet, developed: charts of its faces, trails of its edges, the loops around them; and the bends."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Bend, Loop, Point, Region, Segment
from flatgen.unfolding.develop import ON_LINE, Bow, Chains, Chart, LaidJoint, Trail, ZoneChart, trail
from flatgen.unfolding.faces import loop_of
from flatgen.unfolding.sheet import Shell, triple
from flatgen.unfolding.skins import REMEDY, describe
from flatgen.unfolding.tree import Zone

TOUCH = 0.02
"""Two uses of one edge that develop farther apart are two edges [mm]."""


@dataclass(frozen=True)
class DevelopedSkin:
    """``charts`` of all faces of the skin and of the ``strips`` of cut edges drawn with it; ``trails`` by half-edge."""

    shell: Shell
    charts: dict[int, Chart]
    trails: dict[int, Trail]
    far: bool
    strips: frozenset[int] = frozenset()

    def loops(self, faces: Iterable[int] | None = None) -> Chains:
        """Boundary of some faces, or of the skin, as seen from the near side: outlines counter-clockwise.

        The walk goes straight across edges over which the faces hang together, so that each chain follows the
        region's own boundary even where edges meet in one point.
        """
        chosen = sorted(self.charts if faces is None else faces)
        chosen_set = set(chosen)
        shell, twins = self.shell, self.shell.twins
        halves = [h for f in chosen for h in shell.faces[f].half_edges]
        inner = {h for h in halves if h in twins and shell.half_edges[twins[h]].face in chosen_set and self._meets(h)}
        chains, used = [], set()
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
            chains.append([reversed_trail(t) for t in reversed(chain)] if self.far else chain)
        return chains

    def _meets(self, half: int) -> bool:
        other = self.shell.twins[half]
        if self.charts[self.shell.half_edges[half].face] is self.charts[self.shell.half_edges[other].face]:
            return True
        a, b = self.trails[half], self.trails[other]
        reach = TOUCH + self.shell.slack.length
        return math.dist(a.start, b.end) < reach and math.dist(a.end, b.start) < reach

    @cached_property
    def zones(self) -> dict[int, frozenset[int]]:
        """Faces of each bend, by the identity of its place in the layout, without strips."""
        faces_of: dict[int, set[int]] = {}
        for face, chart in self.charts.items():
            if isinstance(chart, ZoneChart) and face not in self.strips:
                faces_of.setdefault(id(chart.step), set()).add(face)
        return {step: frozenset(faces) for step, faces in faces_of.items()}


def develop_skin(shell: Shell, charts: dict[int, Chart], strips: dict[int, Chart], *, far: bool) -> DevelopedSkin:
    """Develop every edge of a skin, and of the strips that are drawn with it."""
    charts = charts | strips
    trails = {h: trail(chart, shell.curve(h)) for face, chart in charts.items() for h in shell.faces[face].half_edges}
    return DevelopedSkin(shell, charts, trails, far, frozenset(strips))


def reversed_trail(one: Trail) -> Trail:
    """A trail walked the other way."""
    if isinstance(one, Bow):
        places = one.places
        return Bow(lambda shares: places(1.0 - np.asarray(shares)))
    return one.reversed()


def regions(skin: DevelopedSkin, faces: frozenset[int]) -> list[Region]:
    """The pieces of sheet that some faces make, the largest first; edge by edge as the solid has them.

    :raises InputRefused: FG044 where they have no outline.
    """
    if not faces:
        return []
    loops = [loop_of(trails, join=False) for trails in skin.loops(faces)]
    outlines = sorted((lp for lp in loops if lp.signed_area > 0), key=lambda lp: -lp.area)
    holes = [lp for lp in loops if lp.signed_area < 0]
    if not outlines:
        text = "its edges run round it the wrong way, or not at all"
        raise InputRefused(Fault("FG044", describe(skin.shell, min(faces)), text, REMEDY))
    if len(outlines) == 1 or not holes:
        return [Region(o, tuple(holes)) for o in outlines]
    return _sorted_into(outlines, holes)


def _sorted_into(outlines: list[Loop], holes: list[Loop]) -> list[Region]:
    """Holes given to the outline that they lie in."""
    import shapely

    tree = shapely.STRtree([shapely.Polygon(o.points()) for o in outlines])
    inside: dict[int, list[Loop]] = {}
    for hole in holes:
        spot = shapely.Polygon(hole.points()).representative_point()
        home = tree.query(spot, predicate="within")
        inside.setdefault(int(home[0]) if len(home) else 0, []).append(hole)
    return [Region(o, tuple(inside.get(n, ()))) for n, o in enumerate(outlines)]


def bend_of(near: DevelopedSkin, far: DevelopedSkin, step: LaidJoint) -> Bend:
    """A joint as a bend of the flat."""
    joint = step.joint
    behind = _FarOutlines([r.outline for r in regions(far, far.zones.get(id(step), frozenset()))], len(joint.zones) > 1)
    segments = tuple(_segment(near, behind, step, zone) for zone in joint.zones)
    axis = (triple(joint.origin), triple(step.axis))
    return Bend(
        first=step.first,
        second=step.second,
        angle=joint.angle,
        way="up" if joint.up else "down",
        inside_radius=joint.inside_radius,
        allowance=step.allowance.length,
        k=step.allowance.k,
        method=step.allowance.method,
        origin=step.origin,
        along=step.along,
        axis=axis,
        segments=tuple(
            sorted(segments, key=lambda s: min(p[0] * step.along[0] + p[1] * step.along[1] for p in s.centre))
        ),
    )


def _segment(near: DevelopedSkin, far: _FarOutlines, step: LaidJoint, zone: Zone) -> Segment:
    region, *_ = regions(near, zone.faces)
    behind = far.before(region)
    (ox, oy), (ax, ay), wide = step.origin, step.along, step.allowance.length

    def across(u: float) -> tuple[Point, Point]:
        spots = [s for loop in (region.outline, *behind) for s in _crossings(loop, step, u)]
        if not spots:
            spots = [(region.outline.pieces[0].start[0] - ox) * ax + (region.outline.pieces[0].start[1] - oy) * ay]
        low, high = min(spots), max(spots)
        return ((ox + ax * low + ay * u, oy + ay * low - ax * u), (ox + ax * high + ay * u, oy + ay * high - ax * u))

    return Segment(region.outline, region.openings, across(wide / 2), (across(0.0), across(wide)))


class _FarOutlines:
    """Outlines of the far skin's patches of one bend; ``several``: near patches each have their own of them."""

    def __init__(self, outlines: list[Loop], several: bool) -> None:
        self.outlines = outlines
        self.tree: Any = None
        if several and outlines:
            import shapely

            self.tree = shapely.STRtree([shapely.Polygon(o.points()) for o in outlines])

    def before(self, region: Region) -> list[Loop]:
        """Those that lie before a near patch."""
        if self.tree is None:
            return self.outlines
        import shapely

        here = shapely.Polygon(region.outline.points())
        near = sorted(int(n) for n in self.tree.query(here, predicate="intersects"))
        return [self.outlines[n] for n in near if here.intersection(self.tree.geometries[n]).area > 0]


def _crossings(loop: Loop, step: LaidJoint, u: float) -> list[float]:
    """Where along a bend a loop crosses the line ``u`` beyond its first tangent line [mm]."""
    (ox, oy), (ax, ay) = step.origin, step.along
    points = np.array(loop.points(1e-4)) - (ox, oy)
    s, w = points @ (ax, ay), points @ (ay, -ax) - u
    s1, w1 = np.roll(s, -1), np.roll(w, -1)
    crossing = w * w1 < 0
    crossing &= (np.abs(w) > ON_LINE) & (np.abs(w1) > ON_LINE)
    between = s[crossing] + (s1[crossing] - s[crossing]) * w[crossing] / (w[crossing] - w1[crossing])
    return [float(x) for x in (*s[np.abs(w) <= ON_LINE], *between)]
