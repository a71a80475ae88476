"""What stands on every sheet beside the template: check bars, what to read first, which sheet it is, where it is
joined, and a map of all sheets.

The bands lie at the left and below the window, where a sheet is cut off when it is joined: bars are measured before.
All of it is drawn once as ink, sheet beside sheet, in one document.
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
from flatgen.paper.drawing import text as typeface
from flatgen.paper.drawing import words as house
from flatgen.paper.drawing.ink import CHAIN, LETTERS, Ink, Paper, Pen
from flatgen.paper.drawing.text import DESCENT, wrapped
from flatgen.paper.templates import words
from flatgen.paper.templates.tiles import OVERLAP, Edge, Frame, Tile, Tiling, diagonals

MARGIN = 6.5
"""Edge of a sheet that printers leave white [mm]: a quarter of an inch, common practice, no source."""

LEFT, SIDE = 12.0, 6.0
"""Band at the left, and those at the right and above [mm]."""

BAR_MM, BAR_INCH, TICK = 100.0, 101.6, 3.0
"""Lengths of the check bars and of their ticks [mm]."""

BAR_BAND = 10.0
"""Height of the band that a bar fills [mm]."""

MAP = 14.0
"""Width kept for the map of the sheets [mm]."""

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
    """The text of the band below: title and paragraphs, broken into lines for a width [mm].

    Which sheet it is stands on a line of its own, or behind a title of one line, ``place_at`` [mm] from its left end.
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


def band_of(title: str, paragraphs: Sequence[str], place: str, room: float, *, mapped: bool) -> Band:
    """Break the text for a band.

    :param title: of the part, cut short with an ellipsis after three lines
    :param paragraphs: broken at blanks, or within a word that is longer than a line
    :param place: the most that is said of which sheet it is
    :param room: width of the band [mm]
    :param mapped: whether a map of the sheets stands at its right
    """
    room -= MAP + 3.0 if mapped else 0.0
    heads = list(wrapped(typeface.drawable(house.clean(title)), room, HEAD)) or [""]
    if len(heads) > MOST_TITLE:
        heads = [*heads[: MOST_TITLE - 1], heads[MOST_TITLE - 1][:-2].rstrip() + "…"]
    lines = [line for p in paragraphs for line in wrapped(typeface.drawable(house.clean(p)), room, HEIGHT)]
    behind, height = 0.0, HEAD
    for size in (HEAD, HEIGHT) if len(heads) == 1 else ():
        begin = typeface.width(heads[0], HEAD) + 2 * HEAD
        if begin + typeface.width(place, size) <= room:
            behind, height = begin, size
            break
    return Band(tuple(heads), tuple(lines), mapped, behind, height)


def frame_of(
    wide: float, tall: float, title: str, paragraphs: Sequence[str], place: str, *, mapped: bool
) -> tuple[Frame, Band]:
    """A sheet with its window.

    :param wide, tall: of the sheet [mm]
    :param place: the most that is said of which sheet it is
    :param mapped: whether a map of the sheets is drawn
    :returns: the sheet, and its text [mm]
    """
    band = band_of(title, paragraphs, place, wide - 2 * MARGIN, mapped=mapped)
    at = (MARGIN + LEFT, MARGIN + band.tall)
    room = (wide - at[0] - MARGIN - SIDE, tall - at[1] - MARGIN - SIDE)
    return Frame(wide, tall, at, room), band


def common(frame: Frame, band: Band, axes: tuple[str, str]) -> Ink:
    """What is alike on all sheets: bars and text.

    :param axes: names of the bar below and of that at the left
    """
    ink = Ink()
    y = MARGIN + BAR_BAND / 2
    bar(ink, (MARGIN + 2.0, y), 0, axes[0])
    bar(ink, (MARGIN + LEFT / 2 - 1.0, frame.at[1] + 1.0), 1, axes[1])
    y = frame.at[1] - 2.0
    for line in band.title:
        y -= LINE_PITCH * HEAD
        ink.text(line, MARGIN, y + DESCENT * HEAD, HEAD)
    y -= 0.0 if band.place_at else LINE_PITCH * HEAD
    for line in band.lines:
        y -= LINE_PITCH * HEIGHT
        ink.text(line, MARGIN, y + DESCENT * HEIGHT, HEIGHT)
    return ink


def bar(ink: Ink, at: Point, axis: int, name: str) -> None:
    """A check bar: 100 mm on one side of its line, 4 in on the other.

    :param at: its zero [mm]
    :param axis: 0 along x, 1 along y
    :param name: of the axis, written beside the millimetres
    """

    def spot(along: float, beside: float) -> Point:
        return (at[0] + along, at[1] + beside) if axis == 0 else (at[0] - beside, at[1] + along)

    ink.line(BARS, spot(0.0, 0.0), spot(BAR_INCH, 0.0))
    for along, beside in ((0.0, TICK), (BAR_MM, TICK), (0.0, -TICK), (BAR_INCH, -TICK)):
        ink.line(BARS, spot(along, 0.0), spot(along, beside))
    for text, side in ((f"{name}  {words.BAR_MM}", 0.9), (words.BAR_INCH, -0.9 - HEIGHT)):
        x, y = spot((BAR_MM - typeface.width(text, HEIGHT)) / 2, side)
        ink.text(text, x, y, HEIGHT, 90.0 * axis)


def sheet_ink(frame: Frame, band: Band, tiling: Tiling, tile: Tile, face: str, number: int, total: int) -> Ink:
    """What is a sheet's own: which it is, where it is joined, the map."""
    ink = Ink()
    y = frame.at[1] - 2.0 - LINE_PITCH * HEAD * (len(band.title) + (not band.place_at)) + DESCENT * HEAD
    if tiling.rows == tiling.columns == 1:
        said = words.whole(number, total, face)
    else:
        said = words.sheet(face, tile.row, tile.column, number, total)
    ink.text(said, MARGIN + band.place_at, y, band.place_height)
    others = tiling.beside(tile)
    for edge, other in others.items():
        _joined(ink, frame, tile, edge, other)
    if band.mapped:
        x, y, wide, high = _cell(frame, tiling, tile)
        ink.line(BARS, (x, y), (x + wide, y + high))
        ink.line(BARS, (x, y + high), (x + wide, y))
        ink.box(THIS, x, y, x + wide, y + high)
    return ink


def _joined(ink: Ink, frame: Frame, tile: Tile, edge: Edge, other: Tile) -> None:
    """Where a sheet is cut (left and below), or where its neighbour's cut edge comes to lie (right and above)."""
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
        ink.text(words.CUT, x + half - 0.5 * typeface.width(words.CUT, HEIGHT), high + 1.9, HEIGHT)
    elif edge == "below":
        ink.text(words.CUT, right + 1.9 + HEIGHT, y + half - 0.5 * typeface.width(words.CUT, HEIGHT), HEIGHT, 90.0)
    elif edge == "right":
        ink.text(glue, right + 1.9 + HEIGHT, high - half - 1.0 - typeface.width(glue, HEIGHT), HEIGHT, 90.0)
    else:
        ink.text(glue, right - half - 1.0 - typeface.width(glue, HEIGHT), high + 1.9, HEIGHT)


def sheet_map(frame: Frame, tiling: Tiling) -> Ink:
    """All sheets of a face, small, where each page crosses its own."""
    ink = Ink()
    for tile in tiling.tiles:
        x, y, wide, high = _cell(frame, tiling, tile)
        ink.box(MAPS, x, y, x + wide, y + high)
    return ink


def _cell(frame: Frame, tiling: Tiling, tile: Tile) -> tuple[float, float, float, float]:
    """Corner and size of a sheet on the map: at the right of the text, or of the bar where sheets lie side by side."""
    right, columns, rows = frame.wide - MARGIN, tiling.columns, tiling.rows
    beside = (right - MARGIN - BAR_INCH - 8.0, BAR_BAND - 1.0)
    above = (MAP, frame.at[1] - MARGIN - BAR_BAND - 3.0)
    steps = [min(w / (columns * frame.room[0]), h / (rows * frame.room[1])) for w, h in (above, beside)]
    low = steps[1] > steps[0]
    step = max(steps)
    wide, high = step * frame.room[0], step * frame.room[1]
    top = MARGIN + BAR_BAND - 0.5 if low else frame.at[1] - 2.0
    return right - (columns - tile.column + 1) * wide, top - tile.row * high, wide, high


METRE = 1000.0
"""Longer than this, sizes are not to be taken from paper [mm]."""


@dataclass(frozen=True)
class Job:
    """What a template is asked for; ``paper`` is None on a plotter, ``off`` are bends whose line finds no metal."""

    part: Part
    flat: FlatPattern
    schedule: Schedule | None
    paper: Paper | None
    inches: bool
    faces: tuple[Face, ...]
    off: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Name and title of the part."""
        return f"{self.part.name}: {self.part.title}" if self.part.title else self.part.name


def said(job: Job, *, several: bool, turned: bool, lost: Sequence[str] = ()) -> list[str]:
    """The paragraphs of a template, the first to be read first.

    :param several: whether it takes more than one sheet
    :param turned: by 90 degrees
    """
    inches, slack = job.inches, words.SLACK_INCH if job.inches else words.SLACK_MM
    found = [*about(job.part, job.flat, job.schedule, job.faces, inches)]
    if job.off:
        found.append(words.OFF.format(bends=", ".join(job.off)))
    if lost:
        found.append(words.UNLABELLED.format(bends=", ".join(lost)))
    if several:
        sizes = [job.flat.width, job.flat.length]
        across, up = reversed(sizes) if turned else sizes
        first, second = (math.dist(*pair) for pair in diagonals(job.flat.outline))
        measures = {"across": across, "up": up, "first": first, "second": second}
        found.append(words.TAPE.format(slack=slack, **{k: words.exact(v, inches=inches) for k, v in measures.items()}))
    if max(job.flat.width, job.flat.length) > METRE:
        found.append(words.LONG)
    whole = [_first(job).format(slack=slack), " ".join([*found, words.CAUTION])]
    return [words.kept_together(text) for text in whole]


def _first(job: Job) -> str:
    if job.paper is None:
        return words.READ_FIRST_PLOT
    return words.READ_FIRST if job.paper.long is not None else words.READ_FIRST_ROLL


def about(part: Part, flat: FlatPattern, schedule: Schedule | None, faces: Sequence[Face], inches: bool) -> list[str]:
    """What a template is good for.

    :param schedule: made for the flat, or None
    :param inches: sizes in inches before those in millimetres
    """
    metal = part.metal_text if part.metal else part.metal_text[:1].upper() + part.metal_text[1:]
    thickness = in_mm_and_inch(part.thickness, thickness=True, inch_first=inches)
    found = [words.FACT.format(metal=metal, thickness=thickness)]
    if schedule is not None:
        shop = schedule.shop
        found[0] += " " + words.SIGHT.format(
            brake=shop.brake.name, setup=schedule.setup.name, file=PurePath(shop.path).name,
            print=shop.fingerprint, part=part.fingerprint,
        )  # fmt: skip
        far = any(s.sight.face == "far" for s in schedule.stages)
        near = any(s.sight.face == "near" for s in schedule.stages)
        if schedule.state == "refused":
            found.insert(0, words.REFUSED)
    else:
        ways = {b.way for b in flat.bends}
        far, near = "down" in ways, "up" in ways
        found[0] += " " + words.BEND_LINES.format(part=part.fingerprint) if flat.bends else ""
    if "near" in faces and (near or far):
        found.append(words.NEAR_FACE if far else words.NEAR_ONLY)
    if "far" in faces and far:
        found.append(words.FAR_FACE)
    return found
