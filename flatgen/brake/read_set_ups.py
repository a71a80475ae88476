"""Clamp bar, leaf, their beams, and the set-ups of a shop file.

A section is seen from the end of the brake with the leaf at rest: x toward the worker (``front``; ``rear`` is the
side of the bed), y up. A set-up is the usual machine with what it gives otherwise; its beams take from the usual ones
section, span, metal and ends, each as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flatgen.brake import shop_shapes as shapes
from flatgen.brake.beams import Heel, Opens, angle_section, bar_section, channel_section, tube_section
from flatgen.brake.shop_shapes import WORDS, BeamShape, BeamsShape, Table
from flatgen.core.flat_pattern import Point
from flatgen.core.shop import Beam, ClampBar, Leaf, Section, SetUp
from flatgen.definition.toml.shape import fit_shape, quoted_value

METALS = {"steel": (210_000.0, 81_000.0), "aluminium": (70_000.0, 27_000.0)}
"""E and G [MPa]: EN 1993-1-1 3.2.6 and EN 1999-1-1 3.2.5 (memory)."""
SIDES = ("leaf", "clamp_bar")
MOST_SIZE = 1000.0
"""Of a section [mm]."""
MOST_SPAN = 20_000.0
MOST_MOMENT = 1e9
"""Of a section [mm4], a third of what a bar of 1000 x 300 mm has."""
_SIZES_OF: dict[str, tuple[str, ...]] = {
    "bar": ("width", "height"),
    "angle": ("width", "height", "thickness", "corner"),
    "channel": ("width", "height", "thickness", "web"),
    "tube": ("width", "height", "thickness"),
}
_SIZES = ("width", "height", "thickness", "corner", "web")
_MOMENTS = ("second_moment_x", "second_moment_y", "torsion_constant", "farthest_x", "farthest_y")
_ALL_MOMENTS = (*_MOMENTS, "product_moment")
_EXAMPLES = {
    "width": 'as width = "50 mm", from rear to front',
    "height": 'as height = "50 mm", from top to bottom',
    "thickness": 'as thickness = "6 mm"',
    "corner": 'as corner = "top rear": where its two legs meet',
    "web": 'as web = "rear": the side on which it is closed',
    "second_moment_x": 'as second_moment_x = "25 cm4", about the axis from rear to front: against loads up and down',
    "second_moment_y": 'as second_moment_y = "40 cm4", about the upright axis: against loads to rear and front',
    "torsion_constant": 'as torsion_constant = "5000 mm4"',
    "farthest_x": 'as farthest_x = "30 mm", from the centroid to the farthest fibre to rear or front',
    "farthest_y": 'as farthest_y = "30 mm", from the centroid to the farthest fibre up or down',
}
Beams = Mapping[str, "Beam | None"]
_HEELS: dict[str, Heel] = {
    "top rear": "high back",
    "top front": "high front",
    "bottom rear": "low back",
    "bottom front": "low front",
}
_OPENS: dict[str, Opens] = {"rear": "front", "front": "back", "top": "down", "bottom": "up"}
_OUTLINE_REMEDY = (
    'write pairs as ["30 mm", "-12 mm"]: along the face from the hinge axis, then behind the face with a minus'
)
USUAL_NAME = "usual"
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
LARGEST_NOSE_ANGLE = 179.0
LARGEST_SWING = 180.0
LARGEST_MASS = 1e5
EDGE = 1e-9
"""Sums may pass a bound by this, which is rounding [mm]."""


def read_beams(
    raw: dict[str, Any] | None, above: Table, usual: Beams, stress: Mapping[str, float | None], ill: Sequence[str] = ()
) -> dict[str, Beam | None]:
    """The beams below ``[beams]`` or ``[set_up.beams]``.

    :param usual: what a beam is where it is not given: empty for the brake itself, else its beams
    :param stress: the user's limits [MPa]
    :param ill: beams whose usual one has faults: left out here
    :returns: ``leaf`` and ``clamp_bar``, None where not known or where a fault was noted
    """
    beams = {side: usual.get(side) for side in SIDES}
    if raw is None:
        return beams
    values = fit_shape(BeamsShape, raw, above.notes, above.at("beams"), WORDS)
    for side in SIDES:
        if values.get(side) is None or side in ill:
            continue
        path = above.at("beams", side)
        table = Table(fit_shape(BeamShape, values[side], above.notes, path, WORDS), path, above.unit, above.notes)
        beams[side] = _beam(table, usual.get(side), stress.get(side))
    return beams


def _beam(table: Table, usual: Beam | None, stress: float | None) -> Beam | None:
    """One beam, None where a fault was noted."""
    before = len(table.notes.faults)
    section = usual.section if usual else None
    if any(table.has(k) for k in ("section", *_SIZES, *_ALL_MOMENTS)) or section is None:
        section = _section(table)
    span = usual.span if usual else math.nan
    if table.has("span"):
        span = table.size("span", 0.0, MOST_SPAN, above=True)
    elif usual is None:
        _missing(table, "span", 'measure between its supports and add span = "1050 mm"')
    metal, modulus, shear = (usual.metal, usual.modulus, usual.shear) if usual else ("", math.nan, math.nan)
    if any(table.has(k) for k in ("metal", "modulus", "shear_modulus")) or usual is None:
        metal, modulus, shear = _elastic(table)
    ends, sideways = table.values.get("ends"), table.values.get("held_sideways")
    built_in = (ends == "built in") if ends else bool(usual and usual.built_in)
    held = bool(sideways) if sideways is not None else bool(usual and usual.sideways_held)
    if len(table.notes.faults) > before or "ill" in table.values or section is None:
        return None
    return Beam(section, span, modulus, shear, metal, built_in, held, stress)


def _missing(table: Table, key: str, remedy: str) -> None:
    if not table.has(key):
        table.add_fault(key, "this key is missing", remedy, "FG004")


def _elastic(table: Table) -> tuple[str, float, float]:
    """Metal in words, E and G [MPa]."""
    metal = table.values.get("metal")
    own = [key for key in ("modulus", "shear_modulus") if table.has(key)]
    if metal and own:
        table.add_fault(own[0], f'metal = "{metal}" has a modulus already', "keep one of the two", "FG003")
    elif metal:
        return (metal, *METALS[metal])
    elif not own and not table.has("metal"):
        _missing(table, "metal", 'write metal = "steel" or "aluminium", or give modulus and shear_modulus')
    elif own:
        _missing(table, "modulus", 'add E, as modulus = "210 GPa"')
        _missing(table, "shear_modulus", 'add G, as shear_modulus = "81 GPa"')
    modulus, shear = (table.amount(key, "stress", 1e6) for key in ("modulus", "shear_modulus"))
    if not metal and shear > modulus / 2:
        text = f"G of {shear:g} MPa is more than half of E, {modulus:g} MPa, the most that a metal has"
        table.add_fault("shear_modulus", text, "for steel it is about 81 GPa, for aluminium 27 GPa")
    return "metal of the file", modulus, shear


def _section(table: Table) -> Section | None:
    kind = table.values.get("section")
    moments = [key for key in _ALL_MOMENTS if table.has(key)]
    sizes = [key for key in _SIZES if table.has(key)]
    if "section" in table.values.get("ill", ()):
        return None
    if kind and moments:
        text = f'section = "{kind}" has this already'
        table.add_fault(moments[0], text, "keep the section with its sizes, or the moments", "FG003")
        return None
    if kind:
        return _section_from_sizes(table, kind)
    if not moments:
        remedy = 'write section = "bar", "angle", "channel" or "tube" and its sizes, or give both second moments'
        _missing(table, "section", remedy)
        return None
    for key in sizes:
        table.add_fault(key, "a size goes with a section", 'write section = "bar", or leave it out', "FG003")
    return _section_from_moments(table)


def _section_from_moments(table: Table) -> Section | None:
    before = len(table.notes.faults)
    for key in _MOMENTS:
        _missing(table, key, f"add it, {_EXAMPLES[key]}")
    ix, iy, j = (
        table.amount(k, "second moment", MOST_MOMENT)
        for k in ("second_moment_x", "second_moment_y", "torsion_constant")
    )
    ixy = 0.0
    if table.has("product_moment"):
        ixy = table.amount("product_moment", "second moment", MOST_MOMENT, least=-MOST_MOMENT, above=False)
    far_x, far_y = (table.size(key, 0.0, MOST_SIZE, above=True) for key in ("farthest_x", "farthest_y"))
    if ixy * ixy >= ix * iy:
        text = f"{ixy:g} mm4 squared is not less than {ix:g} mm4 times {iy:g} mm4, as of every section"
        table.add_fault("product_moment", text, "check the three moments, or leave it out for a symmetric section")
    if j > (ix + iy) * (1 + 1e-9):
        text = f"{j:g} mm4 is more than both second moments together, {ix + iy:g} mm4, the most of any section"
        table.add_fault(
            "torsion_constant", text, "for an open section of legs b and thickness t it is the sum of b t3 / 3"
        )
    if len(table.notes.faults) > before:
        return None
    return Section(ix, iy, ixy, j, far_x, far_y, "moments of the file")


def _section_from_sizes(table: Table, kind: str) -> Section | None:
    before = len(table.notes.faults)
    needed = _SIZES_OF[kind]
    for key in _SIZES:
        if key in needed:
            _missing(table, key, f"add it, {_EXAMPLES[key]}")
        elif table.has(key):
            article = "an" if kind == "angle" else "a"
            table.add_fault(
                key, f"{article} {kind} has no {key}", f"leave it out; needed are {', '.join(needed)}", "FG003"
            )
    width, height, wall = (table.size(key, 0.0, MOST_SIZE, above=True) for key in ("width", "height", "thickness"))
    if "thickness" in needed:
        walls_x, walls_y = _walls(kind, table.values.get("web"))
        for key, size, walls in (("width", width, walls_x), ("height", height, walls_y)):
            if walls * wall >= size:
                count = "two walls" if walls == 2 else "a wall"
                text = f"{count} of {wall:g} mm leave nothing of a {key} of {size:g} mm"
                table.add_fault("thickness", text, f"measure it again; a solid one is section = {chr(34)}bar{chr(34)}")
                break
    if len(table.notes.faults) > before or any(key in table.values.get("ill", ()) for key in needed):
        return None
    return _by_formula(kind, width, height, wall, table.values)


def _walls(kind: str, web: str | None) -> tuple[int, int]:
    """Walls across the width and across the height."""
    if kind == "tube":
        return 2, 2
    if kind == "channel":
        return (1, 2) if web in ("rear", "front") else (2, 1)
    return 1, 1


def _by_formula(kind: str, width: float, height: float, wall: float, values: Mapping[str, Any]) -> Section:
    if kind == "bar":
        return bar_section(width, height)
    if kind == "angle":
        return angle_section(width, height, wall, _HEELS[values["corner"]])
    if kind == "tube":
        return tube_section(width, height, wall)
    web = values["web"]
    flange, across = (width, height) if web in ("rear", "front") else (height, width)
    return channel_section(flange, across, wall, _OPENS[web])


def read_clamp_bar(top: Table, beam: Beam | None) -> ClampBar:
    """``[clamp_bar]``, with NaN where a fault was noted."""
    table = top.subtable("clamp_bar", shapes.ClampBarShape)
    depth = table.size("depth", 0.0, LARGEST, above=True)
    pressing = table.size("clamping_depth", 0.0, LARGEST, above=True)
    if pressing > depth + EDGE:
        text = f"the bar presses {pressing:g} mm behind its nose, but is only {depth:g} mm deep"
        table.add_fault("clamping_depth", text, "it is at most the depth of the bar: measure both from the nose back")
    clamp = ClampBar(
        nose_radius=table.size("nose_radius", 0.0, LARGEST_NOSE),
        nose_angle=table.angle("nose_angle", 0.0, LARGEST_NOSE_ANGLE),
        height=table.size("height", 0.0, LARGEST, above=True),
        depth=depth,
        lift=table.size("lift", 0.0, LARGEST),
        clamping_depth=pressing,
        beam=beam,
    )
    _check_nose(table, clamp)
    return clamp


def _check_nose(table: Table, clamp: ClampBar) -> None:
    """The rounding from underside to front must end below the top of the bar."""
    rise = clamp.nose_radius * (1 + math.cos(math.radians(clamp.nose_angle)))
    if rise > clamp.height + EDGE:
        text = (
            f"a nose of radius {clamp.nose_radius:g} mm rises {rise:.1f} mm, past the bar's height, {clamp.height:g} mm"
        )
        table.add_fault("nose_radius", text, "measure radius and height again; a bar wrapped in sheet gains in both")


def read_leaf(top: Table, beam: Beam | None) -> Leaf:
    """``[leaf]``, with NaN where a fault was noted."""
    table = top.subtable("leaf", shapes.LeafShape)
    swing = table.angle("swing", 0.0, LARGEST_SWING)
    values = {field: read(table, key) for key, (field, read) in _LEAF_VALUES.items()}
    return Leaf(swing=swing, beam=beam, **values)


def _outline(table: Table, key: str) -> tuple[Point, ...]:
    """Corners of the leaf in section, none before its face."""
    raw = table.values.get(key)
    if raw is None:
        return ()
    if not 3 <= len(raw) <= MOST_POINTS:
        text = f"{len(raw)} points are not from 3 to {MOST_POINTS}"
        table.add_fault(key, text, "give the corners of the leaf one after the other, or leave it out")
        return ()
    points: list[Point] = []
    for place, pair in enumerate(raw):
        if not isinstance(pair, list) or len(pair) != 2:
            table.notes.add(
                table.at(key, place), "FG005", f"{quoted_value(pair)} is no pair of lengths", _OUTLINE_REMEDY
            )
            continue
        along = table.size_at((key, place), pair[0], -LARGEST_LEAF, LARGEST_LEAF)
        behind = table.size_at((key, place), pair[1], -LARGEST_LEAF, LARGEST_LEAF)
        if behind > EDGE:
            text = f"{behind:g} mm is in front of the leaf's face, where the sheet lies"
            table.notes.add(table.at(key, place), "FG032", text, "behind the face is negative")
        points.append((along, behind))
    return tuple(points)


_LEAF_VALUES: dict[str, tuple[str, Callable[[Table, str], Any]]] = {
    "face": ("face", lambda table, key: table.size(key, 0.0, LARGEST_LEAF, above=True)),
    "drop": ("drop", lambda table, key: table.size(key, -LARGEST_DROP, LARGEST_DROP)),
    "depth": ("depth", lambda table, key: table.size(key, 0.0, LARGEST_LEAF, above=True)),
    "weight": ("mass", lambda table, key: table.amount(key, "mass", LARGEST_MASS)),
    "weight_arm": ("mass_arm", lambda table, key: table.size(key, -LARGEST_LEAF, LARGEST_LEAF)),
    "outline": ("shape", _outline),
}
"""By key of ``[leaf]``, which a set-up has with ``leaf_`` before it: field of the leaf, and how it is read."""


@dataclass(frozen=True)
class Defaults:
    """What a set-up is where it says nothing, and the brake's usable ``length`` [mm]; ``ill``: beams with faults, by
    which those of a set-up cannot be judged.
    """

    length: float
    clamp: ClampBar
    leaf: Leaf
    stress: Mapping[str, float | None]
    ill: tuple[str, ...] = ()


def read_set_ups(top: Table, usual: Defaults) -> tuple[SetUp, ...]:
    """All ``[[set_up]]``, with NaN where a fault was noted; one named "usual" where the file has none."""
    raw = top.values.get("set_up")
    if raw is None:
        return (SetUp(USUAL_NAME, usual.clamp, usual.leaf),)
    if len(raw) > MOST_SETUPS:
        text = f"{len(raw)} set-ups are more than {MOST_SETUPS}, the most of one file"
        top.add_fault("set_up", text, "keep those in use, or write a second shop file")
        return (SetUp(USUAL_NAME, usual.clamp, usual.leaf),)
    setups: list[SetUp] = []
    first_of: dict[str, int] = {}
    for place, item in enumerate(raw):
        path = ("set_up", place)
        table = Table(fit_shape(shapes.SetUpShape, item, top.notes, path, shapes.WORDS), path, top.unit, top.notes)
        name = str(table.values.get("name") or "").strip()
        if table.values.get("name") is not None and not (name and name.isprintable()):
            table.add_fault("name", f"{quoted_value(name)} is not printable on one line", "use plain words", "FG005")
        elif name and (first := first_of.setdefault(name.casefold(), place)) != place:
            table.add_fault(
                "name", f"{quoted_value(name)} is the name of set_up[{first}] too", "give each a name of its own"
            )
        setups.append(_set_up(table, name, usual))
    return tuple(setups)


def _set_up(table: Table, name: str, usual: Defaults) -> SetUp:
    beams = {"leaf": usual.leaf.beam, "clamp_bar": usual.clamp.beam}
    beams = read_beams(table.values.get("beams"), table, beams, usual.stress, usual.ill)
    clamp = replace(usual.clamp, beam=beams["clamp_bar"])
    if table.has("nose_radius"):
        clamp = replace(clamp, nose_radius=table.size("nose_radius", 0.0, LARGEST_NOSE))
    if table.has("nose_angle"):
        clamp = replace(clamp, nose_angle=table.angle("nose_angle", 0.0, LARGEST_NOSE_ANGLE))
    if table.has("nose_radius") or table.has("nose_angle"):
        _check_nose(table, clamp)
    leaf = replace(usual.leaf, beam=beams["leaf"])
    for key, (field, read) in _LEAF_VALUES.items():
        if table.has(f"leaf_{key}"):
            leaf = replace(leaf, **{field: read(table, f"leaf_{key}")})
    offset = table.size("offset", -LARGEST_OFFSET, LARGEST_OFFSET) if table.has("offset") else 0.0
    return SetUp(name, clamp, leaf, _setting(table), offset, _fingers(table, usual.length))


def _setting(table: Table) -> float | None:
    if not table.has("setting"):
        return None
    size = table.size("setting", -LARGEST, LARGEST_SETTING)
    if size < 0:
        text = f"a setting of {size:g} mm puts the nose {-size:g} mm in front of the bed's edge, where nothing bears it"
        table.add_fault("setting", text, "measure from the bed's edge back to the front of the nose, or leave it open")
    return size


def _fingers(table: Table, length: float) -> tuple[float, ...]:
    raw = table.values.get("fingers")
    if raw is None:
        return ()
    if not 1 <= len(raw) <= MOST_FINGERS:
        table.add_fault(
            "fingers", f"{len(raw)} fingers are not from 1 to {MOST_FINGERS}", "leave it out for a whole bar"
        )
        return ()
    widths = tuple(table.size_at(("fingers", n), width, 0.0, LARGEST, above=True) for n, width in enumerate(raw))
    total = math.fsum(widths)
    if total > length + EDGE:
        text = f"{len(widths)} fingers are {total:g} mm wide together, more than the brake's length of {length:g} mm"
        table.add_fault("fingers", text, "leave out those that are not in the bar, or measure them again")
    return widths
