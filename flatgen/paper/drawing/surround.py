"""What stands around the blank: its overall sizes, the notes, and the key to the line types.

Dimension lines after ISO 129-1 (narrow lines, filled arrowheads, figures above the line, extension lines a
little past it; memory, not read).
"""

from __future__ import annotations

from typing import TypeAlias

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.definition.part import bends_upright
from flatgen.paper.drawing import words
from flatgen.paper.drawing.facts import Notes
from flatgen.paper.drawing.labels import OutsideLabels
from flatgen.paper.drawing.text import (
    HEIGHTS,
    LINE,
    Arrow,
    Kind,
    Layout,
    Stroke,
    Text,
    directions,
    text_width,
    wrap_text,
)

Rows: TypeAlias = tuple[tuple[Kind, str], ...]
"""Of the key: line types and their meanings."""
NOTES_WIDTH = 48.0
"""Least width of the notes before a line is broken, in heights."""
TALL = 1.3
"""A blank longer than this many widths has its notes on the right."""
ARROW_LENGTH, ARROW_WIDTH = 1.2, 0.4
SAMPLE = 9.0
"""Length of a line in the key, in heights."""


def overall_sizes(
    flat: FlatPattern, height: float, before: OutsideLabels, *, inches: bool = False
) -> tuple[Layout, bool]:
    """Overall width and length on edges without labels, and whether both found an edge.

    Where bends run in several directions, leaders leave on several edges: then an extension line may cross a leader,
    and a dimension line may go beyond labels.
    """
    points = flat.outline.points(0.02)
    layout, drawn = Layout(), 0
    for turn, edges, size in ((0.0, ("below", "above"), flat.width), (90.0, ("left", "right"), flat.length)):
        text = words.both_lengths(size, inches=inches)
        options = [_size(points, turn, edge, text, height) for edge in edges if edge not in before.edges]
        free = [line for line in options if not _meet(line, before.layout)]
        if not free and not bends_upright(flat):
            options += [_size(points, turn, edge, text, height, before.layout.points()) for edge in edges]
            free = [line for line in options if not _meet(line, before.layout)]
        if not free and not bends_upright(flat):
            free = [line for line in options if not _crowded(line, before.layout)]
        free = [line for line in free if not _meet(Layout(line.texts, line.strokes[-1:]), layout)]
        layout += free[0] if free else Layout()
        drawn += bool(free)
    return layout, drawn == 2


def _crowded(line: Layout, labels: Layout) -> bool:
    """Whether a dimension line meets more of the labels outside than leaders with its extension lines."""
    *extensions, across = line.strokes
    return _meet(Layout(line.texts, (across,)), labels) or _meet(
        Layout(strokes=tuple(extensions)), Layout(labels.texts)
    )


def notes_block(
    flat: FlatPattern,
    notes: Notes,
    around: Layout,
    height: float,
    extra: tuple[str, ...],
    key: Rows,
    *,
    inches: bool = False,
    marked: bool = False,
) -> Layout:
    """Title, lines, cautions and key, left aligned: below what is drawn ``around`` the blank, or right of a tall one.

    :param extra: further lines
    :param marked: whether openings have centre marks
    """
    (x, y), room = _corner(flat, around, height)
    larger = next((h for h in HEIGHTS if h > height), height * 1.4)
    layout = Layout()
    for line in wrap_text(words.clean(notes.title), room, larger):
        y -= LINE * larger
        layout += Layout((Text(line, (x, y), larger),))
    y -= 0.4 * height
    units = words.UNITS_INCH if inches else words.UNITS_MM
    lines = [(line, 0.0) for line in (*notes.lines, units, *extra)]
    lines += [(f"{words.CAUTION} {c}", 0.6 * height if i == 0 else 0.0) for i, c in enumerate(notes.cautions)]
    for line, before in lines:
        y -= before
        for piece in wrap_text(words.clean(line), room, height):
            y -= LINE * height
            layout += Layout((Text(piece, (x, y), height),))
    return layout + _key(key, (x, y - height), height, marked)


def _corner(flat: FlatPattern, around: Layout, height: float) -> tuple[Point, float]:
    """Upper left corner of the notes, and the room for a line [mm]."""
    points = [*around.points(), *flat.outline.points(0.1)]
    if flat.length > TALL * flat.width:
        return (max(p[0] for p in points) + 5.0 * height, flat.box[3]), NOTES_WIDTH * height
    below = min(p[1] for p in points) - 2.0 * height
    return (flat.box[0], below), max(flat.width, NOTES_WIDTH * height)


def key_rows(flat: FlatPattern) -> Rows:
    """Every line type of a flat's drawing, with its meaning."""
    ways = {b.way for b in flat.bends}
    rows: list[tuple[Kind, str]] = [("wide", words.KEY_OUTLINE)]
    rows += [("near", words.KEY_NEAR)] if "up" in ways else []
    rows += [("far", words.KEY_FAR)] if "down" in ways else []
    rows += [("tangent", words.KEY_TANGENTS)] if ways else []
    rows += [("form", words.KEY_FORMS)] if flat.forms else []
    return tuple(rows)


def _key(rows: Rows, corner: Point, height: float, marked: bool) -> Layout:
    """A sample of every line type with its meaning, and of centre marks where ``marked``."""
    x, y = corner
    layout = Layout()
    for kind, text in rows:
        y -= LINE * height
        line = Stroke((x, y + height / 2), (x + SAMPLE * height, y + height / 2), kind)
        layout += Layout((Text(text, (x + (SAMPLE + 1.2) * height, y), height),), (line,))
    if marked:
        y -= LINE * height
        middle, half = (x + SAMPLE * height / 2, y + height / 2), 0.6 * height
        cross = (
            Stroke((middle[0] - half, middle[1]), (middle[0] + half, middle[1])),
            Stroke((middle[0], middle[1] - half), (middle[0], middle[1] + half)),
        )
        layout += Layout((Text(words.KEY_CENTRES, (x + (SAMPLE + 1.2) * height, y), height),), cross)
    return layout


def _size(
    points: list[Point], turn: float, edge: str, text: str, height: float, beyond: list[Point] | None = None
) -> Layout:
    """A dimension line along ``turn`` [deg] at an edge; local axes: s along, v away from the part."""
    u, n = directions(turn)
    away = n if edge in ("above", "left") else (-n[0], -n[1])
    local = [(p[0] * u[0] + p[1] * u[1], p[0] * away[0] + p[1] * away[1]) for p in points]
    low, high = min(p[0] for p in local), max(p[0] for p in local)
    top = max([p[1] for p in local] + [p[0] * away[0] + p[1] * away[1] for p in beyond or ()])
    level = top + 3.2 * height

    def at(s: float, v: float) -> Point:
        return (s * u[0] + v * away[0], s * u[1] + v * away[1])

    strokes, arrows = [], []
    tip = ARROW_LENGTH * height
    tight = high - low < 4 * tip
    for end, sign in ((low, 1.0), (high, -1.0)):
        corner = max(v for s, v in local if abs(s - end) < 1e-6)
        strokes.append(Stroke(at(end, corner + 0.5 * height), at(end, level + 0.8 * height)))
        back = end + (-sign if tight else sign) * tip
        half = ARROW_WIDTH * height / 2
        arrows.append(Arrow((at(end, level), at(back, level - half), at(back, level + half))))
    reach = 2.2 * tip if tight else 0.0
    strokes.append(Stroke(at(low - reach, level), at(high + reach, level)))
    place = _figure(text, (low, high), level, height, upward=away == n)
    return Layout((Text(text, at(*place), height, turn),), tuple(strokes), tuple(arrows))


def _figure(text: str, span: Point, level: float, height: float, *, upward: bool) -> Point:
    """Baseline of the figures: over the line if they fit between the extension lines, else farther off."""
    wide = text_width(text, height)
    begin = (span[0] + span[1] - wide) / 2
    if wide + 1.5 * height < span[1] - span[0]:
        return (begin, level + 0.45 * height if upward else level - 0.45 * height)
    return (begin, level + 1.3 * height if upward else level + 2.2 * height)


def _meet(one: Layout, other: Layout) -> bool:
    """Whether texts or strokes of two layouts touch."""
    import shapely

    shapes = [
        [shapely.Polygon(t.box) for t in part.texts] + [shapely.LineString((k.start, k.end)) for k in part.strokes]
        for part in (one, other)
    ]
    if not all(shapes):
        return False
    hits = shapely.STRtree(shapes[0]).query(shapes[1], predicate="intersects")
    return bool(len(hits[0]))
