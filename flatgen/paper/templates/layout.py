"""The faces of a template: register marks, lettering clear of them, and the drawing of each at 1:1.

Nothing is drawn twice: register marks lie in the drawing itself, so that both sheets of a joint show the same one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.flat_pattern import Arc, FlatPattern, Point
from flatgen.core.schedule import Face
from flatgen.paper.drawing import document
from flatgen.paper.drawing import labels as leaders
from flatgen.paper.drawing import on_metal as marks
from flatgen.paper.drawing import text as typeface
from flatgen.paper.drawing.ink import Paper
from flatgen.paper.drawing.text import Layout, Text, line_widths
from flatgen.paper.templates import words
from flatgen.paper.templates.furniture import MARGIN, SIDE, Band, Job, frame_of, said
from flatgen.paper.templates.lines import (
    CIRCLE,
    HEIGHT,
    PAD,
    Scene,
    Sheeted,
    Subject,
    corner_labels,
    fine,
    led_out,
    moved,
    on_sheet,
    placing,
    register_mark,
    subject,
)
from flatgen.paper.templates.tiles import MARK, Box, Frame, Tiling, diagonals, tiled


@dataclass(frozen=True)
class Begun:
    """A face before its paper is known: the labels that stand on the blank as a whole, and those led out."""

    scene: Scene
    placed: Sheeted
    led: leaders.LedOut
    outside: tuple[int, ...] = ()

    @property
    def face(self) -> Face:
        """That which is looked at."""
        return self.scene.subject.face

    def lost(self, labelled: frozenset[int]) -> tuple[int, ...]:
        """Lines without a label where these have one, or one led out."""
        led = {n for n in self.outside if n not in self.led.lost}
        return tuple(n for n in range(len(self.scene.subject.lines)) if n not in labelled and n not in led)


@dataclass(frozen=True)
class FaceSheets:
    """A face: what is shown, its sheets, its lettering, its drawing at 1:1, and lines without a label."""

    scene: Scene
    tiling: Tiling
    layout: Layout
    doc: Any
    lost: tuple[int, ...] = ()


def begin(job: Job, face: Face, *, turned: bool, more: Sequence[int] = ()) -> Begun:
    """Letter a face as if its paper had no end.

    :param turned: by 90 degrees
    :param more: lines to lead out besides those that find no room
    """
    scene = Scene(subject(job.part, job.flat, job.schedule, face=face, turned=turned, inches=job.inches))
    placed = on_sheet(scene, scene.whole(), ())
    number = len(scene.subject.lines)
    outside = tuple(n for n in range(number) if n not in placed.labelled or n in more)
    return Begun(scene, placed, led_out(scene, outside), outside)


def finished(job: Job, begun: Begun, tiling: Tiling, *, turned: bool) -> FaceSheets:
    """A face on its sheets.

    :param turned: by 90 degrees
    """
    corners: tuple[Point, ...] = ()
    named: list[Text] = []
    if len(tiling.tiles) == 1 and not tiling.marks:
        sheeted = begun.placed
    else:
        blocked = _blocked(begun, tiling)
        if len(tiling.tiles) > 1:
            corners = _corners(job.flat, begun.face, turned)
            named = corner_labels(begun.scene, corners, _reach(tiling), blocked)
        sheeted = _sheeted(begun.scene, tiling, blocked, named, corners)
    layout = Layout((*sheeted.texts, *named)) + begun.led.layout
    doc = drawing(begun.scene.subject, layout, tiling.marks, corners)
    return FaceSheets(begun.scene, tiling, layout, doc, begun.lost(sheeted.labelled))


def _blocked(begun: Begun, tiling: Tiling) -> list[Any]:
    """Joints, edges of windows, register marks, and labels led out, where no lettering may be."""
    import shapely

    led = begun.led.layout
    found: list[Any] = [shapely.LineString(edge) for edge in tiling.edges()]
    found += [shapely.Point(m).buffer(MARK + 0.5) for m in tiling.marks]
    found += [shapely.Polygon(t.box) for t in led.texts]
    return found + [shapely.LineString((s.start, s.end)) for s in led.strokes]


def _sheeted(
    scene: Scene, tiling: Tiling, blocked: list[Any], named: Sequence[Text], corners: Sequence[Point]
) -> Sheeted:
    """Labels on every sheet."""
    import shapely

    blocked = [*blocked, *(shapely.Polygon(t.box).buffer(0.5) for t in named)]
    blocked += [shapely.Point(c).buffer(CIRCLE + 0.3) for c in corners]
    found = [on_sheet(scene, tile.core, blocked) for tile in tiling.tiles]
    texts = tuple(text for sheet in found for text in sheet.texts)
    return Sheeted(texts, frozenset(n for sheet in found for n in sheet.labelled))


def _corners(flat: FlatPattern, face: Face, turned: bool) -> tuple[Point, ...]:
    """Ends of both diagonals: the same corner has the same letter, however the flat is laid."""
    (a, b), (c, d) = moved(diagonals(flat.outline), placing(flat, face, turned))
    return (a, b, c, d)


def _reach(tiling: Tiling) -> Box:
    boxes = [t.window for t in tiling.tiles]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def drawing(shown: Subject, layout: Layout, registers: Sequence[Point], circles: Sequence[Point]) -> Any:
    """The drawing of a face at 1:1.

    :param registers, circles: middles of register marks, and corners that are measured from [mm]
    """
    flat = shown.flat
    layers = [document.OUTLINE, document.OPENINGS, *dict.fromkeys(line.layer for line in shown.lines)]
    layers += [document.TANGENTS] if any(line.tangents for line in shown.lines) else []
    layers += [document.FORMS] if flat.forms else []
    doc = document.empty_document("R2010", HEIGHT, False, (*layers, document.LABELS))
    sheet = document.Sheet(doc, 1.0, "R2010")
    sheet.loop(fine(flat.outline), document.OUTLINE)
    for opening in flat.openings:
        sheet.loop(fine(opening), document.OPENINGS)
    for line in shown.lines:
        sheet.lines(list(line.stretches), line.layer)
    for line in shown.lines:
        sheet.lines(list(line.tangents), document.TANGENTS)
    for form in flat.forms:
        sheet.loop(fine(form), document.FORMS)
    for at in registers:
        sheet.arc(Arc(at, 0.6 * MARK, 0.0, 360.0), document.LABELS)
    for at in circles:
        sheet.arc(Arc(at, CIRCLE, 0.0, 360.0), document.LABELS)
    strokes = tuple(s for at in registers for s in register_mark(at)) + marks.centre_marks(flat, HEIGHT)
    layout = Layout(layout.texts, layout.strokes + strokes, layout.arrows)
    layout = replace(layout, texts=tuple(replace(t, text=typeface.drawable(t.text)) for t in layout.texts))
    sheet.lettering(layout, line_widths(HEIGHT))
    document.set_view(doc, [*flat.outline.points(0.1), *layout.points()], 1.0)
    return doc


LONGEST = 5000.0
"""A page of PDF is at most 14400 units of 1/72 in long (ISO 32000-1, Annex C; memory): 5080 mm."""

LEAST_ROLL = 125.0
"""Shortest window on a roll, for the check bar along it [mm]."""

SHARES = (0.5, 0.25, 0.75, 0.0, 1.0)
"""Where sheets are tried to lie over the template."""

CLOSE = 2.0
"""A joint nearer than this to a line along it is hard to cut [mm]."""

HAIR = 1e-6


@dataclass(frozen=True)
class Way:
    """One way to lay a template on paper."""

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
class Shown:
    """What sheets are to show, as seen from the near face: its box, its shapes, the lettering beyond the blank, and
    the places of straight lines, upright and level [mm].
    """

    box: Box
    whole: Any
    beyond: tuple[Any, ...]
    lines: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())


def blank_alone(job: Job, turned: bool) -> Shown:
    """The blank without anything beyond it, for a first guess.

    :param turned: by 90 degrees
    """
    import shapely

    x0, y0, x1, y1 = job.flat.box
    points = [(y1 - y, x - x0) if turned else (x - x0, y - y0) for x, y in job.flat.outline.points(0.1)]
    wide, tall = (y1 - y0, x1 - x0) if turned else (x1 - x0, y1 - y0)
    return Shown((-PAD, -PAD, wide + PAD, tall + PAD), shapely.Polygon(points), ())


def shown(begun: Sequence[Begun]) -> Shown:
    """All that the sheets of a template show.

    :returns: as seen from the near face
    """
    import shapely

    flat = begun[0].scene.subject.flat
    texts: list[Any] = []
    strokes: list[Any] = []
    for face in begun:
        mirror = face.face == "far"
        texts += [shapely.Polygon(_seen(t.box, flat.width, mirror)) for t in face.led.layout.texts]
        strokes += [shapely.LineString(_seen((s.start, s.end), flat.width, mirror)) for s in face.led.layout.strokes]
    metal, mirror = begun[0].scene.metal, begun[0].face == "far"
    if mirror:
        metal = shapely.transform(metal, lambda p: p * (-1.0, 1.0) + (flat.width, 0.0))
    whole = shapely.union_all([metal.buffer(PAD / 2), *(t.buffer(PAD) for t in texts), *strokes])
    x0, y0, x1, y1 = shapely.union_all([whole, shapely.box(*begun[0].scene.whole())]).bounds
    pairs = [_seen(pair, flat.width, mirror) for line in begun[0].scene.subject.lines for pair in line.stretches]
    upright = tuple(p[0] for p, q in pairs if abs(p[0] - q[0]) < HAIR)
    level = tuple(p[1] for p, q in pairs if abs(p[1] - q[1]) < HAIR)
    edges = ((0.0, flat.width), (0.0, flat.length))
    return Shown((x0, y0, x1, y1), whole, tuple(texts), ((*upright, *edges[0]), (*level, *edges[1])))


def _seen(points: Sequence[Point], width: float, mirror: bool) -> list[Point]:
    return [(width - x, y) if mirror else (x, y) for x, y in points]


def sheets_for(paper: Paper, box: Box) -> Iterator[tuple[float, float]]:
    """Sizes of a sheet: both ways round, or a roll with what is to stand on it.

    :param box: to be shown [mm]
    :yields: wide and tall, of a roll the height to be shown [mm]
    """
    if paper.long is None:
        yield paper.narrow, box[3] - box[1]
    else:
        yield from ((paper.narrow, paper.long), (paper.long, paper.narrow))


def way_of(job: Job, what: Shown, sheet: tuple[float, float], *, turned: bool, lost: Sequence[str] = ()) -> Way:
    """The fewest sheets of one size; one alone needs less text, so that is tried first.

    :param sheet: from ``sheets_for`` [mm]
    :param turned: by 90 degrees
    """
    box = what.box
    frame, band = _frame(job, sheet, several=False, turned=turned, lost=lost)
    if box[2] - box[0] <= frame.room[0] + HAIR and box[3] - box[1] <= frame.room[1] + HAIR:
        return Way(turned, frame, band, tiled(frame, box, what.whole))
    frame, band = _frame(job, sheet, several=True, turned=turned, lost=lost)
    _, tiling = min(_lain(frame, what), key=lambda pair: pair[0])
    return Way(turned, frame, band, tiling)


def _lain(frame: Frame, what: Shown) -> Iterator[tuple[tuple[int, int, int], Tiling]]:
    """Ways to lay sheets over a box, each with how many they are, and how much lettering or which lines joints meet."""
    for n, share in enumerate(itertools.product(SHARES, SHARES)):
        tiling = tiled(frame, what.box, what.whole, share)
        bad = _cut(tiling, what)
        yield (len(tiling.tiles), bad, n), tiling
        if not bad and len(tiling.tiles) == tiling.rows * tiling.columns:
            return


def _cut(tiling: Tiling, what: Shown) -> int:
    """Texts that no sheet shows whole, and lines that run along a joint."""
    import shapely

    bad = 0
    for axis in (0, 1):
        joints = {t.core[axis] for t in tiling.tiles} - {min(t.core[axis] for t in tiling.tiles)}
        bad += sum(abs(at - line) < CLOSE for at in joints for line in what.lines[axis])
    if what.beyond:
        windows = [shapely.box(*t.window) for t in tiling.tiles]
        bad += 10 * sum(not shapely.covers(windows, text).any() for text in what.beyond)
    return bad


def _frame(
    job: Job, sheet: tuple[float, float], *, several: bool, turned: bool, lost: Sequence[str]
) -> tuple[Frame, Band]:
    if job.paper is None:
        raise ValueError("a plotter has no sheets")
    text = said(job, several=several, turned=turned, lost=lost)
    place = words.longest_place(max(job.flat.width, job.flat.length)) if several else words.whole(8, 8)
    frame, band = frame_of(*sheet, job.title, text, place, mapped=several)
    if job.paper.long is None:
        tall = max(sheet[1], LEAST_ROLL) + frame.at[1] + MARGIN + SIDE
        frame, band = frame_of(sheet[0], min(tall, LONGEST), job.title, text, place, mapped=several)
    return frame, band
