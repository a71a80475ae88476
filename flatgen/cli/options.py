"""Options that several commands share: how they are written, and what help says of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, get_args

import typer

from flatgen.core.errors import Fault, InputRefused
from flatgen.core.units import NotALength, parse_length
from flatgen.jobs.result import KINDS, Face, OnPaper, Projection
from flatgen.paper.drawing.bench import Marks
from flatgen.paper.drawing.ink import PRINTER_SCALES, Paper, paper_of

Profiles = Annotated[list[Path], typer.Argument(metavar="PROFILE.toml ...", help="profile definitions")]

Tables = Annotated[
    list[Path] | None,
    typer.Option(
        "--metals",
        metavar="FILE",
        help="your own metal table; metals.toml beside a profile is found by itself",
    ),
]

Folder = Annotated[Path, typer.Option("--out", metavar="DIR", help="folder; each part has its own in it")]

Parts = Annotated[list[Path], typer.Argument(metavar="PART.step ...", help="STEP files of formed parts")]

Only = Annotated[str, typer.Option("--only", metavar="KINDS", help="write only these: " + ", ".join(KINDS))]

Also = Annotated[str, typer.Option("--also", metavar="KINDS", help="write these as well, such as cut,png")]

Hold = Annotated[
    str, typer.Option("--hold", metavar="A=LEG,...", help="leg under the clamp bar: its name, or its number")
]

Order = Annotated[str, typer.Option("--order", metavar="B,A,...", help="order of bending, by labels")]

ShopFile = Annotated[
    Path | None,
    typer.Option(
        "--shop", metavar="FILE", help="the shop file; shop.toml beside a profile or above it is found by itself"
    ),
]

SetUpName = Annotated[
    str,
    typer.Option(
        "--set-up", metavar="NAME,...", help="set-up, or several to change between, or any; the first by default"
    ),
]

AsFormed = Annotated[
    bool, typer.Option("--as-formed", help="the flat for the inside radii that the brake gives, not those asked for")
]

Version = Annotated[str, typer.Option("--dxf-version", metavar="VERSION", help="R12 to R2018")]

Inches = Annotated[bool, typer.Option("--inches", help="DXF in inches instead of millimetres")]

AsJson = Annotated[bool, typer.Option("--json", help="print the machine-readable answer, and nothing else")]

PaperName = Annotated[
    str, typer.Option("--paper", metavar="PAPER", help="of the template: A4 to A0, Letter, Tabloid, or roll:WIDTH")
]

SheetPaper = Annotated[
    str, typer.Option("--sheet-paper", metavar="PAPER", help="of the shop sheet; that of the template, or A4")
]

PrinterScale = Annotated[
    str,
    typer.Option(
        "--printer-scale", metavar="X,Y", help="what your printer makes of 100 across and along, as 100.3,99.8"
    ),
]

Faces = Annotated[
    str, typer.Option("--faces", metavar="near,far", help="templates: of the near face, the far face mirrored, or both")
]

ProjectionName = Annotated[
    str, typer.Option("--projection", metavar="first|third", help="how the views of the formed part are arranged")
]

MarksAs = Annotated[
    str,
    typer.Option("--marks", metavar="lines|ticks|none", help="sight lines of the bench drawing: whole, at the edges"),
]

PlotterWidth = Annotated[
    str, typer.Option("--plotter-width", metavar="LENGTH", help="what your plotter draws across its roll, as 600 mm")
]

InchAs = Annotated[str, typer.Option("--inch-as", metavar="decimal|64", help="inches of the shop sheet, with --inches")]

OpenIt = Annotated[bool, typer.Option("--open", help="show the shop sheet with the system's viewer")]

PLOTTER = (100.0, 3000.0)
"""Least and greatest width that a plotter draws [mm]."""


def on_paper(
    paper: str, sheet_paper: str, printer_scale: str, faces: str, projection: str, marks: str, plotter: str, inch: str
) -> OnPaper:
    """How drawings are put on paper.

    :param paper, sheet_paper: names of paper; the second may be empty
    :param printer_scale: ``100.3,99.8``: what the printer makes of 100 across and along
    :param faces, projection, marks: ``near,far``; ``first`` or ``third``; ``lines``, ``ticks`` or ``none``
    :param plotter: width that the plotter draws, empty where it is not known
    :param inch: ``decimal`` or ``64``
    :raises InputRefused: FG005 for what cannot be.
    """
    return OnPaper(
        paper=paper_of(paper),
        sheet_paper=_sheet(sheet_paper) if sheet_paper.strip() else None,
        printer_scale=_scales(printer_scale),
        faces=_faces(faces),
        projection=_one_of("--projection", projection, get_args(Projection)),
        marks=_one_of("--marks", marks, get_args(Marks)),
        plotter_width=_width(plotter) if plotter.strip() else None,
        fractions=_one_of("--inch-as", inch, ("decimal", "64")) == "64",
    )


def _sheet(name: str) -> Paper:
    found = paper_of(name, "--sheet-paper")
    if found.long is None:
        text, remedy = "a roll is no paper for the shop sheet", "choose among A4, A3, A2, A1, A0, Letter, Tabloid"
        raise InputRefused(Fault("FG005", "--sheet-paper", text, remedy))
    return found


def _one_of(option: str, said: str, known: tuple[Any, ...]) -> Any:
    found = said.strip().casefold()
    if found not in known:
        raise InputRefused(Fault("FG005", option, f"{said!r} is none", f"choose among {', '.join(known)}"))
    return found


def _faces(said: str) -> tuple[Face, ...]:
    named = [part.strip().casefold() for part in said.split(",") if part.strip()]
    wrong = [n for n in named if n not in get_args(Face)]
    if wrong or not named:
        text = f"{wrong[0]!r} is no face of the sheet" if wrong else "no face is named"
        raise InputRefused(Fault("FG005", "--faces", text, "write near, far, or near,far"))
    return tuple(f for f in get_args(Face) if f in named)


def _scales(said: str) -> tuple[float, float]:
    """Both percentages; one number is for both."""
    parts = [p.strip().removesuffix("%").strip() for p in said.split(",")]
    remedy = "print the page, measure the check bars, and write what 100 came out as: --printer-scale 100.3,99.8"
    try:
        found = [float(p) for p in parts]
    except ValueError:
        raise InputRefused(Fault("FG005", "--printer-scale", f"{said!r} is no pair of numbers", remedy)) from None
    if len(found) == 1:
        found *= 2
    if len(found) != 2 or not all(PRINTER_SCALES[0] <= f <= PRINTER_SCALES[1] for f in found):
        text = f"{said!r} is not two numbers between {PRINTER_SCALES[0]:g} and {PRINTER_SCALES[1]:g}"
        raise InputRefused(Fault("FG005", "--printer-scale", text, remedy))
    return found[0], found[1]


def _width(said: str) -> float:
    try:
        found = parse_length(said, default_unit="mm").value
    except NotALength as why:
        raise InputRefused(Fault("FG005", "--plotter-width", why.text, "write it as 600 or 24 in")) from why
    if not PLOTTER[0] <= found <= PLOTTER[1]:
        text = f"{found:g} mm is not between {PLOTTER[0]:g} and {PLOTTER[1]:g} mm"
        raise InputRefused(Fault("FG005", "--plotter-width", text, "give the width that the plotter draws"))
    return found
