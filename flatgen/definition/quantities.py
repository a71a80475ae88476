"""Lengths, angles, metals and gauges of a definition, read within their bounds; each fault is noted at its key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flatgen.core.units import GaugeLookup, Length, NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition import limits as bounds
from flatgen.definition.toml.document import FaultNotes, KeyPath
from flatgen.metal.allowance import NotUsable
from flatgen.metal.figures import gauge_thickness
from flatgen.metal.metals import Metal, find_metal


def read_length(
    values: Mapping[str, Any],
    key: str,
    unit: Unit | None,
    limits: tuple[float, float],
    notes: FaultNotes,
    path: KeyPath = (),
    *,
    gauge: GaugeLookup | None = None,
    thin: bool = False,
    signed: bool = False,
) -> Length | None:
    """The length at a key of the table at ``path``, or None where there is none or after noting why not.

    :param limits: least and largest value [mm]
    :param thin: messages give three decimals, as for a thickness
    """
    raw, path = values.get(key), (*path, key)
    if raw is None:
        return None
    try:
        size = parse_length(raw, default_unit=unit, gauge=gauge, signed=signed)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return None
    least, largest = limits
    if size.value < least - bounds.EDGE or size.value > largest + bounds.EDGE:
        low = size.value < least
        limit = in_mm_and_inch(least if low else largest, thickness=thin or low)
        text = in_mm_and_inch(size.value, thickness=thin or low)
        rule = f"less than {limit}, the least" if low else f"more than {limit}, the most"
        notes.add(path, "FG012", f"{text} is {rule} that is drawn", "check the number and its unit")
        return None
    return size


def read_angle(notes: FaultNotes, path: KeyPath, raw: Any) -> float | None:
    """A bend angle within bounds [deg], or None after noting why not; None stays None."""
    if raw is None:
        return None
    try:
        degrees = parse_angle(raw)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return None
    if bounds.LEAST_ANGLE <= degrees < bounds.LARGEST_ANGLE:
        return degrees
    if degrees == bounds.LARGEST_ANGLE:
        remedy = "a hem (180) is not drawn from a definition yet: end the section with the leg before it"
    elif 0 <= degrees < bounds.LEAST_ANGLE:
        remedy = "make the two legs one, or give the angle that the metal is turned through"
    else:
        remedy = "give the angle that the metal is turned through: a square corner is 90"
    text = f"{degrees:g} deg is not from {bounds.LEAST_ANGLE:g} to below {bounds.LARGEST_ANGLE:g}"
    notes.add(path, "FG013", text, remedy)
    return None


def read_turn(notes: FaultNotes, path: KeyPath, raw: Any, most: float) -> float:
    """A turn or a tilt, at most ``most`` either way [deg]; 0 where none is written or after noting what is wrong."""
    if raw is None:
        return 0.0
    try:
        degrees = parse_angle(raw, signed=True)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return 0.0
    if abs(degrees) <= most:
        return degrees + 0.0  # no minus before a zero
    notes.add(path, "FG013", f"{degrees:g} deg is not from -{most:g} to {most:g}", "give degrees in these limits")
    return 0.0


def read_metal(text: str | None, metals: Mapping[str, Metal], notes: FaultNotes) -> Metal | None:
    """The metal of this name, or None after noting that there is none."""
    if text is None:
        return None
    try:
        return find_metal(dict(metals), text)
    except NotUsable as error:
        notes.add(("metal",), "FG030", error.text, error.remedy)
        return None


def gauge_look_up(metal: Metal | None) -> GaugeLookup:
    """Look-up of gauge numbers in a system by name, or in that of the metal."""

    def look_up(system: str | None, number: int) -> tuple[float, str]:
        name = system or (metal.gauge_system if metal else None)
        if name is None:
            whose = f"{metal.name} has no gauge system" if metal else "the metal is not known, nor its gauge system"
            raise NotALength("FG014", f"{number} ga says nothing: {whose}", "give the thickness in mm or in")
        try:
            return gauge_thickness(name, number), name
        except NotUsable as error:
            raise NotALength("FG014", error.text, error.remedy or "give the thickness in mm or in") from None

    return look_up
