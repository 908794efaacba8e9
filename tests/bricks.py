"""Own solids of wood in 27-node bricks, made with scikit-fem."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import splu


def stiffness(wood):
    """Voigt stiffness of wood whose grain runs along x, its rings lying flat: L, T, R = x, y, z."""
    S = np.zeros((6, 6))
    S[:3, :3] = [
        [1 / wood.E_L, -wood.nu_LT / wood.E_L, -wood.nu_LR / wood.E_L],
        [-wood.nu_LT / wood.E_L, 1 / wood.E_T, -wood.nu_RT / wood.E_R],
        [-wood.nu_LR / wood.E_L, -wood.nu_RT / wood.E_R, 1 / wood.E_R],
    ]
    S[3:, 3:] = np.diag([1 / wood.G_RT, 1 / wood.G_LR, 1 / wood.G_LT])
    return np.linalg.inv(S)


def strain(g):
    """Voigt strain of a displacement's gradient."""
    return np.stack(
        [g[0, 0], g[1, 1], g[2, 2], g[1, 2] + g[2, 1], g[0, 2] + g[2, 0], g[0, 1] + g[1, 0]]
    )


def bricks(mesh, stiffness_at, intorder):
    """Basis, stiffness matrix, and along which axis each unknown moves.

    `stiffness_at` gives the Voigt stiffness, shape (..., 6, 6), at points (3, m, q).
    """
    skfem = pytest.importorskip("skfem")
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementHex2()), intorder=intorder)
    at = np.asarray(basis.global_coordinates())
    C = np.broadcast_to(stiffness_at(at), (*at.shape[1:], 6, 6))

    @skfem.BilinearForm
    def work(u, v, w):
        return np.einsum("imq,mqij,jmq->mq", strain(v.grad), C, strain(u.grad))

    axis = np.zeros(basis.N, dtype=int)
    for dofs in (basis.nodal_dofs, basis.edge_dofs, basis.facet_dofs, basis.interior_dofs):
        for k in range(3):
            axis[dofs[k]] = k
    return basis, sparse.csc_array(work.assemble(basis)), axis


def factor(matrix):
    """Factor of a symmetric positive definite sparse matrix."""
    return splu(
        sparse.csc_matrix(matrix), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
        options={"SymmetricMode": True, "Equil": False},
    )  # fmt: skip
