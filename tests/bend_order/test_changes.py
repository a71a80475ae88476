"""The smallest change that helps: each one named, made anew by the test's own code, has an order; a bit less has none.

Numbers by hand, see :mod:`order.hand_made` for the brake.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from flatgen.bend_order import changes as looked_for
from flatgen.bend_order.chain import Chain, chain_of, subchain, with_leg
from flatgen.bend_order.changes import BASE, Change, helpful_changes, plan_limit
from flatgen.bend_order.search import Question, answer
from flatgen.core.shop import SetUp
from tests.bend_order.hand_made import section, set_up, shop_of

HAT, BOX = ([20.0, 30.0, 60.0, 30.0, 20.0], "duud"), ([25.0, 60.0, 60.0, 60.0, 25.0], "uuuu")
CHANNEL, BRACKET = ([45.0, 30.0, 45.0], "uu"), ([200.0, 200.0], "u")
TALL = ([70.0, 64.0, 70.0], "uu")
NARROW, WIDE = set_up("narrow", face=20.0, depth=40.0), set_up("wide", face=60.0, depth=40.0)
FLAT_BAR, HIGH_BAR = set_up("flat bar", height=20.0, depth=30.0), set_up("high bar", height=80.0)

HAT_SHOP, BOX_SHOP = shop_of(WIDE, NARROW), shop_of(FLAT_BAR, ends=False)
SHOPS = {
    "hat": (HAT, HAT_SHOP),
    "box": (BOX, BOX_SHOP),
    "channel": (CHANNEL, shop_of()),
    "bracket": (BRACKET, shop_of(throat=150.0)),
    "tall": (TALL, shop_of(HIGH_BAR, ends=False)),
}
FINER = {"nose angle": 1.0, "nose radius": 0.25}


def asked(case: str) -> Question:
    """A question that has no order, made anew."""
    (flats, ways), shop = SHOPS[case]
    return Question(section(flats, ways), shop, shop.setups[:1], None)


@cache
def found_for(case: str) -> tuple[Change, ...]:
    """What helps, looked for once; legs are called by these names."""
    return helpful_changes(asked(case), names=("near flange", "web", "far flange", "wall", "lip"))


def by_kind(found: tuple[Change, ...]) -> dict[tuple[str, int], Change]:
    return {(c.kind, c.leg): c for c in found}


def of_the_bar(setup: SetUp, kind: str, value: float) -> SetUp:
    """A set-up with one number changed, by the test's own code."""
    if kind == "leaf face":
        return replace(setup, leaf=replace(setup.leaf, face=value))
    if kind == "bar depth":
        return replace(setup, clamp=replace(setup.clamp, depth=value, clamping_depth=min(value, 30.0)))
    name = {"nose radius": "nose_radius", "nose angle": "nose_angle", "bar height": "height", "lift": "lift"}[kind]
    return replace(setup, clamp=replace(setup.clamp, **{name: value}))  # type: ignore[arg-type]


def made(case: str, change: Change, value: float) -> list[Question]:
    """The question with a change of a value, by the test's own code."""
    (flats, ways), shop = SHOPS[case]
    plain = asked(case)
    brake = shop.brake
    match change.kind:
        case "leg":
            other = [value if n == change.leg else f for n, f in enumerate(flats)]
            return [replace(plain, chain=section(other, ways))]
        case "join":
            end = slice(1, None) if change.leg == 0 else slice(None, -1)
            return [replace(plain, chain=section(flats[end], ways[end]))]
        case "split":
            half = flats[change.leg] / 2
            one = section([*flats[: change.leg], half], ways[: change.leg])
            return [
                replace(plain, chain=c) for c in (one, section([half, *flats[change.leg + 1 :]], ways[change.leg :]))
            ]
        case "set-up":
            return [replace(plain, setups=shop.setups)]
        case "open end":
            return [replace(plain, shop=replace(shop, brake=replace(brake, open_ends=(True, False))))]
        case "fingers":
            return [replace(plain, setups=tuple(replace(s, fingers=(50.0,) * 6) for s in plain.setups))]
        case "throat":
            return [replace(plain, shop=replace(shop, brake=replace(brake, throat=value)))]
    return [replace(plain, setups=(of_the_bar(plain.setups[0], change.kind, value),))]


def now(case: str, change: Change) -> float:
    """What the changed number is before the change."""
    (flats, _), shop = SHOPS[case]
    setup = shop.setups[0]
    clamp = setup.clamp
    if change.kind == "leg":
        return flats[change.leg]
    if change.kind == "throat":
        return shop.brake.throat or 0.0
    return {
        "leaf face": setup.leaf.face, "bar depth": clamp.depth, "bar height": clamp.height, "lift": clamp.lift,
        "nose radius": clamp.nose_radius, "nose angle": clamp.nose_angle,
    }[change.kind]  # fmt: skip


@pytest.mark.parametrize(
    "case", ["hat", "channel", "bracket", *(pytest.param(c, marks=pytest.mark.thorough) for c in ("box", "tall"))]
)
def test_each_change_helps_and_a_smaller_one_does_not(case: str) -> None:
    """Made anew, planned anew: an order with it, none with half a millimetre, or a degree, less."""
    found = found_for(case)
    assert found
    for change in found:
        assert all(answer(q).best.possible for q in made(case, change, change.amount)), change.text
        assert all(a.best.possible for a in change.answers), change.text
        if change.kind in FINER or change.amount:
            step = FINER.get(change.kind, 0.5)
            back = change.amount + (step if now(case, change) > change.amount else -step)
            assert not all(answer(q).best.possible for q in made(case, change, back)), (change.text, back)
            assert f"{change.amount:g} " in change.text
            assert f"{now(case, change):g} " in change.text


@pytest.mark.parametrize("case", ["hat", "channel", "bracket"])
def test_the_smallest_comes_first(case: str) -> None:
    """By their own measure, none of them smaller than that of its kind."""
    found = found_for(case)
    assert [c.size for c in found] == sorted(c.size for c in found)
    assert all(c.size >= BASE[c.kind] for c in found)


def test_the_same_question_has_the_same_changes() -> None:
    assert [c.text for c in found_for("bracket")] == [
        c.text for c in helpful_changes(asked("bracket"), names=lambda leg: ["near flange", "web"][leg])
    ]


def test_a_hat_before_a_wide_leaf() -> None:
    """The narrow set-up is there and comes first; or a face under 30.52 mm, by hand: where the lip's bend begins."""
    found = found_for("hat")
    assert found[0].kind == "set-up"
    assert found[0].text == "set-up narrow as well"
    face = by_kind(found)["leaf face", -1]
    assert 30.0 <= face.amount <= 30.52
    assert face.text == f"a leaf face of {face.amount:g} mm or narrower (it is 60 mm)"


def test_a_box_on_the_clamp_bar() -> None:
    """An open end, fingers (the brake is longer than 2 x 300 mm), or two channels joined along the middle leg."""
    kinds = by_kind(found_for("box"))
    assert {("open end", -1), ("fingers", -1), ("split", 2)} <= set(kinds)
    assert len(kinds["split", 2].questions) == 2


def test_no_fingers_on_a_short_brake() -> None:
    """Off fingers of 300 mm a part of 300 mm slides only where the brake has 600: 599 has not."""
    shop = shop_of(FLAT_BAR, ends=False, length=599.0)
    kinds = {c.kind for c in helpful_changes(Question(section(*BOX), shop, shop.setups, None))}
    assert "fingers" not in kinds
    assert "open end" in kinds


def test_depth_that_would_pass_a_channel() -> None:
    """By hand 29.38 mm of flat where the part is drawn off along the bar's front, 28.38 endwise off an eased bar."""
    found = by_kind(found_for("channel"))
    short = found["leg", 0]
    assert short.amount in (28.0, 29.0)
    assert short.text.startswith(f"near flange shorter by {45 - short.amount:g} mm: {short.amount:g} mm flat")
    assert found["leg", 1].text.startswith("web longer by ")
    assert found["leg", 2].amount == short.amount


def test_throat_and_leg_that_would_pass() -> None:
    """By hand: 2.5 + 200 mm behind the edge, the wall 1 mm more than the throat: above 201.5, on a grid of 0.5 it is
    202; or with the throat of 150 a leg under 148.5 mm: 148."""
    found = by_kind(found_for("bracket"))
    assert found["throat", -1].amount == 202.0
    assert found["throat", -1].text == "a throat of 202 mm or deeper (it is 150 mm)"
    assert found["leg", 0].amount == found["leg", 1].amount == 148.0
    assert found["leg", 1].text.startswith("web shorter by 52 mm")


def test_lift_that_would_pass() -> None:
    """By hand: a flange of 70 + 2.5 mm behind the bar; 72.5 would touch, so 73."""
    assert by_kind(found_for("tall"))["lift", -1].amount == 73.0


def test_wishes_of_the_user_are_given_up_first() -> None:
    """The lip's bend first cannot be (see common practice), the other order can; a leg of 200 does not go into a throat
    of 150, the other side does."""
    shop = shop_of(throat=150.0)
    first = helpful_changes(Question(section([20, 40, 300], "du"), shop, shop.setups, None, order=(0, 1)))
    assert first[0].kind == "order"
    plain = section([40, 200], "u")
    forced = chain_of([replace(plain.creases[0], hold=1)], plain.thickness)
    assert helpful_changes(Question(forced, shop, shop.setups, None))[0].kind == "hold"


def test_nothing_is_changed_where_there_is_an_order() -> None:
    shop = shop_of()
    assert helpful_changes(Question(section([40, 120, 40], "uu"), shop, shop.setups, None)) == ()


@pytest.mark.parametrize("limit", [1, 5, 12])
def test_no_more_plans_than_allowed(limit: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is found by then is still planned in full."""
    count = 0

    def counted(question: Question) -> object:
        nonlocal count
        count += 1
        return answer(question)

    monkeypatch.setattr(looked_for, "answer", counted)
    found = helpful_changes(asked("hat"), limit)
    assert 1 <= count <= limit
    assert found or limit == 1
    assert all(a.best.possible for c in found for a in c.answers)


def test_no_plan_at_all_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="a limit of 0 plans"):
        helpful_changes(asked("hat"), 0)


def test_plans_grow_fewer_with_bends() -> None:
    """By hand: 100 up to six bends, half for each more, no fewer than 8."""
    assert [plan_limit(n) for n in (1, 6, 7, 16)] == [100, 100, 50, 8]


@pytest.mark.parametrize("leg", range(5))
def test_a_leg_of_another_length_is_the_section_made_anew(leg: int) -> None:
    flats, ways = HAT
    other = [f + 7.25 if n == leg else f for n, f in enumerate(flats)]
    assert alike(with_leg(section(flats, ways), leg, other[leg]), section(other, ways))


def test_a_piece_of_a_section_is_the_section_made_anew() -> None:
    """The last two bends of the hat, with half of its top: labels and legs stay those of the whole."""
    flats, ways = HAT
    piece = subchain(section(flats, ways), range(2, 4), [20, 30, 30, 30, 20])
    assert alike(piece, section([30, 30, 20], ways[2:]))
    assert [c.label for c in piece.creases] == ["C", "D"]
    assert piece.legs == (2, 3, 4)


def alike(one: Chain, other: Chain) -> bool:
    """Same flats, ways and creases' places."""
    places = [
        [x for c in chain.creases for s in (c.first, c.second) for x in (s.tangent, s.flat, s.reach)]
        for chain in (one, other)
    ]
    return one.flats == other.flats and one.ups == other.ups and places[0] == pytest.approx(places[1], abs=1e-9)
