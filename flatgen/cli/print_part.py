"""The printed answer: a part for a person at the bench, in mm and inch. Text only, no files, no mathematics."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from flatgen.cli import print_schedule as answer_schedule
from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part, upright
from flatgen.jobs.record import mass
from flatgen.metal.figures import Figure
from flatgen.metal.metals import Metal
from flatgen.openings.findings import Row, over

MOST_KINDS = 20
"""Kinds of openings that are listed."""


def part(
    console: Console,
    shown: Part,
    width: float,
    length: float,
    area: float | None,
    lines: Sequence[str],
    openings: Sequence[Row],
    told: Iterable[Finding],
    files: Iterable[str],
    *,
    uncut: bool = False,
    near: str = "",
    schedule: Schedule | None = None,
) -> None:
    """Print blank, bends with the places of their bend ``lines``, openings, findings ``told`` and files of one part.

    ``width`` and ``length`` in [mm]; ``area`` [mm2] is None where only the solid can tell it; ``uncut`` where cuts are
    still to come. ``near`` says which way the near face of a received part looks; ``schedule`` is that of a brake.
    """
    heading(console, shown, near)
    before = " before its cuts" if uncut else ""
    _row(console, "blank", f"{in_mm_and_inch(width)} across  by  {in_mm_and_inch(length)} along{before}")
    weight = None if area is None else mass(shown, area)
    size = "not known without the solid" if area is None else f"{area / 100:.1f} cm2"
    _row(console, "area", size + (f", {weight:.3f} kg" if weight is not None else ""))
    if shown.bends:
        console.print(_bends(shown, lines))
    if shown.order and schedule is None:
        _row(console, "order", f"{', '.join(shown.order)} (yours; not checked against a brake)")
    if openings:
        console.print(_openings(openings))
    if schedule is not None:
        answer_schedule.stages(console, shown, schedule)
    findings(console, told)
    for file in files:
        _row(console, "wrote", file)


def heading(console: Console, shown: Part, near: str = "") -> None:
    """Print name, origin and metal of a part."""
    title = f"{shown.name}: {shown.title}" if shown.title else shown.name
    console.print(Text(title, style="bold"))
    if shown.source:
        _row(console, "from", shown.source.text)
    if near:
        _row(console, "side", near)
    note = f" ({shown.thickness_note})" if shown.thickness_note else ""
    metal = shown.metal_text.removeprefix("metal ")
    _row(console, "metal", f"{metal}, {in_mm_and_inch(shown.thickness, thickness=True)}{note}")


def lines_of(flat: FlatPattern) -> list[str]:
    """Where the bend lines lie: x where all run along y, else their ends [mm].

    Parameters
    ----------
    flat : FlatPattern
        The flat, [mm]

    Returns
    -------
    list[str]
        One text for each bend, [-]
    """
    if upright(flat):
        return [in_mm_and_inch(b.centre[0][0]) for b in flat.bends]
    return [" to ".join(f"({x + 0.0:.1f}, {y + 0.0:.1f})" for x, y in sorted(b.centre)) + " mm" for b in flat.bends]


def _row(console: Console, word: str, text: str) -> None:
    console.print(Text(f"  {word:<8}{text}"), soft_wrap=True)


def _bends(shown: Part, lines: Sequence[str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    heads = ("  bend", "line at", "way", "angle", "inside radius", "K", "allowance", "deduction", "by")
    for head in heads:
        table.add_column(head, justify="left" if head in ("  bend", "way", "by") else "right")
    for bend, line in zip(shown.bends, lines, strict=True):
        table.add_row(
            Text(f"  {bend.label}"),
            line,
            bend.way,
            f"{bend.angle:g}°",
            in_mm_and_inch(bend.inside_radius, thickness=True),
            f"{bend.allowance.k:.3f}",
            f"{bend.allowance.length:.2f} mm",
            "-" if bend.deduction is None else f"{bend.deduction:.2f} mm",
            Text(bend.allowance.method),
        )
    return table


def _openings(rows: Sequence[Row]) -> Table:
    """A line for each kind of opening, with the least metal about those of it."""
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    for head in ("  openings", "", "on", "least to tangent line", "to edge", "to next opening"):
        table.add_column(head, justify="right" if head.startswith(("least", "to")) else "left")
    kinds: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        kinds.setdefault((row.text, row.leg or over(row)), []).append(row)
    for (text, leg), some in list(kinds.items())[:MOST_KINDS]:
        ms = [r.measured for r in some]
        columns = ([m.to_tangent for m in ms], [m.to_edge for m in ms], [m.to_opening for m in ms])
        least = [min((v for v in column if v is not None), default=None) for column in columns]
        shown = ["-" if v is None else in_mm_and_inch(v) for v in least]
        table.add_row(f"  {len(some)} x", Text(text), Text(leg), *shown)
    if len(kinds) > MOST_KINDS:
        table.add_row("  ...", f"and {len(kinds) - MOST_KINDS} more kinds")
    return table


def findings(console: Console, items: Iterable[Finding]) -> None:
    """Print findings, cautions first."""
    for item in sorted(items, key=lambda f: f.severity):
        style = "bold yellow" if item.severity == "caution" else ""
        where = f"{item.where}: " if item.where else ""
        console.print(Text(f"  {item.severity}: {where}{item.text} [{item.code}]", style=style), soft_wrap=True)
        if item.remedy:
            console.print(Text(f"    {item.remedy}"), soft_wrap=True)


def metal_list(console: Console, metals: Iterable[Metal]) -> None:
    """Print the metals known, a line each."""
    table = Table(box=None, pad_edge=False, padding=(0, 2), header_style="italic")
    for head in ("metal", "family", "density", "yield, ultimate", "allowance by", "gauge numbers"):
        table.add_column(head)
    for metal in metals:
        density = f"{metal.density:g} kg/m3" if metal.density else "not known"
        strengths = ", ".join(_first(metal.figures_of(q)) for q in ("yield", "ultimate"))
        table.add_row(
            Text(metal.name),
            Text(metal.family),
            density,
            strengths,
            metal.default_method or "give k",
            metal.gauge_system or "none",
        )
    console.print(table)
    console.print(Text("flatgen metals METAL shows every figure with its source."))


def _first(figures: tuple[Figure, ...]) -> str:
    return f"{figures[0].value:.0f} MPa" if figures else "not known"


def metal_sheet(console: Console, metal: Metal) -> None:
    """Print all figures of one metal with source and mark, and its minimum radii."""
    console.print(Text(metal.name, style="bold"))
    _row(console, "family", metal.family)
    _row(console, "gauges", metal.gauge_system or "no gauge numbers")
    _row(console, "by", metal.default_method or "no default method: give k, allowance or deduction")
    for item in metal.figures:
        text = f"  {item.quantity}, {item.kind}: {item.value:g} {item.unit}".rstrip()
        printed = f", printed as {item.printed}" if item.printed else ""
        console.print(Text(f"{text}{printed}  ({item.mark}; {item.source})"), soft_wrap=True)
    if not metal.radius_tables:
        console.print(Text("  minimum inside radius: not known"))
    for table in metal.radius_tables:
        cells = [
            f"{column:g}: {high:g}" if low == high else f"{column:g}: {low:g}-{high:g}"
            for column, (low, high) in zip(table.columns, table.radii, strict=True)
        ]
        head = f"  minimum inside radius [{table.unit}] by thickness [{table.thickness_unit}], {table.reading}"
        console.print(Text(f"{head}  ({table.mark}; {table.source})"), soft_wrap=True)
        console.print(Text(f"    {', '.join(cells)}"), soft_wrap=True)
    if len(metal.radius_tables) > 1:
        console.print(Text("  Where the sources disagree the largest radius is used."))
