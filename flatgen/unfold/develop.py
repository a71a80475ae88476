"""Development: the tree of a sheet laid out in its plane, exactly.

Every panel gets a frame: the rigid move from the flat to the formed solid, worked out from the solid's own
faces (not from allowances alone, so that folding the flat up again is a check and not an echo). A point of
a bend zone goes to ``allowance x angle turned / bend angle`` beyond the tangent line. Lines stay lines,
circles on panels stay circles, circles about a bend's axis become lines across the zone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from flatgen.errors import Fault, InputRefused
from flatgen.flat import Arc, Line, Matrix, Piece, Point
from flatgen.rule import Axis, BendAllowance, Rule
from flatgen.unfold.sheet import Circular, Curve, Plane, Shell, Straight, Vector
from flatgen.unfold.skins import DISTANCE, describe
from flatgen.unfold.tree import Joint, Tree


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

    def place(self, point: Vector) -> Point:
        """A point of the formed zone, in the flat [mm]."""
        arm = point - self.base
        turned = math.degrees(math.atan2(float(arm @ self.forward), float(arm @ self.start)))
        if turned < -90:  # just past half a turn: closed bends
            turned += 360
        u = self.allowance.length * turned / self.joint.angle
        s = float(arm @ self.axis)
        (ax, ay), (ox, oy) = self.along, self.origin
        return (ox + ax * s + ay * u, oy + ay * s - ax * u)


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
    frames: dict[int, Matrix] = {start: _first_frame(shell, tree, start, thickness)}
    laid: list[LaidJoint] = []
    todo = [start]
    while todo:
        panel = todo.pop(0)
        for joint in tree.joints_of(panel):
            other = joint.panels[0] if joint.panels[1] == panel else joint.panels[1]
            if other in frames:
                continue
            step = _cross(shell, tree, joint, panel, other, frames[panel], thickness, rule)
            frames[other] = _next_frame(shell, tree, step, thickness)
            laid.append(step)
            todo.append(other)
    return Layout(tuple(frames[n] for n in range(len(tree.panels))), tuple(laid))


def _plane(shell: Shell, tree: Tree, panel: int) -> Plane:
    surface = shell.faces[min(tree.panels[panel])].surface
    assert isinstance(surface, Plane)
    return surface


def _frame(x: Vector, y: Vector, z: Vector, origin: Vector) -> Matrix:
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = x, y, z, origin
    return frame


def _first_frame(shell: Shell, tree: Tree, panel: int, thickness: float) -> Matrix:
    plane = _plane(shell, tree, panel)
    seed = np.eye(3)[int(np.argmin(np.abs(plane.normal)))]
    x = np.cross(seed, plane.normal)
    x /= np.linalg.norm(x)
    return _frame(x, np.cross(plane.normal, x), plane.normal, plane.origin - thickness * plane.normal)


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
    normal = _plane(shell, tree, panel).normal
    start = -normal if joint.up else normal
    half = next(h for p, h in joint.zones[0].links if p == panel)
    edge = shell.half_edges[half].curve
    base = joint.origin + joint.axis * float((edge.at(0.5) - joint.origin) @ joint.axis)
    beyond = next(h for p, h in joint.zones[0].links if p == other)
    axis = joint.axis
    forward = np.cross(axis, normal)
    if _sideways(shell, joint, base, forward, beyond) < 0:
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


def _sideways(shell: Shell, joint: Joint, base: Vector, forward: Vector, beyond: int) -> float:
    """Positive where the zone lies on the side of ``forward``: by its far edge, or by its middle at half a turn."""
    reach = float((shell.half_edges[beyond].curve.at(0.5) - base) @ forward)
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


def _next_frame(shell: Shell, tree: Tree, step: LaidJoint, thickness: float) -> Matrix:
    """Frame of the panel beyond a joint: its directions from its own face, its place from the axis."""
    normal = _plane(shell, tree, step.second).normal
    across = np.cross(step.axis, normal)
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


def panel_piece(frame: Matrix) -> Callable[[Curve], Piece | None]:
    """A developer of curves that lie in a panel; it gives None where a curve is neither line nor circle."""
    inverse = np.linalg.inv(frame)

    def flat(point: Vector) -> Point:
        x, y, _ = inverse[:3, :3] @ point + inverse[:3, 3]
        return (float(x), float(y))

    def piece(curve: Curve) -> Piece | None:
        if isinstance(curve, Straight):
            return Line(flat(curve.start), flat(curve.end))
        if isinstance(curve, Circular):
            u, v = inverse[:3, :3] @ curve.u, inverse[:3, :3] @ curve.v
            if abs(u[2]) + abs(v[2]) > 1e-9:
                return None
            hand = 1.0 if u[0] * v[1] - u[1] * v[0] > 0 else -1.0
            first = math.degrees(math.atan2(u[1], u[0]))
            return Arc(flat(curve.centre), curve.radius, first, hand * math.degrees(curve.sweep))
        return None

    return piece


def zone_piece(step: LaidJoint) -> Callable[[Curve], Piece | None]:
    """A developer of curves on a bend: lines along its axis and circles about it; else None."""

    def piece(curve: Curve) -> Piece | None:
        if isinstance(curve, Straight):
            reach = curve.end - curve.start
            sideways = reach - step.axis * (reach @ step.axis)
            return Line(step.place(curve.start), step.place(curve.end)) if _small(sideways) else None
        if isinstance(curve, Circular):
            about = curve.centre - step.base
            off = about - step.axis * (about @ step.axis)
            tilted = abs(float(curve.u @ step.axis)) + abs(float(curve.v @ step.axis)) > 1e-9
            if _small(off) and not tilted:
                return Line(step.place(curve.at(0.0)), step.place(curve.at(1.0)))
        return None

    return piece


def chains(
    shell: Shell, faces: Iterable[int], develop: dict[int, Callable[[Curve], Piece | None]], inner: set[int]
) -> list[list[Piece]]:
    """Boundary of a set of faces as closed chains of developed pieces.

    ``inner`` holds the half-edges over which faces of the set hang together; the walk goes straight across
    them, so that each chain follows the region's own boundary even where edges meet in one point.
    """
    twins = shell.twins
    edges = [h for f in faces for wire in shell.faces[f].wires for h in wire if h not in inner]
    found, used = [], set()
    for start in edges:
        if start in used:
            continue
        chain: list[Piece] = []
        half = start
        while half not in used:
            used.add(half)
            here = shell.half_edges[half]
            piece = develop[here.face](here.curve)
            if piece is None:
                raise _cannot(shell, half)
            chain.append(piece)
            half = here.following
            while half in inner:
                half = shell.half_edges[twins[half]].following
        found.append(chain)
    return found


def _cannot(shell: Shell, half: int) -> InputRefused:
    here = shell.half_edges[half]
    x, y, z = here.curve.at(0.5)
    kind = type(here.curve).__name__.lower()
    return InputRefused(
        Fault(
            "FG041",
            describe(shell, here.face),
            f"its edge at x {x:.2f}, y {y:.2f}, z {z:.2f} ({kind}) does not develop to a line or an arc",
            "keep edges of panels to lines and circles, and edges across bends square to the bend",
        )
    )


def _small(vector: Vector) -> bool:
    return float(np.linalg.norm(vector)) < DISTANCE


def _triple(vector: Vector) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in vector)
    return (x, y, z)
