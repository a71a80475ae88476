"""Faults that make an input unusable, findings on a part that can be drawn, and the exceptions that carry faults.

Codes are stable; ``CODES`` is their list, and the README shows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "caution"]

CODES: dict[str, str] = {
    # the file as such
    "FG001": "file cannot be read, is too large, or is not text",
    "FG002": "broken TOML",
    "FG003": "unknown key",
    "FG004": "missing key",
    "FG005": "a value of the wrong kind",
    "FG006": "a name that cannot be a file name, or leads outside the output folder",
    "FG007": "a file or folder cannot be written, or is there already",
    "FG008": "two parts of one call would write the same files",
    # numbers and units
    "FG010": "a length that cannot be read, or has no unit",
    "FG011": "decimal comma",
    "FG012": "a size outside of what can be made",
    "FG013": "an angle outside of what can be bent, turned or tilted",
    "FG014": "a gauge number that the metal's system does not have",
    # the part
    "FG020": "a section that is not leg, bend, leg, ...",
    "FG021": "a leg shorter than its setbacks",
    "FG022": "legs that run through each other when formed",
    "FG023": "an order or a name that does not fit the bends",
    "FG024": "an allowance that cannot be used for this bend",
    "FG025": "an opening or a cut that cannot be placed: off its leg, over the edge, or there twice",
    "FG026": "a row, or a number of openings or cuts, that cannot be",
    "FG027": "a rule that cannot be read",
    # metals
    "FG030": "unknown metal",
    "FG031": "a metal table that cannot be used",
    # the shop
    "FG032": "a shop file with a size that this machine cannot have",
    "FG033": "a set-up, a side to hold or a bend that is not there",
    "FG034": "no shop file was found",
    # solids
    "FG040": "not a sheet of one thickness",
    "FG041": "a form that cannot be developed yet",
    "FG042": "the flat overlaps itself",
    "FG043": "an opening or cut that leaves no one sound part",
    "FG044": "geometry of a received file that contradicts itself",
    "FG045": "a side to look from that the part does not have",
    "FG046": "corners without a radius that cannot be rounded",
    # received files
    "FG050": "a STEP file that is none, is damaged, or holds no solid",
    "FG051": "a STEP file that took too long, too much memory, or broke the kernel",
    "FG052": "neither metal nor K given for a received part",
    # findings
    "FG101": "inside radius under the metal's minimum",
    "FG102": "inside radius at the edge of the metal's minimum",
    "FG103": "no minimum radius is known for this metal and thickness",
    "FG104": "a leg with little flat to hold or to swing (note under 2 t, caution under 1 t)",
    "FG105": "an allowance method used past its range",
    "FG106": "the neutral fibre lies outside the sheet",
    "FG107": "drawings on disk were made from another state of the definition, or of the shop file",
    "FG108": "openings that overlap and are one hole",
    "FG109": "an opening that is cut off at the end of a bend",
    "FG110": "an opening over a bend tangent line, or too near to it",
    "FG111": "an opening too near to the edge of the blank",
    "FG112": "too little metal between openings",
    "FG113": "rivets too near to an edge or to one another",
    "FG114": "an opening that differs on the two faces, drawn as the smaller",
    "FG115": "an outline that differs on the two faces, drawn as the larger",
    "FG116": "openings or cuts that check cannot judge without the solid",
    "FG117": "curves drawn as arcs close to them",
    "FG118": "walls that are hollow or bulge",
    "FG120": "a cut that takes metal of other legs than its own",
    "FG119": "a row whose last opening stands farther from the end than asked",
    "FG121": "a thickness that varies, or faces off by a little",
    "FG122": "standoffs, bosses, pockets or engraving left out of the flat",
    "FG123": "stretched forms left out of the flat, their outline marked",
    "FG124": "corners modelled without one radius or both, and what they are taken for",
    "FG125": "solids of a file that are no sheet, set aside",
    "FG126": "countersinks, drawn as through holes",
    "FG127": "rounded or bevelled edges, drawn at their widest",
    # findings of the brake
    "FG130": "a leg too short for this brake to hold or to swing",
    "FG131": "a nose setting that would crush the sheet, or stands before the bed",
    "FG132": "an inside radius that this brake does not give",
    "FG133": "a leaf angle past the leaf's largest swing",
    "FG134": "a part longer than the brake, or deeper than its throat",
    "FG135": "more effort at the handle than is comfortable",
    "FG136": "more loss of angle along the length than the tolerance",
    "FG137": "a limit of hinge, clamp bar or beam that is passed",
    "FG138": "not checked: figures that are not known",
    "FG139": "a reference leg that is not held",
    "FG140": "the order of bending was not checked against the brake",
    "FG141": "one nose setting for bends that ask for several",
    "FG142": "springback outside of where its formula holds",
    "FG143": "a brake that may tip",
    "FG144": "no order of bending is possible, or not the one asked for",
    "FG145": "less than the safe clearance between part and brake",
    "FG146": "a part that goes in or comes out endwise",
    # test strips
    "FG150": "a line of the log of strips that is damaged and left out",
    "FG151": "a strip that is not in the log, or is not told from others by what was given",
    "FG152": "a form of a strip with a number, a leg or a bend that cannot be",
    "FG153": "a measured number that contradicts what was asked or what was measured beside it",
    "FG154": "a strip narrower than ten thicknesses",
    "FG155": "a strip cut down to some bends of its part, or bent otherwise than its part",
    "FG156": "a strip that is in the log already, with other numbers or withdrawn",
    "FG157": "a part that no strip can be cut for",
    "FG158": "what strips told of a bend, used or left aside otherwise than usual",
    # geometric identities
    "FG900": "developed length: closed form and unfolded solid disagree",
    "FG901": "volume of flat and formed solid disagree",
    "FG902": "the flat folded up again is not the solid",
    "FG999": "a fault of flatgen's own",
    "FG904": "the drawn edge is not the developed edge of the formed part",
    "FG903": "a name, bend or panel of the definition was not found in the solid",
}


@dataclass(frozen=True)
class Fault:
    """One thing that makes an input unusable: the rule with its numbers in ``text``, what to do in ``remedy``.

    ``where`` is ``file:line: key`` or ``file: face ...``.
    """

    code: str
    where: str
    text: str
    remedy: str = ""

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"unknown code {self.code}")

    def __str__(self) -> str:
        head = f"{self.where}: {self.text} [{self.code}]"
        return f"{head}\n  {self.remedy}" if self.remedy else head


@dataclass(frozen=True)
class Finding:
    """Remark on a part that can be drawn: ``caution`` (a shop rule is broken, exit status 1) or ``note`` (status 0)."""

    code: str
    severity: Severity
    where: str
    text: str
    remedy: str = ""

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"unknown code {self.code}")


class FlatgenError(Exception):
    """Anything that flatgen itself says is wrong; nothing was written. It carries all ``faults`` of a file at once."""

    exit_status = 2

    def __init__(self, *faults: Fault) -> None:
        if not faults:
            raise ValueError("an error without a fault")
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in faults))


class InputRefused(FlatgenError):
    """The input cannot be used."""


class IdentityFailed(FlatgenError):
    """Two computations of one thing disagree: a bug of ours."""

    exit_status = 3
