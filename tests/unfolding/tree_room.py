"""Whether a flange of a growing tree has room, in the flat and in the formed part."""

from __future__ import annotations

import random
from typing import Any

from flatgen.core.flat_pattern import Loop, Point
from tests.unfolding.tree_parts import Hinge, Plate, Tree, plate_outline
from tests.unfolding.tree_solids import plate_solid, zone_solids

CLEAR = 0.3  # least distance between parts of the sheet that do not belong together, flat or formed [mm]


class Room:
    """All that a tree fills, plate by plate and zone by zone."""

    def __init__(self, tree: Tree) -> None:
        self.thickness = tree.thickness
        root = tree.plates[0]
        self.filled: list[tuple[Any, Any, Any]] = [(root, _polygon(root), plate_solid(root, tree.thickness))]

    def has(self, hinge: Hinge) -> bool:
        """True, and taken, where a flange with its bend stays clear of all that is there."""
        import shapely

        assert hinge.child is not None
        assert hinge.parent is not None
        ends = ((hinge.start, 0.0), (hinge.end, 0.0), (hinge.end, hinge.allowance), (hinge.start, hinge.allowance))
        zone, plate = shapely.Polygon([hinge.at(s, v) for s, v in ends]), _polygon(hinge.child)
        parent = _polygon(hinge.parent)
        sound = all(p.is_valid and p.buffer(-CLEAR / 2).geom_type == "Polygon" for p in (plate, parent))
        clear = min(CLEAR, hinge.allowance / 2)
        if not sound or zone.intersection(parent).area > 1e-9 or plate.distance(parent) < clear:
            return False
        others = [(owner, shape, solid) for owner, shape, solid in self.filled if owner is not hinge.parent]
        siblings = [s for owner, s, _ in others if isinstance(owner, Hinge) and owner.parent is hinge.parent]
        strangers = [s for owner, s, _ in others if not (isinstance(owner, Hinge) and owner.parent is hinge.parent)]
        if any(s.intersection(zone).area > 1e-9 or s.distance(plate) < clear for s in siblings):
            return False
        if any(s.distance(zone) < clear or s.distance(plate) < clear for s in strangers):
            return False
        return self._clear_when_formed(hinge, zone, plate)

    def _clear_when_formed(self, hinge: Hinge, zone: Any, plate: Any) -> bool:
        import cadquery as cq

        assert hinge.child is not None
        bent = cq.Compound.makeCompound(zone_solids(hinge, self.thickness))
        leaf = plate_solid(hinge.child, self.thickness)
        for owner, _, solid in self.filled:
            kin = owner is hinge.parent or (isinstance(owner, Hinge) and owner.parent is hinge.parent)
            if _near(leaf, solid) or (not kin and _near(bent, solid)):
                return False
        self.filled += [(hinge, zone, bent), (hinge.child, plate, leaf)]
        return True

    def spot(self, rng: random.Random, plate: Plate, clear: float) -> Point | None:
        """A place on a plate with so much metal around it."""
        import shapely

        room = _polygon(plate).buffer(-clear)
        for hole in plate.holes:
            room = room.difference(shapely.Polygon(Loop(hole).points(0.05)).buffer(clear))
        if room.is_empty:
            return None
        low_x, low_y, high_x, high_y = room.bounds
        for _ in range(20):
            point = (rng.uniform(low_x, high_x), rng.uniform(low_y, high_y))
            if room.contains(shapely.Point(point)):
                return point
        return None


def _polygon(plate: Plate) -> Any:
    import shapely

    return shapely.Polygon(Loop(plate_outline(plate)).points(0.01))


def _near(one: Any, two: Any) -> bool:
    a, b = one.BoundingBox(), two.BoundingBox()
    for low, high, other_low, other_high in (
        (a.xmin, a.xmax, b.xmin, b.xmax),
        (a.ymin, a.ymax, b.ymin, b.ymax),
        (a.zmin, a.zmax, b.zmin, b.zmax),
    ):
        if low > other_high + CLEAR or other_low > high + CLEAR:
            return False
    return bool(one.distance(two) < CLEAR)
