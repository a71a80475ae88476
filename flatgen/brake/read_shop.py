"""A shop file: found, read and resolved to numbers. All faults are collected and raised at once."""

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
    Defaults,
    read_beams,
    read_clamp_bar,
    read_leaf,
    read_set_ups,
)
from flatgen.brake.shop_shapes import Table
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import Point
from flatgen.core.shop import Brake, Lever, SetUp, Shop, Stand, Weights
from flatgen.definition.toml.document import FaultNotes, read_toml
from flatgen.definition.toml.shape import fit_shape, quoted_value

SHOP_FILE = "shop.toml"
"""Name of a shop file that is found by itself."""
STRIP_LOG = "strips.jsonl"
"""Name of the log of test strips beside a shop file that names none."""
FAR_HINGE = 50.0
"""A hinge axis this far from the bed's edge folds nothing [mm]."""
LARGEST_FORCE = 1e7
LARGEST_STRESS = 5000.0
LARGEST_TOLERANCE = 45.0
LARGEST_WEIGHT = 10_000.0


def find_shop(beside: Path) -> Path | None:
    """The shop file in a folder (or a file's) or in the nearest one above it; None where there is none to be seen."""
    try:
        start = beside.absolute()
    except (OSError, ValueError):
        return None
    for folder in (start, *start.parents):
        try:
            if (folder / SHOP_FILE).is_file():
                return folder / SHOP_FILE
        except (OSError, ValueError):
            continue  # a folder that may not be looked into
    return None


def find_setup(shop: Shop, name: str) -> SetUp:
    """A set-up by its name, small or capital letters alike; the first for an empty name.

    :raises InputRefused: If there is none of that name (FG033), with the names that there are
    """
    wanted = name.strip().casefold()
    if not wanted:
        return shop.setups[0]
    known = {setup.name.casefold(): setup for setup in shop.setups}
    if wanted in known:
        return known[wanted]
    near = difflib.get_close_matches(wanted, list(known), n=1, cutoff=0.5)
    names = ", ".join(quoted_value(setup.name) for setup in shop.setups)
    remedy = (f"did you mean {quoted_value(known[near[0]].name)}? " if near else "") + f"known are {names}"
    raise InputRefused(Fault("FG033", shop.path, f"no set-up is called {quoted_value(name)}", remedy))


def read_shop(path: str | Path) -> Shop:
    """Read a shop file.

    :raises InputRefused: If it cannot be used; carries every fault.
    """
    path = Path(path)
    notes = FaultNotes("".join(c if c.isprintable() else "?" for c in str(path)))
    data = read_toml(path, notes)
    values = fit_shape(shapes.ShopShape, data, notes, (), shapes.WORDS)
    top = Table(values, (), values.get("units"), notes)
    brake = _brake(top)
    limits = _limits(top)
    stress = {side: limits[f"{side}_stress"] for side in SIDES}
    beams = read_beams(values.get("beams"), top, {}, stress)
    clamp, leaf = read_clamp_bar(top, beams["clamp_bar"]), read_leaf(top, beams["leaf"])
    ill = tuple(side for side in SIDES if side in (values.get("beams") or {}) and beams[side] is None)
    setups = read_set_ups(top, Defaults(brake.length, clamp, leaf, stress, ill))
    _check_limits(top, limits, setups)
    clearance = top.size("safe_clearance", 0.0, 100.0) if top.has("safe_clearance") else 2.0
    tolerance = top.angle("angle_tolerance", 0.0, LARGEST_TOLERANCE) if top.has("angle_tolerance") else 1.0
    weights = _weights(top)
    strips = path.parent / (values["strips"].strip() or STRIP_LOG)
    if notes.faults:
        raise notes.refuse()
    brake = replace(brake, hinge_limit=limits["hinge"], clamp_limit=limits["clamp"])
    title = values["title"].strip()
    shop = Shop(str(path), title, brake, setups, clearance, tolerance, weights=weights, strips=str(strips))
    return replace(shop, fingerprint=_fingerprint(shop))


def _weights(top: Table) -> Weights:
    """``[order]``: plain numbers, the usual ones where it says nothing."""
    if not top.has("order"):
        return Weights()
    table = top.subtable("order", shapes.OrderShape)
    weights = {}
    for key in shapes.OrderShape.model_fields:
        value = table.values.get(key)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= LARGEST_WEIGHT:
            text = f"{quoted_value(value)} is no number from 0 to {LARGEST_WEIGHT:g}"
            table.add_fault(key, text, "write a plain number: 0 counts nothing, twice as much counts twice", "FG005")
        else:
            weights[key] = float(value)
    return Weights(**weights)


def _fingerprint(shop: Shop) -> str:
    """First digits of SHA-256 over all numbers, and the names of the set-ups; not over titles and comments."""
    numbers = (replace(shop.brake, name=""), shop.setups, shop.safe_clearance, shop.angle_tolerance, shop.weights)
    return hashlib.sha256(repr(numbers).encode()).hexdigest()[:16]


def _brake(top: Table) -> Brake:
    table = top.subtable("brake", shapes.BrakeShape)
    ends = table.values.get("open_ends")
    throat = None if table.values.get("throat") == "open" else table.size("throat", 0.0, LARGEST, above=True)
    hold, swing = (
        table.size(key, 0.0, 1000.0, above=True) if table.has(key) else None for key in ("least_hold", "least_swing")
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
    table = brake.subtable("hinge", shapes.HingeShape)
    axis = []
    for key, way in (("forward", "before the bed's front edge"), ("up", "above the bed's top")):
        size = table.size(key, -LARGEST, LARGEST)
        if abs(size) > FAR_HINGE:
            text = f"{size:g} mm {way} is more than {FAR_HINGE:g} mm either way: no sheet is bent about such a hinge"
            table.add_fault(key, text, "measure from the front edge of the bed's top to the middle of the hinge pin")
        axis.append(size)
    return axis[0], axis[1]


def _lever(top: Table) -> Lever:
    table = top.subtable("lever", shapes.LeverShape)
    length = table.size("length", 0.0, LARGEST, above=True)
    return Lever(length, table.values.get("handles", "middle"), table.amount("effort", "force", LARGEST_FORCE))


def _stand(top: Table) -> Stand | None:
    if not top.has("stand"):
        return None
    table = top.subtable("stand", shapes.StandShape)
    behind = table.size("weight_behind", -LARGEST, LARGEST)
    if behind <= 0:
        text = f"a brake that balances {-behind:g} mm before its front feet falls over by itself"
        table.add_fault("weight_behind", text, "measure from the front feet back to where it balances")
    return Stand(
        mass=table.amount("weight", "mass", LARGEST_MASS),
        feet_before=table.size("feet_before", -LARGEST, LARGEST),
        mass_behind=behind,
        hinge_height=table.size("hinge_height", 0.0, LARGEST, above=True),
        feet_behind=table.size("feet_behind", -LARGEST, LARGEST) if table.has("feet_behind") else None,
    )


def _limits(top: Table) -> dict[str, float | None]:
    """The user's limits: forces [N] and stresses [MPa], None where not known."""
    table = top.subtable("limits", shapes.LimitsShape)
    limits: dict[str, float | None] = {}
    for key in ("hinge", "clamp"):
        limits[key] = table.amount(key, "force", LARGEST_FORCE) if table.has(key) else None
    for side in SIDES:
        key = f"{side}_stress"
        limits[key] = table.amount(key, "stress", LARGEST_STRESS) if table.has(key) else None
    return limits


def _check_limits(top: Table, limits: Mapping[str, float | None], setups: tuple[SetUp, ...]) -> None:
    """A stress limit for a beam that no set-up describes would be checked against nothing."""
    if top.notes.faults:
        return
    for side, beams in (("leaf", [s.leaf.beam for s in setups]), ("clamp_bar", [s.clamp.beam for s in setups])):
        key = f"{side}_stress"
        if limits[key] is not None and not any(beams):
            text = "there is no beam that this limit could be for"
            top.notes.add(("limits", key), "FG004", text, f"describe it in [beams.{side}], or leave the limit out")
