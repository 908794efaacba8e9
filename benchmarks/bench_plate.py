"""Defect floor: one layered plate with a hole, from stiffness by depth to every resultant's answer.

Beside it the same plate with straight sections in scikit-fem: assembly, factor, one load.  It shows
what compiled assembly and the solver's order are worth; the depth is integrated on both sides
beforehand, and the peer's plate is bent only, with fewer unknowns than ours.

Run with ``python -m pytest benchmarks/bench_plate.py``.
"""

import numpy as np
import pytest

from limbfe.defect.mesh import strip_mesh
from limbfe.defect.plate.depth import gauss_columns, integrate
from limbfe.defect.plate.ends import end_of
from limbfe.defect.plate.plate import Plate, solve_plate
from limbfe.defect.plate.profiles import cubic, straight
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.fem.mesh import quadrature
from limbfe.fem.quadrature import triangle_rule

H, B, L, E, NU = 0.015, 0.040, 0.160, 10e9, 0.3


def plate(profiles, near, lean=0.0):
    """A strip with a hole of 8 mm; `lean` makes its depth unsymmetric, so that nothing splits."""
    strip = Strip(x=[-L / 2, L / 2], right=[-B / 2] * 2, left=[B / 2] * 2)
    hole = Ellipse(x=0.0, y=0.0, a=4e-3, b=4e-3)
    made = strip_mesh(strip, (hole,), Fineness(near=near), hollow=(True,))
    at = quadrature(made.mesh, *triangle_rule(4))
    columns = gauss_columns(np.tile([-H / 2, 0.0, H / 2], (at.weights.size, 1)), 4)
    c, G = E / (1 - NU**2), E / 2 / (1 + NU)
    Q = np.array([[c, NU * c, 0.0], [NU * c, c, 0.0], [0.0, 0.0, G]])
    softer = 1.0 - lean * (columns.z < 0.0)
    integrals = integrate(
        profiles, columns, softer[..., None, None] * Q, softer[..., None] * np.array([G, G, 0.0])
    )

    def end(nodes):
        return end_of(made.mesh, nodes, np.full(len(nodes), -H / 2), np.full(len(nodes), H / 2))

    return Plate(
        mesh=made.mesh, at=at, profiles=profiles, integrals=integrals,
        low=end(made.low_end), high=end(made.high_end),
    )  # fmt: skip


@pytest.mark.parametrize("near", [1.2e-3, 0.6e-3, 0.4e-3])
@pytest.mark.parametrize("member", ["straight", "cubic", "cubic unsymmetric"])
def test_plate(benchmark, member, near):
    """Assembly, factor and six resultants; nothing is kept from round to round."""
    profiles = (straight if member == "straight" else cubic)(-H / 2, H / 2)
    made = plate(profiles, near, lean=0.3 * (member == "cubic unsymmetric"))
    benchmark.pedantic(solve_plate, args=(made,), rounds=3, warmup_rounds=1)
    benchmark.extra_info["unknowns"] = profiles.unknowns * len(made.mesh.nodes)


@pytest.mark.parametrize("near", [1.2e-3, 0.6e-3, 0.4e-3])
def test_scikit_fem(benchmark, near):
    """Bending alone with straight sections, three unknowns a node, on the same triangles."""
    skfem = pytest.importorskip("skfem")
    made = plate(straight(-H / 2, H / 2), near)
    mesh = skfem.MeshTri2(made.mesh.nodes.T, made.mesh.elements.T)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTriP2(), 3), intorder=4)
    D, S = E * H**3 / 12 / (1 - NU**2), 5 / 6 * H * E / 2 / (1 + NU)

    @skfem.BilinearForm
    def form(u, v, _):
        a, b = u.grad, v.grad
        twist = 0.5 * (1 - NU) * (a[0, 1] + a[1, 0]) * (b[0, 1] + b[1, 0])
        bent = (a[0, 0] + NU * a[1, 1]) * b[0, 0] + (a[1, 1] + NU * a[0, 0]) * b[1, 1]
        slid = sum((u[k] + a[2, k]) * (v[k] + b[2, k]) for k in range(2))
        return D * (bent + twist) + S * slid

    held = basis.get_dofs(lambda x: np.abs(x[0] + L / 2) < 1e-9).flatten()

    def solve():
        stiffness = form.assemble(basis)
        return skfem.solve(*skfem.condense(stiffness, np.ones(basis.N), D=held))

    benchmark.pedantic(solve, rounds=3, warmup_rounds=1)
    benchmark.extra_info["unknowns"] = basis.N
