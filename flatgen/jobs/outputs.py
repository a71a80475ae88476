"""The files of a drawn part: which are written, and the bytes of each, all from the same few documents."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.files import write_all
from flatgen.jobs.result import KINDS, SHEETS, USUAL, AnyMade, Made, Options, no_shop

if TYPE_CHECKING:
    from flatgen.paper.drawing.facts import Notes
    from flatgen.paper.shop_sheet.sheet import Told

Files = dict[str, bytes]
"""Bytes by the end of a file's name, behind the name of the part."""


def write(drawn: AnyMade, folder: Path, options: Options, more: Files | None = None) -> AnyMade:
    """Write the chosen files of a drawn part; JSON last, as it lists them all.

    :param more: files that are written with them, by the end of their names
    """
    options = replace(options, kinds=_kinds(drawn, options))
    made: Files = {}
    for kinds, contents in WRITERS:
        wanted = {k for k in options.kinds if k in kinds}
        if wanted:
            made |= contents(drawn, options, wanted)
    order = list(KINDS.values())
    ends = sorted(made, key=lambda end: (order.index(_of_all(end)), end))
    names = {end: f"{drawn.part.name}.{end}" for end in ends}
    names |= {end: f"{drawn.part.name}.{end}" for end in more or {}}
    made |= more or {}
    if "json" in options.kinds:
        names["json"] = f"{drawn.part.name}.json"
    done = replace(drawn, files=tuple(folder / n for n in names.values()))
    if "json" in names:
        made["json"] = (json.dumps(done.record(), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
    write_all(folder, {name: made[end] for end, name in names.items()})
    return done


def _of_all(end: str) -> str:
    """The end of the names of all pages."""
    head, _, tail = end.rpartition(".")
    name, _, number = head.partition("-")
    return f"{name}.{tail}" if number.isdigit() else end


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


def _flat(drawn: Made, options: Options, wanted: set[str]) -> Files:
    """DXF as asked for; pictures always from a drawing in mm, which is what they are scaled by."""
    from flatgen.paper.drawing.document import flat_document
    from flatgen.paper.drawing.recording import recorded
    from flatgen.paper.drawing.writers import dxf_bytes, png_bytes, svg_text

    def document_of(version: str = "R2010", inches: bool = False) -> Any:
        return flat_document(drawn.flat, notes_for(drawn, options, inches), version=version, inches=inches)

    made: Files = {}
    plain = options.version == "R2010" and not options.inches
    document = document_of()
    if "dxf" in wanted:
        own = document if plain else document_of(options.version, options.inches)
        made[KINDS["dxf"]] = dxf_bytes(own)
    if wanted & {"svg", "png"}:
        document = recorded(document)
    if "svg" in wanted:
        made[KINDS["svg"]] = svg_text(document).encode()
    if "png" in wanted:
        made[KINDS["png"]] = png_bytes(document)
    return made


def _cut(drawn: Made, options: Options, wanted: set[str]) -> Files:
    from flatgen.paper.drawing.document import flat_document
    from flatgen.paper.drawing.writers import dxf_bytes

    notes = notes_for(drawn, options, options.inches)
    cut = flat_document(drawn.flat, notes, version=options.version, inches=options.inches, cut_only=True)
    return {KINDS["cut"]: dxf_bytes(cut)}


def _bench(drawn: Made, options: Options, wanted: set[str]) -> Files:
    if drawn.schedule is None:
        return {}
    from flatgen.paper.drawing.bench import bench_document
    from flatgen.paper.drawing.writers import dxf_bytes

    shown = (drawn.part, drawn.flat, drawn.schedule, drawn.findings)
    marks = options.on_paper.marks
    return {
        KINDS["bench"]: dxf_bytes(bench_document(*shown, version=options.version, inches=options.inches, marks=marks))
    }


def _formed(drawn: Made, options: Options, wanted: set[str]) -> Files:
    return {KINDS["step"]: drawn.step()}


def _layout(drawn: Made, options: Options, wanted: set[str]) -> Files:
    """Templates at true scale."""
    from flatgen.paper.templates.template import layout_pdf, layout_plt

    shown, how = (drawn.part, drawn.flat, drawn.schedule, drawn.findings), options.on_paper
    made: Files = {}
    if "layout" in wanted:
        made[KINDS["layout"]] = layout_pdf(
            *shown, paper=how.paper, inches=options.inches, printer_scale=how.printer_scale, faces=how.faces
        )
    if "plotter" in wanted:
        made[KINDS["plotter"]] = layout_plt(*shown, plotter_width=how.plotter_width, inches=options.inches)
    return made


def told_of(drawn: Made) -> Told:
    """What the shop sheet tells of a part.

    :returns: with its views and the pictures of its stages
    """
    from flatgen.jobs.record import mass
    from flatgen.paper.shop_sheet.sheet import Told
    from flatgen.paper.stage_pictures.pictures import pictures

    shown: tuple[Any, ...] = ()
    if drawn.schedule is not None and drawn.decision is not None:
        shown = pictures(drawn.part, drawn.schedule, drawn.decision)
    known = (drawn.part, drawn.flat, drawn.schedule, drawn.findings, drawn.watched, drawn.projected())
    return Told(*known, pictures=shown, mass=mass(drawn.part, drawn.flat.area))


def _sheet(drawn: Made, options: Options, wanted: set[str]) -> Files:
    """The shop sheet: pages of one document."""
    from flatgen.paper.drawing.recording import recorded
    from flatgen.paper.drawing.writers import PdfPage, dxf_bytes, pdf_bytes, png_pages, svg_window
    from flatgen.paper.pages.pages import sheet_document, window
    from flatgen.paper.shop_sheet import sheet as assembled

    how = options.on_paper
    unit: Any = "mm" if not options.inches else "in/64" if how.fractions else "in"
    paper = how.of_the_sheet
    pages = assembled.sheet_pages(told_of(drawn), assembled.Manner(paper, how.projection, unit))
    windows = [window(n, paper) for n in range(len(pages))]
    made: Files = {}
    if "sheet-dxf" in wanted:
        made[KINDS["sheet-dxf"]] = dxf_bytes(sheet_document(pages, paper, version=options.version))
    if wanted == {"sheet-dxf"}:
        return made
    shown = recorded(sheet_document(pages, paper))
    if "sheet-svg" in wanted:
        made |= _numbered("sheet-svg", [svg_window(shown, w).encode() for w in windows])
    if wanted & {"sheet", "sheet-png"}:
        pdf = pdf_bytes([PdfPage(shown, w, w[2] - w[0], w[3] - w[1]) for w in windows], drawn.part.name)
        if "sheet" in wanted:
            made[KINDS["sheet"]] = pdf
        if "sheet-png" in wanted:
            made |= _numbered("sheet-png", png_pages(pdf))
    return made


def _numbered(kind: str, pages: list[bytes]) -> Files:
    return {KINDS[kind].replace(".", f"-{n}."): page for n, page in enumerate(pages, start=1)}


def notes_for(drawn: Made, options: Options, inches: bool) -> Notes:
    """Text of the flat: of what the brake says only the cautions, the bench drawing has it all."""
    from flatgen.paper.drawing.facts import notes_of

    told, bench = drawn.findings, None
    if drawn.schedule is not None:
        told = tuple(f for f in told if f.severity == "caution" or f not in drawn.schedule.findings)
        bench = f"{drawn.part.name}.{KINDS['bench']}" if "bench" in options.kinds else ""
    return notes_of(
        drawn.part, drawn.flat, told, drawn.watched.rows, inches=inches, bench=bench, schedule=drawn.schedule
    )


Writer = Callable[[Made, Options, set[str]], Files]
WRITERS: tuple[tuple[frozenset[str], Writer], ...] = (
    (frozenset({"dxf", "svg", "png"}), _flat),
    (frozenset({"cut"}), _cut),
    (frozenset({"bench"}), _bench),
    (frozenset({"step"}), _formed),
    (frozenset({"layout", "plotter"}), _layout),
    (SHEETS, _sheet),
)
"""Which kinds are made together, and by what."""
