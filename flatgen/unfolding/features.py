"""Forms that are pressed out of a sheet: dimples, louvres, collars. They stretch it, and no flat unfolds from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.unfolding.sheet import Cylinder, Other, Plane, Shell, edges_of, is_smooth
from flatgen.unfolding.skins import Skins, describe, same_axis
from flatgen.unfolding.wall_groups import Group, in_tube, is_outer, is_tube, rises, wall_groups


def is_form(shell: Shell, group: Group) -> bool:
    """Whether a group that reaches both skins is a form that is cut open, such as a louvre."""
    for meets in group.meets:
        if any(is_outer(shell, h) for h in meets):
            continue
        if len({rises(shell, h) for h in meets}) == 2:
            return True
    return _is_collar(shell, group)


def _is_collar(shell: Shell, group: Group) -> bool:
    """Whether a tube is drawn out of the sheet: the metal flows into it round on the other side."""
    if not all(group.meets) or any(is_outer(shell, h) for meets in group.meets for h in meets):
        return False
    for one, two in (group.meets, group.meets[::-1]):
        if all(rises(shell, h) for h in one):
            return all(is_smooth(shell, h, shell.half_edges[shell.twins[h]].face) for h in two)
    return False


def facing_forms(shell: Shell, lone: Sequence[Group], thickness: float) -> list[list[Group]]:
    """Pairs of one-sided groups that lie before one another: one rises, the other goes down."""
    above = [g for g in lone if g.sides == (0,)]
    below = [g for g in lone if g.sides == (1,)]
    found, used = [], set()
    for one in above:
        for two in below:
            if id(two) in used or rises(shell, one.meets[0][0]) == rises(shell, two.meets[1][0]):
                continue
            if _one_thickness(shell, one, two, thickness) and _before(shell, one.meets[0], two.meets[1]):
                used.add(id(two))
                found.append([one, two])
                break
    return found


def _one_thickness(shell: Shell, one: Group, two: Group, thickness: float) -> bool:
    """Whether two groups are one thickness apart, as what is pressed out of a sheet is, or are free forms both."""
    sides = [[shell.faces[f].surface for f in sorted(g.faces)] for g in (one, two)]
    if all(any(isinstance(s, Other) and s.kind != "cone" for s in side) for side in sides):
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


def _before(shell: Shell, one: Sequence[int], two: Sequence[int]) -> bool:
    """Whether two rims lie before one another, seen along the skin's normal."""
    import shapely

    normal = shell.normal_at(shell.half_edges[one[0]].face, shell.half_edges[one[0]].curve.at(0.5))
    u = np.cross(np.eye(3)[int(np.argmin(np.abs(normal)))], normal)
    basis = np.column_stack((u, np.cross(normal, u)))
    rims = [shapely.MultiPoint(shell.ring(tuple(r)) @ basis).convex_hull for r in (one, two)]
    heights = [float(np.mean(shell.ring(tuple(r)) @ normal)) for r in (one, two)]
    near_enough = abs(heights[0] - heights[1]) < 2 * math.sqrt(max(r.area for r in rims)) + 1.0
    return bool(near_enough and rims[0].intersection(rims[1]).area > 0.05 * min(r.area for r in rims))


SLIVER = 0.1
"""Faces of less than this share of the square of the thickness are slivers, left by careless modelling."""

Wire = tuple[int, int]
"""A face, and the number of a wire of it."""


@dataclass(frozen=True)
class Cleared:
    """A sheet without what was left out: shell, findings, and the wires (half-edges) of forms to be marked."""

    shell: Shell
    groups: tuple[Group, ...]
    findings: tuple[Finding, ...] = ()
    marked: tuple[tuple[int, ...], ...] = ()


def clear(shell: Shell, skins: Skins, *, own: bool, skip_formed: bool = False) -> Cleared:
    """The sheet without one-sided groups and, where that is asked for, without forms.

    :param own: A solid of our own has none: any is refused.
    :param skip_formed: leave stretched forms out instead of refusing them.
    :raises InputRefused: FG041 where a group cannot be left out.
    """
    groups = wall_groups(shell, skins)
    lone = [g for g in groups if len(g.sides) < 2]
    void = next((g for g in lone if not g.sides), None)
    if void is not None:
        raise _refused(shell, void, "a hollow inside of the metal", "close it: a sheet is solid")
    if own and lone:
        raise _refused(
            shell,
            lone[0],
            "metal stands on the sheet or is taken out of it here, but not through it",
            "leave bosses, pockets and engraving out of the part: a flat blank cannot show them",
        )
    forms = (
        []
        if own
        else facing_forms(shell, lone, skins.thickness)
        + [[g] for g in groups if len(g.sides) == 2 and is_form(shell, g)]
    )
    if forms and not skip_formed:
        raise _refused(
            shell,
            forms[0][0],
            "the sheet is pressed out of its plane here, and so stretched: no flat unfolds from it",
            "ask for --skip-formed: the sheet around is unfolded, and the outline of the form is marked",
        )
    formed = {id(g) for form in forms for g in form}
    left = [g for g in lone if id(g) not in formed]
    _require_shallow(shell, left, skins.thickness)
    dropped = {g: _wires_of(shell, skins, g) for g in (*left, *(g for form in forms for g in form))}
    kept = tuple(g for g in groups if g not in dropped)
    risen = _risen(shell, skins, kept, own)
    cleared = replace(_without(shell, dropped), risen=risen.risen) if dropped else risen
    findings = _left_out(shell, left) + _marked(shell, forms) + _tubes(shell, kept if risen.risen else ())
    marked = tuple(_largest_rim(shell, [w for g in form for w in dropped[g]]) for form in forms)
    return Cleared(cleared, kept, findings, marked)


def _require_shallow(shell: Shell, groups: Sequence[Group], thickness: float) -> None:
    """No opening that something on the other side of the sheet closes: it would be left out with a pocket's rim."""
    for group in groups:
        half = next(h for meets in group.meets for h in meets)
        face = shell.half_edges[half].face
        if rises(shell, half) or not isinstance(shell.faces[face].surface, Plane):
            continue
        points = np.concatenate([shell.ring(w) for f in sorted(group.faces) for w in shell.faces[f].wires])
        depth = -float(((points - shell.corner(face)) @ shell.normal_at(face, points[0])).min())
        if depth > thickness - shell.slack.length:
            raise _refused(
                shell,
                group,
                f"it goes {depth:.2f} mm deep, through the whole sheet of {thickness:.2f} mm into what stands behind",
                "take what is fitted onto the sheet out of the part: then this is an opening",
            )


def _largest_rim(shell: Shell, wires: Sequence[Wire]) -> tuple[int, ...]:
    """Of the wires about a form that which encloses most."""
    face, wire = max(wires, key=lambda w: abs(_flat_area(shell, w[0], shell.faces[w[0]].wires[w[1]])))
    return shell.faces[face].wires[wire]


def _risen(shell: Shell, skins: Skins, groups: Sequence[Group], own: bool) -> Shell:
    """Told in the shell: metal about an opening stands on the sheet, as a tube does that is bored through."""
    if own:
        return shell
    up = [h for g in groups if len(g.sides) == 2 for meets in g.meets for h in meets if rises(shell, h)]
    for half in up:
        face, wall = shell.half_edges[half].face, shell.half_edges[shell.twins[half]].face
        sliver = shell.rough_areas[wall] < SLIVER * skins.thickness**2
        if not sliver and not in_tube(shell, half) and not _ends_a_leg(shell, skins, wall):
            place = ", ".join(f"{a} {c:.2f}" for a, c in zip("xyz", shell.half_edges[half].curve.at(0.5), strict=True))
            raise InputRefused(
                Fault(
                    "FG041",
                    describe(shell, face),
                    f"metal stands up from it at {place} without a bend of two round faces, the outer radius one "
                    "thickness more than the inner",
                    "model the bend with both radii, or leave out what stands on the sheet",
                )
            )
    return shell.changed(risen=True) if any(in_tube(shell, h) for h in up) else shell


def _ends_a_leg(shell: Shell, skins: Skins, wall: int) -> bool:
    """Whether a wall is the cut edge of a leg or bend, which only touches another leg where it seems to rise."""
    twins = shell.twins
    edged = {
        side
        for h in edges_of(shell.faces[wall])
        for side in (0, 1)
        if h in twins and shell.half_edges[twins[h]].face in skins.sides[side] and not rises(shell, twins[h])
    }
    return len(edged) == 2


def _wires_of(shell: Shell, skins: Skins, group: Group) -> list[Wire]:
    """The whole inner wires along which a group meets the skins."""
    found: list[Wire] = []
    for meets in group.meets:
        held = set(meets)
        for face in sorted({shell.half_edges[h].face for h in meets}):
            wires = [n for n, w in enumerate(shell.faces[face].wires) if held.intersection(w)]
            outer = shell.outer_wires[face]
            whole = all(held.issuperset(shell.faces[face].wires[n]) for n in wires)
            if not isinstance(shell.faces[face].surface, Plane) or outer in wires or not whole:
                raise _refused(
                    shell,
                    group,
                    f"metal is put on or taken out across a bend or an edge ({describe(shell, face)})",
                    "leave it out of the part: the flat can leave out only what lies inside of one flat face",
                )
            found += [(face, n) for n in wires]
    return found


def _without(shell: Shell, dropped: dict[Group, list[Wire]]) -> Shell:
    """The shell less the wires and the volumes of some groups."""
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
        changed[index] = replace(one, wires=kept, measured=_constant(one.area + filled))
    return replace(shell, faces=tuple(changed), volume=volume)


def _constant(value: float) -> Any:
    return lambda: value


def _flat_area(shell: Shell, face: int, wire: tuple[int, ...]) -> float:
    """What a wire of a flat face encloses [mm2]."""
    from flatgen.unfolding.develop import PanelChart, trail, trail_area

    surface = shell.faces[face].surface
    assert isinstance(surface, Plane)
    u = np.cross(np.eye(3)[int(np.argmin(np.abs(surface.normal)))], surface.normal)
    u /= np.linalg.norm(u)
    frame = np.eye(4)
    frame[:3, :3] = np.vstack((u, np.cross(surface.normal, u), surface.normal))
    frame[:3, 3] = -frame[:3, :3] @ surface.origin
    chart = PanelChart(0, frame)
    return math.fsum(trail_area(trail(chart, shell.half_edges[h].curve)) for h in wire)


def _volume(shell: Shell, group: Group, wires: Sequence[Wire]) -> float:
    """What the sheet has more with a group than with its wires filled [mm3]; less than nothing for a pocket."""
    point = shell.corner(wires[0][0])
    total = 0.0
    for face in group.faces:
        swept = shell.faces[face].swept
        assert swept is not None
        total += swept(point)
    for face, wire in wires:
        normal = shell.normal_at(face, point)
        height = float((shell.corner(face) - point) @ normal)
        total -= height * abs(_flat_area(shell, face, shell.faces[face].wires[wire])) / 3
    return total


def _left_out(shell: Shell, groups: Sequence[Group]) -> tuple[Finding, ...]:
    found = []
    for side_word, rising in (("stands on the sheet", True), ("is sunk into the sheet, not through it", False)):
        some = [g for g in groups if rises(shell, next(h for m in g.meets for h in m)) == rising]
        if some:
            largest = max(some, key=lambda g: _extents(shell, g))
            where = describe(shell, min(largest.faces))
            size = " x ".join(f"{s:.1f}" for s in sorted(_extents(shell, largest)[1], reverse=True))
            more = f", and {len(some) - 1} more, none larger," if len(some) > 1 else ""
            text = f"what {side_word} at {where}, {size} mm{more} is left out of the flat"
            remedy = "a standoff is fitted after bending" if rising else "engrave or mill it after cutting"
            found.append(Finding("FG122", "note", "the solid", text, remedy))
    return tuple(found)


def _extents(shell: Shell, group: Group) -> tuple[float, tuple[float, float, float]]:
    """Product of the extents of a group, and these [mm]."""
    points = np.concatenate([shell.ring(w) for f in sorted(group.faces) for w in shell.faces[f].wires])
    x, y, z = (float(c) for c in np.ptp(points, axis=0))
    return x * y * z, (x, y, z)


def _tubes(shell: Shell, groups: Sequence[Group]) -> tuple[Finding, ...]:
    """Told of tubes that stand on the sheet about an opening."""
    some = [g for g in groups if len(g.sides) == 2 and is_tube(shell, g)]
    if not some:
        return ()
    largest = max(some, key=lambda g: _extents(shell, g))
    where = describe(shell, min(largest.faces))
    size = " x ".join(f"{s:.1f}" for s in sorted(_extents(shell, largest)[1], reverse=True))
    more = f", and {len(some) - 1} more, none larger" if len(some) > 1 else ""
    text = (
        f"what stands on the sheet about an opening at {where}, {size} mm{more}: left out of the flat, its bore drawn"
    )
    return (Finding("FG122", "note", "the solid", text, "a standoff is fitted after bending"),)


def _marked(shell: Shell, forms: Sequence[Sequence[Group]]) -> tuple[Finding, ...]:
    if not forms:
        return ()
    where = describe(shell, min(forms[0][0].faces))
    more = f", and {len(forms) - 1} more" if len(forms) > 1 else ""
    text = f"the stretched form at {where}{more} is left out of the flat; its outline is marked, not cut"
    return (Finding("FG123", "note", "the solid", text, "form it with its own tool, before bending or as that asks"),)


def _refused(shell: Shell, group: Group, text: str, remedy: str) -> InputRefused:
    return InputRefused(Fault("FG041", describe(shell, min(group.faces)), text, remedy))
