"""What is written beside the blank of a definition: metal, sizes, where the lines are, findings, cautions."""

from __future__ import annotations

from flatgen.drawing.notes import Notes
from flatgen.drawing.words import both_lengths
from flatgen.errors import Finding
from flatgen.flat import FlatPattern
from flatgen.profile.model import Profile
from flatgen.units import in_mm_and_inch
from flatgen.watch.findings import Row, over

READING = "Near face toward you. Bend lines mark the middle of each bend. No sight line is drawn: no brake is known."
PLACES = "Bend lines from the left edge: "
ORDER = "Order of bending as given by the user, not checked against a brake: "
EDGES = "Deburr edges; gloves for carrying, not near closing parts. A second person for long sheets."
BENDING = (
    "Hands clear of nose and leaf. Mark bend lines, never scribe them{pencil}. Inspect the outside of each bend with "
    "a lens: a cracked part is scrap."
)
PENCIL = ", and with no graphite pencil on aluminium"
STRENGTH = "Strength is not judged here: approved drawings, local rules and licensed inspection come first."


MOST_KINDS = 12
"""Kinds of openings that are listed beside the blank: JSON has them all."""


def notes_of(
    profile: Profile, flat: FlatPattern, findings: tuple[Finding, ...], openings: tuple[Row, ...] = ()
) -> Notes:
    """The text beside the blank of a definition's flat.

    Parameters
    ----------
    profile, flat
        The part, sizes in [mm].
    findings
        Cautions and notes that the drawing carries.
    openings
        Those of the flat, sizes in [mm].
    """
    note = f" ({profile.thickness_note})" if profile.thickness_note else ""
    thickness = in_mm_and_inch(profile.thickness, thickness=True)
    lines = [
        f"{profile.metal.name}, thickness {thickness}{note}. "
        f"Blank {both_lengths(flat.width)} by {both_lengths(flat.length)}."
    ]
    if flat.bends:
        places = (f"{b.label} {both_lengths(b.centre[0][0])}" for b in flat.bends)
        lines += [PLACES + "; ".join(places) + ".", READING]
    if openings:
        lines.append(f"Openings: {_kinds(profile, openings)}.")
    if profile.order:
        lines.append(ORDER + ", ".join(profile.order) + ".")
    lines += [f"Note: {text}." for text in _told(findings, "note")]
    pencil = PENCIL if profile.metal.family == "aluminium" else ""
    safety = [EDGES, *([BENDING.format(pencil=pencil)] if flat.bends else []), STRENGTH]
    title = f"{profile.name}: {profile.title}" if profile.title else profile.name
    return Notes(title, tuple(lines), (*_told(findings, "caution", "."), *safety))


def _kinds(profile: Profile, rows: tuple[Row, ...]) -> str:
    """Openings by leg and kind, with their numbers: ``web 12 round 6.5 mm (0.256 in); lip 2 slot 20.0 x 6.0 mm``."""
    kinds: dict[str, dict[str, int]] = {}
    for row in sorted(rows, key=lambda r: (len(r.measured.legs) != 1, r.measured.legs)):
        legs = row.measured.legs
        leg = (profile.legs[legs[0]].name or f"leg {legs[0] + 1}") if len(legs) == 1 else over(row)
        some = kinds.setdefault(leg, {})
        some[row.text] = some.get(row.text, 0) + 1
    told, left, more = [], MOST_KINDS, 0
    for leg, some in kinds.items():
        shown = list(some.items())[:left]
        left -= len(shown)
        more += len(some) - len(shown)
        if shown:
            told.append(f"{leg} {', '.join(f'{count} {text}' for text, count in shown)}")
    return "; ".join(told) + (f"; and {more} more kinds" if more else "")


def _told(findings: tuple[Finding, ...], severity: str, stop: str = "") -> list[str]:
    """Texts of one severity; what is said of several bends alike is said once, with their labels."""
    groups: dict[str, list[str]] = {}
    for item in findings:
        if item.severity == severity:
            head, _, tail = item.text.partition(": ")
            own = head.startswith("bend ") and tail
            groups.setdefault(tail if own else item.text, []).extend([head.removeprefix("bend ")] if own else [])
    told = []
    for text, bends in groups.items():
        who = f"bend{'s' if len(bends) > 1 else ''} {', '.join(bends)}: " if bends else ""
        told.append(f"{who}{text}{stop}")
    return told
