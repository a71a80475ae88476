"""What is written beside the sight lines: which brake they are for, each bend in its order, cautions."""

from __future__ import annotations

from pathlib import PurePath

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule, Side, Stage
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part
from flatgen.paper.drawing.facts import cautions, leg_texts
from flatgen.paper.drawing.notes import Notes
from flatgen.paper.drawing.words import both_lengths

HEAD = "Sight lines for one brake, to mark out by. They are no bend lines and mean nothing on another brake."
HELD = (
    "Put each line under the front of the nose, its held side under the clamp bar. It is for that side alone: with the "
    "other side held it lies elsewhere."
)
FAR = "Lines for the far face are measured there from the same edge; the drawing shows them as through the sheet."
ESTIMATES = "Leaf angles and radii are estimates until a strip has been bent and measured."
KICK = "The leaf falls back, the handle kicks on release, the clamp bar drops."
EQUAL = 1e-6


def notes_of_bench(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule,
    findings: tuple[Finding, ...],
    off: frozenset[str],
    *,
    inches: bool = False,
) -> Notes:
    """The text of a bench drawing.

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule
        Its stages, [mm]
    findings : tuple[Finding, ...]
        Of part and schedule, of which the cautions are written, [-]
    off : frozenset[str]
        Bends whose line finds no metal, [-]
    inches : bool
        Sizes in inches before those in millimetres, [-]

    Returns
    -------
    Notes
        Title, lines, cautions, [-]
    """
    title = f"{part.name}: {part.title}" if part.title else part.name
    shop, setup = schedule.shop, schedule.setup
    offset = f", offset {setup.offset:+.2f} mm" if setup.offset else ""
    strips = f", strips {shop.learned}" if shop.learned else ""
    metal = part.metal_text if part.metal else part.metal_text[:1].upper() + part.metal_text[1:]
    lines = [
        HEAD,
        f"Brake: {shop.brake.name}{_of(shop.title)}; file {PurePath(shop.path).name}, fingerprint {shop.fingerprint}"
        f"{strips}.",
        f"Set-up {setup.name}: nose radius {both_lengths(setup.clamp.nose_radius, inches=inches)}{offset}; "
        f"{_setting(schedule, inches)}.",
        f"{metal}, thickness {in_mm_and_inch(part.thickness, thickness=True, inch_first=inches)}; "
        f"part fingerprint {part.fingerprint}.",
        f"Order of bending: {_order(schedule)}.",
    ]
    for stage in schedule.stages:
        lines += [_stage(part, stage, inches), *_beyond(part, stage, stage.crease.label in off, inches)]
    lines += [HELD, *([FAR] if any(s.sight.face == "far" for s in schedule.stages) else []), ESTIMATES]
    return Notes(title, tuple(lines), (*cautions(part, flat, findings, "sight lines"), KICK), leg_texts(part, flat))


def _order(schedule: Schedule) -> str:
    if schedule.state == "best":
        return f"{schedule.order_from} on this brake"
    if schedule.state == "checked":
        return f"{schedule.order_from}, checked against this brake"
    if schedule.state == "refused":
        return f"{schedule.order_from}; it CANNOT be bent so on this brake"
    return f"{schedule.order_from}, not checked against the brake"


def _of(title: str) -> str:
    return f", {title}" if title else ""


def _setting(schedule: Schedule, inches: bool) -> str:
    if schedule.setting is None:
        return f"nose setting not known ({schedule.setting_from})"
    size = both_lengths(schedule.setting, inches=inches)
    return f"nose {size} back from the bed's edge ({schedule.setting_from})"


def _stage(part: Part, stage: Stage, inches: bool) -> str:
    crease, sight = stage.crease, stage.sight
    move = f"{stage.handling.move}; " if stage.handling is not None else ""
    held, swung = (part.leg_name(s.leg) or part.leg_text(s.leg) for s in _sides(stage))
    radius = "" if stage.radius is None else f"; radius formed {stage.radius.text(2, ' mm')}"
    leaf = "springback not checked" if stage.leaf_angle is None else f"leaf to {stage.leaf_angle.text(1, '°')}"
    return (
        f"{stage.number}  bend {crease.label} {crease.way} {crease.angle:g}°: {move}hold {held}, swing {swung}; mark "
        f"the {sight.face} face {both_lengths(sight.from_held_edge, inches=inches)} from the edge of the held side "
        f"({both_lengths(sight.from_datum, inches=inches)} from the {crease.datum}); {leaf}{radius}."
    )


def _sides(stage: Stage) -> tuple[Side, Side]:
    crease = stage.crease
    return (crease.first, crease.second) if stage.sight.held == "first" else (crease.second, crease.first)


def _beyond(part: Part, stage: Stage, off: bool, inches: bool) -> list[str]:
    """Where a line does not lie in its bend zone."""
    crease, (held, swung) = stage.crease, _sides(stage)
    past = stage.sight.from_held_edge - held.reach - crease.allowance
    if off:
        over = past - swung.reach
        where = f"{both_lengths(over, inches=inches)} beyond the edge of the blank" if over > EQUAL else "off the metal"
        return [f"Bend {crease.label}: its sight line lies {where} and is not drawn; measure from the held edge."]
    if past > EQUAL:
        leg = part.leg_name(swung.leg) or part.leg_text(swung.leg)
        return [
            f"Bend {crease.label}: its sight line stands {both_lengths(past, inches=inches)} beyond the bend, on {leg}."
        ]
    return []
