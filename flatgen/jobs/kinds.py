"""Kinds of files that can be written of a part, and how their names end."""

from __future__ import annotations

from flatgen.core.errors import Fault, InputRefused

KINDS = {
    "dxf": "flat.dxf",
    "cut": "cut.dxf",
    "bench": "bench.dxf",
    "step": "formed.step",
    "svg": "flat.svg",
    "png": "flat.png",
    "layout": "layout.pdf",
    "plotter": "layout.plt",
    "sheet": "sheet.pdf",
    "sheet-dxf": "sheet.dxf",
    "sheet-svg": "sheet.svg",
    "sheet-png": "sheet.png",
    "json": "json",
}
"""What can be written, and the end of each file's name. Pictures of a sheet of several pages carry their number."""
USUAL = ("dxf", "step", "svg", "layout", "sheet", "json")
"""What is written unless asked otherwise, and ``bench`` where a brake is known."""

SHEETS = frozenset({"sheet", "sheet-dxf", "sheet-svg", "sheet-png"})
"""Kinds that show the formed part in views."""


def chosen_kinds(only: str, also: str) -> tuple[str, ...]:
    """Kinds that are asked for: those of ``only``, else the usual ones, and those of ``also``.

    :raises InputRefused: FG005 where one is not known.
    """
    kinds = kinds_of(only) if only else USUAL
    return kinds + (kinds_of(also) if also else ())


def kinds_of(text: str) -> tuple[str, ...]:
    """Kinds from a list such as ``dxf,step``.

    :raises InputRefused: FG005 where one is not known.
    """
    names = [n.strip().lower() for n in text.split(",") if n.strip()]
    wrong = [n for n in names if n not in KINDS]
    if wrong or not names:
        text_of_fault = f"unknown kind of file {wrong[0]!r}" if wrong else "no kind of file is named"
        raise InputRefused(Fault("FG005", "--only", text_of_fault, f"choose among {', '.join(KINDS)}"))
    return tuple(dict.fromkeys(names))
