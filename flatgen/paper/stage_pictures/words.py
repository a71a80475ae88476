"""Words of the pictures of stages: short ones in the picture, sentences beside it."""

from __future__ import annotations

from flatgen.bend_order.scene import StageFacts
from flatgen.paper.drawing import words

BEFORE = "Before: laid in and clamped"
AFTER = "After: leaf swung up, bend made"
AFTER_REFUSED = "After: as it would be"
HELD, SWUNG, LINE, BAR, BED, LEAF = "held", "swung", "line", "clamp bar", "bed", "leaf"
IN = {"straight": "in", "drawn": "in", "endwise": "in, along the bar"}
OUT = {"straight": "out", "drawn": "out", "endwise": "out, along the bar"}
WAYS_IN = {
    "straight": "slide it in from the front, bar lifted",
    "drawn": "slide it in from the front as the bar comes down",
    "endwise": "slide it in endwise, along the bar",
    "": "no way in",
}
WAYS_OUT = {
    "straight": "bar up, take it out to the front",
    "drawn": "draw it forward as the bar goes up, and out",
    "endwise": "ease the bar, slide it out endwise, along the bar",
    "": "no way out",
}
TOUCHES = "touches here"
STUCK = "no way past"
KEY = (
    ("metal", "sheet"),
    ("brake", "brake, cut through"),
    ("lifted", "bar lifted"),
    ("moved", "on its way"),
    ("break", "cut short"),
    ("hinge", "axis of the leaf"),
    ("line", "goes under the nose"),
    ("now", "this bend"),
    ("made", "made"),
    ("later", "to come"),
)


def after(facts: StageFacts, fails: bool, top: float) -> str:
    """Heading of the second moment; ``top`` [deg] of the leaf."""
    if fails:
        return f"It fails here: leaf at {number(top)}°"
    return AFTER_REFUSED if facts.refused else AFTER


def title(facts: StageFacts) -> str:
    """Heading of a stage.

    >>> title(StageFacts(2, 3, "B", 90.0, "up", "web", "lip", "near", "", "", "plain", 1.5, "92°", "", ""))
    'Stage 2 of 3: bend B, up 90°'
    """
    return f"Stage {facts.number} of {facts.total}: bend {_name(facts.label)}, {facts.way} {number(facts.angle)}°"


def face(facts: StageFacts) -> str:
    """Which face looks up, for the picture."""
    return f"{facts.face_up} face"


def letter(label: str, state: str) -> str:
    """A bend's letter in the picture."""
    return f"({_name(label)})" if state == "later" else _name(label)


def gap(facts: StageFacts, value: float) -> str:
    """A clearance [mm] in the picture, with the safe one where it is less."""
    size = f"{value:.1f} mm"
    return f"{size}, under {number(facts.safe)}" if facts.close and facts.safe > 0 else size


def swing(top: float) -> str:
    """Leaf angle [deg] at full swing."""
    return f"{number(top)}°"


def scale(value: float) -> str:
    """Paper over brake.

    >>> scale(0.4), scale(2.0)
    ('scale 1 : 2.5', 'scale 2 : 1')
    """
    return f"scale 1 : {number(1 / value)}" if value < 1 else f"scale {number(value)} : 1"


def beside(facts: StageFacts) -> tuple[tuple[str, str], ...]:
    """Rows beside the picture: a short head and a sentence each."""
    held, swung = words.harmless(facts.held), words.harmless(facts.swung)
    rows = [("Cannot be", words.clean(facts.refused))] if facts.refused else []
    side = f", {words.clean(facts.toward)} toward you" if facts.toward else ""
    raised = f", raised {number(facts.raised)} mm" if facts.raised > 0 else ""
    lay = f"lay the line under the nose, {held} under the bar, {facts.face_up} face up{side}; clamp"
    steps = (
        facts.move,
        f"{facts.into}{raised}",
        lay,
        f"swing {swung} up to {facts.leaf}, leaf back",
        "" if facts.refused else facts.out,
    )
    texts = [words.clean(capitalise(step)) for step in steps if step]
    rows += [(f"{n}", step) for n, step in enumerate(texts, start=1)]
    if facts.clearance is not None and not facts.refused:
        between = f", {words.clean(facts.between)}" if facts.between else ""
        rows.append(("Caution" if facts.close else "Room", f"{facts.clearance:.1f} mm at the nearest place{between}"))
        if facts.close:
            rows.append(("", f"less than the safe {number(facts.safe)} mm: go slowly there"))
    rows.append(("Set-up", _set_up(facts)))
    return tuple(rows)


def no_room_note(letters: list[str]) -> str:
    """What found no room in a picture."""
    return f"no room in the picture for: {', '.join(dict.fromkeys(letters))}"


def number(value: float) -> str:
    """With one decimal at most.

    >>> number(90.0), number(7.54)
    ('90', '7.5')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def _set_up(facts: StageFacts) -> str:
    name = words.harmless(facts.setup)
    return name if facts.setting is None else f"{name}, nose {facts.setting:.2f} mm behind the bed's edge"


def _name(label: str) -> str:
    return words.harmless(label) or words.NO_LETTER


def capitalise(text: str) -> str:
    """A text with a capital as its first letter."""
    return text[:1].upper() + text[1:]
