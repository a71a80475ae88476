"""A bend schedule for other programs: every number, lengths in mm, angles in deg, forces in N, stresses in MPa."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import PurePath
from typing import Any

from flatgen.core.errors import Fault, Finding
from flatgen.core.flat_pattern import Arc, Bend, FlatPattern, Loop, Panel, Point, leg_panels
from flatgen.core.learned import ExpectedPart
from flatgen.core.schedule import Range, Schedule, Side, SightLine, Stage
from flatgen.core.version import __version__
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec, Part, near_direction
from flatgen.openings.findings import OpeningRow
from flatgen.openings.judge import JudgedOpenings
from flatgen.unfolding.received.part import ReceivedPart

SCHEDULE_UNITS = {"force": "N", "torque": "N mm", "moment": "N mm/mm", "line_load": "N/mm", "stress": "MPa"}

ESTIMATES = ["springback", "leaf_angle", "radius_formed", "load"]
"""What nobody has measured yet."""


def schedule_record(part: Part, schedule: Schedule | None) -> dict[str, Any] | None:
    """A schedule with the shop that it was made for, or None.

    ``sight`` is the line for the held side, ``other`` that for the other side, were it held; ``needed`` and ``least``
    are the nose settings that one bend asks for and under which its sheet is crushed. ``expected`` and ``strips``
    (which it was made with) are there only where strips told.
    """
    if schedule is None:
        return None
    setup = schedule.setup
    return {
        "units": SCHEDULE_UNITS,
        "shop": {
            "file": PurePath(schedule.shop.path).name,
            "title": schedule.shop.title,
            "fingerprint": schedule.shop.fingerprint,
            **({"strips": schedule.shop.learned} if schedule.shop.learned else {}),
        },
        "set_up": setup.name,
        "nose_radius": setup.clamp.nose_radius,
        "offset": setup.offset,
        "setting": schedule.setting,
        "setting_from": schedule.setting_from,
        "order_from": schedule.order_from,
        "order_checked": schedule.state in ("best", "checked"),
        "order": {
            "state": schedule.state,
            "from": schedule.order_from,
            "unchecked": schedule.unchecked or None,
            "set_ups": list(schedule.setups),
            "changes": list(schedule.changes),
        },
        "estimates": ESTIMATES,
        "stages": [_stage(part, s) for s in schedule.stages],
        **({"expected": forecast_record(schedule.expected)} if schedule.expected is not None else {}),
    }


def forecast_record(forecast: ExpectedPart) -> dict[str, Any]:
    """How a part will come out by what strips told, lengths in mm, angles in deg, chances and gains from 0 to 1."""
    record = asdict(forecast)
    record["teach"] = [{"bend": label, "gain": gain} for label, gain in forecast.teach]
    return record


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


def _sight(part: Part, stage: Stage, sight: SightLine) -> dict[str, Any]:
    side: Side = stage.crease.side(sight.held)
    return {
        "held": {"number": side.leg + 1, "name": part.leg_name(side.leg)},
        "face": sight.face,
        "from_held_edge": sight.from_held_edge,
        "from_datum": sight.from_datum,
    }


def _range(span: Range | None) -> list[float] | None:
    return None if span is None else [span.low, span.high]


UNITS = {"length": "mm", "area": "mm2", "angle": "deg", "mass": "kg"}


def definition_record(
    profile: Profile,
    flat: FlatPattern,
    openings: JudgedOpenings,
    findings: tuple[Finding, ...],
    files: tuple[str, ...],
    schedule: Schedule | None = None,
) -> dict[str, Any]:
    """The answer of a part that was drawn; ``schedule`` is null where no brake is known.

    ``bends[].centre`` and ``tangents`` are points of the flat; ``deduction`` is for legs dimensioned as
    ``deduction_dimensions`` says. ``blank.mass`` is null where the metal's density is not known. Of openings,
    ``to_tangent``, ``to_edge`` and ``to_opening`` are the metal left, null where there is nothing to measure to.
    """
    legs = [_leg(profile, flat, n, panel) for n, panel in enumerate(leg_panels(flat))]
    bends = [
        _spec(profile, s) | _number(profile, s, schedule) | _place(b)
        for s, b in zip(profile.bends, flat.bends, strict=True)
    ]
    return {
        **_head(profile),
        **_body(profile, flat, legs, bends, openings, findings),
        "order_checked": schedule is not None and schedule.checked,
        "schedule": schedule_record(profile, schedule),
        "files": list(files),
    }


def received_record(
    part: ReceivedPart,
    flat: FlatPattern,
    openings: JudgedOpenings,
    findings: tuple[Finding, ...],
    files: tuple[str, ...],
    schedule: Schedule | None = None,
) -> dict[str, Any]:
    """The answer of a received part that was drawn: the keys of :func:`drawn` where they mean the same.

    ``legs`` are the panels of the flat; a bend says which two it joins (counted from 1) and has a line for each
    piece of it that slots leave (``segments``). ``forms`` are outlines that are marked and not cut. ``source``
    says which solid of which file this is, how often the file places it, and what was asked; ``near_face`` the leg
    whose near face looks along ``direction`` in the coordinates of the file.
    """
    bends = [
        _spec(part, s) | _number(part, s, schedule) | _place(b) | _joins(b)
        for s, b in zip(part.bends, flat.bends, strict=True)
    ]
    source = part.source
    return {
        **_head(part),
        "k": part.k,
        "source": {
            "file": source.file,
            "sha256": source.sha256,
            "solid": source.solid,
            "solids": source.solids,
            "product": source.product,
            "count": source.count,
            "request": dict(source.request),
        },
        "near_face": {"leg": flat.root + 1, "direction": list(near_direction(flat))},
        **_body(part, flat, [_panel(p) for p in flat.panels], bends, openings, findings),
        "forms": [_loop(form) for form in flat.forms],
        "order_checked": schedule is not None and schedule.checked,
        "schedule": schedule_record(part, schedule),
        "files": list(files),
    }


def check_record(
    profile: Profile,
    width: float,
    openings: JudgedOpenings,
    findings: tuple[Finding, ...],
    expected: ExpectedPart | None = None,
) -> dict[str, Any]:
    """The answer of a part that was only checked: what the closed form knows, and ``expected`` where strips told.

    ``blank.area`` and ``blank.mass`` are null, and openings are left out, where only the solid can tell.
    """
    area = net_area(profile, width, openings)
    weight = None if area is None else mass(profile, area)
    return {
        **_head(profile),
        "blank": {"width": width, "length": profile.length, "area": area, "mass": weight},
        "bends": [_spec(profile, s) for s in profile.bends],
        "order_checked": False,
        "openings": _openings(profile, openings),
        **({"expected": forecast_record(expected)} if expected is not None else {}),
        "findings": [finding_record(f) for f in findings],
        "files": [],
    }


def plan_record(profile: Profile, schedule: Schedule, findings: tuple[Finding, ...]) -> dict[str, Any]:
    """The answer of a part whose bends were planned on a brake, without its solid."""
    return {
        **_head(profile),
        "bends": [_spec(profile, s) | _number(profile, s, schedule) for s in profile.bends],
        "order_checked": schedule.checked,
        "schedule": schedule_record(profile, schedule),
        "findings": [finding_record(f) for f in findings],
        "files": [],
    }


def refusal_record(name: str, faults: tuple[Fault, ...], status: int) -> dict[str, Any]:
    """The answer where nothing was drawn."""
    rows = [{"code": f.code, "where": f.where, "text": f.text, "remedy": f.remedy} for f in faults]
    return {"flatgen": __version__, "name": name, "exit_status": status, "refused": rows, "files": []}


def net_area(profile: Profile, width: float, openings: JudgedOpenings) -> float | None:
    """Area of a blank of a developed ``width`` [mm] less its openings [mm2]; None where only the solid can tell."""
    out = openings.area
    return None if out is None else width * profile.length - out


def mass(part: Part, area: float) -> float | None:
    """Mass of a blank of an area [mm2], [kg]; None where the density is not known."""
    density = part.metal.density if part.metal else None
    return None if density is None else area * part.thickness * density * 1e-9


def finding_record(item: Finding) -> dict[str, str]:
    """A finding as other programs read it."""
    return {"code": item.code, "severity": item.severity, "where": item.where, "text": item.text, "remedy": item.remedy}


def _head(part: Part) -> dict[str, Any]:
    return {
        "flatgen": __version__,
        "units": UNITS,
        "name": part.name,
        "title": part.title,
        "metal": part.metal.name if part.metal else None,
        "thickness": part.thickness,
        "thickness_note": part.thickness_note,
        "dimensions": part.dimensions,
        "fingerprint": part.fingerprint,
    }


def _body(
    part: Part,
    flat: FlatPattern,
    legs: list[dict[str, Any]],
    bends: list[dict[str, Any]],
    openings: JudgedOpenings,
    findings: tuple[Finding, ...],
) -> dict[str, Any]:
    return {
        "blank": {"width": flat.width, "length": flat.length, "area": flat.area, "mass": mass(part, flat.area)},
        "legs": legs,
        "bends": bends,
        "order_checked": False,
        "outline": _loop(flat.outline),
        "openings": _openings(part, openings),
        "findings": [finding_record(f) for f in findings],
    }


def _number(part: Part, spec: BendSpec, schedule: Schedule | None) -> dict[str, int | None]:
    """Place of a bend in the order: as planned where that was checked, else the user's own."""
    if schedule is None or not schedule.checked:
        return {"order": part.order_of(spec.label)}
    return {"order": next((s.number for s in schedule.stages if s.crease.label == spec.label), None)}


def _spec(part: Part, spec: BendSpec) -> dict[str, Any]:
    return {
        "label": spec.label,
        "order": part.order_of(spec.label),
        "angle": spec.angle,
        "way": spec.way,
        "inside_radius": spec.inside_radius,
        "k": spec.allowance.k,
        "allowance": spec.allowance.length,
        "deduction": spec.deduction,
        "deduction_dimensions": spec.deduction_dimensions,
        "method": spec.allowance.method,
        "source": spec.allowance.source,
    }


def _place(bend: Bend) -> dict[str, Any]:
    """Lines from left to right and from below to above, whichever way the development walked."""
    lines = sorted((_ordered(line) for line in bend.tangents), key=_corner)
    return {"centre": _ordered(bend.centre), "tangents": lines}


def _joins(bend: Bend) -> dict[str, Any]:
    return {"legs": [bend.first + 1, bend.second + 1], "segments": [_ordered(s.centre) for s in bend.segments]}


def _panel(panel: Panel) -> dict[str, Any]:
    return {"name": None, "regions": [_loop(r.outline) for r in panel.regions]}


def _ordered(line: tuple[Point, Point]) -> list[list[float]]:
    return [list(p) for p in sorted(line, key=lambda p: (round(p[0], 6), p[1]))]


def _corner(line: list[list[float]]) -> tuple[float, float]:
    (x, y), _ = line
    return (round(x, 6), y)


def _openings(part: Part, openings: JudgedOpenings) -> list[dict[str, Any]]:
    return [_opening(part, r, loop) for r, loop in zip(openings.rows, openings.loops, strict=True)]


def _opening(part: Part, row: OpeningRow, loop: Loop) -> dict[str, Any]:
    """Legs by number from 1; ``entry`` and ``number`` count [[opening]] and places in its row from 1."""
    m, known = row.measured, row.known
    size = {"diameter": row.size[0]} if row.shape == "round" else {"size": list(row.size)}
    return {
        "shape": row.shape,
        "centre": list(m.centre),
        **size,
        "legs": [{"number": n + 1, "name": part.leg_name(n)} for n in m.legs],
        "bends": list(m.bends),
        "to_tangent": m.to_tangent,
        "tangent_of": m.tangent_of,
        "to_edge": m.to_edge,
        "to_opening": m.to_opening,
        "name": known.name if known else None,
        "entry": known.entry + 1 if known else None,
        "number": known.number + 1 if known else None,
        "pieces": _loop(loop),
    }


def _leg(profile: Profile, flat: FlatPattern, index: int, panel: int) -> dict[str, Any]:
    """A leg with the flat between its tangent lines; panels are found by the bends, which keep their order."""
    leg = profile.legs[index]
    low = max((line[0][0] for b in flat.bends[max(index - 1, 0) : index] for line in b.tangents), default=0.0)
    high = min((line[0][0] for b in flat.bends[index : index + 1] for line in b.tangents), default=flat.width)
    outlines = [r.outline for r in flat.panels[panel].regions]
    return {
        "name": leg.name,
        "length": leg.length,
        "dimensions": leg.dimensions,
        "flat": high - low,
        "left": _side(outlines, low),
        "right": _side(outlines, high),
        "regions": [_loop(outline) for outline in outlines],
    }


def _side(outlines: list[Loop], x: float) -> list[float] | None:
    """Lowest and highest y of outlines at a line across them."""
    ys = [y for o in outlines for p in o for px, y in (p.start, p.end) if abs(px - x) < 1e-6]
    return [min(ys), max(ys)] if ys else None


def _loop(loop: Loop) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for piece in loop:
        if isinstance(piece, Arc):
            row = {"centre": list(piece.centre), "radius": piece.radius, "first": piece.first, "sweep": piece.sweep}
        else:
            row = {"start": list(piece.start), "end": list(piece.end)}
        rows.append(row)
    return rows
