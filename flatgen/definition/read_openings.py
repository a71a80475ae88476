"""Openings, cuts and rules of a definition as written: each key read, and whether keys fit the shape or the tool.

A reader of a key notes its fault and gives a stand-in; an opening or a cut with faults is left out.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.opening_rules import OpeningRules, default_rules, read_rules
from flatgen.core.units import Unit, in_mm_and_inch
from flatgen.definition import limits as bounds
from flatgen.definition.bends import Head
from flatgen.definition.model import Cut, Leg, Opening, Place, Shape, Side, Tool, ToolAxis
from flatgen.definition.quantities import read_length, read_turn
from flatgen.definition.shapes import WORDS, CutShape, OpeningShape, RowShape
from flatgen.definition.toml.document import MOST_FAULTS, FaultNotes, KeyPath
from flatgen.definition.toml.shape import fit_shape, quoted_value
from flatgen.metal.allowance import Dimensions

SIZES = ("size_across", "size_along")
MOST_LEG_FAULTS = 5
SIDEWAYS = 1e-6
"""A plane whose normal has no more than this toward a side has no such side."""


@dataclass(frozen=True)
class Row:
    """Two of the three: ``count``, ``pitch`` [mm], and the place of the ``last`` from the other end [mm]."""

    count: int | None
    pitch: float | None
    last: float | None


@dataclass(frozen=True)
class NamedLegs:
    """The legs as openings refer to them: name and dimensions of each, and the indices that have each name."""

    names: tuple[str | None, ...]
    modes: tuple[Dimensions, ...]
    unit: Unit | None
    by_name: Mapping[str, Sequence[int]]


@dataclass(frozen=True)
class KeySet:
    """A shape or tool in words, and which keys it needs and may have."""

    text: str
    needs: tuple[str, ...]
    may: tuple[str, ...]


@dataclass(frozen=True)
class OpeningDraft:
    """An ``[[opening]]``: the first of its row (or, from the middle, their middle), and its rows."""

    opening: Opening
    across: Row | None
    along: Row | None


@dataclass(frozen=True)
class Cutouts:
    """All that a definition takes out of its part."""

    drafts: tuple[OpeningDraft, ...]
    cuts: tuple[Cut, ...]
    rules: OpeningRules


_SHAPES: dict[Shape, KeySet] = {
    "round": KeySet("a round opening", ("diameter",), ()),
    "slot": KeySet("a slot", SIZES, ("turn",)),
    "rectangle": KeySet("a rectangle", SIZES, ("corner_radius", "turn")),
}

_TOOLS: dict[Tool, KeySet] = {
    "plane": KeySet("a plane", ("remove",), ("above", "turn", "tilt")),
    "round": KeySet("a round tool", ("diameter",), ("axis", "above", "turn", "tilt")),
    "box": KeySet("a box", SIZES, ("size_above", "corner_radius", "above", "turn")),
}


def read_cutouts(legs: Sequence[Leg], head: Head, notes: FaultNotes) -> Cutouts:
    """Read ``[[opening]]``, ``[[cut]]`` and ``[rules]``; those with faults are left out."""
    part = head.values
    items = part.get("section") or []
    raw = [item for item in items if isinstance(item, dict) and "leg" in item] if isinstance(items, list) else []
    names = tuple(n.strip() if isinstance(n := item.get("name"), str) else None for item in raw)
    whole = len(legs) == len(names)
    modes = tuple(legs[i].dimensions if whole else head.dimensions for i in range(len(names)))
    by_name: dict[str, list[int]] = {}
    for n, name in enumerate(names):
        if name:
            by_name.setdefault(name, []).append(n)
    section = NamedLegs(names, modes, head.unit, by_name)
    drafts = [_opening(n, t, section, notes) for n, t in _tables(part, "opening", bounds.MOST_OPENINGS, notes)]
    cuts = [_cut(n, t, section, notes) for n, t in _tables(part, "cut", bounds.MOST_CUTS, notes)]
    good = tuple(c for c in cuts if c is not None)
    _check_cuts_differ(good, notes)
    return Cutouts(tuple(d for d in drafts if d is not None), good, _rules(part, head.unit, notes))


def _tables(part: Mapping[str, Any], key: str, most: int, notes: FaultNotes) -> Iterator[tuple[int, dict[str, Any]]]:
    """The tables with their places, until there are too many faults."""
    raw = part.get(key)
    remedy = f"write [[{key}]] with double brackets on a line of its own, once for each, and its keys below"
    if raw is None:
        return
    if not isinstance(raw, list):
        text = f"[{key}] is a single table" if isinstance(raw, dict) else f"{quoted_value(raw)} is no list of tables"
        notes.add((key,), "FG005", text, remedy)
        return
    if len(raw) > most:
        notes.add((key,), "FG026", f"{len(raw)} [[{key}]] are more than {most}, the most of one part", "split the part")
        return
    before = len(notes.faults)
    for place, item in enumerate(raw):
        if len(notes.faults) - before >= MOST_FAULTS:
            text = f"this and what follows of [[{key}]] was not looked at, for the faults before it"
            notes.add((key, place), "FG005", text, "mend those first")
            return
        if isinstance(item, dict):
            yield place, item
        else:
            notes.add((key, place), "FG005", f"{quoted_value(item)} is no table", remedy)


def _rules(part: Mapping[str, Any], unit: Unit | None, notes: FaultNotes) -> OpeningRules:
    raw = part.get("rules")
    if raw is None:
        return default_rules()
    if not isinstance(raw, dict):
        notes.add(
            ("rules",), "FG005", f"{quoted_value(raw)} is no table of rules", "write [rules] and its keys below it"
        )
        return default_rules()
    rules, faults = read_rules(raw, unit)
    for key, code, text, remedy in faults:
        notes.add(("rules", key), code, text, remedy)
    return rules


def _opening(entry: int, table: dict[str, Any], section: NamedLegs, notes: FaultNotes) -> OpeningDraft | None:
    path: KeyPath = ("opening", entry)
    before = len(notes.faults)
    values = fit_shape(OpeningShape, table, notes, path, WORDS)
    kind: Shape | None = values.get("shape")
    _check_keys(values, _SHAPES.get(kind) if kind else None, _SHAPES.values(), notes, path)
    place = _read_place(values, section, notes, path, ())
    wide, high, corner = _read_sizes(values, section.unit, notes, path)
    turn = read_turn(notes, (*path, "turn"), values.get("turn"), bounds.LARGEST_TURN)
    if kind != "round" and values.get("rivet"):
        notes.add((*path, "rivet"), "FG003", f"{_SHAPES[kind].text if kind else 'this'} takes no rivet", "leave it out")
    through = _through_legs(values.get("through"), place.leg, section, notes, path)
    across = _read_row(values.get("row_across"), place.across_from, section.unit, notes, (*path, "row_across"))
    along = _read_row(values.get("row_along"), place.along_from, section.unit, notes, (*path, "row_along"))
    name = read_name(values, notes, path)
    if len(notes.faults) > before or kind is None:
        return None
    _check_round(_SHAPES[kind].text, kind == "slot", wide, high, corner, notes, path)
    least = math.prod(row.count or 1 for row in (across, along) if row)
    if least > bounds.MOST_OPENINGS:
        text = f"the two rows make {least} openings, more than {bounds.MOST_OPENINGS}, the most of one part"
        notes.add(path, "FG026", text, "give smaller counts, or split the part")
    if len(notes.faults) > before:
        return None
    where, rivet = notes.where(path), bool(values.get("rivet"))
    whole = values.get("through") == "all"
    opening = Opening(place, kind, wide, high, corner, turn, through, rivet, name, entry, 0, where, whole)
    return OpeningDraft(opening, across, along)


def _cut(entry: int, table: dict[str, Any], section: NamedLegs, notes: FaultNotes) -> Cut | None:
    path: KeyPath = ("cut", entry)
    before = len(notes.faults)
    values = fit_shape(CutShape, table, notes, path, WORDS)
    kind: Tool | None = values.get("tool")
    _check_keys(values, _TOOLS.get(kind) if kind else None, _TOOLS.values(), notes, path)
    turn = read_turn(notes, (*path, "turn"), values.get("turn"), bounds.LARGEST_TURN)
    tilt = read_turn(notes, (*path, "tilt"), values.get("tilt"), bounds.LARGEST_TILT)
    place = _read_place(values, section, notes, path, _needless(values, turn, tilt))
    wide, high, corner = _read_sizes(values, section.unit, notes, path)
    above = _read_signed(values, "above", section.unit, notes, path)
    tall = _read_size(values, "size_above", section.unit, notes, path)
    legs = _cut_legs(values.get("legs"), section, notes, path)
    name = read_name(values, notes, path)
    if len(notes.faults) > before or kind is None:
        return None
    axis: ToolAxis = values.get("axis") or "normal"
    remove: Side = values.get("remove") or "top"
    if kind == "plane":
        _check_side(remove, turn, notes, path)
    elif kind == "box":
        _check_round("a box", False, wide, high, corner, notes, path)
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


def _check_cuts_differ(cuts: Sequence[Cut], notes: FaultNotes) -> None:
    alike: dict[Cut, Cut] = {}
    for cut in cuts:
        first = alike.setdefault(replace(cut, name=None, entry=0, where=""), cut)
        if first is not cut:
            notes.add(("cut", cut.entry), "FG025", f"is cut[{first.entry}] once more", "leave one of the two out")


def _check_side(remove: str, turn: float, notes: FaultNotes, path: KeyPath) -> None:
    toward = math.sin(math.radians(turn)) if remove in ("left", "right") else math.cos(math.radians(turn))
    if abs(toward) > SIDEWAYS:
        return
    sides = '"top" or "bottom"' if remove in ("left", "right") else '"left" or "right"'
    lies = "across" if remove in ("left", "right") else "along"
    text = f'a plane with turn = {turn:g} lies straight {lies} the leg and has no "{remove}" side'
    notes.add((*path, "remove"), "FG025", text, f"remove {sides}, or turn the plane")


def _through_legs(marks: Any, own: int, section: NamedLegs, notes: FaultNotes, path: KeyPath) -> tuple[int, ...]:
    if marks is None:
        return ()
    if marks == "all":
        return tuple(n for n in range(len(section.names)) if n != own)
    legs = _find_legs(marks, section, notes, (*path, "through"))
    if own in legs:
        text = f"leg {own + 1} is the leg that the opening is placed on"
        notes.add((*path, "through"), "FG023", text, "name further legs only")
    return tuple(legs)


def _cut_legs(marks: Any, section: NamedLegs, notes: FaultNotes, path: KeyPath) -> tuple[int, ...] | None:
    if marks is None or marks == "all":
        return None
    if not marks:
        notes.add((*path, "legs"), "FG023", "a cut of no legs takes nothing away", "name legs, or leave it out for all")
    return tuple(_find_legs(marks, section, notes, (*path, "legs")))


def _check_keys(values: Mapping[str, Any], fit: KeySet | None, fits: Any, notes: FaultNotes, path: KeyPath) -> None:
    """Note keys that the shape or tool has no use for, and those that it lacks."""
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


def _read_place(
    values: Mapping[str, Any], section: NamedLegs, notes: FaultNotes, path: KeyPath, needless: tuple[str, ...]
) -> Place:
    mark = values.get("leg")
    leg = None if mark is None else _find_leg(mark, section, notes, (*path, "leg"))
    place: list[Any] = []
    for key, start in (("across", "left"), ("along", "bottom")):
        origin = values.get(f"{key}_from") or start
        raw = values.get(key)
        if raw is None and key in needless:
            origin = "middle"
        elif raw is None and origin != "middle" and not {key, f"{key}_from"} & set(values.get("ill", ())):
            example = "30 mm" if key == "across" else "25 mm"
            remedy = f'write for example {key} = "{example}", or {key}_from = "middle"'
            notes.add((*path, key), "FG004", f"this key is missing: it is the distance from the {origin}", remedy)
        place += [_read_signed(values, key, section.unit, notes, path), origin]
    mode = values.get("dimensions") or (section.modes[leg] if leg is not None else "mould-line")
    across, across_from, along, along_from = place
    return Place(-1 if leg is None else leg, across, across_from, along, along_from, mode)


def _find_leg(mark: str | int, section: NamedLegs, notes: FaultNotes, path: KeyPath) -> int | None:
    """Index of a leg by its name or number from 1, or None after noting why; without any leg nothing is noted."""
    names = section.names
    if not names:
        return None
    if isinstance(mark, int):
        if 1 <= mark <= len(names):
            return mark - 1
        text = f"there is no leg {quoted_value(mark)}: the section has {len(names)}, counted from 1 at the left"
        notes.add(path, "FG023", text, f"give a number from 1 to {len(names)}, or a name")
        return None
    matches = section.by_name.get(mark.strip(), ())
    if len(matches) == 1:
        return matches[0]
    if matches:
        numbers = ", ".join(str(n + 1) for n in matches[:20])
        text = f"{quoted_value(mark)} is the name of legs {numbers}"
        notes.add(path, "FG023", text, f"give the number of the one that is meant, as {matches[0] + 1}")
        return None
    known = list(section.by_name)
    close = difflib.get_close_matches(mark, known, n=1, cutoff=0.6)
    if mark.strip().isdecimal():
        remedy = "a number is written without quotes"
    elif close:
        remedy = f"did you mean {quoted_value(close[0])}?"
    else:
        remedy = f"no leg has a name: give a number from 1 to {len(names)}"
        if known:
            remedy = f"give one of {', '.join(quoted_value(n) for n in known[:20])}, or a number"
    notes.add(path, "FG023", f"no leg is called {quoted_value(mark)}", remedy)
    return None


def _find_legs(marks: Sequence[str | int], section: NamedLegs, notes: FaultNotes, path: KeyPath) -> list[int]:
    legs: list[int] = []
    before = len(notes.faults)
    for place, mark in enumerate(marks[: bounds.MOST_LEGS]):
        if len(notes.faults) - before >= MOST_LEG_FAULTS:
            break
        leg = _find_leg(mark, section, notes, (*path, place))
        if leg is not None and leg in legs:
            notes.add((*path, place), "FG023", f"leg {leg + 1} is named twice", "name every leg once")
        elif leg is not None:
            legs.append(leg)
    if len(marks) > bounds.MOST_LEGS:
        notes.add(path, "FG023", f"{len(marks)} names are more than {bounds.MOST_LEGS} legs", "name every leg once")
    return legs


def read_name(values: Mapping[str, Any], notes: FaultNotes, path: KeyPath) -> str | None:
    """The name in a table, or None; a fault is noted where it is not printable."""
    name = values.get("name")
    if name is None:
        return None
    if not (name.isprintable() and name.strip()):
        notes.add((*path, "name"), "FG023", f"{quoted_value(name)} is not printable on one line", "use plain words")
    return str(name).strip()


def _read_signed(values: Mapping[str, Any], key: str, unit: Unit | None, notes: FaultNotes, path: KeyPath) -> float:
    size = read_length(values, key, unit, bounds.SIGNED_SIZES, notes, path, signed=True)
    return size.value + 0.0 if size else 0.0  # no minus before a zero


def _read_size(
    values: Mapping[str, Any], key: str, unit: Unit | None, notes: FaultNotes, path: KeyPath
) -> float | None:
    size = read_length(values, key, unit, (bounds.LEAST_OPENING, bounds.LARGEST_SIZE), notes, path)
    return size.value if size else None


def _read_sizes(
    values: Mapping[str, Any], unit: Unit | None, notes: FaultNotes, path: KeyPath
) -> tuple[float, float, float]:
    """Size across, size along, corner radius; both sizes are the diameter where there is one."""
    wide, high, diameter = (_read_size(values, k, unit, notes, path) for k in (*SIZES, "diameter"))
    corner = read_length(values, "corner_radius", unit, (0.0, bounds.LARGEST_SIZE), notes, path)
    radius = corner.value if corner else 0.0
    if 0 < radius < bounds.LEAST_EDGE:
        text = f"{radius:g} mm is less than {bounds.LEAST_EDGE:g} mm, the least that is drawn"
        notes.add((*path, "corner_radius"), "FG012", text, "make it larger, or leave it out for sharp corners")
    return (wide or diameter or 0.0, high or diameter or 0.0, radius)


def _check_round(
    what: str, slot: bool, wide: float, high: float, corner: float, notes: FaultNotes, path: KeyPath
) -> None:
    """Note shapes that are round, and corners that leave no side, or next to none."""
    least = bounds.LEAST_EDGE
    half = min(wide, high) / 2
    radius = in_mm_and_inch(corner, thickness=True)
    if slot or (corner and abs(corner - half) <= bounds.EDGE):
        if abs(wide - high) < least:
            text = f"{what} of {wide:g} x {high:g} mm" + ("" if slot else f" with corners of {radius}") + " is round"
            notes.add((*path, "size_across"), "FG012", text, 'write "round" and its diameter, or two different sizes')
    elif corner > half:
        text = f"{radius} is more than half of the smaller size, {in_mm_and_inch(half, thickness=True)}"
        notes.add((*path, "corner_radius"), "FG012", text, "make it smaller, or the sizes larger")
    elif corner and half - corner < least / 2:
        text = f"{radius} leaves a straight side of less than {least:g} mm between two corners"
        notes.add((*path, "corner_radius"), "FG012", text, f"make it {half:g} mm, or a little smaller")


def _read_row(raw: Any, start: str, unit: Unit | None, notes: FaultNotes, path: KeyPath) -> Row | None:
    if raw is None:
        return None
    before = len(notes.faults)
    values = fit_shape(RowShape, raw, notes, path, WORDS)
    count = values.get("count")
    pitch = read_length(values, "pitch", unit, bounds.SIZES, notes, path)
    last = read_length(values, "last", unit, (0.0, bounds.LARGEST_SIZE), notes, path)
    if count is not None and not 1 <= count <= bounds.MOST_OPENINGS:
        text = f"{quoted_value(count)} is not from 1 to {bounds.MOST_OPENINGS}, the most openings of one part"
        notes.add((*path, "count"), "FG026", text, "count all of the row, the first with them")
    given = [key for key, value in (("count", count), ("pitch", pitch), ("last", last)) if value is not None]
    if len(notes.faults) == before:
        _check_fixed(given, count, start, notes, path)
    if len(notes.faults) > before:
        return None
    return Row(count, pitch.value if pitch else None, last.value if last else None)


def _check_fixed(given: Sequence[str], count: int | None, start: str, notes: FaultNotes, path: KeyPath) -> None:
    """Note keys that do not fix a row, or more than fix it."""
    ways = "give count and pitch, or count and last, or pitch and last"
    if start == "middle" and "last" in given:
        text = "a row that is placed from the middle has no last one to measure to"
        notes.add((*path, "last"), "FG026", text, "give count and pitch, or place it from an end")
    elif len(given) == 3:
        notes.add(path, "FG026", "count, pitch and last are one too many: two of them fix the third", ways)
    elif count == 1 and "last" in given:
        notes.add((*path, "last"), "FG026", "a row of one has no last one", "leave last out, or give a larger count")
    elif len(given) < 2 and count != 1:
        keys = f"{given[0]} alone does" if given else "an empty table does"
        notes.add(path, "FG026", f"{keys} not fix a row", ways)
