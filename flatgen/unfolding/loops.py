"""Closed loops without noise: ends that meet, nothing of no length, neighbours on one line or circle joined."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatgen.core.flat_pattern import Arc, Line, Loop, Piece, Point

DIGITS = 9
"""Coordinates are rounded to so many decimals [mm], which takes the kernel's last-digit noise away."""


def clean_loop(chain: list[Piece], *, join: bool = True) -> Loop:
    """A closed loop without noise: ends that meet, nothing of no length, collinear neighbours in one."""
    pieces = [_rounded_piece(p) for p in chain]
    pieces = [p for p in pieces if p.length > 10.0**-DIGITS]
    if not join:
        return Loop(tuple(_met(pieces)))
    joined: list[Piece] = []
    for piece in pieces:
        if joined and (both := _joined(joined[-1], piece)):
            joined[-1] = both
        else:
            joined.append(piece)
    if len(joined) > 1 and (both := _joined(joined[-1], joined[0])):
        joined = [both, *joined[1:-1]]
    return Loop(tuple(_met(joined)))


def _rounded_piece(piece: Piece) -> Piece:
    if isinstance(piece, Line):
        return Line(rounded(piece.start), rounded(piece.end))
    return Arc(rounded(piece.centre), round(piece.radius, DIGITS), round(piece.first, DIGITS + 2), piece.sweep)


def rounded(point: Point) -> Point:
    return (round(point[0], DIGITS) + 0.0, round(point[1], DIGITS) + 0.0)


def _joined(one: Piece, two: Piece) -> Piece | None:
    if isinstance(one, Line) and isinstance(two, Line):
        a = np.subtract(one.end, one.start)
        b = np.subtract(two.end, two.start)
        off = abs(float(a[0] * b[1] - a[1] * b[0])) / (one.length + two.length)
        return Line(one.start, two.end) if off < 1e-8 and float(a @ b) > 0 else None
    if isinstance(one, Arc) and isinstance(two, Arc) and one.sweep * two.sweep > 0:
        same = math.dist(one.centre, two.centre) < 1e-8 and abs(one.radius - two.radius) < 1e-8
        if same and abs(one.sweep + two.sweep) < 360 + 1e-9:
            return replace(one, sweep=one.sweep + two.sweep)
    return None


def _met(pieces: list[Piece]) -> list[Piece]:
    """Lines take the exact end of the piece before them and the exact start of the one after."""
    met = []
    for n, piece in enumerate(pieces):
        before, after = pieces[n - 1], pieces[(n + 1) % len(pieces)]
        if isinstance(piece, Line) and len(pieces) > 1:
            piece = Line(before.end, after.start if isinstance(after, Arc) else piece.end)
        met.append(piece)
    return met
