"""Pictures of the stages of a bend order: ezdxf documents in millimetres on paper, one stage or all on one sheet.

METAL      the sheet, wide continuous
BRAKE      bed, clamp bar and leaf, cut through
HATCHING   of what is cut through
LIFTED     the clamp bar lifted, narrow dashed (ISO 128-2, line 02)
MOVED      leaf and sheet on their way, narrow long-dashed double-dotted (05: extreme positions of what moves)
SIZES      leaders, dimensions, break lines (01: with zigzags), hinge axis, frames
RING       about a place that touches or comes near, wide
LETTERS    all lettering, 2.5 mm high or more

Both moments of a stage stand side by side, what the hand does beside them, the key below.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatgen.bend_order.decide import Attempt, Decision, nearest_text
from flatgen.bend_order.scene import Scene, StageFacts, scene_of
from flatgen.brake.creases import other_side
from flatgen.core.files import write_all
from flatgen.core.schedule import Schedule, Stage
from flatgen.definition.part import Part
from flatgen.paper.drawing import document
from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.ink import LARGE, LONG_DASHED, SMALL, Block, Ink, ink_document
from flatgen.paper.drawing.text import ASCENT, Text, drawable, text_width
from flatgen.paper.drawing.writers import svg_text
from flatgen.paper.stage_pictures import words as stage_words
from flatgen.paper.stage_pictures.panel import Panel, visible_points
from flatgen.paper.stage_pictures.view import Window, windows

WIDE, HIGH = 190.0, 100.0
"""Both panels together on paper [mm]."""
BESIDE = 82.0
"""Column of text [mm]."""
APART = 6.0
"""Between panels, and between them and the text [mm]."""
ROW = 4.4
"""From one line of small lettering to the next [mm]."""
INDENT = 5.0
FOOT = 4.0
"""Between the scale and what stands below it [mm]."""
BLOCK = WIDE + BESIDE + 2 * APART
THIN = 0.18
"""Width of hatching [mm]."""
PENS = {
    "METAL": Pen(wide=True),
    "BRAKE": Pen(),
    "HATCHING": Pen(number=8, shade=(150, 154, 158), weight=THIN),
    "LIFTED": Pen(document.DASHED, number=154, shade=(31, 101, 150)),
    "MOVED": Pen(LONG_DASHED, number=94, shade=(64, 120, 56)),
    "SIZES": Pen(),
    "RING": Pen(wide=True, number=32, shade=(168, 84, 32)),
    "LETTERS": Pen(),
}
"""Layers of a picture."""
FOLDER = "stages"


@dataclass(frozen=True)
class StagePicture:
    """A stage: its outlines and what is said of it."""

    scene: Scene
    facts: StageFacts


def stage_pictures(part: Part, schedule: Schedule, decision: Decision) -> tuple[StagePicture, ...]:
    """All stages in their order; none where that was not checked."""
    shown = []
    for stage, step in zip(schedule.stages, decision.steps, strict=True):
        if step.situation is None or step.inspection is None:
            return ()
        scene = scene_of(step.situation, step.bend, step.placement.held, step.made, step.inspection)
        shown.append(StagePicture(scene, stage_facts(part, stage, len(schedule.stages), schedule.shop.safe_clearance)))
    return tuple(shown)


def stage_facts(part: Part, stage: Stage, total: int, safe: float) -> StageFacts:
    """What is said beside the picture of a stage, which must be checked; ``safe`` clearance [mm]."""
    handling, crease = stage.handling, stage.crease
    if handling is None:
        raise ValueError("a stage that was not checked has no picture")
    held, swung = crease.side(stage.sight.held), crease.side(other_side(stage.sight.held))
    leaf = f"{crease.angle:g}°, springback not checked"
    if stage.leaf_angle is not None:
        leaf = f"{stage.leaf_angle.text(1, '°')} for {crease.angle:g}° (estimate)"
    if handling.by_hand:
        leaf += "; as far as it goes, the rest by hand over a block"
    return StageFacts(
        number=stage.number,
        total=total,
        label=crease.label,
        angle=crease.angle,
        way=crease.way,
        held=_name(part, held.leg),
        swung=_name(part, swung.leg),
        face_up=handling.face_up,
        toward=f"the {'left' if handling.toward == 'first' else 'right'} edge of the flat",
        move=handling.move,
        setup=stage.setup.name if stage.setup else "",
        setting=stage.setting,
        leaf=leaf,
        into=stage_words.WAYS_IN[handling.into],
        out=stage_words.WAYS_OUT[handling.out],
        raised=max(handling.raised_in, handling.raised_out),
        clearance=handling.clearance,
        between=handling.nearest,
        close=handling.close,
        safe=safe,
        refused=handling.refused,
    )


def attempt_pictures(part: Part, tries: Sequence[Attempt], safe: float) -> tuple[StagePicture, ...]:
    """Pictures of what keeps a bend from coming earlier: of the tries that cannot be."""
    shown = []
    refused = [attempt for attempt in tries if attempt.inspection.refused]

    def name(leg: int) -> str:
        return _name(part, leg)

    for n, attempt in enumerate(refused, start=1):
        look = attempt.inspection
        crease = attempt.situation.chain.creases[look.bend]
        swung = crease.side(other_side(attempt.held))
        facts = StageFacts(
            number=n,
            total=len(refused),
            label=crease.label,
            angle=crease.angle,
            way=crease.way,
            held=name(attempt.leg),
            swung=name(swung.leg),
            face_up="near" if crease.way == "up" else "far",
            toward=f"the {'left' if attempt.held == 'second' else 'right'} edge of the flat",
            move=f"not like this: {'after ' + ', '.join(attempt.after) if attempt.after else 'first of all'}",
            setup=attempt.setup,
            setting=attempt.setting,
            leaf=f"{crease.angle:g}°",
            into=stage_words.WAYS_IN[look.into.how],
            out=stage_words.WAYS_OUT[look.out.how],
            clearance=look.gap,
            between=nearest_text(look, name),
            close=True,
            safe=safe,
            refused=attempt.reason,
        )
        shown.append(StagePicture(scene_of(attempt.situation, look.bend, attempt.held, look.made, look), facts))
    return tuple(shown)


def _name(part: Part, leg: int) -> str:
    return part.leg_name(leg) or part.leg_text(leg)


def write_pictures(
    part: Part, shown: Sequence[StagePicture], folder: Path, stem: str, *, png: bool = False
) -> tuple[Path, ...]:
    """Write one picture for each stage and a sheet with all of them.

    :param stem: how names begin, such as ``stage``
    """
    if not shown:
        return ()
    from flatgen.paper.drawing.writers import png_bytes

    stem, files = file_name_part(stem), dict[str, bytes]()
    kinds: dict[str, Callable[..., bytes]] = {"svg": svg_bytes} | ({"png": png_bytes} if png else {})
    for picture in shown:
        document = stage_document(picture)
        for end, write in kinds.items():
            files[f"{stem}-{picture.facts.number:02d}-{file_name_part(picture.facts.label)}.{end}"] = write(document)
    title = f"{part.name}: {part.title}" if part.title else part.name
    sheet = sheet_document(list(shown), title)
    for end, write in kinds.items():
        files[f"{'all' if stem == 'stage' else stem}-stages.{end}"] = write(sheet)
    write_all(folder / FOLDER, files)
    return tuple(folder / FOLDER / n for n in files)


def file_name_part(label: str) -> str:
    """A label as part of a file's name: letters, digits and hyphens stay, whatever else becomes a hyphen.

    >>> file_name_part("../x"), file_name_part("drip")
    ('---x', 'drip')
    """
    return "".join(c if c.isalnum() or c == "-" else "-" for c in label)


def stage_document(picture: StagePicture) -> Any:
    """A drawing of one stage with its key."""
    block, key = stage_block(picture), key_block()
    ink = Ink()
    ink.add(key.ink, 0.0, 0.0)
    ink.add(block.ink, 0.0, key.tall + APART)
    return ink_document(ink, PENS, BLOCK, key.tall + APART + block.tall)


def sheet_document(pictures: Sequence[StagePicture], title: str = "") -> Any:
    """A drawing of all stages of a part in rows, with one key."""
    if not pictures:
        raise ValueError("a sheet without a stage")
    columns = 1 if len(pictures) == 1 else 2 if len(pictures) <= 8 else 3
    blocks, key, ink = [stage_block(p) for p in pictures], key_block(), Ink()
    ink.add(key.ink, 0.0, 0.0)
    rows = [blocks[k : k + columns] for k in range(0, len(blocks), columns)]
    wide = columns * BLOCK + (columns - 1) * 2 * APART
    y = key.tall + APART
    for row in reversed(rows):
        tall = max(b.tall for b in row)
        ink.lines.append(("SIZES", ((0.0, y), (wide, y)), False))
        for n, block in enumerate(row):
            x = n * (BLOCK + 2 * APART)
            ink.add(block.ink, x, y + APART + tall - block.tall)
            if n:
                ink.lines.append(("SIZES", ((x - APART, y), (x - APART, y + tall + 2 * APART)), False))
        y += tall + 2 * APART
    if title:
        ink.lines.append(("SIZES", ((0.0, y), (wide, y)), False))
        ink.texts.append(Text(drawable(title), (0.0, y + 4.0), 5.0))
        y += 11.0
    return ink_document(ink, PENS, wide, y)


def svg_bytes(doc: Any) -> bytes:
    """A drawing as an SVG file at its true size."""
    return svg_text(doc).encode()


def stage_block(picture: StagePicture, wide: float = BLOCK, high: float = HIGH, foot: Block | None = None) -> Block:
    """Both moments of a stage side by side, and the text beside them.

    :param wide: all of it; the text takes its share [mm]
    :param high: most height of the picture itself [mm]
    :param foot: what stands below the scale bar
    """
    scene, facts = picture.scene, picture.facts
    beside = BESIDE * min(wide / BLOCK, 1.0)
    views, inks, lost = _moments(picture, wide - beside - 2 * APART, min(high, HIGH))
    rows = [*stage_words.beside(facts), *([("Note", stage_words.no_room_note(lost))] if lost else [])]
    text, deep = _column(rows, beside)
    below = 10.0 if foot is None else 10.0 + FOOT + foot.tall
    tall = max(views[0].y.size + below, deep)
    heads = (stage_words.BEFORE, stage_words.after(facts, scene.fails, scene.top))
    ink, x = Ink(), 0.0
    base = tall - views[0].y.size
    for one, view, head in zip(inks, views, heads, strict=True):
        ink.add(one, x, base)
        ink.texts.append(Text(head, (x, tall + 3.0), SMALL))
        x += view.x.size + APART
    ink.add(text, x, tall)
    _scale_bar(ink, views[0].scale, base - 8.0)
    if foot is not None:
        ink.add(foot.ink, 0.0, base - below)
    ink.texts.append(Text(drawable(stage_words.title(facts)), (0.0, tall + 9.0), LARGE))
    return Block(ink, wide, tall + 9.0 + LARGE * ASCENT)


@functools.lru_cache(maxsize=64)
def _moments(picture: StagePicture, wide: float, high: float) -> tuple[tuple[Window, ...], list[Ink], list[str]]:
    """Both moments drawn within a width and height [mm], and the letters that found no room."""
    scene = picture.scene
    moments = (scene.before, scene.after)
    views = windows([visible_points(scene, m) for m in moments], wide, high)
    panels = [Panel(scene, m, v, picture.facts) for m, v in zip(moments, views, strict=True)]
    return views, [p.draw() for p in panels], [t for p in panels for t in p.lost]


def _scale_bar(ink: Ink, scale: float, y: float) -> None:
    size = max((s for s in (5, 10, 20, 50, 100, 200, 500, 1000, 2000) if s * scale <= 40.0), default=5)
    long = size * scale
    ink.lines.append(("SIZES", ((0.0, y), (long, y)), False))
    for x in (0.0, long):
        ink.lines.append(("SIZES", ((x, y - 1.2), (x, y + 1.2)), False))
    ink.texts.append(Text(f"{size} mm, {stage_words.scale(scale)}", (long + 3.0, y - SMALL / 2), SMALL))


def _column(rows: Sequence[tuple[str, str]], wide: float) -> tuple[Ink, float]:
    """Rows of text, from y = 0 downward, and how deep they run."""
    ink, y = Ink(), 0.0
    for head, text in rows:
        plain = head.isdigit() or not head
        title = head if plain else f"{head}:"
        indent = INDENT if plain else text_width(title, SMALL) + 1.5
        if title:
            ink.texts.append(Text(title, (0.0, y - SMALL * ASCENT), SMALL))
        for n, line in enumerate(_wrapped(text, indent, wide)):
            ink.texts.append(Text(line, (indent if n == 0 else INDENT, y - SMALL * ASCENT), SMALL))
            y -= ROW
        y -= 1.2
    return ink, -y


def _wrapped(text: str, indent: float, wide: float) -> list[str]:
    """Lines that fit the column; a word longer than a line is cut."""
    lines, line, room = [], "", wide - indent
    for word in drawable(text).split():
        while text_width(word, SMALL) > wide - INDENT:
            cut = next(k for k in range(len(word) - 1, 0, -1) if text_width(word[:k], SMALL) <= wide - INDENT)
            if line:
                lines.append(line)
            lines.append(word[:cut])
            line, word, room = "", word[cut:], wide - INDENT
        longer = f"{line} {word}" if line else word
        if text_width(longer, SMALL) > room and line:
            lines.append(line)
            line, room = word, wide - INDENT
        else:
            line = longer
    return [*lines, line]


@functools.lru_cache(maxsize=8)
def key_block(wide: float = BLOCK) -> Block:
    """What lines and letters mean, in rows of this width [mm]."""
    ink, x, y, step = Ink(), 0.0, 0.0, 7.0
    for kind, text in stage_words.KEY:
        own = 14.0 + text_width(text, SMALL) + 8.0
        if x + own > wide:
            x, y = 0.0, y - step
        _sample(ink, kind, x, y + SMALL / 2)
        ink.texts.append(Text(text, (x + 14.0, y), SMALL))
        x += own
    whole = Ink()
    whole.add(ink, 0.0, 2.0 - y)
    return Block(whole, wide, 2.0 - y + SMALL * ASCENT + 2.0)


def _sample(ink: Ink, kind: str, x: float, y: float) -> None:
    pens = {"metal": "METAL", "lifted": "LIFTED", "moved": "MOVED"}
    if kind in pens:
        ink.lines.append((pens[kind], ((x, y), (x + 12.0, y)), False))
    elif kind == "brake":
        ink.lines.append(("BRAKE", ((x, y - 2), (x + 12, y - 2), (x + 12, y + 2), (x, y + 2)), True))
        for k in range(5):
            ink.lines.append(("HATCHING", ((x + 2 * k, y - 2), (x + 2 * k + 4, y + 2)), False))
    elif kind == "break":
        points = ((x, y), (x + 5, y), (x + 5.6, y + 1.2), (x + 6.4, y - 1.2), (x + 7, y), (x + 12, y))
        ink.lines.append(("SIZES", points, False))
    elif kind == "hinge":
        ink.circles.append(("SIZES", (x + 6, y), 1.3))
        ink.lines.append(("SIZES", ((x + 4, y), (x + 8, y)), False))
        ink.lines.append(("SIZES", ((x + 6, y - 2), (x + 6, y + 2)), False))
    elif kind == "line":
        ink.texts.append(Text(stage_words.LINE, (x, y - SMALL / 2), SMALL))
        ink.lines.append(("SIZES", ((x + 7.0, y), (x + 12.0, y)), False))
        ink.head((x + 12.0, y), (1.0, 0.0))
    else:
        text = stage_words.letter("A", kind)
        ink.texts.append(Text(text, (x + 6.0 - text_width(text, SMALL) / 2, y - SMALL / 2), SMALL))
        if kind == "now":
            ink.lines.append(
                ("SIZES", ((x + 3.6, y - 2.2), (x + 8.4, y - 2.2), (x + 8.4, y + 2.2), (x + 3.6, y + 2.2)), True)
            )
