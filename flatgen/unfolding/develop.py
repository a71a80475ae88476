"""Development: the tree of a sheet laid out in its plane, exactly.

frame   of a panel: the rigid move from the flat to the formed solid, by the solid's own faces, not by allowances alone,
        so that folding the flat up again is a check and not an echo
chart   carries one panel or one bend into the flat
trail   a developed edge: a line, an arc, or a bow, which is any other curve
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Protocol, TypeAlias

import numpy as np

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import AllowanceRule, Arc, Axis, BendAllowance, Line, Matrix, Point
from flatgen.unfolding.sheet import (
    CircularCurve,
    Curve,
    Cylinder,
    Plane,
    Shell,
    Slack,
    StraightCurve,
    Vector,
    cross,
    points_at,
    triple,
)
from flatgen.unfolding.skins import Skins, describe, face_behind
from flatgen.unfolding.tree import Joint, Tree


@dataclass(frozen=True)
class LaidJoint:
    """A joint with its place in the flat: ``origin`` on the first panel's tangent line, ``along`` its direction.

    ``base`` is the formed point of ``origin`` on the axis; ``start`` the direction from the axis to the first
    tangent line, ``forward`` the direction of travel there, ``axis`` that of ``along`` (formed part).
    """

    joint: Joint
    first: int
    second: int
    allowance: BendAllowance
    origin: Point
    along: Point
    base: Vector
    axis: Vector
    start: Vector
    forward: Vector


@dataclass(frozen=True)
class Layout:
    """Frames of all panels, and all joints, in the flat's plane (first panel's own x)."""

    frames: tuple[Matrix, ...]
    joints: tuple[LaidJoint, ...]


def lay_out(shell: Shell, tree: Tree, thickness: float, rule: AllowanceRule, start: int) -> Layout:
    """Every panel and joint of a tree, laid into one plane from panel ``start`` on; thickness in mm."""
    frames: dict[int, Matrix] = {start: _first_frame(tree.planes[start], thickness)}
    laid: list[LaidJoint] = []
    todo = [start]
    while todo:
        panel = todo.pop(0)
        for joint in tree.joints_of(panel):
            other = joint.panels[0] if joint.panels[1] == panel else joint.panels[1]
            if other in frames:
                continue
            step = _cross(shell, tree, joint, panel, other, frames[panel], thickness, rule)
            frames[other] = _next_frame(tree.planes[step.second], step, thickness)
            laid.append(step)
            todo.append(other)
    return Layout(tuple(frames[n] for n in range(len(tree.panels))), tuple(laid))


def _frame(x: Vector, y: Vector, z: Vector, origin: Vector) -> Matrix:
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = x, y, z, origin
    return frame


def _first_frame(plane: Plane, thickness: float) -> Matrix:
    seed = np.eye(3)[int(np.argmin(np.abs(plane.normal)))]
    x = cross(seed, plane.normal)
    x /= np.linalg.norm(x)
    return _frame(x, cross(plane.normal, x), plane.normal, plane.origin - thickness * plane.normal)


def _cross(
    shell: Shell, tree: Tree, joint: Joint, panel: int, other: int, frame: Matrix, thickness: float, rule: AllowanceRule
) -> LaidJoint:
    normal = tree.planes[panel].normal
    start = -normal if joint.up else normal
    base = joint.origin + joint.axis * float((joint.tip(panel) - joint.origin) @ joint.axis)
    axis = joint.axis
    forward = cross(axis, normal)
    if _sideways(shell, joint, base, forward, joint.tip(other)) < 0:
        axis, forward = -axis, -forward
    inverse = np.linalg.inv(frame)
    foot = inverse @ (*(base + start * (joint.inside_radius + (0 if joint.up else thickness))), 1.0)
    along = inverse[:3, :3] @ axis
    where: Axis = (triple(joint.origin), triple(joint.axis))
    return LaidJoint(
        joint=joint,
        first=panel,
        second=other,
        allowance=rule(where, joint.inside_radius, joint.angle),
        origin=(float(foot[0]), float(foot[1])),
        along=(float(along[0]), float(along[1])),
        base=base,
        axis=axis,
        start=start,
        forward=forward,
    )


def _sideways(shell: Shell, joint: Joint, base: Vector, forward: Vector, beyond: Vector) -> float:
    """Positive where the zone lies on the side of ``forward``: by its far edge, or by its middle at half a turn."""
    reach = float((beyond - base) @ forward)
    if abs(reach) > 1e-3 * (joint.inside_radius + 1e-3):
        return reach
    corners = [c.at(0.5) - base for z in joint.zones for f in z.faces for c in shell.curves(f)]
    return float(np.sum(corners, axis=0) @ forward)


def _next_frame(plane: Plane, step: LaidJoint, thickness: float) -> Matrix:
    """Frame of the panel beyond a joint: its directions from its own face, its place from the axis."""
    normal = plane.normal
    across = cross(step.axis, normal)
    x2, y2 = step.along
    # along = x2 X + y2 Y, across = y2 X - x2 Y, hence:
    x = x2 * step.axis + y2 * across
    y = y2 * step.axis - x2 * across
    depth = (step.joint.inside_radius + thickness) if step.joint.up else step.joint.inside_radius
    foot = step.base + normal * (-depth if step.joint.up else depth)
    ox, oy = step.origin
    u = step.allowance.length
    flat = (ox + y2 * u, oy - x2 * u)
    return _frame(x, y, normal, foot - flat[0] * x - flat[1] * y)


ON_LINE = 1e-5
"""A straight edge of a bend that leaves the axis's direction by less counts as along it, and so on [mm]."""
SAGITTA = 0.001
"""A curve bulges over the chords between its sampled points by so much at most [mm]."""
MOST_POINTS = 1 << 14


@dataclass(frozen=True)
class Bow:
    """A developed curve that is neither line nor arc; ``places`` takes shares (n,) to points (n, 2) [mm]."""

    places: Callable[[Vector], Vector]

    @cached_property
    def points(self) -> Vector:
        """Points (n, 2) along it, ends included, that it bulges over by ``SAGITTA`` at most [mm]."""
        return _sampled(self)

    def at(self, share: float) -> Point:
        x, y = self.places(np.array([share]))[0]
        return (float(x), float(y))

    @property
    def start(self) -> Point:
        return self.at(0.0)

    @property
    def end(self) -> Point:
        return self.at(1.0)


def _sampled(bow: Bow) -> Vector:
    """Points along a bow, one more than a power of two."""
    count = 32
    points = bow.places(np.linspace(0.0, 1.0, count + 1))
    while count < MOST_POINTS:
        finer = np.empty((2 * count + 1, 2))
        finer[::2] = points
        finer[1::2] = bow.places((np.arange(count) + 0.5) / count)
        bulge = np.abs(chord_distances(points[:-1], points[1:], finer[1::2])).max()
        points, count = finer, 2 * count
        if bulge < 4 * SAGITTA:  # half the chord has a quarter of the bulge
            break
    return points


def chord_distances(start: Vector, end: Vector, points: Vector) -> Vector:
    """Distances of points from the lines start-end (all (n, 2)); from ``start`` where the two are one."""
    along = end - start
    size = np.hypot(along[:, 0], along[:, 1])
    arm = points - start
    across = along[:, 0] * arm[:, 1] - along[:, 1] * arm[:, 0]
    off: Vector = np.where(size > 1e-12, across / np.maximum(size, 1e-12), np.hypot(arm[:, 0], arm[:, 1]))
    return off


Trail: TypeAlias = Line | Arc | Bow


Chains: TypeAlias = list[list[Trail]]
"""Closed boundaries: chains of trails, each going on where the one before ends."""


class Chart(Protocol):
    """Carries one panel or one bend into the flat."""

    def place(self, points: Vector) -> Vector:
        """Points (n, 3) of the formed part, on either skin, in the flat (n, 2) [mm]."""

    def simple(self, curve: Curve) -> Line | Arc | None:
        """A curve's development where it is a line or an arc."""

    def stretch(self, radius: float) -> float:
        """Area in the flat per area of a skin face of a radius."""


@dataclass(frozen=True)
class PanelChart:
    """``inverse`` carries the formed part into the flat (4 x 4)."""

    panel: int
    inverse: Matrix

    def place(self, points: Vector) -> Vector:
        moved: Vector = points @ self.inverse[:2, :3].T + self.inverse[:2, 3]
        return moved

    def simple(self, curve: Curve) -> Line | Arc | None:
        if isinstance(curve, StraightCurve):
            return _line(self, curve)
        if not isinstance(curve, CircularCurve):
            return None
        u, v = self.inverse[:3, :3] @ curve.u, self.inverse[:3, :3] @ curve.v
        if (abs(u[2]) + abs(v[2])) * curve.radius > ON_LINE:
            return None
        hand = 1.0 if u[0] * v[1] - u[1] * v[0] > 0 else -1.0
        x, y = self.place(curve.centre[None])[0]
        first = math.degrees(math.atan2(u[1], u[0]))
        return Arc((float(x), float(y)), curve.radius, first, hand * math.degrees(curve.sweep))

    def stretch(self, radius: float) -> float:
        return 1.0


@dataclass(frozen=True)
class ZoneChart:
    """A bend where it was laid."""

    step: LaidJoint

    def place(self, points: Vector) -> Vector:
        step = self.step
        arms = points - step.base
        turned = np.degrees(np.arctan2(arms @ step.forward, arms @ step.start))
        turned = np.where(turned < -90, turned + 360, turned)  # just past half a turn: closed bends
        u = step.allowance.length * turned / step.joint.angle
        s = arms @ step.axis
        (ax, ay), (ox, oy) = step.along, step.origin
        return np.column_stack((ox + ax * s + ay * u, oy + ay * s - ax * u))

    def simple(self, curve: Curve) -> Line | Arc | None:
        axis = self.step.axis
        if isinstance(curve, StraightCurve):
            reach = curve.end - curve.start
            sideways = reach - axis * (reach @ axis)
            return _line(self, curve) if _small(sideways) else None
        if isinstance(curve, CircularCurve):
            about = curve.centre - self.step.base
            off = about - axis * (about @ axis)
            tilted = (abs(float(curve.u @ axis)) + abs(float(curve.v @ axis))) * curve.radius > ON_LINE
            return _line(self, curve) if _small(off) and not tilted else None
        return None

    def stretch(self, radius: float) -> float:
        return self.step.allowance.length / (math.radians(self.step.joint.angle) * radius)


Charts: TypeAlias = tuple[Mapping[int, Chart], Mapping[int, Chart]]
"""Charts of the near and the far skin, by face."""


def _line(chart: Chart, curve: Curve) -> Line:
    (x0, y0), (x1, y1) = chart.place(points_at(curve, np.array((0.0, 1.0))))
    return Line((float(x0), float(y0)), (float(x1), float(y1)))


def _small(vector: Vector) -> bool:
    return float(np.linalg.norm(vector)) < ON_LINE


def trail(chart: Chart, curve: Curve) -> Trail:
    """The development of a curve."""
    return chart.simple(curve) or Bow(lambda shares: chart.place(points_at(curve, shares)))


def trail_area(trail: Trail) -> float:
    """A trail's share of the area that its chain encloses, by Green's theorem [mm2]; Romberg's rule on bows."""
    if not isinstance(trail, Bow):
        return trail.area_term()
    points = trail.places(np.linspace(0.0, 1.0, 257))
    column = []
    for step in (32, 16, 8, 4, 2, 1):
        x, y = points[::step].T
        column.append(0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])))
    for order in range(1, len(column)):
        weight = 4.0**order
        column = [(weight * b - a) / (weight - 1) for a, b in pairwise(column)]
    return column[0]


def chain_area(trails: Iterable[Trail]) -> float:
    """Area that a closed chain of trails encloses [mm2], positive counter-clockwise."""
    return math.fsum(trail_area(t) for t in trails)


def near_charts(tree: Tree, layout: Layout) -> dict[int, Chart]:
    """A chart for every face of the near skin."""
    charts: dict[int, Chart] = {}
    for n, (faces, frame) in enumerate(zip(tree.panels, layout.frames, strict=True)):
        charts |= dict.fromkeys(faces, PanelChart(n, np.asarray(np.linalg.inv(frame))))
    for step in layout.joints:
        for zone in step.joint.zones:
            charts |= dict.fromkeys(zone.faces, ZoneChart(step))
    return charts


def far_charts(shell: Shell, skins: Skins, tree: Tree, layout: Layout) -> dict[int, Chart]:
    """A chart for every face of the far skin, found by walking it from below the first panel.

    The walk leads from a panel to the bends on it and from a bend to its panels, told by axis or plane.

    :raises InputRefused: FG041 where a face of the far skin has nothing of the near one before it.
    """
    far = skins.other(tree.near)
    panels = {c.panel: c for c in near_charts(tree, layout).values() if isinstance(c, PanelChart)}
    bends = [(s.first, s.second, ZoneChart(s)) for s in layout.joints]
    start = max(tree.panels[tree.root], key=lambda f: shell.faces[f].area)
    charts: dict[int, Chart] = {face_behind(shell, skins, start): panels[tree.root]}
    todo = list(charts)
    while todo:
        face = todo.pop()
        for _, other in shell.neighbours(face):
            if other not in far or other in charts:
                continue
            chart = _next_chart(shell, other, charts[face], panels, bends, skins.thickness)
            if chart is not None:
                charts[other] = chart
                todo.append(other)
    lost = far - set(charts)
    if lost:
        text = "the sheet is cut so slantingly here that one of its sides has no counterpart"
        raise InputRefused(Fault("FG041", describe(shell, min(lost)), text, "cut it more nearly square to the sheet"))
    return charts


def _next_chart(
    shell: Shell,
    face: int,
    came: Chart,
    panels: dict[int, PanelChart],
    bends: list[tuple[int, int, ZoneChart]],
    thickness: float,
) -> Chart | None:
    """The chart of a far face that is reached from one of another chart, or of the same."""
    surface = shell.surface(face)
    if isinstance(surface, Plane):
        near = [came.panel] if isinstance(came, PanelChart) else []
        near += [came.step.first, came.step.second] if isinstance(came, ZoneChart) else []
        return next((panels[n] for n in near if n in panels and _behind_panel(shell, face, panels[n])), None)
    if isinstance(surface, Cylinder):
        choices = [came] if isinstance(came, ZoneChart) else []
        ends = {came.step.first, came.step.second} if isinstance(came, ZoneChart) else {came.panel}  # type: ignore[attr-defined]
        choices += [c for a, b, c in bends if a in ends or b in ends]
        return next((c for c in choices if _behind_bend(surface, c, thickness, shell.slack)), None)
    return None


def _behind_panel(shell: Shell, face: int, chart: PanelChart) -> bool:
    normal = chart.inverse[2, :3]
    height = float(normal @ shell.corner(face) + chart.inverse[2, 3])
    away = float(shell.normal_at(face, shell.corner(face)) @ normal)
    return away < -1 + shell.slack.smooth and abs(height) < shell.slack.length


def _behind_bend(cylinder: Cylinder, chart: ZoneChart, thickness: float, slack: Slack) -> bool:
    joint = chart.step.joint
    radius = joint.inside_radius + (thickness if joint.up else 0.0)
    arm = cylinder.origin - joint.origin
    off = arm - joint.axis * (arm @ joint.axis)
    coaxial = 1 - abs(float(cylinder.axis @ joint.axis)) < slack.smooth and np.linalg.norm(off) < slack.length
    return bool(coaxial and abs(cylinder.radius - radius) < slack.length)
