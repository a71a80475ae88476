"""The brake's parts as bodies in section, for one set-up and nose setting.

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

from flatgen.bend_order.gaps import Body, hull
from flatgen.bend_order.pieces import Floats
from flatgen.core.shop import Brake, ClampBar, SetUp

FAR = 1e5
SHARES = (1.0, 0.5, 0.25)
"""How far the bar is lifted straight, in shares of its travel: less than all of it helps a part that closes over it."""
CLEARED = 2.0
"""A part on a leaf that stands proud need not be raised more than this over it [mm]: own choice."""
EASE = 1.0
"""A bar that is eased by this lets a part slide along it [mm]: own choice."""


@dataclass(frozen=True)
class Bodies:
    """All of them; ``leaf`` in its own frame: foot of the hinge axis on its face, along the face, out of the face. The
    other bodies of the leaf are at rest in the brake: ``under_leaf`` what it would sweep downward, ``level_leaf`` what
    it would sweep away from the worker. ``proud`` [mm]: how far the leaf stands above the bed; over it a part may be
    raised by no more than ``small`` [mm], for which bed and leaf sweep less, and the bar, going up with it, ends lower
    beside it (``drawn_small``)."""

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


def bodies(brake: Brake, setup: SetUp, setting: float, thickness: float) -> Bodies:
    """The brake with one set-up.

    Parameters
    ----------
    brake : Brake
        The machine, [mm]
    setup : SetUp
        Its bar and leaf, [mm]
    setting : float
        Nose setting, [mm]
    thickness : float
        Of the sheet, [mm]

    Returns
    -------
    Bodies
        ``straight`` and ``lifted`` for each share of the lift, ``short`` by how much each is less than all of it;
        ``tangent``: x of the held tangent line; ``front``: farthest x of the clamped bar; ``nose_level``: y of its
        foremost place, lifted; ``leaf_low``, ``bed_low``: y of the lowest place of leaf and bed; ``back``: x of the
        wall behind the throat, None where there is none, [mm]
    """
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
        bar=_moved(outline, centre, nose, (0.0, 0.0)),
        straight=tuple(_swept(outline, centre, nose, (0.0, rise * s)) for s in SHARES),
        drawn=None if drawn is None else _swept(outline, centre, nose, drawn),
        eased=_swept(outline, centre, nose, (0.0, min(EASE, rise))),
        lifted=tuple(_leftward(outline, centre, nose, (0.0, rise * s)) for s in SHARES),
        short=tuple(rise * (1 - s) for s in SHARES),
        lifted_drawn=None if drawn is None else _leftward(outline, centre, nose, drawn),
        drawn_small=None if drawn is None or not proud else _leftward(outline, centre, nose, less_drawn),
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


def bar_outline(clamp: ClampBar, setting: float, thickness: float) -> tuple[Floats, tuple[float, float]]:
    """Corners of the clamped bar with its nose cut off by a chord, and the nose's centre.

    Parameters
    ----------
    clamp : ClampBar
        The bar, [mm]
    setting, thickness : float
        Nose setting and sheet, [mm]

    Returns
    -------
    tuple[numpy.ndarray, tuple[float, float]]
        Corners from the nose's lowest point round by the back to where the sloping front leaves the nose, [mm]
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


def _to_the_left(polygons: tuple[Floats, ...], by: tuple[float, float]) -> tuple[Floats, ...]:
    """What polygons sweep as they move to the left for ever: from each edge on."""
    found = []
    for polygon in polygons:
        placed = polygon + np.array(by)
        for p, q in zip(placed, np.roll(placed, -1, axis=0), strict=True):
            if p[1] != q[1]:
                found.append(np.array([p, q, (-FAR, q[1]), (-FAR, p[1])]))
    return tuple(found)


def _downward(polygons: tuple[Floats, ...], by: tuple[float, float], far: float) -> tuple[Floats, ...]:
    """Polygons, and what their edges sweep as they move down so far."""
    found = []
    for polygon in polygons:
        placed = polygon + np.array(by)
        found.append(placed)
        for p, q in zip(placed, np.roll(placed, -1, axis=0), strict=True):
            if p[0] != q[0]:
                found.append(np.array([p, q, (q[0], q[1] - far), (p[0], p[1] - far)]))
    return tuple(found)


def _moved(outline: Floats, centre: tuple[float, float], nose: float, by: tuple[float, float]) -> Body:
    x, y = centre[0] + by[0], centre[1] + by[1]
    return Body((outline + np.array(by),), ((x, y, x, y, nose),))


def _swept(outline: Floats, centre: tuple[float, float], nose: float, by: tuple[float, float]) -> Body:
    both = hull(np.concatenate([outline, outline + np.array(by)]))
    return Body((both,), ((*centre, centre[0] + by[0], centre[1] + by[1], nose),))


def _leftward(outline: Floats, centre: tuple[float, float], nose: float, by: tuple[float, float]) -> Body:
    """The bar moved, and all that is behind it: what a part passes on its way out to the front."""
    moved = outline + np.array(by)
    far = moved.copy()
    far[:, 0] = -FAR
    x, y = centre[0] + by[0], centre[1] + by[1]
    return Body((hull(np.concatenate([moved, far])),), ((-FAR, y, x, y, nose),))
