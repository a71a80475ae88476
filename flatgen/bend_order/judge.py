"""The findings of a schedule, with numbers and what would help.

Cautions: what this machine cannot do, or does with more than the user's limits. Notes: what was not checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from flatgen.bend_order.costs import EQUAL, WIDE, largest_swing
from flatgen.bend_order.decide import USER_ORDER
from flatgen.brake.creases import Placement, least_hold, least_swing, remaining_face
from flatgen.brake.load import load_findings
from flatgen.brake.springback import Strength
from flatgen.core.errors import Finding
from flatgen.core.schedule import Crease, Schedule, Stage
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part

SPREAD = 0.1
"""Settings that differ by less are one: nobody sets a bar finer [mm]."""
VALID = 4.0
"""The springback formula holds for R/t above this: measured bends of tighter ones open farther than it says."""


def schedule_findings(
    part: Part, schedule: Schedule, placements: Sequence[Placement], strength: Strength | None
) -> tuple[Finding, ...]:
    """All findings of a schedule, FG130 to FG146; placements in the order of the stages."""
    findings: list[Finding] = []
    for stage, placement in zip(schedule.stages, placements, strict=True):
        findings += _room(part, schedule, stage, placement)
        findings += _swing(schedule, stage)
        findings += _radius(part, schedule, stage)
        findings += _place(schedule, stage)
        if placement.reference is not None:
            findings.append(_not_held(part, stage, placement))
        if stage.load is not None:
            top = stage.leaf_angle.high if stage.leaf_angle else stage.crease.angle
            tolerance = schedule.shop.angle_tolerance
            label, where = f"bend {stage.crease.label}", stage.crease.where
            setup = stage.setup or schedule.setup
            findings += load_findings(label, where, stage.load, schedule.shop.brake, setup, tolerance, top)
    findings += _whole(part, schedule, strength)
    return _merged(findings)


def _merged(single: Sequence[Finding]) -> tuple[Finding, ...]:
    """What is found of several bends in the same words, once, with all their labels."""
    groups: dict[tuple[str, str, str, str], list[Finding]] = {}
    for item in single:
        head, _, tail = item.text.partition(": ")
        own = head.startswith("bend ") and tail
        groups.setdefault((item.code, item.severity, tail if own else item.text, item.remedy), []).append(item)
    findings = []
    for (_, _, tail, _), items in groups.items():
        labels = dict.fromkeys(i.text.partition(": ")[0].removeprefix("bend ") for i in items)
        who = f"bends {', '.join(labels)}: {tail}" if len(labels) > 1 else items[0].text
        findings.append(replace(items[0], text=who))
    return tuple(findings)


def _room(part: Part, schedule: Schedule, stage: Stage, placement: Placement) -> Iterator[Finding]:
    brake, setup, t = schedule.shop.brake, stage.setup or schedule.setup, part.thickness
    crease, label = stage.crease, stage.crease.label
    held, swung = crease.side(placement.held), crease.side(placement.swung)
    hold, swing = least_hold(brake, t), least_swing(brake, t)
    help_ = "lengthen the leg, hold the other side, or bend it before its neighbour"
    rule = "2 t, common practice, no source"
    if placement.held_flat < hold - EQUAL:
        source = rule if brake.least_hold is None else "least_hold of the shop file"
        text = (
            f"bend {label}: {part.leg_text(held.leg)} has {placement.held_flat:.2f} mm of flat under the nose, "
            f"less than {hold:.2f} mm, the least to hold ({source})"
        )
        yield Finding("FG130", "caution", crease.where, text, help_)
    if placement.swung_flat < swing - EQUAL:
        source = rule if brake.least_swing is None else "least_swing of the shop file"
        text = (
            f"bend {label}: {part.leg_text(swung.leg)} has {placement.swung_flat:.2f} mm of flat on the leaf, "
            f"less than {swing:.2f} mm, the least to swing ({source})"
        )
        yield Finding("FG130", "caution", crease.where, text, help_)
    left = remaining_face(stage.loaded_angle, stage.loaded_radius, t, setup, brake)
    if left < swing - EQUAL:
        text = (
            f"bend {label}: the leaf's face of {setup.leaf.face:.1f} mm ends {left:.2f} mm beyond the tangent line of "
            f"the swung leg at full swing, less than {swing:.2f} mm"
        )
        yield Finding("FG130", "caution", crease.where, text, "use a set-up with a wider face, or a smaller radius")
    if crease.extent > brake.length + EQUAL:
        text = f"bend {label}: {crease.extent:.1f} mm along the bend do not fit a brake of {brake.length:.1f} mm"
        yield Finding("FG134", "caution", crease.where, text, "shorten or split the part, or use a longer brake")
    deep = held.reach + setup.clamp.nose_radius + setup.offset
    if brake.throat is not None and deep > brake.throat + EQUAL:
        text = (
            f"bend {label}: {deep:.1f} mm of the blank lie behind the nose when {part.leg_text(held.leg)} is held, "
            f"more than the throat of {brake.throat:.1f} mm"
        )
        yield Finding("FG134", "caution", crease.where, text, "hold the other side, or split the part")


def _swing(schedule: Schedule, stage: Stage) -> Iterator[Finding]:
    setup, crease = stage.setup or schedule.setup, stage.crease
    swing = largest_swing(setup)
    rule = "" if swing >= setup.leaf.swing - EQUAL else ", where the clamp bar's sloping front ends it"
    low = stage.loaded_angle
    high = stage.leaf_angle.high if stage.leaf_angle else low
    if low > swing + EQUAL:
        text = f"bend {crease.label}: the leaf must swing to {low:.1f} degrees, its largest is {swing:g}{rule}"
        remedy = (
            "bend it to the largest swing here and close it under the clamp bar or with mallet and block"
            if crease.angle > swing
            else "bend it farther by hand over a block, or choose a smaller inside radius, which springs back less"
        )
        yield Finding("FG133", "caution", crease.where, text, remedy)
    elif high > swing + EQUAL:
        text = (
            f"bend {crease.label}: the leaf swings to {swing:g} degrees; between {low:.1f} and {high:.1f} may be needed"
        )
        yield Finding("FG133", "note", crease.where, text, "bend a strip first and measure what it needs")


def _radius(part: Part, schedule: Schedule, stage: Stage) -> Iterator[Finding]:
    if stage.needed is None or stage.least is None or stage.setting is None or stage.radius is None:
        return
    crease, nose, t = stage.crease, (stage.setup or schedule.setup).clamp.nose_radius, part.thickness
    asked, gives, setting = crease.inside_radius, stage.radius, stage.setting
    shown = in_mm_and_inch(asked, thickness=True)
    if setting < stage.least - EQUAL:
        text = (
            f"bend {crease.label}: a nose setting of {setting:.2f} mm crushes the sheet between nose and leaf; "
            f"{stage.least:.2f} mm is the least for a nose of {nose:g} mm, {t:g} mm sheet and "
            f"{stage.loaded_angle:.1f} degrees"
        )
        yield Finding("FG131", "caution", crease.where, text, f"set the nose back to {stage.least:.2f} mm or more")
    if stage.loaded_radius < nose - EQUAL:
        text = (
            f"bend {crease.label}: an inside radius of {shown} is {stage.loaded_radius:.2f} mm before release, and the "
            f"nose of {nose:g} mm gives no less than {gives.low:.2f} mm finished"
        )
        remedy = (
            f"use a nose of {stage.loaded_radius:.2f} mm or less, or give the bend an inside radius that this nose "
            "forms (--as-formed draws that flat), if the drawing allows it"
        )
        yield Finding("FG132", "caution", crease.where, text, remedy)
    elif asked > gives.high + EQUAL:
        text = (
            f"bend {crease.label}: a nose setting of {setting:.2f} mm forms no more than {gives.high:.2f} mm inside, "
            f"{shown} is asked"
        )
        remedy = f"set the nose back to {stage.needed:.2f} mm, or use a nose of {stage.loaded_radius:.2f} mm"
        yield Finding("FG132", "caution", crease.where, text, remedy)
    elif crease.known is not None and crease.known.radius is not None:
        yield from _by_strips(crease, *crease.known.radius)
    elif gives.high > asked * (1 + WIDE) + 0.1 * t or asked > gives.low * (1 + WIDE) + 0.1 * t:
        text = (
            f"bend {crease.label}: with the nose at {setting:.2f} mm the inside radius comes out between "
            f"{gives.low:.2f} and {gives.high:.2f} mm; the blank is for {shown}"
        )
        yield Finding(
            "FG132", "note", crease.where, text, "bend a strip and measure the radius before the blank is cut"
        )


def _by_strips(crease: Crease, low: float, high: float) -> Iterator[Finding]:
    """The radius that strips came out with, where it is not the one asked for."""
    asked = crease.inside_radius
    if low <= asked <= high:
        return
    text = (
        f"bend {crease.label}: strips came out between {low:.2f} and {high:.2f} mm inside, "
        f"{in_mm_and_inch(asked, thickness=True)} is asked; blank and lines are for the finished sizes all the same"
    )
    yield Finding("FG132", "note", crease.where, text, "the approved drawing decides whether the part may have it")


def _place(schedule: Schedule, stage: Stage) -> Iterator[Finding]:
    """Little room, and ways endwise; contact is told with the order."""
    done, label = stage.handling, stage.crease.label
    if done is None or done.refused:
        return
    safe = schedule.shop.safe_clearance
    if done.close:
        text = (
            f"bend {label}: {done.clearance:.2f} mm between {done.nearest}, less than the safe clearance of {safe:g} mm"
        )
        yield Finding("FG145", "caution", stage.crease.where, text, "try it with a strip of the same section first")
    for how, way in ((done.into, "goes in"), (done.out, "comes out")):
        if how == "endwise":
            text = f"bend {label}: the part {way} endwise along the clamp bar"
            yield Finding("FG146", "note", stage.crease.where, text, "leave an end of the brake free for its length")


def _no_order(schedule: Schedule) -> Finding:
    """That there is no order, or that the one asked for cannot be, with the first stage that cannot."""
    what = "this order of bending cannot be" if schedule.order_from == USER_ORDER else "no order of bending is possible"
    names = ", ".join(schedule.setups)
    where = f"set-up{'s' if len(schedule.setups) > 1 else ''} {names}, each bend in one stroke"
    stuck = next((s for s in schedule.stages if s.handling is not None and s.handling.refused), None)
    why = "" if stuck is None or stuck.handling is None else f"; bend {stuck.crease.label}: {stuck.handling.refused}"
    remedy = "; or ".join(schedule.changes) or "change the part or the brake; flatgen plan --why LABEL tells more"
    return Finding("FG144", "caution", schedule.shop.path, f"{what} ({where}){why}", remedy)


def with_changes(schedule: Schedule, changes: tuple[str, ...]) -> Schedule:
    """A schedule without an order, with what would help in words, the smallest first; its finding FG144 says so too."""
    changed = replace(schedule, changes=changes)
    findings = tuple(_no_order(changed) if f.code == "FG144" else f for f in changed.findings)
    return replace(changed, findings=findings)


def _not_held(part: Part, stage: Stage, placement: Placement) -> Finding:
    leg = part.leg_text(placement.reference if placement.reference is not None else 0)
    text = (
        f"bend {stage.crease.label}: {leg} is swung ({placement.why}), though its dimension matters: "
        "what the allowance misses goes into it"
    )
    return Finding("FG139", "note", stage.crease.where, text, "measure it on a strip before the blank is cut")


def _whole(part: Part, schedule: Schedule, strength: Strength | None) -> Iterator[Finding]:
    """What concerns all stages together."""
    stages, where = schedule.stages, schedule.shop.path
    if not stages:
        return
    if len(stages) > 1 and schedule.state == "unchecked":
        text = f"the order of bending ({schedule.order_from}) was not checked against the brake: {schedule.unchecked}"
        yield Finding("FG140", "note", where, text, "go through it with a folded paper strip before bending")
    if schedule.state == "refused":
        yield _no_order(schedule)
    settings = [max(s.needed, s.least) for s in stages if s.needed is not None and s.least is not None]
    one = len({(s.setup.name if s.setup else "", s.setting) for s in stages}) == 1
    if one and settings and schedule.setting is not None and max(settings) - min(settings) > SPREAD:
        each = ", ".join(
            f"{s.crease.label} {max(s.needed, s.least):.2f}"
            for s in stages
            if s.needed is not None and s.least is not None
        )
        text = f"the bends ask for different nose settings ({each} mm); {schedule.setting:.2f} mm is used for all"
        yield Finding("FG141", "note", where, text, "radii of the others come out larger than asked")
    if strength is None:
        what = "K alone is known" if part.metal is None else f"yield or modulus of {part.metal.name} is not known"
        text = f"springback and load were not checked: {what}; leaf angles are those without springback"
        yield Finding("FG138", "note", where, text, "give the figures in a metals.toml, or bend a strip and measure")
        return
    unknown = [s.crease.label for s in stages if s.springback is None]
    if unknown:
        text = f"bends {', '.join(unknown)}: no springback can be computed, the sheet hardly yields at that radius"
        yield Finding("FG138", "caution", where, text, "bend a strip and measure, or choose a smaller inside radius")
    by_strips = {s.crease.label for s in stages if s.crease.known is not None and s.crease.known.springback is not None}
    by_formula = [s for s in stages if s.springback and s.crease.label not in by_strips]
    tight = [s.crease.label for s in by_formula if s.loaded_radius < VALID * part.thickness]
    if tight:
        bends = f"bend{'s' if len(tight) > 1 else ''} {', '.join(tight)}"
        text = f"{bends}: inside radius under {VALID:g} t, where the springback formula is a lower bound"
        yield Finding("FG142", "note", where, text, "bend a strip with the same flange and measure the angle")
