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

from flatgen.cli import brake, strip
from flatgen.cli.options import AsFormed, AsJson, Drawing, Folder, Parts, Profiles, Tables, drawing_command
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
from flatgen.core.garbage_collection import skip_gc_at_exit
from flatgen.core.version import __version__

if TYPE_CHECKING:
    from flatgen.jobs.result import Result

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From the drawing of a bent sheet-metal part to the flat blank that is cut once.",
)


def main() -> None:
    """The program: whatever happens, a person sees words and not a traceback."""
    print_what_the_terminal_can()
    skip_gc_at_exit()
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
@drawing_command
def draw(profiles: Profiles, drawing: Drawing, as_formed: AsFormed = False, as_json: AsJson = False) -> None:
    """Develop parts and write their drawings into DIR/NAME/."""
    from flatgen.jobs import draw as job

    options = replace(drawing.options, as_formed=as_formed)
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        _claim(names, path.stem, str(path), "draw")
        table, own = job.metals_beside(path, drawing.metals)
        result = job.draw(path, drawing.out / path.stem, options, table)
        yield _answer(result, own)
        if drawing.shown:
            open_sheet(result.files)

    each(profiles, one, as_json)


@app.command()
@drawing_command
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
    *,
    drawing: Drawing,
    as_json: AsJson = False,
) -> None:
    """Unfold formed parts that came as STEP files, and write their drawings into DIR/NAME/."""
    from flatgen.jobs import unfold as job
    from flatgen.jobs.draw import metals_beside
    from flatgen.jobs.kinds import SHEETS
    from flatgen.unfolding.received.request import UnfoldOptions

    options = drawing.options
    step, views = "step" in options.kinds, bool(SHEETS & {*options.kinds})
    unfolding = UnfoldOptions(metal, k, near, inside_radius, skip_formed, step, views)
    tables = {folder: metals_beside(folder / "any", drawing.metals) for folder in {p.parent for p in parts}}
    requests = {folder: unfolding.request(table) for folder, (table, _) in tables.items()}  # before a file is opened
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        own = tables[path.parent][1] if metal else ()
        for solid in job.receive(path, requests[path.parent], keeper, options):
            try:
                if isinstance(solid, job.RefusedSolid):
                    raise solid.error
                _claim(names, solid.name, solid.received.source.where, "unfold")
                result = job.draw_received(solid, drawing.out / solid.name, options, path.parent)
                yield _answer(result, own)
                if drawing.shown:
                    open_sheet(result.files)
            except FlatgenError as error:
                yield declined(solid.name, error)
            except Exception as error:  # a bug of ours in one solid must not lose the others
                yield declined(solid.name, FlatgenError(own_fault(error, solid.name)), 3)

    with job.keeper() as keeper:
        each(parts, one, as_json)


@app.command()
def check(profiles: Profiles, out: Folder = Path("out"), metals: Tables = None, as_json: AsJson = False) -> None:
    """Say what is wrong with parts, and whether their drawings in DIR are out of date; write nothing."""
    from flatgen.core.units import in_mm_and_inch
    from flatgen.definition.closed_form import develop
    from flatgen.jobs import draw as job
    from flatgen.jobs import record
    from flatgen.jobs.check import check_definition, outdated_findings
    from flatgen.openings.judge import judge_closed

    def one(path: Path) -> Iterator[Row]:
        table, own = job.metals_beside(path, tuple(metals or ()))
        read = check_definition(path, table)
        profile = read.profile
        closed = develop(profile)
        width = closed.width
        seen = judge_closed(profile, closed)
        told = profile.findings + read.findings + seen.findings + outdated_findings(profile, out / path.stem)

        def show(console: Any) -> None:
            from flatgen.cli import print_part

            own_tables(console, own)
            lines = [in_mm_and_inch((low + high) / 2) for low, high in closed.zones]
            area = record.net_area(profile, width, seen)
            uncut = bool(profile.cuts)
            print_part.summary(console, profile, width, profile.length, area, lines, seen.rows, told, (), uncut=uncut)
            if read.expected is not None:
                print_part.in_short(console, read.expected)

        broken = any(f.severity == "caution" for f in told)
        yield int(broken), record.check_record(profile, width, seen, told, read.expected), show

    each(profiles, one, as_json)


@app.command()
def metals(
    metal: Annotated[str, typer.Argument(help="show one metal with all figures and sources")] = "",
    tables: Tables = None,
    as_json: AsJson = False,
) -> None:
    """The metals known, their figures, the source of each."""
    from dataclasses import asdict

    from flatgen.cli import print_part
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
    print_part.metal_sheet(console, chosen[0]) if metal else print_part.metal_list(console, chosen)


app.command()(brake.plan)
app.command()(brake.capacity)
app.command()(strip.strip)
app.command()(strip.learn)
app.command()(strip.learned)


def _answer(result: Result, own: tuple[Path, ...]) -> Row:
    """The answer of a part that was drawn."""

    def show(console: Any) -> None:
        from flatgen.cli import print_part

        own_tables(console, own)
        print_part.drawn(console, result)

    return result.exit_status, result.record(), show


def _claim(names: dict[str, str], name: str, where: str, command: str) -> None:
    """Refuse a second part of the same name: its files would replace the first one's."""
    key = name.casefold()
    if key in names:
        text = f"its files would be named {name}, as those of {names[key]} are in this call"
        remedy = f"rename one of the files, or {command} it in a call of its own with --out"
        raise InputRefused(Fault("FG008", where, text, remedy))
    names[key] = where
