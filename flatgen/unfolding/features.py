"""Features that a flat leaves out: bosses and pockets on one side, and forms pressed out of the sheet.

Forms (dimples, louvres, collars) stretch the sheet: no flat unfolds from them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.unfolding.sheet import Cylinder, OtherSurface, Plane, Shell, crosswise
from flatgen.unfolding.skins import Skins, describe, place_text, same_axis
from flatgen.unfolding.wall_groups import WallGroup, in_tube, is_outer, is_tube, rises, wall_groups


def is_form(shell: Shell, group: WallGroup) -> bool:
    """Whether a group that reaches both skins is a form that is cut open, such as a louvre."""
    for rim in group.rims:
        if not any(is_outer(shell, h) for h in rim) and len({rises(shell, h) for h in rim}) == 2:
            return True
    return _is_collar(shell, group)


def _is_collar(shell: Shell, group: WallGroup) -> bool:
    if not all(group.rims) or any(is_outer(shell, h) for h in group.rim):
        return False
    for one, two in (group.rims, group.rims[::-1]):
        if all(rises(shell, h) for h in one):
            return all(shell.is_smooth(h, shell.beyond(h)) for h in two)
    return False


def facing_forms(shell: Shell, lone: Sequence[WallGroup], thickness: float) -> list[list[WallGroup]]:
    """Pairs of one-sided groups that lie before one another: one rises, the other goes down."""
    above = [g for g in lone if g.sides == (0,)]
    below = [g for g in lone if g.sides == (1,)]
    pairs, used = [], set()
    for one in above:
        for two in below:
            if id(two) in used or rises(shell, one.rims[0][0]) == rises(shell, two.rims[1][0]):
                continue
            if _one_thickness_apart(shell, one, two, thickness) and _rims_overlap(shell, one.rims[0], two.rims[1]):
                used.add(id(two))
                pairs.append([one, two])
                break
    return pairs


def _one_thickness_apart(shell: Shell, one: WallGroup, two: WallGroup, thickness: float) -> bool:
    """Whether two groups are one thickness apart, as what is pressed out of a sheet is, or are free forms both."""
    sides = [[shell.surface(f) for f in sorted(g.faces)] for g in (one, two)]
    if all(any(isinstance(s, OtherSurface) and s.kind != "cone" for s in side) for side in sides):
        return True
    flats = [
        abs(float((b.origin - a.origin) @ a.normal))
        for a in sides[0]
        for b in sides[1]
        if isinstance(a, Plane) and isinstance(b, Plane) and a.normal @ b.normal < -1 + 1e-6
    ]
    rounds = [
        abs(a.radius - b.radius)
        for a in sides[0]
        for b in sides[1]
        if isinstance(a, Cylinder) and isinstance(b, Cylinder) and same_axis(a, b, shell)
    ]
    return any(abs(gap - thickness) < 0.05 * thickness for gap in flats or rounds)


def _rims_overlap(shell: Shell, one: Sequence[int], two: Sequence[int]) -> bool:
    """Whether two rims lie before one another, seen along the skin's normal."""
    import shapely

    normal = shell.normal_at(shell.half_edges[one[0]].face, shell.curve(one[0]).at(0.5))
    u = crosswise(normal)
    basis = np.column_stack((u, np.cross(normal, u)))
    rims = [shapely.MultiPoint(shell.ring(tuple(r)) @ basis).convex_hull for r in (one, two)]
    heights = [float(np.mean(shell.ring(tuple(r)) @ normal)) for r in (one, two)]
    near_enough = abs(heights[0] - heights[1]) < 2 * math.sqrt(max(r.area for r in rims)) + 1.0
    return bool(near_enough and rims[0].intersection(rims[1]).area > 0.05 * min(r.area for r in rims))


SLIVER = 0.1  # faces of less than this share of the square of the thickness are slivers, left by careless modelling
Wire: TypeAlias = tuple[int, int]  # a face, and the number of a wire of it


@dataclass(frozen=True)
class ClearedSheet:
    """A sheet without what was left out; ``form_rims`` are the wires (half-edges) of forms to be marked."""

    shell: Shell
    groups: tuple[WallGroup, ...]
    findings: tuple[Finding, ...] = ()
    form_rims: tuple[tuple[int, ...], ...] = ()


def clear_features(shell: Shell, skins: Skins, *, own: bool, skip_formed: bool = False) -> ClearedSheet:
    """The sheet without one-sided groups and, with ``skip_formed``, without forms.

    :param own: a solid of our own, which has neither: any is refused
    :raises InputRefused: FG041 where a group cannot be left out.
    """
    groups = wall_groups(shell, skins)
    one_sided = [g for g in groups if len(g.sides) < 2]
    void = next((g for g in one_sided if not g.sides), None)
    if void is not None:
        raise _refusal(shell, void, "a hollow inside of the metal", "close it: a sheet is solid")
    if own and one_sided:
        text = "metal stands on the sheet or is taken out of it here, but not through it"
        remedy = "leave bosses, pockets and engraving out of the part: a flat blank cannot show them"
        raise _refusal(shell, one_sided[0], text, remedy)
    forms: list[list[WallGroup]] = []
    if not own:
        forms = facing_forms(shell, one_sided, skins.thickness)
        forms += [[g] for g in groups if len(g.sides) == 2 and is_form(shell, g)]
    if forms and not skip_formed:
        text = "the sheet is pressed out of its plane here, and so stretched: no flat unfolds from it"
        remedy = "ask for --skip-formed: the sheet around is unfolded, and the outline of the form is marked"
        raise _refusal(shell, forms[0][0], text, remedy)
    in_forms = [g for form in forms for g in form]
    bosses = [g for g in one_sided if not any(g is f for f in in_forms)]
    _require_shallow(shell, bosses, skins.thickness)
    dropped = {g: _wires_of(shell, skins, g) for g in (*bosses, *in_forms)}
    kept = tuple(g for g in groups if g not in dropped)
    checked = shell if own else _with_tubes(shell, skins, kept)
    cleared = replace(_without(shell, dropped), has_tubes=checked.has_tubes) if dropped else checked
    findings = _omissions(shell, bosses) + _form_findings(shell, forms)
    findings += _tube_findings(shell, kept if checked.has_tubes else ())
    rims = tuple(_largest_rim(shell, [w for g in form for w in dropped[g]]) for form in forms)
    return ClearedSheet(cleared, kept, findings, rims)


def _require_shallow(shell: Shell, groups: Sequence[WallGroup], thickness: float) -> None:
    """No opening that something on the other side of the sheet closes: it would be left out with a pocket's rim."""
    for group in groups:
        half = group.rim[0]
        face = shell.half_edges[half].face
        if rises(shell, half) or not isinstance(shell.surface(face), Plane):
            continue
        points = np.concatenate([shell.ring(w) for f in sorted(group.faces) for w in shell.faces[f].wires])
        depth = -float(((points - shell.corner(face)) @ shell.normal_at(face, points[0])).min())
        if depth > thickness - shell.slack.length:
            text = f"it goes {depth:.2f} mm deep, through the whole sheet of {thickness:.2f} mm into what stands behind"
            remedy = "take what is fitted onto the sheet out of the part: then this is an opening"
            raise _refusal(shell, group, text, remedy)


def _largest_rim(shell: Shell, wires: Sequence[Wire]) -> tuple[int, ...]:
    face, wire = max(wires, key=lambda w: abs(_flat_area(shell, w[0], shell.faces[w[0]].wires[w[1]])))
    return shell.faces[face].wires[wire]


def _with_tubes(shell: Shell, skins: Skins, groups: Sequence[WallGroup]) -> Shell:
    """The shell, noted where metal about an opening stands on it, as a tube does that is bored through."""
    up = [h for g in groups if len(g.sides) == 2 for h in g.rim if rises(shell, h)]
    for half in up:
        face, wall = shell.half_edges[half].face, shell.beyond(half)
        sliver = shell.rough_areas[wall] < SLIVER * skins.thickness**2
        if not sliver and not in_tube(shell, half) and not _ends_a_leg(shell, skins, wall):
            text = (
                f"metal stands up from it at {place_text(shell.curve(half).at(0.5))} without a bend of two "
                "round faces, the outer radius one thickness more than the inner"
            )
            remedy = "model the bend with both radii, or leave out what stands on the sheet"
            raise InputRefused(Fault("FG041", describe(shell, face), text, remedy))
    return shell.with_changes(has_tubes=True) if any(in_tube(shell, h) for h in up) else shell


def _ends_a_leg(shell: Shell, skins: Skins, wall: int) -> bool:
    """Whether a wall is the cut edge of a leg or bend, which only touches another leg where it seems to rise."""
    edged = {
        side
        for h, other in shell.neighbours(wall)
        for side in (0, 1)
        if other in skins.sides[side] and not rises(shell, shell.twins[h])
    }
    return len(edged) == 2


def _wires_of(shell: Shell, skins: Skins, group: WallGroup) -> list[Wire]:
    """The whole inner wires along which a group meets the skins."""
    whole_wires: list[Wire] = []
    for rim in group.rims:
        held = set(rim)
        for face in sorted({shell.half_edges[h].face for h in rim}):
            wires = [n for n, w in enumerate(shell.faces[face].wires) if held.intersection(w)]
            outer = shell.outer_wires[face]
            whole = all(held.issuperset(shell.faces[face].wires[n]) for n in wires)
            if not isinstance(shell.surface(face), Plane) or outer in wires or not whole:
                text = f"metal is put on or taken out across a bend or an edge ({describe(shell, face)})"
                remedy = "leave it out of the part: the flat can leave out only what lies inside of one flat face"
                raise _refusal(shell, group, text, remedy)
            whole_wires += [(face, n) for n in wires]
    return whole_wires


def _without(shell: Shell, dropped: dict[WallGroup, list[Wire]]) -> Shell:
    gone: dict[int, set[int]] = {}
    volume = shell.volume
    for group, wires in dropped.items():
        for face, wire in wires:
            gone.setdefault(face, set()).add(wire)
        volume -= _volume(shell, group, wires)
    changed = list(shell.faces)
    for index, wires_gone in gone.items():
        one = changed[index]
        filled = math.fsum(abs(_flat_area(shell, index, one.wires[n])) for n in wires_gone)
        kept = tuple(w for n, w in enumerate(one.wires) if n not in wires_gone)
        changed[index] = replace(one.with_area(one.area + filled), wires=kept)
    return replace(shell, faces=tuple(changed), volume=volume)


def _flat_area(shell: Shell, face: int, wire: tuple[int, ...]) -> float:
    """What a wire of a flat face encloses [mm2]."""
    from flatgen.unfolding.develop import PanelChart, chain_area, trail

    surface = shell.surface(face)
    assert isinstance(surface, Plane)
    u = crosswise(surface.normal)
    u /= np.linalg.norm(u)
    frame = np.eye(4)
    frame[:3, :3] = np.vstack((u, np.cross(surface.normal, u), surface.normal))
    frame[:3, 3] = -frame[:3, :3] @ surface.origin
    chart = PanelChart(0, frame)
    return chain_area(trail(chart, shell.curve(h)) for h in wire)


def _volume(shell: Shell, group: WallGroup, wires: Sequence[Wire]) -> float:
    """What the sheet has more with a group than with its wires filled [mm3]; less than nothing for a pocket."""
    point = shell.corner(wires[0][0])
    total = 0.0
    for face in group.faces:
        cone_volume = shell.faces[face].cone_volume
        assert cone_volume is not None
        total += cone_volume(point)
    for face, wire in wires:
        normal = shell.normal_at(face, point)
        height = float((shell.corner(face) - point) @ normal)
        total -= height * abs(_flat_area(shell, face, shell.faces[face].wires[wire])) / 3
    return total


def _omissions(shell: Shell, groups: Sequence[WallGroup]) -> tuple[Finding, ...]:
    findings = []
    for side_word, rising in (("stands on the sheet", True), ("is sunk into the sheet, not through it", False)):
        some = [g for g in groups if rises(shell, g.rim[0]) == rising]
        if some:
            where, size, more = _largest_of(shell, some)
            text = f"what {side_word} at {where}, {size} mm{more}{',' if more else ''} is left out of the flat"
            remedy = "a standoff is fitted after bending" if rising else "engrave or mill it after cutting"
            findings.append(Finding("FG122", "note", "the solid", text, remedy))
    return tuple(findings)


def _largest_of(shell: Shell, groups: Sequence[WallGroup]) -> tuple[str, str, str]:
    """In words: where the largest of some groups is, its sizes [mm], and how many more there are."""
    largest = max(groups, key=lambda g: _extents(shell, g))
    size = " x ".join(f"{s:.1f}" for s in sorted(_extents(shell, largest)[1], reverse=True))
    more = f", and {len(groups) - 1} more, none larger" if len(groups) > 1 else ""
    return describe(shell, min(largest.faces)), size, more


def _extents(shell: Shell, group: WallGroup) -> tuple[float, tuple[float, float, float]]:
    """Product of the extents of a group, and these [mm]."""
    points = np.concatenate([shell.ring(w) for f in sorted(group.faces) for w in shell.faces[f].wires])
    x, y, z = (float(c) for c in np.ptp(points, axis=0))
    return x * y * z, (x, y, z)


def _tube_findings(shell: Shell, groups: Sequence[WallGroup]) -> tuple[Finding, ...]:
    tubes = [g for g in groups if len(g.sides) == 2 and is_tube(shell, g)]
    if not tubes:
        return ()
    where, size, more = _largest_of(shell, tubes)
    text = (
        f"what stands on the sheet about an opening at {where}, {size} mm{more}: left out of the flat, its bore drawn"
    )
    return (Finding("FG122", "note", "the solid", text, "a standoff is fitted after bending"),)


def _form_findings(shell: Shell, forms: Sequence[Sequence[WallGroup]]) -> tuple[Finding, ...]:
    if not forms:
        return ()
    where = describe(shell, min(forms[0][0].faces))
    more = f", and {len(forms) - 1} more" if len(forms) > 1 else ""
    text = f"the stretched form at {where}{more} is left out of the flat; its outline is marked, not cut"
    return (Finding("FG123", "note", "the solid", text, "form it with its own tool, before bending or as that asks"),)


def _refusal(shell: Shell, group: WallGroup, text: str, remedy: str) -> InputRefused:
    return InputRefused(Fault("FG041", describe(shell, min(group.faces)), text, remedy))
