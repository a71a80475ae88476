"""The demo parts on the demo brake, each worked out once in a process, however many tests look at it."""

from __future__ import annotations

import tempfile
from functools import cache

from flatgen.jobs.draw import DefinitionResult, draw
from flatgen.jobs.result import Options
from tests.places import PROFILES

NAMES = tuple(sorted(p.stem for p in PROFILES.glob("*.toml") if p.stem != "shop"))


@cache
def demo_result(name: str) -> DefinitionResult:
    """Drawn with its schedule; of the files only the JSON is written."""
    with tempfile.TemporaryDirectory() as folder:
        return draw(PROFILES / f"{name}.toml", folder, Options(kinds=("json",)))
