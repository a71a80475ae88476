"""The files of a drawn part: which are written, and the bytes of each, all from the same few documents."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.files import write_all
from flatgen.jobs.kinds import KINDS, SHEETS, USUAL
from flatgen.jobs.result import AnyResult, Options, Result, no_shop

if TYPE_CHECKING:
    from flatgen.paper.drawing.facts import Notes
    from flatgen.paper.shop_sheet.sheet import SheetContent

Files = dict[str, bytes]
"""Bytes by the end of a file's name, behind the name of the part."""


def write(result: AnyResult, folder: Path, options: Options, more: Files | None = None) -> AnyResult:
    """Write the chosen files of a drawn part; JSON last, as it lists them all.

    :param more: files that are written with them, by the end of their names
    """
    options = replace(options, kinds=_kinds(result, options))
    files: Files = {}
    for kinds, contents in WRITERS:
        wanted = {k for k in options.kinds if k in kinds}
        if wanted:
            files |= contents(result, options, wanted)
    order = list(KINDS.values())
    ends = sorted(files, key=lambda end: (order.index(_of_all(end)), end))
    names = {end: f"{result.part.name}.{end}" for end in ends}
    names |= {end: f"{result.part.name}.{end}" for end in more or {}}
    files |= more or {}
    if "json" in options.kinds:
        names["json"] = f"{result.part.name}.json"
    done = replace(result, files=tuple(folder / n for n in names.values()))
    if "json" in names:
        files["json"] = (json.dumps(done.record(), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
    write_all(folder, {name: files[end] for end, name in names.items()})
    return done


def _of_all(end: str) -> str:
    """The end of the names of all pages."""
    head, _, tail = end.rpartition(".")
    name, _, number = head.partition("-")
    return f"{name}.{tail}" if number.isdigit() else end


def _kinds(result: Result, options: Options) -> tuple[str, ...]:
    """What is written: the bench drawing too where a brake is known and the usual kinds are asked for."""
    kinds = options.kinds
    if result.schedule is not None:
        return (*kinds, "bench") if set(USUAL) <= set(kinds) and "bench" not in kinds else kinds
    if "bench" not in kinds:
        return kinds
    if not result.flat.bends:
        raise InputRefused(Fault("FG033", result.part.name, "it has no bend: there is no line for a bench drawing"))
    raise InputRefused(no_shop(result.part.name))


def _flat(result: Result, options: Options, wanted: set[str]) -> Files:
    """DXF as asked for; pictures always from a drawing in mm, which is what they are scaled by."""
    from flatgen.paper.drawing.document import flat_document
    from flatgen.paper.drawing.recording import record_drawing
    from flatgen.paper.drawing.writers import dxf_bytes, png_bytes, svg_text

    def document_of(version: str = "R2010", inches: bool = False) -> Any:
        return flat_document(result.flat, notes_for(result, options, inches), version=version, inches=inches)

    files: Files = {}
    plain = options.version == "R2010" and not options.inches
    document = document_of()
    if "dxf" in wanted:
        own = document if plain else document_of(options.version, options.inches)
        files[KINDS["dxf"]] = dxf_bytes(own)
    if wanted & {"svg", "png"}:
        document = record_drawing(document)
    if "svg" in wanted:
        files[KINDS["svg"]] = svg_text(document).encode()
    if "png" in wanted:
        files[KINDS["png"]] = png_bytes(document)
    return files


def _cut(result: Result, options: Options, wanted: set[str]) -> Files:
    from flatgen.paper.drawing.document import flat_document
    from flatgen.paper.drawing.writers import dxf_bytes

    notes = notes_for(result, options, options.inches)
    cut = flat_document(result.flat, notes, version=options.version, inches=options.inches, cut_only=True)
    return {KINDS["cut"]: dxf_bytes(cut)}


def _bench(result: Result, options: Options, wanted: set[str]) -> Files:
    if result.schedule is None:
        return {}
    from flatgen.paper.drawing.bench import bench_document
    from flatgen.paper.drawing.writers import dxf_bytes

    shown = (result.part, result.flat, result.schedule, result.findings)
    marks = options.on_paper.marks
    return {
        KINDS["bench"]: dxf_bytes(bench_document(*shown, version=options.version, inches=options.inches, marks=marks))
    }


def _formed(result: Result, options: Options, wanted: set[str]) -> Files:
    return {KINDS["step"]: result.step()}


def _layout(result: Result, options: Options, wanted: set[str]) -> Files:
    """Templates at true scale."""
    from flatgen.paper.templates.template import template_pdf, template_plt

    shown, how = (result.part, result.flat, result.schedule, result.findings), options.on_paper
    files: Files = {}
    if "layout" in wanted:
        files[KINDS["layout"]] = template_pdf(
            *shown, paper=how.paper, inches=options.inches, printer_scale=how.printer_scale, faces=how.faces
        )
    if "plotter" in wanted:
        files[KINDS["plotter"]] = template_plt(*shown, plotter_width=how.plotter_width, inches=options.inches)
    return files


def sheet_content(result: Result) -> SheetContent:
    """What the shop sheet tells of a part.

    :returns: with its views and the pictures of its stages
    """
    from flatgen.jobs.record import mass
    from flatgen.paper.shop_sheet.sheet import SheetContent
    from flatgen.paper.stage_pictures.pictures import stage_pictures

    shown: tuple[Any, ...] = ()
    if result.schedule is not None and result.decision is not None:
        shown = stage_pictures(result.part, result.schedule, result.decision)
    known = (result.part, result.flat, result.schedule, result.findings, result.openings, result.projected())
    return SheetContent(*known, pictures=shown, mass=mass(result.part, result.flat.area))


def _sheet(result: Result, options: Options, wanted: set[str]) -> Files:
    """The shop sheet: pages of one document."""
    from flatgen.paper.drawing.recording import record_drawing
    from flatgen.paper.drawing.writers import PdfPage, dxf_bytes, pdf_bytes, png_pages, svg_window
    from flatgen.paper.pages.pages import page_window, sheet_document
    from flatgen.paper.shop_sheet import sheet as assembled

    how = options.on_paper
    unit: Any = "mm" if not options.inches else "in/64" if how.fractions else "in"
    paper = how.of_the_sheet
    pages = assembled.sheet_pages(sheet_content(result), assembled.SheetStyle(paper, how.projection, unit))
    windows = [page_window(n, paper) for n in range(len(pages))]
    files: Files = {}
    if "sheet-dxf" in wanted:
        files[KINDS["sheet-dxf"]] = dxf_bytes(sheet_document(pages, paper, version=options.version))
    if wanted == {"sheet-dxf"}:
        return files
    shown = record_drawing(sheet_document(pages, paper))
    if "sheet-svg" in wanted:
        files |= _numbered("sheet-svg", [svg_window(shown, w).encode() for w in windows])
    if wanted & {"sheet", "sheet-png"}:
        pdf = pdf_bytes([PdfPage(shown, w, w[2] - w[0], w[3] - w[1]) for w in windows], result.part.name)
        if "sheet" in wanted:
            files[KINDS["sheet"]] = pdf
        if "sheet-png" in wanted:
            files |= _numbered("sheet-png", png_pages(pdf))
    return files


def _numbered(kind: str, pages: list[bytes]) -> Files:
    return {KINDS[kind].replace(".", f"-{n}."): page for n, page in enumerate(pages, start=1)}


def notes_for(result: Result, options: Options, inches: bool) -> Notes:
    """Text of the flat: of what the brake says only the cautions, the bench drawing has it all."""
    from flatgen.paper.drawing.facts import flat_notes

    findings, bench = result.findings, None
    if result.schedule is not None:
        findings = tuple(f for f in findings if f.severity == "caution" or f not in result.schedule.findings)
        bench = f"{result.part.name}.{KINDS['bench']}" if "bench" in options.kinds else ""
    return flat_notes(
        result.part, result.flat, findings, result.openings.rows, inches=inches, bench=bench, schedule=result.schedule
    )


Writer = Callable[[Result, Options, set[str]], Files]
WRITERS: tuple[tuple[frozenset[str], Writer], ...] = (
    (frozenset({"dxf", "svg", "png"}), _flat),
    (frozenset({"cut"}), _cut),
    (frozenset({"bench"}), _bench),
    (frozenset({"step"}), _formed),
    (frozenset({"layout", "plotter"}), _layout),
    (SHEETS, _sheet),
)
"""Which kinds are made together, and by what."""
