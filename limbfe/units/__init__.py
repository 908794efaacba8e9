"""The only place that converts between the user's units and SI."""

from limbfe.units.number import UnitError, is_number, parse_number
from limbfe.units.parse import KINDS, Kind, parse_quantity, unit_factor
from limbfe.units.show import (
    IMPERIAL,
    METRIC,
    UnitName,
    UnitSystem,
    both,
    both_forces,
    both_lengths,
    reader_units,
    unit_system,
)

__all__ = [
    "IMPERIAL",
    "KINDS",
    "METRIC",
    "Kind",
    "UnitError",
    "UnitName",
    "UnitSystem",
    "both",
    "both_forces",
    "both_lengths",
    "is_number",
    "parse_number",
    "parse_quantity",
    "reader_units",
    "unit_factor",
    "unit_system",
]
