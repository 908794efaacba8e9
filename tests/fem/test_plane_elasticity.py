"""Plane elasticity on six-node triangles: patch test, energy, order, singular models."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import sparse

from limbfe.errors import ConvergenceError, GeometryError
from limbfe.fem.assembly import (
    assemble,
    element_stiffness,
    make_pattern,
    matrix,
    strains,
)
from limbfe.fem.mesh import PlaneMesh, middle_nodes, quadrature, renumber, second_order
from limbfe.fem.quadrature import triangle_rule
from limbfe.fem.solve import factorise, solve

C = 1e9 * np.array([[10.2, 0.4, 0.7], [0.4, 0.9, -0.2], [0.7, -0.2, 0.8]])


def grid(nx, ny, bend=0.0, seed=0):
    """Distorted triangles on [0, 2] x [0, 1] with inner nodes moved and, if asked, curved sides."""
    x, y = np.meshgrid(np.linspace(0, 2, nx + 1), np.linspace(0, 1, ny + 1), indexing="ij")
    vertices = np.column_stack([x.ravel(), y.ravel()])
    number = np.arange(len(vertices)).reshape(nx + 1, ny + 1)
    a, b = number[:-1, :-1].ravel(), number[1:, :-1].ravel()
    c, d = number[1:, 1:].ravel(), number[:-1, 1:].ravel()
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    rng = np.random.default_rng(seed)
    inner = (x > 0) & (x < 2) & (y > 0) & (y < 1)
    vertices[inner.ravel()] += rng.uniform(-0.2, 0.2, (inner.sum(), 2)) / max(nx, ny)
    mesh = second_order(vertices, triangles, np.zeros(len(triangles), dtype=int))
    nodes = mesh.nodes.copy()
    middle = np.arange(len(vertices), len(nodes))
    free = (
        (nodes[middle] > 1e-9).all(axis=1)
        & (nodes[middle, 0] < 2 - 1e-9)
        & (nodes[middle, 1] < 1 - 1e-9)
    )
    nodes[middle[free]] += bend * rng.uniform(-1, 1, (free.sum(), 2)) / max(nx, ny)
    return replace(mesh, nodes=nodes)


def boundary(mesh):
    x, y = mesh.nodes.T
    return np.flatnonzero((x < 1e-9) | (x > 2 - 1e-9) | (y < 1e-9) | (y > 1 - 1e-9))


def system(mesh, stiffness=C, degree=4):
    at = quadrature(mesh, *triangle_rule(degree))
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    field = np.broadcast_to(stiffness, (*at.weights.shape, 3, 3))
    return at, matrix(pattern, assemble(pattern, element_stiffness(at, field)))


def test_matrix_equals_a_plain_sum_over_elements():
    mesh = grid(4, 3, bend=0.1)
    at, K = system(mesh)
    plain = np.zeros(K.shape)
    for e, nodes in enumerate(mesh.elements):
        for q in range(at.weights.shape[1]):
            B = np.zeros((3, 12))
            B[0, 0::2] = B[2, 1::2] = at.gradients[e, q, :, 0]
            B[1, 1::2] = B[2, 0::2] = at.gradients[e, q, :, 1]
            dofs = np.column_stack([2 * nodes, 2 * nodes + 1]).ravel()
            plain[np.ix_(dofs, dofs)] += at.weights[e, q] * B.T @ C @ B
    assert np.abs(K.toarray() - plain).max() < 1e-12 * np.abs(plain).max()
    assert np.abs(K - K.T).max() < 1e-12 * np.abs(plain).max()


def test_parts_assembled_apart_add_up():
    mesh = grid(5, 4)
    at = quadrature(mesh, *triangle_rule(4))
    pattern = make_pattern(mesh.elements, len(mesh.nodes))
    field = np.broadcast_to(C, (*at.weights.shape, 3, 3)).copy()
    half = np.arange(len(mesh.elements)) % 2 == 0
    first, second = field.copy(), field.copy()
    first[half] = second[~half] = 0.0
    parts = [assemble(pattern, element_stiffness(at, f)) for f in (first, second)]
    assert sum(parts) == pytest.approx(assemble(pattern, element_stiffness(at, field)), rel=1e-9)


@pytest.mark.parametrize("bend", [0.0, 0.15])
def test_patch_test(bend):
    """A linear displacement on the boundary gives it everywhere, curved sides or not."""
    mesh = grid(5, 4, bend)
    at, K = system(mesh)
    exact = mesh.nodes @ np.array([[1e-3, -4e-4], [7e-4, 2e-3]]) + [1e-3, 2e-3]
    edge = boundary(mesh)
    fixed = np.concatenate([2 * edge, 2 * edge + 1])
    given = exact.ravel()[fixed][:, None]
    got = solve(factorise(K, fixed), np.zeros((K.shape[0], 1)), given)[:, 0]
    assert got == pytest.approx(exact.ravel(), abs=1e-14)
    e = strains(at, mesh.elements, got)
    assert e.reshape(-1, 3) == pytest.approx(np.tile([1e-3, 2e-3, 3e-4], (e[..., 0].size, 1)))


def test_loads_balance_stresses():
    """int B^T s of a constant stress works on a linear displacement like stress on strain."""
    mesh = grid(5, 4, 0.1)
    at, _ = system(mesh)
    stress = np.broadcast_to([3.0, -1.0, 0.5], (*at.weights.shape, 3))
    load = assemble_load(at, mesh.elements, stress, len(mesh.nodes))
    u = (mesh.nodes @ np.array([[1.0, 0.3], [0.2, -2.0]])).ravel()
    assert load @ u == pytest.approx(2.0 * (3.0 * 1.0 + 1.0 * 2.0 + 0.5 * 0.5))
    several = assemble_load(at, mesh.elements, np.stack([stress, 2 * stress], -1), len(mesh.nodes))
    assert several == pytest.approx(np.stack([load, 2 * load], axis=1))


def energy_error(n):
    """Error in energy of a smooth field with manufactured loads on an n-fold grid."""
    mesh = grid(2 * n, n, seed=n)
    at, K = system(mesh, degree=6)

    def exact(p):
        x, y = p[..., 0], p[..., 1]
        return np.stack([np.sin(2 * x) * np.cos(y), np.cos(x) * np.sin(3 * y)], axis=-1)

    def exact_strain(p):
        x, y = p[..., 0], p[..., 1]
        return np.stack(
            [
                2 * np.cos(2 * x) * np.cos(y),
                3 * np.cos(x) * np.cos(3 * y),
                -np.sin(2 * x) * np.sin(y) - np.sin(x) * np.sin(3 * y),
            ],
            axis=-1,
        )

    stress = exact_strain(at.points) @ C
    load = assemble_load(at, mesh.elements, stress, len(mesh.nodes))
    edge = boundary(mesh)
    fixed = np.concatenate([2 * edge, 2 * edge + 1])
    u = solve(factorise(K, fixed), load[:, None], exact(mesh.nodes).ravel()[fixed][:, None])[:, 0]
    miss = strains(at, mesh.elements, u) - exact_strain(at.points)
    return np.sqrt(np.einsum("mq,mqi,ij,mqj->", at.weights, miss, C, miss))


def test_second_order_convergence():
    """Quadratic triangles: energy error falls with h^2 (G. Strang, G. Fix, An Analysis of the
    Finite Element Method, 1973, ch. 3); observed 2.0 within 0.1.
    """
    errors = [energy_error(n) for n in (4, 8, 16)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders == pytest.approx(2.0, abs=0.1)


def test_prescribed_motion_and_reactions():
    mesh = grid(4, 3)
    _, K = system(mesh)
    left = np.flatnonzero(mesh.nodes[:, 0] < 1e-9)
    fixed = np.concatenate([2 * left, 2 * left + 1])
    load = np.zeros((K.shape[0], 2))
    load[-2, 0], load[-1, 1] = 5.0, 3.0
    factor = factorise(K, fixed)
    u = solve(factor, load, np.zeros((len(fixed), 2)))
    reaction = factor.coupling.T @ u - load[fixed]
    assert reaction[: len(left)].sum(axis=0) == pytest.approx([-5.0, 0.0], abs=1e-8)
    assert reaction[len(left) :].sum(axis=0) == pytest.approx([0.0, -3.0], abs=1e-8)


def test_a_loose_model_is_singular():
    mesh = grid(4, 3)
    _, K = system(mesh)
    with pytest.raises(ConvergenceError, match="singular"):
        factorise(K, np.array([0, 1]))


def test_a_node_without_stiffness_is_singular():
    mesh = grid(3, 3)
    lonely = PlaneMesh(
        nodes=np.vstack([mesh.nodes, [[5.0, 5.0]]]), elements=mesh.elements, region=mesh.region
    )
    _, K = system(lonely)
    edge = boundary(mesh)
    with pytest.raises(ConvergenceError, match="singular"):
        factorise(K, np.concatenate([2 * edge, 2 * edge + 1]))


def test_what_is_soft_but_held_is_solved():
    """Springs in a row stretch under an end load F by F / k each (statics).  Eleven powers of ten
    softer than its neighbours one of them still holds what follows."""
    k = np.ones(60)
    k[40] = 1e-11
    K = sparse.diags([k + np.append(k[1:], 0.0), -k[1:], -k[1:]], [0, -1, 1]).tocsc()
    end = np.zeros((60, 1))
    end[-1] = 1.0
    moved = solve(factorise(K, np.array([0])), end, np.zeros((1, 1)))
    assert moved[39, 0] == pytest.approx(39.0, rel=1e-3)
    assert moved[59, 0] == pytest.approx(1e11, rel=1e-3)


def test_loads_that_are_no_numbers():
    mesh = grid(3, 3)
    _, K = system(mesh)
    fixed = np.concatenate([2 * boundary(mesh), 2 * boundary(mesh) + 1])
    factor = factorise(K, fixed)
    with pytest.raises(ConvergenceError, match="finite"):
        solve(factor, np.full((K.shape[0], 1), np.nan), np.zeros((len(fixed), 1)))


def test_folded_element_is_refused():
    mesh = grid(2, 2)
    folded = replace(mesh, elements=mesh.elements[:, [0, 2, 1, 5, 4, 3]])
    with pytest.raises(GeometryError, match="inside out"):
        quadrature(folded, *triangle_rule(4))


def test_renumbering_keeps_the_mesh():
    mesh = grid(6, 5)
    shuffled = np.random.default_rng(9).permutation(len(mesh.nodes))
    place = np.argsort(shuffled)
    messy = PlaneMesh(nodes=mesh.nodes[shuffled], elements=place[mesh.elements], region=mesh.region)
    tidy, number = renumber(messy)
    assert np.array_equal(tidy.nodes[number], messy.nodes)
    assert np.array_equal(tidy.nodes[tidy.elements], messy.nodes[messy.elements])
    assert np.ptp(tidy.elements, axis=1).max() < 0.6 * np.ptp(messy.elements, axis=1).max()


def test_middle_nodes_are_found():
    mesh = grid(3, 2)
    pairs = mesh.elements[:, [2, 0]]
    assert np.array_equal(middle_nodes(mesh, pairs), mesh.elements[:, 5])
    assert middle_nodes(mesh, np.array([[0, len(mesh.nodes) - 1]])) == [-1]


def assemble_load(at, elements, stress, n_nodes):
    """Return the nodal forces that balance a stress field, ``int B^T sigma dA``.

    Parameters
    ----------
    stress : ndarray, shape (m, q, 3) or (m, q, 3, r), Pa

    Returns
    -------
    ndarray, shape (2 n,) or (2 n, r), N per metre of thickness
    """
    single = stress.ndim == 3
    s = (stress[..., None] if single else stress) * at.weights[..., None, None]
    gx, gy = at.gradients[..., 0], at.gradients[..., 1]
    fx = np.einsum("mqk,mqr->mkr", gx, s[:, :, 0]) + np.einsum("mqk,mqr->mkr", gy, s[:, :, 2])
    fy = np.einsum("mqk,mqr->mkr", gx, s[:, :, 2]) + np.einsum("mqk,mqr->mkr", gy, s[:, :, 1])
    out = np.empty((2 * n_nodes, s.shape[3]))
    where = elements.ravel()
    for r in range(s.shape[3]):
        out[0::2, r] = np.bincount(where, weights=fx[..., r].ravel(), minlength=n_nodes)
        out[1::2, r] = np.bincount(where, weights=fy[..., r].ravel(), minlength=n_nodes)
    return out[:, 0] if single else out
