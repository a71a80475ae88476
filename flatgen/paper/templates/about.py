"""What is said below the window of every sheet: what to read first, what it is good for, how it is taped."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath

from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Face, Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import Part
from flatgen.paper.drawing.papers import Paper
from flatgen.paper.templates import words
from flatgen.paper.templates.tiles import diagonals

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

    Parameters
    ----------
    job : Job
        What is asked for, [-]
    several : bool
        Whether it takes more than one sheet, [-]
    turned : bool
        By 90 degrees, [-]
    lost : Sequence[str]
        Bends whose label finds no room, [-]

    Returns
    -------
    list[str]
        Paragraphs, [-]
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

    Parameters
    ----------
    part : Part
        The part, [-]
    flat : FlatPattern
        Its flat, [mm]
    schedule : Schedule | None
        Made for the flat, or None, [mm]
    faces : Sequence[Face]
        That are drawn, [-]
    inches : bool
        Sizes in inches before those in millimetres, [-]

    Returns
    -------
    list[str]
        Paragraphs, [-]
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
