"""The text under the blank: facts of the part and its flat, and cautions."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from flatgen.core.errors import CODES, Finding
from flatgen.core.flat_pattern import Bend, FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.core.units import in_mm_and_inch
from flatgen.definition.part import EQUAL, Part, bends_upright, leg_number, near_face
from flatgen.openings.findings import OpeningRow, crossing_text
from flatgen.paper.drawing.words import both_lengths, length


@dataclass(frozen=True)
class Notes:
    """Text under the blank: a title, lines of facts, and cautions.

    Long lines are broken at blanks, none is cut. ``legs`` are written on panels without names.
    """

    title: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    legs: tuple[str, ...] = ()


READING = "Near face toward you. Bend lines mark the middle of each bend. "
NO_BRAKE = "No sight line is drawn: no brake is known."
ELSEWHERE = "Sight lines for the brake are in {bench}, none is drawn here."
NONE_HERE = "They are no sight lines: none is drawn here."
PLACES = "Bend lines from the left edge: "
LEVELS = "Bend lines from the lower edge: "
SLANTED = "Slanted bend lines, from the lower left corner: "
ORDER = "Order of bending as given by the user, not checked against a brake: "
EDGES = "Deburr edges; gloves for carrying, not near closing parts. A second person for long sheets."
BENDING = (
    "Hands clear of nose and leaf. Mark {lines}, never scribe them{pencil}. Inspect the outside of each bend with "
    "a lens: a cracked part is scrap."
)
PENCIL = ", and with no graphite pencil on aluminium"
RECEIVED = "Made from a file: its metal, temper and inside radii are for whoever sent it to answer{unchecked}."
UNCHECKED = "; without a metal no least radius was checked"
STRENGTH = "Strength is not judged here: approved drawings, local rules and licensed inspection come first."
MOST_KINDS = 12
"""Kinds of openings listed beside the blank; JSON has them all."""
MOST_ALIKE = 3
"""Cautions of one code listed beside the blank of a received part, whose openings nobody here can move."""


def flat_notes(
    part: Part,
    flat: FlatPattern,
    findings: tuple[Finding, ...],
    openings: tuple[OpeningRow, ...] = (),
    *,
    inches: bool = False,
    bench: str | None = None,
    schedule: Schedule | None = None,
) -> Notes:
    """The text beside the blank.

    :param findings: of which cautions and notes are written
    :param inches: sizes in inches before those in millimetres
    :param bench: file of the sight lines, empty if not written; None where no brake is known
    :param schedule: None where no brake is known
    """
    note = f" ({part.thickness_note})" if part.thickness_note else ""
    thickness = in_mm_and_inch(part.thickness, thickness=True, inch_first=inches)
    width, size = (both_lengths(s, inches=inches) for s in (flat.width, flat.length))
    lines = [f"{metal_name(part)}, thickness {thickness}{note}. Blank {width} by {size}."]
    if flat.bends:
        lines += [*_bend_line_places(flat, inches), READING + _sight_line_file(bench)]
    if openings:
        lines.append(f"Openings: {_opening_kinds(part, openings, inches)}.")
    lines += _order(part, schedule)
    if part.source:
        lines += [f"From {part.source.text}.", f"{near_face(flat).capitalize()}."]
    lines += [f"Note: {text}." for text in _grouped_texts(findings, "note")]
    return Notes(full_title(part), tuple(lines), cautions(part, flat, findings), leg_texts(part, flat))


def full_title(part: Part) -> str:
    """Name and title of a part."""
    return f"{part.name}: {part.title}" if part.title else part.name


def metal_name(part: Part) -> str:
    """The metal of a part, at the start of a sentence."""
    return part.metal_text if part.metal else part.metal_text[:1].upper() + part.metal_text[1:]


def _order(part: Part, schedule: Schedule | None) -> list[str]:
    """The order of bending and how it was checked; a missing order is a caution."""
    if schedule is not None and schedule.checked:
        labels = ", ".join(s.crease.label for s in schedule.stages)
        whose = "as given, checked against" if schedule.state == "checked" else "the best of all orders on"
        return [f"Order of bending, {whose} {schedule.shop.brake.name}, set-up {', '.join(schedule.setups)}: {labels}."]
    if part.order and (schedule is None or schedule.state == "unchecked"):
        return [ORDER + ", ".join(part.order) + "."]
    return []


def leg_texts(part: Part, flat: FlatPattern) -> tuple[str, ...]:
    """Names for the legs of a received part, whose panels have none."""
    return tuple(part.leg_text(n) for n in range(len(flat.panels))) if part.source and flat.bends else ()


def cautions(
    part: Part, flat: FlatPattern, findings: tuple[Finding, ...], lines: str = "bend lines"
) -> tuple[str, ...]:
    """Cautions of a part, and those of all work with sheet; ``lines``: what is marked on it."""
    return (*_finding_cautions(part, findings), *_safety(part, flat, lines))


def _safety(part: Part, flat: FlatPattern, lines: str) -> list[str]:
    pencil = PENCIL if part.metal is None or part.metal.family == "aluminium" else ""
    safety = [EDGES, *([BENDING.format(lines=lines, pencil=pencil)] if flat.bends else [])]
    if part.source:
        unchecked = UNCHECKED if part.metal is None and flat.bends else ""
        safety.append(RECEIVED.format(unchecked=unchecked))
    return [*safety, STRENGTH]


def _sight_line_file(bench: str | None) -> str:
    if bench is None:
        return NO_BRAKE
    return ELSEWHERE.format(bench=bench) if bench else NONE_HERE


def _bend_line_places(flat: FlatPattern, inches: bool) -> list[str]:
    """Where the bend lines lie: upright and level ones by their distance from an edge of the blank."""

    def both(mm: float) -> str:
        return both_lengths(mm, inches=inches)

    if bends_upright(flat):
        return [_listed(PLACES, [f"{b.label} {both(b.centre[0][0])}" for b in flat.bends])]
    rising = [b for b in flat.bends if _level(b, 0)]
    lying = [b for b in flat.bends if _level(b, 1)]
    others = [b for b in flat.bends if not _level(b, 0) and not _level(b, 1)]
    groups = [
        (PLACES, [f"{b.label} {both(b.centre[0][0])}" for b in rising]),
        (LEVELS, [f"{b.label} {both(b.centre[0][1])}" for b in lying]),
        (SLANTED, [f"{b.label} {_corner(b, 0, inches)} to {_corner(b, 1, inches)}" for b in others]),
    ]
    return [_listed(head, places) for head, places in groups if places]


def _level(bend: Bend, axis: int) -> bool:
    first, last = bend.centre
    return abs(first[axis] - last[axis]) <= EQUAL


def _corner(bend: Bend, end: int, inches: bool) -> str:
    x, y = sorted(bend.centre)[end]
    return f"({length(x, inches=inches)}, {length(y, inches=inches)})"


def _listed(head: str, places: list[str]) -> str:
    return head + "; ".join(places) + "."


def _opening_kinds(part: Part, rows: tuple[OpeningRow, ...], inches: bool) -> str:
    """Openings by leg and kind, with their numbers."""
    kinds: dict[str, dict[str, list[OpeningRow]]] = {}
    for row in sorted(rows, key=lambda r: (len(r.measured.legs) != 1, r.measured.legs)):
        legs = row.measured.legs
        leg = (part.leg_name(legs[0]) or leg_number(legs[0])) if len(legs) == 1 else crossing_text(row)
        some = kinds.setdefault(leg, {})
        some.setdefault(row.text, []).append(row)
    texts, left, more = [], MOST_KINDS, 0
    for leg, some in kinds.items():
        shown = [f"{len(alike)} {alike[0].called(len(alike), inches=inches)}" for alike in some.values()][:left]
        left -= len(shown)
        more += len(some) - len(shown)
        if shown:
            texts.append(f"{leg}{':' if part.source else ''} {', '.join(shown)}")
    return "; ".join(texts) + (f"; and {more} more kinds" if more else "")


def _finding_cautions(part: Part, findings: tuple[Finding, ...]) -> list[str]:
    """Cautions; of a received part at most ``MOST_ALIKE`` of one code, the worst first."""
    if part.source is None:
        return _grouped_texts(findings, "caution", ".")
    shown, more = [], Counter[str]()
    for code in dict.fromkeys(f.code for f in findings if f.severity == "caution"):
        texts = _grouped_texts(tuple(f for f in findings if f.code == code), "caution", ".")
        shown += texts[:MOST_ALIKE]
        more[CODES[code]] += len(texts[MOST_ALIKE:])
    return shown + [
        f"{count} more of this kind ({kind}); the answer and its JSON have them."
        for kind, count in more.items()
        if count
    ]


def _grouped_texts(findings: tuple[Finding, ...], severity: str, stop: str = "") -> list[str]:
    """Texts of one severity; one that several bends share stands once, with their labels."""
    groups: dict[str, list[str]] = {}
    for item in findings:
        if item.severity == severity:
            head, _, tail = item.text.partition(": ")
            own = head.startswith("bend ") and tail
            groups.setdefault(tail if own else item.text, []).extend([head.removeprefix("bend ")] if own else [])
    texts = []
    for text, bends in groups.items():
        who = f"bend{'s' if len(bends) > 1 else ''} {', '.join(bends)}: " if bends else ""
        texts.append(f"{who}{text}{stop}")
    return texts
