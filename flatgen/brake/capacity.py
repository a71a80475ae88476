"""What a brake can bend: for each set-up and metal, thickness against the greatest length, what limits it, and a chart.

A plain bend in the middle of the brake, with a flange at least as wide as the leaf's bearing face: shorter flanges
load the brake more. The inside radius is the nose's, or the metal's minimum where that is larger. The swing limit
refuses where the over-bend by the formula alone does not fit, and remarks where it may not fit. All are estimates.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise

from flatgen.brake.creases import least_swing, remaining_face
from flatgen.brake.geometry import LARGEST_SWUNG, radius_from_setting
from flatgen.brake.load import load_of
from flatgen.brake.springback import NoSpringback, Strength, loaded_radius, springback, strength_of
from flatgen.core.flat_pattern import Point
from flatgen.core.schedule import Load, Range
from flatgen.core.shop import SetUp, Shop
from flatgen.metal.allowance import setback
from flatgen.metal.metals import Metal

LADDER = (0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
"""Thicknesses of common sheet [mm]; common practice, no source."""
DEFAULT_METALS = ("5052-H32", "DC01", "304")
"""Metals that are shown where none is asked for: one of each family, the one most often bent cold."""
HALVINGS = 20
"""Of a length: a metre to a micrometre, far under what the loads are known to."""
COARSE = 2
"""Of a length where only the question is whether the whole brake is reached."""
THICKNESS_HALVINGS = 12
"""Of a thickness between two rungs: to about 0.0002 mm."""
SLACK = 1e-9  # of rounding [mm]


@dataclass(frozen=True)
class Limit:
    """What can limit a length; ``letter`` marks it in chart and table."""

    key: str
    letter: str
    text: str
    unit: str


LIMITS = {
    limit.key: limit
    for limit in (
        Limit("length", "B", "usable length of the brake", "mm"),
        Limit("effort", "E", "comfortable effort at the handle", "N"),
        Limit("angle", "A", "loss of angle along the length", "deg"),
        Limit("leaf stress", "L", "stress in the leaf", "MPa"),
        Limit("clamp stress", "C", "stress in the clamp bar", "MPa"),
        Limit("clamp force", "F", "force on the clamp bar", "N"),
        Limit("hinge force", "H", "force on a hinge", "N"),
        Limit("swing", "W", "over-bend past the leaf's swing", "deg"),
        Limit("radius", "R", "radius that this setting gives", "mm"),
        Limit("face", "N", "flat left to bear on the leaf", "mm"),
        Limit("yield", "Y", "too large a radius: the sheet would only spring", "mm"),
    )
}
"""All limits by key; the last four refuse a thickness at any length."""


@dataclass(frozen=True)
class Row:
    """One thickness [mm]: ``length`` [mm] is the greatest, 0 where it cannot be bent at all.

    ``limit`` is the key of what limits it, ``value`` what is reached of it at that length and ``allowed`` what may be
    (the least that must be, for radius and face). ``next_limit``: at full length, what would limit next.
    ``leaf_angle`` [deg], ``arm`` [mm] at which the leaf bears, ``load`` at that length: None where refused.
    ``setback`` [mm] under load; ``bent_to`` [deg] is the leaf angle that the load was found for.
    """

    thickness: float
    inside_radius: float
    length: float
    limit: str
    value: float
    allowed: float
    leaf_angle: Range | None = None
    arm: float = 0.0
    setback: float = 0.0
    bent_to: float = 0.0
    load: Load | None = None
    next_limit: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Curve:
    """One metal on one set-up. ``full``: the thickest sheet that is bent over the whole brake, None where no rung of
    the ladder is, or all are. ``not_checked``: limits that are not known, in words. No rows: strength not known.
    """

    setup: SetUp
    metal: Metal
    strength: Strength | None
    angle: float
    rows: tuple[Row, ...]
    full: Row | None
    not_checked: tuple[str, ...]


def default_metals(metals: Mapping[str, Metal]) -> tuple[Metal, ...]:
    """Those of ``DEFAULT_METALS`` that the tables have."""
    return tuple(metals[name] for name in DEFAULT_METALS if name in metals)


def capacity_curves(
    shop: Shop, metals: Iterable[Metal], angle: float = 90.0, thicknesses: Iterable[float] | None = None
) -> tuple[Curve, ...]:
    """A curve for every set-up and metal, in their order.

    :param angle: 0 < angle < 179 [deg]
    :param thicknesses: None for ``LADDER`` [mm]
    :raises ValueError: If the angle or a thickness is out of range.
    """
    ladder = tuple(sorted(set(LADDER if thicknesses is None else thicknesses)))
    if not 0 < angle < LARGEST_SWUNG or not ladder or not all(0 < t < math.inf for t in ladder):
        raise ValueError(f"capacity of a bend of {angle} degrees in thicknesses {ladder}")
    metals = tuple(metals)
    return tuple(_curve(shop, setup, metal, angle, ladder) for setup in shop.setups for metal in metals)


def limit_values(load: Load, shop: Shop, setup: SetUp) -> dict[str, tuple[float, float]]:
    """What a load reaches and what is allowed, by key and in the unit of ``LIMITS``, for all limits that are known."""
    leaf, clamp = setup.leaf.beam, setup.clamp.beam
    pairs = {
        "effort": (load.handle, shop.brake.lever.effort),
        "angle": (load.loss, shop.angle_tolerance),
        "leaf stress": (load.stress_leaf, leaf.stress_limit if leaf else None),
        "clamp stress": (load.stress_clamp, clamp.stress_limit if clamp else None),
        "clamp force": (load.clamp_force, shop.brake.clamp_limit),
        "hinge force": (load.hinge_force, shop.brake.hinge_limit),
    }
    return {key: (got, may) for key, (got, may) in pairs.items() if got is not None and may is not None}


def unchecked_limits(shop: Shop, setup: SetUp) -> tuple[str, ...]:
    """The limits that cannot be checked on a set-up, in words, with what is missing."""
    leaf, clamp, brake = setup.leaf.beam, setup.clamp.beam, shop.brake
    unknown = (
        ("angle", "beam of the leaf", leaf),
        ("angle", "beam of the clamp bar", clamp),
        ("leaf stress", "stress limit of the leaf", leaf and leaf.stress_limit),
        ("clamp stress", "stress limit of the clamp bar", clamp and clamp.stress_limit),
        ("clamp force", "clamp limit", brake.clamp_limit),
        ("hinge force", "hinge limit", brake.hinge_limit),
    )
    return tuple(f"{LIMITS[key].text}: no {missing} given" for key, missing, given in unknown if given is None)


@dataclass(frozen=True)
class _Case:
    """Everything that a bend's load needs but its length."""

    shop: Shop
    setup: SetUp
    strength: Strength
    thickness: float
    arm: float
    setback: float
    leaf_angle: float

    def worst(self, length: float) -> tuple[float, str, Load]:
        """The largest share of a limit that is used, whose it is, and the load."""
        bend = (self.thickness, length, self.arm, self.setback, self.leaf_angle)
        load = load_of(*bend, self.strength, self.shop.brake, self.setup)
        shares = {key: got / may for key, (got, may) in limit_values(load, self.shop, self.setup).items()}
        key = max(shares, key=lambda k: shares[k])
        return shares[key], key, load


def _curve(shop: Shop, setup: SetUp, metal: Metal, angle: float, ladder: tuple[float, ...]) -> Curve:
    unknown = unchecked_limits(shop, setup)
    strength = strength_of(metal)
    if strength is None:
        missing = f"{metal.name}: yield, ultimate or modulus is in no table"
        return Curve(setup, metal, None, angle, (), None, (*unknown, missing))

    def row(thickness: float, halvings: int = HALVINGS) -> Row:
        return _row(shop, setup, metal, strength, angle, thickness, halvings)

    rows = tuple(row(t) for t in ladder)
    bare = [f"{r.thickness:g}" for r in rows if not metal.minimum_radius(r.thickness, angle)]
    if bare:
        unknown += (f"minimum radius of {metal.name}: no table has it for {', '.join(bare)} mm",)
    full = [i for i, r in enumerate(rows) if r.limit == "length"]
    if not full or full[-1] + 1 == len(rows):
        return Curve(setup, metal, strength, angle, rows, None, unknown)
    low, high = rows[full[-1]], rows[full[-1] + 1]
    for _ in range(THICKNESS_HALVINGS):
        tried = row((low.thickness + high.thickness) / 2, COARSE)
        low, high = (tried, high) if tried.limit == "length" else (low, tried)
    return Curve(setup, metal, strength, angle, rows, replace(low, next_limit=row(high.thickness).limit), unknown)


def _row(
    shop: Shop, setup: SetUp, metal: Metal, strength: Strength, angle: float, thickness: float, halvings: int = HALVINGS
) -> Row:
    figures = metal.minimum_radius(thickness, angle)
    nose, leaf, hinge = setup.clamp.nose_radius, setup.leaf, shop.brake.hinge
    radius = max(nose, figures[0].value if figures else 0.0)
    least = least_swing(shop.brake, thickness)
    arm = remaining_face(angle, radius, thickness, setup, shop.brake)
    if arm < least - SLACK:
        return Row(thickness, radius, 0.0, "face", arm, least)
    try:
        extra = springback(angle, radius, thickness, strength, arm)
    except NoSpringback as wrapped:
        return Row(thickness, radius, 0.0, "yield", radius, 0.0, remarks=(str(wrapped),))
    swung = Range(angle + extra.low, angle + extra.high)
    if swung.low > min(leaf.swing, LARGEST_SWUNG) + SLACK:
        return Row(thickness, radius, 0.0, "swing", swung.low, leaf.swing, swung)
    loaded = loaded_radius(angle, radius, thickness, swung.low)
    if setup.setting is not None:
        given = radius_from_setting(setup.setting, thickness, swung.low, nose, hinge, leaf.drop)
        if given < loaded - SLACK:
            return Row(thickness, radius, 0.0, "radius", given, loaded, swung)
    back = setback(swung.low, loaded, thickness)
    arm = remaining_face(swung.low, loaded, thickness, setup, shop.brake)
    if arm < least - SLACK:
        return Row(thickness, radius, 0.0, "face", arm, least, swung)
    case = _Case(shop, setup, strength, thickness, arm, back, min(swung.high, leaf.swing, LARGEST_SWUNG))
    return replace(
        _longest(case, radius, halvings), leaf_angle=swung, remarks=_remarks(radius, nose, swung, leaf.swing)
    )


def _longest(case: _Case, radius: float, halvings: int) -> Row:
    """The greatest length at which no limit is passed, found by halving: every load grows with the length."""
    low, high = 0.0, case.shop.brake.length
    bend = (None, case.arm, case.setback, case.leaf_angle)
    share, key, load = case.worst(high)
    if share <= 1:
        return Row(case.thickness, radius, high, "length", high, high, *bend, load, key)
    for _ in range(halvings):
        middle = (low + high) / 2
        share, worst_key, tried = case.worst(middle)
        if share <= 1:
            low, load = middle, tried
        else:
            high, key = middle, worst_key
    reached, allowed = limit_values(load, case.shop, case.setup)[key]
    return Row(case.thickness, radius, low, key, reached, allowed, *bend, load)


def _remarks(radius: float, nose: float, swung: Range, swing: float) -> tuple[str, ...]:
    remarks: tuple[str, ...] = ()
    if radius > nose + SLACK:
        remarks += (f"radius {radius:.3g} mm needs the nose (radius {nose:.3g} mm) farther back, or a rounder nose",)
    if swung.high > swing + SLACK:
        remarks += (f"the over-bend may not fit: up to {swung.high:.3g} degrees asked, the leaf swings {swing:g}",)
    return remarks


WIDE, MARGIN, GAP = 297.0, 12.0, 9.0
"""Page of A4 lengthwise, its margin, between panels [mm]."""
AXIS, PANEL_HIGH, HEAD = 13.0, 104.0, 30.0
"""Room for the figures of an axis; height of a panel; room above the panels [mm]."""
MOST_ACROSS = 3
CAPITAL = 0.72
"""Height of capitals as a share of the size of type."""
SMALL, USUAL_SIZE, LARGE = 2.5 / CAPITAL, 3.0 / CAPITAL, 4.5 / CAPITAL
SHORTEST = 20.0
"""Where the scale of lengths begins [mm]."""
DASHES = ("", "3 1.2", "0.5 1.1", "4 1 0.6 1", "6 1.2", "2 0.8 0.5 0.8 0.5 0.8")
SHADES = ("#1d1d1d", "#1f5f8b", "#9a4a1c", "#2f6b3a", "#6a3d78", "#7a6a10")
TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)


def chart_svg(shop: Shop, curves: Sequence[Curve]) -> str:
    """The chart as SVG; A4 lengthwise for up to three set-ups."""
    names = list(dict.fromkeys(c.setup.name for c in curves))
    metals = list(dict.fromkeys(c.metal.name for c in curves))
    across = max(1, min(len(names), MOST_ACROSS))
    wide = (WIDE - 2 * MARGIN - AXIS - GAP * (across - 1)) / across
    parts = _head(shop, curves)
    for n, name in enumerate(names):
        corner = (MARGIN + AXIS + (n % across) * (wide + GAP), HEAD + 6 + (n // across) * (PANEL_HIGH + 22))
        some = [c for c in curves if c.setup.name == name]
        parts += _panel(shop, some, metals, corner, wide, figures=n % across == 0)
    level = HEAD + 6 + -(-len(names) // across) * (PANEL_HIGH + 22)
    foot, bottom = _foot(curves, metals, level)
    high = max(210.0, bottom + MARGIN)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{WIDE:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {WIDE:g} {high:g}" font-family="DejaVu Sans, Verdana, Arial, sans-serif" fill="#1d1d1d">'
    )
    ground = f'<rect width="{WIDE:g}" height="{high:g}" fill="white"/>'
    return "\n".join([head, ground, *parts, *foot, "</svg>", ""])


def _text(at: Point, text: str, size: float = SMALL, *, anchor: str = "start", turn: float = 0.0) -> str:
    x, y = at
    turned = f' transform="rotate({turn:g} {x:.2f} {y:.2f})"' if turn else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" text-anchor="{anchor}"{turned}>{escape(text)}</text>'


def _line(one: Point, other: Point, width: float, shade: str = "#1d1d1d", dash: str = "") -> str:
    (x1, y1), (x2, y2) = one, other
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"'
    return f'<line {ends} stroke="{shade}" stroke-width="{width:g}"{dashed}/>'


def _marker(n: int, at: Point, shade: str) -> str:
    """One of six filled shapes about a point."""
    x, y = at
    if n % 6 == 0:
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.9" fill="{shade}"/>'
    corners = {1: (4, 45.0), 2: (3, -90.0), 3: (4, 0.0), 4: (3, 90.0), 5: (5, -90.0)}
    count, first = corners[n % 6]
    turns = [math.radians(first + 360 * k / count) for k in range(count)]
    spots = [(x + 1.15 * math.cos(turn), y + 1.15 * math.sin(turn)) for turn in turns]
    return f'<polygon points="{" ".join(f"{a:.2f},{b:.2f}" for a, b in spots)}" fill="{shade}"/>'


def _head(shop: Shop, curves: Sequence[Curve]) -> list[str]:
    name = shop.brake.name
    angle = f"{curves[0].angle:g}" if curves else "90"
    subject = f"bends of {angle} degrees, flange as wide as the leaf's face; {shop.title or 'shop file'}, "
    return [
        _text((MARGIN, MARGIN + 6), f"{name[:1].upper()}{name[1:60]}: greatest length by thickness", LARGE),
        _text((MARGIN, MARGIN + 14), f"{subject[:120]}fingerprint {shop.fingerprint}"),
    ]


def _panel(
    shop: Shop, curves: Sequence[Curve], metals: Sequence[str], corner: Point, wide: float, *, figures: bool
) -> list[str]:
    """Frame, scales, and the lines of one set-up."""
    left, top = corner
    most = shop.brake.length * 1.15
    thickest = 1.08 * max((r.thickness for c in curves for r in c.rows), default=1.0)

    def place(thickness: float, length: float) -> Point:
        share = math.log(max(length, SHORTEST) / SHORTEST) / math.log(max(most, 2 * SHORTEST) / SHORTEST)
        return (left + wide * thickness / thickest, top + PANEL_HIGH * (1 - share))

    parts = [_text((left, top - 2.5), f"set-up {curves[0].setup.name[:28]}", USUAL_SIZE)]
    for tick in (t for t in TICKS if t < most):
        y = place(0, tick)[1]
        parts.append(_line((left, y), (left + wide, y), 0.12, "#b4b4b4"))
        parts += [_text((left - 1.5, y + 1.2), f"{tick}", anchor="end")] if figures else []
    for t in range(1, math.ceil(thickest)):
        x = place(t, SHORTEST)[0]
        parts.append(_line((x, top), (x, top + PANEL_HIGH), 0.12, "#b4b4b4"))
        parts.append(_text((x, top + PANEL_HIGH + 4.5), f"{t}", anchor="middle"))
    full = place(0, shop.brake.length)[1]
    parts.append(_line((left, full), (left + wide, full), 0.25))
    parts.append(
        f'<rect x="{left:.2f}" y="{top:.2f}" width="{wide:.2f}" height="{PANEL_HIGH:g}" fill="none" '
        'stroke="#1d1d1d" stroke-width="0.35"/>'
    )
    parts.append(_text((left + wide / 2, top + PANEL_HIGH + 10), "thickness, mm", anchor="middle"))
    if figures:
        parts.append(_text((left - 10.5, top + PANEL_HIGH / 2), "length, mm", anchor="middle", turn=-90))
    letters: list[Point] = []
    for curve in curves:
        parts += _curve_lines(curve, metals.index(curve.metal.name), place, letters)
    return parts


def _curve_lines(curve: Curve, n: int, place: Callable[[float, float], Point], letters: list[Point]) -> list[str]:
    """The line of one metal, its points, and a letter where a limit begins to hold."""
    shade, dash = SHADES[n % len(SHADES)], DASHES[n % len(DASHES)]
    rows = [r for r in curve.rows if r.length >= SHORTEST]
    spots = [place(r.thickness, r.length) for r in rows]
    parts = [_line(a, b, 0.4, shade, dash) for a, b in pairwise(spots)]
    parts += [_marker(n, spot, shade) for spot in spots]
    before: Row | None = None
    for row, (x, y) in zip(rows, spots, strict=True):
        if row.limit != "length" and (before is None or before.limit != row.limit):
            at = _free((x + 1.8, y - 0.8), letters)
            letters.append(at)
            parts.append(f'<rect x="{at[0] - 0.3:.2f}" y="{at[1] - 2.8:.2f}" width="3" height="3.1" fill="white"/>')
            parts.append(_text(at, LIMITS[row.limit].letter))
        before = row
    return parts


def _free(at: Point, taken: Sequence[Point]) -> Point:
    """The place, moved to the right until it touches no other letter."""
    x, y = at
    while any(abs(x - a) < 3.2 and abs(y - b) < 3.4 for a, b in taken):
        x += 3.3
    return (x, y)


def _foot(curves: Sequence[Curve], metals: Sequence[str], level: float) -> tuple[list[str], float]:
    """Key of the metals, of the letters, and what the reader must know; and where it ends."""
    parts: list[str] = []
    x = MARGIN
    for n, name in enumerate(metals):
        need = 20.0 + len(name) * 2.6
        if x + need > WIDE - MARGIN and x > MARGIN:
            x, level = MARGIN, level + 6
        shade = SHADES[n % len(SHADES)]
        parts.append(_line((x, level - 1.2), (x + 14, level - 1.2), 0.4, shade, DASHES[n % len(DASHES)]))
        parts.append(_marker(n, (x + 7, level - 1.2), shade))
        parts.append(_text((x + 16, level), name))
        x += need + 6
    used = [k for k in LIMITS if any(r.limit == k for c in curves for r in c.rows) and k != "length"]
    letters = ", ".join(f"{LIMITS[k].letter} {LIMITS[k].text}" for k in used)
    unknown = ", ".join(dict.fromkeys(t for c in curves for t in c.not_checked))
    texts = [f"A letter stands where a limit begins to hold: {letters}."] if letters else []
    texts += [f"Not checked: {unknown}."] if unknown else []
    texts.append("Estimates until measured on a strip. Nothing here allows a longer lever or more clamp force.")
    for line in (line for text in texts for line in textwrap.wrap(text, 115)):
        level += 5
        parts.append(_text((MARGIN, level), line))
    return parts, level
