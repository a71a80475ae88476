"""The brake in section: where the bend's corner lies, how far the nose stands back, where the sight line goes.

Origin at the front edge of the bed, x toward the worker, y up, y = 0 on the bed's top. All formulas are plane
geometry, derived; lengths in [mm], angles in [deg], 0 < angle <= 179, else ValueError.

A0, R0        bend angle and inside radius at full swing, under load
hinge, drop   (hx, hy), the axis; d, how far the leaf's face lies below the bed's top at rest
Rn, D         nose radius, and setting: how far the nose's front stands back from the bed's edge
corner        where the outer faces of held and swung leg meet, on the bed's top

The sheet leaves the nose at the held tangent line, which lies straight under the nose's centre.
"""

from __future__ import annotations

import math

from flatgen.core.flat_pattern import Point
from flatgen.core.schedule import Crease, SightLine, WhichSide

LARGEST_SWUNG = 179.0
"""Above this the two outer faces are as good as parallel and have no corner [deg]."""


def corner(hinge: Point, drop: float, angle: float) -> float:
    r"""How far before the bed's edge the corner lies at a leaf angle.

    .. math:: x = h_x + h_y \tan(A_0/2) + d / \sin A_0

    By hand: 0.3 + 0.5 tan 30 + 0.4 / sin 60 = 0.3 + 0.28868 + 0.46188.

    >>> corner((0.3, 0.5), 0.4, 60)
    1.05056
    """
    half = _half(angle)
    return hinge[0] + hinge[1] * math.tan(half) + drop / math.sin(2 * half)


def setting_for_radius(
    radius: float, thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float
) -> float:
    r"""The setting for a bend of this radius and angle under load; negative where the nose would stand before the bed.

    .. math:: D = (R_0 + t) \tan(A_0/2) - R_n - x

    A matching nose, hinge on the corner, 90 degrees: the shop rule of one thickness.

    >>> setting_for_radius(3, 1, 90, 3, (0, 0), 0)
    1.0
    """
    return (radius + thickness) * math.tan(_half(angle)) - nose_radius - corner(hinge, drop, angle)


def least_setting(thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float) -> float:
    """The setting at which the sheet lies round the nose itself: with less it is crushed.

    By hand, nose and thickness 1, 120 degrees: 2 tan 60 - 1.

    >>> least_setting(1, 120, 1, (0, 0), 0)
    2.46410
    """
    return setting_for_radius(nose_radius, thickness, angle, nose_radius, hinge, drop)


def radius_from_setting(
    setting: float, thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float
) -> float:
    r"""Inside radius under load of a circular bend; a setting that gives less than the nose radius crushes the sheet.

    .. math:: R = (D + R_n + x) / \tan(A_0/2) - t

    By hand, nose, setting and thickness 1, 45 degrees: 2 / tan 22.5 - 1.

    >>> radius_from_setting(1, 1, 45, 1, (0, 0), 0)
    3.82843
    """
    return (setting + nose_radius + corner(hinge, drop, angle)) / math.tan(_half(angle)) - thickness


def finished_radius(radius: float, thickness: float, loaded_angle: float, angle: float) -> float:
    """Inside radius after release from a radius and angle under load: the arc at mid thickness keeps its length.

    >>> finished_radius(2.5, 1, 96, 90)
    2.7
    """
    return (radius + thickness / 2) * loaded_angle / angle - thickness / 2


def corner_on_leaf(hinge: Point, drop: float, angle: float) -> float:
    """How far along the leaf's face, outward from the foot of the hinge axis on it, the corner lies.

    >>> corner_on_leaf((0, 0), 0, 90) + 0.0
    0.0
    """
    turn = 2 * _half(angle)
    return (corner(hinge, drop, angle) - hinge[0]) * math.cos(turn) - hinge[1] * math.sin(turn)


def sight_line(crease: Crease, held: WhichSide, nose_radius: float, offset: float) -> SightLine:
    """The line to put under the front of the nose when one side of a bend is held.

    It lies one nose radius and the set-up's offset e from the tangent line of the held side, toward the swung side,
    on the face that becomes the inside of the bend.
    """
    side, beyond = crease.side(held), nose_radius + offset
    place = side.tangent + (beyond if held == "first" else -beyond)
    return SightLine(held, place, side.reach + beyond, "near" if crease.way == "up" else "far")


def half_tangent(angle: float) -> float:
    """tan(A/2), by which setbacks are measured.

    >>> half_tangent(90)
    1.0
    """
    return math.tan(_half(angle))


def _half(angle: float) -> float:
    if not 0 < angle <= LARGEST_SWUNG:
        raise ValueError(f"leaf angle {angle} is not above 0 and up to {LARGEST_SWUNG}")
    return math.radians(angle) / 2
