"""Which order a part is bent in, and which side of each bend is held; how each stage is handled; and why not earlier.

Bends in a row get the best of all orders, or the user's with the best sides, or none where none is possible. For
others, or too many, it is the user's order or that from the edges inward, not checked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from flatgen.bend_order.chain import Chain, NoChain, chain_of
from flatgen.bend_order.costs import UNIT, flat_runs
from flatgen.bend_order.explain import Inspection, Naming, inspect_stage, refusal_text
from flatgen.bend_order.search import MOST_BENDS, Answer, Choice, Question, answer, orientation_of, step_cost
from flatgen.bend_order.stages import NEVER, Situation
from flatgen.brake.creases import Placement, inward_rank, other_side, place_creases
from flatgen.brake.springback import Strength
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.schedule import Crease, Handling, WhichSide
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.part import Part

State = Literal["best", "checked", "refused", "unchecked"]
INWARD = "from the edges inward"
USER_ORDER = "as given"
BEST_ORDER = "the best of all orders"
BEST_SIDES = "part of the best order"


@dataclass(frozen=True)
class Step:
    """A stage as decided, its ``setting`` in [mm]; ``situation``, ``inspection`` and ``bend`` of the chain where the
    order was checked; ``made``: bends made before it.
    """

    placement: Placement
    setup: SetUp
    setting: float | None = None
    situation: Situation | None = None
    inspection: Inspection | None = None
    bend: int = -1
    made: int = 0


@dataclass(frozen=True)
class Decision:
    """Steps in order; ``state`` and ``unchecked`` as of a schedule; ``answer``: what was searched."""

    steps: tuple[Step, ...]
    state: State
    order_from: str
    unchecked: str = ""
    answer: Answer | None = None

    @property
    def chain(self) -> Chain | None:
        """The chain that was searched."""
        return None if self.answer is None else self.answer.question.chain


def decide_order(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setups: tuple[SetUp, ...],
    strength: Strength | None,
    order: Sequence[str] | None,
) -> Decision:
    """Decide the order of bending.

    :param setups: those that may be used, the first being there at the beginning
    :param order: labels in the order that the user wants
    :raises InputRefused: FG023: an order that does not name every bend once
    """
    ordered = _ordered(creases, order)
    origin = USER_ORDER if order is not None else INWARD
    try:
        chain = chain_of(creases, part.thickness)
        if chain.bends > MOST_BENDS:
            raise NoChain(f"{chain.bends} bends are more than {MOST_BENDS}, the most whose orders are all looked at")
    except NoChain as error:
        placements = place_creases(part, ordered, shop, setups[0])
        steps = tuple(Step(placement, setups[0], setups[0].setting) for placement in placements)
        return Decision(steps, "unchecked", origin, str(error))
    place = {c.label: n for n, c in enumerate(chain.creases)}
    wanted = None if order is None else tuple(place[label] for label in order)
    question = Question(chain, shop, setups, strength, frozenset(part.reference_legs), wanted)
    result = answer(question)
    if result.best.possible:
        state: State = "best" if order is None else "checked"
        return Decision(_best_steps(part, result), state, BEST_ORDER if order is None else origin, "", result)
    placements = place_creases(part, ordered, shop, setups[0])
    return Decision(_refused_steps(result, placements, place), "refused", origin, "", result)


def _ordered(creases: Sequence[Crease], order: Sequence[str] | None) -> list[Crease]:
    if order is None:
        return sorted(creases, key=lambda c: (inward_rank(c), creases.index(c)))
    known = {c.label: c for c in creases}
    if sorted(order) != sorted(known):
        text = f"the order {', '.join(order) or 'of no bends'} does not name every bend once"
        raise InputRefused(Fault("FG023", "order of bending", text, f"bends are {', '.join(known) or 'none'}"))
    return [known[label] for label in order]


def _best_steps(part: Part, result: Answer) -> tuple[Step, ...]:
    question, made, steps = result.question, 0, []
    chain, wanted = question.chain, set(part.reference_legs)
    for choice in result.best.choices:
        crease = chain.creases[choice.bend]
        swung = crease.side(other_side(choice.held)).leg
        missed = swung in wanted and crease.side(choice.held).leg not in wanted
        reason = "as asked" if crease.hold is not None else BEST_SIDES
        held_flat = _flat(chain, choice.bend, choice.held, made)
        swung_flat = _flat(chain, choice.bend, other_side(choice.held), made)
        placement = Placement(crease, choice.held, reason, held_flat, swung_flat, swung if missed else None)
        situation = result.situations[choice.setup, choice.setting]
        inspection = inspect_stage(situation, choice.bend, choice.held, made)
        steps.append(Step(placement, situation.setup, situation.setting, situation, inspection, choice.bend, made))
        made |= 1 << choice.bend
    return tuple(steps)


def _refused_steps(result: Answer, placements: Sequence[Placement], place: dict[str, int]) -> tuple[Step, ...]:
    """Steps of an order that cannot be, each inspected."""
    made, steps = 0, []
    situation = result.situations[0, 0]
    for placement in placements:
        bend = place[placement.crease.label]
        inspection = inspect_stage(situation, bend, placement.held, made)
        steps.append(Step(placement, situation.setup, situation.setting, situation, inspection, bend, made))
        made |= 1 << bend
    return tuple(steps)


def _flat(chain: Chain, bend: int, which: WhichSide, made: int) -> float:
    return flat_runs(chain, bend, which)[chain.first_made(bend, which, made)]


def handling_of(part: Part, steps: Sequence[Step], place: int) -> Handling | None:
    """How one of the steps is handled, None where the order was not checked."""
    step = steps[place]
    if step.inspection is None or step.situation is None:
        return None
    inspection, situation = step.inspection, step.situation

    def name(leg: int) -> str:
        return part.leg_name(leg) or part.leg_text(leg)

    return Handling(
        face_up="near" if step.placement.crease.way == "up" else "far",
        toward=step.placement.swung,
        move=_move(steps, place),
        into=inspection.into.how,
        out=inspection.out.how,
        raised_in=inspection.into.raised,
        raised_out=inspection.out.raised,
        clearance=inspection.gap,
        nearest=nearest_text(inspection, name),
        close=inspection.gap < situation.shop.safe_clearance,
        by_hand=situation.bends[step.bend].by_hand,
        refused=refusal_text(inspection, name),
    )


def nearest_text(inspection: Inspection, name: Naming) -> str:
    """What the least clearance of a stage is between, in words."""
    least = inspection.checks[0] if inspection.checks else None
    if least is not None and least.gap <= inspection.gap + 1e-9:
        who = name(least.leg)
        if least.name == "leg":
            return f"{who} and {name(least.other if least.other is not None else -1)}"
        return f"{who} and {least.name}"
    for passage, words in ((inspection.into, "on the way in"), (inspection.out, "on the way out")):
        if passage.gap <= inspection.gap + 1e-9:
            return f"part and lifted bar, {words}" if passage.how != "endwise" else f"part and bar, endwise, {words}"
    return ""


def _move(steps: Sequence[Step], place: int) -> str:
    """What is done with the sheet since the stage before."""
    step = steps[place]
    chain = step.situation.chain if step.situation else None
    if chain is None:
        return ""
    now = orientation_of(chain, step.bend, step.placement.held)
    face = "near face up" if not now & 1 else "far face up"
    if place == 0:
        return f"lay the sheet in, {face}"
    before = steps[place - 1]
    then = orientation_of(chain, before.bend, before.placement.held)
    change = "" if before.setup.name == step.setup.name else f"change to set-up {step.setup.name}; "
    if not change and before.setting != step.setting and step.setting is not None:
        change = f"set the nose to {step.setting:.2f} mm; "
    if now == then:
        return f"{change}slide it on"
    if (now ^ then) == 3:
        return f"{change}turn it over front to back, {face}"
    if (now ^ then) & 1:
        return f"{change}turn it over left to right, {face}"
    return f"{change}turn it round flat, its front edge to the back, {face} as before"


@dataclass(frozen=True)
class Attempt:
    """A bend made at another place: ``after`` other labels, with a ``held`` ``leg``, on a set-up and setting [mm];
    ``reason`` in words; ``dearer``: by how much such an order costs more, None where it cannot be.
    """

    label: str
    after: tuple[str, ...]
    held: WhichSide
    leg: int
    setup: str
    setting: float
    reason: str
    dearer: float | None
    inspection: Inspection
    situation: Situation


def earlier_attempts(decision: Decision, label: str, name: Naming) -> tuple[Attempt, ...]:
    """What keeps a bend from coming earlier, from the earliest place on; without an order also at the place shown.

    :raises InputRefused: FG033 for a bend that is not there, or an order that was not checked.
    """
    labels = [s.placement.crease.label for s in decision.steps]
    if label not in labels:
        text = f"no bend is called {label!r}"
        raise InputRefused(Fault("FG033", "--why", text, f"labels are {', '.join(labels) or 'none'}"))
    if decision.answer is None:
        text = f"the order was not checked against the brake: {decision.unchecked}"
        raise InputRefused(Fault("FG033", "--why", text, "it is checked for bends in a row"))
    answer, chain = decision.answer, decision.answer.question.chain
    bend = [c.label for c in chain.creases].index(label)
    end = labels.index(label) + (1 if decision.state == "refused" else 0)
    attempts, made = [], 0
    for place in range(end):
        for choice in [c for c in answer.costs.of if c.bend == bend]:
            situation = answer.situations[choice.setup, choice.setting]
            inspection = inspect_stage(situation, bend, choice.held, made)
            text, dearer = refusal_text(inspection, name), None
            if not text:
                text, dearer = _price(answer, decision, choice, place, made)
            leg, name_of_setup = chain.creases[bend].side(choice.held).leg, situation.setup.name
            where = (label, tuple(labels[:place]), choice.held, leg, name_of_setup, situation.setting)
            attempts.append(Attempt(*where, text, dearer, inspection, situation))
        made |= 1 << decision.steps[place].bend
    return tuple(attempts)


def _price(answer: Answer, decision: Decision, choice: Choice, place: int, made: int) -> tuple[str, float | None]:
    """What an order costs more that begins as the best one does and then takes this bend."""
    best = answer.best
    chain, weights = answer.question.chain, answer.question.shop.weights
    after = made | 1 << choice.bend
    left = int(best.togo[after, orientation_of(chain, choice.bend, choice.held), choice.setup, choice.setting])
    own = int(answer.costs.of[choice][made])
    if left >= NEVER or own >= NEVER or not best.possible:
        return "it could be made here, but then the part could not be finished", None
    spent, last = 0, None
    for n, step in enumerate(best.choices[:place]):
        at = sum(1 << decision.steps[k].bend for k in range(n))
        spent += step_cost(chain, weights, last, step) + int(answer.costs.of[step][at])
        last = step
    whole = spent + step_cost(chain, weights, last, choice) + own + left
    more = (whole - best.cost) / UNIT
    dearer = " at the same cost" if more <= 0 else f", at a cost of {more:g} more"
    return f"it could be made here{dearer}", more


def attempt_lines(tries: Sequence[Attempt], name: Naming) -> tuple[str, ...]:
    """Lines such as "first, lip held, set-up plain: web meets the clamp bar at 61 degrees of the leaf"."""
    lines = []
    for t in tries:
        where = f"after {', '.join(t.after)}" if t.after else "first"
        lines.append(f"{where}, {name(t.leg)} held, set-up {t.setup}, nose at {t.setting:.2f} mm: {t.reason}")
    return tuple(lines)
