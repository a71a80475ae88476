"""From the faces of a skin to regions of the flat, and from a bend's zones to its lines."""

from __future__ import annotations

from typing import Any

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Bend, Loop, Point, Region, Segment
from flatgen.unfolding.chart import ON_LINE
from flatgen.unfolding.develop import LaidJoint
from flatgen.unfolding.faces import loop_of
from flatgen.unfolding.sheet import Vector
from flatgen.unfolding.skin import Skin
from flatgen.unfolding.skins import describe
from flatgen.unfolding.sound import REMEDY
from flatgen.unfolding.tree import Zone


def regions(skin: Skin, faces: frozenset[int]) -> list[Region]:
    """The pieces of sheet that some faces make, the largest first; edge by edge as the solid has them.

    Raises
    ------
    InputRefused
        FG044 where they have no outline.
    """
    if not faces:
        return []
    loops = [loop_of(trails, join=False) for trails in skin.loops(faces)]
    outlines = sorted((lp for lp in loops if lp.signed_area > 0), key=lambda lp: -lp.area)
    holes = [lp for lp in loops if lp.signed_area < 0]
    if not outlines:
        raise InputRefused(
            Fault(
                "FG044", describe(skin.shell, min(faces)), "its edges run round it the wrong way, or not at all", REMEDY
            )
        )
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


def bend_of(near: Skin, far: Skin, step: LaidJoint) -> Bend:
    joint = step.joint
    behind = _Behind([r.outline for r in regions(far, far.zones.get(id(step), frozenset()))], len(joint.zones) > 1)
    segments = tuple(_segment(near, behind, step, zone) for zone in joint.zones)
    axis = (_triple(joint.origin), _triple(step.axis))
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


def _segment(near: Skin, far: _Behind, step: LaidJoint, zone: Zone) -> Segment:
    """One piece of a bend. Its lines run as far as either face reaches, so that they end on the drawn edge."""
    region, *_ = regions(near, zone.faces)
    behind = far.before(region)
    (ox, oy), (ax, ay), wide = step.origin, step.along, step.allowance.length

    def across(u: float) -> tuple[Point, Point]:
        spots = [s for loop in (region.outline, *behind) for s in _crossings(loop, step, u)]
        if not spots:
            spots = [(region.outline.pieces[0].start[0] - ox) * ax + (region.outline.pieces[0].start[1] - oy) * ay]
        low, high = min(spots), max(spots)
        return (
            (ox + ax * low + ay * u, oy + ay * low - ax * u),
            (ox + ax * high + ay * u, oy + ay * high - ax * u),
        )

    return Segment(region.outline, region.openings, across(wide / 2), (across(0.0), across(wide)))


class _Behind:
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
    met = w * w1 < 0
    met &= (np.abs(w) > ON_LINE) & (np.abs(w1) > ON_LINE)
    between = s[met] + (s1[met] - s[met]) * w[met] / (w[met] - w1[met])
    return [float(x) for x in (*s[np.abs(w) <= ON_LINE], *between)]


def _triple(vector: Vector) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in vector)
    return (x, y, z)
