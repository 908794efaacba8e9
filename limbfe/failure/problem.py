"""What the judgement of one knot or rotten patch needs, and what it gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plate.body import Member, PlateBody
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.errors import GeometryError
from limbfe.failure.probability import Demands, Probability, Scatter
from limbfe.failure.splits.grain_split import GrainSplit
from limbfe.failure.windows import PlaneStrength
from limbfe.fem.mesh import Index
from limbfe.frames import Array
from limbfe.stave.knot_wood import KNOT_MODULUS_HIGH, KNOT_MODULUS_LOW, KNOT_MODULUS_TYPICAL
from limbfe.stave.zone_label import ZoneLabel
from limbfe.wood.belly import BellyLaw
from limbfe.wood.elasticity import Elasticity
from limbfe.wood.weakest_link import SHAPE

AXIAL = ("fibre", "through", "yield")
"""Ways of failing that go with the strain along the limb."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DepthLayer:
    """The limb at one depth: outline, wood, zones and the limb's own strain.

    Attributes
    ----------
    z : float, m
        Depth, towards the back.
    layer : float, m
        Thickness this layer stands for.
    strip : Strip
    wood : Elasticity
    strength : PlaneStrength
    grain : Grain
    knots : tuple of KnotTrace
        All knots whose fibre flow reaches the strip, the judged one among them if it is a knot.
    decays : tuple of DecayTrace
    strain : LimbStrain
        At the load that is judged.
    scatter : Scatter or None
        Of that wood; None where no chance of failure is asked for.
    focus : Ellipse or None
        Where the worst windows are looked for at a depth that the judged zone does not reach.
    span : tuple of float
        The depths over which a window's stress is averaged, as shares of the way from belly to
        back.
    """

    z: float
    layer: float
    strip: Strip
    wood: Elasticity
    strength: PlaneStrength
    grain: Grain
    knots: tuple[KnotTrace, ...]
    decays: tuple[DecayTrace, ...]
    strain: LimbStrain
    span: tuple[float, float]
    scatter: Scatter | None = None
    focus: Ellipse | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionUse:
    """How hard the bow's own section works the wood of a station in a zone, by one way of failing.

    Attributes
    ----------
    mode : {"fibre", "through", "opening", "sliding", "yield"}
        ``"through"``: pressed past the plateau of the crushing strength, which ends a limb as the
        rupture of its fibres does.
    used : float
    sound : float
        The same in a limb without the zone, by the strain along the limb.
    station : int
        Of the beam, the nearest where the section lies between two.
    x, y, z : float, m
    """

    mode: str
    used: float
    sound: float
    station: int
    x: float
    y: float
    z: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LimbStrength:
    """What the limb bears without the zone.

    Attributes
    ----------
    used : float
        Strength used in tension by all its clear wood at the judged load, by weakest links.
    back : float, Pa
        Stress of its back where the zone lies, as if the wood were sound.
    law : BellyLaw
        Of its belly there.
    depth : float, m
        Thickness of the limb there.
    """

    used: float
    back: float
    law: BellyLaw
    depth: float


class Place(NamedTuple):
    """Where something is reached: a point of a layer (m), or of the section of a station."""

    y: float
    z: float
    station: int | None = None
    shear: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What is uncertain about every zone.

    Attributes
    ----------
    knot_modulus : tuple of float, Pa
        Low, typical and high in-plane modulus of knots whose own is not given.
    fibre_window : tuple of float, m
        Shortest and longest window for fibre rupture; the wood's own is kept between them.
    split_factor : tuple of float
        Shortest and longest window for splitting over the wood's own.
    bond_window : float, m
        Length along the rim over which the bond of a filling is judged.
    """

    knot_modulus: tuple[float, float, float] = (
        KNOT_MODULUS_LOW,
        KNOT_MODULUS_TYPICAL,
        KNOT_MODULUS_HIGH,
    )
    fibre_window: tuple[float, float] = (2e-3, 4e-3)
    split_factor: tuple[float, float] = (0.7, 1.4)
    bond_window: float = 2e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalProblem:
    """One zone to be judged.

    Attributes
    ----------
    zone : str
        Name of the knot or decay among those of the layers.
    layers : tuple of DepthLayer
        Layers of the plate at which it is judged.
    band : Band
    body : PlateBody
        The piece of limb as one plate, which strains all layers.
    element_size : float or None, m
        Side length at the zone; a quarter of the shortest window if not given.
    rough : bool
        For trials, of which only ratios count: no band (low and high are the typical value), half
        as many samples and windows each way.
    banded : bool
        Whether the band is tried; without it low and high are the typical value.
    member : {"full", "quick"}
        Of the plate: see `limbfe.defect.plate.body.body_plate`.
    sections : tuple of SectionUse
        What the bow's own sections say where the zone lies; no zone is judged milder.
    limb : LimbStrength or None
        None for a strip that stands for itself: it is then the limb.

    Raises
    ------
    GeometryError
        If no layer carries the zone.
    """

    zone: ZoneLabel | str
    layers: tuple[DepthLayer, ...]
    band: Band
    body: PlateBody
    element_size: float | None = None
    rough: bool = False
    banded: bool = True
    member: Member = "full"
    sections: tuple[SectionUse, ...] = ()
    limb: LimbStrength | None = None

    def __post_init__(self) -> None:
        if not any(trace_of(s, self.zone) is not None for s in self.layers):
            raise GeometryError(
                f"{self.zone}: meets none of the {len(self.layers)} depths; take a depth that it"
                " reaches"
            )


def trace_of(piece: DepthLayer, zone: ZoneLabel | str) -> Ellipse | None:
    """Return the ellipse of a zone on a layer, or its focus there; None where there is neither."""
    traces: tuple[KnotTrace | DecayTrace, ...] = (*piece.knots, *piece.decays)
    return next((trace.ellipse for trace in traces if trace.name == zone), piece.focus)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeOutcome:
    """How near one way of failing is.

    Attributes
    ----------
    mode : {"fibre", "through", "opening", "sliding", "split", "yield"}
        Rupture of fibres, or in its stead a section crushed through; the two ways of splitting;
        both together; crushing along the grain.
    low, typical, high : float
        Strength used at the judged load, over the band.
    x, y, z : float, m
        Middle of the worst window.
    high_y, high_z : float, m
        The same on the layer that leads at the high end of the band, which may be another.
    angle : float, rad
        Fibre direction there.
    length : float, m
        Of that window.
    peak : float
        Of fibres, the typical strength used in the worst window alone, whatever its volume.
    mix : float, rad
        Of a split, the share of its two ways there: 0 is pure opening, pi/2 pure sliding.
    station, high_station : int or None
        Of the beam, whose own section says so (`SectionUse`); None where a layer does.
    """

    mode: str
    low: float
    typical: float
    high: float
    x: float
    y: float
    z: float
    high_y: float
    high_z: float
    angle: float
    length: float
    peak: float = float("nan")
    mix: float = float("nan")
    station: int | None = None
    high_station: int | None = None

    @property
    def place(self) -> Place:
        """Where the typical value is reached."""
        return Place(self.y, self.z, self.station, self.mode not in AXIAL)

    @property
    def high_place(self) -> Place:
        """Where the high end of the band is reached."""
        return Place(self.high_y, self.high_z, self.high_station, self.mode not in AXIAL)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StressField:
    """Stress on one layer at the typical band values, for pictures and other viewers.

    Attributes
    ----------
    z : float, m
    nodes : ndarray, shape (n, 2), m
    elements : ndarray of int, shape (m, 6)
    part : ndarray of int, shape (m,)
        Knot number of each element, -1 for wood.
    stress : ndarray, shape (m, 6, 3), Pa
        At the element's nodes: along, across and in shear to the fibre (strip axes in knots).
    angle, dive : ndarray, shape (m, 6), rad
        Fibre direction in the plane and out of it.
    used : mapping of str to float
        Typical strength used per mode on this layer.
    moved : ndarray, shape (n, 3), m
        Of the nodes: along, across, and out of the plane, the last alike at all depths.
    """

    z: float
    nodes: Array
    elements: Index
    part: Index
    stress: Array
    angle: Array
    dive: Array
    used: Mapping[str, float]
    moved: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneUse:
    """Strength used in tension by weakest links, 1 where the wood fails on average.

    Attributes
    ----------
    zone, sound : float
        Of the stretch of limb that holds the zone, and of the same stretch without it.
    limb : float
        Of the whole limb without the zone; at least that of the stretch.
    """

    zone: float
    sound: float
    limb: float

    @property
    def both(self) -> float:
        """Of the whole limb with the zone in it."""
        top = max(self.zone, self.limb)
        if top <= 0.0:
            return 0.0
        added = max((self.zone / top) ** SHAPE - (self.sound / top) ** SHAPE, 0.0)
        return float(top * ((self.limb / top) ** SHAPE + added) ** (1.0 / SHAPE))

    @property
    def ratio(self) -> float:
        """Of the strength in tension with the zone to that without; nan where nothing is pulled."""
        return self.limb / self.both if self.both > 0.0 else np.nan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalOutcome:
    """Judgement of one zone at the load of the problem.

    Attributes
    ----------
    zone : str
    modes : mapping of str to ModeOutcome
    rupture, split : tuple of float
        Factors on the load, at the high, typical and low end of the band, at which fibres
        rupture and wood splits; infinite where it never happens.
    strength_ratio : float
        Breaking load of the limb with the zone over that without it, both with yielding belly;
        nan where nothing is pulled.
    tension_ratio : float
        The same of the strength in tension alone.
    use : ZoneUse
        Strength used in tension by weakest links.
    clear : mapping of str to float
        Strength used of the same strip without the zone.
    bond_used : float
        Strength used of a filling's bond; 0 for other zones.
    probability : Probability or None
    fields : tuple of StressField
        Empty after rough trials.
    grain_split : GrainSplit or None
        The split that was followed; None where windows judge it.
    unfollowed : str
        Why it could not be followed, where it was tried; else empty.
    demands : Demands or None
        What `probability` was found from.
    in_edge : bool
        Whether an edge cuts a knot where it is pulled.
    """

    zone: ZoneLabel | str
    modes: Mapping[str, ModeOutcome]
    rupture: tuple[float, float, float]
    split: tuple[float, float, float]
    strength_ratio: float
    tension_ratio: float
    use: ZoneUse
    clear: Mapping[str, float]
    bond_used: float
    probability: Probability | None
    fields: tuple[StressField, ...]
    grain_split: GrainSplit | None = None
    unfollowed: str = ""
    demands: Demands | None = None
    in_edge: bool = False


def factors(outcome: ModeOutcome) -> tuple[float, float, float]:
    """Return load factors from the band of strength used: lowest, typical, highest."""

    def inverse(used: float) -> float:
        return 1.0 / used if used > 0.0 else np.inf

    return inverse(outcome.high), inverse(outcome.typical), inverse(outcome.low)
