"""Lengths as the page writes them: in the unit of their table, by ruler or by decimals."""

from __future__ import annotations

from typing import Any

from limbfe.units import UnitError, is_number, parse_number, ruler_inches, unit_factor

DECIMALS = {"mm": 3, "cm": 4, "m": 6, "in": 5, "ft": 6}
"""Of a written length: a micrometre."""
ON_RULER = 5e-6
"""m; an inch measure nearer than this to one of a ruler's marks is written as its fraction."""


def in_unit(value: Any, was: str, unit: str) -> int | float | str:
    """Return a bare number of one unit in another; what has a unit of its own stays as it is.

    Examples
    --------
    >>> in_unit(38.1, "mm", "in"), in_unit("1 1/2", "in", "mm"), in_unit("9 mm", "in", "mm")
    ('1 1/2', 38.1, '9 mm')
    """
    if isinstance(value, str):
        text = str(value)
        if not is_number(text):
            return text
        try:
            number = parse_number(text)
        except UnitError:
            return text
    elif isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    else:
        number = float(value)
    return written(number * unit_factor(was, "length"), unit)


def written(metres: float, unit: str) -> int | float | str:
    """Return a length as it stands bare in a table of that unit.

    Examples
    --------
    >>> written(0.0381, "in"), written(0.0254, "in"), written(0.0233, "mm")
    ('1 1/2', 1, 23.3)
    """
    number = round(metres / unit_factor(unit, "length"), DECIMALS[unit])
    if unit == "in":
        text = ruler_inches(metres, parts=64)
        if abs(parse_number(text) * 0.0254 - metres) < ON_RULER:
            return int(text) if text.lstrip("-").isdigit() else text
    return int(number) if number == int(number) else number
