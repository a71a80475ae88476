"""What the trade knows about the order of bending, on hand-made brakes. Common practice, no source; lengths by hand.

Lengths in the section: a leg's outer face lies 2.5 mm (radius and thickness) beyond its neighbour's tangent line.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from flatgen.bend_order.search import Answer, orientation_of
from flatgen.core.shop import SetUp, Shop
from tests.bend_order.hand_made import looks, order_of, planned, refusals, section, set_up, shop_of

HAT = section([20, 30, 60, 30, 20], "duud")
"""Lips 20, walls 30, top 60; the lips turn outward."""
BOX = section([25, 60, 60, 60, 25], "uuuu")
"""Closed but for 65 - 2 x 27.5 = 10 mm between its lips."""
NARROW, WIDE = set_up("narrow", face=20.0, depth=40.0), set_up("wide", face=60.0, depth=40.0)
FLAT_BAR = set_up("flat bar", height=20.0, depth=30.0)


def handling_alone(shop: Shop) -> Shop:
    """A shop to which it is all one how much of the blank is swung."""
    return replace(shop, weights=replace(shop.weights, swung_blank=0.0))


def handled(found: Answer) -> tuple[int, int]:
    """How often the part is turned over, and how often end for end alone."""
    chain = found.question.chain
    lays = [orientation_of(chain, c.bend, c.held) for c in found.best.choices]
    steps = [a ^ b for a, b in pairwise(lays)]
    return sum(s & 1 for s in steps), sum(s == 2 for s in steps)


def test_lips_of_a_hat_overhang_a_narrow_leaf() -> None:
    """The wall of 30 mm lies on a face of 20 mm, the lip hangs beyond it."""
    shop = shop_of(NARROW, WIDE)
    assert planned(HAT, shop, NARROW).best.possible


def test_lips_of_a_hat_have_no_room_before_a_wide_leaf() -> None:
    """The stiffened face of 60 mm is wider than the wall: whichever bend comes last, something stands in the leaf."""
    found = planned(HAT, shop_of(NARROW, WIDE), WIDE)
    assert not found.best.possible
    assert "leg 1 has no room: it would stand in the leaf" in refusals(found, "B", "A")
    for last in "ABCD":
        assert "it would stand in the leaf" in refusals(found, last, "ABCD".replace(last, ""))


@pytest.mark.parametrize(("face", "passes"), [(29.5, True), (31.0, False), (35.0, False)])
def test_widest_face_for_a_hat(face: float, passes: bool) -> None:
    """By hand: flat on the leaf the wall's tangent line lies pi/2 x 1.92 - 2.5 = 0.52 mm beyond the hinge, so the lip's
    bend begins at 30.52 mm, on the leaf's plane; a face that ends there touches it."""
    assert planned(HAT, shop_of(set_up(face=face, depth=40.0))).best.possible is passes


def test_hat_when_the_set_up_may_be_changed() -> None:
    """With the wide face on the brake: it is changed once, 30 in the weights, and not back."""
    found = planned(HAT, shop_of(WIDE, NARROW), WIDE, NARROW)
    used = [found.question.setups[c.setup].name for c in found.best.choices]
    assert found.best.possible
    assert used[-1] == "narrow"
    assert sum(a != b for a, b in zip(["wide", *used], used, strict=False)) == 1


def test_hat_comes_out_from_under_a_bar_that_lifts_over_it() -> None:
    """By hand: 30 + 2 x 2.5 = 35 mm high, the bar lifts 45 and is 40 deep under a top of 60: no end need be open."""
    found = planned(HAT, shop_of(set_up(face=20.0, depth=40.0, lift=45.0), ends=False))
    assert found.best.possible


def test_box_is_trapped_on_the_clamp_bar() -> None:
    """Its slot of 10 mm lets no bar of 20 mm through: whichever bend comes last, the part goes neither off nor on."""
    found = planned(BOX, shop_of(FLAT_BAR, ends=False))
    assert not found.best.possible
    reasons = [refusals(found, last, "ABCD".replace(last, "")) for last in "ABCD"]
    assert all(reasons)
    assert any("trapped on the clamp bar" in text for text in reasons), reasons


def test_box_slides_off_an_open_end() -> None:
    """The same bar inside it (30 deep, 20 high in a box of 60), drawn out along it."""
    found = planned(BOX, shop_of(FLAT_BAR))
    last = found.best.choices[-1]
    assert found.best.possible
    assert looks(found)[-1].out.how == "endwise"
    assert found.situations[last.setup, last.setting].endwise
    assert looks(found)[0].out.how in ("straight", "drawn")


@pytest.mark.parametrize(("length", "passes"), [(599.0, False), (600.0, True), (1000.0, True)])
def test_fingers_free_a_trapped_part(length: float, passes: bool) -> None:
    """It slides off fingers of its own length where the brake leaves as much again: 2 x 300 mm."""
    fingers = (100.0, 100.0, 100.0)
    fingered = SetUp("fingers", FLAT_BAR.clamp, FLAT_BAR.leaf, fingers=fingers)
    assert planned(BOX, shop_of(fingered, ends=False, length=length)).best.possible is passes


def deepest(web: float, ends: bool) -> float:
    """Largest flange of a channel that passes, of 20 and 27 to 31 by half a millimetre; 0 for none."""
    tried = [20.0, *(d / 2 for d in range(54, 63))]
    fits = [d for d in tried if planned(section([d, web, d], "uu"), shop_of(ends=ends)).best.possible]
    return max(fits, default=0.0)


def test_deep_channel_narrower_than_the_bar_is_refused() -> None:
    """A web of 30 does not take a bar of 60, and a flange of 45 held swings the other one into the bar's front."""
    found = planned(section([45, 30, 45], "uu"), shop_of())
    assert not found.best.possible
    assert "clamp bar" in refusals(found, "A", "B")
    assert "clamp bar" in refusals(found, "B", "A")


def test_depth_that_passes_a_narrow_channel() -> None:
    """By hand: the far flange's inner face lies 2.5 + 30 + 1.5 = 34 mm up, its edge 2.5 mm + depth behind the bed's
    edge, the bar's front there 34 - 2.12 = 31.88 mm: 29.38 mm of flat, one less where the bar is eased by 1 mm."""
    assert 28.0 <= deepest(30.0, ends=True) < 29.38


def test_a_narrow_channel_is_drawn_off_along_the_sloping_front() -> None:
    """The part follows the bar's front as it lifts, so no end need be open for the depth of 28 mm."""
    assert 28.0 <= deepest(30.0, ends=False) < 29.38


@pytest.mark.parametrize(("depth", "passes"), [(72.0, False), (73.0, True)])
def test_lift_must_clear_the_flange_behind_the_bar(depth: float, passes: bool) -> None:
    """Web of 64 round a bar 60 deep and 80 high; by hand the flange of 70 behind it is 72.5 mm high. Held by a flange,
    the other one runs into the bar's front (at 68 mm up it is 65.9 behind the edge, the flange's edge 72.5)."""
    tall = set_up(height=80.0, lift=depth)
    assert planned(section([70, 64, 70], "uu"), shop_of(tall, ends=False)).best.possible is passes


def test_more_lift_than_needed_never_hurts() -> None:
    """Nobody must open the bar to its stop: what passes a lift of 25 mm passes one of 70 too."""
    lipped = section([10, 60, 60, 60, 10], "uuuu")
    bars = [set_up(height=20.0, depth=50.0, lift=lift) for lift in (25.0, 70.0)]
    assert [planned(lipped, shop_of(bar, ends=False)).best.possible for bar in bars] == [True, True]


@pytest.mark.parametrize(("throat", "passes"), [(150.0, False), (201.0, False), (202.0, True)])
def test_throat_must_take_the_held_leg(throat: float, passes: bool) -> None:
    """Two legs of 200: one lies 2.5 + 200 mm behind the bed's edge, the wall 1 mm more than the throat: 201.5."""
    found = planned(section([200, 200], "u"), shop_of(throat=throat))
    assert found.best.possible is passes
    assert passes or "the wall behind the throat" in refusals(found, "A", "")


def test_lip_comes_last_where_first_it_would_foul_the_bed() -> None:
    """A base of 300 does not go into a throat of 150, so the wall must be held for bend B: a lip turned down by then
    would lie in the bed."""
    found = planned(section([20, 40, 300], "du"), shop_of(throat=150.0))
    assert order_of(found) == "BA"
    words = refusals(found, "B", "A")
    assert "leg 1 would lie in the bed" in words
    assert "the wall behind the throat" in words


def test_return_flanges_of_a_channel_come_before_its_walls() -> None:
    """Once the wall of 30 stands, a bar 60 deep does not go in beside it, and held by the lip the web of 150 runs into
    the bar's front. So A before B and D before C."""
    found = planned(section([15, 30, 150, 30, 15], "uuuu"), shop_of(set_up(face=25.0)))
    order = order_of(found)
    assert order.index("A") < order.index("B")
    assert order.index("D") < order.index("C")
    assert "clamp bar" in refusals(found, "A", "B")
    assert "clamp bar" in refusals(found, "D", "C")


def test_a_channel_is_neither_turned_over_nor_end_for_end() -> None:
    """By hand: both bends go up, and with the second leg under the bar each time the part is slid on; nothing costs."""
    found = planned(section([40, 120, 40], "uu"), handling_alone(shop_of()))
    assert handled(found) == (0, 0)
    assert found.best.cost == 0


def test_a_z_is_turned_over_once() -> None:
    """By hand: a bend up and a bend down want different faces up; one flip, 4 in the weights, is the least."""
    found = planned(section([60, 40, 60], "du"), handling_alone(shop_of()))
    assert handled(found) == (1, 0)
    assert found.best.cost >= 4000


def test_a_hat_is_turned_over_twice_and_end_for_end_once() -> None:
    """By hand: with one lip of two bent the far wall's bend finds that lip in the bed, with both walls bent the far one
    meets the leaf (60 deep, as the top is wide) as a lip is bent: so wall, lip, lip, wall, and the lips from opposite
    ends (a wall hangs down into the bed where the other lip's bend holds it)."""
    found = planned(HAT, handling_alone(shop_of(NARROW)))
    assert handled(found) == (2, 1)
    assert order_of(found) in ("BADC", "CDAB")
    assert "leg 4 is caught by the leaf" in refusals(found, "A", "BC")
