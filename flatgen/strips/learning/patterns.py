"""Patterns in what was measured on strips that chance would not make; and the words of the report on strips."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from flatgen.strips.learning.misfit import Residual
from flatgen.strips.learning.model import Estimates
from flatgen.strips.learning.posterior import align_slopes, covariance_of
from flatgen.strips.learning.priors import angle_class
from flatgen.strips.learning.rows import Array, Rows, rows_of
from flatgen.strips.reading import BendReading, StripReading, has_measured_leg

# patterns: {off} is a size, {spread} 1.96 of its standard deviations
GIVE = "give or take {spread}"
TWIST = (
    "bends made at the right come out {off} {more} than those at the left ({give}; {right} bends at the right, {left} "
    "at the left): the leaf twists, or bears unevenly"
)
TWIST_DO = (
    "bend one strip at the left and one at the right with the same leaf angle and compare; look at the hinges and the "
    "stop of the leaf, and shim the side that gives less"
)
MIDDLE = (
    "bends made in the middle come out {off} {more} than those at the ends ({give}; {inner} bends in the middle, "
    "{outer} at the ends), beyond the deflection that is reckoned"
)
MIDDLE_DO = "look at the beam sizes in the shop file, and at the shim or the truss rod in the middle"
CLASS = (
    "bends of {angle:g} deg come out {off} {more} than the other angles lead to expect ({give}; {bends} bends): "
    "springback does not grow in proportion to the angle here"
)
CLASS_DO = "check the scale of the leaf at this angle with a square or a protractor"
ARM = (
    "bends whose leaf bears farther out than {arm:.1f} thicknesses come out {off} {more} than the others ({give}; "
    "{bends} bends): the swung leg bows more than in proportion"
)
ARM_DO = "let the leaf bear nearer the bend, or bend strips with legs as long as those of the part"
STRIP_ANGLES = "angles of {strip} come out {off} {more} than all the others lead to expect ({give}; {bends} bends)"
STRIP_ANGLES_DO = "look whether it is of another sheet, or the leaf was read otherwise; name its sheet, or withdraw it"
STRIP_AT_END = (
    "{remedy}; all of it was bent at the {place}: bend another one there, since a leaf that twists shows so too"
)
ASKEW = (
    "held legs come out {off} {longer} at the right than at the left ({give}; {right} bends at the right, {left} at "
    "the left): the nose does not stand parallel to the edge of the bed"
)
ASKEW_DO = "measure the nose setting at both ends and set it even"
SLIP = (
    "held legs come out {off} {longer} for each 90 deg that the leaf turns farther ({give}; {bends} bends): the sheet "
    "slips under the clamp bar, or the bar gives"
)
SLIP_DO = "clamp harder, clean nose and bed of oil and chips, and look whether the bar lifts"
STRIP_LEGS = (
    "all held legs of {strip} come out {off} {longer} than those of other strips ({give}; {bends} bends): its lines "
    "were measured from elsewhere, or the nose was moved"
)
STRIP_LEGS_DO = "look at its blank and its lines; withdraw it if it was laid in wrongly"
NO_PLACE = "no strip says where along the brake it was bent, so that twist of the leaf cannot be seen"
ONE_PLACE = "all strips that say where along the brake they were bent were bent at the {place}: twist cannot be seen"
FEW_PLACES = (
    "too few bends are known from both ends of the brake to see twist: {left} at the left, {right} at the right"
)
PLACE_DO = 'bend one strip at the left and one at the right, and write place = "left" and "right" in their forms'
MORE, LESS, LONGER, SHORTER = "more", "less", "longer", "shorter"

# report
TITLE = "What strips have told: {log}"
TYPE = "Report on test strips"
STANDS_OUT = "What is not chance"
NOTHING = (
    "Nothing stands out: no pattern is stronger than chance makes in one report out of a hundred (patterns looked for: "
    "{tests})."
)
NOT_ASKED = "There is too little yet to look for patterns."
HOW = (
    "A dot is a measured number less what all strips together lead to expect. A triangle at the edge lies beyond it. "
    "Expected values know the number itself, so that dots lie a little closer than new ones will."
)
LEGS_BY_STRIP = "Legs by strip: measured less expected, mm"
ANGLES_BY_STRIP = "Angles by strip: measured less expected, degrees"
ANGLES_BY_ANGLE = "Angles by bend angle, degrees"
ANGLES_BY_PLACE = "Angles by place along the brake, degrees"
LEGS_BY_PLACE = "Legs by place along the brake, mm"
LEGS_MEASURED = "Legs, measured up, expected across, mm"
ANGLES_MEASURED = "Angles, measured up, expected across, deg"
PLACES = ("left", "middle", "right", "no place")
STRIPS = "Strips"
HEADS_STRIPS = ("no.", "strip", "sheet or batch", "date", "bent at", "legs", "angles")
FARTHEST = "Numbers farthest from what is expected"
HEADS_FARTHEST = ("strip", "what", "measured", "expected", "off", "times its spread")
OF_ROW = {"leg": "leg {name}", "radius": "radius of bend {name}", "angle": "angle of bend {name}", "blank": "blank"}
CAUTION = (
    "Deburr before measuring. Strength is not judged here: approved drawings, local rules and inspection come first."
)

CHANCE = 0.01
"""Of a report that has a pattern where there is none: own choice."""

LEAST = 2
"""Bends on either side of a comparison at least."""
ARMS_APART = 1.5
"""Arms are compared where the longest is so many times the shortest: own choice."""

Way = Callable[[StripReading, Rows], Array]


@dataclass(frozen=True)
class Pattern:
    """A pattern: ``size`` and ``spread`` in ``unit`` (mm or deg), by how many spreads it is off 0 (``share``), and how
    many were looked for (``tests``); advice has no size.
    """

    what: str
    text: str
    remedy: str
    size: float | None = None
    spread: float | None = None
    unit: str = ""
    share: float | None = None
    tests: int = 0


@dataclass(frozen=True)
class _Test:
    """A pattern to look for in rows of a sort, and its text with the values for it."""

    what: str
    sort: str
    way: Way
    text: str
    remedy: str
    values: dict[str, object] = field(default_factory=dict)


def patterns(known: Estimates, readings: Sequence[StripReading], residuals: Sequence[Residual]) -> tuple[Pattern, ...]:
    """Patterns that chance would not make, the strongest of each sort, then advice on what cannot be seen."""
    tests = _tests(readings)
    rows = [rows_of(s, known.prior).measured_rows for s in readings]
    solved = [_Solved(known, r) for r in rows]
    strongest: dict[str, Pattern] = {}
    for test in tests:
        ways = [test.way(s, r) for s, r in zip(readings, rows, strict=True)]
        size, spread = _size(known, solved, ways)
        if not math.isfinite(spread) or spread <= 0:
            continue
        spread *= _excess_scatter(residuals, test.sort, size / spread)
        share = abs(size) / spread
        if math.erfc(share / math.sqrt(2)) * len(tests) >= CHANCE:
            continue
        before = strongest.get(test.what)
        if before is None or share > (before.share or 0.0):
            strongest[test.what] = _pattern(test, size, spread, share, len(tests))
    return (*sorted(strongest.values(), key=lambda p: -(p.share or 0.0)), *_advice_on_places(readings))


def count_tests(readings: Sequence[StripReading]) -> int:
    """How many patterns these strips allow to look for."""
    return len(_tests(readings))


class _Solved:
    """What of a strip does not depend on the pattern: inverse covariances, gaps, slopes."""

    def __init__(self, known: Estimates, rows: Rows) -> None:
        posterior = known.posterior
        self.slope, _ = align_slopes(rows, posterior.unknowns)
        self.inverse = np.linalg.inv(covariance_of(rows, posterior.members.scatter)) if rows.names else None
        self.gap = (rows.measured - rows.expected)[None] - posterior.means @ self.slope.T


def _size(known: Estimates, strips: Sequence[_Solved], ways: Sequence[Array]) -> tuple[float, float]:
    """Size of a pattern and its spread, the model's own unknowns free beside it."""
    posterior = known.posterior
    pull = np.zeros(len(posterior.weights))
    sharp = np.zeros(len(posterior.weights))
    by_unknowns = np.zeros((len(posterior.weights), len(posterior.unknowns)))
    for strip, way in zip(strips, ways, strict=True):
        if strip.inverse is None or not np.any(way):
            continue
        solved = np.einsum("gij,j->gi", strip.inverse, way)
        pull += np.einsum("gi,gi->g", solved, strip.gap)
        sharp += solved @ way
        by_unknowns += solved @ strip.slope
    sharp = sharp - np.einsum("gi,gij,gj->g", by_unknowns, posterior.covariances, by_unknowns)
    if not np.all(sharp > 1e-9):
        return 0.0, math.inf
    sizes, weights = pull / sharp, posterior.weights
    mean = float(weights @ sizes)
    return mean, math.sqrt(float(weights @ (1 / sharp + (sizes - mean) ** 2)))


def _excess_scatter(residuals: Sequence[Residual], sort: str, share: float) -> float:
    """How many times farther numbers of a sort scatter than the model says, the pattern taken out; 1 at least."""
    squares = [r.share**2 for r in residuals if r.what == sort]
    if len(squares) < 2:
        return 1.0
    return math.sqrt(max(1.0, (math.fsum(squares) - share**2) / (len(squares) - 1)))


def _tests(readings: Sequence[StripReading]) -> list[_Test]:
    """The patterns that there are numbers enough for."""
    every = [(s, n, b) for s in readings for n, b in enumerate(s.bends)]
    swung = [(s, b) for s, _, b in every if b.has_both_angles]
    placed = [(s, b) for s, n, b in every if b.sight is not None and has_measured_leg(s, n)]
    return [*_by_place(swung, placed), *_by_angle(swung), *_by_arm(swung), *_by_slip(placed), *_by_strip(readings)]


Bends = Sequence[tuple[StripReading, BendReading]]


def _by_place(swung: Bends, placed: Bends) -> list[_Test]:
    tests = []
    left, middle, right = (_count(swung, place) for place in ("left", "middle", "right"))
    if min(left, right) >= LEAST:
        counts: dict[str, object] = {"left": left, "right": right}
        tests.append(_Test("twist", "angle", _on_angles(_side), TWIST, TWIST_DO, counts))
    if min(middle, left + right) >= LEAST:
        counts = {"inner": middle, "outer": left + right}
        tests.append(_Test("middle", "angle", _on_angles(_inner), MIDDLE, MIDDLE_DO, counts))
    left, right = _count(placed, "left"), _count(placed, "right")
    if min(left, right) >= LEAST:
        counts = {"left": left, "right": right}
        tests.append(_Test("askew", "leg", _on_lines(_side), ASKEW, ASKEW_DO, counts))
    return tests


def _by_angle(swung: Bends) -> list[_Test]:
    classes = [angle_class(b.angle) for _, b in swung]
    if len(set(classes)) < 2:
        return []
    tests = []
    for at in sorted(set(classes)):
        if LEAST <= classes.count(at) <= len(classes) - LEAST:

            def one(bend: BendReading, _: StripReading, at: float = at) -> float:
                return float(angle_class(bend.angle) == at)

            values: dict[str, object] = {"angle": at, "bends": classes.count(at)}
            tests.append(_Test("angle", "angle", _on_angles(one), CLASS, CLASS_DO, values))
    return tests


def _by_arm(swung: Bends) -> list[_Test]:
    arms = sorted(b.arm / s.nominal for s, b in swung)
    if len(arms) < 2 * LEAST or arms[-1] < ARMS_APART * max(arms[0], 1e-9):
        return []
    middle = (arms[(len(arms) - 1) // 2] + arms[len(arms) // 2]) / 2
    count = sum(a > middle for a in arms)
    if not LEAST <= count <= len(arms) - LEAST:
        return []

    def long(bend: BendReading, strip: StripReading) -> float:
        return float(bend.arm / strip.nominal > middle)

    return [_Test("arm", "angle", _on_angles(long), ARM, ARM_DO, {"arm": middle, "bends": count})]


def _by_slip(placed: Bends) -> list[_Test]:
    classes = {angle_class(b.angle) for _, b in placed}
    if len(classes) < 2 or len(placed) < 2 * LEAST:
        return []
    middle = math.fsum(b.angle for _, b in placed) / len(placed)

    def farther(bend: BendReading, _: StripReading) -> float:
        return (bend.angle - middle) / 90.0

    return [_Test("slip", "leg", _on_lines(farther), SLIP, SLIP_DO, {"bends": len(placed)})]


def _by_strip(readings: Sequence[StripReading]) -> list[_Test]:
    """Single strips: from the second on, since one alone is what it is compared with."""
    if len(readings) < 2:
        return []
    tests = []
    for strip in readings:

        def own(bend: BendReading, other: StripReading, strip: StripReading = strip) -> float:
            return float(other is strip)

        swung = sum(b.has_both_angles for b in strip.bends)
        placed = sum(b.sight is not None and has_measured_leg(strip, n) for n, b in enumerate(strip.bends))
        if swung >= LEAST:
            values: dict[str, object] = {"strip": strip.name, "bends": swung}
            remedy = _remedy_at_end(strip, STRIP_ANGLES_DO)
            tests.append(_Test(f"angles of {strip.name}", "angle", _on_angles(own), STRIP_ANGLES, remedy, values))
        if placed >= LEAST:
            values = {"strip": strip.name, "bends": placed}
            tests.append(_Test(f"legs of {strip.name}", "leg", _on_lines(own), STRIP_LEGS, STRIP_LEGS_DO, values))
    return tests


def _remedy_at_end(strip: StripReading, remedy: str) -> str:
    """What to do about a strip that is off, which may be its end of the brake."""
    places = {b.place for b in strip.bends}
    end = next(iter(places)) if len(places) == 1 else None
    return STRIP_AT_END.format(remedy=remedy, place=end) if end in ("left", "right") else remedy


def _count(bends: Bends, place: str) -> int:
    return sum(b.place == place for _, b in bends)


def _side(bend: BendReading, _: StripReading) -> float:
    return {"left": -0.5, "right": 0.5}.get(bend.place or "", 0.0)


def _inner(bend: BendReading, _: StripReading) -> float:
    """Against the ends alone: bends of no known place are compared with nothing."""
    return {"middle": 0.5, "left": -0.5, "right": -0.5}.get(bend.place or "", 0.0)


def _on_angles(factor: Callable[[BendReading, StripReading], float]) -> Way:
    """A way that moves angles of bends by a factor each."""

    def way(strip: StripReading, rows: Rows) -> Array:
        return np.array([factor(strip.bends[n], strip) if sort == "angle" else 0.0 for sort, n in rows.names])

    return way


def _on_lines(factor: Callable[[BendReading, StripReading], float]) -> Way:
    """A way that moves bends off their lines, so that the held leg grows by a factor each."""

    def way(strip: StripReading, rows: Rows) -> Array:
        return np.asarray(rows.placed @ np.array([factor(b, strip) for b in strip.bends]))

    return way


def _pattern(test: _Test, size: float, spread: float, share: float, tests: int) -> Pattern:
    unit, places = ("deg", 1) if test.sort == "angle" else ("mm", 2)
    values = test.values | {
        "off": f"{abs(size):.{places}f} {unit}",
        "give": GIVE.format(spread=f"{1.96 * spread:.{places}f}"),
        "more": MORE if size > 0 else LESS,
        "longer": LONGER if size > 0 else SHORTER,
    }
    return Pattern(test.what, test.text.format(**values), test.remedy, size, spread, unit, share, tests)


def _advice_on_places(readings: Sequence[StripReading]) -> list[Pattern]:
    """What cannot be seen for want of a place along the brake."""
    places = [b.place for s in readings for b in s.bends if b.place is not None]
    left, right = places.count("left"), places.count("right")
    if not readings or min(left, right) >= LEAST:
        return []
    if not places:
        text = NO_PLACE
    elif len(set(places)) == 1:
        text = ONE_PLACE.format(place=places[0])
    else:
        text = FEW_PLACES.format(left=left, right=right)
    return [Pattern("place", text, PLACE_DO)]
