"""Zones on a strip: knots with their state and rotten patches with their losses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbfe.defect.strip import Ellipse
from limbfe.errors import GeometryError, MaterialError
from limbfe.frames import Array
from limbfe.stave.knot_wood import KNOT_POISSON
from limbfe.stave.zone_label import ZoneLabel

KnotState = Literal["live", "dead", "missing", "filled"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnotTrace:
    """A knot where it meets a strip.

    Attributes
    ----------
    name : ZoneLabel or str
    ellipse : Ellipse
        May lie outside the strip: then only its fibre flow is left.
    state : {"live", "dead", "missing", "filled"}
        Grown in; encased, pressing but not pulling; a hole; a hole filled and glued.
    modulus : float or None, Pa
        In the plane.  None takes the modulus of the analysis's knot band.
    poisson : float
    bulge_height, bulge_reach : float, m
        Height by which the rings bulge over the knot out of this plane, and over what distance;
        height 0 where the plane follows the ring.
    bond_tension, bond_shear : float or None, Pa
        Strength of filler and glue, for a filled knot.
    diverts : bool
        Whether the fibres swerve round it; they do not round a drilled hole, which cuts them.
    lying : bool
        Whether it runs so nearly in the plane that its ellipse is a stand-in.
    """

    name: ZoneLabel | str
    ellipse: Ellipse
    state: KnotState
    modulus: float | None = None
    poisson: float = KNOT_POISSON
    bulge_height: float = 0.0
    bulge_reach: float | None = None
    bond_tension: float | None = None
    bond_shear: float | None = None
    diverts: bool = True
    lying: bool = False

    def __post_init__(self) -> None:
        if self.state not in ("live", "dead", "missing", "filled"):
            raise GeometryError(
                f"{self.name}: state {self.state!r} must be live, dead, missing or filled"
            )
        if self.modulus is not None and not self.modulus > 0.0:
            raise MaterialError(f"{self.name}: modulus {self.modulus!r} Pa must be positive")
        if self.state == "filled" and (
            self.modulus is None or self.bond_tension is None or self.bond_shear is None
        ):
            raise MaterialError(
                f"{self.name}: a filled knot needs the filler's modulus, tension and shear strength"
            )
        if self.bulge_height != 0.0 and not (self.bulge_reach or 0.0) > 0.0:
            raise GeometryError(f"{self.name}: a bulge needs a positive reach")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayTrace:
    """A rotten patch where it meets a strip.

    Attributes
    ----------
    name : ZoneLabel or str
    ellipse : Ellipse
    grading : float
        Part of the radius over which the loss grows from none at the rim to full, 0 to 1.
    E, G, tension, compression, shear, across, toughness : float
        What is left of stiffness and strength in the core, as a multiplier in (0, 1].
    """

    name: ZoneLabel | str
    ellipse: Ellipse
    grading: float
    E: float
    G: float
    tension: float
    compression: float
    shear: float
    across: float
    toughness: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.grading <= 1.0:
            raise GeometryError(f"{self.name}: grading {self.grading!r} must lie in 0 to 1")
        for key in ("E", "G", "tension", "compression", "shear", "across", "toughness"):
            value = getattr(self, key)
            if not 0.0 < value <= 1.0:
                raise MaterialError(
                    f"{self.name}: multiplier {key} = {value!r} must lie above 0 and up to 1;"
                    " describe wood that is gone as a missing knot"
                )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grain:
    """Fibre direction far from the knots: `angle` in the plane, `run_out` out of it; rad."""

    angle: float
    run_out: float


def graded_loss(rho: Array, grading: float) -> Array:
    """Return `loss` where the elliptic radius is `rho`."""
    if grading == 0.0:
        return np.where(rho < 1.0, 1.0, 0.0)
    s = np.clip((1.0 - rho) / grading, 0.0, 1.0)
    gone: Array = s * s * (3.0 - 2.0 * s)
    return gone
