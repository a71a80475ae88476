"""Drawings as pages of a PDF at true scale, rendered by ezdxf's drawing add-on and written with reportlab.

page      a sheet of paper of exact size, with windows of one or more drawings on it
window    a rectangle of a drawing [mm]; what lies outside of it is clipped

Each drawing is rendered once, however many pages show a part of it. Lettering is filled shapes, dashes are lines of
their own: a page looks the same on every machine and needs no typeface. The same pages give the same bytes. The file
asks its reader to print at full size; readers that do not ask nobody are what check bars are for.
"""

from __future__ import annotations

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
from flatgen.paper.drawing.recording import Recording, Window, recorded

POINTS_PER_MM = 72.0 / 25.4
"""Of PDF."""

EXACT, ROUGH = "%.4f %.4f", "%.2f %.2f"
"""A place in millimetres: of lines, and of lettering."""

FINE = 2
"""Decimals of lettering."""

ROOM = 3.0
"""Room about a shape within which its line may still be seen [mm]."""

LEAST_WEIGHT = 0.05
"""Thinnest line [mm]."""


@dataclass(frozen=True)
class View:
    """A window (x0, y0, x1, y1) of an ezdxf document or its recording, its lower left corner ``at`` a place.

    ``scale`` is what a millimetre of the document becomes on the page, across and up.
    """

    doc: Any
    window: Window
    at: Point = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True)
class PdfPage:
    """A page of ``wide`` x ``tall`` [mm] with a window of a document as in ``View``, and further ones ``over`` it."""

    doc: Any
    window: Window
    wide: float
    tall: float
    at: Point = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)
    over: tuple[View, ...] = ()

    @property
    def views(self) -> tuple[View, ...]:
        """All windows, in the order of drawing."""
        return (View(self.doc, self.window, self.at, self.scale), *self.over)


def pdf_bytes(pages: Sequence[PdfPage], title: str) -> bytes:
    """The pages as a PDF file.

    :returns: the file, the same for the same pages
    :raises ValueError: If there is no page.
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
    """reportlab writes its streams as text of seven bits unless told otherwise, which takes time and room."""
    from reportlab import rl_config

    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


@dataclass(frozen=True)
class _Shape:
    """One shape of a drawing: the box that it fills, its pen, and what draws it in millimetres; or the letters that
    it is made of, each with its place.
    """

    box: Window
    pen: str
    drawn: str = ""
    letters: tuple[tuple[float, float, int], ...] = ()


class _Letters:
    """Shapes of letters met so far: each is written once, though it stands in many places."""

    def __init__(self) -> None:
        self.known: dict[tuple[bytes, bytes], int] = {}
        self.written: list[tuple[Window, str]] = []

    def of(self, codes: bytes, places: Any) -> int:
        """The number of a letter whose path begins at the origin."""
        key = (codes, places.tobytes())
        number = self.known.get(key)
        if number is None:
            number = self.known[key] = len(self.known)
            points = places.tolist()
            self.written.append((_box(points), _path(list(codes), points, ROUGH) + " f*"))
        return number


class _Writer:
    """Windows of drawings on the pages of a canvas; what is seen more than once is written once."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas
        self.letters = _Letters()
        self.drawn: dict[int, list[_Shape]] = {}
        self.kept: dict[tuple[int, Window], str] = {}

    def begin(self, views: list[View]) -> None:
        """Render all drawings, and write the letters and the windows that stand on several pages."""
        for doc in {id(view.doc): view.doc for view in views}.values():
            self.drawn[id(doc)] = _shapes(recorded(doc), self.letters)
        for number, ((x0, y0, x1, y1), drawn) in enumerate(self.letters.written):
            self.canvas.beginForm(f"letter{number}", x0 - ROOM, y0 - ROOM, x1 + ROOM, y1 + ROOM)
            self.canvas.addLiteral(drawn)
            self.canvas.endForm()
        often = Counter((id(view.doc), view.window) for view in views)
        for key in (key for key, times in often.items() if times > 1):
            name = self.kept[key] = f"kept{len(self.kept)}"
            self.canvas.beginForm(name, *key[1])
            self._within(self.drawn[key[0]], key[1])
            self.canvas.endForm()

    def show(self, view: View) -> None:
        """A window on the page that is being written."""
        (x, y), (across, up), k = view.at, view.scale, POINTS_PER_MM
        (x0, y0, x1, y1), a, d = view.window, k * across, k * up
        name = self.kept.get((id(view.doc), view.window))
        frame = "" if name else f"{_pair((x0, y0))} {_pair((x1 - x0, y1 - y0))} re W n"
        self.canvas.addLiteral(f"q {a:.9f} 0 0 {d:.9f} {k * x - a * x0:.6f} {k * y - d * y0:.6f} cm {frame}")
        if name:
            self.canvas.doForm(name)
        else:
            self._within(self.drawn[id(view.doc)], view.window)
        self.canvas.addLiteral("Q")

    def _within(self, shapes: list[_Shape], window: Window) -> None:
        """Draw the shapes that a window may show."""
        (x0, y0, x1, y1), pen, said = window, "", ["0 J 1 j"]
        for shape in shapes:
            left, low, right, high = shape.box
            if left > x1 + ROOM or right < x0 - ROOM or low > y1 + ROOM or high < y0 - ROOM:
                continue
            if shape.pen != pen:
                pen = shape.pen
                said.append(pen)
            if shape.drawn:
                said.append(shape.drawn)
            for x, y, number in shape.letters:
                self.canvas.addLiteral("\n".join([*said, f"q 1 0 0 1 {ROUGH % (x, y)} cm"]))
                self.canvas.doForm(f"letter{number}")
                said = ["Q"]
        self.canvas.addLiteral("\n".join(said))


def _shapes(recording: Recording, letters: _Letters) -> list[_Shape]:
    """All shapes of a document, as the add-on renders them."""
    from ezdxf.addons.drawing.recorder import FilledPathsRecord

    found: list[_Shape] = []
    pens, unit = _Pens(), recording.unit
    for (record, properties), box in zip(recording.player.recordings(), recording.boxes, strict=True):
        if isinstance(record, FilledPathsRecord):
            placed = _lettered(record, unit, letters)
            if placed:
                found.append(_Shape(box, pens.of(properties, True), letters=placed))
            continue
        for part, drawn, filled in _drawn(record, unit):
            found.append(_Shape(part, pens.of(properties, filled), drawn))
    return found


def _lettered(record: Any, unit: float, letters: _Letters) -> tuple[tuple[float, float, int], ...]:
    """A line of lettering: the add-on gives each letter as one path."""
    paths = [(path, codes) for path in record.paths if (codes := bytes(path.command_codes()))]
    if not paths:
        return ()
    each = [path.np_vertices()[:, :2] for path, _ in paths]
    sizes = [len(places) for places in each]
    every = np.concatenate(each) * unit
    ends = np.cumsum(sizes)
    first = every[ends - sizes]
    moved = (every - np.repeat(first, sizes, axis=0)).round(FINE) + 0.0
    numbers = [
        letters.of(codes, moved[end - size : end])
        for (_, codes), size, end in zip(paths, sizes, ends.tolist(), strict=True)
    ]
    return tuple((x, y, n) for (x, y), n in zip(first.tolist(), numbers, strict=True))


class _Pens:
    """Colour and line width as PDF says them."""

    def __init__(self) -> None:
        self.known: dict[tuple[str, float, bool], str] = {}

    def of(self, properties: Any, filled: bool) -> str:
        key = (properties.color, properties.lineweight, filled)
        if key not in self.known:
            shades = [int(properties.color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
            colour = " ".join(f"{s:.3f}" for s in shades)
            width = max(properties.lineweight, LEAST_WEIGHT)
            self.known[key] = f"{colour} rg" if filled else f"{colour} RG {width:.3f} w"
        return self.known[key]


def _drawn(record: Any, unit: float) -> Iterator[tuple[Window, str, bool]]:
    """Box, drawing commands and whether filled, of one record of the add-on."""
    from ezdxf.addons.drawing import recorder

    if isinstance(record, recorder.PathRecord):
        codes = record.path.command_codes()
        if codes:
            points = (record.path.np_vertices()[:, :2] * unit).tolist()
            yield _box(points), _path(codes, points, EXACT) + " S", False
    elif isinstance(record, recorder.SolidLinesRecord):
        yield from _of_lines(_places(record.lines, unit))
    elif isinstance(record, recorder.PointsRecord):
        places = _places(record.points, unit)
        if len(places) == 2:
            yield from _of_lines(places)
        elif len(places) > 2:
            rest = " ".join(f"{_pair(p)} l" for p in places[1:])
            yield _box(places), f"{_pair(places[0])} m {rest} h f", True
    else:
        raise TypeError(f"no way to draw {type(record).__name__} on paper")


def _of_lines(places: list[list[float]]) -> Iterator[tuple[Window, str, bool]]:
    """Lines from each even place to the next, in pieces so that pages need not carry all dashes of a long one."""
    for first in range(0, len(places), DASHES):
        some = places[first : first + DASHES]
        form = f"{EXACT} m {EXACT} l " * (len(some) // 2)
        yield _box(some), form % tuple(v for place in some for v in place) + "S", False


DASHES = 40
"""Ends of dashes that are drawn together."""


def _path(codes: list[int], places: list[list[float]], form: str) -> str:
    """Drawing commands of one path; control places of a curve come before its end."""
    (x, y), k = places[0], 1
    said = [f"{form} m" % (x, y)]
    line, curve, move = f"{form} l", f"{form} {form} {form} c", f"{form} m"
    for code in codes:
        if code == 2:
            (u, v), (p, q) = places[k], places[k + 1]
            said.append(curve % ((x + 2 * u) / 3, (y + 2 * v) / 3, (p + 2 * u) / 3, (q + 2 * v) / 3, p, q))
        elif code == 3:
            (p, q) = places[k + 2]
            said.append(curve % (*places[k], *places[k + 1], p, q))
        else:
            p, q = places[k]
            said.append((line if code == 1 else move) % (p, q))
        k += 2 if code == 2 else 3 if code == 3 else 1
        x, y = p, q
    return " ".join(said)


def _places(points: Any, unit: float) -> list[list[float]]:
    found: list[list[float]] = (points.np_vertices()[:, :2] * unit).tolist()
    return found


def _box(places: list[list[float]]) -> Window:
    xs, ys = [p[0] for p in places], [p[1] for p in places]
    return (min(xs), min(ys), max(xs), max(ys))


def _pair(place: Sequence[float]) -> str:
    return EXACT % (place[0], place[1])


MARGIN = 10.0
"""White margin around a rendered drawing [mm]."""

PAGE_DPI = 150.0
"""Of pictures of pages [px/in]."""

SHADES = 64
"""Colours of a PNG: a few pens, and the shades between them and white."""


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
    """The drawing as SVG: page in millimetres with a margin, white ground, scale 1:1."""
    recording = recorded(doc)
    seen = recording.player.bbox()
    low, high = seen.extmin * recording.unit, seen.extmax * recording.unit
    return svg_window(recording, (low.x - MARGIN, low.y - MARGIN, high.x + MARGIN, high.y + MARGIN))


def svg_window(doc: Any, window: Window) -> str:
    """A window of a drawing as SVG at 1:1, white ground.

    :param window: left, low, right, high [mm]
    """
    from ezdxf.addons.drawing import layout
    from ezdxf.math import BoundingBox2d

    from flatgen.paper.drawing import recording as svg_paths

    recording, backend = recorded(doc), svg_paths.backend()
    backend.config, backend.background = recording.player.config, recording.player.background
    backend.properties, backend.records = recording.player.properties, list(recording.within(window))
    x0, y0, x1, y1 = window
    page = layout.Page(x1 - x0, y1 - y0, layout.Units.mm, margins=layout.Margins.all(0.0))
    settings = layout.Settings(fit_page=False, scale=recording.unit, output_layers=False)
    shown = BoundingBox2d([(x0 / recording.unit, y0 / recording.unit), (x1 / recording.unit, y1 / recording.unit)])
    return str(backend.get_string(page, settings=settings, render_box=shown))


def png_bytes(doc: Any, longest: int = 2000, around: float = MARGIN) -> bytes:
    """The drawing as PNG, its longer side ``longest`` [px] with the margin ``around`` it [mm]."""

    recording = recorded(doc)
    own = recording.doc.header
    (x0, y0), (x1, y1) = (
        (place[0] * recording.unit, place[1] * recording.unit) for place in (own["$EXTMIN"], own["$EXTMAX"])
    )
    window = (x0 - around, y0 - around, x1 + around, y1 + around)
    wide, tall = window[2] - window[0], window[3] - window[1]
    (picture,) = png_pages(pdf_bytes([PdfPage(recording, window, wide, tall)], ""), longest / max(wide, tall) * 25.4)
    return picture


def png_pages(pdf: bytes, dpi: float = PAGE_DPI) -> list[bytes]:
    """Each page of a PDF as PNG.

    :param dpi: how fine [px/in]
    :returns: files in the order of the pages
    """
    import pypdfium2

    found = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            image = page.render(scale=dpi / 72.0).to_pil().quantize(SHADES, method=2)
            stream = io.BytesIO()
            image.save(stream, "png", compress_level=3)
            found.append(stream.getvalue())
    finally:
        document.close()
    return found
