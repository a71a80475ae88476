"""What test strips have taught, as all rooms hand it around: a value, how sure it is, and what is behind it.

allowance    of bends of one kind and angle class: metal, thickness, radius asked for, set-up, nose setting, angle
offset       e of a set-up at a nose setting
springback   A0 - A = alpha A + beta a / t
entangled    unknowns that the strips so far cannot tell apart: there is no number for them, but a strip that would
expected     a part that is yet to be bent, as it will come out

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
    held edge than the nose's centre.
    """

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
    ``covariance`` [deg] of the two. ``bends`` had both the leaf's angle and their own written down.
    """

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
    strip is needed for.
    """

    unknowns: tuple[str, ...]
    text: str
    remedy: str
    angles: tuple[float, ...] = ()


@dataclass(frozen=True)
class KnownBend:
    """What strips say of one bend of a part, made on a set-up at a nose setting.

    ``offset`` [mm]: e that puts its line right, with the setback of the radius asked for; ``told_at`` [mm]: the nose
    setting that its strips were bent at, near to that of the bend; ``springback`` is None where no strip told of it;
    ``radius`` [mm]: between what the inside radius comes out to 95 %, None where none was measured.
    """

    setup: str
    nose_setting: float | None
    offset: float
    told_at: float | None = None
    springback: KnownSpringback | None = None
    radius: tuple[float, float] | None = None


@dataclass(frozen=True)
class ExpectedLeg:
    """A finished leg of a part that is yet to be bent [mm].

    ``at_end``, ``at_middle``: what it is expected to be at the ends of the part and where deflection and twist take
    most of the angle; ``low`` to ``high`` holds 95 % of finished pieces, at either place. ``tolerance``: either way,
    None where there is none. ``dimensions``: to which lines.
    """

    name: str
    asked: float
    dimensions: str
    tolerance: float | None
    at_end: float
    at_middle: float
    low: float
    high: float

    @property
    def inside(self) -> bool:
        """Whether all of the interval meets the tolerance."""
        reach = max(abs(self.low - self.asked), abs(self.high - self.asked))
        return self.tolerance is None or reach <= self.tolerance


@dataclass(frozen=True)
class ExpectedBend:
    """A finished bend [deg]: leaf ``set``, ``at_end`` and ``at_middle``, 95 % within ``low`` to ``high``. ``source``:
    what its allowance is from; ``loss``: what deflection and twist take, None where the beams are not known.
    """

    label: str
    asked: float
    set: float
    at_end: float
    at_middle: float
    low: float
    high: float
    loss: float | None
    source: str


@dataclass(frozen=True)
class Expected:
    """A part as it will come out.

    ``chance`` [-] that all legs meet their tolerance, None without one; ``do``: "cut", "strip", "draw again" or "" and
    ``advice`` in words; ``teach``: labels of bends, the one that would teach most first, each with the share of the
    legs' uncertainty that it takes away [-]. ``bends`` on ``strips`` have its metal, thickness and radii.
    """

    legs: tuple[ExpectedLeg, ...]
    angles: tuple[ExpectedBend, ...]
    chance: float | None
    do: str
    advice: str
    teach: tuple[tuple[str, float], ...]
    tolerance_source: str
    bends: int
    strips: int
    words: tuple[str, ...] = ()
