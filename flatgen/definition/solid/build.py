"""The formed part of a definition as a solid, its STEP, and what a flat pattern of it is called.

The section stands in the x-z plane (:mod:`flatgen.definition.section`) and is extruded along +y from 0 to the
length (:mod:`flatgen.definition.solid.body`), then openings and cuts are made (:mod:`flatgen.definition.solid.cutting`). Names
come from :mod:`flatgen.definition.solid.counterparts`.
"""

from __future__ import annotations

from typing import Any

from flatgen.definition.model import Profile
from flatgen.definition.section import Trace, trace
from flatgen.definition.solid.body import formed_solid
from flatgen.definition.solid.counterparts import OpeningHome, named, opening_homes, rule_of, view_of
from flatgen.definition.solid.cutting import cut_out
from flatgen.definition.solid.step import step_text

__all__ = [
    "OpeningHome",
    "build",
    "formed_solid",
    "named",
    "opening_homes",
    "rule_of",
    "step_text",
    "trace",
    "view_of",
]


def build(profile: Profile) -> tuple[Any, Trace]:
    """The formed solid of a definition with all openings and cuts made, and the trace that it was built from.

    Raises
    ------
    InputRefused
        FG043 where openings and cuts miss the metal, or leave no one sound part.
    """
    found = trace(profile)
    return cut_out(profile, found), found
