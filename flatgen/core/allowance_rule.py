"""What an unfolder is asked with: the allowance of each bend, and how the part is looked at.

Both are about the formed part, in its own coordinates [mm]. This module imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

Triple: TypeAlias = tuple[float, float, float]
Axis: TypeAlias = tuple[Triple, Triple]
"""A point on the axis of a bend, and its unit direction."""


@dataclass(frozen=True)
class BendAllowance:
    """What a rule says of one bend: developed ``length`` [mm], effective ``k``, and the method in words."""

    length: float
    k: float
    method: str


Rule: TypeAlias = Callable[[Axis, float, float], BendAllowance]
"""``rule(axis, inside_radius [mm], angle [deg])``: the allowance of one bend."""


@dataclass(frozen=True)
class View:
    """The near face holds ``point`` and looks along ``normal`` there; x of the flat runs along ``across``."""

    point: Triple
    normal: Triple
    across: Triple
