"""The prior in force in a workshop: the handbook method of each metal, offsets of the shop file, springback by formula.

Springback of a metal is expected by the formula at an inside radius of two thicknesses, where most bends are made. The
bow of the swung leg counts for half of what the cantilever model gives, give or take that half, so that the prior
reaches from the formula alone to formula and whole bow, as a schedule does that knows no strip. Shares: own choice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from flatgen.brake.springback import NoSpringback, loaded_ratio, strength_of
from flatgen.core.shop import Shop
from flatgen.metal.allowance import method_named
from flatgen.metal.metals import Metal
from flatgen.strips.learning.priors import Prior

USUAL_RATIO = 2.0
"""Inside radius in thicknesses at which springback is expected [-]: own choice."""
LEAST_SPREAD = 0.015
"""Spread of alpha at least [-]: measured bends open up to several times as far as the formula says."""
SHARE = 0.5
"""Spread of alpha as a share of it [-]: own choice."""

Springback = tuple[tuple[float, float], tuple[float, float]]


def prior_for(shop: Shop, metals: Mapping[str, Metal]) -> Prior:
    """What is known in a workshop before a strip is bent.

    Parameters
    ----------
    shop : Shop
        The shop file as read, its offsets being those of the file, [mm]
    metals : Mapping[str, Metal]
        Metals in force, by name, [-]

    Returns
    -------
    Prior
        With the method of each metal, e of each set-up and the springback of each metal, [mm]
    """
    methods = {m.name: method_named(m.default_method) for m in metals.values() if m.default_method is not None}
    expected = {m.name: springback_by_formula(m) for m in metals.values()}
    return Prior(
        methods=methods,
        offsets={s.name: s.offset for s in shop.setups},
        springback={name: found for name, found in expected.items() if found is not None},
    )


def springback_by_formula(metal: Metal) -> Springback | None:
    """Alpha and beta of a metal by formula, each with its spread.

    Parameters
    ----------
    metal : Metal
        Of the tables, [-]

    Returns
    -------
    tuple | None
        Alpha and its spread [-], beta and its spread [deg]; None where yield or modulus is not known

    Examples
    --------
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
