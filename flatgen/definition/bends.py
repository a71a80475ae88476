"""The bends of a definition: their labels, and for each the way to find its allowance.

The nearest of k, allowance, deduction or method counts: that of the bend, else of the head of the file, else of the
metal.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from flatgen.core.flat_pattern import bend_letters
from flatgen.core.units import Unit
from flatgen.definition import limits as bounds
from flatgen.definition.part import AllowanceSource, BendSpec, leg_number
from flatgen.definition.quantities import read_angle, read_length
from flatgen.definition.toml.document import FaultNotes, KeyPath
from flatgen.definition.toml.shape import quoted_value
from flatgen.metal.allowance import (
    Dimensions,
    GivenAllowance,
    GivenDeduction,
    GivenK,
    Method,
    NotUsable,
    StripAllowance,
    method_named,
    setback,
)
from flatgen.metal.metals import Metal

ALLOWANCE_KEYS = ("k", "allowance", "deduction", "method")
MEASURED = "measured"
"""Written in place of an allowance's length: the allowance is taken from test strips."""
NOT_MEASURED_TEXT = (
    'bend {label}: allowance = "measured", and no strip has told of a bend of this metal, thickness and radius'
)
NOT_MEASURED_REMEDY = (
    "bend a strip of the part and learn it, with a shop file beside the part; until then leave allowance out, which "
    "takes the metal's own way, or give k, deduction or method"
)


@dataclass(frozen=True)
class Head:
    """Head of a definition, as far as it could be read; sizes [mm]. ``values``: all keys of the file as written.

    ``radii``: inside radii by label, in place of those of the file. ``known``: allowances from strips by label; None
    where no strips were looked up.
    """

    metal: Metal | None
    thickness: float | None
    thickness_note: str
    length: float | None
    inside_radius: float | None
    dimensions: Dimensions
    unit: Unit | None
    values: dict[str, Any]
    radii: Mapping[str, float] = field(default_factory=dict)
    known: Mapping[str, StripAllowance] | None = None


@dataclass(frozen=True)
class _FromStrips:
    """The allowance is written as "measured"."""


@dataclass(frozen=True)
class _BendDraft:
    """A bend without its allowance."""

    path: KeyPath
    label: str
    angle: float
    way: Any
    inside_radius: float
    values: dict[str, Any]
    hold: int | None


def bend_specs(raw: list[tuple[int, dict[str, Any]]], head: Head, notes: FaultNotes) -> list[BendSpec | None]:
    """Bends along the section, None for each that has a fault.

    :param raw: place in the section and values of each bend
    """
    labels = _labels(raw, notes)
    drafts = [_draft(place, values, label, head, notes) for (place, values), label in zip(raw, labels, strict=True)]
    _check_radius_given(raw, labels, head.values, notes)
    default = _method_of(head.values, (), head, notes)
    _check_part_wide(drafts, head.values, notes)
    _check_unused(raw, head.values, notes)
    return [_spec(draft, i, default, head, notes) for i, draft in enumerate(drafts)]


def _labels(raw: list[tuple[int, dict[str, Any]]], notes: FaultNotes) -> list[str]:
    labels: list[str] = []
    for index, (place, values) in enumerate(raw):
        given = values.get("label")
        path = ("section", place, "label") if given is not None else ("section", place)
        label = bend_letters(index) if given is None else given
        if not (1 <= len(label) <= bounds.LONGEST_LABEL and label.isprintable() and label == label.strip() != ""):
            text = f"{quoted_value(label)} is not 1 to {bounds.LONGEST_LABEL} printable characters"
            notes.add(path, "FG023", text, "choose a short label, or leave it out for a letter")
        elif label in labels:
            which = "is the label of two bends" if given is not None else "is this bend's letter and another's label"
            notes.add(path, "FG023", f"{quoted_value(label)} {which}", "give every bend a label of its own")
        labels.append(label)
    return labels


def _draft(place: int, values: dict[str, Any], label: str, head: Head, notes: FaultNotes) -> _BendDraft | None:
    path = ("section", place)
    hold = _hold(place, values.get("hold"), label, head.values, notes)
    bent = read_angle(notes, (*path, "bend"), values.get("bend"))
    own = read_length(values, "inside_radius", head.unit, bounds.RADII, notes, path)
    radius = own.value if own else (head.inside_radius if values.get("inside_radius") is None else None)
    if bent is None or radius is None or values.get("way") is None:
        return None
    radius = _re_formed(radius, path, label, values, head, notes)
    arc = math.radians(bent) * radius
    if arc < bounds.LEAST_ARC:
        text = (
            f"{bent:g} deg at an inside radius of {radius:g} mm is an arc of {arc:.2g} mm, under {bounds.LEAST_ARC:g}"
        )
        notes.add((*path, "bend"), "FG013", text, "give a larger inside radius or angle")
        return None
    return _BendDraft(path, label, bent, values["way"], radius, values, hold)


def _re_formed(
    radius: float, path: KeyPath, label: str, values: dict[str, Any], head: Head, notes: FaultNotes
) -> float:
    """The radius in place of that of the file; an allowance or deduction given for that one no longer holds."""
    if label not in head.radii:
        return radius
    level = values if any(values.get(k) is not None for k in ALLOWANCE_KEYS) else head.values
    key = next((k for k in ("allowance", "deduction") if level.get(k) is not None), None)
    if key is not None and not _is_measured(level[key]):
        text = (
            f"bend {label}: the {key} given is for an inside radius of {radius:g} mm, and the brake forms "
            f"{head.radii[label]:.3f} mm"
        )
        remedy = f"give the {key} of a strip bent to that radius together with inside_radius, or leave it out"
        notes.add((*path, key) if level is values else (key,), "FG024", text, remedy)
    return head.radii[label]


def _hold(place: int, mark: str | int | None, label: str, part: dict[str, Any], notes: FaultNotes) -> int | None:
    """Index of the leg to be held, one of the two beside the bend in the section."""
    section = part.get("section") or []
    beside = [n for n in (place - 1, place + 1) if 0 <= n < len(section)]
    names = {n // 2: item.get("name") for n in beside if isinstance(item := section[n], dict) and "leg" in item}
    if mark is None or len(names) < 2:
        return None  # a bend without its two legs is told elsewhere
    path = ("section", place, "hold")
    plain = {leg: name.strip() for leg, name in names.items() if isinstance(name, str) and name.strip()}
    if isinstance(mark, int):
        matches = [leg for leg in names if leg == mark - 1]
    else:
        matches = [leg for leg, name in plain.items() if name == mark.strip()]
    if len(matches) == 1:
        return matches[0]
    ways = " or ".join(
        f"hold = {leg + 1}" if matches or leg not in plain else f"hold = {quoted_value(plain[leg])}" for leg in names
    )
    if matches:
        notes.add(path, "FG023", f"{quoted_value(mark)} is the name of both legs of bend {label}", f"write {ways}")
        return None
    legs = " and ".join(leg_number(leg) + (f" {quoted_value(plain[leg])}" if leg in plain else "") for leg in names)
    text = f"bend {label} joins {legs}, and {quoted_value(mark)} is neither"
    notes.add(path, "FG023", text, f"write {ways}: the leg that lies under the clamp bar")
    return None


def _check_radius_given(
    raw: list[tuple[int, dict[str, Any]]], labels: list[str], part: dict[str, Any], notes: FaultNotes
) -> None:
    """The head's radius may be left out only where every bend has its own."""
    lacking = [
        label
        for (_, values), label in zip(raw, labels, strict=True)
        if values.get("inside_radius") is None and "inside_radius" not in values.get("ill", ())
    ]
    if part.get("inside_radius") is not None or "inside_radius" in part.get("ill", ()) or not lacking:
        return
    listed = ", ".join(lacking[:10]) + (", ..." if len(lacking) > 10 else "")
    text = f"this key is missing, and has no value of its own at {listed}"
    notes.add(("inside_radius",), "FG004", text, 'add for example inside_radius = "3 mm" at the head of the file')


def _method_of(values: dict[str, Any], path: KeyPath, head: Head, notes: FaultNotes) -> Method | _FromStrips | None:
    """The way to find an allowance that this level gives, or None."""
    given = [key for key in ALLOWANCE_KEYS if values.get(key) is not None]
    if len(given) > 1:
        text = f"{' and '.join(given)} are given for the same bend" if path else f"{' and '.join(given)} are both given"
        notes.add((*path, given[1]), "FG024", text, "keep one of them")
        return None
    if not given:
        return None
    key, value = given[0], values[given[0]]
    if key == "k":
        if 0 <= value <= 1:
            return GivenK(float(value))
        text = f"K = {value:g} is not between 0 and 1, so the neutral fibre is outside the sheet"
        notes.add((*path, key), "FG024", text, "K is a share of the thickness, measured from the inside face")
        return None
    if key == "method":
        try:
            return method_named(str(value))
        except NotUsable as error:
            notes.add((*path, key), "FG024", error.text, error.remedy)
            return None
    if key == "allowance" and _is_measured(value):
        return _FromStrips()
    if key == "allowance":
        size = read_length(values, key, head.unit, bounds.SIZES, notes, path)
        return GivenAllowance(size.value) if size else None
    size = read_length(values, key, head.unit, bounds.SIGNED_SIZES, notes, path, signed=True)
    mode: Dimensions = values.get("deduction_to") or head.values.get("deduction_to") or head.dimensions
    return GivenDeduction(size.value, mode) if size else None


def _check_part_wide(drafts: list[_BendDraft | None], part: dict[str, Any], notes: FaultNotes) -> None:
    """One allowance or deduction for the whole part holds only where its bends are alike."""
    key = next((k for k in ("allowance", "deduction") if part.get(k) is not None), None)
    users = [d for d in drafts if d and not any(d.values.get(k) is not None for k in ALLOWANCE_KEYS)]
    if key is None or len(users) < 2 or _is_measured(part[key]):
        return
    first = users[0]
    for other in users[1:]:
        same_angle = abs(other.angle - first.angle) <= bounds.EQUAL
        same_radius = abs(other.inside_radius - first.inside_radius) <= bounds.EQUAL
        if not (same_angle and same_radius):
            text = (
                f"one {key} for bends that differ: {first.label} is {first.angle:g} deg, radius "
                f"{first.inside_radius:g} mm; {other.label} is {other.angle:g} deg, radius "
                f"{other.inside_radius:g} mm"
            )
            notes.add((key,), "FG024", text, f"give {key} at each bend, or k or method for the part")
            return


def _check_unused(raw: list[tuple[int, dict[str, Any]]], part: dict[str, Any], notes: FaultNotes) -> None:
    remedy = "give the deduction too, or leave deduction_to out"
    for place, values in raw:
        if values.get("deduction_to") and values.get("deduction") is None:
            notes.add(("section", place, "deduction_to"), "FG024", "there is no deduction at this bend", remedy)
    used = part.get("deduction") is not None or any(v.get("deduction") is not None for _, v in raw)
    if part.get("deduction_to") and not used:
        notes.add(("deduction_to",), "FG024", "there is no deduction in this file", remedy)


def _spec(
    draft: _BendDraft | None, index: int, default: Method | _FromStrips | None, head: Head, notes: FaultNotes
) -> BendSpec | None:
    if draft is None:
        return None
    faults = len(notes.faults)
    own = _method_of(draft.values, draft.path, head, notes)
    if len(notes.faults) > faults or head.thickness is None or head.metal is None:
        return None
    path = (*draft.path, "bend")
    method, source = _in_force(own or default, draft, head)
    if isinstance(method, _FromStrips):
        notes.add(path, "FG024", NOT_MEASURED_TEXT.format(label=draft.label), NOT_MEASURED_REMEDY)
        return None
    if method is None:
        text = f"no table says how much metal a bend of {head.metal.name} uses"
        notes.add(path, "FG024", text, "bend a test strip, and give k, allowance or deduction")
        return None
    try:
        allowance = method.allowance(draft.angle, draft.inside_radius, head.thickness)
    except NotUsable as error:
        notes.add(path, "FG024", f"bend {draft.label}: {error.text}", error.remedy)
        return None
    if allowance.length < bounds.LEAST_FLAT:
        text = f"bend {draft.label} uses {allowance.length:.2g} mm of metal, less than {bounds.LEAST_FLAT:g} mm"
        notes.add(path, "FG013", text, "make the two legs one, or check angle and radius")
        return None
    mode = method.dimensions if isinstance(method, GivenDeduction) else head.dimensions
    return BendSpec(
        label=draft.label,
        angle=draft.angle,
        way=draft.way,
        inside_radius=draft.inside_radius,
        allowance=allowance,
        deduction=2 * setback(draft.angle, draft.inside_radius, head.thickness, mode) - allowance.length,
        deduction_dimensions=mode,
        first=index,
        second=index + 1,
        where=notes.where(path),
        hold=draft.hold,
        allowance_source=source,
    )


def _in_force(
    given: Method | _FromStrips | None, draft: _BendDraft, head: Head
) -> tuple[Method | _FromStrips | None, AllowanceSource]:
    """The way to find the allowance of a bend; what strips told goes before the metal's own method."""
    if isinstance(given, _FromStrips):
        source: AllowanceSource = "asked"
        if head.known is None:
            return given, source
    elif given is not None:
        return given, "given"
    else:
        source = "metal"
    measured = (head.known or {}).get(draft.label)
    named = head.metal.default_method if head.metal is not None else None
    return measured or (None if named is None else method_named(named)), source


def _is_measured(value: Any) -> bool:
    return isinstance(value, str) and value.strip().casefold() == MEASURED
