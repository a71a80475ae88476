"""What strips taught, for a person and for other programs: values, intervals, what is behind them. Text only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console

from flatgen.cli.print_part import say, table_of
from flatgen.core.learned import Entanglement, KnownAllowance, KnownOffset, KnownSpringback
from flatgen.metal.allowance import setback
from flatgen.paper.drawing.ink import INCH

if TYPE_CHECKING:
    from flatgen.strips.learning.misfit import Doubt
    from flatgen.strips.learning.model import Estimates
    from flatgen.strips.learning.patterns import Pattern
    from flatgen.strips.log import Addition, Entry, Log

WITHIN = 1.96
"""Standard deviations of a 95 % interval."""
NOT_TOLD = "not told apart"


def learned(console: Console, known: Estimates, log: Log, name: str) -> None:
    """Print all that is known."""
    gone = f", {len(log.withdrawn)} withdrawn" if log.withdrawn else ""
    say(console, f"  log     {name}: {_count(len(log.entries), 'strip')}{gone}")
    if log.entries or log.withdrawn:
        console.print(table_of(_HEADS_STRIPS, _strips(log)))
    if not log.entries:
        return
    console.print(table_of(_HEADS_ALLOWANCE, [_allowance(a) for a in known.allowances]))
    console.print(table_of(_HEADS_OFFSET, [_offset(o) for o in known.offsets]))
    if known.springbacks:
        console.print(table_of(_HEADS_SPRINGBACK, [_springback(s) for s in known.springbacks]))
    low, high = known.scatter_low, known.scatter_high
    say(console, f"  placing each bend scatters by {known.scatter:.2f} mm (95 %: {low:.2f} to {high:.2f} mm)")
    apart(console, known.entangled)


def apart(console: Console, entangled: Iterable[Entanglement]) -> None:
    """Print what cannot be told apart, and which strip would."""
    for item in entangled:
        say(console, f"  {item.text}")
        say(console, f"    {item.remedy}")


def changes(console: Console, before: Estimates, after: Estimates) -> None:
    """Print what a form changed: each value before and after.

    :param before, after: without the new strips and with them
    """
    rows = [(f"  {what}", was, now, behind) for what, was, now, behind in changed(before, after)]
    console.print(table_of(("  what", "before", "now, 95 %", "behind it"), rows))


def changed(before: Estimates, after: Estimates) -> list[tuple[str, str, str, str]]:
    """What is known now and was before, in words: what, before, now, what is behind it."""
    from flatgen.strips.learning.model import allowance_estimate, springback_estimate
    from flatgen.strips.learning.priors import Kind

    rows = []
    for a in after.allowances:
        kind = Kind(a.metal, a.thickness, a.inside_radius, a.setup, a.nose_setting)
        was = allowance_estimate(before, kind, a.angle)
        told = _value(a.drawn, a.drawn_spread) if a.told else f"{_value(a.drawn, a.drawn_spread)}, {NOT_TOLD}"
        rows.append((f"allowance, {_kind(a)}", _value(was.drawn, was.drawn_spread), told, a.source))
    offsets = {(o.setup, o.nose_setting): o for o in before.offsets}
    for o in after.offsets:
        old = offsets.get((o.setup, o.nose_setting))
        first = before.prior.offsets.get(o.setup, 0.0), before.prior.offset
        was_so = _value(*(first if old is None else (old.value, old.spread)))
        now = _value(o.value, o.spread) + ("" if o.told else f", {NOT_TOLD}")
        rows.append((f"offset e, {_place(o.setup, o.nose_setting)}", was_so, now, _behind(o.bends, o.strips)))
    for s in after.springbacks:
        past = springback_estimate(before, s.metal, s.thickness, s.inside_radius)
        what = f"springback by angle, {s.metal} {s.thickness:g} mm, inside radius {s.inside_radius:g} mm"
        rows.append(
            (what, _share(past.alpha, past.alpha_spread), _share(s.alpha, s.alpha_spread), _behind(s.bends, s.strips))
        )
    return rows


def doubts(console: Console, found: Iterable[Doubt]) -> None:
    """Print what does not fit the rest."""
    for doubt in found:
        say(console, f"  doubt   {doubt.text}")
        say(console, f"    {doubt.remedy}")


def record(known: Estimates, log: Log, name: str) -> dict[str, Any]:
    """The machine-readable answer of ``learned``.

    :returns: lengths in mm, angles in degrees, spreads as standard deviations
    """
    return {
        "units": {"length": "mm", "angle": "deg"},
        "log": name,
        "strips": [entry(e) for e in log.entries],
        "withdrawn": [entry(w.entry) | {"why": w.why} for w in log.withdrawn],
        "allowances": [asdict(a) | {"deduction": _deduction(a)} for a in known.allowances],
        "offsets": [asdict(o) for o in known.offsets],
        "springback": [asdict(s) for s in known.springbacks],
        "scatter": {"value": known.scatter, "low": known.scatter_low, "high": known.scatter_high},
        "not_told_apart": [asdict(e) for e in known.entangled],
    }


def entry(item: Entry) -> dict[str, Any]:
    """A strip of the log by name, digest and line."""
    return {"name": item.reading.name, "digest": item.digest, "line": item.line, "metal": item.reading.metal}


def doubt_record(doubt: Doubt) -> dict[str, Any]:
    """A doubt for other programs."""
    return asdict(doubt)


_HEADS_STRIPS = ("  strip", "digest", "line", "sheet or batch", "date", "withdrawn")
_HEADS_ALLOWANCE = (
    "  bends of", "allowance for the radius asked, 95 %", "deduction", "radius that came out", "K", "behind it",
)  # fmt: skip
_HEADS_OFFSET = ("  offset e of", "value, 95 %", "behind it")
_HEADS_SPRINGBACK = ("  springback of", "by angle", "by free leg, at a/t = 10", "behind it")


def _strips(log: Log) -> list[Sequence[str]]:
    """All strips with what they are withdrawn by, and why those that are were."""
    every = [(e, "") for e in log.entries] + [(w.entry, w.why) for w in log.withdrawn]
    return [
        (f"  {e.reading.name}", e.digest, str(e.line), e.reading.sheet, e.reading.date, why)
        for e, why in sorted(every, key=lambda pair: pair[0].line)
    ]


def _allowance(a: KnownAllowance) -> Sequence[str]:
    deduction = _deduction(a)
    told = a.source if a.told else f"{a.source}; {NOT_TOLD}"
    return (
        f"  {_kind(a)}",
        _value(a.drawn, a.drawn_spread),
        "none over 170°" if deduction is None else _fine(deduction),
        f"{a.radius:.2f} ±{WITHIN * a.radius_spread:.2f} mm" + ("" if a.radii else " (not measured)"),
        f"{a.k:.3f}",
        told,
    )


def _deduction(a: KnownAllowance) -> float | None:
    """To the mould lines of the radius asked [mm]."""
    if a.angle > 170.0:
        return None
    return 2 * setback(a.angle, a.inside_radius, a.thickness) - a.drawn


def _offset(o: KnownOffset) -> Sequence[str]:
    told = _behind(o.bends, o.strips) + ("" if o.told else f"; {NOT_TOLD}")
    return (f"  {_place(o.setup, o.nose_setting)}", _value(o.value, o.spread), told)


def _springback(s: KnownSpringback) -> Sequence[str]:
    return (
        f"  {s.metal} {s.thickness:g} mm, inside radius {s.inside_radius:g} mm",
        _share(s.alpha, s.alpha_spread),
        f"{10 * s.beta:.2f} ±{10 * WITHIN * s.beta_spread:.2f}°",
        _behind(s.bends, s.strips) + ("" if s.told else f"; {NOT_TOLD}"),
    )


def _kind(a: KnownAllowance) -> str:
    sheet = f"{a.metal} {a.thickness:g} mm, inside radius {a.inside_radius:g} mm"
    return f"{a.angle:g}°, {sheet}, {_place(a.setup, a.nose_setting)}"


def _place(setup: str, setting: float | None) -> str:
    return setup if setting is None else f"{setup} at {setting:g} mm"


def _value(value: float, spread: float) -> str:
    return f"{_fine(value)} ±{WITHIN * spread:.2f} mm"


def _fine(value: float) -> str:
    """A length to 0.01 mm, since intervals are told so."""
    return f"{value:.2f} mm ({value / INCH:.4f} in)"


def _share(value: float, spread: float) -> str:
    return f"{100 * value:.1f} ±{100 * WITHIN * spread:.1f} %"


def _behind(bends: int, strips: int) -> str:
    return f"from {_count(bends, 'bend')} on {_count(strips, 'strip')}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def added(console: Console, path: Path, done: Addition | None, gone: Iterable[Entry], count: int) -> None:
    """Print which strips came into the log, which were there, and which were taken back."""
    for item in () if done is None else done.added:
        say(console, f"  added   {item.reading.name} ({item.digest})")
    for item in () if done is None else done.known:
        say(console, f"  known   {item.reading.name} ({item.digest}) is in the log already; nothing was added")
    for item in gone:
        say(console, f"  taken back  {item.reading.name} ({item.digest})")
    say(console, f"  log     {path}: {_count(count, 'strip')} in force")


def patterns(console: Console, found: Iterable[Pattern]) -> None:
    """Print what in the residuals is not chance."""
    for item in found:
        say(console, f"  pattern {item.text}")
        if item.remedy:
            say(console, f"    {item.remedy}")


def pattern(item: Pattern) -> dict[str, Any]:
    """A pattern for other programs."""
    return asdict(item)


def written(console: Console, files: Iterable[Path]) -> None:
    """Print which files were written."""
    for file in files:
        say(console, f"  wrote   {file}")
