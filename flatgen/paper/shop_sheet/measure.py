"""What to measure after every bend with the part in hand: which size, its expected value and limits.

At a stage the bends up to it are made, all others are flat. Beside the new bend there is a leg on each side; it is
measured from the outside of the bend, across whatever is still flat behind it, to the next bend that is made or to a
free edge:

face       at a square bend: the outer face of the other leg
outside    at a bend beyond 90 degrees: where the curve reaches farthest along the leg
crossing   at a shallower bend: where the outer faces cross when lengthened, on a card that an end was traced on
edge       a free edge

The limits are those of ISO 2768-1 for the *finished* size of the leg, which is never more than what is measured; for
the angle, for the shorter of its finished legs. Millimetres and degrees.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Crease, Face, Schedule, Stage, Which
from flatgen.core.tolerances import ToleranceClass, angular, linear
from flatgen.definition.part import Part
from flatgen.metal.allowance import setback
from flatgen.paper.shop_sheet.runs import Run, Runs, following, run, runs_of

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

    Parameters
    ----------
    part : Part
        The part, [mm]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule
        Its stages, [mm]
    grade : ToleranceClass
        Tolerance class of ISO 2768-1, [-]

    Returns
    -------
    tuple[Measure, ...]
        In the order of bending; held side first, [mm]
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

    Parameters
    ----------
    part : Part
        The part, [mm]
    flat : FlatPattern
        Its flat, [mm]
    grade : ToleranceClass
        Tolerance class of ISO 2768-1, [-]

    Returns
    -------
    tuple[tuple[AngleCheck, ...], tuple[LengthCheck, ...]]
        Angles and lengths, in the order of the bends, [mm]
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
