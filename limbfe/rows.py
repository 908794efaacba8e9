"""Results as rows of a table: one dictionary of plain values a row, the unit in every key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Row = dict[str, Any]


def rows_of_columns(told: Mapping[str, Any]) -> list[Row]:
    """Return the rows of the columns of a dictionary: its lists of equal length, others left out.

    >>> rows_of_columns({"case": "ash", "at_mm": [0, 5], "used": {"back": [0.1, 0.2]}})
    [{'at_mm': 0, 'used_back': 0.1}, {'at_mm': 5, 'used_back': 0.2}]
    """
    columns = {name: one for name, one in flat_row(told).items() if isinstance(one, list)}
    count = max(map(len, columns.values()), default=0)
    columns = {name: one for name, one in columns.items() if len(one) == count}
    return [
        dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)
    ]


def flat_row(told: Mapping[str, Any]) -> Row:
    """Return a dictionary without dictionaries in it, their keys joined.

    >>> flat_row({"at_mm": 5, "set_mm": {"upper": 20, "lower": 22}})
    {'at_mm': 5, 'set_mm_upper': 20, 'set_mm_lower': 22}
    """
    row: Row = {}
    for name, value in told.items():
        if isinstance(value, Mapping):
            row |= {f"{name}_{inner}": one for inner, one in flat_row(value).items()}
        else:
            row[name] = value
    return row
