"""The shop sheet as a whole: nothing on it overlaps, nothing is lost, for demo parts and for crowded ones.

What a page must be is common practice of a drawing office and the standards that the parts of the sheet name.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from flatgen.jobs import draw as job
from flatgen.jobs.outputs import sheet_content
from flatgen.jobs.result import Options, Result
from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.pages.frame import drawing_space, sheet_size
from flatgen.paper.pages.pages import page_window, sheet_document
from flatgen.paper.shop_sheet.sheet import SheetStyle, sheet_pages
from tests.demo_parts import NAMES as DEMOS
from tests.demo_parts import demo_result as demo
from tests.paper.overlaps import clashes
from tests.places import PROFILES

ROOT = PROFILES
LEAST = 2.5
"""ISO 3098: smallest lettering of a drawing that is read at the bench (from memory) [mm]."""


def sound(made: Result, paper: str, unit: str = "mm", projection: str = "first") -> list[list[str]]:
    """Draw it, see that no page is amiss, and give back what each says."""
    sheet = parse_paper(paper)
    pages = sheet_pages(sheet_content(made), SheetStyle(sheet, projection, unit))  # type: ignore[arg-type]
    wide, tall = sheet_size(sheet, True)
    for number, page in enumerate(pages, start=1):
        assert not clashes(page, (0.0, 0.0, wide, tall)), (made.part.name, paper, number)
        assert min(t.height for t in page.texts) >= LEAST
        left, low, right, high = drawing_space(sheet, True)
        inside = [p for t in page.texts for p in t.box if left <= p[0] <= right and low <= p[1] <= high]
        assert len(inside) > 4
    return [[t.text for t in page.texts] for page in pages]


WIDE = ("cable-tray", "pier-saddle", "roof-rail")
ON_PAPER = [
    pytest.param(name, paper, marks=[] if paper == "A4" or name in WIDE else pytest.mark.thorough)
    for name in DEMOS
    for paper in ("A4", "A3", "Letter")
]
"""All demo parts on A4 in the normal run, three of them on A3 and Letter too."""


@pytest.mark.parametrize(("name", "paper"), ON_PAPER)
def test_demo_sheets_have_no_overlap(name: str, paper: str) -> None:
    said = sound(demo(name), paper)
    assert all(f"{n} / {len(said)}" in page for n, page in enumerate(said, start=1))


@pytest.mark.parametrize(("unit", "projection"), [("in", "third"), ("in/64", "third"), ("mm", "third")])
def test_units_and_projection(unit: str, projection: str) -> None:
    sound(demo("roof-rail"), "Tabloid", unit, projection)


def test_all_that_is_needed_stands_on_it() -> None:
    """The parts that a shop sheet is to have, by their heads, and every bend in schedule, pictures and measuring."""
    told = " | ".join(t for page in sound(demo("roof-rail"), "A4") for t in page)
    for head in ("Formed part", "Bend schedule", "Sheet and blank", "The finished part", "Proof line", "Cautions"):
        assert head in told
    for label in "ABCD":
        assert f"Stop and measure after bend {label}" in told
        assert f"bend {label}, " in told
    assert "163.45 mm" in told.replace("163.45 | mm", "163.45 mm")  # the blank, as the proof line gives it


def test_a_part_that_cannot_be_bent_says_so_and_has_nothing_to_measure() -> None:
    told = " ".join(t for page in sound(demo("purlin"), "A4") for t in page)
    assert "CANNOT be bent" in told
    assert "Stop and measure" not in told


HOSTILE = "<b>&amp; 100%%d \\P{\\fArial;x} \u202eabc 折板 " + "W" * 80


def named(text: str, folder: Path) -> Result:
    """The demo rail, its title and legs called by a hostile text."""
    body = (ROOT / "roof-rail.toml").read_text("utf-8")
    spelled = text.replace("\\", "\\\\").replace('"', '\\"').replace("\u202e", "")
    body = body.replace('title = "Roof rail, roll-off roof"', f'title = "{spelled}"')
    body = body.replace('"left lip"', f'"{spelled[:58]}"')
    body += f'\n[drawing]\nowner = "{spelled}"\ncreator = "{spelled}"\nnumber = "{spelled[:60]}"\n'
    (folder / "rail.toml").write_text(body, "utf-8")
    shutil.copy(ROOT / "shop.toml", folder)
    return job.draw(folder / "rail.toml", folder / "out", Options(kinds=("json",)))


def test_hostile_texts_are_shown_and_never_overlap(tmp_path: Path) -> None:
    told = " ".join(t for page in sound(named(HOSTILE, tmp_path), "A4") for t in page)
    assert "<b>&amp;" in told


def test_without_a_brake(tmp_path: Path) -> None:
    shutil.copy(ROOT / "roof-rail.toml", tmp_path)
    made = job.draw(tmp_path / "roof-rail.toml", tmp_path / "out", Options(kinds=("json",)))
    told = " ".join(t for page in sound(made, "A4") for t in page)
    assert "No brake is known" in told
    assert "Proof line" in told


def corrugated(seed: int, folder: Path) -> Path:
    """Sixteen shallow bends to and fro, which any brake takes one after another."""
    rng = random.Random(f"corrugated {seed}")
    section = ['{ leg = "40 mm" }']
    for n in range(16):
        section += [
            f'{{ bend = {rng.choice((20, 30, 40))}, way = "{("up", "down", "down", "up")[n % 4]}" }}',
            f'{{ leg = "{rng.uniform(32.0, 44.0):.2f} mm" }}',
        ]
    text = 'metal = "DC01"\nthickness = "1 mm"\ninside_radius = "2 mm"\n'
    text += f'title = "Corrugated {seed}"\nlength = "300 mm"\nsection = [\n' + ",\n".join(section) + "\n]\n"
    path = folder / f"crowded-{seed}.toml"
    path.write_text(text, "utf-8")
    if seed % 8 == 0:
        shutil.copy(ROOT / "shop.toml", folder)
    return path


def crowded(seed: int, folder: Path) -> Path:
    """A definition up to the limits: 16 bends, 200 openings, 4 m long, legs with hardly any flat, 30 mm wide."""
    rng = random.Random(f"crowded {seed}")
    kind = ("many bends", "many openings", "long and narrow", "short legs")[seed % 4]
    bends, length, legs = rng.randint(1, 4), rng.uniform(60.0, 900.0), (20.0, 60.0)
    if kind == "many bends":
        bends, legs = 16, (12.0, 40.0)
        if (
            seed < 8
        ):  # feasible: the search ends early, where a random part of 16 bends takes minutes to prove impossible
            return corrugated(seed, folder)
    elif kind == "long and narrow":
        bends, length, legs = 1, 4000.0, (14.0, 17.0)
    elif kind == "short legs":
        bends, legs = rng.randint(3, 6), (8.8, 12.0)
    section = [f'{{ leg = "{rng.uniform(*legs):.2f} mm" }}']
    for n in range(bends):
        way = "up" if n % 2 else "down"
        section += [
            f'{{ bend = {rng.choice((30, 45, 60, 90))}, way = "{way}" }}',
            f'{{ leg = "{rng.uniform(*legs):.2f} mm" }}',
        ]
    text = 'metal = "DC01"\nthickness = "1 mm"\ninside_radius = "2 mm"\n'
    text += f'title = "Crowded {seed}"\nlength = "{length:.1f} mm"\nsection = [\n' + ",\n".join(section) + "\n]\n"
    if kind == "many openings":
        text = text.replace(section[0], '{ leg = "120 mm" }', 1)
        row = '[[opening]]\nleg = 1\nshape = "round"\ndiameter = "{d} mm"\nacross = "{a} mm"\nalong = "10 mm"\n'
        row += 'row_along = {{ count = 25, last = "10 mm" }}\n'
        text = text.replace(f'length = "{length:.1f} mm"', f'length = "{rng.uniform(300, 900):.1f} mm"')
        text += "".join(row.format(d=rng.choice((3, 4, 5)), a=8 + 12 * k) for k in range(8))
    path = folder / f"crowded-{seed}.toml"
    path.write_text(text, "utf-8")
    shutil.copy(ROOT / "shop.toml", folder)
    return path


NORMAL = {1, 2, 4, 6, 7, 10}
"""Six of the 60, with each kind among them, that take a second or two."""


@pytest.mark.parametrize("seed", [s if s in NORMAL else pytest.param(s, marks=pytest.mark.thorough) for s in range(60)])
def test_crowded_parts(seed: int, tmp_path: Path) -> None:
    made = job.draw(crowded(seed, tmp_path), tmp_path / "out", Options(kinds=("json",)))
    sound(made, ("A4", "A3", "Letter")[seed % 3])


def test_pages_stand_side_by_side_in_the_document() -> None:
    """Each page's frame lies in its own window, one to one: sizes of ISO 216 (from memory)."""
    sheet = parse_paper("A4")
    pages = sheet_pages(sheet_content(demo("roof-rail")), SheetStyle(sheet))
    doc = sheet_document(pages, sheet)
    windows = [page_window(n, sheet) for n in range(len(pages))]
    assert all((w[2] - w[0], w[3] - w[1]) == (297.0, 210.0) for w in windows)
    frames = [e for e in doc.modelspace().query("LWPOLYLINE[layer=='FRAME']") if e.closed]
    for w in windows:
        own = [e for e in frames if all(w[0] <= x <= w[2] for x, y in e.get_points("xy"))]
        assert any(min(x for x, _ in e.get_points("xy")) == pytest.approx(w[0] + 20.0) for e in own)
    assert not doc.audit().errors
