"""Keys that openings and cuts share: place, legs, sizes, rows, and whether the keys fit the shape or the tool.

Each reader notes its faults and gives a stand-in; the caller drops what has faults.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.opening_rules import Rules, default_rules, rules_of
from flatgen.core.units import Unit, in_mm_and_inch
from flatgen.definition import limits as bounds
from flatgen.definition.bends import Head
from flatgen.definition.model import Cut, Leg, Opening, Place, Shape, Side, Tool, ToolAxis
from flatgen.definition.quantities import length, turning
from flatgen.definition.shapes import WORDS, CutShape, OpeningShape, RowShape
from flatgen.definition.toml.document import MOST_TOLD, Notes, Path
from flatgen.definition.toml.shape import shape, shown
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

    :param mark: A name, or a number from 1
    :param section: the legs; without any leg nothing is noted
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
    values = shape(RowShape, raw, notes, path, WORDS)
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


SIDEWAYS = 1e-6
"""A plane whose normal has no more than this toward a side has no such side."""


@dataclass(frozen=True)
class Draft:
    """An ``[[opening]]`` as written: the first one (or, from the middle, their middle), and its rows."""

    opening: Opening
    across: Row | None
    along: Row | None


@dataclass(frozen=True)
class Taken:
    """All that a definition takes out of its part."""

    drafts: tuple[Draft, ...]
    cuts: tuple[Cut, ...]
    rules: Rules


_SHAPES: dict[Shape, Fit] = {
    "round": Fit("a round opening", ("diameter",), ()),
    "slot": Fit("a slot", SIZES, ("turn",)),
    "rectangle": Fit("a rectangle", SIZES, ("corner_radius", "turn")),
}

_TOOLS: dict[Tool, Fit] = {
    "plane": Fit("a plane", ("remove",), ("above", "turn", "tilt")),
    "round": Fit("a round tool", ("diameter",), ("axis", "above", "turn", "tilt")),
    "box": Fit("a box", SIZES, ("size_above", "corner_radius", "above", "turn")),
}


def read_cutouts(part: Mapping[str, Any], legs: Sequence[Leg], head: Head, notes: Notes) -> Taken:
    """Read ``[[opening]]``, ``[[cut]]`` and ``[rules]``.

    :returns: those that are good, lengths in [mm] and angles in
    """
    items = part.get("section") or []
    raw = [item for item in items if isinstance(item, dict) and "leg" in item] if isinstance(items, list) else []
    names = tuple(n.strip() if isinstance(n := item.get("name"), str) else None for item in raw)
    whole = len(legs) == len(names)
    modes = tuple(legs[i].dimensions if whole else head.dimensions for i in range(len(names)))
    section = Section(names, modes, head.unit, by_name(names))
    drafts = [_opening(n, t, section, notes) for n, t in _tables(part, "opening", bounds.MOST_OPENINGS, notes)]
    cuts = [_cut(n, t, section, notes) for n, t in _tables(part, "cut", bounds.MOST_CUTS, notes)]
    good = tuple(c for c in cuts if c is not None)
    _no_cut_twice(good, notes)
    return Taken(tuple(d for d in drafts if d is not None), good, _rules(part, head.unit, notes))


def _tables(part: Mapping[str, Any], key: str, most: int, notes: Notes) -> Iterator[tuple[int, dict[str, Any]]]:
    """The tables with their places; ends early where too many faults are found between one and the next."""
    raw = part.get(key)
    remedy = f"write [[{key}]] with double brackets on a line of its own, once for each, and its keys below"
    if raw is None:
        return
    if not isinstance(raw, list):
        text = f"[{key}] is a single table" if isinstance(raw, dict) else f"{shown(raw)} is no list of tables"
        notes.add((key,), "FG005", text, remedy)
        return
    if len(raw) > most:
        notes.add((key,), "FG026", f"{len(raw)} [[{key}]] are more than {most}, the most of one part", "split the part")
        return
    before = len(notes.faults)
    for place, item in enumerate(raw):
        if len(notes.faults) - before >= MOST_TOLD:
            text = f"this and what follows of [[{key}]] was not looked at, for the faults before it"
            notes.add((key, place), "FG005", text, "mend those first")
            return
        if isinstance(item, dict):
            yield place, item
        else:
            notes.add((key, place), "FG005", f"{shown(item)} is no table", remedy)


def _rules(part: Mapping[str, Any], unit: Unit | None, notes: Notes) -> Rules:
    raw = part.get("rules")
    if raw is None:
        return default_rules()
    if not isinstance(raw, dict):
        notes.add(("rules",), "FG005", f"{shown(raw)} is no table of rules", "write [rules] and its keys below it")
        return default_rules()
    rules, faults = rules_of(raw, unit)
    for key, code, text, remedy in faults:
        notes.add(("rules", key), code, text, remedy)
    return rules


def _opening(entry: int, table: dict[str, Any], section: Section, notes: Notes) -> Draft | None:
    path: Path = ("opening", entry)
    before = len(notes.faults)
    values = shape(OpeningShape, table, notes, path, WORDS)
    kind: Shape | None = values.get("shape")
    check_fit(values, _SHAPES.get(kind) if kind else None, _SHAPES.values(), notes, path)
    place = read_place(values, section, notes, path, ())
    wide, high, corner = read_sizes(values, section.unit, notes, path)
    turn = turning(notes, (*path, "turn"), values.get("turn"), bounds.LARGEST_TURN)
    if kind != "round" and values.get("rivet"):
        notes.add((*path, "rivet"), "FG003", f"{_SHAPES[kind].text if kind else 'this'} takes no rivet", "leave it out")
    through = _through(values.get("through"), place.leg, section, notes, path)
    across = read_row(values.get("row_across"), place.across_from, section.unit, notes, (*path, "row_across"))
    along = read_row(values.get("row_along"), place.along_from, section.unit, notes, (*path, "row_along"))
    name = read_name(values, notes, path)
    if len(notes.faults) > before or kind is None:
        return None
    check_round(_SHAPES[kind].text, kind == "slot", wide, high, corner, notes, path)
    least = math.prod(row.count or 1 for row in (across, along) if row)
    if least > bounds.MOST_OPENINGS:
        text = f"the two rows make {least} openings, more than {bounds.MOST_OPENINGS}, the most of one part"
        notes.add(path, "FG026", text, "give smaller counts, or split the part")
    if len(notes.faults) > before:
        return None
    where, rivet = notes.where(path), bool(values.get("rivet"))
    whole = values.get("through") == "all"
    opening = Opening(place, kind, wide, high, corner, turn, through, rivet, name, entry, 0, where, whole)
    return Draft(opening, across, along)


def _cut(entry: int, table: dict[str, Any], section: Section, notes: Notes) -> Cut | None:
    path: Path = ("cut", entry)
    before = len(notes.faults)
    values = shape(CutShape, table, notes, path, WORDS)
    kind: Tool | None = values.get("tool")
    check_fit(values, _TOOLS.get(kind) if kind else None, _TOOLS.values(), notes, path)
    turn = turning(notes, (*path, "turn"), values.get("turn"), bounds.LARGEST_TURN)
    tilt = turning(notes, (*path, "tilt"), values.get("tilt"), bounds.LARGEST_TILT)
    place = read_place(values, section, notes, path, _needless(values, turn, tilt))
    wide, high, corner = read_sizes(values, section.unit, notes, path)
    above = signed(values.get("above"), section.unit, notes, (*path, "above"))
    tall = read_size(values.get("size_above"), section.unit, notes, (*path, "size_above"))
    legs = _only(values.get("legs"), section, notes, path)
    name = read_name(values, notes, path)
    if len(notes.faults) > before or kind is None:
        return None
    axis: ToolAxis = values.get("axis") or "normal"
    remove: Side = values.get("remove") or "top"
    if kind == "plane":
        _check_side(remove, turn, notes, path)
    elif kind == "box":
        check_round("a box", False, wide, high, corner, notes, path)
        if values.get("above") is not None and tall is None:
            text = "a box without size_above is endless, at no height"
            notes.add((*path, "above"), "FG003", text, "give size_above, or leave above out")
    elif axis == "normal" and not tilt and values.get("turn") is not None:
        text = "a round tool that stands square to its leg is the same however it is turned"
        notes.add((*path, "turn"), "FG003", text, "leave it out, or give it a tilt or an axis")
    if len(notes.faults) > before:
        return None
    round_tool = wide if kind == "round" else 0.0
    sizes = (0.0, 0.0) if kind == "round" else (wide, high)
    where = notes.where(path)
    return Cut(place, kind, above, turn, tilt, axis, round_tool, *sizes, tall, corner, remove, legs, name, entry, where)


def _needless(values: Mapping[str, Any], turn: float, tilt: float) -> tuple[str, ...]:
    """Which of across and along does not matter, because the tool runs that way without end."""
    tool, axis = values.get("tool"), values.get("axis")
    if tool is None:
        return ("across", "along")  # not known yet: the tool is at fault, not its place
    if tool == "box" or (tool == "round" and (axis not in ("across", "along") or tilt)):
        return ()
    run = math.radians(turn + (90.0 if tool == "round" and axis == "along" else 0.0))
    if abs(math.sin(run)) < SIDEWAYS:
        return ("across",)
    return ("along",) if abs(math.cos(run)) < SIDEWAYS else ()


def _no_cut_twice(cuts: Sequence[Cut], notes: Notes) -> None:
    seen: dict[Cut, Cut] = {}
    for cut in cuts:
        first = seen.setdefault(replace(cut, name=None, entry=0, where=""), cut)
        if first is not cut:
            notes.add(("cut", cut.entry), "FG025", f"is cut[{first.entry}] once more", "leave one of the two out")


def _check_side(remove: str, turn: float, notes: Notes, path: Path) -> None:
    toward = math.sin(math.radians(turn)) if remove in ("left", "right") else math.cos(math.radians(turn))
    if abs(toward) > SIDEWAYS:
        return
    sides = '"top" or "bottom"' if remove in ("left", "right") else '"left" or "right"'
    lies = "across" if remove in ("left", "right") else "along"
    text = f'a plane with turn = {turn:g} lies straight {lies} the leg and has no "{remove}" side'
    notes.add((*path, "remove"), "FG025", text, f"remove {sides}, or turn the plane")


def _through(marks: Any, own: int, section: Section, notes: Notes, path: Path) -> tuple[int, ...]:
    if marks is None:
        return ()
    if marks == "all":
        return tuple(n for n in range(len(section.names)) if n != own)
    found = several_legs(marks, section, notes, (*path, "through"))
    if own in found:
        text = f"leg {own + 1} is the leg that the opening is placed on"
        notes.add((*path, "through"), "FG023", text, "name further legs only")
    return tuple(found)


def _only(marks: Any, section: Section, notes: Notes, path: Path) -> tuple[int, ...] | None:
    if marks is None or marks == "all":
        return None
    if not marks:
        notes.add((*path, "legs"), "FG023", "a cut of no legs takes nothing away", "name legs, or leave it out for all")
    return tuple(several_legs(marks, section, notes, (*path, "legs")))
