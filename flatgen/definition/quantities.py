"""Values of a definition, resolved: lengths, angles and metals with their bounds; each fault at its key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flatgen.core.units import Gauge, Length, NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition import limits as bounds
from flatgen.definition.toml.document import Notes, Path
from flatgen.metal.allowance import NotUsable
from flatgen.metal.figures import gauge_thickness
from flatgen.metal.metals import Metal, find_metal


def length(
    notes: Notes,
    path: Path,
    raw: Any,
    unit: Unit | None,
    limits: tuple[float, float],
    *,
    gauge: Gauge | None = None,
    thin: bool = False,
    signed: bool = False,
) -> Length | None:
    """A length within its limits [mm], or None after noting why not; None stays None.

    :param limits: least and largest value [mm]
    :param thin: tell numbers with three decimals, as for a thickness
    """
    if raw is None:
        return None
    try:
        found = parse_length(raw, default_unit=unit, gauge=gauge, signed=signed)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return None
    least, largest = limits
    if found.value < least - bounds.EDGE or found.value > largest + bounds.EDGE:
        low = found.value < least
        limit = in_mm_and_inch(least if low else largest, thickness=thin or low)
        told = in_mm_and_inch(found.value, thickness=thin or low)
        rule = f"less than {limit}, the least" if low else f"more than {limit}, the most"
        notes.add(path, "FG012", f"{told} is {rule} that is drawn", "check the number and its unit")
        return None
    return found


def angle(notes: Notes, path: Path, raw: Any) -> float | None:
    """A bend angle within bounds [deg], or None after noting why not; None stays None.

    :returns: the angle [deg]
    """
    if raw is None:
        return None
    try:
        found = parse_angle(raw)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return None
    if bounds.LEAST_ANGLE <= found < bounds.LARGEST_ANGLE:
        return found
    if found == bounds.LARGEST_ANGLE:
        remedy = "a hem (180) is not drawn from a definition yet: end the section with the leg before it"
    elif 0 <= found < bounds.LEAST_ANGLE:
        remedy = "make the two legs one, or give the angle that the metal is turned through"
    else:
        remedy = "give the angle that the metal is turned through: a square corner is 90"
    text = f"{found:g} deg is not from {bounds.LEAST_ANGLE:g} to below {bounds.LARGEST_ANGLE:g}"
    notes.add(path, "FG013", text, remedy)
    return None


def turning(notes: Notes, path: Path, raw: Any, most: float) -> float:
    """A turn or a tilt, either way [deg]; 0 where none is written, and after noting what is wrong.

    :param most: the largest, either way [deg]
    :returns: the angle [deg]
    """
    if raw is None:
        return 0.0
    try:
        found = parse_angle(raw, signed=True)
    except NotALength as error:
        notes.add(path, error.code, error.text, error.remedy)
        return 0.0
    if abs(found) <= most:
        return found + 0.0  # no minus before a zero
    notes.add(path, "FG013", f"{found:g} deg is not from -{most:g} to {most:g}", "give degrees in these limits")
    return 0.0


def metal_named(text: str | None, metals: Mapping[str, Metal], notes: Notes) -> Metal | None:
    """The metal of this name, or None after noting that there is none."""
    if text is None:
        return None
    try:
        return find_metal(dict(metals), text)
    except NotUsable as error:
        notes.add(("metal",), "FG030", error.text, error.remedy)
        return None


def gauge_of(metal: Metal | None) -> Gauge:
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
