"""What strips told of parts that were received: lines, leaf angles, and the allowances to unfold them with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from flatgen.bend_order.plan import held_of, make_schedule, order_of
from flatgen.brake.creases import creases_of_flat
from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.learned import KnownBend
from flatgen.core.schedule import Crease
from flatgen.core.shop import Shop
from flatgen.definition.part import Part
from flatgen.jobs.result import Options
from flatgen.metal.allowance import Measured
from flatgen.metal.bend_rule import ToldAllowance
from flatgen.metal.metals import load_metals
from flatgen.strips.learning.apply import Told, Wishes
from flatgen.strips.learning.lessons import lessons_of, log_of
from flatgen.strips.learning.per_bend import PASSES, made_fast, made_fast_in, of_bends, settled, unsettled
from flatgen.unfolding.received.part import ReceivedPart


def told_of_received(part: Part, creases: Sequence[Crease], shop: Shop, wishes: Wishes) -> Told | None:
    """What strips told of a part that was received; its flat has to be unfolded with what they told.

    Parameters
    ----------
    part : Part
        The part, [mm]
    creases : Sequence[Crease]
        Its bends, [mm]
    shop : Shop
        The shop, [mm]
    wishes : tuple
        Set-ups, legs to hold, order of bending, as of :func:`taught`, [-]

    Returns
    -------
    Told | None
        None where there is no strip, [mm]
    """
    if log_of(shop) is None:
        return None
    own = {} if part.metal is None else {part.metal.name: part.metal}
    lessons = lessons_of(shop, load_metals() | own)
    if lessons is None:
        return None
    shop = replace(shop, learned=lessons.digest)
    planned, bends, found = shop, dict[str, KnownBend](), dict[str, Measured]()
    told: list[Finding] = []
    for turn in range(PASSES + 1):
        schedule = make_schedule(part, [replace(c, known=bends.get(c.label)) for c in creases], planned, *wishes)
        if turn and settled(schedule, bends):
            break
        if turn == PASSES:
            told.append(unsettled(part, schedule))
            break
        if not turn:
            planned = made_fast(part, schedule, shop, lessons)
        bends, found, told = of_bends(part, schedule, planned, lessons)
    return Told(planned, lessons, bends, (*told, *lessons.findings), made_fast_in(shop, planned), found)


def told_allowances(
    parts: Iterable[tuple[ReceivedPart, FlatPattern]], shop: Shop, options: Options
) -> tuple[ToldAllowance, ...]:
    """What strips told of the bends of received parts, to unfold them with.

    Parameters
    ----------
    parts : Iterable[tuple[ReceivedPart, FlatPattern]]
        Parts as they were unfolded by their metal's own way, [mm]
    shop : Shop
        The shop, [mm]
    options : Options
        Set-ups, legs to hold, order, [-]

    Returns
    -------
    tuple[ToldAllowance, ...]
        One for each kind of bend that strips told of, [mm]
    """
    if log_of(shop) is None:
        return ()
    found: dict[tuple[float, ...], ToldAllowance] = {}
    for part, flat in parts:
        if not flat.bends or part.metal is None:
            continue
        wishes = (options.set_up, held_of(options.hold, part), order_of(options.order))
        known = told_of_received(part, creases_of_flat(part, flat), shop, wishes)
        for bend in part.bends if known is not None else ():
            told = None if known is None else known.allowances.get(bend.label)
            if told is None:
                continue
            own = told.allowance(bend.angle, bend.inside_radius, part.thickness)
            kind = (part.thickness, bend.inside_radius, bend.angle)
            found.setdefault(tuple(round(v, 3) for v in kind), ToldAllowance(*kind, own.length, own.method, own.source))
    return tuple(found.values())
