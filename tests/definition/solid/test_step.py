"""The STEP of the formed part, read back by the kernel and by an independent parser."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from flatgen.jobs import draw as job
from flatgen.jobs.result import Options
from tests.places import PROFILES, ROOT

DEMOS = sorted(p for p in (PROFILES).glob("*.toml") if p.name != "shop.toml")


def step_of(demo: Path, folder: Path) -> job.DefinitionResult:
    """The formed part of a demo, away from its shop file: no order of bending is looked for."""
    alone = folder / demo.name
    alone.write_bytes(demo.read_bytes())
    drawn = job.draw(alone, folder / "out", Options(("step",)))
    assert drawn.schedule is None
    return drawn


@pytest.mark.parametrize("demo", DEMOS, ids=lambda p: p.stem)
def test_step_reads_back_as_one_valid_solid(demo: Path, tmp_path: Path) -> None:
    import cadquery as cq

    drawn = step_of(demo, tmp_path)
    shape = cq.importers.importStep(str(drawn.files[0]))
    solids = shape.solids().vals()
    assert len(solids) == 1
    assert solids[0].isValid()
    assert solids[0].Volume() == pytest.approx(drawn.solid.Volume(), rel=1e-9)


def test_independent_parse_counts_the_faces(tmp_path: Path) -> None:
    """steputils (pure Python, no kernel): a chain of n bends has 2 n cylinders and 2 (n + 1) + 4 planes."""
    from steputils import p21

    demo = next(d for d in DEMOS if d.stem == "purlin")
    drawn = step_of(demo, tmp_path)
    data = p21.readfile(str(drawn.files[0])).data[0]
    names = [e.entity.name for e in data.instances.values() if p21.is_simple_entity_instance(e)]
    bends = len(drawn.flat.bends)
    assert names.count("CYLINDRICAL_SURFACE") == 2 * bends
    assert names.count("PLANE") == 2 * (bends + 1) + 4


def test_step_repeats_and_names_the_part(tmp_path: Path) -> None:
    text = []
    for folder in ("one", "two"):
        path = tmp_path / folder / "Träger o'1.toml"
        path.parent.mkdir()
        path.write_bytes(DEMOS[0].read_bytes())
        text.append(job.draw(path, tmp_path / folder / "out", Options(("step",))).files[0].read_text("ascii"))
    assert text[0] == text[1]
    product = re.search(r"PRODUCT\('([^']|'')*'", text[0])
    assert product is not None
    assert "\\X2\\00E4\\X0\\" in product.group()
    assert "o''1" in product.group()
    assert "SI_UNIT(.MILLI.,.METRE.)" in text[0]


def test_the_readme_picture_is_up_to_date(tmp_path: Path) -> None:
    """The picture in the README is what ``flatgen draw`` makes of the roof rail today."""
    drawn = job.draw(ROOT / "profiles" / "roof-rail.toml", tmp_path, Options(("svg",)))
    assert drawn.files[0].read_bytes() == (ROOT / "profiles" / "pictures" / "roof-rail.svg").read_bytes()


def test_the_readme_python_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    example = re.search(r"```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
    assert example is not None
    monkeypatch.chdir(ROOT)
    printed: list[object] = []
    code = example.group(1).replace('"out/roof-rail"', repr(str(tmp_path)))
    exec(code, {"print": lambda *a: printed.extend(a)})
    assert isinstance(printed[0], float)


def test_the_readme_definition_draws(tmp_path: Path) -> None:
    example = re.search(r"```toml\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.S)
    assert example is not None
    path = tmp_path / "readme.toml"
    path.write_text(example.group(1))
    assert job.draw(path, tmp_path / "out").exit_status == 0


def test_the_readme_metal_table_works(tmp_path: Path) -> None:
    from flatgen.metal.metals import load_metals

    text = (ROOT / "README.md").read_text("utf-8")
    table = next(b for b in re.findall(r"```toml\n(.*?)```", text, re.S) if "[metals." in b)
    path = tmp_path / "metals.toml"
    path.write_text(table)
    metal = load_metals(path)["shop steel"]
    assert metal.density == pytest.approx(7850)
    assert metal.minimum_radius(1.5, 90)[0].value == pytest.approx(1.5)
