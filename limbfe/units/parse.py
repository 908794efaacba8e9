"""Values with their units, as the user writes them, into SI.

The few units a bow needs stand in a table of their own, so that a misspelt unit cannot slip through
as an exotic one.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from limbfe.units.number import (
    DECIMAL,
    NUMBER,
    UnitError,
    is_number,
    lacks_fraction,
    matched_number,
    parse_number,
    spell_out,
)

Kind = Literal[
    "length",
    "force",
    "draw weight",
    "stress",
    "angle",
    "mass",
    "density",
    "fracture energy",
    "spring",
    "fraction",
    "time",
]
Dimensions = tuple[int, int, int, int]
"""Powers of length, mass, time and angle."""

_LENGTH, _MASS, _TIME, _ANGLE = (1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)
_FORCE, _STRESS, _ENERGY, _RATIO = (1, 1, -2, 0), (-1, 1, -2, 0), (2, 1, -2, 0), (0, 0, 0, 0)
_INCH, _POUND, _GRAVITY = 0.0254, 0.45359237, 9.80665
_PSI = _POUND * _GRAVITY / _INCH**2
_NAMES: dict[Dimensions, dict[str, float]] = {
    _LENGTH: {
        "m metre meter": 1.0,
        "mm millimetre millimeter": 1e-3,
        "cm centimetre centimeter": 1e-2,
        "in inch inches": _INCH,
        "ft foot feet": 12.0 * _INCH,
        "yd yard yards": 36.0 * _INCH,
    },
    _MASS: {
        "kg kilogram": 1.0,
        "g gram": 1e-3,
        "mg milligram": 1e-6,
        "t tonne": 1e3,
        "lb pound": _POUND,
        "oz ounce": _POUND / 16.0,
        "gr grain": _POUND / 7000.0,
    },
    _TIME: {
        "s second": 1.0,
        "min minute": 60.0,
        "h hour hours": 3600.0,
        "day days": 86400.0,
    },
    _FORCE: {
        "N newton": 1.0,
        "kN kilonewton": 1e3,
        "MN": 1e6,
        "kgf": _GRAVITY,
        "lbf": _POUND * _GRAVITY,
        "klbf": 1e3 * _POUND * _GRAVITY,
    },
    _STRESS: {
        "Pa pascal": 1.0,
        "kPa kilopascal": 1e3,
        "MPa megapascal": 1e6,
        "GPa gigapascal": 1e9,
        "psi": _PSI,
        "ksi": 1e3 * _PSI,
        "Mpsi msi": 1e6 * _PSI,
    },
    _ENERGY: {"J joule": 1.0, "kJ kilojoule": 1e3},
    _ANGLE: {"rad radian": 1.0, "deg degree degrees °": math.pi / 180.0},
    _RATIO: {"% percent": 1e-2},
}
"""What the units' names are worth in SI; inch, pound and standard gravity are exact."""
_UNITS = {
    name: (factor, dimensions)
    for dimensions, units in _NAMES.items()
    for names, factor in units.items()
    for name in names.split()
}


@dataclass(frozen=True, slots=True)
class _KindFacts:
    """What a kind of value is called, its dimensions and a value of it as a user writes one."""

    noun: str
    dimensions: Dimensions
    metric: str
    imperial: str = ""

    @property
    def example(self) -> str:
        """A value in the units of whoever reads the message."""
        return self.imperial if self.imperial and _READER.get() == "imperial" else self.metric


_READER: ContextVar[str] = ContextVar("_READER", default="metric")


@contextmanager
def examples_in(system: str) -> Iterator[None]:
    """Let messages inside the ``with`` block show values as "metric" or "imperial" readers do."""
    token = _READER.set(system)
    try:
        yield
    finally:
        _READER.reset(token)


KINDS: dict[Kind, _KindFacts] = {
    "length": _KindFacts("a length", _LENGTH, "25 mm", "1 1/2 in"),
    "force": _KindFacts("a force", _FORCE, "45 lbf"),
    "draw weight": _KindFacts("a force", _FORCE, "45 lbf"),
    "stress": _KindFacts("a stress or modulus", _STRESS, "9.8 GPa", "1.4 Mpsi"),
    "angle": _KindFacts("an angle", _ANGLE, "6 deg"),
    "mass": _KindFacts("a mass", _MASS, "7 g", "110 gr"),
    "density": _KindFacts("a density", (-3, 1, 0, 0), "680 kg/m3"),
    "fracture energy": _KindFacts("an energy per area", (0, 1, -2, 0), "300 J/m2"),
    "spring": _KindFacts("a force per length", (0, 1, -2, 0), "5 kN/m"),
    "fraction": _KindFacts("a percentage", _RATIO, "9 %"),
    "time": _KindFacts("a time", _TIME, "5 s"),
}

WEIGHTS = {
    **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#"), "lbf"),
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kgf"),
}
"""The unit of force that people mean who write one of mass for a pull."""

_VALUE = re.compile(rf"\s*{NUMBER}\s*(?P<unit>.*?)\s*", re.DOTALL)
_FEET_AND_INCHES = re.compile(
    r"\s*(?P<feet>[+-]?[0-9]+)\s*(?:ft|feet|foot|['\u2032])[\s-]*(?P<inches>[0-9].*?)"
    r"\s*(?:in|inch|inches|[\"\u2033])\s*"
)
_SLOPE = re.compile(rf"\s*(?P<rise>{DECIMAL})\s*(?:in|:)\s*(?P<run>[0-9]+(?:\.[0-9]*)?)\s*")
_UNIT = re.compile(r"(?P<name>[A-Za-z%°]+)(?:(?:\^|\*\*)?(?P<power>-?[1-4]|[²³]))?")
_OPERATOR = re.compile(r"\s*(?P<sign>\*|·|/|\s)\s*")
_LONGEST = 60


def parse_quantity(text: str, kind: Kind) -> float:
    """Return a value with its unit in SI.

    Parameters
    ----------
    text : str
        A number, decimal (``"25.4 mm"``) or a fraction (``"1 3/8 in"``), and a unit.  A length may
        also be in feet and inches (``"5 ft 6 in"``), an angle a slope (``"1 in 25"`` or
        ``"1:25"``).  A zero needs no unit.
    kind : {"length", "force", "stress", "angle", "mass", "density", "fracture energy", "spring",
        "fraction", "time", "draw weight"}

    Returns
    -------
    float
        m, N, Pa, rad, kg, kg/m3, J/m2, N/m, s or a plain ratio.

    Raises
    ------
    UnitError
        If the text is not a number with a unit, or the unit is unknown or of another kind.

    Examples
    --------
    >>> round(parse_quantity("1 1/2 in", "length"), 6)
    0.0381
    >>> round(parse_quantity("1 in 25", "angle"), 6)
    0.039979
    >>> parse_quantity("45 lbf", "length")
    Traceback (most recent call last):
    ...
    limbfe.units.number.UnitError: is a force and must be a length, such as "25 mm"
    """
    facts = KINDS[kind]
    if len(text) > _LONGEST:
        raise UnitError(
            f'is too long for a number with a unit; write for instance "{facts.example}"'
        )
    text = spell_out(text)
    slope = _SLOPE.fullmatch(text)
    if slope:
        return _parse_slope(slope, kind)
    both = _FEET_AND_INCHES.fullmatch(text)
    if both and kind == "length" and is_number(both["inches"]):
        return _feet_and_inches(both)
    match = _VALUE.fullmatch(text)
    if match is None or lacks_fraction(match):
        raise UnitError(_not_a_value(text, facts))
    number = matched_number(match)
    unit = match["unit"]
    if not unit:
        if number == 0.0:
            return 0.0
        raise UnitError(f'has no unit; {facts.noun} is needed, such as "{facts.example}"')
    if re.match(r",[0-9]", unit):
        raise UnitError(
            "has a comma in its number; write a decimal point, and nothing between thousands"
        )
    value = number * unit_factor(unit, kind)
    if not math.isfinite(value):
        raise UnitError("is too large a number")
    return value


def force_meant(text: str) -> str | None:
    """Return a draw weight with the unit that is meant, None where it stands there already.

    Examples
    --------
    >>> force_meant("45#"), force_meant("45 lbf")
    ('45 lbf, pounds of force', None)
    """
    match = _VALUE.fullmatch(spell_out(text))
    unit = WEIGHTS.get(match["unit"].lower()) if match else None
    if match is None or unit is None:
        return None
    noun = "pounds" if unit == "lbf" else "kilograms"
    return f"{text[: match.start('unit')].strip()} {unit}, {noun} of force"


@lru_cache(maxsize=256)
def unit_factor(unit: str, kind: Kind) -> float:
    """Return what one `unit` is in SI.

    Raises
    ------
    UnitError
        If the unit is unknown or of another kind.

    Notes
    -----
    A draw weight in pounds or kilograms is a force, as every bowyer means it (`WEIGHTS`).

    Examples
    --------
    >>> unit_factor("N/mm2", "stress")
    1000000.0
    >>> unit_factor("#", "draw weight") == unit_factor("lbf", "force")
    True
    """
    facts = KINDS[kind]
    if kind == "draw weight":
        unit = WEIGHTS.get(unit.lower(), unit)
    known = unit_size(unit)
    if known is None:
        raise UnitError(_unknown_unit(unit, facts))
    factor, dimensions = known
    if dimensions != facts.dimensions:
        raise UnitError(_wrong_kind(dimensions, kind))
    return factor


def unit_size(unit: str) -> tuple[float, Dimensions] | None:
    """Return what a product of units with powers is in SI, and its dimensions; None if unknown.

    Examples
    --------
    >>> unit_size("N/mm2"), unit_size("J m")
    ((1000000.0, (-1, 1, -2, 0)), (1.0, (3, 1, -2, 0)))
    """
    size, powers, at, sign = 1.0, [0, 0, 0, 0], 0, 1
    while True:
        match = _UNIT.match(unit, at)
        if match is None or match["name"] not in _UNITS:
            return None
        factor, dimensions = _UNITS[match["name"]]
        digit = match["power"] or "1"
        power = sign * int({"²": "2", "³": "3"}.get(digit, digit))
        size = size * factor**power if power > 0 else size / factor**-power
        powers = [have + power * more for have, more in zip(powers, dimensions, strict=True)]
        at = match.end()
        if at == len(unit):
            return size, (powers[0], powers[1], powers[2], powers[3])
        operator = _OPERATOR.match(unit, at)
        if operator is None:
            return None
        sign, at = -1 if operator["sign"] == "/" else 1, operator.end()


def _parse_slope(slope: re.Match[str], kind: Kind) -> float:
    if kind != "angle":
        facts = KINDS[kind]
        raise UnitError(f'is a slope and must be {facts.noun}, such as "{facts.example}"')
    run = float(slope["run"])
    if run == 0.0:
        raise UnitError('has a slope of run 0; write for instance "1 in 25"')
    return math.atan2(float(slope["rise"]), run)


def _feet_and_inches(both: re.Match[str]) -> float:
    inches = abs(12.0 * float(both["feet"])) + parse_number(both["inches"])
    return math.copysign(0.0254 * inches, -1.0 if both["feet"][0] == "-" else 1.0)


def _not_a_value(text: str, facts: _KindFacts) -> str:
    if re.fullmatch(r"\s*[+-]?(?:nan|inf|infinity)\b.*", text, re.IGNORECASE):
        return f'is not a finite number; write for instance "{facts.example}"'
    return f'is not a number with a unit; write for instance "{facts.example}"'


_HABITS = {'"': "in", "″": "in", "'": "ft"}


def _unknown_unit(unit: str, facts: _KindFacts) -> str:
    folded = {
        name.lower(): name
        for name, (_, dimensions) in _UNITS.items()
        if dimensions == facts.dimensions
    }
    close = difflib.get_close_matches(unit.lower(), folded, n=1, cutoff=0.5)
    meant = _HABITS.get(unit.lower()) or (folded[close[0]] if close else None)
    hint = f'did you mean "{meant}"? ' if meant else ""
    shown = "".join(c if c.isprintable() else "?" for c in unit)
    return f'has an unknown unit "{shown}"; {hint}write {facts.noun} such as "{facts.example}"'


def _wrong_kind(dimensions: Dimensions, kind: Kind) -> str:
    facts = KINDS[kind]
    for other, other_facts in KINDS.items():
        if other_facts.dimensions == dimensions:
            found = other_facts.noun
            if other == "mass" and kind in ("force", "draw weight"):
                return f'is {found} and must be {facts.noun}: write "lbf" or "kgf" for a weight'
            return f'is {found} and must be {facts.noun}, such as "{facts.example}"'
    return f'is in a unit of another kind and must be {facts.noun}, such as "{facts.example}"'
