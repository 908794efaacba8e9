"""The case file: every table and key, with its unit, meaning and an example.

The models describe the file and hold its values in SI; `limbfe.case.build` turns them into the
objects the physics knows.  Which keys were given, and which stand at their default, is in each
model's ``model_fields_set``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from limbfe.case.fields import (
    Angle,
    Force,
    Length,
    LengthOrFlat,
    LengthTable,
    Mass,
    Name,
    Prose,
    Spring,
    Table,
    Time,
    Title,
    degrees,
)
from limbfe.case.taper_tables import TaperTable
from limbfe.case.wood_tables import WoodsTable
from limbfe.case.zone_tables import DecayTable, KnotTable
from limbfe.stave.columns import NAMED


def _word_or_table(value: Any) -> str:
    return "<table>" if isinstance(value, dict) else "<word>"


class GrainTable(LengthTable):
    """``[grain]``: how the grain runs through the stave; straight where nothing is said."""

    ring_radius: Length | None = Field(
        None, gt=0, description="from the pith to the back", examples=["110 mm"]
    )
    run_out: Angle = Field(
        0.0, description="slope of the grain between back and belly", examples=["1 in 25"]
    )
    sideways: Angle = Field(0.0, description="slope of the grain in the face", examples=["2 deg"])
    spiral: Angle = Field(0.0, description="slope of the spiral grain", examples=["3 deg"])


class CrownTable(Table):
    """``back = { crown = ... }``."""

    crown: Length = Field(gt=0, description="radius of the arched back", examples=["90 mm"])


class CornerTable(Table):
    """``belly = { corner = ... }``."""

    corner: Length = Field(gt=0, description="radius of the belly's corners", examples=["4 mm"])


class SectionTable(Table):
    """``[section]``: the outline of the limb's cross-section."""

    back: Annotated[
        Annotated[Literal["flat", "crowned"], Tag("<word>")]
        | Annotated[CrownTable, Tag("<table>")],
        Discriminator(_word_or_table),
    ] = Field(
        description='"flat", { crown = "90 mm" }, or "crowned" as the limbs\' crown column says',
        examples=["flat"],
    )
    belly: Annotated[
        Annotated[Literal["flat", "round"], Tag("<word>")] | Annotated[CornerTable, Tag("<table>")],
        Discriminator(_word_or_table),
    ] = Field(description='"flat", "round" or { corner = "4 mm" }', examples=["round"])


Lengths = Annotated[tuple[Length, ...], Field(strict=False)]
Angles = Annotated[tuple[Angle, ...], Field(strict=False), BeforeValidator(degrees)]
Radii = Annotated[tuple[LengthOrFlat, ...], Field(strict=False)]


def _column(name: str) -> Any:
    """Return the field of a column of the table of columns."""
    column = NAMED[name]
    default = ... if column.default is None else None
    return Field(default, description=column.about, examples=[column.example])


class LimbTable(LengthTable):
    """``[limb.both]``, ``[limb.upper]``, ``[limb.lower]``: what was measured at each station."""

    table: Name | None = Field(
        None, description="CSV file beside the case that holds the columns", examples=["stave.csv"]
    )
    station: Lengths = _column("station")
    width: Lengths = _column("width")
    thickness: Lengths = _column("thickness")
    sapwood: Lengths | None = _column("sapwood")
    lean: Angles | None = _column("lean")
    backing: Lengths | None = _column("backing")
    reflex: Lengths | None = _column("reflex")
    sideways: Lengths | None = _column("sideways")
    twist: Angles | None = _column("twist")
    crown: Radii | None = _column("crown")
    ring_radius: Lengths | None = _column("ring_radius")
    run_out: Angles | None = _column("run_out")
    sideways_grain: Angles | None = _column("sideways_grain")
    spiral: Angles | None = _column("spiral")


class LimbsTable(Table):
    """``[limb]``: both limbs alike, or upper and lower."""

    both: LimbTable | None = Field(None, description="two limbs alike")
    upper: LimbTable | None = Field(None, description="the upper limb")
    lower: LimbTable | None = Field(None, description="the lower limb")


class GripTable(LengthTable):
    """``[grip]``: the handle and how it is held."""

    stiff_length: Length = Field(
        ge=0,
        description="length of handle that does not bend, 0 for a bow that bends through the hand",
        examples=["100 mm"],
    )
    hold: Literal["hand", "clamp", "tiller"] = Field(
        "hand", description="how the grip is held", examples=["hand"]
    )
    hand_at: Length = Field(
        0.0, description="where the hand presses, from the middle of the grip", examples=["-20 mm"]
    )
    arrow_at: Length = Field(
        0.0, description="where the arrow passes, from the middle of the grip", examples=["25 mm"]
    )

    @property
    def half(self) -> float:
        """Where the stiff handle ends, m from its middle."""
        return self.stiff_length / 2.0


class StringTable(LengthTable):
    """``[string]``: how long or how high, how stiff, how heavy."""

    brace_height: Length | None = Field(
        None,
        gt=0,
        description="from the belly at the middle of the grip to the string",
        examples=["150 mm"],
    )
    length: Length | None = Field(
        None, gt=0, description="unstretched length of the string", examples=["1.68 m"]
    )
    stiffness: Force | None = Field(
        None, gt=0, description="axial stiffness EA: force per unit of strain", examples=["40 kN"]
    )
    material: Name | None = Field(
        None,
        description='its fibre: "polyester" (or "dacron"), "linen" or "uhmwpe" (or "hmpe")',
        examples=["polyester"],
    )
    strands: int | None = Field(
        None,
        ge=1,
        le=1000,
        description="number of strands: threads of bow-string yarn that break at 50 lbf each in "
        "polyester, 105 lbf in uhmwpe; linen threads of 11 lbf",
        examples=[12],
    )
    mass: Mass | None = Field(None, ge=0, description="mass of the string", examples=["7 g"])
    serving: Mass = Field(
        0.0,
        ge=0,
        le=0.05,
        description="mass of the serving, wound round the string where the arrow sits",
        examples=["1 g"],
    )
    diameter: Length | None = Field(
        None,
        gt=0,
        le=0.1,
        description="of the string, for its drag in the air during a shot",
        examples=["2.5 mm"],
    )
    strung: Time | None = Field(
        None,
        gt=0,
        le=1e9,
        description="time for which the bow stays strung; strength at brace and creep follow",
        examples=["4 h"],
    )
    nock_offset: Length = Field(
        0.0,
        description="how far towards the back of mid-thickness the string acts at the nocks; minus "
        "half the tip's thickness ties it on the belly, from anywhere else a groove leads it there",
        examples=["-3 mm"],
    )


class DrawTable(LengthTable):
    """``[draw]``: how far the bow is drawn."""

    length: Length = Field(
        gt=0,
        description="from the back at the middle of the grip to the string at full draw",
        examples=["28 in"],
    )
    steps: int = Field(
        30,
        ge=8,
        le=1000,
        description="number of states from brace to full draw; with 8 the work of the draw is "
        "known to 2 in 10,000",
        examples=[30],
    )
    held: Time | None = Field(
        None,
        gt=0,
        le=1e9,
        description="time for which full draw is held; strengths follow, 6 % a decade of time",
        examples=["5 s"],
    )


class ArrowTable(Table):
    """``[arrow]``: what is shot."""

    mass: Mass = Field(
        gt=0, le=2.0, description="mass of the whole arrow", examples=["30 g", "450 gr"]
    )
    shaft_diameter: Length | None = Field(
        None,
        gt=0,
        le=0.05,
        description="of the shaft, for the flight",
        examples=["8 mm", "5/16 in"],
    )
    length: Length | None = Field(
        None,
        gt=0,
        le=2.0,
        description="from the bottom of the nock to the point; a caution follows if it is drawn "
        "off its rest",
        examples=["29 in"],
    )
    drag_coefficient: float | None = Field(
        None,
        ge=0,
        le=20,
        description="of the flying arrow, on the shaft's cross-section: 1.5 to 2.6 for slim ones, "
        "more with large feathers",
        examples=[3.0],
    )


class TipsTable(Table):
    """``[tips]``: what sits on the tips beside the wood."""

    mass: Mass = Field(
        ge=0, le=0.2, description="mass of each tip's nock overlay", examples=["4 g"]
    )


class ShotTable(Table):
    """``[shot]``: what is lost in a shot."""

    loss_factor: float | None = Field(
        None,
        ge=0,
        le=0.5,
        description="of the wood along the grain: energy lost in a cycle over 2 pi times the most "
        "stored, at any frequency",
        examples=[0.01],
    )
    string_loss_factor: float = Field(
        0.0,
        ge=0,
        le=1.0,
        description="of the string, at the braced bow's slowest vibration, and more at faster ones",
        examples=[0.03],
    )
    hand_mass: Mass | None = Field(
        None,
        ge=0,
        le=20.0,
        description="of hand and forearm that move with the grip; with hand_stiffness the grip is "
        "free to move, else it is held fast",
        examples=["1.5 kg"],
    )
    hand_stiffness: Spring | None = Field(
        None,
        ge=0,
        le=1e7,
        description="of the arm behind the grip: force over movement",
        examples=["5 kN/m"],
    )


class AnalysisTable(Table):
    """``[analysis]``: how fine the finite elements are."""

    elements_per_limb: int = Field(
        12, ge=4, le=400, description="beam elements in each limb", examples=[16]
    )
    fineness: float = Field(
        0.75, ge=0.5, le=8, description="multiplies the divisions of the section mesh", examples=[2]
    )


class CaseFile(Table):
    """The whole file."""

    title: Title = Field(
        description="what the case is called", examples=["Wych elm longbow, course stave 4"]
    )
    question: Prose = Field(
        "", description="what it asks", examples=["Does the knot above the grip survive 28 in?"]
    )
    wood: WoodsTable = Field(description="the woods of the stave")
    grain: GrainTable = Field(default_factory=GrainTable, description="how the grain runs")
    section: SectionTable = Field(description="the outline of the cross-section")
    limb: LimbsTable = Field(
        default_factory=LimbsTable, description="the measured limbs, or those a taper stands for"
    )
    taper: TaperTable | None = Field(
        None, description="both limbs by their strategy, instead of measured stations"
    )
    grip: GripTable = Field(description="the handle and how it is held")
    string: StringTable = Field(description="the string")
    draw: DrawTable = Field(description="how far the bow is drawn")
    analysis: AnalysisTable = Field(
        default_factory=AnalysisTable, description="fineness of the finite elements"
    )
    arrow: ArrowTable | None = Field(None, description="what is shot")
    tips: TipsTable | None = Field(None, description="what sits on the tips")
    shot: ShotTable = Field(default_factory=ShotTable, description="what is lost in a shot")
    knot: Annotated[tuple[KnotTable, ...], Field(strict=False)] = Field(
        (), max_length=200, description="knots"
    )
    decay: Annotated[tuple[DecayTable, ...], Field(strict=False)] = Field(
        (), max_length=200, description="patches of rot"
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A case file that was read and found sound.

    Attributes
    ----------
    path : Path
        As it was given; messages and results name it so.
    digest : str
        SHA-256 of the file's bytes and of every table beside it, in hexadecimal.
    file : CaseFile
        Its content, in SI.
    """

    path: Path
    digest: str
    file: CaseFile

    @property
    def title(self) -> str:
        """What the case is called."""
        return self.file.title

    @property
    def question(self) -> str:
        """What the case asks; empty if it does not say."""
        return self.file.question
