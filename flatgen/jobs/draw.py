"""The road from a profile to its drawings, for the command line and for ``import flatgen`` alike.

    definition -> formed solid -> flat pattern, checked -> drawing -> files

Parts that come as solids join it at the flat pattern (``incoming``).

No mathematics of its own beyond asking whether the two roads to a flat agree.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from flatgen.bend_order.changes import helped
from flatgen.bend_order.plan import held_of, make_plan, order_of, setups_of
from flatgen.brake.creases import creases_of_flat
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.memory import uncollected
from flatgen.core.schedule import Schedule
from flatgen.core.shop import Shop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.definition.solid.counterparts import OpeningHome
from flatgen.jobs import record
from flatgen.jobs.outputs import write
from flatgen.jobs.result import AnyMade, Made, Options, no_shop
from flatgen.metal.metals import Metal, load_metals
from flatgen.openings.judge import watch_flat
from flatgen.strips.learning.apply import Told, taught, told_of_received

__all__ = ["Drawn", "Made", "Options", "Unfolded", "draw", "metals_beside", "no_solid", "unfolded", "with_schedule"]


@dataclass(frozen=True)
class Drawn(Made):
    """A definition that was drawn, with its solid and where its openings are."""

    profile: Profile = field(kw_only=True)
    solid: Any = field(kw_only=True)
    homes: tuple[OpeningHome, ...] = field(default=(), kw_only=True)

    @property
    def part(self) -> Profile:
        """The definition."""
        return self.profile

    def step(self) -> bytes:
        """The formed part as STEP, made from its solid."""
        from flatgen.definition.solid.step import step_text

        return step_text(self.solid, self.profile.name).encode("ascii", errors="replace")

    def projected(self) -> Any:
        """Views of its solid."""
        from flatgen.definition.solid.projection import projected

        return projected(self.solid, self.flat)

    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""
        files = tuple(f.as_posix() for f in self.files)
        return record.drawn(self.profile, self.flat, self.watched, self.findings, files, self.schedule)


def metals_beside(path: Path, extra: tuple[Path, ...] = ()) -> tuple[dict[str, Metal], tuple[Path, ...]]:
    """The metals in force for a profile, and the tables of the user's own that they come from.

    A ``metals.toml`` beside the profile is used; tables named by the user come after it.
    """
    beside = path.parent / "metals.toml"
    own = tuple(dict.fromkeys([*([beside] if beside.is_file() else []), *extra]))
    return load_metals(*own), own


@dataclass(frozen=True)
class Unfolded:
    """A definition's flat and formed solid, where its openings are in the flat, and what is to be said of these."""

    flat: FlatPattern
    solid: Any
    homes: tuple[OpeningHome, ...]
    findings: tuple[Finding, ...] = ()


def unfolded(profile: Profile) -> Unfolded:
    """The flat pattern of a definition by way of its formed solid.

    :raises InputRefused: FG022, FG041 to FG043: legs that meet when formed, openings or cuts that cannot be, or a flat
        that cannot.
    :raises IdentityFailed: FG900 to FG904: two computations of one number disagree.
    """
    from flatgen.definition.solid.counterparts import (
        clipped_findings,
        cut_findings,
        named,
        opening_homes,
        require_agreement,
        rule_of,
        view_of,
    )
    from flatgen.definition.solid.cutting import build
    from flatgen.definition.solid.places import overlap_findings
    from flatgen.openings.findings import face_findings
    from flatgen.paper.drawing.text import lettering
    from flatgen.unfolding import unfold

    lettering()  # before cadquery brings ezdxf, which would search the machine for fonts
    solid, found = build(profile)
    view = view_of(solid, found)
    flat = named(unfold(solid, rule_of(profile, found), thickness=profile.thickness, view=view), profile, found)
    homes = opening_homes(flat, profile, found)
    require_agreement(profile, flat, found, homes)
    told = clipped_findings(profile, flat, homes) + cut_findings(profile, found)
    told += overlap_findings(profile, found) + face_findings(flat)
    return Unfolded(flat, solid, homes, told)


def draw(
    path: Path | str,
    out: Path | str | None = None,
    options: Options | None = None,
    metals: Mapping[str, Metal] | None = None,
) -> Drawn:
    """Read a profile, develop it, check it, and write its drawings.

    :param out: folder to write into; ``out/NAME`` where it is left out
    :param options: what to write; the usual four files where it is left out
    :param metals: metals in force; those of the package and of a ``metals.toml`` beside the profile by default
    :raises InputRefused, IdentityFailed: Nothing was written.

    ``flatgen.draw("profiles/roof-rail.toml").flat.width``
    """
    path = Path(path)
    if metals is None:
        metals, _ = metals_beside(path)
    with uncollected():
        return _drawn(path, out, options or Options(), metals)


@contextmanager
def no_solid(path: Path) -> Iterator[None]:
    """While a definition is read: where the file turns out to be STEP, it is said what takes it."""
    try:
        yield
    except InputRefused as error:
        if not is_step(path):
            raise
        text = "it is a STEP file, not a profile definition (TOML)"
        raise InputRefused(Fault("FG002", str(path), text, f"unfold it: flatgen unfold {path}")) from error


def is_step(path: Path) -> bool:
    """Whether a file begins as STEP does.

    :returns: false too where it cannot be read
    """
    try:
        if not path.is_file():
            return False
        with path.open("rb") as stream:
            return stream.read(1000).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"ISO-10303-21")
    except (OSError, ValueError):
        return False


def _drawn(path: Path, out: Path | str | None, options: Options, metals: Mapping[str, Metal]) -> Drawn:
    with no_solid(path):
        profile = read_profile(path, dict(metals), known={})
    found = options.shop or find_shop(path.parent)
    shop = None if found is None else read_shop(found)
    if shop is None and (options.as_formed or options.set_up or options.hold or options.order):
        raise InputRefused(no_shop(str(path)))
    held, order = held_of(options.hold, profile) if shop else {}, order_of(options.order) if shop else None
    if shop is not None and options.as_formed:
        from flatgen.jobs.as_formed import as_formed

        profile, shop = as_formed(path, profile, metals, shop, options.set_up, held, order)
    known = taught(path, profile, metals, shop, options.set_up, held, order)
    if known is not None:
        profile, shop = known.profile, known.shop
    made = unfolded(profile)
    folder = Path(out) if out is not None else Path("out") / profile.name
    watched = watch_flat(profile, made.flat, made.homes)
    findings = profile.findings + (known.findings if known else ()) + made.findings + watched.findings
    drawn = Drawn(made.flat, findings, profile=profile, solid=made.solid, homes=made.homes, watched=watched)
    return write(with_schedule(drawn, shop, options, known), folder, options)


def with_schedule(drawn: AnyMade, shop: Shop | None, options: Options, known: Told | None = None) -> AnyMade:
    """A part with its bend schedule on a brake, whose findings become its own; FG033 for a set-up that is not there."""
    if shop is None:
        return drawn
    setups_of(shop, options.set_up)
    if not drawn.flat.bends:
        return drawn
    creases = creases_of_flat(drawn.part, drawn.flat)
    held, order = held_of(options.hold, drawn.part), order_of(options.order)
    findings = drawn.findings
    if known is None and drawn.part.source is not None:
        known = told_of_received(drawn.part, creases, shop, (options.set_up, held, order))
        findings += () if known is None else known.findings
    if known is not None:
        creases, shop = tuple(known.known(creases)), known.shop
    made = make_plan(drawn.part, creases, shop, options.set_up, held, order)
    schedule = helped(drawn.part, made.schedule, made.decision)
    schedule = schedule if known is None else known.finished(schedule)
    findings = tuple(dict.fromkeys((*findings, *schedule.findings)))
    return replace(
        drawn, flat=numbered(drawn.flat, schedule), schedule=schedule, decision=made.decision, findings=findings
    )


def numbered(flat: FlatPattern, schedule: Schedule) -> FlatPattern:
    """A flat whose bends carry their order, where it was checked against a brake."""
    if not schedule.checked:
        return flat
    order = {stage.crease.label: stage.number for stage in schedule.stages}
    return replace(flat, bends=tuple(replace(b, order=order[b.label]) for b in flat.bends))
