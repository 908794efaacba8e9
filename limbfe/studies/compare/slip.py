"""What a slip of the tool costs: a shallow hollow in the belly at the worst place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbfe.analysis.bow.exercise import exercised_bow
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.analysis.bow.solve import SolvedBow
from limbfe.analysis.wood.limb_field import limb_field
from limbfe.errors import LimbfeError
from limbfe.frames import Array
from limbfe.stave.reshape import reshaped, with_more_stations
from limbfe.stave.stave import Stave
from limbfe.studies.compare.measures import strain_level

DEPTH = 0.5e-3
"""Of the slip in its middle, m."""
LENGTH = 0.1
"""Of the hollow along the limb, m: a shaving that went too deep."""
ELEMENTS = 48
"""In each limb, at least: five beam elements in the hollow of a usual bow, with which the rise of
strain is within 3 per cent of itself of that of twice as many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A hollow of 0.5 mm in the belly of the upper limb.

    Attributes
    ----------
    at : float, m
        Its middle, where the strain it leads to is highest.
    strain_change : float
        Change of the bow's peak strain at full draw, as a share.
    weight_change : float
        Change of the draw weight, as a share; negative.
    """

    at: float
    strain_change: float
    weight_change: float


def slip_of_the_tool(solved: SolvedBow) -> Slip:
    """Return what a slip at the worst place of the upper limb does to a bow.

    Both bows, the whole one and that with the hollow, are solved anew at the same stations, on a
    beam fine enough for the hollow and coarse sections; so their difference is the hollow's alone.

    Raises
    ------
    LimbfeError
        If the bow with the hollow cannot be built or drawn.
    """
    setup = solved.model.setup
    at = worst_place(solved)
    x = at + np.linspace(-0.5, 0.5, 9) * LENGTH
    stave = with_more_stations(setup.stave, x)
    slipped = reshaped(stave, thickness=stave.thickness - hollow(stave.x, at))
    (weight, strain), (weight_after, strain_after) = (
        _drawn(setup, one) for one in (stave, slipped)
    )
    return Slip(
        at=at, strain_change=strain_after / strain - 1.0, weight_change=weight_after / weight - 1.0
    )


def hollow(x: Array, at: float) -> Array:
    """Return the depth (m) of the slip at stations `x`: a wave from crest to crest."""
    share = np.clip((x - at) / LENGTH, -0.5, 0.5)
    depth: Array = 0.5 * DEPTH * (1.0 + np.cos(2.0 * np.pi * share))
    return depth


def worst_place(solved: SolvedBow) -> float:
    """Return where on the upper limb a hollow leads to the highest strain, m.

    With the moment nearly as it was, the strain of a rectangle goes with ``1 / t^2`` (bending
    theory): the place is that of the largest ``strain / (t - depth)^2 * t^2``.
    """
    stations, limb = solved.model.stations, limb_field(solved)
    strain = np.maximum(np.abs(limb.back_strain), np.abs(limb.belly_strain))
    thickness = stations.shapes.thickness
    after = strain * (thickness / (thickness - DEPTH)) ** 2
    stave, x = stations.setup.stave, stations.x
    room = (x > stave.half_grip + 0.5 * LENGTH) & (x < stave.x[-1] - 0.5 * LENGTH) & stations.bends
    return float(x[np.argmax(np.where(room, after, -1.0))])


def _drawn(setup: BowSetup, stave: Stave) -> tuple[float, float]:
    """Return draw weight and peak strain."""
    fine = adjust(
        setup,
        stave=stave,
        analysis={
            "elements_per_limb": max(setup.analysis.elements_per_limb, ELEMENTS),
            "fineness": 0.5,
        },
        drawing={"steps": min(setup.drawing.steps, 6)},
    )
    try:
        solved = exercised_bow(fine, beyond=False)
    except LimbfeError as error:
        error.args = (f"on the finer beam that a slip of the tool asks for: {error}",)
        raise
    return solved.full_draw.draw_force, strain_level(solved.model, limb_field(solved))[0]
