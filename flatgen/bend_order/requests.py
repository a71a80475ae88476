"""What a user asks of a schedule on the command line: legs to hold, and the order of bending."""

from __future__ import annotations

from flatgen.core.errors import Fault, InputRefused
from flatgen.definition.part import Part

NO_LEG = -1


def held_of(text: str, part: Part) -> dict[str, int]:
    """Legs to hold by label of the bend, from a text such as ``A=web,B=2``.

    Parameters
    ----------
    text : str
        Bends, each with a leg by name or by number from 1, [-]
    part : Part
        Whose legs are meant, [-]

    Returns
    -------
    dict[str, int]
        Index of a leg, -1 where there is none of that name, [-]

    Raises
    ------
    InputRefused
        FG005 where it cannot be read.
    """
    found: dict[str, int] = {}
    for item in (i.strip() for i in text.split(",")):
        if not item:
            continue
        label, sign, name = (piece.strip() for piece in item.rpartition("="))
        if not sign or not label or not name or label in found:
            said = f"{item[:40]!r} does not say once which leg a bend is held by"
            raise InputRefused(Fault("FG005", "--hold", said, "write for example --hold A=web,B=2"))
        found[label] = _leg(name, label, part)
    return found


def order_of(text: str) -> tuple[str, ...] | None:
    """Order of bending from a text such as ``B,A``.

    Parameters
    ----------
    text : str
        Labels, [-]

    Returns
    -------
    tuple[str, ...] | None
        The labels, None where the text is empty, [-]

    Examples
    --------
    >>> order_of(" B, A"), order_of("")
    (('B', 'A'), None)
    """
    return tuple(n.strip() for n in text.split(",")) if text.strip() else None


def _leg(name: str, label: str, part: Part) -> int:
    """The leg of a name, or else of a number; of several of one name that beside the bend."""
    legs = sorted({n for b in part.bends for n in (b.first, b.second)})
    beside = [n for b in part.bends if b.label == label for n in (b.first, b.second)]
    alike: list[int] = [n for n in (*beside, *legs) if part.leg_name(n) == name]
    if alike:
        return alike[0]
    return int(name) - 1 if name.isascii() and name.isdigit() and len(name) < 6 and int(name) - 1 in legs else NO_LEG
