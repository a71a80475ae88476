"""The road from a profile to its bend schedule on a brake, by arithmetic alone: no solid, no drawing.

definition -> closed form -> creases -> schedule
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from flatgen.brake.creases import creases_of_profile
from flatgen.brake.machine import Shop
from flatgen.brake.plan import make_schedule
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.brake.schedule import Schedule
from flatgen.errors import Fault, Finding, InputRefused
from flatgen.job import no_shop, no_solid
from flatgen.metal.metals import Metal
from flatgen.profile.closed_form import develop
from flatgen.profile.model import Profile
from flatgen.profile.reader import read_profile
from flatgen.re_formed import as_formed

NO_LEG = -1


@dataclass(frozen=True)
class Planned:
    """A profile with its schedule, and the findings of both."""

    profile: Profile
    schedule: Schedule
    findings: tuple[Finding, ...]

    @property
    def exit_status(self) -> int:
        """1 where a shop rule is broken, else 0."""
        return int(any(f.severity == "caution" for f in self.findings))


def shop_for(beside: Path, named: Path | None) -> Shop:
    """The shop that is named, else the one found beside a file or above it.

    Raises
    ------
    InputRefused
        FG034 for none, FG032 and others where it cannot be used.
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
) -> Planned:
    """Plan the bends of a profile.

    Parameters
    ----------
    path : Path
        The definition, [-]
    metals : Mapping[str, Metal]
        Metals in force, [-]
    named : Path | None
        Shop file; found beside the profile or above it where it is left out, [-]
    set_up : str
        Its name; the first where it is empty, [-]
    hold : str
        Sides to hold, such as ``A=web,B=2``, [-]
    order : str
        Order of bending, such as ``B,A``, [-]
    re_formed : bool
        With the inside radii that the brake gives in place of those asked for, [-]

    Returns
    -------
    Planned
        The schedule, sizes in [mm]

    Raises
    ------
    InputRefused
        Whatever cannot be used: FG001 to FG034.
    """
    with no_solid(path):
        profile = read_profile(path, dict(metals))
    shop = shop_for(path, named)
    asked = tuple(n.strip() for n in order.split(",")) if order.strip() else None
    held = held_of(hold, profile)
    if re_formed:
        profile, shop = as_formed(path, profile, metals, shop, set_up, held, asked)
    made = make_schedule(profile, creases_of_profile(profile, develop(profile)), shop, set_up, held, asked)
    return Planned(profile, made, tuple(dict.fromkeys((*profile.findings, *made.findings))))


def held_of(text: str, profile: Profile) -> dict[str, int]:
    """Legs to hold by label of the bend, from a text such as ``A=web,B=2``.

    Parameters
    ----------
    text : str
        Bends, each with a leg by name or by number from 1, [-]
    profile : Profile
        Whose legs are meant, [-]

    Returns
    -------
    dict[str, int]
        Index of a leg, -1 where there is none of that name, [-]

    Raises
    ------
    InputRefused
        FG005 where it cannot be read.
    """
    found: dict[str, int] = {}
    for item in (i.strip() for i in text.split(",")):
        if not item:
            continue
        label, sign, name = (part.strip() for part in item.rpartition("="))
        if not sign or not label or not name or label in found:
            said = f"{item[:40]!r} does not say once which leg a bend is held by"
            raise InputRefused(Fault("FG005", "--hold", said, "write for example --hold A=web,B=2"))
        found[label] = _leg(name, label, profile)
    return found


def _leg(name: str, label: str, profile: Profile) -> int:
    """The leg of a name, or else of a number; of several of one name that beside the bend."""
    count = len(profile.legs)
    beside = [n for b in profile.bends if b.label == label for n in (b.first, b.second)]
    alike: list[int] = [n for n in (*beside, *range(count)) if profile.legs[n].name == name]
    if alike:
        return alike[0]
    return int(name) - 1 if name.isascii() and name.isdigit() and 1 <= int(name) <= count else NO_LEG
