"""Random tree-shaped parts: the flat equals the one that each was built from, in every vertex.

Expected values: by construction (``trees.py``), derived by arithmetic before there is any solid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from flatgen.core.flat_pattern import AllowanceRule, Arc, Axis, BendAllowance, Line, Piece
from tests.unfolding.flats_alike import WITHIN, as_seen, from_pattern, mirror_image, other_face, worst
from tests.unfolding.tree_parts import Tree, TreeFlat, allowance_of
from tests.unfolding.trees import grown_tree


def rule_with(k: float) -> Callable[[float], AllowanceRule]:
    """The same K for each bend, worked out here."""

    def rule_for(thickness: float) -> AllowanceRule:
        def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
            return BendAllowance(allowance_of(angle, inside_radius, thickness, k), k, "K")

        return rule

    return rule_for


def _check(seed: int) -> None:
    from flatgen.unfolding.formed import unfold_formed

    tree, solid = grown_tree(seed)
    flat = unfold_formed(solid, rule_with(tree.k)).flat
    found = from_pattern(flat, tree.k)
    apart = min(worst(found, expected) for expected in as_seen(tree.flat()))
    assert apart[0] < WITHIN, apart[1]
    assert len(flat.panels) == len(tree.plates)
    assert all(abs(b.k - tree.k) < 1e-6 for b in flat.bends)
    assert flat.outline_difference is None
    assert flat.opening_differences == ()


@pytest.mark.parametrize("seed", range(30))
def test_flat_of_a_tree_is_the_one_it_was_built_from(seed: int) -> None:
    _check(seed)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(30, 330))
def test_flats_of_300_trees_are_those_they_were_built_from(seed: int) -> None:
    _check(seed)


@pytest.mark.parametrize("seed", [1, 2, 3, 9])
def test_flat_is_seen_from_the_face_that_is_asked_for(seed: int) -> None:
    """The base of a tree lies with its near side up: asked for from above, the flat is the one it was built from."""
    from flatgen.unfolding.formed import FormedOptions, unfold_formed

    tree, solid = _tree(seed)
    above, below = tree.flat(), other_face(tree.flat())
    for near, wanted, unwanted in (("+z", above, below), ("-z", below, above)):
        flat = unfold_formed(solid, rule_with(tree.k), FormedOptions(near=near)).flat
        found = from_pattern(flat, tree.k)
        apart = worst(found, wanted)
        assert apart[0] < WITHIN, apart[1]
        assert worst(found, unwanted)[0] > 0.01


# -- the trees are what they are meant to be -------------------------------------------------------------------------


@cache
def _tree(seed: int) -> tuple[Tree, Any]:
    return grown_tree(seed)


def test_trees_have_all_that_they_are_to_have() -> None:
    trees = [_tree(seed)[0] for seed in range(4, 16)]
    hinges = [h for t in trees for h in t.hinges]
    pieces = [p for t in trees for p in t.flat().outline]
    assert max(len(t.hinges) for t in trees) == 20
    assert {h.way for h in hinges} == {"up", "down"}
    assert min(h.angle for h in hinges) < 40
    assert max(h.angle for h in hinges) > 140
    assert any(len(h.spans) > 1 for h in hinges)
    assert any(w.low < 0 and w.high < h.allowance for h in hinges for w in h.windows)
    assert any(r and r.rounded for h in hinges for r in h.reliefs)
    assert any(r and not r.rounded for h in hinges for r in h.reliefs)
    assert max(p.level for t in trees for p in t.plates) >= 2
    assert any(len([h for h in t.hinges if h.parent is t.plates[0]]) > len(t.plates[0].path) for t in trees) or any(
        len(side.hinges) > 1 for t in trees for p in t.plates for side in p.path if not isinstance(side, Arc)
    )
    assert any(isinstance(p, Arc) and p.sweep > 0 for p in pieces)
    assert any(len(hole) > 1 for t in trees for p in t.plates for hole in p.holes)


@pytest.mark.parametrize("seed", [3, 4, 6])
def test_volume_of_a_tree_is_that_of_its_flat(seed: int) -> None:
    """Volume = t x (plates) + t x A pi/180 x (r + t/2) x (zones): the flat's area corrected from K to one half."""
    tree, solid = _tree(seed)
    flat = tree.flat()
    area = math.fsum(math.fsum(p.area_term() for p in chain) for chain in (flat.outline, *flat.openings))
    for h in tree.hinges:
        zone = (h.end - h.start) * h.allowance
        for w in h.windows:
            zone -= (w.end - w.start) * (min(w.high, h.allowance) - max(w.low, 0.0))
        half = allowance_of(h.angle, h.radius, tree.thickness, 0.5)
        area += zone * (half / h.allowance - 1)
    assert solid.Volume() == pytest.approx(area * tree.thickness, rel=1e-9)


# -- the comparison can fail -----------------------------------------------------------------------------------------


def _bent_by(flat: TreeFlat, index: int, by: float) -> TreeFlat:
    """The same flat with one vertex of the outline moved."""
    pieces: list[Piece] = list(flat.outline)
    vertices = [n for n, p in enumerate(pieces) if isinstance(p, Line) and isinstance(pieces[n - 1], Line)]
    n = vertices[index % len(vertices)]
    before, after = pieces[n - 1], pieces[n]
    assert isinstance(before, Line)
    assert isinstance(after, Line)
    moved = (after.start[0] + by * 0.6, after.start[1] + by * 0.8)
    pieces[n - 1], pieces[n] = Line(before.start, moved), Line(moved, after.end)
    return replace(flat, outline=tuple(pieces))


@pytest.mark.parametrize("seed", [2, 5, 7])
def test_comparison_sees_a_vertex_ten_nanometres_off(seed: int) -> None:
    flat = _tree(seed)[0].flat()
    assert worst(flat, flat)[0] < 1e-9
    for index in range(12):
        assert 2e-6 < worst(_bent_by(flat, index, 1e-5), flat)[0] < 2e-5


@pytest.mark.parametrize("seed", [2, 3, 5, 7])
def test_comparison_sees_the_wrong_hand_and_the_wrong_way(seed: int) -> None:
    flat = _tree(seed)[0].flat()
    assert worst(mirror_image(flat), flat)[0] > 0.01
    assert worst(other_face(flat), flat)[0] > 0.01
    assert worst(other_face(other_face(flat)), flat)[0] < 1e-9
    flipped = replace(flat.bends[0], way="down" if flat.bends[0].way == "up" else "up")
    assert worst(replace(flat, bends=(flipped, *flat.bends[1:])), flat)[0] == math.inf


@pytest.mark.parametrize(
    "what", ["opening gone", "opening moved", "opening wider", "angle", "segment gone", "line moved"]
)
def test_comparison_sees_each_kind_of_fault(what: str) -> None:
    flat = _tree(6)[0].flat()
    first, *others = flat.bends
    parted = next(b for b in flat.bends if len(b.segments) > 1)
    rest = tuple(b for b in flat.bends if b is not parted)
    hole = next(o for o in flat.openings if len(o) == 1)
    kept = tuple(o for o in flat.openings if o is not hole)
    circle = hole[0]
    assert isinstance(circle, Arc)
    shifted = tuple(tuple(Line((a.start[0] + 1e-5, a.start[1]), a.end) for a in s) for s in first.segments)
    spoiled = {
        "opening gone": replace(flat, openings=kept),
        "opening moved": replace(
            flat, openings=(*kept, (replace(circle, centre=(circle.centre[0] + 1e-5, circle.centre[1])),))
        ),
        "opening wider": replace(flat, openings=(*kept, (replace(circle, radius=circle.radius + 1e-5),))),
        "angle": replace(flat, bends=(replace(first, angle=first.angle + 1e-5), *others)),
        "segment gone": replace(flat, bends=(*rest, replace(parted, segments=parted.segments[1:]))),
        "line moved": replace(flat, bends=(replace(first, segments=shifted), *others)),
    }[what]
    assert worst(flat, spoiled)[0] > 5e-6
    assert worst(spoiled, flat)[0] > 5e-6
