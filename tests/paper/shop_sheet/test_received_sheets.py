"""Shop sheets of parts that other people modelled, received as STEP: with views, with and without a brake, no overlap.

The parts stand beside the repository, from open designs; what a page must be is common practice of a drawing office
and the standards that the parts of the sheet name.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from flatgen.core.errors import InputRefused
from flatgen.jobs import unfold as incoming
from flatgen.jobs.outputs import sheet_content
from flatgen.jobs.result import Options
from flatgen.metal.metals import load_metals
from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.pages.frame import sheet_size
from flatgen.paper.shop_sheet.sheet import SheetStyle, sheet_pages
from flatgen.unfolding.received.request import UnfoldOptions
from tests.paper.overlaps import clashes
from tests.places import ROOT

PARTS = ROOT.parent / "shared" / "parts"
SHOP = ROOT / "profiles" / "shop.toml"
FEW = ("openamr_motor_bracket", "openamr_support", "rover6_central_bracket")
"""In the normal run, with 18 of the 174 sheets; the large ones take half a minute in the thorough run."""
FILES = sorted(p for p in PARTS.rglob("*") if p.suffix in (".step", ".stp"))


@pytest.mark.skipif(not FILES, reason="the real parts do not stand beside this repository")
@pytest.mark.parametrize(
    "path", [p if p.stem in FEW else pytest.param(p, marks=pytest.mark.thorough) for p in FILES], ids=lambda p: p.stem
)
def test_real_parts(path: Path, tmp_path: Path) -> None:
    with incoming.keeper() as keeper:
        try:
            found = incoming.receive(path, UnfoldOptions("DC01", "0.42").request(load_metals()), keeper)
        except InputRefused:
            pytest.skip("no sheet metal")
    for taken in (t for t in found if isinstance(t, incoming.ReceivedResult)):
        for shop in (None, SHOP):
            made = incoming.draw_received(taken, tmp_path / str(shop is None), Options(("json",), shop=shop))
            assert made.projected() is not None
            for name in ("A4", "A3", "Letter"):
                paper = parse_paper(name)
                pages = sheet_pages(sheet_content(made), SheetStyle(paper))
                assert any("Formed part" in t.text for t in pages[0].texts)
                assert not [clash for page in pages for clash in clashes(page, (0.0, 0.0, *sheet_size(paper, True)))]
