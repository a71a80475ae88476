"""One line of the log: a strip as measured, or the withdrawal of one, as JSON with a digest over what it says.

strip        {"digest": ..., "strip": {...}}: fields of a :class:`StripReading`, less those at their usual value
withdrawal   {"digest": ..., "withdraw": digest of a strip, "why": text}

The digest is over the content without the note, so that a word added to a note does not make another strip of it.
Foreign errors of the JSON reader end in this module.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, get_args, get_origin, get_type_hints

from flatgen.strips.form import LIMITS, limit_name
from flatgen.strips.reading import StripReading

LONGEST_LINE = 200_000
"""Bytes; a strip of a hundred bends has about thirty thousand."""
LONGEST_TEXT = 2_000
DIGITS = 16
"""Hexadecimal digits of a digest."""
_OUTSIDE = ("note",)


class Damaged(ValueError):
    """A line that cannot be used; the text says why."""


@dataclass(frozen=True)
class Withdrawal:
    """Takes the strip with the digest ``of`` out of what is learned from; ``why`` in the words of who did it."""

    of: str
    why: str


def digest_of(reading: StripReading) -> str:
    """Digest of a strip as the log keeps it.

    :returns: sixteen hexadecimal digits, the same for a strip that differs in its note alone
    """
    return _digest("strip", _plain(reading))


def line_of(content: StripReading | Withdrawal) -> bytes:
    """A line of the log, with the end of line.

    :returns: UTF-8
    :raises ValueError: If a number is not finite, or a text cannot be written as UTF-8
    """
    if isinstance(content, StripReading):
        body: dict[str, Any] = {"strip": _plain(content)}
        digest = _digest("strip", body["strip"])
    else:
        body = {"withdraw": content.of, "why": content.why}
        digest = _digest("withdraw", body)
    text = json.dumps({"digest": digest, **body}, ensure_ascii=False, allow_nan=False)
    return text.encode() + b"\n"


def read_line(line: bytes) -> tuple[str, StripReading | Withdrawal]:
    """What a line of the log says.

    :returns: its digest and its content [mm]
    :raises Damaged: If it cannot be used
    """
    data = _json(line)
    if not isinstance(data, dict):
        raise Damaged("it is no JSON object")
    kind = "strip" if set(data) == {"digest", "strip"} else "withdraw"
    if kind == "withdraw" and set(data) != {"digest", "withdraw", "why"}:
        raise Damaged("it is neither a strip nor a withdrawal")
    said = data["strip"] if kind == "strip" else {key: data[key] for key in ("withdraw", "why")}
    if kind == "strip" and not isinstance(said, dict):
        raise Damaged('"strip" is no JSON object')
    digest = _digest(kind, said)
    if data["digest"] != digest:
        raise Damaged(f"its digest does not fit what it says, whose digest is {digest}: something in it was changed")
    if kind == "strip":
        return digest, _made(StripReading, said, "strip")
    return digest, Withdrawal(_text(said["withdraw"], "withdraw"), _text(said["why"], "why"))


def _json(line: bytes) -> Any:
    if len(line) > LONGEST_LINE:
        raise Damaged(f"it has {len(line)} bytes, more than {LONGEST_LINE}")
    try:
        return json.loads(line.decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError:
        raise Damaged("it is not UTF-8 text") from None
    except RecursionError:
        raise Damaged("its brackets are nested too deeply") from None
    except json.JSONDecodeError as error:
        raise Damaged(f"it is no JSON ({error.msg.lower()}, column {error.colno})") from None
    except ValueError as error:
        raise Damaged(f"it is no JSON ({str(error)[:80].lower()})") from None


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _digest(kind: str, said: dict[str, Any]) -> str:
    kept = {key: value for key, value in said.items() if key not in _OUTSIDE}
    try:
        text = json.dumps([kind, kept], sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    except RecursionError:
        raise Damaged("its brackets are nested too deeply") from None
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:DIGITS]


def _plain(value: Any) -> Any:
    """A dataclass as plain data; fields at their default, and those without a value, are left out."""
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if is_dataclass(value):
        found = {f.name: getattr(value, f.name) for f in fields(value)}
        usual = {f.name: f.default for f in fields(value)}
        return {k: _plain(v) for k, v in found.items() if v is not None and (v != usual[k] or usual[k] is MISSING)}
    if isinstance(value, (int, float)):
        return float(value) + 0.0
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _made(kind: Any, said: Any, where: str) -> Any:
    """A dataclass from plain data, each field of its own type and within its limits."""
    if not isinstance(said, dict):
        raise Damaged(f"{where} is no JSON object")
    known = {f.name: f for f in fields(kind)}
    strange = sorted(set(said) - set(known))
    if strange:
        raise Damaged(f"{where} has the unknown key {strange[0][:40]!r}: was it written by a newer version?")
    values: dict[str, Any] = {}
    for name, field in known.items():
        hint = _hints(kind)[name]
        if name in said:
            values[name] = _value(hint, said[name], f"{where}.{name}", limit_name(kind, name))
        elif NoneType in get_args(hint):
            values[name] = None
        elif field.default is MISSING:
            raise Damaged(f"{where}.{name} is missing")
    try:
        return kind(**values)
    except ValueError as error:
        raise Damaged(str(error)) from None


def _value(hint: Any, said: Any, where: str, limits: str) -> Any:
    options = [h for h in get_args(hint) if h is not NoneType] if isinstance(hint, UnionType) else []
    if options:
        return _value(options[0], said, where, limits)
    if get_origin(hint) is tuple:
        if not isinstance(said, list):
            raise Damaged(f"{where} is no list")
        return tuple(_made(get_args(hint)[0], v, f"{where}[{n}]") for n, v in enumerate(said))
    if get_origin(hint) is Literal:
        if said not in get_args(hint):
            raise Damaged(f"{where} is not one of {', '.join(get_args(hint))}")
        return said
    return _number(said, where, limits) if hint is float else _text(said, where)


def _number(said: Any, where: str, name: str) -> float:
    if isinstance(said, bool) or not isinstance(said, (int, float)):
        raise Damaged(f"{where} is no number")
    least, most = LIMITS[name]
    if not (math.isfinite(said) and least <= said <= most):
        raise Damaged(f"{where} is not from {least:g} to {most:g}")
    return float(said)


def _text(said: Any, where: str) -> str:
    if not isinstance(said, str) or len(said) > LONGEST_TEXT:
        raise Damaged(f"{where} is no text of up to {LONGEST_TEXT} characters")
    return said
