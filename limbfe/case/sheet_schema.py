"""The stave sheet: every table and key, with its unit, meaning and an example.

A stave lies on the bench, back up.  Stations run from its butt end along a line snapped on the
back; left and right are those of somebody who stands at the butt and looks towards the top.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from limbfe.case.fields import Angle, Force, Length, LengthTable, Name, Prose, Table, Title, degrees
from limbfe.case.schema import Case, DrawTable, GripTable, SectionTable, StringTable
from limbfe.case.taper_tables import TaperTable
from limbfe.case.wood_tables import WoodsTable
from limbfe.case.zone_tables import DecayMeasures, KnotMeasures

Lengths = Annotated[tuple[Length, ...], Field(strict=False)]
Angles = Annotated[tuple[Angle, ...], Field(strict=False), BeforeValidator(degrees)]
ACROSS = "from the snapped line to the right; on a side face from the back down"


class SheetGrainTable(Table):
    """``[grain]``: what the columns of the stave do not say."""

    spiral: Angle = Field(
        0.0,
        description="slope of the spiral grain on the back, positive to the right going up",
        examples=["2 deg"],
    )


class StaveTable(LengthTable):
    """``[stave]``: what was measured at each station."""

    table: Name | None = Field(
        None,
        description="CSV file beside the sheet that holds the columns",
        examples=["pole.csv"],
    )
    station: Lengths = Field(
        description="distances from the butt end along the snapped line, the top end last",
        examples=["[0, 500, 1000, 1500, 2000]"],
    )
    left: Lengths = Field(
        description="sound wood to the left of the line", examples=["[38, 36, 30, 24, 28]"]
    )
    right: Lengths = Field(
        description="sound wood to the right of the line", examples=["[34, 36, 38, 40, 30]"]
    )
    depth: Lengths = Field(
        description="wood under the line, from the back down", examples=["[62, 60, 58, 55, 52]"]
    )
    left_below: Lengths | None = Field(
        None,
        description="sound wood to the left at the bottom, where the split face leans",
        examples=["[30, 30, 25, 20, 22]"],
    )
    right_below: Lengths | None = Field(
        None,
        description="sound wood to the right at the bottom, where the split face leans",
        examples=["[30, 30, 30, 32, 25]"],
    )
    rise: Lengths | None = Field(
        None,
        description="how far the back lies above a straight edge laid on both ends",
        examples=["[0, 3, 6, 4, 0]"],
    )
    fibre: Lengths | None = Field(
        None,
        description="how far one fibre, followed from the butt, has wandered to the right",
        examples=["[0, 2, 5, 8, 9]"],
    )
    fibre_depth: Lengths | None = Field(
        None,
        description="how far one fibre, followed from the butt, has sunk below the back",
        examples=["[0, 0, 1, 1, 2]"],
    )
    twist: Angles | None = Field(
        None,
        description="how far the back leans to the right against the butt, in degrees",
        examples=["[0, 1, 3, 6, 8]"],
    )
    sapwood: Lengths | None = Field(
        None, description="depth of the sapwood below the back", examples=["[9, 9, 8, 7, 7]"]
    )
    pith: Lengths | None = Field(
        None,
        description="depth of the pith below the back",
        examples=["[88, 86, 82, 76, 72]"],
    )
    pith_ends: Lengths | None = Field(
        None,
        min_length=2,
        max_length=2,
        description="depth of the pith below the back at the butt and at the top end, where it "
        "was not measured between",
        examples=['["88 mm", "72 mm"]'],
    )
    pith_across: Lengths | None = Field(
        None,
        description="how far the pith lies to the right of the line",
        examples=["[0, 2, 3, 2, 0]"],
    )
    bark: Length | None = Field(
        None,
        ge=0,
        description="thickness of bark still on the back; depths are counted from under it",
        examples=["4 mm"],
    )
    over_bark: bool = Field(
        False,
        description="depth and pith, and how far down marks on side faces lie, were measured from "
        "the outside of the bark, which is taken off them",
        examples=["true"],
    )


class SheetKnotTable(KnotMeasures):
    """``[[knot]]``: one knot, where it shows on the stave and how big it is."""

    at: Length = Field(description="station of its middle, from the butt", examples=["840 mm"])
    across: Length = Field(description=ACROSS, examples=["12 mm"])
    far_diameter: Length | None = Field(
        None,
        ge=0,
        description="diameter where it leaves on the opposite face of the stave, 0 if it does not; "
        "without it a cone from the pith",
        examples=["5 mm"],
    )
    lean: Angle = Field(
        0.0,
        description="lean of the branch towards the top, from square to the stave",
        examples=["35 deg"],
    )


class CheckTable(LengthTable):
    """``[[check]]``: a crack, at an end or along the stave."""

    from_: Length = Field(alias="from", description="where it begins", examples=["0 mm"])
    to: Length = Field(description="where it ends, from the butt", examples=["120 mm"])
    across: Length = Field(
        0.0, description="where it runs, to the right of the line", examples=["4 mm"]
    )
    across_to: Length | None = Field(
        None, description="where it runs at its end, if not straight along", examples=["6 mm"]
    )
    depth: Length = Field(gt=0, description="how deep it goes", examples=["30 mm"])


class SheetDecayTable(DecayMeasures):
    """``[[decay]]``: one patch of rot, measured from the butt."""

    at: Length = Field(description="station of its middle, from the butt", examples=["640 mm"])
    across: Length = Field(description=ACROSS, examples=["4 mm"])


class WantedTable(Table):
    """``[bow]``: the bow that is wanted."""

    case: Name | None = Field(
        None,
        description="case file in the sheet's folder or one below it or beside it; without it the "
        "sheet holds a [taper] with [section], [grip], [string] and [draw]",
        examples=["flatbow.toml"],
    )
    draw_weight: Force | None = Field(
        None, gt=0, description="what it shall draw; it is sized to that first", examples=["45 lbf"]
    )


class SpareTable(LengthTable):
    """``[spare]``: what must be left over."""

    edge: Length = Field(
        0.003,
        ge=0,
        description="least wood beside the finished limb, and below it",
        examples=["4 mm"],
    )
    end: Length = Field(
        0.025, ge=0, description="least wood past each nock, to saw off", examples=["40 mm"]
    )
    straightness: Length = Field(
        0.006,
        ge=0,
        description="how far the grip may lie from the line between the tips",
        examples=["6 mm"],
    )


class CutTable(LengthTable):
    """``[[cut]]``: one stage of roughing, by what is left over the finished limb."""

    name: Name = Field(description="what to call it", examples=["first rough out"])
    side: Length = Field(ge=0, description="left on each side", examples=["12 mm"])
    belly: Length = Field(ge=0, description="left on the belly", examples=["10 mm"])


class PointTable(LengthTable):
    """``[[fix.through]]``: a point the line has to pass through."""

    at: Length = Field(description="from the butt", examples=["840 mm"])
    across: Length = Field(description="to the right of the line", examples=["5 mm"])


class FixTable(LengthTable):
    """``[fix]``: what the user has settled."""

    upper_end: Literal["butt", "top"] | None = Field(
        None, description="which end of the stave is up", examples=["top"]
    )
    cut_butt: Length | None = Field(
        None, ge=0, description="what is sawn off at the butt", examples=["90 mm"]
    )
    cut_top: Length | None = Field(
        None, ge=0, description="what is sawn off at the top", examples=["60 mm"]
    )
    through: Annotated[tuple[PointTable, ...], Field(strict=False)] = Field(
        (), max_length=20, description="points the line passes through"
    )


class SheetFile(Table):
    """The whole sheet."""

    title: Title = Field(description="what it is called", examples=["Elm pole, course stave 14"])
    question: Prose = Field("", description="what it asks", examples=["Where does the bow lie?"])
    wood: WoodsTable | None = Field(
        None, description="the woods of the stave; those of the wanted bow where it is left out"
    )
    grain: SheetGrainTable = Field(
        default_factory=SheetGrainTable, description="what the columns do not say of the grain"
    )
    stave: StaveTable = Field(description="what was measured at each station")
    knot: Annotated[tuple[SheetKnotTable, ...], Field(strict=False)] = Field(
        (), max_length=100, description="knots"
    )
    check: Annotated[tuple[CheckTable, ...], Field(strict=False)] = Field(
        (), max_length=100, description="cracks"
    )
    decay: Annotated[tuple[SheetDecayTable, ...], Field(strict=False)] = Field(
        (), max_length=100, description="patches of rot"
    )
    bow: WantedTable = Field(description="the bow that is wanted")
    section: SectionTable | None = Field(None, description="with [taper]: as in a case")
    taper: TaperTable | None = Field(None, description="the wanted bow by its strategy")
    grip: GripTable | None = Field(None, description="with [taper]: as in a case")
    string: StringTable | None = Field(None, description="with [taper]: as in a case")
    draw: DrawTable | None = Field(None, description="with [taper]: as in a case")
    spare: SpareTable = Field(default_factory=SpareTable, description="what must be left over")
    cut: Annotated[tuple[CutTable, ...], Field(strict=False)] = Field(
        (), max_length=10, description="stages of roughing, the first one first"
    )
    fix: FixTable = Field(default_factory=FixTable, description="what is settled already")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A stave sheet that was read and found sound.

    Attributes
    ----------
    path : Path
        As it was given; messages and results name it so.
    digest : str
        SHA-256 of the sheet, its table and the case of the wanted bow, in hexadecimal.
    file : SheetFile
        Its content, in SI.
    bow : Case
        The wanted bow in the stave's woods, without knots or patches, not sized yet; it keeps the
        path of the file that describes it.
    """

    path: Path
    digest: str
    file: SheetFile
    bow: Case

    @property
    def title(self) -> str:
        """What the stave is called."""
        return self.file.title
