"""The printed bend schedule: what the hand does at each stage, then the numbers behind it."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from flatgen.brake.schedule import Range, Schedule, Sight, Stage
from flatgen.part import Part
from flatgen.units import in_mm_and_inch

CAUTIONS = (
    "Hands clear of nose and leaf: the leaf falls back, the handle kicks on release, the clamp bar drops.",
    "A second person for long sheets. Mark sight lines, never scribe them; no graphite pencil on aluminium.",
    "Inspect the outside of each bend with a lens: a cracked part is scrap, a hardened temper is not bent back.",
    "Strength is not judged here: approved drawings, local rules and licensed inspection come first.",
)


def schedule(console: Console, part: Part, found: Schedule, *, cautions: bool = True) -> None:
    """Print a bend schedule.

    Parameters
    ----------
    console : rich.console.Console
        Where to, [-]
    part : Part
        The part, [-]
    found : Schedule
        Its schedule, [mm]
    cautions : bool
        Whether the usual cautions are printed too, [-]
    """
    shop, setup = found.shop, found.setup
    _line(
        console,
        f"bend schedule on {shop.brake.name}, set-up {setup.name} ({shop.path}, fingerprint {shop.fingerprint})",
    )
    if found.setting is not None:
        size = in_mm_and_inch(found.setting)
        _line(
            console, f"nose {setup.clamp.nose_radius:g} mm, set back {size} from the bed's edge: {found.setting_from}"
        )
    _line(
        console,
        f"order {found.order_from}, not checked against the brake; all figures are estimates until a strip is measured",
    )
    if not found.stages:
        _line(console, "no bends")
        return
    console.print(_work(part, found.stages))
    console.print(_both_sides(part, found.stages))
    if any(s.load for s in found.stages):
        console.print(_loads(found.stages))
    for text in CAUTIONS if cautions else ():
        _line(console, text)


def _line(console: Console, text: str) -> None:
    console.print(Text(f"  {text}"), soft_wrap=True)


def _table(heads: Sequence[str], left: Sequence[str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="italic")
    for head in heads:
        table.add_column(head, justify="left" if head in left else "right", overflow="fold")
    return table


def _work(part: Part, stages: Sequence[Stage]) -> Table:
    heads = ("  ", "bend", "way", "angle", "hold", "mark on", "sight line from held edge", "from datum edge", "leaf to",
             "inside radius formed", "at the handle")  # fmt: skip
    table = _table(heads, ("bend", "way", "hold", "mark on"))
    for stage in stages:
        crease, sight = stage.crease, stage.sight
        table.add_row(
            f"  {stage.number}",
            Text(crease.label),
            crease.way,
            f"{crease.angle:g}°",
            Text(_leg(part, stage, sight)),
            f"{sight.face} face",
            in_mm_and_inch(sight.from_held_edge),
            f"{in_mm_and_inch(sight.from_datum)} ({crease.datum})",
            _range(stage.leaf_angle, 1, "°"),
            _range(stage.radius, 2, " mm"),
            "not known" if stage.load is None else f"{stage.load.handle:.0f} N",
        )
    return table


def _both_sides(part: Part, stages: Sequence[Stage]) -> Table:
    heads = ("  bend", "line if held", "from datum edge", "if held instead", "from datum edge ", "apart", "springback",
             "nose setting wanted", "least")  # fmt: skip
    table = _table(heads, ("  bend", "line if held", "if held instead"))
    for stage in stages:
        table.add_row(
            Text(f"  {stage.crease.label}"),
            Text(_leg(part, stage, stage.sight)),
            f"{stage.sight.from_datum:.2f} mm",
            Text(_leg(part, stage, stage.other)),
            f"{stage.other.from_datum:.2f} mm",
            f"{abs(stage.other.from_datum - stage.sight.from_datum):.2f} mm",
            _range(stage.springback, 1, "°"),
            "-" if stage.needed is None else f"{stage.needed:.2f} mm",
            "-" if stage.least is None else f"{stage.least:.2f} mm",
        )
    return table


def _loads(stages: Sequence[Stage]) -> Table:
    heads = ("  bend", "moment", "bears at", "on the leaf", "torque", "leaf gives", "bar gives", "twist", "angle lost",
             "leaf stress", "bar stress", "hinge", "clamp bar", "shim")  # fmt: skip
    table = _table(heads, ("  bend",))
    for stage in stages:
        load = stage.load
        if load is None:
            continue
        table.add_row(
            Text(f"  {stage.crease.label}"),
            f"{load.moment:.0f} N",
            f"{load.arm:.1f} mm",
            f"{load.line_load:.1f} N/mm",
            f"{load.torque / 1000:.0f} N m",
            _known(load.deflection_leaf, "{:.2f} mm"),
            _known(load.deflection_clamp, "{:.2f} mm"),
            _known(load.twist, "{:.2f}°"),
            _known(load.loss, "{:.1f}°"),
            _known(load.stress_leaf, "{:.0f} MPa"),
            _known(load.stress_clamp, "{:.0f} MPa"),
            f"{load.hinge_force:.0f} N",
            f"{load.clamp_force:.0f} N",
            _known(load.shim, "{:.2f} mm"),
        )
    return table


def _leg(part: Part, stage: Stage, sight: Sight) -> str:
    leg = stage.crease.side(sight.held).leg
    return part.leg_name(leg) or part.leg_text(leg)


def _range(found: Range | None, places: int, unit: str) -> str:
    if found is None:
        return "not known"
    low, high = f"{found.low:.{places}f}", f"{found.high:.{places}f}"
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"


def _known(value: float | None, form: str) -> str:
    return "not known" if value is None else form.format(value)
