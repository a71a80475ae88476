"""The formed part of a definition as a solid, its STEP, and what a flat pattern of it is called.

The section stands in the x-z plane (:mod:`flatgen.profile.trace`) and is extruded along +y from 0 to the
length (:mod:`flatgen.profile.body`), then openings and cuts are made (:mod:`flatgen.profile.cutting`). Names
come from :mod:`flatgen.profile.counterparts`.
"""

from __future__ import annotations

import re
from typing import Any

from flatgen.profile.body import formed_solid
from flatgen.profile.counterparts import OpeningHome, named, opening_homes, rule_of, view_of
from flatgen.profile.cutting import cut_out
from flatgen.profile.model import Profile
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

PLACEHOLDER = "NAME-OF-THE-PART"
"""Stands for the name while the kernel writes, which knows ASCII only."""


def build(profile: Profile) -> tuple[Any, Trace]:
    """The formed solid of a definition with all openings and cuts made, and the trace that it was built from.

    Raises
    ------
    InputRefused
        FG043 where openings and cuts miss the metal, or leave no one sound part.
    """
    found = trace(profile)
    return cut_out(profile, found), found


def step_text(solid: Any, name: str) -> str:
    """A STEP file (AP214, mm) of one solid, the product named, the header the same on every run.

    Raises
    ------
    OSError
        Where the kernel cannot write its temporary file.
    """
    import tempfile
    from pathlib import Path

    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.product.name", PLACEHOLDER)
    if writer.Transfer(solid.wrapped, STEPControl_AsIs) != IFSelect_RetDone:
        raise OSError("the kernel could not translate the solid to STEP")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        if writer.Write(str(path)) != IFSelect_RetDone:
            raise OSError("the kernel could not write STEP")
        text = path.read_text(encoding="utf-8", errors="replace")
    part = _step_string(name)
    named_text = re.sub(rf"'{PLACEHOLDER}( \d+)?'", lambda _: f"'{part}'", text)  # the kernel counts its products
    return _plain_header(named_text, name)


def _plain_header(text: str, name: str) -> str:
    """The kernel's header stamps time and its own name; ours says the part and repeats."""
    from flatgen import __version__

    start, end = text.index("FILE_NAME("), text.index("FILE_SCHEMA(")
    part = _step_string(name)
    made_by = f"flatgen {__version__}"
    header = f"FILE_NAME('{part}','2000-01-01T00:00:00',(''),(''),'{made_by}','{made_by}','');\n"
    return text[:start] + header + text[end:]


def _step_string(text: str) -> str:
    """Text as ISO 10303-21 writes it: quotes doubled, other than ASCII as \\X2\\ or \\X4\\ code points."""
    out = []
    for sign in text:
        code = ord(sign)
        if sign in "'\\":
            out.append(sign * 2)
        elif 32 <= code < 127:
            out.append(sign)
        elif code < 0x10000:
            out.append(f"\\X2\\{code:04X}\\X0\\")
        else:
            out.append(f"\\X4\\{code:08X}\\X0\\")
    return "".join(out)
