"""The smallest single changes that would help where there is no order: of wishes, set-ups, the brake or the part.

dial       a number of a set-up that can be turned between sensible ends: of nose, bar, lift or leaf
plan       one search for the best order; how many are made is limited
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from flatgen.bend_order.chain import chain_of, subchain, with_leg
from flatgen.bend_order.costs import form_bend
from flatgen.bend_order.decide import Decision
from flatgen.bend_order.judge import with_changes
from flatgen.bend_order.search import Answer, Question, answer
from flatgen.brake.creases import least_hold, least_swing, remaining_face
from flatgen.core.schedule import Schedule
from flatgen.core.shop import SetUp
from flatgen.definition.part import Part

Kind = Literal[
    "order", "hold", "set-up", "leg", "nose radius", "nose angle", "leaf face", "bar depth", "bar height", "lift",
    "throat", "fingers", "open end", "join", "split",
]  # fmt: skip
Names = Callable[[int], str] | Sequence[str] | None
BASE: dict[Kind, float] = {
    "order": 0.0,
    "hold": 0.5,
    "set-up": 1.0,
    "leg": 3.0,
    "nose radius": 4.0,
    "nose angle": 5.0,
    "leaf face": 5.0,
    "bar depth": 6.0,
    "bar height": 6.0,
    "lift": 7.0,
    "throat": 8.0,
    "fingers": 9.0,
    "open end": 9.0,
    "join": 15.0,
    "split": 16.0,
}
"""Smallness before the size of the change, own choice: a wish of the user, what the shop has, the part's dimension, a
bar or leaf to be made, the machine itself, another part."""
BY_SIZE = 10.0
"""A dial turned by all of its value counts this much more."""
SMALL = 10.0
"""Values below this are measured against it [mm], [deg]."""
PLANS, EASY = 100, 6
"""Plans for parts of up to ``EASY`` bends; half as many with every bend more, as each takes about twice as long."""
LEAST_PLANS = 8
KEPT = 3
"""One plan in so many is kept for halving."""
FIRST: tuple[Kind, ...] = (
    "order", "hold", "set-up", "leaf face", "open end", "fingers", "lift", "throat", "bar height", "bar depth",
    "nose angle", "leg", "join", "split", "nose radius",
)  # fmt: skip
"""What is tried first, where plans are few: what is likeliest to help, own guess."""
STEP, FINE_STEP, TURN_STEP = 0.5, 0.25, 1.0
"""Grids of lengths, of nose radii [mm] and of angles [deg]."""
LEAST_BAR = 10.0
"""No clamp bar is thinner [mm]: own choice."""
LEAST_ANGLE = 20.0
"""No bar's nose is sharper [deg]: own choice."""


@dataclass(frozen=True)
class Dial:
    """A number of a set-up: what it is ``now`` and how ``far`` it is turned by ``step`` [mm], [deg]."""

    kind: Kind
    now: float
    far: float
    step: float
    change: Callable[[float], SetUp]
    words: str


def dials_of(question: Question, setup: SetUp) -> Iterator[Dial]:
    """What can be turned on a set-up, and how far: no larger radius than the bends have, no leaf too narrow to bear."""
    clamp, leaf, shop, chain = setup.clamp, setup.leaf, question.shop, question.chain
    bends = [form_bend(c, chain.thickness, setup, shop, question.strength) for c in chain.creases]
    left = min(remaining_face(b.angle, b.radius, chain.thickness, setup, shop.brake) for b in bends)

    def bar(field: str) -> Callable[[float], SetUp]:
        def change(value: Any) -> SetUp:
            return replace(setup, clamp=replace(clamp, **{field: value}))

        return change

    def depth(value: float) -> SetUp:
        return replace(setup, clamp=replace(clamp, depth=value, clamping_depth=min(value, clamp.clamping_depth)))

    radius, angle, thin = clamp.nose_radius, clamp.nose_angle, max(LEAST_BAR, 2 * clamp.nose_radius)
    for far in (min(FINE_STEP, radius), max(radius, *(b.radius for b in bends))):
        yield Dial("nose radius", radius, far, FINE_STEP, bar("nose_radius"), "a nose radius of {} (it is {})")
    blunt = min(90.0, 180.0 - max(b.top for b in bends))
    for far in (min(LEAST_ANGLE, angle), max(blunt, angle)):
        yield Dial("nose angle", angle, far, TURN_STEP, bar("nose_angle"), "a nose angle of {} (it is {})")
    narrow = min(leaf.face - left + least_swing(shop.brake, chain.thickness), leaf.face)
    words = "a leaf face of {} or narrower (it is {})"
    yield Dial("leaf face", leaf.face, narrow, STEP, lambda v: narrow_leaf(setup, v), words)
    words = "a clamp bar {} deep or less (it is {})"
    yield Dial("bar depth", clamp.depth, min(thin, clamp.depth), STEP, depth, words)
    words = "a clamp bar {} high or less (it is {})"
    yield Dial("bar height", clamp.height, min(thin, clamp.height), STEP, bar("height"), words)
    far = clamp.lift + clamp.height + sum(chain.flats)
    yield Dial("lift", clamp.lift, far, STEP, bar("lift"), "a clamp bar that lifts by {} (it lifts by {})")


def narrow_leaf(setup: SetUp, face: float) -> SetUp:
    """The leaf cut down to a face [mm], and what belongs to it."""
    kept = tuple((min(x, face), y) for x, y in setup.leaf.shape)
    shape = kept if any(x < face for x, _ in kept) else ()
    return replace(setup, leaf=replace(setup.leaf, face=face, shape=shape))


@dataclass(frozen=True)
class Change:
    """One change that helps: ``text`` in words; ``amount`` [mm], [deg]: the value to be reached, 0 where there is none;
    ``size``: smallness; ``leg``: place in the chain, -1 for none; ``questions`` and ``answers``: what was planned, two
    where the part is in two.
    """

    kind: Kind
    text: str
    amount: float
    size: float
    leg: int
    setup: str
    questions: tuple[Question, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True)
class _Trial:
    """One constraint, its ``values`` from the least change to the most; ``probes``: places of those tried first."""

    kind: Kind
    now: float
    values: tuple[float, ...]
    probes: tuple[int, ...]
    ask: Callable[[float], tuple[Question, ...]]
    say: Callable[[float], str]
    leg: int = -1
    setup: str = ""

    def size(self, value: float) -> float:
        """Smallness of the change to a value."""
        return BASE[self.kind] + BY_SIZE * abs(value - self.now) / max(abs(self.now), SMALL)


class _Plans:
    """Makes plans, as many as are allowed."""

    def __init__(self, left: int) -> None:
        self.left = left

    def answers(self, questions: tuple[Question, ...]) -> tuple[Answer, ...] | None:
        """Where all have an order; None where one has none, or no plan is left."""
        answers = []
        for question in questions:
            if self.left <= 0:
                return None
            self.left -= 1
            answers.append(answer(question))
            if not answers[-1].best.possible:
                return None
        return tuple(answers)


def helpful_changes(question: Question, limit: int | None = None, names: Names = None) -> tuple[Change, ...]:
    """Single changes with which there is an order, the smallest first; none where the question has an order.

    :param limit: plans that may be made, None for :func:`plan_limit`
    :param names: of legs by their number in the part; "leg 1" and so on where it is left out
    :raises ValueError: If no plan may be made.
    """
    if limit is not None and limit < 1:
        raise ValueError(f"a limit of {limit} plans")
    allowed = plan_limit(question.chain.bends) if limit is None else limit
    plans = _Plans(allowed)
    if plans.answers((question,)) is not None:
        return ()
    helpful = []
    for trial in sorted(_trials(question, _naming(names)), key=lambda t: FIRST.index(t.kind)):
        for place in trial.probes:
            if plans.left <= allowed // KEPT:
                break
            answers = plans.answers(trial.ask(trial.values[place]))
            if answers is not None:
                helpful.append((trial, place, answers))
                break
    helpful.sort(key=lambda h: h[0].size(h[0].values[0]))
    return tuple(sorted((_least(plans, *h) for h in helpful), key=lambda c: (c.size, c.text)))


def plan_limit(bends: int) -> int:
    """How many plans are worth the wait: one of many bends takes longer.

    >>> plan_limit(4), plan_limit(8), plan_limit(16)
    (100, 25, 8)
    """
    return max(LEAST_PLANS, PLANS >> max(bends - EASY, 0))


def _least(plans: _Plans, trial: _Trial, good: int, answers: tuple[Answer, ...]) -> Change:
    """The least of a trial's values that has an order while the one before it has none."""
    bad = -1
    while good - bad > 1 and plans.left > 0:
        middle = (good + bad) // 2
        better = plans.answers(trial.ask(trial.values[middle]))
        if better is None:
            bad = middle
        else:
            good, answers = middle, better
    value = trial.values[good]
    questions = tuple(a.question for a in answers)
    return Change(trial.kind, trial.say(value), value, trial.size(value), trial.leg, trial.setup, questions, answers)


def _naming(names: Names) -> Callable[[int], str]:
    if names is None:
        return lambda leg: f"leg {leg + 1}"
    return names if callable(names) else names.__getitem__


def _trials(question: Question, name: Callable[[int], str]) -> Iterator[_Trial]:
    yield from _wish_trials(question)
    for place in range(len(question.setups)):
        yield from _set_up_trials(question, place)
    if question.shop.brake.throat is not None:
        yield _throat_trial(question, question.shop.brake.throat)
    for leg in range(len(question.chain.flats)):
        yield from _leg_trials(question, leg, name)
    yield from _split_trials(question, name)


def _single_trial(kind: Kind, text: str, *questions: Question, leg: int = -1, setup: str = "") -> _Trial:
    return _Trial(kind, 0.0, (0.0,), (0,), lambda _: questions, lambda _: text, leg, setup)


def _wish_trials(question: Question) -> Iterator[_Trial]:
    shop, chain = question.shop, question.chain
    if question.order is not None:
        yield _single_trial("order", "another order of the bends", replace(question, order=None))
    for n, crease in enumerate(chain.creases):
        if crease.hold is not None:
            free = [replace(c, hold=None) if k == n else c for k, c in enumerate(chain.creases)]
            text = f"bend {crease.label} held by its other leg than the one asked for"
            yield _single_trial("hold", text, replace(question, chain=chain_of(free, chain.thickness)))
    for setup in shop.setups:
        if setup not in question.setups:
            more = replace(question, setups=(*question.setups, setup))
            yield _single_trial("set-up", f"set-up {setup.name} as well", more, setup=setup.name)
    if any(shop.brake.open_ends):
        return
    longest = max(c.extent for c in chain.creases)
    if shop.brake.length >= 2 * longest and not all(s.fingers for s in question.setups):
        width = (longest,)
        fingered = tuple(s if s.fingers else replace(s, fingers=width) for s in question.setups)
        text = f"clamp fingers along the part's {_number(longest)} mm alone, for it to slide off them endwise"
        yield _single_trial("fingers", text, replace(question, setups=fingered))
    opened = replace(shop, brake=replace(shop.brake, open_ends=(False, True)))
    yield _single_trial(
        "open end", "an open end of the brake, for the part to slide out endwise", replace(question, shop=opened)
    )


def _set_up_trials(question: Question, place: int) -> Iterator[_Trial]:
    """Bar and leaf of one set-up."""
    setup = question.setups[place]
    where = f" in set-up {setup.name}" if len(question.setups) > 1 else ""
    for dial in dials_of(question, setup):
        values = _grid(dial.now, dial.far, dial.step)
        if not values:
            continue

        def ask(value: float, change: Callable[[float], SetUp] = dial.change) -> tuple[Question, ...]:
            setups = tuple(change(value) if k == place else s for k, s in enumerate(question.setups))
            return (replace(question, setups=setups),)

        def say(value: float, dial: Dial = dial) -> str:
            unit = "degrees" if dial.kind == "nose angle" else "mm"
            return dial.words.format(f"{_number(value)} {unit}", f"{_number(dial.now)} {unit}") + where

        probes = _probes(len(values), 3 if dial.kind == "lift" else 1)
        yield _Trial(dial.kind, dial.now, values, probes, ask, say, setup=setup.name)


def _throat_trial(question: Question, now: float) -> _Trial:
    """A deeper throat: no more than the whole blank asks for."""
    chain, brake = question.chain, question.shop.brake
    longest = sum(chain.flats) + sum(chain.allowances) + max(s.clamp.nose_radius + s.offset for s in question.setups)
    values = _grid(now, max(longest, now) + STEP, STEP)

    def ask(value: float) -> tuple[Question, ...]:
        return (replace(question, shop=replace(question.shop, brake=replace(brake, throat=value))),)

    def say(value: float) -> str:
        return f"a throat of {_number(value)} mm or deeper (it is {_number(now)} mm)"

    return _Trial("throat", now, values, _probes(len(values), 1), ask, say)


def _leg_trials(question: Question, leg: int, name: Callable[[int], str]) -> Iterator[_Trial]:
    """One leg shorter, down to what can be held and swung; or longer, so far that any bar goes in beside it."""
    chain, brake = question.chain, question.shop.brake
    now, who = chain.flats[leg], name(chain.legs[leg])
    least = max(least_hold(brake, chain.thickness), least_swing(brake, chain.thickness))
    room = max(max(s.clamp.depth, s.clamp.height + s.clamp.lift, s.leaf.face) for s in question.setups)

    def ask(value: float) -> tuple[Question, ...]:
        return (replace(question, chain=with_leg(chain, leg, value)),)

    for far, word in ((min(least, now), "shorter"), (now + room + STEP, "longer")):
        values = _grid(now, far, STEP)
        if values:

            def say(v: float, word: str = word) -> str:
                by = _number(abs(v - now))
                text = f"{who} {word} by {by} mm: {_number(v)} mm flat between its tangent lines or edge"
                return f"{text} (it is {_number(now)} mm)"

            yield _Trial("leg", now, values, _probes(len(values), 2), ask, say, leg)


def _split_trials(question: Question, name: Callable[[int], str]) -> Iterator[_Trial]:
    """The part in two pieces, joined after bending: at an outer leg's bend, or in the middle of an inner leg."""
    chain = question.chain
    last = chain.bends - 1
    for bend, leg, kept in ((0, 0, range(1, last + 1)), (last, last + 1, range(last))):
        if len(kept):
            who, label = name(chain.legs[leg]), chain.creases[bend].label
            text = f"{who} made as a piece of its own and joined on instead of bend {label}"
            yield _single_trial("join", text, _piece(question, kept, chain.flats), leg=leg)
    for leg in range(1, chain.bends):
        flats = [f / 2 if n == leg else f for n, f in enumerate(chain.flats)]
        pieces = (_piece(question, range(leg), flats), _piece(question, range(leg, last + 1), flats))
        text = f"the part in two, split along the middle of {name(chain.legs[leg])} and joined after bending"
        yield _single_trial("split", text, *pieces, leg=leg)


def _piece(question: Question, kept: range, flats: Sequence[float]) -> Question:
    order = None if question.order is None else tuple(b - kept[0] for b in question.order if b in kept)
    return replace(question, chain=subchain(question.chain, kept, flats), order=order)


def _number(value: float) -> str:
    """To a hundredth at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _grid(now: float, far: float, step: float) -> tuple[float, ...]:
    """Multiples of a step from beside the present value to the far one."""
    if far < now:
        start, end = math.ceil(now / step - 1e-9) - 1, math.ceil(far / step - 1e-9)
        return tuple(k * step for k in range(start, end - 1, -1))
    start, end = math.floor(now / step + 1e-9) + 1, math.floor(far / step + 1e-9)
    return tuple(k * step for k in range(start, end + 1))


def _probes(count: int, wanted: int) -> tuple[int, ...]:
    """The last place, then that half as far, and so on."""
    return tuple(dict.fromkeys(max((count >> k) - 1, 0) for k in range(wanted)))


def add_changes(part: Part, schedule: Schedule, decision: Decision) -> Schedule:
    """A schedule that has no order, with the smallest changes that would help; any other as it is."""
    if schedule.state != "refused" or decision.answer is None:
        return schedule
    changes = helpful_changes(decision.answer.question, names=lambda leg: part.leg_name(leg) or part.leg_text(leg))
    return with_changes(schedule, tuple(c.text for c in changes))
