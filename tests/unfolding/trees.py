"""Random parts shaped as trees, with their flats known by construction. Shares no code with the unfolder.

A part grows in the flat, flange by flange where there is room (``tree_room``); its flat follows by arithmetic
(``tree_parts``). Then each plate and each piece of zone becomes a kernel solid, placed by its own chain of turns,
and all are fused into one (``tree_solids``). Millimetres and degrees.
"""

from __future__ import annotations

import math
import random
from itertools import count
from typing import Any

import numpy as np

from flatgen.core.flat_pattern import Arc, Piece, Point
from tests.unfolding.tree_parts import Hinge, Pen, Plate, Relief, Side, Tree, Window, allowance_of, swung
from tests.unfolding.tree_room import Room
from tests.unfolding.tree_solids import formed_solid


def grown_tree(seed: int) -> tuple[Tree, Any]:
    """A part from a seed, and its formed solid: tried until one neither flat nor formed runs into itself."""
    for attempt in count():
        rng = random.Random(f"tree {seed} {attempt}")
        tree = _grow(rng, (1, 2, 3, 5, 8, 12, 16, 20)[seed % 8])
        solid = formed_solid(tree)
        if solid is not None:
            return tree, solid
    raise AssertionError("unreachable")


def _grow(rng: random.Random, bends: int) -> Tree:
    thickness = rng.choice((0.5, 0.8, 1.0, 1.5, 2.0, 3.0, rng.uniform(0.5, 3.0)))
    root = Plate(_sides(_base_corners(rng, 1 + bends / 20)), np.eye(4))
    tree = Tree(thickness, rng.uniform(0.3, 0.5), [root], [])
    room = Room(tree)
    for _ in range(60 * bends):
        if len(tree.hinges) == bends:
            break
        _try_flange(rng, tree, room)
    for plate in tree.plates:
        for _ in range(rng.choice((0, 1, 1, 3))):
            hole = _hole(rng, plate, room)
            if hole:
                plate.holes.append(hole)
    return tree


def _base_corners(rng: random.Random, larger: float) -> list[Point]:
    if rng.random() < 0.4:
        w, h = rng.uniform(60, 140) * larger, rng.uniform(50, 120) * larger
        return [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    corners, size = rng.choice((4, 5, 6)), rng.uniform(55, 85) * larger
    turn = rng.uniform(0, 360)
    angles = [turn + 360 / corners * (n + rng.uniform(-0.2, 0.2)) for n in range(corners)]
    return [(size * math.cos(math.radians(a)), size * math.sin(math.radians(a)) * 0.8) for a in angles]


def _sides(corners: list[Point]) -> list[Side | Arc]:
    return [Side(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]


def _try_flange(rng: random.Random, tree: Tree, room: Room) -> None:
    plate = rng.choice(tree.plates[:1] * 2 + [p for p in tree.plates if p.level < 4])
    side = rng.choice([s for s in plate.path if isinstance(s, Side)])
    span = _free_span(rng, plate, side)
    if span is None:
        return
    t, r = tree.thickness, tree.thickness * rng.uniform(0.3, 4.0)
    angle = rng.choice((90.0, 90.0, 45.0, 30.0, rng.uniform(15, 165), rng.uniform(15, 165)))
    along = ((side.end[0] - side.start[0]) / side.length, (side.end[1] - side.start[1]) / side.length)
    hinge = Hinge(side.start, along, *span, angle, rng.choice(("up", "down")), r, allowance_of(angle, r, t, tree.k))
    hinge.reliefs = (_some_relief(rng, side, hinge, True, t), _some_relief(rng, side, hinge, False, t))
    hinge.windows = _some_windows(rng, hinge)
    hinge.parent, hinge.child = plate, Plate(_flange_path(rng, hinge), np.eye(4), hinge, [], plate.level + 1)
    hinge.child.placed = plate.placed @ swung(hinge, t)
    side.hinges.append(hinge)
    side.hinges.sort(key=lambda h: h.start)
    if room.has(hinge):
        tree.hinges.append(hinge)
        tree.plates.append(hinge.child)
    else:
        side.hinges.remove(hinge)


def _free_span(rng: random.Random, plate: Plate, side: Side) -> tuple[float, float] | None:
    if side.length < 10:
        return None
    if plate.base is None and not side.hinges and rng.random() < 0.4:
        return (0.0, side.length)
    low, high = sorted(rng.uniform(0.6, side.length - 0.6) for _ in range(2))
    taken = any(low < h.end + 4 and high > h.start - 4 for h in side.hinges)
    return None if high - low < 8 or taken else (low, high)


def _some_relief(rng: random.Random, side: Side, hinge: Hinge, first: bool, t: float) -> Relief | None:
    width = rng.uniform(0.6, 1.8)
    room = hinge.start if first else side.length - hinge.end
    if room < width + 0.5 or rng.random() < 0.4:
        return None
    return Relief(width, rng.uniform(0.4, 1.0) * t + 0.3, rng.random() < 0.5)


def _some_windows(rng: random.Random, hinge: Hinge) -> tuple[Window, ...]:
    """None, or some beside one another: over the whole zone, from one plate into it, or within it."""
    length, made = hinge.end - hinge.start, []
    for n in range(rng.choice((0, 0, 1, 2)) if length > 20 else 0):
        low = hinge.start + length * (0.2 + 0.4 * n)
        start, end = low, low + rng.uniform(0.6, min(8.0, 0.25 * length))
        wide, rounded = hinge.allowance, rng.random() < 0.5
        kind = rng.choice(("through", "through", "through", "flush", "first", "second", "within"))
        deep = rng.uniform(0.3, 2.0)
        made.append(
            {
                "through": Window(start, end, -deep, wide + deep * 0.8, rounded),
                "flush": Window(start, end, 0.0, wide, False),
                "first": Window(start, end, -deep, 0.6 * wide, rounded),
                "second": Window(start, end, 0.3 * wide, wide + deep, rounded),
                "within": Window(start, end, 0.25 * wide, 0.7 * wide, False),
            }[kind]
        )
    return tuple(made)


def _flange_path(rng: random.Random, hinge: Hinge) -> list[Side | Arc]:
    """Free boundary of a flange: square, slanted, mitred or peaked, with shoulders or not, corners rounded or not."""
    length, high = hinge.end - hinge.start, rng.uniform(6, 40)
    left, right, low, top = hinge.start, hinge.end, hinge.allowance, hinge.allowance + high
    kind = rng.choice(("square", "slanted", "mitred", "peaked", "shouldered"))
    if kind == "square":
        spots = [(left, low), (left, top), (right, top), (right, low)]
    elif kind == "slanted":
        a, b = (rng.uniform(-0.1, 0.3) * length for _ in range(2))
        spots = [(left, low), (left + a, top), (right - b, low + high * rng.uniform(0.6, 1)), (right, low)]
    elif kind == "mitred":
        slope = min(math.tan(math.radians(rng.choice((30.0, 45.0)))), 0.4 * length / high)
        spots = [(left, low), (left + slope * high, top), (right - slope * high, top), (right, low)]
    elif kind == "peaked":
        middle = left + length * rng.uniform(0.3, 0.7)
        spots = [(left, low), (left, low + high / 2), (middle, top), (right, low + high * 0.6), (right, low)]
    else:
        out = rng.uniform(0.5, 4)
        spots = [
            (left, low),
            (left - out, low),
            (left - out, top),
            (right + out, top),
            (right + out, low),
            (right, low),
        ]
    rounding = rng.choice((0.0, 0.0, 1.5, rng.uniform(0.5, 5.0)))
    return _rounded([hinge.at(s, v) for s, v in spots], rounding, 2 if kind == "shouldered" else 1)


def _rounded(corners: list[Point], radius: float, kept: int) -> list[Side | Arc]:
    """An open chain with its corners rounded, the first and last ``kept`` left sharp."""
    at, path = corners[0], []
    for n in range(1, len(corners) - 1):
        (x0, y0), (x1, y1), (x2, y2) = corners[n - 1 : n + 2]
        one, two = math.atan2(y1 - y0, x1 - x0), math.atan2(y2 - y1, x2 - x1)
        turn = (two - one + math.pi) % (2 * math.pi) - math.pi
        back = radius * math.tan(abs(turn) / 2)
        short = min(math.dist(at, corners[n]), math.dist(corners[n], corners[n + 1]) / 2) - 1.0
        if radius == 0 or turn <= 0 or back > short or not kept <= n < len(corners) - kept:
            path.append(Side(at, corners[n]))
            at = corners[n]
            continue
        begin = (x1 - back * math.cos(one), y1 - back * math.sin(one))
        centre = (begin[0] - radius * math.sin(one), begin[1] + radius * math.cos(one))
        arc = Arc(centre, radius, math.degrees(one) - 90, math.degrees(turn))
        path += [Side(at, begin), arc]
        at = (x1 + back * math.cos(two), y1 + back * math.sin(two))
    return [*path, Side(at, corners[-1])]


def _hole(rng: random.Random, plate: Plate, room: Room) -> tuple[Piece, ...] | None:
    """A round hole or a slot that lies clear on a plate, clockwise."""
    radius, length, turn = rng.uniform(0.8, 4.0), rng.choice((0.0, rng.uniform(2, 12))), rng.uniform(0, 180)
    centre = room.spot(rng, plate, radius + length / 2 + 1.0)
    if centre is None:
        return None
    if length == 0:
        return (Arc(centre, radius, 0.0, -360.0),)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def at(x: float, y: float) -> Point:
        return (centre[0] + x * c - y * s, centre[1] + x * s + y * c)

    pen = Pen(at(-length / 2, radius))
    pen.to(at(length / 2, radius))
    pen.half_round(at(length / 2, -radius))
    pen.to(at(-length / 2, -radius))
    pen.half_round(at(-length / 2, radius))
    return tuple(pen.pieces)
