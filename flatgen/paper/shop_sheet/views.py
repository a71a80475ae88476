"""Views of the formed part on paper: which, where, and at what scale. No kernel.

short      the section is the front view; top and side views beside it
long       the front view shows the length, lying; top view and section beside it
broken     as long, with stretches cut out of the length where the part is the same all along
detailed   as long, at a small scale, with the section once more at a larger one (reference arrow, ISO 128)

First angle: the top view stands below the front view, the view from the left at its right. Third angle: the top view
above; at the right of a section the view from the right, at the left of a length the view from the left (ISO 5456-2).
Scales are those of ISO 5455. All standards from memory. Millimetres on paper unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from flatgen.definition.solid.projection import Projected
from flatgen.definition.solid.view_lines import Span
from flatgen.paper.drawing import text as typeface
from flatgen.paper.drawing.ink import HEAD, LARGE, SMALL, Block, Ink
from flatgen.paper.pages.frame import VISIBLE, Angle
from flatgen.paper.shop_sheet import view_words as words
from flatgen.paper.shop_sheet.view_ink import Box, Placed, Side, dimension, extents, placed

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


@dataclass
class _Board:
    """What stands where, and the free room."""

    wide: float
    tall: float
    ink: Ink = field(default_factory=Ink)
    taken: list[Box] = field(default_factory=list)

    def put(self, ink: Ink, dx: float, dy: float) -> None:
        self.ink.add(ink, dx, dy)
        x0, y0, x1, y1 = extents(ink)
        self.taken.append((x0 + dx, y0 + dy, x1 + dx, y1 + dy))

    def rooms(self) -> Iterator[Box]:
        """Empty rectangles, as large as they can be, clear of all that stands."""
        xs = sorted({0.0, self.wide, *(v for b in self.taken for v in (b[0] - SPACE, b[2] + SPACE))})
        ys = sorted({0.0, self.tall, *(v for b in self.taken for v in (b[1] - SPACE, b[3] + SPACE))})
        xs, ys = [x for x in xs if 0 <= x <= self.wide], [y for y in ys if 0 <= y <= self.tall]
        for i, x0 in enumerate(xs):
            for x1 in xs[i + 1 :]:
                for j, y0 in enumerate(ys):
                    for y1 in ys[j + 1 :]:
                        if not any(_meet((x0, y0, x1, y1), b) for b in self.taken):
                            yield x0, y0, x1, y1


def _meet(room: Box, taken: Box) -> bool:
    return (
        room[0] < taken[2] + SPACE - 1e-6
        and room[2] > taken[0] - SPACE + 1e-6
        and room[1] < taken[3] + SPACE - 1e-6
        and room[3] > taken[1] - SPACE + 1e-6
    )


@dataclass(frozen=True)
class _Way:
    """How the views are drawn: scale, arrangement, stretches along y that are shown, scale of the detail."""

    scale: float
    long: bool
    kept: tuple[Span, ...] = ()
    detail: float | None = None


def views_block(projected: Projected, wide: float, tall: float, *, projection: Angle, inches: bool = False) -> Block:
    """Orthographic views and a pictorial one, with overall sizes.

    :param wide, tall: room on paper [mm]
    :raises ValueError: Where the room is too small for any scale.
    """
    for picture in (True, False):
        for way in _ways(projected, wide, tall):
            board = _board(projected, way, wide, tall, projection, inches, picture)
            if board is not None:
                return _block(board)
    raise ValueError(f"no room for views of a formed part on {wide:g} x {tall:g} mm")


def _ways(projected: Projected, wide: float, tall: float) -> Iterator[_Way]:
    """Ways to draw the views, the best first."""
    sizes = projected.sizes
    across = max(sizes[0], sizes[2])
    scales = [s for s in SCALES if s <= 1.0 or s * max(across, sizes[1] / 3) <= LARGEST]

    def read(scale: float) -> bool:
        return scale >= 1.0 or (scale * projected.thickness >= SHEET and scale * across >= SECTION)

    broken = [(s, _kept(projected, s, share * wide)) for s in scales if s <= 1.0 for share in BROKEN]
    for scale in scales:
        if read(scale):
            yield from (_Way(scale, long) for long in (sizes[1] > 1.5 * across, sizes[1] <= 1.5 * across))
    for scale, kept in broken:
        if read(scale) and kept:
            yield _Way(scale, True, kept)
    for scale in scales:
        for detail in scales:
            if detail > 1.5 * scale and read(detail) and not read(scale):
                yield _Way(scale, True, detail=detail)
    for scale, kept in broken:
        for detail in scales:
            if kept and detail > 1.5 * scale and read(detail) and not read(scale):
                yield _Way(scale, True, kept, detail)
    for scale in scales:
        yield from (_Way(scale, long) for long in (True, False))


def _kept(projected: Projected, scale: float, room: float) -> tuple[Span, ...]:
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


def _board(
    projected: Projected, way: _Way, wide: float, tall: float, projection: Angle, inches: bool, picture: bool
) -> _Board | None:
    """All of it in the room, or None where it does not fit."""
    if _too_large(projected, way, wide, tall):
        return None
    views = _arranged(projected, way, projection, inches)
    notes = _notes(projected, way, views, projection, inches, picture)
    lines = [line for note in notes for line in _wrapped(note, wide)]
    head = typeface.width(words.heading(way.scale), LARGE)
    below = (len(lines) + 1.0) * PITCH * SMALL
    above = PITCH * LARGE + 2.0
    inner = tall - below - above
    reach = _around([(v, at) for v, at in views])
    if reach[2] - reach[0] > wide or reach[3] - reach[1] > inner or head > wide:
        return None
    board = _Board(wide, inner)
    for view, (x, y) in views:
        board.put(view.ink, x - reach[0], y - reach[1] + inner - (reach[3] - reach[1]))
    if way.detail is not None and not _detail(board, projected, way.detail, inches):
        return None
    if picture and not _picture(board, projected):
        return None
    return _lettered(board, lines, way, below)


def _too_large(projected: Projected, way: _Way, wide: float, tall: float) -> bool:
    """Whether the outlines of the views alone find no room."""
    dx, dy, dz = (size * way.scale for size in projected.sizes)
    if way.kept:
        dy = sum(b - a for a, b in way.kept) * way.scale
    if not way.long:
        return dx + dy + SPACE > wide or dz + dy + SPACE > tall
    return dy + (0.0 if way.detail else dx + SPACE) > wide or dz + dx + SPACE > tall


def _lettered(board: _Board, lines: list[str], way: _Way, below: float) -> _Board:
    """The board with its heading and notes, cropped below."""
    y0 = extents(board.ink)[1]
    whole = Ink()
    whole.add(board.ink, 0.0, below - y0)
    high = below - y0 + board.tall
    whole.text(words.heading(way.scale), 0.0, high + 2.0 + 0.3 * LARGE, LARGE)
    for number, line in enumerate(lines):
        whole.text(line, 0.0, below - (number + 1) * PITCH * SMALL - 0.5)
    made = _Board(extents(whole)[2], high + 2.0 + PITCH * LARGE)
    made.ink = whole
    return made


def _block(board: _Board) -> Block:
    return Block(board.ink, board.wide, board.tall)


def _around(views: list[tuple[Placed, tuple[float, float]]]) -> Box:
    boxes = [(v.reach, at) for v, at in views]
    return (
        min(b[0] + x for b, (x, _) in boxes),
        min(b[1] + y for b, (_, y) in boxes),
        max(b[2] + x for b, (x, _) in boxes),
        max(b[3] + y for b, (_, y) in boxes),
    )


def _arranged(
    projected: Projected, way: _Way, projection: Angle, inches: bool
) -> list[tuple[Placed, tuple[float, float]]]:
    """Front, top and side view with their places, the front view's outline at the origin; no side view of a detail."""
    first = projection == "first"
    (x0, y0, z0), (x1, y1, z1) = projected.low, projected.high
    dx, dy, dz = projected.sizes
    outer: Side = "above" if first else "below"
    if way.long:
        front = placed(projected.right, (y0, z0, y1, z1), way.scale, way.kept)
        top = placed(projected.top.turned(), (y0, -x1, y1, -x0), way.scale, way.kept)
        side = placed(projected.end, (x0, z0, x1, z1), way.scale)
        dimension(front, outer, dy, inches=inches)
        if way.detail is None:
            dimension(side, outer, dx, inches=inches)
            dimension(side, "right" if first else "left", dz, inches=inches)
        else:
            _arrow(front)
        right = first
    else:
        front = placed(projected.end, (x0, z0, x1, z1), way.scale)
        top = placed(projected.top, (x0, y0, x1, y1), way.scale)
        seen, box = (projected.left, (-y1, z0, -y0, z1)) if first else (projected.right, (y0, z0, y1, z1))
        side = placed(seen, box, way.scale)
        dimension(front, outer, dx, inches=inches)
        dimension(front, "left", dz, inches=inches)
        dimension(side, outer, dy, inches=inches)
        right = True
    stood = _stood(front, top, side, right=right, above=not first)
    return stood if way.detail is None else stood[:2]


def _stood(
    front: Placed, top: Placed, side: Placed, *, right: bool, above: bool
) -> list[tuple[Placed, tuple[float, float]]]:
    """Views in line with one another, clear of each other's sizes."""
    f, t, s = front.reach, top.reach, side.reach
    y = f[3] - t[1] + SPACE if above else f[1] - t[3] - SPACE
    x = f[2] - s[0] + SPACE if right else f[0] - s[2] - SPACE
    return [(front, (0.0, 0.0)), (top, (0.0, y)), (side, (x, 0.0))]


def _arrow(front: Placed) -> None:
    """The reference arrow for the section, at the near end of the length."""
    y, tip = front.tall / 2, -2.0
    front.ink.line(VISIBLE, (tip - ARROW, y), (tip - HEAD, y))
    front.ink.head((tip, y), (1.0, 0.0), 1.4 * HEAD)
    front.ink.text(words.DETAIL, tip - ARROW, y + 1.5, LARGE)


def _detail(board: _Board, projected: Projected, scale: float, inches: bool) -> bool:
    """The section at a scale of its own, with its sizes, in free room."""
    (x0, _, z0), (x1, _, z1) = projected.low, projected.high
    view = placed(projected.end, (x0, z0, x1, z1), scale)
    dimension(view, "below", projected.sizes[0], inches=inches)
    dimension(view, "left", projected.sizes[2], inches=inches)
    said = words.detail(scale)
    view.ink.text(said, max(0.0, (view.wide - typeface.width(said, LARGE)) / 2), view.tall + 3.0, LARGE)
    a, b, c, d = view.reach
    fitting = [r for r in board.rooms() if r[2] - r[0] >= c - a and r[3] - r[1] >= d - b]
    if not fitting:
        return False
    room = min(fitting, key=lambda r: (r[0] + (board.tall - r[3]), r))
    board.put(view.ink, room[0] - a, room[3] - d)
    return True


def _picture(board: _Board, projected: Projected) -> bool:
    """The pictorial view in the room where it comes out largest."""
    box = projected.picture.box()
    wide, tall = box[2] - box[0], box[3] - box[1]
    said = words.PICTURE_SHORT if projected.shortened else words.PICTURE
    label, foot = typeface.width(said, SMALL), 2.2 * SMALL

    def scale_in(room: Box) -> float:
        across, up = room[2] - room[0], room[3] - room[1] - foot
        if across < label or up <= 0:
            return 0.0
        return min(min(across, PICTURE_MOST[0]) / wide, min(up, PICTURE_MOST[1]) / tall)

    room = max(board.rooms(), key=lambda r: (round(scale_in(r), 6), -r[0], r[3]), default=None)
    if room is None or max(wide, tall) * scale_in(room) < PICTURE_LEAST:
        return False
    scale = scale_in(room)
    view = placed(projected.picture, box, scale, fine=scale * projected.thickness < FINE)
    ink = Ink()
    left = max(0.0, (label - view.wide) / 2)
    ink.add(view.ink, left, foot)
    ink.text(said, max(0.0, (view.wide - label) / 2), 0.4 * SMALL)
    high = foot + view.tall
    board.put(ink, room[0], room[3] - high)
    return True


def _notes(
    projected: Projected,
    way: _Way,
    views: list[tuple[Placed, tuple[float, float]]],
    projection: Angle,
    inches: bool,
    picture: bool,
) -> list[str]:
    told = [words.remark(projection, inches=inches)]
    if way.kept:
        told.append(words.BROKEN)
    if any(view.merged for view, _ in views):
        told.append(words.MERGED)
    if projected.edge_on:
        told.append(words.EDGE_ON)
    if not picture:
        told.append(words.NO_PICTURE)
    elif projected.bare:
        told.append(words.BARE)
    return [" ".join(told)]


def _wrapped(text: str, wide: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and typeface.width(longer, SMALL) <= wide:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
