"""The checks that always run on an unfolded sheet. A miss is a bug of ours, never the user's fault.

volume      the flat folded up has the solid's volume; and V_formed - V_flat = (1/2 - K) t2 sum of (w dA)
refold      corners and edge middles of both skins lie where folding the flat up puts them
overlap     the flat does not cover itself (this one is the part's fault, and refused)
"""

from __future__ import annotations

import math

import numpy as np

from flatgen.errors import Fault, IdentityFailed, InputRefused
from flatgen.flat import FlatPattern, Loop
from flatgen.fold import fold_panel, fold_zone, folded_volume, placements
from flatgen.unfold.sheet import Shell

LENGTH = 1e-6
"""Largest distance between two computations of one point [mm]."""
VOLUME = 1e-9
"""Largest relative difference between two computations of one volume."""


def check_identities(flat: FlatPattern, shell: Shell) -> None:
    """All of them.

    Raises
    ------
    IdentityFailed
        FG901, FG902 with both numbers.
    InputRefused
        FG042 where the flat covers itself.
    """
    _check_volume(flat, shell)
    _check_refold(flat, shell)
    _check_overlap(flat)


def _check_volume(flat: FlatPattern, shell: Shell) -> None:
    t = flat.thickness
    turned = 0.0
    for bend in flat.bends:
        zone = math.fsum(s.zone.area - math.fsum(o.area for o in s.openings) for s in bend.segments)
        turned += (0.5 - bend.k) * t * t * zone * math.radians(bend.angle) / bend.allowance
    for what, volume in (("folded up", folded_volume(flat)), ("by its allowances", flat.area * t + turned)):
        if abs(volume / shell.volume - 1) > VOLUME:
            raise IdentityFailed(
                Fault(
                    "FG901",
                    "the flat",
                    f"{what} it has {volume:.6f} mm3, the formed solid {shell.volume:.6f} mm3",
                )
            )


def refold_points(flat: FlatPattern) -> np.ndarray:
    """Corners and middles of all edges of the flat's panels and zones, both skins, folded up: (n, 3) [mm]."""
    placed = placements(flat)
    home = flat.panels[flat.root].placed
    found = []
    for panel, where in zip(flat.panels, placed, strict=True):
        found.append(fold_panel(home @ where, _both_skins((panel.outline, *panel.openings), flat.thickness)))
    for bend in flat.bends:
        for part in bend.segments:
            points = _both_skins((part.zone, *part.openings), flat.thickness)
            found.append(fold_zone(flat, bend, home @ placed[bend.first], points))
    folded: np.ndarray = np.vstack(found)
    return folded


def _both_skins(loops: tuple[Loop, ...], thickness: float) -> np.ndarray:
    flat = [piece.at(share) for loop in loops for piece in loop for share in (0.0, 0.5)]
    return np.array([(x, y, z) for x, y in flat for z in (0.0, thickness)])


def _check_refold(flat: FlatPattern, shell: Shell) -> None:
    """Every folded point is a corner or the middle of an edge of the solid."""
    solid = np.array([h.curve.at(s) for h in shell.half_edges for s in (0.0, 0.5)])
    lost = _without_neighbour(refold_points(flat), solid)
    miss = max((float(np.linalg.norm(solid - p, axis=1).min()) for p in lost[:50]), default=0.0)
    if miss > LENGTH:
        raise IdentityFailed(Fault("FG902", "the flat", f"folded up it misses the formed solid by {miss:.3g} mm"))


def _without_neighbour(points: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Points (n, 3) that may have none of the others (m, 3) within ``LENGTH``: those that are surely near are gone.

    Space is cut into cells of ten times ``LENGTH``; a point is looked up in the cells about it.
    """
    cell = 10 * LENGTH
    taken: dict[tuple[int, int, int], list[int]] = {}
    for n, key in enumerate(map(tuple, np.floor(others / cell).astype(np.int64))):
        taken.setdefault(key, []).append(n)
    lost = []
    for point in points:
        low, high = np.floor((point - LENGTH) / cell).astype(int), np.floor((point + LENGTH) / cell).astype(int)
        keys = {(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])}
        near = [n for key in keys for n in taken.get(key, ())]
        if not any(np.linalg.norm(others[n] - point) <= LENGTH for n in near):
            lost.append(point)
    return np.array(lost).reshape(-1, 3)


def _check_overlap(flat: FlatPattern) -> None:
    from shapely import Polygon, STRtree, area, intersection

    loops = [(p.outline, p.openings) for p in flat.panels]
    loops += [(s.zone, s.openings) for b in flat.bends for s in b.segments]
    shapes = [Polygon(o.points(), [h.points() for h in holes]) for o, holes in loops]
    one, two = STRtree(shapes).query(shapes, predicate="intersects")
    pairs = one < two
    if not pairs.any():
        return
    grid = np.array(shapes, dtype=object)
    shared = area(intersection(grid[one[pairs]], grid[two[pairs]]))
    worst = int(np.argmax(shared))
    if shared[worst] > 1e-4:
        x, y = (
            shapes[int(one[pairs][worst])].intersection(shapes[int(two[pairs][worst])]).representative_point().coords[0]
        )
        raise InputRefused(
            Fault(
                "FG042",
                f"the flat, near x {x:.1f}, y {y:.1f}",
                f"two parts of it cover each other by {shared[worst]:.3f} mm2",
                "shorten a flange or move a bend: one blank cannot have metal twice in one place",
            )
        )
