"""What an analysis hands on: read-only arrays in SI, and the JSON contract."""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from typing import TYPE_CHECKING, Any, Literal

from limbfe.analysis.contract import assessment_to_dict, draw_to_dict
from limbfe.analysis.settings import BowSetup
from limbfe.analysis.upper_limb import UpperLimb
from limbfe.frames import Array

if TYPE_CHECKING:
    from limbfe.analysis.limits import BreakingDraw

Limb = Literal["lower", "upper"]
Mode = Literal["tension", "compression", "shear", "across"]
Verdict = Literal["sound", "watch", "expect a split", "expect rupture"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """The bow in one state, in global axes (X towards the archer, Z up).

    Attributes
    ----------
    name : str
        ``"unstrung"``, ``"braced"`` or ``"drawn"``.
    draw_length : float
        From the back at the middle of the grip to the string along the pull (m); 0 if unstrung.
    node_x : ndarray, shape (n,), m
        Where the nodes lie along the bow, lower tip to upper tip.
    positions : ndarray, shape (n, 3), m
        The mid-thickness axis at the nodes.
    rotations : ndarray, shape (n, 3, 3)
        Columns are the section axes x, y, z in global axes.
    string : ndarray, shape (k, 3), m
        The string from lower nock to upper nock; empty when unstrung.
    """

    name: str
    draw_length: float
    node_x: Array
    positions: Array
    rotations: Array
    string: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawCurve:
    """The draw, state by state from brace to full draw; every array has shape (k,).

    Attributes
    ----------
    draw_length : m, from the back at the middle of the grip along the pull, at brace too
    force : N, pull on the string
    tension : ndarray, shape (k, 2), N, lower and upper part of the string
    energy : J, work of the pull since brace; what the belly's yielding takes is in it
    """

    draw_length: Array
    force: Array
    tension: Array
    energy: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbField:
    """The limb at full draw, station by station (shape (S,)), lower tip to upper tip.

    Attributes
    ----------
    x : m along the bow, signed
    curvature : 1/m, bending towards the archer since the unstrung shape
    moment : N m, My at the reference point
    resultants : ndarray, shape (S, 6), section axes
    strains : ndarray, shape (S, 6), section axes
    back_strain, belly_strain : axial strain, the largest on the back, the lowest on the belly
    strength_used : the worst stress over strength anywhere in the section
    residual_curvature : 1/m, kept when the bow is unstrung after the draw
    yielded_depth : m, how deep the crushed wood reaches from the belly

    Across a knot, which has a verdict of its own, back and belly strain, strength used and yielded
    depth are carried over from the clear wood on both sides; curvature, strains, resultants and
    residual curvature are the bow's own there.

    The grip is taken as stiff: inside it strains and strength used are 0, the wood there is not
    judged (`to_dict` gives its strength used as null), and the resultants follow from statics.
    """

    x: Array
    curvature: Array
    moment: Array
    resultants: Array
    strains: Array
    back_strain: Array
    belly_strain: Array
    strength_used: Array
    residual_curvature: Array
    yielded_depth: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurfaceField:
    """Full-draw values on the limb's skin, ring by ring.

    Attributes
    ----------
    x : ndarray, shape (S,), m
        Stations, lower tip to upper tip; those inside knots, judged apart, are left out.
    ring : ndarray, shape (S, b, 2), m
        Section coordinates (y, z) of the skin points, once round, not closed.
    layer : ndarray, shape (S, b)
        0 heartwood, 1 sapwood, 2 backing.
    axial_strain : ndarray, shape (S, b)
    axial_stress : ndarray, shape (S, b), Pa, along the grain
    strength_used : ndarray, shape (S, b)
    """

    x: Array
    ring: Array
    layer: Array
    axial_strain: Array
    axial_stress: Array
    strength_used: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HotSpot:
    """A local maximum of strength used in clear wood at full draw (SI; `at` from the grip)."""

    limb: Limb
    at: float
    across: float
    depth: float
    face: Literal["back", "belly", "left", "right", "inside"]
    stress: float
    strain: float
    mode: Mode
    strength_used: float

    @property
    def how_hard(self) -> str:
        """How hard the wood is worked, in words.

        Past crushing the stress stays, and strength used goes on with the strain.
        """
        if self.mode == "compression" and self.strength_used >= 1.0:
            return f"shortened to {self.strength_used:.2f} times the strain at which it crushes"
        kind = "strength across the grain" if self.mode == "across" else f"{self.mode} strength"
        return f"{self.strength_used:.0%} of its {kind}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DefectResult:
    """One knot or decayed patch: what the full draw does there.

    Draw lengths are None when the event is not expected within the range that was computed.
    """

    name: str
    kind: Literal["knot", "decay"]
    limb: Limb
    at: float
    verdict: Verdict
    mode: str
    strength_used: float
    strength_used_low: float
    strength_used_high: float
    draw_length_at_split: float | None
    draw_length_at_rupture: float | None
    strength_ratio: float
    failure_probability: float
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tip:
    """Where a limb tip stands at full draw (m, global axes), and its `Tiller.tip_twist` (rad)."""

    position: Array
    twist: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tiller:
    """What the trade reads off a bow in one state; pairs are (lower, upper).

    Attributes
    ----------
    tiller : float, m
        Distance of the upper limb from the string less that of the lower, half-way along the
        limbs; positive when the upper limb stands further off.
    tip_twist : ndarray, shape (2,), rad
        About the tips' own axes since the unstrung bow, in the bow's own frame: how it is turned in
        the hand does not count.
    tip_shift : ndarray, shape (2,), m, to the archer's right
    track : float, m
        Where the string crosses the grip, to the right of its middle.
    balance : float or None, m
        Height at which the line of pull crosses the grip, above where it is held; None at brace.
    """

    tiller: float
    tip_twist: Array
    tip_shift: Array
    track: float
    balance: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AfterDraw:
    """The bow let down after its first draw, strung again on the same string and drawn again.

    Attributes
    ----------
    set_at_tips : ndarray, shape (2,), m
        How far the lower and the upper tip stay behind (string follow), towards the archer.
    energy_lost, energy_lost_again : float, J
        Crushed in the first draw and in the second.
    residual : ndarray, shape (S, 6)
        Strains the sections keep when nothing loads them.
    unstrung : Pose
        After the first draw.
    brace_height : float, m
    brace_tension : float, N
    curve : DrawCurve
        Of the second draw.
    """

    set_at_tips: Array
    energy_lost: float
    energy_lost_again: float
    residual: Array
    unstrung: Pose
    brace_height: float
    brace_tension: float
    curve: DrawCurve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnBow:
    """One bow unstrung, braced and drawn.

    Attributes
    ----------
    setup : BowSetup
    poses : tuple of Pose
        Unstrung, braced, drawn.
    brace_height, string_length : float, m
        `string_length` is that of the unstretched string between the nocks.
    brace_tension : float, N
    brace_energy : float, J
    curve : DrawCurve
    lower_tip, upper_tip : Tip
    cautions, assumptions : tuple of str
    tiller_braced, tiller_drawn : Tiller or None
    after : AfterDraw or None
        None where the bow was not let down, or cannot be strung again.
    upper_limb : UpperLimb or None
        Which end the figures favour as the upper limb.
    """

    setup: BowSetup
    poses: tuple[Pose, ...]
    brace_height: float
    string_length: float
    brace_tension: float
    brace_energy: float
    curve: DrawCurve
    lower_tip: Tip
    upper_tip: Tip
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    tiller_braced: Tiller | None = None
    tiller_drawn: Tiller | None = None
    after: AfterDraw | None = None
    upper_limb: UpperLimb | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the results contract: plain numbers and text, with the unit in every key."""
        return draw_to_dict(self)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment(DrawnBow):
    """One bow from rest to full draw, with what the draw does to its wood.

    Attributes
    ----------
    limb : LimbField
    surface : SurfaceField
    set_depth : float, m
        How far the tips stay behind after the draw (string follow), mean of both limbs.
    hot_spots : tuple of HotSpot, hardest worked first
    defects : tuple of DefectResult
    brace_strength_used : float or None
        The most that clear wood uses of its strength while the bow stays strung, if the case says
        how long.
    clear_limb : BreakingDraw or None
        How far clear wood can be drawn; None where that was not asked, or not found, as a caution
        then says.
    """

    limb: LimbField
    surface: SurfaceField
    set_depth: float
    hot_spots: tuple[HotSpot, ...]
    defects: tuple[DefectResult, ...]
    brace_strength_used: float | None = None
    clear_limb: BreakingDraw | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the results contract: plain numbers and text, with the unit in every key."""
        return assessment_to_dict(self)

    def to_vtu(self, path: str | PathLike[str]) -> None:
        """Write the drawn limb with its surface results for other viewers (through meshio)."""
        from limbfe.analysis.store import write_vtu

        write_vtu(self, path, self.poses[-1])
