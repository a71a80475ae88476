"""From a layout to a :class:`FlatPattern`: loops closed and cleaned, and turned the way a reader expects.

A ``View`` says which side is near and which way x runs. Without one the rules of the house decide: the near
face is the one with more width of up bends, x runs across the longest bend, and what is still undecided is
decided by the shape itself (the smallest list of corner coordinates), never by the order of faces in a file.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from flatgen.errors import Fault, IdentityFailed, InputRefused
from flatgen.flat import Arc, Bend, FlatPattern, Line, Loop, Matrix, Panel, Piece, Point, Segment
from flatgen.rule import Rule, Triple, View
from flatgen.unfold.develop import LaidJoint, Layout, chains, lay_out, panel_piece, zone_piece
from flatgen.unfold.sheet import Curve, Plane, Shell
from flatgen.unfold.skins import DISTANCE, Skins
from flatgen.unfold.tree import Tree, Zone, grow_tree

DIGITS = 9
"""Coordinates are rounded to so many decimals [mm], which takes the kernel's last-digit noise away."""

Develop = dict[int, Callable[[Curve], Piece | None]]


def flat_pattern(shell: Shell, skins: Skins, rule: Rule, view: View | None) -> FlatPattern:
    """Develop a sheet, as seen by ``view`` or by the rules of the house.

    Raises
    ------
    InputRefused
        FG041 where the sheet cannot be developed.
    """
    if view is not None:
        tree, start = _tree_of_view(shell, skins, view)
        flat = _develop(shell, skins, tree, rule, start)
        x = np.linalg.inv(flat.panels[start].placed)[:3, :3] @ np.asarray(view.across)
        return _to_corner(flat.moved(_rotation(-math.atan2(x[1], x[0]))))
    trees = [grow_tree(shell, skins, side) for side in skins.sides]
    width = [round(math.fsum(j.length for j in t.joints if j.up), 6) for t in trees]
    flats = [_develop(shell, skins, t, rule, t.root) for t, w in zip(trees, width, strict=True) if w == max(width)]
    turned = [_to_corner(f.moved(_rotation(-a))) for f in flats for a in _directions(f)]
    return min(turned, key=_signature)


def far_loops(shell: Shell, skins: Skins, flat_frames: Layout, tree: Tree) -> list[Loop]:
    """The loops of the far skin, developed with the frames of the near one."""
    far = frozenset(skins.partner[f] for f in tree.near)
    develop = {skins.partner[f]: d for f, d in _developers(tree, flat_frames).items()}
    return _loops(shell, far, develop, join=True)


def _tree_of_view(shell: Shell, skins: Skins, view: View) -> tuple[Tree, int]:
    point, normal = np.asarray(view.point), np.asarray(view.normal)
    for side in skins.sides:
        for face in side:
            surface = shell.faces[face].surface
            faces_view = isinstance(surface, Plane) and surface.normal @ normal > 1 - 1e-9
            if faces_view and abs((point - shell.corner(face)) @ normal) < DISTANCE and shell.holds(face, point):
                tree = grow_tree(shell, skins, side)
                return tree, next(n for n, p in enumerate(tree.panels) if face in p)
    raise IdentityFailed(
        Fault("FG903", "view", f"no face of the sheet holds {view.point} and looks along {view.normal}")
    )


def _develop(shell: Shell, skins: Skins, tree: Tree, rule: Rule, start: int) -> FlatPattern:
    layout = lay_out(shell, tree, skins.thickness, rule, start)
    develop = _developers(tree, layout)
    outline, openings = _outline_and_openings(_loops(shell, tree.near, develop, join=True))
    _same_on_both_skins(far_loops(shell, skins, layout, tree), (outline, *openings))
    panels = []
    for faces, frame in zip(tree.panels, layout.frames, strict=True):
        region = _outline_and_openings(_loops(shell, faces, develop))
        panels.append(Panel(region[0], region[1], frame))
    bends = tuple(_bend(shell, step, develop) for step in layout.joints)
    return FlatPattern(skins.thickness, outline, openings, tuple(panels), bends, start)


def _developers(tree: Tree, layout: Layout) -> Develop:
    develop: Develop = {}
    for faces, frame in zip(tree.panels, layout.frames, strict=True):
        develop |= dict.fromkeys(faces, panel_piece(frame))
    for step in layout.joints:
        for zone in step.joint.zones:
            develop |= dict.fromkeys(zone.faces, zone_piece(step))
    return develop


def _loops(shell: Shell, faces: frozenset[int], develop: Develop, *, join: bool = False) -> list[Loop]:
    """Boundary of some faces; edge by edge as the solid has them, or with collinear neighbours joined."""
    twins = shell.twins
    halves = [h for f in faces for wire in shell.faces[f].wires for h in wire]
    inner = {h for h in halves if h in twins and shell.half_edges[twins[h]].face in faces}
    return [clean_loop(chain, join=join) for chain in chains(shell, sorted(faces), develop, inner)]


def _outline_and_openings(loops: list[Loop]) -> tuple[Loop, tuple[Loop, ...]]:
    ordered = sorted(loops, key=lambda lp: -lp.area)
    if any(lp.signed_area > 0 for lp in ordered[1:]):
        raise InputRefused(Fault("FG042", "the flat", "its boundary has more than one outline", "check the solid"))
    outline = ordered[0]
    openings = tuple(o if o.signed_area < 0 else o.reversed() for o in ordered[1:])
    return (outline if outline.signed_area > 0 else outline.reversed()), openings


def _same_on_both_skins(far: list[Loop], near: tuple[Loop, ...]) -> None:
    """Walls square to the sheet: both skins give one flat."""
    one = sorted(lp.area for lp in far)
    two = sorted(lp.area for lp in near)
    corners = [_corners(far), _corners(near)]
    same = len(one) == len(two) and all(abs(a - b) < 1e-6 * max(1.0, a) for a, b in zip(one, two, strict=True))
    if not same or corners[0].shape != corners[1].shape or np.abs(corners[0] - corners[1]).max() > 1e-6:
        raise InputRefused(
            Fault(
                "FG041",
                "the sheet",
                f"its two skins develop to different flats (largest outline {max(two):.4f} and {max(one):.4f} mm2)",
                "cut every edge square to the sheet",
            )
        )


def _corners(loops: list[Loop] | tuple[Loop, ...]) -> Matrix:
    points = np.array([p.start for lp in loops for p in lp if not (isinstance(p, Arc) and p.full)]).reshape(-1, 2)
    rounded = np.round(points, 5)
    ordered: Matrix = points[np.lexsort((rounded[:, 1], rounded[:, 0]))]
    return ordered


def clean_loop(chain: list[Piece], *, join: bool = True) -> Loop:
    """A closed loop without noise: ends that meet, nothing of no length, collinear neighbours in one."""
    pieces = [_rounded(p) for p in chain]
    pieces = [p for p in pieces if p.length > 10.0**-DIGITS]
    if not join:
        return Loop(tuple(_met(pieces)))
    joined: list[Piece] = []
    for piece in pieces:
        if joined and (both := _joined(joined[-1], piece)):
            joined[-1] = both
        else:
            joined.append(piece)
    if len(joined) > 1 and (both := _joined(joined[-1], joined[0])):
        joined = [both, *joined[1:-1]]
    return Loop(tuple(_met(joined)))


def _rounded(piece: Piece) -> Piece:
    if isinstance(piece, Line):
        return Line(_round(piece.start), _round(piece.end))
    return Arc(_round(piece.centre), round(piece.radius, DIGITS), round(piece.first, DIGITS + 2), piece.sweep)


def _round(point: Point) -> Point:
    return (round(point[0], DIGITS) + 0.0, round(point[1], DIGITS) + 0.0)


def _joined(one: Piece, two: Piece) -> Piece | None:
    if isinstance(one, Line) and isinstance(two, Line):
        a = np.subtract(one.end, one.start)
        b = np.subtract(two.end, two.start)
        off = abs(float(a[0] * b[1] - a[1] * b[0])) / (one.length + two.length)
        return Line(one.start, two.end) if off < 1e-8 and float(a @ b) > 0 else None
    if isinstance(one, Arc) and isinstance(two, Arc) and one.sweep * two.sweep > 0:
        same = math.dist(one.centre, two.centre) < 1e-8 and abs(one.radius - two.radius) < 1e-8
        if same and abs(one.sweep + two.sweep) < 360 + 1e-9:
            return replace(one, sweep=one.sweep + two.sweep)
    return None


def _met(pieces: list[Piece]) -> list[Piece]:
    """Lines take the exact end of the piece before them and the exact start of the one after."""
    met = []
    for n, piece in enumerate(pieces):
        before, after = pieces[n - 1], pieces[(n + 1) % len(pieces)]
        if isinstance(piece, Line) and len(pieces) > 1:
            piece = Line(before.end, after.start if isinstance(after, Arc) else piece.end)
        met.append(piece)
    return met


def _bend(shell: Shell, step: LaidJoint, develop: Develop) -> Bend:
    joint = step.joint
    segments = tuple(_segment(shell, step, zone, develop) for zone in joint.zones)
    axis = (_triple(joint.origin), _triple(step.axis))
    return Bend(
        first=step.first,
        second=step.second,
        angle=joint.angle,
        way="up" if joint.up else "down",
        inside_radius=joint.inside_radius,
        allowance=step.allowance.length,
        k=step.allowance.k,
        method=step.allowance.method,
        origin=step.origin,
        along=step.along,
        axis=axis,
        segments=tuple(
            sorted(segments, key=lambda s: min(p[0] * step.along[0] + p[1] * step.along[1] for p in s.centre))
        ),
    )


def _segment(shell: Shell, step: LaidJoint, zone: Zone, develop: Develop) -> Segment:
    outline, openings = _outline_and_openings(_loops(shell, zone.faces, develop))
    (ox, oy), (ax, ay), wide = step.origin, step.along, step.allowance.length

    def local(p: Point) -> tuple[float, float]:
        return ((p[0] - ox) * ax + (p[1] - oy) * ay, (p[0] - ox) * ay - (p[1] - oy) * ax)

    def across(u: float) -> tuple[Point, Point]:
        spots = []
        for piece in outline:
            (s0, u0), (s1, u1) = local(piece.start), local(piece.end)
            if abs(u0 - u) < DISTANCE:
                spots.append(s0)
            if (u0 - u) * (u1 - u) < 0:
                spots.append(s0 + (s1 - s0) * (u - u0) / (u1 - u0))
        low, high = min(spots), max(spots)
        return (
            (ox + ax * low + ay * u, oy + ay * low - ax * u),
            (ox + ax * high + ay * u, oy + ay * high - ax * u),
        )

    return Segment(outline, openings, across(wide / 2), (across(0.0), across(wide)))


def _directions(flat: FlatPattern) -> list[float]:
    """Angles of possible x directions [rad]: across the longest bends; of a plate, across its longest edges."""
    if flat.bends:
        longest = max(b.length for b in flat.bends)
        lines = [b.across for b in flat.bends if b.length > longest - 1e-6]
    else:
        edges = [p for p in flat.outline if isinstance(p, Line)]
        longest = max((p.length for p in edges), default=0.0)
        chosen = [p for p in edges if p.length > longest - 1e-6]
        lines = [(p.end[1] - p.start[1], p.start[0] - p.end[0]) for p in chosen] or [(1.0, 0.0)]
    angles = {round(math.atan2(y, x), 6): math.atan2(y, x) for x, y in lines}
    return [a + turn for _, a in sorted(angles.items()) for turn in (0.0, math.pi)]


def _signature(flat: FlatPattern) -> list[tuple[float, float]]:
    marks = [p for b in flat.bends for p in b.centre] + [p.start for p in flat.outline]
    marks += [p.at(0.5) for o in (flat.outline, *flat.openings) for p in o]
    return sorted((round(x, 5) + 0.0, round(y, 5) + 0.0) for x, y in marks)


def _rotation(angle: float) -> Matrix:
    c, s = math.cos(angle), math.sin(angle)
    return np.array(((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)))


def _to_corner(flat: FlatPattern) -> FlatPattern:
    x, y, _, _ = flat.box
    shift = np.eye(3)
    shift[:2, 2] = (-x, -y)
    moved = flat.moved(shift)
    tidy = replace(
        moved,
        outline=clean_loop(list(moved.outline)),
        openings=tuple(clean_loop(list(o)) for o in moved.openings),
    )
    return replace(tidy, bends=tuple(_tidy_bend(b) for b in tidy.bends))


def _tidy_bend(bend: Bend) -> Bend:
    def ends(line: tuple[Point, Point]) -> tuple[Point, Point]:
        return (_round(line[0]), _round(line[1]))

    segments = tuple(
        replace(s, centre=ends(s.centre), tangents=(ends(s.tangents[0]), ends(s.tangents[1]))) for s in bend.segments
    )
    return replace(bend, segments=segments)


def _triple(vector: Matrix) -> Triple:
    x, y, z = (float(c) for c in vector)
    return (x, y, z)
