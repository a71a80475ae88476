"""The sizes to measure as plain text: rows for a table with a blank to write in, and what to do where one is out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flatgen.definition.part import Part
from flatgen.paper.pages.tables import Blank, Cell
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.measure import AngleCheck, LengthCheck, Limits, Measure, Spot
from flatgen.paper.shop_sheet.schedule_rows import Table, line
from flatgen.paper.shop_sheet.words import SheetUnit

WITH = {
    "calliper": words.CALLIPER,
    "rule": words.RULE,
    "card": words.CARD,
    "shallow": words.NO_WAY,
    "slanted": words.NO_WAY,
}


def measure_table(part: Part, found: Sequence[Measure], *, unit: SheetUnit = "mm", grade: str = "m") -> Table:
    """All stages in one table; its last column is left blank.

    Parameters
    ----------
    part : Part
        The part, [-]
    found : Sequence[Measure]
        Of :func:`flatgen.paper.shop_sheet.measure.measures`, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]
    grade : str
        Tolerance class that they were found with, [-]

    Returns
    -------
    Table
        A row for each check, and as notes what to do, [-]
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

    Parameters
    ----------
    part : Part
        The part, [-]
    angles : Iterable[AngleCheck]
        Of :func:`flatgen.paper.shop_sheet.measure.finished`, [deg]
    lengths : Iterable[LengthCheck]
        The same, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]

    Returns
    -------
    Table
        A row for each check, [-]
    """
    rows = [_angle_row(check, unit) for check in angles] + [_length_row(part, check, unit) for check in lengths]
    return Table(words.HEADS_FINISHED, tuple(rows), ())


def if_off(part: Part, item: Measure, *, unit: SheetUnit = "mm") -> tuple[str, ...]:
    """What is left to take an error up after one stage.

    Parameters
    ----------
    part : Part
        The part, [-]
    item : Measure
        Of one stage, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]

    Returns
    -------
    tuple[str, ...]
        A sentence for each side, and one more where nothing is left, [-]
    """
    told = [_left(part, check, unit) for check in item.lengths]
    if not any(check.rest.next or (check.rest.free and check.end.kind == "edge") for check in item.lengths):
        told.append(words.NOTHING_LEFT)
    return tuple(told)


def what_to_do(offsets: Iterable[float], *, unit: SheetUnit = "mm", grade: str = "m") -> tuple[str, ...]:
    """The rules for all stages, where a size or an angle is out of its limits.

    Parameters
    ----------
    offsets : Iterable[float]
        Of the set-ups in use, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]
    grade : str
        Tolerance class of ISO 2768-1, [-]

    Returns
    -------
    tuple[str, ...]
        Sentences, [-]
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
