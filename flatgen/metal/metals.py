"""The metals of the tables: their figures with the source of each, and the minimum inside radius.

Where sources disagree all are kept, the safest (largest) minimum radius is used, and the message shows which.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatgen.core.errors import Finding, InputRefused
from flatgen.metal.allowance import SLACK, NotUsable
from flatgen.metal.figures import INCH, UNITS, Figure, RadiusFigure, RadiusTable, Source
from flatgen.metal.tables import RawTable, Tables, comparison_key, join_tables

_EDGE_SHARE = 0.1
"""Share of t by which a radius may lie under the figure as a note: tables step by t/2."""


@dataclass(frozen=True)
class Metal:
    """A metal; ``gauge_system`` and ``default_method`` (a name of ``METHODS``) are None where no table says."""

    name: str
    family: str
    figures: tuple[Figure, ...] = ()
    gauge_system: str | None = None
    default_method: str | None = None
    radius_tables: tuple[RadiusTable, ...] = ()
    aliases: tuple[str, ...] = ()

    @property
    def density(self) -> float | None:
        """The first figure of the table, or None [kg/m3]."""
        figures = self.figures_of("density")
        return figures[0].value if figures else None

    def figures_of(self, quantity: str, kind: str | None = None) -> tuple[Figure, ...]:
        """Figures of one quantity (a key of ``UNITS``), of one kind or of all, in the order of the table."""
        if quantity not in UNITS:
            raise ValueError(f"no quantity {quantity}")
        return tuple(f for f in self.figures if f.quantity == quantity and kind in (None, f.kind))

    def minimum_radius(self, thickness: float, angle: float, *, along: bool = False) -> tuple[RadiusFigure, ...]:
        """Minimum inside radius by every table that speaks of this sheet [mm, deg], the safest (largest) first.

        :param along: whether the bend runs along the rolling direction

        Aluminum Design Manual 2005, Table 3-1: 5052-H34 at 1/16 in takes 1.5 t.

        >>> load_metals()["5052-H34"].minimum_radius(1.5875, 90)[0].value
        2.38125
        """
        figures = (t.figure(thickness, angle, along=along) for t in self.radius_tables)
        return tuple(sorted((f for f in figures if f), key=lambda f: -f.value))


def load_metals(*extra: Path) -> dict[str, Metal]:
    """The metals of the package by name, with a user's own TOML tables laid over them; later ones win.

    :raises InputRefused: with every fault of every file.

    >>> load_metals()["2024-T3"].default_method
    'aviation'
    """
    tables = join_tables(extra)
    filled, faults = tables.filled()
    if faults:
        raise InputRefused(*faults)
    return {name: _metal(name, keys, tables) for name, keys in filled.items()}


def find_metal(metals: dict[str, Metal], text: str) -> Metal:
    """The metal that a text means, whatever its case, blanks and hyphens, by name or alias.

    :raises NotUsable: none is meant; the remedy has the nearest names.

    >>> find_metal(load_metals(), "4130 normalised").name
    '4130-N'
    """
    if text in metals:
        return metals[text]
    names = {comparison_key(n): m for m in reversed(metals.values()) for n in (*m.aliases, m.name)}
    wanted = comparison_key(text)
    if wanted in names:
        return names[wanted]
    near = [names[c].name for c in difflib.get_close_matches(wanted, names, n=4, cutoff=0.5)]
    begins = [m.name for m in metals.values() if wanted and comparison_key(m.name).startswith(wanted)]
    suggestions = dict.fromkeys(begins + near)
    remedy = f"did you mean {' or '.join(suggestions)}?" if suggestions else f"known are: {', '.join(metals)}"
    raise NotUsable(f'no metal is called "{text}"', remedy)


def radius_findings(
    metal: Metal, thickness: float, inside_radius: float, angle: float, where: str
) -> tuple[Finding, ...]:
    """At most one finding [mm, deg]: a radius under the safest figure (FG101) or at its edge (FG102), or none known."""
    figures = metal.minimum_radius(thickness, angle)
    sheet = f"{metal.name}, {_length(thickness)} thick"
    if not figures:
        text = f"no table has a minimum inside radius for {sheet}"
        remedy = "bend a test strip and look at the outside of the bend with a lens"
        return (Finding("FG103", "note", where, text, remedy),)
    safest = figures[0]
    short = safest.value - inside_radius
    if short <= SLACK:
        return ()
    at_edge = short <= _EDGE_SHARE * thickness + SLACK
    close = ", within what the tables resolve" if at_edge else ""
    text = (
        f"inside radius {_length(inside_radius)} is {short:.3g} mm under the least for {sheet}{close}: "
        f"{_length(safest.value)} by {safest.source} ({safest.read}){_others(figures)}"
    )
    least = math.ceil(safest.value * 100 - SLACK) / 100
    remedy = f"use an inside radius of {least:g} mm or more, or bend a test strip first"
    if at_edge:
        return (Finding("FG102", "note", where, text, remedy),)
    return (Finding("FG101", "caution", where, text, remedy),)


def _length(value: float) -> str:
    return f"{value:.4g} mm ({value / INCH:.3f} in)"


def _others(figures: tuple[RadiusFigure, ...]) -> str:
    """The other sources, where they disagree with the safest."""
    first, *rest = figures
    texts = [f"{_length(f.value)} by {f.source} ({f.read})" for f in rest if f.value < first.value - SLACK]
    return f"; sources disagree: {'; '.join(texts)}" if texts else ""


def _metal(name: str, keys: RawTable, tables: Tables) -> Metal:
    figures = tuple(_figure(q, raw, tables) for q in UNITS for raw in keys.get(q, ()))
    raws = [*keys.get("radii", ())]
    family = keys.get("family", "")
    if not keys.get("own_radii"):
        raws += _by_strength(family, figures, tables)
    return Metal(
        name=name,
        family=family,
        figures=figures,
        gauge_system=keys.get("gauge_system"),
        default_method=keys.get("default_method"),
        radius_tables=tuple(_table(raw, tables) for raw in raws),
        aliases=tuple(keys.get("aliases", ())),
    )


def _source(name: str, tables: Tables) -> Source:
    return tables.sources.get(name) or Source(name, name)


def _figure(quantity: str, raw: dict[str, Any], tables: Tables) -> Figure:
    unit = raw.get("unit", "")
    return Figure(
        quantity=quantity,
        value=raw["value"] * UNITS[quantity][unit],
        printed=f"{raw['value']:g} {unit}".strip(),
        kind=raw.get("kind", "nominal"),
        source=_source(raw["source"], tables),
        mark=raw["mark"],
        over=raw.get("over"),
        to=raw.get("to"),
        note=raw.get("note", ""),
    )


def _by_strength(family: str, figures: tuple[Figure, ...], tables: Tables) -> list[RawTable]:
    """Rows of tables that go by tensile strength: the first row that covers the least ultimate strength."""
    least = [f.value for f in figures if f.quantity == "ultimate" and f.kind == "minimum"]
    rows: list[RawTable] = []
    for table in tables.by_strength if least else ():
        if table.get("family", family) != family:
            continue
        covers = sorted(int(limit) for limit in table["rows_by_ultimate"] if int(limit) >= max(least) - SLACK)
        if covers:
            rows.append({**table, "radius": table["rows_by_ultimate"][str(covers[0])]})
    return rows


def _table(raw: RawTable, tables: Tables) -> RadiusTable:
    pairs = [c if isinstance(c, list | tuple) else (c, c) for c in raw["radius"]]
    return RadiusTable(
        source=_source(raw["source"], tables),
        mark=raw["mark"],
        unit=raw["unit"],
        thickness_unit=raw["thickness_unit"],
        columns=tuple(float(c) for c in raw["thickness"]),
        radii=tuple((float(low), float(high)) for low, high in pairs),
        reading=raw.get("reading", "nominal"),
        direction=raw.get("direction", "any"),
        printed_for=raw.get("printed_for"),
        step_up=raw.get("step_up", False),
    )
