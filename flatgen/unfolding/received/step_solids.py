"""A STEP file as solids with names. Runs in the worker: the kernel may crash or hang on a stranger's file.

A product, which is what a file calls a part, is placed by assemblies any number of times; each of its solids stands
here once, with that count. The kernel reads AP203, AP214 and AP242, and turns all units into mm.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.received.step_text import check_text, clean_name

NAMELESS = re.compile(r"(?:Open CASCADE STEP translator|NAUO\d|=>\[|SOLID$|COMPOUND$|COMPSOLID$)")
"""How names begin that the kernel makes up where a file has none."""
_TESSELLATED = re.compile(rb"\b(?:COMPLEX_)?(?:TESSELLATED|TRIANGULATED)_[A-Z_]+\s*\(")
_SOLID = re.compile(rb"=\s*(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP)\s*\(")
_AS_SOLID = "have it exported as a solid, not as surfaces (sewn, or thickened, in the program that made it)"


@dataclass(frozen=True)
class Solid:
    """A solid of a file: the kernel's ``shape`` in the coordinates of its product [mm], or the ``fault`` in it."""

    name: str
    count: int
    shape: Any
    fault: Fault | None = None


def read_solids(path: Path) -> tuple[Solid, ...]:
    """The solids of a STEP file, at least one, in the order in which the kernel finds them.

    :raises InputRefused: FG001, FG050: not to be read, no STEP file, damaged, or without a solid.
    """
    text = check_text(path)
    document = _document(path)  # what it holds lives as long as it does
    solids = [
        Solid(clean_name(_name(label)), count * many, shape, _fault_in(shape))
        for label, count in _products(document, str(path))
        for shape, many in _solids_in(_shape(label))
    ]
    if not solids:
        raise InputRefused(Fault("FG050", str(path), *_instead_of_solids(document, text)))
    lost = len(_SOLID.findall(text)) - len(solids)
    if lost > 0:
        solids.append(Solid("", lost, None, _lost_fault(lost)))
    return tuple(_numbered(solids))


def _document(path: Path) -> Any:
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document

    reader = STEPCAFControl_Reader()
    for what in ("Color", "Layer", "Props", "GDT", "Mat", "View", "SHUO"):
        getattr(reader, f"Set{what}Mode")(False)
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    Interface_Static.SetIVal_s("read.step.tessellated", 0)
    if reader.ReadFile(str(path)) != IFSelect_RetDone:
        text = "the kernel can make nothing of it: the file is damaged"
        raise InputRefused(Fault("FG050", str(path), text, "fetch it again, or have it exported again"))
    document = TDocStd_Document(TCollection_ExtendedString("parts"))
    reader.Transfer(document)
    return document


def _tops(document: Any) -> list[Any]:
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    return _labels(XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).GetFreeShapes)


def _labels(ask: Any, *before: Any) -> list[Any]:
    """What the kernel lists through one of its methods."""
    from OCP.TDF import TDF_LabelSequence

    labels = TDF_LabelSequence()
    ask(*before, labels)
    return [labels.Value(n) for n in range(1, labels.Length() + 1)]


def _products(document: Any, where: str) -> list[tuple[Any, int]]:
    """The labels of products that hold shapes themselves, and how often the file places each."""
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    labels: dict[str, Any] = {}
    parts: dict[str, Counter[str]] = {}
    tops = [_entry(label, labels) for label in _tops(document)]
    waiting = list(reversed(tops))
    while waiting:
        entry = waiting.pop()
        if entry in parts:
            continue
        parts[entry] = Counter()
        if XCAFDoc_ShapeTool.IsAssembly_s(labels[entry]):
            placed = [
                _entry(_referred_label(c), labels) for c in _labels(XCAFDoc_ShapeTool.GetComponents_s, labels[entry])
            ]
            parts[entry].update(placed)
            waiting.extend(reversed(parts[entry]))
    counts = _placement_counts(tops, parts, where)
    return [(labels[entry], counts[entry]) for entry in parts if not parts[entry]]


def _placement_counts(tops: list[str], parts: dict[str, Counter[str]], where: str) -> Counter[str]:
    """How often each is placed, parents before children."""
    parents = Counter(child for within in parts.values() for child in within)
    counts = Counter(tops)
    ready = [entry for entry in parts if not parents[entry]]
    counted = 0
    while ready:
        entry = ready.pop()
        counted += 1
        for child, many in parts[entry].items():
            counts[child] += counts[entry] * many
            parents[child] -= 1
            if not parents[child]:
                ready.append(child)
    if counted < len(parts):
        text = "an assembly in it holds itself"
        raise InputRefused(Fault("FG050", where, text, "have it exported again, the sheet-metal part alone"))
    return counts


def _entry(label: Any, labels: dict[str, Any]) -> str:
    from OCP.TCollection import TCollection_AsciiString
    from OCP.TDF import TDF_Tool

    entry = TCollection_AsciiString()
    TDF_Tool.Entry_s(label, entry)
    return str(labels.setdefault(entry.ToCString(), label) and entry.ToCString())


def _referred_label(component: Any) -> Any:
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    label = TDF_Label()
    return label if XCAFDoc_ShapeTool.GetReferredShape_s(component, label) else component


def _shape(label: Any) -> Any:
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    return XCAFDoc_ShapeTool.GetShape_s(label)


def _name(label: Any) -> str:
    from OCP.TDataStd import TDataStd_Name

    attribute = TDataStd_Name()
    name = str(attribute.Get().ToExtString()) if label.FindAttribute(TDataStd_Name.GetID_s(), attribute) else ""
    return "" if NAMELESS.match(name) else name


def _explored(shape: Any, kind: Any) -> Iterator[Any]:
    from OCP.TopExp import TopExp_Explorer

    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


def _solids_in(shape: Any) -> list[tuple[Any, int]]:
    """The different solids of a shape, each where it stands first, and how often it stands there."""
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopTools import TopTools_IndexedMapOfShape

    if shape is None or shape.IsNull():
        return []
    numbers, solids = TopTools_IndexedMapOfShape(), list[list[Any]]()
    for solid in _explored(shape, TopAbs_SOLID):
        number = numbers.Add(solid.Located(TopLoc_Location()))
        if number > len(solids):
            solids.append([solid, 0])
        solids[number - 1][1] += 1
    return [(solid, many) for solid, many in solids]


def _fault_in(solid: Any) -> Fault | None:
    """What is wrong if the faces of a solid do not close: the kernel leaves out those that it cannot make."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_SHELL
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedMapOfShape

    if all(BRep_Tool.IsClosed_s(shell) for shell in _explored(solid, TopAbs_SHELL)):
        return None
    numbers, uses, edges = TopTools_IndexedMapOfShape(), Counter[int](), {}
    for edge in _explored(solid, TopAbs_EDGE):
        edge = TopoDS.Edge_s(edge)
        if not BRep_Tool.Degenerated_s(edge):
            number = numbers.Add(edge)
            uses[number] += 1
            edges[number] = edge
    odd = [number for number, many in uses.items() if many != 2]
    place = ""
    if odd:
        curve = BRepAdaptor_Curve(edges[odd[0]])
        middle = curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2)
        place = f", one near ({middle.X():.5g}, {middle.Y():.5g}, {middle.Z():.5g}) mm"
    do = "does" if len(odd) == 1 else "do"
    text = f"its faces do not close: {_many(len(odd), 'edge')} {do} not join two faces{place}"
    return Fault("FG050", "the solid", text, "have it repaired and exported again in the program that made it")


def _lost_fault(lost: int) -> Fault:
    why = "it is damaged, or no product has it" if lost == 1 else "they are damaged, or no product has them"
    text = f"{lost} of the solids in the file could not be made by the kernel: {why}"
    return Fault("FG050", "the solid", text, "have it exported again, the sheet-metal part alone")


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _instead_of_solids(document: Any, text: bytes) -> tuple[str, str]:
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE

    shapes = [_shape(label) for label in _tops(document)]
    shapes = [s for s in shapes if s is not None and not s.IsNull()]
    faces = sum(1 for s in shapes for _ in _explored(s, TopAbs_FACE))
    edges = sum(1 for s in shapes for _ in _explored(s, TopAbs_EDGE))
    if faces and (many := len(_SOLID.findall(text))):
        surfaces = f"the {_many(faces, 'surface')} that could be made leave{'s' if faces == 1 else ''} gaps"
        text_found = f"{_many(many, 'solid')} in it cannot be closed: {surfaces}"
        return text_found, "have it repaired and exported again in the program that made it"
    if faces:
        return f"it holds {_many(faces, 'surface')} and no solid: a sheet of no thickness cannot be unfolded", _AS_SOLID
    if edges:
        text_found = "a line or a curve" if edges == 1 else f"{edges} lines and curves"
        return f"it holds {text_found}, and neither surfaces nor a solid", _AS_SOLID
    if _TESSELLATED.search(text):
        text_found = "it holds triangles only (a tessellated model), whose bends are facets"
        return text_found, "have it exported with its exact surfaces (advanced boundary representation)"
    return "it holds no solid that the kernel could make: it is empty, or damaged", "have it exported again, as a solid"


def _numbered(solids: list[Solid]) -> list[Solid]:
    many, so_far = Counter(s.name for s in solids if s.name), Counter[str]()
    numbered = []
    for solid in solids:
        so_far[solid.name] += 1
        numbered.append(replace(solid, name=f"{solid.name} {so_far[solid.name]}") if many[solid.name] > 1 else solid)
    return numbered
