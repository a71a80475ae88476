"""Words of the flat with ordinates, and of its tables."""

from __future__ import annotations

import re
from collections.abc import Sequence

from flatgen.paper.drawing import words
from flatgen.paper.stage_pictures.words import number
from flatgen.paper.stage_pictures.words import scale as scale_text

UNITS = {"mm": "mm", "in": "inches", "in/64": "inches, the nearest 1/64 and what is to be added to it"}
NEAR_FACE = "near face seen"
DATUM = "datum corner: all figures run from the two edges that meet here"
KEY_NEAR = "bend line, up: bends toward the near face (seen)"
KEY_FAR = "bend line, down: bends toward the far face"
KEY_SIGHT_NEAR = "sight line, marked on the near face; triangles on the held side"
KEY_SIGHT_FAR = "sight line, marked on the far face; triangles on the held side"
KEY_AXIS = "only leads to a figure: no line to mark"
KEY_BREAK = "break lines: a stretch is left out"
SPLIT = (
    "Mark the sight lines only: they are drawn from the datum corner's side on. Bend lines are shown short, at the "
    "other end."
)
TURNED = "Turned a quarter clockwise: the left edge of the flat is at the top."
TRUE = "Other shapes than round, slot and rectangle: take them from the 1:1 drawing."

LINES, OPENINGS, CORNERS = "Lines of the flat", "Openings of the flat", "Corners of the flat"
LINE_HEADS = ("Bend", "Way", "Bend line at", "Tangent lines at")
SIGHT_HEADS = ("Order", "Sight line at", "Mark on", "Hold")
NO, X, Y, KIND, NAME, RADIUS = "No.", "x", "y", "Shape and size", "Name", "Edge to the next"
STRAIGHT = "straight"
MOST_FIGURES, MOST_RANGES = 12, 8
"""More figures, or more numbers and ranges of numbers, are counted instead of being named."""


def line_name(kind: str, label: str, order: int | None) -> str:
    """What stands at the figure of a line; ``order`` is its place in the order of bending.

    >>> line_name("sight", "A", 2), line_name("bend", "A", None)
    ('sight A (2)', 'bend A')
    """
    name = f"{kind} {words.harmless(label) or words.NO_LETTER}"
    return name if order is None else f"{name} ({order})"


def entry(figure: str, names: Sequence[str]) -> str:
    """A figure with the lines that have it."""
    return "  ".join((figure, ", ".join(names))) if names else figure


def heading(face: str, scale: float, unit: str, *, ordered: bool, cut: bool) -> str:
    """What the drawing is, in a line.

    >>> heading(NEAR_FACE, 0.5, "mm", ordered=True, cut=False)
    'Flat, near face seen. Scale 1 : 2. Figures in mm; number in brackets: order of bending.'
    """
    text = f"Flat, {face}. {scale_text(scale).capitalize()}{', cut short' if cut else ''}. Figures in {UNITS[unit]}"
    return f"{text}; number in brackets: order of bending." if ordered else f"{text}."


def corner_name(place: int) -> str:
    """Number of a corner as it stands on the flat."""
    return f"c{place}"


def straight_place(axis: int, figure: str) -> str:
    """Where an upright or level line lies."""
    return f"{'xy'[axis]} {figure}"


def slanted_place(start: tuple[str, str], end: tuple[str, str]) -> str:
    """Where a slanted line lies."""
    return f"({start[0]}, {start[1]}) to ({end[0]}, {end[1]})"


def shape_and_size(shape: str, figures: tuple[str, str], turn: float) -> str:
    """Shape and size of an opening; ``turn`` [deg] of the side that is named first.

    >>> shape_and_size("round", ("5", "5"), 0.0), shape_and_size("slot", ("4", "10"), 30.0)
    ('round 5', 'slot 4 x 10, turned 30°')
    >>> shape_and_size("other", ("4", "10"), 0.0)
    'other shape, 4 x 10 over all'
    """
    if shape == "round":
        return f"round {figures[0]}"
    both = f"{figures[0]} x {figures[1]}"
    if shape == "other":
        return f"other shape, {both} over all"
    return f"{shape} {both}" + (f", turned {number(turn)}°" if abs(turn) >= 0.05 else "")


def arc(radius: str, centre: tuple[str, str], hollow: bool) -> str:
    """An arc of the edge.

    >>> arc("5", ("10", "5"), False)
    'arc R 5 about (10, 5)'
    """
    return f"{'hollow ' if hollow else ''}arc R {radius} about ({centre[0]}, {centre[1]})"


def number_ranges(numbers: Sequence[int]) -> str:
    """Numbers in a row, runs of them joined.

    >>> number_ranges([1, 2, 3, 5])
    '1 to 3, 5'
    """
    runs: list[list[int]] = []
    for n in sorted(numbers):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) > 2 else ", ".join(map(str, r)) for r in runs)


def tables_only_note(kinds: Sequence[str]) -> str:
    """Which places stand in the tables alone.

    >>> tables_only_note(["openings", "corners", "bend lines"])
    'No room here for the figures of openings, corners and bend lines: they are in the tables.'
    """
    listed = f"{', '.join(kinds[:-1])} and {kinds[-1]}" if len(kinds) > 1 else kinds[0]
    return f"No room here for the figures of {listed}: they are in the tables."


def crowded_note(places: Sequence[tuple[int, str]]) -> str:
    """Figures of corners and openings that others are too near to.

    >>> crowded_note([(0, "12"), (0, "12.4"), (1, "3")])
    'Too near to others for a figure here, see the tables: x 12, 12.4; y 3.'
    """
    parts = [(axis, [figure for k, figure in places if k == axis]) for axis in (0, 1)]
    if len(places) > MOST_FIGURES:
        count = " and ".join(f"{len(some)} in {'xy'[axis]}" for axis, some in parts if some)
        return f"Too near to others for a figure here: {count}. The tables have them all."
    listed = "; ".join(straight_place(axis, ", ".join(some)) for axis, some in parts if some)
    return f"Too near to others for a figure here, see the tables: {listed}."


def _listed(kind: str, numbers: Sequence[int], letter: str = "") -> str:
    """Openings or corners by number, or how many there are; nothing for none."""
    if not numbers:
        return ""
    ranges = number_ranges(numbers)
    if ranges.count(",") >= MOST_RANGES:
        return f"{len(numbers)} {kind}"
    each = re.sub("[0-9]+", rf"{letter}\g<0>", ranges)
    return f"{kind} {each}"


def cut_out_note(openings: Sequence[int], corners: Sequence[int]) -> str:
    """What lies in a stretch that is not drawn.

    >>> cut_out_note([4, 5, 6], [])
    'Left out between the break lines, see the tables: openings 4 to 6.'
    """
    parts = [_listed("openings", openings), _listed("corners", corners, "c")]
    return f"Left out between the break lines, see the tables: {'; '.join(p for p in parts if p)}."


def unnumbered_note(openings: Sequence[int], corners: Sequence[int]) -> str:
    """What has no number on the drawing.

    >>> unnumbered_note([7], [2])
    'No room for the numbers of openings 7; corners c2. Openings count by x, then y; corners along the edge.'
    >>> unnumbered_note([3, 4], [])
    'No room for the numbers of openings 3, 4. Openings count by x, then y.'
    """
    parts = [_listed("openings", openings), _listed("corners", corners, "c")]
    rules = ["openings count by x, then y"] if openings else []
    rules += [f"corners {'' if openings else 'count '}along the edge"] if corners else []
    count = "; ".join(rules)
    return f"No room for the numbers of {'; '.join(p for p in parts if p)}. {count.capitalize()}."


def numbers_note(*, openings: bool, corners: bool) -> str:
    """What the numbers on the flat are.

    >>> numbers_note(openings=True, corners=True)
    'Numbers 1, 2, ... are openings, c1, c2, ... corners of the tables.'
    """
    parts = ["1, 2, ... are openings"] if openings else []
    parts += [f"c1, c2, ... {'' if openings else 'are '}corners"] if corners else []
    return f"Numbers {', '.join(parts)} of the tables."


def unlettered_note(names: Sequence[str]) -> str:
    """Lines that carry no letter on the drawing."""
    return f"No room to letter {', '.join(names)}: see the table."


def off_blank_note(labels: Sequence[str]) -> str:
    """Sight lines that lie beside the blank.

    >>> off_blank_note(["A"])
    'The sight line of bend A lies off the blank and is not drawn: see the table.'
    """
    return f"The sight line of bend {', '.join(labels)} lies off the blank and is not drawn: see the table."
