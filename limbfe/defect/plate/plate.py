"""Equilibrium of a layered plate under the limb's resultants.

    strain = sum_k F_k(z) B u_k,    transverse shear = sum_k F_k'(z) u_k + grad w,

with the stress through the depth left out (common deflection w); the energy of an area is
``1/2 e_k . D_kl . e_l + 1/2 (u_k . H_kl . u_l + 2 u_k . h_k . grad w + grad w . S . grad w)``.
The two ends stay plane along the limb; across and out of the plane they are free and carry what
shear and torque a limb hands on, so that the wood there may contract and curve across as it does.
They may turn, sideways too: a limb is held at the grip alone, so that the moments it carries follow
from the pull of the string whatever a zone does to it, and one that is cut from an edge turns.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from limbfe.defect.plate.assembly import NodePattern, node_blocks, node_pattern, plate_matrix
from limbfe.defect.plate.depth import Integrals
from limbfe.defect.plate.ends import End, end_loads, end_modes
from limbfe.defect.plate.profiles import Profiles
from limbfe.fem.mesh import Index, PlaneMesh, Quadrature
from limbfe.fem.solve import Factor, factorise, solve
from limbfe.frames import Array

UNCOUPLED = 1e-9
"""Of the largest stiffness: coupling of stretching and bending that counts as none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plate:
    """A meshed plate with its stiffness.

    Attributes
    ----------
    mesh : PlaneMesh
    at : Quadrature
    profiles : Profiles
    integrals : Integrals
        At the quadrature points, element by element.
    low, high : End
        The two cuts.
    """

    mesh: PlaneMesh
    at: Quadrature
    profiles: Profiles
    integrals: Integrals
    low: End
    high: End


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Unknowns that do not couple with the others, factorised.

    Attributes
    ----------
    columns : ndarray of int
        Which unknowns of a node.
    factor : Factor
    """

    columns: Index
    factor: Factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlateAnswer:
    """A plate under each resultant of its middle alone: ``[N, Vy, Vz, T, My, Mz]`` of 1 N or 1 N m.

    Attributes
    ----------
    plate : Plate
    displacement : ndarray, shape (n, 2 K + 1, 6), m per N or per N m
    give : ndarray, shape (3, 3)
        Extension of the plate and turns of its ends about y and z under N, My and Mz; symmetric.
    """

    plate: Plate
    displacement: Array
    give: Array


def solve_plate(plate: Plate, springs: sparse.csc_array | None = None) -> PlateAnswer:
    """Solve a plate under each resultant.

    Parameters
    ----------
    plate : Plate
    springs : sparse array, shape (n (2 K + 1), n (2 K + 1)), N/m, optional
        Added to the stiffness, such as where a loose knot presses.

    Raises
    ------
    ConvergenceError
        If the plate is not held together.
    """
    parts = factor_plate(plate, springs)
    modes = end_modes(plate.high, plate.profiles, plate.mesh.nodes)
    loads, moments = end_loads(plate.low, plate.high, plate.profiles, plate.mesh)
    given = np.concatenate([modes, np.zeros_like(modes)], axis=-1)
    forces = np.concatenate([np.zeros_like(modes), loads], axis=-1)
    moved, reaction = answer(plate, parts, forces, given)
    worked = np.einsum("ijm,ijr->mr", modes, reaction)
    give = np.linalg.inv(worked[:, :3])
    # What the ends must turn by, so that shear and torque leave no moment in the middle.
    amount = np.concatenate([give, give @ (moments - worked[:, 3:])], axis=1)
    displacement = moved[..., :3] @ amount
    displacement[..., 3:] += moved[..., 3:]
    # columns: N, My, Mz, Vy, Vz, T
    # without the factors, which take half a gigabyte of a long patch
    return PlateAnswer(plate=plate, displacement=displacement[..., [0, 3, 4, 5, 1, 2]], give=give)


def factor_plate(plate: Plate, springs: sparse.csc_array | None = None) -> tuple[Part, ...]:
    """Factorise a plate; where the depth is symmetric, stretching and bending apart."""
    K, n = plate.profiles.count, len(plate.mesh.nodes)
    held = np.zeros((n, 2 * K + 1), dtype=bool)
    for end in (plate.low, plate.high):
        held[end.nodes, : 2 * K : 2] = True
    low = plate.low.nodes
    held[low[len(low) // 2], 1] = True
    held[low[[0, -1]], 2 * K] = True
    split = springs is None and _symmetric(plate)
    groups = [np.arange(0, K, 2), np.arange(1, K, 2)] if split else [np.arange(K)]
    parts = []
    for functions in groups:
        deflects = not split or functions[0] == 1
        columns = np.sort(np.concatenate([2 * functions, 2 * functions + 1]))
        if deflects:
            columns = np.append(columns, 2 * K)
        pattern: NodePattern = node_pattern(plate.mesh, len(columns))
        some = _some(plate.integrals, functions)
        matrix = plate_matrix(pattern, plate.at, some, deflects=deflects)
        blocks = node_blocks(plate.mesh, pattern) if springs is None else None
        if springs is not None:
            matrix = sparse.csc_array(matrix + springs)
        factor = factorise(matrix, np.flatnonzero(held[:, columns].ravel()), blocks)
        parts.append(Part(columns=columns, factor=factor))
    return tuple(parts)


def answer(
    plate: Plate, parts: tuple[Part, ...], forces: Array, given: Array
) -> tuple[Array, Array]:
    """Return displacements and reactions under nodal forces and given displacements of the ends.

    Parameters
    ----------
    forces, given : ndarray, shape (n, 2 K + 1, r)

    Returns
    -------
    displacement, reaction : ndarray, shape (n, 2 K + 1, r)
    """
    moved, reaction = np.zeros_like(forces), np.zeros_like(forces)
    n, _, r = forces.shape
    for part in parts:
        load = forces[:, part.columns].reshape(-1, r)
        fixed = part.factor.fixed
        u = solve(part.factor, load, given[:, part.columns].reshape(-1, r)[fixed])
        back = np.zeros_like(u)
        back[fixed] = part.factor.coupling.T @ u - load[fixed]
        moved[:, part.columns] = u.reshape(n, -1, r)
        reaction[:, part.columns] = back.reshape(n, -1, r)
    return moved, reaction


def _symmetric(plate: Plate) -> NDArray[np.bool_] | bool:
    """Whether even and odd functions of the depth do not couple anywhere."""
    if plate.profiles.kind != "legendre":
        return False
    odd = np.arange(plate.profiles.count) % 2 == 1
    cross = odd[:, None] != odd[None, :]
    some = plate.integrals
    return bool(
        np.abs(some.D[:, cross]).max() < UNCOUPLED * np.abs(some.D).max()
        and np.abs(some.H[:, cross]).max() < UNCOUPLED * np.abs(some.H).max()
        and np.abs(some.h[:, ~odd]).max() < UNCOUPLED * np.abs(some.h).max()
    )


def _some(integrals: Integrals, functions: Index) -> Integrals:
    pick = np.ix_(functions, functions)
    return replace(
        integrals,
        D=integrals.D[:, pick[0], pick[1]],
        H=integrals.H[:, pick[0], pick[1]],
        h=integrals.h[:, functions],
    )
