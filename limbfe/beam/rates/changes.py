"""What changes when a bow is changed: its sections' answer and its rest shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from limbfe.beam.bow import Bow
from limbfe.beam.equilibrium.state import BowState
from limbfe.beam.model import Bed
from limbfe.errors import GeometryError
from limbfe.frames import Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionRates:
    """The sections of one state, and how p parameters change them at fixed strains.

    Attributes
    ----------
    tangent : ndarray, shape (n - 1, 2, 6, 6)
        Change of the resultants per change of the strains, at the state.
    resultants : ndarray, shape (p, n - 1, 2, 6)
        Derivative of the resultants by each parameter, strains kept.
    energy : ndarray, shape (n - 1, 2), J/m
        Work the sections have taken to get there, per length; what yielding took is in it.
    energy_rates : ndarray, shape (p, n - 1, 2)
        Its derivative by each parameter, strains kept.
    give : ndarray, shape (p, n - 1, 6, 6), or None
        Derivative of what the elements give besides their sections; None where that stays.
    """

    tangent: Array
    resultants: Array
    energy: Array
    energy_rates: Array
    give: Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RestRates:
    """How p parameters move the unstrung bow, in its own frame.

    Attributes
    ----------
    nodes : ndarray, shape (p, n, 6)
        Translation and rotation of every node, in its own section axes.
    hold_point, grip_belly, grip_back : ndarray, shape (p, 3)
        Of the points of `limbfe.beam.bow.Bow` and its hold.
    bed : Bed, or None
        Of the line the string may lie on, its arrays with p in front; None where that stays.
    """

    nodes: Array
    hold_point: Array
    grip_belly: Array
    grip_back: Array
    bed: Bed | None = None


def rest_rates(bow: Bow, count: int, nodes: Any = None) -> RestRates:
    """Return rates of a rest shape whose grip and hold stay, and its nodes too when not given.

    Raises
    ------
    GeometryError
        If `nodes` is not of shape (count, n, 6).
    """
    n = len(bow.chain.positions)
    moved = np.zeros((count, n, 6)) if nodes is None else np.asarray(nodes, dtype=np.float64)
    if moved.shape != (count, n, 6):
        raise GeometryError(f"sensitivity: rest_rates of shape {moved.shape}, wanted (p, n, 6)")
    still = np.zeros((count, 3))
    return RestRates(nodes=moved, hold_point=still, grip_belly=still, grip_back=still)


def elastic_rates(bow: Bow, state: BowState, stiffness_rates: Any) -> SectionRates:
    """Return the rates of elastic sections at a state.

    Parameters
    ----------
    bow : Bow
    state : BowState
    stiffness_rates : array_like, shape (p, n - 1, 2, 6, 6)
        Derivative of every section stiffness by each parameter.

    Raises
    ------
    GeometryError
        For a wrong shape.
    """
    rates = np.asarray(stiffness_rates, dtype=np.float64)
    if rates.shape[1:] != bow.chain.stiffness.shape:
        raise GeometryError(
            f"sensitivity: stiffness_rates of shape {rates.shape}, wanted "
            f"(p, *{bow.chain.stiffness.shape})"
        )
    strains = state.strains
    forces = np.einsum("pmgij,mgj->pmgi", rates, strains)
    return SectionRates(
        tangent=bow.chain.stiffness,
        resultants=forces,
        energy=0.5 * np.einsum("mgi,mgi->mg", state.resultants, strains),
        energy_rates=0.5 * np.einsum("pmgi,mgi->pmg", forces, strains),
    )
