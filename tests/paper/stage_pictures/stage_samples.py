"""Parts of a roll-off-roof observatory as sections, bent on the brakes of the tests, with pictures of their stages.

Own scenario; sizes are our own choice, in millimetres and degrees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from flatgen.bend_order.chain import chain_of
from flatgen.bend_order.explain import contact_text, inspect_stage, refusal_text
from flatgen.bend_order.scene import StageFacts, scene_of
from flatgen.bend_order.search import Question, answer
from flatgen.bend_order.stages import Situation, other_side
from flatgen.core.schedule import Crease, WhichSide
from flatgen.core.shop import Shop
from flatgen.paper.stage_pictures.pictures import StagePicture
from tests.bend_order.sections import creases_of, roomy
from tests.brake.shops import shop

PARTS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "hat": ((15.0, 40.0, 50.0, 40.0, 15.0), (-90.0, 90.0, 90.0, -90.0)),
    "channel": ((12.0, 35.0, 60.0, 35.0, 12.0), (90.0, 90.0, 90.0, 90.0)),
    "zed": ((30.0, 45.0, 30.0), (90.0, -90.0)),
    "eight": (
        (14.0, 25.0, 25.0, 25.0, 40.0, 25.0, 25.0, 25.0, 14.0),
        (45.0, -45.0, -90.0, 90.0, 90.0, -90.0, -45.0, 45.0),
    ),
    "panel": ((10.0, 600.0, 10.0), (90.0, 90.0)),
}
"""Rail hat with lips, gutter with returns, corner zed, roof seam with eight bends, roof panel: flats, turns."""


def named(leg: int) -> str:
    """A leg by its number."""
    return f"leg {leg + 1}"


def creases(name: str) -> tuple[Crease, ...]:
    """Bends of a part, lettered."""
    flats, turns = PARTS[name]
    found = creases_of(flats, turns, [1.5] * len(turns), 1.0)
    return tuple(replace(c, label=chr(65 + k)) for k, c in enumerate(found))


def facts_of(
    situation: Situation, bend: int, held: WhichSide, made: int, numbers: tuple[int, int] = (1, 1), **changed: object
) -> tuple[StageFacts, object]:
    """Facts of one stage and what was seen of it."""
    look = inspect_stage(situation, bend, held, made)
    crease, check = situation.chain.creases[bend], look.checks[0] if look.checks else None
    top = situation.bends[bend].top
    facts = StageFacts(
        number=numbers[0],
        total=numbers[1],
        label=crease.label,
        angle=crease.angle,
        way=crease.way,
        held=named(crease.side(held).leg),
        swung=named(crease.side(other_side(held)).leg),
        face_up="near" if crease.way == "up" else "far",
        toward="the right edge" if held == "first" else "the left edge",
        move="turn the sheet over, end for end" if numbers[0] % 2 else "turn the sheet end for end, the same face up",
        setup=situation.setup.name,
        setting=situation.setting,
        leaf=f"{top:.1f}°",
        into={
            "straight": "bring the sheet in from the front",
            "drawn": "bring it in from the front, as the bar lifts",
        }.get(look.into.how, "slide the sheet in endwise, along the bar"),
        out={
            "straight": "lift the bar and take the part out to the front",
            "drawn": "lift the bar, draw the part out",
        }.get(look.out.how, "ease the bar and slide the part out endwise"),
        raised=max(look.into.raised, look.out.raised),
        clearance=look.gap,
        between="" if check is None else contact_text(check, named),
        close=0 < look.gap < situation.shop.safe_clearance,
        safe=situation.shop.safe_clearance,
        refused=refusal_text(look, named),
    )
    return replace(facts, **changed), look  # type: ignore[arg-type]


def pictures(name: str, on: Shop | None = None) -> tuple[StagePicture, ...]:
    """The stages of the best order of a part, or of that from the left where there is none."""
    shop_ = on or shop()
    chain = chain_of(creases(name), 1.0)
    found = answer(Question(chain, shop_, shop_.setups[:1], None))
    made, shown = 0, []
    sides: Sequence[tuple[int, WhichSide, tuple[int, int]]]
    if found.best.possible:
        sides = [(c.bend, c.held, (c.setup, c.setting)) for c in found.best.choices]
    else:
        sides = [(k, "second", (0, 0)) for k in range(chain.bends)]
    for number, (bend, held, key) in enumerate(sides, start=1):
        situation = found.situations[key]
        facts, inspection = facts_of(situation, bend, held, made, (number, len(sides)))
        shown.append(StagePicture(scene_of(situation, bend, held, made, inspection), facts))  # type: ignore[arg-type]
        made |= 1 << bend
    return tuple(shown)


__all__ = ["PARTS", "creases", "facts_of", "pictures", "roomy"]
