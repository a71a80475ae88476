"""A shop file: found, read, resolved to numbers and judged. All faults are collected and raised at once.

The walk: file, shape of its tables, brake, clamp bar, leaf, lever, beams, stand, then the set-ups, each of which
is the usual machine with what it gives otherwise.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from flatgen.brake import shop_shapes as shapes
from flatgen.brake.read_set_ups import (
    LARGEST,
    LARGEST_MASS,
    SIDES,
    Usual,
    read_beams,
    read_clamp_bar,
    read_leaf,
    read_set_ups,
)
from flatgen.brake.shop_shapes import Table
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.shop import Brake, Lever, Point, SetUp, Shop, Stand, Weights
from flatgen.definition.toml.document import Notes, read_toml
from flatgen.definition.toml.shape import shape, shown

FILE = "shop.toml"
"""Name of a shop file that is found by itself."""
LOG = "strips.jsonl"
"""Name of the log of test strips beside a shop file that names none."""
FAR_HINGE = 50.0
"""A hinge axis this far from the bed's edge folds nothing [mm]."""
LARGEST_FORCE = 1e7
LARGEST_STRESS = 5000.0
LARGEST_TOLERANCE = 45.0
LARGEST_WEIGHT = 10_000.0


def find_shop(beside: Path) -> Path | None:
    """The shop file in a folder or in the nearest one above it.

    :param beside: the folder, or a file in it
    :returns: the file; None where there is none that can be seen
    """
    try:
        start = beside.absolute()
    except (OSError, ValueError):
        return None
    for folder in (start, *start.parents):
        try:
            if (folder / FILE).is_file():
                return folder / FILE
        except (OSError, ValueError):
            continue  # a folder that may not be looked into
    return None


def setup_named(shop: Shop, name: str) -> SetUp:
    """A set-up by its name; the usual one, which is the first, for an empty name.

    :param name: name as in the file, small or capital letters alike
    :raises InputRefused: If there is none of that name (FG033), with the names that there are
    """
    asked = name.strip().casefold()
    if not asked:
        return shop.setups[0]
    known = {setup.name.casefold(): setup for setup in shop.setups}
    if asked in known:
        return known[asked]
    near = difflib.get_close_matches(asked, list(known), n=1, cutoff=0.5)
    names = ", ".join(shown(setup.name) for setup in shop.setups)
    remedy = (f"did you mean {shown(known[near[0]].name)}? " if near else "") + f"known are {names}"
    raise InputRefused(Fault("FG033", shop.path, f"no set-up is called {shown(name)}", remedy))


def read_shop(path: str | Path) -> Shop:
    """Read a shop file.

    :returns: brake and set-ups, sizes in [mm], angles in [deg], forces in [N], masses in [kg], stresses in
    :raises InputRefused: If it cannot be used; carries every fault that was found
    """
    path = Path(path)
    notes = Notes("".join(c if c.isprintable() else "?" for c in str(path)))
    data = read_toml(path, notes)
    values = shape(shapes.ShopShape, data, notes, (), shapes.WORDS)
    top = Table(values, (), values.get("units"), notes)
    brake = _brake(top)
    limits = _limits(top)
    stress = {side: limits[f"{side}_stress"] for side in SIDES}
    beams = read_beams(values.get("beams"), top, {}, stress)
    clamp, leaf = read_clamp_bar(top, beams["clamp_bar"]), read_leaf(top, beams["leaf"])
    ill = tuple(side for side in SIDES if side in (values.get("beams") or {}) and beams[side] is None)
    setups = read_set_ups(top, Usual(brake.length, clamp, leaf, stress, ill))
    _check_limits(top, limits, setups)
    clearance = top.size("safe_clearance", 0.0, 100.0) if top.given("safe_clearance") else 2.0
    tolerance = top.angle("angle_tolerance", 0.0, LARGEST_TOLERANCE) if top.given("angle_tolerance") else 1.0
    weights = _weights(top)
    strips = path.parent / (values["strips"].strip() or LOG)
    if notes.faults:
        raise notes.refuse()
    brake = replace(brake, hinge_limit=limits["hinge"], clamp_limit=limits["clamp"])
    title = values["title"].strip()
    shop = Shop(str(path), title, brake, setups, clearance, tolerance, weights=weights, strips=str(strips))
    return replace(shop, fingerprint=_fingerprint(shop))


def _weights(top: Table) -> Weights:
    """``[order]``: plain numbers, the usual ones where it says nothing."""
    if not top.given("order"):
        return Weights()
    table = top.below("order", shapes.OrderShape)
    given = {}
    for key in shapes.OrderShape.model_fields:
        value = table.values.get(key)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= LARGEST_WEIGHT:
            text = f"{shown(value)} is no number from 0 to {LARGEST_WEIGHT:g}"
            table.wrong(key, text, "write a plain number: 0 counts nothing, twice as much counts twice", "FG005")
        else:
            given[key] = float(value)
    return Weights(**given)


def _fingerprint(shop: Shop) -> str:
    """First digits of SHA-256 over all numbers, and the names of the set-ups; not over titles and comments."""
    numbers = (replace(shop.brake, name=""), shop.setups, shop.safe_clearance, shop.angle_tolerance, shop.weights)
    return hashlib.sha256(repr(numbers).encode()).hexdigest()[:16]


def _brake(top: Table) -> Brake:
    table = top.below("brake", shapes.BrakeShape)
    ends = table.values.get("open_ends")
    throat = None if table.values.get("throat") == "open" else table.size("throat", 0.0, LARGEST, above=True)
    hold, swing = (
        table.size(key, 0.0, 1000.0, above=True) if table.given(key) else None for key in ("least_hold", "least_swing")
    )
    title = str(top.values.get("title") or "")
    return Brake(
        name=(table.values.get("name") or title).strip() or "brake",
        length=table.size("length", 0.0, LARGEST, above=True),
        throat=throat,
        bed_depth=table.size("bed_depth", 0.0, LARGEST, above=True),
        bed_height=table.size("bed_height", 0.0, LARGEST, above=True),
        hinge=_hinge(table),
        open_ends=(ends in ("both", "left"), ends in ("both", "right")),
        lever=_lever(top),
        least_hold=hold,
        least_swing=swing,
        stand=_stand(top),
    )


def _hinge(brake: Table) -> Point:
    """The hinge axis; one far from the bed's edge is a slip of the tape."""
    table = brake.below("hinge", shapes.HingeShape)
    found = []
    for key, way in (("forward", "before the bed's front edge"), ("up", "above the bed's top")):
        size = table.size(key, -LARGEST, LARGEST)
        if abs(size) > FAR_HINGE:
            text = f"{size:g} mm {way} is more than {FAR_HINGE:g} mm either way: no sheet is bent about such a hinge"
            table.wrong(key, text, "measure from the front edge of the bed's top to the middle of the hinge pin")
        found.append(size)
    return found[0], found[1]


def _lever(top: Table) -> Lever:
    table = top.below("lever", shapes.LeverShape)
    length = table.size("length", 0.0, LARGEST, above=True)
    return Lever(length, table.values.get("handles", "middle"), table.amount("effort", "force", LARGEST_FORCE))


def _stand(top: Table) -> Stand | None:
    if not top.given("stand"):
        return None
    table = top.below("stand", shapes.StandShape)
    behind = table.size("weight_behind", -LARGEST, LARGEST)
    if behind <= 0:
        text = f"a brake that balances {-behind:g} mm before its front feet falls over by itself"
        table.wrong("weight_behind", text, "measure from the front feet back to where it balances")
    return Stand(
        mass=table.amount("weight", "mass", LARGEST_MASS),
        feet_before=table.size("feet_before", -LARGEST, LARGEST),
        mass_behind=behind,
        hinge_height=table.size("hinge_height", 0.0, LARGEST, above=True),
        feet_behind=table.size("feet_behind", -LARGEST, LARGEST) if table.given("feet_behind") else None,
    )


def _limits(top: Table) -> dict[str, float | None]:
    """The user's limits: forces [N] and stresses [MPa], None where not known."""
    table = top.below("limits", shapes.LimitsShape)
    found: dict[str, float | None] = {}
    for key in ("hinge", "clamp"):
        found[key] = table.amount(key, "force", LARGEST_FORCE) if table.given(key) else None
    for side in SIDES:
        key = f"{side}_stress"
        found[key] = table.amount(key, "stress", LARGEST_STRESS) if table.given(key) else None
    return found


def _check_limits(top: Table, limits: Mapping[str, float | None], setups: tuple[SetUp, ...]) -> None:
    """A stress limit for a beam that no set-up describes would be checked against nothing."""
    if top.notes.faults:
        return
    for side, beams in (("leaf", [s.leaf.beam for s in setups]), ("clamp_bar", [s.clamp.beam for s in setups])):
        key = f"{side}_stress"
        if limits[key] is not None and not any(beams):
            text = "there is no beam that this limit could be for"
            top.notes.add(("limits", key), "FG004", text, f"describe it in [beams.{side}], or leave the limit out")
