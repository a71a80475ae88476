"""Openings in the flat by arithmetic: shapes about their centre, centres by hand and by a count from the right."""

from __future__ import annotations

import math
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from flatgen.core.errors import InputRefused
from flatgen.core.flat_pattern import Arc, Line
from flatgen.definition.closed_form import develop, flat_openings, opening_centre
from flatgen.definition.model import Opening, Place, Profile, Shape, opening_loop
from flatgen.definition.reader import read_profile

HERE = Place(0, 0.0, "middle", 0.0, "middle", "inside")
CHANNEL = """\
metal = "DC01"
thickness = "1 mm"
inside_radius = "2 mm"
length = "200 mm"
k = 0.5
section = [
  { leg = "30 mm" },
  { bend = 90, way = "up" },
  { leg = "60 mm", name = "web", dimensions = "inside" },
  { bend = 120, way = "down", inside_radius = "3 mm" },
  { leg = "30 mm" },
]
"""
BA = math.pi / 2 * 2.5
"""Of the first bend: 90 degrees on a radius of 2 + 0.5 x 1."""


def _opening(shape: Shape, wide: float, high: float, corner: float = 0.0, turn: float = 0.0) -> Opening:
    return Opening(HERE, shape, wide, high, corner, turn)


def _read(folder: Path, text: str) -> Profile:
    path = folder / "part.toml"
    path.write_text(text, encoding="utf-8")
    return read_profile(path)


def _with(folder: Path, leg: object, across: str, more: str = "") -> Profile:
    hole = f'[[opening]]\nleg = {leg}\nshape = "round"\ndiameter = "6 mm"\nalong = "25 mm"\nacross = "{across}"\n{more}'
    return _read(folder, CHANNEL + hole)


@pytest.mark.parametrize(
    ("opening", "area", "perimeter", "kinds"),
    [
        (_opening("round", 6, 6), math.pi * 9, math.pi * 6, "A"),
        (_opening("slot", 14, 6), 8 * 6 + math.pi * 9, 16 + 6 * math.pi, "LALA"),
        (_opening("slot", 6, 14, turn=77), 8 * 6 + math.pi * 9, 16 + 6 * math.pi, "LALA"),
        (_opening("rectangle", 14, 6), 84, 40, "LLLL"),
        (_opening("rectangle", 14, 6, 2, -200), 84 - (4 - math.pi) * 4, 40 - 16 + 4 * math.pi, "LALALALA"),
        (_opening("rectangle", 14, 6, 3), 8 * 6 + math.pi * 9, 16 + 6 * math.pi, "LALA"),
    ],
)
def test_shapes(opening: Opening, area: float, perimeter: float, kinds: str) -> None:
    loop = opening_loop(opening)
    assert loop.signed_area == pytest.approx(-area, rel=1e-12), "clockwise"
    assert loop.perimeter == pytest.approx(perimeter, rel=1e-12)
    assert loop.largest_gap < 1e-12
    assert "".join("L" if isinstance(p, Line) else "A" for p in loop) == kinds


def test_a_round_one_is_one_full_arc() -> None:
    (arc,) = opening_loop(_opening("round", 6, 6)).pieces
    assert arc == Arc((0.0, 0.0), 3.0, 0.0, -360.0)


@pytest.mark.parametrize(
    ("turn", "box"),
    [(0, (-7, -3, 7, 3)), (90, (-3, -7, 3, 7)), (180, (-7, -3, 7, 3)), (-90, (-3, -7, 3, 7)), (360, (-7, -3, 7, 3))],
)
def test_quarter_turns_are_exact(turn: float, box: tuple[float, ...]) -> None:
    for shape in ("slot", "rectangle"):
        loop = opening_loop(_opening(shape, 14, 6, turn=turn))
        assert loop.box() == pytest.approx(box, abs=1e-12)
        ends = [c for p in loop if isinstance(p, Line) for c in p.start]
        assert all(abs(c - round(c)) < 1e-15 for c in ends)


def test_a_turn_runs_counter_clockwise() -> None:
    """A slot of 14 x 6 turned by 30: the centre of one end lies at 4 (cos 30, sin 30)."""
    centres = [p.centre for p in opening_loop(_opening("slot", 14, 6, turn=30)) if isinstance(p, Arc)]
    assert max(centres) == pytest.approx((4 * math.sqrt(3) / 2, 2.0))


@pytest.mark.parametrize("seed", range(20))
def test_points_of_random_shapes_have_their_distance(seed: int) -> None:
    """Turned back, every point of an outline lies a corner radius from the box of the corners' centres."""
    rng = random.Random(seed)
    wide, high, turn = rng.uniform(2, 30), rng.uniform(2, 30), rng.uniform(-360, 360)
    corner = rng.uniform(0, min(wide, high) / 2)
    shape: Shape = rng.choice(("slot", "rectangle"))
    radius = min(wide, high) / 2 if shape == "slot" else corner
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    for piece in opening_loop(_opening(shape, wide, high, 0.0 if shape == "slot" else corner, turn)):
        for share in (0.0, 0.3, 0.8):
            x, y = piece.at(share)
            u, v = abs(x * c + y * s) - (wide / 2 - radius), abs(y * c - x * s) - (high / 2 - radius)
            assert math.hypot(max(u, 0), max(v, 0)) + min(max(u, v), 0) == pytest.approx(radius, abs=1e-9)


@pytest.mark.parametrize(
    ("across", "more", "x"),
    [
        # leg 1 is 30 to the mould line, its setback 3: flat 27; the web begins at 27 + BA
        # of the web, the inside lies 2 left of its tangent line: 60 - 2 - 3 tan 60 = 52.804 of flat
        ("20 mm", "", 27 + BA + 18),
        ("20 mm", 'dimensions = "mould-line"\n', 27 + BA + 17),
        ("20 mm", 'across_from = "right"\n', 27 + BA + 38),
        ("0 mm", 'across_from = "middle"\n', 27 + BA + 28),
        ("-3 mm", 'across_from = "middle"\n', 27 + BA + 25),
        # from outer tangent to outer tangent: setbacks 3 and (3 + 1) tan 45 = 4 instead of 2 and 5.196
        ("20 mm", 'across_from = "right"\ndimensions = "overall"\n', 27 + BA + 60 - 2 - 3 * math.sqrt(3) - 16),
        ("0 mm", 'across_from = "middle"\ndimensions = "overall"\n', 27 + BA + (60 - 2 - 3 * math.sqrt(3) + 4 - 3) / 2),
    ],
)
def test_centres_by_hand(tmp_path: Path, across: str, more: str, x: float) -> None:
    part = _with(tmp_path, '"web"', across, more)
    assert opening_centre(part, part.openings[0]) == pytest.approx((x, 25.0), abs=1e-9)


@pytest.mark.parametrize(("start", "y"), [("bottom", 25.0), ("top", 175.0), ("middle", 125.0)])
def test_along(tmp_path: Path, start: str, y: float) -> None:
    part = _with(tmp_path, 1, "10 mm", f'along_from = "{start}"\n')
    assert opening_centre(part, part.openings[0]) == pytest.approx((10.0, y), abs=1e-9)


def test_what_reaches_beyond_a_tangent_line_has_no_closed_form(tmp_path: Path) -> None:
    """Flat of leg 1 is 27: a hole of 6 lies on it up to 24, its centre up to 27, its leg reaches to 30."""
    for across, centred, whole in (("24 mm", True, True), ("24.01 mm", True, False), ("27.01 mm", False, False)):
        part = _with(tmp_path, 1, across)
        assert (opening_centre(part, part.openings[0]) is not None) == centred
        assert (flat_openings(part)[0] is not None) == whole


def test_openings_in_the_flat_in_their_order(tmp_path: Path) -> None:
    part = _with(tmp_path, 3, "20 mm", 'row_along = { count = 3, pitch = "50 mm" }\nthrough = [1]\n')
    loops = flat_openings(part)
    assert len(loops) == 3
    right = develop(part).width - 30 + 20
    for n, loop in enumerate(loops):
        assert loop is not None
        assert loop.signed_area == pytest.approx(-math.pi * 9)
        assert loop.box() == pytest.approx((right - 3, 22 + 50 * n, right + 3, 28 + 50 * n), abs=1e-9)


def test_a_tree_is_refused(tmp_path: Path) -> None:
    part = _with(tmp_path, 1, "10 mm")
    branched = replace(part, bends=(part.bends[0], replace(part.bends[1], first=0)), fingerprint="")
    with pytest.raises(InputRefused):
        flat_openings(branched)
    with pytest.raises(InputRefused):
        opening_centre(branched, part.openings[0])


@pytest.mark.parametrize("seed", range(30))
def test_random_places_counted_from_the_right(tmp_path: Path, seed: int) -> None:
    """Apart from the code: widths summed from the right edge of the blank, setbacks written out, the place mirrored."""
    rng = random.Random(seed)
    t, length = 1.0, 300.0
    bends = [(rng.uniform(20, 88), rng.uniform(1, 4), rng.uniform(0.3, 0.5)) for _ in range(rng.randint(0, 5))]
    legs = [rng.uniform(40, 70) for _ in range(len(bends) + 1)]
    tangents = [(r + t) * math.tan(math.radians(a / 2)) for a, r, _ in bends]
    inner = [r * math.tan(math.radians(a / 2)) for a, r, _ in bends]
    ways = ("up", "down")
    items = [f"{{ leg = {legs[0]!r} }}"]
    for n, (a, r, k) in enumerate(bends):
        items += [f'{{ bend = {a!r}, way = "{ways[n % 2]}", inside_radius = {r!r}, k = {k!r} }}']
        items += [f"{{ leg = {legs[n + 1]!r} }}"]
    leg = rng.randrange(len(legs))
    place = rng.uniform(14, 18)
    start = rng.choice(("left", "right", "middle"))
    text = 'metal = "DC01"\nunits = "mm"\nthickness = 1\ninside_radius = 2\nlength = 300\n'
    text += f"section = [{', '.join(items)}]\n"
    text += f'[[opening]]\nleg = {leg + 1}\nshape = "round"\ndiameter = 5\nalong = 40\nalong_from = "top"\n'
    text += f'dimensions = "inside"\nacross_from = "{start}"\nacross = {place - (14 if start == "middle" else 0)!r}\n'
    part = _read(tmp_path, text)

    def used(n: int) -> float:
        return math.radians(bends[n][0]) * (bends[n][1] + bends[n][2] * t) - 2 * tangents[n]

    right_of = sum(legs[leg + 1 :]) + sum(used(n) for n in range(leg, len(bends)))
    right_of += sum(tangents[n] for n in range(leg, leg + 1) if n < len(bends))  # from the leg's right tangent line
    right_in = inner[leg] if leg < len(bends) else 0.0
    left_in = inner[leg - 1] if leg else 0.0
    left_out = tangents[leg - 1] if leg else 0.0
    right_out = tangents[leg] if leg < len(bends) else 0.0
    wide = legs[leg] - left_out - right_out + left_in + right_in
    across = {"right": place, "left": wide - place, "middle": wide / 2 - (place - 14)}[start]
    total = sum(legs) + sum(used(n) for n in range(len(bends)))
    wanted = total - (right_of + across - right_in)
    assert opening_centre(part, part.openings[0]) == pytest.approx((wanted, length - 40), abs=1e-6)


def test_the_arithmetic_stays_light_and_apart() -> None:
    """Neither the kernel nor the walked section is loaded for the closed form."""
    banned = [
        "cadquery",
        "OCP",
        "shapely",
        "ezdxf",
        "matplotlib",
        "flatgen.definition.section",
        "flatgen.definition.solid.cutting",
    ]
    code = f"import sys, flatgen.definition.closed_form; print([m for m in {banned} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (done.returncode, done.stdout.strip()) == (0, "[]"), done.stderr
