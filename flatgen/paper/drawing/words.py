"""All words on a drawing, in one place for translation. This module imports nothing of ours.

Numbers have bench resolution: 0.1 mm or 0.001 in for sizes, 0.001 mm for radii, 0.1 degrees.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

Form = Literal["long", "short"]
UP = "up"
DOWN = "down"
CAUTION = "Caution:"
UNITS_MM = "All sizes in millimetres, scale 1:1"
UNITS_INCH = "All sizes in inches, scale 1:1"
KEY_OUTLINE = "cut edge"
KEY_NEAR = "bend line, bend up: stands on the near face (this one)"
KEY_FAR = "bend line, bend down: stands on the far face (the other one)"
KEY_TANGENTS = "bend tangent line: curve begins here"
KEY_FORMS = "stretched form that the flat leaves out: marked, not to be cut"
KEY_SIGHT_NEAR = "sight line under the front of the nose, to mark on the near face (this one)"
KEY_SIGHT_FAR = "sight line under the front of the nose, to mark on the far face (the other one)"
KEY_CENTRES = "centre of a round opening"
NO_LETTER = "?"
MM_PER_INCH = 25.4
LONGEST_LABEL = 40
"""Most characters of a user's label; an ellipsis stands for the rest."""


def length(mm: float, *, inches: bool = False) -> str:
    """A size with its unit, from ``mm`` [mm].

    >>> length(250.04), length(12.7, inches=True)
    ('250 mm', '0.5 in')
    """
    if inches:
        return f"{_plain(mm / MM_PER_INCH, 3)} in"
    return f"{_plain(mm, 1)} mm"


def both_lengths(mm: float, *, inches: bool = False) -> str:
    """A size in both units, the drawing's own first, from ``mm`` [mm].

    >>> both_lengths(254.0)
    '254 mm (10 in)'
    """
    return f"{length(mm, inches=inches)} ({length(mm, inches=not inches)})"


def radius(mm: float, *, inches: bool = False) -> str:
    """A radius with its unit, from ``mm`` [mm].

    >>> radius(2.38125), radius(0.79375, inches=True)
    ('2.381 mm', '0.031 in')
    """
    return f"{_plain(mm / MM_PER_INCH, 3)} in" if inches else f"{_plain(mm, 3)} mm"


def bend(
    letter: str, way: str, angle: float, inside_radius: float, order: int | None, *, form: Form, inches: bool = False
) -> str:
    """The label of a bend line; ``angle`` [deg], ``inside_radius`` [mm].

    >>> bend("A", "up", 90.0, 3.2, None, form="long")
    'A  bend up 90°, inside radius 3.2 mm'
    >>> bend("A", "down", 90.0, 3.2, 2, form="short")
    'A down 90° r 3.2, order 2'
    """
    name = harmless(letter) or NO_LETTER
    side = UP if way == "up" else DOWN
    turned = _plain(angle, 1)
    tail = "" if order is None else f", order {order}"
    size = radius(inside_radius, inches=inches)
    if form == "long":
        return f"{name}  bend {side} {turned}°, inside radius {size}{tail}"
    return f"{name} {side} {turned}° r {size.split()[0]}{tail}"


def sight(number: int, letter: str, way: str, angle: float, held: str, side: str, *, form: Form) -> str:
    """The label of a sight line; ``angle`` [deg]; ``held``: the leg under the clamp bar, on ``side`` of the line.

    >>> sight(1, "A", "up", 90.0, "web", "right", form="long")
    '1  bend A up 90°, hold web (right of the line)'
    >>> sight(1, "A", "up", 90.0, "web", "", form="short")
    '1 A up 90°, hold web'
    """
    name, turned, bend_way = harmless(letter) or NO_LETTER, _plain(angle, 1), UP if way == "up" else DOWN
    if form == "long":
        tail = f" ({side} of the line)" if side else ""
        return f"{number}  bend {name} {bend_way} {turned}°, hold {harmless(held)}{tail}"
    tail = f" {side}" if side else ""
    return f"{number} {name} {bend_way} {turned}°, hold {harmless(held)}{tail}"


def blank(width: float, size: float, *, inches: bool = False) -> str:
    """Width and length [mm] of a blank in one line, where there is no room for dimension lines.

    >>> blank(100.0, 50.0)
    'Blank: width 100 mm (3.937 in), length 50 mm (1.969 in)'
    """
    return f"Blank: width {both_lengths(width, inches=inches)}, length {both_lengths(size, inches=inches)}"


def bend_place(label: str, start: tuple[float, float], end: tuple[float, float], *, inches: bool = False) -> str:
    """A bend whose label finds no room on the drawing, for the notes; ends of its line [mm].

    >>> bend_place("A up 90° r 3", (0.0, 10.0), (40.0, 10.0))
    'A up 90° r 3: line from (0 mm, 10 mm) to (40 mm, 10 mm)'
    """
    first, last = (f"({length(x, inches=inches)}, {length(y, inches=inches)})" for x, y in (start, end))
    return f"{label}: line from {first} to {last}"


def harmless(text: str) -> str:
    """A user's text on one line, without anything that a DXF reader takes for a command, cut to a label's length.

    Control characters become blanks, format characters go, percent signs and backslashes that would begin a code are
    set apart. All other Unicode stays.

    >>> harmless("50%%d" + chr(10) + "deep")
    '50% %d deep'
    """
    text = "".join(_printable(c) for c in unicodedata.normalize("NFC", text))
    text = " ".join(text.split())
    if len(text) > LONGEST_LABEL:
        text = text[: LONGEST_LABEL - 1] + "…"
    return _split_codes(text)


def clean(text: str) -> str:
    """As :func:`harmless`, of any length, and with the blanks kept."""
    return _split_codes("".join(_printable(c) for c in text))


def _split_codes(text: str) -> str:
    text = re.sub(r"%(?=%)", "% ", text)
    return re.sub(r"\\(?=[UuMm]\+)", r"\\ ", text)


def _printable(char: str) -> str:
    kind = unicodedata.category(char)
    if kind in ("Cc", "Zl", "Zp"):
        return " "
    if kind == "Cf":
        return ""
    return "\ufffd" if kind in ("Cs", "Cn", "Co") else char


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text
