"""Pictures of the stages of a plan: what is drawn, what is said beside it, and under which name it is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from flatgen.bend_order.decide import Decision, Try, said_of
from flatgen.bend_order.scene import StageFacts, scene_of
from flatgen.core.files import write_all
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.part import Part

if TYPE_CHECKING:
    from flatgen.paper.stage_pictures.stages import StagePicture

FOLDER = "stages"
INTO = {
    "straight": "slide it in from the front, bar lifted",
    "drawn": "slide it in from the front as the bar comes down",
    "endwise": "slide it in endwise, along the bar",
    "": "no way in",
}
OUT = {
    "straight": "bar up, take it out to the front",
    "drawn": "draw it forward as the bar goes up, and out",
    "endwise": "ease the bar, slide it out endwise, along the bar",
    "": "no way out",
}


def pictures(part: Part, schedule: Schedule, decision: Decision) -> tuple[StagePicture, ...]:
    """All stages whose order was checked, in their order.

    Parameters
    ----------
    part : Part
        The part, [-]
    schedule : Schedule
        Its stages, [mm]
    decision : Decision
        How they were decided, [mm]

    Returns
    -------
    tuple[StagePicture, ...]
        Empty where the order was not checked
    """
    from flatgen.paper.stage_pictures.stages import StagePicture

    found = []
    for stage, step in zip(schedule.stages, decision.steps, strict=True):
        if step.situation is None or step.look is None:
            return ()
        scene = scene_of(step.situation, step.bend, step.lay.held, step.made, step.look)
        found.append(StagePicture(scene, facts(part, stage, len(schedule.stages), schedule.shop.safe_clearance)))
    return tuple(found)


def facts(part: Part, stage: Stage, total: int, safe: float) -> StageFacts:
    """What is said beside the picture of a stage; ValueError where it was not checked."""
    done, crease = stage.handling, stage.crease
    if done is None:
        raise ValueError("a stage that was not checked has no picture")
    held, swung = crease.side(stage.sight.held), crease.side("second" if stage.sight.held == "first" else "first")
    leaf = f"{crease.angle:g}°, springback not checked"
    if stage.leaf_angle is not None:
        leaf = f"{stage.leaf_angle.text(1, '°')} for {crease.angle:g}° (estimate)"
    if done.by_hand:
        leaf += "; as far as it goes, the rest by hand over a block"
    return StageFacts(
        number=stage.number,
        total=total,
        label=crease.label,
        angle=crease.angle,
        way=crease.way,
        held=_name(part, held.leg),
        swung=_name(part, swung.leg),
        face_up=done.face_up,
        toward=f"the {'left' if done.toward == 'first' else 'right'} edge of the flat",
        move=done.move,
        setup=stage.setup.name if stage.setup else "",
        setting=stage.setting,
        leaf=leaf,
        into=INTO[done.into],
        out=OUT[done.out],
        raised=max(done.raised_in, done.raised_out),
        clearance=done.clearance,
        between=done.nearest,
        close=done.close,
        safe=safe,
        refused=done.refused,
    )


def tried(part: Part, tries: Sequence[Try], safe: float) -> tuple[StagePicture, ...]:
    """Pictures of what keeps a bend from coming earlier: of the tries that cannot be."""
    from flatgen.paper.stage_pictures.stages import StagePicture

    found = []
    refused = [t for t in tries if t.look.refused]

    def name(leg: int) -> str:
        return _name(part, leg)

    for n, t in enumerate(refused, start=1):
        crease = t.situation.chain.creases[t.look.bend]
        swung = crease.side("second" if t.held == "first" else "first")
        shown = StageFacts(
            number=n,
            total=len(refused),
            label=crease.label,
            angle=crease.angle,
            way=crease.way,
            held=name(t.leg),
            swung=name(swung.leg),
            face_up="near" if crease.way == "up" else "far",
            toward=f"the {'left' if t.held == 'second' else 'right'} edge of the flat",
            move=f"not like this: {'after ' + ', '.join(t.after) if t.after else 'first of all'}",
            setup=t.setup,
            setting=t.setting,
            leaf=f"{crease.angle:g}°",
            into=INTO[t.look.into.how],
            out=OUT[t.look.out.how],
            clearance=t.look.gap,
            between=said_of(t.look, name),
            close=True,
            safe=safe,
            refused=t.reason,
        )
        found.append(StagePicture(scene_of(t.situation, t.look.bend, t.held, t.look.made, t.look), shown))
    return tuple(found)


def write_pictures(
    part: Part, shown: Sequence[StagePicture], folder: Path, stem: str, *, png: bool = False
) -> tuple[Path, ...]:
    """Write one picture for each stage and a sheet with all of them.

    Parameters
    ----------
    part : Part
        The part, [-]
    shown : Sequence[StagePicture]
        The stages, [mm]
    folder : pathlib.Path
        Of the part, [-]
    stem : str
        How names begin, such as ``stage``, [-]
    png : bool
        PNG beside SVG, [-]

    Returns
    -------
    tuple[pathlib.Path, ...]
        What was written
    """
    if not shown:
        return ()
    from flatgen.paper.drawing.writers import png_bytes
    from flatgen.paper.stage_pictures.stages import sheet_document, stage_document, svg_bytes

    stem, made = in_a_name(stem), dict[str, bytes]()
    kinds: dict[str, Callable[..., bytes]] = {"svg": svg_bytes} | ({"png": png_bytes} if png else {})
    for picture in shown:
        document = stage_document(picture)
        for end, write in kinds.items():
            made[f"{stem}-{picture.facts.number:02d}-{in_a_name(picture.facts.label)}.{end}"] = write(document)
    title = f"{part.name}: {part.title}" if part.title else part.name
    sheet = sheet_document(list(shown), title)
    for end, write in kinds.items():
        made[f"{'all' if stem == 'stage' else stem}-stages.{end}"] = write(sheet)
    write_all(folder / FOLDER, made)
    return tuple(folder / FOLDER / n for n in made)


def in_a_name(label: str) -> str:
    """A label as part of a file's name: letters, digits and hyphens stay, whatever else becomes a hyphen.

    Parameters
    ----------
    label : str
        Any, [-]

    Returns
    -------
    str
        Such as ``a-b`` for ``a/b``

    Examples
    --------
    >>> in_a_name("../x"), in_a_name("drip")
    ('---x', 'drip')
    """
    return "".join(c if c.isalnum() or c == "-" else "-" for c in label)


def _name(part: Part, leg: int) -> str:
    return part.leg_name(leg) or part.leg_text(leg)
