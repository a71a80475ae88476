"""The road of a test strip: part -> schedule -> strip -> its own flat, drawings, form and measuring card.

A strip is a definition of its own, so it takes the road of any part (:mod:`flatgen.jobs.draw`) and the same writers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from flatgen.brake.creases import creases_of_flat
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.learned import Entanglement, ExpectedPart
from flatgen.core.schedule import Schedule
from flatgen.core.units import NotALength, parse_length
from flatgen.definition.part import Part
from flatgen.jobs.draw import DefinitionResult, develop_solid, with_order
from flatgen.jobs.outputs import Files, write
from flatgen.jobs.plan import plan
from flatgen.jobs.result import Options
from flatgen.metal.metals import Metal
from flatgen.openings.judge import judge_flat
from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips import words
from flatgen.strips.cut import Strip, cut_strip, usual_width
from flatgen.strips.form import read_form
from flatgen.strips.learning.priors import prior_for
from flatgen.strips.learning.teaching import entanglements_of, teaching_strips
from flatgen.strips.reading import StripReading

FORM, CARD = "form.toml", "card"
MOST_FORMS = 99
"""Forms of one strip that are kept beside one another."""


@dataclass(frozen=True)
class StripRequest:
    """What is asked for: ``width`` of the strip as a text, empty for a usual one; ``only`` these bends; a ``teaching``
    strip in place of the part's own section.
    """

    width: str = ""
    only: tuple[str, ...] = ()
    teaching: bool = False


@dataclass(frozen=True)
class StripResult(DefinitionResult):
    """A strip as any part; ``of``: the part that it is cut for, ``form``, and what it cannot tell apart."""

    of: str = field(default="", kw_only=True)
    form: Path = field(default=Path(), kw_only=True)
    entangled: tuple[Entanglement, ...] = field(default=(), kw_only=True)

    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""
        apart = [{"text": e.text, "remedy": e.remedy} for e in self.entangled]
        strip = {"of": self.of, "form": self.form.as_posix(), "not_told_apart": apart}
        return super().record() | {"strip": strip}


@dataclass(frozen=True)
class CutStrip:
    """A strip that was drawn: its ``made`` files, the form among them, and what the part's schedule says is known
    already.
    """

    part: Part
    strip: Strip
    made: StripResult
    expected: ExpectedPart | None

    @property
    def exit_status(self) -> int:
        """1 where a shop rule is broken, else 0."""
        return self.made.exit_status


def strips_of_definition(
    path: Path, metals: Mapping[str, Metal], request: StripRequest, out: Path, options: Options
) -> tuple[CutStrip, ...]:
    """Strips of a definition.

    :param out: folder that each strip has its own in
    :returns: one, or a teaching strip for each kind of bend [mm]
    :raises InputRefused: FG034 without a brake, FG157 where no strip can be cut, FG012 and others
    """
    planned = plan(path, metals, options.shop, options.set_up, options.hold, options.order)
    return cut_strips(planned.profile, planned.schedule, metals, request, out, options)


def cut_strips(
    part: Part,
    schedule: Schedule | None,
    metals: Mapping[str, Metal],
    request: StripRequest,
    out: Path,
    options: Options,
) -> tuple[CutStrip, ...]:
    """Strips of a part that is planned.

    :param schedule: its stages; None for a part without a bend
    :param out: folder that each strip has its own in
    :returns: with their files [mm]
    """
    if schedule is None:
        raise InputRefused(Fault(words.NO_STRIP, part.name, words.NO_BENDS, words.SOME_BENDS))
    width = _width(request.width, part.thickness)
    prior = prior_for(schedule.shop, metals)
    own = cut_strip(part, schedule, width, request.only)
    if not request.teaching:
        return (_drawn(part, own, entanglements_of(own, prior), schedule.expected, out, options),)
    lessons = teaching_strips(part, schedule, width, prior)
    cut = [lesson for lesson in lessons if lesson.strip is not None]
    findings = tuple(f for lesson in lessons for f in lesson.findings)
    if not cut:
        raise InputRefused(*(Fault(words.NO_STRIP, f.where, f.text, f.remedy) for f in findings))
    cuts = []
    for n, lesson in enumerate(cut):
        strip = lesson.strip
        assert strip is not None
        strip = replace(strip, findings=(*strip.findings, *(findings if n == 0 else ())))
        cuts.append(_drawn(part, strip, entanglements_of(strip, prior), schedule.expected, out, options))
    return tuple(cuts)


def _width(text: str, thickness: float) -> float:
    if not text.strip():
        return usual_width(thickness)
    try:
        return parse_length(text).value
    except NotALength as error:
        raise InputRefused(Fault(error.code, "--width", error.text, error.remedy)) from error


def _drawn(
    part: Part,
    strip: Strip,
    entangled: tuple[Entanglement, ...],
    expected: ExpectedPart | None,
    out: Path,
    options: Options,
) -> CutStrip:
    """A strip drawn as any part, with its form and card."""
    profile = strip.profile
    development = develop_solid(profile)
    schedule = _on_the_flat(strip, development.flat)
    openings = judge_flat(profile, development.flat, development.homes)
    findings = (*profile.findings, *strip.findings, *development.findings, *openings.findings, *schedule.findings)
    folder = out / profile.name
    form = _form_name(folder, profile.name)
    result = StripResult(
        with_order(development.flat, schedule),
        tuple(dict.fromkeys(findings)),
        profile=profile,
        solid=development.solid,
        homes=development.homes,
        openings=openings,
        schedule=schedule,
        decision=strip.plan.decision,
        of=part.name,
        form=folder / f"{profile.name}.{form}",
        entangled=entangled,
    )
    text = form_text((strip.reading,), order=strip.order, unit="in" if options.inches else "mm")
    more: Files = {form: text.encode(), **_card(strip, f"{profile.name}.{form}", options)}
    done = write(result, folder, options, more)
    return CutStrip(part, strip, done, expected)


def _on_the_flat(strip: Strip, flat: FlatPattern) -> Schedule:
    """The strip's schedule with creases that know where they lie on its flat."""
    places = {c.label: c for c in creases_of_flat(strip.profile, flat)}
    schedule = strip.plan.schedule
    stages = (replace(s, crease=replace(places[s.crease.label], known=s.crease.known)) for s in schedule.stages)
    return replace(schedule, stages=tuple(stages))


def _card(strip: Strip, form: str, options: Options) -> Files:
    from flatgen.paper.drawing.text import load_fonts
    from flatgen.paper.pages.pages import page_files
    from flatgen.paper.strip_sheets.card import card_pages

    load_fonts()
    paper = options.on_paper.of_the_sheet
    return page_files(card_pages(strip, paper, form, inches=options.inches), paper, CARD, strip.profile.name)


def _form_name(folder: Path, name: str) -> str:
    """The end of the form's name: one that was filled in is never written over, the new one gets a number."""
    for n in range(1, MOST_FORMS + 1):
        end = FORM if n == 1 else FORM.replace(".", f"-{n}.")
        path = folder / f"{name}.{end}"
        if not path.exists() or not is_filled_in(path):
            return end
    text = words.MANY_FORMS.format(most=MOST_FORMS)
    raise InputRefused(Fault("FG007", str(folder), text, words.MOVE_FORMS))


def is_filled_in(path: Path) -> bool:
    """Whether a form may hold what a person wrote: then it is not written over.

    :returns: true too where it cannot be read
    """
    try:
        readings: Sequence[StripReading] = read_form(path).readings
    except InputRefused:
        return True
    return len(readings) != 1 or any(has_measurements(r) or r.sheet or r.date or r.note for r in readings)


def has_measurements(reading: StripReading) -> bool:
    """Whether anything at all was measured on a strip.

    :returns: whether there is a number to learn from
    """
    numbers = [reading.thickness, reading.blank_got, *(leg.got for leg in reading.legs)]
    numbers += [v for b in reading.bends for v in (b.set, b.got, b.radius)]
    return any(v is not None for v in numbers)
