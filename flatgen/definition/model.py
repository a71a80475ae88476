"""A part as defined: its legs and bends, and what is taken out: openings on legs, cuts by a tool.

Every place is given in the frame of one leg of the *formed* part, as it stands in a drawing:

across    from the leg's left or right limit, or its middle; a limit is the edge of the sheet or, at a bend,
          the line that ``dimensions`` names (mould line, inside, overall); positive into the leg; of the
          middle, positive to the right
along     from the bottom end of the part (y = 0), its top end, or its middle; positive into the part; of the
          middle, positive toward the top
above     from the leg's near face, positive on the near side
turn      about the leg's normal, counter-clockwise as the near face is seen [deg]

Left and right, bottom and top are those of the flat as drawn. Millimetres and degrees.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Arc, Line, Loop, Matrix, Piece
from flatgen.core.opening_rules import OpeningRules, default_rules
from flatgen.definition.part import BendSpec, Particulars, leg_number
from flatgen.metal.allowance import Dimensions
from flatgen.metal.metals import Metal

Shape = Literal["round", "slot", "rectangle"]
Tool = Literal["plane", "round", "box"]
AcrossFrom = Literal["left", "right", "middle"]
AlongFrom = Literal["bottom", "top", "middle"]
ToolAxis = Literal["normal", "across", "along"]
Side = Literal["left", "right", "bottom", "top"]

SAME = 1e-9
"""A straight side shorter than this is none [mm]."""


@dataclass(frozen=True)
class Place:
    """A point on a leg of the formed part; ``leg`` is its index."""

    leg: int
    across: float
    across_from: AcrossFrom
    along: float
    along_from: AlongFrom
    dimensions: Dimensions


@dataclass(frozen=True)
class Opening:
    """One opening, square to its leg; a row of a definition is many of these.

    It takes out metal of its leg and of the bends beside it, and of the legs in ``through`` (indices) and the bends
    beside those. Both sizes of a ``round`` one are the diameter; the longer one of a ``slot`` has round ends. Sizes
    are overall, before it is turned [mm]. ``entry``: which ``[[opening]]`` of the file, ``number``: which of its
    row, both from 0. ``rivet``: whether the spacing rules for rivets apply.
    """

    place: Place
    shape: Shape
    size_across: float
    size_along: float
    corner_radius: float = 0.0
    turn: float = 0.0
    through: tuple[int, ...] = ()
    rivet: bool = False
    name: str | None = None
    entry: int = 0
    number: int = 0
    where: str = ""
    through_all: bool = False
    """``through`` was written as "all": a leg that the tool does not meet is no fault."""


@dataclass(frozen=True)
class Cut:
    """One cut in the formed part, by a tool.

    plane    through the place (at ``above``), holding the leg's normal; ``turn`` 0 runs straight across the
             leg; ``tilt`` leans it: the plane's normal is turned out of the leg's plane toward the near side.
             All metal on the side ``remove`` is taken away.
    round    a cylinder of ``diameter`` whose axis passes the place at height ``above``. ``axis`` says how it
             lies before turning: ``normal`` to the leg, ``across`` it or ``along`` it. ``tilt`` lifts an
             ``across`` or ``along`` axis out of the leg's plane toward the near side, and leans a ``normal``
             one toward the top; then ``turn`` turns it about the leg's normal. Endless.
    box      ``size_across`` x ``size_along`` about the place, ``corner_radius`` on its upright corners,
             turned by ``turn``; ``size_above`` is its height about ``above``, None for endless.

    ``legs`` (indices) are the legs that it may take metal from, with the bends beside them; None for all.
    """

    place: Place
    tool: Tool
    above: float = 0.0
    turn: float = 0.0
    tilt: float = 0.0
    axis: ToolAxis = "normal"
    diameter: float = 0.0
    size_across: float = 0.0
    size_along: float = 0.0
    size_above: float | None = None
    corner_radius: float = 0.0
    remove: Side = "top"
    legs: tuple[int, ...] | None = None
    name: str | None = None
    entry: int = 0
    where: str = ""


@dataclass(frozen=True)
class Leg:
    """A leg, its ``length`` [mm] measured as ``dimensions`` says.

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

    ``thickness_note`` says what a gauge was read as. ``order`` is the user's own order of bending, by labels; it is not
    checked against a brake. ``fingerprint`` changes with any number of the part.
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
    rules: OpeningRules = field(default_factory=default_rules)
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
        """None: only a received part has one."""
        return None

    @property
    def reference_legs(self) -> tuple[int, ...]:
        """Indices of the legs whose dimension matters."""
        return tuple(n for n, leg in enumerate(self.legs) if leg.reference)

    def bends_at(self, leg: int) -> tuple[BendSpec, ...]:
        """Bends that end at a leg, in the order of the definition."""
        return tuple(b for b in self.bends if leg in (b.first, b.second))

    def leg_text(self, leg: int) -> str:
        """A leg as messages call it: its name in quotes, or "leg 3" counted from 1."""
        name = self.legs[leg].name
        return f'{leg_number(leg)} "{name}"' if name else leg_number(leg)

    def leg_name(self, leg: int) -> str | None:
        """The user's name of a leg, or None."""
        return self.legs[leg].name

    def order_of(self, label: str) -> int | None:
        """Place of a bend in the user's order, from 1, or None without one."""
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
    cutouts = (openings, cuts, profile.rules) if openings or cuts else ()
    holds = tuple((b.label, b.hold) for b in profile.bends if b.hold is not None)
    holding = (("held", holds, profile.reference_legs),) if holds or profile.reference_legs else ()
    text = repr((head, profile.dimensions, legs, bends, profile.order, *cutouts, *holding))
    text = text.replace("OpeningRules(limits=", "Rules(limits=")  # names of classes are part of the text: keep them
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def opening_loop(opening: Opening) -> Loop:
    """Outline of an opening about (0, 0) [mm], turned, clockwise; its place is not looked at.

    A rectangle with corners as round as its smaller size allows is a slot.

    By hand: a slot of 10 x 4 is a rectangle of 6 x 4 and a circle of radius 2, 24 + 4 pi.

    >>> from flatgen.definition.model import Place
    >>> place = Place(0, 0.0, "middle", 0.0, "middle", "inside")
    >>> opening_loop(Opening(place, "slot", 10.0, 4.0)).area
    36.566370614
    """
    wide, high = opening.size_across, opening.size_along
    if opening.shape == "round":
        return Loop((Arc((0.0, 0.0), wide / 2, 0.0, -360.0),))
    full = 2 * opening.corner_radius >= min(wide, high) - SAME
    if opening.shape == "slot" or full:
        pieces, turn = _slot(max(wide, high), min(wide, high)), (0.0 if wide >= high else 90.0)
    else:
        pieces, turn = _rectangle(wide / 2, high / 2, opening.corner_radius), 0.0
    return Loop(pieces).moved(rigid_move(turn + opening.turn))


def rigid_move(angle: float, x: float = 0.0, y: float = 0.0) -> Matrix:
    """The move (3 x 3) that turns counter-clockwise by ``angle`` [deg] about (0, 0) and then shifts [mm].

    Quarter turns are exact.
    """
    quarters, rest = divmod(angle, 90.0)
    c, s = math.cos(math.radians(rest)), math.sin(math.radians(rest))
    for _ in range(int(quarters) % 4):
        c, s = -s, c
    return np.array([[c, -s, x], [s, c, y], [0.0, 0.0, 1.0]])


def _slot(long: float, short: float) -> tuple[Piece, ...]:
    """A slot with its longer size across."""
    r, h = short / 2, (long - short) / 2
    return (
        Line((-h, r), (h, r)),
        Arc((h, 0.0), r, 90.0, -180.0),
        Line((h, -r), (-h, -r)),
        Arc((-h, 0.0), r, -90.0, -180.0),
    )


def _rectangle(a: float, b: float, r: float) -> tuple[Piece, ...]:
    """A rectangle of half sizes ``a`` and ``b`` with corner radius ``r``."""
    sides = (
        Line((-a + r, b), (a - r, b)),
        Line((a, b - r), (a, -b + r)),
        Line((a - r, -b), (-a + r, -b)),
        Line((-a, -b + r), (-a, b - r)),
    )
    if r <= SAME:
        return sides
    centres = ((a - r, b - r), (a - r, -b + r), (-a + r, -b + r), (-a + r, b - r))
    corners = (Arc(c, r, 90.0 - 90.0 * n, -90.0) for n, c in enumerate(centres))
    return tuple(piece for pair in zip(sides, corners, strict=True) for piece in pair)
