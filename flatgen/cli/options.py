"""Options that several commands share: how they are written, and what help says of them."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_args

import typer

from flatgen.core.errors import Fault, InputRefused
from flatgen.jobs.kinds import KINDS, chosen_kinds

if TYPE_CHECKING:
    from flatgen.jobs.result import Face, OnPaper, Options
    from flatgen.paper.drawing.ink import Paper

Profiles = Annotated[list[Path], typer.Argument(metavar="PROFILE.toml ...", help="profile definitions")]
Tables = Annotated[
    list[Path] | None,
    typer.Option(
        "--metals", metavar="FILE", help="your own metal table; metals.toml beside a profile is found by itself"
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


@dataclass(frozen=True)
class Drawing:
    """What all commands that draw are asked: where to, whether to show it, metals, what to write and how."""

    out: Path
    shown: bool
    metals: tuple[Path, ...]
    options: Options


def drawing_command(command: Callable[..., None]) -> Callable[..., None]:
    """A command whose argument ``drawing`` stands for all options of drawings, described once."""
    shared = inspect.signature(_drawing, eval_str=True).parameters
    parameters: list[inspect.Parameter] = []
    for parameter in inspect.signature(command, eval_str=True).parameters.values():
        parameters += shared.values() if parameter.name == "drawing" else [parameter]

    def call(**values: Any) -> None:
        drawing = _drawing(**{name: values.pop(name) for name in shared})
        command(**values, drawing=drawing)

    call.__name__, call.__doc__ = command.__name__, command.__doc__
    call.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    call.__annotations__ = {p.name: p.annotation for p in parameters}
    return call


def _drawing(
    out: Folder = Path("out"),
    only: Only = "",
    also: Also = "",
    dxf_version: Version = "R2010",
    inches: Inches = False,
    inch_as: InchAs = "decimal",
    paper: PaperName = "A4",
    sheet_paper: SheetPaper = "",
    printer_scale: PrinterScale = "100,100",
    faces: Faces = "near",
    projection: ProjectionName = "first",
    marks: MarksAs = "lines",
    plotter_width: PlotterWidth = "",
    shown: OpenIt = False,
    metals: Tables = None,
    shop: ShopFile = None,
    set_up: SetUpName = "",
    hold: Hold = "",
    order: Order = "",
) -> Drawing:
    """All options of drawings, read; FG005 for what cannot be."""
    from flatgen.jobs.result import Options
    from flatgen.paper.drawing.document import VERSIONS

    on_paper = _on_paper(paper, sheet_paper, printer_scale, faces, projection, marks, plotter_width, inch_as)
    kinds, version = chosen_kinds(only, also), dxf_version.upper()
    if version not in VERSIONS:
        known = ", ".join(VERSIONS)
        raise InputRefused(Fault("FG005", "--dxf-version", f"{dxf_version!r} is none", f"choose among {known}"))
    options = Options(kinds, version, inches, shop, set_up, hold, order, on_paper=on_paper)
    return Drawing(out, shown, tuple(metals or ()), options)


def _on_paper(
    paper: str, sheet_paper: str, printer_scale: str, faces: str, projection: str, marks: str, plotter: str, inch: str
) -> OnPaper:
    from flatgen.jobs.result import OnPaper, Projection
    from flatgen.paper.drawing.bench import Marks
    from flatgen.paper.drawing.ink import parse_paper

    return OnPaper(
        paper=parse_paper(paper),
        sheet_paper=_sheet(sheet_paper) if sheet_paper.strip() else None,
        printer_scale=_scales(printer_scale),
        faces=_faces(faces),
        projection=_one_of("--projection", projection, get_args(Projection)),
        marks=_one_of("--marks", marks, get_args(Marks)),
        plotter_width=_width(plotter) if plotter.strip() else None,
        fractions=_one_of("--inch-as", inch, ("decimal", "64")) == "64",
    )


def _sheet(name: str) -> Paper:
    from flatgen.paper.drawing.ink import parse_paper

    found = parse_paper(name, "--sheet-paper")
    if found.long is None:
        text, remedy = "a roll is no paper for the shop sheet", "choose among A4, A3, A2, A1, A0, Letter, Tabloid"
        raise InputRefused(Fault("FG005", "--sheet-paper", text, remedy))
    return found


def _one_of(option: str, text: str, known: tuple[Any, ...]) -> Any:
    name = text.strip().casefold()
    if name not in known:
        raise InputRefused(Fault("FG005", option, f"{text!r} is none", f"choose among {', '.join(known)}"))
    return name


def _faces(text: str) -> tuple[Face, ...]:
    from flatgen.jobs.result import Face

    named = [part.strip().casefold() for part in text.split(",") if part.strip()]
    wrong = [n for n in named if n not in get_args(Face)]
    if wrong or not named:
        fault = f"{wrong[0]!r} is no face of the sheet" if wrong else "no face is named"
        raise InputRefused(Fault("FG005", "--faces", fault, "write near, far, or near,far"))
    return tuple(f for f in get_args(Face) if f in named)


def _scales(text: str) -> tuple[float, float]:
    """Both percentages; one number is for both."""
    from flatgen.paper.drawing.ink import PRINTER_SCALES

    parts = [p.strip().removesuffix("%").strip() for p in text.split(",")]
    remedy = "print the page, measure the check bars, and write what 100 came out as: --printer-scale 100.3,99.8"
    try:
        scales = [float(p) for p in parts]
    except ValueError:
        raise InputRefused(Fault("FG005", "--printer-scale", f"{text!r} is no pair of numbers", remedy)) from None
    if len(scales) == 1:
        scales *= 2
    if len(scales) != 2 or not all(PRINTER_SCALES[0] <= s <= PRINTER_SCALES[1] for s in scales):
        fault = f"{text!r} is not two numbers between {PRINTER_SCALES[0]:g} and {PRINTER_SCALES[1]:g}"
        raise InputRefused(Fault("FG005", "--printer-scale", fault, remedy))
    return scales[0], scales[1]


def _width(text: str) -> float:
    from flatgen.core.units import NotALength, parse_length

    try:
        width = parse_length(text, default_unit="mm").value
    except NotALength as why:
        raise InputRefused(Fault("FG005", "--plotter-width", why.text, "write it as 600 or 24 in")) from why
    if not PLOTTER[0] <= width <= PLOTTER[1]:
        fault = f"{width:g} mm is not between {PLOTTER[0]:g} and {PLOTTER[1]:g} mm"
        raise InputRefused(Fault("FG005", "--plotter-width", fault, "give the width that the plotter draws"))
    return width
