"""Places for short letters in a picture: clear of every line and of each other, with a leader to what they name.

Millimetres on paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flatgen.paper.drawing import typeface
from flatgen.paper.drawing.paper import ASCENT, DESCENT, Text
from flatgen.paper.stage_pictures.view import share

Floats = NDArray[np.float64]
Point = tuple[float, float]
Box = tuple[float, float, float, float]
CLEAR = 0.6
"""White around letters [mm]."""
FAR = (2.0, 3.5, 5.0, 7.0, 9.5, 12.5, 16.0, 20.0, 25.0, 31.0, 38.0)
"""How far letters stand from what they name, the nearest place first [mm]."""
LEADER_FROM = 2.6
"""Letters nearer than this to their place need no leader [mm]."""
AT_PLACE = 0.9
"""So near to what it names a leader may cross other lines [mm]."""
TURNS = 16


@dataclass
class Ground:
    """A picture being lettered: ``lines`` (n, 4) drawn in it, ``boxes`` taken by letters, within ``frame``."""

    lines: Floats
    frame: Box
    boxes: list[Box] = field(default_factory=list)

    def draw(self, points: tuple[Point, ...]) -> None:
        """Remember a polyline."""
        line = np.array(points)
        self.lines = np.concatenate([self.lines, np.concatenate([line[:-1], line[1:]], axis=1)])

    def put(
        self, text: str, height: float, at: Point, prefer: float = 90.0, least: float = 0.0
    ) -> tuple[Text, tuple[Point, Point] | None] | None:
        """Letters near a place, first looked for in the direction ``prefer`` [deg], and their leader.

        None where no place is free.
        """
        wide, low, tall = typeface.width(text, height), DESCENT * height, ASCENT * height
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
                        self.draw(leader)
                    return Text(text, (x - wide / 2, y - (tall - low) / 2), height), leader
        return None

    def inside(self, text: str, height: float, spots: Floats) -> tuple[Text, Box] | None:
        """Letters in the first of some places that is free of lines: for names that stand in hatching not yet drawn."""
        wide, low, tall = typeface.width(text, height), DESCENT * height, ASCENT * height
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
        """Lines within a square about a place."""
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
        """From the edge of the letters' box to what they name."""
        dx, dy = at[0] - middle[0], at[1] - middle[1]
        share = min(half[0] / max(abs(dx), 1e-9), half[1] / max(abs(dy), 1e-9))
        return (middle[0] + dx * share, middle[1] + dy * share), at

    def _covers(self, leader: tuple[Point, Point]) -> bool:
        """Whether a leader runs through letters."""
        line = np.array([[*leader[0], *leader[1]]])
        return any(
            meets(line, np.array([[(a + c) / 2, (b + d) / 2]]), np.array([(c - a) / 2, (d - b) / 2])).any()
            for a, b, c, d in self.boxes
        )


def crosses(leader: tuple[Point, Point], lines: Floats) -> bool:
    """Whether a leader crosses any line before it comes near to what it names.

    Parameters
    ----------
    leader : tuple
        From letters to what they name, [mm]
    lines : numpy.ndarray
        (n, 4), [mm]

    Returns
    -------
    bool
        [-]
    """
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
    """Which of some boxes of one size are met by which lines: (boxes, lines).

    Parameters
    ----------
    lines : numpy.ndarray
        (n, 4), [mm]
    middles : numpy.ndarray
        (m, 2), of the boxes, [mm]
    half : numpy.ndarray
        Half their width and height, [mm]

    Returns
    -------
    numpy.ndarray
        (m, n), [-]
    """
    start = lines[None, :, :2] - middles[:, None, :]
    way = lines[None, :, 2:] - lines[None, :, :2]
    safe = np.where(np.abs(way) < 1e-12, 1e-12, way)
    one, two = (-half - start) / safe, (half - start) / safe
    first = np.minimum(one, two).max(axis=2)
    last = np.maximum(one, two).min(axis=2)
    return np.asarray(np.maximum(first, 0.0) <= np.minimum(last, 1.0))


def off_boxes(points: tuple[Point, ...], boxes: list[Box]) -> list[tuple[Point, ...]]:
    """A straight line without what lies in boxes.

    Parameters
    ----------
    points : tuple
        Its two ends, [mm]
    boxes : list
        (left, low, right, high), [mm]

    Returns
    -------
    list[tuple]
        What is left of it, [mm]
    """
    runs = [points]
    for a, b, c, d in boxes:
        kept: list[tuple[Point, ...]] = []
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
