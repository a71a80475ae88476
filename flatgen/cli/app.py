"""The commands: options in, a readable answer out, an exit status.

0 done; 1 the part breaks a shop rule (files are written, with the caution on them); 2 input refused
(nothing written); 3 a geometric identity failed (a bug; nothing written).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from flatgen import __version__
from flatgen.cli import brake as shop_commands
from flatgen.cli import strip as strip_commands
from flatgen.cli.options import (
    Also,
    AsFormed,
    AsJson,
    Faces,
    Folder,
    Hold,
    InchAs,
    Inches,
    MarksAs,
    Only,
    OpenIt,
    Order,
    PaperName,
    Parts,
    PlotterWidth,
    PrinterScale,
    Profiles,
    ProjectionName,
    SetUpName,
    SheetPaper,
    ShopFile,
    Tables,
    Version,
)
from flatgen.cli.terminal import (
    Row,
    declined,
    each,
    new_console,
    open_sheet,
    own_fault,
    own_tables,
    print_json,
    print_what_the_terminal_can,
    quoted,
    say,
)
from flatgen.core.errors import Fault, FlatgenError, InputRefused
from flatgen.core.memory import no_search_at_the_end

if TYPE_CHECKING:
    from flatgen.jobs.result import Made, Options

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From the drawing of a bent sheet-metal part to the flat blank that is cut once.",
)


def main() -> None:
    """The program: whatever happens, a person sees words and not a traceback."""
    print_what_the_terminal_can()
    no_search_at_the_end()
    try:
        app()
    except KeyboardInterrupt:
        say("stopped; files are whole or not there")
        sys.exit(130)
    except FlatgenError as error:
        say(str(error))
        sys.exit(error.exit_status)
    except BrokenPipeError:
        sys.exit(0)
    except Exception as error:
        say(str(own_fault(error)))
        sys.exit(3)


@app.callback(invoke_without_command=True)
def _start(version: Annotated[bool, typer.Option("--version", help="print the version")] = False) -> None:
    if version:
        typer.echo(f"flatgen {__version__}")
        raise typer.Exit


@app.command()
def start(
    name: Annotated[str, typer.Argument(help="name of the new part; with --shop of the shop file, if not shop")] = "",
    shop: Annotated[bool, typer.Option("--shop", help="write a shop file, which describes your brake")] = False,
) -> None:
    """Write a commented profile definition, or a shop file, to begin from; never overwrites."""
    from importlib.resources import files

    from flatgen.core.files import NotAName, safe_name, write_new

    if not name and not shop:
        raise InputRefused(Fault("FG006", "NAME", "the new part needs a name", "write: flatgen start NAME"))
    try:
        stem = safe_name(name.removesuffix(".toml") or "shop")
    except NotAName as error:
        raise InputRefused(Fault("FG006", "NAME", error.text, error.remedy)) from error
    path = Path(f"{stem}.toml")
    room, sample = ("flatgen.brake", "start_shop.toml") if shop else ("flatgen.definition", "start.toml")
    write_new(path, files(room).joinpath(sample).read_bytes())
    typer.echo(f"wrote {path}\n{_now(path, shop=shop)}")


def _now(path: Path, *, shop: bool) -> str:
    """What to do with a file that was begun."""
    if not shop:
        return f"now: flatgen draw {quoted(path)}"
    named = "" if path.name == "shop.toml" else f" --shop {quoted(path)}"
    return f"now: measure your brake and put its numbers in, then: flatgen plan PROFILE.toml{named}"


@app.command()
def draw(
    profiles: Profiles,
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
    as_formed: AsFormed = False,
    as_json: AsJson = False,
) -> None:
    """Develop parts and write their drawings into DIR/NAME/."""
    from flatgen.cli.options import on_paper
    from flatgen.jobs import draw as job

    drawn_as = on_paper(paper, sheet_paper, printer_scale, faces, projection, marks, plotter_width, inch_as)
    options = _options(only, also, dxf_version, inches)
    options = replace(options, shop=shop, set_up=set_up, hold=hold, order=order, as_formed=as_formed)
    options = replace(options, on_paper=drawn_as)
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        _claim(names, path.stem, str(path), "draw")
        table, own = job.metals_beside(path, tuple(metals or ()))
        done = job.draw(path, out / path.stem, options, table)
        yield _made(done, own)
        if shown:
            open_sheet(done.files)

    each(profiles, one, as_json)


@app.command()
def unfold(
    parts: Parts,
    metal: Annotated[str, typer.Option("--metal", metavar="METAL", help="the metal: one of flatgen metals")] = "",
    k: Annotated[str, typer.Option("--k", metavar="K", help="K of all bends; goes before that of the metal")] = "",
    near: Annotated[
        str,
        typer.Option("--near", metavar="SIDE", help="near face: auto, +x, -x, +y, -y, +z, -z, or the number of a face"),
    ] = "auto",
    inside_radius: Annotated[
        str, typer.Option("--inside-radius", metavar="LENGTH", help='what sharp corners will be bent to, as "3 mm"')
    ] = "",
    skip_formed: Annotated[
        bool, typer.Option("--skip-formed", help="unfold around stretched forms and mark their outline")
    ] = False,
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
    as_json: AsJson = False,
) -> None:
    """Unfold formed parts that came as STEP files, and write their drawings into DIR/NAME/."""
    from flatgen.cli.options import on_paper
    from flatgen.jobs import draw as job
    from flatgen.jobs import unfold as incoming
    from flatgen.jobs.result import SHEETS
    from flatgen.unfolding.received.request import Asked

    drawn_as = on_paper(paper, sheet_paper, printer_scale, faces, projection, marks, plotter_width, inch_as)
    options = _options(only, also, dxf_version, inches)
    options = replace(options, shop=shop, set_up=set_up, hold=hold, order=order, on_paper=drawn_as)
    tables = tuple(metals or ())
    asked = Asked(metal, k, near, inside_radius, skip_formed, "step" in options.kinds, bool(SHEETS & {*options.kinds}))
    in_force = {folder: job.metals_beside(folder / "any", tables) for folder in {p.parent for p in parts}}
    requests = {folder: asked.request(table) for folder, (table, _) in in_force.items()}  # before a file is opened
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        own = in_force[path.parent][1] if metal else ()
        for found in incoming.receive(path, requests[path.parent], keeper, options):
            try:
                if isinstance(found, incoming.Declined):
                    raise found.error
                _claim(names, found.name, found.received.source.where, "unfold")
                done = incoming.draw_received(found, out / found.name, options, path.parent)
                yield _made(done, own)
                if shown:
                    open_sheet(done.files)
            except FlatgenError as error:
                yield declined(found.name, error)
            except Exception as error:  # a bug of ours in one solid must not lose the others
                yield declined(found.name, FlatgenError(own_fault(error, found.name)), 3)

    with incoming.keeper() as keeper:
        each(parts, one, as_json)


@app.command()
def check(profiles: Profiles, out: Folder = Path("out"), metals: Tables = None, as_json: AsJson = False) -> None:
    """Say what is wrong with parts, and whether their drawings in DIR are out of date; write nothing."""
    from flatgen.core.units import in_mm_and_inch
    from flatgen.definition.closed_form import develop
    from flatgen.jobs import draw as job
    from flatgen.jobs import record
    from flatgen.jobs.check import checked, outdated
    from flatgen.openings.judge import watch_closed

    def one(path: Path) -> Iterator[Row]:
        table, own = job.metals_beside(path, tuple(metals or ()))
        read = checked(path, table)
        profile = read.profile
        closed = develop(profile)
        width = closed.width
        seen = watch_closed(profile, closed)
        told = profile.findings + read.findings + seen.findings + outdated(profile, out / path.stem)

        def show(console: Any) -> None:
            from flatgen.cli import print_part as answer
            from flatgen.cli import print_part as answer_schedule

            own_tables(console, own)
            lines = [in_mm_and_inch((low + high) / 2) for low, high in closed.zones]
            area = record.net_area(profile, width, seen)
            uncut = bool(profile.cuts)
            answer.part(console, profile, width, profile.length, area, lines, seen.rows, told, (), uncut=uncut)
            if read.expected is not None:
                answer_schedule.in_short(console, read.expected)

        broken = any(f.severity == "caution" for f in told)
        yield int(broken), record.checked(profile, width, seen, told, read.expected), show

    each(profiles, one, as_json)


@app.command()
def metals(
    metal: Annotated[str, typer.Argument(help="show one metal with all figures and sources")] = "",
    tables: Tables = None,
    as_json: AsJson = False,
) -> None:
    """The metals known, their figures, the source of each."""
    from dataclasses import asdict

    from flatgen.cli import print_part as answer
    from flatgen.jobs import draw as job
    from flatgen.metal.allowance import NotUsable
    from flatgen.metal.metals import find_metal

    known, own = job.metals_beside(Path("metals.toml"), tuple(tables or ()))
    try:
        chosen = [find_metal(known, metal)] if metal else list(known.values())
    except NotUsable as error:
        raise InputRefused(Fault("FG030", "METAL", error.text, error.remedy)) from error
    if as_json:
        print_json([asdict(m) for m in chosen])
        return
    console = new_console()
    own_tables(console, own)
    answer.metal_sheet(console, chosen[0]) if metal else answer.metal_list(console, chosen)


app.command()(shop_commands.plan)
app.command()(shop_commands.capacity)
app.command()(strip_commands.strip)
app.command()(strip_commands.learn)
app.command()(strip_commands.learned)


def _options(only: str, also: str, dxf_version: str, inches: bool) -> Options:
    """What to write, from the options that all drawing commands share."""
    from flatgen.jobs.result import Options, chosen
    from flatgen.paper.drawing.document import VERSIONS

    kinds = chosen(only, also)
    if dxf_version.upper() not in VERSIONS:
        raise InputRefused(
            Fault("FG005", "--dxf-version", f"{dxf_version!r} is none", f"choose among {', '.join(VERSIONS)}")
        )
    return Options(kinds, dxf_version.upper(), inches)


def _made(done: Made, own: tuple[Path, ...]) -> Row:
    """The answer of a part that was drawn."""

    def show(console: Any) -> None:
        from flatgen.cli import print_part as answer
        from flatgen.definition.part import near_face

        own_tables(console, own)
        files = [str(f) for f in done.files]
        flat = done.flat
        lines = answer.lines_of(flat)
        rows, told = done.watched.rows, done.findings
        near = near_face(flat) if done.part.source else ""
        answer.part(
            console,
            done.part,
            flat.width,
            flat.length,
            flat.area,
            lines,
            rows,
            told,
            files,
            near=near,
            schedule=done.schedule,
        )

    return done.exit_status, done.record(), show


def _claim(names: dict[str, str], name: str, where: str, command: str) -> None:
    """Refuse a second part of the same name: its files would replace the first one's."""
    key = name.casefold()
    if key in names:
        text = f"its files would be named {name}, as those of {names[key]} are in this call"
        remedy = f"rename one of the files, or {command} it in a call of its own with --out"
        raise InputRefused(Fault("FG008", where, text, remedy))
    names[key] = where
