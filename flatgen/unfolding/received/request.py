"""What is asked of a STEP file, and what comes back for each of its solids. Plain data, no kernel."""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.units import NotALength, parse_length
from flatgen.definition.limits import LARGEST_RADIUS, LEAST_RADIUS
from flatgen.definition.solid.projection import Projected
from flatgen.metal.allowance import NotUsable
from flatgen.metal.bend_rule import ToldAllowance, check_k, nothing_given, rule_for, usual_k
from flatgen.metal.metals import Metal, find_metal, load_metals


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


@dataclass(frozen=True)
class Ask:
    """A file to be read: ``skip`` are solids that need no answer; ``seconds`` bounds each piece of work [s]."""

    path: str
    request: Request
    skip: tuple[int, ...]
    seconds: float


@dataclass(frozen=True)
class Ready:
    """The kernel is loaded; what follows is work on files."""


@dataclass(frozen=True)
class Opened:
    """The file is read: name and number of places of each solid."""

    solids: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Begun:
    """The work on one solid begins."""

    number: int


@dataclass(frozen=True)
class Refused:
    """The file as such cannot be used."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class Done:
    """All solids of the file are answered."""


Answer: TypeAlias = Ready | Opened | Begun | Received | Refused | Done

NEAR = ("auto", "+x", "-x", "+y", "-y", "+z", "-z")


@dataclass(frozen=True)
class Asked:
    """What a person asks for, as texts; empty ones are not given.

    ``near`` is ``auto``, a direction, or the number of a face; ``inside_radius`` has its unit, such as "3 mm".
    """

    metal: str = ""
    k: str = ""
    near: str = "auto"
    inside_radius: str = ""
    skip_formed: bool = False
    step: bool = True
    views: bool = True

    def request(self, metals: Mapping[str, Metal]) -> Request:
        """What is asked, read.

        :raises InputRefused: With every fault: FG005, FG010 to FG012, FG024, FG030, FG052.
        """
        if not self.metal and not self.k:
            raise nothing_given(metals, "flatgen unfold")
        faults: list[Fault] = []
        metal = _tried(lambda: metal_of(self.metal, metals), faults) if self.metal else None
        k = _tried(lambda: _k_read(self.k), faults) if self.k else None
        near = _tried(lambda: near_of(self.near), faults)
        radius = _tried(lambda: _radius_read(self.inside_radius), faults) if self.inside_radius else None
        if not faults:
            _tried(lambda: rule_for(metal, k), faults)
        if faults or near is None:
            raise InputRefused(*faults)
        return Request(metal, k, near, radius, self.skip_formed, self.step, views=self.views)


def _tried(read: Callable[[], Any], faults: list[Fault]) -> Any:
    """What is read, or None and one fault more."""
    try:
        return read()
    except InputRefused as error:
        faults.extend(error.faults)
        return None


def metal_of(name: str, metals: Mapping[str, Metal], where: str = "--metal") -> Metal:
    """The metal that a name means.

    :raises InputRefused: FG030 for none.
    """
    try:
        return find_metal(dict(metals), name)
    except NotUsable as error:
        raise InputRefused(Fault("FG030", where, error.text, error.remedy)) from error


def metal_from(given: Any) -> Metal | None:
    """The metal that a caller of the library gives.

    :param given: A metal, the name of one, or None
    :returns: the metal, if there is one
    :raises InputRefused: FG005, FG030 for anything else.
    """
    if given is None or isinstance(given, Metal):
        return given
    if isinstance(given, str):
        return metal_of(given, load_metals(), "metal")
    remedy = 'write for example metal="6061-T6"; the command flatgen metals lists the names'
    raise InputRefused(Fault("FG005", "metal", f"{given!r:.40} is no name of a metal", remedy))


def k_of(given: Any) -> float | None:
    """The K that a caller of the library gives.

    :param given: A number, or None
    :raises InputRefused: FG005 for no number, FG024 where it is not from 0 to 1.
    """
    if given is None:
        return None
    if not _is_number(given):
        raise InputRefused(Fault("FG005", "k", f"{given!r:.40} is no number", f"write for example k=0.42; {usual_k()}"))
    return check_k(float(given), "k")


def radius_of(given: Any) -> float | None:
    """The inside radius that a caller of the library gives.

    :param given: A number [mm], a text with its unit, or None
    :returns: the radius [mm]
    :raises InputRefused: FG005 for neither, FG010 to FG012 for what is no length or cannot be.
    """
    if given is None:
        return None
    if isinstance(given, str):
        return _radius_read(given, "inside_radius")
    if _is_number(given):
        return bent_to(float(given), "inside_radius")
    remedy = 'write for example inside_radius=3 (mm) or inside_radius="3 mm"'
    raise InputRefused(Fault("FG005", "inside_radius", f"{given!r:.40} is no length", remedy))


def switch_of(given: Any) -> bool:
    """Whether a caller of the library wants forms to be skipped.

    :raises InputRefused: FG005 for anything else.
    """
    if isinstance(given, bool):
        return given
    text = f"{given!r:.40} is neither True nor False"
    raise InputRefused(Fault("FG005", "skip_formed", text, "write skip_formed=True to unfold around stretched forms"))


def _is_number(given: Any) -> bool:
    return isinstance(given, numbers.Real) and not isinstance(given, bool)


def _k_read(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        code = "FG011" if re.fullmatch(r"\d*,\d+", text.strip()) else "FG005"
        said = "a decimal comma is not read" if code == "FG011" else f"{text[:40]!r} is no number"
        raise InputRefused(Fault(code, "--k", said, f"write for example --k 0.42; {usual_k()}")) from None
    return check_k(value)


def near_of(text: str, where: str = "--near") -> str:
    """Where the near face looks, as the unfolder is asked.

    :param text: ``auto``, a direction, or the number of a face
    :raises InputRefused: FG005 for anything else.

    >>> near_of("+X"), near_of("17")
    ('+x', '17')
    """
    plain = text.strip().lower()
    if plain in NEAR or re.fullmatch(r"[1-9][0-9]{0,5}", plain):
        return plain
    said = f"{text[:40]!r} is no side to look from"
    raise InputRefused(
        Fault("FG005", where, said, f"choose among {', '.join(NEAR)}, or the number of a face as messages call it")
    )


def _radius_read(text: str, where: str = "--inside-radius") -> float:
    try:
        return bent_to(parse_length(text).value, where)
    except NotALength as error:
        example = f'write for example {where}{" " if where.startswith("-") else "="}"3 mm"'
        raise InputRefused(Fault(error.code, where, error.text, example)) from error


def bent_to(radius: float, where: str) -> float:
    """What sharp corners will be bent to, if it can be.

    :param radius: inside radius [mm]
    :returns: the same [mm]
    :raises InputRefused: FG012 where it is too small or too large.
    """
    if math.isfinite(radius) and LEAST_RADIUS <= radius <= LARGEST_RADIUS:
        return radius
    text = f"{radius:g} mm is not between {LEAST_RADIUS:g} and {LARGEST_RADIUS:g} mm"
    raise InputRefused(Fault("FG012", where, text, "give the radius that the nose will make"))
