"""The shape of a metal table from a user, every fault with its place in one pass.

Imported only when there is such a table, so that light commands need not pay for the checking. A file may hold
``[sources.NAME]``, ``[metals."NAME"]`` and ``[[radius_tables]]``. A figure is written as text with its unit,
``density = "2700 kg/m3"``, as a table ``{ value = 2700, unit = "kg/m3", source = "..." }``, or as a list of either.
"""

from __future__ import annotations

import difflib
import re
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictFloat,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import ErrorDetails

from flatgen.core.errors import Fault
from flatgen.metal.allowance import METHODS
from flatgen.metal.figures import TABLE_FAULT, UNITS, gauge_systems, key_path

_WRITTEN_FIGURE = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\s\d,.]\S*)?\s*$")
_QUANTITIES = {"yield_" if quantity == "yield" else quantity: quantity for quantity in UNITS}
_MESSAGES = {
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "dict_type": "must be a table",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "string_type": "must be text",
    "finite_number": "must be a finite number",
}

Positive = Annotated[StrictFloat, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[StrictFloat, Field(ge=0, allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=1, max_length=200)]


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FigureShape(_Closed):
    """One figure with its unit."""

    value: Positive
    unit: str = ""
    kind: Literal["typical", "minimum", "maximum", "nominal"] | None = None
    source: Text | None = None
    mark: Literal["seen", "memory", "derived", "given"] | None = None
    over: NotNegative | None = None
    to: Positive | None = None
    note: str | None = None


def _figures(raw: object) -> object:
    items = raw if isinstance(raw, list) else [raw]
    return [_figure(item) for item in items]


def _figure(item: object) -> object:
    if isinstance(item, int | float) and not isinstance(item, bool):
        return {"value": float(item), "unit": ""}
    if not isinstance(item, str):
        return item
    match = _WRITTEN_FIGURE.match(item)
    if not match:
        comma = ", with a decimal point" if "," in item else ""
        raise ValueError(f'"{item}" is not a number with its unit{comma}, such as "2700 kg/m3"')
    return {"value": float(match[1]), "unit": match[2] or ""}


Figures = Annotated[list[FigureShape], Field(min_length=1), BeforeValidator(_figures)]


class SourceShape(_Closed):
    """Where figures were read."""

    title: Text
    where: str | None = None
    url: str | None = None


class TableShape(_Closed):
    """The columns of a radius table and how it is read."""

    unit: Literal["t", "in", "mm"]
    thickness_unit: Literal["in", "mm"]
    thickness: Annotated[list[Positive], Field(min_length=1)]
    source: Text | None = None
    mark: Literal["seen", "memory", "derived", "given"] | None = None
    reading: Literal["nominal", "up to", "this only"] | None = None
    direction: Literal["any", "across", "along"] | None = None
    printed_for: Positive | None = None
    step_up: bool | None = None

    @field_validator("thickness")
    @classmethod
    def _growing(cls, value: list[float]) -> list[float]:
        if any(a >= b for a, b in pairwise(value)):
            raise ValueError("thicknesses must grow from left to right")
        return value


def _cells(raw: object) -> object:
    return [[c, c] if not isinstance(c, list) else c for c in raw] if isinstance(raw, list) else raw


Row = Annotated[list[tuple[NotNegative, NotNegative]], BeforeValidator(_cells)]


def _check_row(row: list[tuple[float, float]], columns: int, name: str) -> None:
    if any(low > high for low, high in row):
        raise ValueError("a range must be written [smaller, larger]")
    if len(row) != columns:
        raise ValueError(f"{name} has {len(row)} radii for {columns} thicknesses: they must be as many")


class OwnTable(TableShape):
    """A radius table within one metal."""

    radius: Row

    @model_validator(mode="after")
    def _complete(self) -> OwnTable:
        _check_row(self.radius, len(self.thickness), "radius")
        return self


class SharedTable(TableShape):
    """A radius table with a row for each of several metals."""

    family: Text | None = None
    rows: dict[str, Row] = Field(default_factory=dict)
    rows_by_ultimate: dict[Annotated[str, Field(pattern=r"^\d+$")], Row] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _complete(self) -> SharedTable:
        for name, row in (*self.rows.items(), *self.rows_by_ultimate.items()):
            _check_row(row, len(self.thickness), f'row "{name}"')
        return self


class MetalShape(_Closed):
    """What is said of one metal."""

    like: Text | None = None
    aliases: list[Text] | None = None
    family: Text | None = None
    gauge_system: Text | None = None
    default_method: Text | None = None
    density: Figures | None = None
    modulus: Figures | None = None
    poisson: Figures | None = None
    yield_: Figures | None = Field(None, alias="yield")
    ultimate: Figures | None = None
    radii: list[OwnTable] | None = None

    @field_validator("default_method")
    @classmethod
    def _method(cls, value: str | None) -> str | None:
        if value is not None and value not in METHODS:
            raise ValueError(f'no allowance method is called "{value}"; known are {", ".join(METHODS)}')
        return value

    @field_validator("gauge_system")
    @classmethod
    def _gauge(cls, value: str | None) -> str | None:
        if value is not None and value not in gauge_systems():
            raise ValueError(f'no gauge system is called "{value}"; known are {", ".join(gauge_systems())}')
        return value

    @field_validator(*_QUANTITIES)
    @classmethod
    def _units(cls, value: list[FigureShape] | None, info: ValidationInfo) -> list[FigureShape] | None:
        quantity = _QUANTITIES[str(info.field_name)]
        for figure in value or ():
            if figure.unit not in UNITS[quantity]:
                unit = f'in "{figure.unit}"' if figure.unit else "without a unit"
                known = ", ".join(u for u in UNITS[quantity] if u) or "a plain number"
                raise ValueError(f"{quantity} {figure.value:g} is {unit}: it must be in {known}")
        return value


class FileShape(_Closed):
    """A file of metal tables."""

    sources: dict[str, SourceShape] = Field(default_factory=dict)
    metals: dict[Text, MetalShape] = Field(default_factory=dict)
    radius_tables: list[SharedTable] = Field(default_factory=list)


_MODELS: tuple[type[BaseModel], ...] = (FigureShape, SourceShape, OwnTable, SharedTable, MetalShape, FileShape)


def check_tables(raw: dict[str, Any], file: str) -> tuple[dict[str, Any], tuple[Fault, ...]]:
    """The tables in their plain shape (empty where there are faults), and the faults."""
    try:
        shape = FileShape.model_validate(raw)
    except ValidationError as error:
        return {}, tuple(_fault(e, file) for e in error.errors(include_url=False))
    return shape.model_dump(by_alias=True, exclude_unset=True, exclude_none=True), ()


def _fault(error: ErrorDetails, file: str) -> Fault:
    place = [p for p in error["loc"] if not (isinstance(p, str) and p.startswith("function-"))]
    where = f"{file}: {key_path(place)}" if place else file
    if error["type"] == "extra_forbidden":
        return Fault(TABLE_FAULT, where, f'unknown key "{place[-1]}"', _nearest(str(place[-1])))
    if error["type"] == "missing":
        return Fault(TABLE_FAULT, where, f'the key "{place[-1]}" is missing', f"add {place[-1]} = ... to this table")
    text = _MESSAGES.get(error["type"]) or error["msg"].removeprefix("Value error, ")
    text = text.replace("Input should be", "must be").replace("String should", "must")
    given = error["input"]
    if isinstance(given, str | int | float) and str(given) not in text:
        text = f"{given!r} {text}" if text.startswith("must") else f"{given!r}: {text}"
    return Fault(TABLE_FAULT, where, text, "correct this figure, or leave the key out")


def _nearest(key: str) -> str:
    known = sorted({f.alias or n for m in _MODELS for n, f in m.model_fields.items()})
    near = difflib.get_close_matches(key, known, n=1)
    return f'did you mean "{near[0]}"?' if near else f"known keys are: {', '.join(known)}"
