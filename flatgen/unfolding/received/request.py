"""What a person asks of a STEP file, and what keeper and worker say to each other of it. Plain data, no kernel."""

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
from flatgen.definition.solid.projection import PartViews
from flatgen.metal.allowance import NotUsable
from flatgen.metal.bend_rule import MeasuredAllowance, check_k, missing_metal_refusal, rule_for, usual_k
from flatgen.metal.metals import Metal, find_metal, load_metals


@dataclass(frozen=True)
class Request:
    """How the solids of a file are to be unfolded.

    ``metal`` or ``k`` says how much metal a bend uses (``k`` wins), and ``strip_allowances``, which test strips gave,
    go before both. ``near``, ``inside_radius`` and ``skip_formed`` are those of ``formed.FormedOptions``. ``step`` asks
    for the STEP of the formed part (without it an answer is smaller and sooner), ``views`` for views of it.
    """

    metal: Metal | None = None
    k: float | None = None
    near: str = "auto"
    inside_radius: float | None = None
    skip_formed: bool = False
    step: bool = True
    strip_allowances: tuple[MeasuredAllowance, ...] = ()
    views: bool = False


@dataclass(frozen=True)
class ReceivedSolid:
    """One solid of a file: unfolded, or refused.

    ``number`` counts solids from 1 in the order of the file; ``name`` is that of its product, or ""; ``count`` says how
    often the file places it. ``flat`` is None where ``faults`` say why, places in them being within the solid;
    ``exit_status`` is then 2 or 3. ``step`` is the STEP of the formed part as it was unfolded; ``views`` are None where
    they were not asked for, or the kernel could not make them.
    """

    number: int
    name: str
    count: int = 1
    flat: FlatPattern | None = None
    faults: tuple[Fault, ...] = ()
    findings: tuple[Finding, ...] = ()
    step: bytes = b""
    exit_status: int = 0
    views: PartViews | None = None


@dataclass(frozen=True)
class FileRequest:
    """A file to be read: ``skip`` are solids that need no answer; ``seconds`` bounds each piece of work."""

    path: str
    options: Request
    skip: tuple[int, ...]
    seconds: float


@dataclass(frozen=True)
class WorkerReady:
    """The kernel is loaded; what follows is work on files."""


@dataclass(frozen=True)
class FileOpened:
    """The file is read: name and number of places of each solid."""

    solids: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class SolidStarted:
    """The work on one solid begins."""

    number: int


@dataclass(frozen=True)
class FileRefused:
    """The file as such cannot be used."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class FileDone:
    """All solids of the file are answered."""


Answer: TypeAlias = WorkerReady | FileOpened | SolidStarted | ReceivedSolid | FileRefused | FileDone

NEAR_SIDES = ("auto", "+x", "-x", "+y", "-y", "+z", "-z")


@dataclass(frozen=True)
class UnfoldOptions:
    """What a person asks for, as texts; empty ones are not given. ``inside_radius`` has its unit, such as "3 mm"."""

    metal: str = ""
    k: str = ""
    near: str = "auto"
    inside_radius: str = ""
    skip_formed: bool = False
    step: bool = True
    views: bool = True

    def request(self, metals: Mapping[str, Metal]) -> Request:
        """The texts, read.

        :raises InputRefused: with every fault: FG005, FG010 to FG012, FG024, FG030, FG052.
        """
        if not self.metal and not self.k:
            raise missing_metal_refusal(metals, "flatgen unfold")
        faults: list[Fault] = []
        metal = _try_read(lambda: metal_named(self.metal, metals), faults) if self.metal else None
        k = _try_read(lambda: _k_from_text(self.k), faults) if self.k else None
        near = _try_read(lambda: read_near(self.near), faults)
        radius = _try_read(lambda: _radius_from_text(self.inside_radius), faults) if self.inside_radius else None
        if not faults:
            _try_read(lambda: rule_for(metal, k), faults)
        if faults or near is None:
            raise InputRefused(*faults)
        return Request(metal, k, near, radius, self.skip_formed, self.step, views=self.views)


def _try_read(read: Callable[[], Any], faults: list[Fault]) -> Any:
    try:
        return read()
    except InputRefused as error:
        faults.extend(error.faults)
        return None


def metal_named(name: str, metals: Mapping[str, Metal], where: str = "--metal") -> Metal:
    """The metal of a name.

    :raises InputRefused: FG030 for none.
    """
    try:
        return find_metal(dict(metals), name)
    except NotUsable as error:
        raise InputRefused(Fault("FG030", where, error.text, error.remedy)) from error


def read_metal(given: Any) -> Metal | None:
    """The metal that a caller of the library gives: a metal, the name of one, or None.

    :raises InputRefused: FG005, FG030 for anything else.
    """
    if given is None or isinstance(given, Metal):
        return given
    if isinstance(given, str):
        return metal_named(given, load_metals(), "metal")
    remedy = 'write for example metal="6061-T6"; the command flatgen metals lists the names'
    raise InputRefused(Fault("FG005", "metal", f"{given!r:.40} is no name of a metal", remedy))


def read_k(given: Any) -> float | None:
    """The K that a caller of the library gives: a number, or None.

    :raises InputRefused: FG005 for no number, FG024 where it is not from 0 to 1.
    """
    if given is None:
        return None
    if not _is_number(given):
        raise InputRefused(Fault("FG005", "k", f"{given!r:.40} is no number", f"write for example k=0.42; {usual_k()}"))
    return check_k(float(given), "k")


def read_radius(given: Any) -> float | None:
    """The inside radius that a caller of the library gives [mm]: a number [mm], a text with its unit, or None.

    :raises InputRefused: FG005 for neither, FG010 to FG012 for what is no length or cannot be.
    """
    if given is None:
        return None
    if isinstance(given, str):
        return _radius_from_text(given, "inside_radius")
    if _is_number(given):
        return check_bend_radius(float(given), "inside_radius")
    remedy = 'write for example inside_radius=3 (mm) or inside_radius="3 mm"'
    raise InputRefused(Fault("FG005", "inside_radius", f"{given!r:.40} is no length", remedy))


def read_switch(given: Any) -> bool:
    """Whether a caller of the library wants forms to be skipped.

    :raises InputRefused: FG005 for anything else.
    """
    if isinstance(given, bool):
        return given
    text = f"{given!r:.40} is neither True nor False"
    raise InputRefused(Fault("FG005", "skip_formed", text, "write skip_formed=True to unfold around stretched forms"))


def _is_number(given: Any) -> bool:
    return isinstance(given, numbers.Real) and not isinstance(given, bool)


def _k_from_text(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        code = "FG011" if re.fullmatch(r"\d*,\d+", text.strip()) else "FG005"
        fault = "a decimal comma is not read" if code == "FG011" else f"{text[:40]!r} is no number"
        raise InputRefused(Fault(code, "--k", fault, f"write for example --k 0.42; {usual_k()}")) from None
    return check_k(value)


def read_near(text: str, where: str = "--near") -> str:
    """The side to look from: ``auto``, a direction, or the number of a face.

    :raises InputRefused: FG005 for anything else.

    >>> read_near("+X"), read_near("17")
    ('+x', '17')
    """
    plain = text.strip().lower()
    if plain in NEAR_SIDES or re.fullmatch(r"[1-9][0-9]{0,5}", plain):
        return plain
    fault = f"{text[:40]!r} is no side to look from"
    remedy = f"choose among {', '.join(NEAR_SIDES)}, or the number of a face as messages call it"
    raise InputRefused(Fault("FG005", where, fault, remedy))


def _radius_from_text(text: str, where: str = "--inside-radius") -> float:
    try:
        return check_bend_radius(parse_length(text).value, where)
    except NotALength as error:
        example = f'write for example {where}{" " if where.startswith("-") else "="}"3 mm"'
        raise InputRefused(Fault(error.code, where, error.text, example)) from error


def check_bend_radius(radius: float, where: str) -> float:
    """The inside radius that sharp corners will be bent to [mm], if they can be.

    :raises InputRefused: FG012 where it is too small or too large.
    """
    if math.isfinite(radius) and LEAST_RADIUS <= radius <= LARGEST_RADIUS:
        return radius
    text = f"{radius:g} mm is not between {LEAST_RADIUS:g} and {LARGEST_RADIUS:g} mm"
    raise InputRefused(Fault("FG012", where, text, "give the radius that the nose will make"))
