"""What is asked of a STEP file, and what comes back for each of its solids. Plain data, no kernel."""

from __future__ import annotations

from dataclasses import dataclass

from flatgen.core.errors import Fault, Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.definition.solid.projection import Projected
from flatgen.metal.bend_rule import ToldAllowance
from flatgen.metal.metals import Metal


@dataclass(frozen=True)
class Request:
    """How the solids of a file are to be unfolded.

    ``metal`` or ``k`` says how much metal a bend uses (``k`` wins). ``near`` is ``auto``, a direction such as
    ``+x``, or the number of a face. ``inside_radius`` [mm] is what corners modelled sharp will be bent to.
    ``skip_formed`` unfolds the sheet around stretched forms instead of refusing them. ``step`` asks for the STEP
    of the formed part; without it an answer is smaller and sooner. ``told``: allowances that strips told, which go
    before the metal's. ``views`` asks for views of the formed part.
    """

    metal: Metal | None = None
    k: float | None = None
    near: str = "auto"
    inside_radius: float | None = None
    skip_formed: bool = False
    step: bool = True
    told: tuple[ToldAllowance, ...] = ()
    views: bool = False


@dataclass(frozen=True)
class Received:
    """One solid of a file: unfolded, or refused.

    ``number`` counts solids from 1 in the order of the file; ``name`` is that of its product in the file, or "";
    ``count`` says how often the file places it. ``flat`` is None where ``faults`` say why there is none;
    ``exit_status`` is then 2 or 3, and ``where`` in them is a place within the solid. ``findings`` are what
    unfolding has to tell. ``step`` is the STEP of the formed part as it was unfolded; ``views`` are None
    where they were not asked for, or the kernel could not make them.
    """

    number: int
    name: str
    count: int = 1
    flat: FlatPattern | None = None
    faults: tuple[Fault, ...] = ()
    findings: tuple[Finding, ...] = ()
    step: bytes = b""
    exit_status: int = 0
    views: Projected | None = None
