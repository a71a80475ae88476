"""The bench drawing: its layers, sight lines where the schedule has them, and no bend line among them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely  # noqa: TID253

from flatgen.bend_order.plan import make_schedule
from flatgen.brake.creases import creases_of_flat
from flatgen.core.shop import Brake, ClampBar, Leaf, Lever, SetUp, Shop
from flatgen.definition.reader import read_profile
from flatgen.jobs import draw as job
from flatgen.metal.metals import load_metals
from flatgen.paper.drawing.bench import bench_document, sight_lines
from flatgen.paper.drawing.writers import dxf_bytes
from tests.places import PROFILES

LEVER = Lever(600.0, "both ends", 300.0)
BRAKE = Brake("brake", 2000.0, None, 120.0, 100.0, (0.0, 0.0), (True, True), LEVER)
CLAMP, LEAF = ClampBar(1.5, 45.0, 40.0, 60.0, 25.0, 30.0), Leaf(40.0, 0.0, 60.0, 135.0, 8.0, 25.0)
SHOP = Shop("some/folder/shop.toml", "Brake of the tests", BRAKE, (SetUp("plain", CLAMP, LEAF),), fingerprint="f" * 16)


@pytest.fixture(scope="module", params=["roof-rail", "purlin"])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    part = read_profile(PROFILES / f"{request.param}.toml", load_metals())
    flat = job.develop_solid(part).flat
    schedule = make_schedule(part, creases_of_flat(part, flat), SHOP)
    path = tmp_path_factory.mktemp("bench") / "read.dxf"
    document = bench_document(part, flat, schedule, part.findings + schedule.findings)
    path.write_bytes(dxf_bytes(document))
    meta, _, shapes, fields = pyogrio.raw.read(path)
    names = list(meta["fields"])
    layers, texts = fields[names.index("Layer")], fields[names.index("Text")]
    rows = list(zip(layers, shapely.from_wkb(shapes), texts, strict=True))
    return {"part": part, "flat": flat, "schedule": schedule, "rows": rows, "document": document}


def test_layers(made: dict[str, Any]) -> None:
    faces = {f"SIGHT_{s.sight.face.upper()}" for s in made["schedule"].stages}
    openings = {"OPENINGS"} if made["flat"].openings else set()
    assert {layer for layer, _, _ in made["rows"]} == {"OUTLINE", "LABELS"} | faces | openings
    assert not made["document"].audit().errors


def test_sight_lines_lie_where_the_schedule_says(made: dict[str, Any]) -> None:
    found = [(layer, shape) for layer, shape, _ in made["rows"] if layer.startswith("SIGHT")]
    wanted = {(f"SIGHT_{s.sight.face.upper()}", s.sight.from_datum) for s in made["schedule"].stages}
    met = set()
    for layer, shape in found:
        xs = np.asarray(shape.coords)[:, 0]
        near = {w for w in wanted if w[0] == layer and np.abs(xs - w[1]).max() < 1e-6}
        assert near, (layer, xs)
        met |= near
    assert met == wanted


def test_neither_bend_line_nor_tangent_line(made: dict[str, Any]) -> None:
    lines = [shape for layer, shape, _ in made["rows"] if layer.startswith("SIGHT")]
    assert lines
    others = [p for b in made["flat"].bends for s in b.segments for p in (s.centre, *s.tangents)]
    for line in lines:
        assert min(shapely.hausdorff_distance(line, shapely.LineString(p)) for p in others) > 0.01


def test_only_metal_is_marked(made: dict[str, Any]) -> None:
    sheet = shapely.Polygon(
        made["flat"].outline.points(0.001), [o.points(0.001) for o in made["flat"].openings]
    ).buffer(0.01)
    for line in sight_lines(made["flat"], made["schedule"]):
        assert line.stretches
        assert all(sheet.covers(shapely.LineString(pair)) for pair in line.stretches)


def test_text_says_what_it_was_made_for(made: dict[str, Any]) -> None:
    text = " ".join(t for layer, _, t in made["rows"] if layer == "LABELS" and t)
    part = made["part"]
    for word in ("Brake of the tests", "shop.toml", "f" * 16, "Set-up plain", "nose radius 1.5 mm", part.fingerprint):
        assert word in text
    assert "some/folder" not in text
    for stage in made["schedule"].stages:
        leg = stage.crease.side(stage.sight.held).leg
        name = part.leg_name(leg) or part.leg_text(leg)
        assert f"{stage.number} bend {stage.crease.label} {stage.crease.way}" in " ".join(text.split())
        assert f"hold {name}" in text
