"""Flats made by hand for the tests of the drawing room; their sizes are of our own choosing (self)."""

from __future__ import annotations

import math
import random

import numpy as np

from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Line, Loop, Panel, Point, Segment, Way
from flatgen.paper.drawing import Notes

NOTES = Notes(
    "Sample channel",
    ("Metal 6061-T6, thickness 1 mm (0.04 in)", "Blank 210 mm × 640 mm, bend allowance by DIN 6935"),
    ("inside radius 1 mm is under the least of 1.5 mm known for this metal",),
)


def polygon(*points: Point) -> Loop:
    """Closed loop of lines."""
    return Loop(tuple(Line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)))


def circle(x: float, y: float, radius: float) -> Loop:
    """A round opening, clockwise."""
    return Loop((Arc((x, y), radius, 0.0, -360.0),))


def slot(x: float, y: float, half: float, radius: float) -> Loop:
    """A slot along x with round ends, clockwise."""
    return Loop(
        (
            Line((x - half, y + radius), (x + half, y + radius)),
            Arc((x + half, y), radius, 90.0, -180.0),
            Line((x + half, y - radius), (x - half, y - radius)),
            Arc((x - half, y), radius, 270.0, -180.0),
        )
    )


def bend(
    centre: tuple[Point, Point],
    allowance: float,
    *,
    label: str = "A",
    way: Way = "up",
    angle: float = 90.0,
    radius: float = 2.0,
    order: int | None = None,
    first: int = 0,
    second: int = 1,
) -> Bend:
    """A bend about a bend line, tangent lines at half the allowance on each side."""
    (ax, ay), (bx, by) = centre
    size = math.dist((ax, ay), (bx, by))
    along = ((bx - ax) / size, (by - ay) / size)
    across = (along[1], -along[0])

    def beside(share: float) -> tuple[Point, Point]:
        dx, dy = across[0] * allowance * share, across[1] * allowance * share
        return ((ax + dx, ay + dy), (bx + dx, by + dy))

    low, high = beside(-0.5), beside(0.5)
    zone = polygon(low[1], low[0], high[0], high[1])
    segment = Segment(zone, (), centre, (low, high))
    axis = ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    return Bend(first, second, angle, way, radius, allowance, 0.4, "k", low[0], along, axis, (segment,), label, order)


def chain(
    flats: list[float],
    allowances: list[float],
    length: float,
    openings: tuple[Loop, ...] = (),
    names: dict[int, str] | None = None,
    orders: list[int] | None = None,
) -> FlatPattern:
    """Parallel bends across x; flats between tangent lines, allowances between them [mm]."""
    x = 0.0
    panels: list[Panel] = []
    bends: list[Bend] = []
    for i, flat in enumerate(flats):
        region = polygon((x, 0.0), (x + flat, 0.0), (x + flat, length), (x, length))
        panels.append(Panel(region, (), np.eye(4), (names or {}).get(i)))
        x += flat
        if i < len(allowances):
            middle = x + allowances[i] / 2
            bends.append(
                bend(
                    ((middle, 0.0), (middle, length)),
                    allowances[i],
                    label=letter(i),
                    way="up" if i % 3 != 1 else "down",
                    angle=(90.0, 45.0, 120.0)[i % 3],
                    radius=allowances[i] / 1.7,
                    order=orders[i] if orders else None,
                    first=i,
                    second=i + 1,
                )
            )
            x += allowances[i]
    outline = polygon((0.0, 0.0), (x, 0.0), (x, length), (0.0, length))
    return FlatPattern(1.0, outline, openings, tuple(panels), tuple(bends))


def letter(i: int) -> str:
    """A, B, ... Z, AA, ..."""
    return (letter(i // 26 - 1) if i >= 26 else "") + chr(65 + i % 26)


def channel() -> FlatPattern:
    return chain([23.0, 100.0, 40.0], [5.4, 5.4], 320.0, names={0: "lip", 1: "web", 2: "flange"}, orders=[2, 1])


def dense() -> FlatPattern:
    """A narrow section whose twelve bends lie 3 mm apart."""
    return chain([12.0] + [1.2] * 11 + [14.0], [1.8] * 12, 60.0)


def flat_dense() -> FlatPattern:
    """Many bends across a strip shorter than its own figures: a wide fan of labels."""
    return chain([6.0] + [1.2] * 20 + [6.0], [1.8] * 21, 10.0)


def plate() -> FlatPattern:
    return chain([180.0], [], 120.0, names={0: "cover"})


def pierced() -> FlatPattern:
    """Round openings in the way of labels, a slot, and corners rounded."""
    openings = (circle(20.0, 100.0, 8.0), circle(122.0, 60.0, 30.0), slot(215.0, 50.0, 15.0, 6.0))
    plain = chain([60.0, 120.0, 60.0], [4.0, 4.0], 200.0, openings)
    w, h, r = plain.width, plain.length, 15.0
    rounded = Loop(
        (
            Line((r, 0.0), (w - r, 0.0)),
            Arc((w - r, r), r, 270.0, 90.0),
            Line((w, r), (w, h - r)),
            Arc((w - r, h - r), r, 0.0, 90.0),
            Line((w - r, h), (r, h)),
            Arc((r, h - r), r, 90.0, 90.0),
            Line((0.0, h - r), (0.0, r)),
            Arc((r, r), r, 180.0, 90.0),
        )
    )
    return FlatPattern(plain.thickness, rounded, plain.openings, plain.panels, plain.bends)


def long_strip() -> FlatPattern:
    return chain([15.0, 26.0, 15.0], [2.0, 2.0], 3000.0)


def tiny() -> FlatPattern:
    return chain([5.0, 13.0], [2.0], 12.0)


def tray(reach: float = 30.0, width: float = 160.0, length: float = 110.0, allowance: float = 4.0) -> FlatPattern:
    """A tree: a floor with four walls, one of them slanted off by a bend that is parallel to no other."""
    a, w, h = allowance, width, length
    floor = polygon((0.0, 0.0), (w, 0.0), (w, h - 40.0), (w - 40.0, h), (0.0, h))
    sides = [(piece.start, piece.end) for piece in floor]
    points: list[Point] = []
    panels = [Panel(floor, (), np.eye(4), "floor")]
    bends: list[Bend] = []
    for i, ((ax, ay), (bx, by)) in enumerate(sides):
        size = math.dist((ax, ay), (bx, by))
        ux, uy = (bx - ax) / size, (by - ay) / size
        inset = 0.15 * size

        def at(s: float, v: float, o: Point = (ax, ay), u: Point = (ux, uy), n: Point = (uy, -ux)) -> Point:
            return (o[0] + s * u[0] + v * n[0], o[1] + s * u[1] + v * n[1])

        rim = [at(inset, 0.0), at(inset, a + reach), at(size - inset, a + reach), at(size - inset, 0.0)]
        points += [(ax, ay), *rim]
        wall = polygon(at(inset, a), rim[1], rim[2], at(size - inset, a))
        panels.append(Panel(wall, (), np.eye(4), f"wall {i + 1}"))
        line = (at(inset, a / 2), at(size - inset, a / 2))
        bends.append(bend(line, a, label=letter(i), way="up" if i else "down", second=i + 1))
    return FlatPattern(1.0, polygon(*points), (), tuple(panels), tuple(bends))


def random_chain(seed: int) -> FlatPattern:
    """Chains from narrow to wide, with and without openings."""
    dice = random.Random(seed)
    scale = 10 ** dice.uniform(0.3, 2.2)
    count = dice.randint(1, 12)
    flats = [dice.uniform(0.3, 3.0) * scale for _ in range(count + 1)]
    allowances = [dice.uniform(0.05, 0.6) * scale for _ in range(count)]
    length = dice.uniform(0.5, 40.0) * scale
    holes: list[Loop] = []
    if dice.random() < 0.5:
        radius = min(flats[0], length) / 4
        holes.append(circle(flats[0] / 2, length / 2, radius))
    return chain(flats, allowances, length, tuple(holes))


SAMPLES = {
    "channel": channel(),
    "dense": dense(),
    "flat dense": flat_dense(),
    "plate": plate(),
    "pierced": pierced(),
    "long": long_strip(),
    "tiny": tiny(),
    "tray": tray(),
}
