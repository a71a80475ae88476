"""The bend schedule as plain text for a table: one row a stage, short cells, notes and cautions."""

from __future__ import annotations

from dataclasses import dataclass

from flatgen.core.schedule import Range, Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing.words import MM_PER_INCH, clean, radius
from flatgen.paper.pages.tables import Cell
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.ordinates import figure
from flatgen.paper.shop_sheet.words import SheetUnit

LEAF_BY_STRIPS = "Leaf angles are what strips told, to 95 %; what deflection takes is not in them."


@dataclass(frozen=True)
class Table:
    """``heads``, ``rows`` with as many cells (text, or a blank to write in), and ``notes`` to stand below."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if any(len(row) != len(self.heads) for row in self.rows):
            raise ValueError("a row with more or fewer cells than heads")


def schedule_rows(part: Part, schedule: Schedule, *, unit: SheetUnit = "mm") -> Table:
    """The bends in their order, with all that is set and marked for each.

    Parameters
    ----------
    part : Part
        The part, [-]
    schedule : Schedule
        Its stages on a brake; checked, refused or not checked, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]

    Returns
    -------
    Table
        A row for each stage; what is estimated says so in its head, [-]
    """
    data = {s.crease.datum for s in schedule.stages}
    one = data.pop() if len(data) == 1 else ""
    heads = tuple(
        h.format(datum=one or words.DATUM, unit=unit[:2], force=words.FORCES[unit]) for h in words.HEADS_SCHEDULE
    )
    rows = tuple(_row(part, schedule, stage, unit, bool(one)) for stage in schedule.stages)
    return Table(heads, rows, _notes(schedule, unit))


def line(value: float, unit: SheetUnit) -> str:
    """Where a line is marked, as the flat's ordinates are written.

    Parameters
    ----------
    value : float
        Its distance, [mm]
    unit : SheetUnit
        Unit of the figure, [-]

    Returns
    -------
    str
        With its unit, [-]

    Examples
    --------
    By hand: 82.25 mm = 3.23819 in, 15/64 = 0.234375.

    >>> line(82.25, "in/64"), line(20.36, "mm")
    ('3 15/64 +0.004 in', '20.4 mm')
    """
    return f"{figure(value, unit)} {unit[:2]}"


def _row(part: Part, schedule: Schedule, stage: Stage, unit: SheetUnit, one_datum: bool) -> tuple[str, ...]:
    crease, sight = stage.crease, stage.sight
    setup = stage.setup or schedule.setup
    setting = stage.setting if stage.setting is not None else schedule.setting
    datum = "" if one_datum else f", {crease.datum}"
    return (
        str(stage.number),
        words.short(crease.label),
        crease.way,
        words.degrees(crease.angle),
        _angles(stage.leaf_angle),
        radius(crease.inside_radius, inches=unit != "mm").split()[0],
        _radii(stage.radius, unit),
        words.called(part, crease.side(sight.held).leg),
        sight.face,
        figure(sight.from_held_edge, unit),
        figure(sight.from_datum, unit) + datum,
        words.NOT_KNOWN if setting is None else words.fine(setting, unit, bare=True),
        words.short(setup.name),
        words.NOT_CHECKED if stage.load is None else words.force(stage.load.handle, unit),
        _clearance(stage, unit),
    )


def _angles(found: Range | None) -> str:
    return words.NOT_CHECKED if found is None else found.text(1, "°")


def _radii(found: Range | None, unit: SheetUnit) -> str:
    if found is None:
        return words.NOT_CHECKED
    if unit == "mm":
        return found.text(2, "")
    return Range(found.low / MM_PER_INCH, found.high / MM_PER_INCH).text(3, "")


def _clearance(stage: Stage, unit: SheetUnit) -> str:
    done = stage.handling
    if done is None:
        return words.NOT_CHECKED
    if done.refused:
        return words.CONTACT
    return words.bench(done.clearance, unit, bare=True) + (words.CLOSE if done.close else "")


def _notes(schedule: Schedule, unit: SheetUnit) -> tuple[str, ...]:
    notes = [_order(schedule)]
    for stage in schedule.stages:
        done, label = stage.handling, words.short(stage.crease.label)
        if done is not None and done.refused:
            notes.append(words.REFUSED_STAGE.format(number=stage.number, label=label, why=clean(done.refused)))
        elif done is not None and done.by_hand:
            notes.append(words.BY_HAND.format(label=label))
    if any(s.handling is not None and s.handling.close and not s.handling.refused for s in schedule.stages):
        notes.append(words.LITTLE_ROOM.format(safe=words.bench(schedule.shop.safe_clearance, unit)))
    if any(s.crease.known is not None and s.crease.known.springback is not None for s in schedule.stages):
        notes.append(LEAF_BY_STRIPS)
    return (*notes, words.ESTIMATES, words.LINES, words.NOSE)


def _order(schedule: Schedule) -> str:
    order, brake = clean(schedule.order_from), clean(schedule.shop.brake.name)
    if schedule.state == "refused":
        return words.REFUSED.format(order=order, brake=brake)
    if schedule.checked:
        return words.CHECKED.format(order=order, brake=brake)
    why = f" ({clean(schedule.unchecked)})" if schedule.unchecked else ""
    return words.UNCHECKED.format(order=order, why=why)
