"""The bend schedule for other programs: every number with its unit, for ``NAME.json`` and ``--json``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from flatgen.brake.schedule import Range, Schedule, Sight, Stage
from flatgen.part import Part


def schedule_record(part: Part, schedule: Schedule) -> dict[str, Any]:
    """A schedule as plain data.

    Lengths [mm], angles [deg], forces [N], ``moment`` [N mm/mm], ``torque`` [N mm], stresses [MPa]. ``sight`` is the
    line for the side that is held, ``other`` the one for the other side; ``apart`` the distance between the two.
    What is null is not known. ``estimate`` says that no strip was measured.

    Parameters
    ----------
    part : Part
        The part, [-]
    schedule : Schedule
        Its schedule, [-]

    Returns
    -------
    dict[str, Any]
        For JSON, [-]
    """
    setup, shop = schedule.setup, schedule.shop
    return {
        "shop": {"file": shop.path, "title": shop.title, "brake": shop.brake.name, "fingerprint": shop.fingerprint},
        "set_up": {"name": setup.name, "nose_radius": setup.clamp.nose_radius, "offset": setup.offset},
        "nose_setting": schedule.setting,
        "nose_setting_from": schedule.setting_from,
        "order_from": schedule.order_from,
        "estimate": True,
        "stages": [_stage(part, stage) for stage in schedule.stages],
    }


def _stage(part: Part, stage: Stage) -> dict[str, Any]:
    crease = stage.crease
    return {
        "number": stage.number,
        "bend": crease.label,
        "way": crease.way,
        "angle": crease.angle,
        "inside_radius": crease.inside_radius,
        "length": crease.length,
        "datum": crease.datum,
        "sight": _sight(part, stage, stage.sight),
        "other": _sight(part, stage, stage.other),
        "apart": stage.other.from_datum - stage.sight.from_datum,
        "springback": _range(stage.springback),
        "leaf_angle": _range(stage.leaf_angle),
        "bend_angle_under_load": stage.loaded_angle,
        "inside_radius_under_load": stage.loaded_radius,
        "inside_radius_formed": _range(stage.radius),
        "nose_setting_wanted": stage.needed,
        "nose_setting_least": stage.least,
        "bears_at": stage.arm,
        "load": None if stage.load is None else asdict(stage.load),
    }


def _sight(part: Part, stage: Stage, sight: Sight) -> dict[str, Any]:
    leg = stage.crease.side(sight.held).leg
    return {
        "held_leg": {"number": leg + 1, "name": part.leg_name(leg)},
        "face": sight.face,
        "from_datum": sight.from_datum,
        "from_held_edge": sight.from_held_edge,
    }


def _range(found: Range | None) -> dict[str, float] | None:
    return None if found is None else {"low": found.low, "high": found.high}
