"""The road from a profile to its drawings, for the command line and for ``import flatgen`` alike.

    definition -> formed solid -> flat pattern, checked -> drawing -> files

Parts that come as solids join it at the flat pattern (``incoming``).

No mathematics of its own beyond asking whether the two roads to a flat agree.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from flatgen.bend_order.changes import add_changes
from flatgen.bend_order.plan import formed_radii, make_plan, make_schedule, parse_held, parse_order, setups_of
from flatgen.brake.creases import creases_of_flat, creases_of_profile
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.garbage_collection import gc_paused
from flatgen.core.schedule import Schedule
from flatgen.core.shop import Shop
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.definition.solid.counterparts import OpeningInFlat
from flatgen.jobs import record
from flatgen.jobs.outputs import write
from flatgen.jobs.result import AnyResult, Options, Result, no_shop
from flatgen.metal.metals import Metal, load_metals
from flatgen.openings.judge import judge_flat
from flatgen.strips.learning.apply import Corrections, corrections_for, corrections_for_received


@dataclass(frozen=True)
class DefinitionResult(Result):
    """A definition that was drawn, with its solid and where its openings are."""

    profile: Profile = field(kw_only=True)
    solid: Any = field(kw_only=True)
    homes: tuple[OpeningInFlat, ...] = field(default=(), kw_only=True)

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
        from flatgen.definition.solid.projection import project_views

        return project_views(self.solid, self.flat)

    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""
        files = tuple(f.as_posix() for f in self.files)
        return record.definition_record(self.profile, self.flat, self.openings, self.findings, files, self.schedule)


def metals_beside(path: Path, extra: tuple[Path, ...] = ()) -> tuple[dict[str, Metal], tuple[Path, ...]]:
    """The metals in force for a profile, and the tables of the user's own that they come from.

    A ``metals.toml`` beside the profile is used; tables named by the user come after it.
    """
    beside = path.parent / "metals.toml"
    own = tuple(dict.fromkeys([*([beside] if beside.is_file() else []), *extra]))
    return load_metals(*own), own


@dataclass(frozen=True)
class Development:
    """A definition's flat and formed solid, where its openings are in the flat, and what is to be said of these."""

    flat: FlatPattern
    solid: Any
    homes: tuple[OpeningInFlat, ...]
    findings: tuple[Finding, ...] = ()


def develop_solid(profile: Profile) -> Development:
    """The flat pattern of a definition by way of its formed solid.

    :raises InputRefused: FG022, FG041 to FG043: legs that meet when formed, openings or cuts that cannot be, or a flat
        that cannot.
    :raises IdentityFailed: FG900 to FG904: two computations of one number disagree.
    """
    from flatgen.definition.solid.counterparts import (
        allowance_rule,
        attach_names,
        clipped_findings,
        cut_findings,
        definition_view,
        openings_in_flat,
        require_agreement,
    )
    from flatgen.definition.solid.cutting import build_solid
    from flatgen.definition.solid.places import overlap_findings
    from flatgen.openings.findings import face_findings
    from flatgen.paper.drawing.text import load_fonts
    from flatgen.unfolding import unfold

    load_fonts()  # before cadquery brings ezdxf, which would search the machine for fonts
    solid, section = build_solid(profile)
    view = definition_view(solid, section)
    flat = attach_names(
        unfold(solid, allowance_rule(profile, section), thickness=profile.thickness, view=view), profile, section
    )
    homes = openings_in_flat(flat, profile, section)
    require_agreement(profile, flat, section, homes)
    findings = clipped_findings(profile, flat, homes) + cut_findings(profile, section)
    findings += overlap_findings(profile, section) + face_findings(flat)
    return Development(flat, solid, homes, findings)


def draw(
    path: Path | str,
    out: Path | str | None = None,
    options: Options | None = None,
    metals: Mapping[str, Metal] | None = None,
) -> DefinitionResult:
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
    with gc_paused():
        return _drawn(path, out, options or Options(), metals)


@contextmanager
def refuse_step(path: Path) -> Iterator[None]:
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


def _drawn(path: Path, out: Path | str | None, options: Options, metals: Mapping[str, Metal]) -> DefinitionResult:
    with refuse_step(path):
        profile = read_profile(path, dict(metals), known={})
    shop_file = options.shop or find_shop(path.parent)
    shop = None if shop_file is None else read_shop(shop_file)
    if shop is None and (options.as_formed or options.set_up or options.hold or options.order):
        raise InputRefused(no_shop(str(path)))
    held, order = parse_held(options.hold, profile) if shop else {}, parse_order(options.order) if shop else None
    if shop is not None and options.as_formed:
        profile, shop = as_formed(path, profile, metals, shop, options.set_up, held, order)
    known = corrections_for(path, profile, metals, shop, options.set_up, held, order)
    if known is not None:
        profile, shop = known.profile, known.shop
    development = develop_solid(profile)
    folder = Path(out) if out is not None else Path("out") / profile.name
    openings = judge_flat(profile, development.flat, development.homes)
    findings = profile.findings + (known.findings if known else ()) + development.findings + openings.findings
    result = DefinitionResult(
        development.flat, findings, profile=profile, solid=development.solid, homes=development.homes, openings=openings
    )
    return write(with_schedule(result, shop, options, known), folder, options)


def with_schedule(
    result: AnyResult, shop: Shop | None, options: Options, known: Corrections | None = None
) -> AnyResult:
    """A part with its bend schedule on a brake, whose findings become its own; FG033 for a set-up that is not there."""
    if shop is None:
        return result
    setups_of(shop, options.set_up)
    if not result.flat.bends:
        return result
    creases = creases_of_flat(result.part, result.flat)
    held, order = parse_held(options.hold, result.part), parse_order(options.order)
    findings = result.findings
    if known is None and result.part.source is not None:
        known = corrections_for_received(result.part, creases, shop, (options.set_up, held, order))
        findings += () if known is None else known.findings
    if known is not None:
        creases, shop = tuple(known.correct_creases(creases)), known.shop
    plan = make_plan(result.part, creases, shop, options.set_up, held, order)
    schedule = add_changes(result.part, plan.schedule, plan.decision)
    schedule = schedule if known is None else known.complete(schedule)
    findings = tuple(dict.fromkeys((*findings, *schedule.findings)))
    return replace(
        result, flat=with_order(result.flat, schedule), schedule=schedule, decision=plan.decision, findings=findings
    )


def with_order(flat: FlatPattern, schedule: Schedule) -> FlatPattern:
    """A flat whose bends carry their order, where it was checked against a brake."""
    if not schedule.checked:
        return flat
    order = {stage.crease.label: stage.number for stage in schedule.stages}
    return replace(flat, bends=tuple(replace(b, order=order[b.label]) for b in flat.bends))


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
