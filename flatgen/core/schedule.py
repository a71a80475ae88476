"""The types of a bend schedule: what is done at each stage, with the numbers behind it.

A crease is a bend of the blank as the brake sees it, a stage one bend made; the held side of a bend (``first`` or
``second``) lies under the clamp bar. Millimetres, degrees, newtons.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Point, Way
from flatgen.core.learned import ExpectedPart, KnownBend
from flatgen.core.shop import SetUp, Shop

WhichSide = Literal["first", "second"]
Face = Literal["near", "far"]


@dataclass(frozen=True)
class Side:
    """One side of a crease [mm]: ``tangent``: its tangent line, across from the datum edge; from there ``flat`` of its
    leg to the next tangent line or edge, ``reach`` to the edge of the blank on that side. ``leg``: an index.
    """

    leg: int
    tangent: float
    flat: float
    reach: float


@dataclass(frozen=True)
class Crease:
    """A bend of the blank: ``length`` [mm] of metal along it, ``extent`` [mm] from end to end.

    ``ends``: of its middle line in the flat, None without a flat; ``across``: from the first side to the second in the
    flat (unit); ``datum``: in words the edge that ``tangent`` is measured from; ``hold``: the leg that the user wants
    held; ``where``: its place for messages; ``known``: from strips.
    """

    label: str
    angle: float
    way: Way
    inside_radius: float
    allowance: float
    length: float
    extent: float
    first: Side
    second: Side
    hold: int | None = None
    across: Point = (1.0, 0.0)
    ends: tuple[Point, Point] | None = None
    datum: str = "left edge"
    where: str = ""
    known: KnownBend | None = None

    def side(self, which: WhichSide) -> Side:
        return self.first if which == "first" else self.second


@dataclass(frozen=True)
class Range:
    """From ``low`` to ``high``: what is not known better."""

    low: float
    high: float

    def text(self, places: int, unit: str) -> str:
        """Both ends in words, or one where they read alike.

        >>> Range(91.2, 93.04).text(1, " mm")
        '91.2 to 93.0 mm'
        """
        low, high = f"{self.low:.{places}f}", f"{self.high:.{places}f}"
        return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"


@dataclass(frozen=True)
class SightLine:
    """Where the line goes on the flat [mm], and on which face."""

    held: WhichSide
    from_datum: float
    from_held_edge: float
    face: Face


@dataclass(frozen=True)
class Load:
    """What bending one stage asks of the brake; estimates until measured. None: not known.

    ``moment`` [N mm/mm]; ``arm`` [mm]; ``line_load`` q [N/mm] at the leaf; ``torque`` [N mm] at most over the swing,
    with the leaf's weight; ``handle`` [N] at the leaf angle ``handle_at`` [deg]; deflections [mm] at mid length of the
    part, square to the leaf at full swing; ``twist`` [deg] of the leaf; ``loss`` [deg] of angle at the worst place;
    stresses [MPa]; ``hinge_force`` [N] on one end; ``clamp_force`` [N] on the whole bar; ``shim`` [mm] at mid length
    that cancels the deflection.
    """

    moment: float
    arm: float
    line_load: float
    torque: float
    handle: float
    handle_at: float
    deflection_leaf: float | None
    deflection_clamp: float | None
    twist: float | None
    loss: float | None
    stress_leaf: float | None
    stress_clamp: float | None
    hinge_force: float
    clamp_force: float
    shim: float | None


@dataclass(frozen=True)
class Handling:
    """How a stage is laid in, and what room it has.

    ``toward``: side of the bend that lies toward the worker; ``move``: what is done with the sheet since the stage
    before, in words. ``into``, ``out``: "straight" (from the front, the bar lifted), "drawn" (the part drawn forward as
    the bar lifts), "endwise", "" where there is no way; ``raised_in``, ``raised_out`` [mm]: how high to pass.
    ``clearance`` [mm]: the least of the stage; ``nearest``: between what, in words; ``close``: less than the safe
    clearance. ``by_hand``: the leaf cannot bend it all the way. ``refused``: why the stage cannot be, else empty.
    """

    face_up: Face
    toward: WhichSide
    move: str
    into: str
    out: str
    raised_in: float
    raised_out: float
    clearance: float
    nearest: str
    close: bool
    by_hand: bool
    refused: str = ""


@dataclass(frozen=True)
class Stage:
    """One bend of the schedule, counted from 1.

    ``sight`` is that of the held side, ``other`` that of the other side, were it held. ``springback`` [deg]: from
    the formula alone to formula and bow of the swung leg, of strips what is known to 95 %, None where the metal's
    figures are not known; ``leaf_angle`` [deg]: bend angle plus it. ``radius`` [mm]: the finished inside radius that
    the setting gives, between the nose and a circular bend. ``needed`` [mm]: the setting that this bend alone would
    ask for; ``least`` [mm]: under which the sheet is crushed. ``loaded_angle`` [deg], ``loaded_radius`` [mm]: A0 and R0
    of the bend at full swing, by the springback of the formula alone, since the bow of the swung leg is no bend;
    without the metal's figures those of the finished bend. ``arm`` [mm]: from the swung tangent line to where the leaf
    bears. ``handling``: None where the order was not checked.
    """

    number: int
    crease: Crease
    sight: SightLine
    other: SightLine
    springback: Range | None
    leaf_angle: Range | None
    radius: Range | None
    needed: float | None
    least: float | None
    load: Load | None
    loaded_angle: float = 0.0
    loaded_radius: float = 0.0
    arm: float = 0.0
    setup: SetUp | None = None
    setting: float | None = None
    handling: Handling | None = None


@dataclass(frozen=True)
class Schedule:
    """The stages in their order; ``setup`` and nose ``setting`` [mm] of the first one.

    ``order_from``: whose order it is, in words; ``state``: "best" of all orders, "checked" (the only one looked at),
    "refused" (there is none, or the one asked for cannot be), "unchecked"; ``unchecked``: why it was not checked.
    ``setups``: those that the plan might use; ``changes``: what would help where there is no order, the smallest first.
    """

    shop: Shop
    setup: SetUp
    setting: float | None
    setting_from: str
    stages: tuple[Stage, ...]
    order_from: str
    findings: tuple[Finding, ...] = field(default=())
    state: Literal["best", "checked", "refused", "unchecked"] = "unchecked"
    unchecked: str = ""
    setups: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    expected: ExpectedPart | None = None

    @property
    def checked(self) -> bool:
        """Whether every stage of the order was found possible on the brake."""
        return self.state in ("best", "checked")
