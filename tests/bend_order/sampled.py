"""Stages measured a second time, by dense sampling with shapely: the oracle for flatgen.bend_order.stages.

Nothing of flatgen's shapes, distances or motions is used: outlines are built here from the lengths of the chain, the
brake's parts from the measures in the shop file, and the swing from the formula of the design (the swung leg's edge
lies at L - BA(theta) + SB(theta) from the corner of the outer faces).

The leaf's angle is sampled every ``STEP``; between two samples that are not farther from contact than the metal can
travel there it is sampled again, until no clearance under the least one found can hide, to ``FINE``.

run, leaves    how many made bends lie before a piece, and which way the first of them turns (+1 up from its leg): a
               piece of run 0 is not measured, one of run 1 not against the body that its leg lies on (see
               flatgen.bend_order.checks: what is left out has to be the same on both sides)

Millimetres; radians within.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import shapely  # noqa: TID253

from flatgen.core.schedule import WhichSide
from tests.bend_order.outlines import Floats, Piece, Stage, bar_of, bed_of, leaf_of, side_of

Motion = Callable[[Floats, Floats], Floats]
"""Places (angles, points, 2) of points at leaf angles."""

STEP = math.radians(0.25)
FINE = 0.001
FAR = 3000.0
EASE = 1.0
NOTHING = math.inf


def place(stage: Stage, theta: Floats) -> Floats:
    """Where the swung tangent line of the finished bend lies at leaf angles, on the outer face: (n, 2) [mm]."""
    chain, j, (hx, hy) = stage.chain, stage.bend, stage.brake.hinge
    allowance, t = chain.allowances[j], chain.thickness
    kt = allowance / math.radians(chain.angles[j]) - chain.radii[j]
    theta = np.maximum(theta, 1e-6)
    corner = hx + hy * np.tan(theta / 2) + stage.setup.leaf.drop / np.sin(theta)
    radius = np.maximum((corner - stage.tangent) / np.tan(theta / 2) - t, stage.setup.clamp.nose_radius)
    radius = np.minimum(radius, (allowance + chain.flats[stage.beside()]) / theta - kt)
    setback = (radius + t) * np.tan(theta / 2)
    edge = allowance - theta * (radius + kt) + setback
    corner_x = stage.tangent + setback
    return np.stack([corner_x + edge * np.cos(theta), edge * np.sin(theta)], axis=1)


def finished_place(stage: Stage, angle: float | None = None) -> Floats:
    """The same when the bend is finished and released, or bent on by hand to an angle [rad], [mm]."""
    angle = stage.angle if angle is None else angle
    outer = stage.chain.radii[stage.bend] + stage.chain.thickness
    return np.array([stage.tangent + outer * math.sin(angle), outer * (1 - math.cos(angle))])


def _rotated(points: Floats, theta: Floats) -> Floats:
    cos, sin = np.cos(theta)[:, None], np.sin(theta)[:, None]
    x, y = points[None, :, 0], points[None, :, 1]
    return np.stack([x * cos - y * sin, x * sin + y * cos], axis=2)


def _metal(pieces: Iterable[Piece]) -> shapely.Geometry | None:
    own = [shapely.Polygon(p.outline) for p in pieces]
    if not own:
        return None
    found = shapely.geometrycollections(own)
    shapely.prepare(found)
    return found


def least(value: Callable[[Floats], Floats], top: float, speed: float, cap: float) -> float:
    """Least clearance over the leaf's angles from 0 to ``top``."""
    theta = np.linspace(0.0, top, 2 + int(top / STEP))
    got = value(theta)
    low, high, at_low, at_high = theta[:-1], theta[1:], got[:-1], got[1:]
    best = float(got.min())
    while True:
        hidden = (at_low + at_high - speed * (high - low)) / 2 < min(best - FINE, cap)
        if best <= 0 or not hidden.any():
            return best
        low, high, at_low, at_high = low[hidden], high[hidden], at_low[hidden], at_high[hidden]
        middle = (low + high) / 2
        new = value(middle)
        best = min(best, float(new.min()))
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
        at_low, at_high = np.concatenate([at_low, new]), np.concatenate([new, at_high])


def _apart(still: shapely.Geometry, moving: list[Floats], motion: Motion) -> Callable[[Floats], Floats]:
    def value(theta: Floats) -> Floats:
        far = [shapely.distance(still, shapely.polygons(motion(m, theta))) for m in moving]
        return np.asarray(np.minimum.reduce(far))

    return value


def _farthest(outlines: Iterable[Floats], centre: tuple[float, float] = (0.0, 0.0)) -> float:
    return max(float(np.hypot(*(o - np.array(centre)).T).max()) for o in outlines)


def _speed(stage: Stage, way: Callable[[Floats], Floats]) -> float:
    theta = np.linspace(0.0, math.radians(stage.top), 4000)
    points = way(theta)
    return 1.1 * float(np.max(np.hypot(*np.diff(points, axis=0).T)) / (theta[1] - theta[0]))


@dataclass(frozen=True)
class Metal:
    """Held and swung pieces in their own frames, held ones also in the brake; bodies of the brake [mm]."""

    stage: Stage
    held: list[Piece]
    swung: list[Piece]
    bed: Floats
    bar: Floats
    leaf: list[Floats]

    @classmethod
    def of(cls, stage: Stage) -> Metal:
        """All of a stage."""
        other: WhichSide = "second" if stage.held == "first" else "first"
        mirrored = [
            Piece(p.outline * [-1, 1] + [stage.tangent, 0], p.quads * [-1, 1] + [stage.tangent, 0], p.run, p.leaves)
            for p in side_of(stage, stage.held)
        ]
        return cls(
            stage=stage,
            held=mirrored,
            swung=side_of(stage, other),
            bed=bed_of(stage.brake),
            bar=bar_of(stage.setup.clamp, stage.setting, stage.chain.thickness),
            leaf=leaf_of(stage.setup.leaf, stage.brake.hinge),
        )

    def posed(self, theta: float, at: Floats) -> list[Piece]:
        """The swung pieces at an angle and place."""
        return [Piece(_put(p.outline, theta, at), _put(p.quads, theta, at), p.run, p.leaves) for p in self.swung]


def _put(points: Floats, theta: float, at: Floats) -> Floats:
    cos, sin = math.cos(theta), math.sin(theta)
    x, y = points[..., 0], points[..., 1]
    return np.asarray(np.stack([x * cos - y * sin, x * sin + y * cos], axis=-1) + at)


def beyond(pieces: Iterable[Piece], without: int = 0) -> list[Piece]:
    """Pieces that leave the leg beside the bend; without those that leave it one way."""
    return [p for p in pieces if p.run and not (without and p.run == 1 and p.leaves == without)]


def sampled(stage: Stage, cap: float) -> dict[str, float]:
    """Least clearance of each check, 0 where there is contact; ways that a rule refuses are under 0.

    Parameters
    ----------
    stage : Stage
        What is measured, [mm]
    cap : float
        Clearances above it need not be exact, [mm]

    Returns
    -------
    dict[str, float]
        By name; ``in front``, ``in endwise``, ``out front``, ``out endwise`` are the ways, [mm]
    """
    metal = Metal.of(stage)
    found = _held(metal, cap) | _swung(metal, cap) | _each_other(metal, cap)
    before = metal.posed(0.0, np.array([stage.tangent + stage.chain.allowances[stage.bend], 0.0]))
    after = metal.posed(stage.angle, finished_place(stage))
    leans = stage.angle > math.pi / 2 + 1e-9
    for name, pose, lean in (("in", before, False), ("out", after, leans)):
        found[f"{name} front"] = front(metal, pose, leans=lean)
        found[f"{name} endwise"] = endwise(metal, pose)
    return found


def _still(pieces: list[Piece], bodies: Iterable[Floats]) -> float:
    metal = _metal(pieces)
    return NOTHING if metal is None else min(float(metal.distance(shapely.Polygon(b))) for b in bodies)


def _held(m: Metal, cap: float) -> dict[str, float]:
    stage, hinge = m.stage, m.stage.brake.hinge
    found = {
        "held bed": _still(beyond(m.held, 1), [m.bed]),
        "held bar": _still(beyond(m.held, -1), [m.bar]),
    }
    if stage.brake.throat is not None:
        wall = -stage.setting - stage.brake.throat
        found["throat"] = min(float(p.outline[:, 0].min()) for p in m.held) - wall
    return found | {"held leaf": _leaf_by(m, beyond(m.held), cap, math.radians(stage.top), hinge)}


def _leaf_by(m: Metal, pieces: list[Piece], cap: float, top: float, hinge: tuple[float, float]) -> float:
    """The leaf swinging past metal that lies still."""
    metal = _metal(pieces)
    if metal is None:
        return NOTHING
    axis = np.array(hinge)
    speed = min(_farthest(m.leaf, hinge), _farthest((p.outline for p in pieces), hinge))
    value = _apart(metal, m.leaf, lambda points, theta: _rotated(points - axis, theta) + axis)
    return least(value, top, speed, cap)


def _swung(m: Metal, cap: float) -> dict[str, float]:
    stage, top = m.stage, math.radians(m.stage.top)
    axis = np.array(stage.brake.hinge)
    found = {}

    def from_brake(points: Floats, theta: Floats) -> Floats:
        at = _rotated_each(place(stage, theta), -theta)
        return _rotated(points, -theta) - at[:, None, :]

    def on_leaf(theta: Floats) -> Floats:
        """The tangent line as the leaf, turned back to its rest, sees it."""
        return np.asarray(_rotated_each(place(stage, theta) - axis, -theta) + axis)

    def from_leaf(points: Floats, theta: Floats) -> Floats:
        return np.asarray(points[None] - on_leaf(theta)[:, None, :])

    metal = _metal(beyond(m.swung, -1))
    if metal is not None:
        speed = _farthest(p.outline for p in beyond(m.swung, -1)) + _speed(stage, lambda a: place(stage, a))
        found["swung bar"] = least(_apart(metal, [m.bar], from_brake), top, speed, cap)
    metal = _metal(beyond(m.swung))
    if metal is not None:
        speed = _farthest(p.outline for p in beyond(m.swung)) + _speed(stage, lambda a: place(stage, a))
        found["swung bed"] = least(_apart(metal, [m.bed], from_brake), top, speed, cap)
    metal = _metal(beyond(m.swung, 1))
    if metal is not None:
        found["swung leaf"] = least(_apart(metal, m.leaf, from_leaf), top, _speed(stage, on_leaf), cap)
    done = m.posed(stage.angle, finished_place(stage))
    found["finished bar"] = _still(beyond(done, -1), [m.bar])
    found["finished bed"] = _still(beyond(done), [m.bed])
    found["leaf going back"] = _leaf_by(m, beyond(done, 1), cap, stage.angle, stage.brake.hinge)
    return found


def _rotated_each(points: Floats, theta: Floats) -> Floats:
    cos, sin = np.cos(theta), np.sin(theta)
    x, y = points.T
    return np.stack([x * cos - y * sin, x * sin + y * cos], axis=1)


def _each_other(m: Metal, cap: float) -> dict[str, float]:
    stage, top = m.stage, math.radians(m.stage.top)

    def seen(points: Floats, theta: Floats) -> Floats:
        at = _rotated_each(place(stage, theta), -theta)
        return _rotated(points, -theta) - at[:, None, :]

    full = math.radians(stage.chain.angles[stage.bend])  # what the leaf cannot do is done by hand: it needs room too
    done = np.linspace(stage.angle, max(full, stage.angle), 2 + int(max(full - stage.angle, 0.0) / STEP))
    at = np.stack([finished_place(stage, float(a)) for a in done])
    found = {"held swung": NOTHING, "held swung finished": NOTHING}
    slide = _speed(stage, lambda a: place(stage, a))
    for held, swung in ((m.held, beyond(m.swung)), (beyond(m.held), [p for p in m.swung if not p.run])):
        metal = _metal(swung)
        if metal is None or not held:
            continue
        outlines = [p.outline for p in held]
        speed = _farthest(p.outline for p in swung) + slide
        found["held swung"] = min(found["held swung"], least(_apart(metal, outlines, seen), top, speed, cap))
        last = _apart(metal, outlines, lambda p, a: _rotated(p, -a) - _rotated_each(at, -a)[:, None, :])
        found["held swung finished"] = min(found["held swung finished"], float(last(done).min()))
    return found


def swept(
    pieces: list[Piece], by: tuple[float, float], begin: tuple[float, float] = (0.0, 0.0)
) -> shapely.Geometry | None:
    """All that pieces pass when they are moved along a line: piece by piece, as nothing but distances is asked."""
    if not pieces:
        return None
    quads = np.concatenate([p.quads for p in pieces]) + np.array(begin)
    both = np.concatenate([quads, quads + np.array(by)], axis=1)
    whole: shapely.Geometry = shapely.geometrycollections(shapely.convex_hull(shapely.multipoints(both)))
    return whole


def _off(shape: shapely.Geometry | None, bodies: list[Floats], by: tuple[float, float] = (0.0, 0.0)) -> float:
    """Least distance of metal from bodies that are moved by something."""
    if shape is None:
        return NOTHING
    return min(float(shapely.distance(shape, shapely.Polygon(b + np.array(by)))) for b in bodies)


def rise(m: Metal) -> float:
    """How far the bar goes up from the sheet: its opening is told from the bed."""
    return max(m.stage.setup.clamp.lift - m.stage.chain.thickness, 0.0)


def front(m: Metal, swung: list[Piece], *, leans: bool) -> float:
    """Room on the way to the front: the better of a bar lifted straight and of a part drawn forward as it lifts."""
    cot = 1 / math.tan(math.radians(m.stage.setup.clamp.nose_angle))
    ways = [_way(m, swung, cot, 1.0)]
    if not leans:
        ways += [_way(m, swung, 0.0, share) for share in (1.0, 0.5, 0.25)]
    return max(ways)


def _way(m: Metal, swung: list[Piece], cot: float, share: float) -> float:
    """One way: bar up by a share of its travel, the part drawn ``cot`` times as far forward, raised before that."""
    up = rise(m) * share
    lifted = [*beyond(m.held, -1), *beyond(swung, -1)]
    room = _off(swept(lifted, (up * cot, -up)), [m.bar])
    if cot:
        room = min(room, _level(m, swung, (0.0, 0.0), up * cot)) if _need(m) <= 1e-9 else room
    if _need(m) <= 1e-9:
        begin = (up * cot, 0.0)
        under = swept(m.held + beyond(swung, -1), (FAR, 0.0), begin)
        return min(room, _level(m, swung, begin, FAR), _off(under, [m.bar], (0.0, up)))
    if _need(m) >= up:
        return -1.0
    if cot:  # whatever the part is raised by, the way is only taken where all of the travel would be free as well
        room = min(room, _off(swept(beyond(swung, -1), (FAR, 0.0), (up * cot, 0.0)), [m.bar], (0.0, up)))

    over = swept(m.held + beyond(swung, 1), (FAR, 0.0))
    under = swept(m.held + beyond(swung, -1), (FAR, 0.0))

    def gone(height: float) -> float:
        """Room of the rest of the way at a height: bodies are moved in place of the part that is raised."""
        begin = (up - height) * cot
        low = _off(over, [m.bed, *m.leaf], (0.0, -height))
        return min(low, _off(under, [m.bar], (-begin, up - height)), _risen(m, swung, height, None if cot else up))

    _, best = _highest(gone, _need(m), up)
    return min(room, best)


def _need(m: Metal) -> float:
    """How high the part must be raised at least to pass over bed and leaf."""
    proud = max(0.0, -m.stage.setup.leaf.drop)
    return max(0.0, proud - min(float(p.outline[:, 1].min()) for p in m.held))


def _highest(value: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """Where a value is greatest, and the value."""
    best, at = -1.0, low
    for _ in range(4):
        places = np.linspace(low, high, 17)
        values = [value(float(h)) for h in places]
        k = int(np.argmax(values))
        if values[k] > best:
            best, at = values[k], float(places[k])
        low, high = float(places[max(k - 1, 0)]), float(places[min(k + 1, 16)])
    return at, best


def _level(m: Metal, swung: list[Piece], begin: tuple[float, float], by: float) -> float:
    """Slid level over bed and leaf, not raised: what lies on them is not measured."""
    bed = _off(swept(beyond(m.held, 1), (by, 0.0), begin), [m.bed])
    leaf = _off(swept(beyond(m.held, 1) + beyond(swung, 1), (by, 0.0), begin), m.leaf)
    return min(bed, leaf)


def _risen(m: Metal, swung: list[Piece], height: float, up: float | None) -> float:
    """Raised to a height, under the bar lifted by ``up``, or together with it."""
    rising = (0.0, height)
    found = min(
        _off(swept(beyond(m.held, 1), rising), [m.bed]),
        _off(swept(beyond(swung, 1), rising), [m.bed, *m.leaf]),
    )
    if up is None:
        return found
    return min(found, _off(swept(m.held + beyond(swung, -1), rising), [m.bar], (0.0, up)))


def endwise(m: Metal, swung: list[Piece]) -> float:
    """Room on the way along the bar, which is eased."""
    if not m.stage.endwise:
        return -1.0
    ease = min(EASE, rise(m))
    return _off(swept(beyond(m.held, -1) + beyond(swung, -1), (0.0, -ease)), [m.bar])
