"""STEP files with seeded slips: from files of our own, and of the real parts where they are present."""

from __future__ import annotations

import random
import re
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tests.places import PARTS, PROFILES
from tests.unfolding.received.step_files import angle, bolt, write, write_assembly

REAL = PARTS / "real"
SMALL = ("opencellular_bracket_r", "opencellular_bracket_l", "rover6_wheel_support_bracket", "opencellular_wedge")
"""Real parts with little text: reading a file takes most of the time."""

Slip = Callable[[bytes, random.Random], bytes]

NUMBER = re.compile(rb"(?<=[(,])-?\d+\.\d*(?:E[+-]?\d+)?(?=[,)])")
REFERENCE = re.compile(rb"(?<=[(,])#\d+")
ENTITY = re.compile(rb"^(#\d+) ?= ?([A-Z_0-9]+) ?(\(.*?\)) ?;", re.M | re.S)
WORD = re.compile(rb"(?<=[= (])[A-Z][A-Z_0-9]{3,}(?= ?\()")
NUMBERS = (
    b"1.E300",
    b"-1.E300",
    b"NaN",
    b"INF",
    b"-0.",
    b"0.",
    b"1.E-300",
    b"1",
    b"9" * 40,
    b"1.E6",
    b"-1.",
    b"$",
    b"*",
)


@cache
def own() -> tuple[bytes, ...]:
    """Files of our own: an angle in two schemas, an assembly of three angles and two bolts, two demos."""
    from flatgen.jobs import draw as job
    from flatgen.jobs.result import Options

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        files = [
            write(place / "a.step", angle()),
            write(place / "b.step", angle(), unit="INCH", schema="AP203"),
            write_assembly(place / "c.step", [("Träger", angle(), 3), ("bolt", bolt(), 2)], schema="AP242DIS"),
        ]
        for demo in ("roof-rail", "eave-angle"):
            files += job.draw(PROFILES / f"{demo}.toml", place / demo, Options(("step",))).files
        return tuple(f.read_bytes() for f in files)


@cache
def real() -> tuple[bytes, ...]:
    return tuple((REAL / f"{name}.step").read_bytes() for name in SMALL)


def _replaced(text: bytes, found: re.Match[bytes], by: bytes) -> bytes:
    return text[: found.start()] + by + text[found.end() :]


def _some(pattern: re.Pattern[bytes], text: bytes, draw: random.Random) -> re.Match[bytes] | None:
    """One match, from a random place on."""
    return pattern.search(text, draw.randrange(len(text))) or pattern.search(text)


def flipped(text: bytes, draw: random.Random) -> bytes:
    mutable = bytearray(text)
    for _ in range(draw.choice((1, 1, 5, 50))):
        mutable[draw.randrange(len(text))] ^= 1 << draw.randrange(8)
    return bytes(mutable)


def lines_cut(text: bytes, draw: random.Random) -> bytes:
    lines = text.split(b"\n")
    first = draw.randrange(len(lines))
    del lines[first : first + draw.choice((1, 1, 2, 20))]
    return b"\n".join(lines)


def lines_doubled(text: bytes, draw: random.Random) -> bytes:
    lines = text.split(b"\n")
    first = draw.randrange(len(lines))
    lines[first:first] = lines[first : first + draw.choice((1, 3, 30))]
    return b"\n".join(lines)


def entities_swapped(text: bytes, draw: random.Random) -> bytes:
    """Two entities change their numbers."""
    one, other = (_some(ENTITY, text, draw) for _ in range(2))
    if not one or not other or one.start() == other.start():
        return lines_cut(text, draw)
    first, second = sorted((one, other), key=lambda m: m.start())
    changed = _replaced(text, second, first[1] + b"=" + second[2] + second[3] + b";")
    return _replaced(changed, first, second[1] + b"=" + first[2] + first[3] + b";")


def words_swapped(text: bytes, draw: random.Random) -> bytes:
    """An entity becomes one of another kind."""
    one, other = _some(WORD, text, draw), _some(WORD, text, draw)
    return _replaced(text, one, other[0]) if one and other else text


def number_changed(text: bytes, draw: random.Random) -> bytes:
    for _ in range(draw.choice((1, 1, 3, 10))):
        if found := _some(NUMBER, text, draw):
            text = _replaced(text, found, draw.choice(NUMBERS))
    return text


def number_nudged(text: bytes, draw: random.Random) -> bytes:
    """A little off, or of the other sign, or ten times as much: a part that is nearly one."""
    if not (found := _some(NUMBER, text, draw)):
        return text
    value = float(found[0])
    by = draw.choice((value + 1e-6, value + 1e-3, value + 0.1, -value, 10 * value, value * (1 + 1e-12)))
    return _replaced(text, found, repr(by).upper().encode())


def number_everywhere(text: bytes, draw: random.Random) -> bytes:
    """One value changes wherever it stands: sizes change together."""
    found = _some(NUMBER, text, draw)
    return text.replace(found[0], draw.choice(NUMBERS)) if found else text


def reference_changed(text: bytes, draw: random.Random) -> bytes:
    """To nothing, to itself, to another, to a number that none has."""
    found, other = _some(REFERENCE, text, draw), _some(REFERENCE, text, draw)
    if not found or not other:
        return text
    line = text.rfind(b"\n#", 0, found.start())
    itself = re.compile(rb"#\d+").search(text, line)
    assert itself
    return _replaced(text, found, draw.choice((b"#999999", b"#0", b"$", itself[0], other[0], b"#99999999999999999999")))


def truth_changed(text: bytes, draw: random.Random) -> bytes:
    found = _some(re.compile(rb"\.[TF]\."), text, draw)
    return _replaced(text, found, b".F." if found[0] == b".T." else b".T.") if found else text


def cut_off(text: bytes, draw: random.Random) -> bytes:
    return text[: draw.randrange(len(text))]


def cut_short(text: bytes, draw: random.Random) -> bytes:
    """The end of the data is missing, not that of the file."""
    return text[: draw.randrange(len(text) // 10, len(text))] + b"\nENDSEC;\nEND-ISO-10303-21;\n"


def filled(text: bytes, draw: random.Random) -> bytes:
    """Nothing, zeros, noise, or deep brackets where data should be."""
    data = text.find(b"DATA;") + 5
    noise = draw.randbytes(3000)
    what = draw.choice((b"", b"\0" * 3000, noise, b"#1=A(" + b"(" * 30_000 + b")" * 30_000 + b");"))
    if draw.random() < 0.3:
        return what
    return text[:data] + b"\n" + what + (text[data:] if draw.random() < 0.5 else b"\nENDSEC;\nEND-ISO-10303-21;\n")


SLIPS: tuple[Slip, ...] = (
    flipped,
    lines_cut,
    lines_doubled,
    entities_swapped,
    words_swapped,
    number_changed,
    number_nudged,
    number_everywhere,
    reference_changed,
    truth_changed,
    cut_off,
    cut_short,
    filled,
)


def mutant(known: tuple[bytes, ...], seed: int) -> tuple[bytes, str]:
    """A file with one slip, or two, and their names: the same on every machine."""
    draw = random.Random(seed)
    text, names = known[seed % len(known)], []
    for _ in range(draw.choice((1, 1, 1, 2))):
        slip = draw.choice(SLIPS)
        names.append(slip.__name__)
        text = slip(text, draw) if text else text
    return text, " + ".join(names)
