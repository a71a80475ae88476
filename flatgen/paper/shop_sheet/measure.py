"""What to measure after each stage and on the finished part: lengths and angles with limits, for any tree of legs.

run    the straight way across a leg on one side of a bend, and on over bends that are still to be made
stop   the bend, already made, that ends a run; a run without one ends with a free edge

Millimetres, at places of the flat.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from typing import Literal

from flatgen.brake.creases import creases_of_flat, other_side
from flatgen.core.flat_pattern import FlatPattern, Line, Point, leg_panels
from flatgen.core.schedule import Crease, Face, Schedule, Stage, WhichSide
from flatgen.core.tolerances import ToleranceClass, angular_tolerance, linear_tolerance
from flatgen.definition.model import Profile
from flatgen.definition.part import Part
from flatgen.metal.allowance import setback

PARALLEL = 1e-9
"""Bends whose directions differ by less run alike."""
SAME = 1e-3
"""Places that differ by less are one [mm]."""
EVEN = 0.8
"""Share of a bend's extent over which an edge must run beside it to be called straight there."""
SpotKind = Literal["face", "outside", "crossing", "edge", ""]
Method = Literal["calliper", "rule", "card", "shallow", "slanted"]
Hand = Literal["held", "swung", ""]
"""Side of a bend; "" on the finished part."""
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
class BendMap:
    """The bends of a flat in their order, and points of the metal of each leg [mm]."""

    creases: tuple[Crease, ...]
    metal: tuple[tuple[Point, ...], ...]

    def crease(self, label: str) -> Crease:
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


@dataclass(frozen=True)
class Spot:
    """Where a jaw or a rule is put: at bend ``label``, on the face of ``leg`` (its index); nothing for an edge."""

    kind: SpotKind
    label: str = ""
    leg: int | None = None


@dataclass(frozen=True)
class Limits:
    """``expected``, and plus or minus ``tolerance`` [mm or deg], None where the standard has none."""

    expected: float
    tolerance: float | None

    @property
    def least(self) -> float | None:
        return None if self.tolerance is None else self.expected - self.tolerance

    @property
    def most(self) -> float | None:
        return None if self.tolerance is None else self.expected + self.tolerance


@dataclass(frozen=True)
class Remainder:
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
    how: Method
    start: Spot
    end: Spot
    size: Limits | None
    even: bool
    finished: bool
    over_flat: bool
    rest: Remainder


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
class StageChecks:
    """What to measure after the bend of this number in the order; ``offset`` of its set-up [mm]."""

    number: int
    label: str
    angle: AngleCheck
    lengths: tuple[LengthCheck, ...]
    offset: float


@dataclass(frozen=True)
class _Context:
    part: Part
    bends: BendMap
    stages: dict[str, Stage]
    grade: ToleranceClass


def stage_checks(
    part: Part, flat: FlatPattern, schedule: Schedule, *, grade: ToleranceClass = "m"
) -> tuple[StageChecks, ...]:
    """What to measure after each stage, in the order of bending; the held side first.

    :param grade: tolerance class of ISO 2768-1
    """
    context = _Context(part, bend_map(part, flat), {s.crease.label: s for s in schedule.stages}, grade)
    made_labels: set[str] = set()
    checks = []
    for stage in schedule.stages:
        made_labels.add(stage.crease.label)
        crease, held = context.bends.crease(stage.crease.label), stage.sight.held
        sides: tuple[tuple[Hand, WhichSide], ...] = (("held", held), ("swung", other_side(held)))
        lengths = tuple(_length_check(context, crease, which, hand, frozenset(made_labels)) for hand, which in sides)
        known = stage.crease.known
        offset = known.offset if known is not None else (stage.setup or schedule.setup).offset
        checks.append(StageChecks(stage.number, crease.label, _angle_check(context, crease), lengths, offset))
    return tuple(checks)


def finished_checks(
    part: Part, flat: FlatPattern, *, grade: ToleranceClass = "m"
) -> tuple[tuple[AngleCheck, ...], tuple[LengthCheck, ...]]:
    """What to measure on the finished part: every angle, and every leg once across each way."""
    context = _Context(part, bend_map(part, flat), {}, grade)
    every = frozenset(c.label for c in context.bends.creases)
    sides: tuple[WhichSide, ...] = ("first", "second")
    lengths: dict[object, LengthCheck] = {}
    for crease in context.bends.creases:
        for which in sides:
            check = _length_check(context, crease, which, "", every)
            lengths.setdefault((check.leg, frozenset((check.start.label, check.end.label))), check)
    return tuple(_angle_check(context, c) for c in context.bends.creases), tuple(lengths.values())


def _length_check(
    context: _Context, crease: Crease, which: WhichSide, hand: Hand, made_labels: Set[str]
) -> LengthCheck:
    leg = crease.side(which).leg
    run = find_run(context.bends, crease, which, made_labels)
    start, side = _spot(context.part, crease, which)
    rest = _remainder(context, crease, which, made_labels, run, side if start.kind != "crossing" else None)
    if run is None:
        return LengthCheck(leg, hand, "slanted", start, Spot(""), None, True, not rest.next, False, rest)
    end, other = Spot("edge"), 0.0
    if run.stop is not None:
        end, other = _spot(context.part, run.stop, other_side(which))
    over = bool(run.chain)
    if _shallow(crease) or (run.stop is not None and _shallow(run.stop)):
        return LengthCheck(leg, hand, "shallow", start, end, None, run.even, not over, over, rest)
    expected = side + run.length + other
    how: Method = "calliper" if expected <= LONGEST_CALLIPER else "rule"
    how = "card" if "crossing" in (start.kind, end.kind) else how
    allowed = linear_tolerance(_finished_size(context, crease, which), context.grade)
    size = Limits(expected, allowed.value if allowed else None)
    return LengthCheck(leg, hand, how, start, end, size, run.even, not over, over, rest)


def _finished_size(context: _Context, crease: Crease, which: WhichSide) -> float:
    run = find_run(context.bends, crease, which, frozenset(c.label for c in context.bends.creases))
    _, side = _spot(context.part, crease, which)
    if run is None:
        return side + crease.side(which).flat
    return side + run.length + (0.0 if run.stop is None else _spot(context.part, run.stop, other_side(which))[1])


def _spot(part: Part, crease: Crease, which: WhichSide) -> tuple[Spot, float]:
    """Where a leg on one side of a bend is measured from, and how far that lies beyond its tangent line [mm]."""
    beyond = setback(min(crease.angle, 180.0), crease.inside_radius, part.thickness, "overall")
    other = crease.side(other_side(which)).leg
    if crease.angle < SQUARE - SQUARE_WITHIN:
        return Spot("crossing", crease.label, other), beyond
    square = crease.angle <= SQUARE + SQUARE_WITHIN
    return Spot("face" if square else "outside", crease.label, other), beyond


def _shallow(crease: Crease) -> bool:
    return crease.angle < LEAST_CROSSING


def _remainder(
    context: _Context, crease: Crease, which: WhichSide, made_labels: Set[str], run: Run | None, side: float | None
) -> Remainder:
    leg = crease.side(which).leg
    free = run is not None and run.stop is None
    after = next_crease(context.bends, crease, which, leg)
    if after is None or after.label in made_labels or run is None:
        return Remainder("", None, None, leg, free)
    stage = context.stages.get(after.label)
    line = None
    if stage is not None and side is not None:
        away = stage.sight.from_datum - crease.side(which).tangent
        away = away if which == "second" else -away
        line = side + away if away > 0 else None
    return Remainder(after.label, line, stage.sight.face if stage else None, run.last, free)


def _angle_check(context: _Context, crease: Crease) -> AngleCheck:
    t = context.part.thickness
    shorter = min(_finished_size(context, crease, "first"), _finished_size(context, crease, "second"))
    allowed = angular_tolerance(shorter, context.grade)
    angle = Limits(crease.angle, allowed.value if allowed else None)
    if abs(crease.angle - 180.0) < SQUARE_WITHIN:
        height = 2 * (crease.inside_radius + t)
        within = linear_tolerance(height, context.grade)
        return AngleCheck(crease.label, "height", angle, Limits(height, within.value if within else None))
    blade = min(crease.first.flat, crease.second.flat) >= LEAST_BLADE and crease.angle <= CLOSED
    return AngleCheck(crease.label, "protractor" if blade else "card", angle, None)


def bend_map(part: Part, flat: FlatPattern) -> BendMap:
    """The bends of a flat; legs are counted as the part counts them."""
    panels = leg_panels(flat) if isinstance(part, Profile) else list(range(len(flat.panels)))
    metal = []
    for panel in panels:
        loops = [r.outline for r in flat.panels[panel].regions]
        corners = [p for loop in loops for p in loop.points(SAME)]
        metal.append((*corners, *(p.at(0.5) for loop in loops for p in loop if isinstance(p, Line))))
    return BendMap(creases_of_flat(part, flat), tuple(metal))


def find_run(bends: BendMap, crease: Crease, which: WhichSide, made_labels: Set[str]) -> Run | None:
    """The run on one side of a bend; none where neither a free edge nor a parallel bend ends it."""
    legs = _coplanar_legs(bends, crease, which, made_labels)
    stops = [c for c in bends.creases if c.label in made_labels and _ends_beside(crease, c, which, legs)]
    tangent = crease.side(which).tangent
    sign = 1.0 if which == "second" else -1.0
    if stops:
        stop = max(stops, key=lambda c: (round(_overlap(crease, c), 3), -abs(_near_tangent(c, which) - tangent)))
        length = max(sign * (_near_tangent(stop, which) - tangent), 0.0)
        return Run(length, stop, True, *_chain(bends, crease, which, made_labels))
    walls = [
        c for c in bends.creases if c.label in made_labels and c is not crease and {c.first.leg, c.second.leg} & legs
    ]
    return _to_edge(bends, crease, which, made_labels, legs, walls)


def next_crease(bends: BendMap, crease: Crease, which: WhichSide, leg: int) -> Crease | None:
    """The bend at the other end of a leg on that side of a bend; of several the one that overlaps most."""
    candidates = [c for c in bends.creases if _ends_beside(crease, c, which, {leg})]
    return max(candidates, key=lambda c: round(_overlap(crease, c), 3), default=None)


def _to_edge(
    bends: BendMap, crease: Crease, which: WhichSide, made_labels: Set[str], legs: Set[int], walls: list[Crease]
) -> Run | None:
    """Run to the farthest metal, if that is a free edge."""
    (u, v), sign, tangent = crease.across, 1.0 if which == "second" else -1.0, crease.side(which).tangent
    places = [(sign * (p[0] * u + p[1] * v - tangent), p) for leg in legs for p in bends.metal[leg]]
    if not places:
        return Run(0.0, None, True, *_chain(bends, crease, which, made_labels))
    most = max(place for place, _ in places)
    there = [p for place, p in places if place > most - SAME]
    if all(any(_on_tangent(w, p) for w in walls) for p in there):
        return None
    alongs = [p[1] * u - p[0] * v for p in there]
    even = max(alongs) - min(alongs) >= EVEN * crease.extent
    return Run(max(most, 0.0), None, even, *_chain(bends, crease, which, made_labels))


def _coplanar_legs(bends: BendMap, crease: Crease, which: WhichSide, made_labels: Set[str]) -> set[int]:
    """Legs that still lie in one plane with the leg on one side of a bend."""
    legs = {crease.side(which).leg}
    todo = list(legs)
    while todo:
        here = todo.pop()
        for other in bends.creases:
            ends = {other.first.leg, other.second.leg}
            if other is not crease and other.label not in made_labels and here in ends:
                todo += ends - legs
                legs |= ends
    return legs


def _chain(bends: BendMap, crease: Crease, which: WhichSide, made_labels: Set[str]) -> tuple[tuple[Crease, ...], int]:
    """Bends straight across that are not made, up to one that is, and the leg behind the last."""
    leg, chain = crease.side(which).leg, []
    here = next_crease(bends, crease, which, leg)
    while here is not None and here.label not in made_labels:
        chain.append(here)
        leg = here.side(which).leg
        here = next_crease(bends, here, which, leg)
    return tuple(chain), leg


def _ends_beside(crease: Crease, other: Crease, which: WhichSide, legs: Set[int]) -> bool:
    """Whether another bend runs beside one, on that side, at the end of one of some legs."""
    if other is crease or _not_parallel(crease, other):
        return False
    near = other.side(other_side(which))
    beyond = (near.tangent - crease.side(which).tangent) * (1.0 if which == "second" else -1.0)
    return near.leg in legs and beyond >= -SAME and _overlap(crease, other) > SAME


def _near_tangent(crease: Crease, which: WhichSide) -> float:
    """Tangent line of a bend that looks back, where it is come upon on the way to a side."""
    return crease.side(other_side(which)).tangent


def _not_parallel(one: Crease, other: Crease) -> bool:
    return one.across[0] * other.across[0] + one.across[1] * other.across[1] < 1 - PARALLEL


def _overlap(one: Crease, other: Crease) -> float:
    """How far two bends that run alike lie beside one another; without a flat all of it."""
    if one.ends is None or other.ends is None:
        return min(one.extent, other.extent)
    u, v = one.across
    spans = [sorted(y * u - x * v for x, y in c.ends) for c in (one, other) if c.ends is not None]
    return min(s[1] for s in spans) - max(s[0] for s in spans)


def _on_tangent(wall: Crease, point: Point) -> bool:
    if wall.ends is None:
        return False
    (u, v), (x, y) = wall.across, point
    away = x * u + y * v
    along = sorted(q * u - p * v for p, q in wall.ends)
    beside = along[0] - SAME <= y * u - x * v <= along[1] + SAME
    return beside and min(abs(away - wall.first.tangent), abs(away - wall.second.tangent)) < SAME
