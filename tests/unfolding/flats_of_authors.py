"""Flats that the authors of real parts published, as neutral data, and how far ours lie from them.

``python tests/unfolding/flats_of_authors.py`` prints the table. The data stand beside the repository, if at all.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import AllowanceRule, Arc, Axis, BendAllowance, FlatPattern, Matrix, Point
from tests.places import PARTS

REAL, BENDFM = PARTS / "real", PARTS / "bendfm"

K_OF = {  # stated by the authors, or worked out from their flats; of a plate without bends any
    "openamr_front_panel": 0.47,
    "openamr_side_panel": 0.47,
    "openamr_cover_hem": 0.47,
    "openamr_base_tray": 0.47,
    "openamr_wheel_bracket_outer": 0.47,
    "openamr_motor_bracket": 0.47,
    "openamr_center_bracket": 0.40,
    "openamr_support": 0.47,
    "rover6_central_bracket": 0.44,
    "rover6_front_rear_bracket": 0.44,
    "rover6_side_panel_flat0bends": 0.44,
    "rover6_wheel_support_bracket": 0.44,
    "kirigami_v0_bed": 0.44,
    "opencellular_oc2g_plate_flat0bends": 0.44,
    "pdu_lid_short": 0.50,
    "ocp_pcie_bracket_v2": 0.50,
}

Stretch = tuple[Point, Point]


@dataclass(frozen=True)
class Outlines:
    """A flat as polygons: outline, centres of openings (concentric ones once), bend lines [mm]."""

    outline: tuple[Point, ...]
    centres: tuple[Point, ...]
    lines: tuple[Stretch, ...]


@dataclass(frozen=True)
class Compared:
    """Our flat beside the authors', both in the authors' plane; areas in per cent, the rest in mm."""

    part: str
    ours: Point
    theirs: Point
    area: float
    line: float
    centre: float
    edge: float
    counts: str

    @property
    def size(self) -> float:
        return max(abs(self.ours[0] - self.theirs[0]), abs(self.ours[1] - self.theirs[1]))

    @property
    def right(self) -> bool:
        """Size, bend lines and opening centres to 0.05 mm, outline area to 0.03 %."""
        return max(self.size, self.line, self.centre) <= 0.05 and abs(self.area) <= 0.03


def rule_with(k: float) -> Callable[[float], AllowanceRule]:
    """A pi/180 (r + K t) for each bend."""

    def rule_for(thickness: float) -> AllowanceRule:
        def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
            return BendAllowance(math.radians(angle) * (inside_radius + k * thickness), k, "K")

        return rule

    return rule_for


@cache
def solids_of(path: Path) -> tuple[Any, ...]:
    """All solids of a STEP file, in order."""
    import cadquery as cq

    return tuple(cq.importers.importStep(str(path)).solids().vals())


def unfolded(solid: Any, k: float, **wish: Any) -> Any:
    """What the unfolder makes of one solid: flat and findings."""
    from flatgen.unfolding.formed import FormedOptions, unfold_formed

    return unfold_formed(solid, rule_with(k), FormedOptions(**wish))


def authors_flat(part: str) -> Outlines:
    """The flat of a real part as its authors drew it."""
    data = json.loads((REAL / f"{part}.flat.json").read_text(encoding="utf-8"))
    middles = [_middle(o) for o in data["openings"]] + [tuple(c["centre"]) for c in data["circles"]]
    lines = tuple((tuple(a), tuple(b)) for a, b in data["bend_lines"])
    return Outlines(tuple(tuple(p) for p in data["outline"]), _once(middles), lines)


def largest_face(solid: Any) -> Any:
    """One face of an unfolded solid: the pieces that its author left apart are joined first."""
    return max(solid.clean().Faces(), key=lambda f: f.Area())


def flat_of_largest_face(solid: Any) -> Outlines:
    """The outline of an unfolded solid, its faces joined: that of the largest, curves in 256 chords."""
    face = largest_face(solid)
    normal, origin = face.normalAt(), face.Center()
    x = face.Edges()[0].tangentAt(0.0)
    x = (x - normal * x.dot(normal)).normalized()
    y = normal.cross(x)
    spots = [np.array([p.X(), p.Y(), p.Z()]) - origin.toTuple() for p in _walked(face)]
    return Outlines(tuple((float(p @ x.toTuple()), float(p @ y.toTuple())) for p in spots), (), ())


def _walked(face: Any) -> list[Any]:
    """Points along the outer wire, edge by edge as the wire walks them."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepTools import BRepTools_WireExplorer
    from OCP.TopAbs import TopAbs_REVERSED

    explorer, points = BRepTools_WireExplorer(face.outerWire().wrapped, face.wrapped), []
    while explorer.More():
        edge = explorer.Current()
        curve = BRepAdaptor_Curve(edge)
        low, high = curve.FirstParameter(), curve.LastParameter()
        if edge.Orientation() == TopAbs_REVERSED:
            low, high = high, low
        steps = 1 if curve.GetType().name == "GeomAbs_Line" else 256
        points += [curve.Value(low + (high - low) * n / steps) for n in range(steps)]
        explorer.Next()
    return points


def outlines_of(flat: FlatPattern) -> Outlines:
    """Our flat in the same words."""
    centres = []
    for opening in flat.openings:
        first = opening.pieces[0]
        whole = isinstance(first, Arc) and first.full
        centres.append(first.centre if whole else _middle(opening.points(0.001)))
    lines = tuple(s.centre for b in flat.bends for s in b.segments)
    return Outlines(tuple(flat.outline.points(0.001)), _once(centres), lines)


def _middle(ring: Any) -> Point:
    import shapely

    point = shapely.Polygon(ring).centroid
    return (point.x, point.y)


def _once(points: list[Point]) -> tuple[Point, ...]:
    kept: list[Point] = []
    for point in points:
        if all(math.dist(point, other) > 0.05 for other in kept):
            kept.append(point)
    return tuple(kept)


# -- one laid on the other -------------------------------------------------------------------------------------------


def compare(part: str, ours: Outlines, theirs: Outlines, mirrors: tuple[bool, ...] = (False, True)) -> Compared:
    """Ours turned, shifted and, where it is allowed, mirrored to lie best on theirs."""
    moves = [_settled(ours, theirs, move) for move in _moves(ours, theirs, mirrors)]
    if not moves:
        return Compared(part, _size(ours.outline), _size(theirs.outline), math.inf, math.inf, math.inf, math.inf, "-")
    near = sorted(moves, key=lambda move: _off(ours, theirs, move))[:3]
    return min((_laid(part, ours, theirs, move) for move in near), key=lambda c: max(c.edge, c.line, c.centre))


def _off(ours: Outlines, theirs: Outlines, move: Matrix) -> float:
    """Mean distance of some of our corners from their edge and of openings from openings, to choose a move by."""
    points = np.array(ours.outline[:: max(1, len(ours.outline) // 150)]) @ move[:2, :2].T + move[:2, 2]
    spots = np.array(ours.centres).reshape(-1, 2) @ move[:2, :2].T + move[:2, 2]
    apart = _from_edge(points, theirs.outline).mean()
    return float(apart + min(_spots_apart(spots, np.array(theirs.centres).reshape(-1, 2)), 1e3))


def _from_edge(points: Any, outline: Any) -> Any:
    import shapely

    return shapely.distance(shapely.points(points), shapely.LinearRing(outline))


def _moves(ours: Outlines, theirs: Outlines, mirrors: tuple[bool, ...]) -> list[Matrix]:
    """Moves that carry one of our longest edges along one of theirs as long, centroid onto centroid."""
    goal = np.array(_middle(theirs.outline))
    found: dict[tuple[bool, float], Matrix] = {}
    for mirror in mirrors:
        flip = np.diag([-1.0, 1.0]) if mirror else np.eye(2)
        start = flip @ np.array(_middle(ours.outline))
        for long, angle in _long_edges(theirs.outline, 1):
            for length, other in _long_edges(tuple(map(tuple, (np.array(ours.outline) @ flip))), 12):
                for turn in (angle - other, angle - other + math.pi):
                    if abs(length - long) > 0.5:
                        continue
                    c, s = math.cos(turn), math.sin(turn)
                    move = np.eye(3)
                    move[:2, :2] = np.array([[c, -s], [s, c]]) @ flip
                    move[:2, 2] = goal - np.array([[c, -s], [s, c]]) @ start
                    found[mirror, round(turn % (2 * math.pi), 4)] = move
    return list(found.values())


def _long_edges(outline: tuple[Point, ...], count: int) -> list[tuple[float, float]]:
    """Length and direction of the longest edges, pieces of one straight line made one."""
    import shapely

    ring = np.array(shapely.Polygon(outline).simplify(1e-3).exterior.coords)
    steps = np.diff(ring, axis=0)
    lengths = np.hypot(*steps.T)
    order = np.argsort(-lengths)[:count]
    return [(float(lengths[n]), math.atan2(steps[n, 1], steps[n, 0])) for n in order]


def _laid(part: str, ours: Outlines, theirs: Outlines, move: Matrix) -> Compared:
    import shapely

    def carried(points: Any) -> Any:
        return np.array(points).reshape(-1, 2) @ move[:2, :2].T + move[:2, 2]

    outline = carried(ours.outline)
    one, two = shapely.Polygon(outline), shapely.Polygon(theirs.outline)
    lines, centres = carried(ours.lines).reshape(-1, 2, 2), carried(ours.centres)
    best = np.array(theirs.lines).reshape(-1, 2, 2), np.array(theirs.centres).reshape(-1, 2)
    counts = f"{len(lines)}/{len(best[0])} lines, {len(centres)}/{len(best[1])} openings"
    return Compared(
        part,
        _size(outline),
        _size(theirs.outline),
        (one.area / two.area - 1) * 100,
        _lines_apart(lines, best[0]),
        _spots_apart(centres, best[1]),
        float(max(_from_edge(outline, theirs.outline).max(), _from_edge(theirs.outline, outline).max())),
        counts,
    )


def _settled(ours: Outlines, theirs: Outlines, move: Matrix) -> Matrix:
    """The move shifted so that openings lie on openings at the mean: centroids feel every sliver of the edge."""
    if not ours.centres or not theirs.centres:
        return move
    spots = np.array(ours.centres) @ move[:2, :2].T + move[:2, 2]
    goals = np.array(theirs.centres)
    nearest = spots[np.linalg.norm(goals[:, None] - spots[None], axis=2).argmin(axis=1)]
    settled = move.copy()
    settled[:2, 2] += (goals - nearest).mean(axis=0)
    return settled


def _size(outline: Any) -> Point:
    points = np.array(outline)
    wide, high = points.max(axis=0) - points.min(axis=0)
    return (float(wide), float(high))


def _spots_apart(ours: Any, theirs: Any) -> float:
    """Farthest that a point of either set lies from the other set."""
    if len(ours) == 0 and len(theirs) == 0:
        return 0.0
    if len(ours) == 0 or len(theirs) == 0:
        return math.inf
    gaps = np.linalg.norm(ours[:, None] - theirs[None], axis=2)
    return float(max(gaps.min(axis=0).max(), gaps.min(axis=1).max()))


def _lines_apart(ours: Any, theirs: Any) -> float:
    """How far bend lines lie from the other's, square to them; each must have its like for most of its length."""
    if len(ours) == 0 and len(theirs) == 0:
        return 0.0
    if len(ours) == 0 or len(theirs) == 0:
        return math.inf
    return max(_one_way(ours, theirs), _one_way(theirs, ours))


def _one_way(some: Any, others: Any) -> float:
    worst = 0.0
    for a, b in some:
        gaps = [math.inf]
        for c, d in others:
            along = (d - c) / np.linalg.norm(d - c)
            square = np.array([-along[1], along[0]])
            s, t = sorted(((a - c) @ along, (b - c) @ along))
            shared = min(t, float(np.linalg.norm(d - c))) - max(s, 0.0)
            if shared > 0.5 * min(t - s, float(np.linalg.norm(d - c))):
                gaps.append(max(abs((a - c) @ square), abs((b - c) @ square)))
        worst = max(worst, min(gaps))
    return worst


def compared(part: str) -> Compared:
    """One real part with a flat of its authors."""
    (solid,) = solids_of(REAL / f"{part}.step")
    return compare(part, outlines_of(unfolded(solid, K_OF[part]).flat), authors_flat(part))


def table() -> str:
    """Part, our size, the authors' size, area difference in %, worst bend line, worst opening centre."""
    from flatgen.core.errors import FlatgenError

    rows = [f"{'part':36} {'ours':>19} {'authors':>19} {'area %':>8} {'line':>7} {'centre':>7} {'edge':>7}"]
    for part in K_OF:
        try:
            c = compared(part)
        except FlatgenError as error:
            rows.append(f"{part:36} {str(error)[:120]}")
            continue
        sizes = [f"{s[0]:9.3f} {s[1]:9.3f}" for s in (c.ours, c.theirs)]
        row = f"{part:36} {sizes[0]} {sizes[1]} {c.area:8.4f} {c.line:7.4f} {c.centre:7.4f} {c.edge:7.4f}"
        rows.append(f"{row} {c.counts} {'right' if c.right else 'WRONG'}")
    return "\n".join(rows)


if __name__ == "__main__":
    print(table())
