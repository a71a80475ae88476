"""The template as HPGL/2 at true scale, for pen plotters and roll plotters.

One unit is 1/40 mm; places are written to a tenth of a unit. x runs along the paper, y across it. Lettering is
outlines, dashes are lines: a pen plotter draws what it is sent. Pens go by what they draw:

pen 1   edges of the blank and of openings
pen 2   lines for the near face (sight lines, or bend lines)
pen 3   lines for the far face, dashed
pen 4   lettering, leaders, centre marks, check bars
pen 5   tangent lines, dotted; stretched forms
"""

from __future__ import annotations

from typing import Any

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part
from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import LETTERS, Ink, ink_document
from flatgen.paper.templates import words
from flatgen.paper.templates.about import Job, said
from flatgen.paper.templates.choose import Shown, shown
from flatgen.paper.templates.faces import begin, finished
from flatgen.paper.templates.furniture import BAR_BAND, BAR_INCH, BARS, HEAD, HEIGHT, LINE_PITCH, PENS, band_of, bar
from flatgen.paper.templates.lines import subject
from flatgen.paper.templates.tiles import Box, Tile, Tiling

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

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule | None
        Made for the flat; None where no brake is known, [mm]
    findings : tuple[Finding, ...]
        Of part and schedule: they stand on the shop sheet, [-]
    plotter_width : float | None
        Of the paper, across its run; None where it is not known, [mm]
    inches : bool
        Sizes in inches before those in millimetres, [-]

    Returns
    -------
    bytes
        The file, the same for the same part

    Raises
    ------
    InputRefused
        FG012: wider than the plotter, however it is turned.
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
