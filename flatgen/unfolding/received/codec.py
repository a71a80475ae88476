"""Plain data as one line of JSON and back, led by the types of its fields: nothing else can be made from a line.

For what comes from a process that a hostile file may have taken over: frozen dataclasses of ours, tuples, numbers,
text, bytes, matrices. A dataclass is the list of its fields; where several may stand it is [name, fields].
"""

from __future__ import annotations

import base64
import dataclasses
import functools
import json
import math
import types
import unicodedata
from collections.abc import Callable
from typing import Any, Literal, TypeAlias, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import numpy as np

Kind = TypeVar("Kind")
_Converter: TypeAlias = Callable[[Any], Any]

LARGEST = 2**53  # whole numbers beyond this are none of ours: the largest that a float holds exactly


class CodecError(ValueError):
    """A line, or data, that is not what its type says."""


def encode(value: object, kind: Any) -> bytes:
    """Data of a type (a dataclass, or a union of some) as one line, without its end.

    :raises CodecError: where the data are not of that type, or a number is not finite.
    """
    try:
        return json.dumps(_converters(kind)[0](value), allow_nan=False, separators=(",", ":")).encode("ascii")
    except (TypeError, ValueError, AttributeError, KeyError) as error:
        raise CodecError(f"{type(error).__name__}: {str(error)[:200]}") from error


def decode(line: bytes, kind: type[Kind]) -> Kind:
    """Data of a type from one line of anybody's, control characters in texts replaced.

    :raises CodecError: where the line is anything but what :func:`encode` makes.
    """
    try:
        return cast(Kind, _converters(cast(Any, kind))[1](json.loads(line.decode("ascii"))))
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
        raise CodecError(f"{type(error).__name__}: {str(error)[:200]}") from error


def printable(text: str) -> str:
    r"""Text with what could steer a terminal, or is no character, replaced; line feeds stay.

    >>> printable("red: \x1b[31m")
    'red: ?[31m'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if c == "\n" or unicodedata.category(c) not in _CONTROLS else "?" for c in text)


_CONTROLS = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


@functools.cache
def _converters(kind: Any) -> tuple[_Converter, _Converter]:
    """How a type is turned into JSON, and back."""
    origin, inner = get_origin(kind), get_args(kind)
    if kind in _SIMPLE:
        return _SIMPLE[kind]
    if dataclasses.is_dataclass(kind):
        return _dataclass_converters(cast(type, kind))
    if origin is np.ndarray:
        return _SIMPLE[np.ndarray]
    if origin is Literal:
        return _literal_converters(inner)
    if origin in (Union, types.UnionType):
        return _union_converters(inner)
    if origin is tuple and len(inner) == 2 and inner[1] is Ellipsis:
        return _many_converters(inner[0])
    if origin is tuple:
        return _fixed_converters(inner)
    raise CodecError(f"no way to write {kind}")


def _of(kind: Any) -> _Converter:
    def check(value: Any) -> Any:
        if not isinstance(value, kind) or isinstance(value, bool) is not (kind is bool):
            raise CodecError(f"{type(value).__name__} where {kind} is due")
        return value

    return check


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or abs(int(value)) > LARGEST:
        raise CodecError("no whole number, or too large")
    return int(value)


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        raise CodecError(f"{type(value).__name__} where a number is due")
    if not math.isfinite(number := float(value)):
        raise CodecError("a number that is not finite")
    return number


def _matrix(value: Any) -> Any:
    rows = [[_number(v) for v in _of(list)(row)] for row in _of(list)(value)]
    if not rows or len(rows) > 4 or any(len(row) != len(rows[0]) for row in rows) or not 0 < len(rows[0]) <= 4:
        raise CodecError("no matrix")
    return np.array(rows, dtype=np.float64)


def _rows(value: Any) -> list[list[float]]:
    return [[_number(v) for v in row] for row in _of(np.ndarray)(value).tolist()]


def _nothing(value: Any) -> None:
    if value is not None:
        raise CodecError("something where nothing is due")


_SIMPLE: dict[Any, tuple[_Converter, _Converter]] = {
    float: (_number, _number),
    int: (_whole, _whole),
    bool: (_of(bool), _of(bool)),
    str: (_of(str), lambda v: printable(_of(str)(v))),
    bytes: (
        lambda v: base64.b64encode(_of(bytes)(v)).decode("ascii"),
        lambda v: base64.b64decode(_of(str)(v), validate=True),
    ),
    np.ndarray: (_rows, _matrix),
    type(None): (_nothing, _nothing),
}


def _dataclass_converters(kind: type) -> tuple[_Converter, _Converter]:
    hints = get_type_hints(kind)
    names = [f.name for f in dataclasses.fields(cast(Any, kind)) if f.init]
    converters = [_converters(hints[name]) for name in names]

    def out(value: Any) -> list[Any]:
        if type(value) is not kind:
            raise CodecError(f"{type(value).__name__} where {kind.__name__} is due")
        return [convert(getattr(value, name)) for name, (convert, _) in zip(names, converters, strict=True)]

    def back(value: Any) -> Any:
        fields = zip(converters, _of(list)(value), strict=True)
        return kind(*[convert(item) for (_, convert), item in fields])

    return out, back


def _literal_converters(allowed: tuple[Any, ...]) -> tuple[_Converter, _Converter]:
    def check(value: Any) -> Any:
        if not any(type(value) is type(a) and value == a for a in allowed):
            raise CodecError(f"not one of {allowed}")
        return value

    return check, check


def _union_converters(members: tuple[Any, ...]) -> tuple[_Converter, _Converter]:
    """None, or one other; or several dataclasses, told apart by their names."""
    given = [m for m in members if m is not type(None)]
    if len(given) == 1:
        out, back = _converters(given[0])
        return (lambda v: None if v is None else out(v), lambda v: None if v is None else back(v))
    if not all(dataclasses.is_dataclass(m) for m in given):
        raise CodecError(f"no way to tell apart {members}")
    by_name = {m.__name__: _converters(m) for m in given}
    none = len(given) < len(members)

    def out_named(value: Any) -> Any:
        if value is None and none:
            return None
        name = type(value).__name__
        return [name, by_name[name][0](value)]

    def back_named(value: Any) -> Any:
        if value is None and none:
            return None
        name, fields = _of(list)(value)
        return by_name[_of(str)(name)][1](fields)

    return out_named, back_named


def _many_converters(inner: Any) -> tuple[_Converter, _Converter]:
    out, back = _converters(inner)
    return (lambda v: [out(item) for item in _of(tuple)(v)], lambda v: tuple([back(item) for item in _of(list)(v)]))


def _fixed_converters(inner: tuple[Any, ...]) -> tuple[_Converter, _Converter]:
    converters = [_converters(kind) for kind in inner]
    return (
        lambda v: [convert(item) for (convert, _), item in zip(converters, _of(tuple)(v), strict=True)],
        lambda v: tuple([convert(item) for (_, convert), item in zip(converters, _of(list)(v), strict=True)]),
    )
