"""The inside radii that a brake gives where those asked for are out of its reach.

The blank follows the radius: with these radii the definition is read again and developed anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from flatgen.bend_order.plan import make_schedule
from flatgen.core.schedule import Crease, Schedule
from flatgen.core.shop import Shop
from flatgen.definition.part import Part

ROUNDS = 30
STILL = 1e-9
"""Radii that change by less have settled [mm]."""


def formed_radii(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setup_name: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> dict[str, float]:
    """Finished inside radius of each bend nearest to what is asked and within what the brake gives.

    The nose setting is that of the job as asked, and stays. Springback depends on the radius, so the two are
    worked out in turn until they rest.

    Parameters
    ----------
    part : Part
        The part, [-]
    creases : Sequence[Crease]
        Its bends as asked, [mm]
    shop : Shop
        The brake, [mm]
    setup_name : str
        Set-up to use, [-]
    held : Mapping[str, int] | None
        Legs to hold, by label, [-]
    order : Sequence[str] | None
        Order of bending by labels, [-]

    Returns
    -------
    dict[str, float]
        Radii by label, of those bends only that come out with another radius than asked, [mm]
    """
    asked = make_schedule(part, creases, shop, setup_name, held, order)
    own = replace(asked.setup, setting=asked.setting)
    fixed = replace(shop, setups=tuple(own if s.name == own.name else s for s in shop.setups))
    wanted = {c.label: c.inside_radius for c in creases}
    radii = _nearest(asked, wanted)
    for _ in range(ROUNDS):
        tried = [replace(c, inside_radius=radii.get(c.label, c.inside_radius)) for c in creases]
        settled = _nearest(make_schedule(part, tried, fixed, own.name, held, order), wanted)
        still = all(abs(settled.get(n, r) - radii.get(n, r)) < STILL for n, r in wanted.items())
        radii = settled
        if still:
            break
    return radii


def _nearest(schedule: Schedule, wanted: Mapping[str, float]) -> dict[str, float]:
    found = {}
    for stage in schedule.stages:
        asked, gives = wanted[stage.crease.label], stage.radius
        if gives is not None and not gives.low - STILL <= asked <= gives.high + STILL:
            found[stage.crease.label] = gives.low if asked < gives.low else gives.high
    return found
