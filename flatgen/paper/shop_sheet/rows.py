"""Tables of the shop sheet as plain text: the bend schedule, what to measure, and the forecast that strips give."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from flatgen.core.learned import ExpectedBend, ExpectedLeg, ExpectedPart
from flatgen.core.schedule import Range, Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing.words import MM_PER_INCH, clean, radius
from flatgen.paper.pages.tables import Blank, Cell
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.measure import AngleCheck, LengthCheck, Limits, Spot, StageChecks
from flatgen.paper.shop_sheet.ordinates import figure
from flatgen.paper.shop_sheet.words import SheetUnit

TOOLS = {
    "calliper": words.CALLIPER,
    "rule": words.RULE,
    "card": words.CARD,
    "shallow": words.NO_WAY,
    "slanted": words.NO_WAY,
}


@dataclass(frozen=True)
class Table:
    """``heads``, ``rows`` with as many cells (text, or a blank to write in), and ``notes`` to stand below."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if any(len(row) != len(self.heads) for row in self.rows):
            raise ValueError("a row with more or fewer cells than heads")


def schedule_table(part: Part, schedule: Schedule, *, unit: SheetUnit = "mm") -> Table:
    """The bends in their order, a row each, with all that is set and marked; heads say what is estimated."""
    datums = {s.crease.datum for s in schedule.stages}
    common = datums.pop() if len(datums) == 1 else ""
    heads = tuple(
        h.format(datum=common or words.DATUM, unit=unit[:2], force=words.FORCES[unit]) for h in words.HEADS_SCHEDULE
    )
    rows = tuple(_schedule_row(part, schedule, stage, unit, bool(common)) for stage in schedule.stages)
    return Table(heads, rows, _schedule_notes(schedule, unit))


def line_distance(value: float, unit: SheetUnit) -> str:
    """The distance of a line [mm] with its unit, as the flat's ordinates are written.

    By hand: 82.25 mm = 3.23819 in, 15/64 = 0.234375.

    >>> line_distance(82.25, "in/64"), line_distance(20.36, "mm")
    ('3 15/64 +0.004 in', '20.4 mm')
    """
    return f"{figure(value, unit)} {unit[:2]}"


def _schedule_row(part: Part, schedule: Schedule, stage: Stage, unit: SheetUnit, one_datum: bool) -> tuple[str, ...]:
    crease, sight = stage.crease, stage.sight
    setup = stage.setup or schedule.setup
    setting = stage.setting if stage.setting is not None else schedule.setting
    datum = "" if one_datum else f", {crease.datum}"
    return (
        str(stage.number),
        words.short_name(crease.label),
        crease.way,
        words.degrees(crease.angle),
        _range_of_angle(stage.leaf_angle),
        radius(crease.inside_radius, inches=unit != "mm").split()[0],
        _range_of_radius(stage.radius, unit),
        words.leg_name(part, crease.side(sight.held).leg),
        sight.face,
        figure(sight.from_held_edge, unit),
        figure(sight.from_datum, unit) + datum,
        words.NOT_KNOWN if setting is None else words.gauge_size(setting, unit, bare=True),
        words.short_name(setup.name),
        words.NOT_CHECKED if stage.load is None else words.force(stage.load.handle, unit),
        _clearance(stage, unit),
    )


def _range_of_angle(angles: Range | None) -> str:
    return words.NOT_CHECKED if angles is None else angles.text(1, "°")


def _range_of_radius(radii: Range | None, unit: SheetUnit) -> str:
    if radii is None:
        return words.NOT_CHECKED
    if unit == "mm":
        return radii.text(2, "")
    return Range(radii.low / MM_PER_INCH, radii.high / MM_PER_INCH).text(3, "")


def _clearance(stage: Stage, unit: SheetUnit) -> str:
    handling = stage.handling
    if handling is None:
        return words.NOT_CHECKED
    if handling.refused:
        return words.CONTACT
    return words.bench_size(handling.clearance, unit, bare=True) + (words.CLOSE if handling.close else "")


def _schedule_notes(schedule: Schedule, unit: SheetUnit) -> tuple[str, ...]:
    notes = [_order_note(schedule)]
    for stage in schedule.stages:
        handling, label = stage.handling, words.short_name(stage.crease.label)
        if handling is not None and handling.refused:
            notes.append(words.REFUSED_STAGE.format(number=stage.number, label=label, why=clean(handling.refused)))
        elif handling is not None and handling.by_hand:
            notes.append(words.BY_HAND.format(label=label))
    if any(s.handling is not None and s.handling.close and not s.handling.refused for s in schedule.stages):
        notes.append(words.LITTLE_ROOM.format(safe=words.bench_size(schedule.shop.safe_clearance, unit)))
    if any(s.crease.known is not None and s.crease.known.springback is not None for s in schedule.stages):
        notes.append(words.LEAF_BY_STRIPS)
    return (*notes, words.ESTIMATES, words.LINES, words.NOSE)


def _order_note(schedule: Schedule) -> str:
    order, brake = clean(schedule.order_from), clean(schedule.shop.brake.name)
    if schedule.state == "refused":
        return words.REFUSED.format(order=order, brake=brake)
    if schedule.checked:
        return words.CHECKED.format(order=order, brake=brake)
    why = f" ({clean(schedule.unchecked)})" if schedule.unchecked else ""
    return words.UNCHECKED.format(order=order, why=why)


def measure_table(part: Part, stages: Sequence[StageChecks], *, unit: SheetUnit = "mm", grade: str = "m") -> Table:
    """All stages in one table, a row for each check; the last column is left blank, the notes say what to do.

    :param grade: tolerance class that the limits are of
    """
    rows: list[tuple[Cell, ...]] = []
    for item in stages:
        stage = words.STAGE.format(number=item.number, label=words.short_name(item.label))
        checks = [_angle_row(item.angle, unit), *(_length_row(part, check, unit) for check in item.lengths)]
        rows += [(stage if n == 0 else "", *row) for n, row in enumerate(checks)]
    offsets = {round(item.offset, 6) for item in stages} or {0.0}
    return Table(words.HEADS_MEASURE, tuple(rows), measuring_rules(offsets, unit=unit, grade=grade))


def finished_table(
    part: Part, angles: Iterable[AngleCheck], lengths: Iterable[LengthCheck], *, unit: SheetUnit = "mm"
) -> Table:
    """Sizes of the finished part in one table; the last column is left blank."""
    rows = [_angle_row(check, unit) for check in angles] + [_length_row(part, check, unit) for check in lengths]
    return Table(words.HEADS_FINISHED, tuple(rows))


def remaining_corrections(part: Part, item: StageChecks, *, unit: SheetUnit = "mm") -> tuple[str, ...]:
    """What is left to take an error up after one stage: a sentence for each side, one more where nothing is left."""
    notes = [_correction(part, check, unit) for check in item.lengths]
    if not any(check.rest.next or (check.rest.free and check.end.kind == "edge") for check in item.lengths):
        notes.append(words.NOTHING_LEFT)
    return tuple(notes)


def measuring_rules(offsets: Iterable[float], *, unit: SheetUnit = "mm", grade: str = "m") -> tuple[str, ...]:
    """The rules for all stages, where a size or an angle is out of its limits.

    :param offsets: of the set-ups in use [mm]
    """
    known = sorted(set(offsets))
    now = words.OFFSET_NOW.format(offset=words.gauge_size(known[0], unit)) if len(known) == 1 else ""
    return tuple(text.format(grade=grade, offset=now) for text in words.ACT)


def _angle_row(check: AngleCheck, unit: SheetUnit) -> tuple[Cell, ...]:
    label = words.short_name(check.label)
    if check.height is not None:
        return (words.HEM.format(label=label), words.HEIGHT, *_limits(check.height, unit), Blank(unit[:2]))
    opening = words.degrees(180.0 - check.angle.expected)
    tool = words.PROTRACTOR.format(opening=opening) if check.how == "protractor" else words.CARD_ANGLE
    ends = (words.NO_LIMIT, words.NO_LIMIT)
    if check.angle.tolerance is not None:
        ends = words.angle_limits(check.angle.expected, check.angle.tolerance)
    return (words.ANGLE.format(label=label), tool, words.degrees(check.angle.expected), *ends, Blank("°"))


def _length_row(part: Part, check: LengthCheck, unit: SheetUnit) -> tuple[Cell, ...]:
    leg, start, end = words.leg_name(part, check.leg), _spot_text(part, check.start), _spot_text(part, check.end)
    end += "" if check.even else words.FARTHEST
    end += words.ACROSS_FLAT if check.over_flat else ""
    pattern = words.FROM_TO if check.hand else words.FROM_TO_FINISHED
    what = pattern.format(leg=leg, side=check.hand, start=start, end=end)
    if check.size is None:
        why = words.TOO_SHALLOW if check.how == "shallow" else words.SLANTED
        return (f"{leg}: {why}", TOOLS[check.how], words.NONE, words.NONE, words.NONE, words.NONE)
    return (what, TOOLS[check.how], *_limits(check.size, unit), Blank(unit[:2]))


def _limits(size: Limits, unit: SheetUnit) -> tuple[str, str, str]:
    shown = words.bench_size(size.expected, unit)
    if size.least is None or size.most is None:
        return (shown, words.NO_LIMIT, words.NO_LIMIT)
    return (shown, *words.round_inward(size.least, size.most, unit))


def _spot_text(part: Part, spot: Spot) -> str:
    leg = "" if spot.leg is None else words.leg_name(part, spot.leg)
    return words.SPOT[spot.kind].format(leg=leg, label=words.short_name(spot.label))


def _correction(part: Part, check: LengthCheck, unit: SheetUnit) -> str:
    leg, rest = words.leg_name(part, check.leg), check.rest
    if not rest.next:
        return (words.FREE_END if rest.free else words.FINAL).format(leg=leg)
    pattern = words.TAKES_FREE if rest.free else words.TAKES_BETWEEN
    takes = pattern.format(leg=words.leg_name(part, rest.takes))
    takes += words.THOUGH if rest.takes in part.reference_legs else ""
    if rest.line is None:
        return words.OPEN.format(leg=leg, next=words.short_name(rest.next), takes=takes)
    return words.AFRESH.format(
        leg=leg,
        next=words.short_name(rest.next),
        line=line_distance(rest.line, unit),
        spot=_spot_text(part, check.start),
        takes=takes,
    )


def expected_tables(schedule: Schedule, *, unit: SheetUnit = "mm") -> tuple[Table, ...]:
    """A table of legs and one of bends, as they will come out; none without strips.

    Notes of the second say what the forecast rests on, and what to do first.
    """
    expected = schedule.expected
    if expected is None:
        return ()
    marked = () if all(leg.inside for leg in expected.legs) else (words.NOT_INSIDE,)
    heads = tuple(h.format(unit=unit[:2]) for h in words.HEADS_LEGS)
    legs = Table(heads, tuple(_expected_leg(leg, unit) for leg in expected.legs), marked)
    bends = tuple(_expected_bend(b) for b in expected.angles)
    return legs, Table(words.HEADS_BENDS, bends, _forecast_notes(schedule, expected))


def _expected_leg(leg: ExpectedLeg, unit: SheetUnit) -> tuple[Cell, ...]:
    tolerance = words.NO_TOLERANCE if leg.tolerance is None else f"±{_size(leg.tolerance, unit)}"
    high = _size(leg.high, unit)
    return (
        words.short_name(leg.name),
        _size(leg.asked, unit),
        tolerance,
        *(_size(v, unit) for v in (leg.at_end, leg.at_middle, leg.low)),
        high if leg.inside else words.OUTSIDE.format(size=high),
        Blank(),
    )


def _size(mm: float, unit: SheetUnit) -> str:
    """Finer than a bench measures, so that what is expected and what is asked differ visibly."""
    return words.gauge_size(mm, "mm" if unit == "mm" else "in", bare=True)


def _expected_bend(bend: ExpectedBend) -> tuple[Cell, ...]:
    return (
        words.short_name(bend.label),
        words.degrees(bend.asked),
        *(f"{v:.1f}°" for v in (bend.set, bend.at_end, bend.at_middle)),
        f"{bend.low:.1f} to {bend.high:.1f}°",
        Blank(),
    )


def _forecast_notes(schedule: Schedule, expected: ExpectedPart) -> tuple[str, ...]:
    bends, strips = (
        f"{n} {w}{'' if n == 1 else 's'}" for n, w in ((expected.bends, "bend"), (expected.strips, "strip"))
    )
    basis = words.BY_BENDS if expected.bends else words.BY_OTHERS
    notes = [basis.format(bends=bends, strips=strips, digest=schedule.shop.learned)]
    if expected.advice:
        notes.append(words.ADVICE.format(text=clean(expected.advice[:1].upper() + expected.advice[1:])))
    if expected.teach and expected.do == "strip":
        label, gain = expected.teach[0]
        notes.append(words.TEACHES.format(label=words.short_name(label), gain=100 * gain))
    return (*notes, *expected.words)
