"""The measuring card: nothing on it overlaps, its lines lie where the jaws of a calliper go, one page for demo strips.

Where jaws go is checked against outlines drawn by hand: the overall size of a leg runs between the outer faces of its
neighbours (definition of overall dimensions in the README), so a square channel's web spans its full width.
"""

from __future__ import annotations

import math
import random
from functools import cache
from pathlib import Path

import pytest

from flatgen.bend_order.plan import make_plan
from flatgen.brake.creases import creases_of_profile
from flatgen.brake.read_shop import read_shop
from flatgen.definition.closed_form import develop
from flatgen.definition.reader import read_profile
from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.pages.frame import EXTENSION, VISIBLE, sheet_size
from flatgen.paper.strip_sheets.card import card_pages, section_block
from flatgen.strips.cut import Strip, cut_strip
from tests.paper.overlaps import clashes
from tests.places import PROFILES

ROOT = PROFILES
ONE_PAGE = ("roof-rail", "eave-angle", "pier-channel")


def strip_from(path: Path) -> Strip:
    """The strip of a part on the brake beside it; what would help a part that cannot be bent is not searched."""
    part = read_profile(path)
    plan = make_plan(part, creases_of_profile(part, develop(part)), read_shop(path.parent / "shop.toml"))
    return cut_strip(part, plan.schedule, 25.0)


@cache
def demo_strip(name: str) -> Strip:
    return strip_from(ROOT / f"{name}.toml")


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
@pytest.mark.parametrize("name", [*ONE_PAGE, "cable-tray", "purlin"])
def test_demo_cards_have_no_overlap(name: str, paper: str) -> None:
    strip = demo_strip(name)
    pages = card_pages(strip, parse_paper(paper), "x.form.toml", inches=paper == "Letter")
    if name in ONE_PAGE:
        assert len(pages) == 1
    for page in pages:
        assert not clashes(page, (0.0, 0.0, *sheet_size(parse_paper(paper), False)))
        assert min(t.height for t in page.texts) >= 2.5
    said = {t.text for page in pages for t in page.texts}
    assert {str(n + 1) for n in range(len(strip.profile.legs))} <= said
    assert {b.label for b in strip.profile.bends} <= said
    assert any("x.form.toml" in text for text in said)
    assert any("burr" in text for text in said)


def channel(folder: Path, bends: str, legs: list[float]) -> Path:
    """A section of legs between square bends, in a folder with the demo's shop."""
    walk = [f'{{ leg = "{legs[0]} mm" }}']
    for way, leg in zip(bends, legs[1:], strict=True):
        walk += [f'{{ bend = 90, way = "{"up" if way == "u" else "down"}" }}', f'{{ leg = "{leg} mm" }}']
    text = 'metal = "DC01"\nthickness = "1 mm"\ninside_radius = "1.5 mm"\nlength = "300 mm"\n'
    text += 'dimensions = "overall"\nsection = [\n' + ",\n".join(walk) + "\n]\n"
    (folder / "part.toml").write_text(text, "utf-8")
    (folder / "shop.toml").write_text((ROOT / "shop.toml").read_text("utf-8"), "utf-8")
    return folder / "part.toml"


def test_dimension_lines_span_what_is_measured(tmp_path: Path) -> None:
    """By hand: a channel 30 x 60 x 20 overall, drawn 1:1; its three lines are 30, 60 and 20 mm long."""
    strip = strip_from(channel(tmp_path, "uu", [30.0, 60.0, 20.0]))
    block, scale, lost = section_block(strip.profile, 180.0, 160.0)
    assert not lost
    outline = next(points for pen, points, closed in block.ink.lines if pen == VISIBLE and closed)
    wide = max(p[0] for p in outline) - min(p[0] for p in outline)
    assert wide == pytest.approx(60.0 * scale, abs=1e-6)
    spans = sorted(math.dist(*points) for pen, points, _ in block.ink.lines if pen == EXTENSION and len(points) == 2)
    for leg in (20.0, 30.0, 60.0):
        assert any(span == pytest.approx(leg * scale, abs=1e-6) for span in spans), leg


@pytest.mark.parametrize("seed", [s if s < 6 else pytest.param(s, marks=pytest.mark.thorough) for s in range(60)])
def test_random_sections_have_no_overlap(seed: int, tmp_path: Path) -> None:
    """Stairs of up to twelve square bends, which never meet themselves."""
    rng = random.Random(f"card {seed}")
    count = rng.randint(1, 12)
    legs = [round(rng.uniform(12.0, 60.0), 1) for _ in range(count + 1)]
    strip = strip_from(channel(tmp_path, ("ud" * 6)[:count], legs))
    paper = parse_paper(rng.choice(("A4", "Letter")))
    for page in card_pages(strip, paper, "form.toml"):
        assert not clashes(page, (0.0, 0.0, *sheet_size(paper, False)))
