"""A plate pulled and bent in its plane beside scikit-fem: same mesh, same material field."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from limbfe.defect.plate.body import body_plate
from limbfe.defect.plate.plate import solve_plate
from limbfe.defect.strip import Ellipse
from limbfe.fem.quadrature import triangle_rule

from ...boards import board, hole_through, meshed_board
from .test_plate import WOOD


@pytest.mark.parametrize("load", [0, 5])
def test_second_opinion_of_scikit_fem(load):
    """A turned live knot off the middle, fibres flowing round it: displacement to 1e-7."""
    skfem = pytest.importorskip("skfem")
    from skfem.helpers import sym_grad

    turned = Ellipse(x=2e-3, y=3e-3, a=5e-3, b=3.5e-3, angle=0.2)
    knot = replace(hole_through(turned, 0.02), state="live", diverts=True)
    meshed = meshed_board(board(0.032, 0.015), WOOD, length=0.13, knots=(knot,), near=0.8e-3)
    plate = body_plate(meshed, (2e9,), "quick")
    mine = solve_plate(plate).displacement[:, :2, load]

    mesh = meshed.mesh.mesh
    reference, weights = triangle_rule(4)
    basis = skfem.Basis(
        skfem.MeshTri2(mesh.nodes.T.copy(), mesh.elements.T.copy()),
        skfem.ElementVector(skfem.ElementTriP2()),
        quadrature=(reference.T.copy(), weights.copy()),
    )
    entries = plate.integrals.D[:, 0, 0].reshape(*meshed.at.weights.shape, 6)
    field = entries[..., [[0, 3, 4], [3, 1, 5], [4, 5, 2]]]

    @skfem.BilinearForm
    def work(u, v, w):
        e, d = sym_grad(u), sym_grad(v)
        strain_u = np.stack([e[0, 0], e[1, 1], 2.0 * e[0, 1]])
        strain_v = np.stack([d[0, 0], d[1, 1], 2.0 * d[0, 1]])
        return np.einsum("imq,mqij,jmq->mq", strain_v, field, strain_u)

    K = work.assemble(basis)
    across = np.zeros(basis.N, dtype=int)
    across[basis.nodal_dofs[1]] = across[basis.facet_dofs[1]] = 1
    _, nearest = cKDTree(mesh.nodes).query(basis.doflocs.T)
    given = mine[nearest, across]
    ends = np.isin(nearest, np.concatenate([plate.low.nodes, plate.high.nodes]))
    pinned = np.flatnonzero((nearest == plate.low.nodes[len(plate.low.nodes) // 2]) & (across == 1))
    fixed = np.append(np.flatnonzero(ends & (across == 0)), pinned)
    total = skfem.solve(*skfem.condense(K, np.zeros(basis.N), x=given, D=fixed))
    theirs = np.empty_like(mine)
    theirs[nearest, across] = total
    assert np.abs(theirs - mine).max() < 1e-7 * np.abs(mine).max()
