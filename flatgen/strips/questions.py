r"""Questions about numbers of a strip that contradict one another.

A question is for a slip of eye or pen, not for the scatter of a bend: the limits are as wide as metal, brake and
marking can explain. Without a slip the legs of a chain add up whatever the brake did, since what a bend adds to one of
its legs by its place it takes from the other:

.. math:: \sum legs = blank + \sum (SB_{left} + SB_{right} - BA)

each setback at the angle and radius that were got. All limits: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import product

from flatgen.core.errors import Finding
from flatgen.core.units import in_mm_and_inch
from flatgen.metal.allowance import effective_k, setback
from flatgen.strips import words
from flatgen.strips.reading import BendReading, StripReading, planned_flat

Where = Callable[..., str]
"""Place of a key of a strip for messages, such as ``("leg", 0, "got")``."""
FIFTH = 0.2
THIN = 0.05
"""Thickness that is never questioned, whatever share it is [mm]."""
BLANK = 2.0
"""A blank as cut may be off by this [mm]."""
K_RANGE = (0.2, 0.6)
"""Where the neutral fibre of a bend lies, and as far again as this beside what was planned with."""
K_BESIDE = 0.1
RADIUS_READ, RADIUS_SHARE = 0.3, 0.25
"""What a measured inside radius may be off [mm], and one that was not measured, as a share of the one asked."""
ANGLE_READ, ANGLE_GUESSED = 1.0, 5.0
"""What a measured angle may be off, and one that was not measured [deg]."""
SIZE_READ, EDGE_READ = 0.4, 0.5
"""What a measured leg may be off, and a blank that was not measured [mm]."""
PLACED = 2.5
"""How far a bend may lie from where it was planned: offset of the brake, marking and clamping [mm]."""
SIGHT = 3.0
ANGLE = 20.0
OPENING = 5.0
SPRING_LEAST, SPRING_MOST = -1.5, 35.0
NOSE = 0.5
WIDE, WIDE_BY = 2.0, 2.0
ASKED = 0.05
LARGEST_MOULD = 179.0


def questions(reading: StripReading, where: Where | None = None) -> tuple[Finding, ...]:
    """A caution for each number of a strip that cannot be right together with the others.

    :param where: place of a key for messages; the name of the strip where it is left out
    """

    def place(keys: tuple[str | int, ...]) -> str:
        return f"{where(*keys)} of strip {reading.name!r}" if where else f"strip {reading.name}"

    every = (
        *_about_blank(reading),
        *(q for n in range(len(reading.bends)) for q in _about_bend(reading, n)),
        *(q for n in range(len(reading.legs)) for q in _about_leg(reading, n)),
        *_about_sum(reading),
    )
    return tuple(Finding(words.QUESTIONED, "caution", place(keys), text, remedy) for keys, text, remedy in every)


_Question = tuple[tuple[str | int, ...], str, str]
"""Keys of the number, text, remedy."""


def _about_blank(reading: StripReading) -> Iterator[_Question]:
    got, nominal = reading.thickness, reading.nominal
    if got is not None and abs(got - nominal) > max(FIFTH * nominal, THIN):
        text = words.Q_THICKNESS.format(got=_thin(got), asked=_thin(nominal))
        yield ("thickness",), f"{text} {words.OWN_RULE}", words.READ_AGAIN
    blank = reading.blank_got
    if blank is not None and abs(blank - reading.blank) > BLANK:
        off = _size(abs(blank - reading.blank))
        text = words.Q_BLANK.format(got=_size(blank), asked=_size(reading.blank), off=off)
        yield ("blank_got",), text, words.READ_AGAIN
    bends = enumerate(reading.bends)
    sides = sum(math.fsum(_setbacks(reading, n, b.angle, b.inside_radius, reading.nominal)) for n, b in bends)
    total = math.fsum(leg.asked for leg in reading.legs) - sides + math.fsum(b.allowance for b in reading.bends)
    if abs(total - reading.blank) > ASKED:
        yield ("blank",), words.Q_ASKED.format(got=_fine(total), blank=_fine(reading.blank)), words.COPY_AGAIN


def _about_bend(reading: StripReading, n: int) -> Iterator[_Question]:
    bend = reading.bends[n]
    got, leaf, radius = bend.got, bend.set, bend.radius
    if got is not None and abs(got - bend.angle) > ANGLE:
        text = words.Q_ANGLE.format(label=bend.label, got=f"{got:g}", asked=f"{bend.angle:g}")
        opening = abs(180.0 - got - bend.angle) <= OPENING
        yield ("bend", n, "angle_got"), text, words.Q_OPENING if opening else words.READ_AGAIN
    if got is not None and leaf is not None and leaf - bend.loss - got < SPRING_LEAST:
        text = words.Q_SPRING.format(label=bend.label, set=f"{leaf:g}", got=f"{got:g}")
        yield ("bend", n, "angle_set"), text, words.READ_AGAIN
    if got is not None and leaf is not None and leaf - bend.loss - got > SPRING_MOST:
        text = words.Q_FAR.format(label=bend.label, set=f"{leaf:g}", got=f"{got:g}", off=f"{leaf - got:g}")
        yield ("bend", n, "angle_set"), text, words.READ_AGAIN
    if radius is not None and radius < bend.nose_radius - NOSE:
        text = words.Q_RADIUS.format(label=bend.label, got=_size(radius), nose=_size(bend.nose_radius))
        yield ("bend", n, "radius_got"), text, words.READ_AGAIN
    if radius is not None and radius > WIDE * max(bend.inside_radius, bend.nose_radius) + WIDE_BY:
        text = words.Q_WIDE.format(label=bend.label, got=_size(radius), asked=_size(bend.inside_radius))
        yield ("bend", n, "radius_got"), text, words.READ_AGAIN
    yield from _about_sight(reading, n)


def _about_sight(reading: StripReading, n: int) -> Iterator[_Question]:
    bend = reading.bends[n]
    if bend.sight is None:
        return
    expected = planned_sight(reading, n)
    if abs(bend.sight - expected) <= SIGHT:
        return
    leg = reading.legs[n if bend.held == "first" else n + 1].name
    text = words.Q_SIGHT.format(label=bend.label, got=_size(bend.sight), leg=leg, expected=_size(expected))
    other = abs((reading.blank_got or reading.blank) - bend.sight - expected) <= SIGHT
    yield ("bend", n, "sight"), text, words.Q_OTHER_EDGE if other else words.READ_AGAIN


def _about_leg(reading: StripReading, n: int) -> Iterator[_Question]:
    leg = reading.legs[n]
    if leg.got is None:
        return
    low, high, flat, sides = 0.0, 0.0, planned_flat(reading, n), 0.0
    for m in (m for m in (n - 1, n) if 0 <= m < len(reading.bends)):
        ranges = _ranges(reading, m)
        back = [_setbacks(reading, m, a, r, _thickness(reading))[0 if m == n else 1] for a, r, _ in ranges]
        metal = max(abs(_allowance(reading, *r) - reading.bends[m].allowance) for r in ranges)
        shift = _shift(reading, m) * (1.0 if (m == n) == (reading.bends[m].held == "first") else -1.0)
        low, high = low + min(back) + shift - metal - PLACED, high + max(back) + shift + metal + PLACED
        sides += min(back)
    off = abs((reading.blank_got or reading.blank) - reading.blank) + SIZE_READ
    least, most = flat + low - off, flat + high + off
    keys, got = ("leg", n, "got"), _size(leg.got)
    if leg.got <= sides:
        beside = " and ".join(reading.bends[m].label for m in (n - 1, n) if 0 <= m < len(reading.bends))
        text = words.Q_LEG_SHORT.format(leg=leg.name, got=got, bends=f"bend {beside}", least=_size(sides))
        yield keys, text, words.READ_AGAIN
    elif not least <= leg.got <= most:
        text = words.Q_LEG.format(
            leg=leg.name, got=got, least=_size(max(least, sides)), most=_size(most), asked=_size(leg.asked)
        )
        yield keys, text, words.READ_AGAIN


def _about_sum(reading: StripReading) -> Iterator[_Question]:
    sizes = [leg.got for leg in reading.legs]
    known = [size for size in sizes if size is not None]
    if len(known) < len(sizes):
        return
    blank = reading.blank if reading.blank_got is None else reading.blank_got
    off = SIZE_READ * len(known) + (EDGE_READ if reading.blank_got is None else SIZE_READ)
    least, most, total = blank - off, blank + off, math.fsum(known)
    for n in range(len(reading.bends)):
        less = [
            math.fsum(_setbacks(reading, n, a, r, _thickness(reading))) - _allowance(reading, a, r, k)
            for a, r, k in _ranges(reading, n)
        ]
        least, most = least + min(less), most + max(less)
    if not least <= total <= most:
        text = words.Q_SUM.format(got=_size(total), blank=_size(blank), least=_size(least), most=_size(most))
        yield ("leg",), f"{text} {words.OWN_RULE}", words.READ_LEGS


def planned_sight(reading: StripReading, place: int) -> float:
    """Where the sight line of a bend lies by the figures that a strip was planned with, without an offset [mm].

    From the edge on the held side: flats and allowances to its tangent line, and one nose radius.
    """
    bend = reading.bends[place]
    first = bend.held == "first"
    legs = range(place + 1) if first else range(place + 1, len(reading.legs))
    between = reading.bends[:place] if first else reading.bends[place + 1 :]
    flats = math.fsum(planned_flat(reading, n) for n in legs)
    return flats + math.fsum(b.allowance for b in between) + bend.nose_radius


def _shift(reading: StripReading, place: int) -> float:
    """How much longer the held leg comes out since the line was marked otherwise than planned [mm]."""
    sight = reading.bends[place].sight
    return 0.0 if sight is None else sight - planned_sight(reading, place)


def _ranges(reading: StripReading, place: int) -> list[tuple[float, float, float]]:
    """Angles, inside radii and K that a bend may have, their corners."""
    bend = reading.bends[place]
    planned = effective_k(bend.allowance, bend.angle, bend.inside_radius, reading.nominal)
    ks = (min(K_RANGE[0], planned - K_BESIDE), max(K_RANGE[1], planned + K_BESIDE))
    return list(product(_angles(reading, place), _radii(bend), ks))


def _radii(bend: BendReading) -> tuple[float, float]:
    if bend.radius is not None:
        return max(bend.radius - RADIUS_READ, 0.0), bend.radius + RADIUS_READ
    off = RADIUS_SHARE * bend.inside_radius + RADIUS_READ
    return max(min(bend.nose_radius, bend.inside_radius - off), 0.0), max(bend.nose_radius, bend.inside_radius + off)


def _angles(reading: StripReading, place: int) -> list[float]:
    bend = reading.bends[place]
    angle, off = (bend.angle, ANGLE_GUESSED) if bend.got is None else (bend.got, ANGLE_READ)
    modes = {leg.dimensions for leg in reading.legs[place : place + 2]}
    most = max(angle, LARGEST_MOULD) if modes & {"mould-line", "inside"} else 180.0
    low, high = max(angle - off, angle / 2), min(angle + off, most)
    return [low, high, *([90.0] if low < 90 < high else [])]


def _setbacks(reading: StripReading, place: int, angle: float, radius: float, thickness: float) -> tuple[float, float]:
    """Setbacks of a bend on its first and its second leg, each to the lines that its leg is dimensioned to."""
    first, second = (leg.dimensions for leg in reading.legs[place : place + 2])
    return setback(angle, radius, thickness, first), setback(angle, radius, thickness, second)


def _allowance(reading: StripReading, angle: float, radius: float, k: float) -> float:
    return math.radians(angle) * (radius + k * _thickness(reading))


def _thickness(reading: StripReading) -> float:
    return reading.nominal if reading.thickness is None else reading.thickness


def _size(value: float) -> str:
    return in_mm_and_inch(value)


def _thin(value: float) -> str:
    return in_mm_and_inch(value, thickness=True)


def _fine(value: float) -> str:
    return f"{value:.3f} mm"
