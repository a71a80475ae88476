"""The proof line: every developed length as a sum, so that it can be checked with a pocket calculator.

developed   flats between bend tangent lines and bend allowances, once for every way straight across the blank
allowance   A pi/180 (r + K t) of every kind of bend, with method and source
setback     (r + t) tan(A/2), as legs are dimensioned
leg         a finished leg, worked back: its flat and the setbacks at its ends

What is printed adds up as it is printed: a sum carries the rounding of its terms as a term of its own, a formula as
many digits as its result needs. Millimetres to 0.01, inches to 0.0001.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Crease, WhichSide
from flatgen.definition.model import Profile
from flatgen.definition.part import BendSpec, Part
from flatgen.metal.allowance import Dimensions, setback
from flatgen.paper.drawing.words import MM_PER_INCH
from flatgen.paper.shop_sheet import words
from flatgen.paper.shop_sheet.measure import BendMap, bend_map, next_crease

Kind = Literal["developed", "allowance", "setback", "leg", "remark"]
FEWEST, MOST = 3, 9
"""Decimals with which numbers of a formula are tried until it gives its printed result."""
SHORTER = 0.005
"""A leg that is shorter than its definition by more was cut off [mm]."""
SQUARE = 1e-9
"""A direction whose other component is smaller runs along an edge of the blank."""


@dataclass(frozen=True)
class ProofRow:
    """A line of the proof: ``head`` = ``terms`` = ``result``, the result with its unit, and where it is from."""

    kind: Kind
    head: str
    terms: str
    result: str
    source: str


@dataclass(frozen=True)
class _Leg:
    """A leg between two bends in a row, or between a bend and an edge (None): index and flat [mm]."""

    index: int
    flat: float
    before: Crease | None
    after: Crease | None


def proof_lines(part: Part, flat: FlatPattern, *, inches: bool = False) -> tuple[ProofRow, ...]:
    """The sums behind a blank: developed lengths, allowances, setbacks, legs; none for a part without bends."""
    bends = bend_map(part, flat)
    specs = {c.label: spec for c, spec in zip(bends.creases, part.bends, strict=True)}
    paths = _paths(bends)
    rows = [_developed_row(part, flat, path, inches) for path in paths]
    rows += _allowance_rows(part, inches)
    legs = {(leg.index, *(c.label if c else "" for c in (leg.before, leg.after))): leg for p in paths for leg in p}
    unrolled = [leg for leg in legs.values() if all(c is None or c.angle <= 180 for c in (leg.before, leg.after))]
    rows += _setback_rows(part, specs, unrolled, inches)
    rows += [_leg_row(part, leg, inches) for leg in unrolled]
    rolled = [c for c in bends.creases if c.angle > 180]
    rows += [ProofRow("remark", words.NO_SETBACK.format(label=words.short_name(c.label)), "", "", "") for c in rolled]
    return tuple(dict.fromkeys(rows))


def _paths(bends: BendMap) -> list[list[_Leg]]:
    """Ways straight across the blank, until each bend is on one of them."""
    paths, covered = [], set[str]()
    for crease in bends.creases:
        if crease.label not in covered:
            row = [*_walk(bends, crease, "first")[::-1], crease, *_walk(bends, crease, "second")]
            covered |= {c.label for c in row}
            paths.append(_legs(row))
    return paths


def _walk(bends: BendMap, crease: Crease, which: WhichSide) -> list[Crease]:
    creases: list[Crease] = []
    here = next_crease(bends, crease, which, crease.side(which).leg)
    while here is not None:
        creases.append(here)
        here = next_crease(bends, here, which, here.side(which).leg)
    return creases


def _legs(row: list[Crease]) -> list[_Leg]:
    legs = [_Leg(row[0].first.leg, row[0].first.flat, None, row[0])]
    for one, other in pairwise(row):
        legs.append(_Leg(one.second.leg, other.first.tangent - one.second.tangent, one, other))
    return [*legs, _Leg(row[-1].second.leg, row[-1].second.flat, row[-1], None)]


def _developed_row(part: Part, flat: FlatPattern, path: list[_Leg], inches: bool) -> ProofRow:
    terms: list[tuple[float, str]] = []
    for leg in path:
        terms.append((leg.flat, words.leg_name(part, leg.index)))
        if leg.after is not None:
            terms.append((leg.after.allowance, words.short_name(leg.after.label)))
    total = math.fsum(value for value, _ in terms)
    sum_, result = _sum(terms, total, inches)
    return ProofRow("developed", _path_head(flat, path, total), sum_, result, words.FLATS_AND_ALLOWANCES)


def _path_head(flat: FlatPattern, path: list[_Leg], total: float) -> str:
    crease = path[-1].before
    assert crease is not None
    level, upright = abs(crease.across[1]) <= SQUARE, abs(crease.across[0]) <= SQUARE
    labels = [leg.after.label for leg in path if leg.after is not None]
    if not (level or upright):
        return words.ACROSS_SLANT.format(label=", ".join(words.short_name(label) for label in labels))
    whole, size = (words.BLANK_WIDTH, flat.width) if level else (words.BLANK_LENGTH, flat.length)
    head = whole if math.isclose(total, size, abs_tol=1e-6) else words.PART_WIDTH if level else words.PART_LENGTH
    return f"{head}, {words.bend_names(labels)}"


def _allowance_rows(part: Part, inches: bool) -> list[ProofRow]:
    """One row for bends that are alike in all that stands in it."""
    unit = MM_PER_INCH if inches else 1.0
    kinds: dict[tuple[object, ...], list[BendSpec]] = {}
    for bend in part.bends:
        kind = (*(round(v, 9) for v in (bend.angle, bend.inside_radius, bend.allowance.length)), bend.allowance.method)
        kinds.setdefault((*kind, bend.allowance.source), []).append(bend)
    rows = []
    for alike in kinds.values():
        bend = alike[0]
        numbers = (bend.angle, bend.inside_radius / unit, bend.allowance.k, part.thickness / unit)
        formula = "{} × π/180 × ({} + {} × {})"
        result = bend.allowance.length / unit
        terms = _formula_text(formula, lambda p: math.radians(p[0]) * (p[1] + p[2] * p[3]), numbers, result, inches)
        head = words.ALLOWANCE.format(bends=words.bend_names([b.label for b in alike]))
        source = f"{bend.allowance.method}: {bend.allowance.source}"
        rows.append(ProofRow("allowance", head, terms, _result(bend.allowance.length, inches), source))
    return rows


def _setback_rows(part: Part, specs: dict[str, BendSpec], legs: Iterable[_Leg], inches: bool) -> list[ProofRow]:
    kinds: dict[tuple[float, float, Dimensions], list[str]] = {}
    for leg in legs:
        for crease in (leg.before, leg.after):
            if crease is not None:
                spec = specs[crease.label]
                kind = (round(spec.angle, 9), round(spec.inside_radius, 9), _dimensioning(part, leg.index))
                if crease.label not in kinds.setdefault(kind, []):
                    kinds[kind].append(crease.label)
    unit = MM_PER_INCH if inches else 1.0
    rows = []
    for (angle, radius, mode), labels in kinds.items():
        value = setback(angle, radius, part.thickness, mode)
        half = (min(angle, 90.0) if "overall" in mode else angle) / 2
        thickness = 0.0 if "inside" in mode else part.thickness
        pattern = "{1} × tan {0}°" if "inside" in mode else "({1} + {2}) × tan {0}°"
        numbers = (half, radius / unit, thickness / unit)
        terms = _formula_text(
            pattern, lambda p: (p[1] + p[2]) * math.tan(math.radians(p[0])), numbers, value / unit, inches
        )
        head = words.SETBACK.format(bends=words.bend_names(labels))
        source = words.SETBACK_OF.format(mode=words.DIMENSIONED[mode])
        rows.append(ProofRow("setback", head, terms, _result(value, inches), source))
    return rows


def _leg_row(part: Part, leg: _Leg, inches: bool) -> ProofRow:
    mode = _dimensioning(part, leg.index)
    terms = [(leg.flat, words.FLAT)]
    for crease in (leg.before, leg.after):
        if crease is not None:
            side = setback(crease.angle, crease.inside_radius, part.thickness, mode)
            terms.append((side, words.short_name(crease.label)))
    total = math.fsum(value for value, _ in terms)
    sum_, result = _sum(terms, total, inches)
    source = words.DIMENSIONED[mode]
    if isinstance(part, Profile) and part.legs[leg.index].length - total > SHORTER:
        given = part.legs[leg.index].length
        source += words.CUT_OFF.format(size=_result(given, inches), less=_result(given - total, inches))
    return ProofRow("leg", words.leg_name(part, leg.index), sum_, result, source)


def _dimensioning(part: Part, leg: int) -> Dimensions:
    return part.legs[leg].dimensions if isinstance(part, Profile) else part.dimensions


def _sum(terms: list[tuple[float, str]], total: float, inches: bool) -> tuple[str, str]:
    """Terms and total as printed; what rounding leaves is a term of its own."""
    step, places = (MM_PER_INCH / 10_000, 4) if inches else (0.01, 2)
    counts = [round(value / step) for value, _ in terms]
    rest = round(total / step) - sum(counts)
    texts = [f"{n / 10**places:.{places}f} ({name})" for n, (_, name) in zip(counts, terms, strict=True)]
    line = " + ".join(texts)
    if rest:
        line += f" {'+' if rest > 0 else '−'} {abs(rest) / 10**places:.{places}f} ({words.ROUNDING})"
    return line, _result(total, inches)


def _formula_text(
    pattern: str, formula: Callable[[Sequence[float]], float], numbers: tuple[float, ...], result: float, inches: bool
) -> str:
    """A formula with as few decimals as give its printed result."""
    places = 4 if inches else 2
    shown = f"{result:.{places}f}"
    for decimals in range(FEWEST, MOST + 1):
        texts = [words.plain(n, decimals) for n in numbers]
        if f"{formula([float(t) for t in texts]):.{places}f}" == shown:
            break
    return pattern.format(*texts).replace("+ -", "− ")


def _result(mm: float, inches: bool) -> str:
    return f"{mm / MM_PER_INCH:.4f} in" if inches else f"{mm:.2f} mm"
