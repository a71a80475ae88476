"""The printed answer: a part for a person at the bench, its schedule, metals; in mm and inch. Text only.

Over 400 lines: one answer is printed from it, so that heads, widths and spacing are changed in one place.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import PurePath
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from flatgen.bend_order.decide import Attempt, attempt_lines
from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.learned import ExpectedPart
from flatgen.core.schedule import Range, Schedule, Stage
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part, bends_upright, near_face
from flatgen.jobs.record import mass
from flatgen.jobs.result import Result
from flatgen.metal.figures import Figure
from flatgen.metal.metals import Metal
from flatgen.openings.findings import OpeningRow, crossing_text

NOT_CHECKED = "not checked"
EXPECTED = "finished legs as they will come out, by {behind}:"
CAUTIONS = (
    "Hands clear of nose and leaf: the leaf falls back, the handle kicks on release, the clamp bar drops.",
    "A second person for long sheets; gloves for carrying, not near closing parts; deburr edges.",
    "Mark lines, never scribe them, and with no graphite pencil on aluminium: lines cut into the stretched face start "
    "cracks.",
    "Bend across the grain where you can; take protective film off, or allow for it.",
    "Inspect the outside of each bend with a lens: a cracked part is scrap, hardened tempers are not bent back.",
    "Strength is not judged here: approved drawings, local rules and licensed inspection come first.",
)


def stages(console: Console, part: Part, made: Schedule) -> None:
    """Print what the schedule is for, and a line for each bend."""
    setup = made.setup
    file = PurePath(made.shop.path).name
    say(console, f"  brake   {made.shop.brake.name} ({file}, fingerprint {made.shop.fingerprint}), set-up {setup.name}")
    setting = NOT_CHECKED if made.setting is None else f"{in_mm_and_inch(made.setting)} back from the bed's edge"
    say(console, f"  nose    radius {setup.clamp.nose_radius:g} mm, setting {setting} ({made.setting_from})")
    heads = ["  bend", "way", "angle", "hold", "mark on", "line from held edge", "from datum edge", "leaf to, estimate"]
    heads += ["radius formed, estimate", "handle, estimate"]
    rows = [
        (
            f"  {s.number}. {s.crease.label}",
            s.crease.way,
            f"{s.crease.angle:g}°",
            leg(part, s.crease.side(s.sight.held).leg),
            f"{s.sight.face} face",
            in_mm_and_inch(s.sight.from_held_edge),
            f"{in_mm_and_inch(s.sight.from_datum)}, {s.crease.datum}",
            span(s.leaf_angle, 1, "°"),
            span(s.radius, 2, " mm"),
            NOT_CHECKED if s.load is None else f"{s.load.handle:.0f} N",
        )
        for s in made.stages
    ]
    console.print(table_of(heads, rows))
    say(console, f"  order {order_said(made)}; each line is for the side held here alone")
    if any(s.handling is not None for s in made.stages):
        console.print(_handled(made))
    if made.expected is not None:
        expected(console, made.expected)


def expected(console: Console, found: ExpectedPart) -> None:
    """Print each finished leg as it will come out, the chance that all are right, and what to do first."""
    say(console, f"  {EXPECTED.format(behind=behind(found))}")
    heads = ["  leg", "asked", "tolerance", "expected at the ends", "where the brake gives most", "95 % of pieces"]
    rows = [
        (
            f"  {leg.name}",
            in_mm_and_inch(leg.asked),
            "none" if leg.tolerance is None else f"±{leg.tolerance:g} mm",
            f"{leg.at_end:.2f} mm",
            f"{leg.at_middle:.2f} mm",
            f"{leg.low:.2f} to {leg.high:.2f} mm" + ("" if leg.inside else " - NOT ALL INSIDE"),
        )
        for leg in found.legs
    ]
    console.print(table_of(heads, rows))
    heads = ["  bend", "asked", "leaf to", "expected at the ends", "where the brake gives most", "95 % of pieces"]
    rows = [
        (
            f"  {b.label}",
            f"{b.asked:g}°",
            f"{b.set:.1f}°",
            f"{b.at_end:.1f}°",
            f"{b.at_middle:.1f}°",
            f"{b.low:.1f} to {b.high:.1f}°",
        )
        for b in found.angles
    ]
    console.print(table_of(heads, rows))
    in_short(console, found)
    for text in found.words:
        say(console, f"  {text}")


def in_short(console: Console, found: ExpectedPart) -> None:
    """Print what to do first, and which bend would teach most."""
    if found.advice:
        say(console, f"  advice  {found.advice} (tolerances: {found.tolerance_source})")
    if found.teach and found.teach[0][1] > 0:
        label, gain = found.teach[0]
        say(console, f"  teach   a further bend like {label} would teach most: {100 * gain:.0f} % of what is not known")


def behind(found: ExpectedPart) -> str:
    """Bends and strips that a forecast rests on."""
    if not found.bends:
        return "no strip of this metal, thickness and radius"
    counts = ((found.bends, "bend"), (found.strips, "strip"))
    return " on ".join(f"{n} {what}{'s' if n > 1 else ''}" for n, what in counts)


def order_said(made: Schedule) -> str:
    """Whose order it is, and what it was checked for."""
    if made.state == "best":
        return f"{made.order_from} on set-up{'s' if len(made.setups) > 1 else ''} {', '.join(made.setups)}"
    if made.state == "checked":
        return f"{made.order_from}, checked against the brake"
    if made.state == "refused":
        return f"{made.order_from}: CANNOT BE BENT SO on this brake"
    return f"{made.order_from}, not checked against the brake: {made.unchecked}"


def _handled(made: Schedule) -> Table:
    """How each stage is laid in, and the room that it has."""
    heads = ["  bend", "what the hand does", "in", "out", "raise", "clearance"]
    several = len({(s.setup.name if s.setup else "", s.setting) for s in made.stages}) > 1
    rows = []
    for s in made.stages:
        done = s.handling
        if done is None:
            continue
        move = done.move
        if several and s.setup is not None and s.setting is not None:
            move += f" ({s.setup.name}, nose at {s.setting:.2f} mm)"
        raised = max(done.raised_in, done.raised_out)
        room = f"{done.clearance:.1f} mm, {done.nearest}" + (" - LITTLE ROOM" if done.close else "")
        if done.refused:
            room = f"CONTACT: {done.refused}"
        ways = [WAY[done.into], WAY[done.out]]
        rows.append((f"  {s.number}. {s.crease.label}", move, *ways, f"{raised:.0f} mm" if raised else "-", room))
    return table_of(heads, rows)


WAY = {"straight": "front", "drawn": "front, drawn", "endwise": "endwise", "": "no way"}


def reasons(console: Console, part: Part, label: str, tries: Sequence[Attempt]) -> None:
    """Print what keeps a bend from coming earlier."""
    if not label:
        return
    say(console, f"  why bend {label} does not come earlier:")
    for line in attempt_lines(tries, lambda n: leg(part, n)):
        say(console, f"    {line}")
    if not tries:
        say(console, "    it is the first")


def why_record(part: Part, label: str, tries: Sequence[Attempt]) -> dict[str, Any]:
    """The same for other programs."""
    return {
        "bend": label,
        "tries": [
            {
                "after": list(t.after),
                "held": {"number": t.leg + 1, "name": part.leg_name(t.leg)},
                "set_up": t.setup,
                "setting": t.setting,
                "reason": t.reason,
                "dearer": t.dearer,
                "clearance": t.inspection.gap,
            }
            for t in tries
        ],
    }


def written(console: Console, files: Sequence[PurePath]) -> None:
    """Print where the pictures are."""
    if files:
        say(console, f"  wrote   {len(files)} pictures into {files[0].parent}, all stages on {files[-1].name}")


def details(console: Console, part: Part, made: Schedule) -> None:
    """Print both positions of each line, springback, and the loads."""
    heads = [
        "  bend",
        "either side held: line from datum edge",
        "",
        "difference",
        "springback, estimate",
        "asks a setting of",
    ]
    rows = []
    for s in made.stages:
        both = sorted((s.sight, s.other), key=lambda x: x.held)
        texts = [f"{leg(part, s.crease.side(x.held).leg)} {in_mm_and_inch(x.from_datum)}" for x in both]
        between = both[1].from_datum - both[0].from_datum
        asks = NOT_CHECKED if s.needed is None else f"{s.needed:.2f} mm (least {s.least:.2f})"
        rows.append((f"  {s.crease.label}", *texts, f"{between:+.2f} mm", span(s.springback, 1, "°"), asks))
    console.print(table_of(heads, rows))
    console.print(_loads(made.stages))
    say(console, "  loads are estimates until measured; bends that are made already stiffen the part: left out")


def _loads(shown: Sequence[Stage]) -> Table:
    heads = ["  bend", "moment", "line load", "torque", "handle at", "leaf bends", "clamp bends", "twist", "angle lost"]
    heads += ["stress leaf", "clamp bar", "clamp force", "hinge force", "shim"]
    rows = []
    for s in shown:
        load = s.load
        if load is None:
            rows.append((f"  {s.crease.label}", NOT_CHECKED, *[""] * 12))
            continue
        rows.append(
            (
                f"  {s.crease.label}",
                f"{load.moment:.0f} N mm/mm",
                f"{load.line_load:.1f} N/mm",
                f"{load.torque / 1000:.1f} N m",
                f"{load.handle_at:.0f}°",
                _known(load.deflection_leaf, 2, " mm"),
                _known(load.deflection_clamp, 2, " mm"),
                _known(load.twist, 2, "°"),
                _known(load.loss, 2, "°"),
                _known(load.stress_leaf, 0, " MPa"),
                _known(load.stress_clamp, 0, " MPa"),
                f"{load.clamp_force / 1000:.2f} kN",
                f"{load.hinge_force / 1000:.2f} kN",
                _known(load.shim, 2, " mm"),
            )
        )
    return table_of(heads, rows)


def cautions(console: Console) -> None:
    """Print the cautions of all bending."""
    for text in CAUTIONS:
        say(console, f"  {text}")


def leg(part: Part, number: int) -> str:
    """A leg by its name, else by its number."""
    return part.leg_name(number) or part.leg_text(number)


def span(found: Range | None, places: int, unit: str) -> str:
    """A range with its unit, or that it was not checked."""
    return NOT_CHECKED if found is None else found.text(places, unit)


def say(console: Console, text: str) -> None:
    """A line of text."""
    console.print(Text(text), soft_wrap=True)


def _known(value: float | None, places: int, unit: str) -> str:
    return NOT_CHECKED if value is None else f"{value:.{places}f}{unit}"


def table_of(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    """A table without lines, its first column set in by its own text."""
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    for head in heads:
        table.add_column(head)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


MOST_KINDS = 20
"""Kinds of openings that are listed."""


def summary(
    console: Console,
    shown: Part,
    width: float,
    length: float,
    area: float | None,
    lines: Sequence[str],
    openings: Sequence[OpeningRow],
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
        stages(console, shown, schedule)
    findings(console, told)
    for file in files:
        _row(console, "wrote", file)


def drawn(console: Console, result: Result) -> None:
    """Print what was drawn of one part."""
    flat, part = result.flat, result.part
    summary(
        console,
        part,
        flat.width,
        flat.length,
        flat.area,
        lines_of(flat),
        result.openings.rows,
        result.findings,
        [str(f) for f in result.files],
        near=near_face(flat) if part.source else "",
        schedule=result.schedule,
    )


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
    """Where the bend lines lie: x where all run along y, else their ends [mm]."""
    if bends_upright(flat):
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


def _openings(rows: Sequence[OpeningRow]) -> Table:
    """A line for each kind of opening, with the least metal about those of it."""
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    for head in ("  openings", "", "on", "least to tangent line", "to edge", "to next opening"):
        table.add_column(head, justify="right" if head.startswith(("least", "to")) else "left")
    kinds: dict[tuple[str, str], list[OpeningRow]] = {}
    for row in rows:
        kinds.setdefault((row.text, row.leg or crossing_text(row)), []).append(row)
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
