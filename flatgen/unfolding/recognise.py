"""Planes, cylinders, lines and circles that a file gives as something else: B-splines, extrusions, ellipses.

Of a sampled face or edge the simplest form is taken that no sample lies farther from than a tolerance, another only if
it fits ten times better: a bend of a degree is no plane. Radii are never rounded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from flatgen.unfolding.sheet import CircularCurve, Cylinder, Plane, StraightCurve, Vector

FACE_SAMPLES, MOST_FACE_SAMPLES = 7, 41  # samples in each direction of a face, and at most where it has many spans
EDGE_SAMPLES, MOST_EDGE_SAMPLES = 17, 129  # samples along an edge, and at most where it has many spans
INSET = 1e-3
"""Samples keep off the edge of a face's box by this share of it: boxes of curved edges reach a little too far."""
LEAST_SAMPLES = 9  # fewer samples on a face judge nothing
FIRST_LOOK = 3.0  # of what has many spans, few samples send away what deviates by more tolerances than this
EXACT = 1e-7
"""A form that deviates by less is what was meant, and no other is tried [mm]."""
BETTER = 0.1  # a cylinder or circle is taken before a plane or line if it deviates by less than this share of the other
LARGEST_RADIUS = 1e6
"""A larger radius is none [mm]."""
STEPS, HOPELESS_STEP, HOPELESS = 12, 2, 30.0
"""Steps of refining a cylinder at most; what is off by so many tolerances after two steps is none."""
LARGEST_LEAN = 0.1  # a cylinder's normals lean no more than this along its axis, sine


@dataclass(frozen=True)
class _Samples:
    """Points of a face [mm] and unit normals out of the metal, (n, 3) each."""

    points: Vector
    normals: Vector


def plain_surface(face: Any, tolerance: float) -> tuple[Plane | Cylinder, float] | None:
    """The plane or circular cylinder that a face is within a tolerance [mm].

    :param face: of any kind, with its orientation in a solid whose faces look out of the metal
    :returns: the form, looking out of the metal, and the largest deviation found [mm]; None where it is neither
    """
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepTools import BRepTools
    from OCP.TopAbs import TopAbs_REVERSED

    surface = BRepAdaptor_Surface(face)
    box = BRepTools.UVBounds_s(face)
    flipped = face.Orientation() == TopAbs_REVERSED
    counts = _face_samples(surface)
    for within in ((FACE_SAMPLES, FACE_SAMPLES), counts) if counts != (FACE_SAMPLES, FACE_SAMPLES) else (counts,):
        grid = _grid(box, within)
        allowed = tolerance if within == counts else FIRST_LOOK * tolerance
        form = _sampled_form(surface, grid, flipped, allowed)
        # the box of a trimmed face reaches beyond it, where the surface may be anything
        form = form if form is not None else _sampled_form(surface, _inside(face, grid), flipped, allowed)
        if form is None:
            return None
    return form


def plain_curve(curve: Any, tolerance: float) -> StraightCurve | CircularCurve | None:
    """The straight line, arc or full circle that an edge is within a tolerance [mm].

    :param curve: an adaptor of a curve in space, of any kind
    :returns: walked as the edge is, its ends those of the edge; None where it is neither
    """
    count = _edge_samples(curve)
    if count > EDGE_SAMPLES and _line_or_arc(_edge_points(curve, EDGE_SAMPLES), FIRST_LOOK * tolerance) is None:
        return None
    return _line_or_arc(_edge_points(curve, count), tolerance)


def _line_or_arc(points: Vector, tolerance: float) -> StraightCurve | CircularCurve | None:
    if not np.isfinite(points).all():
        return None
    line, off = _line(points)
    if off <= min(EXACT, tolerance):
        return line
    circle = _arc(points)
    if circle is not None and circle[1] <= (off * BETTER if off <= tolerance else tolerance):
        return circle[0]
    return line if off <= tolerance else None


def _edge_points(curve: Any, count: int) -> Vector:
    first, last = curve.FirstParameter(), curve.LastParameter()
    values = np.array([_triple(curve.Value(t)) for t in np.linspace(first, last, count).tolist()])
    return values.reshape(-1, 3)


def _edge_samples(curve: Any) -> int:
    """Samples that see every polynomial piece of an edge."""
    from OCP.GeomAbs import GeomAbs_BSplineCurve

    spans = curve.NbKnots() - 1 if curve.GetType() == GeomAbs_BSplineCurve else 1
    return int(max(EDGE_SAMPLES, min(MOST_EDGE_SAMPLES, 4 * spans + 1)))


def _face_samples(surface: Any) -> tuple[int, int]:
    """Samples that see every polynomial piece of a face, in each direction."""
    from OCP.GeomAbs import GeomAbs_BSplineSurface

    spans = (1, 1)
    if surface.GetType() == GeomAbs_BSplineSurface:
        spans = (surface.NbUKnots() - 1, surface.NbVKnots() - 1)
    u, v = (max(FACE_SAMPLES, min(MOST_FACE_SAMPLES, 2 * n + 1)) for n in spans)
    return (u, v)


def _grid(box: tuple[float, float, float, float], counts: tuple[int, int]) -> list[tuple[float, float]]:
    u0, u1, v0, v1 = box
    du, dv = INSET * (u1 - u0), INSET * (v1 - v0)
    u0, u1, v0, v1 = u0 + du, u1 - du, v0 + dv, v1 - dv
    return [(u, v) for u in np.linspace(u0, u1, counts[0]).tolist() for v in np.linspace(v0, v1, counts[1]).tolist()]


def _sampled_form(
    surface: Any, places: list[tuple[float, float]], flipped: bool, tolerance: float
) -> tuple[Plane | Cylinder, float] | None:
    samples = _samples(surface, places, flipped) if len(places) >= LEAST_SAMPLES else None
    return None if samples is None else _form(samples, tolerance)


def _samples(surface: Any, places: list[tuple[float, float]], flipped: bool) -> _Samples | None:
    from OCP.gp import gp_Pnt, gp_Vec

    point, along, across = gp_Pnt(), gp_Vec(), gp_Vec()
    rows = []
    for u, v in places:
        surface.D1(u, v, point, along, across)
        rows.append((*_triple(point), *_triple(along), *_triple(across)))
    values = np.array(rows).reshape(-1, 9)
    a, b = values[:, 3:6].T, values[:, 6:9].T
    normals = np.stack((a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]), axis=1)
    sizes = np.linalg.norm(normals, axis=1)
    scale = np.linalg.norm(values[:, 3:6], axis=1).max() * np.linalg.norm(values[:, 6:9], axis=1).max()
    sound = sizes > 1e-9 * scale
    if not np.isfinite(values).all() or np.count_nonzero(sound) < LEAST_SAMPLES:
        return None
    unit = normals[sound] / sizes[sound][:, None]
    return _Samples(values[sound, :3], -unit if flipped else unit)


def _inside(face: Any, places: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Those places that lie on the face itself; none where it fills its box, so that all have been judged."""
    from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
    from OCP.gp import gp_Pnt2d
    from OCP.TopAbs import TopAbs_OUT

    classifier = BRepTopAdaptor_FClass2d(face, 1e-9)
    box = [(f(u for u, _ in places), g(v for _, v in places)) for f in (min, max) for g in (min, max)]
    if all(classifier.Perform(gp_Pnt2d(*corner)) != TopAbs_OUT for corner in box):
        return []  # it fills its box: asking for every place is slow
    return [place for place in places if classifier.Perform(gp_Pnt2d(*place)) != TopAbs_OUT]


def _form(samples: _Samples, tolerance: float) -> tuple[Plane | Cylinder, float] | None:
    plane, off = _plane(samples)
    if off <= min(EXACT, tolerance):
        return (plane, off)
    cylinder = _cylinder(samples, tolerance)
    if cylinder is not None and cylinder[1] <= (off * BETTER if off <= tolerance else tolerance):
        return cylinder
    return (plane, off) if off <= tolerance else None


def _plane(samples: _Samples) -> tuple[Plane, float]:
    """Least-squares plane and the largest deviation from it; infinite where the normals do not agree with it."""
    centre = samples.points.mean(axis=0)
    arms = samples.points - centre
    normal = np.linalg.svd(arms, full_matrices=False)[2][2]
    leaning = samples.normals @ normal
    if leaning.sum() < 0:
        normal, leaning = -normal, -leaning
    off = float(np.abs(arms @ normal).max()) if leaning.min() > 0.5 else math.inf
    return Plane(centre, normal), off


def _cylinder(samples: _Samples, tolerance: float) -> tuple[Cylinder, float] | None:
    """Least-squares cylinder and the largest deviation from it; None where it cannot be within the tolerance."""
    points, normals = samples.points, samples.normals
    middle = points.mean(axis=0)
    axis = np.linalg.svd(normals, full_matrices=False)[2][2]
    if np.abs(normals @ axis).max() > LARGEST_LEAN:
        return None
    fitted = _refined_cylinder(points - middle, axis, tolerance)
    if fitted is None:
        return None
    centre, axis, radius = fitted
    arms = points - middle - centre
    arms = arms - np.outer(arms @ axis, axis)
    reach = np.linalg.norm(arms, axis=1)
    if reach.min() < 0.5 * radius:
        return None
    outward = np.einsum("ij,ij->i", arms, normals) / reach
    if not (outward.min() > 0.5 or outward.max() < -0.5):
        return None
    off = float(np.abs(reach - radius).max())
    return Cylinder(middle + centre, axis, radius, bool(outward[0] > 0)), off


def _refined_cylinder(points: Vector, axis: Vector, tolerance: float) -> tuple[Vector, Vector, float] | None:
    """Centre, axis and radius of the least-squares cylinder about points, from a first axis (Gauss-Newton)."""
    centre, radius = np.zeros(3), 0.0
    for step in range(STEPS):
        u, v = _square_to(axis)
        if step == 0:
            ring = _circle(np.column_stack((points @ u, points @ v)))
            if ring is None:
                return None
            x, y, radius = ring
            centre = x * u + y * v
        arms = points - centre
        heights = arms @ axis
        a, b = arms @ u, arms @ v
        reach = np.hypot(a, b)
        if not (reach.min() > 0.0 and radius < LARGEST_RADIUS):
            return None
        if step == HOPELESS_STEP and np.abs(reach - radius).max() > HOPELESS * tolerance:
            return None
        c, s = a / reach, b / reach
        slopes = np.column_stack((-c, -s, -heights * c, -heights * s, -np.ones(len(points))))
        scale = np.array((1.0, 1.0, *([max(float(np.abs(heights).max()), 1e-9)] * 2), 1.0))
        if not np.isfinite(slopes).all():
            return None
        step_size = np.linalg.lstsq(slopes / scale, radius - reach, rcond=1e-13)[0] / scale
        centre = centre + step_size[0] * u + step_size[1] * v
        tilted = axis + step_size[2] * u + step_size[3] * v
        axis = tilted / np.linalg.norm(tilted)
        radius += float(step_size[4])
        if not math.isfinite(radius):
            return None
        if np.abs(step_size * scale).max() < 1e-11 * max(1.0, radius):
            break
    return centre, axis, radius


def _circle(points: Vector) -> tuple[float, float, float] | None:
    """Centre and radius of the circle about points of a plane (n, 2), least squares of the squares."""
    middle = points.mean(axis=0)
    arms = points - middle
    size = float(np.abs(arms).max())
    if size == 0.0:
        return None
    arms = arms / size
    sums = (arms**2).sum(axis=1)
    solved, _, rank, _ = np.linalg.lstsq(np.column_stack((2 * arms, np.ones(len(arms)))), sums, rcond=1e-14)
    squared = float(solved[2] + solved[0] ** 2 + solved[1] ** 2)
    if rank < 3 or not squared > 0.0:
        return None
    return float(middle[0] + size * solved[0]), float(middle[1] + size * solved[1]), size * math.sqrt(squared)


def _line(points: Vector) -> tuple[StraightCurve, float]:
    """The line from end to end and the largest deviation from it; infinite where the curve turns back."""
    start, end = points[0], points[-1]
    way = end - start
    length = float(np.linalg.norm(way))
    line = StraightCurve(start, end)
    if length < EXACT:
        return line, math.inf
    way = way / length
    arms = points - start
    along = arms @ way
    if np.diff(along).min() < 0.0:
        return line, math.inf
    return line, float(np.linalg.norm(arms - np.outer(along, way), axis=1).max())


def _arc(points: Vector) -> tuple[CircularCurve, float] | None:
    """The arc from end to end, or the full circle, and the largest deviation from it."""
    middle = points.mean(axis=0)
    u, v = np.linalg.svd(points - middle, full_matrices=False)[2][:2]
    flat = np.column_stack(((points - middle) @ u, (points - middle) @ v))
    size = float(np.ptp(flat, axis=0).max())
    if size <= EXACT:  # an edge of no length, such as the tip of a cone
        return None
    chord = float(np.linalg.norm(flat[-1] - flat[0]))
    closed = chord < 1e-6 * max(1.0, size)
    centre = _centre(flat, free=chord < 0.05 * size)
    if centre is None:
        return None
    arms = flat - centre
    reach = np.hypot(arms[:, 0], arms[:, 1])
    if reach.min() == 0.0:
        return None
    radius = float(reach[:-1].mean()) if closed else float(reach[0] + reach[-1]) / 2
    turned = np.unwrap(np.arctan2(arms[:, 1], arms[:, 0]))
    steps = np.diff(turned)
    if radius > LARGEST_RADIUS or not (steps.min() >= 0.0 or steps.max() <= 0.0):
        return None
    hand = 1.0 if turned[-1] > turned[0] else -1.0
    sweep = abs(float(turned[-1] - turned[0]))
    if (abs(sweep - 2 * math.pi) > 1e-3) if closed else (sweep >= 2 * math.pi):
        return None
    c, s = arms[0] / reach[0]
    first, second = c * u + s * v, hand * (c * v - s * u)
    height = (points - middle) @ np.cross(u, v)
    off = float(np.hypot(reach - radius, height).max())
    return CircularCurve(
        middle + centre[0] * u + centre[1] * v, first, second, radius, 2 * math.pi if closed else sweep
    ), off


def _centre(points: Vector, free: bool) -> Vector | None:
    """Centre of the circle about points of a plane (n, 2); through the first and last unless ``free``."""
    if free:
        ring = _circle(points)
        return None if ring is None else np.array(ring[:2])
    half = (points[-1] - points[0]) / 2
    length = float(np.hypot(*half))
    foot, up = points[0] + half, np.array((-half[1], half[0])) / length
    arms = points - foot
    rise = arms @ up
    total = float(rise @ rise)
    if total < (1e-12 * length) ** 2 * len(points):
        return None
    height = float(((arms**2).sum(axis=1) - length**2) @ rise) / (2 * total)
    centre: Vector = foot + height * up
    return centre


def _square_to(axis: Vector) -> tuple[Vector, Vector]:
    x, y, z = axis.tolist()
    if abs(x) <= min(abs(y), abs(z)):
        u = (0.0, -z, y)
    elif abs(y) <= abs(z):
        u = (z, 0.0, -x)
    else:
        u = (-y, x, 0.0)
    size = math.hypot(*u)
    a, b, c = (n / size for n in u)
    return np.array((a, b, c)), np.array((y * c - z * b, z * a - x * c, x * b - y * a))


def _triple(item: Any) -> tuple[float, float, float]:
    return (item.X(), item.Y(), item.Z())
