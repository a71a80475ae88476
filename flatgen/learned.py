"""What test strips have taught, as all rooms hand it around: a value, how sure it is, and what is behind it.

allowance    of bends of one kind and angle class: metal, thickness, radius asked for, set-up, nose setting, angle
offset       e of a set-up at a nose setting
springback   A0 - A = alpha A + beta a / t
entangled    unknowns that the strips so far cannot tell apart: there is no number for them, but a strip that would

``spread`` is a standard deviation; 95 % lie within 1.96 of it. This module imports nothing of ours and holds no
mathematics.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class KnownAllowance:
    """Bend allowance of a kind of bend.

    ``value``, ``spread`` [mm]: developed length of the arc, with the radius that comes out, ``radius`` and
    ``radius_spread`` [mm]; ``k`` [-]. A drawing keeps the radius asked for: ``drawn`` [mm] is the allowance that makes
    its blank right (twice the drawn setback less the deduction that was learned), ``drawn_offset`` [mm] the e that puts
    its lines right, with ``drawn_spread`` and ``drawn_offset_spread``. ``bends`` on ``strips`` are behind it, ``radii``
    of them with the radius measured. ``told``: the strips tell it apart from all else; where not, the prior does.
    """

    metal: str
    thickness: float
    inside_radius: float
    setup: str
    nose_setting: float | None
    angle: float
    value: float
    spread: float
    k: float
    radius: float
    radius_spread: float
    drawn: float
    drawn_spread: float
    drawn_offset: float
    drawn_offset_spread: float
    bends: int
    strips: int
    radii: int
    told: bool
    source: str


@dataclass(frozen=True)
class KnownOffset:
    """e of a set-up at a nose setting: ``value``, ``spread`` [mm]; positive where the true tangent line lies nearer the
    held edge than the nose's centre."""

    setup: str
    nose_setting: float | None
    value: float
    spread: float
    bends: int
    strips: int
    told: bool


@dataclass(frozen=True)
class KnownSpringback:
    """Springback of a metal at a thickness and radius: ``alpha`` [-], ``beta`` [deg], each with its spread;
    ``covariance`` [deg] of the two. ``bends`` had both the leaf's angle and their own written down."""

    metal: str
    thickness: float
    inside_radius: float
    alpha: float
    alpha_spread: float
    beta: float
    beta_spread: float
    covariance: float
    bends: int
    strips: int
    told: bool


@dataclass(frozen=True)
class Entangled:
    """Unknowns that cannot be told apart, in words; what to do, in words; ``angles`` [deg] of the bends that a teaching
    strip is needed for."""

    unknowns: tuple[str, ...]
    text: str
    remedy: str
    angles: tuple[float, ...] = ()
