"""The outlines of one stage for a picture: brake, part before and after, its way, and where it is nearest or stuck."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from flatgen.bend_order.bodies import Swing, bar_outline
from flatgen.bend_order.chain import Chain
from flatgen.bend_order.explain import Inspection, Passage
from flatgen.bend_order.stages import Situation
from flatgen.brake.creases import other_side
from flatgen.core.flat_pattern import Point
from flatgen.core.schedule import Face, WhichSide
from flatgen.core.shop import Leaf

Points = tuple[Point, ...]
Pose = tuple[float, float, float]
"""x and y [mm], and the way that a leg runs from there [rad]."""
BendState = Literal["made", "now", "later"]
Moment = Literal["before", "after"]
STRAY = 0.02
"""Chords stray from their curves by no more than this [mm]."""
GHOSTS = 5
"""Leaf angles at which the swung side is shown on its way, besides the ends: own choice."""
AT_REST = 0.5
"""A leaf at less than this is at rest [deg]."""


@dataclass(frozen=True)
class StageFacts:
    """What is written beside a picture.

    ``number`` of ``total`` from 1; ``angle`` [deg]; names of the ``held`` and the ``swung`` leg; in words what end of
    the sheet lies ``toward`` the worker, the next ``move``, the ``leaf`` angle, and the ways ``into`` and ``out``;
    ``setting`` and ``raised`` [mm]; ``clearance`` [mm], None where nothing comes near, and ``between`` what;
    ``points`` [mm] for a place other than that of the scene; ``close``: less than ``safe`` [mm]; ``refused``: why.
    """

    number: int
    total: int
    label: str
    angle: float
    way: str
    held: str
    swung: str
    face_up: Face
    toward: str
    move: str
    setup: str
    setting: float | None
    leaf: str
    into: str
    out: str
    raised: float = 0.0
    clearance: float | None = None
    between: str = ""
    points: tuple[Point, Point] | None = None
    close: bool = False
    safe: float = 0.0
    refused: str = ""


@dataclass(frozen=True)
class Mark:
    """A bend's place on the mid fibre, the way ``away`` from the inside of its curve (unit), and its state."""

    label: str
    at: Point
    away: Point
    state: BendState


@dataclass(frozen=True)
class Metal:
    """The part at one moment: outline; bends; middles of the ``held``, the ``swung`` and every leg by its number;
    whether the held side is ``flat`` to its edge.
    """

    outline: Points
    marks: tuple[Mark, ...]
    held: Point
    swung: Point
    middles: tuple[tuple[int, Point], ...]
    flat: bool


@dataclass(frozen=True)
class Nearest:
    """Two nearest points and their ``gap`` [mm], ``name`` of the body, leaf ``angle`` [deg]; ``part`` and ``leaf`` as
    they stand then, where other than in the picture that it ``belongs`` to.
    """

    points: tuple[Point, Point]
    gap: float
    name: str
    angle: float
    belongs: Moment
    part: Points | None = None
    leaf: tuple[Points, ...] = ()


@dataclass(frozen=True)
class Scene:
    """All outlines of a stage [mm]; ``top`` [deg]: largest leaf angle, or that at which it ``fails``: ``after`` and
    ``leaf_up`` then show the moment at which something touches; ``line``: where the sight line lies under the
    nose; ``stuck``: where a part that finds no way in or out is held up.
    """

    thickness: float
    bed: Points
    bar: Points
    lifted: Points
    leaf: tuple[Points, ...]
    leaf_up: tuple[Points, ...]
    back: float | None
    hinge: Point
    line: Point
    top: float
    before: Metal
    after: Metal
    ghosts: tuple[Points, ...]
    nearest: Nearest | None = None
    stuck: tuple[Moment, Point] | None = None
    into: str = ""
    out: str = ""
    fails: bool = False


def scene_of(
    situation: Situation, bend: int, held: WhichSide, made: int, inspection: Inspection | None = None
) -> Scene:
    """The picture of one stage, as inspected where it was; ``made``: bends made before it, bit k for bend k."""
    chain, swing, clamp = situation.chain, situation.swing(bend, held), situation.setup.clamp
    t, brake, leaf = chain.thickness, situation.shop.brake, situation.setup.leaf
    bar = _bar(situation)
    sides = _Side.of(chain, bend, held, made), _Side.of(chain, bend, other_side(held), made)
    near = None if inspection is None else _nearest(situation, bend, swing, sides, inspection)
    fails = near is not None and near.gap <= 0 and near.belongs == "after"
    top = math.radians(near.angle) if near is not None and fails else float(swing.top)
    before = _metal(chain, bend, swing, sides, 0.0)
    on_leaf = near is not None and fails and near.part is not None
    after = _metal(chain, bend, swing, sides, top if on_leaf else float(swing.angle), on_leaf=on_leaf)
    angles = [float(swing.top) * k / (GHOSTS + 1) for k in range(1, GHOSTS + 2)]
    if not fails and float(swing.top - swing.angle) < math.radians(AT_REST):
        angles.pop()
    return Scene(
        thickness=t,
        bed=((-brake.bed_depth, -brake.bed_height), (0.0, -brake.bed_height), (0.0, 0.0), (-brake.bed_depth, 0.0)),
        bar=bar,
        lifted=tuple((x, y + clamp.lift) for x, y in bar),
        leaf=_leaf(leaf, brake.hinge, 0.0),
        leaf_up=_leaf(leaf, brake.hinge, top),
        back=None if brake.throat is None else -situation.setting - brake.throat,
        hinge=brake.hinge,
        line=(-situation.setting, t),
        top=math.degrees(top),
        before=before,
        after=after,
        ghosts=tuple(_swept(swing, sides[1], a)[0] for a in angles if not fails or a < top - 0.01),
        nearest=near,
        stuck=None if inspection is None else _stuck(inspection, before, after),
        into="" if inspection is None else inspection.into.how,
        out="" if inspection is None else inspection.out.how,
        fails=fails,
    )


@dataclass(frozen=True)
class _Side:
    """One side of the bend in its own frame: along its leg, toward the inside of the bend; both faces outward from the
    bend.
    """

    outer: Points
    inner: Points
    marks: tuple[Mark, ...]
    middles: tuple[tuple[int, Point], ...]

    @classmethod
    def of(cls, chain: Chain, bend: int, which: WhichSide, made: int) -> _Side:
        half = chain.thickness / 2
        x, y, turn = 0.0, half, 0.0
        spine: list[Pose] = [(x, y, turn)]
        marks: list[Mark] = []
        middles: list[tuple[int, Point]] = []
        for step, near in enumerate((None, *chain.outward(bend, which))):
            if near is not None:
                sign = chain.ups[near] * chain.ups[bend]
                angle = math.radians(chain.angles[near]) if made >> near & 1 else 0.0
                bow = _bow((x, y, turn), chain.radii[near] + half, sign * angle, chain.allowances[near], half)
                mid = bow[len(bow) // 2] if angle else _ahead((x, y, turn), chain.allowances[near] / 2)
                away = (sign * math.sin(mid[2]), -sign * math.cos(mid[2]))
                label = chain.creases[near].label
                marks.append(Mark(label, mid[:2], away, "made" if angle else "later"))
                spine += bow
                x, y, turn = bow[-1]
            leg = chain.leg_beyond(bend, which, step)
            end = _ahead((x, y, turn), chain.flats[leg])
            middles.append((chain.legs[leg], ((x + end[0]) / 2, (y + end[1]) / 2)))
            spine.append(end)
            x, y, turn = end
        faces = [[(x + s * math.sin(a), y - s * math.cos(a)) for x, y, a in spine] for s in (half, -half)]
        return cls(tuple(faces[0]), tuple(faces[1]), tuple(marks), tuple(middles))


def _ahead(pose: Pose, length: float) -> Pose:
    x, y, turn = pose
    return x + length * math.cos(turn), y + length * math.sin(turn), turn


def _bow(pose: Pose, radius: float, sweep: float, flat: float, half: float) -> list[Pose]:
    """Places on the mid fibre along a bend, made or flat."""
    if not sweep:
        return [_ahead(pose, flat)]
    x, y, turn = pose
    sign = math.copysign(1.0, sweep)
    cx, cy = x - radius * sign * math.sin(turn), y + radius * sign * math.cos(turn)
    count = _chords(radius + half, abs(sweep))
    turns = [turn + sweep * k / count for k in range(1, count + 1)]
    return [(cx + radius * sign * math.sin(a), cy - radius * sign * math.cos(a), a) for a in turns]


def _chords(radius: float, sweep: float) -> int:
    """An even number of chords, so that the middle is one of the places."""
    one = 2 * math.acos(1 - min(STRAY / max(radius, STRAY), 1.0))
    return 2 * max(1, math.ceil(sweep / one / 2))


def _placed(points: Points, x: float, y: float, turn: float) -> Points:
    c, s = math.cos(turn), math.sin(turn)
    return tuple((x + c * p - s * q, y + s * p + c * q) for p, q in points)


def _metal(
    chain: Chain, bend: int, swing: Swing, sides: tuple[_Side, _Side], angle: float, *, on_leaf: bool = False
) -> Metal:
    """The whole part: flat at the bend where ``angle`` is 0 [rad], else finished, or on its way on the leaf."""
    held, swung = sides
    t, x0, r = chain.thickness, swing.tangent, chain.radii[bend]
    place: Point = (x0 + chain.allowances[bend], 0.0)
    curve: tuple[Points, Points] = ((), ())
    mid, away = (x0 + chain.allowances[bend] / 2, t / 2), (math.sin(angle / 2), -math.cos(angle / 2))
    if angle:
        x, y = swing.place(np.array(angle)) if on_leaf else swing.finished()
        place = float(x), float(y)
        rho = _rho(swing, place, angle) if on_leaf else r + t
        curve = _arc(x0, rho, t, angle)
        mid = (x0 + (rho - t / 2) * math.sin(angle / 2), rho - (rho - t / 2) * math.cos(angle / 2))
    still = [tuple((x0 - p, q) for p, q in face) for face in (held.outer, held.inner)]
    moved = [_placed(face, *place, angle) for face in (swung.outer, swung.inner)]
    outline = (*reversed(still[0]), *curve[0], *moved[0], *reversed(moved[1]), *reversed(curve[1]), *still[1])
    marks = [Mark(m.label, (x0 - m.at[0], m.at[1]), (-m.away[0], m.away[1]), m.state) for m in held.marks]
    for m in swung.marks:
        marks.append(Mark(m.label, _placed((m.at,), *place, angle)[0], _placed((m.away,), 0.0, 0.0, angle)[0], m.state))
    marks.append(Mark(chain.creases[bend].label, mid, away, "now"))
    middles = [(n, (x0 - p, q)) for n, (p, q) in held.middles]
    ends = [(n, _placed((p,), *place, angle)[0]) for n, p in swung.middles]
    flat = all(m.state == "later" for m in held.marks)
    return Metal(outline, tuple(marks), middles[0][1], ends[0][1], (*middles, *ends), flat)


def _arc(x: float, rho: float, t: float, angle: float) -> tuple[Points, Points]:
    """Both faces of a curve that begins at (x, 0) and turns upward, outer face first."""
    count = _chords(rho, angle)
    turns = [angle * k / count for k in range(count + 1)]
    outer = tuple((x + rho * math.sin(a), rho - rho * math.cos(a)) for a in turns)
    inner = tuple((x + (rho - t) * math.sin(a), rho - (rho - t) * math.cos(a)) for a in turns)
    return outer, inner


def _rho(swing: Swing, place: Point, theta: float) -> float:
    """Outer radius of the curve at a leaf angle, when the swung tangent line is at a place."""
    out = place[1] / math.sin(theta)
    setback = place[0] - swing.tangent - out * math.cos(theta)
    return max(setback / math.tan(theta / 2), swing.thickness)


def _swept(swing: Swing, side: _Side, theta: float) -> tuple[Points, Points]:
    """Both faces of curve and swung side at a leaf angle, from the held tangent line outward."""
    x, y = (float(v) for v in swing.place(np.array(theta)))
    outer, inner = _arc(swing.tangent, _rho(swing, (x, y), theta), swing.thickness, theta)
    return outer + _placed(side.outer, x, y, theta), inner + _placed(side.inner, x, y, theta)


def _bar(situation: Situation) -> Points:
    """The clamped bar with its nose round."""
    clamp, setting, t = situation.setup.clamp, situation.setting, situation.chain.thickness
    corners, (cx, cy) = bar_outline(clamp, setting, t)
    first, last = math.radians(90 - clamp.nose_angle), -math.pi / 2
    count = _chords(max(clamp.nose_radius, STRAY), first - last)
    turns = [first + (last - first) * k / count for k in range(1, count)]
    nose = [(cx + clamp.nose_radius * math.cos(a), cy + clamp.nose_radius * math.sin(a)) for a in turns]
    return (*((float(x), float(y)) for x, y in corners), *nose)


def _leaf(leaf: Leaf, hinge: Point, theta: float) -> tuple[Points, ...]:
    """The leaf at an angle: face and depth, joined with the user's outline."""
    foot = -hinge[1] - leaf.drop
    return tuple(_placed(tuple((p, q + foot) for p, q in shape), *hinge, theta) for shape in _outlines(leaf))


@functools.lru_cache(maxsize=32)
def _outlines(leaf: Leaf) -> tuple[Points, ...]:
    box = ((0.0, -leaf.depth), (leaf.face, -leaf.depth), (leaf.face, 0.0), (0.0, 0.0))
    if not leaf.shape:
        return (box,)
    import shapely

    whole = shapely.union_all([shapely.Polygon(box), shapely.Polygon(leaf.shape)])
    parts = [g for g in getattr(whole, "geoms", [whole]) if g.geom_type == "Polygon"]
    return tuple(tuple((float(x), float(y)) for x, y in g.exterior.coords[:-1]) for g in parts)


def _nearest(
    situation: Situation, bend: int, swing: Swing, sides: tuple[_Side, _Side], inspection: Inspection
) -> Nearest | None:
    """The nearest of all checks that have a place."""
    check = next((c for c in inspection.checks if c.points is not None), None)
    if check is None or check.points is None:
        return None
    theta = math.radians(check.angle)
    moves = check.angle >= AT_REST
    goes_back = check.name == "leaf going back"
    belongs: Moment = "after" if moves or goes_back else "before"
    part = None
    if moves and check.side == "swung" and not goes_back and theta <= float(swing.top) + 1e-9:
        outer, inner = _swept(swing, sides[1], theta)
        swept = (*outer, *reversed(inner))
        done = _metal(situation.chain, bend, swing, sides, float(swing.angle)).outline
        part = swept if _off(swept, check.points[0]) < _off(done, check.points[0]) else None
    at_leaf = moves and check.name.startswith("leaf")
    leaf = _leaf(situation.setup.leaf, situation.shop.brake.hinge, theta) if at_leaf else ()
    return Nearest(check.points, check.gap, check.name, check.angle, belongs, part, leaf)


def _off(outline: Points, place: Point) -> float:
    """How far a place is from what a closed outline holds: 0 inside."""
    one = np.array(outline)
    two = np.roll(one, -1, axis=0)
    way = two - one
    level = (one[:, 1] <= place[1]) != (two[:, 1] <= place[1])
    cut = one[level, 0] + (place[1] - one[level, 1]) * way[level, 0] / way[level, 1]
    if np.count_nonzero(cut > place[0]) % 2:
        return 0.0
    to = np.array(place) - one
    along = np.clip((to * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-300), 0.0, 1.0)
    return float(np.hypot(*(to - along[:, None] * way).T).min())


def _stuck(inspection: Inspection, before: Metal, after: Metal) -> tuple[Moment, Point] | None:
    """Where a part that finds no way is held up."""
    pairs: tuple[tuple[Passage, Moment, Metal], ...] = (
        (inspection.into, "before", before),
        (inspection.out, "after", after),
    )
    for passage, which, metal in pairs:
        place = dict(metal.middles).get(passage.leg)
        if not passage.how and place is not None:
            return which, place
    return None
