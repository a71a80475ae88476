"""What is taken out of the formed part: openings on legs, and cuts by a tool that stands where it is put.

Every place is given in the frame of one leg of the *formed* part, as it stands in a drawing:

across    from the leg's left or right limit, or its middle; a limit is the edge of the sheet or, at a bend,
          the line that ``dimensions`` names (mould line, inside, overall); positive into the leg; of the
          middle, positive to the right
along     from the bottom end of the part (y = 0), its top end, or its middle; positive into the part; of the
          middle, positive toward the top
above     from the leg's near face, positive on the near side
turn      about the leg's normal, counter-clockwise as the near face is seen [deg]

Left and right, bottom and top are those of the flat as drawn. Millimetres and degrees; no geometry here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from flatgen.metal.allowance import Dimensions

Shape = Literal["round", "slot", "rectangle"]
Tool = Literal["plane", "round", "box"]
AcrossFrom = Literal["left", "right", "middle"]
AlongFrom = Literal["bottom", "top", "middle"]
ToolAxis = Literal["normal", "across", "along"]
Side = Literal["left", "right", "bottom", "top"]


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

    It takes out metal of its leg and of the bends beside it, and, where the tool runs on, of the legs in
    ``through`` (indices) and the bends beside those.

    shape        ``round`` (both sizes are the diameter), ``slot`` (the longer size has round ends),
                 ``rectangle`` (with ``corner_radius``, 0 for sharp corners)
    size_across, size_along   overall, before it is turned [mm]
    entry        which ``[[opening]]`` of the file, from 0;  number  which of its row, from 0
    name         the user's, or None;  rivet  whether the spacing rules for rivets apply
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
