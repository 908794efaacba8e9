"""Hole in a plate that is bent one way.

E. Reissner, The effect of transverse shear deformation on the bending of elastic plates, Journal of
Applied Mechanics 12 (1945), A69-A77: ratio of the greatest stress to that far away (formula from
memory; both limits, 3 for a small hole and (5 + 3 nu) / (3 + nu) for a thin plate, derived anew).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import kn

from limbfe.defect.mesh import strip_mesh
from limbfe.defect.plate.depth import gauss_columns, integrate
from limbfe.defect.plate.ends import end_of
from limbfe.defect.plate.plate import Plate, solve_plate
from limbfe.defect.plate.profiles import straight, values
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.fem.mesh import quadrature
from limbfe.fem.quadrature import triangle_rule

E, NU, A = 10e9, 0.3, 1.0
WIDE = 60.0 * A


def reissner(share):
    m = np.sqrt(10.0) * share
    k0, k2 = kn(0, m), kn(2, m)
    return 1.5 + 0.5 * (1.5 * (1 + NU) * k2 - k0) / (0.5 * (1 + NU) * k2 + k0)


@pytest.mark.parametrize("share", [0.133, 0.267, 0.533, 1.0])
def test_bending_round_a_hole(share):
    """a/h of limbs' knots: 0.13 to 0.53; within 1 %: 30 diameters wide, sides of a/8 at the rim."""
    h = A / share
    made = strip_mesh(
        Strip(x=[-WIDE / 2, WIDE / 2], right=[-WIDE / 2] * 2, left=[WIDE / 2] * 2),
        (Ellipse(x=0.0, y=0.0, a=A, b=A),),
        Fineness(near=0.125 * A),
        hollow=(True,),
    )
    at = quadrature(made.mesh, *triangle_rule(4))
    columns = gauss_columns(np.tile([-h / 2, h / 2], (at.weights.size, 1)), 2)
    c, G = E / (1 - NU**2), E / 2 / (1 + NU)
    Q = np.array([[c, NU * c, 0.0], [NU * c, c, 0.0], [0.0, 0.0, G]])
    profiles = straight(-h / 2, h / 2)
    shape = columns.z.shape
    integrals = integrate(
        profiles, columns, np.broadcast_to(Q, (*shape, 3, 3)),
        np.broadcast_to(np.array([G, G, 0.0]), (*shape, 3)),
    )  # fmt: skip

    def end(nodes):
        return end_of(made.mesh, nodes, np.full(len(nodes), -h / 2), np.full(len(nodes), h / 2))

    solved = solve_plate(
        Plate(
            mesh=made.mesh, at=at, profiles=profiles, integrals=integrals,
            low=end(made.low_end), high=end(made.high_end),
        )
    )  # fmt: skip
    F = values(profiles, np.array(h / 2))[0]
    u = np.einsum("k,nkc->nc", F, solved.displacement[:, :4, 4].reshape(-1, 2, 2))
    sides, nodes = made.rims[0], made.mesh.nodes
    xi = np.array([-1.0, 1.0]) / np.sqrt(3.0)
    slope = np.stack([xi - 0.5, -2.0 * xi, xi + 0.5], axis=1)
    run = np.einsum("gk,skd->sgd", slope, nodes[sides])
    move = np.einsum("gk,skd->sgd", slope, u[sides])
    hoop = E * (run * move).sum(axis=-1) / (run * run).sum(axis=-1)
    far = 0.5 * h / (WIDE * h**3 / 12)
    assert hoop.max() / far == pytest.approx(reissner(share), rel=0.01)
    assert reissner(1e-6) == pytest.approx(3.0, abs=1e-3)
    assert reissner(200.0) == pytest.approx((5 + 3 * NU) / (3 + NU), abs=2e-3)
