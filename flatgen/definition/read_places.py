"""Keys that openings and cuts share: place, legs, sizes, rows, and whether the keys fit the shape or the tool.

Each reader notes its faults and gives a stand-in; the caller drops what has faults.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flatgen.core.units import Unit, in_mm_and_inch
from flatgen.definition import limits as bounds
from flatgen.definition.cutouts import Place
from flatgen.definition.quantities import length
from flatgen.definition.shapes import RowShape, shape, shown
from flatgen.definition.toml.document import Notes
from flatgen.definition.toml.lines import Path
from flatgen.metal.allowance import Dimensions

SIZES = ("size_across", "size_along")
MOST_LEGS_TOLD = 5
"""Faults of one list of legs that are told."""


@dataclass(frozen=True)
class Row:
    """Two of the three: ``count``, ``pitch`` [mm], and the place of the ``last`` from the other end [mm]."""

    count: int | None
    pitch: float | None
    last: float | None


@dataclass(frozen=True)
class Section:
    """What openings need of the section: the names of all legs, how each is dimensioned, the unit, who has a name."""

    names: tuple[str | None, ...]
    modes: tuple[Dimensions, ...]
    unit: Unit | None
    legs_of: Mapping[str, tuple[int, ...]]


@dataclass(frozen=True)
class Fit:
    """What a shape or tool is called, and which keys it needs and may have."""

    text: str
    needs: tuple[str, ...]
    may: tuple[str, ...]


def check_fit(values: Mapping[str, Any], fit: Fit | None, fits: Any, notes: Notes, path: Path) -> None:
    """Keys that the shape or tool has no use for, and those that it lacks."""
    if fit is None:
        return
    every = dict.fromkeys(key for f in fits for key in (*f.needs, *f.may))
    takes = ", ".join((*fit.needs, *fit.may))
    for key in every:
        if values.get(key) is not None and key not in (*fit.needs, *fit.may):
            notes.add((*path, key), "FG003", f"{fit.text} has no {key}", f"leave it out: {fit.text} takes {takes}")
    for key in fit.needs:
        if values.get(key) is None and key not in values.get("ill", ()):
            remedy = 'give the side to take away: "top", "bottom", "left" or "right"'
            remedy = remedy if key == "remove" else f'write for example {key} = "12 mm"'
            notes.add((*path, key), "FG004", f"this key is missing: {fit.text} needs {' and '.join(fit.needs)}", remedy)


def read_place(
    values: Mapping[str, Any],
    section: Section,
    notes: Notes,
    path: Path,
    needless: tuple[str, ...],
) -> Place:
    """Where it is; a fault leaves a stand-in, and the caller drops it."""
    mark = values.get("leg")
    leg = None if mark is None else leg_of(mark, section, notes, (*path, "leg"))
    found: list[Any] = []
    for key, start in (("across", "left"), ("along", "bottom")):
        origin = values.get(f"{key}_from") or start
        raw = values.get(key)
        if raw is None and key in needless:
            origin = "middle"
        elif raw is None and origin != "middle" and not {key, f"{key}_from"} & set(values.get("ill", ())):
            example = "30 mm" if key == "across" else "25 mm"
            remedy = f'write for example {key} = "{example}", or {key}_from = "middle"'
            notes.add((*path, key), "FG004", f"this key is missing: it is the distance from the {origin}", remedy)
        found += [signed(raw, section.unit, notes, (*path, key)), origin]
    across, across_from, along, along_from = found
    mode = values.get("dimensions") or (section.modes[leg] if leg is not None else "mould-line")
    return Place(-1 if leg is None else leg, across, across_from, along, along_from, mode)


def by_name(names: Sequence[str | None]) -> dict[str, tuple[int, ...]]:
    """Indices of the legs that have each name."""
    found: dict[str, list[int]] = {}
    for n, name in enumerate(names):
        if name:
            found.setdefault(name, []).append(n)
    return {name: tuple(legs) for name, legs in found.items()}


def leg_of(mark: str | int, section: Section, notes: Notes, path: Path) -> int | None:
    """Index of the leg that is meant, or None after noting why there is none.

    Parameters
    ----------
    mark : str | int
        A name, or a number from 1, [-]
    section : Section
        The legs; without any leg nothing is noted, [-]
    notes : Notes
        Takes the fault, [-]
    path : Path
        Key of the value, [-]

    Returns
    -------
    int | None
        Its index, [-]
    """
    names = section.names
    if not names:
        return None
    if isinstance(mark, int):
        if 1 <= mark <= len(names):
            return mark - 1
        text = f"there is no leg {shown(mark)}: the section has {len(names)}, counted from 1 at the left"
        notes.add(path, "FG023", text, f"give a number from 1 to {len(names)}, or a name")
        return None
    found = section.legs_of.get(mark.strip(), ())
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(str(n + 1) for n in found[:20])
        text = f"{shown(mark)} is the name of legs {numbers}"
        notes.add(path, "FG023", text, f"give the number of the one that is meant, as {found[0] + 1}")
        return None
    known = list(section.legs_of)
    close = difflib.get_close_matches(mark, known, n=1, cutoff=0.6)
    if mark.strip().isdecimal():
        remedy = "a number is written without quotes"
    elif close:
        remedy = f"did you mean {shown(close[0])}?"
    else:
        remedy = f"no leg has a name: give a number from 1 to {len(names)}"
        if known:
            remedy = f"give one of {', '.join(shown(n) for n in known[:20])}, or a number"
    notes.add(path, "FG023", f"no leg is called {shown(mark)}", remedy)
    return None


def several_legs(marks: Sequence[str | int], section: Section, notes: Notes, path: Path) -> list[int]:
    found: list[int] = []
    before = len(notes.faults)
    for place, mark in enumerate(marks[: bounds.MOST_LEGS]):
        if len(notes.faults) - before >= MOST_LEGS_TOLD:
            break
        leg = leg_of(mark, section, notes, (*path, place))
        if leg is not None and leg in found:
            notes.add((*path, place), "FG023", f"leg {leg + 1} is named twice", "name every leg once")
        elif leg is not None:
            found.append(leg)
    if len(marks) > bounds.MOST_LEGS:
        notes.add(path, "FG023", f"{len(marks)} names are more than {bounds.MOST_LEGS} legs", "name every leg once")
    return found


def read_name(values: Mapping[str, Any], notes: Notes, path: Path) -> str | None:
    name = values.get("name")
    if name is None:
        return None
    if not (name.isprintable() and name.strip()):
        notes.add((*path, "name"), "FG023", f"{shown(name)} is not printable on one line", "use plain words")
    return str(name).strip()


def signed(raw: Any, unit: Unit | None, notes: Notes, path: Path) -> float:
    found = length(notes, path, raw, unit, (-bounds.LARGEST_SIZE, bounds.LARGEST_SIZE), signed=True)
    return found.value + 0.0 if found else 0.0  # no minus before a zero


def read_size(raw: Any, unit: Unit | None, notes: Notes, path: Path) -> float | None:
    found = length(notes, path, raw, unit, (bounds.LEAST_OPENING, bounds.LARGEST_SIZE))
    return found.value if found else None


def read_sizes(values: Mapping[str, Any], unit: Unit | None, notes: Notes, path: Path) -> tuple[float, float, float]:
    """Size across, size along, corner radius; both sizes are the diameter where there is one."""
    wide, high, diameter = (read_size(values.get(k), unit, notes, (*path, k)) for k in (*SIZES, "diameter"))
    limits = (0.0, bounds.LARGEST_SIZE)
    corner = length(notes, (*path, "corner_radius"), values.get("corner_radius"), unit, limits)
    radius = corner.value if corner else 0.0
    if 0 < radius < bounds.LEAST_EDGE:
        text = f"{radius:g} mm is less than {bounds.LEAST_EDGE:g} mm, the least that is drawn"
        notes.add((*path, "corner_radius"), "FG012", text, "make it larger, or leave it out for sharp corners")
    return (wide or diameter or 0.0, high or diameter or 0.0, radius)


def check_round(what: str, slot: bool, wide: float, high: float, corner: float, notes: Notes, path: Path) -> None:
    """Shapes that are in truth round, and corners that leave no side, or next to none."""
    least = bounds.LEAST_EDGE
    half = min(wide, high) / 2
    said = in_mm_and_inch(corner, thickness=True)
    if slot or (corner and abs(corner - half) <= bounds.EDGE):
        if abs(wide - high) < least:
            text = f"{what} of {wide:g} x {high:g} mm" + ("" if slot else f" with corners of {said}") + " is round"
            notes.add((*path, "size_across"), "FG012", text, 'write "round" and its diameter, or two different sizes')
    elif corner > half:
        text = f"{said} is more than half of the smaller size, {in_mm_and_inch(half, thickness=True)}"
        notes.add((*path, "corner_radius"), "FG012", text, "make it smaller, or the sizes larger")
    elif corner and half - corner < least / 2:
        text = f"{said} leaves a straight side of less than {least:g} mm between two corners"
        notes.add((*path, "corner_radius"), "FG012", text, f"make it {half:g} mm, or a little smaller")


def read_row(raw: Any, start: str, unit: Unit | None, notes: Notes, path: Path) -> Row | None:
    if raw is None:
        return None
    before = len(notes.faults)
    values = shape(RowShape, raw, notes, path)
    count = values.get("count")
    limits = (bounds.LEAST_SIZE, bounds.LARGEST_SIZE)
    pitch = length(notes, (*path, "pitch"), values.get("pitch"), unit, limits)
    last = length(notes, (*path, "last"), values.get("last"), unit, (0.0, bounds.LARGEST_SIZE))
    if count is not None and not 1 <= count <= bounds.MOST_OPENINGS:
        text = f"{shown(count)} is not from 1 to {bounds.MOST_OPENINGS}, the most openings of one part"
        notes.add((*path, "count"), "FG026", text, "count all of the row, the first with them")
    given = [key for key, value in (("count", count), ("pitch", pitch), ("last", last)) if value is not None]
    if len(notes.faults) == before:
        _check_fixed(given, count, start, notes, path)
    if len(notes.faults) > before:
        return None
    return Row(count, pitch.value if pitch else None, last.value if last else None)


def _check_fixed(given: Sequence[str], count: int | None, start: str, notes: Notes, path: Path) -> None:
    """Whether the keys given fix a row, and no more than fix it."""
    ways = "give count and pitch, or count and last, or pitch and last"
    if start == "middle" and "last" in given:
        text = "a row that is placed from the middle has no last one to measure to"
        notes.add((*path, "last"), "FG026", text, "give count and pitch, or place it from an end")
    elif len(given) == 3:
        notes.add(path, "FG026", "count, pitch and last are one too many: two of them fix the third", ways)
    elif count == 1 and "last" in given:
        notes.add((*path, "last"), "FG026", "a row of one has no last one", "leave last out, or give a larger count")
    elif len(given) < 2 and count != 1:
        told = f"{given[0]} alone does" if given else "an empty table does"
        notes.add(path, "FG026", f"{told} not fix a row", ways)
