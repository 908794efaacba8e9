"""The only place that converts between the user's units and SI."""

from limbfe.units.number import UnitError, is_number, parse_number
from limbfe.units.parse import KINDS, Kind, force_meant, parse_quantity, unit_factor
from limbfe.units.sentence import (
    DrawReach,
    Force,
    Length,
    Quantity,
    Sentence,
    ToolLength,
    Words,
    both,
    both_forces,
    both_lengths,
    join,
    say,
)
from limbfe.units.show import IMPERIAL, METRIC, UnitName, UnitSystem, ruler_inches, unit_system

__all__ = [
    "IMPERIAL",
    "KINDS",
    "METRIC",
    "DrawReach",
    "Force",
    "Kind",
    "Length",
    "Quantity",
    "Sentence",
    "ToolLength",
    "UnitError",
    "UnitName",
    "UnitSystem",
    "Words",
    "both",
    "both_forces",
    "both_lengths",
    "force_meant",
    "is_number",
    "join",
    "parse_number",
    "parse_quantity",
    "ruler_inches",
    "say",
    "unit_factor",
    "unit_system",
]
