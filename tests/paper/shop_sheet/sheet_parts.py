"""Parts for the tests of the shop sheet's facts: definitions from text, random ones, and a tray by hand."""

from __future__ import annotations

import math
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from flatgen.core.flat_pattern import Axis, BendAllowance, FlatPattern, Panel, bend_letters
from flatgen.definition.model import Profile
from flatgen.definition.part import Source
from flatgen.definition.reader import read_profile
from flatgen.jobs.draw import develop_solid
from flatgen.metal.allowance import Allowance
from flatgen.metal.metals import load_metals
from flatgen.unfolding.received.part import ReceivedPart, received_part
from tests.paper.drawing.drawn_samples import bend, polygon
from tests.sections import random_section


def defined(text: str) -> tuple[Profile, FlatPattern]:
    """A definition and its unfolded flat."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toml"
        path.write_text(text, encoding="utf-8")
        part = read_profile(path)
    return part, develop_solid(part).flat


@cache
def random_part(seed: int) -> tuple[Profile, FlatPattern]:
    """A random section and its unfolded flat."""
    with tempfile.TemporaryDirectory() as folder:
        part = random_section(seed, Path(folder), most=8)
    return part, develop_solid(part).flat


def tray() -> tuple[ReceivedPart, FlatPattern]:
    """Floor 100 x 60 with four rims of 20, all between tangent lines, allowance 4, 90 degrees up; t 1, r 2.

    Rim A left, B right, C below, D above; the corners are open.
    """
    t, ba, radius = 1.0, 4.0, 2.0
    k = ba / (math.pi / 2) - radius
    x0, x1, y0, y1 = 24.0, 124.0, 24.0, 84.0
    floor = polygon((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    left = polygon((0.0, y0), (20.0, y0), (20.0, y1), (0.0, y1))
    right = polygon((x1 + ba, y0), (148.0, y0), (148.0, y1), (x1 + ba, y1))
    below = polygon((x0, 0.0), (x1, 0.0), (x1, 20.0), (x0, 20.0))
    above = polygon((x0, y1 + ba), (x1, y1 + ba), (x1, 108.0), (x0, 108.0))
    panels = tuple(Panel(loop, (), np.eye(4)) for loop in (floor, left, right, below, above))
    outline = polygon(
        (0.0, y0), (x0, y0), (x0, 0.0), (x1, 0.0), (x1, y0), (148.0, y0),
        (148.0, y1), (x1, y1), (x1, 108.0), (x0, 108.0), (x0, y1), (0.0, y1),
    )  # fmt: skip
    bends = tuple(
        replace(b, k=k)
        for b in (
            bend(((22.0, y1), (22.0, y0)), ba, label="A", radius=radius, first=0, second=1),
            bend(((126.0, y0), (126.0, y1)), ba, label="B", radius=radius, first=0, second=2),
            bend(((x0, 22.0), (x1, 22.0)), ba, label="C", radius=radius, first=0, second=3),
            bend(((x1, 86.0), (x0, 86.0)), ba, label="D", radius=radius, first=0, second=4),
        )
    )
    flat = FlatPattern(t, outline, (), panels, bends)
    return received("tray", flat), flat


def hemmed() -> tuple[ReceivedPart, FlatPattern]:
    """Legs of flat 10 and 40 joined by a hem: r 1, t 1, K 0.5, so an allowance of 1.5 pi."""
    ba = 1.5 * math.pi
    panels = [polygon((0.0, 0.0), (10.0, 0.0), (10.0, 50.0), (0.0, 50.0))]
    panels.append(polygon((10 + ba, 0.0), (50 + ba, 0.0), (50 + ba, 50.0), (10 + ba, 50.0)))
    middle = 10 + ba / 2
    hem = replace(bend(((middle, 0.0), (middle, 50.0)), ba, angle=180.0, radius=1.0), k=0.5)
    outline = polygon((0.0, 0.0), (50 + ba, 0.0), (50 + ba, 50.0), (0.0, 50.0))
    flat = FlatPattern(1.0, outline, (), tuple(Panel(p, (), np.eye(4)) for p in panels), (hem,))
    return received("hem", flat), flat


@cache
def random_tree(seed: int) -> tuple[ReceivedPart, FlatPattern]:
    """A random tree of legs, unfolded from its solid, its bends lettered."""
    from flatgen.unfolding.formed import unfold_formed
    from tests.unfolding.trees import grown_tree

    tree, solid = grown_tree(seed)

    def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
        length = math.radians(angle) * (inside_radius + tree.k * tree.thickness)
        return BendAllowance(length, tree.k, "K")

    flat = unfold_formed(solid, lambda thickness: rule).flat
    flat = flat.with_bends(tuple(replace(b, label=bend_letters(n)) for n, b in enumerate(flat.bends)))
    return received(f"tree {seed}", flat), flat


def received(name: str, flat: FlatPattern) -> ReceivedPart:
    """The part behind a flat."""
    allowances = [Allowance(b.allowance, b.k, "given", "by hand") for b in flat.bends]
    source = Source(f"{name}.step", "0" * 64, 1, 1, name, 1)
    return received_part(name, flat, allowances, load_metals()["DC01"], None, source)
