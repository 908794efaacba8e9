"""A plate of wood whose fibres turn from place to place: assembly and solution beside two peers.

Run with ``python -m pytest benchmarks/bench_plate.py``.  Ours uses SciPy alone.  scikit-fem and
felupe work as their documentation shows, on the same mesh and quadrature, with their default
solver; each timing carries the unknowns, and the peers their difference from our displacement.
"""

import importlib

import numpy as np
import pytest
import scipy.sparse.linalg

from limbfe.defect.plane import plane_stiffness
from limbfe.fem.assembly import assemble, element_stiffness, make_pattern, matrix
from limbfe.fem.mesh import quadrature, renumber, second_order
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve
from limbfe.wood.elasticity import Elasticity

WOOD = Elasticity(
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
PLATES = {"10k": (50, 26), "20k": (70, 36), "100k": (160, 78)}
STRETCH = 2e-3


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
    """Unknowns of the right edge that are moved outwards by `STRETCH`."""
    right = np.flatnonzero(mesh.nodes[:, 0] > 2 - 1e-12)
    return 2 * right


def ours(mesh):
    at = quadrature(mesh, *triangle_rule(4))
    stiffness = plane_stiffness(WOOD, fibre(at.points), np.zeros(at.weights.shape))
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    K = matrix(pattern, assemble(pattern, element_stiffness(at, stiffness)))
    fixed = np.concatenate([held(mesh), pull(mesh)])
    given = np.zeros((len(fixed), 1))
    given[len(held(mesh)) :] = STRETCH
    return solve(factorise(K, fixed), np.zeros((K.shape[0], 1)), given)[:, 0]


def by_scikit_fem(skfem, mesh):
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
    u = skfem.solve(*skfem.condense(K, np.zeros(basis.N), x=STRETCH * right, D=fixed))
    return sorted_by_place(basis.doflocs.T, u, across)


def sorted_by_place(places, u, across):
    """Return displacements (nodes, 2) in the order of the places of their unknowns."""
    places = np.round(places, 9)
    columns = []
    for direction in (False, True):
        own = np.flatnonzero(across == direction)
        columns.append(u[own[np.lexsort((places[own, 1], places[own, 0]))]])
    return np.column_stack(columns)


def by_felupe(fe, mesh):
    class Triangle(fe.element.QuadraticTriangle):
        """With the derivative of the last function, 4 s (1 - r - s), put right (felupe 11.3)."""

        def gradient(self, rs):
            found = super().gradient(rs)
            last = 4.0 * (1.0 - rs[0] - 2.0 * rs[1])
            found[[0, 2], 1] += 0.5 * (found[5, 1] - last)
            found[5, 1] = last
            return found

    points, weights = triangle_rule(4)
    region = fe.Region(
        fe.Mesh(mesh.nodes, mesh.elements, "triangle6"),
        Triangle(),
        fe.quadrature.Scheme(points, weights),
    )
    field = fe.FieldContainer([fe.Field(region, dim=2)])
    at = np.einsum("maI,aq->qmI", mesh.nodes[mesh.elements], region.h[..., 0])
    voigt = plane_stiffness(WOOD, fibre(at), np.zeros(at.shape[:2]))
    pair = np.array([[0, 2], [2, 1]])
    tensor = np.moveaxis(voigt[:, :, pair[:, :, None, None], pair], (0, 1), (-2, -1))
    K = fe.IntegralForm([np.ascontiguousarray(tensor)], field, region.dV, field).assemble()
    u = np.zeros(2 * len(mesh.nodes))
    u[pull(mesh)] = STRETCH
    fixed = np.concatenate([held(mesh), pull(mesh)])
    free = np.setdiff1d(np.arange(len(u)), fixed)
    u[free] = scipy.sparse.linalg.spsolve(K[free][:, free], -(K[free][:, fixed] @ u[fixed]))
    return u.reshape(-1, 2)


def whole_plate(size):
    return ours(plate(size))


def whole_plate_by_scikit_fem(size):
    return by_scikit_fem(importlib.import_module("skfem"), plate(size))


def whole_plate_by_felupe(size):
    return by_felupe(importlib.import_module("felupe"), plate(size))


@pytest.mark.parametrize("size", PLATES)
@pytest.mark.benchmark(group="plate: assembly and solution")
def test_plate(benchmark, note_memory, size):
    u = benchmark.pedantic(ours, args=(plate(size),), rounds=5, warmup_rounds=1)
    benchmark.extra_info["unknowns"] = len(u)
    note_memory("whole_plate", "10k", size)


@pytest.mark.parametrize("size", PLATES)
@pytest.mark.benchmark(group="plate: assembly and solution")
def test_plate_scikit_fem(benchmark, note_memory, size):
    skfem = peer("skfem")
    mesh = plate(size)
    u = benchmark.pedantic(by_scikit_fem, (skfem, mesh), rounds=3, warmup_rounds=1)
    whole = ours(mesh)
    across = np.arange(len(whole)) % 2 == 1
    note_difference(benchmark, u, sorted_by_place(np.repeat(mesh.nodes, 2, axis=0), whole, across))
    note_memory("whole_plate_by_scikit_fem", "10k", size)


@pytest.mark.parametrize("size", PLATES)
@pytest.mark.benchmark(group="plate: assembly and solution")
def test_plate_felupe(benchmark, note_memory, size):
    fe = peer("felupe")
    mesh = plate(size)
    u = benchmark.pedantic(by_felupe, (fe, mesh), rounds=3, warmup_rounds=1)
    note_difference(benchmark, u, ours(mesh).reshape(-1, 2))
    note_memory("whole_plate_by_felupe", "10k", size)


def peer(name):
    try:
        return importlib.import_module(name)
    except ImportError as error:
        pytest.skip(f"the peer does not import: {error}")


def note_difference(benchmark, theirs, own):
    difference = float(np.abs(theirs - own).max() / np.abs(own).max())
    benchmark.extra_info.update(unknowns=own.size, difference=difference)
    assert difference < 1e-8
