"""How the commands speak: answers of several files, progress, JSON, tables, and words in place of a traceback."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import typer

from flatgen.core.errors import Fault, FlatgenError

Row: TypeAlias = tuple[int, dict[str, Any], Callable[[Any], None] | None]
"""Exit status of one part, its machine-readable answer, and what prints it."""
SHOWN = (".pdf", ".svg", ".png")


def declined(name: str, error: FlatgenError, status: int | None = None) -> Row:
    """The answer of a part that was refused; says why at once."""
    from flatgen.jobs import record

    say(str(error))
    status = error.exit_status if status is None else status
    return status, record.refusal_record(name, error.faults, status), None


def each(paths: list[Path], one: Callable[[Path], Iterator[Row]], as_json: bool) -> None:
    """Do one thing for every file; a failure does not stop the others; leave with the worst status."""
    rows: list[Row] = []
    with progress(len(paths), as_json) as step:
        for path in paths:
            try:
                for row in one(path):
                    rows.append(row)
            except FlatgenError as error:
                rows.append(declined(path.stem, error))
            except Exception as error:  # a bug of ours in one part must not lose the others
                rows.append(declined(path.stem, FlatgenError(own_fault(error, str(path))), 3))
            step()
    answers = [answer for _, answer, _ in rows]
    shows = [show for _, _, show in rows if show is not None]
    if as_json:
        print_json(answers[0] if len(answers) == 1 else answers)
    elif shows:
        console = new_console()
        for show in shows:
            show(console)
    raise typer.Exit(max((status for status, _, _ in rows), default=0))


def progress(count: int, quiet: bool) -> Any:
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


def own_fault(error: Exception, where: str = "flatgen") -> Fault:
    """A fault of ours, in words."""
    text = f"a fault of flatgen's own, nothing was written: {type(error).__name__}: {error}"
    return Fault("FG999", where, text, "please report it with the file that shows it")


def own_tables(console: Any, own: tuple[Path, ...]) -> None:
    """Say which tables of the user's own are in force."""
    for table in own:
        console.print(f"  metals from {table} over flatgen's own", markup=False, highlight=False, soft_wrap=True)


def new_console() -> Any:
    """Where answers are printed: as wide as the terminal, or 160 columns in a file."""
    from rich.console import Console

    return Console(highlight=False, width=None if sys.stdout.isatty() else 160)


def print_json(rows: Any) -> None:
    """JSON on standard output, in ASCII where the encoding has no more."""
    text = json.dumps(rows, ensure_ascii=False, indent=1, allow_nan=False)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(rows, ensure_ascii=True, indent=1, allow_nan=False)
    sys.stdout.write(text + "\n")


def print_what_the_terminal_can() -> None:
    """A sign that the output's encoding lacks is shown by its code point, instead of ending the run."""
    for stream in (sys.stdout, sys.stderr):
        change = getattr(stream, "reconfigure", None)
        if change is not None:
            change(errors="backslashreplace")


def open_sheet(files: Sequence[Path]) -> None:
    """Show the shop sheet, or whatever a person can look at, with the system's viewer."""
    seen = sorted((f for f in files if f.suffix in SHOWN), key=lambda f: (not f.name.endswith(".sheet.pdf"), f.name))
    if not seen:
        say("--open: no file was written that a viewer shows; write the sheet or a picture too")
    elif typer.launch(str(seen[0])) != 0:
        say(f"--open: the system has no viewer for it; open {seen[0]} yourself")


def say(text: str) -> None:
    """A line on standard error."""
    sys.stderr.write(text + "\n")


def quoted(path: Path) -> str:
    """A path as it can be typed."""
    text = str(path)
    return f'"{text}"' if " " in text else text
