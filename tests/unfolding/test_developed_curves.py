"""Cuts in a formed channel against closed forms: mitre, copes by a round tool, slots and holes across a bend.

The channel in its own section: X from the left mould line, Z from the web's near face, y along. About the axis
of the left bend (X = t + r, Z = r) a face has radius r or r + t; a point turned by p from the web lies at
X = t + r - radius sin p, Z = r - radius cos p, and in the flat at a share p / 90 of the allowance from the
web's tangent line (plane geometry, derived; the developed edges are sine curves and ellipses). Of both faces
the drawn edge must leave the metal on: the outline is the larger, an opening the smaller.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from flatgen.core.flat_pattern import FlatPattern
from flatgen.definition.reader import read_profile
from flatgen.jobs import draw as job

T, R, K = 2.0, 3.0, 0.42
WEB, FLANGE, LENGTH = 60.0, 35.0, 150.0
BA = math.pi / 2 * (R + K * T)
SB = R + T
WIDTH = 2 * FLANGE + WEB - 4 * SB + 2 * BA
WITHIN = 0.01
Face = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


def unfolded(folder: Path, cuts: str) -> FlatPattern:
    path = folder / "channel.toml"
    path.write_text(
        f'metal = "DC01"\nthickness = "{T} mm"\ninside_radius = "{R} mm"\nlength = "{LENGTH} mm"\nk = {K}\n'
        f'section = [{{ leg = "{FLANGE} mm", name = "left" }}, {{ bend = 90, way = "up" }}, '
        f'{{ leg = "{WEB} mm", name = "web" }}, {{ bend = 90, way = "up" }}, '
        f'{{ leg = "{FLANGE} mm", name = "right" }}]\n' + cuts
    )
    return job.develop_solid(read_profile(path)).flat


def face(near: bool) -> Face:
    """(X, Z) of a face over x of the flat."""
    radius = R if near else R + T

    def left_half(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        turned = np.clip((FLANGE - SB + BA - x) / BA, 0.0, 1.0) * math.pi / 2
        on_flange, on_web = np.maximum(FLANGE - SB - x, 0.0), np.maximum(x - (FLANGE - SB + BA), 0.0)
        return T + R - radius * np.sin(turned) + on_web, R - radius * np.cos(turned) + on_flange

    def whole(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        right = x > WIDTH / 2
        across, height = left_half(np.where(right, WIDTH - x, x))
        return np.where(right, WEB - across, across), height

    return whole


BOTH = (face(True), face(False))
GRID = np.unique(
    np.concatenate(
        [
            np.linspace(0.0, WIDTH, 60001),
            [FLANGE - SB, FLANGE - SB + BA, WIDTH - FLANGE + SB, WIDTH - FLANGE + SB - BA],
        ]
    )
)


def apart(flat: FlatPattern, corners: np.ndarray, opening: int | None = None) -> float:
    """Largest distance between a drawn loop and a closed form's boundary, either way [mm]."""
    import shapely

    loop = flat.outline if opening is None else flat.openings[opening]
    drawn = shapely.Polygon(loop.points(1e-4)).exterior
    true = shapely.Polygon(corners).exterior
    spots = [
        [shapely.Point(p.at(s)) for p in loop for s in np.linspace(0, 1, 33)],
        list(shapely.points(shapely.get_coordinates(true)[::7])),
    ]
    return max(float(shapely.distance(np.array(s), ring).max()) for s, ring in zip(spots, (true, drawn), strict=True))


def under(top: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> np.ndarray:
    """Outline of the blank whose top end either face's limit ``top(X, Z)`` gives."""
    limits = [np.minimum(top(*f(GRID)), LENGTH) for f in BOTH]
    edge = np.maximum(*limits)
    return np.vstack(([(0.0, 0.0), (WIDTH, 0.0)], np.column_stack((GRID, edge))[::-1]))


def between(span: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]) -> np.ndarray:
    """Outline of an opening: over each x what both faces' spans (lower, upper) share."""
    spans = [span(*f(GRID)) for f in BOTH]
    low, high = np.maximum(spans[0][0], spans[1][0]), np.minimum(spans[0][1], spans[1][1])
    open_here = high > low
    return np.vstack(
        (
            np.column_stack((GRID, low))[open_here],
            np.column_stack((GRID, high))[open_here][::-1],
        )
    )


@pytest.mark.parametrize("turn", [20.0, 45.0, -30.0])
def test_a_plane_mitre_across_a_channel(turn: float, tmp_path: Path) -> None:
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "plane"\nleg = "web"\nacross = "0 mm"\nacross_from = "middle"\nalong = "90 mm"\n'
        f'turn = {turn}\nremove = "top"\n',
    )
    slope = math.tan(math.radians(turn))
    assert apart(flat, under(lambda x, z: 90.0 + slope * (x - WEB / 2) + 0.0 * z)) < WITHIN
    assert flat.outline_difference is not None
    assert flat.outline_difference.largest == pytest.approx(T * abs(slope), abs=0.01)


@pytest.mark.parametrize("height", [10.0, 0.0, -1.0])
@pytest.mark.parametrize("degrees", [90.0, 45.0])
def test_a_cope_by_a_round_tube(degrees: float, height: float, tmp_path: Path) -> None:
    """The tube's axis lies ``height`` above the web and crosses the channel; what is beyond it is cut off first."""
    turn = 90.0 - degrees
    radius = 24.0
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "plane"\nleg = "web"\nacross = "0 mm"\nacross_from = "middle"\nalong = "90 mm"\n'
        f'turn = {turn}\nremove = "top"\n[[cut]]\ntool = "round"\naxis = "across"\n'
        f'diameter = "{2 * radius} mm"\nleg = "web"\n'
        f'across = "0 mm"\nacross_from = "middle"\nalong = "90 mm"\nabove = "{height} mm"\nturn = {turn}\n',
    )
    slope, cosine = math.tan(math.radians(turn)), math.cos(math.radians(turn))

    def top(x: np.ndarray, z: np.ndarray) -> np.ndarray:
        half = np.sqrt(np.maximum(radius**2 - (z - height) ** 2, 0.0))
        return 90.0 + slope * (x - WEB / 2) - half / cosine

    assert apart(flat, under(top)) < WITHIN


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_slot_across_a_bend(turn: float, tmp_path: Path) -> None:
    """A box about the mould line, 10 mm into web and flange; turned, its sides become sine curves on the bend."""
    reach, half, y0 = 14.0, 4.0, 70.0
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "box"\nleg = "web"\nacross = "0 mm"\nalong = "{y0} mm"\nsize_across = "{2 * reach} mm"\n'
        f'size_along = "{2 * half} mm"\nsize_above = "30 mm"\nabove = "0 mm"\nturn = {turn}\n',
    )
    slope, cosine = math.tan(math.radians(turn)), math.cos(math.radians(turn))

    def span(x: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        low, high = y0 + slope * x - half / cosine, y0 + slope * x + half / cosine
        if turn:  # the end that crosses the web: x cos + (y - y0) sin < reach
            limit = y0 + (reach - x * cosine) / math.sin(math.radians(turn))
            high = np.minimum(high, limit)
        else:
            high = np.where(x < reach, high, low)
        return low, np.where(z < 15.0, high, low)

    assert len(flat.openings) == 1
    assert apart(flat, between(span), 0) < WITHIN


def test_a_hole_drilled_onto_a_bend_becomes_a_developed_ellipse(tmp_path: Path) -> None:
    """A round tool square to the web, its edge over the bend; kept to web and bend."""
    radius, x0, y0 = 5.0, 7.5, 60.0
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "round"\naxis = "normal"\ndiameter = "{2 * radius} mm"\nleg = "web"\nacross = "{x0} mm"\n'
        f'along = "{y0} mm"\nlegs = ["web"]\n',
    )

    def span(x: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        half = np.sqrt(np.maximum(radius**2 - (x - x0) ** 2, 0.0))
        return y0 - half, y0 + half

    assert len(flat.openings) == 1
    assert apart(flat, between(span), 0) < WITHIN
    assert flat.opening_differences


@pytest.mark.parametrize("tilt", [15.0, 30.0])
def test_a_leaning_hole_leaves_what_both_ellipses_share(tilt: float, tmp_path: Path) -> None:
    """Each face is pierced in an ellipse of axes R and R / cos, t tan(tilt) apart along the part."""
    radius, y0 = 6.0, 75.0
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "round"\naxis = "normal"\ntilt = {tilt}\ndiameter = "{2 * radius} mm"\nleg = "web"\n'
        f'across = "0 mm"\nacross_from = "middle"\nalong = "{y0} mm"\nlegs = ["web"]\n',
    )
    long, step = radius / math.cos(math.radians(tilt)), T * math.tan(math.radians(tilt))

    def span(x: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        half = long / radius * np.sqrt(np.maximum(radius**2 - (x - WEB / 2) ** 2, 0.0))
        centre = np.where(z > -T / 2, y0, y0 - step)  # the far face lies t lower
        return centre - half, centre + half

    assert apart(flat, between(span), 0) < WITHIN
    assert flat.opening_differences[0][1].largest == pytest.approx(step, abs=0.02)


def test_a_leg_parted_by_a_window_stays_one_leg(tmp_path: Path) -> None:
    """A window over the whole web and into both flanges: two bends, each in two segments, three panels."""
    flat = unfolded(
        tmp_path,
        '[[cut]]\ntool = "box"\nleg = "web"\nacross = "0 mm"\nacross_from = "middle"\nalong = "75 mm"\n'
        f'size_across = "{WEB + 10} mm"\nsize_along = "20 mm"\nsize_above = "30 mm"\n',
    )
    assert [len(b.segments) for b in flat.bends] == [2, 2]
    assert sorted(len(p.regions) for p in flat.panels) == [1, 1, 2]
    assert flat.area == pytest.approx(WIDTH * LENGTH - flat.openings[0].area, rel=1e-9)
    assert flat.openings[0].area == pytest.approx(20 * (WEB - 2 * SB + 2 * BA + 2 * (15 - R)), rel=1e-9)


def test_a_notch_that_leaves_a_curl_of_a_bend(tmp_path: Path) -> None:
    """A flange and half of its bend are notched away in the middle of the part: the curl goes with its bend."""
    flat = unfolded(
        tmp_path,
        f'[[cut]]\ntool = "box"\nleg = "web"\nacross = "0 mm"\nalong = "75 mm"\nsize_across = "20 mm"\n'
        f'size_along = "30 mm"\nsize_above = "100 mm"\nabove = "{50 + R / 2} mm"\n',
    )
    lowest = math.acos((R - R / 2) / R) / (math.pi / 2)  # share of the bend at Z = r / 2 on the near face
    assert len(flat.bends) == 2
    left = min(p.at(0.5)[0] for p in flat.outline if abs(p.at(0.5)[1] - 75) < 10)
    assert left > FLANGE - SB
    outer = math.acos((R - R / 2) / (R + T)) / (math.pi / 2)
    assert left == pytest.approx(FLANGE - SB + BA * (1 - max(lowest, outer)), abs=WITHIN)
