"""Types of the values in a case file: text with a unit in, SI out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from limbfe.stave.columns import FLAT
from limbfe.units import KINDS, Kind, UnitError, is_number, parse_quantity

LONGEST = 1e3
"""Of lengths and radii, m: squares of what a slip of the pen writes leave no number."""


class Table(BaseModel):
    """A table of a case file: unknown keys refused, nothing converted silently, frozen."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        defer_build=True,  # once, for the whole file, in place of once for every table in it
    )


def wrong_value(reason: str) -> PydanticCustomError:
    """Return the error of a value; `reason` continues the sentence ``key = value: ...``."""
    # The reason travels as a field: braces in the user's own text must not be taken for fields.
    return PydanticCustomError("value", "{reason}", {"reason": reason})


@dataclass(frozen=True, slots=True)
class Quantity:
    """Mark a float as a value with a unit of this kind."""

    kind: Kind

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Put the conversion to SI before the checks of the number."""
        return core_schema.no_info_before_validator_function(self.to_si, handler(source))

    def to_si(self, value: Any) -> float:
        """Return `value` in SI."""
        facts = KINDS[self.kind]
        if isinstance(value, str):
            try:
                found = parse_quantity(value, self.kind)
            except UnitError as error:
                raise wrong_value(str(error)) from None
            if self.kind == "length" and abs(found) > LONGEST:
                raise wrong_value("is longer than a kilometre, which nothing of a bow is")
            return found
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise wrong_value(f'is not {facts.noun}; write for instance "{facts.example}"')
        if value == 0:
            return 0.0
        if not -1e300 < value < 1e300:
            raise wrong_value(f'is not a finite number; write for instance "{facts.example}"')
        remedy = f'write it in quotes with its unit, such as "{facts.example}"'
        if self.kind == "length":
            unit = facts.example.split()[-1]
            remedy += f', or name the unit once in this table, such as unit = "{unit}"'
        raise wrong_value(f"has no unit; {remedy}")


def _percent(value: Any) -> Any:
    if isinstance(value, str):
        return 100.0 * Quantity("fraction").to_si(value)
    return value


@dataclass(frozen=True, slots=True)
class PerCent:
    """Mark a float as per cent, bare or with its sign."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Accept ``9`` and ``"9 %"``."""
        return core_schema.no_info_before_validator_function(_percent, handler(source))


def _one_line(text: str) -> str:
    if not text.isprintable() or not text.strip():
        raise wrong_value("must be one line of printable text; retype it without tabs or breaks")
    return text


def _prose(text: str) -> str:
    if not text.replace("\n", " ").replace("\r", " ").isprintable():
        raise wrong_value("holds control characters; retype it as plain text")
    return text


def _unless_flat(value: Any, length: ValidatorFunctionWrapHandler) -> float:
    return math.inf if value == FLAT else float(length(value))


Length = Annotated[float, Quantity("length")]
LengthOrFlat = Annotated[Length, WrapValidator(_unless_flat)]
Force = Annotated[float, Quantity("force")]
Stress = Annotated[float, Quantity("stress")]
Angle = Annotated[float, Quantity("angle")]
Mass = Annotated[float, Quantity("mass")]
Density = Annotated[float, Quantity("density")]
FractureEnergy = Annotated[float, Quantity("fracture energy")]
Spring = Annotated[float, Quantity("spring")]
Time = Annotated[float, Quantity("time")]
Percent = Annotated[float, PerCent()]
Name = Annotated[str, Field(max_length=60), AfterValidator(_one_line)]
Title = Annotated[str, Field(max_length=200), AfterValidator(_one_line)]
Prose = Annotated[str, Field(max_length=2000), AfterValidator(_prose)]


class LengthTable(Table):
    """A table whose lengths may be bare numbers once it names their unit."""

    unit: Literal["mm", "cm", "m", "in", "ft"] | None = Field(
        None, description="unit of the bare numbers in this table", examples=["mm"]
    )

    @model_validator(mode="before")
    @classmethod
    def _give_unit(cls, data: Any) -> Any:
        """Write the unit beside every bare length, so that one parser reads them all."""
        if not isinstance(data, dict):
            return data
        unit = data.get("unit")
        if unit not in ("mm", "cm", "m", "in", "ft"):
            return data
        lengths = _lengths(cls)
        return {
            key: _with_unit(value, unit) if key in lengths else value for key, value in data.items()
        }


def keys_of(table: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return the fields of a table by the key that stands in a file."""
    return {field.alias or name: field for name, field in table.model_fields.items()}


@cache
def _lengths(table: type[BaseModel]) -> frozenset[str]:
    """Return the keys of a table that hold a length or a column of them."""
    return frozenset(
        key
        for key, field in keys_of(table).items()
        if any(_is_length(part) for part in (field.annotation, *field.metadata))
    )


def _is_length(annotation: Any) -> bool:
    return annotation == Quantity("length") or any(map(_is_length, get_args(annotation)))


def _with_unit(value: Any, unit: str) -> Any:
    if isinstance(value, list):
        return [_with_unit(item, unit) for item in value]
    if isinstance(value, str):
        return f"{value} {unit}" if is_number(value) else value
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    try:
        return f"{float(value)!r} {unit}"
    except OverflowError:
        return value


def degrees(value: Any) -> Any:
    """Return a column of angles with "deg" beside its bare numbers."""
    return _with_unit(value, "deg")
