"""The keys of a definition, what kind of value each takes, and the remedy for a value that does not fit.

Lengths and angles stay as written here (text or number); :mod:`flatgen.definition.reader` resolves them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator
from pydantic_core import PydanticCustomError

from flatgen.definition.toml.document import LONGEST_TITLE
from flatgen.definition.toml.shape import ClosedShape, KeyHelp, Name, Quantity, Title
from flatgen.metal.allowance import METHODS

DIMENSIONS = ("mould-line", "inside", "overall", "inside-overall")


def _ratio(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PydanticCustomError("written", "a plain number such as 0.42")
    return min(max(float(value), -1e9), 1e9) if abs(value) < 1e300 else 1e9


def dimension_mode(value: Any) -> str:
    """One of ``DIMENSIONS``, however it is spelled."""
    mode = value.strip().lower().replace("mold", "mould").replace(" ", "-") if isinstance(value, str) else None
    if mode not in DIMENSIONS:
        raise PydanticCustomError("written", "one of " + ", ".join(f'"{d}"' for d in DIMENSIONS))
    return mode


def _leg(value: Any) -> str | int:
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise PydanticCustomError("written", "the name of a leg, or its number from 1")
    return value


def _legs(value: Any) -> list[str | int] | str:
    if value == "all":
        return "all"
    if not isinstance(value, list) or any(isinstance(v, bool) or not isinstance(v, str | int) for v in value):
        raise PydanticCustomError("written", 'a list of legs, or "all"')
    return value


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise PydanticCustomError("written", "a whole number")
    return value


Ratio = Annotated[Any, PlainValidator(_ratio)]
Mode = Annotated[Any, PlainValidator(dimension_mode)]
LegMark = Annotated[Any, PlainValidator(_leg)]
LegMarks = Annotated[Any, PlainValidator(_legs)]
Whole = Annotated[Any, PlainValidator(_whole)]


class _AllowanceShape(ClosedShape):
    """Inside radius and allowance of one bend or of the part."""

    inside_radius: Quantity = None
    k: Ratio = None
    method: str | None = None
    allowance: Quantity = None
    deduction: Quantity = None
    deduction_to: Mode = None


class PartShape(_AllowanceShape):
    """Top of the file."""

    title: Title = ""
    metal: str
    thickness: Quantity
    length: Quantity
    dimensions: Mode = "mould-line"
    units: Literal["mm", "in"] | None = None
    section: Annotated[list[Any], Field(min_length=1)]
    order: list[str] | None = None
    opening: Any = None
    cut: Any = None
    rules: Any = None
    drawing: Any = None


class DrawingShape(ClosedShape):
    """``[drawing]``: what the title block of the shop sheet says."""

    owner: Title = ""
    number: Title = ""
    revision: Title = ""
    date: Title = ""
    creator: Title = ""
    grain: Literal["along", "across"] | None = None


class LegShape(ClosedShape):
    """``{ leg = "18 mm", name = "lip", dimensions = "inside" }``."""

    leg: Quantity
    name: Name | None = None
    dimensions: Mode = None
    reference: bool = False


class BendShape(_AllowanceShape):
    """``{ bend = 90, way = "up", ... }``."""

    bend: Quantity
    way: Literal["up", "down"]
    label: str | None = None
    hold: LegMark = None


class _PlaceShape(ClosedShape):
    """Where an opening or a cut is."""

    leg: LegMark
    across: Quantity = None
    across_from: Literal["left", "right", "middle"] | None = None
    along: Quantity = None
    along_from: Literal["bottom", "top", "middle"] | None = None
    dimensions: Mode = None
    name: Name | None = None
    turn: Quantity = None
    diameter: Quantity = None
    size_across: Quantity = None
    size_along: Quantity = None
    corner_radius: Quantity = None


class OpeningShape(_PlaceShape):
    """``[[opening]]``."""

    shape: Literal["round", "slot", "rectangle"]
    through: LegMarks = None
    rivet: bool = False
    row_across: dict[str, Any] | None = None
    row_along: dict[str, Any] | None = None


class RowShape(ClosedShape):
    """``{ count = 5, pitch = "40 mm" }``."""

    count: Whole = None
    pitch: Quantity = None
    last: Quantity = None


class CutShape(_PlaceShape):
    """``[[cut]]``."""

    tool: Literal["plane", "round", "box"]
    above: Quantity = None
    tilt: Quantity = None
    axis: Literal["normal", "across", "along"] | None = None
    size_above: Quantity = None
    remove: Literal["top", "bottom", "left", "right"] | None = None
    legs: LegMarks = None


_REMEDIES = {
    "metal": 'write its name in quotes, as metal = "6061-T6"; "flatgen metals" lists those known',
    "dimensions": "choose one of them, or leave it out",
    "deduction_to": "choose one of them, or leave it out for the part's own dimensions",
    "units": 'choose "mm" or "in", or leave it out and give every length its unit',
    "title": f"write up to {LONGEST_TITLE} printable characters",
    **dict.fromkeys(
        ("owner", "number", "revision", "date", "creator"), f"write up to {LONGEST_TITLE} printable characters"
    ),
    "grain": 'write "along" or "across": how the sheet was rolled, seen from the bends, or leave it out',
    "name": "write 1 to 60 printable characters",
    "k": "write it without quotes, as k = 0.42",
    "order": 'write the labels of all bends, as order = ["B", "A"]',
    "thickness": 'add for example thickness = "1.5 mm"',
    "length": 'add for example length = "640 mm", the size along the bends',
    "section": 'write section = [ { leg = "18 mm" }, ... ]: leg, bend, leg, from left to right',
    "way": 'add way = "up" or way = "down": walking the section from left to right, up turns left',
    "method": "known are " + ", ".join(METHODS),
    "leg": 'write leg = "web", the name of a leg, or its number from the left, leg = 2',
    "shape": 'write shape = "round", "slot" or "rectangle"',
    "tool": 'write tool = "plane", "round" or "box"',
    "across": 'write for example across = "30 mm", from the left limit of the leg',
    "along": 'write for example along = "25 mm", from the bottom end of the part',
    "across_from": 'write "left", "right" or "middle"',
    "along_from": 'write "bottom", "top" or "middle"',
    "through": 'write through = ["web", 3], names or numbers of further legs, or through = "all"',
    "legs": 'write legs = ["web", 3], names or numbers of legs, or leave it out for all',
    "reference": "write reference = true on the leg whose dimension matters, or leave it out",
    "hold": 'write hold = "web", the name of the leg that lies under the clamp bar, or its number from the left',
    "rivet": "write rivet = true or rivet = false",
    "row_across": 'write row_across = { count = 5, pitch = "40 mm" }',
    "row_along": 'write row_along = { count = 5, pitch = "40 mm" }',
    "count": "write a whole number without quotes, as count = 5",
    "axis": 'write "normal", "across" or "along"',
    "remove": 'write remove = "top", "bottom", "left" or "right": the side to take away',
}
_SYNONYMS_OF_CUTS = {
    "width": "size_across",
    "height": "size_along",
    "dia": "diameter",
    "radius": "corner_radius",
    "type": "shape",
    "kind": "shape",
    "angle": "turn",
    "rotation": "turn",
    "side": "remove",
    "keep": "remove",
    "spacing": "pitch",
    "number": "count",
    "x": "across",
    "y": "along",
    "z": "above",
}
_SYNONYMS = {
    "hole": "opening",
    "holes": "opening",
    "openings": "opening",
    "cuts": "cut",
    "rule": "rules",
    "material": "metal",
    "alloy": "metal",
    "radius": "inside_radius",
    "gauge": "thickness",
    "direction": "way",
    "angle": "bend",
    "sequence": "order",
    "legs": "section",
    "k_factor": "k",
    "setback": "deduction",
    "mold_line": "dimensions",
}


WORDS = KeyHelp(
    _REMEDIES,
    (_SYNONYMS, _SYNONYMS_OF_CUTS),
    "see the file that flatgen start writes",
    {"k": _ratio, "dimensions": dimension_mode, "deduction_to": dimension_mode},
)
