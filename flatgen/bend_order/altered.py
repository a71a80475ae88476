"""A chain with one leg of another length, and a piece of a chain: other parts, made from one that cannot be bent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from flatgen.bend_order.chain import Chain, chain_of
from flatgen.core.schedule import Crease


def with_leg(chain: Chain, leg: int, flat: float) -> Chain:
    """A chain with one leg of another length.

    Parameters
    ----------
    chain : Chain
        The section, [mm]
    leg : int
        Place of the leg in it, [-]
    flat : float
        Its new flat between tangent lines or edge, [mm]

    Returns
    -------
    Chain
        With blank and creases to suit, [mm]
    """
    more = flat - chain.flats[leg]
    found = []
    for n, crease in enumerate(chain.creases):
        one, other = crease.first, crease.second
        if leg <= n:
            one = replace(one, tangent=one.tangent + more, reach=one.reach + more)
            other = replace(other, tangent=other.tangent + more)
        else:
            other = replace(other, reach=other.reach + more)
        if leg == n:
            one = replace(one, flat=flat)
        if leg == n + 1:
            other = replace(other, flat=flat)
        found.append(replace(crease, first=one, second=other))
    return chain_of(found, chain.thickness)


def piece_of(chain: Chain, kept: range, flats: Sequence[float]) -> Chain:
    """Only some bends of a chain, in a row, with the legs beside them.

    Parameters
    ----------
    chain : Chain
        The section, [mm]
    kept : range
        Its bends that stay, [-]
    flats : Sequence[float]
        Flats of all legs, those that are cut with what is left of them, [mm]

    Returns
    -------
    Chain
        With blank and creases to suit, [mm]
    """
    width = flats[kept[0]]
    blank = sum(flats[kept[0] : kept[-1] + 2]) + sum(chain.allowances[n] for n in kept)
    found: list[Crease] = []
    for n in kept:
        crease, high = chain.creases[n], width + chain.allowances[n]
        one = replace(crease.first, flat=flats[n], tangent=width, reach=width)
        other = replace(crease.second, flat=flats[n + 1], tangent=high, reach=blank - high)
        found.append(replace(crease, first=one, second=other))
        width = high + flats[n + 1]
    return chain_of(found, chain.thickness)
