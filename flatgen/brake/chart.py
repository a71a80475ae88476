"""The capacity of a brake as a picture: thickness against length, a panel for each set-up, a line for each metal.

Metals are told apart by line style and a word at the line, limits by their letters at the points: nothing rests on
colour. Drawn by matplotlib on a page of A4 lengthwise, lettering as shapes, so that it looks the same everywhere.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from flatgen.brake.capacity import LIMITS, Curve
from flatgen.brake.machine import Shop

WIDE, HIGH = 297.0, 210.0
"""A4 lengthwise [mm]."""
INCH = 25.4
POINT = INCH / 72
SMALL, USUAL, LARGE = 2.5 / POINT / 0.72, 3.0 / POINT / 0.72, 4.5 / POINT / 0.72
"""Sizes of type whose capitals are 2.5, 3 and 4.5 mm high: capitals are 0.72 of it [pt]."""
STYLES = ("-", "--", ":", "-.", (0, (8, 2, 1, 2, 1, 2)), (0, (1, 4)))
MARKERS = ("o", "s", "^", "D", "v", "P")
MOST_ACROSS = 3
SHADES = ("#1d1d1d", "#1f5f8b", "#9a4a1c", "#2f6b3a", "#6a3d78", "#7a6a10")


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
        SVG of A4 lengthwise; the same input gives the same text, [-]
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    names = list(dict.fromkeys(c.setup.name for c in curves))
    metals = list(dict.fromkeys(c.metal.name for c in curves))
    with rc_context({"svg.fonttype": "path", "svg.hashsalt": "flatgen", "font.family": "DejaVu Sans"}):
        figure = Figure(figsize=(WIDE / INCH, HIGH / INCH))
        FigureCanvasSVG(figure)
        across = min(len(names), MOST_ACROSS)
        down = -(-len(names) // across)
        grid = figure.add_gridspec(
            down, across, left=0.08, right=0.975, bottom=0.30, top=0.84, wspace=0.12, hspace=0.45
        )
        for n, name in enumerate(names):
            axes = figure.add_subplot(grid[n // across, n % across])
            _panel(axes, shop, [c for c in curves if c.setup.name == name], metals, first=n % across == 0)
        _words(figure, shop, curves, metals)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": "flatgen"})
    return stream.getvalue()


def _panel(axes: Any, shop: Shop, curves: Sequence[Curve], metals: Sequence[str], *, first: bool) -> None:
    """Lines of one set-up, with a letter where a limit begins to hold."""
    thickest = max((r.thickness for c in curves for r in c.rows), default=1.0)
    for curve in curves:
        rows = [r for r in curve.rows if r.length > 0]
        n = metals.index(curve.metal.name)
        style, shade = STYLES[n % len(STYLES)], SHADES[n % len(SHADES)]
        xs, ys = [r.thickness for r in rows], [r.length for r in rows]
        axes.plot(xs, ys, linestyle=style, color=shade, linewidth=1.4, marker=MARKERS[n % len(MARKERS)], markersize=3.5)
        for before, row in zip([None, *rows], rows, strict=False):
            if row.limit != "length" and (before is None or before.limit != row.limit):
                axes.annotate(
                    LIMITS[row.limit].letter,
                    (row.thickness, row.length),
                    xytext=(7, 1),
                    textcoords="offset points",
                    fontsize=SMALL,
                    color=shade,
                    ha="left",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
                )
    axes.axhline(shop.brake.length, color="#1d1d1d", linewidth=0.7)
    axes.set_xlim(0, thickest * 1.06)
    axes.set_ylim(0, shop.brake.length * 1.12)
    axes.set_title(curves[0].setup.name, fontsize=USUAL, loc="left")
    axes.set_xlabel("thickness, mm", fontsize=SMALL)
    axes.tick_params(labelleft=first)
    if first:
        axes.set_ylabel("greatest length, mm", fontsize=SMALL)
    axes.tick_params(labelsize=SMALL, direction="in", top=True, right=True)
    axes.grid(color="#c9c9c9", linewidth=0.4)


def _words(figure: Any, shop: Shop, curves: Sequence[Curve], metals: Sequence[str]) -> None:
    """Title above; below it metals, letters, and what the reader must know."""
    from matplotlib.lines import Line2D

    title = f"{shop.brake.name[:1].upper()}{shop.brake.name[1:]}: greatest length by thickness"
    figure.text(0.02, 0.955, title, fontsize=LARGE, va="center")
    angle = f"{curves[0].angle:g}" if curves else "90"
    head = f"bends of {angle} degrees, flange as wide as the leaf's face; {shop.title or shop.path}"
    figure.text(0.02, 0.905, f"{head}, fingerprint {shop.fingerprint}", fontsize=SMALL, va="center")
    handles = [
        Line2D([], [], linestyle=STYLES[n % len(STYLES)], color=SHADES[n % len(SHADES)], linewidth=1.4,
               marker=MARKERS[n % len(MARKERS)], markersize=3.5, label=name)
        for n, name in enumerate(metals)
    ]  # fmt: skip
    figure.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0.015, 0.155), ncol=6, fontsize=SMALL, frameon=False,
        borderaxespad=0.0, handlelength=4.5,
    )  # fmt: skip
    used = [k for k in LIMITS if any(r.limit == k for c in curves for r in c.rows) and k != "length"]
    letters = [f"{LIMITS[k].letter} {LIMITS[k].text}" for k in used]
    lines = _lines(
        ["A letter stands where a limit begins to hold: " + ", ".join(letters) + "."] if letters else [], 118
    )
    unknown = list(dict.fromkeys(t for c in curves for t in c.not_checked))
    lines += _lines([f"Not checked: {', '.join(unknown)}."] if unknown else [], 118)
    lines += _lines(
        ["Estimates until measured on a strip. Nothing here allows a longer lever or more clamp force."], 118
    )
    for n, line in enumerate(lines[:5]):
        figure.text(0.02, 0.135 - 0.027 * n, line, fontsize=SMALL, va="center")


def _lines(texts: Sequence[str], room: int) -> list[str]:
    import textwrap

    return [line for text in texts for line in textwrap.wrap(text, room)]
