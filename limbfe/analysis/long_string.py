"""The first pull on a long string: where each limb bends, and which is the stiffer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbfe.analysis.model import build_model
from limbfe.analysis.settings import BowSetup
from limbfe.beam import own_frame, pull
from limbfe.beam.stability import CURE
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array, read_only
from limbfe.stave.field import stiffness_at, strength_at
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.units import both_forces, both_lengths

MOST_STRAIN = 0.04
"""Skin strain of elastic limbs beyond which a pull is a slip of the pen."""
UNEVEN = 0.02
"""Limbs whose tips move within this share of each other are called even."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LongStringPull:
    """The bow on a cradle, pulled at the middle of a long string; limbs elastic.

    Attributes
    ----------
    string_length, force : float, m, N
    tip_movement : ndarray, shape (2,), m
        How far the lower and the upper tip moved towards the pull, from rest.
    bends_most_at : ndarray, shape (2,), m
        Distance from the grip at which the lower and the upper limb bend most.
    strain_there : ndarray, shape (2,)
        Of the skin: bending times half the thickness.
    x : ndarray, shape (S,), m
    curvature : ndarray, shape (S,), 1/m
        Bending since the unstrung shape.
    stiffer : str
        "upper", "lower" or "neither".
    cautions : tuple of str
        Where a belly is pressed past its proportional limit, which this pull knows nothing of.
    """

    string_length: float
    force: float
    tip_movement: Array
    bends_most_at: Array
    strain_there: Array
    x: Array
    curvature: Array
    stiffer: str
    cautions: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers with the unit in every key."""
        lower, upper = (float(v) for v in self.tip_movement * 1e3)
        low_at, high_at = (float(v) for v in self.bends_most_at * 1e3)
        low_strain, high_strain = (float(v) for v in self.strain_there)
        return {
            "string_length_mm": self.string_length * 1e3,
            "force_N": self.force,
            "tip_movement_mm": {"lower": lower, "upper": upper},
            "bends_most_at_mm": {"lower": low_at, "upper": high_at},
            "strain_there": {"lower": low_strain, "upper": high_strain},
            "stiffer_limb": self.stiffer,
            "station_mm": (1e3 * self.x).tolist(),
            "curvature_1_per_m": self.curvature.tolist(),
            "cautions": list(self.cautions),
        }


def pull_long_string(
    setup: BowSetup,
    string_length: float,
    *,
    force: float | None = None,
    tip_movement: float | None = None,
) -> LongStringPull:
    """Rest the bow on a cradle and pull the middle of a long string.

    Parameters
    ----------
    setup : BowSetup
        Its own string length, brace height and hold are not used.
    string_length : float, m
    force : float, optional, N
    tip_movement : float, optional, m
        Mean of both tips.  Give one of the two.

    Raises
    ------
    GeometryError
        If neither or both are given, a value is impossible, or no wood would bear the strain.
    ConvergenceError
        If no equilibrium is found, or the one found is not stable.
    """
    model = build_model(replace(setup, hold="tiller"))
    state = pull(model.bow, string_length, force=force, tip_movement=tip_movement)
    if state.gives_way is not None:
        raise ConvergenceError(
            f"pull with {both_forces(state.draw_force)}, string at "
            f"{both_lengths(state.draw_length)}: the bow is not stable: {CURE[state.gives_way]}, "
            "or pull less",
            draw_length=state.draw_length,
            last_state=state,
        )
    moved = own_frame(model.bow, state, state.positions) - model.bow.chain.positions
    curvature = state.strains.reshape(-1, 6)[:, 4]
    edge = setup.stave.stiff_length / 2.0
    worst = []
    for sign in (-1.0, 1.0):
        limb = np.flatnonzero(sign * model.x > edge)
        worst.append(int(limb[curvature[limb].argmax()]))
    at = model.x[worst]
    half = 0.5 * shape_at(setup.stave, at).thickness
    strain = curvature[worst] * half
    if strain.max() > MOST_STRAIN:
        raise GeometryError(
            f"pull: a force of {both_forces(state.draw_force)} would strain the limbs by "
            f"{strain.max():.0%}, and wood breaks near 1 %; pull less"
        )
    tips = moved[[0, -1], 0]
    even = abs(tips[1] - tips[0]) < UNEVEN * abs(tips).mean()
    return LongStringPull(
        string_length=string_length,
        force=state.draw_force,
        tip_movement=read_only(tips),
        bends_most_at=read_only(np.abs(at)),
        strain_there=read_only(strain),
        x=model.x,
        curvature=read_only(curvature),
        stiffer="neither" if even else "upper" if tips[1] < tips[0] else "lower",
        cautions=_cautions(setup.stave, at, half, strain),
    )


def _cautions(stave: Stave, at: Array, half: Array, strain: Array) -> tuple[str, ...]:
    """Return where the belly is past its proportional limit."""
    wood = stiffness_at(stave, at, np.zeros(2), -half)
    limit = strength_at(stave, at, np.zeros(2), -half).compression_proportional_limit
    limit = limit * np.linalg.inv(wood)[:, 0, 0]
    return tuple(
        f"{both_lengths(abs(float(at[k])))} up the {limb} limb the belly is pressed by "
        f"{strain[k]:.2%}, past its proportional limit of {limit[k]:.2%}: it takes a set, "
        "and bends further than it would elastically (wood breaks near 1 %); pull less"
        for k, limb in enumerate(("lower", "upper"))
        if strain[k] > limit[k]
    )
