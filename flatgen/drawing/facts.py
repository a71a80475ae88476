"""What is written beside the blank of a definition: metal, sizes, where the lines are, findings, cautions."""

from __future__ import annotations

from flatgen.drawing.notes import Notes
from flatgen.drawing.words import both_lengths
from flatgen.errors import Finding
from flatgen.flat import FlatPattern
from flatgen.profile.model import Profile
from flatgen.units import in_mm_and_inch

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


def notes_of(profile: Profile, flat: FlatPattern, findings: tuple[Finding, ...]) -> Notes:
    """The text beside the blank of a definition's flat.

    Parameters
    ----------
    profile, flat
        The part, sizes in [mm].
    findings
        Cautions and notes that the drawing carries.
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
    if profile.order:
        lines.append(ORDER + ", ".join(profile.order) + ".")
    lines += [f"Note: {text}." for text in _told(findings, "note")]
    pencil = PENCIL if profile.metal.family == "aluminium" else ""
    safety = [EDGES, *([BENDING.format(pencil=pencil)] if flat.bends else []), STRENGTH]
    title = f"{profile.name}: {profile.title}" if profile.title else profile.name
    return Notes(title, tuple(lines), (*_told(findings, "caution", "."), *safety))


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
