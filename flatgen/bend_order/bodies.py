"""The brake's parts as bodies in section, for one set-up and nose setting; and how the swung side of a bend moves.

Origin at the bed's front edge, x toward the worker, y up. The nose's front stands ``setting`` behind it; the bar rests
on the sheet when clamped.

lifted     the bar at the top of its travel
straight   all that the bar passes on its way straight up
drawn      the same where the part is drawn forward as the bar lifts, so that the bar's sloping front runs along a
           leg that leans back over it; where the part must be raised first, it is raised together with the bar
eased      the bar lifted by no more than ``EASE``: for a part that leaves endwise
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatgen.bend_order.chain import Floats
from flatgen.bend_order.gaps import Body, hull
from flatgen.core.flat_pattern import Point
from flatgen.core.shop import Brake, ClampBar, SetUp

FAR = 1e5
SHARES = (1.0, 0.5, 0.25)
"""How far the bar is lifted straight, in shares of its travel: less than all of it helps a part that closes over it."""
CLEARED = 2.0
"""A part on a leaf that stands proud need not be raised more than this over it [mm]: own choice."""
EASE = 1.0
"""A bar that is eased by this lets a part slide along it [mm]: own choice."""
LEAST_TURN = 1e-6
SWING_SAMPLES = 361


@dataclass(frozen=True)
class Bodies:
    """All of them; lengths in [mm].

    ``leaf`` in its own frame: foot of the hinge axis on its face, along the face, out of the face. The other bodies of
    the leaf are at rest in the brake: ``under_leaf`` what it would sweep downward, ``level_leaf`` what it would sweep
    away from the worker. ``proud``: how far the leaf stands above the bed; over it a part may be raised by no more
    than ``small``, for which bed and leaf sweep less, and the bar, going up with it, ends lower beside it
    (``drawn_small``). ``straight`` and ``lifted`` for each share of the lift, ``short`` by how much each is less than
    all of it. ``leaf_low``, ``bed_low``: y of their lowest place; ``nose_level``: y of the bar's foremost place,
    lifted; ``tangent``: x of the held tangent line; ``front``: farthest x of the clamped bar; ``back``: x of the wall
    behind the throat.
    """

    bed: Body
    under_bed: Body
    under_bed_small: Body | None
    bar: Body
    straight: tuple[Body, ...]
    drawn: Body | None
    eased: Body
    lifted: tuple[Body, ...]
    short: tuple[float, ...]
    lifted_drawn: Body | None
    drawn_small: Body | None
    leaf: Body
    under_leaf: Body
    under_leaf_small: Body | None
    level_leaf: Body
    proud: float
    small: float
    leaf_low: float
    bed_low: float
    nose_level: float
    tangent: float
    front: float
    back: float | None


def brake_bodies(brake: Brake, setup: SetUp, setting: float, thickness: float) -> Bodies:
    """The brake with one set-up, nose setting and sheet [mm]."""
    clamp, leaf = setup.clamp, setup.leaf
    outline, centre = bar_outline(clamp, setting, thickness)
    nose = clamp.nose_radius
    rise = max(clamp.lift - thickness, 0.0)  # it opens so far above the bed, and lay on the sheet
    slope = math.radians(clamp.nose_angle)
    drawn = (-rise / math.tan(slope), rise) if 1e-3 < slope < math.pi / 2 - 1e-9 else None
    bed = _box(-brake.bed_depth, 0.0, -brake.bed_height, 0.0)
    face = _box(0.0, leaf.face, -leaf.depth, 0.0)
    more = (np.array(leaf.shape),) if leaf.shape else ()
    corners = np.concatenate((face, *more)) + np.array((brake.hinge[0], -leaf.drop))
    proud = max(0.0, -leaf.drop)
    small = min(proud + CLEARED, rise)
    less_drawn = (0.0, 0.0) if drawn is None or not rise else (drawn[0] * (1 - small / rise), rise - small)

    def column(by: float) -> Body:
        """What the leaf would sweep downward."""
        return Body(_downward((face, *more), (brake.hinge[0], -leaf.drop), by))

    return Bodies(
        bed=Body((bed,)),
        under_bed=Body((_box(-brake.bed_depth, 0.0, -brake.bed_height - rise, 0.0),)),
        under_bed_small=Body((_box(-brake.bed_depth, 0.0, -brake.bed_height - small, 0.0),)) if proud else None,
        bar=_bar_at(outline, centre, nose, (0.0, 0.0)),
        straight=tuple(_bar_sweep(outline, centre, nose, (0.0, rise * s)) for s in SHARES),
        drawn=None if drawn is None else _bar_sweep(outline, centre, nose, drawn),
        eased=_bar_sweep(outline, centre, nose, (0.0, min(EASE, rise))),
        lifted=tuple(_bar_passage(outline, centre, nose, (0.0, rise * s)) for s in SHARES),
        short=tuple(rise * (1 - s) for s in SHARES),
        lifted_drawn=None if drawn is None else _bar_passage(outline, centre, nose, drawn),
        drawn_small=None if drawn is None or not proud else _bar_passage(outline, centre, nose, less_drawn),
        leaf=Body((face, *more)),
        under_leaf=column(rise),
        under_leaf_small=column(small) if proud else None,
        level_leaf=Body(_to_the_left((face, *more), (brake.hinge[0], -leaf.drop))),
        proud=proud,
        small=small,
        leaf_low=float(corners[:, 1].min()),
        bed_low=-brake.bed_height,
        nose_level=centre[1] + rise if clamp.nose_angle <= 90 else float(outline[:, 1].max()) + rise,
        tangent=-(setting + nose + setup.offset),
        front=max(float(outline[:, 0].max()), centre[0] + nose),
        back=None if brake.throat is None else -setting - brake.throat,
    )


def bar_outline(clamp: ClampBar, setting: float, thickness: float) -> tuple[Floats, Point]:
    """Corners of the clamped bar with its nose cut off by a chord, and the nose's centre [mm].

    :returns: corners from the nose's lowest point round by the back to where the sloping front leaves the nose
    """
    nose, slope = clamp.nose_radius, math.radians(clamp.nose_angle)
    centre = (-setting - nose, thickness + nose)
    back = min(-setting - clamp.depth, centre[0])
    start = (centre[0] + nose * math.sin(slope), centre[1] + nose * math.cos(slope))
    rise = thickness + clamp.height - start[1]
    run = rise / math.sin(slope) if math.sin(slope) > 1e-9 else math.inf
    if slope < math.pi / 2:
        run = min(run, (start[0] - back) / math.cos(slope))
    end = (start[0] - run * math.cos(slope), start[1] + run * math.sin(slope))
    corners = [(centre[0], thickness), (back, thickness), (back, end[1]), end, start]
    return np.array(corners), centre


def _box(left: float, right: float, low: float, high: float) -> Floats:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def _to_the_left(polygons: tuple[Floats, ...], by: Point) -> tuple[Floats, ...]:
    """What polygons sweep as they move to the left for ever: from each edge on."""
    areas = []
    for polygon in polygons:
        placed = polygon + np.array(by)
        for p, q in zip(placed, np.roll(placed, -1, axis=0), strict=True):
            if p[1] != q[1]:
                areas.append(np.array([p, q, (-FAR, q[1]), (-FAR, p[1])]))
    return tuple(areas)


def _downward(polygons: tuple[Floats, ...], by: Point, far: float) -> tuple[Floats, ...]:
    """Polygons, and what their edges sweep as they move down so far."""
    areas = []
    for polygon in polygons:
        placed = polygon + np.array(by)
        areas.append(placed)
        for p, q in zip(placed, np.roll(placed, -1, axis=0), strict=True):
            if p[0] != q[0]:
                areas.append(np.array([p, q, (q[0], q[1] - far), (p[0], p[1] - far)]))
    return tuple(areas)


def _bar_at(outline: Floats, centre: Point, nose: float, by: Point) -> Body:
    x, y = centre[0] + by[0], centre[1] + by[1]
    return Body((outline + np.array(by),), ((x, y, x, y, nose),))


def _bar_sweep(outline: Floats, centre: Point, nose: float, by: Point) -> Body:
    both = hull(np.concatenate([outline, outline + np.array(by)]))
    return Body((both,), ((*centre, centre[0] + by[0], centre[1] + by[1], nose),))


def _bar_passage(outline: Floats, centre: Point, nose: float, by: Point) -> Body:
    """The bar moved, and all that is behind it: what a part passes on its way out to the front."""
    moved = outline + np.array(by)
    far = moved.copy()
    far[:, 0] = -FAR
    x, y = centre[0] + by[0], centre[1] + by[1]
    return Body((hull(np.concatenate([moved, far])),), ((-FAR, y, x, y, nose),))


Amount = float | Floats


@dataclass(frozen=True)
class Swing:
    """One bend with one side swung on one set-up, in [mm] and [rad]; amounts may be arrays, one for each moving piece.

    ``tangent``: x of the held tangent line; ``allowance`` of the finished bend, ``neutral`` K t; ``flat`` of the leg
    beside it; ``least``: nose radius; ``top``: largest angle of the leaf, ``angle``: bend angle after release,
    ``whole``: of the finished bend, more where the rest is bent by hand; ``radius``: finished.
    """

    hinge: Point
    drop: float
    thickness: float
    tangent: float
    allowance: Amount
    neutral: Amount
    flat: Amount
    least: float
    top: Amount
    angle: Amount
    radius: Amount
    whole: Amount

    def place(self, theta: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies on the outer face at leaf angles from 0 to ``top``."""
        turn = np.maximum(theta, LEAST_TURN)
        half = np.tan(turn / 2)
        corner = self.hinge[0] + self.hinge[1] * half + self.drop / np.sin(turn)
        most = ((self.allowance + self.flat) / turn + self.thickness - self.neutral) * half
        setback = np.minimum(np.maximum(corner - self.tangent, (self.least + self.thickness) * half), most)
        used = turn * (setback / half - self.thickness + self.neutral)
        out = self.allowance - used + setback
        return self.tangent + setback + out * np.cos(turn), out * np.sin(turn)

    def finished(self, *, whole: bool = False) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies after release, or when the bend is whole."""
        return self.by_hand(np.asarray(self.whole if whole else self.angle))

    def by_hand(self, angle: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies at angles from ``angle`` to ``whole`` as a bend is ended by hand."""
        rho = np.asarray(self.radius) + self.thickness
        return self.tangent + rho * np.sin(angle), rho * (1 - np.cos(angle))

    def on_leaf(self, theta: Floats) -> tuple[Floats, Floats]:
        """Where the swung tangent line lies in the leaf's frame: along its face from the hinge's foot, and off it."""
        x, y = self.place(theta)
        return to_leaf_frame(self.hinge, self.drop, x, y, theta)

    def greatest_speeds(self, last: float | None = None) -> tuple[float, float]:
        """How fast the swung tangent line moves at most, as the brake and as the leaf sees it [mm/rad]."""
        theta = np.linspace(0.0, self.top if last is None else last, SWING_SAMPLES)
        x, y = self.place(theta)
        u, v = to_leaf_frame(self.hinge, self.drop, x, y, theta)
        return _fastest(x, y, theta), _fastest(u, v, theta)


def _fastest(x: Floats, y: Floats, theta: Floats) -> float:
    """The greatest speed of a point on a smooth way, from samples, with a margin."""
    return 1.05 * float(np.max(np.hypot(np.diff(x), np.diff(y)) / np.maximum(np.diff(theta), 1e-12)))


def to_leaf_frame(hinge: Point, drop: float, x: Floats, y: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Points of the brake in the frame of the leaf at an angle ``theta`` [rad]: along its face, and out of it [mm]."""
    dx, dy = x - hinge[0], y - hinge[1]
    cos, sin = np.cos(theta), np.sin(theta)
    return dx * cos + dy * sin, dy * cos - dx * sin + hinge[1] + drop


def transform(axis: Floats, theta: Floats, x: Floats, y: Floats) -> Floats:
    """Segments (n, 4) of a side's frame, turned by angles ``theta`` [rad] and with their origin moved to x, y."""
    cos, sin = np.cos(theta), np.sin(theta)
    ax, ay, bx, by = axis.T
    return np.stack(
        [ax * cos - ay * sin + x, ax * sin + ay * cos + y, bx * cos - by * sin + x, bx * sin + by * cos + y], 1
    )
