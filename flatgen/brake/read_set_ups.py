"""Clamp bar, leaf and set-ups of a shop file: what one set-up may have otherwise than the next.

Values that cannot be used are noted and become NaN (see :mod:`flatgen.brake.amounts`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from flatgen.brake import shop_shapes as shapes
from flatgen.brake.amounts import Table
from flatgen.brake.read_beams import read_beams
from flatgen.core.shop import Beam, ClampBar, Leaf, Point, SetUp
from flatgen.definition.toml.shape import shape, shown

USUAL = "usual"
"""Name of the set-up of a file that describes none."""
MOST_SETUPS = 50
MOST_FINGERS = 200
MOST_POINTS = 100
"""Of a leaf's outline."""
LARGEST = 20_000.0
"""Of the brake, its lever and its fingers [mm]."""
LARGEST_LEAF = 2000.0
LARGEST_DROP = 100.0
LARGEST_SETTING = 500.0
LARGEST_OFFSET = 20.0
LARGEST_NOSE = 200.0
LARGEST_SWING = 180.0
LARGEST_MASS = 1e5
EDGE = 1e-9
"""Sums may pass a bound by this, which is rounding [mm]."""


def read_clamp_bar(top: Table, beam: Beam | None) -> ClampBar:
    """The clamp bar of ``[clamp_bar]``.

    Parameters
    ----------
    top : Table
        The file, [-]
    beam : Beam | None
        Its beam, [mm]

    Returns
    -------
    ClampBar
        With NaN where a fault was noted, [mm]
    """
    table = top.below("clamp_bar", shapes.ClampBarShape)
    depth = table.size("depth", 0.0, LARGEST, above=True)
    pressing = table.size("clamping_depth", 0.0, LARGEST, above=True)
    if pressing > depth + EDGE:
        text = f"the bar presses {pressing:g} mm behind its nose, but is only {depth:g} mm deep"
        table.wrong("clamping_depth", text, "it is at most the depth of the bar: measure both from the nose back")
    clamp = ClampBar(
        nose_radius=table.size("nose_radius", 0.0, LARGEST_NOSE),
        nose_angle=_nose_angle(table),
        height=table.size("height", 0.0, LARGEST, above=True),
        depth=depth,
        lift=table.size("lift", 0.0, LARGEST),
        clamping_depth=pressing,
        beam=beam,
    )
    _check_nose(table, clamp)
    return clamp


def _nose_angle(table: Table) -> float:
    return table.angle("nose_angle", 0.0, 179.0)


def _check_nose(table: Table, clamp: ClampBar) -> None:
    """The rounding from underside to front must end below the top of the bar."""
    rise = clamp.nose_radius * (1 + math.cos(math.radians(clamp.nose_angle)))
    if rise > clamp.height + EDGE:
        text = (
            f"a nose of radius {clamp.nose_radius:g} mm rises {rise:.1f} mm, past the bar's height, {clamp.height:g} mm"
        )
        table.wrong("nose_radius", text, "measure radius and height again; a bar wrapped in sheet gains in both")


def read_leaf(top: Table, beam: Beam | None) -> Leaf:
    """The leaf of ``[leaf]``.

    Parameters
    ----------
    top : Table
        The file, [-]
    beam : Beam | None
        Its beam, [mm]

    Returns
    -------
    Leaf
        With NaN where a fault was noted, [mm]
    """
    table = top.below("leaf", shapes.LeafShape)
    swing = table.angle("swing", 0.0, LARGEST_SWING)
    return Leaf(
        face=_face(table, "face"),
        drop=_drop(table, "drop"),
        depth=_leaf_depth(table, "depth"),
        swing=swing,
        mass=_mass(table, "weight"),
        mass_arm=_arm(table, "weight_arm"),
        beam=beam,
        shape=_outline(table, "outline"),
    )


def _face(table: Table, key: str) -> float:
    return table.size(key, 0.0, LARGEST_LEAF, above=True)


def _drop(table: Table, key: str) -> float:
    return table.size(key, -LARGEST_DROP, LARGEST_DROP)


def _leaf_depth(table: Table, key: str) -> float:
    return table.size(key, 0.0, LARGEST_LEAF, above=True)


def _mass(table: Table, key: str) -> float:
    return table.amount(key, "mass", LARGEST_MASS)


def _arm(table: Table, key: str) -> float:
    return table.size(key, -LARGEST_LEAF, LARGEST_LEAF)


def _outline(table: Table, key: str) -> tuple[Point, ...]:
    """Corners of the leaf in section, none before its face."""
    raw = table.values.get(key)
    if raw is None:
        return ()
    if not 3 <= len(raw) <= MOST_POINTS:
        text = f"{len(raw)} points are not from 3 to {MOST_POINTS}"
        table.wrong(key, text, "give the corners of the leaf one after the other, or leave it out")
        return ()
    points: list[Point] = []
    for place, pair in enumerate(raw):
        if not isinstance(pair, list) or len(pair) != 2:
            table.notes.add(table.at(key, place), "FG005", f"{shown(pair)} is no pair of lengths", _OUTLINE)
            continue
        along = table.size_at((key, place), pair[0], -LARGEST_LEAF, LARGEST_LEAF)
        behind = table.size_at((key, place), pair[1], -LARGEST_LEAF, LARGEST_LEAF)
        if behind > EDGE:
            text = f"{behind:g} mm is in front of the leaf's face, where the sheet lies"
            table.notes.add(table.at(key, place), "FG032", text, "behind the face is negative")
        points.append((along, behind))
    return tuple(points)


_OUTLINE = 'write pairs as ["30 mm", "-12 mm"]: along the face from the hinge axis, then behind the face with a minus'


@dataclass(frozen=True)
class Usual:
    """What a set-up is where it says nothing, and the brake's usable ``length`` [mm].

    ``ill``: beams that are described, but with faults, so that those of a set-up cannot be judged by them.
    """

    length: float
    clamp: ClampBar
    leaf: Leaf
    stress: Mapping[str, float | None]
    ill: tuple[str, ...] = ()


def read_set_ups(top: Table, usual: Usual) -> tuple[SetUp, ...]:
    """All ``[[set_up]]``; one named "usual" where the file has none.

    Parameters
    ----------
    top : Table
        The file, [-]
    usual : Usual
        What they are where they say nothing, [mm]

    Returns
    -------
    tuple[SetUp, ...]
        At least one, with NaN where a fault was noted, [mm]
    """
    raw = top.values.get("set_up")
    if raw is None:
        return (SetUp(USUAL, usual.clamp, usual.leaf),)
    if len(raw) > MOST_SETUPS:
        text = f"{len(raw)} set-ups are more than {MOST_SETUPS}, the most of one file"
        top.wrong("set_up", text, "keep those in use, or write a second shop file")
        return (SetUp(USUAL, usual.clamp, usual.leaf),)
    setups: list[SetUp] = []
    first_of: dict[str, int] = {}
    for place, item in enumerate(raw):
        path = ("set_up", place)
        table = Table(shape(shapes.SetUpShape, item, top.notes, path, shapes.WORDS), path, top.unit, top.notes)
        name = str(table.values.get("name") or "").strip()
        if table.values.get("name") is not None and not (name and name.isprintable()):
            table.wrong("name", f"{shown(name)} is not printable on one line", "use plain words", "FG005")
        elif name and (first := first_of.setdefault(name.casefold(), place)) != place:
            table.wrong("name", f"{shown(name)} is the name of set_up[{first}] too", "give each a name of its own")
        setups.append(_set_up(table, name, usual))
    return tuple(setups)


def _set_up(table: Table, name: str, usual: Usual) -> SetUp:
    beams = {"leaf": usual.leaf.beam, "clamp_bar": usual.clamp.beam}
    beams = read_beams(table.values.get("beams"), table, beams, usual.stress, usual.ill)
    clamp = replace(usual.clamp, beam=beams["clamp_bar"])
    if table.given("nose_radius"):
        clamp = replace(clamp, nose_radius=table.size("nose_radius", 0.0, LARGEST_NOSE))
    if table.given("nose_angle"):
        clamp = replace(clamp, nose_angle=_nose_angle(table))
    if table.given("nose_radius") or table.given("nose_angle"):
        _check_nose(table, clamp)
    leaf = replace(usual.leaf, beam=beams["leaf"])
    for key, (field, read) in _OF_THE_LEAF.items():
        if table.given(key):
            leaf = replace(leaf, **{field: read(table, key)})
    offset = table.size("offset", -LARGEST_OFFSET, LARGEST_OFFSET) if table.given("offset") else 0.0
    return SetUp(name, clamp, leaf, _setting(table), offset, _fingers(table, usual.length))


_OF_THE_LEAF: dict[str, tuple[str, Callable[[Table, str], Any]]] = {
    "leaf_face": ("face", _face),
    "leaf_drop": ("drop", _drop),
    "leaf_depth": ("depth", _leaf_depth),
    "leaf_weight": ("mass", _mass),
    "leaf_weight_arm": ("mass_arm", _arm),
    "leaf_outline": ("shape", _outline),
}


def _setting(table: Table) -> float | None:
    if not table.given("setting"):
        return None
    size = table.size("setting", -LARGEST, LARGEST_SETTING)
    if size < 0:
        text = f"a setting of {size:g} mm puts the nose {-size:g} mm in front of the bed's edge, where nothing bears it"
        table.wrong("setting", text, "measure from the bed's edge back to the front of the nose, or leave it open")
    return size


def _fingers(table: Table, length: float) -> tuple[float, ...]:
    raw = table.values.get("fingers")
    if raw is None:
        return ()
    if not 1 <= len(raw) <= MOST_FINGERS:
        table.wrong("fingers", f"{len(raw)} fingers are not from 1 to {MOST_FINGERS}", "leave it out for a whole bar")
        return ()
    widths = tuple(table.size_at(("fingers", n), width, 0.0, LARGEST, above=True) for n, width in enumerate(raw))
    total = math.fsum(widths)
    if total > length + EDGE:
        text = f"{len(widths)} fingers are {total:g} mm wide together, more than the brake's length of {length:g} mm"
        table.wrong("fingers", text, "leave out those that are not in the bar, or measure them again")
    return widths
