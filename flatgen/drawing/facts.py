"""What is written under the blank of a definition: metal, sizes, how to read the lines, cautions."""

from __future__ import annotations

from flatgen.drawing.notes import Notes
from flatgen.drawing.words import both_lengths
from flatgen.errors import Finding
from flatgen.flat import FlatPattern
from flatgen.profile.model import Profile
from flatgen.units import in_mm_and_inch

READING = ("Near face toward you. Bend lines mark the middle of each bend. No sight line is drawn: no brake is known.",)
SAFETY = (
    "Deburr edges. Hands clear of nose and leaf; a second person for long sheets. Mark bend lines, never scribe "
    "them; no graphite pencil on aluminium. Inspect the outside of each bend with a lens.",
    "Strength is not judged here: approved drawings, local rules and licensed inspection come first.",
)
ORDER = "Order of bending as given by the user, not checked against a brake: "


def notes_of(profile: Profile, flat: FlatPattern, findings: tuple[Finding, ...]) -> Notes:
    """The text under the blank of a definition's flat."""
    thickness = in_mm_and_inch(profile.thickness, thickness=True)
    note = f" ({profile.thickness_note})" if profile.thickness_note else ""
    lines = [
        f"{profile.metal.name}, thickness {thickness}{note}. "
        f"Blank {both_lengths(flat.width)} by {both_lengths(flat.length)}."
    ]
    if flat.bends:
        lines += READING
    if profile.order:
        lines.append(ORDER + ", ".join(profile.order) + ".")
    cautions = tuple(f"{f.text}." for f in findings if f.severity == "caution")
    title = f"{profile.name}: {profile.title}" if profile.title else profile.name
    return Notes(title, tuple(lines), (*cautions, *SAFETY))
