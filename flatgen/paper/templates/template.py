"""Templates at true scale: the blank with its lines on sheets of paper, as a PDF.

labels beyond the blank (faces) -> paper, turned or not, fewest sheets (choose) -> joints, register marks (tiles)
-> labels on each sheet -> one drawing per face, one of all furniture -> windows of them on pages (drawing.pdf)
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
from flatgen.paper.templates import words
from flatgen.paper.templates.furniture import (
    BAR_BAND,
    BAR_INCH,
    BARS,
    HEAD,
    HEIGHT,
    LINE_PITCH,
    PENS,
    Job,
    band_of,
    bar,
    common,
    said,
    sheet_ink,
    sheet_map,
)
from flatgen.paper.templates.layout import (
    Begun,
    FaceSheets,
    Shown,
    Way,
    begin,
    blank_alone,
    finished,
    sheets_for,
    shown,
    way_of,
)
from flatgen.paper.templates.lines import FAR_LAYERS, subject
from flatgen.paper.templates.tiles import MARK, Box, Frame, Tile, Tiling, mirrored, with_marks

if TYPE_CHECKING:
    from flatgen.paper.drawing.writers import PdfPage


ROUNDS = 3
"""How often labels that found no room beside joints are led out, and the sheets chosen again."""


@dataclass(frozen=True)
class Template:
    """A template laid out on its paper: the sheet, the faces, ink of all sheets (beside one another by ``pitch``)."""

    frame: Frame
    faces: tuple[FaceSheets, ...]
    furniture: tuple[Ink, ...]
    turned: bool

    @property
    def pitch(self) -> float:
        """From sheet to sheet in the drawing of all furniture [mm]."""
        return self.frame.wide + 20.0

    def furniture_document(self) -> Any:
        """The ezdxf document of all furniture: what is common, then each sheet's own."""
        ink = Ink()
        for n, own in enumerate(self.furniture):
            ink.add(own, n * self.pitch, 0.0)
        return ink_document(ink, PENS, self.frame.wide, self.frame.tall, solids=BARS)


def layout_pdf(
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

    :param schedule: made for the flat; None where no brake is known
    :param inches: sizes in inches before those in millimetres
    :param printer_scale: what the printer makes of 100, along the narrow side of the paper (across a roll) and along
        the other
    :returns: the file, the same for the same part
    :raises InputRefused: FG005: a printer that is off by more than can be meant.
    """
    from flatgen.paper.drawing.writers import pdf_bytes

    refuse_scale(printer_scale)
    made = template(part, flat, schedule, findings, paper=paper, inches=inches, faces=faces)
    return pdf_bytes(pages(made, printer_scale), words.TITLE.format(name=part.name))


def refuse_scale(printer_scale: tuple[float, float]) -> None:
    """Refuse a printer's scale that no printer has.

    :param printer_scale: what it makes of 100 in x and y
    :raises InputRefused: FG005
    """
    for axis, scale in zip("xy", printer_scale, strict=True):
        least, most = PRINTER_SCALES
        if not least <= scale <= most:
            text = f"a printer that makes {scale:g} of 100 in {axis} is not between {least:g} and {most:g}"
            remedy = "print the template at 100 %, measure its bars of 100 mm, and give what they measure"
            raise InputRefused(Fault("FG005", "--printer-scale", text, remedy))


def template(
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

    :param schedule: made for the flat, or None
    :param findings: of part and schedule: they stand on the shop sheet, a template has the cautions of its own work
    :param inches: sizes in inches before those in millimetres
    :param faces: that a template is wanted of; the far one is left out beside the near one where it has no line
    """
    all_lines = subject(part, flat, schedule)
    if "near" in faces and all(line.layer not in FAR_LAYERS for line in all_lines.lines):
        faces = ("near",)
    job = Job(part, flat, schedule, paper, inches, faces, all_lines.off)
    way, begun = _fewest(job)
    made = _finished(job, way, begun)
    for _ in range(ROUNDS):
        lost = [face.lost for face in made]
        if not any(lost) or all(set(some) <= set(b.outside) for some, b in zip(lost, begun, strict=True)):
            break
        begun = tuple(
            begin(job, b.face, turned=way.turned, more=(*b.outside, *some)) for b, some in zip(begun, lost, strict=True)
        )
        way = _best(job, begun, way.turned)
        made = _finished(job, way, begun)
    if any(face.lost for face in made):
        names = dict.fromkeys(face.scene.subject.lines[n].bend.label for face in made for n in face.lost)
        way = _best(job, begun, way.turned, tuple(names))
        made = _finished(job, way, begun)
    return Template(way.frame, made, tuple(_furniture(job, way, made)), way.turned)


def _fewest(job: Job) -> tuple[Way, tuple[Begun, ...]]:
    """The way with the fewest sheets: guessed by the blank alone, then with what stands beyond it."""
    guesses: list[Way] = []
    for turned in (False, True):
        blank = blank_alone(job, turned)
        guesses += [way_of(job, blank, sheet, turned=turned) for sheet in sheets_for(_paper(job), blank.box)]
    guesses.sort(key=lambda way: way.cost)
    found: dict[bool, tuple[Way, tuple[Begun, ...]]] = {}
    for guess in guesses:
        if guess.turned in found or any(way.cost <= guess.cost for way, _ in found.values()):
            continue
        begun = tuple(begin(job, face, turned=guess.turned) for face in job.faces)
        found[guess.turned] = (_best(job, begun, guess.turned), begun)
    return min(found.values(), key=lambda pair: pair[0].cost)


def _best(job: Job, begun: Sequence[Begun], turned: bool, lost: Sequence[str] = ()) -> Way:
    what = shown(begun)
    ways = [way_of(job, what, sheet, turned=turned, lost=lost) for sheet in sheets_for(_paper(job), what.box)]
    return min(ways, key=lambda way: way.cost)


def _paper(job: Job) -> Paper:
    if job.paper is None:
        raise ValueError("a plotter has no sheets")
    return job.paper


def _finished(job: Job, way: Way, begun: Sequence[Begun]) -> tuple[FaceSheets, ...]:
    """Every face on its sheets; register marks of the far face are those of the near one."""
    import shapely

    beyond = shapely.union_all(shown(begun).beyond)
    near = with_marks(way.tiling, None if beyond.is_empty else beyond)
    if len(near.tiles) == 1 and len(begun) > 1:
        near = replace(near, marks=_at_corners(near))
    found = []
    for face in begun:
        width = face.scene.subject.flat.width
        tiling = mirrored(near, width) if face.face == "far" else near
        found.append(finished(job, face, tiling, turned=way.turned))
    return tuple(found)


def _at_corners(tiling: Tiling) -> tuple[Point, ...]:
    """Register marks of a single sheet, for that of the other face: at two corners of the window."""
    x0, y0, x1, y1 = tiling.tiles[0].window
    inset = MARK + 0.5
    return ((x0 + inset, y0 + inset), (x1 - inset, y1 - inset))


def _furniture(job: Job, way: Way, made: Sequence[FaceSheets]) -> list[Ink]:
    """What is common to all sheets, then each sheet's own."""
    axes = ("y", "x") if way.frame.landscape and _paper(job).long is not None else ("x", "y")
    total = sum(len(face.tiling.tiles) for face in made)
    found, number = [common(way.frame, way.band, axes)], 0
    alike = len({tuple((t.row, t.column) for t in face.tiling.tiles) for face in made}) == 1
    if way.band.mapped and alike:
        found[0].add(sheet_map(way.frame, made[0].tiling), 0.0, 0.0)
    for face in made:
        for tile in face.tiling.tiles:
            number += 1
            which = words.face(face.scene.subject.face)
            found.append(sheet_ink(way.frame, way.band, face.tiling, tile, which, number, total))
            if way.band.mapped and not alike:
                found[-1].add(sheet_map(way.frame, face.tiling), 0.0, 0.0)
    return found


def pages(made: Template, printer_scale: tuple[float, float] = (100.0, 100.0)) -> list[PdfPage]:
    """The pages of a template.

    :param printer_scale: what the printer makes of 100, along the narrow side of the paper and along the other
    """
    from flatgen.paper.drawing.writers import PdfPage, View

    frame, across, up = made.frame, *(100.0 / s for s in printer_scale)
    if frame.landscape:
        across, up = up, across
    middle = (frame.wide / 2, frame.tall / 2)

    def placed(x: float, y: float) -> Point:
        return (middle[0] + (x - middle[0]) * across, middle[1] + (y - middle[1]) * up)

    furniture = made.furniture_document()
    own = itertools.count(1)
    found = []
    for face in made.faces:
        for tile in face.tiling.tiles:
            left = next(own) * made.pitch
            views = tuple(
                View(furniture, (x, 0.0, x + frame.wide, frame.tall), placed(0.0, 0.0), (across, up))
                for x in (0.0, left)
            )
            found.append(PdfPage(face.doc, tile.window, frame.wide, frame.tall, placed(*frame.at), (across, up), views))
    return found


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
"""The pen of each layer."""

MARGIN = 10.0
"""White edge about a plot [mm]: plotters hold the paper there; common practice, no source."""

GAP = 6.0
"""Between the blank and the text below it [mm]."""

LEAST_TEXT = 125.0
"""Least width of the text [mm]."""


def layout_plt(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    findings: tuple[Finding, ...],
    *,
    plotter_width: float | None = None,
    inches: bool = False,
) -> bytes:
    """The template of a part as HPGL/2.

    :param schedule: made for the flat; None where no brake is known
    :param findings: of part and schedule: they stand on the shop sheet
    :param plotter_width: of the paper, across its run; None where it is not known [mm]
    :param inches: sizes in inches before those in millimetres
    :returns: the file, the same for the same part
    :raises InputRefused: FG012: wider than the plotter, however it is turned.
    """
    job = Job(part, flat, schedule, None, inches, ("near",), subject(part, flat, schedule).off)
    sizes = {False: (flat.width, flat.length), True: (flat.length, flat.width)}
    if plotter_width is None:  # the narrowest paper
        ways = sorted(sizes, key=lambda turned: sizes[turned][1])[:1]
    else:  # the shortest piece of it, then the narrowest
        ways = sorted(sizes, key=lambda turned: sizes[turned])
    least = float("inf")
    for turned in ways:
        box, docs = _plot(job, turned)
        across = box[3] - box[1] + 2 * MARGIN
        if plotter_width is None or across <= plotter_width:
            return _plotted(box, docs)
        least = min(least, across)
    size, room = (words.exact(v, inches=inches) for v in (least, plotter_width or 0.0))
    raise InputRefused(Fault("FG012", part.name, words.TOO_WIDE.format(size=size, room=room), words.USE_PDF))


def _plot(job: Job, turned: bool) -> tuple[Box, tuple[Any, Any]]:
    """Box of a plot, and the drawings on it: the template, and what stands around it."""
    begun = begin(job, "near", turned=turned)
    what = shown([begun])
    x0, y0, x1, y1 = what.box
    face = finished(job, begun, _alone(what), turned=turned)
    ink = Ink()
    room = max(x1 - x0, LEAST_TEXT)
    lost = [begun.scene.subject.lines[n].bend.label for n in face.lost]
    text = said(job, several=False, turned=turned, lost=lost)
    band = band_of(job.title, text, words.whole(1, 1), room, mapped=False)
    y = y0 - GAP
    for line, height in [*((t, HEAD) for t in band.title), *((t, HEIGHT) for t in band.lines)]:
        y -= LINE_PITCH * height
        ink.text(line, x0, y, height)
    y -= BAR_BAND
    bar(ink, (x0, y), 0, "x")
    left = x0 - BAR_BAND
    bar(ink, (left, y), 1, "y")
    box = (left - BAR_BAND / 2, y - BAR_BAND / 2, x0 + room, max(y1, y + BAR_INCH + 1.0))
    return box, (face.doc, ink_document(ink, PENS, room, y1 - y, solids=BARS))


def _alone(what: Shown) -> Tiling:
    """One sheet for all."""
    return Tiling(1, 1, (Tile(1, 1, what.box, what.box),))


def _plotted(box: Box, docs: tuple[Any, ...]) -> bytes:
    """Both drawings on one plot, by ezdxf's HPGL/2 backend."""
    from ezdxf.addons.drawing import Frontend, RenderContext, layout
    from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration, LinePolicy, TextPolicy
    from ezdxf.addons.drawing.hpgl2 import PlotterBackend
    from ezdxf.math import BoundingBox2d

    class Penned(PlotterBackend):  # type: ignore[misc]  # ezdxf's is not typed
        """With the pen of each layer."""

        def store(self, record: Any, properties: Any) -> None:
            super().store(record, properties._replace(pen=PEN_OF.get(properties.layer, LETTER_PEN)))

    asked = Configuration(
        background_policy=BackgroundPolicy.WHITE,
        color_policy=ColorPolicy.BLACK,
        line_policy=LinePolicy.ACCURATE,
        text_policy=TextPolicy.OUTLINE,
        min_dash_length=1e-3,
    )
    backend = Penned()
    for doc in docs:
        Frontend(RenderContext(doc), backend, config=asked).draw_layout(doc.modelspace())
    wide, tall = box[2] - box[0] + 2 * MARGIN, box[3] - box[1] + 2 * MARGIN
    page = layout.Page(wide, tall, layout.Units.mm, margins=layout.Margins.all(MARGIN))
    settings = layout.Settings(fit_page=False, scale=1.0, page_alignment=layout.PageAlignment.BOTTOM_LEFT)
    area = BoundingBox2d([(box[0], box[1]), (box[2], box[3])])
    data: bytes = backend.get_bytes(page, settings=settings, render_box=area, decimal_places=1, base=32)
    return data
