"""A bend schedule for other programs: every number, lengths in mm, angles in deg, forces in N, stresses in MPa."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import PurePath
from typing import Any

from flatgen.core.learned import Expected
from flatgen.core.schedule import Range, Schedule, Side, Sight, Stage
from flatgen.definition.part import Part

UNITS = {"force": "N", "torque": "N mm", "moment": "N mm/mm", "line_load": "N/mm", "stress": "MPa"}
ESTIMATES = ["springback", "leaf_angle", "radius_formed", "load"]
"""What nobody has measured yet."""


def schedule(part: Part, made: Schedule | None) -> dict[str, Any] | None:
    """A schedule with the shop that it was made for, or None.

    ``sight`` is the line for the held side, ``other`` that for the other side, were it held; ``needed`` and ``least``
    are the nose settings that one bend asks for and under which its sheet is crushed. ``expected`` and ``strips``
    (which it was made with) are there only where strips told.
    """
    if made is None:
        return None
    setup = made.setup
    return {
        "units": UNITS,
        "shop": {
            "file": PurePath(made.shop.path).name,
            "title": made.shop.title,
            "fingerprint": made.shop.fingerprint,
            **({"strips": made.shop.learned} if made.shop.learned else {}),
        },
        "set_up": setup.name,
        "nose_radius": setup.clamp.nose_radius,
        "offset": setup.offset,
        "setting": made.setting,
        "setting_from": made.setting_from,
        "order_from": made.order_from,
        "order_checked": made.state in ("best", "checked"),
        "order": {
            "state": made.state,
            "from": made.order_from,
            "unchecked": made.unchecked or None,
            "set_ups": list(made.setups),
            "changes": list(made.changes),
        },
        "estimates": ESTIMATES,
        "stages": [_stage(part, s) for s in made.stages],
        **({"expected": expected(made.expected)} if made.expected is not None else {}),
    }


def expected(found: Expected) -> dict[str, Any]:
    """How a part will come out by what strips told, lengths in mm, angles in deg, chances and gains from 0 to 1."""
    told = asdict(found)
    told["teach"] = [{"bend": label, "gain": gain} for label, gain in found.teach]
    return told


def _stage(part: Part, stage: Stage) -> dict[str, Any]:
    crease = stage.crease
    return {
        "number": stage.number,
        "bend": crease.label,
        "way": crease.way,
        "angle": crease.angle,
        "sight": _sight(part, stage, stage.sight),
        "other": _sight(part, stage, stage.other),
        "datum": crease.datum,
        "springback": _range(stage.springback),
        "leaf_angle": _range(stage.leaf_angle),
        "loaded_angle": stage.loaded_angle,
        "loaded_radius": stage.loaded_radius,
        "radius_formed": _range(stage.radius),
        "needed": stage.needed,
        "least": stage.least,
        "set_up": None if stage.setup is None else stage.setup.name,
        "setting": stage.setting,
        "handling": None if stage.handling is None else asdict(stage.handling),
        "load": None if stage.load is None else asdict(stage.load),
    }


def _sight(part: Part, stage: Stage, sight: Sight) -> dict[str, Any]:
    side: Side = stage.crease.side(sight.held)
    return {
        "held": {"number": side.leg + 1, "name": part.leg_name(side.leg)},
        "face": sight.face,
        "from_held_edge": sight.from_held_edge,
        "from_datum": sight.from_datum,
    }


def _range(found: Range | None) -> list[float] | None:
    return None if found is None else [found.low, found.high]
