"""A leaf brake as its owner measures it: bed, clamp bar with its nose, leaf, lever, beams, set-ups.

In section, looking along the bend line: origin at the front edge of the bed, x toward the worker, y up, y = 0 on the
bed's top. The leaf swings up about the hinge axis; the nose is the rounded front of the clamp bar.
Millimetres, degrees, newtons, kilograms, megapascals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from flatgen.core.flat_pattern import Point

Handles = Literal["one end", "middle", "both ends"]


@dataclass(frozen=True)
class Section:
    """A beam's section about axes through its centroid.

    Leaf: ``x`` runs along its face away from the hinge, ``y`` square to the face; clamp bar: ``x`` toward the worker,
    ``y`` up. ``ix`` = integral of y2 dA resists loads along y, ``iy`` those along x; ``j``: torsion constant [mm4];
    ``far_x``, ``far_y`` [mm]: distances of the farthest fibres, for stress.
    """

    ix: float
    iy: float
    ixy: float
    j: float
    far_x: float
    far_y: float
    text: str = ""


@dataclass(frozen=True)
class Beam:
    """What carries the load along the brake, leaf or clamp bar: ``span`` [mm], ``modulus`` E and ``shear`` G [MPa].

    ``built_in``: its ends are held against turning; ``sideways_held``: it can only bend the way it is loaded;
    ``stress_limit`` [MPa]: the user's, None where not known.
    """

    section: Section
    span: float
    modulus: float
    shear: float
    metal: str = "steel"
    built_in: bool = False
    sideways_held: bool = False
    stress_limit: float | None = None


@dataclass(frozen=True)
class ClampBar:
    """Lengths [mm]; ``nose_angle`` [deg] between its underside and its sloping front.

    ``height``: above its underside; ``depth``: front to back; ``lift``: of the underside above the bed at the top of
    its travel; ``clamping_depth``: from the nose back to where it presses, the lever arm of the couple it carries.
    """

    nose_radius: float
    nose_angle: float
    height: float
    depth: float
    lift: float
    clamping_depth: float
    beam: Beam | None = None


@dataclass(frozen=True)
class Leaf:
    """Lengths [mm]; ``face``: width of the flat that the sheet bears on, from the hinge side to its outer edge.

    ``drop``: of the face below the bed's top at rest (negative where above); ``depth``: behind the face; ``swing``
    [deg]: the largest; ``mass`` [kg]; ``mass_arm``: of its centre of mass from the hinge axis, along the face.
    ``shape``: further outline in section, (along the face from the hinge axis, behind the face is negative), empty
    where the leaf is no more than face and depth.
    """

    face: float
    drop: float
    depth: float
    swing: float
    mass: float
    mass_arm: float
    beam: Beam | None = None
    shape: tuple[Point, ...] = ()


@dataclass(frozen=True)
class SetUp:
    """The brake with one nose bar and one leaf face.

    ``setting`` [mm]: how far the nose stands back from the bed's edge, None where it is chosen for each job.
    ``offset`` e [mm]: positive where the true tangent line lies nearer the held edge than the nose's centre.
    ``fingers`` [mm]: widths of the clamp fingers, empty where the bar is in one piece.
    """

    name: str
    clamp: ClampBar
    leaf: Leaf
    setting: float | None = None
    offset: float = 0.0
    fingers: tuple[float, ...] = ()


@dataclass(frozen=True)
class Lever:
    """From the hinge axis to the hand: ``length`` [mm], where handles sit, a comfortable ``effort`` [N]."""

    length: float
    handles: Handles
    effort: float


@dataclass(frozen=True)
class Stand:
    """A free-standing brake: ``mass`` [kg]; ``feet_before`` [mm]: its front feet before the hinge axis.

    ``mass_behind`` [mm]: its centre of mass behind the front feet; ``hinge_height`` [mm]: hinge axis above the floor;
    ``feet_behind`` [mm]: its rear feet behind the hinge axis, over which the hand tips it backward; None: not known.
    """

    mass: float
    feet_before: float
    mass_behind: float
    hinge_height: float
    feet_behind: float | None = None


@dataclass(frozen=True)
class Brake:
    """The machine, lengths in [mm].

    ``length``: usable along the bend; ``throat``: behind the nose, None where the back is open; ``bed_depth``: from the
    bed's front edge; ``bed_height``: of its front below the top; ``hinge``: the axis; ``open_ends``: whether a part
    can hang over or slide out at the left and the right; ``hinge_limit``, ``clamp_limit`` [N]: the user's, None where
    not known; ``least_hold``, ``least_swing``: flats under the nose and on the leaf, None for two thicknesses.
    """

    name: str
    length: float
    throat: float | None
    bed_depth: float
    bed_height: float
    hinge: Point
    open_ends: tuple[bool, bool]
    lever: Lever
    hinge_limit: float | None = None
    clamp_limit: float | None = None
    least_hold: float | None = None
    least_swing: float | None = None
    stand: Stand | None = None


@dataclass(frozen=True)
class Weights:
    """What counts how much when orders of bending are compared; own choice, changed in the shop file.

    ``set_up_change``, ``nose_change``: of bar or leaf, of the nose setting alone. ``flip``: the sheet is turned over;
    ``turn``: end for end. ``bent_edge``: the held side is no longer flat to its edge, to measure from.
    ``reference_swung``: a leg whose dimension matters is not held. ``swung_blank``: all of the blank swung and none
    lying still on the bed. ``handle_force``: of all the comfortable effort. ``small_clearance``: at contact, in
    proportion up to the safe clearance. ``endwise``: in or out along the bar. ``wide_radius``: one that may come out
    much larger. ``broken_rule``: each rule of the shop.
    """

    set_up_change: float = 30.0
    nose_change: float = 15.0
    flip: float = 4.0
    turn: float = 2.0
    bent_edge: float = 1.0
    reference_swung: float = 8.0
    swung_blank: float = 5.0
    handle_force: float = 2.0
    small_clearance: float = 10.0
    endwise: float = 5.0
    wide_radius: float = 1.0
    broken_rule: float = 500.0


@dataclass(frozen=True)
class Shop:
    """A shop file: the brake and its set-ups, the first being the usual one.

    ``safe_clearance`` [mm]; ``angle_tolerance`` [deg]: what an angle may be off along its length; ``fingerprint``:
    sixteen hexadecimal digits that change with any number of the file; ``strips``: path of the log of test strips;
    ``learned``: such digits for the strips that a schedule was made with, empty without any.
    """

    path: str
    title: str
    brake: Brake
    setups: tuple[SetUp, ...]
    safe_clearance: float = 2.0
    angle_tolerance: float = 1.0
    fingerprint: str = ""
    weights: Weights = Weights()
    strips: str = ""
    learned: str = ""

    def __post_init__(self) -> None:
        if not self.setups:
            raise ValueError("a shop without a set-up")
