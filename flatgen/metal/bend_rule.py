"""How much metal the bends of a received part use: by strips, by the K that was given, or by the metal's method."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import AllowanceRule, Axis, BendAllowance
from flatgen.metal.allowance import Allowance, GivenK, Method, NotUsable, effective_k, method_named
from flatgen.metal.metals import Metal

_SAME_BEND = 2e-3
"""Bends that differ by less are the same bend to strips [mm, deg]."""
_USUAL_K = (0.33, 0.48)
"""Span of published K. Least: Groover, for r below 2 t (memory); greatest: common practice, no source. Within
it Machinery's Handbook, 31st ed., p. 1421, has 0.350, 0.407 and 0.452 by class of metal (its c T + 1.57 R, derived)."""
_USUAL_K_SOURCE = "common practice; Machinery's Handbook, 31st ed., p. 1421: 0.35 to 0.45 by class of metal"


@dataclass(frozen=True)
class MeasuredAllowance:
    """Allowance ``length`` [mm] that strips gave for a thickness, inside radius [mm] and angle [deg]."""

    thickness: float
    inside_radius: float
    angle: float
    length: float
    method: str
    source: str

    def applies_to(self, thickness: float, inside_radius: float, angle: float) -> bool:
        """Whether a bend is of this kind, within a five-hundredth [mm, deg]."""
        pairs = ((self.thickness, thickness), (self.inside_radius, inside_radius), (self.angle, angle))
        return all(abs(one - other) <= _SAME_BEND for one, other in pairs)


def rule_for(
    metal: Metal | None, k: float | None, measured: Sequence[MeasuredAllowance] = ()
) -> Callable[[float], AllowanceRule]:
    """The rule of allowances by K, else by the metal's default method, once the thickness [mm] is known.

    :param measured: goes before K and the method
    :raises InputRefused: FG052 with neither, FG024 for a K out of range or a metal without a method; the rule itself
        raises FG024 for a bend that the method has no answer for.

    By hand: (pi/2)(3 + 0.5 * 2) = 2 pi.

    >>> rule_for(None, 0.5)(2.0)(((0, 0, 0), (0, 0, 1)), 3.0, 90.0).length
    6.283185307
    """
    method = _method(metal, k)

    def of_thickness(thickness: float) -> AllowanceRule:
        def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
            by_strips = next((one for one in measured if one.applies_to(thickness, inside_radius, angle)), None)
            if by_strips is not None:
                strips_k = effective_k(by_strips.length, angle, inside_radius, thickness)
                return BendAllowance(by_strips.length, strips_k, by_strips.method)
            allowance = _allowance(method, thickness, inside_radius, angle)
            return BendAllowance(allowance.length, allowance.k, allowance.method)

        return rule

    return of_thickness


def allowance_of(
    metal: Metal | None, k: float | None, thickness: float, inside_radius: float, angle: float
) -> Allowance:
    """The allowance of one bend [mm, deg] with its source and remarks, by K or method as in :func:`rule_for`."""
    return _allowance(_method(metal, k), thickness, inside_radius, angle)


def check_k(k: float, where: str = "--k") -> float:
    """The K itself, if it is from 0 to 1; else InputRefused with FG024."""
    if 0 <= k <= 1:
        return k
    text = f"K = {k:g} is not between 0 and 1, so the neutral fibre is outside the sheet"
    raise InputRefused(Fault("FG024", where, text, f"K is a share of the thickness, {usual_k()}"))


def usual_k() -> str:
    """The usual range of K in words, with its source."""
    low, high = _USUAL_K
    return f"usually {low:.2f} to {high:.2f} from the inside face ({_USUAL_K_SOURCE})"


def missing_metal_refusal(metals: Mapping[str, Metal], where: str) -> InputRefused:
    """FG052 for a call with neither metal nor K, with the metals on offer."""
    names = ", ".join(m.name for m in metals.values() if m.default_method)
    text = "a STEP file does not say what metal it is, and without metal or K no bend can be developed"
    remedy = f"give --metal, one of {names}; or --k, {usual_k()}"
    return InputRefused(Fault("FG052", where, text, remedy))


def _method(metal: Metal | None, k: float | None) -> Method:
    if k is not None:
        return GivenK(check_k(k, "K"))
    if metal is None:
        text = "neither metal nor K is given, and without one no bend can be developed"
        raise InputRefused(Fault("FG052", "the part", text, f"give a metal, or k: {usual_k()}"))
    if metal.default_method is None:
        text = f"no table says how much metal a bend of {metal.name} uses"
        raise InputRefused(Fault("FG024", metal.name, text, f"bend a test strip, and give K: {usual_k()}"))
    return method_named(metal.default_method)


def _allowance(method: Method, thickness: float, inside_radius: float, angle: float) -> Allowance:
    try:
        if angle <= 180:
            return method.allowance(angle, inside_radius, thickness)
        half = method.allowance(angle / 2, inside_radius, thickness)  # every method is in proportion to the angle
        return replace(half, length=2 * half.length)
    except NotUsable as error:
        where = f"a bend of {angle:.4g} deg, inside radius {inside_radius:.4g} mm"
        raise InputRefused(Fault("FG024", where, error.text, f"give K for the whole part, {usual_k()}")) from error
