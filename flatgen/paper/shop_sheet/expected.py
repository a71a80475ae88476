"""What to expect of the finished part by what test strips told, as tables with a column to write in."""

from __future__ import annotations

from flatgen.core.learned import Expected, ExpectedBend, ExpectedLeg
from flatgen.core.schedule import Schedule
from flatgen.paper.drawing.words import clean
from flatgen.paper.pages.tables import Blank, Cell
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.schedule_rows import Table
from flatgen.paper.shop_sheet.words import SheetUnit

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

    Parameters
    ----------
    schedule : Schedule
        With what is expected, [mm]
    unit : SheetUnit
        Unit of the sizes, [-]

    Returns
    -------
    tuple[Table, ...]
        Two tables; the notes of the second say what it rests on, and what to do first, [-]
    """
    found = schedule.expected
    if found is None:
        return ()
    short = unit[:2]
    legs = tuple(_leg(leg, unit) for leg in found.legs)
    first = Table(tuple(h.format(unit=short) for h in HEADS_LEGS), legs, _marked(found))
    return first, Table(HEADS_BENDS, tuple(_bend(b) for b in found.angles), _notes(schedule, found))


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


def _notes(schedule: Schedule, found: Expected) -> tuple[str, ...]:
    bends, strips = (f"{n} {w}{'' if n == 1 else 's'}" for n, w in ((found.bends, "bend"), (found.strips, "strip")))
    behind = BEHIND if found.bends else NO_STRIPS
    notes = [behind.format(bends=bends, strips=strips, digest=schedule.shop.learned)]
    if found.advice:
        notes.append(ADVICE.format(text=clean(found.advice[:1].upper() + found.advice[1:])))
    if found.teach and found.do == "strip":
        label, gain = found.teach[0]
        notes.append(TEACHES.format(label=words.short(label), gain=100 * gain))
    return (*notes, *found.words)
