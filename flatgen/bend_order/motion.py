r"""How the swung side moves: on the leaf, sliding outward as the bend forms.

At leaf angle theta the swung leg lies on the leaf's plane; its tangent line lies T = (R + t) tan(theta/2) from the
corner of the outer faces, and the metal of the finished bend that is not bent yet beyond it:

.. math:: u(\theta) = BA - BA(\theta) + SB(\theta), \quad BA(\theta) = \theta (R + K t)

so that the leg's edge lies at L - BA(theta) + SB(theta) from the corner, L its length in the flat from the held
tangent line. Where a dropped or distant leaf is not yet reached by the whole leg, the curve takes no more metal than
the bend and its leg have: the leg then lies above the leaf. Plane geometry, derived.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatgen.bend_order.pieces import Floats
from flatgen.core.shop import Point

Amount = float | Floats
SMALL = 1e-6
GRID = 361


@dataclass(frozen=True)
class Swing:
    """One bend with one side swung on one set-up.

    ``tangent`` [mm]: x of the held tangent line; ``allowance`` [mm] of the finished bend, ``neutral`` K t [mm];
    ``flat`` [mm] of the leg beside it; ``least`` [mm]: nose radius; ``top``: largest angle of the leaf, ``angle``:
    bend angle after release, ``whole``: of the finished bend, more where the rest is bent by hand [rad]; ``radius``
    [mm] finished. Amounts may be arrays, one for each piece that moves.
    """

    hinge: Point
    drop: float
    thickness: float
    tangent: float
    allowance: Amount
    neutral: Amount
    flat: Amount
    least: float
    top: Amount
    angle: Amount
    radius: Amount
    whole: Amount

    def place(self, theta: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies at leaf angles, on the outer face.

        Parameters
        ----------
        theta : numpy.ndarray
            From 0 to ``top``, [rad]

        Returns
        -------
        tuple[numpy.ndarray, numpy.ndarray]
            x and y in the brake, [mm]
        """
        turn = np.maximum(theta, SMALL)
        half = np.tan(turn / 2)
        corner = self.hinge[0] + self.hinge[1] * half + self.drop / np.sin(turn)
        most = ((self.allowance + self.flat) / turn + self.thickness - self.neutral) * half
        setback = np.minimum(np.maximum(corner - self.tangent, (self.least + self.thickness) * half), most)
        used = turn * (setback / half - self.thickness + self.neutral)
        out = self.allowance - used + setback
        return self.tangent + setback + out * np.cos(turn), out * np.sin(turn)

    def finished(self, *, whole: bool = False) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies after release, or when it is whole [mm]: the held tangent line is kept."""
        rho, angle = np.asarray(self.radius) + self.thickness, self.whole if whole else self.angle
        return self.tangent + rho * np.sin(angle), rho * (1 - np.cos(angle))

    def by_hand(self, angle: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies at angles from ``angle`` to ``whole`` as a bend is ended by hand [mm]."""
        rho = np.asarray(self.radius) + self.thickness
        return self.tangent + rho * np.sin(angle), rho * (1 - np.cos(angle))

    def on_leaf(self, theta: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies in the leaf's frame: along its face from the hinge's foot, and off it."""
        x, y = self.place(theta)
        return to_leaf(self.hinge, self.drop, x, y, theta)

    def slides(self, last: float | None = None) -> tuple[float, float]:
        """How fast the swung tangent line moves at most, as the brake and as the leaf sees it [mm/rad]."""
        theta = np.linspace(0.0, self.top if last is None else last, GRID)
        x, y = self.place(theta)
        u, v = to_leaf(self.hinge, self.drop, x, y, theta)
        return _fastest(x, y, theta), _fastest(u, v, theta)


def _fastest(x: Floats, y: Floats, theta: Floats) -> float:
    """Of a point on a smooth way, from samples, with a margin."""
    return 1.05 * float(np.max(np.hypot(np.diff(x), np.diff(y)) / np.maximum(np.diff(theta), 1e-12)))


def to_leaf(hinge: Point, drop: float, x: Floats, y: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Points of the brake in the frame of the leaf at an angle.

    Parameters
    ----------
    hinge : tuple[float, float]
        The axis, [mm]
    drop : float
        Leaf's face below the bed's top at rest, [mm]
    x, y : numpy.ndarray
        In the brake, [mm]
    theta : numpy.ndarray
        Leaf angle, [rad]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Along the face from the hinge's foot, and out of the face, [mm]
    """
    dx, dy = x - hinge[0], y - hinge[1]
    cos, sin = np.cos(theta), np.sin(theta)
    return dx * cos + dy * sin, dy * cos - dx * sin + hinge[1] + drop


def turned(axis: Floats, theta: Floats, x: Floats, y: Floats) -> Floats:
    """Segments of a side's frame, turned by angles and moved.

    Parameters
    ----------
    axis : numpy.ndarray
        (n, 4), [mm]
    theta : numpy.ndarray
        (n,), [rad]
    x, y : numpy.ndarray
        Where the frame's origin goes, [mm]

    Returns
    -------
    numpy.ndarray
        (n, 4), [mm]
    """
    cos, sin = np.cos(theta), np.sin(theta)
    ax, ay, bx, by = axis.T
    return np.stack(
        [ax * cos - ay * sin + x, ax * sin + ay * cos + y, bx * cos - by * sin + x, bx * sin + by * cos + y], 1
    )
