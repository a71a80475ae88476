"""Templates at true scale: the blank with its lines, as a PDF of sheets of paper, or as a plot (HPGL/2).

labels beyond the blank -> paper, turned or not, fewest sheets -> joints, register marks -> labels on each sheet
-> one drawing per face, one of all furniture -> windows of them on pages
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Face, Schedule
from flatgen.definition.part import Part
from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import LETTERS, PRINTER_SCALES, Ink, Paper, ink_document
from flatgen.paper.drawing.text import Box
from flatgen.paper.drawing.words import length
from flatgen.paper.templates import furniture, words
from flatgen.paper.templates.furniture import BARS, PENS, TemplateRequest
from flatgen.paper.templates.layout import (
    DraftFace,
    FaceSheets,
    SheetPlacement,
    blank_extent,
    draft_face,
    extent_of,
    finish_face,
    place_on_sheets,
    sheet_sizes,
)
from flatgen.paper.templates.lines import FAR_LAYERS, subject
from flatgen.paper.templates.tiles import MARK, Frame, Tile, Tiling, add_marks, mirror

if TYPE_CHECKING:
    from flatgen.paper.drawing.writers import PdfPage

ROUNDS = 3
"""How often labels without room beside joints are put outside, and the sheets chosen again."""


@dataclass(frozen=True)
class Template:
    """A template on its paper; ``furniture``: what all sheets have in common, then each sheet's own."""

    frame: Frame
    faces: tuple[FaceSheets, ...]
    furniture: tuple[Ink, ...]

    @property
    def pitch(self) -> float:
        """From sheet to sheet in the document of all furniture [mm]."""
        return self.frame.wide + 20.0

    def furniture_document(self) -> Any:
        """All furniture side by side in one ezdxf document."""
        ink = Ink()
        for n, own in enumerate(self.furniture):
            ink.add(own, n * self.pitch, 0.0)
        return ink_document(ink, PENS, self.frame.wide, self.frame.tall, solids=BARS)


def template_pdf(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    findings: tuple[Finding, ...],
    *,
    paper: Paper,
    inches: bool = False,
    printer_scale: tuple[float, float] = (100.0, 100.0),
    faces: tuple[Face, ...] = ("near",),
) -> bytes:
    """The template of a part as a PDF.

    :param schedule: None where no brake is known
    :param inches: sizes in inches before those in millimetres
    :param printer_scale: what the printer makes of 100, along the narrow side of the paper (across a roll) and along
        the other
    :raises InputRefused: FG005: a printer's scale that is no printer's
    """
    from flatgen.paper.drawing.writers import pdf_bytes

    check_scale(printer_scale)
    template = lay_out_template(part, flat, schedule, findings, paper=paper, inches=inches, faces=faces)
    return pdf_bytes(template_pages(template, printer_scale), words.TITLE.format(name=part.name))


def check_scale(printer_scale: tuple[float, float]) -> None:
    """Refuse a scale that no printer has: what it makes of 100 in x and y.

    :raises InputRefused: FG005
    """
    for axis, scale in zip("xy", printer_scale, strict=True):
        least, most = PRINTER_SCALES
        if not least <= scale <= most:
            text = f"a printer that makes {scale:g} of 100 in {axis} is not between {least:g} and {most:g}"
            remedy = "print the template at 100 %, measure its bars of 100 mm, and give what they measure"
            raise InputRefused(Fault("FG005", "--printer-scale", text, remedy))


def lay_out_template(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    findings: tuple[Finding, ...],
    *,
    paper: Paper,
    inches: bool = False,
    faces: tuple[Face, ...] = ("near",),
) -> Template:
    """Lay a template out on its paper.

    :param schedule: None where no brake is known
    :param findings: not used; they stand on the shop sheet
    :param inches: sizes in inches before those in millimetres
    :param faces: to draw; a far one without lines is dropped beside the near one
    """
    all_lines = subject(part, flat, schedule)
    if "near" in faces and all(line.layer not in FAR_LAYERS for line in all_lines.lines):
        faces = ("near",)
    request = TemplateRequest(part, flat, schedule, paper, inches, faces, all_lines.off)
    way, drafts = _fewest_sheets(request)
    sheets = _finish_faces(request, way, drafts)
    for _ in range(ROUNDS):
        lost = [face.lost for face in sheets]
        if not any(lost) or all(set(some) <= set(d.outside) for some, d in zip(lost, drafts, strict=True)):
            break
        drafts = tuple(
            draft_face(request, d.face, turned=way.turned, more=(*d.outside, *some))
            for d, some in zip(drafts, lost, strict=True)
        )
        way = _best_placement(request, drafts, way.turned)
        sheets = _finish_faces(request, way, drafts)
    if any(face.lost for face in sheets):
        names = dict.fromkeys(face.scene.subject.lines[n].bend.label for face in sheets for n in face.lost)
        way = _best_placement(request, drafts, way.turned, tuple(names))
        sheets = _finish_faces(request, way, drafts)
    return Template(way.frame, sheets, tuple(_furniture(request, way, sheets)))


def _fewest_sheets(request: TemplateRequest) -> tuple[SheetPlacement, tuple[DraftFace, ...]]:
    """The placement with the fewest sheets: guessed by the blank alone, then with what stands beyond it."""
    guesses: list[SheetPlacement] = []
    for turned in (False, True):
        blank = blank_extent(request, turned)
        guesses += [
            place_on_sheets(request, blank, sheet, turned=turned)
            for sheet in sheet_sizes(request.sheet_paper, blank.box)
        ]
    guesses.sort(key=lambda way: way.cost)
    options: dict[bool, tuple[SheetPlacement, tuple[DraftFace, ...]]] = {}
    for guess in guesses:
        if guess.turned in options or any(way.cost <= guess.cost for way, _ in options.values()):
            continue
        drafts = tuple(draft_face(request, face, turned=guess.turned) for face in request.faces)
        options[guess.turned] = (_best_placement(request, drafts, guess.turned), drafts)
    return min(options.values(), key=lambda pair: pair[0].cost)


def _best_placement(
    request: TemplateRequest, drafts: Sequence[DraftFace], turned: bool, lost: Sequence[str] = ()
) -> SheetPlacement:
    extent = extent_of(drafts)
    sizes = sheet_sizes(request.sheet_paper, extent.box)
    ways = [place_on_sheets(request, extent, size, turned=turned, lost=lost) for size in sizes]
    return min(ways, key=lambda way: way.cost)


def _finish_faces(request: TemplateRequest, way: SheetPlacement, drafts: Sequence[DraftFace]) -> tuple[FaceSheets, ...]:
    """Every face on its sheets; register marks of the far face are those of the near one."""
    import shapely

    beyond = shapely.union_all(extent_of(drafts).beyond)
    near = add_marks(way.tiling, None if beyond.is_empty else beyond)
    if len(near.tiles) == 1 and len(drafts) > 1:
        near = replace(near, marks=_corner_marks(near))
    sheets = []
    for draft in drafts:
        width = draft.scene.subject.flat.width
        tiling = mirror(near, width) if draft.face == "far" else near
        sheets.append(finish_face(request, draft, tiling, turned=way.turned))
    return tuple(sheets)


def _corner_marks(tiling: Tiling) -> tuple[Point, ...]:
    """Register marks of a single sheet with another face: at two corners of the window."""
    x0, y0, x1, y1 = tiling.tiles[0].window
    inset = MARK + 0.5
    return ((x0 + inset, y0 + inset), (x1 - inset, y1 - inset))


def _furniture(request: TemplateRequest, way: SheetPlacement, faces: Sequence[FaceSheets]) -> list[Ink]:
    """What all sheets have in common, then each sheet's own."""
    axes = ("y", "x") if way.frame.landscape and request.sheet_paper.long is not None else ("x", "y")
    total = sum(len(face.tiling.tiles) for face in faces)
    inks, number = [furniture.common_ink(way.frame, way.band, axes)], 0
    alike = len({tuple((t.row, t.column) for t in face.tiling.tiles) for face in faces}) == 1
    if way.band.mapped and alike:
        inks[0].add(furniture.map_ink(way.frame, faces[0].tiling), 0.0, 0.0)
    for face in faces:
        for tile in face.tiling.tiles:
            number += 1
            which = words.face(face.scene.subject.face)
            inks.append(furniture.sheet_ink(way.frame, way.band, face.tiling, tile, which, number, total))
            if way.band.mapped and not alike:
                inks[-1].add(furniture.map_ink(way.frame, face.tiling), 0.0, 0.0)
    return inks


def template_pages(template: Template, printer_scale: tuple[float, float] = (100.0, 100.0)) -> list[PdfPage]:
    """The pages of a template; ``printer_scale`` as for :func:`template_pdf`."""
    from flatgen.paper.drawing.writers import PdfPage, View

    frame, across, up = template.frame, *(100.0 / s for s in printer_scale)
    if frame.landscape:
        across, up = up, across
    middle = (frame.wide / 2, frame.tall / 2)

    def placed(x: float, y: float) -> Point:
        return (middle[0] + (x - middle[0]) * across, middle[1] + (y - middle[1]) * up)

    furniture_doc = template.furniture_document()
    numbers = itertools.count(1)
    pages = []
    for face in template.faces:
        for tile in face.tiling.tiles:
            left = next(numbers) * template.pitch
            views = tuple(
                View(furniture_doc, (x, 0.0, x + frame.wide, frame.tall), placed(0.0, 0.0), (across, up))
                for x in (0.0, left)
            )
            pages.append(PdfPage(face.doc, tile.window, frame.wide, frame.tall, placed(*frame.at), (across, up), views))
    return pages


EDGE_PEN, NEAR_PEN, FAR_PEN, LETTER_PEN, OTHER_PEN = 1, 2, 3, 4, 5
PEN_OF = {
    document.OUTLINE: EDGE_PEN,
    document.OPENINGS: EDGE_PEN,
    document.SIGHT_NEAR: NEAR_PEN,
    document.BEND_NEAR: NEAR_PEN,
    document.SIGHT_FAR: FAR_PEN,
    document.BEND_FAR: FAR_PEN,
    document.LABELS: LETTER_PEN,
    LETTERS: LETTER_PEN,
    BARS: LETTER_PEN,
    document.TANGENTS: OTHER_PEN,
    document.FORMS: OTHER_PEN,
}
"""The plotter's pen for each layer."""
MARGIN = 10.0
"""White edge about a plot [mm], where plotters hold the paper; common practice, no source."""
GAP = 6.0
"""Between the blank and the text below it [mm]."""
LEAST_TEXT = 125.0
"""Least width of the text [mm]."""


def template_plt(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    findings: tuple[Finding, ...],
    *,
    plotter_width: float | None = None,
    inches: bool = False,
) -> bytes:
    """The template of a part as HPGL/2.

    :param schedule: None where no brake is known
    :param findings: not used; they stand on the shop sheet
    :param plotter_width: of the paper, across its run; None where not known [mm]
    :param inches: sizes in inches before those in millimetres
    :raises InputRefused: FG012: wider than the plotter, however it is turned
    """
    request = TemplateRequest(part, flat, schedule, None, inches, ("near",), subject(part, flat, schedule).off)
    sizes = {False: (flat.width, flat.length), True: (flat.length, flat.width)}
    if plotter_width is None:  # the narrowest paper
        turns = sorted(sizes, key=lambda turned: sizes[turned][1])[:1]
    else:  # the shortest piece of it, then the narrowest
        turns = sorted(sizes, key=lambda turned: sizes[turned])
    least = float("inf")
    for turned in turns:
        box, docs = _plot_documents(request, turned)
        across = box[3] - box[1] + 2 * MARGIN
        if plotter_width is None or across <= plotter_width:
            return _hpgl_bytes(box, docs)
        least = min(least, across)
    size, room = (length(v, inches=inches) for v in (least, plotter_width or 0.0))
    raise InputRefused(Fault("FG012", part.name, words.TOO_WIDE.format(size=size, room=room), words.USE_PDF))


def _plot_documents(request: TemplateRequest, turned: bool) -> tuple[Box, tuple[Any, Any]]:
    """Box of a plot, and the documents on it: the template, and what stands around it."""
    draft = draft_face(request, "near", turned=turned)
    extent = extent_of([draft])
    x0, y0, x1, y1 = extent.box
    single_sheet = Tiling(1, 1, (Tile(1, 1, extent.box, extent.box),))
    face = finish_face(request, draft, single_sheet, turned=turned)
    ink = Ink()
    room = max(x1 - x0, LEAST_TEXT)
    lost = [draft.scene.subject.lines[n].bend.label for n in face.lost]
    text = furniture.template_paragraphs(request, several=False, turned=turned, lost=lost)
    band = furniture.text_band(request.title, text, words.whole(1, 1), room, mapped=False)
    y = y0 - GAP
    for line, height in [*((t, furniture.HEAD) for t in band.title), *((t, furniture.HEIGHT) for t in band.lines)]:
        y -= furniture.LINE_PITCH * height
        ink.text(line, x0, y, height)
    y -= furniture.BAR_BAND
    furniture.check_bar(ink, (x0, y), 0, "x")
    left = x0 - furniture.BAR_BAND
    furniture.check_bar(ink, (left, y), 1, "y")
    box = (left - furniture.BAR_BAND / 2, y - furniture.BAR_BAND / 2, x0 + room, max(y1, y + furniture.BAR_INCH + 1.0))
    return box, (face.doc, ink_document(ink, PENS, room, y1 - y, solids=BARS))


def _hpgl_bytes(box: Box, docs: tuple[Any, ...]) -> bytes:
    """Both documents on one plot, by ezdxf's HPGL/2 backend."""
    from ezdxf.addons.drawing import Frontend, RenderContext, layout
    from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration, LinePolicy, TextPolicy
    from ezdxf.addons.drawing.hpgl2 import PlotterBackend
    from ezdxf.math import BoundingBox2d

    class LayerPens(PlotterBackend):  # type: ignore[misc]  # ezdxf's is not typed
        def store(self, record: Any, properties: Any) -> None:
            super().store(record, properties._replace(pen=PEN_OF.get(properties.layer, LETTER_PEN)))

    configuration = Configuration(
        background_policy=BackgroundPolicy.WHITE,
        color_policy=ColorPolicy.BLACK,
        line_policy=LinePolicy.ACCURATE,
        text_policy=TextPolicy.OUTLINE,
        min_dash_length=1e-3,
    )
    backend = LayerPens()
    for doc in docs:
        Frontend(RenderContext(doc), backend, config=configuration).draw_layout(doc.modelspace())
    wide, tall = box[2] - box[0] + 2 * MARGIN, box[3] - box[1] + 2 * MARGIN
    page = layout.Page(wide, tall, layout.Units.mm, margins=layout.Margins.all(MARGIN))
    settings = layout.Settings(fit_page=False, scale=1.0, page_alignment=layout.PageAlignment.BOTTOM_LEFT)
    area = BoundingBox2d([(box[0], box[1]), (box[2], box[3])])
    data: bytes = backend.get_bytes(page, settings=settings, render_box=area, decimal_places=1, base=32)
    return data
