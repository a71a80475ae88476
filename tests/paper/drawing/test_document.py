"""The DXF: what an independent reader (GDAL through pyogrio) finds in it, its units, layers, and bytes."""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely  # noqa: TID253

from flatgen.core.flat_pattern import FlatPattern, Line, Loop
from flatgen.paper.drawing import VERSIONS, dxf_bytes, flat_document
from tests.paper.drawing.drawn_samples import NOTES, SAMPLES, bend, channel, dense, pierced, polygon, tray

CUT = {"OUTLINE", "OPENINGS"}
ARC_TOLERANCE = 2e-3
"""GDAL breaks arcs into chords of 4 degrees: relative error of an area at most 1 - sin(4)/4 rad = 0.0008."""


def read(data: bytes, folder: Path) -> dict[str, list[Any]]:
    """Geometry by layer, as GDAL reads it."""
    path = folder / "read.dxf"
    path.write_bytes(data)
    meta, _, shapes, fields = pyogrio.raw.read(path)
    layers = fields[list(meta["fields"]).index("Layer")]
    found: dict[str, list[Any]] = {}
    for layer, shape in zip(layers, shapely.from_wkb(shapes), strict=True):
        found.setdefault(layer, []).append(shape)
    return found


def areas(shapes: list[Any]) -> tuple[float, float, int]:
    """Area and perimeter of what loose edges enclose, and how many edges are left over."""
    grid = shapely.set_precision(np.array(shapes), 1e-6)
    faces, _, dangling, invalid = shapely.polygonize_full(grid)
    rings = [shapely.Polygon(f.exterior) for f in faces.geoms]
    loose = len(dangling.geoms) + len(invalid.geoms)
    return sum(r.area for r in rings), sum(r.length for r in rings), loose


@pytest.mark.parametrize("name", SAMPLES)
def test_an_independent_reader_finds_outline_openings_and_counts(name: str, tmp_path: Path) -> None:
    flat = SAMPLES[name]
    found = read(dxf_bytes(flat_document(flat, NOTES)), tmp_path)
    area, perimeter, loose = areas(found["OUTLINE"])
    assert loose == 0
    assert area == pytest.approx(flat.outline.area, rel=ARC_TOLERANCE)
    assert perimeter == pytest.approx(flat.outline.perimeter, rel=ARC_TOLERANCE)
    counts = {layer: len(shapes) for layer, shapes in found.items()}
    assert counts["OUTLINE"] == len(flat.outline.pieces)
    assert counts.get("OPENINGS", 0) == sum(len(o.pieces) for o in flat.openings)
    assert counts.get("BEND_NEAR", 0) == sum(b.way == "up" for b in flat.bends)
    assert counts.get("BEND_FAR", 0) == sum(b.way == "down" for b in flat.bends)
    assert counts.get("TANGENTS", 0) == 2 * len(flat.bends)
    assert set(found) <= {*CUT, "BEND_NEAR", "BEND_FAR", "TANGENTS", "LABELS"}
    if flat.openings:
        area, perimeter, loose = areas(found["OPENINGS"])
        assert loose == 0
        assert area == pytest.approx(sum(o.area for o in flat.openings), rel=ARC_TOLERANCE)
        assert perimeter == pytest.approx(sum(o.perimeter for o in flat.openings), rel=ARC_TOLERANCE)


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_is_clean_readable_and_repeatable(version: str, tmp_path: Path) -> None:
    flat = pierced()
    doc = flat_document(flat, NOTES, version=version)
    auditor = doc.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    data = dxf_bytes(flat_document(flat, NOTES, version=version))
    assert data == dxf_bytes(flat_document(flat, NOTES, version=version))
    found = read(data, tmp_path)
    assert areas(found["OUTLINE"])[0] == pytest.approx(flat.outline.area, rel=ARC_TOLERANCE)
    again = reread(data)
    assert again.acad_release == version
    assert [t for t in texts(again) if "millimetres" in t]
    assert texts(again) == texts(doc)


def test_another_part_gives_other_bytes() -> None:
    assert dxf_bytes(flat_document(channel(), NOTES)) != dxf_bytes(flat_document(dense(), NOTES))


def test_units_are_said_in_the_header_and_inches_scale_everything(tmp_path: Path) -> None:
    flat = pierced()
    metric, imperial = (reread(dxf_bytes(flat_document(flat, NOTES, inches=i))) for i in (False, True))
    assert [metric.header[k] for k in ("$INSUNITS", "$MEASUREMENT", "$LUNITS")] == [4, 1, 2]
    assert [imperial.header[k] for k in ("$INSUNITS", "$MEASUREMENT", "$LUNITS")] == [1, 0, 2]
    found = read(dxf_bytes(flat_document(flat, NOTES, inches=True)), tmp_path)
    assert areas(found["OUTLINE"])[0] == pytest.approx(flat.outline.area / 25.4**2, rel=ARC_TOLERANCE)
    assert any("All sizes in inches" in t for t in texts(imperial))
    assert any("inside radius 0.093 in" in t for t in texts(imperial))  # 4 mm / 1.7 / 25.4
    pattern = [abs(t.value) for t in metric.linetypes.get("FLAT_DASHED").pattern_tags.tags if t.code == 49]
    scaled = [abs(t.value) for t in imperial.linetypes.get("FLAT_DASHED").pattern_tags.tags if t.code == 49]
    assert scaled == pytest.approx([p / 25.4 for p in pattern])


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_file_for_cutting_holds_nothing_else(version: str, tmp_path: Path) -> None:
    data = dxf_bytes(flat_document(pierced(), NOTES, version=version, cut_only=True))
    assert set(read(data, tmp_path)) == CUT
    doc = reread(data)
    assert {e.dxftype() for e in doc.modelspace()} <= {"LINE", "ARC", "CIRCLE"}
    assert not {layer.dxf.name for layer in doc.layers} & {"BEND_NEAR", "BEND_FAR", "TANGENTS", "LABELS"}


@pytest.mark.parametrize("name", SAMPLES)
def test_geometry_is_lines_arcs_circles_that_meet_end_to_end_once(name: str) -> None:
    doc = flat_document(SAMPLES[name], NOTES)
    pieces = [e for e in doc.modelspace() if e.dxf.layer != "LABELS"]
    assert {e.dxftype() for e in pieces} <= {"LINE", "ARC", "CIRCLE"}
    ends: Counter[tuple[float, float]] = Counter()
    seen: set[Any] = set()
    for e in pieces:
        if e.dxftype() == "CIRCLE":
            continue
        a, b = (e.dxf.start, e.dxf.end) if e.dxftype() == "LINE" else (e.start_point, e.end_point)
        assert a.distance(b) > 1e-6
        spot = tuple(sorted((round(p.x, 6), round(p.y, 6)) for p in (a, b)))
        key = (spot, round(e.dxf.radius, 6) if e.dxftype() == "ARC" else 0.0)
        assert key not in seen
        seen.add(key)
        if e.dxf.layer in CUT:
            ends.update((round(p.x, 7) + 0.0, round(p.y, 7) + 0.0) for p in (a, b))
    assert set(ends.values()) <= {2}


def test_a_line_meets_the_arc_beside_it_although_the_flat_leaves_a_gap() -> None:
    flat = pierced()
    first = flat.outline.pieces[0]
    assert isinstance(first, Line)
    gap = Line((first.start[0] + 3e-7, first.start[1]), (first.end[0], first.end[1] - 3e-7))
    loose = FlatPattern(1.0, Loop((gap, *flat.outline.pieces[1:])), (), flat.panels, flat.bends)
    doc = flat_document(loose, NOTES, cut_only=True)
    line, arc = list(doc.modelspace())[:2]
    assert line.dxf.end.distance(arc.start_point) < 1e-8


def test_tangent_lines_that_fall_together_are_drawn_once() -> None:
    """Two bends without flat between them share a tangent line, the last one's lies on the edge."""
    bends = (
        bend(((5.0, 0.0), (5.0, 90.0)), 10.0),
        bend(((15.0, 0.0), (15.0, 90.0)), 10.0, label="B", first=1, second=2),
    )
    outline = polygon((0.0, 0.0), (20.0, 0.0), (20.0, 90.0), (0.0, 90.0))
    flat = FlatPattern(1.0, outline, (), channel().panels, bends)
    drawn = [e for e in flat_document(flat, NOTES).modelspace() if e.dxf.layer == "TANGENTS"]
    assert [e.dxf.start.x for e in drawn] == [10.0]


def test_line_types_and_widths_tell_the_layers_apart() -> None:
    doc = flat_document(channel(), NOTES)
    layers = {name: doc.layers.get(name).dxf for name in ("OUTLINE", "BEND_NEAR", "BEND_FAR", "TANGENTS")}
    assert layers["OUTLINE"].lineweight == 2 * layers["BEND_NEAR"].lineweight
    looks = {(d.linetype.upper(), d.lineweight) for d in layers.values()}
    assert len(looks) == 4


def test_an_unknown_version_is_refused() -> None:
    with pytest.raises(ValueError, match="R11"):
        flat_document(tray(), NOTES, version="R11")


def reread(data: bytes) -> Any:
    import ezdxf

    later = any(f"AC10{n}".encode() in data[:200] for n in (21, 24, 27, 32))
    return ezdxf.read(io.StringIO(data.decode("utf-8" if later else "cp1252")))


def texts(doc: Any) -> list[str]:
    return [e.plain_text() for e in doc.modelspace().query("TEXT")]
