"""The formed part as a STEP file (AP214, mm), the same on every run to 1e-12 mm.

The kernel's own way from a solid to STEP compares all wires of a face in pairs, which takes seconds for a leg with a
thousand holes; our faces need none of it. So the kernel writes the frame of a file (product, units, contexts) for a
cube, and the cube's shell is exchanged for that of the part, which the kernel translates directly.
"""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import Any

from flatgen.core.errors import Fault, InputRefused

PLACEHOLDER = "NAME-OF-THE-PART"
"""Stands for the name while the kernel writes, which knows ASCII only."""
ROOTS = (
    "StepBasic_ApplicationProtocolDefinition",
    "StepShape_ShapeDefinitionRepresentation",
    "StepBasic_ProductRelatedProductCategory",
)
"""Entities of a file that all others hang on."""


def step_text(solid: Any, name: str) -> str:
    """A STEP file of one solid as a product of this name.

    :raises InputRefused: FG007 where the kernel cannot write its temporary file.
    """
    from flatgen.core.version import __version__

    try:
        text = _kernel_text(_framed(solid))
        start, end = text.index("FILE_NAME("), text.index("FILE_SCHEMA(")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        remedy = "make room for temporary files, or leave the kind step out with --only"
        raise InputRefused(
            Fault("FG007", tempfile.gettempdir(), f"no STEP file could be made: {reason}", remedy)
        ) from error
    part = _step_string(name)
    named = re.sub(rf"'{PLACEHOLDER}( \d+)?'", lambda _: f"'{part}'", text[end:])  # the kernel counts its products
    system = f"flatgen {__version__}"  # the kernel would stamp the time and its own name
    file_name = f"FILE_NAME('{part}','2000-01-01T00:00:00',(''),(''),'{system}','{system}','');\n"
    return text[:start] + file_name + named


def _kernel_text(roots: list[Any]) -> str:
    """The model below some roots as the kernel writes it."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPControl import STEPControl_Writer

    writer = STEPControl_Writer()
    model = writer.Model(True)
    for entity in roots:
        model.AddWithRefs(entity)
    writer.WS().SetModel(model)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        if writer.Write(str(path)) != IFSelect_RetDone:
            raise OSError("the kernel could not write it")
        return path.read_text(encoding="utf-8", errors="replace")


def _framed(solid: Any) -> list[Any]:
    """The roots of a STEP model that holds one product with this solid."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
    from OCP.StepData import StepData_Factors
    from OCP.StepShape import StepShape_ManifoldSolidBrep
    from OCP.TopoDS import TopoDS
    from OCP.TopoDSToStep import TopoDSToStep_MakeManifoldSolidBrep
    from OCP.Transfer import Transfer_FinderProcess

    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.product.name", PLACEHOLDER)
    if writer.Transfer(BRepPrimAPI_MakeBox(1.0, 1.0, 1.0).Solid(), STEPControl_AsIs) != IFSelect_RetDone:
        raise OSError("the kernel could not begin a STEP file")
    model = writer.Model(False)
    finder = Transfer_FinderProcess()
    finder.SetModel(model)
    brep = TopoDSToStep_MakeManifoldSolidBrep(
        TopoDS.Solid_s(getattr(solid, "wrapped", solid)), finder, StepData_Factors()
    )
    if not brep.IsDone():
        raise OSError("the kernel could not translate the solid to STEP")
    roots = []
    for number in range(1, model.NbEntities() + 1):
        entity = model.Value(number)
        if isinstance(entity, StepShape_ManifoldSolidBrep):
            entity.SetOuter(brep.Value().Outer())
        if type(entity).__name__ in ROOTS:
            roots.append(entity)
    return roots


def _step_string(text: str) -> str:
    r"""Text as ISO 10303-21 writes it: quotes doubled, other than ASCII as \X2\ or \X4\ code points."""
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
