"""Views of the formed part on paper: which, where, and at what scale.

short      the section is the front view; top and side views beside it
long       the front view shows the length, lying; top view and section beside it
broken     as long, with stretches cut out of the length where the part is the same all along
detailed   as long, at a small scale, with the section once more at a larger one (reference arrow, ISO 128)

First angle: the top view stands below the front view, the view from the left at its right. Third angle: the top view
above; at the right of a section the view from the right, at the left of a length the view from the left (ISO 5456-2).
Scales are those of ISO 5455. All standards from memory. Millimetres on paper unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from flatgen.core.flat_pattern import Point
from flatgen.definition.solid.projection import PartViews
from flatgen.definition.solid.view_lines import Span
from flatgen.paper.drawing.ink import HEAD, LARGE, SMALL, Block, Ink
from flatgen.paper.drawing.text import text_width, wrap_text
from flatgen.paper.pages.frame import VISIBLE, Projection
from flatgen.paper.shop_sheet import view_words as words
from flatgen.paper.shop_sheet.view_ink import PlacedView, Side, draw_dimension, extents, place_view
from flatgen.paper.stage_pictures.view import Box

SCALES = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
LARGEST = 80.0
"""A section is enlarged up to this on paper."""
SHEET, SECTION = 0.4, 22.0
"""A section can be read where its sheet is so thick on paper, and itself so large."""
SPACE = 8.0
"""Between views and what stands about them."""
PICTURE_LEAST, PICTURE_MOST = 25.0, (95.0, 70.0)
"""Longer side of the pictorial view at least; its width and height at most."""
FINE = 1.0
"""A pictorial view is drawn in narrow lines where its sheet is thinner than this on paper."""
KEPT = 10.0
"""Beside what is not the same all along, so much is shown before the length is broken."""
BROKEN = (0.65, 0.5, 0.35, 0.25)
"""A broken length takes one of these shares of the room's width, the first with which all finds room."""
PITCH = 1.6
"""From baseline to baseline, in heights."""
ARROW = 9.0
"""Length of a reference arrow."""

Placement = list[tuple[PlacedView, Point]]
"""Views, each with the place of its outline's lower left corner."""


@dataclass
class _Board:
    """What stands where, and the free room."""

    wide: float
    tall: float
    ink: Ink = field(default_factory=Ink)
    occupied: list[Box] = field(default_factory=list)

    def put(self, ink: Ink, dx: float, dy: float) -> None:
        self.ink.add(ink, dx, dy)
        x0, y0, x1, y1 = extents(ink)
        self.occupied.append((x0 + dx, y0 + dy, x1 + dx, y1 + dy))

    def rooms(self) -> Iterator[Box]:
        """Empty rectangles, as large as they can be, clear of all that stands."""
        xs = sorted({0.0, self.wide, *(v for b in self.occupied for v in (b[0] - SPACE, b[2] + SPACE))})
        ys = sorted({0.0, self.tall, *(v for b in self.occupied for v in (b[1] - SPACE, b[3] + SPACE))})
        xs, ys = [x for x in xs if 0 <= x <= self.wide], [y for y in ys if 0 <= y <= self.tall]
        for i, x0 in enumerate(xs):
            for x1 in xs[i + 1 :]:
                for j, y0 in enumerate(ys):
                    for y1 in ys[j + 1 :]:
                        if not any(_too_near((x0, y0, x1, y1), b) for b in self.occupied):
                            yield x0, y0, x1, y1


def _too_near(room: Box, occupied: Box) -> bool:
    return (
        room[0] < occupied[2] + SPACE - 1e-6
        and room[2] > occupied[0] - SPACE + 1e-6
        and room[1] < occupied[3] + SPACE - 1e-6
        and room[3] > occupied[1] - SPACE + 1e-6
    )


@dataclass(frozen=True)
class _Arrangement:
    """How the views are drawn: ``long``: the front view shows the length; ``kept`` of it where it is broken."""

    scale: float
    long: bool
    kept: tuple[Span, ...] = ()
    detail: float | None = None


def views_block(
    projected: PartViews, wide: float, tall: float, *, projection: Projection, inches: bool = False
) -> Block:
    """Orthographic views and a pictorial one, with overall sizes.

    :param wide, tall: room on paper [mm]
    :raises ValueError: If the room is too small for any scale.
    """
    for with_picture in (True, False):
        for arrangement in _arrangements(projected, wide, tall):
            board = _compose(projected, arrangement, wide, tall, projection, inches, with_picture)
            if board is not None:
                return Block(board.ink, board.wide, board.tall)
    raise ValueError(f"no room for views of a formed part on {wide:g} x {tall:g} mm")


def _arrangements(projected: PartViews, wide: float, tall: float) -> Iterator[_Arrangement]:
    """Ways to draw the views, the best first; the last ones are too small to read."""
    sizes = projected.sizes
    across = max(sizes[0], sizes[2])
    scales = [s for s in SCALES if s <= 1.0 or s * max(across, sizes[1] / 3) <= LARGEST]

    def read(scale: float) -> bool:
        return scale >= 1.0 or (scale * projected.thickness >= SHEET and scale * across >= SECTION)

    broken = [(s, _unbroken(projected, s, share * wide)) for s in scales if s <= 1.0 for share in BROKEN]
    for scale in scales:
        if read(scale):
            yield from (_Arrangement(scale, long) for long in (sizes[1] > 1.5 * across, sizes[1] <= 1.5 * across))
    for scale, kept in broken:
        if read(scale) and kept:
            yield _Arrangement(scale, True, kept)
    for scale in scales:
        for detail in scales:
            if detail > 1.5 * scale and read(detail) and not read(scale):
                yield _Arrangement(scale, True, detail=detail)
    for scale, kept in broken:
        for detail in scales:
            if kept and detail > 1.5 * scale and read(detail) and not read(scale):
                yield _Arrangement(scale, True, kept, detail)
    for scale in scales:
        yield from (_Arrangement(scale, long) for long in (True, False))


def _unbroken(projected: PartViews, scale: float, room: float) -> tuple[Span, ...]:
    """Stretches along y that are shown where the length is broken; none where that gains nothing."""
    low, high = projected.low[1], projected.high[1]
    if (high - low) * scale <= room:
        return ()
    beside = max(KEPT, room / 2) / scale
    cut = []
    for a, b in projected.straight:
        one, two = (
            a + (beside if a <= low + 1e-6 else KEPT / scale),
            b - (beside if b >= high - 1e-6 else KEPT / scale),
        )
        if (two - one) * scale > 8.0:
            cut.append((one, two))
    if not cut:
        return ()
    cut = [max(cut, key=lambda s: s[1] - s[0])] if len(cut) > 4 else cut
    starts, ends = [low, *(b for _, b in cut)], [*(a for a, _ in cut), high]
    return tuple(zip(starts, ends, strict=True))


def _compose(
    projected: PartViews,
    arrangement: _Arrangement,
    wide: float,
    tall: float,
    projection: Projection,
    inches: bool,
    picture: bool,
) -> _Board | None:
    """All of it in the room, or None where it does not fit."""
    if _too_large(projected, arrangement, wide, tall):
        return None
    views = _orthographic_views(projected, arrangement, projection, inches)
    lines = wrap_text(_notes(projected, arrangement, views, projection, inches, picture), wide, SMALL)
    head = text_width(words.heading(arrangement.scale), LARGE)
    below = (len(lines) + 1.0) * PITCH * SMALL
    above = PITCH * LARGE + 2.0
    inner = tall - below - above
    left, low, right, high = _reach(views)
    if right - left > wide or high - low > inner or head > wide:
        return None
    board = _Board(wide, inner)
    for view, (x, y) in views:
        board.put(view.ink, x - left, y - low + inner - (high - low))
    if arrangement.detail is not None and not _add_detail(board, projected, arrangement.detail, inches):
        return None
    if picture and not _add_picture(board, projected):
        return None
    return _add_lettering(board, lines, arrangement, below)


def _too_large(projected: PartViews, arrangement: _Arrangement, wide: float, tall: float) -> bool:
    dx, dy, dz = (size * arrangement.scale for size in projected.sizes)
    if arrangement.kept:
        dy = sum(b - a for a, b in arrangement.kept) * arrangement.scale
    if not arrangement.long:
        return dx + dy + SPACE > wide or dz + dy + SPACE > tall
    return dy + (0.0 if arrangement.detail else dx + SPACE) > wide or dz + dx + SPACE > tall


def _add_lettering(board: _Board, lines: Sequence[str], arrangement: _Arrangement, below: float) -> _Board:
    """The board with its heading and notes, cropped below."""
    y0 = extents(board.ink)[1]
    whole = Ink()
    whole.add(board.ink, 0.0, below - y0)
    high = below - y0 + board.tall
    whole.text(words.heading(arrangement.scale), 0.0, high + 2.0 + 0.3 * LARGE, LARGE)
    for number, line in enumerate(lines):
        whole.text(line, 0.0, below - (number + 1) * PITCH * SMALL - 0.5)
    return _Board(extents(whole)[2], high + 2.0 + PITCH * LARGE, whole)


def _reach(views: Placement) -> Box:
    boxes = [(v.reach, at) for v, at in views]
    return (
        min(b[0] + x for b, (x, _) in boxes),
        min(b[1] + y for b, (_, y) in boxes),
        max(b[2] + x for b, (x, _) in boxes),
        max(b[3] + y for b, (_, y) in boxes),
    )


def _orthographic_views(
    projected: PartViews, arrangement: _Arrangement, projection: Projection, inches: bool
) -> Placement:
    """Front, top and side view with their places, the front view's outline at the origin; no side view of a detail."""
    first = projection == "first"
    (x0, y0, z0), (x1, y1, z1) = projected.low, projected.high
    dx, dy, dz = projected.sizes
    outer: Side = "above" if first else "below"
    if arrangement.long:
        front = place_view(projected.right, (y0, z0, y1, z1), arrangement.scale, arrangement.kept)
        top = place_view(projected.top.turned(), (y0, -x1, y1, -x0), arrangement.scale, arrangement.kept)
        side = place_view(projected.end, (x0, z0, x1, z1), arrangement.scale)
        draw_dimension(front, outer, dy, inches=inches)
        if arrangement.detail is None:
            draw_dimension(side, outer, dx, inches=inches)
            draw_dimension(side, "right" if first else "left", dz, inches=inches)
        else:
            _draw_arrow(front)
        right = first
    else:
        front = place_view(projected.end, (x0, z0, x1, z1), arrangement.scale)
        top = place_view(projected.top, (x0, y0, x1, y1), arrangement.scale)
        beside, box = (projected.left, (-y1, z0, -y0, z1)) if first else (projected.right, (y0, z0, y1, z1))
        side = place_view(beside, box, arrangement.scale)
        draw_dimension(front, outer, dx, inches=inches)
        draw_dimension(front, "left", dz, inches=inches)
        draw_dimension(side, outer, dy, inches=inches)
        right = True
    views = _line_up(front, top, side, right=right, above=not first)
    return views if arrangement.detail is None else views[:2]


def _line_up(front: PlacedView, top: PlacedView, side: PlacedView, *, right: bool, above: bool) -> Placement:
    f, t, s = front.reach, top.reach, side.reach
    y = f[3] - t[1] + SPACE if above else f[1] - t[3] - SPACE
    x = f[2] - s[0] + SPACE if right else f[0] - s[2] - SPACE
    return [(front, (0.0, 0.0)), (top, (0.0, y)), (side, (x, 0.0))]


def _draw_arrow(front: PlacedView) -> None:
    y, tip = front.tall / 2, -2.0
    front.ink.line(VISIBLE, (tip - ARROW, y), (tip - HEAD, y))
    front.ink.head((tip, y), (1.0, 0.0), 1.4 * HEAD)
    front.ink.text(words.DETAIL, tip - ARROW, y + 1.5, LARGE)


def _add_detail(board: _Board, projected: PartViews, scale: float, inches: bool) -> bool:
    """The section at a scale of its own, with its sizes, in free room."""
    (x0, _, z0), (x1, _, z1) = projected.low, projected.high
    view = place_view(projected.end, (x0, z0, x1, z1), scale)
    draw_dimension(view, "below", projected.sizes[0], inches=inches)
    draw_dimension(view, "left", projected.sizes[2], inches=inches)
    head = words.detail(scale)
    view.ink.text(head, max(0.0, (view.wide - text_width(head, LARGE)) / 2), view.tall + 3.0, LARGE)
    a, b, c, d = view.reach
    fitting = [r for r in board.rooms() if r[2] - r[0] >= c - a and r[3] - r[1] >= d - b]
    if not fitting:
        return False
    room = min(fitting, key=lambda r: (r[0] + (board.tall - r[3]), r))
    board.put(view.ink, room[0] - a, room[3] - d)
    return True


def _add_picture(board: _Board, projected: PartViews) -> bool:
    """The pictorial view in the room where it comes out largest."""
    box = projected.picture.box()
    wide, tall = box[2] - box[0], box[3] - box[1]
    head = words.PICTURE_SHORT if projected.shortened else words.PICTURE
    label, foot = text_width(head, SMALL), 2.2 * SMALL

    def scale_in(room: Box) -> float:
        across, up = room[2] - room[0], room[3] - room[1] - foot
        if across < label or up <= 0:
            return 0.0
        return min(min(across, PICTURE_MOST[0]) / wide, min(up, PICTURE_MOST[1]) / tall)

    room = max(board.rooms(), key=lambda r: (round(scale_in(r), 6), -r[0], r[3]), default=None)
    if room is None or max(wide, tall) * scale_in(room) < PICTURE_LEAST:
        return False
    scale = scale_in(room)
    view = place_view(projected.picture, box, scale, fine=scale * projected.thickness < FINE)
    ink = Ink()
    left = max(0.0, (label - view.wide) / 2)
    ink.add(view.ink, left, foot)
    ink.text(head, max(0.0, (view.wide - label) / 2), 0.4 * SMALL)
    high = foot + view.tall
    board.put(ink, room[0], room[3] - high)
    return True


def _notes(
    projected: PartViews,
    arrangement: _Arrangement,
    views: Placement,
    projection: Projection,
    inches: bool,
    picture: bool,
) -> str:
    notes = [words.projection_note(projection, inches=inches)]
    if arrangement.kept:
        notes.append(words.BROKEN)
    if any(view.merged for view, _ in views):
        notes.append(words.MERGED)
    if projected.edge_on:
        notes.append(words.EDGE_ON)
    if not picture:
        notes.append(words.NO_PICTURE)
    elif projected.bare:
        notes.append(words.BARE)
    return " ".join(notes)
