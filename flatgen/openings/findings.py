"""Findings on a flat: rules that its openings break, and edges that are not drawn as they are on both faces."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FaceDifference, FlatPattern, Point
from flatgen.core.opening_rules import Limit, OpeningRules
from flatgen.core.units import in_mm_and_inch
from flatgen.metal.figures import INCH
from flatgen.openings.measure import MeasuredOpening

SLACK = 0.001
"""A limit that is missed by less is kept [mm]."""
MOST_KINDS = 8
"""Findings of one rule; what is more is told in one."""
_FILE_BACK = "file it back on the formed part, on the face where it stands over"


def face_findings(flat: FlatPattern) -> tuple[Finding, ...]:
    """Notes on faces that differ (FG115), curves drawn as arcs (FG117), and walls that are not straight (FG118)."""
    findings = []
    if flat.outline_difference:
        text = (
            f"the two faces end at different lines: {_apart(flat.outline_difference)}. The larger outline is drawn, so "
            "that the metal is left on"
        )
        findings.append(Finding("FG115", "note", "the outline", text, _FILE_BACK))
    if flat.fitted:
        text = f"curves that are neither lines nor arcs are drawn as arcs, within {flat.fitted:g} mm"
        findings.append(Finding("FG117", "note", "the flat", text))
    if flat.volume_outside:
        word = "less" if flat.volume_outside < 0 else "more"
        text = (
            f"the formed part has {abs(flat.volume_outside):.3g} mm3 {word} metal than straight walls between its two "
            "faces would leave: some wall is hollow or bulges"
        )
        findings.append(Finding("FG118", "note", "the flat", text, "look at the edges of the formed part"))
    return tuple(findings)


def _apart(gap: FaceDifference) -> str:
    return f"up to {in_mm_and_inch(gap.largest, thickness=True)} apart near {_place(gap.at)}"


def _place(point: Point) -> str:
    x, y = (round(c, 1) + 0.0 for c in point)  # no minus before a zero
    return f"x {x:.1f}, y {y:.1f} mm"


@dataclass(frozen=True)
class DefinedOpening:
    """An opening as its definition has it: ``size`` across and along [mm].

    ``entry`` and ``number`` count ``[[opening]]`` tables and places in a row from 0.
    """

    leg: int
    shape: str
    size: tuple[float, float]
    name: str | None = None
    rivet: bool = False
    entry: int = 0
    number: int = 0
    where: str = ""


@dataclass(frozen=True)
class OpeningRow:
    """An opening of the flat: as measured, as defined where it is known, and what messages call its leg."""

    measured: MeasuredOpening
    known: DefinedOpening | None = None
    leg: str = ""

    @property
    def shape(self) -> str:
        """``round``, ``slot``, ``rectangle`` or ``other``, as it lies in the flat."""
        return self.known.shape if self.known and not self.measured.bends else self.measured.form

    @property
    def size(self) -> tuple[float, float]:
        """Across and along [mm]: its own; of another form its extents in the flat."""
        return self.known.size if self.known and not self.measured.bends else self.measured.size

    @property
    def text(self) -> str:
        """What messages call it: shape and size."""
        return self.called()

    def called(self, count: int = 1, *, inches: bool = False) -> str:
        """Shape and size of so many of it; inches before millimetres, or alone where one unit has to do."""
        wide, high = self.size
        if self.shape == "round":
            return f"round {in_mm_and_inch(wide, thickness=True, inch_first=inches)}"  # a drill is chosen by it
        noun = ("opening" if self.shape == "other" else self.shape) + "s" * (count > 1)
        size = f"{wide / INCH:.3f} x {high / INCH:.3f} in" if inches else f"{wide:.1f} x {high:.1f} mm"
        return f"{noun} {size}"

    @property
    def place(self) -> str:
        """Where it is, with what the definition calls it."""
        x, y = self.measured.centre
        at = f"at ({x:.1f}, {y:.1f}) mm of the flat"
        if self.known is None:
            return at
        name = f' "{self.known.name}"' if self.known.name else ""
        return f"opening {self.known.entry + 1}{name}, {at}"


@dataclass(frozen=True)
class BrokenRule:
    """A rule that an opening breaks: what it has of what is asked for [mm], and to what, in words."""

    code: str
    row: OpeningRow
    limit: Limit
    actual: float
    required: float
    what: str

    @property
    def margin(self) -> float:
        """Negative; the least is the worst [mm]."""
        return self.actual - self.required


def rule_findings(
    rows: Sequence[OpeningRow], rules: OpeningRules, thickness: float, *, changeable: bool = True
) -> tuple[Finding, ...]:
    """Cautions FG110 to FG113 for every rule that openings break.

    :param rows: in the order in which they were measured
    :param thickness: of the sheet [mm]
    :param changeable: whether the part has a place where its rules can be changed
    """
    broken = [*_tangents(rows, rules, thickness), *_edges(rows, rules, thickness), *_webs(rows, rules, thickness)]
    broken += [*_rivet_edges(rows, rules, thickness), *_rivet_spacing(rows, rules, thickness)]
    groups: dict[tuple[object, ...], list[BrokenRule]] = {}
    for item in broken:
        groups.setdefault((item.code, item.limit.key, *_kind(item)), []).append(item)
    kinds_by_rule: dict[tuple[object, ...], list[list[BrokenRule]]] = {}
    for key, items in groups.items():
        kinds_by_rule.setdefault(key[:2], []).append(items)
    findings: list[Finding] = []
    for kinds in kinds_by_rule.values():
        kinds.sort(key=lambda items: min(i.margin for i in items))
        findings += [_finding(items, changeable) for items in kinds[:MOST_KINDS]]
        rest = [item for items in kinds[MOST_KINDS:] for item in items]
        findings += [_finding(rest, changeable, len(kinds) - MOST_KINDS)] if rest else []
    return tuple(findings)


def opening_face_findings(flat: FlatPattern, rows: Sequence[OpeningRow]) -> tuple[Finding, ...]:
    """Notes FG114 on openings that differ on the two faces, one for each kind."""
    groups: dict[tuple[object, ...], list[tuple[float, OpeningRow]]] = {}
    for index, gap in flat.opening_differences:
        row = rows[index]
        groups.setdefault((_identity(row), row.measured.bends), []).append((gap.largest, row))
    findings = []
    for items in groups.values():
        differs, worst = max(items, key=lambda item: item[0])
        over_bend = f" over {crossing_text(worst)}" if worst.measured.bends else ""
        text = (
            f"{_count(len(items))}{worst.text}{over_bend} ({worst.place}) is drawn as the smaller of its two "
            f"faces', which differ by up to {in_mm_and_inch(differs, thickness=True)} in the flat"
        )
        where = worst.known.where if worst.known else ""
        remedy = "file it to size after bending; metal cannot be put back"
        findings.append(Finding("FG114", "note", where, text, remedy))
    return tuple(findings)


def crossing_text(row: OpeningRow) -> str:
    """What an opening that is not on one leg runs over, in words."""
    bends, legs = row.measured.bends, row.measured.legs
    if not bends and legs:
        return f"leg{'s' if len(legs) > 1 else ''} {', '.join(str(n + 1) for n in legs)}"
    return f"bend{'s' if len(bends) > 1 else ''} {', '.join(bends)}" if bends else "no leg"


def _tangents(rows: Sequence[OpeningRow], rules: OpeningRules, t: float) -> Iterable[BrokenRule]:
    limit = rules.limit("opening_to_tangent")
    required = limit.size(t)
    for row in rows:
        m = row.measured
        if not limit.factor or m.to_tangent is None:
            continue
        if m.bends:
            yield BrokenRule("FG110", row, limit, 0.0, required, f"runs over bend {', '.join(m.bends)}")
        elif m.to_tangent < required - SLACK:
            yield BrokenRule("FG110", row, limit, m.to_tangent, required, f"to the tangent line of bend {m.tangent_of}")


def _edges(rows: Sequence[OpeningRow], rules: OpeningRules, t: float) -> Iterable[BrokenRule]:
    limit = rules.limit("opening_to_edge")
    required = limit.size(t)
    for row in rows:
        metal = row.measured.to_edge
        if metal is not None and metal < required - SLACK:
            yield BrokenRule("FG111", row, limit, metal, required, "to the edge of the blank")


def _webs(rows: Sequence[OpeningRow], rules: OpeningRules, t: float) -> Iterable[BrokenRule]:
    limit = rules.limit("web")
    required = limit.size(t)
    for row in rows:
        web, other = row.measured.to_opening, row.measured.nearest
        if web is not None and other is not None and web < required - SLACK:
            x, y = rows[other].measured.centre
            yield BrokenRule("FG112", row, limit, web, required, f"to the next opening, at ({x:.1f}, {y:.1f}) mm")


def _rivet_edges(rows: Sequence[OpeningRow], rules: OpeningRules, t: float) -> Iterable[BrokenRule]:
    limit = rules.limit("rivet_edge")
    for row in _rivets(rows):
        diameter, metal = row.size[0], row.measured.to_edge
        required = limit.size(t, diameter)
        if metal is not None and (actual := metal + diameter / 2) < required - SLACK:
            yield BrokenRule("FG113", row, limit, actual, required, "from its centre to the edge of the blank")


def _rivet_spacing(rows: Sequence[OpeningRow], rules: OpeningRules, t: float) -> Iterable[BrokenRule]:
    """Centre to centre on one leg, by the larger of two rivets."""
    limit = rules.limit("rivet_spacing")
    rivets = _rivets(rows)
    if len(rivets) < 2 or not limit.factor:
        return
    import shapely

    points = shapely.points(np.array([r.measured.centre for r in rivets]))
    reach = limit.size(t, max(r.size[0] for r in rivets))
    worst: dict[int, BrokenRule] = {}
    for a, b in shapely.STRtree(points).query(points, predicate="dwithin", distance=reach).T.tolist():
        one, two = rivets[a], rivets[b]
        if a == b or one.measured.legs != two.measured.legs:
            continue
        required = limit.size(t, max(one.size[0], two.size[0]))
        actual = float(shapely.distance(points[a], points[b]))
        x, y = two.measured.centre
        if SLACK < actual < required - SLACK and (a not in worst or actual - required < worst[a].margin):
            to_next = f"from its centre to that of the next, at ({x:.1f}, {y:.1f}) mm"
            worst[a] = BrokenRule("FG113", one, limit, actual, required, to_next)
    yield from worst.values()


def _rivets(rows: Sequence[OpeningRow]) -> list[OpeningRow]:
    return [r for r in rows if r.known and r.known.rivet and r.shape == "round"]


def _identity(row: OpeningRow) -> tuple[object, ...]:
    """The same for openings that are alike: of one row of a definition, or of one size on one leg."""
    if row.known:
        return (row.known.entry, row.measured.legs)
    return (row.shape, tuple(round(s, 2) for s in row.size), row.measured.legs)


def _kind(item: BrokenRule) -> tuple[object, ...]:
    m = item.row.measured
    return (*_identity(item.row), m.bends, m.tangent_of if item.code == "FG110" else None)


def _finding(items: list[BrokenRule], changeable: bool, kinds: int = 0) -> Finding:
    """One finding for openings that break one rule alike, with the worst of them."""
    worst = min(items, key=lambda i: i.margin)
    who = f"{len(items)} more openings of {kinds} kinds; the worst, " if kinds else _count(len(items))
    head = f"{who}{worst.row.text}{f' on {worst.row.leg}' if worst.row.leg else ''} ({worst.row.place})"
    rule = f"rule {worst.limit.text}"
    if worst.row.measured.bends and worst.code == "FG110":
        text = f"{head} {worst.what}; {in_mm_and_inch(worst.required)} to its tangent lines are asked for ({rule})"
        remedy = "move it off the bend, or make it after bending; it is drawn out of shape by the bend"
    else:
        text = (
            f"{head} has {in_mm_and_inch(worst.actual, thickness=True)} {worst.what}, "
            f"under {in_mm_and_inch(worst.required, thickness=True)} ({rule})"
        )
        remedy = _REMEDIES[worst.code]
    where = worst.row.known.where if worst.row.known else ""
    change = f", or change {worst.limit.key} in [rules]" if changeable else ""
    return Finding(worst.code, "caution", where, text, remedy + change)


_REMEDIES = {
    "FG110": "move the opening or make it smaller, or make it after bending",
    "FG111": "move the opening inward or make it smaller",
    "FG112": "move the openings apart or make them smaller",
    "FG113": "move the rivets, or take smaller ones",
}


def _count(count: int) -> str:
    return f"{count} openings alike; the worst, " if count > 1 else ""
