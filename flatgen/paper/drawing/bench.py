"""The bench drawing: the sight lines of a flat for one brake, with their labels, and notes on brake and order."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Any, Literal

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Bend, FlatPattern, Line, Loop, Point, Segment
from flatgen.core.schedule import Schedule, Side, Stage
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part
from flatgen.paper.drawing import document, on_metal, words
from flatgen.paper.drawing.document import LABELS, OPENINGS, OUTLINE, SIGHT_FAR, SIGHT_NEAR
from flatgen.paper.drawing.facts import Notes, cautions, full_title, leg_texts, metal_name
from flatgen.paper.drawing.surround import Rows
from flatgen.paper.drawing.text import Layout, lettering_height, line_widths
from flatgen.paper.drawing.words import both_lengths

HEAD = "Sight lines for one brake, to mark out by. They are no bend lines and mean nothing on another brake."
HELD_SIDE = (
    "Put each line under the front of the nose, its held side under the clamp bar. It is for that side alone: with the "
    "other side held it lies elsewhere."
)
FAR_FACE = "Lines for the far face are measured there from the same edge; the drawing shows them as through the sheet."
ESTIMATES = "Leaf angles and radii are estimates until a strip has been bent and measured."
KICK = "The leaf falls back, the handle kicks on release, the clamp bar drops."
EQUAL = 1e-6

LAYERS = (OUTLINE, OPENINGS, SIGHT_NEAR, SIGHT_FAR, LABELS)
Pair = tuple[Point, Point]
Marks = Literal["lines", "ticks", "none"]
TICK = 6.0
"""Length of a witness tick [mm]."""


@dataclass(frozen=True)
class DrawnSightLine:
    """The stretches of one stage's line on metal, in order [mm]."""

    stage: Stage
    stretches: tuple[Pair, ...]


def sight_lines(flat: FlatPattern, schedule: Schedule) -> tuple[DrawnSightLine, ...]:
    """Sight lines of a schedule on its flat, as long as the bends, in the order of bending [mm].

    :raises ValueError: the schedule was made without the flat
    """
    metal = on_metal.Metal(flat)
    lines = []
    for stage in schedule.stages:
        crease = stage.crease
        if crease.ends is None:
            raise ValueError(f"bend {crease.label} has no place on the flat")
        (x, y), (u, v) = crease.ends[0], crease.across
        shift = stage.sight.from_datum - (x * u + y * v)
        start, end = ((p[0] + shift * u, p[1] + shift * v) for p in crease.ends)
        lines.append(DrawnSightLine(stage, tuple(metal.stretches(start, end))))
    return tuple(lines)


def bench_document(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule,
    findings: tuple[Finding, ...],
    *,
    version: str = "R2010",
    inches: bool = False,
    marks: Marks = "lines",
) -> Any:
    """Draw the sight lines of a part for one brake, at 1:1.

    :param marks: ``lines``; ``ticks`` at their ends, for a machine that must not score a stretched face; ``none``: text
        alone
    """
    lines = sight_lines(flat, schedule)
    height = lettering_height(flat)
    off = frozenset(line.stage.crease.label for line in lines if not line.stretches)
    notes = bench_notes(part, flat, schedule, findings, off, inches=inches)
    layout = _bench_layout(part, flat, lines, notes, inches)
    doc = document.empty_document(version, height, inches, LAYERS)
    sheet = document.Sheet(doc, 1.0 / words.MM_PER_INCH if inches else 1.0, version)
    sheet.loop(flat.outline, OUTLINE)
    for opening in flat.openings:
        sheet.loop(opening, OPENINGS)
    for line in lines:
        sheet.lines(drawn_pairs(line, marks), SIGHT_NEAR if line.stage.sight.face == "near" else SIGHT_FAR)
    sheet.lettering(layout, line_widths(height))
    document.set_view(doc, [*flat.outline.points(0.1), *layout.points()], sheet.scale)
    return doc


def drawn_pairs(line: DrawnSightLine, marks: Marks) -> list[Pair]:
    """What is drawn of a sight line [mm]: its stretches on metal, or ticks at the ends of each.

    A tick is ``TICK`` long, or a third of its stretch where that is less.
    """
    if marks == "lines":
        return list(line.stretches)
    ticks: list[Pair] = []
    for a, b in line.stretches if marks == "ticks" else ():
        size = math.dist(a, b)
        share = min(TICK, size / 3.0) / size if size > 0 else 0.0
        step = ((b[0] - a[0]) * share, (b[1] - a[1]) * share)
        ticks += [(a, (a[0] + step[0], a[1] + step[1])), ((b[0] - step[0], b[1] - step[1]), b)]
    return ticks


def _bench_layout(
    part: Part, flat: FlatPattern, lines: tuple[DrawnSightLine, ...], notes: Notes, inches: bool
) -> Layout:
    """Labels, sizes, notes and key: as on the flat's drawing, with sight lines in place of bend lines."""
    bends = {b.label: b for b in flat.bends}
    shown = [line for line in lines if line.stretches]
    moved = tuple(bend_along(bends[line.stage.crease.label], line.stretches) for line in shown)
    stages = {line.stage.crease.label: line.stage for line in shown}
    marked = replace(flat, bends=moved, panels=flat.panels[: len(moved) + 1], root=0)

    def text_of(bend: Bend, form: words.Form) -> str:
        stage = stages[bend.label]
        leg = stage.crease.side(stage.sight.held).leg
        name = part.leg_name(leg) or part.leg_text(leg)
        return words.sight(
            stage.number, bend.label, stage.crease.way, stage.crease.angle, name, side_of(stage), form=form
        )

    return document.flat_lettering(flat, marked, notes, text_of, _key(shown), inches=inches)


def bend_along(bend: Bend, stretches: Iterable[Pair], allowance: float = 0.0) -> Bend:
    """A bend with these stretches as its lines, for the placing of labels; ``allowance``: free room about them [mm]."""
    pairs = tuple(stretches)
    segments = tuple(Segment(Loop((Line(*pair),)), (), pair, (pair, pair)) for pair in pairs)
    return replace(bend, allowance=allowance, segments=segments, origin=pairs[0][0])


def side_of(stage: Stage) -> str:
    """Where the held side lies beside its line as drawn; empty for slanted lines."""
    (u, v), first = stage.crease.across, stage.sight.held == "first"
    if math.isclose(abs(u), 1.0, abs_tol=1e-9):
        return "left" if first else "right"
    if math.isclose(abs(v), 1.0, abs_tol=1e-9):
        return "below" if first else "above"
    return ""


def _key(lines: list[DrawnSightLine]) -> Rows:
    faces = {line.stage.sight.face for line in lines}
    rows: Rows = (("wide", words.KEY_OUTLINE),)
    rows += (("sight near", words.KEY_SIGHT_NEAR),) if "near" in faces else ()
    return rows + ((("sight far", words.KEY_SIGHT_FAR),) if "far" in faces else ())


def bench_notes(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule,
    findings: tuple[Finding, ...],
    off: frozenset[str],
    *,
    inches: bool = False,
) -> Notes:
    """The text of a bench drawing.

    :param findings: of which the cautions are written
    :param off: labels of bends whose sight line lies off the metal
    :param inches: sizes in inches before those in millimetres
    """
    shop, setup = schedule.shop, schedule.setup
    brake_title = f", {shop.title}" if shop.title else ""
    offset = f", offset {setup.offset:+.2f} mm" if setup.offset else ""
    strips = f", strips {shop.learned}" if shop.learned else ""
    lines = [
        HEAD,
        f"Brake: {shop.brake.name}{brake_title}; file {PurePath(shop.path).name}, fingerprint {shop.fingerprint}"
        f"{strips}.",
        f"Set-up {setup.name}: nose radius {both_lengths(setup.clamp.nose_radius, inches=inches)}{offset}; "
        f"{_nose_setting(schedule, inches)}.",
        f"{metal_name(part)}, thickness {in_mm_and_inch(part.thickness, thickness=True, inch_first=inches)}; "
        f"part fingerprint {part.fingerprint}.",
        f"Order of bending: {_order(schedule)}.",
    ]
    for stage in schedule.stages:
        lines += [_stage_text(part, stage, inches), *_off_zone_text(part, stage, stage.crease.label in off, inches)]
    lines += [HELD_SIDE, *([FAR_FACE] if any(s.sight.face == "far" for s in schedule.stages) else []), ESTIMATES]
    return Notes(
        full_title(part), tuple(lines), (*cautions(part, flat, findings, "sight lines"), KICK), leg_texts(part, flat)
    )


def _order(schedule: Schedule) -> str:
    if schedule.state == "best":
        return f"{schedule.order_from} on this brake"
    if schedule.state == "checked":
        return f"{schedule.order_from}, checked against this brake"
    if schedule.state == "refused":
        return f"{schedule.order_from}; it CANNOT be bent so on this brake"
    return f"{schedule.order_from}, not checked against the brake"


def _nose_setting(schedule: Schedule, inches: bool) -> str:
    if schedule.setting is None:
        return f"nose setting not known ({schedule.setting_from})"
    size = both_lengths(schedule.setting, inches=inches)
    return f"nose {size} back from the bed's edge ({schedule.setting_from})"


def _stage_text(part: Part, stage: Stage, inches: bool) -> str:
    crease, sight = stage.crease, stage.sight
    move = f"{stage.handling.move}; " if stage.handling is not None else ""
    held, swung = (part.leg_name(s.leg) or part.leg_text(s.leg) for s in _held_and_swung(stage))
    radius = "" if stage.radius is None else f"; radius formed {stage.radius.text(2, ' mm')}"
    leaf = "springback not checked" if stage.leaf_angle is None else f"leaf to {stage.leaf_angle.text(1, '°')}"
    return (
        f"{stage.number}  bend {crease.label} {crease.way} {crease.angle:g}°: {move}hold {held}, swing {swung}; mark "
        f"the {sight.face} face {both_lengths(sight.from_held_edge, inches=inches)} from the edge of the held side "
        f"({both_lengths(sight.from_datum, inches=inches)} from the {crease.datum}); {leaf}{radius}."
    )


def _held_and_swung(stage: Stage) -> tuple[Side, Side]:
    crease = stage.crease
    return (crease.first, crease.second) if stage.sight.held == "first" else (crease.second, crease.first)


def _off_zone_text(part: Part, stage: Stage, off: bool, inches: bool) -> list[str]:
    """A line for a sight line that lies outside its bend zone."""
    crease, (held, swung) = stage.crease, _held_and_swung(stage)
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
