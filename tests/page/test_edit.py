"""What is typed becomes the case one would write by hand, everything else untouched."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from limbfe.case.load import case_of, read_case
from limbfe.errors import CaseError
from limbfe.page.edit import apply_edit, typed
from limbfe.page.entry import describe_entry, field_at
from tests.case.conftest import COMPLETE, TAPERED

CASES = Path(__file__).parents[2] / "cases"


def typing(value: Any, loc: tuple[str | int, ...]) -> Iterator[dict[str, Any]]:
    """Yield what a user does to enter a part of a case: texts in fields, words in menus."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        for k, table in enumerate(value):
            yield {"do": "add", "loc": list(loc), "values": {}}
            yield from typing(table, (*loc, k))
    elif isinstance(value, list):
        for k, cell in enumerate(value):
            yield {
                "do": "cells",
                "limb": loc[1],
                "at": k,
                "columns": [loc[2]],
                "rows": [[str(cell)]],
            }
    elif isinstance(value, dict):
        if "unit" in value:
            yield {"do": "unit", "loc": list(loc), "unit": value["unit"]}
        for key, part in value.items():
            if key != "unit":
                yield from typing(part, (*loc, key))
    else:
        yield {"do": "set", "loc": list(loc), "text": str(value)}


@pytest.mark.parametrize(
    "text",
    [COMPLETE, TAPERED, (CASES / "elm_longbow.toml").read_text("utf-8")],
    ids=["every key", "every key of a taper", "the elm"],
)
def test_a_case_entered_field_by_field_is_the_case(text):
    document = tomlkit.document()
    for edit in typing(tomllib.loads(text), ()):
        apply_edit(document, edit)
    wanted = case_of(text.encode(), Path("wanted.toml")).file
    assert case_of(document.as_string().encode(), Path("made.toml")).file == wanted


def test_one_change_leaves_every_other_sign_of_the_file_as_it_was():
    text = (CASES / "from_a_tape.toml").read_text("utf-8")
    document = tomlkit.parse(text)
    apply_edit(document, {"do": "set", "loc": ["limb", "both", "thickness", 0], "text": "1 5/16"})
    apply_edit(document, {"do": "set", "loc": ["knot", 0, "at"], "text": "11 in"})
    wanted = text.replace('"1 1/4"', '"1 5/16"').replace('at = "10 1/2 in"', 'at = "11 in"')
    assert document.as_string() == wanted


@pytest.mark.parametrize(
    ("loc", "text", "value"),
    [
        (("limb", "upper", "width", 0), "30.5", 30.5),
        (("limb", "upper", "width", 0), "1 3/8", "1 3/8"),
        (("limb", "upper", "width", 0), " 12 ", 12),
        (("limb", "upper", "lean", 0), "-2", -2),
        (("draw", "length"), "28", 28),  # the table may name its unit; the reader says if not
        (("draw", "steps"), "3o", "3o"),
        (("wood", "whole", "moisture"), "9.5", 9.5),
        (("wood", "whole", "E_L"), "12 GPa", "12 GPa"),
        (("wood", "whole", "cov", "E_L"), "0.2", 0.2),
        (("grain", "run_out"), "2", "2"),  # an angle needs its unit outside a column
        (("title",), "12", "12"),
        (("knot", 0, "name"), "1", "1"),
    ],
)
def test_what_is_typed_is_a_number_only_where_a_case_has_one(loc, text, value):
    found = typed(text, loc)
    assert found == value
    assert type(found) is type(value)


def test_rows_columns_and_limbs():
    document = tomlkit.parse(
        '[limb.both]\nunit = "mm"\nstation = [0, 500] # tape\n'
        "width = [30, 12]\nthickness = [20, 10]\n"
    )
    apply_edit(document, {"do": "row", "limb": "both", "at": 1})
    apply_edit(
        document,
        {
            "do": "cells", "limb": "both", "at": 1,
            "columns": ["station", "width", "thickness", "sapwood"],
            "rows": [["200", "28", "15", "4"], ["520", "11", "9", "3"]],
        },
    )  # fmt: skip
    apply_edit(document, {"do": "copy_limb", "from": "both", "to": "upper"})
    apply_edit(document, {"do": "drop_row", "limb": "lower", "at": 0})
    apply_edit(document, {"do": "drop", "loc": ["limb", "lower", "sapwood"]})
    limb = tomllib.loads(document.as_string())["limb"]
    assert limb["upper"]["station"] == [0, 200, 520]
    assert limb["upper"]["sapwood"] == ["", 4, 3]
    assert limb["lower"] == {
        "unit": "mm", "station": [200, 520], "width": [28, 11], "thickness": [15, 9],
    }  # fmt: skip
    assert "# tape" in document.as_string()
    apply_edit(document, {"do": "copy_limb", "from": "lower", "to": "both"})
    assert list(tomllib.loads(document.as_string())["limb"]) == ["both"]


def test_other_units_are_the_same_bow(tmp_path):
    text = (CASES / "ash_flatbow.toml").read_text("utf-8")
    document = tomlkit.parse(text)
    was = read_case(CASES / "ash_flatbow.toml").file
    for side in document["limb"]:
        apply_edit(document, {"do": "unit", "loc": ["limb", side], "unit": "in", "convert": True})
    now = case_of(document.as_string().encode(), CASES / "ash.toml").file
    for side in document["limb"]:
        for name in ("station", "width", "thickness"):
            before, after = (getattr(getattr(one.limb, side), name) for one in (was, now))
            assert after == pytest.approx(before, abs=5e-6)


@pytest.mark.parametrize(
    "edit",
    [
        {"do": "rm -rf"},
        {"do": "set", "loc": [], "text": "x"},
        {"do": "set", "loc": ["title", 0], "text": "x"},
        {"do": "set", "loc": ["limb", "both", "width", 10**6], "text": "1"},
        {"do": "set", "loc": ["title"], "text": "x" * 5000},
        {"do": "set", "loc": ["title"], "text": {"a": 1}},
        {"do": "cells", "limb": "both", "at": 0, "columns": ["hacked"], "rows": [["1"]]},
        {"do": "cells", "limb": "both", "at": 0, "columns": ["width"], "rows": [["1"]] * 2001},
        {"do": "drop_row", "limb": "middle", "at": 0},
        {"do": "unit", "loc": ["limb", "both"], "unit": "parsec"},
        {"do": "rename", "loc": ["wood", "whole"], "to": "gold"},
        {"do": "copy_limb", "from": "both", "to": "both"},
    ],
)
def test_what_does_not_fit_is_refused_as_a_fault_of_the_request(edit):
    document = tomlkit.parse('title = "t"\n[wood.whole]\n[limb.both]\nwidth = [1, 2]\n')
    with pytest.raises(CaseError):
        apply_edit(document, edit)


def test_every_key_of_the_schema_has_a_field_with_a_kind_and_words():
    kinds = set()
    for table in describe_entry()["tables"]:
        for about in table["fields"]:
            kinds.add(about["kind"])
            assert about["about"], (table["path"], about["key"])
            assert field_at((*table["path"], about["key"]))["kind"] == about["kind"]
    assert kinds >= {"length", "choice", "column", "percent", "whole", "number", "force", "angle"}
    assert field_at(("draw", "zebra")) is None
