"""What the judgement of one knot or rotten patch needs, and what it gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.strip_solve import Ends
from limbfe.defect.zone import DecayTrace, Grain, KnotTrace
from limbfe.errors import GeometryError
from limbfe.failure.probability import Probability, Scatter
from limbfe.failure.windows import PlaneStrength
from limbfe.fem.mesh import Index
from limbfe.frames import Array
from limbfe.stave.knot_wood import KNOT_MODULUS_HIGH, KNOT_MODULUS_LOW, KNOT_MODULUS_TYPICAL
from limbfe.wood.elasticity import Elasticity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DepthSlice:
    """The limb at one depth: outline, wood, zones and the limb's own strain.

    Attributes
    ----------
    z : float, m
        Depth, towards the back.
    layer : float, m
        Thickness this slice stands for.
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
    strained_at : float or None, m
        Depth of the limb whose strain it has, where that is not `z`.
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
    scatter: Scatter | None = None
    strained_at: float | None = None


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
        Name of the knot or decay among those of the slices.
    slices : tuple of DepthSlice
    band : Band
    ends : {"force", "strain"}
        See `limbfe.defect.submodel.solve_strip`.
    element_size : float or None, m
        Side length at the zone; a quarter of the shortest window if not given.
    rough : bool
        For trials, of which only ratios count: no band (low and high are the typical value), half
        as many samples and windows each way.

    Raises
    ------
    GeometryError
        If no slice carries the zone.
    """

    zone: str
    slices: tuple[DepthSlice, ...]
    band: Band
    ends: Ends = "force"
    element_size: float | None = None
    rough: bool = False

    def __post_init__(self) -> None:
        if not any(trace_of(s, self.zone) is not None for s in self.slices):
            raise GeometryError(
                f"{self.zone}: meets none of the {len(self.slices)} depths; take a depth that it"
                " reaches"
            )


def trace_of(piece: DepthSlice, zone: str) -> Ellipse | None:
    """Return the ellipse of a zone on a slice, None where it does not reach."""
    traces: tuple[KnotTrace | DecayTrace, ...] = (*piece.knots, *piece.decays)
    return next((trace.ellipse for trace in traces if trace.name == zone), None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeOutcome:
    """How near one way of failing is.

    Attributes
    ----------
    mode : {"fibre", "opening", "sliding", "split", "yield"}
        Rupture of fibres; the two ways of splitting; both together; crushing along the grain.
    low, typical, high : float
        Strength used at the judged load, over the band.
    x, y, z : float, m
        Middle of the worst window.
    high_y, high_z : float, m
        The same on the slice that leads at the high end of the band, which may be another.
    angle : float, rad
        Fibre direction there.
    length : float, m
        Of that window.
    mix : float, rad
        Of a split, the share of its two ways there: 0 is pure opening, pi/2 pure sliding.
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
    mix: float = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StressField:
    """Stress on one slice at the typical band values, for pictures and other viewers.

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
        Typical strength used per mode on this slice.
    """

    z: float
    nodes: Array
    elements: Index
    part: Index
    stress: Array
    angle: Array
    dive: Array
    used: Mapping[str, float]


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
        Rupture load with the zone over the rupture load of the same strip without it; nan where
        the strip has no tension.
    clear : mapping of str to float
        Strength used of the same strip without the zone.
    bond_used : float
        Strength used of a filling's bond; 0 for other zones.
    probability : Probability or None
    fields : tuple of StressField
        Empty after rough trials.
    """

    zone: str
    modes: Mapping[str, ModeOutcome]
    rupture: tuple[float, float, float]
    split: tuple[float, float, float]
    strength_ratio: float
    clear: Mapping[str, float]
    bond_used: float
    probability: Probability | None
    fields: tuple[StressField, ...]


def factors(outcome: ModeOutcome) -> tuple[float, float, float]:
    """Return load factors from the band of strength used: lowest, typical, highest."""

    def inverse(used: float) -> float:
        return 1.0 / used if used > 0.0 else np.inf

    return inverse(outcome.high), inverse(outcome.typical), inverse(outcome.low)
