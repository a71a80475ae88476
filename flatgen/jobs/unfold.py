"""The road from a file of solids to drawings, and from a solid in memory to its flat.

    STEP file -> flat patterns, checked, in a process of their own -> drawings -> files

Nothing here imports the kernel but :func:`unfold`, which is for solids that are in this process already.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Protocol

from flatgen.brake.read_shop import SHOP_FILE, read_shop
from flatgen.core.errors import Fault, Finding, FlatgenError, IdentityFailed, InputRefused
from flatgen.core.files import LONGEST_NAME, NotAName, safe_name
from flatgen.core.flat_pattern import Bend, FlatPattern
from flatgen.core.garbage_collection import gc_paused
from flatgen.definition.part import Source
from flatgen.jobs import record
from flatgen.jobs.draw import with_schedule
from flatgen.jobs.outputs import write
from flatgen.jobs.result import Options, Result, no_shop
from flatgen.metal.allowance import Allowance
from flatgen.metal.bend_rule import allowance_of, rule_for
from flatgen.metal.metals import Metal
from flatgen.openings.judge import judge_part
from flatgen.strips.learning.apply import measured_allowances
from flatgen.unfolding.received.part import ReceivedPart, received_part
from flatgen.unfolding.received.request import (
    ReceivedSolid,
    Request,
    read_k,
    read_metal,
    read_near,
    read_radius,
    read_switch,
)

MOST_SET_ASIDE = 8
"""Solids set aside that are named in one finding."""
NO_SHEET = "FG040"
LONGEST_PRODUCT = 40
"""Characters of a product's name that file names have."""


class Receiver(Protocol):
    """Who takes files in: ``received.keeper.Keeper``, or a stand-in."""

    def receive(self, path: Path, request: Request) -> Sequence[ReceivedSolid]:
        """The solids of a file, unfolded or refused."""
        ...


@dataclass(frozen=True)
class ReceivedResult(Result):
    """A received part that was drawn; ``formed`` is the STEP of its solid, ``views`` show it."""

    received: ReceivedPart = field(kw_only=True)
    formed: bytes = field(kw_only=True)
    views: Any = field(default=None, kw_only=True, repr=False)

    @property
    def part(self) -> ReceivedPart:
        """The part."""
        return self.received

    @property
    def name(self) -> str:
        """Of its files."""
        return self.received.name

    def step(self) -> bytes:
        """The formed part as it was unfolded."""
        return self.formed

    def projected(self) -> Any:
        """Its views as the process sent them that had its solid; None where it had none."""
        return self.views

    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""
        files = tuple(f.as_posix() for f in self.files)
        return record.received_record(self.received, self.flat, self.openings, self.findings, files, self.schedule)


@dataclass(frozen=True)
class RefusedSolid:
    """A solid that is a sheet and cannot be unfolded, by the name that its files would have."""

    name: str
    error: FlatgenError


def keeper() -> AbstractContextManager[Receiver]:
    """Who takes files in, with the process that does the work; it ends with the context."""
    from flatgen.unfolding.received.keeper import Keeper

    return Keeper()


def receive(
    path: Path, request: Request, receiver: Receiver, options: Options | None = None
) -> tuple[ReceivedResult | RefusedSolid, ...]:
    """The sheets of a STEP file, in the order of the file, not written yet.

    :param request: how it is to be unfolded, radius in
    :param options: with them the strips of the shop are asked, named or beside the file, and where they tell of its
        bends all is unfolded once more with their allowances
    :returns: solids that are no sheet are left out if there is at least one that is: FG125 names them
    :raises InputRefused: FG050, FG051 and so on for the file as a whole; FG040 with all reasons where no solid is a
        sheet.
    """
    parts_as_read = _received(path, request, receiver)
    file = None if options is None or request.k is not None else _shop_file(options, path.parent)
    if file is None or options is None:
        return parts_as_read
    parts = [(t.received, t.flat) for t in parts_as_read if isinstance(t, ReceivedResult)]
    allowances = measured_allowances(parts, read_shop(file), options.set_up, options.hold, options.order)
    return _received(path, replace(request, strip_allowances=allowances), receiver) if allowances else parts_as_read


def _shop_file(options: Options, beside: Path | None) -> Path | None:
    own = beside / SHOP_FILE if beside is not None and (beside / SHOP_FILE).is_file() else None
    return options.shop or own


def _received(path: Path, request: Request, receiver: Receiver) -> tuple[ReceivedResult | RefusedSolid, ...]:
    solids = receiver.receive(path, request)
    digest = _digest(path)
    sources = [_source(path, digest, r, len(solids), request) for r in solids]
    aside = [(r, s) for r, s in zip(solids, sources, strict=True) if _is_no_sheet(r)]
    if len(aside) == len(solids):
        raise InputRefused(*(f for r, s in aside for f in _placed_faults(r, s)))
    notes = _set_aside(path, aside)
    results: list[ReceivedResult | RefusedSolid] = []
    for one, source in zip(solids, sources, strict=True):
        name = _name(path, one, len(solids))
        if one.flat is not None:
            results.append(_result(name, one, one.flat, source, request, notes))
        elif not _is_no_sheet(one):
            error = IdentityFailed if one.exit_status == 3 else InputRefused
            results.append(RefusedSolid(name, error(*_placed_faults(one, source))))
    return tuple(results)


def draw_received(result: ReceivedResult, folder: Path, options: Options, beside: Path | None = None) -> ReceivedResult:
    """Write the drawings of a received part, whole or not at all.

    :param taken: from :func:`receive`
    :param options: what to write, and the shop file where one is named
    :param beside: folder where a shop file is looked for
    :returns: with its files and, where a brake is known, its schedule
    """
    shop_file = _shop_file(options, beside)
    if shop_file is None and (options.set_up or options.hold or options.order):
        raise InputRefused(no_shop(result.received.source.where))
    with gc_paused():
        shop = None if shop_file is None else read_shop(shop_file)
        return write(with_schedule(result, shop, options), folder, options)


def unfold(
    part: Any,
    *,
    k: float | None = None,
    metal: str | Metal | None = None,
    near: str | int = "auto",
    inside_radius: float | str | None = None,
    skip_formed: bool = False,
) -> FlatPattern:
    """The flat pattern of a formed sheet-metal part that is in memory, checked against it.

    :param part: one solid: a CadQuery Workplane, Shape, Compound or Assembly, or a kernel shape
    :param k: place of the neutral fibre from the inside face, as a share of the thickness; wins over the metal
    :param metal: A metal of ``flatgen metals``; its default method gives the allowances
    :param near: where the near face looks: ``auto``, ``+x`` to ``-z``, or the number of a face
    :param inside_radius: what corners modelled without a radius will be bent to: a number, or a text with its unit [mm]
    :param skip_formed: unfold around stretched forms and mark their outline
    :raises InputRefused: FG040 to FG046 where it is not one sheet that can be developed, FG052 without metal and K,
        FG005, FG010 to FG012, FG024, FG030 for what cannot be asked.
    :raises IdentityFailed: FG901 to FG904: flat and solid disagree, a bug.
    :raises TypeError: Where the part is neither a CadQuery object nor a kernel shape.

    ``flatgen.unfold(workplane, k=0.42).width``
    """
    flat: FlatPattern = _formed(part, _request(metal, k, near, inside_radius, skip_formed)).flat
    return flat


@dataclass(frozen=True)
class FlatWithFindings:
    """The flat of a part in memory, and the findings that the command would print of it."""

    flat: FlatPattern
    findings: tuple[Finding, ...]


def unfold_told(
    part: Any,
    *,
    k: float | None = None,
    metal: str | Metal | None = None,
    near: str | int = "auto",
    inside_radius: float | str | None = None,
    skip_formed: bool = False,
) -> FlatWithFindings:
    """As :func:`unfold`, with what is told of the part: notes and cautions (FG1..).

    :param part, k, metal, near, inside_radius, skip_formed: as of :func:`unfold`, radius in
    :returns: ``flat`` [mm] and ``findings``
    :raises InputRefused, IdentityFailed, TypeError: As :func:`unfold`.

    ``[finding.text for finding in flatgen.unfold_told(workplane, metal="5052-H32").findings]``
    """
    unfolded = _formed(part, request := _request(metal, k, near, inside_radius, skip_formed))
    one = ReceivedSolid(1, "", flat=unfolded.flat, findings=unfolded.findings)
    result = _result("part", one, unfolded.flat, _source(Path("the object"), "", one, 1, request), request, ())
    return FlatWithFindings(unfolded.flat, result.findings)


def _request(metal: Any, k: Any, near: Any, inside_radius: Any, skip_formed: Any) -> Request:
    side = read_near(str(near), "near")
    return Request(read_metal(metal), read_k(k), side, read_radius(inside_radius), read_switch(skip_formed), step=False)


def _formed(part: Any, request: Request) -> Any:
    """A part in memory, unfolded."""
    from flatgen.unfolding.formed import FormedOptions, unfold_formed

    rule = rule_for(request.metal, request.k)
    return unfold_formed(
        _one_solid(part), rule, FormedOptions(request.near, request.inside_radius, request.skip_formed)
    )


def _one_solid(part: Any) -> Any:
    """The only solid of a CadQuery object or a kernel shape."""
    import sys

    if "cadquery" not in sys.modules:
        from flatgen.paper.drawing.text import load_fonts

        load_fonts()  # before cadquery brings ezdxf, which would search the machine for fonts
    import cadquery as cq
    from OCP.TopoDS import TopoDS_Shape

    shapes: list[Any]
    if isinstance(part, cq.Assembly):
        shapes = [part.toCompound()]
    elif isinstance(part, cq.Workplane):
        shapes = [s for s in part.vals() if isinstance(s, cq.Shape)]
        if not any(s.Solids() for s in shapes):
            shapes = [s for s in part.all() for s in _behind(s)]
    elif isinstance(part, TopoDS_Shape):
        shapes = [cq.Shape.cast(part)]
    elif isinstance(part, cq.Shape):
        shapes = [part]
    else:
        raise TypeError(f"a CadQuery object or a kernel shape is needed, not {type(part).__name__}")
    solids = {solid.hashCode(): solid for shape in shapes for solid in shape.Solids()}
    if len(solids) == 1:
        return next(iter(solids.values()))
    remedy = (
        "unfold them one by one, for example: for solid in shape.Solids(): flatgen.unfold(solid, k=0.42)"
        if solids
        else "pass a solid: surfaces have to be sewn and closed first"
    )
    count = len(solids) or "no"
    raise InputRefused(Fault(NO_SHEET, "the object", f"it holds {count} solids where one is needed", remedy))


def _behind(workplane: Any) -> list[Any]:
    """The solid that a selection of faces or edges was made on, if there is one."""
    try:
        return [workplane.findSolid()]
    except ValueError:
        return []


def _digest(path: Path) -> str:
    """SHA-256 of a file, which may be large."""
    import hashlib

    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputRefused(Fault("FG001", _path_text(path), f"cannot be read: {reason}", "check the path")) from error


def _path_text(path: Path) -> str:
    """A path as text that can be written anywhere."""
    return path.as_posix().encode("utf-8", "backslashreplace").decode()


def _source(path: Path, digest: str, one: ReceivedSolid, solids: int, request: Request) -> Source:
    options: dict[str, str | float | bool | None] = {
        "metal": request.metal.name if request.metal else None,
        "k": request.k,
        "near": request.near,
        "inside_radius": request.inside_radius,
        "skip_formed": request.skip_formed,
    }
    return Source(_path_text(path), digest, one.number, solids, one.name, one.count, tuple(options.items()))


def _is_no_sheet(one: ReceivedSolid) -> bool:
    return one.flat is None and any(f.code == NO_SHEET for f in one.faults)


def _placed_faults(one: ReceivedSolid, source: Source) -> Iterable[Fault]:
    """Faults with the file, and the solid where there are several."""
    for fault in one.faults:
        where = fault.where.replace("\\", "/").removeprefix(source.file).removeprefix(":").strip()
        tail = f": {where}" if where and where != "the solid" else ""
        yield replace(fault, where=source.where + tail)


def _set_aside(path: Path, aside: list[tuple[ReceivedSolid, Source]]) -> tuple[Finding, ...]:
    """One note that names the solids which are no sheet."""
    if not aside:
        return ()
    names = [f'"{r.name}"' if r.name else f"solid {r.number}" for r, _ in aside]
    names = [
        name + (f" (placed {r.count} times)" if r.count > 1 else "") for name, (r, _) in zip(names, aside, strict=True)
    ]
    more = f" and {len(names) - MOST_SET_ASIDE} more" if len(names) > MOST_SET_ASIDE else ""
    why = next(f.text for f in aside[0][0].faults if f.code == NO_SHEET)
    text = f"no sheet, set aside: {', '.join(names[:MOST_SET_ASIDE])}{more} ({why[:200]})"
    return (
        Finding("FG125", "note", _path_text(path), text, "nothing has to be done if they are no sheet-metal parts"),
    )


def _result(
    name: str, one: ReceivedSolid, flat: FlatPattern, source: Source, request: Request, notes: tuple[Finding, ...]
) -> ReceivedResult:
    from flatgen.openings.findings import face_findings

    allowances = [_allowance(b, request, flat.thickness) for b in flat.bends]
    part = received_part(name, flat, allowances, request.metal, request.k, source)
    openings = judge_part(part, flat)
    own = (*one.findings, *face_findings(flat), *notes)
    findings = tuple(dict.fromkeys((*part.findings, *own, *openings.findings)))
    return ReceivedResult(flat, findings, openings=openings, received=part, formed=one.step, views=one.views)


def _allowance(bend: Bend, request: Request, thickness: float) -> Allowance:
    """The allowance as it was unfolded with, and what the method says of it."""
    measured = next(
        (t for t in request.strip_allowances if t.applies_to(thickness, bend.inside_radius, bend.angle)), None
    )
    if measured is not None:
        return Allowance(bend.allowance, bend.k, measured.method, measured.source)
    allowance = allowance_of(request.metal, request.k, thickness, bend.inside_radius, bend.angle)
    return replace(allowance, length=bend.allowance, k=bend.k, method=bend.method)


def _name(path: Path, one: ReceivedSolid, solids: int) -> str:
    """Name of a part's files: that of its file; of several solids with the number and the product's name."""
    if solids == 1:
        return _safe(path.stem, "part")
    number, product = f"-{one.number}", _plain(one.name)
    tail = f"{number}-{product}" if product else number
    return _safe(_safe(path.stem, "part")[: LONGEST_NAME - len(tail)] + tail, f"part{number}")


def _plain(product: str) -> str:
    """A product's name in letters that every system and terminal has, perhaps none."""
    import unicodedata

    letters = unicodedata.normalize("NFKD", product).encode("ascii", "ignore").decode()
    return re.sub("[^A-Za-z0-9_.]+", "-", letters).strip("-_.")[:LONGEST_PRODUCT].strip("-_.")


def _safe(text: str, fallback: str) -> str:
    """A file name close to a text that a stranger wrote."""
    plain = "".join(c if c.isprintable() and c not in '/\\:*?"<>|' else "-" for c in text)
    plain = " ".join(plain.split()).lstrip("-. ")
    short = plain[:LONGEST_NAME]
    while len(short.encode("utf-8", "surrogatepass")) > 2 * LONGEST_NAME:
        short = short[:-1]
    for candidate in (short.rstrip(". "), f"part-{short}"[:LONGEST_NAME].rstrip(". ")):
        try:
            return safe_name(candidate)
        except NotAName:
            continue
    return fallback
