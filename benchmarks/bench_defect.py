"""Defect floor: plate assembly and solve beside scikit-fem, the mesher, one whole judgement.

Run with ``python -m pytest benchmarks/bench_defect.py``.  Each plate timing carries the unknowns
and the difference from scikit-fem's displacement; each judgement its element and window counts.
"""

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.mesh import strip_mesh
from limbfe.defect.plane import PlaneWood, plane_stiffness
from limbfe.defect.sizes import Fineness
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import Grain, KnotTrace
from limbfe.failure.local import judge_zone
from limbfe.failure.problem import Band, DepthSlice, LocalProblem
from limbfe.failure.windows import PlaneStrength
from limbfe.fem.assembly import assemble, element_stiffness, make_pattern, matrix
from limbfe.fem.mesh import quadrature, renumber, second_order
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve

skfem = pytest.importorskip("skfem")

WOOD = PlaneWood(
    E_L=10.0e9,
    E_R=1.0e9,
    E_T=0.7e9,
    G_LR=0.8e9,
    G_LT=0.7e9,
    G_RT=0.1e9,
    nu_LR=0.35,
    nu_LT=0.35,
    nu_RT=0.4,
)
STRENGTH = PlaneStrength(
    tension=120e6,
    compression=50e6,
    shear=13e6,
    tension_across=6.5e6,
    toughness_fibre=10e3,
    toughness_opening=350.0,
    toughness_sliding=1000.0,
)
PLATES = {"10k": (50, 26), "20k": (70, 36), "100k": (160, 78)}


def plate(name):
    """Triangles on [0, 2] x [0, 1]."""
    nx, ny = PLATES[name]
    x, y = np.meshgrid(np.linspace(0, 2, nx + 1), np.linspace(0, 1, ny + 1), indexing="ij")
    number = np.arange(x.size).reshape(x.shape)
    a, b = number[:-1, :-1].ravel(), number[1:, :-1].ravel()
    c, d = number[1:, 1:].ravel(), number[:-1, 1:].ravel()
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    vertices = np.column_stack([x.ravel(), y.ravel()])
    mesh = second_order(vertices, triangles, np.zeros(len(triangles), dtype=int))
    return renumber(mesh)[0]


def fibre(points):
    """A fibre angle that varies over the plate."""
    return 0.5 * np.sin(5.0 * points[..., 0]) * np.cos(3.0 * points[..., 1])


def held(mesh):
    left = np.flatnonzero(mesh.nodes[:, 0] < 1e-12)
    return np.concatenate([2 * left, 2 * left + 1])


def pull(mesh):
    """The right edge drawn out by a millimetre in a thousand, as prescribed displacement."""
    right = np.flatnonzero(mesh.nodes[:, 0] > 2 - 1e-12)
    return 2 * right


def ours(mesh):
    at = quadrature(mesh, *triangle_rule(4))
    stiffness = plane_stiffness(WOOD, fibre(at.points), np.zeros(at.weights.shape))
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    K = matrix(pattern, assemble(pattern, element_stiffness(at, stiffness)))
    fixed = np.concatenate([held(mesh), pull(mesh)])
    given = np.zeros((len(fixed), 1))
    given[len(held(mesh)) :] = 2e-3
    return solve(factorise(K, fixed), np.zeros((K.shape[0], 1)), given)[:, 0]


def theirs(mesh):
    """scikit-fem as its documentation shows it, on the same mesh and rule."""
    from skfem.helpers import sym_grad

    reference, weights = triangle_rule(4)
    basis = skfem.Basis(
        skfem.MeshTri2(mesh.nodes.T.copy(), mesh.elements.T.copy()),
        skfem.ElementVector(skfem.ElementTriP2()),
        quadrature=(reference.T.copy(), weights.copy()),
    )
    points = np.moveaxis(np.asarray(basis.global_coordinates()), 0, -1)
    field = plane_stiffness(WOOD, fibre(points), np.zeros(points.shape[:-1]))

    @skfem.BilinearForm
    def work(u, v, w):
        e, d = sym_grad(u), sym_grad(v)
        first = np.stack([d[0, 0], d[1, 1], 2.0 * d[0, 1]])
        second = np.stack([e[0, 0], e[1, 1], 2.0 * e[0, 1]])
        return np.einsum("imq,mqij,jmq->mq", first, field, second)

    K = work.assemble(basis)
    x = basis.doflocs[0]
    across = np.zeros(basis.N, dtype=bool)
    across[basis.nodal_dofs[1]] = across[basis.facet_dofs[1]] = True
    right = (x > 2 - 1e-12) & ~across
    fixed = np.flatnonzero((x < 1e-12) | right)
    u = skfem.solve(*skfem.condense(K, np.zeros(basis.N), x=2e-3 * right, D=fixed))
    return u, basis.doflocs, across


@pytest.mark.parametrize("size", PLATES)
def test_plate(benchmark, size):
    """Pattern, assembly, factorisation and solution with SciPy alone, varying fibre angle."""
    mesh = plate(size)
    u = benchmark.pedantic(ours, args=(mesh,), rounds=3, warmup_rounds=1)
    other, places, across = theirs(mesh)
    order = np.lexsort((np.round(mesh.nodes[:, 1], 9), np.round(mesh.nodes[:, 0], 9)))
    difference = 0.0
    for c in (0, 1):
        own = np.flatnonzero(across == bool(c))
        sort = own[np.lexsort((np.round(places[1, own], 9), np.round(places[0, own], 9)))]
        difference = max(difference, float(np.abs(u[2 * order + c] - other[sort]).max()))
    benchmark.extra_info["unknowns"] = len(u)
    benchmark.extra_info["difference"] = difference / np.abs(u).max()
    assert difference < 1e-8 * np.abs(u).max()


@pytest.mark.parametrize("size", PLATES)
def test_plate_scikit_fem(benchmark, size):
    """The same plate with scikit-fem and its default solver."""
    mesh = plate(size)
    benchmark.pedantic(theirs, args=(mesh,), rounds=2, warmup_rounds=0)


@pytest.mark.parametrize("size", [0.5e-3, 0.2e-3, 0.1e-3])
def test_mesher(benchmark, size):
    """Strip 40 mm wide round a 12 mm knot, by element size at its rim."""
    strip = Strip(x=[-0.08, 0.08], right=[-0.02, -0.018], left=[0.02, 0.019])
    knot = Ellipse(x=0.0, y=2e-3, a=6e-3, b=6e-3)
    made = benchmark.pedantic(
        strip_mesh, args=(strip, (knot,), Fineness(near=size)), rounds=3, warmup_rounds=1
    )
    benchmark.extra_info["unknowns"] = 2 * len(made.mesh.nodes)


@pytest.mark.parametrize("depths", [1, 3, 5])
@pytest.mark.parametrize("state", ["live", "missing", "dead"])
def test_judgement(benchmark, depths, state):
    """One conical knot: every depth meshed, each knot stiffness factorised, all windows."""
    slices = []
    for number, z in enumerate(np.linspace(9e-3, -8e-3, depths)):
        radius = 6e-3 - 0.15e-3 * number
        slices.append(
            DepthSlice(
                z=float(z),
                layer=4e-3,
                strip=Strip(x=[-0.08, 0.08], right=[-0.02, -0.018], left=[0.02, 0.019]),
                wood=WOOD,
                strength=STRENGTH,
                grain=Grain(angle=0.0, run_out=0.02),
                knots=(
                    KnotTrace(
                        name="A",
                        ellipse=Ellipse(x=0.0, y=2e-3, a=radius, b=radius),
                        state=state,
                    ),
                ),
                decays=(),
                strain=LimbStrain(x0=0.0, axial=0.5 * float(z)),
            )
        )
    problem = LocalProblem(zone="A", slices=tuple(slices), band=Band())
    outcome = benchmark.pedantic(judge_zone, args=(problem,), rounds=2, warmup_rounds=1)
    benchmark.extra_info["unknowns"] = 2 * len(outcome.fields[0].nodes)
