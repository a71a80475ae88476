"""Which order a part is bent in, and which side of each bend is held: decided, and how each stage is handled.

chain     the best of all orders, or that there is none; or the order that the user gave, with the best sides
other     the user's order or that from the edges inward, not checked: bends that are not in a row, or too many
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from flatgen.bend_order.chain import Chain, NoChain, chain_of
from flatgen.bend_order.costs import UNIT, runs
from flatgen.bend_order.explain import Look, Naming, look_at, reason
from flatgen.bend_order.search import MOST, Answer, Choice, Question, answer, lay_of, step_cost
from flatgen.bend_order.stages import NEVER, Situation, other
from flatgen.brake.creases import Lay, held_sides, told_apart
from flatgen.brake.springback import Strength
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.schedule import Crease, Handling, Which
from flatgen.core.shop import SetUp, Shop
from flatgen.definition.part import Part

State = Literal["best", "checked", "refused", "unchecked"]

INWARD = "from the edges inward"

GIVEN = "as given"

FOUND = "the best of all orders"

BEST_SIDES = "part of the best order"


@dataclass(frozen=True)
class Step:
    """A stage as decided: its lay, set-up and setting; ``situation``, ``look`` and ``bend`` of the chain where the
    order was checked; ``made``: bends made before it.
    """

    lay: Lay
    setup: SetUp
    setting: float | None = None
    situation: Situation | None = None
    look: Look | None = None
    bend: int = -1
    made: int = 0


@dataclass(frozen=True)
class Decision:
    """Steps in order; ``state`` as in :class:`flatgen.core.schedule.Schedule`; ``answer``: what was searched."""

    steps: tuple[Step, ...]
    state: State
    order_from: str
    unchecked: str = ""
    answer: Answer | None = None

    @property
    def chain(self) -> Chain | None:
        """The chain that was searched."""
        return None if self.answer is None else self.answer.question.chain


def decide(
    part: Part,
    creases: Sequence[Crease],
    shop: Shop,
    setups: tuple[SetUp, ...],
    strength: Strength | None,
    order: Sequence[str] | None,
) -> Decision:
    """Decide the order of bending.

    :param setups: those that may be used, the first being there at the beginning [mm]
    :param order: labels in the order that the user wants
    :returns: one step per bend
    :raises InputRefused: FG023: an order that does not name every bend once
    """
    ordered = _ordered(creases, order)
    origin = GIVEN if order is not None else INWARD
    try:
        chain = chain_of(creases, part.thickness)
        if chain.bends > MOST:
            raise NoChain(f"{chain.bends} bends are more than {MOST}, the most whose orders are all looked at")
    except NoChain as why:
        lays = held_sides(part, ordered, shop, setups[0])
        steps = tuple(Step(lay, setups[0], setups[0].setting) for lay in lays)
        return Decision(steps, "unchecked", origin, str(why))
    place = {c.label: n for n, c in enumerate(chain.creases)}
    wanted = None if order is None else tuple(place[label] for label in order)
    question = Question(chain, shop, setups, strength, frozenset(part.reference_legs), wanted)
    found = answer(question)
    if found.best.possible:
        steps = _best_steps(part, found)
        return Decision(steps, "best" if order is None else "checked", FOUND if order is None else GIVEN, "", found)
    lays = held_sides(part, ordered, shop, setups[0])
    return Decision(_plain_steps(found, lays, place), "refused", origin, "", found)


def _ordered(creases: Sequence[Crease], order: Sequence[str] | None) -> list[Crease]:
    if order is None:
        return sorted(creases, key=lambda c: (told_apart(min(c.first.reach, c.second.reach)), creases.index(c)))
    known = {c.label: c for c in creases}
    if sorted(order) != sorted(known):
        text = f"the order {', '.join(order) or 'of no bends'} does not name every bend once"
        raise InputRefused(Fault("FG023", "order of bending", text, f"bends are {', '.join(known) or 'none'}"))
    return [known[label] for label in order]


def _best_steps(part: Part, found: Answer) -> tuple[Step, ...]:
    question, made, steps = found.question, 0, []
    chain, wanted = question.chain, set(part.reference_legs)
    for choice in found.best.choices:
        crease = chain.creases[choice.bend]
        swung = crease.side(other(choice.held)).leg
        missed = swung in wanted and crease.side(choice.held).leg not in wanted
        why = "as asked" if crease.hold is not None else BEST_SIDES
        lay = Lay(
            crease,
            choice.held,
            why,
            _flat(chain, choice.bend, choice.held, made),
            _flat(chain, choice.bend, other(choice.held), made),
            swung if missed else None,
        )
        situation = found.situations[choice.setup, choice.setting]
        look = look_at(situation, choice.bend, choice.held, made)
        steps.append(Step(lay, situation.setup, situation.setting, situation, look, choice.bend, made))
        made |= 1 << choice.bend
    return tuple(steps)


def _plain_steps(found: Answer, lays: Sequence[Lay], place: dict[str, int]) -> tuple[Step, ...]:
    """Steps of an order that cannot be, each looked at."""
    made, steps = 0, []
    situation = found.situations[0, 0]
    for lay in lays:
        bend = place[lay.crease.label]
        look = look_at(situation, bend, lay.held, made)
        steps.append(Step(lay, situation.setup, situation.setting, situation, look, bend, made))
        made |= 1 << bend
    return tuple(steps)


def _flat(chain: Chain, bend: int, which: Which, made: int) -> float:
    outward = chain.outward(bend, which)
    first = next((k for k, near in enumerate(outward) if made >> near & 1), len(outward))
    return runs(chain, bend, which)[first]


def handling(part: Part, steps: Sequence[Step], place: int) -> Handling | None:
    """How one of the steps is handled, None where the order was not checked."""
    step = steps[place]
    if step.look is None or step.situation is None:
        return None
    look, situation = step.look, step.situation

    def name(leg: int) -> str:
        return part.leg_name(leg) or part.leg_text(leg)

    nearest = said_of(look, name)
    return Handling(
        face_up="near" if step.lay.crease.way == "up" else "far",
        toward=step.lay.swung,
        move=_move(steps, place),
        into=look.into.how,
        out=look.out.how,
        raised_in=look.into.raised,
        raised_out=look.out.raised,
        clearance=look.gap,
        nearest=nearest,
        close=look.gap < situation.shop.safe_clearance,
        by_hand=situation.bends[step.bend].by_hand,
        refused=reason(look, name),
    )


def said_of(look: Look, name: Naming) -> str:
    """What the least clearance of a stage is between, in words."""
    least = look.checks[0] if look.checks else None
    if least is not None and least.gap <= look.gap + 1e-9:
        who = name(least.leg)
        if least.name == "leg":
            return f"{who} and {name(least.other if least.other is not None else -1)}"
        return f"{who} and {least.name}"
    for passage, words in ((look.into, "on the way in"), (look.out, "on the way out")):
        if passage.gap <= look.gap + 1e-9:
            return f"part and lifted bar, {words}" if passage.how != "endwise" else f"part and bar, endwise, {words}"
    return ""


def _move(steps: Sequence[Step], place: int) -> str:
    """What is done with the sheet since the stage before."""
    step = steps[place]
    chain = step.situation.chain if step.situation else None
    if chain is None:
        return ""
    now = lay_of(chain, step.bend, step.lay.held)
    face = "near face up" if not now & 1 else "far face up"
    if place == 0:
        return f"lay the sheet in, {face}"
    before = steps[place - 1]
    then = lay_of(chain, before.bend, before.lay.held)
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
class Try:
    """A bend made at another place: after ``after`` (labels), ``held`` side (leg number), set-up; ``reason`` in words;
    ``dearer``: by how much such an order costs more, None where the stage, or the rest after it, cannot be.
    """

    label: str
    after: tuple[str, ...]
    held: Which
    leg: int
    setup: str
    setting: float
    reason: str
    dearer: float | None
    look: Look
    situation: Situation


def why(decision: Decision, label: str, name: Naming) -> tuple[Try, ...]:
    """What keeps a bend from coming earlier.

    :returns: from the earliest place on; where there is no order, its place in the order shown is looked at too
    :raises InputRefused: FG033 for a bend that is not there, or an order that was not checked.
    """
    labels = [s.lay.crease.label for s in decision.steps]
    if label not in labels:
        said = f"no bend is called {label!r}"
        raise InputRefused(Fault("FG033", "--why", said, f"labels are {', '.join(labels) or 'none'}"))
    if decision.answer is None:
        said = f"the order was not checked against the brake: {decision.unchecked}"
        raise InputRefused(Fault("FG033", "--why", said, "it is checked for bends in a row"))
    answer, chain = decision.answer, decision.answer.question.chain
    bend = [c.label for c in chain.creases].index(label)
    end = labels.index(label) + (1 if decision.state == "refused" else 0)
    found, made = [], 0
    for place in range(end):
        for choice in [c for c in answer.costs.of if c.bend == bend]:
            situation = answer.situations[choice.setup, choice.setting]
            look = look_at(situation, bend, choice.held, made)
            text, dearer = reason(look, name), None
            if not text:
                text, dearer = _price(answer, decision, choice, place, made)
            leg = chain.creases[bend].side(choice.held).leg
            before = tuple(labels[:place])
            found.append(
                Try(
                    label,
                    before,
                    choice.held,
                    leg,
                    situation.setup.name,
                    situation.setting,
                    text,
                    dearer,
                    look,
                    situation,
                )
            )
        made |= 1 << decision.steps[place].bend
    return tuple(found)


def _price(answer: Answer, decision: Decision, choice: Choice, place: int, made: int) -> tuple[str, float | None]:
    """What an order costs more that begins as the best one does and then takes this bend."""
    best = answer.best
    chain, weights = answer.question.chain, answer.question.shop.weights
    after = made | 1 << choice.bend
    left = int(best.togo[after, lay_of(chain, choice.bend, choice.held), choice.setup, choice.setting])
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
    text = (
        "it could be made here at the same cost" if more <= 0 else f"it could be made here, at a cost of {more:g} more"
    )
    return text, more


def wording(tries: Sequence[Try], name: Naming) -> tuple[str, ...]:
    """Each try as a line.

    :returns: such as "first, lip held, set-up plain: web meets the clamp bar at 61 degrees of the leaf"
    """
    lines = []
    for t in tries:
        where = f"after {', '.join(t.after)}" if t.after else "first"
        lines.append(f"{where}, {name(t.leg)} held, set-up {t.setup}, nose at {t.setting:.2f} mm: {t.reason}")
    return tuple(lines)
