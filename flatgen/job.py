"""The road from a profile to its drawings, for the command line and for ``import flatgen`` alike.

    definition -> formed solid -> flat pattern, checked -> drawing -> files

Parts that come as solids join it at the flat pattern (``incoming``).

No mathematics of its own beyond asking whether the two roads to a flat agree.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from flatgen import record
from flatgen.brake.creases import creases_of_flat
from flatgen.brake.machine import Shop
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.brake.schedule import Schedule
from flatgen.errors import Fault, Finding, InputRefused
from flatgen.files import write_all
from flatgen.flat import FlatPattern
from flatgen.memory import uncollected
from flatgen.metal.metals import Metal, load_metals
from flatgen.order.helped import helped
from flatgen.order.plan import make_plan, setups_of
from flatgen.order.wishes import held_of, order_of
from flatgen.part import Part
from flatgen.profile.counterparts import OpeningHome
from flatgen.profile.model import Profile
from flatgen.profile.reader import read_profile
from flatgen.watched import Watched, watch_flat

if TYPE_CHECKING:
    from flatgen.drawing.notes import Notes

KINDS = {
    "dxf": "flat.dxf",
    "cut": "cut.dxf",
    "bench": "bench.dxf",
    "step": "formed.step",
    "svg": "flat.svg",
    "png": "flat.png",
    "json": "json",
}
"""What can be written, and the end of each file's name."""
AnyMade = TypeVar("AnyMade", bound="Made")
USUAL = ("dxf", "step", "svg", "json")
"""What is written unless asked otherwise, and ``bench`` where a brake is known."""


@dataclass(frozen=True)
class Options:
    """What to write and how: kinds of ``KINDS``, the DXF's version, its unit; the shop file if named, the set-up.

    ``hold`` (``A=web,B=2``) and ``order`` (``B,A``) go before what a definition says. ``as_formed`` draws the flat for
    the inside radii that the brake gives.
    """

    kinds: tuple[str, ...] = USUAL
    version: str = "R2010"
    inches: bool = False
    shop: Path | None = None
    set_up: str = ""
    hold: str = ""
    order: str = ""
    as_formed: bool = False


@dataclass(frozen=True)
class Made(ABC):
    """A part that was drawn, whatever it came from: its flat, its openings, and the files written.

    ``schedule`` is None where no brake is known, or there is nothing to bend.
    """

    flat: FlatPattern
    findings: tuple[Finding, ...]
    files: tuple[Path, ...] = field(default=(), kw_only=True)
    watched: Watched = field(default_factory=Watched, kw_only=True)
    schedule: Schedule | None = field(default=None, kw_only=True)

    @property
    @abstractmethod
    def part(self) -> Part:
        """What the answer and the drawings ask of it."""

    @property
    def exit_status(self) -> int:
        """1 where a shop rule is broken, else 0."""
        return int(any(f.severity == "caution" for f in self.findings))

    @abstractmethod
    def step(self) -> bytes:
        """The formed part as STEP."""

    @abstractmethod
    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""


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
        from flatgen.profile.solid import step_text

        return step_text(self.solid, self.profile.name).encode("ascii", errors="replace")

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

    Raises
    ------
    InputRefused
        FG022, FG041 to FG043: legs that meet when formed, openings or cuts that cannot be, or a flat that cannot.
    IdentityFailed
        FG900 to FG904: two computations of one number disagree.
    """
    from flatgen.drawing.typeface import lettering
    from flatgen.profile.agreement import require_agreement
    from flatgen.profile.places import overlap_findings
    from flatgen.profile.solid import build, named, opening_homes, rule_of, view_of
    from flatgen.profile.taking import clipped_findings, cut_findings
    from flatgen.unfolding import unfold
    from flatgen.watch.faces import face_findings

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

    Parameters
    ----------
    path : the profile definition
    out : folder to write into; ``out/NAME`` where it is left out
    options : what to write; the usual four files where it is left out
    metals : metals in force; those of the package and of a ``metals.toml`` beside the profile by default

    Raises
    ------
    InputRefused, IdentityFailed
        Nothing was written.

    Examples
    --------
    ``flatgen.draw("profiles/roof-rail.toml").flat.width``
    """
    path = Path(path)
    if metals is None:
        metals, _ = metals_beside(path)
    with uncollected():
        return _drawn(path, out, options or Options(), metals)


@contextmanager
def no_solid(path: Path) -> Iterator[None]:
    """While a definition is read: where the file turns out to be STEP, it is said what takes it.

    Parameters
    ----------
    path : Path
        The file, [-]
    """
    try:
        yield
    except InputRefused as error:
        if not _is_step(path):
            raise
        text = "it is a STEP file, not a profile definition (TOML)"
        raise InputRefused(Fault("FG002", str(path), text, f"unfold it: flatgen unfold {path}")) from error


def _is_step(path: Path) -> bool:
    """Whether a file begins as STEP does."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as stream:
            return stream.read(1000).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"ISO-10303-21")
    except (OSError, ValueError):
        return False


def _drawn(path: Path, out: Path | str | None, options: Options, metals: Mapping[str, Metal]) -> Drawn:
    with no_solid(path):
        profile = read_profile(path, dict(metals))
    found = options.shop or find_shop(path.parent)
    shop = None if found is None else read_shop(found)
    if shop is None and (options.as_formed or options.set_up or options.hold or options.order):
        raise InputRefused(no_shop(str(path)))
    if shop is not None and options.as_formed:
        from flatgen.re_formed import as_formed

        held, order = held_of(options.hold, profile), order_of(options.order)
        profile, shop = as_formed(path, profile, metals, shop, options.set_up, held, order)
    made = unfolded(profile)
    folder = Path(out) if out is not None else Path("out") / profile.name
    watched = watch_flat(profile, made.flat, made.homes)
    findings = profile.findings + made.findings + watched.findings
    drawn = Drawn(made.flat, findings, profile=profile, solid=made.solid, homes=made.homes, watched=watched)
    return write(with_schedule(drawn, shop, options), folder, options)


def with_schedule(drawn: AnyMade, shop: Shop | None, options: Options) -> AnyMade:
    """A part with its bend schedule on a brake, whose findings become its own; FG033 for a set-up that is not there."""
    if shop is None:
        return drawn
    setups_of(shop, options.set_up)
    if not drawn.flat.bends:
        return drawn
    creases = creases_of_flat(drawn.part, drawn.flat)
    held, order = held_of(options.hold, drawn.part), order_of(options.order)
    made = make_plan(drawn.part, creases, shop, options.set_up, held, order)
    schedule = helped(drawn.part, made.schedule, made.decision)
    findings = tuple(dict.fromkeys((*drawn.findings, *schedule.findings)))
    return replace(drawn, flat=_numbered(drawn.flat, schedule), schedule=schedule, findings=findings)


def _numbered(flat: FlatPattern, schedule: Schedule) -> FlatPattern:
    """A flat whose bends carry their order, where it was checked against a brake."""
    if not schedule.checked:
        return flat
    order = {stage.crease.label: stage.number for stage in schedule.stages}
    return replace(flat, bends=tuple(replace(b, order=order[b.label]) for b in flat.bends))


def write(drawn: AnyMade, folder: Path, options: Options) -> AnyMade:
    """Write the chosen files of a drawn part; JSON last, as it lists them all."""
    kinds = _kinds(drawn, options)
    options = replace(options, kinds=kinds)
    names = {kind: f"{drawn.part.name}.{KINDS[kind]}" for kind in KINDS if kind in kinds}
    done = replace(drawn, files=tuple(folder / n for n in names.values()))
    contents = _contents(done, options)
    write_all(folder, {names[kind]: contents[kind] for kind in names})
    return done


def _kinds(drawn: Made, options: Options) -> tuple[str, ...]:
    """What is written: the bench drawing too where a brake is known and the usual kinds are asked for."""
    kinds = options.kinds
    if drawn.schedule is not None:
        return (*kinds, "bench") if set(USUAL) <= set(kinds) and "bench" not in kinds else kinds
    if "bench" not in kinds:
        return kinds
    if not drawn.flat.bends:
        raise InputRefused(Fault("FG033", drawn.part.name, "it has no bend: there is no line for a bench drawing"))
    raise InputRefused(no_shop(drawn.part.name))


def no_shop(where: str) -> Fault:
    """That a shop file is needed and there is none."""
    remedy = "write one with flatgen start --shop and put your brake's measures in, or name it with --shop FILE"
    return Fault("FG034", where, "no shop.toml was found beside it or above", remedy)


def _contents(drawn: Made, options: Options) -> dict[str, bytes]:
    """The bytes of each chosen kind."""
    wanted = set(options.kinds)
    made: dict[str, bytes] = {}
    if wanted & {"dxf", "svg", "png"}:
        made |= _drawings(drawn, options, wanted)
    if "cut" in wanted:
        from flatgen.drawing.document import flat_document
        from flatgen.drawing.write import dxf_bytes

        notes = _notes(drawn, options, options.inches)
        cut = flat_document(drawn.flat, notes, version=options.version, inches=options.inches, cut_only=True)
        made["cut"] = dxf_bytes(cut)
    if "bench" in wanted and drawn.schedule is not None:
        from flatgen.drawing.bench import bench_document
        from flatgen.drawing.write import dxf_bytes

        shown = (drawn.part, drawn.flat, drawn.schedule, drawn.findings)
        made["bench"] = dxf_bytes(bench_document(*shown, version=options.version, inches=options.inches))
    if "step" in wanted:
        made["step"] = drawn.step()
    if "json" in wanted:
        text = json.dumps(drawn.record(), ensure_ascii=False, indent=1, allow_nan=False)
        made["json"] = (text + "\n").encode()
    return made


def _drawings(drawn: Made, options: Options, wanted: set[str]) -> dict[str, bytes]:
    """DXF as asked for; pictures always from a drawing in mm, which is what they are scaled by."""
    from flatgen.drawing.document import flat_document
    from flatgen.drawing.write import dxf_bytes, png_bytes, svg_text

    def document_of(version: str = "R2010", inches: bool = False) -> Any:
        return flat_document(drawn.flat, _notes(drawn, options, inches), version=version, inches=inches)

    made: dict[str, bytes] = {}
    plain = options.version == "R2010" and not options.inches
    document = document_of()
    if "dxf" in wanted:
        own = document if plain else document_of(options.version, options.inches)
        made["dxf"] = dxf_bytes(own)
    if "svg" in wanted:
        made["svg"] = svg_text(document).encode()
    if "png" in wanted:
        made["png"] = png_bytes(document)
    return made


def _notes(drawn: Made, options: Options, inches: bool) -> Notes:
    """Text of the flat: of what the brake says only the cautions, the bench drawing has it all."""
    from flatgen.drawing.facts import notes_of

    told, bench = drawn.findings, None
    if drawn.schedule is not None:
        told = tuple(f for f in told if f.severity == "caution" or f not in drawn.schedule.findings)
        bench = f"{drawn.part.name}.{KINDS['bench']}" if "bench" in options.kinds else ""
    return notes_of(
        drawn.part, drawn.flat, told, drawn.watched.rows, inches=inches, bench=bench, schedule=drawn.schedule
    )


def kinds_of(text: str) -> tuple[str, ...]:
    """Kinds from a list such as ``dxf,step``.

    Raises
    ------
    InputRefused
        FG005 where one is not known.
    """
    names = [n.strip().lower() for n in text.split(",") if n.strip()]
    wrong = [n for n in names if n not in KINDS]
    if wrong or not names:
        said = f"unknown kind of file {wrong[0]!r}" if wrong else "no kind of file is named"
        raise InputRefused(Fault("FG005", "--only", said, f"choose among {', '.join(KINDS)}"))
    return tuple(dict.fromkeys(names))
