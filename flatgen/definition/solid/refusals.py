"""What is said where an opening or a cut leaves no one sound part (FG043). No geometry."""

from __future__ import annotations

from collections.abc import Sequence

from flatgen.core.errors import Fault
from flatgen.definition.cutouts import Cut, Opening
from flatgen.definition.model import Profile
from flatgen.definition.solid.places import called

Triple = tuple[float, float, float]
MOST_NAMES = 5


def names(profile: Profile, items: Sequence[Opening | Cut]) -> str:
    """Openings and cuts as messages list them, the first few by name."""
    told = [called(profile, i) for i in items[:MOST_NAMES]]
    if len(items) > MOST_NAMES:
        told.append(f"{len(items) - MOST_NAMES} more")
    return " and ".join(filter(None, (", ".join(told[:-1]), told[-1]))) if told else "the openings and cuts"


def _fault(profile: Profile, items: Sequence[Opening | Cut], text: str, remedy: str) -> Fault:
    where = items[0].where if items and items[0].where else profile.path
    return Fault("FG043", where, text, remedy)


def _is_are(items: Sequence[Opening | Cut], one: str, more: str) -> str:
    return one if len(items) == 1 else more


def missed_by_opening(profile: Profile, opening: Opening, leg: int | None) -> Fault:
    """An opening that meets no metal of its leg, or none of a leg that it should go through."""
    own = profile.leg_text(opening.place.leg)
    if leg is None:
        text = f"{called(profile, opening)} touches no metal of {own} nor of the bends beside it"
        return _fault(profile, [opening], text, "look at what it is measured from, and on which side")
    text = f"{called(profile, opening)}, square to {own}, does not meet {profile.leg_text(leg)}, a leg of 'through'"
    return _fault(profile, [opening], text, "take that leg out of 'through', or move the opening")


def missed_by_cut(profile: Profile, cut: Cut, at: Triple, low: Triple, high: Triple) -> Fault:
    """A cut that meets no metal."""
    span = ", ".join(f"{k} {a:.2f} to {b:.2f}" for k, a, b in zip("xyz", low, high, strict=True))
    stands = ", ".join(f"{k} {v:.2f}" for k, v in zip("xyz", at, strict=True))
    text = f"{called(profile, cut)} touches no metal: its tool stands at {stands} mm and the part spans {span} mm"
    if cut.legs is not None:
        text += f"; it may take metal from {', '.join(profile.leg_text(n) for n in cut.legs)} only"
    return _fault(profile, [cut], text, "look at what it is measured from, at its size and at the legs that it may cut")


def no_way(profile: Profile, cut: Cut) -> Fault:
    """A plane that runs along the side which it is to remove."""
    text = f"{called(profile, cut)} is turned by {cut.turn:g} deg, so none of its sides is the {cut.remove}"
    sides = "left or right" if cut.remove in ("top", "bottom") else "top or bottom"
    return _fault(profile, [cut], text, f"say which side it removes: {sides}")


def nothing_left(profile: Profile, items: Sequence[Opening | Cut]) -> Fault:
    """A part of which all is taken away."""
    text = f"{names(profile, items)} {_is_are(items, 'removes', 'remove')} the whole part"
    return _fault(profile, items, text, "look at the side that is removed and at the size of the tool")


def apart(profile: Profile, items: Sequence[Opening | Cut], pieces: Sequence[tuple[float, Triple]]) -> Fault:
    """A part in pieces, each of them volume and centre."""
    volume, (x, y, z) = min(pieces)
    text = f"{names(profile, items)} {_is_are(items, 'parts', 'part')} it into {len(pieces)} pieces; the smallest,"
    text += f" of {volume:.4g} mm3, lies about x {x:.2f}, y {y:.2f}, z {z:.2f} mm"
    remedy = "leave metal between them, or cut the smaller piece off whole; one definition is one part"
    return _fault(profile, items, text, remedy)


def absent(profile: Profile, element: int, items: Sequence[Opening | Cut]) -> Fault:
    """A leg or bend of which no flat or no curve is left."""
    what = profile.leg_text(element // 2) if element % 2 == 0 else f"bend {profile.bends[element // 2].label}"
    text = f"{names(profile, items)} {_is_are(items, 'leaves', 'leave')} nothing of {what}"
    return _fault(profile, items, text, "take it out of the section, or move what is cut")


def unsound(profile: Profile, items: Sequence[Opening | Cut]) -> Fault:
    """A solid that the kernel could not make."""
    text = f"no sound solid is left after {names(profile, items)}"
    remedy = "something just touches an edge or another opening: move it, or change its size, by 0.01 mm or more"
    return _fault(profile, items, text, remedy)
