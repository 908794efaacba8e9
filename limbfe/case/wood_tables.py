"""The case file's ``[wood.*]`` tables."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from limbfe.case.fields import Density, FractureEnergy, Name, Percent, Stress, Table

Property = Literal[
    "E_L",
    "E_R",
    "E_T",
    "G_LR",
    "G_LT",
    "G_RT",
    "nu_LR",
    "nu_LT",
    "nu_RT",
    "density",
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
]
"""Names of a wood's properties, those of `limbfe.wood.wood.PROPERTIES`."""


class WoodTable(Table):
    """``[wood.*]``: one wood, from a row of the built-in table, from given values, or both."""

    species: Name | None = Field(
        None,
        description="a wood of the built-in table (`limbfe woods`); with its density any other",
        examples=["rock elm"],
    )
    moisture: Percent | None = Field(
        None,
        ge=0,
        le=30,
        description="moisture content, per cent of the oven-dry mass",
        examples=[9],
    )
    E_L: Stress | None = Field(
        None, gt=0, description="Young's modulus along the grain", examples=["10.2 GPa"]
    )
    E_R: Stress | None = Field(
        None, gt=0, description="Young's modulus from pith to bark", examples=["1.2 GPa"]
    )
    E_T: Stress | None = Field(
        None, gt=0, description="Young's modulus along the ring", examples=["0.7 GPa"]
    )
    G_LR: Stress | None = Field(
        None, gt=0, description="shear modulus, grain and radius", examples=["1.0 GPa"]
    )
    G_LT: Stress | None = Field(
        None, gt=0, description="shear modulus, grain and ring", examples=["0.8 GPa"]
    )
    G_RT: Stress | None = Field(
        None, gt=0, description="shear modulus, radius and ring", examples=["0.3 GPa"]
    )
    nu_LR: float | None = Field(
        None,
        gt=-1,
        lt=2,
        description="contraction along the radius under load along the grain",
        examples=[0.37],
    )
    nu_LT: float | None = Field(
        None,
        gt=-1,
        lt=2,
        description="contraction along the ring under load along the grain",
        examples=[0.47],
    )
    nu_RT: float | None = Field(
        None,
        gt=-1,
        lt=2,
        description="contraction along the ring under load along the radius",
        examples=[0.6],
    )
    density: Density | None = Field(
        None, gt=0, description="density at that moisture", examples=["680 kg/m3"]
    )
    tension_strength: Stress | None = Field(
        None, gt=0, description="tension strength along the grain", examples=["120 MPa"]
    )
    compression_strength: Stress | None = Field(
        None, gt=0, description="crushing strength along the grain", examples=["50 MPa"]
    )
    compression_proportional_limit: Stress | None = Field(
        None,
        gt=0,
        description="where compression along the grain leaves the straight line",
        examples=["40 MPa"],
    )
    compression_plateau: Stress | None = Field(
        None,
        gt=0,
        description="what a crushed belly goes on bearing along the grain",
        examples=["45 MPa"],
    )
    shear_strength: Stress | None = Field(
        None, gt=0, description="shear strength along the grain", examples=["13 MPa"]
    )
    bending_strength: Stress | None = Field(
        None, gt=0, description="modulus of rupture", examples=["100 MPa"]
    )
    tension_strength_across: Stress | None = Field(
        None, gt=0, description="tension strength across the grain", examples=["5 MPa"]
    )
    compression_strength_across: Stress | None = Field(
        None, gt=0, description="compression strength across the grain", examples=["8 MPa"]
    )
    toughness_fibre: FractureEnergy | None = Field(
        None, gt=0, description="energy to break the fibres", examples=["10 kJ/m2"]
    )
    toughness_opening: FractureEnergy | None = Field(
        None, gt=0, description="energy to split along the grain, opening", examples=["350 J/m2"]
    )
    toughness_sliding: FractureEnergy | None = Field(
        None, gt=0, description="energy to split along the grain, sliding", examples=["1 kJ/m2"]
    )
    cov: dict[Property, Annotated[float, Field(ge=0, le=1)]] = Field(
        default_factory=dict,
        description="coefficients of variation of the properties, fractions of the mean",
        examples=["{ E_L = 0.2 }"],
    )


class WoodsTable(Table):
    """``[wood]``: whole, or heartwood with sapwood if it differs; backing if one is glued on."""

    whole: WoodTable | None = Field(None, description="the wood of the whole stave")
    heartwood: WoodTable | None = Field(None, description="the wood below the sapwood")
    sapwood: WoodTable | None = Field(None, description="the wood under the back")
    backing: WoodTable | None = Field(None, description="the strip glued on the back")
