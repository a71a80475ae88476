"""The faces of a template: their lettering, the sheets of paper that take them, and the drawing of each at 1:1.

Register marks lie in the drawing itself: both sheets of a joint show the same one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.flat_pattern import Arc, FlatPattern, Point
from flatgen.core.schedule import Face
from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import Paper
from flatgen.paper.drawing.labels import OutsideLabels
from flatgen.paper.drawing.on_metal import centre_marks
from flatgen.paper.drawing.text import Box, Layout, Text, drawable, line_widths
from flatgen.paper.templates import lines, words
from flatgen.paper.templates.furniture import MARGIN, SIDE, Band, TemplateRequest, sheet_frame, template_paragraphs
from flatgen.paper.templates.lines import Scene, SheetLabels, Subject
from flatgen.paper.templates.tiles import MARK, Frame, Tiling, diagonals, tile_box


@dataclass(frozen=True)
class DraftFace:
    """A face before its paper is known: labels on the blank as a whole, and those of the ``outside`` lines."""

    scene: Scene
    labels: SheetLabels
    leaders: OutsideLabels
    outside: tuple[int, ...] = ()

    @property
    def face(self) -> Face:
        return self.scene.subject.face

    def lost(self, labelled: frozenset[int]) -> tuple[int, ...]:
        """Lines without a label inside, for these ``labelled`` ones, or outside."""
        outside = {n for n in self.outside if n not in self.leaders.lost}
        return tuple(n for n in range(len(self.scene.subject.lines)) if n not in labelled and n not in outside)


@dataclass(frozen=True)
class FaceSheets:
    """A face on its sheets, its lettering, its drawing at 1:1, and lines without a label."""

    scene: Scene
    tiling: Tiling
    layout: Layout
    doc: Any
    lost: tuple[int, ...] = ()


def draft_face(request: TemplateRequest, face: Face, *, turned: bool, more: Sequence[int] = ()) -> DraftFace:
    """Letter a face as if its paper had no end; ``turned`` by 90 degrees.

    :param more: lines to label outside besides those that find no room
    """
    scene = Scene(
        lines.subject(request.part, request.flat, request.schedule, face=face, turned=turned, inches=request.inches)
    )
    placed = lines.sheet_labels(scene, scene.whole(), ())
    number = len(scene.subject.lines)
    outside = tuple(n for n in range(number) if n not in placed.labelled or n in more)
    return DraftFace(scene, placed, lines.outside_labels(scene, outside), outside)


def finish_face(request: TemplateRequest, draft: DraftFace, tiling: Tiling, *, turned: bool) -> FaceSheets:
    """Letter and draw a face for its sheets; ``turned`` by 90 degrees."""
    corners: tuple[Point, ...] = ()
    corner_texts: list[Text] = []
    if len(tiling.tiles) == 1 and not tiling.marks:
        placed = draft.labels
    else:
        blocked = _blocked(draft, tiling)
        if len(tiling.tiles) > 1:
            corners = _corners(request.flat, draft.face, turned)
            corner_texts = lines.corner_labels(draft.scene, corners, _windows_box(tiling), blocked)
        placed = _all_sheet_labels(draft.scene, tiling, blocked, corner_texts, corners)
    layout = Layout((*placed.texts, *corner_texts)) + draft.leaders.layout
    doc = face_document(draft.scene.subject, layout, tiling.marks, corners)
    return FaceSheets(draft.scene, tiling, layout, doc, draft.lost(placed.labelled))


def _blocked(draft: DraftFace, tiling: Tiling) -> list[Any]:
    """Joints, edges of windows, register marks and labels outside, which no lettering may touch."""
    import shapely

    leaders = draft.leaders.layout
    blocked: list[Any] = [shapely.LineString(edge) for edge in tiling.edges()]
    blocked += [shapely.Point(m).buffer(MARK + 0.5) for m in tiling.marks]
    blocked += [shapely.Polygon(t.box) for t in leaders.texts]
    return blocked + [shapely.LineString((s.start, s.end)) for s in leaders.strokes]


def _all_sheet_labels(
    scene: Scene, tiling: Tiling, blocked: list[Any], corner_texts: Sequence[Text], corners: Sequence[Point]
) -> SheetLabels:
    import shapely

    blocked = [*blocked, *(shapely.Polygon(t.box).buffer(0.5) for t in corner_texts)]
    blocked += [shapely.Point(c).buffer(lines.CIRCLE + 0.3) for c in corners]
    sheets = [lines.sheet_labels(scene, tile.core, blocked) for tile in tiling.tiles]
    texts = tuple(text for sheet in sheets for text in sheet.texts)
    return SheetLabels(texts, frozenset(n for sheet in sheets for n in sheet.labelled))


def _corners(flat: FlatPattern, face: Face, turned: bool) -> tuple[Point, ...]:
    """Ends of both diagonals; a corner has the same letter however the flat is laid."""
    (a, b), (c, d) = lines.move_pairs(diagonals(flat.outline), lines.paper_move(flat, face, turned))
    return (a, b, c, d)


def _windows_box(tiling: Tiling) -> Box:
    boxes = [t.window for t in tiling.tiles]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def face_document(subject: Subject, layout: Layout, registers: Sequence[Point], circles: Sequence[Point]) -> Any:
    """The drawing of a face at 1:1; ``registers``, ``circles``: register marks and corners to measure from [mm]."""
    flat = subject.flat
    layers = [document.OUTLINE, document.OPENINGS, *dict.fromkeys(line.layer for line in subject.lines)]
    layers += [document.TANGENTS] if any(line.tangents for line in subject.lines) else []
    layers += [document.FORMS] if flat.forms else []
    doc = document.empty_document("R2010", lines.HEIGHT, False, (*layers, document.LABELS))
    sheet = document.Sheet(doc, 1.0, "R2010")
    sheet.loop(lines.split_arcs(flat.outline), document.OUTLINE)
    for opening in flat.openings:
        sheet.loop(lines.split_arcs(opening), document.OPENINGS)
    for line in subject.lines:
        sheet.lines(list(line.stretches), line.layer)
    for line in subject.lines:
        sheet.lines(list(line.tangents), document.TANGENTS)
    for form in flat.forms:
        sheet.loop(lines.split_arcs(form), document.FORMS)
    for at in registers:
        sheet.arc(Arc(at, 0.6 * MARK, 0.0, 360.0), document.LABELS)
    for at in circles:
        sheet.arc(Arc(at, lines.CIRCLE, 0.0, 360.0), document.LABELS)
    strokes = tuple(s for at in registers for s in lines.register_mark(at)) + centre_marks(flat, lines.HEIGHT)
    layout = Layout(layout.texts, layout.strokes + strokes, layout.arrows)
    layout = replace(layout, texts=tuple(replace(t, text=drawable(t.text)) for t in layout.texts))
    sheet.lettering(layout, line_widths(lines.HEIGHT))
    document.set_view(doc, [*flat.outline.points(0.1), *layout.points()], 1.0)
    return doc


LONGEST = 5000.0
"""A page of PDF is at most 14400 units of 1/72 in long (ISO 32000-1, Annex C; memory): 5080 mm."""
LEAST_ROLL = 125.0
"""Shortest window on a roll, for the check bar along it [mm]."""
SHARES = (0.5, 0.25, 0.75, 0.0, 1.0)
"""Places of the sheets over the template that are tried."""
CLOSE = 2.0
"""A joint nearer than this to a parallel line is hard to cut [mm]."""
HAIR = 1e-6


@dataclass(frozen=True)
class SheetPlacement:
    """A template laid on paper."""

    turned: bool
    frame: Frame
    band: Band
    tiling: Tiling

    @property
    def cost(self) -> tuple[int, float, bool, bool]:
        """Sheets, then paper, then turning."""
        number = len(self.tiling.tiles)
        return (number, round(number * self.frame.wide * self.frame.tall), self.turned, self.frame.landscape)


@dataclass(frozen=True)
class Extent:
    """What sheets have to show, seen from the near face: box, shapes, lettering beyond the blank, and the places of
    upright and level lines [mm].
    """

    box: Box
    whole: Any
    beyond: tuple[Any, ...]
    lines: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())


def blank_extent(request: TemplateRequest, turned: bool) -> Extent:
    """The blank without anything beyond it, for a first guess; ``turned`` by 90 degrees."""
    import shapely

    x0, y0, x1, y1 = request.flat.box
    points = [(y1 - y, x - x0) if turned else (x - x0, y - y0) for x, y in request.flat.outline.points(0.1)]
    wide, tall = (y1 - y0, x1 - x0) if turned else (x1 - x0, y1 - y0)
    return Extent((-lines.PAD, -lines.PAD, wide + lines.PAD, tall + lines.PAD), shapely.Polygon(points), ())


def extent_of(drafts: Sequence[DraftFace]) -> Extent:
    """All that the sheets of a template show, seen from the near face."""
    import shapely

    flat = drafts[0].scene.subject.flat
    texts: list[Any] = []
    strokes: list[Any] = []
    for draft in drafts:
        far, leaders = draft.face == "far", draft.leaders.layout
        texts += [shapely.Polygon(_mirrored(t.box, flat.width, far)) for t in leaders.texts]
        strokes += [shapely.LineString(_mirrored((s.start, s.end), flat.width, far)) for s in leaders.strokes]
    metal, far = drafts[0].scene.metal, drafts[0].face == "far"
    if far:
        metal = shapely.transform(metal, lambda p: p * (-1.0, 1.0) + (flat.width, 0.0))
    whole = shapely.union_all([metal.buffer(lines.PAD / 2), *(t.buffer(lines.PAD) for t in texts), *strokes])
    x0, y0, x1, y1 = shapely.union_all([whole, shapely.box(*drafts[0].scene.whole())]).bounds
    pairs = [_mirrored(pair, flat.width, far) for line in drafts[0].scene.subject.lines for pair in line.stretches]
    upright = tuple(p[0] for p, q in pairs if abs(p[0] - q[0]) < HAIR)
    level = tuple(p[1] for p, q in pairs if abs(p[1] - q[1]) < HAIR)
    edges = ((0.0, flat.width), (0.0, flat.length))
    return Extent((x0, y0, x1, y1), whole, tuple(texts), ((*upright, *edges[0]), (*level, *edges[1])))


def _mirrored(points: Sequence[Point], width: float, far: bool) -> list[Point]:
    return [(width - x, y) if far else (x, y) for x, y in points]


def sheet_sizes(paper: Paper, box: Box) -> Iterator[tuple[float, float]]:
    """Width and height of a sheet, both ways round; of a roll the height of the ``box`` to show [mm]."""
    if paper.long is None:
        yield paper.narrow, box[3] - box[1]
    else:
        yield from ((paper.narrow, paper.long), (paper.long, paper.narrow))


def place_on_sheets(
    request: TemplateRequest, extent: Extent, sheet: tuple[float, float], *, turned: bool, lost: Sequence[str] = ()
) -> SheetPlacement:
    """The fewest sheets of one size from :func:`sheet_sizes`; a single one needs less text, and is tried first."""
    box = extent.box
    frame, band = _frame(request, sheet, several=False, turned=turned, lost=lost)
    if box[2] - box[0] <= frame.room[0] + HAIR and box[3] - box[1] <= frame.room[1] + HAIR:
        return SheetPlacement(turned, frame, band, tile_box(frame, box, extent.whole))
    frame, band = _frame(request, sheet, several=True, turned=turned, lost=lost)
    _, tiling = min(_tilings(frame, extent), key=lambda pair: pair[0])
    return SheetPlacement(turned, frame, band, tiling)


def _tilings(frame: Frame, extent: Extent) -> Iterator[tuple[tuple[int, int, int], Tiling]]:
    """Ways to lay sheets over a box, each with the number of sheets and of conflicts, and its own number."""
    for n, share in enumerate(itertools.product(SHARES, SHARES)):
        tiling = tile_box(frame, extent.box, extent.whole, share)
        bad = _conflicts(tiling, extent)
        yield (len(tiling.tiles), bad, n), tiling
        if not bad and len(tiling.tiles) == tiling.rows * tiling.columns:
            return


def _conflicts(tiling: Tiling, extent: Extent) -> int:
    """Texts that no sheet shows whole, times ten, and lines that run along a joint."""
    import shapely

    bad = 0
    for axis in (0, 1):
        joints = {t.core[axis] for t in tiling.tiles} - {min(t.core[axis] for t in tiling.tiles)}
        bad += sum(abs(at - line) < CLOSE for at in joints for line in extent.lines[axis])
    if extent.beyond:
        windows = [shapely.box(*t.window) for t in tiling.tiles]
        bad += 10 * sum(not shapely.covers(windows, text).any() for text in extent.beyond)
    return bad


def _frame(
    request: TemplateRequest, sheet: tuple[float, float], *, several: bool, turned: bool, lost: Sequence[str]
) -> tuple[Frame, Band]:
    text = template_paragraphs(request, several=several, turned=turned, lost=lost)
    place = words.longest_place(max(request.flat.width, request.flat.length)) if several else words.whole(8, 8)
    frame, band = sheet_frame(*sheet, request.title, text, place, mapped=several)
    if request.sheet_paper.long is None:
        tall = max(sheet[1], LEAST_ROLL) + frame.at[1] + MARGIN + SIDE
        frame, band = sheet_frame(sheet[0], min(tall, LONGEST), request.title, text, place, mapped=several)
    return frame, band
