"""The shape of a definition: which keys there are and what kind of value each takes.

Lengths and angles stay as written here (text or number); :mod:`flatgen.definition.reader` resolves them.
``shape`` keeps the values that fit and notes a fault for each that does not, so that one slip does not
hide the next. Foreign errors of the validator end in this module.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError
from pydantic_core import PydanticCustomError

from flatgen.definition.toml.document import LONGEST_TITLE, MOST_TOLD, Notes, Path

Written: TypeAlias = str | int | float
"""A length or an angle as it stands in the file."""


def _written(value: Any) -> Written:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise PydanticCustomError("written", 'a number, or a text such as "23 mm"')
    return value


def title_text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_TITLE or not value.isprintable():
        raise PydanticCustomError("written", f"a text of up to {LONGEST_TITLE} printable characters")
    return value


Quantity = Annotated[Any, PlainValidator(_written)]

Title = Annotated[Any, PlainValidator(title_text)]

Name = Annotated[str, Field(min_length=1, max_length=60)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


@dataclass(frozen=True)
class Words:
    """What a kind of file says of its keys: a remedy for each, keys that are called so elsewhere, where to look;

    ``fitted``: what becomes of a good value beside bad ones, where it is not left as it stands.
    """

    remedies: Mapping[str, str]
    spoken: Sequence[Mapping[str, str]]
    see: str
    fitted: Mapping[str, Callable[[Any], Any]] = field(default_factory=dict)


def shape(model: type[BaseModel], data: dict[str, Any], notes: Notes, path: Path, words: Words) -> dict[str, Any]:
    """Values that fit the shape, with its defaults; the others become faults.

    :param path: where ``data`` stands in the file
    :returns: key to value; a key whose value does not fit is left out and named in "ill"
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
    fitted = {k: v if v is None or k not in words.fitted else words.fitted[k](v) for k, v in kept.items()}
    return defaults | fitted | {"ill": bad}


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
    """A value as TOML would write it, short."""
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
