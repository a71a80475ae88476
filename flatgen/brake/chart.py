"""The capacity of a brake as a picture: thickness against length, a panel for each set-up, a line for each metal.

Metals are told apart by line style and marker, limits by letters at the points where they begin to hold: nothing
rests on colour. Lengths are on a logarithmic scale, so that heavy sheet can be read too. The file is SVG 1.1 (W3C)
written directly, since a plotting library takes longer to load than all the rest of the command: lines, shapes and
plain text of 2.5 mm and more, laid out for the widest of the common typefaces.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from html import escape
from itertools import pairwise

from flatgen.brake.capacity import LIMITS, Curve, Row
from flatgen.core.shop import Shop

WIDE, MARGIN, GAP = 297.0, 12.0, 9.0
"""Page of A4 lengthwise, its margin, between panels [mm]."""
AXIS, PANEL_HIGH, HEAD = 13.0, 104.0, 30.0
"""Room for the figures of an axis; height of a panel; room above the panels [mm]."""
MOST_ACROSS = 3
CAPITAL = 0.72
"""Height of capitals as a share of the size of type."""
SMALL, USUAL, LARGE = 2.5 / CAPITAL, 3.0 / CAPITAL, 4.5 / CAPITAL
SHORTEST = 20.0
"""Where the scale of lengths begins [mm]."""
DASHES = ("", "3 1.2", "0.5 1.1", "4 1 0.6 1", "6 1.2", "2 0.8 0.5 0.8 0.5 0.8")
SHADES = ("#1d1d1d", "#1f5f8b", "#9a4a1c", "#2f6b3a", "#6a3d78", "#7a6a10")
TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)
Spot = tuple[float, float]


def chart_svg(shop: Shop, curves: Sequence[Curve]) -> str:
    """The chart.

    Parameters
    ----------
    shop : Shop
        The brake, [mm]
    curves : Sequence[Curve]
        Of ``capacity.capacity``, [mm]

    Returns
    -------
    str
        SVG, sizes in [mm]; A4 lengthwise for up to three set-ups; the same input gives the same text, [-]
    """
    names = list(dict.fromkeys(c.setup.name for c in curves))
    metals = list(dict.fromkeys(c.metal.name for c in curves))
    across = max(1, min(len(names), MOST_ACROSS))
    wide = (WIDE - 2 * MARGIN - AXIS - GAP * (across - 1)) / across
    parts = _head(shop, curves)
    for n, name in enumerate(names):
        corner = (
            MARGIN + AXIS + (n % across) * (wide + GAP),
            HEAD + 6 + (n // across) * (PANEL_HIGH + 22),
        )
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


def _text(at: Spot, text: str, size: float = SMALL, *, anchor: str = "start", turn: float = 0.0) -> str:
    x, y = at
    turned = f' transform="rotate({turn:g} {x:.2f} {y:.2f})"' if turn else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" text-anchor="{anchor}"{turned}>{escape(text)}</text>'


def _line(one: Spot, other: Spot, width: float, shade: str = "#1d1d1d", dash: str = "") -> str:
    (x1, y1), (x2, y2) = one, other
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"'
    return f'<line {ends} stroke="{shade}" stroke-width="{width:g}"{dashed}/>'


def _marker(n: int, at: Spot, shade: str) -> str:
    """One of six filled shapes about a point."""
    x, y = at
    if n % 6 == 0:
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.9" fill="{shade}"/>'
    corners = {1: (4, 45.0), 2: (3, -90.0), 3: (4, 0.0), 4: (3, 90.0), 5: (5, -90.0)}
    count, first = corners[n % 6]
    spots = [
        (
            x + 1.15 * math.cos(math.radians(first + 360 * k / count)),
            y + 1.15 * math.sin(math.radians(first + 360 * k / count)),
        )
        for k in range(count)
    ]
    return f'<polygon points="{" ".join(f"{a:.2f},{b:.2f}" for a, b in spots)}" fill="{shade}"/>'


def _head(shop: Shop, curves: Sequence[Curve]) -> list[str]:
    name = shop.brake.name
    angle = f"{curves[0].angle:g}" if curves else "90"
    told = f"bends of {angle} degrees, flange as wide as the leaf's face; {shop.title or 'shop file'}, "
    return [
        _text((MARGIN, MARGIN + 6), f"{name[:1].upper()}{name[1:60]}: greatest length by thickness", LARGE),
        _text((MARGIN, MARGIN + 14), f"{told[:120]}fingerprint {shop.fingerprint}"),
    ]


def _panel(
    shop: Shop, curves: Sequence[Curve], metals: Sequence[str], corner: Spot, wide: float, *, figures: bool
) -> list[str]:
    """Frame, scales, and the lines of one set-up."""
    left, top = corner
    most = shop.brake.length * 1.15
    thickest = 1.08 * max((r.thickness for c in curves for r in c.rows), default=1.0)

    def place(thickness: float, length: float) -> Spot:
        share = math.log(max(length, SHORTEST) / SHORTEST) / math.log(max(most, 2 * SHORTEST) / SHORTEST)
        return (left + wide * thickness / thickest, top + PANEL_HIGH * (1 - share))

    parts = [_text((left, top - 2.5), f"set-up {curves[0].setup.name[:28]}", USUAL)]
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
    letters: list[Spot] = []
    for curve in curves:
        parts += _curve(curve, metals.index(curve.metal.name), place, letters)
    return parts


def _curve(curve: Curve, n: int, place: Callable[[float, float], Spot], letters: list[Spot]) -> list[str]:
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


def _free(at: Spot, taken: Sequence[Spot]) -> Spot:
    """The place, moved outward until it touches no other letter."""
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
