"""Values with their units, as the user writes them, into SI.

Pint gets a registry of the few units a bow needs, so that an unknown or misspelt unit cannot slip
through as an exotic one.  It is loaded, which takes longer than reading a case, only for a unit
that is not one of the plain ones listed here.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

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

if TYPE_CHECKING:
    from pint import UnitRegistry

    Registry = UnitRegistry[Any]

Kind = Literal[
    "length", "force", "stress", "angle", "mass", "density", "fracture energy", "fraction", "time"
]

_DEFINITIONS = """
meter = [length] = m = metre
millimeter = 1e-3 meter = mm = millimetre
centimeter = 1e-2 meter = cm = centimetre
inch = 0.0254 meter = in = inches
foot = 12 inch = ft = feet
second = [time] = s
minute = 60 second = min
hour = 3600 second = h = hours
day = 24 hour = days
kilogram = [mass] = kg
gram = 1e-3 kilogram = g
milligram = 1e-6 kilogram = mg
pound = 0.45359237 kilogram = lb
ounce = 0.0625 pound = oz
grain = 64.79891e-6 kilogram = gr
tonne = 1e3 kilogram = t
newton = kilogram * meter / second ** 2 = N
kilonewton = 1e3 newton = kN
kilogram_force = 9.80665 newton = kgf
pound_force = 4.4482216152605 newton = lbf
pascal = newton / meter ** 2 = Pa
kilopascal = 1e3 pascal = kPa
megapascal = 1e6 pascal = MPa
gigapascal = 1e9 pascal = GPa
psi = pound_force / inch ** 2
ksi = 1e3 psi
msi = 1e6 psi = Mpsi
joule = newton * meter = J
kilojoule = 1e3 joule = kJ
radian = [angle] = rad
degree = 0.017453292519943295 radian = deg = degrees = °
one = []
percent = 1e-2 one = %
"""
_UNITS = tuple(
    name
    for line in _DEFINITIONS.strip().splitlines()
    for name in re.split(r"\s*=\s*", line)
    if re.fullmatch(r"[A-Za-z%°]\w*", name) and name != "one"
)

_PLAIN: dict[Kind, dict[str, float]] = {
    "length": {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254},
    "force": {"N": 1.0, "kN": 1e3, "lbf": 4.4482216152605},
    "stress": {"MPa": 1e6, "GPa": 1e9},
    "angle": {"deg": 0.017453292519943295},
    "mass": {"g": 1e-3, "kg": 1.0},
    "density": {"kg/m3": 1.0},
    "fracture energy": {"J/m2": 1.0, "kJ/m2": 1e3},
    "fraction": {"%": 1e-2},
    "time": {"s": 1.0, "h": 3600.0},
}


@dataclass(frozen=True, slots=True)
class _KindFacts:
    """What a kind of value is called, its SI unit and a value of it as a user writes one."""

    noun: str
    si: str
    example: str


KINDS: dict[Kind, _KindFacts] = {
    "length": _KindFacts("a length", "meter", "25 mm"),
    "force": _KindFacts("a force", "newton", "45 lbf"),
    "stress": _KindFacts("a stress or modulus", "pascal", "9.8 GPa"),
    "angle": _KindFacts("an angle", "radian", "6 deg"),
    "mass": _KindFacts("a mass", "kilogram", "7 g"),
    "density": _KindFacts("a density", "kilogram / meter ** 3", "680 kg/m3"),
    "fracture energy": _KindFacts("an energy per area", "joule / meter ** 2", "300 J/m2"),
    "fraction": _KindFacts("a percentage", "one", "9 %"),
    "time": _KindFacts("a time", "second", "5 s"),
}

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
    kind : {"length", "force", "stress", "angle", "mass", "density", "fracture energy", "fraction",
        "time"}

    Returns
    -------
    float
        m, N, Pa, rad, kg, kg/m3, J/m2, s or a plain ratio.

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


@lru_cache(maxsize=256)
def unit_factor(unit: str, kind: Kind) -> float:
    """Return what one `unit` is in SI.

    Raises
    ------
    UnitError
        If the unit is unknown or of another kind.

    Examples
    --------
    >>> unit_factor("N/mm2", "stress")
    1000000.0
    """
    plain = _PLAIN[kind].get(unit)
    return _factor_by_pint(unit, kind) if plain is None else plain


def _factor_by_pint(unit: str, kind: Kind) -> float:
    facts = KINDS[kind]
    registry = _registry()
    quantity = registry.Quantity(1.0, _expression(unit, facts))
    target = registry.Unit(facts.si)
    if quantity.dimensionality != target.dimensionality:
        raise UnitError(_wrong_kind(quantity.dimensionality, kind))
    return float(quantity.to(target).magnitude)


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


def _expression(unit: str, facts: _KindFacts) -> str:
    """Return `unit` in Pint's grammar.

    Only products of known units with powers up to 4 get through: Pint would otherwise evaluate
    whatever arithmetic the text holds, towers of powers included.
    """
    parts: list[str] = []
    at = 0
    while at < len(unit):
        if parts:
            operator = _OPERATOR.match(unit, at)
            if operator is None:
                raise UnitError(_unknown_unit(unit, facts))
            parts.append("/" if operator["sign"] == "/" else "*")
            at = operator.end()
        factor = _UNIT.match(unit, at)
        if factor is None or factor["name"] not in _UNITS:
            raise UnitError(_unknown_unit(unit, facts))
        power = {"²": "2", "³": "3", None: "1"}.get(factor["power"], factor["power"])
        parts.append(f"{_NAMES.get(factor['name'], factor['name'])} ** {power}")
        at = factor.end()
    return " ".join(parts)


# Signs that are not identifiers in Pint's grammar.
_NAMES = {"%": "percent", "°": "degree"}

_HABITS = {'"': "in", "″": "in", "'": "ft", "#": "lbf", "lbs": "lbf", "pounds": "lbf"}


def _unknown_unit(unit: str, facts: _KindFacts) -> str:
    registry = _registry()
    wanted = registry.Unit(facts.si).dimensionality
    folded = {
        name.lower(): name
        for name in _UNITS
        if registry.Unit(_NAMES.get(name, name)).dimensionality == wanted
    }
    close = difflib.get_close_matches(unit.lower(), folded, n=1, cutoff=0.5)
    meant = _HABITS.get(unit.lower()) or (folded[close[0]] if close else None)
    hint = f'did you mean "{meant}"? ' if meant else ""
    shown = "".join(c if c.isprintable() else "?" for c in unit)
    return f'has an unknown unit "{shown}"; {hint}write {facts.noun} such as "{facts.example}"'


def _wrong_kind(dimensionality: object, kind: Kind) -> str:
    facts = KINDS[kind]
    registry = _registry()
    found = "in a unit of another kind"
    for other, other_facts in KINDS.items():
        if registry.Unit(other_facts.si).dimensionality == dimensionality:
            found = other_facts.noun
            if (other, kind) == ("mass", "force"):
                return f'is {found} and must be {facts.noun}: write "lbf" or "kgf" for a weight'
    return f'is {found} and must be {facts.noun}, such as "{facts.example}"'


@lru_cache(maxsize=1)
def _registry() -> Registry:
    import pint

    registry: Registry = pint.UnitRegistry(None)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry
