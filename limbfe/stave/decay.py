"""Patches of rot: ellipsoids clipped by the limb."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from limbfe.errors import GeometryError
from limbfe.frames import Array, read_only
from limbfe.stave.marks import Face, Limb
from limbfe.stave.zone_label import ZoneLabel
from limbfe.wood.decay import DecayEffect


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decay:
    """A patch of decayed wood.

    Attributes
    ----------
    name : str
    limb : {"upper", "lower"}
    face : {"back", "belly", "left", "right"}
        Where it shows.
    center : ndarray, shape (3,), m, section coordinates (x, y, z)
        Centre of the ellipsoid, on the face where the patch shows.
    semi_axes : ndarray, shape (3,), m
        Half length along x, half width along y and depth along z for a patch on back or belly;
        on a side face the depth runs along y.
    effect : DecayEffect
    stage, rot : str
        As the user called them, for reports; "given" for explicit multipliers.
    """

    name: str
    limb: Limb
    face: Face
    center: Array
    semi_axes: Array
    effect: DecayEffect
    stage: str
    rot: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "center", read_only(self.center, (3,)))
        object.__setattr__(self, "semi_axes", read_only(self.semi_axes, (3,)))
        if not np.all(self.semi_axes > 0.0):
            raise GeometryError(
                f'decay "{self.name}": half sizes {self.semi_axes.tolist()} m: all must be above '
                "zero"
            )

    @property
    def kind(self) -> Literal["decay"]:
        """Which sort of zone it is."""
        return "decay"

    @property
    def label(self) -> ZoneLabel:
        """What names it."""
        return ZoneLabel("decay", self.name)

    @property
    def extent(self) -> tuple[float, float]:
        """Its station and half its length along the limb (m)."""
        return float(self.center[0]), float(self.semi_axes[0])


def inside_decay(decay: Decay, x: Any, y: Any, z: Any) -> NDArray[np.bool_]:
    """Return which points lie in the ellipsoid.

    Parameters
    ----------
    decay : Decay
    x, y, z : array_like, m, section coordinates
        Broadcast against each other.
    """
    c, a = decay.center, decay.semi_axes
    offset = [(np.asarray(p, dtype=np.float64) - c[i]) / a[i] for i, p in enumerate((x, y, z))]
    inside: NDArray[np.bool_] = offset[0] ** 2 + offset[1] ** 2 + offset[2] ** 2 < 1.0
    return inside
