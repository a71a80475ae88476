"""Openings, cuts and rules of a definition as they are written: every key judged, rows not yet expanded.

What needs the leg's size (rows up to a last place, openings off their leg) follows in
:mod:`flatgen.definition.place_openings`. All counts are bounded here, before anything is made of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.opening_rules import Rules, default_rules, rules_of
from flatgen.core.units import Unit
from flatgen.definition import limits as bounds
from flatgen.definition.bends import Head
from flatgen.definition.cutouts import Cut, Opening, Shape, Side, Tool, ToolAxis
from flatgen.definition.model import Leg
from flatgen.definition.quantities import turning
from flatgen.definition.read_places import (
    SIZES,
    Fit,
    Row,
    Section,
    by_name,
    check_fit,
    check_round,
    read_name,
    read_place,
    read_row,
    read_size,
    read_sizes,
    several_legs,
    signed,
)
from flatgen.definition.shapes import CutShape, OpeningShape, shape, shown
from flatgen.definition.toml.document import Notes
from flatgen.definition.toml.lines import Path

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

    Parameters
    ----------
    part : Mapping[str, Any]
        Values of the file, [-]
    legs : Sequence[Leg]
        The legs that could be read, [-]
    head : Head
        Values of the part, [-]
    notes : Notes
        Takes the faults, [-]

    Returns
    -------
    Taken
        Those that are good, lengths in [mm] and angles in [deg]
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
        if len(notes.faults) - before >= bounds.MOST_TOLD:
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
    values = shape(OpeningShape, table, notes, path)
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
    values = shape(CutShape, table, notes, path)
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
