"""A table of a TOML file held to its shape: values that fit are kept, each that does not becomes a fault.

Lengths and angles stay as written (text or number). Errors of the validator end in this module.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError
from pydantic_core import PydanticCustomError

from flatgen.definition.toml.document import LONGEST_TITLE, MOST_FAULTS, FaultNotes, KeyPath


def _written(value: Any) -> str | int | float:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise PydanticCustomError("written", 'a number, or a text such as "23 mm"')
    return value


def title_text(value: Any) -> str:
    """A text short enough for a title block, printable on one line."""
    if not isinstance(value, str) or len(value) > LONGEST_TITLE or not value.isprintable():
        raise PydanticCustomError("written", f"a text of up to {LONGEST_TITLE} printable characters")
    return value


Quantity = Annotated[Any, PlainValidator(_written)]
"""A length or an angle as it stands in the file."""
Title = Annotated[Any, PlainValidator(title_text)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class ClosedShape(BaseModel):
    """A table that takes no other keys, and values without conversion."""

    model_config = ConfigDict(extra="forbid", strict=True)


@dataclass(frozen=True)
class KeyHelp:
    """What messages on a kind of file say of its keys: a remedy for each, synonyms, where to look.

    ``fitted``: what becomes of a good value beside bad ones, where it is not left as it stands.
    """

    remedies: Mapping[str, str]
    synonyms: Sequence[Mapping[str, str]]
    see: str
    fitted: Mapping[str, Callable[[Any], Any]] = field(default_factory=dict)


def fit_shape(
    model: type[BaseModel], data: dict[str, Any], notes: FaultNotes, path: KeyPath, words: KeyHelp
) -> dict[str, Any]:
    """Values by key that fit the shape, with its defaults; the others become faults and are named in "ill".

    :param path: where ``data`` stands in the file
    """
    try:
        return dict(model.model_validate(data))
    except ValidationError as error:
        wrong = error.errors(include_url=False)
    for entry in wrong[:MOST_FAULTS]:
        _note(entry, list(model.model_fields), notes, path, words)
    if len(wrong) > MOST_FAULTS:
        text = f"{len(wrong) - MOST_FAULTS} more keys or values of this table cannot be used"
        notes.add((*path, *wrong[MOST_FAULTS]["loc"]), "FG003", text, "mend those told first")
    bad = {entry["loc"][0] for entry in wrong}
    kept = {key: value for key, value in data.items() if key not in bad}
    defaults = {k: f.get_default() for k, f in model.model_fields.items() if k not in bad and not f.is_required()}
    fitted = {k: v if v is None or k not in words.fitted else words.fitted[k](v) for k, v in kept.items()}
    return defaults | fitted | {"ill": bad}


def _note(entry: Any, known: list[str], notes: FaultNotes, path: KeyPath, words: KeyHelp) -> None:
    loc, kind = tuple(entry["loc"]), entry["type"]
    key = str(loc[0])
    if kind == "extra_forbidden":
        near = next((s[key.lower()] for s in words.synonyms if s.get(key.lower()) in known), None)
        close = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.5)
        best = near or (close[0] if close else None)
        remedy = f'did you mean "{best}"?' if best else f"known here are {', '.join(known)}"
        notes.add((*path, key), "FG003", "unknown key", remedy)
    elif kind == "missing":
        notes.add((*path, key), "FG004", "this key is missing", words.remedies.get(key, ""))
    else:
        notes.add((*path, *loc), "FG005", _kind_text(entry), words.remedies.get(key, words.see))


def _kind_text(entry: Any) -> str:
    given = entry["input"]
    message = str(entry["msg"])
    if entry["type"] == "written":
        return f"{quoted_value(given)} is not {message}"
    for head in ("Input should be ", "List should have ", "String should have "):
        if message.startswith(head):
            verb = "is not" if head.startswith("Input") else "should have"
            return f"{quoted_value(given)} {verb} {message[len(head) :]}"
    return f"{quoted_value(given)}: {message[:1].lower()}{message[1:]}"


def quoted_value(value: Any) -> str:
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
