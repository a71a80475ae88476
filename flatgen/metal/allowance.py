"""The closed forms of one bend: setback, bend allowance, bend deduction, K.

A        bend angle, the angle that the metal is turned through [deg]
r, t     inside radius and thickness [mm]
SB       setback, from mould line (or from where the drawing dimensions to) to tangent line, along the leg
BA       bend allowance, developed length of the curve along the neutral fibre
BD       bend deduction, 2 SB - BA
K        distance of the neutral fibre from the inside face, as a share of the thickness

A wrong argument is ``ValueError``: it comes from code. This module imports nothing of ours.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from typing import Literal, Protocol, runtime_checkable

Dimensions = Literal["mould-line", "inside", "overall", "inside-overall"]


def setback(angle: float, r: float, t: float, dimensions: Dimensions = "mould-line") -> float:
    r"""Setback of one bend, from where the leg is dimensioned to down to the tangent line.

    .. math:: SB = (r + t) \tan(A/2)

    to the mould line; ``inside`` has r in place of r + t; the ``overall`` ones have min(A, 90) in place
    of A, since above 90 degrees drawings dimension to the outer (or inner) tangent.

    :param angle: bend angle, 0 < angle <= 180, and < 180 unless an overall way to dimension [deg]
    :param r: inside radius, >= 0 [mm]
    :param t: thickness, > 0 [mm]
    :returns: setback [mm]
    :raises ValueError: If the angle has no mould line, or an argument is out of range.

    FAA-H-8083-31 ch. 4, U-channel: R .16, T .040 in, 90 degrees, SB 0.20 in; tan 45 is 1.

    >>> setback(90, r=0.16, t=0.040)
    0.2
    >>> setback(120, r=1, t=1, dimensions="overall")
    2.0
    """
    check_bend(angle, r, t)
    if dimensions in ("overall", "inside-overall"):
        half = math.radians(min(angle, 90.0)) / 2
    elif angle < 180:
        half = math.radians(angle) / 2
    else:
        raise ValueError("a bend of 180 degrees has no mould line: dimension it overall")
    return (r if dimensions in ("inside", "inside-overall") else r + t) * math.tan(half)


def bend_allowance(angle: float, r: float, t: float, *, k: float) -> float:
    r"""Length of flat sheet that one bend uses, along the neutral fibre.

    .. math:: BA = \frac{\pi A}{180} (r + K t)

    :param angle: bend angle, 0 < angle <= 180 [deg]
    :param r: inside radius, >= 0 [mm]
    :param t: thickness, > 0 [mm]
    :param k: place of the neutral fibre from the inside face, as a share of t
    :returns: bend allowance [mm]
    :raises ValueError: If an argument is out of range.

    By hand, 90 degrees, neutral fibre at mid thickness: (pi/2)(3 + 0.5*2) = 2 pi.

    >>> bend_allowance(90, r=3, t=2, k=0.5)
    6.283185307
    """
    check_bend(angle, r, t)
    return math.radians(angle) * (r + k * t)


def bend_deduction(angle: float, r: float, t: float, *, k: float, dimensions: Dimensions = "mould-line") -> float:
    r"""What the blank is shorter than the sum of its legs, for one bend.

    .. math:: BD = 2 SB - BA

    :param angle: bend angle, 0 < angle <= 180 [deg]
    :param r: inside radius, >= 0 [mm]
    :param t: thickness, > 0 [mm]
    :param k: place of the neutral fibre from the inside face, as a share of t
    :returns: bend deduction; negative where the blank is longer than its legs [mm]
    :raises ValueError: If the angle has no mould line, or an argument is out of range.

    By hand, 90 degrees, r = 3, t = 2, mid thickness: 2 * 5 - 2 pi.

    >>> bend_deduction(90, r=3, t=2, k=0.5)
    3.716814693
    """
    return 2 * setback(angle, r, t, dimensions) - bend_allowance(angle, r, t, k=k)


def effective_k(length: float, angle: float, r: float, t: float) -> float:
    """K that gives a bend allowance: (BA / A - r) / t, A in radians.

    :param length: bend allowance [mm]
    :param angle: bend angle, 0 < angle <= 180 [deg]
    :param r: inside radius, >= 0 [mm]
    :param t: thickness, > 0 [mm]
    :raises ValueError: If an argument is out of range.

    >>> effective_k(math.tau, angle=90, r=3, t=2)
    0.5
    """
    check_bend(angle, r, t)
    return (length / math.radians(angle) - r) / t


def check_bend(angle: float, r: float, t: float) -> None:
    """Refuse arguments that are no bend: 0 < A <= 180 [deg], r >= 0 [mm], t > 0 [mm].

    :param angle: bend angle [deg]
    :param r: inside radius [mm]
    :param t: thickness [mm]
    :raises ValueError: If one is out of range.
    """
    if not 0 < angle <= 180:
        raise ValueError(f"bend angle {angle} is not above 0 and up to 180")
    if not (0 <= r < math.inf and 0 < t < math.inf):
        raise ValueError(f"inside radius {r} or thickness {t} out of range")


MetalClass = Literal["soft", "medium", "hard"]

DIN_LEAST_RATIO = 0.65  # below this r/s the k of DIN 6935 means nothing

DIN_MIDLINE_RATIO = 5.0  # above this r/s the mid-line is accurate enough, k = 1

DIN_SHALLOW = 15.0  # bend angles below it (opening angles above 165) have v = 0 in print

MACHINERY_FACTORS: dict[MetalClass, float] = {"soft": 0.55, "medium": 0.64, "hard": 0.71}

SLACK = 1e-9  # of rounding, for comparisons of ratios and angles

_FAA = "FAA-H-8083-31 ch. 4, as printed in public study notes of it: (0.01743 R + 0.0078 T) per degree"

_DIN = "DIN 6935, as printed in a German metal-trade table book (Tabellenbuch Metall, bending page)"

_MACHINERY = "Machinery's Handbook, 31st ed., p. 1421; angles other than 90 in proportion (from memory)"

_SHALLOW_REMEDY = "bend a test strip, or give k, allowance or deduction for this bend"

_K_REMEDY = "check that angle, radius, thickness and the given figure belong together"


class NotUsable(Exception):
    """A question that has no answer here; ``text`` says why with numbers, ``remedy`` what to do."""

    def __init__(self, text: str, remedy: str = "") -> None:
        super().__init__(text)
        self.text = text
        self.remedy = remedy


@dataclass(frozen=True)
class Remark:
    """Something to know about an allowance; becomes a finding once the place is known."""

    code: str
    severity: Literal["note", "caution"]
    text: str
    remedy: str = ""


@dataclass(frozen=True)
class Allowance:
    """A bend allowance and where it comes from.

    ``length`` is BA [mm]; ``k`` is the effective K, (BA / angle in radians - r) / t [-].
    """

    length: float
    k: float
    method: str
    source: str
    remarks: tuple[Remark, ...] = ()


@runtime_checkable
class Method(Protocol):
    """A way to find a bend allowance."""

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """Allowance of one bend: angle [deg], inside radius [mm], thickness [mm]."""
        ...


@dataclass(frozen=True)
class GivenK:
    """K as given, [-]."""

    k: float

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """See :class:`Method`; NotUsable where K leaves no positive length."""
        length = bend_allowance(angle, inside_radius, thickness, k=self.k)
        return _answer(length, angle, inside_radius, thickness, f"K {self.k:g} given", "given")


@dataclass(frozen=True)
class GivenAllowance:
    """Bend allowance as given, ``length`` [mm]."""

    length: float

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """See :class:`Method`; NotUsable where the length is not positive."""
        return _answer(self.length, angle, inside_radius, thickness, "bend allowance given", "given")


@dataclass(frozen=True)
class GivenDeduction:
    """Bend deduction as given, ``length`` [mm], for legs dimensioned as ``dimensions`` says."""

    length: float
    dimensions: Dimensions = "mould-line"

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """See :class:`Method`; NotUsable where BA = 2 SB - BD is not positive or there is no mould line."""
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
        return _answer(sides - self.length, angle, inside_radius, thickness, method, "given")


@dataclass(frozen=True)
class Din6935:
    """DIN 6935: K = k/2, k = 0.65 + 0.5 log10(r/s), k = 1 for r/s above 5.

    For opening angles above 165 the standard neglects the bend (v = 0). ``shallow`` says what is done
    there: ``formula`` carries the formula on, ``zero`` takes v = 0, that is BA = 2 SB to the mould line.
    Source: scan of a German metal-trade table book (Tabellenbuch Metall), bending page.
    """

    shallow: Literal["formula", "zero"] = "formula"

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """See :class:`Method`; NotUsable for r/s below 0.65, where k means nothing."""
        check_bend(angle, inside_radius, thickness)
        ratio = inside_radius / thickness
        if ratio < DIN_LEAST_RATIO - SLACK:
            raise NotUsable(
                f"DIN 6935 has no k for r/s = {ratio:.3g}: it is not usable below {DIN_LEAST_RATIO} unless k is given",
                f"give k for this bend, or an inside radius of at least {DIN_LEAST_RATIO * thickness:.3g} mm",
            )
        k = 1.0 if ratio > DIN_MIDLINE_RATIO else 0.65 + 0.5 * math.log10(ratio)
        length = bend_allowance(angle, inside_radius, thickness, k=k / 2)
        if angle >= DIN_SHALLOW - SLACK:
            return _answer(length, angle, inside_radius, thickness, "DIN 6935", _DIN)
        if self.shallow == "formula":
            text = (
                f"opening angle {180 - angle:g} is above 165, where DIN 6935 takes v = 0; "
                f"its formula is carried on instead (K {k / 2:.3f})"
            )
            remark = Remark("FG105", "note", text, _SHALLOW_REMEDY)
            return _answer(length, angle, inside_radius, thickness, "DIN 6935", _DIN, remark)
        return self._neglected(angle, inside_radius, thickness, length)

    def _neglected(self, angle: float, r: float, t: float, formula: float) -> Allowance:
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
        """See :class:`Method`."""
        length = (0.01743 * inside_radius + 0.0078 * thickness) * angle
        return _answer(length, angle, inside_radius, thickness, "aviation formula", _FAA)


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
        """See :class:`Method`."""
        factor = MACHINERY_FACTORS[self.metal_class]
        length = (factor * thickness + 1.57 * inside_radius) * angle / 90
        method = f"Machinery's Handbook, {self.metal_class} metal"
        return _answer(length, angle, inside_radius, thickness, method, _MACHINERY)


@dataclass(frozen=True)
class Measured:
    """What strips told of a bend: ``length`` [mm] of its allowance, for the radius asked for; ``behind`` and ``source``
    in words.
    """

    length: float
    behind: str
    source: str

    def allowance(self, angle: float, inside_radius: float, thickness: float) -> Allowance:
        """See :class:`Method`; NotUsable where the length is not positive."""
        return _answer(self.length, angle, inside_radius, thickness, f"measured, {self.behind}", self.source)


METHODS: dict[str, Method] = {
    "din-6935": Din6935(),
    "din-6935-zero": Din6935("zero"),
    "aviation": Aviation(),
    "machinery-soft": Machinery("soft"),
    "machinery-medium": Machinery("medium"),
    "machinery-hard": Machinery("hard"),
}


def method_named(name: str) -> Method:
    """Method by the name used in files.

    :param name: one of ``METHODS``, in any case
    :raises NotUsable: If there is none of this name; the remedy lists the names.

    >>> method_named("Aviation")
    Aviation()
    """
    found = METHODS.get(name.strip().casefold())
    if found is not None:
        return found
    near = difflib.get_close_matches(name.strip().casefold(), METHODS, n=1)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    raise NotUsable(f'no allowance method is called "{name}"', f"{hint}known are: {', '.join(METHODS)}")


def _answer(length: float, angle: float, r: float, t: float, method: str, source: str, *remarks: Remark) -> Allowance:
    """The allowance with its effective K; refuses none, warns of a fibre outside."""
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
