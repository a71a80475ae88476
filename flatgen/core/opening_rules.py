"""The shop rules for openings: how much metal is to be left, and who says so.

The defaults with their sources stand in ``opening_rules.toml`` beside this module. A value is a number of thicknesses
("2 t"), for rivets also of diameters ("2 d"), a length ("3 mm"), or 0 or "off", which switches the rule off.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from flatgen.core.units import NotALength, Unit, parse_length

_OWN = "given in the definition"
"""Source of a limit that a file sets itself."""
_LARGEST_SHARE = 100.0
"""Thicknesses or diameters that a rule may ask for."""
_LARGEST_LENGTH = 1000.0
"""A length that a rule may ask for [mm]."""
_SHARE = re.compile(r"(?P<number>[0-9./\s-]{1,40}?)\s*(?P<of>[td])", re.IGNORECASE)


@dataclass(frozen=True)
class Limit:
    """A least size: ``factor`` times the thickness ("t"), the diameter of the opening ("d") or 1 mm ("mm"); 0 is off.

    ``mark`` says how the ``source`` is known: "seen" or "memory", empty for what a file gives.
    """

    key: str
    factor: float
    unit: str
    source: str
    mark: str = ""

    def size(self, thickness: float, diameter: float = 0.0) -> float:
        """The least size for a thickness of sheet and a diameter of opening, 0 where the rule is off [mm]."""
        return self.factor * {"t": thickness, "d": diameter}.get(self.unit, 1.0)

    @property
    def text(self) -> str:
        """As it is written, with its source."""
        return f"{self.key} = {self.factor:g} {self.unit}; {self.source}"


@dataclass(frozen=True)
class OpeningRules:
    """One limit per key of ``opening_rules.toml``, in its order."""

    limits: tuple[Limit, ...]

    def limit(self, key: str) -> Limit:
        """The limit of one key; ValueError for any other."""
        for limit in self.limits:
            if limit.key == key:
                return limit
        raise ValueError(f"no rule {key!r}")


@cache
def default_rules() -> OpeningRules:
    """The rules of the package.

    Two thicknesses of 1.5 mm sheet are 3 mm.

    >>> default_rules().limit("web").size(1.5)
    3.0
    """
    return OpeningRules(tuple(_limit(key, row) for key, row in default_table().items()))


@cache
def default_table() -> dict[str, dict[str, str]]:
    """The table of defaults as it is written: by key value, measure, source and mark."""
    import tomllib
    from pathlib import Path

    return tomllib.loads(Path(__file__).with_name("opening_rules.toml").read_text("utf-8"))


def read_rules(written: Mapping[str, Any], unit: Unit | None) -> tuple[OpeningRules, list[tuple[str, str, str, str]]]:
    """The rules of a file over the defaults.

    :param unit: of a number that carries none; None refuses such numbers
    :returns: the rules, and faults as (key, code, text, remedy); a faulty key keeps its default

    >>> rules, faults = read_rules({"web": "3 mm", "rivet_edge": "1 1/2 d", "opening_to_edge": "off"}, None)
    >>> [(rules.limit(k).factor, rules.limit(k).unit) for k in ("web", "rivet_edge", "opening_to_edge")], faults
    ([(3.0, 'mm'), (1.5, 'd'), (0.0, 'mm')], [])
    """
    own: dict[str, Limit] = {}
    faults: list[tuple[str, str, str, str]] = []
    for key, value in written.items():
        if key not in default_table():
            near = difflib.get_close_matches(key[:100], default_table(), 1)
            remedy = f"did you mean {near[0]}?" if near else f"the rules are {', '.join(default_table())}"
            faults.append((key, "FG003", "is no rule", remedy))
            continue
        limit = _read(key, value, unit)
        if isinstance(limit, Limit):
            own[key] = limit
        else:
            faults.append((key, "FG027", *limit))
    return OpeningRules(tuple(own.get(limit.key, limit) for limit in default_rules().limits)), faults


def _limit(key: str, row: Mapping[str, str]) -> Limit:
    limit = _read(key, row["value"], None)
    if not isinstance(limit, Limit):
        raise ValueError(f"opening_rules.toml: {key}: {limit[0]}")
    return replace(limit, source=row["source"], mark=row["mark"])


def _read(key: str, value: Any, unit: Unit | None) -> Limit | tuple[str, str]:
    """A limit, or what is wrong and what to write."""
    rivets = key.startswith("rivet")
    examples = 'write for example "2 t", ' + ('"2 d", ' if rivets else "") + '"3 mm" or "off"'
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return f"{str(value)[:40]} is no rule's value", examples
    if isinstance(value, str) and value.strip().lower() == "off":
        value = 0
    if not isinstance(value, str) and value == 0:
        return Limit(key, 0.0, "mm", _OWN)
    share = _SHARE.fullmatch(value.strip()) if isinstance(value, str) else None
    of = share["of"].lower() if share else "mm"
    if of == "d" and not rivets:
        return "only rivets are measured in diameters (d)", examples
    try:
        size = parse_length(f"{share['number']} mm" if share else value, default_unit=unit).value
    except NotALength as error:
        return (f"{value!r:.60} is no number of {of}", examples) if share else (error.text, examples)
    largest = _LARGEST_SHARE if share else _LARGEST_LENGTH
    if not math.isfinite(size) or not 0 <= size <= largest:
        return f"{size:g} {of} is more than {largest:g} {of}, the most that a rule may ask for", examples
    return Limit(key, size, of, _OWN)
