"""The printed and the machine-readable answer to what a brake can bend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from flatgen.brake.capacity import LIMITS, Curve, Row
from flatgen.core.shop import Shop
from flatgen.core.units import in_mm_and_inch
from flatgen.core.version import __version__


def show(console: Console, shop: Shop, curves: Sequence[Curve]) -> None:
    """Print a table for each set-up: thickness against the greatest length of each metal, and what limits it.

    :param curves: of ``capacity.capacity``
    """
    angle = f"{curves[0].angle:g}" if curves else "90"
    console.print(Text(f"{shop.brake.name}: bends of {angle}°, flange as wide as the leaf's face", style="bold"))
    for name in dict.fromkeys(c.setup.name for c in curves):
        some = [c for c in curves if c.setup.name == name]
        console.print(Text(f"  set-up {name}, nose {some[0].setup.clamp.nose_radius:g} mm"))
        console.print(_table(some))
        for curve in some:
            if curve.full is not None:
                size = in_mm_and_inch(curve.full.thickness, thickness=True)
                console.print(Text(f"    {curve.metal.name}: up to {size} over the whole brake"), soft_wrap=True)
        unknown = dict.fromkeys(t for c in some for t in c.not_checked)
        if unknown:
            console.print(Text(f"    not checked: {', '.join(unknown)}"), soft_wrap=True)
    used = [k for k in LIMITS if any(r.limit == k for c in curves for r in c.rows)]
    letters = ", ".join(f"{LIMITS[k].letter} {LIMITS[k].text}" for k in used)
    console.print(Text(f"  limited by: {letters}"), soft_wrap=True)
    closing = "estimates until measured on a strip; nothing here allows a longer lever or more clamp force"
    console.print(Text(f"  {closing}"), soft_wrap=True)


def _table(curves: Sequence[Curve]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2), header_style="italic")
    table.add_column("    thickness", justify="right")
    for curve in curves:
        table.add_column(curve.metal.name, justify="right")
    for t in sorted({r.thickness for c in curves for r in c.rows}):
        cells = [next((_cell(r) for r in c.rows if r.thickness == t), "strength not known") for c in curves]
        table.add_row(f"    {t:g} mm", *cells)
    return table


def _cell(row: Row) -> str:
    letter = LIMITS[row.limit].letter
    return f"cannot  {letter}" if row.length <= 0 else f"{row.length:.0f} mm  {letter}"


def record(shop: Shop, curves: Sequence[Curve]) -> dict[str, Any]:
    """The same for other programs; lengths [mm], angles [deg], forces [N], stresses [MPa].

    :param curves: of ``capacity.capacity``
    """
    return {
        "flatgen": __version__,
        "shop": {"file": shop.path, "title": shop.title, "brake": shop.brake.name, "fingerprint": shop.fingerprint},
        "limits": {k: {"letter": limit.letter, "text": limit.text, "unit": limit.unit} for k, limit in LIMITS.items()},
        "curves": [
            {
                "set_up": c.setup.name,
                "metal": c.metal.name,
                "angle": c.angle,
                "strength": None if c.strength is None else asdict(c.strength),
                "rows": [asdict(r) for r in c.rows],
                "full_length": None if c.full is None else c.full.thickness,
                "not_checked": list(c.not_checked),
            }
            for c in curves
        ],
    }
