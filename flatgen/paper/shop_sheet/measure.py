"""How far metal runs across a flat, from one bend to where somebody can put a jaw or a rule: to the next bend that is
made, or to a free edge. For any tree of legs, while some bends are made and others are still flat.

run        the straight way across a leg, and on over bends that are not made, on one side of a bend
stop       the made bend that ends a run; a run without one ends with a free edge

Millimetres. All places are those of the flat, where what is not bent lies as it is.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from typing import Literal

from flatgen.brake.creases import creases_of_flat
from flatgen.core.flat_pattern import FlatPattern, Line, Point, legs_of
from flatgen.core.schedule import Crease, Face, Schedule, Stage, Which
from flatgen.core.tolerances import ToleranceClass, angular, linear
from flatgen.definition.model import Profile
from flatgen.definition.part import Part
from flatgen.metal.allowance import setback

PARALLEL = 1e-9
"""Bends whose directions differ by less run alike."""

SAME = 1e-3
"""Places that differ by less are one [mm]."""

EVEN = 0.8
"""Share of a bend's extent over which an edge must run beside it to be called straight there."""


@dataclass(frozen=True)
class Runs:
    """A flat whose runs are asked for: its bends, in their order, and points of the metal of each leg [mm]."""

    creases: tuple[Crease, ...]
    metal: tuple[tuple[Point, ...], ...]

    def crease(self, label: str) -> Crease:
        """Bend of a label."""
        return next(c for c in self.creases if c.label == label)


@dataclass(frozen=True)
class Run:
    """``length`` [mm] from a bend's tangent line to ``stop``'s, or to a free edge where that is None.

    ``even`` is False where the edge does not run beside the bend, so that the run is the longest place. ``chain`` are
    the bends straight across that are crossed, none of them made; ``last`` is the leg behind them.
    """

    length: float
    stop: Crease | None
    even: bool
    chain: tuple[Crease, ...]
    last: int


def runs_of(part: Part, flat: FlatPattern) -> Runs:
    """What the runs of a flat are found from.

    :returns: legs counted as the part counts them
    """
    panels = legs_of(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    metal = []
    for panel in panels:
        loops = [r.outline for r in flat.panels[panel].regions]
        corners = [p for loop in loops for p in loop.points(SAME)]
        metal.append((*corners, *(p.at(0.5) for loop in loops for p in loop if isinstance(p, Line))))
    return Runs(creases_of_flat(part, flat), tuple(metal))


def run(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> Run | None:
    """The run on one side of a bend.

    :param made: labels of the bends that are made
    :returns: none where neither a free edge nor a parallel bend ends it
    """
    legs = _together(runs, crease, which, made)
    stops = [c for c in runs.creases if c.label in made and _end_beside(crease, c, which, legs)]
    tangent = crease.side(which).tangent
    sign = 1.0 if which == "second" else -1.0
    if stops:
        stop = max(stops, key=lambda c: (round(_overlap(crease, c), 3), -abs(_near(c, which) - tangent)))
        return Run(max(sign * (_near(stop, which) - tangent), 0.0), stop, True, *_chain(runs, crease, which, made))
    walls = [c for c in runs.creases if c.label in made and c is not crease and {c.first.leg, c.second.leg} & legs]
    return _to_edge(runs, crease, which, made, legs, walls)


def following(runs: Runs, crease: Crease, which: Which, leg: int) -> Crease | None:
    """The bend at the other end of a leg, straight across from a bend.

    :param which: the side that the leg lies on
    :returns: of several the one that overlaps most; None where the leg ends without a bend
    """
    found = [c for c in runs.creases if _end_beside(crease, c, which, {leg})]
    return max(found, key=lambda c: round(_overlap(crease, c), 3), default=None)


def _to_edge(
    runs: Runs, crease: Crease, which: Which, made: Set[str], legs: Set[int], walls: list[Crease]
) -> Run | None:
    """Run to the farthest metal, if that is a free edge."""
    (u, v), sign, tangent = crease.across, 1.0 if which == "second" else -1.0, crease.side(which).tangent
    places = [(sign * (p[0] * u + p[1] * v - tangent), p) for leg in legs for p in runs.metal[leg]]
    if not places:
        return Run(0.0, None, True, *_chain(runs, crease, which, made))
    most = max(place for place, _ in places)
    there = [p for place, p in places if place > most - SAME]
    if all(any(_on_tangent(w, p) for w in walls) for p in there):
        return None
    alongs = [p[1] * u - p[0] * v for p in there]
    even = max(alongs) - min(alongs) >= EVEN * crease.extent
    return Run(max(most, 0.0), None, even, *_chain(runs, crease, which, made))


def _together(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> set[int]:
    """Legs that still lie in one plane with the leg on one side of a bend."""
    found = {crease.side(which).leg}
    todo = list(found)
    while todo:
        here = todo.pop()
        for other in runs.creases:
            ends = {other.first.leg, other.second.leg}
            if other is not crease and other.label not in made and here in ends:
                todo += ends - found
                found |= ends
    return found


def _chain(runs: Runs, crease: Crease, which: Which, made: Set[str]) -> tuple[tuple[Crease, ...], int]:
    """Bends straight across that are not made, up to one that is, and the leg behind the last."""
    leg, found = crease.side(which).leg, []
    here = following(runs, crease, which, leg)
    while here is not None and here.label not in made:
        found.append(here)
        leg = here.side(which).leg
        here = following(runs, here, which, leg)
    return tuple(found), leg


def _end_beside(crease: Crease, other: Crease, which: Which, legs: Set[int]) -> bool:
    """Whether another bend runs beside one, on that side, at the end of one of some legs."""
    if other is crease or _turned(crease, other):
        return False
    near = other.first if which == "second" else other.second
    beyond = (near.tangent - crease.side(which).tangent) * (1.0 if which == "second" else -1.0)
    return near.leg in legs and beyond >= -SAME and _overlap(crease, other) > SAME


def _near(crease: Crease, which: Which) -> float:
    """Tangent line of a bend that looks back, where it is come upon on the way to a side."""
    return (crease.first if which == "second" else crease.second).tangent


def _turned(one: Crease, other: Crease) -> bool:
    return one.across[0] * other.across[0] + one.across[1] * other.across[1] < 1 - PARALLEL


def _overlap(one: Crease, other: Crease) -> float:
    """How far two bends that run alike lie beside one another; without a flat all of it."""
    if one.ends is None or other.ends is None:
        return min(one.extent, other.extent)
    u, v = one.across
    spans = [sorted(y * u - x * v for x, y in c.ends) for c in (one, other) if c.ends is not None]
    return min(s[1] for s in spans) - max(s[0] for s in spans)


def _on_tangent(wall: Crease, point: Point) -> bool:
    """Whether a point lies on a tangent line of a bend."""
    if wall.ends is None:
        return False
    (u, v), (x, y) = wall.across, point
    away = x * u + y * v
    along = sorted(q * u - p * v for p, q in wall.ends)
    beside = along[0] - SAME <= y * u - x * v <= along[1] + SAME
    return beside and min(abs(away - wall.first.tangent), abs(away - wall.second.tangent)) < SAME


SpotKind = Literal["face", "outside", "crossing", "edge", ""]

How = Literal["calliper", "rule", "card", "shallow", "slanted"]

Hand = Literal["held", "swung", ""]

SQUARE = 90.0

SQUARE_WITHIN = 1e-6

LEAST_CROSSING = 15.0
"""Bends under this many degrees leave no sharp crossing of their traced faces [deg]: common practice, no source."""

LONGEST_CALLIPER = 150.0
"""What the usual calliper opens to [mm]: common practice, no source."""

LEAST_BLADE = 10.0
"""Flat that a protractor's blade needs [mm]: common practice, no source."""

CLOSED = 175.0
"""Bends beyond this have no room for a protractor between their legs [deg]: common practice, no source."""


@dataclass(frozen=True)
class Spot:
    """Where a jaw or a rule is put: at bend ``label``, on the face of ``leg`` (its index); nothing for an edge."""

    kind: SpotKind
    label: str = ""
    leg: int | None = None


@dataclass(frozen=True)
class Limits:
    """``expected`` [mm or deg], and plus or minus ``tolerance``, None where the standard has none."""

    expected: float
    tolerance: float | None

    @property
    def least(self) -> float | None:
        """Lower limit, None where there is none [mm or deg]."""
        return None if self.tolerance is None else self.expected - self.tolerance

    @property
    def most(self) -> float | None:
        """Upper limit, None where there is none [mm or deg]."""
        return None if self.tolerance is None else self.expected + self.tolerance


@dataclass(frozen=True)
class Rest:
    """What is left on a side to take an error up.

    ``next``: bend at the other end of the leg that is still to be made, "" where there is none; ``line`` [mm]: its
    sight line from the spot at this bend, on ``face``, where that can be measured; ``takes``: leg behind the bends
    that are still to be made (the leg itself where there are none); ``free``: it ends with an edge.
    """

    next: str
    line: float | None
    face: Face | None
    takes: int
    free: bool


@dataclass(frozen=True)
class LengthCheck:
    """A length to measure along ``leg`` (its index), which lies on the ``hand`` side: from ``start`` to ``end``.

    ``size`` is None where ``how`` says that it cannot be measured ("shallow", "slanted"); ``even`` is False where the
    edge does not run beside the bend, so that the longest place counts; ``finished``: the leg will not change again;
    ``over_flat``: the measure runs on over bends that are still to be made.
    """

    leg: int
    hand: Hand
    how: How
    start: Spot
    end: Spot
    size: Limits | None
    even: bool
    finished: bool
    over_flat: bool
    rest: Rest


@dataclass(frozen=True)
class AngleCheck:
    """The angle of bend ``label`` [deg]; of a hem its ``height`` over the outside [mm] instead.

    ``how``: "protractor"; "card" where legs are too short or too close for one; "height" for a hem.
    """

    label: str
    how: Literal["protractor", "card", "height"]
    angle: Limits
    height: Limits | None


@dataclass(frozen=True)
class Measure:
    """What to measure after the bend that is made as number ``number``; ``offset`` [mm] is that of its set-up."""

    number: int
    label: str
    angle: AngleCheck
    lengths: tuple[LengthCheck, ...]
    offset: float


@dataclass(frozen=True)
class _Asked:
    """What all questions about one part have in common."""

    part: Part
    runs: Runs
    stages: dict[str, Stage]
    grade: ToleranceClass


def measures(part: Part, flat: FlatPattern, schedule: Schedule, *, grade: ToleranceClass = "m") -> tuple[Measure, ...]:
    """What to measure after each stage.

    :param grade: tolerance class of ISO 2768-1
    :returns: in the order of bending; held side first [mm]
    """
    asked = _Asked(part, runs_of(part, flat), {s.crease.label: s for s in schedule.stages}, grade)
    made: set[str] = set()
    found = []
    for stage in schedule.stages:
        made.add(stage.crease.label)
        crease, held = asked.runs.crease(stage.crease.label), stage.sight.held
        sides: tuple[tuple[Hand, Which], ...] = (("held", held), ("swung", "second" if held == "first" else "first"))
        lengths = tuple(_length(asked, crease, which, hand, frozenset(made)) for hand, which in sides)
        known = stage.crease.known
        offset = known.offset if known is not None else (stage.setup or schedule.setup).offset
        found.append(Measure(stage.number, crease.label, _angle(asked, crease), lengths, offset))
    return tuple(found)


def finished(
    part: Part, flat: FlatPattern, *, grade: ToleranceClass = "m"
) -> tuple[tuple[AngleCheck, ...], tuple[LengthCheck, ...]]:
    """What to measure on the finished part: every angle, and every leg once across each way.

    :param grade: tolerance class of ISO 2768-1
    :returns: angles and lengths, in the order of the bends [mm]
    """
    asked = _Asked(part, runs_of(part, flat), {}, grade)
    every = frozenset(c.label for c in asked.runs.creases)
    sides: tuple[Which, ...] = ("first", "second")
    lengths: dict[object, LengthCheck] = {}
    for crease in asked.runs.creases:
        for which in sides:
            check = _length(asked, crease, which, "", every)
            lengths.setdefault((check.leg, frozenset((check.start.label, check.end.label))), check)
    return tuple(_angle(asked, c) for c in asked.runs.creases), tuple(lengths.values())


def _length(asked: _Asked, crease: Crease, which: Which, hand: Hand, made: Set[str]) -> LengthCheck:
    leg = crease.side(which).leg
    way = run(asked.runs, crease, which, made)
    start, side = _spot(asked.part, crease, which)
    rest = _rest(asked, crease, which, made, way, side if start.kind != "crossing" else None)
    if way is None:
        return LengthCheck(leg, hand, "slanted", start, Spot(""), None, True, not rest.next, False, rest)
    end, other = Spot("edge"), 0.0
    if way.stop is not None:
        end, other = _spot(asked.part, way.stop, "first" if which == "second" else "second")
    over = bool(way.chain)
    if _shallow(crease) or (way.stop is not None and _shallow(way.stop)):
        return LengthCheck(leg, hand, "shallow", start, end, None, way.even, not over, over, rest)
    expected = side + way.length + other
    how: How = "calliper" if expected <= LONGEST_CALLIPER else "rule"
    how = "card" if "crossing" in (start.kind, end.kind) else how
    allowed = linear(_finished(asked, crease, which), asked.grade)
    size = Limits(expected, allowed.value if allowed else None)
    return LengthCheck(leg, hand, how, start, end, size, way.even, not over, over, rest)


def _finished(asked: _Asked, crease: Crease, which: Which) -> float:
    """Size of the leg on one side of a bend when all bends are made [mm]."""
    way = run(asked.runs, crease, which, frozenset(c.label for c in asked.runs.creases))
    _, side = _spot(asked.part, crease, which)
    if way is None:
        return side + crease.side(which).flat
    back: Which = "first" if which == "second" else "second"
    return side + way.length + (0.0 if way.stop is None else _spot(asked.part, way.stop, back)[1])


def _spot(part: Part, crease: Crease, which: Which) -> tuple[Spot, float]:
    """Where a leg on one side of a bend is measured from, and how far that lies beyond its tangent line [mm]."""
    beyond = setback(min(crease.angle, 180.0), crease.inside_radius, part.thickness, "overall")
    other = (crease.second if which == "first" else crease.first).leg
    if crease.angle < SQUARE - SQUARE_WITHIN:
        return Spot("crossing", crease.label, other), beyond
    square = crease.angle <= SQUARE + SQUARE_WITHIN
    return Spot("face" if square else "outside", crease.label, other), beyond


def _shallow(crease: Crease) -> bool:
    return crease.angle < LEAST_CROSSING


def _rest(asked: _Asked, crease: Crease, which: Which, made: Set[str], way: Run | None, side: float | None) -> Rest:
    """What is left on a side, with the next sight line where it can be measured from this bend."""
    leg = crease.side(which).leg
    free = way is not None and way.stop is None
    after = following(asked.runs, crease, which, leg)
    if after is None or after.label in made or way is None:
        return Rest("", None, None, leg, free)
    stage = asked.stages.get(after.label)
    line = None
    if stage is not None and side is not None:
        away = stage.sight.from_datum - crease.side(which).tangent
        away = away if which == "second" else -away
        line = side + away if away > 0 else None
    return Rest(after.label, line, stage.sight.face if stage else None, way.last, free)


def _angle(asked: _Asked, crease: Crease) -> AngleCheck:
    t = asked.part.thickness
    shorter = min(_finished(asked, crease, "first"), _finished(asked, crease, "second"))
    allowed = angular(shorter, asked.grade)
    angle = Limits(crease.angle, allowed.value if allowed else None)
    if abs(crease.angle - 180.0) < SQUARE_WITHIN:
        height = 2 * (crease.inside_radius + t)
        within = linear(height, asked.grade)
        return AngleCheck(crease.label, "height", angle, Limits(height, within.value if within else None))
    blade = min(crease.first.flat, crease.second.flat) >= LEAST_BLADE and crease.angle <= CLOSED
    return AngleCheck(crease.label, "protractor" if blade else "card", angle, None)
