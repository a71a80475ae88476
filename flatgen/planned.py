"""The road to a bend schedule: which shop, which legs to hold, which order, and the part's creases.

definition -> closed form -> creases -> schedule          (``plan``, no solid)
any flat -> creases -> schedule                           (``draw``, ``unfold``)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from flatgen.brake.as_formed import formed_radii
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.brake.machine import Shop
from flatgen.brake.plan import make_schedule
from flatgen.brake.read_shop import find_shop, read_shop, setup_named
from flatgen.brake.schedule import Crease, Schedule
from flatgen.errors import Fault, Finding, InputRefused
from flatgen.flat import FlatPattern
from flatgen.metal.metals import Metal
from flatgen.part import Part
from flatgen.profile.closed_form import Closed, develop
from flatgen.profile.model import Profile
from flatgen.profile.reader import read_profile


@dataclass(frozen=True)
class Bench:
    """What is asked of a brake: shop file (None: the one beside the part or above), set-up, sides to hold, order.

    ``hold`` pairs labels of bends with legs as the user writes them; ``as_formed`` asks for the flat with the inside
    radii that the brake gives.
    """

    shop: Path | None = None
    setup: str = ""
    hold: tuple[tuple[str, str], ...] = ()
    order: tuple[str, ...] | None = None
    as_formed: bool = False

    @property
    def asks(self) -> bool:
        """Whether anything is asked that needs a brake."""
        return bool(self.shop or self.setup or self.hold or self.order is not None or self.as_formed)


@dataclass(frozen=True)
class Planned:
    """A definition with its bend schedule."""

    profile: Profile
    closed: Closed
    schedule: Schedule

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of the part and of the brake."""
        return self.profile.findings + self.schedule.findings


def shop_for(path: Path, bench: Bench) -> Shop | None:
    """The shop of a part: the one named, else ``shop.toml`` beside the part or above it.

    Parameters
    ----------
    path : Path
        File of the part, [-]
    bench : Bench
        What is asked, [-]

    Returns
    -------
    Shop | None
        None where none was found and nothing is asked that needs one, [mm]

    Raises
    ------
    InputRefused
        If it cannot be used, or none was found (FG034) and one is needed
    """
    found = bench.shop or find_shop(path.parent)
    if found is not None:
        return read_shop(found)
    if bench.asks:
        raise no_shop(path)
    return None


def no_shop(path: Path) -> InputRefused:
    """The refusal where a brake is needed and none is known.

    Parameters
    ----------
    path : Path
        File of the part, [-]

    Returns
    -------
    InputRefused
        FG034, [-]
    """
    text = f"no shop.toml stands beside it or in a folder above, so no brake is known to bend {path.name} on"
    return InputRefused(Fault("FG034", str(path), text, "write one with: flatgen start --shop, or name it with --shop"))


def planned(path: Path, metals: Mapping[str, Metal], bench: Bench) -> Planned:
    """Read a definition and plan its bends, by arithmetic alone.

    Parameters
    ----------
    path : Path
        The definition, [-]
    metals : Mapping[str, Metal]
        Metals in force, [-]
    bench : Bench
        What is asked of the brake, [-]

    Returns
    -------
    Planned
        The part with its schedule, [mm]

    Raises
    ------
    InputRefused
        Whatever is wrong with part, shop file or what is asked
    """
    profile = read_profile(path, metals)
    shop = shop_for(path, bench)
    if shop is None:
        raise no_shop(path)
    if bench.as_formed:
        profile, shop = as_formed(path, profile, metals, bench, shop)
    closed = develop(profile)
    schedule = _schedule(profile, creases_of_profile(profile, closed), shop, bench)
    return Planned(profile, closed, _unseen(profile, schedule))


def as_formed(
    path: Path, profile: Profile, metals: Mapping[str, Metal], bench: Bench, shop: Shop
) -> tuple[Profile, Shop]:
    """The part with the inside radii that the brake gives, and the shop with the job's nose setting made fast.

    Parameters
    ----------
    path : Path
        The definition, [-]
    profile : Profile
        As it asks, [mm]
    metals : Mapping[str, Metal]
        Metals in force, [-]
    bench : Bench
        What is asked of the brake, [-]
    shop : Shop
        The brake, [mm]

    Returns
    -------
    tuple[Profile, Shop]
        Both, [mm]
    """
    creases = creases_of_profile(profile, develop(profile))
    asked = _schedule(profile, creases, shop, bench)
    radii = formed_radii(profile, creases, shop, bench.setup, hold_of(profile, bench), bench.order)
    own = replace(asked.setup, setting=asked.setting)
    fast = replace(shop, setups=tuple(own if s.name == own.name else s for s in shop.setups))
    formed = read_profile(path, metals, radii)
    told = [
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
    return replace(formed, findings=(*formed.findings, *told)), fast


def schedule_of_flat(part: Part, flat: FlatPattern, shop: Shop, bench: Bench) -> Schedule:
    """The schedule of a part from its flat.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    shop : Shop
        The brake, [mm]
    bench : Bench
        What is asked of it, [-]

    Returns
    -------
    Schedule
        Its stages, [mm]
    """
    return _schedule(part, creases_of_flat(part, flat), shop, bench)


def _schedule(part: Part, creases: tuple[Crease, ...], shop: Shop, bench: Bench) -> Schedule:
    setup_named(shop, bench.setup or shop.setups[0].name)
    return make_schedule(part, creases, shop, bench.setup, hold_of(part, bench), bench.order)


def _unseen(profile: Profile, schedule: Schedule) -> Schedule:
    """Where cuts were made in the formed part, arithmetic sees the whole section."""
    if not profile.cuts:
        return schedule
    text = "lengths along the bends and flats are those of the section without its cuts"
    note = Finding("FG138", "note", profile.path, text, "flatgen draw plans from the flat itself")
    return replace(schedule, findings=(*schedule.findings, note))


def hold_of(part: Part, bench: Bench) -> dict[str, int]:
    """Legs to hold, by label of the bend, from what the user wrote.

    Parameters
    ----------
    part : Part
        The part, [-]
    bench : Bench
        What is asked, [-]

    Returns
    -------
    dict[str, int]
        Indices of legs, [-]

    Raises
    ------
    InputRefused
        FG033: a bend, or a leg beside it, that is not there
    """
    found: dict[str, int] = {}
    for label, leg in bench.hold:
        bend = next((b for b in part.bends if b.label == label), None)
        if bend is None:
            known = ", ".join(b.label for b in part.bends) or "none"
            raise InputRefused(Fault("FG033", "--hold", f"no bend is called {label!r}", f"labels are {known}"))
        beside = [n for n in (bend.first, bend.second) if leg in (str(n + 1), part.leg_name(n) or "")]
        if len(beside) != 1:
            legs = " and ".join(f"{n + 1} ({part.leg_text(n)})" for n in (bend.first, bend.second))
            text = f"{leg!r} is not one leg beside bend {label}"
            raise InputRefused(Fault("FG033", "--hold", text, f"beside it are {legs}"))
        found[label] = beside[0]
    return found


def bench_of(shop: Path | None, setup: str, hold: str, order: str, as_formed: bool) -> Bench:
    """What is asked of a brake, from the options of a command.

    Parameters
    ----------
    shop : Path | None
        File named, [-]
    setup : str
        Set-up named, [-]
    hold : str
        As ``A=web,B=2``, [-]
    order : str
        As ``B,A``, [-]
    as_formed : bool
        Whether the flat is asked for with the radii that the brake gives, [-]

    Returns
    -------
    Bench
        The same, read, [-]

    Raises
    ------
    InputRefused
        FG033: not written as bend=leg
    """
    pairs = []
    for item in (i.strip() for i in hold.split(",") if i.strip()):
        label, mark, leg = (p.strip() for p in item.partition("="))
        if not (label and mark and leg):
            text = f"{item!r} is not a bend and a leg"
            raise InputRefused(
                Fault("FG033", "--hold", text, "write for example A=web,B=2 (name of a leg or its number)")
            )
        pairs.append((label, leg))
    named = tuple(n.strip() for n in order.split(",") if n.strip())
    return Bench(shop, setup.strip(), tuple(pairs), named or None, as_formed)
