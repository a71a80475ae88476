"""One line of the log: a strip as measured, or the withdrawal of one, as JSON with a digest over its content.

strip        {"digest": ..., "strip": {...}}: fields of a :class:`StripReading`, less those at their usual value
withdrawal   {"digest": ..., "withdraw": digest of a strip, "why": text}

The digest leaves out the note, so that a word added to a note does not make another strip of it.
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


class DamagedLine(ValueError):
    """A line that cannot be used; the text says why."""


@dataclass(frozen=True)
class Withdrawal:
    """Takes the strip with the digest ``of`` out of what is learned from; ``why`` in the words of who did it."""

    of: str
    why: str


def reading_digest(reading: StripReading) -> str:
    """Sixteen hexadecimal digits of a strip, the same for one that differs in its note alone."""
    return _digest("strip", _plain(reading))


def format_line(content: StripReading | Withdrawal) -> bytes:
    """A line of the log in UTF-8, with the end of line.

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
    """Digest and content of a line of the log.

    :raises DamagedLine: If it cannot be used
    """
    data = _json(line)
    if not isinstance(data, dict):
        raise DamagedLine("it is no JSON object")
    kind = "strip" if set(data) == {"digest", "strip"} else "withdraw"
    if kind == "withdraw" and set(data) != {"digest", "withdraw", "why"}:
        raise DamagedLine("it is neither a strip nor a withdrawal")
    body = data["strip"] if kind == "strip" else {key: data[key] for key in ("withdraw", "why")}
    if kind == "strip" and not isinstance(body, dict):
        raise DamagedLine('"strip" is no JSON object')
    digest = _digest(kind, body)
    if data["digest"] != digest:
        raise DamagedLine(
            f"its digest does not fit what it says, whose digest is {digest}: something in it was changed"
        )
    if kind == "strip":
        return digest, _build(StripReading, body, "strip")
    return digest, Withdrawal(_text(body["withdraw"], "withdraw"), _text(body["why"], "why"))


def _json(line: bytes) -> Any:
    if len(line) > LONGEST_LINE:
        raise DamagedLine(f"it has {len(line)} bytes, more than {LONGEST_LINE}")
    try:
        return json.loads(line.decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError:
        raise DamagedLine("it is not UTF-8 text") from None
    except RecursionError:
        raise DamagedLine("its brackets are nested too deeply") from None
    except json.JSONDecodeError as error:
        raise DamagedLine(f"it is no JSON ({error.msg.lower()}, column {error.colno})") from None
    except ValueError as error:
        raise DamagedLine(f"it is no JSON ({str(error)[:80].lower()})") from None


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _digest(kind: str, body: dict[str, Any]) -> str:
    kept = {key: value for key, value in body.items() if key not in _OUTSIDE}
    try:
        text = json.dumps([kind, kept], sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    except RecursionError:
        raise DamagedLine("its brackets are nested too deeply") from None
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:DIGITS]


def _plain(value: Any) -> Any:
    """A dataclass as plain data; fields at their default, and those without a value, are left out."""
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if is_dataclass(value):
        values = ((f, getattr(value, f.name)) for f in fields(value))
        return {f.name: _plain(v) for f, v in values if v is not None and (v != f.default or f.default is MISSING)}
    if isinstance(value, (int, float)):
        return float(value) + 0.0
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _build(kind: Any, raw: Any, where: str) -> Any:
    """A dataclass from plain data, each field of its own type and within its limits."""
    if not isinstance(raw, dict):
        raise DamagedLine(f"{where} is no JSON object")
    known = {f.name: f for f in fields(kind)}
    strange = sorted(set(raw) - set(known))
    if strange:
        raise DamagedLine(f"{where} has the unknown key {strange[0][:40]!r}: was it written by a newer version?")
    values: dict[str, Any] = {}
    for name, field in known.items():
        hint = _hints(kind)[name]
        if name in raw:
            values[name] = _value(hint, raw[name], f"{where}.{name}", limit_name(kind, name))
        elif NoneType in get_args(hint):
            values[name] = None
        elif field.default is MISSING:
            raise DamagedLine(f"{where}.{name} is missing")
    try:
        return kind(**values)
    except ValueError as error:
        raise DamagedLine(str(error)) from None


def _value(hint: Any, raw: Any, where: str, limits: str) -> Any:
    options = [h for h in get_args(hint) if h is not NoneType] if isinstance(hint, UnionType) else []
    if options:
        return _value(options[0], raw, where, limits)
    if get_origin(hint) is tuple:
        if not isinstance(raw, list):
            raise DamagedLine(f"{where} is no list")
        return tuple(_build(get_args(hint)[0], v, f"{where}[{n}]") for n, v in enumerate(raw))
    if get_origin(hint) is Literal:
        if raw not in get_args(hint):
            raise DamagedLine(f"{where} is not one of {', '.join(get_args(hint))}")
        return raw
    return _number(raw, where, limits) if hint is float else _text(raw, where)


def _number(raw: Any, where: str, name: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        raise DamagedLine(f"{where} is no number")
    least, most = LIMITS[name]
    if not (math.isfinite(raw) and least <= raw <= most):
        raise DamagedLine(f"{where} is not from {least:g} to {most:g}")
    return float(raw)


def _text(raw: Any, where: str) -> str:
    if not isinstance(raw, str) or len(raw) > LONGEST_TEXT:
        raise DamagedLine(f"{where} is no text of up to {LONGEST_TEXT} characters")
    return raw
