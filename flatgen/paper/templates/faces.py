"""The faces of a template: register marks, lettering clear of them, and the drawing of each at 1:1.

Nothing is drawn twice: register marks lie in the drawing itself, so that both sheets of a joint show the same one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.flat_pattern import Arc, FlatPattern, Point
from flatgen.core.schedule import Face
from flatgen.paper.drawing import document, leaders, marks, typeface
from flatgen.paper.drawing.paper import Layout, Text, line_widths
from flatgen.paper.templates.about import Job
from flatgen.paper.templates.lettering import (
    CIRCLE,
    HEIGHT,
    Scene,
    Sheeted,
    corner_labels,
    led_out,
    on_sheet,
    register_mark,
)
from flatgen.paper.templates.lines import Subject, fine, moved, placing, subject
from flatgen.paper.templates.tiles import MARK, Box, Tiling, diagonals


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

    Parameters
    ----------
    job : Job
        What is asked for, [mm]
    face : Face
        Which, [-]
    turned : bool
        By 90 degrees, [-]
    more : Sequence[int]
        Lines to lead out besides those that find no room, [-]

    Returns
    -------
    Begun
        In millimetres of the paper, [mm]
    """
    scene = Scene(subject(job.part, job.flat, job.schedule, face=face, turned=turned, inches=job.inches))
    placed = on_sheet(scene, scene.whole(), ())
    number = len(scene.subject.lines)
    outside = tuple(n for n in range(number) if n not in placed.labelled or n in more)
    return Begun(scene, placed, led_out(scene, outside), outside)


def finished(job: Job, begun: Begun, tiling: Tiling, *, turned: bool) -> FaceSheets:
    """A face on its sheets.

    Parameters
    ----------
    job : Job
        What is asked for, [mm]
    begun : Begun
        The face, [mm]
    tiling : Tiling
        Its sheets, with register marks, [mm]
    turned : bool
        By 90 degrees, [-]

    Returns
    -------
    FaceSheets
        With its drawing, [mm]
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

    Parameters
    ----------
    shown : Subject
        The blank and its lines, [mm]
    layout : Layout
        Its lettering, [mm]
    registers, circles : Sequence[Point]
        Middles of register marks, and corners that are measured from, [mm]

    Returns
    -------
    ezdxf.document.Drawing
        Everything in modelspace, in [mm]
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
