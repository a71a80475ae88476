"""The part as its definition gives it: a tree of legs joined by bends, everything resolved to numbers.

leg        a flat part of the section; ``length`` as the drawing dimensions it (see ``dimensions``)
bend       joins two legs, see :class:`flatgen.definition.part.BendSpec`
chain      a tree whose bend i joins leg i and leg i + 1; what ``section`` in a file writes

Millimetres and degrees. This module holds no geometry.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field, replace

from flatgen.core.errors import Finding
from flatgen.core.opening_rules import Rules, default_rules
from flatgen.definition.cutouts import Cut, Opening
from flatgen.definition.part import BendSpec, Particulars, leg_number
from flatgen.metal.allowance import Dimensions
from flatgen.metal.metals import Metal


@dataclass(frozen=True)
class Leg:
    """A leg: ``length`` [mm] measured as ``dimensions`` says; ``name`` is the user's, or None.

    ``reference`` marks a leg whose dimension matters, so that a brake holds it wherever that is possible.
    """

    name: str | None
    length: float
    dimensions: Dimensions
    where: str = ""
    reference: bool = False

    def __post_init__(self) -> None:
        _positive("length", self.length)


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
    particulars: Particulars = field(default_factory=Particulars)
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

    @property
    def metal_text(self) -> str:
        """The metal in words."""
        return self.metal.name

    @property
    def source(self) -> None:
        """None: a definition is no received part."""
        return None

    @property
    def reference_legs(self) -> tuple[int, ...]:
        """Indices of the legs whose dimension matters."""
        return tuple(n for n, leg in enumerate(self.legs) if leg.reference)

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
        return f'{leg_number(leg)} "{name}"' if name else leg_number(leg)

    def leg_name(self, leg: int) -> str | None:
        """The user's name of a leg.

        Parameters
        ----------
        leg : int
            Index of the leg, [-]

        Returns
        -------
        str | None
            None where it has none, [-]
        """
        return self.legs[leg].name

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
    holds = tuple((b.label, b.hold) for b in profile.bends if b.hold is not None)
    held = (("held", holds, profile.reference_legs),) if holds or profile.reference_legs else ()
    text = repr((head, profile.dimensions, legs, bends, profile.order, *taken, *held))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
