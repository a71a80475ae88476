"""Development: the tree of a sheet laid out in its plane, exactly.

Every panel gets a frame: the rigid move from the flat to the formed solid, worked out from the solid's own
faces (not from allowances alone, so that folding the flat up again is a check and not an echo). A point of
a bend zone goes to ``allowance x angle turned / bend angle`` beyond the tangent line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatgen.core.flat_pattern import Axis, BendAllowance, Matrix, Point, Rule
from flatgen.unfolding.sheet import Plane, Shell, Vector, cross
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

    def place(self, points: Vector) -> Vector:
        """Points (n, 3) of the formed zone, in the flat (n, 2) [mm]."""
        arms = points - self.base
        turned = np.degrees(np.arctan2(arms @ self.forward, arms @ self.start))
        turned = np.where(turned < -90, turned + 360, turned)  # just past half a turn: closed bends
        u = self.allowance.length * turned / self.joint.angle
        s = arms @ self.axis
        (ax, ay), (ox, oy) = self.along, self.origin
        return np.column_stack((ox + ax * s + ay * u, oy + ay * s - ax * u))


@dataclass(frozen=True)
class Layout:
    """Frames of all panels, and all joints, in the flat's plane (first panel's own x)."""

    frames: tuple[Matrix, ...]
    joints: tuple[LaidJoint, ...]


def lay_out(shell: Shell, tree: Tree, thickness: float, rule: Rule, start: int) -> Layout:
    """Walk the tree from panel ``start`` and lay every panel and joint into one plane.

    Parameters
    ----------
    shell, tree : the sheet
    thickness : float [mm]
    rule : Rule
        Asked once for every joint.
    """
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
    shell: Shell,
    tree: Tree,
    joint: Joint,
    panel: int,
    other: int,
    frame: Matrix,
    thickness: float,
    rule: Rule,
) -> LaidJoint:
    """A joint entered from ``panel``: its direction, and where it lies in the flat."""
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
    where: Axis = (_triple(joint.origin), _triple(joint.axis))
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
    corners = [
        shell.half_edges[h].curve.at(0.5) - base
        for z in joint.zones
        for f in z.faces
        for wire in shell.faces[f].wires
        for h in wire
    ]
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


def _triple(vector: Vector) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in vector)
    return (x, y, z)
