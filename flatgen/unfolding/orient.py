"""Which way a flat lies, and in what order its parts are counted: by its geometry, never by the order of faces.

x runs across the longest bend, of a plate across its longest edge; of several such ways the one is taken that gives
the smallest list of places. Panels are counted from the largest, bends from left to right, loops begin at their
lowest left corner.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Point, Segment, letters

PLACES = 4
"""Decimals [mm] to which places are compared."""


def directions(flat: FlatPattern) -> list[float]:
    """Angles of possible x directions [rad]: across the longest bends; of a plate, across its longest edges."""
    if flat.bends:
        longest = max(b.length for b in flat.bends)
        lines = [b.across for b in flat.bends if b.length > longest - 1e-5]
    else:
        edges = [p for p in flat.outline if isinstance(p, Line)]
        longest = max((p.length for p in edges), default=0.0)
        chosen = [p for p in edges if p.length > longest - 1e-5]
        lines = [(p.end[1] - p.start[1], p.start[0] - p.end[0]) for p in chosen] or [(1.0, 0.0)]
    angles = {round(math.atan2(y, x) % math.pi, 6) % round(math.pi, 6): math.atan2(y, x) % math.pi for x, y in lines}
    return [a + turn for _, a in sorted(angles.items()) for turn in (0.0, math.pi)]


def signature(flat: FlatPattern, angle: float) -> list[tuple[float, float, float]]:
    """The places of a flat's lines, corners and ways, seen along an x direction at an angle [rad]."""
    bends = [(*p, 1.0 if b.way == "up" else 2.0) for b in flat.bends for s in b.segments for p in s.centre]
    marks = [(*p.at(share), 0.0) for o in (flat.outline, *flat.openings) for p in o for share in (0.0, 0.5)]
    places = np.array(bends + marks)
    c, s = math.cos(angle), math.sin(angle)
    seen = places[:, :2] @ np.array(((c, -s), (s, c)))
    seen = np.round(seen - seen.min(axis=0), PLACES) + 0.0
    order = np.lexsort((places[:, 2], seen[:, 1], seen[:, 0]))
    return [(float(x), float(y), float(w)) for (x, y), w in zip(seen[order], places[order, 2], strict=True)]


def counted(flat: FlatPattern) -> FlatPattern:
    """The same flat with panels, bends, openings and corners in the order of the house, and bends lettered."""
    order = sorted(range(len(flat.panels)), key=lambda n: _panel_key(flat, n))
    number = {old: new for new, old in enumerate(order)}
    bends = [replace(b, first=number[b.first], second=number[b.second]) for b in flat.bends]
    bends = _from_root(bends, len(order))
    bends.sort(key=_bend_key)
    openings = [(begun(o), n) for n, o in enumerate(flat.openings)]
    openings.sort(key=lambda pair: _loop_key(pair[0]))
    place = {old: new for new, (_, old) in enumerate(openings)}
    return replace(
        flat,
        outline=begun(flat.outline),
        openings=tuple(o for o, _ in openings),
        panels=tuple(flat.panels[n] for n in order),
        bends=tuple(replace(b, label=letters(n)) for n, b in enumerate(bends)),
        root=0,
        openings_differ=tuple(sorted(((place[n], d) for n, d in flat.openings_differ), key=lambda pair: pair[0])),
    )


def _from_root(bends: list[Bend], count: int) -> list[Bend]:
    """Bends turned so that each leads away from panel 0."""
    reached, found, waiting = {0}, [], list(bends)
    while waiting:
        ready = [b for b in waiting if b.first in reached or b.second in reached]
        for bend in ready:
            led = bend if bend.first in reached else turned(bend)
            reached.add(led.second)
            found.append(led)
        waiting = [b for b in waiting if b not in ready]
        if not ready:
            raise ValueError(f"bends that do not hang together: {len(reached)} of {count} panels")
    return found


def turned(bend: Bend) -> Bend:
    """The same bend seen from its other panel."""
    (ox, oy), (ax, ay), wide = bend.origin, bend.along, bend.allowance
    point, axis = bend.axis
    return replace(
        bend,
        first=bend.second,
        second=bend.first,
        origin=(ox + ay * wide, oy - ax * wide),
        along=(-ax, -ay),
        axis=(point, (-axis[0], -axis[1], -axis[2])),
        segments=tuple(_turned_segment(s) for s in reversed(bend.segments)),
    )


def _turned_segment(segment: Segment) -> Segment:
    (a, b), (c, d) = segment.tangents
    return replace(segment, centre=segment.centre[::-1], tangents=((d, c), (b, a)))


def begun(loop: Loop) -> Loop:
    """A loop that begins at its lowest left corner; a full circle at its right."""
    pieces = loop.pieces
    if len(pieces) == 1:
        only = pieces[0]
        return Loop((replace(only, first=0.0),)) if isinstance(only, Arc) and only.full else loop
    start = min(range(len(pieces)), key=lambda n: _place(pieces[n].start))
    return Loop(pieces[start:] + pieces[:start])


def _place(point: Point) -> tuple[float, float]:
    return (round(point[0], PLACES) + 0.0, round(point[1], PLACES) + 0.0)


def _loop_key(loop: Loop) -> tuple[float, ...]:
    x0, y0, x1, y1 = loop.box()
    return (*_place((x0, y0)), *_place((x1, y1)), round(loop.area, PLACES))


def _bend_key(bend: Bend) -> tuple[float, ...]:
    (x0, y0), (x1, y1) = bend.centre
    low, high = sorted((_place((x0, y0)), _place((x1, y1))))
    return (round((x0 + x1) / 2, PLACES) + 0.0, round((y0 + y1) / 2, PLACES) + 0.0, *low, *high)


def _panel_key(flat: FlatPattern, number: int) -> tuple[float, ...]:
    panel = flat.panels[number]
    area = math.fsum(r.area for r in panel.regions)
    x0, y0, x1, y1 = panel.outline.box()
    return (-round(area, PLACES), *_place((x0, y0)), *_place((x1, y1)))
