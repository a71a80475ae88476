"""Definitions as nobody would write them: sound ones, and what a seeded hand makes of them."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from tests.places import PROFILES

HEAD = """title = "Rail"
units = "mm"
metal = "DC01"
thickness = 1.5
inside_radius = 2
length = 120
dimensions = "mould-line"
section = [
  { leg = 20, name = "lip" },
  { bend = 90, way = "up", label = "hinge" },
  { leg = 60, name = "web", dimensions = "inside" },
  { bend = 60, way = "down", inside_radius = 3, k = 0.4 },
  { leg = 30, name = "foot" },
]
order = ["B", "hinge"]
"""

ROWS = """
[[opening]]
leg = "web"
shape = "round"
diameter = 5
across = 12
across_from = "left"
along = 12
along_from = "top"
dimensions = "overall"
name = "rivets"
rivet = true
row_along = { count = 3, last = 12 }

[[opening]]
leg = 2
shape = "slot"
size_across = 6
size_along = 14
across = 10
across_from = "right"
along = 30
turn = 30
row_along = { pitch = 30, last = 20 }

[[opening]]
leg = "foot"
shape = "rectangle"
size_across = 8
size_along = 6
corner_radius = 1
across_from = "middle"
along_from = "middle"
row_across = { count = 1, pitch = 4 }
row_along = { count = 2, pitch = 30 }

[rules]
opening_to_tangent = "1.5 t"
opening_to_edge = 2
web = "2 mm"
rivet_edge = "2 d"
rivet_spacing = "off"
"""

CUTS = """
[[cut]]
tool = "plane"
leg = "web"
along = 110
across_from = "middle"
turn = 20
tilt = 10
remove = "top"
legs = ["web", 3]
name = "mitre"

[[cut]]
tool = "round"
leg = "foot"
diameter = 16
axis = "across"
along = 0
above = 4
tilt = 0
dimensions = "inside"

[[cut]]
tool = "box"
leg = "lip"
size_across = 10
size_along = 12
size_above = 30
corner_radius = 2
across = 0
along = 60
along_from = "bottom"
above = 0
turn = 0
"""

ACROSS = """
[[opening]]
leg = "web"
shape = "slot"
size_across = 24
size_along = 6
across = 2
along = 40

[[opening]]
leg = "web"
shape = "round"
diameter = 10
across_from = "middle"
along_from = "middle"
"""

CHANNEL = """metal = "6061-T6"
thickness = "1.5 mm"
inside_radius = "3 mm"
length = "90 mm"
section = [
  { leg = "25 mm" }, { bend = 90, way = "up" }, { leg = "40 mm" }, { bend = 90, way = "up" }, { leg = "25 mm" },
]
[[opening]]
leg = 1
shape = "round"
diameter = "6 mm"
across = "10 mm"
along = "15 mm"
through = [3]
row_along = { count = 2, pitch = "30 mm" }
"""

INCHES = """metal = "6061-T6"
thickness = "18 ga"
inside_radius = "1/8 in"
length = "4'2\\""
method = "aviation"
section = [
  { leg = "1 1/2 in" },
  { bend = 135, way = "up", deduction = "2.1 mm", deduction_to = "overall" },
  { leg = "40 mm", dimensions = "inside-overall" },
  { bend = 90, way = "down", allowance = "5 mm" },
  { leg = "5/8 in" },
]
[[opening]]
leg = 2
shape = "round"
diameter = "1/4 in"
across = "1/2 in"
along = "2 in"
row_along = { count = 4, last = "2 in" }
"""

OWN = (HEAD + ROWS, HEAD + CUTS, HEAD + ACROSS + CUTS, HEAD + ACROSS, CHANNEL, INCHES, HEAD + ROWS + CUTS)

NUMBERS = (
    "0", "-0.0", "-1", "1e308", "-1e308", "1e309", "nan", "-nan", "inf", "-inf", "1" + "0" * 400, "9" * 5000,
    "1e-320", "5e-324", "1e-9", "1e-300", "9007199254740993", "1_000_000_000", "0x7fffffffffffffff", "180", "179.999",
    "90.0000001", "0.0000001", "1e400", "2026-01-01", "12:00:00", "true", "0b1", "-9223372036854775809", "1e16",
    "50000", "0.001", "25.0001", '"1/0 in"', '"1e999 mm"', '"-5 mm"', '"5,5 mm"', '"0/1 in"', '"nan mm"', '"٣ mm"',
    '"99999999999999999999 ga"', '"1 t"', '"1e-300 mm"', f'"{"9" * 3000} mm"', f'"1/{"9" * 500} in"', '"0.01 mm"',
)  # fmt: skip
"""Written where a number stands; those with quotes are lengths."""
TEXTS = (
    "", " ", "\\t", "\\n", "\\u0000", "\\u001b[31mred", "\\u202Egnp.exe", "\\u200B", "שלום", "مرحبا", "\\uD800",
    "\\uDFFF", "\\U0010FFFF", "%%d", "%%c%%u", "\\\\P", "{\\\\fArial|b1;x}", "<script>alert(1)</script>", "]]>",
    "&amp;&lt;", "../../etc/passwd", "..\\\\..\\\\x", "C:\\\\nul", "/", "con", "x" * 20_000, "é" * 300, "\\\"", "'",
    "a\\u0301" * 9, "😀" * 5, "\\\\U+0041", "web", "all", "1", "-1", "middle", "\\uFEFF", "\\u2028", "$(rm -rf)",
    "%s%n",
)  # fmt: skip
"""Written where a text stands, with TOML's own escapes."""

_VALUE = re.compile(r'"(?:[^"\\\n]|\\.)*"|(?<![\w."])-?\d+(?:\.\d+)?(?![\w."])|\btrue\b|\bfalse\b')
_NUMBER = re.compile(r"(?<![\w\"'.#/])-?\d+(?:\.\d+)?(?![\w.'])")
_TEXT = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_KEY = re.compile(r"\b([a-z][a-z_]*)(?=\s*=)")


def bases() -> list[bytes]:
    """All demo profiles, and the definitions of this module, which use every key."""
    demos = PROFILES
    parts = sorted(p for p in demos.glob("*.toml") if p.name != "shop.toml")
    return [p.read_bytes() for p in parts] + [text.encode() for text in OWN]


def _bytes(data: bytes, draw: random.Random) -> bytes:
    held = bytearray(data)
    for _ in range(draw.randint(1, 3)):
        spot = draw.randrange(len(held)) if held else 0
        what = draw.randrange(3)
        if what == 0 and held:
            held[spot] ^= 1 << draw.randrange(8)
        elif what == 1:
            held[spot:spot] = draw.choice([b"\0", b"\xff", b"\xed\xa0\x80", b'"', b"]", b"}", b"#", b"=", b"9", b"\r"])
        else:
            del held[spot : spot + draw.choice([1, 1, 1, 5, 80])]
    return bytes(held)


def _lines(text: str, draw: random.Random) -> str:
    rows = text.split("\n")
    one, other = draw.randrange(len(rows)), draw.randrange(len(rows))
    what = draw.randrange(4)
    if what == 0:
        del rows[one]
    elif what == 1:
        rows.insert(other, rows[one])
    elif what == 2:
        rows[one], rows[other] = rows[other], rows[one]
    else:
        rows = rows[:one]
    return "\n".join(rows)


def _swap(text: str, draw: random.Random) -> str:
    found = [m.span() for m in _VALUE.finditer(text)]
    if len(found) < 2:
        return text
    (a, b), (c, d) = sorted(draw.sample(found, 2))
    return text[:a] + text[c:d] + text[b:c] + text[a:b] + text[d:]


def _put(text: str, pattern: re.Pattern[str], draw: random.Random, new: Callable[[str], str]) -> str:
    found = [m.span() for m in pattern.finditer(text)]
    if not found:
        return text
    start, end = draw.choice(found)
    return text[:start] + new(text[start:end]) + text[end:]


def _nudge(text: str, draw: random.Random) -> str:
    """A number that stays one, and mostly one that can be drawn."""
    by = draw.choice([0.1, 0.5, 0.9, 0.999999, 1.000001, 1.1, 1.5, 2.0, 3.0, 10.0, -1.0])

    def other(old: str) -> str:
        value = float(old) * by
        return str(round(value)) if "." not in old and abs(value) >= 1 and draw.random() < 0.5 else f"{value:.9g}"

    return _put(text, _NUMBER, draw, other)


def _rename(text: str, draw: random.Random) -> str:
    keys = sorted(set(_KEY.findall(text)))
    if not keys:
        return text
    odd = ['""', "x" * 5000, '"a.b"', "a.b", '"\\u202E"', "__class__", '"<script>"', "section.leg", "1"]
    return _put(text, _KEY, draw, lambda old: draw.choice(keys) if draw.random() < 0.6 else draw.choice(odd))


def _reshape(text: str, draw: random.Random) -> str:
    pairs = [("[[opening]]", "[opening]"), ("[[cut]]", "[cut]"), ("[rules]", "[[rules]]"), ("[[cut]]", "[[opening]]")]
    here = [p for p in pairs if p[0] in text]
    if here and draw.random() < 0.5:
        old, new = draw.choice(here)
        return text.replace(old, new, draw.choice([1, 100]))
    wrap = draw.choice(["[{}]", "{{ a = {} }}", "[[{}]]", "[{0}, {0}]", "[]", "{{}}", "[" * 3000 + "{}" + "]" * 3000])
    return _put(text, _VALUE, draw, lambda old: wrap.format(old))


def mutated(data: bytes, draw: random.Random) -> bytes:
    """One to three slips, drawn from ``draw``; bytes last, since they may not be text any more."""
    text = data.decode("utf-8")
    ways: list[Callable[[str, random.Random], str]] = [
        _lines,
        _swap,
        _swap,
        _nudge,
        _nudge,
        _nudge,
        _rename,
        _reshape,
        lambda t, d: _put(t, _NUMBER, d, lambda _: d.choice(NUMBERS)),
        lambda t, d: _put(t, _TEXT, d, lambda _: f'"{d.choice(TEXTS)}"'),
        lambda t, d: _put(t, _VALUE, d, lambda _: d.choice((*NUMBERS, *(f'"{x}"' for x in TEXTS)))),
    ]
    for _ in range(draw.choice([1, 1, 1, 2, 3])):
        text = draw.choice(ways)(text, draw)
    made = text.encode("utf-8", "surrogatepass")
    return _bytes(made, draw) if draw.random() < 0.12 else made
