"""The case file's ``[taper]`` table: a limb by its strategy instead of measured stations."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from limbfe.case.fields import Angle, Length, LengthTable, degrees


class TaperTable(LengthTable):
    """``[taper]``: both limbs alike, made from a strategy; stands instead of ``[limb]``.

    The limb begins in the middle of the grip, or where the fade of a stiff handle ends.
    """

    length: Length = Field(
        gt=0,
        description="from the middle of the grip to the nock, along the back",
        examples=["880 mm"],
    )
    outline: Literal["parallel", "straight", "convex"] = Field(
        description="how the width falls: parallel first and then straight, straight from the "
        "beginning (a pyramid), or convex",
        examples=["straight"],
    )
    width: Length = Field(
        gt=0, description="width where the limb begins, its widest", examples=["46 mm"]
    )
    parallel_to: Length | None = Field(
        None,
        gt=0,
        description="station up to which a parallel outline keeps its width",
        examples=["450 mm"],
    )
    tip_width: Length = Field(gt=0, description="width at the nock", examples=["12 mm"])
    thickness_law: Literal[
        "constant", "linear", "even strain", "circular bend", "elliptical bend"
    ] = Field(
        description="how the thickness falls: not at all, in a straight line, or as the width "
        "needs for even strain, for a bend to a circle or for a bend to an ellipse at full "
        "draw",
        examples=["even strain"],
    )
    thickness: Length = Field(
        gt=0, description="thickness where the limb begins", examples=["15 mm"]
    )
    tip_thickness: Length | None = Field(
        None,
        gt=0,
        description="thickness at the nock; plain tips get no thinner than this",
        examples=["9 mm"],
    )
    ellipse_ratio: float | None = Field(
        None,
        ge=0.3,
        lt=1,
        description="shorter over longer half axis of the ellipse of an elliptical bend; the less, "
        "the more the outer limb bends",
        examples=[0.7],
    )
    tips: Literal["plain", "whip", "stiff"] = Field(
        "plain",
        description="plain tips follow the law; whip tips go thinner than it, stiff tips thicker, "
        "in a straight line to tip_thickness",
        examples=["plain"],
    )
    tip_length: Length | None = Field(
        None, gt=0, description="length of whip or stiff tips", examples=["150 mm"]
    )
    grip_width: Length | None = Field(
        None, gt=0, description="width of a stiff handle", examples=["28 mm"]
    )
    grip_thickness: Length | None = Field(
        None, gt=0, description="thickness of a stiff handle", examples=["34 mm"]
    )
    fade: Length | None = Field(
        None,
        gt=0,
        description="length beyond the stiff handle over which it runs out into the limb",
        examples=["60 mm"],
    )
    sapwood: Length | None = Field(
        None, gt=0, description="depth of the sapwood, alike everywhere", examples=["4 mm"]
    )
    lean: Annotated[Angle, BeforeValidator(degrees)] | None = Field(
        None,
        description="lean of the rings in degrees, positive when the sapwood is thicker on the "
        "archer's right",
        examples=[2],
    )
    backing: Length | None = Field(
        None, gt=0, description="thickness of the strip glued on the back", examples=["3 mm"]
    )
    reflex: Length | None = Field(
        None,
        description="how far the unstrung tip lies ahead of the line tangent to the grip; the back "
        "runs there in a parabola",
        examples=["25 mm"],
    )
