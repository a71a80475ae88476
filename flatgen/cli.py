"""The commands: options in, a readable answer out, an exit status.

0 done; 1 the part breaks a shop rule (files are written, with the caution on them); 2 input refused
(nothing written); 3 a geometric identity failed (a bug; nothing written).
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer

from flatgen import __version__
from flatgen.errors import Fault, FlatgenError, InputRefused

if TYPE_CHECKING:
    from flatgen.job import Made, Options

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From the drawing of a bent sheet-metal part to the flat blank that is cut once.",
)

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
Only = Annotated[str, typer.Option("--only", metavar="KINDS", help="write only these: dxf, cut, step, svg, png, json")]
Also = Annotated[str, typer.Option("--also", metavar="KINDS", help="write these as well, such as cut,png")]
Version = Annotated[str, typer.Option("--dxf-version", metavar="VERSION", help="R12 to R2018")]
Inches = Annotated[bool, typer.Option("--inches", help="DXF in inches instead of millimetres")]
AsJson = Annotated[bool, typer.Option("--json", help="print the machine-readable answer, and nothing else")]

Row: TypeAlias = tuple[int, dict[str, Any], Callable[[Any], None] | None]
"""Exit status of one part, its machine-readable answer, and what prints it."""


def main() -> None:
    """The program: whatever happens, a person sees words and not a traceback."""
    _print_what_the_terminal_can()
    try:
        app()
    except KeyboardInterrupt:
        _say("stopped; files are whole or not there")
        sys.exit(130)
    except FlatgenError as error:
        _say(str(error))
        sys.exit(error.exit_status)
    except BrokenPipeError:
        sys.exit(0)
    except Exception as error:
        _say(str(_own_fault(error)))
        sys.exit(3)


@app.callback(invoke_without_command=True)
def _start(version: Annotated[bool, typer.Option("--version", help="print the version")] = False) -> None:
    if version:
        typer.echo(f"flatgen {__version__}")
        raise typer.Exit


@app.command()
def start(name: Annotated[str, typer.Argument(help="name of the new part")]) -> None:
    """Write a commented profile definition to begin from; never overwrites."""
    from importlib.resources import files

    from flatgen.files import write_new
    from flatgen.profile.names import NotAName, safe_name

    try:
        stem = safe_name(name.removesuffix(".toml"))
    except NotAName as error:
        raise InputRefused(Fault("FG006", "NAME", error.text, error.remedy)) from error
    path = Path(f"{stem}.toml")
    write_new(path, files("flatgen.profile").joinpath("start.toml").read_bytes())
    typer.echo(f"wrote {path}\nnow: flatgen draw {_quoted(path)}")


@app.command()
def draw(
    profiles: Profiles,
    out: Folder = Path("out"),
    only: Only = "",
    also: Also = "",
    dxf_version: Version = "R2010",
    inches: Inches = False,
    metals: Tables = None,
    as_json: AsJson = False,
) -> None:
    """Develop parts and write their drawings into DIR/NAME/."""
    from flatgen import job

    options = _options(only, also, dxf_version, inches)
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        _claim(names, path.stem, str(path), "draw")
        table, own = job.metals_beside(path, tuple(metals or ()))
        yield _made(job.draw(path, out / path.stem, options, table), own)

    _each(profiles, one, as_json)


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
    metals: Tables = None,
    as_json: AsJson = False,
) -> None:
    """Unfold formed parts that came as STEP files, and write their drawings into DIR/NAME/."""
    from flatgen import incoming, job
    from flatgen.asked import Asked

    options = _options(only, also, dxf_version, inches)
    tables = tuple(metals or ())
    asked = Asked(metal, k, near, inside_radius, skip_formed, "step" in options.kinds)
    in_force = {folder: job.metals_beside(folder / "any", tables) for folder in {p.parent for p in parts}}
    requests = {folder: asked.request(table) for folder, (table, _) in in_force.items()}  # before a file is opened
    names: dict[str, str] = {}

    def one(path: Path) -> Iterator[Row]:
        own = in_force[path.parent][1] if metal else ()
        for found in incoming.receive(path, requests[path.parent], keeper):
            try:
                if isinstance(found, incoming.Declined):
                    raise found.error
                _claim(names, found.name, found.received.source.where, "unfold")
                yield _made(incoming.draw_received(found, out / found.name, options), own)
            except FlatgenError as error:
                yield _declined(found.name, error)
            except Exception as error:  # a bug of ours in one solid must not lose the others
                yield _declined(found.name, FlatgenError(_own_fault(error, found.name)), 3)

    with incoming.keeper() as keeper:
        _each(parts, one, as_json)


@app.command()
def check(profiles: Profiles, out: Folder = Path("out"), metals: Tables = None, as_json: AsJson = False) -> None:
    """Say what is wrong with parts, and whether their drawings in DIR are out of date; write nothing."""
    from flatgen import job, record
    from flatgen.profile.closed_form import develop
    from flatgen.profile.reader import read_profile
    from flatgen.units import in_mm_and_inch
    from flatgen.watched import watch_closed

    def one(path: Path) -> Iterator[Row]:
        table, own = job.metals_beside(path, tuple(metals or ()))
        with job.no_solid(path):
            profile = read_profile(path, table)
        closed = develop(profile)
        width = closed.width
        seen = watch_closed(profile, closed)
        told = profile.findings + seen.findings + job.outdated(profile, out / path.stem)

        def show(console: Any) -> None:
            from flatgen import answer

            _own_tables(console, own)
            lines = [in_mm_and_inch((low + high) / 2) for low, high in closed.zones]
            area = record.net_area(profile, width, seen)
            uncut = bool(profile.cuts)
            answer.part(console, profile, width, profile.length, area, lines, seen.rows, told, (), uncut=uncut)

        broken = any(f.severity == "caution" for f in told)
        yield int(broken), record.checked(profile, width, seen, told), show

    _each(profiles, one, as_json)


@app.command()
def metals(
    metal: Annotated[str, typer.Argument(help="show one metal with all figures and sources")] = "",
    tables: Tables = None,
    as_json: AsJson = False,
) -> None:
    """The metals known, their figures, the source of each."""
    from dataclasses import asdict

    from flatgen import answer, job
    from flatgen.metal.allowance import NotUsable
    from flatgen.metal.metals import find_metal

    known, own = job.metals_beside(Path("metals.toml"), tuple(tables or ()))
    try:
        chosen = [find_metal(known, metal)] if metal else list(known.values())
    except NotUsable as error:
        raise InputRefused(Fault("FG030", "METAL", error.text, error.remedy)) from error
    if as_json:
        _print_json([asdict(m) for m in chosen])
        return
    console = _console()
    _own_tables(console, own)
    answer.metal_sheet(console, chosen[0]) if metal else answer.metal_list(console, chosen)


def _options(only: str, also: str, dxf_version: str, inches: bool) -> Options:
    """What to write, from the options that all drawing commands share."""
    from flatgen import job
    from flatgen.drawing.document import VERSIONS

    kinds = job.kinds_of(only) if only else job.USUAL
    kinds += job.kinds_of(also) if also else ()
    if dxf_version.upper() not in VERSIONS:
        raise InputRefused(
            Fault("FG005", "--dxf-version", f"{dxf_version!r} is none", f"choose among {', '.join(VERSIONS)}")
        )
    return job.Options(kinds, dxf_version.upper(), inches)


def _made(done: Made, own: tuple[Path, ...]) -> Row:
    """The answer of a part that was drawn."""

    def show(console: Any) -> None:
        from flatgen import answer
        from flatgen.part import near_face

        _own_tables(console, own)
        files = [str(f) for f in done.files]
        flat = done.flat
        lines = answer.lines_of(flat)
        rows, told = done.watched.rows, done.findings
        near = near_face(flat) if done.part.source else ""
        answer.part(console, done.part, flat.width, flat.length, flat.area, lines, rows, told, files, near=near)

    return done.exit_status, done.record(), show


def _declined(name: str, error: FlatgenError, status: int | None = None) -> Row:
    """The answer of a part that was refused; says why at once."""
    from flatgen import record

    _say(str(error))
    status = error.exit_status if status is None else status
    return status, record.refused(name, error.faults, status), None


def _each(paths: list[Path], one: Callable[[Path], Iterator[Row]], as_json: bool) -> None:
    """Do one thing for every file; a failure does not stop the others; leave with the worst status."""
    rows: list[Row] = []
    with _progress(len(paths), as_json) as step:
        for path in paths:
            try:
                for row in one(path):
                    rows.append(row)
            except FlatgenError as error:
                rows.append(_declined(path.stem, error))
            except Exception as error:  # a bug of ours in one part must not lose the others
                rows.append(_declined(path.stem, FlatgenError(_own_fault(error, str(path))), 3))
            step()
    answers = [answer for _, answer, _ in rows]
    shows = [show for _, _, show in rows if show is not None]
    if as_json:
        _print_json(answers[0] if len(answers) == 1 else answers)
    elif shows:
        console = _console()
        for show in shows:
            show(console)
    raise typer.Exit(max((status for status, _, _ in rows), default=0))


def _progress(count: int, quiet: bool) -> Any:
    """A progress bar on standard error when there are several parts and somebody watches."""
    from contextlib import contextmanager

    @contextmanager
    def bar() -> Any:
        if quiet or count < 2 or not sys.stderr.isatty():
            yield lambda: None
            return
        from rich.console import Console
        from rich.progress import Progress

        with Progress(console=Console(stderr=True), transient=True) as progress:
            task = progress.add_task("drawing", total=count)
            yield lambda: progress.advance(task)

    return bar()


def _claim(names: dict[str, str], name: str, where: str, command: str) -> None:
    """Refuse a second part of the same name: its files would replace the first one's."""
    key = name.casefold()
    if key in names:
        text = f"its files would be named {name}, as those of {names[key]} are in this call"
        remedy = f"rename one of the files, or {command} it in a call of its own with --out"
        raise InputRefused(Fault("FG008", where, text, remedy))
    names[key] = where


def _own_fault(error: Exception, where: str = "flatgen") -> Fault:
    text = f"a fault of flatgen's own, nothing was written: {type(error).__name__}: {error}"
    return Fault("FG999", where, text, "please report it with the file that shows it")


def _own_tables(console: Any, own: tuple[Path, ...]) -> None:
    for table in own:
        console.print(f"  metals from {table} over flatgen's own", markup=False, highlight=False, soft_wrap=True)


def _console() -> Any:
    from rich.console import Console

    return Console(highlight=False, width=None if sys.stdout.isatty() else 160)


def _print_json(rows: Any) -> None:
    text = json.dumps(rows, ensure_ascii=False, indent=1, allow_nan=False)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(rows, ensure_ascii=True, indent=1, allow_nan=False)
    sys.stdout.write(text + "\n")


def _print_what_the_terminal_can() -> None:
    """A sign that the output's encoding lacks is shown by its code point, instead of ending the run."""
    for stream in (sys.stdout, sys.stderr):
        change = getattr(stream, "reconfigure", None)
        if change is not None:
            change(errors="backslashreplace")


def _say(text: str) -> None:
    sys.stderr.write(text + "\n")


def _quoted(path: Path) -> str:
    text = str(path)
    return f'"{text}"' if " " in text else text
