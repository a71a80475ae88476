"""The shape of a form: which tables and keys there are, and between what limits each number lies.

Numbers stay as written here; :mod:`flatgen.strips.form` resolves them. An empty text is a number that was not measured.
The limits hold for forms and for the log alike: outside of them a number is a slip, or no model can use it.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator
from pydantic_core import PydanticCustomError

from flatgen.definition import limits as bounds
from flatgen.definition.shapes import Mode, dimension_mode
from flatgen.definition.toml.shape import Quantity, Words, title_text
from flatgen.strips import words as words

MOST_STRIPS = 200
"""Of one form."""
MOST_LOSS = 45.0
"""Of an angle, to deflection and twist [deg]."""
MOST_SETTING = 200.0
"""Of the nose behind the bed's edge, and of the leaf's face beyond a tangent line [mm]."""

_SIZE = (bounds.LEAST_SIZE, bounds.LARGEST_SIZE)
_ANGLE = (bounds.LEAST_ANGLE, bounds.LARGEST_ANGLE)
_RADIUS = (0.0, bounds.LARGEST_RADIUS)
_THICKNESS = (bounds.LEAST_THICKNESS, bounds.LARGEST_THICKNESS)
LIMITS: dict[str, tuple[float, float]] = {
    "strip.nominal": _THICKNESS,
    "strip.thickness": _THICKNESS,
    "strip.width": _SIZE,
    "strip.blank": _SIZE,
    "strip.blank_got": _SIZE,
    "leg.asked": _SIZE,
    "leg.got": _SIZE,
    "bend.angle": _ANGLE,
    "bend.inside_radius": _RADIUS,
    "bend.allowance": (bounds.LEAST_FLAT, bounds.LARGEST_SIZE),
    "bend.nose_radius": _RADIUS,
    "bend.nose_setting": (-MOST_SETTING, MOST_SETTING),
    "bend.arm": (0.0, bounds.LARGEST_SIZE),
    "bend.sight": (0.0, bounds.LARGEST_SIZE),
    "bend.set": (bounds.LEAST_ANGLE, bounds.LARGEST_ANGLE + MOST_LOSS),
    "bend.got": _ANGLE,
    "bend.radius": _RADIUS,
    "bend.loss": (-MOST_LOSS, MOST_LOSS),
}
"""Least and largest value of each number of a reading [mm or deg]."""


def limit_name(kind: type, field: str) -> str:
    """The name in :data:`LIMITS` of a field of one of the types of :mod:`flatgen.strips.reading`.

    Parameters
    ----------
    kind : type
        One of them, [-]
    field : str
        Of its fields, [-]

    Returns
    -------
    str
        Such as ``bend.set``, [-]
    """
    return f"{kind.__name__.removesuffix('Reading').lower()}.{field}"


def _date(value: Any) -> str:
    if isinstance(value, datetime.date):
        return value.isoformat()
    return title_text(value)


def _choice(*options: str) -> PlainValidator:
    def check(value: Any) -> str | None:
        spoken = value.strip().lower() if isinstance(value, str) else value
        if spoken in (None, ""):
            return None
        if spoken not in options:
            raise PydanticCustomError("written", "one of " + ", ".join(f'"{o}"' for o in options))
        return str(spoken)

    return PlainValidator(check)


Text = Annotated[Any, PlainValidator(title_text)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class FormShape(_Shape):
    """Top of the file."""

    units: Literal["mm", "in"] | None = None
    strip: Annotated[list[Any], Field(min_length=1, max_length=MOST_STRIPS)]


class StripShape(_Shape):
    """``[[strip]]``"""

    name: Text
    metal: Text
    nominal: Quantity
    thickness: Quantity = None
    width: Quantity
    blank: Quantity
    blank_got: Quantity = None
    sheet: Text = ""
    grain: Annotated[Any, _choice("along", "across")] = None
    date: Annotated[Any, PlainValidator(_date)] = ""
    note: Text = ""
    part: Text = ""
    shop: Text = ""
    leg: Annotated[list[Any], Field(min_length=1)]
    bend: Annotated[list[Any], Field(min_length=1)]


class LegShape(_Shape):
    """``[[strip.leg]]``"""

    name: Text
    asked: Quantity
    dimensions: Mode = "overall"
    got: Quantity = None


class BendShape(_Shape):
    """``[[strip.bend]]``"""

    label: Text
    angle: Quantity
    way: Literal["up", "down"]
    inside_radius: Quantity
    allowance: Quantity
    held: Text
    set_up: Text
    nose_radius: Quantity
    nose_setting: Quantity = None
    arm: Quantity
    loss: Quantity = None
    sight: Quantity = None
    place: Annotated[Any, _choice("left", "middle", "right")] = None
    angle_set: Quantity = None
    angle_got: Quantity = None
    radius_got: Quantity = None


WORDS = Words(words.REMEDIES, (words.OTHER_NAMES,), words.SEE, {"dimensions": dimension_mode})
"""Remedies and other names of the keys of a form."""
