"""What is learned from test strips: allowances, offsets, springback, and a part as it is expected to come out.

``spread`` is a standard deviation; 95 % lie within 1.96 of it. ``told``: the strips tell the value apart from all
else; where not, the prior does. ``bends`` on ``strips`` are the measurements behind a value.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class KnownAllowance:
    """Bend allowance of one kind of bend, lengths in [mm].

    ``value``, ``spread``: developed length of the arc, with the ``radius`` that comes out. A drawing keeps the radius
    asked for: ``drawn`` is the allowance that makes its blank right (twice the drawn setback less the deduction that
    was learned), ``drawn_offset`` the e that puts its lines right. ``radii``: bends with the radius measured.
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
    """e of a set-up at a nose setting [mm]: positive where the true tangent line lies nearer the held edge than the
    nose's centre.
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
    """Springback of a metal at a thickness and radius, A0 - A = alpha A + beta a / t: ``beta`` and ``covariance`` of
    the two [deg]. ``bends`` had both the leaf's angle and their own written down.
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
class Entanglement:
    """Unknowns that the strips so far cannot tell apart, and what to do, in words; ``angles`` [deg] of the bends of a
    strip that would.
    """

    unknowns: tuple[str, ...]
    text: str
    remedy: str
    angles: tuple[float, ...] = ()


@dataclass(frozen=True)
class KnownBend:
    """What strips say of one bend of a part, made on a set-up at a nose setting; lengths in [mm].

    ``offset``: e that puts its line right, with the setback of the radius asked for; ``strips_setting``: the nose
    setting that its strips were bent at; ``radius``: 95 % interval of the inside radius, None where none was measured.
    """

    setup: str
    nose_setting: float | None
    offset: float
    strips_setting: float | None = None
    springback: KnownSpringback | None = None
    radius: tuple[float, float] | None = None


@dataclass(frozen=True)
class ExpectedLeg:
    """A finished leg of a part that is yet to be bent [mm].

    ``at_end``, ``at_middle``: expected at the ends of the part and where deflection and twist take most of the angle;
    ``low`` to ``high`` holds 95 % of finished pieces, at either place. ``dimensions``: to which lines.
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
    """A finished bend [deg], as :class:`ExpectedLeg`: ``set`` of the leaf; ``loss`` to deflection and twist, None where
    the beams are not known; ``source`` of its allowance.
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
class ExpectedPart:
    """A part as it will come out.

    ``chance`` that all legs meet their tolerance, None without one; ``do``: "cut", "strip", "draw again" or "", and
    ``advice`` in words; ``teach``: labels of bends, the one that would teach most first, with the share of the legs'
    uncertainty that it takes away. ``bends`` on ``strips`` have its metal, thickness and radii.
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
