"""How far a bend opens when the leaf lets go: plane strain, elastic and perfectly plastic.

A0, R0   bend angle and inside radius under load, at full swing; A, r those of the finished bend
S        plane-strain flow stress (2 / sqrt 3) yield [MPa]; E' = E / (1 - nu2) [MPa]
x        S (R0 + t/2) / (E' t): 0 where nothing springs, 0.5 where the sheet only just begins to yield

Gardiner, Trans. ASME 79 (1957); in this form Marciniak, Duncan, Hu, Mechanics of Sheet Metal Forming, 2nd ed., ch. 6
(seen). The formula covers the bend only. The swung leg is an elastic cantilever under the leaf as well, and gives
about (S / E') (a / t) radians more, a from the bend to where the leaf bears (derived from a moment-curvature model).
Measured bends at r near t open several times as far as the formula says: below r/t of about 4 it is a lower bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.core.learned import KnownSpringback
from flatgen.core.schedule import Range
from flatgen.metal.figures import Figure
from flatgen.metal.metals import Metal

PLANE_STRAIN = 2 / math.sqrt(3)
POISSON = 0.3  # where no table has a figure for the family: metals lie between 0.27 and 0.35
KINDS = ("typical", "nominal", "minimum", "maximum")  # in the order in which they are taken
_FAMILY_POISSON = {"aluminium": 0.33, "steel": 0.3, "stainless steel": 0.3}  # handbook values (memory)
NORMAL_95 = 1.96  # spreads of a normal law, either way, that hold 95 %
_ELASTIC = 0.5  # x at which the outer fibres begin to yield


class NoSpringback(ValueError):
    """A bend for which the formula has no answer; the text says why, with numbers."""


@dataclass(frozen=True)
class Strength:
    """Figures of a metal that bending takes [MPa]; ``text`` says which figures they are."""

    yield_: float
    ultimate: float
    modulus: float
    poisson: float
    text: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.yield_ <= self.ultimate < math.inf or not 0 < self.modulus < math.inf:
            raise ValueError("yield and modulus must be above 0, and the ultimate strength not under the yield")
        if not 0 <= self.poisson < 0.5:
            raise ValueError(f"a Poisson's ratio of {self.poisson:g} is not between 0 and 0.5")

    @property
    def flow(self) -> float:
        """S [MPa]."""
        return PLANE_STRAIN * self.yield_

    @property
    def plane_modulus(self) -> float:
        """E' [MPa]."""
        return self.modulus / (1 - self.poisson**2)


def strength_of(metal: Metal) -> Strength | None:
    """Strength of a metal from its table, None without yield or modulus: typical figures, else nominal, else the least.

    >>> from flatgen.metal.metals import load_metals
    >>> strength_of(load_metals()["304"]).yield_
    205.0
    """
    yield_, modulus = _preferred_figure(metal, "yield"), _preferred_figure(metal, "modulus")
    if yield_ is None or modulus is None:
        return None
    texts = [f"yield {yield_.value:.0f} MPa ({yield_.kind})"]
    ultimate = _preferred_figure(metal, "ultimate")
    strength = max(ultimate.value, yield_.value) if ultimate else yield_.value
    texts.append(
        f"ultimate {strength:.0f} MPa ({ultimate.kind})" if ultimate else "ultimate strength not known, yield taken"
    )
    texts.append(f"E {modulus.value / 1000:.1f} GPa")
    poisson = _preferred_figure(metal, "poisson")
    if poisson:
        ratio = poisson.value
    else:
        ratio = _FAMILY_POISSON.get(metal.family, POISSON)
        whose = f"usual for {metal.family}" if metal.family in _FAMILY_POISSON else "taken as for most metals"
        texts.append(f"Poisson's ratio not in the table, {ratio:g} {whose}")
    if "minimum" in (yield_.kind, ultimate.kind if ultimate else ""):
        texts.append("sheet is mostly stronger than its minimum, and then springs back farther and asks for more force")
    return Strength(yield_.value, strength, modulus.value, ratio, "; ".join(texts))


def loaded_ratio(inside_radius: float, thickness: float, strength: Strength) -> float:
    r"""A / A0 of a bend with this finished inside radius; it does not depend on the angle.

    .. math:: \rho_0 / \rho = 1 - 3x + 4x^3, \quad x = S \rho_0 / (E' t), \quad \rho = r + t/2

    :param inside_radius: finished, >= 0 [mm]
    :param thickness: > 0 [mm]
    :raises NoSpringback: If the sheet could be wrapped round the finished radius without yielding.
    :raises ValueError: If an argument is out of range.

    Strip 1.2 mm thick (E 70 GPa, 250 MPa) rolled to a full turn, finished mean radius 6.77: 360 less 21.5 of 360.

    >>> loaded_ratio(6.77 - 0.6, 1.2, Strength(250, 250, 70000, 0.3))
    0.9403
    """
    if inside_radius < 0 or thickness <= 0:
        raise ValueError(f"no bend: inside radius {inside_radius:g}, thickness {thickness:g}")
    finished = strength.flow * (inside_radius + thickness / 2) / (strength.plane_modulus * thickness)
    if finished >= _ELASTIC:
        limit = _ELASTIC * strength.plane_modulus * thickness / strength.flow - thickness / 2
        raise NoSpringback(
            f"a sheet {thickness:g} mm thick of this metal can be wrapped round inside radii from {limit:.3g} mm up "
            f"without yielding, and {inside_radius:g} mm is one"
        )
    low, high = 0.0, finished  # x0 / (1 - 3 x0 + 4 x0^3) grows with x0, from 0 to past `finished` at x0 = finished
    for _ in range(200):
        middle = (low + high) / 2
        if middle < finished * _kept_share(middle):
            low = middle
        else:
            high = middle
        if high - low <= 1e-16:
            break
    return _kept_share((low + high) / 2)


def springback(
    angle: float, inside_radius: float, thickness: float, strength: Strength, arm: float | None = None
) -> Range:
    r"""Degrees that a bend must be bent past its finished angle, from the formula alone to formula and bow.

    .. math:: A_0 - A \quad\text{to}\quad A_0 - A + \frac{180}{\pi} \frac{S}{E'} \frac{a}{t}

    :param angle: finished, > 0 [deg]
    :param inside_radius, thickness: as of :func:`loaded_ratio`, which raises as well
    :param arm: from the swung tangent line to where the leaf bears, None leaves the bow out [mm]
    :raises ValueError: If an argument is out of range.

    The tube of :func:`loaded_ratio`, rolled to a full turn, which opens by 21.5 degrees.

    >>> springback(360 - 21.5, 6.77 - 0.6, 1.2, Strength(250, 250, 70000, 0.3)).low
    21.5
    """
    if angle <= 0:
        raise ValueError(f"a bend of {angle:g} degrees is none")
    if arm is not None and arm < 0:
        raise ValueError(f"an arm of {arm:g} mm is none")
    low = angle / loaded_ratio(inside_radius, thickness, strength) - angle
    bow = 0.0 if arm is None else math.degrees(strength.flow / strength.plane_modulus * arm / thickness)
    return Range(low, low + bow)


@dataclass(frozen=True)
class SpringbackEstimate:
    """How far a bend opens [deg]: between what, and what its own share is, without the bow of the swung leg."""

    range: Range
    own: float


def estimate_springback(
    angle: float,
    inside_radius: float,
    thickness: float,
    strength: Strength | None,
    arm: float,
    known: KnownSpringback | None = None,
) -> SpringbackEstimate | None:
    r"""How far a bend opens: by strips, as below, where ``known``; else by :func:`springback`.

    .. math:: \alpha A + \beta a / t \pm 1.96 \sigma

    :returns: None where neither has an answer

    By hand: 0.03 * 90 + 0.1 * 20 / 2 = 3.7, of which 2.7 are the bend's own; sigma 0.001 * 90.

    >>> estimate_springback(90, 3, 2, None, 20, KnownSpringback("tin", 2, 3, 0.03, 0.001, 0.1, 0, 0, 4, 2, True)).range
    Range(low=3.5236, high=3.8764)
    """
    if known is not None:
        along = arm / thickness
        middle = known.alpha * angle + known.beta * along
        variance = (known.alpha_spread * angle) ** 2 + (known.beta_spread * along) ** 2
        spread = math.sqrt(max(variance + 2 * known.covariance * angle * along, 0.0))
        ends = (max(middle + sign * NORMAL_95 * spread, 0.0) for sign in (-1, 1))
        return SpringbackEstimate(Range(*ends), max(known.alpha * angle, 0.0))
    if strength is None:
        return None
    try:
        formula = springback(angle, inside_radius, thickness, strength, arm)
    except NoSpringback:
        return None
    return SpringbackEstimate(formula, formula.low)


def loaded_radius(angle: float, inside_radius: float, thickness: float, loaded_angle: float) -> float:
    r"""Inside radius at full swing, from the kept length of the arc at mid thickness.

    .. math:: R_0 = (r + t/2) A / A_0 - t/2

    A sharp bend stays sharp: the answer is not less than 0.

    :param angle: finished, > 0 [deg]
    :param inside_radius, thickness: as of :func:`loaded_ratio`
    :param loaded_angle: at full swing, >= angle [deg]
    :returns: [mm]
    :raises ValueError: If an argument is out of range.

    By hand: (3 + 1) * 90 / 96 - 1.

    >>> loaded_radius(90, 3, 2, 96)
    2.75
    """
    if not 0 < angle <= loaded_angle or inside_radius < 0 or thickness <= 0:
        raise ValueError(
            f"no bend: {angle:g} degrees from {loaded_angle:g}, inside radius {inside_radius:g}, "
            f"thickness {thickness:g}"
        )
    return max((inside_radius + thickness / 2) * angle / loaded_angle - thickness / 2, 0.0)


def _kept_share(x: float) -> float:
    """Share of the angle that stays: 1 - 3x + 4x3."""
    return 1 - 3 * x + 4 * x**3


def _preferred_figure(metal: Metal, quantity: str) -> Figure | None:
    """First figure of the first kind that the table has."""
    for kind in KINDS:
        figures = metal.figures_of(quantity, kind)
        if figures:
            return figures[0]
    return None
