"""Words of the shop sheet: proof line, sizes to measure, bend schedule, forecast, pages; and how sizes are written.

Sizes come with bench resolution, 0.1 mm or 0.001 in, those of the proof line with 0.01 mm or 0.0001 in.
"""

from __future__ import annotations

import math
from typing import Literal

from flatgen.definition.part import Part
from flatgen.paper.drawing.words import MM_PER_INCH, harmless

SheetUnit = Literal["mm", "in", "in/64"]
"""Unit of a sheet; what is measured with a calliper is in decimals of an inch, not in 64ths."""
LONGEST_NAME = 18
"""Characters of a name in a table; the rest gives way to an ellipsis."""
NEWTON_PER_POUND = 4.4482216
NOT_CHECKED = "not checked"
NOT_KNOWN = "not known"
NONE = "-"

# proof line
BLANK_WIDTH, BLANK_LENGTH, ACROSS_SLANT = "blank width", "blank length", "developed, across bend {label}"
PART_WIDTH, PART_LENGTH = "developed, from left to right", "developed, from below to above"
ALLOWANCE = "allowance, {bends}"
SETBACK = "setback, {bends}"
FLAT = "flat"
ROUNDING = "rounding"
FLATS_AND_ALLOWANCES = "flats between bend tangent lines, and allowances"
DIMENSIONED = {
    "mould-line": "to the mould line",
    "inside": "to the inside of the bend",
    "overall": "overall",
    "inside-overall": "inside overall",
}
CUT_OFF = "; the definition has {size}, a cut takes {less} off"
SETBACK_OF = "from tangent line to where a leg is dimensioned, {mode}"
NO_SETBACK = "bend {label} is turned through more than 180°: its legs are not worked back"

# sizes to measure
ANGLE = "angle of bend {label}"
HEM = "height over bend {label}, outside"
PROTRACTOR = "protractor, {opening} between the legs"
CARD_ANGLE = "card template"
HEIGHT = "calliper"
CALLIPER = "calliper, outside"
RULE = "steel rule against a square"
CARD = "end traced on card"
NO_WAY = "not to be measured so"
SPOT = {
    "face": "outer face of {leg}",
    "outside": "outside of bend {label}",
    "crossing": "crossing at bend {label}",
    "edge": "free edge",
    "": "no place",
}
FARTHEST = " where it reaches farthest"
FROM_TO = "{leg} ({side}): {start} to {end}"
FROM_TO_FINISHED = "{leg}: {start} to {end}"
ACROSS_FLAT = " over the flat"
TOO_SHALLOW = "too shallow to tell where the legs cross: rely on the marks, measure the angle"
SLANTED = "no edge or bend runs beside this one: try it against a card cut to shape"
HEADS_MEASURE = ("After", "What to measure", "With", "Should be", "Least", "Most", "Measured")
HEADS_FINISHED = HEADS_MEASURE[1:]
STAGE = "{number} {label}"
FREE_END = "{leg} ends here with its edge: too long can be filed off, too short stays."
FINAL = "{leg} is finished here: what it is off stays."
OPEN = "{leg} is still open: move the line of bend {next} by what is off, toward this bend if too long; {takes}."
AFRESH = "{leg} is still open: mark the line of bend {next} afresh, {line} from the {spot}; {takes}."
TAKES_FREE = "{leg} takes it up, at its free edge"
THOUGH = ", though its size matters"
TAKES_BETWEEN = "{leg} takes it up and is then off by as much"
NOTHING_LEFT = "Nothing is left to take an error up: if this is out, bend a strip before another blank is cut."
ACT = (
    "Measure after every bend, unclamped, before the next. The limits are general tolerances after ISO 2768-{grade}, "
    "rounded inward, by the finished size of the leg; angles by its shorter leg. A drawing's own limits go before "
    "them.",
    "Angle too small: lay the same line in again and swing a little farther, a degree at a time.",
    "Angle too large: stop. Soft metal may be eased open once over a wooden block, then look at the outside with a "
    "lens; a hardened temper is never bent back, the part is scrap.",
    "A length out of its limits: stop, do not make the next bend. First see that the angle is right.",
    "Held side too long by d, leaving out what an earlier bend at its other end was off: this bend lies d farther from "
    "the held edge than reckoned. Each line of the set-up that is not used yet goes d nearer to its own held edge; the "
    "offset of the set-up{offset} becomes less by d. Too short: farther, and more.",
    "Both sides together too long by s: the bend used s less metal than reckoned (too short: more), and so will each "
    "further bend of its kind. Cut no further blank until a strip is bent and measured.",
    "End traced on card: hold card against an end of the part, trace both outer faces, lengthen the lines until they "
    "cross, measure from there along the leg. Card template: cut to the angle, where a leg is too short for a "
    "protractor or the bend too closed for one.",
)
OFFSET_NOW = ", now {offset},"
NO_LIMIT = "no limit"

# bend schedule
HEADS_SCHEDULE = (
    "No.", "Bend", "Way", "Angle", "Leaf to, est.", "Radius asked, {unit}", "Radius formed, est., {unit}", "Hold",
    "Mark on face", "Line from held edge, {unit}", "Line from {datum}, {unit}", "Nose setting, {unit}", "Set-up",
    "Handle, est., {force}", "Clearance, {unit}",
)  # fmt: skip
FORCES = {"mm": "N", "in": "lbf", "in/64": "lbf"}
DATUM = "datum edge"
ESTIMATES = "est.: an estimate until a strip has been bent and measured."
LINES = (
    "A line goes under the front of the nose, on the face named, for the side held here alone; with the other side "
    "held it lies elsewhere. Lines for the far face are measured there from the same edge."
)
NOSE = "Nose setting: from the front of the nose back to the edge of the bed."
CHECKED = "Order: {order}, every stage checked against {brake}."
UNCHECKED = "Order: {order}, NOT checked against the brake{why}. Try it with a folded card first."
REFUSED = "Caution: in this order the part CANNOT be bent on {brake} ({order}). Do not begin."
REFUSED_STAGE = "Caution: stage {number}, bend {label}: {why}."
BY_HAND = "Bend {label}: the leaf cannot bend it all the way; it is ended by hand, block and mallet."
LITTLE_ROOM = "Clearance marked ! is less than the safe {safe}: go slowly there."
CONTACT = "CONTACT"
CLOSE = " !"
LEAF_BY_STRIPS = "Leaf angles are what strips told, to 95 %; what deflection takes is not in them."

# forecast
EXPECTED = "What to expect"
HEADS_LEGS = (
    "Leg", "asked {unit}", "tolerance {unit}", "at the ends {unit}", "where the brake gives most {unit}",
    "95 % of pieces from {unit}", "to {unit}", "came out",
)  # fmt: skip
HEADS_BENDS = ("Bend", "asked", "leaf to", "at the ends", "where the brake gives most", "95 % of pieces", "came out")
NO_TOLERANCE = "none"
OUTSIDE = "{size} !"
NOT_INSIDE = "! Not all of this lies inside the tolerance."
BY_BENDS = "By {bends} on {strips} of this metal, thickness and radius; strips {digest}."
BY_OTHERS = "By strips of other metals, thicknesses or radii alone: offset of the brake only; strips {digest}."
ADVICE = "Advice: {text}."
TEACHES = "A further bend like {label} would teach most: {gain:.0f} % of what is not known of the legs."


def bench_size(mm: float, unit: SheetUnit, *, bare: bool = False) -> str:
    """A size [mm] as it is measured; ``bare`` without its unit.

    >>> bench_size(38.1, "mm"), bench_size(38.1, "in"), bench_size(38.1, "mm", bare=True)
    ('38.1 mm', '1.500 in', '38.1')
    """
    text = f"{mm:.1f}" if unit == "mm" else f"{mm / MM_PER_INCH:.3f}"
    return text if bare else f"{text} {unit[:2]}"


def round_inward(low: float, high: float, unit: SheetUnit) -> tuple[str, str]:
    """Two limits [mm], each rounded into the range.

    >>> round_inward(37.82, 38.42, "mm")
    ('37.9', '38.4')
    """
    step, places = (0.1, 1) if unit == "mm" else (0.001 * MM_PER_INCH, 3)
    size = 1.0 if unit == "mm" else MM_PER_INCH
    ends = (math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step)
    return (f"{ends[0] / size:.{places}f}", f"{ends[1] / size:.{places}f}")


def degrees(angle: float) -> str:
    """An angle [deg] to a tenth.

    >>> degrees(90.0), degrees(37.25)
    ('90°', '37.2°')
    """
    return f"{plain(angle, 1)}°"


def angle_limits(angle: float, tolerance: float) -> tuple[str, str]:
    """An angle less and plus a tolerance [deg], in whole minutes, rounded inward.

    >>> angle_limits(90.0, 1 / 3)
    ("89°40'", "90°20'")
    """
    least, most = math.ceil((angle - tolerance) * 60 - 1e-6), math.floor((angle + tolerance) * 60 + 1e-6)
    return (f"{least // 60}°{least % 60:02d}'", f"{most // 60}°{most % 60:02d}'")


def plain(value: float, places: int) -> str:
    """A number without zeros at its end.

    >>> plain(3.1750, 4), plain(-0.00001, 2)
    ('3.175', '0')
    """
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def leg_name(part: Part, leg: int) -> str:
    """A leg, given by its index, by its name, else by its number, short enough for a table."""
    return short_name(part.leg_name(leg) or part.leg_text(leg))


def short_name(text: str) -> str:
    """A name in a table.

    >>> short_name("the very long name of a leg")
    'the very long nam…'
    """
    name = harmless(text)
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def bend_names(labels: list[str]) -> str:
    """Bends by their labels.

    >>> bend_names(["A"]), bend_names(["A", "B", "D"])
    ('bend A', 'bends A, B, D')
    """
    names = [short_name(label) for label in labels]
    return f"bend{'s' if len(names) > 1 else ''} {', '.join(names)}"


def gauge_size(mm: float, unit: SheetUnit, *, bare: bool = False) -> str:
    """A setting [mm] that a feeler gauge tells, 0.01 mm or 0.001 in; ``bare`` without its unit.

    >>> gauge_size(1.274, "mm"), gauge_size(1.27, "in/64"), gauge_size(1.27, "in", bare=True)
    ('1.27 mm', '0.050 in', '0.050')
    """
    text = f"{mm:.2f}" if unit == "mm" else f"{mm / MM_PER_INCH:.3f}"
    return text if bare else f"{text} {unit[:2]}"


def force(newton: float, unit: SheetUnit) -> str:
    """A force [N] without its unit: newtons, on a sheet in inches pounds.

    >>> force(120.4, "mm"), force(120.4, "in")
    ('120', '27')
    """
    return f"{newton if unit == 'mm' else newton / NEWTON_PER_POUND:.0f}"


# pages
TYPE = "Shop sheet"
TOLERANCE = "ISO 2768-m"
PROGRAM = "flatgen {version}"
FINGERPRINT = "part {part}"
FINGERPRINTS = "part {part}, shop {shop}"
STRIPS = ", strips {strips}"
SCALE = "as shown"
SCHEDULE = "Bend schedule"
BLANK_HEAD = "Sheet and blank"
BLANK = ("Metal", "Thickness", "Measured", "Blank across x along", "Area", "Weight", "Sheet or batch", "Rolled")
MEASURE = "Stop and measure after bend {label}"
ALL_MEASURES = "Stop and measure after every bend"
IF_OFF = "Where a measurement is out of its limits"
FINISHED = "The finished part"
PROOF_HEAD = "Proof line: the blank by pocket calculator"
PROOF = ("What", "Sum", "Gives", "From")
CAUTIONS = "Cautions"
NO_BRAKE = (
    "No brake is known: there is no bend schedule and no sight line. Describe yours in a shop file (flatgen start "
    "--shop) and draw again."
)
NO_BEND = "There is nothing to bend."
TICKS = ("marked", "laid in, clamped", "bent", "measured")
STEPS = "{number} {label}"
GRAIN = "rolled {grain} the bends"
NO_GRAIN = "mark on the blank how it was rolled, before it is cut"
KICK = "The leaf falls back, the handle kicks on release, the clamp bar drops."


def weight(mass: float | None) -> str:
    """The mass of the blank [kg]; a dash where the density is not known.

    >>> weight(0.31279), weight(12.04), weight(None)
    ('0.313 kg', '12.0 kg', '-')
    """
    if mass is None:
        return "-"
    return f"{mass:.3f} kg" if mass < 10.0 else f"{mass:.1f} kg"


def area(square: float) -> str:
    """The area of the blank [mm2]."""
    return f"{square / 100.0:.1f} cm²" if square < 1e6 else f"{square / 1e6:.3f} m²"
