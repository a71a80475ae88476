"""All words of the templates, in one place."""

from __future__ import annotations

import re

from flatgen.paper.drawing import words as drawing_words

READ_FIRST = (
    "Read first: print at 100 %, then measure both bars with a steel rule. Off by more than {slack}: do not use this "
    "sheet, correct the printer (x: along the narrow side of the paper)."
)
READ_FIRST_ROLL = (
    "Read first: print at 100 %, then measure both bars with a steel rule. Off by more than {slack}: do not use this "
    "sheet, correct the printer (x: across the roll)."
)
READ_FIRST_PLOT = (
    "Read first: plot at 100 %, then measure both bars with a steel rule. Off by more than {slack}: do not use it."
)
SLACK_MM, SLACK_INCH = "0.3 mm", "0.012 in"
BAR_MM, BAR_INCH = "100 mm", "4 in"
NEAR, FAR = "near face", "far face"
NEAR_FACE = "Near face: mark continuous lines; dashed ones are for the far face."
NEAR_ONLY = "Near face: mark all lines."
FAR_FACE = (
    "Far face: the sheet turned over, left for right; mark its dashed lines; register marks lie on those of the near."
)
SIGHT = "Sight lines for {brake}, set-up {setup} ({file} {print}), part {part}: no bend lines, for no other brake."
BEND_LINES = "Lines in the middle of each bend, dotted tangent lines; part {part}."
REFUSED = "CAUTION: the order of bending CANNOT be bent so on this brake."
OFF = "No line for {bends}: off the metal; measure from the held edge, see the shop sheet."
UNLABELLED = "Without a label for want of room: {bends}; see the shop sheet."
FACT = "{metal}, {thickness}."
TAPE = (
    "Cut along chain lines, lay on the glue edges, marks together, tape. Measure with a steel rule: left to right "
    "{across}, bottom to top {up}, corner a to b {first}, c to d {second}; off by more than {slack}: tape again."
)
LONG = "Over 1 m: lay out long dimensions from the ordinates on the shop sheet, not from the paper."
CAUTION = "Caution: mark, never scribe. Deburr, wear gloves. Local rules come first."
CUT, GLUE = "cut here", "glue edge: {place} comes on top"
PLACE, SHORT_PLACE = "row {row}, column {column}", "row {row} column {column}"
WHOLE = "{face}: the whole template, sheet {number} of {total}"
SHEET = "{face}: {place}, sheet {number} of {total}"
CORNER = "corner {letter}"
TOO_WIDE = "the template is {size} across at the least, wider than the plotter takes ({room})"
USE_PDF = "plot on wider paper, or print the template as a PDF on sheets to tape together"
TITLE = "{name}: template at true scale"


def face(which: str) -> str:
    """The text for a face.

    >>> face("near")
    'near face'
    """
    return NEAR if which == "near" else FAR


def place(row: int, column: int, *, short: bool = False) -> str:
    """The place of a sheet.

    >>> place(1, 2)
    'row 1, column 2'
    """
    return (SHORT_PLACE if short else PLACE).format(row=row, column=column)


def sheet(which: str, row: int, column: int, number: int, total: int) -> str:
    """The number of a sheet, one of several.

    >>> sheet("near face", 1, 2, 2, 6)
    'near face: row 1, column 2, sheet 2 of 6'
    """
    return SHEET.format(face=which, place=place(row, column), number=number, total=total)


def whole(number: int, total: int, which: str = NEAR) -> str:
    """The number of a sheet that shows all of a face.

    >>> whole(1, 1)
    'near face: the whole template, sheet 1 of 1'
    """
    return WHOLE.format(face=which, number=number, total=total)


def longest_place(size: float) -> str:
    """The longest sheet number for a blank of a ``size`` [mm], to reserve room.

    >>> longest_place(600.0)
    'near face: row 8, column 8, sheet 88 of 88'
    """
    few = size < 1000.0
    return sheet(NEAR, 8, 8, 88, 88) if few else sheet(NEAR, 88, 88, 888, 888)


SIDES = {
    "left": "left of the line",
    "right": "right of the line",
    "above": "above the line",
    "below": "below the line",
    "": "",
}
"""Where the held side lies."""


def long_label(text: str, which: str, side: str = "") -> str:
    """A label with the place of its held side and the face of its line.

    >>> long_label("1  bend A up 90°, hold web", "near", "above")
    '1  bend A up 90°, hold web (above the line), near face'
    """
    return f"{text} ({SIDES[side]}), {face(which)}" if side else f"{text}, {face(which)}"


def short_label(number: int | None, letter: str, which: str, held: str, side: str) -> str:
    """Order, letter, face and held side of a line.

    >>> short_label(1, "A", "near", "web", "right"), short_label(None, "A", "far", "", "")
    ('1 A near, hold web right', 'A far')
    """
    text = least_label(number, letter, which)
    if not held:
        return text
    return f"{text}, hold {drawing_words.harmless(held)}{f' {side}' if side else ''}"


def least_label(number: int | None, letter: str, which: str) -> str:
    """Order, letter and face of a line.

    >>> least_label(2, "B", "far")
    '2 B far'
    """
    name = drawing_words.harmless(letter) or drawing_words.NO_LETTER
    return f"{name} {which}" if number is None else f"{number} {name} {which}"


def with_hard_blanks(text: str) -> str:
    """Text with no-break spaces between numbers and units.

    >>> with_hard_blanks("off by 0.3 mm") == "off by 0.3" + chr(160) + "mm"
    True
    """
    return re.sub(r"(?<=[0-9]) (?=(?:mm|in|%)\b|%)", "\u00a0", text)
