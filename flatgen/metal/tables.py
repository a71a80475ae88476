"""Reading of metal tables: our own from the package, a user's own on top of them.

What a user's table says of a metal replaces ours key by key (``radii`` too: a metal's own radius tables
replace the printed ones); rows of a ``[[radius_tables]]`` are added to them. ``like = "6061-T6"`` fills the
keys that are left out from another metal. Here everything is plain dictionaries; ``metals`` builds the types.
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
from flatgen.metal.figures import CODE, Source, key_path

DATA = Path(__file__).parent / "data"
OWN_FILES = ("sources.toml", "metals.toml", "radii.toml")
LARGEST = 1_000_000  # [bytes], of a table from a user

Raw = dict[str, Any]


@dataclass
class Tables:
    """All tables joined: metals by name, radius tables by strength, sources by name. Private to loading."""

    metals: dict[str, Raw] = field(default_factory=dict)
    by_strength: list[Raw] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)

    def join(self, raw: Raw, file: str) -> list[Fault]:
        """Lay the tables of one file over these; faults where they name what is not there."""
        for name, source in raw.get("sources", {}).items():
            self.sources[name] = Source(name, **source)
        for name, keys in raw.get("metals", {}).items():
            known = nearest_name(self.metals, name) or name
            metal = self.metals.setdefault(known, {})
            metal.update(copy.deepcopy(keys))
            metal["file"] = file
            if "radii" in keys:
                metal["own_radii"] = True
        faults = []
        for place, table in enumerate(raw.get("radius_tables", ())):
            common = {k: v for k, v in table.items() if k not in ("rows", "rows_by_ultimate")}
            for name, row in table.get("rows", {}).items():
                known = nearest_name(self.metals, name) or ""
                if not known:
                    where = f"{file}: {key_path(['radius_tables', place, 'rows', name])}"
                    faults.append(Fault(CODE, where, f'no metal is called "{name}"', "add it under metals"))
                    continue
                self.metals[known].setdefault("radii", []).append({**common, "radius": row})
            if table.get("rows_by_ultimate"):
                self.by_strength.append(table)
        return faults

    def filled(self) -> tuple[dict[str, Raw], list[Fault]]:
        """Metals with what ``like`` fills in, and the faults of those that cannot be filled."""
        done: dict[str, Raw] = {}
        faults = []
        for name in self.metals:
            try:
                done[name] = self._fill(name, ())
            except LookupError as error:
                where = f"{self.metals[name]['file']}: {key_path(['metals', name, 'like'])}"
                faults.append(Fault(CODE, where, str(error.args[0]), "name another metal of the tables"))
        return done, faults

    def _fill(self, name: str, seen: tuple[str, ...]) -> Raw:
        keys = self.metals[name]
        if "like" not in keys:
            return keys
        base = nearest_name(self.metals, keys["like"])
        if base is None:
            raise LookupError(f'no metal is called "{keys["like"]}"')
        if base == name or base in seen:
            raise LookupError(f'"{name}" is like "{base}", which in the end is like "{name}" again')
        start = {k: v for k, v in self._fill(base, (*seen, name)).items() if k not in ("aliases", "file")}
        filled = {**start, **keys}
        if "radii" in keys and not keys.get("own_radii"):  # rows of shared tables are added, they replace none
            filled["radii"] = [*start.get("radii", ()), *keys["radii"]]
        return filled


def plain(name: str) -> str:
    """A name with case, blanks, hyphens and underscores taken out, to compare by.

    >>> plain("6061 t6") == plain("6061-T6")
    True
    """
    return re.sub(r"[\s_-]+", "", name).casefold()


def nearest_name(metals: dict[str, Raw], text: str) -> str | None:
    """Name of the metal that a text means, by name or alias, or None.

    :param metals: metals by name, with their ``aliases``
    :returns: the name under which it is kept
    """
    if text in metals:
        return text
    wanted = plain(text)
    for name, keys in metals.items():
        if wanted in {plain(n) for n in (name, *keys.get("aliases", ()))}:
            return name
    return None


@functools.lru_cache(maxsize=1)
def _own() -> Tables:
    tables = Tables()
    for file in OWN_FILES:
        faults = tables.join(tomllib.loads((DATA / file).read_text(encoding="utf-8")), file)
        if faults:
            raise ValueError(str(faults[0]))
    return tables


def joined(extra: Iterable[Path]) -> Tables:
    """Our own tables with a user's laid over them in the order given.

    :raises InputRefused: With every fault of every file, if there is one.
    """
    tables = copy.deepcopy(_own()) if (files := tuple(extra)) else _own()
    faults: list[Fault] = []
    for path in files:
        raw, found = _read(path)
        faults += found or tables.join(raw, path.name)
    if faults:
        raise InputRefused(*faults)
    return tables


def _read(path: Path) -> tuple[Raw, tuple[Fault, ...]]:
    from flatgen.metal.schema import checked

    def refused(code: str, text: str, remedy: str) -> tuple[Raw, tuple[Fault, ...]]:
        return {}, (Fault(code, path.name, text, remedy),)

    try:
        if path.stat().st_size > LARGEST:
            return refused("FG001", f"is larger than {LARGEST} bytes", "give a table of metals in TOML")
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return refused("FG001", "is not text in UTF-8", "save the table as UTF-8 text")
    except OSError as error:
        return refused("FG001", f"cannot be read: {error.strerror}", "check the name of the file")
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        return refused("FG002", f"broken TOML: {error}", "correct the line that is named")
    raw, faults = checked(raw, path.name)
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
