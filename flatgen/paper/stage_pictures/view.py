"""A window on a stage, with long stretches cut out, and free places for letters in it.

window   what of brake and part is shown at a scale
cell     rectangle of a window between cuts: a cut leaves out only the brake and straight metal along its axis

Millimetres: of the brake where it says so, else on paper.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flatgen.core.flat_pattern import Point
from flatgen.paper.drawing.ink import Points
from flatgen.paper.drawing.text import ASCENT, DESCENT, Text, text_width

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, low, right, high."""
SCALES = (5.0, 3.0, 2.0, 1.5, 1.0, 1 / 1.5, 0.5, 0.4, 1 / 3, 0.25, 0.2, 1 / 7.5, 0.1, 0.05, 0.02, 0.01)
"""Paper over brake."""
READABLE = 0.6
"""Under this scale long stretches are cut out sooner than all is drawn smaller."""
GAIN = 1.4
"""Stretches are cut out where the picture grows by more than this."""
KEPT = 9.0
"""What is left on either side of a cut-out stretch [mm]."""
GAP = 3.0
"""White between two stretches [mm]."""
MARGIN = 10.0
"""Around what must be seen [mm]."""
STRAIGHT = 0.15
"""A leg that strays by no more than this from the axis over a cut-out stretch counts as straight [mm]."""
CLEAR = 0.6
"""White around letters [mm]."""
FAR = (2.0, 3.5, 5.0, 7.0, 9.5, 12.5, 16.0, 20.0, 25.0, 31.0, 38.0)
"""How far letters stand from what they name, the nearest place first [mm]."""
LEADER_FROM = 2.6
"""Letters nearer than this to their place need no leader [mm]."""
AT_PLACE = 0.9
"""So near to what it names a leader may cross other lines [mm]."""
TURNS = 16


@dataclass(frozen=True)
class Axis:
    """Kept stretches along one axis: (from, to) of the brake [mm], where each begins on paper [mm], and the scale."""

    kept: tuple[tuple[float, float], ...]
    scale: float

    @property
    def starts(self) -> tuple[float, ...]:
        """Where each stretch begins on paper."""
        sizes = [(b - a) * self.scale + GAP for a, b in self.kept]
        return (0.0, *itertools.accumulate(sizes[:-1]))

    @property
    def size(self) -> float:
        return sum((b - a) * self.scale for a, b in self.kept) + GAP * (len(self.kept) - 1)

    def stretch(self, value: float) -> tuple[float, float]:
        """The kept stretch about a value of the brake [mm], or the first one."""
        return next((k for k in self.kept if k[0] <= value <= k[1]), self.kept[0])

    def widened(self, size: float) -> Axis:
        """The same with more shown at both ends."""
        more = max(size - self.size, 0.0) / self.scale / 2
        kept = [list(k) for k in self.kept]
        kept[0][0] -= more
        kept[-1][1] += more
        return Axis(tuple((a, b) for a, b in kept), self.scale)


@dataclass(frozen=True)
class Window:
    """What is shown; its lower left corner is the origin of the paper."""

    x: Axis
    y: Axis

    @property
    def scale(self) -> float:
        return self.x.scale

    def cells(self) -> list[tuple[Box, Point]]:
        """Each kept rectangle in the brake, and its lower left corner on paper."""
        cells = []
        for (a, b), px in zip(self.x.kept, self.x.starts, strict=True):
            for (c, d), py in zip(self.y.kept, self.y.starts, strict=True):
                cells.append(((a, c, b, d), (px, py)))
        return cells

    def place(self, point: Point) -> Point | None:
        """A point of the brake on paper, None where it is not shown."""
        for (a, c, b, d), (px, py) in self.cells():
            if a <= point[0] <= b and c <= point[1] <= d:
                return px + (point[0] - a) * self.scale, py + (point[1] - c) * self.scale
        return None

    def polylines(self, points: Sequence[Point], *, closed: bool) -> list[Points]:
        """What is shown of a polyline of the brake, on paper."""
        line = np.array((*points, points[0]) if closed else points, dtype=float)
        runs = []
        for cell, corner in self.cells():
            for run in _runs_inside(line, cell):
                runs.append(_on_paper(run, cell, corner, self.scale))
        return runs

    def hatching(self, outlines: Iterable[Points], slope: float, step: float) -> list[Points]:
        """Parallel lines inside closed outlines of the brake: ``slope`` +1 or -1, ``step`` apart on paper."""
        lines = []
        for outline in outlines:
            for cell, corner in self.cells():
                for line in _hatch_lines(outline, slope, step / self.scale, cell):
                    lines.append(_on_paper(line, cell, corner, self.scale))
        return lines

    def breaks(self, outlines: Iterable[Points]) -> list[tuple[Point, Point]]:
        """Where closed outlines of the brake run on beyond what is shown: stretches of the cells' edges, on paper."""
        breaks = []
        for outline in outlines:
            shape = np.array(outline)
            for (a, c, b, d), corner in self.cells():
                for axis, at, low, high in ((0, a, c, d), (0, b, c, d), (1, c, a, b), (1, d, a, b)):
                    for one, two in _crossings(shape, axis, at):
                        one, two = max(one, low), min(two, high)
                        if two - one > 1e-6:
                            ends = [(at, one), (at, two)] if axis == 0 else [(one, at), (two, at)]
                            pair = _on_paper(np.array(ends), (a, c, b, d), corner, self.scale)
                            breaks.append((pair[0], pair[1]))
        return breaks


def windows(shown: Sequence[tuple[Points, Points]], wide: float, high: float) -> tuple[Window, ...]:
    """Windows at one scale, together as wide as a strip of paper; ``shown``: metal, and points to see, for each."""
    chosen = _largest_fit(shown, wide, high, SCALES, cut=False)
    if chosen is None or chosen[0].scale < READABLE:
        cut = _largest_fit(shown, wide, high, tuple(s for s in SCALES if s <= 1.0), cut=True)
        if cut is not None and (chosen is None or cut[0].scale > GAIN * chosen[0].scale):
            chosen = cut
    if chosen is None:
        raise ValueError("a stage too large to draw")
    tall = max(w.y.size for w in chosen)
    more = (wide - sum(w.x.size for w in chosen)) / len(chosen)
    return tuple(Window(w.x.widened(w.x.size + more), w.y.widened(tall)) for w in chosen)


def _largest_fit(
    shown: Sequence[tuple[Points, Points]], wide: float, high: float, scales: tuple[float, ...], *, cut: bool
) -> list[Window] | None:
    for scale in scales:
        candidates = [Window(_axis(m, p, 0, scale, cut), _axis(m, p, 1, scale, cut)) for m, p in shown]
        if sum(w.x.size for w in candidates) <= wide and max(w.y.size for w in candidates) <= high:
            return candidates
    return None


def _axis(metal: Points, points: Points, axis: int, scale: float, cut: bool) -> Axis:
    values = sorted({p[axis] for p in points})
    kept = [values[0] - MARGIN / scale]
    ends = []
    if cut:
        for low, high in itertools.pairwise(values):
            one, two = low + KEPT / scale, high - KEPT / scale
            if (two - one) * scale > 2 * GAP and _straight(metal, axis, one, two, scale):
                ends.append(one)
                kept.append(two)
    ends.append(values[-1] + MARGIN / scale)
    return Axis(tuple(zip(kept, ends, strict=True)), scale)


def _straight(metal: Points, axis: int, low: float, high: float, scale: float) -> bool:
    """Whether all metal runs along the axis between two places."""
    for p, q in zip(metal, (*metal[1:], metal[0]), strict=True):
        a, b = sorted((p, q), key=lambda e: e[axis])
        if a[axis] < high and b[axis] > low:
            slope = (b[1 - axis] - a[1 - axis]) / (b[axis] - a[axis])
            if abs(slope) * (high - low) * scale > STRAIGHT:
                return False
    return True


def _on_paper(run: Floats, cell: Box, corner: Point, scale: float) -> Points:
    x = corner[0] + (run[:, 0] - cell[0]) * scale
    y = corner[1] + (run[:, 1] - cell[1]) * scale
    return tuple(zip(x.tolist(), y.tolist(), strict=True))


def _runs_inside(line: Floats, cell: Box) -> list[Floats]:
    """Runs of a polyline inside a rectangle."""
    if bool(((line >= cell[:2]) & (line <= cell[2:])).all()):
        return [line]
    runs: list[list[Point]] = []
    points = line.tolist()
    for p, q in itertools.pairwise(points):
        part = clip(p, q, cell)
        if part is None:
            continue
        one, two = part
        if runs and runs[-1][-1] == one:
            runs[-1].append(two)
        else:
            runs.append([one, two])
    return [np.array(r) for r in runs]


def clip(p: Sequence[float], q: Sequence[float], cell: Box) -> tuple[Point, Point] | None:
    """What of a straight line lies in a rectangle, None where nothing does.

    >>> clip((0.0, 0.0), (4.0, 0.0), (1.0, -1.0, 2.0, 1.0))
    ((1.0, 0.0), (2.0, 0.0))
    """
    span = share(p, q, cell)
    if span is None:
        return None
    first, last = span
    dx, dy = q[0] - p[0], q[1] - p[1]
    one = (p[0], p[1]) if first <= 0.0 else (p[0] + first * dx, p[1] + first * dy)
    two = (q[0], q[1]) if last >= 1.0 else (p[0] + last * dx, p[1] + last * dy)
    return one, two


def share(p: Sequence[float], q: Sequence[float], cell: Box) -> tuple[float, float] | None:
    """Where a straight line enters and leaves a rectangle, as shares of its length; None where it does not."""
    first, last = 0.0, 1.0
    for k in (0, 1):
        way, low, high = q[k] - p[k], cell[k] - p[k], cell[k + 2] - p[k]
        if abs(way) < 1e-12:
            if low > 0 or high < 0:
                return None
            continue
        one, two = low / way, high / way
        first, last = max(first, min(one, two)), min(last, max(one, two))
    return (first, last) if last - first > 1e-12 else None


def _hatch_lines(outline: Points, slope: float, step: float, cell: Box) -> list[Floats]:
    """Hatching lines of one outline inside one rectangle."""
    long = math.hypot(1.0, slope)
    u, v = 1.0 / long, slope / long
    off = [u * y - v * x for x, y in outline]
    along = [u * x + v * y for x, y in outline]
    corners = [u * cell[j] - v * cell[i] for i in (0, 2) for j in (1, 3)]
    low, high = max(min(off), min(corners)), min(max(off), max(corners))
    lines = []
    count = len(outline)
    for n in range(math.ceil(low / step), math.floor(high / step) + 1):
        c = n * step
        places = []
        for k in range(count):
            a, b = off[k - 1], off[k]
            if (a <= c) != (b <= c):
                places.append(along[k - 1] + (c - a) / (b - a) * (along[k] - along[k - 1]))
        places.sort()
        for a, b in zip(places[::2], places[1::2], strict=True):
            line = clip((a * u - c * v, a * v + c * u), (b * u - c * v, b * v + c * u), cell)
            if line is not None:
                lines.append(np.array(line))
    return lines


def _crossings(shape: Floats, axis: int, at: float) -> list[tuple[float, float]]:
    """Stretches of a line square to an axis that lie inside a closed outline."""
    one, two = shape[:, axis], np.roll(shape[:, axis], -1)
    hit = (one <= at) != (two <= at)
    share = (at - one[hit]) / (two[hit] - one[hit])
    other, after = shape[:, 1 - axis], np.roll(shape[:, 1 - axis], -1)
    places = np.sort(other[hit] + share * (after[hit] - other[hit])).tolist()
    return list(zip(places[::2], places[1::2], strict=True))


@dataclass
class LetterPlacer:
    """Free places for letters in a picture: off its ``lines`` (n, 4) and the ``boxes`` of letters, within ``frame``."""

    lines: Floats
    frame: Box
    boxes: list[Box] = field(default_factory=list)

    def put(
        self, text: str, height: float, at: Point, prefer: float = 90.0, least: float = 0.0
    ) -> tuple[Text, tuple[Point, Point] | None] | None:
        """Letters near a place, first tried in the direction ``prefer`` [deg], with a leader; None without room."""
        wide, low, tall = text_width(text, height), DESCENT * height, ASCENT * height
        half = np.array([wide / 2 + CLEAR, (low + tall) / 2 + CLEAR])
        around = sorted(range(TURNS), key=lambda k: min(k, TURNS - k))
        turns = np.array([math.radians(prefer + 360.0 / TURNS * k) for k in around])
        near = self._around(at, FAR[-1] + 2 * float(half.max()))
        for strict in (True, False):
            for far in FAR:
                if far < least:
                    continue
                push = far + np.abs(np.cos(turns)) * half[0] + np.abs(np.sin(turns)) * half[1]
                middles = np.array(at) + np.stack([np.cos(turns), np.sin(turns)], axis=1) * push[:, None]
                for k in np.flatnonzero(self._free(middles, half, near)):
                    x, y = (float(v) for v in middles[k])
                    gap = math.hypot(max(abs(at[0] - x) - half[0], 0.0), max(abs(at[1] - y) - half[1], 0.0))
                    leader = self._leader(at, (x, y), half) if gap > LEADER_FROM else None
                    if leader is not None and (self._covers(leader) or (strict and crosses(leader, near))):
                        continue
                    self.boxes.append((x - half[0], y - half[1], x + half[0], y + half[1]))
                    if leader is not None:
                        self.lines = np.concatenate([self.lines, np.array([[*leader[0], *leader[1]]])])
                    return Text(text, (x - wide / 2, y - (tall - low) / 2), height), leader
        return None

    def inside(self, text: str, height: float, spots: Floats) -> tuple[Text, Box] | None:
        """Letters in the first free one of some places: for names in hatching that is not drawn yet."""
        wide, low, tall = text_width(text, height), DESCENT * height, ASCENT * height
        half = np.array([wide / 2 + CLEAR, (low + tall) / 2 + CLEAR])
        if not len(spots):
            return None
        for k in np.flatnonzero(self._free(spots, half, self.lines)):
            x, y = (float(v) for v in spots[k])
            box = (x - half[0], y - half[1], x + half[0], y + half[1])
            self.boxes.append(box)
            return Text(text, (x - wide / 2, y - (tall - low) / 2), height), box
        return None

    def _around(self, at: Point, far: float) -> Floats:
        lines = self.lines
        x, y = lines[:, ::2], lines[:, 1::2]
        beside = (x.max(axis=1) < at[0] - far) | (x.min(axis=1) > at[0] + far)
        chosen = np.flatnonzero(~(beside | (y.max(axis=1) < at[1] - far) | (y.min(axis=1) > at[1] + far)))
        return np.asarray(lines[chosen])

    def _free(self, middles: Floats, half: Floats, lines: Floats) -> NDArray[np.bool_]:
        left, low, right, high = self.frame
        ok: NDArray[np.bool_] = np.all((middles - half >= [left, low]) & (middles + half <= [right, high]), axis=1)
        for a, b, c, d in self.boxes:
            apart = (middles[:, 0] + half[0] <= a) | (middles[:, 0] - half[0] >= c)
            ok &= apart | (middles[:, 1] + half[1] <= b) | (middles[:, 1] - half[1] >= d)
        which = np.flatnonzero(ok)
        if len(which) and len(lines):
            ok[which] = ~meets(lines, middles[which], half).any(axis=1)
        return ok

    def _leader(self, at: Point, middle: Point, half: Floats) -> tuple[Point, Point]:
        dx, dy = at[0] - middle[0], at[1] - middle[1]
        share = min(half[0] / max(abs(dx), 1e-9), half[1] / max(abs(dy), 1e-9))
        return (middle[0] + dx * share, middle[1] + dy * share), at

    def _covers(self, leader: tuple[Point, Point]) -> bool:
        line = np.array([[*leader[0], *leader[1]]])
        return any(
            meets(line, np.array([[(a + c) / 2, (b + d) / 2]]), np.array([(c - a) / 2, (d - b) / 2])).any()
            for a, b, c, d in self.boxes
        )


def crosses(leader: tuple[Point, Point], lines: Floats) -> bool:
    """Whether a leader crosses any of ``lines`` (n, 4) before it comes near to what it names."""
    if not len(lines):
        return False
    (ax, ay), (bx, by) = leader
    long = math.hypot(bx - ax, by - ay)
    part = max(long - AT_PLACE, 0.0) / max(long, 1e-9)
    dx, dy = (bx - ax) * part, (by - ay) * part
    one = dx * (lines[:, 1] - ay) - dy * (lines[:, 0] - ax)
    two = dx * (lines[:, 3] - ay) - dy * (lines[:, 2] - ax)
    ex, ey = lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1]
    three = ex * (ay - lines[:, 1]) - ey * (ax - lines[:, 0])
    four = ex * (ay + dy - lines[:, 1]) - ey * (ax + dx - lines[:, 0])
    return bool(((one * two <= 0) & (three * four <= 0)).any())


def meets(lines: Floats, middles: Floats, half: Floats) -> NDArray[np.bool_]:
    """Which boxes about ``middles`` (m, 2) of one ``half`` size are met by which ``lines`` (n, 4): (m, n)."""
    start = lines[None, :, :2] - middles[:, None, :]
    way = lines[None, :, 2:] - lines[None, :, :2]
    safe = np.where(np.abs(way) < 1e-12, 1e-12, way)
    one, two = (-half - start) / safe, (half - start) / safe
    first = np.minimum(one, two).max(axis=2)
    last = np.maximum(one, two).min(axis=2)
    return np.asarray(np.maximum(first, 0.0) <= np.minimum(last, 1.0))


def outside_boxes(points: Points, boxes: list[Box]) -> list[Points]:
    """A straight line without what lies in boxes."""
    runs = [points]
    for a, b, c, d in boxes:
        kept: list[Points] = []
        for p, q in runs:
            span = share(p, q, (a, b, c, d))
            if span is None:
                kept.append((p, q))
                continue
            first, last = span
            way = (q[0] - p[0], q[1] - p[1])
            for begin, until, left in ((0.0, first, first > 1e-9), (last, 1.0, last < 1 - 1e-9)):
                if left:
                    kept.append(tuple((p[0] + e * way[0], p[1] + e * way[1]) for e in (begin, until)))
        runs = kept
    return runs
