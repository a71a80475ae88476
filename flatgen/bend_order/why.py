"""Why a bend cannot come earlier: each place before its own in the order, each side, each set-up, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flatgen.bend_order.best import Answer
from flatgen.bend_order.costs import UNIT
from flatgen.bend_order.decide import Decision
from flatgen.bend_order.explain import Look, Naming, look_at, reason
from flatgen.bend_order.search import Choice, lay_of, step_cost
from flatgen.bend_order.stages import NEVER, Situation
from flatgen.core.errors import Fault, InputRefused
from flatgen.core.schedule import Which


@dataclass(frozen=True)
class Try:
    """A bend made at another place: after ``after`` (labels), ``held`` side (leg number), set-up; ``reason`` in words;
    ``dearer``: by how much such an order costs more, None where the stage, or the rest after it, cannot be."""

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

    Parameters
    ----------
    decision : Decision
        How the order was decided, [-]
    label : str
        Label of the bend, [-]
    name : Callable
        Names a leg by its number, [-]

    Returns
    -------
    tuple[Try, ...]
        From the earliest place on; where there is no order, its place in the order shown is looked at too

    Raises
    ------
    InputRefused
        FG033 for a bend that is not there, or an order that was not checked.
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

    Parameters
    ----------
    tries : Sequence[Try]
        What was looked at, [-]
    name : Callable
        Names a leg by its number, [-]

    Returns
    -------
    tuple[str, ...]
        Such as "first, lip held, set-up plain: web meets the clamp bar at 61 degrees of the leaf"
    """
    lines = []
    for t in tries:
        where = f"after {', '.join(t.after)}" if t.after else "first"
        lines.append(f"{where}, {name(t.leg)} held, set-up {t.setup}, nose at {t.setting:.2f} mm: {t.reason}")
    return tuple(lines)
