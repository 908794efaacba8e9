"""The only place that converts between the user's units and SI."""

from limbfe.units.parse import KINDS, Kind, UnitError, parse_quantity, unit_factor
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
    "parse_quantity",
    "reader_units",
    "unit_factor",
    "unit_system",
]
