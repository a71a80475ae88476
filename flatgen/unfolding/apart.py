"""How far points lie from closed boundaries, quickly: edges found by a search tree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from flatgen.unfolding.sheet import Vector


class Boundary:
    """Closed rings of points (n, 2) in the plane, to be measured to.

    Parameters
    ----------
    rings : sequence of (n, 2) [mm], not closed
    """

    def __init__(self, rings: Sequence[Vector]) -> None:
        import shapely

        self._tree: Any = None
        if not rings:
            return
        pairs = [np.stack((r, np.roll(r, -1, axis=0)), axis=1) for r in rings]
        self._tree = shapely.STRtree(shapely.linestrings(np.concatenate(pairs)))

    def distance(self, points: Vector) -> Vector:
        """Distance of points (n, 2) from the nearest edge (n,) [mm]; infinite where there are no edges."""
        import shapely

        if self._tree is None:
            return np.full(len(points), np.inf)

        _, far = self._tree.query_nearest(shapely.points(points), all_matches=False, return_distance=True)
        found: Vector = far
        return found


def outside(points: Vector, shell: Vector | None, holes: Sequence[Vector]) -> float:
    """How far the outermost of some points (n, 2) lies outside a region, 0 where none does [mm].

    Without a ``shell`` the region reaches as far as the points do, about the holes.
    """
    import shapely

    if shell is None:
        (x0, y0), (x1, y1) = points.min(axis=0) - 1.0, points.max(axis=0) + 1.0
        shell = np.array(((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
    region = shapely.Polygon(shell, holes)
    shapely.prepare(region)
    beyond = points[~shapely.contains_xy(region, points[:, 0], points[:, 1])]
    if not len(beyond):
        return 0.0
    return float(Boundary([shell, *holes]).distance(beyond).max())
