"""The two faces of a sheet as one drawn flat: all that either covers, and how far they differ.

Where walls lean, the union is worked out on finely sampled boundaries; each of its edges is then traced back to the
line, arc or bow that it came from, which stands in the result as it is (a bow as arcs close to it).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Arc, FaceDifference, Line, Loop, Piece, Point
from flatgen.unfolding.boundaries import Boundary, clean_loop, fit_pieces, frame_about
from flatgen.unfolding.develop import SAGITTA, Bow, Chains, Trail, chain_area
from flatgen.unfolding.sheet import Vector

FITTED_WITHIN = 0.01
"""What is said of curves that are drawn as arcs: fit, sampling and rounding together stay within it [mm]."""
SAME = 1e-6
"""Two developments of one corner that lie closer are one [mm]."""
GRID = 1e-7
"""The union's own rounding [mm]."""
LARGEST_CLOSED_GAP = 1.0
"""A gap smaller than this that only the outlines of the two faces together enclose is left closed [mm2]."""
SQUARE_WITHIN = 1e-3
"""Faces that differ by less count as square [mm]."""


def loop_of(trails: Iterable[Trail], *, join: bool = True) -> Loop:
    """A closed chain of trails as a clean loop."""
    return clean_loop([p for t in trails for p in (fit_pieces(t.points) if isinstance(t, Bow) else [t])], join=join)


def points_of(trail: Trail) -> Vector:
    """Points (n, 2) along a trail, ends included [mm]."""
    if isinstance(trail, Line):
        return np.array((trail.start, trail.end))
    if isinstance(trail, Bow):
        return trail.points
    reach = 2 * math.acos(max(0.0, 1 - min(SAGITTA, trail.radius) / trail.radius))
    steps = max(2, math.ceil(math.radians(abs(trail.sweep)) / reach))
    angles = np.radians(trail.first + trail.sweep * np.linspace(0.0, 1.0, steps + 1))
    (x, y), r = trail.centre, trail.radius
    return np.column_stack((x + r * np.cos(angles), y + r * np.sin(angles)))


def ring_of(trails: Sequence[Trail]) -> Vector:
    """Points (n, 2) around a closed chain, not closed [mm]."""
    return np.vstack([points_of(t)[:-1] for t in trails])


@dataclass(frozen=True)
class DrawnFlat:
    """The drawn loops, outline first, and how faces differ: (index of loop, how).

    ``exact`` are the loops that both faces have alike, of lines and arcs only, each with the chain that it came
    from; ``rest`` are the chains of both faces that the other loops came from.
    """

    loops: tuple[Loop, ...]
    gaps: tuple[tuple[int, FaceDifference], ...]
    exact: tuple[tuple[int, list[Trail]], ...]
    rest: tuple[list[Trail], ...]


def draw_flat(near: Chains, far: Chains) -> DrawnFlat:
    """The drawn loops from the boundaries of both skins.

    :raises InputRefused: FG041, FG042 where a face has no one outline.
    """
    near, far = _outline_first(near), _outline_first(far)
    pairs = matching_chains(near, far)
    alike = {n: loop_of(near[n]) for n in pairs}
    bowed = {n for n in pairs if any(isinstance(t, Bow) for t in near[n])}
    odd_near = [c for n, c in enumerate(near) if n not in pairs]
    odd_far = [c for n, c in enumerate(far) if n not in set(pairs.values())]
    rest = [c for n, c in enumerate(near) if n not in pairs or n in bowed] + odd_far
    loops: list[Loop] = []
    gaps: list[tuple[int, FaceDifference]] = []
    if odd_near or odd_far:
        loops, gaps = _union(odd_near, odd_far, outline=0 not in pairs)
    if 0 in pairs:
        loops, gaps = [alike[0], *loops], [(n + 1, g) for n, g in gaps]
    openings = [n for n in sorted(pairs) if n > 0]
    exact = [(0, near[0])] if 0 in pairs and 0 not in bowed else []
    exact += [(len(loops) + place, near[n]) for place, n in enumerate(openings) if n not in bowed]
    return DrawnFlat((*loops, *(alike[n] for n in openings)), tuple(gaps), tuple(exact), tuple(rest))


def _outline_first(chains: Chains) -> Chains:
    areas = [chain_area(c) for c in chains]
    order = sorted(range(len(chains)), key=lambda n: -abs(areas[n]))
    if any(areas[n] > 0 for n in order[1:]):
        raise InputRefused(Fault("FG042", "the flat", "its boundary has more than one outline", "check the solid"))
    return [chains[n] for n in order]


def matching_chains(near: Chains, far: Chains) -> dict[int, int]:
    """Chains of both faces that are one, by corners and size."""
    marks: dict[tuple[int, float, float], list[tuple[int, list[Point]]]] = {}
    for n, chain in enumerate(far):
        mark = _chain_marks(chain)
        marks.setdefault(_key(mark), []).append((n, mark))
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for n, chain in enumerate(near):
        mark = _chain_marks(chain)
        reach = SQUARE_WITHIN if any(isinstance(t, Bow) for t in chain) else SAME
        for m, other in marks.get(_key(mark), []):
            if m not in taken and _alike_spots(mark, other, reach):
                pairs[n] = m
                taken.add(m)
                break
    return pairs


def _chain_marks(chain: list[Trail]) -> list[Point]:
    """What two chains that are one agree in: corners, and the middles of their trails, in one order."""
    marks = [p for t in chain for p in _trail_marks(t)]
    return sorted(marks, key=lambda p: (round(p[0], 4), round(p[1], 4)))


def _trail_marks(trail: Trail) -> list[Point]:
    if isinstance(trail, Arc) and trail.full:
        (x, y), r = trail.centre, trail.radius
        return [(x, y), (x + r, y)]
    if isinstance(trail, Bow):
        five = _five_points(trail)
        return [(float(five[0, 0]), float(five[0, 1])), (float(five[2, 0]), float(five[2, 1]))]
    return [trail.start, trail.at(0.5)]


def _key(mark: list[Point]) -> tuple[int, float, float]:
    """Coarse: a near miss only sends two chains the longer way round."""
    count = len(mark)
    return (count, round(sum(p[0] for p in mark) / count, 2), round(sum(p[1] for p in mark) / count, 2))


@dataclass(frozen=True)
class _Sources:
    """All sampled edges of both faces in one search tree; ``owner`` is the trail of each."""

    trails: list[Trail]
    owner: Vector
    tree: Any

    def trail_at(self, points: Vector) -> Vector:
        """Index of the trail that each point (n, 2) of a boundary lies on; of several the first."""
        import shapely

        where, edge = self.tree.query(shapely.points(points), predicate="dwithin", distance=5 * GRID)
        owners = np.full(len(points), len(self.trails))
        np.minimum.at(owners, where, self.owner[edge])
        for n in np.flatnonzero(owners == len(self.trails)):
            owners[n] = self.owner[int(self.tree.nearest(shapely.Point(points[n])))]
        return owners


def _union(near: Chains, far: Chains, *, outline: bool) -> tuple[list[Loop], list[tuple[int, FaceDifference]]]:
    """Loops of the region that either face covers; without ``outline`` the chains are openings only."""
    import shapely

    far = _snapped(near, far)
    rings = [[ring_of(c) for c in chains] for chains in (near, far)]
    frame = frame_about(np.vstack([r for side in rings for r in side]), 10.0)
    regions = []
    for side in rings:
        shell, holes = (side[0], side[1:]) if outline else (frame, side)
        regions.append(mended_polygon(shapely.Polygon(shell, holes)))
    both = shapely.union(*regions, grid_size=GRID)
    if both.geom_type != "Polygon":
        raise InputRefused(Fault("FG042", "the flat", "its two faces do not make one sheet", "check the solid"))
    trails = [t for side in (near, far) for chain in side for t in chain]
    edges, owner = [], []
    for n, trail in enumerate(trails):
        points = points_of(trail)
        edges += list(shapely.linestrings(np.stack((points[:-1], points[1:]), axis=1)))
        owner += [n] * (len(points) - 1)
    sources = _Sources(trails, np.array(owner), shapely.STRtree(edges))
    kept = [both.exterior, *both.interiors] if outline else list(both.interiors)
    if outline and len(both.interiors) > max(len(near), len(far)) - 1:
        kept = [both.exterior, *(r for r in both.interiors if _is_opening(r, rings))]
    edges_of_sides = [Boundary(side) for side in rings]
    loops: list[Loop] = []
    gaps: list[tuple[int, FaceDifference]] = []
    for ring in kept:
        points = shapely.get_coordinates(ring)[:-1]
        loop = _traced(points, sources)
        if loops or not outline:
            loop = loop if loop.signed_area < 0 else loop.reversed()
        else:
            loop = loop if loop.signed_area > 0 else loop.reversed()
        gap = _difference(points, edges_of_sides)
        if gap is not None:
            gaps.append((len(loops), gap))
        loops.append(loop)
    return loops, gaps


def _is_opening(ring: Any, rings: list[list[Vector]]) -> bool:
    """Whether a hole of the union is an opening of either face, or large; not a gap closed by the two outlines."""
    import shapely

    spot = shapely.Polygon(ring)
    holes = [shapely.Polygon(r) for side in rings for r in side[1:]]
    return spot.area > LARGEST_CLOSED_GAP or any(
        spot.intersection(mended_polygon(h)).area > 0.5 * spot.area for h in holes
    )


def mended_polygon(shape: Any) -> Any:
    """A polygon mended where its rings touch, without the lines and points that this may leave."""
    import shapely

    mended = shapely.make_valid(shape)
    parts = [p for p in shapely.get_parts(mended) if p.geom_type in ("Polygon", "MultiPolygon")]
    return mended if mended.geom_type == "Polygon" else shapely.union_all(parts)


def _snapped(near: Chains, far: Chains) -> Chains:
    near_trails: dict[tuple[int, int], list[Trail]] = {}
    for trail in (t for chain in near for t in chain):
        x, y = trail.at(0.5)
        near_trails.setdefault((math.floor(x), math.floor(y)), []).append(trail)
    return [[_same_trail(t, near_trails) or t for t in chain] for chain in far]


def _alike_spots(one: list[Point], two: list[Point], reach: float) -> bool:
    return all(abs(p[i] - q[i]) < reach for p, q in zip(one, two, strict=True) for i in (0, 1))


def _same_trail(trail: Trail, candidates: dict[tuple[int, int], list[Trail]]) -> Trail | None:
    x, y = trail.at(0.5)
    for cell in {(math.floor(x + a), math.floor(y + b)) for a in (-1e-3, 1e-3) for b in (-1e-3, 1e-3)}:
        for other in candidates.get(cell, ()):
            bowed = isinstance(trail, Bow) or isinstance(other, Bow)
            if not bowed and type(other) is not type(trail):
                continue
            if bool(np.all(np.abs(_five_points(trail) - _five_points(other)) < (SQUARE_WITHIN if bowed else SAME))):
                return other
    return None


def _five_points(trail: Trail) -> Vector:
    """Five points along a trail (5, 2), evenly by its length, ends included."""
    shares = np.array((0.0, 0.25, 0.5, 0.75, 1.0))
    if not isinstance(trail, Bow):
        return np.array([trail.at(float(s)) for s in shares])
    points = trail.points
    way = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    return np.column_stack([np.interp(shares * way[-1], way, column) for column in points.T])


def _traced(points: Vector, sources: _Sources) -> Loop:
    following = np.roll(points, -1, axis=0)
    owners = sources.trail_at((points + following) / 2)
    starts = np.flatnonzero(owners != np.roll(owners, 1))
    if not len(starts):
        return loop_of([sources.trails[int(owners[0])]])
    runs = []
    for n, start in enumerate(starts):
        stop = starts[(n + 1) % len(starts)]
        index = np.arange(start, stop + 1 if stop > start else stop + 1 + len(points)) % len(points)
        runs.append((sources.trails[int(owners[start])], points[index]))
    runs = [r for r in runs if len(r[1]) > 2 or math.dist(r[1][0], r[1][-1]) > 10 * GRID] or runs
    joints = [_joint(runs[n - 1][0], run[0], run[1][0]) for n, run in enumerate(runs)]
    pieces: list[Piece] = []
    for n, (trail, along) in enumerate(runs):
        pieces += _between(trail, joints[n], joints[(n + 1) % len(runs)], along)
    return clean_loop(pieces)


def _joint(one: Trail, two: Trail, near: Vector) -> Point:
    """Where two trails meet: an end of theirs, or where they cross, close to a point."""
    spot = (float(near[0]), float(near[1]))
    for trail in (one, two):
        for end in (trail.start, trail.end):
            if math.dist(end, spot) < SAME:
                return end
    shares = [_share(t, near) for t in (one, two)]
    for _ in range(20):
        a, b = (np.array(t.at(s)) for t, s in zip((one, two), shares, strict=True))
        slopes = []
        for trail, share in zip((one, two), shares, strict=True):
            slopes.append((np.array(trail.at(share + 1e-6)) - np.array(trail.at(share - 1e-6))) / 2e-6)
        matrix = np.column_stack((slopes[0], -slopes[1]))
        if abs(np.linalg.det(matrix)) < 1e-9 * np.linalg.norm(slopes[0]) * np.linalg.norm(slopes[1]):
            return spot
        step = np.linalg.solve(matrix, b - a)
        shares = [float(min(max(s + d, 0.0), 1.0)) for s, d in zip(shares, step, strict=True)]
        if np.abs(a - b).max() < 1e-12:
            break
    crossing = one.at(shares[0])
    return (
        crossing if math.dist(crossing, spot) < 20 * SAGITTA and math.dist(crossing, two.at(shares[1])) < SAME else spot
    )


def _share(trail: Trail, point: Vector) -> float:
    points = points_of(trail)
    start, end = points[:-1], points[1:]
    way = end - start
    size = np.maximum((way**2).sum(axis=1), 1e-30)
    t = np.clip(((point - start) * way).sum(axis=1) / size, 0.0, 1.0)
    off = np.hypot(*(start + way * t[:, None] - point).T)
    best = int(np.argmin(off))
    return (best + float(t[best])) / len(start)


def _between(trail: Trail, start: Point, end: Point, along: Vector) -> list[Piece]:
    """The part of a trail from one point on it to another, by way of sampled points."""
    if isinstance(trail, Line):
        return [Line(start, end)]
    if isinstance(trail, Arc):
        middle = along[len(along) // 2] if len(along) > 2 else (along[0] + along[-1]) / 2
        return [_arc_between(trail, start, end, middle)]
    points = np.vstack((start, along[1:-1], end))
    return fit_pieces(points)


def _arc_between(arc: Arc, start: Point, end: Point, middle: Vector) -> Arc:
    def angle(p: Sequence[float] | Vector) -> float:
        return math.degrees(math.atan2(p[1] - arc.centre[1], p[0] - arc.centre[0]))

    first, half, last = angle(start), angle(middle), angle(end)
    ahead = (last - first) % 360.0
    sweep = ahead if (half - first) % 360.0 < ahead else ahead - 360.0
    return Arc(arc.centre, arc.radius, first, sweep)


def _difference(points: Vector, sides: list[Boundary]) -> FaceDifference | None:
    """How far the two faces' edges lie apart along one drawn ring, where it is most."""
    spots = np.vstack((points, (points + np.roll(points, -1, axis=0)) / 2))
    apart = np.maximum(*(side.distance(spots) for side in sides))
    worst = int(np.argmax(apart))
    if apart[worst] < SQUARE_WITHIN:
        return None
    return FaceDifference(float(apart[worst]), (float(spots[worst, 0]), float(spots[worst, 1])))
