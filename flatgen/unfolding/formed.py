"""A formed part that somebody else modelled: what is asked of it, second chances for small faults, and its flat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.core.errors import Fault, Finding, FlatgenError, InputRefused
from flatgen.core.flat_pattern import FlatPattern, Loop, Rule
from flatgen.unfolding.assemble import Developed, counted, develop_sides, place_of, sides_wished
from flatgen.unfolding.develop import trail
from flatgen.unfolding.faces import loop_of
from flatgen.unfolding.features import clear
from flatgen.unfolding.identities import check_identities, largest_miss
from flatgen.unfolding.read import is_sound, kernel_solid, read_shell, volume
from flatgen.unfolding.sharp import (
    Corner,
    lone_radii,
    nearly_sharp,
    rounded,
    sharp_corners,
    sharpened,
    with_inner_faces,
)
from flatgen.unfolding.sheet import CLOSE, LOOSE, Shell, Slack
from flatgen.unfolding.skins import REMEDY, Pairing, contradiction, find_skins
from flatgen.unfolding.tree import grow_tree
from flatgen.unfolding.wall_groups import told_of

BAR = 1.1
"""A sheet is wider than so many times its thickness, by its area and perimeter."""
DIFFERS = 0.02
"""Faces of received parts that end farther apart than this are told to differ [mm]."""
TOLD = 1e-3
"""Refolded within this of the solid, nothing is said of it [mm]."""


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
    """The lettered flat, what is to be told of it, and the kernel's shape that it was made from."""

    flat: FlatPattern
    findings: tuple[Finding, ...]
    shape: Any


def unfold_formed(shape: Any, rule_for: Callable[[float], Rule], wish: Wish | None = None) -> Formed:
    """Unfold one solid that somebody else modelled.

    :param rule_for: the rule of allowances for the thickness that was found
    :raises InputRefused: FG040 to FG042, FG044 to FG046: no sheet, not developable, a flat that overlaps itself, faulty
        geometry.
    :raises IdentityFailed: FG901 to FG904: flat and solid disagree, a bug.
    """
    wish = wish or Wish()
    shape = kernel_solid(shape)
    shell = read_shell(shape, CLOSE)
    try:
        return _unfolded(shell, shape, rule_for, wish)
    except FlatgenError as error:
        return _once_more(shell, shape, rule_for, wish, error)


def _once_more(shell: Shell, shape: Any, rule_for: Callable[[float], Rule], wish: Wish, first: FlatgenError) -> Formed:
    """Second chances: surfaces that are planes or cylinders written otherwise, then small faults."""
    plain = shell.recognised()
    tries = []
    if plain is not shell:
        plain = plain.changed(volume=volume(plain))
        tries = [plain]
    errors = [] if tries else [first]
    for attempt in (*tries, plain.changed(slack=LOOSE)):
        try:
            return _unfolded(attempt, shape, rule_for, wish)
        except FlatgenError as error:
            errors.append(error)
    refusals = [e for e in errors if isinstance(e, InputRefused)] or errors[-1:]
    if isinstance(refusals[0], InputRefused):
        raise refusals[0]
    fault = contradiction(plain)
    if fault is None and is_sound(shape):
        raise refusals[0]
    raise InputRefused(fault or _faulty(refusals[0].faults[0]))


def _faulty(fault: Fault) -> Fault:
    text = f"the kernel finds it faulty, and its flat disagrees with it: {fault.text}"
    return Fault("FG044", "the solid", text, REMEDY)


def _unfolded(shell: Shell, shape: Any, rule_for: Callable[[float], Rule], wish: Wish) -> Formed:
    """By the first thickness that the part can be unfolded with; of refusals the first."""
    first: FlatgenError | None = None
    for thickness in Pairing(shell).thicknesses():
        try:
            return _of_thickness(shell, shape, rule_for, wish, thickness)
        except FlatgenError as error:
            first = first or error
    assert first is not None
    raise first


def _of_thickness(shell: Shell, shape: Any, rule_for: Callable[[float], Rule], wish: Wish, thickness: float) -> Formed:
    wished = place_of(shell, wish.near)
    pairing = Pairing(shell)
    almost = nearly_sharp(shell, pairing, thickness) if wish.inside_radius is not None else []
    if almost:
        shape = sharpened(shape, almost)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    corners = sharp_corners(shell, pairing, thickness)
    told: tuple[Finding, ...] = ()
    if wish.inside_radius is not None and not corners:
        text = "no corner of the part is modelled sharp: all bends keep the radius that they have"
        told = (Finding("FG124", "note", "--inside-radius", text, "change the radius in the model"),)
    if corners:
        shape, told = _rounded(shape, corners, wish.inside_radius, thickness)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    radii = lone_radii(shell, pairing, thickness)
    told += _radii_told(radii)
    shell = with_inner_faces(shell, pairing, thickness)
    skins = find_skins(shell, thickness)
    try:
        cleared = clear(shell, skins, own=False, skip_formed=wish.skip_formed)
    except InputRefused:
        grow_tree(shell, skins, skins.sides[0])  # a closed loop of bends is the better reason
        raise
    shell = cleared.shell
    made = develop_sides(
        shell, skins, sides_wished(shell, skins, wish.near, wished), rule_for(thickness), cleared.groups
    )
    _require_wide(made.flat)
    flat = check_identities(made.flat, made, shell)
    flat = replace(flat, forms=tuple(_marked_loop(made, wire) for wire in cleared.marked))
    flat = _less_told(flat, made)
    broken, flat = told_of(made.edges, flat, shell, made.near.charts | made.far.charts, made.move)
    findings = told + broken + cleared.findings + _a_little_off(shell.slack, flat, made)
    return Formed(counted(flat), findings, shape)


def _rounded(
    shape: Any, corners: Sequence[Corner], radius: float | None, thickness: float
) -> tuple[Any, tuple[Finding, ...]]:
    """The solid with its sharp corners rounded as asked."""
    place = ", ".join(f"{axis} {c:.2f}" for axis, c in zip("xyz", corners[0].place, strict=True))
    many = f"{len(corners)} corners are" if len(corners) > 1 else "a corner is"
    if radius is None:
        text = f"{many} modelled sharp inside and outside, the first of {corners[0].angle:.1f} deg at {place}"
        remedy = "say with --inside-radius what radius it will be bent to: the file does not"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    text = f"{many} modelled sharp; bent to an inside radius of {radius:g} mm, outside sizes kept"
    finding = Finding("FG124", "note", "the solid", text, "check that the drawing's sizes are those to the outside")
    return rounded(shape, corners, radius, thickness), (finding,)


def _radii_told(radii: Sequence[float]) -> tuple[Finding, ...]:
    """Told of bends that are modelled with an outer radius only."""
    if not radii:
        return ()
    some = ", ".join(f"{r:.3f}" for r in sorted({round(r, 3) + 0.0 for r in radii}))
    text = f"bends are modelled round outside and sharp inside: inside radius taken as outer less thickness, {some} mm"
    return (Finding("FG124", "note", "the solid", text, "say with --inside-radius what they will be bent to"),)


def _require_wide(flat: FlatPattern) -> None:
    """A bar as wide as it is thick can be taken for a sheet in two ways."""
    wide = 2 * flat.outline.area / flat.outline.perimeter
    if wide < BAR * flat.thickness:
        text = f"it would be {flat.thickness:.2f} mm thick and about {wide:.2f} mm wide: a bar rather than a sheet"
        raise InputRefused(Fault("FG040", "the solid", text, "pass a bent sheet, clearly wider than thick"))


def _less_told(flat: FlatPattern, made: Developed) -> FlatPattern:
    """Without differences that nobody can file off, and without a volume that bevels and hollows explain."""
    outline = flat.outline_differs
    return replace(
        flat,
        outline_differs=outline if outline is not None and outline.largest > DIFFERS else None,
        openings_differ=tuple((n, d) for n, d in flat.openings_differ if d.largest > DIFFERS),
        volume_outside=0.0 if made.edges.broken or not made.edges.square else flat.volume_outside,
    )


def _a_little_off(slack: Slack, flat: FlatPattern, made: Developed) -> tuple[Finding, ...]:
    missed = largest_miss(flat, made) if slack is LOOSE else 0.0
    if missed < TOLD:
        return ()
    text = f"faces of the solid are a little off: the flat folded up again lies within {missed:.3f} mm of it"
    return (Finding("FG121", "note", "the solid", text, f"faces may be off by {slack.length:g} mm, no more"),)


def _marked_loop(made: Developed, wire: tuple[int, ...]) -> Loop:
    """The outline of a form on a skin's face, in the flat, counter-clockwise."""
    shell = made.near.shell
    face = shell.half_edges[wire[0]].face
    chart = made.near.charts.get(face) or made.far.charts[face]
    loop = loop_of([trail(chart, shell.half_edges[h].curve) for h in wire]).moved(made.move)
    return loop if loop.signed_area > 0 else loop.reversed()
