"""The first pull on a long string: where each limb bends, and which is the stiffer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.analysis.bow.flex import SHARES, Flex, find_flex
from limbfe.analysis.bow.model import LimbModel, build_model
from limbfe.analysis.bow.setup import BowSetup, adjust
from limbfe.beam import BowState, own_frame, pull, pull_through
from limbfe.beam.equilibrium.stability import CURE
from limbfe.errors import ConvergenceError, GeometryError
from limbfe.frames import Array, read_only
from limbfe.rows import Row, rows_of_columns
from limbfe.stave.field import stiffness_at, strength_at
from limbfe.stave.profile import shape_at
from limbfe.stave.stave import Stave
from limbfe.units import Length, Sentence, Words, both_forces, both_lengths

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
    flex : Flex
        How the limbs come down to there at tenths of the force, and beside even limbs.
    when_braced, cautions : tuple of str or Sentence
        Of the bow once braced; and, with these first, where a belly is pressed past its
        proportional limit, which this pull knows nothing of.
    """

    string_length: float
    force: float
    tip_movement: Array
    bends_most_at: Array
    strain_there: Array
    x: Array
    curvature: Array
    stiffer: str
    flex: Flex
    cautions: tuple[Words, ...]
    when_braced: tuple[Words, ...] = ()

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
            "when_braced": [str(one) for one in self.when_braced],
            "flex": self.flex.to_dict(),
            "cautions": [str(caution) for caution in self.cautions],
        }

    def rows(self) -> list[Row]:
        """Return the pull, a row a station."""
        told = self.to_dict()
        return rows_of_columns({key: told[key] for key in ("station_mm", "curvature_1_per_m")})


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
    model = build_model(adjust(setup, holding={"kind": "tiller"}))
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
    x, worst = model.stations.x, []
    for sign in (-1.0, 1.0):
        limb = np.flatnonzero(sign * x > setup.stave.half_grip)
        worst.append(int(limb[curvature[limb].argmax()]))
    at = x[worst]
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
        x=x,
        curvature=read_only(curvature),
        stiffer="neither" if even else "upper" if tips[1] < tips[0] else "lower",
        flex=find_flex(model, _steps(model, string_length, state)),
        cautions=_cautions(setup.stave, at, half, strain),
    )


def _steps(model: LimbModel, string_length: float, state: BowState) -> tuple[BowState, ...]:
    """Return the way there at tenths of the force."""
    forces = state.draw_force * np.array(SHARES[:-1])
    return (*pull_through(model.bow, string_length, forces), state)


def _cautions(stave: Stave, at: Array, half: Array, strain: Array) -> tuple[Words, ...]:
    """Return where the belly is past its proportional limit."""
    wood = stiffness_at(stave, at, np.zeros(2), -half)
    limit = strength_at(stave, at, np.zeros(2), -half).compression_proportional_limit
    limit = limit * np.linalg.inv(wood)[:, 0, 0]
    return tuple(
        Sentence(
            "{} up the {} limb the belly is pressed by {:.2%}, past its proportional limit of "
            "{:.2%}: it takes a set, and bends further than it would elastically (wood breaks near "
            "1 %); pull less",
            Length(abs(float(at[k]))),
            limb,
            strain[k],
            limit[k],
        )
        for k, limb in enumerate(("lower", "upper"))
        if strain[k] > limit[k]
    )
