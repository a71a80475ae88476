"""The bend schedule as plain text for a table: one row a stage, short cells, notes and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from flatgen.core.learned import Expected, ExpectedBend, ExpectedLeg
from flatgen.core.schedule import Range, Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing.words import MM_PER_INCH, clean, radius
from flatgen.paper.pages.tables import Blank, Cell
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.measure import AngleCheck, LengthCheck, Limits, Measure, Spot
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

    :param schedule: its stages on a brake; checked, refused or not checked
    :returns: A row for each stage; what is estimated says so in its head
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

    :param value: its distance [mm]

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


WITH = {
    "calliper": words.CALLIPER,
    "rule": words.RULE,
    "card": words.CARD,
    "shallow": words.NO_WAY,
    "slanted": words.NO_WAY,
}


def measure_table(part: Part, found: Sequence[Measure], *, unit: SheetUnit = "mm", grade: str = "m") -> Table:
    """All stages in one table; its last column is left blank.

    :param found: of :func:`flatgen.paper.shop_sheet.measure.measures`
    :param grade: tolerance class that they were found with
    :returns: A row for each check, and as notes what to do
    """
    rows: list[tuple[Cell, ...]] = []
    for item in found:
        stage = words.STAGE.format(number=item.number, label=words.short(item.label))
        rows += [(stage if n == 0 else "", *row) for n, row in enumerate(_checks(part, item, unit))]
    offsets = {round(item.offset, 6) for item in found} or {0.0}
    return Table(words.HEADS_MEASURE, tuple(rows), what_to_do(offsets, unit=unit, grade=grade))


def finished_table(
    part: Part, angles: Iterable[AngleCheck], lengths: Iterable[LengthCheck], *, unit: SheetUnit = "mm"
) -> Table:
    """Sizes of the finished part in one table; its last column is left blank.

    :param angles: of :func:`flatgen.paper.shop_sheet.measure.finished`
    """
    rows = [_angle_row(check, unit) for check in angles] + [_length_row(part, check, unit) for check in lengths]
    return Table(words.HEADS_FINISHED, tuple(rows), ())


def if_off(part: Part, item: Measure, *, unit: SheetUnit = "mm") -> tuple[str, ...]:
    """What is left to take an error up after one stage.

    :returns: A sentence for each side, and one more where nothing is left
    """
    told = [_left(part, check, unit) for check in item.lengths]
    if not any(check.rest.next or (check.rest.free and check.end.kind == "edge") for check in item.lengths):
        told.append(words.NOTHING_LEFT)
    return tuple(told)


def what_to_do(offsets: Iterable[float], *, unit: SheetUnit = "mm", grade: str = "m") -> tuple[str, ...]:
    """The rules for all stages, where a size or an angle is out of its limits.

    :param offsets: of the set-ups in use [mm]
    :param grade: tolerance class of ISO 2768-1
    """
    known = sorted(set(offsets))
    now = words.OFFSET_NOW.format(offset=words.fine(known[0], unit)) if len(known) == 1 else ""
    return tuple(text.format(grade=grade, offset=now) for text in words.ACT)


def _checks(part: Part, item: Measure, unit: SheetUnit) -> list[tuple[Cell, ...]]:
    return [_angle_row(item.angle, unit), *(_length_row(part, check, unit) for check in item.lengths)]


def _angle_row(check: AngleCheck, unit: SheetUnit) -> tuple[Cell, ...]:
    label = words.short(check.label)
    if check.height is not None:
        return (words.HEM.format(label=label), words.HEIGHT, *_limits(check.height, unit), Blank(unit[:2]))
    opening = words.degrees(180.0 - check.angle.expected)
    tool = words.PROTRACTOR.format(opening=opening) if check.how == "protractor" else words.CARD_ANGLE
    ends = (words.NO_LIMIT, words.NO_LIMIT)
    if check.angle.tolerance is not None:
        ends = words.limits_of_angle(check.angle.expected, check.angle.tolerance)
    return (words.ANGLE.format(label=label), tool, words.degrees(check.angle.expected), *ends, Blank("°"))


def _length_row(part: Part, check: LengthCheck, unit: SheetUnit) -> tuple[Cell, ...]:
    leg, start, end = words.called(part, check.leg), _spot(part, check.start), _spot(part, check.end)
    end += "" if check.even else words.FARTHEST
    end += words.ACROSS_FLAT if check.over_flat else ""
    pattern = words.FROM_TO if check.hand else words.FROM_TO_FINISHED
    what = pattern.format(leg=leg, side=words.SIDES.get(check.hand, ""), start=start, end=end)
    if check.size is None:
        why = words.TOO_SHALLOW if check.how == "shallow" else words.SLANTED
        return (f"{leg}: {why}", WITH[check.how], words.NONE, words.NONE, words.NONE, words.NONE)
    return (what, WITH[check.how], *_limits(check.size, unit), Blank(unit[:2]))


def _limits(size: Limits, unit: SheetUnit) -> tuple[str, str, str]:
    shown = words.bench(size.expected, unit)
    if size.least is None or size.most is None:
        return (shown, words.NO_LIMIT, words.NO_LIMIT)
    return (shown, *words.inward(size.least, size.most, unit))


def _spot(part: Part, spot: Spot) -> str:
    leg = "" if spot.leg is None else words.called(part, spot.leg)
    return words.SPOT[spot.kind].format(leg=leg, label=words.short(spot.label))


def _left(part: Part, check: LengthCheck, unit: SheetUnit) -> str:
    leg, rest = words.called(part, check.leg), check.rest
    if not rest.next:
        return (words.FREE_END if rest.free else words.FINAL).format(leg=leg)
    pattern = words.TAKES_FREE if rest.free else words.TAKES_BETWEEN
    takes = pattern.format(leg=words.called(part, rest.takes))
    takes += words.THOUGH if rest.takes in part.reference_legs else ""
    if rest.line is None:
        return words.OPEN.format(leg=leg, next=words.short(rest.next), takes=takes)
    return words.AFRESH.format(
        leg=leg, next=words.short(rest.next), line=line(rest.line, unit), spot=_spot(part, check.start), takes=takes
    )


TITLE = "What to expect"

HEADS_LEGS = (
    "Leg", "asked {unit}", "tolerance {unit}", "at the ends {unit}", "where the brake gives most {unit}",
    "95 % of pieces from {unit}", "to {unit}", "came out",
)  # fmt: skip

HEADS_BENDS = ("Bend", "asked", "leaf to", "at the ends", "where the brake gives most", "95 % of pieces", "came out")

NO_TOLERANCE = "none"

MORE = "{size} !"

NOT_INSIDE = "! Not all of this lies inside the tolerance."

BEHIND = "By {bends} on {strips} of this metal, thickness and radius; strips {digest}."

NO_STRIPS = "By strips of other metals, thicknesses or radii alone: offset of the brake only; strips {digest}."

ADVICE = "Advice: {text}."

TEACHES = "A further bend like {label} would teach most: {gain:.0f} % of what is not known of the legs."


def expected_tables(schedule: Schedule, *, unit: SheetUnit = "mm") -> tuple[Table, ...]:
    """Legs, and bends, as they will come out; none where no strip told.

    :returns: two tables; the notes of the second say what it rests on, and what to do first
    """
    found = schedule.expected
    if found is None:
        return ()
    short = unit[:2]
    legs = tuple(_leg(leg, unit) for leg in found.legs)
    first = Table(tuple(h.format(unit=short) for h in HEADS_LEGS), legs, _marked(found))
    return first, Table(HEADS_BENDS, tuple(_bend(b) for b in found.angles), _forecast_notes(schedule, found))


def _leg(leg: ExpectedLeg, unit: SheetUnit) -> tuple[Cell, ...]:
    tolerance = NO_TOLERANCE if leg.tolerance is None else f"±{_size(leg.tolerance, unit)}"
    high = _size(leg.high, unit)
    return (
        words.short(leg.name),
        _size(leg.asked, unit),
        tolerance,
        *(_size(v, unit) for v in (leg.at_end, leg.at_middle, leg.low)),
        high if leg.inside else MORE.format(size=high),
        Blank(),
    )


def _size(mm: float, unit: SheetUnit) -> str:
    """Finer than a bench measures, so that what is expected and what is asked can be told apart."""
    return words.fine(mm, "mm" if unit == "mm" else "in", bare=True)


def _bend(bend: ExpectedBend) -> tuple[Cell, ...]:
    return (
        words.short(bend.label),
        words.degrees(bend.asked),
        *(f"{v:.1f}°" for v in (bend.set, bend.at_end, bend.at_middle)),
        f"{bend.low:.1f} to {bend.high:.1f}°",
        Blank(),
    )


def _marked(found: Expected) -> tuple[str, ...]:
    return () if all(leg.inside for leg in found.legs) else (NOT_INSIDE,)


def _forecast_notes(schedule: Schedule, found: Expected) -> tuple[str, ...]:
    bends, strips = (f"{n} {w}{'' if n == 1 else 's'}" for n, w in ((found.bends, "bend"), (found.strips, "strip")))
    behind = BEHIND if found.bends else NO_STRIPS
    notes = [behind.format(bends=bends, strips=strips, digest=schedule.shop.learned)]
    if found.advice:
        notes.append(ADVICE.format(text=clean(found.advice[:1].upper() + found.advice[1:])))
    if found.teach and found.do == "strip":
        label, gain = found.teach[0]
        notes.append(TEACHES.format(label=words.short(label), gain=100 * gain))
    return (*notes, *found.words)
