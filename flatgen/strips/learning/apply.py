"""What strips told, put to use for a part: its allowances, its sight lines, its leaf angles.

plan by the handbook -> set-ups and nose settings -> what strips told there -> develop again -> plan again

What is learned is the radius that comes out and the metal that it takes; the drawing asks for another radius, and its
finished sizes are to be met. So the blank follows the allowance that goes with the setback of the radius asked for
(``KnownAllowance.drawn``: twice that setback less the deduction learned), and the line the e that goes with it
(``drawn_offset``): legs come out as drawn to their mould lines, whatever the radius turns out to be. The learned radius
itself is put into neither: setbacks would then be those of a part that nobody asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_profile
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.learned import Expected, KnownBend
from flatgen.core.schedule import Crease, Schedule
from flatgen.core.shop import Shop
from flatgen.definition.bends import MEASURE_IT, NOT_MEASURED
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.metal.allowance import Measured
from flatgen.metal.metals import Metal
from flatgen.strips.learning.lessons import Lessons, kind_of, lessons_of
from flatgen.strips.learning.per_bend import PASSES, made_fast, made_fast_in, of_bends, settled, unsettled

FROM_STRIPS = "that of the strips"
Wishes = tuple[str, Mapping[str, int] | None, Sequence[str] | None]
"""Set-ups, legs to hold by label, order of bending."""
Reread = Callable[[Mapping[str, Measured]], Profile]


@dataclass(frozen=True)
class Told:
    """What strips told of a part: the ``shop`` to plan with, ``bends`` by label, and what is to be said.

    ``fast``: set-ups whose nose setting is that of the strips; ``allowances`` by label, of bends like those of strips.
    """

    shop: Shop
    lessons: Lessons
    bends: Mapping[str, KnownBend]
    findings: tuple[Finding, ...]
    fast: frozenset[str]
    allowances: Mapping[str, Measured]

    def known(self, creases: Sequence[Crease]) -> list[Crease]:
        """Creases with what strips told of them [mm]."""
        return [replace(c, known=self.bends.get(c.label)) for c in creases]

    def finished(self, schedule: Schedule) -> Schedule:
        """A schedule that says where its nose setting is from [mm]."""
        fast = schedule.setup.name in self.fast
        return replace(schedule, setting_from=FROM_STRIPS if fast else schedule.setting_from)


@dataclass(frozen=True)
class Taught(Told):
    """A definition with what strips told: the ``profile`` is developed with measured allowances."""

    profile: Profile

    def finished(self, schedule: Schedule) -> Schedule:
        """A schedule with how the part will come out [mm]."""
        from flatgen.strips.learning.forecast import expected_of

        if not self.lessons.readings:
            return schedule
        counted = self.lessons.counted({kind_of(self.profile, b) for b in self.profile.bends})
        found: Expected | None = expected_of(self.profile, schedule, self.lessons.learned, counted)
        return replace(super().finished(schedule), expected=found)


def taught(
    path: Path,
    profile: Profile,
    metals: Mapping[str, Metal],
    shop: Shop | None,
    set_up: str = "",
    held: Mapping[str, int] | None = None,
    order: Sequence[str] | None = None,
) -> Taught | None:
    """A definition with what strips told of its bends; None where there is no strip.

    Parameters
    ----------
    path : Path
        The definition, [-]
    profile : Profile
        As it was read with no strip known, or for the radii that the brake gives, [mm]
    metals : Mapping[str, Metal]
        Metals in force, [-]
    shop : Shop | None
        The shop, [mm]
    set_up : str
        Set-ups to use, [-]
    held : Mapping[str, int] | None
        Legs to hold, by label, [-]
    order : Sequence[str] | None
        Order of bending by labels, [-]

    Returns
    -------
    Taught | None
        The part developed with measured allowances, [mm]

    Raises
    ------
    InputRefused
        FG024 where a definition asks for what no strip told
    """
    lessons = lessons_of(shop, metals)
    kinds = set() if lessons is None else lessons.kinds()
    require_told(profile, [b.label for b in profile.bends if kind_of(profile, b) in kinds])
    if lessons is None or shop is None or not profile.bends:
        return None
    plain = {b.label: b.inside_radius for b in read_profile(path, metals, known={}).bends}
    radii = {b.label: b.inside_radius for b in profile.bends if b.inside_radius != plain[b.label]}

    def reread(known: Mapping[str, Measured]) -> Profile:
        return read_profile(path, metals, radii, known)

    return _turned(profile, reread, replace(shop, learned=lessons.digest), lessons, (set_up, held, order))


def _turned(profile: Profile, reread: Reread, shop: Shop, lessons: Lessons, wishes: Wishes) -> Taught:
    """Plan and develop in turn until set-ups and nose settings stay."""
    now, bends, planned, found = profile, dict[str, KnownBend](), shop, dict[str, Measured]()
    told: list[Finding] = []
    for turn in range(PASSES + 1):
        creases = [replace(c, known=bends.get(c.label)) for c in creases_of_profile(now, develop(now))]
        schedule = make_schedule(now, creases, planned, *wishes)
        if turn and settled(schedule, bends):
            break
        if turn == PASSES:
            told.append(unsettled(profile, schedule))
            break
        if not turn:
            planned = made_fast(profile, schedule, shop, lessons)
        bends, found, told = of_bends(profile, schedule, planned, lessons)
        now = reread(found)
    kept = tuple(f for f in profile.findings if f not in now.findings and f.code == "FG132")
    now = replace(now, fingerprint=profile.fingerprint, findings=(*now.findings, *kept))
    return Taught(planned, lessons, bends, (*told, *lessons.findings), made_fast_in(shop, planned), found, now)


def require_told(profile: Profile, told: Sequence[str]) -> None:
    """Refuse bends whose allowance is asked of strips that told nothing of them.

    Parameters
    ----------
    profile : Profile
        The definition, [mm]
    told : Sequence[str]
        Labels of the bends that strips told of, [-]

    Raises
    ------
    InputRefused
        FG024, for each
    """
    lacking = [b for b in profile.bends if b.by == "asked" and b.label not in told]
    faults = [Fault("FG024", b.where, NOT_MEASURED.format(label=b.label), MEASURE_IT) for b in lacking]
    if faults:
        raise InputRefused(*faults)
