"""The shape of a definition: which keys there are and what kind of value each takes.

Lengths and angles stay as written here (text or number); :mod:`flatgen.definition.reader` resolves them.
``shape`` keeps the values that fit and notes a fault for each that does not, so that one slip does not
hide the next. Foreign errors of the validator end in this module.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError
from pydantic_core import PydanticCustomError

from flatgen.definition.limits import LONGEST_TITLE, MOST_TOLD
from flatgen.definition.toml.document import Notes
from flatgen.definition.toml.lines import Path
from flatgen.metal.allowance import METHODS

Written: TypeAlias = str | int | float
"""A length or an angle as it stands in the file."""


def _written(value: Any) -> Written:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise PydanticCustomError("written", 'a number, or a text such as "23 mm"')
    return value


def _ratio(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PydanticCustomError("written", "a plain number such as 0.42")
    return min(max(float(value), -1e9), 1e9) if abs(value) < 1e300 else 1e9


def _dimensions(value: Any) -> str:
    spoken = value.strip().lower().replace("mold", "mould").replace(" ", "-") if isinstance(value, str) else None
    if spoken not in DIMENSIONS:
        raise PydanticCustomError("written", "one of " + ", ".join(f'"{d}"' for d in DIMENSIONS))
    return spoken


def title_text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_TITLE or not value.isprintable():
        raise PydanticCustomError("written", f"a text of up to {LONGEST_TITLE} printable characters")
    return value


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


DIMENSIONS = ("mould-line", "inside", "overall", "inside-overall")

Quantity = Annotated[Any, PlainValidator(_written)]
Ratio = Annotated[Any, PlainValidator(_ratio)]
Mode = Annotated[Any, PlainValidator(_dimensions)]
LegMark = Annotated[Any, PlainValidator(_leg)]
LegMarks = Annotated[Any, PlainValidator(_legs)]
Whole = Annotated[Any, PlainValidator(_whole)]
Title = Annotated[Any, PlainValidator(title_text)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _Uses(_Shape):
    """How the metal that a bend uses is found; for one bend or for the part."""

    inside_radius: Quantity = None
    k: Ratio = None
    method: str | None = None
    allowance: Quantity = None
    deduction: Quantity = None
    deduction_to: Mode = None


class PartShape(_Uses):
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


class DrawingShape(_Shape):
    """``[drawing]``: what the title block of the shop sheet says."""

    owner: Title = ""
    number: Title = ""
    revision: Title = ""
    date: Title = ""
    creator: Title = ""
    grain: Literal["along", "across"] | None = None


class LegShape(_Shape):
    """``{ leg = "18 mm", name = "lip", dimensions = "inside" }``"""

    leg: Quantity
    name: Name | None = None
    dimensions: Mode = None
    reference: bool = False


class BendShape(_Uses):
    """``{ bend = 90, way = "up", ... }``"""

    bend: Quantity
    way: Literal["up", "down"]
    label: str | None = None
    hold: LegMark = None


class _PlaceShape(_Shape):
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
    """``[[opening]]``"""

    shape: Literal["round", "slot", "rectangle"]
    through: LegMarks = None
    rivet: bool = False
    row_across: dict[str, Any] | None = None
    row_along: dict[str, Any] | None = None


class RowShape(_Shape):
    """``{ count = 5, pitch = "40 mm" }``"""

    count: Whole = None
    pitch: Quantity = None
    last: Quantity = None


class CutShape(_PlaceShape):
    """``[[cut]]``"""

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
_SPOKEN_OF_CUTS = {
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
_SPOKEN = {
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


@dataclass(frozen=True)
class Words:
    """What a kind of file says of its keys: a remedy for each, keys that are called so elsewhere, where to look."""

    remedies: Mapping[str, str]
    spoken: Sequence[Mapping[str, str]]
    see: str


_OF_A_PROFILE = Words(_REMEDIES, (_SPOKEN, _SPOKEN_OF_CUTS), "see the file that flatgen start writes")


def shape(
    model: type[BaseModel], data: dict[str, Any], notes: Notes, path: Path = (), words: Words = _OF_A_PROFILE
) -> dict[str, Any]:
    """Values that fit the shape, with its defaults; the others become faults.

    Parameters
    ----------
    model : type[BaseModel]
        The shape, [-]
    data : dict[str, Any]
        Values as read, [-]
    notes : Notes
        Takes the faults, [-]
    path : Path
        Where ``data`` stands in the file, [-]
    words : Words
        Remedies of this kind of file, [-]

    Returns
    -------
    dict[str, Any]
        Key to value; a key whose value does not fit is left out and named in "ill", [-]
    """
    try:
        return dict(model.model_validate(data))
    except ValidationError as error:
        wrong = error.errors(include_url=False)
    for entry in wrong[:MOST_TOLD]:
        _note(entry, list(model.model_fields), notes, path, words)
    if len(wrong) > MOST_TOLD:
        text = f"{len(wrong) - MOST_TOLD} more keys or values of this table cannot be used"
        notes.add((*path, *wrong[MOST_TOLD]["loc"]), "FG003", text, "mend those told first")
    bad = {entry["loc"][0] for entry in wrong}
    kept = {key: value for key, value in data.items() if key not in bad}
    defaults = {k: f.get_default() for k, f in model.model_fields.items() if k not in bad and not f.is_required()}
    fitted = {k: _coerced(k, v) for k, v in kept.items()}
    return defaults | fitted | {"ill": bad}


def _coerced(key: str, value: Any) -> Any:
    """A good value beside bad ones, as its own field would have it."""
    if value is not None and key in ("dimensions", "deduction_to"):
        return _dimensions(value)
    return _ratio(value) if key == "k" else value


def _note(entry: Any, known: list[str], notes: Notes, path: Path, words: Words) -> None:
    loc, kind = tuple(entry["loc"]), entry["type"]
    key = str(loc[0])
    if kind == "extra_forbidden":
        near = next((s[key.lower()] for s in words.spoken if s.get(key.lower()) in known), None)
        close = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.5)
        best = near or (close[0] if close else None)
        all_keys = ", ".join(known)
        remedy = f'did you mean "{best}"?' if best else f"known here are {all_keys}"
        notes.add((*path, key), "FG003", "unknown key", remedy)
    elif kind == "missing":
        notes.add((*path, key), "FG004", "this key is missing", words.remedies.get(key, ""))
    else:
        notes.add(
            (*path, *loc),
            "FG005",
            _kind_text(entry),
            words.remedies.get(key, words.see),
        )


def _kind_text(entry: Any) -> str:
    given = entry["input"]
    message = str(entry["msg"])
    if entry["type"] == "written":
        return f"{shown(given)} is not {message}"
    for head in ("Input should be ", "List should have ", "String should have "):
        if message.startswith(head):
            verb = "is not" if head.startswith("Input") else "should have"
            return f"{shown(given)} {verb} {message[len(head) :]}"
    return f"{shown(given)}: {message[:1].lower()}{message[1:]}"


def shown(value: Any) -> str:
    """A value as TOML would write it, short.

    Parameters
    ----------
    value : Any
        Any value of a TOML file, [-]

    Returns
    -------
    str
        One short line, [-]
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    if isinstance(value, int) and abs(value) > 10**12:
        return "a very large number"
    text = "".join(c if c.isprintable() else "?" for c in str(value))
    text = text if len(text) <= 40 else text[:39] + "…"
    return f'"{text}"' if isinstance(value, str) else text
