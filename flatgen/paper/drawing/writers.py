"""Files of drawings: PDF pages at true scale (reportlab), DXF, SVG and PNG, from ezdxf's rendering.

window    a rectangle of a drawing [mm]; what lies outside is clipped

Lettering is filled shapes, dashes are single lines: a page looks the same on every machine and needs no typeface. The
same pages give the same bytes.
"""

from __future__ import annotations

import functools
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Point
from flatgen.paper.drawing import words
from flatgen.paper.drawing.document import fixed_metadata
from flatgen.paper.drawing.recording import Recording, record_drawing, svg_backend
from flatgen.paper.drawing.text import Box

POINTS_PER_MM = 72.0 / 25.4
EXACT, ROUGH = "%.4f %.4f", "%.2f %.2f"
"""A point [mm]: of lines, and of lettering."""
FINE = 2
"""Decimals of lettering [mm]."""
ROOM = 3.0
"""Around a shape, for the width of its line [mm]."""
LEAST_WEIGHT = 0.05
"""Thinnest line [mm]."""
DASHES = 40
"""Ends of dashes that are drawn together."""
MARGIN = 10.0
"""White margin around a rendered drawing [mm]."""
PAGE_DPI = 150.0
"""Of pictures of pages [px/in]."""
SHADES = 64
"""Colours of a PNG: a few pens, and the shades between them and white."""


@dataclass(frozen=True)
class View:
    """A window of an ezdxf document or its recording, its lower left corner ``at`` [mm]; ``scale`` across and up."""

    doc: Any
    window: Box
    at: Point = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class PdfPage:
    """A page of ``wide`` x ``tall`` [mm] with a window of a document as in ``View``, and more views ``over`` it."""

    doc: Any
    window: Box
    wide: float
    tall: float
    at: Point = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)
    over: tuple[View, ...] = ()

    @property
    def views(self) -> tuple[View, ...]:
        """All views, in the order of drawing."""
        return (View(self.doc, self.window, self.at, self.scale), *self.over)


def pdf_bytes(pages: Sequence[PdfPage], title: str) -> bytes:
    """The pages as a PDF file, which asks its reader to print at full size.

    :raises ValueError: no page
    """
    if not pages:
        raise ValueError("a PDF without a page")
    from reportlab.pdfgen.canvas import Canvas

    stream = io.BytesIO()
    size = (pages[0].wide * POINTS_PER_MM, pages[0].tall * POINTS_PER_MM)
    canvas = Canvas(stream, pagesize=size, invariant=1, pageCompression=1)
    canvas.setTitle(words.clean(title))
    canvas.setAuthor("")
    canvas.setCreator("flatgen")
    canvas.setViewerPreference("PrintScaling", "None")
    writer = _Writer(canvas)
    writer.begin([view for page in pages for view in page.views])
    for page in pages:
        canvas.setPageSize((page.wide * POINTS_PER_MM, page.tall * POINTS_PER_MM))
        for view in page.views:
            writer.show(view)
        canvas.showPage()
    with _plain_streams():
        canvas.save()
    return stream.getvalue()


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Let reportlab write binary streams, faster and smaller than its text of seven bits."""
    from reportlab import rl_config

    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


@dataclass(frozen=True)
class _Shape:
    """A shape of a drawing: box [mm], pen, and its commands or the letters that it is made of: x, y, number."""

    box: Box
    pen: str
    commands: str = ""
    letters: tuple[tuple[float, float, int], ...] = ()


class _Letters:
    """Shapes of letters so far; each is written once, for all its places."""

    def __init__(self) -> None:
        self.numbers: dict[tuple[bytes, bytes], int] = {}
        self.paths: list[tuple[Box, str]] = []

    def number_of(self, codes: bytes, vertices: Any) -> int:
        """The number of a letter whose path begins at the origin."""
        key = (codes, vertices.tobytes())
        number = self.numbers.get(key)
        if number is None:
            number = self.numbers[key] = len(self.numbers)
            points = vertices.tolist()
            self.paths.append((_box(points), _path(list(codes), points, ROUGH) + " f*"))
        return number


class _Writer:
    """Windows of drawings on the pages of a canvas; what appears more than once is written once."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas
        self.letters = _Letters()
        self.shapes: dict[int, list[_Shape]] = {}
        self.forms: dict[tuple[int, Box], str] = {}

    def begin(self, views: list[View]) -> None:
        """Render all drawings, and write the letters and the windows of several pages."""
        for doc in {id(view.doc): view.doc for view in views}.values():
            self.shapes[id(doc)] = _shapes(record_drawing(doc), self.letters)
        for number, ((x0, y0, x1, y1), commands) in enumerate(self.letters.paths):
            self.canvas.beginForm(f"letter{number}", x0 - ROOM, y0 - ROOM, x1 + ROOM, y1 + ROOM)
            self.canvas.addLiteral(commands)
            self.canvas.endForm()
        counts = Counter((id(view.doc), view.window) for view in views)
        for key in (key for key, times in counts.items() if times > 1):
            name = self.forms[key] = f"kept{len(self.forms)}"
            self.canvas.beginForm(name, *key[1])
            self._draw_within(self.shapes[key[0]], key[1])
            self.canvas.endForm()

    def show(self, view: View) -> None:
        """Draw a window on the current page."""
        (x, y), (across, up), k = view.at, view.scale, POINTS_PER_MM
        (x0, y0, x1, y1), a, d = view.window, k * across, k * up
        name = self.forms.get((id(view.doc), view.window))
        frame = "" if name else f"{_pair((x0, y0))} {_pair((x1 - x0, y1 - y0))} re W n"
        self.canvas.addLiteral(f"q {a:.9f} 0 0 {d:.9f} {k * x - a * x0:.6f} {k * y - d * y0:.6f} cm {frame}")
        if name:
            self.canvas.doForm(name)
        else:
            self._draw_within(self.shapes[id(view.doc)], view.window)
        self.canvas.addLiteral("Q")

    def _draw_within(self, shapes: list[_Shape], window: Box) -> None:
        """Draw the shapes in reach of a window."""
        (x0, y0, x1, y1), pen, commands = window, "", ["0 J 1 j"]
        for shape in shapes:
            left, low, right, high = shape.box
            if left > x1 + ROOM or right < x0 - ROOM or low > y1 + ROOM or high < y0 - ROOM:
                continue
            if shape.pen != pen:
                pen = shape.pen
                commands.append(pen)
            if shape.commands:
                commands.append(shape.commands)
            for x, y, number in shape.letters:
                self.canvas.addLiteral("\n".join([*commands, f"q 1 0 0 1 {ROUGH % (x, y)} cm"]))
                self.canvas.doForm(f"letter{number}")
                commands = ["Q"]
        self.canvas.addLiteral("\n".join(commands))


def _shapes(recording: Recording, letters: _Letters) -> list[_Shape]:
    """All shapes of a rendered document."""
    from ezdxf.addons.drawing.recorder import FilledPathsRecord

    shapes: list[_Shape] = []
    unit = recording.unit
    for (record, properties), box in zip(recording.player.recordings(), recording.boxes, strict=True):
        colour, weight = properties.color, properties.lineweight
        if isinstance(record, FilledPathsRecord):
            placed = _placed_letters(record, unit, letters)
            if placed:
                shapes.append(_Shape(box, _pen(colour, weight, True), letters=placed))
            continue
        for part, commands, filled in _record_commands(record, unit):
            shapes.append(_Shape(part, _pen(colour, weight, filled), commands))
    return shapes


def _placed_letters(record: Any, unit: float, letters: _Letters) -> tuple[tuple[float, float, int], ...]:
    """The letters of a line of lettering with x and y [mm]; each is one path of the record."""
    paths = [(path, codes) for path in record.paths if (codes := bytes(path.command_codes()))]
    if not paths:
        return ()
    each = [path.np_vertices()[:, :2] for path, _ in paths]
    sizes = [len(points) for points in each]
    every = np.concatenate(each) * unit
    ends = np.cumsum(sizes)
    first = every[ends - sizes]
    moved = (every - np.repeat(first, sizes, axis=0)).round(FINE) + 0.0
    numbers = [
        letters.number_of(codes, moved[end - size : end])
        for (_, codes), size, end in zip(paths, sizes, ends.tolist(), strict=True)
    ]
    return tuple((x, y, n) for (x, y), n in zip(first.tolist(), numbers, strict=True))


@functools.lru_cache(maxsize=256)
def _pen(colour: str, weight: float, filled: bool) -> str:
    """Colour ``#rrggbb`` and line width [mm] as PDF commands."""
    shades = " ".join(f"{int(colour[i : i + 2], 16) / 255.0:.3f}" for i in (1, 3, 5))
    return f"{shades} rg" if filled else f"{shades} RG {max(weight, LEAST_WEIGHT):.3f} w"


def _record_commands(record: Any, unit: float) -> Iterator[tuple[Box, str, bool]]:
    """Box, drawing commands and whether filled, of one record."""
    from ezdxf.addons.drawing import recorder

    if isinstance(record, recorder.PathRecord):
        codes = record.path.command_codes()
        if codes:
            points = (record.path.np_vertices()[:, :2] * unit).tolist()
            yield _box(points), _path(codes, points, EXACT) + " S", False
    elif isinstance(record, recorder.SolidLinesRecord):
        yield from _line_commands((record.lines.np_vertices()[:, :2] * unit).tolist())
    elif isinstance(record, recorder.PointsRecord):
        points = (record.points.np_vertices()[:, :2] * unit).tolist()
        if len(points) == 2:
            yield from _line_commands(points)
        elif len(points) > 2:
            rest = " ".join(f"{_pair(p)} l" for p in points[1:])
            yield _box(points), f"{_pair(points[0])} m {rest} h f", True
    else:
        raise TypeError(f"no way to draw {type(record).__name__} on paper")


def _line_commands(points: list[list[float]]) -> Iterator[tuple[Box, str, bool]]:
    """Lines from each even point to the next, in pieces so that a page need not carry all dashes of a long line."""
    for first in range(0, len(points), DASHES):
        some = points[first : first + DASHES]
        form = f"{EXACT} m {EXACT} l " * (len(some) // 2)
        yield _box(some), form % tuple(v for point in some for v in point) + "S", False


def _path(codes: list[int], points: list[list[float]], form: str) -> str:
    """Drawing commands of one path; control points of a curve come before its end."""
    (x, y), k = points[0], 1
    commands = [f"{form} m" % (x, y)]
    line, curve, move = f"{form} l", f"{form} {form} {form} c", f"{form} m"
    for code in codes:
        if code == 2:
            (u, v), (p, q) = points[k], points[k + 1]
            commands.append(curve % ((x + 2 * u) / 3, (y + 2 * v) / 3, (p + 2 * u) / 3, (q + 2 * v) / 3, p, q))
        elif code == 3:
            (p, q) = points[k + 2]
            commands.append(curve % (*points[k], *points[k + 1], p, q))
        else:
            p, q = points[k]
            commands.append((line if code == 1 else move) % (p, q))
        k += 2 if code == 2 else 3 if code == 3 else 1
        x, y = p, q
    return " ".join(commands)


def _box(points: list[list[float]]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys))


def _pair(point: Sequence[float]) -> str:
    return EXACT % (point[0], point[1])


def dxf_bytes(doc: Any) -> bytes:
    """The DXF file of a drawing, with fixed dates and identifiers."""
    stream = io.StringIO()
    with fixed_metadata():
        doc.update_all()
        # ezdxf adds classes in the order of a set
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        doc.write(stream)
    encoded: bytes = doc.encode(stream.getvalue())
    return encoded


def svg_text(doc: Any) -> str:
    """The drawing with a margin as SVG in millimetres at 1:1, white ground."""
    recording = record_drawing(doc)
    extents = recording.player.bbox()
    low, high = extents.extmin * recording.unit, extents.extmax * recording.unit
    return svg_window(recording, (low.x - MARGIN, low.y - MARGIN, high.x + MARGIN, high.y + MARGIN))


def svg_window(doc: Any, window: Box) -> str:
    """A window of a drawing as SVG at 1:1, white ground."""
    from ezdxf.addons.drawing import layout
    from ezdxf.math import BoundingBox2d

    recording, backend = record_drawing(doc), svg_backend()
    backend.config, backend.background = recording.player.config, recording.player.background
    backend.properties, backend.records = recording.player.properties, list(recording.within(window))
    x0, y0, x1, y1 = window
    page = layout.Page(x1 - x0, y1 - y0, layout.Units.mm, margins=layout.Margins.all(0.0))
    settings = layout.Settings(fit_page=False, scale=recording.unit, output_layers=False)
    shown = BoundingBox2d([(x0 / recording.unit, y0 / recording.unit), (x1 / recording.unit, y1 / recording.unit)])
    return str(backend.get_string(page, settings=settings, render_box=shown))


def png_bytes(doc: Any, longest: int = 2000, around: float = MARGIN) -> bytes:
    """The drawing as PNG, its longer side ``longest`` [px] with a margin ``around`` it [mm]."""
    recording = record_drawing(doc)
    header = recording.doc.header
    (x0, y0), (x1, y1) = (
        (corner[0] * recording.unit, corner[1] * recording.unit) for corner in (header["$EXTMIN"], header["$EXTMAX"])
    )
    window = (x0 - around, y0 - around, x1 + around, y1 + around)
    wide, tall = window[2] - window[0], window[3] - window[1]
    (picture,) = png_pages(pdf_bytes([PdfPage(recording, window, wide, tall)], ""), longest / max(wide, tall) * 25.4)
    return picture


def png_pages(pdf: bytes, dpi: float = PAGE_DPI) -> list[bytes]:
    """Each page of a PDF as PNG, with ``dpi`` [px/in]."""
    import pypdfium2

    files = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            image = page.render(scale=dpi / 72.0).to_pil().quantize(SHADES, method=2)
            stream = io.BytesIO()
            image.save(stream, "png", compress_level=3)
            files.append(stream.getvalue())
    finally:
        document.close()
    return files
