"""Metal tables as plain dictionaries: those of the package, a user's own on top of them.

What a user's table says of a metal replaces ours key by key (``radii`` too); rows of a ``[[radius_tables]]`` are added.
``like = "6061-T6"`` fills the keys that are left out from another metal.
"""

from __future__ import annotations

import copy
import functools
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.metal.figures import TABLE_FAULT, Source, key_path

_DATA = Path(__file__).parent / "data"
_OWN_FILES = ("sources.toml", "metals.toml", "radii.toml")
_LARGEST_FILE = 1_000_000
"""Bytes of a table from a user."""

RawTable = dict[str, Any]


@dataclass
class Tables:
    """All tables joined: metals by name, radius tables by strength, sources by name."""

    metals: dict[str, RawTable] = field(default_factory=dict)
    by_strength: list[RawTable] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)

    def join(self, raw: RawTable, file: str) -> list[Fault]:
        """Lay the tables of one file over these; faults where they name what is not there."""
        for name, source in raw.get("sources", {}).items():
            self.sources[name] = Source(name, **source)
        for name, keys in raw.get("metals", {}).items():
            metal = self.metals.setdefault(_metal_name(self.metals, name) or name, {})
            metal.update(copy.deepcopy(keys))
            metal["file"] = file
            if "radii" in keys:
                metal["own_radii"] = True
        faults = []
        for place, table in enumerate(raw.get("radius_tables", ())):
            common = {k: v for k, v in table.items() if k not in ("rows", "rows_by_ultimate")}
            for name, row in table.get("rows", {}).items():
                known = _metal_name(self.metals, name)
                if known is None:
                    where = f"{file}: {key_path(['radius_tables', place, 'rows', name])}"
                    faults.append(Fault(TABLE_FAULT, where, f'no metal is called "{name}"', "add it under metals"))
                    continue
                self.metals[known].setdefault("radii", []).append({**common, "radius": row})
            if table.get("rows_by_ultimate"):
                self.by_strength.append(table)
        return faults

    def filled(self) -> tuple[dict[str, RawTable], list[Fault]]:
        """Metals with what ``like`` fills in, and the faults of those that cannot be filled."""
        metals: dict[str, RawTable] = {}
        faults = []
        for name in self.metals:
            try:
                metals[name] = self._fill(name, ())
            except LookupError as error:
                where = f"{self.metals[name]['file']}: {key_path(['metals', name, 'like'])}"
                faults.append(Fault(TABLE_FAULT, where, str(error.args[0]), "name another metal of the tables"))
        return metals, faults

    def _fill(self, name: str, dependents: tuple[str, ...]) -> RawTable:
        keys = self.metals[name]
        if "like" not in keys:
            return keys
        base = _metal_name(self.metals, keys["like"])
        if base is None:
            raise LookupError(f'no metal is called "{keys["like"]}"')
        if base == name or base in dependents:
            raise LookupError(f'"{name}" is like "{base}", which in the end is like "{name}" again')
        start = {k: v for k, v in self._fill(base, (*dependents, name)).items() if k not in ("aliases", "file")}
        filled = {**start, **keys}
        if "radii" in keys and not keys.get("own_radii"):  # rows of shared tables are added, they replace none
            filled["radii"] = [*start.get("radii", ()), *keys["radii"]]
        return filled


def comparison_key(name: str) -> str:
    """A name without case, blanks, hyphens and underscores.

    >>> comparison_key("6061 t6") == comparison_key("6061-T6")
    True
    """
    return re.sub(r"[\s_-]+", "", name).casefold()


def _metal_name(metals: dict[str, RawTable], text: str) -> str | None:
    """Name under which the metal is kept that a text means by name or alias."""
    if text in metals:
        return text
    wanted = comparison_key(text)
    for name, keys in metals.items():
        if wanted in {comparison_key(n) for n in (name, *keys.get("aliases", ()))}:
            return name
    return None


@functools.lru_cache(maxsize=1)
def _own_tables() -> Tables:
    tables = Tables()
    for file in _OWN_FILES:
        faults = tables.join(tomllib.loads((_DATA / file).read_text(encoding="utf-8")), file)
        if faults:
            raise ValueError(str(faults[0]))
    return tables


def join_tables(extra: Iterable[Path]) -> Tables:
    """Our own tables with a user's laid over them in the order given.

    :raises InputRefused: with every fault of every file.
    """
    tables = copy.deepcopy(_own_tables()) if (files := tuple(extra)) else _own_tables()
    faults: list[Fault] = []
    for path in files:
        raw, faults_of_file = _read(path)
        faults += faults_of_file or tables.join(raw, path.name)
    if faults:
        raise InputRefused(*faults)
    return tables


def _read(path: Path) -> tuple[RawTable, tuple[Fault, ...]]:
    from flatgen.metal.schema import check_tables

    def refused(code: str, text: str, remedy: str) -> tuple[RawTable, tuple[Fault, ...]]:
        return {}, (Fault(code, path.name, text, remedy),)

    try:
        if path.stat().st_size > _LARGEST_FILE:
            return refused("FG001", f"is larger than {_LARGEST_FILE} bytes", "give a table of metals in TOML")
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return refused("FG001", "is not text in UTF-8", "save the table as UTF-8 text")
    except OSError as error:
        return refused("FG001", f"cannot be read: {error.strerror}", "check the name of the file")
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        return refused("FG002", f"broken TOML: {error}", "correct the line that is named")
    raw, faults = check_tables(raw, path.name)
    for keys in raw.get("metals", {}).values():
        for value in keys.values():
            for figure in value if isinstance(value, list) else ():
                if isinstance(figure, dict):
                    figure.setdefault("source", f"own table {path.name}")
                    figure.setdefault("mark", "given")
    for table in raw.get("radius_tables", ()):
        table.setdefault("source", f"own table {path.name}")
        table.setdefault("mark", "given")
    return raw, faults
