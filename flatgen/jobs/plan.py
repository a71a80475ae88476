"""The road from a profile to its bend schedule on a brake, by arithmetic alone: no solid, no drawing.

definition -> closed form -> creases -> schedule
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from flatgen.bend_order.changes import add_changes
from flatgen.bend_order.decide import Decision
from flatgen.bend_order.plan import make_plan, parse_held, parse_order
from flatgen.brake.creases import creases_of_profile
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.core.errors import Finding, InputRefused
from flatgen.core.schedule import Schedule
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.jobs.draw import as_formed, refuse_step
from flatgen.jobs.result import no_shop
from flatgen.metal.metals import Metal
from flatgen.strips.learning.apply import corrections_for


@dataclass(frozen=True)
class PlanResult:
    """A profile with its schedule, and the findings of both."""

    profile: Profile
    schedule: Schedule
    decision: Decision
    findings: tuple[Finding, ...]

    @property
    def exit_status(self) -> int:
        """1 where a shop rule is broken, else 0."""
        return int(any(f.severity == "caution" for f in self.findings))


def shop_for(beside: Path, named: Path | None) -> Shop:
    """The shop that is named, else the one found beside a file or above it.

    :raises InputRefused: FG034 for none, FG032 and others where it cannot be used.
    """
    path = named or find_shop(beside.parent)
    if path is None:
        raise InputRefused(no_shop(str(beside)))
    return read_shop(path)


def plan(
    path: Path,
    metals: Mapping[str, Metal],
    named: Path | None = None,
    set_up: str = "",
    hold: str = "",
    order: str = "",
    *,
    re_formed: bool = False,
) -> PlanResult:
    """Plan the bends of a profile.

    :param named: shop file; found beside the profile or above it where it is left out
    :param set_up: its name; the first where it is empty
    :param hold: sides to hold, such as ``A=web,B=2``
    :param order: order of bending, such as ``B,A``
    :param re_formed: with the inside radii that the brake gives in place of those asked for
    :raises InputRefused: Whatever cannot be used: FG001 to FG034.
    """
    with refuse_step(path):
        profile = read_profile(path, dict(metals), known={})
    shop = shop_for(path, named)
    bend_order = parse_order(order)
    held = parse_held(hold, profile)
    if re_formed:
        profile, shop = as_formed(path, profile, metals, shop, set_up, held, bend_order)
    known = corrections_for(path, profile, metals, shop, set_up, held, bend_order)
    if known is not None:
        profile, shop = known.profile, known.shop
    creases = creases_of_profile(profile, develop(profile))
    decided = make_plan(
        profile, creases if known is None else known.correct_creases(creases), shop, set_up, held, bend_order
    )
    schedule = add_changes(profile, decided.schedule, decided.decision)
    notes = () if known is None else known.findings
    schedule = schedule if known is None else known.complete(schedule)
    findings = tuple(dict.fromkeys((*profile.findings, *notes, *schedule.findings)))
    return PlanResult(profile, schedule, decided.decision, findings)
