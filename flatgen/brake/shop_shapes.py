"""The shape of a shop file: its tables and keys, what to say where one is missing or wrong, and amounts with units."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator

from flatgen.brake.load import GRAVITY
from flatgen.core.units import NotALength, Unit, in_mm_and_inch, parse_angle, parse_length
from flatgen.definition.toml.document import LONGEST_TITLE, FaultNotes, KeyPath
from flatgen.definition.toml.shape import KeyHelp, Name, Quantity, fit_shape, quoted_value, title_text
from flatgen.metal.figures import INCH

Text = Annotated[Any, PlainValidator(title_text)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class ShopShape(_Shape):
    """Top of the file."""

    title: Text = ""
    units: Literal["mm", "in"] | None = None
    safe_clearance: Quantity = None
    angle_tolerance: Quantity = None
    strips: Text = ""
    brake: dict[str, Any]
    clamp_bar: dict[str, Any]
    leaf: dict[str, Any]
    lever: dict[str, Any]
    beams: dict[str, Any] | None = None
    limits: dict[str, Any] | None = None
    stand: dict[str, Any] | None = None
    order: dict[str, Any] | None = None
    set_up: Annotated[list[dict[str, Any]], Field(min_length=1)] | None = None


class BrakeShape(_Shape):
    """``[brake]``."""

    name: Text = ""
    length: Quantity
    throat: Quantity
    bed_depth: Quantity
    bed_height: Quantity
    open_ends: Literal["both", "left", "right", "none"]
    hinge: dict[str, Any]
    least_hold: Quantity = None
    least_swing: Quantity = None


class HingeShape(_Shape):
    """``[brake.hinge]``."""

    forward: Quantity
    up: Quantity


class ClampBarShape(_Shape):
    """``[clamp_bar]``."""

    nose_radius: Quantity
    nose_angle: Quantity
    height: Quantity
    depth: Quantity
    lift: Quantity
    clamping_depth: Quantity


class LeafShape(_Shape):
    """``[leaf]``."""

    face: Quantity
    drop: Quantity
    depth: Quantity
    swing: Quantity
    weight: Quantity
    weight_arm: Quantity
    outline: list[Any] | None = None


class LeverShape(_Shape):
    """``[lever]``."""

    length: Quantity
    handles: Literal["one end", "middle", "both ends"]
    effort: Quantity


class BeamsShape(_Shape):
    """``[beams]``."""

    leaf: dict[str, Any] | None = None
    clamp_bar: dict[str, Any] | None = None


class BeamShape(_Shape):
    """``[beams.leaf]`` and ``[beams.clamp_bar]``; which of the keys must be there is judged later."""

    section: Literal["bar", "angle", "channel", "tube"] | None = None
    width: Quantity = None
    height: Quantity = None
    thickness: Quantity = None
    web: Literal["rear", "front", "top", "bottom"] | None = None
    corner: Literal["top rear", "top front", "bottom rear", "bottom front"] | None = None
    second_moment_x: Quantity = None
    second_moment_y: Quantity = None
    product_moment: Quantity = None
    torsion_constant: Quantity = None
    farthest_x: Quantity = None
    farthest_y: Quantity = None
    span: Quantity = None
    metal: Literal["steel", "aluminium"] | None = None
    modulus: Quantity = None
    shear_modulus: Quantity = None
    ends: Literal["free", "built in"] | None = None
    held_sideways: bool | None = None


class LimitsShape(_Shape):
    """``[limits]``."""

    hinge: Quantity = None
    clamp: Quantity = None
    leaf_stress: Quantity = None
    clamp_bar_stress: Quantity = None


class StandShape(_Shape):
    """``[stand]``."""

    weight: Quantity
    feet_before: Quantity
    weight_behind: Quantity
    hinge_height: Quantity
    feet_behind: Quantity = None


class OrderShape(_Shape):
    """``[order]``: what counts how much when orders of bending are compared."""

    set_up_change: Quantity = None
    nose_change: Quantity = None
    flip: Quantity = None
    turn: Quantity = None
    bent_edge: Quantity = None
    reference_swung: Quantity = None
    swung_blank: Quantity = None
    handle_force: Quantity = None
    small_clearance: Quantity = None
    endwise: Quantity = None
    wide_radius: Quantity = None
    broken_rule: Quantity = None


class SetUpShape(_Shape):
    """``[[set_up]]``: a name, and what is otherwise than above."""

    name: Name
    setting: Quantity = None
    offset: Quantity = None
    fingers: list[Any] | None = None
    nose_radius: Quantity = None
    nose_angle: Quantity = None
    leaf_face: Quantity = None
    leaf_drop: Quantity = None
    leaf_depth: Quantity = None
    leaf_weight: Quantity = None
    leaf_weight_arm: Quantity = None
    leaf_outline: list[Any] | None = None
    beams: dict[str, Any] | None = None


_TABLE = "write [{}] on a line of its own and its keys below it"
_REMEDIES = {
    "title": f"write up to {LONGEST_TITLE} printable characters",
    "name": "write 1 to 60 printable characters",
    "strips": 'write the name of a file beside this one, as strips = "strips.jsonl"',
    "units": 'choose "mm" or "in", or leave it out and give every length its unit',
    **{key: _TABLE.format(key) for key in ("brake", "clamp_bar", "leaf", "lever", "beams", "limits", "stand", "order")},
    "hinge": "write [brake.hinge] on a line of its own, and forward and up of the hinge axis below it",
    "set_up": "write [[set_up]] with double brackets on a line of its own, once for each, and its name below",
    "length": 'measure it and add for example length = "1000 mm"',
    "throat": 'add the depth behind the nose, as throat = "300 mm", or throat = "open" where nothing is in the way',
    "bed_depth": 'add for example bed_depth = "80 mm", from the bed\'s front edge to its back',
    "bed_height": 'add for example bed_height = "60 mm", of the bed\'s front face below its top',
    "open_ends": 'write "both", "left", "right" or "none": the ends at which a part can slide out',
    "forward": 'add how far the hinge axis stands toward you from the bed\'s front edge, as forward = "0 mm"',
    "up": 'add how far the hinge axis stands above the bed\'s top (minus: below), as up = "0 mm"',
    "nose_radius": 'add the radius that the sheet is bent about, as nose_radius = "1.5 mm"',
    "nose_angle": "add the angle between the bar's underside and its sloping front, as nose_angle = 45",
    "height": 'add for example height = "60 mm"',
    "depth": 'add for example depth = "60 mm", from front to back',
    "lift": 'add how far the bar can be lifted, as lift = "25 mm"',
    "clamping_depth": 'add how far behind the nose the bar presses, as clamping_depth = "40 mm"',
    "face": 'add the width of the face that the sheet bears on, as face = "50 mm"',
    "drop": 'add how far the face lies below the bed\'s top at rest, as drop = "0 mm"',
    "swing": "add the largest angle that the leaf swings through, as swing = 135",
    "weight": 'add what a scale shows, as weight = "18 kg"',
    "weight_arm": 'add how far from the hinge axis it balances, as weight_arm = "25 mm"',
    "outline": 'write pairs of lengths, as outline = [["0 mm", "-60 mm"], ["6 mm", "-60 mm"], ["6 mm", "0 mm"]]',
    "handles": 'write "one end", "middle" or "both ends"',
    "effort": 'add the force that is comfortable at the handle, as effort = "200 N"',
    "section": 'write "bar", "angle", "channel" or "tube", or give both second moments instead',
    "web": 'write on which side the channel is closed: "rear", "front", "top" or "bottom"',
    "corner": 'write where its two legs meet: "top rear", "top front", "bottom rear" or "bottom front"',
    "metal": 'write metal = "steel" or "aluminium", or give modulus and shear_modulus',
    "ends": 'write "free" (they can tilt) or "built in" (they are held against turning)',
    "held_sideways": "write held_sideways = true or held_sideways = false",
    "feet_before": 'add how far the front feet stand before the hinge axis, as feet_before = "250 mm"',
    "feet_behind": 'add how far the rear feet stand behind the hinge axis, as feet_behind = "500 mm"',
    "weight_behind": 'add how far behind the front feet it balances, as weight_behind = "350 mm"',
    "hinge_height": 'add the height of the hinge axis above the floor, as hinge_height = "950 mm"',
    "fingers": 'write the widths of the fingers, as fingers = ["100 mm", "150 mm"]',
}
_ALIASES = {
    "radius": "nose_radius",
    "angle": "nose_angle",
    "width": "face",
    "mass": "weight",
    "force": "effort",
    "gap": "setting",
    "setback": "setting",
    "setup": "set_up",
    "setups": "set_up",
    "clamp": "clamp_bar",
    "beam": "beams",
    "handle": "handles",
    "material": "metal",
    "e": "modulus",
    "g": "shear_modulus",
    "j": "torsion_constant",
    "ix": "second_moment_x",
    "iy": "second_moment_y",
    "ixy": "product_moment",
    "x": "forward",
    "y": "up",
    "clearance": "safe_clearance",
    "tolerance": "angle_tolerance",
    "shape": "outline",
    "log": "strips",
    "strip": "strips",
}
WORDS = KeyHelp(_REMEDIES, (_ALIASES,), "see the file that flatgen start --shop writes")
"""Remedies and other names of the keys of a shop file."""
Kind = Literal["force", "mass", "stress", "second moment"]
POUND = 0.45359237
"""[kg], exact: international yard and pound agreement of 1959 (memory)."""
_PSI = POUND * GRAVITY / INCH**2
UNITS: dict[Kind, dict[str, float]] = {
    "force": {"n": 1.0, "kn": 1000.0, "dan": 10.0, "kgf": GRAVITY, "kp": GRAVITY, "lbf": POUND * GRAVITY},
    "mass": {"kg": 1.0, "g": 0.001, "lb": POUND, "lbs": POUND},
    "stress": {"mpa": 1.0, "n/mm2": 1.0, "gpa": 1000.0, "psi": _PSI, "ksi": 1000.0 * _PSI},
    "second moment": {"mm4": 1.0, "cm4": 1e4, "in4": INCH**4},
}
"""Units, folded to small letters: to newtons, kilograms, megapascals and mm4 (derived from the figures above)."""
_EXAMPLES: dict[Kind, str] = {
    "force": '"200 N", "20 kgf" or "45 lbf"',
    "mass": '"18 kg" or "40 lb"',
    "stress": '"160 MPa" or "23 ksi"',
    "second moment": '"25000 mm4", "2.5 cm4" or "0.06 in4"',
}
_SYMBOL: dict[Kind, str] = {"force": "N", "mass": "kg", "stress": "MPa", "second moment": "mm4"}
_HINTS: dict[tuple[str, str], str] = {
    ("force", "mass"): 'a mass is no force: what a scale shows as kg pulls in kgf, as "{n} kgf", and lb pulls in lbf',
    ("mass", "force"): "a force is no mass: give what a scale shows, kg or lb",
    ("stress", "force"): "a force is no stress: divide it by the area that carries it",
}
_LENGTHS = frozenset({"mm", "cm", "m", "in", "inch", "inches", "ft", "foot", "feet"})
_AMOUNT = re.compile(r"(?P<number>[-0-9][-0-9\s./,⁄½¼¾⅛⅜⅝⅞]*?)\s*(?P<unit>[a-zA-Z][a-zA-Z0-9/²⁴^]*)?")
LONGEST = 60


def parse_amount(raw: Any, kind: Kind, unit: Unit | None = None) -> float:
    """A force [N], a mass [kg], a stress [MPa] or a second moment of area [mm4].

    :param unit: of plain lengths, from which that of a second moment follows
    :raises NotALength: If it cannot be read, has no unit or that of something else.

    By hand: 20 x 9.80665 = 196.133 N; 40 x 0.45359237 = 18.1437 kg; 23 ksi x 6.894757 = 158.58 MPa.

    >>> parse_amount("20 kgf", "force"), parse_amount("40 lb", "mass"), parse_amount("23 ksi", "stress")
    (196.133, 18.1437, 158.5794)
    """
    text = raw.strip() if isinstance(raw, str) else raw
    match = None
    if isinstance(text, str):
        match = _AMOUNT.fullmatch(text.replace("−", "-")) if len(text) <= LONGEST else None
        if match is None:
            raise NotALength("FG005", f"{quoted_value(raw)} is no {kind}", f"write for example {_EXAMPLES[kind]}")
    mark = match["unit"] if match else None
    number = parse_length(match["number"] if match else text, default_unit="mm", signed=True).value
    if mark is None:
        if kind != "second moment" or unit is None:
            text = f"{quoted_value(raw)} has no unit"
            raise NotALength("FG010", text, f'write "{number:g} {_SYMBOL[kind]}", if that is what it is')
        mark = f"{unit}4"
    return number * _factor(mark, kind, raw, number)


def _factor(mark: str, kind: Kind, raw: Any, number: float) -> float:
    folded = mark.lower().replace("²", "2").replace("⁴", "4").replace("^", "")
    if folded in UNITS[kind]:
        return UNITS[kind][folded]
    other = next((k for k, units in UNITS.items() if folded in units), "length" if folded in _LENGTHS else None)
    if other is None:
        known = ", ".join(UNITS[kind])
        raise NotALength(
            "FG010", f'{quoted_value(raw)} has the unknown unit "{mark}"', f"units of a {kind} are {known}"
        )
    hint = _HINTS.get((kind, other), f"write for example {_EXAMPLES[kind]}").replace("{n}", f"{number:g}")
    raise NotALength("FG010", f"{quoted_value(raw)} is a {other} where a {kind} is asked for", hint)


@dataclass(frozen=True)
class Table:
    """Values of one table of the file, where it stands, and the unit of its plain lengths."""

    values: Mapping[str, Any]
    path: KeyPath
    unit: Unit | None
    notes: FaultNotes = field(compare=False)

    def at(self, *keys: str | int) -> KeyPath:
        """Path of a key below this table."""
        return (*self.path, *keys)

    def has(self, key: str) -> bool:
        """Whether the file gives this key, well or ill."""
        return self.values.get(key) is not None or key in self.values.get("ill", ())

    def add_fault(self, key: str, text: str, remedy: str, code: str = "FG032") -> None:
        """Note a fault at a key."""
        self.notes.add(self.at(key), code, text, remedy)

    def subtable(self, key: str, model: type[BaseModel]) -> Table:
        """A table below this one; empty where it is missing, which is noted already."""
        raw, path = self.values.get(key), self.at(key)
        values = fit_shape(model, raw, self.notes, path, WORDS) if isinstance(raw, dict) else {}
        return Table(values, path, self.unit, self.notes)

    def size(self, key: str, least: float, most: float, *, above: bool = False) -> float:
        """A length from ``least`` to ``most`` [mm], or above ``least``; negative ones where ``least`` is."""
        return self.size_at((key,), self.values.get(key), least, most, above=above)

    def size_at(self, keys: KeyPath, raw: Any, least: float, most: float, *, above: bool = False) -> float:
        """The same for a value below a key, as of a list."""

        def parse(value: Any) -> float:
            return parse_length(value, default_unit=self.unit, signed=True).value

        return self._number(keys, raw, parse, (least, most), above, lambda v: in_mm_and_inch(v, thickness=True))

    def angle(self, key: str, least: float, most: float) -> float:
        """An angle above ``least`` and up to ``most`` [deg]."""

        def parse(value: Any) -> float:
            return parse_angle(value, signed=True)

        return self._number((key,), self.values.get(key), parse, (least, most), True, lambda v: f"{v:g} deg")

    def amount(self, key: str, kind: Kind, most: float, *, least: float = 0.0, above: bool = True) -> float:
        """A force [N], mass [kg], stress [MPa] or second moment [mm4] above ``least`` and up to ``most``."""

        def parse(value: Any) -> float:
            return parse_amount(value, kind, self.unit)

        value, symbol = self.values.get(key), _SYMBOL[kind]
        return self._number((key,), value, parse, (least, most), above, lambda v: f"{v:g} {symbol}")

    def _number(
        self,
        keys: KeyPath,
        raw: Any,
        parse: Callable[[Any], float],
        limits: tuple[float, float],
        above: bool,
        words: Callable[[float], str],
    ) -> float:
        """NaN where it is missing, which is noted already, or cannot be used, which is noted here."""
        if raw is None:
            return math.nan
        try:
            number = parse(raw)
        except NotALength as error:
            self.notes.add(self.at(*keys), error.code, error.text, error.remedy)
            return math.nan
        least, most = limits
        if number < least or (above and number == least):
            rule = f"not above {words(least)}" if above else f"less than {words(least)}, the least"
        elif number > most:
            rule = f"more than {words(most)}, the most"
        else:
            return number + 0.0  # no minus before a zero
        self.notes.add(self.at(*keys), "FG032", f"{words(number)} is {rule}", "measure it again, and check its unit")
        return math.nan
