"""The shop rules for openings: how much metal is to be left, and who says so.

The defaults with their sources stand in ``rules.toml`` beside this module.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Limit:
    """A least size: ``factor`` times the thickness ("t"), the diameter of the opening ("d") or 1 mm ("mm")."""

    key: str
    factor: float
    unit: str
    source: str


@dataclass(frozen=True)
class Rules:
    """One limit per key of ``rules.toml``."""

    limits: tuple[Limit, ...]


def default_rules() -> Rules:
    """The rules of the package."""
    return Rules(())


def rules_of(written: Mapping[str, Any], unit: str | None) -> tuple[Rules, list[tuple[str, str, str, str]]]:
    """The rules of a file over the defaults, and faults as (key, code, text, remedy)."""
    return default_rules(), []
