"""STEP files of all kinds: units, schemas, assemblies, names, and those without a solid."""

from __future__ import annotations

import math
import os
import re
from pathlib import Path
from typing import Any

import pytest

from flatgen.core.errors import InputRefused
from flatgen.unfolding.received.step_solids import Solid, read_solids
from flatgen.unfolding.received.step_text import LARGEST, LONGEST_NAME, check_text, clean_name, resolve_escapes
from tests.places import PARTS
from tests.unfolding.received.step_files import THICKNESS, angle, bolt, compound, write, write_assembly

REAL = PARTS
AREA = 30 + 20 - 10 + math.pi / 2 * (3 + 0.5 * 2)
"""Of the section of ``angle``, over its thickness [mm]: legs, and the bend along mid thickness."""


def volume(solid: Solid) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid.shape, props)
    return float(props.Mass())


def surfaces(shape: Any) -> dict[str, int]:
    """Faces by the kind of their surface, as STEP calls it."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cylinder, GeomAbs_Plane
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    found = {"PLANE": 0, "CYLINDRICAL_SURFACE": 0}
    explorer = TopExp_Explorer(shape, TopAbs_FACE)
    while explorer.More():
        kind = BRepAdaptor_Surface(TopoDS.Face_s(explorer.Current())).GetType()
        found["PLANE"] += kind == GeomAbs_Plane
        found["CYLINDRICAL_SURFACE"] += kind == GeomAbs_Cylinder
        explorer.Next()
    return found


def said(path: Path) -> str:
    """The refusal of a file."""
    with pytest.raises(InputRefused) as refused:
        read_solids(path)
    assert all(f.where.startswith(str(path)) and f.remedy for f in refused.value.faults)
    return str(refused.value)


@pytest.mark.parametrize("unit", ["MM", "CM", "M", "INCH", "FT"])
def test_all_units_are_millimetres(unit: str, tmp_path: Path) -> None:
    """The kernel writes the same angle in several units; its volume in mm3 is known by hand."""
    path = write(tmp_path / "a.step", angle(), unit=unit)
    words = {"MM": ".MILLI.", "CM": ".CENTI.", "M": "SI_UNIT($,.METRE.)", "INCH": "INCH", "FT": "FOOT"}
    assert words[unit] in path.read_text("ascii")
    (solid,) = read_solids(path)
    assert volume(solid) == pytest.approx(AREA * THICKNESS * 40, rel=1e-9)


@pytest.mark.parametrize(
    ("schema", "word"), [("AP203", "CONFIG_CONTROL_DESIGN"), ("AP214IS", "AUTOMOTIVE_DESIGN"), ("AP242DIS", "AP242")]
)
def test_schemas_and_an_independent_parse(schema: str, word: str, tmp_path: Path) -> None:
    """steputils (pure Python, no kernel) counts the planes and cylinders of the text."""
    from steputils import p21

    path = write(tmp_path / "a.step", angle(), schema=schema)
    assert word in path.read_text("ascii")
    (solid,) = read_solids(path)
    data = p21.readfile(str(path)).data[0]
    names = [e.entity.name for e in data.instances.values() if p21.is_simple_entity_instance(e)]
    counted = surfaces(solid.shape)
    assert counted == {kind: names.count(kind) for kind in counted} == {"PLANE": 8, "CYLINDRICAL_SURFACE": 2}


def test_an_assembly_counts_placements(tmp_path: Path) -> None:
    path = write_assembly(tmp_path / "a.step", [("side", angle(), 3), ("bolt M8", bolt(), 5)], unit="INCH")
    solids = read_solids(path)
    assert {(s.name, s.count) for s in solids} == {("side", 3), ("bolt M8", 5)}
    side = next(s for s in solids if s.name == "side")
    assert volume(side) == pytest.approx(AREA * THICKNESS * 40, rel=1e-9)
    assert side.shape.Location().IsIdentity()  # as its product was modelled, not as it is placed


def test_nested_placements_multiply() -> None:
    """Forty assemblies, each holding the next twice: 2^40 placements are counted without walking them."""
    from collections import Counter

    from flatgen.unfolding.received.step_solids import _placement_counts

    parts = {str(n): Counter({str(n + 1): 2}) for n in range(40)} | {"40": Counter[str]()}
    assert _placement_counts(["0"], parts, "file")["40"] == 2**40
    parts["40"] = Counter({"39": 1})
    with pytest.raises(InputRefused, match="holds itself"):
        _placement_counts(["0"], parts, "file")


def test_several_solids_of_one_product_are_numbered(tmp_path: Path) -> None:
    import cadquery as cq

    away = angle().moved(cq.Location(cq.Vector(0, 0, 200)))
    path = write_assembly(tmp_path / "a.step", [("pair", compound(angle(50), bolt(), away, angle(50)), 2)])
    solids = read_solids(path)
    assert [s.name for s in solids] == ["pair 1", "pair 2", "pair 3", "pair 4"]
    assert [s.count for s in solids] == [2, 2, 2, 2]
    assert volume(solids[2]) == pytest.approx(AREA * THICKNESS * 40, rel=1e-9)


def test_one_solid_placed_twice_in_a_product_is_one_part(tmp_path: Path) -> None:
    import cadquery as cq

    one = angle()
    there = cq.Shape.cast(one.wrapped.Moved(cq.Location(cq.Vector(0, 0, 200)).wrapped))
    path = write(tmp_path / "a.step", compound(one, there))
    assert [s.count for s in read_solids(path)] == [2]


def test_several_products_in_one_file(tmp_path: Path) -> None:
    path = write(tmp_path / "a.step", angle(), bolt())
    solids = read_solids(path)
    assert len(solids) == 2
    assert all(s.count == 1 and s.fault is None for s in solids)


def test_names_in_any_script(tmp_path: Path) -> None:
    names = ['Träger 3/8"', "фланец", "支架", "o'ring \\ seat"]
    path = write_assembly(tmp_path / "a.step", [(name, angle(40 + n), 1) for n, name in enumerate(names)])
    assert sorted(s.name for s in read_solids(path)) == sorted(names)


def test_names_with_escapes(tmp_path: Path) -> None:
    """As other programs write them (ISO 10303-21, 6.4.3), put into the text by hand."""
    path = write_assembly(tmp_path / "a.step", [("PLACEHOLDER", angle(), 1)])
    text = path.read_text("ascii").replace(
        "PLACEHOLDER", r"Tr\X2\00E4\X0\ger \X\D8 8 \S\d\X4\0001F529\X0\ \X2\001B\X0\[2J"
    )
    path.write_text(text, "ascii")
    assert [s.name for s in read_solids(path)] == ["Träger Ø 8 ä🔩 [2J"]


@pytest.mark.parametrize(
    ("text", "known"),
    [
        (r"\X2\03B103B2\X0\!", "αβ!"),
        (r"\PE\\S\4\S\P", "Фа".replace("Фа", bytes([0x34 + 128, 0x50 + 128]).decode("iso8859_5"))),
        (r"a\\b", "a\\b"),
        (r"\X2\D83D\X0\x", r"\X2\D83D\X0\x"),  # half a pair means nothing
        (r"\X\ZZ\X2\12", r"\X\ZZ\X2\12"),
    ],
)
def test_escapes(text: str, known: str) -> None:
    assert resolve_escapes(text) == known


def test_a_name_is_never_trusted() -> None:
    assert clean_name("x" * 10_000) == "x" * LONGEST_NAME
    assert clean_name("a\x00\x1b]0;b\x07\u202ec\r\n d\ud800") == "a]0;bc d"
    assert clean_name("\x07\u200b ") == ""


def test_names_in_utf_8_are_read_although_the_kernel_takes_them_for_latin(tmp_path: Path) -> None:
    """As many programs write them, against the standard; what is no UTF-8 stays as it is."""
    path = write(tmp_path / "a.step", angle())
    text = path.read_text("ascii")
    name = re.search(r"PRODUCT\('([^']*)'", text)
    assert name is not None
    told = {}
    for page in ("utf-8", "latin-1"):
        path.write_bytes(text.replace(f"'{name[1]}'", "'Tür 5 mm'").encode(page))
        told[page] = [s.name for s in read_solids(path)]
    assert told == {"utf-8": ["Tür 5 mm"], "latin-1": ["Tür 5 mm"]}
    assert clean_name("T\u00c3\u00bcr") == "Tür"
    assert clean_name("\u00c3\u00e0") == "\u00c3\u00e0"


def test_surfaces_only(tmp_path: Path) -> None:
    import cadquery as cq

    path = write(tmp_path / "a.step", compound(*angle().Faces()[:4]))
    assert "4 surfaces and no solid" in said(path)
    path = write(tmp_path / "b.step", cq.Shell.makeShell(angle().Faces()))
    assert "10 surfaces and no solid" in said(path)
    path = write(tmp_path / "c.step", compound(*angle().Faces()[:1]))
    assert "it holds 1 surface and no solid" in said(path)


def test_curves_only(tmp_path: Path) -> None:
    import cadquery as cq

    path = write(tmp_path / "a.step", cq.Wire.makePolygon([cq.Vector(0, 0), cq.Vector(9, 0), cq.Vector(9, 9)]))
    assert "2 lines and curves" in said(path)


HEAD = "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
HEAD += "FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n"
TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"


def test_nothing_in_it(tmp_path: Path) -> None:
    path = tmp_path / "a.step"
    path.write_text(HEAD + TAIL)
    assert "[FG050]" in said(path)


def test_triangles_only(tmp_path: Path) -> None:
    path = tmp_path / "a.step"
    path.write_text(
        HEAD
        + "#1=COORDINATES_LIST('',3,((0.,0.,0.),(1.,0.,0.),(0.,1.,0.)));\n"
        + "#2=TRIANGULATED_FACE('',#1,3,((0.,0.,1.)),$,(),((1,2,3)));\n#3=TESSELLATED_SOLID('',(#2),$);\n"
        + TAIL
    )
    assert "triangles only" in said(path)


def test_a_face_missing_is_told(tmp_path: Path) -> None:
    """One face is taken out of the list of the shell in the text."""
    path = write(tmp_path / "a.step", angle())
    path.write_text(re.sub(r"(CLOSED_SHELL\('',\()#\d+,", r"\1", path.read_text("ascii")))
    assert "1 solid in it cannot be closed: the 9 surfaces" in said(path)


def test_a_face_missing_in_one_of_two_solids_is_told(tmp_path: Path) -> None:
    path = write(tmp_path / "a.step", angle(), bolt())
    path.write_text(re.sub(r"(CLOSED_SHELL\('',\()#\d+,", r"\1", path.read_text("ascii"), count=1))
    solids = read_solids(path)
    assert [s.fault is None for s in solids] == [True, False]
    assert "1 of the solids" in str(solids[1].fault)


def test_an_open_shell_is_told_with_its_place() -> None:
    """The kernel can be brought to call an open shell a solid."""
    import cadquery as cq
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Solid

    from flatgen.unfolding.received.step_solids import _fault_in

    shell, solid = cq.Shell.makeShell(angle().Faces()[1:]), TopoDS_Solid()
    builder = BRep_Builder()
    builder.MakeSolid(solid)
    builder.Add(solid, shell.wrapped)
    fault = _fault_in(solid)
    assert fault is not None
    assert re.search(r"4 edges do not join two faces, one near \(.*\) mm", fault.text)
    assert _fault_in(angle().wrapped) is None


def test_a_solid_that_the_kernel_cannot_make_is_told(tmp_path: Path) -> None:
    """Two solids, the shell of one pointing at what is no face: the other is read, and the loss is said."""
    path = write(tmp_path / "a.step", angle(), bolt())
    text = path.read_text("ascii")
    number = re.search(r"(MANIFOLD_SOLID_BREP\('[^']*',)#\d+\)", text)
    assert number
    path.write_text(text.replace(number[0], number[1] + "#1)", 1))
    solids = read_solids(path)
    assert [s.fault is None for s in solids] == [True, False]
    assert "1 of the solids in the file could not be made" in str(solids[1].fault)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\0" * 4000, "is empty"),
        (b"PK\x03\x04rest", "ZIP archive"),
        (b"solid cube\nfacet", "mesh of triangles"),
        (bytes(range(256)) * 40, "does not begin with ISO-10303-21"),
        (b"/* " + b"/**/" * 5000, "does not begin"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;", "no DATA section"),
        (HEAD.encode(), "cut off"),
    ],
)
def test_what_is_no_step_file(content: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "a.step"
    path.write_bytes(content)
    assert words in said(path)


@pytest.mark.parametrize("before", [b"\xef\xbb\xbf", b"\r\n \t", b"/* made\nby */ /**/\n"])
def test_what_may_stand_before_it(before: bytes, tmp_path: Path) -> None:
    path = write(tmp_path / "a.step", angle())
    path.write_bytes(before + path.read_bytes())
    assert check_text(path).startswith(before)
    if not before.startswith(b"\xef"):
        assert len(read_solids(path)) == 1


def test_what_is_no_file(tmp_path: Path) -> None:
    assert "cannot be read: No such file" in said(tmp_path / "none.step")
    assert "it is a folder" in said(tmp_path)
    with pytest.raises(InputRefused, match="cannot be read"):
        check_text(Path("a\0b"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a pipe with a name is a thing of Unix")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "p.step")
    assert "no regular file" in said(tmp_path / "p.step")


def test_a_file_too_large(tmp_path: Path) -> None:
    """A hole in a file: it takes no room on disk."""
    with (tmp_path / "a.step").open("wb") as stream:
        stream.truncate(LARGEST * 1_000_000 + 1)
    assert f"more than the {LARGEST} MB" in said(tmp_path / "a.step")


@pytest.mark.skipif(not REAL.is_dir(), reason="the real parts are not here")
def test_a_real_assembly() -> None:
    """Six solids: five equal inserts, placed, and the sheet (its author's own names)."""
    solids = read_solids(REAL / "real" / "openamr_support_assembly_6solids.step")
    assert [s.count for s in solids] == [5, 1]
    assert solids[1].name.startswith("MMP.05.00.00.001 Support")
    assert sum(surfaces(solids[1].shape).values()) == 93
