"""The text that stands under the blank. This module imports nothing of ours."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Notes:
    """Text under the blank: a title, lines of facts, and cautions, each drawn with the word for it.

    A line that is too long for the drawing is broken at blanks; nothing is left out. ``legs`` are what to write on
    the panels where these have no names; in smaller lettering where they find no room.
    """

    title: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    legs: tuple[str, ...] = ()
