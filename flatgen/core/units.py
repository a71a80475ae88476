"""Lengths and angles as people write them on drawings, read without losing a digit.

    23 mm   2.3 cm   1 m   0.040 in   .04"   5/8 in   1 1/2 in   1-1/2 in   1½ in
    4'2"    4' 2 1/2"   4 ft 2 in   20 swg   20 ga (where the metal says which gauge system)

The arithmetic is in fractions; the result is a float in millimetres. A number with no unit is refused unless the
file states one; so is what can be read in two ways: a wrong number is worse than no number.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

Unit = Literal["mm", "in"]

GaugeLookup: TypeAlias = Callable[[str | None, int], tuple[float, str]]
"""Gauge system (None: that of the metal) and number, to thickness [mm] and the system's name."""

LONGEST_TEXT = 40
"""Characters; the longest sensible length has about twenty."""

_LARGEST_VALUE = 10**9
"""Magnitude of any number that is looked at more closely [mm or deg]."""

_INCH = Fraction(254, 10)
_FOOT = 12 * _INCH

_UNITS: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": _INCH,
    "inch": _INCH,
    "inches": _INCH,
    '"': _INCH,
    "ft": _FOOT,
    "foot": _FOOT,
    "feet": _FOOT,
    "'": _FOOT,
}
_FOLD = str.maketrans(
    {
        "′": "'", "’": "'", "‘": "'", "ʹ": "'", "´": "'",
        "″": '"', "”": '"', "“": '"', "ʺ": '"',
        "⁄": "/", "∕": "/", "−": "-", "‐": "-", "‑": "-", "–": "-",
        "\u00a0": " ", "\u2009": " ", "\u202f": " ",
    }
)  # fmt: skip
_NUMBER = r"(?:[0-9]+(?:\s+|\s*-\s*)[0-9]+\s*/\s*[0-9]+|[0-9]+\s*/\s*[0-9]+|[0-9]+\.?[0-9]*|\.[0-9]+)"
_LENGTH = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>[a-z]+|['\"])?")
_FEET = re.compile(rf"(?P<feet>[0-9]+)\s*(?:'|ft|foot|feet)\s*-?\s*(?P<inch>{_NUMBER})\s*(?P<mark>\"|in|inch|inches)?")
_GAUGE = re.compile(r"(?P<number>[0-9]{1,3})\s*-?\s*(?P<kind>swg|ga|gauge|gage)\.?")
_ANGLE = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>deg|degree|degrees|°)?")
_EXAMPLES = 'write for example "23 mm", "0.040 in", "1 1/2 in" or "4\'2\\""'


class NotALength(ValueError):
    """A text is no length or no angle: code of the fault, what is wrong, what to write; the caller adds the place."""

    def __init__(self, code: str, text: str, remedy: str) -> None:
        self.code = code
        self.text = text
        self.remedy = remedy
        super().__init__(f"{text}; {remedy}")


@dataclass(frozen=True)
class Length:
    """A length that was read: ``value`` [mm], the ``text`` it came from; ``note``: of a gauge, its size and system."""

    value: float
    text: str
    note: str = ""


def parse_length(
    text: str | int | float, *, default_unit: Unit | None = None, gauge: GaugeLookup | None = None, signed: bool = False
) -> Length:
    r"""Read a length.

    :param default_unit: of a number that carries none; None refuses such numbers
    :param gauge: looks up gauge numbers; None refuses them
    :param signed: accept a leading minus (a bend deduction can be negative)
    :raises NotALength: it cannot be read, or in more than one way.

    By hand: 1 1/2 x 25.4 = 38.1; 4 x 304.8 + 2 x 25.4 = 1270.

    >>> parse_length("1 1/2 in").value
    38.1
    >>> parse_length("4'2\"").value
    1270.0
    """
    shown = _shown(text)
    body, minus = _body(text, shown)
    if minus and not signed:
        raise NotALength("FG012", f"{shown} is negative", "give a length above zero")
    by_gauge = _GAUGE.fullmatch(body)
    if by_gauge:
        return _by_gauge(int(by_gauge["number"]), by_gauge["kind"], shown, gauge)
    value = _feet_and_inches(body, shown)
    if value is None:
        value = _plain_length(body, shown, default_unit)
    if value > _LARGEST_VALUE:
        raise NotALength("FG012", f"{shown} is beyond any sheet", "check the number and its unit")
    return Length(float(-value if minus else value), shown)


def parse_angle(text: str | int | float, *, signed: bool = False) -> float:
    """Read an angle in degrees: ``90``, ``"90 deg"``, ``"90°"``, ``"22 1/2 deg"``.

    :param signed: accept a leading minus (a turn or a tilt can be either way)
    :raises NotALength: it cannot be read.

    >>> parse_angle("22 1/2 deg")
    22.5
    """
    shown = _shown(text)
    body, minus = _body(text, shown, "FG013")
    if minus and not signed:
        raise NotALength("FG013", f"{shown} is negative", 'give the angle above zero and the direction as way = "down"')
    match = _ANGLE.fullmatch(body)
    if not match:
        raise NotALength("FG013", f"{shown} is no angle in degrees", 'write for example 90, "90 deg" or "22.5°"')
    value = _number(match["number"], shown)
    if value > _LARGEST_VALUE:
        remedy = "give degrees, up to a full turn" if signed else "give degrees, above 0 and below 180"
        raise NotALength("FG013", f"{shown} is far more than a full turn", remedy)
    return float(-value if minus else value)


def in_mm_and_inch(value: float, *, thickness: bool = False, inch_first: bool = False) -> str:
    """A length [mm] for the bench: 0.1 mm and 0.001 in for sizes, 0.001 of both for a thickness.

    >>> in_mm_and_inch(38.1)
    '38.1 mm (1.500 in)'
    >>> in_mm_and_inch(1.016, thickness=True)
    '1.016 mm (0.040 in)'
    """
    metric, imperial = f"{value:.{3 if thickness else 1}f} mm", f"{value / 25.4:.3f} in"
    return f"{imperial} ({metric})" if inch_first else f"{metric} ({imperial})"


def _shown(text: object) -> str:
    """The text as messages quote it: one line, printable, short."""
    if isinstance(text, str):
        plain = "".join(c if c.isprintable() else "?" for c in text.strip())
        return plain if len(plain) <= LONGEST_TEXT else plain[: LONGEST_TEXT - 1] + "…"
    if isinstance(text, int) and abs(text) > _LARGEST_VALUE:
        return "a number of more than nine digits"
    return f"{text:.12g}" if isinstance(text, float) else str(text)


def _body(text: object, shown: str, code: str = "FG012") -> tuple[str, bool]:
    """What stands after the sign, in plain ASCII, and whether the sign was a minus."""
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise NotALength("FG005", f"{shown} is no number", _EXAMPLES)
    if isinstance(text, int | float):
        if not math.isfinite(text if isinstance(text, float) else 0):
            raise NotALength(code, f"{shown} is not finite", "give a finite number")
        if abs(text) > _LARGEST_VALUE:
            raise NotALength(code, f"{shown} is far too large", "check the number and its unit")
        exact = f"{abs(text):.15f}".rstrip("0").rstrip(".") if isinstance(text, float) else str(abs(text))
        return exact, text < 0
    if len(text.strip()) > LONGEST_TEXT:
        raise NotALength("FG010", f'"{shown}" is longer than {LONGEST_TEXT} characters', _EXAMPLES)
    body = _plain_text(text, shown)
    minus = body.startswith("-")
    return (body[1:].lstrip() if minus else body), minus


def _plain_text(text: str, shown: str) -> str:
    body = "".join(_vulgar(c) for c in text.translate(_FOLD)).strip().replace("''", '"').lower()
    comma = re.search(r"([0-9]*),([0-9]+)", body)
    if comma:
        point = body.replace(",", ".") if body.count(",") == 1 else body.replace(",", "")
        hint = f'write "{point}"'
        if len(comma[2]) == 3 and body.count(",") == 1:
            hint += f', or "{body.replace(",", "")}" if the comma was to group thousands'
        raise NotALength("FG011", f'"{shown}" has a decimal comma', hint)
    strange = sorted({c for c in body if not (c.isascii() or c == "°")})
    if strange:
        names = ", ".join(unicodedata.name(c, f"U+{ord(c):04X}").lower() for c in strange[:3])
        raise NotALength("FG010", f'"{shown}" has characters that are not read in a number ({names})', _EXAMPLES)
    return body


def _vulgar(char: str) -> str:
    """½ as " 1/2"; anything else as it is."""
    if unicodedata.category(char) == "No" and "VULGAR FRACTION" in unicodedata.name(char, ""):
        return " " + unicodedata.normalize("NFKC", char).replace("⁄", "/")
    return char


def _number(text: str, shown: str) -> Fraction:
    """A decimal, a fraction or a whole number with a fraction."""
    match = re.fullmatch(r"(?:([0-9]+)(?:\s+|\s*-\s*))?([0-9]+)\s*/\s*([0-9]+)", text)
    if not match:
        return Fraction(text.rstrip(".") if text.endswith(".") else text)
    whole, over, under = match[1], int(match[2]), int(match[3])
    if under == 0:
        raise NotALength("FG010", f'"{shown}" divides by zero', _EXAMPLES)
    part = Fraction(over, under)
    if whole is not None and part >= 1:
        text = f'"{shown}" has a whole number and a fraction that is not under 1'
        raise NotALength("FG010", text, "write one number, or a decimal")
    return part + int(whole or 0)


def _feet_and_inches(body: str, shown: str) -> Fraction | None:
    match = _FEET.fullmatch(body)
    if not match:
        return None
    inches = _number(match["inch"], shown)
    if not match["mark"]:
        raise NotALength("FG010", f'"{shown}" does not say what follows the feet', f'write "{body}\\"" if it is inches')
    if inches >= 12:
        text = f'"{shown}" has 12 inches or more beside the feet'
        raise NotALength("FG010", text, "write one more foot, or inches only")
    return int(match["feet"]) * _FOOT + inches * _INCH


def _plain_length(body: str, shown: str, default_unit: Unit | None) -> Fraction:
    match = _LENGTH.fullmatch(body)
    if not match:
        raise NotALength("FG010", f'"{shown}" is no length', _EXAMPLES)
    number, unit = match["number"], match["unit"]
    if unit is None:
        value = _number(number, shown)
        if default_unit is None:
            remedy = f'write "{body} mm" or "{body} in", or put units = "mm" at the head of the file'
            raise NotALength("FG010", f"{shown} has no unit", remedy)
        return value * _UNITS[default_unit]
    if unit not in _UNITS:
        raise NotALength("FG010", f'"{shown}" has the unknown unit "{unit}"', "units are mm, cm, m, in, ft, ga and swg")
    return _number(number, shown) * _UNITS[unit]


def _by_gauge(number: int, kind: str, shown: str, gauge: GaugeLookup | None) -> Length:
    if gauge is None:
        raise NotALength("FG010", f'"{shown}" is a gauge, and only a thickness may be one', _EXAMPLES)
    value, system = gauge("swg" if kind == "swg" else None, number)
    return Length(value, shown, f"{shown} is {in_mm_and_inch(value, thickness=True)} by {system}")
