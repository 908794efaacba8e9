"""What the wood is: elastic constants, strengths, moisture, decay, species table."""

from limbfe.wood.belly import (
    BellyLaw,
    bending_strength,
    clear_tension,
    crushed_strain,
    plateau_stress,
    yield_points,
)
from limbfe.wood.decay import DecayEffect, decay_effect, decay_laws, given_decay_effect
from limbfe.wood.duration import load_duration_factor
from limbfe.wood.elasticity import (
    Elasticity,
    compliance,
    isotropic,
    modulus_along,
    scale_elasticity,
    stiffness,
)
from limbfe.wood.lookup import find_species, species_names
from limbfe.wood.moisture import adjust_density, power_law, table_factor
from limbfe.wood.source import Source
from limbfe.wood.species import make_wood
from limbfe.wood.strength import (
    HANKINSON_EXPONENTS,
    Strength,
    hankinson,
)
from limbfe.wood.strings import (
    StringMaterial,
    string_breaking_force,
    string_mass,
    string_material,
    string_stiffness,
)
from limbfe.wood.table import Figure, SpeciesRow
from limbfe.wood.wood import PROPERTIES, Wood

__all__ = [
    "HANKINSON_EXPONENTS",
    "PROPERTIES",
    "BellyLaw",
    "DecayEffect",
    "Elasticity",
    "Figure",
    "Source",
    "SpeciesRow",
    "Strength",
    "StringMaterial",
    "Wood",
    "adjust_density",
    "bending_strength",
    "clear_tension",
    "compliance",
    "crushed_strain",
    "decay_effect",
    "decay_laws",
    "find_species",
    "given_decay_effect",
    "hankinson",
    "isotropic",
    "load_duration_factor",
    "make_wood",
    "modulus_along",
    "plateau_stress",
    "power_law",
    "scale_elasticity",
    "species_names",
    "stiffness",
    "string_breaking_force",
    "string_mass",
    "string_material",
    "string_stiffness",
    "table_factor",
    "yield_points",
]
