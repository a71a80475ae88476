"""The commands of test strips: one to cut, what was measured on it learned, and what is known."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from flatgen.cli.options import Also, AsJson, Folder, Hold, Inches, Only, OpenIt, Order, SetUpName, ShopFile, Tables
from flatgen.cli.terminal import Row, each, new_console, open_sheet, own_tables, print_json, quoted
from flatgen.core.errors import Fault, Finding, InputRefused
from flatgen.core.garbage_collection import gc_paused

if TYPE_CHECKING:
    from flatgen.core.shop import Shop
    from flatgen.jobs.strip import CutStrip
    from flatgen.metal.metals import Metal
    from flatgen.strips.learning.model import Estimates
    from flatgen.strips.log import Addition
    from flatgen.strips.reading import StripReading

Both = Annotated[list[Path], typer.Argument(metavar="PART ...", help="profile definitions, or STEP files")]
StripPaper = Annotated[str, typer.Option("--paper", metavar="PAPER", help="of template, sheet and card: A4 or Letter")]


def strip(
    parts: Both,
    width: Annotated[str, typer.Option("--width", metavar="LENGTH", help="of the strip along its bends")] = "",
    only_bends: Annotated[
        str, typer.Option("--only-bends", metavar="A,B", help="only these bends, with what lies beside them")
    ] = "",
    teaching: Annotated[
        bool, typer.Option("--teaching", help="a strip that tells allowance and offset apart, not the part's section")
    ] = False,
    metal: Annotated[str, typer.Option("--metal", metavar="METAL", help="of STEP files: one of flatgen metals")] = "",
    k: Annotated[str, typer.Option("--k", metavar="K", help="of STEP files: K of all bends")] = "",
    out: Folder = Path("out"),
    only: Only = "",
    also: Also = "",
    inches: Inches = False,
    paper: StripPaper = "A4",
    shown: OpenIt = False,
    metals: Tables = None,
    shop: ShopFile = None,
    set_up: SetUpName = "",
    hold: Hold = "",
    order: Order = "",
    as_json: AsJson = False,
) -> None:
    """A narrow strip with the part's own section: its drawings, a form to fill in, a measuring card."""
    from flatgen.jobs import draw as job
    from flatgen.jobs import strip as strip_job
    from flatgen.jobs.kinds import chosen_kinds
    from flatgen.jobs.result import OnPaper, Options
    from flatgen.paper.drawing.ink import parse_paper

    kinds = chosen_kinds(only, also)
    on_paper = OnPaper(parse_paper(paper))
    options = Options(kinds, inches=inches, shop=shop, set_up=set_up, hold=hold, order=order, on_paper=on_paper)
    labels = tuple(label for part in only_bends.split(",") if (label := part.strip()))
    wanted = strip_job.StripRequest(width, labels, teaching)

    def one(path: Path) -> Iterator[Row]:
        table, own = job.metals_beside(path, tuple(metals or ()))
        if path.suffix.lower() in (".step", ".stp") or job.is_step(path):
            found = tuple(_of_step(path, table, metal, k, wanted, out, options))
        else:
            found = strip_job.strips_of_definition(path, table, wanted, out, options)
        for done in found:
            yield _cut(done, own)
            if shown:
                open_sheet(done.made.files)

    with gc_paused():
        each(parts, one, as_json)


def _of_step(
    path: Path, table: dict[str, Metal], metal: str, k: str, wanted: Any, out: Path, options: Any
) -> Iterator[CutStrip]:
    """Strips of the solids of a STEP file."""
    from flatgen.jobs import draw as job
    from flatgen.jobs import strip as strip_job
    from flatgen.jobs import unfold as unfold_job
    from flatgen.jobs.plan import shop_for
    from flatgen.unfolding.received.request import UnfoldOptions

    request = UnfoldOptions(metal, k, step=False, views=False).request(table)
    brake = shop_for(path, options.shop)
    with unfold_job.keeper() as keeper:
        for taken in unfold_job.receive(path, request, keeper, options):
            if isinstance(taken, unfold_job.RefusedSolid):
                raise taken.error
            done = job.with_schedule(taken, brake, options)
            yield from strip_job.cut_strips(done.part, done.schedule, table, wanted, out, options)


def _cut(done: CutStrip, own: tuple[Path, ...]) -> Row:
    """The answer of a strip that was drawn."""
    from flatgen.strips import words

    def show(console: Any) -> None:
        from flatgen.cli import print_learned, print_part

        print_part.drawn(console, done.made)
        own_tables(console, own)
        if done.made.entangled:
            print_learned.apart(console, done.made.entangled)
            if any(e.angles for e in done.made.entangled):
                print_part.say(console, f"    {words.PROPOSE}")
        else:
            print_part.say(console, f"  {words.GOOD}")
        if done.expected is not None:
            print_part.in_short(console, done.expected)
        print_part.say(console, f"  {words.NEXT.format(form=quoted(done.made.form), shop=_named_shop(done))}")

    return done.exit_status, done.made.record(), show


def _named_shop(done: CutStrip) -> str:
    """How the shop file is named to ``learn``; empty where it is found beside the form or above it."""
    from flatgen.brake.read_shop import find_shop

    schedule = done.made.schedule
    used = None if schedule is None else Path(schedule.shop.path)
    found = find_shop(done.made.form.parent)
    if used is None or (found is not None and found.resolve() == used.resolve()):
        return ""
    with contextlib.suppress(ValueError):
        used = used.resolve().relative_to(Path.cwd())
    return f" --shop {quoted(used)}"


def learn(
    forms: Annotated[
        list[Path] | None, typer.Argument(metavar="FORM.toml ...", help="forms that were filled in")
    ] = None,
    shop: ShopFile = None,
    as_measured: Annotated[
        bool, typer.Option("--as-measured", help="add numbers that contradict one another, as they were read")
    ] = False,
    withdraw: Annotated[
        str, typer.Option("--withdraw", metavar="DIGEST", help="take a strip back; it stays in the log")
    ] = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="why it is withdrawn")] = "",
    metals: Tables = None,
    as_json: AsJson = False,
) -> None:
    """Check what was measured on strips, add it to the log of the shop, and say what changed."""
    from flatgen.cli import print_learned, print_part
    from flatgen.strips.learning.misfit import find_doubts
    from flatgen.strips.learning.model import learn as learn_from
    from flatgen.strips.log import append, read_log
    from flatgen.strips.log import withdraw as take_back

    brake, table = _shop(forms, shop, metals)
    path = Path(brake.strips)
    if withdraw and not why.strip():
        raise InputRefused(
            Fault("FG005", "--withdraw", "a strip is withdrawn for a reason", 'give it with --why "..."')
        )
    if not forms and not withdraw:
        raise InputRefused(Fault("FG005", "FORM.toml", "no form is named", "name the forms that you filled in"))
    readings, questions = _read(forms or [], table, as_measured)
    before = read_log(path)
    prior = _prior(brake, table)
    known_before = learn_from(_usable(before.readings, table), prior)
    gone = [take_back(path, withdraw, why)] if withdraw else []
    added: Addition | None = append(path, readings) if readings else None
    log = read_log(path)
    usable = _usable(log.readings, table)
    known = learn_from(usable, prior)
    found = [*questions, *log.damaged, *(added.findings if added else ())]
    doubted = find_doubts(usable, prior)
    status = int(bool(doubted) or any(f.severity == "caution" for f in found))
    if as_json:
        print_json(
            print_learned.record(known, log, path.name)
            | {
                "added": [print_learned.entry(e) for e in (added.added if added else ())],
                "known_before": [print_learned.entry(e) for e in (added.known if added else ())],
                "taken_back": [print_learned.entry(e) for e in gone],
                "changed": [
                    dict(zip(("what", "before", "now", "behind"), row, strict=True))
                    for row in print_learned.changed(known_before, known)
                ],
                "doubts": [print_learned.doubt_record(d) for d in doubted],
                "findings": _findings(found),
            }
        )
        raise typer.Exit(status)
    console = new_console()
    print_learned.added(console, path, added, gone, len(log.entries))
    if gone or (added and added.added):
        print_learned.changes(console, known_before, known)
    print_learned.apart(console, known.entangled)
    print_learned.doubts(console, doubted)
    print_part.findings(console, found)
    raise typer.Exit(status)


def learned(
    shop: ShopFile = None,
    report: Annotated[
        bool, typer.Option("--report", help="measured against predicted, plotted: learned.report.pdf and .svg")
    ] = False,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="folder for the report")] = Path("out"),
    inches: Inches = False,
    paper: Annotated[str, typer.Option("--paper", metavar="PAPER", help="of the report")] = "A4",
    metals: Tables = None,
    as_json: AsJson = False,
) -> None:
    """What is known from strips: value, interval, the bends behind it."""
    from flatgen.cli import print_learned, print_part
    from flatgen.strips.learning.misfit import find_doubts
    from flatgen.strips.learning.model import learn as learn_from
    from flatgen.strips.log import read_log

    brake, table = _shop(None, shop, metals)
    path = Path(brake.strips)
    log = read_log(path)
    usable = _usable(log.readings, table)
    prior = _prior(brake, table)
    known = learn_from(usable, prior)
    found = [*log.damaged, *_unusable(log.readings, table, path)]
    doubted = find_doubts(usable, prior)
    patterns, files = _reported(known, usable, path, out, paper, inches) if report else ((), ())
    status = int(bool(doubted) or any(f.severity == "caution" for f in found))
    if as_json:
        told = print_learned.record(known, log, path.name)
        told |= {"doubts": [print_learned.doubt_record(d) for d in doubted], "findings": _findings(found)}
        if report:
            told |= {"patterns": [print_learned.pattern(p) for p in patterns], "files": [f.as_posix() for f in files]}
        print_json(told)
        raise typer.Exit(status)
    console = new_console()
    print_learned.learned(console, known, log, path.name)
    print_learned.doubts(console, doubted)
    print_learned.patterns(console, patterns)
    print_part.findings(console, found)
    print_learned.written(console, files)
    raise typer.Exit(status)


def _reported(
    known: Estimates, usable: tuple[StripReading, ...], log: Path, out: Path, paper: str, inches: bool
) -> tuple[tuple[Any, ...], tuple[Path, ...]]:
    """Patterns in what was measured, and the files of the report."""
    from flatgen.core.files import write_all
    from flatgen.paper.drawing.ink import parse_paper
    from flatgen.paper.drawing.text import load_fonts
    from flatgen.paper.strip_sheets.report import report_files, report_pages
    from flatgen.strips.learning.misfit import residuals
    from flatgen.strips.learning.patterns import patterns

    if not usable:
        text = "no strip is in the log yet, so that there is nothing to plot"
        raise InputRefused(Fault("FG157", str(log), text, "bend a strip and learn its form first"))
    load_fonts()
    sheet = parse_paper(paper)
    if sheet.long is None:
        text = "a roll is no paper for the report"
        raise InputRefused(Fault("FG005", "--paper", text, "choose among A4, A3, A2, A1, A0, Letter, Tabloid"))
    found = patterns(known, usable, residuals(known, usable))
    pages = report_pages(known, usable, found, sheet, log.name, inches=inches)
    return found, write_all(out, report_files(pages, sheet, "learned"))


def _shop(forms: list[Path] | None, shop: Path | None, metals: list[Path] | None) -> tuple[Shop, dict[str, Metal]]:
    """The shop that is named, or beside the first form or above it, or here; and its metals."""
    from flatgen.jobs.draw import metals_beside
    from flatgen.jobs.plan import shop_for

    brake = shop_for(forms[0] if forms else Path("strips.toml"), shop)
    return brake, metals_beside(Path(brake.path), tuple(metals or ()))[0]


def _prior(brake: Shop, table: dict[str, Metal]) -> Any:
    from flatgen.strips.learning.priors import prior_for

    return prior_for(brake, table)


def _read(
    forms: list[Path], table: dict[str, Metal], as_measured: bool
) -> tuple[tuple[StripReading, ...], list[Finding]]:
    """All strips of all forms; nothing is taken where one form cannot be, or asks a question."""
    from flatgen.jobs.strip import has_measurements
    from flatgen.strips import words
    from flatgen.strips.form import read_form

    readings: list[StripReading] = []
    told: list[Finding] = []
    faults: list[Fault] = []
    for path in forms:
        try:
            form = read_form(path)
        except InputRefused as error:
            faults += error.faults
            continue
        told += form.findings
        faults += [
            Fault(
                words.IMPOSSIBLE, str(path), words.NO_SUCH_METAL.format(name=r.name, metal=r.metal), words.KNOWN_METAL
            )
            for r in form.readings
            if r.metal not in table
        ]
        empty = [r for r in form.readings if not has_measurements(r)]
        faults += [
            Fault(words.IMPOSSIBLE, str(path), words.NOTHING_MEASURED.format(name=r.name), words.FILL_IN) for r in empty
        ]
        readings += form.readings
    if not as_measured:
        faults += [Fault(f.code, f.where, f.text, f"{f.remedy}; {words.AS_MEASURED}") for f in told]
    if faults:
        raise InputRefused(*faults)
    return tuple(readings), told


def _usable(readings: tuple[StripReading, ...], table: dict[str, Metal]) -> tuple[StripReading, ...]:
    """Strips of metals that are known."""
    return tuple(r for r in readings if r.metal in table)


def _unusable(readings: tuple[StripReading, ...], table: dict[str, Metal], path: Path) -> list[Finding]:
    from flatgen.strips import words

    return [
        Finding(
            words.IMPOSSIBLE,
            "caution",
            str(path),
            words.NO_SUCH_METAL.format(name=r.name, metal=r.metal),
            words.KNOWN_METAL,
        )
        for r in readings
        if r.metal not in table
    ]


def _findings(found: list[Finding]) -> list[dict[str, str]]:
    from flatgen.jobs import record

    return [record.finding_record(f) for f in found]
