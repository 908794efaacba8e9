"""Strength of the bond between a filling and the wood round it."""

from __future__ import annotations

import numpy as np

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.recovery import Corners, nodal_stress
from limbfe.defect.strip_solve import StripSolution
from limbfe.frames import Array


def bond_used(
    solution: StripSolution, corners: Corners, strain: LimbStrain, window: float
) -> float:
    """Return the largest strength used of the bonds of filled knots.

    Parameters
    ----------
    solution : StripSolution
        Of a model in which fillings are tied.
    corners : Corners
    strain : LimbStrain
    window : float, m
        Length along the rim over which traction is averaged.

    Returns
    -------
    float
        ``hypot(pull / tension, slip / shear)`` of the worst window; 0 without a filling.
    """
    worst = 0.0
    for number, knot in enumerate(solution.model.knots):
        sides = solution.model.mesh.rims[number]
        if knot.state != "filled" or len(sides) == 0:
            continue
        assert knot.bond_tension is not None
        assert knot.bond_shear is not None
        pull, slip, length, middle = _traction(solution, corners, strain, number)
        near = _windows(length, middle, window)
        pull, slip = near @ pull, near @ slip
        used = np.hypot(np.maximum(pull, 0.0) / knot.bond_tension, slip / knot.bond_shear)
        worst = max(worst, float(used.max()))
    return worst


def _traction(
    solution: StripSolution, corners: Corners, strain: LimbStrain, number: int
) -> tuple[Array, Array, Array, Array]:
    """Normal and shear traction, length and middle of the sides on a rim, from the filling."""
    mesh = solution.model.mesh
    sides = mesh.rims[number]
    stress = nodal_stress(solution, corners, strain)
    own = corners.region == number + 1
    place = np.full(len(mesh.mesh.nodes), -1, dtype=np.intp)
    place[corners.node[own]] = np.flatnonzero(own)
    s = stress[place[sides]]
    start, stop = mesh.mesh.nodes[sides[:, 0]], mesh.mesh.nodes[sides[:, 2]]
    length = np.linalg.norm(stop - start, axis=1)
    tangent = (stop - start) / length[:, None]
    # Simpson's mean of the side's three nodes.
    mean = np.einsum("k,skc->sc", np.array([1.0, 4.0, 1.0]) / 6.0, s)
    t, n = tangent, np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    xx, yy, xy = mean.T
    pull = n[:, 0] ** 2 * xx + n[:, 1] ** 2 * yy + 2.0 * n[:, 0] * n[:, 1] * xy
    slip = (
        n[:, 0] * t[:, 0] * xx
        + n[:, 1] * t[:, 1] * yy
        + (n[:, 0] * t[:, 1] + n[:, 1] * t[:, 0]) * xy
    )
    return pull, slip, length, mesh.mesh.nodes[sides[:, 1]]


def _windows(length: Array, middle: Array, window: float) -> Array:
    """Averaging matrix over the sides whose middle lies within half a window."""
    apart = np.linalg.norm(middle[:, None] - middle[None, :], axis=2)
    weight = np.where(apart <= 0.5 * window, length[None, :], 0.0)
    mean: Array = weight / weight.sum(axis=1, keepdims=True)
    return mean
