"""The metals known: their figures with the source of each, and the minimum inside radius.

metal      name, family, figures, gauge system, default allowance method, radius tables
figure     see ``figure``: value in house units, as printed, typical or minimum, source, mark
safest     the largest minimum radius of all tables that speak of the sheet: where sources disagree both are
           kept, the safer one is used, and the message shows which

This room imports only ``errors`` of ours; the shape of a user's own tables is checked in ``schema``.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatgen.core.errors import Finding, InputRefused
from flatgen.metal.allowance import NotUsable
from flatgen.metal.figures import (
    INCH,
    UNITS,
    Figure,
    GaugeSystem,
    RadiusFigure,
    RadiusTable,
    Source,
    gauge_systems,
    gauge_thickness,
)
from flatgen.metal.tables import Raw, Tables, joined, plain

__all__ = [
    "Figure",
    "GaugeSystem",
    "Metal",
    "RadiusFigure",
    "RadiusTable",
    "Source",
    "find_metal",
    "gauge_systems",
    "gauge_thickness",
    "load_metals",
    "radius_findings",
]

EDGE = 0.1  # share of t by which a radius may lie under the figure as a note: tables step by t/2
SLACK = 1e-9  # of rounding [mm]


@dataclass(frozen=True)
class Metal:
    """A metal of the tables.

    ``default_method`` is a name of ``allowance.METHODS`` or None where the tables do not say; so are
    ``gauge_system`` and ``density`` [kg/m3].
    """

    name: str
    family: str
    figures: tuple[Figure, ...] = ()
    gauge_system: str | None = None
    default_method: str | None = None
    radius_tables: tuple[RadiusTable, ...] = ()
    aliases: tuple[str, ...] = ()

    @property
    def density(self) -> float | None:
        """Density, the first figure of the table, or None [kg/m3]."""
        found = self.figures_of("density")
        return found[0].value if found else None

    def figures_of(self, quantity: str, kind: str | None = None) -> tuple[Figure, ...]:
        """Figures of one quantity, in the order of the table.

        :param kind: typical, minimum, maximum, nominal, or None for all
        :returns: the figures, values in [kg/m3] or
        :raises ValueError: If there is no such quantity.
        """
        if quantity not in UNITS:
            raise ValueError(f"no quantity {quantity}")
        return tuple(f for f in self.figures if f.quantity == quantity and kind in (None, f.kind))

    def minimum_radius(self, thickness: float, angle: float, *, along: bool = False) -> tuple[RadiusFigure, ...]:
        """Minimum inside radius by every table that speaks of this sheet, the safest (largest) first.

        :param thickness: thickness [mm]
        :param angle: bend angle [deg]
        :param along: whether the bend runs along the rolling direction
        :returns: figures with their sources, empty where none is known

        Aluminum Design Manual 2005, Table 3-1: 5052-H34 at 1/16 in takes 1.5 t.

        >>> load_metals()["5052-H34"].minimum_radius(1.5875, 90)[0].value
        2.38125
        """
        found = (t.figure(thickness, angle, along=along) for t in self.radius_tables)
        return tuple(sorted((f for f in found if f), key=lambda f: -f.value))


def load_metals(*extra: Path) -> dict[str, Metal]:
    """The metals of the package, with a user's own tables laid over them.

    :param *extra: TOML files of metal tables; later ones win
    :returns: metals by name, in the order of the tables
    :raises InputRefused: With every fault of every file, if there is one.

    >>> load_metals()["2024-T3"].default_method
    'aviation'
    """
    tables = joined(extra)
    filled, faults = tables.filled()
    if faults:
        raise InputRefused(*faults)
    return {name: _metal(name, keys, tables) for name, keys in filled.items()}


def find_metal(metals: dict[str, Metal], text: str) -> Metal:
    """The metal that a text means, whatever its case, blanks and hyphens, by name or alias.

    :raises NotUsable: If none is meant; the remedy has the nearest names.

    >>> find_metal(load_metals(), "4130 normalised").name
    '4130-N'
    """
    if text in metals:
        return metals[text]
    names = {plain(n): m for m in reversed(metals.values()) for n in (*m.aliases, m.name)}
    wanted = plain(text)
    if wanted in names:
        return names[wanted]
    close = difflib.get_close_matches(wanted, names, n=4, cutoff=0.5)
    near = list(dict.fromkeys(names[c].name for c in close))
    begins = [m.name for m in metals.values() if wanted and plain(m.name).startswith(wanted)]
    asked = list(dict.fromkeys(begins + near))
    remedy = f"did you mean {' or '.join(asked)}?" if asked else f"known are: {', '.join(metals)}"
    raise NotUsable(f'no metal is called "{text}"', remedy)


def radius_findings(
    metal: Metal, thickness: float, inside_radius: float, angle: float, where: str
) -> tuple[Finding, ...]:
    """Caution for a radius under the safest figure, note at its edge, note where none is known.

    :param thickness: thickness [mm]
    :param inside_radius: inside radius [mm]
    :param angle: bend angle [deg]
    :returns: none or one
    """
    figures = metal.minimum_radius(thickness, angle)
    sheet = f"{metal.name}, {_length(thickness)} thick"
    if not figures:
        return (
            Finding(
                "FG103",
                "note",
                where,
                f"no table has a minimum inside radius for {sheet}",
                "bend a test strip and look at the outside of the bend with a lens",
            ),
        )
    safest = figures[0]
    short = safest.value - inside_radius
    if short <= SLACK:
        return ()
    at_edge = short <= EDGE * thickness + SLACK
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
    told = [f"{_length(f.value)} by {f.source} ({f.read})" for f in rest if f.value < first.value - SLACK]
    return f"; sources disagree: {'; '.join(told)}" if told else ""


def _metal(name: str, keys: Raw, tables: Tables) -> Metal:
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


def _by_strength(family: str, figures: tuple[Figure, ...], tables: Tables) -> list[Raw]:
    """Rows of tables that go by tensile strength: the first row that covers the least ultimate strength."""
    least = [f.value for f in figures if f.quantity == "ultimate" and f.kind == "minimum"]
    found: list[Raw] = []
    for table in tables.by_strength if least else ():
        if table.get("family", family) != family:
            continue
        covers = sorted(int(limit) for limit in table["rows_by_ultimate"] if int(limit) >= max(least) - SLACK)
        if covers:
            found.append({**table, "radius": table["rows_by_ultimate"][str(covers[0])]})
    return found


def _table(raw: Raw, tables: Tables) -> RadiusTable:
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
