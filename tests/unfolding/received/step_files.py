"""STEP files for tests, written by the kernel: an angle, a channel, a bolt; units, schemas, assemblies, names."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

THICKNESS, RADIUS = 2.0, 3.0
USUAL = {"write.step.schema": "AP214IS", "write.step.unit": "MM"}


def angle(width: float = 40.0, legs: tuple[float, float] = (30.0, 20.0)) -> Any:
    """A sheet of 2 mm bent once by 90 degrees, r = 3 mm; outside lengths of its legs [mm]."""
    import cadquery as cq

    t, r = THICKNESS, RADIUS
    a, b = legs
    section = (
        cq.Workplane("XY")
        .moveTo(0, b)
        .lineTo(0, r + t)
        .radiusArc((r + t, 0), -(r + t))
        .lineTo(a, 0)
        .lineTo(a, t)
        .lineTo(r + t, t)
        .radiusArc((t, r + t), r)
        .lineTo(t, b)
        .close()
    )
    return section.extrude(width).val()


def developed(k: float, legs: tuple[float, float] = (30.0, 20.0)) -> float:
    """Length of the blank of ``angle`` [mm]: straight lengths and (pi/2)(r + K t), by hand."""
    return sum(legs) - 2 * (RADIUS + THICKNESS) + math.pi / 2 * (RADIUS + k * THICKNESS)


def bolt() -> Any:
    """No sheet: a hexagon head on a shank."""
    import cadquery as cq

    return cq.Workplane("XY").polygon(6, 13).extrude(5).faces(">Z").workplane().circle(4).extrude(30).val()


@contextmanager
def settings(**changed: str) -> Iterator[None]:
    """The kernel's settings for writing, put back afterwards."""
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_Controller

    STEPControl_Controller.Init_s()  # before it the settings are not known
    try:
        for key, value in {**USUAL, **{f"write.step.{k}": v for k, v in changed.items()}}.items():
            assert Interface_Static.SetCVal_s(key, value)
        yield
    finally:
        for key, value in USUAL.items():
            Interface_Static.SetCVal_s(key, value)


def write(path: Path, *shapes: Any, **changed: str) -> Path:
    """One STEP file of shapes, each a product of its own."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    with settings(**changed):
        writer = STEPControl_Writer()
        for shape in shapes:
            assert writer.Transfer(shape.wrapped, STEPControl_AsIs) == IFSelect_RetDone
        assert writer.Write(str(path)) == IFSelect_RetDone
    return path


def compound(*shapes: Any) -> Any:
    """Several shapes as one."""
    import cadquery as cq

    return cq.Compound.makeCompound(list(shapes))


def write_assembly(path: Path, parts: Sequence[tuple[str, Any, int]], **changed: str) -> Path:
    """An assembly within an assembly: each part by name, shape and how often it is placed, each time turned."""
    import cadquery as cq
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("parts"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())

    def named(label: Any, name: str) -> Any:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(name, True))
        return label

    top, inner = named(tool.NewShape(), "all of it"), named(tool.NewShape(), "inner")
    for number, (name, shape, times) in enumerate(parts):
        label = named(tool.AddShape(shape.wrapped, False), name)
        for n in range(times):
            place = cq.Location(cq.Vector(100 * n, 100 * number, 5), cq.Vector(1, 2, 3), 30.0 * n)
            tool.AddComponent(inner, label, place.wrapped)
    tool.AddComponent(top, inner, cq.Location(cq.Vector(0, 0, 9)).wrapped)
    tool.UpdateAssemblies()
    with settings(**changed):
        writer = STEPCAFControl_Writer()
        writer.SetNameMode(True)
        assert writer.Transfer(document, STEPControl_AsIs)
        assert writer.Write(str(path)) == IFSelect_RetDone
    return path
