"""Read-only mappings, which woods hold, as something that can be handed to other processes."""

from __future__ import annotations

import copyreg
from types import MappingProxyType
from typing import Any


def _read_only(given: dict[Any, Any]) -> Any:
    return MappingProxyType(given)


def hand_on_read_only() -> None:
    """Have `pickle` take read-only mappings, which Python alone does not."""
    copyreg.pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))
