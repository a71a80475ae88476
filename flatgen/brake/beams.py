"""The beams of a brake: how they bend under a centred patch of even line load, and the properties of their sections.

The patch is the length of the part, in the middle of the beam's span. Second moments act as a tensor: an angle loaded
along y alone bends along x too, unless it is held sideways. Closed forms for the whole span as in any book on strength
of materials; those for the centred patch are derived and checked against a solver in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from flatgen.core.shop import Beam, Section


def patch_deflection(line_load: float, width: float, span: float, stiffness: float, *, built_in: bool = False) -> float:
    r"""Deflection at mid span under a centred patch of even line load [mm].

    .. math:: \delta = \frac{q w (8 L^3 - 4 L w^2 + w^3)}{384 E I}
              \quad\text{built in: } \frac{q w (2 L^3 - 2 L w^2 + w^3)}{384 E I}

    :param line_load: q [N/mm]
    :param width: of the patch, 0 to span [mm]
    :param span: > 0 [mm]
    :param stiffness: E I, > 0 [N mm2]
    :param built_in: whether the ends are held against turning
    :raises ValueError: If an argument is out of range.

    E 205000 MPa, I 200000 mm4, span 900 mm, 20 N/mm over the middle 600 mm.

    >>> patch_deflection(20, 600, 900, 205e3 * 2e5)
    3.6220
    """
    if not 0 <= width <= span or span <= 0 or stiffness <= 0:
        raise ValueError(f"no beam: patch {width:g}, span {span:g}, stiffness {stiffness:g}")
    cubes = (2 if built_in else 8) * span**3 - (2 if built_in else 4) * span * width**2 + width**3
    return line_load * width * cubes / (384 * stiffness)


def patch_moment(line_load: float, width: float, span: float, *, built_in: bool = False) -> float:
    r"""Largest bending moment of such a beam, without its sign [N mm]; arguments as of :func:`patch_deflection`.

    .. math:: M = q w (2 L - w) / 8 \quad\text{built in: less at mid span by, and at the ends, } q w (3L^2 - w^2)/(24 L)

    By hand, q L2/8 and q L2/12.

    >>> patch_moment(1, 12, 12), patch_moment(1, 12, 12, built_in=True)
    (18.0, 12.0)
    """
    middle = line_load * width * (2 * span - width) / 8
    if not built_in:
        return abs(middle)
    end = line_load * width * (3 * span**2 - width**2) / (24 * span)
    return max(abs(end), abs(middle - end))


@dataclass(frozen=True)
class LineLoad:
    """Line load on a beam [N/mm], along the section's ``x`` and ``y``."""

    x: float
    y: float


@dataclass(frozen=True)
class BeamResponse:
    """``deflection`` [mm] at mid span under the last load, square to the leaf; ``stress`` [MPa]: largest of all."""

    deflection: float
    stress: float


def _curvature(section: Section, load: LineLoad, *, held: bool) -> tuple[float, float]:
    """Load divided by the tensor of second moments, along x and y; for a load along y by Ix - Ixy2/Iy along y."""
    ixy = 0.0 if held else section.ixy
    size = section.ix * section.iy - ixy**2
    if size <= 0 or section.ix <= 0:
        raise ValueError(f"no section: ix {section.ix:g}, iy {section.iy:g}, ixy {ixy:g}")
    return (section.ix * load.x - ixy * load.y) / size, (section.iy * load.y - ixy * load.x) / size


def beam_response(
    beam: Beam | None, length: float, loads: tuple[LineLoad, ...], leaf_angle: float
) -> BeamResponse | None:
    """A beam under a centred patch of a length [mm]; the stress is that at the corner of the section's box.

    :param leaf_angle: [deg]
    """
    if beam is None:
        return None
    width, section = min(length, beam.span), beam.section
    moment = patch_moment(1.0, width, beam.span, built_in=beam.built_in)
    curvatures = [_curvature(section, load, held=beam.sideways_held) for load in loads]
    stress = max(moment * (abs(x) * section.far_x + abs(y) * section.far_y) for x, y in curvatures)
    x, y = curvatures[-1]
    th = math.radians(leaf_angle)
    square = y * math.cos(th) - x * math.sin(th)
    deflection = patch_deflection(square, width, beam.span, beam.modulus, built_in=beam.built_in)
    return BeamResponse(deflection, stress)


Heel = Literal["low back", "low front", "high back", "high front"]
Opens = Literal["up", "down", "front", "back"]
_Rectangle = tuple[float, float, float, float]  # left, low, right, high


def bar_section(width: float, height: float) -> Section:
    """Solid rectangular bar.

    :param width, height: along x and y, > 0 [mm]
    :raises ValueError: If a size is not above 0.

    By hand, 16 x 80 on edge: 16 * 80^3 / 12.

    >>> bar_section(16, 80).ix
    682666.7
    """
    _check_positive(width=width, height=height)
    long, short = max(width, height), min(width, height)
    ratio = short / long
    j = long * short**3 * (1 / 3 - 0.21 * ratio * (1 - ratio**4 / 12))
    text = f"bar {width:g} x {height:g}"
    return Section(width * height**3 / 12, height * width**3 / 12, 0.0, j, width / 2, height / 2, text)


def angle_section(along: float, square: float, thickness: float, heel: Heel = "low back") -> Section:
    """Angle with one leg along x and one along y, sharp corners; the sign of ixy goes with the heel.

    :param along, square: legs along x and y, to the outside of the heel, > thickness [mm]
    :param thickness: of both legs, > 0 [mm]
    :param heel: where the legs meet: low or high along y, back (against x) or front (along x)
    :raises ValueError: If a leg is not longer than it is thick, or there is no such heel.

    By hand, legs 2, thickness 1: three unit squares about their common centroid, 3/12 + 2/3; ixy -1/3.

    >>> angle_section(2, 2, 1).ix
    0.9166667
    >>> angle_section(2, 2, 1).ixy
    -0.3333333
    """
    _check_positive(along=along, square=square, thickness=thickness)
    if min(along, square) <= thickness:
        raise ValueError(f"an angle {along:g} x {square:g} with legs {thickness:g} thick has no two legs")
    if heel not in get_args(Heel):
        raise ValueError(f"no heel {heel!r}: one of {', '.join(get_args(Heel))}")
    sign = 1.0 if heel in ("low back", "high front") else -1.0
    j = (along + square - thickness) * thickness**3 / 3
    text = f"angle {along:g} x {square:g} x {thickness:g}, heel {heel}"
    parts = (((0.0, 0.0, along, thickness), 1.0), ((0.0, thickness, thickness, square), 1.0))
    return _composite(parts, along, square, j, sign, text)


def channel_section(flange: float, web: float, thickness: float, opens: Opens = "front") -> Section:
    """Channel of one thickness, sharp corners.

    :param flange: length of each flange to the outside of the web, > thickness [mm]
    :param web: size across both flanges, > 2 thickness [mm]
    :param thickness: of web and flanges, > 0 [mm]
    :param opens: where the open side looks: up, down, front (along x) or back (against x)
    :raises ValueError: If no channel is left, or it opens nowhere.

    By hand, a square of 4 less its 3 x 2 pocket at mid height: (4 * 4^3 - 3 * 2^3) / 12.

    >>> channel_section(4, 4, 1).ix
    19.3333333
    """
    _check_positive(flange=flange, web=web, thickness=thickness)
    if flange <= thickness or web <= 2 * thickness:
        raise ValueError(f"a channel {flange:g} x {web:g} with walls {thickness:g} thick is a solid bar")
    if opens not in get_args(Opens):
        raise ValueError(f"a channel opens {opens!r}: one of {', '.join(get_args(Opens))}")
    j = (2 * (flange - thickness / 2) + web - thickness) * thickness**3 / 3
    text = f"channel {flange:g} x {web:g} x {thickness:g}, opens {opens}"
    parts = (((0.0, 0.0, flange, web), 1.0), ((thickness, thickness, flange, web - thickness), -1.0))
    lying = _composite(parts, flange, web, j, 1.0, text)
    if opens in ("front", "back"):
        return lying
    return Section(lying.iy, lying.ix, 0.0, j, lying.far_y, lying.far_x, text)


def tube_section(width: float, height: float, wall: float) -> Section:
    r"""Rectangular tube, sharp corners; its torsion constant is that of a thin wall.

    .. math:: J = 2 s (w - s)^2 (h - s)^2 / (w + h - 2 s)

    :param width, height: outside, along x and y [mm]
    :param wall: s, > 0 and less than half of either size [mm]
    :raises ValueError: If the tube has no hollow.

    By hand, 4 x 4 with wall 1: (4^4 - 2^4) / 12; J = 2 * 9 * 9 / 6.

    >>> tube_section(4, 4, 1).ix
    20.0
    >>> tube_section(4, 4, 1).j
    27.0
    """
    _check_positive(width=width, height=height, wall=wall)
    inner_width, inner_height = width - 2 * wall, height - 2 * wall
    if min(inner_width, inner_height) <= 0:
        raise ValueError(f"a tube {width:g} x {height:g} with wall {wall:g} has no hollow")
    ix = (width * height**3 - inner_width * inner_height**3) / 12
    iy = (height * width**3 - inner_height * inner_width**3) / 12
    j = 2 * wall * (width - wall) ** 2 * (height - wall) ** 2 / (width + height - 2 * wall)
    text = f"tube {width:g} x {height:g} x {wall:g}"
    return Section(ix, iy, 0.0, j, width / 2, height / 2, text)


def _check_positive(**sizes: float) -> None:
    wrong = [f"{name} {size:g}" for name, size in sizes.items() if not 0 < size < math.inf]
    if wrong:
        raise ValueError(f"sizes of a section must be above 0: {', '.join(wrong)}")


def _composite(
    parts: tuple[tuple[_Rectangle, float], ...], width: float, height: float, j: float, sign: float, text: str
) -> Section:
    """Rectangles, each counted +1 or -1, in a box from (0, 0) to (width, height); ``sign`` mirrors ixy."""
    area = x = y = 0.0
    for (left, low, right, high), count in parts:
        piece = count * (right - left) * (high - low)
        area, x, y = area + piece, x + piece * (left + right) / 2, y + piece * (low + high) / 2
    x, y = x / area, y / area
    ix = iy = ixy = 0.0
    for (left, low, right, high), count in parts:
        across, up = right - left, high - low
        piece, dx, dy = count * across * up, (left + right) / 2 - x, (low + high) / 2 - y
        ix += piece * (up**2 / 12 + dy**2)
        iy += piece * (across**2 / 12 + dx**2)
        ixy += piece * dx * dy
    return Section(ix, iy, sign * ixy, j, max(x, width - x), max(y, height - y), text)
