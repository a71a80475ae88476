"""What a template shows: the blank as it lies on the paper, turned or seen from its far face, and the lines on it.

With a schedule the lines are its sight lines, else bend lines with their tangent lines. On the near face's template
all of them are drawn; on that of the far face only those that are marked there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Matrix, Piece, Point, Segment
from flatgen.core.schedule import Face, Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing import bench, document, labels, on_metal
from flatgen.paper.drawing import words as house
from flatgen.paper.drawing.facts import leg_texts
from flatgen.paper.templates import words

Pair: TypeAlias = tuple[Point, Point]
FAR_LAYERS = (document.SIGHT_FAR, document.BEND_FAR)
"""Lines that are marked on the far face."""
SMALL_ARC, LEAST_TURN = 20.0, 30.0
"""Arcs of a larger radius [mm] are drawn in pieces of at most so many degrees: viewers and plotters make them of
curves that stray from an arc of 90 degrees by 0.03 % of its radius."""


@dataclass(frozen=True)
class MarkedLine:
    """A line to mark: its bend with the stretches on metal as its segments, its layer, and what stands at it."""

    bend: Bend
    layer: str
    long: str
    short: str
    least: str
    tangents: tuple[Pair, ...] = ()

    @property
    def stretches(self) -> tuple[Pair, ...]:
        """Where it is drawn [mm]."""
        return tuple(s.centre for s in self.bend.segments)


@dataclass(frozen=True)
class Subject:
    """A blank as it lies on the paper, its lower left corner at the origin, and its lines; ``off``: bends without."""

    flat: FlatPattern
    lines: tuple[MarkedLine, ...]
    legs: tuple[str, ...]
    face: Face
    sight: bool
    off: tuple[str, ...] = ()


def subject(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule | None,
    *,
    face: Face = "near",
    turned: bool = False,
    inches: bool = False,
) -> Subject:
    """What a template of one face shows.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule | None
        Made for the flat, or None where no brake is known, [mm]
    face : Face
        That which is looked at, [-]
    turned : bool
        By 90 degrees, [-]
    inches : bool
        Sizes in inches before those in millimetres, [-]

    Returns
    -------
    Subject
        In millimetres of the paper, [mm]
    """
    move = placing(flat, face, turned)
    shown = flat.moved(move)
    if schedule is None:
        lines = _bend_lines(flat, shown, move, inches)
        off: tuple[str, ...] = ()
    else:
        lines = _sight_lines(part, flat, schedule, shown, move)
        drawn = {line.bend.label for line in lines}
        off = tuple(s.crease.label for s in schedule.stages if s.crease.label not in drawn)
    if face == "far":
        lines = [line for line in lines if line.layer in FAR_LAYERS]
    return Subject(shown, tuple(lines), leg_texts(part, flat), face, schedule is not None, off)


def placing(flat: FlatPattern, face: Face, turned: bool) -> Matrix:
    """How a flat is laid on the paper: turned to the left by 90 degrees, then turned over, left for right.

    Parameters
    ----------
    flat : FlatPattern
        The flat, [mm]
    face : Face
        That which is looked at, [-]
    turned : bool
        By 90 degrees, [-]

    Returns
    -------
    Matrix
        3 x 3, its lower left corner at the origin, [mm]
    """
    x0, y0, x1, y1 = flat.box
    move = np.array([[0.0, -1.0, y1], [1.0, 0.0, -x0], [0.0, 0.0, 1.0]]) if turned else np.eye(3)
    if not turned:
        move[:2, 2] = (-x0, -y0)
    if face == "near":
        return move
    width = y1 - y0 if turned else x1 - x0
    mirror: Matrix = np.array([[-1.0, 0.0, width], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    return mirror @ move


def _sight_lines(
    part: Part, flat: FlatPattern, schedule: Schedule, shown: FlatPattern, move: Matrix
) -> list[MarkedLine]:
    bends = {b.label: b for b in shown.bends}
    found = []
    for line in bench.sight_lines(flat, schedule):
        if not line.stretches:
            continue
        stage = line.stage
        crease, which = stage.crease, stage.sight.face
        leg = crease.side(stage.sight.held).leg
        held = part.leg_name(leg) or part.leg_text(leg)
        side = bench.side_of(_moved_stage(stage, move))
        long = house.sight(stage.number, crease.label, crease.way, crease.angle, held, "", form="long")
        found.append(
            MarkedLine(
                along(bends[crease.label], moved(line.stretches, move)),
                document.SIGHT_NEAR if which == "near" else document.SIGHT_FAR,
                words.long_label(long, which, side),
                words.short_label(stage.number, crease.label, which, held, side),
                words.least_label(stage.number, crease.label, which),
            )
        )
    return found


def _moved_stage(stage: Stage, move: Matrix) -> Stage:
    """A stage whose held side lies where the paper shows it."""
    u, v = (move[:2, :2] @ np.asarray(stage.crease.across)).tolist()
    return replace(stage, crease=replace(stage.crease, across=(u, v)))


def _bend_lines(flat: FlatPattern, shown: FlatPattern, move: Matrix, inches: bool) -> list[MarkedLine]:
    metal = on_metal.Metal(flat)
    found = []
    for bend, own in zip(flat.bends, shown.bends, strict=True):
        stretches = [pair for s in bend.segments for pair in metal.stretches(*s.centre)]
        tangents = [pair for s in bend.segments for t in s.tangents for pair in metal.stretches(*t)]
        which: Face = "near" if bend.way == "up" else "far"
        if not stretches:
            continue
        found.append(
            MarkedLine(
                along(own, moved(stretches, move), own.allowance),
                document.BEND_NEAR if which == "near" else document.BEND_FAR,
                words.long_label(labels.bend_text(bend, "long", inches), which),
                words.long_label(labels.bend_text(bend, "short", inches), which),
                words.least_label(bend.order, bend.label, which),
                moved(tangents, move),
            )
        )
    return found


def along(bend: Bend, stretches: Iterable[Pair], allowance: float = 0.0) -> Bend:
    """A bend whose lines are these stretches, for the placing of labels.

    Parameters
    ----------
    bend : Bend
        Whose label it is, [mm]
    stretches : Iterable[Pair]
        At least one, [mm]
    allowance : float
        Room about the line that no label takes, [mm]

    Returns
    -------
    Bend
        With one segment for each stretch, [mm]
    """
    pairs = tuple(stretches)
    segments = tuple(Segment(Loop((Line(*pair),)), (), pair, (pair, pair)) for pair in pairs)
    return replace(bend, allowance=allowance, segments=segments, origin=pairs[0][0])


def moved(pairs: Iterable[Pair], move: Matrix) -> tuple[Pair, ...]:
    """Lines carried by a move of the plane.

    Parameters
    ----------
    pairs : Iterable[Pair]
        Their ends, [mm]
    move : Matrix
        3 x 3, [mm]

    Returns
    -------
    tuple[Pair, ...]
        Their ends, [mm]
    """
    (a, b, x), (c, d, y) = move[:2].tolist()
    return tuple(
        ((a * p[0] + b * p[1] + x, c * p[0] + d * p[1] + y), (a * q[0] + b * q[1] + x, c * q[0] + d * q[1] + y))
        for p, q in pairs
    )


def fine(loop: Loop) -> Loop:
    """A loop whose large arcs come in pieces.

    Parameters
    ----------
    loop : Loop
        Any, [mm]

    Returns
    -------
    Loop
        The same line, [mm]
    """
    pieces: list[Piece] = []
    for piece in loop:
        if isinstance(piece, Line) or piece.radius <= SMALL_ARC:
            pieces.append(piece)
            continue
        number = max(1, int(np.ceil(abs(piece.sweep) / LEAST_TURN - 1e-9)))
        step = piece.sweep / number
        pieces += [Arc(piece.centre, piece.radius, piece.first + k * step, step) for k in range(number)]
    return Loop(tuple(pieces))
