"""Texts of log, form, card and cutting of test strips; and the codes of their findings."""

from __future__ import annotations

DAMAGED_LINE = "FG150"
NO_ENTRY = "FG151"
IMPOSSIBLE = "FG152"
QUESTIONED = "FG153"
NARROW = "FG154"
CUT_DOWN = "FG155"
AGAIN = "FG156"
NO_STRIP = "FG157"

# log
LEFT_OUT = "this line is left out: {why}"
MEND = "the strips of all other lines are used; take the line out, or learn its form again"
TORN = "this line has no end: the process that wrote it was stopped, or the disk was full"
TOO_LARGE = "is larger than {most} bytes, the most that is read"
SPLIT_LOG = "move the lines of old metals to a file of their own"
NOT_A_FILE = "this is a folder or a device, not a file"
OTHER_LOG = "give the path of another file as the log in the shop file"
CANNOT = "the log cannot be {done}: {why}"
FREE = "check path and permissions, and that the disk is not full"
BUSY = "another run of flatgen holds the log"
WAIT = "wait until it has ended, then try again"
NONE_SO = "no strip of the log begins with {digest}"
SEVERAL_SO = "{count} strips of the log begin with {digest}: {which}"
SHORT_SO = "{digest} is too short to tell a strip by: {least} digits are the least"
SHOW = "give the first digits of a strip's digest, as the log has them"
NOTHING_WITHDRAWN = "this line withdraws {digest}, which is not in the log"
MERGED = "see whether a line was lost when two versions of the log were brought together"
SAME_NAME = "a strip of this name and part is there already with other numbers, {digest} in line {line}"
WITHDRAW_ONE = "if both are one piece of metal, withdraw the wrong one; if they are two, give each its own name"
STAYS_OUT = "this strip was withdrawn ({why}) and stays so"
NEW_NAME = "if it was bent again, give it another name"

# form
HEAD = """\
# Form of test strips. Fill in what stands as "" and save; leave "" where something was not measured. Then learn it.
# Below "as cut" and "as planned" all was written by flatgen: change it only where it was done otherwise.
# A number may carry its unit: "18.2 mm", "0.717 in", "1 1/2 in". A plain number is in the units named here.
# Another strip of the same part: copy all from [[strip]] to the end, give the copy another name, fill it in.
# Deburr before measuring: a burr counts, and cuts.
"""
AS_CUT = "# as cut"
AS_PLANNED = "# as planned"
OF_STRIP = {
    "name": "no other strip may have this name",
    "sheet": "which sheet or batch it was cut from",
    "grain": 'rolled "along" or "across" the bends',
    "date": "such as 2026-05-01",
    "thickness": "with a micrometer, film off: the middle one of three places",
    "blank_got": "before bending, edge to edge across the bends to come: calliper or steel rule",
    "note": "anything else",
    "nominal": "thickness as bought",
    "width": "along the bends",
    "blank": "developed length",
    "part": "fingerprint",
    "shop": "fingerprint",
}
FOR_LEG = "# Leg {leg}: {how}"
FOR_BEND = "# Bend {label}, {way}{order}: {how}"
ORDERED = ", number {number} in the order of bending"
OF_LEG = {"got": "after the last bend", "asked": "{size}"}
OF_BEND = {
    "sight": "sight line as marked: from the edge on the side of {held}",
    "place": 'along the brake, as you face it: "left", "middle" or "right"',
    "angle_set": "leaf at full swing [deg]",
    "angle_got": "finished bend, turned through: 180 less the angle between the legs [deg]",
    "radius_got": "inside, with radius gauges",
    "held": "leg under the clamp bar; the other one is {other}",
    "nose_setting": "nose behind the edge of the bed",
    "arm": "from the swung tangent line to where the leaf bears",
    "loss": "what deflection and twist are reckoned to take [deg]",
    "angle": "turned through: a square corner is 90 [deg]",
    "allowance": "metal for the bend, in the blank",
}
INSIDE = "inner face at bend {label}"
CALLIPER = "calliper from {start} to {end}"
RULE = "steel rule from {start} to {end}"
CARD = "end traced on card, {start} to {end}"
INSIDE_JAWS = "inner jaws of the calliper, {start} to {end}"
PROTRACTOR = "protractor on the outer faces, beside the curve; {opening} deg between the legs"
CARD_ANGLE = "end traced on card, then the protractor"
HEM = "closed: no protractor has room, leave the angle out"

# reading a form
REMEDIES = {
    "strip": "write [[strip]] with double brackets on a line of its own",
    "leg": "write [[strip.leg]] with double brackets, once for each leg from the left edge to the right",
    "bend": "write [[strip.bend]] with double brackets, once for each bend from the left edge to the right",
    "units": 'write units = "mm" or units = "in"',
    "got": 'write what was measured, as got = 18.3 or got = "0.721 in", or got = "" where it was not',
    "place": 'write "left", "middle" or "right", or "" where it is not known',
    "grain": 'write "along" or "across", or "" where it is not known',
    "way": 'write "up" or "down"',
    "date": "write a date such as 2026-05-01",
    "name": "write 1 to 60 printable characters",
    "held": "write the name of the leg that lay under the clamp bar",
}
OTHER_NAMES = {
    "caliper": "got",
    "calliper": "got",
    "measured": "got",
    "length": "got",
    "angle_measured": "angle_got",
    "angle_leaf": "angle_set",
    "radius": "radius_got",
    "setup": "set_up",
    "setting": "nose_setting",
    "hold": "held",
    "legs": "leg",
    "bends": "bend",
    "strips": "strip",
    "batch": "sheet",
    "material": "metal",
    "line": "sight",
}
SEE = "see the form that flatgen strip writes"
OUT_OF_RANGE = "{found} is {rule}"
LESS = "less than {limit}, the least"
MORE = "more than {limit}, the most"
MEASURE_AGAIN = 'measure it again, check its unit, or write "" where it was not measured'
EMPTY = "this number cannot be left out"
NO_CHAIN = "{legs} legs and {bends} bends: a strip has one leg more than bends"
CHAIN = "copy all legs and bends of a strip"
TWICE = "{what} {name} is there twice"
OWN_NAME = "give each its own name"
NOT_BESIDE = "{name} is no leg beside bend {label}"
BESIDE = "beside it are {one} and {other}"
NO_LINE_TO = "a bend of {angle:g} deg has no {mode} size"
OVERALL = 'write dimensions = "overall"'
TOO_MANY = "{count} {what} are more than {most}, the most that is read"
SPLIT_FORM = "split the form"

# questions
Q_THICKNESS = "thickness measured as {got}, bought as {asked}: sheet is within a fifth of what it is sold as"
Q_BLANK = "blank measured as {got}, asked {asked}: they differ by {off}"
Q_LEG_SHORT = "{leg} measured as {got} is not longer than its setbacks at {bends}, {least}"
Q_LEG = "{leg} measured as {got}: expected from {least} to {most} (asked {asked})"
Q_SUM = (
    "legs measured add up to {got}: with a blank of {blank} they must come to from {least} to {most}, that is blank "
    "and deductions"
)
Q_ASKED = "legs asked less deductions come to {got}, the blank is {blank}: one of them was changed"
Q_ANGLE = "bend {label}: angle measured as {got} deg, asked {asked} deg"
Q_OPENING = "is it the angle between the legs? the form asks for 180 less that"
Q_SPRING = "bend {label}: leaf set to {set} deg is less than the {got} deg that were got: metal springs back, not on"
Q_FAR = "bend {label}: leaf set to {set} deg and {got} deg got: {off} deg of springback"
Q_RADIUS = "bend {label}: inside radius measured as {got}, less than that of the nose, {nose}"
Q_WIDE = "bend {label}: inside radius measured as {got}, asked {asked}"
Q_SIGHT = "bend {label}: sight line marked at {got} from the edge on the side of {leg}, reckoned {expected}"
Q_OTHER_EDGE = "it fits the other edge: was it measured from there?"
READ_AGAIN = "read it again; if it is right, say in the note what happened"
COPY_AGAIN = "copy the form again as flatgen strip wrote it, and fill in what was measured"
READ_LEGS = "read all legs again; one of them, or the blank, is misread"
OWN_RULE = "(common practice, no source)"

# cutting
NAME = "{part}-strip"
FIRST_NAME = "{part} 1"
TITLE = "Test strip: {part}"
TOO_NARROW = (
    "a strip {width} wide is less than {least}, ten times its thickness of {thickness} (common practice, no source): "
    "its edges curl, and its bends use other metal than those of the part"
)
WIDER = "cut it at least {least} wide, with --width"
BETWEEN = "bend {label} lies between those asked for and stays on the strip"
FEWER = "for a strip without it, name only bends that follow one another"
LEG_CUT = "{leg} is cut off {flat} from the tangent line of bend {label}: that can be held and swung"
REMEASURE = "its size on the form is that of the strip, not that of the part"
NO_BEND = "{name!r} is no bend of this part"
BENDS_ARE = "bends are {labels}"
BEND_TWICE = "bend {name} is named twice"
NAME_ONCE = "name every bend once"
NO_BENDS = "this part has no bend: there is nothing to learn from a strip"
NOT_IN_A_ROW = "no strip can be cut: {why}"
SOME_BENDS = "choose bends that follow one another with --only-bends, or bend a strip of another part"
NO_METAL = "the metal is not known, and what is learned belongs to a metal"
GIVE_METAL = "name it with --metal"
HEMMED = "bend {label} is turned through more than 180 deg, so that its legs cannot be measured"
OTHER_SET_UP = "bend {label} is made on set-up {own} for the strip and on {part} for the part"
OTHER_SETTING = "bend {label} is made with the nose {own} behind the edge for the strip and {part} for the part"
SAME_SET_UP = "bend a strip for each set-up: name bends of one with --only-bends"
SAME_SETTING = "bend a strip for each nose setting: name bends of one with --only-bends"
WIDTH = "a width of {width} is not above 0 and up to {most}"
GIVE_WIDTH = 'write for example --width "25 mm"'

# teaching strips
TEACHING_NAME = "{part}-teaching"
TEACHING_TITLE = "Teaching strip for bends like {label}: {part}"
TEACHING_LEGS = ("short end", "held middle", "long end")
NO_LESSON = "no teaching strip for bends like {label} can be bent on this set-up: two of them with a leg held at both"
OTHER_LESSON = "bend two single strips of it, one held on either side, and measure all legs"
MANY_FORMS = "{most} forms of this strip lie there, all filled in"
MOVE_FORMS = "learn them and move them to another folder"
NEXT = "now: cut it, bend it as the sheet says, measure with the card, fill in {form}, then: flatgen learn {form}{shop}"
NOTHING_MEASURED = "nothing was measured on strip {name}"
FILL_IN = "fill in what was measured, or take the strip out of the form"
NO_SUCH_METAL = "strip {name} is of {metal}, which is no metal that is known"
KNOWN_METAL = "choose one that flatgen metals lists, or give your own table with --metals"
AS_MEASURED = "or add it as it was read, with --as-measured"
PROPOSE = "or write one: flatgen strip with --teaching"
GOOD = "its legs tell allowance and offset apart"

# measuring card
CARD_TITLE = "Measuring card: {name}"
CARD_TYPE = "Measuring card"
CARD_SECTION = "Section after bending, seen from the end, scale {scale}"
CARD_SIZES = "Numbers: legs, and where the jaws go. Letters: bends; the protractor goes on outer faces."
CARD_LEFT_OUT = "No room on the drawing for the numbers of legs {legs}; legs count from the left edge of the flat."
CARD_SHEET = "The strip"
CARD_LEGS = "Legs, after the last bend"
CARD_BENDS = "Bends"
CARD_HEADS_SHEET = ("sheet or batch", "date", "thickness, film off", "blank before bending")
CARD_HEADS_LEGS = ("no.", "leg", "from and to", "asked", "measured")
CARD_HEADS_BENDS = ("bend", "between legs", "with", "leaf at full swing", "bend got", "inside radius", "place")
CARD_LEGS_WITH = "Legs, after the last bend, with a calliper"
CARD_TOOLS = {"protractor": "protractor", "card": "end traced on card", "none": "closed: leave out"}
CARD_NOTE_PLACE = "Place: left, middle or right of the brake, as you face it; strips at left and right tell twist."
CARD_NOTES = (
    "Deburr first: a burr counts, and cuts. Gloves for carrying, not near closing parts.",
    "Bend got: what the metal is turned through, 180 less the angle between the legs.",
    "Leave out what was not measured. Copy all of it into {form}.",
)
