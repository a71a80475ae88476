"""A flat pattern as an ezdxf document at 1:1, the one source of DXF, SVG and PNG.

OUTLINE     edge of the blank: cut
OPENINGS    edges of openings: cut
BEND_NEAR   bend lines of up bends; the near face is up when they are made
BEND_FAR    bend lines of down bends; the far face is up when they are made
TANGENTS    bend tangent lines
FORMS       outlines of stretched forms that the flat leaves out: marked, never cut; there only with forms
LABELS      all lettering, with its leaders, dimension lines and key; centre marks of round openings

Edges are single LINE, ARC and CIRCLE entities, not polylines with bulges: every reader has them, from R12 on. Ends
coincide: a line takes its ends from the arcs beside it, coordinates are rounded to 1e-9. Coinciding
pieces are drawn once; cutting layers come first.

Line types after ISO 128-2 (continuous; 02 dashed: dashes of 12 line widths, spaces of 3; 05 long-dashed
double-dotted, as for outlines before forming: dashes of 24, spaces of 3; 07 dotted: spaces of 3), memory, not
read; dots are one line width long where the standard has a half, so that square pens and screens show them.
Patterns are in units of the drawing. Colours only repeat what line type, width and text say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Piece, Point
from flatgen.paper.drawing import labels, on_metal, surround, words
from flatgen.paper.drawing.facts import Notes
from flatgen.paper.drawing.text import FONT_FILE, Layout, drawable, lettering_height, line_widths, load_fonts

OUTLINE, OPENINGS, BEND_NEAR, BEND_FAR, TANGENTS, FORMS, LABELS = (
    "OUTLINE", "OPENINGS", "BEND_NEAR", "BEND_FAR", "TANGENTS", "FORMS", "LABELS",
)  # fmt: skip
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
DASHED, DOTTED, CONTINUOUS = "FLAT_DASHED", "FLAT_DOTTED", "CONTINUOUS"
DOUBLE_DOTTED = "FLAT_DOUBLE_DOTTED"
LETTERING = "LETTERING"
SIGHT_NEAR, SIGHT_FAR = "SIGHT_NEAR", "SIGHT_FAR"
"""Layers of the bench drawing."""
LEAST_PIECE = 1e-6
"""Shorter pieces are not drawn [mm]."""
PLACES = 9
"""Decimals of coordinates."""


@dataclass(frozen=True)
class Pen:
    """How a layer is drawn: line type, wide or narrow, colour by number and, in later versions, by shade; ``weight``
    [mm] of a line neither wide nor narrow.
    """

    linetype: str = CONTINUOUS
    wide: bool = False
    number: int = 7
    shade: tuple[int, int, int] | None = None
    weight: float | None = None


PENS = {
    OUTLINE: Pen(CONTINUOUS, True, 7),
    OPENINGS: Pen(CONTINUOUS, True, 7),
    BEND_NEAR: Pen(CONTINUOUS, False, 154, (31, 101, 150)),
    BEND_FAR: Pen(DASHED, False, 32, (168, 84, 32)),
    TANGENTS: Pen(DOTTED, False, 8, (112, 116, 120)),
    LABELS: Pen(CONTINUOUS, False, 7),
    FORMS: Pen(DOUBLE_DOTTED, False, 94, (64, 120, 56)),
    SIGHT_NEAR: Pen(CONTINUOUS, False, 204, (120, 60, 150)),
    SIGHT_FAR: Pen(DASHED, False, 132, (16, 124, 124)),
}
FLAT_LAYERS = (OUTLINE, OPENINGS, BEND_NEAR, BEND_FAR, TANGENTS, LABELS, FORMS)
_KEY_LAYERS = {
    "wide": OUTLINE,
    "near": BEND_NEAR,
    "far": BEND_FAR,
    "tangent": TANGENTS,
    "form": FORMS,
    "sight near": SIGHT_NEAR,
    "sight far": SIGHT_FAR,
}


def flat_document(
    flat: FlatPattern, notes: Notes, *, version: str = "R2010", inches: bool = False, cut_only: bool = False
) -> Any:
    """Draw a flat pattern.

    :param version: one of ``VERSIONS`` of DXF; R12 has no unit in its header, there only the notes say it
    :param cut_only: layers OUTLINE and OPENINGS only, no text
    :raises ValueError: unknown version
    """
    height = lettering_height(flat)
    layout = Layout() if cut_only else flat_layout(flat, notes, inches=inches)
    layers = tuple(name for name in FLAT_LAYERS if name != FORMS or flat.forms)
    doc = empty_document(version, height, inches, (OUTLINE, OPENINGS) if cut_only else layers)
    sheet = Sheet(doc, 1.0 / words.MM_PER_INCH if inches else 1.0, version)
    sheet.loop(flat.outline, OUTLINE)
    for opening in flat.openings:
        sheet.loop(opening, OPENINGS)
    if not cut_only:
        metal = on_metal.Metal(flat)
        for bend in flat.bends:
            for segment in bend.segments:
                sheet.lines(metal.stretches(*segment.centre), BEND_NEAR if bend.way == "up" else BEND_FAR)
        for bend in flat.bends:
            for pair in (pair for s in bend.segments for pair in s.tangents):
                sheet.lines(metal.stretches(*pair), TANGENTS)
        for form in flat.forms:
            sheet.loop(form, FORMS)
        sheet.lettering(layout, line_widths(height))
    set_view(doc, [*flat.outline.points(0.1), *layout.points()], sheet.scale)
    return doc


def flat_layout(flat: FlatPattern, notes: Notes, *, inches: bool = False) -> Layout:
    """All lettering of a flat's drawing with its leaders, dimension lines and key [mm]."""

    def text_of(bend: Bend, form: words.Form) -> str:
        return labels.bend_text(bend, form, inches)

    return flat_lettering(flat, flat, notes, text_of, surround.key_rows(flat), inches=inches)


def flat_lettering(
    flat: FlatPattern,
    marked: FlatPattern,
    notes: Notes,
    text_of: Callable[[Bend, words.Form], str],
    key: surround.Rows,
    *,
    inches: bool = False,
) -> Layout:
    """All lettering about a flat [mm].

    :param marked: the flat itself, or one whose bends lie where other lines are drawn; each has a label
    """
    height = lettering_height(flat)
    ground = labels.Ground.of(marked)
    inside = labels.place_labels(marked, ground, height, text_of)
    outside = {i: (b, text_of(b, inside.form)) for i, b in enumerate(marked.bends) if i not in inside.texts}
    leaders = labels.lead_out(outside, flat.box, ground, inside.height)
    texts = list(inside.texts.values())
    texts += labels.leg_names(flat, ground, inside.height, texts, notes.legs)
    lines, both = surround.overall_sizes(flat, height, leaders, inches=inches)
    around = leaders.layout + lines
    extra = [words.bend_place(outside[i][1], *outside[i][0].centre, inches=inches) for i in leaders.lost]
    if not both:
        extra.insert(0, words.blank(flat.width, flat.length, inches=inches))
    crosses = on_metal.centre_marks(flat, height)
    block = surround.notes_block(flat, notes, around, height, tuple(extra), key, inches=inches, marked=bool(crosses))
    whole = Layout(tuple(texts), crosses) + around + block
    return replace(whole, texts=tuple(replace(t, text=drawable(t.text)) for t in whole.texts))


@dataclass
class Sheet:
    """The modelspace to draw on; remembers what lies there already. Geometry in [mm]."""

    doc: Any
    scale: float
    version: str

    def __post_init__(self) -> None:
        self.space = self.doc.modelspace()
        self.drawn: set[tuple[Any, ...]] = set()

    def point(self, p: Point) -> Point:
        return (self.number(p[0]), self.number(p[1]))

    def number(self, value: float) -> float:
        return round(value * self.scale, PLACES) + 0.0

    def loop(self, loop: Loop, layer: str) -> None:
        for piece in _joined_pieces(loop):
            self.piece(piece, layer)

    def piece(self, piece: Piece, layer: str) -> None:
        if isinstance(piece, Line):
            self.line(piece.start, piece.end, layer)
        elif piece.length > LEAST_PIECE:
            self.arc(piece, layer)

    def lines(self, pairs: list[tuple[Point, Point]], layer: str) -> None:
        for start, end in pairs:
            self.line(start, end, layer)

    def line(self, start: Point, end: Point, layer: str) -> None:
        if math.dist(start, end) <= LEAST_PIECE:
            return
        a, b = self.point(start), self.point(end)
        if self.is_new("line", *sorted((_rounded(a), _rounded(b)))):
            self.space.add_line(a, b, dxfattribs={"layer": layer})

    def arc(self, arc: Arc, layer: str) -> None:
        centre, radius = self.point(arc.centre), self.number(arc.radius)
        first, last = arc.first, arc.first + arc.sweep
        if arc.sweep < 0:
            first, last = last, first
        angles = (0.0, 360.0) if arc.full else (_positive(first), _positive(last))
        if not self.is_new("arc", _rounded(centre), _rounded((radius, radius)), _rounded(angles)):
            return
        if arc.full:
            self.space.add_circle(centre, radius, dxfattribs={"layer": layer})
        else:
            self.space.add_arc(centre, radius, *angles, dxfattribs={"layer": layer})

    def is_new(self, *key: Any) -> bool:
        """True the first time that a piece of geometry is drawn."""
        known = key in self.drawn
        self.drawn.add(key)
        return not known

    def lettering(self, layout: Layout, widths: tuple[float, float]) -> None:
        for stroke in layout.strokes:
            attributes = {"layer": LABELS, **self.key_attributes(stroke.kind, widths)}
            self.space.add_line(self.point(stroke.start), self.point(stroke.end), dxfattribs=attributes)
        for arrow in layout.arrows:
            a, b, c = (self.point(p) for p in arrow.corners)
            self.space.add_solid([a, b, c, c], dxfattribs={"layer": LABELS})
        for text in layout.texts:
            self.space.add_text(
                dxf_text(text.text, self.version),
                height=self.number(text.height),
                rotation=round(text.turn, PLACES) + 0.0,
                dxfattribs={"layer": LABELS, "style": LETTERING, "insert": self.point(text.at)},
            )

    def key_attributes(self, kind: str, widths: tuple[float, float]) -> dict[str, Any]:
        """Attributes with which a line of the key looks like those of its layer."""
        if kind == "plain":
            return {}
        return _attributes(PENS[_KEY_LAYERS[kind]], widths, self.version)


def empty_document(version: str, height: float, inches: bool, layers: tuple[str, ...]) -> Any:
    """An empty drawing with its unit, layers, and line types for lettering of ``height`` [mm]."""
    if version not in VERSIONS:
        raise ValueError(f"version {version!r} is none of {', '.join(VERSIONS)}")
    load_fonts()
    from ezdxf import units
    from ezdxf.document import Drawing

    with fixed_metadata():
        doc = Drawing.new(version)
    if version != "R12":
        doc.units = units.IN if inches else units.MM
    doc.header["$MEASUREMENT"] = 0 if inches else 1
    doc.header["$LUNITS"] = 2
    doc.header["$LUPREC"] = 4 if inches else 3
    widths = line_widths(height)
    for name in layers:
        doc.layers.add(name)
    if LABELS in layers:
        step = widths[1] / (words.MM_PER_INCH if inches else 1.0)
        doc.linetypes.add(DASHED, [15 * step, 12 * step, -3 * step], description="narrow dashed __ __ __ __")
        doc.linetypes.add(DOTTED, [4 * step, step, -3 * step], description="narrow dotted . . . . . . . .")
        doc.styles.add(LETTERING, font=FONT_FILE)
    if FORMS in layers:
        dots = [24 * step, -3 * step, step, -3 * step, step, -3 * step]
        doc.linetypes.add(
            DOUBLE_DOTTED, [35 * step, *dots], description="narrow long-dashed double-dotted ____ . . ____"
        )
    for name in layers:
        doc.layers.get(name).update_dxf_attribs(_attributes(PENS[name], widths, version))
    return doc


def _attributes(pen: Pen, widths: tuple[float, float], version: str) -> dict[str, Any]:
    attributes: dict[str, Any] = {"linetype": pen.linetype, "color": pen.number}
    if version != "R12":
        attributes["lineweight"] = round(100 * widths[0 if pen.wide else 1])
    if pen.shade is not None and version not in ("R12", "R2000"):
        red, green, blue = pen.shade
        attributes["true_color"] = red << 16 | green << 8 | blue
    return attributes


def set_view(doc: Any, points: list[Point], scale: float) -> None:
    """Extents in the header and a view of the whole drawing, for readers that open it; points [mm]."""
    xs, ys = ([p[i] * scale for p in points] for i in (0, 1))
    low, high = (round(min(xs), 6), round(min(ys), 6)), (round(max(xs), 6), round(max(ys), 6))
    space = doc.modelspace()
    space.reset_extents((*low, 0.0), (*high, 0.0))
    space.reset_limits(low, high)
    doc.header["$EXTMIN"], doc.header["$EXTMAX"] = (*low, 0.0), (*high, 0.0)
    doc.header["$LIMMIN"], doc.header["$LIMMAX"] = low, high
    middle = (round((low[0] + high[0]) / 2, 6), round((low[1] + high[1]) / 2, 6))
    size = max(high[1] - low[1], (high[0] - low[0]) * 0.6)
    doc.set_modelspace_vport(round(1.1 * size, 6), middle)


def _joined_pieces(loop: Loop) -> list[Piece]:
    """Pieces whose ends coincide: lines take theirs from the arcs beside them."""
    pieces = [p for p in loop if p.length > LEAST_PIECE]
    if len(pieces) < 2:
        return pieces
    joints = [
        after.start if isinstance(after, Arc) else before.end
        for before, after in zip(pieces, pieces[1:] + pieces[:1], strict=True)
    ]
    for i, piece in enumerate(pieces):
        if isinstance(piece, Arc):
            joints[i] = piece.end
    return [Line(joints[i - 1], joints[i]) if isinstance(piece, Line) else piece for i, piece in enumerate(pieces)]


def _rounded(point: Point) -> Point:
    """For comparison."""
    return (round(point[0], 6) + 0.0, round(point[1], 6) + 0.0)


def _positive(angle: float) -> float:
    """From 0 to less than 360 [deg]."""
    positive = round(angle % 360.0, PLACES) + 0.0
    return 0.0 if positive >= 360.0 else positive


def dxf_text(text: str, version: str) -> str:
    """Text for TEXT entities: degree sign and caret by their codes, no characters that a version lacks."""
    text = text.replace("^", "^ ").replace("°", "%%d")
    if version in ("R12", "R2000", "R2004"):
        text = "".join(c if ord(c) < 0x10000 else "\ufffd" for c in text)
    return text


@contextmanager
def fixed_metadata() -> Iterator[None]:
    """Keep the time of day and random identifiers out of what ezdxf writes."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
