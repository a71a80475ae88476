"""The blank as it lies on the paper, turned or seen from its far face, with its lines and their labels.

With a schedule the lines are its sight lines, else bend lines with their tangent lines. The near face's template has
all of them, that of the far face only those marked there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Matrix, Panel, Piece, Point
from flatgen.core.schedule import Face, Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing import bench, document, labels, on_metal
from flatgen.paper.drawing import words as drawing_words
from flatgen.paper.drawing.bench import Pair, bend_along
from flatgen.paper.drawing.facts import leg_texts
from flatgen.paper.drawing.text import Box, Layout, Stroke, Text, drawable, text_width
from flatgen.paper.templates import words
from flatgen.paper.templates.tiles import MARK

FAR_LAYERS = (document.SIGHT_FAR, document.BEND_FAR)
"""Lines that are marked on the far face."""
SMALL_ARC, LEAST_TURN = 20.0, 30.0
"""Arcs of a larger radius [mm] are drawn in pieces of at most this [deg]: viewers and plotters make curves of them
that stray from an arc of 90 degrees by 0.03 % of its radius."""
HEIGHT, SMALL = 3.5, 2.5
"""Largest and least lettering [mm]."""
CIRCLE = 1.5
"""Radius of the circle about a corner to measure from [mm]."""
PAD = 1.0
"""Room about the blank that a sheet shows, for half the width of its edge [mm]."""


@dataclass(frozen=True)
class MarkedLine:
    """A line to mark: its bend with the stretches on metal as segments, its layer, and labels of three lengths."""

    bend: Bend
    layer: str
    long: str
    short: str
    least: str
    tangents: tuple[Pair, ...] = ()

    @property
    def stretches(self) -> tuple[Pair, ...]:
        return tuple(s.centre for s in self.bend.segments)


@dataclass(frozen=True)
class Subject:
    """A blank on the paper, its lower left corner at the origin, and its lines; ``off``: bends without a line."""

    flat: FlatPattern
    lines: tuple[MarkedLine, ...]
    legs: tuple[str, ...]
    face: Face
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
    """The subject of one face of a template.

    :param schedule: None where no brake is known
    :param turned: by 90 degrees
    :param inches: sizes in inches before those in millimetres
    """
    move = paper_move(flat, face, turned)
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
    return Subject(shown, tuple(lines), leg_texts(part, flat), face, off)


def paper_move(flat: FlatPattern, face: Face, turned: bool) -> Matrix:
    """The 3 x 3 move of a flat to the paper [mm]: ``turned`` left by 90 degrees, for the far face mirrored in x.

    The lower left corner comes to the origin.
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
    lines = []
    for line in bench.sight_lines(flat, schedule):
        if not line.stretches:
            continue
        stage = line.stage
        crease, which = stage.crease, stage.sight.face
        leg = crease.side(stage.sight.held).leg
        held = part.leg_name(leg) or part.leg_text(leg)
        side = bench.side_of(_moved_stage(stage, move))
        long = drawing_words.sight(stage.number, crease.label, crease.way, crease.angle, held, "", form="long")
        lines.append(
            MarkedLine(
                bend_along(bends[crease.label], move_pairs(line.stretches, move)),
                document.SIGHT_NEAR if which == "near" else document.SIGHT_FAR,
                words.long_label(long, which, side),
                words.short_label(stage.number, crease.label, which, held, side),
                words.least_label(stage.number, crease.label, which),
            )
        )
    return lines


def _moved_stage(stage: Stage, move: Matrix) -> Stage:
    """A stage whose crease lies as on the paper."""
    u, v = (move[:2, :2] @ np.asarray(stage.crease.across)).tolist()
    return replace(stage, crease=replace(stage.crease, across=(u, v)))


def _bend_lines(flat: FlatPattern, shown: FlatPattern, move: Matrix, inches: bool) -> list[MarkedLine]:
    metal = on_metal.Metal(flat)
    lines = []
    for bend, own in zip(flat.bends, shown.bends, strict=True):
        stretches = [pair for s in bend.segments for pair in metal.stretches(*s.centre)]
        tangents = [pair for s in bend.segments for t in s.tangents for pair in metal.stretches(*t)]
        which: Face = "near" if bend.way == "up" else "far"
        if not stretches:
            continue
        lines.append(
            MarkedLine(
                bend_along(own, move_pairs(stretches, move), own.allowance),
                document.BEND_NEAR if which == "near" else document.BEND_FAR,
                words.long_label(labels.bend_text(bend, "long", inches), which),
                words.long_label(labels.bend_text(bend, "short", inches), which),
                words.least_label(bend.order, bend.label, which),
                move_pairs(tangents, move),
            )
        )
    return lines


def move_pairs(pairs: Iterable[Pair], move: Matrix) -> tuple[Pair, ...]:
    """Lines moved by a 3 x 3 matrix [mm]."""
    (a, b, x), (c, d, y) = move[:2].tolist()
    return tuple(
        ((a * p[0] + b * p[1] + x, c * p[0] + d * p[1] + y), (a * q[0] + b * q[1] + x, c * q[0] + d * q[1] + y))
        for p, q in pairs
    )


def split_arcs(loop: Loop) -> Loop:
    """A loop with its large arcs in pieces, see ``SMALL_ARC``."""
    pieces: list[Piece] = []
    for piece in loop:
        if isinstance(piece, Line) or piece.radius <= SMALL_ARC:
            pieces.append(piece)
            continue
        number = max(1, int(np.ceil(abs(piece.sweep) / LEAST_TURN - 1e-9)))
        step = piece.sweep / number
        pieces += [Arc(piece.centre, piece.radius, piece.first + k * step, step) for k in range(number)]
    return Loop(tuple(pieces))


@dataclass(frozen=True)
class SheetLabels:
    """Texts on sheets, and the lines with a label, by index."""

    texts: tuple[Text, ...]
    labelled: frozenset[int]


class Scene:
    """Shapely's view of a subject, prepared once for all sheets [mm]."""

    def __init__(self, subject: Subject) -> None:
        import shapely

        self.subject = subject
        flat = subject.flat
        self.outline: Any = shapely.Polygon(flat.outline.points(0.02))
        openings = [shapely.Polygon(o.points(0.02)) for o in flat.openings]
        self.metal: Any = shapely.Polygon(self.outline.exterior, [o.exterior for o in openings])
        free = self.metal
        for form in flat.forms:
            free = shapely.difference(free, shapely.Polygon(form.points(0.02)))
        self.free: Any = free
        pairs = [pair for line in subject.lines for pair in (*line.stretches, *line.tangents)]
        self.lines: list[Any] = [shapely.LineString(pair) for pair in pairs]
        shapely.prepare(self.outline)
        self.panels: list[tuple[int, Any, str]] = [
            (n, shapely.Polygon(p.outline.points(0.02)), p.name or (subject.legs[n] if subject.legs else ""))
            for n, p in enumerate(flat.panels)
            if not p.bare
        ]

    def whole(self) -> Box:
        """The blank with ``PAD`` [mm]."""
        x0, y0, x1, y1 = self.subject.flat.box
        return (x0 - PAD, y0 - PAD, x1 + PAD, y1 + PAD)

    def ground(self, core: Box, bends: Sequence[Bend], blocked: Sequence[Any]) -> labels.Ground:
        """The metal within a core, with all lines and all that is blocked."""
        import shapely

        sheet = shapely.intersection(self.free, shapely.box(*core))
        shapely.prepare(sheet)
        centres = [(i, shapely.LineString(s.centre)) for i, b in enumerate(bends) for s in b.segments]
        owners = np.array([i for i, _ in centres], dtype=int)
        tree = shapely.STRtree([*self.lines, *blocked])
        return labels.Ground(sheet, self.outline, tree, shapely.STRtree([c for _, c in centres]), owners)


def sheet_labels(scene: Scene, core: Box, blocked: Sequence[Any]) -> SheetLabels:
    """Labels and leg names of one sheet, within its core [mm], clear of the ``blocked`` geometries of shapely."""
    import shapely

    lines = scene.subject.lines
    clipped = [(n, _clipped(line.stretches, core)) for n, line in enumerate(lines)]
    clipped = [(n, stretches) for n, stretches in clipped if stretches]
    bends = [bend_along(lines[n].bend, stretches, lines[n].bend.allowance) for n, stretches in clipped]
    texts: dict[int, Text] = {}
    for forms in (("long", "short"), ("short", "least")):
        left = [k for k in range(len(bends)) if k not in texts]
        if not left:
            break
        some = [replace(bends[k], label=str(k)) for k in left]
        flat = _with_bends(scene.subject.flat, some)
        taken = [shapely.Polygon(t.box) for t in texts.values()]
        ground = scene.ground(core, some, [*blocked, *taken])

        def text_of(bend: Bend, form: drawing_words.Form, forms: tuple[str, str] = forms) -> str:
            line = lines[clipped[int(bend.label)][0]]
            return drawable(str(getattr(line, forms[0 if form == "long" else 1])))

        placed = labels.place_labels(flat, ground, HEIGHT, text_of)
        texts |= {left[k]: t for k, t in placed.texts.items() if t.height >= SMALL}
    names = _leg_names(scene, core, list(texts.values()), blocked)
    return SheetLabels((*texts.values(), *names), frozenset(clipped[k][0] for k in texts))


def _with_bends(flat: FlatPattern, bends: list[Bend]) -> FlatPattern:
    """A flat with other bends, and dummy panels."""
    return replace(flat, bends=tuple(bends), panels=flat.panels[:1] * (len(bends) + 1), root=0)


def _clipped(pairs: Sequence[Pair], core: Box) -> list[Pair]:
    """Parts of lines within a box, without very short ones."""
    clipped = []
    for start, end in pairs:
        low, high = 0.0, 1.0
        for k in (0, 1):
            step = end[k] - start[k]
            if abs(step) < 1e-12:
                if not core[k] <= start[k] <= core[k + 2]:
                    low, high = 1.0, 0.0
                continue
            ends = sorted(((core[k] - start[k]) / step, (core[k + 2] - start[k]) / step))
            low, high = max(low, ends[0]), min(high, ends[1])
        if (high - low) * math.dist(start, end) > SMALL:
            whole = Line(start, end)
            clipped.append((whole.at(low), whole.at(high)))
    return clipped


def _leg_names(scene: Scene, core: Box, taken: list[Text], blocked: Sequence[Any]) -> list[Text]:
    import shapely

    window = shapely.box(*core)
    flat = scene.subject.flat
    panels: list[Panel] = []
    bends: list[Bend] = []
    for n, region, name in scene.panels:
        if not name or not region.intersects(window):
            continue
        pieces = [g for g in shapely.get_parts(region.intersection(window)).tolist() if g.area > SMALL**2]
        if not pieces:
            continue
        own = [b for b in flat.bends if n in (b.first, b.second)]
        k = len(panels)
        panels.append(Panel(_loop(max(pieces, key=lambda g: g.area)), (), np.eye(4), name))
        bends += [replace(max(own, key=lambda b: b.length), first=k, second=k)] if own else []
    if not panels:
        return []
    if bends:
        panels.append(replace(panels[0], name=""))  # bends are one fewer than panels; each tells how a name runs
    ground = scene.ground(core, (), blocked)
    marked = replace(flat, panels=tuple(panels), bends=tuple(bends), root=0)
    names = labels.leg_names(marked, ground, SMALL, taken)
    return [replace(t, text=drawable(t.text)) for t in names if t.height >= SMALL]


def _loop(polygon: Any) -> Loop:
    points = [(float(x), float(y)) for x, y in polygon.exterior.coords[:-1]]
    return Loop(tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)))


def outside_labels(scene: Scene, left: Sequence[int]) -> labels.OutsideLabels:
    """Labels of lines, by index, beyond the blank."""
    lines = scene.subject.lines
    outside = {n: (lines[n].bend, drawable(lines[n].short)) for n in left}
    if not outside:
        return labels.OutsideLabels(Layout(), frozenset(), ())
    ground = scene.ground(scene.whole(), (), ())
    return labels.lead_out(outside, scene.subject.flat.box, ground, SMALL)


def register_mark(at: Point) -> tuple[Stroke, ...]:
    """The cross of a register mark with its middle ``at`` [mm], without its circle."""
    x, y = at
    return (Stroke((x - MARK, y), (x + MARK, y)), Stroke((x, y - MARK), (x, y + MARK)))


def corner_labels(scene: Scene, corners: Sequence[Point], box: Box, blocked: Sequence[Any]) -> list[Text]:
    """A letter beside each corner that a diagonal is measured from.

    :param corners: in the order of their letters [mm]
    :param box: that the sheets show [mm]
    :param blocked: geometries of shapely that no lettering may touch
    """
    import shapely

    around = [*shapely.get_parts(shapely.boundary(scene.metal)).tolist(), *scene.lines, *blocked]
    tree = shapely.STRtree(around)
    texts: list[Text] = []
    for letter, corner in zip("abcd", corners, strict=False):
        text = words.CORNER.format(letter=letter)
        width = text_width(text, SMALL)
        options = [Text(text, at, SMALL) for at in _about_corner(corner, width)]
        shapes = shapely.polygons([np.array(t.box) for t in options])
        taken = [shapely.Polygon(t.box) for t in texts]
        reach = shapely.Point(corner).buffer(30.0 + width)
        edge = shapely.union_all([around[n] for n in tree.query(reach).tolist()])
        room = shapely.distance(shapes, shapely.union_all([edge, *taken, shapely.Point(corner).buffer(CIRCLE)]))
        inside = shapely.covers(shapely.box(*box), shapes)
        free = [k for k in range(len(options)) if inside[k] and room[k] > 0.3]
        best = free[0] if free else max(range(len(options)), key=lambda k: (bool(inside[k]), float(room[k])))
        texts.append(options[best])
    return texts


def _about_corner(corner: Point, width: float) -> list[Point]:
    """Starts of baselines about a corner, near ones first."""
    x, y = corner
    starts = []
    for reach in (2.5, 4.0, 6.0, 9.0, 13.0, 18.0):
        for dx, dy in ((1, 1), (-1, 1), (1, -1), (-1, -1), (1, 0), (-1, 0), (0, 1), (0, -1)):
            left = x + dx * reach - (width if dx < 0 else 0.0 if dx > 0 else width / 2)
            starts.append((left, y + dy * reach - (SMALL if dy < 0 else 0.0 if dy > 0 else SMALL / 2)))
    return starts
