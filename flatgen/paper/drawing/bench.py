"""The bench drawing: a blank with the sight lines of one brake, at 1:1, to mark out by.

OUTLINE     edge of the blank
OPENINGS    edges of openings
SIGHT_NEAR  sight lines of up bends, to be marked on the near face
SIGHT_FAR   sight lines of down bends, to be marked on the far face
LABELS      all lettering, with its leaders, dimension lines and key

A sight line lies where the front of the nose is put; it is no bend line, and neither bend lines nor tangent lines
are here. Each is good for the held side that it names and for no other. Lines are drawn on metal only: one that
lies off the blank is told in the text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Bend, FlatPattern, Line, Loop, Point, Segment
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing import document, on_metal, words
from flatgen.paper.drawing.bench_facts import notes_of_bench
from flatgen.paper.drawing.document import LABELS, OPENINGS, OUTLINE, SIGHT_FAR, SIGHT_NEAR
from flatgen.paper.drawing.paper import Layout, lettering_height, line_widths
from flatgen.paper.drawing.surround import Rows

LAYERS = (OUTLINE, OPENINGS, SIGHT_NEAR, SIGHT_FAR, LABELS)
Pair = tuple[Point, Point]
Marks = Literal["lines", "ticks", "none"]
TICK = 6.0
"""Length of a witness tick [mm]."""


@dataclass(frozen=True)
class SightLine:
    """The line of one stage: where it lies, and its stretches on metal, in order [mm]."""

    stage: Stage
    line: Pair
    stretches: tuple[Pair, ...]


def sight_lines(flat: FlatPattern, schedule: Schedule) -> tuple[SightLine, ...]:
    """Sight lines of a schedule on its flat, as long as the bends.

    Parameters
    ----------
    flat : FlatPattern
        The flat that the schedule was made for, [mm]
    schedule : Schedule
        Its stages, [mm]

    Returns
    -------
    tuple[SightLine, ...]
        In the order of bending, [mm]

    Raises
    ------
    ValueError
        If the schedule was made without the flat.
    """
    metal = on_metal.Metal(flat)
    found = []
    for stage in schedule.stages:
        crease = stage.crease
        if crease.ends is None:
            raise ValueError(f"bend {crease.label} has no place on the flat")
        (x, y), (u, v) = crease.ends[0], crease.across
        shift = stage.sight.from_datum - (x * u + y * v)
        start, end = ((p[0] + shift * u, p[1] + shift * v) for p in crease.ends)
        found.append(SightLine(stage, (start, end), tuple(metal.stretches(start, end))))
    return tuple(found)


def bench_document(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule,
    findings: tuple[Finding, ...],
    *,
    version: str = "R2010",
    inches: bool = False,
    marks: Marks = "lines",
) -> Any:
    """Draw the sight lines of a part for one brake.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule
        Made for the flat, [mm]
    findings : tuple[Finding, ...]
        Of part and schedule, [-]
    version : str
        Version of DXF, [-]
    inches : bool
        Draw in inches instead of millimetres, [-]
    marks : str
        ``lines``; ``ticks`` at the ends of each only, for a machine that must not score a face that is stretched;
        ``none``: the text alone, [-]

    Returns
    -------
    ezdxf.document.Drawing
        Everything in modelspace, scale 1:1
    """
    lines = sight_lines(flat, schedule)
    height = lettering_height(flat)
    off = frozenset(line.stage.crease.label for line in lines if not line.stretches)
    notes = notes_of_bench(part, flat, schedule, findings, off, inches=inches)
    layout = _lettering(part, flat, lines, notes, inches)
    doc = document.empty_document(version, height, inches, LAYERS)
    sheet = document.Sheet(doc, 1.0 / words.MM_PER_INCH if inches else 1.0, version)
    sheet.loop(flat.outline, OUTLINE)
    for opening in flat.openings:
        sheet.loop(opening, OPENINGS)
    for line in lines:
        sheet.lines(marked_as(line, marks), SIGHT_NEAR if line.stage.sight.face == "near" else SIGHT_FAR)
    sheet.lettering(layout, line_widths(height))
    document.set_view(doc, [*flat.outline.points(0.1), *layout.points()], sheet.scale)
    return doc


def marked_as(line: SightLine, marks: Marks) -> list[Pair]:
    """What is drawn of a sight line: its stretches on metal, or ticks at the ends of each.

    Parameters
    ----------
    line : SightLine
        The line, [mm]
    marks : str
        ``lines``, ``ticks`` or ``none``, [-]

    Returns
    -------
    list[tuple]
        Pairs of points; a tick is ``TICK`` long, or a third of its stretch where that is less, [mm]
    """
    if marks == "lines":
        return list(line.stretches)
    found: list[Pair] = []
    for a, b in line.stretches if marks == "ticks" else ():
        size = math.dist(a, b)
        share = min(TICK, size / 3.0) / size if size > 0 else 0.0
        step = ((b[0] - a[0]) * share, (b[1] - a[1]) * share)
        found += [(a, (a[0] + step[0], a[1] + step[1])), ((b[0] - step[0], b[1] - step[1]), b)]
    return found


def _lettering(part: Part, flat: FlatPattern, lines: tuple[SightLine, ...], notes: Any, inches: bool) -> Layout:
    """Labels, sizes, notes and key: the machinery of the flat's drawing, told of other lines."""
    bends = {b.label: b for b in flat.bends}
    shown = [line for line in lines if line.stretches]
    moved = tuple(_moved(bends[line.stage.crease.label], line) for line in shown)
    stages = {line.stage.crease.label: line.stage for line in shown}
    marked = replace(flat, bends=moved, panels=flat.panels[: len(moved) + 1], root=0)

    def text_of(bend: Bend, form: words.Form) -> str:
        stage = stages[bend.label]
        leg = stage.crease.side(stage.sight.held).leg
        name = part.leg_name(leg) or part.leg_text(leg)
        return words.sight(
            stage.number, bend.label, stage.crease.way, stage.crease.angle, name, side_of(stage), form=form
        )

    return document.lettered(flat, marked, notes, text_of, _key(shown), inches=inches)


def _moved(bend: Bend, line: SightLine) -> Bend:
    """A bend with its lines where the sight line is, for the placing of labels."""
    none = Loop((Line(*line.line),))
    segments = tuple(Segment(none, (), pair, (pair, pair)) for pair in line.stretches)
    return replace(bend, allowance=0.0, segments=segments, origin=line.line[0])


def side_of(stage: Stage) -> str:
    """Where the held side lies beside its line as drawn; empty where lines are slanted."""
    (u, v), first = stage.crease.across, stage.sight.held == "first"
    if math.isclose(abs(u), 1.0, abs_tol=1e-9):
        return "left" if first else "right"
    if math.isclose(abs(v), 1.0, abs_tol=1e-9):
        return "below" if first else "above"
    return ""


def _key(lines: list[SightLine]) -> Rows:
    faces = {line.stage.sight.face for line in lines}
    rows: Rows = (("wide", words.KEY_OUTLINE),)
    rows += (("sight near", words.KEY_SIGHT_NEAR),) if "near" in faces else ()
    return rows + ((("sight far", words.KEY_SIGHT_FAR),) if "far" in faces else ())
