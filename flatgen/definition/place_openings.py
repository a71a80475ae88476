"""Openings in their places: rows expanded, and each opening judged against its leg and the part's edges.

A fault is noted once for each ``[[opening]]``, for the first of its row, with the number of those that share it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from flatgen.core.errors import Finding
from flatgen.core.units import in_mm_and_inch
from flatgen.definition import limits as bounds
from flatgen.definition.closed_form import LegLimits, from_low_end, leg_limits
from flatgen.definition.model import Opening, Profile, opening_loop
from flatgen.definition.read_openings import OpeningDraft, Row
from flatgen.definition.toml.document import FaultNotes, KeyPath

SAME = 1e-6
"""Openings whose centres and sizes differ by less are one and the same [mm, deg]."""
REST = 0.05
"""A row that ends farther than this from where it was to end gets a note [mm]."""


@dataclass(frozen=True)
class _Steps:
    """Places of a row: ``first`` + i * ``step``, i from 0 to ``count`` - 1 [mm]."""

    first: float
    step: float
    count: int

    def __iter__(self) -> Iterator[float]:
        return (self.first + i * self.step for i in range(self.count))


def place_openings(
    profile: Profile, flats: Sequence[float], drafts: Sequence[OpeningDraft], notes: FaultNotes
) -> tuple[tuple[Opening, ...], tuple[Finding, ...]]:
    """Expand the rows and judge every place.

    :param profile: the part without its openings, a chain
    :param flats: flats of its legs [mm]
    :returns: openings, a row across first, then along; and FG119 for rows that end short
    """
    openings: list[Opening] = []
    findings: list[Finding] = []
    by_cell: dict[tuple[object, ...], Opening] = {}
    total = 0
    for draft in drafts:
        place = draft.opening.place
        limits = leg_limits(profile, flats[place.leg], place.leg, place.dimensions)
        path: KeyPath = ("opening", draft.opening.entry)
        across = _steps(draft.across, place.across, place.across_from, limits.width, notes, (*path, "row_across"))
        along = _steps(draft.along, place.along, place.along_from, profile.length, notes, (*path, "row_along"))
        if across is None or along is None:
            continue
        findings += _rest(draft.across, across, limits.width, "the other limit", notes.where((*path, "row_across")))
        findings += _rest(draft.along, along, profile.length, "the other end", notes.where((*path, "row_along")))
        total += across.count * along.count
        if total > bounds.MOST_OPENINGS:
            text = f"with this row of {across.count * along.count} the part has {total} openings, "
            text += f"more than {bounds.MOST_OPENINGS}, the most of one part"
            notes.add(path, "FG026", text, "give a larger pitch or smaller counts, or split the part")
            break
        row = [
            replace(draft.opening, place=replace(place, across=x, along=y), number=n)
            for n, (y, x) in enumerate((y, x) for y in along for x in across)
        ]
        _judge(profile, limits, row, by_cell, notes)
        openings += row
    return tuple(openings), tuple(findings)


def _rest(row: Row | None, steps: _Steps, width: float, end: str, where: str) -> list[Finding]:
    """FG119 for what a row by pitch and last leaves over."""
    if row is None or row.last is None or row.count:
        return []
    left = width - steps.first - steps.step * (steps.count - 1)
    if left - row.last < REST:
        return []
    text = (
        f"{steps.count} at a pitch of {in_mm_and_inch(steps.step)} fit: the last one stands {in_mm_and_inch(left)} "
        f"from {end}, where {in_mm_and_inch(row.last)} is the least asked for"
    )
    return [Finding("FG119", "note", where, text, "give count and last to space them evenly")]


def _steps(row: Row | None, value: float, start: str, width: float, notes: FaultNotes, path: KeyPath) -> _Steps | None:
    if row is None or row.count == 1:
        return _Steps(value, 0.0, 1)
    if row.last is None:
        count, pitch = row.count or 1, row.pitch or 0.0
        return _Steps(value - (pitch * (count - 1) / 2 if start == "middle" else 0.0), pitch, count)
    span = width - row.last - value
    least = bounds.LEAST_SIZE if row.count else 0.0
    if span < least - bounds.EDGE:
        text = f"the last one, {row.last:.3f} mm from the other end, would lie {-span:.3f} mm before the first"
        text += f": from end to end there are {in_mm_and_inch(width)}"
        notes.add((*path, "last"), "FG026", text, "make last or the first place smaller")
        return None
    if row.count:
        return _Steps(value, span / (row.count - 1), row.count)
    pitch = row.pitch or 1.0
    count = math.floor(span / pitch + bounds.EDGE) + 1
    if count > bounds.MOST_OPENINGS:
        text = f"{span:.3f} mm at a pitch of {pitch:g} mm make {count} openings, more than {bounds.MOST_OPENINGS}"
        notes.add((*path, "pitch"), "FG026", text, "give a larger pitch")
        return None
    return _Steps(value, pitch, count)


def _judge(
    profile: Profile,
    limits: LegLimits,
    row: Sequence[Opening],
    by_cell: dict[tuple[object, ...], Opening],
    notes: FaultNotes,
) -> None:
    """Note the first opening of a row that is off its leg, the first over an edge, the first twice there."""
    box = opening_loop(row[0]).box()
    shape = _shape_key(row[0])
    by_kind: dict[str, list[tuple[Opening, KeyPath, str, str]]] = {}
    for opening in row:
        place = opening.place
        x = from_low_end(place.across, place.across_from, limits.width)
        y = from_low_end(place.along, place.along_from, profile.length)
        fault = _off_leg(profile, limits, opening, x, y)
        if fault:
            by_kind.setdefault("off", []).append((opening, *fault))
            continue
        fault = _over_edge(profile, limits, opening, box, x, y)
        if fault:
            by_kind.setdefault("over", []).append((opening, *fault))
        twin = _twin((place.leg, *shape), x - limits.left, y, opening, by_cell)
        if twin:
            text = f"has the place and shape of opening[{twin.entry}]"
            text += f", number {twin.number + 1} of its row" if twin.number else ""
            by_kind.setdefault("twice", []).append((opening, (), text, "leave one of the two out"))
    for faults in by_kind.values():
        opening, key, text, remedy = faults[0]
        text = f"number {opening.number + 1} of {len(row)} {text}" if len(row) > 1 else text
        text += f"; so do {len(faults) - 1} more of the row" if len(faults) > 1 else ""
        notes.add(("opening", opening.entry, *key), "FG025", text, remedy)


def _off_leg(
    profile: Profile, limits: LegLimits, opening: Opening, x: float, y: float
) -> tuple[KeyPath, str, str] | None:
    leg, mode = profile.leg_text(opening.place.leg), opening.place.dimensions
    for key, at, size, ends, of in (
        ("across", x, limits.width, ("left", "right"), f"limit of {leg} ({mode})"),
        ("along", y, profile.length, ("bottom", "top"), "end of the part"),
    ):
        beyond = max(-at, at - size)
        if beyond > bounds.EDGE:
            end = ends[0] if at < 0 else ends[1]
            text = f"has its centre {in_mm_and_inch(beyond)} beyond the {end} {of}"
            remedy = f"place it between {ends[0]} and {ends[1]}, which are {in_mm_and_inch(size)} apart"
            return (key,), text, remedy
    return None


def _over_edge(
    profile: Profile, limits: LegLimits, opening: Opening, box: tuple[float, float, float, float], x: float, y: float
) -> tuple[KeyPath, str, str] | None:
    """The edge that an opening reaches farthest over, if it leaves less than the least metal there."""
    left_edge, right_edge = opening.place.leg == 0, opening.place.leg == len(profile.legs) - 1
    left = [(x + box[0], "across", "left edge")] if left_edge else []
    right = [(limits.width - x - box[2], "across", "right edge")] if right_edge else []
    ends = [(y + box[1], "along", "bottom end"), (profile.length - y - box[3], "along", "top end")]
    metal, key, edge = min(left + right + ends)
    if metal >= bounds.LEAST_EDGE:
        return None
    if metal < -bounds.LEAST_EDGE:
        text = f"reaches {in_mm_and_inch(-metal, thickness=True)} over the {edge} of the part"
    else:
        text = f"reaches the {edge} of the part and leaves no metal there"
    return (key,), text, 'move it or make it smaller; a notch in the edge is made with [[cut]] and tool = "box"'


def _shape_key(opening: Opening) -> tuple[object, ...]:
    """Equal for openings of one form, however they are written."""
    wide, high, turn = opening.size_across, opening.size_along, opening.turn
    if wide < high:
        wide, high, turn = high, wide, turn + 90.0
    symmetry = 90.0 if wide - high < SAME else 180.0
    turn = 0.0 if opening.shape == "round" else round(turn % symmetry, 6) % symmetry
    radius = high / 2 if opening.shape != "rectangle" else opening.corner_radius
    return (round(wide, 6), round(high, 6), round(radius, 6), turn)


def _twin(
    head: tuple[object, ...], x: float, y: float, opening: Opening, by_cell: dict[tuple[object, ...], Opening]
) -> Opening | None:
    """An earlier opening at this place: four grids of cells, so that none is missed beside a cell's border."""
    grids = [(dx, dy) for dx in (0.0, 0.5) for dy in (0.0, 0.5)]
    keys = [(*head, g, math.floor(x / SAME / 2 + g[0]), math.floor(y / SAME / 2 + g[1])) for g in grids]
    twin = next((by_cell[key] for key in keys if key in by_cell), None)
    for key in keys:
        by_cell.setdefault(key, opening)
    return twin
