"""The openings of a part measured and judged: in the unfolded flat, or, of a definition, by arithmetic alone.

Arithmetic judges what lies wholly on a leg's flat, and says what it could not judge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern, Line, Loop, leg_panels
from flatgen.definition.closed_form import DevelopedChain, flat_openings
from flatgen.definition.model import Opening, Profile
from flatgen.definition.part import Part
from flatgen.definition.solid.counterparts import OpeningInFlat
from flatgen.openings.findings import DefinedOpening, OpeningRow, opening_face_findings, rule_findings
from flatgen.openings.measure import MeasuredOpening, Surroundings, measure, overlapping, surroundings_of


@dataclass(frozen=True)
class JudgedOpenings:
    """Openings measured, with findings on them; ``loops``: the outline of each row.

    ``whole`` is False where openings or cuts could not be judged without the solid.
    """

    rows: tuple[OpeningRow, ...] = ()
    loops: tuple[Loop, ...] = ()
    findings: tuple[Finding, ...] = ()
    whole: bool = True

    @property
    def area(self) -> float | None:
        """Of all openings together [mm2]; None where it is not known or openings overlap."""
        if not self.whole or overlapping(self.loops):
            return None
        return sum(loop.area for loop in self.loops)


def judge_flat(profile: Profile, flat: FlatPattern, homes: Sequence[OpeningInFlat]) -> JudgedOpenings:
    """Judge the openings of the unfolded flat of a definition, legs counted as the definition counts them.

    :param homes: which opening of the definition is which of the flat
    """
    defined: dict[int, list[DefinedOpening]] = {}
    for home in homes:
        if home.flat is not None:
            defined.setdefault(home.flat, []).append(_defined(profile.openings[home.opening], home.leg))
    known = {index: openings[0] for index, openings in defined.items() if len(openings) == 1}
    return judge_part(profile, flat, leg_panels(flat), known)


def judge_part(
    part: Part, flat: FlatPattern, legs: Sequence[int] | None = None, known: Mapping[int, DefinedOpening] | None = None
) -> JudgedOpenings:
    """Judge the openings of the flat of any part, one row for each.

    :param legs: panel of each leg; without it legs are panels in their order
    :param known: the opening of the definition, by index in the flat
    """
    if not flat.openings:
        return JudgedOpenings()
    surroundings = surroundings_of(flat)
    if legs is not None:
        surroundings = replace(surroundings, legs=tuple(surroundings.legs[n] for n in legs))
    rows = tuple(_row(part, m, (known or {}).get(n)) for n, m in enumerate(measure(surroundings)))
    broken = rule_findings(rows, part.rules, part.thickness, changeable=part.source is None)
    return JudgedOpenings(rows, flat.openings, broken + opening_face_findings(flat, rows))


def judge_closed(profile: Profile, closed: DevelopedChain) -> JudgedOpenings:
    """Judge by arithmetic alone: a row for each opening wholly on a leg's flat, FG116 for what is not judged."""
    if not profile.openings and not profile.cuts:
        return JudgedOpenings()
    placed = [(o, loop) for o, loop in zip(profile.openings, flat_openings(profile), strict=True) if loop is not None]
    top = profile.length
    lines = tuple((b.label, x) for b, zone in zip(profile.bends, closed.zones, strict=True) for x in zone)
    starts = [0.0, *(high for _, high in closed.zones)]
    surroundings = Surroundings(
        None if profile.cuts else _rectangle(0.0, closed.width, top),
        tuple(loop for _, loop in placed),
        tuple((label, (x, 0.0), (x, top)) for label, x in lines),
        tuple(
            (b.label, ((low, 0.0), (low, top), (high, top), (high, 0.0)))
            for b, (low, high) in zip(profile.bends, closed.zones, strict=True)
        ),
        tuple((_rectangle(x, x + flat, top),) for x, flat in zip(starts, closed.flats, strict=True)),
    )
    measured = zip(placed, measure(surroundings), strict=True)
    rows = tuple(_row(profile, m, _defined(o, o.place.leg)) for (o, _), m in measured)
    findings = rule_findings(rows, profile.rules, profile.thickness)
    notes = _not_judged(profile, len(profile.openings) - len(placed))
    return JudgedOpenings(rows, surroundings.openings, findings + notes, not notes)


def _not_judged(profile: Profile, over: int) -> tuple[Finding, ...]:
    through = sum(1 for o in profile.openings if o.through)
    parts = [f"{over} opening{'s' if over > 1 else ''} over a bend"] if over else []
    several = "s" if through > 1 else ""
    parts += [f"{through} opening{several} in further legs that the tool runs through"] if through else []
    count = len(profile.cuts)
    parts += [f"{count} cut{'s' if count > 1 else ''}, so no distance to an edge"] if count else []
    if not parts:
        return ()
    text = f"check has no solid and did not judge {'; '.join(parts)}"
    return (Finding("FG116", "note", profile.path, text, "draw the part: only that shows whether it can be made"),)


def _row(part: Part, measured: MeasuredOpening, known: DefinedOpening | None) -> OpeningRow:
    legs = measured.legs
    return OpeningRow(measured, known, part.leg_text(legs[0]) if len(legs) == 1 else "")


def _defined(opening: Opening, leg: int) -> DefinedOpening:
    size = (opening.size_across, opening.size_along)
    count = (opening.entry, opening.number)
    return DefinedOpening(leg, opening.shape, size, opening.name, opening.rivet, *count, opening.where)


def _rectangle(low: float, high: float, top: float) -> Loop:
    corners = ((low, 0.0), (high, 0.0), (high, top), (low, top))
    return Loop(tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)))
