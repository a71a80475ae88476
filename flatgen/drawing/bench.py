"""The blank for marking out: sight lines in place of bend lines, for one set-up of one brake.

Layers OUTLINE, OPENINGS and LABELS as in ``document``, and

SIGHT_NEAR  sight lines of up bends, to mark on the near face
SIGHT_FAR   sight lines of down bends, to mark on the far face

Bend lines and tangent lines are not in it: a line that is taken for another ruins the part. A sight line is drawn
over the metal only; where it lies beyond the blank, or where its bend runs through openings, the schedule says so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flatgen.brake.schedule import Schedule, Sight, Stage
from flatgen.drawing import on_metal, words
from flatgen.drawing.document import (
    FORMS,
    LABELS,
    OPENINGS,
    OUTLINE,
    SIGHT_FAR,
    SIGHT_NEAR,
    VERSIONS,
    Sheet,
    empty,
    layout_of,
    view,
)
from flatgen.drawing.facts import BENDING, EDGES, PENCIL, STRENGTH
from flatgen.drawing.notes import Notes
from flatgen.drawing.paper import lettering_height, line_widths
from flatgen.drawing.words import both_lengths
from flatgen.errors import Finding
from flatgen.flat import Bend, FlatPattern, Loop, Point, Segment
from flatgen.flat import Line as FlatLine
from flatgen.part import Part

WHICH = (
    "Sight lines only: put each under the front of the nose with the named leg held. They are not bend lines and hold "
    "for this set-up, this nose setting and these held legs alone."
)
ESTIMATES = "Leaf angles and radii are estimates until a strip has been bent and measured."
FALLS = "The leaf falls back, the handle kicks on release, the clamp bar drops."


def bench_document(
    part: Part,
    flat: FlatPattern,
    schedule: Schedule,
    findings: tuple[Finding, ...] = (),
    *,
    version: str = "R2010",
    inches: bool = False,
) -> Any:
    """Draw the blank with its sight lines.

    Parameters
    ----------
    part : Part
        The part, sizes in [mm].
    flat : FlatPattern
        Its flat, bends in the order of the part's, [mm].
    schedule : Schedule
        Its schedule, made from this flat, [mm].
    findings : tuple[Finding, ...]
        Those of the part; cautions are written on the drawing, [-].
    version : str
        Version of DXF, one of ``document.VERSIONS``, [-].
    inches : bool
        Draw in inches instead of millimetres, [-].

    Returns
    -------
    ezdxf.document.Drawing
        Everything in modelspace, scale 1:1.

    Raises
    ------
    ValueError
        For a version that is not one of ``VERSIONS``, or a schedule made without a flat.
    """
    if version not in VERSIONS:
        raise ValueError(f"version {version!r} is none of {', '.join(VERSIONS)}")
    marked = sighted(flat, schedule)
    metal = on_metal.Metal(flat)
    drawn = {b.label: metal.stretches(*b.segments[0].centre) for b in marked.bends}
    lost = {label for label, lines in drawn.items() if not lines}
    notes = _notes(part, schedule, findings or schedule.findings, lost, inches=inches)
    layout = layout_of(marked, notes, inches=inches)
    height = lettering_height(flat)
    forms = (FORMS,) if flat.forms else ()
    doc = empty(version, height, inches, (OUTLINE, OPENINGS, SIGHT_NEAR, SIGHT_FAR, *forms, LABELS))
    sheet = Sheet(doc, 1.0 / words.MM_PER_INCH if inches else 1.0, version)
    sheet.loop(flat.outline, OUTLINE)
    for opening in flat.openings:
        sheet.loop(opening, OPENINGS)
    for bend in marked.bends:
        sheet.lines(drawn[bend.label], SIGHT_NEAR if bend.way == "up" else SIGHT_FAR)
    for form in flat.forms:
        sheet.loop(form, FORMS)
    sheet.lettering(layout, line_widths(height))
    view(doc, [*flat.outline.points(0.1), *layout.points()], sheet.scale)
    return doc


def sighted(flat: FlatPattern, schedule: Schedule) -> FlatPattern:
    """The flat with a sight line in the place of each bend line, in the order of the schedule's stages.

    Parameters
    ----------
    flat : FlatPattern
        The flat, [mm].
    schedule : Schedule
        Made from it, [mm].

    Returns
    -------
    FlatPattern
        For drawing alone: its bends are lines without width, [mm].
    """
    by_label = {b.label: b for b in flat.bends}
    return replace(flat, bends=tuple(_moved(by_label[s.crease.label], s) for s in schedule.stages))


def _moved(bend: Bend, stage: Stage) -> Bend:
    """A bend that stands where its sight line does."""
    crease = stage.crease
    if crease.ends is None:
        raise ValueError("a schedule that was made without a flat")
    across, (start, _) = crease.across, crease.ends
    by = stage.sight.from_datum - (start[0] * across[0] + start[1] * across[1])
    line: tuple[Point, Point] = tuple((x + by * across[0], y + by * across[1]) for x, y in crease.ends)  # type: ignore[assignment]
    there_and_back = Loop((FlatLine(*line), FlatLine(line[1], line[0])))
    segment = Segment(there_and_back, (), line, (line, line))
    return replace(bend, segments=(segment,), allowance=1e-3, origin=line[0], order=stage.number)


def _notes(part: Part, schedule: Schedule, findings: tuple[Finding, ...], lost: set[str], *, inches: bool) -> Notes:
    shop, setup = schedule.shop, schedule.setup
    title = f"{part.name}: {part.title}" if part.title else part.name
    set_back = "not known" if schedule.setting is None else both_lengths(schedule.setting, inches=inches)
    nose = both_lengths(setup.clamp.nose_radius, inches=inches)
    file = shop.path.replace("\\", "/").rpartition("/")[2]
    lines = [
        f"Marking out on {shop.brake.name} ({file}, fingerprint {shop.fingerprint}), set-up {setup.name}: nose radius "
        f"{nose}, set back {set_back} from the bed's edge. Part fingerprint {part.fingerprint}.",
        WHICH,
    ]
    for stage in schedule.stages:
        lines.append(_stage(part, stage, inches))
    lines.append(f"Order {schedule.order_from}, not checked against the brake. {ESTIMATES}")
    if lost:
        lines.append(f"Beyond the blank, so not drawn: the sight line of {', '.join(sorted(lost))}.")
    pencil = PENCIL if part.metal is None or part.metal.family == "aluminium" else ""
    told = tuple(f"{f.text}." for f in findings if f.severity == "caution")
    cautions = (*told, EDGES, BENDING.replace("bend lines", "sight lines").format(pencil=pencil), FALLS, STRENGTH)
    at_bends = tuple(_label(part, s) for s in schedule.stages)
    return Notes(title, tuple(lines), cautions, at_bends=at_bends)


def _stage(part: Part, stage: Stage, inches: bool) -> str:
    crease, sight = stage.crease, stage.sight
    leaf = stage.leaf_angle
    to = "" if leaf is None else f", leaf to {leaf.low:.1f} to {leaf.high:.1f}°"
    return (
        f"{stage.number}. {crease.label} {crease.way} {crease.angle:g}°: hold {_leg(part, stage, sight)}, line on the "
        f"{sight.face} face {both_lengths(sight.from_held_edge, inches=inches)} from the held edge, "
        f"{both_lengths(sight.from_datum, inches=inches)} from the {crease.datum}{to}."
    )


def _label(part: Part, stage: Stage) -> tuple[str, str]:
    """What stands at a sight line, long and short."""
    crease, leg = stage.crease, _leg(part, stage, stage.sight)
    name, turned = words.harmless(crease.label) or words.NO_LETTER, f"{crease.angle:g}°"
    side = _side(stage)
    way = words.UP if crease.way == "up" else words.DOWN
    return (
        f"{stage.number}  sight line of {name}, bend {way} {turned}, hold {leg} ({side})",
        f"{stage.number} {name} {way} {turned} hold {side}",
    )


def _leg(part: Part, stage: Stage, sight: Sight) -> str:
    leg = stage.crease.side(sight.held).leg
    return words.harmless(part.leg_name(leg) or "") or f"leg {leg + 1}"


def _side(stage: Stage) -> str:
    """The side that is held, as it lies in the drawing."""
    x, y = stage.crease.across
    if stage.sight.held == "first":
        x, y = -x, -y
    if abs(x) >= abs(y):
        return "right" if x > 0 else "left"
    return "above" if y > 0 else "below"
