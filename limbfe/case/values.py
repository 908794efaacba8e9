"""Single values and ranges as they are given with a command or a Python function."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from limbfe.errors import CaseError

if TYPE_CHECKING:
    from limbfe.units import Kind


def quantity(option: str, text: str | float | None, kind: Kind) -> float | None:
    """Return the SI value of an option, None where it was not given; a number is SI already."""
    from limbfe.units import UnitError, parse_quantity

    if text is None:
        return None
    if not isinstance(text, str):
        return _number(option, text)
    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        raise CaseError(f'{option} "{text}": {error}') from error


def _number(option: str, value: float) -> float:
    if not math.isfinite(value):
        raise CaseError(f"{option} {value}: must be a number")
    return float(value)


def above_zero(option: str, text: str | float | None, kind: Kind) -> float | None:
    """Return the SI value of an option that must be positive, None where it was not given."""
    value = quantity(option, text, kind)
    if value is not None and value <= 0.0:
        raise CaseError(f'{option} "{text}": must be above zero')
    return value


def draw_length(option: str, text: str | float | None) -> float | None:
    """Return a draw length in SI, None where it was not given; as far as a case may say."""
    from limbfe.case.checks import LONGEST_DRAW, SHORTEST_DRAW
    from limbfe.units import both_lengths

    value = quantity(option, text, "length")
    if value is not None and not SHORTEST_DRAW <= value <= LONGEST_DRAW:
        raise CaseError(
            f'{option} "{text}": must lie between {both_lengths(SHORTEST_DRAW)} and '
            f"{both_lengths(LONGEST_DRAW)}; check the number and its unit"
        )
    return value


MOST_VALUES = 200
"""In one range: finer ranges than that are slips of the pen."""


def span(option: str, text: str, kind: Kind, unit: str | None = None) -> tuple[float, ...]:
    """Return the SI values of a range START:STOP:STEP, both ends included.

    Parameters
    ----------
    option : str
        As typed, for messages.
    text : str
        Three numbers and, once at the end, their unit: ``4:20:2``, ``"24:30:1/2 in"``.
    kind : Kind
    unit : str, optional
        Taken where the range has none.

    Raises
    ------
    CaseError
        If it is no range, runs the wrong way, has a step of zero or too many values.
    """
    parts = [part.strip() for part in text.split(":")]
    number = re.fullmatch(r"([-+]?[\d./ ]*[\d.])\s*([^\d.].*)?", parts[-1])
    if len(parts) != 3 or not all(parts) or number is None:
        raise CaseError(
            f'{option} "{text}": is not a range; write START:STOP:STEP, such as 4:20:2, with a '
            "unit at the end if need be"
        )
    sign = number[2] or unit or ""
    start, stop, step = (
        quantity(f'{option} "{text}": its {word}', f"{value} {sign}".strip(), kind) or 0.0
        for word, value in zip(("start", "stop", "step"), (*parts[:2], number[1]), strict=True)
    )
    if step == 0.0 or (stop - start) * step < 0.0:
        way = "has a step of zero" if step == 0.0 else "steps away from its stop"
        raise CaseError(f'{option} "{text}": {way}; write START:STOP:STEP, such as 4:20:2')
    count = int((stop - start) / step + 1e-9) + 1
    if count > MOST_VALUES:
        raise CaseError(
            f'{option} "{text}": has {count} values, at most {MOST_VALUES}; take larger steps'
        )
    return tuple(start + k * step for k in range(count))


def values_of(name: str, given: str | float | Iterable[float], kind: Kind) -> tuple[float, ...]:
    """Return the SI values of a range: text as `span` reads it, one number, or several.

    Raises
    ------
    CaseError
        If it is no range, or holds no number.
    """
    if isinstance(given, str):
        return span(name, given, kind)
    values = tuple(given) if isinstance(given, Iterable) else (given,)
    if not values:
        raise CaseError(f"{name}: holds no value; give at least one")
    return tuple(_number(name, value) for value in values)
