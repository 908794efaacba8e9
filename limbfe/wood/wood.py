"""One piece of wood: its density, stiffness, strength and where each figure comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from limbfe.errors import MaterialError
from limbfe.units import Words
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.source import Source
from limbfe.wood.strength import Strength

ELASTIC_PROPERTIES = (
    "E_L",
    "E_R",
    "E_T",
    "G_LR",
    "G_LT",
    "G_RT",
    "nu_LR",
    "nu_LT",
    "nu_RT",
)
STRENGTH_PROPERTIES = (
    "tension_strength",
    "compression_strength",
    "compression_proportional_limit",
    "compression_plateau",
    "shear_strength",
    "bending_strength",
    "tension_strength_across",
    "compression_strength_across",
    "toughness_fibre",
    "toughness_opening",
    "toughness_sliding",
)
PROPERTIES = (*ELASTIC_PROPERTIES, "density", *STRENGTH_PROPERTIES)
"""Every property a wood must have, by its name in a case file."""

SCATTERED = (
    "E_L",
    "tension_strength",
    "tension_strength_across",
    "shear_strength",
    "compression_strength",
)
"""Properties whose coefficient of variation acts on a result: the chance of failure of a zone, and
what a fit allows E_L and the crushing strength of the belly to be."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wood:
    """A homogeneous wood at one moisture content.

    Attributes
    ----------
    name : str
        What the case calls it: heartwood, sapwood, backing, whole.
    species : str or None
        Name of the species row it was built from; None if everything was given.
    moisture : float or None
        Moisture content, fraction of the oven-dry mass; None if everything was given and it was
        not stated.
    density : float, kg/m3, at that moisture
    elasticity : Elasticity, Pa
    strength : Strength, Pa and J/m2
    sources : mapping of str to Source
        One entry for each name in `PROPERTIES`, and ``moisture`` when it was not given.
    cov_sources : mapping of str to Source
        Origin of the coefficients of variation in ``strength.cov``.
    notes : tuple of str
        Cautions about the species row: disagreements between sources, what was not found.
    by_density : bool
        True if its figures are those of an average wood as dense.
    """

    name: str
    species: str | None
    moisture: float | None
    density: float
    elasticity: Elasticity
    strength: Strength
    sources: Mapping[str, Source]
    cov_sources: Mapping[str, Source] = field(default_factory=dict)
    notes: tuple[Words, ...] = ()
    by_density: bool = False

    def __post_init__(self) -> None:
        if not self.density > 0.0:
            raise MaterialError(
                f"{self.name}: density = {self.density:g} kg/m3: must be above zero"
            )
        missing = [name for name in PROPERTIES if name not in self.sources]
        if missing:
            raise MaterialError(f"{self.name}: no source stated for {', '.join(missing)}")
        object.__setattr__(self, "sources", MappingProxyType(dict(self.sources)))
        object.__setattr__(self, "cov_sources", MappingProxyType(dict(self.cov_sources)))
