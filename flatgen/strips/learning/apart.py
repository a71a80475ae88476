"""Which unknowns strips tell apart, and which they cannot: by the null space of what was measured.

Legs see the allowance of each kind and angle class of bend and the offset of each set-up. A combination of these that
moves no measured leg cannot be learned, whatever is measured how often: its parts are entangled. A strip that frees
them is a teaching strip: two bends of one kind with the leg between them held at both.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatgen.core.learned import Entangled
from flatgen.strips.learning.priors import Prior, Unknown, angle_class, kind_of, offset_key
from flatgen.strips.learning.rows import Array, bends_of, placing, swung_ends, thickness_of
from flatgen.strips.reading import BendReading, StripReading

BLIND = 1e-6
"""Directions that move measured legs by a smaller share than this are not seen [-]."""


def told_apart(readings: Sequence[StripReading], prior: Prior) -> tuple[frozenset[Unknown], tuple[Entangled, ...]]:
    """Allowances and offsets that strips tell apart, and groups that they do not.

    :param prior: what is known before; only how a number is worked out is taken from it
    :returns: names that :func:`allowance_name` and ``offset_key`` give, told apart; and the groups in words
    """
    names, matrix = _legs_seen(readings)
    told, groups = _groups(names, matrix)
    found = [_in_words(group, names, readings) for group in groups]
    angle_names, angle_matrix = _angles_seen(readings, prior)
    angles_told, angle_groups = _groups(angle_names, angle_matrix)
    found += [_springback_in_words(group) for group in angle_groups]
    return told | angles_told, tuple(found)


def deficient(plan: StripReading, prior: Prior) -> tuple[Entangled, ...]:
    """What a strip could not tell apart even if every leg, radius and angle of it were measured.

    :param plan: A strip that is yet to be bent
    :returns: empty where it is a good strip
    """
    return told_apart((measured_in_full(plan),), prior)[1]


def measured_in_full(plan: StripReading) -> StripReading:
    """A strip to come as if it had come out as asked and been measured in full.

    :returns: with every number there, those that were there kept
    """
    from dataclasses import replace

    legs = tuple(replace(g, got=g.asked if g.got is None else g.got) for g in plan.legs)
    bends = tuple(
        replace(
            b,
            sight=b.nose_radius if b.sight is None else b.sight,
            set=b.angle if b.set is None else b.set,
            got=b.angle if b.got is None else b.got,
            radius=b.inside_radius if b.radius is None else b.radius,
        )
        for b in plan.bends
    )
    return replace(plan, legs=legs, bends=bends, blank_got=plan.blank if plan.blank_got is None else plan.blank_got)


def allowance_name(strip: StripReading, bend: BendReading) -> Unknown:
    """The name of a bend's allowance: its kind and angle class."""
    return ("allowance", *kind_of(strip, bend), angle_class(bend.angle))


def _legs_seen(readings: Sequence[StripReading]) -> tuple[tuple[Unknown, ...], Array]:
    """Measured legs by allowances and offsets; what an unmarked sight line leaves open is taken out."""
    place: dict[Unknown, int] = {}
    for strip in readings:
        for bend in strip.bends:
            for name in (allowance_name(strip, bend), offset_key(bend)):
                place.setdefault(name, len(place))
    blocks = [np.zeros((0, len(place)))]
    for strip in readings:
        held = np.array([1.0 if b.held == "first" else -1.0 for b in strip.bends])
        placed, used = placing(held), swung_ends(held)
        block = np.zeros((len(strip.legs), len(place)))
        for n, bend in enumerate(strip.bends):
            block[:, place[allowance_name(strip, bend)]] -= used[:, n]
            block[:, place[offset_key(bend)]] -= placed[:, n]
        seen = np.array([leg.got is not None for leg in strip.legs])
        free = placed[seen][:, [b.sight is None for b in strip.bends]]
        blocks.append(_without(block[seen], free))
    return tuple(place), np.concatenate(blocks)


def _angles_seen(readings: Sequence[StripReading], prior: Prior) -> tuple[tuple[Unknown, ...], Array]:
    """Bends whose leaf angle and own angle are known, by alphas and betas."""
    place: dict[Unknown, int] = {}
    rows = []
    for strip in readings:
        bent = bends_of(strip, prior, thickness_of(strip, prior)[0])
        for n, bend in enumerate(strip.bends):
            if bend.set is None or bend.got is None:
                continue
            alpha: Unknown = ("alpha", *kind_of(strip, bend)[:3])
            beta: Unknown = ("beta", strip.metal)
            for name in (alpha, beta):
                place.setdefault(name, len(place))
            rows.append((place[alpha], place[beta], bend.angle / 90, float(bent.arm[n])))
    matrix = np.zeros((len(rows), len(place)))
    for row, (alpha_at, beta_at, angle, arm) in enumerate(rows):
        matrix[row, alpha_at], matrix[row, beta_at] = angle, arm
    return tuple(place), matrix


def _without(block: Array, free: Array) -> Array:
    """Rows with the directions that free columns span taken out."""
    if not free.size:
        return block
    return np.asarray(block - free @ (np.linalg.pinv(free) @ block))


def _groups(names: tuple[Unknown, ...], matrix: Array) -> tuple[frozenset[Unknown], list[list[Unknown]]]:
    """Names that are told, and the others in groups of those that are entangled with one another."""
    if not names:
        return frozenset(), []
    size = np.abs(matrix).max(axis=0, initial=0.0)
    scaled = matrix / np.where(size > BLIND, size, 1.0)
    _, values, ways = np.linalg.svd(np.concatenate([scaled, np.zeros((len(names), len(names)))]))
    blind = ways[values < BLIND * max(float(values.max(initial=0.0)), 1.0)]
    hidden = np.abs(blind.T @ blind)
    told = frozenset(n for i, n in enumerate(names) if hidden[i, i] < BLIND)
    left = [i for i in range(len(names)) if names[i] not in told]
    groups: list[list[Unknown]] = []
    while left:
        group, todo = [], [left[0]]
        while todo:
            here = todo.pop()
            if here in left:
                left.remove(here)
                group.append(here)
                todo += [i for i in left if hidden[here, i] > BLIND]
        groups.append([names[i] for i in sorted(group)])
    return told, groups


def _in_words(group: list[Unknown], names: tuple[Unknown, ...], readings: Sequence[StripReading]) -> Entangled:
    """A group of allowances and offsets that legs cannot tell apart."""
    words = tuple(unknown_in_words(u) for u in group)
    allowances = [u for u in group if u[0] == "allowance"]
    if len(group) == 1:
        text = f"no leg that was measured tells {words[0]}"
    else:
        text = f"these strips cannot tell apart {_listed(words)}: only sums or differences of them move a measured leg"
    if allowances:
        kinds = _listed(tuple(dict.fromkeys(_bend_in_words(u) for u in allowances)))
        each = "" if len(allowances) == 1 else "; one such strip for each kind of bend named"
        remedy = (
            f"bend a teaching strip and measure all its legs: two bends of {kinds}, "
            f"with the leg between them held at both{each}"
        )
    else:
        remedy = "measure the end legs too, or bend a strip with the leg between two bends held at both"
    return Entangled(words, text, remedy, tuple(float(str(u[-1])) for u in allowances))


def _springback_in_words(group: list[Unknown]) -> Entangled:
    words = tuple(unknown_in_words(u) for u in group)
    text = f"all bends whose angles were written down have like shares of angle and a/t: {_listed(words)} act as one"
    return Entangled(words, text, "bend a strip whose bends differ in angle, or in the length of the swung leg")


def unknown_in_words(unknown: Unknown) -> str:
    """An unknown as a person reads it.

    >>> unknown_in_words(("offset", "wide bar", 1.5))
    'the offset of wide bar at nose setting 1.5 mm'
    """
    if unknown[0] == "allowance":
        return f"the allowance of bends of {_bend_in_words(unknown)}"
    if unknown[0] == "offset":
        at = "" if unknown[2] is None else f" at nose setting {unknown[2]:g} mm"
        return f"the offset of {unknown[1]}{at}"
    if unknown[0] == "alpha":
        return f"springback by angle of {unknown[1]} {unknown[2]:g} mm, inside radius {unknown[3]:g} mm"
    return f"springback by leg of {unknown[1]}"


def _bend_in_words(unknown: Unknown) -> str:
    _, _metal, thickness, radius, setup, _setting, angle = unknown
    return f"{angle:g} deg, inside radius {radius:g} mm in {thickness:g} mm on {setup}"


def _listed(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
