"""The report on strips: patterns planted by hand are told, chance is not, and nothing on its pages overlaps.

Strips come from the made-up workshops of ``learning_shops``, which share no figure with the model; what is planted is
added to their numbers by plain addition.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from flatgen.paper.drawing.ink import parse_paper
from flatgen.paper.drawing.text import load_fonts
from flatgen.paper.pages.frame import sheet_size
from flatgen.paper.strip_sheets.report import axis, columns, plot, report_files, report_pages
from flatgen.strips.learning.misfit import residuals
from flatgen.strips.learning.model import learn
from flatgen.strips.learning.patterns import Pattern, count_tests, patterns
from flatgen.strips.learning.priors import Prior
from flatgen.strips.reading import BendReading, Place, StripReading
from tests.paper.overlaps import clashes
from tests.strips.learning.learning_shops import lesson

ENDS: tuple[Place, ...] = ("left", "right")
MANY = [pytest.param(range(40)), pytest.param(range(40, 600), marks=pytest.mark.thorough)]


def told(strips: tuple[StripReading, ...]) -> tuple[Pattern, ...]:
    known = learn(strips, Prior())
    return patterns(known, strips, residuals(known, strips))


def changed(
    strips: tuple[StripReading, ...], change: Callable[[int, BendReading], BendReading]
) -> tuple[StripReading, ...]:
    """Every bend changed, by the number of its strip."""
    return tuple(replace(s, bends=tuple(change(n, b) for b in s.bends)) for n, s in enumerate(strips))


def at_ends(strips: tuple[StripReading, ...], right: float = 0.0) -> tuple[StripReading, ...]:
    """Strips at the left and the right in turn, angles at the right off by so many degrees."""

    def change(n: int, bend: BendReading) -> BendReading:
        assert bend.got is not None
        return replace(bend, place=ENDS[n % 2], got=bend.got + right * (n % 2))

    return changed(strips, change)


@pytest.mark.parametrize("seeds", MANY)
def test_chance_is_not_told(seeds: range) -> None:
    """A report tells a pattern that is none in one of a hundred: of 40 hardly three (binomial, by hand: 0.7 %)."""
    false = [seed for seed in seeds if any(p.size is not None for p in told(at_ends(lesson(seed, 4).strips)))]
    assert len(false) <= max(2, 0.02 * len(seeds)), false


@pytest.mark.parametrize("seeds", MANY)
def test_a_leaf_that_twists_is_told_with_its_size(seeds: range) -> None:
    """Two degrees less at the right, on strips of which each angle scatters by 0.4 degrees (0.3 and 0.25 of measuring):
    by hand a difference of two means of six has a spread of 0.23."""
    seen = [[p for p in told(at_ends(lesson(seed, 4).strips, -2.0)) if p.what == "twist"] for seed in seeds]
    found = [p[0] for p in seen if p]
    assert len(found) >= 0.9 * len(seeds)
    sizes = [p.size for p in found if p.size is not None]
    assert np.mean(sizes) == pytest.approx(-2.0, abs=0.15)
    assert all("less than those at the left" in p.text for p in found)
    within = [abs(p.size + 2.0) <= 1.96 * p.spread for p in found if p.size is not None and p.spread is not None]
    assert np.mean(within) >= 0.9


def test_a_nose_askew_is_told() -> None:
    """Held legs 1 mm longer at the right, the legs beyond shorter by as much, the blank as it was."""

    def askew(strips: tuple[StripReading, ...]) -> tuple[StripReading, ...]:
        made = []
        for n, strip in enumerate(at_ends(strips)):
            gots = [g.got or 0.0 for g in strip.legs]
            for k, bend in enumerate(strip.bends):
                held, swung = (k, k + 1) if bend.held == "first" else (k + 1, k)
                gots[held] += 1.0 * (n % 2)
                gots[swung] -= 1.0 * (n % 2)
            legs = tuple(replace(g, got=got) for g, got in zip(strip.legs, gots, strict=True))
            made.append(replace(strip, legs=legs))
        return tuple(made)

    found = [told(askew(lesson(seed, 6).strips)) for seed in range(20)]
    sizes = [p.size for each in found for p in each if p.what == "askew" and p.size is not None]
    assert len(sizes) >= 15
    assert np.mean(sizes) == pytest.approx(1.0, abs=0.1)


def test_a_strip_whose_angles_are_off_is_named() -> None:
    def change(n: int, bend: BendReading) -> BendReading:
        assert bend.got is not None
        return replace(bend, place="right" if n == 2 else "left", got=bend.got + 3.0 * (n == 2))

    seen = 0
    for seed in range(20):
        names = [p for p in told(changed(lesson(seed, 6).strips, change)) if p.what == "angles of strip 2"]
        seen += bool(names)
        assert all("3 bends" in p.text or "2 bends" in p.text or "4 bends" in p.text for p in names)
        assert all("bend another one there" in p.remedy for p in names)  # it is the only one at the right
    assert seen >= 16


def test_a_clamp_that_slips_is_told() -> None:
    """The held side is drawn out by 1.5 mm for 90 degrees farther: held leg shorter, the next one longer."""
    seen = []
    for seed in range(60):
        strips = lesson(seed, 6).strips
        if len({b.angle for b in strips[0].bends}) < 2:
            continue
        made = []
        for strip in strips:
            gots = [g.got or 0.0 for g in strip.legs]
            for k, bend in enumerate(strip.bends):
                held, swung = (k, k + 1) if bend.held == "first" else (k + 1, k)
                gots[held] -= 1.5 * bend.angle / 90
                gots[swung] += 1.5 * bend.angle / 90
            legs = tuple(replace(g, got=got) for g, got in zip(strip.legs, gots, strict=True))
            made.append(replace(strip, legs=legs))
        seen.append([p.size for p in told(tuple(made)) if p.what == "slip"])
    sizes = [each[0] for each in seen if each and each[0] is not None]
    assert len(sizes) >= 0.7 * len(seen)
    assert np.median(sizes) == pytest.approx(-1.5, abs=0.2)


@pytest.mark.parametrize(
    ("places", "said"),
    [
        ((None, None), "no strip says where"),
        (("left", "left"), "bent at the left"),
        (("left", "middle"), "2 at the left, 0 at the right"),
    ],
)
def test_places_that_are_missing_are_asked_for(places: tuple[Place | None, ...], said: str) -> None:
    strips = lesson(3, 2).strips
    strips = changed(strips, lambda n, bend: replace(bend, place=places[n % 2]))
    count = len(strips[0].bends)
    advice = [p for p in told(strips) if p.what == "place"]
    assert len(advice) == 1
    assert said.replace("2 at", f"{count} at") in advice[0].text
    assert "left" in advice[0].remedy
    assert "right" in advice[0].remedy
    assert not [p for p in told(at_ends(strips)) if p.what == "place"]


def test_a_number_that_is_misread_makes_no_pattern_of_the_brake() -> None:
    strips = at_ends(lesson(5, 6).strips)
    legs = strips[1].legs
    off = replace(strips[1], legs=(replace(legs[0], got=(legs[0].got or 0.0) + 5.0), *legs[1:]))
    found = told((strips[0], off, *strips[2:]))
    assert {p.what for p in found} <= {f"legs of {off.name}"}


def test_one_strip_has_no_pattern_and_an_empty_one_nothing_at_all() -> None:
    strip = lesson(1, 1).strips[0]
    assert not [p for p in told((strip,)) if p.size is not None]
    bare = replace(
        strip,
        thickness=None,
        blank_got=None,
        legs=tuple(replace(g, got=None) for g in strip.legs),
        bends=tuple(replace(b, set=None, got=None, radius=None) for b in strip.bends),
    )
    assert count_tests((bare,)) == 0
    assert [p.what for p in told((bare, strip))] == ["place"]
    for page in drawn((bare,), "A4"):
        assert not clashes(page)


def drawn(strips: tuple[StripReading, ...], paper: str, *, inches: bool = False) -> tuple[object, ...]:
    load_fonts()
    known = learn(strips, Prior())
    found = patterns(known, strips, residuals(known, strips))
    return report_pages(known, strips, found, parse_paper(paper), "strips.jsonl", inches=inches)


def hostile(count: int) -> tuple[StripReading, ...]:
    """Many strips of many shops, with long and odd names and a leg that is 30 mm off."""
    strips = [s for seed in range(math.ceil(count / 8)) for s in lesson(seed, 8).strips][:count]
    odd = ("<b>&amp;", "\u4e16\u754c", "a" * 60, "{name} %s \\P")
    named = [replace(s, name=f"{odd[n % 4]} {n}", sheet=odd[(n + 1) % 4]) for n, s in enumerate(strips)]
    legs = named[0].legs
    named[0] = replace(named[0], legs=(replace(legs[0], got=(legs[0].got or 0.0) + 30.0), *legs[1:]))
    return tuple(named)


@pytest.mark.parametrize(
    ("count", "paper"), [(1, "A4"), (1, "Letter"), (2, "A3"), (5, "A4"), (5, "Letter"), (60, "A4")]
)
def test_nothing_on_a_report_overlaps(count: int, paper: str) -> None:
    for strips in (at_ends(lesson(2, min(count, 8)).strips, -3.0), hostile(count)):
        pages = drawn(strips, paper, inches=count == 2)
        for page in pages:
            assert not clashes(page, (0.0, 0.0, *sheet_size(parse_paper(paper), False)))  # type: ignore[arg-type]
            assert min(t.height for t in page.texts) >= 2.5  # type: ignore[attr-defined]


def test_dots_lie_where_the_axes_say() -> None:
    """By hand: 12 mm for figures, 1.5 mm at the right: a plot 113.5 wide has 100 mm for 0 to 10, so 2.5 lies at 37."""
    block = plot("x", [(2.5, 0.0), (5.0, 9.0)], axis([0.0, 10.0], 1.0), axis([-1.0, 1.0], 1.0), 113.5, 50.0)
    (_, centre, _), *others = block.ink.circles
    assert centre[0] == pytest.approx(37.0)
    low, high = (f(p[1] for p in next(pts for pen, pts, closed in block.ink.lines if closed)) for f in (min, max))
    assert centre[1] == pytest.approx((low + high) / 2)
    assert not others
    assert len(block.ink.solids) == 1  # 9 is beyond the axis: a triangle at its upper edge
    assert max(y for _, y in block.ink.solids[0]) <= high


def test_axes_hold_their_values_with_round_figures() -> None:
    for low, high in ((0.0, 0.0), (-3.21, 0.004), (17.3, 1234.5), (-1e-4, 2e-4), (89.9, 90.1)):
        found = axis([low, high], 0.01)
        assert found.low <= low <= high <= found.high
        steps = np.diff([at for at, _ in found.marks])
        assert np.allclose(steps, steps[0])
        lead = steps[0] / 10 ** math.floor(math.log10(steps[0]) + 1e-9)
        assert any(lead == pytest.approx(n) for n in (1, 2, 5))
        assert all(float(said) == pytest.approx(at, abs=steps[0] / 100) for at, said in found.marks)
    assert columns(["a", "b"]).share(1.0) == 0.25


def test_files_open_and_their_sizes_are_those_of_the_paper() -> None:
    """A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI/ASME Y14.1); a point is 1/72 in. Read by pdfium."""
    import xml.etree.ElementTree as ET

    import pypdfium2

    for paper, wide, tall in (("A4", 210.0, 297.0), ("Letter", 215.9, 279.4)):
        pages = drawn(at_ends(lesson(2, 4).strips), paper)
        files = report_files(pages, parse_paper(paper), "learned")  # type: ignore[arg-type]
        document = pypdfium2.PdfDocument(files["learned.report.pdf"])
        assert len(document) == len(pages)
        for page in document:
            assert page.get_size() == pytest.approx((wide / 25.4 * 72, tall / 25.4 * 72), abs=0.2)
        document.close()
        pictures = [name for name in files if name.endswith(".svg")]
        assert len(pictures) == len(pages)
        for name in pictures:
            assert ET.fromstring(files[name]).tag.endswith("svg")
