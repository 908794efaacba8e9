"""Strains at which clear wood gives way, and the draw at which a place first reaches a strain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbfe.analysis.wood.hot_spots import HotSpot
from limbfe.frames import Array
from limbfe.stave.stave import Stave
from limbfe.wood.bar import bar_of, wrinkled_at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrainLimits:
    """Strains at which clear wood is expected to give way (no unit, both positive).

    Attributes
    ----------
    back : float
        Tension strength over stiffness of the wood at the back.
    belly_set : float
        Compression at the proportional limit over stiffness of the heartwood: beyond it the
        belly keeps a set.
    belly_wrinkles : float
        Shortening of the heartwood from which wrinkles may show.
    """

    back: float
    belly_set: float
    belly_wrinkles: float


def strain_limits(stave: Stave) -> StrainLimits:
    """Return the limits of the outermost wood on the back and of the belly's wood."""
    if stave.backing_wood is not None:
        back = stave.backing_wood
    elif stave.sapwood_wood is not None:
        back = stave.sapwood_wood
    else:
        back = stave.heartwood
    belly = stave.heartwood
    return StrainLimits(
        back=back.strength.tension / back.elasticity.E_L,
        belly_set=belly.strength.compression_proportional_limit / belly.elasticity.E_L,
        belly_wrinkles=float(wrinkled_at(bar_of(belly))),
    )


def limb_limits(stave: Stave, hot_spots: Sequence[HotSpot]) -> StrainLimits:
    """Return the limits of a bow: those of its wood, the back's at the slope of its own grain.

    Strain over strength used where the back is stretched most is what would break it there, so
    these limits and the strength used say the same.
    """
    limits = strain_limits(stave)
    stretched = [
        spot.strain / spot.strength_used
        for spot in hot_spots
        if spot.mode == "tension" and spot.face == "back" and spot.strength_used > 0.0
    ]
    return replace(limits, back=min(stretched, default=limits.back))


def first_passing(draw_length: Array, strain: Array, level: float) -> Array:
    """Return the draw length at which a strain first passes a level.

    Parameters
    ----------
    draw_length : ndarray, shape (k,), m
        States in the order of the draw.
    strain : ndarray, shape (k, ...)
        At each state.
    level : float
        A negative level is passed from above, as the belly's is.

    Returns
    -------
    ndarray, shape (...), m
        Interpolated between the states; that of the first state where it is passed there
        already, infinite where it never is.
    """
    signed = strain if level >= 0.0 else -strain
    passed = signed >= abs(level)
    ever = passed.any(axis=0)
    at = passed.argmax(axis=0)
    before = np.maximum(at - 1, 0)
    here = np.take_along_axis(signed, at[None], axis=0)[0]
    there = np.take_along_axis(signed, before[None], axis=0)[0]
    rise = np.where(here > there, here - there, 1.0)
    share = np.where(at > 0, (abs(level) - there) / rise, 1.0)
    found = draw_length[before] + share * (draw_length[at] - draw_length[before])
    return np.where(ever, found, np.inf)
