"""The openings of a part as the shop rules see them: in the unfolded flat, or, of a definition, by arithmetic alone.

``check`` has no solid: it judges what lies wholly on a leg's flat, and says what it could not judge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern, Line, Loop, legs_of
from flatgen.definition.closed_form import Closed, flat_openings
from flatgen.definition.model import Opening, Profile
from flatgen.definition.part import Part
from flatgen.definition.solid.counterparts import OpeningHome
from flatgen.openings.findings import Known, Row, findings_of, two_faced
from flatgen.openings.measure import Ground, Measured, ground_of, measure, overlapping


@dataclass(frozen=True)
class Watched:
    """Openings measured, with what is told of them; ``loops`` are their outlines, one for each row.

    ``whole`` is False where openings or cuts could not be judged without the solid.
    """

    rows: tuple[Row, ...] = ()
    loops: tuple[Loop, ...] = ()
    findings: tuple[Finding, ...] = ()
    whole: bool = True

    @property
    def area(self) -> float | None:
        """Area of all openings together [mm2]; None where it is not known or openings overlap."""
        if not self.whole or overlapping(self.loops):
            return None
        return sum(loop.area for loop in self.loops)


def watch_flat(profile: Profile, flat: FlatPattern, homes: Sequence[OpeningHome]) -> Watched:
    """Measure and judge the openings of an unfolded flat.

    :param homes: which opening of the definition is which of the flat
    :returns: one row for each opening of the flat, legs counted as the definition counts them
    """
    if not flat.openings:
        return Watched()
    known: dict[int, Known] = {}
    several = set()
    for home in homes:
        if home.flat is None:
            continue
        one = _known(profile.openings[home.opening], home.leg)
        several |= {home.flat} if home.flat in known else set()
        known.setdefault(home.flat, one)
    for index in several:
        del known[index]
    return watch_part(profile, flat, legs_of(flat), known)


def watch_part(
    part: Part, flat: FlatPattern, legs: Sequence[int] | None = None, known: Mapping[int, Known] | None = None
) -> Watched:
    """Measure and judge the openings of the flat of any part.

    :param legs: which panel each leg is; without it legs are panels in their order
    :param known: what is known of openings, by their index
    :returns: one row for each opening of the flat
    """
    if not flat.openings:
        return Watched()
    ground = ground_of(flat)
    if legs is not None:
        ground = replace(ground, legs=tuple(ground.legs[n] for n in legs))
    rows = tuple(_row(part, m, (known or {}).get(n)) for n, m in enumerate(measure(ground)))
    found = findings_of(rows, part.rules, part.thickness, changeable=part.source is None) + two_faced(flat, rows)
    return Watched(rows, flat.openings, found)


def watch_closed(profile: Profile, closed: Closed) -> Watched:
    """Measure and judge what arithmetic alone knows of the openings of a definition.

    :returns: one row for each opening wholly on a leg's flat, and FG116 for what is not judged
    """
    if not profile.openings and not profile.cuts:
        return Watched()
    placed = [(o, loop) for o, loop in zip(profile.openings, flat_openings(profile), strict=True) if loop is not None]
    over = len(profile.openings) - len(placed)
    top = profile.length
    lines = tuple((b.label, x) for b, zone in zip(profile.bends, closed.zones, strict=True) for x in zone)
    starts = [0.0, *(high for _, high in closed.zones)]
    ground = Ground(
        None if profile.cuts else _rectangle(0.0, closed.width, top),
        tuple(loop for _, loop in placed),
        tuple((label, (x, 0.0), (x, top)) for label, x in lines),
        tuple(
            (b.label, ((low, 0.0), (low, top), (high, top), (high, 0.0)))
            for b, (low, high) in zip(profile.bends, closed.zones, strict=True)
        ),
        tuple((_rectangle(x, x + flat, top),) for x, flat in zip(starts, closed.flats, strict=True)),
    )
    rows = tuple(_row(profile, m, _known(o, o.place.leg)) for (o, _), m in zip(placed, measure(ground), strict=True))
    through = sum(1 for o in profile.openings if o.through)
    found = findings_of(rows, profile.rules, profile.thickness)
    notes = _not_judged(profile, over, through)
    return Watched(rows, ground.openings, found + notes, not notes)


def _not_judged(profile: Profile, over: int, through: int) -> tuple[Finding, ...]:
    parts = [f"{over} opening{'s' if over > 1 else ''} over a bend"] if over else []
    several = "s" if through > 1 else ""
    parts += [f"{through} opening{several} in further legs that the tool runs through"] if through else []
    count = len(profile.cuts)
    parts += [f"{count} cut{'s' if count > 1 else ''}, so no distance to an edge"] if count else []
    if not parts:
        return ()
    text = f"check has no solid and did not judge {'; '.join(parts)}"
    return (Finding("FG116", "note", profile.path, text, "draw the part: only that shows whether it can be made"),)


def _row(part: Part, measured: Measured, known: Known | None) -> Row:
    legs = measured.legs
    return Row(measured, known, part.leg_text(legs[0]) if len(legs) == 1 else "")


def _known(opening: Opening, leg: int) -> Known:
    o = opening
    return Known(leg, o.shape, (o.size_across, o.size_along), o.name, o.rivet, o.entry, o.number, o.where)


def _rectangle(low: float, high: float, top: float) -> Loop:
    corners = ((low, 0.0), (high, 0.0), (high, top), (low, top))
    return Loop(tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)))
