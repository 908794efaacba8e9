"""What rot leaves of the wood's stiffness, strength, toughness and density."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType

import numpy as np

from limbfe.errors import MaterialError
from limbfe.wood.source import Source


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayEffect:
    """Multipliers of the sound wood's properties inside a decayed patch.

    Attributes
    ----------
    E, G : float
        Young's moduli and shear moduli.
    density : float
    tension, compression, shear : float
        Strengths along the grain; `compression` also acts on the proportional limit.
    across : float
        Tension and compression strength across the grain.
    toughness : float
        All three fracture energies.
    sources : mapping of str to Source
        One entry per multiplier.

    Raises
    ------
    MaterialError
        If a multiplier is not above 0 and at most 1.
    """

    E: float
    G: float
    density: float
    tension: float
    compression: float
    shear: float
    across: float
    toughness: float
    sources: Mapping[str, Source] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for item in fields(self):
            if item.name == "sources":
                continue
            value = getattr(self, item.name)
            if not (np.isfinite(value) and 0.0 < value <= 1.0):
                raise MaterialError(
                    f"decay multiplier {item.name} = {value:g}: must lie above 0 and at most 1; "
                    "where the wood is gone model a missing knot instead"
                )
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))
