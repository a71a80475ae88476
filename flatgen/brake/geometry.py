"""The brake in section: where the bend's corner lies, how far the nose stands back, where the sight line goes.

Origin at the front edge of the bed, x toward the worker, y up, y = 0 on the bed's top.

A0, R0     bend angle and inside radius at full swing, under load [deg, mm]
hinge      (hx, hy), the axis; drop d, how far the leaf's face lies below the bed's top at rest [mm]
Rn, D      nose radius, and setting: how far the nose's front stands back from the bed's edge [mm]
corner     where the outer faces of held and swung leg meet, on the bed's top

The sheet leaves the nose at the held tangent line, which lies straight under the nose's centre. All formulas:
plane geometry, derived.
"""

from __future__ import annotations

import math

from flatgen.core.schedule import Crease, Sight, Which
from flatgen.core.shop import Point

LARGEST_SWUNG = 179.0
"""Above this the two outer faces are as good as parallel and have no corner [deg]."""


def corner(hinge: Point, drop: float, angle: float) -> float:
    r"""Where the outer faces of the held and the swung leg meet, from the bed's edge.

    .. math:: x = h_x + h_y \tan(A_0/2) + d / \sin A_0

    Parameters
    ----------
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]
    angle : float
        Leaf angle, 0 < angle <= 179, [deg]

    Returns
    -------
    float
        Toward the worker, [mm]

    Raises
    ------
    ValueError
        If the angle is out of range.

    Examples
    --------
    By hand: 0.3 + 0.5 tan 30 + 0.4 / sin 60 = 0.3 + 0.28868 + 0.46188.

    >>> corner((0.3, 0.5), 0.4, 60)
    1.05056
    """
    half = _half(angle)
    return hinge[0] + hinge[1] * math.tan(half) + drop / math.sin(2 * half)


def setting_for(radius: float, thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float) -> float:
    r"""How far the nose must stand back for a bend of this radius under load.

    .. math:: D = (R_0 + t) \tan(A_0/2) - R_n - x

    Parameters
    ----------
    radius : float
        Inside radius at full swing, [mm]
    thickness : float
        Of the sheet, [mm]
    angle : float
        Bend angle at full swing, 0 < angle <= 179, [deg]
    nose_radius : float
        Of the clamp bar, [mm]
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]

    Returns
    -------
    float
        From the bed's edge back to the nose's front; negative where it would stand before it, [mm]

    Raises
    ------
    ValueError
        If the angle is out of range.

    Examples
    --------
    A matching nose, hinge on the corner, 90 degrees: the shop rule of one thickness.

    >>> setting_for(3, 1, 90, 3, (0, 0), 0)
    1.0
    """
    return (radius + thickness) * math.tan(_half(angle)) - nose_radius - corner(hinge, drop, angle)


def least_setting(thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float) -> float:
    """The setting at which the sheet lies round the nose itself: with less it is crushed.

    Parameters
    ----------
    thickness : float
        Of the sheet, [mm]
    angle : float
        Bend angle at full swing, 0 < angle <= 179, [deg]
    nose_radius : float
        Of the clamp bar, [mm]
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]

    Returns
    -------
    float
        From the bed's edge back, [mm]

    Examples
    --------
    By hand, nose and thickness 1, 120 degrees: 2 tan 60 - 1.

    >>> least_setting(1, 120, 1, (0, 0), 0)
    2.46410
    """
    return setting_for(nose_radius, thickness, angle, nose_radius, hinge, drop)


def radius_from(setting: float, thickness: float, angle: float, nose_radius: float, hinge: Point, drop: float) -> float:
    r"""Inside radius under load of a circular bend from a given setting.

    .. math:: R = (D + R_n + x) / \tan(A_0/2) - t

    Less than the nose radius cannot be: such a setting crushes the sheet.

    Parameters
    ----------
    setting : float
        From the bed's edge back to the nose's front, [mm]
    thickness : float
        Of the sheet, [mm]
    angle : float
        Bend angle at full swing, 0 < angle <= 179, [deg]
    nose_radius : float
        Of the clamp bar, [mm]
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]

    Returns
    -------
    float
        Inside radius, [mm]

    Examples
    --------
    By hand, nose, setting and thickness 1, 45 degrees: 2 / tan 22.5 - 1.

    >>> radius_from(1, 1, 45, 1, (0, 0), 0)
    3.82843
    """
    return (setting + nose_radius + corner(hinge, drop, angle)) / math.tan(_half(angle)) - thickness


def finished_radius(radius: float, thickness: float, loaded_angle: float, angle: float) -> float:
    """Inside radius after release: the length of the arc at mid thickness is kept.

    Parameters
    ----------
    radius : float
        Under load, [mm]
    thickness : float
        Of the sheet, [mm]
    loaded_angle : float
        Bend angle under load, [deg]
    angle : float
        Finished bend angle, [deg]

    Returns
    -------
    float
        Inside radius, [mm]

    Examples
    --------
    >>> finished_radius(2.5, 1, 96, 90)
    2.7
    """
    return (radius + thickness / 2) * loaded_angle / angle - thickness / 2


def on_leaf(hinge: Point, drop: float, angle: float) -> float:
    """How far along the leaf's face, from the foot of the hinge axis on it, the corner lies.

    Parameters
    ----------
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]
    angle : float
        Leaf angle, 0 < angle <= 179, [deg]

    Returns
    -------
    float
        Outward, [mm]

    Examples
    --------
    >>> on_leaf((0, 0), 0, 90) + 0.0
    0.0
    """
    turn = 2 * _half(angle)
    return (corner(hinge, drop, angle) - hinge[0]) * math.cos(turn) - hinge[1] * math.sin(turn)


def sight(crease: Crease, held: Which, nose_radius: float, offset: float) -> Sight:
    """The line to put under the front of the nose when one side of a bend is held.

    It lies one nose radius and the offset of the brake from the tangent line of the held side, toward the swung
    side, on the face that becomes the inside of the bend.

    Parameters
    ----------
    crease : Crease
        The bend, [mm]
    held : str
        Its side under the clamp bar, [-]
    nose_radius : float
        Of the clamp bar, [mm]
    offset : float
        e of the set-up, [mm]

    Returns
    -------
    Sight
        From the datum edge and from the held edge of the flat, [mm]
    """
    side, beyond = crease.side(held), nose_radius + offset
    place = side.tangent + (beyond if held == "first" else -beyond)
    return Sight(held, place, side.reach + beyond, "near" if crease.way == "up" else "far")


def half_tangent(angle: float) -> float:
    """tan(A/2), by which setbacks are measured.

    Parameters
    ----------
    angle : float
        0 < angle <= 179, [deg]

    Returns
    -------
    float
        The tangent, [-]

    Examples
    --------
    >>> half_tangent(90)
    1.0
    """
    return math.tan(_half(angle))


def _half(angle: float) -> float:
    if not 0 < angle <= LARGEST_SWUNG:
        raise ValueError(f"leaf angle {angle} is not above 0 and up to {LARGEST_SWUNG}")
    return math.radians(angle) / 2
