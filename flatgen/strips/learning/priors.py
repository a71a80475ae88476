"""The unknowns that strips are bent for, and what is known of them before a strip is bent.

Each unknown is a deviation from what is expected, so that its expected value is 0:

k metal, k kind, k class, k sheet    of K from the handbook's: of the metal, of metal with thickness, radius and nose
                                     setting, of that with its angle class, of the sheet or batch
radius kind, radius class            of the inside radius from the one asked for [mm]
offset                               of e of a set-up at a nose setting from the shop file's [mm]
alpha, beta                          of the two coefficients of springback, A0 - A = alpha A + beta a / t, beta in [deg]

What two bends have in common is one unknown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from flatgen.brake.springback import NoSpringback, loaded_ratio, strength_of
from flatgen.core.shop import Shop
from flatgen.metal.allowance import Din6935, Method, NotUsable, method_named
from flatgen.metal.metals import Metal
from flatgen.strips.reading import BendReading, StripReading

Sort = Literal[
    "k metal", "k kind", "k class", "k sheet", "radius kind", "radius class", "offset", "alpha", "beta", "allowance"
]  # fmt: skip
"""Of an unknown; an allowance is put together from the others."""


class Kind(NamedTuple):
    """What bends must share to be of one kind, but for their angle: thickness as bought, inside radius as asked, nose
    setting to its class [mm].
    """

    metal: str
    thickness: float
    inside_radius: float
    setup: str
    nose_setting: float | None


class Unknown(NamedTuple):
    """An unknown: its sort, and what it belongs to; a field that its sort does not have stays at its default.

    ``angle`` [deg] to its class; ``sheet`` and ``strip`` of "k sheet": the strip where its sheet has no name.
    """

    sort: Sort
    metal: str = ""
    thickness: float = 0.0
    inside_radius: float = 0.0
    setup: str = ""
    nose_setting: float | None = None
    angle: float = 0.0
    sheet: str = ""
    strip: str = ""


Springback = tuple[tuple[float, float], tuple[float, float]]
"""Alpha and its spread, beta and its spread [deg]."""

ANGLE_CLASS = 5.0
"""Bends whose angles round to the same multiple of this are of one class [deg]."""
SETTING_CLASS = 0.1
"""Nose settings that round to the same multiple of this are one [mm]."""
MIDDLE_K = 0.41
"""Middle of published K, 0.33 to 0.48 (references: common practice, Groover)."""

_SCATTERS = (0.01, 0.03, 0.05, 0.075, 0.1, 0.125, 0.15, 0.175, 0.2, 0.23, 0.27, 0.32, 0.4, 0.6)


@dataclass(frozen=True)
class Prior:
    """Expected values and spreads (standard deviations); ``math.inf`` is flat, 0 is known.

    ``methods``: allowance method in force by metal; ``trust``: the share of the handbook in the K expected, the rest
    is the middle of published K. ``k_...``, ``radius_...`` and ``offset`` [mm]: spreads of the unknowns; ``offsets``
    [mm]: e by set-up as the shop file has it. ``alpha``, ``beta`` [deg]: expected value and spread, those of a metal
    by its name in ``springback``.

    What is not learned: ``angle_scatter`` [deg] from bend to bend; ``..._error`` [mm, deg] of measuring; ``cut`` [mm]
    of the blank; ``unmeasured``: of a thickness that was not measured, as a share; ``unset`` [deg] of an angle neither
    set nor measured; ``unmarked`` [mm] of a sight line that was not measured.

    ``scatters`` [mm]: placement scatter, the values between which the strips decide, ``scatter_scale`` [mm] says how
    they are weighed before (half a normal law). ``wide`` is a factor on all spreads of unknowns, with the chance
    ``wide_chance`` that it holds: a metal that no handbook knows is then believed.
    """

    methods: Mapping[str, Method] = field(default_factory=dict)
    trust: float = 0.5
    k_metal: float = 0.045
    k_kind: float = 0.02
    k_class: float = 0.008
    k_sheet: float = 0.015
    radius_kind: float = 0.095
    radius_class: float = 0.03
    offset: float = 0.5
    offsets: Mapping[str, float] = field(default_factory=dict)
    alpha: tuple[float, float] = (0.03, 0.015)
    beta: tuple[float, float] = (0.0, 0.1)
    springback: Mapping[str, Springback] = field(default_factory=dict)
    angle_scatter: float = 0.3
    length_error: float = 0.1
    radius_error: float = 0.1
    thickness_error: float = 0.01
    angle_error: float = 0.25
    cut: float = 0.1
    unmeasured: float = 0.03
    unset: float = 1.0
    unmarked: float = 5.0
    scatters: tuple[float, ...] = _SCATTERS
    scatter_scale: float = 0.15
    wide: float = 3.0
    wide_chance: float = 0.1

    def __post_init__(self) -> None:
        if not self.scatters or any(not 0 <= s < math.inf for s in self.scatters):
            raise ValueError("placement scatter needs at least one value, none under 0")
        if not 0 <= self.wide_chance < 1 or self.wide < 1:
            raise ValueError("the wide factor is at least 1, its chance from 0 to less than 1")


def expected_k(prior: Prior, metal: str, inside_radius: float, thickness: float) -> float:
    """K expected before a strip is bent: between the handbook's and the middle of what is published.

    :param inside_radius: as asked [mm]
    :param thickness: as bought [mm]

    By hand, DIN 6935 at r = s: k = 0.65, K = 0.325; halfway to 0.41.

    >>> expected_k(Prior(), "5052-H32", 2.0, 2.0)
    0.3675
    """
    method = prior.methods.get(metal, Din6935())
    try:
        handbook = method.allowance(90.0, inside_radius, thickness).k
    except NotUsable:
        return MIDDLE_K
    return prior.trust * handbook + (1 - prior.trust) * MIDDLE_K


def expected_springback(prior: Prior, metal: str) -> Springback:
    """Alpha and beta expected of a metal."""
    return prior.springback.get(metal, (prior.alpha, prior.beta))


def prior_spread(prior: Prior, unknown: Unknown) -> float:
    """Standard deviation of an unknown before a strip is bent, in its own unit."""
    if unknown.sort in ("alpha", "beta"):
        return expected_springback(prior, unknown.metal)[unknown.sort == "beta"][1]
    return {
        "k metal": prior.k_metal,
        "k kind": prior.k_kind,
        "k class": prior.k_class,
        "k sheet": prior.k_sheet,
        "radius kind": prior.radius_kind,
        "radius class": prior.radius_class,
        "offset": prior.offset,
    }[unknown.sort]


def kind_of(strip: StripReading, bend: BendReading) -> Kind:
    """The kind of a bend."""
    thickness, radius = round(strip.nominal, 3), round(bend.inside_radius, 3)
    return Kind(strip.metal, thickness, radius, bend.setup, _setting_of(bend))


def _setting_of(bend: BendReading) -> float | None:
    return None if bend.nose_setting is None else setting_class(bend.nose_setting)


def setting_class(setting: float) -> float:
    """Nose setting to its class, a multiple of ``SETTING_CLASS`` [mm]: settings that are one in the workshop."""
    return round(round(setting / SETTING_CLASS) * SETTING_CLASS, 6)


def angle_class(angle: float) -> float:
    """Angle as asked to its class, a multiple of ``ANGLE_CLASS`` [deg].

    >>> angle_class(88.0)
    90.0
    """
    return round(angle / ANGLE_CLASS) * ANGLE_CLASS


def allowance_key(strip: StripReading, bend: BendReading) -> Unknown:
    """The allowance of a bend's kind and angle class."""
    return Unknown("allowance", *kind_of(strip, bend), angle_class(bend.angle))


def offset_key(bend: BendReading) -> Unknown:
    """The unknown e of a bend's set-up and nose setting."""
    return Unknown("offset", setup=bend.setup, nose_setting=_setting_of(bend))


def alpha_key(strip: StripReading, bend: BendReading) -> Unknown:
    """The unknown alpha of a bend's metal, thickness and radius."""
    return Unknown("alpha", *kind_of(strip, bend)[:3])


USUAL_RATIO = 2.0
"""Inside radius in thicknesses at which springback is expected: own choice."""

LEAST_SPREAD = 0.015
"""Spread of alpha at least: measured bends open up to several times as far as the formula says."""

SHARE = 0.5
"""Spread of alpha as a share of it: own choice."""


def prior_for(shop: Shop, metals: Mapping[str, Metal]) -> Prior:
    """What is known in a workshop before a strip is bent: e of each set-up, method and springback of each metal."""
    methods = {m.name: method_named(m.default_method) for m in metals.values() if m.default_method is not None}
    expected = {m.name: springback_by_formula(m) for m in metals.values()}
    return Prior(
        methods=methods,
        offsets={s.name: s.offset for s in shop.setups},
        springback={name: value for name, value in expected.items() if value is not None},
    )


def springback_by_formula(metal: Metal) -> Springback | None:
    """Alpha and beta of a metal by formula, None where yield or modulus is not known.

    304 by hand, yield 205 MPa, E 193 GPa, Poisson 0.3: S / E' = 236.7 / 212 088 = 0.001116, x0 = 0.002790 - so small
    that x and x0 are one to 1 % - and 1 / (1 - 3 x0) - 1 = 0.0084; beta is half of 0.0639 degrees.

    >>> from flatgen.metal.metals import load_metals
    >>> (alpha, _), (beta, _) = springback_by_formula(load_metals()["304"])
    >>> round(alpha, 3), round(beta, 3)
    (0.008, 0.032)
    """
    strength = strength_of(metal)
    if strength is None:
        return None
    try:
        alpha = 1 / loaded_ratio(USUAL_RATIO, 1.0, strength) - 1
    except NoSpringback:
        return None
    half = math.degrees(strength.flow / strength.plane_modulus) / 2
    return (alpha, max(SHARE * alpha, LEAST_SPREAD)), (half, half)
