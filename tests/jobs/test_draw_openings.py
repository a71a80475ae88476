"""Random sections with openings and cuts, from file to flat, against arithmetic, plane geometry and the kernel.

Everything expected is worked out here from the text of the definition: `tomllib`, and formulas of design and
handbooks written down once more (setbacks, BA = A pi/180 (r + k t)); no code of the closed form, of places, rows
or outlines is used.

A cut may take away the lower left corner, at which a flat has its origin. The shift in x is found from one tangent
line, and all others must then agree; in y from the formed part, which starts at y = 0 whatever was cut from it:
the place of the root panel says where its origin lies, and every opening must then agree.
"""

from __future__ import annotations

import math
import random
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flatgen.core.errors import CODES
from flatgen.core.flat_pattern import Arc, FlatPattern, Line, Loop
from flatgen.core.fold import fold_panel, fold_zone, placements
from flatgen.jobs import draw as job
from flatgen.jobs.result import Options
from tests.opened_sections import Part, opened_part

THOROUGH = 500
NEAR = 0.02
"""Points to be judged stay clear of drawn edges by this: twice what fitted curves may be off [mm]."""
ON = 1e-5
"""A point is on a face of the solid within this [mm]."""
EXPECTED = {"FG022", "FG025", "FG026", "FG041", "FG042", "FG043"}
"""What random places may be refused for; anything else is a fault of the generator, or of the reader."""


def both(count: int, start: int = 0, step: int = 1) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds = range(start, count, step)
    tenth = len(seeds) // 10
    return [s if n < tenth else pytest.param(s, marks=pytest.mark.thorough) for n, s in enumerate(seeds)]


@pytest.fixture(scope="session", name="folder")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One for all tests: a part that two of them look at is made once."""
    return tmp_path_factory.mktemp("opened")


def mm(raw: Any) -> float:
    """A length of these files: a bare number, or text that ends in mm."""
    return float(raw.removesuffix("mm")) if isinstance(raw, str) else float(raw)


@dataclass(frozen=True)
class Hole:
    """An opening by hand: leg, centre from where the leg's flat begins and from the bottom end, shape [mm, deg]."""

    leg: int
    x: float
    y: float
    kind: str
    wide: float
    high: float
    corner: float
    turn: float
    through: bool

    @property
    def area(self) -> float:
        if self.kind == "round":
            return math.pi * self.wide**2 / 4
        short, long = sorted((self.wide, self.high))
        corner = short / 2 if self.kind == "slot" else self.corner
        return short * long - (4 - math.pi) * corner**2

    def polygon(self, chords: int = 4000) -> Any:
        """About its centre, arcs in chords, grown from its core: a point, a line or a rectangle."""
        import shapely
        from shapely import affinity

        radius = {"round": self.wide / 2, "slot": min(self.wide, self.high) / 2, "rectangle": self.corner}[self.kind]
        a, b = (max(0.0, size / 2 - radius) for size in (self.wide, self.high))
        if self.kind == "round":
            core = shapely.Point(0, 0)
        elif self.kind == "slot":
            core = shapely.LineString([(-a, -b), (a, b)])
        else:
            core = shapely.box(-a, -b, a, b)
        shape = core.buffer(radius, quad_segs=chords // 4) if radius else core
        return affinity.translate(affinity.rotate(shape, self.turn, origin=(0, 0)), self.x, self.y)


class Hand:
    """The section of a definition by hand: x of all tangent lines in the uncut flat, and all openings."""

    def __init__(self, path: Path) -> None:
        self.data = tomllib.loads(path.read_text(encoding="utf-8"))
        self.t, self.length = mm(self.data["thickness"]), mm(self.data["length"])
        self.legs = self.data["section"][::2]
        self.bends = self.data["section"][1::2]
        self.flats = [mm(leg["leg"]) - sum(self.setbacks(n, leg["dimensions"])) for n, leg in enumerate(self.legs)]
        self.starts = [0.0]
        for flat, bend in zip(self.flats, self.bends, strict=False):
            self.starts.append(self.starts[-1] + flat + self.allowance(bend))
        self.width = self.starts[-1] + self.flats[-1]

    def allowance(self, bend: dict[str, Any]) -> float:
        return bend["bend"] * math.pi / 180 * (mm(bend["inside_radius"]) + bend["k"] * self.t)

    def setbacks(self, leg: int, mode: str) -> tuple[float, float]:
        """At the left and the right of a leg; none at an edge."""
        found = []
        for n in (leg - 1, leg):
            if not 0 <= n < len(self.bends):
                found.append(0.0)
                continue
            angle, r = self.bends[n]["bend"], mm(self.bends[n]["inside_radius"])
            if mode in ("overall", "inside-overall"):
                angle = min(angle, 90)
            found.append((r + (self.t if mode in ("mould-line", "overall") else 0)) * math.tan(angle * math.pi / 360))
        return found[0], found[1]

    @cached_property
    def holes(self) -> list[Hole]:
        return [hole for table in self.data.get("opening", []) for hole in self._row(table)]

    def _row(self, table: dict[str, Any]) -> list[Hole]:
        mark = table["leg"]
        names = [leg["name"] for leg in self.legs]
        leg = mark - 1 if isinstance(mark, int) else names.index(mark)
        left, right = self.setbacks(leg, table.get("dimensions", self.legs[leg]["dimensions"]))
        xs = places(table, "across", "left", left + self.flats[leg] + right)
        ys = places(table, "along", "bottom", self.length)
        wide, high = (mm(table.get("diameter", table.get(key, 0))) for key in ("size_across", "size_along"))
        corner, turn = mm(table.get("corner_radius", 0)), float(table.get("turn", 0))
        through = "through" in table
        return [Hole(leg, x - left, y, table["shape"], wide, high, corner, turn, through) for y in ys for x in xs]

    def in_flat(self, hole: Hole) -> tuple[float, float]:
        """Centre in the uncut flat."""
        return self.starts[hole.leg] + hole.x, hole.y

    def on_leg(self, hole: Hole) -> bool:
        """Whether its axis meets the flat of its leg."""
        return 0 <= hole.x <= self.flats[hole.leg]


def places(table: dict[str, Any], key: str, low: str, width: float) -> list[float]:
    """Places of one opening or a row of them, from the low end of ``width`` [mm]."""
    start, first = table.get(f"{key}_from", low), mm(table.get(key, 0))
    row = table.get(f"row_{key}", {"count": 1})
    pitch, count = mm(row.get("pitch", 0)), row.get("count")
    if "last" in row:
        span = width - first - mm(row["last"])
        if count is None:
            count = int(span / pitch + 1e-9) + 1
        else:
            pitch = span / (count - 1)
    if start == "middle":
        return [width / 2 + first + (n - (count - 1) / 2) * pitch for n in range(count)]
    return [first + n * pitch if start == low else width - first - n * pitch for n in range(count)]


def shift_of(hand: Hand, flat: FlatPattern) -> tuple[float, float]:
    """From the uncut part by hand to the flat, which a cut may have moved: see the head of this module."""
    lines = [line[0][0] for bend in flat.bends for line in bend.tangents]
    expected = [x for n in range(len(hand.bends)) for x in (hand.starts[n] + hand.flats[n], hand.starts[n + 1])]
    measured = np.array(sorted(lines)) - np.array(expected)
    assert measured == pytest.approx(np.full(len(lines), measured[0]), abs=1e-6)
    return float(measured[0]), -float(flat.panels[flat.root].placed[1, 3])


def region_of(flat: FlatPattern, sagitta: float = 1e-4) -> Any:
    """What is drawn as metal, as a plane polygon."""
    import shapely

    return shapely.Polygon(flat.outline.points(sagitta), [loop_points(o, sagitta) for o in flat.openings])


def loop_points(loop: Loop, sagitta: float) -> list[tuple[float, float]]:
    found = loop.points(sagitta)
    return found if len(found) > 2 else [piece.at(n / 64) for piece in loop for n in range(64)]


@pytest.mark.parametrize("seed", both(THOROUGH))
def test_openings_of_random_sections_are_where_a_hand_formula_puts_them(seed: int, folder: Path) -> None:
    """``job.unfolded`` has its own identities; here every centre to 1e-6 mm, and areas and points on top of them.

    One test per part rather than one per question: the part is what takes time.
    """
    part = opened_part(seed, folder)
    assert {code for text in part.refused for code in text.split("+")} <= EXPECTED & set(CODES), part.refused
    hand = Hand(part.path)
    worst = check_centres(part, hand)
    assert worst < 1e-6
    if not hand.data.get("cut"):
        assert part.made.flat.width == pytest.approx(hand.width, abs=1e-6)
        assert part.made.flat.length == pytest.approx(hand.length, abs=1e-6)
    if seed % 2 == 0:
        assert area_gap(part, hand) < 1e-6
    if seed % 2 == 1 or seed % 10 == 0:
        check_points(part, hand, random.Random(f"points {seed}"))


def check_centres(part: Part, hand: Hand) -> float:
    """Every axis on its leg's flat: the home that is told, and a loop of the flat around it; worst centre [mm]."""
    flat, homes = part.made.flat, part.made.homes
    assert len(part.profile.openings) == len(hand.holes)
    if not hand.holes:
        return 0.0
    dx, dy = shift_of(hand, flat)
    own = {h.opening: h for h in homes if h.leg == hand.holes[h.opening].leg}
    worst = 0.0
    for n, hole in enumerate(hand.holes):
        if not hand.on_leg(hole):
            continue
        x, y = hand.in_flat(hole)
        x, y = x + dx, y + dy
        worst = max(worst, math.dist(own[n].centre, (x, y)))
        check_loop(part, hand, n, (x, y), own[n].flat)
    return worst


def check_loop(part: Part, hand: Hand, number: int, centre: tuple[float, float], told: int | None) -> None:
    """The loop of the flat around a centre is the one told; without cuts there is one; alone, it is its shape."""
    import shapely

    flat, hole = part.made.flat, hand.holes[number]
    inside = [
        n
        for n, loop in enumerate(flat.openings)
        if shapely.Polygon(loop_points(loop, 1e-3)).contains(shapely.Point(centre))
    ]
    assert told == (inside[0] if inside else None)
    if hand.data.get("cut"):
        drawn = shapely.Polygon(flat.outline.points(1e-3))
        assert inside or not drawn.buffer(-NEAR).contains(shapely.Point(centre))
        return
    assert len(inside) == 1
    if alone(hand, number):
        loop = flat.openings[inside[0]]
        assert loop.area == pytest.approx(hole.area, rel=1e-6)
        middle = shapely.Polygon(loop_points(loop, 1e-6)).centroid
        assert math.dist((middle.x, middle.y), centre) < 1e-6


def alone(hand: Hand, number: int) -> bool:
    """Whether an opening lies on its leg's flat, and nothing else can have touched it."""
    import shapely

    hole = hand.holes[number]
    shape = hole.polygon(400)
    if hole.through or not shapely.box(0, 0, hand.flats[hole.leg], hand.length).buffer(-0.01).contains(shape):
        return False
    others = [h for n, h in enumerate(hand.holes) if n != number]
    plain = all(hand.on_leg(h) and not h.through for h in others)
    return plain and all(
        shapely.box(0, 0, hand.flats[h.leg], hand.length).contains(h.polygon(400))
        and (h.leg != hole.leg or h.polygon(400).distance(shape) > 0.01)
        for h in others
    )


def area_gap(part: Part, hand: Hand) -> float:
    """Relative difference of the flat's area: the blank less circles, slots and rectangles, those that overlap once."""
    import shapely
    from shapely import affinity

    shapes = [affinity.translate(h.polygon(), hand.starts[h.leg], 0.0) for h in hand.holes]
    legs = [shapely.box(s, 0, s + f, hand.length) for s, f in zip(hand.starts, hand.flats, strict=True)]
    assert all(legs[h.leg].contains(s) for h, s in zip(hand.holes, shapes, strict=True))
    taken = 0.0
    for n, shape in enumerate(shapes):
        if not any(shape.intersects(other) for m, other in enumerate(shapes) if m != n):
            taken += hand.holes[n].area
    joined = [s for n, s in enumerate(shapes) if any(s.intersects(o) for m, o in enumerate(shapes) if m != n)]
    taken += float(shapely.union_all(joined).area) if joined else 0.0
    expected = hand.width * hand.length - taken
    return abs(part.made.flat.area / expected - 1)


def check_points(part: Part, hand: Hand, rng: random.Random) -> None:
    """Points drawn as metal lie on at least one face of the formed solid, points drawn as none on neither."""
    import shapely

    flat = part.made.flat
    drawn = region_of(flat)
    edges = drawn.boundary
    fold, skins = Folding(hand, flat), Skins(part.made.solid)
    judged = {True: 0, False: 0}
    for x, y in samples(hand, flat, fold, rng):
        if edges.distance(shapely.Point(x, y)) < NEAR or not fold.clear(x):
            continue
        metal = bool(drawn.contains(shapely.Point(x, y)))
        near, far = (skins.holds(fold.carried(x, y, z)) for z in (flat.thickness, 0.0))
        assert (near or far) == metal, f"({x}, {y}) is drawn as {metal}, near {near}, far {far}"
        judged[metal] += 1
    assert judged[True] >= 5
    if hand.holes or hand.data.get("cut"):
        assert judged[False] >= 3


def samples(hand: Hand, flat: FlatPattern, fold: Folding, rng: random.Random) -> list[tuple[float, float]]:
    """Over the uncut blank, then to both sides of drawn edges, close to them."""
    found = [(fold.dx + rng.uniform(0, hand.width), fold.dy + rng.uniform(0, hand.length)) for _ in range(16)]
    loops = [flat.outline, *flat.openings]
    while len(found) < 40:
        piece = rng.choice(rng.choice(loops).pieces)
        share, step = rng.uniform(0.05, 0.95), rng.choice((0.025, 0.03, 0.3))
        (x0, y0), (x1, y1) = piece.at(share - 1e-4), piece.at(share + 1e-4)
        away = math.dist((x0, y0), (x1, y1))
        for side in (-step, step):
            x, y = (x0 + x1) / 2 + side * (y1 - y0) / away, (y0 + y1) / 2 - side * (x1 - x0) / away
            found.append((x, y))
    low, high = (fold.dx, fold.dy), (fold.dx + hand.width, fold.dy + hand.length)
    return [(x, y) for x, y in found if low[0] < x < high[0] and low[1] < y < high[1]]


class Folding:
    """Points of the flat carried to the formed part, also where no metal is drawn: by the uncut legs' own strips."""

    def __init__(self, hand: Hand, flat: FlatPattern) -> None:
        self.hand, self.flat = hand, flat
        self.dx, self.dy = shift_of(hand, flat)
        self.home = flat.panels[flat.root].placed
        self.placed = placements(flat)
        self.panels = {panel.name: n for n, panel in enumerate(flat.panels)}

    def clear(self, x: float) -> bool:
        """Whether no tangent line is so near that rounding decides between leg and bend."""
        ends = [(s, s + f) for s, f in zip(self.hand.starts, self.hand.flats, strict=True)]
        return all(abs(x - self.dx - at) > 1e-4 for pair in ends for at in pair)

    def carried(self, x: float, y: float, z: float) -> np.ndarray:
        """A point of the formed part [mm]."""
        at, spot = x - self.dx, np.array([[x, y, z]])
        leg = max(n for n, start in enumerate(self.hand.starts) if n == 0 or at >= start)
        if at <= self.hand.starts[leg] + self.hand.flats[leg]:
            panel = self.panels[self.hand.legs[leg]["name"]]
            return fold_panel(self.home @ self.placed[panel], spot)[0]
        bend = self.flat.bends[leg]
        return fold_zone(self.flat, bend, self.home @ self.placed[bend.first], spot)[0]


class Skins:
    """The boundary of a solid: the kernel's classifier asks, its search for extrema has the last word."""

    def __init__(self, solid: Any) -> None:
        from OCP.BRepClass3d import BRepClass3d_SolidClassifier

        self.shell = solid.Shells()[0].wrapped
        self.classifier = BRepClass3d_SolidClassifier(solid.wrapped)

    def holds(self, point: np.ndarray) -> bool:
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
        from OCP.BRepExtrema import BRepExtrema_DistShapeShape
        from OCP.gp import gp_Pnt
        from OCP.TopAbs import TopAbs_ON

        spot = gp_Pnt(*(float(c) for c in point))
        self.classifier.Perform(spot, ON)
        if self.classifier.State() == TopAbs_ON:
            return True
        vertex = BRepBuilderAPI_MakeVertex(spot).Vertex()
        return bool(BRepExtrema_DistShapeShape(vertex, self.shell).Value() < ON)


@pytest.mark.parametrize("seed", both(THOROUGH // 5, step=2))
def test_round_openings_on_legs_are_circles_of_the_dxf(seed: int, tmp_path: Path, folder: Path) -> None:
    """Read back by the DXF library: one CIRCLE for every round opening that touches nothing else, and no others."""
    import ezdxf

    part = opened_part(seed, folder)
    hand = Hand(part.path)
    job.draw(part.path, tmp_path / "out", Options(kinds=("cut",)))
    document = ezdxf.readfile(tmp_path / "out" / f"{part.profile.name}.cut.dxf")
    circles = [(c.dxf.center.x, c.dxf.center.y, c.dxf.radius) for c in document.modelspace().query("CIRCLE")]
    expected = [
        (*hand.in_flat(h), h.wide / 2) for n, h in enumerate(hand.holes) if h.kind == "round" and alone(hand, n)
    ]
    assert np.array(sorted(circles)) == pytest.approx(np.array(sorted(expected)), abs=1e-6)


def test_a_sliver_smaller_than_its_chords_are_fine_has_an_area() -> None:
    """An arc of 2 mm radius over 4 degrees and its chord, 0.0014 mm high: still a polygon of three points or more."""
    arc = Arc((0.0, 0.0), 2.0, 2.0, -4.0)
    points = Loop((arc, Line(arc.end, arc.start))).points(0.01)
    assert len(points) >= 3
    assert max(x for x, _ in points) == pytest.approx(2.0, abs=1e-9)


SHARE = [24, pytest.param(THOROUGH, marks=pytest.mark.thorough)]


@pytest.mark.parametrize("count", SHARE)
def test_most_random_definitions_can_be_made(count: int, folder: Path) -> None:
    """Of all definitions with openings and cuts less than 40 % are refused: the tests above see what is usual."""
    refused = [opened_part(seed, folder).refused for seed in range(1, count, 2)]
    tries = len(refused) + sum(len(r) for r in refused)
    assert 1 - len(refused) / tries < 0.4


def check_often(part: Part, hand: Hand) -> None:
    """One draw of 40 points may pass by one opening of many; forty draws do not."""
    for draw in range(40):
        check_points(part, hand, random.Random(draw))


@pytest.mark.parametrize("sabotage", ["moved", "larger"])
def test_a_wrong_flat_is_noticed(sabotage: str, folder: Path) -> None:
    """The checks above can fail: one opening of the flat is moved by 0.1 mm, or drawn 0.1 mm larger."""
    from dataclasses import replace

    part = opened_part(2, folder)
    hand, flat = Hand(part.path), part.made.flat
    number = next(n for n, h in enumerate(hand.holes) if h.kind == "round" and alone(hand, n))
    first = part.made.homes[number].flat
    assert first is not None
    circle = flat.openings[first].pieces[0]
    assert isinstance(circle, Arc)
    wrong = replace(circle, centre=(circle.centre[0] + 0.1, circle.centre[1]))
    if sabotage == "larger":
        wrong = replace(circle, radius=circle.radius + 0.1)
    openings = (*flat.openings[:first], Loop((wrong,)), *flat.openings[first + 1 :])
    other = replace(part, made=replace(part.made, flat=replace(flat, openings=openings)))
    with pytest.raises(AssertionError):
        check_centres(other, hand)
    with pytest.raises(AssertionError, match="is drawn as"):
        check_many_points(other, hand)


def check_many_points(part: Part, hand: Hand) -> None:
    """Forty draws: one draw of 40 points may pass by one opening of many."""
    for draw in range(40):
        check_points(part, hand, random.Random(draw))
