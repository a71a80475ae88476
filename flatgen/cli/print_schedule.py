"""The printed bend schedule: lines to mark, leaf angles, loads, for a person at the brake. Text only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import PurePath
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from flatgen.bend_order.decide import Try, wording
from flatgen.core.learned import Expected
from flatgen.core.schedule import Range, Schedule, Stage
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part

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


def expected(console: Console, found: Expected) -> None:
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


def in_short(console: Console, found: Expected) -> None:
    """Print what to do first, and which bend would teach most."""
    if found.advice:
        say(console, f"  advice  {found.advice} (tolerances: {found.tolerance_source})")
    if found.teach and found.teach[0][1] > 0:
        label, gain = found.teach[0]
        say(console, f"  teach   a further bend like {label} would teach most: {100 * gain:.0f} % of what is not known")


def behind(found: Expected) -> str:
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


def reasons(console: Console, part: Part, label: str, tries: Sequence[Try]) -> None:
    """Print what keeps a bend from coming earlier."""
    if not label:
        return
    say(console, f"  why bend {label} does not come earlier:")
    for line in wording(tries, lambda n: leg(part, n)):
        say(console, f"    {line}")
    if not tries:
        say(console, "    it is the first")


def why_record(part: Part, label: str, tries: Sequence[Try]) -> dict[str, Any]:
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
                "clearance": t.look.gap,
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
    """A table without lines, its first column set in by its own text.

    Parameters
    ----------
    heads : Sequence[str]
        Of the columns, [-]
    rows : Iterable[Sequence[str]]
        As many cells in each, [-]

    Returns
    -------
    rich.table.Table
        To be printed, [-]
    """
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    for head in heads:
        table.add_column(head)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table
