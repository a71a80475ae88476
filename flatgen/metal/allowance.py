"""The closed forms of one bend (setback, bend allowance, bend deduction, K), and the methods that find its allowance.

A      bend angle, the angle that the metal is turned through, 0 < A <= 180 [deg]
r, t   inside radius, r >= 0 [mm], and thickness, t > 0 [mm]
K      distance of the neutral fibre from the inside face, as a share of the thickness

The closed forms raise ValueError for arguments out of these ranges.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from typing import Literal, Protocol, runtime_checkable

Dimensions = Literal["mould-line", "inside", "overall", "inside-overall"]
MetalClass = Literal["soft", "medium", "hard"]

SLACK = 1e-9
"""Of rounding, for comparisons of ratios, angles [deg] and sizes [mm]."""
_DIN_LEAST_RATIO = 0.65
"""Below this r/s the k of DIN 6935 means nothing."""
_DIN_MIDLINE_RATIO = 5.0
"""Above this r/s the mid-line is accurate enough, k = 1."""
_DIN_SHALLOW = 15.0
"""Bend angles below it (opening angles above 165) have v = 0 in print [deg]."""
_MACHINERY_FACTORS: dict[MetalClass, float] = {"soft": 0.55, "medium": 0.64, "hard": 0.71}

_FAA = "FAA-H-8083-31 ch. 4, as printed in public study notes of it: (0.01743 R + 0.0078 T) per degree"
_DIN = "DIN 6935, as printed in a German metal-trade table book (Tabellenbuch Metall, bending page)"
_MACHINERY = "Machinery's Handbook, 31st ed., p. 1421; angles other than 90 in proportion (from memory)"
_SHALLOW_REMEDY = "bend a test strip, or give k, allowance or deduction for this bend"
_K_REMEDY = "check that angle, radius, thickness and the given figure belong together"


def setback(angle: float, r: float, t: float, dimensions: Dimensions = "mould-line") -> float:
    r"""Setback along the leg, from where it is dimensioned to (the mould line) to the tangent line [mm].

    .. math:: SB = (r + t) \tan(A/2)

    ``inside`` has r in place of r + t; the ``overall`` ones have min(A, 90) in place of A, since above 90 degrees
    drawings dimension to the outer (or inner) tangent.

    :raises ValueError: an angle of 180 is not dimensioned overall: it has no mould line.

    FAA-H-8083-31 ch. 4, U-channel: R .16, T .040 in, 90 degrees, SB 0.20 in; tan 45 is 1.

    >>> setback(90, r=0.16, t=0.040)
    0.2
    >>> setback(120, r=1, t=1, dimensions="overall")
    2.0
    """
    _check_bend(angle, r, t)
    if dimensions in ("overall", "inside-overall"):
        half = math.radians(min(angle, 90.0)) / 2
    elif angle < 180:
        half = math.radians(angle) / 2
    else:
        raise ValueError("a bend of 180 degrees has no mould line: dimension it overall")
    return (r if dimensions in ("inside", "inside-overall") else r + t) * math.tan(half)


def bend_allowance(angle: float, r: float, t: float, *, k: float) -> float:
    r"""Bend allowance: developed length of the curve along the neutral fibre [mm].

    .. math:: BA = \frac{\pi A}{180} (r + K t)

    By hand, 90 degrees, neutral fibre at mid thickness: (pi/2)(3 + 0.5*2) = 2 pi.

    >>> bend_allowance(90, r=3, t=2, k=0.5)
    6.283185307
    """
    _check_bend(angle, r, t)
    return math.radians(angle) * (r + k * t)


def bend_deduction(angle: float, r: float, t: float, *, k: float, dimensions: Dimensions = "mould-line") -> float:
    """Bend deduction BD = 2 SB - BA [mm]; negative where the blank is longer than the sum of its legs.

    :raises ValueError: as for :func:`setback`.

    By hand, 90 degrees, r = 3, t = 2, mid thickness: 2 * 5 - 2 pi.

    >>> bend_deduction(90, r=3, t=2, k=0.5)
    3.716814693
    """
    return 2 * setback(angle, r, t, dimensions) - bend_allowance(angle, r, t, k=k)


def effective_k(length: float, angle: float, r: float, t: float) -> float:
    """K that gives a bend allowance ``length`` [mm]: (BA / A - r) / t, A in radians.

    >>> effective_k(math.tau, angle=90, r=3, t=2)
    0.5
    """
    _check_bend(angle, r, t)
    return (length / math.radians(angle) - r) / t


def _check_bend(angle: float, r: float, t: float) -> None:
    if not 0 < angle <= 180:
        raise ValueError(f"bend angle {angle} is not above 0 and up to 180")
    if not (0 <= r < math.inf and 0 < t < math.inf):
        raise ValueError(f"inside radius {r} or thickness {t} out of range")


class NotUsable(Exception):
    """A question has no answer: why, with numbers, and what to do."""

    def __init__(self, text: str, remedy: str = "") -> None:
        super().__init__(text)
        self.text = text
        self.remedy = remedy


@dataclass(frozen=True)
class Remark:
    """Becomes a finding once the place of the bend is known."""

    code: str
    severity: Literal["note", "caution"]
    text: str
    remedy: str = ""


@dataclass(frozen=True)
class Allowance:
    """A bend allowance ``length`` [mm] with its effective K, and where it comes from."""

    length: float
    k: float
    method: str
    source: str
    remarks: tuple[Remark, ...] = ()


@runtime_checkable
class Method(Protocol):
    """A way to find a bend allowance."""

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """Allowance of one bend; raises NotUsable where there is none, or none above 0."""
        ...


@dataclass(frozen=True)
class GivenK:
    """K as given."""

    k: float

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        length = bend_allowance(angle, inside_radius, thickness, k=self.k)
        return _allowance(length, angle, inside_radius, thickness, f"K {self.k:g} given", "given")


@dataclass(frozen=True)
class GivenAllowance:
    """Bend allowance as given, ``length`` [mm]."""

    length: float

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        return _allowance(self.length, angle, inside_radius, thickness, "bend allowance given", "given")


@dataclass(frozen=True)
class GivenDeduction:
    """Bend deduction as given, ``length`` [mm], for legs dimensioned as ``dimensions`` says."""

    length: float
    dimensions: Dimensions = "mould-line"

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        if angle >= 180 and self.dimensions in ("mould-line", "inside"):
            raise NotUsable(
                f"a bend of {angle:g} degrees has no mould line, so no deduction from it",
                'give the deduction with dimensions = "overall", or give the allowance',
            )
        sides = 2 * setback(angle, inside_radius, thickness, self.dimensions)
        if self.length >= sides:
            raise NotUsable(
                f"deduction {self.length:g} mm leaves no metal for the bend: it must be less than "
                f"2 SB = {sides:.4g} mm ({self.dimensions}, r {inside_radius:g}, t {thickness:g})",
                "check the deduction and the way in which it is dimensioned",
            )
        method = f"deduction {self.length:g} mm given ({self.dimensions})"
        return _allowance(sides - self.length, angle, inside_radius, thickness, method, "given")


@dataclass(frozen=True)
class Din6935:
    """DIN 6935: K = k/2, k = 0.65 + 0.5 log10(r/s), k = 1 for r/s above 5; not usable for r/s below 0.65.

    For opening angles above 165 the standard neglects the bend (v = 0). There ``shallow`` carries the formula on, or
    takes v = 0, that is BA = 2 SB to the mould line.
    Source: scan of a German metal-trade table book (Tabellenbuch Metall), bending page.
    """

    shallow: Literal["formula", "zero"] = "formula"

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        _check_bend(angle, inside_radius, thickness)
        ratio = inside_radius / thickness
        if ratio < _DIN_LEAST_RATIO - SLACK:
            raise NotUsable(
                f"DIN 6935 has no k for r/s = {ratio:.3g}: it is not usable below {_DIN_LEAST_RATIO} unless k is given",
                f"give k for this bend, or an inside radius of at least {_DIN_LEAST_RATIO * thickness:.3g} mm",
            )
        k = 1.0 if ratio > _DIN_MIDLINE_RATIO else 0.65 + 0.5 * math.log10(ratio)
        length = bend_allowance(angle, inside_radius, thickness, k=k / 2)
        if angle >= _DIN_SHALLOW - SLACK:
            return _allowance(length, angle, inside_radius, thickness, "DIN 6935", _DIN)
        if self.shallow == "formula":
            text = (
                f"opening angle {180 - angle:g} is above 165, where DIN 6935 takes v = 0; "
                f"its formula is carried on instead (K {k / 2:.3f})"
            )
            remark = Remark("FG105", "note", text, _SHALLOW_REMEDY)
            return _allowance(length, angle, inside_radius, thickness, "DIN 6935", _DIN, remark)
        return self._zero_correction(angle, inside_radius, thickness, length)

    def _zero_correction(self, angle: float, r: float, t: float, formula: float) -> Allowance:
        length = 2 * setback(angle, r, t)
        k = effective_k(length, angle, r, t)
        text = (
            f"opening angle {180 - angle:g} is above 165: v = 0 as DIN 6935 has it is a K of {k:.3f}, "
            f"a blank {length - formula:.3f} mm longer than by its formula"
        )
        remark = Remark("FG105", "note", text, _SHALLOW_REMEDY)
        return Allowance(length, k, "DIN 6935, v = 0", _DIN, (remark,))


@dataclass(frozen=True)
class Aviation:
    """Aviation formula, as printed: BA = (0.01743 R + 0.0078 T) N.

    Source: FAA-H-8083-31 ch. 4, as printed in public study notes of it. 0.01743 is pi/180 rounded, so the
    effective K falls a little with r/t, from 0.447 at r = 0.
    """

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        length = (0.01743 * inside_radius + 0.0078 * thickness) * angle
        return _allowance(length, angle, inside_radius, thickness, "aviation formula", _FAA)


@dataclass(frozen=True)
class Machinery:
    """Machinery's Handbook by class of metal, as printed: BA = (c T + 1.57 R) N/90.

    soft    c = 0.55, soft brass and copper
    medium  c = 0.64, half-hard copper and brass, soft steel, aluminium
    hard    c = 0.71, bronze, hard copper, cold-rolled steel, spring steel

    Source: Machinery's Handbook, 31st ed., p. 1421; in proportion for other angles (memory).
    """

    metal_class: MetalClass

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        factor = _MACHINERY_FACTORS[self.metal_class]
        length = (factor * thickness + 1.57 * inside_radius) * angle / 90
        method = f"Machinery's Handbook, {self.metal_class} metal"
        return _allowance(length, angle, inside_radius, thickness, method, _MACHINERY)


@dataclass(frozen=True)
class StripAllowance:
    """Allowance ``length`` [mm] learned from strips, for the radius asked for; ``behind``: their number in words."""

    length: float
    behind: str
    source: str

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        return _allowance(self.length, angle, inside_radius, thickness, f"measured, {self.behind}", self.source)


METHODS: dict[str, Method] = {
    "din-6935": Din6935(),
    "din-6935-zero": Din6935("zero"),
    "aviation": Aviation(),
    "machinery-soft": Machinery("soft"),
    "machinery-medium": Machinery("medium"),
    "machinery-hard": Machinery("hard"),
}


def method_named(name: str) -> Method:
    """Method by its name in files, whatever its case.

    :raises NotUsable: there is none of this name; the remedy lists the names.

    >>> method_named("Aviation")
    Aviation()
    """
    method = METHODS.get(name.strip().casefold())
    if method is not None:
        return method
    near = difflib.get_close_matches(name.strip().casefold(), METHODS, n=1)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    raise NotUsable(f'no allowance method is called "{name}"', f"{hint}known are: {', '.join(METHODS)}")


def _allowance(
    length: float, angle: float, r: float, t: float, method: str, source: str, *remarks: Remark
) -> Allowance:
    """The allowance with its effective K and a caution where the neutral fibre lies outside the sheet."""
    k = effective_k(length, angle, r, t)
    if not 0 < length < math.inf:
        raise NotUsable(
            f"{method}: bend allowance {length:.4g} mm is not above 0 (r {r:g}, t {t:g}, K {k:.3g})",
            "check K, allowance or deduction of this bend",
        )
    if not -SLACK <= k <= 1 + SLACK:
        text = f"{method}: the neutral fibre lies outside the sheet, K {k:.3f} is not between 0 and 1"
        remarks += (Remark("FG106", "caution", text, _K_REMEDY),)
    return Allowance(length, k, method, source, remarks)
