"""Options that several commands share: how they are written, and what help says of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from flatgen.jobs.kinds import KINDS

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
