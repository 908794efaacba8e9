"""The schema itself: complete, described, and with examples that a user may copy."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from limbfe.case.explain import table_of
from limbfe.case.fields import LengthTable
from limbfe.case.schema import Case, CaseFile, LimbTable
from limbfe.case.wood_tables import Property
from limbfe.case.zone_tables import MultipliersTable
from limbfe.stave.columns import NAMED, TABLE
from limbfe.wood.wood import PROPERTIES


def tables(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        inner = table_of(field.annotation)
        if inner is not None:
            yield from tables(inner)


FIELDS = [
    pytest.param(model, name, id=f"{model.__name__}.{name}")
    for model in {table.__name__: table for table in tables(CaseFile)}.values()
    for name in model.model_fields
]


def test_a_limb_may_give_every_column_in_its_own_unit_and_nothing_else() -> None:
    """The keys of a limb are the table of columns; a bare 3 is 3 mm or 3 degrees."""
    assert set(LimbTable.model_fields) == {*NAMED, "table", "unit"}
    limb = {column.name: [3, 3] for column in NAMED.values()}
    read = LimbTable.model_validate({"unit": "mm", **limb})
    for name, column in NAMED.items():
        wanted = 3e-3 if column.kind == "length" else math.radians(3.0)
        assert getattr(read, name) == pytest.approx((wanted, wanted)), name
        assert LimbTable.model_fields[name].is_required() == (column.default is None)


@pytest.mark.parametrize(("model", "name"), FIELDS)
def test_every_key_says_what_it_means(model: type[BaseModel], name: str) -> None:
    field = model.model_fields[name]
    assert field.description
    if table_of(field.annotation) is None:
        assert field.examples


UNITED = sorted(
    (table for table in set(tables(CaseFile)) if issubclass(table, LengthTable)),
    key=lambda table: table.__name__,
)


def example(field: FieldInfo) -> Any:
    """The example of a field as TOML gives it."""
    shown = field.examples[0]
    if isinstance(shown, str) and shown[0] in "[{":
        return tomllib.loads(f"value = {shown}")["value"]
    return shown


@pytest.mark.parametrize("table", UNITED)
def test_the_unit_of_a_table_is_that_of_its_lengths_alone(table: type[LengthTable]) -> None:
    """Every length bare, or a bare number in quotes; every other key as it stands without."""
    explicit, bare, quoted = {}, {"unit": "in"}, {"unit": "in"}
    lengths = 0
    for name, field in table.model_fields.items():
        if name == "unit" or not field.examples:
            continue
        value = example(field)
        explicit[name] = bare[name] = quoted[name] = value
        if "kind='length'" not in repr((field.annotation, field.metadata)):
            continue
        lengths += 1
        numbers = list(range(2, 2 + len(value))) if isinstance(value, list) else 3
        explicit[name], bare[name] = written(numbers, " in"), numbers
        quoted[name] = written(numbers, "")
    assert lengths
    wanted = table.model_validate(explicit).model_dump(exclude={"unit"})
    for given_ in (bare, quoted):
        assert table.model_validate(given_).model_dump(exclude={"unit"}) == wanted


def written(numbers: list[int] | int, unit: str) -> list[str] | str:
    if isinstance(numbers, list):
        return [f"{number}{unit}" for number in numbers]
    return f"{numbers}{unit}"


def test_every_table_with_a_unit_is_looked_at() -> None:
    assert len(UNITED) == 8


def test_an_angle_takes_no_unit_of_length(refusal: Callable[[str], str], complete: str) -> None:
    said = refusal(complete.replace('run_out = "1 in 30"', 'unit = "mm"\nrun_out = 2'))
    assert (
        '[grain] run_out = 2: has no unit; write it in quotes with its unit, such as "6 deg"'
        in (said)
    )


def test_the_wood_keys_are_the_wood_s_properties() -> None:
    assert get_args(Property) == PROPERTIES


def test_every_key_of_the_schema_is_in_a_complete_case(
    complete: str, tapered: str, read: Callable[[str], Case]
) -> None:
    """The two complete cases leave out only alternatives of what they give."""
    known = {(m.__name__, name) for m in tables(CaseFile) for name in m.model_fields}
    keys = set(given(read(complete).file)) | set(given(read(tapered).file))
    left_out = {(m, n) for m, n in known - keys if n != "unit"}
    wood = {("WoodTable", name) for name in PROPERTIES}
    multipliers = {("MultipliersTable", name) for name in MultipliersTable.model_fields}
    assert left_out - wood - multipliers == {
        ("WoodsTable", "whole"),
        ("LimbTable", "table"),
        *(("LimbTable", column.name) for column in TABLE if column.whole is not None),
        ("StringTable", "material"),
        ("StringTable", "strands"),
    }


def given(table: BaseModel) -> Iterator[tuple[str, str]]:
    for name in table.model_fields_set:
        yield type(table).__name__, name
        value = getattr(table, name)
        for inner in value if isinstance(value, tuple) else (value,):
            if isinstance(inner, BaseModel):
                yield from given(inner)


def test_a_case_cannot_be_changed(complete: str, read: Callable[[str], Case]) -> None:
    case = read(complete)
    with pytest.raises(AttributeError):
        case.path = None  # type: ignore[misc,assignment]
    with pytest.raises(ValueError, match="frozen"):
        case.file.draw.length = 1.0
