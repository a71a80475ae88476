"""The formed part of a definition as a solid, its STEP, and what a flat pattern of it is called.

The section stands in the x-z plane (:mod:`flatgen.profile.trace`) and is extruded along +y from 0 to the
length (:mod:`flatgen.profile.body`), then openings and cuts are made (:mod:`flatgen.profile.cutting`). Names
come from :mod:`flatgen.profile.counterparts`.
"""

from __future__ import annotations

from typing import Any

from flatgen.profile.body import formed_solid
from flatgen.profile.counterparts import OpeningHome, named, opening_homes, rule_of, view_of
from flatgen.profile.cutting import cut_out
from flatgen.profile.model import Profile
from flatgen.profile.step import step_text
from flatgen.profile.trace import Trace, trace

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
