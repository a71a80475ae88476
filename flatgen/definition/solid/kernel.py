"""Small questions to the kernel's shapes: solids, volume, soundness, one shape less others, what two share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

SAME_VOLUME = 1e-6
"""Merging faces must not change the volume by a larger share than this [-]."""
MOST_WIRES = 300
"""With more wires the kernel's check of wires against each other, which takes their square, is left out."""


def solids_of(shape: Any) -> list[Any]:
    """The solids in a kernel shape."""
    from OCP.TopAbs import TopAbs_SOLID

    return _parts(shape, TopAbs_SOLID)


def _parts(shape: Any, kind: Any) -> list[Any]:
    from OCP.TopExp import TopExp_Explorer

    explorer, parts = TopExp_Explorer(shape, kind), []
    while explorer.More():
        parts.append(explorer.Current())
        explorer.Next()
    return parts


def mass(shape: Any) -> tuple[float, tuple[float, float, float]]:
    """Volume [mm3] and centre of mass [mm] of a kernel shape."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    centre = props.CentreOfMass()
    return props.Mass(), (centre.X(), centre.Y(), centre.Z())


def sound(shape: Any) -> bool:
    """Whether the kernel's check passes a shape."""
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopAbs import TopAbs_WIRE

    return bool(BRepCheck_Analyzer(shape, len(_parts(shape, TopAbs_WIRE)) <= MOST_WIRES).IsValid())


def _operate(operation: Any, one: Sequence[Any], others: Sequence[Any]) -> Any:
    """A boolean of the kernel, or None where it fails."""
    from OCP.TopTools import TopTools_ListOfShape

    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    for shape in one:
        arguments.Append(shape)
    for shape in others:
        tools.Append(shape)
    operation.SetArguments(arguments)
    operation.SetTools(tools)
    operation.SetNonDestructive(True)
    operation.Build()
    return operation.Shape() if operation.IsDone() else None


def less(shape: Any, tools: Sequence[Any]) -> Any:
    """A kernel shape less all tools, or None where the kernel fails."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    return _operate(BRepAlgoAPI_Cut(), [shape], tools)


def shared(shape: Any, others: Sequence[Any]) -> list[Any]:
    """The solids that a kernel shape has in common with others."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    found = []
    for other in others:
        common = _operate(BRepAlgoAPI_Common(), [shape], [other])
        found += [] if common is None else solids_of(common)
    return found


def mended(solid: Any) -> Any | None:
    """A sound solid of one that may have faces in needless pieces, or None where it cannot be mended."""
    from OCP.ShapeFix import ShapeFix_Shape

    volume, _ = mass(solid)
    if not sound(solid):
        fix = ShapeFix_Shape(solid)
        fix.Perform()
        solids = solids_of(fix.Shape())
        if len(solids) != 1 or not sound(solids[0]) or abs(mass(solids[0])[0] / volume - 1) > 1e-6:
            return None
        solid = solids[0]
    merged = _merged(solid)
    if merged is None or abs(mass(merged)[0] / volume - 1) > SAME_VOLUME or not sound(merged):
        return solid
    return merged


def _merged(solid: Any) -> Any | None:
    """Faces on one surface and edges on one curve joined."""
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    merge = ShapeUpgrade_UnifySameDomain(solid, True, True, False)
    merge.Build()
    solids = solids_of(merge.Shape())
    return solids[0] if len(solids) == 1 else None
