"""Options that several commands share: how they are written, and what help says of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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
Only = Annotated[
    str, typer.Option("--only", metavar="KINDS", help="write only these: dxf, cut, bench, step, svg, png, json")
]
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
