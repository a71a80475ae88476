"""The shape of an opening as a loop of lines and arcs about its own centre.

x runs across the leg to the right, y along it to the top, as the near face is seen; millimetres and degrees.
Imports the ground floor and ``cutouts`` only.
"""

from __future__ import annotations

import math

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Matrix, Piece
from flatgen.definition.cutouts import Opening

SAME = 1e-9
"""A straight side shorter than this is none [mm]."""


def opening_loop(opening: Opening) -> Loop:
    """Outline of an opening about (0, 0), turned, clockwise.

    A round one is one full arc; a slot two lines and two arcs; a rectangle four lines, with four arcs if its
    corners are round, and a slot if they are as round as its smaller size allows.

    Parameters
    ----------
    opening : Opening
        The opening; its place is not looked at, [-]

    Returns
    -------
    Loop
        Its outline, [mm]

    Examples
    --------
    By hand: a slot of 10 x 4 is a rectangle of 6 x 4 and a circle of radius 2, 24 + 4 pi.

    >>> from flatgen.definition.cutouts import Place
    >>> place = Place(0, 0.0, "middle", 0.0, "middle", "inside")
    >>> opening_loop(Opening(place, "slot", 10.0, 4.0)).area
    36.566370614
    """
    wide, high = opening.size_across, opening.size_along
    if opening.shape == "round":
        return Loop((Arc((0.0, 0.0), wide / 2, 0.0, -360.0),))
    full = 2 * opening.corner_radius >= min(wide, high) - SAME
    if opening.shape == "slot" or full:
        pieces, turn = _slot(max(wide, high), min(wide, high)), (0.0 if wide >= high else 90.0)
    else:
        pieces, turn = _rectangle(wide / 2, high / 2, opening.corner_radius), 0.0
    return Loop(pieces).moved(turned(turn + opening.turn))


def turned(angle: float, x: float = 0.0, y: float = 0.0) -> Matrix:
    """The rigid move (3 x 3) that turns about (0, 0) and then shifts; quarter turns are exact.

    Parameters
    ----------
    angle : float
        Counter-clockwise, [deg]
    x, y : float
        The shift, [mm]

    Returns
    -------
    Matrix
        The move, [-]
    """
    quarters, rest = divmod(angle, 90.0)
    c, s = math.cos(math.radians(rest)), math.sin(math.radians(rest))
    for _ in range(int(quarters) % 4):
        c, s = -s, c
    return np.array([[c, -s, x], [s, c, y], [0.0, 0.0, 1.0]])


def _slot(long: float, short: float) -> tuple[Piece, ...]:
    """Lying across."""
    r, h = short / 2, (long - short) / 2
    return (
        Line((-h, r), (h, r)),
        Arc((h, 0.0), r, 90.0, -180.0),
        Line((h, -r), (-h, -r)),
        Arc((-h, 0.0), r, -90.0, -180.0),
    )


def _rectangle(a: float, b: float, r: float) -> tuple[Piece, ...]:
    """Half sizes ``a``, ``b``, corners ``r``."""
    sides = (
        Line((-a + r, b), (a - r, b)),
        Line((a, b - r), (a, -b + r)),
        Line((a - r, -b), (-a + r, -b)),
        Line((-a, -b + r), (-a, b - r)),
    )
    if r <= SAME:
        return sides
    centres = ((a - r, b - r), (a - r, -b + r), (-a + r, -b + r), (-a + r, b - r))
    corners = (Arc(c, r, 90.0 - 90.0 * n, -90.0) for n, c in enumerate(centres))
    return tuple(piece for pair in zip(sides, corners, strict=True) for piece in pair)
