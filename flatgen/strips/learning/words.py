"""Words of the report on strips: patterns in what was measured, axes and tables. Imports nothing of ours."""

from __future__ import annotations

# patterns: {off} is a size, {spread} 1.96 of its standard deviations
GIVE = "give or take {spread}"
TWIST = (
    "bends made at the right come out {off} {more} than those at the left ({give}; {right} bends at the right, {left} "
    "at the left): the leaf twists, or bears unevenly"
)
TWIST_DO = (
    "bend one strip at the left and one at the right with the same leaf angle and compare; look at the hinges and the "
    "stop of the leaf, and shim the side that gives less"
)
MIDDLE = (
    "bends made in the middle come out {off} {more} than those at the ends ({give}; {inner} bends in the middle, "
    "{outer} at the ends), beyond the deflection that is reckoned"
)
MIDDLE_DO = "look at the beam sizes in the shop file, and at the shim or the truss rod in the middle"
CLASS = (
    "bends of {angle:g} deg come out {off} {more} than the other angles lead to expect ({give}; {bends} bends): "
    "springback does not grow in proportion to the angle here"
)
CLASS_DO = "check the scale of the leaf at this angle with a square or a protractor"
ARM = (
    "bends whose leaf bears farther out than {arm:.1f} thicknesses come out {off} {more} than the others ({give}; "
    "{bends} bends): the swung leg bows more than in proportion"
)
ARM_DO = "let the leaf bear nearer the bend, or bend strips with legs as long as those of the part"
STRIP_ANGLES = "angles of {strip} come out {off} {more} than all the others lead to expect ({give}; {bends} bends)"
STRIP_ANGLES_DO = "look whether it is of another sheet, or the leaf was read otherwise; name its sheet, or withdraw it"
STRIP_AT_END = (
    "{remedy}; all of it was bent at the {place}: bend another one there, since a leaf that twists shows so too"
)
ASKEW = (
    "held legs come out {off} {longer} at the right than at the left ({give}; {right} bends at the right, {left} at "
    "the left): the nose does not stand parallel to the edge of the bed"
)
ASKEW_DO = "measure the nose setting at both ends and set it even"
SLIP = (
    "held legs come out {off} {longer} for each 90 deg that the leaf turns farther ({give}; {bends} bends): the sheet "
    "slips under the clamp bar, or the bar gives"
)
SLIP_DO = "clamp harder, clean nose and bed of oil and chips, and look whether the bar lifts"
STRIP_LEGS = (
    "all held legs of {strip} come out {off} {longer} than those of other strips ({give}; {bends} bends): its lines "
    "were measured from elsewhere, or the nose was moved"
)
STRIP_LEGS_DO = "look at its blank and its lines; withdraw it if it was laid in wrongly"
NO_PLACE = "no strip says where along the brake it was bent, so that twist of the leaf cannot be seen"
ONE_PLACE = "all strips that say where along the brake they were bent were bent at the {place}: twist cannot be seen"
FEW_PLACES = (
    "too few bends are known from both ends of the brake to see twist: {left} at the left, {right} at the right"
)
PLACE_DO = 'bend one strip at the left and one at the right, and write place = "left" and "right" in their forms'
MORE, LESS, LONGER, SHORTER = "more", "less", "longer", "shorter"

# report
TITLE = "What strips have told: {log}"
TYPE = "Report on test strips"
STANDS_OUT = "What is not chance"
NOTHING = (
    "Nothing stands out: no pattern is stronger than chance makes in one report out of a hundred (patterns looked for: "
    "{tests})."
)
NOT_ASKED = "There is too little yet to look for patterns."
HOW = (
    "A dot is a measured number less what all strips together lead to expect. A triangle at the edge lies beyond it. "
    "Expected values know the number itself, so that dots lie a little closer than new ones will."
)
LEGS_BY_STRIP = "Legs by strip: measured less expected, mm"
ANGLES_BY_STRIP = "Angles by strip: measured less expected, degrees"
ANGLES_BY_ANGLE = "Angles by bend angle, degrees"
ANGLES_BY_PLACE = "Angles by place along the brake, degrees"
LEGS_BY_PLACE = "Legs by place along the brake, mm"
LEGS_MEASURED = "Legs, measured up, expected across, mm"
ANGLES_MEASURED = "Angles, measured up, expected across, deg"
PLACES = ("left", "middle", "right", "no place")
STRIPS = "Strips"
HEADS_STRIPS = ("no.", "strip", "sheet or batch", "date", "bent at", "legs", "angles")
FARTHEST = "Numbers farthest from what is expected"
HEADS_FARTHEST = ("strip", "what", "measured", "expected", "off", "times its spread")
OF_ROW = {"leg": "leg {name}", "radius": "radius of bend {name}", "angle": "angle of bend {name}", "blank": "blank"}
CAUTION = (
    "Deburr before measuring. Strength is not judged here: approved drawings, local rules and inspection come first."
)
