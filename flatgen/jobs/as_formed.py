"""The flat for the inside radii that a brake gives, on request: a definition read again with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from flatgen.bend_order.plan import formed_radii, make_schedule
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import Finding
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.metal.metals import Metal


def as_formed(
    path: Path,
    profile: Profile,
    metals: Mapping[str, Metal],
    shop: Shop,
    set_up: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> tuple[Profile, Shop]:
    """The part with the inside radii that the brake gives, and the shop with the job's nose setting made fast.

    :param set_up: its set-up, the first where it is empty
    :param held: legs to hold, by label of the bend
    :returns: both; the part tells with FG132 which radii are not those asked for [mm]
    :raises InputRefused: FG024 where a bend's allowance or deduction was given for the other radius, and what a set-up
        or order breaks
    """
    creases = creases_of_profile(profile, develop(profile))
    planned = make_schedule(profile, creases, shop, set_up, held, order)
    radii = formed_radii(profile, creases, shop, set_up, held, order)
    own = replace(planned.setup, setting=planned.setting)
    fixed = replace(shop, setups=tuple(own if s.name == own.name else s for s in shop.setups))
    formed = read_profile(path, metals, radii, {})
    notes = [
        Finding(
            "FG132",
            "note",
            bend.where,
            f"bend {bend.label}: drawn with the inside radius of {radii[bend.label]:.3f} mm that the brake gives, in "
            f"place of {bend.inside_radius:g} mm",
            "the approved drawing decides whether the part may have it",
        )
        for bend in profile.bends
        if bend.label in radii
    ]
    return replace(formed, findings=(*formed.findings, *notes)), fixed
