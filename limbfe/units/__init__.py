"""The only place that converts between the user's units and SI."""

from limbfe.units.parse import KINDS, Kind, UnitError, parse_quantity, unit_factor
from limbfe.units.show import (
    IMPERIAL,
    METRIC,
    UnitName,
    UnitSystem,
    both_lengths,
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
    "both_lengths",
    "parse_quantity",
    "unit_factor",
    "unit_system",
]
