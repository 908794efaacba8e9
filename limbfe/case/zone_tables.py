"""The case file's ``[[knot]]`` and ``[[decay]]`` tables."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from limbfe.case.fields import Angle, Length, LengthTable, Name, Stress, Table, wrong_value
from limbfe.errors import MaterialError
from limbfe.wood.fillers import find_filler

Face = Literal["back", "belly", "left", "right"]
Limb = Literal["upper", "lower"]
ACROSS = (
    "from the middle line of that face, towards the archer's right (on a side face: towards the "
    "back)"
)
LEAST_LEFT = 1e-3
"""Share that a patch may keep of a property: wood with less of it is a hole."""


class FillerTable(Table):
    """``filler``: what a hole was filled with."""

    E: Stress = Field(gt=0, description="Young's modulus of the filler", examples=["2.5 GPa"])
    tension: Stress = Field(
        gt=0, description="tension strength of filler or bond", examples=["40 MPa"]
    )
    shear: Stress = Field(gt=0, description="shear strength of filler or bond", examples=["20 MPa"])


class NamedFiller(FillerTable):
    """A filler that was given by its name in the built-in table, which has its figures."""

    name: str


def _by_name(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    try:
        row = find_filler(value)
    except MaterialError as error:
        raise wrong_value(str(error)) from None
    return NamedFiller.model_construct(name=row.name, E=row.E, tension=row.tension, shear=row.shear)


Filling = Annotated[FillerTable, BeforeValidator(_by_name)]


class KnotMeasures(LengthTable):
    """What a knot is, wherever it was measured."""

    name: Name = Field(description="what to call it", examples=["A"])
    face: Face = Field(description="the face on which it was measured", examples=["back"])
    diameter: Length = Field(
        gt=0, description="diameter across the grain on that face", examples=["9 mm"]
    )
    state: Literal["live", "dead", "missing", "drilled", "filled"] = Field(
        description="live (intergrown), dead (encased), missing (fallen out, fibres flow round the "
        "hole), drilled (a hole that cuts the fibres) or filled (fallen out, then filled)",
        examples=["live"],
    )
    filler: Filling | None = Field(
        None,
        description='what fills it: "epoxy", "wood dust and glue" or another of the table, or its '
        "figures",
        examples=["epoxy", '{ E = "2.5 GPa", tension = "40 MPa", shear = "20 MPa" }'],
    )


class KnotTable(KnotMeasures):
    """``[[knot]]``: one knot, where it shows and how big it is."""

    limb: Limb = Field(description="which limb", examples=["upper"])
    at: Length = Field(description="station of its middle, from the grip", examples=["310 mm"])
    across: Length = Field(description=ACROSS, examples=["-5 mm"])
    far_diameter: Length | None = Field(
        None,
        ge=0,
        description="diameter where it leaves on the opposite face, 0 if it does not",
        examples=["5 mm"],
    )
    lean: Angle = Field(
        0.0,
        description="lean of the branch towards the tip, from square to the limb",
        examples=["35 deg"],
    )


Share = Annotated[float, Field(ge=LEAST_LEFT, le=1)] | None


class MultipliersTable(Table):
    """``multipliers``: what a patch keeps of the sound wood's properties, as fractions.

    With a stage, that stage supplies those not given.
    """

    E: Share = Field(None, description="of the Young's moduli", examples=[0.9])
    G: Share = Field(None, description="of the shear moduli", examples=[0.9])
    density: Share = Field(None, description="of the density", examples=[0.97])
    tension: Share = Field(None, description="of the tension strength", examples=[0.6])
    compression: Share = Field(None, description="of the compression strength", examples=[0.8])
    shear: Share = Field(None, description="of the shear strength", examples=[0.8])
    across: Share = Field(None, description="of the strengths across the grain", examples=[0.7])
    toughness: Share = Field(None, description="of the fracture energies", examples=[0.5])


class DecayMeasures(LengthTable):
    """What a patch of rot is, wherever it was measured."""

    name: Name = Field(description="what to call it", examples=["B"])
    face: Face = Field(description="the face on which it shows", examples=["belly"])
    length: Length = Field(gt=0, description="its length along the wood", examples=["45 mm"])
    width: Length = Field(gt=0, description="its width on that face", examples=["9 mm"])
    depth: Length = Field(gt=0, description="its depth below that face", examples=["5 mm"])
    stage: Literal["incipient", "moderate", "advanced"] | None = Field(
        None, description="how far the rot has gone", examples=["incipient"]
    )
    rot: Literal["brown", "white"] | None = Field(
        None, description="the kind of rot", examples=["white"]
    )
    multipliers: MultipliersTable | None = Field(
        None, description="measured multipliers, instead of a stage or over it"
    )


class DecayTable(DecayMeasures):
    """``[[decay]]``: one patch of rot."""

    limb: Limb = Field(description="which limb", examples=["lower"])
    at: Length = Field(description="station of its middle, from the grip", examples=["640 mm"])
    across: Length = Field(description=ACROSS, examples=["4 mm"])
