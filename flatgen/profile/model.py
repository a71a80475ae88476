"""The part as its definition gives it: a tree of legs joined by bends, everything resolved to numbers.

leg        a flat part of the section; ``length`` as the drawing dimensions it (see ``dimensions``)
bend       joins two legs (``first``, ``second``, indices); its allowance is the length of metal it uses
chain      a tree whose bend i joins leg i and leg i + 1; what ``section`` in a file writes

Millimetres and degrees. This module holds no geometry.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field, replace

from flatgen.errors import Finding
from flatgen.flat import Way
from flatgen.metal.allowance import Allowance, Dimensions
from flatgen.metal.metals import Metal
from flatgen.profile.cutouts import Cut, Opening
from flatgen.watch.rules import Rules, default_rules


@dataclass(frozen=True)
class Leg:
    """A leg: ``length`` [mm] measured as ``dimensions`` says; ``name`` is the user's, or None."""

    name: str | None
    length: float
    dimensions: Dimensions
    where: str = ""

    def __post_init__(self) -> None:
        _positive("length", self.length)


@dataclass(frozen=True)
class BendSpec:
    """A bend between the legs ``first`` and ``second``.

    ``angle`` [deg] is what the metal is turned through; ``inside_radius`` [mm] is that of the finished part.
    ``deduction`` [mm] is two setbacks less the allowance, the setbacks in ``deduction_dimensions``.
    """

    label: str
    angle: float
    way: Way
    inside_radius: float
    allowance: Allowance
    deduction: float
    deduction_dimensions: Dimensions
    first: int
    second: int
    where: str = ""

    def __post_init__(self) -> None:
        _positive("inside radius", self.inside_radius)
        _positive("allowance", self.allowance.length)
        if not 0 < self.angle < 180:
            raise ValueError(f"angle of {self.angle} deg")
        if self.way not in ("up", "down"):
            raise ValueError(f"way {self.way!r}")


@dataclass(frozen=True)
class Profile:
    """A part of one section along its whole ``length`` [mm], less its openings and cuts.

    ``thickness_note`` says what a gauge was resolved to. ``order`` is the user's own order of bending, by
    labels, or None; it is not checked against a brake. ``fingerprint`` changes with any number of the part.
    """

    name: str
    path: str
    metal: Metal
    thickness: float
    thickness_note: str
    length: float
    dimensions: Dimensions
    legs: tuple[Leg, ...]
    bends: tuple[BendSpec, ...]
    order: tuple[str, ...] | None = None
    findings: tuple[Finding, ...] = ()
    title: str = ""
    openings: tuple[Opening, ...] = ()
    cuts: tuple[Cut, ...] = ()
    rules: Rules = field(default_factory=default_rules)
    fingerprint: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        _positive("thickness", self.thickness)
        _positive("length", self.length)
        if len(self.bends) != len(self.legs) - 1:
            raise ValueError(f"{len(self.legs)} legs and {len(self.bends)} bends are no tree")
        joined = {0}
        for bend in self.bends:
            if bend.first not in joined or bend.second in joined or not 0 <= bend.second < len(self.legs):
                raise ValueError(f"bend {bend.label} does not add a leg to the tree")
            joined.add(bend.second)
        if not self.fingerprint:
            object.__setattr__(self, "fingerprint", _fingerprint(self))

    @property
    def is_chain(self) -> bool:
        """Whether bend i joins leg i and leg i + 1, for all i."""
        return all((b.first, b.second) == (i, i + 1) for i, b in enumerate(self.bends))

    def bends_at(self, leg: int) -> tuple[BendSpec, ...]:
        """Bends that end at a leg, in the order of the definition.

        Parameters
        ----------
        leg : int
            Index of the leg, [-]

        Returns
        -------
        tuple[BendSpec, ...]
            Its bends, [-]
        """
        return tuple(b for b in self.bends if leg in (b.first, b.second))

    def leg_text(self, leg: int) -> str:
        """A leg as messages call it: its name in quotes, or "leg 3" counted from 1.

        Parameters
        ----------
        leg : int
            Index of the leg, [-]

        Returns
        -------
        str
            What to call it, [-]
        """
        name = self.legs[leg].name
        return f'leg {leg + 1} "{name}"' if name else f"leg {leg + 1}"

    def order_of(self, label: str) -> int | None:
        """Place of a bend in the user's order, from 1, or None without one.

        Parameters
        ----------
        label : str
            Label of the bend, [-]

        Returns
        -------
        int | None
            Its number, [-]
        """
        return None if self.order is None else self.order.index(label) + 1


def _positive(what: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{what} of {value}")


def _fingerprint(profile: Profile) -> str:
    """Sixteen hexadecimal digits of SHA-256 over everything that the drawings are made from."""
    legs = [(leg.name, leg.length, leg.dimensions) for leg in profile.legs]
    bends = [
        (b.label, b.angle, b.way, b.inside_radius, b.allowance.length, b.allowance.method, b.first, b.second)
        for b in profile.bends
    ]
    head = (profile.name, profile.title, profile.metal.name, profile.thickness, profile.length)
    openings = [replace(o, where="") for o in profile.openings]
    cuts = [replace(c, where="") for c in profile.cuts]
    taken = (openings, cuts, profile.rules) if openings or cuts else ()
    text = repr((head, profile.dimensions, legs, bends, profile.order, *taken))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
