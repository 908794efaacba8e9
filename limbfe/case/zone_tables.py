"""The case file's ``[[knot]]`` and ``[[decay]]`` tables."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from limbfe.case.fields import Length, LengthTable, Name, Stress, Table


class FillerTable(Table):
    """``filler``: what a hole was filled with."""

    E: Stress = Field(gt=0, description="Young's modulus of the filler", examples=["2.5 GPa"])
    tension: Stress = Field(
        gt=0, description="tension strength of filler or bond", examples=["40 MPa"]
    )
    shear: Stress = Field(gt=0, description="shear strength of filler or bond", examples=["20 MPa"])


class KnotTable(LengthTable):
    """``[[knot]]``: one knot, where it shows and how big it is."""

    name: Name = Field(description="what to call it", examples=["A"])
    limb: Literal["upper", "lower"] = Field(description="which limb", examples=["upper"])
    at: Length = Field(description="station of its middle, from the grip", examples=["310 mm"])
    face: Literal["back", "belly", "left", "right"] = Field(
        description="the face on which it was measured", examples=["back"]
    )
    across: Length = Field(
        description="from the middle line of that face, towards the archer's right (on a side "
        "face: towards the back)",
        examples=["-5 mm"],
    )
    diameter: Length = Field(
        gt=0, description="diameter across the grain on that face", examples=["9 mm"]
    )
    far_diameter: Length | None = Field(
        None,
        ge=0,
        description="diameter where it leaves on the opposite face, 0 if it does not",
        examples=["5 mm"],
    )
    state: Literal["live", "dead", "missing", "filled"] = Field(
        description="live (intergrown), dead (encased), missing (a hole) or filled",
        examples=["live"],
    )
    filler: FillerTable | None = Field(
        None,
        description="what fills it",
        examples=['{ E = "2.5 GPa", tension = "40 MPa", shear = "20 MPa" }'],
    )


class MultipliersTable(Table):
    """``multipliers``: what a patch keeps of the sound wood's properties, as fractions.

    With a stage, that stage supplies those not given.
    """

    E: float | None = Field(None, gt=0, le=1, description="of the Young's moduli", examples=[0.9])
    G: float | None = Field(None, gt=0, le=1, description="of the shear moduli", examples=[0.9])
    density: float | None = Field(None, gt=0, le=1, description="of the density", examples=[0.97])
    tension: float | None = Field(
        None, gt=0, le=1, description="of the tension strength", examples=[0.6]
    )
    compression: float | None = Field(
        None, gt=0, le=1, description="of the compression strength", examples=[0.8]
    )
    shear: float | None = Field(
        None, gt=0, le=1, description="of the shear strength", examples=[0.8]
    )
    across: float | None = Field(
        None, gt=0, le=1, description="of the strengths across the grain", examples=[0.7]
    )
    toughness: float | None = Field(
        None, gt=0, le=1, description="of the fracture energies", examples=[0.5]
    )


class DecayTable(LengthTable):
    """``[[decay]]``: one patch of rot."""

    name: Name = Field(description="what to call it", examples=["B"])
    limb: Literal["upper", "lower"] = Field(description="which limb", examples=["lower"])
    at: Length = Field(description="station of its middle, from the grip", examples=["640 mm"])
    face: Literal["back", "belly", "left", "right"] = Field(
        description="the face on which it shows", examples=["belly"]
    )
    across: Length = Field(
        description="from the middle line of that face, towards the archer's right (on a side "
        "face: towards the back)",
        examples=["4 mm"],
    )
    length: Length = Field(gt=0, description="its length along the limb", examples=["45 mm"])
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
