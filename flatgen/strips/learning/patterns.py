"""Words of the report on strips: patterns in what was measured, axes and tables. Imports nothing of ours."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from flatgen.strips.learning.misfit import Residual
from flatgen.strips.learning.model import Learned
from flatgen.strips.learning.posterior import aligned, covariance_of
from flatgen.strips.learning.priors import angle_class
from flatgen.strips.learning.rows import Array, Rows, rows_of
from flatgen.strips.reading import BendReading, StripReading

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
"""Of a report that tells a pattern where there is none [-]: own choice."""

LEAST = 2
"""Bends on either side of a comparison at least."""

ARMS_APART = 1.5
"""Arms are compared where the longest is so many times the shortest [-]: own choice."""

Way = Callable[[StripReading, Rows], Array]


@dataclass(frozen=True)
class Pattern:
    """A pattern: ``what`` sort, its ``size`` and ``spread`` in ``unit`` (mm or deg), by how many spreads it is off 0
    (``share``), and how many were looked for (``tests``); advice has no size.
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
class _Asked:
    """A pattern to look for, and how it is told."""

    what: str
    sort: str
    way: Way
    text: str
    remedy: str
    said: dict[str, object] = field(default_factory=dict)


def patterns(known: Learned, readings: Sequence[StripReading], residuals: Sequence[Residual]) -> tuple[Pattern, ...]:
    """Patterns that chance would not make, the strongest of each sort, then advice on what cannot be seen.

    :param residuals: of ``residuals(known, readings)``
    :returns: sizes in [mm] and [deg]
    """
    asked = _asked(readings)
    rows = [rows_of(s, known.prior).seen for s in readings]
    held = [_Held(known, r) for r in rows]
    found: dict[str, Pattern] = {}
    for one in asked:
        ways = [one.way(s, r) for s, r in zip(readings, rows, strict=True)]
        size, spread = _size(known, held, ways)
        if not math.isfinite(spread) or spread <= 0:
            continue
        spread *= _rough(residuals, one.sort, size / spread)
        share = abs(size) / spread
        if math.erfc(share / math.sqrt(2)) * len(asked) >= CHANCE:
            continue
        before = found.get(one.what)
        if before is None or share > (before.share or 0.0):
            found[one.what] = _told(one, size, spread, share, len(asked))
    return (*sorted(found.values(), key=lambda p: -(p.share or 0.0)), *_unseen(readings))


def looked_for(readings: Sequence[StripReading]) -> int:
    """How many patterns these strips allow to look for."""
    return len(_asked(readings))


class _Held:
    """What of a strip does not depend on the pattern: inverse covariances, gaps, slopes."""

    def __init__(self, known: Learned, rows: Rows) -> None:
        posterior = known.posterior
        self.slope, _ = aligned(rows, posterior.unknowns)
        self.inverse = np.linalg.inv(covariance_of(rows, posterior.members.scatter)) if rows.names else None
        self.gap = (rows.measured - rows.expected)[None] - posterior.means @ self.slope.T


def _size(known: Learned, strips: Sequence[_Held], ways: Sequence[Array]) -> tuple[float, float]:
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


def _rough(residuals: Sequence[Residual], sort: str, share: float) -> float:
    """How many times farther numbers of a sort scatter than the model says, the pattern taken out; 1 at least."""
    squares = [r.share**2 for r in residuals if r.what == sort]
    if len(squares) < 2:
        return 1.0
    return math.sqrt(max(1.0, (math.fsum(squares) - share**2) / (len(squares) - 1)))


def _asked(readings: Sequence[StripReading]) -> list[_Asked]:
    """The patterns that there are numbers enough for."""
    turned = [(s, b) for s in readings for b in s.bends if b.set is not None and b.got is not None]
    placed = [(s, b) for s in readings for n, b in enumerate(s.bends) if b.sight is not None and _told_of(s, n)]
    return [*_by_place(turned, placed), *_by_angle(turned), *_by_arm(turned), *_by_slip(placed), *_by_strip(readings)]


def _told_of(strip: StripReading, bend: int) -> bool:
    return strip.legs[bend].got is not None or strip.legs[bend + 1].got is not None


Bends = Sequence[tuple[StripReading, BendReading]]


def _by_place(turned: Bends, placed: Bends) -> list[_Asked]:
    found = []
    ends = _count(turned, "left"), _count(turned, "right")
    if min(ends) >= LEAST:
        told: dict[str, object] = {"left": ends[0], "right": ends[1]}
        found.append(_Asked("twist", "angle", _on_angles(_side), TWIST, TWIST_DO, told))
    inner, outer = _count(turned, "middle"), sum(ends)
    if min(inner, outer) >= LEAST:
        told = {"inner": inner, "outer": outer}
        found.append(_Asked("middle", "angle", _on_angles(_inner), MIDDLE, MIDDLE_DO, told))
    ends = _count(placed, "left"), _count(placed, "right")
    if min(ends) >= LEAST:
        told = {"left": ends[0], "right": ends[1]}
        found.append(_Asked("askew", "leg", _on_lines(_side), ASKEW, ASKEW_DO, told))
    return found


def _by_angle(turned: Bends) -> list[_Asked]:
    classes = [angle_class(b.angle) for _, b in turned]
    if len(set(classes)) < 2:
        return []
    found = []
    for at in sorted(set(classes)):
        if LEAST <= classes.count(at) <= len(classes) - LEAST:

            def one(bend: BendReading, _: StripReading, at: float = at) -> float:
                return float(angle_class(bend.angle) == at)

            said: dict[str, object] = {"angle": at, "bends": classes.count(at)}
            found.append(_Asked("angle", "angle", _on_angles(one), CLASS, CLASS_DO, said))
    return found


def _by_arm(turned: Bends) -> list[_Asked]:
    arms = sorted(b.arm / s.nominal for s, b in turned)
    if len(arms) < 2 * LEAST or arms[-1] < ARMS_APART * max(arms[0], 1e-9):
        return []
    middle = (arms[(len(arms) - 1) // 2] + arms[len(arms) // 2]) / 2
    count = sum(a > middle for a in arms)
    if not LEAST <= count <= len(arms) - LEAST:
        return []

    def long(bend: BendReading, strip: StripReading) -> float:
        return float(bend.arm / strip.nominal > middle)

    said: dict[str, object] = {"arm": middle, "bends": count}
    return [_Asked("arm", "angle", _on_angles(long), ARM, ARM_DO, said)]


def _by_slip(placed: Bends) -> list[_Asked]:
    classes = {angle_class(b.angle) for _, b in placed}
    if len(classes) < 2 or len(placed) < 2 * LEAST:
        return []
    middle = math.fsum(b.angle for _, b in placed) / len(placed)

    def farther(bend: BendReading, _: StripReading) -> float:
        return (bend.angle - middle) / 90.0

    return [_Asked("slip", "leg", _on_lines(farther), SLIP, SLIP_DO, {"bends": len(placed)})]


def _by_strip(readings: Sequence[StripReading]) -> list[_Asked]:
    """Single strips: from the second on, since one alone is what it is compared with."""
    if len(readings) < 2:
        return []
    found = []
    for strip in readings:

        def own(bend: BendReading, other: StripReading, strip: StripReading = strip) -> float:
            return float(other is strip)

        turned = sum(b.set is not None and b.got is not None for b in strip.bends)
        lined = sum(b.sight is not None and _told_of(strip, n) for n, b in enumerate(strip.bends))
        if turned >= LEAST:
            said: dict[str, object] = {"strip": strip.name, "bends": turned}
            text, remedy = STRIP_ANGLES, _at_an_end(strip, STRIP_ANGLES_DO)
            found.append(_Asked(f"angles of {strip.name}", "angle", _on_angles(own), text, remedy, said))
        if lined >= LEAST:
            said = {"strip": strip.name, "bends": lined}
            text, remedy = STRIP_LEGS, STRIP_LEGS_DO
            found.append(_Asked(f"legs of {strip.name}", "leg", _on_lines(own), text, remedy, said))
    return found


def _at_an_end(strip: StripReading, remedy: str) -> str:
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
        found = [factor(strip.bends[n], strip) if sort == "angle" else 0.0 for sort, n in rows.names]
        return np.array(found)

    return way


def _on_lines(factor: Callable[[BendReading, StripReading], float]) -> Way:
    """A way that moves bends off their lines, so that the held leg grows by a factor each."""

    def way(strip: StripReading, rows: Rows) -> Array:
        return np.asarray(rows.placed @ np.array([factor(b, strip) for b in strip.bends]))

    return way


def _told(one: _Asked, size: float, spread: float, share: float, tests: int) -> Pattern:
    unit, places = ("deg", 1) if one.sort == "angle" else ("mm", 2)
    said = one.said | {
        "off": f"{abs(size):.{places}f} {unit}",
        "give": GIVE.format(spread=f"{1.96 * spread:.{places}f}"),
        "more": MORE if size > 0 else LESS,
        "longer": LONGER if size > 0 else SHORTER,
    }
    return Pattern(one.what, one.text.format(**said), one.remedy, size, spread, unit, share, tests)


def _unseen(readings: Sequence[StripReading]) -> list[Pattern]:
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
