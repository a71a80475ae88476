"""Paper that drawings are printed on: sheets after ISO 216 and ASME Y14.1, and rolls.

Sizes are those of the standards (ISO 216: A4 210 x 297 mm; Letter 8 1/2 x 11 in, Tabloid 11 x 17 in), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.units import NotALength, parse_length

INCH = 25.4
PRINTER_SCALES = (95.0, 105.0)
"""What a printer may make of 100, so that it can be corrected: farther off something else is wrong [%]."""
SHEETS = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (8.5 * INCH, 11.0 * INCH),
    "Tabloid": (11.0 * INCH, 17.0 * INCH),
}
ROLL = (150.0, 2000.0)
"""Least and greatest width of a roll [mm]."""


@dataclass(frozen=True)
class Paper:
    """``narrow`` and ``long`` side [mm]; ``long`` is None for a roll, which is cut to any length."""

    name: str
    narrow: float
    long: float | None


A4 = Paper("A4", *SHEETS["A4"])


def paper_of(text: str, option: str = "--paper") -> Paper:
    """Paper by its name, or a roll by its width.

    Parameters
    ----------
    text : str
        Such as ``A3``, ``Letter`` or ``roll:610 mm``; a number alone is in millimetres, [-]
    option : str
        What asked for it, for messages, [-]

    Returns
    -------
    Paper
        Its sides, [mm]

    Raises
    ------
    InputRefused
        FG005: no such paper, or a roll that is none.

    Examples
    --------
    >>> paper_of("a4")
    Paper(name='A4', narrow=210.0, long=297.0)
    >>> paper_of("roll:24 in").narrow
    609.6
    """
    said = text.strip()
    known = {name.casefold(): name for name in SHEETS}
    if said.casefold() in known:
        name = known[said.casefold()]
        return Paper(name, *SHEETS[name])
    head, _, size = said.partition(":")
    if head.strip().casefold() == "roll" and size.strip():
        return Paper(f"roll {size.strip()}", _roll(size.strip(), option), None)
    remedy = f"choose among {', '.join(SHEETS)}, or name a roll by its width, such as roll:610"
    raise InputRefused(Fault("FG005", option, f"no paper is called {said!r}", remedy))


def _roll(size: str, option: str) -> float:
    try:
        width = parse_length(size, default_unit="mm").value
    except NotALength as why:
        remedy = "write it as roll:610 or roll:24 in"
        raise InputRefused(Fault("FG005", option, f"width of a roll: {why.text}", remedy)) from why
    if not ROLL[0] <= width <= ROLL[1]:
        text = f"a roll of {width:g} mm is not between {ROLL[0]:g} and {ROLL[1]:g} mm"
        raise InputRefused(Fault("FG005", option, text, "give the width of the paper in the plotter"))
    return width
