"""A formed part that somebody else modelled: what is asked of it, second chances for small faults, and its flat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from flatgen.core.errors import Fault, Finding, FlatgenError, InputRefused
from flatgen.core.flat_pattern import AllowanceRule, FlatPattern, Loop
from flatgen.unfolding.assemble import Development, develop_sides, in_standard_order, numbered_face, trees_seen_from
from flatgen.unfolding.develop import trail
from flatgen.unfolding.faces import loop_of
from flatgen.unfolding.features import clear_features
from flatgen.unfolding.identities import check_identities, largest_miss
from flatgen.unfolding.read import is_sound, kernel_solid, read_shell, shell_volume
from flatgen.unfolding.sharp import (
    Corner,
    lone_radii,
    nearly_sharp_faces,
    remove_faces,
    round_corners,
    sharp_corners,
    with_inner_faces,
)
from flatgen.unfolding.sheet import CLOSE, LOOSE, Shell, Slack
from flatgen.unfolding.skins import REMEDY, Pairing, contradiction, find_skins, place_text
from flatgen.unfolding.tree import grow_tree
from flatgen.unfolding.wall_groups import edge_findings

RuleForThickness: TypeAlias = Callable[[float], AllowanceRule]

BAR = 1.1  # a sheet is wider than so many times its thickness, by its area and perimeter
LEAST_DIFFERENCE = 0.02
"""Faces of received parts that end farther apart than this are told to differ [mm]."""
QUIET_MISS = 1e-3
"""Refolded within this of the solid, nothing is said of it [mm]."""


@dataclass(frozen=True)
class FormedOptions:
    """How a part is to be unfolded.

    ``near`` is ``auto``, a direction (``+x``, ...) that the near face looks along, or the number of a face as messages
    call it. ``inside_radius`` [mm] is what corners modelled sharp will be bent to. ``skip_formed`` unfolds the sheet
    around stretched forms instead of refusing them.
    """

    near: str = "auto"
    inside_radius: float | None = None
    skip_formed: bool = False


@dataclass(frozen=True)
class UnfoldedPart:
    """The lettered flat, its findings, and the kernel's shape that it was made from."""

    flat: FlatPattern
    findings: tuple[Finding, ...]
    shape: Any


def unfold_formed(shape: Any, rule_for: RuleForThickness, options: FormedOptions | None = None) -> UnfoldedPart:
    """Unfold one solid that somebody else modelled.

    :param rule_for: the rule of allowances for the thickness that was found
    :raises InputRefused: FG040 to FG042, FG044 to FG046: no sheet, not developable, a flat that overlaps itself, faulty
        geometry.
    :raises IdentityFailed: FG901 to FG904: flat and solid disagree, a bug.
    """
    options = options or FormedOptions()
    shape = kernel_solid(shape)
    shell = read_shell(shape, CLOSE)
    try:
        return _unfold(shell, shape, rule_for, options)
    except FlatgenError as error:
        return _try_again(shell, shape, rule_for, options, error)


def _try_again(
    shell: Shell, shape: Any, rule_for: RuleForThickness, options: FormedOptions, first: FlatgenError
) -> UnfoldedPart:
    """Second chances: surfaces that are planes or cylinders written otherwise, then small faults."""
    plain = shell.with_plain_surfaces()
    attempts, errors = [plain.with_changes(slack=LOOSE)], [first]
    if plain is not shell:
        plain = plain.with_changes(volume=shell_volume(plain))
        attempts, errors = [plain, plain.with_changes(slack=LOOSE)], []
    for attempt in attempts:
        try:
            return _unfold(attempt, shape, rule_for, options)
        except FlatgenError as error:
            errors.append(error)
    refusals = [e for e in errors if isinstance(e, InputRefused)] or errors[-1:]
    if isinstance(refusals[0], InputRefused):
        raise refusals[0]
    fault = contradiction(plain)
    if fault is None and is_sound(shape):
        raise refusals[0]
    text = f"the kernel finds it faulty, and its flat disagrees with it: {refusals[0].faults[0].text}"
    raise InputRefused(fault or Fault("FG044", "the solid", text, REMEDY))


def _unfold(shell: Shell, shape: Any, rule_for: RuleForThickness, options: FormedOptions) -> UnfoldedPart:
    """By the first thickness that the part can be unfolded with; of refusals the first."""
    first: FlatgenError | None = None
    for thickness in Pairing(shell).thicknesses():
        try:
            return _unfold_with(shell, shape, rule_for, options, thickness)
        except FlatgenError as error:
            first = first or error
    assert first is not None
    raise first


def _unfold_with(
    shell: Shell, shape: Any, rule_for: RuleForThickness, options: FormedOptions, thickness: float
) -> UnfoldedPart:
    near_face = numbered_face(shell, options.near)
    pairing = Pairing(shell)
    almost = nearly_sharp_faces(shell, pairing, thickness) if options.inside_radius is not None else []
    if almost:
        shape = remove_faces(shape, almost)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    corners = sharp_corners(shell, pairing, thickness)
    findings: tuple[Finding, ...] = ()
    if options.inside_radius is not None and not corners:
        text = "no corner of the part is modelled sharp: all bends keep the radius that they have"
        findings = (Finding("FG124", "note", "--inside-radius", text, "change the radius in the model"),)
    if corners:
        shape, findings = _rounded(shape, corners, options.inside_radius, thickness)
        shell = read_shell(shape, shell.slack)
        pairing = Pairing(shell)
    findings += _radius_findings(lone_radii(shell, pairing, thickness))
    shell = with_inner_faces(shell, pairing, thickness)
    skins = find_skins(shell, thickness)
    try:
        cleared = clear_features(shell, skins, own=False, skip_formed=options.skip_formed)
    except InputRefused:
        grow_tree(shell, skins, skins.sides[0])  # a closed loop of bends is the better reason
        raise
    shell = cleared.shell
    trees = trees_seen_from(shell, skins, options.near, near_face)
    development = develop_sides(shell, skins, trees, rule_for(thickness), cleared.groups)
    _require_wide(development.flat)
    flat = check_identities(development.flat, development, shell)
    flat = replace(flat, forms=tuple(_form_outline(development, rim) for rim in cleared.form_rims))
    flat = _without_small_differences(flat, development)
    charts = development.near.charts | development.far.charts
    broken, flat = edge_findings(development.edges, flat, shell, charts, development.move)
    findings += broken + cleared.findings + _refold_findings(shell.slack, flat, development)
    return UnfoldedPart(in_standard_order(flat), findings, shape)


def _rounded(
    shape: Any, corners: Sequence[Corner], radius: float | None, thickness: float
) -> tuple[Any, tuple[Finding, ...]]:
    many = f"{len(corners)} corners are" if len(corners) > 1 else "a corner is"
    if radius is None:
        first = f"the first of {corners[0].angle:.1f} deg at {place_text(corners[0].place)}"
        text = f"{many} modelled sharp inside and outside, {first}"
        remedy = "say with --inside-radius what radius it will be bent to: the file does not"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    text = f"{many} modelled sharp; bent to an inside radius of {radius:g} mm, outside sizes kept"
    finding = Finding("FG124", "note", "the solid", text, "check that the drawing's sizes are those to the outside")
    return round_corners(shape, corners, radius, thickness), (finding,)


def _radius_findings(radii: Sequence[float]) -> tuple[Finding, ...]:
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


def _without_small_differences(flat: FlatPattern, development: Development) -> FlatPattern:
    """Without differences that nobody can file off, and without a volume that bevels and hollows explain."""
    outline = flat.outline_difference
    return replace(
        flat,
        outline_difference=outline if outline is not None and outline.largest > LEAST_DIFFERENCE else None,
        opening_differences=tuple((n, d) for n, d in flat.opening_differences if d.largest > LEAST_DIFFERENCE),
        volume_outside=0.0 if development.edges.broken or not development.edges.square else flat.volume_outside,
    )


def _refold_findings(slack: Slack, flat: FlatPattern, development: Development) -> tuple[Finding, ...]:
    missed = largest_miss(flat, development) if slack is LOOSE else 0.0
    if missed < QUIET_MISS:
        return ()
    text = f"faces of the solid are a little off: the flat folded up again lies within {missed:.3f} mm of it"
    return (Finding("FG121", "note", "the solid", text, f"faces may be off by {slack.length:g} mm, no more"),)


def _form_outline(development: Development, rim: tuple[int, ...]) -> Loop:
    """The outline of a form on a skin's face, in the flat, counter-clockwise."""
    shell = development.near.shell
    face = shell.half_edges[rim[0]].face
    chart = development.near.charts.get(face) or development.far.charts[face]
    loop = loop_of([trail(chart, shell.curve(h)) for h in rim]).moved(development.move)
    return loop if loop.signed_area > 0 else loop.reversed()
