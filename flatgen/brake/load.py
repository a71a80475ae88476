"""What bending one stage asks of the brake: force at the handle, load on leaf and clamp bar, loss of angle.

m        fully plastic moment per length, plane strain [N mm/mm]
a, q     arm from the swung tangent line to where the leaf bears [mm]; line load q = m/a [N/mm], square to the leaf
th       leaf angle [deg]; in section x points toward the worker, y up

The leaf pushes the sheet by q cos th upward and q sin th backward; the sheet hands both on to the clamp bar, with the
couple m/c of its clamping upward besides, c the depth of clamping. Left out: the legs that are bent already, which
stiffen the part; the brake's own weight in the beams; shear; torsion in the stress. All of it is an estimate: the
moment is there in full from small leaf angles on, and the setback of the finished bend is taken over the whole swing.
The metal's part is after Marciniak, Duncan, Hu, Mechanics of Sheet Metal Forming, 2nd ed., eqs 6.18-6.21 (seen).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flatgen.brake.beams import LineLoad, beam_response
from flatgen.brake.springback import PLANE_STRAIN, Strength
from flatgen.core.errors import Finding
from flatgen.core.schedule import Load
from flatgen.core.shop import Brake, Handles, SetUp, Stand

GRAVITY = 9.80665
"""Standard fall [m/s2], exact by definition, CGPM 1901 (memory); what makes a kgf of a kg."""
TWIST_SHARE: dict[Handles, float] = {"one end": 1.0, "middle": 0.25, "both ends": 0.25}
_STIFFENING = "legs that are bent already stiffen the part and are left out"


def moment_per_length(thickness: float, strength: Strength) -> float:
    r"""Fully plastic moment of a sheet per length of bend [N mm/mm], plane strain; thickness > 0 [mm].

    .. math:: m = \frac{2}{\sqrt 3} \sigma \frac{t^2}{4}, \quad \sigma = (\text{yield} + \text{ultimate}) / 2

    Steel of 250 MPa, 1.5 mm thick.

    >>> moment_per_length(1.5, Strength(250, 250, 205000, 0.3))
    162.4
    """
    return PLANE_STRAIN * (strength.yield_ + strength.ultimate) / 2 * thickness**2 / 4


def load_of(
    thickness: float,
    length: float,
    arm: float,
    setback: float,
    leaf_angle: float,
    strength: Strength,
    brake: Brake,
    setup: SetUp,
) -> Load:
    r"""What one bend asks of the brake.

    .. math:: q = m/a, \quad T(\theta) = m L (1 + SB/a) + W\,b \cos\theta

    with W the leaf's weight and b the arm of its centre of mass. The handle pushes square to its lever. One end of
    the hinge carries half of q L, half of the leaf's weight, and the whole handle force (as if the handle sat at that
    end), all added as if they had one direction. A part longer than a beam's span loads that span whole.

    :param length: of metal along the bend [mm]
    :param arm: from the swung tangent line to the leg's edge or the leaf's outer edge, whichever is nearer [mm]
    :param setback: of the finished bend to its mould line [mm]
    :param leaf_angle: at full swing, 0 to 180 [deg]
    :returns: None what takes a beam not known; deflections count positive where they open the bend; ``loss`` and
        ``shim`` take both beams
    :raises ValueError: If a length is not above 0, or the leaf angle out of range.
    """
    if min(thickness, length, arm) <= 0 or setback < 0 or not 0 < leaf_angle <= 180:
        raise ValueError(
            f"no load of a sheet {thickness:g} thick, {length:g} long, arm {arm:g}, "
            f"setback {setback:g}, leaf angle {leaf_angle:g}"
        )
    clamp, leaf, lever = setup.clamp, setup.leaf, brake.lever
    moment = moment_per_length(thickness, strength)
    line_load, couple = moment / arm, moment / clamp.clamping_depth
    torque, at = _torque(moment * length * (1 + setback / arm), leaf.mass * GRAVITY * leaf.mass_arm, leaf_angle)
    handle = abs(torque) / lever.length
    on_leaf = beam_response(leaf.beam, length, (LineLoad(0.0, line_load),), leaf_angle=0.0)
    clamp_loads = tuple(_clamp_load(line_load, couple, th) for th in _swing_angles(leaf_angle))
    on_clamp = beam_response(clamp.beam, length, clamp_loads, leaf_angle)
    twist = None
    if leaf.beam is not None:
        share = TWIST_SHARE[lever.handles]
        twist = math.degrees(share * moment * length**2 / (2 * leaf.beam.shear * leaf.beam.section.j))
    shim = loss = None
    if on_leaf and on_clamp and twist is not None:
        shim = on_leaf.deflection + on_clamp.deflection
        loss = math.degrees(shim / arm) + twist
    return Load(
        moment=moment,
        arm=arm,
        line_load=line_load,
        torque=torque,
        handle=handle,
        handle_at=at,
        deflection_leaf=on_leaf.deflection if on_leaf else None,
        deflection_clamp=on_clamp.deflection if on_clamp else None,
        twist=twist,
        loss=loss,
        stress_leaf=on_leaf.stress if on_leaf else None,
        stress_clamp=on_clamp.stress if on_clamp else None,
        hinge_force=(line_load * length + leaf.mass * GRAVITY) / 2 + handle,
        clamp_force=(line_load + couple) * length,
        shim=shim,
    )


def _swing_angles(leaf_angle: float) -> tuple[float, ...]:
    """Leaf angles from flat to full swing, about a degree apart [deg]."""
    steps = max(math.ceil(leaf_angle), 1)
    return tuple(leaf_angle * i / steps for i in range(steps + 1))


def _clamp_load(line_load: float, couple: float, leaf_angle: float) -> LineLoad:
    """It turns with the leaf, the couple does not."""
    th = math.radians(leaf_angle)
    return LineLoad(-line_load * math.sin(th), line_load * math.cos(th) + couple)


def _torque(bending: float, weight: float, leaf_angle: float) -> tuple[float, float]:
    """Largest torque over the swing and its leaf angle: cos falls all the way, so it stands at one of the ends."""
    ends = ((bending + weight * math.cos(math.radians(th)), th) for th in (0.0, leaf_angle))
    return max(ends, key=lambda end: end[0])


def load_findings(
    label: str, where: str, load: Load, brake: Brake, setup: SetUp, angle_tolerance: float, leaf_angle: float
) -> tuple[Finding, ...]:
    """Cautions of effort, loss of angle, limits and tipping, and a note of what could not be checked.

    :param angle_tolerance: what an angle may be off along its length [deg]
    :param leaf_angle: at full swing [deg]
    :returns: FG135, FG136, FG137, FG138, FG143, as far as they apply
    """
    limits = _limits(load, brake, setup)
    findings = [
        *_effort(label, where, load, brake, setup, limits),
        *_loss(label, where, load, brake, setup, angle_tolerance),
        *(
            Finding(
                "FG137",
                "caution",
                where,
                f"{label}: {limit.name} {limit.has:.0f} {limit.unit} is more than its limit of {limit.most:g}",
                "take thinner or softer metal, a longer flange or a shorter part; do not force it",
            )
            for limit in limits
            if limit.has is not None and limit.most is not None and limit.has > limit.most
        ),
    ]
    unchecked = [limit.name for limit in limits if limit.has is None or limit.most is None]
    if load.loss is None:
        missing = [n for n, b in (("leaf", setup.leaf.beam), ("clamp bar", setup.clamp.beam)) if b is None]
        unchecked.append(f"loss of angle (no beam given of the {' and the '.join(missing)})")
    if brake.stand is not None:
        findings += _tipping(label, where, load, brake, brake.stand, leaf_angle)
        if brake.stand.feet_behind is None:
            unchecked.append("tipping backward (feet_behind of the stand is not given)")
    if unchecked:
        remedy = "give the missing figures in the shop file if they are known; bend a short strip of the metal first"
        findings.append(Finding("FG138", "note", where, f"{label}: not checked: {'; '.join(unchecked)}", remedy))
    return tuple(findings)


@dataclass(frozen=True)
class _Limit:
    """What a bend puts on one member and the most that its owner allows; None where not known."""

    name: str
    has: float | None
    most: float | None
    unit: str

    @property
    def kept(self) -> bool:
        return self.has is not None and self.most is not None and self.has <= self.most


def _limits(load: Load, brake: Brake, setup: SetUp) -> tuple[_Limit, ...]:
    leaf, clamp = setup.leaf.beam, setup.clamp.beam
    return (
        _Limit("force on one end of the hinge", load.hinge_force, brake.hinge_limit, "N"),
        _Limit("clamp force", load.clamp_force, brake.clamp_limit, "N"),
        _Limit("stress in the leaf", load.stress_leaf, leaf.stress_limit if leaf else None, "MPa"),
        _Limit("stress in the clamp bar", load.stress_clamp, clamp.stress_limit if clamp else None, "MPa"),
    )


def _effort(
    label: str, where: str, load: Load, brake: Brake, setup: SetUp, limits: tuple[_Limit, ...]
) -> list[Finding]:
    """More effort than is comfortable; a longer lever is named only where every limit is known and kept."""
    lever = brake.lever
    if load.handle <= lever.effort:
        return []
    own = setup.leaf.mass * GRAVITY * setup.leaf.mass_arm * math.cos(math.radians(load.handle_at))
    share = (lever.effort * lever.length - own) / (load.torque - own)
    text = (
        f"{label}: {load.handle:.0f} N at the handle, most at a leaf angle of {load.handle_at:.0f} degrees, "
        f"is more than the comfortable {lever.effort:g} N"
    )
    split = f"split the part into lengths of at most {math.floor(share * 100)} % of this one"
    if share < 0.01:
        split = f"balance the leaf, whose own weight takes {own / lever.length:.0f} N of it"
    remedy = (
        "bend it in a set-up with a wider leaf face if the flange reaches past this one, or with a lighter leaf; "
        f"{split}; or take thinner or softer metal"
    )
    if all(limit.kept for limit in limits):
        least = math.ceil(load.torque / lever.effort)
        remedy += f"; the given limits of hinge, clamp and beams are kept, so a lever of {least} mm would do as well"
    return [Finding("FG135", "caution", where, text, remedy)]


def _loss(label: str, where: str, load: Load, brake: Brake, setup: SetUp, angle_tolerance: float) -> list[Finding]:
    """More loss of angle than the tolerance; with one beam only, what that beam alone loses."""
    shift = (load.deflection_leaf or 0.0) + (load.deflection_clamp or 0.0)
    opened = math.degrees(shift / load.arm)
    loss = load.loss if load.loss is not None else opened + (load.twist or 0.0)
    if abs(loss) <= angle_tolerance:
        return []
    known = "" if load.loss is not None else "at least "
    text = (
        f"{label}: {known}{loss:.2g} degrees are lost along the length, more than the tolerance of {angle_tolerance:g} "
        f"(leaf {load.deflection_leaf or 0:.2g} mm, clamp bar {load.deflection_clamp or 0:.2g} mm over an arm of "
        f"{load.arm:.3g} mm, twist of the leaf {load.twist or 0:.2g} degrees); {_STIFFENING}"
    )
    helps = ["bend it in a set-up with a stiffer leaf or clamp bar, in shorter lengths, or with a longer flange"]
    if load.shim is not None:
        helps.insert(
            0,
            f"a shim of {load.shim:.2g} mm at mid length, less toward the ends, cancels the deflection at this load; "
            "under lighter loads it over-bends, so it belongs to this job",
        )
    if (load.twist or 0.0) > angle_tolerance / 2 and brake.lever.handles == "one end":
        helps.append("no shim cancels the twist; handles at both ends quarter it")
    return [Finding("FG136", "caution", where, text, "; ".join(helps))]


def _tipping(label: str, where: str, load: Load, brake: Brake, stand: Stand, leaf_angle: float) -> list[Finding]:
    """A free-standing brake that the handle force may turn over its front or its rear feet."""
    weight, reach, height = stand.mass * GRAVITY, brake.lever.length, stand.hinge_height

    def turning(foot: float, th: float) -> float:
        angle = math.radians(th)
        return load.handle * (reach - foot * math.cos(angle) + height * math.sin(angle))

    swing = _swing_angles(leaf_angle)
    cases = [("forward over its front feet", max(-turning(stand.feet_before, th) for th in swing), stand.mass_behind)]
    if stand.feet_behind is not None:
        before_rear = stand.feet_before + stand.feet_behind - stand.mass_behind
        cases.append(("backward over its rear feet", max(turning(-stand.feet_behind, th) for th in swing), before_rear))
    return [
        Finding(
            "FG143",
            "caution",
            where,
            f"{label}: the brake may tip {way}: {load.handle:.0f} N at the handle turn it by up to "
            f"{moment / 1000:.0f} N m, its mass of {stand.mass:g} kg holds {weight * arm / 1000:.0f} N m",
            "bolt the stand to the floor or weigh it down before this bend, or bend shorter lengths",
        )
        for way, moment, arm in cases
        if moment > max(weight * arm, 0.0)
    ]
