"""What stands on every sheet beside the template: check bars, the text to read first, sheet number, joints, map.

The bands for bars and text lie left of and below the window, where sheets are cut off when they are joined.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath

from flatgen.core.flat_pattern import FlatPattern, Point
from flatgen.core.schedule import Face, Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part
from flatgen.paper.drawing import words as drawing_words
from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.facts import full_title, metal_name
from flatgen.paper.drawing.ink import CHAIN, LETTERS, Ink, Paper
from flatgen.paper.drawing.labels import Edge
from flatgen.paper.drawing.text import DESCENT, drawable, text_width, wrap_text
from flatgen.paper.templates import words
from flatgen.paper.templates.tiles import OVERLAP, Frame, Tile, Tiling, diagonals

MARGIN = 6.5
"""Edge of a sheet that printers leave white [mm]: a quarter of an inch, common practice, no source."""
LEFT, SIDE = 12.0, 6.0
"""Band at the left, and those at the right and above [mm]."""
BAR_MM, BAR_INCH, TICK = 100.0, 101.6, 3.0
"""Lengths of the check bars and of their ticks [mm]."""
BAR_BAND = 10.0
"""Height of the band that a bar fills [mm]."""
MAP = 14.0
"""Width of the map of the sheets [mm]."""
METRE = 1000.0
"""Longer sizes are not to be taken from paper [mm]."""
LINE_PITCH = 1.5
"""From baseline to baseline, in heights."""
HEIGHT, HEAD = 2.5, 3.5
"""Lettering, and that of the title [mm]."""
MOST_TITLE = 3
"""Lines of a title."""
BARS, JOINTS, MAPS, THIS = "BARS", "JOINTS", "MAP", "THIS_SHEET"
PENS = {
    BARS: Pen(weight=0.25),
    JOINTS: Pen(CHAIN, weight=0.25),
    MAPS: Pen(weight=0.18),
    THIS: Pen(weight=0.7),
    LETTERS: Pen(weight=0.18),
}


@dataclass(frozen=True)
class Band:
    """The text of the lower band: title and paragraphs in lines.

    The sheet number has a line of its own, or stands behind a title of one line, ``place_at`` [mm] from its left end.
    """

    title: tuple[str, ...]
    lines: tuple[str, ...]
    mapped: bool
    place_at: float = 0.0
    place_height: float = HEAD

    @property
    def tall(self) -> float:
        """Its height [mm]: title, sheet, lines, check bar."""
        return BAR_BAND + 2.0 + LINE_PITCH * (HEAD * (len(self.title) + (not self.place_at)) + HEIGHT * len(self.lines))


def text_band(title: str, paragraphs: Sequence[str], place: str, room: float, *, mapped: bool) -> Band:
    """Break the text of a band into lines.

    :param title: cut short with an ellipsis after three lines
    :param place: the longest sheet number with its place
    :param room: width of the band [mm]
    :param mapped: whether a map of the sheets stands at its right
    """
    room -= MAP + 3.0 if mapped else 0.0
    heads = list(wrap_text(drawable(drawing_words.clean(title)), room, HEAD)) or [""]
    if len(heads) > MOST_TITLE:
        heads = [*heads[: MOST_TITLE - 1], heads[MOST_TITLE - 1][:-2].rstrip() + "…"]
    lines = [line for p in paragraphs for line in wrap_text(drawable(drawing_words.clean(p)), room, HEIGHT)]
    behind, height = 0.0, HEAD
    for size in (HEAD, HEIGHT) if len(heads) == 1 else ():
        begin = text_width(heads[0], HEAD) + 2 * HEAD
        if begin + text_width(place, size) <= room:
            behind, height = begin, size
            break
    return Band(tuple(heads), tuple(lines), mapped, behind, height)


def sheet_frame(
    wide: float, tall: float, title: str, paragraphs: Sequence[str], place: str, *, mapped: bool
) -> tuple[Frame, Band]:
    """A sheet of ``wide`` x ``tall`` [mm] with its window, and its text; the others as for :func:`text_band`."""
    band = text_band(title, paragraphs, place, wide - 2 * MARGIN, mapped=mapped)
    at = (MARGIN + LEFT, MARGIN + band.tall)
    room = (wide - at[0] - MARGIN - SIDE, tall - at[1] - MARGIN - SIDE)
    return Frame(wide, tall, at, room), band


def common_ink(frame: Frame, band: Band, axes: tuple[str, str]) -> Ink:
    """What all sheets have in common: bars and text; ``axes``: names of the bar below and of that at the left."""
    ink = Ink()
    y = MARGIN + BAR_BAND / 2
    check_bar(ink, (MARGIN + 2.0, y), 0, axes[0])
    check_bar(ink, (MARGIN + LEFT / 2 - 1.0, frame.at[1] + 1.0), 1, axes[1])
    y = frame.at[1] - 2.0
    for line in band.title:
        y -= LINE_PITCH * HEAD
        ink.text(line, MARGIN, y + DESCENT * HEAD, HEAD)
    y -= 0.0 if band.place_at else LINE_PITCH * HEAD
    for line in band.lines:
        y -= LINE_PITCH * HEIGHT
        ink.text(line, MARGIN, y + DESCENT * HEIGHT, HEIGHT)
    return ink


def check_bar(ink: Ink, at: Point, axis: int, name: str) -> None:
    """A check bar with its zero ``at`` [mm]: 100 mm on one side of its line, 4 in on the other.

    :param axis: 0 along x, 1 along y
    :param name: of the axis, written beside the millimetres
    """

    def spot(along: float, beside: float) -> Point:
        return (at[0] + along, at[1] + beside) if axis == 0 else (at[0] - beside, at[1] + along)

    ink.line(BARS, spot(0.0, 0.0), spot(BAR_INCH, 0.0))
    for along, beside in ((0.0, TICK), (BAR_MM, TICK), (0.0, -TICK), (BAR_INCH, -TICK)):
        ink.line(BARS, spot(along, 0.0), spot(along, beside))
    for text, side in ((f"{name}  {words.BAR_MM}", 0.9), (words.BAR_INCH, -0.9 - HEIGHT)):
        x, y = spot((BAR_MM - text_width(text, HEIGHT)) / 2, side)
        ink.text(text, x, y, HEIGHT, 90.0 * axis)


def sheet_ink(frame: Frame, band: Band, tiling: Tiling, tile: Tile, face: str, number: int, total: int) -> Ink:
    """What only this sheet has: its number, its joints, its cross on the map."""
    ink = Ink()
    y = frame.at[1] - 2.0 - LINE_PITCH * HEAD * (len(band.title) + (not band.place_at)) + DESCENT * HEAD
    if tiling.rows == tiling.columns == 1:
        which = words.whole(number, total, face)
    else:
        which = words.sheet(face, tile.row, tile.column, number, total)
    ink.text(which, MARGIN + band.place_at, y, band.place_height)
    others = tiling.beside(tile)
    for edge, other in others.items():
        _draw_joint(ink, frame, tile, edge, other)
    if band.mapped:
        x, y, wide, high = _map_cell(frame, tiling, tile)
        ink.line(BARS, (x, y), (x + wide, y + high))
        ink.line(BARS, (x, y + high), (x + wide, y))
        ink.box(THIS, x, y, x + wide, y + high)
    return ink


def _draw_joint(ink: Ink, frame: Frame, tile: Tile, edge: Edge, other: Tile) -> None:
    """Where a sheet is cut (left and below), or where its neighbour's cut edge lies (right and above)."""
    (x, y), (wide, tall), half = frame.at, frame.room, OVERLAP / 2
    glue = words.GLUE.format(place=words.place(other.row, other.column, short=True))
    high, right = y + tall, x + wide
    if edge in ("left", "right"):
        at = x + half if edge == "left" else right - half
        ink.line(JOINTS, (at, y - 2.0 if edge == "left" else y), (at, high + 1.0))
    else:
        at = high - half if edge == "above" else y + half
        ink.line(JOINTS, (x - 2.0 if edge == "below" else x, at), (right + 1.0, at))
    if edge == "left":
        ink.text(words.CUT, x + half - 0.5 * text_width(words.CUT, HEIGHT), high + 1.9, HEIGHT)
    elif edge == "below":
        ink.text(words.CUT, right + 1.9 + HEIGHT, y + half - 0.5 * text_width(words.CUT, HEIGHT), HEIGHT, 90.0)
    elif edge == "right":
        ink.text(glue, right + 1.9 + HEIGHT, high - half - 1.0 - text_width(glue, HEIGHT), HEIGHT, 90.0)
    else:
        ink.text(glue, right - half - 1.0 - text_width(glue, HEIGHT), high + 1.9, HEIGHT)


def map_ink(frame: Frame, tiling: Tiling) -> Ink:
    """The map of a face: all its sheets, small."""
    ink = Ink()
    for tile in tiling.tiles:
        x, y, wide, high = _map_cell(frame, tiling, tile)
        ink.box(MAPS, x, y, x + wide, y + high)
    return ink


def _map_cell(frame: Frame, tiling: Tiling, tile: Tile) -> tuple[float, float, float, float]:
    """Corner and size of a sheet on the map, at the right of the text, or of the bar where that is larger [mm]."""
    right, columns, rows = frame.wide - MARGIN, tiling.columns, tiling.rows
    beside = (right - MARGIN - BAR_INCH - 8.0, BAR_BAND - 1.0)
    above = (MAP, frame.at[1] - MARGIN - BAR_BAND - 3.0)
    steps = [min(w / (columns * frame.room[0]), h / (rows * frame.room[1])) for w, h in (above, beside)]
    low = steps[1] > steps[0]
    step = max(steps)
    wide, high = step * frame.room[0], step * frame.room[1]
    top = MARGIN + BAR_BAND - 0.5 if low else frame.at[1] - 2.0
    return right - (columns - tile.column + 1) * wide, top - tile.row * high, wide, high


@dataclass(frozen=True)
class TemplateRequest:
    """What to draw a template of, and how; ``paper``: None on a plotter; ``off``: bends whose line meets no metal."""

    part: Part
    flat: FlatPattern
    schedule: Schedule | None
    paper: Paper | None
    inches: bool
    faces: tuple[Face, ...]
    off: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return full_title(self.part)

    @property
    def sheet_paper(self) -> Paper:
        if self.paper is None:
            raise ValueError("a plotter has no sheets")
        return self.paper


def template_paragraphs(
    request: TemplateRequest, *, several: bool, turned: bool, lost: Sequence[str] = ()
) -> list[str]:
    """The paragraphs of a template.

    :param several: whether it takes more than one sheet
    :param turned: by 90 degrees
    :param lost: bends without a label
    """
    inches, slack = request.inches, words.SLACK_INCH if request.inches else words.SLACK_MM
    sentences = [*template_facts(request.part, request.flat, request.schedule, request.faces, inches)]
    if request.off:
        sentences.append(words.OFF.format(bends=", ".join(request.off)))
    if lost:
        sentences.append(words.UNLABELLED.format(bends=", ".join(lost)))
    if several:
        sizes = [request.flat.width, request.flat.length]
        across, up = reversed(sizes) if turned else sizes
        first, second = (math.dist(*pair) for pair in diagonals(request.flat.outline))
        measures = {"across": across, "up": up, "first": first, "second": second}
        texts = {k: drawing_words.length(v, inches=inches) for k, v in measures.items()}
        sentences.append(words.TAPE.format(slack=slack, **texts))
    if max(request.flat.width, request.flat.length) > METRE:
        sentences.append(words.LONG)
    paragraphs = [_read_first(request).format(slack=slack), " ".join([*sentences, words.CAUTION])]
    return [words.with_hard_blanks(text) for text in paragraphs]


def _read_first(request: TemplateRequest) -> str:
    if request.paper is None:
        return words.READ_FIRST_PLOT
    return words.READ_FIRST if request.paper.long is not None else words.READ_FIRST_ROLL


def template_facts(
    part: Part, flat: FlatPattern, schedule: Schedule | None, faces: Sequence[Face], inches: bool
) -> list[str]:
    """Metal, brake and lines of a template; sizes in ``inches`` before those in millimetres."""
    thickness = in_mm_and_inch(part.thickness, thickness=True, inch_first=inches)
    sentences = [words.FACT.format(metal=metal_name(part), thickness=thickness)]
    if schedule is not None:
        shop = schedule.shop
        sentences[0] += " " + words.SIGHT.format(
            brake=shop.brake.name, setup=schedule.setup.name, file=PurePath(shop.path).name,
            print=shop.fingerprint, part=part.fingerprint,
        )  # fmt: skip
        far = any(s.sight.face == "far" for s in schedule.stages)
        near = any(s.sight.face == "near" for s in schedule.stages)
        if schedule.state == "refused":
            sentences.insert(0, words.REFUSED)
    else:
        ways = {b.way for b in flat.bends}
        far, near = "down" in ways, "up" in ways
        sentences[0] += " " + words.BEND_LINES.format(part=part.fingerprint) if flat.bends else ""
    if "near" in faces and (near or far):
        sentences.append(words.NEAR_FACE if far else words.NEAR_ONLY)
    if "far" in faces and far:
        sentences.append(words.FAR_FACE)
    return sentences
