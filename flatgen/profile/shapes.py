"""The shape of a definition: which keys there are and what kind of value each takes.

Lengths and angles stay as written here (text or number); :mod:`flatgen.profile.reader` resolves them.
``shape`` keeps the values that fit and notes a fault for each that does not, so that one slip does not
hide the next. Foreign errors of the validator end in this module.
"""

from __future__ import annotations

import difflib
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError
from pydantic_core import PydanticCustomError

from flatgen.metal.allowance import METHODS
from flatgen.profile.bounds import LONGEST_TITLE
from flatgen.profile.lines import Path
from flatgen.profile.source import Notes

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


def _title(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_TITLE or not value.isprintable():
        raise PydanticCustomError("written", f"a text of up to {LONGEST_TITLE} printable characters")
    return value


DIMENSIONS = ("mould-line", "inside", "overall", "inside-overall")

Quantity = Annotated[Any, PlainValidator(_written)]
Ratio = Annotated[Any, PlainValidator(_ratio)]
Mode = Annotated[Any, PlainValidator(_dimensions)]


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

    title: Annotated[Any, PlainValidator(_title)] = ""
    metal: str
    thickness: Quantity
    length: Quantity
    dimensions: Mode = "mould-line"
    units: Literal["mm", "in"] | None = None
    section: Annotated[list[Any], Field(min_length=1)]
    order: list[str] | None = None


class LegShape(_Shape):
    """``{ leg = "18 mm", name = "lip", dimensions = "inside" }``"""

    leg: Quantity
    name: Annotated[str, Field(min_length=1, max_length=60)] | None = None
    dimensions: Mode = None


class BendShape(_Uses):
    """``{ bend = 90, way = "up", ... }``"""

    bend: Quantity
    way: Literal["up", "down"]
    label: str | None = None


_REMEDIES = {
    "metal": 'write its name in quotes, as metal = "6061-T6"; "flatgen metals" lists those known',
    "dimensions": "choose one of them, or leave it out for mould-line",
    "deduction_to": "choose one of them, or leave it out for the part's own dimensions",
    "units": 'choose "mm" or "in", or leave it out and give every length its unit',
    "title": f"write up to {LONGEST_TITLE} printable characters",
    "name": "write 1 to 60 printable characters",
    "k": "write it without quotes, as k = 0.42",
    "order": 'write the labels of all bends, as order = ["B", "A"]',
    "thickness": 'add for example thickness = "1.5 mm"',
    "length": 'add for example length = "640 mm", the size along the bends',
    "section": 'write section = [ { leg = "18 mm" }, ... ]: leg, bend, leg, from left to right',
    "way": 'add way = "up" or way = "down": walking the section from left to right, up turns left',
    "method": "known are " + ", ".join(METHODS),
}
_SPOKEN = {
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


def shape(model: type[BaseModel], data: dict[str, Any], notes: Notes, path: Path = ()) -> dict[str, Any]:
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

    Returns
    -------
    dict[str, Any]
        Key to value; a key whose value does not fit is left out and named in "ill", [-]
    """
    try:
        return dict(model.model_validate(data))
    except ValidationError as error:
        wrong = error.errors(include_url=False)
    for entry in wrong:
        _note(entry, list(model.model_fields), notes, path)
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


def _note(entry: Any, known: list[str], notes: Notes, path: Path) -> None:
    loc, kind = tuple(entry["loc"]), entry["type"]
    key = str(loc[0])
    if kind == "extra_forbidden":
        near = _SPOKEN.get(key.lower()) if _SPOKEN.get(key.lower()) in known else None
        close = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.5)
        best = near or (close[0] if close else None)
        all_keys = ", ".join(known)
        remedy = f'did you mean "{best}"?' if best else f"known here are {all_keys}"
        notes.add((*path, key), "FG003", "unknown key", remedy)
    elif kind == "missing":
        notes.add((*path, key), "FG004", "this key is missing", _REMEDIES.get(key, ""))
    else:
        notes.add(
            (*path, *loc),
            "FG005",
            _kind_text(entry),
            _REMEDIES.get(key, "see the file that flatgen start writes"),
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
