"""A formed part that somebody else modelled: what is asked of it, and its flat."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from flatgen.errors import Finding
from flatgen.flat import FlatPattern
from flatgen.rule import Rule


@dataclass(frozen=True)
class Wish:
    """How a part is to be unfolded.

    ``near`` is ``auto``, a direction (``+x``, ``-x``, ...) that the near face looks along, or the number of a face
    as messages call it. ``inside_radius`` [mm] is what corners modelled sharp will be bent to. ``skip_formed``
    unfolds the sheet around stretched forms instead of refusing them.
    """

    near: str = "auto"
    inside_radius: float | None = None
    skip_formed: bool = False


@dataclass(frozen=True)
class Formed:
    """The labelled flat, what is to be told of it, and the kernel's shape that it was made from."""

    flat: FlatPattern
    findings: tuple[Finding, ...]
    shape: Any


def unfold_formed(shape: Any, rule_for: Callable[[float], Rule], wish: Wish | None = None) -> Formed:
    """Unfold one solid that somebody else modelled.

    Parameters
    ----------
    shape : cadquery Workplane or Shape, or a kernel shape
        One solid.
    rule_for : callable
        The rule of allowances for the thickness that was found [mm].
    wish : Wish, optional

    Raises
    ------
    InputRefused
        FG040 to FG042, FG044 to FG046: no sheet, not developable, a flat that overlaps itself, faulty geometry.
    IdentityFailed
        FG901 to FG904: flat and solid disagree, a bug.
    """
    from flatgen.unfolding import unfold
    from flatgen.unfolding.read import read_shell
    from flatgen.unfolding.skins import find_skins

    thickness = find_skins(read_shell(shape), None).thickness
    return Formed(unfold(shape, rule_for(thickness), thickness=thickness), (), shape)
