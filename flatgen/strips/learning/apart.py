"""Which unknowns strips tell apart, and which they cannot: by the null space of what was measured.

Measured legs depend on the allowance of each kind and angle class of bend and the offset of each set-up. A combination
of these that moves no measured leg cannot be learned: its parts are entangled. A strip that frees them is a teaching
strip: two bends of one kind with the leg between them held at both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatgen.core.learned import Entanglement
from flatgen.strips.learning.priors import Prior, Unknown, allowance_key, alpha_key, offset_key
from flatgen.strips.learning.rows import Array, bend_arrays, placement, swung_ends, thickness_of
from flatgen.strips.reading import StripReading

BLIND = 1e-6
"""Directions that move measured legs by a smaller share than this are not seen."""


def tell_apart(readings: Sequence[StripReading], prior: Prior) -> tuple[frozenset[Unknown], tuple[Entanglement, ...]]:
    """Allowances and offsets that strips tell apart, and groups that they do not.

    :param prior: only how a number is worked out is taken from it
    """
    informed, groups = _groups(*_legs_by_unknowns(readings))
    informed_angles, angle_groups = _groups(*_angles_by_unknowns(readings, prior))
    entanglements = [_describe_group(g) for g in groups] + [_describe_springback(g) for g in angle_groups]
    return informed | informed_angles, tuple(entanglements)


def find_entanglements(plan: StripReading, prior: Prior) -> tuple[Entanglement, ...]:
    """What a strip to come could not tell apart even if all of it were measured; empty where it is a good strip."""
    return tell_apart((fill_in_measurements(plan),), prior)[1]


def fill_in_measurements(plan: StripReading) -> StripReading:
    """A strip to come as if it had come out as asked and been measured in full; numbers that are there stay."""
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


def _legs_by_unknowns(readings: Sequence[StripReading]) -> tuple[tuple[Unknown, ...], Array]:
    """Measured legs by allowances and offsets; what an unmarked sight line leaves open is taken out."""
    columns: dict[Unknown, int] = {}
    for strip in readings:
        for bend in strip.bends:
            for unknown in (allowance_key(strip, bend), offset_key(bend)):
                columns.setdefault(unknown, len(columns))
    blocks = [np.zeros((0, len(columns)))]
    for strip in readings:
        held = np.array([1.0 if b.held == "first" else -1.0 for b in strip.bends])
        placed, used = placement(held), swung_ends(held)
        block = np.zeros((len(strip.legs), len(columns)))
        for n, bend in enumerate(strip.bends):
            block[:, columns[allowance_key(strip, bend)]] -= used[:, n]
            block[:, columns[offset_key(bend)]] -= placed[:, n]
        measured = np.array([leg.got is not None for leg in strip.legs])
        free = placed[measured][:, [b.sight is None for b in strip.bends]]
        blocks.append(_without(block[measured], free))
    return tuple(columns), np.concatenate(blocks)


def _angles_by_unknowns(readings: Sequence[StripReading], prior: Prior) -> tuple[tuple[Unknown, ...], Array]:
    """Bends whose leaf angle and own angle are known, by alphas and betas."""
    columns: dict[Unknown, int] = {}
    rows = []
    for strip in readings:
        bent = bend_arrays(strip, prior, thickness_of(strip, prior)[0])
        for n, bend in enumerate(strip.bends):
            if not bend.has_both_angles:
                continue
            alpha = columns.setdefault(alpha_key(strip, bend), len(columns))
            beta = columns.setdefault(Unknown("beta", strip.metal), len(columns))
            rows.append((alpha, beta, bend.angle / 90, float(bent.arm[n])))
    matrix = np.zeros((len(rows), len(columns)))
    for row, (alpha, beta, angle, arm) in enumerate(rows):
        matrix[row, alpha], matrix[row, beta] = angle, arm
    return tuple(columns), matrix


def _without(block: Array, free: Array) -> Array:
    """Rows with the directions that free columns span taken out."""
    if not free.size:
        return block
    return np.asarray(block - free @ (np.linalg.pinv(free) @ block))


def _groups(unknowns: tuple[Unknown, ...], matrix: Array) -> tuple[frozenset[Unknown], list[list[Unknown]]]:
    """Unknowns that are told apart, and the others in groups of those that are entangled with one another."""
    if not unknowns:
        return frozenset(), []
    size = np.abs(matrix).max(axis=0, initial=0.0)
    scaled = matrix / np.where(size > BLIND, size, 1.0)
    _, values, ways = np.linalg.svd(np.concatenate([scaled, np.zeros((len(unknowns), len(unknowns)))]))
    blind = ways[values < BLIND * max(float(values.max(initial=0.0)), 1.0)]
    hidden = np.abs(blind.T @ blind)
    informed = frozenset(u for i, u in enumerate(unknowns) if hidden[i, i] < BLIND)
    left = [i for i in range(len(unknowns)) if unknowns[i] not in informed]
    groups: list[list[Unknown]] = []
    while left:
        group, todo = [], [left[0]]
        while todo:
            here = todo.pop()
            if here in left:
                left.remove(here)
                group.append(here)
                todo += [i for i in left if hidden[here, i] > BLIND]
        groups.append([unknowns[i] for i in sorted(group)])
    return informed, groups


def _describe_group(group: list[Unknown]) -> Entanglement:
    """A group of allowances and offsets that legs cannot tell apart."""
    words = tuple(describe_unknown(u) for u in group)
    allowances = [u for u in group if u.sort == "allowance"]
    if len(group) == 1:
        text = f"no leg that was measured tells {words[0]}"
    else:
        text = f"these strips cannot tell apart {_listed(words)}: only sums or differences of them move a measured leg"
    if allowances:
        kinds = _listed(tuple(dict.fromkeys(_describe_bend(u) for u in allowances)))
        each = "" if len(allowances) == 1 else "; one such strip for each kind of bend named"
        remedy = (
            f"bend a teaching strip and measure all its legs: two bends of {kinds}, "
            f"with the leg between them held at both{each}"
        )
    else:
        remedy = "measure the end legs too, or bend a strip with the leg between two bends held at both"
    return Entanglement(words, text, remedy, tuple(u.angle for u in allowances))


def _describe_springback(group: list[Unknown]) -> Entanglement:
    words = tuple(describe_unknown(u) for u in group)
    text = f"all bends whose angles were written down have like shares of angle and a/t: {_listed(words)} act as one"
    return Entanglement(words, text, "bend a strip whose bends differ in angle, or in the length of the swung leg")


def describe_unknown(unknown: Unknown) -> str:
    """An unknown as a person reads it.

    >>> describe_unknown(Unknown("offset", setup="wide bar", nose_setting=1.5))
    'the offset of wide bar at nose setting 1.5 mm'
    """
    if unknown.sort == "allowance":
        return f"the allowance of bends of {_describe_bend(unknown)}"
    if unknown.sort == "offset":
        at = "" if unknown.nose_setting is None else f" at nose setting {unknown.nose_setting:g} mm"
        return f"the offset of {unknown.setup}{at}"
    if unknown.sort == "alpha":
        sheet = f"{unknown.metal} {unknown.thickness:g} mm"
        return f"springback by angle of {sheet}, inside radius {unknown.inside_radius:g} mm"
    return f"springback by leg of {unknown.metal}"


def _describe_bend(unknown: Unknown) -> str:
    sheet = f"inside radius {unknown.inside_radius:g} mm in {unknown.thickness:g} mm"
    return f"{unknown.angle:g} deg, {sheet} on {unknown.setup}"


def _listed(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
